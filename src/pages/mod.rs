//! Every page of the site, in a fixed order; each a function of named inputs.

pub mod data;

mod mark;

mod chart;

mod markdown;

mod sentence;

mod prose;

mod mention;

mod template;

mod view;

mod plant;

mod lists;

mod reference;

use std::collections::BTreeMap;

use rayon::prelude::*;
use serde_json::Value as Json;

use crate::claims::Claims;
use crate::content::{Guide, Input};
use crate::diagnostic::{Diagnostic, Placed};
use crate::names::Names;
use crate::pages::mention::{Mentions, Own};
use crate::pages::prose::{Live, Prose};
use crate::pages::sentence::Sentences;
use crate::pages::template::Theme;
use crate::reconcile::Reconciled;
use crate::roles::Standings;

/// What pages are made from.
pub(crate) struct Press<'a> {
    guide: &'a Guide,
    names: &'a Names,
    claims: &'a Claims,
    reconciled: &'a Reconciled,
    standings: &'a Standings,
    sentences: Sentences,
    prose: Prose,
}

/// A page before its template.
pub(crate) struct Sheet {
    address: String,
    template: &'static str,
    view: Json,
    own: Own,
    faults: Vec<Diagnostic>,
}

/// The relative way from a page to the site's root: empty for the home page, `../` a folder.
pub fn root(address: &str) -> String {
    "../".repeat(address.matches('/').count())
}

/// Checks what contributors wrote for pages, as far as that is possible without results.
pub fn check(guide: &Guide, names: &Names, input: &Input) -> Vec<Diagnostic> {
    let prose = Prose::new();
    let general = prose::guide_live(guide, names);
    let mut faults = Vec::new();
    let check_all = |texts: Vec<&Placed<String>>,
                     live: &BTreeMap<String, Live>,
                     faults: &mut Vec<Diagnostic>| {
        faults.extend(texts.into_iter().filter_map(|text| prose.check(text, live)));
    };
    for (id, plant) in names.plants.iter().enumerate() {
        let entry = &guide.plants[plant.entry];
        let mut texts: Vec<&Placed<String>> = entry.summary.iter().chain(&entry.story).collect();
        texts.extend(entry.cautions.iter().map(|caution| &caution.text));
        if !texts.is_empty() {
            check_all(
                texts,
                &prose::plant_live(guide, names, id, None),
                &mut faults,
            );
        }
        for picture in &entry.pictures {
            let path = format!("content/pictures/{}", picture.file.value);
            if input.bytes(&path).is_none() {
                let known: Vec<&str> = guide
                    .pictures
                    .iter()
                    .filter_map(|path| path.strip_prefix("content/pictures/"))
                    .collect();
                faults.push(Diagnostic::unknown_id(
                    &picture.file.place,
                    "picture",
                    &picture.file.value,
                    known,
                ));
            }
        }
    }
    let texts = guide
        .rosters
        .iter()
        .filter_map(|roster| roster.went.as_ref());
    check_all(
        texts
            .chain(guide.pages.iter().map(|page| &page.body))
            .collect(),
        &general,
        &mut faults,
    );
    for roster in &guide.rosters {
        for row in &roster.plants {
            names.one(&row.plant, &mut faults);
        }
    }
    faults
}

/// Makes every page, and the files that pages need, as (address, bytes).
///
/// `step` is called once a page.
pub fn pages(
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    reconciled: &Reconciled,
    standings: &Standings,
    input: &Input,
    step: &(dyn Fn() + Sync),
) -> (Vec<(String, Vec<u8>)>, Vec<Diagnostic>) {
    let (theme, mut faults) = Theme::load(&guide.about.theme, input);
    let Some(theme) = theme else {
        return (Vec::new(), faults);
    };
    let press = Press {
        guide,
        names,
        claims,
        reconciled,
        standings,
        sentences: Sentences::new(),
        prose: Prose::new(),
    };
    let mentions = Mentions::new(guide, names, standings);
    let mut sheets: Vec<Sheet> = (0..names.plants.len())
        .into_par_iter()
        .map(|plant| press.plant_page(plant))
        .collect();
    sheets.extend(press.lists());
    sheets.extend(press.reference());
    let made: Vec<(String, Vec<u8>, Vec<Diagnostic>)> = sheets
        .into_par_iter()
        .map(|sheet| {
            let made = finish(sheet, &press, &theme, &mentions);
            step();
            made
        })
        .collect();
    let mut out: Vec<(String, Vec<u8>)> = Vec::with_capacity(made.len());
    for (address, bytes, found) in made {
        faults.extend(found);
        out.push((address, bytes));
    }
    out.extend(theme.assets());
    for path in &guide.pictures {
        if let (Some(bytes), Some(name)) = (input.bytes(path), path.strip_prefix("content/")) {
            out.push((name.to_owned(), bytes.to_vec()));
        }
    }
    out.sort();
    (out, faults)
}

/// From a sheet to its finished HTML.
fn finish(
    mut sheet: Sheet,
    press: &Press<'_>,
    theme: &Theme,
    mentions: &Mentions,
) -> (String, Vec<u8>, Vec<Diagnostic>) {
    let root = press.root_of(&sheet.address);
    let html = theme.render(sheet.template, &press.frame(&sheet, &root));
    let marked = html.and_then(|html| {
        mentions
            .mark(&html, sheet.own, &root)
            .map_err(|why| Diagnostic::bad_template(&theme.path_of(sheet.template), &why))
    });
    match marked {
        Ok(html) => (sheet.address, html.into_bytes(), sheet.faults),
        Err(fault) => {
            sheet.faults.push(fault);
            (sheet.address, Vec::new(), sheet.faults)
        }
    }
}

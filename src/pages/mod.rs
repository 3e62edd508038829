//! Every page of the site, in a fixed order; each a function of named inputs.

pub mod data;

pub(crate) mod mark;

mod chart;

mod lean;

mod forest;

mod specimen;

mod markdown;

mod sentence;

pub(crate) mod prose;

mod mention;

mod template;

mod view;

mod plant;

mod answer;

mod lists;

mod records;

mod slip;

mod worked;

mod calibration;

mod reference;

mod starting;

mod compare;

mod table;

mod downloads;

mod search;

mod drawers;

mod addresses;

mod editions;

mod feed;

pub(crate) mod single;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rayon::prelude::*;
use serde_json::Value as Json;

use crate::claims::Claims;
use crate::content::{Guide, Input};
use crate::diagnostic::{Diagnostic, Place, Placed};
use crate::editions::{Edition, Shifts, shifts};
use crate::names::{Names, PlantId};
use crate::pages::mention::{Mentions, Own};
use crate::pages::prose::Prose;
use crate::pages::sentence::Sentences;
use crate::pages::specimen::picture_size;
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
    /// The oldest first.
    editions: &'a [Edition],
    /// For each edition but the first, what moved since the one before.
    shifts: Arc<Vec<Shifts>>,
    sentences: Arc<Sentences>,
    prose: Arc<Prose>,
    /// The drawings of growth forms, by id of the form.
    plates: &'a BTreeMap<String, String>,
    /// By file in `pictures/`, width and height.
    sizes: BTreeMap<&'a str, (usize, usize)>,
}

/// The stages of a guide that pages are made from.
#[derive(Clone, Copy)]
pub(crate) struct Stages<'a> {
    pub(crate) guide: &'a Guide,
    pub(crate) names: &'a Names,
    pub(crate) claims: &'a Claims,
    pub(crate) reconciled: &'a Reconciled,
    pub(crate) standings: &'a Standings,
    pub(crate) editions: &'a [Edition],
    pub(crate) input: &'a Input,
}

/// What pages are worded with; made once for many of them.
#[derive(Clone)]
pub(crate) struct Words {
    sentences: Arc<Sentences>,
    prose: Arc<Prose>,
    shifts: Arc<Vec<Shifts>>,
}

impl Words {
    pub(crate) fn new(guide: &Guide, editions: &[Edition]) -> Words {
        let pairs = editions.windows(2);
        let shifts = pairs.map(|pair| shifts(&pair[0], &pair[1], guide));
        Words {
            sentences: Arc::new(Sentences::new()),
            prose: Arc::new(Prose::new()),
            shifts: Arc::new(shifts.collect()),
        }
    }
}

impl<'a> Press<'a> {
    /// Puts together what pages are made from.
    pub(crate) fn new(of: Stages<'a>, theme: &'a Theme, words: Words) -> Press<'a> {
        Press {
            guide: of.guide,
            names: of.names,
            claims: of.claims,
            reconciled: of.reconciled,
            standings: of.standings,
            editions: of.editions,
            shifts: words.shifts,
            sentences: words.sentences,
            prose: words.prose,
            plates: theme.plates(),
            sizes: of
                .guide
                .pictures
                .iter()
                .filter_map(|path| {
                    let file = path.strip_prefix("content/pictures/")?;
                    Some((file, picture_size(of.input.bytes(path)?)?))
                })
                .collect(),
        }
    }
}

/// A page before its template.
pub(crate) struct Sheet {
    address: String,
    template: &'static str,
    view: Json,
    own: Own,
    /// Where what it shows stands in the content.
    place: Place,
    faults: Vec<Diagnostic>,
}

/// A page with its template, names linked.
struct Finished {
    address: String,
    html: String,
    links: Vec<String>,
    place: Place,
    faults: Vec<Diagnostic>,
}

/// The theme that is built in.
pub const BUILT_IN_THEME: &str = template::BUILT_IN;

/// Whether the bytes of a file are a picture that pages can show.
pub fn is_picture(bytes: &[u8]) -> bool {
    picture_size(bytes).is_some()
}

/// The relative way from a page to the site's root: empty for the home page, `../` a folder.
pub fn root(address: &str) -> String {
    "../".repeat(address.matches('/').count())
}

/// Checks what contributors wrote for pages, as far as that is possible without results.
pub fn check(guide: &Guide, names: &Names, input: &Input) -> Vec<Diagnostic> {
    let prose = Prose::new();
    let mut faults: Vec<Diagnostic> = (0..names.plants.len())
        .flat_map(|plant| check_plant(plant, guide, names, input, &prose))
        .collect();
    faults.extend(check_rest(guide, names, input));
    faults
}

/// Checks what stands in the entry of one plant.
pub(crate) fn check_plant(
    plant: PlantId,
    guide: &Guide,
    names: &Names,
    input: &Input,
    prose: &Prose,
) -> Vec<Diagnostic> {
    let entry = &guide.plants[names.plants[plant].entry];
    let mut faults = Vec::new();
    let mut texts: Vec<&Placed<String>> = entry.summary.iter().chain(&entry.story).collect();
    texts.extend(entry.cautions.iter().map(|caution| &caution.text));
    if !texts.is_empty() {
        let live = prose::plant_live(guide, names, plant, None);
        faults.extend(
            texts
                .into_iter()
                .filter_map(|text| prose.check(text, &live)),
        );
    }
    let claimed = entry
        .claims
        .iter()
        .filter_map(|claim| claim.picture.as_ref());
    let shown = entry.pictures.iter().map(|picture| &picture.file);
    faults.extend(
        shown
            .chain(claimed)
            .filter_map(|file| picture_fault(file, guide, input)),
    );
    faults
}

/// Checks what stands anywhere but in the entries of plants.
pub(crate) fn check_rest(guide: &Guide, names: &Names, input: &Input) -> Vec<Diagnostic> {
    let prose = Prose::new();
    let general = prose::guide_live(guide, names);
    let in_sources = guide.sources.iter().flat_map(|source| &source.claims);
    let in_genera = guide.genera.iter().flat_map(|genus| &genus.claims);
    let claimed = in_sources
        .chain(in_genera)
        .filter_map(|claim| claim.picture.as_ref());
    let mut faults: Vec<Diagnostic> = claimed
        .filter_map(|file| picture_fault(file, guide, input))
        .collect();
    let texts = guide
        .rosters
        .iter()
        .filter_map(|roster| roster.went.as_ref());
    faults.extend(
        texts
            .chain(guide.pages.iter().map(|page| &page.body))
            .filter_map(|text| prose.check(text, &general)),
    );
    for roster in &guide.rosters {
        for row in &roster.plants {
            names.one(&row.plant, &mut faults);
        }
    }
    faults
}

/// A fault where a picture that is named is not there, or is none that pages can show.
fn picture_fault(file: &Placed<String>, guide: &Guide, input: &Input) -> Option<Diagnostic> {
    let path = format!("content/pictures/{}", file.value);
    if let Some(bytes) = input.bytes(&path) {
        return picture_size(bytes)
            .is_none()
            .then(|| Diagnostic::not_a_picture(&file.place, &file.value));
    }
    let known = guide
        .pictures
        .iter()
        .filter_map(|path| path.strip_prefix("content/pictures/"));
    Some(Diagnostic::unknown_id(
        &file.place,
        "picture",
        &file.value,
        known,
    ))
}

/// Makes every page, and the files that pages need, as (address, bytes).
///
/// `data` is what [`data::data`] made: pages describe it and link to it. `step` is called once a
/// page.
#[allow(clippy::too_many_arguments)] // Each is a stage's result, named once, in [`crate::build`].
pub fn pages(
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    reconciled: &Reconciled,
    standings: &Standings,
    editions: &[Edition],
    data: &[(String, String)],
    input: &Input,
    step: &(dyn Fn() + Sync),
) -> (Vec<(String, Vec<u8>)>, Vec<Diagnostic>) {
    let (theme, mut faults) = Theme::load(&guide.about.theme, input);
    let Some(theme) = theme else {
        return (Vec::new(), faults);
    };
    let of = Stages {
        guide,
        names,
        claims,
        reconciled,
        standings,
        editions,
        input,
    };
    let press = Press::new(of, &theme, Words::new(guide, editions));
    let mentions = Mentions::new(guide, names, standings);
    let mut sheets: Vec<Sheet> = (0..names.plants.len())
        .into_par_iter()
        .map(|plant| press.plant_page(plant))
        .collect();
    sheets.extend(press.lists());
    sheets.extend(press.reference());
    sheets.extend(press.edition_pages());
    sheets.extend(press.starting());
    sheets.extend(press.compare());
    sheets.push(press.downloads(data));
    let findable = press.findable_names();
    sheets.extend(press.search_pages(&findable));
    let mut out: Vec<(String, Vec<u8>)> = theme.assets();
    out.extend(press.drawers(&findable, &sheets));
    out.extend(press.addresses(&sheets));
    out.extend(press.feed());
    out.extend(press.records());
    let made: Vec<Finished> = sheets
        .into_par_iter()
        .map(|sheet| {
            let made = finish(sheet, &press, &theme, &mentions);
            step();
            made
        })
        .collect();
    for path in &guide.pictures {
        if let (Some(bytes), Some(name)) = (input.bytes(path), path.strip_prefix("content/")) {
            out.push((name.to_owned(), bytes.to_vec()));
        }
    }
    let known: BTreeSet<&str> = made
        .iter()
        .map(|page| page.address.as_str())
        .chain(out.iter().map(|(address, _)| address.as_str()))
        .chain(data.iter().map(|(address, _)| address.as_str()))
        .collect();
    for page in &made {
        faults.extend(page.faults.iter().cloned());
        faults.extend(dead_links(page, &|address| known.contains(address)));
    }
    out.extend(
        made.into_iter()
            .map(|page| (page.address, page.html.into_bytes())),
    );
    out.sort();
    (out, faults)
}

/// Relative links of a page that lead nowhere.
fn dead_links(page: &Finished, is_there: &dyn Fn(&str) -> bool) -> Vec<Diagnostic> {
    if page.address == "404.html" {
        return Vec::new();
    }
    let is_dead = |href: &&String| {
        let path = href.split(['#', '?']).next().unwrap_or_default();
        let is_elsewhere = path
            .split('/')
            .next()
            .is_some_and(|head| head.contains(':'));
        if path.is_empty() || is_elsewhere {
            return false;
        }
        match target(&page.address, path) {
            Some(target) => !is_there(&target),
            None => true,
        }
    };
    page.links
        .iter()
        .filter(is_dead)
        .map(|href| Diagnostic::dead_link(&page.place, href))
        .collect()
}

/// Where a relative path leads from a page; `None` out of the site.
fn target(address: &str, path: &str) -> Option<String> {
    let mut parts: Vec<&str> = address.split('/').collect();
    parts.pop();
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            other => parts.push(other),
        }
    }
    if !path
        .rsplit('/')
        .next()
        .is_some_and(|last| last.contains('.') && last != "." && last != "..")
    {
        parts.push("index.html");
    }
    Some(parts.join("/"))
}

/// From a sheet to its finished HTML.
fn finish(sheet: Sheet, press: &Press<'_>, theme: &Theme, mentions: &Mentions) -> Finished {
    let root = press.root_of(&sheet.address);
    let html = theme.render(sheet.template, &press.frame(&sheet, &root));
    let marked = html.and_then(|html| {
        mentions.mark(&html, sheet.own, &root).map_err(|why| {
            Box::new(Diagnostic::bad_template(
                &theme.path_of(sheet.template),
                &why,
            ))
        })
    });
    let mut faults = sheet.faults;
    let (html, links) = marked.unwrap_or_else(|fault| {
        faults.push(*fault);
        Default::default()
    });
    Finished {
        address: sheet.address,
        html,
        links,
        place: sheet.place,
        faults,
    }
}

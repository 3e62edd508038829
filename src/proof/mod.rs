//! Warnings of daily use: what leaves the site right, but thinner than the club could make it.
//!
//! Knows nothing of the terminal: how faults are shown is `cli`'s; `sarif.rs` and `table.rs` put
//! them into the forms that other programs read.

pub mod rules;

mod sarif;

mod table;

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
pub use sarif::sarif;
pub use table::{Proofed, json};

use crate::Weighed;
use crate::content::{CautionKind, Clause, Measure, RawClaim, TraitKind, is_after};
use crate::diagnostic::{Diagnostic, Place, Placed};
use crate::names::Found;
use crate::roles::Word;

/// Every warning of daily use, by place.
pub fn warnings(weighed: &Weighed) -> Vec<Diagnostic> {
    let found = [
        undated_claims(weighed),
        idle_sources(weighed),
        loose_for_one(weighed),
        silent_needs(weighed),
        pictures_without_licence(weighed),
        plantings_without_mainstay(weighed),
        regulated_without_notice(weighed),
        lost_addresses(weighed),
    ];
    crate::in_order(found.concat())
}

/// A date that a source, a claim or an edition gives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dated {
    /// The key that says it: `issued`, `seen` or `date`.
    pub key: &'static str,
    /// A day, a month, a year, or two of them with `/` between.
    pub date: String,
    /// The file, or the claim.
    pub place: Place,
}

/// Every date of the sources, the claims and the editions.
pub fn dates(weighed: &Weighed) -> Vec<Dated> {
    let dated = |key, date: &Option<String>, place: &Place| {
        let (date, place) = (date.clone()?, place.clone());
        Some(Dated { key, date, place })
    };
    let sources = weighed.guide.sources.iter();
    let issued = sources.filter_map(|source| dated("issued", &source.issued, &source.file));
    let seen = raw_claims(weighed).filter_map(|claim| dated("seen", &claim.seen, &claim.place));
    let days = weighed.editions.iter().filter_map(|edition| {
        let day = edition.head.date?;
        let file = crate::editions::path(day);
        dated("date", &Some(day.to_string()), &Place::head(&file))
    });
    issued.chain(seen).chain(days).collect()
}

/// Dates after a day, such as tomorrow: a slip of the pen.
///
/// Apart from [`warnings`], as these alone change from day to day.
pub fn ahead(dates: &[Dated], latest: Date) -> Vec<Diagnostic> {
    let late = dates.iter().filter(|dated| is_after(&dated.date, latest));
    late.map(|dated| Diagnostic::not_yet(&dated.place, dated.key, &dated.date))
        .collect()
}

/// Plants of editions whose address leads nowhere now: who cited them finds nothing.
fn lost_addresses(weighed: &Weighed) -> Vec<Diagnostic> {
    let told = weighed.told();
    let is_gone = |slug: &str| weighed.guide.gone.iter().any(|gone| gone.slug == slug);
    let mut told_of: BTreeSet<&str> = BTreeSet::new();
    let mut out = Vec::new();
    for edition in weighed.editions.iter().rev() {
        let Some(day) = edition.head.date else {
            continue;
        };
        for (slug, plant) in &edition.plants {
            let is_lost = told.plant(slug).is_none() && !is_gone(slug);
            if is_lost && told_of.insert(slug) {
                let place = Place::head(&crate::editions::path(day));
                out.push(Diagnostic::lost_address(&place, slug, &plant.name));
            }
        }
    }
    out
}

/// Every claim as written: those of plants, of genera, of sources.
fn raw_claims(weighed: &Weighed) -> impl Iterator<Item = &RawClaim> {
    let guide = &weighed.guide;
    let in_plants = guide.plants.iter().flat_map(|plant| &plant.claims);
    let in_genera = guide.genera.iter().flat_map(|genus| &genus.claims);
    let in_sources = guide.sources.iter().flat_map(|source| &source.claims);
    in_plants.chain(in_genera).chain(in_sources)
}

/// Claims that say neither when nor where, one warning a source.
///
/// `seen`, `tank` or `at` say it, and so does a source with `issued`, which can be looked up.
/// Our choice: a list of labels has one date for all its claims, and is not to be asked for it on
/// every line.
fn undated_claims(weighed: &Weighed) -> Vec<Diagnostic> {
    let guide = &weighed.guide;
    let mut of_source: BTreeMap<usize, Vec<&RawClaim>> = BTreeMap::new();
    for claim in raw_claims(weighed) {
        let has_place = claim.at.is_some() || claim.tank.is_some();
        let has_date = claim.seen.is_some() || guide.sources[claim.source].issued.is_some();
        if !has_place && !has_date {
            of_source.entry(claim.source).or_default().push(claim);
        }
    }
    of_source
        .into_iter()
        .filter_map(|(source, claims)| {
            let first = claims.iter().map(|claim| &claim.place).min()?;
            let id = &guide.sources[source].id;
            Some(Diagnostic::undated_claims(first, id, claims.len()))
        })
        .collect()
}

/// Sources that no claim, caution or source names.
fn idle_sources(weighed: &Weighed) -> Vec<Diagnostic> {
    let guide = &weighed.guide;
    let mut used: BTreeSet<usize> = BTreeSet::new();
    for claim in raw_claims(weighed) {
        used.insert(claim.source);
        used.extend(claim.repeats);
    }
    for plant in &guide.plants {
        used.extend(plant.cautions.iter().filter_map(|caution| caution.source));
    }
    for source in &guide.sources {
        used.extend(&source.repeats);
    }
    let voices: BTreeSet<&str> = guide
        .sources
        .iter()
        .filter_map(|source| source.voice.as_deref())
        .collect();
    let is_idle =
        |at: usize| !used.contains(&at) && !voices.contains(guide.sources[at].id.as_str());
    (0..guide.sources.len())
        .filter(|at| is_idle(*at))
        .map(|at| Diagnostic::idle_source(&guide.sources[at].file, &guide.sources[at].id))
        .collect()
}

/// Claims on a whole genus of which the guide has one plant: the loose weight helps nobody.
///
/// A claim in the entry itself, with the loose name under `as`, is as it should be.
fn loose_for_one(weighed: &Weighed) -> Vec<Diagnostic> {
    let (guide, names) = (&weighed.guide, &weighed.names);
    let mut out = Vec::new();
    let mut look = |claim: &RawClaim, genus: usize| {
        if let [plant] = names.of_genus(genus)[..] {
            let (genus, plant) = (&names.genera[genus], &names.plants[plant].name);
            out.push(Diagnostic::loose_for_one(&claim.place, genus, plant));
        }
    };
    for (genus, entry) in guide.genera.iter().enumerate() {
        for claim in &entry.claims {
            look(claim, genus);
        }
    }
    for claim in guide.sources.iter().flat_map(|source| &source.claims) {
        let named = claim.plant.as_ref().map(|name| names.find(&name.value));
        if let Some(Found::Loose { genus, .. }) = named {
            look(claim, genus);
        }
    }
    out
}

/// Plants of whose need of light nobody has spoken, though a role that they may have asks for it.
///
/// A need is a trait that is measured as light, or on which a span counts at its lower end. An
/// entry without any claim is left out: it stands for a notice, or waits for its first.
fn silent_needs(weighed: &Weighed) -> Vec<Diagnostic> {
    let (guide, names) = (&weighed.guide, &weighed.names);
    let is_need = |at: usize| match &guide.traits[at].kind {
        TraitKind::Scale(on) => on.is_need || on.measure == Some(Measure::Light),
        TraitKind::Span(_) => false,
    };
    let mut out = Vec::new();
    for (id, name) in names.plants.iter().enumerate() {
        let entry = &guide.plants[name.entry];
        let has_form = |forms: &[String]| {
            forms
                .iter()
                .any(|form| entry.forms.iter().any(|own| own == form))
        };
        let graded = &weighed.reconciled.plants[id].traits;
        if graded.is_empty() {
            continue;
        }
        let is_silent = |at: &usize| {
            let claims = graded.get(at).map_or(&[][..], |graded| &graded.claims);
            claims.iter().all(|claim| claim.weight.is_none())
        };
        // By trait: the roles that ask for it, in written order.
        let mut silent: BTreeMap<usize, Vec<&str>> = BTreeMap::new();
        for role in &guide.roles {
            if role.forms.as_ref().is_some_and(|forms| !has_form(forms)) {
                continue;
            }
            let own = [&role.unsuited, &role.mainstay, &role.support];
            let clauses = guide.every_role.iter().chain(own.into_iter().flatten());
            let asks_here =
                |clause: &&Clause| clause.forms.as_ref().is_none_or(|forms| has_form(forms));
            let asked: BTreeSet<usize> = clauses
                .filter(asks_here)
                .map(|clause| clause.trait_index)
                .filter(|at| is_need(*at) && is_silent(at))
                .collect();
            for at in asked {
                silent.entry(at).or_default().push(&role.id);
            }
        }
        for (at, roles) in silent {
            let (id, more) = (&guide.traits[at].id, roles.len() - 1);
            out.push(Diagnostic::silent_need(
                &entry.name.place,
                id,
                roles[0],
                more,
            ));
        }
    }
    out
}

fn pictures_without_licence(weighed: &Weighed) -> Vec<Diagnostic> {
    let pictures = weighed
        .guide
        .plants
        .iter()
        .flat_map(|plant| &plant.pictures);
    pictures
        .filter(|picture| picture.licence.is_none())
        .map(|picture| Diagnostic::no_licence(&picture.file.place, &picture.file.value))
        .collect()
}

/// Plantings that run, without a mainstay of the first role, which carries the tank.
///
/// Our choice: one that has ended is a record, and a record of a failure is worth keeping.
fn plantings_without_mainstay(weighed: &Weighed) -> Vec<Diagnostic> {
    let guide = &weighed.guide;
    let Some(carrier) = guide.roles.first() else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for roster in &guide.rosters {
        let (Some(water), None) = (roster.water, roster.ended) else {
            continue;
        };
        let is_mainstay = |name: &Placed<String>| {
            // A name that fits no plant is reported where plantings are checked.
            let plant = weighed.names.one(name, &mut Vec::new());
            plant.is_some_and(|plant| {
                let standing = &weighed.standings.plants[plant].standings[water][0];
                standing
                    .as_ref()
                    .is_some_and(|standing| standing.word == Word::Mainstay)
            })
        };
        if !roster.plants.iter().any(|row| is_mainstay(&row.plant)) {
            let water = &guide.waters[water].id;
            out.push(Diagnostic::no_mainstay(&roster.place, &carrier.id, water));
        }
    }
    out
}

fn regulated_without_notice(weighed: &Weighed) -> Vec<Diagnostic> {
    let (guide, names) = (&weighed.guide, &weighed.names);
    let mut out = Vec::new();
    for (name, roles) in names.plants.iter().zip(&weighed.standings.plants) {
        let entry = &guide.plants[name.entry];
        let has_notice = entry
            .cautions
            .iter()
            .any(|caution| caution.kind == CautionKind::Regulated);
        let here = roles.regulated.iter().find(|(_, is_here)| *is_here);
        if let (Some((listing, _)), false) = (here, has_notice) {
            let instrument = &guide.regulated[*listing].instrument;
            out.push(Diagnostic::no_notice(&entry.name.place, instrument));
        }
    }
    out
}

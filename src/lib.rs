//! Pondweigh weighs what is said of water plants and presses it into a guide.
//!
//! The modules stand in the order of the data path; each imports only from those above it:
//! `content → names → claims → reconcile → roles → editions → pages → files`; `intake`,
//! `proof`, `schema` and `people` stand below the path. The disk is touched in files called `disk.rs` alone;
//! everything else is a pure function.

#![warn(missing_docs, unreachable_pub)]
#![deny(clippy::print_stdout, clippy::print_stderr)]
#![cfg_attr(
    not(test),
    deny(clippy::unwrap_used, clippy::expect_used, clippy::float_cmp)
)]

pub mod diagnostic;

pub mod quantity;

pub mod content;

pub mod names;

pub mod claims;

pub mod reconcile;

pub mod roles;

pub mod editions;

pub mod pages;

pub mod files;

pub mod schema;

pub mod intake;

pub mod proof;

pub mod people;

pub mod desk;

use crate::claims::Claims;
use crate::content::{Guide, Input};
use crate::diagnostic::{Diagnostic, Severity};
use crate::editions::{Edition, Head, Shifts, Told};
use crate::files::Site;
use crate::names::Names;
use crate::people::{Change, Person, Plan};
use crate::reconcile::{Outcome, Reconciled};
use crate::roles::Standings;

/// A guide weighed, before any page is made.
#[derive(Debug, Clone)]
pub struct Weighed {
    /// The guide as read.
    pub guide: Guide,
    /// Its names.
    pub names: Names,
    /// Its claims.
    pub claims: Claims,
    /// Its grades.
    pub reconciled: Reconciled,
    /// Its standings.
    pub standings: Standings,
    /// Its editions, the oldest first.
    pub editions: Vec<Edition>,
}

impl Weighed {
    /// A record of all grades and standings.
    pub fn record(&self, head: Head, input: &Input) -> Edition {
        editions::record(
            head,
            &self.guide,
            &self.names,
            &self.claims,
            &self.reconciled,
            &self.standings,
            input,
        )
    }

    /// What moved between two editions.
    pub fn shifts(&self, from: &Edition, to: &Edition) -> Shifts {
        editions::shifts(from, to, &self.guide)
    }

    /// What shifts are told with.
    pub fn told(&self) -> Told<'_> {
        Told {
            guide: &self.guide,
            names: &self.names,
            claims: &self.claims,
            standings: &self.standings,
        }
    }
}

/// What a press made, in numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counts {
    /// Plant entries.
    pub plants: usize,
    /// Claims, each once.
    pub claims: usize,
    /// Sources.
    pub sources: usize,
    /// HTML pages.
    pub pages: usize,
    /// Standings that are not `None`.
    pub standings: usize,
    /// Traits of plants that are contested.
    pub contested: usize,
}

/// Everything a press makes.
#[derive(Debug)]
pub struct Built {
    /// What is written.
    pub site: Site,
    /// In numbers.
    pub counts: Counts,
    /// Warnings of daily use.
    pub daily: Vec<Diagnostic>,
    /// Every date that a source or a claim gives.
    pub dates: Vec<proof::Dated>,
}

impl Weighed {
    /// The same guide weighed as if some sources (indices) had said nothing.
    pub fn without_sources(mut self, sources: &[usize]) -> Weighed {
        for of_plant in &mut self.claims.of_plant {
            for claims in of_plant.values_mut() {
                claims.retain(|id| !sources.contains(&self.claims.all[*id].source));
            }
            of_plant.retain(|_, claims| !claims.is_empty());
        }
        self.reconciled = reconcile::reconcile(&self.guide, &self.names, &self.claims);
        let (standings, _) =
            roles::standings(&self.guide, &self.names, &self.claims, &self.reconciled);
        self.standings = standings;
        self
    }
}

/// Reads and weighs a guide. `None` where it has errors; the faults say which.
pub fn weigh(input: &Input) -> (Option<Weighed>, Vec<Diagnostic>) {
    let (guide, mut faults) = content::read(input);
    let (names, found) = names::names(&guide);
    faults.extend(found);
    let (claims, found) = claims::claims(&guide, &names);
    faults.extend(found);
    faults.extend(pages::check(&guide, &names, input));
    let (editions, found) = editions::read(input);
    faults.extend(found);
    if has_errors(&faults) {
        return (None, in_order(faults));
    }
    let reconciled = reconcile::reconcile(&guide, &names, &claims);
    let (standings, found) = roles::standings(&guide, &names, &claims, &reconciled);
    faults.extend(found);
    let weighed = Weighed {
        guide,
        names,
        claims,
        reconciled,
        standings,
        editions,
    };
    (Some(weighed), in_order(faults))
}

/// The whole path: files in, site out. `None` where the guide has errors.
///
/// `step` is called once a page, for a progress bar.
pub fn build(input: &Input, step: &(dyn Fn() + Sync)) -> (Option<Built>, Vec<Diagnostic>) {
    match weigh(input) {
        (Some(weighed), faults) => pressed(&weighed, faults, input, step),
        (None, faults) => (None, faults),
    }
}

/// Weighs a guide and looks for every fault that a press would find. `None` where it has errors.
pub fn proofed(input: &Input) -> (Option<Weighed>, Vec<Diagnostic>) {
    let (weighed, faults) = weigh(input);
    let Some(weighed) = weighed else {
        return (None, faults);
    };
    let (built, faults) = pressed(&weighed, faults, input, &|| {});
    (built.map(|_| weighed), faults)
}

/// From a weighed guide to its site.
fn pressed(
    weighed: &Weighed,
    mut faults: Vec<Diagnostic>,
    input: &Input,
    step: &(dyn Fn() + Sync),
) -> (Option<Built>, Vec<Diagnostic>) {
    let Weighed {
        guide,
        names,
        claims,
        reconciled,
        standings,
        editions,
    } = weighed;
    let data = pages::data::data(guide, names, claims, reconciled, standings, editions);
    let (pages, found) = pages::pages(
        guide, names, claims, reconciled, standings, editions, &data, input, step,
    );
    faults.extend(found);
    let n_pages = pages
        .iter()
        .filter(|(address, _)| address.ends_with(".html"))
        .count();
    let data = data
        .into_iter()
        .map(|(address, text)| (address, text.into_bytes()));
    let (site, found) = files::site(pages.into_iter().chain(data).collect());
    faults.extend(found);
    if has_errors(&faults) {
        return (None, in_order(faults));
    }
    let built = Built {
        counts: counts(weighed, n_pages),
        daily: proof::warnings(weighed),
        dates: proof::dates(weighed),
        site,
    };
    (Some(built), in_order(faults))
}

/// Renames or removes a person everywhere in the content of a guide.
///
/// The guide is read again after the change. Errors, in words: the guide has errors already, it
/// would have some, or it would weigh otherwise.
pub fn person(input: &Input, name: &Person, change: &Change) -> Result<Plan, String> {
    let of_guide = |input: &Input| {
        let (weighed, faults) = proofed(input);
        weighed.ok_or(faults)
    };
    let before = of_guide(input).map_err(|_| {
        "the guide has errors: mend them first, `pondweigh proof` shows them".to_owned()
    })?;
    let name = &people::as_written(&before.guide, name);
    let mut plan = people::plan(input, &before.guide, &before.editions, name, change);
    if plan.touched.is_empty() {
        plan.near = people::near(&before.guide, name);
    }
    let changed = plan.applied(input);
    let after = of_guide(&changed).map_err(|faults| {
        let first = faults
            .iter()
            .find(|fault| fault.severity == Severity::Error)
            .map_or_else(String::new, |fault| {
                format!(": {}: {}", fault.place, fault.title)
            });
        format!("the guide would have errors{first}")
    })?;
    let head = || Head {
        date: None,
        number: 0,
        note: String::new(),
    };
    let (old, new) = (before.record(head(), input), after.record(head(), &changed));
    if !plan.weighs_the_same(&old, &new) {
        return Err("a grade or a standing would be another".to_owned());
    }
    plan.restamp(&after.editions, &old, &new);
    Ok(plan)
}

fn counts(weighed: &Weighed, pages: usize) -> Counts {
    let standings = weighed
        .standings
        .plants
        .iter()
        .flat_map(|plant| plant.standings.iter().flatten());
    let contested = weighed
        .reconciled
        .plants
        .iter()
        .flat_map(|plant| plant.traits.values());
    Counts {
        plants: weighed.names.plants.len(),
        claims: weighed.claims.all.len(),
        sources: weighed.guide.sources.len(),
        pages,
        standings: standings.filter(|standing| standing.is_some()).count(),
        contested: contested
            .filter(|graded| matches!(&graded.outcome, Outcome::Scale { grade, .. } if grade.is_contested))
            .count(),
    }
}

/// Whether any of the faults is an error.
pub fn has_errors(faults: &[Diagnostic]) -> bool {
    faults.iter().any(|fault| fault.severity == Severity::Error)
}

/// Faults by place; one said twice is said once.
pub fn in_order(mut faults: Vec<Diagnostic>) -> Vec<Diagnostic> {
    faults.sort_by(|a, b| (&a.place, a.severity, &a.title).cmp(&(&b.place, b.severity, &b.title)));
    faults.dedup();
    faults
}

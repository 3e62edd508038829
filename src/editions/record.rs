//! From a weighed guide to its record.

use std::collections::BTreeMap;

use crate::claims::{Claims, stamp, unit_of};
use crate::content::{Guide, Input, Source, TraitKind};
use crate::editions::{Edition, Graded, Head, Mark, Recorded};
use crate::names::{Names, PlantId};
use crate::quantity::decimals;
use crate::reconcile::grade::Grade;
use crate::reconcile::span::SpanGrade;
use crate::reconcile::{Outcome, Reconciled, TraitGrade};
use crate::roles::Standings;

/// Files that rule how claims are weighed and what a standing asks.
const RULES: &[&str] = &[
    "conditions",
    "forms",
    "roles",
    "scales",
    "traits",
    "weights",
];

/// Records all grades and standings of a guide.
pub fn record(
    head: Head,
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    reconciled: &Reconciled,
    standings: &Standings,
    input: &Input,
) -> Edition {
    let weighed = (guide, claims, reconciled, standings);
    let plants = (0..names.plants.len())
        .map(|plant| {
            let slug = names.plants[plant].slug.clone();
            (slug, recorded(plant, names, weighed))
        })
        .collect();
    let mut roles: Vec<String> = guide.roles.iter().map(|role| role.id.clone()).collect();
    roles.sort();
    Edition {
        head,
        made_with: format!("pondweigh {}", env!("CARGO_PKG_VERSION")),
        roles,
        waters: guide.waters.iter().map(|water| water.id.clone()).collect(),
        rules: rules(guide, input),
        sources: guide
            .sources
            .iter()
            .map(|source| (source.id.clone(), source_stamp(source, guide)))
            .collect(),
        plants,
    }
}

type Weighed<'a> = (&'a Guide, &'a Claims, &'a Reconciled, &'a Standings);

fn recorded(plant: PlantId, names: &Names, weighed: Weighed<'_>) -> Recorded {
    let (guide, _, reconciled, standings) = weighed;
    let name = &names.plants[plant];
    let entry = &guide.plants[name.entry];
    let traits = reconciled.plants[plant]
        .traits
        .iter()
        .map(|(index, graded)| {
            let id = guide.traits[*index].id.clone();
            (id, graded_here(plant, *index, graded, weighed))
        })
        .collect();
    let mut by_role: BTreeMap<String, BTreeMap<String, _>> = BTreeMap::new();
    for (water, here) in guide.waters.iter().zip(&standings.plants[plant].standings) {
        for (role, standing) in guide.roles.iter().zip(here) {
            if let Some(standing) = standing {
                by_role
                    .entry(role.id.clone())
                    .or_default()
                    .insert(water.id.clone(), standing.word);
            }
        }
    }
    let mut formerly: Vec<String> = entry.formerly.iter().map(|old| old.value.clone()).collect();
    formerly.sort();
    Recorded {
        name: name.name.clone(),
        forms: entry.forms.clone(),
        formerly,
        traits,
        standings: by_role,
    }
}

fn graded_here(
    plant: PlantId,
    index: usize,
    graded: &TraitGrade,
    (guide, claims, reconciled, _): Weighed<'_>,
) -> Graded {
    let overall = match &graded.outcome {
        Outcome::Scale { grade, .. } => mark(index, grade, guide),
        Outcome::Span(span) => span_mark(index, span, guide),
    };
    let in_water = guide
        .waters
        .iter()
        .zip(&reconciled.plants[plant].in_water)
        .filter_map(|(water, grades)| {
            let here = mark(index, grades.get(&index)?, guide);
            (here != overall).then(|| (water.id.clone(), here))
        })
        .collect();
    let mut made: Vec<(String, String)> = graded
        .claims
        .iter()
        .map(|one| {
            let claim = &claims.all[one.id];
            (guide.sources[claim.source].id.clone(), claim.stamp.clone())
        })
        .collect();
    made.sort();
    Graded {
        overall,
        in_water,
        claims: made,
    }
}

fn mark(index: usize, grade: &Grade, guide: &Guide) -> Mark {
    let levels = match &guide.traits[index].kind {
        TraitKind::Scale(on) => guide.scales[on.scale].levels.as_slice(),
        TraitKind::Span(_) => &[],
    };
    Mark {
        level: grade
            .level
            .and_then(|level| levels.get(level))
            .map(|level| level.id.clone()),
        confidence: grade.confidence,
        is_contested: grade.is_contested,
    }
}

/// A span as pages show it: what a reader could not see has not moved.
fn span_mark(index: usize, span: &SpanGrade, guide: &Guide) -> Mark {
    let unit = match guide.traits[index].kind {
        TraitKind::Span(measure) => unit_of(measure),
        TraitKind::Scale(_) => "",
    };
    Mark {
        level: span
            .low
            .zip(span.high)
            .map(|(low, high)| format!("{} to {}{unit}", decimals(low, 1), decimals(high, 1))),
        confidence: span.confidence,
        is_contested: false,
    }
}

/// A stamp of each file that rules the weighing. Comments, empty lines and blanks at the ends of
/// lines say nothing and are left out.
fn rules(guide: &Guide, input: &Input) -> BTreeMap<String, String> {
    let mut files: Vec<String> = RULES.iter().map(|name| format!("{name}.yaml")).collect();
    files.extend(
        guide
            .waters
            .iter()
            .map(|water| format!("waters/{}.yaml", water.id)),
    );
    files
        .into_iter()
        .filter_map(|file| {
            let said: Vec<&str> = input
                .text(&format!("content/{file}"))?
                .lines()
                .map(str::trim_end)
                .filter(|line| !line.is_empty() && !line.trim_start().starts_with('#'))
                .collect();
            Some((file, stamp(&said.join("\n"))))
        })
        .collect()
}

/// What of a source bears on the weight and the meaning of its claims.
fn source_stamp(source: &Source, guide: &Guide) -> String {
    let mut parts = vec![source.kind.clone()];
    parts.extend(source.voice.as_ref().map(|voice| format!("voice {voice}")));
    parts.extend(
        source
            .repeats
            .iter()
            .map(|other| format!("repeats {}", guide.sources[*other].id)),
    );
    for (index, words) in &source.vocabulary {
        let of = &guide.traits[*index];
        for (word, (low, high)) in words {
            let level = |at: usize| match &of.kind {
                TraitKind::Scale(on) => guide.scales[on.scale].levels[at].id.as_str(),
                TraitKind::Span(_) => "",
            };
            parts.push(format!(
                "{} {word} {}..{}",
                of.id,
                level(*low),
                level(*high)
            ));
        }
    }
    stamp(&parts.join("\n"))
}

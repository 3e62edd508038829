//! How the evidence weighs for one plant, in the terminal.

use std::path::Path;

use pondweigh::Weighed;
use pondweigh::content::TraitKind;
use pondweigh::diagnostic::{counted, nearest};
use pondweigh::names::{Found, PlantId, Surety};
use pondweigh::quantity::{days_in_words, decimals};
use pondweigh::reconcile::grade::Grade;
use pondweigh::reconcile::{Outcome, TraitGrade};

use crate::cli::{CONTENT, DONE, all_faults, read, report, say, summary_of};

/// Prints the standings and traits of one plant.
pub(crate) fn weigh(guide: &Path, plant: &str, trait_id: Option<&str>) -> Result<u8, String> {
    let (input, unread) = read(guide)?;
    let has_unread = pondweigh::has_errors(&unread);
    let (weighed, faults) = pondweigh::weigh(&input);
    let Some(weighed) = weighed.filter(|_| !has_unread) else {
        let faults = all_faults(unread, faults);
        for fault in &faults {
            eprintln!("{}", report::shown(fault, &input, false));
        }
        eprintln!(
            "{} in the guide: nothing can be weighed until the errors are mended.",
            summary_of(&faults)
        );
        return Ok(CONTENT);
    };
    let id = find(&weighed, plant)?;
    let only = match trait_id {
        None => None,
        Some(wanted) => Some(find_trait(&weighed, wanted)?),
    };
    let name = &weighed.names.plants[id];
    say(&name.name);
    if only.is_none() {
        standings(&weighed, id);
    }
    let traits = &weighed.reconciled.plants[id].traits;
    if let Some(only) = only
        && !traits.contains_key(&only)
    {
        say(&format!(
            "Nobody has spoken on {} yet.",
            weighed.guide.traits[only].title.to_lowercase()
        ));
    }
    for (index, graded) in traits {
        if only.is_none_or(|only| only == *index) {
            show_trait(&weighed, id, *index, graded);
        }
    }
    Ok(DONE)
}

fn find(weighed: &Weighed, wanted: &str) -> Result<PlantId, String> {
    let names = &weighed.names;
    if let Some(id) = names.plants.iter().position(|plant| plant.slug == wanted) {
        return Ok(id);
    }
    let list = |plants: &[PlantId]| -> String {
        let lines: Vec<String> = plants
            .iter()
            .map(|id| format!("  {}", names.plants[*id].name))
            .collect();
        lines.join("\n")
    };
    match names.find(wanted) {
        Found::Plant(id, Surety::Exact) => Ok(id),
        Found::Plant(id, _) => Err(format!(
            "`{wanted}` is in doubt. The guide has:\n{}",
            list(&[id])
        )),
        Found::Several(plants) => Err(format!(
            "`{wanted}` fits several plants. Name one:\n{}",
            list(&plants)
        )),
        Found::Loose { plants, .. } => {
            if let Some(id) = names.plants.iter().position(|plant| plant.name == wanted) {
                return Ok(id);
            }
            Err(format!(
                "`{wanted}` is a loose name. Name one of its plants:\n{}",
                list(&plants)
            ))
        }
        Found::Nothing { near, .. } => Err(if near.is_empty() {
            format!("no plant of this guide is called `{wanted}`")
        } else {
            format!(
                "no plant of this guide is called `{wanted}`. Near it:\n  {}",
                near.join("\n  ")
            )
        }),
    }
}

fn find_trait(weighed: &Weighed, wanted: &str) -> Result<usize, String> {
    let traits = &weighed.guide.traits;
    let folded = wanted.to_lowercase();
    if let Some(at) = traits
        .iter()
        .position(|of| of.id == folded || of.title.to_lowercase() == folded)
    {
        return Ok(at);
    }
    let ids = || traits.iter().map(|of| of.id.as_str());
    Err(match nearest(wanted, ids()) {
        Some(near) => format!("unknown trait `{wanted}`; did you mean `{near}`?"),
        None => format!(
            "unknown trait `{wanted}`; the guide has {}",
            ids().collect::<Vec<_>>().join(", ")
        ),
    })
}

fn standings(weighed: &Weighed, id: PlantId) {
    let guide = &weighed.guide;
    let roles = &weighed.standings.plants[id];
    for (listing, here) in &roles.regulated {
        let listing = &guide.regulated[*listing];
        let date = listing.date.as_deref().unwrap_or("no date given");
        let mark = if *here {
            "Listed where this guide is read"
        } else {
            "Listed elsewhere"
        };
        say(&format!(
            "{mark}: {}, {} ({date}). Local law decides.",
            listing.place, listing.instrument
        ));
    }
    for (water, by_role) in guide.waters.iter().zip(&roles.standings) {
        say("");
        say(&format!("In {}", water.title));
        for (role, standing) in guide.roles.iter().zip(by_role) {
            let Some(standing) = standing else {
                continue;
            };
            let doubt = if standing.is_in_doubt {
                " (in doubt)"
            } else {
                ""
            };
            let sturdy = match standing.rests_on.as_slice() {
                [] => "no single voice carries it".to_owned(),
                [one] => format!("rests on {}", weighed.reconciled.voices.ids[*one]),
                several => format!(
                    "rests on each of {}",
                    counted(several.len(), "voice", "voices")
                ),
            };
            say(&format!(
                "  {:<20} {}{doubt}; {sturdy}",
                role.title,
                standing.word.on_screen()
            ));
            for verdict in &standing.clauses {
                let p = verdict
                    .probability
                    .map_or_else(String::new, |p| format!(", score {}", decimals(p, 2)));
                say(&format!(
                    "    {:<9} {}: {}{p}",
                    verdict.list.id(),
                    verdict.text,
                    verdict.answer.id()
                ));
            }
        }
    }
}

fn show_trait(weighed: &Weighed, id: PlantId, index: usize, graded: &TraitGrade) {
    let guide = &weighed.guide;
    let of = &guide.traits[index];
    say("");
    let grade_line = |grade: &Grade| -> String {
        let level = match (&of.kind, grade.level) {
            (TraitKind::Scale(on), Some(level)) => guide.scales[on.scale].levels[level].id.clone(),
            _ => "nothing weighed".to_owned(),
        };
        format!(
            "{level}; confidence {}; {}, evidence {}, agreement {}{}",
            grade.confidence.word(),
            counted(grade.voices, "voice", "voices"),
            grade.evidence.word(),
            grade.agreement.word(),
            if grade.is_contested {
                ", contested"
            } else {
                ""
            },
        )
    };
    match &graded.outcome {
        Outcome::Scale {
            grade,
            measured,
            goes_with,
        } => {
            say(&format!("{}: {}", of.title, grade_line(grade)));
            for (water, grades) in guide
                .waters
                .iter()
                .zip(&weighed.reconciled.plants[id].in_water)
            {
                if let Some(grade) = grades.get(&index) {
                    say(&format!("  in {}: {}", water.title, grade_line(grade)));
                }
            }
            for (key, pooled) in measured {
                let unit = if pooled.doubling_days.is_some() {
                    " a day"
                } else {
                    ""
                };
                let doubling = pooled.doubling_days.map_or_else(String::new, |days| {
                    format!(", doubling in {}", days_in_words(days))
                });
                say(&format!(
                    "  measured by {key}: {}{unit} from {}{doubling}",
                    decimals(pooled.estimate, 4),
                    counted(pooled.k, "voice", "voices"),
                ));
            }
            for factor in goes_with {
                let mark = if factor.share.is_notable() {
                    " (notable)"
                } else {
                    ""
                };
                let p = factor
                    .share
                    .p
                    .map_or_else(String::new, |p| format!(", p {}", decimals(p, 2)));
                say(&format!(
                    "  difference by {}: share {}{p}{mark}",
                    factor.id,
                    decimals(factor.share.share, 2)
                ));
            }
        }
        Outcome::Span(span) => {
            let end = |end: Option<f64>| end.map_or_else(|| "?".to_owned(), |end| decimals(end, 1));
            say(&format!(
                "{}: {} to {}; confidence {}; {}",
                of.title,
                end(span.low),
                end(span.high),
                span.confidence.word(),
                counted(span.voices, "voice", "voices"),
            ));
        }
    }
    for one in &graded.claims {
        let claim = &weighed.claims.all[one.id];
        let source = &guide.sources[claim.source];
        let weight = one
            .weight
            .map_or_else(|| "shown".to_owned(), |weight| decimals(weight, 3));
        let loose = if claim.is_loose { ", loose name" } else { "" };
        let voice = &weighed.reconciled.voices.ids[one.voice];
        let voice = if *voice == source.id {
            String::new()
        } else {
            format!(", voice {voice}")
        };
        say(&format!(
            "  {weight:>6}  {} ({}{loose}{voice}): {}",
            source.id, claim.kind, claim.words
        ));
    }
}

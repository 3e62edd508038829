//! How the evidence weighs for one plant, in the terminal.

use std::path::PathBuf;

use clap::Args;
use pondweigh::Weighed;
use pondweigh::claims::{Fate, unit_of};
use pondweigh::content::{Input, TraitKind};
use pondweigh::diagnostic::{counted, nearest};
use pondweigh::intake;
use pondweigh::names::{Found, PlantId, Surety};
use pondweigh::quantity::{days_in_words, decimals, percent};
use pondweigh::reconcile::grade::Grade;
use pondweigh::reconcile::{Outcome, TraitGrade, WeighedClaim, shown_condition};

use crate::cli::balance;
use crate::cli::{CONTENT, DONE, say, sound};

/// Prints a line of a result in the columns that everybody has.
fn lines(text: &str) {
    say(&balance::wrapped(text, balance::WIDE, "  "));
}

/// What is asked.
#[derive(Args)]
pub(crate) struct Weigh {
    /// Any name of the plant that the guide knows, or its page address
    plant: String,
    /// Only this trait, such as `growth`
    trait_id: Option<String>,
    /// Only this kind of tank or pond, by its id
    #[arg(long, value_name = "WATER")]
    water: Option<String>,
    /// As if this source were not there; may be given again
    #[arg(long, value_name = "SOURCE")]
    without: Vec<String>,
    /// As if this were claimed too: `SOURCE: VALUE`, with conditions behind a `;`; may be given again
    #[arg(long, value_name = "CLAIM", requires = "trait_id")]
    with: Vec<String>,
    /// The same as JSON, in the shape of the site's `plant.json`
    #[arg(long, conflicts_with_all = ["without", "with"])]
    json: bool,
    /// The guide's folder
    #[arg(long, default_value = ".", value_name = "DIR")]
    guide: PathBuf,
}

/// Prints the standings and traits of one plant.
pub(crate) fn weigh(asked: &Weigh) -> Result<u8, String> {
    let not_done = "nothing can be weighed until the errors are mended";
    let Some((input, weighed)) = sound(&asked.guide, pondweigh::weigh, not_done)? else {
        return Ok(CONTENT);
    };
    let id = find(&weighed, &asked.plant)?;
    let only = match &asked.trait_id {
        None => None,
        Some(wanted) => Some(find_trait(&weighed, wanted)?),
    };
    let water = match &asked.water {
        None => None,
        Some(wanted) => Some(find_water(&weighed, wanted)?),
    };
    if asked.json {
        return json(&weighed, id, only, water);
    }
    let slug = weighed.names.plants[id].slug.clone();
    say(&weighed.names.plants[id].name);
    if !asked.without.is_empty() || !asked.with.is_empty() {
        return what_if(asked, &input, weighed, &slug, only);
    }
    show(&weighed, id, only, water);
    Ok(DONE)
}

fn show(weighed: &Weighed, id: PlantId, only: Option<usize>, water: Option<usize>) {
    if only.is_none() {
        standings(weighed, id, water);
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
    let mut is_drawn = false;
    for (index, graded) in traits {
        if only.is_none_or(|only| only == *index) {
            is_drawn |= matches!(graded.outcome, Outcome::Scale { .. });
            show_trait(weighed, id, *index, graded, water);
        }
    }
    if is_drawn || only.is_none() {
        say("");
    }
    if only.is_none() {
        say(&balance::wrapped(CLAUSES, balance::WIDE, ""));
    }
    if is_drawn {
        say(&balance::legend());
    }
}

/// What stands in the lists of clauses, once.
const CLAUSES: &str = "A job’s word comes from its clauses. One is met or failed where the reports are clear enough, and open where they are not; skipped, it is not about this plant or this water. An unsuited clause that is met tells against the plant. The score is how far the reports go towards met, from 0 to 1.";

/// The weighing with sources left out and claims added, and what that moves.
fn what_if(
    asked: &Weigh,
    input: &Input,
    before: Weighed,
    slug: &str,
    only: Option<usize>,
) -> Result<u8, String> {
    let mut weighed = before.clone();
    if !asked.with.is_empty() {
        let head = ["plant", "trait", "source", "value", "where"].map(str::to_owned);
        let mut table = vec![head.to_vec()];
        for claim in &asked.with {
            let (source, rest) = claim.split_once(": ").ok_or_else(|| {
                format!("`{claim}` is no claim\n  hint: write `SOURCE: VALUE`, such as `--with \"my-log: fast; light=low\"`")
            })?;
            let (value, conditions) = rest.split_once(';').unwrap_or((rest, ""));
            table.push(
                [
                    &weighed.names.plants[find(&weighed, &asked.plant)?].name,
                    asked.trait_id.as_deref().unwrap_or_default(),
                    source,
                    value,
                    conditions,
                ]
                .map(|cell| cell.trim().to_owned())
                .to_vec(),
            );
        }
        let (slips, mut troubles) = intake::sheet(&table, "--with", &weighed.guide, None, false);
        let entered = intake::entered(input, &weighed, &slips, None, None);
        troubles.extend(entered.troubles);
        if !troubles.is_empty() {
            for trouble in &mut troubles {
                // The rows of the sheet are the options, of which the first has the second row.
                let row = trouble
                    .place
                    .rsplit(' ')
                    .next()
                    .and_then(|row| row.parse().ok());
                let at = row.map_or(1, |row: usize| row.saturating_sub(1));
                trouble.place = match asked.with.get(at.saturating_sub(1)) {
                    Some(text) => format!("--with \"{text}\""),
                    None => "--with".to_owned(),
                };
                trouble.column = None;
                if trouble.title.starts_with("unknown source") {
                    trouble.help = trouble.help.replace(
                        "or make the source with `--source` as its id and `--new-source \"Its title\"`",
                        "or take the source of a like observer: a new voice weighs as theirs would",
                    );
                }
                eprintln!("{trouble}");
            }
            return Ok(CONTENT);
        }
        if !entered.already.is_empty() {
            say("The guide has that claim already; it counts once.");
        }
        weighed = intake::weighed_with(input, &entered.edits)
            .map_err(|_| "with that claim the guide would have errors".to_owned())?;
    }
    let mut out = Vec::new();
    for wanted in &asked.without {
        let sources = &weighed.guide.sources;
        match sources.iter().position(|source| source.id == *wanted) {
            Some(at) => out.push(at),
            None => {
                let near = nearest(wanted, sources.iter().map(|source| source.id.as_str()));
                let hint =
                    near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
                return Err(format!("unknown source `{wanted}`{hint}"));
            }
        }
    }
    if !out.is_empty() {
        weighed = weighed.without_sources(&out);
    }
    let id = weighed
        .names
        .plants
        .iter()
        .position(|plant| plant.slug == slug)
        .ok_or("the plant is gone")?;
    show(&weighed, id, only, None);
    say("");
    let moves = intake::moves(&before, &weighed, &[slug.to_owned()]);
    if moves.is_empty() {
        say("Nothing moves: every grade and standing is as it was.");
    } else {
        say("What moves:");
        for one in moves {
            say(&balance::wrapped(
                &format!("  {}: {} → {}", one.of, one.from, one.to),
                balance::WIDE,
                "  ",
            ));
        }
    }
    Ok(DONE)
}

/// The parts of the site's `plant.json` that were asked for.
fn json(
    weighed: &Weighed,
    id: PlantId,
    only: Option<usize>,
    water: Option<usize>,
) -> Result<u8, String> {
    let slug = &weighed.names.plants[id].slug;
    let data = pondweigh::pages::data::data(
        &weighed.guide,
        &weighed.names,
        &weighed.claims,
        &weighed.reconciled,
        &weighed.standings,
        &weighed.editions,
    );
    let path = format!("plants/{slug}/plant.json");
    let text = data
        .iter()
        .find(|(address, _)| *address == path)
        .map(|(_, text)| text.as_str())
        .ok_or("the plant has no data")?;
    let mut value: serde_json::Value =
        serde_json::from_str(text).map_err(|error| error.to_string())?;
    let keep = |value: &mut serde_json::Value, key: &str| {
        if let Some(map) = value.as_object_mut() {
            map.retain(|other, _| other == key);
        }
    };
    if let Some(water) = water {
        for part in ["in_water", "standings", "instead"] {
            keep(&mut value[part], &weighed.guide.waters[water].id);
        }
    }
    if let Some(only) = only {
        let key = &weighed.guide.traits[only].id;
        keep(&mut value["traits"], key);
        if let Some(waters) = value["in_water"].as_object_mut() {
            waters.values_mut().for_each(|grades| keep(grades, key));
        }
    }
    let text = serde_json::to_string_pretty(&value).map_err(|error| error.to_string())?;
    say(&text);
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

fn find_water(weighed: &Weighed, wanted: &str) -> Result<usize, String> {
    let waters = &weighed.guide.waters;
    let folded = wanted.to_lowercase();
    if let Some(at) = waters
        .iter()
        .position(|of| of.id == folded || of.title.to_lowercase() == folded)
    {
        return Ok(at);
    }
    let ids: Vec<&str> = waters.iter().map(|of| of.id.as_str()).collect();
    Err(match nearest(wanted, ids.iter().copied()) {
        Some(near) => format!("unknown water `{wanted}`; did you mean `{near}`?"),
        None => format!("unknown water `{wanted}`; the guide has {}", ids.join(", ")),
    })
}

fn standings(weighed: &Weighed, id: PlantId, only: Option<usize>) {
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
        lines(&format!(
            "{mark}: {}, {} ({date}). Local law decides.",
            listing.place, listing.instrument
        ));
    }
    for (at, (water, by_role)) in guide.waters.iter().zip(&roles.standings).enumerate() {
        if only.is_some_and(|only| only != at) {
            continue;
        }
        say("");
        lines(&format!("In {}", water.title));
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
            lines(&format!(
                "  {:<20} {}{doubt}; {sturdy}",
                role.title,
                standing.word.on_screen()
            ));
            for verdict in &standing.clauses {
                let p = verdict
                    .probability
                    .map_or_else(String::new, |p| format!(", score {}", decimals(p, 2)));
                lines(&format!(
                    "    {:<9} {}: {}{p}",
                    verdict.list.id(),
                    verdict.text,
                    verdict.answer.id()
                ));
            }
            for change in &standing.changes {
                let of = &guide.traits[change.trait_index];
                let level = match &of.kind {
                    TraitKind::Scale(on) => guide.scales[on.scale].levels[change.level]
                        .id
                        .replace('-', " "),
                    TraitKind::Span(_) => continue,
                };
                lines(&format!(
                    "    {} of \"{level}\" for {} would make it {}",
                    counted(change.notes, "more note", "more notes"),
                    of.title.to_lowercase(),
                    change.to.on_screen(),
                ));
            }
        }
    }
}

fn show_trait(
    weighed: &Weighed,
    id: PlantId,
    index: usize,
    graded: &TraitGrade,
    only: Option<usize>,
) {
    let guide = &weighed.guide;
    let of = &guide.traits[index];
    say("");
    let grade_line = |grade: &Grade| -> String {
        let level = match (&of.kind, grade.level) {
            (TraitKind::Scale(on), Some(level)) => {
                guide.scales[on.scale].levels[level].id.replace('-', " ")
            }
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
            lines(&format!("{}: {}", of.title, grade_line(grade)));
            if let TraitKind::Scale(on) = &of.kind {
                let levels = guide.scales[on.scale].levels.iter();
                let levels: Vec<String> = levels.map(|level| level.id.replace('-', " ")).collect();
                for line in balance::drawing(&balance::marks(&graded.voices), &levels, grade) {
                    say(&line);
                }
            }
            for (at, (water, grades)) in guide
                .waters
                .iter()
                .zip(&weighed.reconciled.plants[id].in_water)
                .enumerate()
            {
                if only.is_some_and(|only| only != at) {
                    continue;
                }
                if let Some(grade) = grades.get(&index) {
                    lines(&format!("  in {}: {}", water.title, grade_line(grade)));
                }
            }
            for (key, pooled) in measured {
                let unit = match &of.kind {
                    TraitKind::Scale(on) => on.measure.map_or("", unit_of),
                    TraitKind::Span(measure) => unit_of(*measure),
                };
                // A growth rate is of a length, a mass and so on; other values are of themselves.
                let by = match *key {
                    "value" => String::new(),
                    key => format!(" by {key}"),
                };
                let doubling = pooled.doubling_days.map_or_else(String::new, |days| {
                    format!(", doubling in {}", days_in_words(days))
                });
                lines(&format!(
                    "  measured{by}: {}{unit} from {}{doubling}",
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
                lines(&format!(
                    "  {} of the difference goes with {}{p}{mark}",
                    percent(factor.share.share),
                    factor.id.replace('-', " "),
                ));
            }
        }
        Outcome::Span(span) => {
            let unit = match &of.kind {
                TraitKind::Span(measure) => unit_of(*measure),
                TraitKind::Scale(_) => "",
            };
            let end = |end: Option<f64>| end.map_or_else(|| "?".to_owned(), |end| decimals(end, 1));
            lines(&format!(
                "{}: {} to {}{unit}; confidence {}; {}",
                of.title,
                end(span.low),
                end(span.high),
                span.confidence.word(),
                counted(span.voices, "voice", "voices"),
            ));
        }
    }
    for one in &graded.claims {
        say(&claim_lines(weighed, graded, one));
    }
}

/// A claim: its voice's letter, its weight, who says what, when and in which water; or why it is
/// not weighed.
fn claim_lines(weighed: &Weighed, graded: &TraitGrade, one: &WeighedClaim) -> String {
    let guide = &weighed.guide;
    let claim = &weighed.claims.all[one.id];
    let source = &guide.sources[claim.source];
    let at = graded.voices.iter().position(|voice| voice.id == one.voice);
    let letter = match (at, one.weight) {
        (Some(at), Some(_)) => balance::letter(at),
        _ => ' ',
    };
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
    let mut text = format!(
        "{letter} {weight:>6}  {} ({}{loose}{voice}): {}",
        source.id, claim.kind, claim.words
    );
    let stated = claim.stated.iter().map(|(condition, value)| {
        let of = &guide.conditions[*condition];
        format!(
            "{} {}",
            of.title.to_lowercase(),
            shown_condition(value, &of.kind, guide)
        )
    });
    let seen = claim.seen.iter().map(|seen| format!("seen {seen}"));
    for part in seen.chain(stated) {
        text.push_str("; ");
        text.push_str(&part);
    }
    match &claim.fate {
        Fate::Weighed => {}
        Fate::SetAside(reason) => text.push_str(&format!("; set aside: {reason}")),
        Fate::Settling => text.push_str("; not weighed: the plant was still settling in"),
        Fate::Akin => text.push_str("; not weighed: the name says \"not that one\""),
    }
    balance::wrapped(text.trim_end(), balance::WIDE, "        ")
}

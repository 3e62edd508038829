//! Shifts in words: as text for the terminal, as Markdown for a pull request, as JSON.

use serde_json::{Value as Json, json};

use crate::claims::{Claim, Claims, Fate};
use crate::content::{Guide, TraitKind};
use crate::diagnostic::counted;
use crate::editions::{
    Cause, ClaimShift, Head, Mark, PlantShift, Shifts, Step, TraitShift, Turn, What, Whence,
};
use crate::names::{Names, PlantId};
use crate::roles::{Standings, Word, notice};

/// What shifts are told with: the guide as it is, for titles and for the words of claims.
#[derive(Clone, Copy)]
pub struct Told<'a> {
    /// The guide.
    pub guide: &'a Guide,
    /// Its names.
    pub names: &'a Names,
    /// Its claims.
    pub claims: &'a Claims,
    /// Its standings, and the legal lists that its plants are on.
    pub standings: &'a Standings,
}

/// Where a claim is no longer in the guide, so that its words are not known.
const NOT_HERE: &str = "a claim that is no longer in the guide";

impl Told<'_> {
    /// The plant of an address that it has or has had.
    pub fn plant(&self, slug: &str) -> Option<PlantId> {
        let names = &self.names.plants;
        names
            .binary_search_by(|plant| plant.slug.as_str().cmp(slug))
            .ok()
            .or_else(|| {
                names.iter().position(|plant| {
                    let formerly = &self.guide.plants[plant.entry].formerly;
                    formerly.iter().any(|old| old.value == slug)
                })
            })
    }

    /// The notice of a plant on a legal list of one of the guide's places: it stands wherever its
    /// name and a standing do.
    pub fn law(&self, slug: &str) -> Option<String> {
        let notice = notice(self.guide, self.standings, self.plant(slug)?);
        (!notice.is_empty()).then(|| format!("{notice}; local law decides"))
    }

    /// A role's title; its id where the guide has it no more.
    pub fn role<'a>(&'a self, id: &'a str) -> &'a str {
        let found = self.guide.roles.iter().find(|role| role.id == id);
        found.map_or(id, |role| &role.title)
    }

    /// A water's title; its id where the guide has it no more.
    pub fn water<'a>(&'a self, id: &'a str) -> &'a str {
        let found = self.guide.waters.iter().find(|water| water.id == id);
        found.map_or(id, |water| &water.title)
    }

    /// A trait's title; its id where the guide has it no more.
    pub fn trait_title<'a>(&'a self, id: &'a str) -> &'a str {
        let found = self.guide.traits.iter().find(|of| of.id == id);
        found.map_or(id, |of| &of.title)
    }

    /// A source's title; its id where the guide has it no more.
    pub fn source<'a>(&'a self, id: &'a str) -> &'a str {
        let found = self.guide.sources.iter().find(|source| source.id == id);
        found.map_or(id, |source| &source.title)
    }

    /// A grade in words.
    pub fn mark(&self, id: &str, mark: Option<&Mark>) -> String {
        let Some(mark) = mark else {
            return "nobody had spoken".to_owned();
        };
        let is_span = self
            .guide
            .traits
            .iter()
            .any(|of| of.id == id && matches!(of.kind, TraitKind::Span(_)));
        let level = match &mark.level {
            None => "nothing weighed".to_owned(),
            Some(level) if is_span => level.clone(),
            // A level is an id; the ends of a span that the guide has no more are not.
            Some(level) if level.contains(' ') => level.clone(),
            Some(level) => level.replace('-', " "),
        };
        let contested = if mark.is_contested { ", contested" } else { "" };
        format!("{level}, confidence {}{contested}", mark.confidence.word())
    }

    /// A grade before and after, in words.
    pub fn step(&self, id: &str, step: &Step) -> String {
        format!(
            "{} → {}",
            self.mark(id, step.from.as_ref()),
            match &step.to {
                Some(mark) => self.mark(id, Some(mark)),
                None => "nobody speaks of it now".to_owned(),
            }
        )
    }

    /// What became of a claim, in words that stand after its source.
    pub fn claim(&self, slug: &str, id: &str, claim: &ClaimShift) -> String {
        let Some(one) = claim_of(*self, slug, id, claim) else {
            return NOT_HERE.to_owned();
        };
        let words = &one.words;
        match (claim.what, &one.fate) {
            (What::Went, _) => format!("back in the guide since: {words}"),
            (_, Fate::SetAside(reason)) => format!("{words}, set aside: {reason}"),
            (_, Fate::Settling) => format!("{words}, while it was settling in: not weighed"),
            (_, Fate::Akin) => format!("{words}, of a plant akin to it: not weighed"),
            (What::Came, Fate::Weighed) => words.clone(),
            (What::Changed, Fate::Weighed) => format!("now {words}"),
        }
    }

    /// What else can have done it, in words.
    pub fn cause(&self, cause: &Cause) -> String {
        match cause {
            Cause::Forms => "the plant has other growth forms".to_owned(),
            Cause::Rule(file) => format!("{file} says something else"),
            Cause::Source(id) => format!(
                "the source {id} is of another kind or voice, repeats others, or means something else by a word"
            ),
            Cause::Program => "it was weighed by another version of the program".to_owned(),
            Cause::Unknown => {
                "neither a rule nor a source that it cites changed: look at the genus and its names"
                    .to_owned()
            }
        }
    }
}

/// The words of a claim, where the guide still has it.
pub fn claim_words<'a>(
    told: Told<'a>,
    slug: &str,
    trait_id: &str,
    claim: &ClaimShift,
) -> Option<&'a str> {
    claim_of(told, slug, trait_id, claim).map(|one| one.words.as_str())
}

/// A claim, where the guide still has it.
fn claim_of<'a>(
    told: Told<'a>,
    slug: &str,
    trait_id: &str,
    claim: &ClaimShift,
) -> Option<&'a Claim> {
    let plant = told.plant(slug)?;
    let index = told.guide.traits.iter().position(|of| of.id == trait_id)?;
    told.claims.of_plant[plant]
        .get(&index)?
        .iter()
        .map(|id| &told.claims.all[*id])
        .find(|one| one.stamp == claim.stamp && told.guide.sources[one.source].id == claim.source)
}

/// A standing in words; `None` where its forms cannot have the job.
fn word(word: Option<Word>) -> &'static str {
    word.map_or("no job for its form", Word::on_screen)
}

/// An edition by number and day; the guide as it is, in words.
fn named(head: &Head) -> String {
    match head.date {
        Some(date) => format!("edition {} ({date})", head.number),
        None => "the guide as it is".to_owned(),
    }
}

/// Shifts in numbers, as a sentence.
pub fn tally(shifts: &Shifts) -> String {
    let tally = shifts.tally();
    let mut parts = Vec::new();
    if tally.turns + tally.traits > 0 {
        parts.push(format!(
            "{} turned and {} moved, on {}",
            counted(tally.turns, "standing", "standings"),
            counted(tally.traits, "trait", "traits"),
            counted(tally.plants, "plant", "plants"),
        ));
    }
    for (count, what) in [
        (tally.new, "new"),
        (tally.gone, "gone"),
        (tally.renamed, "under another name"),
    ] {
        if count > 0 {
            parts.push(format!("{} {what}", counted(count, "plant", "plants")));
        }
    }
    if parts.is_empty() {
        parts.push("nothing moved of any plant".to_owned());
    }
    let text = parts.join("; ");
    let mut letters = text.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    format!("{first}{}.", letters.as_str())
}

/// What is new or gone of the guide's roles and waters, as sentences.
pub(crate) fn frame(shifts: &Shifts, told: Told<'_>) -> Vec<String> {
    let mut out = Vec::new();
    for (ids, noun, is_new) in [
        (&shifts.new_roles, "job", true),
        (&shifts.new_waters, "kind of tank or pond", true),
        (&shifts.gone_roles, "job", false),
        (&shifts.gone_waters, "kind of tank or pond", false),
    ] {
        for id in ids {
            let title = if noun == "job" {
                told.role(id)
            } else {
                told.water(id)
            };
            let what = if is_new { "A new" } else { "No longer a" };
            out.push(format!("{what} {noun}: {title}."));
        }
    }
    out
}

/// Whether a plant is new, gone or renamed, in words; `None` where it is none of them.
pub(crate) fn whence(plant: &PlantShift, told: Told<'_>) -> Option<String> {
    match &plant.whence {
        Whence::Here => None,
        Whence::New => Some("new in the guide".to_owned()),
        Whence::Gone => {
            let gone = told.guide.gone.iter().find(|gone| gone.slug == plant.slug);
            let because = gone.and_then(|gone| gone.because.as_deref());
            Some(match because {
                Some(because) => format!("gone: {because}"),
                None => "gone from the guide".to_owned(),
            })
        }
        Whence::Renamed { name, .. } => Some(format!("before: {name}")),
    }
}

/// Traits by which a standing turned, in words after it; empty where no claim did it.
pub(crate) fn by(turn: &Turn, told: Told<'_>) -> String {
    if turn.by.is_empty() {
        return String::new();
    }
    let titles: Vec<String> = turn
        .by
        .iter()
        .map(|id| told.trait_title(id).to_lowercase())
        .collect();
    format!(", by {}", titles.join(", "))
}

/// A turn in words: from, to.
pub(crate) fn turned(turn: &Turn) -> (&'static str, &'static str) {
    (word(turn.from), word(turn.to))
}

/// What a trait's grade did overall, in words; `None` where the whole step is in waters alone.
pub(crate) fn overall(of: &TraitShift, told: Told<'_>) -> Option<String> {
    match &of.overall {
        Some(step) => Some(told.step(&of.id, step)),
        None if of.in_water.is_empty() => Some("as before".to_owned()),
        None => None,
    }
}

/// What else can have done it, in one sentence; `None` where nothing but claims changed.
pub(crate) fn causes(plant: &PlantShift, told: Told<'_>) -> Option<String> {
    if plant.causes.is_empty() {
        return None;
    }
    let causes: Vec<String> = plant.causes.iter().map(|cause| told.cause(cause)).collect();
    let is_bare = plant.traits.iter().all(|of| of.claims.is_empty());
    let is_unexplained = plant.turns.iter().any(|turn| turn.by.is_empty())
        || plant.traits.iter().any(|of| of.claims.is_empty());
    let what = if is_bare {
        "No claim that bears on it changed, but"
    } else if is_unexplained {
        "Not all of it is due to claims"
    } else {
        "Beside the claims, this may have done it"
    };
    Some(format!("{what}: {}.", causes.join("; ")))
}

/// Shifts as text for the terminal.
pub fn as_text(shifts: &Shifts, told: Told<'_>) -> String {
    let mut out = vec![
        format!("From {} to {}.", named(&shifts.from), named(&shifts.to)),
        tally(shifts),
    ];
    out.extend(frame(shifts, told));
    for plant in &shifts.plants {
        out.push(String::new());
        let whence = whence(plant, told).map_or_else(String::new, |whence| format!(" ({whence})"));
        out.push(format!("{}{whence}", plant.name));
        out.extend(told.law(&plant.slug).map(|law| format!("  {law}")));
        for turn in &plant.turns {
            let (from, to) = turned(turn);
            out.push(format!(
                "  {} in {}: {from} → {to}{}",
                told.role(&turn.role),
                told.water(&turn.water),
                by(turn, told)
            ));
        }
        for of in &plant.traits {
            let step = overall(of, told).map_or_else(String::new, |step| format!(" {step}"));
            out.push(format!("  {}:{step}", told.trait_title(&of.id)));
            for (water, step) in &of.in_water {
                out.push(format!(
                    "    in {}: {}",
                    told.water(water),
                    told.step(&of.id, step)
                ));
            }
            for claim in &of.claims {
                out.push(format!(
                    "    {:<7} {}: {}",
                    claim.what.word(),
                    claim.source,
                    told.claim(&plant.slug, &of.id, claim)
                ));
            }
        }
        out.extend(causes(plant, told).map(|causes| format!("  {causes}")));
    }
    out.push(String::new());
    out.join("\n")
}

/// Shifts as Markdown for a pull request.
pub fn as_markdown(shifts: &Shifts, told: Told<'_>) -> String {
    let mut out = vec![
        format!(
            "## What moves from {} to {}",
            named(&shifts.from),
            named(&shifts.to)
        ),
        String::new(),
        tally(shifts),
    ];
    let frame = frame(shifts, told);
    if !frame.is_empty() {
        out.push(String::new());
        out.extend(frame.iter().map(|line| format!("- {}", plain(line))));
    }
    for plant in &shifts.plants {
        out.push(String::new());
        out.push(format!("### {}", plain(&plant.name)));
        out.push(String::new());
        let about = whence(plant, told).into_iter().chain(told.law(&plant.slug));
        out.extend(about.map(|line| format!("- {}", plain(&line))));
        for turn in &plant.turns {
            let (from, to) = turned(turn);
            out.push(format!(
                "- **{}** in {}: {from} → **{to}**{}",
                plain(told.role(&turn.role)),
                plain(told.water(&turn.water)),
                plain(&by(turn, told))
            ));
        }
        for of in &plant.traits {
            let step =
                overall(of, told).map_or_else(String::new, |step| format!(" {}", plain(&step)));
            out.push(format!("- {}:{step}", plain(told.trait_title(&of.id))));
            for (water, step) in &of.in_water {
                out.push(format!(
                    "  - in {}: {}",
                    plain(told.water(water)),
                    plain(&told.step(&of.id, step))
                ));
            }
            for claim in &of.claims {
                out.push(format!(
                    "  - {}: `{}`, {}",
                    claim.what.word(),
                    claim.source,
                    plain(&told.claim(&plant.slug, &of.id, claim))
                ));
            }
        }
        out.extend(causes(plant, told).map(|causes| format!("- {}", plain(&causes))));
    }
    out.push(String::new());
    out.join("\n")
}

/// A text in Markdown without any meaning of its own.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\n' | '\r' => out.push(' '),
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '~' | '&' => {
                out.push('\\');
                out.push(c);
            }
            c => out.push(c),
        }
    }
    out
}

/// Shifts as JSON, keys sorted, with a newline at the end.
pub fn as_json(shifts: &Shifts, told: Told<'_>) -> String {
    let tally = shifts.tally();
    let plants: Vec<Json> = shifts
        .plants
        .iter()
        .map(|plant| plant_json(plant, told))
        .collect();
    let json = json!({
        "from": head_json(&shifts.from),
        "to": head_json(&shifts.to),
        "counts": {
            "standings": tally.turns,
            "traits": tally.traits,
            "plants": tally.plants,
            "new": tally.new,
            "gone": tally.gone,
            "renamed": tally.renamed,
        },
        "rules": shifts.rules,
        "sources": shifts.sources,
        "made_with": shifts.made_with,
        "roles": { "new": shifts.new_roles, "gone": shifts.gone_roles },
        "waters": { "new": shifts.new_waters, "gone": shifts.gone_waters },
        "plants": plants,
    });
    let mut text = serde_json::to_string_pretty(&json).unwrap_or_default();
    text.push('\n');
    text
}

fn head_json(head: &Head) -> Json {
    match head.date {
        Some(date) => json!({
            "date": date.to_string(),
            "number": head.number,
            "note": head.note,
        }),
        None => Json::Null,
    }
}

fn plant_json(plant: &PlantShift, told: Told<'_>) -> Json {
    let (is, before) = match &plant.whence {
        Whence::Here => ("here", Json::Null),
        Whence::New => ("new", Json::Null),
        Whence::Gone => ("gone", Json::Null),
        Whence::Renamed { slug, name } => ("renamed", json!({ "slug": slug, "name": name })),
    };
    let claim_json = |id: &str, claim: &ClaimShift| {
        json!({
            "trait": id,
            "source": claim.source,
            "what": claim.what.word(),
            "words": claim_words(told, &plant.slug, id, claim),
        })
    };
    let turns: Vec<Json> = plant
        .turns
        .iter()
        .map(|turn| {
            let claims: Vec<Json> = plant
                .claims_of(turn)
                .map(|(id, claim)| claim_json(id, claim))
                .collect();
            json!({
                "role": turn.role,
                "water": turn.water,
                "from": turn.from.map(Word::id),
                "to": turn.to.map(Word::id),
                "claims": claims,
            })
        })
        .collect();
    let traits: Vec<Json> = plant
        .traits
        .iter()
        .map(|of| {
            let in_water: serde_json::Map<String, Json> = of
                .in_water
                .iter()
                .map(|(water, step)| (water.clone(), step_json(step)))
                .collect();
            let claims: Vec<Json> = of
                .claims
                .iter()
                .map(|claim| claim_json(&of.id, claim))
                .collect();
            json!({
                "trait": of.id,
                "overall": of.overall.as_ref().map(step_json),
                "in_water": in_water,
                "claims": claims,
            })
        })
        .collect();
    let causes: Vec<Json> = plant.causes.iter().map(cause_json).collect();
    json!({
        "slug": plant.slug,
        "name": plant.name,
        "is": is,
        "before": before,
        "law": told.law(&plant.slug),
        "standings": turns,
        "traits": traits,
        "causes": causes,
    })
}

fn step_json(step: &Step) -> Json {
    json!({ "from": step.from.as_ref().map(mark_json), "to": step.to.as_ref().map(mark_json) })
}

fn mark_json(mark: &Mark) -> Json {
    json!({
        "level": mark.level,
        "confidence": mark.confidence.word(),
        "contested": mark.is_contested,
    })
}

fn cause_json(cause: &Cause) -> Json {
    match cause {
        Cause::Forms => json!({ "kind": "forms" }),
        Cause::Rule(file) => json!({ "kind": "rule", "file": file }),
        Cause::Source(id) => json!({ "kind": "source", "source": id }),
        Cause::Program => json!({ "kind": "program" }),
        Cause::Unknown => json!({ "kind": "unknown" }),
    }
}

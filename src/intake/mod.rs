//! Slips and sheets, and how their claims get into the files of a guide.
//!
//! From what was handed in to changed texts of files; nothing but `disk` touches a file.

pub mod disk;

mod dates;

mod insert;

mod moves;

mod part;

mod reading;

mod sheet;

mod slip;

mod trouble;

use std::collections::{BTreeMap, BTreeSet};

use crate::content::scalar::scalar;
use crate::content::yaml::{self, Data};
use crate::content::{Guide, Input, VALUES, is_after};
use crate::diagnostic::{Diagnostic, Severity};
use crate::intake::insert::{Refused, with_claim};
use crate::names::parse::Openness;
use crate::names::{Found, PlantId, Surety};
use crate::quantity::significant;
use crate::schema::editor_comment;
use crate::{Weighed, has_errors, weigh};

use jiff::civil::Date;

pub use dates::DateOrder;
pub use moves::{Move, moves};
pub(crate) use moves::{State, moved, state};
pub use part::Part;
#[cfg(feature = "sheets")]
pub use sheet::xlsx_table;
pub use sheet::{Table, csv_table, sheet, unread};
pub use slip::{Slip, slips};
pub use trouble::Trouble;

/// A file of the guide with its text before and after.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// Path below the guide's folder.
    pub path: String,
    /// Text before; none where the file is new.
    pub before: Option<String>,
    /// Text after.
    pub after: String,
}

/// A claim that is to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Added {
    /// The slip: its number among all.
    pub slip: usize,
    /// The plant, or the loose name, that it speaks of.
    pub subject: String,
    /// Its file.
    pub path: String,
    /// Its line there, from 1.
    pub line: u32,
    /// The claim on one line.
    pub claim: String,
}

/// What entering slips comes to.
#[derive(Debug, Clone, Default)]
pub struct Entered {
    /// The changed files, sorted by path.
    pub edits: Vec<Edit>,
    /// The claims in them, in the order of the slips.
    pub added: Vec<Added>,
    /// Slips whose claims stand in the guide already.
    pub already: Vec<usize>,
    /// Places of slips that say what an earlier one says, with its place; they are written once.
    pub twice: Vec<(String, String)>,
    /// What is unclear, in the order of the slips; a slip with a trouble is not among `added`.
    pub troubles: Vec<Trouble>,
    /// Plants that the added claims speak of.
    pub plants: Vec<String>,
}

/// A slip with everything resolved.
struct Ready {
    slip: usize,
    path: String,
    subject: String,
    plants: Vec<PlantId>,
    /// The accepted name; of a loose name, its genus.
    accepted: String,
    claim: Part,
}

/// Works out where the claims of slips go, and the texts of the files with them.
///
/// `input` is the guide without errors that was `weighed`; `source` stands where a slip names
/// none, and nothing can have been seen after the day `latest`. A slip that is unclear or can
/// hardly be right is left out and has its troubles; a claim that says the same of the same plant
/// by the same source is not added twice.
pub fn entered(
    input: &Input,
    weighed: &Weighed,
    slips: &[Slip],
    source: Option<&str>,
    latest: Option<Date>,
) -> Entered {
    let judge = |edits: &[Edit]| weigh(&with(input, edits)).1;
    entered_by(input, weighed, slips, source, latest, &judge)
}

/// Whether a fault keeps a claim from being written. A figure that can hardly be right is let
/// stand by who reads the entry; who has just typed it can look again.
fn is_in_the_way(fault: &Diagnostic) -> bool {
    fault.severity == Severity::Error || matches!(fault.rule, "unlikely-value" | "short-period")
}

/// The same, with another way to find the faults of a guide with edits than to weigh it anew.
pub(crate) fn entered_by(
    input: &Input,
    weighed: &Weighed,
    slips: &[Slip],
    source: Option<&str>,
    latest: Option<Date>,
    judge: &dyn Fn(&[Edit]) -> Vec<Diagnostic>,
) -> Entered {
    let mut out = Entered::default();
    let mut known = Known::default();
    let mut ready: Vec<Ready> = Vec::new();
    // Slips that say what an earlier one says.
    let mut again: BTreeMap<usize, usize> = BTreeMap::new();
    // What may not be written, and is read on, so that all its troubles are told.
    let mut bad: BTreeSet<usize> = BTreeSet::new();
    for (at, slip) in slips
        .iter()
        .enumerate()
        .filter(|(_, slip)| !slip.is_unread())
    {
        if let Some(trouble) = latest.and_then(|latest| after(slip, latest)) {
            out.troubles.push(trouble.of(at, &slip.place));
            bad.insert(at);
        }
        match resolved(at, slip, weighed, source) {
            Err(troubles) => out.troubles.extend(
                troubles
                    .into_iter()
                    .map(|trouble| trouble.of(at, &slip.place)),
            ),
            Ok(one) => match known.add(input, weighed, &one) {
                None => ready.push(one),
                Some(Earlier::Guide) => out.already.push(at),
                // Judged as the first is; which of them is written is known then.
                Some(Earlier::Slip(first)) => {
                    again.insert(at, first);
                    ready.push(one);
                }
            },
        }
    }
    // Once with all of them, to let the guide's own reader judge each; then the sound ones.
    let first = texts(input, &ready);
    for (slip, refused, path) in &first.refused {
        let trouble = match refused {
            Refused::Braces => Trouble::braces(path),
            Refused::Unreadable | Refused::NoWay => Trouble::no_way(path),
        };
        out.troubles.push(trouble.of(*slip, &slips[*slip].place));
        bad.insert(*slip);
    }
    let faults = judge(&first.edits);
    for fault in faults.iter().filter(|fault| is_in_the_way(fault)) {
        if let Some(trouble) = blamed(fault, &first, slips) {
            bad.insert(trouble.slip);
            if !is_echo(fault, &slips[trouble.slip]) {
                out.troubles.push(trouble);
            }
        }
    }
    out.troubles.sort_by_key(|trouble| trouble.slip);
    out.troubles.dedup();
    again.retain(|at, first| !bad.contains(at) && !bad.contains(first));
    for (at, first) in &again {
        let place = |at: usize| slips[at].place.clone();
        out.twice.push((place(*at), place(*first)));
    }
    ready.retain(|one| !bad.contains(&one.slip) && !again.contains_key(&one.slip));
    let sound = if bad.is_empty() && again.is_empty() {
        first
    } else {
        texts(input, &ready)
    };
    let mut plants: Vec<PlantId> = ready.iter().flat_map(|one| one.plants.clone()).collect();
    plants.sort_unstable();
    plants.dedup();
    out.plants = plants
        .into_iter()
        .map(|plant| weighed.names.plants[plant].slug.clone())
        .collect();
    out.added = sound.added.into_iter().map(|(added, _)| added).collect();
    out.edits = sound.edits;
    out
}

/// A guide's files with edits made.
pub fn with(input: &Input, edits: &[Edit]) -> Input {
    let mut files: BTreeMap<String, Vec<u8>> = input.files.iter().cloned().collect();
    for edit in edits {
        files.insert(edit.path.clone(), edit.after.clone().into_bytes());
    }
    Input {
        files: files.into_iter().collect(),
        unread: input.unread.clone(),
    }
}

/// The guide with edits, weighed; the faults where it then has errors.
pub fn weighed_with(input: &Input, edits: &[Edit]) -> Result<Weighed, Vec<Diagnostic>> {
    let (weighed, faults) = weigh(&with(input, edits));
    match weighed.filter(|_| !has_errors(&faults)) {
        Some(weighed) => Ok(weighed),
        None => Err(faults),
    }
}

/// Finds the plant, the trait and the source that a slip means, and puts its claim together.
fn resolved(
    at: usize,
    slip: &Slip,
    weighed: &Weighed,
    source: Option<&str>,
) -> Result<Ready, Vec<Trouble>> {
    let guide = &weighed.guide;
    let mut troubles = Vec::new();
    let target = target(slip, weighed)
        .map_err(|trouble| troubles.extend(trouble))
        .ok();
    let of = sheet::trait_of(guide, &slip.of);
    if of.is_none() && !slip.of.trim().is_empty() {
        let ids: Vec<String> = guide.traits.iter().map(|of| of.id.clone()).collect();
        troubles.push(Trouble::unknown(
            slip.column("trait"),
            "trait",
            &slip.of,
            &near(&slip.of, &ids),
        ));
    }
    let by = match slip.source.as_deref().or(source) {
        None => {
            let ids: Vec<String> = guide.sources.iter().map(|of| of.id.clone()).collect();
            troubles.push(Trouble::no_source(&ids));
            None
        }
        Some(wanted) => {
            let folded = wanted.trim().to_lowercase();
            let found = guide
                .sources
                .iter()
                .find(|of| of.id == folded || of.title.to_lowercase() == folded);
            if found.is_none() {
                let ids: Vec<String> = guide
                    .sources
                    .iter()
                    .flat_map(|of| [of.id.clone(), of.title.clone()])
                    .collect();
                troubles.push(Trouble::unknown(
                    slip.column("source"),
                    "source",
                    wanted,
                    &near(wanted, &ids),
                ));
            }
            found
        }
    };
    let (Some((path, subject, plants, accepted)), Some(of), Some(by)) = (target, of, by) else {
        return Err(troubles);
    };
    if !troubles.is_empty() {
        return Err(troubles);
    }
    if let Some(key) = given_twice(&slip.keys) {
        return Err(vec![Trouble::given_twice(slip.column(key), key)]);
    }
    let mut entries = vec![
        ("trait".to_owned(), Part::text(&guide.traits[of].id)),
        ("source".to_owned(), Part::text(&by.id)),
    ];
    let used = slip.plant.trim();
    if used != accepted && !slip.keys.iter().any(|(key, _)| key == "as") {
        entries.push(("as".to_owned(), Part::text(used)));
    }
    entries.extend(slip.keys.iter().cloned());
    Ok(Ready {
        slip: at,
        path,
        subject,
        plants,
        accepted,
        claim: Part::Map(entries),
    })
}

/// A key that stands twice among some, or in a map below them.
fn given_twice(entries: &[(String, Part)]) -> Option<&str> {
    let again = entries.iter().enumerate().find_map(|(at, (key, _))| {
        let before = entries[..at].iter().any(|(other, _)| other == key);
        before.then_some(key.as_str())
    });
    again.or_else(|| {
        entries.iter().find_map(|(_, part)| match part {
            Part::Map(below) => given_twice(below),
            _ => None,
        })
    })
}

/// A slip on what was seen after a day.
fn after(slip: &Slip, latest: Date) -> Option<Trouble> {
    let seen = slip.keys.iter().find(|(key, _)| key == "seen");
    match seen {
        Some((_, Part::Text(date))) if is_after(date, latest) => {
            Some(Trouble::not_yet(slip.column("seen"), date))
        }
        _ => None,
    }
}

type Target = (String, String, Vec<PlantId>, String);

/// The file of the plant or of the loose name, what it is of, and the accepted name.
fn target(slip: &Slip, weighed: &Weighed) -> Result<Target, Option<Trouble>> {
    let (guide, names) = (&weighed.guide, &weighed.names);
    let wanted = slip.plant.trim();
    let name_of = |plant: &PlantId| names.plants[*plant].name.clone();
    let column = |mut trouble: Trouble| {
        trouble.column = Some(slip.column("plant").to_owned());
        Some(trouble)
    };
    if wanted.is_empty() {
        return Err(None);
    }
    let exact = |plant: PlantId| {
        let name = &names.plants[plant];
        let file = guide.plants[name.entry].file.clone();
        Ok((file, name.name.clone(), vec![plant], name.name.clone()))
    };
    // The full name of an entry is that entry, also where it is a loose name besides.
    if let Some(plant) = names.plants.iter().position(|plant| plant.name == wanted) {
        return exact(plant);
    }
    match names.find(wanted) {
        Found::Plant(plant, Surety::Exact) => exact(plant),
        Found::Plant(plant, _) => Err(column(Trouble::doubtful_plant(wanted, &name_of(&plant)))),
        Found::Several(plants) => {
            let plants: Vec<String> = plants.iter().map(name_of).collect();
            Err(column(Trouble::several_plants(wanted, &plants)))
        }
        Found::Loose { genus, plants, .. } => {
            let folder = &guide.genera[genus].folder;
            let title = names.genera[genus].clone();
            let path = format!("content/plants/{folder}/genus.yaml");
            let subject = format!("{wanted}, a loose name");
            // Among the claims on a genus, the name used says which of its plants are meant.
            Ok((path, subject, plants, title))
        }
        Found::Nothing { near, .. } => Err(column(Trouble::unknown_plant(wanted, &near))),
    }
}

/// Words near to one that is not known, nearest first.
fn near(word: &str, words: &[String]) -> Vec<String> {
    let folded = word.to_lowercase();
    let mut found: Vec<(usize, &String)> = words
        .iter()
        .filter_map(|other| {
            let lower = other.to_lowercase();
            let distance = strsim::osa_distance(&folded, &lower);
            let is_near = distance <= folded.chars().count().max(lower.chars().count()) / 3;
            let is_part = folded.len() >= 3 && lower.contains(&folded);
            (is_near || is_part).then_some((distance, other))
        })
        .collect();
    found.sort();
    found
        .into_iter()
        .take(5)
        .map(|(_, word)| word.clone())
        .collect()
}

/// Files with claims put in, and where each claim then stands.
struct Texts {
    edits: Vec<Edit>,
    added: Vec<(Added, u32)>,
    refused: Vec<(usize, Refused, String)>,
}

fn texts(input: &Input, ready: &[Ready]) -> Texts {
    let mut now: BTreeMap<&str, String> = BTreeMap::new();
    let mut out = Texts {
        edits: Vec::new(),
        added: Vec::new(),
        refused: Vec::new(),
    };
    for one in ready {
        let text = now.get(one.path.as_str()).cloned().unwrap_or_else(|| {
            // Only the file of a loose name can be missing here.
            let new = || {
                let body = format!("loose-name: {}\n", scalar(&one.accepted));
                new_file(input, one.path.clone(), &body).after
            };
            input.text(&one.path).map_or_else(new, str::to_owned)
        });
        match with_claim(&text, &one.claim) {
            Ok(inserted) => {
                out.added.push((
                    Added {
                        slip: one.slip,
                        subject: one.subject.clone(),
                        path: one.path.clone(),
                        line: inserted.line,
                        claim: one.claim.on_one_line(),
                    },
                    inserted.lines,
                ));
                now.insert(&one.path, inserted.text);
            }
            Err(refused) => out.refused.push((one.slip, refused, one.path.clone())),
        }
    }
    out.edits = now
        .into_iter()
        .map(|(path, after)| Edit {
            path: path.to_owned(),
            before: input.text(path).map(str::to_owned),
            after,
        })
        .collect();
    out
}

/// Whether a fault only says again that the slip's `value` could not be read, which was told then.
fn is_echo(fault: &Diagnostic, slip: &Slip) -> bool {
    let of_value = |key: &String| key == "value";
    let is_left = slip.keys.iter().any(|(key, _)| of_value(key));
    let is_column = slip.columns.iter().any(|(key, _)| of_value(key));
    let has_value = slip
        .keys
        .iter()
        .any(|(key, _)| VALUES.contains(&key.as_str()));
    match fault.rule {
        "claim-values" => !has_value && (is_left || is_column),
        "unknown-key" => is_left && fault.title.contains("`value`"),
        _ => false,
    }
}

/// The slip whose claim a fault is about.
fn blamed(fault: &Diagnostic, texts: &Texts, slips: &[Slip]) -> Option<Trouble> {
    let (added, _) = texts.added.iter().find(|(added, lines)| {
        added.path == *fault.place.file
            && (added.line..added.line + lines).contains(&fault.place.line)
    })?;
    let slip = &slips[added.slip];
    // The key of the claim in whose value the fault lies.
    let edit = texts.edits.iter().find(|edit| edit.path == added.path)?;
    let start = edit.after.get(..fault.place.start)?.rfind('\n');
    let start = start.map_or(0, |at| at + 1);
    // A fault that starts at a key is about that key.
    let end = fault.place.start.max(fault.place.end).min(edit.after.len());
    let line = edit
        .after
        .get(start..end + 2)
        .or_else(|| edit.after.get(start..end))?;
    let key = slip
        .keys
        .iter()
        .map(|(key, _)| key.as_str())
        .chain(["trait", "source"])
        .filter_map(|key| Some((line.rfind(&format!("{key}: "))?, key)))
        .max();
    let column = key.map(|(_, key)| slip.column(key).to_owned());
    let title = match &fault.label {
        Some(label) => format!("{} ({label})", fault.title),
        None => fault.title.clone(),
    };
    let help = match &fault.hint {
        _ if fault.severity == Severity::Warning => {
            "look at the units, the decimal point and the dates; if it is right, add the claim by hand"
                .to_owned()
        }
        Some(hint) => hint.clone(),
        None => "mend it".to_owned(),
    };
    Some(Trouble::fault(column.as_deref(), &title, &help).of(added.slip, &slip.place))
}

/// Where a claim stands already.
#[derive(Clone, Copy)]
enum Earlier {
    Guide,
    Slip(usize),
}

/// Claims that stand already, by their file and what they say.
#[derive(Default)]
struct Known {
    read: BTreeSet<String>,
    says: BTreeMap<(String, String), Earlier>,
}

impl Known {
    /// Adds a claim, unless it stands already in the file it would go to, in its source's own, or
    /// among the slips.
    fn add(&mut self, input: &Input, weighed: &Weighed, one: &Ready) -> Option<Earlier> {
        if self.read.insert(one.path.clone()) {
            for claim in claims_in(input, &one.path) {
                let says = (one.path.clone(), meaning(&claim, None, weighed));
                self.says.insert(says, Earlier::Guide);
            }
        }
        let Part::Map(entries) = &one.claim else {
            return None;
        };
        let source = entries
            .iter()
            .find_map(|(key, part)| match (key.as_str(), part) {
                ("source", Part::Text(id)) => Some(id.as_str()),
                _ => None,
            });
        if let Some(source) = source {
            let path = format!("content/sources/{source}.yaml");
            if self.read.insert(path.clone()) {
                for claim in claims_in(input, &path) {
                    if let Some(home) = home_of(&claim, weighed) {
                        let says = (home, meaning(&claim, Some(source), weighed));
                        self.says.insert(says, Earlier::Guide);
                    }
                }
            }
        }
        let says = (one.path.clone(), meaning(&one.claim, None, weighed));
        let earlier = self.says.get(&says).copied();
        if earlier.is_none() {
            self.says.insert(says, Earlier::Slip(one.slip));
        }
        earlier
    }
}

fn claims_in(input: &Input, path: &str) -> Vec<Part> {
    let Some(text) = input.text(path) else {
        return Vec::new();
    };
    let Ok(node) = yaml::parse(&path.into(), text) else {
        return Vec::new();
    };
    let Data::Map(entries) = node.data else {
        return Vec::new();
    };
    entries
        .iter()
        .find(|(key, _)| key.text == "claims")
        .map_or_else(Vec::new, |(_, node)| match Part::of(node) {
            Part::List(claims) => claims,
            _ => Vec::new(),
        })
}

/// The file that a claim of a source's own file would stand in, if it stood with its plant.
fn home_of(claim: &Part, weighed: &Weighed) -> Option<String> {
    let Part::Map(entries) = claim else {
        return None;
    };
    let name = entries
        .iter()
        .find_map(|(key, part)| match (key.as_str(), part) {
            ("plant", Part::Text(name)) => Some(name.as_str()),
            _ => None,
        })?;
    let slip = Slip {
        plant: name.to_owned(),
        ..Slip::unread("")
    };
    target(&slip, weighed).ok().map(|(path, ..)| path)
}

/// What a claim says, in one way of writing it: keys in order, blanks and zeros that mean nothing
/// left out. Remarks and quotations are not what it says; the name that was used is, where it
/// leaves open which plant was meant.
fn meaning(claim: &Part, source: Option<&str>, weighed: &Weighed) -> String {
    let is_said = |key: &str, part: &Part| match (key, part) {
        ("remark" | "quote" | "plant", _) => false,
        ("as", Part::Text(name)) => {
            !matches!(weighed.names.find(name), Found::Plant(_, Surety::Exact))
        }
        _ => true,
    };
    fn plain(part: &Part, is_said: &dyn Fn(&str, &Part) -> bool) -> Part {
        match part {
            Part::Text(text) => Part::Text(measure(text).unwrap_or_else(|| {
                let words: Vec<String> = text.split_whitespace().map(number).collect();
                words.join(" ")
            })),
            Part::List(items) => {
                Part::List(items.iter().map(|item| plain(item, is_said)).collect())
            }
            Part::Map(entries) => {
                let mut entries: Vec<(String, Part)> = entries
                    .iter()
                    .filter(|(key, part)| is_said(key, part))
                    .map(|(key, part)| (key.clone(), plain(part, is_said)))
                    .collect();
                entries.sort_by(|a, b| a.0.cmp(&b.0));
                Part::Map(entries)
            }
        }
    }
    let mut claim = claim.clone();
    if let (Some(source), Part::Map(entries)) = (source, &mut claim) {
        entries.push(("source".to_owned(), Part::text(source)));
    }
    plain(&claim, &is_said).on_one_line()
}

/// A quantity or a span in the base unit, so that 20 d and 20.0 days are one.
fn measure(text: &str) -> Option<String> {
    let span = crate::quantity::span(text.trim()).ok()?;
    let end = |end: Option<f64>| {
        end.map_or_else(String::new, |end| {
            significant(crate::content::base_value(end, &span.unit), 9)
        })
    };
    let thing = span.unit.thing.unwrap_or_default();
    let of = span.unit.dimension.noun();
    Some(format!(
        "{}..{} {of} {thing}",
        end(span.low),
        end(span.high)
    ))
}

/// A number without zeros that mean nothing; any other word as it is.
fn number(word: &str) -> String {
    match word.split_once('.') {
        Some((whole, part))
            if !whole.is_empty()
                && part.bytes().all(|b| b.is_ascii_digit())
                && whole.bytes().all(|b| b.is_ascii_digit()) =>
        {
            let part = part.trim_end_matches('0');
            if part.is_empty() {
                whole.to_owned()
            } else {
                format!("{whole}.{part}")
            }
        }
        _ => word.to_owned(),
    }
}

/// A file that is to be made. It is tied to its schema where the guide's own file is.
fn new_file(input: &Input, path: String, body: &str) -> Edit {
    let about = "content/guide.yaml";
    let first = input.text(about).and_then(|text| text.lines().next());
    let is_tied = first.is_some_and(|first| Some(first) == editor_comment(about).as_deref());
    let tie = editor_comment(&path).filter(|_| is_tied);
    let tie = tie.map_or_else(String::new, |comment| format!("{comment}\n"));
    Edit {
        path,
        before: None,
        after: format!("{tie}{body}"),
    }
}

/// The file of a new source.
pub fn new_source(input: &Input, id: &str, title: &str, kind: &str) -> Edit {
    let body = format!("title: {}\nkind: {}\n", scalar(title), scalar(kind));
    new_file(input, format!("content/sources/{id}.yaml"), &body)
}

/// The file of a new plant. Errors: the name is none of one plant, or the guide has it; in words,
/// with what to do.
pub fn new_plant(
    input: &Input,
    weighed: &Weighed,
    name: &str,
    forms: &[String],
) -> Result<Edit, String> {
    let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
    let names = &weighed.names;
    let parsed = crate::names::parse::parse(&name);
    if parsed.doubt() != Openness::None {
        return Err(format!(
            "`{name}` leaves it in doubt which plant it is\n  hint: make the entry once it is known; till then a claim can stand under the loose name"
        ));
    }
    let bare = parsed.canonical.clone().unwrap_or_else(|| name.clone());
    let found = match names.find(&name) {
        Found::Nothing { .. } => names.find(&bare),
        found => found,
    };
    let known = match found {
        Found::Loose {
            row: Some(_),
            genus,
            ..
        } => {
            return Err(format!(
                "`{name}` is a loose name in content/plants/{}/genus.yaml, and covers several plants\n  hint: leave `--new-plant` out, and the claim goes there; or take the name out of that file first",
                weighed.guide.genera[genus].folder
            ));
        }
        Found::Plant(plant, _) => Some(names.plants[plant].name.clone()),
        Found::Several(plants) => {
            let all: Vec<&str> = plants
                .iter()
                .map(|id| names.plants[*id].name.as_str())
                .collect();
            Some(all.join("`, `"))
        }
        Found::Loose { .. } | Found::Nothing { .. } => None,
    };
    if let Some(known) = known {
        return Err(format!(
            "the guide has `{name}` already: `{known}`\n  hint: leave `--new-plant` out, and the claim goes into its entry"
        ));
    }
    if name.starts_with(|c: char| c.is_lowercase()) {
        return Err(format!(
            "`{name}` starts with a small letter\n  hint: write the genus with a capital, as botanical names are"
        ));
    }
    let no_name = || {
        format!(
            "`{name}` is no name of one plant\n  hint: write its full botanical name, such as `Bolbitis heudelotii`"
        )
    };
    let genus = parsed.genus.ok_or_else(no_name)?;
    let genus = crate::names::slug::slug(&genus);
    let slug = crate::names::slug::slug(&name);
    let rest = slug.strip_prefix(&genus).ok_or_else(no_name)?;
    let rest = rest.trim_matches('-');
    let file = if rest.is_empty() { &genus } else { rest };
    // A file may have been named for another plant.
    let path = (1..)
        .map(|n| match n {
            1 => format!("content/plants/{genus}/{file}.yaml"),
            n => format!("content/plants/{genus}/{file}-{n}.yaml"),
        })
        .find(|path| input.text(path).is_none())
        .ok_or_else(no_name)?;
    let forms = match forms {
        [one] => scalar(one),
        several => Part::List(several.iter().map(Part::text).collect()).on_one_line(),
    };
    let body = format!("name: {}\nform: {forms}\n", scalar(&name));
    Ok(new_file(input, path, &body))
}

/// Names of the guide that are spelled almost as a new one is.
pub fn almost(weighed: &Weighed, name: &str) -> Vec<String> {
    let wanted = crate::names::slug::key(name);
    let mut near = weighed.names.near(name);
    near.retain(|other| strsim::osa_distance(&wanted, &crate::names::slug::key(other)) <= 2);
    near
}

/// Whether a word can be the id of a new source: of its letters, and not taken.
pub fn is_new_id(guide: &Guide, id: &str) -> bool {
    crate::content::is_id(id) && !guide.sources.iter().any(|source| source.id == id)
}

/// The source that has a title already, by its id: under a second id it would be heard twice.
pub fn source_titled<'a>(guide: &'a Guide, title: &str) -> Option<&'a str> {
    let folded = |title: &str| {
        title
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .to_lowercase()
    };
    let found = guide
        .sources
        .iter()
        .find(|source| folded(&source.title) == folded(title));
    found.map(|source| source.id.as_str())
}

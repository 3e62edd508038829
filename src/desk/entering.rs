//! An observation from the desk's form: read against the guide, tried, and written.

use jiff::civil::Date;

use crate::content::{Guide, Input};
use crate::desk::forme::{Change, Forme, Now};
use crate::diagnostic::{Diagnostic, Severity};
use crate::intake::{
    Added, Edit, Move, Table, Trouble, entered_by, is_new_id, moved, new_source, sheet,
    source_titled, state,
};
use crate::names::slug::slug;

/// What the form holds: (name, text) of each field, in order.
pub(crate) type Fields = Vec<(String, String)>;

/// A field's text, trimmed; empty where it is not there.
pub(crate) fn field<'a>(fields: &'a Fields, name: &str) -> &'a str {
    let found = fields.iter().find(|(of, _)| of == name);
    found.map_or("", |(_, text)| text.trim())
}

/// The `source` that stands for one that is to be made.
pub(crate) const NEW: &str = "+new";

/// Longest text of a field. Our choice: a page of prose; names are compared with every name of
/// the guide, and these are far shorter.
const MOST_TEXT: usize = 4000;

/// Longest title of a new source. Our choice: its file is named after it.
const MOST_TITLE: usize = 80;

/// Columns of a sheet that the form has fields for, by the same names.
const COLUMNS: [&str; 12] = [
    "plant",
    "trait",
    "value",
    "source",
    "date",
    "remark",
    "as",
    "at",
    "tank",
    "stage",
    "quote",
    "conditions",
];

/// What an observation would come to.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tried {
    /// What is unclear: field, what, and what to do.
    pub(crate) troubles: Vec<(String, String, String)>,
    /// Where the claim would stand.
    pub(crate) added: Option<Added>,
    /// The guide says the same already.
    pub(crate) is_there: bool,
    /// The files to write.
    pub(crate) edits: Vec<Edit>,
    /// What would move.
    pub(crate) moves: Vec<Move>,
    /// Page addresses of the plants that it speaks of.
    pub(crate) plants: Vec<String>,
}

/// The fields as a sheet of one row, which is read as any other sheet.
fn table(fields: &Fields, source: &str) -> Table {
    let conditions: Vec<String> = fields
        .iter()
        .filter_map(|(name, text)| {
            let id = name.strip_prefix("where-")?;
            let text = text.trim();
            (!text.is_empty()).then(|| format!("{id}={text}"))
        })
        .collect();
    let mut heads = Vec::new();
    let mut cells = Vec::new();
    for column in COLUMNS {
        let text = match column {
            "conditions" => conditions.join("; "),
            "source" => source.to_owned(),
            other => field(fields, other).to_owned(),
        };
        if !text.is_empty() || matches!(column, "plant" | "trait" | "value") {
            heads.push(column.to_owned());
            cells.push(text);
        }
    }
    vec![heads, cells]
}

/// An id for a source whose title has no Latin letter or digit.
fn new_id(guide: &Guide) -> String {
    let mut ids = (1..).map(|n| format!("source-{n}"));
    ids.find(|id| is_new_id(guide, id)).unwrap_or_default()
}

/// The source that the form asks to be made.
fn source_to_make(
    fields: &Fields,
    forme: &Forme,
) -> Result<Option<Edit>, (String, String, String)> {
    let title = field(fields, "source-title");
    let is_asked = field(fields, "source") == NEW;
    let Some(weighed) = forme.weighed().filter(|_| is_asked) else {
        if !is_asked && !title.is_empty() {
            return Err((
                "source-title".to_owned(),
                "a source is chosen, and a new one is named".to_owned(),
                "choose the new source in the list, or leave its title out".to_owned(),
            ));
        }
        return Ok(None);
    };
    let kind = field(fields, "source-kind");
    let trouble =
        |of: &str, what: &str, help: &str| Err((of.to_owned(), what.to_owned(), help.to_owned()));
    let id = match slug(title) {
        id if id.is_empty() && !title.is_empty() => new_id(&weighed.guide),
        id => id,
    };
    if title.chars().count() > MOST_TITLE {
        return trouble(
            "source-title",
            "the title is long",
            "say it in 80 letters or fewer",
        );
    }
    if title.is_empty() {
        return trouble(
            "source-title",
            "the new source has no title",
            "write whose log, note or list it is",
        );
    }
    if source_titled(&weighed.guide, title).is_some() {
        return trouble(
            "source-title",
            "there is a source of that title",
            "choose it from the list: under a second name it would be heard twice",
        );
    }
    if !is_new_id(&weighed.guide, &id) {
        return trouble(
            "source-title",
            "there is a source of that name",
            "choose it from the list, or write another title",
        );
    }
    if !weighed.guide.weights.kinds.contains_key(kind) {
        return trouble(
            "source-kind",
            "the new source has no kind",
            "choose what kind of source it is",
        );
    }
    Ok(Some(new_source(forme.input(), &id, title, kind)))
}

/// Reads an observation and tries it on the guide; afterwards the guide is as it was.
pub(crate) fn tried(fields: &Fields, forme: &mut Forme, latest: Date) -> Tried {
    let mut out = Tried::default();
    let is_long = |text: &str| text.chars().count() > MOST_TEXT;
    if let Some((name, _)) = fields.iter().find(|(_, text)| is_long(text)) {
        let what = format!("more than {MOST_TEXT} letters");
        out.troubles
            .push((name.clone(), what, "say it in fewer".to_owned()));
        return out;
    }
    let parted = fields
        .iter()
        .find(|(name, text)| name.starts_with("where-") && text.contains([';', '\n', ',']));
    if let Some((_, text)) = parted {
        let what = format!("`{}` is no one value of a condition", text.trim());
        let help = "write a level, a word, or a span such as `20..24 C`";
        out.troubles
            .push(("conditions".to_owned(), what, help.to_owned()));
        return out;
    }
    let new = match source_to_make(fields, forme) {
        Ok(new) => new,
        Err(trouble) => {
            out.troubles.push(trouble);
            None
        }
    };
    let with_source = new.iter().cloned().collect::<Vec<Edit>>();
    put(forme, &with_source, |edit| Some(&edit.after));
    read(fields, forme, new.as_ref(), latest, &mut out);
    if out.troubles.is_empty() && !out.edits.is_empty() {
        try_out(forme, &mut out);
    }
    put(forme, &with_source, |edit| edit.before.as_ref());
    if !out.edits.is_empty() {
        out.edits.splice(0..0, with_source);
    }
    out
}

fn read(fields: &Fields, forme: &Forme, new: Option<&Edit>, latest: Date, out: &mut Tried) {
    let Some(weighed) = forme.weighed() else {
        let what = "the guide has errors".to_owned();
        out.troubles
            .push((String::new(), what, "mend them first".to_owned()));
        return;
    };
    let source = match new {
        Some(edit) => id_of(edit),
        None if field(fields, "source") == NEW => "",
        None => field(fields, "source"),
    };
    let table = table(fields, source);
    let (slips, troubles) = sheet(&table, "form", &weighed.guide, None, true);
    out.troubles.extend(troubles.iter().map(in_form));
    if source.is_empty() && field(fields, "source") != NEW {
        out.troubles.push((
            "source".to_owned(),
            "it does not say whose observation this is".to_owned(),
            "choose a source, or make a new one".to_owned(),
        ));
    }
    if !out.troubles.is_empty() {
        return;
    }
    let judge = |edits: &[Edit]| -> Vec<Diagnostic> {
        let of_edit = |edit: &Edit| forme.faults_with(&edit.path, &edit.after);
        edits.iter().flat_map(of_edit).collect()
    };
    let entered = entered_by(forme.input(), weighed, &slips, None, Some(latest), &judge);
    out.troubles.extend(entered.troubles.iter().map(in_form));
    out.is_there = !entered.already.is_empty();
    out.added = entered.added.into_iter().next();
    out.edits = entered.edits;
    out.plants = entered.plants;
}

fn id_of(edit: &Edit) -> &str {
    let name = edit.path.rsplit('/').next().unwrap_or_default();
    name.trim_end_matches(".yaml")
}

/// Makes the edits, says what moved, and takes them back.
fn try_out(forme: &mut Forme, out: &mut Tried) {
    let states = |forme: &Forme, plants: &[String]| -> Vec<_> {
        let state_of = |slug: &String| forme.weighed().and_then(|weighed| state(weighed, slug));
        plants.iter().map(state_of).collect()
    };
    let before = states(forme, &out.plants);
    put(forme, &out.edits, |edit| Some(&edit.after));
    let after = states(forme, &out.plants);
    let errors: Vec<Diagnostic> = forme
        .faults()
        .into_iter()
        .filter(|fault| fault.severity == Severity::Error)
        .collect();
    put(forme, &out.edits, |edit| edit.before.as_ref());
    if let Some(error) = errors.first() {
        let help = error.hint.clone().unwrap_or_default();
        out.troubles
            .push((String::new(), error.title.clone(), help));
        out.edits.clear();
        return;
    }
    for (before, after) in before.iter().zip(&after) {
        if let Some(after) = after {
            out.moves.extend(moved(before.as_ref(), after));
        }
    }
}

/// Sets files of the guide on the desk, not on the disk.
fn put(forme: &mut Forme, edits: &[Edit], text: impl Fn(&Edit) -> Option<&String>) {
    let changes: Vec<Change> = edits
        .iter()
        .map(|edit| Change {
            path: edit.path.clone(),
            now: text(edit).map_or(Now::Gone, |text| Now::Bytes(text.clone().into_bytes())),
        })
        .collect();
    if !changes.is_empty() {
        forme.change(changes);
    }
}

/// A trouble of a sheet in the words of the form.
fn in_form(trouble: &Trouble) -> (String, String, String) {
    let of = trouble.column.clone().unwrap_or_default();
    // Options of the command line are none of the form's.
    let help = match of.as_str() {
        _ if !trouble.help.contains("`--") => trouble.help.clone(),
        "plant" => "check the spelling, or choose a name from the list".to_owned(),
        "date" => "write year-month-day, such as 2025-05-01".to_owned(),
        _ => "choose one from the list".to_owned(),
    };
    let of = if of.starts_with("where") {
        "conditions".to_owned()
    } else {
        of
    };
    (of, trouble.title.clone(), help)
}

/// The accepted name of the plant whose page is at `plants/SLUG/`.
pub(crate) fn name_of(slug: &str, forme: &Forme) -> Option<String> {
    let plants = &forme.weighed()?.names.plants;
    let plant = plants.iter().find(|plant| plant.slug == slug)?;
    Some(plant.name.clone())
}

/// Up to so many names of plants that have each word of `wanted` in them, with the accepted name.
pub(crate) fn names(wanted: &str, forme: &Forme, most: usize) -> Vec<(String, String)> {
    let Some(weighed) = forme.weighed() else {
        return Vec::new();
    };
    let folded = crate::names::slug::key(wanted);
    let words: Vec<&str> = folded.split_whitespace().collect();
    if words.is_empty() {
        return Vec::new();
    }
    let mut found: Vec<(usize, &str, String)> = Vec::new();
    let look = |name: &str, whom: &dyn Fn() -> String| -> Option<(usize, String)> {
        let key = crate::names::slug::key(name);
        if !words.iter().all(|word| key.contains(word)) {
            return None;
        }
        // Names that start so stand first.
        let starts = key
            .split_whitespace()
            .any(|part| part.starts_with(words[0]));
        let rank = match (key.starts_with(&folded), starts) {
            (true, _) => 0,
            (_, true) => 1,
            _ => 2,
        };
        Some((rank, whom()))
    };
    for plant in &weighed.names.plants {
        let entry = &weighed.guide.plants[plant.entry];
        for name in entry.all_names() {
            let name = name.value.trim();
            let whom = || {
                if name == plant.name {
                    String::new()
                } else {
                    plant.name.clone()
                }
            };
            if let Some((rank, whom)) = look(name, &whom) {
                found.push((rank, name, whom));
            }
        }
    }
    for (at, genus) in weighed.guide.genera.iter().enumerate() {
        let loose = genus.loose.iter().map(|row| &row.name);
        for name in genus.loose_name.iter().chain(&genus.also).chain(loose) {
            let whom = || format!("a loose name in {}", weighed.names.genera[at]);
            if let Some((rank, whom)) = look(name.value.trim(), &whom) {
                found.push((rank, name.value.trim(), whom));
            }
        }
    }
    found.sort();
    found.dedup();
    found
        .into_iter()
        .take(most)
        .map(|(_, name, whom)| (name.to_owned(), whom))
        .collect()
}

/// Whether each file lies in a plain folder of the guide, so that no link leads a write elsewhere.
pub(crate) fn are_inside(input: &Input, edits: &[Edit]) -> bool {
    edits.iter().all(|edit| {
        let folder = edit.path.rsplit_once('/').map_or("", |(folder, _)| folder);
        // A folder that files were read from is no link; a new one is made below one that is none.
        edit.path.starts_with("content/")
            && input.files.iter().any(|(path, _)| {
                path.strip_prefix(folder)
                    .is_some_and(|rest| rest.starts_with('/'))
            })
    })
}

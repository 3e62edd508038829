//! The guide as tables of comma-separated values, for spreadsheets and statistics.
//!
//! Source: RFC 4180 (comma, quotation marks doubled within quotation marks, lines end in CR LF).

use csv::{Terminator, WriterBuilder};
use serde_json::json;

use crate::claims::Claims;
use crate::content::{Guide, TraitKind};
use crate::names::Names;
use crate::pages::sentence::unweighed;
use crate::reconcile::grade::Grade;
use crate::reconcile::{Outcome, Reconciled};
use crate::roles::Standings;

/// A table that can be downloaded.
pub(crate) struct Table {
    /// Its address.
    pub(crate) address: &'static str,
    /// What one row is.
    pub(crate) row: &'static str,
    /// Name and meaning of each column, in order.
    pub(crate) columns: &'static [(&'static str, &'static str)],
}

/// Every standing.
pub(crate) const STANDINGS: Table = Table {
    address: "data/standings.csv",
    row: "One row for each plant, kind of tank or pond, and job that a form of the plant can have.",
    columns: &[
        ("plant", "the plant’s id, as in its address"),
        ("name", "its full name"),
        ("water", "id of the kind of tank or pond"),
        ("role", "id of the job"),
        (
            "standing",
            "mainstay, support, bystander, unsuited (wrong for this water) or unproven (not known yet)",
        ),
        (
            "in_doubt",
            "true where it is more likely than not, though not settled, that the plant is wrong for this water",
        ),
        (
            "regulated_here",
            "true where the plant is on a legal list of a place this guide is read in; it is then not recommended, whatever its standing",
        ),
        (
            "rests_on",
            "ids of the voices without any one of which the standing would be another, with “; ” between them",
        ),
    ],
};

/// Every grade.
pub(crate) const GRADES: Table = Table {
    address: "data/grades.csv",
    row: "One row for each trait of a plant that somebody has spoken on, whatever the water; and one for each kind of tank or pond, for traits on a scale.",
    columns: &[
        ("plant", "the plant’s id, as in its address"),
        ("name", "its full name"),
        ("trait", "id of the trait"),
        (
            "water",
            "id of the kind of tank or pond; empty for the grade whatever the water",
        ),
        (
            "level",
            "graded level; empty for a span, and where nothing is weighed",
        ),
        (
            "span_low",
            "lowest level the voices reach down to; for a span, such as a range of temperature, its lower end",
        ),
        (
            "span_high",
            "highest level the voices reach up to; for a span, its upper end",
        ),
        ("weight", "what all voices weigh together"),
        ("voices", "number of voices"),
        (
            "effective_voices",
            "how many voices of equal weight they would come to; empty for spans",
        ),
        ("evidence", "limited, medium or robust"),
        ("agreement", "untested, low, medium or high"),
        ("confidence", "very low, low, medium, high or very high"),
        (
            "contested",
            "true where good sources stand far apart; never of a span",
        ),
    ],
};

/// Every claim.
pub(crate) const CLAIMS: Table = Table {
    address: "data/claims.csv",
    row: "One row for each claim on each plant that it speaks of, weighed or only shown. A claim under a loose name has a row for every plant the name covers.",
    columns: &[
        ("plant", "the plant’s id, as in its address"),
        ("trait", "id of the trait"),
        ("source", "id of the source"),
        ("voice", "id of the voice it is counted with"),
        (
            "loose",
            "true where it was made under a name that covers several plants",
        ),
        ("weighed", "false where it is shown, but not weighed"),
        (
            "weight",
            "its weight whatever the water; empty where not weighed",
        ),
        ("text", "the source’s title, and what it says"),
        ("reason", "why it is not weighed; empty where it is"),
    ],
};

/// All tables, in the order in which they are described.
pub(crate) const TABLES: [&Table; 3] = [&STANDINGS, &GRADES, &CLAIMS];

/// What stands in a cell.
enum Cell {
    /// Words; guarded.
    Text(String),
    /// A number, as the JSON has it.
    Number(f64),
    /// A count.
    Count(usize),
    /// A yes or no.
    Flag(bool),
    /// Nothing is known.
    Empty,
}

impl Cell {
    fn text(text: &str) -> Cell {
        Cell::Text(text.to_owned())
    }

    fn number(value: Option<f64>) -> Cell {
        value.map_or(Cell::Empty, Cell::Number)
    }

    fn written(self) -> String {
        match self {
            Cell::Text(text) => guarded(text),
            Cell::Number(value) => json!(value).to_string(),
            Cell::Count(count) => count.to_string(),
            Cell::Flag(is_so) => is_so.to_string(),
            Cell::Empty => String::new(),
        }
    }
}

/// A text that no spreadsheet takes for a formula: one that begins as a formula would has an
/// apostrophe before it.
fn guarded(text: String) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text
    }
}

/// Every table as (address, text).
pub(crate) fn tables(
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    reconciled: &Reconciled,
    standings: &Standings,
) -> Vec<(String, String)> {
    [
        (
            &STANDINGS,
            standing_rows(guide, names, reconciled, standings),
        ),
        (&GRADES, grade_rows(guide, names, reconciled)),
        (&CLAIMS, claim_rows(guide, names, claims, reconciled)),
    ]
    .into_iter()
    .map(|(table, rows)| (table.address.to_owned(), text(table, rows)))
    .collect()
}

fn text(table: &Table, rows: Vec<Vec<Cell>>) -> String {
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .from_writer(Vec::new());
    let mut written = writer.write_record(table.columns.iter().map(|(name, _)| *name));
    for row in rows {
        let row = row.into_iter().map(Cell::written);
        written = written.and_then(|()| writer.write_record(row));
    }
    // Writing to memory does not fail, and every row has the columns of its table.
    debug_assert!(written.is_ok(), "{}: {written:?}", table.address);
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}

fn standing_rows(
    guide: &Guide,
    names: &Names,
    reconciled: &Reconciled,
    standings: &Standings,
) -> Vec<Vec<Cell>> {
    let mut out = Vec::new();
    for (name, roles) in names.plants.iter().zip(&standings.plants) {
        for (water, by_role) in guide.waters.iter().zip(&roles.standings) {
            for (role, standing) in guide.roles.iter().zip(by_role) {
                let Some(standing) = standing else { continue };
                let rests_on: Vec<&str> = standing
                    .rests_on
                    .iter()
                    .map(|voice| reconciled.voices.ids[*voice].as_str())
                    .collect();
                out.push(vec![
                    Cell::text(&name.slug),
                    Cell::text(&name.name),
                    Cell::text(&water.id),
                    Cell::text(&role.id),
                    Cell::text(standing.word.id()),
                    Cell::Flag(standing.is_in_doubt),
                    Cell::Flag(roles.is_regulated_here()),
                    Cell::Text(rests_on.join("; ")),
                ]);
            }
        }
    }
    out
}

fn grade_rows(guide: &Guide, names: &Names, reconciled: &Reconciled) -> Vec<Vec<Cell>> {
    let mut out = Vec::new();
    for (name, grades) in names.plants.iter().zip(&reconciled.plants) {
        let head = |trait_index: usize, water: &str| {
            vec![
                Cell::text(&name.slug),
                Cell::text(&name.name),
                Cell::text(&guide.traits[trait_index].id),
                Cell::text(water),
            ]
        };
        for (index, graded) in &grades.traits {
            let mut row = head(*index, "");
            match &graded.outcome {
                Outcome::Scale { grade, .. } => row.extend(grade_cells(guide, *index, grade)),
                Outcome::Span(span) => row.extend([
                    Cell::Empty,
                    Cell::number(span.low),
                    Cell::number(span.high),
                    Cell::Number(span.weight),
                    Cell::Count(span.voices),
                    Cell::Empty,
                    Cell::text(span.evidence.word()),
                    Cell::text(span.agreement.word()),
                    Cell::text(span.confidence.word()),
                    Cell::Flag(false),
                ]),
            }
            out.push(row);
            for (water, here) in guide.waters.iter().zip(&grades.in_water) {
                if let Some(grade) = here.get(index) {
                    let mut row = head(*index, &water.id);
                    row.extend(grade_cells(guide, *index, grade));
                    out.push(row);
                }
            }
        }
    }
    out
}

fn grade_cells(guide: &Guide, trait_index: usize, grade: &Grade) -> [Cell; 10] {
    let level = |level: Option<usize>| match (&guide.traits[trait_index].kind, level) {
        (TraitKind::Scale(on), Some(level)) => Cell::text(&guide.scales[on.scale].levels[level].id),
        _ => Cell::Empty,
    };
    [
        level(grade.level),
        level(grade.span.map(|(low, _)| low)),
        level(grade.span.map(|(_, high)| high)),
        Cell::Number(grade.weight),
        Cell::Count(grade.voices),
        Cell::number(grade.effective_voices),
        Cell::text(grade.evidence.word()),
        Cell::text(grade.agreement.word()),
        Cell::text(grade.confidence.word()),
        Cell::Flag(grade.is_contested),
    ]
}

fn claim_rows(
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    reconciled: &Reconciled,
) -> Vec<Vec<Cell>> {
    let mut out = Vec::new();
    for (name, grades) in names.plants.iter().zip(&reconciled.plants) {
        for (index, graded) in &grades.traits {
            for one in &graded.claims {
                let claim = &claims.all[one.id];
                let source = &guide.sources[claim.source];
                out.push(vec![
                    Cell::text(&name.slug),
                    Cell::text(&guide.traits[*index].id),
                    Cell::text(&source.id),
                    Cell::text(&reconciled.voices.ids[one.voice]),
                    Cell::Flag(claim.is_loose),
                    Cell::Flag(one.weight.is_some()),
                    Cell::number(one.weight),
                    Cell::Text(format!("{}: {}", source.title, claim.words)),
                    unweighed(&claim.fate).map_or(Cell::Empty, Cell::Text),
                ]);
            }
        }
    }
    out
}

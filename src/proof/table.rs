//! Faults as JSON with sorted keys, for editors and other programs.

use serde_json::{Value as Json, json};

use crate::Counts;
use crate::content::Input;
use crate::diagnostic::{Diagnostic, Severity};

/// A guide read, and what was found.
#[derive(Debug, Clone, Copy)]
pub struct Proofed<'a> {
    /// Its files.
    pub input: &'a Input,
    /// Errors and warnings, in order.
    pub faults: &'a [Diagnostic],
    /// What the guide holds; `None` where it has errors.
    pub counts: Option<Counts>,
}

/// First and last place of a fault: lines and columns from 1, columns in characters; the last
/// column is the one after the value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Region {
    /// First line.
    pub(crate) line: usize,
    /// First column.
    pub(crate) column: usize,
    /// Last line.
    pub(crate) end_line: usize,
    /// Column after the last.
    pub(crate) end_column: usize,
}

/// Where a fault stands; without length where it has no nearer place than a line.
pub(crate) fn region(fault: &Diagnostic, input: &Input) -> Region {
    let place = &fault.place;
    let (line, column) = (place.line as usize, place.column as usize);
    let text = input.text(&place.file);
    let marked = text
        .and_then(|text| text.get(place.start..place.end))
        .unwrap_or("");
    let last = marked.rsplit('\n').next().unwrap_or("").chars().count();
    let n_breaks = marked.matches('\n').count();
    Region {
        line,
        column,
        end_line: line + n_breaks,
        end_column: if n_breaks == 0 {
            column + last
        } else {
            last + 1
        },
    }
}

/// The word of a severity.
pub(crate) fn word(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    }
}

/// The faults of a guide: one object, described in DEVELOPERS.md.
pub fn json(proofed: &Proofed<'_>) -> String {
    let faults: Vec<Json> = proofed
        .faults
        .iter()
        .map(|fault| {
            let region = region(fault, proofed.input);
            json!({
                "severity": word(fault.severity),
                "rule": fault.rule,
                "file": &*fault.place.file,
                "line": region.line,
                "column": region.column,
                "end_line": region.end_line,
                "end_column": region.end_column,
                "title": fault.title,
                "label": fault.label,
                "hint": fault.hint,
            })
        })
        .collect();
    let errors = proofed
        .faults
        .iter()
        .filter(|f| f.severity == Severity::Error)
        .count();
    let counts = proofed.counts.map(|counts| {
        json!({ "plants": counts.plants, "sources": counts.sources, "claims": counts.claims })
    });
    let all = json!({
        "can_be_pressed": errors == 0,
        "counts": counts,
        "errors": errors,
        "faults": faults,
        "warnings": proofed.faults.len() - errors,
    });
    format!("{all:#}\n")
}

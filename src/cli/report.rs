//! A fault in the terminal: place and sentence, the line it stands in, what to do.

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use pondweigh::content::Input;
use pondweigh::diagnostic::{Diagnostic, Severity};

/// Longest line that is shown whole, in bytes.
const MAX_LINE: usize = 160;

/// Bytes of a longer line that are shown on each side of the mark.
const AROUND: usize = 50;

/// A fault as text.
pub(crate) fn shown(fault: &Diagnostic, input: &Input, is_styled: bool) -> String {
    let level = match fault.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let title = format!("{}: {}", fault.place, fault.title);
    let mut group = level
        .primary_title(title)
        .elements(Vec::<Snippet<'_, annotate_snippets::Annotation<'_>>>::new());
    let found = excerpt(fault, input);
    if let Some((line, start, end)) = &found {
        let mark = AnnotationKind::Primary
            .span(*start..*end)
            .label(fault.label.as_deref());
        let snippet = Snippet::source(line.as_str())
            .line_start(fault.place.line as usize)
            .annotation(mark);
        group = group.element(snippet);
    }
    if let Some(hint) = &fault.hint {
        group = group.element(Level::HELP.message(hint.as_str()));
    }
    let renderer = if is_styled {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let mut text = renderer.render(&[group]);
    text.push('\n');
    text
}

/// The line a fault stands in, and the marked bytes of it. Of a long one, what is around the mark.
fn excerpt(fault: &Diagnostic, input: &Input) -> Option<(String, usize, usize)> {
    let place = &fault.place;
    if place.start == place.end {
        return None;
    }
    let text = input.text(&place.file)?;
    let line_start = text.get(..place.start)?.rfind('\n').map_or(0, |at| at + 1);
    let line_end = text[place.start..]
        .find('\n')
        .map_or(text.len(), |at| place.start + at);
    let line = text.get(line_start..line_end)?.trim_end();
    let start = (place.start - line_start).min(line.len());
    let end = (place.end - line_start).clamp(start, line.len());
    if line.len() <= MAX_LINE {
        return Some((line.to_owned(), start, end));
    }
    let is_edge = |at: &usize| line.is_char_boundary(*at);
    let from = (0..=start.saturating_sub(AROUND)).rev().find(is_edge)?;
    let to = (end.min(start + MAX_LINE / 2) + AROUND..line.len()).find(is_edge);
    let to = to.unwrap_or(line.len());
    let before = if from > 0 { "…" } else { "" };
    let after = if to < line.len() { "…" } else { "" };
    let shift = |at: usize| at.clamp(from, to) - from + before.len();
    let shown = format!("{before}{}{after}", &line[from..to]);
    Some((shown, shift(start), shift(end)))
}

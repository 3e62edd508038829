//! What moved since an edition, or between two.

use std::path::Path;

use clap::ValueEnum;
use jiff::civil::Date;
use pondweigh::Weighed;
use pondweigh::editions::{Edition, Head, as_json, as_markdown, as_text};

use crate::cli::{CONTENT, DONE, say, sound};

/// The form in which shifts are told.
#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum Form {
    /// For the terminal
    Text,
    /// For a pull request
    Markdown,
    /// For other programs
    Json,
}

/// Prints what moved.
pub(crate) fn shifts(
    guide: &Path,
    from: Option<Date>,
    to: Option<Date>,
    form: Form,
) -> Result<u8, String> {
    let not_done = "nothing can be weighed until the errors are mended";
    let Some((input, weighed)) = sound(guide, pondweigh::weigh, not_done)? else {
        return Ok(CONTENT);
    };
    let Some(last) = weighed.editions.last() else {
        let text = "No edition has been recorded yet. Record one with `pondweigh edition --note \"…\"`; from then on, shifts says what moved since.";
        match form {
            Form::Json => {
                eprintln!("{text}");
                say("null");
            }
            Form::Text | Form::Markdown => say(text),
        }
        return Ok(DONE);
    };
    let now;
    let to = match to {
        Some(date) => of_day(&weighed, date)?,
        None => {
            let head = Head {
                date: None,
                number: last.head.number + 1,
                note: String::new(),
            };
            now = weighed.record(head, &input);
            &now
        }
    };
    let from = match from {
        Some(date) => of_day(&weighed, date)?,
        None => before(&weighed, to)?,
    };
    if to.head.date.is_some_and(|to| from.head.date >= Some(to)) {
        return Err("--from must name an edition before that of --to".to_owned());
    }
    let shifts = weighed.shifts(from, to);
    let told = weighed.told();
    let text = match form {
        Form::Text => as_text(&shifts, told),
        Form::Markdown => as_markdown(&shifts, told),
        Form::Json => as_json(&shifts, told),
    };
    say(text.trim_end());
    Ok(DONE)
}

fn of_day(weighed: &Weighed, date: Date) -> Result<&Edition, String> {
    let found = weighed
        .editions
        .iter()
        .find(|edition| edition.head.date == Some(date));
    found.ok_or_else(|| {
        let days: Vec<String> = weighed
            .editions
            .iter()
            .filter_map(|edition| edition.head.date.map(|date| date.to_string()))
            .collect();
        format!(
            "there is no edition of {date}; the guide has {}",
            days.join(", ")
        )
    })
}

/// The edition before another; for the guide as it is, the last one.
fn before<'a>(weighed: &'a Weighed, to: &Edition) -> Result<&'a Edition, String> {
    let mut before = weighed
        .editions
        .iter()
        .rev()
        .filter(|edition| to.head.date.is_none_or(|to| edition.head.date < Some(to)));
    before
        .next()
        .ok_or_else(|| "there is no edition before that of --to".to_owned())
}

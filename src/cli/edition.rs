//! Records an edition: the grades and standings of a day, in `content/editions/`.

use std::path::Path;

use jiff::civil::Date;
use pondweigh::content::disk::replace;
use pondweigh::diagnostic::counted;
use pondweigh::editions::{Head, as_tally, path, text};

use crate::cli::{CONTENT, DONE, latest_day, say, sound};

/// Records the guide as it is; refuses where it has errors or nothing moved.
pub(crate) fn edition(guide: &Path, note: &str, date: Option<Date>) -> Result<u8, String> {
    // All that a press looks at: what cannot be pressed cannot be cited.
    let not_done = "no edition is recorded until the errors are mended";
    let Some((input, weighed)) = sound(guide, pondweigh::proofed, not_done)? else {
        return Ok(CONTENT);
    };
    let note = note.split_whitespace().collect::<Vec<_>>().join(" ");
    if note.is_empty() {
        return Err("an edition needs a note\n  hint: say in a sentence what is new, such as --note \"After the spring count\"".to_owned());
    }
    let date = date.unwrap_or_else(|| jiff::ZonedDateTime::now().date());
    if date > latest_day() {
        eprintln!(
            "error: {date} has not come yet\n  hint: leave out --date, and the edition is of today"
        );
        return Ok(CONTENT);
    }
    let last = weighed.editions.last();
    let last_day = last.and_then(|edition| edition.head.date);
    if let Some(day) = last_day.filter(|day| *day >= date) {
        eprintln!("error: {}", refusal(day, date));
        return Ok(CONTENT);
    }
    let head = Head {
        date: Some(date),
        number: last.map_or(0, |edition| edition.head.number) + 1,
        note,
    };
    let number = head.number;
    let record = weighed.record(head, &input);
    let moved = last.map(|last| weighed.shifts(last, &record));
    if let Some(shifts) = &moved
        && shifts.is_empty()
    {
        let day = last_day.map_or_else(String::new, |day| day.to_string());
        eprintln!("Nothing moved since {day}: no edition is needed.");
        return Ok(CONTENT);
    }
    let file = path(date);
    replace(&guide.join(&file), text(&record).as_bytes())
        .map_err(|error| format!("cannot write {file}: {error}"))?;
    say(&format!(
        "Recorded edition {number} ({date}) of {} in {file}.",
        counted(record.plants.len(), "plant", "plants")
    ));
    if let Some(shifts) = &moved {
        say(&as_tally(shifts));
    }
    Ok(DONE)
}

fn refusal(last: Date, date: Date) -> String {
    if last == date {
        format!(
            "there is an edition of {date} already\n  hint: delete {} if nobody has cited it yet, or record this one another day",
            path(date)
        )
    } else {
        format!(
            "the last edition is of {last}: one of {date} would stand before it\n  hint: give a day after {last} with --date; or delete {} if its day is wrong and nobody has cited it",
            path(last)
        )
    }
}

//! Dates as people write them.

use jiff::civil::Date;

use crate::content::is_day_or_period;
use crate::intake::trouble::Trouble;

/// Which of day and month comes first where both fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateOrder {
    /// 3/4 is 3 April.
    DayFirst,
    /// 3/4 is 4 March.
    MonthFirst,
}

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// A date or a period in the way of the format.
pub(crate) fn seen(text: &str, order: Option<DateOrder>) -> Result<String, Trouble> {
    let text = text.trim();
    if is_day_or_period(text) {
        return Ok(text.to_owned());
    }
    for mark in [" to ", " until ", "–", " - ", "/"] {
        if let Some((from, to)) = text.split_once(mark)
            && let (Ok(from), Ok(to)) = (one(from, order), one(to, order))
        {
            return Ok(format!("{from}/{to}"));
        }
    }
    // The doubt about an end of a period is the doubt about the period.
    for mark in [" to ", " until ", "–", " - "] {
        if let Some((from, to)) = text.split_once(mark) {
            one(from, order)?;
            one(to, order)?;
        }
    }
    one(text, order)
}

fn one(text: &str, order: Option<DateOrder>) -> Result<String, Trouble> {
    let text = text.trim();
    if !text.contains('/') && is_day_or_period(text) {
        return Ok(text.to_owned());
    }
    let bad = || Trouble::bad_date(text);
    let pieces: Vec<&str> = text
        .split(['/', '.', '-', ' ', ','])
        .filter(|piece| !piece.is_empty())
        .collect();
    if let Some(named) = with_month_name(&pieces) {
        return named.ok_or_else(bad);
    }
    let numbers: Vec<i16> = pieces
        .iter()
        .map(|piece| piece.parse().ok())
        .collect::<Option<_>>()
        .ok_or_else(bad)?;
    let [first, second, year] = numbers[..] else {
        return Err(bad());
    };
    if !(1000..=9999).contains(&year) {
        return Err(bad());
    }
    let day = |day: i16, month: i16| -> Option<String> {
        let date = Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()?;
        Some(date.to_string())
    };
    match (day(first, second), day(second, first)) {
        (None, None) => Err(bad()),
        (Some(date), None) | (None, Some(date)) => Ok(date),
        (Some(date), Some(other)) if date == other => Ok(date),
        // With points between, the day comes first: common practice, no source.
        (Some(date), Some(_)) if text.contains('.') => Ok(date),
        (Some(day_first), Some(month_first)) => match order {
            Some(DateOrder::DayFirst) => Ok(day_first),
            Some(DateOrder::MonthFirst) => Ok(month_first),
            None => Err(Trouble::doubtful_date(text, &day_first, &month_first)),
        },
    }
}

/// `3 May 2025`, `May 3 2025` or `May 2025`; the inner `None` where it has a month's name and is
/// no date.
fn with_month_name(pieces: &[&str]) -> Option<Option<String>> {
    let month_of = |piece: &str| {
        let piece = piece.to_lowercase();
        let fits = |month: &&str| piece.len() >= 3 && month.starts_with(&piece);
        MONTHS.iter().position(fits)
    };
    let at = pieces.iter().position(|piece| month_of(piece).is_some())?;
    let month = month_of(pieces[at])? + 1;
    let rest: Vec<i16> = pieces
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != at)
        .filter_map(|(_, piece)| piece.parse().ok())
        .collect();
    if rest.len() + 1 != pieces.len() {
        return Some(None);
    }
    Some(match rest[..] {
        [year] if (1000..=9999).contains(&year) => Some(format!("{year}-{month:02}")),
        [day, year] if (1000..=9999).contains(&year) => i8::try_from(day)
            .ok()
            .and_then(|day| Date::new(year, i8::try_from(month).ok()?, day).ok())
            .map(|date| date.to_string()),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn usual_orders_are_understood_and_doubt_is_said() {
        for (text, date) in [
            ("2025-05-01", "2025-05-01"),
            ("2025-05", "2025-05"),
            ("2025-05-01/2025-06-20", "2025-05-01/2025-06-20"),
            ("2025-05-01 to 2025-06-20", "2025-05-01/2025-06-20"),
            ("1.5.2025", "2025-05-01"),
            ("01.05.2025 – 20.06.2025", "2025-05-01/2025-06-20"),
            ("13/04/2025", "2025-04-13"),
            ("04/13/2025", "2025-04-13"),
            ("05/05/2025", "2025-05-05"),
            ("3 May 2025", "2025-05-03"),
            ("Sep 2024", "2024-09"),
        ] {
            assert_eq!(seen(text, None), Ok(date.to_owned()), "{text}");
        }
        assert_eq!(
            seen("03/04/2025", None),
            Err(Trouble::doubtful_date(
                "03/04/2025",
                "2025-04-03",
                "2025-03-04"
            ))
        );
        let read = |order| seen("03/04/2025", Some(order)).expect("a date");
        assert_eq!(read(DateOrder::DayFirst), "2025-04-03");
        assert_eq!(read(DateOrder::MonthFirst), "2025-03-04");
        for text in [
            "31/31/2025",
            "yesterday",
            "1.5.25",
            "30 February 2025",
            "2025-13-01",
        ] {
            assert!(seen(text, None).is_err(), "{text}");
        }
    }
}

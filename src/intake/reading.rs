//! What was seen, as people write it, turned into the keys of a claim.

use crate::content::yaml::is_unprintable;
use crate::content::{Guide, Measure, Trait, TraitKind};
use crate::intake::part::Part;
use crate::intake::trouble::Trouble;

/// The key and the value of a claim for what was seen: a word, two sizes and a time, a doubling
/// time, a rate a day, how often it was trimmed, or a value with its unit.
pub(crate) fn value(text: &str, of: &Trait, guide: &Guide) -> Result<(String, Part), Trouble> {
    let squeezed: Vec<&str> = text.split_whitespace().collect();
    let as_said = squeezed.join(" ");
    let text = plain_units(&decimal(&as_said)?);
    let lower = text.to_lowercase();
    let is_growth =
        matches!(&of.kind, TraitKind::Scale(on) if on.measure == Some(Measure::RelativeGrowthRate));
    let is_measured = !of.kind.dimensions().is_empty();
    if is_growth {
        if let Some(found) = grew(&text) {
            return Ok(("grew".to_owned(), found));
        }
        for head in [
            "doubles in ",
            "doubled in ",
            "doubling in ",
            "doubles every ",
            "doubled every ",
        ] {
            if lower.starts_with(head) {
                return Ok((
                    "doubles-in".to_owned(),
                    Part::text(one_of(&text[head.len()..])),
                ));
            }
        }
        for tail in ["/d", "/day", " per day", " a day"] {
            if let Some(rate) = lower.strip_suffix(tail) {
                return Ok(("rgr".to_owned(), Part::text(rate.trim())));
            }
        }
        if let Some(found) = trimmed(&lower) {
            return Ok(("trimmed".to_owned(), found));
        }
    }
    let unsigned = lower
        .trim_start_matches(['-', '−', '+', '<', '>', '.'])
        .trim_start();
    let is_number = unsigned.starts_with(|c: char| c.is_ascii_digit());
    let has_number = lower.contains(|c: char| c.is_ascii_digit()) && !is_word(&as_said, guide);
    if is_growth && has_number {
        return Err(Trouble::unread_growth(&text));
    }
    if is_measured && has_number && !is_number {
        return Err(Trouble::unread_measure(&text));
    }
    if matches!(of.kind, TraitKind::Span(_)) && !is_number {
        return Err(Trouble::no_span(&text));
    }
    if is_measured && is_number {
        return Ok(("measures".to_owned(), Part::text(span(&text))));
    }
    Ok(("says".to_owned(), Part::text(word(&as_said, of, guide))))
}

/// Whether a source of the guide uses a text as a word of its own.
fn is_word(text: &str, guide: &Guide) -> bool {
    let folded = text.to_lowercase();
    let vocabularies = guide
        .sources
        .iter()
        .flat_map(|source| source.vocabulary.values());
    let mut words = vocabularies.flat_map(|words| words.keys());
    words.any(|word| word.to_lowercase() == folded)
}

/// Units as the format writes them, for those that people write otherwise.
fn plain_units(text: &str) -> String {
    let mut text = text
        .replace("° C", " C")
        .replace("° F", " F")
        .replace("°C", " C")
        .replace("°F", " F")
        .replace('℃', " C")
        .replace('℉', " F")
        // The micro sign and the Greek letter.
        .replace(['\u{b5}', '\u{3bc}'], "u")
        .replace('²', "2")
        .replace(['→', '⟶'], " to ")
        .replace(['"', '″', '”'], " in ");
    // A foot sign stands behind a figure; elsewhere it is an apostrophe.
    for sign in ['\'', '′', '’'] {
        let after = |text: &str, at: usize| text[..at].ends_with(|c: char| c.is_ascii_digit());
        while let Some((at, _)) = text.match_indices(sign).find(|(at, _)| after(&text, *at)) {
            text.replace_range(at..at + sign.len_utf8(), " ft ");
        }
    }
    for inch in [" inches", " inch"] {
        text = text.replace(inch, " in");
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    words.join(" ")
}

/// Two ends of a span as the format writes them: `18 C to 26 C`, `18-26 C` and `18–26 C` are
/// `18..26 C`.
fn span(text: &str) -> String {
    let text = undashed(text).replace(" to ", "..");
    let Some((low, high)) = text.split_once("..") else {
        return text;
    };
    let (low, high) = (low.trim(), high.trim());
    // The unit stands once, at the end.
    let unit = high.split_once(' ').map_or("", |(_, unit)| unit);
    let low = low.strip_suffix(unit).map_or(low, str::trim_end);
    format!("{low}..{high}")
}

/// Levels of the trait's scale as the format writes them; any other word as it is.
fn word(text: &str, of: &Trait, guide: &Guide) -> String {
    let TraitKind::Scale(on) = &of.kind else {
        return text.to_owned();
    };
    let levels = text
        .to_lowercase()
        .replace(" - ", " to ")
        .replace(['–', '—'], " to ")
        .replace(" to ", "..");
    let levels: Vec<String> = levels
        .split("..")
        .map(|end| end.trim().replace(' ', "-"))
        .collect();
    let levels = levels.join("..");
    let scale = &guide.scales[on.scale];
    if levels.split("..").all(|end| scale.position(end).is_some()) {
        levels
    } else {
        text.to_owned()
    }
}

/// A time with its number: `a week` is `1 week`.
fn one_of(time: &str) -> String {
    let time = time.trim();
    let rest = time.strip_prefix("a ").or_else(|| time.strip_prefix("an "));
    rest.map_or_else(|| time.to_owned(), |rest| format!("1 {rest}"))
}

/// A text with ` to ` for each dash that stands between two figures, or between a unit and a figure.
fn undashed(text: &str) -> String {
    let mut out = String::new();
    for (at, c) in text.char_indices() {
        let before = out.trim_end().chars().last();
        let after = text[at + c.len_utf8()..].trim_start().chars().next();
        let is_between =
            before.is_some_and(char::is_alphanumeric) && after.is_some_and(|c| c.is_ascii_digit());
        if matches!(c, '-' | '–' | '—' | '−') && is_between {
            out.truncate(out.trim_end().len());
            out.push_str(" to ");
        } else {
            out.push(c);
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// `12 cm to 17 cm in 20 d`.
fn grew(text: &str) -> Option<Part> {
    let text = ["grew ", "from "].iter().fold(text, |text, head| {
        let is_there = text
            .get(..head.len())
            .is_some_and(|t| t.eq_ignore_ascii_case(head));
        if is_there { &text[head.len()..] } else { text }
    });
    let dashed = undashed(text);
    let (from, rest) = dashed.split_once(" to ")?;
    let (from, rest) = (from.trim(), rest.trim());
    // The last one: inches are `in` as well.
    let (to, over) = rest
        .split_once(" over ")
        .or_else(|| rest.rsplit_once(" in "))?;
    // Two sizes, and no span of sizes.
    if to.contains(" to ") {
        return None;
    }
    // "12 to 17 cm" gives its unit once.
    let unit = to.split_once(' ').map_or("", |(_, unit)| unit);
    let from = if from.contains(|c: char| c.is_alphabetic() || c == '%') || unit.is_empty() {
        from.to_owned()
    } else {
        format!("{from} {unit}")
    };
    let pair = |key: &str, text: &str| (key.to_owned(), Part::text(text.trim()));
    Some(Part::Map(vec![
        pair("from", &from),
        pair("to", to),
        pair("over", &one_of(over)),
    ]))
}

/// `trimmed every 14 d`, `trimmed by a third every 2 weeks`, `trimmed every 14 d leaving 0.4`.
fn trimmed(lower: &str) -> Option<Part> {
    let rest = lower.strip_prefix("trimmed ")?;
    let (before, rest) = rest.split_once("every ")?;
    let (every, leaving) = match rest.split_once(" leaving ") {
        Some((every, leaving)) => (every.trim_end_matches(','), Some(leaving)),
        None => (rest, None),
    };
    let mut entries = vec![("every".to_owned(), Part::text(one_of(every)))];
    let left = match (before.trim(), leaving) {
        ("", Some(leaving)) => leaving.trim(),
        ("" | "by half", None) => return Some(Part::Map(entries)),
        ("by a quarter", None) => "0.75",
        ("by a third", None) => "0.667",
        ("by two thirds", None) => "0.333",
        ("by three quarters", None) => "0.25",
        _ => return None,
    };
    entries.push(("leaving".to_owned(), Part::text(left)));
    Some(Part::Map(entries))
}

/// Decimal commas as points. A comma that could as well stand between thousands is a doubt.
pub(crate) fn decimal(text: &str) -> Result<String, Trouble> {
    let chars: Vec<char> = text.chars().collect();
    let digits = |at: usize, step: isize| -> usize {
        let mut count = 0;
        let mut at = at as isize + step;
        while at >= 0 && chars.get(at as usize).is_some_and(char::is_ascii_digit) {
            count += 1;
            at += step;
        }
        count
    };
    let mut out = String::new();
    for (at, c) in chars.iter().enumerate() {
        let (before, after) = (digits(at, -1), digits(at, 1));
        if *c != ',' || before == 0 || after == 0 {
            out.push(*c);
            continue;
        }
        let number: String = chars[at - before..=at + after].iter().collect();
        if after == 3 && before <= 3 && !number.starts_with('0') {
            return Err(Trouble::doubtful_number(&number));
        }
        out.push('.');
    }
    Ok(out)
}

/// What a cell of conditions is parted into: at semicolons, and at commas before another pair.
fn pieces(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for part in text.split([';', '\n']) {
        let mut is_first = true;
        for piece in part.split(',') {
            match out.last_mut() {
                Some(last) if !is_first && !is_pair(piece) => {
                    last.push(',');
                    last.push_str(piece);
                }
                _ => out.push(piece.to_owned()),
            }
            is_first = false;
        }
    }
    let trimmed = out.iter().map(|piece| piece.trim().to_owned());
    trimmed.filter(|piece| !piece.is_empty()).collect()
}

/// Whether a text is a word, `=` or `:`, and something after it.
pub(crate) fn is_pair(text: &str) -> bool {
    let pair = text.split_once('=').or_else(|| text.split_once(':'));
    pair.is_some_and(|(id, value)| {
        let id = id.trim();
        crate::content::is_id(id)
            && id.starts_with(|c: char| c.is_ascii_lowercase())
            && !value.trim().is_empty()
    })
}

/// Whether a text has a sign that no page may hold, or one that turns the direction of what
/// follows, so that it reads otherwise than it was written (Unicode UAX #9, 2.1 to 2.5).
pub(crate) fn is_hidden(text: &str) -> bool {
    let turns = |c: char| matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    is_unprintable(text) || text.contains(turns)
}

/// A text with one sign for the end of a line, whatever machine it was typed on.
pub(crate) fn one_line_end(text: &str) -> String {
    text.replace("\r\n", "\n").replace('\r', "\n")
}

/// Conditions such as `light=low; co2: none`, or with a comma between.
pub(crate) fn conditions(text: &str) -> Result<Vec<(String, Part)>, Trouble> {
    let mut out = Vec::new();
    for piece in pieces(text) {
        let pair = piece.split_once('=').or_else(|| piece.split_once(':'));
        let (id, value) = pair.ok_or_else(|| Trouble::bad_condition(&piece))?;
        let (id, value) = (id.trim(), value.trim());
        if id.is_empty() || value.is_empty() {
            return Err(Trouble::bad_condition(&piece));
        }
        out.push((
            id.to_owned(),
            Part::text(span(&plain_units(&decimal(value)?))),
        ));
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_times_and_trims_are_told_apart() {
        let shown = |found: Option<Part>| found.map(|part| part.on_one_line());
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(
            shown(grew("12 cm to 17 cm in 20 d")),
            some("{from: 12 cm, to: 17 cm, over: 20 d}")
        );
        assert_eq!(
            shown(grew("grew 12 to 17 cm over 3 weeks")),
            some("{from: 12 cm, to: 17 cm, over: 3 weeks}")
        );
        assert_eq!(shown(grew("slow to moderate")), None);
        assert_eq!(shown(grew("5–6 cm to 9 cm in 20 d")), None);
        assert_eq!(
            shown(grew("1 cm to 2 cm in a week")),
            some("{from: 1 cm, to: 2 cm, over: 1 week}")
        );
        assert_eq!(
            shown(trimmed("trimmed by half every 2 weeks")),
            some("{every: 2 weeks}")
        );
        assert_eq!(
            shown(trimmed("trimmed every 14 d, leaving 0.4")),
            some("{every: 14 d, leaving: 0.4}")
        );
        assert_eq!(
            shown(trimmed("trimmed by two thirds every 14 d")),
            some("{every: 14 d, leaving: 0.333}")
        );
        assert_eq!(shown(trimmed("trimmed by a tenth every 14 d")), None);
    }

    #[test]
    fn units_and_spans_are_read_as_people_write_them() {
        for (text, plain) in [
            ("18 °C to 26 °C", "18..26 C"),
            ("18-26 C", "18..26 C"),
            ("18 – 26 °C", "18..26 C"),
            ("18..26 C", "18..26 C"),
            ("5 in to 7 in", "5..7 in"),
            ("5\" to 7\"", "5..7 in"),
            ("4 inches", "4 in"),
            ("30 µmol/m²/s", "30 umol/m2/s"),
            ("30 \u{b5}mol/m2/s", "30 umol/m2/s"),
            ("25-35 \u{3bc}mol/m2/s", "25..35 umol/m2/s"),
            ("25–35 umol/m²/s", "25..35 umol/m2/s"),
            ("20 to 26 ℃", "20..26 C"),
            ("20 → 26 ° C", "20..26 C"),
            ("20° to 26°", "20°..26°"),
            ("€-3", "€-3"),
            ("10 cm", "10 cm"),
            ("..20 C", "..20 C"),
            ("10 cm-12 cm", "10..12 cm"),
            ("25−35 umol/m2/s", "25..35 umol/m2/s"),
            ("-2 - 5 C", "-2..5 C"),
            ("1' to 2'", "1..2 ft"),
        ] {
            assert_eq!(span(&plain_units(text)), plain, "{text}");
        }
        for text in [
            "4.5 in to 6 in in 20 d",
            "4.5 in to 6 in over 20 d",
            "4.5 to 6 inches in 20 d",
            "4.5\" to 6\" in 20 d",
            "4.5–6 in in 20 d",
            "4.5-6 in in 20 d",
            "4.5 in - 6 in in 20 d",
        ] {
            let Some(Part::Map(entries)) = grew(&plain_units(text)) else {
                panic!("{text}");
            };
            let parts: Vec<&Part> = entries.iter().map(|(_, part)| part).collect();
            let want = ["4.5 in", "6 in", "20 d"].map(Part::text);
            assert_eq!(parts, want.iter().collect::<Vec<_>>(), "{text}");
        }
    }

    #[test]
    fn a_decimal_comma_is_a_point_unless_it_may_part_thousands() {
        assert_eq!(decimal("1,5 cm"), Ok("1.5 cm".to_owned()));
        assert_eq!(decimal("0,125 g"), Ok("0.125 g".to_owned()));
        assert_eq!(decimal("a, b"), Ok("a, b".to_owned()));
        assert_eq!(decimal("1,500 mg"), Err(Trouble::doubtful_number("1,500")));
    }

    #[test]
    fn conditions_are_pairs() {
        let found = conditions("light=low; co2: none").expect("pairs");
        assert_eq!(Part::Map(found).on_one_line(), "{light: low, co2: none}");
        for text in [
            "light=low, co2=none",
            "light=low,co2:none;",
            "light=low\nco2=none",
        ] {
            let found = conditions(text).expect("pairs");
            assert_eq!(Part::Map(found).on_one_line(), "{light: low, co2: none}");
        }
        let found = conditions("temperature=20,5 C, light=low").expect("pairs");
        assert_eq!(
            Part::Map(found).on_one_line(),
            "{temperature: 20.5 C, light: low}"
        );
        assert_eq!(conditions("bright"), Err(Trouble::bad_condition("bright")));
    }
}

//! Observation slips as the guide's own form makes them: claims in YAML, each with its plant.

use std::sync::Arc;

use crate::content::yaml::{self, Data, Node};
use crate::content::{Guide, VALUES};
use crate::intake::dates::{DateOrder, seen};
use crate::intake::part::Part;
use crate::intake::reading::{self, is_hidden, one_line_end};
use crate::intake::sheet::trait_of;
use crate::intake::trouble::Trouble;

/// One observation as handed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    /// Where it was handed in, such as `notes.csv, row 14`.
    pub place: String,
    /// The plant, by any name.
    pub plant: String,
    /// The trait, by its id or title.
    pub of: String,
    /// The source, by its id or title; none where the slip does not say.
    pub source: Option<String>,
    /// The claim's other keys with their values, in written order.
    pub keys: Vec<(String, Part)>,
    /// Names of columns, where the slip is a row of a sheet, by the key they became.
    pub columns: Vec<(String, String)>,
}

impl Slip {
    /// Stands for what could not be read as an observation, so that troubles and slips are counted
    /// alike.
    pub(crate) fn unread(place: &str) -> Slip {
        Slip {
            place: place.to_owned(),
            plant: String::new(),
            of: String::new(),
            source: None,
            keys: Vec::new(),
            columns: Vec::new(),
        }
    }

    /// Whether nothing was read of it.
    pub(crate) fn is_unread(&self) -> bool {
        self.plant.is_empty() && self.of.is_empty() && self.source.is_none() && self.keys.is_empty()
    }

    /// The column that a key came from; the key itself where there are no columns.
    pub fn column<'a>(&'a self, key: &'a str) -> &'a str {
        let mut found = self.columns.iter().filter(|(of, _)| of == key);
        found.next().map_or(key, |(_, column)| column)
    }
}

/// Reads a pasted slip, or several: a list of claims, alone or under `claims`, or one claim.
///
/// What was seen may be written as in a sheet, with the keys `value`, `date` and `conditions`;
/// `order` settles doubtful dates.
pub fn slips(
    text: &str,
    name: &str,
    guide: &Guide,
    order: Option<DateOrder>,
) -> (Vec<Slip>, Vec<Trouble>) {
    let fail = |why: &str| {
        let trouble = Trouble::not_a_slip(why).of(0, name);
        (vec![Slip::unread(name)], vec![trouble])
    };
    if text.contains(char::REPLACEMENT_CHARACTER) {
        return fail("it is not in UTF-8");
    }
    let file: Arc<str> = Arc::from(name);
    let inner = in_a_letter(text);
    let node = match yaml::parse(&file, inner.as_deref().unwrap_or(text)) {
        Ok(node) => node,
        Err(fault) => return fail(&fault.title),
    };
    let items: Vec<Node> = match node.data {
        Data::List(items) => items,
        Data::Map(mut entries) if entries.iter().any(|(key, _)| key.text == "claims") => {
            if let Some((key, _)) = entries.iter().find(|(key, _)| key.text != "claims") {
                return fail(&format!("`{}` does not belong beside `claims`", key.text));
            }
            match entries.pop().map(|(_, node)| node.data) {
                Some(Data::List(items)) => items,
                _ => return fail("`claims` is no list"),
            }
        }
        Data::Map(_) => vec![node],
        _ => return fail("it is no claim"),
    };
    let mut out = Vec::new();
    let mut troubles = Vec::new();
    for (at, item) in items.iter().enumerate() {
        let place = format!("{name}, line {}", item.place.line);
        let Part::Map(entries) = Part::of(item) else {
            troubles.push(Trouble::not_a_slip("a claim is a map of keys").of(at, &place));
            out.push(Slip::unread(&place));
            continue;
        };
        let mut slip = Slip::unread(&place);
        for (key, part) in entries {
            match (key.as_str(), part) {
                ("plant", Part::Text(text)) => slip.plant = text,
                ("trait", Part::Text(text)) => slip.of = text,
                ("source", Part::Text(text)) => slip.source = Some(text),
                (_, part) => slip.keys.push((key, part)),
            }
        }
        for (key, part) in &mut slip.keys {
            if let Part::Text(text) = part {
                if is_hidden(text) {
                    troubles.push(Trouble::control_sign(key).of(at, &place));
                }
                *text = one_line_end(text);
            }
        }
        let found = as_claim(&mut slip, guide, order);
        troubles.extend(found.into_iter().map(|trouble| trouble.of(at, &place)));
        for (key, value, example) in [
            ("plant", &slip.plant, "its full name"),
            ("trait", &slip.of, "`growth`"),
        ] {
            if value.trim().is_empty() {
                troubles.push(Trouble::missing(key, example).of(at, &place));
            }
        }
        out.push(slip);
    }
    (out, troubles)
}

/// The slip in a letter: what stands under a line `claims:`, with its lines where they were. `None`
/// where there is nothing before or after it, and no sign of a quoted letter.
fn in_a_letter(text: &str) -> Option<String> {
    let bare = |line: &str| -> String {
        let rest = line.trim_start_matches(['>', '\u{feff}']);
        let is_quoted = rest.len() != line.len();
        let rest = if is_quoted {
            rest.strip_prefix(' ').unwrap_or(rest)
        } else {
            rest
        };
        rest.trim_end().to_owned()
    };
    let lines: Vec<String> = text.lines().map(bare).collect();
    let head = lines.iter().position(|line| line == "claims:")?;
    let is_inside = |line: &String| line.is_empty() || line.starts_with([' ', '-', '#', '\t']);
    let after = lines[head + 1..]
        .iter()
        .take_while(|line| is_inside(line))
        .count();
    let end = head + 1 + after;
    let is_other = |line: &String| !line.is_empty() && !line.starts_with('#');
    let has_more = lines[..head].iter().chain(&lines[end..]).any(is_other);
    // A key of YAML beside `claims` is a fault to be told, and no letter.
    let is_key = |line: &&String| {
        line.split_once(':')
            .is_some_and(|(key, _)| !key.contains(' ') && !key.is_empty())
    };
    let has_key = lines[..head]
        .iter()
        .chain(&lines[end..])
        .any(|line| is_key(&line));
    let is_quoted = text.lines().any(|line| line.starts_with('>'));
    if !(is_quoted || has_more && !has_key) {
        return None;
    }
    let mut out = "\n".repeat(head);
    out.push_str(&lines[head..end].join("\n"));
    out.push('\n');
    Some(out)
}

/// Turns `value`, `date` and `conditions` into the keys of a claim.
fn as_claim(slip: &mut Slip, guide: &Guide, order: Option<DateOrder>) -> Vec<Trouble> {
    let mut troubles = Vec::new();
    let is_value = |key: &str| key == "value" || VALUES.contains(&key);
    let said: Vec<&str> = slip
        .keys
        .iter()
        .map(|(key, _)| key.as_str())
        .filter(|key| is_value(key))
        .collect();
    if let [first, second, ..] = said[..] {
        troubles.push(Trouble::two_values(first, second));
    }
    let of = trait_of(guide, &slip.of);
    for (key, part) in &mut slip.keys {
        let Part::Text(text) = &*part else {
            continue;
        };
        let read = match key.as_str() {
            // Without its trait, which is missed apart, what was seen cannot be read.
            "value" => of.map(|of| reading::value(text, &guide.traits[of], guide)),
            "date" => Some(seen(text, order).map(|date| ("seen".to_owned(), Part::text(date)))),
            "conditions" => {
                Some(reading::conditions(text).map(|pairs| ("where".to_owned(), Part::Map(pairs))))
            }
            _ => None,
        };
        match read {
            Some(Ok((own, made))) => {
                slip.columns
                    .push((own.clone(), std::mem::replace(key, own)));
                *part = made;
            }
            Some(Err(trouble)) => troubles.push(trouble),
            None => {}
        }
    }
    troubles
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::content::{Input, read};

    fn guide() -> Guide {
        read(&Input::default()).0
    }

    #[test]
    fn the_slip_of_the_form_is_read() {
        let text = "# by: A member\nclaims:\n  - {plant: \"Bolbitis heudelotii\", trait: growth, seen: 2025-05-01/2025-06-20, where: {light: low}, grew: {from: 12 cm, to: 17 cm, over: 20 d}, remark: \"A, b\"}\n";
        let (slips, troubles) = slips(text, "pasted", &guide(), None);
        assert!(troubles.is_empty(), "{troubles:?}");
        let [slip] = &slips[..] else {
            panic!("{slips:?}")
        };
        assert_eq!(slip.plant, "Bolbitis heudelotii");
        assert_eq!(slip.place, "pasted, line 3");
        assert_eq!(slip.source, None);
        let keys: Vec<&str> = slip.keys.iter().map(|(key, _)| key.as_str()).collect();
        assert_eq!(keys, ["seen", "where", "grew", "remark"]);
    }

    #[test]
    fn a_slip_is_found_in_a_letter() {
        let slip = "claims:\n  - {plant: A b, trait: growth, says: slow}\n\n  - {plant: C d, trait: growth, says: fast}\n";
        let quoted: String = slip.lines().map(|line| format!("> {line}\n")).collect();
        for (text, first) in [
            (slip.to_owned(), 2),
            (
                format!("Dear club,\n\nhere it is:\n\n{slip}\nBest wishes\nA member"),
                6,
            ),
            (format!("On Sunday a member wrote:\n{quoted}"), 3),
            (quoted.clone(), 2),
        ] {
            let (slips, troubles) = slips(&text, "letter", &guide(), None);
            assert!(troubles.is_empty(), "{text}: {troubles:?}");
            assert_eq!(slips.len(), 2, "{text}");
            assert_eq!(slips[0].place, format!("letter, line {first}"), "{text}");
        }
        let two = "- {plant: A b, trait: growth, value: slow, says: fast}";
        assert!(!slips(two, "pasted", &guide(), None).1.is_empty());
    }

    #[test]
    fn what_is_no_slip_says_so() {
        for text in [
            "hello",
            "claims: none",
            "name: x\nclaims: []",
            "- {trait: growth}",
            "[",
        ] {
            assert!(
                !slips(text, "pasted", &guide(), None).1.is_empty(),
                "{text}"
            );
        }
    }
}

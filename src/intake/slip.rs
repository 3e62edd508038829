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
        Err(fault) => return fail(&format!("line {}: {}", fault.place.line, fault.title)),
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

/// The slips in a letter: what stands under each line `claims:`, with its lines where they were.
/// `None` where there is nothing beside one, and no sign of a quoted letter.
fn in_a_letter(text: &str) -> Option<String> {
    let bare = |line: &str| -> String {
        let mut rest = line.trim_start_matches('\u{feff}');
        while let Some(inner) = rest.strip_prefix('>') {
            rest = inner.strip_prefix(' ').unwrap_or(inner);
        }
        rest.trim_end().to_owned()
    };
    let lines: Vec<String> = text.lines().map(bare).collect();
    let mut blocks: Vec<(usize, Vec<String>)> = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        if line.trim().eq_ignore_ascii_case("claims:") {
            blocks.push((at, items(&lines[at + 1..])));
        }
    }
    let (first, _) = blocks.first()?;
    let is_of_slip = |at: usize| {
        let mut blocks = blocks.iter();
        blocks.any(|(head, items)| (*head..=head + items.len()).contains(&at))
    };
    let others = lines
        .iter()
        .enumerate()
        .filter(|(at, line)| !is_of_slip(*at) && !line.is_empty() && !line.starts_with('#'));
    let others: Vec<&String> = others.map(|(_, line)| line).collect();
    // A key of YAML beside `claims` is a fault to be told, and no letter.
    let is_key = |line: &&String| {
        line.split_once(':')
            .is_some_and(|(key, _)| key != "claims" && crate::content::is_id(key))
    };
    let is_quoted = text.lines().any(|line| line.starts_with('>'));
    let is_letter = is_quoted
        || blocks.len() > 1
        || !lines[*first].starts_with("claims:")
        || !others.is_empty() && !others.iter().any(is_key);
    if !is_letter {
        return None;
    }
    let mut out = vec![String::new(); lines.len()];
    out[*first] = "claims:".to_owned();
    for (head, items) in blocks {
        for (at, item) in items.into_iter().enumerate() {
            out[head + 1 + at] = item;
        }
    }
    Some(out.join("\n") + "\n")
}

/// The lines of a list at the start of some lines, all set in alike.
fn items(lines: &[String]) -> Vec<String> {
    let depth = |line: &str| line.len() - line.trim_start_matches(' ').len();
    let Some(first) = lines.iter().find(|line| !line.is_empty()) else {
        return Vec::new();
    };
    let own = depth(first);
    let is_inside = |line: &&String| {
        let at = depth(line);
        let is_item = at == own && line[at..].starts_with("- ");
        line.is_empty() || is_item || at > own || line.starts_with('#')
    };
    let of_list = lines.iter().take_while(is_inside);
    of_list
        .map(|line| match line.get(own..) {
            Some(rest) if !line.starts_with('#') => format!("  {rest}"),
            _ => String::new(),
        })
        .collect()
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
            (format!("{slip}\n-- \nRegards\nA member"), 2),
            (format!("{slip}-- \n- W. of the hall"), 2),
            (format!("{slip}  Kind regards, W"), 2),
            (format!("{slip}Kind regards\nA: member"), 2),
            (format!("claims: as promised\n\n{slip}"), 4),
            (format!("{slip}\n--- Original message ---\nclaims: none"), 2),
            (
                quoted.lines().map(|line| format!("> {line}\n")).collect(),
                2,
            ),
            (format!("Hello\n{}\nbye", slip.replace('\n', "\n   ")), 3),
            (slip.replace("claims", "Claims"), 2),
            (slip.replace("\n", "\r\n") + "Regards\r\n", 2),
            (slip.replace("\n\n", "\nand one more\nclaims:\n"), 2),
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

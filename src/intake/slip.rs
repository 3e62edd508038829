//! Observation slips as the guide's own form makes them: claims in YAML, each with its plant.

use std::sync::Arc;

use crate::content::Guide;
use crate::content::yaml::{self, Data, Node};
use crate::intake::dates::{DateOrder, seen};
use crate::intake::part::Part;
use crate::intake::reading;
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
    let fail = |why: &str| (Vec::new(), vec![Trouble::not_a_slip(why).of(0, name)]);
    let file: Arc<str> = Arc::from(name);
    let node = match yaml::parse(&file, text) {
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
            continue;
        };
        let mut slip = Slip {
            place: place.clone(),
            plant: String::new(),
            of: String::new(),
            source: None,
            keys: Vec::new(),
            columns: Vec::new(),
        };
        for (key, part) in entries {
            match (key.as_str(), part) {
                ("plant", Part::Text(text)) => slip.plant = text,
                ("trait", Part::Text(text)) => slip.of = text,
                ("source", Part::Text(text)) => slip.source = Some(text),
                (_, part) => slip.keys.push((key, part)),
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

/// Turns `value`, `date` and `conditions` into the keys of a claim.
fn as_claim(slip: &mut Slip, guide: &Guide, order: Option<DateOrder>) -> Vec<Trouble> {
    let mut troubles = Vec::new();
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

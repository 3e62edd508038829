//! Takes values out of YAML maps, collecting every fault on the way.

use jiff::civil::Date;

use crate::content::yaml::{Data, Node};
use crate::diagnostic::{Diagnostic, Place, Placed};
use crate::quantity::{Dimension, Quantity, QuantityFault, Span, number, quantity, span};

/// Where faults are collected.
pub(crate) type Faults = Vec<Diagnostic>;

/// A map with known keys, from which values are taken.
pub(crate) struct Fields {
    what: &'static str,
    /// Where the map starts.
    pub(crate) place: Place,
    entries: Vec<(crate::content::yaml::Key, Option<Node>)>,
}

impl Fields {
    /// Opens a map; keys outside `keys` are faults.
    pub(crate) fn open(
        node: Node,
        what: &'static str,
        keys: &[&str],
        faults: &mut Faults,
    ) -> Option<Fields> {
        let fields = Fields::open_any(node, what, faults)?;
        for (key, _) in &fields.entries {
            if !keys.contains(&key.text.as_str()) {
                faults.push(Diagnostic::unknown_key(&key.place, &key.text, what, keys));
            }
        }
        Some(fields)
    }

    /// Opens a map whose keys are the content's own.
    pub(crate) fn open_any(node: Node, what: &'static str, faults: &mut Faults) -> Option<Fields> {
        match node.data {
            Data::Map(entries) => Some(Fields {
                what,
                place: first_line(node.place, &entries),
                entries: entries.into_iter().map(|(k, v)| (k, Some(v))).collect(),
            }),
            _ => {
                let found = node.noun();
                faults.push(Diagnostic::wrong_shape(
                    &node.place,
                    &format!("{what} (a map)"),
                    found,
                ));
                None
            }
        }
    }

    /// All entries, in written order.
    pub(crate) fn into_entries(self) -> impl Iterator<Item = (Placed<String>, Node)> {
        self.entries
            .into_iter()
            .filter_map(|(key, node)| Some((Placed::new(key.text, key.place), node?)))
    }

    /// Where a key stands.
    pub(crate) fn key_place(&self, key: &str) -> Place {
        self.entries
            .iter()
            .find(|(k, _)| k.text == key)
            .map_or_else(|| self.place.clone(), |(k, _)| k.place.clone())
    }

    /// Whether a key is there and not yet taken.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.entries
            .iter()
            .any(|(k, node)| k.text == key && node.is_some())
    }

    /// Takes a value out; one written as nothing is a fault.
    pub(crate) fn take(&mut self, key: &str, faults: &mut Faults) -> Option<Node> {
        let (at, slot) = self.entries.iter_mut().find(|(k, _)| k.text == key)?;
        let node = slot.take()?;
        if matches!(node.data, Data::Null) {
            faults.push(Diagnostic::empty_text(&at.place, key));
            return None;
        }
        Some(node)
    }

    /// Takes a required value out.
    pub(crate) fn need(&mut self, key: &str, faults: &mut Faults) -> Option<Node> {
        if !self.has(key) {
            faults.push(Diagnostic::missing_key(&self.place, key, self.what));
            return None;
        }
        self.take(key, faults)
    }

    /// An optional text.
    pub(crate) fn text(&mut self, key: &str, faults: &mut Faults) -> Option<Placed<String>> {
        let node = self.take(key, faults)?;
        text(node, key, faults)
    }

    /// An optional text without its place.
    pub(crate) fn string(&mut self, key: &str, faults: &mut Faults) -> Option<String> {
        self.text(key, faults).map(|text| text.value)
    }

    /// A required text.
    pub(crate) fn need_text(&mut self, key: &str, faults: &mut Faults) -> Option<Placed<String>> {
        let node = self.need(key, faults)?;
        text(node, key, faults)
    }

    /// An optional list of texts; one text alone is a list of one.
    pub(crate) fn texts(&mut self, key: &str, faults: &mut Faults) -> Vec<Placed<String>> {
        match self.take(key, faults) {
            None => Vec::new(),
            Some(node) => match node.data {
                Data::List(items) => items
                    .into_iter()
                    .filter_map(|item| text(item, key, faults))
                    .collect(),
                _ => text(node, key, faults).into_iter().collect(),
            },
        }
    }

    /// An optional list of nodes.
    pub(crate) fn list(&mut self, key: &str, faults: &mut Faults) -> Vec<Node> {
        match self.take(key, faults) {
            None => Vec::new(),
            Some(node) => match node.data {
                Data::List(items) => items,
                _ => {
                    faults.push(Diagnostic::wrong_shape(
                        &node.place,
                        &format!("a list for `{key}`"),
                        node.noun(),
                    ));
                    Vec::new()
                }
            },
        }
    }

    /// An optional number.
    pub(crate) fn number(&mut self, key: &str, faults: &mut Faults) -> Option<Placed<f64>> {
        let text = self.text(key, faults)?;
        read_number(&text, faults).map(|value| Placed::new(value, text.place))
    }

    /// An optional day.
    pub(crate) fn day(&mut self, key: &str, faults: &mut Faults) -> Option<Date> {
        let text = self.text(key, faults)?;
        let day = day(&text.value);
        if day.is_none() {
            faults.push(Diagnostic::bad_date(
                &text.place,
                &text.value,
                "a day, such as `2025-04-01`",
            ));
        }
        day
    }

    /// An optional year, month or day, as written.
    pub(crate) fn date(&mut self, key: &str, faults: &mut Faults) -> Option<String> {
        let text = self.text(key, faults)?;
        if !is_date(&text.value) {
            faults.push(Diagnostic::bad_date(
                &text.place,
                &text.value,
                "a year, a month or a day, such as `2025`, `2025-04` or `2025-04-01`",
            ));
            return None;
        }
        Some(text.value)
    }

    /// An optional id-like word of a closed list.
    pub(crate) fn word<T: Copy>(
        &mut self,
        key: &str,
        noun: &str,
        words: &[(&str, T)],
        faults: &mut Faults,
    ) -> Option<T> {
        let text = self.text(key, faults)?;
        let found = words.iter().find(|(word, _)| *word == text.value);
        if found.is_none() {
            faults.push(Diagnostic::unknown_id(
                &text.place,
                noun,
                &text.value,
                words.iter().map(|(word, _)| *word),
            ));
        }
        found.map(|(_, value)| *value)
    }
}

/// A map starts where its first key stands, and is marked as far as that key reaches.
fn first_line(place: Place, entries: &[(crate::content::yaml::Key, Node)]) -> Place {
    match entries.first() {
        Some((key, _)) => key.place.clone(),
        None => place,
    }
}

/// A node as a text; an empty one is a fault.
pub(crate) fn text(node: Node, key: &str, faults: &mut Faults) -> Option<Placed<String>> {
    match node.data {
        Data::Text(value) if value.trim().is_empty() => {
            faults.push(Diagnostic::empty_text(&node.place, key));
            None
        }
        Data::Text(value) => Some(Placed::new(value, node.place)),
        _ => {
            faults.push(Diagnostic::wrong_shape(
                &node.place,
                &format!("a text for `{key}`"),
                node.noun(),
            ));
            None
        }
    }
}

/// A text as a finite number.
pub(crate) fn read_number(text: &Placed<String>, faults: &mut Faults) -> Option<f64> {
    let value = number(text.value.trim());
    if value.is_none() {
        faults.push(Diagnostic::bad_number(&text.place, &text.value));
    }
    value
}

/// A day that exists, `2025-04-01`.
pub(crate) fn day(text: &str) -> Option<Date> {
    let text = text.trim();
    let is_shaped = text.len() == 10
        && text.bytes().enumerate().all(|(i, b)| {
            if i == 4 || i == 7 {
                b == b'-'
            } else {
                b.is_ascii_digit()
            }
        });
    if is_shaped { text.parse().ok() } else { None }
}

/// Whether a text is a year, a month or a day that exists.
pub(crate) fn is_date(text: &str) -> bool {
    let text = text.trim();
    match text.len() {
        4 => day(&format!("{text}-01-01")).is_some(),
        7 => day(&format!("{text}-01")).is_some(),
        _ => day(text).is_some(),
    }
}

/// Whether a text is a day, a month, a year, or two of them with `/` between.
pub fn is_day_or_period(text: &str) -> bool {
    let parts: Vec<&str> = text.split('/').map(str::trim).collect();
    parts.len() <= 2 && parts.iter().all(|part| is_date(part))
}

/// Whether a date or a period reaches past a day; a month or a year does where it starts after it.
pub(crate) fn is_after(date_or_period: &str, day: Date) -> bool {
    let end = date_or_period.rsplit('/').next().unwrap_or_default().trim();
    let day = day.to_string();
    // ISO dates of one length sort as text.
    day.get(..end.len()).is_some_and(|day| end > day)
}

fn quantity_fault(
    text: &Placed<String>,
    fault: QuantityFault,
    dimensions: &[Dimension],
) -> Diagnostic {
    let is_near = fault.near.is_some_and(|near| dimensions.contains(&near));
    if fault.is_unknown_unit && !dimensions.is_empty() && !is_near {
        let units = units(dimensions);
        return Diagnostic::unknown_unit(&text.place, &text.value, &fault.why, &units);
    }
    // Where it is known what is measured, the example is of that.
    let hint = match (fault.hint, dimensions.first()) {
        (Some(hint), Some(dimension)) => {
            Some(hint.replace("`12 cm`", &format!("`{}`", dimension.example())))
        }
        (hint, _) => hint,
    };
    Diagnostic::bad_quantity(&text.place, &text.value, &fault.why, hint)
}

fn units(dimensions: &[Dimension]) -> String {
    let units: Vec<String> = dimensions.iter().map(|d| d.units()).collect();
    units.join(", ")
}

/// A text as a quantity of one of some dimensions.
pub(crate) fn read_quantity(
    text: &Placed<String>,
    dimensions: &[Dimension],
    faults: &mut Faults,
) -> Option<Quantity> {
    match quantity(&text.value) {
        Ok(found) => {
            check_dimension(text, found.unit.dimension, dimensions, faults).then_some(found)
        }
        Err(fault) => {
            faults.push(quantity_fault(text, fault, dimensions));
            None
        }
    }
}

/// A text as a span of one of some dimensions, its ends in order.
pub(crate) fn read_span(
    text: &Placed<String>,
    dimensions: &[Dimension],
    faults: &mut Faults,
) -> Option<Span> {
    let found = read_any_span(text, dimensions, faults)?;
    check_dimension(text, found.unit.dimension, dimensions, faults).then_some(found)
}

/// A text as a span of any dimension, its ends in order; units of some dimensions are hinted at.
pub(crate) fn read_any_span(
    text: &Placed<String>,
    hinted: &[Dimension],
    faults: &mut Faults,
) -> Option<Span> {
    match span(&text.value) {
        Ok(found) => {
            if let (Some(low), Some(high)) = (found.low, found.high)
                && low > high
            {
                faults.push(Diagnostic::span_reversed(&text.place, &text.value));
                return None;
            }
            Some(found)
        }
        Err(fault) => {
            faults.push(quantity_fault(text, fault, hinted));
            None
        }
    }
}

fn check_dimension(
    text: &Placed<String>,
    found: Dimension,
    dimensions: &[Dimension],
    faults: &mut Faults,
) -> bool {
    if dimensions.is_empty() || dimensions.contains(&found) {
        return true;
    }
    let nouns: Vec<&str> = dimensions.iter().map(|d| d.noun()).collect();
    faults.push(Diagnostic::wrong_dimension(
        &text.place,
        &text.value,
        found.noun(),
        &nouns.join(" or "),
        &units(dimensions),
    ));
    false
}

/// Whether a text can be an id and a part of an address.
pub fn is_id(text: &str) -> bool {
    !text.is_empty()
        && text
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
        && !text.starts_with('-')
        && !text.ends_with('-')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_month_is_after_a_day_once_it_starts_later() {
        let day = jiff::civil::date(2026, 5, 31);
        for date in [
            "2026-05-31",
            "2026-05",
            "2026",
            "2025-12-31",
            "2025/2026-05",
        ] {
            assert!(!is_after(date, day), "{date}");
        }
        for date in ["2026-06-01", "2026-06", "2027", "2026-05-01/2026-06-02"] {
            assert!(is_after(date, day), "{date}");
        }
    }
}

//! A short stamp of what a claim says, by which editions tell claims apart.
//!
//! It holds what is weighed and nothing else: not the file or the order, not the source's id, and
//! none of the remarks, so that moving a claim or mending a remark changes no stamp.

use crate::claims::Fate;
use crate::content::{ConditionKind, ConditionValue, Guide, RawClaim, RawValue, ValueBound};
use crate::quantity::{Quantity, Span};

/// Eight hexadecimal digits that stand for a text.
///
/// Our choice: 32 bits, as a stamp is only compared with those of one source on one trait of one
/// plant; among a hundred such claims two are alike by chance once in a million.
pub fn stamp(text: &str) -> String {
    blake3::hash(text.as_bytes()).to_hex()[..8].to_owned()
}

/// The stamp of a claim; `is_loose` and `fate` are what its name and its keys came to.
pub(crate) fn stamp_of(raw: &RawClaim, is_loose: bool, fate: &Fate, guide: &Guide) -> String {
    let mut parts = vec![value(&raw.value)];
    for (index, stated) in &raw.stated {
        let condition = &guide.conditions[*index];
        let shown = match (stated, &condition.kind) {
            (ConditionValue::Level(level), ConditionKind::Scale(scale)) => {
                guide.scales[*scale].levels[*level].id.clone()
            }
            (ConditionValue::Level(level), _) => level.to_string(),
            (ConditionValue::Word(word), _) => word.clone(),
            (ConditionValue::Span { low, high }, _) => format!("{low}..{high}"),
        };
        parts.push(format!("where {} {shown}", condition.id));
    }
    parts.extend(raw.kind.as_ref().map(|kind| format!("kind {kind}")));
    parts.extend(raw.of.map(|of| format!("of {}", of.id())));
    parts.extend(raw.se.map(|se| format!("se {se}")));
    parts.extend(raw.bound.map(|bound| {
        match bound {
            ValueBound::AtLeast => "at least",
            ValueBound::AtMost => "at most",
        }
        .to_owned()
    }));
    // The id of the source that is repeated is left out: a source may be given another id.
    parts.extend(raw.repeats.map(|_| "repeats".to_owned()));
    parts.extend(is_loose.then(|| "loose".to_owned()));
    parts.extend(match fate {
        Fate::Weighed => None,
        Fate::SetAside(_) => Some("set aside".to_owned()),
        Fate::Settling => Some("settling".to_owned()),
        Fate::Akin => Some("akin".to_owned()),
    });
    stamp(&parts.join("\n"))
}

fn value(value: &RawValue) -> String {
    match value {
        RawValue::Says(said) => format!("says {}", said.value.trim().to_lowercase()),
        RawValue::Rgr(rate) => format!("rgr {rate}"),
        RawValue::DoublesIn(time) => format!("doubles-in {}", size(time)),
        RawValue::Grew { from, to, over } => {
            format!("grew {} {} {}", size(from), size(to), size(over))
        }
        RawValue::Trimmed { every, leaving } => format!("trimmed {} {leaving}", size(every)),
        RawValue::Series(points) => {
            let points: Vec<String> = points
                .iter()
                .map(|(day, of)| format!("{day} {}", size(of)))
                .collect();
            format!("series {}", points.join(", "))
        }
        RawValue::Measures(span) => format!("measures {}", ends(span)),
    }
}

fn size(quantity: &Quantity) -> String {
    format!("{} {}", quantity.value, quantity.unit.name)
}

fn ends(span: &Span) -> String {
    let end = |end: Option<f64>| end.map_or_else(String::new, |end| end.to_string());
    let unit = span.unit.name;
    if span.is_single {
        format!("{} {unit}", end(span.low))
    } else {
        format!("{}..{} {unit}", end(span.low), end(span.high))
    }
}

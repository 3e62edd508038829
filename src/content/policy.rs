//! What the guide weighs by, and what the law lists: `weights.yaml` and `regulated.yaml`.

use std::collections::BTreeMap;

use crate::content::fields::{Faults, Fields, read_number, text};
use crate::content::yaml::{Data, Node};
use crate::content::{Covers, EvidenceRow, Listing, Weights};
use crate::diagnostic::{Diagnostic, Placed};

/// `regulated.yaml`, in written order.
pub(crate) fn regulated(node: Node, faults: &mut Faults) -> Vec<Listing> {
    let Data::List(items) = node.data else {
        faults.push(Diagnostic::wrong_shape(
            &node.place,
            "a list of listings",
            node.noun(),
        ));
        return Vec::new();
    };
    items
        .into_iter()
        .filter_map(|item| listing(item, faults))
        .collect()
}

fn listing(node: Node, faults: &mut Faults) -> Option<Listing> {
    let keys = &["listed-as", "covers", "place", "instrument", "date", "link"];
    let mut map = Fields::open(node, "a listing", keys, faults)?;
    let at = map.place.clone();
    let listed_as = map.need_text("listed-as", faults);
    let place = map.need_text("place", faults);
    let instrument = map.need_text("instrument", faults);
    let date = map.date("date", faults);
    let link = map
        .text("link", faults)
        .and_then(|link| check_link(link, faults));
    let covers = map.need("covers", faults)?;
    let mut covers = Fields::open(covers, "`covers`", &["genus", "taxon"], faults)?;
    let genus = covers.string("genus", faults);
    let taxon = covers.string("taxon", faults);
    let covers = match (genus, taxon) {
        (Some(genus), None) => Covers::Genus(genus),
        (None, Some(taxon)) => Covers::Taxon(taxon),
        _ => {
            faults.push(Diagnostic::missing_key(
                &covers.place,
                "genus` or `taxon",
                "`covers`",
            ));
            return None;
        }
    };
    Some(Listing {
        listed_as: listed_as?.value,
        covers,
        place: place?.value,
        instrument: instrument?.value,
        date,
        link,
        at,
    })
}

/// A link that may be shown.
pub(crate) fn check_link(link: Placed<String>, faults: &mut Faults) -> Option<String> {
    let folded = link.value.trim().to_ascii_lowercase();
    if ["https://", "http://", "mailto:"]
        .iter()
        .any(|scheme| folded.starts_with(scheme))
        && !link
            .value
            .chars()
            .any(|c| c.is_control() || c == ' ' || c == '"' || c == '<')
    {
        return Some(link.value.trim().to_owned());
    }
    faults.push(Diagnostic::bad_link(&link.place, &link.value));
    None
}

impl Default for Weights {
    /// The numbers of the format's own example. Our choice; the method page says so.
    fn default() -> Weights {
        let kinds = [
            ("study", 1.0),
            ("log", 0.8),
            ("note", 0.5),
            ("label", 0.3),
            ("article", 0.25),
            ("hearsay", 0.1),
        ];
        Weights {
            kinds: kinds
                .iter()
                .map(|(kind, weight)| ((*kind).to_owned(), *weight))
                .collect(),
            second_hand: ["label", "article", "hearsay"].map(str::to_owned).to_vec(),
            second_hand_cap: 1.0,
            further_note: 0.5,
            loose_name: 0.3,
            unstated: 0.7,
            per_step: 0.4,
            mismatch: 0.3,
            measurement_error: 0.25,
            robust: EvidenceRow {
                weight: 2.5,
                voices: 3.0,
            },
            medium: EvidenceRow {
                weight: 1.2,
                voices: 2.0,
            },
            agreement: (0.85, 0.65),
            span_agreement: (0.7, 0.45),
            met: 0.8,
            failed: 0.2,
        }
    }
}

const WEIGHT_KEYS: &[&str] = &[
    "kinds",
    "second-hand",
    "second-hand-cap",
    "further-note",
    "loose-name",
    "unstated",
    "per-step",
    "mismatch",
    "measurement-error",
    "evidence",
    "agreement",
    "span-agreement",
    "decision",
];

/// `weights.yaml`: what is not written keeps its default.
pub(crate) fn weights(node: Node, faults: &mut Faults) -> Weights {
    let mut out = Weights::default();
    let Some(mut map) = Fields::open(node, "weights.yaml", WEIGHT_KEYS, faults) else {
        return out;
    };
    let written_kinds = map.take("kinds", faults);
    if let Some(fields) = written_kinds.and_then(|node| Fields::open_any(node, "`kinds`", faults)) {
        let mut kinds = BTreeMap::new();
        for (kind, node) in fields.into_entries() {
            let weight = text(node, &kind.value, faults).and_then(|text| {
                at_least_zero(&text, &format!("the weight of `{}`", kind.value), faults)
            });
            // A kind with a bad weight is still a kind: what names it is not reported as well.
            kinds.insert(kind.value, weight.unwrap_or(0.0));
        }
        out.kinds = kinds;
        out.second_hand.retain(|kind| out.kinds.contains_key(kind));
    }
    if map.has("second-hand") {
        let mut kinds = Vec::new();
        for kind in map.texts("second-hand", faults) {
            if out.kinds.contains_key(&kind.value) {
                kinds.push(kind.value);
            } else {
                faults.push(Diagnostic::unknown_id(
                    &kind.place,
                    "kind of source",
                    &kind.value,
                    out.kinds.keys().map(String::as_str),
                ));
            }
        }
        out.second_hand = kinds;
    }
    let singles: [(&str, &mut f64); 7] = [
        ("second-hand-cap", &mut out.second_hand_cap),
        ("further-note", &mut out.further_note),
        ("loose-name", &mut out.loose_name),
        ("unstated", &mut out.unstated),
        ("per-step", &mut out.per_step),
        ("mismatch", &mut out.mismatch),
        ("measurement-error", &mut out.measurement_error),
    ];
    for (key, slot) in singles {
        if let Some(text) = map.text(key, faults)
            && let Some(value) = at_least_zero(&text, &format!("`{key}`"), faults)
        {
            *slot = value;
        }
    }
    let evidence = map.take("evidence", faults);
    if let Some(mut rows) =
        evidence.and_then(|node| Fields::open(node, "`evidence`", &["robust", "medium"], faults))
    {
        let place = rows.place.clone();
        for (key, row) in [("robust", &mut out.robust), ("medium", &mut out.medium)] {
            let node = rows.take(key, faults);
            let Some(mut cells) = node
                .and_then(|node| Fields::open(node, "thresholds", &["weight", "voices"], faults))
            else {
                continue;
            };
            for (key, slot) in [("weight", &mut row.weight), ("voices", &mut row.voices)] {
                if let Some(text) = cells.text(key, faults)
                    && let Some(value) = at_least_zero(&text, &format!("`{key}`"), faults)
                {
                    *slot = value;
                }
            }
        }
        if out.medium.weight > out.robust.weight || out.medium.voices > out.robust.voices {
            faults.push(Diagnostic::thresholds_crossed(&place, "medium", "robust"));
        }
    }
    pair(
        &mut map,
        "agreement",
        ["high", "medium"],
        &mut out.agreement,
        faults,
    );
    pair(
        &mut map,
        "span-agreement",
        ["high", "medium"],
        &mut out.span_agreement,
        faults,
    );
    let mut decision = (out.met, out.failed);
    pair(
        &mut map,
        "decision",
        ["met", "failed"],
        &mut decision,
        faults,
    );
    (out.met, out.failed) = decision;
    out
}

/// Two thresholds between 0 and 1, the first the higher.
fn pair(
    map: &mut Fields,
    key: &'static str,
    names: [&'static str; 2],
    slot: &mut (f64, f64),
    faults: &mut Faults,
) {
    let node = map.take(key, faults);
    let Some(mut cells) = node.and_then(|node| Fields::open(node, "thresholds", &names, faults))
    else {
        return;
    };
    let place = cells.place.clone();
    for (name, slot) in names.iter().zip([&mut slot.0, &mut slot.1]) {
        let Some(text) = cells.text(name, faults) else {
            continue;
        };
        let Some(value) = read_number(&text, faults) else {
            continue;
        };
        if !(0.0..=1.0).contains(&value) {
            faults.push(Diagnostic::number_range(
                &text.place,
                &format!("`{name}`"),
                &text.value,
                "between 0 and 1",
            ));
            continue;
        }
        *slot = value;
    }
    if slot.1 > slot.0 {
        faults.push(Diagnostic::thresholds_crossed(&place, names[1], names[0]));
    }
}

fn at_least_zero(text: &Placed<String>, what: &str, faults: &mut Faults) -> Option<f64> {
    let value = read_number(text, faults)?;
    if value < 0.0 {
        faults.push(Diagnostic::number_range(
            &text.place,
            what,
            &text.value,
            "zero or more",
        ));
        return None;
    }
    Some(value)
}

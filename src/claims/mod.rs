//! Claims with everything resolved: whose, of which plants, how much on which level.
//!
//! Knows nothing of other claims: voices and weights are worked out later.

pub mod mass;

mod value;

mod misprint;

mod stamp;

mod unlikely;

use std::collections::BTreeMap;

pub(crate) use misprint::misprints;
pub use stamp::stamp;
pub use value::{shown, shown_base_unit, shown_span, shown_unit, unit_of};

use crate::content::{ConditionValue, Guide, Measure, RawClaim, RawValue, Stage, TraitKind};
use crate::diagnostic::{Diagnostic, Place, Placed};
use crate::names::parse::Openness;
use crate::names::{Found, Names, PlantId, PlantName, Surety};
use crate::quantity::{Dimension, Unit};

/// One statement by one source about one trait of one plant, or of the plants of a loose name.
#[derive(Debug, Clone)]
pub struct Claim {
    /// Index of the trait in the guide.
    pub trait_index: usize,
    /// Index of the source in the guide.
    pub source: usize,
    /// Kind of source that weighs: the claim's own, else the source's.
    pub kind: String,
    /// Whether the name it was made under fits more than one plant.
    pub is_loose: bool,
    /// Whether it is weighed, and if not, why.
    pub fate: Fate,
    /// Conditions it states, by index.
    pub stated: BTreeMap<usize, ConditionValue>,
    /// The source (index) that this claim alone takes from.
    pub repeats: Option<usize>,
    /// What it says, as a mass over levels or a span.
    pub value: Value,
    /// The measured value behind it, if it can be pooled.
    pub measured: Option<Measured>,
    /// What it says, in words.
    pub words: String,
    /// A short stamp of all of it that is weighed: the same wherever the claim stands.
    pub stamp: String,
    /// The name that the source used.
    pub used_name: Option<String>,
    /// Where in the source.
    pub at: Option<String>,
    /// When it was seen.
    pub seen: Option<String>,
    /// In which tank.
    pub tank: Option<String>,
    /// A picture.
    pub picture: Option<Placed<String>>,
    /// The source's words.
    pub quote: Option<String>,
    /// The club's remark.
    pub remark: Option<String>,
    /// Where the claim stands.
    pub place: Place,
}

/// Whether a claim is weighed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It is weighed.
    Weighed,
    /// Shown only: the club set it aside, with a reason.
    SetAside(String),
    /// Shown only: the plant was still changing over.
    Settling,
    /// Shown only: made under an *aff.* name, which means "not that one".
    Akin,
}

/// What a claim says.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Mass over the levels of the trait's scale; sums to 1.
    Mass(Vec<f64>),
    /// A span in the trait's own unit.
    Span {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
}

/// A measured value that can be pooled.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Size measure (`length`, `mass`, `area`, `count`, `unstated`), or `value`.
    pub key: &'static str,
    /// The value: d⁻¹ for growth, else in the trait's own unit.
    pub y: f64,
    /// Its own standard error, if it has one.
    pub own_s: Option<f64>,
}

/// All claims of a guide.
#[derive(Debug, Clone, Default)]
pub struct Claims {
    /// Every claim once, in the order of entries, sources, genera.
    pub all: Vec<Claim>,
    /// For each plant, by trait index, the claims that speak of it.
    pub of_plant: Vec<BTreeMap<usize, Vec<usize>>>,
    /// For each source, the number of its claims.
    pub of_source: Vec<usize>,
}

/// What a claim is attached to.
struct Attached {
    plants: Vec<PlantId>,
    is_loose: bool,
    is_akin: bool,
}

/// Where claims are written. Claims stand in this order in [`Claims::all`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Owner {
    /// The entry of a plant.
    Plant(PlantId),
    /// The file of a source (index).
    Source(usize),
    /// The file of a genus (index).
    Genus(usize),
}

impl Owner {
    /// Everything that may have claims, in order.
    pub(crate) fn all(guide: &Guide, names: &Names) -> Vec<Owner> {
        let plants = (0..names.plants.len()).map(Owner::Plant);
        let sources = (0..guide.sources.len()).map(Owner::Source);
        let genera = (0..guide.genera.len()).map(Owner::Genus);
        plants.chain(sources).chain(genera).collect()
    }

    /// Its claims as written.
    pub(crate) fn raws<'a>(self, guide: &'a Guide, names: &Names) -> &'a [RawClaim] {
        match self {
            Owner::Plant(plant) => &guide.plants[names.plants[plant].entry].claims,
            Owner::Source(source) => &guide.sources[source].claims,
            Owner::Genus(genus) => &guide.genera[genus].claims,
        }
    }
}

/// A claim that could be resolved: as written, in full, and the plants it speaks of.
pub(crate) struct Made<'a> {
    pub(crate) raw: &'a RawClaim,
    pub(crate) claim: Claim,
    pub(crate) plants: Vec<PlantId>,
}

/// Resolves the claims of one file.
pub(crate) fn of_owner<'a>(
    owner: Owner,
    guide: &'a Guide,
    names: &Names,
) -> (Vec<Made<'a>>, Vec<Diagnostic>) {
    of_raws(owner, owner.raws(guide, names), guide, names)
}

/// Resolves claims as if they were those of a file.
pub(crate) fn of_raws<'a>(
    owner: Owner,
    raws: &'a [RawClaim],
    guide: &Guide,
    names: &Names,
) -> (Vec<Made<'a>>, Vec<Diagnostic>) {
    let mut faults = Vec::new();
    let mut out = Vec::new();
    for raw in raws {
        let attached = match owner {
            Owner::Plant(plant) => attached_in_entry(raw, plant, names, &mut faults),
            Owner::Source(_) => attached_in_source(raw, names, &mut faults),
            Owner::Genus(genus) => attached_in_genus(raw, genus, names),
        };
        out.extend(made(raw, attached, guide, &mut faults));
    }
    (out, faults)
}

/// Resolves every claim of the guide.
pub fn claims(guide: &Guide, names: &Names) -> (Claims, Vec<Diagnostic>) {
    let mut faults = Vec::new();
    let mut out = Claims {
        all: Vec::new(),
        of_plant: vec![BTreeMap::new(); names.plants.len()],
        of_source: vec![0; guide.sources.len()],
    };
    let mut raws: Vec<&RawClaim> = Vec::new();
    for owner in Owner::all(guide, names) {
        for raw in owner.raws(guide, names) {
            out.of_source[raw.source] += 1;
        }
        let (made, found) = of_owner(owner, guide, names);
        faults.extend(found);
        for one in made {
            let at = out.all.len();
            for plant in one.plants {
                out.of_plant[plant]
                    .entry(one.claim.trait_index)
                    .or_default()
                    .push(at);
            }
            raws.push(one.raw);
            out.all.push(one.claim);
        }
    }
    faults.extend(mixed_hardness(guide));
    for plant in 0..names.plants.len() {
        faults.extend(graded_genus(plant, guide, names, &out));
        faults.extend(misprints(plant, guide, &out, &|id| raws[id]));
    }
    (out, faults)
}

/// A genus gets no grade: an entry may stand under one, for a legal notice or until the plant is
/// determined, but nothing may be weighed for it as if it were one plant.
pub(crate) fn graded_genus(
    plant: PlantId,
    guide: &Guide,
    names: &Names,
    claims: &Claims,
) -> Option<Diagnostic> {
    let is_weighed = claims.of_plant[plant]
        .values()
        .flatten()
        .any(|id| claims.all[*id].fate == Fate::Weighed);
    let name = &names.plants[plant];
    if is_weighed && is_genus_alone(name) {
        let name = &guide.plants[name.entry].name;
        return Some(Diagnostic::genus_as_plant(&name.place, &name.value));
    }
    None
}

/// Whether a name is a genus, alone or with *sp.* or *spp.*, and nothing that says which plant.
fn is_genus_alone(plant: &PlantName) -> bool {
    let name = &plant.parsed;
    let is_open = matches!(
        name.doubt(),
        Openness::Sp | Openness::Spp | Openness::GenusAlone
    );
    is_open
        && name.species.is_none()
        && name.infraspecific_epithet.is_none()
        && name.cultivar.is_none()
        && name.group.is_none()
        && name.grex.is_none()
        && name.trade_designation.is_none()
}

/// A span trait keeps to general or to carbonate hardness: the first that is named decides.
pub(crate) fn mixed_hardness(guide: &Guide) -> Vec<Diagnostic> {
    let mut first: BTreeMap<usize, Unit> = BTreeMap::new();
    let in_plants = guide.plants.iter().flat_map(|plant| &plant.claims);
    let in_sources = guide.sources.iter().flat_map(|source| &source.claims);
    let in_genera = guide.genera.iter().flat_map(|genus| &genus.claims);
    let mut faults = Vec::new();
    for raw in in_plants.chain(in_sources).chain(in_genera) {
        let of = &guide.traits[raw.trait_index];
        let (TraitKind::Span(Measure::Hardness), RawValue::Measures(span)) = (&of.kind, &raw.value)
        else {
            continue;
        };
        if span.unit.dimension == Dimension::Concentration {
            continue;
        }
        let kept = first.entry(raw.trait_index).or_insert(span.unit);
        if kept.dimension != span.unit.dimension {
            faults.push(Diagnostic::mixed_hardness(
                &raw.value_place,
                &of.id,
                kept.name,
            ));
        }
    }
    faults
}

fn made<'a>(
    raw: &'a RawClaim,
    attached: Option<Attached>,
    guide: &Guide,
    faults: &mut Vec<Diagnostic>,
) -> Option<Made<'a>> {
    let value = value::value(raw, guide, faults);
    let (attached, (value, measured)) = (attached?, value?);
    faults.extend(unlikely::unlikely(raw, measured.as_ref(), guide));
    let fate = if let Some(reason) = &raw.set_aside {
        Fate::SetAside(reason.clone())
    } else if attached.is_akin {
        Fate::Akin
    } else if raw.stage == Some(Stage::Settling) {
        Fate::Settling
    } else {
        Fate::Weighed
    };
    let stamp = stamp::stamp_of(raw, attached.is_loose, &fate, guide);
    let claim = Claim {
        trait_index: raw.trait_index,
        source: raw.source,
        kind: raw
            .kind
            .clone()
            .unwrap_or_else(|| guide.sources[raw.source].kind.clone()),
        is_loose: attached.is_loose,
        fate,
        stated: raw.stated.clone(),
        repeats: raw.repeats,
        value,
        measured,
        words: value::words(raw, guide),
        stamp,
        used_name: raw
            .used_name
            .as_ref()
            .or(if attached.is_loose {
                raw.plant.as_ref()
            } else {
                None
            })
            .map(|name| name.value.clone()),
        at: raw.at.clone(),
        seen: raw.seen.clone(),
        tank: raw.tank.clone(),
        picture: raw.picture.clone(),
        quote: raw.quote.clone(),
        remark: raw.remark.clone(),
        place: raw.place.clone(),
    };
    Some(Made {
        raw,
        claim,
        plants: attached.plants,
    })
}

/// How a name that a source used bears on a plant: loosely, or not at all (*aff.*).
fn used(
    name: Option<&Placed<String>>,
    plant: PlantId,
    names: &Names,
    faults: &mut Vec<Diagnostic>,
) -> (bool, bool) {
    let Some(name) = name else {
        return (false, false);
    };
    match names.find(&name.value) {
        Found::Plant(found, surety) => {
            if found != plant && surety == Surety::Exact {
                faults.push(Diagnostic::as_another(
                    &name.place,
                    &name.value,
                    &names.plants[found].name,
                ));
            }
            (surety == Surety::Cf, surety == Surety::Aff)
        }
        Found::Several(_) | Found::Loose { .. } => (true, false),
        Found::Nothing {
            is_loose, is_akin, ..
        } => {
            if !is_loose && !is_akin && !names.is_unread(&name.value) {
                faults.push(Diagnostic::unknown_as(
                    &name.place,
                    &name.value,
                    &names.plants[plant].name,
                ));
            }
            (is_loose, is_akin)
        }
    }
}

fn attached_in_entry(
    raw: &RawClaim,
    plant: PlantId,
    names: &Names,
    faults: &mut Vec<Diagnostic>,
) -> Option<Attached> {
    let (is_loose, is_akin) = used(raw.used_name.as_ref(), plant, names, faults);
    Some(Attached {
        plants: vec![plant],
        is_loose,
        is_akin,
    })
}

fn attached_in_source(
    raw: &RawClaim,
    names: &Names,
    faults: &mut Vec<Diagnostic>,
) -> Option<Attached> {
    let name = raw.plant.as_ref()?;
    match names.find(&name.value) {
        Found::Plant(plant, surety) => {
            let (is_loose, is_akin) = used(raw.used_name.as_ref(), plant, names, faults);
            Some(Attached {
                plants: vec![plant],
                is_loose: is_loose || surety == Surety::Cf,
                is_akin: is_akin || surety == Surety::Aff,
            })
        }
        Found::Loose { plants, .. } => Some(Attached {
            is_akin: false,
            plants,
            is_loose: true,
        }),
        Found::Several(plants) => {
            let fits: Vec<&str> = plants
                .iter()
                .map(|p| names.plants[*p].name.as_str())
                .collect();
            faults.push(Diagnostic::ambiguous_name(&name.place, &name.value, fits));
            None
        }
        Found::Nothing { near, .. } => {
            names.unknown(name, &near, faults);
            None
        }
    }
}

fn attached_in_genus(raw: &RawClaim, genus: usize, names: &Names) -> Option<Attached> {
    let whole = || names.of_genus(genus);
    let (plants, is_akin) = match raw.used_name.as_ref().map(|name| names.find(&name.value)) {
        Some(Found::Loose {
            genus: found,
            row: Some(row),
            ..
        }) if found == genus => (names.loose[genus][row].covers.clone(), false),
        Some(Found::Plant(_, Surety::Aff)) => (whole(), true),
        Some(Found::Nothing { is_akin, .. }) => (whole(), is_akin),
        _ => (whole(), false),
    };
    Some(Attached {
        plants,
        is_loose: true,
        is_akin,
    })
}

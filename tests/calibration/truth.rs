//! Plants whose truth is known, and the standings that follow from it.
//!
//! Written apart from the program's own reckoning of standings: it knows levels, not claims.

use std::collections::BTreeMap;
use std::f64::consts::LN_2;

use pondweigh::content::{Bound, Clause, ConditionValue, Guide, Limit, Role, Water};
use pondweigh::roles::Word;

use crate::assumptions::Assumptions;
use crate::draw::Draw;

/// Doubling times between the levels of growth in days; those of `guide/traits.yaml`.
pub(crate) const GROWTH_DAYS: [f64; 4] = [140.0, 49.0, 21.0, 7.0];
/// Light between the levels in µmol/m²/s.
pub(crate) const LIGHT: [f64; 3] = [15.0, 40.0, 90.0];
/// Root length between the levels in cm.
pub(crate) const ROOTS: [f64; 2] = [1.0, 15.0];

/// From how cold to how warm the tanks are, °C; the temperature of `guide/waters/`.
const TANKS: (f64, f64) = (21.0, 25.0);

/// A place on the scale of light.
pub(crate) const LOW: usize = 1;
pub(crate) const MEDIUM: usize = 2;
pub(crate) const HIGH: usize = 3;

const GENERA: [&str; 10] = [
    "Primaria",
    "Secundaria",
    "Tertiaria",
    "Quartaria",
    "Quintaria",
    "Sextaria",
    "Septimaria",
    "Octavaria",
    "Nonaria",
    "Decimaria",
];
const EPITHETS: [&str; 12] = [
    "alba", "brevis", "clara", "densa", "exilis", "firma", "gracilis", "humilis", "mollis",
    "pallida", "rara", "tenuis",
];

/// A plant with all its truth.
#[derive(Debug, Clone)]
pub(crate) struct Plant {
    pub(crate) genus: usize,
    pub(crate) name: String,
    pub(crate) form: String,
    /// How readily sources choose it.
    pub(crate) popularity: f64,
    /// Logarithm of the relative growth rate per day in medium light without gas.
    pub(crate) ln_rate: f64,
    /// Least light for good growth, µmol/m²/s.
    pub(crate) light: f64,
    /// By how much growth falls in low light, and rises in high light: log units.
    pub(crate) loss: f64,
    pub(crate) gain: f64,
    pub(crate) gas: f64,
    pub(crate) feeding: usize,
    /// Root length, cm.
    pub(crate) roots: f64,
    /// °C.
    pub(crate) warmth: (f64, f64),
    is_weak: bool,
    vigour: f64,
    /// Logarithms of the rates that no plant exceeds, and no dwindling one reaches.
    fastest: f64,
    dwindling: f64,
}

impl Plant {
    /// Logarithm of its growth rate in this light, with or without gas.
    pub(crate) fn growth(&self, light: usize, has_gas: bool) -> f64 {
        let by_light = match light {
            0 => -2.0 * self.loss,
            LOW => -self.loss,
            MEDIUM => 0.0,
            _ => self.gain,
        };
        let by_gas = if has_gas { self.gas } else { 0.0 };
        let most = if self.dwindles(light) {
            self.dwindling
        } else {
            self.fastest
        };
        (self.ln_rate + by_light + by_gas).min(most)
    }

    /// By how many levels it is short of light.
    fn short(&self, light: usize) -> usize {
        self.light_level().saturating_sub(light)
    }

    /// Whether it loses more than it makes in this light. A plant that cannot bear the warmth of
    /// the tanks does so in any light: what makes it wrong for the water also stops its growth.
    fn dwindles(&self, light: usize) -> bool {
        if self.is_weak || self.warmth.0 > TANKS.0 || self.warmth.1 < TANKS.1 {
            return true;
        }
        match self.short(light) {
            0 => false,
            1 => self.vigour < 0.75,
            _ => true,
        }
    }

    /// Level of its light need.
    pub(crate) fn light_level(&self) -> usize {
        level(&LIGHT, self.light)
    }

    /// Whether it dies, dwindles, holds or thrives in this light: 0 to 3.
    pub(crate) fn survival(&self, light: usize) -> usize {
        match self.short(light) {
            0 | 1 if self.dwindles(light) => 1,
            0 if self.vigour < 0.7 && self.growth(light, false) >= rate(GROWTH_DAYS[0]).ln() => 3,
            0 | 1 => 2,
            _ => 0,
        }
    }

    /// Its true levels in this light, by trait.
    pub(crate) fn levels(&self, light: usize) -> BTreeMap<&'static str, usize> {
        BTreeMap::from([
            ("growth", growth_level(self.growth(light, false))),
            ("light-need", self.light_level()),
            ("survival", self.survival(light)),
            ("feeding", self.feeding),
            ("root-reach", level(&ROOTS, self.roots)),
        ])
    }
}

/// Relative growth rate per day of a doubling time in days.
pub(crate) fn rate(doubling: f64) -> f64 {
    LN_2 / doubling
}

/// Level of a value between edges; on an edge, the higher.
pub(crate) fn level(edges: &[f64], value: f64) -> usize {
    edges.iter().filter(|edge| value >= **edge).count()
}

/// Level of a growth rate, from its logarithm.
pub(crate) fn growth_level(ln_rate: f64) -> usize {
    level(&GROWTH_DAYS.map(rate), ln_rate.exp())
}

/// The plants of one club.
pub(crate) fn plants(of: &Assumptions, draw: &mut Draw) -> Vec<Plant> {
    let truth = &of.truth;
    assert!(truth.genera <= GENERA.len(), "there are names enough");
    let forms: Vec<&String> = of.forms.keys().collect();
    let shares: Vec<f64> = of.forms.values().map(|form| form.share).collect();
    let genera: Vec<(String, f64)> = (0..truth.genera)
        .map(|_| {
            let form = forms[draw.pick(&shares)].clone();
            (form, draw.normal(0.0, truth.genus_spread))
        })
        .collect();
    let mut sizes = vec![1; truth.genera];
    while sizes.iter().sum::<usize>() < truth.plants {
        let genus = draw.below(truth.genera);
        if sizes[genus] < EPITHETS.len() {
            sizes[genus] += 1;
        }
    }
    let mut out = Vec::new();
    for (genus, (form, lean)) in genera.iter().enumerate() {
        for epithet in &EPITHETS[..sizes[genus]] {
            let name = format!("{} {epithet}", GENERA[genus]);
            out.push(plant(of, draw, genus, name, form, *lean));
        }
    }
    out
}

fn plant(
    of: &Assumptions,
    draw: &mut Draw,
    genus: usize,
    name: String,
    form: &str,
    lean: f64,
) -> Plant {
    let truth = &of.truth;
    let like = &of.forms[form];
    let spread = if draw.chance(truth.strays) {
        truth.stray_spread
    } else {
        truth.plant_spread
    };
    let light = (like.light.ln() + draw.normal(0.0, 0.45)).exp();
    let loss = (of.light_loss[level(&LIGHT, light)] + draw.normal(0.0, 0.15)).max(0.0);
    let low = draw.normal(17.0, 2.0).round();
    let high = if draw.chance(truth.cool) {
        draw.normal(23.0, 0.7)
    } else {
        draw.normal(28.5, 1.3)
    };
    Plant {
        genus,
        name,
        form: form.to_owned(),
        popularity: draw.normal(0.0, truth.popularity_spread).exp(),
        ln_rate: rate(like.doubling).ln() + lean + draw.normal(0.0, spread),
        light,
        loss,
        gain: truth.high_light_gain * draw.between(0.4, 1.6),
        gas: truth.gas_gain * draw.between(0.4, 1.6),
        feeding: draw.pick(&like.feeding),
        roots: (like.roots.ln() + draw.normal(0.0, 0.6)).exp(),
        warmth: (low, high.round().max(low + 2.0)),
        is_weak: draw.chance(truth.weak),
        vigour: draw.between(0.0, 1.0),
        fastest: rate(of.fastest).ln(),
        dwindling: rate(of.dwindling).ln(),
    }
}

/// The light of a water, as a place on the scale.
pub(crate) fn light_of(guide: &Guide, water: &Water) -> usize {
    let light = guide.conditions.iter().position(|c| c.id == "light");
    match water.conditions.get(&light.expect("a condition `light`")) {
        Some(ConditionValue::Level(level)) => *level,
        other => panic!("the light of a water is a level, not {other:?}"),
    }
}

/// The true standing: the clauses asked of the true levels. `None` where its form has none.
pub(crate) fn standing(plant: &Plant, role: &Role, water: &Water, guide: &Guide) -> Option<Word> {
    if let Some(forms) = &role.forms
        && !forms.contains(&plant.form)
    {
        return None;
    }
    let levels = plant.levels(light_of(guide, water));
    // Clauses that are asked here, and whether each holds.
    let asked = |clauses: &[Clause]| -> Vec<bool> {
        clauses
            .iter()
            .filter_map(|clause| holds(clause, plant, &levels, water, guide))
            .collect()
    };
    let any = |answers: &[bool]| answers.iter().any(|holds| *holds);
    let all = |answers: &[bool]| !answers.is_empty() && answers.iter().all(|holds| *holds);
    let word = if any(&asked(&guide.every_role)) || any(&asked(&role.unsuited)) {
        Word::Unsuited
    } else if all(&asked(&role.mainstay)) {
        Word::Mainstay
    } else if all(&asked(&role.support)) {
        Word::Support
    } else {
        Word::Bystander
    };
    Some(word)
}

/// Whether a clause holds; `None` where it is not asked.
fn holds(
    clause: &Clause,
    plant: &Plant,
    levels: &BTreeMap<&'static str, usize>,
    water: &Water,
    guide: &Guide,
) -> Option<bool> {
    if let Some(forms) = &clause.forms
        && !forms.contains(&plant.form)
    {
        return None;
    }
    for (condition, allowed) in &clause.when {
        if !allowed.contains(water.conditions.get(condition)?) {
            return None;
        }
    }
    let id = guide.traits[clause.trait_index].id.as_str();
    let limit = |limit: &Limit| match limit {
        Limit::Level(level) => Some(*level),
        Limit::Water(condition) => match water.conditions.get(condition)? {
            ConditionValue::Level(level) => Some(*level),
            _ => None,
        },
    };
    let bears = |condition: &usize| match water.conditions.get(condition)? {
        ConditionValue::Span { low, high } if id == "temperature" => {
            Some(plant.warmth.0 <= *low && plant.warmth.1 >= *high)
        }
        _ => None,
    };
    Some(match &clause.bound {
        Bound::AtLeast(at) => levels[id] >= limit(at)?,
        Bound::AtMost(at) => levels[id] <= limit(at)?,
        Bound::Above(at) => levels[id] > limit(at)?,
        Bound::Below(at) => levels[id] < limit(at)?,
        Bound::Covers(condition) => bears(condition)?,
        Bound::Outside(condition) => !bears(condition)?,
    })
}

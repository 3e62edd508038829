//! What the simulated clubs are like: `assumptions.yaml`, read and looked up.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::{Value as Json, json};

/// The file itself.
pub(crate) const TEXT: &str = include_str!("assumptions.yaml");

/// The whole file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct Assumptions {
    pub(crate) status: String,
    pub(crate) seed: u64,
    pub(crate) sets: Vec<SetOf>,
    pub(crate) numbers: Vec<Number>,
    pub(crate) kinds: BTreeMap<String, KindOf>,
    pub(crate) speaks: BTreeMap<String, Speaks>,
    pub(crate) vocabularies: [f64; 3],
    pub(crate) blunder: f64,
    pub(crate) copied: f64,
    pub(crate) second_hand_light_stated: f64,
    pub(crate) truth: TruthOf,
    pub(crate) forms: BTreeMap<String, FormOf>,
    pub(crate) light_loss: [f64; 4],
    pub(crate) fastest: f64,
    pub(crate) dwindling: f64,
}

/// One set of assumptions.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SetOf {
    pub(crate) id: String,
    pub(crate) title: String,
    pub(crate) plain: String,
}

/// One number, with its value in each set.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Number {
    pub(crate) id: String,
    pub(crate) title: String,
    pub(crate) unit: String,
    pub(crate) means: String,
    pub(crate) value: BTreeMap<String, f64>,
}

/// What sources of one kind are like.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct KindOf {
    pub(crate) coverage: f64,
    pub(crate) reading: f64,
    pub(crate) own: f64,
    pub(crate) measured: f64,
    pub(crate) slip: f64,
    pub(crate) degrees: f64,
}

/// How often a trait besides growth is spoken on.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct Speaks {
    pub(crate) observers: f64,
    pub(crate) second_hand: f64,
}

/// What plants are like.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct TruthOf {
    pub(crate) plants: usize,
    pub(crate) genera: usize,
    pub(crate) genus_spread: f64,
    pub(crate) plant_spread: f64,
    pub(crate) strays: f64,
    pub(crate) stray_spread: f64,
    pub(crate) popularity_spread: f64,
    pub(crate) high_light_gain: f64,
    pub(crate) gas_gain: f64,
    pub(crate) weak: f64,
    pub(crate) cool: f64,
    pub(crate) tank_light: [f64; 3],
    pub(crate) tank_gas: f64,
}

/// What plants of one form are like.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct FormOf {
    pub(crate) share: f64,
    pub(crate) doubling: f64,
    pub(crate) light: f64,
    pub(crate) feeding: [f64; 3],
    pub(crate) roots: f64,
}

impl Assumptions {
    /// The file of this folder.
    pub(crate) fn of_file() -> Assumptions {
        serde_yaml::from_str(TEXT).expect("assumptions.yaml is in its format")
    }

    /// A number of a set.
    pub(crate) fn number(&self, set: usize, id: &str) -> f64 {
        let number = self.numbers.iter().find(|number| number.id == id);
        let number = number.unwrap_or_else(|| panic!("no number `{id}`"));
        number.value[&self.sets[set].id]
    }

    /// What the method page says of them.
    pub(crate) fn published(&self) -> Json {
        let numbers: Vec<Json> = self
            .numbers
            .iter()
            .map(|number| {
                json!({
                    "id": number.id,
                    "title": number.title,
                    "unit": number.unit,
                    "means": number.means,
                    "value": number.value,
                })
            })
            .collect();
        json!({
            "status": self.status,
            "plants": self.truth.plants,
            "genera": self.truth.genera,
            "numbers": numbers,
        })
    }
}

//! The observation slip on the wanted page: on paper, and as a form that makes a claim in YAML.

use serde_json::{Value as Json, json};

use crate::content::{ConditionKind, Measure, TraitKind};
use crate::pages::Press;
use crate::pages::sentence::spoken;

impl Press<'_> {
    /// What the form asks: traits with their words, conditions with their values.
    pub(crate) fn slip_view(&self) -> Json {
        let guide = self.guide;
        let words = |scale: usize| -> Vec<String> {
            let levels = &guide.scales[scale].levels;
            levels.iter().map(|level| level.id.clone()).collect()
        };
        // Growth first: it is watched most.
        let stands_after = |at: &usize| {
            let on = match &guide.traits[*at].kind {
                TraitKind::Scale(on) => on.measure,
                TraitKind::Span(_) => None,
            };
            on != Some(Measure::RelativeGrowthRate)
        };
        let mut order: Vec<usize> = (0..guide.traits.len()).collect();
        order.sort_by_key(stands_after);
        let traits: Vec<Json> = order
            .into_iter()
            .map(|at| {
                let of = &guide.traits[at];
                let (levels, measure) = match &of.kind {
                    TraitKind::Scale(on) => (words(on.scale), on.measure),
                    TraitKind::Span(measure) => (Vec::new(), Some(*measure)),
                };
                let is_span = matches!(of.kind, TraitKind::Span(_));
                json!({
                    "id": of.id,
                    "title": of.title,
                    "levels": levels.join(" "),
                    "measure": match measure {
                        None => "none",
                        Some(Measure::RelativeGrowthRate) => "growth",
                        Some(_) => "other",
                    },
                    "example": measure.map_or("", |measure| example(measure, is_span)),
                })
            })
            .collect();
        let conditions: Vec<Json> = guide
            .conditions
            .iter()
            .map(|of| {
                let options: Vec<Json> = match &of.kind {
                    ConditionKind::Scale(scale) => words(*scale),
                    ConditionKind::Words(words) => words.clone(),
                    ConditionKind::Span(_) => Vec::new(),
                }
                .into_iter()
                .map(|id| json!({ "title": spoken(&id), "id": id }))
                .collect();
                json!({ "id": of.id, "title": of.title, "options": options })
            })
            .collect();
        json!({ "traits": traits, "conditions": conditions })
    }
}

/// A value that a claim on such a trait may have, as a keeper would write it.
fn example(measure: Measure, is_span: bool) -> &'static str {
    match (measure, is_span) {
        (Measure::RelativeGrowthRate, _) => "",
        (Measure::Length, _) => "12 cm",
        (Measure::Mass, _) => "3 g",
        (Measure::Light, _) => "30 umol/m2/s",
        (Measure::Temperature, true) => "18..26 C",
        (Measure::Temperature, false) => "22 C",
        (Measure::Hardness, true) => "4..12 dGH",
        (Measure::Hardness, false) => "8 dGH",
        (Measure::Conductivity, _) => "300 uS/cm",
        (Measure::Count, _) => "9 leaves",
        (Measure::Share, _) => "40 %",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_example_is_in_a_unit_that_its_measure_takes() {
        for (_, measure) in Measure::ALL {
            let text = example(*measure, false);
            if text.is_empty() {
                continue;
            }
            let quantity = crate::quantity::quantity(text).expect("a quantity");
            assert!(
                measure.dimensions().contains(&quantity.unit.dimension),
                "{text}"
            );
        }
    }
}

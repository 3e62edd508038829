//! An example of the weighing from the guide's own data, for the method page.

use serde_json::{Value as Json, json};

use crate::content::TraitKind;
use crate::names::PlantId;
use crate::pages::Press;
use crate::pages::sentence::spoken;
use crate::quantity::decimals;
use crate::reconcile::{Outcome, TraitGrade};
use crate::roles::{List, Verdict};

/// Voices that make a good example: enough to disagree, few enough to follow.
const FEWEST: usize = 3;
const MOST: usize = 6;

impl Press<'_> {
    /// The first plant, by page address, with a few voices on what the first job asks first; null
    /// where there is none.
    pub(crate) fn worked_example(&self, root: &str) -> Json {
        let guide = self.guide;
        let water = guide.about.default_water;
        let asks = guide.roles.iter().enumerate().find_map(|(role, of)| {
            let mut clauses = of.mainstay.iter().chain(&of.support);
            let clause = clauses.find(|clause| {
                matches!(guide.traits[clause.trait_index].kind, TraitKind::Scale(_))
            })?;
            Some((role, clause.trait_index))
        });
        let Some((role, index)) = asks else {
            return Json::Null;
        };
        let standing =
            |plant: PlantId| self.standings.plants[plant].standings[water][role].as_ref();
        let graded = |plant: PlantId| self.reconciled.plants[plant].traits.get(&index);
        let chosen = (0..self.names.plants.len()).find_map(|plant| {
            let graded = graded(plant)?;
            let verdict = standing(plant)?.clauses.iter().find(|verdict| {
                verdict.trait_index == index
                    && matches!(verdict.list, List::Mainstay | List::Support)
                    && verdict.probability.is_some()
            })?;
            let is_few = (FEWEST..=MOST).contains(&graded.voices.len());
            let is_listed = self.standings.plants[plant].is_regulated_here();
            (is_few && !is_listed).then_some((plant, graded, verdict))
        });
        match chosen {
            Some((plant, graded, verdict)) => {
                self.example(plant, index, graded, verdict, role, root)
            }
            None => Json::Null,
        }
    }

    fn example(
        &self,
        plant: PlantId,
        index: usize,
        graded: &TraitGrade,
        verdict: &Verdict,
        role: usize,
        root: &str,
    ) -> Json {
        let guide = self.guide;
        let water = guide.about.default_water;
        let (TraitKind::Scale(on), Outcome::Scale { grade, .. }) =
            (&guide.traits[index].kind, &graded.outcome)
        else {
            return Json::Null;
        };
        let levels = &guide.scales[on.scale].levels;
        let shares = |mass: &[f64]| -> Vec<String> {
            mass.iter().map(|share| decimals(*share, 2)).collect()
        };
        let voices: Vec<Json> = graded
            .voices
            .iter()
            .map(|voice| {
                json!({
                    "name": crate::pages::sentence::voice_name(guide, self.reconciled, voice.id),
                    "mass": shares(&voice.mean),
                    "position": decimals(voice.position(), 2),
                    "weight": decimals(voice.weight, 2),
                })
            })
            .collect();
        let profile = grade.profile.clone().unwrap_or_default();
        let running: Vec<f64> = profile
            .iter()
            .scan(0.0, |sum, share| {
                *sum += share;
                Some(*sum)
            })
            .collect();
        let there = self.reconciled.plants[plant].in_water[water].get(&index);
        json!({
            "plant": self.plant_ref(plant, Some((water, role)), root),
            "trait": guide.traits[index].title.to_lowercase(),
            "levels": levels.iter().map(|level| spoken(&level.id)).collect::<Vec<_>>(),
            "voices": voices,
            "profile": shares(&profile),
            "running": shares(&running),
            "level": grade.level.map(|level| spoken(&levels[level].id)),
            "weight": decimals(grade.weight, 2),
            "effective": grade.effective_voices.map(|n| decimals(n, 2)),
            "consensus": grade.consensus.map(|c| decimals(c, 2)),
            "contested": grade.is_contested,
            "evidence": grade.evidence.word(),
            "agreement": grade.agreement.word(),
            "confidence": grade.confidence.word(),
            "water": guide.waters[water].title,
            "weight_here": there.map(|grade| decimals(grade.weight, 2)),
            "asks": verdict.text,
            "score": verdict.probability.map(|p| decimals(p, 2)),
            "answer": verdict.answer.id(),
        })
    }
}

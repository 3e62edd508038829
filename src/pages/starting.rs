//! A planting to start with, per water: what carries the tank, what to add later, how to keep it.
//!
//! Everything but the rules of thumb follows from standings and grades. No plant on a list where
//! the guide is read is ever chosen.

use serde_json::{Value as Json, json};

use crate::content::{Clause, Measure, ScaleTrait, TraitKind};
use crate::names::PlantId;
use crate::pages::sentence::within;
use crate::pages::{Press, Sheet, root};
use crate::reconcile::Outcome;
use crate::roles::{Answer, List, Standing, Word, rank};

/// Most mainstays to start with. Our choice: enough that one may fail, few enough to buy at once.
const MOST_FIRST: usize = 3;

/// Most plants of a kind to add later. Our choice.
const MOST_LATER: usize = 3;

/// The job that carries the tank: the first in the guide's order of importance.
const CARRIER: usize = 0;

/// The plants to start with in a water.
struct Choice {
    /// In order of preference.
    plants: Vec<PlantId>,
    /// Whether some are of one form, as fewer forms have a mainstay.
    is_alike: bool,
    /// Mainstays left out as they are on a list where the guide is read.
    left_out: usize,
}

impl Press<'_> {
    /// A planting to start with: one page for every water, and one a water to print.
    pub(crate) fn starting(&self) -> Vec<Sheet> {
        let waters = self.waters_in_order();
        let mut out = vec![self.start_sheet("start/index.html", &waters)];
        for water in waters {
            let address = format!("start/{}/index.html", self.guide.waters[water].id);
            out.push(self.start_sheet(&address, &[water]));
        }
        out
    }

    pub(crate) fn start_sheet(&self, address: &str, waters: &[usize]) -> Sheet {
        let guide = self.guide;
        let root = root(address);
        let is_one = address != "start/index.html";
        let title = match waters {
            [water] if is_one => {
                format!("A planting to start with: {}", guide.waters[*water].title)
            }
            _ => "A planting to start with".to_owned(),
        };
        let sections: Vec<Json> = waters
            .iter()
            .map(|water| self.start_in_water(*water, &root))
            .collect();
        Sheet::new(
            address,
            "start.html",
            &title,
            "Three plants to start with in your kind of tank or pond, what to add later, how much, how to thin, and what to test.",
            json!({
                "one": is_one,
                "waters": sections,
                "carrier": guide.roles.get(CARRIER).map(|role| json!({
                    "title": role.title,
                    "within": within(&role.title),
                    "asks": role.asks,
                    "href": format!("{root}roles/{}/", role.id),
                })),
                "amount": self.sentences.practice("amount"),
                "test": self.sentences.practice("test"),
                "mark": self.sentences.practice("mark").join(" "),
                "places": guide.about.places.join(", "),
                "as_of": self.lists_as_of(),
            }),
        )
    }

    fn start_in_water(&self, water: usize, root: &str) -> Json {
        let guide = self.guide;
        let mut view = self.water_view(water, root);
        view["start_href"] = json!(format!("{root}start/{}/", guide.waters[water].id));
        if guide.roles.is_empty() {
            view["first"] = json!([]);
            view["later"] = json!([]);
            return view;
        }
        let choice = self.choice(water);
        let first: Vec<Json> = choice
            .plants
            .iter()
            .map(|plant| self.first_plant(*plant, water, root))
            .collect();
        let mut later = vec![self.later(water, CARRIER, Word::Support, &choice.plants, root)];
        later.extend(
            (0..guide.roles.len())
                .filter(|role| *role != CARRIER)
                .map(|role| self.later(water, role, Word::Mainstay, &choice.plants, root)),
        );
        view["role_href"] = json!(format!(
            "{root}roles/{}/{}/",
            guide.roles[CARRIER].id, guide.waters[water].id
        ));
        view["first"] = json!(first);
        view["few"] = json!(match choice.plants.len() {
            0 => Some("No plant is"),
            1 => Some("Only one plant is"),
            2 => Some("Only two plants are"),
            _ => None,
        });
        view["alike"] = json!(choice.is_alike);
        view["left_out"] = json!(choice.left_out);
        view["later"] = json!(later);
        view
    }

    /// What to start with: the best mainstays that can each have a form of their own, then the next
    /// best of any form.
    fn choice(&self, water: usize) -> Choice {
        let guide = self.guide;
        let order = self.recommended(water, CARRIER, Word::Mainstay);
        let allowed = guide.roles[CARRIER].forms.as_ref();
        let forms = |plant: PlantId| -> Vec<&str> {
            let entry = &guide.plants[self.names.plants[plant].entry];
            let can = |form: &&String| allowed.is_none_or(|allowed| allowed.contains(form));
            entry.forms.iter().filter(can).map(String::as_str).collect()
        };
        let mut chosen: Vec<PlantId> = Vec::new();
        for plant in &order {
            let tried: Vec<Vec<&str>> = chosen.iter().chain([plant]).map(|id| forms(*id)).collect();
            if chosen.len() < MOST_FIRST && has_own_forms(&tried, &mut Vec::new()) {
                chosen.push(*plant);
            }
        }
        let of_own_form = chosen.len();
        for plant in &order {
            if chosen.len() < MOST_FIRST && !chosen.contains(plant) {
                chosen.push(*plant);
            }
        }
        let all = crate::roles::mainstays(&self.standings.plants, water, CARRIER, true);
        Choice {
            is_alike: chosen.len() > of_own_form,
            left_out: all.len() - order.len(),
            plants: order
                .into_iter()
                .filter(|plant| chosen.contains(plant))
                .collect(),
        }
    }

    /// Plants of a standing that may be recommended, best first: those not in doubt, then those
    /// that more than one voice carries, then by the lowest decision score, highest first, then by
    /// slug.
    fn recommended(&self, water: usize, role: usize, word: Word) -> Vec<PlantId> {
        let list = match word {
            Word::Mainstay => List::Mainstay,
            _ => List::Support,
        };
        let mut found: Vec<(bool, bool, f64, PlantId)> = self
            .standings
            .plants
            .iter()
            .enumerate()
            .filter(|(_, roles)| !roles.is_regulated_here())
            .filter_map(|(plant, roles)| {
                let standing = roles.standings[water][role].as_ref()?;
                (standing.word == word).then(|| {
                    let is_thin = self.is_thin(standing, list, plant, water);
                    (standing.is_in_doubt, is_thin, rank(standing, list), plant)
                })
            })
            .collect();
        found.sort_by(|a, b| {
            (a.0, a.1)
                .cmp(&(b.0, b.1))
                .then(b.2.total_cmp(&a.2))
                .then(a.3.cmp(&b.3))
        });
        found.into_iter().map(|(_, _, _, plant)| plant).collect()
    }

    /// Whether a standing rests on fewer than two voices: one alone carries it, or fewer than two
    /// speak to something that it asks.
    fn is_thin(&self, standing: &Standing, list: List, plant: PlantId, water: usize) -> bool {
        let grades = &self.reconciled.plants[plant];
        let heard = |trait_index: usize| {
            if let Some(grade) = grades.in_water[water].get(&trait_index) {
                return grade.voices;
            }
            match grades.traits.get(&trait_index).map(|of| &of.outcome) {
                Some(Outcome::Span(span)) => span.voices,
                _ => 0,
            }
        };
        let fewest = standing
            .clauses
            .iter()
            .filter(|verdict| verdict.list == list && verdict.answer == Answer::Met)
            .map(|verdict| heard(verdict.trait_index))
            .min();
        standing.rests_on.len() == 1 || fewest.is_none_or(|voices| voices < 2)
    }

    /// A plant to start with, and all that a keeper must know of it.
    fn first_plant(&self, plant: PlantId, water: usize, root: &str) -> Json {
        let guide = self.guide;
        let entry = &guide.plants[self.names.plants[plant].entry];
        let mut view = self.plant_ref(plant, Some((water, CARRIER)), root);
        let standing = self.standings.plants[plant].standings[water][CARRIER].as_ref();
        let forms: Vec<&str> = entry
            .forms
            .iter()
            .filter_map(|id| guide.forms.iter().find(|form| form.id == *id))
            .map(|form| form.title.as_str())
            .collect();
        view["forms"] = json!(forms.join(", "));
        view["sentence"] = json!(standing.map(|standing| {
            self.sentences
                .standing(guide, self.reconciled, standing, plant, water, CARRIER)
        }));
        view["sturdy"] =
            json!(standing.map(|standing| self.sentences.sturdy(guide, self.reconciled, standing)));
        let growth = self.growth_trait().and_then(|(index, on)| {
            let grade = self.reconciled.plants[plant].in_water[water].get(&index)?;
            Some((index, on, grade, grade.level?))
        });
        view["growth"] = json!(growth.map(|(index, _, grade, _)| json!({
            "title": guide.traits[index].title,
            "grade": self.grade_view(index, grade),
        })));
        view["thin"] = json!(growth.and_then(|(_, on, _, level)| self.sentences.thin(on, level)));
        view["notices"] = self.notices(plant);
        // A fault in the text is reported with the plant's own page.
        let prefix = format!(
            "{}-{}-",
            guide.waters[water].id, self.names.plants[plant].slug
        );
        view["cautions"] = json!(self.plant_cautions(plant, &prefix, root, &mut Vec::new()));
        view
    }

    /// The trait of growth that the carrying job asks about, if it asks about one.
    fn growth_trait(&self) -> Option<(usize, &ScaleTrait)> {
        let role = &self.guide.roles[CARRIER];
        let of = |clause: &Clause| match &self.guide.traits[clause.trait_index].kind {
            TraitKind::Scale(on) if on.measure == Some(Measure::RelativeGrowthRate) => {
                Some((clause.trait_index, on))
            }
            _ => None,
        };
        let mut clauses = role
            .mainstay
            .iter()
            .chain(&role.support)
            .chain(&role.unsuited);
        clauses.find_map(of)
    }

    /// Plants of a standing in a role to add later.
    fn later(&self, water: usize, role: usize, word: Word, first: &[PlantId], root: &str) -> Json {
        let guide = self.guide;
        let view = |plant: PlantId| {
            let mut view = self.plant_ref(plant, Some((water, role)), root);
            view["notices"] = self.notices(plant);
            view
        };
        let (there, others): (Vec<PlantId>, Vec<PlantId>) = self
            .recommended(water, role, word)
            .into_iter()
            .partition(|plant| first.contains(plant));
        let there: Vec<Json> = there.into_iter().map(view).collect();
        let plants: Vec<Json> = others.into_iter().take(MOST_LATER).map(view).collect();
        json!({
            "role": guide.roles[role].title,
            "asks": guide.roles[role].asks,
            "href": format!("{root}roles/{}/{}/", guide.roles[role].id, guide.waters[water].id),
            "word": word.on_screen(),
            // Those to start with that do this job too.
            "there": there,
            "plants": plants,
        })
    }
}

/// Whether each of some plants can have a form that no other of them has; `taken` are forms given
/// to those before.
fn has_own_forms<'a>(plants: &[Vec<&'a str>], taken: &mut Vec<&'a str>) -> bool {
    let Some((first, rest)) = plants.split_first() else {
        return true;
    };
    first.iter().any(|form| {
        if taken.contains(form) {
            return false;
        }
        taken.push(form);
        let is_so = has_own_forms(rest, taken);
        taken.pop();
        is_so
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // No source: the rule is ours.
    #[test]
    fn plants_of_two_forms_leave_each_other_one() {
        let own = |plants: &[&[&str]]| {
            let plants: Vec<Vec<&str>> = plants.iter().map(|forms| forms.to_vec()).collect();
            has_own_forms(&plants, &mut Vec::new())
        };
        assert!(own(&[]));
        assert!(own(&[&["stem", "floating"], &["stem"]]));
        assert!(own(&[
            &["stem", "floating"],
            &["stem"],
            &["floating", "moss"]
        ]));
        assert!(!own(&[&["stem"], &["stem"]]));
        assert!(!own(&[&["stem", "floating"], &["stem"], &["floating"]]));
        assert!(!own(&[&[]]));
    }
}

//! Plants side by side: a table for each form, one page a water.

use serde_json::{Value as Json, json};

use crate::content::{Form, TraitKind};
use crate::diagnostic::counted;
use crate::names::PlantId;
use crate::pages::mark::{beam_again, bracket_again, glyphs};
use crate::pages::sentence::within;
use crate::pages::{Press, Sheet, root};
use crate::quantity::decimals;
use crate::reconcile::Outcome;
use crate::roles::{Standing, can_have};

impl Press<'_> {
    /// Plants of each form side by side; the default water at the folder's own address.
    pub(crate) fn compare(&self) -> Vec<Sheet> {
        let waters = self.waters_in_order();
        waters
            .iter()
            .map(|water| self.compare_in_water(*water))
            .collect()
    }

    fn compare_address(&self, water: usize) -> String {
        if water == self.guide.about.default_water {
            "compare/".to_owned()
        } else {
            format!("compare/{}/", self.guide.waters[water].id)
        }
    }

    pub(crate) fn compare_in_water(&self, water: usize) -> Sheet {
        let guide = self.guide;
        let address = format!("{}index.html", self.compare_address(water));
        let root = root(&address);
        let forms: Vec<Json> = guide
            .forms
            .iter()
            .filter_map(|form| self.form_table(form, water, &root))
            .collect();
        let others: Vec<Json> = self
            .waters_in_order()
            .into_iter()
            .filter(|other| *other != water)
            .map(|other| {
                json!({
                    "id": guide.waters[other].id,
                    "title": guide.waters[other].title,
                    "href": format!("{root}{}", self.compare_address(other)),
                })
            })
            .collect();
        Sheet::new(
            &address,
            "compare.html",
            &format!("Side by side: {}", guide.waters[water].title),
            &format!(
                "All plants of each form side by side in {}: standings, levels, confidence.",
                guide.waters[water].title
            ),
            json!({
                "water": self.water_view(water, &root),
                "others": others,
                "forms": forms,
                "glyphs": glyphs(),
            }),
        )
    }

    /// The table of a form; `None` where no plant has it.
    fn form_table(&self, form: &Form, water: usize, root: &str) -> Option<Json> {
        let guide = self.guide;
        let forms = |plant: PlantId| &guide.plants[self.names.plants[plant].entry].forms;
        let plants: Vec<PlantId> = (0..self.names.plants.len())
            .filter(|plant| forms(*plant).contains(&form.id))
            .collect();
        if plants.is_empty() {
            return None;
        }
        let this_form = [form.id.clone()];
        let roles: Vec<usize> = (0..guide.roles.len())
            .filter(|role| can_have(&guide.roles[*role], &this_form))
            .collect();
        // A trait that nobody has spoken on for any of them would be a column of dashes.
        let traits: Vec<usize> = (0..guide.traits.len())
            .filter(|index| {
                plants
                    .iter()
                    .any(|plant| self.trait_cell(*plant, *index, water).is_some())
            })
            .collect();
        let rows: Vec<Json> = plants
            .iter()
            .map(|plant| self.compare_row(*plant, &roles, &traits, water, root))
            .collect();
        let (first, others) = match roles.split_first() {
            Some((first, others)) => (Some(*first), others),
            None => (None, &[][..]),
        };
        let title = |role: &usize| guide.roles[*role].title.as_str();
        Some(json!({
            "id": form.id,
            "title": form.title,
            "plain": form.plain,
            "count": counted(plants.len(), "plant", "plants"),
            "first": first.map(|role| within(&guide.roles[role].title)),
            "roles": others.iter().map(title).collect::<Vec<_>>(),
            "traits": traits.iter().map(|index| json!({
                "title": guide.traits[*index].title,
                "href": format!("{root}traits/{}/", guide.traits[*index].id),
            })).collect::<Vec<_>>(),
            "rows": rows,
        }))
    }

    /// A plant with its standing in the first of the roles beside its name, then the other roles,
    /// then the traits.
    fn compare_row(
        &self,
        plant: PlantId,
        roles: &[usize],
        traits: &[usize],
        water: usize,
        root: &str,
    ) -> Json {
        let here = &self.standings.plants[plant].standings[water];
        let first = roles.first().map(|role| (water, *role));
        let mut view = self.plant_ref(plant, first, root);
        if let Some(standing) = first.and_then(|(_, role)| here[role].as_ref()) {
            view["beam"] = json!(beam_again(standing.word));
        }
        let cell = |standing: &Standing| {
            json!({
                "beam": beam_again(standing.word),
                "word": standing.word.on_screen(),
                "doubt": standing.is_doubtful(),
            })
        };
        let others = roles.iter().skip(1);
        view["standings"] = others
            .map(|role| json!(here[*role].as_ref().map(cell)))
            .collect();
        view["grades"] = traits
            .iter()
            .map(|index| json!(self.trait_cell(plant, *index, water)))
            .collect();
        view
    }

    /// The level of a trait in a water, or its span, with confidence; `None` where nothing is
    /// weighed.
    fn trait_cell(&self, plant: PlantId, index: usize, water: usize) -> Option<Json> {
        let grades = &self.reconciled.plants[plant];
        let (what, confidence, is_contested) = match &self.guide.traits[index].kind {
            TraitKind::Scale(_) => {
                let grade = grades.in_water[water].get(&index)?;
                let level = self.level_word(index, grade.level?);
                (level, grade.confidence, grade.is_contested)
            }
            TraitKind::Span(_) => {
                let Outcome::Span(span) = &grades.traits.get(&index)?.outcome else {
                    return None;
                };
                let ends = (decimals(span.low?, 1), decimals(span.high?, 1));
                let unit = self.span_unit(index);
                let shown = if ends.0 == ends.1 {
                    format!("{} {unit}", ends.0)
                } else {
                    format!("{} to {} {unit}", ends.0, ends.1)
                };
                (shown, span.confidence, false)
            }
        };
        Some(json!({
            "what": what,
            "confidence": confidence.word(),
            "bracket": bracket_again(confidence),
            "contested": is_contested,
        }))
    }
}

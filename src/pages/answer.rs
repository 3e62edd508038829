//! The short answer at the head of a plant's page: what is it for, in which water, how sure.

use serde_json::{Value as Json, json};

use crate::names::PlantId;
use crate::pages::Press;
use crate::pages::mark::{beam_again, bracket};

use crate::quantity::decimals;
use crate::reconcile::Outcome;
use crate::roles::{Answer, Word, notice};

impl Press<'_> {
    /// One answer a water, the default water's first: its jobs by standing, and the trait that
    /// the first of them leans on (where the plant is ruled out: the trait that rules it out).
    pub(crate) fn answers(&self, plant: PlantId) -> Vec<Json> {
        let law = notice(self.guide, self.standings, plant);
        self.waters_in_order()
            .into_iter()
            .map(|water| {
                let is_out = self.is_ruled_out(plant, water);
                json!({
                    "water": self.guide.waters[water].id,
                    "title": self.guide.waters[water].title,
                    "default": water == self.guide.about.default_water,
                    "lines": self.answer_lines(plant, water, is_out),
                    "trait": self.leaned_on(plant, water, is_out)
                        .and_then(|of| self.trait_here(plant, water, of)),
                    "law": law,
                })
            })
            .collect()
    }

    /// Jobs that share a standing and its doubt, in the order in which lists show standings.
    fn answer_lines(&self, plant: PlantId, water: usize, is_out: bool) -> Vec<Json> {
        let standings = &self.standings.plants[plant].standings[water];
        let mut lines = Vec::new();
        for word in Word::ALL {
            for is_doubtful in [false, true] {
                let jobs: Vec<String> = standings
                    .iter()
                    .zip(&self.guide.roles)
                    .filter_map(|(standing, role)| {
                        let standing = standing.as_ref()?;
                        (standing.word == word && standing.is_doubtful() == is_doubtful)
                            .then(|| role.title.to_lowercase())
                    })
                    .collect();
                if jobs.is_empty() {
                    continue;
                }
                lines.push(json!({
                    "beam": beam_again(word),
                    "word": word.on_screen(),
                    "doubt": is_doubtful,
                    "jobs": if is_out { "every job".to_owned() } else { jobs.join(", ") },
                }));
            }
        }
        lines
    }

    /// The trait of the first clause that rules the plant out; else of the first mainstay clause
    /// of the first job that its forms can have.
    fn leaned_on(&self, plant: PlantId, water: usize, is_out: bool) -> Option<usize> {
        let standings = &self.standings.plants[plant].standings[water];
        let (role, standing) = standings
            .iter()
            .enumerate()
            .find_map(|(role, standing)| Some((role, standing.as_ref()?)))?;
        if is_out {
            let every = self.guide.every_role.iter().zip(&standing.clauses);
            let mut met = every.filter(|(_, verdict)| verdict.answer == Answer::Met);
            return met.next().map(|(clause, _)| clause.trait_index);
        }
        let asked = &self.guide.roles[role].mainstay;
        asked.first().map(|clause| clause.trait_index)
    }

    /// How a trait is graded in a water: level, confidence, voices.
    fn trait_here(&self, plant: PlantId, water: usize, of: usize) -> Option<Json> {
        let grades = &self.reconciled.plants[plant];
        let title = &self.guide.traits[of].title;
        let id = &self.guide.traits[of].id;
        if let Some(grade) = grades.in_water[water].get(&of) {
            return Some(json!({
                "id": id,
                "title": title,
                "is_graded": grade.level.is_some(),
                "level": grade.level.map(|level| self.level_word(of, level)),
                "grade": self.grade_view(of, grade),
            }));
        }
        let Outcome::Span(span) = &grades.traits.get(&of)?.outcome else {
            return None;
        };
        let ends = span.low.zip(span.high)?;
        Some(json!({
            "id": id,
            "title": title,
            "is_graded": true,
            "level": format!("{} to {} {}", decimals(ends.0, 0), decimals(ends.1, 0), self.span_unit(of)),
            "grade": {
                "confidence": span.confidence.word(),
                "bracket": bracket(span.confidence),
                "voices": span.voices,
                "contested": false,
            },
        }))
    }
}

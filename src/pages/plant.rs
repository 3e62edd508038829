//! The page of one plant.

use serde_json::{Value as Json, json};

use crate::content::{CautionKind, ScaleTrait, TraitKind};
use crate::diagnostic::{Diagnostic, Placed};
use crate::names::PlantId;
use crate::pages::chart::{Chart, SpanChart, Weight, reached, whiskers};
use crate::pages::mark::{beam_again, bracket, escaped, glyphs, name_html};
use crate::pages::markdown::Markdown;
use crate::pages::mention::{Own, first_role};
use crate::pages::sentence::{unit_of, unit_on, voice_name};
use crate::pages::{Press, Sheet, root};
use crate::quantity::{decimals, percent};
use crate::reconcile::grade::Grade;
use crate::reconcile::voice::Voice;
use crate::reconcile::{Factor, Outcome, TraitGrade};
use crate::roles::Answer;

impl Press<'_> {
    /// The page of a plant.
    pub(crate) fn plant_page(&self, plant: PlantId) -> Sheet {
        let guide = self.guide;
        let name = &self.names.plants[plant];
        let entry = &guide.plants[name.entry];
        let address = format!("plants/{}/index.html", name.slug);
        let root = root(&address);
        let mut faults = Vec::new();
        let summary = entry.summary.as_ref().map(|text| {
            self.plant_prose(
                text,
                plant,
                Markdown {
                    top: 2,
                    prefix: "summary",
                },
                &mut faults,
            )
        });
        let story = entry.story.as_ref().map(|text| {
            self.plant_prose(
                text,
                plant,
                Markdown {
                    top: 3,
                    prefix: "story",
                },
                &mut faults,
            )
        });
        let traits: Vec<Json> = self.reconciled.plants[plant]
            .traits
            .iter()
            .map(|(index, graded)| self.trait_view(plant, *index, graded, &root))
            .collect();
        let about = match first_role(guide, self.standings, plant) {
            Some((role, standing)) => format!(
                "{}: {} for {} in {}.",
                name.name,
                standing.word.on_screen(),
                guide.roles[role].title.to_lowercase(),
                guide.waters[guide.about.default_water].title
            ),
            None => name.name.clone(),
        };
        let mut sheet = Sheet::new(
            &address,
            "plant.html",
            &name.name,
            &about,
            json!({
                "name": name_html(&name.name),
                "names": self.other_names(plant, &root),
                "determined": entry.determined.as_ref().map(|determined| json!({
                    "by": determined.by,
                    "on": determined.on.map(|on| on.to_string()),
                    "following": determined.following,
                })),
                "forms": entry.forms.iter().filter_map(|id| guide.forms.iter().find(|form| form.id == *id))
                    .map(|form| json!({ "title": form.title, "plain": form.plain })).collect::<Vec<_>>(),
                "notices": self.notices(plant),
                "summary": summary,
                "story": story,
                "pictures": entry.pictures.iter().map(|picture| json!({
                    "src": format!("{root}pictures/{}", picture.file.value),
                    "alt": picture.alt,
                    "credit": picture.credit,
                    "licence": picture.licence,
                })).collect::<Vec<_>>(),
                "glyphs": glyphs(),
                "glance": self.glance(plant),
                "waters": self.plant_waters(plant, &root),
                "cautions": self.plant_cautions(plant, "", &root, &mut faults),
                "traits": traits,
                "plantings": self.plantings_of(plant, &root),
                "cite": self.citation(plant),
            }),
        );
        sheet.own = Own::Plant(plant);
        sheet.place = entry.name.place.clone();
        sheet.faults = faults;
        sheet
    }

    fn other_names(&self, plant: PlantId, root: &str) -> Json {
        let name = &self.names.plants[plant];
        let entry = &self.guide.plants[name.entry];
        // Only botanical names are in italics: a selling name is no name under the codes.
        let texts = |list: &[Placed<String>], set: fn(&str) -> String| -> Vec<String> {
            list.iter().map(|name| set(&name.value)).collect()
        };
        json!({
            "known_as": texts(&entry.known_as, escaped),
            "synonyms": texts(&entry.synonyms, name_html),
            "trade": texts(&entry.trade_names, escaped),
            "genus": {
                "href": format!("{root}names/{}/", self.guide.genera[name.genus].folder),
                "title": name_html(&self.names.genera[name.genus]),
                "others": self.names.of_genus(name.genus).len() > 1,
            },
        })
    }

    /// Legal lists that a plant is on or near, and what else was checked.
    pub(crate) fn notices(&self, plant: PlantId) -> Json {
        let guide = self.guide;
        let roles = &self.standings.plants[plant];
        let row = |listing: usize, here: bool| {
            let listing = &guide.regulated[listing];
            json!({
                "here": here,
                "place": listing.place,
                "instrument": listing.instrument,
                "date": listing.date,
                "listed_as": name_html(&listing.listed_as),
                "link": listing.link,
            })
        };
        let listed: Vec<Json> = roles
            .regulated
            .iter()
            .map(|(at, here)| row(*at, *here))
            .collect();
        let near: Vec<Json> = roles.near.iter().map(|at| row(*at, false)).collect();
        json!({
            "listed": listed,
            "near": near,
            "places": guide.about.places.join(", "),
            "as_of": self.lists_as_of(),
            "here": roles.is_regulated_here(),
        })
    }

    /// Every job that its forms can have, with the standing in each water: the page in a glance.
    fn glance(&self, plant: PlantId) -> Json {
        let guide = self.guide;
        let order = self.waters_in_order();
        let waters: Vec<&str> = order
            .iter()
            .map(|water| guide.waters[*water].title.as_str())
            .collect();
        let rows: Vec<Json> = guide
            .roles
            .iter()
            .enumerate()
            .filter_map(|(role, of)| {
                let cells: Vec<Json> = order
                    .iter()
                    .filter_map(|water| {
                        let standing =
                            self.standings.plants[plant].standings[*water][role].as_ref()?;
                        let is_out = self.is_ruled_out(plant, *water);
                        let id = &guide.waters[*water].id;
                        Some(json!({
                            "beam": beam_again(standing.word),
                            "word": standing.word.on_screen(),
                            "doubt": standing.is_doubtful(),
                            "href": if is_out { format!("#water-{id}") } else { format!("#job-{id}-{}", of.id) },
                        }))
                    })
                    .collect();
                (!cells.is_empty()).then(|| json!({ "role": of.title, "cells": cells }))
            })
            .collect();
        json!({ "waters": waters, "rows": rows })
    }

    /// Whether what stands before every role rules the plant out in a water, whatever the job.
    fn is_ruled_out(&self, plant: PlantId, water: usize) -> bool {
        let every = self.guide.every_role.len();
        let mut standings = self.standings.plants[plant].standings[water]
            .iter()
            .flatten()
            .peekable();
        standings.peek().is_some()
            && standings.all(|standing| {
                let mut before = standing.clauses.iter().take(every);
                before.any(|verdict| verdict.answer == Answer::Met)
            })
    }

    fn plant_waters(&self, plant: PlantId, root: &str) -> Vec<Json> {
        let guide = self.guide;
        let default = guide.about.default_water;
        self.waters_in_order()
            .into_iter()
            .map(|water| {
                let roles: Vec<Json> = (0..guide.roles.len())
                    .filter_map(|role| {
                        let standing =
                            self.standings.plants[plant].standings[water][role].as_ref()?;
                        Some(self.standing_view(standing, plant, water, role, root))
                    })
                    .collect();
                json!({
                    "id": guide.waters[water].id,
                    "title": guide.waters[water].title,
                    "href": format!("{root}waters/{}/", guide.waters[water].id),
                    "default": water == default,
                    "out": self.is_ruled_out(plant, water),
                    "roles": roles,
                })
            })
            .collect()
    }

    /// Cautions of a plant; `prefix` keeps ids apart on a page of several plants.
    pub(crate) fn plant_cautions(
        &self,
        plant: PlantId,
        prefix: &str,
        root: &str,
        faults: &mut Vec<Diagnostic>,
    ) -> Vec<Json> {
        let entry = &self.guide.plants[self.names.plants[plant].entry];
        entry
            .cautions
            .iter()
            .enumerate()
            .map(|(at, caution)| {
                let title = match caution.kind {
                    CautionKind::Regulated => "Law",
                    CautionKind::Hazard => "People and animals",
                    CautionKind::Handling => "Handling",
                };
                let prefix = format!("{prefix}caution-{}", at + 1);
                json!({
                    "title": title,
                    "html": self.plant_prose(&caution.text, plant, Markdown { top: 4, prefix: &prefix }, faults),
                    "source": caution.source.map(|source| self.source_view(source, root)),
                })
            })
            .collect()
    }

    fn plantings_of(&self, plant: PlantId, root: &str) -> Vec<Json> {
        let guide = self.guide;
        let mut ignored = Vec::new();
        guide
            .rosters
            .iter()
            .flat_map(|roster| roster.plants.iter().map(move |row| (roster, row)))
            .filter(|(_, row)| self.names.one(&row.plant, &mut ignored) == Some(plant))
            .map(|(roster, row)| {
                json!({
                    "href": format!("{root}plantings/{}/", roster.id),
                    "title": roster.title,
                    "job": row.job.map(|job| guide.roles[job].title.to_lowercase()),
                })
            })
            .collect()
    }

    fn citation(&self, plant: PlantId) -> String {
        let about = &self.guide.about;
        let name = &self.names.plants[plant];
        format!(
            "{}: {}. In: {}. {}plants/{}/ (no edition recorded yet)",
            about.publisher, name.name, about.title, about.address, name.slug
        )
    }

    fn trait_view(&self, plant: PlantId, index: usize, graded: &TraitGrade, root: &str) -> Json {
        let guide = self.guide;
        let of = &guide.traits[index];
        let anchor = |at: usize| format!("claim-{}-{}", of.id, at + 1);
        let mut weighed = Vec::new();
        let mut shown = Vec::new();
        for (at, one) in graded.claims.iter().enumerate() {
            let view = self.claim_view(one, &anchor(at), root);
            if one.weight.is_some() {
                weighed.push(view)
            } else {
                shown.push(view)
            }
        }
        let mut view = json!({
            "id": of.id,
            "title": of.title,
            "href": format!("{root}traits/{}/", of.id),
            "claims": weighed,
            "shown": shown,
        });
        let parts = match (&graded.outcome, &of.kind) {
            (
                Outcome::Scale {
                    grade,
                    measured,
                    goes_with,
                },
                TraitKind::Scale(on),
            ) => {
                let measured: Vec<String> = measured
                    .iter()
                    .map(|(key, pooled)| self.sentences.measured(key, pooled, &unit_on(on)))
                    .collect();
                let in_water: Vec<Json> = self.reconciled.plants[plant]
                    .in_water
                    .iter()
                    .enumerate()
                    .filter_map(|(water, grades)| {
                        let grade = grades.get(&index)?;
                        Some(json!({
                            "water": guide.waters[water].title,
                            "grade": self.grade_view(index, grade),
                        }))
                    })
                    .collect();
                let some = (grade.voices > 0).then_some(grade);
                json!({
                    "sentence": self.sentences.grade(guide, index, some, ""),
                    "grade": self.grade_view(index, grade),
                    "chart": (grade.voices > 0).then(|| self.trait_chart(index, on, grade, graded)),
                    "balance": self.balance_words(index, on, grade.mean),
                    "rows": self.voice_rows(index, graded, &anchor),
                    "measured": measured,
                    "in_water": in_water,
                    "goes_with": self.sentences.goes_with(guide, goes_with, graded.voices.len()),
                    "groups": goes_with.iter().filter(|factor| factor.share.is_notable())
                        .map(|factor| self.factor_view(index, factor, graded)).collect::<Vec<_>>(),
                })
            }
            (Outcome::Span(span), _) => {
                let end = |end: Option<f64>| end.map(|end| decimals(end, 1));
                let parts = span
                    .low
                    .zip(span.high)
                    .map(|ends| self.span_parts(index, graded, ends, &anchor));
                let (drawing, rows) = parts.unzip();
                json!({
                    "span": {
                        "low": end(span.low),
                        "high": end(span.high),
                        "unit": self.span_unit(index),
                        "overlap": span.overlap.map(percent),
                        "voices": span.voices,
                        "confidence": span.confidence.word(),
                        "bracket": bracket(span.confidence),
                        "agreement": span.agreement.word(),
                        "evidence": span.evidence.word(),
                        "chart": drawing,
                        "rows": rows,
                    },
                })
            }
            _ => json!({}),
        };
        if let (Json::Object(view), Json::Object(parts)) = (&mut view, parts) {
            view.extend(parts);
        }
        for key in ["span", "grade", "chart", "goes_with", "sentence"] {
            if view.get(key).is_none() {
                view[key] = Json::Null;
            }
        }
        view
    }

    /// The unit in which a span trait is shown.
    pub(crate) fn span_unit(&self, index: usize) -> &'static str {
        match self.guide.traits[index].kind {
            TraitKind::Span(measure) => unit_of(measure).trim_start(),
            TraitKind::Scale(_) => "",
        }
    }

    fn is_loose_voice(&self, voice: &Voice, graded: &TraitGrade) -> bool {
        let mut of_voice = graded
            .claims
            .iter()
            .filter(|one| one.voice == voice.id && one.weight.is_some());
        of_voice.all(|one| self.claims.all[one.id].is_loose)
    }

    fn is_measured_voice(&self, voice: &Voice, graded: &TraitGrade) -> bool {
        let mut of_voice = graded
            .claims
            .iter()
            .filter(|one| one.voice == voice.id && one.weight.is_some_and(|weight| weight > 0.0));
        of_voice.any(|one| self.claims.all[one.id].measured.is_some())
    }

    fn trait_chart(
        &self,
        index: usize,
        on: &ScaleTrait,
        grade: &Grade,
        graded: &TraitGrade,
    ) -> String {
        let of = &self.guide.traits[index];
        let weights: Vec<Weight> = graded
            .voices
            .iter()
            .map(|voice| {
                let is_measured = self.is_measured_voice(voice, graded);
                Weight {
                    label: voice_name(self.guide, self.reconciled, voice.id),
                    position: voice.position(),
                    weight: voice.weight,
                    is_loose: self.is_loose_voice(voice, graded),
                    whiskers: is_measured.then(|| whiskers(&voice.mean)),
                }
            })
            .collect();
        let id = format!("chart-{}", of.id);
        Chart {
            id: &id,
            title: &format!("Balance chart: {}", of.title),
            description: &format!(
                "{} {} The table below says the same.",
                self.sentences.grade(self.guide, index, Some(grade), ""),
                self.balance_words(index, on, grade.mean),
            ),
            levels: self.guide.scales[on.scale]
                .levels
                .iter()
                .map(|level| level.id.as_str())
                .collect(),
            weights,
            mean: grade.mean,
            level: grade.level,
        }
        .svg()
    }

    fn voice_rows(
        &self,
        index: usize,
        graded: &TraitGrade,
        anchor: &dyn Fn(usize) -> String,
    ) -> Vec<Json> {
        let total: f64 = graded.voices.iter().map(|voice| voice.weight).sum();
        graded
            .voices
            .iter()
            .map(|voice| {
                let reach = self.is_measured_voice(voice, graded).then(|| {
                    let (low, high) = reached(&voice.mean);
                    let word = |level: usize| self.level_word(index, level);
                    if low == high {
                        word(low)
                    } else {
                        format!("{} to {}", word(low), word(high))
                    }
                });
                json!({
                    "voice": voice_name(self.guide, self.reconciled, voice.id),
                    "place": self.place_word(index, voice.position()),
                    "position": decimals(voice.position(), 2),
                    "reach": reach,
                    "weight": decimals(voice.weight, 2),
                    "share": percent(voice.weight / total),
                    "loose": self.is_loose_voice(voice, graded),
                    "claims": self.claims_of(voice, graded, anchor),
                })
            })
            .collect()
    }

    /// The balance point of a trait in a sentence.
    fn balance_words(&self, index: usize, on: &ScaleTrait, mean: Option<f64>) -> String {
        let last = self.guide.scales[on.scale].levels.len() - 1;
        mean.map_or_else(String::new, |mean| {
            format!(
                "Balance point: {} ({} on a scale from 0, {}, to {last}, {}).",
                self.place_word(index, mean),
                decimals(mean, 2),
                self.level_word(index, 0),
                self.level_word(index, last),
            )
        })
    }

    /// What voices say of a span, as a drawing and as rows of a table.
    fn span_parts(
        &self,
        index: usize,
        graded: &TraitGrade,
        ends: (f64, f64),
        anchor: &dyn Fn(usize) -> String,
    ) -> (String, Vec<Json>) {
        let of = &self.guide.traits[index];
        let unit = self.span_unit(index);
        let shown = |end: f64| format!("{} {unit}", decimals(end, 1));
        let name = |voice: &Voice| voice_name(self.guide, self.reconciled, voice.id);
        let voices = graded
            .voices
            .iter()
            .map(|voice| (name(voice), voice.mean[0], voice.mean[1], voice.weight));
        let svg = SpanChart {
            id: &format!("chart-{}", of.id),
            title: &format!("Span: {}", of.title),
            description: &format!(
                "The voices come to {} to {}. The table below says the same.",
                shown(ends.0),
                shown(ends.1)
            ),
            voices: voices.collect(),
            ends,
            printed: (shown(ends.0), shown(ends.1)),
        }
        .svg();
        let rows = graded
            .voices
            .iter()
            .map(|voice| {
                json!({
                    "voice": name(voice),
                    "low": shown(voice.mean[0]),
                    "high": shown(voice.mean[1]),
                    "weight": decimals(voice.weight, 2),
                    "loose": self.is_loose_voice(voice, graded),
                    "claims": self.claims_of(voice, graded, anchor),
                })
            })
            .collect();
        (svg, rows)
    }

    /// Anchors of the claims that make up a voice.
    fn claims_of(
        &self,
        voice: &Voice,
        graded: &TraitGrade,
        anchor: &dyn Fn(usize) -> String,
    ) -> Vec<String> {
        graded
            .claims
            .iter()
            .enumerate()
            .filter(|(_, one)| one.voice == voice.id && one.weight.is_some_and(|w| w > 0.0))
            .map(|(at, _)| anchor(at))
            .collect()
    }

    /// A position on a scale in words.
    pub(crate) fn place_word(&self, index: usize, position: f64) -> String {
        let low = position.floor();
        let word = |level: f64| self.level_word(index, level as usize);
        if position - low < 0.25 {
            word(low)
        } else if position - low > 0.75 {
            word(low + 1.0)
        } else {
            format!("between {} and {}", word(low), word(low + 1.0))
        }
    }

    fn factor_view(&self, index: usize, factor: &Factor, graded: &TraitGrade) -> Json {
        let groups: Vec<Json> = factor
            .groups
            .iter()
            .map(|(label, voices)| {
                let members = graded
                    .voices
                    .iter()
                    .filter(|voice| voices.contains(&voice.id));
                let (weight, sum) = members.fold((0.0, 0.0), |(w, s), voice| {
                    (w + voice.weight, s + voice.weight * voice.position())
                });
                json!({
                    "label": crate::pages::sentence::spoken(label),
                    "voices": voices.len(),
                    "place": self.place_word(index, if weight > 0.0 { sum / weight } else { 0.0 }),
                })
            })
            .collect();
        let title = match factor.id.as_str() {
            "name" => "Name used".to_owned(),
            "kind" => "Kind of source".to_owned(),
            id => self
                .guide
                .conditions
                .iter()
                .find(|condition| condition.id == id)
                .map_or_else(|| id.to_owned(), |condition| condition.title.clone()),
        };
        json!({ "title": title, "groups": groups })
    }
}

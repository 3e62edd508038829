//! The page of one plant.

use serde_json::{Value as Json, json};

use crate::claims::unit_of;
use crate::content::{CautionKind, Measure, Plant, ScaleTrait, TraitKind};
use crate::diagnostic::{Diagnostic, Placed, counted};
use crate::names::PlantId;
use crate::pages::chart::{Bar, Chart, SpanChart, Weight, reached, whiskers};
use crate::pages::forest::{Forest, Row, Together};
use crate::pages::mark::{beam_again, bracket, escaped, glyphs, name_html};
use crate::pages::markdown::Markdown;
use crate::pages::mention::{Own, first_role};
use crate::pages::sentence::{spoken, unit_on, voice_name};
use crate::pages::specimen::{plate, plate_of};
use crate::pages::{Press, Sheet, root};
use crate::quantity::{days_in_words, decimals, percent, significant};
use crate::reconcile::grade::Grade;
use crate::reconcile::pool::Pooled;
use crate::reconcile::voice::Voice;
use crate::reconcile::{Factor, Outcome, TraitGrade, WeighedClaim};
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
        let grades = &self.reconciled.plants[plant].traits;
        let traits: Vec<Json> = self
            .traits_in_order()
            .into_iter()
            .filter_map(|index| Some(self.trait_view(plant, index, grades.get(&index)?, &root)))
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
                "beside": self.beside(plant),
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
                "specimen": self.specimen(entry, &root),
                "glyphs": glyphs(),
                "answers": self.answers(plant),
                "glance": self.glance(plant),
                "waters": self.plant_waters(plant, &root),
                "cautions": self.plant_cautions(plant, "", &root, &mut faults),
                "traits": traits,
                "plantings": self.plantings_of(plant, &root),
                "editions": self.plant_editions(plant, &root),
                "cite": self.citation(plant),
            }),
        );
        sheet.own = Own::Plant(plant);
        sheet.place = entry.name.place.clone();
        sheet.faults = faults;
        sheet
    }

    /// Traits in the order in which the jobs ask for them, then the others.
    fn traits_in_order(&self) -> Vec<usize> {
        let guide = self.guide;
        let asked = guide.roles.iter().flat_map(|role| {
            role.mainstay
                .iter()
                .chain(&role.support)
                .chain(&role.unsuited)
        });
        let all = asked
            .chain(&guide.every_role)
            .map(|clause| clause.trait_index)
            .chain(0..guide.traits.len());
        let mut out = Vec::new();
        for index in all {
            if !out.contains(&index) {
                out.push(index);
            }
        }
        out
    }

    /// The pictures of an entry; the plate of its growth form where it has none.
    fn specimen(&self, entry: &Plant, root: &str) -> Json {
        let pictures: Vec<Json> = entry
            .pictures
            .iter()
            .map(|picture| {
                let size = self.sizes.get(picture.file.value.as_str());
                json!({
                    "src": format!("{root}pictures/{}", picture.file.value),
                    "alt": picture.alt,
                    "width": size.map(|size| size.0),
                    "height": size.map(|size| size.1),
                    "credit": picture.credit,
                    "licence": picture.licence,
                })
            })
            .collect();
        let drawn = plate_of(&entry.forms, self.plates).filter(|_| pictures.is_empty());
        let plate = drawn.and_then(|(id, drawing)| {
            let form = self.guide.forms.iter().find(|form| form.id == id)?;
            let title = format!("{}, drawn as a growth form; not this species", form.title);
            Some(json!({ "form": form.title, "svg": plate(drawing, &title) }))
        });
        json!({ "pictures": pictures, "plate": plate })
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
    pub(crate) fn is_ruled_out(&self, plant: PlantId, water: usize) -> bool {
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
                let measured: Vec<Json> = measured
                    .iter()
                    .map(|(key, pooled)| {
                        let sentence = self.sentences.measured(key, pooled, &unit_on(on));
                        let forest = (pooled.k > 1).then(|| {
                            self.forest_view(index, on, (key, pooled), &sentence, (graded, &anchor))
                        });
                        json!({ "sentence": sentence, "forest": forest })
                    })
                    .collect();
                let some = (grade.voices > 0).then_some(grade);
                json!({
                    "sentence": self.sentences.grade(guide, index, some, ""),
                    "grade": self.grade_view(index, grade),
                    "chart": (grade.voices > 0).then(|| self.trait_chart(index, on, grade, graded, &anchor)),
                    "balance": self.balance_words(index, on, grade.mean),
                    "rows": self.voice_rows(index, graded, &anchor),
                    "measured": measured,
                    "in_water": self.by_water(plant, index, grade),
                    "goes_with": self.sentences.goes_with(guide, goes_with, graded.voices.len()),
                    "splits": self.splits(index, on, goes_with, graded, &anchor),
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

    /// How a trait on a scale is graded, whatever the water and in each; waters that are graded
    /// alike share a row.
    fn by_water(&self, plant: PlantId, index: usize, overall: &Grade) -> Vec<Json> {
        let guide = self.guide;
        let mut rows: Vec<(Vec<&str>, Json)> = Vec::new();
        for (water, grades) in self.reconciled.plants[plant].in_water.iter().enumerate() {
            let Some(grade) = grades.get(&index) else {
                continue;
            };
            let title = guide.waters[water].title.as_str();
            let view = self.grade_view(index, grade);
            match rows.iter_mut().find(|(_, other)| *other == view) {
                Some((titles, _)) => titles.push(title),
                None => rows.push((vec![title], view)),
            }
        }
        let whatever = self.grade_view(index, overall);
        let row = |place: String, grade: Json| json!({ "place": place, "grade": grade });
        if let [(titles, view)] = rows.as_slice()
            && titles.len() == guide.waters.len()
            && *view == whatever
        {
            return vec![row("In every kind of tank or pond".to_owned(), whatever)];
        }
        let mut out = Vec::new();
        if overall.level.is_some() {
            out.push(row("Whatever the water".to_owned(), whatever));
        }
        out.extend(
            rows.into_iter()
                .map(|(titles, view)| row(format!("In {}", titles.join("; ")), view)),
        );
        out
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
        anchor: &dyn Fn(usize) -> String,
    ) -> String {
        let of = &self.guide.traits[index];
        let id = format!("chart-{}", of.id);
        Chart {
            id: &id,
            title: &format!("Balance chart: {}", of.title),
            description: &format!(
                "{} {} The table below says the same.",
                self.sentences.grade(self.guide, index, Some(grade), ""),
                self.balance_words(index, on, grade.mean),
            ),
            levels: self.level_ids(on),
            weights: self.weights(graded, anchor, |_| true),
            mean: grade.mean,
            level: grade.level,
        }
        .svg()
    }

    fn level_ids(&self, on: &ScaleTrait) -> Vec<&str> {
        let levels = &self.guide.scales[on.scale].levels;
        levels.iter().map(|level| level.id.as_str()).collect()
    }

    /// The voices of a trait that a chart shows.
    fn weights(
        &self,
        graded: &TraitGrade,
        anchor: &dyn Fn(usize) -> String,
        is_shown: impl Fn(&Voice) -> bool,
    ) -> Vec<Weight> {
        let voices = graded.voices.iter().filter(|voice| is_shown(voice));
        voices
            .map(|voice| Weight {
                label: voice_name(self.guide, self.reconciled, voice.id),
                href: self.first_claim(voice.id, graded, anchor),
                position: voice.position(),
                weight: voice.weight,
                is_loose: self.is_loose_voice(voice, graded),
                whiskers: self
                    .is_measured_voice(voice, graded)
                    .then(|| whiskers(&voice.mean)),
            })
            .collect()
    }

    /// The measurements of one key as a forest plot and as rows of a table.
    fn forest_view(
        &self,
        index: usize,
        on: &ScaleTrait,
        (key, pooled): (&str, &Pooled),
        sentence: &str,
        (graded, anchor): (&TraitGrade, &dyn Fn(usize) -> String),
    ) -> Json {
        let of = &self.guide.traits[index];
        let is_growth = on.measure == Some(Measure::RelativeGrowthRate);
        let unit = unit_on(on);
        let figure = |value: f64| significant(value, 2);
        let pair = |(low, high): (f64, f64)| format!("{} to {}", figure(low), figure(high));
        // Two voices are shown with their values: an interval on one degree of freedom says nothing.
        let ci = (pooled.k > 2).then_some(pooled.ci);
        let doubling = |rate: f64| {
            (is_growth && rate > 0.0).then(|| days_in_words(std::f64::consts::LN_2 / rate))
        };
        let name = |voice: usize| voice_name(self.guide, self.reconciled, voice);
        let with_ci = |value: f64, ci: Option<(f64, f64)>| match ci {
            Some(ci) => format!("{} ({})", figure(value), pair(ci)),
            None => figure(value),
        };
        let estimates = pooled.estimates();
        let rows = estimates.iter().map(|one| Row {
            label: name(one.voice),
            href: self.first_measured(one.voice, key, graded, anchor),
            estimate: one.value,
            ci: one.ci,
            share: one.share,
            shown: with_ci(one.value, Some(one.ci)),
        });
        let mut readings = vec![on.edges.iter().map(|edge| figure(*edge)).collect()];
        if is_growth {
            let times = on.edges.iter().map(|edge| doubling(*edge));
            readings.push(times.map(Option::unwrap_or_default).collect());
        }
        let by = match key {
            "value" => String::new(),
            "unstated" => ", size not stated".to_owned(),
            key => format!(" by {key}"),
        };
        let title = format!("{}, measured{by}", of.title);
        let axis = if is_growth {
            "Along the foot, the relative growth rate a day and the time to double.".to_owned()
        } else if unit.is_empty() {
            String::new()
        } else {
            format!("Along the foot,{unit}.")
        };
        let marks = if ci.is_some() {
            "the diamond all of them together, as wide as its interval"
        } else {
            "the open diamond the two together, without an interval"
        };
        let caption = format!(
            "{title}. A square is a voice, as large as it counts here, with its 95 % interval; {marks}. {axis}"
        );
        let svg = Forest {
            id: &format!("forest-{}-{key}", of.id),
            title: &format!("Forest plot: {title}"),
            description: &format!("{sentence} The table below says the same."),
            edges: &on.edges,
            readings,
            levels: (0..on.levels)
                .map(|level| self.level_word(index, level))
                .collect(),
            rows: rows.collect(),
            together: Together {
                estimate: pooled.estimate,
                ci,
                prediction: pooled.prediction,
                shown: with_ci(pooled.estimate, ci),
                expected: pooled.prediction.map(pair).unwrap_or_default(),
            },
        }
        .svg();
        let row = |of: String, value: f64, ci: Option<(f64, f64)>, share: Option<f64>| {
            json!({
                "of": of,
                "value": figure(value),
                "ci": ci.map(pair),
                "doubling": doubling(value),
                "share": share.map(percent),
            })
        };
        let mut table: Vec<Json> = estimates
            .iter()
            .map(|one| {
                let mut row = row(name(one.voice), one.value, Some(one.ci), Some(one.share));
                row["claims"] = json!(self.claims_of(one.voice, graded, anchor));
                row
            })
            .collect();
        table.push(row("Together".to_owned(), pooled.estimate, ci, None));
        json!({
            "title": title,
            "caption": caption.trim_end(),
            "svg": svg,
            "unit": unit.trim_start(),
            "is_growth": is_growth,
            "rows": table,
            "prediction": pooled.prediction.map(pair),
        })
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
                    "claims": self.claims_of(voice.id, graded, anchor),
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
        let voices = graded.voices.iter().map(|voice| Bar {
            label: name(voice),
            href: self.first_claim(voice.id, graded, anchor),
            ends: (voice.mean[0], voice.mean[1]),
            weight: voice.weight,
        });
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
                    "claims": self.claims_of(voice.id, graded, anchor),
                })
            })
            .collect();
        (svg, rows)
    }

    /// The way to the first claim of a voice that was measured in a key.
    fn first_measured(
        &self,
        voice: usize,
        key: &str,
        graded: &TraitGrade,
        anchor: &dyn Fn(usize) -> String,
    ) -> Option<String> {
        let is_one = |one: &WeighedClaim| {
            let measured = &self.claims.all[one.id].measured;
            one.voice == voice
                && one.weight.is_some_and(|weight| weight > 0.0)
                && measured
                    .as_ref()
                    .is_some_and(|measured| measured.key == key)
        };
        let at = graded.claims.iter().position(is_one)?;
        Some(format!("#{}", anchor(at)))
    }

    /// The way to the first claim of a voice on the page.
    fn first_claim(
        &self,
        voice: usize,
        graded: &TraitGrade,
        anchor: &dyn Fn(usize) -> String,
    ) -> Option<String> {
        let claims = self.claims_of(voice, graded, anchor);
        claims.first().map(|claim| format!("#{claim}"))
    }

    /// Anchors of the claims that make up a voice.
    fn claims_of(
        &self,
        voice: usize,
        graded: &TraitGrade,
        anchor: &dyn Fn(usize) -> String,
    ) -> Vec<String> {
        graded
            .claims
            .iter()
            .enumerate()
            .filter(|(_, one)| one.voice == voice && one.weight.is_some_and(|w| w > 0.0))
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

    /// What a difference clearly goes with, as a chart of each group; circumstances that group the
    /// voices alike share their charts.
    fn splits(
        &self,
        index: usize,
        on: &ScaleTrait,
        factors: &[Factor],
        graded: &TraitGrade,
        anchor: &dyn Fn(usize) -> String,
    ) -> Vec<Json> {
        let mut alike: Vec<(Vec<&[usize]>, Vec<&Factor>)> = Vec::new();
        for factor in factors.iter().filter(|factor| factor.share.is_notable()) {
            let mut groups: Vec<&[usize]> =
                factor.groups.iter().map(|(_, v)| v.as_slice()).collect();
            groups.sort();
            match alike.iter_mut().find(|(others, _)| *others == groups) {
                Some((_, same)) => same.push(factor),
                None => alike.push((groups, vec![factor])),
            }
        }
        alike
            .iter()
            .map(|(_, factors)| self.split_view(index, on, factors, graded, anchor))
            .collect()
    }

    fn split_view(
        &self,
        index: usize,
        on: &ScaleTrait,
        factors: &[&Factor],
        graded: &TraitGrade,
        anchor: &dyn Fn(usize) -> String,
    ) -> Json {
        let of = &self.guide.traits[index];
        let first = factors[0];
        let groups: Vec<Json> = first
            .groups
            .iter()
            .enumerate()
            .map(|(at, (_, voices))| {
                let labels: Vec<String> = factors
                    .iter()
                    .filter_map(|factor| {
                        let (label, _) = factor.groups.iter().find(|(_, same)| same == voices)?;
                        Some(format!("{} {}", self.factor_title(factor), spoken(label)))
                    })
                    .collect();
                let label = labels.join(", ");
                let members = graded.voices.iter().filter(|v| voices.contains(&v.id));
                let (weight, sum) = members.fold((0.0, 0.0), |(w, s), voice| {
                    (w + voice.weight, s + voice.weight * voice.position())
                });
                let mean = (weight > 0.0).then(|| sum / weight);
                let n = voices.len();
                let said = format!(
                    "{label}: {} ({})",
                    self.place_word(index, mean.unwrap_or(0.0)),
                    counted(n, "voice", "voices")
                );
                let svg = Chart {
                    id: &format!("chart-{}-{}-{}", of.id, first.id, at + 1),
                    title: &format!("Balance chart: {}. {label}", of.title),
                    description: &format!("{said}. {}", self.balance_words(index, on, mean)),
                    levels: self.level_ids(on),
                    weights: self.weights(graded, anchor, |v| voices.contains(&v.id)),
                    mean,
                    level: None,
                }
                .svg();
                json!({ "said": said, "chart": svg })
            })
            .collect();
        json!({ "groups": groups })
    }

    /// A circumstance in print.
    fn factor_title(&self, factor: &Factor) -> String {
        match factor.id.as_str() {
            "name" => "Name used".to_owned(),
            "kind" => "Kind of source".to_owned(),
            id => self
                .guide
                .conditions
                .iter()
                .find(|condition| condition.id == id)
                .map_or_else(|| id.to_owned(), |condition| condition.title.clone()),
        }
    }
}

//! Loose names, sources, contested, wanted, plantings, removed entries: what the club keeps record of.

use serde_json::{Value as Json, json};

use crate::content::{Roster, TraitKind};
use crate::diagnostic::counted;
use crate::names::PlantId;
use crate::pages::chart::{Chart, Weight};
use crate::pages::lean;
use crate::pages::mark::name_html;
use crate::pages::markdown::Markdown;
use crate::pages::mention::Own;
use crate::pages::{Press, Sheet, root};
use crate::quantity::{decimals, percent};
use crate::reconcile::{Group, Outcome, Run};

impl Press<'_> {
    /// What a loose name hides.
    pub(crate) fn loose_page(&self, genus: usize) -> Sheet {
        let guide = self.guide;
        let of = &guide.genera[genus];
        let address = format!("names/{}/index.html", of.folder);
        let root = root(&address);
        let title = of
            .loose_name
            .as_ref()
            .map_or(&self.names.genera[genus], |name| &name.value);
        let plants = self.names.of_genus(genus);
        let also: Vec<String> = of.also.iter().map(|name| name.value.clone()).collect();
        let loose: Vec<Json> = self.names.loose[genus]
            .iter()
            .map(|row| json!({ "name": name_html(&row.name), "plants": self.plant_refs(&row.covers, None, &root) }))
            .collect();
        let groups = &self.reconciled.groups[genus];
        let traits: Vec<Json> = groups
            .iter()
            .map(|(index, group)| self.group_view(*index, group, &root))
            .collect();
        let claims = self.loose_claims(&plants, &root);
        let table: Vec<Json> = plants
            .iter()
            .map(|plant| {
                let mut view = self.plant_ref(*plant, None, &root);
                let cells: Vec<Option<Json>> = groups
                    .iter()
                    .map(|(index, group)| {
                        let (level, _, voices) = group.levels.get(plant)?;
                        let voices = counted(voices.len(), "voice", "voices");
                        Some(json!({ "level": self.level_word(*index, *level), "voices": voices }))
                    })
                    .collect();
                view["cells"] = json!(cells);
                view
            })
            .collect();
        let mut sheet = Sheet::new(
            &address,
            "loose.html",
            title,
            &format!(
                "{title} is a loose name: the guide has {} under it.",
                counted(plants.len(), "plant", "plants")
            ),
            json!({
                "name": name_html(title),
                "count": counted(plants.len(), "plant", "plants"),
                "also": also,
                "columns": groups.keys().map(|index| guide.traits[*index].title.as_str()).collect::<Vec<_>>(),
                "plants": table,
                "loose": loose,
                "traits": traits,
                "claims": claims,
                "misleading": groups.values().any(|group| group.is_misleading),
            }),
        );
        sheet.own = Own::Genus(genus);
        sheet
    }

    fn group_view(&self, index: usize, group: &Group, root: &str) -> Json {
        let guide = self.guide;
        let of = &guide.traits[index];
        let plants: Vec<Json> = group
            .levels
            .iter()
            .map(|(plant, (level, weight, voices))| {
                let mut view = self.plant_ref(*plant, None, root);
                view["level"] = json!(self.level_word(index, *level));
                view["weight"] = json!(decimals(*weight, 2));
                view["voices"] = json!(voices.len());
                view
            })
            .collect();
        let chart = match &of.kind {
            TraitKind::Scale(on) => {
                let weights: Vec<Weight> = group
                    .levels
                    .iter()
                    .map(|(plant, (_, weight, voices))| {
                        let sum: f64 = voices
                            .iter()
                            .map(|voice| voice.weight * voice.position())
                            .sum();
                        Weight {
                            label: self.names.plants[*plant].name.clone(),
                            // A link would name the plant without its standing.
                            href: None,
                            position: sum / weight,
                            weight: *weight,
                            is_loose: false,
                            whiskers: None,
                        }
                    })
                    .collect();
                let total: f64 = weights.iter().map(|weight| weight.weight).sum();
                let mean = weights.iter().map(|w| w.weight * w.position).sum::<f64>() / total;
                let id = format!("chart-{}", of.id);
                let svg = Chart {
                    id: &id,
                    title: &format!("Balance chart: {} of the plants under this name", of.title),
                    description: &format!(
                        "{} The list below says the same.",
                        self.sentences.loose(guide, index, group)
                    ),
                    levels: guide.scales[on.scale]
                        .levels
                        .iter()
                        .map(|level| level.id.as_str())
                        .collect(),
                    weights,
                    mean: Some(mean),
                    level: None,
                }
                .svg();
                Some(svg)
            }
            TraitKind::Span(_) => None,
        };
        json!({
            "id": of.id,
            "title": of.title,
            "sentence": self.sentences.loose(guide, index, group),
            "misleading": group.is_misleading,
            "plants": plants,
            "chart": chart,
        })
    }

    /// Claims made under a loose name of the genus, each once.
    fn loose_claims(&self, plants: &[PlantId], root: &str) -> Vec<Json> {
        let mut seen = Vec::new();
        let mut out = Vec::new();
        for plant in plants {
            for (index, graded) in &self.reconciled.plants[*plant].traits {
                for one in &graded.claims {
                    if self.claims.all[one.id].is_loose && !seen.contains(&one.id) {
                        seen.push(one.id);
                        let mut view = self.claim_view(one, &format!("claim-{}", seen.len()), root);
                        view["trait"] = json!(self.guide.traits[*index].title);
                        out.push(view);
                    }
                }
            }
        }
        out
    }

    /// Every source.
    pub(crate) fn sources_page(&self) -> Sheet {
        let root = "../";
        // The trait that the first job asks for first: the one that carries the tank.
        let asked = self
            .guide
            .roles
            .first()
            .and_then(|role| role.mainstay.first());
        let carrying = asked.map(|clause| clause.trait_index);
        let sources: Vec<Json> = (0..self.guide.sources.len())
            .map(|source| {
                let mut view = self.source_view(source, root);
                view["claims"] = json!(counted(self.claims.of_source[source], "claim", "claims"));
                let run = carrying.and_then(|of| self.reconciled.runs[source].get(&of));
                view["run"] = json!(run.map(|run| json!({
                    "drawing": lean::cell(run),
                    "way": way(run),
                    "ci": interval(run),
                })));
                view
            })
            .collect();
        Sheet::new(
            "sources/index.html",
            "sources.html",
            "Sources",
            "Everyone who is quoted in this guide, and how much each says.",
            json!({
                "sources": sources,
                "trait": carrying.map(|of| self.guide.traits[of].title.as_str()),
            }),
        )
    }

    /// All that a source says, and how it runs against the others.
    pub(crate) fn source_page(&self, source: usize) -> Sheet {
        let guide = self.guide;
        let of = &guide.sources[source];
        let address = format!("sources/{}/index.html", of.id);
        let root = root(&address);
        let mut said: Vec<Json> = Vec::new();
        for (plant, grades) in self.reconciled.plants.iter().enumerate() {
            let mut claims = Vec::new();
            for (index, graded) in &grades.traits {
                for (at, one) in graded.claims.iter().enumerate() {
                    if self.claims.all[one.id].source == source {
                        let mut view = self.claim_view(one, "", &root);
                        view["trait"] = json!(guide.traits[*index].title);
                        view["href"] = json!(format!(
                            "{}#claim-{}-{}",
                            self.plant_href(plant, &root),
                            guide.traits[*index].id,
                            at + 1
                        ));
                        claims.push(view);
                    }
                }
            }
            if !claims.is_empty() {
                said.push(json!({ "plant": self.plant_ref(plant, None, &root), "claims": claims }));
            }
        }
        let leans: Vec<(&str, &Run)> = self.reconciled.runs[source]
            .iter()
            .map(|(index, run)| (guide.traits[*index].title.as_str(), run))
            .collect();
        let lean = lean::svg(&leans);
        let runs: Vec<Json> = self.reconciled.runs[source]
            .iter()
            .map(|(index, run)| {
                json!({
                    "trait": guide.traits[*index].title,
                    "plants": counted(run.n, "plant", "plants"),
                    "way": way(run),
                    "ci": interval(run),
                })
            })
            .collect();
        let repeats: Vec<Json> = of
            .repeats
            .iter()
            .map(|other| self.source_view(*other, &root))
            .collect();
        let voice = self.reconciled.voices.of_source[source];
        let together: Vec<Json> = (0..guide.sources.len())
            .filter(|other| *other != source && self.reconciled.voices.of_source[*other] == voice)
            .map(|other| self.source_view(other, &root))
            .collect();
        let mut view = self.source_view(source, &root);
        for (key, value) in [
            ("publisher", &of.publisher),
            ("container", &of.container),
            ("volume", &of.volume),
            ("issue", &of.issue),
            ("pages", &of.pages),
            ("url", &of.url),
            ("doi", &of.doi),
            ("isbn", &of.isbn),
        ] {
            view[key] = json!(value);
        }
        view["accessed"] = json!(of.accessed.map(|date| date.to_string()));
        view["weight"] = json!(
            guide
                .weights
                .kinds
                .get(&of.kind)
                .map(|weight| decimals(*weight, 2))
        );
        view["second_hand"] = json!(guide.weights.second_hand.contains(&of.kind));
        Sheet::new(
            &address,
            "source.html",
            &of.title,
            &format!(
                "All that this source says, and how it runs against the others: {}.",
                of.title
            ),
            json!({ "source": view, "said": said, "runs": runs, "lean": lean, "repeats": repeats, "together": together }),
        )
    }

    /// Where good sources stand apart.
    pub(crate) fn contested(&self) -> Sheet {
        let guide = self.guide;
        let root = "../";
        let mut rows = Vec::new();
        for (plant, grades) in self.reconciled.plants.iter().enumerate() {
            for (index, graded) in &grades.traits {
                let Outcome::Scale {
                    grade, goes_with, ..
                } = &graded.outcome
                else {
                    continue;
                };
                if !grade.is_contested {
                    continue;
                }
                rows.push(json!({
                    "plant": self.plant_ref(plant, None, root),
                    "trait": guide.traits[*index].title,
                    "href": format!("{}#trait-{}", self.plant_href(plant, root), guide.traits[*index].id),
                    "sentence": self.sentences.grade(guide, *index, Some(grade), ""),
                    "goes_with": self.sentences.goes_with(guide, goes_with, graded.voices.len()),
                }));
            }
        }
        Sheet::new(
            "contested/index.html",
            "contested.html",
            "Contested",
            "Where good sources stand far apart, and what the difference goes with.",
            json!({ "rows": rows }),
        )
    }

    /// Observations that would decide a standing.
    pub(crate) fn wanted(&self) -> Sheet {
        let guide = self.guide;
        let root = "../";
        let water = guide.about.default_water;
        let rows: Vec<Json> = self
            .standings
            .wanted
            .iter()
            .map(|wanted| {
                let standing =
                    self.standings.plants[wanted.plant].standings[water][wanted.role].as_ref();
                let changes: Vec<String> = standing.map_or_else(Vec::new, |standing| {
                    self.sentences
                        .changes(guide, standing)
                        .into_iter()
                        .zip(&standing.changes)
                        .filter(|(_, change)| Some(change.notes) == wanted.notes)
                        .map(|(sentence, _)| sentence)
                        .collect()
                });
                json!({
                    "plant": self.plant_ref(wanted.plant, Some((water, wanted.role)), root),
                    "role": guide.roles[wanted.role].title,
                    "notes": wanted.notes,
                    "changes": changes,
                })
            })
            .collect();
        Sheet::new(
            "wanted/index.html",
            "wanted.html",
            "Wanted",
            "Where a few more observations would decide a standing.",
            json!({ "rows": rows, "water": guide.waters[water].title, "contact": guide.about.contact, "slip": self.slip_view() }),
        )
    }

    /// Every planting.
    pub(crate) fn plantings_page(&self) -> Sheet {
        let root = "../";
        let rows: Vec<Json> = self
            .guide
            .rosters
            .iter()
            .map(|roster| {
                json!({
                    "title": roster.title,
                    "href": format!("{root}plantings/{}/", roster.id),
                    "water": roster.water.map(|water| self.guide.waters[water].title.clone()),
                    "started": roster.started.map(|date| date.to_string()),
                })
            })
            .collect();
        Sheet::new(
            "plantings/index.html",
            "plantings.html",
            "Plantings",
            "Real plantings, each plant with its job, and how they went.",
            json!({ "rows": rows }),
        )
    }

    /// One planting.
    pub(crate) fn planting_page(&self, roster: &Roster) -> Sheet {
        let guide = self.guide;
        let address = format!("plantings/{}/index.html", roster.id);
        let root = root(&address);
        let mut faults = Vec::new();
        let water = roster.water.unwrap_or(guide.about.default_water);
        let plants: Vec<Json> = roster
            .plants
            .iter()
            .filter_map(|row| {
                let plant = self.names.one(&row.plant, &mut faults)?;
                let mut view = match row.job {
                    Some(job) => self.plant_ref(plant, Some((water, job)), &root),
                    None => self.plant_ref(plant, None, &root),
                };
                view["job"] = json!(row.job.map(|job| guide.roles[job].title.clone()));
                view["amount"] = json!(row.amount.map(|amount| crate::claims::shown(&amount)));
                view["each"] = json!(row.each.map(|each| crate::claims::shown_span(&each)));
                Some(view)
            })
            .collect();
        let mut kinds: Vec<&str> = Vec::new();
        for reading in &roster.readings {
            for (kind, _) in &reading.values {
                if !kinds.contains(&kind.as_str()) {
                    kinds.push(kind);
                }
            }
        }
        let readings: Vec<Json> = roster
            .readings
            .iter()
            .map(|reading| {
                let cells: Vec<String> = kinds
                    .iter()
                    .map(|kind| {
                        let found = reading.values.iter().find(|(k, _)| k == kind);
                        found.map_or_else(
                            || "–".to_owned(),
                            |(_, value)| crate::claims::shown(value),
                        )
                    })
                    .collect();
                json!({ "on": reading.on.to_string(), "cells": cells })
            })
            .collect();
        let went = roster.went.as_ref().map(|text| {
            self.general_prose(
                text,
                Markdown {
                    top: 3,
                    prefix: "went",
                },
                &mut faults,
            )
        });
        let titles: Vec<String> = kinds
            .iter()
            .map(|kind| crate::pages::sentence::spoken(kind))
            .collect();
        let mut sheet = Sheet::new(
            &address,
            "planting.html",
            &roster.title,
            &format!("A real planting: {}.", roster.title),
            json!({
                "title": roster.title,
                "water": roster.water.map(|water| self.water_view(water, &root)),
                "volume": roster.volume.map(|volume| crate::claims::shown(&volume)),
                "started": roster.started.map(|date| date.to_string()),
                "ended": roster.ended.map(|date| date.to_string()),
                "keeps": roster.keeps,
                "feeds": roster.feeds.map(|feeds| match feeds.protein {
                    Some(protein) => format!(
                        "{} a day, {} protein",
                        crate::claims::shown(&feeds.amount),
                        percent(protein.value / 100.0)
                    ),
                    None => format!("{} a day", crate::claims::shown(&feeds.amount)),
                }),
                "plants": plants,
                "kinds": titles,
                "readings": readings,
                "went": went,
            }),
        );
        sheet.faults = faults;
        sheet.place = roster.place.clone();
        sheet
    }

    /// Removed entries, at their own address and at the plant's former one; renamed entries at
    /// each address they have had.
    pub(crate) fn gone_pages(&self) -> Vec<Sheet> {
        let mut out = Vec::new();
        for gone in &self.guide.gone {
            for address in [
                format!("gone/{}/index.html", gone.slug),
                format!("plants/{}/index.html", gone.slug),
            ] {
                let root = root(&address);
                let instead: Vec<PlantId> = gone
                    .instead
                    .iter()
                    .filter_map(|slug| {
                        self.names
                            .plants
                            .iter()
                            .position(|plant| plant.slug == slug.value)
                    })
                    .collect();
                out.push(Sheet::new(
                    &address,
                    "gone.html",
                    &gone.name,
                    &format!("What became of the entry for {}.", gone.name),
                    json!({
                        "name": name_html(&gone.name),
                        "moved": false,
                        "on": gone.on.map(|date| date.to_string()),
                        "because": gone.because,
                        "instead": self.plant_refs(&instead, None, &root),
                    }),
                ));
            }
        }
        for (id, plant) in self.names.plants.iter().enumerate() {
            for slug in &self.guide.plants[plant.entry].formerly {
                let address = format!("plants/{}/index.html", slug.value);
                let root = root(&address);
                out.push(Sheet::new(
                    &address,
                    "gone.html",
                    &plant.name,
                    &format!("This page has moved: {}.", plant.name),
                    json!({
                        "name": name_html(&plant.name),
                        "moved": true,
                        "on": null,
                        "because": null,
                        "instead": self.plant_refs(&[id], None, &root),
                    }),
                ));
            }
        }
        out
    }
}

/// How a source runs, in words.
fn way(run: &Run) -> String {
    if run.mean.abs() < 0.05 {
        return "level with the others".to_owned();
    }
    let side = if run.mean > 0.0 { "above" } else { "below" };
    format!("{} levels {side} the others", decimals(run.mean.abs(), 1))
}

/// The 95 % interval of how a source runs, in levels.
fn interval(run: &Run) -> Option<String> {
    let (low, high) = run.ci?;
    Some(format!("{} to {}", decimals(low, 1), decimals(high, 1)))
}

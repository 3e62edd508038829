//! Home, A–Z, roles, waters, loose names, sources, contested, wanted, plantings, removed entries.

use std::collections::BTreeMap;

use serde_json::{Value as Json, json};

use crate::content::{Roster, TraitKind};
use crate::diagnostic::counted;
use crate::names::PlantId;
use crate::pages::chart::{Chart, Weight};
use crate::pages::mark::{beam, escaped, name_html};
use crate::pages::markdown::Markdown;
use crate::pages::mention::Own;
use crate::pages::{Press, Sheet, root};
use crate::quantity::{decimals, percent};
use crate::reconcile::{Group, Outcome};
use crate::roles::{List, Word};

impl Press<'_> {
    /// Every page that lists plants, claims or plantings.
    pub(crate) fn lists(&self) -> Vec<Sheet> {
        let guide = self.guide;
        let mut out = vec![
            self.home(),
            self.all_plants(),
            self.roles_page(),
            self.contested(),
            self.wanted(),
            self.sources_page(),
            self.plantings_page(),
        ];
        for role in 0..guide.roles.len() {
            out.push(self.role_page(role));
            out.extend((0..guide.waters.len()).map(|water| self.role_in_water(role, water)));
        }
        out.extend((0..guide.waters.len()).map(|water| self.water_page(water)));
        let genera =
            (0..guide.genera.len()).filter(|genus| !self.names.of_genus(*genus).is_empty());
        out.extend(genera.map(|genus| self.loose_page(genus)));
        out.extend((0..guide.sources.len()).map(|source| self.source_page(source)));
        out.extend(
            guide
                .rosters
                .iter()
                .map(|roster| self.planting_page(roster)),
        );
        out.extend(self.gone_pages());
        out
    }

    /// Waters, the default one first.
    fn waters_in_order(&self) -> Vec<usize> {
        let default = self.guide.about.default_water;
        let mut order: Vec<usize> = (0..self.guide.waters.len()).collect();
        order.sort_by_key(|water| *water != default);
        order
    }

    fn water_view(&self, water: usize, root: &str) -> Json {
        let of = &self.guide.waters[water];
        json!({
            "id": of.id,
            "title": of.title,
            "href": format!("{root}waters/{}/", of.id),
            "tell_by": of.tell_by,
            "conditions": self.water_conditions(water),
            "default": water == self.guide.about.default_water,
        })
    }

    fn home(&self) -> Sheet {
        let guide = self.guide;
        let waters: Vec<Json> = self
            .waters_in_order()
            .into_iter()
            .map(|water| {
                let roles: Vec<Json> = (0..guide.roles.len())
                    .map(|role| {
                        let of = &guide.roles[role];
                        let mut plants =
                            crate::roles::mainstays(&self.standings.plants, water, role, false);
                        let more = plants.len().saturating_sub(5);
                        plants.truncate(5);
                        json!({
                            "title": of.title,
                            "asks": of.asks,
                            "href": format!("roles/{}/{}/", of.id, guide.waters[water].id),
                            "plants": self.plant_refs(&plants, Some((water, role)), ""),
                            "more": more,
                        })
                    })
                    .collect();
                let mut view = self.water_view(water, "");
                view["roles"] = json!(roles);
                view
            })
            .collect();
        let about = format!(
            "{}: which plants can be relied on to do a job in your kind of tank or pond.",
            guide.about.title
        );
        let counts = [
            counted(self.names.plants.len(), "plant", "plants"),
            counted(self.claims.all.len(), "claim", "claims"),
            counted(guide.sources.len(), "source", "sources"),
        ]
        .join(", ");
        Sheet::new(
            "index.html",
            "home.html",
            &guide.about.title,
            &about,
            json!({ "waters": waters, "counts": counts }),
        )
    }

    fn all_plants(&self) -> Sheet {
        let guide = self.guide;
        let root = "../";
        let mut rows: Vec<(String, Json)> = Vec::new();
        for (id, plant) in self.names.plants.iter().enumerate() {
            let entry = &guide.plants[plant.entry];
            let known: Vec<&str> = entry
                .known_as
                .iter()
                .map(|name| name.value.as_str())
                .collect();
            let forms: Vec<&str> = entry
                .forms
                .iter()
                .filter_map(|id| guide.forms.iter().find(|form| form.id == *id))
                .map(|form| form.title.as_str())
                .collect();
            let mut view = self.plant_ref(id, None, root);
            view["known_as"] = json!(known.join(", "));
            view["forms"] = json!(forms.join(", "));
            rows.push((plant.slug.clone(), view));
            // Other names lead to the accepted one, whose standing stands there too.
            let synonyms = entry
                .synonyms
                .iter()
                .map(|name| (name, name_html(&name.value)));
            let trade = entry
                .trade_names
                .iter()
                .map(|name| (name, escaped(&name.value)));
            for (other, shown) in synonyms.chain(trade) {
                let mut view = self.plant_ref(id, None, root);
                view["see"] = json!(shown);
                view["known_as"] = json!("");
                view["forms"] = json!("");
                rows.push((crate::names::slug::slug(&other.value), view));
            }
        }
        rows.sort_by(|a, b| a.0.cmp(&b.0));
        let mut letters: BTreeMap<String, Vec<Json>> = BTreeMap::new();
        for (slug, mut view) in rows {
            if view.get("see").is_none() {
                view["see"] = Json::Null;
            }
            let letter = slug
                .chars()
                .next()
                .unwrap_or('?')
                .to_uppercase()
                .to_string();
            letters.entry(letter).or_default().push(view);
        }
        let letters: Vec<Json> = letters
            .into_iter()
            .map(|(letter, plants)| json!({ "letter": letter, "id": format!("letter-{}", letter.to_lowercase()), "plants": plants }))
            .collect();
        let genera: Vec<Json> = (0..guide.genera.len())
            .filter(|genus| !self.names.of_genus(*genus).is_empty())
            .map(|genus| {
                json!({
                    "title": name_html(&self.names.genera[genus]),
                    "href": format!("{root}names/{}/", guide.genera[genus].folder),
                    "plants": counted(self.names.of_genus(genus).len(), "plant", "plants"),
                })
            })
            .collect();
        Sheet::new(
            "plants/index.html",
            "plants.html",
            "Plants from A to Z",
            "Every plant of the guide, with its standing in the first job its form can have.",
            json!({
                "letters": letters,
                "genera": genera,
                "water": guide.waters[guide.about.default_water].title,
            }),
        )
    }

    fn roles_page(&self) -> Sheet {
        let guide = self.guide;
        let root = "../";
        let roles: Vec<Json> = guide
            .roles
            .iter()
            .map(|role| {
                let waters: Vec<Json> = self
                    .waters_in_order()
                    .into_iter()
                    .map(|water| {
                        json!({
                            "title": guide.waters[water].title,
                            "href": format!("{root}roles/{}/{}/", role.id, guide.waters[water].id),
                        })
                    })
                    .collect();
                json!({
                    "title": role.title,
                    "asks": role.asks,
                    "href": format!("{root}roles/{}/", role.id),
                    "waters": waters,
                })
            })
            .collect();
        Sheet::new(
            "roles/index.html",
            "roles.html",
            "Jobs",
            "The jobs a plant can have, and what each asks of it.",
            json!({ "roles": roles }),
        )
    }

    /// Plants of a role in a water in groups by standing.
    fn standing_groups(&self, water: usize, role: usize, root: &str) -> Vec<Json> {
        self.by_standing(water, role)
            .into_iter()
            .map(|(word, plants)| {
                let rows: Vec<Json> = plants
                    .iter()
                    .map(|plant| {
                        let mut view = self.plant_ref(*plant, Some((water, role)), root);
                        let standing =
                            self.standings.plants[*plant].standings[water][role].as_ref();
                        let sentence = standing.map(|standing| {
                            self.sentences.standing(
                                self.guide,
                                self.reconciled,
                                standing,
                                *plant,
                                water,
                                role,
                            )
                        });
                        view["sentence"] = json!(sentence);
                        view
                    })
                    .collect();
                json!({
                    "word": word.on_screen(),
                    "id": word.id(),
                    "beam": beam(word),
                    "count": counted(rows.len(), "plant", "plants"),
                    "plants": rows,
                })
            })
            .collect()
    }

    fn clause_views(&self, role: usize) -> Vec<Json> {
        let guide = self.guide;
        let of = &guide.roles[role];
        // Any plant's verdicts have the clauses in words; the role's own text is the same for all.
        let standing = self
            .standings
            .plants
            .iter()
            .flat_map(|plant| plant.standings.iter())
            .find_map(|by_role| by_role[role].as_ref());
        let Some(standing) = standing else {
            return Vec::new();
        };
        [List::Unsuited, List::Mainstay, List::Support]
            .into_iter()
            .filter_map(|list| {
                let clauses: Vec<Json> = standing
                    .clauses
                    .iter()
                    .filter(|verdict| verdict.list == list)
                    .map(|verdict| json!({ "text": verdict.text, "because": verdict.because }))
                    .collect();
                let title = match list {
                    List::Unsuited => "Wrong for the water, if",
                    List::Mainstay => "A mainstay needs all of",
                    List::Support => "A support needs all of",
                };
                (!clauses.is_empty())
                    .then(|| json!({ "title": title, "clauses": clauses, "role": of.title }))
            })
            .collect()
    }

    fn role_view(&self, role: usize, root: &str) -> Json {
        let of = &self.guide.roles[role];
        let forms: Option<Vec<&str>> = of.forms.as_ref().map(|forms| {
            let title = |id: &String| {
                self.guide
                    .forms
                    .iter()
                    .find(|form| form.id == *id)
                    .map(|form| form.title.as_str())
            };
            forms.iter().filter_map(title).collect()
        });
        json!({
            "id": of.id,
            "title": of.title,
            "asks": of.asks,
            "href": format!("{root}roles/{}/", of.id),
            "forms": forms.map(|forms| forms.join(", ").to_lowercase()),
            "lists": self.clause_views(role),
        })
    }

    fn role_page(&self, role: usize) -> Sheet {
        let guide = self.guide;
        let of = &guide.roles[role];
        let address = format!("roles/{}/index.html", of.id);
        let root = root(&address);
        let waters: Vec<Json> = self
            .waters_in_order()
            .into_iter()
            .map(|water| {
                let mut view = self.water_view(water, &root);
                view["role_href"] =
                    json!(format!("{root}roles/{}/{}/", of.id, guide.waters[water].id));
                view["groups"] = json!(self.standing_groups(water, role, &root));
                view
            })
            .collect();
        Sheet::new(
            &address,
            "role.html",
            &of.title,
            of.asks.as_deref().unwrap_or(&of.title),
            json!({ "role": self.role_view(role, &root), "waters": waters, "one": false }),
        )
    }

    fn role_in_water(&self, role: usize, water: usize) -> Sheet {
        let guide = self.guide;
        let (of, place) = (&guide.roles[role], &guide.waters[water]);
        let address = format!("roles/{}/{}/index.html", of.id, place.id);
        let root = root(&address);
        let mut view = self.water_view(water, &root);
        view["role_href"] = json!(format!("{root}{}", address.trim_end_matches("index.html")));
        view["groups"] = json!(self.standing_groups(water, role, &root));
        let title = format!("{}: {}", of.title, place.title);
        Sheet::new(
            &address,
            "role.html",
            &title,
            &format!(
                "How each plant stands for {} in {}.",
                of.title.to_lowercase(),
                place.title
            ),
            json!({ "role": self.role_view(role, &root), "waters": [view], "one": true }),
        )
    }

    fn water_page(&self, water: usize) -> Sheet {
        let guide = self.guide;
        let of = &guide.waters[water];
        let address = format!("waters/{}/index.html", of.id);
        let root = root(&address);
        let roles: Vec<Json> = (0..guide.roles.len())
            .map(|role| {
                let doing: Vec<Json> = self
                    .by_standing(water, role)
                    .into_iter()
                    .filter(|(word, _)| matches!(word, Word::Mainstay | Word::Support))
                    .flat_map(|(_, plants)| self.plant_refs(&plants, Some((water, role)), &root))
                    .collect();
                json!({
                    "title": guide.roles[role].title,
                    "asks": guide.roles[role].asks,
                    "href": format!("{root}roles/{}/{}/", guide.roles[role].id, of.id),
                    "plants": doing,
                })
            })
            .collect();
        // A plant that some role finds wrong for this water is kept out of it.
        let keep_out: Vec<Json> = (0..self.names.plants.len())
            .filter_map(|plant| {
                let (role, standing) = self.standings.plants[plant].standings[water]
                    .iter()
                    .enumerate()
                    .find_map(|(role, standing)| {
                        standing
                            .as_ref()
                            .filter(|s| s.word == Word::Unsuited)
                            .map(|s| (role, s))
                    })?;
                let mut view = self.plant_ref(plant, Some((water, role)), &root);
                let sentence =
                    self.sentences
                        .standing(guide, self.reconciled, standing, plant, water, role);
                view["sentence"] = json!(sentence);
                Some(view)
            })
            .collect();
        let others: Vec<Json> = self
            .waters_in_order()
            .into_iter()
            .filter(|other| *other != water)
            .map(|other| self.water_view(other, &root))
            .collect();
        Sheet::new(
            &address,
            "water.html",
            &of.title,
            &format!("What does which job in {}, and what to keep out.", of.title),
            json!({ "water": self.water_view(water, &root), "roles": roles, "keep_out": keep_out, "others": others }),
        )
    }

    fn loose_page(&self, genus: usize) -> Sheet {
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
                "plants": self.plant_refs(&plants, None, &root),
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
                            position: sum / weight,
                            weight: *weight,
                            is_loose: false,
                            whisker: None,
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

    fn sources_page(&self) -> Sheet {
        let root = "../";
        let sources: Vec<Json> = (0..self.guide.sources.len())
            .map(|source| {
                let mut view = self.source_view(source, root);
                view["claims"] = json!(counted(self.claims.of_source[source], "claim", "claims"));
                view
            })
            .collect();
        Sheet::new(
            "sources/index.html",
            "sources.html",
            "Sources",
            "Everyone who is quoted in this guide, and how much each says.",
            json!({ "sources": sources }),
        )
    }

    fn source_page(&self, source: usize) -> Sheet {
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
        let runs: Vec<Json> = self.reconciled.runs[source]
            .iter()
            .map(|(index, run)| {
                let way = if run.mean.abs() < 0.05 {
                    "level with the others".to_owned()
                } else {
                    let side = if run.mean > 0.0 { "above" } else { "below" };
                    format!("{} levels {side} the others", decimals(run.mean.abs(), 1))
                };
                json!({
                    "trait": guide.traits[*index].title,
                    "plants": counted(run.n, "plant", "plants"),
                    "way": way,
                    "ci": run.ci.map(|(low, high)| format!("{} to {}", decimals(low, 1), decimals(high, 1))),
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
            json!({ "source": view, "said": said, "runs": runs, "repeats": repeats, "together": together }),
        )
    }

    fn contested(&self) -> Sheet {
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

    fn wanted(&self) -> Sheet {
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
            json!({ "rows": rows, "water": guide.waters[water].title, "contact": guide.about.contact }),
        )
    }

    fn plantings_page(&self) -> Sheet {
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

    fn planting_page(&self, roster: &Roster) -> Sheet {
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
    fn gone_pages(&self) -> Vec<Sheet> {
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

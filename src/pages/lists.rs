//! Home, A–Z, roles and waters: where a reader looks for a plant; and the list of all such pages.

use std::collections::BTreeMap;

use serde_json::{Value as Json, json};

use crate::content::{Clause, Measure, TraitKind};
use crate::diagnostic::counted;
use crate::names::PlantId;
use crate::pages::mark::{beam, beam_again, escaped, glyphs, name_html};
use crate::pages::mention::first_role;
use crate::pages::sentence::within;
use crate::pages::specimen::{plate_of, vignette};
use crate::pages::{Press, Sheet, root};
use crate::reconcile::Outcome;
use crate::reconcile::grade::Confidence;
use crate::roles::{Word, asks};

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
    pub(crate) fn waters_in_order(&self) -> Vec<usize> {
        let default = self.guide.about.default_water;
        let mut order: Vec<usize> = (0..self.guide.waters.len()).collect();
        order.sort_by_key(|water| *water != default);
        order
    }

    /// A water as a template sees it.
    pub(crate) fn water_view(&self, water: usize, root: &str) -> Json {
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

    pub(crate) fn home(&self) -> Sheet {
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
            json!({ "waters": waters, "counts": counts, "front": self.frontispiece() }),
        )
    }

    /// The growth form of the first plant that the home page names, drawn beside its first words.
    fn frontispiece(&self) -> Option<Json> {
        let guide = self.guide;
        let water = guide.about.default_water;
        let mut first = (0..guide.roles.len()).filter_map(|role| {
            crate::roles::mainstays(&self.standings.plants, water, role, false)
                .first()
                .copied()
        });
        let entry = &guide.plants[self.names.plants[first.next()?].entry];
        let (id, drawing) = plate_of(&entry.forms, self.plates)?;
        let form = guide.forms.iter().find(|form| form.id == id)?;
        Some(json!({ "svg": vignette(drawing), "form": form.title, "plain": form.plain }))
    }

    pub(crate) fn all_plants(&self) -> Sheet {
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
            let here = self.az_ref(id, root);
            let mut view = here.clone();
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
                let mut view = here.clone();
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
                "glyphs": glyphs(),
                "forms": guide.forms.iter().map(|form| json!({ "id": form.id, "title": form.title })).collect::<Vec<_>>(),
                "words": Word::ALL.map(|word| json!({ "id": word.id(), "title": word.on_screen() })),
                "sure": Confidence::ALL.map(|sure| json!({ "id": sure.word().replace(' ', "-"), "title": sure.word() })),
                "growth": self.scale_trait(Measure::RelativeGrowthRate).map(|at| within(&guide.traits[at].title)),
                "light": self.scale_trait(Measure::Light).map(|at| json!({
                    "title": guide.traits[at].title,
                    "levels": self.levels_of(at),
                })),
            }),
        )
    }

    /// The first trait on a scale that is measured so.
    fn scale_trait(&self, measure: Measure) -> Option<usize> {
        self.guide
            .traits
            .iter()
            .position(|of| matches!(&of.kind, TraitKind::Scale(on) if on.measure == Some(measure)))
    }

    /// Ids and words of a trait's levels, lowest first.
    fn levels_of(&self, trait_index: usize) -> Vec<Json> {
        let TraitKind::Scale(on) = &self.guide.traits[trait_index].kind else {
            return Vec::new();
        };
        let levels = &self.guide.scales[on.scale].levels;
        (0..levels.len())
            .map(|at| json!({ "id": levels[at].id, "title": self.level_word(trait_index, at) }))
            .collect()
    }

    /// A plant in the list from A to Z, with what its script sorts out by: forms, the standing in
    /// each water (as in the search drawers), the confidence of growth there (its place among the
    /// five, or a dash), and the level of the light it needs.
    fn az_ref(&self, plant: PlantId, root: &str) -> Json {
        let grades = &self.reconciled.plants[plant];
        let mut view = self.plant_ref(plant, None, root);
        if let Some((_, standing)) = first_role(self.guide, self.standings, plant) {
            view["beam"] = json!(beam_again(standing.word));
        }
        view["form_ids"] = json!(
            self.guide.plants[self.names.plants[plant].entry]
                .forms
                .join(" ")
        );
        view["at"] = json!(self.standing_codes(plant));
        let growth = self.scale_trait(Measure::RelativeGrowthRate);
        let sure: String = self
            .waters_in_order()
            .into_iter()
            .map(|water| {
                growth
                    .and_then(|growth| grades.in_water[water].get(&growth))
                    .filter(|grade| grade.level.is_some())
                    .and_then(|grade| {
                        Confidence::ALL
                            .iter()
                            .position(|of| *of == grade.confidence)
                    })
                    .map_or_else(|| "-".to_owned(), |at| at.to_string())
            })
            .collect();
        view["sure"] = json!(sure);
        let light = self.scale_trait(Measure::Light).and_then(|light| {
            match &grades.traits.get(&light)?.outcome {
                Outcome::Scale { grade, .. } => grade.level,
                Outcome::Span(_) => None,
            }
        });
        view["light"] = json!(light.map(|level| level.to_string()).unwrap_or_default());
        view
    }

    pub(crate) fn roles_page(&self) -> Sheet {
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
                            "id": guide.waters[water].id,
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
            .map(|group| {
                let rows: Vec<Json> = group
                    .plants
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
                let id = if group.is_listed {
                    format!("{}-listed", group.word.id())
                } else {
                    group.word.id().to_owned()
                };
                json!({
                    "word": group.word.on_screen(),
                    "id": id,
                    "listed": group.is_listed,
                    "beam": beam(group.word),
                    "count": counted(rows.len(), "plant", "plants"),
                    "plants": rows,
                })
            })
            .collect()
    }

    fn clause_views(&self, role: usize) -> Vec<Json> {
        let guide = self.guide;
        let of = &guide.roles[role];
        let unsuited: Vec<&Clause> = guide.every_role.iter().chain(&of.unsuited).collect();
        [
            ("Wrong for the water, if", unsuited),
            ("A mainstay needs all of", of.mainstay.iter().collect()),
            ("A support needs all of", of.support.iter().collect()),
        ]
        .into_iter()
        .filter(|(_, clauses)| !clauses.is_empty())
        .map(|(title, clauses)| {
            let clauses: Vec<Json> = clauses
                .into_iter()
                .map(|clause| json!({ "text": asks(clause, guide), "because": clause.because }))
                .collect();
            json!({ "title": title, "clauses": clauses })
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

    pub(crate) fn role_page(&self, role: usize) -> Sheet {
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
            json!({
                "role": self.role_view(role, &root),
                "waters": waters,
                "one": false,
                "others": Vec::<Json>::new(),
            }),
        )
    }

    pub(crate) fn role_in_water(&self, role: usize, water: usize) -> Sheet {
        let guide = self.guide;
        let (of, place) = (&guide.roles[role], &guide.waters[water]);
        let address = format!("roles/{}/{}/index.html", of.id, place.id);
        let root = root(&address);
        let mut view = self.water_view(water, &root);
        view["role_href"] = json!(format!("{root}{}", address.trim_end_matches("index.html")));
        view["groups"] = json!(self.standing_groups(water, role, &root));
        let title = format!("{}: {}", of.title, place.title);
        let others = self
            .waters_in_order()
            .into_iter()
            .filter(|other| *other != water);
        let others: Vec<Json> = others
            .map(|other| {
                let other = &guide.waters[other];
                json!({
                    "id": other.id,
                    "title": other.title,
                    "href": format!("{root}roles/{}/{}/", of.id, other.id),
                })
            })
            .collect();
        Sheet::new(
            &address,
            "role.html",
            &title,
            &format!(
                "How each plant stands for {} in {}.",
                of.title.to_lowercase(),
                place.title
            ),
            json!({
                "role": self.role_view(role, &root),
                "waters": [view],
                "one": true,
                "others": others,
            }),
        )
    }

    pub(crate) fn water_page(&self, water: usize) -> Sheet {
        let guide = self.guide;
        let of = &guide.waters[water];
        let address = format!("waters/{}/index.html", of.id);
        let root = root(&address);
        let roles: Vec<Json> = (0..guide.roles.len())
            .map(|role| {
                let (mut doing, mut listed): (Vec<PlantId>, Vec<PlantId>) = Default::default();
                for group in self.by_standing(water, role) {
                    if !matches!(group.word, Word::Mainstay | Word::Support) {
                        continue;
                    }
                    let list = if group.is_listed {
                        &mut listed
                    } else {
                        &mut doing
                    };
                    list.extend(group.plants);
                }
                json!({
                    "title": guide.roles[role].title,
                    "asks": guide.roles[role].asks,
                    "href": format!("{root}roles/{}/{}/", guide.roles[role].id, of.id),
                    "plants": self.plant_refs(&doing, Some((water, role)), &root),
                    "listed": self.plant_refs(&listed, Some((water, role)), &root),
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
}

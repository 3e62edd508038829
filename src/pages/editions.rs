//! Editions: their list, the page of each, what they say of a plant, and each as data.

use serde_json::{Value as Json, json};

use crate::diagnostic::counted;
use crate::editions::tell::{causes, frame, overall, tally, turned, whence};
use crate::editions::{Edition, PlantShift, Recorded, Shifts, Told, text};
use crate::names::PlantId;
use crate::pages::mark::{beam_again, escaped, glyphs, name_html};
use crate::pages::{Press, Sheet};
use crate::roles::{Word, notice};

/// The way from an edition's page to the site's root.
const ROOT: &str = "../../";

impl Press<'_> {
    /// What shifts are told with.
    pub(crate) fn told(&self) -> Told<'_> {
        Told {
            guide: self.guide,
            names: self.names,
            claims: self.claims,
            standings: self.standings,
        }
    }

    /// The list of editions, and each one's page.
    pub(crate) fn edition_pages(&self) -> Vec<Sheet> {
        let rows: Vec<Json> = (0..self.editions.len())
            .rev()
            .map(|at| {
                let mut view = edition_view(&self.editions[at], "");
                let plants = self.editions[at].plants.len();
                view["plants"] = json!(counted(plants, "plant", "plants"));
                view["shifts"] = json!(self.shifts_before(at).map(tally));
                view
            })
            .collect();
        let mut out = vec![Sheet::new(
            "editions/index.html",
            "editions.html",
            "Editions",
            "Dated records of every grade and standing, which can be cited, and what moved between them.",
            json!({ "rows": rows }),
        )];
        out.extend((0..self.editions.len()).map(|at| self.edition_page(at)));
        out
    }

    /// What moved to an edition since the one before; `None` for the first.
    pub(crate) fn shifts_before(&self, at: usize) -> Option<&Shifts> {
        self.shifts.get(at.checked_sub(1)?)
    }

    fn edition_page(&self, at: usize) -> Sheet {
        let edition = &self.editions[at];
        let date = date_of(edition);
        let told = self.told();
        let number = edition.head.number;
        let plants: Vec<Json> = edition
            .plants
            .iter()
            .map(|(slug, recorded)| self.recorded_view(slug, recorded, edition))
            .collect();
        let waters: Vec<&str> = edition.waters.iter().map(|id| told.water(id)).collect();
        let mut view = edition_view(edition, "../");
        let neighbour = |at: Option<usize>| {
            at.and_then(|at| self.editions.get(at))
                .map(|other| edition_view(other, "../"))
        };
        view["before"] = json!(neighbour(at.checked_sub(1)));
        view["after"] = json!(neighbour(at.checked_add(1)));
        view["waters"] = json!(waters);
        view["plants"] = json!(plants);
        view["count"] = json!(counted(plants.len(), "plant", "plants"));
        view["glyphs"] = json!(glyphs());
        view["made_with"] = json!(edition.made_with);
        view["cite"] = json!(format!(
            "{}: {}, edition {number} ({date}). {}editions/{date}/",
            self.guide.about.publisher, self.guide.about.title, self.guide.about.address
        ));
        view["shifts"] = json!(self.shifts_before(at).map(|shifts| json!({
            "tally": tally(shifts),
            "frame": frame(shifts, told),
            "plants": shifts.plants.iter().map(|plant| self.shift_view(plant)).collect::<Vec<_>>(),
        })));
        Sheet::new(
            &format!("editions/{date}/index.html"),
            "edition.html",
            &format!("Edition {number}"),
            &format!(
                "Edition {number} of {}, {date}: every standing as it was.",
                self.guide.about.title
            ),
            view,
        )
    }

    /// A plant of an edition: its name with its standing then, and in short those in other jobs.
    fn recorded_view(&self, slug: &str, recorded: &Recorded, edition: &Edition) -> Json {
        let guide = self.guide;
        let told = self.told();
        let plant = told.plant(slug);
        let water = &guide.waters[guide.about.default_water];
        // As everywhere: the first role of its forms in the default water.
        let first = guide.roles.iter().find_map(|role| {
            let word = recorded.standing(&role.id, &water.id)?;
            Some((role, word))
        });
        let now = |role: &str| {
            let at = guide.roles.iter().position(|of| of.id == role)?;
            let here = &self.standings.plants[plant?].standings[guide.about.default_water];
            here[at].as_ref().map(|standing| standing.word)
        };
        let turned = first.and_then(|(role, word)| {
            let now = now(&role.id)?;
            (now != word).then(|| now.on_screen())
        });
        let law = plant.map_or_else(String::new, |plant| notice(guide, self.standings, plant));
        let in_order = guide.roles.iter().map(|role| &role.id);
        let gone = edition
            .roles
            .iter()
            .filter(|id| !guide.roles.iter().any(|role| role.id == **id));
        let jobs: Vec<String> = in_order
            .chain(gone)
            .filter_map(|role| {
                let words = in_short(recorded, role, &edition.waters)?;
                Some(format!("{}: {words}", told.role(role)))
            })
            .collect();
        json!({
            "slug": slug,
            "href": plant.map(|plant| self.plant_href(plant, ROOT)),
            "name": name_html(&recorded.name),
            "beam": first.map(|(_, word)| beam_again(word)),
            "word": first.map_or("no job for its form", |(_, word)| word.on_screen()),
            "doubt": false,
            "role": first.map(|(role, _)| format!("for {} in {}", role.title.to_lowercase(), water.title)),
            "law": (!law.is_empty()).then_some(law),
            "now": turned,
            "jobs": jobs.join("; "),
        })
    }

    /// What moved of a plant; its name with its standing as it is.
    fn shift_view(&self, shift: &PlantShift) -> Json {
        let told = self.told();
        let plant = told.plant(&shift.slug);
        let turns: Vec<Json> = shift
            .turns
            .iter()
            .map(|turn| {
                let by: Vec<String> = turn
                    .by
                    .iter()
                    .map(|id| told.trait_title(id).to_lowercase())
                    .collect();
                let (from, to) = turned(turn);
                json!({
                    "role": told.role(&turn.role),
                    "water": told.water(&turn.water),
                    "from": from,
                    "to": to,
                    "beam": turn.to.map(beam_again),
                    "by": by.join(", "),
                })
            })
            .collect();
        let traits: Vec<Json> = shift
            .traits
            .iter()
            .map(|of| {
                let claims: Vec<Json> = of
                    .claims
                    .iter()
                    .map(|claim| {
                        let is_here = self.guide.sources.iter().any(|s| s.id == claim.source);
                        json!({
                            "what": claim.what.word(),
                            "source": told.source(&claim.source),
                            "href": is_here.then(|| format!("{ROOT}sources/{}/", claim.source)),
                            "words": told.claim(&shift.slug, &of.id, claim),
                        })
                    })
                    .collect();
                let in_water: Vec<String> = of
                    .in_water
                    .iter()
                    .map(|(water, step)| {
                        format!("in {}: {}", told.water(water), told.step(&of.id, step))
                    })
                    .collect();
                json!({
                    "title": told.trait_title(&of.id),
                    "overall": overall(of, told),
                    "in_water": in_water,
                    "claims": claims,
                })
            })
            .collect();
        json!({
            "plant": plant.map(|plant| self.plant_ref(plant, None, ROOT)),
            "name": name_html(&shift.name),
            "whence": whence(shift, told),
            "turns": turns,
            "traits": traits,
            "causes": causes(shift, told),
        })
    }

    /// What editions say of a plant: the latest that has it, and how its standings turned.
    pub(crate) fn plant_editions(&self, plant: PlantId, root: &str) -> Json {
        let guide = self.guide;
        let told = self.told();
        let slug = &self.names.plants[plant].slug;
        let formerly = || {
            let entry = &guide.plants[self.names.plants[plant].entry];
            entry.formerly.iter().map(|old| old.value.as_str())
        };
        let found: Vec<(&Edition, &str, &Recorded)> = self
            .editions
            .iter()
            .filter_map(|edition| {
                let (slug, recorded) = edition.plant(slug, formerly())?;
                Some((edition, slug, recorded))
            })
            .collect();
        let to = format!("{root}editions/");
        let mut rows: Vec<Json> = Vec::new();
        for pair in found.windows(2) {
            let [(before, _, earlier), (edition, slug, later)] = pair else {
                continue;
            };
            for role in &guide.roles {
                for water in &guide.waters {
                    let was_asked = before.roles.contains(&role.id)
                        && before.waters.contains(&water.id)
                        && edition.roles.contains(&role.id)
                        && edition.waters.contains(&water.id);
                    let from = earlier.standing(&role.id, &water.id);
                    let word = later.standing(&role.id, &water.id);
                    if !was_asked || from == word {
                        continue;
                    }
                    let mut view = edition_view(edition, &to);
                    view["href"] = json!(format!("{to}{}/#{slug}", date_of(edition)));
                    view["role"] = json!(role.title);
                    view["water"] = json!(water.title);
                    view["from"] = json!(shown(from));
                    view["to"] = json!(shown(word));
                    view["beam"] = json!(word.map(beam_again));
                    rows.push(view);
                }
            }
        }
        rows.reverse();
        let latest = found.last().filter(|(edition, _, _)| {
            // A plant that the latest edition does not have is in none that can be cited for it.
            self.editions
                .last()
                .is_some_and(|last| last.head == edition.head)
        });
        let view = |(edition, slug, _): &(&Edition, &str, &Recorded)| {
            let mut view = edition_view(edition, &to);
            view["href"] = json!(format!("{to}{}/#{slug}", date_of(edition)));
            view
        };
        let has_turned = latest.is_some_and(|(edition, _, recorded)| {
            guide.waters.iter().enumerate().any(|(water, of)| {
                guide.roles.iter().enumerate().any(|(role, job)| {
                    let now = self.standings.plants[plant].standings[water][role].as_ref();
                    edition.roles.contains(&job.id)
                        && edition.waters.contains(&of.id)
                        && recorded.standing(&job.id, &of.id) != now.map(|now| now.word)
                })
            })
        });
        json!({
            "any": !self.editions.is_empty(),
            "first": found.first().map(view),
            "latest": latest.map(view),
            "count": counted(found.len(), "edition", "editions"),
            "turns": rows,
            "turned_since": has_turned,
            "waters": told.guide.waters.len(),
        })
    }

    /// How to cite a plant: with the latest edition that has it.
    pub(crate) fn citation(&self, plant: PlantId) -> String {
        let about = &self.guide.about;
        let name = &self.names.plants[plant];
        let page = format!("{}plants/{}/", about.address, name.slug);
        let formerly = &self.guide.plants[name.entry].formerly;
        let formerly = formerly.iter().map(|old| old.value.as_str());
        let latest = self
            .editions
            .last()
            .and_then(|edition| Some((edition, edition.plant(&name.slug, formerly)?.0)));
        match latest {
            None => format!(
                "{}: {}. In: {}. {page} ({})",
                about.publisher,
                name.name,
                about.title,
                if self.editions.is_empty() {
                    "no edition recorded yet"
                } else {
                    "not in an edition yet"
                }
            ),
            Some((edition, slug)) => format!(
                "{}: {}. In: {}, edition {} ({date}). {page} The record of that day: {}editions/{date}/#{slug}",
                about.publisher,
                name.name,
                about.title,
                edition.head.number,
                about.address,
                date = date_of(edition),
            ),
        }
    }

    /// Each edition as data, below its page.
    pub(crate) fn records(&self) -> Vec<(String, Vec<u8>)> {
        self.editions
            .iter()
            .map(|edition| {
                let address = format!("editions/{}/edition.json", date_of(edition));
                (address, text(edition).into_bytes())
            })
            .collect()
    }

    /// A plant with its standing as it is, as HTML for places without the site's own dress.
    pub(crate) fn plain_ref(&self, plant: PlantId) -> String {
        let view = self.plant_ref(plant, None, &self.guide.about.address);
        let part = |key: &str| view[key].as_str().map(str::to_owned);
        let mut beside = vec![view["word"].as_str().unwrap_or_default().to_owned()];
        beside.extend(part("role"));
        let beside = beside.join(" ");
        let law = part("law").map_or_else(String::new, |law| format!("; {law}"));
        format!(
            "<a href=\"{}\">{}</a> ({})",
            escaped(view["href"].as_str().unwrap_or_default()),
            view["name"].as_str().unwrap_or_default(),
            escaped(&format!("{beside}{law}")),
        )
    }
}

/// The day of an edition.
pub(crate) fn date_of(edition: &Edition) -> String {
    edition
        .head
        .date
        .map_or_else(String::new, |date| date.to_string())
}

/// An edition as a template names it; `to` leads to the list of editions.
fn edition_view(edition: &Edition, to: &str) -> Json {
    json!({
        "number": edition.head.number,
        "date": date_of(edition),
        "note": edition.head.note,
        "href": format!("{to}{}/", date_of(edition)),
    })
}

fn shown(word: Option<Word>) -> &'static str {
    word.map_or("no job for its form", Word::on_screen)
}

/// The standings in a role, in short: each word once, with the numbers of its waters where they
/// differ. `None` where its forms could not have the role.
fn in_short(recorded: &Recorded, role: &str, waters: &[String]) -> Option<String> {
    let by_water = recorded.standings.get(role)?;
    let parts: Vec<(Word, Vec<String>)> = Word::ALL
        .into_iter()
        .filter_map(|word| {
            let of_word = |(_, id): &(usize, &String)| by_water.get(*id) == Some(&word);
            let numbers: Vec<String> = waters
                .iter()
                .enumerate()
                .filter(of_word)
                .map(|(at, _)| (at + 1).to_string())
                .collect();
            (!numbers.is_empty()).then_some((word, numbers))
        })
        .collect();
    match &parts[..] {
        [] => None,
        [(word, numbers)] if numbers.len() == waters.len() => Some(word.on_screen().to_owned()),
        parts => {
            let parts: Vec<String> = parts
                .iter()
                .map(|(word, numbers)| format!("{} in {}", word.on_screen(), numbers.join(" ")))
                .collect();
            Some(parts.join(", "))
        }
    }
}

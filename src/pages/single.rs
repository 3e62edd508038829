//! One page by its address, for a guide that is open on the desk: the same bytes as in the whole site.

use crate::content::{Guide, Input, position};
use crate::diagnostic::{Diagnostic, Severity};
use crate::names::{Names, PlantId};
use crate::pages::data::{genus_files, plant_json, recorded_in, source_files, text};
use crate::pages::mention::Mentions;
use crate::pages::template::Theme;
use crate::pages::{Press, Sheet, Stages, Words, dead_links, finish};
use crate::roles::Standings;

/// What is kept between two pages: the theme, and the names that are looked for in prose.
pub(crate) struct Kept {
    theme: Theme,
    mentions: Mentions,
    words: Words,
}

/// What stands at an address.
pub(crate) enum Single {
    /// This file.
    File(Vec<u8>),
    /// A page that cannot be made, and why.
    Faulty(Vec<Diagnostic>),
    /// A file that only a press of the whole site can make.
    OfTheWhole,
    /// Nothing.
    Nothing,
}

impl Kept {
    /// Loads the theme and gathers the names. `None` where the theme has faults.
    pub(crate) fn new(of: Stages<'_>) -> (Option<Kept>, Vec<Diagnostic>) {
        let (theme, faults) = Theme::load(&of.guide.about.theme, of.input);
        let mentions = || Mentions::new(of.guide, of.names, of.standings);
        let kept = theme.map(|theme| Kept {
            theme,
            mentions: mentions(),
            words: Words::new(of.guide, of.editions),
        });
        (kept, faults)
    }

    /// Loads the theme again.
    pub(crate) fn load_theme(&mut self, guide: &Guide, input: &Input) -> Vec<Diagnostic> {
        let (theme, faults) = Theme::load(&guide.about.theme, input);
        if let Some(theme) = theme {
            self.theme = theme;
        }
        faults
    }

    /// Says anew what is set beside the names of a plant.
    pub(crate) fn note_again(
        &mut self,
        plant: PlantId,
        guide: &Guide,
        names: &Names,
        standings: &Standings,
    ) {
        self.mentions.note_again(plant, guide, names, standings);
    }

    /// The file at an address, with what is wrong with it.
    pub(crate) fn file(&self, address: &str, of: Stages<'_>) -> Single {
        if let Some(rest) = address.strip_prefix("pictures/") {
            let path = format!("content/pictures/{rest}");
            return match of.input.bytes(&path) {
                Some(bytes) if of.guide.pictures.contains(&path) => Single::File(bytes.to_vec()),
                _ => Single::Nothing,
            };
        }
        let data = match address.split('/').collect::<Vec<&str>>()[..] {
            ["plants", slug, "plant.json"] => {
                let Some(plant) = plant_at(of.names, slug) else {
                    return Single::Nothing;
                };
                let mut json = plant_json(
                    plant,
                    of.guide,
                    of.names,
                    of.claims,
                    of.reconciled,
                    of.standings,
                );
                json["edition"] = recorded_in(plant, of.guide, of.names, of.editions);
                return Single::File(text(&json).into_bytes());
            }
            ["names", _, "group.json"] => Some(genus_files(of.guide, of.names, of.reconciled)),
            ["sources", _, "source.json"] => Some(source_files(of.guide, of.claims, of.reconciled)),
            _ => None,
        };
        if let Some(data) = data {
            let found = data.into_iter().find(|(other, _)| other == address);
            return found.map_or(Single::Nothing, |(_, text)| Single::File(text.into_bytes()));
        }
        if let Some(bytes) = self.theme.asset(address) {
            return Single::File(bytes.to_vec());
        }
        let press = self.press(of);
        if let Some(sheet) = press.sheet(address) {
            let made = finish(sheet, &press, &self.theme, &self.mentions);
            let (errors, _): (Vec<Diagnostic>, Vec<Diagnostic>) = made
                .faults
                .into_iter()
                .partition(|fault| fault.severity == Severity::Error);
            return if errors.is_empty() {
                Single::File(made.html.into_bytes())
            } else {
                Single::Faulty(errors)
            };
        }
        let first = address.split('/').next().unwrap_or_default();
        if is_room(first) {
            Single::Nothing
        } else {
            Single::OfTheWhole
        }
    }

    /// What is wrong with one page: its template, its prose, links from it to nowhere.
    pub(crate) fn faults(&self, address: &str, of: Stages<'_>) -> Vec<Diagnostic> {
        let press = self.press(of);
        let Some(sheet) = press.sheet(address) else {
            return Vec::new();
        };
        let made = finish(sheet, &press, &self.theme, &self.mentions);
        let mut faults = dead_links(&made, &|address| self.is_there(address, of));
        faults.extend(made.faults);
        faults
    }

    /// Whether a link may lead there. Files of the folders that only a press of the whole site
    /// makes are taken to be there.
    fn is_there(&self, address: &str, of: Stages<'_>) -> bool {
        let guide = of.guide;
        let is_gone = |slug: &str| guide.gone.iter().any(|gone| gone.slug == slug);
        let role = |id: &str| guide.roles.iter().any(|role| role.id == id);
        let water = |id: &str| position(&guide.waters, id, |water| water.id.as_str()).is_some();
        let source = |id: &str| position(&guide.sources, id, |of| of.id.as_str()).is_some();
        let genus = |folder: &str| {
            position(&guide.genera, folder, |genus| genus.folder.as_str())
                .is_some_and(|genus| !of.names.of_genus(genus).is_empty())
        };
        match address.split('/').collect::<Vec<&str>>()[..] {
            ["plants", slug, "index.html"] => {
                let was = || {
                    let mut formers = guide.plants.iter().flat_map(|plant| &plant.formerly);
                    formers.any(|former| former.value == slug)
                };
                plant_at(of.names, slug).is_some() || is_gone(slug) || was()
            }
            ["plants", slug, "plant.json"] => plant_at(of.names, slug).is_some(),
            ["gone", slug, "index.html"] => is_gone(slug),
            ["roles", id, "index.html"] => role(id),
            ["roles", id, place, "index.html"] => role(id) && water(place),
            ["waters" | "start", place, "index.html"] => water(place),
            ["compare", place, "index.html"] => {
                let found = position(&guide.waters, place, |water| water.id.as_str());
                found.is_some_and(|water| water != guide.about.default_water)
            }
            ["names", folder, "index.html" | "group.json"] => genus(folder),
            ["sources", id, "index.html" | "source.json"] => source(id),
            ["plantings", id, "index.html"] => guide.rosters.iter().any(|roster| roster.id == id),
            ["traits", id, "index.html"] => guide.traits.iter().any(|of| of.id == id),
            ["pages", id, "index.html"] => guide.pages.iter().any(|page| page.id == id),
            ["pictures", ..] => {
                let path = format!("content/{address}");
                guide.pictures.contains(&path)
            }
            ["dress" | "type" | "plates" | "moves", ..] => self.theme.asset(address).is_some(),
            ["index.html" | "404.html"] | ["start" | "compare", "index.html"] => true,
            [room, "index.html"] => LISTS.contains(&room) || !is_room(room),
            [room, ..] => !is_room(room),
            [] => false,
        }
    }

    /// Whether the guide lays files of its own over the theme.
    fn is_own_theme(of: Stages<'_>) -> bool {
        let folder = format!("themes/{}/", of.guide.about.theme.value);
        of.input
            .files
            .iter()
            .any(|(path, _)| path.starts_with(&folder))
    }

    /// Addresses of pages that hold contributors' texts with a link or a live value in them: all
    /// that can have faults of their own in the built-in theme. With templates of the guide's own
    /// one page of every kind comes with them.
    pub(crate) fn with_faults(of: Stages<'_>) -> Vec<String> {
        let guide = of.guide;
        let mut out: Vec<String> = (0..of.names.plants.len())
            .filter(|plant| is_written(*plant, guide, of.names))
            .map(|plant| plant_address(of.names, plant))
            .collect();
        out.extend(
            guide
                .rosters
                .iter()
                .map(|r| format!("plantings/{}/index.html", r.id)),
        );
        out.extend(
            guide
                .pages
                .iter()
                .map(|page| format!("pages/{}/index.html", page.id)),
        );
        out.extend(
            guide
                .waters
                .iter()
                .map(|w| format!("start/{}/index.html", w.id)),
        );
        out.extend(["start/index.html", "cautions/index.html"].map(str::to_owned));
        if Kept::is_own_theme(of) {
            out.push("index.html".to_owned());
            out.extend(LISTS.iter().map(|room| format!("{room}/index.html")));
            out.extend(["compare/index.html", "search/index.html"].map(str::to_owned));
            let first =
                |room: &str, id: Option<&String>| id.map(|id| format!("{room}/{id}/index.html"));
            out.extend((!of.names.plants.is_empty()).then(|| plant_address(of.names, 0)));
            out.extend(first("roles", guide.roles.first().map(|role| &role.id)));
            out.extend(first("waters", guide.waters.first().map(|water| &water.id)));
            out.extend(first(
                "names",
                guide.genera.first().map(|genus| &genus.folder),
            ));
            out.extend(first(
                "sources",
                guide.sources.first().map(|source| &source.id),
            ));
            out.extend(first("traits", guide.traits.first().map(|of| &of.id)));
        }
        out
    }

    fn press<'a>(&'a self, of: Stages<'a>) -> Press<'a> {
        Press::new(of, &self.theme, self.words.clone())
    }
}

/// Whether all pages of a folder are made one at a time below.
fn is_room(folder: &str) -> bool {
    LISTS.contains(&folder) || ["waters", "names", "gone"].contains(&folder)
}

/// Those with a page of their own at the folder.
const LISTS: [&str; 10] = [
    "plants",
    "roles",
    "sources",
    "plantings",
    "contested",
    "wanted",
    "method",
    "traits",
    "words",
    "cautions",
];

/// Where a plant's page is.
pub(crate) fn plant_address(names: &Names, plant: PlantId) -> String {
    format!("plants/{}/index.html", names.plants[plant].slug)
}

/// Whether the texts of an entry may have a link or a live value in them.
pub(crate) fn is_written(plant: PlantId, guide: &Guide, names: &Names) -> bool {
    let entry = &guide.plants[names.plants[plant].entry];
    let cautions = entry.cautions.iter().map(|caution| &caution.text);
    let mut texts = entry.summary.iter().chain(&entry.story).chain(cautions);
    texts.any(|text| text.value.contains(['[', '{', '<']))
}

fn plant_at(names: &Names, slug: &str) -> Option<PlantId> {
    position(&names.plants, slug, |plant| plant.slug.as_str())
}

impl Press<'_> {
    /// The sheet of one page. Pages that are not named here are made with the whole site.
    fn sheet(&self, address: &str) -> Option<Sheet> {
        let guide = self.guide;
        let role = |id: &str| guide.roles.iter().position(|role| role.id == id);
        let water = |id: &str| position(&guide.waters, id, |water| water.id.as_str());
        let at = |sheets: Vec<Sheet>| sheets.into_iter().find(|sheet| sheet.address == address);
        if address == "404.html" {
            return Some(self.lost());
        }
        let parts: Vec<&str> = address.strip_suffix("index.html")?.split('/').collect();
        Some(match parts[..] {
            [""] => self.home(),
            ["plants", ""] => self.all_plants(),
            ["plants", slug, ""] => match plant_at(self.names, slug) {
                Some(plant) => self.plant_page(plant),
                None => at(self.gone_pages())?,
            },
            ["gone", _, ""] => at(self.gone_pages())?,
            ["roles", ""] => self.roles_page(),
            ["roles", id, ""] => self.role_page(role(id)?),
            ["roles", id, place, ""] => self.role_in_water(role(id)?, water(place)?),
            ["waters", place, ""] => self.water_page(water(place)?),
            ["names", folder, ""] => {
                let genus = position(&guide.genera, folder, |genus| genus.folder.as_str())?;
                if self.names.of_genus(genus).is_empty() {
                    return None;
                }
                self.loose_page(genus)
            }
            ["sources", ""] => self.sources_page(),
            ["sources", id, ""] => {
                self.source_page(position(&guide.sources, id, |source| source.id.as_str())?)
            }
            ["plantings", ""] => self.plantings_page(),
            ["plantings", id, ""] => {
                let roster = guide.rosters.iter().find(|roster| roster.id == id)?;
                self.planting_page(roster)
            }
            ["contested", ""] => self.contested(),
            ["wanted", ""] => self.wanted(),
            ["method", ""] => self.method(),
            ["traits", ""] => self.traits_page(),
            ["traits", id, ""] => {
                self.trait_page(position(&guide.traits, id, |of| of.id.as_str())?)
            }
            ["words", ""] => self.words(),
            ["cautions", ""] => self.cautions_page(),
            ["pages", _, ""] => at(self.free_pages())?,
            ["start", ""] => self.start_sheet(address, &self.waters_in_order()),
            ["start", place, ""] => self.start_sheet(address, &[water(place)?]),
            ["compare", ""] => self.compare_in_water(guide.about.default_water),
            ["compare", place, ""] => {
                let water = water(place).filter(|water| *water != guide.about.default_water)?;
                self.compare_in_water(water)
            }
            ["search", ""] | ["search", _, ""] => at(self.search_pages(&self.findable_names()))?,
            _ => return None,
        })
    }
}

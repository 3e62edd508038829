//! Pieces of views that several pages share; everything a template sees is decided here.

use serde_json::{Value as Json, json};

use crate::content::ConditionValue;
use crate::diagnostic::{Diagnostic, Place, Placed};
use crate::names::PlantId;
use crate::pages::mark::{beam, bracket, name_html};
use crate::pages::markdown::Markdown;
use crate::pages::mention::{Own, first_role};
use crate::pages::sentence::{level_word, spoken, unweighed, voice_name};
use crate::pages::{Press, Sheet, prose, root};
use crate::quantity::decimals;
use crate::reconcile::grade::Grade;
use crate::reconcile::{WeighedClaim, shown_condition};
use crate::roles::{Standing, Word, notice};

/// Plants of one standing in a role in a water.
pub(crate) struct StandingGroup {
    pub(crate) word: Word,
    /// They are on a legal list of one of the guide's places.
    pub(crate) is_listed: bool,
    pub(crate) plants: Vec<PlantId>,
}

impl Sheet {
    /// A sheet that is about no plant.
    pub(crate) fn new(
        address: &str,
        template: &'static str,
        title: &str,
        about: &str,
        view: Json,
    ) -> Sheet {
        let mut view = view;
        view["page"] = json!({ "title": title, "about": about });
        Sheet {
            address: address.to_owned(),
            template,
            view,
            own: Own::Nothing,
            place: Place::head("content/guide.yaml"),
            faults: Vec::new(),
        }
    }
}

impl Press<'_> {
    /// The way to the site's root; from the page for lost readers, the path of the address, as it
    /// may be shown anywhere.
    pub(crate) fn root_of(&self, address: &str) -> String {
        if address != "404.html" {
            return root(address);
        }
        let rest = self
            .guide
            .about
            .address
            .split("://")
            .nth(1)
            .unwrap_or_default();
        rest.find('/')
            .map_or_else(|| "/".to_owned(), |at| rest[at..].to_owned())
    }

    /// A sheet's view with what every page shows.
    pub(crate) fn frame(&self, sheet: &Sheet, root: &str) -> Json {
        let about = &self.guide.about;
        let mut view = sheet.view.clone();
        let folder = sheet.address.trim_end_matches("index.html");
        view["root"] = json!(root);
        // A link to the folder a page stands in needs a name.
        view["home"] = json!(if root.is_empty() { "./" } else { root });
        view["site"] = json!({
            "title": about.title,
            "publisher": about.publisher,
            "licence": about.licence,
            "notice": about.notice,
            "contact": about.contact,
            // The page for lost readers has no address of its own.
            "canonical": (sheet.address != "404.html").then(|| format!("{}{folder}", about.address)),
            "pages": self.guide.pages.iter().map(|page| json!({ "id": page.id, "title": page.title })).collect::<Vec<_>>(),
            "waters": self.waters_in_order().into_iter().map(|water| json!({
                "id": self.guide.waters[water].id,
                "title": self.guide.waters[water].title,
            })).collect::<Vec<_>>(),
            "has_feed": !self.editions.is_empty(),
            "has_plantings": !self.guide.rosters.is_empty(),
        });
        view
    }

    /// Where a plant's page is, below the root.
    pub(crate) fn plant_href(&self, plant: PlantId, root: &str) -> String {
        format!("{root}plants/{}/", self.names.plants[plant].slug)
    }

    /// A plant in a list: its name is never without its standing, nor without its notice.
    ///
    /// `at` is the (water, role) at hand; without one, the first role of its forms in the default
    /// water, which is then named.
    pub(crate) fn plant_ref(&self, plant: PlantId, at: Option<(usize, usize)>, root: &str) -> Json {
        let default = self.guide.about.default_water;
        let (standing, role) = match at {
            Some((water, role)) => {
                let standing = self.standings.plants[plant].standings[water][role].as_ref();
                (standing, None)
            }
            None => match first_role(self.guide, self.standings, plant) {
                Some((role, standing)) => (Some(standing), Some(role)),
                None => (None, None),
            },
        };
        let notice = notice(self.guide, self.standings, plant);
        let where_default = role.map(|role| {
            format!(
                "for {} in {}",
                self.guide.roles[role].title.to_lowercase(),
                self.guide.waters[default].title
            )
        });
        json!({
            "href": self.plant_href(plant, root),
            "slug": self.names.plants[plant].slug,
            "name": name_html(&self.names.plants[plant].name),
            "beam": standing.map(|standing| beam(standing.word)),
            "word": standing.map_or("no job for its form", |standing| standing.word.on_screen()),
            "doubt": standing.is_some_and(Standing::is_doubtful),
            "role": where_default,
            "law": (!notice.is_empty()).then_some(notice),
        })
    }

    /// Plants in a list, each with its standing.
    pub(crate) fn plant_refs(
        &self,
        plants: &[PlantId],
        at: Option<(usize, usize)>,
        root: &str,
    ) -> Vec<Json> {
        plants
            .iter()
            .map(|plant| self.plant_ref(*plant, at, root))
            .collect()
    }

    /// Plants by standing in a role in a water, surest mainstays first. What is recommended by its
    /// standing but is on a list where the guide is read stands in a group of its own, after the
    /// others of that standing: it never leads a list of mainstays.
    pub(crate) fn by_standing(&self, water: usize, role: usize) -> Vec<StandingGroup> {
        let mainstays = crate::roles::mainstays(&self.standings.plants, water, role, true);
        let mut out = Vec::new();
        for word in Word::ALL {
            let plants: Vec<PlantId> = if word == Word::Mainstay {
                mainstays.clone()
            } else {
                let is_so =
                    |standing: &Option<Standing>| standing.as_ref().is_some_and(|s| s.word == word);
                (0..self.names.plants.len())
                    .filter(|plant| is_so(&self.standings.plants[*plant].standings[water][role]))
                    .collect()
            };
            let is_recommended = matches!(word, Word::Mainstay | Word::Support);
            let (listed, plants): (Vec<PlantId>, Vec<PlantId>) =
                plants.into_iter().partition(|plant| {
                    is_recommended && self.standings.plants[*plant].is_regulated_here()
                });
            for (is_listed, plants) in [(false, plants), (true, listed)] {
                if !plants.is_empty() {
                    out.push(StandingGroup {
                        word,
                        is_listed,
                        plants,
                    });
                }
            }
        }
        out
    }

    /// A grade as a template sees it.
    pub(crate) fn grade_view(&self, trait_index: usize, grade: &Grade) -> Json {
        json!({
            "level": grade.level.map(|level| self.level_word(trait_index, level)),
            "confidence": grade.confidence.word(),
            "bracket": bracket(grade.confidence),
            "evidence": grade.evidence.word(),
            "agreement": grade.agreement.word(),
            "voices": grade.voices,
            "contested": grade.is_contested,
        })
    }

    /// A level's name in print.
    pub(crate) fn level_word(&self, trait_index: usize, level: usize) -> String {
        level_word(self.guide, trait_index, level).unwrap_or_default()
    }

    /// A source's title with how its person is shown.
    pub(crate) fn source_view(&self, source: usize, root: &str) -> Json {
        let of = &self.guide.sources[source];
        json!({
            "id": of.id,
            "title": of.title,
            "href": format!("{root}sources/{}/", of.id),
            "kind": of.kind,
            "by": self.source_by(source),
            "issued": of.issued,
        })
    }

    /// Who made a source, in words; a person who would rather not be named is not.
    pub(crate) fn source_by(&self, source: usize) -> Option<String> {
        let of = &self.guide.sources[source];
        if let Some(shown) = &of.shown_as {
            return Some(shown.clone());
        }
        let authors: Vec<String> = of
            .authors
            .iter()
            .map(|author| match &author.given {
                Some(given) => format!("{given} {}", author.family),
                None => author.family.clone(),
            })
            .collect();
        if authors.is_empty() {
            of.publisher.clone()
        } else {
            Some(authors.join(", "))
        }
    }

    /// One claim as a row; `id` is its anchor.
    pub(crate) fn claim_view(&self, one: &WeighedClaim, id: &str, root: &str) -> Json {
        let claim = &self.claims.all[one.id];
        let voice = &self.reconciled.voices.ids[one.voice];
        let stated: Vec<String> = claim
            .stated
            .iter()
            .map(|(index, value)| self.stated(*index, value))
            .collect();
        json!({
            "id": id,
            "source": self.source_view(claim.source, root),
            "kind": claim.kind,
            "words": claim.words,
            "used_name": claim.used_name,
            "loose": claim.is_loose,
            "weight": one.weight.map(|weight| decimals(weight, 2)),
            "voice": (*voice != self.guide.sources[claim.source].id)
                .then(|| voice_name(self.guide, self.reconciled, one.voice)),
            "at": claim.at,
            "seen": claim.seen.as_ref().map(|seen| seen.replace('/', " to ")),
            "stated": (!stated.is_empty()).then(|| stated.join(", ")),
            "tank": claim.tank,
            "picture": claim.picture.as_ref().map(|picture| format!("{root}pictures/{}", picture.value)),
            "quote": claim.quote,
            "remark": claim.remark,
            "reason": unweighed(&claim.fate),
        })
    }

    /// A condition with its value, in words.
    pub(crate) fn stated(&self, index: usize, value: &ConditionValue) -> String {
        let condition = &self.guide.conditions[index];
        let value = spoken(&shown_condition(value, &condition.kind, self.guide));
        format!("{} {value}", condition.title.to_lowercase())
    }

    /// What a water states, in words.
    pub(crate) fn water_conditions(&self, water: usize) -> Vec<Json> {
        self.guide.waters[water]
            .conditions
            .iter()
            .map(|(index, value)| {
                let condition = &self.guide.conditions[*index];
                json!({
                    "title": condition.title,
                    "value": spoken(&shown_condition(value, &condition.kind, self.guide)),
                })
            })
            .collect()
    }

    /// Contributors' text of a plant as HTML.
    pub(crate) fn plant_prose(
        &self,
        text: &Placed<String>,
        plant: PlantId,
        how: Markdown<'_>,
        faults: &mut Vec<Diagnostic>,
    ) -> String {
        let live = prose::plant_live(
            self.guide,
            self.names,
            plant,
            Some((self.reconciled, self.standings)),
        );
        self.prose.html(text, &live, how, faults)
    }

    /// Contributors' text of no plant as HTML.
    pub(crate) fn general_prose(
        &self,
        text: &Placed<String>,
        how: Markdown<'_>,
        faults: &mut Vec<Diagnostic>,
    ) -> String {
        let live = prose::guide_live(self.guide, self.names);
        self.prose.html(text, &live, how, faults)
    }

    /// The date to say beside "not found on the lists checked": the newest of the lists for the
    /// guide's places, or of all lists where it names no place. `None` where there is no such list.
    pub(crate) fn lists_as_of(&self) -> Option<String> {
        let places = &self.guide.about.places;
        let lists: Vec<_> = self
            .guide
            .regulated
            .iter()
            .filter(|listing| places.is_empty() || places.contains(&listing.place))
            .collect();
        let newest = lists
            .iter()
            .filter_map(|listing| listing.date.clone())
            .max();
        match newest {
            None if !lists.is_empty() => Some("copies that bear no date".to_owned()),
            newest => newest,
        }
    }

    /// The role and its standing as a row with sentence, sturdiness, clauses and changes.
    pub(crate) fn standing_view(
        &self,
        standing: &Standing,
        plant: PlantId,
        water: usize,
        role: usize,
        root: &str,
    ) -> Json {
        let guide = self.guide;
        let clauses: Vec<Json> = standing
            .clauses
            .iter()
            .map(|verdict| {
                json!({
                    "list": verdict.list.id(),
                    "text": verdict.text,
                    "because": verdict.because,
                    "result": verdict.answer.id(),
                    "score": verdict.probability.map(|p| decimals(p, 2)),
                })
            })
            .collect();
        let instead = &self.standings.plants[plant].instead[water][role];
        json!({
            "role": guide.roles[role].title,
            "water": guide.waters[water].title,
            "role_id": guide.roles[role].id,
            "role_href": format!("{root}roles/{}/{}/", guide.roles[role].id, guide.waters[water].id),
            "beam": beam(standing.word),
            "word": standing.word.on_screen(),
            "doubt": standing.is_doubtful(),
            "sentence": self.sentences.standing(guide, self.reconciled, standing, plant, water, role),
            "sturdy": self.sentences.sturdy(guide, self.reconciled, standing),
            "changes": self.sentences.changes(guide, standing),
            "clauses": clauses,
            "instead": self.plant_refs(instead, Some((water, role)), root),
        })
    }
}

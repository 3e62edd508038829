//! The guide as it stands on the desk: weighed once, and after a change only what leans on it again.
//!
//! Knows nothing of the disk or of requests. A page made here has the same bytes as in a press of
//! the whole guide, and `tests/it/forme.rs` holds it to that.
//!
//! A change of one entry, source, genus, planting or free page that leaves names, voices and kinds
//! as they were is taken up in place (`in_place.rs`). Any other change puts the guide together
//! again, and carries over the grades of plants whose claims say the same (`carried.rs`); a change
//! of settings or waters weighs everything.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use rayon::prelude::*;

use crate::Weighed;
use crate::claims::{Claim, Claims, Owner, graded_genus, misprints, mixed_hardness, of_owner};
use crate::content::{AsRead, Guide, Input, Item, Leaf, RawClaim, as_read, leaf};
use crate::desk::carried;
use crate::diagnostic::Diagnostic;
use crate::intake::{Move, State, moved, state};
use crate::names::{Listings, PlantId};
use crate::pages::prose::Prose;
use crate::pages::single::{Kept, Single};
use crate::pages::{Stages, check_plant, check_rest};
use crate::reconcile::voice::Voices;
use crate::reconcile::{Difference, Reconciled, differences, groups, plant_grades, runs_of};
use crate::roles::{Standings, mainstays, near_listed, plant_roles, set_instead, wanted};

/// What became of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Now {
    /// It has these bytes.
    Bytes(Vec<u8>),
    /// It is there and cannot be read.
    Unread(Diagnostic),
    /// It is not there.
    Gone,
}

/// A file that may have changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Path relative to the guide's folder.
    pub path: String,
    /// What became of it.
    pub now: Now,
}

/// Plants of which it is said what moved; a change of more is one of rules or sources.
pub(crate) const MOST_TOLD: usize = 24;

/// How much was done to take up a change.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Rebuilt {
    /// Files that differ from before.
    pub files: usize,
    /// Plants that were weighed again.
    pub plants: usize,
    /// Whether the guide was put together anew.
    pub is_whole: bool,
    /// What moved since the guide was last without errors, for up to 24 plants; empty while it has
    /// some.
    pub moves: Vec<Move>,
}

/// What stands at an address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found {
    /// A file of the site.
    File(Vec<u8>),
    /// The guide, or this page of it, has errors.
    Faults(Vec<Diagnostic>),
    /// No such file; the page for lost readers.
    Lost(Vec<u8>),
}

/// A guide on the desk.
pub struct Forme {
    pub(crate) input: Input,
    /// By path, why a file could not be read.
    unread: BTreeMap<String, Diagnostic>,
    /// The last weighing without errors, with the changes since that were taken up in place.
    pub(crate) live: Option<Live>,
    /// Files whose bytes are not those that `live` was read from.
    pub(crate) stale: BTreeSet<String>,
    /// The faults of the last attempt to put the guide together, where it had errors.
    failed: Option<Vec<Diagnostic>>,
    /// By address, the faults of pages that were looked through.
    pub(crate) looked: BTreeMap<String, Vec<Diagnostic>>,
    /// Pages to be looked through.
    queue: BTreeSet<String>,
    /// How plants that changed since then stood when the guide was last without errors, by slug.
    sound: Vec<(String, State)>,
    /// The whole site, made when a file is asked for that only a press of it can make.
    whole: OnceLock<BTreeMap<String, Vec<u8>>>,
}

/// A guide weighed, with what it takes to weigh a part of it again.
pub(crate) struct Live {
    pub(crate) weighed: Weighed,
    pub(crate) read: AsRead,
    pub(crate) kept: Option<Kept>,
    /// Where in [`Claims::all`] the claims of each owner start, in order; at last, their number.
    pub(crate) starts: Vec<usize>,
    /// By plant.
    pub(crate) differences: Vec<Vec<Difference>>,
    pub(crate) faults: Faults,
}

/// The claims of one file with the plants that each speaks of, and the file's faults.
type OfFile = (Vec<(Claim, Vec<PlantId>)>, Vec<Diagnostic>);

/// What is wrong, kept apart by what it leans on.
#[derive(Default)]
pub(crate) struct Faults {
    pub(crate) names: Vec<Diagnostic>,
    pub(crate) claims: BTreeMap<Owner, Vec<Diagnostic>>,
    pub(crate) plants: BTreeMap<PlantId, Vec<Diagnostic>>,
    pub(crate) rest: Vec<Diagnostic>,
    pub(crate) editions: Vec<Diagnostic>,
    pub(crate) theme: Vec<Diagnostic>,
}

impl Forme {
    /// Reads and weighs a guide; `unread` are the faults of reading the disk.
    pub fn new(input: Input, unread: Vec<Diagnostic>) -> Forme {
        let unread = unread
            .into_iter()
            .map(|fault| (fault.place.file.to_string(), fault))
            .collect();
        let mut forme = Forme {
            input,
            unread,
            live: None,
            stale: BTreeSet::new(),
            failed: None,
            looked: BTreeMap::new(),
            queue: BTreeSet::new(),
            sound: Vec::new(),
            whole: OnceLock::new(),
        };
        forme.put_together();
        forme
    }

    /// Takes up what became of some files.
    pub fn change(&mut self, changes: Vec<Change>) -> Rebuilt {
        let changed: BTreeSet<String> = changes
            .into_iter()
            .filter_map(|change| self.apply(change))
            .collect();
        if changed.is_empty() {
            return Rebuilt::default();
        }
        self.whole = OnceLock::new();
        self.stale.extend(changed.iter().cloned());
        let files = changed.len();
        let in_place = match self.failed {
            None => self.take_up(&changed),
            Some(_) => None,
        };
        let plants = match in_place {
            Some(plants) => plants,
            None => self.put_together(),
        };
        Rebuilt {
            files,
            plants,
            is_whole: in_place.is_none(),
            moves: self.moves(),
        }
    }

    /// What moved since the guide was last without errors.
    fn moves(&mut self) -> Vec<Move> {
        if self.has_errors() {
            return Vec::new();
        }
        let sound = std::mem::take(&mut self.sound);
        let live = self.live.as_ref();
        live.map_or_else(Vec::new, |live| live.moves_since(&sound))
    }

    /// Keeps how some plants stand before a change, unless it is known from before an earlier one.
    pub(crate) fn remember(&mut self, live: &Live, plants: impl Iterator<Item = PlantId>) {
        for plant in plants {
            if self.sound.len() == MOST_TOLD {
                return;
            }
            let slug = &live.weighed.names.plants[plant].slug;
            let is_known = self.sound.iter().any(|(other, _)| other == slug);
            if let (false, Some(state)) = (is_known, state(&live.weighed, slug)) {
                self.sound.push((slug.clone(), state));
            }
        }
    }

    /// Sets a file to what it is now; gives its path where it differs from before.
    fn apply(&mut self, change: Change) -> Option<String> {
        let Change { path, now } = change;
        let at = self
            .input
            .files
            .binary_search_by(|(other, _)| other.as_str().cmp(&path));
        let was_unread = self.unread.remove(&path);
        let named = self.input.unread.iter().position(|other| *other == path);
        if let Some(named) = named {
            self.input.unread.remove(named);
        }
        let is_other = match (&now, at) {
            (Now::Bytes(bytes), Ok(at)) => self.input.files[at].1 != *bytes,
            (Now::Bytes(_), Err(_)) => true,
            (Now::Unread(fault), _) => was_unread.as_ref() != Some(fault),
            (Now::Gone, at) => at.is_ok() || was_unread.is_some() || named.is_some(),
        };
        match (now, at) {
            (Now::Bytes(bytes), Ok(at)) => self.input.files[at].1 = bytes,
            (Now::Bytes(bytes), Err(at)) => self.input.files.insert(at, (path.clone(), bytes)),
            (Now::Unread(fault), at) => {
                if let Ok(at) = at {
                    self.input.files.remove(at);
                }
                self.unread.insert(path.clone(), fault);
                self.input.unread.push(path.clone());
                self.input.unread.sort();
            }
            (Now::Gone, Ok(at)) => {
                self.input.files.remove(at);
            }
            (Now::Gone, Err(_)) => {}
        }
        is_other.then_some(path)
    }

    /// What is wrong with the guide, in order. Faults of single pages are among them once they
    /// have been looked through.
    pub fn faults(&self) -> Vec<Diagnostic> {
        let mut out: Vec<Diagnostic> = self.unread.values().cloned().collect();
        match (&self.failed, &self.live) {
            (Some(failed), _) => out.extend(failed.iter().cloned()),
            (None, Some(live)) => {
                out.extend(live.all_faults().cloned());
                out.extend(self.looked.values().flatten().cloned());
            }
            (None, None) => {}
        }
        crate::in_order(out)
    }

    /// Whether the guide has errors, so that no page may be shown.
    pub fn has_errors(&self) -> bool {
        let is_error = |fault: &Diagnostic| crate::has_errors(std::slice::from_ref(fault));
        self.live.is_none()
            || self.failed.is_some()
            || self.unread.values().any(is_error)
            || self.live.iter().flat_map(Live::all_faults).any(is_error)
            || self.looked.values().flatten().any(is_error)
    }

    /// The files of the guide.
    pub fn input(&self) -> &Input {
        &self.input
    }

    /// The file at an address of the site, such as `plants/index.html`.
    pub fn find(&self, address: &str) -> Found {
        if self.has_errors() {
            return Found::Faults(self.faults());
        }
        let (Some(stages), Some(kept)) = (self.stages(), self.kept()) else {
            return Found::Faults(self.faults());
        };
        match kept.file(address, stages) {
            Single::File(bytes) => Found::File(bytes),
            Single::Faulty(faults) => Found::Faults(faults),
            Single::OfTheWhole => match self.whole_site().get(address) {
                Some(bytes) => Found::File(bytes.clone()),
                None => self.lost(),
            },
            Single::Nothing => self.lost(),
        }
    }

    fn lost(&self) -> Found {
        match (self.stages(), self.kept()) {
            (Some(stages), Some(kept)) => match kept.file("404.html", stages) {
                Single::File(bytes) => Found::Lost(bytes),
                _ => Found::Lost(Vec::new()),
            },
            _ => Found::Lost(Vec::new()),
        }
    }

    /// The guide weighed, where it has been.
    pub(crate) fn stages(&self) -> Option<Stages<'_>> {
        self.live.as_ref().map(|live| live.stages(&self.input))
    }

    fn kept(&self) -> Option<&Kept> {
        self.live.as_ref()?.kept.as_ref()
    }

    fn whole_site(&self) -> &BTreeMap<String, Vec<u8>> {
        self.whole.get_or_init(|| {
            let Some(of) = self.stages() else {
                return BTreeMap::new();
            };
            let data = crate::pages::data::data(
                of.guide,
                of.names,
                of.claims,
                of.reconciled,
                of.standings,
                of.editions,
            );
            let (pages, _) = crate::pages::pages(
                of.guide,
                of.names,
                of.claims,
                of.reconciled,
                of.standings,
                of.editions,
                &data,
                of.input,
                &|| {},
            );
            let data = data
                .into_iter()
                .map(|(address, text)| (address, text.into_bytes()));
            pages.into_iter().chain(data).collect()
        })
    }

    /// Takes up to so many pages that are to be looked through.
    pub fn to_look_through(&mut self, most: usize) -> Vec<String> {
        let mut out = Vec::new();
        while out.len() < most
            && let Some(address) = self.queue.pop_first()
        {
            out.push(address);
        }
        out
    }

    /// Looks a page through for faults of its own.
    pub fn look_through(&self, address: &str) -> Vec<Diagnostic> {
        match (self.stages(), self.kept(), &self.failed) {
            (Some(stages), Some(kept), None) => kept.faults(address, stages),
            _ => Vec::new(),
        }
    }

    /// Keeps what was found on a page.
    pub fn keep_faults(&mut self, address: &str, faults: Vec<Diagnostic>) {
        if faults.is_empty() {
            self.looked.remove(address);
        } else {
            self.looked.insert(address.to_owned(), faults);
        }
    }

    /// Looks every page through that waits for it.
    pub fn look_through_all(&mut self) {
        loop {
            let batch = self.to_look_through(64);
            if batch.is_empty() {
                return;
            }
            let found: Vec<Vec<Diagnostic>> = batch
                .par_iter()
                .map(|address| self.look_through(address))
                .collect();
            for (address, faults) in batch.iter().zip(found) {
                self.keep_faults(address, faults);
            }
        }
    }

    /// The guide weighed, where it has no errors.
    #[cfg(feature = "desk")]
    pub(crate) fn weighed(&self) -> Option<&Weighed> {
        let live = self.live.as_ref().filter(|_| !self.has_errors())?;
        Some(&live.weighed)
    }

    /// What would be wrong with the file of a plant or a genus, if it had this text: shape, words,
    /// units and names. What other files then make of it is not looked at.
    #[cfg(feature = "desk")]
    pub(crate) fn faults_with(&self, path: &str, text: &str) -> Vec<Diagnostic> {
        let Some(live) = &self.live else {
            return Vec::new();
        };
        let (guide, names) = (&live.weighed.guide, &live.weighed.names);
        let (item, mut faults) = live.read.item(path, text.as_bytes());
        let (owner, raws) = match &item {
            Item::Plant(plant) => {
                let at = names
                    .plants
                    .iter()
                    .position(|of| guide.plants[of.entry].file == path);
                (at.map(Owner::Plant), plant.claims.as_slice())
            }
            Item::Genus(genus, file) => (Some(Owner::Genus(*genus)), file.claims.as_slice()),
            _ => (None, [].as_slice()),
        };
        if let Some(owner) = owner {
            faults.extend(crate::claims::of_raws(owner, raws, guide, names).1);
        }
        faults
    }

    /// Puts pages in line to be looked through.
    pub(crate) fn queue(&mut self, addresses: impl IntoIterator<Item = String>) {
        self.queue.extend(addresses);
    }

    /// Puts the guide together anew; gives how many plants were weighed.
    fn put_together(&mut self) -> usize {
        let is_ground =
            self.live.is_none() || self.stale.iter().any(|path| leaf(path) == Leaf::Setting);
        let kept = match &self.live {
            Some(live) if !is_ground => carried::items(live, &self.input, &self.stale),
            _ => BTreeMap::new(),
        };
        if let Some(live) = self.live.take() {
            let plants = live.weighed.names.plants.iter().enumerate();
            let stale: Vec<PlantId> = plants
                .filter(|(_, plant)| {
                    let file = &live.guide().plants[plant.entry].file;
                    self.stale.contains(file)
                })
                .map(|(id, _)| id)
                .collect();
            self.remember(&live, stale.into_iter());
            self.live = Some(live);
        }
        let (mut live, errors) = Live::read(&self.input, kept);
        if errors || crate::has_errors(&self.unread.values().cloned().collect::<Vec<_>>()) {
            self.failed = Some(live.all_faults().cloned().collect());
            return 0;
        }
        let old = self.live.take().filter(|_| !is_ground);
        let weighed = live.weigh(&self.input, old);
        self.failed = None;
        self.stale.clear();
        self.looked.clear();
        self.queue = Kept::with_faults(live.stages(&self.input))
            .into_iter()
            .collect();
        self.live = Some(live);
        weighed
    }
}

impl Live {
    /// Reads a guide up to its claims; whether it has errors.
    fn read(input: &Input, kept: BTreeMap<String, Item>) -> (Live, bool) {
        let (guide, read) = as_read(input, kept);
        let (names, of_names) = crate::names::names(&guide);
        let mut faults = Faults {
            names: of_names,
            ..Faults::default()
        };
        let owners = Owner::all(&guide, &names);
        let made: Vec<OfFile> = owners
            .par_iter()
            .map(|owner| {
                let (made, found) = of_owner(*owner, &guide, &names);
                let claims = made.into_iter().map(|one| (one.claim, one.plants));
                (claims.collect(), found)
            })
            .collect();
        let mut claims = Claims {
            all: Vec::new(),
            of_plant: vec![BTreeMap::new(); names.plants.len()],
            of_source: vec![0; guide.sources.len()],
        };
        let mut starts = vec![0];
        for (owner, (made, found)) in owners.iter().zip(made) {
            for raw in owner.raws(&guide, &names) {
                claims.of_source[raw.source] += 1;
            }
            if !found.is_empty() {
                faults.claims.insert(*owner, found);
            }
            for (claim, plants) in made {
                let at = claims.all.len();
                for plant in plants {
                    let of_trait = claims.of_plant[plant].entry(claim.trait_index);
                    of_trait.or_default().push(at);
                }
                claims.all.push(claim);
            }
            starts.push(claims.all.len());
        }
        let (editions, of_editions) = crate::editions::read(input);
        let reconciled = Reconciled {
            voices: Voices::of(&guide),
            plants: Vec::new(),
            groups: Vec::new(),
            runs: Vec::new(),
        };
        let standings = Standings {
            plants: Vec::new(),
            wanted: Vec::new(),
        };
        let mut live = Live {
            weighed: Weighed {
                guide,
                names,
                claims,
                reconciled,
                standings,
                editions,
            },
            read,
            kept: None,
            starts,
            differences: Vec::new(),
            faults,
        };
        live.faults.editions = of_editions;
        live.faults.plants = (0..live.weighed.names.plants.len())
            .into_par_iter()
            .map_init(Prose::new, |prose, plant| {
                (plant, live.faults_of_plant(plant, input, prose))
            })
            .filter(|(_, found)| !found.is_empty())
            .collect();
        live.faults.rest = live.faults_of_rest(input);
        let has_errors = live
            .all_faults()
            .any(|fault| crate::has_errors(std::slice::from_ref(fault)));
        (live, has_errors)
    }

    /// What is wrong with a plant's entry and its claims together.
    pub(crate) fn faults_of_plant(
        &self,
        plant: PlantId,
        input: &Input,
        prose: &Prose,
    ) -> Vec<Diagnostic> {
        let guide = &self.weighed.guide;
        let mut out = check_plant(plant, guide, &self.weighed.names, input, prose);
        out.extend(graded_genus(
            plant,
            guide,
            &self.weighed.names,
            &self.weighed.claims,
        ));
        let raw = |id: usize| self.raw(id);
        out.extend(misprints(plant, guide, &self.weighed.claims, &raw));
        out
    }

    /// What is wrong beside plants, names and claims one by one.
    pub(crate) fn faults_of_rest(&self, input: &Input) -> Vec<Diagnostic> {
        let mut out = mixed_hardness(&self.weighed.guide);
        out.extend(check_rest(&self.weighed.guide, &self.weighed.names, input));
        out
    }

    /// A claim as written.
    fn raw(&self, id: usize) -> &RawClaim {
        let place = &self.weighed.claims.all[id].place;
        let plants = self.weighed.names.plants.len();
        let sources = self.weighed.guide.sources.len();
        let owner = match self.starts.partition_point(|start| *start <= id) - 1 {
            at if at < plants => Owner::Plant(at),
            at if at < plants + sources => Owner::Source(at - plants),
            at => Owner::Genus(at - plants - sources),
        };
        let raws = owner.raws(&self.weighed.guide, &self.weighed.names);
        let found = raws.iter().position(|raw| raw.place == *place);
        &raws[found.unwrap_or(0)]
    }

    /// Weighs it; plants that `old` had with the same claims keep their grades. Gives how many
    /// plants were weighed.
    fn weigh(&mut self, input: &Input, old: Option<Live>) -> usize {
        let (guide, names, claims) = (
            &self.weighed.guide,
            &self.weighed.names,
            &self.weighed.claims,
        );
        let voices = &self.weighed.reconciled.voices;
        let n = names.plants.len();
        let carried = match old {
            Some(old) => carried::carried(old, guide, names, claims, voices),
            None => carried::Carried::nothing(n, guide.genera.len()),
        };
        let weighed = carried
            .plants
            .iter()
            .filter(|plant| plant.is_none())
            .count();
        let listings: Vec<Listings> = guide.regulated.iter().map(Listings::of).collect();
        let plants: Vec<_> = carried
            .plants
            .into_par_iter()
            .enumerate()
            .map(|(plant, carried)| {
                carried.unwrap_or_else(|| {
                    (
                        plant_grades(plant, guide, names, claims, voices),
                        plant_roles(plant, guide, names, claims, voices, &listings),
                    )
                })
            })
            .collect();
        let (grades, mut roles): (Vec<_>, Vec<_>) = plants.into_iter().unzip();
        let groups = carried
            .groups
            .into_par_iter()
            .enumerate()
            .map(|(genus, carried)| {
                carried.unwrap_or_else(|| groups(genus, guide, names, claims, voices))
            })
            .collect();
        let differences: Vec<Vec<Difference>> = grades
            .par_iter()
            .map(|plant| differences(plant, claims))
            .collect();
        let sources: Vec<usize> = (0..guide.sources.len()).collect();
        let runs = runs_of(&sources, &differences, sources.len());
        for plant in &mut roles {
            plant.instead = vec![vec![Vec::new(); guide.roles.len()]; guide.waters.len()];
        }
        for water in 0..guide.waters.len() {
            for role in 0..guide.roles.len() {
                let all = mainstays(&roles, water, role, false);
                set_instead(&mut roles, 0..n, guide, names, (water, role), &all);
            }
        }
        for (plant, roles) in roles.iter().enumerate() {
            let found = near_listed(plant, guide, names, roles);
            if !found.is_empty() {
                self.faults.plants.entry(plant).or_default().extend(found);
            }
        }
        self.weighed.standings = Standings {
            wanted: wanted(guide, &roles),
            plants: roles,
        };
        self.weighed.reconciled.plants = grades;
        self.weighed.reconciled.groups = groups;
        self.weighed.reconciled.runs = runs;
        self.differences = differences;
        let (kept, found) = Kept::new(self.stages(input));
        self.kept = kept;
        self.faults.theme = found;
        weighed
    }

    pub(crate) fn guide(&self) -> &Guide {
        &self.weighed.guide
    }

    /// What moved since some plants stood so.
    pub(crate) fn moves_since(&self, before: &[(String, State)]) -> Vec<Move> {
        let of = |(slug, before): &(String, State)| {
            Some(moved(Some(before), &state(&self.weighed, slug)?))
        };
        before.iter().filter_map(of).flatten().collect()
    }

    pub(crate) fn stages<'a>(&'a self, input: &'a Input) -> Stages<'a> {
        Stages {
            guide: &self.weighed.guide,
            names: &self.weighed.names,
            claims: &self.weighed.claims,
            reconciled: &self.weighed.reconciled,
            standings: &self.weighed.standings,
            editions: &self.weighed.editions,
            input,
        }
    }

    fn all_faults(&self) -> impl Iterator<Item = &Diagnostic> {
        let faults = &self.faults;
        self.read
            .general
            .iter()
            .chain(self.read.of_file.values().flatten())
            .chain(&faults.names)
            .chain(faults.claims.values().flatten())
            .chain(faults.plants.values().flatten())
            .chain(&faults.rest)
            .chain(&faults.editions)
            .chain(&faults.theme)
    }
}

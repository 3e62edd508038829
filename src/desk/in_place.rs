//! A change that leaves names, voices and kinds as they were, taken up in place.

use std::collections::BTreeSet;
use std::ops::Range;

use rayon::prelude::*;

use crate::claims::{Owner, of_owner};
use crate::content::{FreePage, Genus, Guide, Item, Leaf, Plant, RawClaim, Roster, Source, leaf};
use crate::desk::forme::{Forme, Live};
use crate::diagnostic::Placed;
use crate::names::{Listings, PlantId};
use crate::pages::prose::Prose;
use crate::pages::single::{Kept, is_written, plant_address};
use crate::reconcile::{differences, groups, plant_grades, runs_of};
use crate::roles::{Word, mainstays, near_listed, plant_roles, set_instead, wanted};

/// What a changed file bears on.
#[derive(Default)]
struct Touched {
    /// Plants whose claims or forms may say something else.
    plants: BTreeSet<PlantId>,
    /// Pages to look through: those that show texts of the file.
    pages: BTreeSet<String>,
    has_theme: bool,
}

impl Forme {
    /// Takes up changed files in place; gives how many plants were weighed. `None` where one of
    /// them is no such change: then the guide must be put together anew.
    pub(crate) fn take_up(&mut self, changed: &BTreeSet<String>) -> Option<usize> {
        let mut live = self.live.take()?;
        let mut touched = Touched::default();
        let is_done = changed
            .iter()
            .all(|path| self.file(path, &mut live, &mut touched).is_some());
        // Grades are still those of before: claims are in their places, and not yet weighed.
        self.remember(&live, touched.plants.iter().copied());
        // Also where the guide must be put together anew: grades that are carried over must be
        // those of the claims as they now stand.
        live.weigh_again(&touched.plants);
        if is_done {
            let prose = Prose::new();
            for plant in &touched.plants {
                let mut found = live.faults_of_plant(*plant, &self.input, &prose);
                let roles = &live.weighed.standings.plants[*plant];
                found.extend(near_listed(
                    *plant,
                    live.guide(),
                    &live.weighed.names,
                    roles,
                ));
                if found.is_empty() {
                    live.faults.plants.remove(plant);
                } else {
                    live.faults.plants.insert(*plant, found);
                }
            }
            live.faults.rest = live.faults_of_rest(&self.input);
            if touched.has_theme {
                live.load_theme(&self.input);
                let pages: BTreeSet<String> = Kept::with_faults(live.stages(&self.input))
                    .into_iter()
                    .collect();
                // Faults of a template that is gone go with it.
                self.looked.retain(|address, _| pages.contains(address));
                self.queue(pages);
            }
        }
        self.live = Some(live);
        if !is_done {
            return None;
        }
        for address in touched.pages {
            let found = self.look_through(&address);
            self.keep_faults(&address, found);
        }
        Some(touched.plants.len())
    }

    /// Takes up one file. `None` where it cannot be done in place.
    fn file(&mut self, path: &str, live: &mut Live, touched: &mut Touched) -> Option<()> {
        let kind = leaf(path);
        match kind {
            Leaf::Theme => touched.has_theme = true,
            Leaf::Aside => {}
            Leaf::Ground | Leaf::Setting => return None,
            _ => {
                // Its faults of names would stand at another line.
                let is_named = |fault: &crate::diagnostic::Diagnostic| *fault.place.file == *path;
                if live.faults.names.iter().any(is_named) {
                    return None;
                }
                let bytes = self.input.bytes(path)?;
                let (item, faults) = live.read.item(path, bytes);
                let is_read = !matches!(item, Item::Nothing);
                live.take_item(item, path, kind, touched)?;
                if faults.is_empty() {
                    live.read.of_file.remove(path);
                } else {
                    live.read.of_file.insert(path.to_owned(), faults);
                }
                // A file that cannot be read stays as it was last read, behind its fault.
                if !is_read {
                    return Some(());
                }
            }
        }
        self.stale.remove(path);
        Some(())
    }
}

fn same(a: &[Placed<String>], b: &[Placed<String>]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.value == b.value)
}

fn has_same_names(a: &Plant, b: &Plant) -> bool {
    a.genus == b.genus
        && a.name.value == b.name.value
        && same(&a.known_as, &b.known_as)
        && same(&a.synonyms, &b.synonyms)
        && same(&a.trade_names, &b.trade_names)
        && same(&a.formerly, &b.formerly)
}

fn speaks_the_same(a: &Source, b: &Source) -> bool {
    a.is_read
        && a.kind == b.kind
        && a.voice == b.voice
        && a.repeats == b.repeats
        && a.vocabulary == b.vocabulary
}

fn recounted(of_source: &mut [usize], old: &[RawClaim], new: &[RawClaim]) {
    for raw in old {
        of_source[raw.source] -= 1;
    }
    for raw in new {
        of_source[raw.source] += 1;
    }
}

impl Live {
    /// Puts what a file holds in the place of what it held.
    fn take_item(
        &mut self,
        item: Item,
        path: &str,
        kind: Leaf<'_>,
        touched: &mut Touched,
    ) -> Option<()> {
        let guide = &mut self.weighed.guide;
        match (item, kind) {
            (Item::Nothing, Leaf::Plant) => {
                guide.plants.iter().find(|plant| plant.file == path)?;
            }
            (Item::Nothing, Leaf::Source(id)) => {
                guide.sources.iter().find(|of| of.id == id && of.is_read)?;
            }
            (Item::Nothing, Leaf::Genus(folder)) => {
                let is_it = |genus: &&Genus| genus.folder == folder && genus.has_file;
                guide.genera.iter().find(is_it)?;
            }
            (Item::Nothing, Leaf::Roster(id)) => {
                guide.rosters.iter().find(|roster| roster.id == id)?;
            }
            (Item::Nothing, Leaf::Page(id)) => {
                guide.pages.iter().find(|page| page.id == id)?;
            }
            (Item::Plant(new), Leaf::Plant) => {
                let entry = guide.plants.iter().position(|plant| plant.file == path)?;
                let plant = self
                    .weighed
                    .names
                    .plants
                    .iter()
                    .position(|p| p.entry == entry)?;
                let old = &mut guide.plants[entry];
                if !has_same_names(old, &new) {
                    return None;
                }
                recounted(&mut self.weighed.claims.of_source, &old.claims, &new.claims);
                let had_texts = is_written(plant, guide, &self.weighed.names);
                guide.plants[entry] = *new;
                self.set_claims(Owner::Plant(plant), touched);
                touched.plants.insert(plant);
                if had_texts || is_written(plant, &self.weighed.guide, &self.weighed.names) {
                    touched
                        .pages
                        .insert(plant_address(&self.weighed.names, plant));
                    touched.pages.extend(self.pages_of_cautions());
                }
            }
            (Item::Source(new), Leaf::Source(id)) => {
                let source = guide.sources.iter().position(|source| source.id == id)?;
                let old = &mut guide.sources[source];
                if !speaks_the_same(old, &new) {
                    return None;
                }
                recounted(&mut self.weighed.claims.of_source, &old.claims, &new.claims);
                *old = *new;
                self.set_claims(Owner::Source(source), touched);
            }
            (Item::Genus(genus, new), Leaf::Genus(_)) => {
                let old = &mut guide.genera[genus];
                let loose_name = old.loose_name.as_ref().map(|name| &name.value);
                let rows =
                    old.loose.len() == new.loose.len()
                        && old.loose.iter().zip(&new.loose).all(|(a, b)| {
                            a.name.value == b.name.value && same(&a.covers, &b.covers)
                        });
                if !old.has_file
                    || loose_name != Some(&new.loose_name.value)
                    || !same(&old.also, &new.also)
                    || !rows
                {
                    return None;
                }
                recounted(&mut self.weighed.claims.of_source, &old.claims, &new.claims);
                old.loose_name = Some(new.loose_name);
                old.also = new.also;
                old.loose = new.loose;
                old.claims = new.claims;
                self.set_claims(Owner::Genus(genus), touched);
            }
            (Item::Roster(new), Leaf::Roster(_)) => {
                let place = of_roster(guide, &new.id)?;
                touched
                    .pages
                    .insert(format!("plantings/{}/index.html", new.id));
                guide.rosters[place] = *new;
            }
            (Item::Page(new), Leaf::Page(_)) => {
                let place = of_page(guide, &new.id)?;
                touched.pages.insert(format!("pages/{}/index.html", new.id));
                guide.pages[place] = new;
            }
            _ => return None,
        }
        Some(())
    }

    fn pages_of_cautions(&self) -> Vec<String> {
        let waters = self.weighed.guide.waters.iter();
        let starts = waters.map(|water| format!("start/{}/index.html", water.id));
        let lists = ["start/index.html", "cautions/index.html"].map(str::to_owned);
        starts.chain(lists).collect()
    }

    /// Resolves the claims of one file again, and puts them in the place of those it had.
    fn set_claims(&mut self, owner: Owner, touched: &mut Touched) {
        let plants = self.weighed.names.plants.len();
        let at = match owner {
            Owner::Plant(plant) => plant,
            Owner::Source(source) => plants + source,
            Owner::Genus(genus) => plants + self.weighed.guide.sources.len() + genus,
        };
        let old: Range<usize> = self.starts[at]..self.starts[at + 1];
        let (made, found) = of_owner(owner, &self.weighed.guide, &self.weighed.names);
        if found.is_empty() {
            self.faults.claims.remove(&owner);
        } else {
            self.faults.claims.insert(owner, found);
        }
        let (new, speak_of): (Vec<_>, Vec<Vec<PlantId>>) =
            made.into_iter().map(|one| (one.claim, one.plants)).unzip();
        let (n_old, n_new) = (old.len(), new.len());
        let moved = |id: usize| {
            if id >= old.end {
                id + n_new - n_old
            } else {
                id
            }
        };
        let which = match owner {
            // The claims of an entry speak of its plant alone.
            Owner::Plant(plant) if n_old == n_new => plant..plant + 1,
            _ => 0..plants,
        };
        for plant in which {
            let of_trait = &mut self.weighed.claims.of_plant[plant];
            for ids in of_trait.values_mut() {
                let before = ids.len();
                ids.retain(|id| !old.contains(id));
                if ids.len() != before {
                    touched.plants.insert(plant);
                }
                ids.iter_mut().for_each(|id| *id = moved(*id));
            }
            of_trait.retain(|_, ids| !ids.is_empty());
            if n_old != n_new {
                let graded = self.weighed.reconciled.plants[plant].traits.values_mut();
                let claims = graded.flat_map(|graded| &mut graded.claims);
                claims.for_each(|one| one.id = moved(one.id));
            }
        }
        for (number, plants) in speak_of.into_iter().enumerate() {
            let id = old.start + number;
            for plant in plants {
                let of_trait = self.weighed.claims.of_plant[plant].entry(new[number].trait_index);
                let ids = of_trait.or_default();
                ids.insert(ids.partition_point(|other| *other < id), id);
                touched.plants.insert(plant);
            }
        }
        self.weighed.claims.all.splice(old, new);
        for start in &mut self.starts[at + 1..] {
            *start = *start + n_new - n_old;
        }
    }

    /// Weighs some plants again, with what leans on them.
    fn weigh_again(&mut self, touched: &BTreeSet<PlantId>) {
        if touched.is_empty() {
            return;
        }
        let (guide, names, claims) = (
            &self.weighed.guide,
            &self.weighed.names,
            &self.weighed.claims,
        );
        let voices = &self.weighed.reconciled.voices;
        let listings: Vec<Listings> = guide.regulated.iter().map(Listings::of).collect();
        let plants: Vec<PlantId> = touched.iter().copied().collect();
        let made: Vec<_> = plants
            .par_iter()
            .map(|plant| {
                let grades = plant_grades(*plant, guide, names, claims, voices);
                let roles = plant_roles(*plant, guide, names, claims, voices, &listings);
                let differences = differences(&grades, claims);
                (grades, roles, differences)
            })
            .collect();
        let genera: BTreeSet<usize> = plants.iter().map(|at| names.plants[*at].genus).collect();
        let genera: Vec<usize> = genera.into_iter().collect();
        let grouped: Vec<_> = genera
            .par_iter()
            .map(|genus| groups(*genus, guide, names, claims, voices))
            .collect();
        for (genus, group) in genera.iter().zip(grouped) {
            self.weighed.reconciled.groups[*genus] = group;
        }
        let mut sources: BTreeSet<usize> = BTreeSet::new();
        // Pairs of water and role in which a touched plant was a mainstay, or is one now.
        let mut pairs: BTreeSet<(usize, usize)> = BTreeSet::new();
        for (plant, (grades, mut roles, found)) in plants.iter().zip(made) {
            let old = &mut self.weighed.standings.plants[*plant];
            for of in [&*old, &roles] {
                for (water, standings) in of.standings.iter().enumerate() {
                    for (role, standing) in standings.iter().enumerate() {
                        if standing.as_ref().is_some_and(|s| s.word == Word::Mainstay) {
                            pairs.insert((water, role));
                        }
                    }
                }
            }
            roles.instead = std::mem::take(&mut old.instead);
            *old = roles;
            self.weighed.reconciled.plants[*plant] = grades;
            let was = std::mem::replace(&mut self.differences[*plant], found);
            let all = was.iter().chain(&self.differences[*plant]);
            sources.extend(all.map(|one| one.source));
        }
        let sources: Vec<usize> = sources.into_iter().collect();
        let runs = runs_of(&sources, &self.differences, guide.sources.len());
        for (source, run) in sources.iter().zip(runs) {
            self.weighed.reconciled.runs[*source] = run;
        }
        let all_pairs: Vec<(usize, usize)> = (0..guide.waters.len())
            .flat_map(|water| (0..guide.roles.len()).map(move |role| (water, role)))
            .collect();
        let standings = &self.weighed.standings.plants;
        let lists: Vec<Vec<PlantId>> = all_pairs
            .par_iter()
            .map(|(water, role)| mainstays(standings, *water, *role, false))
            .collect();
        for (pair, all) in all_pairs.into_iter().zip(lists) {
            let standings = &mut self.weighed.standings.plants;
            if pairs.contains(&pair) {
                set_instead(standings, 0..names.plants.len(), guide, names, pair, &all);
            } else {
                for plant in &plants {
                    set_instead(standings, *plant..plant + 1, guide, names, pair, &all);
                }
            }
        }
        self.weighed.standings.wanted = wanted(guide, &self.weighed.standings.plants);
        if let Some(kept) = &mut self.kept {
            for plant in &plants {
                kept.note_again(*plant, guide, names, &self.weighed.standings);
            }
        }
    }

    fn load_theme(&mut self, input: &crate::content::Input) {
        self.faults.theme = match &mut self.kept {
            Some(kept) => kept.load_theme(&self.weighed.guide, input),
            None => {
                let (kept, found) = Kept::new(self.stages(input));
                self.kept = kept;
                found
            }
        };
    }
}

fn of_roster(guide: &Guide, id: &str) -> Option<usize> {
    guide
        .rosters
        .iter()
        .position(|roster: &Roster| roster.id == id)
}

fn of_page(guide: &Guide, id: &str) -> Option<usize> {
    guide.pages.iter().position(|page: &FreePage| page.id == id)
}

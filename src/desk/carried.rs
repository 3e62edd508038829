//! What a guide that is put together anew takes over from the one before: files that were read
//! already, and grades of plants whose claims say the same.
//!
//! Only for guides with the same settings and waters.

use std::collections::{BTreeMap, BTreeSet};

use crate::claims::{Claim, Claims};
use crate::content::{Guide, Input, Item, RawClaim, Source, genus_folders, position, source_ids};
use crate::desk::forme::Live;
use crate::names::{Names, PlantId};
use crate::reconcile::voice::{Voice, Voices};
use crate::reconcile::{Group, Outcome, PlantGrades};
use crate::roles::PlantRoles;

/// Plants and sources that say the same as when they were read, by path.
pub(crate) fn items(
    live: &Live,
    input: &Input,
    stale: &BTreeSet<String>,
) -> BTreeMap<String, Item> {
    let guide = live.guide();
    let ids = source_ids(input);
    let folders = genus_folders(input);
    let source_of: Vec<Option<usize>> = guide
        .sources
        .iter()
        .map(|source| ids.binary_search(&source.id).ok())
        .collect();
    // What a file says depends on it, and on whether the sources that it cites are there.
    let is_kept = |path: &str| !stale.contains(path) && !live.read.of_file.contains_key(path);
    let mut out = BTreeMap::new();
    for plant in guide.plants.iter().filter(|plant| is_kept(&plant.file)) {
        let mut plant = plant.clone();
        let folder = &guide.genera[plant.genus].folder;
        let cautions = plant.cautions.iter_mut().flat_map(|c| c.source.as_mut());
        let is_there =
            moved_all(cautions, &source_of) & moved_claims(&mut plant.claims, &source_of);
        if let (true, Ok(genus)) = (is_there, folders.binary_search(folder)) {
            plant.genus = genus;
            out.insert(plant.file.clone(), Item::Plant(Box::new(plant)));
        }
    }
    for source in guide.sources.iter().filter(|source| source.is_read) {
        let path = source.file.file.to_string();
        if !is_kept(&path) {
            continue;
        }
        let mut source: Source = source.clone();
        let is_there = moved_all(source.repeats.iter_mut(), &source_of)
            & moved_claims(&mut source.claims, &source_of);
        if is_there {
            out.insert(path, Item::Source(Box::new(source)));
        }
    }
    out
}

/// Sets places of sources to where they are now; whether all of them are still there.
fn moved_all<'a>(places: impl Iterator<Item = &'a mut usize>, source_of: &[Option<usize>]) -> bool {
    let mut is_there = true;
    for place in places {
        match source_of[*place] {
            Some(now) => *place = now,
            None => is_there = false,
        }
    }
    is_there
}

fn moved_claims(claims: &mut [RawClaim], source_of: &[Option<usize>]) -> bool {
    let places = claims
        .iter_mut()
        .flat_map(|claim| std::iter::once(&mut claim.source).chain(claim.repeats.as_mut()));
    moved_all(places, source_of)
}

/// What may be taken over: by plant, and by genus.
pub(crate) struct Carried {
    pub(crate) plants: Vec<Option<(PlantGrades, PlantRoles)>>,
    pub(crate) groups: Vec<Option<BTreeMap<usize, Group>>>,
}

impl Carried {
    /// Nothing is taken over.
    pub(crate) fn nothing(plants: usize, genera: usize) -> Carried {
        Carried {
            plants: (0..plants).map(|_| None).collect(),
            groups: (0..genera).map(|_| None).collect(),
        }
    }
}

/// Where things of the guide before stand now.
struct Moves {
    /// By source: its place now, if it is there and the same originals speak for it.
    sources: Vec<Option<usize>>,
    /// By voice.
    voices: Vec<Option<usize>>,
}

impl Moves {
    fn of(old: &Live, guide: &Guide, voices: &Voices) -> Moves {
        let before = &old.weighed.reconciled.voices;
        let of_voice: Vec<Option<usize>> = before
            .ids
            .iter()
            .map(|id| voices.ids.binary_search(id).ok())
            .collect();
        let place: Vec<Option<usize>> = old
            .guide()
            .sources
            .iter()
            .map(|source| position(&guide.sources, &source.id, |of| of.id.as_str()))
            .collect();
        let is_same = |was: usize, now: usize| {
            let (were, are) = (&before.originals[was], &voices.originals[now]);
            were.len() == are.len()
                && were.iter().zip(are).all(|(was, now)| {
                    place[*was] == Some(*now)
                        && of_voice[before.of_source[*was]] == Some(voices.of_source[*now])
                })
        };
        Moves {
            sources: place
                .iter()
                .enumerate()
                .map(|(was, now)| now.filter(|now| is_same(was, *now)))
                .collect(),
            voices: of_voice,
        }
    }

    /// Whether two claims weigh the same.
    fn is_same(&self, was: &Claim, now: &Claim) -> bool {
        let repeats = match (was.repeats, now.repeats) {
            (None, None) => true,
            (Some(was), Some(now)) => self.sources[was] == Some(now),
            _ => false,
        };
        repeats
            && was.trait_index == now.trait_index
            && self.sources[was.source] == Some(now.source)
            && was.kind == now.kind
            && was.is_loose == now.is_loose
            && was.fate == now.fate
            && was.stated == now.stated
            && was.value == now.value
            && was.measured == now.measured
    }

    /// Sets the place of a voice to where it is now.
    fn voice(&self, voice: &mut usize) {
        if let Some(now) = self.voices[*voice] {
            *voice = now;
        }
    }

    fn voices(&self, voices: &mut [Voice]) {
        for voice in voices {
            self.voice(&mut voice.id);
        }
    }

    fn grades(&self, grades: &mut PlantGrades, of_plant: &BTreeMap<usize, Vec<usize>>) {
        for (trait_index, graded) in &mut grades.traits {
            if let Some(ids) = of_plant.get(trait_index) {
                for (one, id) in graded.claims.iter_mut().zip(ids) {
                    one.id = *id;
                    self.voice(&mut one.voice);
                }
            }
            self.voices(&mut graded.voices);
            if let Outcome::Scale {
                measured,
                goes_with,
                ..
            } = &mut graded.outcome
            {
                let values = measured.values_mut().flat_map(|pooled| &mut pooled.values);
                values.for_each(|(voice, _, _)| self.voice(voice));
                let groups = goes_with.iter_mut().flat_map(|factor| &mut factor.groups);
                groups
                    .flat_map(|(_, voices)| voices)
                    .for_each(|voice| self.voice(voice));
            }
        }
    }

    fn roles(&self, roles: &mut PlantRoles) {
        let standings = roles.standings.iter_mut().flatten().flatten();
        standings
            .flat_map(|standing| &mut standing.rests_on)
            .for_each(|voice| self.voice(voice));
    }
}

/// What of `old` holds in the guide that takes its place.
pub(crate) fn carried(
    old: Live,
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    voices: &Voices,
) -> Carried {
    let moves = Moves::of(&old, guide, voices);
    let mut out = Carried::nothing(names.plants.len(), guide.genera.len());
    // By plant of the old guide, where it is now, if its claims say the same.
    let mut now_at: Vec<Option<PlantId>> = vec![None; old.weighed.names.plants.len()];
    for (now, plant) in names.plants.iter().enumerate() {
        let slug = plant.slug.as_str();
        let Some(was) = position(&old.weighed.names.plants, slug, |plant| plant.slug.as_str())
        else {
            continue;
        };
        let (before, here) = (&old.weighed.claims.of_plant[was], &claims.of_plant[now]);
        let is_same = before.len() == here.len()
            && before.iter().zip(here).all(|((a, was), (b, now))| {
                a == b
                    && was.len() == now.len()
                    && was.iter().zip(now).all(|(was, now)| {
                        moves.is_same(&old.weighed.claims.all[*was], &claims.all[*now])
                    })
            });
        if is_same {
            now_at[was] = Some(now);
        }
    }
    let is_same_entry = |was: PlantId, now: PlantId| {
        let a = &old.guide().plants[old.weighed.names.plants[was].entry];
        let b = &guide.plants[names.plants[now].entry];
        let values = |names: &[crate::diagnostic::Placed<String>]| -> Vec<String> {
            names.iter().map(|name| name.value.clone()).collect()
        };
        a.name.value == b.name.value
            && a.forms == b.forms
            && values(&a.synonyms) == values(&b.synonyms)
    };
    let kept: Vec<bool> = now_at
        .iter()
        .enumerate()
        .map(|(was, now)| now.is_some_and(|now| is_same_entry(was, now)))
        .collect();
    let mut groups_were = old.weighed.reconciled.groups;
    for (at, genus) in guide.genera.iter().enumerate() {
        let genera = &old.weighed.guide.genera;
        let Some(was) = position(genera, &genus.folder, |genus| genus.folder.as_str()) else {
            continue;
        };
        let before: Option<Vec<PlantId>> = old
            .weighed
            .names
            .of_genus(was)
            .into_iter()
            .map(|plant| now_at[plant])
            .collect();
        if before.is_none_or(|before| before != names.of_genus(at)) {
            continue;
        }
        let mut group = std::mem::take(&mut groups_were[was]);
        for of_trait in group.values_mut() {
            let levels = std::mem::take(&mut of_trait.levels);
            of_trait.levels = levels
                .into_iter()
                .filter_map(|(plant, (level, weight, mut voices))| {
                    moves.voices(&mut voices);
                    Some((now_at[plant]?, (level, weight, voices)))
                })
                .collect();
        }
        out.groups[at] = Some(group);
    }
    let plants = old
        .weighed
        .reconciled
        .plants
        .into_iter()
        .zip(old.weighed.standings.plants);
    for (was, (mut grades, mut roles)) in plants.enumerate() {
        if let (Some(now), true) = (now_at[was], kept[was]) {
            moves.grades(&mut grades, &claims.of_plant[now]);
            moves.roles(&mut roles);
            out.plants[now] = Some((grades, roles));
        }
    }
    out
}

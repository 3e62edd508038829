//! Standings: how each plant stands in each role in each water, and what would change it.
//!
//! Sections 8 to 10 of the mathematics. Knows nothing of pages.

mod clause;

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use rayon::prelude::*;

pub use clause::{Answer, List, Verdict, asks, decision_score};

use crate::claims::Claims;
use crate::content::{Clause, Guide, Role, TraitKind};
use crate::diagnostic::Diagnostic;
use crate::names::{Lawful, Listed, Listings, Names, PlantId};
use crate::reconcile::Reconciled;
use crate::reconcile::voice::{Kinds, Voices};
use crate::roles::clause::{Asked, Bench, standing_of};

/// Most further voices that are tried.
pub const MOST_NOTES: usize = 5;

/// Most plants named to use instead.
pub const MOST_INSTEAD: usize = 5;

/// How a plant stands in a role in a water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Word {
    /// Can be relied on.
    Mainstay,
    /// Helps.
    Support,
    /// Not known yet.
    Unproven,
    /// Does not do this job here.
    Bystander,
    /// Wrong for this water.
    Unsuited,
}

impl Word {
    /// All, in the order in which lists show them.
    pub const ALL: [Word; 5] = [
        Word::Mainstay,
        Word::Support,
        Word::Unproven,
        Word::Bystander,
        Word::Unsuited,
    ];

    /// The word of the data.
    pub fn id(self) -> &'static str {
        match self {
            Word::Mainstay => "mainstay",
            Word::Support => "support",
            Word::Unproven => "unproven",
            Word::Bystander => "bystander",
            Word::Unsuited => "unsuited",
        }
    }

    /// The word on screen.
    pub fn on_screen(self) -> &'static str {
        match self {
            Word::Unproven => "not known yet",
            Word::Unsuited => "wrong for this water",
            other => other.id(),
        }
    }
}

impl Standing {
    /// Whether a doubt is worth a word: not where the plant is ruled out already.
    pub fn is_doubtful(&self) -> bool {
        self.is_in_doubt && self.word != Word::Unsuited
    }
}

/// A standing with its reasons.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The word.
    pub word: Word,
    /// An `unsuited` clause is open and more likely met than not.
    pub is_in_doubt: bool,
    /// Every clause, in the order asked.
    pub clauses: Vec<Verdict>,
    /// Voices (places in [`crate::reconcile::voice::Voices::ids`]) without any one of which the
    /// standing would be another.
    pub rests_on: Vec<usize>,
    /// Whether it would stand if every kind of source weighed the same.
    pub is_equal_kinds: bool,
    /// What would change it.
    pub changes: Vec<Change>,
}

/// The fewest further voices on one level that would change a standing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// Trait.
    pub trait_index: usize,
    /// Level that the further voices name.
    pub level: usize,
    /// How many.
    pub notes: usize,
    /// To what.
    pub to: Word,
}

/// Everything about a plant's roles.
#[derive(Debug, Clone)]
pub struct PlantRoles {
    /// Listings (index) that the plant is on, and whether their place is one of the guide's.
    pub regulated: Vec<(usize, bool)>,
    /// Listings that its name is near to.
    pub near: Vec<usize>,
    /// By water, by role; `None` where its forms cannot have the role.
    pub standings: Vec<Vec<Option<Standing>>>,
    /// By water, by role: plants to use instead.
    pub instead: Vec<Vec<Vec<PlantId>>>,
}

impl PlantRoles {
    /// Whether the plant is on a list of one of the guide's places.
    pub fn is_regulated_here(&self) -> bool {
        self.regulated.iter().any(|(_, here)| *here)
    }
}

/// One (plant, role) that a few observations would decide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    /// The plant.
    pub plant: PlantId,
    /// Index of the role.
    pub role: usize,
    /// Fewest further voices; `None` where five do not decide it.
    pub notes: Option<usize>,
}

/// All standings of a guide.
#[derive(Debug, Clone)]
pub struct Standings {
    /// By plant.
    pub plants: Vec<PlantRoles>,
    /// Unproven pairs in the default water, fewest first.
    pub wanted: Vec<Wanted>,
}

/// Derives every standing.
pub fn standings(
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    reconciled: &Reconciled,
) -> (Standings, Vec<Diagnostic>) {
    let listings: Vec<Listings> = guide.regulated.iter().map(Listings::of).collect();
    let mut plants: Vec<PlantRoles> = (0..names.plants.len())
        .into_par_iter()
        .map(|plant| plant_roles(plant, guide, names, claims, &reconciled.voices, &listings))
        .collect();
    let faults = (0..plants.len())
        .flat_map(|plant| near_listed(plant, guide, names, &plants[plant]))
        .collect();
    for plant in &mut plants {
        plant.instead = vec![vec![Vec::new(); guide.roles.len()]; guide.waters.len()];
    }
    for water in 0..guide.waters.len() {
        for role in 0..guide.roles.len() {
            let all = mainstays(&plants, water, role, false);
            let every = 0..plants.len();
            set_instead(&mut plants, every, guide, names, (water, role), &all);
        }
    }
    let wanted = wanted(guide, &plants);
    (Standings { plants, wanted }, faults)
}

/// A warning for each legal listing that a plant's name is near to.
pub(crate) fn near_listed(
    plant: PlantId,
    guide: &Guide,
    names: &Names,
    roles: &PlantRoles,
) -> Vec<Diagnostic> {
    let entry = &guide.plants[names.plants[plant].entry];
    let listings = roles.near.iter().map(|listing| &guide.regulated[*listing]);
    listings
        .map(|listing| {
            Diagnostic::near_listed(
                &entry.name.place,
                &entry.name.value,
                &listing.listed_as,
                &listing.instrument,
            )
        })
        .collect()
}

/// The notice of a plant on a list of one of the guide's places, as text; empty for others.
pub fn notice(guide: &Guide, standings: &Standings, plant: PlantId) -> String {
    let rows: Vec<String> = standings.plants[plant]
        .regulated
        .iter()
        .filter(|(_, here)| *here)
        .map(|(listing, _)| {
            let listing = &guide.regulated[*listing];
            let date = listing.date.as_deref().unwrap_or("no date given");
            format!("{}: {}, {date}", listing.place, listing.instrument)
        })
        .collect();
    if rows.is_empty() {
        String::new()
    } else {
        format!("listed in {}", rows.join("; "))
    }
}

/// Whether the forms of a plant can have a role.
pub fn can_have(role: &Role, forms: &[String]) -> bool {
    match &role.forms {
        None => true,
        Some(allowed) => forms.iter().any(|form| allowed.contains(form)),
    }
}

/// Everything about one plant's roles but what to use instead.
pub(crate) fn plant_roles(
    plant: PlantId,
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    voices: &Voices,
    listings: &[Listings],
) -> PlantRoles {
    let entry = &guide.plants[names.plants[plant].entry];
    let mut regulated = Vec::new();
    let mut near = Vec::new();
    let lawful = Lawful::of(names, plant, guide);
    for (at, listing) in listings.iter().enumerate() {
        let place = &guide.regulated[at].place;
        match lawful.under(listing) {
            Listed::Yes => regulated.push((at, guide.about.places.contains(place))),
            Listed::Near => near.push(at),
            Listed::No => {}
        }
    }
    let bench = Bench::of(plant, guide, claims, voices);
    let standings = (0..guide.waters.len())
        .map(|water| {
            guide
                .roles
                .iter()
                .map(|role| {
                    can_have(role, &entry.forms)
                        .then(|| standing(role, water, guide, &bench, &entry.forms))
                })
                .collect()
        })
        .collect();
    PlantRoles {
        regulated,
        near,
        standings,
        instead: Vec::new(),
    }
}

fn standing(
    role: &Role,
    water: usize,
    guide: &Guide,
    bench: &Bench<'_>,
    forms: &[String],
) -> Standing {
    let lists: [(List, &Vec<Clause>); 4] = [
        (List::Unsuited, &guide.every_role),
        (List::Unsuited, &role.unsuited),
        (List::Mainstay, &role.mainstay),
        (List::Support, &role.support),
    ];
    let ask = |kinds: Kinds| -> Vec<Asked> {
        lists
            .iter()
            .flat_map(|(list, clauses)| clauses.iter().map(move |clause| (*list, clause)))
            .map(|(list, clause)| bench.ask(list, clause, water, forms, kinds))
            .collect()
    };
    let asked = ask(Kinds::AsWeighed);
    let policy = &guide.weights;
    let clauses: Vec<Verdict> = asked.iter().map(|asked| asked.verdict(policy)).collect();
    let answers: Vec<(List, Answer)> = clauses
        .iter()
        .map(|verdict| (verdict.list, verdict.answer))
        .collect();
    let word = standing_of(&answers);
    let is_in_doubt = clauses.iter().any(|verdict| {
        verdict.list == List::Unsuited
            && verdict.answer == Answer::Open
            && verdict.probability.is_some_and(|p| p > 0.5 + 1e-9)
    });
    let candidates: BTreeSet<usize> = asked.iter().flat_map(Asked::voices).collect();
    let rests_on = candidates
        .into_iter()
        .filter(|voice| {
            let mut left = answers.clone();
            for (asked, left) in asked.iter().zip(&mut left) {
                if asked.voices().any(|other| other == *voice) {
                    left.1 = asked.answer(policy, Some(*voice)).0;
                }
            }
            standing_of(&left) != word
        })
        .collect();
    let equal: Vec<(List, Answer)> = ask(Kinds::Equal)
        .iter()
        .map(|asked| (asked.list(), asked.answer(policy, None).0))
        .collect();
    let is_equal_kinds = standing_of(&equal) == word;
    let changes = changes(&asked, &answers, word, guide);
    Standing {
        word,
        is_in_doubt,
        clauses,
        rests_on,
        is_equal_kinds,
        changes,
    }
}

fn changes(asked: &[Asked], answers: &[(List, Answer)], word: Word, guide: &Guide) -> Vec<Change> {
    let policy = &guide.weights;
    let traits: BTreeSet<usize> = asked.iter().map(|asked| asked.trait_index).collect();
    let mut out = Vec::new();
    for trait_index in traits {
        let TraitKind::Scale(on) = &guide.traits[trait_index].kind else {
            continue;
        };
        // The clauses that further voices on this trait bear on, with what is there already.
        let open: Vec<(usize, (f64, f64))> = asked
            .iter()
            .enumerate()
            .filter(|(_, asked)| asked.is_open_to(trait_index))
            .map(|(at, asked)| (at, asked.sums(policy, None)))
            .collect();
        for level in 0..on.levels {
            let found = (1..=MOST_NOTES).find_map(|notes| {
                let mut with = answers.to_vec();
                for (at, sums) in &open {
                    with[*at].1 = asked[*at].answer_with(policy, *sums, level, notes);
                }
                let to = standing_of(&with);
                (to != word).then_some((notes, to))
            });
            if let Some((notes, to)) = found {
                out.push(Change {
                    trait_index,
                    level,
                    notes,
                    to,
                });
            }
        }
    }
    out
}

/// The decision score that a mainstay or a support is ranked by: the lowest among its met clauses
/// of that list. Rounded, so that scores which differ by rounding alone are a tie.
pub fn rank(standing: &Standing, list: List) -> f64 {
    standing
        .clauses
        .iter()
        .filter(|verdict| verdict.list == list && verdict.answer == Answer::Met)
        .filter_map(|verdict| verdict.probability)
        .map(|probability| (probability * 1e12).round())
        .fold(f64::INFINITY, f64::min)
}

/// Mainstays of a role in a water, surest first, then by slug; those regulated here left out or in.
pub fn mainstays(
    plants: &[PlantRoles],
    water: usize,
    role: usize,
    with_regulated: bool,
) -> Vec<PlantId> {
    let mut found: Vec<(f64, PlantId)> = plants
        .iter()
        .enumerate()
        .filter(|(_, plant)| with_regulated || !plant.is_regulated_here())
        .filter_map(|(id, plant)| {
            let standing = plant.standings[water][role].as_ref()?;
            (standing.word == Word::Mainstay).then(|| (rank(standing, List::Mainstay), id))
        })
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    found.into_iter().map(|(_, id)| id).collect()
}

/// Sets what to use instead of some plants in a role in a water; `all` are its mainstays.
pub(crate) fn set_instead(
    plants: &mut [PlantRoles],
    which: Range<PlantId>,
    guide: &Guide,
    names: &Names,
    (water, role): (usize, usize),
    all: &[PlantId],
) {
    let forms = |id: PlantId| guide.plants[names.plants[id].entry].forms.as_slice();
    // Plants of the same forms have the same to use instead.
    let mut of_forms: BTreeMap<&[String], Vec<PlantId>> = BTreeMap::new();
    for id in which {
        let plant = &mut plants[id];
        let own = plant.standings[water][role].as_ref();
        plant.instead[water][role] = if own.is_some_and(|own| own.word == Word::Mainstay) {
            Vec::new()
        } else {
            let first = || {
                let shares =
                    |other: &PlantId| forms(*other).iter().any(|form| forms(id).contains(form));
                let alike = all.iter().copied().filter(shares);
                let unlike = all.iter().copied().filter(|other| !shares(other));
                alike.chain(unlike).take(MOST_INSTEAD).collect()
            };
            of_forms.entry(forms(id)).or_insert_with(first).clone()
        };
    }
}

/// The pairs of plant and role that are not known yet in the default water, fewest notes first.
pub(crate) fn wanted(guide: &Guide, plants: &[PlantRoles]) -> Vec<Wanted> {
    let mut out = Vec::new();
    for (plant, roles) in plants.iter().enumerate() {
        for (role, standing) in roles.standings[guide.about.default_water]
            .iter()
            .enumerate()
        {
            let Some(standing) = standing else {
                continue;
            };
            if standing.word == Word::Unproven {
                out.push(Wanted {
                    plant,
                    role,
                    notes: standing.changes.iter().map(|change| change.notes).min(),
                });
            }
        }
    }
    out.sort_by_key(|wanted| {
        (
            wanted.notes.unwrap_or(MOST_NOTES + 1),
            wanted.plant,
            wanted.role,
        )
    });
    out
}

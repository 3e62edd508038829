//! What moved between two editions, and which claims did it.

use std::collections::{BTreeMap, BTreeSet};

use crate::content::Guide;
use crate::editions::{Edition, Graded, Head, Mark, Recorded};
use crate::roles::Word;

/// What moved from one edition to another.
#[derive(Debug, Clone, PartialEq)]
pub struct Shifts {
    /// The earlier one.
    pub from: Head,
    /// The later one.
    pub to: Head,
    /// Plants of which something moved, by address.
    pub plants: Vec<PlantShift>,
    /// Files of rules that say something else.
    pub rules: Vec<String>,
    /// Sources that are of another kind or voice, repeat others, or mean something else by a word.
    pub sources: Vec<String>,
    /// The program that weighed was another: its name before.
    pub made_with: Option<String>,
    /// Roles that only the later one has; their standings did not turn, they are new.
    pub new_roles: Vec<String>,
    /// Waters that only the later one has.
    pub new_waters: Vec<String>,
    /// Roles that only the earlier one has.
    pub gone_roles: Vec<String>,
    /// Waters that only the earlier one has.
    pub gone_waters: Vec<String>,
}

/// Shifts in numbers.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    /// Standings that turned.
    pub turns: usize,
    /// Traits of plants whose level, confidence or contest changed.
    pub traits: usize,
    /// Plants that either is on.
    pub plants: usize,
    /// Plants that are new.
    pub new: usize,
    /// Plants that are gone.
    pub gone: usize,
    /// Plants that have another name.
    pub renamed: usize,
}

impl Shifts {
    /// Whether nothing moved.
    pub fn is_empty(&self) -> bool {
        let lists = [
            &self.new_roles,
            &self.new_waters,
            &self.gone_roles,
            &self.gone_waters,
        ];
        self.plants.is_empty() && lists.iter().all(|list| list.is_empty())
    }

    /// In numbers.
    pub fn tally(&self) -> Tally {
        let mut out = Tally::default();
        for plant in &self.plants {
            match plant.whence {
                Whence::Here => {}
                Whence::New => out.new += 1,
                Whence::Gone => out.gone += 1,
                Whence::Renamed { .. } => out.renamed += 1,
            }
            let traits = plant.traits.iter().filter(|of| of.has_moved()).count();
            out.turns += plant.turns.len();
            out.traits += traits;
            out.plants += usize::from(traits + plant.turns.len() > 0);
        }
        out
    }
}

/// Whether a plant is in both editions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whence {
    /// In both.
    Here,
    /// In the later one only.
    New,
    /// In the earlier one only.
    Gone,
    /// In both, under another name.
    Renamed {
        /// Its address before.
        slug: String,
        /// Its name before.
        name: String,
    },
}

/// What moved of one plant.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantShift {
    /// Its address; of a plant that is gone, the one it had.
    pub slug: String,
    /// Its name.
    pub name: String,
    /// Whether it is in both.
    pub whence: Whence,
    /// Standings that turned, by role and water.
    pub turns: Vec<Turn>,
    /// Traits whose grade moved, and those whose claims moved and which a turned standing asks
    /// about.
    pub traits: Vec<TraitShift>,
    /// Where a turn or a trait has no claim that did it: what else can have.
    pub causes: Vec<Cause>,
}

/// A standing that turned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Turn {
    /// Role.
    pub role: String,
    /// Water.
    pub water: String,
    /// What it was; `None`: its forms could not have it.
    pub from: Option<Word>,
    /// What it is.
    pub to: Option<Word>,
    /// Traits that the role asks about and whose claims changed.
    pub by: Vec<String>,
}

/// A trait whose grade or whose claims moved.
#[derive(Debug, Clone, PartialEq)]
pub struct TraitShift {
    /// Trait.
    pub id: String,
    /// The grade whatever the water, where it moved.
    pub overall: Option<Step>,
    /// The grade in each water where it moved otherwise than overall.
    pub in_water: Vec<(String, Step)>,
    /// Claims that came, went or changed.
    pub claims: Vec<ClaimShift>,
}

impl TraitShift {
    /// Whether the grade moved, and not the claims alone.
    pub fn has_moved(&self) -> bool {
        self.overall.is_some() || !self.in_water.is_empty()
    }
}

/// A grade before and after; `None` where nobody had spoken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// Before.
    pub from: Option<Mark>,
    /// After.
    pub to: Option<Mark>,
}

/// What became of a claim.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// It is new.
    Came,
    /// It is there no more.
    Went,
    /// Its source says something else now.
    Changed,
}

impl What {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            What::Came => "came",
            What::Went => "went",
            What::Changed => "changed",
        }
    }
}

/// A claim that came, went or changed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct ClaimShift {
    /// Who says it.
    pub source: String,
    /// What became of it.
    pub what: What,
    /// Its stamp; of one that changed, that of the later edition.
    pub stamp: String,
}

/// What else than a claim can have moved a grade or turned a standing.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// The plant has other growth forms.
    Forms,
    /// A file of rules says something else.
    Rule(String),
    /// A source of the plant is of another kind or voice, repeats others, or means something else
    /// by a word.
    Source(String),
    /// The program that weighed was another.
    Program,
    /// None of these: a role or water that is gone, or an edition that was changed by hand.
    Unknown,
}

/// What moved from one edition to another; the guide says what each role asks about.
pub fn shifts(from: &Edition, to: &Edition, guide: &Guide) -> Shifts {
    let only_in = |these: &[String], those: &[String]| -> Vec<String> {
        these
            .iter()
            .filter(|id| !those.contains(id))
            .cloned()
            .collect()
    };
    // A kind of tank or pond that only one of them has turned nothing in the others.
    let is_shared = |file: &String| {
        !file.starts_with("waters/")
            || (from.rules.contains_key(file) && to.rules.contains_key(file))
    };
    let rules: Vec<String> = differing(&from.rules, &to.rules)
        .into_iter()
        .filter(is_shared)
        .collect();
    let sources: Vec<String> = differing(&from.sources, &to.sources)
        .into_iter()
        .filter(|id| from.sources.contains_key(id) && to.sources.contains_key(id))
        .collect();
    let made_with = (from.made_with != to.made_with).then(|| from.made_with.clone());
    let asked = asked(guide);
    let mut known: BTreeSet<&str> = BTreeSet::new();
    let mut plants: Vec<PlantShift> = Vec::new();
    for (slug, later) in &to.plants {
        let formerly = later.formerly.iter().map(String::as_str);
        let Some((old, earlier)) = from.plant(slug, formerly) else {
            plants.push(PlantShift::bare(slug, later, Whence::New));
            continue;
        };
        known.insert(old);
        let whence = if old == slug {
            Whence::Here
        } else {
            Whence::Renamed {
                slug: old.to_owned(),
                name: earlier.name.clone(),
            }
        };
        let mut shift = PlantShift::bare(slug, later, whence);
        compare(&mut shift, (from, earlier), (to, later), &asked);
        let is_unexplained = shift.turns.iter().any(|turn| turn.by.is_empty())
            || shift.traits.iter().any(|of| of.claims.is_empty());
        // A rule or a source that changed bears on a plant beside its claims, too.
        let of_plant = |id: &&String| {
            let mut traits = earlier.traits.values().chain(later.traits.values());
            traits.any(|graded| graded.claims.iter().any(|(source, _)| source == *id))
        };
        let mut causes: Vec<Cause> = Vec::new();
        causes.extend((earlier.forms != later.forms).then_some(Cause::Forms));
        causes.extend(rules.iter().cloned().map(Cause::Rule));
        causes.extend(sources.iter().filter(of_plant).cloned().map(Cause::Source));
        if is_unexplained {
            causes.extend(made_with.as_ref().map(|_| Cause::Program));
            if causes.is_empty() {
                causes.push(Cause::Unknown);
            }
        }
        if !shift.turns.is_empty() || !shift.traits.is_empty() {
            shift.causes = causes;
        }
        if shift.whence != Whence::Here || !shift.turns.is_empty() || !shift.traits.is_empty() {
            plants.push(shift);
        }
    }
    plants.extend(
        from.plants
            .iter()
            .filter(|(slug, _)| !known.contains(slug.as_str()))
            .map(|(slug, earlier)| PlantShift::bare(slug, earlier, Whence::Gone)),
    );
    plants.sort_by(|a, b| a.slug.cmp(&b.slug));
    Shifts {
        from: from.head.clone(),
        to: to.head.clone(),
        plants,
        rules,
        sources,
        made_with,
        new_roles: only_in(&to.roles, &from.roles),
        new_waters: only_in(&to.waters, &from.waters),
        gone_roles: only_in(&from.roles, &to.roles),
        gone_waters: only_in(&from.waters, &to.waters),
    }
}

impl PlantShift {
    fn bare(slug: &str, plant: &Recorded, whence: Whence) -> PlantShift {
        PlantShift {
            slug: slug.to_owned(),
            name: plant.name.clone(),
            whence,
            turns: Vec::new(),
            traits: Vec::new(),
            causes: Vec::new(),
        }
    }

    /// The claims that turned a standing.
    pub fn claims_of<'a>(
        &'a self,
        turn: &'a Turn,
    ) -> impl Iterator<Item = (&'a str, &'a ClaimShift)> {
        self.traits
            .iter()
            .filter(|of| turn.by.contains(&of.id))
            .flat_map(|of| of.claims.iter().map(|claim| (of.id.as_str(), claim)))
    }
}

/// By role, the traits that its clauses ask about, with those asked before every role.
fn asked(guide: &Guide) -> BTreeMap<&str, BTreeSet<&str>> {
    guide
        .roles
        .iter()
        .map(|role| {
            let clauses = guide
                .every_role
                .iter()
                .chain(&role.unsuited)
                .chain(&role.mainstay)
                .chain(&role.support);
            let traits = clauses
                .map(|clause| guide.traits[clause.trait_index].id.as_str())
                .collect();
            (role.id.as_str(), traits)
        })
        .collect()
}

fn compare(
    shift: &mut PlantShift,
    (from, earlier): (&Edition, &Recorded),
    (to, later): (&Edition, &Recorded),
    asked: &BTreeMap<&str, BTreeSet<&str>>,
) {
    let shared = |these: &'_ [String], those: &[String]| -> Vec<String> {
        these
            .iter()
            .filter(|id| those.contains(id))
            .cloned()
            .collect()
    };
    let waters = shared(&from.waters, &to.waters);
    let ids: BTreeSet<&String> = earlier.traits.keys().chain(later.traits.keys()).collect();
    let all: Vec<TraitShift> = ids
        .into_iter()
        .map(|id| trait_shift(id, earlier.traits.get(id), later.traits.get(id), &waters))
        .collect();
    for role in shared(&from.roles, &to.roles) {
        for water in &waters {
            let (before, after) = (earlier.standing(&role, water), later.standing(&role, water));
            if before == after {
                continue;
            }
            let is_asked = |id: &str| {
                asked
                    .get(role.as_str())
                    .is_none_or(|traits| traits.contains(id))
            };
            shift.turns.push(Turn {
                role: role.clone(),
                water: water.clone(),
                from: before,
                to: after,
                by: all
                    .iter()
                    .filter(|of| !of.claims.is_empty() && is_asked(&of.id))
                    .map(|of| of.id.clone())
                    .collect(),
            });
        }
    }
    shift.traits = all
        .into_iter()
        .filter(|of| of.has_moved() || shift.turns.iter().any(|turn| turn.by.contains(&of.id)))
        .collect();
}

fn trait_shift(
    id: &str,
    from: Option<&Graded>,
    to: Option<&Graded>,
    waters: &[String],
) -> TraitShift {
    let step = |from: Option<&Mark>, to: Option<&Mark>| {
        (from != to).then(|| Step {
            from: from.cloned(),
            to: to.cloned(),
        })
    };
    let overall = step(
        from.map(|graded| &graded.overall),
        to.map(|graded| &graded.overall),
    );
    let in_water = waters
        .iter()
        .filter_map(|water| {
            let here = step(
                from.map(|graded| graded.in_water(water)),
                to.map(|graded| graded.in_water(water)),
            );
            Some((water.clone(), here?))
        })
        .filter(|(_, here)| {
            overall
                .as_ref()
                .is_none_or(|overall| is_told_apart(overall, here))
        })
        .collect();
    let none = Vec::new();
    TraitShift {
        id: id.to_owned(),
        overall,
        in_water,
        claims: claim_shifts(
            from.map_or(&none, |graded| &graded.claims),
            to.map_or(&none, |graded| &graded.claims),
        ),
    }
}

/// Whether a step in a water says more than the step overall. Of a trait that somebody speaks of
/// for the first time, or nobody any more, only another level does.
fn is_told_apart(overall: &Step, here: &Step) -> bool {
    let level = |mark: &Option<Mark>| mark.as_ref().and_then(|mark| mark.level.clone());
    if overall.from.is_none() || overall.to.is_none() {
        return level(&overall.from) != level(&here.from) || level(&overall.to) != level(&here.to);
    }
    overall != here
}

/// What became of the claims on one trait. Where a source lost one and gained one, it changed.
fn claim_shifts(from: &[(String, String)], to: &[(String, String)]) -> Vec<ClaimShift> {
    let mut counts: BTreeMap<(&str, &str), i64> = BTreeMap::new();
    for (claims, sign) in [(from, -1), (to, 1)] {
        for (source, stamp) in claims {
            *counts.entry((source, stamp)).or_default() += sign;
        }
    }
    let mut by_source: BTreeMap<&str, (Vec<&str>, Vec<&str>)> = BTreeMap::new();
    for ((source, stamp), count) in counts {
        let (went, came) = by_source.entry(source).or_default();
        let list = if count < 0 { went } else { came };
        list.extend((0..count.unsigned_abs()).map(|_| stamp));
    }
    let mut out = Vec::new();
    for (source, (went, came)) in by_source {
        let changed = went.len().min(came.len());
        let mut add = |what: What, stamps: &[&str]| {
            out.extend(stamps.iter().map(|stamp| ClaimShift {
                source: source.to_owned(),
                what,
                stamp: (*stamp).to_owned(),
            }));
        };
        add(What::Changed, &came[..changed]);
        add(What::Came, &came[changed..]);
        add(What::Went, &went[changed..]);
    }
    out
}

/// Keys of two maps whose values differ, or that only one has.
fn differing(a: &BTreeMap<String, String>, b: &BTreeMap<String, String>) -> Vec<String> {
    let keys: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
    keys.into_iter()
        .filter(|key| a.get(*key) != b.get(*key))
        .cloned()
        .collect()
}

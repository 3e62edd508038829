//! What new claims move: levels, confidence, standings.

use crate::Weighed;
use crate::reconcile::Outcome;

/// One thing that moved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Move {
    /// The plant.
    pub plant: String,
    /// What moved: a trait, or a job in a water.
    pub of: String,
    /// What it was.
    pub from: String,
    /// What it is.
    pub to: String,
}

/// How a plant stands, in words: its traits, then its jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct State {
    plant: String,
    traits: Vec<(String, String)>,
    jobs: Vec<(String, String)>,
}

/// How a plant stands, by slug.
pub(crate) fn state(weighed: &Weighed, slug: &str) -> Option<State> {
    let plants = &weighed.names.plants;
    let at = plants.iter().position(|plant| plant.slug == slug)?;
    let guide = &weighed.guide;
    let traits = weighed.reconciled.plants[at].traits.keys();
    let mut jobs = Vec::new();
    for (water_at, water) in guide.waters.iter().enumerate() {
        for (role_at, role) in guide.roles.iter().enumerate() {
            let standing = weighed.standings.plants[at].standings[water_at][role_at].as_ref();
            if let Some(standing) = standing {
                let doubt = if standing.is_doubtful() {
                    ", in doubt"
                } else {
                    ""
                };
                jobs.push((
                    format!("{} in {}", role.title, water.title),
                    format!("{}{doubt}", standing.word.on_screen()),
                ));
            }
        }
    }
    Some(State {
        plant: plants[at].name.clone(),
        traits: traits
            .map(|index| {
                (
                    guide.traits[*index].title.clone(),
                    graded(weighed, at, *index),
                )
            })
            .collect(),
        jobs,
    })
}

/// What differs between two states of a plant.
pub(crate) fn moved(before: Option<&State>, after: &State) -> Vec<Move> {
    let rows = |was: Option<&[(String, String)]>, now: &[(String, String)], none: &str| {
        let was = was.unwrap_or_default();
        let moved = now.iter().filter_map(|(of, to)| {
            let from = was.iter().find(|(other, _)| other == of);
            let from = from.map_or(none, |(_, from)| from.as_str());
            (from != to).then(|| Move {
                plant: after.plant.clone(),
                of: of.clone(),
                from: from.to_owned(),
                to: to.clone(),
            })
        });
        let is_now = |of: &str| now.iter().any(|(other, _)| other == of);
        let gone = was.iter().filter(|(of, from)| !is_now(of) && from != none);
        let gone = gone.map(|(of, from)| Move {
            plant: after.plant.clone(),
            of: of.clone(),
            from: from.clone(),
            to: none.to_owned(),
        });
        moved.chain(gone).collect::<Vec<Move>>()
    };
    let traits = before.map(|before| before.traits.as_slice());
    let jobs = before.map(|before| before.jobs.as_slice());
    let mut out = rows(traits, &after.traits, "not known");
    out.extend(rows(jobs, &after.jobs, "no standing"));
    out
}

/// What differs between two weighings for some plants, by slug.
pub fn moves(before: &Weighed, after: &Weighed, plants: &[String]) -> Vec<Move> {
    let of_plant = |slug: &String| {
        let after = state(after, slug)?;
        Some(moved(state(before, slug).as_ref(), &after))
    };
    plants.iter().filter_map(of_plant).flatten().collect()
}

/// A trait's grade in few words.
fn graded(weighed: &Weighed, plant: usize, index: usize) -> String {
    let Some(of) = weighed.reconciled.plants[plant].traits.get(&index) else {
        return "not known".to_owned();
    };
    match &of.outcome {
        Outcome::Scale { grade, .. } => {
            let on = match &weighed.guide.traits[index].kind {
                crate::content::TraitKind::Scale(on) => Some(on.scale),
                crate::content::TraitKind::Span(_) => None,
            };
            let level = grade.level.zip(on).map(|(level, scale)| {
                weighed.guide.scales[scale].levels[level]
                    .id
                    .replace('-', " ")
            });
            let contested = if grade.is_contested {
                ", contested"
            } else {
                ""
            };
            match level {
                Some(level) => format!(
                    "{level} (confidence {}{contested})",
                    grade.confidence.word()
                ),
                None => "nothing weighed".to_owned(),
            }
        }
        Outcome::Span(span) => {
            let end = |end: Option<f64>| {
                end.map_or_else(|| "?".to_owned(), |end| crate::quantity::decimals(end, 1))
            };
            format!(
                "{} to {} (confidence {})",
                end(span.low),
                end(span.high),
                span.confidence.word()
            )
        }
    }
}

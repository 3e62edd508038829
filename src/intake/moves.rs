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

/// What differs between two weighings for some plants, by slug.
pub fn moves(before: &Weighed, after: &Weighed, plants: &[String]) -> Vec<Move> {
    let mut out = Vec::new();
    for slug in plants {
        let at = |weighed: &Weighed| {
            weighed
                .names
                .plants
                .iter()
                .position(|plant| plant.slug == *slug)
        };
        let Some(now) = at(after) else {
            continue;
        };
        let name = &after.names.plants[now].name;
        let mut push = |of: String, from: String, to: String| {
            if from != to {
                out.push(Move {
                    plant: name.clone(),
                    of,
                    from,
                    to,
                });
            }
        };
        let old = at(before);
        for index in after.reconciled.plants[now].traits.keys() {
            let old = old.map_or_else(|| "not known".to_owned(), |old| graded(before, old, *index));
            push(
                after.guide.traits[*index].title.clone(),
                old,
                graded(after, now, *index),
            );
        }
        for (water_at, water) in after.guide.waters.iter().enumerate() {
            for (role_at, role) in after.guide.roles.iter().enumerate() {
                let word = |weighed: &Weighed, plant: usize| {
                    weighed.standings.plants[plant].standings[water_at][role_at]
                        .as_ref()
                        .map(|standing| {
                            let doubt = if standing.is_doubtful() {
                                ", in doubt"
                            } else {
                                ""
                            };
                            format!("{}{doubt}", standing.word.on_screen())
                        })
                };
                let Some(to) = word(after, now) else {
                    continue;
                };
                let from = old.and_then(|old| word(before, old));
                push(
                    format!("{} in {}", role.title, water.title),
                    from.unwrap_or_else(|| "no standing".to_owned()),
                    to,
                );
            }
        }
    }
    out
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

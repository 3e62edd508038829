//! What the weighing got right: counts of each club, and shares with intervals over clubs.

use std::collections::BTreeMap;

use pondweigh::Weighed;
use pondweigh::reconcile::Outcome;
use pondweigh::roles::Word;
use serde_json::{Value as Json, json};

use crate::club::Club;
use crate::truth::{light_of, standing};

/// Words of confidence, lowest first.
pub(crate) const CONFIDENCE: [&str; 5] = ["very low", "low", "medium", "high", "very high"];

/// Roles in which results are told: one, and all together.
pub(crate) const UPTAKE: &str = "nutrient-uptake";

/// Counts of one club.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Tally {
    /// By trait and confidence: graded, exactly right, right within one level.
    pub(crate) levels: BTreeMap<(String, &'static str), [usize; 3]>,
    /// By role, stated and true standing.
    pub(crate) standings: BTreeMap<(String, Word, Word), usize>,
    /// Stated mainstays that are not in doubt, and how many of them are truly mainstays.
    pub(crate) undoubted: (usize, usize),
    /// Claims.
    pub(crate) claims: usize,
}

impl Tally {
    /// Compares what a club's guide says with the truth.
    pub(crate) fn of(club: &Club, weighed: &Weighed) -> Tally {
        let guide = &weighed.guide;
        let mut out = Tally {
            claims: club.claims(),
            ..Tally::default()
        };
        for (at, named) in weighed.names.plants.iter().enumerate() {
            let plant = club.plants.iter().find(|plant| plant.name == named.name);
            let plant = plant.expect("every plant of the guide is one of the club");
            let grades = &weighed.reconciled.plants[at];
            let mut count = |id: &str, grade: &pondweigh::reconcile::grade::Grade, truth: usize| {
                let Some(level) = grade.level else {
                    return;
                };
                let key = (id.to_owned(), grade.confidence.word());
                let row = out.levels.entry(key).or_default();
                row[0] += 1;
                row[1] += usize::from(level == truth);
                row[2] += usize::from(level.abs_diff(truth) <= 1);
            };
            for (trait_index, graded) in &grades.traits {
                let of = &guide.traits[*trait_index];
                let Outcome::Scale { grade, .. } = &graded.outcome else {
                    continue;
                };
                if of.depends_on.is_empty() {
                    // Without conditions the truth is one and the same in every water.
                    count(&of.id, grade, plant.levels(0)[of.id.as_str()]);
                    continue;
                }
                for (water, here) in guide.waters.iter().zip(&grades.in_water) {
                    let truth = plant.levels(light_of(guide, water))[of.id.as_str()];
                    count(&of.id, &here[trait_index], truth);
                }
            }
            for (water, roles) in guide
                .waters
                .iter()
                .zip(&weighed.standings.plants[at].standings)
            {
                for (role, stated) in guide.roles.iter().zip(roles) {
                    let truth = standing(plant, role, water, guide);
                    assert_eq!(stated.is_some(), truth.is_some(), "forms decide who stands");
                    let (Some(stated), Some(truth)) = (stated, truth) else {
                        continue;
                    };
                    let key = (role.id.clone(), stated.word, truth);
                    *out.standings.entry(key).or_default() += 1;
                    if stated.word == Word::Mainstay && !stated.is_in_doubt {
                        out.undoubted.0 += 1;
                        out.undoubted.1 += usize::from(truth == Word::Mainstay);
                    }
                }
            }
        }
        out
    }

    /// Grades of a trait at a confidence: how many, how many right.
    pub(crate) fn level(&self, id: &str, confidence: &str) -> (usize, usize) {
        self.levels
            .iter()
            .filter(|((of, word), _)| of == id && *word == confidence)
            .fold((0, 0), |sum, (_, row)| (sum.0 + row[0], sum.1 + row[1]))
    }

    /// The same, within one level.
    fn near(&self, id: &str, confidence: &str) -> (usize, usize) {
        self.levels
            .iter()
            .filter(|((of, word), _)| of == id && *word == confidence)
            .fold((0, 0), |sum, (_, row)| (sum.0 + row[0], sum.1 + row[2]))
    }

    /// Standings for which `counts` holds, and of these, those for which `is_hit` does.
    fn of_standings(
        &self,
        role: Option<&str>,
        counts: impl Fn(Word, Word) -> bool,
        is_hit: impl Fn(Word, Word) -> bool,
    ) -> (usize, usize) {
        let mut out = (0, 0);
        for ((of, stated, truth), n) in &self.standings {
            if role.is_none_or(|role| role == of) && counts(*stated, *truth) {
                out.0 += n;
                out.1 += if is_hit(*stated, *truth) { *n } else { 0 };
            }
        }
        out
    }

    /// Standings stated as this word, and how many truly are.
    pub(crate) fn stated(&self, role: Option<&str>, word: Word) -> (usize, usize) {
        self.of_standings(role, |stated, _| stated == word, |_, truth| truth == word)
    }

    /// True mainstays, and how many are stated so.
    pub(crate) fn found(&self, role: Option<&str>) -> (usize, usize) {
        self.of_standings(
            role,
            |_, truth| truth == Word::Mainstay,
            |stated, _| stated == Word::Mainstay,
        )
    }

    /// Standings, and how many are left open.
    pub(crate) fn open(&self, role: Option<&str>) -> (usize, usize) {
        self.of_standings(role, |_, _| true, |stated, _| stated == Word::Unproven)
    }
}

/// A share over clubs, with what the likeness within clubs does to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Share {
    pub(crate) n: usize,
    pub(crate) hits: usize,
    /// Variance of the share over that of as many independent draws; at least 1.
    pub(crate) design: f64,
}

impl Share {
    /// The ratio Σ hits / Σ n over clubs.
    ///
    /// Its variance is that of a ratio of two sums over clubs drawn at random, by linearisation:
    /// m/(m−1) · Σ (hits_i − p n_i)² / N². The design effect (Kish 1965, Survey Sampling; from
    /// memory) is that over p(1−p)/N. Plants of one club share sources and tanks, so it is above 1.
    pub(crate) fn over<'a>(
        clubs: impl IntoIterator<Item = &'a Tally>,
        counts: impl Fn(&Tally) -> (usize, usize),
    ) -> Share {
        let rows: Vec<(usize, usize)> = clubs.into_iter().map(counts).collect();
        let n: usize = rows.iter().map(|row| row.0).sum();
        let hits: usize = rows.iter().map(|row| row.1).sum();
        let p = hits as f64 / n as f64;
        let m = rows.len() as f64;
        let squares: f64 = rows
            .iter()
            .map(|(n, hits)| (*hits as f64 - p * *n as f64).powi(2))
            .sum();
        let design = m / (m - 1.0) * squares / (n as f64 * p * (1.0 - p));
        Share {
            n,
            hits,
            design: if design.is_finite() {
                design.max(1.0)
            } else {
                1.0
            },
        }
    }

    pub(crate) fn share(&self) -> f64 {
        self.hits as f64 / self.n as f64
    }

    /// Wilson's interval (Wilson 1927, J. Am. Stat. Assoc. 22: 209–212; from memory) with n cut
    /// by the design effect.
    pub(crate) fn interval(&self, z: f64) -> (f64, f64) {
        let (p, n) = (self.share(), self.n as f64 / self.design);
        let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
        let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
        ((middle - half).max(0.0), (middle + half).min(1.0))
    }

    /// As it is published; null where there is none.
    pub(crate) fn json(&self) -> Json {
        if self.n == 0 {
            return Json::Null;
        }
        let (low, high) = self.interval(Z_95);
        json!({
            "n": self.n,
            "right": self.hits,
            "share": rounded(self.share()),
            "low": rounded(low),
            "high": rounded(high),
            "design": rounded(self.design),
        })
    }
}

/// Normal quantile of a two-sided 95 % interval.
pub(crate) const Z_95: f64 = 1.959_964;

fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

/// Results of one set, as published.
pub(crate) fn results(clubs: &[Tally]) -> Json {
    let rows = |id: &str| -> Json {
        let rows: Vec<Json> = CONFIDENCE
            .iter()
            .map(|word| {
                json!({
                    "confidence": word,
                    "right": Share::over(clubs, |club| club.level(id, word)).json(),
                    "within_one": Share::over(clubs, |club| club.near(id, word)).json(),
                })
            })
            .collect();
        json!(rows)
    };
    let traits: BTreeMap<&str, Json> =
        ["growth", "light-need", "survival", "feeding", "root-reach"]
            .into_iter()
            .map(|id| (id, rows(id)))
            .collect();
    let claims: usize = clubs.iter().map(|club| club.claims).sum();
    json!({
        "clubs": clubs.len(),
        "claims": (claims as f64 / clubs.len() as f64).round(),
        "traits": traits,
        "standings": { "all": standings(clubs, None), UPTAKE: standings(clubs, Some(UPTAKE)) },
    })
}

fn standings(clubs: &[Tally], role: Option<&str>) -> Json {
    let stated: BTreeMap<&str, Json> = Word::ALL
        .into_iter()
        .filter(|word| *word != Word::Unproven)
        .map(|word| {
            let mut truly: BTreeMap<&str, usize> = BTreeMap::new();
            for club in clubs {
                for ((of, stated, truth), n) in &club.standings {
                    if *stated == word && role.is_none_or(|role| role == of) {
                        *truly.entry(truth.id()).or_default() += n;
                    }
                }
            }
            let share = Share::over(clubs, |club| club.stated(role, word));
            (word.id(), json!({ "right": share.json(), "truly": truly }))
        })
        .collect();
    json!({
        "stated": stated,
        "open": Share::over(clubs, |club| club.open(role)).json(),
        "found": Share::over(clubs, |club| club.found(role)).json(),
    })
}

/// What other policy numbers would give, as published.
pub(crate) fn price(weights: &str, clubs: &[Tally]) -> Json {
    let of = |role: Option<&str>| {
        json!({
            "right": Share::over(clubs, |club| club.stated(role, Word::Mainstay)).json(),
            "found": Share::over(clubs, |club| club.found(role)).json(),
            "open": Share::over(clubs, |club| club.open(role)).json(),
        })
    };
    json!({
        "weights": weights,
        "undoubted": Share::over(clubs, |club| club.undoubted).json(),
        "all": of(None),
        UPTAKE: of(Some(UPTAKE)),
    })
}

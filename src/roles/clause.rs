//! One clause: the levels it asks for, who speaks to it, and whether it is met (§8).

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use statrs::function::beta::beta_reg;

use crate::claims::mass::REACHED;
use crate::claims::{Claims, Value};
use crate::content::{Bound, Clause, ConditionValue, Guide, Limit, TraitKind, Weights};
use crate::names::PlantId;
use crate::reconcile::mass_of;
use crate::reconcile::voice::{Kinds, Loose, Voice, Voices, counted, gathered, heard};
use crate::roles::Word;

/// The list a clause stands in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum List {
    /// Rules a plant out.
    Unsuited,
    /// Makes a mainstay.
    Mainstay,
    /// Makes a support.
    Support,
}

impl List {
    /// The word of the data.
    pub fn id(self) -> &'static str {
        match self {
            List::Unsuited => "unsuited",
            List::Mainstay => "mainstay",
            List::Support => "support",
        }
    }
}

/// What became of a clause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// P reached the upper threshold.
    Met,
    /// P fell to the lower threshold.
    Failed,
    /// Neither.
    Open,
    /// The clause is limited to other plants or waters.
    Skipped,
}

impl Answer {
    /// The word of the data.
    pub fn id(self) -> &'static str {
        match self {
            Answer::Met => "met",
            Answer::Failed => "failed",
            Answer::Open => "open",
            Answer::Skipped => "skipped",
        }
    }
}

/// A clause with its answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// Its list.
    pub list: List,
    /// Its trait.
    pub trait_index: usize,
    /// What it asks, in words.
    pub text: String,
    /// The club's reason.
    pub because: Option<String>,
    /// The answer.
    pub answer: Answer,
    /// P; `None` where skipped.
    pub probability: Option<f64>,
}

/// Voices by trait, water and whether all kinds weigh the same, gathered once.
type Gathered = BTreeMap<(usize, usize, bool), Rc<Vec<Voice>>>;

/// The claims on one plant, ready to be asked.
pub(crate) struct Bench<'a> {
    guide: &'a Guide,
    claims: &'a Claims,
    voices: &'a Voices,
    of_plant: &'a BTreeMap<usize, Vec<usize>>,
    gathered: RefCell<Gathered>,
}

/// A clause with the voices that speak to it.
pub(crate) struct Asked {
    pub(crate) trait_index: usize,
    list: List,
    text: String,
    because: Option<String>,
    is_skipped: bool,
    /// Levels asked for; `None` for spans.
    set: Option<Vec<bool>>,
    /// Voices before the second-hand factor; their mean is the one number "mass in the set".
    spoken: Vec<Voice>,
}

impl<'a> Bench<'a> {
    pub(crate) fn of(
        plant: PlantId,
        guide: &'a Guide,
        claims: &'a Claims,
        voices: &'a Voices,
    ) -> Bench<'a> {
        Bench {
            guide,
            claims,
            voices,
            of_plant: &claims.of_plant[plant],
            gathered: RefCell::new(BTreeMap::new()),
        }
    }

    pub(crate) fn ask(
        &self,
        list: List,
        clause: &Clause,
        water: usize,
        forms: &[String],
        kinds: Kinds,
    ) -> Asked {
        let conditions = &self.guide.waters[water].conditions;
        let mut asked = Asked {
            trait_index: clause.trait_index,
            list,
            text: asks(clause, self.guide),
            because: clause.because.clone(),
            is_skipped: true,
            set: None,
            spoken: Vec::new(),
        };
        if !applies(clause, conditions, forms) {
            return asked;
        }
        let spoken = match (&self.guide.traits[clause.trait_index].kind, &clause.bound) {
            (TraitKind::Span(_), Bound::Covers(condition) | Bound::Outside(condition)) => {
                let Some(ConditionValue::Span { low, high }) = conditions.get(condition) else {
                    return asked;
                };
                let is_covers = matches!(clause.bound, Bound::Covers(_));
                self.spoken_on_span(clause.trait_index, water, kinds, (*low, *high), is_covers)
            }
            (TraitKind::Scale(on), bound) => {
                let Some(set) = levels(bound, on.levels, conditions) else {
                    return asked;
                };
                let whole = self.spoken_on_scale(clause.trait_index, water, kinds);
                let spoken = whole
                    .iter()
                    .map(|voice| Voice {
                        mean: if voice.mean.is_empty() {
                            Vec::new()
                        } else {
                            vec![
                                voice
                                    .mean
                                    .iter()
                                    .zip(&set)
                                    .filter(|(_, is_in)| **is_in)
                                    .map(|(m, _)| m)
                                    .sum(),
                            ]
                        },
                        ..voice.clone()
                    })
                    .collect();
                asked.set = Some(set);
                spoken
            }
            _ => return asked,
        };
        asked.spoken = spoken;
        asked.is_skipped = false;
        asked
    }

    fn spoken_on_scale(&self, trait_index: usize, water: usize, kinds: Kinds) -> Rc<Vec<Voice>> {
        let key = (trait_index, water, kinds == Kinds::Equal);
        if let Some(found) = self.gathered.borrow().get(&key) {
            return Rc::clone(found);
        }
        let voices = Rc::new(self.gather(trait_index, water, kinds, &mass_of));
        self.gathered.borrow_mut().insert(key, Rc::clone(&voices));
        voices
    }

    fn spoken_on_span(
        &self,
        trait_index: usize,
        water: usize,
        kinds: Kinds,
        (water_low, water_high): (f64, f64),
        is_covers: bool,
    ) -> Vec<Voice> {
        self.gather(trait_index, water, kinds, &|claim| {
            let Value::Span { low, high } = claim.value else {
                return vec![0.0];
            };
            let contains = low <= water_low + REACHED && water_high <= high + REACHED;
            vec![f64::from(u8::from(contains == is_covers))]
        })
    }

    fn gather(
        &self,
        trait_index: usize,
        water: usize,
        kinds: Kinds,
        says: &dyn Fn(&crate::claims::Claim) -> Vec<f64>,
    ) -> Vec<Voice> {
        let Some(ids) = self.of_plant.get(&trait_index) else {
            return Vec::new();
        };
        let heard = heard(ids, self.claims, self.voices, Loose::Heard);
        gathered(
            &heard,
            &self.guide.traits[trait_index],
            &self.guide.weights,
            kinds,
            Some(&self.guide.waters[water].conditions),
            says,
        )
    }
}

impl Asked {
    /// The voices that speak to the clause.
    pub(crate) fn voices(&self) -> impl Iterator<Item = usize> {
        self.spoken.iter().map(|voice| voice.id)
    }

    /// What it comes to.
    pub(crate) fn verdict(&self, policy: &Weights) -> Verdict {
        let (answer, probability) = self.answer(policy, None);
        Verdict {
            list: self.list,
            trait_index: self.trait_index,
            text: self.text.clone(),
            because: self.because.clone(),
            answer,
            probability,
        }
    }

    /// The list it stands in.
    pub(crate) fn list(&self) -> List {
        self.list
    }

    /// The answer, with one voice left out.
    pub(crate) fn answer(&self, policy: &Weights, without: Option<usize>) -> (Answer, Option<f64>) {
        if self.is_skipped {
            return (Answer::Skipped, None);
        }
        self.answer_to(policy, self.sums(policy, without))
    }

    /// The answer if so many further voices named a level; `sums` are those of the voices there.
    pub(crate) fn answer_with(
        &self,
        policy: &Weights,
        (mut weight, mut inside): (f64, f64),
        level: usize,
        notes: usize,
    ) -> Answer {
        if let Some(set) = &self.set {
            let more = notes as f64 * policy.further_note;
            weight += more;
            if set[level] {
                inside += more;
            }
        }
        self.answer_to(policy, (weight, inside)).0
    }

    /// Whether further voices on a level of this trait bear on it.
    pub(crate) fn is_open_to(&self, trait_index: usize) -> bool {
        !self.is_skipped && self.trait_index == trait_index && self.set.is_some()
    }

    /// The weight of its voices, and how much of it lies in the set.
    pub(crate) fn sums(&self, policy: &Weights, without: Option<usize>) -> (f64, f64) {
        let voices = counted(&self.spoken, policy, without);
        let weight: f64 = voices.iter().map(|voice| voice.weight).sum();
        let inside: f64 = voices
            .iter()
            .map(|voice| voice.weight * voice.mean[0])
            .sum();
        (weight, inside)
    }

    fn answer_to(&self, policy: &Weights, (weight, inside): (f64, f64)) -> (Answer, Option<f64>) {
        match self.fixed() {
            Some(Answer::Failed) => return (Answer::Failed, Some(0.0)),
            Some(fixed) => return (fixed, Some(1.0)),
            None => {}
        }
        let p = decision_score(inside, weight);
        let answer = if p >= policy.met - REACHED {
            Answer::Met
        } else if p <= policy.failed + REACHED {
            Answer::Failed
        } else {
            Answer::Open
        };
        (answer, Some(p))
    }

    /// An empty set of levels is failed, the whole scale met, whatever is said.
    fn fixed(&self) -> Option<Answer> {
        let set = self.set.as_ref()?;
        if set.iter().all(|is_in| !is_in) {
            Some(Answer::Failed)
        } else if set.iter().all(|is_in| *is_in) {
            Some(Answer::Met)
        } else {
            None
        }
    }
}

/// P = Pr(θ > ½) for θ ~ Beta(½ + t, ½ + W − t): how sure the clause is, on the scale of a
/// probability.
///
/// `inside` is t, the weight of what lies in the set, `weight` is W ≥ t ≥ 0. ½ where W = 0.
///
/// Source: the Jeffreys posterior of a proportion, Brown, Cai & DasGupta 2001, Stat. Sci.
/// 16:101–133, not opened, with weights in place of counts, which is our choice; Beta tails
/// checked against tests/reference/statistics.json (`prim.beta-sf`, `dirichlet.*`).
pub fn decision_score(inside: f64, weight: f64) -> f64 {
    let inside = inside.clamp(0.0, weight);
    // Pr(θ > ½) = I_½(½ + W − t, ½ + t).
    beta_reg(0.5 + weight - inside, 0.5 + inside, 0.5)
}

/// The levels a bound asks for; `None` where it names a condition the water does not state.
fn levels(
    bound: &Bound,
    count: usize,
    water: &BTreeMap<usize, ConditionValue>,
) -> Option<Vec<bool>> {
    let at = |limit: &Limit| -> Option<usize> {
        match limit {
            Limit::Level(level) => Some(*level),
            Limit::Water(condition) => match water.get(condition)? {
                ConditionValue::Level(level) => Some(*level),
                _ => None,
            },
        }
    };
    let all = 0..count;
    Some(match bound {
        Bound::AtLeast(limit) => {
            let limit = at(limit)?;
            all.map(|level| level >= limit).collect()
        }
        Bound::AtMost(limit) => {
            let limit = at(limit)?;
            all.map(|level| level <= limit).collect()
        }
        Bound::Above(limit) => {
            let limit = at(limit)?;
            all.map(|level| level > limit).collect()
        }
        Bound::Below(limit) => {
            let limit = at(limit)?;
            all.map(|level| level < limit).collect()
        }
        Bound::Covers(_) | Bound::Outside(_) => return None,
    })
}

/// Whether a clause is limited to other plants or waters.
fn applies(clause: &Clause, water: &BTreeMap<usize, ConditionValue>, forms: &[String]) -> bool {
    let fits_form = match &clause.forms {
        None => true,
        Some(allowed) => forms.iter().any(|form| allowed.contains(form)),
    };
    fits_form
        && clause.when.iter().all(|(condition, values)| {
            water
                .get(condition)
                .is_some_and(|states| values.iter().any(|value| same(value, states)))
        })
}

fn same(a: &ConditionValue, b: &ConditionValue) -> bool {
    match (a, b) {
        (ConditionValue::Level(a), ConditionValue::Level(b)) => a == b,
        (ConditionValue::Word(a), ConditionValue::Word(b)) => a.to_lowercase() == b.to_lowercase(),
        (
            ConditionValue::Span {
                low: a_low,
                high: a_high,
            },
            ConditionValue::Span {
                low: b_low,
                high: b_high,
            },
        ) => *a_low <= b_high + REACHED && *b_low <= a_high + REACHED,
        _ => false,
    }
}

/// What a clause asks, in words.
pub fn asks(clause: &Clause, guide: &Guide) -> String {
    let of = &guide.traits[clause.trait_index];
    let title = of.title.to_lowercase();
    let limit = |limit: &Limit| match limit {
        Limit::Water(condition) => format!(
            "the water’s {}",
            guide.conditions[*condition].title.to_lowercase()
        ),
        Limit::Level(level) => match &of.kind {
            TraitKind::Scale(on) => guide.scales[on.scale].levels[*level].id.replace('-', " "),
            TraitKind::Span(_) => String::new(),
        },
    };
    let condition = |index: usize| guide.conditions[index].title.to_lowercase();
    match &clause.bound {
        Bound::AtLeast(l) => format!("{title} at least {}", limit(l)),
        Bound::AtMost(l) => format!("{title} at most {}", limit(l)),
        Bound::Above(l) => format!("{title} above {}", limit(l)),
        Bound::Below(l) => format!("{title} below {}", limit(l)),
        Bound::Covers(c) => format!("{title} covers the water’s {}", condition(*c)),
        Bound::Outside(c) => format!("{title} does not cover the water’s {}", condition(*c)),
    }
}

/// The standing that a set of answers makes (§9).
pub(crate) fn standing_of(answers: &[(List, Answer)]) -> Word {
    let of = |list: List| {
        let answers = answers.iter().filter(move |(of, _)| *of == list);
        answers.map(|(_, answer)| *answer)
    };
    let has = |list: List, answer: Answer| of(list).any(|found| found == answer);
    let is_earned = |list: List| {
        has(list, Answer::Met) && !has(list, Answer::Open) && !has(list, Answer::Failed)
    };
    let is_lost = |list: List| of(list).next().is_none() || has(list, Answer::Failed);
    if has(List::Unsuited, Answer::Met) {
        Word::Unsuited
    } else if is_earned(List::Mainstay) {
        Word::Mainstay
    } else if is_earned(List::Support) {
        Word::Support
    } else if is_lost(List::Mainstay) && is_lost(List::Support) {
        Word::Bystander
    } else {
        Word::Unproven
    }
}

//! Generated sentences: the reasons of grades and standings in plain words.
//!
//! The words are templates in `sentences/`; only facts are put together here.

use minijinja::{Environment, UndefinedBehavior, context};

use crate::claims::{Fate, shown_unit, unit_of};
use crate::content::{Guide, Measure, ScaleTrait, TraitKind};
use crate::diagnostic::counted;
use crate::names::PlantId;
use crate::quantity::{days_in_words, decimals, percent, significant};
use crate::reconcile::grade::{Agreement, Confidence, Grade};
use crate::reconcile::pool::Pooled;
use crate::reconcile::{Factor, Group, Outcome, Reconciled};
use crate::roles::{Answer, List, Standing, Verdict, Word};

const TEMPLATES: &[(&str, &str)] = &[
    ("standing", include_str!("sentences/standing.txt")),
    ("grade", include_str!("sentences/grade.txt")),
    ("sturdy", include_str!("sentences/sturdy.txt")),
    ("change", include_str!("sentences/change.txt")),
    ("goes_with", include_str!("sentences/goes_with.txt")),
    ("loose", include_str!("sentences/loose.txt")),
    ("measured", include_str!("sentences/measured.txt")),
    ("silent", include_str!("sentences/silent.txt")),
    ("span", include_str!("sentences/span.txt")),
    ("thin", include_str!("sentences/thin.txt")),
    ("practice", include_str!("sentences/practice.txt")),
];

/// How a trait of a plant stands in a water, in a sentence.
struct Said {
    sentence: String,
    /// Whether a voice counts there.
    is_heard: bool,
}

/// The sentences of the program.
pub(crate) struct Sentences {
    environment: Environment<'static>,
}

impl Default for Sentences {
    fn default() -> Sentences {
        Sentences::new()
    }
}

/// A level's name in a sentence.
pub(crate) fn spoken(level: &str) -> String {
    level.replace('-', " ")
}

/// A title within a sentence: its first letter small, unless it starts an abbreviation.
pub(crate) fn within(title: &str) -> String {
    let mut letters = title.chars();
    let Some(first) = letters.next() else {
        return String::new();
    };
    let is_word = letters
        .clone()
        .next()
        .is_none_or(|second| second.is_lowercase() || second == ' ' || second == '-');
    if is_word {
        first.to_lowercase().chain(letters).collect()
    } else {
        title.to_owned()
    }
}

/// The unit of a trait's own values, with the blank before it: that of its first edge, but for
/// growth, temperatures and hardness, which have one of their own.
pub(crate) fn unit_on(on: &ScaleTrait) -> String {
    match (on.measure, on.unit) {
        (Some(Measure::Length | Measure::Mass), Some(unit)) => format!(" {}", shown_unit(&unit)),
        (Some(measure), _) => unit_of(measure).to_owned(),
        (None, _) => String::new(),
    }
}

/// A standing with its article.
pub(crate) fn with_article(word: Word) -> String {
    match word {
        Word::Unproven | Word::Unsuited => word.on_screen().to_owned(),
        other => format!("a {}", other.on_screen()),
    }
}

impl Sentences {
    /// Reads the templates; a broken one is a fault of the program and leaves its sentence empty,
    /// which a test would see.
    pub(crate) fn new() -> Sentences {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_fuel(Some(50_000));
        for (name, source) in TEMPLATES {
            let added = environment.add_template(name, source);
            debug_assert!(added.is_ok(), "{name}: {added:?}");
        }
        Sentences { environment }
    }

    fn say(&self, name: &str, facts: minijinja::Value) -> String {
        let rendered = self
            .environment
            .get_template(name)
            .and_then(|template| template.render(facts));
        debug_assert!(rendered.is_ok(), "{name}: {rendered:?}");
        rendered.unwrap_or_default().trim().to_owned()
    }

    /// A trait's grade; `here` stands after the level, such as " here" in a water.
    pub(crate) fn grade(
        &self,
        guide: &Guide,
        trait_index: usize,
        grade: Option<&Grade>,
        here: &str,
    ) -> String {
        let of = &guide.traits[trait_index];
        let level = grade.and_then(|grade| level_word(guide, trait_index, grade.level?));
        let (confidence, voices, agreement) = grade.map_or((Confidence::VeryLow, 0, ""), |grade| {
            let agreement = agreement_words(grade.voices, grade.agreement, grade.is_contested);
            (grade.confidence, grade.voices, agreement)
        });
        self.say(
            "grade",
            context! {
                title => of.title.clone(),
                trait => within(&of.title),
                level => level,
                here => here,
                confidence => confidence.word(),
                voices => voices_words(voices),
                agreement => agreement,
            },
        )
    }

    fn said_of(
        &self,
        guide: &Guide,
        reconciled: &Reconciled,
        plant: PlantId,
        water: usize,
        trait_index: usize,
    ) -> Said {
        let grades = &reconciled.plants[plant];
        let graded = grades.traits.get(&trait_index);
        let here = grades.in_water[water].get(&trait_index);
        if let Some(grade) = here.filter(|grade| grade.voices > 0) {
            return Said {
                sentence: self.grade(guide, trait_index, Some(grade), " here"),
                is_heard: true,
            };
        }
        let of = &guide.traits[trait_index];
        if let (TraitKind::Span(measure), Some(Outcome::Span(span))) =
            (&of.kind, graded.map(|graded| &graded.outcome))
            && let (Some(low), Some(high)) = (span.low, span.high)
        {
            let facts = context! {
                title => of.title.clone(),
                low => decimals(low, 1),
                high => decimals(high, 1),
                unit => unit_of(*measure),
                confidence => span.confidence.word(),
                voices => voices_words(span.voices),
                agreement => agreement_words(span.voices, span.agreement, false),
            };
            return Said {
                sentence: self.say("span", facts),
                is_heard: true,
            };
        }
        let is_reported = graded.is_some_and(|graded| !graded.claims.is_empty());
        Said {
            sentence: self.say(
                "silent",
                context! { trait => within(&of.title), reported => is_reported },
            ),
            is_heard: false,
        }
    }

    /// How a plant stands in a role in a water, with the reasons.
    pub(crate) fn standing(
        &self,
        guide: &Guide,
        reconciled: &Reconciled,
        standing: &Standing,
        plant: PlantId,
        water: usize,
        role: usize,
    ) -> String {
        let reasons = self.reasons(guide, reconciled, standing, plant, water);
        let doubt = standing
            .clauses
            .iter()
            .find(|verdict| standing.is_doubtful() && is_doubtful(verdict))
            .map(|verdict| verdict.text.clone());
        // The clauses of every role are asked first.
        let is_any_job = standing
            .clauses
            .iter()
            .take(guide.every_role.len())
            .any(|verdict| verdict.answer == Answer::Met);
        self.say(
            "standing",
            context! {
                word => standing.word.id(),
                water => guide.waters[water].title.clone(),
                role => within(&guide.roles[role].title),
                any_job => is_any_job,
                reasons => reasons,
                doubt => doubt,
            },
        )
    }

    /// The clauses that decide a standing, each with the grade behind it.
    fn reasons(
        &self,
        guide: &Guide,
        reconciled: &Reconciled,
        standing: &Standing,
        plant: PlantId,
        water: usize,
    ) -> Vec<String> {
        let pick = |is_wanted: &dyn Fn(&Verdict) -> bool| -> Vec<&Verdict> {
            standing.clauses.iter().filter(|v| is_wanted(v)).collect()
        };
        let of = |list: List, answer: Answer| pick(&|v| v.list == list && v.answer == answer);
        let asked = |answer: Answer| pick(&|v| v.list != List::Unsuited && v.answer == answer);
        let (decisive, missed, open) = match standing.word {
            Word::Unsuited => (of(List::Unsuited, Answer::Met), Vec::new(), Vec::new()),
            Word::Mainstay => (of(List::Mainstay, Answer::Met), Vec::new(), Vec::new()),
            Word::Support => (
                of(List::Support, Answer::Met),
                of(List::Mainstay, Answer::Failed),
                of(List::Mainstay, Answer::Open),
            ),
            Word::Bystander => (asked(Answer::Failed), Vec::new(), Vec::new()),
            Word::Unproven => (asked(Answer::Failed), Vec::new(), asked(Answer::Open)),
        };
        let mut out: Vec<String> = Vec::new();
        let mut told: Vec<usize> = Vec::new();
        let mut tell = |verdict: &Verdict, out: &mut Vec<String>| -> bool {
            let said = self.said_of(guide, reconciled, plant, water, verdict.trait_index);
            if !told.contains(&verdict.trait_index) {
                told.push(verdict.trait_index);
                out.push(if said.is_heard || verdict.answer == Answer::Open {
                    said.sentence
                } else {
                    // Nobody is heard, and yet it is decided: whatever were said would do.
                    fixed(verdict)
                });
            }
            said.is_heard
        };
        for verdict in &decisive {
            tell(verdict, &mut out);
            // A reason is written for a clause that is met; on one that failed it would say the
            // opposite of what is so.
            if verdict.answer == Answer::Met
                && let Some(because) = &verdict.because
            {
                let because = because.trim().to_owned();
                if !out.contains(&because) {
                    out.push(because);
                }
            }
        }
        for verdict in missed {
            out.push(format!("A mainstay would need {}.", verdict.text));
            tell(verdict, &mut out);
        }
        let mut unsettled: Vec<&str> = Vec::new();
        for verdict in &open {
            if tell(verdict, &mut out) && !unsettled.contains(&verdict.text.as_str()) {
                unsettled.push(&verdict.text);
            }
        }
        if !unsettled.is_empty() {
            out.push(format!(
                "The reports do not settle this: {}.",
                unsettled.join("; ")
            ));
        }
        if standing.is_doubtful()
            && let Some(verdict) = standing.clauses.iter().find(|v| is_doubtful(v))
        {
            tell(verdict, &mut out);
        }
        if standing.word == Word::Unproven && decisive.is_empty() && open.is_empty() {
            out.push("Nothing that this job asks can be asked here.".to_owned());
        }
        out
    }

    /// How sturdy a standing is.
    pub(crate) fn sturdy(
        &self,
        guide: &Guide,
        reconciled: &Reconciled,
        standing: &Standing,
    ) -> String {
        let names: Vec<String> = standing
            .rests_on
            .iter()
            .map(|voice| voice_name(guide, reconciled, *voice))
            .collect();
        self.say(
            "sturdy",
            context! { names => names, equal => standing.is_equal_kinds },
        )
    }

    /// What would change a standing, one sentence each.
    pub(crate) fn changes(&self, guide: &Guide, standing: &Standing) -> Vec<String> {
        standing
            .changes
            .iter()
            .map(|change| {
                self.say(
                    "change",
                    context! {
                        notes => counted(change.notes, "more note", "more notes"),
                        level => level_word(guide, change.trait_index, change.level),
                        trait => within(&guide.traits[change.trait_index].title),
                        to => with_article(change.to),
                        unsettled => change.to == Word::Unproven,
                    },
                )
            })
            .collect()
    }

    /// What a difference goes with; `None` where nothing could be tried.
    pub(crate) fn goes_with(
        &self,
        guide: &Guide,
        factors: &[Factor],
        voices: usize,
    ) -> Option<String> {
        if factors.is_empty() {
            return None;
        }
        let title = |factor: &Factor| match factor.id.as_str() {
            "name" => "whether the full name was used".to_owned(),
            "kind" => "the kind of source".to_owned(),
            id => guide
                .conditions
                .iter()
                .find(|condition| condition.id == id)
                .map_or_else(
                    || id.to_owned(),
                    |condition| format!("the {}", within(&condition.title)),
                ),
        };
        let notable: Vec<String> = factors
            .iter()
            .filter(|factor| factor.share.is_notable())
            .map(|factor| {
                format!(
                    "{} ({} of it, p {})",
                    title(factor),
                    percent(factor.share.share),
                    significant(factor.share.p.unwrap_or(1.0), 2)
                )
            })
            .collect();
        let groups = |factor: &Factor| -> Vec<Vec<usize>> {
            let mut groups: Vec<Vec<usize>> = factor
                .groups
                .iter()
                .map(|(_, voices)| voices.clone())
                .collect();
            groups.sort();
            groups
        };
        // Circumstances that group the voices alike cannot be told apart.
        let mut alike: Vec<(Vec<Vec<usize>>, Vec<String>)> = Vec::new();
        for factor in factors {
            let own = groups(factor);
            match alike.iter_mut().find(|(other, _)| *other == own) {
                Some((_, titles)) => titles.push(title(factor)),
                None => alike.push((own, vec![title(factor)])),
            }
        }
        let together: Vec<String> = alike
            .iter()
            .filter(|(_, titles)| titles.len() > 1)
            .map(|(_, titles)| capital(&listed(titles)))
            .collect();
        Some(self.say(
            "goes_with",
            context! {
                notable => listed(&notable),
                many => factors.len() > 1,
                tried => counted(factors.len(), "circumstance", "circumstances"),
                voices => counted(voices, "voice", "voices"),
                together => together,
            },
        ))
    }

    /// How often to thin a plant of a level of growth, from the doubling times at the level's
    /// edges; `None` on a trait that has none.
    ///
    /// Halving undoes a doubling, so it is cut back by half about as often as it doubles. Doubling
    /// times are T = ln 2 / r, with r the edges in d⁻¹; the fastest level is open towards zero, the
    /// slowest towards no growth at all.
    pub(crate) fn thin(&self, on: &ScaleTrait, level: usize) -> Option<String> {
        if on.measure != Some(Measure::RelativeGrowthRate) || on.edges.is_empty() {
            return None;
        }
        let days =
            |edge: Option<&f64>| edge.map(|rate| days_in_words(std::f64::consts::LN_2 / rate));
        let slowest = days(level.checked_sub(1).and_then(|below| on.edges.get(below)));
        let quickest = days(on.edges.get(level));
        let facts = context! {
            quickest => quickest.map(|quickest| match &slowest {
                Some(slowest) => without_unit_of(&quickest, slowest),
                None => quickest,
            }),
            slowest => slowest,
        };
        Some(self.say("thin", facts))
    }

    /// Rules of thumb of the trade, one sentence each: `amount` (how much to plant) or `test`;
    /// `mark` is what is to stand beside them.
    pub(crate) fn practice(&self, about: &str) -> Vec<String> {
        self.say("practice", context! { about => about })
            .lines()
            .map(str::to_owned)
            .collect()
    }

    /// What a loose name hides on a trait.
    pub(crate) fn loose(&self, guide: &Guide, trait_index: usize, group: &Group) -> String {
        let levels = || group.levels.values().map(|(level, _, _)| *level);
        let word =
            |level: Option<usize>| level.and_then(|level| level_word(guide, trait_index, level));
        let share = group.share.filter(|share| share.share > 0.0);
        self.say(
            "loose",
            context! {
                misleading => group.is_misleading,
                trait => within(&guide.traits[trait_index].title),
                low => word(levels().min()),
                high => word(levels().max()),
                plants => group.levels.len(),
                share => share.map(|share| percent(share.share)),
                p => share.and_then(|share| share.p).map(|p| significant(p, 2)),
            },
        )
    }

    /// Pooled measurements of one size measure; `unit` has the blank before it.
    pub(crate) fn measured(&self, key: &str, pooled: &Pooled, unit: &str) -> String {
        let shown = |value: f64| format!("{}{unit}", significant(value, 2));
        let pair = |(low, high): (f64, f64)| format!("{} to {}", significant(low, 2), shown(high));
        let doubling = pooled.doubling_days.map_or_else(String::new, |days| {
            format!(", doubling in {}", days_in_words(days))
        });
        let values: Vec<String> = pooled.values.iter().map(|(_, y, _)| shown(*y)).collect();
        self.say(
            "measured",
            context! {
                k => pooled.k,
                by => match key {
                    "value" => String::new(),
                    "unstated" => " by an unstated size".to_owned(),
                    key => format!(" by {key}"),
                },
                estimate => shown(pooled.estimate),
                doubling => doubling,
                values => values,
                ci => pair(pooled.ci),
                prediction => pooled.prediction.map(pair),
            },
        )
    }
}

/// A value without its unit, where the other that stands behind it has the same: `7` of `7 days`
/// before `21 days`.
fn without_unit_of(value: &str, other: &str) -> String {
    match (value.split_once(' '), other.split_once(' ')) {
        (Some((number, unit)), Some((_, same))) if unit == same => number.to_owned(),
        _ => value.to_owned(),
    }
}

/// Why a claim is shown and not weighed; `None` for one that is weighed.
pub(crate) fn unweighed(fate: &Fate) -> Option<String> {
    match fate {
        Fate::Weighed => None,
        Fate::SetAside(reason) => Some(format!("Set aside: {reason}")),
        Fate::Settling => Some("The plant was still settling in.".to_owned()),
        Fate::Akin => {
            Some("Said of a plant that is near this one, but held to be another.".to_owned())
        }
    }
}

/// A level's name in a sentence; `None` for a trait that has none.
pub(crate) fn level_word(guide: &Guide, trait_index: usize, level: usize) -> Option<String> {
    match &guide.traits[trait_index].kind {
        TraitKind::Scale(on) => Some(spoken(&guide.scales[on.scale].levels[level].id)),
        TraitKind::Span(_) => None,
    }
}

/// Whether a clause that would rule the plant out is open, and more likely met than not.
fn is_doubtful(verdict: &Verdict) -> bool {
    verdict.list == List::Unsuited
        && verdict.answer == Answer::Open
        && verdict.probability.is_some_and(|p| p > 0.5 + 1e-9)
}

/// What is said of a clause that is decided by the water alone.
fn fixed(verdict: &Verdict) -> String {
    let whether = if verdict.answer == Answer::Failed {
        "cannot be met"
    } else {
        "is always met"
    };
    format!("What is asked here {whether}: {}.", verdict.text)
}

/// `a`, `a and b`, `a, b and c`.
fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// With its first letter a capital, the rest as it is.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn voices_words(voices: usize) -> String {
    if voices == 1 {
        "one voice".to_owned()
    } else {
        counted(voices, "voice", "voices")
    }
}

/// How far voices agree; empty for one voice.
fn agreement_words(voices: usize, agreement: Agreement, is_contested: bool) -> &'static str {
    if voices < 2 {
        return "";
    }
    if is_contested {
        return "good sources stand far apart";
    }
    match agreement {
        Agreement::Untested => "hardly more than one counts",
        Agreement::Low => "little agreement",
        Agreement::Medium => "fair agreement",
        Agreement::High => "no real disagreement",
    }
}

/// What a voice is called: its source's title, or how its person is shown.
pub(crate) fn voice_name(guide: &Guide, reconciled: &Reconciled, voice: usize) -> String {
    let mut of_voice = guide
        .sources
        .iter()
        .enumerate()
        .filter(|(at, _)| reconciled.voices.of_source[*at] == voice)
        .map(|(_, source)| source);
    let id = &reconciled.voices.ids[voice];
    match (of_voice.next(), of_voice.next()) {
        (Some(only), None) => format!("“{}”", only.title),
        (Some(first), Some(_)) => {
            let own = guide.sources.iter().find(|source| source.id == *id);
            format!("“{}” and others of one voice", own.unwrap_or(first).title)
        }
        _ => format!("the voice “{id}”"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Weighed;

    /// Guides that are not alike: the demonstration and the small one of the tests.
    fn guides() -> Vec<Weighed> {
        ["", "tests/site/guide"]
            .iter()
            .map(|folder| {
                let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
                let (input, _) = crate::content::disk::read_guide(&root).expect("a guide");
                crate::weigh(&input).0.expect("a guide without errors")
            })
            .collect()
    }

    fn demo() -> Weighed {
        guides().remove(0)
    }

    /// What a reader would stumble over.
    fn stumbles(sentence: &str) -> Option<&'static str> {
        let first = sentence.chars().next();
        let tests: [(bool, &'static str); 8] = [
            (sentence.is_empty(), "empty"),
            (sentence.contains("  ") || sentence.contains('\n'), "blanks"),
            (
                sentence.contains(" ,") || sentence.contains(" ."),
                "a blank before a sign",
            ),
            (
                sentence.contains("..") || sentence.contains(".:"),
                "two signs",
            ),
            (sentence.contains(['{', '}']), "a brace"),
            (
                first.is_some_and(char::is_lowercase),
                "a small first letter",
            ),
            (!sentence.ends_with('.'), "no full stop"),
            (
                [
                    " a unsuited",
                    " a not known",
                    " a wrong",
                    " none",
                    "None of 1 ",
                    "1 voices",
                    "()",
                ]
                .iter()
                .any(|bad| sentence.contains(bad)),
                "a word out of place",
            ),
        ];
        tests
            .iter()
            .find(|(is_bad, _)| *is_bad)
            .map(|(_, what)| *what)
    }

    #[test]
    fn every_sentence_of_whole_guides_reads_well() {
        let sentences = Sentences::new();
        for Weighed {
            guide,
            names,
            reconciled,
            standings,
            ..
        } in &guides()
        {
            let mut all: Vec<String> = Vec::new();
            for (plant, roles) in standings.plants.iter().enumerate() {
                all.push(format!("{}.", capital(&names.plants[plant].name)));
                for (water, by_role) in roles.standings.iter().enumerate() {
                    for (role, standing) in by_role.iter().enumerate() {
                        let Some(standing) = standing else { continue };
                        all.push(
                            sentences.standing(guide, reconciled, standing, plant, water, role),
                        );
                        all.push(sentences.sturdy(guide, reconciled, standing));
                        all.extend(sentences.changes(guide, standing));
                    }
                }
                for (index, graded) in &reconciled.plants[plant].traits {
                    let Outcome::Scale {
                        grade,
                        measured,
                        goes_with,
                    } = &graded.outcome
                    else {
                        continue;
                    };
                    let grade = (grade.voices > 0).then_some(grade);
                    all.push(sentences.grade(guide, *index, grade, ""));
                    for (key, pooled) in measured {
                        all.push(sentences.measured(key, pooled, unit_of(Measure::Length)));
                    }
                    all.extend(sentences.goes_with(guide, goes_with, graded.voices.len()));
                }
            }
            for (index, group) in reconciled.groups.iter().flatten() {
                all.push(sentences.loose(guide, *index, group));
            }
            assert!(all.len() > 10, "{}", all.len());
            for sentence in all {
                assert_eq!(stumbles(&sentence), None, "{sentence}");
            }
        }
    }

    /// A standing of the first plant, made by hand.
    fn made(word: Word, clauses: Vec<(List, usize, Answer, f64, Option<&str>)>) -> Standing {
        let clauses = clauses
            .into_iter()
            .map(|(list, trait_index, answer, p, because)| Verdict {
                list,
                trait_index,
                text: "growth at least fast".to_owned(),
                because: because.map(str::to_owned),
                answer,
                probability: Some(p),
            })
            .collect();
        Standing {
            word,
            is_in_doubt: false,
            clauses,
            rests_on: Vec::new(),
            is_equal_kinds: true,
            changes: Vec::new(),
        }
    }

    fn said(weighed: &Weighed, standing: &Standing) -> String {
        let Weighed {
            guide, reconciled, ..
        } = weighed;
        let sentence = Sentences::new().standing(guide, reconciled, standing, 0, 0, 0);
        assert_eq!(stumbles(&sentence), None, "{sentence}");
        sentence
    }

    #[test]
    fn a_reason_is_given_only_for_a_clause_that_is_met() {
        let weighed = demo();
        let growth = weighed
            .guide
            .traits
            .iter()
            .position(|of| of.id == "growth")
            .expect("growth");
        let because = Some("It covers the surface.");
        let clause = |answer| vec![(List::Mainstay, growth, answer, 0.9, because)];
        let met = said(&weighed, &made(Word::Mainstay, clause(Answer::Met)));
        assert!(
            met.contains("Growth: moderate here") && met.ends_with("surface."),
            "{met}"
        );
        let failed = said(&weighed, &made(Word::Bystander, clause(Answer::Failed)));
        assert!(!failed.contains("surface"), "{failed}");
    }

    #[test]
    fn only_what_stands_before_every_role_is_wrong_whatever_the_job() {
        let weighed = demo();
        let n_every = weighed.guide.every_role.len();
        let clauses = |met: usize| {
            (0..n_every + 1)
                .map(|at| {
                    let answer = if at == met {
                        Answer::Met
                    } else {
                        Answer::Failed
                    };
                    (List::Unsuited, 0, answer, 0.5, None)
                })
                .collect()
        };
        let every = said(&weighed, &made(Word::Unsuited, clauses(0)));
        assert!(every.contains("whatever the job"), "{every}");
        let own = said(&weighed, &made(Word::Unsuited, clauses(n_every)));
        assert!(
            !own.contains("whatever the job") && own.contains("in this job: "),
            "{own}"
        );
    }

    #[test]
    fn what_the_water_alone_decides_is_not_put_down_to_silence() {
        let mut weighed = demo();
        weighed.reconciled.plants[0].traits.clear();
        weighed.reconciled.plants[0].in_water[0].clear();
        let clause = vec![(List::Mainstay, 0, Answer::Failed, 0.0, None)];
        let fixed = said(&weighed, &made(Word::Bystander, clause));
        assert!(
            fixed.contains("cannot be met") && !fixed.contains("Nobody"),
            "{fixed}"
        );
        let open = vec![(List::Mainstay, 0, Answer::Open, 0.5, None)];
        let silent = said(&weighed, &made(Word::Unproven, open));
        assert!(silent.contains("Nobody has reported"), "{silent}");
        let nothing = said(&weighed, &made(Word::Unproven, Vec::new()));
        assert!(nothing.contains("can be asked here"), "{nothing}");
    }

    #[test]
    fn claims_that_count_for_nothing_are_not_called_silence() {
        let mut weighed = demo();
        let growth = weighed
            .guide
            .traits
            .iter()
            .position(|of| of.id == "growth")
            .expect("growth");
        weighed.reconciled.plants[0].in_water[0].clear();
        let open = vec![(List::Mainstay, growth, Answer::Open, 0.5, None)];
        let sentence = said(&weighed, &made(Word::Unproven, open));
        assert!(
            sentence.contains("Nothing that is reported on growth counts here yet."),
            "{sentence}"
        );
    }

    #[test]
    fn spans_are_told_with_their_unit() {
        let weighed = demo();
        let Weighed {
            guide, reconciled, ..
        } = &weighed;
        let found = reconciled
            .plants
            .iter()
            .enumerate()
            .find_map(|(plant, grades)| {
                let (index, _) = grades
                    .traits
                    .iter()
                    .find(|(_, graded)| matches!(graded.outcome, Outcome::Span(_)))?;
                Some(
                    Sentences::new()
                        .said_of(guide, reconciled, plant, 0, *index)
                        .sentence,
                )
            });
        let sentence = found.expect("a plant with a span");
        assert!(sentence.contains(" °C (confidence"), "{sentence}");
    }

    #[test]
    fn circumstances_that_group_alike_are_named_together() {
        use crate::reconcile::factor::Share;
        let weighed = demo();
        let factor = |id: &str, p: f64, groups: [&[usize]; 2]| Factor {
            id: id.to_owned(),
            share: Share {
                share: 0.9,
                p: Some(p),
                arrangements: Some(20.0),
                is_drawn: false,
            },
            groups: vec![
                ("a".to_owned(), groups[0].to_vec()),
                ("b".to_owned(), groups[1].to_vec()),
            ],
        };
        let alike: [&[usize]; 2] = [&[0, 1], &[2, 3, 4]];
        let factors = [
            factor("light", 0.004, alike),
            factor("co2", 0.3, alike),
            factor("kind", 0.3, [&[2, 3, 4], &[0, 1]]),
            factor("name", 0.3, [&[0], &[1, 2, 3, 4]]),
        ];
        let sentence = Sentences::new()
            .goes_with(&weighed.guide, &factors, 5)
            .expect("some");
        assert_eq!(
            sentence,
            "The difference goes with the light (90 % of it, p 0.004). 4 circumstances were tried \
             on 5 voices, so take it as a hint. The light, the added carbon dioxide and the kind \
             of source group the voices alike: not separable here."
        );
        assert_eq!(
            Sentences::new()
                .goes_with(&weighed.guide, &factors[1..2], 5)
                .as_deref(),
            Some(
                "The one circumstance that could be tried, on 5 voices, does not go clearly with the difference."
            )
        );
    }

    #[test]
    fn a_trait_keeps_the_unit_of_its_edges() {
        let on = |measure: Measure, unit: &str| ScaleTrait {
            scale: 0,
            levels: 2,
            measure: Some(measure),
            edges: vec![1.0],
            unit: crate::quantity::Unit::of(unit),
            floor: 0.0,
            is_need: false,
        };
        assert_eq!(unit_on(&on(Measure::Length, "mm")), " mm");
        assert_eq!(unit_on(&on(Measure::Temperature, "F")), " °C");
        assert_eq!(unit_on(&on(Measure::Hardness, "mg/l")), " degrees");
        assert_eq!(unit_on(&on(Measure::RelativeGrowthRate, "d")), " a day");
    }

    // No source for the rule: halving undoes a doubling. T = ln 2 / r.
    #[test]
    fn thinning_follows_the_doubling_times_of_a_level() {
        let rate = |days: f64| std::f64::consts::LN_2 / days;
        let on = ScaleTrait {
            scale: 0,
            levels: 4,
            measure: Some(Measure::RelativeGrowthRate),
            edges: vec![rate(140.0), rate(49.0), rate(21.0)],
            unit: crate::quantity::Unit::of("d"),
            floor: 0.0,
            is_need: false,
        };
        let sentences = Sentences::new();
        for (level, start) in [
            (
                0,
                "It takes 4.6 months or more to double here: it hardly needs",
            ),
            (
                1,
                "It doubles in 7 weeks to 4.6 months here: cut it back by half",
            ),
            (
                2,
                "It doubles in 21 days to 7 weeks here: cut it back by half",
            ),
            (3, "It doubles in 21 days or less here: cut it back by half"),
        ] {
            let said = sentences.thin(&on, level).expect("a sentence");
            assert!(said.starts_with(start), "{said}");
            assert_eq!(stumbles(&said), None, "{said}");
        }
        let bare = ScaleTrait {
            edges: Vec::new(),
            ..on.clone()
        };
        assert_eq!(sentences.thin(&bare, 1), None);
        let light = ScaleTrait {
            measure: Some(Measure::Light),
            ..on
        };
        assert_eq!(sentences.thin(&light, 1), None);
        assert_eq!(without_unit_of("7 days", "21 days"), "7");
    }

    // Common practice, no source.
    #[test]
    fn rules_of_thumb_read_well() {
        let sentences = Sentences::new();
        assert_eq!(sentences.practice("mark"), ["Common practice, no source."]);
        for about in ["amount", "test"] {
            let rules = sentences.practice(about);
            assert!(rules.len() > 2, "{rules:?}");
            for rule in rules {
                assert_eq!(stumbles(&rule), None, "{rule}");
            }
        }
    }

    #[test]
    fn measured_values_have_their_unit() {
        let pooled = |values: &[f64]| Pooled {
            k: values.len(),
            estimate: 26.0,
            se: 1.0,
            tau2_dl: None,
            q: None,
            i2_from_q: None,
            ci: (20.0, 31.0),
            prediction: (values.len() > 2).then_some((10.0, 40.0)),
            doubling_days: None,
            values: values.iter().map(|value| (0, *value, 1.0)).collect(),
        };
        let said = |values: &[f64]| {
            Sentences::new().measured("value", &pooled(values), unit_of(Measure::Length))
        };
        assert_eq!(said(&[26.0]), "Measured, one voice: 26 cm.");
        assert_eq!(
            said(&[20.0, 31.0]),
            "Measured, two voices: 20 cm and 31 cm; together 26 cm."
        );
        assert!(said(&[20.0, 26.0, 31.0]).contains("95 % interval 20 to 31 cm;"));
    }

    #[test]
    fn titles_keep_their_abbreviations() {
        for (title, inside) in [
            ("Growth", "growth"),
            ("CO₂ need", "CO₂ need"),
            ("pH", "pH"),
            ("Élan", "élan"),
            ("", ""),
        ] {
            assert_eq!(within(title), inside);
        }
    }
}

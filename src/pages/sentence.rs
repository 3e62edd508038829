//! Generated sentences: the reasons of grades and standings in plain words.
//!
//! The words are templates in `sentences/`; only facts are put together here.

use minijinja::{Environment, UndefinedBehavior, context};

use crate::content::{Guide, TraitKind};
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
];

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
            (grade.confidence, grade.voices, agreement_words(grade))
        });
        self.say(
            "grade",
            context! {
                title => of.title.clone(),
                trait => of.title.to_lowercase(),
                level => level,
                here => here,
                confidence => confidence.word(),
                voices => voices_words(voices),
                agreement => agreement,
            },
        )
    }

    fn grade_of(
        &self,
        guide: &Guide,
        reconciled: &Reconciled,
        plant: PlantId,
        water: usize,
        trait_index: usize,
    ) -> String {
        let grades = &reconciled.plants[plant];
        if let TraitKind::Scale(_) = guide.traits[trait_index].kind {
            let grade = grades.in_water[water]
                .get(&trait_index)
                .filter(|grade| grade.voices > 0);
            return self.grade(guide, trait_index, grade, " here");
        }
        let of = &guide.traits[trait_index];
        match grades
            .traits
            .get(&trait_index)
            .map(|graded| &graded.outcome)
        {
            Some(Outcome::Span(span)) => match (span.low, span.high) {
                (Some(low), Some(high)) => format!(
                    "{}: {} to {} (confidence {}; {}).",
                    of.title,
                    decimals(low, 1),
                    decimals(high, 1),
                    span.confidence.word(),
                    voices_words(span.voices)
                ),
                _ => format!("Nobody has reported on {} yet.", of.title.to_lowercase()),
            },
            _ => format!("Nobody has reported on {} yet.", of.title.to_lowercase()),
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
            .is_in_doubt
            .then(|| {
                standing
                    .clauses
                    .iter()
                    .find(|v| {
                        v.list == List::Unsuited
                            && v.answer == Answer::Open
                            && v.probability.is_some_and(|p| p > 0.5 + 1e-9)
                    })
                    .map(|v| v.text.clone())
            })
            .flatten();
        self.say(
            "standing",
            context! {
                word => standing.word.id(),
                water => guide.waters[water].title.clone(),
                role => guide.roles[role].title.to_lowercase(),
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
        let earned = |list: List| pick(&|v| v.list == list && v.answer == Answer::Met);
        let failed = pick(&|v| v.list != List::Unsuited && v.answer == Answer::Failed);
        let (decisive, open) = match standing.word {
            Word::Unsuited => (earned(List::Unsuited), Vec::new()),
            Word::Mainstay => (earned(List::Mainstay), Vec::new()),
            Word::Support => (
                earned(List::Support),
                pick(&|v| v.list == List::Mainstay && v.answer == Answer::Open),
            ),
            Word::Bystander => (failed, Vec::new()),
            Word::Unproven => (
                failed,
                pick(&|v| v.list != List::Unsuited && v.answer == Answer::Open),
            ),
        };
        let mut out = Vec::new();
        let mut told: Vec<usize> = Vec::new();
        for verdict in &decisive {
            if !told.contains(&verdict.trait_index) {
                told.push(verdict.trait_index);
                out.push(self.grade_of(guide, reconciled, plant, water, verdict.trait_index));
            }
            if standing.word == Word::Unsuited
                && let Some(because) = &verdict.because
            {
                out.push(because.trim().to_owned());
            }
        }
        if standing.word == Word::Support {
            for verdict in pick(&|v| v.list == List::Mainstay && v.answer == Answer::Failed) {
                out.push(format!("A mainstay would need {}.", verdict.text));
                if !told.contains(&verdict.trait_index) {
                    told.push(verdict.trait_index);
                    out.push(self.grade_of(guide, reconciled, plant, water, verdict.trait_index));
                }
            }
        }
        let mut unsettled: Vec<&str> = Vec::new();
        for verdict in &open {
            let grade = self.grade_of(guide, reconciled, plant, water, verdict.trait_index);
            let is_silent = grade.starts_with("Nobody");
            if !told.contains(&verdict.trait_index) {
                told.push(verdict.trait_index);
                out.push(grade);
            }
            if !is_silent && !unsettled.contains(&verdict.text.as_str()) {
                unsettled.push(&verdict.text);
            }
        }
        if !unsettled.is_empty() {
            out.push(format!(
                "The reports do not settle this: {}.",
                unsettled.join("; ")
            ));
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
                        trait => guide.traits[change.trait_index].title.to_lowercase(),
                        to => with_article(change.to),
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
                    |condition| format!("the {}", condition.title.to_lowercase()),
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
                    decimals(factor.share.p.unwrap_or(1.0), 2)
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
        let mut together: Vec<String> = Vec::new();
        for (at, factor) in factors.iter().enumerate() {
            for other in &factors[at + 1..] {
                if groups(factor) == groups(other) {
                    together.push(format!("{} and {}", title(factor), title(other)));
                }
            }
        }
        Some(self.say(
            "goes_with",
            context! {
                notable => notable,
                many => factors.len() > 1,
                tried => counted(factors.len(), "circumstance", "circumstances"),
                voices => counted(voices, "voice", "voices"),
                together => together,
            },
        ))
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
                trait => guide.traits[trait_index].title.to_lowercase(),
                low => word(levels().min()),
                high => word(levels().max()),
                plants => group.levels.len(),
                share => share.map(|share| percent(share.share)),
                p => share.and_then(|share| share.p).map(|p| decimals(p, 2)),
            },
        )
    }

    /// Pooled measurements of one size measure.
    pub(crate) fn measured(&self, key: &str, pooled: &Pooled, is_growth: bool) -> String {
        let unit = if is_growth { " a day" } else { "" };
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
                key => if key == "unstated" { "an unstated size" } else { key },
                estimate => shown(pooled.estimate),
                doubling => doubling,
                values => values,
                ci => pair(pooled.ci),
                prediction => pooled.prediction.map(pair),
            },
        )
    }
}

fn level_word(guide: &Guide, trait_index: usize, level: usize) -> Option<String> {
    match &guide.traits[trait_index].kind {
        TraitKind::Scale(on) => Some(spoken(&guide.scales[on.scale].levels[level].id)),
        TraitKind::Span(_) => None,
    }
}

fn voices_words(voices: usize) -> String {
    if voices == 1 {
        "one voice".to_owned()
    } else {
        counted(voices, "voice", "voices")
    }
}

fn agreement_words(grade: &Grade) -> &'static str {
    if grade.voices < 2 {
        return "";
    }
    if grade.is_contested {
        return "good sources stand far apart";
    }
    match grade.agreement {
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

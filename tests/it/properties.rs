//! What must hold for any claims: order, repetition and units change nothing; results are finite.

use pondweigh::reconcile::Outcome;
use pondweigh::reconcile::grade::Grade;
use pondweigh::{Weighed, weigh};
use proptest::prelude::*;

use crate::support::input;

const GUIDE: &[(&str, &str)] = &[
    (
        "content/guide.yaml",
        "title: T\naddress: https://example.org/\npublisher: P\nlicence: CC0-1.0\ndefault-water: still\n",
    ),
    (
        "content/scales.yaml",
        "pace: [very-slow, slow, moderate, fast, very-fast]\nlight: [low, medium, high]\n",
    ),
    (
        "content/conditions.yaml",
        "light: {title: Light, scale: light}\n",
    ),
    (
        "content/traits.yaml",
        "growth: {title: Growth, scale: pace, measure: relative-growth-rate, edges: [140 d, 49 d, 21 d, 7 d], floor: 0.001, depends-on: [light]}\n",
    ),
    ("content/forms.yaml", "stem: {title: Stem}\n"),
    (
        "content/roles.yaml",
        "uptake: {title: Uptake, mainstay: [{trait: growth, at-least: fast}]}\n",
    ),
    (
        "content/waters/still.yaml",
        "title: Still\nconditions: {light: low}\n",
    ),
];

const KINDS: [&str; 6] = ["study", "log", "note", "label", "article", "hearsay"];
const LEVELS: [&str; 5] = ["very-slow", "slow", "moderate", "fast", "very-fast"];

/// One random claim: its source, and what it says in two spellings that mean the same.
#[derive(Debug, Clone)]
struct Saying {
    source: usize,
    one: String,
    other: String,
}

fn saying() -> impl Strategy<Value = Saying> {
    let says = prop_oneof![
        (0..5_usize).prop_map(|level| {
            let text = format!("says: {}", LEVELS[level]);
            (text.clone(), text)
        }),
        (0..5_usize, 0..5_usize).prop_map(|(a, b)| {
            let text = format!("says: {}..{}", LEVELS[a.min(b)], LEVELS[a.max(b)]);
            (text.clone(), text)
        }),
        (1..4000_u32).prop_map(|days| {
            (
                format!("doubles-in: {days} d"),
                format!("doubles-in: {} h", days * 24),
            )
        }),
        (1..500_u32, 1..500_u32, 1..60_u32).prop_map(|(from, to, weeks)| {
            (
                format!("grew: {{from: {from} mm, to: {to} mm, over: {weeks} weeks}}"),
                format!(
                    "grew: {{from: {} cm, to: {} cm, over: {} d}}",
                    f64::from(from) / 10.0,
                    f64::from(to) / 10.0,
                    weeks * 7
                ),
            )
        }),
        (1..40_u32, 1..9_u32).prop_map(|(weeks, tenths)| {
            (
                format!("trimmed: {{every: {weeks} weeks, leaving: 0.{tenths}}}"),
                format!("trimmed: {{every: {} d, leaving: 0.{tenths}}}", weeks * 7),
            )
        }),
        proptest::collection::vec(1..300_u32, 2..6).prop_map(|sizes| {
            let points = |unit: &str, factor: f64| -> String {
                let list: Vec<String> = sizes
                    .iter()
                    .enumerate()
                    .map(|(at, size)| format!("[{}, {} {unit}]", at * 5, f64::from(*size) * factor))
                    .collect();
                format!("series: [{}]", list.join(", "))
            };
            (points("g", 1.0), points("mg", 1000.0))
        }),
    ];
    (0..6_usize, says).prop_map(|(source, (one, other))| Saying { source, one, other })
}

/// Weighs one plant with these claims; `copies` adds for each source one that repeats it.
fn weighed(claims: &[(usize, &str)], copies: bool) -> Weighed {
    let mut plant = "name: Planta prima\nform: stem\nclaims:\n".to_owned();
    let mut sources: Vec<(String, String)> = Vec::new();
    for (at, kind) in KINDS.iter().enumerate() {
        sources.push((
            format!("content/sources/s{at}.yaml"),
            format!("title: S{at}\nkind: {kind}\n"),
        ));
        if copies {
            let text = format!("title: C{at}\nkind: {kind}\nrepeats: [s{at}]\n");
            sources.push((format!("content/sources/c{at}.yaml"), text));
        }
    }
    for (source, value) in claims {
        plant.push_str(&format!(
            "  - {{trait: growth, source: s{source}, {value}}}\n"
        ));
        if copies {
            plant.push_str(&format!(
                "  - {{trait: growth, source: c{source}, {value}}}\n"
            ));
        }
    }
    let mut files: Vec<(&str, &str)> = GUIDE.to_vec();
    files.extend(
        sources
            .iter()
            .map(|(path, text)| (path.as_str(), text.as_str())),
    );
    files.push(("content/plants/planta/prima.yaml", &plant));
    let (weighed, faults) = weigh(&input(&files));
    weighed.unwrap_or_else(|| panic!("{faults:#?}"))
}

fn grade(weighed: &Weighed) -> &Grade {
    match &weighed.reconciled.plants[0].traits[&0].outcome {
        Outcome::Scale { grade, .. } => grade,
        Outcome::Span(_) => panic!("growth is on a scale"),
    }
}

fn same(a: &Grade, b: &Grade) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-9;
    let near_option = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => near(a, b),
        (None, None) => true,
        _ => false,
    };
    near(a.weight, b.weight)
        && a.voices == b.voices
        && near_option(a.effective_voices, b.effective_voices)
        && near_option(a.consensus, b.consensus)
        && a.profile
            .iter()
            .flatten()
            .zip(b.profile.iter().flatten())
            .all(|(a, b)| near(*a, *b))
        && a.level == b.level
}

/// A profile that stands on a threshold within rounding may fall either way.
fn is_on_an_edge(grade: &Grade) -> bool {
    let mut sum = 0.0;
    grade.profile.iter().flatten().any(|mass| {
        sum += mass;
        (sum - 0.5).abs() < 1e-6
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn order_of_claims_changes_nothing(says in proptest::collection::vec(saying(), 1..12), turn in 0..12_usize) {
        let list: Vec<(usize, &str)> = says.iter().map(|s| (s.source, s.one.as_str())).collect();
        let mut turned = list.clone();
        turned.rotate_left(turn % list.len());
        turned.reverse();
        let (a, b) = (weighed(&list, false), weighed(&turned, false));
        prop_assert!(is_on_an_edge(grade(&a)) || same(grade(&a), grade(&b)), "{:?}\n{:?}", grade(&a), grade(&b));
    }

    #[test]
    fn a_source_repeated_adds_no_weight(says in proptest::collection::vec(saying(), 1..8)) {
        let list: Vec<(usize, &str)> = says.iter().map(|s| (s.source, s.one.as_str())).collect();
        let (a, b) = (weighed(&list, false), weighed(&list, true));
        prop_assert!(is_on_an_edge(grade(&a)) || same(grade(&a), grade(&b)), "{:?}\n{:?}", grade(&a), grade(&b));
    }

    #[test]
    fn units_there_and_back_change_nothing(says in proptest::collection::vec(saying(), 1..10)) {
        let one: Vec<(usize, &str)> = says.iter().map(|s| (s.source, s.one.as_str())).collect();
        let other: Vec<(usize, &str)> = says.iter().map(|s| (s.source, s.other.as_str())).collect();
        let (a, b) = (weighed(&one, false), weighed(&other, false));
        prop_assert!(is_on_an_edge(grade(&a)) || same(grade(&a), grade(&b)), "{:?}\n{:?}", grade(&a), grade(&b));
    }

    #[test]
    fn results_are_finite_and_masses_sum_to_one(says in proptest::collection::vec(saying(), 1..12)) {
        let list: Vec<(usize, &str)> = says.iter().map(|s| (s.source, s.one.as_str())).collect();
        let weighed = weighed(&list, false);
        let grade = grade(&weighed);
        let profile = grade.profile.as_ref().expect("a voice");
        prop_assert!((profile.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        prop_assert!(profile.iter().all(|mass| (0.0..=1.0 + 1e-12).contains(mass)));
        prop_assert!(grade.consensus.is_none_or(|c| (0.0..=1.0).contains(&c)));
        prop_assert!(grade.effective_voices.is_some_and(|n| n >= 1.0 - 1e-12 && n <= grade.voices as f64 + 1e-9));
        for verdict in weighed.standings.plants[0].standings[0].iter().flatten().flat_map(|s| &s.clauses) {
            prop_assert!(verdict.probability.is_none_or(|p| (0.0..=1.0).contains(&p)));
        }
    }
}

#[test]
fn better_evidence_never_lowers_the_confidence() {
    // More voices that say the same, one by one.
    let mut last = None;
    for n in 1..=6 {
        let list: Vec<(usize, &str)> = (0..n).map(|source| (source, "says: fast")).collect();
        let weighed = weighed(&list, false);
        let confidence = grade(&weighed).confidence;
        assert!(
            last.is_none_or(|last| confidence >= last),
            "{n} voices: {confidence:?}"
        );
        last = Some(confidence);
    }
}

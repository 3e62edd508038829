//! Facts of the trade, `tests/reference/trade_facts.csv`: common practice, no source.
//!
//! None of them has a source, and none may be shown with one. Figures such as "about an inch"
//! hold within a factor of two.

use std::collections::BTreeMap;

use pondweigh::claims::mass::level_of;
use pondweigh::claims::{Fate, Value};
use pondweigh::reconcile::grade::{Confidence, Evidence};
use pondweigh::roles::{List, Standing, Word};
use pondweigh::{Weighed, weigh};

use crate::rules::strip;
use crate::support::pages;
use crate::support::{
    CORNER, DEMO, Row, grade, guide, html_pages, input_of, level, on_scale, plant, quoted, site_of,
    table, trait_index,
};

/// What the table says of the standing of its facts.
const MARK: &str = "common practice, no source";

/// A row of the table by its id.
fn fact(id: &str) -> Row {
    let found = table("trade_facts.csv")
        .into_iter()
        .find(|row| row["id"] == id);
    let row = found.unwrap_or_else(|| panic!("no fact {id}"));
    assert_eq!(row["basis"], MARK, "{id}");
    row
}

/// A guide with three logs, ten labels and one role; a plant is a genus folder, a name, a form and
/// the claims in its file.
fn guide_of(plants: &[(&str, &str, String)]) -> BTreeMap<String, String> {
    let mut files: BTreeMap<String, String> = [
        (
            "guide.yaml",
            "title: Practice\naddress: https://practice.example.org/\npublisher: A circle\nlicence: CC0-1.0\ndefault-water: soil\n".to_owned(),
        ),
        (
            "scales.yaml",
            "pace: [very-slow, slow, moderate, fast, very-fast]\nlight: [dim, low, medium, high]\nlarder: [from-the-bed, both, from-the-water]\nreach: [none, shallow, deep]\n".to_owned(),
        ),
        (
            "conditions.yaml",
            "light: {title: Light, scale: light}\nbed: {title: Bed, words: [capped-soil, bare]}\n".to_owned(),
        ),
        (
            "traits.yaml",
            concat!(
                "growth: {title: Growth, scale: pace, measure: relative-growth-rate, edges: [140 d, 49 d, 21 d, 7 d], floor: 0.001, depends-on: [light]}\n",
                "feeding: {title: Feeding, scale: larder}\n",
                "root-reach: {title: Root reach, scale: reach, measure: length, edges: [1 cm, 15 cm]}\n",
            )
            .to_owned(),
        ),
        (
            "forms.yaml",
            ["floating", "stem", "rosette", "rhizome", "moss"]
                .map(|form| format!("{form}: {{title: {form}}}\n"))
                .concat(),
        ),
        (
            "roles.yaml",
            format!(
                concat!(
                    "nutrient-uptake:\n",
                    "  title: Nutrient uptake\n",
                    "  unsuited:\n",
                    "    - {{trait: root-reach, at-least: deep, form: [floating], when: {{bed: capped-soil}}, because: {}}}\n",
                    "  mainstay:\n",
                    "    - {{trait: growth, at-least: fast, because: {}}}\n",
                    "    - {{trait: feeding, at-least: both}}\n",
                    "  support:\n",
                    "    - {{trait: growth, at-least: moderate}}\n",
                ),
                quoted(&fact("T05")["statement"]),
                quoted(&fact("T09")["statement"]),
            ),
        ),
        (
            "waters/soil.yaml",
            "title: Soil tank\nconditions: {light: low, bed: capped-soil}\n".to_owned(),
        ),
        (
            "waters/jar.yaml",
            "title: Bare jar\nconditions: {light: low, bed: bare}\n".to_owned(),
        ),
        (
            "sources/practice.yaml",
            "title: Common practice, no source\nkind: hearsay\n".to_owned(),
        ),
        ("sources/trial.yaml", "title: A trial\nkind: study\n".to_owned()),
    ]
    .into_iter()
    .map(|(path, text)| (format!("content/{path}"), text))
    .collect();
    for (kind, n) in [("log", 4), ("label", 10)] {
        for at in 0..n {
            files.insert(
                format!("content/sources/{kind}-{at}.yaml"),
                format!("title: {kind} {at}\nkind: {kind}\n"),
            );
        }
    }
    for (name, form, claims) in plants {
        let (genus, rest) = name.split_once(' ').expect("a species");
        files.insert(
            format!("content/plants/{}/{rest}.yaml", genus.to_lowercase()),
            format!("name: {name}\nform: {form}\nclaims:\n{claims}"),
        );
    }
    files
}

/// The same claim by some logs, seen in low light.
fn logs(n: usize, trait_id: &str, said: &str) -> String {
    (0..n)
        .map(|at| {
            format!("  - {{trait: {trait_id}, source: log-{at}, where: {{light: low}}, {said}}}\n")
        })
        .collect()
}

/// The same word on some labels.
fn labels(n: usize, trait_id: &str, word: &str) -> String {
    (0..n)
        .map(|at| format!("  - {{trait: {trait_id}, source: label-{at}, says: {word}}}\n"))
        .collect()
}

fn weighed(files: &BTreeMap<String, String>) -> Weighed {
    let (weighed, faults) = weigh(&input_of(files));
    weighed.unwrap_or_else(|| panic!("{faults:#?}"))
}

/// The standing of a plant for uptake in a water.
fn standing<'a>(weighed: &'a Weighed, slug: &str, water: &str) -> &'a Standing {
    let at = weighed.guide.waters.iter().position(|w| w.id == water);
    let roles = &weighed.standings.plants[plant(weighed, slug)];
    roles.standings[at.expect("a water")][0]
        .as_ref()
        .expect("a standing")
}

/// The decision score of "grows fast or faster".
fn score_of_fast(standing: &Standing) -> f64 {
    let clause = standing
        .clauses
        .iter()
        .find(|clause| clause.list == List::Mainstay);
    clause.expect("a clause").probability.expect("a score")
}

#[test]
fn a_rhizome_plant_that_gains_an_inch_in_half_a_year_is_never_relied_on() {
    // T01 and T02: common practice, no source.
    let inch: f64 = fact("T01")["value"].parse().expect("centimetres");
    assert_eq!(
        (fact("T01")["unit"].as_str(), fact("T02")["value"].as_str()),
        ("cm per 6 months", "no")
    );
    for length in [5.0, 6.0, 8.0, 10.0] {
        let grew = format!(
            "grew: {{from: {length} cm, to: {} cm, over: 6 months}}",
            length + inch
        );
        for n_logs in 1..=4 {
            for n_labels in [0, 1, 10] {
                // Labels call it fast, and feeding is no obstacle.
                let claims = logs(n_logs, "growth", &grew)
                    + &labels(n_labels, "growth", "very-fast")
                    + &logs(n_logs, "feeding", "says: from-the-water");
                let weighed = weighed(&guide_of(&[("Anubias barteri", "rhizome", claims)]));
                for water in ["soil", "jar"] {
                    let word = standing(&weighed, "anubias-barteri", water).word;
                    assert!(
                        !matches!(word, Word::Mainstay | Word::Support),
                        "{length} cm, {n_logs} logs, {n_labels} labels in {water}: {word:?}"
                    );
                    if n_labels == 0 && n_logs >= 2 {
                        assert_eq!(
                            word,
                            Word::Bystander,
                            "{length} cm, {n_logs} logs in {water}"
                        );
                    }
                }
                if n_logs > 1 {
                    assert_eq!(
                        level(&weighed, "anubias-barteri", "growth"),
                        Some("very-slow")
                    );
                }
            }
        }
    }
}

#[test]
fn a_stem_plant_cut_back_by_half_every_three_months_grows_slowly() {
    // Common practice, no source. Half left every 91 days is a doubling in 91 days.
    for every in ["3 months", "13 weeks", "91 d"] {
        let cut = format!("trimmed: {{every: {every}, leaving: 0.5}}");
        for n in [1, 3] {
            let claims = logs(n, "growth", &cut) + &logs(n, "feeding", "says: from-the-water");
            let weighed = weighed(&guide_of(&[("Hygrophila corymbosa", "stem", claims)]));
            assert_eq!(
                level(&weighed, "hygrophila-corymbosa", "growth"),
                Some("slow"),
                "{every}"
            );
            let word = standing(&weighed, "hygrophila-corymbosa", "soil").word;
            assert!(
                !matches!(word, Word::Mainstay | Word::Support),
                "{every}, {n}: {word:?}"
            );
        }
    }
    // Cut back as often as fast stems are (T18), it is one.
    let claims = logs(3, "growth", "trimmed: {every: 2 weeks, leaving: 0.5}");
    let weighed = weighed(&guide_of(&[("Hygrophila corymbosa", "stem", claims)]));
    assert_eq!(
        level(&weighed, "hygrophila-corymbosa", "growth"),
        Some("fast")
    );
}

#[test]
fn a_floating_plant_thinned_by_half_each_week_stands_on_the_border_of_very_fast() {
    // T17 and T22: common practice, no source. Half left every 7 days doubles in 7 days, which is
    // the edge itself: half of the mass on either side. The rate alone belongs to the higher
    // level; the median of the mass is reached in the lower one.
    let days = fact("T22");
    assert_eq!(
        (days["comparator"].as_str(), days["unit"].as_str()),
        ("at most", "days")
    );
    for said in [
        format!("trimmed: {{every: {} d, leaving: 0.5}}", days["value"]),
        "trimmed: {every: 1 week, leaving: 0.5}".to_owned(),
        "trimmed: {every: 2 weeks, leaving: 0.25}".to_owned(),
        "series: [[0, 20 %], [7, 40 %]]".to_owned(),
        "series: [[0, 10 g], [7, 20 g], [14, 40 g]]".to_owned(),
        "grew: {from: 20 %, to: 40 %, over: 1 week}".to_owned(),
    ] {
        let claims = logs(1, "growth", &said);
        let weighed = weighed(&guide_of(&[("Salvinia natans", "floating", claims)]));
        let grade = grade(&weighed, "salvinia-natans", "growth").expect("a grade");
        let profile = grade.profile.as_ref().expect("a voice");
        assert!((profile[4] - 0.5).abs() < 1e-9, "{said}: {profile:?}");
        assert!(profile[3] > 0.49, "{said}: {profile:?}");
        assert_eq!((grade.level, grade.span), (Some(3), Some((3, 4))), "{said}");
        let rate = weighed.claims.all[0].measured.as_ref().expect("a rate").y;
        assert_eq!(
            level_of(&on_scale(&weighed, "growth").edges, rate),
            4,
            "{said}"
        );
    }
    // Duckweeds want it at least that often.
    let claims = logs(
        1,
        "growth",
        "trimmed: {every: 7 d, leaving: 0.5}, bound: at-least",
    );
    let often = weighed(&guide_of(&[("Lemna minor", "floating", claims)]));
    assert_eq!(level(&often, "lemna-minor", "growth"), Some("very-fast"));
}

#[test]
fn plants_are_relied_on_for_uptake_in_the_order_that_keepers_expect() {
    // T17 to T19, T02, T03: fast floating ≥ fast stem > rooted rosette > moss, rhizome.
    // Common practice, no source; the claims are typical ones made for this check.
    assert_eq!(
        ["T17", "T18", "T19", "T03", "T02"].map(|id| fact(id)["value"].clone()),
        ["yes", "yes", "partly", "no", "no"]
    );
    let three = |growth: &str, feeding: &str| {
        logs(3, "growth", growth) + &logs(3, "feeding", &format!("says: {feeding}"))
    };
    let weighed = weighed(&guide_of(&[
        (
            "Salvinia natans",
            "floating",
            three("trimmed: {every: 1 week, leaving: 0.5}", "from-the-water"),
        ),
        (
            "Egeria najas",
            "stem",
            three("trimmed: {every: 2 weeks, leaving: 0.5}", "both"),
        ),
        (
            "Echinodorus grisebachii",
            "rosette",
            three(
                "grew: {from: 10 leaves, to: 20 leaves, over: 5 weeks}",
                "from-the-bed",
            ),
        ),
        (
            "Taxiphyllum barbieri",
            "moss",
            three(
                "grew: {from: 4 cm, to: 5 cm, over: 2 months}",
                "from-the-water",
            ),
        ),
        (
            "Anubias barteri",
            "rhizome",
            three("grew: {from: 8 cm, to: 10.5 cm, over: 6 months}", "both"),
        ),
    ]));
    for water in ["soil", "jar"] {
        let of = |slug| standing(&weighed, slug, water);
        let [floating, stem, rosette, moss, rhizome] = [
            "salvinia-natans",
            "egeria-najas",
            "echinodorus-grisebachii",
            "taxiphyllum-barbieri",
            "anubias-barteri",
        ]
        .map(of);
        assert_eq!(
            [floating, stem, rosette, moss, rhizome].map(|standing| standing.word),
            [
                Word::Mainstay,
                Word::Mainstay,
                Word::Support,
                Word::Bystander,
                Word::Bystander
            ],
            "{water}"
        );
        let scores = [floating, stem, rosette, moss, rhizome].map(score_of_fast);
        assert!(scores[0] >= scores[1], "{scores:?}");
        assert!(scores[1] > scores[2], "{scores:?}");
        assert!(scores[2] > scores[3].max(scores[4]), "{scores:?}");
    }
}

#[test]
fn a_genus_that_covers_quick_and_slow_plants_is_said_to_mislead() {
    // T08: common practice, no source.
    assert_eq!(fact("T08")["value"], "mixed");
    let with = |pace: &str| {
        let plants = [
            (
                "Cryptocoryne parva",
                "rosette",
                logs(3, "growth", "says: very-slow"),
            ),
            (
                "Cryptocoryne ciliata",
                "rosette",
                logs(3, "growth", &format!("says: {pace}")),
            ),
        ];
        let mut files = guide_of(&plants);
        files.insert(
            "content/plants/cryptocoryne/genus.yaml".to_owned(),
            "loose-name: Cryptocoryne\nclaims:\n  - {trait: growth, source: label-0, says: slow}\n"
                .to_owned(),
        );
        let weighed = weighed(&files);
        let group = &weighed.reconciled.groups[0][&trait_index(&weighed, "growth")];
        assert_eq!(group.levels.len(), 2);
        group.is_misleading
    };
    assert!(with("moderate"));
    assert!(!with("very-slow"));
}

#[test]
fn what_a_plant_does_while_it_settles_is_no_verdict() {
    // T20 and T21: common practice, no source. Leaves made in air or before a move die back.
    assert_eq!(
        (fact("T20")["value"].as_str(), fact("T21")["value"].as_str()),
        ("2-8", "yes")
    );
    let settled = logs(2, "growth", "says: moderate");
    let settling = settled.clone()
        + &logs(
            4,
            "growth",
            "grew: {from: 12 leaves, to: 3 leaves, over: 8 weeks}, stage: settling",
        );
    let files = |claims: String| guide_of(&[("Cryptocoryne wendtii", "rosette", claims)]);
    let (with, without) = (weighed(&files(settling.clone())), weighed(&files(settled)));
    let of = |weighed: &'_ Weighed| grade(weighed, "cryptocoryne-wendtii", "growth").cloned();
    assert_eq!(of(&with), of(&without));
    assert_eq!(
        standing(&with, "cryptocoryne-wendtii", "soil"),
        standing(&without, "cryptocoryne-wendtii", "soil")
    );
    assert_eq!(
        with.claims
            .all
            .iter()
            .filter(|claim| claim.fate == Fate::Settling)
            .count(),
        4
    );
    // Weighed, they would have told against it.
    let taken = weighed(&files(settling.replace(", stage: settling", "")));
    assert_ne!(
        level(&taken, "cryptocoryne-wendtii", "growth"),
        Some("moderate")
    );
}

#[test]
fn floating_roots_that_reach_a_soil_bed_rule_a_plant_out_there_and_say_why() {
    // T04 and T05: common practice, no source.
    assert_eq!(fact("T05")["value"], "yes");
    let claims = logs(3, "growth", "trimmed: {every: 5 d, leaving: 0.5}")
        + &logs(3, "feeding", "says: from-the-water")
        + &logs(3, "root-reach", "measures: 25 cm");
    let files = guide_of(&[("Hydrocharis laevigata", "floating", claims)]);
    let weighed = weighed(&files);
    assert_eq!(
        standing(&weighed, "hydrocharis-laevigata", "soil").word,
        Word::Unsuited
    );
    assert_eq!(
        standing(&weighed, "hydrocharis-laevigata", "jar").word,
        Word::Mainstay
    );
    let pages = pages(&input_of(&files));
    let text = strip(&pages["plants/hydrocharis-laevigata/index.html"]);
    // T09 and T10 stand where the role gives its reasons.
    for id in ["T05", "T09"] {
        assert!(text.contains(&fact(id)["statement"]), "{id}");
    }
}

#[test]
fn practice_without_a_source_weighs_least_and_a_sourced_claim_wins() {
    // Every fact of the table, as a claim of the one source "Common practice, no source".
    let practice = "  - {trait: growth, source: practice, says: very-slow}\n";
    let alone = weighed(&guide_of(&[(
        "Anubias barteri",
        "rhizome",
        practice.to_owned(),
    )]));
    let grade_alone = grade(&alone, "anubias-barteri", "growth").expect("a grade");
    assert_eq!(
        (grade_alone.evidence, grade_alone.confidence),
        (Evidence::Limited, Confidence::VeryLow)
    );
    assert_eq!(
        standing(&alone, "anubias-barteri", "soil").word,
        Word::Unproven
    );
    let kinds = &alone.guide.weights.kinds;
    let least = kinds.values().copied().fold(f64::MAX, f64::min);
    assert!((kinds["hearsay"] - least).abs() < 1e-12, "{kinds:?}");
    // A trial that conflicts wins, and both are shown.
    let both = format!(
        "{practice}  - {{trait: growth, source: trial, where: {{light: low}}, says: fast}}\n"
    );
    let files = guide_of(&[("Anubias barteri", "rhizome", both)]);
    let conflict = weighed(&files);
    assert_eq!(level(&conflict, "anubias-barteri", "growth"), Some("fast"));
    let masses: Vec<&Value> = conflict
        .claims
        .all
        .iter()
        .map(|claim| &claim.value)
        .collect();
    assert_eq!(masses.len(), 2);
    let text = strip(&pages(&input_of(&files))["plants/anubias-barteri/index.html"]);
    assert!(text.contains("very slow") && text.contains("Common practice, no source (hearsay)"));
}

/// Blocks of a page that break the rule on facts without a source: one that says a fact of the
/// table and not that it has none, or says that it has none and links to a source.
fn unmarked(html: &str, facts: &[Row]) -> Vec<String> {
    let mut out = Vec::new();
    let main = html.split("<main").nth(1).unwrap_or(html);
    for open in ["<li", "<p", "<td", "<dd"] {
        for block in main.split(open).skip(1) {
            let close = format!("</{}>", &open[1..]);
            let block = block.split(&close).next().unwrap_or_default();
            let text = strip(&format!("<{block}"));
            let is_said = facts.iter().any(|row| text.contains(&row["statement"]));
            let is_marked = text.to_lowercase().contains(MARK);
            let cites = block.contains("/sources/") || block.contains("href=\"sources/");
            if is_said && (!is_marked || cites) {
                out.push(text);
            }
        }
    }
    out
}

#[test]
fn facts_of_the_trade_are_marked_and_never_cited() {
    let facts = table("trade_facts.csv");
    assert_eq!(facts.len(), 26);
    for row in &facts {
        assert_eq!(row["basis"], MARK, "{}", row["id"]);
    }
    // Every fact as a free page says it, marked.
    let marked: Vec<String> = facts
        .iter()
        .map(|row| format!("- {} ({MARK})\n", row["statement"]))
        .collect();
    let mut files = guide_of(&[("Lemna minor", "floating", logs(1, "growth", "says: fast"))]);
    files.insert(
        "content/pages/practice.md".to_owned(),
        format!("# Practice\n\n{}", marked.concat()),
    );
    let page = |files: &BTreeMap<String, String>| {
        pages(&input_of(files))["pages/practice/index.html"].clone()
    };
    let html = page(&files);
    let said = facts
        .iter()
        .filter(|row| strip(&html).contains(&row["statement"]));
    assert_eq!(said.count(), 26);
    assert_eq!(unmarked(&html, &facts), Vec::<String>::new());
    // Without the mark, or with a source beside it, the scan finds it.
    let bare = html.replace(&format!(" ({MARK})"), "");
    assert_eq!(unmarked(&bare, &facts).len(), 26);
    let cited = html.replacen(
        MARK,
        &format!("{MARK}, <a href=\"../../sources/trial/\">A trial</a>"),
        1,
    );
    assert_eq!(unmarked(&cited, &facts).len(), 1);
    // Every page of every guide.
    let small = site_of(&guide("tests/site/guide"));
    for (name, site) in [("demo", &*DEMO), ("corner", &*CORNER), ("small", &small)] {
        for (path, html) in html_pages(site) {
            assert_eq!(
                unmarked(html, &facts),
                Vec::<String>::new(),
                "{name}: {path}"
            );
            // Where a page says that something is common practice, it says that it has no source.
            for (open, close) in [("<li", "</li>"), ("<p", "</p>")] {
                for block in html.split(open).skip(1) {
                    let block = block.split(close).next().unwrap_or_default();
                    let text = strip(&format!("{open}{block}")).to_lowercase();
                    let is_practice = text.contains("common practice");
                    assert!(
                        !is_practice || text.contains(MARK),
                        "{name}: {path}: {text}"
                    );
                }
            }
        }
    }
}

//! The planting to start with: what is chosen, in which order, and what stands beside it.

use std::collections::BTreeSet;

use pondweigh::content::Input;

use crate::support::{guide, input, main_of, pages, plant_links, regulated_here, weighed};

/// A plant of a made guide: epithet, forms, and a word for growth (or `many` thorns) from each of
/// some voices, with a kind of source where it is not a study.
type Made<'a> = (&'a str, &'a str, &'a [&'a str]);

const GUIDE: &str = "title: T\naddress: https://example.org/\npublisher: P\nlicence: CC0-1.0\ndefault-water: w\nplaces: [Here]\n";
const TRAITS: &str = "growth: {title: Growth, scale: pace, measure: relative-growth-rate, edges: [60 d, 10 d], floor: 0.001}\nthorns: {title: Thorns, scale: arms}\n";
const ROLES: &str = concat!(
    "every-role: {unsuited: [{trait: thorns, at-least: many}]}\n",
    "uptake: {title: Uptake, forms: [stem, floating, rosette], mainstay: [{trait: growth, at-least: fast}], support: [{trait: growth, at-least: middling}]}\n",
    "looks: {title: Looks, mainstay: [{trait: growth, at-most: slow}]}\n",
);

/// A guide with the plants given, all of the genus Planta, of which `listed` are on lists.
fn made(plants: &[Made<'_>], listed: &[(&str, &str)], traits: &str) -> Input {
    let mut files: Vec<(String, String)> = vec![
        ("content/guide.yaml".to_owned(), GUIDE.to_owned()),
        (
            "content/scales.yaml".to_owned(),
            "pace: [slow, middling, fast]\narms: [none, many]\n".to_owned(),
        ),
        ("content/traits.yaml".to_owned(), traits.to_owned()),
        (
            "content/forms.yaml".to_owned(),
            "stem: {title: Stem}\nfloating: {title: Floating}\nrosette: {title: Rosette}\nmoss: {title: Moss}\n"
                .to_owned(),
        ),
        ("content/roles.yaml".to_owned(), ROLES.to_owned()),
        (
            "content/weights.yaml".to_owned(),
            "kinds: {study: 1.0, note: 0.5, survey: 9.0}\nsecond-hand: []\n".to_owned(),
        ),
        (
            "content/waters/w.yaml".to_owned(),
            "title: Still\nconditions: {}\n".to_owned(),
        ),
    ];
    for at in 0..9 {
        files.push((
            format!("content/sources/s{at}.yaml"),
            format!("title: Log {at}\nkind: study\n"),
        ));
    }
    for (epithet, forms, words) in plants {
        let claims: Vec<String> = words
            .iter()
            .enumerate()
            .map(|(at, word)| {
                let (word, kind) = word.split_once(' ').unwrap_or((word, "study"));
                let of = if word == "many" { "thorns" } else { "growth" };
                format!("  - {{trait: {of}, source: s{at}, says: {word}, kind: {kind}}}\n")
            })
            .collect();
        files.push((
            format!("content/plants/planta/{epithet}.yaml"),
            format!(
                "name: Planta {epithet}\nform: [{forms}]\nclaims:\n{}",
                claims.concat()
            ),
        ));
    }
    let rows: Vec<String> = listed
        .iter()
        .map(|(epithet, place)| {
            format!("- {{listed-as: Planta {epithet}, covers: {{taxon: Planta {epithet}}}, place: {place}, instrument: Invented order 7, date: 2020-01-31}}\n")
        })
        .collect();
    if !rows.is_empty() {
        files.push(("content/regulated.yaml".to_owned(), rows.concat()));
    }
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(path, text)| (path.as_str(), text.as_str()))
        .collect();
    input(&files)
}

/// Slugs of the plants to start with in the only water, in order.
fn first(html: &str) -> Vec<String> {
    let list = html
        .split("<ol class=\"ranked first\">")
        .nth(1)
        .map_or("", |rest| rest.split("</ol>").next().unwrap_or_default());
    plant_links(list)
        .into_iter()
        .map(|(slug, _)| slug.trim_start_matches("planta-").to_owned())
        .collect()
}

fn start_of(input: &Input) -> String {
    let pages = pages(input);
    let (all, one) = (&pages["start/index.html"], &pages["start/w/index.html"]);
    assert_eq!(first(all), first(one));
    all.clone()
}

const FAST: &[&str] = &["fast", "fast", "fast", "fast"];

#[test]
fn three_mainstays_of_different_form_come_first() {
    let html = start_of(&made(
        &[
            ("alta", "stem", &["fast", "fast", "fast", "fast", "fast"]),
            ("bona", "stem", FAST),
            ("cara", "floating", FAST),
            ("dura", "rosette", &["fast", "fast", "fast"]),
            ("media", "stem", &["middling", "middling", "middling"]),
            ("lenta", "moss", &["slow", "slow", "slow"]),
        ],
        &[],
        TRAITS,
    ));
    assert_eq!(first(&html), ["alta", "cara", "dura"]);
    assert!(!html.contains("alike in form"));
    assert!(!html.contains("known to carry this job here"));
    // What to add later, each with its standing in the role at hand.
    let later = html.split("<h3>Add later</h3>").nth(1).expect("later");
    let words: Vec<(&str, bool)> = plant_links(later)
        .into_iter()
        .map(|(slug, after)| {
            let word = if slug == "planta-media" {
                "support"
            } else {
                "mainstay"
            };
            (slug, after.contains(&format!("class=\"word\">{word}<")))
        })
        .collect();
    assert_eq!(words, [("planta-media", true), ("planta-lenta", true)]);
}

#[test]
fn plants_of_two_forms_do_not_crowd_out_a_third_form() {
    // The best plant has the forms of the two next; each can still stand for one of its own.
    let html = start_of(&made(
        &[
            (
                "alta",
                "stem, floating",
                &["fast", "fast", "fast", "fast", "fast", "fast"],
            ),
            ("bona", "stem", &["fast", "fast", "fast", "fast", "fast"]),
            ("cara", "floating", FAST),
            ("dura", "rosette", &["fast", "fast", "fast"]),
        ],
        &[],
        TRAITS,
    ));
    assert_eq!(first(&html), ["alta", "bona", "dura"]);
}

#[test]
fn where_forms_are_few_the_next_best_fills_up_and_the_page_says_so() {
    let html = start_of(&made(
        &[
            ("alta", "stem", &["fast", "fast", "fast", "fast", "fast"]),
            ("bona", "stem", FAST),
            ("cara", "stem", &["fast", "fast", "fast"]),
            ("dura", "floating", &["fast", "fast", "fast"]),
        ],
        &[],
        TRAITS,
    ));
    assert_eq!(first(&html), ["alta", "bona", "dura"]);
    assert!(html.contains("some of these are alike in form"));
}

#[test]
fn fewer_than_three_are_said_plainly() {
    for (plants, says) in [
        (
            &[("alta", "stem", FAST), ("bona", "floating", FAST)][..],
            "Only two plants are known to carry this job here.",
        ),
        (
            &[("alta", "stem", FAST)][..],
            "Only one plant is known to carry this job here.",
        ),
        (
            &[("alta", "stem", &["slow", "slow", "slow"][..])][..],
            "No plant is known to carry this job here.",
        ),
    ] {
        let html = start_of(&made(plants, &[], TRAITS));
        assert!(html.contains(says), "{says}");
        let (_, after) = html.split_once(says).expect("the sentence");
        assert!(
            after.starts_with(" <a href=\"../wanted/\">"),
            "{}",
            &after[..60]
        );
    }
}

#[test]
fn those_in_doubt_and_those_on_one_voice_stand_behind_the_sturdy() {
    // By the score alone the order would be alta, bona, cara, dura: one very heavy voice on alta,
    // and a light note that bona may have thorns, which would rule it out.
    let files = made(
        &[
            ("alta", "stem", &["fast survey"]),
            (
                "bona",
                "stem",
                &["fast", "fast", "fast", "fast", "fast", "many note"],
            ),
            ("cara", "stem", FAST),
            ("dura", "stem", &["fast", "fast", "fast"]),
        ],
        &[],
        TRAITS,
    );
    let weighed = weighed(&files);
    let by_score = pondweigh::roles::mainstays(&weighed.standings.plants, 0, 0, false);
    assert_eq!(by_score, [0, 1, 2, 3]);
    let standing = |at: usize| {
        weighed.standings.plants[at].standings[0][0]
            .as_ref()
            .expect("a standing")
    };
    assert_eq!(standing(0).rests_on.len(), 1);
    assert!(standing(1).is_in_doubt);
    assert_eq!(first(&start_of(&files)), ["cara", "dura", "alta"]);
    // Where there is nothing else, one in doubt is named, and said to be.
    let files = made(
        &[
            (
                "bona",
                "stem",
                &["fast", "fast", "fast", "fast", "fast", "many note"],
            ),
            ("cara", "stem", FAST),
        ],
        &[],
        TRAITS,
    );
    let html = start_of(&files);
    assert_eq!(first(&html), ["cara", "bona"]);
    let bona = html.split("planta-bona/").nth(1).expect("bona");
    let line = bona.split("</p>").next().expect("a line");
    assert!(line.contains(", in doubt"), "{line}");
}

#[test]
fn no_plant_that_is_regulated_here_is_chosen() {
    let html = start_of(&made(
        &[
            ("alta", "stem", &["fast", "fast", "fast", "fast", "fast"]),
            ("bona", "floating", FAST),
            ("cara", "rosette", FAST),
            ("media", "stem", &["middling", "middling", "middling"]),
            ("lenta", "moss", &["slow", "slow", "slow"]),
        ],
        &[
            ("alta", "Here"),
            ("media", "Here"),
            ("lenta", "Here"),
            ("bona", "Elsewhere"),
        ],
        TRAITS,
    ));
    assert_eq!(first(&html), ["bona", "cara"]);
    assert!(html.contains(
        "Only two plants are known to carry this job here, leaving out what is on a legal list where this guide is read."
    ));
    for slug in ["alta", "media", "lenta"] {
        assert!(!html.contains(&format!("planta-{slug}")), "{slug}");
    }
    // One that is listed elsewhere stands with that notice.
    let bona = html.split("planta-bona/").nth(1).expect("bona");
    let bona = bona.split("</li>").next().expect("an end");
    assert!(
        bona.contains("Listed elsewhere:</strong> Elsewhere")
            && bona.contains("Invented order 7, 2020-01-31. Local law decides."),
        "{bona}"
    );
    let mut seen = 0;
    for name in ["", "tests/guides/corner"] {
        let input = guide(name);
        let regulated = regulated_here(&weighed(&input));
        for (path, html) in pages(&input) {
            if path.starts_with("start/") {
                for (slug, _) in plant_links(main_of(&html)) {
                    assert!(!regulated.contains(slug), "{name}: {path}: {slug}");
                    seen += 1;
                }
            }
        }
    }
    assert!(seen > 10, "{seen}");
}

#[test]
fn thinning_follows_the_edges_of_the_scale() {
    // No source: halving undoes a doubling. T = ln 2 / r at the edges of the level, by the guide.
    let plants = &[("alta", "stem", FAST)];
    for (edges, says) in [
        (
            "60 d, 10 d",
            "It doubles in 10 days or less here: cut it back by half at least as often, and take out what you cut.",
        ),
        (
            "60 d, 25 d",
            "It doubles in 25 days or less here: cut it back by half at least as often, and take out what you cut.",
        ),
    ] {
        let html = start_of(&made(plants, &[], &TRAITS.replace("60 d, 10 d", edges)));
        assert!(html.contains(says), "{edges}: {says}");
    }
    // A level between two edges has both.
    let traits = TRAITS
        .replace(
            "growth: {title: Growth, scale: pace",
            "growth: {title: Growth, scale: five",
        )
        .replace("60 d, 10 d", "90 d, 60 d, 21 d, 7 d");
    let mut files = made(plants, &[], &traits);
    for (path, bytes) in &mut files.files {
        if path.ends_with("scales.yaml") {
            bytes.extend(b"five: [still, slow, middling, fast, rampant]\n");
        }
    }
    let html = start_of(&files);
    assert!(
        html.contains("It doubles in 7 to 21 days here: cut it back by half about as often"),
        "{html}"
    );
    // Without a measure of growth nothing is said.
    let bare = "growth: {title: Growth, scale: pace}\nthorns: {title: Thorns, scale: arms}\n";
    let html = start_of(&made(plants, &[], bare));
    assert_eq!(first(&html), ["alta"]);
    assert!(!html.contains("How to thin") && !html.contains("doubles in"));
}

#[test]
fn rules_of_thumb_carry_their_mark() {
    // Common practice, no source: cover of at most half, growth taken out, leaves dropped after a
    // change from air, at least 70 % planted from the first day, at most 30 % for looks.
    for (path, html) in pages(&guide("")) {
        if !path.starts_with("start/") {
            continue;
        }
        let parts: Vec<&str> = html
            .split("<section class=\"practice\"")
            .skip(1)
            .map(|part| part.split("</section>").next().expect("an end"))
            .collect();
        assert_eq!(parts.len(), 2, "{path}");
        for part in &parts {
            let mark = part
                .find("<p class=\"mark\">Common practice, no source.</p>")
                .expect("the mark");
            assert!(mark < part.find("<li>").expect("a rule"), "{path}");
        }
        for said in [
            "at least 70 %",
            "up to 30 %",
            "at most half of the surface",
            "cut and taken out",
            "no verdict",
            "ammonium, nitrite and nitrate",
            "once a week",
            "change water at once",
        ] {
            assert!(
                parts.iter().any(|part| part.contains(said)),
                "{path}: {said}"
            );
            let elsewhere = html.replace(parts[0], "").replace(parts[1], "");
            if said.contains('%') {
                assert!(!elsewhere.contains(said), "{path}: {said} without its mark");
            }
        }
    }
}

#[test]
fn the_usual_cautions_are_those_of_their_page() {
    let pages = pages(&guide(""));
    let items = |html: &str| -> BTreeSet<String> {
        html.split("<li>")
            .skip(1)
            .filter_map(|part| part.split("</li>").next())
            .filter(|item| !item.contains('<'))
            .map(str::to_owned)
            .collect()
    };
    let cautions = items(main_of(&pages["cautions/index.html"]));
    assert!(cautions.len() > 8, "{cautions:?}");
    let mut seen = 0;
    for (path, html) in &pages {
        if path.starts_with("start/") {
            assert!(cautions.is_subset(&items(main_of(html))), "{path}");
            seen += 1;
        }
    }
    assert!(seen > 1, "{seen}");
}

#[test]
fn every_plant_to_start_with_has_its_reason_and_confidence() {
    let mut seen = 0;
    for (path, html) in pages(&guide("")) {
        if !path.starts_with("start/") {
            continue;
        }
        for list in html.split("<ol class=\"ranked first\">").skip(1) {
            let list = list.split("</ol>").next().expect("an end");
            for item in list.split("<li><p>").skip(1) {
                assert!(item.contains("class=\"word\">mainstay<"), "{path}: {item}");
                assert!(item.contains("class=\"why\""), "{path}: {item}");
                assert!(item.contains("confidence <span"), "{path}: {item}");
                assert!(item.contains("How to thin"), "{path}: {item}");
                seen += 1;
            }
        }
    }
    assert!(seen > 2, "{seen}");
}

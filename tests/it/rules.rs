//! The rules on mentions and on regulated plants, held against whole sites.

use std::collections::BTreeMap;

use pondweigh::content::Input;
use pondweigh::{build, weigh};

use crate::support::{guide, input, pages, plant_links, regulated_here, text, weighed};

#[test]
fn no_plant_is_named_without_its_standing_nor_a_listed_one_without_its_notice() {
    for name in ["", "tests/guides/corner"] {
        let input = guide(name);
        let regulated = regulated_here(&weighed(&input));
        assert!(
            !regulated.is_empty(),
            "{name}: the guide has a regulated plant"
        );
        let mut seen = 0;
        for (path, html) in pages(&input) {
            let main = html.split("<main").nth(1).expect("a main part");
            for (slug, after) in plant_links(main) {
                let is_beside = after.starts_with(" <span class=\"standing\">")
                    || after.starts_with(" <span class=\"standing-note\">");
                assert!(
                    is_beside,
                    "{path}: {slug} stands without its standing: {}",
                    &after[..after.len().min(80)]
                );
                if regulated.contains(slug) {
                    seen += 1;
                    let before_next = after.split("<a href").next().unwrap_or_default();
                    assert!(
                        before_next.contains("class=\"law-note\""),
                        "{path}: {slug} stands without its notice"
                    );
                }
            }
        }
        assert!(seen > 0, "{name}: a regulated plant is named somewhere");
    }
}

#[test]
fn no_regulated_plant_is_recommended() {
    for name in ["", "tests/guides/corner"] {
        let input = guide(name);
        let weighed = weighed(&input);
        let regulated = regulated_here(&weighed);
        let pages = pages(&input);
        let (mut checked, mut apart) = (0, 0);
        for (slug, _) in plant_links(&pages["index.html"]) {
            assert!(!regulated.contains(slug), "{slug} is on the home page");
        }
        for plant in &weighed.standings.plants {
            for id in plant.instead.iter().flatten().flatten() {
                assert!(!regulated.contains(&weighed.names.plants[*id].slug));
            }
        }
        for (path, html) in &pages {
            // Lists of what does a job: a regulated mainstay or support stands in a list of its own,
            // which says so, and so never leads the others, not even where it is the only one.
            if path.starts_with("roles/") || path.starts_with("waters/") {
                for list in html.split("<ul class=\"").skip(1) {
                    let (class, rest) = list.split_once("\">").expect("a class");
                    let list = rest.split("</ul>").next().unwrap_or_default();
                    for (slug, after) in plant_links(list) {
                        let word = after.split("class=\"word\">").nth(1).unwrap_or_default();
                        let is_recommended = after.starts_with(" <span class=\"standing\">")
                            && (word.starts_with("mainstay") || word.starts_with("support"));
                        if is_recommended {
                            let is_apart = class.ends_with(" listed");
                            assert_eq!(
                                is_apart,
                                regulated.contains(slug),
                                "{path}: {slug} in a list of class {class}"
                            );
                            checked += 1;
                            apart += usize::from(is_apart && path.starts_with("waters/"));
                        }
                    }
                }
            }
            // Free pages are the club's own words.
            if !path.starts_with("pages/") {
                assert!(
                    !html.to_lowercase().contains("allowed"),
                    "{path} says “allowed”"
                );
            }
        }
        assert!(checked > 10, "{name}: only {checked} places were checked");
        assert!(
            apart > 0,
            "{name}: a water has a regulated plant that does a job"
        );
    }
}

#[test]
fn a_listed_plant_shows_its_notice_with_instrument_and_date() {
    let input = guide("");
    let weighed = weighed(&input);
    let pages = pages(&input);
    for (name, roles) in weighed.names.plants.iter().zip(&weighed.standings.plants) {
        let page = &pages[&format!("plants/{}/index.html", name.slug)];
        for (listing, _) in &roles.regulated {
            let listing = &weighed.guide.regulated[*listing];
            let instrument = listing.instrument.replace('&', "&amp;");
            assert!(page.contains(&instrument), "{}: {instrument}", name.slug);
            assert!(listing.date.as_ref().is_none_or(|date| page.contains(date)));
            assert!(page.contains("Local law decides"));
        }
        if !roles.is_regulated_here() {
            assert!(
                page.contains(
                    "Not found on the lists checked for England and Wales, England, as of "
                ),
                "{}",
                name.slug
            );
        }
    }
}

/// The small guide with a free page.
fn with_page(body: &str) -> BTreeMap<String, String> {
    let mut files: Vec<(String, Vec<u8>)> = guide("tests/site/guide").files;
    files.push((
        "content/pages/note.md".to_owned(),
        format!("# Note\n\n{body}\n").into_bytes(),
    ));
    files.sort();
    pages(&Input {
        files,
        unread: Vec::new(),
    })
}

#[test]
fn prose_links_the_first_mention_in_a_section() {
    let page = |body: &str| with_page(body)["pages/note/index.html"].clone();
    let html = page(
        "Vallisneria spiralis grows. Vallisneria spiralis again.\n\n## More\n\nVallisneria spiralis here.",
    );
    assert_eq!(html.matches("<a href=\"../../plants/vallisneria-spiralis/\">Vallisneria spiralis</a> <span class=\"standing-note\">(").count(), 2, "{html}");
    // Not in headings, quotations, links or code.
    for body in [
        "## Vallisneria spiralis\n\nText.",
        "> Vallisneria spiralis, they said.",
        "[Vallisneria spiralis](https://example.org/)",
        "`Vallisneria spiralis`",
        "Pseudovallisneria and Vallisneria-like plants.",
    ] {
        let html = page(body);
        let main = html.split("<main").nth(1).expect("a main part");
        assert!(!main.contains("standing-note"), "{body}: {main}");
    }
    // A loose name leads to its own page.
    let html = page("Vallisneria is a name for many.");
    assert!(html.contains("<a href=\"../../names/vallisneria/\">Vallisneria</a> <span class=\"standing-note\">(loose name: 1 plant)</span>"), "{html}");
    // A longer name wins over the genus in it.
    let html = page("Ceratophyllum demersum drifts.");
    assert!(
        html.contains("plants/ceratophyllum-demersum/\">Ceratophyllum demersum</a>"),
        "{html}"
    );
}

#[test]
fn a_plant_is_not_linked_on_its_own_page() {
    let mut files = guide("tests/site/guide").files;
    for (path, bytes) in &mut files {
        if path.ends_with("demersum.yaml") {
            let text = String::from_utf8(bytes.clone()).expect("UTF-8");
            *bytes = text
                .replace(
                    "summary: \"",
                    "summary: \"Ceratophyllum demersum shades Vallisneria spiralis. ",
                )
                .into_bytes();
        }
    }
    let pages = pages(&Input {
        files,
        unread: Vec::new(),
    });
    let html = &pages["plants/ceratophyllum-demersum/index.html"];
    assert!(
        html.contains(
            "<p>Ceratophyllum demersum shades <a href=\"../../plants/vallisneria-spiralis/\">"
        ),
        "{html}"
    );
}

#[test]
fn a_guide_may_lay_one_template_of_its_own_over_the_theme() {
    let mut files = guide("tests/site/guide").files;
    files.push((
        "themes/stillwater/sheets/words.html".to_owned(),
        b"{% extends \"base.html\" %}{% block main %}<h1>Our words</h1>{% endblock %}".to_vec(),
    ));
    files.push((
        "themes/stillwater/dress/guide.css".to_owned(),
        b"body { color: navy }".to_vec(),
    ));
    files.sort();
    let (built, faults) = build(
        &Input {
            files: files.clone(),
            unread: Vec::new(),
        },
        &|| {},
    );
    let site = built.unwrap_or_else(|| panic!("{faults:#?}")).site;
    let file = |path: &str| {
        let found = site.files.iter().find(|(p, _)| p == path).expect("a file");
        String::from_utf8(found.1.clone()).expect("UTF-8")
    };
    assert!(file("words/index.html").contains("<h1>Our words</h1>"));
    assert!(file("index.html").contains("Which kind of tank or pond is yours?"));
    assert_eq!(file("dress/guide.css"), "body { color: navy }");
    // A template that fails is a fault of the theme, with its file.
    for (path, bytes) in &mut files {
        if path.ends_with("words.html") {
            *bytes = b"{{ nothing.here }}".to_vec();
        }
    }
    let (built, faults) = build(
        &Input {
            files,
            unread: Vec::new(),
        },
        &|| {},
    );
    assert!(built.is_none());
    assert!(
        faults
            .iter()
            .any(|fault| fault.place.file.ends_with("sheets/words.html")),
        "{faults:#?}"
    );
}

#[test]
fn legal_listings_match_names_as_the_rules_say() {
    // The cases are those of the published lists: Pontederia crassipes is listed as Eichhornia
    // crassipes (Implementing Regulation (EU) 2016/1141), Elodea spp. genus-wide (SI 2010/609);
    // a species listing covers what stands below it (7 CFR 360.200, footnote 1).
    let base = [
        (
            "content/guide.yaml",
            "title: T\naddress: https://example.org/\npublisher: P\nlicence: CC0-1.0\ndefault-water: w\nplaces: [Here]\n",
        ),
        ("content/scales.yaml", "pace: [slow, fast]\n"),
        (
            "content/traits.yaml",
            "growth: {title: Growth, scale: pace}\n",
        ),
        ("content/forms.yaml", "any: {title: Any}\n"),
        (
            "content/roles.yaml",
            "uptake: {title: Uptake, mainstay: [{trait: growth, at-least: fast}]}\n",
        ),
        ("content/waters/w.yaml", "title: W\nconditions: {}\n"),
        ("content/sources/s.yaml", "title: S\nkind: log\n"),
        (
            "content/regulated.yaml",
            concat!(
                "- {listed-as: Eichhornia crassipes, covers: {taxon: Eichhornia crassipes}, place: Here, instrument: A, date: 2016-08-03}\n",
                "- {listed-as: Elodea spp., covers: {genus: Elodea}, place: Here, instrument: B}\n",
                "- {listed-as: Salvinia molesta, covers: {taxon: Salvinia molesta}, place: Elsewhere, instrument: C}\n",
            ),
        ),
    ];
    for (entry, genus, on_list, here, warns) in [
        (
            "name: Pontederia crassipes\nsynonyms: [Eichhornia crassipes (Mart.) Solms]\n",
            "pontederia",
            true,
            true,
            false,
        ),
        (
            "name: Eichhornia crassipes\n",
            "eichhornia",
            true,
            true,
            false,
        ),
        (
            "name: Eichhornia azurea\n",
            "eichhornia",
            false,
            false,
            false,
        ),
        ("name: Elodea nuttallii\n", "elodea", true, true, false),
        ("name: Elodea sp.\n", "elodea", true, true, false),
        (
            "name: Elodea canadensis 'Green'\n",
            "elodea",
            true,
            true,
            false,
        ),
        (
            "name: Egeria densa\nsynonyms: [Elodea densa]\n",
            "egeria",
            false,
            false,
            true,
        ),
        ("name: Salvinia × molesta\n", "salvinia", true, false, false),
        (
            "name: Salvinia molesta var. minor\n",
            "salvinia",
            true,
            false,
            false,
        ),
        (
            "name: Salvinia cf. molesta\n",
            "salvinia",
            false,
            false,
            true,
        ),
        ("name: Salvinia molesta ?\n", "salvinia", false, false, true),
        (
            "name: Salvinia aff. molesta\n",
            "salvinia",
            false,
            false,
            true,
        ),
        ("name: Salvinia sp.\n", "salvinia", false, false, true),
        ("name: Salvinia natans\n", "salvinia", false, false, false),
    ] {
        let path = format!("content/plants/{genus}/one.yaml");
        let entry = format!("{entry}form: any\n");
        let mut files = base.to_vec();
        files.push((&path, &entry));
        let (weighed, faults) = weigh(&input(&files));
        let weighed = weighed.unwrap_or_else(|| panic!("{entry}: {faults:#?}"));
        let roles = &weighed.standings.plants[0];
        assert_eq!(!roles.regulated.is_empty(), on_list, "{entry}");
        assert_eq!(roles.is_regulated_here(), here, "{entry}");
        assert_eq!(
            faults.iter().any(|fault| fault.title.contains("is near")),
            warns,
            "{entry}: {faults:#?}"
        );
    }
}

#[test]
fn every_generated_sentence_reads_as_one() {
    for name in ["", "tests/guides/corner"] {
        for (path, html) in pages(&guide(name)) {
            for part in html
                .split("class=\"why\">")
                .skip(1)
                .chain(html.split("class=\"sturdy\">").skip(1))
            {
                let sentence = part.split("</p>").next().unwrap_or_default();
                let plain: String = strip(sentence);
                for bad in [
                    "  ",
                    " ,",
                    " .",
                    "..",
                    "{{",
                    "}}",
                    "()",
                    "None",
                    "undefined",
                    " a unsuited",
                    "; )",
                ] {
                    assert!(!plain.contains(bad), "{path}: “{bad}” in: {plain}");
                }
                let first = plain.chars().next().expect("a sentence");
                assert!(
                    first.is_uppercase() && plain.ends_with('.'),
                    "{path}: {plain}"
                );
            }
        }
    }
}

/// Text without its tags.
pub(crate) fn strip(html: &str) -> String {
    let mut out = String::new();
    let mut is_tag = false;
    for c in html.chars() {
        match c {
            '<' => is_tag = true,
            '>' => is_tag = false,
            c if !is_tag => out.push(c),
            _ => {}
        }
    }
    out
}

#[test]
fn readme_says_what_the_program_prints() {
    let readme = text("README.md");
    assert!(readme.contains("cargo run --release --locked -- press"));
    assert!(readme.contains("bash tests/all"));
    assert_eq!(text(".ci/run").lines().last(), Some("bash tests/all"));
}

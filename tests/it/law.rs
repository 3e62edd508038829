//! Legal lists: a guide with all rows of `tests/reference/regulated.csv`, and what must hold of a
//! regulated plant on every page of every guide.
//!
//! The rows name place, instrument, date and how each was read; stored copies, not the law in force.

use std::collections::{BTreeMap, BTreeSet};

use pondweigh::content::Input;
use pondweigh::names::parse::parse;
use pondweigh::names::slug::slug;
use pondweigh::roles::Word;
use pondweigh::{Weighed, weigh};
use serde_json::Value;

use crate::rules::strip;
use crate::support::{
    CORNER, DEMO, Row, Site, guide, html_pages, input_of, plant, quoted, site_of, table,
};
use crate::support::{pages, plant_links, regulated_here};

/// The date of a row: a year, a month or a day at its start; none for an undated copy.
fn date(row: &Row) -> Option<String> {
    let first = row["date"].split(' ').next()?;
    first
        .starts_with(|c: char| c.is_ascii_digit())
        .then(|| first.to_owned())
}

/// `regulated.yaml` with every row of the table.
fn lists(rows: &[Row]) -> String {
    let mut out = String::new();
    for row in rows {
        let name = &row["accepted_name"];
        let covers = match name.strip_suffix(" spp.") {
            Some(genus) => format!("{{genus: {genus}}}"),
            None => format!("{{taxon: {}}}", quoted(name)),
        };
        out.push_str(&format!(
            "- listed-as: {}\n  covers: {covers}\n  place: {}\n  instrument: {}\n",
            quoted(&row["listed_as"]),
            quoted(&row["jurisdiction"]),
            quoted(&row["instrument"])
        ));
        if let Some(date) = date(row) {
            out.push_str(&format!("  date: \"{date}\"\n"));
        }
    }
    out
}

/// A plant of a test: its name, its synonyms, and how fast two logs say that it grows, if they do.
#[derive(Clone)]
struct Entry {
    name: String,
    synonyms: Vec<String>,
    pace: Option<&'static str>,
}

fn entry(name: &str, synonyms: &[&str]) -> Entry {
    Entry {
        name: name.to_owned(),
        synonyms: synonyms.iter().map(|name| (*name).to_owned()).collect(),
        pace: Some("fast"),
    }
}

/// A guide read in some places, with all lists and some plants that grow fast.
fn law_guide(places: &[&str], entries: &[Entry]) -> Input {
    let places: Vec<String> = places.iter().map(|place| quoted(place)).collect();
    let mut files: BTreeMap<String, String> = [
        (
            "guide.yaml",
            format!("title: Lists\naddress: https://lists.example.org/\npublisher: A circle\nlicence: CC0-1.0\ndefault-water: hall\nplaces: [{}]\n", places.join(", ")),
        ),
        ("scales.yaml", "pace: [slow, moderate, fast]\n".to_owned()),
        ("traits.yaml", "growth: {title: Growth, scale: pace}\n".to_owned()),
        ("forms.yaml", "water-plant: {title: Water plant}\n".to_owned()),
        (
            "roles.yaml",
            "nutrient-uptake: {title: Nutrient uptake, mainstay: [{trait: growth, at-least: fast}], support: [{trait: growth, at-least: moderate}]}\nshade: {title: Shade, mainstay: [{trait: growth, at-least: moderate}]}\n".to_owned(),
        ),
        ("waters/hall.yaml", "title: Hall tank\nconditions: {}\n".to_owned()),
        ("waters/tub.yaml", "title: Tub\nconditions: {}\n".to_owned()),
        ("sources/hall.yaml", "title: Log of the hall\nkind: log\n".to_owned()),
        ("sources/porch.yaml", "title: Log of the porch\nkind: log\n".to_owned()),
        ("regulated.yaml", lists(&table("regulated.csv"))),
    ]
    .into_iter()
    .map(|(path, text)| (format!("content/{path}"), text))
    .collect();
    for entry in entries {
        let synonyms: Vec<String> = entry.synonyms.iter().map(|name| quoted(name)).collect();
        let genus = entry.name.trim_start_matches('×').trim();
        let genus = genus.split(' ').next().expect("a genus").to_lowercase();
        let mut text = format!(
            "name: {}\nform: water-plant\nsynonyms: [{}]\n",
            quoted(&entry.name),
            synonyms.join(", ")
        );
        if let Some(pace) = entry.pace {
            text.push_str("claims:\n");
            for source in ["hall", "porch"] {
                let claim = format!("  - {{trait: growth, source: {source}, says: {pace}}}\n");
                text.push_str(&claim);
            }
        }
        files.insert(
            format!("content/plants/{genus}/{}.yaml", slug(&entry.name)),
            text,
        );
    }
    input_of(&files)
}

/// The names of a plant that its rows list besides the accepted one, where they are Latin ones.
fn listed_synonyms(rows: &[Row], accepted: &str) -> Vec<String> {
    let mut out = BTreeSet::new();
    for row in rows.iter().filter(|row| row["accepted_name"] == accepted) {
        let texts = row["listed_as"].split(" or ").flat_map(|part| {
            let inside = part
                .split_once('(')
                .and_then(|(_, rest)| rest.split_once(')'));
            [Some(part), inside.map(|(inside, _)| inside)]
        });
        for text in texts.flatten() {
            let name = parse(text);
            if let (Some(genus), Some(species)) = (&name.genus, &name.species)
                && text.starts_with(char::is_uppercase)
            {
                out.insert(format!("{genus} {species}"));
            }
        }
    }
    out.remove(accepted);
    out.into_iter().collect()
}

/// Every plant of the lists, and three that are on none.
fn all_listed() -> Vec<Entry> {
    let rows = table("regulated.csv");
    let names: BTreeSet<&str> = rows
        .iter()
        .map(|row| row["accepted_name"].as_str())
        .collect();
    let mut entries: Vec<Entry> = names
        .into_iter()
        .filter(|name| !name.ends_with(" spp."))
        .map(|name| Entry {
            name: name.to_owned(),
            synonyms: listed_synonyms(&rows, name),
            pace: Some(pace_of(name)),
        })
        .collect();
    for name in UNLISTED {
        entries.push(Entry {
            pace: Some(pace_of(name)),
            ..entry(name, &[])
        });
    }
    entries
}

/// How fast a plant is said to grow: two are slow, so that others are named instead of them.
fn pace_of(name: &str) -> &'static str {
    match name {
        "Lysichiton americanus" | "Hygrophila difformis" => "slow",
        _ => "fast",
    }
}

/// Plants that stand in no row of the table.
const UNLISTED: [&str; 3] = [
    "Hydrocharis morsus-ranae",
    "Limnophila aquatica",
    "Hygrophila difformis",
];

fn weighed(input: &Input) -> Weighed {
    let (weighed, faults) = weigh(input);
    weighed.unwrap_or_else(|| panic!("{faults:#?}"))
}

/// Notices by place, instrument and the name listed; and whether each is of a place where the guide
/// is read.
type Notices = BTreeMap<(String, String, String), bool>;

/// The notices of a plant.
fn notices(weighed: &Weighed, slug: &str) -> Notices {
    let roles = &weighed.standings.plants[plant(weighed, slug)];
    roles
        .regulated
        .iter()
        .map(|(listing, here)| {
            let row = &weighed.guide.regulated[*listing];
            let notice = (
                row.place.clone(),
                row.instrument.clone(),
                row.listed_as.clone(),
            );
            (notice, *here)
        })
        .collect()
}

/// The notices of one plant in a guide read in some places, and the places of those that only
/// come near.
fn of_one(places: &[&str], one: &Entry) -> (Notices, BTreeSet<String>) {
    let input = law_guide(places, std::slice::from_ref(one));
    let (weighed, faults) = weigh(&input);
    let weighed = weighed.unwrap_or_else(|| panic!("{}: {faults:#?}", one.name));
    let near: BTreeSet<String> = weighed.standings.plants[0]
        .near
        .iter()
        .map(|at| weighed.guide.regulated[*at].place.clone())
        .collect();
    let warned = faults.iter().any(|fault| fault.title.contains("is near"));
    assert_eq!(!near.is_empty(), warned, "{}: {faults:#?}", one.name);
    (notices(&weighed, &slug(&one.name)), near)
}

fn places_of(notices: &Notices) -> BTreeSet<&str> {
    notices.keys().map(|(place, _, _)| place.as_str()).collect()
}

#[test]
fn every_row_of_the_lists_raises_its_notice_with_instrument_and_date() {
    // regulated.md, check 8: every notice shows instrument and date and says that local law decides.
    let rows = table("regulated.csv");
    assert_eq!(rows.len(), 88);
    let input = law_guide(&["England and Wales"], &all_listed());
    let weighed = weighed(&input);
    assert_eq!(weighed.guide.regulated.len(), 88);
    let undated = weighed
        .guide
        .regulated
        .iter()
        .filter(|row| row.date.is_none())
        .count();
    assert_eq!(undated, 19 + 5, "19 undated copies, 5 undated pages");
    assert!(
        rows.iter()
            .any(|row| date(row).as_deref() == Some("2012") && row["date"] == "2012 list")
    );
    let pages = pages(&input);
    for row in rows
        .iter()
        .filter(|row| !row["accepted_name"].ends_with(" spp."))
    {
        let slug = slug(&row["accepted_name"]);
        let notice = (
            row["jurisdiction"].clone(),
            row["instrument"].clone(),
            row["listed_as"].clone(),
        );
        let here = notices(&weighed, &slug).get(&notice).copied();
        assert_eq!(
            here,
            Some(row["jurisdiction"] == "England and Wales"),
            "{notice:?}"
        );
        let text = strip(&pages[&format!("plants/{slug}/index.html")]);
        let said = format!(
            "{}, {}. Local law decides.",
            row["instrument"].replace('&', "&amp;"),
            date(row).unwrap_or_else(|| "no date given".to_owned())
        );
        assert!(text.contains(&said), "{slug}: {said}");
    }
}

#[test]
fn one_plant_raises_the_same_notices_under_every_name() {
    // regulated.md, check 1. Implementing Regulations (EU) 2016/1141 and 2019/1262 and the other
    // rows of the table list these plants under different names.
    for (names, least) in [
        (&["Pontederia crassipes", "Eichhornia crassipes"][..], 5),
        (
            &["Salvinia molesta", "Salvinia × molesta", "Salvinia adnata"],
            7,
        ),
        (&["Ludwigia hexapetala", "Ludwigia uruguayensis"], 1),
    ] {
        let mut found = Vec::new();
        for name in names {
            let others: Vec<&str> = names
                .iter()
                .copied()
                .filter(|other| other != name)
                .collect();
            let (notices, near) = of_one(&["England and Wales"], &entry(name, &others));
            assert!(near.is_empty(), "{name}: {near:?}");
            assert!(notices.len() >= least, "{name}: {notices:?}");
            found.push(notices);
        }
        assert!(
            found.windows(2).all(|pair| pair[0] == pair[1]),
            "{names:?}: {found:#?}"
        );
    }
    // The sign alone makes no other plant.
    let with = of_one(&[], &entry("Salvinia × molesta", &[])).0;
    assert_eq!(with, of_one(&[], &entry("Salvinia molesta", &[])).0);
    assert!(!with.is_empty());
}

#[test]
fn a_genus_wide_listing_matches_every_plant_of_the_genus() {
    // regulated.md, check 2: Elodea spp., Wildlife and Countryside Act 1981, Schedule 9, as varied
    // by SI 2010/609.
    for name in [
        "Elodea canadensis",
        "Elodea nuttallii",
        "Elodea callitrichoides",
        "Elodea canadensis 'Lantern'",
        "Elodea canadensis var. gigantea",
        "Elodea 'Lantern'",
        "Elodea × lanternensis",
        "Elodea sp. 'Ford'",
        "Elodea cf. canadensis",
        "Elodea sp.",
        "Elodea spp.",
        "Elodea",
    ] {
        // Under a genus alone nothing may be weighed; the notice stands all the same.
        let is_genus = ["Elodea sp.", "Elodea spp.", "Elodea"].contains(&name);
        let one = Entry {
            pace: (!is_genus).then_some("fast"),
            ..entry(name, &[])
        };
        let (notices, _) = of_one(&["England and Wales"], &one);
        let genus_wide = notices.iter().filter(|((_, instrument, listed_as), here)| {
            **here && instrument.contains("SI 2010/609") && listed_as == "Elodea (all species)"
        });
        assert_eq!(genus_wide.count(), 1, "{name}: {notices:?}");
    }
    let (notices, _) = of_one(&["England and Wales"], &entry("Egeria najas", &[]));
    assert!(notices.is_empty(), "{notices:?}");
}

#[test]
fn a_listed_species_covers_what_stands_below_it() {
    // regulated.md, check 3; 7 CFR 360.200(a), footnote 1: listing covers all subordinate taxa.
    let federal = "United States (federal)";
    let (species, _) = of_one(&[federal], &entry("Hydrilla verticillata", &[]));
    assert!(places_of(&species).contains(federal));
    for name in [
        "Hydrilla verticillata subsp. lanterna",
        "Hydrilla verticillata var. lanterna",
        "Hydrilla verticillata f. lanterna",
        "Hydrilla verticillata 'Lantern'",
        "Hydrilla verticillata var. lanterna 'Ford'",
        "Hydrilla verticillata (L.f.) Royle",
    ] {
        let (notices, _) = of_one(&[federal], &entry(name, &[]));
        assert_eq!(notices, species, "{name}");
    }
}

#[test]
fn a_doubtful_name_or_a_hybrid_near_a_listed_one_warns() {
    // regulated.md, check 4.
    for name in [
        "Salvinia cf. molesta",
        "Salvinia aff. molesta",
        "Salvinia molesta ?",
        "Salvinia natans × Salvinia molesta",
        "Ludwigia cf. grandiflora",
    ] {
        let (notices, near) = of_one(&["England and Wales"], &entry(name, &[]));
        assert!(near.contains("England and Wales"), "{name}: {near:?}");
        assert!(notices.is_empty(), "{name}: {notices:?}");
        let pages = pages(&law_guide(&["England and Wales"], &[entry(name, &[])]));
        let text = strip(&pages[&format!("plants/{}/index.html", slug(name))]);
        assert!(text.contains("Near a listed name:"), "{name}");
        assert!(text.contains("local law decides"), "{name}");
    }
    let (notices, near) = of_one(&["England and Wales"], &entry("Salvinia natans", &[]));
    assert!(notices.is_empty() && near.is_empty());
}

#[test]
fn the_place_decides_which_list_speaks() {
    // regulated.md, check 5: 7 CFR 360.200 and the Union list (2016/1141 and later) differ both ways.
    let (federal, union) = ("United States (federal)", "European Union");
    for name in ["Hygrophila polysperma", "Limnophila sessiliflora"] {
        let (notices, _) = of_one(&[union], &entry(name, &[]));
        let places = places_of(&notices);
        assert!(
            places.contains(federal) && !places.contains(union),
            "{name}: {places:?}"
        );
        assert!(notices.values().all(|here| !here), "{name}");
        assert!(
            of_one(&[federal], &entry(name, &[]))
                .0
                .values()
                .any(|here| *here)
        );
    }
    let cabomba = entry("Cabomba caroliniana", &[]);
    let (notices, _) = of_one(&[federal], &cabomba);
    let places = places_of(&notices);
    let expected = [
        "Australia (national priority list)",
        "England and Wales",
        union,
        "Scotland",
    ];
    assert_eq!(places, BTreeSet::from(expected));
    assert!(notices.values().all(|here| !here));
    for place in expected {
        let (notices, _) = of_one(&[place], &cabomba);
        assert!(
            notices
                .iter()
                .all(|((found, _, _), here)| *here == (found == place)),
            "{place}"
        );
        assert!(notices.values().any(|here| *here), "{place}");
    }
}

#[test]
fn the_best_takers_never_stand_without_their_notice() {
    // regulated.md, check 6. Each place with those of its list; Ceratophyllum in New Zealand.
    for (place, names) in [
        (
            "European Union",
            &[
                "pontederia-crassipes",
                "pistia-stratiotes",
                "salvinia-molesta",
                "elodea-nuttallii",
            ][..],
        ),
        (
            "United States (federal)",
            &["hydrilla-verticillata", "salvinia-molesta"],
        ),
        (
            "New Zealand",
            &["ceratophyllum-demersum", "hydrilla-verticillata"],
        ),
    ] {
        let mut entries = all_listed();
        entries.retain(|one| {
            UNLISTED.contains(&one.name.as_str()) || names.contains(&slug(&one.name).as_str())
        });
        let input = law_guide(&[place], &entries);
        let weighed = weighed(&input);
        for name in names {
            let roles = &weighed.standings.plants[plant(&weighed, name)];
            let standing = roles.standings[0][0].as_ref().expect("a standing");
            assert_eq!(standing.word, Word::Mainstay, "{name}");
            assert!(roles.is_regulated_here(), "{name} in {place}");
        }
        check_regulated(place, &input, &site_of(&input));
    }
}

#[test]
fn absence_from_the_lists_is_never_leave() {
    // regulated.md, check 7. The date is that of the newest list for the place.
    let undated = pages(&law_guide(&["United States (federal)"], &all_listed()));
    for name in UNLISTED {
        let text = strip(&undated[&format!("plants/{}/index.html", slug(name))]);
        assert!(text.contains("as of copies that bear no date."), "{name}");
    }
    let input = law_guide(&["England and Wales"], &all_listed());
    let pages = pages(&input);
    for name in UNLISTED {
        let text = strip(&pages[&format!("plants/{}/index.html", slug(name))]);
        assert!(
            text.contains(
                "Not found on the lists checked for England and Wales, as of 2019-12-01."
            ),
            "{name}"
        );
        assert!(
            text.contains("Local law decides: check it where you are."),
            "{name}"
        );
    }
    // Listed elsewhere alone: still only "not found" here.
    let text = strip(&pages["plants/hygrophila-polysperma/index.html"]);
    assert!(text.contains("Listed elsewhere: United States (federal)"));
    assert!(text.contains("Not found on the lists checked for England and Wales"));
    let mut sentences = 0;
    let own = site_of(&input);
    for (name, site) in [("lists", &own), ("demo", &*DEMO), ("corner", &*CORNER)] {
        for (path, html) in html_pages(site) {
            let text = strip(html);
            let faults = leave_given(&text);
            assert!(faults.is_empty(), "{name}: {path}: {faults:?}");
            sentences += html.matches("ot found on the lists checked").count();
        }
    }
    assert!(sentences > UNLISTED.len());
    // The scan finds what it looks for.
    assert_eq!(
        leave_given("It is allowed here. It is not permitted there.").len(),
        1
    );
    assert_eq!(leave_given("Legal to keep in Wales").len(), 1);
}

/// Sentences that say a plant may be kept.
fn leave_given(text: &str) -> Vec<&str> {
    let words = [
        "allowed",
        "legal to ",
        "lawful",
        "permitted",
        "may be kept",
        "may keep",
        "unregulated",
        "not regulated",
        "not listed",
    ];
    text.split(['.', '\n'])
        .filter(|sentence| {
            let sentence = sentence.to_lowercase();
            // "Local law decides what may be kept" and "does not mean that it is allowed" give none.
            let is_denied = [
                "does not mean",
                "not permitted",
                "local law decides",
                "not decide",
            ]
            .iter()
            .any(|denial| sentence.contains(denial));
            words.iter().any(|word| sentence.contains(word)) && !is_denied
        })
        .collect()
}

/// Holds a whole pressed site against the rules on plants that are regulated where it is read.
fn check_regulated(guide_name: &str, input: &Input, site: &Site) {
    let regulated = regulated_here(&weighed(input));
    assert!(!regulated.is_empty(), "{guide_name} has a regulated plant");
    let mut named = 0;
    let (mut recommended, mut apart) = (0, 0);
    for (path, bytes) in site {
        if path.ends_with("plant.json") {
            let data: Value = serde_json::from_slice(bytes).expect("JSON");
            for (water, roles) in data["instead"].as_object().expect("waters") {
                for (role, list) in roles.as_object().expect("roles") {
                    for slug in list.as_array().expect("a list") {
                        let slug = slug.as_str().expect("a slug");
                        assert!(
                            !regulated.contains(slug),
                            "{guide_name}: {path}: {slug} instead in {water} {role}"
                        );
                        recommended += 1;
                    }
                }
            }
        }
        if !path.ends_with(".html") {
            continue;
        }
        let html = std::str::from_utf8(bytes).expect("UTF-8");
        let main = html.split("<main").nth(1).expect("a main part");
        for (slug, after) in plant_links(main) {
            if !regulated.contains(slug) {
                continue;
            }
            named += 1;
            assert_ne!(
                path, "index.html",
                "{guide_name}: {slug} is on the home page"
            );
            // Wherever its name stands, its standing and its notice stand before the next link.
            let beside = after.split("<a href").next().unwrap_or_default();
            assert!(
                beside.contains("law-note"),
                "{guide_name}: {path}: {slug} without its notice"
            );
        }
        // Lists of what does a job: a regulated plant stands in one of its own, marked as such.
        let is_list_page = ["roles/", "waters/", "start/", "index.html"]
            .iter()
            .any(|head| path.starts_with(head));
        if !is_list_page {
            continue;
        }
        for list in main.split("<ul").skip(1).chain(main.split("<ol").skip(1)) {
            let (attributes, rest) = list.split_once('>').expect("a tag");
            let body = rest.split("</ul>").next().unwrap_or_default();
            let body = body.split("</ol>").next().unwrap_or_default();
            let is_apart = attributes.contains("listed\"");
            for (slug, after) in plant_links(body) {
                let beside = after.split("<a href").next().unwrap_or_default();
                let word = beside.split("class=\"word\">").nth(1).unwrap_or_default();
                let does_the_job = word.starts_with("mainstay") || word.starts_with("support");
                // In a starting set no regulated plant has a place, whatever its standing.
                if regulated.contains(slug) && (does_the_job || path.starts_with("start/")) {
                    assert!(
                        is_apart,
                        "{guide_name}: {path}: {slug} among those to choose from"
                    );
                    apart += 1;
                }
            }
        }
    }
    assert!(
        named > 0,
        "{guide_name}: a regulated plant is named somewhere"
    );
    assert!(
        recommended > 0,
        "{guide_name}: something is named to use instead"
    );
    assert!(
        apart > 0,
        "{guide_name}: a regulated plant that does a job stands apart"
    );
}

#[test]
fn no_regulated_plant_is_recommended_anywhere() {
    check_regulated("demo", &guide(""), &DEMO);
    check_regulated("corner", &guide("tests/guides/corner"), &CORNER);
    let lists = law_guide(&["England and Wales"], &all_listed());
    check_regulated("lists", &lists, &site_of(&lists));
}

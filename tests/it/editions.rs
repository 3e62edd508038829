//! Editions and shifts: stable bytes, what moved and why, the pages and the feed.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::{Command, Output};

use pondweigh::content::Input;
use pondweigh::editions::{Edition, Head, as_json, as_markdown, as_text, path, read, text};
use pondweigh::{Weighed, build, weigh};
use quick_xml::events::Event;

use crate::support::{
    DEMO, Site, check_expected, folder, guide, html_pages, input_of, plant_links, project, site_of,
    weighed,
};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn said(output: &Output) -> String {
    let text = [output.stdout.as_slice(), output.stderr.as_slice()].concat();
    String::from_utf8(text).expect("UTF-8")
}

/// The texts of a guide, to be changed by a test.
fn texts(name: &str) -> BTreeMap<String, String> {
    let files = guide(name).files.into_iter();
    files
        .filter_map(|(path, bytes)| Some((path, String::from_utf8(bytes).ok()?)))
        .collect()
}

fn with(files: &BTreeMap<String, String>, path: &str, from: &str, to: &str) -> Input {
    let mut files = files.clone();
    let text = files.get_mut(path).expect("the file");
    assert!(text.contains(from), "{path} lacks {from}");
    *text = text.replace(from, to);
    input_of(&files)
}

fn head(date: Option<&str>, number: u32) -> Head {
    Head {
        date: date.map(|date| date.parse().expect("a day")),
        number,
        note: "A note.".to_owned(),
    }
}

fn record(input: &Input) -> Edition {
    weighed(input).record(head(Some("2026-05-01"), 9), input)
}

const CASES: &str = "tests/cases/shifts";

/// Each pair of neighbours of a history, in all three forms.
#[test]
fn shifts_of_a_history_of_three_editions_are_as_expected() {
    let mut wrong = Vec::new();
    for entry in std::fs::read_dir(project(CASES)).expect("cases") {
        let folder = entry.expect("a case").path();
        let name = folder.file_name().expect("a name").to_string_lossy();
        let input = guide(&format!("{CASES}/{name}"));
        let weighed = weighed(&input);
        assert!(weighed.editions.len() >= 3, "{name}");
        let now = weighed.record(head(None, 99), &input);
        let all: Vec<&Edition> = weighed.editions.iter().chain([&now]).collect();
        let told = weighed.told();
        let mut forms: [Vec<String>; 3] = Default::default();
        for pair in all.windows(2) {
            let shifts = weighed.shifts(pair[0], pair[1]);
            forms[0].push(as_text(&shifts, told));
            forms[1].push(as_markdown(&shifts, told));
            let json = as_json(&shifts, told);
            serde_json::from_str::<serde_json::Value>(&json).expect("JSON");
            forms[2].push(json.trim_end().to_owned());
        }
        let [text, markdown, json] = forms;
        for (file, found) in [
            ("expected.txt", text.join("\n")),
            ("expected.md", markdown.join("\n")),
            ("expected.json", format!("[{}]\n", json.join(",\n"))),
        ] {
            wrong.extend(check_expected(&folder.join(file), &found).err());
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn a_claim_that_is_no_longer_weighed_is_told_as_such() {
    let before = guide("tests/site/guide");
    let (path, bytes) = before
        .files
        .iter()
        .find(|(path, _)| path.ends_with("vallisneria/spiralis.yaml"))
        .expect("an entry");
    let text = String::from_utf8(bytes.clone()).expect("text");
    let line = text
        .lines()
        .find(|line| line.contains("trait: light-need") && line.ends_with('}'))
        .expect("a claim");
    let old = weighed(&before);
    let from = old.record(head(Some("2026-01-01"), 1), &before);
    for (with, words) in [
        ("set-aside: Wrong tank.", ", set aside: Wrong tank."),
        ("stage: settling", ", while it was settling in: not weighed"),
    ] {
        let other = line.replace('}', &format!(", {with}}}"));
        let mut input = before.clone();
        for (of, bytes) in &mut input.files {
            if of == path {
                *bytes = text.replace(line, &other).into_bytes();
            }
        }
        let now = weighed(&input);
        let shifts = now.shifts(&from, &now.record(head(None, 2), &input));
        let told = as_text(&shifts, now.told());
        assert!(told.contains(words), "{with}: {told}");
    }
}

#[test]
fn the_same_guide_gives_the_same_bytes_in_order() {
    let input = guide("");
    let one = text(&record(&input));
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(5)
        .build()
        .expect("a pool");
    assert_eq!(one, pool.install(|| text(&record(&input))));
    assert!(one.ends_with("}\n"));
    let lines: Vec<&str> = one
        .lines()
        .filter(|line| line.starts_with('"') && line.contains("\"name\":"))
        .collect();
    assert_eq!(lines.len(), weighed(&input).names.plants.len());
    assert!(lines.is_sorted(), "one line a plant, sorted");
    // Small: two kilobytes a plant.
    assert!(one.len() < lines.len() * 2000, "{} bytes", one.len());
}

#[test]
fn an_edition_read_back_is_what_was_written() {
    for name in [
        "",
        "tests/guides/corner",
        "tests/cases/shifts/three-editions",
    ] {
        let input = guide(name);
        let edition = record(&input);
        let file = path("2026-05-01".parse().expect("a day"));
        let (found, faults) = read(&Input {
            files: vec![(file, text(&edition).into_bytes())],
            unread: Vec::new(),
        });
        assert!(faults.is_empty(), "{faults:#?}");
        assert_eq!(found, [edition]);
    }
    // And the editions that stand in the tree are as the program writes them.
    for name in ["", "tests/cases/shifts/three-editions"] {
        let input = guide(name);
        for edition in read(&input).0 {
            let file = path(edition.head.date.expect("a day"));
            assert_eq!(input.text(&file), Some(text(&edition).as_str()), "{file}");
        }
    }
}

#[test]
fn a_claim_keeps_its_stamp_wherever_it_stands() {
    let files = texts("tests/cases/shifts/three-editions");
    let before = record(&input_of(&files));
    let plant = "content/plants/vallisneria/spiralis.yaml";
    let claim =
        "  - {trait: growth, source: trial, where: {light: low}, doubles-in: 24 d, of: mass}\n";
    // Into the source's file.
    let mut moved = files.clone();
    let text = moved[plant].replace(claim, "");
    moved.insert(plant.to_owned(), text);
    moved.insert(
        "content/sources/trial.yaml".to_owned(),
        format!(
            "{}claims:\n  - {{plant: Vallisneria spiralis, trait: growth, where: {{light: low}}, doubles-in: 24 d, of: mass, remark: As it stands.}}\n",
            files["content/sources/trial.yaml"]
        ),
    );
    assert_eq!(record(&input_of(&moved)).plants, before.plants);
    // In another order, with another file's name.
    let mut turned = files.clone();
    let text = turned.remove(plant).expect("the file");
    let text = format!("{}{claim}", text.replace(claim, ""));
    turned.insert("content/plants/vallisneria/long-leaf.yaml".to_owned(), text);
    assert_eq!(record(&input_of(&turned)).plants, before.plants);
    // What it says is another thing.
    let other = with(&files, plant, "doubles-in: 24 d", "doubles-in: 23 d");
    let claims = |edition: &Edition| {
        edition.plants["vallisneria-spiralis"].traits["growth"]
            .claims
            .clone()
    };
    assert_ne!(claims(&record(&other)), claims(&before));
}

/// What `shifts` tells of one plant between two states of the small history.
fn told(from: &Input, to: &Input) -> String {
    let weighed = weighed(to);
    let now = weighed.record(head(None, 2), to);
    let shifts = weighed.shifts(&record(from), &now);
    as_text(&shifts, weighed.told())
}

#[test]
fn a_shift_without_a_claim_names_what_else_changed() {
    let files = texts("tests/cases/shifts/three-editions");
    let before = input_of(&files);
    for (path, from, to, words) in [
        (
            "content/roles.yaml",
            "at-least: very-fast",
            "at-least: moderate",
            "roles.yaml says something else",
        ),
        (
            "content/sources/bench-notes.yaml",
            "kind: log",
            "kind: study",
            "the source bench-notes is of another kind",
        ),
        (
            "content/waters/low.yaml",
            "light: low",
            "light: medium",
            "waters/low.yaml says something else",
        ),
        (
            "content/plants/vallisneria/spiralis.yaml",
            "form: rosette",
            "form: floating",
            "the plant has other growth forms",
        ),
    ] {
        let text = told(&before, &with(&files, path, from, to));
        assert!(text.contains(words), "{path}: {text}");
        assert!(!text.contains("neither a rule"), "{path}: {text}");
    }
    // A comment is no rule.
    let text = told(
        &before,
        &with(
            &files,
            "content/roles.yaml",
            "every-role:",
            "# A remark.\nevery-role:",
        ),
    );
    assert!(text.contains("Nothing moved"), "{text}");
}

#[test]
fn a_new_job_or_tank_turns_no_standing() {
    let files = texts("tests/cases/shifts/three-editions");
    let mut more = files.clone();
    more.insert(
        "content/waters/jar.yaml".to_owned(),
        "title: Jar\nconditions: {light: low}\n".to_owned(),
    );
    let text = told(&input_of(&files), &input_of(&more));
    assert!(text.contains("A new kind of tank or pond: Jar."), "{text}");
    assert!(!text.contains('→'), "{text}");
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    for entry in std::fs::read_dir(from).expect("a folder") {
        let entry = entry.expect("an entry");
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).expect("a copy");
        }
    }
}

#[test]
fn an_edition_is_recorded_once_and_only_where_something_moved() {
    let dir = folder("an-edition");
    copy(&project("tests/site/guide"), &dir);
    let at = dir.to_str().expect("a path");
    let none = run(&["shifts", "--guide", at]);
    assert_eq!(none.status.code(), Some(0));
    assert!(
        said(&none).starts_with("No edition has been recorded yet."),
        "{}",
        said(&none)
    );
    let edition = |date: &str| run(&["edition", at, "--note", "A  note.\n", "--date", date]);
    let first = edition("2026-01-10");
    assert_eq!(first.status.code(), Some(0), "{}", said(&first));
    assert_eq!(
        said(&first),
        "Recorded edition 1 (2026-01-10) of 2 plants in content/editions/2026-01-10.json.\n"
    );
    // Nothing moved.
    let again = edition("2026-02-10");
    assert_eq!(again.status.code(), Some(1));
    assert_eq!(
        said(&again),
        "Nothing moved since 2026-01-10: no edition is needed.\n"
    );
    let file = dir.join("content/sources/my-log.yaml");
    let old = std::fs::read_to_string(&file).expect("text");
    std::fs::write(&file, old.replace("kind: log", "kind: hearsay")).expect("written");
    // On the same day, or before the last.
    for date in ["2026-01-10", "2026-01-09"] {
        let refused = edition(date);
        assert_eq!(refused.status.code(), Some(1));
        assert!(said(&refused).contains("hint: "), "{}", said(&refused));
    }
    // Of a day to come, which would stand in the way of every other.
    let ahead = edition("9026-01-11");
    assert_eq!(ahead.status.code(), Some(1));
    assert!(
        said(&ahead).contains("9026-01-11 has not come yet"),
        "{}",
        said(&ahead)
    );
    let second = edition("2026-02-10");
    assert_eq!(second.status.code(), Some(0), "{}", said(&second));
    assert!(said(&second).starts_with("Recorded edition 2 (2026-02-10)"));
    let written =
        std::fs::read_to_string(dir.join("content/editions/2026-02-10.json")).expect("it");
    assert!(written.contains("\"note\":\"A note.\""), "{written}");
    // With a fault there is none.
    std::fs::write(&file, old.replace("kind: log", "kind: rumour")).expect("written");
    let faulty = edition("2026-03-10");
    assert_eq!(faulty.status.code(), Some(1));
    assert!(
        said(&faulty).contains("no edition is recorded"),
        "{}",
        said(&faulty)
    );
    assert!(!dir.join("content/editions/2026-03-10.json").exists());
    // Days that are none of the guide's.
    std::fs::write(&file, old).expect("written");
    let unknown = run(&["shifts", "--guide", at, "--from", "2020-01-01"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(
        said(&unknown).contains("the guide has 2026-01-10, 2026-02-10"),
        "{}",
        said(&unknown)
    );
    let turned = run(&[
        "shifts",
        "--guide",
        at,
        "--from",
        "2026-02-10",
        "--to",
        "2026-01-10",
    ]);
    assert_eq!(turned.status.code(), Some(2));
}

/// The demonstration guide's last two editions have a shift that is worth a look.
#[test]
fn the_demo_has_editions_between_which_standings_turned() {
    let input = guide("");
    let weighed = weighed(&input);
    let [.., before, after] = &weighed.editions[..] else {
        panic!("two editions");
    };
    let shifts = weighed.shifts(before, after);
    let tally = shifts.tally();
    assert!(tally.turns >= 3 && tally.traits >= 5, "{tally:?}");
    let rose = shifts
        .plants
        .iter()
        .flat_map(|plant| &plant.traits)
        .any(|of| {
            let step = of.overall.as_ref();
            step.is_some_and(|step| {
                let confidence = |mark: &Option<pondweigh::editions::Mark>| {
                    mark.as_ref().map(|mark| mark.confidence)
                };
                step.from.is_some() && confidence(&step.to) > confidence(&step.from)
            })
        });
    assert!(rose, "a confidence rose");
    for plant in &shifts.plants {
        assert!(plant.causes.is_empty(), "{}: claims did it all", plant.slug);
    }
}

fn page<'a>(site: &'a Site, address: &str) -> &'a str {
    let bytes = site.get(address).unwrap_or_else(|| panic!("no {address}"));
    std::str::from_utf8(bytes).expect("UTF-8")
}

#[test]
fn every_plant_of_an_edition_can_be_cited_on_its_page() {
    let weighed = weighed(&guide(""));
    for edition in &weighed.editions {
        let date = edition.head.date.expect("a day");
        let html = page(&DEMO, &format!("editions/{date}/index.html"));
        let ids: BTreeSet<&str> = html
            .split(" id=\"")
            .skip(1)
            .filter_map(|part| part.split('"').next())
            .collect();
        for slug in edition.plants.keys() {
            assert!(ids.contains(slug.as_str()), "{date}: {slug}");
        }
        assert!(DEMO.contains_key(&format!("editions/{date}/edition.json")));
    }
    let latest = weighed.editions.last().expect("an edition");
    let date = latest.head.date.expect("a day");
    for slug in latest.plants.keys() {
        let html = page(&DEMO, &format!("plants/{slug}/index.html"));
        let cite = html
            .split("<section id=\"cite\"")
            .nth(1)
            .expect("how to cite");
        let cite = cite.split("</section>").next().expect("its end");
        assert!(
            cite.contains(&format!("edition {} ({date})", latest.head.number)),
            "{slug}"
        );
        assert!(
            cite.contains(&format!("/editions/{date}/#{slug}")),
            "{slug}"
        );
        let json: serde_json::Value =
            serde_json::from_slice(&DEMO[&format!("plants/{slug}/plant.json")]).expect("JSON");
        assert_eq!(json["edition"], date.to_string(), "{slug}");
    }
    let index: serde_json::Value = serde_json::from_slice(&DEMO["data/guide.json"]).expect("JSON");
    let dates: Vec<String> = index["editions"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|row| row["date"].as_str().expect("a day").to_owned())
        .collect();
    let own: Vec<String> = weighed
        .editions
        .iter()
        .filter_map(|edition| edition.head.date.map(|date| date.to_string()))
        .collect();
    assert_eq!(dates, own);
}

/// The turns on a plant's page are those of the shifts, each once.
#[test]
fn the_history_of_a_plant_tells_every_turn() {
    let weighed = weighed(&guide(""));
    let mut turns: BTreeMap<&str, usize> = BTreeMap::new();
    let shifts: Vec<_> = weighed
        .editions
        .windows(2)
        .map(|pair| weighed.shifts(&pair[0], &pair[1]))
        .collect();
    for plant in shifts.iter().flat_map(|shifts| &shifts.plants) {
        *turns.entry(&plant.slug).or_default() += plant.turns.len();
    }
    assert!(turns.values().sum::<usize>() > 0);
    for plant in &weighed.names.plants {
        let html = page(&DEMO, &format!("plants/{}/index.html", plant.slug));
        let history = html.split("<h2 id=\"history\">").nth(1).expect("a history");
        let history = history.split("</section>").next().expect("its end");
        let rows = history
            .split("<ul>")
            .nth(1)
            .map_or(0, |list| list.matches("<li>").count());
        assert_eq!(
            rows,
            turns.get(plant.slug.as_str()).copied().unwrap_or(0),
            "{}",
            plant.slug
        );
    }
}

#[test]
fn an_edition_outlives_the_plants_and_rules_that_it_speaks_of() {
    let mut files = texts("tests/cases/shifts/three-editions");
    files.retain(|path, _| {
        !path.contains("/vallisneria/")
            && !path.contains("/gone/")
            && !path.ends_with("medium.yaml")
    });
    let roles = files.get_mut("content/roles.yaml").expect("roles");
    *roles = roles.replace("ornament:", "show:");
    let site = site_of(&input_of(&files));
    for date in ["2025-01-10", "2025-06-01", "2026-01-10"] {
        let html = page(&site, &format!("editions/{date}/index.html"));
        assert!(html.contains("id=\"vallisneria-spiralis\""), "{date}");
        assert!(html.contains("no longer in the guide"), "{date}");
        for (slug, after) in plant_links(html) {
            assert!(
                after.starts_with(" <span class=\"standing\">"),
                "{date}: {slug}"
            );
        }
    }
}

#[test]
fn a_guide_without_editions_has_no_feed_and_says_so() {
    let site = site_of(&guide("tests/site/guide"));
    assert!(!site.contains_key("feed.xml"));
    assert!(page(&site, "editions/index.html").contains("No edition has been recorded yet."));
    for (path, html) in html_pages(&site) {
        assert!(!html.contains("feed.xml"), "{path}");
    }
}

// ---- the feed -------------------------------------------------------------------------------

/// An element of the feed: its name, attributes, text, and the path of elements it stands in.
#[derive(Debug)]
struct Element {
    path: String,
    attributes: BTreeMap<String, String>,
    text: String,
}

/// Reads XML strictly: ends are checked, and unknown entities fail.
fn elements(xml: &str) -> Vec<Element> {
    let mut reader = quick_xml::Reader::from_str(xml);
    reader.config_mut().check_end_names = true;
    let mut open: Vec<usize> = Vec::new();
    let mut out: Vec<Element> = Vec::new();
    loop {
        let event = reader.read_event().expect("well-formed XML");
        match &event {
            Event::Start(tag) | Event::Empty(tag) => {
                let name = tag.name().as_ref().to_owned();
                let inside = open.last().map_or("", |at| out[*at].path.as_str());
                let attributes = tag
                    .attributes()
                    .map(|attribute| {
                        let attribute = attribute.expect("an attribute");
                        let key = attribute.key.as_ref().to_owned();
                        let value = attribute.value.to_string();
                        let value = quick_xml::escape::unescape(&value)
                            .expect("entities")
                            .into_owned();
                        (key, value)
                    })
                    .collect();
                out.push(Element {
                    path: format!("{inside}/{name}"),
                    attributes,
                    text: String::new(),
                });
                if matches!(event, Event::Start(_)) {
                    open.push(out.len() - 1);
                }
            }
            Event::End(_) => {
                open.pop();
            }
            Event::Text(text) => {
                if let Some(at) = open.last() {
                    out[*at].text.push_str(text);
                }
            }
            Event::GeneralRef(entity) => {
                let name = entity.to_string();
                let text = quick_xml::escape::unescape(&format!("&{name};"))
                    .expect("an entity")
                    .into_owned();
                if let Some(at) = open.last() {
                    out[*at].text.push_str(&text);
                }
            }
            Event::Eof => break,
            _ => {}
        }
    }
    assert!(open.is_empty());
    out
}

/// Source: RFC 4287, sections 3.3 (dates), 4.1.1 (feeds), 4.1.2 (entries), 4.2.6 (ids), 4.2.7
/// (links); from memory.
fn check_feed(xml: &str, address: &str) -> usize {
    let all = elements(xml);
    let of = |path: &str| -> Vec<&Element> { all.iter().filter(|e| e.path == path).collect() };
    let feed = of("/feed");
    assert_eq!(feed.len(), 1);
    assert_eq!(feed[0].attributes["xmlns"], "http://www.w3.org/2005/Atom");
    for one in ["id", "title", "updated"] {
        assert_eq!(of(&format!("/feed/{one}")).len(), 1, "{one}");
    }
    assert!(!of("/feed/author/name").is_empty(), "who wrote it");
    let link = |rel: &str| {
        of("/feed/link")
            .into_iter()
            .find(|link| link.attributes["rel"] == rel)
            .unwrap_or_else(|| panic!("no link {rel}"))
    };
    assert_eq!(
        link("self").attributes["href"],
        format!("{address}feed.xml")
    );
    assert_eq!(link("self").attributes["type"], "application/atom+xml");
    assert_eq!(
        link("alternate").attributes["href"],
        format!("{address}editions/")
    );
    let entries = of("/feed/entry").len();
    let (mut ids, mut updated) = (BTreeSet::new(), Vec::new());
    for one in ["id", "title", "updated", "published", "summary"] {
        assert_eq!(of(&format!("/feed/entry/{one}")).len(), entries, "{one}");
    }
    for id in of("/feed/entry/id") {
        assert!(id.text.starts_with(address), "{}", id.text);
        assert!(ids.insert(id.text.clone()), "{} stands twice", id.text);
    }
    for date in of("/feed/entry/updated")
        .into_iter()
        .chain(of("/feed/updated"))
    {
        let moment: jiff::Timestamp = date.text.parse().expect("RFC 3339");
        assert_eq!(moment.to_string(), date.text);
        updated.push(moment);
    }
    assert_eq!(
        updated.last(),
        updated.iter().max(),
        "the feed is as new as its newest entry"
    );
    let links = of("/feed/entry/link");
    assert_eq!(links.len(), entries);
    for (link, id) in links.iter().zip(of("/feed/entry/id")) {
        assert_eq!(link.attributes["rel"], "alternate");
        assert_eq!(link.attributes["href"], id.text);
    }
    for content in of("/feed/entry/content") {
        assert_eq!(content.attributes["type"], "html");
        // The escaped text is HTML that is well-formed by itself.
        elements(&format!("<div>{}</div>", content.text));
        assert!(!content.text.contains("<script"));
    }
    for text in of("/feed/entry/summary")
        .into_iter()
        .chain(of("/feed/entry/title"))
    {
        assert!(!text.text.trim().is_empty());
    }
    entries
}

#[test]
fn the_feed_is_one_that_readers_take() {
    let entries = check_feed(page(&DEMO, "feed.xml"), "https://guide.example.org/plants/");
    assert_eq!(entries, weighed(&guide("")).editions.len());
    for (path, html) in html_pages(&DEMO) {
        assert!(
            html.contains("<link rel=\"alternate\" type=\"application/atom+xml\""),
            "{path}"
        );
    }
    let site = site_of(&guide("tests/cases/shifts/three-editions"));
    assert_eq!(
        check_feed(
            page(&site, "feed.xml"),
            "https://guide.example.org/made-up/"
        ),
        3
    );
    // What is on a legal list is not named without its notice.
    assert!(page(&site, "feed.xml").contains("A made-up order"));
}

/// Signs that mean something in XML or HTML, and one that XML does not have.
#[test]
fn hostile_words_stay_words_in_the_feed_and_on_the_pages() {
    let mut files = texts("tests/cases/shifts/three-editions");
    let hostile = "</summary><script>alert(1)</script> & \"quotes\" 'more' ]]> <!--";
    for (path, text) in &mut files {
        if path.starts_with("content/editions/") {
            let note = serde_json::to_string(&format!("{hostile}\u{1}")).expect("JSON");
            let start = text.find("\"note\":").expect("a note") + "\"note\":".len();
            let end = start + text[start..].find(",\n").expect("its end");
            text.replace_range(start..end, &note);
        }
        if path.ends_with("guide.yaml") {
            *text = text.replace("title: The made-up guide", "title: \"<Guide> & 'more'\"");
        }
    }
    let site = site_of(&input_of(&files));
    let feed = page(&site, "feed.xml");
    assert_eq!(check_feed(feed, "https://guide.example.org/made-up/"), 3);
    assert!(
        elements(feed)
            .iter()
            .any(|element| element.text.contains(hostile))
    );
    for (path, html) in html_pages(&site) {
        assert!(!html.contains("<script>alert"), "{path}");
    }
}

// ---- faults ---------------------------------------------------------------------------------

/// Whatever stands in the file of an edition, it is a fault at a place and never a panic.
#[test]
fn a_damaged_edition_is_a_fault_with_a_place() {
    let files = texts("tests/cases/shifts/three-editions");
    let file = "content/editions/2025-06-01.json";
    let whole = &files[file];
    let mut damaged = 0;
    for cut in (0..whole.len()).step_by(whole.len() / 60) {
        let mut files = files.clone();
        files.insert(file.to_owned(), whole[..cut].to_owned());
        let (weighed, faults) = weigh(&input_of(&files));
        let weighed: Option<Weighed> = weighed;
        if weighed.is_none() {
            damaged += 1;
        }
        let fault = faults.iter().find(|fault| &*fault.place.file == file);
        assert!(
            fault.is_some_and(|fault| fault.hint.is_some() && fault.place.line >= 1),
            "{cut}"
        );
    }
    assert!(damaged >= 59, "{damaged}");
    let (built, _) = build(&input_of(&files), &|| {});
    assert!(built.is_some());
}

//! A person renamed or removed everywhere, and `shown-as`: no name where none should be.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::{Command, Output, Stdio};

use pondweigh::content::Input;
use pondweigh::editions::{Head, as_text};
use pondweigh::people::{Change, Person, Plan};
use pondweigh::person;

use crate::support::{folder, guide, html_pages, project, site_of, weighed};

/// The small history, with the invented Wilf Osterby in every place where a name can stand.
fn named() -> Input {
    let mut files: BTreeMap<String, Vec<u8>> = guide("tests/cases/shifts/three-editions")
        .files
        .into_iter()
        .map(|(path, bytes)| {
            let text = String::from_utf8(bytes).expect("UTF-8");
            let text = text.replace("hall-log", "wilf-osterby-log");
            (
                path.replace("hall-log", "wilf-osterby-log"),
                text.into_bytes(),
            )
        })
        .collect();
    let mut put = |path: &str, text: &str| {
        files.insert(path.to_owned(), text.as_bytes().to_vec());
    };
    put(
        "content/sources/wilf-osterby-log.yaml",
        "# Kept by Wilf Osterby since 2019.\ntitle: \"Log of the hall tank, kept by Wilf Osterby\"\nkind: log\nauthors: [{family: Osterby, given: Wilf}]  # alone\nissued: 2025\n",
    );
    put(
        "content/sources/osterby-letters.yaml",
        "title: Letters to the circle\nkind: hearsay\nauthors:\n  - family: Osterby\n    given: Wilf\n  - {family: Farran, given: Odile}\nvoice: osterby\nrepeats: [wilf-osterby-log]\n",
    );
    put(
        "content/sources/card-box.yaml",
        "title: Cards\nkind: note\nvoice: osterby\nclaims:\n  - {plant: Vallisneria spiralis, trait: growth, says: slow, quote: 'Wilf Osterby''s card says so', remark: Ask Osterby again.}\n",
    );
    put(
        "content/sources/osterby-lane-labels.yaml",
        "title: Labels of the shop in Osterby Lane\nkind: label\n",
    );
    put(
        "content/plants/limnophila/sessiliflora.yaml",
        "name: Limnophila sessiliflora\ntrade-names: [Wilf Osterby’s Pride]\nform: drifting\ndetermined: {by: W. Osterby, on: 2025-04-01, following: Wilf Osterby}\nsummary: Found by Osterby, Wilf in a ditch.\nstory: |\n  It came with Wilf\n  Osterby in spring. See [his log](../../sources/wilf-osterby-log/).\npictures: [{file: wilf-osterby-01.png, alt: A plant, credit: Wilf Osterby}]\ncautions:\n  - {kind: handling, text: \"Wilf Osterby: do not pull.\", source: wilf-osterby-log}\nclaims:\n  - {trait: growth, source: wilf-osterby-log, says: fast, picture: wilf-osterby-01.png}\n  - trait: growth\n    source: osterby-letters\n    repeats: wilf-osterby-log\n    says: fast\n",
    );
    put(
        "content/rosters/hall.yaml",
        "title: The tank of Wilf Osterby\nplants: []\nwent: Well, says Wilf Osterby.\n",
    );
    put(
        "content/pages/thanks.md",
        "# Thanks\n\nTo Wilf Osterby, whose log is [here](../../sources/wilf-osterby-log/), and to Wilf Osterbyson.\n",
    );
    put("content/README.md", "Ask Wilf Osterby.\n");
    let png = guide("")
        .files
        .into_iter()
        .find(|(path, _)| path.ends_with(".png"))
        .expect("a picture")
        .1;
    files.insert("content/pictures/wilf-osterby-01.png".to_owned(), png);
    let note = "content/editions/2025-01-10.json";
    let text = String::from_utf8(files[note].clone()).expect("UTF-8");
    files.insert(
        note.to_owned(),
        text.replace("The first winter.", "The first winter, with Wilf Osterby.")
            .into_bytes(),
    );
    Input {
        files: files.into_iter().collect(),
        unread: Vec::new(),
    }
}

fn wilf() -> Person {
    Person::read("Wilf Osterby").expect("a name")
}

fn planned(input: &Input, change: &Change) -> (Plan, Input) {
    let plan = person(input, &wilf(), change).unwrap_or_else(|why| panic!("{why}"));
    let after = plan.applied(input);
    (plan, after)
}

fn removed(input: &Input) -> (Plan, Input) {
    planned(input, &Change::Remove("A member".to_owned()))
}

fn renamed(input: &Input) -> (Plan, Input) {
    planned(
        input,
        &Change::Rename(Person::read("Wilf O'Neil").expect("a name")),
    )
}

/// Every grade and standing, and every shift, in words, with ids as they become.
fn weight(input: &Input, ids: &BTreeMap<String, String>) -> Vec<String> {
    let weighed = weighed(input);
    let head = Head {
        date: None,
        number: 9,
        note: String::new(),
    };
    let now = weighed.record(head, input);
    let editions: Vec<_> = weighed.editions.iter().chain([&now]).collect();
    let mut out: Vec<String> = editions
        .windows(2)
        .map(|pair| as_text(&weighed.shifts(pair[0], pair[1]), weighed.told()))
        .collect();
    for plant in now.plants.values() {
        for (id, graded) in &plant.traits {
            out.push(format!(
                "{} {id} {:?} {:?}",
                plant.name, graded.overall, graded.in_water
            ));
        }
        out.push(format!("{:?}", plant.standings));
    }
    let mut lines: Vec<String> = out.join("\n").lines().map(str::to_owned).collect();
    for line in &mut lines {
        for (old, new) in ids {
            *line = line.replace(old, new);
        }
    }
    // Claims are told in the order of their sources' ids.
    lines.sort();
    lines
}

#[test]
fn the_guide_weighs_the_same_before_and_after() {
    let input = named();
    for (plan, after) in [removed(&input), renamed(&input)] {
        assert_eq!(weight(&input, &plan.ids), weight(&after, &BTreeMap::new()));
    }
    let demo = guide("");
    // A source of two authors, a study and a note, in the demonstration guide.
    let name = Person::read("Ellery Tansy").expect("a name");
    let plan = person(&demo, &name, &Change::Remove("A member".to_owned())).expect("planned");
    assert!(!plan.touched.is_empty());
    let after = plan.applied(&demo);
    assert_eq!(weight(&demo, &plan.ids), weight(&after, &BTreeMap::new()));
}

#[test]
fn a_removed_person_is_named_nowhere_but_where_a_human_was_told_to_look() {
    let (plan, after) = removed(&named());
    let told: BTreeSet<(String, usize)> = plan
        .mentions
        .iter()
        .map(|mention| (mention.file.clone(), mention.line))
        .collect();
    for (path, bytes) in &after.files {
        if let Ok(text) = std::str::from_utf8(bytes) {
            assert!(
                !text.contains("Wilf Osterby ") && !text.contains("Wilf\n  Osterby"),
                "{path}: {text}"
            );
            for (number, line) in text.lines().enumerate() {
                let is_told = told.contains(&(path.clone(), number + 1));
                let is_other = line.contains("Osterbyson");
                assert!(
                    is_told || is_other || !line.to_lowercase().contains("osterby"),
                    "{path}: {line}"
                );
            }
        }
        let is_told = told.contains(&(path.clone(), 0));
        assert!(is_told || !path.contains("osterby"), "{path}");
    }
    // What may be another's name, or a plant's, was left alone and told.
    let mentions: Vec<&str> = plan
        .mentions
        .iter()
        .map(|mention| mention.text.as_str())
        .collect();
    for left in [
        "Osterby Lane",
        "Osterby’s Pride",
        "Ask Osterby again",
        "the name of the file",
    ] {
        assert!(
            mentions.iter().any(|text| text.contains(left)),
            "{left}: {mentions:#?}"
        );
    }
    // No page shows it, but for what was left.
    let site = site_of(&after);
    for (path, html) in html_pages(&site) {
        for name in [
            "Wilf Osterby<",
            "Wilf Osterby,",
            "Wilf Osterby.",
            "wilf-osterby",
            "W. Osterby",
        ] {
            assert!(!html.contains(name), "{path}: {name}");
        }
    }
}

#[test]
fn what_is_structured_and_what_is_prose_is_rewritten_in_place() {
    let input = named();
    let (_, after) = removed(&input);
    let text = |path: &str| {
        after
            .text(path)
            .unwrap_or_else(|| panic!("no {path}"))
            .to_owned()
    };
    assert_eq!(
        text("content/sources/member-log.yaml"),
        "# Kept by a member since 2019.\ntitle: \"Log of the hall tank, kept by a member\"\nkind: log\nshown-as: A member  # alone\nissued: 2025\n"
    );
    assert_eq!(
        text("content/sources/member-letters.yaml"),
        "title: Letters to the circle\nkind: hearsay\nauthors: [{family: A member}, {family: Farran, given: Odile}]\nvoice: member\nrepeats: [member-log]\n"
    );
    assert_eq!(
        text("content/sources/card-box.yaml"),
        "title: Cards\nkind: note\nvoice: member\nclaims:\n  - {plant: Vallisneria spiralis, trait: growth, says: slow, quote: 'A member''s card says so', remark: Ask Osterby again.}\n"
    );
    assert_eq!(
        text("content/plants/limnophila/sessiliflora.yaml"),
        "name: Limnophila sessiliflora\ntrade-names: [Wilf Osterby’s Pride]\nform: drifting\ndetermined: {by: A member, on: 2025-04-01, following: A member}\nsummary: Found by a member in a ditch.\nstory: |\n  It came with a member in spring. See [his log](../../sources/member-log/).\npictures: [{file: member-01.png, alt: A plant, credit: A member}]\ncautions:\n  - {kind: handling, text: \"A member: do not pull.\", source: member-log}\nclaims:\n  - {trait: growth, source: member-log, says: fast, picture: member-01.png}\n  - trait: growth\n    source: member-letters\n    repeats: member-log\n    says: fast\n"
    );
    assert_eq!(
        text("content/pages/thanks.md"),
        "# Thanks\n\nTo a member, whose log is [here](../../sources/member-log/), and to Wilf Osterbyson.\n"
    );
    assert!(after.bytes("content/pictures/member-01.png").is_some());
    assert!(
        after
            .bytes("content/pictures/wilf-osterby-01.png")
            .is_none()
    );
    let edition = text("content/editions/2025-01-10.json");
    assert!(
        edition.contains("\"note\":\"The first winter, with a member.\""),
        "{edition}"
    );
    assert!(edition.contains("member-log:"), "{edition}");
    // A new name with an apostrophe, in every kind of quotes.
    let (_, after) = renamed(&input);
    let text = |path: &str| {
        after
            .text(path)
            .unwrap_or_else(|| panic!("no {path}"))
            .to_owned()
    };
    assert!(
        text("content/sources/wilf-o-neil-log.yaml")
            .contains("authors: [{family: O'Neil, given: Wilf}]  # alone\n")
    );
    assert!(
        text("content/sources/card-box.yaml").contains("quote: 'Wilf O''Neil''s card says so'")
    );
    assert!(text("content/sources/o-neil-letters.yaml").contains("voice: o-neil\n"));
    assert!(text("content/plants/limnophila/sessiliflora.yaml").contains("by: W. O'Neil,"));
    assert!(
        text("content/plants/limnophila/sessiliflora.yaml")
            .contains("summary: \"Found by O'Neil, Wilf in a ditch.\""),
        "{}",
        text("content/plants/limnophila/sessiliflora.yaml")
    );
}

/// Lines that nobody told of are as they were.
#[test]
fn every_change_is_told_by_file_and_line() {
    let input = named();
    let (plan, after) = renamed(&input);
    let told: BTreeSet<(&str, usize)> = plan
        .touched
        .iter()
        .map(|touch| (touch.file.as_str(), touch.line))
        .collect();
    let mut changed = 0;
    for (path, bytes) in &input.files {
        let is_yaml = path.ends_with(".yaml") && !path.ends_with("letters.yaml");
        // The picture of a name over two lines becomes one line.
        if !is_yaml || path.ends_with("sessiliflora.yaml") {
            continue;
        }
        let new_path = path.replace("wilf-osterby-log", "wilf-o-neil-log");
        let old = std::str::from_utf8(bytes).expect("UTF-8");
        let new = after
            .text(&new_path)
            .unwrap_or_else(|| panic!("no {new_path}"));
        assert_eq!(old.lines().count(), new.lines().count(), "{path}");
        for (number, (before, now)) in old.lines().zip(new.lines()).enumerate() {
            let is_told = told.contains(&(path.as_str(), number + 1));
            assert!(before == now || is_told, "{path}:{}: {now}", number + 1);
            changed += usize::from(before != now);
        }
    }
    assert!(changed >= 8, "{changed}");
    for touch in &plan.touched {
        assert!(
            touch.line >= 1 && input.bytes(&touch.file).is_some(),
            "{touch:?}"
        );
    }
}

/// Two persons who are removed one after the other stay two voices.
#[test]
fn removed_persons_do_not_become_one() {
    let (_, once) = removed(&named());
    let mut files: BTreeMap<String, Vec<u8>> = once.files.iter().cloned().collect();
    files.insert(
        "content/sources/odile-farran-log.yaml".to_owned(),
        b"title: Log of a loft\nkind: log\nauthors: [{family: Farran, given: Odile}]\nclaims:\n  - {plant: Vallisneria spiralis, trait: growth, says: very-fast}\n".to_vec(),
    );
    let input = Input {
        files: files.into_iter().collect(),
        unread: Vec::new(),
    };
    let farran = Person::read("Farran, Odile").expect("a name");
    let plan = person(&input, &farran, &Change::Remove("A member".to_owned())).expect("planned");
    assert_eq!(plan.ids["odile-farran-log"], "member-log-2");
    let after = plan.applied(&input);
    let letters = after
        .text("content/sources/member-letters.yaml")
        .expect("letters");
    assert!(
        letters.contains("authors: [{family: A member}, {family: A member}]"),
        "{letters}"
    );
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs")
}

fn said(output: &Output) -> String {
    let text = [output.stdout.as_slice(), output.stderr.as_slice()].concat();
    String::from_utf8(text).expect("UTF-8")
}

fn written(at: &Path, input: &Input) {
    for (path, bytes) in &input.files {
        let file = at.join(path);
        std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder");
        std::fs::write(file, bytes).expect("written");
    }
}

fn files_of(at: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut out = BTreeMap::new();
    let mut stack = vec![at.to_path_buf()];
    while let Some(folder) = stack.pop() {
        for entry in std::fs::read_dir(&folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                stack.push(path);
            } else {
                let name = path
                    .strip_prefix(at)
                    .expect("inside")
                    .to_string_lossy()
                    .into_owned();
                out.insert(name, std::fs::read(&path).expect("bytes"));
            }
        }
    }
    out
}

#[test]
fn the_command_shows_asks_and_writes_all_or_nothing() {
    let dir = folder("a-person");
    let input = named();
    written(&dir, &input);
    let at = dir.to_str().expect("a path");
    let before = files_of(&dir);
    let show = run(&["person", "remove", "Wilf Osterby", "--guide", at, "--show"]);
    assert_eq!(show.status.code(), Some(0), "{}", said(&show));
    let text = said(&show);
    for part in [
        "content/sources/wilf-osterby-log.yaml:4: author “Wilf Osterby” is taken out; shown as “A member”",
        "content/sources/wilf-osterby-log.yaml:1: the file becomes content/sources/member-log.yaml",
        "content/editions/2025-01-10.json:5: `note`: “Wilf Osterby” becomes “a member”",
        "For you to look at",
        "Nothing was written",
        "The page sources/wilf-osterby-log/ will be at sources/member-log/",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert_eq!(files_of(&dir), before);
    // Nobody can be asked.
    let asked = run(&["person", "remove", "Wilf Osterby", "--guide", at]);
    assert_eq!(asked.status.code(), Some(2));
    assert_eq!(files_of(&dir), before);
    // Nobody of that name.
    let nobody = run(&["person", "remove", "Bram Tolvey", "--guide", at, "--yes"]);
    assert_eq!(nobody.status.code(), Some(1));
    assert!(said(&nobody).contains("is nowhere"), "{}", said(&nobody));
    assert_eq!(files_of(&dir), before);
    let nearly = run(&["person", "remove", "Wilf Ostreby", "--guide", at, "--yes"]);
    assert_eq!(nearly.status.code(), Some(1));
    assert!(
        said(&nearly).contains("Did you mean Wilf Osterby?"),
        "{}",
        said(&nearly)
    );
    // In small letters it is the same person, everywhere.
    let shown = |name: &str| said(&run(&["person", "remove", name, "--guide", at, "--show"]));
    assert_eq!(shown("wilf  osterby"), shown("Wilf Osterby"));
    assert_eq!(files_of(&dir), before);
    let yes = run(&[
        "person",
        "rename",
        "Wilf Osterby",
        "--to",
        "Ina Dael",
        "--guide",
        at,
        "--yes",
    ]);
    assert_eq!(yes.status.code(), Some(0), "{}", said(&yes));
    assert!(
        said(&yes).contains("The guide weighs as before."),
        "{}",
        said(&yes)
    );
    assert!(
        said(&yes).contains("Version control keeps"),
        "{}",
        said(&yes)
    );
    let (_, after) = planned(
        &input,
        &Change::Rename(Person::read("Ina Dael").expect("a name")),
    );
    let after: BTreeMap<String, Vec<u8>> = after.files.into_iter().collect();
    assert_eq!(files_of(&dir), after, "no other file is left");
    assert_eq!(run(&["proof", at]).status.code(), Some(0));
    // A guide with errors is left alone.
    let file = dir.join("content/guide.yaml");
    std::fs::write(&file, "title: Broken\n").expect("written");
    let before = files_of(&dir);
    let broken = run(&["person", "remove", "Ina Dael", "--guide", at, "--yes"]);
    assert_eq!(broken.status.code(), Some(1));
    assert_eq!(files_of(&dir), before);
}

/// A word that would make a fault is refused as a whole.
#[test]
fn a_change_that_would_make_an_error_is_not_made() {
    let mut input = named();
    for (path, bytes) in &mut input.files {
        if path.ends_with("thanks.md") {
            bytes.extend_from_slice(b"\n[Wilf Osterby](../../plants/vallisneria-spiralis/)\n");
        }
    }
    let hostile = Change::Remove("A member](../../nowhere/) [x".to_owned());
    let why = person(&input, &wilf(), &hostile).expect_err("a dead link");
    assert!(why.contains("would have errors"), "{why}");
}

// ---- shown-as -------------------------------------------------------------------------------

/// A person who would rather not be named is named in no file of the site.
#[test]
fn shown_as_hides_the_authors_everywhere() {
    let mut files = guide("").files;
    let mut hidden = 0;
    for (path, bytes) in &mut files {
        if path.starts_with("content/sources/") {
            let text = String::from_utf8(bytes.clone()).expect("UTF-8");
            if !text.contains("shown-as:") {
                let lines = text.lines().filter(|line| !line.starts_with("authors:"));
                let text = lines.collect::<Vec<_>>().join("\n");
                *bytes = format!("{text}\nauthors: [{{family: Zzyzxford, given: Quorumina}}]\nshown-as: Somebody of the circle\n").into_bytes();
                hidden += 1;
            }
        }
    }
    assert!(hidden > 20);
    let site = site_of(&Input {
        files,
        unread: Vec::new(),
    });
    let mut shown = 0;
    for (path, bytes) in &site {
        let text = String::from_utf8_lossy(bytes).to_lowercase();
        for name in ["zzyzxford", "quorumina"] {
            assert!(!text.contains(name), "{path} names {name}");
        }
        shown += usize::from(text.contains("somebody of the circle"));
    }
    assert!(shown > 20, "{shown}");
    // Without it they are named, so that the test can fail.
    let site = site_of(&guide(""));
    let sources = String::from_utf8_lossy(&site["sources/index.html"]).into_owned();
    assert!(sources.contains("Wilf Osterby"));
    assert!(project("content/sources").is_dir());
}

//! The guide on the desk: after any change, what it serves is what a press of the guide makes.

use std::collections::BTreeMap;

use pondweigh::build;
use pondweigh::content::Input;
use pondweigh::desk::forme::{Change, Forme, Found, Now, Rebuilt};
use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};
use rayon::prelude::*;

use crate::support::guide;

type Files = BTreeMap<String, Vec<u8>>;

fn files_of(input: &Input) -> Files {
    input.files.iter().cloned().collect()
}

fn input_of(files: &Files) -> Input {
    Input {
        files: files.clone().into_iter().collect(),
        unread: Vec::new(),
    }
}

/// Puts files on the desk as they are now.
fn put(forme: &mut Forme, before: &Files, now: &Files) -> Rebuilt {
    let gone = before.keys().filter(|path| !now.contains_key(*path));
    let mut changes: Vec<Change> = gone
        .map(|path| Change {
            path: path.clone(),
            now: Now::Gone,
        })
        .collect();
    for (path, bytes) in now {
        if before.get(path) != Some(bytes) {
            changes.push(Change {
                path: path.clone(),
                now: Now::Bytes(bytes.clone()),
            });
        }
    }
    let rebuilt = forme.change(changes);
    forme.look_through_all();
    rebuilt
}

/// Two files where they start to differ.
fn difference(desk: &[u8], press: &[u8]) -> String {
    let at = desk.iter().zip(press).take_while(|(a, b)| a == b).count();
    let part = |bytes: &[u8]| {
        let from = at.saturating_sub(200);
        let end = bytes.len().min(at + 300);
        String::from_utf8_lossy(&bytes[from.min(end)..end]).into_owned()
    };
    format!("\n--- desk\n{}\n--- press\n{}", part(desk), part(press))
}

/// Compares all that the desk would serve with a press of the same files.
fn check(forme: &Forme, files: &Files, what: &str) {
    let (built, faults) = build(&input_of(files), &|| {});
    match built {
        None => {
            assert!(forme.has_errors(), "{what}: a press finds {faults:#?}");
            // A file that cannot be read stands as it was: what comes of it is not said as well.
            // Dead links of pages that were found before are still told, where a press makes no
            // pages any more.
            let errors = |faults: &[pondweigh::diagnostic::Diagnostic]| {
                let is_error = |fault: &&pondweigh::diagnostic::Diagnostic| {
                    pondweigh::has_errors(&[(*fault).clone()])
                };
                faults.iter().filter(is_error).cloned().collect::<Vec<_>>()
            };
            let (own, all) = (errors(&forme.faults()), errors(&faults));
            let is_other = |fault: &&pondweigh::diagnostic::Diagnostic| fault.rule != "dead-link";
            assert!(!own.is_empty(), "{what}");
            assert_eq!(
                own.iter().any(|fault| is_other(&fault)),
                all.iter().any(|fault| is_other(&fault)),
                "{what}: {own:#?} against {all:#?}"
            );
            for fault in own.iter().filter(is_other) {
                assert!(
                    all.contains(fault),
                    "{what}: {fault:#?} is not among {all:#?}"
                );
            }
            assert!(matches!(forme.find("index.html"), Found::Faults(_)));
        }
        Some(built) => {
            let own = forme.faults();
            assert!(!forme.has_errors(), "{what}: {own:#?}");
            assert_eq!(own, faults, "{what}: warnings");
            let wrong = built
                .site
                .files
                .par_iter()
                .find_map_first(|(address, bytes)| match forme.find(address) {
                    Found::File(found) if found == *bytes => None,
                    Found::File(found) => {
                        Some(format!("{address} differs {}", difference(&found, bytes)))
                    }
                    other => Some(format!("{address} is {other:?}")),
                });
            if let Some(wrong) = wrong {
                panic!("{what}: {wrong}");
            }
            assert!(matches!(
                forme.find("plants/no-such-plant/index.html"),
                Found::Lost(_)
            ));
        }
    }
}

fn text(files: &Files, path: &str) -> String {
    String::from_utf8(files[path].clone()).expect("UTF-8")
}

fn set(files: &mut Files, path: &str, text: String) {
    files.insert(path.to_owned(), text.into_bytes());
}

/// One random edit; gives what it was.
fn edit(files: &mut Files, draw: &mut SmallRng) -> String {
    let all: Vec<String> = files.keys().cloned().collect();
    let of = |draw: &mut SmallRng, start: &str| -> String {
        let found: Vec<&String> = all
            .iter()
            .filter(|path| path.starts_with(start) && path.ends_with(".yaml"))
            .collect();
        found[draw.random_range(0..found.len())].clone()
    };
    let plants: Vec<&String> = all
        .iter()
        .filter(|path| path.starts_with("content/plants/") && !path.ends_with("genus.yaml"))
        .collect();
    let plant = plants[draw.random_range(0..plants.len())].clone();
    let source = of(draw, "content/sources/");
    let id = source
        .rsplit('/')
        .next()
        .expect("a name")
        .trim_end_matches(".yaml")
        .to_owned();
    let levels = ["very-slow", "slow", "moderate", "fast", "very-fast"];
    let level = levels[draw.random_range(0..levels.len())];
    let with_claim = |text: String, claim: &str| {
        if text.contains("claims:\n") {
            text.replacen("claims:\n", &format!("claims:\n{claim}\n"), 1)
        } else if text.contains("\nclaims:") {
            text
        } else {
            format!("{}\nclaims:\n{claim}\n", text.trim_end())
        }
    };
    let name_of = |files: &Files, path: &str| {
        let text = text(files, path);
        let name = text.lines().find_map(|line| line.strip_prefix("name: "));
        name.unwrap_or("Nihil").trim().trim_matches('"').to_owned()
    };
    match draw.random_range(0..24) {
        0..5 => {
            let claim = format!("  - {{trait: growth, source: {id}, says: {level}}}");
            let old = text(files, &plant);
            set(files, &plant, with_claim(old, &claim));
            format!("a claim more in {plant}: {claim}")
        }
        5..8 => {
            // The last claim of a plant goes.
            let old = text(files, &plant);
            let lines: Vec<&str> = old.lines().collect();
            match lines
                .iter()
                .rposition(|line| line.starts_with("  - {trait"))
            {
                Some(at) if old.matches("  - {trait").count() > 1 => {
                    let left: Vec<&str> = lines
                        .iter()
                        .enumerate()
                        .filter(|(n, _)| *n != at)
                        .map(|(_, line)| *line)
                        .collect();
                    set(files, &plant, left.join("\n") + "\n");
                }
                _ => {}
            }
            format!("a claim less in {plant}")
        }
        8 => {
            let old = text(files, &plant);
            set(
                files,
                &plant,
                old.replace("says: slow", &format!("says: {level}")),
            );
            format!("other words in {plant}")
        }
        9 => {
            let old = text(files, &plant);
            let forms = ["form: stem", "form: rosette", "form: [floating, moss]"];
            let line = old
                .lines()
                .find(|line| line.starts_with("form:"))
                .unwrap_or("form: stem");
            set(
                files,
                &plant,
                old.replace(line, forms[draw.random_range(0..3)]),
            );
            format!("another form of {plant}")
        }
        10 => {
            let n: u32 = draw.random_range(0..1000);
            let path = plant
                .rsplit_once('/')
                .map(|(folder, _)| format!("{folder}/nova{n}.yaml"))
                .expect("a folder");
            let genus = name_of(files, &plant)
                .split(' ')
                .next()
                .expect("a genus")
                .to_owned();
            set(
                files,
                &path,
                format!(
                    "name: {genus} nova{}\nform: stem\nclaims:\n  - {{trait: growth, source: {id}, says: {level}}}\n",
                    ["aba", "beba", "cica"][n as usize % 3]
                ),
            );
            format!("a new plant {path}")
        }
        11 => {
            files.remove(&plant);
            format!("{plant} goes")
        }
        12 => {
            let n: u32 = draw.random_range(0..1000);
            set(
                files,
                &format!("content/sources/a-new-{n}.yaml"),
                format!("title: New {n}\nkind: study\n"),
            );
            "a new source".to_owned()
        }
        13 => {
            files.remove(&source);
            format!("{source} goes")
        }
        14 => {
            let old = text(files, &source);
            let line = old
                .lines()
                .find(|line| line.starts_with("kind:"))
                .unwrap_or("kind: note")
                .to_owned();
            set(
                files,
                &source,
                old.replace(
                    &line,
                    ["kind: log", "kind: hearsay"][draw.random_range(0..2)],
                ),
            );
            format!("another kind of {source}")
        }
        15 => {
            let old = text(files, &source);
            set(
                files,
                &source,
                old.replacen("title: ", "title: Once more ", 1),
            );
            format!("another title of {source}")
        }
        16 => {
            let name = name_of(files, &plant);
            let claim = format!("  - {{plant: \"{name}\", trait: growth, says: {level}}}");
            let old = text(files, &source);
            set(files, &source, with_claim(old, &claim));
            format!("a claim in {source}: {claim}")
        }
        17 => {
            let old = text(files, &plant);
            set(
                files,
                &plant,
                format!("{old}known-as: [Keeper's {}]\n", draw.random_range(0..1000)),
            );
            format!("a name more of {plant}")
        }
        18 => {
            let genera: Vec<&String> = all
                .iter()
                .filter(|path| path.ends_with("genus.yaml"))
                .collect();
            if genera.is_empty() {
                return "nothing".to_owned();
            }
            let path = genera[draw.random_range(0..genera.len())];
            let claim = format!("  - {{trait: growth, source: {id}, says: {level}}}");
            let old = text(files, path);
            set(files, path, with_claim(old, &claim));
            format!("a claim in {path}")
        }
        19 => {
            let old = text(files, &source);
            if !old.contains("voice:") {
                set(files, &source, format!("{old}\nvoice: log-a\n"));
            }
            format!("a voice of {source}")
        }
        20 => {
            let path = "content/weights.yaml";
            let text = if files.contains_key(path) {
                text(files, path)
            } else {
                String::new()
            };
            let weights: String = text
                .lines()
                .filter(|line| !line.starts_with("loose-name"))
                .map(|line| format!("{line}\n"))
                .collect();
            set(
                files,
                path,
                format!("{weights}loose-name: 0.{}\n", draw.random_range(1..9)),
            );
            "other weights".to_owned()
        }
        21 => {
            let path = of(draw, "content/waters/");
            let old = text(files, &path);
            set(files, &path, old.replacen("title: ", "title: The ", 1));
            format!("another title of {path}")
        }
        22 => {
            let old = text(files, &plant);
            set(
                files,
                &plant,
                format!(
                    "summary: \"[Away](../no-such-page/), and {{{{ growth.level }}}}.\"\n{}",
                    old.replace("\nsummary: ", "\nremark: ")
                ),
            );
            format!("a dead link in {plant}")
        }
        _ => {
            let old = text(files, "content/roles.yaml");
            set(
                files,
                "content/roles.yaml",
                old.replacen("title: ", "title: A ", 1),
            );
            "another title of a role".to_owned()
        }
    }
}

/// Breaks a file in one of several ways.
fn damage(files: &mut Files, draw: &mut SmallRng) -> String {
    let all: Vec<String> = files
        .keys()
        .filter(|path| path.ends_with(".yaml") && path.starts_with("content/"))
        .cloned()
        .collect();
    let path = all[draw.random_range(0..all.len())].clone();
    let old = text(files, &path);
    let new = match draw.random_range(0..4) {
        0 => format!("{old}\n  - [unclosed\n"),
        1 => old.replacen("source: ", "source: no-such-", 1),
        2 => old.replacen("says: ", "says: quite-", 1),
        _ => old[..old.len() / 2].to_owned(),
    };
    set(files, &path, new);
    format!("{path} is damaged")
}

/// A row of edits, each checked; every third file is broken and mended on the way.
fn walk(start: &Files, seed: u64, steps: usize) {
    let mut draw = SmallRng::seed_from_u64(seed);
    let mut files = start.clone();
    let mut forme = Forme::new(input_of(&files), Vec::new());
    forme.look_through_all();
    let mut history = String::new();
    for step in 0..steps {
        let mut next = files.clone();
        let edits = if step % 5 == 4 { 3 } else { 1 };
        for _ in 0..edits {
            history.push_str(&edit(&mut next, &mut draw));
            history.push('\n');
        }
        if step % 3 == 2 {
            let mut broken = next.clone();
            history.push_str(&damage(&mut broken, &mut draw));
            history.push('\n');
            put(&mut forme, &files, &broken);
            check(
                &forme,
                &broken,
                &format!("seed {seed}, step {step}\n{history}"),
            );
            files = broken;
        }
        put(&mut forme, &files, &next);
        check(
            &forme,
            &next,
            &format!("seed {seed}, step {step}\n{history}"),
        );
        let (built, _) = build(&input_of(&next), &|| {});
        if built.is_none() {
            // An edit that leaves errors behind is taken back, so that the walk goes on.
            put(&mut forme, &next, &files);
            history.push_str("taken back\n");
            if step % 3 == 2 {
                let whole = start.clone();
                put(&mut forme, &files, &whole);
                history.push_str("all taken back\n");
                files = whole;
            }
            check(
                &forme,
                &files,
                &format!("seed {seed}, step {step}\n{history}"),
            );
        } else {
            files = next;
        }
    }
}

#[test]
fn any_row_of_edits_serves_what_a_press_makes() {
    let start = files_of(&guide("tests/guides/corner"));
    let number = |name: &str, usual: u64| -> u64 {
        let set = std::env::var(name).ok();
        set.and_then(|n| n.parse().ok()).unwrap_or(usual)
    };
    let first = number("WALK_FROM", 0);
    for seed in first..first + number("WALKS", 2) {
        walk(&start, seed, 9);
    }
}

#[test]
fn a_claim_more_weighs_one_plant_and_a_setting_weighs_all() {
    let files = files_of(&guide("tests/guides/corner"));
    let mut forme = Forme::new(input_of(&files), Vec::new());
    let plants = files
        .keys()
        .filter(|path| path.starts_with("content/plants/") && !path.ends_with("genus.yaml"))
        .count();
    let path = "content/plants/verba/prima.yaml";
    let mut one = files.clone();
    let more = text(&files, path).replacen(
        "claims:",
        "claims:\n  - {trait: growth, source: log-a, says: fast}\n #",
        1,
    );
    let more = more.replace("\n #", "");
    set(&mut one, path, more);
    let rebuilt = put(&mut forme, &files, &one);
    assert_eq!(
        (rebuilt.files, rebuilt.plants, rebuilt.is_whole),
        (1, 1, false)
    );
    assert!(
        rebuilt
            .moves
            .iter()
            .any(|moved| moved.plant == "Verba prima" && moved.from != moved.to),
        "{rebuilt:?}"
    );
    assert!(!forme.has_errors(), "{:#?}", forme.faults());
    let mut two = one.clone();
    set(
        &mut two,
        "content/sources/a-new-one.yaml",
        "title: New\nkind: note\n".to_owned(),
    );
    let rebuilt = put(&mut forme, &one, &two);
    assert_eq!(
        (rebuilt.plants, rebuilt.is_whole),
        (0, true),
        "no claim is another"
    );
    let mut three = two.clone();
    set(
        &mut three,
        "content/sources/log-a.yaml",
        "title: Log\nkind: hearsay\n".to_owned(),
    );
    let rebuilt = put(&mut forme, &two, &three);
    assert!(
        rebuilt.is_whole && rebuilt.plants > 0 && rebuilt.plants < plants,
        "{rebuilt:?}"
    );
    check(&forme, &three, "another kind");
    let mut four = three.clone();
    let weights = text(&four, "content/weights.yaml");
    set(
        &mut four,
        "content/weights.yaml",
        weights.replace("loose-name: ", "loose-name: 0"),
    );
    let rebuilt = put(&mut forme, &three, &four);
    assert_eq!((rebuilt.plants, rebuilt.is_whole), (plants, true));
    check(&forme, &four, "other weights");
    assert_eq!(put(&mut forme, &four, &four), Rebuilt::default());
}

/// A change of one file: its path, what is replaced and by what; an empty text stands for the end
/// of the file, which may be new.
const CHANGES: [(&str, &str, &str); 23] = [
    ("content/rosters/jar-three.yaml", "4 stems", "5 stems"),
    (
        "content/rosters/jar-three.yaml",
        "Clear from",
        "See [that](../no-such-page/). Clear from",
    ),
    (
        "content/pages/about.md",
        "",
        "\nAzolla filiculoides drifts.\n",
    ),
    ("content/pages/about.md", "", "\n[Away](../nowhere/)\n"),
    ("content/pages/new.md", "", "# New\n\nElodea canadensis.\n"),
    (
        "content/plants/azolla/genus.yaml",
        "says: bright",
        "says: dim",
    ),
    (
        "content/plants/azolla/genus.yaml",
        "Water fern, ",
        "Water fern, Pond fern, ",
    ),
    (
        "content/plants/azolla/filiculoides.yaml",
        "A closed mat",
        "A {{ growth.level }} mat",
    ),
    (
        "content/plants/azolla/filiculoides.yaml",
        "form: floating-fern",
        "form: floating",
    ),
    (
        "content/plants/azolla/filiculoides.yaml",
        "It is the plainest",
        "Like Egeria densa, it is the plainest",
    ),
    (
        "content/plants/azolla/filiculoides.yaml",
        "name: Azolla filiculoides",
        "formerly: [azolla-prima]\nname: Azolla filiculoides",
    ),
    (
        "content/gone/hydrocharis-spongia.yaml",
        "flowered",
        "bloomed",
    ),
    ("content/regulated.yaml", "", "\n# Looked through.\n"),
    ("content/guide.yaml", "title: ", "title: The "),
    ("content/forms.yaml", "title: ", "title: A "),
    ("content/traits.yaml", "title: ", "title: The "),
    ("content/conditions.yaml", "title: ", "title: The "),
    ("content/editions/2026-03-15.json", "\n", "\n "),
    ("content/pictures/new.png", "", "no picture"),
    (
        "themes/stillwater/dress/guide.css",
        "",
        "body { color: black }\n",
    ),
    (
        "themes/stillwater/sheets/words.html",
        "",
        "{% extends \"base.html\" %}{% block main %}<h1>Words of our own</h1>{% endblock %}",
    ),
    (
        "themes/stillwater/sheets/words.html",
        "<h1>",
        "<h1>{{ no_such }}",
    ),
    (
        "content/sources/ferry-school-log.yaml",
        "kind: log",
        "kind: hearsay",
    ),
];

/// A text after one of [`CHANGES`].
fn changed(old: &str, from: &str, to: &str) -> String {
    match from {
        "" => format!("{old}{to}"),
        _ => old.replacen(from, to, 1),
    }
}

/// Each kind of file of the demonstration guide, changed and then set back.
#[test]
fn each_kind_of_file_is_taken_up() {
    let start = files_of(&guide("."));
    let start: Files = start
        .into_iter()
        .filter(|(path, _)| !path.starts_with("themes/"))
        .collect();
    let mut forme = Forme::new(input_of(&start), Vec::new());
    forme.look_through_all();
    check(&forme, &start, "the start");
    for (path, from, to) in CHANGES {
        let mut next = start.clone();
        let old = start.get(path).map(|_| text(&start, path));
        // A change of a file that is laid over the theme needs the file first.
        let old = old.unwrap_or_else(|| match from {
            "" => String::new(),
            _ => CHANGES
                .iter()
                .find(|(other, before, _)| *other == path && before.is_empty())
                .map(|(_, _, text)| (*text).to_owned())
                .expect("a file to change"),
        });
        let new = changed(&old, from, to);
        assert_ne!(old, new, "{path} has `{from}`");
        set(&mut next, path, new);
        put(&mut forme, &start, &next);
        check(&forme, &next, &format!("{path}: `{from}` to `{to}`"));
        put(&mut forme, &next, &start);
        check(&forme, &start, &format!("{path}: set back"));
    }
    // All together but those that are errors, in one save.
    let mut all = start.clone();
    for (path, from, to) in CHANGES {
        if to.contains("no-such")
            || to.contains("nowhere")
            || to.contains("no_such")
            || to == "no picture"
            || to.contains("formerly")
        {
            continue;
        }
        let old = all.get(path).map(|_| text(&all, path)).unwrap_or_default();
        let new = changed(&old, from, to);
        set(&mut all, path, new);
    }
    put(&mut forme, &start, &all);
    check(&forme, &all, "all of them");
    for folder in ["rosters", "editions", "pictures", "gone", "pages"] {
        let folder = format!("content/{folder}/");
        let path = start.keys().find(|path| path.starts_with(&folder));
        let path = path.expect("a file of the kind");
        let mut next = all.clone();
        next.remove(path);
        put(&mut forme, &all, &next);
        check(&forme, &next, &format!("{path} goes"));
        put(&mut forme, &next, &all);
        check(&forme, &all, &format!("{path} comes back"));
    }
}

#[test]
fn what_a_save_moved_is_told_and_set_back_the_other_way() {
    let files = files_of(&guide("tests/guides/corner"));
    let mut forme = Forme::new(input_of(&files), Vec::new());
    let path = "content/plants/verba/prima.yaml";
    let mut less = files.clone();
    let old = text(&files, path);
    let (head, _) = old.split_once("claims:").expect("claims");
    set(&mut less, path, head.to_owned());
    let gone = put(&mut forme, &files, &less).moves;
    assert!(!gone.is_empty());
    assert!(
        gone.iter().any(|moved| moved.to == "not known"),
        "{gone:#?}"
    );
    let back = put(&mut forme, &less, &files).moves;
    let turned: Vec<(String, String, String)> = gone
        .into_iter()
        .map(|moved| (moved.of, moved.to, moved.from))
        .collect();
    for moved in &back {
        let one = (moved.of.clone(), moved.from.clone(), moved.to.clone());
        assert!(turned.contains(&one), "{one:?} is not in {turned:#?}");
    }
    assert_eq!(turned.len(), back.len());
}

#[test]
fn what_moved_is_told_once_the_guide_has_no_errors() {
    let files = files_of(&guide("tests/guides/corner"));
    let path = "content/plants/verba/prima.yaml";
    let old = text(&files, path);
    let (head, _) = old.split_once("claims:").expect("claims");
    let mut less = files.clone();
    set(&mut less, path, head.to_owned());
    let mut forme = Forme::new(input_of(&files), Vec::new());
    let wanted = put(&mut forme, &files, &less).moves;
    for fault in ["source: ", "trait: "] {
        let mut forme = Forme::new(input_of(&files), Vec::new());
        let mut broken = files.clone();
        set(
            &mut broken,
            path,
            old.replace(fault, &format!("{fault}-none")),
        );
        assert_ne!(broken, files);
        assert!(put(&mut forme, &files, &broken).moves.is_empty());
        assert!(forme.has_errors());
        // What was so before is not told; what became of it is.
        assert!(put(&mut forme, &broken, &files).moves.is_empty());
        put(&mut forme, &files, &broken);
        assert_eq!(put(&mut forme, &broken, &less).moves, wanted);
    }
}

/// A save of several files of which one cannot be taken up in place.
#[test]
fn what_was_taken_up_before_the_guide_is_put_together_is_weighed() {
    let files = files_of(&guide("tests/guides/corner"));
    let mut forme = Forme::new(input_of(&files), Vec::new());
    let mut next = files.clone();
    let path = "content/plants/limitaria/prima.yaml";
    let light =
        "  - {trait: light-need, source: study-a, measures: 50 umol/m2/s, bound: at-least}\n";
    let old = text(&files, path);
    assert!(old.contains(light));
    set(&mut next, path, old.replace(light, ""));
    next.remove("content/plants/paria/robusta.yaml");
    let rebuilt = put(&mut forme, &files, &next);
    assert!(rebuilt.is_whole);
    check(&forme, &next, "a claim less, a plant less");
}

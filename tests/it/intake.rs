//! Claims get into files and nothing else changes; sheets are judged whole; a killed run breaks no file.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use pondweigh::content::Input;
use pondweigh::intake::{self, Part, Slip};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::support::{folder, guide, weighed};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs")
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

/// The text of one generated entry: its claims in one of many manners of writing.
fn entry(at: usize, random: &mut ChaCha8Rng) -> String {
    let mut pick = |few: usize| random.random_range(0..few);
    let end = ["\n", "\r\n"][pick(2)];
    let indent = ["", "  ", "    "][pick(3)];
    let gap = [" ", "   "][pick(2)];
    let deep = format!("{indent} {}", " ".repeat(gap.len()));
    let remark = ["", " # kept by the club", "   # it's \"quoted\" ] }"][pick(3)];
    let words = ["slow", "moderate", "fast"];
    let mut claims: Vec<String> = Vec::new();
    let manner = pick(6);
    let count = if manner == 4 { 0 } else { 1 + pick(4) };
    for n in 0..count {
        let word = words[pick(3)];
        let flow = format!("{{trait: growth,  source: my-log, says: {word}, at: \"p. {n}, [x]\"}}");
        match manner {
            0 | 1 => claims.push(format!("{indent}-{gap}{flow}{remark}")),
            2 => claims.push(format!(
                "{indent}-{gap}trait: growth{remark}{end}{deep}source: my-log{end}{deep}says:   {word}"
            )),
            3 => claims.push(format!(
                "{indent}-{gap}trait: growth{end}{deep}source: my-log{end}{deep}says: {word}{end}{deep}remark: |{end}{deep}  # not a remark{end}{end}{deep}  it's kept"
            )),
            _ => claims.push(flow),
        }
        if manner < 3 && pick(3) == 0 {
            claims.push(format!("{indent}# between the claims"));
        }
    }
    let list = match manner {
        0..=3 => format!("claims:{end}{}{end}", claims.join(end)),
        4 => [format!("claims: []{remark}{end}"), String::new()][pick(2)].clone(),
        _ if pick(2) == 0 => format!("claims: [{}]{remark}{end}", claims.join(", ")),
        _ => format!(
            "claims: [{end}    {}{end}  ]{end}",
            claims.join(&format!(",{end}    "))
        ),
    };
    let head = format!("# entry {at}{end}name:  Testa planta{}{end}", letters(at));
    let form = format!("form: rosette{end}");
    let tail = ["", "# the end", "# éàü"][pick(3)];
    let mut text = if pick(2) == 0 {
        format!("{head}{form}{end}{list}{tail}")
    } else {
        format!("{head}{list}{end}# about its form{end}{form}{tail}")
    };
    if !tail.is_empty() && pick(2) == 0 {
        text.push_str(end);
    }
    if tail.is_empty() && pick(3) == 0 {
        text = text.trim_end().to_owned();
    }
    if pick(8) == 0 {
        text.insert(0, '\u{feff}');
    }
    text
}

/// A number in letters, as an epithet has no digits.
fn letters(mut at: usize) -> String {
    let mut out = String::new();
    for _ in 0..3 {
        out.push(char::from(b'a' + (at % 26) as u8));
        at /= 26;
    }
    out
}

fn generated(count: usize) -> Input {
    let mut random = ChaCha8Rng::seed_from_u64(20_251_125);
    let mut files: BTreeMap<String, Vec<u8>> =
        guide("tests/site/guide").files.into_iter().collect();
    for at in 0..count {
        let path = format!("content/plants/testa/planta{}.yaml", letters(at));
        files.insert(path, entry(at, &mut random).into_bytes());
    }
    Input {
        files: files.into_iter().collect(),
        unread: Vec::new(),
    }
}

fn slip(plant: String) -> Slip {
    Slip {
        place: "a slip".to_owned(),
        plant,
        of: "growth".to_owned(),
        source: Some("my-log".to_owned()),
        keys: vec![
            ("says".to_owned(), Part::text("very-fast")),
            ("seen".to_owned(), Part::text("2025-05-01")),
            (
                "remark".to_owned(),
                Part::text("It's new: \"so\", #1\n[two lines]"),
            ),
        ],
        columns: Vec::new(),
    }
}

/// Lines of `after` that are not, in order, lines of `before`; `None` where a line of `before`
/// is missing.
fn added<'a>(before: &str, after: &'a str) -> Option<Vec<&'a str>> {
    let mut old = before.lines().peekable();
    let mut out = Vec::new();
    for line in after.lines() {
        if old.peek() == Some(&line) {
            old.next();
        } else {
            out.push(line);
        }
    }
    old.next().is_none().then_some(out)
}

#[test]
fn two_hundred_entries_get_a_claim_and_change_in_nothing_else() {
    let input = generated(200);
    let before = weighed(&input);
    let slips: Vec<Slip> = (0..200)
        .map(|at| slip(format!("Testa planta{}", letters(at))))
        .collect();
    let entered = intake::entered(&input, &before, &slips, None, None);
    assert!(entered.troubles.is_empty(), "{:#?}", entered.troubles);
    assert_eq!((entered.added.len(), entered.edits.len()), (200, 200));
    let (mut whole_lines, mut in_brackets) = (0, 0);
    for edit in &entered.edits {
        let old = edit.before.as_deref().expect("the file is there");
        match added(old, &edit.after) {
            Some(lines) => {
                // A new list has its key, and a claim has a line or a line a key.
                assert!((1..=5).contains(&lines.len()), "{}: {lines:?}", edit.path);
                assert!(
                    lines.iter().any(|line| line.contains("growth")),
                    "{lines:?}"
                );
                whole_lines += 1;
            }
            None => {
                // Between brackets: what was there stands on both sides of what is new.
                let new = edit
                    .after
                    .find("{trait: growth, source: my-log, says: very-fast")
                    .expect("the claim");
                let claim_end = new + edit.after[new..].find("]\"}").map_or(0, |at| at + 3).max(1);
                let rest: String = edit
                    .after
                    .chars()
                    .filter(|c| !c.is_whitespace() && *c != ',')
                    .collect();
                let claim: String = edit.after[new..claim_end]
                    .chars()
                    .filter(|c| !c.is_whitespace() && *c != ',')
                    .collect();
                let was: String = old
                    .chars()
                    .filter(|c| !c.is_whitespace() && *c != ',')
                    .collect();
                assert_eq!(rest.replacen(&claim, "", 1), was, "{}", edit.path);
                in_brackets += 1;
            }
        }
        let ends = |text: &str| (text.matches("\r\n").count(), text.matches('\n').count());
        let (old_pairs, old_all) = ends(old);
        let (pairs, all) = ends(&edit.after);
        // A file that ends its lines in one way still does.
        if old_all > 0 && (old_pairs == 0 || old_pairs == old_all) {
            assert_eq!(pairs == all, old_pairs == old_all, "{}", edit.path);
        }
        assert_eq!(
            old.ends_with('\n'),
            edit.after.ends_with('\n'),
            "{}",
            edit.path
        );
    }
    assert!(
        whole_lines > 120 && in_brackets > 15,
        "{whole_lines} and {in_brackets}"
    );
    let after = intake::weighed_with(&input, &entered.edits).expect("no errors");
    let words = |weighed: &pondweigh::Weighed| -> Vec<Vec<String>> {
        let of = |claims: &Vec<usize>| -> Vec<String> {
            let mut said: Vec<String> = claims
                .iter()
                .map(|id| {
                    let claim = &weighed.claims.all[*id];
                    format!(
                        "{} {:?} {:?} {:?}",
                        claim.words, claim.at, claim.seen, claim.remark
                    )
                })
                .collect();
            said.sort();
            said
        };
        let all = weighed.claims.of_plant.iter();
        all.map(|by_trait| by_trait.values().flat_map(of).collect())
            .collect()
    };
    for (old, mut new) in words(&before).into_iter().zip(words(&after)) {
        let at = new
            .iter()
            .position(|one| one.contains("2025-05-01") && one.contains("two lines"));
        if let Some(at) = at {
            new.remove(at);
        }
        let mut old = old;
        old.sort();
        new.sort();
        assert_eq!(old, new);
    }
    // A second time, everything stands already.
    let again = intake::with(&input, &entered.edits);
    let entered = intake::entered(&again, &after, &slips, None, None);
    assert_eq!((entered.already.len(), entered.edits.len()), (200, 0));
}

fn put(root: &Path, input: &Input) {
    for (path, bytes) in &input.files {
        let file = root.join(path);
        std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder");
        std::fs::write(file, bytes).expect("a file");
    }
}

/// A guide of sixty plants on disk.
fn club(name: &str) -> (std::path::PathBuf, Input) {
    let dir = folder(name);
    let input = generated(60);
    put(&dir, &input);
    (dir, input)
}

/// Three hundred rows, of which the first forty can be spoiled.
fn rows(is_spoiled: bool) -> String {
    let mut out = String::from("plant;trait;value;source;date;conditions;remark\r\n");
    for at in 0..300 {
        let mut cells = [
            format!("Testa planta{}", letters(at % 60)),
            "growth".to_owned(),
            [
                "slow",
                "very fast",
                "12,5 cm to 17 cm in 20 d",
                "doubles in 9 d",
                "0,08 /d",
            ][at % 5]
                .to_owned(),
            "my-log".to_owned(),
            format!("{}.{}.20{:02}", 1 + at % 28, 1 + at / 28, 10 + at % 7),
            "light=low".to_owned(),
            format!("row {at}"),
        ];
        if is_spoiled && at < 40 {
            match at % 20 {
                0 => cells[0] = "Testa plantaxyz".to_owned(),
                1 => cells[0] = String::new(),
                2 => cells[0] = "Testa cf. plantaaaa".to_owned(),
                3 => cells[1] = "grwth".to_owned(),
                4 => cells[1] = String::new(),
                5 => cells[2] = "quickly".to_owned(),
                6 => cells[2] = String::new(),
                7 => cells[2] = "12 cm to 17 g in 20 d".to_owned(),
                8 => cells[2] = "1,500 cm to 2 cm in 20 d".to_owned(),
                9 => cells[2] = "12 cm to 17 cm in 20".to_owned(),
                10 => cells[2] = "doubles in 0 d".to_owned(),
                11 => cells[2] = "12 furlongs to 17 furlongs in 20 d".to_owned(),
                12 => cells[3] = "my-lgo".to_owned(),
                13 => cells[3] = String::new(),
                14 => cells[4] = "03/04/2025".to_owned(),
                15 => cells[4] = "31.2.2025".to_owned(),
                16 => cells[4] = "2025-06-01/2025-05-01".to_owned(),
                17 => cells[5] = "light=dazzling".to_owned(),
                18 => cells[5] = "lihgt=low".to_owned(),
                _ => cells[5] = "bright".to_owned(),
            }
        }
        out.push_str(&cells.join(";"));
        out.push_str("\r\n");
    }
    out
}

#[test]
fn a_sheet_with_forty_faults_is_refused_whole_and_a_clean_one_is_entered_once() {
    let (dir, input) = club("sheet");
    let (sheet, path) = (
        dir.join("notes.csv"),
        dir.to_str().expect("a path").to_owned(),
    );
    let arguments = [
        "enter",
        "--sheet",
        sheet.to_str().expect("a path"),
        "--yes",
        "--guide",
        &path,
    ];
    std::fs::write(&sheet, rows(true)).expect("a sheet");
    let output = run(&arguments);
    assert_eq!(output.status.code(), Some(1));
    let text = said(&output);
    let columns = [
        "plant",
        "plant",
        "plant",
        "trait",
        "trait",
        "value",
        "value",
        "value",
        "value",
        "value",
        "value",
        "value",
        "source",
        "source",
        "date",
        "date",
        "date",
        "conditions",
        "conditions",
        "conditions",
    ];
    for at in 0..40 {
        // The heads stand in row 1.
        let place = format!("notes.csv, row {}, {}: ", at + 2, columns[at % 20]);
        assert!(text.contains(&place), "{place}\n{text}");
    }
    assert!(!text.contains("row 42,"), "{text}");
    assert!(
        text.contains("in 40 observations: nothing was written"),
        "{text}"
    );
    let same = |input: &Input| {
        input
            .files
            .iter()
            .all(|(path, bytes)| std::fs::read(dir.join(path)).expect("a file") == *bytes)
    };
    assert!(same(&input));

    std::fs::write(&sheet, rows(false)).expect("a sheet");
    let output = run(&arguments);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert!(
        said(&output).contains("Added 300 claims to 60 files."),
        "{}",
        said(&output)
    );
    let (after, _) = pondweigh::content::disk::read_guide(&dir).expect("a guide");
    let count = |input: &Input| weighed(input).claims.all.len();
    assert_eq!(count(&after), count(&input) + 300);
    let output = run(&arguments);
    assert!(
        said(&output).contains("300 observations stand in the guide already."),
        "{}",
        said(&output)
    );
    assert!(
        said(&output).contains("0 claims to add"),
        "{}",
        said(&output)
    );
    assert!(same(&after));
}

#[test]
fn what_can_hardly_be_right_is_not_written() {
    // Degrees Fahrenheit written as Celsius; a year with a wrong digit: common practice, no source.
    let input = guide("");
    let before = weighed(&input);
    let today = jiff::civil::date(2026, 5, 1);
    let told = |trait_id: &str, value: &str, seen: &str| -> Vec<String> {
        let rows = [
            ["plant", "trait", "value", "source", "date"],
            [
                "Bolbitis heudelotii",
                trait_id,
                value,
                "ferry-school-log",
                seen,
            ],
        ];
        let table = rows.map(|row| row.map(str::to_owned).to_vec()).to_vec();
        let (slips, troubles) = intake::sheet(&table, "notes", &before.guide, None, false);
        assert!(troubles.is_empty(), "{troubles:#?}");
        let entered = intake::entered(&input, &before, &slips, None, Some(today));
        assert_eq!(entered.edits.is_empty(), !entered.troubles.is_empty());
        let troubles = entered.troubles.into_iter();
        let told = |trouble: intake::Trouble| {
            format!("{}: {}", trouble.column.unwrap_or_default(), trouble.title)
        };
        troubles.map(told).collect()
    };
    let none: [&str; 0] = [];
    assert_eq!(told("temperature", "68..82 F", "2026-05-01"), none);
    assert_eq!(told("growth", "12 cm to 15 cm in 30 d", "2026-05"), none);
    assert_eq!(
        told("temperature", "68..82 C", "2026-04-30"),
        ["value: 68 °C can hardly be right (water plants die well below 45 °C)"]
    );
    assert_eq!(
        told("light-need", "20..4000 umol/m2/s", ""),
        ["value: 4000 µmol/m²/s can hardly be right (the midday sun gives about 2000 µmol/m²/s)"]
    );
    // Both are told in one run.
    assert_eq!(told("temperature", "68..82 C", "2027").len(), 2);
    for late in ["2026-05-02", "2026-06", "2027", "2026-04-01/2026-05-20"] {
        assert_eq!(
            told("temperature", "20..28 C", late),
            [format!("date: {late} has not come yet")]
        );
    }
}

#[test]
fn an_observation_in_other_units_is_the_same() {
    let input = guide("");
    let before = weighed(&input);
    let rows = |values: &[&str]| -> intake::Table {
        let mut table = vec![
            ["plant", "trait", "value", "source", "date"]
                .map(str::to_owned)
                .to_vec(),
        ];
        for value in values {
            let row = [
                "Bolbitis heudelotii",
                "growth",
                value,
                "ferry-school-log",
                "2025-05-01",
            ];
            table.push(row.map(str::to_owned).to_vec());
        }
        table
    };
    let table = rows(&[
        "12 cm to 17 cm in 20 d",
        "12,0 cm to 17 cm in 20 days",
        "120 mm to 170 mm in 480 h",
        "12 cm to 17 cm in 3 weeks",
        "12 leaves to 17 leaves in 20 d",
        "12 shoots to 17 shoots in 20 d",
    ]);
    let (slips, troubles) = intake::sheet(&table, "notes", &before.guide, None, false);
    assert!(troubles.is_empty(), "{troubles:#?}");
    let entered = intake::entered(&input, &before, &slips, None, None);
    assert!(entered.troubles.is_empty(), "{:#?}", entered.troubles);
    let again: Vec<&str> = entered
        .twice
        .iter()
        .map(|(again, _)| again.as_str())
        .collect();
    assert_eq!(again, ["notes, row 3", "notes, row 4"]);
    assert_eq!(entered.added.len(), 4);
    // The same once it stands in the guide.
    let with = intake::with(&input, &entered.edits);
    let again = intake::entered(&with, &weighed(&with), &slips, None, None);
    assert_eq!((again.already.len(), again.edits.len()), (6, 0));
}

#[test]
fn what_is_said_twice_is_told() {
    let input = guide("");
    let before = weighed(&input);
    let judged = |rows: &str| {
        let table = intake::csv_table(rows.as_bytes()).expect("a table");
        let (slips, troubles) = intake::sheet(&table, "notes", &before.guide, None, false);
        assert!(troubles.is_empty(), "{troubles:#?}");
        intake::entered(&input, &before, &slips, None, None)
    };
    let head = "plant,trait,value,source,conditions,as,remark\n";
    let row = "Bolbitis heudelotii,growth,12 cm to 14 cm in 20 d,ferry-school-log";
    let again = judged(&format!("{head}{row},,,first\n{row},,,second\n"));
    let places = ("notes, row 3".to_owned(), "notes, row 2".to_owned());
    assert_eq!((again.added.len(), again.twice), (1, vec![places]));
    // What is wrong with the first is wrong with the second, and neither is written.
    let wrong = row.replace("14 cm", "14 g");
    let both = judged(&format!(
        "{head}{wrong},,,first\n{wrong},,,second\n{row},,,\n"
    ));
    let places: Vec<&str> = both
        .troubles
        .iter()
        .map(|trouble| trouble.place.as_str())
        .collect();
    assert_eq!(places, ["notes, row 2", "notes, row 3"]);
    assert_eq!((both.added.len(), both.twice.len()), (1, 0));
    // Under a loose name it is another claim: it weighs less.
    let loose = judged(&format!(
        "{head}{row},,Bolbitis,\n{row},,,\n{row},,African water fern,\n"
    ));
    assert_eq!((loose.added.len(), loose.twice.len()), (2, 1));
    let twice = judged(&format!("{head}{row},light=low; light=high,,\n"));
    assert_eq!(twice.troubles.len(), 1);
    assert_eq!(twice.troubles[0].title, "`light` is given twice");
    let dates = "- {plant: Bolbitis heudelotii, trait: growth, source: ferry-school-log, says: fast, seen: 2025, date: 2024}";
    let (slips, _) = intake::slips(dates, "pasted", &before.guide, None);
    let twice = intake::entered(&input, &before, &slips, None, None);
    assert_eq!(twice.troubles[0].title, "`seen` is given twice");
    let ends = judged(&format!("{head}{row},,,\"one\r\ntwo\"\n"));
    assert!(
        ends.added[0].claim.contains(r#"remark: "one\ntwo""#),
        "{}",
        ends.added[0].claim
    );
}

#[test]
fn signs_of_any_kind_are_read_or_told() {
    let input = guide("");
    let before = weighed(&input);
    let told = |of: &str, value: &str| -> Result<String, String> {
        let rows = [
            ["plant", "trait", "value", "source"],
            ["Bolbitis heudelotii", of, value, "ferry-school-log"],
        ];
        let table = rows.map(|row| row.map(str::to_owned).to_vec()).to_vec();
        let (slips, mut troubles) = intake::sheet(&table, "notes", &before.guide, None, false);
        let entered = intake::entered(&input, &before, &slips, None, None);
        troubles.extend(entered.troubles);
        match troubles.first() {
            Some(trouble) => Err(trouble.title.clone()),
            None => Ok(entered.added[0].claim.clone()),
        }
    };
    for value in ["30 \u{b5}mol/m2/s", "30 \u{3bc}mol/m²/s", "30 umol/m2/s"] {
        let claim = told("light-need", value).expect(value);
        assert!(claim.contains("measures: 30 umol/m2/s"), "{claim}");
    }
    let claim = told("temperature", "20 ℃ – 26 ℃").expect("a span");
    assert!(claim.contains("measures: 20..26 C"), "{claim}");
    // Any sign in any place is a trouble or a value, and never ends the program.
    for of in ["light-need", "temperature", "growth", "height"] {
        for sign in [
            "µ", "²", "°", "–", "—", "½", "，", "\u{202e}", "🌿", "\u{301}",
        ] {
            for value in [
                "20{}",
                "{}20",
                "20{} to 26{}",
                "2{}0 cm",
                "20-{}26 C",
                "20 C{}",
                "{}",
            ] {
                let _ = told(of, &value.replace("{}", sign));
            }
        }
    }
}

#[test]
fn a_file_that_is_no_slip_takes_no_other_with_it() {
    let (dir, _) = club("letters");
    let folder = dir.join("slips");
    std::fs::create_dir_all(&folder).expect("a folder");
    let claim = |plant: &str| {
        format!(
            "claims:\n  - {{plant: {plant}, trait: growth, source: my-log, says: slow, tank: odd}}\n"
        )
    };
    let plants: Vec<String> = weighed(
        &pondweigh::content::disk::read_guide(&dir)
            .expect("a guide")
            .0,
    )
    .names
    .plants
    .iter()
    .take(2)
    .map(|plant| plant.name.clone())
    .collect();
    std::fs::write(folder.join("a.txt"), "Dear all, it grew well.\n").expect("a file");
    std::fs::write(folder.join("b.yaml"), claim(&plants[0])).expect("a file");
    std::fs::write(folder.join("c.png"), b"\x89PNG\xff\xfe").expect("a file");
    let two = format!(
        "- just a word\n{}",
        claim(&plants[1])
            .replace("claims:\n", "")
            .replace("  - ", "- ")
    );
    std::fs::write(folder.join("d.yaml"), two).expect("a file");
    let output = run(&[
        "enter",
        "--slip",
        folder.to_str().expect("a path"),
        "--partly",
        "--yes",
        "--guide",
        dir.to_str().expect("a path"),
    ]);
    let text = said(&output);
    assert!(text.contains("Added 2 claims to 2 files."), "{text}");
    for name in ["a.txt: ", "c.png: ", "d.yaml, line 1: "] {
        assert!(text.contains(name), "{name}\n{text}");
    }
    assert_eq!(output.status.code(), Some(1));
}

#[test]
fn a_new_plant_takes_no_place_of_another() {
    let (dir, input) = club("new-plant");
    let first = weighed(&input).names.plants[0].name.clone();
    let enter = |plant: &str| {
        run(&[
            "enter",
            plant,
            "growth",
            "slow",
            "--source",
            "my-log",
            "--new-plant",
            "rosette",
            "--yes",
            "--guide",
            dir.to_str().expect("a path"),
        ])
    };
    for (plant, why) in [
        (first.as_str(), "already"),
        ("Bolbitis", "in doubt"),
        ("Bolbitis cf. nova", "in doubt"),
        ("vallisneria nova", "small letter"),
        ("??", "no name of one plant"),
    ] {
        let output = enter(plant);
        let told = String::from_utf8_lossy(&output.stderr);
        assert_ne!(output.status.code(), Some(0), "{plant}: {told}");
        assert!(told.contains(why), "{plant}: {told}");
    }
    let same = |input: &Input| {
        input
            .files
            .iter()
            .all(|(path, bytes)| std::fs::read(dir.join(path)).expect("a file") == *bytes)
    };
    assert!(same(&input));
    let output = enter("Sagittaria subulata");
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert!(same(&input), "only a new file came");
    let made = std::fs::read_to_string(dir.join("content/plants/sagittaria/subulata.yaml"));
    assert!(
        made.expect("an entry")
            .contains("name: Sagittaria subulata")
    );
}

#[test]
fn a_sheet_may_be_entered_partly() {
    let (dir, input) = club("partly");
    let (sheet, path) = (
        dir.join("notes.csv"),
        dir.to_str().expect("a path").to_owned(),
    );
    std::fs::write(&sheet, rows(true)).expect("a sheet");
    let output = run(&[
        "enter",
        "--sheet",
        sheet.to_str().expect("a path"),
        "--partly",
        "--yes",
        "--guide",
        &path,
    ]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        said(&output).contains("Added 260 claims"),
        "{}",
        said(&output)
    );
    let (after, _) = pondweigh::content::disk::read_guide(&dir).expect("a guide");
    assert_eq!(
        weighed(&after).claims.all.len(),
        weighed(&input).claims.all.len() + 260
    );
}

#[test]
fn a_run_that_is_killed_leaves_every_file_old_or_new() {
    let (dir, input) = club("killed");
    let (sheet, path) = (
        dir.join("notes.csv"),
        dir.to_str().expect("a path").to_owned(),
    );
    std::fs::write(&sheet, rows(false)).expect("a sheet");
    let arguments = [
        "enter",
        "--sheet",
        sheet.to_str().expect("a path"),
        "--yes",
        "--guide",
        &path,
    ];
    let start = Instant::now();
    assert_eq!(run(&arguments).status.code(), Some(0));
    let whole = start.elapsed();
    let (new, _) = pondweigh::content::disk::read_guide(&dir).expect("a guide");
    // Writing is at the end of a run: most of the moments are there.
    let mut partial = 0;
    for at in 0..40u32 {
        put(&dir, &input);
        let mut child = Command::new(env!("CARGO_BIN_EXE_pondweigh"))
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .spawn()
            .expect("the program runs");
        std::thread::sleep(
            whole
                .mul_f64(0.55 + 0.5 * f64::from(at) / 40.0)
                .max(Duration::from_millis(1)),
        );
        let _ = child.kill();
        let _ = child.wait();
        let (mut old_files, mut new_files) = (0, 0);
        for ((path, old), (_, new)) in input.files.iter().zip(&new.files) {
            let now = std::fs::read(dir.join(path)).expect("a file");
            assert!(now == *old || now == *new, "{path} is neither old nor new");
            if old != new {
                old_files += usize::from(now == *old);
                new_files += usize::from(now == *new);
            }
        }
        partial += usize::from(old_files > 0 && new_files > 0);
    }
    // The next run takes up what is missing, and clears away what was left unfinished.
    assert_eq!(run(&arguments).status.code(), Some(0));
    let left = walkdir::WalkDir::new(&dir).into_iter().flatten();
    let unfinished =
        left.filter(|entry| entry.file_name().to_string_lossy().ends_with(".unfinished"));
    assert_eq!(
        unfinished.count(),
        0,
        "after {partial} runs ended amid writing"
    );
    let (after, _) = pondweigh::content::disk::read_guide(&dir).expect("a guide");
    assert_eq!(
        weighed(&after).claims.all.len(),
        weighed(&new).claims.all.len()
    );
}

#[test]
fn nothing_outside_the_content_is_written() {
    let (dir, input) = club("inside");
    let edit = |path: &str, before: Option<&str>| intake::Edit {
        path: path.to_owned(),
        before: before.map(str::to_owned),
        after: "x".to_owned(),
    };
    for path in [
        "../x.yaml",
        "content/../x.yaml",
        "/tmp/x.yaml",
        "x.yaml",
        "content\\x.yaml",
    ] {
        assert!(
            intake::disk::write(&dir, &[edit(path, None)]).is_err(),
            "{path}"
        );
    }
    // Nor is a file that has changed since it was read, or one that is there already.
    let path = "content/guide.yaml";
    assert!(intake::disk::write(&dir, &[edit(path, None)]).is_err());
    assert!(intake::disk::write(&dir, &[edit(path, Some("old"))]).is_err());
    assert_eq!(
        std::fs::read(dir.join(path)).expect("a file"),
        input.bytes(path).expect("a file")
    );
    // The id of a new source is a name of a file, and no path.
    let root = dir.to_str().expect("a path");
    for id in ["../../x", "a/b", "X", "my-log"] {
        let output = run(&[
            "enter",
            "Testa plantaaaa",
            "growth",
            "slow",
            "--source",
            id,
            "--new-source",
            "T",
            "--yes",
            "--guide",
            root,
        ]);
        assert_eq!(output.status.code(), Some(2), "{id}");
    }
}

#[test]
fn a_slip_by_hand_may_be_written_as_a_row_of_a_sheet() {
    let (dir, _) = club("slip-by-hand");
    let (file, root) = (dir.join("slip.txt"), dir.to_str().expect("a path"));
    let path = file.to_str().expect("a path");
    let enter = |text: &str| {
        std::fs::write(&file, text).expect("a slip");
        run(&["enter", "--slip", path, "--yes", "--guide", root])
    };
    let slip = "plant: Testa plantaaaa\ntrait: growth\nvalue: 10,5 cm to 21 cm in 9 d\nsource: my-log\ndate: 3 May 2025\nconditions: light=low\n";
    let unclear = enter(
        &slip
            .replace("3 May 2025", "3/5/2025")
            .replace("10,5 cm", "1,500 cm")
            .replace("\nconditions", "\ncolour: red\nconditions"),
    );
    assert_eq!(unclear.status.code(), Some(1));
    for what in ["line 1, value: ", "line 1, date: "] {
        assert!(said(&unclear).contains(what), "{}", said(&unclear));
    }
    let unknown = enter(&slip.replace("conditions", "colour: red\nconditions"));
    assert_eq!(unknown.status.code(), Some(1));
    let what = "line 1, colour: unknown key `colour`";
    assert!(said(&unknown).contains(what), "{}", said(&unknown));
    let output = enter(slip);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let written = std::fs::read_to_string(dir.join("content/plants/testa/plantaaaa.yaml"));
    let written = written.expect("the entry");
    for what in [
        "grew: {from: 10.5 cm, to: 21 cm, over: 9 d}",
        "seen: 2025-05-03",
        "where: {light: low}",
    ] {
        assert!(written.contains(what), "{written}");
    }
}

#[test]
fn slips_of_a_folder_are_entered_and_a_source_is_asked_for() {
    let (dir, _) = club("slips");
    let slips = dir.join("slips");
    std::fs::create_dir_all(&slips).expect("a folder");
    let one = "# by: A member\nclaims:\n  - {plant: \"Testa plantaaaa\", trait: growth, seen: 2025-05-01/2025-06-20, where: {light: low}, grew: {from: 12 cm, to: 17 cm, over: 50 d}, remark: \"On wood\"}\n";
    std::fs::write(slips.join("a.yaml"), one).expect("a slip");
    std::fs::write(
        slips.join("b.yaml"),
        one.replace("plantaaaa", "plantabaa")
            .replace("  - {", "- {"),
    )
    .expect("a slip");
    let (from, root) = (
        slips.to_str().expect("a path"),
        dir.to_str().expect("a path"),
    );
    let output = run(&["enter", "--slip", from, "--yes", "--guide", root]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        said(&output).contains("a.yaml, line 3, source: it does not say whose observation this is"),
        "{}",
        said(&output)
    );
    let output = run(&[
        "enter", "--slip", from, "--source", "my-log", "--yes", "--guide", root,
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert!(
        said(&output).contains("Added 2 claims to 2 files."),
        "{}",
        said(&output)
    );
    // With nobody to ask, nothing is written unasked.
    let output = run(&[
        "enter",
        "Testa plantaaaa",
        "growth",
        "slow",
        "--source",
        "my-log",
        "--guide",
        root,
    ]);
    assert_eq!(output.status.code(), Some(2));
}

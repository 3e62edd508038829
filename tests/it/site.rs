//! The whole path at once: the demo guide, the small guide with its golden output, the README.

use std::collections::{BTreeMap, BTreeSet};

use pondweigh::build;
use pondweigh::content::Input;

use crate::support::{check_expected, guide, input, project, text};

fn site(input: &Input) -> BTreeMap<String, Vec<u8>> {
    let (built, faults) = build(input, &|| {});
    let built = built.unwrap_or_else(|| panic!("{faults:#?}"));
    built.site.files.into_iter().collect()
}

#[test]
fn the_small_site_is_as_expected() {
    let files = site(&guide("tests/site/guide"));
    let expected = project("tests/site/expected");
    let mut wrong = Vec::new();
    for (path, bytes) in &files {
        let Ok(body) = std::str::from_utf8(bytes) else {
            continue;
        };
        // Files of the theme itself.
        if ["dress/", "moves/", "plates/"]
            .iter()
            .any(|part| path.starts_with(part))
        {
            continue;
        }
        let file = expected.join(path);
        if std::env::var("UPDATE").is_ok_and(|value| value == "1") {
            std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder");
        }
        if let Err(why) = check_expected(&file, body) {
            wrong.push(why.lines().take(3).collect::<Vec<_>>().join("\n"));
        }
    }
    let mut left_over = Vec::new();
    let mut stack = vec![expected.clone()];
    while let Some(at) = stack.pop() {
        for entry in std::fs::read_dir(&at).expect("expected output") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                stack.push(path);
            } else {
                let name = path
                    .strip_prefix(&expected)
                    .expect("inside")
                    .to_string_lossy()
                    .replace('\\', "/");
                if !files.contains_key(&name) {
                    left_over.push(name);
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
    assert!(left_over.is_empty(), "left over: {left_over:?}");
}

/// The sizes that a whole guide is asked to have: at least so many of each, and every kind of
/// source, every form of claim, every caution.
#[test]
fn the_demo_guide_is_whole() {
    let input = guide("");
    let (weighed, faults) = pondweigh::weigh(&input);
    assert!(faults.is_empty(), "{faults:#?}");
    let guide = weighed.expect("no errors").guide;
    let (built, _) = build(&input, &|| {});
    let counts = built.expect("no errors").counts;
    assert!(counts.plants >= 40, "{counts:?}");
    assert!(counts.sources >= 30, "{counts:?}");
    assert!(counts.claims >= 450, "{counts:?}");
    let paths: Vec<&str> = input.files.iter().map(|(path, _)| path.as_str()).collect();
    let genera: BTreeSet<&str> = paths
        .iter()
        .filter_map(|path| path.strip_prefix("content/plants/")?.split('/').next())
        .collect();
    assert!(genera.len() >= 14, "{genera:?}");
    let below = |folder: &str| paths.iter().filter(|path| path.starts_with(folder)).count();
    assert_eq!(below("content/waters/"), 4);
    assert!(below("content/rosters/") >= 5);
    assert_eq!(guide.roles.len(), 6);
    let all: String = input
        .files
        .iter()
        .filter(|(path, _)| path.ends_with(".yaml"))
        .map(|(_, bytes)| String::from_utf8_lossy(bytes).into_owned())
        .collect();
    for kind in ["study", "log", "note", "label", "article", "hearsay"] {
        assert!(
            all.contains(&format!("\nkind: {kind}\n")),
            "no source of kind {kind}"
        );
    }
    for form in [
        "says:",
        "rgr:",
        "se:",
        "doubles-in:",
        "grew:",
        "trimmed:",
        "leaving:",
        "series:",
        "measures: ..",
        ".. umol",
        "bound: at-least",
        "bound: at-most",
        "of: length",
        "of: mass",
        "of: area",
        "of: count",
        "as:",
        "at:",
        "seen:",
        "where:",
        "repeats:",
        "set-aside:",
        "stage: settling",
        "stage: settled",
        "tank:",
        "picture:",
        "quote:",
        "remark:",
        "{trait: growth, source: school-hall-log, where: {light: low, co2: none}, kind: note",
        "voice:",
        "shown-as:",
        "kind: regulated",
        "kind: hazard",
        "kind: handling",
        " aff. ",
    ] {
        assert!(all.contains(form), "no claim has `{form}`");
    }
}

/// The text of a page as a reader sees it: no tags, single blanks.
fn visible(html: &str) -> String {
    let mut text = String::new();
    let mut inside = false;
    for c in html.chars() {
        match c {
            '<' => inside = true,
            '>' => inside = false,
            c if !inside => text.push(c),
            _ => {}
        }
    }
    let text = text
        .replace("&amp;", "&")
        .replace("&#39;", "'")
        .replace("&#x27;", "'")
        .replace("&quot;", "\"");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_situation_of_the_content_readme_stands_on_its_page() {
    let files = site(&guide(""));
    let readme = text("content/README.md");
    let table = readme
        .split("## What the demonstration guide shows")
        .nth(1)
        .expect("the table of situations");
    let mut rows = 0;
    for row in table.lines().filter(|line| line.starts_with("| ")).skip(1) {
        let cells: Vec<&str> = row.trim_matches('|').split(" | ").map(str::trim).collect();
        let [situation, page, words] = cells[..] else {
            panic!("three cells: {row}");
        };
        let page = format!("{}index.html", page.trim_matches('`'));
        let html = files
            .get(&page)
            .unwrap_or_else(|| panic!("{situation}: no {page}"));
        let html = String::from_utf8_lossy(html);
        assert!(
            visible(&html).contains(words),
            "{situation}: {page} does not say: {words}"
        );
        rows += 1;
    }
    assert!(rows >= 11, "{rows} rows");
}

#[test]
fn the_blocks_of_the_content_readme_make_a_guide() {
    let readme = text("content/README.md");
    let mut files: Vec<(String, String)> = Vec::new();
    for block in readme.split("```yaml\n").skip(1) {
        let body = block.split("```").next().expect("a closed block");
        let path = body
            .lines()
            .next()
            .and_then(|line| line.strip_prefix("# "))
            .expect("a path");
        files.push((path.trim().to_owned(), body.to_owned()));
    }
    assert!(files.len() > 8);
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(path, body)| (path.as_str(), body.as_str()))
        .collect();
    let (built, faults) = build(&input(&files), &|| {});
    assert!(built.is_some(), "{faults:#?}");
}

#[test]
fn the_number_of_threads_changes_no_byte() {
    let input = guide("");
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool");
        pool.install(|| site(&input))
    };
    let one = with(1);
    assert_eq!(one, with(2));
    assert_eq!(one, with(7));
}

/// `href` and `src` of a page, decoded.
fn links(html: &str) -> Vec<String> {
    let mut out = Vec::new();
    for attribute in [" href=\"", " src=\""] {
        for part in html.split(attribute).skip(1) {
            let value = part.split('"').next().unwrap_or_default();
            out.push(value.replace("&amp;", "&").replace("&#39;", "'"));
        }
    }
    out
}

fn ids(html: &str) -> Vec<&str> {
    html.split(" id=\"")
        .skip(1)
        .filter_map(|part| part.split('"').next())
        .collect()
}

/// Where a relative link leads, from the folder of a page.
fn resolved(page: &str, href: &str) -> String {
    let mut parts: Vec<&str> = page.split('/').collect();
    parts.pop();
    for part in href.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts
                    .pop()
                    .unwrap_or_else(|| panic!("{page}: {href} leads out of the site"));
            }
            other => parts.push(other),
        }
    }
    let path = parts.join("/");
    if href.ends_with('/')
        || href.is_empty()
        || path.is_empty()
        || href.ends_with("..")
        || href == "."
    {
        if path.is_empty() {
            "index.html".to_owned()
        } else {
            format!("{path}/index.html")
        }
    } else {
        path
    }
}

fn check_links(files: &BTreeMap<String, Vec<u8>>, address: &str) {
    let pages: BTreeMap<&str, &str> = files
        .iter()
        .filter(|(path, _)| path.ends_with(".html"))
        .map(|(path, bytes)| (path.as_str(), std::str::from_utf8(bytes).expect("UTF-8")))
        .collect();
    let all_ids: BTreeMap<&str, BTreeSet<&str>> = pages
        .iter()
        .map(|(path, html)| {
            let list = ids(html);
            let set: BTreeSet<&str> = list.iter().copied().collect();
            assert_eq!(set.len(), list.len(), "{path} has an id twice");
            (*path, set)
        })
        .collect();
    let mut wrong = Vec::new();
    for (page, html) in &pages {
        for href in links(html) {
            let is_elsewhere = ["https://", "http://", "mailto:"]
                .iter()
                .any(|scheme| href.starts_with(scheme));
            if is_elsewhere {
                continue;
            }
            // The page for lost readers may be shown at any address: its links start at the root.
            let site_path = address
                .split("://")
                .nth(1)
                .and_then(|rest| rest.find('/').map(|at| &rest[at..]));
            let root = site_path.unwrap_or("/");
            let (from, href) = if *page == "404.html" && href.starts_with('/') {
                let inside = href
                    .strip_prefix(root)
                    .unwrap_or_else(|| panic!("404.html: {href} leads out of {root}"));
                ("index.html", inside.to_owned())
            } else {
                (*page, href)
            };
            let (path, fragment) = match href.split_once('#') {
                Some((path, fragment)) => (path, Some(fragment)),
                None => (href.as_str(), None),
            };
            let target = if path.is_empty() && fragment.is_some() {
                from.to_owned()
            } else {
                resolved(from, path)
            };
            if !files.contains_key(&target) {
                wrong.push(format!("{page}: {href} -> {target}"));
            } else if let Some(fragment) = fragment
                && !all_ids
                    .get(target.as_str())
                    .is_some_and(|ids| ids.contains(fragment))
            {
                wrong.push(format!("{page}: {href}: no id `{fragment}` in {target}"));
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{} dead links:\n{}",
        wrong.len(),
        wrong[..wrong.len().min(20)].join("\n")
    );
}

#[test]
fn every_internal_link_and_fragment_resolves() {
    check_links(&site(&guide("")), "https://guide.example.org/plants/");
    let corner = guide("tests/guides/corner");
    let about = corner
        .text("content/guide.yaml")
        .expect("guide.yaml")
        .to_owned();
    let address = about
        .lines()
        .find_map(|line| line.strip_prefix("address:"))
        .expect("an address")
        .split('#')
        .next()
        .expect("text")
        .trim()
        .to_owned();
    check_links(&site(&corner), &address);
}

/// What stands between the first `from` and the next `to` after it.
fn between<'a>(text: &'a str, from: &str, to: &str) -> Option<&'a str> {
    text.split_once(from)?
        .1
        .split_once(to)
        .map(|(inside, _)| inside)
}

#[test]
fn every_plant_page_has_a_specimen() {
    let (mut pictures, mut plates) = (0, 0);
    let files = site(&guide(""));
    for (path, bytes) in &files {
        // A former address has no data of its own.
        let Some(folder) = path.strip_suffix("index.html") else {
            continue;
        };
        if !path.starts_with("plants/") || !files.contains_key(&format!("{folder}plant.json")) {
            continue;
        }
        let html = std::str::from_utf8(bytes).expect("UTF-8");
        let figure = between(html, "<figure class=\"specimen\">", "</figure>")
            .unwrap_or_else(|| panic!("{path} has no specimen"));
        assert!(figure.contains("<figcaption>"), "{path}");
        if let Some(tag) = between(figure, "<img ", ">") {
            pictures += 1;
            let value = |name: &str| between(tag, &format!("{name}=\""), "\"");
            assert!(value("alt").is_some_and(|alt| alt.len() > 10), "{path}");
            for name in ["width", "height"] {
                let number = value(name).and_then(|value| value.parse::<u32>().ok());
                assert!(number.is_some_and(|number| number > 0), "{path}: {name}");
            }
            // The first picture is not put off.
            assert!(!tag.contains("loading="), "{path}");
        } else {
            plates += 1;
            assert!(
                figure.contains("<svg class=\"plate\" role=\"img\""),
                "{path}"
            );
            let title = between(figure, "<title id=\"plate-title\">", "</title>");
            assert!(
                title.is_some_and(|title| title.ends_with("not this species")),
                "{path}"
            );
            assert!(figure.contains("not the species"), "{path}");
        }
    }
    assert!(pictures >= 1 && plates >= 40, "{pictures} and {plates}");
}

/// Weights and marks of every chart are links with a name, and each chart is named.
#[test]
fn weights_in_charts_lead_to_claims() {
    let files = site(&guide(""));
    let (mut weights, mut forests, mut splits) = (0, 0, 0);
    for (path, bytes) in &files {
        if !path.starts_with("plants/") || !path.ends_with(".html") {
            continue;
        }
        let html = std::str::from_utf8(bytes).expect("UTF-8");
        let all_ids: BTreeSet<&str> = ids(html).into_iter().collect();
        splits += html.matches("<div class=\"split\">").count();
        for class in ["balance", "forest"] {
            for part in html.split(&format!("<svg class=\"{class}\"")).skip(1) {
                let svg = part.split("</svg>").next().expect("a drawing");
                let named = between(svg, "aria-labelledby=\"", "\"").expect("a name");
                let described = between(svg, "aria-describedby=\"", "\"").expect("a description");
                assert!(
                    all_ids.contains(named) && all_ids.contains(described),
                    "{path}"
                );
                forests += usize::from(class == "forest");
                let marks = svg.matches("class=\"weight").count();
                let mut links = 0;
                for link in svg.split("<a href=\"#").skip(1) {
                    let (anchor, rest) = link.split_once("\">").expect("a link");
                    assert!(anchor.starts_with("claim-"), "{path}: {anchor}");
                    assert!(all_ids.contains(anchor), "{path}: {anchor}");
                    assert!(rest.starts_with("<title>"), "{path}: {anchor} has no name");
                    links += 1;
                }
                assert_eq!(links, marks, "{path}");
                weights += marks;
            }
        }
    }
    assert!(weights > 300, "{weights} weights");
    assert!(forests > 20, "{forests} forest plots");
    assert!(splits >= 3, "{splits} splits");
}

#[test]
fn no_page_loads_anything_from_elsewhere() {
    for (path, bytes) in site(&guide("")) {
        if !path.ends_with(".html") {
            continue;
        }
        let html = String::from_utf8(bytes).expect("UTF-8");
        assert!(!html.contains(" style=\""), "{path}");
        assert!(html.contains("Content-Security-Policy"), "{path}");
        assert!(
            !html.contains("src=\"http") && !html.contains("src=\"//"),
            "{path}"
        );
        for part in html.split("<link ").skip(1) {
            let tag = part.split('>').next().expect("a tag");
            let loads = ["stylesheet", "icon", "preload"]
                .iter()
                .any(|rel| tag.contains(rel));
            assert!(!loads || !tag.contains("href=\"http"), "{path}: {tag}");
        }
        assert!(html.contains("invented"), "{path} lacks the notice");
    }
}

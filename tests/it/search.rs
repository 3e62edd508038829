//! The search index and its page, the lists of addresses, and what scripts may do.

use std::collections::{BTreeMap, BTreeSet};

use pondweigh::Weighed;
use serde_json::Value as Json;

use crate::support::{
    CORNER, DEMO, Site, guide, html_pages, input, plant_links, regulated_here, site_of, text,
    weighed,
};

fn json(site: &Site, address: &str) -> Json {
    let bytes = site
        .get(address)
        .unwrap_or_else(|| panic!("no file {address}"));
    assert_eq!(bytes.last(), Some(&b'\n'), "{address}");
    serde_json::from_slice(bytes).unwrap_or_else(|why| panic!("{address}: {why}"))
}

/// First and last word of a drawer, and its entries.
type Drawer = (String, String, Vec<(String, Json)>);

/// Rows of the drawers of names, each with the card of its target, by the words the drawers span.
fn drawers(site: &Site) -> Vec<Drawer> {
    let contents = json(site, "search/drawers.json");
    let spans = contents["names"].as_array().expect("spans");
    spans
        .iter()
        .enumerate()
        .map(|(at, span)| {
            let drawer = json(site, &format!("search/names/{at}.json"));
            let rows = drawer["rows"].as_array().expect("rows").iter().map(|row| {
                let key = row[3].as_str().expect("a target");
                let name = row[1].as_str().expect("a name").to_owned();
                (name, drawer["of"][key].clone())
            });
            let word = |at: usize| span[at].as_str().expect("a word").to_owned();
            (word(0), word(1), rows.collect())
        })
        .collect()
}

/// Every name of a guide with the address it should lead to.
fn all_names(weighed: &Weighed) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for plant in &weighed.names.plants {
        let entry = &weighed.guide.plants[plant.entry];
        let others = entry
            .synonyms
            .iter()
            .chain(&entry.trade_names)
            .chain(&entry.known_as);
        for name in std::iter::once(&entry.name).chain(others) {
            let href = format!("plants/{}/", plant.slug);
            out.push((name.value.trim().to_owned(), href));
        }
    }
    for genus in &weighed.guide.genera {
        let rows = genus.loose.iter().map(|row| &row.name);
        for name in genus.loose_name.iter().chain(&genus.also).chain(rows) {
            out.push((
                name.value.trim().to_owned(),
                format!("names/{}/", genus.folder),
            ));
        }
    }
    out
}

#[test]
fn every_name_is_in_the_index_under_each_of_its_words_and_leads_to_its_plant() {
    for (folder, site) in [("", &*DEMO), ("tests/guides/corner", &*CORNER)] {
        let weighed = weighed(&guide(folder));
        let drawers = drawers(site);
        let names = all_names(&weighed);
        assert!(names.len() > 30);
        for (name, href) in names {
            // Names with other letters than these are cut by the library's own test.
            let plain = name.replace('×', " ").to_lowercase();
            if !plain.is_ascii() {
                continue;
            }
            let words: Vec<&str> = plain
                .split(|c: char| !c.is_ascii_alphanumeric())
                .filter(|word| !word.is_empty())
                .collect();
            for word in words {
                let found = drawers
                    .iter()
                    .filter(|(first, last, _)| first.as_str() <= word && word <= last.as_str())
                    .flat_map(|(_, _, rows)| rows)
                    .any(|(other, card)| *other == name && card[1] == href.as_str());
                assert!(found, "{folder}: {name} is not found under {word}");
            }
        }
    }
}

#[test]
fn every_regulated_plant_carries_its_notice_wherever_it_can_be_found() {
    for (folder, site) in [("", &*DEMO), ("tests/guides/corner", &*CORNER)] {
        let weighed = weighed(&guide(folder));
        let regulated: BTreeSet<String> = regulated_here(&weighed)
            .into_iter()
            .map(|slug| format!("plants/{slug}/"))
            .collect();
        assert!(!regulated.is_empty(), "{folder}");
        let mut seen = BTreeSet::new();
        let cards = site
            .keys()
            .filter(|path| path.starts_with("search/names/") || path.starts_with("search/texts/"));
        for address in cards {
            let drawer = json(site, address);
            for card in drawer["of"].as_object().expect("cards").values() {
                let href = card[1].as_str().expect("an address");
                let law = card[4].as_str();
                assert_eq!(law.is_some(), regulated.contains(href), "{address}: {card}");
                if let Some(law) = law {
                    assert!(law.starts_with("listed in "), "{law}");
                    seen.insert(href.to_owned());
                }
            }
        }
        assert_eq!(seen, regulated);
    }
}

#[test]
fn the_index_says_the_standing_that_the_data_say() {
    let contents = json(&DEMO, "search/drawers.json");
    let default = contents["waters"][0][0].as_str().expect("a water");
    assert_eq!(default, "capped-soil");
    let roles = contents["roles"].as_array().expect("roles").clone();
    let guide = json(&DEMO, "data/guide.json");
    let mut checked = 0;
    for (_, _, rows) in drawers(&DEMO) {
        for (_, card) in rows {
            let href = card[1].as_str().expect("an address");
            let Some(role) = card[2].as_u64() else {
                continue;
            };
            let role = usize::try_from(role).expect("small");
            assert!(role < roles.len());
            let data = json(&DEMO, &format!("{href}plant.json"));
            let codes = card[3].as_str().expect("codes");
            for (at, code) in codes.chars().enumerate() {
                let water = contents["waters"][at][0].as_str().expect("a water");
                let role_id = guide["roles"][role]["id"].as_str().expect("an id");
                let standing = &data["standings"][water][role_id];
                let digit = match code {
                    'a'..='e' => code as usize - 'a' as usize,
                    _ => code.to_digit(10).expect("a digit") as usize,
                };
                let word = &contents["standings"][digit][0];
                assert_eq!(*word, standing["standing"], "{href} {water} {role_id}");
                if code.is_ascii_alphabetic() {
                    assert_eq!(standing["in_doubt"], true, "{href} {water}");
                }
                checked += 1;
            }
        }
    }
    assert!(checked > 200, "{checked}");
}

#[test]
fn the_drawers_are_in_order_and_the_same_each_time() {
    let input = guide("tests/guides/corner");
    let with = |threads: usize| -> BTreeMap<String, Vec<u8>> {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool");
        let site = pool.install(|| site_of(&input));
        site.into_iter()
            .filter(|(path, _)| path.starts_with("search/") || path.starts_with("sitemap"))
            .collect()
    };
    let one = with(1);
    assert!(one.len() > 8);
    assert_eq!(one, with(3));
    let contents = json(&DEMO, "search/drawers.json");
    for kind in ["names", "places"] {
        let spans = contents[kind].as_array().expect("spans");
        assert!(!spans.is_empty());
        let ends: Vec<&str> = spans
            .iter()
            .flat_map(|span| span.as_array().expect("two words"))
            .map(|word| word.as_str().expect("a word"))
            .collect();
        assert!(ends.is_sorted(), "{kind}: {ends:?}");
    }
    for length in contents["words"].as_array().expect("lengths") {
        let words = json(&DEMO, &format!("search/words/{length}.json"));
        let words: Vec<&str> = words
            .as_array()
            .expect("words")
            .iter()
            .map(|word| word.as_str().expect("a word"))
            .collect();
        assert!(words.is_sorted());
        assert!(
            words
                .iter()
                .all(|w| w.chars().count() as u64 == length.as_u64().expect("a length"))
        );
    }
}

#[test]
fn texts_are_found_by_their_words() {
    let contents = json(&DEMO, "search/drawers.json");
    let starts: Vec<u64> = contents["texts"]
        .as_array()
        .expect("starts")
        .iter()
        .map(|start| start.as_u64().expect("a number"))
        .collect();
    let mut addresses = BTreeSet::new();
    for (at, start) in starts.iter().enumerate() {
        let drawer = json(&DEMO, &format!("search/texts/{at}.json"));
        let rows = drawer["rows"].as_array().expect("rows");
        assert_eq!(rows[0][0].as_u64(), Some(*start));
        for row in rows {
            let text = row[4].as_str().expect("a text");
            assert!(!text.contains('<') || !text.contains("</"), "{text}");
            addresses.insert(row[3].as_str().expect("an address").to_owned());
        }
    }
    let weighed = weighed(&guide(""));
    for source in &weighed.guide.sources {
        assert!(addresses.contains(&format!("sources/{}/", source.id)));
    }
    for page in &weighed.guide.pages {
        assert!(addresses.contains(&format!("pages/{}/", page.id)));
    }
    for plant in &weighed.names.plants {
        let entry = &weighed.guide.plants[plant.entry];
        let has_text = entry.summary.is_some() || entry.story.is_some();
        assert_eq!(
            addresses.contains(&format!("plants/{}/", plant.slug)),
            has_text
        );
    }
    // A word of a title that the guide of today has.
    let place = (0..contents["places"].as_array().expect("spans").len())
        .flat_map(|at| {
            let drawer = json(&DEMO, &format!("search/places/{at}.json"));
            drawer.as_array().expect("rows").clone()
        })
        .find(|row| row[0] == "tollgate")
        .expect("a source has it in its title");
    assert!(!place[2].as_array().expect("numbers").is_empty());
}

#[test]
fn without_scripts_every_name_stands_on_the_search_page_with_its_standing() {
    let html = String::from_utf8(DEMO["search/index.html"].clone()).expect("UTF-8");
    for (name, href) in all_names(&weighed(&guide(""))) {
        let shown = name.replace('&', "&amp;").replace('\'', "&#39;");
        let link = format!("<a href=\"../{href}\">");
        let found = html.split(link.as_str()).skip(1).any(|part| {
            let inside = part.split("</a>").next().expect("a link");
            inside.replace("<i>", "").replace("</i>", "") == shown
        });
        assert!(found, "{name} does not lead to {href}");
    }
    let links = plant_links(&html);
    assert!(links.len() > 80);
    for (slug, after) in links {
        assert!(after.starts_with(" <span class=\"standing\">"), "{slug}");
    }
}

/// A plant that is known by very many names, so that one page would be too long.
fn many_names() -> Site {
    let base = guide("tests/site/guide");
    let files: Vec<(String, String)> = base
        .files
        .iter()
        .map(|(path, bytes)| {
            let mut body = String::from_utf8_lossy(bytes).into_owned();
            if path.ends_with("vallisneria/spiralis.yaml") {
                let names: Vec<String> = (0..1600)
                    .map(|at| format!("{}weed {at}", if at % 2 == 0 { "Eel" } else { "Tape" }))
                    .collect();
                body = body
                    .lines()
                    .filter(|line| !line.starts_with("known-as:"))
                    .map(|line| format!("{line}\n"))
                    .collect();
                body.push_str(&format!("known-as: [{}]\n", names.join(", ")));
            }
            (path.clone(), body)
        })
        .collect();
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(path, body)| (path.as_str(), body.as_str()))
        .collect();
    site_of(&input(&files))
}

#[test]
fn many_names_are_listed_on_a_page_a_letter() {
    let site = many_names();
    let page = |address: &str| String::from_utf8(site[address].clone()).expect("UTF-8");
    let head = page("search/index.html");
    assert!(head.contains("<a href=\"e/\">E</a>: 800 names"), "{head}");
    assert!(!head.contains("Eelweed 2"));
    assert!(page("search/e/index.html").contains(">Eelweed 1598</a>"));
    assert!(page("search/t/index.html").contains(">Tapeweed 1599</a>"));
    // Names are cut into drawers, each of a stretch of words.
    let drawers = drawers(&site);
    assert!(drawers.len() > 10);
    assert!(drawers.iter().all(|(_, _, rows)| rows.len() <= 200));
}

#[test]
fn the_sitemap_has_every_page_and_no_former_address() {
    for (folder, site) in [("", &*DEMO), ("tests/guides/corner", &*CORNER)] {
        let weighed = weighed(&guide(folder));
        let base = &weighed.guide.about.address;
        let map = String::from_utf8(site["sitemap.xml"].clone()).expect("UTF-8");
        let listed: Vec<String> = map
            .split("<loc>")
            .skip(1)
            .map(|part| part.split("</loc>").next().expect("closed").to_owned())
            .collect();
        assert!(listed.is_sorted());
        let mut former: BTreeSet<String> = BTreeSet::new();
        for gone in &weighed.guide.gone {
            former.insert(format!("gone/{}/", gone.slug));
            former.insert(format!("plants/{}/", gone.slug));
        }
        for plant in &weighed.guide.plants {
            former.extend(
                plant
                    .formerly
                    .iter()
                    .map(|f| format!("plants/{}/", f.value)),
            );
        }
        let expected: BTreeSet<String> = html_pages(site)
            .filter(|(path, _)| *path != "404.html")
            .map(|(path, _)| path.trim_end_matches("index.html"))
            .filter(|folder| !former.contains(*folder))
            .map(|folder| format!("{base}{folder}"))
            .collect();
        let set: BTreeSet<String> = listed.iter().cloned().collect();
        assert_eq!(set.len(), listed.len());
        assert_eq!(set, expected);
        // Source: the sitemap protocol 0.9, sitemaps.org/protocol.html, from memory.
        assert!(map.starts_with("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<urlset xmlns=\"http://www.sitemaps.org/schemas/sitemap/0.9\">"));
        let robots = String::from_utf8(site["robots.txt"].clone()).expect("UTF-8");
        assert_eq!(
            robots,
            format!("User-agent: *\nAllow: /\nSitemap: {base}sitemap.xml\n")
        );
    }
}

// Source of the rules: Content Security Policy Level 3, W3C: `'self'` without `'unsafe-inline'`
// allows no script and no style within the page, and no attribute of either.
#[test]
fn every_page_has_a_strict_policy_and_keeps_to_it() {
    let policy = "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'\">";
    for site in [&*DEMO, &*CORNER] {
        for (path, html) in html_pages(site) {
            assert!(html.contains(policy), "{path}");
            assert!(!html.contains("<style"), "{path}");
            assert!(!html.contains("javascript:"), "{path}");
            for tag in html.split('<').filter(|tag| !tag.starts_with('/')) {
                let tag = tag.split('>').next().expect("a tag");
                assert!(!tag.contains(" style="), "{path}: <{tag}>");
                let names = tag
                    .split("\" ")
                    .skip(1)
                    .chain(tag.split_once(' ').map(|t| t.1));
                for attribute in names {
                    assert!(!attribute.starts_with("on"), "{path}: <{tag}>");
                }
            }
            for script in html.split("<script").skip(1) {
                let (attributes, rest) = script.split_once('>').expect("a tag");
                assert!(rest.starts_with("</script>"), "{path}: a script within");
                let src = attributes
                    .strip_prefix(" type=\"module\" src=\"")
                    .and_then(|src| src.strip_suffix('"'))
                    .unwrap_or_else(|| panic!("{path}: {attributes}"));
                let file = src.rsplit("../").next().expect("a path");
                let file = file.rsplit_once("moves/").expect("in moves/").1;
                assert!(site.contains_key(&format!("moves/{file}")), "{path}: {src}");
            }
        }
    }
}

#[test]
fn scripts_make_no_code_and_ask_no_other_host() {
    let scripts: Vec<(&String, &Vec<u8>)> = DEMO
        .iter()
        .filter(|(path, _)| path.starts_with("moves/") && path.ends_with(".js"))
        .collect();
    assert!(scripts.len() >= 5);
    for (path, bytes) in scripts {
        let body = String::from_utf8_lossy(bytes);
        for bad in [
            "eval(",
            "new Function",
            "document.write",
            "https://",
            "import(",
        ] {
            assert!(!body.contains(bad), "{path} has {bad}");
        }
    }
    // A library is handed on with its licence beside it.
    let licence = text("themes/stillwater/moves/minisearch.LICENSE.txt");
    assert!(licence.contains("Permission is hereby granted"));
    assert!(DEMO.contains_key("moves/minisearch.LICENSE.txt"));
}

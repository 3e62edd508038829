//! Plants side by side: every plant under each of its forms, with its standing.

use std::collections::BTreeSet;

use pondweigh::roles::can_have;

use crate::support::{guide, pages, plant_links, weighed};

#[test]
fn every_plant_stands_under_each_of_its_forms_with_its_standings() {
    for name in ["", "tests/guides/corner"] {
        let input = guide(name);
        let weighed = weighed(&input);
        let pages = pages(&input);
        let about = &weighed.guide;
        let mut checked = 0;
        for (water_index, water) in about.waters.iter().enumerate() {
            let path = if water_index == about.about.default_water {
                "compare/index.html".to_owned()
            } else {
                format!("compare/{}/index.html", water.id)
            };
            let html = &pages[&path];
            for form in &about.forms {
                let of_form: Vec<usize> = (0..weighed.names.plants.len())
                    .filter(|plant| {
                        let entry = &about.plants[weighed.names.plants[*plant].entry];
                        entry.forms.contains(&form.id)
                    })
                    .collect();
                let mark = format!(
                    "aria-label=\"Table of every {}\"><table",
                    form.title.to_lowercase()
                );
                let Some((_, table)) = html.split_once(&mark) else {
                    assert!(of_form.is_empty(), "{path}: no table of {}", form.id);
                    continue;
                };
                let table = table.split("</table>").next().expect("an end");
                assert!(
                    table.contains(&format!(
                        "<caption>{} in {}</caption>",
                        form.title, water.title
                    )),
                    "{path}: {}",
                    form.id
                );
                let roles: Vec<usize> = (0..about.roles.len())
                    .filter(|role| can_have(&about.roles[*role], std::slice::from_ref(&form.id)))
                    .collect();
                let rows: Vec<&str> = table.split("<th scope=\"row\">").skip(1).collect();
                assert_eq!(rows.len(), of_form.len(), "{path}: {}", form.id);
                for (row, plant) in rows.iter().zip(&of_form) {
                    let links = plant_links(row);
                    assert_eq!(links.len(), 1);
                    assert_eq!(links[0].0, weighed.names.plants[*plant].slug);
                    let cells: Vec<&str> = row.split("<td>").collect();
                    for (at, role) in roles.iter().enumerate() {
                        let standing = weighed.standings.plants[*plant].standings[water_index]
                            [*role]
                            .as_ref()
                            .expect("its form can have the role");
                        assert!(
                            cells[at].contains(standing.word.on_screen()),
                            "{path}: {}: {}: {}",
                            links[0].0,
                            about.roles[*role].id,
                            cells[at]
                        );
                        checked += 1;
                    }
                }
            }
        }
        assert!(checked > 20, "{name}: {checked}");
    }
}

#[test]
fn a_level_is_that_of_the_water_with_its_confidence() {
    let input = guide("");
    let weighed = weighed(&input);
    let pages = pages(&input);
    let growth = weighed
        .guide
        .traits
        .iter()
        .position(|of| of.id == "growth")
        .expect("growth");
    let mut levels = BTreeSet::new();
    for (water_index, water) in weighed.guide.waters.iter().enumerate() {
        let path = if water_index == weighed.guide.about.default_water {
            "compare/index.html".to_owned()
        } else {
            format!("compare/{}/index.html", water.id)
        };
        for row in pages[&path].split("<th scope=\"row\">").skip(1) {
            let slug = plant_links(row)[0].0;
            let plant = weighed
                .names
                .plants
                .iter()
                .position(|plant| plant.slug == slug)
                .expect("a plant");
            let here = &weighed.reconciled.plants[plant].in_water[water_index];
            let Some((level, grade)) = here.get(&growth).and_then(|g| Some((g.level?, g))) else {
                continue;
            };
            let pondweigh::content::TraitKind::Scale(on) = &weighed.guide.traits[growth].kind
            else {
                panic!("growth is on a scale");
            };
            let word = weighed.guide.scales[on.scale].levels[level]
                .id
                .replace('-', " ");
            let sure = format!("#bracket-{}\"", grade.confidence.word().replace(' ', "-"));
            let is_there = row.split("<td>").any(|cell| {
                cell.starts_with(&format!("{word} <span"))
                    && cell.contains(&sure)
                    && cell.contains(&format!(" {}", grade.confidence.word()))
            });
            assert!(is_there, "{path}: {slug}: {word}");
            levels.insert((slug, level));
        }
    }
    assert!(levels.len() > 3);
}

#[test]
fn wide_tables_scroll_in_a_box_that_keys_reach() {
    for (path, html) in pages(&guide("")) {
        if !path.starts_with("compare/") {
            continue;
        }
        let tables = html.matches("<table").count();
        let boxes = html
            .matches(
                "<div class=\"wide broad\" tabindex=\"0\" role=\"region\" aria-label=\"Table of every ",
            )
            .count();
        assert!(tables > 0 && tables == boxes, "{path}");
        // Every drawing that is pointed to is there.
        for part in html.split("<use href=\"#").skip(1) {
            let id = part.split('"').next().expect("an id");
            assert!(
                html.contains(&format!("<symbol id=\"{id}\"")),
                "{path}: {id}"
            );
        }
    }
}

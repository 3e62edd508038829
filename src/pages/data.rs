//! The site's data: JSON with sorted keys, full-precision numbers, one line, a newline at the end;
//! and the tables, whose rows and columns are in `table.rs`.

use rayon::prelude::*;
use serde_json::{Map, Value as Json, json};

use crate::claims::{Claims, Value};
use crate::content::{Guide, TraitKind};
use crate::editions::Edition;
use crate::names::{Names, PlantId};
use crate::pages::table::tables;
use crate::reconcile::grade::Grade;
use crate::reconcile::pool::Pooled;
use crate::reconcile::span::SpanGrade;
use crate::reconcile::{Factor, Group, Outcome, Reconciled, TraitGrade};
use crate::roles::{Change, Standing, Standings};

/// Every data file of the site as (address, text), sorted by address.
pub fn data(
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    reconciled: &Reconciled,
    standings: &Standings,
    editions: &[Edition],
) -> Vec<(String, String)> {
    let plants: Vec<(String, String)> = (0..names.plants.len())
        .into_par_iter()
        .map(|plant| {
            let mut json = plant_json(plant, guide, names, claims, reconciled, standings);
            json["edition"] = recorded_in(plant, guide, names, editions);
            let address = format!("plants/{}/plant.json", names.plants[plant].slug);
            (address, text(&json))
        })
        .collect();
    let genera = genus_files(guide, names, reconciled);
    let sources = source_files(guide, claims, reconciled);
    let mut out = vec![
        ("data/guide.json", text(&guide_json(guide, names, editions))),
        ("data/plants.json", array(&plants)),
        ("data/names.json", array(&genera)),
        ("data/sources.json", array(&sources)),
        (
            "data/wanted.json",
            text(&wanted_json(guide, names, standings)),
        ),
    ]
    .into_iter()
    .map(|(address, text)| (address.to_owned(), text))
    .collect::<Vec<(String, String)>>();
    out.extend(tables(guide, names, claims, reconciled, standings));
    out.extend(plants);
    out.extend(genera);
    out.extend(sources);
    out.sort();
    out
}

/// The date of the latest edition, if it has the plant.
pub(crate) fn recorded_in(
    plant: PlantId,
    guide: &Guide,
    names: &Names,
    editions: &[Edition],
) -> Json {
    let formerly = &guide.plants[names.plants[plant].entry].formerly;
    let formerly = formerly.iter().map(|old| old.value.as_str());
    let slug = &names.plants[plant].slug;
    let latest = editions.last();
    let recorded = latest.filter(|edition| edition.plant(slug, formerly).is_some());
    json!(
        recorded
            .and_then(|edition| edition.head.date)
            .map(|date| date.to_string())
    )
}

/// What each loose name hides, for every genus that has a plant.
pub(crate) fn genus_files(
    guide: &Guide,
    names: &Names,
    reconciled: &Reconciled,
) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for (genus, groups) in reconciled.groups.iter().enumerate() {
        if names.of_genus(genus).is_empty() {
            continue;
        }
        let traits: Map<String, Json> = groups
            .iter()
            .map(|(trait_index, group)| {
                let of = &guide.traits[*trait_index];
                (of.id.clone(), group_json(group, *trait_index, guide, names))
            })
            .collect();
        let json = json!({ "genus": names.genera[genus], "traits": traits });
        let address = format!("names/{}/group.json", guide.genera[genus].folder);
        out.push((address, text(&json)));
    }
    out
}

/// Each source, and how it runs against the others.
pub(crate) fn source_files(
    guide: &Guide,
    claims: &Claims,
    reconciled: &Reconciled,
) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for (at, source) in guide.sources.iter().enumerate() {
        let runs: Map<String, Json> = reconciled.runs[at]
            .iter()
            .map(|(trait_index, run)| {
                let ci = run.ci.map(|(low, high)| [low, high]);
                let run = json!({ "n": run.n, "mean": run.mean, "ci": ci });
                (guide.traits[*trait_index].id.clone(), run)
            })
            .collect();
        let voice = &reconciled.voices.ids[reconciled.voices.of_source[at]];
        let json = json!({
            "id": source.id,
            "kind": source.kind,
            "voice": voice,
            "claims": claims.of_source[at],
            "runs": runs,
        });
        out.push((format!("sources/{}/source.json", source.id), text(&json)));
    }
    out
}

/// Files of one kind as one array. Each is one line of JSON already.
fn array(files: &[(String, String)]) -> String {
    let items: Vec<&str> = files.iter().map(|(_, text)| text.trim_end()).collect();
    format!("[{}]\n", items.join(","))
}

/// Standings of the default water that are not known yet, fewest further notes first.
fn wanted_json(guide: &Guide, names: &Names, standings: &Standings) -> Json {
    let water = guide.about.default_water;
    standings
        .wanted
        .iter()
        .map(|wanted| {
            let roles = &standings.plants[wanted.plant];
            let standing = roles.standings[water][wanted.role].as_ref();
            let changes: Vec<Json> = standing
                .into_iter()
                .flat_map(|standing| &standing.changes)
                .filter(|change| Some(change.notes) == wanted.notes)
                .map(|change| change_json(change, guide))
                .collect();
            json!({
                "plant": names.plants[wanted.plant].slug,
                "name": names.plants[wanted.plant].name,
                "water": guide.waters[water].id,
                "role": guide.roles[wanted.role].id,
                "standing": standing.map(|standing| standing.word.id()),
                "regulated_here": roles.is_regulated_here(),
                "notes": wanted.notes,
                "changes": changes,
            })
        })
        .collect()
}

fn change_json(change: &Change, guide: &Guide) -> Json {
    json!({
        "trait": guide.traits[change.trait_index].id,
        "level": level_id(change.trait_index, change.level, guide),
        "notes": change.notes,
        "to": change.to.id(),
    })
}

pub(crate) fn text(json: &Json) -> String {
    let mut text = json.to_string();
    text.push('\n');
    text
}

fn guide_json(guide: &Guide, names: &Names, editions: &[Edition]) -> Json {
    let plants: Vec<Json> = names
        .plants
        .iter()
        .map(|plant| json!({ "slug": plant.slug, "name": plant.name, "href": format!("../plants/{}/", plant.slug) }))
        .collect();
    let waters: Vec<Json> = guide
        .waters
        .iter()
        .map(|water| json!({ "id": water.id, "title": water.title, "href": format!("../waters/{}/", water.id) }))
        .collect();
    let roles: Vec<Json> = guide
        .roles
        .iter()
        .map(|role| json!({ "id": role.id, "title": role.title, "href": format!("../roles/{}/", role.id) }))
        .collect();
    let editions: Vec<Json> = editions
        .iter()
        .filter_map(|edition| {
            let date = edition.head.date?;
            Some(json!({
                "date": date.to_string(),
                "number": edition.head.number,
                "note": edition.head.note,
                "href": format!("../editions/{date}/"),
            }))
        })
        .collect();
    json!({
        "title": guide.about.title,
        "plants": plants,
        "waters": waters,
        "roles": roles,
        "editions": editions,
    })
}

pub(crate) fn plant_json(
    plant: PlantId,
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    reconciled: &Reconciled,
    standings: &Standings,
) -> Json {
    let name = &names.plants[plant];
    let entry = &guide.plants[name.entry];
    let grades = &reconciled.plants[plant];
    let roles = &standings.plants[plant];
    let regulated: Vec<Json> = roles
        .regulated
        .iter()
        .map(|(listing, here)| {
            let listing = &guide.regulated[*listing];
            json!({
                "place": listing.place,
                "instrument": listing.instrument,
                "listed_as": listing.listed_as,
                "date": listing.date,
                "here": here,
            })
        })
        .collect();
    let traits: Map<String, Json> = grades
        .traits
        .iter()
        .map(|(index, graded)| {
            (
                guide.traits[*index].id.clone(),
                trait_json(*index, graded, guide, claims, reconciled),
            )
        })
        .collect();
    let mut in_water = Map::new();
    let mut all_standings = Map::new();
    let mut instead = Map::new();
    for (water_index, water) in guide.waters.iter().enumerate() {
        let here: Map<String, Json> = grades.in_water[water_index]
            .iter()
            .map(|(index, grade)| {
                (
                    guide.traits[*index].id.clone(),
                    Json::Object(grade_json(grade, *index, guide)),
                )
            })
            .collect();
        in_water.insert(water.id.clone(), Json::Object(here));
        let mut by_role = Map::new();
        let mut instead_here = Map::new();
        for (role_index, role) in guide.roles.iter().enumerate() {
            let standing = roles.standings[water_index][role_index]
                .as_ref()
                .map(|standing| standing_json(standing, guide, reconciled));
            by_role.insert(role.id.clone(), standing.unwrap_or(Json::Null));
            let slugs: Vec<&str> = roles.instead[water_index][role_index]
                .iter()
                .map(|id| names.plants[*id].slug.as_str())
                .collect();
            instead_here.insert(role.id.clone(), json!(slugs));
        }
        all_standings.insert(water.id.clone(), Json::Object(by_role));
        instead.insert(water.id.clone(), Json::Object(instead_here));
    }
    json!({
        "slug": name.slug,
        "name": name.name,
        "genus": names.genera[name.genus],
        "forms": entry.forms,
        "regulated": regulated,
        "traits": traits,
        "in_water": in_water,
        "standings": all_standings,
        "instead": instead,
        "edition": null,
    })
}

fn level_id(trait_index: usize, level: usize, guide: &Guide) -> Json {
    match &guide.traits[trait_index].kind {
        TraitKind::Scale(on) => json!(guide.scales[on.scale].levels[level].id),
        TraitKind::Span(_) => Json::Null,
    }
}

fn grade_json(grade: &Grade, trait_index: usize, guide: &Guide) -> Map<String, Json> {
    let level = |level: usize| level_id(trait_index, level, guide);
    let mut out = Map::new();
    let mut put = |key: &str, value: Json| out.insert(key.to_owned(), value);
    put("level", grade.level.map_or(Json::Null, level));
    put(
        "span",
        grade
            .span
            .map_or(Json::Null, |(low, high)| json!([level(low), level(high)])),
    );
    put("profile", json!(grade.profile));
    put("weight", json!(grade.weight));
    put("voices", json!(grade.voices));
    put("effective_voices", json!(grade.effective_voices));
    put("consensus", json!(grade.consensus));
    put("evidence", json!(grade.evidence.word()));
    put("agreement", json!(grade.agreement.word()));
    put("confidence", json!(grade.confidence.word()));
    put("contested", json!(grade.is_contested));
    out
}

fn trait_json(
    trait_index: usize,
    graded: &TraitGrade,
    guide: &Guide,
    claims: &Claims,
    reconciled: &Reconciled,
) -> Json {
    let (grade, measured, goes_with) = match &graded.outcome {
        Outcome::Span(span) => return span_json(span),
        Outcome::Scale {
            grade,
            measured,
            goes_with,
        } => (grade, measured, goes_with),
    };
    let mut out = grade_json(grade, trait_index, guide);
    let measured: Map<String, Json> = measured
        .iter()
        .map(|(key, pooled)| ((*key).to_owned(), pooled_json(pooled)))
        .collect();
    out.insert("measured".to_owned(), Json::Object(measured));
    out.insert(
        "goes_with".to_owned(),
        goes_with.iter().map(factor_json).collect(),
    );
    let claims: Vec<Json> = graded
        .claims
        .iter()
        .map(|one| {
            let claim = &claims.all[one.id];
            let source = &guide.sources[claim.source];
            let mass = match (&claim.value, one.weight) {
                (Value::Mass(mass), Some(_)) => json!(mass),
                _ => Json::Null,
            };
            json!({
                "source": source.id,
                "voice": reconciled.voices.ids[one.voice],
                "loose": claim.is_loose,
                "weighed": one.weight.is_some(),
                "weight": one.weight,
                "mass": mass,
                "text": format!("{}: {}", source.title, claim.words),
            })
        })
        .collect();
    out.insert("claims".to_owned(), Json::Array(claims));
    Json::Object(out)
}

fn span_json(span: &SpanGrade) -> Json {
    json!({
        "low": span.low,
        "high": span.high,
        "overlap": span.overlap,
        "voices": span.voices,
        "evidence": span.evidence.word(),
        "agreement": span.agreement.word(),
        "confidence": span.confidence.word(),
    })
}

fn pooled_json(pooled: &Pooled) -> Json {
    json!({
        "k": pooled.k,
        "estimate": pooled.estimate,
        "se": pooled.se,
        "tau2": pooled.tau2_dl,
        "q": pooled.q,
        "i2": pooled.i2_from_q,
        "ci": [pooled.ci.0, pooled.ci.1],
        "prediction": pooled.prediction.map(|(low, high)| [low, high]),
        "doubling_days": pooled.doubling_days,
    })
}

fn factor_json(factor: &Factor) -> Json {
    json!({
        "factor": factor.id,
        "share": factor.share.share,
        "p": factor.share.p,
        "arrangements": factor.share.arrangements.map(whole),
        "notable": factor.share.is_notable(),
    })
}

/// A count kept as a float, as an integer where it is one exactly.
fn whole(count: f64) -> Json {
    if count < 9e15 {
        json!(count as u64)
    } else {
        json!(count)
    }
}

fn group_json(group: &Group, trait_index: usize, guide: &Guide, names: &Names) -> Json {
    let levels: Map<String, Json> = group
        .levels
        .iter()
        .map(|(plant, (level, _, _))| {
            (
                names.plants[*plant].slug.clone(),
                level_id(trait_index, *level, guide),
            )
        })
        .collect();
    json!({
        "share": group.share.map(|share| share.share),
        "p": group.share.and_then(|share| share.p),
        "arrangements": group.share.and_then(|share| share.arrangements).map(whole),
        "misleading": group.is_misleading,
        "levels": levels,
    })
}

fn standing_json(standing: &Standing, guide: &Guide, reconciled: &Reconciled) -> Json {
    let clauses: Vec<Json> = standing
        .clauses
        .iter()
        .map(|verdict| {
            json!({
                "list": verdict.list.id(),
                "text": verdict.text,
                "trait": guide.traits[verdict.trait_index].id,
                "result": verdict.answer.id(),
                "probability": verdict.probability,
            })
        })
        .collect();
    let rests_on: Vec<&str> = standing
        .rests_on
        .iter()
        .map(|voice| reconciled.voices.ids[*voice].as_str())
        .collect();
    let changes: Vec<Json> = standing
        .changes
        .iter()
        .map(|change| change_json(change, guide))
        .collect();
    json!({
        "standing": standing.word.id(),
        "in_doubt": standing.is_in_doubt,
        "clauses": clauses,
        "sturdy": { "rests_on": rests_on, "equal_kinds": standing.is_equal_kinds },
        "changes": changes,
    })
}

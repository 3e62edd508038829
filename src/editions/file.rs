//! Editions as files: `content/editions/<date>.json`, one line a plant, sorted.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use jiff::civil::Date;
use serde::de::{Deserialize, Deserializer, Error, MapAccess, Visitor};
use serde_json::{Map, Value as Json, json};

use crate::content::Input;
use crate::diagnostic::{Diagnostic, Place};
use crate::editions::{Edition, Graded, Head, Mark, Recorded};
use crate::reconcile::grade::Confidence;
use crate::roles::Word;

/// The format that is written.
const FORMAT: u32 = 1;

const FOLDER: &str = "content/editions/";

/// Where the edition of a day is kept.
pub fn path(date: Date) -> String {
    format!("{FOLDER}{date}.json")
}

/// Every edition of a guide, the oldest first.
pub fn read(input: &Input) -> (Vec<Edition>, Vec<Diagnostic>) {
    let mut out: Vec<Edition> = Vec::new();
    let mut faults = Vec::new();
    for (path, bytes) in &input.files {
        let Some(name) = path
            .strip_prefix(FOLDER)
            .and_then(|name| name.strip_suffix(".json"))
            .filter(|name| !name.contains('/'))
        else {
            continue;
        };
        let place = Place::head(path);
        let Some(date) = day(name) else {
            faults.push(Diagnostic::edition_name(&place));
            continue;
        };
        match edition(path, bytes, date) {
            Ok(edition) => {
                // Files come sorted by name, which is the day.
                if let Some(before) = out.last()
                    && edition.head.number <= before.head.number
                {
                    faults.push(Diagnostic::edition_number(
                        &place,
                        edition.head.number,
                        before.head.number,
                    ));
                }
                out.push(edition);
            }
            Err(fault) => faults.push(*fault),
        }
    }
    (out, faults)
}

/// A day as a file may be named for it.
fn day(text: &str) -> Option<Date> {
    let date: Date = text.parse().ok()?;
    (date.to_string() == text).then_some(date)
}

fn edition(path: &str, bytes: &[u8], date: Date) -> Result<Edition, Box<Diagnostic>> {
    // The format first: a later one may have keys that are not known here.
    let head: FormatFile = serde_json::from_slice(bytes).map_err(|why| fault(path, &why))?;
    if head.format > FORMAT {
        let place = Place::head(path);
        return Err(Box::new(Diagnostic::edition_format(
            &place,
            head.format,
            FORMAT,
        )));
    }
    let file: EditionFile = serde_json::from_slice(bytes).map_err(|why| fault(path, &why))?;
    if day(&file.date) != Some(date) {
        let place = Place::head(path);
        return Err(Box::new(Diagnostic::edition_day(&place, &file.date)));
    }
    let mut roles = file.roles;
    let mut waters = file.waters;
    roles.sort();
    waters.sort();
    let plants = file
        .plants
        .into_iter()
        .map(|(slug, plant)| (slug, recorded(plant, &waters)))
        .collect();
    Ok(Edition {
        head: Head {
            date: Some(date),
            number: file.number,
            note: file.note,
        },
        made_with: file.made_with,
        roles,
        waters,
        rules: file.rules,
        sources: file.sources,
        plants,
    })
}

fn fault(path: &str, why: &serde_json::Error) -> Box<Diagnostic> {
    let place = Place {
        file: Arc::from(path),
        line: why.line().max(1) as u32,
        column: why.column().max(1) as u32,
        start: 0,
        end: 0,
    };
    let text = why.to_string();
    // The place stands before the sentence already.
    let text = text
        .rfind(" at line ")
        .map_or(text.as_str(), |at| &text[..at]);
    Box::new(Diagnostic::bad_edition(&place, text))
}

fn recorded(plant: PlantFile, waters: &[String]) -> Recorded {
    let standings = plant
        .standings
        .into_iter()
        .map(|(role, words)| {
            let by_water = match words {
                WordsFile::Everywhere(word) => {
                    waters.iter().map(|water| (water.clone(), word.0)).collect()
                }
                WordsFile::ByWater(words) => words
                    .into_iter()
                    .map(|(water, word)| (water, word.0))
                    .collect(),
            };
            (role, by_water)
        })
        .collect();
    let traits = plant
        .traits
        .into_iter()
        .map(|(id, of)| {
            let mut claims: Vec<(String, String)> = of
                .claims
                .split_whitespace()
                .map(|claim| {
                    let (source, stamp) = claim.split_once(':').unwrap_or((claim, ""));
                    (source.to_owned(), stamp.to_owned())
                })
                .collect();
            claims.sort();
            let graded = Graded {
                overall: Mark {
                    level: of.level,
                    confidence: of.confidence.0,
                    is_contested: of.contested,
                },
                in_water: of
                    .in_water
                    .into_iter()
                    .map(|(water, mark)| {
                        let mark = Mark {
                            level: mark.level,
                            confidence: mark.confidence.0,
                            is_contested: mark.contested,
                        };
                        (water, mark)
                    })
                    .collect(),
                claims,
            };
            (id, graded)
        })
        .collect();
    Recorded {
        name: plant.name,
        forms: plant.forms,
        formerly: plant.formerly,
        traits,
        standings,
    }
}

/// An edition as the text of its file: keys sorted, one line a plant and a source, a newline at
/// the end. The same edition gives the same bytes.
pub fn text(edition: &Edition) -> String {
    let head = &edition.head;
    let date = head.date.map(|date| date.to_string());
    let plants = edition
        .plants
        .iter()
        .map(|(slug, plant)| (slug.as_str(), plant_json(plant, &edition.waters)));
    let sources = edition
        .sources
        .iter()
        .map(|(id, stamp)| (id.as_str(), json!(stamp)));
    [
        "{".to_owned(),
        format!("\"date\":{},", json!(date)),
        format!("\"format\":{FORMAT},"),
        format!("\"made-with\":{},", json!(edition.made_with)),
        format!("\"note\":{},", json!(head.note)),
        format!("\"number\":{},", head.number),
        format!("\"plants\":{{{}}},", lines(plants)),
        format!("\"roles\":{},", json!(edition.roles)),
        format!("\"rules\":{},", json!(edition.rules)),
        format!("\"sources\":{{{}}},", lines(sources)),
        format!("\"waters\":{}", json!(edition.waters)),
        "}\n".to_owned(),
    ]
    .join("\n")
}

fn lines<'a>(entries: impl Iterator<Item = (&'a str, Json)>) -> String {
    let lines: Vec<String> = entries
        .map(|(key, value)| format!("\n{}:{value}", json!(key)))
        .collect();
    if lines.is_empty() {
        String::new()
    } else {
        format!("{}\n", lines.join(","))
    }
}

fn plant_json(plant: &Recorded, waters: &[String]) -> Json {
    let mut out = Map::new();
    let mut put = |key: &str, value: Json| out.insert(key.to_owned(), value);
    put("name", json!(plant.name));
    put("forms", json!(plant.forms));
    if !plant.formerly.is_empty() {
        put("formerly", json!(plant.formerly));
    }
    let standings: Map<String, Json> = plant
        .standings
        .iter()
        .filter(|(_, by_water)| !by_water.is_empty())
        .map(|(role, by_water)| (role.clone(), words_json(by_water, waters)))
        .collect();
    put("standings", Json::Object(standings));
    let traits: Map<String, Json> = plant
        .traits
        .iter()
        .map(|(id, graded)| (id.clone(), graded_json(graded)))
        .collect();
    put("traits", Json::Object(traits));
    Json::Object(out)
}

/// One word where it is the same in every water, else one for each water.
fn words_json(by_water: &BTreeMap<String, Word>, waters: &[String]) -> Json {
    let mut words = by_water.values();
    let first = words.next();
    match first {
        Some(first)
            if waters.iter().all(|water| by_water.contains_key(water))
                && words.all(|word| word == first) =>
        {
            json!(first.id())
        }
        _ => by_water
            .iter()
            .map(|(water, word)| (water.clone(), json!(word.id())))
            .collect::<Map<String, Json>>()
            .into(),
    }
}

fn graded_json(graded: &Graded) -> Json {
    let mut out = mark_json(&graded.overall);
    let claims: Vec<String> = graded
        .claims
        .iter()
        .map(|(source, stamp)| format!("{source}:{stamp}"))
        .collect();
    out.insert("claims".to_owned(), json!(claims.join(" ")));
    if !graded.in_water.is_empty() {
        let in_water: Map<String, Json> = graded
            .in_water
            .iter()
            .map(|(water, mark)| (water.clone(), Json::Object(mark_json(mark))))
            .collect();
        out.insert("in".to_owned(), Json::Object(in_water));
    }
    Json::Object(out)
}

fn mark_json(mark: &Mark) -> Map<String, Json> {
    let mut out = Map::new();
    if let Some(level) = &mark.level {
        out.insert("level".to_owned(), json!(level));
    }
    out.insert("confidence".to_owned(), json!(mark.confidence.word()));
    if mark.is_contested {
        out.insert("contested".to_owned(), json!(true));
    }
    out
}

// ---- shapes of the file ---------------------------------------------------------------------

#[derive(serde::Deserialize)]
struct FormatFile {
    format: u32,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct EditionFile {
    date: String,
    #[serde(rename = "format")]
    _format: u32,
    #[serde(rename = "made-with")]
    made_with: String,
    note: String,
    number: u32,
    plants: BTreeMap<String, PlantFile>,
    roles: Vec<String>,
    rules: BTreeMap<String, String>,
    sources: BTreeMap<String, String>,
    waters: Vec<String>,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct PlantFile {
    name: String,
    forms: Vec<String>,
    #[serde(default)]
    formerly: Vec<String>,
    standings: BTreeMap<String, WordsFile>,
    traits: BTreeMap<String, GradedFile>,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct GradedFile {
    level: Option<String>,
    confidence: ConfidenceFile,
    #[serde(default)]
    contested: bool,
    claims: String,
    #[serde(rename = "in", default)]
    in_water: BTreeMap<String, MarkFile>,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct MarkFile {
    level: Option<String>,
    confidence: ConfidenceFile,
    #[serde(default)]
    contested: bool,
}

struct ConfidenceFile(Confidence);

impl<'de> Deserialize<'de> for ConfidenceFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<ConfidenceFile, D::Error> {
        let text = String::deserialize(deserializer)?;
        Confidence::ALL
            .into_iter()
            .find(|confidence| confidence.word() == text)
            .map(ConfidenceFile)
            .ok_or_else(|| D::Error::custom(format!("`{text}` is not a confidence")))
    }
}

struct WordFile(Word);

fn word<E: Error>(text: &str) -> Result<WordFile, E> {
    Word::ALL
        .into_iter()
        .find(|word| word.id() == text)
        .map(WordFile)
        .ok_or_else(|| E::custom(format!("`{text}` is not a standing")))
}

impl<'de> Deserialize<'de> for WordFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<WordFile, D::Error> {
        word(&String::deserialize(deserializer)?)
    }
}

/// The standings in a role: one word for every water, or a word for each.
enum WordsFile {
    Everywhere(WordFile),
    ByWater(BTreeMap<String, WordFile>),
}

struct WordsVisitor;

impl<'de> Visitor<'de> for WordsVisitor {
    type Value = WordsFile;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a standing, or one for each water")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<WordsFile, E> {
        word(text).map(WordsFile::Everywhere)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<WordsFile, A::Error> {
        let mut out = BTreeMap::new();
        while let Some((water, word)) = map.next_entry::<String, WordFile>()? {
            out.insert(water, word);
        }
        Ok(WordsFile::ByWater(out))
    }
}

impl<'de> Deserialize<'de> for WordsFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<WordsFile, D::Error> {
        deserializer.deserialize_any(WordsVisitor)
    }
}

//! How far the weighing can be trusted: the published figures of a simulation, for the method page.
//!
//! The figures stand in `calibration.json`, written by `tests/calibration`.

use serde::Deserialize;
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::content::Weights;
use crate::pages::mark::escaped;
use crate::quantity::{decimals, percent};
use crate::roles::Word;

/// The published figures.
#[derive(Debug, Deserialize)]
struct Figures {
    seed: u64,
    clubs: u64,
    assumed: Assumed,
    sets: Vec<SetOf>,
}

#[derive(Debug, Deserialize)]
struct Assumed {
    status: String,
    plants: usize,
    genera: usize,
    numbers: Vec<Number>,
}

/// One assumption, with its value in each set.
#[derive(Debug, Deserialize)]
struct Number {
    title: String,
    unit: String,
    means: String,
    value: BTreeMap<String, f64>,
}

/// One set of assumptions and what came of it.
#[derive(Debug, Deserialize)]
struct SetOf {
    id: String,
    title: String,
    plain: String,
    results: Results,
    prices: Vec<Price>,
}

#[derive(Debug, Deserialize)]
struct Results {
    claims: f64,
    traits: BTreeMap<String, Vec<Row>>,
    standings: BTreeMap<String, Standings>,
}

/// Grades at one confidence.
#[derive(Debug, Deserialize)]
struct Row {
    confidence: String,
    right: Option<Share>,
}

#[derive(Debug, Deserialize)]
struct Standings {
    stated: BTreeMap<String, Stated>,
    open: Share,
}

/// What standings that are stated as one word truly are.
#[derive(Debug, Deserialize)]
struct Stated {
    right: Option<Share>,
    truly: BTreeMap<String, f64>,
}

/// What other policy numbers would give.
#[derive(Debug, Deserialize)]
struct Price {
    weights: String,
    undoubted: Option<Share>,
    all: Bought,
}

#[derive(Debug, Deserialize)]
struct Bought {
    right: Option<Share>,
    found: Option<Share>,
}

/// A share of n, with its 95 % interval.
#[derive(Debug, Clone, Copy, Deserialize)]
struct Share {
    n: f64,
    share: f64,
    low: f64,
    high: f64,
}

static FIGURES: LazyLock<Option<Figures>> =
    LazyLock::new(|| serde_json::from_str(include_str!("calibration.json")).ok());

/// What the method page shows; null where the figures cannot be read.
pub(crate) fn view(weights: &Weights) -> Json {
    let Some(figures) = &*FIGURES else {
        return Json::Null;
    };
    let sets = &figures.sets;
    let rows = |set: &SetOf| set.results.traits.get("growth").map_or(0, Vec::len);
    let words = (0..sets.first().map_or(0, rows)).map(|at| {
        let row = |set: &SetOf| {
            set.results
                .traits
                .get("growth")
                .and_then(|r| r.get(at)?.right)
        };
        let word = sets
            .first()
            .and_then(|set| set.results.traits.get("growth")?.get(at))
            .map(|row| row.confidence.clone());
        let cells: Vec<Json> = sets.iter().map(|set| cell(row(set))).collect();
        json!({ "word": word, "cells": cells })
    });
    let words: Vec<Json> = words.collect();
    let standings: Vec<Json> = sets.iter().filter_map(standings).collect();
    let prices: Vec<Json> = (0..sets.first().map_or(0, |set| set.prices.len()))
        .map(|at| {
            let rows = || sets.iter().filter_map(|set| set.prices.get(at));
            let lines = rows().next().map(|price| price.weights.lines().collect());
            let lines: Vec<&str> = lines.unwrap_or_default();
            let cells: Vec<Json> = rows()
                .map(|price| {
                    json!({
                        "right": cell(price.all.right),
                        "undoubted": cell(price.undoubted),
                        "found": cell(price.all.found),
                    })
                })
                .collect();
            json!({ "lines": lines, "cells": cells })
        })
        .collect();
    let assumed: Vec<Json> = figures
        .assumed
        .numbers
        .iter()
        .map(|number| {
            let values: Vec<Option<String>> = sets
                .iter()
                .map(|set| number.value.get(&set.id).map(f64::to_string))
                .collect();
            json!({
                "title": number.title,
                "unit": number.unit,
                "means": number.means,
                "values": values,
            })
        })
        .collect();
    let heads: Vec<Json> = sets
        .iter()
        .map(|set| json!({ "title": set.title, "plain": set.plain, "claims": decimals(set.results.claims, 0) }))
        .collect();
    json!({
        "seed": figures.seed,
        "clubs": figures.clubs,
        "status": figures.assumed.status,
        "plants": figures.assumed.plants,
        "genera": figures.assumed.genera,
        "differs": *weights != Weights::default(),
        "sets": heads,
        "words": words,
        "standings": standings,
        "prices": prices,
        "assumed": assumed,
        "plot": plot(sets),
    })
}

/// A share for a cell of a table; null where there is none.
fn cell(share: Option<Share>) -> Json {
    share.map_or(
        Json::Null,
        |share| json!({ "share": percent(share.share), "n": decimals(share.n, 0) }),
    )
}

/// What the stated standings of a set truly are, in per cent of each.
fn standings(set: &SetOf) -> Option<Json> {
    let all = set.results.standings.get("all")?;
    let rows: Vec<Json> = Word::ALL
        .into_iter()
        .filter_map(|word| {
            let stated = all.stated.get(word.id())?;
            let n = stated.right?.n;
            let truly: Vec<String> = [
                Word::Mainstay,
                Word::Support,
                Word::Bystander,
                Word::Unsuited,
            ]
            .iter()
            .map(|truth| percent(stated.truly.get(truth.id()).unwrap_or(&0.0) / n))
            .collect();
            Some(json!({ "word": word.on_screen(), "n": decimals(n, 0), "truly": truly }))
        })
        .collect();
    Some(json!({ "title": set.title, "rows": rows, "open": percent(all.open.share) }))
}

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 96.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 44.0;
/// How far the marks of two sets stand apart at one word.
const APART: f64 = 13.0;

/// Shares right by confidence: a mark of its own shape and a line for each set, named at its end.
fn plot(sets: &[SetOf]) -> String {
    let y = |share: f64| TOP + (1.0 - share) * (HEIGHT - TOP - BOTTOM);
    let rows = |set: &SetOf| -> Vec<(String, Option<Share>)> {
        let rows = set.results.traits.get("growth");
        let rows = rows.map(Vec::as_slice).unwrap_or_default();
        rows.iter()
            .map(|row| (row.confidence.clone(), row.right))
            .collect()
    };
    let words: Vec<String> = sets
        .first()
        .map(|set| rows(set).into_iter().map(|(word, _)| word).collect())
        .unwrap_or_default();
    let step = (WIDTH - LEFT - RIGHT) / words.len().max(1) as f64;
    let x = |word: usize, set: usize| {
        let middle = LEFT + (word as f64 + 0.5) * step;
        middle + (set as f64 - (sets.len() as f64 - 1.0) / 2.0) * APART
    };
    let mut out = format!(
        "<svg class=\"plot\" viewBox=\"0 0 {WIDTH:.0} {HEIGHT:.0}\" role=\"img\" aria-labelledby=\"calibration-t calibration-d\">\
         <title id=\"calibration-t\">How often a level of growth is exactly right, by confidence</title>\
         <desc id=\"calibration-d\">One mark for each word of confidence and set of assumptions, with its 95 % interval. The table below has the same figures.</desc>"
    );
    for tenth in [0, 25, 50, 75, 100] {
        let at = y(f64::from(tenth) / 100.0);
        out.push_str(&format!(
            "<path class=\"grid\" d=\"M{LEFT:.0} {at:.1}H{:.0}\"/><text x=\"{:.0}\" y=\"{:.1}\" text-anchor=\"end\">{tenth} %</text>",
            WIDTH - RIGHT,
            LEFT - 6.0,
            at + 4.0
        ));
    }
    for (at, word) in words.iter().enumerate() {
        out.push_str(&format!(
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
            LEFT + (at as f64 + 0.5) * step,
            HEIGHT - BOTTOM + 20.0,
            escaped(word)
        ));
    }
    out.push_str(&format!(
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">confidence</text>",
        LEFT + (WIDTH - LEFT - RIGHT) / 2.0,
        HEIGHT - 6.0
    ));
    let mut names: Vec<(f64, f64, usize)> = Vec::new();
    for (set, of) in sets.iter().enumerate() {
        let mut line = String::new();
        let mut marks = String::new();
        let mut last = None;
        for (word, (_, share)) in rows(of).iter().enumerate() {
            let Some(share) = share else { continue };
            let (x, at) = (x(word, set), y(share.share));
            let pen = if line.is_empty() { 'M' } else { 'L' };
            line.push_str(&format!("{pen}{x:.1} {at:.1}"));
            marks.push_str(&format!(
                "<path class=\"whisker\" d=\"M{x:.1} {:.1}V{:.1}\"/>{}",
                y(share.high),
                y(share.low),
                mark(set, x, at)
            ));
            last = Some((x, at));
        }
        out.push_str(&format!("<path class=\"thread\" d=\"{line}\"/>{marks}"));
        if let Some((x, at)) = last {
            names.push((at, x, set));
        }
    }
    // Names at the right end, none on another.
    names.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free = TOP;
    for (at, _, set) in names {
        let at = at.max(free);
        free = at + 17.0;
        let left = WIDTH - RIGHT + 10.0;
        out.push_str(&format!(
            "{}<text x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            mark(set, left, at),
            left + 10.0,
            at + 4.0,
            escaped(&sets[set].title)
        ));
    }
    out.push_str("</svg>");
    out
}

/// The mark of a set: a square, a full disc, a triangle, a hollow square.
fn mark(set: usize, x: f64, y: f64) -> String {
    match set % 4 {
        0 => format!(
            "<rect class=\"mark\" x=\"{:.1}\" y=\"{:.1}\" width=\"8\" height=\"8\"/>",
            x - 4.0,
            y - 4.0
        ),
        1 => format!("<circle class=\"mark\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"5\"/>"),
        2 => format!(
            "<path class=\"mark\" d=\"M{x:.1} {:.1}l5.5 9h-11z\"/>",
            y - 5.0
        ),
        _ => format!(
            "<rect class=\"mark hollow\" x=\"{:.1}\" y=\"{:.1}\" width=\"8\" height=\"8\"/>",
            x - 4.0,
            y - 4.0
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_figures_are_read_and_every_set_is_on_the_plot() {
        let view = view(&Weights::default());
        let sets = view["sets"].as_array().expect("the figures are read");
        assert!(sets.len() >= 3);
        assert_eq!(view["differs"], false);
        assert_eq!(view["words"].as_array().map(Vec::len), Some(5));
        let plot = view["plot"].as_str().expect("a plot");
        for set in sets {
            assert!(plot.contains(set["title"].as_str().expect("a title")));
        }
        let other = Weights {
            met: 0.9,
            ..Weights::default()
        };
        assert_eq!(super::view(&other)["differs"], true);
    }
}

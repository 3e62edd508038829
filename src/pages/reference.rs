//! Method, traits, words, cautions, free pages, and the page for lost readers.

use serde_json::{Value as Json, json};

use crate::content::{Measure, TraitKind};
use crate::pages::calibration;
use crate::pages::mark::{beam, bracket, name_html};
use crate::pages::markdown::Markdown;
use crate::pages::sentence::unit_on;
use crate::pages::specimen::vignette;
use crate::pages::{Press, Sheet, root};
use crate::quantity::{days_in_words, decimals};
use crate::reconcile::Outcome;
use crate::reconcile::grade::{Agreement, Confidence, Evidence};
use crate::roles::Word;

impl Press<'_> {
    /// Every page that explains.
    pub(crate) fn reference(&self) -> Vec<Sheet> {
        let mut out = vec![
            self.method(),
            self.traits_page(),
            self.words(),
            self.cautions_page(),
            self.lost(),
        ];
        out.extend((0..self.guide.traits.len()).map(|index| self.trait_page(index)));
        out.extend(self.free_pages());
        out
    }

    pub(crate) fn method(&self) -> Sheet {
        let weights = &self.guide.weights;
        let number = |value: f64| decimals(value, 3);
        let kinds: Vec<Json> = {
            let mut kinds: Vec<(&String, &f64)> = weights.kinds.iter().collect();
            kinds.sort_by(|a, b| b.1.total_cmp(a.1).then(a.0.cmp(b.0)));
            kinds
                .into_iter()
                .map(|(kind, weight)| {
                    json!({
                        "kind": kind,
                        "weight": number(*weight),
                        "second_hand": weights.second_hand.contains(kind),
                    })
                })
                .collect()
        };
        Sheet::new(
            "method/index.html",
            "method.html",
            "How the evidence is weighed",
            "The rules and numbers by which this guide grades what sources say, with the published methods behind them.",
            json!({
                "kinds": kinds,
                "tried": calibration::view(weights),
                "example": self.worked_example("../"),
                "w": {
                    "cap": number(weights.second_hand_cap),
                    "further": number(weights.further_note),
                    "loose": number(weights.loose_name),
                    "unstated": number(weights.unstated),
                    "per_step": number(weights.per_step),
                    "mismatch": number(weights.mismatch),
                    "error": crate::quantity::percent(weights.measurement_error),
                    "robust_weight": number(weights.robust.weight),
                    "robust_voices": number(weights.robust.voices),
                    "medium_weight": number(weights.medium.weight),
                    "medium_voices": number(weights.medium.voices),
                    "high": number(weights.agreement.0),
                    "fair": number(weights.agreement.1),
                    "span_high": number(weights.span_agreement.0),
                    "span_fair": number(weights.span_agreement.1),
                    "met": number(weights.met),
                    "failed": number(weights.failed),
                },
            }),
        )
    }

    fn trait_facts(&self, index: usize, root: &str) -> Json {
        let guide = self.guide;
        let of = &guide.traits[index];
        let mut view = json!({
            "id": of.id,
            "title": of.title,
            "href": format!("{root}traits/{}/", of.id),
            "levels": [],
            "need": false,
            "edges": null,
            "depends_on": of.depends_on.iter().map(|c| guide.conditions[*c].title.to_lowercase()).collect::<Vec<_>>().join(", "),
        });
        if let TraitKind::Scale(on) = &of.kind {
            let levels: Vec<Json> = guide.scales[on.scale]
                .levels
                .iter()
                .map(|level| json!({ "word": crate::pages::sentence::spoken(&level.id), "plain": level.plain }))
                .collect();
            view["levels"] = json!(levels);
            view["need"] = json!(on.is_need);
            let edges: Vec<String> = on
                .edges
                .iter()
                .map(|edge| match on.measure {
                    Some(Measure::RelativeGrowthRate) => {
                        format!(
                            "doubling in {}",
                            days_in_words(std::f64::consts::LN_2 / edge)
                        )
                    }
                    _ => format!("{}{}", decimals(*edge, 2), unit_on(on)),
                })
                .collect();
            if !edges.is_empty() {
                view["edges"] = json!(edges.join("; "));
            }
        }
        view
    }

    pub(crate) fn traits_page(&self) -> Sheet {
        let root = "../";
        let traits: Vec<Json> = (0..self.guide.traits.len())
            .map(|index| self.trait_facts(index, root))
            .collect();
        Sheet::new(
            "traits/index.html",
            "traits.html",
            "Traits",
            "What is graded of every plant.",
            json!({ "traits": traits }),
        )
    }

    pub(crate) fn trait_page(&self, index: usize) -> Sheet {
        let of = &self.guide.traits[index];
        let address = format!("traits/{}/index.html", of.id);
        let root = root(&address);
        let mut rows: Vec<(f64, usize, Json)> = Vec::new();
        let mut silent: Vec<Json> = Vec::new();
        for plant in 0..self.names.plants.len() {
            let Some(graded) = self.reconciled.plants[plant].traits.get(&index) else {
                silent.push(self.plant_ref(plant, None, &root));
                continue;
            };
            let mut view = self.plant_ref(plant, None, &root);
            view["trait_href"] =
                json!(format!("{}#trait-{}", self.plant_href(plant, &root), of.id));
            let at = match &graded.outcome {
                Outcome::Scale { grade, .. } => {
                    view["result"] = json!(grade.level.map_or_else(
                        || "nothing weighed".to_owned(),
                        |level| self.level_word(index, level)
                    ));
                    view["grade"] = self.grade_view(index, grade);
                    grade.mean.unwrap_or(-1.0)
                }
                Outcome::Span(span) => {
                    let result = match (span.low, span.high) {
                        (Some(low), Some(high)) => {
                            format!(
                                "{} to {} {}",
                                decimals(low, 1),
                                decimals(high, 1),
                                self.span_unit(index)
                            )
                        }
                        _ => "nothing weighed".to_owned(),
                    };
                    view["result"] = json!(result);
                    view["grade"] = json!({
                        "confidence": span.confidence.word(),
                        "bracket": bracket(span.confidence),
                        "voices": span.voices,
                        "contested": false,
                    });
                    span.low.unwrap_or(f64::MIN)
                }
            };
            rows.push((at, plant, view));
        }
        rows.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let rows: Vec<Json> = rows.into_iter().map(|(_, _, view)| view).collect();
        Sheet::new(
            &address,
            "trait.html",
            &of.title,
            &format!("{} of every plant that somebody has spoken on.", of.title),
            json!({ "trait": self.trait_facts(index, &root), "rows": rows, "silent": silent }),
        )
    }

    pub(crate) fn words(&self) -> Sheet {
        let guide = self.guide;
        let root = "../";
        let standings = [
            (
                Word::Mainstay,
                "It can be relied on to do this job in this water.",
            ),
            (
                Word::Support,
                "It helps with the job, but cannot carry it alone.",
            ),
            (
                Word::Bystander,
                "It may live here, but it does not do this job.",
            ),
            (
                Word::Unproven,
                "The reports do not settle it yet, or there are none.",
            ),
            (
                Word::Unsuited,
                "It starves, dies or does harm in this kind of water.",
            ),
        ];
        let standings: Vec<Json> = standings
            .into_iter()
            .map(|(word, plain)| json!({ "word": word.on_screen(), "beam": beam(word), "plain": plain }))
            .collect();
        let confidence = [
            (Confidence::VeryLow, "Next to nothing to go on."),
            (Confidence::Low, "Little to go on, or voices that differ."),
            (
                Confidence::Medium,
                "Something to go on, with open questions.",
            ),
            (
                Confidence::High,
                "Much to go on, and voices that largely agree.",
            ),
            (
                Confidence::VeryHigh,
                "Much to go on, and no real disagreement.",
            ),
        ];
        let confidence: Vec<Json> = confidence
            .into_iter()
            .map(|(word, plain)| json!({ "word": word.word(), "bracket": bracket(word), "plain": plain }))
            .collect();
        let evidence = [
            (
                Evidence::Limited,
                "Little to go on: few voices, or light ones.",
            ),
            (Evidence::Medium, "Some independent voices."),
            (
                Evidence::Robust,
                "Several independent voices that weigh much.",
            ),
        ]
        .map(|(word, plain)| json!({ "word": word.word(), "plain": plain }));
        let agreement = [
            (
                Agreement::Untested,
                "Hardly more than one voice counts, so nothing tests it.",
            ),
            (Agreement::Low, "The voices stand apart."),
            (Agreement::Medium, "The voices agree roughly."),
            (Agreement::High, "The voices say much the same."),
        ]
        .map(|(word, plain)| json!({ "word": word.word(), "plain": plain }));
        let forms: Vec<Json> = guide
            .forms
            .iter()
            .map(|form| {
                let plate = self.plates.get(&form.id).map(|drawing| vignette(drawing));
                json!({ "title": form.title, "plain": form.plain, "plate": plate })
            })
            .collect();
        let scales: Vec<Json> = (0..guide.traits.len())
            .map(|index| self.trait_facts(index, root))
            .filter(|view| {
                view["levels"]
                    .as_array()
                    .is_some_and(|levels| !levels.is_empty())
            })
            .collect();
        Sheet::new(
            "words/index.html",
            "words.html",
            "Words",
            "Plain words for every standing, grade, level and form.",
            json!({ "standings": standings, "confidence": confidence, "evidence": evidence, "agreement": agreement, "forms": forms, "scales": scales }),
        )
    }

    pub(crate) fn cautions_page(&self) -> Sheet {
        let guide = self.guide;
        let root = "../";
        let mut listed = Vec::new();
        for (plant, roles) in self.standings.plants.iter().enumerate() {
            for (at, here) in &roles.regulated {
                let listing = &guide.regulated[*at];
                listed.push(json!({
                    "plant": self.plant_ref(plant, None, root),
                    "place": listing.place,
                    "instrument": listing.instrument,
                    "date": listing.date,
                    "listed_as": name_html(&listing.listed_as),
                    "here": here,
                }));
            }
        }
        Sheet::new(
            "cautions/index.html",
            "cautions.html",
            "Safety and law",
            "The usual cautions: plants on legal lists, electricity beside water, poisonous plants, small children.",
            json!({ "listed": listed, "as_of": self.lists_as_of(), "places": guide.about.places.join(", ") }),
        )
    }

    pub(crate) fn free_pages(&self) -> Vec<Sheet> {
        self.guide
            .pages
            .iter()
            .map(|page| {
                let mut faults = Vec::new();
                let body = self.general_prose(
                    &page.body,
                    Markdown {
                        top: 2,
                        prefix: "text",
                    },
                    &mut faults,
                );
                let address = format!("pages/{}/index.html", page.id);
                let mut sheet = Sheet::new(
                    &address,
                    "page.html",
                    &page.title,
                    &format!("{}: {}", self.guide.about.title, page.title),
                    json!({ "title": page.title, "body": body }),
                );
                sheet.faults = faults;
                sheet.place = page.body.place.clone();
                sheet
            })
            .collect()
    }

    pub(crate) fn lost(&self) -> Sheet {
        Sheet::new(
            "404.html",
            "lost.html",
            "Page not found",
            "There is no page at this address.",
            json!({}),
        )
    }
}

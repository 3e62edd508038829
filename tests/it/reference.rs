//! Published and package-made vectors for every formula, from `tests/reference/statistics.json`.
//!
//! Each vector there names its source, its provenance and its tolerance.

use pondweigh::claims::mass::slope;
use pondweigh::quantity::{Quantity, Unit, quantity};
use pondweigh::reconcile::factor::{arrangements, permutation_p};
use pondweigh::reconcile::grade::{
    Agreement, Confidence, Evidence, confidence, consensus, kish, weighted_median,
};
use pondweigh::reconcile::pool::{cochran_q, i2_from_q, pool_estimates, t_975, tau2_dl};
use pondweigh::roles::decision_score;
use serde_json::Value;

use crate::support::text;

fn vectors(prefixes: &[&str]) -> Vec<Value> {
    let all: Vec<Value> =
        serde_json::from_str(&text("tests/reference/statistics.json")).expect("valid JSON");
    let found: Vec<Value> = all
        .into_iter()
        .filter(|v| prefixes.iter().any(|prefix| id(v).starts_with(prefix)))
        .collect();
    assert!(!found.is_empty(), "no vector for {prefixes:?}");
    for vector in &found {
        assert!(
            vector["source"].as_str().is_some_and(|s| !s.is_empty()),
            "{} has no source",
            id(vector)
        );
    }
    found
}

fn id(vector: &Value) -> &str {
    vector["id"].as_str().expect("an id")
}

fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .expect("a list")
        .iter()
        .map(|x| x.as_f64().expect("a number"))
        .collect()
}

/// |got − expected| ≤ abs + rel · |expected|, the vectors' own rule.
fn close(vector: &Value, what: &str, got: f64, expected: f64) {
    let abs = vector["tolerance"]["abs"].as_f64().expect("abs");
    let rel = vector["tolerance"]["rel"].as_f64().expect("rel");
    assert!(
        (got - expected).abs() <= abs + rel * expected.abs(),
        "{}: {what} is {got}, expected {expected}",
        id(vector)
    );
}

fn close_pair(vector: &Value, what: &str, got: (f64, f64), expected: &Value) {
    let expected = numbers(expected);
    close(vector, what, got.0, expected[0]);
    close(vector, what, got.1, expected[1]);
}

#[test]
fn random_effects_agree_with_published_tables_and_packages() {
    let mut checked = 0;
    for vector in vectors(&["ma."]) {
        let y = numbers(&vector["inputs"]["y"]);
        let v = numbers(&vector["inputs"]["v"]);
        let expected = &vector["expected"];
        let pooled = pool_estimates(&y, &v).expect("at least one estimate");
        let mut check = |what: &str, got: Option<f64>| {
            match (expected[what].as_f64(), got) {
                (Some(expected), Some(got)) => close(&vector, what, got, expected),
                (Some(_), None) if pooled.k == 1 => {}
                (Some(_), None) => panic!("{}: {what} is missing", id(&vector)),
                (None, _) => return,
            }
            checked += 1;
        };
        check("tau2", pooled.tau2_dl);
        check("Q", pooled.q);
        check("I2_Q", pooled.i2_from_q);
        check("mu", Some(pooled.estimate));
        check("se", Some(pooled.se));
        check("tau", pooled.tau2_dl.map(f64::sqrt));
        // With one estimate these are not computable, whatever a package prints.
        if pooled.k == 1 {
            assert!(pooled.tau2_dl.is_none() && pooled.q.is_none() && pooled.i2_from_q.is_none());
            assert!((pooled.ci.0 - expected["ci_z"][0].as_f64().expect("z")).abs() < 1e-6);
        } else if expected["hksj_adhoc_ci"].is_array() {
            close_pair(
                &vector,
                "hksj_adhoc_ci",
                pooled.ci,
                &expected["hksj_adhoc_ci"],
            );
            checked += 1;
        }
        if expected["pi_hts_t_km2"].is_array() {
            let prediction = pooled.prediction.expect("k >= 3");
            close_pair(
                &vector,
                "pi_hts_t_km2",
                prediction,
                &expected["pi_hts_t_km2"],
            );
            checked += 1;
        } else if pooled.k < 3 {
            assert!(pooled.prediction.is_none(), "{}", id(&vector));
        }
    }
    assert!(checked > 100, "only {checked} values were checked");
}

#[test]
fn agreeing_estimates_give_zero_not_less() {
    // Worked by hand: w = 1 each, mean 1.1, Q = 0.02, C = 2, (Q − 2)/C = −0.99, truncated to 0.
    let (y, v) = ([1.0, 1.2, 1.1], [1.0, 1.0, 1.0]);
    assert!(tau2_dl(&y, &v).abs() < 1e-15);
    assert!((cochran_q(&y, &v) - 0.02).abs() < 1e-12);
    assert!(i2_from_q(0.02, 3).abs() < 1e-15);
}

#[test]
fn consensus_agrees_with_published_values() {
    for vector in vectors(&["ord."]) {
        let inputs = &vector["inputs"];
        let check = |counts: &Value, positions: Option<&Value>, expected: f64| {
            let weights = numbers(counts);
            let positions: Vec<f64> = match positions {
                Some(given) if given.is_array() => numbers(given),
                _ => (0..weights.len()).map(|k| k as f64).collect(),
            };
            let width = positions.iter().copied().fold(f64::MIN, f64::max)
                - positions.iter().copied().fold(f64::MAX, f64::min);
            let levels = width.round() as usize + 1;
            close(
                &vector,
                "consensus",
                consensus(&positions, &weights, levels),
                expected,
            );
        };
        if let Some(expected) = vector["expected"]["consensus"].as_f64() {
            check(&inputs["counts"], inputs.get("values"), expected);
        }
        if let Some(dissent) = vector["expected"]["dissent_4_level"].as_f64() {
            check(&inputs["counts_4_level_scale"], None, 1.0 - dissent);
        }
        if let Some(dissent) = vector["expected"]["dissent_3_level"].as_f64() {
            check(&inputs["counts_3_level_scale"], None, 1.0 - dissent);
        }
    }
}

#[test]
fn effective_voices_are_kish() {
    for vector in vectors(&["kish."]) {
        let got = kish(&numbers(&vector["inputs"]["w"]));
        match vector["expected"]["n_eff"].as_f64() {
            Some(expected) => close(&vector, "n_eff", got.expect("weights"), expected),
            None => assert_eq!(got, None, "{}", id(&vector)),
        }
    }
    assert_eq!(kish(&[0.0, 0.0]), None);
    assert_eq!(kish(&[]), None);
}

#[test]
fn weighted_medians_are_the_lower_ones() {
    for vector in vectors(&["wmedian."]) {
        let x = numbers(&vector["inputs"]["x"]);
        let w = match &vector["inputs"]["w"] {
            Value::Array(_) => numbers(&vector["inputs"]["w"]),
            _ => vec![1.0; x.len()],
        };
        let got = weighted_median(&x, &w).expect("weights");
        close(
            &vector,
            "lower",
            got,
            vector["expected"]["lower"].as_f64().expect("lower"),
        );
    }
}

#[test]
fn slopes_are_least_squares() {
    for vector in vectors(&["rgr.ols."]) {
        let inputs = &vector["inputs"];
        let sizes = ["size", "leaves", "length_cm", "fronds", "cover"]
            .iter()
            .find(|key| inputs[**key].is_array())
            .map(|key| numbers(&inputs[*key]))
            .unwrap_or_else(|| panic!("{} has no sizes", id(&vector)));
        let points: Vec<(f64, f64)> = numbers(&inputs["day"]).into_iter().zip(sizes).collect();
        let (r, se) = slope(&points);
        close(
            &vector,
            "rgr",
            r,
            vector["expected"]["rgr"].as_f64().expect("rgr"),
        );
        match vector["expected"]["se"].as_f64() {
            Some(expected) => close(&vector, "se", se.expect("three points"), expected),
            None => assert_eq!(se, None, "{}", id(&vector)),
        }
    }
    for vector in vectors(&["rgr.two-point"]) {
        let of = |key: &str| vector["inputs"][key].as_f64().expect("a number");
        let (r, _) = slope(&[(of("t1"), of("x1")), (of("t2"), of("x2"))]);
        close(
            &vector,
            "rgr",
            r,
            vector["expected"]["rgr"].as_f64().expect("rgr"),
        );
    }
    // OECD Test Guideline 221 (figures from memory): doubling in 2.5 days is 0.2773 a day, and
    // the rounded 0.275 is just slower than that.
    let vector = &vectors(&["rgr.oecd221"])[0];
    let at_limit = std::f64::consts::LN_2
        / vector["inputs"]["doubling_time_limit_d"]
            .as_f64()
            .expect("limit");
    close(
        vector,
        "rgr_at_limit",
        at_limit,
        vector["expected"]["rgr_at_limit"].as_f64().expect("rate"),
    );
    assert!(vector["inputs"]["stated_rate"].as_f64().expect("rate") < at_limit);
}

#[test]
fn permutation_p_counts_every_arrangement() {
    for vector in vectors(&["perm."]) {
        let inputs = &vector["inputs"];
        if let Some(sizes) = inputs["sizes"].as_array() {
            for (pair, row) in sizes
                .iter()
                .zip(vector["expected"]["table"].as_array().expect("a table"))
            {
                let pair: Vec<u64> = numbers(pair).into_iter().map(|n| n as u64).collect();
                let total = arrangements(&pair);
                assert!((total - row["total"].as_f64().expect("total")).abs() < 0.5);
            }
            continue;
        }
        let (Some(_), Some(groups)) = (inputs["y"].as_array(), inputs["group"].as_array()) else {
            continue;
        };
        let y = numbers(&inputs["y"]);
        let w = numbers(&inputs["w"]);
        let mut names: Vec<&str> = groups
            .iter()
            .map(|g| g.as_str().expect("a group"))
            .collect();
        let given = names.clone();
        names.sort_unstable();
        names.dedup();
        let labels: Vec<usize> = given
            .iter()
            .map(|g| names.iter().position(|n| n == g).expect("known"))
            .collect();
        // Q_between = Σ_g W_g (m_g − m)²; weights and values stay put, labels move.
        let statistic = |labels: &[usize]| -> f64 {
            let total: f64 = w.iter().sum();
            let mean = y.iter().zip(&w).map(|(y, w)| y * w).sum::<f64>() / total;
            (0..names.len())
                .map(|group| {
                    let of = |at: &usize| labels[*at] == group;
                    let members: Vec<usize> = (0..y.len()).filter(of).collect();
                    let weight: f64 = members.iter().map(|at| w[*at]).sum();
                    let m = members.iter().map(|at| y[*at] * w[*at]).sum::<f64>() / weight;
                    weight * (m - mean).powi(2)
                })
                .sum()
        };
        let observed = statistic(&labels);
        let p = permutation_p(&mut labels.clone(), |l| statistic(l) >= observed - 1e-12);
        close(
            &vector,
            "p",
            p,
            vector["expected"]["p"].as_f64().expect("p"),
        );
    }
}

#[test]
fn beta_tails_agree_with_mpmath_and_scipy() {
    let vector = &vectors(&["prim.beta-sf"])[0];
    let mut checked = 0;
    let triples = vector["inputs"]["x_a_b"].as_array().expect("triples");
    for (triple, sf) in triples.iter().zip(numbers(&vector["expected"]["sf"])) {
        let [x, a, b] = numbers(triple)[..] else {
            panic!("three numbers")
        };
        if (x - 0.5).abs() > 1e-12 || a < 0.5 || b < 0.5 {
            continue;
        }
        // Pr(θ > ½) for Beta(a, b) is the score with t = a − ½, W = a + b − 1.
        close(vector, "sf", decision_score(a - 0.5, a + b - 1.0), sf);
        checked += 1;
    }
    assert!(checked >= 4);
    for vector in vectors(&["dirichlet."]) {
        let alpha = numbers(&vector["inputs"]["alpha"]);
        let counts = numbers(&vector["inputs"]["counts"]);
        let posterior: Vec<f64> = alpha.iter().zip(&counts).map(|(a, c)| a + c).collect();
        for (k, expected) in numbers(&vector["expected"]["p_tail_gt_half_k1_on"])
            .into_iter()
            .enumerate()
        {
            let above: f64 = posterior[k + 1..].iter().sum();
            let below: f64 = posterior[..=k].iter().sum();
            // The score starts from one half on each side; thinner priors are out of its range.
            if above < 0.5 || below < 0.5 {
                continue;
            }
            close(
                &vector,
                "tail",
                decision_score(above - 0.5, above + below - 1.0),
                expected,
            );
        }
    }
    assert!(
        (decision_score(0.0, 0.0) - 0.5).abs() < 1e-15,
        "no claims: one half"
    );
}

#[test]
fn t_quantiles_agree_with_mpmath() {
    let vector = &vectors(&["prim.t-quantile"])[0];
    let df = numbers(&vector["inputs"]["df"]);
    for (df, expected) in df.into_iter().zip(numbers(&vector["expected"]["q_0.975"])) {
        close(vector, "t", t_975(df), expected);
    }
}

#[test]
fn units_are_the_legal_ones() {
    // Inch: international yard and pound agreement of 1959; gallons: see the vector's source.
    let vector = &vectors(&["unit.length-volume"])[0];
    for (unit, key) in [
        ("in", "cm_per_inch"),
        ("ft", "cm_per_foot"),
        ("gal-us", "l_per_us_gallon"),
        ("gal-uk", "l_per_uk_gallon"),
    ] {
        let one = Quantity {
            value: 1.0,
            unit: Unit::of(unit).expect("a unit"),
        };
        close(
            vector,
            key,
            one.base(),
            vector["expected"][key].as_f64().expect("a number"),
        );
    }
    let vector = &vectors(&["unit.temperature"])[0];
    let celsius = numbers(&vector["expected"]["degC"]);
    for (f, c) in numbers(&vector["inputs"]["degF"]).into_iter().zip(celsius) {
        let got = quantity(&format!("{f} F")).expect("a temperature").base();
        close(vector, "degC", got, c);
    }
}

#[test]
fn confidence_rises_along_both_axes() {
    // Mastrandrea et al. 2010, IPCC guidance note, Figure 1: confidence increases with evidence
    // and with agreement; the note gives no table, so nothing more can be checked against it.
    let vector = &vectors(&["ipcc2010.structure"])[0];
    let terms: Vec<&str> = vector["expected"]["confidence_terms"]
        .as_array()
        .expect("terms")
        .iter()
        .map(|t| t.as_str().expect("a term"))
        .collect();
    let ours = [
        Confidence::VeryLow,
        Confidence::Low,
        Confidence::Medium,
        Confidence::High,
        Confidence::VeryHigh,
    ];
    assert_eq!(terms, ours.map(Confidence::word));
    let evidence = [Evidence::Limited, Evidence::Medium, Evidence::Robust];
    let agreement = [Agreement::Low, Agreement::Medium, Agreement::High];
    for (i, e) in evidence.into_iter().enumerate() {
        for (j, a) in agreement.into_iter().enumerate() {
            let here = confidence(e, a, 3.0);
            if i > 0 {
                assert!(here >= confidence(evidence[i - 1], a, 3.0));
            }
            if j > 0 {
                assert!(here >= confidence(e, agreement[j - 1], 3.0));
            }
        }
    }
}

//! The balance chart of a trait: the voices as weights on a beam, as inline SVG.

use crate::pages::mark::escaped;

/// One voice on the chart.
#[derive(Debug, Clone)]
pub(crate) struct Weight {
    /// Its name.
    pub(crate) label: String,
    /// Where to read what it says.
    pub(crate) href: Option<String>,
    /// Position on the scale.
    pub(crate) position: f64,
    /// Weight.
    pub(crate) weight: f64,
    /// All its claims were made under a loose name.
    pub(crate) is_loose: bool,
    /// Ends of its whiskers as positions on the scale, where it was measured.
    pub(crate) whiskers: Option<(f64, f64)>,
}

/// What a chart shows.
#[derive(Debug, Clone)]
pub(crate) struct Chart<'a> {
    /// Id of the drawing on its page.
    pub(crate) id: &'a str,
    /// What it is a chart of.
    pub(crate) title: &'a str,
    /// The same in a sentence.
    pub(crate) description: &'a str,
    /// Level names, lowest first.
    pub(crate) levels: Vec<&'a str>,
    /// The voices.
    pub(crate) weights: Vec<Weight>,
    /// Balance point.
    pub(crate) mean: Option<f64>,
    /// Graded level.
    pub(crate) level: Option<usize>,
}

const WIDTH: f64 = 340.0;
const MARGIN: f64 = 34.0;
/// Side of the square of a voice that weighs 1.
const SIDE: f64 = 30.0;

/// A weight as a link with its name.
fn linked(href: Option<&str>, name: &str, drawn: &str) -> String {
    let name = escaped(name);
    match href {
        Some(href) => format!(
            "<a href=\"{}\"><title>{name}</title>{drawn}</a>",
            escaped(href)
        ),
        None => format!("<g><title>{name}</title>{drawn}</g>"),
    }
}

/// What a whisker leaves out at either end.
///
/// Our choice: whiskers hold 95 % of what was measured, as the intervals of the guide do.
const OUTSIDE: f64 = 0.025;

/// The part of the scale that holds 95 % of a voice's mass, as positions.
///
/// A level k is drawn as the stretch from k − ½ to k + ½, its mass spread evenly over it: a value
/// within one level is somewhere in that level. The ends of the scale are at 0 and K − 1.
pub(crate) fn whiskers(mass: &[f64]) -> (f64, f64) {
    let last = mass.len().saturating_sub(1) as f64;
    let end = |share: f64| quantile(mass, share).clamp(0.0, last);
    (end(OUTSIDE), end(1.0 - OUTSIDE))
}

/// Where the running sum of a mass reaches a share, as a position.
fn quantile(mass: &[f64], share: f64) -> f64 {
    let mut sum = 0.0;
    for (level, m) in mass.iter().enumerate() {
        if *m > 0.0 && sum + m >= share {
            return level as f64 - 0.5 + (share - sum) / m;
        }
        sum += m;
    }
    mass.len() as f64 - 0.5
}

/// The levels on which all but 2.5 % at either end of a mass lies: the whiskers in words.
pub(crate) fn reached(mass: &[f64]) -> (usize, usize) {
    let (low, high) = (quantile(mass, OUTSIDE), quantile(mass, 1.0 - OUTSIDE));
    let last = mass.len().saturating_sub(1);
    let level = |position: f64| ((position + 0.5).floor().max(0.0) as usize).min(last);
    // An end on the border between two levels belongs to the level within.
    let high = level(high - 1e-9).max(level(low));
    (level(low), high)
}

impl Chart<'_> {
    fn x(&self, position: f64) -> f64 {
        let steps = (self.levels.len() - 1) as f64;
        MARGIN + position / steps * (WIDTH - 2.0 * MARGIN)
    }

    /// The drawing.
    pub(crate) fn svg(&self) -> String {
        let placed = self.stacked();
        let top = placed
            .iter()
            .map(|(_, y, side)| y + side)
            .fold(24.0, f64::max);
        let beam = top + 8.0;
        // Names of many levels stand on two lines.
        let has_two_lines = self.levels.len() > 5;
        let height = beam + if has_two_lines { 48.0 } else { 34.0 };
        let mut out = format!(
            "<svg class=\"balance\" viewBox=\"0 0 {WIDTH:.0} {height:.0}\" role=\"group\" aria-labelledby=\"{id}-t\" aria-describedby=\"{id}-d\">\
             <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc><g aria-hidden=\"true\">",
            escaped(self.title),
            escaped(self.description),
            id = self.id,
        );
        out.push_str(&format!(
            "<path class=\"rail\" d=\"M{:.1} {beam:.1}H{:.1}\"/>",
            MARGIN - 20.0,
            WIDTH - MARGIN + 20.0
        ));
        for (at, level) in self.levels.iter().enumerate() {
            let x = self.x(at as f64);
            let is_graded = self.level == Some(at);
            let class = if is_graded { "tick graded" } else { "tick" };
            let y = beam
                + if has_two_lines && at % 2 == 1 {
                    42.0
                } else {
                    28.0
                };
            let name = level.replace('-', " ");
            // A long name at an end of the scale is set inwards, where there is room.
            let is_long = name.chars().count() > 10;
            let (text_x, anchor) = if is_long && at == 0 {
                (2.0, "start")
            } else if is_long && at + 1 == self.levels.len() {
                (WIDTH - 2.0, "end")
            } else {
                (x, "middle")
            };
            out.push_str(&format!(
                "<path class=\"{class}\" d=\"M{x:.1} {beam:.1}v{:.0}\"/><text class=\"{class}\" x=\"{text_x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{}</text>",
                if is_graded { 10.0 } else { 5.0 },
                escaped(&name),
            ));
        }
        out.push_str("</g>");
        for (weight, (x, y, side)) in self.weights.iter().zip(&placed) {
            let class = if weight.is_loose {
                "weight hollow"
            } else {
                "weight"
            };
            let (left, upper) = (x - side / 2.0, beam - y - side);
            let mut drawn = format!(
                "<rect class=\"{class}\" x=\"{left:.1}\" y=\"{upper:.1}\" width=\"{side:.1}\" height=\"{side:.1}\"/>",
            );
            if let Some((low, high)) = weight.whiskers {
                let middle = upper + side / 2.0;
                let (low, high) = (self.x(low), self.x(high));
                let cap = 3.0;
                // From the edges of the square outwards, so that the line is seen on any square.
                for (from, to) in [(low, left), (high, left + side)] {
                    let is_outside = (from < left) || (from > left + side);
                    if is_outside {
                        drawn.push_str(&format!(
                            "<path class=\"whisker\" d=\"M{from:.1} {:.1}v{:.1}M{from:.1} {middle:.1}H{to:.1}\"/>",
                            middle - cap,
                            2.0 * cap
                        ));
                    }
                }
            }
            out.push_str(&linked(weight.href.as_deref(), &weight.label, &drawn));
        }
        if let Some(mean) = self.mean {
            let x = self.x(mean);
            out.push_str(&format!(
                "<path class=\"fulcrum\" d=\"M{x:.1} {:.1}l6 11h-12z\"/>",
                beam + 1.0
            ));
        }
        out.push_str("</svg>");
        out
    }

    /// Places of the weights: centre, height above the beam, side. One that would cover another
    /// stands on top of it.
    fn stacked(&self) -> Vec<(f64, f64, f64)> {
        let mut order: Vec<usize> = (0..self.weights.len()).collect();
        // The heaviest stand lowest.
        order.sort_by(|a, b| {
            self.weights[*b]
                .weight
                .total_cmp(&self.weights[*a].weight)
                .then(a.cmp(b))
        });
        let mut out = vec![(0.0, 0.0, 0.0); self.weights.len()];
        let mut done: Vec<usize> = Vec::new();
        for at in order {
            let weight = &self.weights[at];
            let side = (weight.weight.max(0.0).sqrt() * SIDE).max(3.0);
            let x = self.x(weight.position);
            let mut y: f64 = 0.0;
            for other in &done {
                let (other_x, other_y, other_side): (f64, f64, f64) = out[*other];
                if (x - other_x).abs() < (side + other_side) / 2.0 + 1.0 {
                    y = y.max(other_y + other_side + 2.0);
                }
            }
            out[at] = (x, y, side);
            done.push(at);
        }
        out
    }
}

/// One voice on a span.
#[derive(Debug, Clone)]
pub(crate) struct Bar {
    /// Its name.
    pub(crate) label: String,
    /// Where to read what it says.
    pub(crate) href: Option<String>,
    /// Its lower and its upper end.
    pub(crate) ends: (f64, f64),
    /// Weight.
    pub(crate) weight: f64,
}

/// A span on a beam with two ends: every voice's span above it, the span that they come to below.
#[derive(Debug, Clone)]
pub(crate) struct SpanChart<'a> {
    /// Id of the drawing on its page.
    pub(crate) id: &'a str,
    /// What it is a chart of.
    pub(crate) title: &'a str,
    /// The same in a sentence.
    pub(crate) description: &'a str,
    /// The voices.
    pub(crate) voices: Vec<Bar>,
    /// The ends that the voices come to.
    pub(crate) ends: (f64, f64),
    /// The ends, as printed.
    pub(crate) printed: (String, String),
}

impl SpanChart<'_> {
    /// The drawing.
    pub(crate) fn svg(&self) -> String {
        let lows = self.voices.iter().map(|voice| voice.ends.0);
        let highs = self.voices.iter().map(|voice| voice.ends.1);
        let low = lows.fold(self.ends.0, f64::min);
        let high = highs.fold(self.ends.1, f64::max);
        // Spans that are all one point still need some width to be drawn on.
        let width = (high - low).max(1e-9);
        let x = |value: f64| MARGIN + (value - low) / width * (WIDTH - 2.0 * MARGIN);
        let mut out = String::new();
        let mut y = 4.0;
        for voice in &self.voices {
            let (from, to) = voice.ends;
            // As tall as it counts, as its length is taken.
            let tall = (voice.weight.max(0.0) * 12.0).max(3.0);
            let long = (x(to) - x(from)).max(3.0);
            let drawn = format!(
                "<rect class=\"weight\" x=\"{:.1}\" y=\"{y:.1}\" width=\"{long:.1}\" height=\"{tall:.1}\"/>",
                x(from),
            );
            out.push_str(&linked(voice.href.as_deref(), &voice.label, &drawn));
            y += tall + 3.0;
        }
        let beam = y + 5.0;
        let (left, right) = (x(self.ends.0), x(self.ends.1));
        let at = |x: f64, text: &str| {
            format!(
                "<text class=\"graded\" x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
                beam + 26.0,
                escaped(text)
            )
        };
        let labels = if right - left < 34.0 && self.printed.0 != self.printed.1 {
            at(
                (left + right) / 2.0,
                &format!("{} to {}", self.printed.0, self.printed.1),
            )
        } else if self.printed.0 == self.printed.1 {
            at(left, &self.printed.0)
        } else {
            format!(
                "{}{}",
                at(left, &self.printed.0),
                at(right, &self.printed.1)
            )
        };
        format!(
            "<svg class=\"balance\" viewBox=\"0 0 {WIDTH:.0} {:.0}\" role=\"group\" aria-labelledby=\"{id}-t\" aria-describedby=\"{id}-d\">\
             <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc><g aria-hidden=\"true\">\
             <path class=\"rail\" d=\"M{:.1} {beam:.1}H{:.1}\"/>\
             <path class=\"tick graded\" d=\"M{left:.1} {beam:.1}v10M{right:.1} {beam:.1}v10M{left:.1} {:.1}H{right:.1}\"/>{labels}</g>{out}</svg>",
            beam + 34.0,
            escaped(self.title),
            escaped(self.description),
            MARGIN - 20.0,
            WIDTH - MARGIN + 20.0,
            beam + 1.0,
            id = self.id,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: (f64, f64), b: (f64, f64)) -> bool {
        (a.0 - b.0).abs() < 1e-12 && (a.1 - b.1).abs() < 1e-12
    }

    // By hand: 2.5 % of an even mass of 1 on a level one wide is 0.025 of its stretch.
    #[test]
    fn a_value_within_one_level_is_somewhere_in_that_level() {
        assert!(near(whiskers(&[0.0, 0.0, 1.0, 0.0, 0.0]), (1.525, 2.475)));
        assert_eq!(reached(&[0.0, 0.0, 1.0, 0.0, 0.0]), (2, 2));
    }

    // By hand: half on each of levels 1 and 2 gives 0.5 + 0.05 and 2.5 − 0.05.
    #[test]
    fn whiskers_hold_nineteen_parts_in_twenty() {
        assert!(near(whiskers(&[0.0, 0.5, 0.5]), (0.55, 2.0)));
        assert!(near(whiskers(&[0.0, 0.5, 0.5, 0.0]), (0.55, 2.45)));
        assert_eq!(reached(&[0.0, 0.5, 0.5, 0.0]), (1, 2));
        assert_eq!(reached(&[0.02, 0.96, 0.02]), (1, 1));
        assert_eq!(reached(&[0.03, 0.94, 0.03]), (0, 2));
    }

    #[test]
    fn whiskers_do_not_leave_the_scale() {
        assert!(near(whiskers(&[1.0, 0.0]), (0.0, 0.475)));
        assert!(near(whiskers(&[0.0, 1.0]), (0.525, 1.0)));
        assert_eq!(reached(&[1.0, 0.0]), (0, 0));
        assert_eq!(reached(&[0.0, 1.0]), (1, 1));
    }

    // The area of a weight is what it counts: four times the weight, twice the side.
    #[test]
    fn the_area_of_a_weight_is_what_it_counts() {
        let weight = |weight: f64, position: f64| Weight {
            label: "a log".to_owned(),
            href: (position > 0.0).then(|| "#claim-growth-1".to_owned()),
            position,
            weight,
            is_loose: false,
            whiskers: None,
        };
        let chart = Chart {
            id: "c",
            title: "t",
            description: "d",
            levels: vec!["low", "middle", "high"],
            weights: vec![weight(0.25, 0.0), weight(1.0, 2.0), weight(1.0, 2.0)],
            mean: Some(1.0),
            level: Some(2),
        };
        let placed = chart.stacked();
        assert!((placed[1].2 / placed[0].2 - 2.0).abs() < 1e-12);
        // A weight names its source and leads to its claim.
        let svg = chart.svg();
        let link = "<a href=\"#claim-growth-1\"><title>a log</title>";
        assert_eq!(svg.matches(link).count(), 2);
        assert_eq!(svg.matches("<g><title>a log</title>").count(), 1);
        // Two in one place stand on one another.
        assert!(placed[2].1 >= placed[1].1 + placed[1].2);
    }
}

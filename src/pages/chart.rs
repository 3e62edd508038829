//! The balance chart of a trait: the voices as weights on a beam, as inline SVG.

use crate::pages::mark::escaped;
use crate::reconcile::voice::Voice;

/// One voice on the chart.
#[derive(Debug, Clone)]
pub(crate) struct Weight {
    /// Its name.
    pub(crate) label: String,
    /// Position on the scale.
    pub(crate) position: f64,
    /// Weight.
    pub(crate) weight: f64,
    /// All its claims were made under a loose name.
    pub(crate) is_loose: bool,
    /// Half width of its whiskers in levels, where it was measured.
    pub(crate) whisker: Option<f64>,
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

const WIDTH: f64 = 380.0;
const MARGIN: f64 = 34.0;
/// Side of the square of a voice that weighs 1.
const SIDE: f64 = 30.0;

/// How far a voice's mass reaches to either side of its position, in levels.
pub(crate) fn half_width(voice: &Voice) -> f64 {
    let x = voice.position();
    let variance: f64 = voice
        .mean
        .iter()
        .enumerate()
        .map(|(k, m)| m * (k as f64 - x).powi(2))
        .sum();
    variance.max(0.0).sqrt()
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
        let height = beam + 50.0;
        let mut out = format!(
            "<svg class=\"balance\" viewBox=\"0 0 {WIDTH:.0} {height:.0}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\
             <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc>",
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
                + if at % 2 == 1 && self.levels.len() > 5 {
                    42.0
                } else {
                    28.0
                };
            out.push_str(&format!(
                "<path class=\"{class}\" d=\"M{x:.1} {beam:.1}v{:.0}\"/><text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"middle\">{}</text>",
                if is_graded { 10.0 } else { 5.0 },
                escaped(&level.replace('-', " ")),
            ));
        }
        for (weight, (x, y, side)) in self.weights.iter().zip(&placed) {
            let class = if weight.is_loose {
                "weight hollow"
            } else {
                "weight"
            };
            let (left, upper) = (x - side / 2.0, beam - y - side);
            if let Some(half) = weight.whisker.filter(|half| *half > 0.02) {
                let middle = upper + side / 2.0;
                let last = (self.levels.len() - 1) as f64;
                let low = self.x((weight.position - half).max(0.0));
                let high = self.x((weight.position + half).min(last));
                out.push_str(&format!(
                    "<path class=\"whisker\" d=\"M{low:.1} {middle:.1}H{high:.1}\"/>"
                ));
            }
            out.push_str(&format!(
                "<rect class=\"{class}\" x=\"{left:.1}\" y=\"{upper:.1}\" width=\"{side:.1}\" height=\"{side:.1}\"><title>{}</title></rect>",
                escaped(&weight.label)
            ));
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

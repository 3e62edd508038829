//! The forest plot of a trait's measurements: an estimate with its interval for every voice, and
//! what they come to together, as inline SVG.

use crate::pages::mark::escaped;

/// One voice on the plot.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    /// Its name.
    pub(crate) label: String,
    /// Where to read what it says.
    pub(crate) href: Option<String>,
    /// Its value.
    pub(crate) estimate: f64,
    /// Its 95 % interval.
    pub(crate) ci: (f64, f64),
    /// Its share of the pooled estimate, 0 to 1.
    pub(crate) share: f64,
    /// The same in print.
    pub(crate) shown: String,
}

/// What the voices come to.
#[derive(Debug, Clone)]
pub(crate) struct Together {
    /// The pooled estimate.
    pub(crate) estimate: f64,
    /// Its 95 % interval; `None` for two voices, where the values themselves say more.
    pub(crate) ci: Option<(f64, f64)>,
    /// Where a further voice is expected.
    pub(crate) prediction: Option<(f64, f64)>,
    /// The estimate in print.
    pub(crate) shown: String,
    /// The prediction in print.
    pub(crate) expected: String,
}

/// What a plot shows.
#[derive(Debug, Clone)]
pub(crate) struct Forest<'a> {
    /// Id of the drawing on its page.
    pub(crate) id: &'a str,
    /// What it is a plot of.
    pub(crate) title: &'a str,
    /// The same in a sentence.
    pub(crate) description: &'a str,
    /// Edges between the levels, rising, in the unit of the values.
    pub(crate) edges: &'a [f64],
    /// Each edge in print, once for each way of reading it; the first reading is above.
    pub(crate) readings: Vec<Vec<String>>,
    /// Names of the levels, lowest first.
    pub(crate) levels: Vec<String>,
    /// The voices.
    pub(crate) rows: Vec<Row>,
    /// What they come to.
    pub(crate) together: Together,
}

const WIDTH: f64 = 340.0;
const MARGIN: f64 = 8.0;
/// Height of a row: a line of text and a line of drawing.
const ROW: f64 = 31.0;
/// From the top of a row to the middle of its mark.
const MIDDLE: f64 = 20.0;
/// Least room beyond the outermost edges, in steps of the axis.
///
/// Our choice: about the width of a level whose upper edge is twice its lower, so that the open
/// levels at the ends are as easy to read as those within.
const BEYOND: f64 = 0.8;

/// The axis: asinh(value / first edge), linear near zero and logarithmic far from it.
///
/// Our choice: the edges of a scale of rates or sizes rise by factors, which a linear axis would
/// crowd at its foot; a logarithm has no room for zero and for shrinking plants. A scale whose
/// first edge is not above zero is drawn linear.
#[derive(Debug, Clone, Copy)]
struct Axis {
    unit: Option<f64>,
    low: f64,
    high: f64,
}

impl Axis {
    fn over(edges: &[f64], values: impl Iterator<Item = f64>) -> Axis {
        let first = edges.first().copied().unwrap_or(1.0);
        let last = edges.last().copied().unwrap_or(1.0);
        let mut axis = Axis {
            unit: (first > 0.0).then_some(first),
            low: 0.0,
            high: 0.0,
        };
        let step = match axis.unit {
            Some(_) => BEYOND,
            None => ((last - first) / edges.len().max(1) as f64).max(1e-9),
        };
        axis.low = axis.steps(first) - step;
        axis.high = axis.steps(last) + step;
        for value in values.filter(|value| value.is_finite()) {
            // A little air, so that no mark stands on the frame.
            axis.low = axis.low.min(axis.steps(value) - 0.05 * step);
            axis.high = axis.high.max(axis.steps(value) + 0.05 * step);
        }
        axis
    }

    fn steps(&self, value: f64) -> f64 {
        self.unit.map_or(value, |unit| (value / unit).asinh())
    }

    fn x(&self, value: f64) -> f64 {
        let part = (self.steps(value) - self.low) / (self.high - self.low);
        MARGIN + part.clamp(0.0, 1.0) * (WIDTH - 2.0 * MARGIN)
    }
}

impl Forest<'_> {
    fn axis(&self) -> Axis {
        let together = [Some((self.together.estimate, self.together.estimate))]
            .into_iter()
            .chain([self.together.ci, self.together.prediction])
            .flatten();
        let ends = self.rows.iter().map(|row| row.ci).chain(together);
        Axis::over(self.edges, ends.flat_map(|(low, high)| [low, high]))
    }

    /// The drawing.
    pub(crate) fn svg(&self) -> String {
        let axis = self.axis();
        let mut drawn = String::new();
        // Names of many levels stand on two lines.
        let head = self.level_names(&axis, &mut drawn);
        let rows = self.rows.len() + 1 + usize::from(self.together.prediction.is_some());
        let foot = head + rows as f64 * ROW + 4.0;
        let grid: String = self
            .edges
            .iter()
            .map(|edge| format!("M{:.1} {:.1}V{:.1}", axis.x(*edge), head - 8.0, foot))
            .collect();
        drawn.push_str(&format!("<path class=\"edge\" d=\"{grid}\"/>"));
        drawn.push_str(&format!(
            "<path class=\"rail\" d=\"M{MARGIN:.1} {foot:.1}H{:.1}\"/>",
            WIDTH - MARGIN
        ));
        let zero = axis.x(0.0);
        let has_zero = axis.steps(0.0) > axis.low && axis.steps(0.0) < axis.high;
        if has_zero {
            drawn.push_str(&format!(
                "<path class=\"zero\" d=\"M{zero:.1} {:.1}V{foot:.1}\"/>",
                head - 8.0
            ));
        }
        let height = self.readings_under(&axis, foot, has_zero.then_some(zero), &mut drawn);
        let mut marks = String::new();
        let mut top = head;
        for row in &self.rows {
            marks.push_str(&row.svg(&axis, top));
            top += ROW;
        }
        marks.push_str(&self.together.svg(&axis, top, self.rows.len()));
        format!(
            "<svg class=\"forest\" viewBox=\"0 0 {WIDTH:.0} {height:.0}\" role=\"group\" aria-labelledby=\"{id}-t\" aria-describedby=\"{id}-d\">\
             <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc><g aria-hidden=\"true\">{drawn}</g>{marks}</svg>",
            escaped(self.title),
            escaped(self.description),
            id = self.id,
        )
    }

    /// Names of the levels, each between its edges; gives the height they take.
    fn level_names(&self, axis: &Axis, out: &mut String) -> f64 {
        let mut bounds = vec![MARGIN];
        bounds.extend(self.edges.iter().map(|edge| axis.x(*edge)));
        bounds.push(WIDTH - MARGIN);
        let wide = |text: &str| text.chars().count() as f64 * 5.0;
        let is_crowded = self
            .levels
            .iter()
            .zip(bounds.windows(2))
            .any(|(level, ends)| wide(level) > ends[1] - ends[0]);
        for (at, (level, ends)) in self.levels.iter().zip(bounds.windows(2)).enumerate() {
            let half = wide(level) / 2.0;
            let middle = f64::midpoint(ends[0], ends[1]).clamp(half + 1.0, WIDTH - half - 1.0);
            let y = if is_crowded && at % 2 == 1 {
                24.0
            } else {
                11.0
            };
            out.push_str(&format!(
                "<text class=\"name\" x=\"{middle:.1}\" y=\"{y:.0}\">{}</text>",
                escaped(level)
            ));
        }
        if is_crowded { 40.0 } else { 27.0 }
    }

    /// What the edges are, under the axis; gives the height of the whole drawing.
    fn readings_under(&self, axis: &Axis, foot: f64, zero: Option<f64>, out: &mut String) -> f64 {
        let mut y = foot + 13.0;
        for (line, reading) in self.readings.iter().enumerate() {
            // Room is kept for what stands already; what would cover it is left out, but the
            // table has it.
            let mut taken = f64::NEG_INFINITY;
            let zero = zero.filter(|_| line == 0).map(|x| (x, "0"));
            let edges = self.edges.iter().map(|edge| axis.x(*edge));
            let texts = edges.zip(reading.iter().map(String::as_str));
            let mut all: Vec<(f64, &str)> = zero.into_iter().chain(texts).collect();
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            for (x, text) in all {
                let half = text.chars().count() as f64 * 2.8;
                if x - half < taken + 2.0 {
                    continue;
                }
                taken = x + half;
                out.push_str(&format!(
                    "<text class=\"reading\" x=\"{x:.1}\" y=\"{y:.1}\">{}</text>",
                    escaped(text)
                ));
            }
            y += 13.0;
        }
        y - 6.0
    }
}

impl Row {
    fn svg(&self, axis: &Axis, top: f64) -> String {
        let y = top + MIDDLE;
        let (low, high) = (axis.x(self.ci.0), axis.x(self.ci.1));
        let x = axis.x(self.estimate);
        // The area of the mark is its share; never so small that it cannot be seen.
        let side = (self.share.max(0.0).sqrt() * 12.0).max(4.0);
        let mark = format!(
            "<path class=\"whisker\" d=\"M{low:.1} {:.1}v6m0-3H{high:.1}m0-3v6\"/><rect class=\"weight\" x=\"{:.1}\" y=\"{:.1}\" width=\"{side:.1}\" height=\"{side:.1}\"/>",
            y - 3.0,
            x - side / 2.0,
            y - side / 2.0,
        );
        let inside = format!(
            "<title>{}: {}</title>{}{mark}",
            escaped(&self.label),
            escaped(&self.shown),
            line(top, &self.label, &self.shown, ""),
        );
        match &self.href {
            Some(href) => format!("<a href=\"{}\">{inside}</a>", escaped(href)),
            None => format!("<g>{inside}</g>"),
        }
    }
}

impl Together {
    fn svg(&self, axis: &Axis, top: f64, voices: usize) -> String {
        let y = top + MIDDLE;
        let x = axis.x(self.estimate);
        let name = match voices {
            2 => "Both together".to_owned(),
            voices => format!("All {voices} together"),
        };
        let (class, left, right) = match self.ci {
            Some((low, high)) => ("diamond", axis.x(low), axis.x(high)),
            None => ("diamond hollow", x - 5.0, x + 5.0),
        };
        // A narrow interval still shows as a diamond.
        let (left, right) = (left.min(x - 2.0), right.max(x + 2.0));
        let mut out = format!(
            "<g>{}<path class=\"{class}\" d=\"M{left:.1} {y:.1}L{x:.1} {:.1} {right:.1} {y:.1} {x:.1} {:.1}z\"/></g>",
            line(top, &name, &self.shown, " graded"),
            y - 6.0,
            y + 6.0,
        );
        if let Some((low, high)) = self.prediction {
            let y = y + ROW;
            out.push_str(&format!(
                "<g>{}<path class=\"expected\" d=\"M{:.1} {:.1}v6m0-3H{:.1}m0-3v6\"/></g>",
                line(
                    top + ROW,
                    "A further voice is expected within",
                    &self.expected,
                    ""
                ),
                axis.x(low),
                y - 3.0,
                axis.x(high),
            ));
        }
        out
    }
}

/// The line of text of a row: a name on the left, cut where it would meet the figures on the right.
fn line(top: f64, name: &str, figures: &str, class: &str) -> String {
    let name = name.trim_matches(['“', '”']);
    let room = 62_usize.saturating_sub(figures.chars().count());
    let name = if name.chars().count() > room {
        let kept: String = name.chars().take(room.saturating_sub(1)).collect();
        format!("{}…", kept.trim_end_matches([' ', ',']))
    } else {
        name.to_owned()
    };
    let y = top + 10.0;
    format!(
        "<text class=\"row{class}\" x=\"2\" y=\"{y:.1}\">{}</text><text class=\"figure{class}\" x=\"{:.0}\" y=\"{y:.1}\">{}</text>",
        escaped(&name),
        WIDTH - 2.0,
        escaped(figures),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(estimate: f64, half: f64, share: f64) -> Row {
        Row {
            label: "a log".to_owned(),
            href: Some("#claim-growth-1".to_owned()),
            estimate,
            ci: (estimate - half, estimate + half),
            share,
            shown: String::new(),
        }
    }

    fn forest<'a>(edges: &'a [f64], rows: Vec<Row>, together: Together) -> Forest<'a> {
        Forest {
            id: "f",
            title: "t",
            description: "d",
            edges,
            readings: vec![edges.iter().map(f64::to_string).collect()],
            levels: (0..=edges.len()).map(|at| format!("l{at}")).collect(),
            rows,
            together,
        }
    }

    fn together(estimate: f64, ci: Option<(f64, f64)>, prediction: Option<(f64, f64)>) -> Together {
        Together {
            estimate,
            ci,
            prediction,
            shown: String::new(),
            expected: String::new(),
        }
    }

    // By hand: asinh 1 = 0.8814, asinh 2 = 1.4436, so with 0.8 beyond either edge the axis runs
    // from 0.0814 to 2.2436 and the edges stand at 0.3700 and 0.6300 of it.
    #[test]
    fn edges_that_rise_by_factors_stand_apart() {
        let axis = Axis::over(&[0.01, 0.02], [0.012].into_iter());
        let part = |value: f64| (axis.x(value) - MARGIN) / (WIDTH - 2.0 * MARGIN);
        assert!((part(0.01) - 0.3700).abs() < 5e-5, "{}", part(0.01));
        assert!((part(0.02) - 0.6300).abs() < 5e-5, "{}", part(0.02));
    }

    #[test]
    fn every_value_has_its_place_and_order_is_kept() {
        let edges = [0.005, 0.014, 0.033, 0.099];
        let values = [-0.2, -0.01, 0.0, 0.001, 0.005, 0.02, 0.099, 3.0];
        let axis = Axis::over(&edges, values.iter().copied());
        let x: Vec<f64> = values.iter().map(|value| axis.x(*value)).collect();
        assert!(x.windows(2).all(|pair| pair[0] < pair[1]), "{x:?}");
        assert!(
            x.iter().all(|x| *x > MARGIN && *x < WIDTH - MARGIN),
            "{x:?}"
        );
    }

    #[test]
    fn a_scale_that_starts_below_zero_is_linear() {
        let axis = Axis::over(&[-10.0, 0.0, 10.0], [4.0].into_iter());
        let x = |value: f64| axis.x(value);
        assert!((x(0.0) - x(-10.0) - (x(10.0) - x(0.0))).abs() < 1e-9);
    }

    // The area of a mark is its share: a quarter of the share, half the side.
    #[test]
    fn the_area_of_a_mark_is_its_share() {
        let axis = Axis::over(&[1.0], [1.0].into_iter());
        assert!(
            row(1.0, 0.1, 1.0)
                .svg(&axis, 0.0)
                .contains("width=\"12.0\"")
        );
        assert!(
            row(1.0, 0.1, 0.25)
                .svg(&axis, 0.0)
                .contains("width=\"6.0\"")
        );
    }

    #[test]
    fn two_voices_have_no_interval_together_and_three_have_a_prediction() {
        let two = vec![row(1.0, 0.1, 0.5), row(2.0, 0.1, 0.5)];
        let svg = forest(&[1.0, 4.0], two, together(1.5, None, None)).svg();
        assert!(svg.contains("diamond hollow") && svg.contains("Both together"));
        assert!(!svg.contains("expected"));
        let three = vec![row(1.0, 0.1, 0.3), row(2.0, 0.1, 0.3), row(3.0, 0.1, 0.4)];
        let all = together(2.0, Some((1.5, 2.5)), Some((0.2, 3.8)));
        let svg = forest(&[1.0, 4.0], three, all).svg();
        assert!(svg.contains("class=\"diamond\"") && svg.contains("All 3 together"));
        assert_eq!(svg.matches("class=\"expected\"").count(), 1);
        assert_eq!(svg.matches("<a href=\"#claim-growth-1\">").count(), 3);
    }

    // The diamond ends where its interval does.
    #[test]
    fn the_diamond_is_as_wide_as_its_interval() {
        let axis = Axis::over(&[1.0], [0.0, 5.0].into_iter());
        let svg = together(2.0, Some((1.0, 3.0)), None).svg(&axis, 0.0, 3);
        let (left, right) = (axis.x(1.0), axis.x(3.0));
        assert!(svg.contains(&format!("M{left:.1} 20.0L")), "{svg}");
        assert!(svg.contains(&format!(" {right:.1} 20.0 ")), "{svg}");
    }

    #[test]
    fn a_long_name_is_cut_before_the_figures() {
        let text = line(0.0, &"x".repeat(80), "0.043 (0.035 to 0.051)", "");
        assert!(text.contains(&format!(">{}…<", "x".repeat(39))), "{text}");
    }
}

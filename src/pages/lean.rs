//! How a source runs against the others: a dot and an interval a trait, as inline SVG.

use crate::pages::mark::escaped;
use crate::reconcile::Run;

const WIDTH: f64 = 420.0;
/// Width of the names at the left.
const NAMES: f64 = 130.0;
const MARGIN: f64 = 16.0;
const ROW: f64 = 30.0;
/// Levels shown to either side at most; a longer interval ends in an arrow.
const MOST: f64 = 4.0;

/// The drawing; empty where there is nothing to draw.
pub(crate) fn svg(rows: &[(&str, &Run)]) -> String {
    if rows.is_empty() {
        return String::new();
    }
    let ends = rows.iter().flat_map(|(_, run)| {
        let (low, high) = run.ci.unwrap_or((run.mean, run.mean));
        [low.abs(), high.abs(), run.mean.abs()]
    });
    let most = ends.fold(1.0, f64::max).ceil().min(MOST);
    let x = |levels: f64| {
        let share = (levels.clamp(-most, most) + most) / (2.0 * most);
        NAMES + MARGIN + share * (WIDTH - NAMES - 2.0 * MARGIN)
    };
    let foot = ROW * rows.len() as f64 + 8.0;
    let mut out = format!(
        "<svg class=\"lean\" viewBox=\"0 0 {WIDTH:.0} {:.0}\" role=\"img\" aria-labelledby=\"lean-t lean-d\">\
         <title id=\"lean-t\">How it runs against the other voices</title>\
         <desc id=\"lean-d\">A dot for the mean difference in levels and a line for its 95 % interval, trait by trait. The list says the same.</desc>",
        foot + 40.0
    );
    let middle = x(0.0);
    out.push_str(&format!(
        "<path class=\"zero\" d=\"M{middle:.1} 0V{foot:.1}\"/><path class=\"rail\" d=\"M{:.1} {foot:.1}H{:.1}\"/>",
        x(-most),
        x(most)
    ));
    let steps = most as i32;
    for step in -steps..=steps {
        let at = x(f64::from(step));
        let sign = match step {
            0 => String::from("0"),
            below if below < 0 => format!("−{}", below.abs()),
            above => format!("+{above}"),
        };
        out.push_str(&format!(
            "<path class=\"tick\" d=\"M{at:.1} {foot:.1}v5\"/><text x=\"{at:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{sign}</text>",
            foot + 19.0
        ));
    }
    out.push_str(&format!(
        "<text x=\"{middle:.1}\" y=\"{:.1}\" text-anchor=\"middle\">levels from the others</text>",
        foot + 35.0
    ));
    for (at, (name, run)) in rows.iter().enumerate() {
        let y = ROW * (at as f64 + 0.5);
        out.push_str(&format!(
            "<text x=\"0\" y=\"{:.1}\">{}</text>",
            y + 4.0,
            escaped(name)
        ));
        if let Some((low, high)) = run.ci {
            out.push_str(&format!(
                "<path class=\"reach\" d=\"M{:.1} {y:.1}H{:.1}\"/>",
                x(low),
                x(high)
            ));
            for (end, is_cut, point) in [(low, low < -most, 6.0), (high, high > most, -6.0)] {
                let from = x(end);
                let shape = if is_cut {
                    format!(
                        "M{:.1} {:.1}L{from:.1} {y:.1}l{point:.0} 4",
                        from + point,
                        y - 4.0
                    )
                } else {
                    format!("M{from:.1} {:.1}v8", y - 4.0)
                };
                out.push_str(&format!("<path class=\"reach\" d=\"{shape}\"/>"));
            }
        }
        out.push_str(&format!(
            "<circle class=\"dot\" cx=\"{:.1}\" cy=\"{y:.1}\" r=\"5\"/>",
            x(run.mean)
        ));
    }
    out.push_str("</svg>");
    out
}

/// The same for one trait in the cell of a table, where words beside it say the figure.
pub(crate) fn cell(run: &Run) -> String {
    const WIDE: f64 = 120.0;
    let x = |levels: f64| (levels.clamp(-MOST, MOST) + MOST) / (2.0 * MOST) * (WIDE - 8.0) + 4.0;
    let (low, high) = run.ci.unwrap_or((run.mean, run.mean));
    format!(
        "<svg class=\"lean-cell\" width=\"{WIDE:.0}\" height=\"16\" viewBox=\"0 0 {WIDE:.0} 16\" aria-hidden=\"true\">\
         <path class=\"zero\" d=\"M{:.1} 0V16\"/><path class=\"reach\" d=\"M{:.1} 8H{:.1}\"/>\
         <circle class=\"dot\" cx=\"{:.1}\" cy=\"8\" r=\"4\"/></svg>",
        x(0.0),
        x(low),
        x(high),
        x(run.mean)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(mean: f64, ci: Option<(f64, f64)>) -> Run {
        Run { n: 3, mean, ci }
    }

    #[test]
    fn a_dot_stands_right_of_the_middle_where_a_source_runs_above() {
        let cx = |mean: f64| -> f64 {
            let drawn = svg(&[("Growth", &run(mean, None))]);
            let (_, rest) = drawn.split_once("cx=\"").expect("a dot");
            rest.split('"')
                .next()
                .expect("a number")
                .parse()
                .expect("a number")
        };
        assert!(cx(0.5) > cx(0.0) && cx(0.0) > cx(-0.5));
        assert!((cx(0.0) - (NAMES + WIDTH) / 2.0).abs() < 0.2);
    }

    #[test]
    fn a_cell_shows_no_interval_where_there_is_none() {
        let drawn = cell(&run(0.0, None));
        assert!(drawn.contains("d=\"M60.0 8H60.0\""), "{drawn}");
        let drawn = cell(&run(1.0, Some((-2.0, 9.0))));
        assert!(drawn.contains("d=\"M32.0 8H116.0\""), "{drawn}");
        assert!(drawn.contains("cx=\"74.0\""), "{drawn}");
    }

    #[test]
    fn an_interval_beyond_the_scale_ends_in_an_arrow() {
        let within = svg(&[("Growth", &run(0.5, Some((-1.0, 2.0))))]);
        let beyond = svg(&[("Growth", &run(0.5, Some((-9.0, 10.0))))]);
        assert_eq!(within.matches("v8").count(), 2);
        assert_eq!(beyond.matches("v8").count(), 0);
        assert!(svg(&[]).is_empty());
    }
}

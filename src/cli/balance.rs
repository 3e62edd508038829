//! The balance of a trait in plain characters: the beam, the voices on it, the balance point.

use pondweigh::quantity::decimals;
use pondweigh::reconcile::grade::Grade;
use pondweigh::reconcile::voice::Voice;

/// Columns of a terminal that everybody has. Common practice, no source.
pub(crate) const WIDE: usize = 80;
/// Columns left and right of the beam.
const MARGIN: usize = 6;
/// Weight that one letter stands for. Our choice: a study is as high as four, an article as one.
const STEP: f64 = 0.25;

/// One voice on the beam.
pub(crate) struct Mark {
    /// Its letter.
    pub(crate) letter: char,
    /// Where it stands, in levels from 0.
    pub(crate) position: f64,
    /// Its weight.
    pub(crate) weight: f64,
}

/// A letter for the voice at a place among the voices of a trait.
pub(crate) fn letter(at: usize) -> char {
    let all = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    all.chars().nth(at).unwrap_or('*')
}

/// Voices as marks, in their order.
pub(crate) fn marks(voices: &[Voice]) -> Vec<Mark> {
    voices
        .iter()
        .enumerate()
        .map(|(at, voice)| Mark {
            letter: letter(at),
            position: voice.position(),
            weight: voice.weight,
        })
        .collect()
}

/// The drawing, line by line; no line is wider than [`WIDE`].
pub(crate) fn drawing(marks: &[Mark], levels: &[String], grade: &Grade) -> Vec<String> {
    let last = levels.len().saturating_sub(1).max(1) as f64;
    let beam = WIDE - 2 * MARGIN - 1;
    let column = |position: f64| MARGIN + (position / last * beam as f64).round() as usize;
    let mut stacks: Vec<(usize, Vec<char>)> = Vec::new();
    for mark in marks {
        let high = ((mark.weight / STEP).round() as usize).max(1);
        let at = column(mark.position);
        let letters = std::iter::repeat_n(mark.letter, high);
        match stacks.iter_mut().find(|(other, _)| *other == at) {
            Some((_, stack)) => stack.extend(letters),
            None => stacks.push((at, letters.collect())),
        }
    }
    let high = stacks
        .iter()
        .map(|(_, stack)| stack.len())
        .max()
        .unwrap_or(0);
    let mut out = Vec::new();
    for row in (0..high).rev() {
        let mut line = vec![' '; WIDE];
        for (at, stack) in &stacks {
            if let Some(c) = stack.get(row) {
                line[*at] = *c;
            }
        }
        out.push(line);
    }
    let mut rail = vec![' '; WIDE];
    for c in &mut rail[MARGIN - 2..=MARGIN + beam + 2] {
        *c = '-';
    }
    for level in 0..levels.len() {
        rail[column(level as f64)] = '+';
    }
    out.push(rail);
    if let Some(mean) = grade.mean {
        let mut line = vec![' '; WIDE];
        line[column(mean)] = '^';
        out.push(line);
    }
    // Names of levels on two lines in turn, so that long ones do not run into each other.
    let needed: usize = levels.iter().map(|level| level.chars().count() + 4).sum();
    let rows = if needed > WIDE { 2 } else { 1 };
    for row in 0..rows {
        let mut line = vec![' '; WIDE];
        for (level, name) in levels.iter().enumerate().filter(|(at, _)| at % rows == row) {
            let is_graded = grade.level == Some(level);
            let name = if is_graded {
                format!("[{name}]")
            } else {
                name.clone()
            };
            let wide = name.chars().count().min(WIDE);
            let from = column(level as f64)
                .saturating_sub(wide / 2)
                .min(WIDE - wide);
            for (c, slot) in name.chars().zip(&mut line[from..]) {
                *slot = c;
            }
        }
        out.push(line);
    }
    out.into_iter()
        .map(|line| line.into_iter().collect::<String>().trim_end().to_owned())
        .collect()
}

/// What the marks mean, once.
pub(crate) fn legend() -> String {
    format!(
        "A letter is a voice, one for each {} of its weight; ^ is the balance point,\n[ ] the graded level.",
        decimals(STEP, 2)
    )
}

/// Words of a text in lines of at most `wide` columns. Lines after the first are set in as the
/// text is, and by `indent` more.
pub(crate) fn wrapped(text: &str, wide: usize, indent: &str) -> String {
    let kept = text.len() - text.trim_start_matches(' ').len();
    let mut out = " ".repeat(kept);
    let mut column = 0;
    let wide = wide.saturating_sub(kept).max(1);
    let indent = format!("{}{indent}", " ".repeat(kept));
    for word in text[kept..].split(' ') {
        let long = word.chars().count();
        if column > 0 && column + 1 + long > wide {
            out.push('\n');
            out.push_str(&indent);
            column = indent.chars().count() - kept;
        } else if column > 0 {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += long;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_their_width() {
        let text = wrapped("one two three four five", 9, "  ");
        assert_eq!(text, "one two\n  three\n  four\n  five");
        assert_eq!(wrapped("  kept as it is", 10, " "), "  kept as\n   it is");
    }
}

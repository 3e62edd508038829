//! Small drawings and type: standing marks, confidence brackets, names in italics.

use crate::names::parse::parse;
use crate::reconcile::grade::Confidence;
use crate::roles::Word;

/// A text with the characters that mean something in HTML written as entities.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// The beam of a standing, as inline SVG. The word always stands beside it.
pub(crate) fn beam(word: Word) -> String {
    format!(
        "<svg class=\"beam\" viewBox=\"0 0 32 18\" width=\"32\" height=\"18\" aria-hidden=\"true\" focusable=\"false\">{}</svg>",
        beam_shape(word, " class=\"open\""),
    )
}

/// The lines of a beam; `open` is what makes one dashed.
fn beam_shape(word: Word, open: &str) -> String {
    // The near pan is on the left: the further down it is, the more the plant does the job.
    let (left, right) = match word {
        Word::Mainstay => (11, 1),
        Word::Support => (8, 4),
        Word::Bystander => (1, 11),
        Word::Unproven | Word::Unsuited => (6, 6),
    };
    let beam = if word == Word::Unproven { open } else { "" };
    let strike = if word == Word::Unsuited {
        "<path d=\"M9 14 23 0\"/>"
    } else {
        ""
    };
    format!(
        "<path{beam} d=\"M4 {left} 28 {right}\"/><path d=\"M4 {left}v4M1 {l}h6M28 {right}v4M25 {r}h6M16 6v11M12 17h8\"/>{strike}",
        l = left + 4,
        r = right + 4,
    )
}

/// The bracket of a confidence, as inline SVG: it narrows as confidence rises.
pub(crate) fn bracket(confidence: Confidence) -> String {
    format!(
        "<svg class=\"bracket\" viewBox=\"0 0 32 14\" width=\"32\" height=\"14\" aria-hidden=\"true\" focusable=\"false\">{}</svg>",
        bracket_shape(confidence),
    )
}

fn bracket_shape(confidence: Confidence) -> String {
    let half = match confidence {
        Confidence::VeryLow => 15,
        Confidence::Low => 12,
        Confidence::Medium => 9,
        Confidence::High => 6,
        Confidence::VeryHigh => 3,
    };
    let (left, right) = (16 - half, 16 + half);
    format!(
        "<path d=\"M{l} 2H{left}V12h{step}M{r} 2H{right}V12h-{step}\"/>",
        l = left + 2,
        r = right - 2,
        step = 2,
    )
}

/// Every beam and bracket drawn once, unseen, for a page that shows them very often.
pub(crate) fn glyphs() -> String {
    let mut out = String::from("<svg class=\"glyphs\" aria-hidden=\"true\" focusable=\"false\">");
    for word in Word::ALL {
        let shape = beam_shape(word, " stroke-dasharray=\"4 3\"");
        let id = word.id();
        out.push_str(&format!(
            "<symbol id=\"beam-{id}\" viewBox=\"0 0 32 18\">{shape}</symbol>"
        ));
    }
    for confidence in Confidence::ALL {
        let (id, shape) = (confidence_id(confidence), bracket_shape(confidence));
        out.push_str(&format!(
            "<symbol id=\"bracket-{id}\" viewBox=\"0 0 32 14\">{shape}</symbol>"
        ));
    }
    out.push_str("</svg>");
    out
}

/// A beam that points to its drawing in [`glyphs`].
pub(crate) fn beam_again(word: Word) -> String {
    format!(
        "<svg class=\"beam\" width=\"32\" height=\"18\" aria-hidden=\"true\"><use href=\"#beam-{}\"/></svg>",
        word.id()
    )
}

/// A bracket that points to its drawing in [`glyphs`].
pub(crate) fn bracket_again(confidence: Confidence) -> String {
    format!(
        "<svg class=\"bracket\" width=\"32\" height=\"14\" aria-hidden=\"true\"><use href=\"#bracket-{}\"/></svg>",
        confidence_id(confidence)
    )
}

fn confidence_id(confidence: Confidence) -> String {
    confidence.word().replace(' ', "-")
}

/// A plant's name in print: Latin words in italics; cultivars, ranks and qualifiers upright.
pub(crate) fn name_html(name: &str) -> String {
    let parsed = parse(name);
    // In the order they stand in: a word of a cultivar's epithet may be a Latin one again.
    let mut latin = [
        parsed.genus.as_deref(),
        parsed.species.as_deref(),
        parsed.infraspecific_epithet.as_deref(),
    ]
    .into_iter()
    .flatten()
    .peekable();
    let mut out = String::new();
    for (at, word) in name.split(' ').enumerate() {
        if at > 0 {
            out.push(' ');
        }
        let bare = word.trim_start_matches('×');
        if latin.next_if(|part| *part == bare).is_some() {
            let sign = if bare.len() < word.len() { "×" } else { "" };
            out.push_str(&format!("{sign}<i>{}</i>", escaped(bare)));
        } else {
            out.push_str(&escaped(word));
        }
    }
    // One pair of tags for words that stand together.
    out.replace("</i> <i>", " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: International Code of Nomenclature for algae, fungi, and plants, preface (Latin
    // names in italics); International Code of Nomenclature for Cultivated Plants (cultivar
    // epithets upright, in single quotation marks). From memory.
    #[test]
    fn only_latin_words_are_in_italics() {
        for (name, html) in [
            ("Cryptocoryne parva", "<i>Cryptocoryne parva</i>"),
            (
                "Cryptocoryne × willisii",
                "<i>Cryptocoryne</i> × <i>willisii</i>",
            ),
            (
                "Cryptocoryne crispatula var. balansae",
                "<i>Cryptocoryne crispatula</i> var. <i>balansae</i>",
            ),
            (
                "Anubias barteri var. barteri",
                "<i>Anubias barteri</i> var. <i>barteri</i>",
            ),
            (
                "Cryptocoryne wendtii 'Mi Oya'",
                "<i>Cryptocoryne wendtii</i> &#39;Mi Oya&#39;",
            ),
            ("Hygrophila sp.", "<i>Hygrophila</i> sp."),
        ] {
            assert_eq!(name_html(name), html);
        }
    }

    // No source: a made-up epithet that repeats the species, set upright as any epithet is.
    #[test]
    fn a_latin_word_within_an_epithet_stays_upright() {
        assert_eq!(
            name_html("Cryptocoryne parva 'Tall parva Green'"),
            "<i>Cryptocoryne parva</i> &#39;Tall parva Green&#39;"
        );
    }
}

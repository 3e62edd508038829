//! The specimen of a plant page: the entry's own pictures, else the plate of its growth form.

use std::collections::BTreeMap;

use imagesize::{Compression, ImageType};

use crate::pages::mark::escaped;

/// Id of the title of a plate; there is one plate on a page.
const TITLE_ID: &str = "plate-title";

/// Width and height of a picture in pixels, read from its first bytes. `None` where it is none of
/// PNG, JPEG, WebP and AVIF.
///
/// Our choice: what every present browser shows and nothing can be run from. SVG is left out, as a
/// drawing handed in may carry scripts and links.
pub(crate) fn picture_size(bytes: &[u8]) -> Option<(usize, usize)> {
    let is_shown = matches!(
        imagesize::image_type(bytes).ok()?,
        ImageType::Png | ImageType::Jpeg | ImageType::Webp | ImageType::Heif(Compression::Av1)
    );
    let size = imagesize::blob_size(bytes).ok()?;
    (is_shown && size.width > 0 && size.height > 0).then_some((size.width, size.height))
}

/// The first of an entry's forms that has a plate, with the plate.
pub(crate) fn plate_of<'a>(
    forms: &'a [String],
    plates: &'a BTreeMap<String, String>,
) -> Option<(&'a str, &'a str)> {
    forms
        .iter()
        .find_map(|form| Some((form.as_str(), plates.get(form)?.as_str())))
}

/// The drawing within a file of a plate, from `<svg` to `</svg>`; `None` where there is none.
pub(crate) fn drawing(file: &str) -> Option<&str> {
    let from = file.find("<svg")?;
    let end = file.rfind("</svg>")? + "</svg>".len();
    file.get(from..end)
}

/// A drawing for use within a page, with a title.
pub(crate) fn plate(drawing: &str, title: &str) -> String {
    let rest = drawing.strip_prefix("<svg").unwrap_or(drawing);
    let (attributes, inside) = rest.split_once('>').unwrap_or((rest, ""));
    format!(
        "<svg class=\"plate\" role=\"img\" aria-labelledby=\"{TITLE_ID}\"{attributes}><title id=\"{TITLE_ID}\">{}</title>{}",
        escaped(title),
        inside.trim_start(),
    )
}

/// A drawing beside words that say what it shows: for the eye alone.
pub(crate) fn vignette(drawing: &str) -> String {
    let rest = drawing.strip_prefix("<svg").unwrap_or(drawing);
    format!("<svg class=\"plate\" aria-hidden=\"true\"{rest}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plates(forms: &[&str]) -> BTreeMap<String, String> {
        let plate = |form: &&str| ((*form).to_owned(), format!("<svg>{form}</svg>"));
        forms.iter().map(plate).collect()
    }

    #[test]
    fn the_first_form_with_a_plate_is_drawn() {
        let plates = plates(&["moss", "stem"]);
        let of = |forms: &[&str]| {
            let forms: Vec<String> = forms.iter().map(|form| (*form).to_owned()).collect();
            plate_of(&forms, &plates).map(|(form, svg)| (form.to_owned(), svg.to_owned()))
        };
        let stem = Some(("stem".to_owned(), "<svg>stem</svg>".to_owned()));
        assert_eq!(of(&["stem"]), stem);
        assert_eq!(of(&["stem", "moss"]), stem);
        // A form of the guide's own has no plate: the next one that has is drawn.
        assert_eq!(of(&["cushion", "stem"]), stem);
        assert_eq!(of(&["cushion"]), None);
        assert_eq!(of(&[]), None);
    }

    #[test]
    fn a_plate_has_a_role_and_a_title() {
        let file = "<?xml version=\"1.0\"?>\n<svg viewBox=\"0 0 4 4\">\n<path d=\"M0 0\"/></svg>\n";
        let svg = plate(drawing(file).expect("a drawing"), "Stem & root");
        assert_eq!(
            svg,
            "<svg class=\"plate\" role=\"img\" aria-labelledby=\"plate-title\" viewBox=\"0 0 4 4\"><title id=\"plate-title\">Stem &amp; root</title><path d=\"M0 0\"/></svg>"
        );
        let file = drawing(file).expect("a drawing");
        assert_eq!(
            vignette(file),
            "<svg class=\"plate\" aria-hidden=\"true\" viewBox=\"0 0 4 4\">\n<path d=\"M0 0\"/></svg>"
        );
        assert_eq!(drawing("no drawing"), None);
    }

    // Source: W3C, Portable Network Graphics (PNG) Specification, 3rd ed., 5.2 and 11.2.1 (IHDR:
    // width and height as four bytes each, most significant first). From memory.
    #[test]
    fn the_size_of_a_picture_is_read_from_its_head() {
        let mut png = b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR".to_vec();
        png.extend([0, 0, 2, 128, 0, 0, 1, 144, 8, 3, 0, 0, 0]);
        assert_eq!(picture_size(&png), Some((640, 400)));
        // A GIF and an SVG are known, but not shown; a cut file is not known.
        assert_eq!(picture_size(b"GIF89a\x02\x00\x02\x00\x00\x00\x00"), None);
        assert_eq!(
            picture_size(b"<svg xmlns=\"http://www.w3.org/2000/svg\"/>"),
            None
        );
        assert_eq!(picture_size(&png[..10]), None);
        assert_eq!(picture_size(b""), None);
    }
}

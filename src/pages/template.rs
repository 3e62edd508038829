//! The theme: the built-in one, with any file of the guide's own laid over it.

use std::collections::BTreeMap;

use serde_json::Value as Json;
use tera::{Context, Tera};

use crate::content::Input;
use crate::diagnostic::{Diagnostic, Placed};
use crate::pages::specimen::drawing;

/// The name of the built-in theme.
pub(crate) const BUILT_IN: &str = "stillwater";

macro_rules! built_in {
    ($($path:literal),* $(,)?) => {
        &[$(($path, include_str!(concat!("../../themes/stillwater/", $path)))),*]
    };
}

/// Path within the theme, and text, of every built-in file.
const FILES: &[(&str, &str)] = built_in![
    "sheets/base.html",
    "sheets/parts.html",
    "sheets/home.html",
    "sheets/plants.html",
    "sheets/plant.html",
    "sheets/roles.html",
    "sheets/role.html",
    "sheets/water.html",
    "sheets/loose.html",
    "sheets/sources.html",
    "sheets/source.html",
    "sheets/contested.html",
    "sheets/wanted.html",
    "sheets/method.html",
    "sheets/traits.html",
    "sheets/trait.html",
    "sheets/words.html",
    "sheets/plantings.html",
    "sheets/planting.html",
    "sheets/cautions.html",
    "sheets/page.html",
    "sheets/gone.html",
    "sheets/lost.html",
    "sheets/usual.html",
    "sheets/start.html",
    "sheets/compare.html",
    "sheets/data.html",
    "sheets/search.html",
    "sheets/editions.html",
    "sheets/edition.html",
    "dress/guide.css",
    "moves/slip.js",
    "dress/beam.svg",
    "moves/guide.js",
    "moves/search.js",
    "moves/filter.js",
    "moves/beside.js",
    "moves/minisearch.js",
    "moves/minisearch.LICENSE.txt",
    "plates/stem.svg",
    "plates/rosette.svg",
    "plates/rhizome.svg",
    "plates/floating.svg",
    "plates/floating-fern.svg",
    "plates/drifting.svg",
    "plates/moss.svg",
    "plates/bulb.svg",
    "plates/carpet.svg",
];

/// The built-in fonts, with their licence.
const TYPE: &[(&str, &[u8])] = &[
    (
        "type/text.woff2",
        include_bytes!("../../themes/stillwater/type/text.woff2"),
    ),
    (
        "type/italic.woff2",
        include_bytes!("../../themes/stillwater/type/italic.woff2"),
    ),
    (
        "type/strong.woff2",
        include_bytes!("../../themes/stillwater/type/strong.woff2"),
    ),
    (
        "type/OFL.txt",
        include_bytes!("../../themes/stillwater/type/OFL.txt"),
    ),
];

/// A theme, ready to render.
pub(crate) struct Theme {
    name: String,
    tera: Tera,
    /// Address and bytes of styles and whatever else pages load.
    assets: Vec<(String, Vec<u8>)>,
    /// By id of a growth form, its drawing.
    plates: BTreeMap<String, String>,
}

impl Theme {
    /// The theme of a guide. Every template is checked when it is loaded.
    pub(crate) fn load(name: &Placed<String>, input: &Input) -> (Option<Theme>, Vec<Diagnostic>) {
        let folder = format!("themes/{}/", name.value);
        let own: Vec<(&str, &[u8])> = input
            .files
            .iter()
            .filter_map(|(path, bytes)| Some((path.strip_prefix(&folder)?, bytes.as_slice())))
            .collect();
        if name.value != BUILT_IN && own.is_empty() {
            return (
                None,
                vec![Diagnostic::unknown_theme(&name.place, &name.value)],
            );
        }
        let mut templates: Vec<(String, String)> = Vec::new();
        let mut assets: Vec<(String, Vec<u8>)> = Vec::new();
        let mut plates = BTreeMap::new();
        let mut faults = Vec::new();
        let text = FILES.iter().map(|(path, text)| (*path, text.as_bytes()));
        let all = text.chain(TYPE.iter().copied());
        let is_own = |path: &str| own.iter().any(|(own, _)| *own == path);
        for (path, bytes) in all
            .filter(|(path, _)| !is_own(path))
            .chain(own.iter().copied())
        {
            if let Some(template) = path.strip_prefix("sheets/") {
                match std::str::from_utf8(bytes) {
                    Ok(text) => templates.push((template.to_owned(), text.to_owned())),
                    Err(_) => faults.push(Diagnostic::bad_template(
                        &format!("{folder}{path}"),
                        "it is not UTF-8 text",
                    )),
                }
            } else if let Some(form) = plate_form(path) {
                // Drawn within pages, so that it takes their ink; not a file of the site.
                match std::str::from_utf8(bytes).ok().and_then(drawing) {
                    Some(drawing) => {
                        plates.insert(form.to_owned(), drawing.to_owned());
                    }
                    None => faults.push(Diagnostic::bad_template(
                        &format!("{folder}{path}"),
                        "it has no `<svg>` drawing",
                    )),
                }
            } else if ["dress/", "type/", "plates/", "moves/"]
                .iter()
                .any(|part| path.starts_with(part))
            {
                assets.push((path.to_owned(), bytes.to_vec()));
            }
        }
        templates.sort();
        assets.sort();
        let mut tera = Tera::new();
        if let Err(error) = tera.add_raw_templates(templates) {
            faults.push(Diagnostic::bad_template(
                &format!("{folder}sheets"),
                &error.to_string(),
            ));
            return (None, faults);
        }
        let theme = Theme {
            name: name.value.clone(),
            tera,
            assets,
            plates,
        };
        (faults.is_empty().then_some(theme), faults)
    }

    /// The path of a template in the guide's folder.
    pub(crate) fn path_of(&self, template: &str) -> String {
        format!("themes/{}/sheets/{template}", self.name)
    }

    /// Renders a template with a view.
    pub(crate) fn render(&self, template: &str, view: &Json) -> Result<String, Box<Diagnostic>> {
        Context::from_serialize(view)
            .and_then(|context| self.tera.render(template, &context))
            .map_err(|error| {
                Box::new(Diagnostic::bad_template(
                    &self.path_of(template),
                    &error.to_string(),
                ))
            })
    }

    /// The drawings of growth forms, by id of the form.
    pub(crate) fn plates(&self) -> &BTreeMap<String, String> {
        &self.plates
    }

    /// Styles and other files that pages load.
    pub(crate) fn assets(&self) -> Vec<(String, Vec<u8>)> {
        self.assets.clone()
    }

    /// One of them, by its address.
    pub(crate) fn asset(&self, address: &str) -> Option<&[u8]> {
        let found = self.assets.iter().find(|(other, _)| other == address);
        found.map(|(_, bytes)| bytes.as_slice())
    }
}

/// The growth form that a file of a theme is the plate of: `plates/<form>.svg`.
fn plate_form(path: &str) -> Option<&str> {
    let form = path.strip_prefix("plates/")?.strip_suffix(".svg")?;
    (!form.is_empty() && !form.contains('/')).then_some(form)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostic::Place;

    fn theme(files: &[(&str, &str)]) -> (Option<Theme>, Vec<Diagnostic>) {
        let name = Placed {
            value: BUILT_IN.to_owned(),
            place: Place::head("content/guide.yaml"),
        };
        let input = Input {
            files: files
                .iter()
                .map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec()))
                .collect(),
            unread: Vec::new(),
        };
        Theme::load(&name, &input)
    }

    #[test]
    fn built_in_plates_are_drawings_without_ids_styles_or_scripts() {
        let (theme, faults) = theme(&[]);
        assert!(faults.is_empty(), "{faults:#?}");
        let theme = theme.expect("the built-in theme");
        assert_eq!(theme.plates().len(), 9);
        for (form, svg) in theme.plates() {
            assert!(
                svg.contains("viewBox=") && svg.contains("currentColor"),
                "{form}"
            );
            for word in [
                " id=", "style", "<script", "<image", "href", "<text", "<title", " class=",
            ] {
                assert!(!svg.contains(word), "{form}: {word}");
            }
            assert!(
                (1000..=4096).contains(&svg.len()),
                "{form}: {} bytes",
                svg.len()
            );
        }
        assert!(
            theme
                .assets()
                .iter()
                .all(|(path, _)| !path.starts_with("plates/"))
        );
    }

    #[test]
    fn a_guide_lays_its_own_plates_over_the_built_in_ones() {
        let own = "<!-- ours --><svg viewBox=\"0 0 1 1\"></svg>";
        let (theme, faults) = theme(&[
            ("themes/stillwater/plates/stem.svg", own),
            ("themes/stillwater/plates/cushion.svg", own),
            ("themes/stillwater/plates/more/leaf.svg", own),
        ]);
        assert!(faults.is_empty(), "{faults:#?}");
        let theme = theme.expect("a theme");
        assert_eq!(theme.plates()["stem"], "<svg viewBox=\"0 0 1 1\"></svg>");
        assert_eq!(theme.plates()["cushion"], theme.plates()["stem"]);
        assert_eq!(theme.plates().len(), 10);
        // What lies deeper is a file that its own pages may load.
        assert!(
            theme
                .assets()
                .iter()
                .any(|(path, _)| path == "plates/more/leaf.svg")
        );
    }

    #[test]
    fn a_plate_that_is_no_drawing_is_a_fault() {
        let (theme, faults) = theme(&[("themes/stillwater/plates/stem.svg", "a stem")]);
        assert!(theme.is_none());
        assert_eq!(faults.len(), 1);
    }
}

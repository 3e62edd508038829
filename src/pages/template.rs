//! The theme: the built-in one, with any file of the guide's own laid over it.

use serde_json::Value as Json;
use tera::{Context, Tera};

use crate::content::Input;
use crate::diagnostic::{Diagnostic, Placed};

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
    "dress/guide.css",
    "moves/slip.js",
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
        };
        (faults.is_empty().then_some(theme), faults)
    }

    /// The path of a template in the guide's folder.
    pub(crate) fn path_of(&self, template: &str) -> String {
        format!("themes/{}/sheets/{template}", self.name)
    }

    /// Renders a template with a view.
    pub(crate) fn render(&self, template: &str, view: &Json) -> Result<String, Diagnostic> {
        Context::from_serialize(view)
            .and_then(|context| self.tera.render(template, &context))
            .map_err(|error| Diagnostic::bad_template(&self.path_of(template), &error.to_string()))
    }

    /// Styles and other files that pages load.
    pub(crate) fn assets(&self) -> Vec<(String, Vec<u8>)> {
        self.assets.clone()
    }
}

//! Pages of the desk's own: faults in place of the site, the page for lost readers, and the frame
//! of both and of the form.

use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};

use crate::desk::forme::Forme;
use crate::desk::server::Desk;
use crate::diagnostic::{Diagnostic, Severity, counted};
use crate::pages::mark::escaped;

/// Most faults that are shown on a page.
///
/// Our choice: who mends these sees the next ones at once.
const MOST_FAULTS: usize = 60;

/// The desk's own files, by address below `/desk/`. They are there while the guide has errors, and
/// whatever its theme is.
pub(crate) fn asset(address: &str) -> Option<(&'static str, &'static [u8])> {
    Some(match address {
        "note.css" => ("text/css; charset=utf-8", include_bytes!("note.css")),
        "desk.css" => ("text/css; charset=utf-8", include_bytes!("desk.css")),
        "refresh.js" => (
            "text/javascript; charset=utf-8",
            include_bytes!("refresh.js"),
        ),
        "form.js" => ("text/javascript; charset=utf-8", include_bytes!("form.js")),
        "text.woff2" => (
            "font/woff2",
            include_bytes!("../../themes/stillwater/type/text.woff2"),
        ),
        "italic.woff2" => (
            "font/woff2",
            include_bytes!("../../themes/stillwater/type/italic.woff2"),
        ),
        "beam.svg" => (
            "image/svg+xml",
            include_bytes!("../../themes/stillwater/dress/beam.svg"),
        ),
        _ => return None,
    })
}

/// What makes a page listen for news; `turn` is the state that it shows, and `mark` is of its
/// bytes: it need not be loaded again while they are the same.
fn listener(turn: u64, mark: Option<u64>) -> String {
    let mark = mark.map_or_else(String::new, |mark| format!("&amp;mark={mark:016x}"));
    format!("<script type=\"module\" src=\"/desk/refresh.js?turn={turn}{mark}\"></script>\n")
}

/// A page of the site that listens for news.
pub(crate) fn listening(bytes: Vec<u8>, turn: u64, mark: u64) -> Vec<u8> {
    const HEAD: &[u8] = b"</head>";
    let at = bytes.windows(HEAD.len()).position(|part| part == HEAD);
    match at {
        Some(at) => {
            let listener = listener(turn, Some(mark));
            [&bytes[..at], listener.as_bytes(), &bytes[at..]].concat()
        }
        None => bytes,
    }
}

/// Puts a page of the desk together. `head` is more for its head, `main` is HTML.
pub(crate) fn page(status: StatusCode, title: &str, head: &str, main: &str) -> Response {
    let title = escaped(title);
    let html = format!(
        "<!DOCTYPE html>\n<html lang=\"en-GB\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"robots\" content=\"noindex\">\n<title>{title}</title>\n\
         <link rel=\"stylesheet\" href=\"/desk/desk.css\">\n\
         <link rel=\"icon\" type=\"image/svg+xml\" href=\"/desk/beam.svg\">\n{head}</head>\n<body>\n\
         <a class=\"skip\" href=\"#main\">Skip to the text</a>\n\
         <header>\n<p class=\"whose\">On the desk</p>\n<nav aria-label=\"Desk\">\n<ul>\n\
         <li><a href=\"/\">The guide</a></li>\n<li><a href=\"/desk/\">Record an observation</a></li>\n\
         </ul>\n</nav>\n</header>\n<main id=\"main\">\n{main}</main>\n</body>\n</html>\n"
    );
    let kind = [(CONTENT_TYPE, "text/html; charset=utf-8")];
    (status, kind, html).into_response()
}

/// The page of faults, which goes away by itself when they are mended.
pub(crate) fn faults(desk: &Desk, forme: &Forme, faults: &[Diagnostic], turn: u64) -> Response {
    let main = fault_list(desk, forme, faults, Severity::Error);
    let title = "The guide has errors";
    let main = format!(
        "<h1>{title}</h1>\n<p class=\"lead\">A page would mislead, so none is shown. Mend what is named here and save: the page comes back by itself.</p>\n{main}"
    );
    page(
        StatusCode::SERVICE_UNAVAILABLE,
        title,
        &listener(turn, None),
        &main,
    )
}

/// A fault: what and what to do in lines that fold, and the excerpt, which does not, between them.
fn fault_html(text: &str, file: &str) -> String {
    let (what, rest) = text.trim_end().split_once('\n').unwrap_or((text, ""));
    let (excerpt, help) = rest.split_once("= help: ").unwrap_or((rest, ""));
    // Lines that only set it apart in a terminal.
    let lines: Vec<&str> = excerpt
        .lines()
        .filter(|line| !matches!(line.trim(), "" | "|"))
        .collect();
    let excerpt = if lines.is_empty() {
        String::new()
    } else {
        // What is wider than the page scrolls, and can be reached with the keyboard.
        format!(
            "<pre tabindex=\"0\" role=\"region\" aria-label=\"{}\">{}</pre>",
            escaped(file),
            escaped(&lines.join("\n"))
        )
    };
    let help = if help.is_empty() {
        String::new()
    } else {
        format!("<p>{}</p>", sentence(help.trim()))
    };
    format!(
        "<li><p class=\"what\">{}</p>{excerpt}{help}</li>\n",
        escaped(what)
    )
}

/// A fragment as the start of a sentence.
pub(crate) fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    escaped(&format!(
        "{}{}",
        first.unwrap_or_default(),
        letters.as_str()
    ))
}

/// Faults of one kind, each as `pondweigh proof` shows it.
pub(crate) fn fault_list(
    desk: &Desk,
    forme: &Forme,
    faults: &[Diagnostic],
    severity: Severity,
) -> String {
    let of_kind: Vec<&Diagnostic> = faults
        .iter()
        .filter(|fault| fault.severity == severity)
        .collect();
    let mut out = match severity {
        Severity::Error => format!("<h2>{}</h2>\n", counted(of_kind.len(), "error", "errors")),
        Severity::Warning => String::new(),
    };
    out.push_str("<ol class=\"faults\">\n");
    for fault in of_kind.iter().take(MOST_FAULTS) {
        let text = desk.shown(fault, forme.input());
        out.push_str(&fault_html(&text, &fault.place.file));
    }
    out.push_str("</ol>\n");
    if of_kind.len() > MOST_FAULTS {
        out.push_str(&format!(
            "<p>And {} more.</p>\n",
            of_kind.len() - MOST_FAULTS
        ));
    }
    out
}

/// The page for a write without the token of this run: most often from a form that was loaded before
/// the desk was started anew.
pub(crate) fn expired() -> Response {
    let main = "<h1>Load the form again</h1>\n<p>This form is not of this run of the desk, which may have been started anew since. Nothing was written.</p>\n<p>Go back, copy what you typed, and <a href=\"/desk/\">load the form again</a>.</p>\n";
    page(StatusCode::FORBIDDEN, "Load the form again", "", main)
}

/// The page for an address with nothing there.
pub(crate) fn lost(path: &str, turn: u64) -> Response {
    let main = format!(
        "<h1>Page not found</h1>\n<p>There is nothing at <code>{}</code>. It comes by itself if the guide gets such a page.</p>\n<p><a href=\"/\">To the guide</a></p>\n",
        escaped(path)
    );
    page(
        StatusCode::NOT_FOUND,
        "Page not found",
        &listener(turn, None),
        &main,
    )
}

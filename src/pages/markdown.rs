//! Markdown to HTML, without raw HTML, and only with links that may be shown.

use pulldown_cmark::{CowStr, Event, HeadingLevel, LinkType, Options, Parser, Tag, TagEnd};

use crate::diagnostic::{Diagnostic, Place};

/// How a text is set.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Markdown<'a> {
    /// Level that its first-level headings get on the page.
    pub(crate) top: usize,
    /// What the ids of its headings and notes start with.
    pub(crate) prefix: &'a str,
}

impl Default for Markdown<'_> {
    fn default() -> Self {
        Markdown {
            top: 2,
            prefix: "text",
        }
    }
}

/// A text as HTML; faults stand at `place`.
pub(crate) fn html(
    text: &str,
    how: Markdown<'_>,
    place: &Place,
    faults: &mut Vec<Diagnostic>,
) -> String {
    let options =
        Options::ENABLE_TABLES | Options::ENABLE_FOOTNOTES | Options::ENABLE_STRIKETHROUGH;
    let mut events: Vec<Event<'_>> = Vec::new();
    let mut has_html = false;
    let mut notes: Vec<String> = Vec::new();
    for event in Parser::new_ext(text, options) {
        events.push(match event {
            Event::Html(raw) | Event::InlineHtml(raw) => {
                has_html = true;
                Event::Text(raw)
            }
            Event::Start(Tag::HtmlBlock) => Event::Start(Tag::Paragraph),
            Event::End(TagEnd::HtmlBlock) => Event::End(TagEnd::Paragraph),
            Event::Start(Tag::Link {
                link_type,
                dest_url,
                title,
                id,
            }) => {
                let dest_url = if link_type == LinkType::Email {
                    dest_url
                } else {
                    checked(dest_url, place, faults)
                };
                Event::Start(Tag::Link {
                    link_type,
                    dest_url,
                    title,
                    id,
                })
            }
            Event::Start(Tag::Image {
                link_type,
                dest_url,
                title,
                id,
            }) => {
                let dest_url = if is_relative(&folded(&dest_url)) {
                    dest_url
                } else {
                    refused(&dest_url, place, faults)
                };
                Event::Start(Tag::Image {
                    link_type,
                    dest_url,
                    title,
                    id,
                })
            }
            Event::Start(Tag::FootnoteDefinition(label)) => Event::Start(Tag::FootnoteDefinition(
                note_id(&label, how, &mut notes).into(),
            )),
            Event::FootnoteReference(label) => {
                Event::FootnoteReference(note_id(&label, how, &mut notes).into())
            }
            other => other,
        });
    }
    if has_html {
        faults.push(Diagnostic::raw_html(place));
    }
    headings(&mut events, how);
    let mut out = String::with_capacity(text.len() * 3 / 2);
    pulldown_cmark::html::push_html(&mut out, events.into_iter());
    // Tables may be wider than a small screen: their own box scrolls.
    out.replace(
        "<table>",
        "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Table\"><table>",
    )
    .replace("</table>", "</table></div>")
}

/// The id of a note: the label may hold blanks and signs, an id may not.
fn note_id(label: &str, how: Markdown<'_>, notes: &mut Vec<String>) -> String {
    let at = notes.iter().position(|other| other == label);
    let at = at.unwrap_or_else(|| {
        notes.push(label.to_owned());
        notes.len() - 1
    });
    format!("{}-note-{}", how.prefix, at + 1)
}

/// A link that may be shown: http, https, mailto, or relative.
fn checked<'a>(href: CowStr<'a>, place: &Place, faults: &mut Vec<Diagnostic>) -> CowStr<'a> {
    let folded = folded(&href);
    let is_good = ["https://", "http://", "mailto:"]
        .iter()
        .any(|scheme| folded.starts_with(scheme))
        || is_relative(&folded);
    if is_good {
        href
    } else {
        refused(&href, place, faults)
    }
}

/// An address as a browser reads it: without blanks, in small letters, `\` as `/`.
fn folded(href: &str) -> String {
    href.chars()
        .filter(|c| !c.is_control() && !c.is_whitespace())
        .collect::<String>()
        .to_ascii_lowercase()
        .replace('\\', "/")
}

/// Whether an address leads on from its page. One that starts with `/` leads from the top of the
/// host, where the site need not be.
fn is_relative(folded: &str) -> bool {
    let head = folded.split(['/', '?', '#']).next();
    !folded.starts_with('/') && !head.is_some_and(|head| head.contains(':'))
}

fn refused(href: &str, place: &Place, faults: &mut Vec<Diagnostic>) -> CowStr<'static> {
    faults.push(Diagnostic::bad_link(place, href));
    CowStr::Borrowed("#")
}

/// Sets headings below those of the page and gives each an id made from its text.
fn headings(events: &mut [Event<'_>], how: Markdown<'_>) {
    let mut used: Vec<String> = Vec::new();
    let mut above: Vec<HeadingLevel> = Vec::new();
    for at in 0..events.len() {
        let Event::Start(Tag::Heading { level, .. }) = &events[at] else {
            continue;
        };
        let level = nested(*level, &mut above, how.top);
        let end = (at..events.len()).find(|i| matches!(events[*i], Event::End(TagEnd::Heading(_))));
        let Some(end) = end else {
            continue;
        };
        let text: String = events[at..end]
            .iter()
            .filter_map(|event| match event {
                Event::Text(text) | Event::Code(text) => Some(text.as_ref()),
                _ => None,
            })
            .collect();
        let base = format!("{}-{}", how.prefix, crate::names::slug::slug(&text));
        let mut id = base.clone();
        let mut n = 2;
        while used.contains(&id) {
            id = format!("{base}-{n}");
            n += 1;
        }
        used.push(id.clone());
        events[at] = Event::Start(Tag::Heading {
            level,
            id: Some(id.into()),
            classes: Vec::new(),
            attrs: Vec::new(),
        });
        events[end] = Event::End(TagEnd::Heading(level));
    }
}

/// The level a heading gets: one below the nearest heading above it that is larger, so that no
/// level is skipped however the text was written.
fn nested(level: HeadingLevel, above: &mut Vec<HeadingLevel>, top: usize) -> HeadingLevel {
    while above.last().is_some_and(|last| *last >= level) {
        above.pop();
    }
    above.push(level);
    HeadingLevel::try_from((top + above.len() - 1).min(6)).unwrap_or(HeadingLevel::H6)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(text: &str) -> (String, usize) {
        let mut faults = Vec::new();
        let html = html(
            text,
            Markdown::default(),
            &Place::head("content/x.yaml"),
            &mut faults,
        );
        (html, faults.len())
    }

    #[test]
    fn raw_html_and_event_attributes_are_text() {
        let (html, faults) = set("a <b onclick=x>b</b>\n\n<script>alert(1)</script>\n");
        assert!(!html.contains("<b") && !html.contains("<script"), "{html}");
        assert_eq!(faults, 1);
        let (html, _) = set("# H {#x onclick=alert(1)}\n");
        assert!(
            !html.contains("<h2 id=\"x\"") && !html.contains("\" onclick"),
            "{html}"
        );
    }

    #[test]
    fn only_links_that_may_be_shown_are_links() {
        for (text, faults) in [
            ("[a](https://example.org/)", 0),
            ("[a](../x/)", 0),
            ("[a](JaVaScRiPt:alert(1))", 1),
            ("<javascript:alert(1)>", 1),
            ("[a](data:text/html,x)", 1),
            ("[a](//example.org/)", 1),
            ("[a](&#106;avascript:alert(1))", 1),
            ("[a](#note)", 0),
            ("[a](mailto:a@example.org)", 0),
            ("<a@example.org>", 0),
            ("[a](x/y:z)", 0),
            ("[a](/plants/)", 1),
            ("[a](/\\example.org/)", 1),
            ("[a](\\\\\\\\example.org/)", 1),
            ("[a](<java\tscript:alert(1)>)", 1),
            ("[a][b]\n\n[b]: vbscript:x", 1),
            ("![a](x.png)", 0),
            ("![a](https://example.org/x.png)", 1),
            ("![a](data:image/png,x)", 1),
            ("![a](//example.org/x.png)", 1),
        ] {
            let (html, found) = set(text);
            assert_eq!(found, faults, "{text}: {html}");
            let is_kept =
                html.contains("example.org") || html.contains("script:") || html.contains("data:");
            assert!(
                faults == 0 || text.starts_with('<') || !is_kept,
                "{text}: {html}"
            );
        }
    }

    #[test]
    fn headings_are_shifted_and_have_ids_of_their_own() {
        let (html, _) = set("# One\n\n## Two\n\n## Two\n");
        assert!(
            html.contains("<h2 id=\"text-one\">") && html.contains("<h3 id=\"text-two-2\">"),
            "{html}"
        );
    }

    #[test]
    fn notes_have_ids_of_their_own_and_are_reached() {
        let (html, faults) = set("a[^my note?] b[^x]\n\n[^my note?]: one\n\n[^x]: two\n");
        assert_eq!(faults, 0);
        for id in ["text-note-1", "text-note-2"] {
            assert!(html.contains(&format!("id=\"{id}\"")), "{html}");
            assert!(html.contains(&format!("href=\"#{id}\"")), "{html}");
        }
    }

    #[test]
    fn quotes_and_dashes_stay_as_written() {
        assert_eq!(
            set("'Mi Oya' -- \"x\"...\n\n~~y~~").0,
            "<p>'Mi Oya' -- \"x\"...</p>\n<p><del>y</del></p>\n"
        );
    }

    #[test]
    fn tables_scroll_in_a_box_of_their_own() {
        let (html, _) = set("| a | b |\n| - | - |\n| `<table>` | 2 |\n");
        assert_eq!(html.matches("<table>").count(), 1, "{html}");
        assert_eq!(html.matches("class=\"wide\"").count(), 1, "{html}");
        assert!(html.contains("<code>&lt;table&gt;</code>"), "{html}");
    }
}

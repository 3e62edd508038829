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
                let is_relative = !dest_url.contains(':') && !dest_url.starts_with("//");
                if !is_relative {
                    faults.push(Diagnostic::bad_link(place, &dest_url));
                }
                Event::Start(Tag::Image {
                    link_type,
                    dest_url,
                    title,
                    id,
                })
            }
            Event::Start(Tag::FootnoteDefinition(label)) => Event::Start(Tag::FootnoteDefinition(
                format!("{}-note-{label}", how.prefix).into(),
            )),
            Event::FootnoteReference(label) => {
                Event::FootnoteReference(format!("{}-note-{label}", how.prefix).into())
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

/// A link that may be shown: http, https, mailto, or relative.
fn checked<'a>(href: CowStr<'a>, place: &Place, faults: &mut Vec<Diagnostic>) -> CowStr<'a> {
    let folded: String = href
        .chars()
        .filter(|c| !c.is_control() && !c.is_whitespace())
        .collect::<String>()
        .to_ascii_lowercase();
    let has_scheme = folded
        .split(['/', '?', '#'])
        .next()
        .is_some_and(|head| head.contains(':'));
    let is_good = if has_scheme {
        ["https://", "http://", "mailto:"]
            .iter()
            .any(|scheme| folded.starts_with(scheme))
    } else {
        !folded.starts_with("//")
    };
    if is_good {
        return href;
    }
    faults.push(Diagnostic::bad_link(place, &href));
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
        ] {
            assert_eq!(set(text).1, faults, "{text}: {}", set(text).0);
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
}

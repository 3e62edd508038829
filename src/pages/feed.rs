//! The feed of shifts: one entry an edition, as Atom 1.0.
//!
//! Source: RFC 4287, The Atom Syndication Format; from memory. `tests/feed/` has its schema.

use crate::diagnostic::counted;
use crate::editions::tell::{by, causes, frame, overall, tally, turned, whence};
use crate::editions::{Edition, PlantShift};
use crate::pages::Press;
use crate::pages::editions::date_of;
use crate::pages::mark::{escaped, name_html};

/// Most plants whose shifts an entry tells; the edition's page has them all.
const MOST_PLANTS: usize = 50;

/// Most entries, the newest first. Our choice: years of editions.
const MOST_ENTRIES: usize = 40;

impl Press<'_> {
    /// The feed; none where no edition has been recorded, as its date would be made up.
    pub(crate) fn feed(&self) -> Option<(String, Vec<u8>)> {
        let latest = self.editions.last()?;
        let about = &self.guide.about;
        let address = &about.address;
        let mut out = format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
             <feed xmlns=\"http://www.w3.org/2005/Atom\" xml:lang=\"en-GB\">\n\
             <id>{id}</id>\n\
             <title>{title}</title>\n\
             <updated>{updated}</updated>\n\
             <link rel=\"self\" type=\"application/atom+xml\" href=\"{id}\"/>\n\
             <link rel=\"alternate\" type=\"text/html\" href=\"{list}\"/>\n\
             <author><name>{publisher}</name></author>\n\
             <rights>{licence}</rights>\n",
            id = xml(&format!("{address}feed.xml")),
            title = xml(&format!("{}: what moved", about.title)),
            updated = moment(latest),
            list = xml(&format!("{address}editions/")),
            publisher = xml(&about.publisher),
            licence = xml(&about.licence),
        );
        for at in (0..self.editions.len()).rev().take(MOST_ENTRIES) {
            out.push_str(&self.entry(at));
        }
        out.push_str("</feed>\n");
        Some(("feed.xml".to_owned(), out.into_bytes()))
    }

    fn entry(&self, at: usize) -> String {
        let edition = &self.editions[at];
        let date = date_of(edition);
        let page = xml(&format!("{}editions/{date}/", self.guide.about.address));
        let told = self.told();
        let (summary, content) = match self.shifts_before(at) {
            None => {
                let plants = counted(edition.plants.len(), "plant", "plants");
                (format!("The first edition: {plants}."), String::new())
            }
            Some(shifts) => {
                let mut html: String = frame(shifts, told)
                    .iter()
                    .map(|line| format!("<p>{}</p>", escaped(line)))
                    .collect();
                let shown = &shifts.plants[..shifts.plants.len().min(MOST_PLANTS)];
                html.extend(shown.iter().map(|plant| self.shift_html(plant)));
                let more = shifts.plants.len() - shown.len();
                if more > 0 {
                    let more = counted(more, "more plant", "more plants");
                    html.push_str(&format!("<p>And {more}: <a href=\"{page}\">all</a>.</p>"));
                }
                (tally(shifts), html)
            }
        };
        let note = &edition.head.note;
        let stop = if note.ends_with(['.', '!', '?', '…']) {
            ""
        } else {
            "."
        };
        let summary = if note.is_empty() {
            summary
        } else {
            format!("{note}{stop} {summary}")
        };
        let content = if content.is_empty() {
            String::new()
        } else {
            format!("<content type=\"html\">{}</content>\n", xml(&content))
        };
        format!(
            "<entry>\n\
             <id>{page}</id>\n\
             <title>{}</title>\n\
             <updated>{updated}</updated>\n\
             <published>{updated}</published>\n\
             <link rel=\"alternate\" type=\"text/html\" href=\"{page}\"/>\n\
             <summary>{}</summary>\n\
             {content}</entry>\n",
            xml(&format!("Edition {}, {date}", edition.head.number)),
            xml(&summary),
            updated = moment(edition),
        )
    }

    /// What moved of a plant, as HTML.
    fn shift_html(&self, shift: &PlantShift) -> String {
        let told = self.told();
        let name = match told.plant(&shift.slug) {
            Some(plant) => self.plain_ref(plant),
            None => name_html(&shift.name),
        };
        let whence = whence(shift, told).map_or_else(String::new, |whence| format!(": {whence}"));
        let mut lines: Vec<String> = shift
            .turns
            .iter()
            .map(|turn| {
                let (from, to) = turned(turn);
                format!(
                    "{} in {}: {from} → {to}{}",
                    told.role(&turn.role),
                    told.water(&turn.water),
                    by(turn, told)
                )
            })
            .collect();
        for of in &shift.traits {
            let title = told.trait_title(&of.id);
            lines.extend(overall(of, told).map(|step| format!("{title}: {step}")));
            lines.extend(of.in_water.iter().map(|(water, step)| {
                format!(
                    "{title} in {}: {}",
                    told.water(water),
                    told.step(&of.id, step)
                )
            }));
            lines.extend(of.claims.iter().map(|claim| {
                format!(
                    "{title}, {}: {}: {}",
                    claim.what.word(),
                    told.source(&claim.source),
                    told.claim(&shift.slug, &of.id, claim)
                )
            }));
        }
        lines.extend(causes(shift, told));
        let lines: String = lines
            .iter()
            .map(|line| format!("<li>{}</li>", escaped(line)))
            .collect();
        let list = if lines.is_empty() {
            String::new()
        } else {
            format!("<ul>{lines}</ul>")
        };
        format!("<p>{name}{}</p>{list}", escaped(&whence))
    }
}

/// The day of an edition as a moment: its first, in universal time.
fn moment(edition: &Edition) -> String {
    format!("{}T00:00:00Z", date_of(edition))
}

/// A text in XML: with entities, and without the characters that XML 1.0 does not have.
fn xml(text: &str) -> String {
    let allowed: String = text
        .chars()
        .filter(|c| {
            matches!(c, '\t' | '\n' | '\r') || (*c >= ' ' && !matches!(c, '\u{fffe}' | '\u{ffff}'))
        })
        .collect();
    escaped(&allowed)
}

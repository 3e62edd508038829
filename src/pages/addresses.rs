//! The list of pages for machines: `sitemap.xml`, and `robots.txt` that points to it.

use crate::pages::mark::escaped;
use crate::pages::{Press, Sheet};

/// Addresses in one list.
///
/// Source: the sitemap protocol 0.9, sitemaps.org/protocol.html: at most 50,000 in a file, and an
/// index where there are more. From memory.
const IN_ONE_LIST: usize = 50_000;

const SCHEMA: &str = "http://www.sitemaps.org/schemas/sitemap/0.9";

impl Press<'_> {
    /// The addresses of all pages but the one for lost readers and those that only say where
    /// something went.
    pub(crate) fn addresses(&self, sheets: &[Sheet]) -> Vec<(String, Vec<u8>)> {
        let mut pages: Vec<&str> = sheets
            .iter()
            .filter(|sheet| !matches!(sheet.template, "lost.html" | "gone.html"))
            .map(|sheet| sheet.address.trim_end_matches("index.html"))
            .collect();
        pages.sort_unstable();
        let base = &self.guide.about.address;
        let url = |path: &str| escaped(&format!("{base}{path}"));
        let mut out: Vec<(String, String)> = Vec::new();
        let lists: Vec<&[&str]> = pages.chunks(IN_ONE_LIST).collect();
        if let [list] = lists[..] {
            out.push(("sitemap.xml".to_owned(), urls(list, &url)));
        } else {
            let mut index = format!("{HEAD}<sitemapindex xmlns=\"{SCHEMA}\">\n");
            for (at, list) in lists.iter().enumerate() {
                let address = format!("sitemap-{}.xml", at + 1);
                index.push_str(&format!(
                    "<sitemap><loc>{}</loc></sitemap>\n",
                    url(&address)
                ));
                out.push((address, urls(list, &url)));
            }
            index.push_str("</sitemapindex>\n");
            out.push(("sitemap.xml".to_owned(), index));
        }
        // Source: RFC 9309; the line that names the list is from the sitemap protocol.
        let robots = format!("User-agent: *\nAllow: /\nSitemap: {base}sitemap.xml\n");
        out.push(("robots.txt".to_owned(), robots));
        out.into_iter()
            .map(|(address, text)| (address, text.into_bytes()))
            .collect()
    }
}

const HEAD: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";

fn urls(pages: &[&str], url: &dyn Fn(&str) -> String) -> String {
    let mut out = format!("{HEAD}<urlset xmlns=\"{SCHEMA}\">\n");
    for page in pages {
        out.push_str(&format!("<url><loc>{}</loc></url>\n", url(page)));
    }
    out.push_str("</urlset>\n");
    out
}

//! What can go wrong with a guide: a place, a sentence, and what to do. One constructor per message.

use std::fmt;
use std::sync::Arc;

/// Where a value stands in a file of the guide.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Path relative to the guide folder, with `/` between its parts.
    pub file: Arc<str>,
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
    /// First byte of the value in the file.
    pub start: usize,
    /// Byte after the value.
    pub end: usize,
}

impl Place {
    /// The head of a file, for faults that have no nearer place.
    pub fn head(file: &str) -> Place {
        Place {
            file: Arc::from(file),
            line: 1,
            column: 1,
            start: 0,
            end: 0,
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

/// A value with the place it was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Placed<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub place: Place,
}

impl<T> Placed<T> {
    /// Puts a value and its place together.
    pub fn new(value: T, place: Place) -> Placed<T> {
        Placed { value, place }
    }
}

/// How much a fault matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The page would mislead: nothing is pressed.
    Error,
    /// The site is right, but thinner than it could be.
    Warning,
}

/// One fault: where, what, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// What kind of fault it is: the name of its constructor with hyphens. It stays the same, so
    /// that other programs may go by it.
    pub rule: &'static str,
    /// Error or warning.
    pub severity: Severity,
    /// Where the offending value stands.
    pub place: Place,
    /// What is wrong: a lower-case fragment.
    pub title: String,
    /// What stands beside the marked value: found and expected.
    pub label: Option<String>,
    /// What to do.
    pub hint: Option<String>,
}

/// The word of `valid` that is nearest to `word`, if one is near enough to be meant.
///
/// Near enough: at most a third of its letters differ (optimal string alignment distance).
/// Our choice: a wrong guess costs a reader more than none.
pub fn nearest<'a>(word: &str, valid: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let folded = word.trim().to_lowercase();
    let mut best: Option<(usize, &str)> = None;
    for candidate in valid {
        let other = candidate.to_lowercase();
        let distance = strsim::osa_distance(&folded, &other);
        let limit = (other.chars().count().max(folded.chars().count()) / 3).max(1);
        if distance <= limit && best.is_none_or(|(d, w)| (distance, candidate) < (d, w)) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Up to `most` words of a list, for a message, in back quotes.
pub fn listed<'a>(words: impl IntoIterator<Item = &'a str>, most: usize) -> String {
    let words: Vec<&str> = words.into_iter().collect();
    let mut out: Vec<String> = words.iter().take(most).map(|w| format!("`{w}`")).collect();
    if words.len() > most {
        out.push(format!("and {} more", words.len() - most));
    }
    out.join(", ")
}

/// A number and its noun, which agree: `1 claim`, `2 claims`.
pub fn counted(n: usize, one: &str, many: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {many}")
    }
}

/// A text cut to a length that fits a message.
fn cut(text: &str) -> String {
    let flat: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if flat.chars().count() > 60 {
        let head: String = flat.chars().take(57).collect();
        format!("{head}…")
    } else {
        flat
    }
}

fn choices<'a>(word: &str, valid: impl IntoIterator<Item = &'a str>, noun: &str) -> Option<String> {
    let mut valid: Vec<&str> = valid.into_iter().collect();
    let mut seen = std::collections::BTreeSet::new();
    valid.retain(|word| seen.insert(*word));
    if let Some(near) = nearest(word, valid.iter().copied()) {
        return Some(format!("did you mean `{near}`?"));
    }
    if valid.is_empty() {
        return Some(format!("there is no {noun} yet: add one first"));
    }
    Some(format!("use one of {}", listed(valid, 12)))
}

impl Diagnostic {
    fn error(rule: &'static str, place: &Place, title: impl Into<String>) -> Diagnostic {
        Diagnostic {
            rule,
            severity: Severity::Error,
            place: place.clone(),
            title: title.into(),
            label: None,
            hint: None,
        }
    }

    fn warning(rule: &'static str, place: &Place, title: impl Into<String>) -> Diagnostic {
        Diagnostic {
            severity: Severity::Warning,
            ..Diagnostic::error(rule, place, title)
        }
    }

    fn label(mut self, text: impl Into<String>) -> Diagnostic {
        self.label = Some(text.into());
        self
    }

    fn hint(mut self, text: impl Into<String>) -> Diagnostic {
        self.hint = Some(text.into());
        self
    }

    // ---- files -------------------------------------------------------------------------

    /// A file that a guide must have is not there.
    pub fn missing_file(file: &str) -> Diagnostic {
        Diagnostic::error("missing-file", &Place::head(file), "this file is missing")
            .hint("a guide needs guide.yaml, scales.yaml, traits.yaml, roles.yaml, one water, one source and one plant; `pondweigh sow DIR` starts a guide that has them")
    }

    /// A folder that must hold at least one file of a kind holds none.
    pub fn none_of(folder: &str, noun: &str) -> Diagnostic {
        Diagnostic::error(
            "none-of",
            &Place::head(folder),
            format!("there is no {noun} yet"),
        )
        .hint(format!("add a file for one {noun} here"))
    }

    /// A file that could not be read from disk.
    pub fn unreadable(file: &str, why: &str) -> Diagnostic {
        Diagnostic::error(
            "unreadable",
            &Place::head(file),
            format!("cannot read this file: {why}"),
        )
        .hint("check that the file is there and may be read")
    }

    /// A data file whose name or place means nothing to the format: what it says would be missing.
    pub fn stray_file(file: &str) -> Diagnostic {
        Diagnostic::error(
            "stray-file",
            &Place::head(file),
            "this file has no meaning in a guide",
        )
        .hint("check its folder and its ending: data files end in `.yaml`, free pages in `.md`")
    }

    /// Any other file that the format does not know.
    pub fn unused_file(file: &str) -> Diagnostic {
        Diagnostic::warning("unused-file", &Place::head(file), "this file is not used")
            .hint("pictures belong in `content/pictures/`; move other files out of `content/`")
    }

    /// A file over the size limit.
    pub fn too_large(file: &str, bytes: u64, limit: u64) -> Diagnostic {
        Diagnostic::error(
            "too-large",
            &Place::head(file),
            format!("this file is too large: {bytes} bytes, at most {limit} are read"),
        )
        .hint("one file holds one thing; split it, or check that it is the right file")
    }

    /// Bytes that are not UTF-8.
    pub fn not_utf8(place: &Place) -> Diagnostic {
        Diagnostic::error("not-utf8", place, "this file is not UTF-8 text")
            .hint("save it as UTF-8 in the editor")
    }

    /// A text with a control character, which no page may hold.
    pub fn unprintable(place: &Place) -> Diagnostic {
        Diagnostic::error(
            "unprintable",
            place,
            "there is a sign in this text that cannot be seen or printed",
        )
        .hint("type the text anew; it was most likely copied from elsewhere")
    }

    /// A link in the content, which is not followed.
    pub fn link_not_followed(file: &str) -> Diagnostic {
        Diagnostic::warning(
            "link-not-followed",
            &Place::head(file),
            "this is a link to another place, and is not followed",
        )
        .hint("put the file or folder itself here")
    }

    /// A YAML file without content.
    pub fn empty_file(file: &str) -> Diagnostic {
        Diagnostic::error("empty-file", &Place::head(file), "this file is empty")
            .hint("write the entry, or delete the file")
    }

    /// A file that is not the YAML we read.
    pub fn bad_yaml(place: &Place, why: &str) -> Diagnostic {
        Diagnostic::error("bad-yaml", place, why.to_owned())
            .hint("check the quotes, brackets and indentation here and in the line above; put a text that holds `: ` or ` #` in quotes")
    }

    /// A file that goes over a limit on nesting, values or text.
    pub fn over_limit(place: &Place, limits: &str) -> Diagnostic {
        Diagnostic::error(
            "over-limit",
            place,
            format!("this file goes over a limit of the format ({limits})"),
        )
        .hint("no entry needs as much: check that it is the right file, and split it if it is")
    }

    /// Anchors, aliases and merge keys are refused.
    pub fn anchors_refused(place: &Place) -> Diagnostic {
        Diagnostic::error(
            "anchors-refused",
            place,
            "anchors, aliases and merge keys are not read",
        )
        .hint("write the value out at each place; put a text that starts with `&` or `*` in quotes")
    }

    /// Tabs used for indentation.
    pub fn tab_indent(place: &Place) -> Diagnostic {
        Diagnostic::error("tab-indent", place, "a tab is used to indent").hint("indent with spaces")
    }

    // ---- shapes ------------------------------------------------------------------------

    /// A key that the format does not have.
    pub fn unknown_key(place: &Place, key: &str, what: &str, valid: &[&str]) -> Diagnostic {
        let hint = match nearest(key, valid.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("{what} may have {}", listed(valid.iter().copied(), 24)),
        };
        Diagnostic::error("unknown-key", place, format!("unknown key `{}`", cut(key)))
            .label(format!("not a key of {what}"))
            .hint(hint)
    }

    /// A key that stands twice.
    pub fn duplicate_key(place: &Place, key: &str) -> Diagnostic {
        Diagnostic::error(
            "duplicate-key",
            place,
            format!("key `{}` stands twice", cut(key)),
        )
        .label("second time here")
        .hint("keep one of the two")
    }

    /// A required key is missing.
    pub fn missing_key(place: &Place, key: &str, what: &str) -> Diagnostic {
        Diagnostic::error("missing-key", place, format!("{what} has no `{key}`"))
            .hint(format!("add `{key}:`"))
    }

    /// A value of the wrong shape.
    pub fn wrong_shape(place: &Place, expected: &str, found: &str) -> Diagnostic {
        Diagnostic::error(
            "wrong-shape",
            place,
            format!("expected {expected}, found {found}"),
        )
        .hint("content/README.md shows the shape of every value")
    }

    /// A text that must not be empty.
    pub fn empty_text(place: &Place, key: &str) -> Diagnostic {
        Diagnostic::error("empty-text", place, format!("`{key}` is empty"))
            .hint("write it, or leave the key out")
    }

    /// An id that cannot be an address.
    pub fn bad_id(place: &Place, id: &str) -> Diagnostic {
        Diagnostic::error("bad-id", place, format!("`{}` cannot be an id", cut(id)))
            .hint("use small letters a–z, digits and hyphens")
    }

    /// A number where something else stands.
    pub fn bad_number(place: &Place, text: &str) -> Diagnostic {
        let fault = Diagnostic::error(
            "bad-number",
            place,
            format!("`{}` is not a number", cut(text)),
        );
        if text.contains(',') {
            fault.hint("write the decimals after a point: `1.5`, not `1,5`")
        } else {
            fault.hint("write a plain number, such as `0.05`")
        }
    }

    /// A number outside its range.
    pub fn number_range(place: &Place, what: &str, found: &str, range: &str) -> Diagnostic {
        Diagnostic::error(
            "number-range",
            place,
            format!("{what} must be {range}, found `{}`", cut(found)),
        )
        .hint("write a number in that range, or leave the key out")
    }

    /// A quantity that cannot be read; `why` comes from the unit parser.
    pub fn bad_quantity(place: &Place, text: &str, why: &str, hint: Option<String>) -> Diagnostic {
        let fault = Diagnostic::error(
            "bad-quantity",
            place,
            format!("cannot read `{}`: {why}", cut(text)),
        );
        fault.hint(hint.unwrap_or_else(|| "write a number and a unit, such as `12 cm`".to_owned()))
    }

    /// A unit that the format does not have, where it is known what is measured.
    pub fn unknown_unit(place: &Place, text: &str, why: &str, units: &str) -> Diagnostic {
        Diagnostic::error(
            "unknown-unit",
            place,
            format!("cannot read `{}`: {why}", cut(text)),
        )
        .hint(format!(
            "use one of the units {units}; convert the value, or leave the claim out"
        ))
    }

    /// A unit of another dimension than the one asked for.
    pub fn wrong_dimension(
        place: &Place,
        text: &str,
        found: &str,
        expected: &str,
        units: &str,
    ) -> Diagnostic {
        Diagnostic::error(
            "wrong-dimension",
            place,
            format!("`{}` is {found}, expected {expected}", cut(text)),
        )
        .hint(format!("use one of the units {units}"))
    }

    /// A span whose ends are swapped.
    pub fn span_reversed(place: &Place, text: &str) -> Diagnostic {
        Diagnostic::error(
            "span-reversed",
            place,
            format!("the ends of `{}` are swapped", cut(text)),
        )
        .hint("write the lower end first")
    }

    /// A span with an open end where both ends are needed.
    pub fn span_open(place: &Place, text: &str) -> Diagnostic {
        Diagnostic::error(
            "span-open",
            place,
            format!("`{}` has an open end", cut(text)),
        )
        .label("both ends are needed here")
        .hint("write the lower and the upper end, such as `18..26 C`")
    }

    /// A date that does not exist or is not a date.
    pub fn bad_date(place: &Place, text: &str, expected: &str) -> Diagnostic {
        Diagnostic::error("bad-date", place, format!("`{}` is not a date", cut(text)))
            .hint(format!("write {expected}; check that the day exists"))
    }

    /// A period that ends before it starts.
    pub fn period_reversed(place: &Place, text: &str) -> Diagnostic {
        Diagnostic::error(
            "period-reversed",
            place,
            format!("the period `{}` ends before it starts", cut(text)),
        )
        .hint("write the earlier date first")
    }

    /// The site's address is not one.
    pub fn bad_address(place: &Place, text: &str) -> Diagnostic {
        Diagnostic::error(
            "bad-address",
            place,
            format!("`{}` is not a web address", cut(text)),
        )
        .hint("write it in full, such as `https://guide.example.org/plants/`")
    }

    /// An address in the content that is neither http, https nor mailto.
    pub fn bad_link(place: &Place, text: &str) -> Diagnostic {
        Diagnostic::error(
            "bad-link",
            place,
            format!("`{}` is not a link that can be shown", cut(text)),
        )
        .hint("links start with `https://`, `http://` or `mailto:`")
    }

    // ---- editions ----------------------------------------------------------------------

    /// An edition that is not in the shape the program writes.
    pub fn bad_edition(place: &Place, why: &str) -> Diagnostic {
        Diagnostic::error("bad-edition", place, format!("this edition cannot be read: {}", cut(why))).hint(
            "editions are written by `pondweigh edition`, never by hand: bring the file back from version control, or delete it",
        )
    }

    /// A file of editions that is not named for a day.
    pub fn edition_name(place: &Place) -> Diagnostic {
        Diagnostic::error("edition-name", place, "an edition is named for its day")
            .hint("such as `2026-03-01.json`; check that the day exists, or move the file out of `content/editions/`")
    }

    /// An edition whose file is named for another day than it says.
    pub fn edition_day(place: &Place, says: &str) -> Diagnostic {
        Diagnostic::error(
            "edition-day",
            place,
            format!("this edition says that its day is `{}`", cut(says)),
        )
        .hint("give the file back the name of that day: others cite it by that day")
    }

    /// An edition whose number does not follow that of the one before.
    pub fn edition_number(place: &Place, number: u32, before: u32) -> Diagnostic {
        Diagnostic::error("edition-number", 
            place,
            format!("edition {number} stands after edition {before}"),
        )
        .hint("numbers rise with the days: two editions were made apart; delete the one that nobody has cited and record it anew")
    }

    /// An edition of a later format.
    pub fn edition_format(place: &Place, format: u32, known: u32) -> Diagnostic {
        Diagnostic::error(
            "edition-format",
            place,
            format!("this edition is of format {format}; formats up to {known} are known here"),
        )
        .hint("it was written by a later pondweigh: use that one")
    }

    // ---- ids and words -----------------------------------------------------------------

    /// An id that names nothing: a source, a trait, a level …
    pub fn unknown_id<'a>(
        place: &Place,
        noun: &str,
        id: &str,
        valid: impl IntoIterator<Item = &'a str>,
    ) -> Diagnostic {
        let fault = Diagnostic::error("unknown-id", place, format!("unknown {noun} `{}`", cut(id)));
        match choices(id, valid, noun) {
            Some(hint) => fault.hint(hint),
            None => fault,
        }
    }

    /// A file that is no picture which pages can show.
    pub fn not_a_picture(place: &Place, file: &str) -> Diagnostic {
        let file_shown = cut(file);
        let fault = Diagnostic::error(
            "not-a-picture",
            place,
            format!("`{file_shown}` is no PNG, JPEG, WebP or AVIF picture"),
        );
        if file.to_lowercase().ends_with(".svg") {
            fault.hint("a drawing in SVG may carry scripts and links: save it as a PNG")
        } else {
            fault.hint("save it again in one of these formats; its ending alone does not change it")
        }
    }

    /// A word that the source's vocabulary and the trait's scale lack.
    pub fn unknown_word<'a>(
        place: &Place,
        word: &str,
        source: &str,
        trait_id: &str,
        valid: impl IntoIterator<Item = &'a str>,
    ) -> Diagnostic {
        let valid: Vec<&str> = valid.into_iter().collect();
        let mut hint = format!("it may use {}", listed(valid.iter().copied(), 24));
        if let Some(near) = nearest(word, valid.iter().copied()) {
            hint = format!("did you mean `{near}`? {hint}");
        }
        Diagnostic::error(
            "unknown-word",
            place,
            format!(
                "`{}` is not a word of source `{source}` for `{trait_id}`",
                cut(word)
            ),
        )
        .hint(format!("{hint}; or add the word to its `vocabulary`"))
    }

    /// One thing declared twice.
    pub fn declared_twice(place: &Place, noun: &str, id: &str) -> Diagnostic {
        Diagnostic::error(
            "declared-twice",
            place,
            format!("{noun} `{}` stands twice", cut(id)),
        )
        .hint("keep one of the two")
    }

    // ---- settings ----------------------------------------------------------------------

    /// A scale of fewer than two levels.
    pub fn short_scale(place: &Place, id: &str) -> Diagnostic {
        Diagnostic::error(
            "short-scale",
            place,
            format!("scale `{id}` needs at least two levels"),
        )
        .hint("add a level, such as `[low, high]`")
    }

    /// A key that needs another one beside it.
    pub fn needs_key(place: &Place, key: &str, other: &str) -> Diagnostic {
        Diagnostic::error(
            "needs-key",
            place,
            format!("`{key}` needs `{other}` beside it"),
        )
        .hint(format!("add `{other}:`, or take `{key}` out"))
    }

    /// A key that has no meaning on this kind of trait.
    pub fn key_not_here(place: &Place, key: &str, why: &str) -> Diagnostic {
        Diagnostic::error(
            "key-not-here",
            place,
            format!("`{key}` has no meaning here: {why}"),
        )
        .hint("take it out")
    }

    /// The number of edges does not fit the scale.
    pub fn edge_count(place: &Place, found: usize, levels: usize) -> Diagnostic {
        Diagnostic::error(
            "edge-count",
            place,
            format!("{} for {levels} levels", counted(found, "edge", "edges")),
        )
        .hint(format!(
            "an edge stands between two levels: write {}",
            levels.saturating_sub(1)
        ))
    }

    /// Edges that do not rise with the levels.
    pub fn edge_order(place: &Place, is_doubling_time: bool) -> Diagnostic {
        Diagnostic::error("edge-order", place, "this edge is out of order").hint(
            if is_doubling_time {
                "doubling times fall as growth quickens: write the slowest (longest) first"
            } else {
                "edges rise with the levels: write the lowest first"
            },
        )
    }

    /// A role that asks for nothing.
    pub fn empty_role(place: &Place, role: &str) -> Diagnostic {
        Diagnostic::error("empty-role", place, format!("role `{role}` has no clause"))
            .hint("give it at least one clause under `mainstay` or `support`")
    }

    /// A clause without exactly one bound.
    pub fn clause_bounds(place: &Place, found: usize, valid: &[&str]) -> Diagnostic {
        Diagnostic::error(
            "clause-bounds",
            place,
            format!("a clause has exactly one bound, found {found}"),
        )
        .hint(format!("keep one of {}", listed(valid.iter().copied(), 8)))
    }

    /// A bound that the trait cannot have.
    pub fn bound_kind(place: &Place, bound: &str, trait_id: &str, valid: &[&str]) -> Diagnostic {
        Diagnostic::error(
            "bound-kind",
            place,
            format!("`{bound}` cannot be asked of trait `{trait_id}`"),
        )
        .hint(format!("use {}", listed(valid.iter().copied(), 8)))
    }

    /// `water.X` on another scale than the trait.
    pub fn off_scale(place: &Place, condition: &str, trait_id: &str) -> Diagnostic {
        Diagnostic::error(
            "off-scale",
            place,
            format!("condition `{condition}` cannot be compared with trait `{trait_id}`"),
        )
        .hint("both must be on one scale, or be spans in one dimension")
    }

    /// A threshold that crosses its neighbour.
    pub fn thresholds_crossed(place: &Place, lower: &str, upper: &str) -> Diagnostic {
        Diagnostic::error(
            "thresholds-crossed",
            place,
            format!("`{lower}` must not be above `{upper}`"),
        )
        .hint("lower it, or raise the other")
    }

    // ---- names -------------------------------------------------------------------------

    /// A name that is no name of one plant.
    pub fn bad_plant_name(place: &Place, name: &str, why: &str) -> Diagnostic {
        Diagnostic::error(
            "bad-plant-name",
            place,
            format!("`{}` cannot name one plant: {why}", cut(name)),
        )
        .hint("write the full name by the codes, such as `Cryptocoryne wendtii 'Mi Oya'`")
    }

    /// The folder is not the one of the plant's genus.
    pub fn genus_folder(place: &Place, genus: &str, folder: &str) -> Diagnostic {
        Diagnostic::error(
            "genus-folder",
            place,
            format!("`{genus}` stands in the folder `{folder}`"),
        )
        .hint(format!(
            "move the file to `content/plants/{}/`",
            genus.to_lowercase()
        ))
    }

    /// An entry under a genus alone, for which claims would be weighed.
    pub fn genus_as_plant(place: &Place, name: &str) -> Diagnostic {
        Diagnostic::error("genus-as-plant", 
            place,
            format!("`{}` is a genus, and would be graded as one plant", cut(name)),
        )
        .label("no species or cultivar is named")
        .hint("a plant needs a full name; put claims on the genus into genus.yaml, and take this entry out if it has no name of its own")
    }

    /// Two entries with one slug.
    pub fn slug_taken(place: &Place, slug: &str, other: &Place) -> Diagnostic {
        Diagnostic::error(
            "slug-taken",
            place,
            format!("another entry has the address `{slug}` too"),
        )
        .hint(format!("the other one is {other}; keep one entry a plant"))
    }

    /// A name that fits nothing in the guide.
    pub fn unknown_name<'a>(
        place: &Place,
        name: &str,
        candidates: impl IntoIterator<Item = &'a str>,
    ) -> Diagnostic {
        let candidates: Vec<&str> = candidates.into_iter().collect();
        let fault = Diagnostic::error(
            "unknown-name",
            place,
            format!("no plant of this guide is called `{}`", cut(name)),
        );
        if candidates.is_empty() {
            fault.hint("add an entry for it, or put the name under `synonyms`, `trade-names` or `known-as` of one")
        } else {
            fault.hint(format!("did you mean {}?", listed(candidates, 5)))
        }
    }

    /// A name that fits several plants.
    pub fn ambiguous_name<'a>(
        place: &Place,
        name: &str,
        fits: impl IntoIterator<Item = &'a str>,
    ) -> Diagnostic {
        Diagnostic::error(
            "ambiguous-name",
            place,
            format!("`{}` fits several plants", cut(name)),
        )
        .hint(format!(
            "write one of {}; or put the name under `loose` in the genus.yaml",
            listed(fits, 8)
        ))
    }

    /// A loose name where one plant is meant.
    pub fn loose_where_plant<'a>(
        place: &Place,
        name: &str,
        fits: impl IntoIterator<Item = &'a str>,
    ) -> Diagnostic {
        Diagnostic::error(
            "loose-where-plant",
            place,
            format!("`{}` is a loose name: one plant is meant here", cut(name)),
        )
        .hint(format!("write one of {}", listed(fits, 8)))
    }

    /// A name said to have been used, which the guide does not know.
    pub fn unknown_as(place: &Place, name: &str, plant: &str) -> Diagnostic {
        Diagnostic::warning("unknown-as", place, format!("the guide does not know the name `{}`", cut(name))).hint(
            format!("if it means {plant} alone, put it under `synonyms`, `trade-names` or `known-as`; if it covers more, under `also` or `loose` in the genus.yaml"),
        )
    }

    /// A name said to have been used, which names another plant.
    pub fn as_another(place: &Place, name: &str, plant: &str) -> Diagnostic {
        Diagnostic::warning("as-another", 
            place,
            format!("`{}` is the name of another plant, {plant}", cut(name)),
        )
        .hint("if the source meant that plant, move the claim there; if it meant several, put the name under `loose` in the genus.yaml")
    }

    /// A regulated plant's near relation.
    pub fn near_listed(place: &Place, name: &str, listed: &str, instrument: &str) -> Diagnostic {
        Diagnostic::warning(
            "near-listed",
            place,
            format!(
                "`{}` is near `{listed}`, which is listed in {instrument}",
                cut(name)
            ),
        )
        .hint("check which plant this is; local law decides")
    }

    // ---- claims ------------------------------------------------------------------------

    /// A claim without exactly one value.
    pub fn claim_values(place: &Place, found: &[&str], valid: &[&str]) -> Diagnostic {
        if found.is_empty() {
            Diagnostic::error("claim-values", place, "this claim says nothing").hint(format!(
                "give it one of {}",
                listed(valid.iter().copied(), 8)
            ))
        } else {
            Diagnostic::error(
                "claim-values",
                place,
                format!(
                    "a claim says one thing, found {}",
                    listed(found.iter().copied(), 8)
                ),
            )
            .hint("make it two claims, or keep one")
        }
    }

    /// A form of claim that the trait does not take.
    pub fn claim_form(place: &Place, form: &str, trait_id: &str, valid: &str) -> Diagnostic {
        Diagnostic::error(
            "claim-form",
            place,
            format!("trait `{trait_id}` does not take `{form}`"),
        )
        .hint(format!("it takes {valid}"))
    }

    /// A key that goes only with other forms of claim.
    pub fn claim_key(place: &Place, key: &str, why: &str) -> Diagnostic {
        Diagnostic::error(
            "claim-key",
            place,
            format!("`{key}` cannot stand in this claim: {why}"),
        )
        .hint("take it out")
    }

    /// A size that is zero or less.
    pub fn size_not_positive(place: &Place, text: &str) -> Diagnostic {
        Diagnostic::error(
            "size-not-positive",
            place,
            format!("a size must be above zero, found `{}`", cut(text)),
        )
        .hint("a plant of size zero cannot grow by a factor; leave the reading out")
    }

    /// A duration that is zero or less.
    pub fn time_not_positive(place: &Place, text: &str) -> Diagnostic {
        Diagnostic::error(
            "time-not-positive",
            place,
            format!("a duration must be above zero, found `{}`", cut(text)),
        )
        .hint("write how long it took, such as `3 weeks`")
    }

    /// Sizes of two dimensions in one claim.
    pub fn mixed_sizes(place: &Place, found: &str, first: &str) -> Diagnostic {
        Diagnostic::error(
            "mixed-sizes",
            place,
            format!("this size is {found}, the first was {first}"),
        )
        .hint("a claim compares sizes of one kind; make it two claims")
    }

    /// General and carbonate hardness in one trait.
    pub fn mixed_hardness(place: &Place, trait_id: &str, kept: &str) -> Diagnostic {
        Diagnostic::error(
            "mixed-hardness",
            place,
            format!("trait `{trait_id}` keeps to `{kept}`: this is the other kind of hardness"),
        )
        .hint("make two traits of it: the two kinds cannot be converted into one another")
    }

    /// A series that is too short.
    pub fn short_series(place: &Place, n: usize) -> Diagnostic {
        Diagnostic::error(
            "short-series",
            place,
            format!("a series needs at least two points, found {n}"),
        )
        .hint("add a point, or use `grew` or `says`")
    }

    /// Two points of a series on one day.
    pub fn equal_days(place: &Place, day: &str) -> Diagnostic {
        Diagnostic::error(
            "equal-days",
            place,
            format!("two points on one day, `{}`", cut(day)),
        )
        .hint("keep one reading a day")
    }

    /// Dates and day numbers in one series.
    pub fn mixed_days(place: &Place) -> Diagnostic {
        Diagnostic::error(
            "mixed-days",
            place,
            "a series has dates or day numbers, not both",
        )
        .hint("write every point with a date, or every point with a day number")
    }

    /// A doubling time that is not that of the rate beside it; rates per day.
    pub fn unlike_time(
        place: &Place,
        source: &str,
        of_time: &str,
        rate: &str,
        other: &Place,
    ) -> Diagnostic {
        Diagnostic::warning("unlike-time", 
            place,
            format!("source `{source}` gives a doubling time and a rate of growth that disagree"),
        )
        .label(format!(
            "this is {of_time} a day, the rate at {other} is {rate} a day"
        ))
        .hint("one of them is a misprint, or they are different quantities: set one aside, or say with `of` or `where` how they differ")
    }

    /// A rate of growth that is far from another by the same source; rates per day.
    pub fn far_rate(
        place: &Place,
        source: &str,
        this: &str,
        rate: &str,
        other: &Place,
    ) -> Diagnostic {
        Diagnostic::warning("far-rate", 
            place,
            format!("source `{source}` gives rates of growth that are far apart"),
        )
        .label(format!(
            "this is {this} a day, that at {other} is {rate} a day"
        ))
        .hint("one of them may be a misprint: check the source and set it aside; if both are right, say with `of`, `where`, `seen` or `tank` how they differ")
    }

    /// Growth that took longer than the period in which it was seen.
    pub fn short_period(place: &Place, over: &str, seen: &str) -> Diagnostic {
        Diagnostic::warning(
            "short-period",
            place,
            "it grew for longer than it was watched",
        )
        .label(format!("{over} of growth, and `seen` spans {seen}"))
        .hint("look at `over` and at both dates of `seen`; it is weighed by `over`")
    }

    /// A figure that hardly any water or plant can have; `known` says what does occur.
    pub fn unlikely_value(place: &Place, found: &str, known: &str) -> Diagnostic {
        Diagnostic::warning(
            "unlikely-value",
            place,
            format!("{found} can hardly be right"),
        )
        .label(known)
        .hint("look at the unit and the decimal point; it is weighed as it stands until you mend it or set it aside")
    }

    /// A source or claim that repeats itself.
    pub fn repeats_itself(place: &Place, id: &str) -> Diagnostic {
        Diagnostic::error(
            "repeats-itself",
            place,
            format!("`{}` cannot repeat itself", cut(id)),
        )
        .hint("name the source it takes this from, or take `repeats` out")
    }

    /// Sources that repeat one another in a ring.
    pub fn ring(place: &Place, ids: &[&str]) -> Diagnostic {
        Diagnostic::warning(
            "ring",
            place,
            format!(
                "these sources repeat one another in a ring: {}",
                listed(ids.iter().copied(), 8)
            ),
        )
        .hint("they count as one voice; if one of them is the original, take its `repeats` out")
    }

    // ---- prose -------------------------------------------------------------------------

    /// A prose template that cannot be used.
    pub fn bad_prose(place: &Place, why: &str, hint: Option<String>) -> Diagnostic {
        let fault = Diagnostic::error("bad-prose", place, format!("cannot read this text: {why}"));
        fault.hint(
            hint.unwrap_or_else(|| "content/README.md shows what a text may quote".to_owned()),
        )
    }

    /// Raw HTML in prose is shown as text.
    pub fn raw_html(place: &Place) -> Diagnostic {
        Diagnostic::warning(
            "raw-html",
            place,
            "HTML in this text is shown as plain text",
        )
        .hint("use Markdown")
    }

    // ---- pages -------------------------------------------------------------------------

    /// Two pages at one address.
    pub fn address_taken(place: &Place, address: &str) -> Diagnostic {
        Diagnostic::error(
            "address-taken",
            place,
            format!("two pages would have the address `{address}`"),
        )
        .hint("change one id or name")
    }

    /// A link to a page that does not exist.
    pub fn dead_link(place: &Place, href: &str) -> Diagnostic {
        Diagnostic::error(
            "dead-link",
            place,
            format!("the link `{}` leads nowhere", cut(href)),
        )
        .hint("links are relative to the page; check the address")
    }

    /// A theme template that fails.
    pub fn bad_template(file: &str, why: &str) -> Diagnostic {
        Diagnostic::error(
            "bad-template",
            &Place::head(file),
            format!("this template fails: {}", why.trim()),
        )
        .hint("the theme is in `themes/`; take your own template out to use the built-in one")
    }

    /// A theme that is not there.
    pub fn unknown_theme(place: &Place, theme: &str) -> Diagnostic {
        Diagnostic::error(
            "unknown-theme",
            place,
            format!("there is no theme `{}`", cut(theme)),
        )
        .hint("put it in `themes/`, or use `stillwater`, which is built in")
    }

    // ---- warnings of daily use ---------------------------------------------------------

    /// A plant of an edition whose page is gone, with nothing in its place.
    pub fn lost_address(place: &Place, slug: &str, name: &str) -> Diagnostic {
        Diagnostic::warning(
            "lost-address",
            place,
            format!("plants/{slug}/ ({name}) can be cited from this edition, and leads nowhere now"),
        )
        .hint(format!("put `{slug}` under `formerly` in the entry that has its place, or say in content/gone/{slug}.yaml what became of it"))
    }

    /// A date that has not come yet.
    pub fn not_yet(place: &Place, key: &str, date: &str) -> Diagnostic {
        Diagnostic::warning(
            "not-yet",
            place,
            format!("`{key}: {date}` has not come yet"),
        )
        .hint("look at the year, the month and the day")
    }

    /// Claims of a source that say neither when nor where it was seen or can be looked up.
    pub fn undated_claims(place: &Place, source: &str, n: usize) -> Diagnostic {
        let title = if n == 1 {
            format!("a claim of source `{source}` says neither when nor where")
        } else {
            format!("{n} claims of source `{source}` say neither when nor where")
        };
        let label = if n == 1 {
            "this claim"
        } else {
            "the first of them"
        };
        Diagnostic::warning("undated-claims", place, title)
            .label(label)
            .hint("say `seen`, `tank` or `at` in each claim; or say in the source when it came out, with `issued`")
    }

    /// A source that no claim, caution or other source names.
    pub fn idle_source(place: &Place, id: &str) -> Diagnostic {
        Diagnostic::warning("idle-source", place, format!("nobody uses source `{id}`"))
            .hint("add a claim that names it, or take the file out")
    }

    /// A claim on a genus of which the guide has one plant alone.
    pub fn loose_for_one(place: &Place, genus: &str, plant: &str) -> Diagnostic {
        Diagnostic::warning(
            "loose-for-one",
            place,
            format!("a loose claim on `{genus}`, of which the guide has one plant"),
        )
        .label(format!("all of it counts for {plant}"))
        .hint("if the source meant that plant, move the claim into its entry, with the source's name under `as`; else add the other plants of the genus")
    }

    /// A plant of whose need of light nobody has spoken, in a role that asks for it.
    pub fn silent_need(place: &Place, trait_id: &str, role: &str, more_roles: usize) -> Diagnostic {
        let and_more = match more_roles {
            0 => String::new(),
            n => format!(", and {} too", counted(n, "more role", "more roles")),
        };
        Diagnostic::warning(
            "silent-need",
            place,
            format!("no claim on `{trait_id}`, which role `{role}` asks for{and_more}"),
        )
        .hint("add a claim on it: until then the guide cannot say whether this plant starves")
    }

    /// A picture that does not say under what licence it may be shown.
    pub fn no_licence(place: &Place, file: &str) -> Diagnostic {
        Diagnostic::warning(
            "no-licence",
            place,
            format!("picture `{}` has no licence", cut(file)),
        )
        .hint("ask who made it, and add `licence`, such as `CC-BY-4.0`, and `credit`")
    }

    /// A planting that still runs, in which no plant is a mainstay of the first role.
    pub fn no_mainstay(place: &Place, role: &str, water: &str) -> Diagnostic {
        Diagnostic::warning(
            "no-mainstay",
            place,
            format!("no plant of this planting is a mainstay of `{role}` in `{water}`"),
        )
        .hint("plant one (the page of the role lists them); or say when the planting ended, with `ended`")
    }

    /// A plant on a list of the guide's places, whose entry has no notice of it.
    pub fn no_notice(place: &Place, instrument: &str) -> Diagnostic {
        Diagnostic::warning(
            "no-notice",
            place,
            "this plant is regulated here, and its entry has no notice",
        )
        .label(format!("listed in {instrument}"))
        .hint("add a caution of `kind: regulated` that says what readers must not do; local law decides")
    }
}

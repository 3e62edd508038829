//! What each kind of fault is, in one sentence: the help of the forms that other programs read.
//!
//! A row a constructor of [`crate::diagnostic::Diagnostic`], sorted; the tests hold them together.

/// Rule and sentence, sorted by rule.
pub const RULES: &[(&str, &str)] = &[
    ("address-taken", "Two pages at one address."),
    ("ambiguous-name", "A name that fits several plants."),
    (
        "anchors-refused",
        "Anchors, aliases and merge keys are refused.",
    ),
    (
        "as-another",
        "A name said to have been used, which names another plant.",
    ),
    ("bad-address", "The site's address is not one."),
    ("bad-date", "A date that does not exist or is not a date."),
    (
        "bad-edition",
        "An edition that is not in the shape the program writes.",
    ),
    ("bad-id", "An id that cannot be an address."),
    (
        "bad-link",
        "An address in the content that is neither http, https nor mailto.",
    ),
    ("bad-number", "A number where something else stands."),
    ("bad-plant-name", "A name that is no name of one plant."),
    ("bad-prose", "A prose template that cannot be used."),
    (
        "bad-quantity",
        "A quantity that cannot be read; `why` comes from the unit parser.",
    ),
    ("bad-template", "A theme template that fails."),
    ("bad-yaml", "A file that is not the YAML we read."),
    ("bound-kind", "A bound that the trait cannot have."),
    (
        "claim-form",
        "A form of claim that the trait does not take.",
    ),
    (
        "claim-key",
        "A key that goes only with other forms of claim.",
    ),
    ("claim-values", "A claim without exactly one value."),
    ("clause-bounds", "A clause without exactly one bound."),
    ("dead-link", "A link to a page that does not exist."),
    ("declared-twice", "One thing declared twice."),
    ("duplicate-key", "A key that stands twice."),
    ("edge-count", "The number of edges does not fit the scale."),
    ("edge-order", "Edges that do not rise with the levels."),
    (
        "edition-day",
        "An edition whose file is named for another day than it says.",
    ),
    ("edition-format", "An edition of a later format."),
    (
        "edition-name",
        "A file of editions that is not named for a day.",
    ),
    (
        "edition-number",
        "An edition whose number does not follow that of the one before.",
    ),
    ("empty-file", "A YAML file without content."),
    ("empty-role", "A role that asks for nothing."),
    ("empty-text", "A text that must not be empty."),
    ("equal-days", "Two points of a series on one day."),
    (
        "far-rate",
        "A rate of growth that is far from another by the same source; rates per day.",
    ),
    (
        "genus-as-plant",
        "An entry under a genus alone, for which claims would be weighed.",
    ),
    (
        "genus-folder",
        "The folder is not the one of the plant's genus.",
    ),
    (
        "idle-source",
        "A source that no claim, caution or other source names.",
    ),
    (
        "key-not-here",
        "A key that has no meaning on this kind of trait.",
    ),
    (
        "link-not-followed",
        "A link in the content, which is not followed.",
    ),
    (
        "loose-for-one",
        "A claim on a genus of which the guide has one plant alone.",
    ),
    (
        "loose-where-plant",
        "A loose name where one plant is meant.",
    ),
    (
        "lost-address",
        "A plant of an edition whose page is gone, with nothing in its place.",
    ),
    (
        "missing-file",
        "A file that a guide must have is not there.",
    ),
    ("missing-key", "A required key is missing."),
    ("mixed-days", "Dates and day numbers in one series."),
    (
        "mixed-hardness",
        "General and carbonate hardness in one trait.",
    ),
    ("mixed-sizes", "Sizes of two dimensions in one claim."),
    ("near-listed", "A regulated plant's near relation."),
    ("needs-key", "A key that needs another one beside it."),
    (
        "no-licence",
        "A picture that does not say under what licence it may be shown.",
    ),
    (
        "no-mainstay",
        "A planting that still runs, in which no plant is a mainstay of the first role.",
    ),
    (
        "no-notice",
        "A plant on a list of the guide's places, whose entry has no notice of it.",
    ),
    (
        "none-of",
        "A folder that must hold at least one file of a kind holds none.",
    ),
    (
        "not-a-picture",
        "A file that is no picture which pages can show.",
    ),
    ("not-utf8", "Bytes that are not UTF-8."),
    ("not-yet", "A date that has not come yet."),
    ("number-range", "A number outside its range."),
    ("off-scale", "`water.X` on another scale than the trait."),
    (
        "over-limit",
        "A file that goes over a limit on nesting, values or text.",
    ),
    ("period-reversed", "A period that ends before it starts."),
    ("raw-html", "Raw HTML in prose is shown as text."),
    ("repeats-itself", "A source or claim that repeats itself."),
    ("ring", "Sources that repeat one another in a ring."),
    (
        "short-period",
        "Growth that took longer than the period in which it was seen.",
    ),
    ("short-scale", "A scale of fewer than two levels."),
    ("short-series", "A series that is too short."),
    (
        "silent-need",
        "A plant of whose need of light nobody has spoken, in a role that asks for it.",
    ),
    ("size-not-positive", "A size that is zero or less."),
    ("slug-taken", "Two entries with one slug."),
    (
        "span-open",
        "A span with an open end where both ends are needed.",
    ),
    ("span-reversed", "A span whose ends are swapped."),
    (
        "stray-file",
        "A data file whose name or place means nothing to the format: what it says would be missing.",
    ),
    ("tab-indent", "Tabs used for indentation."),
    (
        "thresholds-crossed",
        "A threshold that crosses its neighbour.",
    ),
    ("time-not-positive", "A duration that is zero or less."),
    ("too-large", "A file over the size limit."),
    (
        "undated-claims",
        "Claims of a source that say neither when nor where it was seen or can be looked up.",
    ),
    (
        "unknown-as",
        "A name said to have been used, which the guide does not know.",
    ),
    (
        "unknown-id",
        "An id that names nothing: a source, a trait, a level …",
    ),
    ("unknown-key", "A key that the format does not have."),
    ("unknown-name", "A name that fits nothing in the guide."),
    ("unknown-theme", "A theme that is not there."),
    (
        "unknown-unit",
        "A unit that the format does not have, where it is known what is measured.",
    ),
    (
        "unknown-word",
        "A word that the source's vocabulary and the trait's scale lack.",
    ),
    (
        "unlike-time",
        "A doubling time that is not that of the rate beside it; rates per day.",
    ),
    (
        "unlikely-value",
        "A figure that hardly any water or plant can have; `known` says what does occur.",
    ),
    (
        "unprintable",
        "A text with a control character, which no page may hold.",
    ),
    ("unreadable", "A file that could not be read from disk."),
    (
        "unused-file",
        "Any other file that the format does not know.",
    ),
    (
        "wrong-dimension",
        "A unit of another dimension than the one asked for.",
    ),
    ("wrong-shape", "A value of the wrong shape."),
];

/// Place of a rule in [`RULES`].
pub fn rule_index(rule: &str) -> Option<usize> {
    RULES.binary_search_by(|(id, _)| (*id).cmp(rule)).ok()
}

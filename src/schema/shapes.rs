//! The shapes of the content files as types, from which the schemas are derived.
//!
//! A mirror of what `content` reads: the reader keeps places and collects faults, which derived
//! types cannot. `tests/it/schema.rs` holds the two together, key by key. A comment on a field is
//! what an editor shows of it.

// The types are never made: they are there for what is derived from them.
#![allow(dead_code)]

use std::collections::BTreeMap;

use schemars::JsonSchema;

/// A scalar of a file. What may stand in it is put in where it is defined for a guide, in
/// `words.rs`, under the name given here.
macro_rules! scalars {
    ($($(#[$doc:meta])* $name:ident = $id:literal;)*) => {
        $($(#[$doc])*
        #[derive(JsonSchema)]
        #[schemars(rename = $id)]
        pub(crate) struct $name(String);)*
    };
}

scalars! {
    /// Any text that is not empty.
    Text = "text";
    /// A plain number, with a point before its decimals.
    Number = "number";
    /// A number of zero or more.
    Weight = "weight";
    /// A number from 0 to 1.
    Threshold = "threshold";
    /// A day: `2025-04-01`.
    Day = "day";
    /// A year, a month or a day: `2025`, `2025-04` or `2025-04-01`.
    Date = "date";
    /// A year, a month or a day, or two of them joined by `/`.
    Period = "period";
    /// A web address.
    Address = "address";
    /// A link: `https://`, `http://` or `mailto:`.
    Link = "link";
    /// The address of a page: small letters, digits and hyphens.
    Slug = "slug";
    /// The address of a plant's page in this guide.
    PlantSlug = "plant-slug";
    /// A name of a plant that this guide knows.
    PlantName = "plant-name";
    /// A name that a source used, loose or exact.
    UsedName = "used-name";
    /// A genus of this guide, or another.
    GenusName = "genus-name";
    /// The id of a source: the name of its file in `sources/`.
    SourceId = "source-id";
    /// A voice: an id that sources of one person or body share.
    VoiceId = "voice-id";
    /// A kind of source, as in `weights.yaml`.
    SourceKind = "source-kind";
    /// The id of a trait, as in `traits.yaml`.
    TraitId = "trait-id";
    /// The id of a scale, as in `scales.yaml`.
    ScaleId = "scale-id";
    /// The id of a condition, as in `conditions.yaml`.
    ConditionId = "condition-id";
    /// The id of a growth form, as in `forms.yaml`.
    FormId = "form-id";
    /// The id of a role, as in `roles.yaml`.
    RoleId = "role-id";
    /// The id of a water: the name of its file in `waters/`.
    WaterId = "water-id";
    /// A folder in `themes/`, or the built-in theme.
    ThemeId = "theme-id";
    /// A place that has a legal list.
    PlaceName = "place-name";
    /// A file in `pictures/`.
    PictureFile = "picture-file";
    /// A level of a scale: any text without `..`.
    LevelName = "level-name";
    /// A unit of the format.
    UnitName = "unit-name";
    /// A number and a unit.
    Quantity = "quantity";
    /// A size above zero: a length, a mass, an area, a cover or a count.
    Size = "size";
    /// A time above zero.
    Duration = "duration";
    /// A volume.
    Volume = "volume";
    /// A mass.
    Mass = "mass";
    /// A share, in %.
    Share = "share";
    /// A count, a mass, a cover, an area, a length or a volume.
    Amount = "amount";
    /// A size, or a range of sizes.
    Each = "each";
    /// A value with its unit, a range `a..b unit`, or a range open at one end.
    Measured = "measured";
    /// A day, or the number of a day.
    SeriesDay = "series-day";
    /// A level of the trait, or `water.` and a condition on the same scale.
    Limit = "limit";
    /// `water.` and a condition.
    WaterSpan = "water-span";
    /// Conditions, each with its value.
    Stated = "stated";
    /// Conditions, each with a value or a list of values.
    When = "when";
    /// For each trait, words and the level or `a..b` they mean.
    Vocabulary = "vocabulary";
}

/// One, or a list of them.
#[derive(JsonSchema)]
#[schemars(untagged, inline)]
pub(crate) enum Many<T> {
    /// One.
    One(T),
    /// A list.
    List(Vec<T>),
}

/// `guide.yaml`: the guide itself.
#[derive(JsonSchema)]
#[schemars(rename_all = "kebab-case", deny_unknown_fields, title = "The guide")]
pub(crate) struct Guide {
    /// The guide's name.
    title: Text,
    /// Where the site will live; it may have a path.
    address: Address,
    /// Who stands behind the guide.
    publisher: Text,
    /// The licence of the words and data, such as `CC-BY-4.0`.
    licence: Text,
    /// Which theme dresses the pages.
    theme: Option<ThemeId>,
    /// The water that is shown first.
    default_water: WaterId,
    /// Places whose legal lists apply to the guide's readers.
    places: Option<Many<PlaceName>>,
    /// Where observation slips are sent.
    contact: Option<Text>,
    /// A sentence for the foot of every page.
    notice: Option<Text>,
}

/// `scales.yaml`: each scale with its levels, lowest first.
#[derive(JsonSchema)]
#[schemars(transparent, title = "Scales")]
pub(crate) struct Scales(BTreeMap<String, Scale>);

/// A scale: a list of two or more levels, lowest first; or `levels` with a sentence for each.
#[derive(JsonSchema)]
#[schemars(rename = "scale", untagged)]
pub(crate) enum Scale {
    /// The levels, lowest first.
    Levels(#[schemars(length(min = 2))] Vec<LevelName>),
    /// The levels with a plain sentence for each.
    Explained(ExplainedScale),
}

/// Levels with a plain sentence for each.
#[derive(JsonSchema)]
#[schemars(rename = "explained-scale", deny_unknown_fields)]
pub(crate) struct ExplainedScale {
    /// The levels, lowest first.
    #[schemars(length(min = 2))]
    levels: Vec<LevelName>,
    /// A sentence for a beginner, for each level.
    plain: Option<BTreeMap<String, Text>>,
}

/// `conditions.yaml`: what can be said of a water, and of the circumstances of a claim.
#[derive(JsonSchema)]
#[schemars(transparent, title = "Conditions")]
pub(crate) struct Conditions(BTreeMap<String, Condition>);

/// A condition: on a scale, among words, or a span in a unit; exactly one of the three.
#[derive(JsonSchema)]
#[schemars(rename = "condition", deny_unknown_fields)]
pub(crate) struct Condition {
    /// Its name on the page.
    title: Option<Text>,
    /// Its values are the levels of this scale.
    scale: Option<ScaleId>,
    /// Its values are these words.
    words: Option<Many<Text>>,
    /// Its values are spans in this unit.
    span: Option<UnitName>,
}

/// `traits.yaml`: what is graded.
#[derive(JsonSchema)]
#[schemars(transparent, title = "Traits")]
pub(crate) struct Traits(BTreeMap<String, Trait>);

/// A trait: on a scale, or a span.
#[derive(JsonSchema)]
#[schemars(rename = "trait", rename_all = "kebab-case", deny_unknown_fields)]
pub(crate) struct Trait {
    /// Its name on the page.
    title: Option<Text>,
    /// The levels it is graded on.
    scale: Option<ScaleId>,
    /// `span`, instead of a scale: a lower and an upper end.
    kind: Option<TraitKind>,
    /// What a measured claim holds.
    measure: Option<Measure>,
    /// Where one level ends and the next begins, lowest first: one value fewer than levels. For
    /// growth they are doubling times, slowest first.
    edges: Option<Vec<Quantity>>,
    /// The least uncertainty of a measured value, in the unit of the measure; per day for growth.
    floor: Option<Weight>,
    /// `lowest`: the trait is a need, and a span counts at its lower end.
    spans: Option<Spans>,
    /// Conditions that change the answer.
    depends_on: Option<Many<ConditionId>>,
}

/// What a trait is, if not on a scale.
#[derive(JsonSchema)]
#[schemars(rename = "trait-kind", rename_all = "kebab-case")]
pub(crate) enum TraitKind {
    /// A lower and an upper end.
    Span,
}

/// What a measured claim holds.
#[derive(JsonSchema)]
#[schemars(rename = "measure", rename_all = "kebab-case")]
pub(crate) enum Measure {
    /// Growth: sizes and times.
    RelativeGrowthRate,
    /// A length.
    Length,
    /// A mass.
    Mass,
    /// Light, in µmol m⁻² s⁻¹.
    Light,
    /// A temperature.
    Temperature,
    /// General or carbonate hardness.
    Hardness,
    /// Conductivity.
    Conductivity,
    /// A number of things.
    Count,
    /// A share, in %.
    Share,
}

/// How spans count.
#[derive(JsonSchema)]
#[schemars(rename = "spans", rename_all = "kebab-case")]
pub(crate) enum Spans {
    /// At their lower end.
    Lowest,
}

/// `forms.yaml`: growth forms.
#[derive(JsonSchema)]
#[schemars(transparent, title = "Growth forms")]
pub(crate) struct Forms(BTreeMap<String, Form>);

/// A growth form.
#[derive(JsonSchema)]
#[schemars(rename = "form", deny_unknown_fields)]
pub(crate) struct Form {
    /// Its name on the page.
    title: Option<Text>,
    /// One plain sentence.
    plain: Option<Text>,
}

/// `roles.yaml`: the jobs a plant can have, in order of importance to readers.
#[derive(JsonSchema)]
#[schemars(transparent, title = "Roles")]
pub(crate) struct Roles(BTreeMap<String, Role>);

/// Clauses that stand before those of every role.
#[derive(JsonSchema)]
#[schemars(rename = "every-role", deny_unknown_fields)]
pub(crate) struct EveryRole {
    /// Any one met: wrong for this water, in every role.
    unsuited: Option<Vec<Clause>>,
}

/// A job, with clauses that are tested for each plant in each water.
#[derive(JsonSchema)]
#[schemars(rename = "role", deny_unknown_fields)]
pub(crate) struct Role {
    /// Its name on the page.
    title: Text,
    /// The question it answers.
    asks: Option<Text>,
    /// Plants of other forms have no standing here; without it, all have.
    forms: Option<Many<FormId>>,
    /// Any one met: wrong for this water.
    unsuited: Option<Vec<Clause>>,
    /// All met: a mainstay.
    mainstay: Option<Vec<Clause>>,
    /// All met: a support.
    support: Option<Vec<Clause>>,
}

/// A clause: a trait and exactly one bound.
#[derive(JsonSchema)]
#[schemars(rename = "clause", rename_all = "kebab-case", deny_unknown_fields)]
pub(crate) struct Clause {
    /// The trait it asks about.
    r#trait: TraitId,
    /// Met at this level and above.
    at_least: Option<Limit>,
    /// Met at this level and below.
    at_most: Option<Limit>,
    /// Met above this level.
    above: Option<Limit>,
    /// Met below this level.
    below: Option<Limit>,
    /// Met where the plant's span holds the water's.
    covers: Option<WaterSpan>,
    /// Met where the plant's span does not hold the water's.
    outside: Option<WaterSpan>,
    /// Asked only of plants of these forms.
    form: Option<Many<FormId>>,
    /// Asked only in such waters.
    when: Option<When>,
    /// The reason, as the page shows it.
    because: Option<Text>,
}

/// `weights.yaml`: the policy numbers of the method. What is left out keeps its default.
#[derive(JsonSchema)]
#[schemars(rename_all = "kebab-case", deny_unknown_fields, title = "Weights")]
pub(crate) struct Weights {
    /// The weight of a claim by its kind; the keys are the kinds a source may have.
    kinds: Option<BTreeMap<String, Weight>>,
    /// Kinds that report what others saw: voices that speak in these alone are weighed together.
    second_hand: Option<Many<SourceKind>>,
    /// The most that second-hand voices weigh together.
    second_hand_cap: Option<Weight>,
    /// The weight of one more observation, where the guide says what would change a standing.
    further_note: Option<Weight>,
    /// Factor for a claim under a loose name.
    loose_name: Option<Weight>,
    /// Factor for a condition that the claim does not state.
    unstated: Option<Weight>,
    /// Factor for each step between the claim's level and the water's.
    per_step: Option<Weight>,
    /// Factor for a word that differs, or spans that do not meet.
    mismatch: Option<Weight>,
    /// Standard error of a measured value without one, as a share of it.
    measurement_error: Option<Weight>,
    /// From where evidence is medium or robust.
    evidence: Option<Evidence>,
    /// Least consensus for agreement that is high or medium.
    agreement: Option<Grades>,
    /// Least overlap for agreement of spans that is high or medium.
    span_agreement: Option<Grades>,
    /// Scores at which a clause is met or failed.
    decision: Option<Decision>,
}

/// From where evidence is medium or robust; both numbers are reached, or the grade is lower.
#[derive(JsonSchema)]
#[schemars(rename = "evidence", deny_unknown_fields)]
pub(crate) struct Evidence {
    /// Robust evidence.
    robust: Option<EvidenceRow>,
    /// Medium evidence.
    medium: Option<EvidenceRow>,
}

/// The least weight, and the least number of effective voices.
#[derive(JsonSchema)]
#[schemars(rename = "evidence-row", deny_unknown_fields)]
pub(crate) struct EvidenceRow {
    /// Least weight.
    weight: Option<Weight>,
    /// Least effective voices.
    voices: Option<Weight>,
}

/// From where agreement is high, and from where it is medium.
#[derive(JsonSchema)]
#[schemars(rename = "grades", deny_unknown_fields)]
pub(crate) struct Grades {
    /// From here it is high.
    high: Option<Threshold>,
    /// From here it is medium.
    medium: Option<Threshold>,
}

/// The scores at which a clause is decided.
#[derive(JsonSchema)]
#[schemars(rename = "decision", deny_unknown_fields)]
pub(crate) struct Decision {
    /// From here a clause is met.
    met: Option<Threshold>,
    /// Up to here a clause is failed.
    failed: Option<Threshold>,
}

/// `regulated.yaml`: legal lists. They inform; local law decides.
#[derive(JsonSchema)]
#[schemars(transparent, title = "Legal lists")]
pub(crate) struct Regulated(Vec<Listing>);

/// A row of a legal list.
#[derive(JsonSchema)]
#[schemars(rename = "listing", rename_all = "kebab-case", deny_unknown_fields)]
pub(crate) struct Listing {
    /// The name as the list has it.
    listed_as: Text,
    /// Which plants it touches: all of a genus, or a species with all below it.
    covers: Covers,
    /// Where it holds; compared with the `places` of `guide.yaml`.
    place: PlaceName,
    /// The act, order or regulation.
    instrument: Text,
    /// The date of the list.
    date: Option<Date>,
    /// Where to read it.
    link: Option<Link>,
}

/// All of a genus, or a species with all below it, under any synonym.
#[derive(JsonSchema)]
#[schemars(rename = "covers", deny_unknown_fields)]
pub(crate) struct Covers {
    /// All of this genus.
    genus: Option<GenusName>,
    /// This species, and all below it.
    taxon: Option<PlantName>,
}

/// A file in `waters/`: a kind of tank or pond.
#[derive(JsonSchema)]
#[schemars(
    rename_all = "kebab-case",
    deny_unknown_fields,
    title = "A kind of tank or pond"
)]
pub(crate) struct Water {
    /// Its name on the page.
    title: Text,
    /// How a beginner knows it.
    tell_by: Option<Many<Text>>,
    /// What is so in this water; a condition that is not stated is not compared.
    conditions: Stated,
}

/// A file in `sources/`: who said it; may carry claims on many plants.
#[derive(JsonSchema)]
#[schemars(rename_all = "kebab-case", deny_unknown_fields, title = "A source")]
pub(crate) struct Source {
    /// What the source is called.
    title: Text,
    /// What it is; sets the weight of its claims.
    kind: SourceKind,
    /// Who wrote it.
    authors: Option<Vec<Author>>,
    /// Who published it.
    publisher: Option<Text>,
    /// The journal, book or series it stands in.
    container: Option<Text>,
    /// Volume.
    volume: Option<Text>,
    /// Issue.
    issue: Option<Text>,
    /// Pages.
    pages: Option<Text>,
    /// When it came out.
    issued: Option<Date>,
    /// Where it can be read.
    url: Option<Link>,
    /// When the address was read.
    accessed: Option<Day>,
    /// Digital object identifier.
    doi: Option<Text>,
    /// International standard book number.
    isbn: Option<Text>,
    /// Sources of one person or body share a voice, and count once.
    voice: Option<VoiceId>,
    /// What this source says is taken from there, and is not a second witness.
    repeats: Option<Many<SourceId>>,
    /// How to name a person who would rather not be named.
    shown_as: Option<Text>,
    /// What this source's own words mean on the scales.
    vocabulary: Option<Vocabulary>,
    /// What it says; each claim names its plant.
    claims: Option<Vec<Claim>>,
}

/// An author.
#[derive(JsonSchema)]
#[schemars(rename = "author", deny_unknown_fields)]
pub(crate) struct Author {
    /// Family name.
    family: Text,
    /// Given names.
    given: Option<Text>,
}

/// One statement by one source about one trait. Exactly one of `says`, `rgr`, `doubles-in`,
/// `grew`, `trimmed`, `series` and `measures`.
#[derive(JsonSchema)]
#[schemars(rename = "claim", rename_all = "kebab-case", deny_unknown_fields)]
pub(crate) struct Claim {
    /// Which plant it is about: any name that the guide knows.
    plant: Option<PlantName>,
    /// Who says it.
    source: Option<SourceId>,
    /// What it is about.
    r#trait: TraitId,
    /// A grade in words: the source's own word, a level, or a span `a..b`.
    says: Option<Text>,
    /// Relative growth rate, per day.
    rgr: Option<Number>,
    /// How long it takes to double.
    doubles_in: Option<Duration>,
    /// Growth between two looks.
    grew: Option<Grew>,
    /// How often it is cut back, and how much is left.
    trimmed: Option<Trimmed>,
    /// Repeated looks at one planting: two or more pairs of day and size.
    #[schemars(length(min = 2))]
    series: Option<Vec<(SeriesDay, Size)>>,
    /// A measured value, a range, or a range open at one end.
    measures: Option<Measured>,
    /// The name that the source used; a loose one makes the claim count for less.
    r#as: Option<UsedName>,
    /// Where in the source: page, table, row.
    at: Option<Text>,
    /// When it was seen.
    seen: Option<Period>,
    /// The circumstances; compared with those of a water.
    r#where: Option<Stated>,
    /// Where this claim is of another kind than its source.
    kind: Option<SourceKind>,
    /// Where this one claim is taken from another source.
    repeats: Option<SourceId>,
    /// The value is a bound; it speaks of the rate, not of the time to double.
    bound: Option<ValueBound>,
    /// What grew; with `rgr`, `doubles-in` or `trimmed`.
    of: Option<SizeMeasure>,
    /// Standard error, in the unit of the value; with `rgr` or a single `measures`.
    se: Option<Weight>,
    /// A settling plant is still changing over: the claim is shown and not weighed.
    stage: Option<Stage>,
    /// Why the claim is shown and not weighed.
    set_aside: Option<Text>,
    /// In which tank.
    tank: Option<Text>,
    /// A picture that shows it.
    picture: Option<PictureFile>,
    /// The source's own words.
    quote: Option<Text>,
    /// The club's remark.
    remark: Option<Text>,
}

/// Two sizes of one kind, and the time between.
#[derive(JsonSchema)]
#[schemars(rename = "grew", deny_unknown_fields)]
pub(crate) struct Grew {
    /// The first size.
    from: Size,
    /// The second size.
    to: Size,
    /// The time between.
    over: Duration,
}

/// Cut back at intervals.
#[derive(JsonSchema)]
#[schemars(rename = "trimmed", deny_unknown_fields)]
pub(crate) struct Trimmed {
    /// How often.
    every: Duration,
    /// The share that is left, between 0 and 1; 0.5 unless given.
    leaving: Option<Leaving>,
}

/// A share between 0 and 1, neither of them.
#[derive(JsonSchema)]
#[schemars(rename = "leaving")]
pub(crate) struct Leaving(String);

/// Whether a value is the least or the most.
#[derive(JsonSchema)]
#[schemars(rename = "bound", rename_all = "kebab-case")]
pub(crate) enum ValueBound {
    /// The value or more.
    AtLeast,
    /// The value or less.
    AtMost,
}

/// What a size is a size of.
#[derive(JsonSchema)]
#[schemars(rename = "size-measure", rename_all = "kebab-case")]
pub(crate) enum SizeMeasure {
    /// Lengths.
    Length,
    /// Masses.
    Mass,
    /// Areas and covers.
    Area,
    /// Counts.
    Count,
}

/// Whether the plant had settled.
#[derive(JsonSchema)]
#[schemars(rename = "stage", rename_all = "kebab-case")]
pub(crate) enum Stage {
    /// Still changing over.
    Settling,
    /// Settled.
    Settled,
}

/// `genus.yaml`: the loose names of a genus, and the claims that name no plant exactly.
#[derive(JsonSchema)]
#[schemars(
    rename_all = "kebab-case",
    deny_unknown_fields,
    title = "A genus and its loose names"
)]
pub(crate) struct Genus {
    /// The genus alone.
    loose_name: Text,
    /// What else the genus is called.
    also: Option<Many<Text>>,
    /// Names that cover some of its plants.
    loose: Option<Vec<LooseName>>,
    /// Each counts, at the loose weight, for every plant that the name in `as` covers.
    claims: Option<Vec<Claim>>,
}

/// A name that covers some plants of the genus.
#[derive(JsonSchema)]
#[schemars(rename = "loose-name", deny_unknown_fields)]
pub(crate) struct LooseName {
    /// The name.
    name: Text,
    /// The full names of the plants it covers.
    covers: Many<PlantName>,
}

/// A file in `plants/<genus>/`: one plant.
#[derive(JsonSchema)]
#[schemars(rename_all = "kebab-case", deny_unknown_fields, title = "A plant")]
pub(crate) struct Plant {
    /// The full name; its genus is the name of the folder.
    name: Text,
    /// Names in everyday language.
    known_as: Option<Many<Text>>,
    /// Other botanical names.
    synonyms: Option<Many<Text>>,
    /// Names it is sold under.
    trade_names: Option<Many<Text>>,
    /// Page addresses that it has had.
    formerly: Option<Many<Slug>>,
    /// How it grows.
    form: Many<FormId>,
    /// Who named the plant, when, and by which work.
    determined: Option<Determined>,
    /// One or two sentences of the club's own.
    summary: Option<Text>,
    /// Free prose in Markdown; may quote results such as `{{ growth.level }}`.
    story: Option<Text>,
    /// Pictures of it.
    pictures: Option<Vec<Picture>>,
    /// What readers should be warned of.
    cautions: Option<Vec<Caution>>,
    /// What sources say of it.
    claims: Option<Vec<Claim>>,
}

/// Who named the plant, when, and by which work.
#[derive(JsonSchema)]
#[schemars(rename = "determined", deny_unknown_fields)]
pub(crate) struct Determined {
    /// By whom.
    by: Option<Text>,
    /// On which day.
    on: Option<Day>,
    /// Following which work.
    following: Option<Text>,
}

/// A picture of the plant.
#[derive(JsonSchema)]
#[schemars(rename = "picture", deny_unknown_fields)]
pub(crate) struct Picture {
    /// The file in `pictures/`: PNG, JPEG, WebP or AVIF.
    file: PictureFile,
    /// The picture in words, for those who do not see it.
    alt: Text,
    /// Who made it.
    credit: Option<Text>,
    /// Under what licence it may be shown, such as `CC-BY-4.0`.
    licence: Option<Text>,
}

/// A caution.
#[derive(JsonSchema)]
#[schemars(rename = "caution", deny_unknown_fields)]
pub(crate) struct Caution {
    /// What it is about.
    kind: CautionKind,
    /// What readers should know.
    text: Text,
    /// Who says so.
    source: Option<SourceId>,
}

/// What a caution is about.
#[derive(JsonSchema)]
#[schemars(rename = "caution-kind", rename_all = "kebab-case")]
pub(crate) enum CautionKind {
    /// Law.
    Regulated,
    /// People, pets, animals.
    Hazard,
    /// What goes wrong in the tank.
    Handling,
}

/// A file in `rosters/`: a real planting, each plant with its job.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, title = "A planting")]
pub(crate) struct Roster {
    /// Its name on the page.
    title: Option<Text>,
    /// Which kind of tank or pond it is.
    water: Option<WaterId>,
    /// How much water it holds.
    volume: Option<Volume>,
    /// Its first day.
    started: Option<Day>,
    /// Its last day.
    ended: Option<Day>,
    /// The animals in it.
    keeps: Option<Text>,
    /// The feed of a day.
    feeds: Option<Feeds>,
    /// Its plants, each with its job.
    plants: Option<Vec<RosterPlant>>,
    /// What tests of the water showed.
    readings: Option<Vec<Reading>>,
    /// How it went.
    went: Option<Text>,
}

/// The feed of a day.
#[derive(JsonSchema)]
#[schemars(rename = "feeds", deny_unknown_fields)]
pub(crate) struct Feeds {
    /// How much a day.
    amount: Mass,
    /// The share of protein in it.
    protein: Option<Share>,
}

/// A plant of a planting.
#[derive(JsonSchema)]
#[schemars(rename = "roster-plant", deny_unknown_fields)]
pub(crate) struct RosterPlant {
    /// Which plant.
    plant: PlantName,
    /// What it is there for.
    job: Option<RoleId>,
    /// How many, or how much.
    amount: Option<Amount>,
    /// How large each is.
    each: Option<Each>,
}

/// What a test of the water showed on one day: substances, each with its value.
#[derive(JsonSchema)]
#[schemars(rename = "reading")]
pub(crate) struct Reading {
    /// The day.
    on: Day,
    /// Ammonium, such as `0 mg/l`.
    ammonium: Option<Quantity>,
    /// Nitrate, such as `10 mg/l`.
    nitrate: Option<Quantity>,
}

/// A file in `gone/`: an entry that was removed. Its name is the address that the entry had.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, title = "An entry that was removed")]
pub(crate) struct Gone {
    /// The name it had.
    name: Option<Text>,
    /// When it was removed.
    on: Option<Day>,
    /// Why.
    because: Option<Text>,
    /// Page addresses of what stands in its place.
    instead: Option<Many<PlantSlug>>,
}

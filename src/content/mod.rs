//! The guide as the rest of the program sees it: settings, sources, plants, claims as written.
//!
//! Everything here is checked as far as one file, and the settings it leans on, allow; names of
//! plants and words of sources are resolved later.

pub mod disk;

pub(crate) mod yaml;

pub(crate) mod scalar;

mod fields;

mod settings;

mod clauses;

mod policy;

mod claim;

mod entries;

mod read;

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::diagnostic::{Place, Placed};
use crate::quantity::{Dimension, Quantity, Span, Unit};

pub(crate) use claim::VALUES;
pub(crate) use fields::{day, is_after};
pub use fields::{is_day_or_period, is_id};
pub(crate) use read::{AsRead, Item, Leaf, as_read, genus_folders, leaf, source_ids};
pub use read::{Input, read};
pub use settings::condition_value;
pub use settings::{base as base_value, own_unit as own_value, same_hardness as fits_hardness};

/// A whole guide, as read.
#[derive(Debug, Clone)]
pub struct Guide {
    /// `guide.yaml`.
    pub about: About,
    /// `scales.yaml`, sorted by id.
    pub scales: Vec<Scale>,
    /// `conditions.yaml`, sorted by id.
    pub conditions: Vec<Condition>,
    /// `traits.yaml`, sorted by id.
    pub traits: Vec<Trait>,
    /// `forms.yaml`, in written order.
    pub forms: Vec<Form>,
    /// The clauses that stand before each role's own.
    pub every_role: Vec<Clause>,
    /// `roles.yaml`, in written order.
    pub roles: Vec<Role>,
    /// `weights.yaml`.
    pub weights: Weights,
    /// `regulated.yaml`, in written order.
    pub regulated: Vec<Listing>,
    /// `waters/`, sorted by id.
    pub waters: Vec<Water>,
    /// `sources/`, sorted by id.
    pub sources: Vec<Source>,
    /// Texts of entries and genera that could not be read, in which names of plants may stand.
    pub unread_entries: Vec<String>,
    /// Folders of `plants/`, sorted; with or without a `genus.yaml`.
    pub genera: Vec<Genus>,
    /// Plant entries, sorted by file.
    pub plants: Vec<Plant>,
    /// `gone/`, sorted by slug.
    pub gone: Vec<Gone>,
    /// `rosters/`, sorted by id.
    pub rosters: Vec<Roster>,
    /// `pages/`, sorted by id.
    pub pages: Vec<FreePage>,
    /// Files of `pictures/`, sorted.
    pub pictures: Vec<String>,
}

/// `guide.yaml`.
#[derive(Debug, Clone)]
pub struct About {
    /// Title of the guide.
    pub title: String,
    /// Where the site will live; ends with `/`.
    pub address: String,
    /// Who publishes it.
    pub publisher: String,
    /// Licence of its text and data.
    pub licence: String,
    /// Theme folder.
    pub theme: Placed<String>,
    /// Index of the default water in [`Guide::waters`].
    pub default_water: usize,
    /// Places whose legal lists apply to its readers.
    pub places: Vec<String>,
    /// Where slips go.
    pub contact: Option<String>,
    /// A sentence that every page says.
    pub notice: Option<String>,
}

/// An ordinal scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// Id.
    pub id: String,
    /// Levels, lowest first; at least two.
    pub levels: Vec<Level>,
}

impl Scale {
    /// Position of a level by name, case-folded.
    pub fn position(&self, name: &str) -> Option<usize> {
        let folded = name.trim().to_lowercase();
        self.levels
            .iter()
            .position(|level| level.id.to_lowercase() == folded)
    }
}

/// One step of a scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Name.
    pub id: String,
    /// A plain sentence for beginners.
    pub plain: Option<String>,
}

/// Something that can be said of a water, and of the circumstances of a claim.
#[derive(Debug, Clone)]
pub struct Condition {
    /// Id.
    pub id: String,
    /// On screen.
    pub title: String,
    /// What values it takes.
    pub kind: ConditionKind,
}

/// What values a condition takes.
#[derive(Debug, Clone)]
pub enum ConditionKind {
    /// A level of the scale at this index.
    Scale(usize),
    /// One of these words.
    Words(Vec<String>),
    /// A span in this unit.
    Span(Unit),
}

/// The value of a condition.
#[derive(Debug, Clone, PartialEq)]
pub enum ConditionValue {
    /// Position on the condition's scale.
    Level(usize),
    /// One of the condition's words, as declared.
    Word(String),
    /// A span in the base unit of its dimension; a single value has no width.
    Span {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
}

/// What is graded.
#[derive(Debug, Clone)]
pub struct Trait {
    /// Id.
    pub id: String,
    /// On screen.
    pub title: String,
    /// Scale or span.
    pub kind: TraitKind,
    /// Conditions (indices) that the trait depends on.
    pub depends_on: Vec<usize>,
}

/// How a trait is graded.
#[derive(Debug, Clone)]
pub enum TraitKind {
    /// On an ordinal scale.
    Scale(ScaleTrait),
    /// As a span of a quantity.
    Span(Measure),
}

impl TraitKind {
    /// Dimensions in which `measures` may be written; none where the trait does not take it.
    pub(crate) fn dimensions(&self) -> &'static [Dimension] {
        let measure = match self {
            TraitKind::Scale(on) => on.measure,
            TraitKind::Span(measure) => Some(*measure),
        };
        match measure {
            None | Some(Measure::RelativeGrowthRate) => &[],
            Some(measure) => measure.dimensions(),
        }
    }
}

/// A trait on an ordinal scale.
#[derive(Debug, Clone)]
pub struct ScaleTrait {
    /// Index in [`Guide::scales`].
    pub scale: usize,
    /// Number of levels, K ≥ 2.
    pub levels: usize,
    /// What measured claims are in, if the trait takes any.
    pub measure: Option<Measure>,
    /// K − 1 edges between the levels, rising, in the measure's own unit (growth: d⁻¹).
    pub edges: Vec<f64>,
    /// Unit in which the edges were written; values are compared in it.
    pub unit: Option<Unit>,
    /// Least standard error, in the measure's own unit.
    pub floor: f64,
    /// A need: a span counts at its lower end.
    pub is_need: bool,
}

/// What a trait's measured claims are in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// d⁻¹, from sizes and times.
    RelativeGrowthRate,
    /// cm.
    Length,
    /// g.
    Mass,
    /// µmol m⁻² s⁻¹.
    Light,
    /// °C.
    Temperature,
    /// Degrees, general or carbonate.
    Hardness,
    /// µS/cm.
    Conductivity,
    /// A number of things.
    Count,
    /// Percent.
    Share,
}

impl Measure {
    /// All measures with the names of the format.
    pub const ALL: &[(&str, Measure)] = &[
        ("relative-growth-rate", Measure::RelativeGrowthRate),
        ("length", Measure::Length),
        ("mass", Measure::Mass),
        ("light", Measure::Light),
        ("temperature", Measure::Temperature),
        ("hardness", Measure::Hardness),
        ("conductivity", Measure::Conductivity),
        ("count", Measure::Count),
        ("share", Measure::Share),
    ];

    /// The name of the format.
    pub fn id(self) -> &'static str {
        Measure::ALL
            .iter()
            .find(|(_, measure)| *measure == self)
            .map_or("", |(id, _)| id)
    }

    /// Dimensions in which its values may be written.
    pub fn dimensions(self) -> &'static [Dimension] {
        match self {
            Measure::RelativeGrowthRate => &[Dimension::Time],
            Measure::Length => &[Dimension::Length],
            Measure::Mass => &[Dimension::Mass],
            Measure::Light => &[Dimension::Light],
            Measure::Temperature => &[Dimension::Temperature],
            Measure::Hardness => &[
                Dimension::GeneralHardness,
                Dimension::CarbonateHardness,
                Dimension::Concentration,
            ],
            Measure::Conductivity => &[Dimension::Conductivity],
            Measure::Count => &[Dimension::Count],
            Measure::Share => &[Dimension::Percent],
        }
    }
}

/// A growth form.
#[derive(Debug, Clone)]
pub struct Form {
    /// Id.
    pub id: String,
    /// On screen.
    pub title: String,
    /// A plain sentence.
    pub plain: Option<String>,
}

/// A job.
#[derive(Debug, Clone)]
pub struct Role {
    /// Id.
    pub id: String,
    /// On screen.
    pub title: String,
    /// The question it answers.
    pub asks: Option<String>,
    /// Forms that have a standing in it; `None`: all.
    pub forms: Option<Vec<String>>,
    /// Clauses that rule a plant out, without those of every role.
    pub unsuited: Vec<Clause>,
    /// Clauses for a mainstay.
    pub mainstay: Vec<Clause>,
    /// Clauses for a support.
    pub support: Vec<Clause>,
}

/// One requirement of a role.
#[derive(Debug, Clone)]
pub struct Clause {
    /// Index in [`Guide::traits`].
    pub trait_index: usize,
    /// What is asked.
    pub bound: Bound,
    /// Limited to plants of these forms.
    pub forms: Option<Vec<String>>,
    /// Limited to waters with one of these values for each condition (index).
    pub when: Vec<(usize, Vec<ConditionValue>)>,
    /// The club's reason.
    pub because: Option<String>,
    /// Where the clause stands.
    pub place: Place,
}

/// What a clause asks of a trait.
#[derive(Debug, Clone, PartialEq)]
pub enum Bound {
    /// At this level or above.
    AtLeast(Limit),
    /// At this level or below.
    AtMost(Limit),
    /// Above this level.
    Above(Limit),
    /// Below this level.
    Below(Limit),
    /// The plant's span contains the water's (condition index).
    Covers(usize),
    /// The plant's span does not contain the water's (condition index).
    Outside(usize),
}

/// The level a bound compares with.
#[derive(Debug, Clone, PartialEq)]
pub enum Limit {
    /// Position on the trait's scale.
    Level(usize),
    /// What the water states for this condition (index).
    Water(usize),
}

/// The policy numbers of the weighing.
#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    /// Weight of each kind of source.
    pub kinds: BTreeMap<String, f64>,
    /// Kinds that report what others saw.
    pub second_hand: Vec<String>,
    /// Most that second-hand voices weigh together.
    pub second_hand_cap: f64,
    /// Weight of one further voice.
    pub further_note: f64,
    /// Factor of a claim under a loose name.
    pub loose_name: f64,
    /// Factor of a claim that is silent on a condition.
    pub unstated: f64,
    /// Factor for each step apart on a scale.
    pub per_step: f64,
    /// Factor where words or spans differ.
    pub mismatch: f64,
    /// Relative standard error of a measured value that states none.
    pub measurement_error: f64,
    /// Thresholds for robust evidence.
    pub robust: EvidenceRow,
    /// Thresholds for medium evidence.
    pub medium: EvidenceRow,
    /// Consensus from which agreement is high, and medium.
    pub agreement: (f64, f64),
    /// Overlap from which agreement of spans is high, and medium.
    pub span_agreement: (f64, f64),
    /// P from which a clause is met.
    pub met: f64,
    /// P up to which a clause is failed.
    pub failed: f64,
}

/// Thresholds of one grade of evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EvidenceRow {
    /// Least weight.
    pub weight: f64,
    /// Least effective voices.
    pub voices: f64,
}

/// One row of a legal list.
#[derive(Debug, Clone)]
pub struct Listing {
    /// The name as the list has it.
    pub listed_as: String,
    /// What it covers.
    pub covers: Covers,
    /// The country or union.
    pub place: String,
    /// The law.
    pub instrument: String,
    /// Since when.
    pub date: Option<String>,
    /// Where to read it.
    pub link: Option<String>,
    /// Where the row stands.
    pub at: Place,
}

/// What a legal listing covers.
#[derive(Debug, Clone, PartialEq)]
pub enum Covers {
    /// All of a genus.
    Genus(String),
    /// A taxon and all below it.
    Taxon(String),
}

/// A kind of place plants are kept.
#[derive(Debug, Clone)]
pub struct Water {
    /// Id.
    pub id: String,
    /// On screen.
    pub title: String,
    /// How a beginner knows it.
    pub tell_by: Vec<String>,
    /// What it states, by condition index.
    pub conditions: BTreeMap<usize, ConditionValue>,
}

/// Who said it.
#[derive(Debug, Clone)]
pub struct Source {
    /// Id: the file's name.
    pub id: String,
    /// Whether its file could be read.
    pub is_read: bool,
    /// Its file.
    pub file: Place,
    /// Title.
    pub title: String,
    /// Kind; a key of [`Weights::kinds`].
    pub kind: String,
    /// Authors.
    pub authors: Vec<Author>,
    /// Publisher.
    pub publisher: Option<String>,
    /// Journal, book or series it stands in.
    pub container: Option<String>,
    /// Volume.
    pub volume: Option<String>,
    /// Issue.
    pub issue: Option<String>,
    /// Pages.
    pub pages: Option<String>,
    /// A year, a month or a day.
    pub issued: Option<String>,
    /// Web address.
    pub url: Option<String>,
    /// When the address was read.
    pub accessed: Option<Date>,
    /// DOI.
    pub doi: Option<String>,
    /// ISBN.
    pub isbn: Option<String>,
    /// Voice it shares with others of one person or body.
    pub voice: Option<String>,
    /// Sources it takes what it says from (indices), in written order.
    pub repeats: Vec<usize>,
    /// How to name a person who would rather not be named.
    pub shown_as: Option<String>,
    /// By trait index, by folded word: lowest and highest level meant.
    pub vocabulary: BTreeMap<usize, BTreeMap<String, (usize, usize)>>,
    /// Claims kept in the source's own file.
    pub claims: Vec<RawClaim>,
}

/// An author.
#[derive(Debug, Clone, PartialEq)]
pub struct Author {
    /// Family name.
    pub family: String,
    /// Given names.
    pub given: Option<String>,
}

/// A folder of plants.
#[derive(Debug, Clone)]
pub struct Genus {
    /// Folder name.
    pub folder: String,
    /// The genus as its `genus.yaml` or its first plant has it.
    pub title: String,
    /// Whether there is a `genus.yaml`.
    pub has_file: bool,
    /// The loose name, usually the genus alone.
    pub loose_name: Option<Placed<String>>,
    /// What else the genus is called.
    pub also: Vec<Placed<String>>,
    /// Names that cover some of its plants.
    pub loose: Vec<RawLoose>,
    /// Claims that name no plant exactly.
    pub claims: Vec<RawClaim>,
}

/// A loose name below the genus, as written.
#[derive(Debug, Clone)]
pub struct RawLoose {
    /// The name.
    pub name: Placed<String>,
    /// Full names of the plants it covers.
    pub covers: Vec<Placed<String>>,
}

/// A plant entry.
#[derive(Debug, Clone)]
pub struct Plant {
    /// Its file.
    pub file: String,
    /// Index in [`Guide::genera`].
    pub genus: usize,
    /// Full name.
    pub name: Placed<String>,
    /// Vernacular names.
    pub known_as: Vec<Placed<String>>,
    /// Synonyms.
    pub synonyms: Vec<Placed<String>>,
    /// Selling names.
    pub trade_names: Vec<Placed<String>>,
    /// Addresses it has had.
    pub formerly: Vec<Placed<String>>,
    /// Growth forms, declared in `forms.yaml`.
    pub forms: Vec<String>,
    /// Who determined it.
    pub determined: Option<Determined>,
    /// A sentence or two of the club's own.
    pub summary: Option<Placed<String>>,
    /// Longer prose.
    pub story: Option<Placed<String>>,
    /// Pictures.
    pub pictures: Vec<Picture>,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// Claims of the entry.
    pub claims: Vec<RawClaim>,
}

impl Plant {
    /// Every name it goes by, the accepted one first.
    pub(crate) fn all_names(&self) -> impl Iterator<Item = &Placed<String>> {
        let others = self
            .known_as
            .iter()
            .chain(&self.synonyms)
            .chain(&self.trade_names);
        std::iter::once(&self.name).chain(others)
    }
}

/// Who determined a plant, when, by what.
#[derive(Debug, Clone)]
pub struct Determined {
    /// By whom.
    pub by: Option<String>,
    /// When.
    pub on: Option<Date>,
    /// Following what.
    pub following: Option<String>,
}

/// A picture of an entry.
#[derive(Debug, Clone)]
pub struct Picture {
    /// File in `pictures/`.
    pub file: Placed<String>,
    /// Text for those who do not see it.
    pub alt: String,
    /// Who made it.
    pub credit: Option<String>,
    /// Under what licence.
    pub licence: Option<String>,
}

/// A caution of an entry.
#[derive(Debug, Clone)]
pub struct Caution {
    /// What it is about.
    pub kind: CautionKind,
    /// The text.
    pub text: Placed<String>,
    /// Source (index).
    pub source: Option<usize>,
}

/// What a caution is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CautionKind {
    /// Law.
    Regulated,
    /// People, pets, animals.
    Hazard,
    /// What goes wrong in the tank.
    Handling,
}

impl CautionKind {
    /// The word of the format.
    pub fn id(self) -> &'static str {
        match self {
            CautionKind::Regulated => "regulated",
            CautionKind::Hazard => "hazard",
            CautionKind::Handling => "handling",
        }
    }
}

/// One statement as written.
#[derive(Debug, Clone)]
pub struct RawClaim {
    /// Where the claim starts.
    pub place: Place,
    /// The plant named, in a source's own file.
    pub plant: Option<Placed<String>>,
    /// The trait; known.
    pub trait_index: usize,
    /// The source (index); known.
    pub source: usize,
    /// What is said.
    pub value: RawValue,
    /// Where the value stands.
    pub value_place: Place,
    /// The name that the source used.
    pub used_name: Option<Placed<String>>,
    /// Where in the source.
    pub at: Option<String>,
    /// A date or a period, as written.
    pub seen: Option<String>,
    /// Conditions (index) under which it was seen.
    pub stated: BTreeMap<usize, ConditionValue>,
    /// Kind, where it is not the source's.
    pub kind: Option<String>,
    /// The source (index) that this claim repeats.
    pub repeats: Option<usize>,
    /// The value is a bound.
    pub bound: Option<ValueBound>,
    /// Size measure of a rate.
    pub of: Option<SizeMeasure>,
    /// Standard error, in the unit of the value.
    pub se: Option<f64>,
    /// Settling or settled.
    pub stage: Option<Stage>,
    /// Why it is not weighed.
    pub set_aside: Option<String>,
    /// Where it was seen.
    pub tank: Option<String>,
    /// A picture.
    pub picture: Option<Placed<String>>,
    /// The source's own words.
    pub quote: Option<String>,
    /// A remark of the club's.
    pub remark: Option<String>,
}

/// What a claim says, as written; sizes and times are checked.
#[derive(Debug, Clone)]
pub enum RawValue {
    /// A word.
    Says(Placed<String>),
    /// A relative growth rate, d⁻¹.
    Rgr(f64),
    /// A doubling time.
    DoublesIn(Quantity),
    /// Two sizes of one kind and the time between.
    Grew {
        /// First size.
        from: Quantity,
        /// Second size.
        to: Quantity,
        /// Time between.
        over: Quantity,
    },
    /// Cut back to a part at intervals.
    Trimmed {
        /// Interval.
        every: Quantity,
        /// Part left, between 0 and 1.
        leaving: f64,
    },
    /// Sizes of one kind by day (days from any origin).
    Series(Vec<(f64, Quantity)>),
    /// A value or a span of a plain quantity.
    Measures(Span),
}

/// Whether a value is the least or the most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ValueBound {
    /// At least.
    AtLeast,
    /// At most.
    AtMost,
}

/// What a size is a size of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SizeMeasure {
    /// Lengths.
    Length,
    /// Masses.
    Mass,
    /// Areas and covers.
    Area,
    /// Counts.
    Count,
}

impl SizeMeasure {
    /// All with their ids.
    pub const ALL: &[(&str, SizeMeasure)] = &[
        ("length", SizeMeasure::Length),
        ("mass", SizeMeasure::Mass),
        ("area", SizeMeasure::Area),
        ("count", SizeMeasure::Count),
    ];

    /// The word of the format.
    pub fn id(self) -> &'static str {
        match self {
            SizeMeasure::Length => "length",
            SizeMeasure::Mass => "mass",
            SizeMeasure::Area => "area",
            SizeMeasure::Count => "count",
        }
    }

    /// The size measure of a dimension.
    pub fn of(dimension: Dimension) -> Option<SizeMeasure> {
        match dimension {
            Dimension::Length => Some(SizeMeasure::Length),
            Dimension::Mass => Some(SizeMeasure::Mass),
            Dimension::Area | Dimension::Percent => Some(SizeMeasure::Area),
            Dimension::Count => Some(SizeMeasure::Count),
            _ => None,
        }
    }
}

/// Whether the plant had settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Still changing over from another way of growing: shown, not weighed.
    Settling,
    /// Settled.
    Settled,
}

/// An entry that was removed.
#[derive(Debug, Clone)]
pub struct Gone {
    /// Its former slug.
    pub slug: String,
    /// Its name.
    pub name: String,
    /// When it went.
    pub on: Option<Date>,
    /// Why.
    pub because: Option<String>,
    /// Slugs of what stands in its place.
    pub instead: Vec<Placed<String>>,
    /// Its file.
    pub place: Place,
}

/// A real planting.
#[derive(Debug, Clone)]
pub struct Roster {
    /// Id.
    pub id: String,
    /// Title.
    pub title: String,
    /// Index of its water.
    pub water: Option<usize>,
    /// Volume as written.
    pub volume: Option<Quantity>,
    /// First day.
    pub started: Option<Date>,
    /// Last day.
    pub ended: Option<Date>,
    /// Animals.
    pub keeps: Option<String>,
    /// Food a day: mass and protein.
    pub feeds: Option<Feeds>,
    /// Its plants, each with a job.
    pub plants: Vec<RosterPlant>,
    /// Readings.
    pub readings: Vec<Reading>,
    /// How it went.
    pub went: Option<Placed<String>>,
    /// Its file.
    pub place: Place,
}

/// Food a day.
#[derive(Debug, Clone, Copy)]
pub struct Feeds {
    /// Mass a day.
    pub amount: Quantity,
    /// Share of protein.
    pub protein: Option<Quantity>,
}

/// A plant of a planting.
#[derive(Debug, Clone)]
pub struct RosterPlant {
    /// Name.
    pub plant: Placed<String>,
    /// Role index.
    pub job: Option<usize>,
    /// How many, or how much.
    pub amount: Option<Quantity>,
    /// Size of each.
    pub each: Option<Span>,
}

/// Readings of one day.
#[derive(Debug, Clone)]
pub struct Reading {
    /// The day.
    pub on: Date,
    /// What was read, in written order.
    pub values: Vec<(String, Quantity)>,
}

/// A free page.
#[derive(Debug, Clone)]
pub struct FreePage {
    /// Id: the file's name.
    pub id: String,
    /// Its first heading.
    pub title: String,
    /// Markdown after the first heading.
    pub body: Placed<String>,
}

/// Index of an item by id in a list sorted by it.
pub fn position<T>(items: &[T], id: &str, key: impl Fn(&T) -> &str) -> Option<usize> {
    items.binary_search_by(|item| key(item).cmp(id)).ok()
}

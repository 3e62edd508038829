//! One club: its plants with known truth, what its sources say of them, and that as a guide.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use pondweigh::content::Input;

use crate::assumptions::{Assumptions, KindOf};
use crate::draw::Draw;
use crate::truth::{GROWTH_DAYS, HIGH, LIGHT, LOW, MEDIUM, Plant, ROOTS, level, plants, rate};

/// The settings that every club has, with no `weights.yaml`: the default policy.
pub(crate) const SETTINGS: [(&str, &str); 8] = [
    ("content/guide.yaml", include_str!("guide/guide.yaml")),
    ("content/scales.yaml", include_str!("guide/scales.yaml")),
    (
        "content/conditions.yaml",
        include_str!("guide/conditions.yaml"),
    ),
    ("content/traits.yaml", include_str!("guide/traits.yaml")),
    ("content/forms.yaml", include_str!("guide/forms.yaml")),
    ("content/roles.yaml", include_str!("guide/roles.yaml")),
    (
        "content/waters/capped-soil.yaml",
        include_str!("guide/waters/capped-soil.yaml"),
    ),
    (
        "content/waters/capped-soil-bright.yaml",
        include_str!("guide/waters/capped-soil-bright.yaml"),
    ),
];

const LEVELS: [&str; 5] = ["very-slow", "slow", "moderate", "fast", "very-fast"];
const LIGHTS: [&str; 4] = ["dim", "low", "medium", "high"];
const FATES: [&str; 4] = ["dies", "dwindles", "holds", "thrives"];
const LARDERS: [&str; 3] = ["from-the-bed", "both", "from-the-water"];
const REACHES: [&str; 3] = ["none", "shallow", "deep"];

/// Kinds with the number that says how many a club has.
const KINDS: [(&str, &str); 6] = [
    ("study", "studies"),
    ("log", "logs"),
    ("note", "notes"),
    ("label", "labels"),
    ("article", "articles"),
    ("hearsay", "hearsay"),
];

/// A club.
pub(crate) struct Club {
    /// Its plants, in no particular order.
    pub(crate) plants: Vec<Plant>,
    sources: Vec<Source>,
}

/// A tank that somebody looks into.
#[derive(Clone)]
struct Tank {
    light: usize,
    stated: usize,
    has_gas: bool,
    /// How much faster everything grows there.
    lean: f64,
    /// How much faster each plant does.
    spots: Vec<f64>,
}

/// Of what circumstances a source at second hand speaks.
#[derive(Clone, Copy)]
enum Speaks {
    /// Strong light and added gas; it does not say so.
    Nursery,
    /// Between low and medium light.
    Typical,
    /// This light, and it says so.
    Light(usize),
}

/// Where a source's sayings come from.
#[derive(Clone)]
enum Seen {
    In(Tank),
    AtSecondHand(Speaks),
}

/// The words of a source, and where it takes one to end and the next to begin.
#[derive(Clone)]
struct Words {
    /// 0: the guide's own; 1: slow, medium, fast; 2: slow, quick.
    style: usize,
    /// By how much each border between two levels is off, log units.
    off: [f64; 4],
}

/// Under which name a saying is filed.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Filed {
    /// Under the plant's full name.
    Exact(usize),
    /// In the plant's file, under the name of the genus.
    As(usize),
    /// In the file of the genus.
    Genus(usize),
}

struct Source {
    id: String,
    kind: &'static str,
    voice: Option<String>,
    repeats: Option<String>,
    words: Words,
    lean: f64,
    seen: Seen,
    /// By name and trait, what is said, as keys of a claim.
    sayings: BTreeMap<(Filed, &'static str), String>,
}

impl Club {
    /// The club of this number under a set of assumptions. Its plants are the same in every set.
    pub(crate) fn of(of: &Assumptions, set: usize, seed: u64, number: u64) -> Club {
        let plants = plants(of, &mut Draw::of(seed, number));
        let mut making = Making {
            of,
            set,
            draw: Draw::of(seed, (set as u64 + 1) << 32 | number),
            plants: &plants,
        };
        let mut sources: Vec<Source> = Vec::new();
        for (kind, count) in KINDS {
            for number in 0..making.number(count) as usize {
                let source = making.source(kind, number, &sources);
                sources.push(source);
            }
        }
        Club { plants, sources }
    }

    /// Claims in all.
    pub(crate) fn claims(&self) -> usize {
        self.sources.iter().map(|source| source.sayings.len()).sum()
    }

    /// The club's guide, with its own policy numbers or with the default ones.
    pub(crate) fn guide(&self, weights: Option<&str>) -> Input {
        let mut files: BTreeMap<String, String> = SETTINGS
            .iter()
            .map(|(path, text)| ((*path).to_owned(), (*text).to_owned()))
            .collect();
        if let Some(weights) = weights {
            files.insert("content/weights.yaml".to_owned(), weights.to_owned());
        }
        let genus_of = |plant: &Plant| plant.name.split(' ').next().expect("a genus").to_owned();
        let folder = |genus: &str| format!("content/plants/{}", genus.to_lowercase());
        let file_of = |plant: &Plant| {
            let epithet = plant.name.split(' ').nth(1).expect("an epithet");
            format!("{}/{epithet}.yaml", folder(&genus_of(plant)))
        };
        let genera: BTreeMap<usize, String> = self
            .plants
            .iter()
            .map(|plant| (plant.genus, genus_of(plant)))
            .collect();
        for plant in &self.plants {
            let head = format!("name: {}\nform: {}\n", plant.name, plant.form);
            files.insert(file_of(plant), head);
        }
        for genus in genera.values() {
            let path = format!("{}/genus.yaml", folder(genus));
            files.insert(path, format!("loose-name: {genus}\n"));
        }
        // Sources are declared first, then each claim is added where it belongs.
        let mut claims: BTreeMap<String, String> = BTreeMap::new();
        for source in &self.sources {
            let own = format!("content/sources/{}.yaml", source.id);
            files.insert(own.clone(), source.head());
            let is_list = matches!(source.seen, Seen::AtSecondHand(_));
            for ((filed, trait_id), text) in &source.sayings {
                let (path, line) = match *filed {
                    Filed::Exact(at) if is_list => {
                        let plant = &self.plants[at].name;
                        (own.clone(), format!("plant: {plant}, {text}"))
                    }
                    Filed::Genus(genus) if is_list => {
                        (own.clone(), format!("plant: {}, {text}", genera[&genus]))
                    }
                    Filed::Exact(at) => (
                        file_of(&self.plants[at]),
                        format!("source: {}, {text}", source.id),
                    ),
                    Filed::As(at) => {
                        let plant = &self.plants[at];
                        let genus = genus_of(plant);
                        let line = format!("source: {}, as: {genus}, {text}", source.id);
                        (file_of(plant), line)
                    }
                    Filed::Genus(genus) => (
                        format!("{}/genus.yaml", folder(&genera[&genus])),
                        format!("source: {}, {text}", source.id),
                    ),
                };
                let list = claims.entry(path).or_insert_with(|| "claims:\n".to_owned());
                let _ = writeln!(list, "  - {{trait: {trait_id}, {line}}}");
            }
        }
        for (path, list) in claims {
            files.entry(path).or_default().push_str(&list);
        }
        Input {
            files: files
                .into_iter()
                .map(|(path, text)| (path, text.into_bytes()))
                .collect(),
            unread: Vec::new(),
        }
    }
}

impl Source {
    fn head(&self) -> String {
        let mut out = format!("title: Source {}\nkind: {}\n", self.id, self.kind);
        if let Some(voice) = &self.voice {
            let _ = writeln!(out, "voice: {voice}");
        }
        if let Some(repeats) = &self.repeats {
            let _ = writeln!(out, "repeats: [{repeats}]");
        }
        let words = match self.words.style {
            1 => "{slow: very-slow..slow, medium: moderate, fast: fast..very-fast}",
            2 => "{slow: very-slow..slow, quick: moderate..very-fast}",
            _ => return out,
        };
        let _ = writeln!(out, "vocabulary:\n  growth: {words}");
        out
    }
}

/// What it takes to make the sources of a club.
struct Making<'a> {
    of: &'a Assumptions,
    set: usize,
    draw: Draw,
    plants: &'a [Plant],
}

impl Making<'_> {
    fn number(&self, id: &str) -> f64 {
        self.of.number(self.set, id)
    }

    fn source(&mut self, kind: &'static str, number: usize, earlier: &[Source]) -> Source {
        let like = self.of.kinds[kind];
        let is_observer = matches!(kind, "study" | "log" | "note");
        let mut source = Source {
            id: format!("{kind}-{number}"),
            kind,
            voice: None,
            repeats: None,
            words: self.words(is_observer),
            lean: self.lean(kind, &like),
            seen: if is_observer {
                Seen::In(self.tank())
            } else {
                Seen::AtSecondHand(self.circumstances())
            },
            sayings: BTreeMap::new(),
        };
        let mean: f64 =
            self.plants.iter().map(|p| p.popularity).sum::<f64>() / self.plants.len() as f64;
        let mut covered: Vec<usize> = (0..self.plants.len())
            .filter(|at| {
                let p = like.coverage * self.plants[*at].popularity / mean;
                self.draw.chance(p.min(0.95))
            })
            .collect();
        if kind == "note" && self.draw.chance(self.number("same-person")) {
            let logs: Vec<&Source> = earlier.iter().filter(|other| other.kind == "log").collect();
            if !logs.is_empty() {
                let log = logs[self.draw.below(logs.len())];
                source.lean = log.lean;
                source.seen = log.seen.clone();
                if self.draw.chance(self.number("same-person-declared")) {
                    source.voice = Some(log.id.clone());
                }
                let kept: BTreeSet<usize> = log
                    .sayings
                    .keys()
                    .filter_map(|(filed, _)| match filed {
                        Filed::Exact(at) | Filed::As(at) => Some(*at),
                        Filed::Genus(_) => None,
                    })
                    .collect();
                covered = kept.into_iter().filter(|_| self.draw.chance(0.4)).collect();
            }
        }
        if !is_observer {
            self.copy(&mut source, &mut covered, earlier);
        }
        self.speak(&mut source, &covered, is_observer, &like);
        source
    }

    /// Lets a source at second hand take what it says from an earlier one.
    fn copy(&mut self, source: &mut Source, covered: &mut Vec<usize>, earlier: &[Source]) {
        let declared = self.number("copies-declared");
        let undeclared = self.number("copies-undeclared");
        let which = self
            .draw
            .pick(&[declared, undeclared, 1.0 - declared - undeclared]);
        let originals: Vec<&Source> = earlier
            .iter()
            .filter(|other| matches!(other.seen, Seen::AtSecondHand(_)))
            .collect();
        if which == 2 || originals.is_empty() {
            return;
        }
        let original = originals[self.draw.below(originals.len())];
        if which == 0 {
            source.repeats = Some(original.id.clone());
        }
        source.words = original.words.clone();
        for (key, text) in &original.sayings {
            if self.draw.chance(self.of.copied) {
                source.sayings.insert(*key, text.clone());
            }
        }
        covered.clear();
    }

    /// Everything that a source says of the plants it covers.
    fn speak(&mut self, source: &mut Source, covered: &[usize], is_observer: bool, like: &KindOf) {
        let (loose, mislabelled) = if is_observer {
            ("loose-observers", "mislabelled-observers")
        } else {
            ("loose-second-hand", "mislabelled-second-hand")
        };
        // For each genus of which it says only the name: whether that is filed with the genus.
        let loose: BTreeMap<usize, bool> = (0..self.of.truth.genera)
            .filter_map(|genus| {
                let is_loose = self.draw.chance(self.number(loose));
                let is_filed = self.draw.chance(0.5);
                is_loose.then_some((genus, is_filed))
            })
            .collect();
        // What it says of a loose name is one statement.
        let mut said: BTreeMap<(usize, &'static str), String> = BTreeMap::new();
        for at in covered {
            let genus = self.plants[*at].genus;
            let mut kept = *at;
            if loose.contains_key(&genus) {
                kept = self.commonest(genus);
            } else if self.draw.chance(self.number(mislabelled)) {
                kept = self.mate(*at);
            }
            for trait_id in TRAITS {
                let p = match self.of.speaks.get(trait_id) {
                    None => 1.0,
                    Some(speaks) if is_observer => speaks.observers,
                    Some(speaks) => speaks.second_hand,
                };
                if !self.draw.chance(p) {
                    continue;
                }
                let text = self.saying(source, kept, trait_id, like);
                match loose.get(&genus) {
                    None => {
                        source.sayings.insert((Filed::Exact(*at), trait_id), text);
                    }
                    Some(is_filed) => {
                        let text = said.entry((genus, trait_id)).or_insert(text).clone();
                        let filed = if *is_filed {
                            Filed::Genus(genus)
                        } else {
                            Filed::As(*at)
                        };
                        source.sayings.insert((filed, trait_id), text);
                    }
                }
            }
        }
    }

    fn commonest(&self, genus: usize) -> usize {
        (0..self.plants.len())
            .filter(|at| self.plants[*at].genus == genus)
            .max_by(|a, b| {
                let popularity = |at: &usize| self.plants[*at].popularity;
                popularity(a).total_cmp(&popularity(b))
            })
            .expect("a genus has a plant")
    }

    /// Another plant of the same genus; the plant itself where there is none.
    fn mate(&mut self, plant: usize) -> usize {
        let mates: Vec<usize> = (0..self.plants.len())
            .filter(|at| *at != plant && self.plants[*at].genus == self.plants[plant].genus)
            .collect();
        if mates.is_empty() {
            return plant;
        }
        mates[self.draw.below(mates.len())]
    }

    fn words(&mut self, is_observer: bool) -> Words {
        let spread = self.number("words-differ");
        let mut off = [0.0; 4];
        for border in &mut off {
            *border = self.draw.normal(0.0, spread);
        }
        let style = self.draw.pick(&self.of.vocabularies);
        Words {
            style: if is_observer { 0 } else { style },
            off,
        }
    }

    fn lean(&mut self, kind: &str, like: &KindOf) -> f64 {
        let all = match kind {
            "study" => 0.0,
            "log" | "note" => self.number("observer-lean"),
            "label" => self.number("label-lean") + self.number("second-hand-lean"),
            _ => self.number("second-hand-lean"),
        };
        self.draw.normal(all, like.own)
    }

    fn tank(&mut self) -> Tank {
        let light = LOW + self.draw.pick(&self.of.truth.tank_light);
        let is_misjudged = self.draw.chance(self.number("light-misjudged"));
        let is_up = self.draw.chance(0.5);
        let stated = match (is_misjudged, is_up) {
            (false, _) => light,
            (true, true) => (light + 1).min(HIGH),
            (true, false) => light - 1,
        };
        let lean = self.number("tank-spread");
        let spread = self.number("spot-spread");
        Tank {
            light,
            stated,
            has_gas: self.draw.chance(self.of.truth.tank_gas) && light > LOW,
            lean: self.draw.normal(0.0, lean),
            spots: self
                .plants
                .iter()
                .map(|_| self.draw.normal(0.0, spread))
                .collect(),
        }
    }

    fn circumstances(&mut self) -> Speaks {
        let is_nursery = self.draw.chance(self.number("nursery"));
        let is_stated = self.draw.chance(self.of.second_hand_light_stated);
        let light = if self.draw.chance(0.5) { LOW } else { MEDIUM };
        match (is_nursery, is_stated) {
            (true, _) => Speaks::Nursery,
            (false, true) => Speaks::Light(light),
            (false, false) => Speaks::Typical,
        }
    }

    /// What a source says of one trait of the plant that it has, or means.
    fn saying(&mut self, source: &Source, kept: usize, trait_id: &str, like: &KindOf) -> String {
        let plant = &self.plants[kept];
        let reading = like.reading * self.number("reading-factor");
        let is_measured = self.draw.chance(like.measured);
        match trait_id {
            "growth" => {
                let mut ln_rate =
                    source.growth(plant, kept) + self.draw.normal(source.lean, reading);
                if self.draw.chance(self.number("blunders")) {
                    ln_rate += self.draw.normal(0.0, self.of.blunder);
                }
                let text = if is_measured {
                    self.measured(source.kind, ln_rate, like)
                } else {
                    format!("says: {}", source.words.growth(ln_rate))
                };
                format!("{text}{}", self.stated(source))
            }
            "light-need" => {
                let light = plant.light.ln() - source.lean / 2.0 + self.draw.normal(0.0, reading);
                if source.kind == "study" {
                    let light = light.exp();
                    return format!("measures: {light:.0} umol/m2/s, se: {:.1}", 0.15 * light);
                }
                if is_measured {
                    let from = light.exp();
                    return format!("measures: {from:.0}..{:.0} umol/m2/s", from * 1.4);
                }
                let off = source.words.off[0];
                format!("says: {}", LIGHTS[level(&LIGHT, (light + off).exp())])
            }
            "survival" => {
                let light = match &source.seen {
                    Seen::In(tank) => tank.light,
                    Seen::AtSecondHand(Speaks::Light(light)) => *light,
                    Seen::AtSecondHand(_) => MEDIUM,
                };
                let fate = plant.survival(light);
                let fate = FATES[self.slipped(fate, FATES.len(), like.slip)];
                format!("says: {fate}{}", self.stated(source))
            }
            "feeding" => {
                let at = self.slipped(plant.feeding, LARDERS.len(), like.slip);
                format!("says: {}", LARDERS[at])
            }
            "root-reach" => {
                let length = (plant.roots.ln() + self.draw.normal(0.0, reading)).exp();
                if is_measured {
                    return format!("measures: {:.1} cm", length.max(0.1));
                }
                format!("says: {}", REACHES[level(&ROOTS, length)])
            }
            _ => {
                let low = plant.warmth.0 + self.draw.normal(0.0, like.degrees);
                let high = plant.warmth.1 + self.draw.normal(0.0, like.degrees);
                let low = low.round();
                format!("measures: {low:.0}..{:.0} C", high.round().max(low))
            }
        }
    }

    fn slipped(&mut self, level: usize, levels: usize, slip: f64) -> usize {
        let is_up = self.draw.chance(0.5);
        if !self.draw.chance(slip) {
            return level;
        }
        match (is_up, level) {
            (true, level) => (level + 1).min(levels - 1),
            (false, 0) => 1,
            (false, level) => level - 1,
        }
    }

    /// A growth rate in figures: what the tape, the scissors or the calendar showed.
    fn measured(&mut self, kind: &str, ln_rate: f64, like: &KindOf) -> String {
        let per_day = ln_rate.exp();
        let doubling = rate(1.0) / per_day;
        if kind == "study" {
            let se = per_day * like.reading;
            return format!("rgr: {per_day:.5}, se: {se:.6}, of: mass");
        }
        let form = if kind == "article" {
            0
        } else {
            self.draw.below(4)
        };
        let from = self.draw.between(8.0, 20.0);
        let days = (doubling * self.draw.between(0.6, 1.6))
            .clamp(7.0, 180.0)
            .round();
        match form {
            1 => {
                // Read off a tape, to half a centimetre.
                let half = |cm: f64| ((cm * 2.0).round() / 2.0).max(0.5);
                let to = half(from * (per_day * days).exp());
                format!(
                    "grew: {{from: {:.1} cm, to: {to:.1} cm, over: {days:.0} d}}",
                    half(from)
                )
            }
            2 if doubling < 120.0 => {
                let every = doubling.round().max(1.0);
                format!("trimmed: {{every: {every:.0} d, leaving: 0.5}}, of: length")
            }
            3 if kind == "log" => {
                let readings: Vec<String> = (0..5)
                    .map(|at| {
                        let day = (days * f64::from(at) / 4.0).round();
                        let size =
                            from * (per_day * day).exp() * (1.0 + self.draw.normal(0.0, 0.04));
                        format!("[{day:.0}, {:.1} cm]", size.max(0.5))
                    })
                    .collect();
                format!("series: [{}]", readings.join(", "))
            }
            _ => format!("doubles-in: {:.1} d", doubling.max(0.1)),
        }
    }

    /// What a source says of the circumstances.
    fn stated(&mut self, source: &Source) -> String {
        let says_light = self.draw.chance(self.number("light-stated"));
        let says_gas = self.draw.chance(0.7);
        match &source.seen {
            Seen::In(tank) if says_light => {
                let light = LIGHTS[tank.stated];
                let gas = if tank.has_gas { "added" } else { "none" };
                if says_gas {
                    format!(", where: {{light: {light}, co2: {gas}}}")
                } else {
                    format!(", where: {{light: {light}}}")
                }
            }
            Seen::AtSecondHand(Speaks::Light(light)) => {
                format!(", where: {{light: {}}}", LIGHTS[*light])
            }
            _ => String::new(),
        }
    }
}

const TRAITS: [&str; 6] = [
    "growth",
    "light-need",
    "survival",
    "feeding",
    "root-reach",
    "temperature",
];

impl Source {
    /// Logarithm of the growth rate of the plant where this source saw it.
    fn growth(&self, plant: &Plant, at: usize) -> f64 {
        match &self.seen {
            Seen::In(tank) => plant.growth(tank.light, tank.has_gas) + tank.lean + tank.spots[at],
            Seen::AtSecondHand(Speaks::Nursery) => plant.growth(HIGH, true),
            Seen::AtSecondHand(Speaks::Typical) => {
                (plant.growth(LOW, false) + plant.growth(MEDIUM, false)) / 2.0
            }
            Seen::AtSecondHand(Speaks::Light(light)) => plant.growth(*light, false),
        }
    }
}

impl Words {
    /// The word for a growth rate.
    fn growth(&self, ln_rate: f64) -> &'static str {
        let doubling = GROWTH_DAYS.map(|days| rate(days).ln());
        // Borders that are off differently could cross: a level is the number of borders passed.
        let passed = doubling
            .iter()
            .zip(self.off)
            .filter(|(border, off)| ln_rate >= **border + off)
            .count();
        match self.style {
            1 => ["slow", "slow", "medium", "fast", "fast"][passed],
            2 => ["slow", "slow", "quick", "quick", "quick"][passed],
            _ => LEVELS[passed],
        }
    }
}

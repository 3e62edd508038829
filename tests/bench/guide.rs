//! A large made-up guide: the settings of the demonstration guide, with made-up plants and sources.

use std::fmt::Write as _;
use std::path::Path;

/// Plants in a genus.
const IN_GENUS: usize = 20;

/// Claims on each plant.
pub const CLAIMS: usize = 16;

/// Numbers that look like chance and are the same every time.
pub struct Draw(u64);

impl Draw {
    /// A new row of numbers.
    pub fn new(seed: u64) -> Draw {
        Draw(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// A number below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        // xorshift64: good enough to spread claims about.
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 33) as usize % n
    }

    fn of<'a>(&mut self, words: &[&'a str]) -> &'a str {
        words[self.below(words.len())]
    }
}

/// A made-up word for a number.
fn word(mut number: usize, end: &str) -> String {
    const PARTS: [&str; 12] = [
        "ba", "ce", "di", "fo", "gu", "la", "me", "ni", "ro", "su", "ta", "ve",
    ];
    let mut out = String::new();
    loop {
        out.push_str(PARTS[number % PARTS.len()]);
        number /= PARTS.len();
        if number == 0 {
            break;
        }
    }
    out.push_str(end);
    out
}

/// Genus folder, file and full name of a plant.
pub fn plant_name(number: usize) -> (String, String, String) {
    let folder = word(number / IN_GENUS + 1, "lia");
    let mut genus = folder.clone();
    genus[..1].make_ascii_uppercase();
    let epithet = word(number % IN_GENUS + 20, "ensis");
    let name = format!("{genus} {epithet}");
    (folder, epithet, name)
}

/// One claim, on one line.
pub fn claim(draw: &mut Draw, sources: usize) -> String {
    let source = format!("source-{}", draw.below(sources));
    let light = ["dim", "low", "medium", "high"];
    let place = match draw.below(4) {
        0 => String::new(),
        1 => format!(", where: {{light: {}}}", draw.of(&light)),
        2 => format!(", where: {{light: {}, co2: none}}", draw.of(&light)),
        _ => format!(
            ", where: {{co2: added, substrate: gravel}}, seen: 2024-0{}-11",
            draw.below(8) + 1
        ),
    };
    let (of, says) = match draw.below(12) {
        0..4 => (
            "growth",
            format!(
                "says: {}",
                draw.of(&["very-slow", "slow", "moderate", "fast", "very-fast"])
            ),
        ),
        4 => ("growth", format!("doubles-in: {} d", draw.below(120) + 4)),
        5 => (
            "growth",
            format!(
                "grew: {{from: {} cm, to: {} cm, over: 30 d}}",
                draw.below(9) + 3,
                draw.below(30) + 6
            ),
        ),
        6 => ("light-need", format!("says: {}", draw.of(&light))),
        7 => (
            "survival",
            format!(
                "says: {}",
                draw.of(&["dies", "dwindles", "holds", "thrives"])
            ),
        ),
        8 => (
            "feeding",
            format!(
                "says: {}",
                draw.of(&["from-the-bed", "both", "from-the-water"])
            ),
        ),
        9 => ("height", format!("measures: {} cm", draw.below(60) + 2)),
        10 => (
            "film",
            format!("says: {}", draw.of(&["bare", "thin", "rich"])),
        ),
        _ => {
            let low = draw.below(12) + 6;
            (
                "temperature",
                format!("measures: {low}..{} C", low + 4 + draw.below(12)),
            )
        }
    };
    format!("  - {{trait: {of}, source: {source}, {says}{place}}}\n")
}

/// Writes the guide below `root`; the settings come from `settings`, a folder with `content/`.
pub fn write(root: &Path, settings: &Path, plants: usize, sources: usize) -> std::io::Result<()> {
    let from = settings.join("content");
    let to = root.join("content");
    std::fs::create_dir_all(to.join("waters"))?;
    std::fs::create_dir_all(to.join("sources"))?;
    for name in [
        "guide",
        "scales",
        "conditions",
        "traits",
        "forms",
        "roles",
        "weights",
        "regulated",
    ] {
        let name = format!("{name}.yaml");
        std::fs::copy(from.join(&name), to.join(&name))?;
    }
    for entry in std::fs::read_dir(from.join("waters"))? {
        let path = entry?.path();
        if let Some(name) = path.file_name() {
            std::fs::copy(&path, to.join("waters").join(name))?;
        }
    }
    let kinds = ["study", "log", "note", "label", "article", "hearsay"];
    for number in 0..sources {
        let kind = kinds[number % kinds.len()];
        std::fs::write(
            to.join(format!("sources/source-{number}.yaml")),
            format!(
                "title: Made-up {kind} {number}\nkind: {kind}\nissued: 20{}\n",
                10 + number % 15
            ),
        )?;
    }
    let forms = [
        "stem", "drifting", "floating", "rosette", "carpet", "bulb", "rhizome", "moss",
    ];
    for number in 0..plants {
        let mut draw = Draw::new(number as u64 + 1);
        let (folder, file, name) = plant_name(number);
        let mut text = format!("name: {name}\nknown-as: [\"{file} of the {folder} kind\"]\n");
        let _ = writeln!(
            text,
            "synonyms: [Veterana {file}{folder}]\nform: {}",
            draw.of(&forms)
        );
        let _ = writeln!(
            text,
            "summary: A made-up plant that stands beside {}.",
            plant_name((number + 1) % plants).2
        );
        text.push_str("claims:\n");
        for _ in 0..CLAIMS {
            text.push_str(&claim(&mut draw, sources));
        }
        let folder = to.join("plants").join(folder);
        std::fs::create_dir_all(&folder)?;
        std::fs::write(folder.join(format!("{file}.yaml")), text)?;
    }
    Ok(())
}

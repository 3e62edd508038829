//! Writes the schemas of a guide where its editor comments point.

use std::fs;
use std::path::Path;

use pondweigh::content::{self, Input};
use pondweigh::diagnostic::counted;
use pondweigh::{names, schema};

use crate::cli::{DONE, read, say};

/// Writes the schemas of a guide; those that would be the same are left alone.
pub(crate) fn schema(guide: &Path, out: Option<&Path>) -> Result<u8, String> {
    let (input, _) = read(guide)?;
    let out = out.map_or_else(|| guide.join(schema::FOLDER), Path::to_path_buf);
    let written = write(&input, &out)?;
    say(&format!(
        "Wrote {} into {}.",
        counted(written, "schema", "schemas"),
        out.display()
    ));
    Ok(DONE)
}

/// Writes the schemas of a guide into a folder, and says how many there are.
pub(crate) fn write(input: &Input, out: &Path) -> Result<usize, String> {
    let (guide, _) = content::read(input);
    let (names, _) = names::names(&guide);
    let schemas = schema::schemas(&guide, &names, input);
    let cannot = |error: std::io::Error| format!("cannot write to {}: {error}", out.display());
    fs::create_dir_all(out).map_err(cannot)?;
    for (name, text) in &schemas {
        let file = out.join(name);
        if fs::read_to_string(&file).is_ok_and(|old| old == *text) {
            continue;
        }
        fs::write(&file, text).map_err(cannot)?;
    }
    Ok(schemas.len())
}

//! Starts a new guide from a small working example that is built into the program.

use std::fs;
use std::path::Path;

use crate::cli::{DONE, read, say, schema};

/// Path and text of every file of the starter guide.
const STARTER: &[(&str, &str)] = &[
    ("content/guide.yaml", include_str!("starter/guide.yaml")),
    ("content/scales.yaml", include_str!("starter/scales.yaml")),
    (
        "content/conditions.yaml",
        include_str!("starter/conditions.yaml"),
    ),
    ("content/traits.yaml", include_str!("starter/traits.yaml")),
    ("content/forms.yaml", include_str!("starter/forms.yaml")),
    ("content/roles.yaml", include_str!("starter/roles.yaml")),
    (
        "content/waters/capped-soil.yaml",
        include_str!("starter/capped-soil.yaml"),
    ),
    (
        "content/sources/my-log.yaml",
        include_str!("starter/my-log.yaml"),
    ),
    (
        "content/sources/a-label.yaml",
        include_str!("starter/a-label.yaml"),
    ),
    (
        "content/plants/vallisneria/genus.yaml",
        include_str!("starter/genus.yaml"),
    ),
    (
        "content/plants/vallisneria/spiralis.yaml",
        include_str!("starter/spiralis.yaml"),
    ),
    (
        "content/plants/ceratophyllum/demersum.yaml",
        include_str!("starter/demersum.yaml"),
    ),
    // The schemas are made anew from what the guide holds: two members who add a source each
    // would else change the same file.
    ("content/.gitignore", ".schemas/\n"),
    // The site is made anew from the content, too.
    (
        ".gitignore",
        "/public/\n/change.md\n/proof.sarif\n*.unfinished\n",
    ),
    (".ci/change", include_str!("../../.ci/change")),
    (".ci/change.yml", include_str!("../../.ci/change.yml")),
];

/// Writes the starter guide into a folder that has no guide yet.
pub(crate) fn sow(dir: &Path) -> Result<u8, String> {
    if dir.join("content").exists() {
        return Err(format!(
            "{} has a guide already: nothing was written",
            dir.display()
        ));
    }
    for (path, text) in STARTER {
        let file = dir.join(path);
        // A repository may have such a file of its own already.
        if file.exists() {
            continue;
        }
        let folder = file.parent().unwrap_or(dir);
        fs::create_dir_all(folder)
            .and_then(|()| fs::write(&file, text))
            .map_err(|error| format!("cannot write {}: {error}", file.display()))?;
    }
    let (input, _) = read(dir)?;
    schema::write(&input, &dir.join(pondweigh::schema::FOLDER))?;
    let shown = dir.display();
    say(&format!(
        "Started a guide in {shown}: 2 plants, 2 sources, 1 kind of tank, 1 role."
    ));
    say("");
    say("Next:");
    say(&format!("  pondweigh proof {shown}    looks for faults"));
    say(&format!(
        "  pondweigh press {shown}    makes the site in {shown}/public"
    ));
    say(&format!(
        "Then change the title and address in {shown}/content/guide.yaml."
    ));
    Ok(DONE)
}

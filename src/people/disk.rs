//! Writes changed files of a guide: each whole or not at all.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::content::disk::{clear_unfinished, replace};

/// Writes and removes files below a guide's folder; `None` removes. Files are removed last, so
/// that whatever happens nothing is lost.
///
/// Each file is replaced as a whole, see [`replace`]. Errors: the disk's own.
pub fn write(guide: &Path, files: &BTreeMap<String, Option<Vec<u8>>>) -> io::Result<()> {
    clear_unfinished(guide);
    for (path, bytes) in files {
        if let Some(bytes) = bytes {
            replace(&on_disk(guide, path), bytes)?;
        }
    }
    for (path, bytes) in files {
        if bytes.is_none() {
            fs::remove_file(on_disk(guide, path))?;
        }
    }
    Ok(())
}

fn on_disk(guide: &Path, path: &str) -> PathBuf {
    path.split('/')
        .fold(guide.to_path_buf(), |folder, part| folder.join(part))
}

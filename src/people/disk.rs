//! Writes changed files of a guide: each whole or not at all.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes and removes files below a guide's folder; `None` removes. Files are removed last, so
/// that whatever happens nothing is lost.
///
/// Each file is written beside, brought to the disk and renamed. Errors: the disk's own.
pub fn write(guide: &Path, files: &BTreeMap<String, Option<Vec<u8>>>) -> io::Result<()> {
    for (path, bytes) in files {
        if let Some(bytes) = bytes {
            put(&on_disk(guide, path), bytes)?;
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

fn put(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = file.parent().unwrap_or(file);
    fs::create_dir_all(folder)?;
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let beside = folder.join(format!(".{name}.new"));
    let written = File::create(&beside).and_then(|mut out| {
        out.write_all(bytes)?;
        out.sync_all()
    });
    written
        .and_then(|()| fs::rename(&beside, file))
        .inspect_err(|_| {
            let _ = fs::remove_file(&beside);
        })
}

//! Reads again what may have changed on the disk. Writing is done by `intake::disk`.

use std::collections::BTreeSet;
use std::path::Path;

use crate::content::Input;
use crate::content::disk::{OnDisk, read_file, read_guide};
use crate::desk::forme::{Change, Now};

/// What became of some files; paths are relative to the guide's folder.
pub fn changes(guide: &Path, paths: &BTreeSet<String>) -> Vec<Change> {
    paths
        .iter()
        .map(|path| Change {
            path: path.clone(),
            now: match read_file(guide, path) {
                OnDisk::Read(bytes) => Now::Bytes(bytes),
                OnDisk::Unread(fault) => Now::Unread(fault),
                OnDisk::Gone => Now::Gone,
            },
        })
        .collect()
}

/// What became of all files, for a change that names folders; `known` are the files so far.
pub fn all_changes(guide: &Path, known: &Input) -> Vec<Change> {
    let there = match read_guide(guide) {
        Ok((input, _)) => input,
        Err(_) => Input::default(),
    };
    let read = there.files.into_iter().map(|(path, _)| path);
    let known_paths = known.files.iter().map(|(path, _)| path.clone());
    let paths: BTreeSet<String> = read
        .chain(there.unread)
        .chain(known_paths)
        .chain(known.unread.iter().cloned())
        .collect();
    changes(guide, &paths)
}

/// The path of a file below the guide's folder; `None` for others, and for hidden ones.
pub fn relative(guide: &Path, file: &Path) -> Option<String> {
    let path = file.strip_prefix(guide).ok()?;
    let parts: Vec<String> = path
        .components()
        .map(|part| part.as_os_str().to_string_lossy().into_owned())
        .collect();
    let is_ours = matches!(parts.first()?.as_str(), "content" | "themes");
    let is_shown = parts.iter().all(|part| !part.starts_with('.'));
    (is_ours && is_shown).then(|| parts.join("/"))
}

/// Whether a folder is there now.
pub fn is_folder(path: &Path) -> bool {
    std::fs::symlink_metadata(path).is_ok_and(|meta| meta.is_dir())
}

/// The real path of a guide's folder, as events name it.
pub fn real(guide: &Path) -> std::io::Result<std::path::PathBuf> {
    std::fs::canonicalize(guide)
}

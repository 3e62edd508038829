//! Reads the guide's folders into (path, bytes) pairs, and replaces one of their files as a whole;
//! the only reader of input.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

use walkdir::WalkDir;

use crate::content::Input;
use crate::diagnostic::Diagnostic;

/// Largest data file or page that is read, in bytes.
///
/// Our choice: a source with claims on 10,000 plants stays below it.
pub const MAX_TEXT_BYTES: u64 = 4 << 20;

/// Largest edition that is read, in bytes.
///
/// Our choice: the record of 10,000 plants is a quarter of it.
pub const MAX_EDITION_BYTES: u64 = 64 << 20;

/// Largest picture that is read, in bytes.
pub const MAX_PICTURE_BYTES: u64 = 32 << 20;

/// All files of `content/` and `themes/` below the guide folder, sorted by path.
///
/// A file that is too large or cannot be read is a diagnostic, and the rest is read on.
/// Errors: the guide folder has no `content/`.
pub fn read_guide(guide: &Path) -> io::Result<(Input, Vec<Diagnostic>)> {
    let mut input = Input::default();
    let mut faults = Vec::new();
    if !guide.join("content").is_dir() {
        return Err(io::Error::new(
            io::ErrorKind::NotFound,
            format!("{} has no folder `content`", guide.display()),
        ));
    }
    for top in ["content", "themes"] {
        let folder = guide.join(top);
        if !folder.is_dir() {
            continue;
        }
        let is_shown = |entry: &walkdir::DirEntry| {
            entry.depth() == 0 || !entry.file_name().to_string_lossy().starts_with('.')
        };
        for entry in WalkDir::new(&folder)
            .sort_by_file_name()
            .into_iter()
            .filter_entry(is_shown)
        {
            let entry = match entry {
                Ok(entry) => entry,
                Err(error) => {
                    let path = error
                        .path()
                        .map_or_else(|| top.to_owned(), |path| relative(guide, path));
                    let why = error.io_error().map_or_else(
                        || "a link leads in a circle".to_owned(),
                        io::Error::to_string,
                    );
                    faults.push(Diagnostic::unreadable(&path, &why));
                    continue;
                }
            };
            if entry.path_is_symlink() && entry.depth() > 0 {
                faults.push(Diagnostic::link_not_followed(&relative(
                    guide,
                    entry.path(),
                )));
            }
            if !entry.file_type().is_file() {
                continue;
            }
            let path = relative(guide, entry.path());
            match read_plain(guide, &path) {
                OnDisk::Read(bytes) => input.files.push((path, bytes)),
                OnDisk::Unread(fault) => {
                    faults.push(fault);
                    // The id stays known, so that what names it is not reported as well.
                    input.unread.push(path);
                }
                OnDisk::Gone => {}
            }
        }
    }
    input.files.sort();
    Ok((input, faults))
}

/// One file of a guide, as it is on the disk now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OnDisk {
    /// Its bytes.
    Read(Vec<u8>),
    /// It is there and cannot be read.
    Unread(Diagnostic),
    /// It is not there, or is none that [`read_guide`] would read.
    Gone,
}

/// Reads one file again; `path` is relative to the guide's folder, with `/` between its parts.
pub fn read_file(guide: &Path, path: &str) -> OnDisk {
    let parts: Vec<&str> = path.split('/').collect();
    let is_shown = |part: &&str| !part.is_empty() && !part.starts_with('.');
    if !matches!(parts[0], "content" | "themes") || !parts.iter().all(is_shown) {
        return OnDisk::Gone;
    }
    // A link is no part of the guide, wherever it leads.
    let mut place = guide.to_path_buf();
    let (folders, _) = parts.split_at(parts.len() - 1);
    for folder in folders {
        let is_top = place == guide;
        place.push(folder);
        // The top folder itself may be a link, as the walk through it starts behind the link.
        let is_there = if is_top {
            place.is_dir()
        } else {
            fs::symlink_metadata(&place).is_ok_and(|meta| meta.is_dir())
        };
        if !is_there {
            return OnDisk::Gone;
        }
    }
    match fs::symlink_metadata(guide.join(path)) {
        Ok(meta) if meta.is_file() => read_plain(guide, path),
        _ => OnDisk::Gone,
    }
}

fn read_plain(guide: &Path, path: &str) -> OnDisk {
    let limit = if path.starts_with("content/pictures/") || path.starts_with("themes/") {
        MAX_PICTURE_BYTES
    } else if path.starts_with("content/editions/") {
        MAX_EDITION_BYTES
    } else {
        MAX_TEXT_BYTES
    };
    let file = guide.join(path);
    let size = fs::metadata(&file).map(|meta| meta.len()).unwrap_or(0);
    if size > limit {
        return OnDisk::Unread(Diagnostic::too_large(path, size, limit));
    }
    match fs::read(&file) {
        Ok(bytes) => OnDisk::Read(bytes),
        Err(error) if error.kind() == io::ErrorKind::NotFound => OnDisk::Gone,
        Err(error) => OnDisk::Unread(Diagnostic::unreadable(path, &error.to_string())),
    }
}

/// End of the name of a file that is being written; the name is hidden, so that no reader takes the
/// file for content.
const UNFINISHED: &str = ".unfinished";

/// Puts bytes in the place of a file, or where there is none yet.
///
/// They are written beside it, brought to the disk and renamed: whenever the process ends, the
/// file is the old one or the new one, whole. A link stays one, and rights are kept.
pub fn replace(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let file = fs::canonicalize(file).unwrap_or_else(|_| file.to_path_buf());
    let folder = file.parent().unwrap_or(&file);
    fs::create_dir_all(folder)?;
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let beside = folder.join(format!(".{name}{UNFINISHED}"));
    let written = File::create(&beside).and_then(|mut out| {
        out.write_all(bytes)?;
        if let Ok(old) = fs::metadata(&file) {
            out.set_permissions(old.permissions())?;
        }
        out.sync_all()?;
        fs::rename(&beside, &file)
    });
    if let Err(error) = written {
        let _ = fs::remove_file(&beside);
        return Err(error);
    }
    // The new name is on the disk once its folder is; not every system lets a folder be opened.
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Removes what a run that was ended left unfinished below a guide's `content/`.
pub fn clear_unfinished(guide: &Path) {
    for entry in WalkDir::new(guide.join("content")).into_iter().flatten() {
        let name = entry.file_name().to_string_lossy();
        if name.starts_with('.') && name.ends_with(UNFINISHED) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

fn relative(guide: &Path, path: &Path) -> String {
    let path = path.strip_prefix(guide).unwrap_or(path);
    let parts: Vec<String> = path
        .components()
        .map(|part| part.as_os_str().to_string_lossy().into_owned())
        .collect();
    parts.join("/")
}

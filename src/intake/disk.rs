//! Writes changed files of a guide's content, each as a whole or not at all; reads what was
//! handed in.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Component, Path, PathBuf};

use crate::content::disk::{clear_unfinished, replace};
use crate::intake::Edit;

/// Longest slip or sheet that is read, in bytes. Our choice: far more than a club writes in a year.
pub const LONGEST: u64 = 32 << 20;

/// Writes edits below the guide's folder `root`.
///
/// Each file is replaced as a whole, see [`replace`]. Unfinished files of a run that was ended are
/// removed first. Errors: the disk's own; a path outside `content/`; a file that is no longer
/// what it was when it was read, and then nothing is written. Where one of several files cannot be
/// written, the error names it and those that were.
pub fn write(root: &Path, edits: &[Edit]) -> io::Result<()> {
    clear_unfinished(root);
    let refuse = |path: &str, why: &str| io::Error::other(format!("{path}: {why}"));
    for edit in edits {
        let path = Path::new(&edit.path);
        let is_inside = path.starts_with("content")
            && !edit.path.contains('\\')
            && path
                .components()
                .all(|part| matches!(part, Component::Normal(_)));
        if !is_inside {
            return Err(refuse(&edit.path, "not a file of the guide's content"));
        }
        let now = match fs::read(root.join(path)) {
            Ok(bytes) => Some(bytes),
            Err(error) if error.kind() == io::ErrorKind::NotFound => None,
            Err(error) => return Err(error),
        };
        if now.as_deref() != edit.before.as_deref().map(str::as_bytes) {
            return Err(refuse(
                &edit.path,
                "it has changed since it was read; nothing was written",
            ));
        }
    }
    for (at, edit) in edits.iter().enumerate() {
        replace(&root.join(&edit.path), edit.after.as_bytes()).map_err(|error| {
            let done: Vec<&str> = edits[..at].iter().map(|edit| edit.path.as_str()).collect();
            let done = match done[..] {
                [] => "nothing was written".to_owned(),
                _ => format!(
                    "written before it: {}; enter the same again once it can be, and nothing is added twice",
                    done.join(", ")
                ),
            };
            let why = format!("cannot write {}: {error}; {done}", edit.path);
            io::Error::new(error.kind(), why)
        })?;
    }
    Ok(())
}

/// Files handed in: the one named, or those of a folder by name; `-` is standard input.
pub fn handed_in(path: &Path) -> io::Result<Vec<(String, Vec<u8>)>> {
    if path == Path::new("-") {
        let mut bytes = Vec::new();
        io::stdin().take(LONGEST + 1).read_to_end(&mut bytes)?;
        return checked("standard input".to_owned(), bytes).map(|one| vec![one]);
    }
    let files: Vec<PathBuf> = if path.is_dir() {
        let mut files: Vec<PathBuf> = fs::read_dir(path)?
            .map(|entry| Ok(entry?.path()))
            .collect::<io::Result<_>>()?;
        files.retain(|file| {
            let name = file.file_name().unwrap_or_default().to_string_lossy();
            file.is_file() && !name.starts_with('.')
        });
        files.sort();
        files
    } else {
        vec![path.to_path_buf()]
    };
    files
        .into_iter()
        .map(|file| {
            let mut bytes = Vec::new();
            File::open(&file)?
                .take(LONGEST + 1)
                .read_to_end(&mut bytes)?;
            let name = file.file_name().unwrap_or_default().to_string_lossy();
            checked(name.into_owned(), bytes)
        })
        .collect()
}

fn checked(name: String, bytes: Vec<u8>) -> io::Result<(String, Vec<u8>)> {
    if bytes.len() as u64 > LONGEST {
        return Err(io::Error::other(format!(
            "{name} is larger than {} MB",
            LONGEST >> 20
        )));
    }
    Ok((name, bytes))
}

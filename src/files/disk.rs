//! Writes what differs, deletes what is stale; the only code that touches the output folder.

use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use crate::files::Site;

/// The list of what the last press wrote, kept in the output folder: only these files are ever
/// deleted, so that nothing a person put there is lost.
pub const LIST: &str = ".pressed";

/// What writing did.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Written {
    /// Files that were new or differed.
    pub changed: usize,
    /// Files that were the same already.
    pub same: usize,
    /// Files of the last press that are no longer part of the site.
    pub deleted: usize,
}

/// Writes a site into a folder.
///
/// A file with the same bytes is left alone; one that differs is written beside and renamed, so
/// that a reader sees the old file or the new one, never half. Errors: the disk's own; a file that
/// no press wrote stands where a page would, and then nothing is written.
pub fn write(site: &Site, out: &Path) -> io::Result<Written> {
    let old = pressed(out);
    if let Some(file) = in_the_way(site, &old, out) {
        let why = format!(
            "{} stands where a page would, and no press wrote it",
            file.display()
        );
        return Err(io::Error::new(io::ErrorKind::AlreadyExists, why));
    }
    fs::create_dir_all(out)?;
    let new: BTreeSet<&str> = site.files.iter().map(|(path, _)| path.as_str()).collect();
    // First the list of everything old and new: whatever happens next, nothing is forgotten.
    let all: BTreeSet<&str> = old
        .iter()
        .map(String::as_str)
        .chain(new.iter().copied())
        .collect();
    put(&out.join(LIST), listing(all.iter().copied()).as_bytes())?;
    let changed: Vec<bool> = site
        .files
        .par_iter()
        .map(|(path, bytes)| put(&on_disk(out, path), bytes))
        .collect::<io::Result<_>>()?;
    let changed = changed.into_iter().filter(|changed| *changed).count();
    let mut deleted = 0;
    for path in &old {
        if new.contains(path.as_str()) || !is_inside(path) {
            continue;
        }
        let file = on_disk(out, path);
        if fs::remove_file(&file).is_ok() {
            deleted += 1;
        }
        remove_empty(&file, out);
    }
    put(&out.join(LIST), listing(new.iter().copied()).as_bytes())?;
    Ok(Written {
        changed,
        same: site.files.len() - changed,
        deleted,
    })
}

/// The first file of a person's own that the site would replace.
fn in_the_way(site: &Site, old: &[String], out: &Path) -> Option<PathBuf> {
    let old: BTreeSet<&str> = old.iter().map(String::as_str).collect();
    let foreign = site.files.par_iter().filter_map(|(path, bytes)| {
        let file = on_disk(out, path);
        let is_foreign = !old.contains(path.as_str())
            && file.exists()
            && fs::read(&file).map_or(true, |found| found != *bytes);
        is_foreign.then_some(file)
    });
    foreign.min()
}

/// Paths that the last press wrote.
fn pressed(out: &Path) -> Vec<String> {
    let text = fs::read_to_string(out.join(LIST)).unwrap_or_default();
    text.lines()
        .filter(|line| !line.is_empty())
        .map(str::to_owned)
        .collect()
}

fn listing<'a>(paths: impl Iterator<Item = &'a str>) -> String {
    paths.flat_map(|path| [path, "\n"]).collect()
}

fn on_disk(out: &Path, path: &str) -> PathBuf {
    path.split('/')
        .fold(out.to_path_buf(), |folder, part| folder.join(part))
}

/// A list that somebody edited must not lead outside the folder.
fn is_inside(path: &str) -> bool {
    !path.starts_with('/')
        && !path.contains('\\')
        && path.split('/').all(|part| !matches!(part, "" | "." | ".."))
}

/// Writes a file if its bytes differ; true if it did.
fn put(file: &Path, bytes: &[u8]) -> io::Result<bool> {
    let old = fs::metadata(file)
        .ok()
        .filter(|meta| meta.len() == bytes.len() as u64);
    if old.is_some() && fs::read(file).is_ok_and(|old| old == bytes) {
        return Ok(false);
    }
    let folder = file.parent().unwrap_or(file);
    fs::create_dir_all(folder)?;
    if old.is_none() && !file.exists() {
        fs::write(file, bytes)?;
        return Ok(true);
    }
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let beside = folder.join(format!(".{name}.new"));
    fs::write(&beside, bytes)?;
    fs::rename(&beside, file)?;
    Ok(true)
}

/// Removes the folders that a deleted file leaves empty, up to the output folder.
fn remove_empty(file: &Path, out: &Path) {
    let mut folder = file.parent();
    while let Some(at) = folder {
        // Fails, and stops, where something is left in it.
        if at == out || fs::remove_dir(at).is_err() {
            break;
        }
        folder = at.parent();
    }
}

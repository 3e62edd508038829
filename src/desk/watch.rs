//! Watches the guide's folders, and takes up what was saved.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};

use notify_debouncer_full::notify::{self, EventKind, RecursiveMode};
use notify_debouncer_full::{DebounceEventResult, Debouncer, RecommendedCache, new_debouncer};
use tokio::time::Duration;

use crate::desk::clock::Since;
use crate::desk::disk;
use crate::desk::forme::{Change, Rebuilt};
use crate::desk::server::Desk;
use crate::diagnostic::counted;

/// How long a file must lie still before it is read.
///
/// Our choice: editors that write in two steps do so within a few milliseconds, and a reader does
/// not notice the wait. A file that is read half-written is read again when it is whole.
const STILL: Duration = Duration::from_millis(20);

/// How often the watcher looks whether a file lies still.
const LOOK: Duration = Duration::from_millis(5);

/// Moves that are told on the terminal after a save.
const MOST_TOLD: usize = 12;

/// Pages that are looked through between two looks for a save.
const AT_ONCE: usize = 4;

/// What the watcher tells.
pub(crate) enum Seen {
    /// These files may have changed.
    Files(BTreeSet<String>),
    /// A folder came or went, or something was missed: look everywhere.
    Everything,
}

/// A watch on a guide's folders; it ends when it is dropped.
pub(crate) struct Watch {
    debouncer: Debouncer<notify::RecommendedWatcher, RecommendedCache>,
    guide: PathBuf,
    has_themes: bool,
}

impl Watch {
    /// Starts to watch; `guide` is the real path of the guide's folder.
    pub(crate) fn start(guide: &Path) -> notify::Result<(Watch, Receiver<Seen>)> {
        let (sender, receiver) = channel();
        let folder = guide.to_path_buf();
        let handler = move |result: DebounceEventResult| {
            if let Some(seen) = seen(&folder, result) {
                // Nobody listens any more only when the desk is being left.
                let _ = sender.send(seen);
            }
        };
        let mut debouncer = new_debouncer(STILL, Some(LOOK), handler)?;
        debouncer.watch(guide, RecursiveMode::NonRecursive)?;
        debouncer.watch(guide.join("content"), RecursiveMode::Recursive)?;
        let mut watch = Watch {
            debouncer,
            guide: guide.to_path_buf(),
            has_themes: false,
        };
        watch.look_for_themes();
        Ok((watch, receiver))
    }

    /// Watches the folders anew: one that went and came back is another one.
    fn begin_again(&mut self) {
        let content = self.guide.join("content");
        // A folder that is gone was not watched any more; one that is not there yet is heard of by
        // the watch on the guide's folder.
        let _ = self.debouncer.unwatch(&content);
        let _ = self.debouncer.watch(&content, RecursiveMode::Recursive);
        let _ = self.debouncer.unwatch(self.guide.join("themes"));
        self.has_themes = false;
        self.look_for_themes();
    }

    /// Watches the guide's themes once there are any.
    fn look_for_themes(&mut self) {
        let themes = self.guide.join("themes");
        let is_there = disk::is_folder(&themes);
        if is_there && !self.has_themes {
            let watched = self.debouncer.watch(&themes, RecursiveMode::Recursive);
            self.has_themes = watched.is_ok();
        } else if !is_there {
            self.has_themes = false;
        }
    }
}

/// What events bear on; `None`: nothing of the guide.
fn seen(guide: &Path, result: DebounceEventResult) -> Option<Seen> {
    let Ok(events) = result else {
        return Some(Seen::Everything);
    };
    let mut files = BTreeSet::new();
    for event in events {
        if event.kind.is_access() {
            continue;
        }
        if event.need_rescan() {
            return Some(Seen::Everything);
        }
        let is_of_folder = matches!(
            event.kind,
            EventKind::Create(notify::event::CreateKind::Folder)
                | EventKind::Remove(notify::event::RemoveKind::Folder)
        );
        for path in &event.paths {
            let Some(relative) = disk::relative(guide, path) else {
                continue;
            };
            // A folder that is renamed takes its files along without a word.
            let has_end = path.extension().is_some();
            if is_of_folder || disk::is_folder(path) || (event.kind.is_modify() && !has_end) {
                return Some(Seen::Everything);
            }
            files.insert(relative);
        }
    }
    (!files.is_empty()).then_some(Seen::Files(files))
}

/// Takes up saves until the watch ends; looks pages through while nothing is saved.
pub(crate) fn work(desk: &Arc<Desk>, watch: &mut Watch, seen: &Receiver<Seen>) {
    // What was saved between the first reading and the watch.
    take_up(desk, Seen::Everything);
    let mut is_idle = false;
    while !desk.is_over() {
        let wait = if is_idle {
            Duration::from_millis(500)
        } else {
            Duration::ZERO
        };
        match seen.recv_timeout(wait) {
            Ok(first) => {
                let mut all = first;
                while let Ok(next) = seen.try_recv() {
                    all = match (all, next) {
                        (Seen::Files(mut files), Seen::Files(more)) => {
                            files.extend(more);
                            Seen::Files(files)
                        }
                        _ => Seen::Everything,
                    };
                }
                match all {
                    Seen::Everything => watch.begin_again(),
                    Seen::Files(_) => watch.look_for_themes(),
                }
                take_up(desk, all);
                is_idle = false;
            }
            Err(RecvTimeoutError::Timeout) => is_idle = !look_through(desk),
            Err(RecvTimeoutError::Disconnected) => return,
        }
    }
}

/// Reads everything again, for a desk that has found itself behind the disk.
pub(crate) fn catch_up(desk: &Desk) {
    take_up(desk, Seen::Everything);
}

fn take_up(desk: &Desk, seen: Seen) {
    let started = Since::now();
    let changes = match seen {
        Seen::Files(files) => disk::changes(desk.guide(), &files),
        Seen::Everything => {
            let known = desk.read().input().clone();
            disk::all_changes(desk.guide(), &known)
        }
    };
    change(desk, changes, started);
}

/// Takes changes up, and tells the open pages.
pub(crate) fn change(desk: &Desk, changes: Vec<Change>, started: Since) {
    let is_dress = |change: &Change| {
        let is_text = [".yaml", ".md", ".json"]
            .iter()
            .any(|end| change.path.ends_with(end));
        !is_text || change.path.starts_with("themes/")
    };
    if changes.iter().any(is_dress) {
        desk.dress_anew();
    }
    let (rebuilt, errors) = {
        let mut forme = desk.write();
        let rebuilt = forme.change(changes);
        (rebuilt, forme.has_errors())
    };
    if rebuilt == Rebuilt::default() {
        return;
    }
    desk.set_moved(rebuilt.moves.clone());
    desk.turn();
    let whole = if rebuilt.is_whole {
        ", the guide put together anew"
    } else {
        ""
    };
    let state = if errors { "; it has errors" } else { "" };
    desk.log().say(&format!(
        "took up {}: {} weighed{whole}, in {} ms{state}",
        counted(rebuilt.files, "file", "files"),
        counted(rebuilt.plants, "plant", "plants"),
        started.elapsed().as_millis(),
    ));
    for moved in rebuilt.moves.iter().take(MOST_TOLD) {
        desk.log().add(&format!(
            "{}: {}: {} → {}",
            moved.plant, moved.of, moved.from, moved.to
        ));
    }
    if let Some(more) = rebuilt.moves.len().checked_sub(MOST_TOLD + 1) {
        desk.log().add(&format!("and {} more moved", more + 1));
    }
}

/// Looks some pages through for faults of their own; whether there were any to look through.
fn look_through(desk: &Desk) -> bool {
    let batch = desk.write().to_look_through(AT_ONCE);
    if batch.is_empty() {
        return false;
    }
    let found: Vec<_> = {
        let forme = desk.read();
        batch
            .iter()
            .map(|address| forme.look_through(address))
            .collect()
    };
    let is_news = {
        let mut forme = desk.write();
        let had_errors = forme.has_errors();
        for (address, faults) in batch.iter().zip(found) {
            forme.keep_faults(address, faults);
        }
        forme.has_errors() != had_errors
    };
    if is_news {
        desk.turn();
    }
    true
}

//! Opens the desk: the guide is weighed, watched and served until the person ends it.

use std::io;
use std::path::Path;
use std::sync::Arc;

use jiff::civil::Date;

use crate::content::Input;
use crate::desk::forme::Forme;
use crate::desk::log::Tell;
use crate::desk::server::Shown;
use crate::desk::{disk, server, watch};
use crate::diagnostic::Diagnostic;

/// What a desk is opened with.
pub struct Opening {
    /// The guide's files.
    pub input: Input,
    /// What could not be read of them.
    pub unread: Vec<Diagnostic>,
    /// The port; 0: a free one.
    pub port: u16,
    /// Takes a line for the terminal.
    pub tell: Box<Tell>,
    /// A fault as text.
    pub shown: Shown,
    /// The day after which nothing can have been seen yet.
    pub latest: fn() -> Date,
}

/// Opens a desk on a guide and serves it until the person ends it.
///
/// `opened` is called with the address once it answers. Errors: the port is taken, or the folder
/// cannot be watched.
pub fn open(guide: &Path, opening: Opening, opened: &dyn Fn(&str)) -> io::Result<()> {
    let guide = disk::real(guide)?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()?;
    let listener = runtime.block_on(server::bind(opening.port))?;
    let port = listener.local_addr()?.port();
    // Watched before it is weighed, so that no save falls between.
    let (mut watch, seen) = watch::Watch::start(&guide).map_err(io::Error::other)?;
    let forme = Forme::new(opening.input, opening.unread);
    let token = (token()?, number()?);
    let desk = Arc::new(server::desk(
        guide,
        forme,
        port,
        token,
        opening.tell,
        opening.shown,
        opening.latest,
    ));
    let worker = {
        let desk = Arc::clone(&desk);
        std::thread::spawn(move || watch::work(&desk, &mut watch, &seen))
    };
    opened(&format!("http://127.0.0.1:{port}/"));
    runtime.block_on(async {
        tokio::select! {
            () = server::serve(Arc::clone(&desk), listener) => {}
            _ = tokio::signal::ctrl_c() => {}
        }
    });
    desk.end();
    runtime.shutdown_background();
    // The watcher ends within a moment; whatever it does, the files are whole.
    let _ = worker.join();
    Ok(())
}

/// A number for one run.
fn number() -> io::Result<u64> {
    getrandom::u64().map_err(|error| io::Error::other(error.to_string()))
}

/// A secret for one run, as text.
fn token() -> io::Result<String> {
    let mut bytes = [0u8; 24];
    getrandom::fill(&mut bytes).map_err(|error| io::Error::other(error.to_string()))?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

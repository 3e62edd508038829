//! Serves the guide on this machine while it is edited.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use pondweigh::desk::{Opening, open};

use crate::cli::{DONE, latest_day, read, report, say};

/// Opens the desk, and stays until the person ends it.
pub(crate) fn desk(guide: &Path, port: Option<u16>, opens_browser: bool) -> Result<u8, String> {
    let (input, unread) = read(guide)?;
    let opening = Opening {
        input,
        unread,
        port: port.unwrap_or(0),
        tell: Box::new(|line| {
            let _ = writeln!(std::io::stderr().lock(), "{line}");
        }),
        latest: latest_day,
        shown: |fault, input| report::shown(fault, input, false),
    };
    let opened = |address: &str| {
        say(address);
        eprintln!(
            "The guide is on the desk at {address}, and a form for observations at {address}desk/. Ctrl-C ends it."
        );
        if opens_browser && let Err(why) = browse(address) {
            eprintln!("no browser could be opened: {why}");
        }
    };
    open(guide, opening, &opened).map_err(|error| match (error.kind(), port) {
        (std::io::ErrorKind::AddrInUse, Some(port)) => {
            format!(
                "port {port} is taken\n  hint: name another, or leave `--port` out for a free one"
            )
        }
        _ => format!("the desk could not be opened: {error}"),
    })?;
    Ok(DONE)
}

/// Asks the system to show an address.
fn browse(address: &str) -> std::io::Result<()> {
    let program = if cfg!(target_os = "windows") {
        "explorer"
    } else if cfg!(target_os = "macos") {
        "open"
    } else {
        "xdg-open"
    };
    Command::new(program)
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .map(|_| ())
}

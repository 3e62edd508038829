//! The output as sorted (path, bytes) pairs; one address for two files is a diagnostic.

pub mod disk;

use crate::diagnostic::{Diagnostic, Place};

/// Everything that is written, sorted by path; paths are relative to the output folder.
#[derive(Debug, Clone, Default)]
pub struct Site {
    /// Path and bytes.
    pub files: Vec<(String, Vec<u8>)>,
}

/// Puts files in order; two at one path are a fault.
pub fn site(mut files: Vec<(String, Vec<u8>)>) -> (Site, Vec<Diagnostic>) {
    let mut faults = Vec::new();
    files.sort_by(|a, b| a.0.cmp(&b.0));
    for pair in files.windows(2) {
        if pair[0].0 == pair[1].0 {
            let address = pair[0].0.trim_end_matches("index.html").to_owned();
            faults.push(Diagnostic::address_taken(&Place::head("content"), &address));
        }
    }
    (Site { files }, faults)
}

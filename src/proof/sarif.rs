//! Faults in the Static Analysis Results Interchange Format, for code hosts.
//!
//! Source: OASIS Standard, SARIF version 2.1.0, 27 March 2020: sections named at their place below.

use serde_json::{Map, Value as Json, json};

use crate::content::Input;
use crate::diagnostic::Diagnostic;
use crate::proof::rules::{RULES, rule_index};
use crate::proof::table::{Proofed, region, word};

/// The faults of a guide as one SARIF log.
///
/// `folder` is where the guide stands in the repository, with `/` between its parts: code hosts
/// look files up from the top. Empty where the guide is the top.
pub fn sarif(proofed: &Proofed<'_>, folder: &str) -> String {
    let rules: Vec<Json> = RULES
        .iter()
        .map(|(id, sentence)| {
            json!({
                "id": id,
                "shortDescription": { "text": sentence },
                "help": { "text": format!("{sentence} The message of each result says what to do.") },
            })
        })
        .collect();
    let results: Vec<Json> = proofed
        .faults
        .iter()
        .map(|fault| result(fault, proofed.input, folder))
        .collect();
    let driver = json!({
        "name": "pondweigh",
        "semanticVersion": env!("CARGO_PKG_VERSION"),
        "rules": rules,
    });
    let log = json!({
        "$schema": "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
        "version": "2.1.0",
        "runs": [{
            "tool": { "driver": driver },
            // Columns are counted in characters (3.14.17).
            "columnKind": "unicodeCodePoints",
            "results": results,
        }],
    });
    format!("{log:#}\n")
}

fn result(fault: &Diagnostic, input: &Input, folder: &str) -> Json {
    let mut said = fault.title.clone();
    if let Some(label) = &fault.label {
        said = format!("{said}: {label}");
    }
    if let Some(hint) = &fault.hint {
        said = format!("{said}. To mend it: {hint}.");
    }
    let found = region(fault, input);
    let mut place = Map::new();
    place.insert("startLine".to_owned(), json!(found.line));
    // A fault of a whole file has a line and no stretch of it (3.30.2).
    if fault.place.start != fault.place.end {
        place.insert("startColumn".to_owned(), json!(found.column));
        place.insert("endLine".to_owned(), json!(found.end_line));
        place.insert("endColumn".to_owned(), json!(found.end_column));
    }
    let mut out = json!({
        "ruleId": fault.rule,
        "level": word(fault.severity),
        "message": { "text": said },
        "locations": [{
            "physicalLocation": {
                "artifactLocation": { "uri": address(folder, &fault.place.file) },
                "region": place,
            },
        }],
        // The same fault has the same print on another line, so that a host knows it again (3.27.17).
        "partialFingerprints": { "pondweigh/v1": print_of(fault) },
    });
    if let Some(index) = rule_index(fault.rule) {
        out["ruleIndex"] = json!(index);
    }
    out
}

/// A relative address: parts percent-encoded (RFC 3986, unreserved characters stay).
fn address(folder: &str, file: &str) -> String {
    let parts = folder.split('/').chain(file.split('/'));
    let encoded: Vec<String> = parts.filter(|part| !part.is_empty()).map(encoded).collect();
    encoded.join("/")
}

fn encoded(part: &str) -> String {
    let mut out = String::new();
    for byte in part.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~') {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// FNV-1a, 64 bits, of what the fault says and in which file, without its line.
///
/// Source: the offset basis and prime of the IETF draft on the FNV hash, from memory; nothing
/// rests on their being those, only on their staying as they are.
fn print_of(fault: &Diagnostic) -> String {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    for part in [fault.rule, &*fault.place.file, &fault.title] {
        for byte in part.bytes().chain([0]) {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }
    format!("{hash:016x}")
}

//! Faults in the terminal, as JSON and for code hosts.

use std::collections::BTreeMap;
use std::io::IsTerminal;
use std::path::{Component, Path, PathBuf};

use clap::Args;
use pondweigh::content::Input;
use pondweigh::diagnostic::{Diagnostic, Severity, counted};
use pondweigh::proof::{Proofed, json, sarif};

use crate::cli::{CONTENT, DONE, all_faults, daily, read, report, say, summary_of};

/// Warnings of one kind that are shown in full; the places of the others follow in one list.
///
/// Our choice: five fit a screen, and who mends the sixth knows the remedy by then.
const SHOWN_OF_A_KIND: usize = 5;

/// What `proof` is asked.
#[derive(Args)]
pub(crate) struct Options {
    /// The guide's folder, which has `content/` in it
    #[arg(default_value = ".")]
    guide: PathBuf,
    /// Fail where there are warnings, too
    #[arg(long)]
    strict: bool,
    /// Show every warning in full, however many there are of a kind
    #[arg(long)]
    all: bool,
    /// Print JSON
    #[arg(long, conflicts_with = "sarif")]
    json: bool,
    /// Print SARIF 2.1.0, which code hosts read
    #[arg(long)]
    sarif: bool,
}

/// Reads a guide and prints every fault.
pub(crate) fn proof(options: &Options) -> Result<u8, String> {
    let (input, unread) = read(&options.guide)?;
    let (built, faults) = pondweigh::build(&input, &|| {});
    let daily = built.as_ref().map(daily).unwrap_or_default();
    let faults = all_faults(unread, [faults, daily].concat());
    let proofed = Proofed {
        input: &input,
        faults: &faults,
        counts: built.map(|built| built.counts),
    };
    let has_errors = pondweigh::has_errors(&faults);
    let is_refused = has_errors || (options.strict && !faults.is_empty());
    if options.json {
        say(json(&proofed).trim_end());
    } else if options.sarif {
        say(sarif(&proofed, &folder_in_repository(&options.guide)).trim_end());
    } else {
        plain(&proofed, options, has_errors);
    }
    Ok(if is_refused { CONTENT } else { DONE })
}

/// Where the guide stands below the folder in which the command runs; empty where it is not below.
fn folder_in_repository(guide: &Path) -> String {
    let mut parts = Vec::new();
    for part in guide.components() {
        match part {
            Component::CurDir => {}
            Component::Normal(part) => parts.push(part.to_string_lossy().into_owned()),
            _ => return String::new(),
        }
    }
    parts.join("/")
}

fn plain(proofed: &Proofed<'_>, options: &Options, has_errors: bool) {
    let is_styled = std::io::stdout().is_terminal();
    let (errors, warnings): (Vec<&Diagnostic>, Vec<&Diagnostic>) = proofed
        .faults
        .iter()
        .partition(|fault| fault.severity == Severity::Error);
    for fault in errors {
        say(&report::shown(fault, proofed.input, is_styled));
    }
    if !warnings.is_empty() {
        say("Warnings. The site is right without them, but thinner than it could be.\n");
        show_warnings(&warnings, proofed.input, options, is_styled);
    }
    let summary = summary_of(proofed.faults);
    if has_errors {
        say(&format!(
            "{summary} in the guide. It cannot be pressed until the errors are mended."
        ));
    } else if let Some(counts) = proofed.counts {
        let refusal = if options.strict && !warnings.is_empty() {
            " With --strict, warnings fail."
        } else {
            ""
        };
        say(&format!(
            "{summary}: {}, {}, {}. The guide can be pressed.{refusal}",
            counted(counts.plants, "plant", "plants"),
            counted(counts.sources, "source", "sources"),
            counted(counts.claims, "claim", "claims"),
        ));
    }
}

/// Warnings by place; of a kind that stands many times, the first in full and the places of the rest.
fn show_warnings(warnings: &[&Diagnostic], input: &Input, options: &Options, is_styled: bool) {
    let mut of_rule: BTreeMap<&str, Vec<&Diagnostic>> = BTreeMap::new();
    for warning in warnings {
        of_rule.entry(warning.rule).or_default().push(warning);
    }
    for warning in warnings {
        let alike = &of_rule[warning.rule];
        let at = alike
            .iter()
            .position(|other| std::ptr::eq(*other, *warning));
        if options.all
            || alike.len() <= SHOWN_OF_A_KIND
            || at.is_some_and(|at| at < SHOWN_OF_A_KIND)
        {
            say(&report::shown(warning, input, is_styled));
        }
    }
    if options.all {
        return;
    }
    for (rule, alike) in of_rule {
        if alike.len() <= SHOWN_OF_A_KIND {
            continue;
        }
        let rest = &alike[SHOWN_OF_A_KIND..];
        say(&format!(
            "{} more `{rule}` (--all shows them in full):",
            rest.len()
        ));
        for warning in rest {
            say(&format!("  {}: {}", warning.place, warning.title));
        }
        say("");
    }
}

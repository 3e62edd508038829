//! Arguments, help, printing; compiled into the program only.

mod balance;

#[cfg(feature = "desk")]
mod desk;

mod enter;

mod manual;

mod proof;

mod report;

mod schema;

mod edition;

mod person;

mod shifts;

mod sow;

mod weigh;

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

use clap::{Parser, Subcommand};
use clap_complete::Shell;
use indicatif::{ProgressBar, ProgressStyle};
use jiff::civil::Date;
use pondweigh::content::{Input, disk};
use pondweigh::diagnostic::{Diagnostic, Severity, counted};
use pondweigh::people::{Change, Person};
use pondweigh::{Built, Weighed};

use crate::cli::person::Asked;

/// Weighs what is said of water plants and presses it into a guide.
///
/// A guide is a folder with `content/`: plants, the sources that speak of them, and the jobs they
/// may do. Start one with `pondweigh sow my-guide`, look for faults with `pondweigh proof`, and make
/// the site with `pondweigh press`.
#[derive(Parser)]
#[command(
    name = "pondweigh",
    version,
    max_term_width = 100,
    arg_required_else_help = true
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
    /// How many threads to work with [default: one a core]
    #[arg(long, global = true, value_name = "N")]
    threads: Option<usize>,
}

#[derive(Subcommand)]
enum Command {
    /// Start a new guide with a small working example
    ///
    /// Makes the folder if it is not there; writes nothing into one that already has a guide.
    Sow {
        /// The folder of the new guide
        dir: PathBuf,
    },
    /// Read the whole guide and report every fault, with its place and what to do
    ///
    /// Reports all faults of all files in one run: errors, which keep the guide from being pressed,
    /// and apart from them warnings, which do not. Writes nothing.
    Proof(proof::Options),
    /// Show how the evidence weighs for one plant
    ///
    /// Says how the plant stands in each role in each water, and for each trait who said what and
    /// how much it counts. `--without` and `--with` answer what would be, and what that moves.
    Weigh(weigh::Weigh),
    /// Add a claim, slips or a spreadsheet of them to the entries
    ///
    /// Finds the plant by any of its names, shows the claim, where it goes and what it moves, and
    /// asks before it writes. The rest of each file stays as it is, to the letter. What stands in
    /// the guide already is not added twice; while anything is unclear, nothing is written.
    Enter(Box<enter::Enter>),
    /// Write JSON Schemas of the content files, for editors
    ///
    /// An editor that knows them completes keys and this guide's own words, and marks what cannot
    /// stand. The first line of each content file ties it to its schema. Run it again after a new
    /// source, trait or plant.
    Schema {
        /// The guide's folder, which has `content/` in it
        #[arg(default_value = ".")]
        guide: PathBuf,
        /// Where to write them [default: the guide's `content/.schemas/`]
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
    },
    /// Make the site
    ///
    /// Reads the guide, weighs every claim and writes the site. A guide with errors is not pressed,
    /// and the old site stays as it was. Files that would be the same are left alone; files of the
    /// last press that are no longer part of the site are deleted, and nothing else is.
    Press {
        /// The guide's folder, which has `content/` in it
        #[arg(default_value = ".")]
        guide: PathBuf,
        /// Where to write the site [default: the guide's `public/`]
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
    },
    /// Serve the guide on this machine while you edit it, and take observations
    ///
    /// Prints the address, which no other machine can reach. On every save the open page shows what
    /// it changes; faults stand in its place until they are mended. `/desk/` has a form that records
    /// an observation, shows what it would move, and writes it into the entry. Ctrl-C ends it.
    #[cfg(feature = "desk")]
    Desk {
        /// The guide's folder, which has `content/` in it
        #[arg(default_value = ".")]
        guide: PathBuf,
        /// The port [default: a free one]
        #[arg(long, value_name = "N")]
        port: Option<u16>,
        /// Open a browser on it
        #[arg(long)]
        open: bool,
    },
    /// Print the completions of a shell
    ///
    /// For bash, put `source <(pondweigh completions bash)` into `~/.bashrc`; other shells have a
    /// folder for them.
    Completions {
        /// The shell
        shell: Shell,
    },
    /// Print a page of the manual, or write all of them
    ///
    /// Read one with `pondweigh manual proof | man -l -`.
    Manual {
        /// The command [default: the program as a whole]
        command: Option<String>,
        /// Write every page into this folder
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
    },
    /// Record an edition: all grades and standings of a day, which can be cited
    ///
    /// Writes `content/editions/DATE.json`. Refuses where the guide has errors, where nothing moved
    /// since the last edition, and where there is one of that day already.
    Edition {
        /// The guide's folder, which has `content/` in it
        #[arg(default_value = ".")]
        guide: PathBuf,
        /// What is new, in a sentence
        #[arg(long)]
        note: String,
        /// The day of the edition, such as 2026-03-01 [default: today]
        #[arg(long)]
        date: Option<Date>,
    },
    /// Say what moved since an edition, or between two, and which claims did it
    ///
    /// Tells the traits whose level, confidence or contest changed and the standings that turned,
    /// each with the claims that came, went or changed.
    Shifts {
        /// The guide's folder
        #[arg(long, default_value = ".", value_name = "DIR")]
        guide: PathBuf,
        /// The day of the earlier edition [default: the one before]
        #[arg(long, value_name = "DATE")]
        from: Option<Date>,
        /// The day of the later edition [default: the guide as it is]
        #[arg(long, value_name = "DATE")]
        to: Option<Date>,
        /// The form in which they are told
        #[arg(long, default_value = "text")]
        form: shifts::Form,
    },
    /// Rename or remove a person everywhere in the content, editions included
    ///
    /// Says every place that it touches, and every place where the family name stands alone, for
    /// you to look at. Writes nothing where the guide would have errors or weigh otherwise.
    Person {
        #[command(subcommand)]
        what: PersonCommand,
    },
}

#[derive(Subcommand)]
enum PersonCommand {
    /// Give a person another name
    Rename {
        /// The name as it is, `Given Family`; `Family, Given` where the family name has blanks
        name: String,
        /// The new name
        #[arg(long, value_name = "NAME")]
        to: String,
        #[command(flatten)]
        how: How,
    },
    /// Name a person no longer
    Remove {
        /// The name as it is, `Given Family`; `Family, Given` where the family name has blanks
        name: String,
        /// What stands in place of the name
        #[arg(long = "as", default_value = "A member", value_name = "WORDS")]
        shown_as: String,
        #[command(flatten)]
        how: How,
    },
}

#[derive(clap::Args)]
struct How {
    /// The guide's folder
    #[arg(long, default_value = ".", value_name = "DIR")]
    guide: PathBuf,
    /// Only show what would change
    #[arg(long, conflicts_with = "yes")]
    show: bool,
    /// Write without asking
    #[arg(long)]
    yes: bool,
}

impl How {
    fn asked(&self) -> Asked {
        match (self.show, self.yes) {
            (true, _) => Asked::Show,
            (_, true) => Asked::Yes,
            _ => Asked::Ask,
        }
    }
}

/// Exit codes: 0 done, 1 the content has errors, 2 could not run.
const DONE: u8 = 0;
const CONTENT: u8 = 1;
const COULD_NOT: u8 = 2;

/// Runs the program.
pub(crate) fn run() -> ExitCode {
    let arguments = Arguments::parse();
    if let Some(threads) = arguments.threads {
        // Fails only where a pool is there already, which is then as good.
        let _ = rayon::ThreadPoolBuilder::new()
            .num_threads(threads.max(1))
            .build_global();
    }
    let code = match arguments.command {
        Command::Sow { dir } => sow::sow(&dir),
        Command::Proof(options) => proof::proof(&options),
        Command::Schema { guide, out } => schema::schema(&guide, out.as_deref()),
        Command::Weigh(asked) => weigh::weigh(&asked),
        Command::Enter(asked) => enter::enter(&asked),
        Command::Completions { shell } => manual::completions(shell),
        Command::Manual { command, out } => manual::manual(command.as_deref(), out.as_deref()),
        Command::Press { guide, out } => press(&guide, out.as_deref()),
        #[cfg(feature = "desk")]
        Command::Desk { guide, port, open } => desk::desk(&guide, port, open),
        Command::Edition { guide, note, date } => edition::edition(&guide, &note, date),
        Command::Shifts {
            guide,
            from,
            to,
            form,
        } => shifts::shifts(&guide, from, to, form),
        Command::Person { what } => match what {
            PersonCommand::Rename { name, to, how } => match Person::read(&to) {
                Some(to) => {
                    let change = Change::Rename(to);
                    person::person(&how.guide, &name, &change, how.asked())
                }
                None => Err("--to needs a name".to_owned()),
            },
            PersonCommand::Remove {
                name,
                shown_as,
                how,
            } => person::person(&how.guide, &name, &Change::Remove(shown_as), how.asked()),
        },
    };
    match code {
        Ok(code) => ExitCode::from(code),
        Err(why) => {
            eprintln!("error: {why}");
            ExitCode::from(COULD_NOT)
        }
    }
}

/// Prints a line of a result; a closed pipe is no fault.
fn say(text: &str) {
    let _ = writeln!(std::io::stdout().lock(), "{text}");
}

fn read(guide: &Path) -> Result<(Input, Vec<Diagnostic>), String> {
    if !guide.is_dir() {
        return Err(format!("there is no folder {}", guide.display()));
    }
    disk::read_guide(guide).map_err(|error| {
        format!("{error}: this is not a guide\n  hint: name the guide's folder, or start one with `pondweigh sow DIR`")
    })
}

fn summary_of(faults: &[Diagnostic]) -> String {
    let errors = faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error)
        .count();
    let warnings = faults.len() - errors;
    match (errors, warnings) {
        (0, 0) => "no faults".to_owned(),
        (0, n) => counted(n, "warning", "warnings"),
        (n, 0) => counted(n, "error", "errors"),
        (n, m) => format!(
            "{}, {}",
            counted(n, "error", "errors"),
            counted(m, "warning", "warnings")
        ),
    }
}

/// A guide's files with the guide weighed, where it is without errors; else its faults are shown, with
/// what is not done for them. `weigh` says what is looked at.
fn sound(
    guide: &Path,
    weigh: impl Fn(&Input) -> (Option<Weighed>, Vec<Diagnostic>),
    not_done: &str,
) -> Result<Option<(Input, Weighed)>, String> {
    let (input, unread) = read(guide)?;
    let (weighed, faults) = weigh(&input);
    if let Some(weighed) = weighed.filter(|_| !pondweigh::has_errors(&unread)) {
        return Ok(Some((input, weighed)));
    }
    let faults = all_faults(unread, faults);
    for fault in &faults {
        eprintln!("{}", report::shown(fault, &input, false));
    }
    eprintln!("{} in the guide: {not_done}.", summary_of(&faults));
    Ok(None)
}

/// Asks on the terminal; where nobody is there, the answer must have been given.
fn agreed(question: &str) -> Result<bool, String> {
    if !std::io::stdin().is_terminal() {
        return Err(
            "nobody is there to ask: give `--yes` to write, or `--show` to look".to_owned(),
        );
    }
    let mut out = std::io::stdout().lock();
    let _ = write!(out, "{question} [y/N] ");
    let _ = out.flush();
    drop(out);
    let mut line = String::new();
    std::io::stdin()
        .read_line(&mut line)
        .map_err(|error| error.to_string())?;
    Ok(matches!(line.trim().to_lowercase().as_str(), "y" | "yes"))
}

/// The last day that it is anywhere while it is today here: what is dated later is a slip.
fn latest_day() -> Date {
    let today = jiff::ZonedDateTime::now().date();
    today.tomorrow().unwrap_or(today)
}

/// Warnings of daily use, and dates that have not come yet.
fn daily(built: &Built) -> Vec<Diagnostic> {
    let ahead = pondweigh::proof::ahead(&built.dates, latest_day());
    [built.daily.clone(), ahead].concat()
}

fn all_faults(unread: Vec<Diagnostic>, faults: Vec<Diagnostic>) -> Vec<Diagnostic> {
    pondweigh::in_order([unread, faults].concat())
}

fn press(guide: &Path, out: Option<&Path>) -> Result<u8, String> {
    let start = Instant::now();
    let (input, unread) = read(guide)?;
    let out = out.map_or_else(|| guide.join("public"), Path::to_path_buf);
    let bar = progress_bar(&input);
    let has_unread = pondweigh::has_errors(&unread);
    let (built, faults) = pondweigh::build(&input, &|| bar.inc(1));
    bar.finish_and_clear();
    let faults = all_faults(unread, faults);
    let is_styled = std::io::stderr().is_terminal();
    for fault in faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error)
    {
        eprintln!("{}", report::shown(fault, &input, is_styled));
    }
    let Some(built) = built.filter(|_| !has_unread) else {
        eprintln!(
            "{} in the guide: nothing was pressed, and the old site is as it was.",
            summary_of(&faults)
        );
        return Ok(CONTENT);
    };
    if is_source(guide, &out) {
        return Err(format!(
            "{} belongs to what the guide is made from: nothing was pressed\n  hint: name a folder of its own with --out",
            out.display()
        ));
    }
    let written = pondweigh::files::disk::write(&built.site, &out).map_err(|error| {
        let hint = match error.kind() {
            std::io::ErrorKind::AlreadyExists => {
                "\n  hint: name an empty folder with --out, or move the file away"
            }
            _ => "",
        };
        format!("cannot write to {}: {error}{hint}", out.display())
    })?;
    let counts = built.counts;
    say(&format!(
        "Weighed {} on {} from {}.",
        counted(counts.claims, "claim", "claims"),
        counted(counts.plants, "plant", "plants"),
        counted(counts.sources, "source", "sources"),
    ));
    say(&format!(
        "Found {} and {}.",
        counted(counts.standings, "standing", "standings"),
        counted(counts.contested, "contested trait", "contested traits"),
    ));
    say(&format!(
        "Pressed {} into {}: {} changed, {} the same, {} deleted, in {:.1} s.",
        counted(counts.pages, "page", "pages"),
        out.display(),
        counted(written.changed, "file", "files"),
        written.same,
        written.deleted,
        start.elapsed().as_secs_f64(),
    ));
    let warnings = faults.len() + daily(&built).len();
    if warnings > 0 {
        say(&format!(
            "{}: see `pondweigh proof`.",
            counted(warnings, "warning", "warnings")
        ));
    }
    Ok(DONE)
}

/// Whether a folder is the guide's content or its themes, or below them.
fn is_source(guide: &Path, out: &Path) -> bool {
    let real = |path: &Path| {
        // Of a folder that is not there yet, what is there of its path.
        path.ancestors().find_map(|path| path.canonicalize().ok())
    };
    let out = real(&std::path::absolute(out).unwrap_or_else(|_| out.to_path_buf()));
    ["content", "themes"].iter().any(|folder| {
        let folder = guide.join(folder).canonicalize().ok();
        folder.is_some_and(|folder| out.as_ref().is_some_and(|out| out.starts_with(&folder)))
    })
}

/// A bar for work that a person would wait for; none where nobody watches.
fn progress_bar(input: &Input) -> ProgressBar {
    let plants = input
        .files
        .iter()
        .filter(|(path, _)| path.starts_with("content/plants/") && !path.ends_with("/genus.yaml"))
        .count();
    if plants < 200 || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("pressing {bar:40} {pos} of about {len} pages");
    let bar = ProgressBar::new(plants as u64);
    bar.with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}

//! Adds claims to the entries: one given by its parts, slips, or a sheet.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use pondweigh::Weighed;
use pondweigh::content::Input;
use pondweigh::diagnostic::counted;
use pondweigh::intake::{self, DateOrder, Edit, Entered, Move, Slip, Trouble};

use crate::cli::{CONTENT, DONE, agreed, latest_day, report, say, sound};

/// How many moves are told one by one.
const MOST_MOVES: usize = 24;

/// Which of day and month comes first in dates such as 3/4/2025.
#[derive(Clone, Copy, ValueEnum)]
pub(crate) enum Dates {
    /// 3/4/2025 is 3 April
    DayFirst,
    /// 3/4/2025 is 4 March
    MonthFirst,
}

/// What is entered, and how.
#[derive(Args)]
pub(crate) struct Enter {
    /// The plant, by any name that the guide knows
    #[arg(required_unless_present_any = ["slip", "sheet"], conflicts_with_all = ["slip", "sheet"])]
    plant: Option<String>,
    /// What was watched, such as `growth`
    #[arg(requires = "plant")]
    trait_id: Option<String>,
    /// What was seen: `fast`, `12 cm to 17 cm in 20 d`, `doubles in 9 d`, `25..35 umol/m2/s`
    #[arg(requires = "trait_id", allow_hyphen_values = true)]
    value: Option<String>,
    /// Whose observation it is: a source's id or title; for slips and rows that name none
    #[arg(long, value_name = "SOURCE")]
    source: Option<String>,
    /// When it was seen: a date, or two with `/` between
    #[arg(long, value_name = "DATE", conflicts_with_all = ["slip", "sheet"])]
    seen: Option<String>,
    /// A condition with its value, such as `light=low`; may be given again
    #[arg(long = "where", value_name = "CONDITION=VALUE", conflicts_with_all = ["slip", "sheet"])]
    conditions: Vec<String>,
    /// Another key of the claim, such as `tank=reading-room` or `of=length`; may be given again
    #[arg(
        long = "also",
        value_name = "KEY=VALUE",
        conflicts_with_all = ["slip", "sheet"],
        allow_hyphen_values = true
    )]
    also: Vec<String>,
    /// The club's remark
    #[arg(
        long,
        value_name = "TEXT",
        conflicts_with_all = ["slip", "sheet"],
        allow_hyphen_values = true
    )]
    remark: Option<String>,
    /// A slip in a file, every slip of a folder, or `-` for one pasted
    #[arg(long, value_name = "FILE", conflicts_with = "sheet")]
    slip: Option<PathBuf>,
    /// A spreadsheet, as .csv or .xlsx: columns plant, trait, value, source, date, conditions, remark
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// What a date such as 3/4/2025 means
    #[arg(long, value_enum)]
    dates: Option<Dates>,
    /// Write the clear ones even if others are not
    #[arg(long)]
    partly: bool,
    /// Make the source, with this title; `--source` is then its id
    #[arg(long, value_name = "TITLE", requires = "source")]
    new_source: Option<String>,
    /// Kind of the new source
    #[arg(
        long,
        value_name = "KIND",
        default_value = "note",
        requires = "new_source"
    )]
    source_kind: String,
    /// Make the plant's entry, with this growth form; the plant is then its full name
    #[arg(long, value_name = "FORM", conflicts_with_all = ["slip", "sheet"])]
    new_plant: Vec<String>,
    /// Show what would be written, and write nothing
    #[arg(long, conflicts_with = "yes")]
    show: bool,
    /// Write without asking
    #[arg(long)]
    yes: bool,
    /// The guide's folder
    #[arg(long, default_value = ".", value_name = "DIR")]
    guide: PathBuf,
}

/// Enters claims.
pub(crate) fn enter(asked: &Enter) -> Result<u8, String> {
    let not_done = "nothing is entered until the errors are mended";
    let Some((input, before)) = sound(&asked.guide, pondweigh::weigh, not_done)? else {
        return Ok(CONTENT);
    };
    let new = new_files(asked, &input, &before)?;
    let input_with_new = intake::with(&input, &new);
    let weighed_with_new;
    let with_new = if new.is_empty() {
        &before
    } else {
        match intake::weighed_with(&input, &new) {
            Ok(weighed) => {
                weighed_with_new = weighed;
                &weighed_with_new
            }
            Err(faults) => {
                for fault in &faults {
                    eprintln!("{}", report::shown(fault, &input_with_new, false));
                }
                eprintln!("The new entry would have faults: nothing was written.");
                return Ok(CONTENT);
            }
        }
    };
    let (slips, mut troubles) = handed_in(asked, with_new)?;
    let latest = Some(latest_day());
    let mut entered = intake::entered(
        &input_with_new,
        with_new,
        &slips,
        asked.source.as_deref(),
        latest,
    );
    let unread_slips: Vec<usize> = troubles.iter().map(|trouble| trouble.slip).collect();
    // What was told of a column is not told again as a fault of the claim without it.
    let told: Vec<(usize, Option<String>)> = troubles
        .iter()
        .map(|trouble| (trouble.slip, trouble.column.clone()))
        .collect();
    entered.troubles.retain(|trouble| {
        let of = (trouble.slip, trouble.column.clone());
        !told.contains(&of)
    });
    troubles.append(&mut entered.troubles);
    if !unread_slips.is_empty() && asked.partly && !slips.is_empty() {
        // A slip of which one part cannot be read is not written without that part.
        let sound: Vec<Slip> = slips
            .iter()
            .enumerate()
            .filter(|(at, _)| !unread_slips.contains(at))
            .map(|(_, slip)| slip.clone())
            .collect();
        entered = intake::entered(
            &input_with_new,
            with_new,
            &sound,
            asked.source.as_deref(),
            latest,
        );
    }
    troubles.sort_by(|a, b| (a.slip, &a.column, &a.title).cmp(&(b.slip, &b.column, &b.title)));
    troubles.dedup();
    for trouble in &troubles {
        say(&format!("{trouble}\n"));
    }
    if !troubles.is_empty() && !asked.partly {
        let slips: std::collections::BTreeSet<usize> = troubles.iter().map(|t| t.slip).collect();
        say(&format!(
            "{} in {}: nothing was written. Settle them and enter it again; what stands in the guide by then is not added twice.{}",
            counted(troubles.len(), "trouble", "troubles"),
            counted(slips.len(), "observation", "observations"),
            if entered
                .added
                .iter()
                .any(|added| !unread_slips.contains(&added.slip))
            {
                " `--partly` writes the others."
            } else {
                ""
            }
        ));
        return Ok(CONTENT);
    }
    settle(asked, &before, &input, new, &entered, troubles.is_empty())
}

/// Shows what would be written and what it moves, asks, and writes.
fn settle(
    asked: &Enter,
    before: &Weighed,
    input: &Input,
    new: Vec<Edit>,
    entered: &Entered,
    is_clean: bool,
) -> Result<u8, String> {
    let code = if is_clean { DONE } else { CONTENT };
    if !entered.already.is_empty() {
        let already = counted(
            entered.already.len(),
            "observation stands",
            "observations stand",
        );
        say(&format!("{already} in the guide already."));
    }
    for (again, first) in &entered.twice {
        say(&format!(
            "{again} says the same as {first}, which is written."
        ));
    }
    let edits = together(input, new, &entered.edits);
    if edits.is_empty() {
        say("0 claims to add: nothing was written.");
        return Ok(code);
    }
    for edit in edits.iter().filter(|edit| edit.before.is_none()) {
        say(&format!("new file {}", edit.path));
    }
    for added in &entered.added {
        say(&format!("{}:{}  {}", added.path, added.line, added.subject));
        say(&format!("  + {}", added.claim));
    }
    let after = match intake::weighed_with(input, &edits) {
        Ok(after) => after,
        Err(faults) => {
            let with = intake::with(input, &edits);
            for fault in &faults {
                eprintln!("{}", report::shown(fault, &with, false));
            }
            return Err("the guide would have faults: nothing was written".to_owned());
        }
    };
    tell(&intake::moves(before, &after, &entered.plants));
    let claims = counted(entered.added.len(), "claim", "claims");
    if asked.show {
        say(&format!(
            "{claims} to add. Nothing was written: `--show` was given."
        ));
        return Ok(code);
    }
    if !asked.yes && !agreed("Write it?")? {
        say("Nothing was written.");
        return Ok(code);
    }
    intake::disk::write(&asked.guide, &edits).map_err(|error| error.to_string())?;
    say(&format!(
        "Added {claims} to {}. `pondweigh press` makes the pages anew.",
        counted(edits.len(), "file", "files")
    ));
    Ok(code)
}

/// What the claims move, plant by plant.
fn tell(moves: &[Move]) {
    if moves.is_empty() {
        say("Nothing moves: no grade and no standing is another.");
        return;
    }
    say("What moves:");
    let mut plant = "";
    for one in moves.iter().take(MOST_MOVES) {
        if one.plant != plant {
            say(&format!("  {}", one.plant));
            plant = &one.plant;
        }
        say(&format!("    {}: {} → {}", one.of, one.from, one.to));
    }
    if moves.len() > MOST_MOVES {
        say(&format!("    … and {} more", moves.len() - MOST_MOVES));
    }
}

/// New files with the claims that went into them, and the changed ones.
fn together(input: &Input, new: Vec<Edit>, edits: &[Edit]) -> Vec<Edit> {
    let mut out: Vec<Edit> = new;
    for edit in edits {
        out.retain(|one| one.path != edit.path);
        out.push(Edit {
            before: input.text(&edit.path).map(str::to_owned),
            ..edit.clone()
        });
    }
    out.sort_by(|a, b| a.path.cmp(&b.path));
    out
}

/// The files of a plant and a source that are to be made.
fn new_files(asked: &Enter, input: &Input, weighed: &Weighed) -> Result<Vec<Edit>, String> {
    let mut out = Vec::new();
    if let (Some(title), Some(id)) = (&asked.new_source, &asked.source) {
        if let Some(other) = intake::source_titled(&weighed.guide, title) {
            return Err(format!(
                "there is a source with the title \"{title}\": `{other}`\n  hint: name it with `--source {other}`; under a second id it would be heard twice"
            ));
        }
        if !intake::is_new_id(&weighed.guide, id) {
            return Err(format!(
                "`{id}` cannot be the id of a new source\n  hint: small letters, digits and hyphens, and none that the guide has"
            ));
        }
        out.push(intake::new_source(input, id, title, &asked.source_kind));
    }
    if let (Some(name), false) = (&asked.plant, asked.new_plant.is_empty()) {
        out.push(intake::new_plant(input, weighed, name, &asked.new_plant)?);
        if let Some(other) = intake::almost(weighed, name).first() {
            say(&format!(
                "Look twice: the guide has `{other}`, which is spelled almost so."
            ));
        }
    }
    Ok(out)
}

/// The slips that were handed in, with what could not be read of them.
fn handed_in(asked: &Enter, weighed: &Weighed) -> Result<(Vec<Slip>, Vec<Trouble>), String> {
    let order = asked.dates.map(|dates| match dates {
        Dates::DayFirst => DateOrder::DayFirst,
        Dates::MonthFirst => DateOrder::MonthFirst,
    });
    let files = |path: &Path| {
        intake::disk::handed_in(path)
            .map_err(|error| format!("cannot read {}: {error}", path.display()))
    };
    let mut slips = Vec::new();
    let mut troubles = Vec::new();
    if let Some(path) = &asked.sheet {
        for (name, bytes) in files(path)? {
            let (found, faults) = match table(&name, &bytes) {
                Ok(table) => {
                    intake::sheet(&table, &name, &weighed.guide, order, asked.source.is_some())
                }
                Err(trouble) => intake::unread(trouble, &name),
            };
            gather(&mut slips, &mut troubles, found, faults);
        }
    } else if let Some(path) = &asked.slip {
        for (name, bytes) in files(path)? {
            // What is no UTF-8 is told with the other troubles.
            let text = String::from_utf8_lossy(&bytes);
            let (found, faults) = intake::slips(&text, &name, &weighed.guide, order);
            gather(&mut slips, &mut troubles, found, faults);
        }
    } else {
        // The parts of one claim are a sheet of one row.
        let mut head = vec!["plant", "trait", "value", "seen", "where", "remark"];
        let conditions = asked.conditions.join("; ");
        let text = |part: &Option<String>| part.as_deref().unwrap_or_default().trim().to_owned();
        let mut row = vec![
            text(&asked.plant),
            text(&asked.trait_id),
            text(&asked.value),
            text(&asked.seen),
            conditions,
            text(&asked.remark),
        ];
        for given in &asked.also {
            let pair = given
                .split_once('=')
                .map(|(key, value)| (key.trim(), value.trim()));
            let (key, value) = pair.filter(|(key, _)| !key.is_empty()).ok_or_else(|| {
                format!("`{given}` is no key with its value, such as `tank=reading-room`")
            })?;
            if let Some((_, own)) = OWN_OPTIONS.iter().find(|(of, _)| *of == key) {
                return Err(format!("`{given}`: say it with {own}"));
            }
            head.push(key);
            row.push(value.to_owned());
        }
        let head: Vec<String> = head.into_iter().map(str::to_owned).collect();
        let (found, faults) = intake::sheet(&vec![head, row], "given", &weighed.guide, order, true);
        let here = |place: &mut String| *place = "the observation".to_owned();
        let mut found = found;
        found.iter_mut().for_each(|slip| here(&mut slip.place));
        let mut faults = faults;
        faults.iter_mut().for_each(|fault| here(&mut fault.place));
        gather(&mut slips, &mut troubles, found, faults);
    }
    Ok((slips, troubles))
}

/// Keys of a claim that have an option or a place of their own.
const OWN_OPTIONS: &[(&str, &str)] = &[
    ("plant", "the first word after `enter`"),
    ("trait", "the second word after `enter`"),
    ("value", "the third word after `enter`"),
    ("source", "`--source`"),
    ("seen", "`--seen`"),
    ("date", "`--seen`"),
    ("where", "`--where`"),
    ("conditions", "`--where`"),
    ("remark", "`--remark`"),
];

/// Joins what one file gave to what others gave; slips are numbered through.
fn gather(
    slips: &mut Vec<Slip>,
    troubles: &mut Vec<Trouble>,
    found: Vec<Slip>,
    faults: Vec<Trouble>,
) {
    let before = slips.len();
    troubles.extend(faults.into_iter().map(|trouble| Trouble {
        slip: trouble.slip + before,
        ..trouble
    }));
    slips.extend(found);
}

fn table(name: &str, bytes: &[u8]) -> Result<intake::Table, Trouble> {
    #[cfg(feature = "sheets")]
    if name.to_lowercase().ends_with(".xlsx") {
        return intake::xlsx_table(bytes);
    }
    let _ = name;
    intake::csv_table(bytes)
}

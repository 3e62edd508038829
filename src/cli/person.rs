//! Renames or removes a person everywhere in the content, and says what it touched.

use std::path::Path;

use pondweigh::diagnostic::counted;
use pondweigh::people::{Change, Person, Plan, disk};

use crate::cli::{CONTENT, DONE, agreed, all_faults, read, report, say};

/// Most places for a human that are shown.
const MOST_MENTIONS: usize = 60;

/// Whether the changes are written.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Asked {
    /// Only shown.
    Show,
    /// After a question.
    Ask,
    /// Without a question.
    Yes,
}

/// Shows the changes, asks, and writes them.
pub(crate) fn person(
    guide: &Path,
    name: &str,
    change: &Change,
    asked: Asked,
) -> Result<u8, String> {
    let person = Person::read(name).ok_or("say whose name it is")?;
    let (input, unread) = read(guide)?;
    if pondweigh::has_errors(&unread) {
        for fault in all_faults(unread, Vec::new()) {
            eprintln!("{}", report::shown(&fault, &input, false));
        }
        eprintln!("Nothing was changed: not all of the guide could be read.");
        return Ok(CONTENT);
    }
    let plan = match pondweigh::person(&input, &person, change) {
        Ok(plan) => plan,
        Err(why) => {
            eprintln!("Nothing was changed: {why}.");
            return Ok(CONTENT);
        }
    };
    tell(&plan, plan.person.as_ref().unwrap_or(&person));
    if plan.touched.is_empty() {
        return Ok(CONTENT);
    }
    match asked {
        Asked::Show => {
            say("");
            say("Nothing was written, as --show says.");
            return Ok(DONE);
        }
        Asked::Ask if !agreed("\nWrite these changes?")? => {
            say("Nothing was written.");
            return Ok(DONE);
        }
        Asked::Ask | Asked::Yes => {}
    }
    disk::write(guide, &plan.files).map_err(|error| format!("cannot write: {error}"))?;
    say("");
    say(&format!(
        "Written: {}. The guide weighs as before.",
        counted(plan.files.len(), "file", "files")
    ));
    say(AFTER);
    Ok(DONE)
}

/// What a change of the content alone does not do.
const AFTER: &str = "\
Still to do:
  Press and publish the site again: the one that is out has the name still.
  Version control keeps what was there before, and so does every clone and every copy of the
  site. To take the name out of them too, the history has to be rewritten, every clone replaced
  and the host asked to forget what it has cached: ask whoever looks after your repository.";

fn tell(plan: &Plan, person: &Person) {
    let name = person.full();
    if plan.touched.is_empty() {
        say(&format!("“{name}” is nowhere in the content by that name."));
        if !plan.near.is_empty() {
            say(&format!("Did you mean {}?", plan.near.join(", or ")));
        }
    } else {
        say(&format!(
            "{} of “{name}”:",
            counted(plan.touched.len(), "change", "changes")
        ));
    }
    for touch in &plan.touched {
        say(&format!("  {}:{}: {}", touch.file, touch.line, touch.what));
    }
    if !plan.mentions.is_empty() {
        say("");
        say("For you to look at, and to change by hand where the person is meant:");
    }
    for mention in plan.mentions.iter().take(MOST_MENTIONS) {
        let place = match mention.line {
            0 => mention.file.clone(),
            line => format!("{}:{line}", mention.file),
        };
        say(&format!("  {place}: {}", mention.text));
    }
    if plan.mentions.len() > MOST_MENTIONS {
        say(&format!(
            "  and {} more places",
            plan.mentions.len() - MOST_MENTIONS
        ));
    }
    for (old, new) in &plan.ids {
        say("");
        say(&format!(
            "The page sources/{old}/ will be at sources/{new}/: links to it from elsewhere will fail."
        ));
    }
}

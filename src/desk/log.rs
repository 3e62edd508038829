//! What the desk says on the terminal: a line for each refusal and each save, never a flood.

use std::sync::Mutex;

use tokio::time::Duration;

use crate::desk::clock::{Since, time_of_day};

/// Most lines of refusals in a second. Our choice: a person cannot read more.
const MOST_LINES: usize = 20;

/// Takes lines to where they are shown.
pub type Tell = dyn Fn(&str) + Send + Sync;

/// The log of one desk.
pub(crate) struct Log {
    tell: Box<Tell>,
    refusals: Mutex<Refusals>,
}

struct Refusals {
    since: Since,
    told: usize,
    untold: usize,
}

impl Log {
    pub(crate) fn new(tell: Box<Tell>) -> Log {
        Log {
            tell,
            refusals: Mutex::new(Refusals {
                since: Since::now(),
                told: 0,
                untold: 0,
            }),
        }
    }

    /// Says a line.
    pub(crate) fn say(&self, line: &str) {
        (self.tell)(&format!("{} {line}", time_of_day()));
    }

    /// Says more of the line before.
    pub(crate) fn add(&self, line: &str) {
        (self.tell)(&format!("          {line}"));
    }

    /// Says what was refused and why.
    pub(crate) fn refused(&self, what: &str, why: &str) {
        let Ok(mut refusals) = self.refusals.lock() else {
            return;
        };
        if refusals.since.elapsed() >= Duration::from_secs(1) {
            if refusals.untold > 0 {
                self.say(&format!("refused {} more", refusals.untold));
            }
            *refusals = Refusals {
                since: Since::now(),
                told: 0,
                untold: 0,
            };
        }
        if refusals.told < MOST_LINES {
            refusals.told += 1;
            self.say(&format!("refused {what}: {why}"));
        } else {
            refusals.untold += 1;
        }
    }
}

//! The clock of the desk, for its limits and its log. No page depends on it.

use std::time::{Instant, SystemTime, UNIX_EPOCH};

use tokio::time::Duration;

/// A moment from which time is taken.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Since(Instant);

impl Since {
    pub(crate) fn now() -> Since {
        Since(Instant::now())
    }

    pub(crate) fn elapsed(self) -> Duration {
        self.0.elapsed()
    }
}

/// The time of day in UTC, which needs no table of time zones.
pub(crate) fn time_of_day() -> String {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    let seconds = since.map_or(0, |since| since.as_secs()) % 86_400;
    format!(
        "{:02}:{:02}:{:02}Z",
        seconds / 3600,
        seconds / 60 % 60,
        seconds % 60
    )
}

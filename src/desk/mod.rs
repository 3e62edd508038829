//! The desk: the guide served on this machine while it is edited, with a form for observations.
//!
//! `forme` is the guide in memory and knows nothing of disk or requests; `watch` takes up what is
//! saved; `server` answers requests that `guard` lets through. Pages are looked up as addresses of
//! the site: no path of the disk is ever made from a request.

pub mod forme;

pub mod disk;

mod carried;

mod in_place;

#[cfg(feature = "desk")]
mod clock;

#[cfg(feature = "desk")]
mod guard;

#[cfg(feature = "desk")]
mod log;

#[cfg(feature = "desk")]
mod server;

#[cfg(feature = "desk")]
mod sheets;

#[cfg(feature = "desk")]
mod entering;

#[cfg(feature = "desk")]
mod form;

#[cfg(feature = "desk")]
mod watch;

#[cfg(feature = "desk")]
mod opening;

#[cfg(feature = "desk")]
pub use {
    log::Tell,
    opening::{Opening, open},
    server::Shown,
};

//! Pondweigh weighs what is said of water plants and presses it into a guide.

pub mod diagnostic;

pub mod quantity;

pub mod content;

pub mod names;

pub mod claims;

pub mod reconcile;

pub mod roles;

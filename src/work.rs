//! From a job and a structure (which boards are dead when, which circuit moves in which
//! session, who rides on what) to the tasks that carry it out.
//!
//! `projects` finds which boards belong together, `structure` says what is decided before
//! anything is scheduled, and `session` writes the tasks of one session with their order.

pub mod piece;
pub mod projects;
pub mod session;
pub mod structure;

pub use piece::{Crew, Piece, Role};
pub use projects::{Project, Route, projects};
pub use structure::{DeadSet, Opening, Ride, Session, Structure};

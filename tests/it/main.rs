//! The one integration test binary. Each module says what belongs in it.

mod diagrams;
mod emergency;
mod generator;
mod jobfile;
mod lock_ledger;
mod mutants;
mod network;
mod oracle;
mod pack;
mod pages;
mod planning;
mod properties;
mod readme;
mod records;
mod rooms;
mod schedule;
mod second_opinion;
mod seeded;
mod sheets;
mod soundness;
mod support;
mod third_party;
mod tracing;
mod verify;

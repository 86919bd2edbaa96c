//! The one integration test binary. Each module says what belongs in it.

mod network;
mod records;
mod schedule;

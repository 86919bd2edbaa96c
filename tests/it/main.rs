//! The one integration test binary. Each module says what belongs in it.

mod records;
mod schedule;

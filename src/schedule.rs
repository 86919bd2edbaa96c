//! A general scheduling core: tasks, workers, pools of things, minutes. It knows nothing of the
//! trade it serves, and imports nothing from the rest of the crate.
//!
//! ```text
//! Problem, order ─ decode ─▶ Schedule, or Stuck with the task and the reason
//! Problem, order, objective ─ improve ─▶ the best order found, its Schedule and cost
//! Problem, Schedule ─ right_shift ─▶ the same work, chosen tasks as late as they may be
//! Problem ─ lower_bound ─▶ a makespan no schedule can beat
//! Problem, Schedule ─ check ─▶ every Fault, by a slow and obvious reading of the rules
//! weighted pieces ─ smith ─▶ their best order on one machine
//! ```
//!
//! The rules a schedule keeps are told once, at [`Problem`]. All results depend on the input
//! alone: no clock, no thread, no hash order, and no floating-point function whose last digit may
//! differ from one machine to the next.

mod bound;
mod check;
mod decode;
mod improve;
mod parallel;
mod problem;
mod random;
mod serial;
mod shift;
mod smith;
mod tables;
mod timeline;

pub use bound::lower_bound;
pub use check::{Fault, check};
pub use decode::{Scratch, Stuck, Why, decode, decode_into};
pub use improve::{Improved, Waits, decode_waiting, improve, improve_until};
pub use problem::{Generation, Problem, Schedule, Task, Time, Worker, WorkerSet};
pub use shift::right_shift;
pub use smith::{Piece, SmithOrder, smith};

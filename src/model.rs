//! The job resolved: tables of facts with typed ids. It knows no file text and no clock.

pub mod ids;
pub mod job;
pub mod labour;
pub mod task;
pub mod wires;

pub use ids::*;
pub use job::*;
pub use labour::*;
pub use task::{Mode, Task, TaskKind};
pub use wires::{Lanes, Wire, WireSet};

//! The job resolved: tables of facts with typed ids. It knows no file text; of the clock
//! it only knows, in `site`, how an instant is printed.

mod coils;
pub mod ids;
pub mod job;
pub mod labour;
pub mod pin;
pub mod site;
pub mod task;
pub mod wires;

pub use ids::*;
pub use job::*;
pub use labour::*;
pub use pin::{Pin, PinKind};
pub use site::Site;
pub use task::{Mode, Task, TaskKind};
pub use wires::{Lanes, Wire, WireSet};

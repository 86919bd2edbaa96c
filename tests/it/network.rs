//! The network: what is live, what is secured and which locks would secure it, each against a
//! naive walk over the job (`oracle`) on random jobs (`random`), and some networks by hand.

mod by_hand;
mod cuts;
pub mod oracle;
pub mod random;
mod scale;
mod secured;
mod share;
mod traced;
mod way;

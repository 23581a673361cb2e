//! The loop learned from its record: resistance, need, replay under another setting.
//!
//! Comes in: operating points, valve positions, pump models. Goes out: [`Learned`] (common resistance, a conductance a coil,
//! valve authority), the head each row really needed ([`Need`]), and [`Replay`], which prices any other duty through the same
//! pump, motor and drive. The decision a reader would question: the coils are lumped on one pair of headers behind one common
//! resistance, so that no branch length need be declared; what that leaves unexplained is stated as a scatter.

mod learn;
mod need;
mod replay;

pub use learn::{Learned, installed, learn};
pub use need::{AtDesign, CoilNeeds, NEEDIEST_OPEN, Need, need};
pub use replay::{Replay, Settles};

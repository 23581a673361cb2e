//! Formulas from books: quantities in, quantities out; knows no files, no frames, no plant.
//!
//! Comes in: single numbers with their unit in the type (fluids, heat, coils) or plain `f64` slices with the unit in the
//! name (curves, which are called millions of times). Goes out: the same. Outside the range of its source a formula
//! answers `None` or NaN, never an extrapolation. It judges nothing and learns nothing: that is for the stages above.
//! Start at [`curve`] for pumps, at [`fluid`] for what they pump.

pub mod change;
mod coefficients;
pub mod coil;
pub mod curve;
pub mod deadhead;
pub mod fluid;
pub mod motor;
pub mod pchip;
pub mod raised;
pub mod steady;
pub mod student;
pub mod system;
pub mod viscosity;

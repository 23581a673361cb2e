//! What is asserted of any input whatever: the bodies of the fuzz targets, shared with tests/it, which runs the kept inputs through them.

pub mod cells;
pub mod containers;
pub mod plant;
pub mod text;
pub mod times;

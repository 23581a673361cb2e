//! Not built yet.

use super::cannot_tell;
use crate::faults::{Case, Fault, Verdict};

const FAULT: Fault = Fault::SetpointTooLow;

/// One verdict.
pub fn judge(_case: &Case) -> Vec<Verdict> {
    vec![cannot_tell(FAULT, "loop", &[], "not built yet")]
}

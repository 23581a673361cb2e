//! Whether a setting would have been enough: over all rows, and one after another for every coil.
//!
//! At most [`MISSED`] of the judged rows may lie below the need with its margin; no coil more than two in a row below its need; a coil that serves a
//! process, a critical load or domestic hot water not once, margin and all; and no machine's least flow may be undercut, nor a bypass
//! valve that keeps it be asked to open further than it can.

use super::least_flow;
use super::proposal::Proposal;
use super::record::{Record, Row};
use crate::plant::Serves;

/// Share of running rows whose need a setting may miss.
pub const MISSED: f64 = 0.005;
/// Added to the need [-]: what the learned loop leaves unexplained and the season to come (stated to the reader).
pub const MARGIN: f64 = 0.10;
/// Rows in a row that a coil may be short.
const IN_A_ROW: usize = 2;
/// A flow this far under its limit counts as kept [-]: within the model's own error.
const KEPT: f64 = 0.02;

/// Head at the pumps that a row is held to [kPa]: its need with the margin, never more than today's setting gives. What a coil is owed at most is
/// taken by the loop that asks most already, and carries no margin on top.
pub fn wanted(row: &Row) -> f64 {
    let margin = if row.owed { 0.0 } else { MARGIN };
    (row.need * (1.0 + margin)).min(row.from)
}

/// Whether it holds.
pub fn enough(record: &Record, p: &Proposal, least_flow: f64) -> bool {
    let mut runs: Vec<(usize, usize)> = vec![(usize::MAX, 0); record.b.plant.coils.len()];
    let (mut judged, mut short, mut past, mut under) = (0usize, 0usize, 0usize, 0.0);
    for row in &record.rows {
        let (flow, head) = p.puts(record, row, row.open);
        if flow < (1.0 - KEPT) * least_flow.min(row.flow) {
            return false;
        }
        past += usize::from(least_flow::bypass_ends(row.bypass, head / row.from));
        under += record.held.map_or(0.0, |held| held.more_under(row, head / row.from));
        if !row.judged {
            continue;
        }
        judged += 1;
        if head >= wanted(row) - 1e-6 {
            continue;
        }
        short += 1;
        if short as f64 > MISSED * record.rows.len() as f64 {
            return false;
        }
        let Some(coils) = &record.coils else { return false };
        let guarded = |coil: usize| record.b.plant.coils[coil].serves != Serves::Comfort;
        if coils.short_below(row.i, head / (1.0 + MARGIN), &record.left_out).any(guarded) {
            return false;
        }
        for coil in coils.short_below(row.i, head, &record.left_out) {
            let run = &mut runs[coil];
            *run = (row.i, if run.0.wrapping_add(record.stride) == row.i { run.1 + 1 } else { 1 });
            if run.1 > IN_A_ROW {
                return false;
            }
        }
    }
    short as f64 <= MISSED * judged as f64 && past as f64 + under <= MISSED * record.rows.len() as f64
}

//! A setpoint that follows the widest valve, as an alternative: what it would have saved on the record.
//!
//! Trim and respond holds the pressure a little above the need of the hour and gives it back when a valve asks; ASHRAE Guideline 36-2021, 5.20.5.2,
//! in the form public models carry it (trim 2 %, respond 3 % a request, every 5 min). Its lag is a margin on the need here.

use super::enough::{MARGIN, wanted};
use super::proposal::{Proposal, Set};
use super::record::Record;

/// Over the need, for its lag [-]: a few trims and one response (derived from the steps above).
const RESPONSE: f64 = 0.05;
/// Share of rows whose need lies below the low end, and above the high end [-].
const LOW_END: f64 = 0.02;
const HIGH_END: f64 = 0.995;

/// The reset, where every judged row knows its neediest valve.
pub fn proposal(record: &Record, like: &Proposal) -> Option<Proposal> {
    let mut needs: Vec<f64> = record.rows.iter().filter(|r| r.judged).map(wanted).collect();
    if record.coils.is_none() || needs.is_empty() {
        return None;
    }
    needs.sort_by(f64::total_cmp);
    let at = |p: f64| needs[((needs.len() - 1) as f64 * p) as usize];
    let high = record.today.at_pumps();
    let high = high.head(high.design_flow).max(at(HIGH_END));
    let set =
        Set::Reset { low: at(LOW_END).ceil(), high: high.ceil(), response: (1.0 + MARGIN) * (1.0 + RESPONSE) - 1.0 };
    Some(Proposal { set, ..*like })
}

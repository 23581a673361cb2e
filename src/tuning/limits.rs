//! What bounded a proposal, in sentences.

use super::curve::flow_words;
use super::enough::{MARGIN, MISSED};
use super::mend::Pegged;
use super::plan::neediest;
use super::proposal::{Proposal, Set};
use super::record::Record;
use super::{Basis, Today, least_flow, record, saving};
use crate::plant::{Bypass, Role, Serves, Valve};

/// A record that saw less than this of design flow should be looked at again [-].
const SEEN: f64 = 0.85;

/// A least flow that may lie this much lower is to be measured [-].
const KNOWN: f64 = 0.1;

pub fn limits(
    rows: &Record,
    today: &Today,
    p: &Proposal,
    high: f64,
    pegged: &Pegged,
    floor: Option<String>,
) -> Vec<String> {
    let b = rows.b;
    let design = today.design_flow();
    let mut out = Vec::new();
    if let Some(coil) = neediest(b) {
        out.push(format!("{coil} was the neediest coil most often; its valve at 90 % open set the head"));
    }
    if b.plant.coils.iter().any(|c| c.valve == Some(Valve::PressureIndependent)) {
        out.push("pressure-independent valves are given their declared least pressure plus all the pipe that today's design head leaves room for".to_owned());
    }
    out.push(format!(
        "no coil is owed more than its declared flow, and the first {:.0} min after a start are not held to it: valves stand open then whatever the head is",
        record::PULL_DOWN_MIN
    ));
    out.push(format!(
        "at most {:.1} % of the running hours may be short of it, never more than two rows in a row for any coil",
        100.0 * MISSED
    ));
    for c in b.plant.coils.iter().filter(|c| c.serves != Serves::Comfort) {
        out.push(format!("{} serves more than comfort: it is never short in the replay", c.name));
    }
    out.push(format!(
        "the highest flow seen was {}; above it today's curve stays, since this record says nothing of it",
        flow_words(high)
    ));
    if design > 0.0 && high < SEEN * design {
        out.push(format!(
            "the highest flow seen is {:.0} % of design flow: look again after a month with more load",
            100.0 * high / design
        ));
    }
    out.push(match b.learned {
        Some(l) => format!(
            "a margin of {:.0} % on the need, which covers what the learned loop leaves unexplained ({:.0} %)",
            100.0 * MARGIN,
            100.0 * l.scatter
        ),
        None => format!("a margin of {:.0} % on the need", 100.0 * MARGIN),
    });
    if let (Today::Remote(pipe), Set::Remote(_)) = (today, p.set) {
        out.push(format!(
            "the pipe between pumps and sensor takes {:.0} kPa at design flow, learned to {:.0} %",
            pipe.resistance * design * design,
            100.0 * pipe.scatter
        ));
    }
    for r in &pegged.unknown {
        out.push(format!(
            "the valve of {} is fully open for {:.0} % of its hours and its air is not trended: whether it needs that, or is to be mended, would change the setting",
            b.plant.coils[r.coil].name,
            100.0 * r.share
        ));
    }
    out.extend(floor);
    out.push(machines(b, rows));
    out.extend(known(rows));
    if b.frost.iter().any(|f| *f) {
        out.push("hours of frost are left as they are, and nothing of the saving is counted in them".to_owned());
    }
    out.push(year(rows, high));
    out
}

fn machines(b: &Basis, record: &Record) -> String {
    match least_flow::declared(b) {
        Some(least) if b.plant.system.bypass == Some(Bypass::TwoWay) => format!(
            "the machines' least flow, {}, must be held at their worst combination: a bypass passes less at lower pressure (its flow goes as the root of pressure), so check it at the new setting{}",
            flow_words(least),
            if record.held.is_some() {
                "; hours in which it lags today would last longer by that root: at most half a per cent of the running hours more are allowed"
            } else {
                ""
            }
        ),
        Some(least) => format!("the machines' least flow, {}, is kept in every row of the replay", flow_words(least)),
        None => format!(
            "no machine's least flow is declared: the least that the record saw, {}, is kept in every row of the replay",
            flow_words(least_flow::kept(record))
        ),
    }
}

/// How far the flow is known where the machines get least, where that is not closely.
fn known(record: &Record) -> Option<String> {
    let least = least_flow::declared(record.b)?;
    let low =
        record.rows.iter().filter(|r| r.flow > 0.0 && r.low.is_finite()).min_by(|a, b| a.flow.total_cmp(&b.flow))?;
    let off = 1.0 - low.low / low.flow;
    (off > KNOWN && low.low < least).then(|| {
        format!(
            "the least flow seen, {}, is known to {:.0} % only: measure it at the machines before the last step",
            flow_words(low.flow),
            100.0 * off
        )
    })
}

/// What of a year the record covers.
fn year(record: &Record, high: f64) -> String {
    let b = record.b;
    let days = b.clock.len as f64 * b.clock.hours() / 24.0;
    let share = 100.0 * saving::seen_share(record);
    let mut text = format!(
        "the yearly figure takes {days:.0} days for 365; they cover {share:.0} % of the range from no flow to design flow (up to {})",
        flow_words(high)
    );
    if let Some(outdoor) = b.screened.values(Role::OutdoorTemperature, None) {
        let mut seen: Vec<f64> = record.rows.iter().map(|r| outdoor[r.i]).filter(|t| t.is_finite()).collect();
        if !seen.is_empty() {
            let (low, high) = super::spread(&mut seen);
            text.push_str(&format!(" and {low:.0} degC to {high:.0} degC outdoors"));
        }
    }
    text
}

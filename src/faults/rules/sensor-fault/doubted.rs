//! What screening doubts.

use super::FAULT;
use super::told::{Seen, Told, finding};
use crate::faults::rules::{cannot_tell, number};
use crate::faults::{Case, Shown, Verdict, What};
use crate::screening::{AT_FAULT, Doubt, Kind};

pub(super) fn doubted(case: &Case, d: &Doubt) -> Option<Verdict> {
    if d.kind == Kind::Odd {
        return None;
    }
    if d.kind == Kind::NoValue {
        return Some(cannot_tell(FAULT, &d.point, &["its readings"], d.why.clone()));
    }
    if d.confidence < AT_FAULT {
        return Some(cannot_tell(FAULT, &d.point, &[needed(d.kind)], format!("\"{}\": {}", d.point, d.why)));
    }
    let word = Told::of(d.kind);
    let evidence = d.sign.iter().map(|s| number(s.name.clone(), s.value, s.unit, s.expected.clone(), "trend rows"));
    Some(finding(
        case,
        d.point.clone(),
        &word,
        Seen {
            confidence: d.confidence,
            first_ms: d.first_ms,
            last_ms: d.last_ms,
            hours: d.rows as f64 * case.step_h,
            because: format!("\"{}\" {}: {}.", d.point, word.says, d.why.trim_end_matches('.')),
            evidence: evidence.collect(),
            beside: &d.beside,
            shown: Shown::new(&(d.first_row..=d.last_row).collect::<Vec<_>>(), What::Doubted),
        },
    ))
}

/// What would settle an open doubt.
fn needed(kind: Kind) -> &'static str {
    match kind {
        Kind::Biased => "coil-return-temperature",
        Kind::Unit => "[[pump.curve]]",
        Kind::Stuck => "readings of finer resolution",
        _ => "a second sensor",
    }
}

impl Told {
    fn of(kind: Kind) -> Self {
        match kind {
            Kind::Stuck => Self {
                says: "stands still",
                could_also_be: &[
                    "a logger that repeats the last value it got",
                    "a point in hand or out of service at the controller",
                ],
                check: &[
                    "Read the point live at the controller while the pump's speed is changed by 10 %.",
                    "Read the transmitter's own display or its 4-20 mA with a loop meter: if that moves, the fault lies behind it.",
                ],
                change: "Mend the sensor, its wiring or the trend; until then its stretch counts as missing.",
            },
            Kind::Biased => Self {
                says: "reads off by a constant amount",
                could_also_be: &[
                    "its neighbour is the one that is off",
                    "water that flows or mixes otherwise than declared",
                ],
                check: &[
                    "Put a calibrated thermometer into the same pocket or the next (for a pressure: open the equalising valve and read zero; for a flow meter: read zero with the line shut and its pump stopped).",
                    "Check that the pocket is filled with heat-conducting paste and insulated, and that impulse lines are vented.",
                ],
                change: "Calibrate or replace the sensor; correct the record with [[point]] offset where the error is proved.",
            },
            Kind::Swapped => Self {
                says: "and its partner are the wrong way round",
                could_also_be: &["the loop's service is declared wrongly", "a machine that both heats and cools"],
                check: &[
                    "Follow both pipes to their sensors and compare the tags with the points; read both pipes with a clamp-on thermometer.",
                ],
                change: "Exchange the two roles in the plant file, or the two sensors in the controller.",
            },
            Kind::Unit => Self {
                says: "is in another unit than declared",
                could_also_be: &["a wrong pump table or name plate", "a scale set wrongly in the transmitter"],
                check: &["Compare the live value with the display at the instrument, with its unit."],
                change: "Declare the unit that the export has ([[point]] unit or scale).",
            },
            Kind::Outliers => Self {
                says: "spikes",
                could_also_be: &[
                    "lost packets on the network",
                    "a loose terminal or interference from a drive's cable",
                ],
                check: &[
                    "Trend it every second for ten minutes at the controller; have the terminals checked with the supply off; look where its cable runs.",
                ],
                change: "Mend wiring or network; the spikes count as missing.",
            },
            Kind::Clock => Self {
                says: "moves at another time than the pump's other points",
                could_also_be: &["points of different pumps under one name"],
                check: &[
                    "Stop the pump once and compare the instants in both files; compare the loggers' clocks and time zones.",
                ],
                change: "Set the logger's clock, or declare the file's time zone ([trends] timezone) before reviewing again.",
            },
            Kind::Position => Self {
                says: "does not follow its command",
                could_also_be: &[
                    "the valve itself is stuck, and the reading is true",
                    "the actuator is in hand or declutched",
                ],
                check: &[
                    "Command the valve fully open and fully shut, and watch the stem.",
                    "If the stem moves, the feedback is at fault; if not, the actuator or the valve.",
                ],
                change: "Mend the feedback, the actuator or the valve, whichever does not move.",
            },
            Kind::Odd | Kind::NoValue => {
                Self { says: "has odd values", could_also_be: &[], check: &["Look at the rows."], change: "None." }
            }
        }
    }
}

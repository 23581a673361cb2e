//! Points that do not tell the truth, each by its name.
//!
//! What screening did not believe is told here; to it comes what only a pump's model can see, a scale that moved within the record
//! (`faults/moved.rs`, shared with the rule on wear). The decision a reader would question: a sensor is named only where more than two witnesses part
//! the stories; where two part company and nobody can say which is right, both are named as not judged.

use super::{cannot_tell, clear, lines, number};
use crate::faults::moved::{self, HEAD, Looked, METER, Moved, POWER, WORDS, Who};
use crate::faults::{Case, Evidence, Fault, Finding, PumpCase, Urgency, Verdict, say};
use crate::ingest::Series;
use crate::plant::Role;
use crate::screening::{AT_FAULT, Doubt, Kind, is_measured};

const FAULT: Fault = Fault::SensorFault;
/// Running hours from which a point may be called well [h].
const LEAST_H: f64 = 24.0;

/// One verdict a measured point.
pub fn judge(case: &Case) -> Vec<Verdict> {
    let mut verdicts: Vec<Verdict> = Vec::new();
    for d in case.doubts {
        // Supply and return exchanged are one finding.
        let told = verdicts.iter().any(|v| names(v, &d.point))
            || (d.kind == Kind::Swapped && verdicts.iter().any(|v| d.beside.iter().any(|b| names(v, b))));
        if !told {
            verdicts.extend(doubted(case, d));
        }
    }
    let looked = moved::look(case);
    for (l, pump) in looked.iter().zip(&case.pumps) {
        if let Looked::Moved(m) = l {
            by_model(case, pump, m, &mut verdicts);
        }
    }
    let running = (0..case.rows()).filter(|&i| case.pumps_on[i] > 0).count() as f64 * case.step_h;
    for s in case.trends.iter().filter(|s| is_measured(s.role) && s.role != Role::PumpSpeed) {
        if !verdicts.iter().any(|v| names(v, &s.name))
            && !case.doubts.iter().any(|d| d.kind != Kind::Odd && d.beside.contains(&s.name))
        {
            verdicts.push(well(s, running, looked));
        }
    }
    if verdicts.is_empty() {
        verdicts.push(cannot_tell(
            FAULT,
            "loop",
            &["pump-power", "pump-head", "loop-flow"],
            "no measured point is trended",
        ));
    }
    verdicts
}

fn names(v: &Verdict, point: &str) -> bool {
    match v {
        Verdict::Found(f) => f.subject == point,
        Verdict::Clear { subject, .. } | Verdict::CannotTell { subject, .. } => subject == point,
    }
}

/// A point that nothing speaks against.
fn well(s: &Series, running_h: f64, looked: &[Looked]) -> Verdict {
    if running_h < LEAST_H {
        return cannot_tell(
            FAULT,
            &s.name,
            &["a longer record"],
            format!("fewer than {LEAST_H:.0} running hours to hold it against"),
        );
    }
    let still = looked.iter().filter_map(|l| if let Looked::Still(least) = l { Some(*least) } else { None });
    let least = still.fold(f64::NAN, f64::max);
    let moved =
        if least.is_finite() && matches!(s.role, Role::PumpHead | Role::PumpPower | Role::PumpFlow | Role::LoopFlow) {
            format!(", or a scale that moved against the pump's other readings by some {}", say::percent(2.0 * least))
        } else {
            String::new()
        };
    let of_role = match s.role {
        Role::SupplyTemperature | Role::ReturnTemperature => {
            "; exchanged supply and return 1.5 K apart; a bias of 1.5 to 2 K where water circulates at no load, mixes from known coils, or settles among others"
        }
        Role::CoilReturnTemperature => "; a bias that carries it 1 K to the wrong side of the supply",
        Role::PumpHead | Role::DifferentialPressure => {
            "; a zero off by 5 % of the usual reading, where the pumps rest for six hours"
        }
        _ => "",
    };
    clear(
        FAULT,
        &s.name,
        format!(
            "standing still for a day while what drives it moves, spikes in one row of a hundred, the unit of another{of_role}{moved}"
        ),
    )
}

// ---- what screening doubts ----

fn doubted(case: &Case, d: &Doubt) -> Option<Verdict> {
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

/// Words of a kind of fault.
struct Told {
    says: &'static str,
    could_also_be: &'static [&'static str],
    check: &'static [&'static str],
    change: &'static str,
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
                    "Hold a calibrated thermometer in the same or the next pocket (for pressures: open the equalising valve and read zero; for a flow meter: shut the line and read zero).",
                    "Check that the pocket is filled with paste and insulated, and that impulse lines are vented.",
                ],
                change: "Calibrate or replace the sensor; correct the record with [[point]] offset where the error is proved.",
            },
            Kind::Swapped => Self {
                says: "and its partner are the wrong way round",
                could_also_be: &["the loop's service is declared wrongly", "a machine that both heats and cools"],
                check: &["Follow both pipes to their sensors and compare the tags with the points; touch both pipes."],
                change: "Exchange the two roles in the plant file, or the sensors in the controller.",
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
                    "Trend it at 1 s for ten minutes at the controller; tug the terminals with the supply off; look where its cable runs.",
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
                    "Command the valve to both ends and watch the stem.",
                    "If the stem moves, the feedback is at fault; if not, the actuator or the valve.",
                ],
                change: "Mend feedback, actuator or valve, whichever stands.",
            },
            Kind::Odd | Kind::NoValue => {
                Self { says: "has odd values", could_also_be: &[], check: &["Look at the rows."], change: "None." }
            }
        }
    }
}

// ---- what the model sees ----

/// The trended point behind a pump's reading.
fn point_of<'a>(case: &'a Case, pump: &PumpCase, reading: usize) -> Option<&'a Series> {
    let of = |role: Role, own: bool| {
        let name = own.then_some(pump.name);
        case.trends.iter().find(|s| s.role == role && s.of.as_deref() == name)
    };
    match reading {
        HEAD => of(Role::PumpHead, true)
            .or(of(Role::DischargePressure, true))
            .or(of(Role::PumpHead, false))
            .or(of(Role::DischargePressure, false))
            .or(of(Role::DifferentialPressure, false)),
        POWER => of(Role::PumpPower, true).or(of(Role::PumpEnergy, true)).or(of(Role::TotalPower, false)),
        METER => of(Role::PumpFlow, true).or(of(Role::LoopFlow, false)),
        _ => None,
    }
}

fn by_model(case: &Case, pump: &PumpCase, m: &Moved, verdicts: &mut Vec<Verdict>) {
    let subject =
        |r: usize| point_of(case, pump, r).map_or_else(|| format!("{} {}", pump.name, WORDS[r]), |s| s.name.clone());
    let verdict = match &m.who {
        Who::Pump => return,
        Who::Reading(r) => vec![a_reading(case, m, *r, subject(*r))],
        Who::Either(of, pump_too) => of
            .iter()
            .map(|r| {
                let others: Vec<String> = of.iter().filter(|o| *o != r).map(|o| format!("\"{}\"", subject(*o))).collect();
                let or_pump = if *pump_too { Some(format!("{} itself", pump.name)) } else { None };
                let all: Vec<String> = others.into_iter().chain(or_pump).collect();
                let why = format!(
                    "since {} \"{}\" and {} no longer fit each other as before ({:+.1} %), and what is trended does not tell which of them moved",
                    case.say_instant(m.first_ms),
                    subject(*r),
                    all.join(" and "),
                    100.0 * m.size
                );
                cannot_tell(FAULT, &subject(*r), &[missing(m)], why)
            })
            .collect(),
    };
    for v in verdict {
        let about = subject_of(&v).to_owned();
        match verdicts.iter().position(|old| names(old, &about)) {
            None => verdicts.push(v),
            // A sensor that two pumps share: the surer word stands.
            Some(k) if matches!(v, Verdict::Found(_)) && !matches!(verdicts[k], Verdict::Found(_)) => verdicts[k] = v,
            Some(_) => {}
        }
    }
}

fn subject_of(v: &Verdict) -> &str {
    match v {
        Verdict::Found(f) => &f.subject,
        Verdict::Clear { subject, .. } | Verdict::CannotTell { subject, .. } => subject,
    }
}

fn missing(m: &Moved) -> &'static str {
    match (m.readings.contains(&HEAD), m.readings.contains(&POWER)) {
        (false, _) => "pump-head",
        (_, false) => "pump-power",
        _ if !m.readings.contains(&METER) => "loop-flow",
        _ => "valve-position",
    }
}

fn a_reading(case: &Case, m: &Moved, r: usize, subject: String) -> Verdict {
    let others: Vec<&str> = m.readings.iter().filter(|o| **o != r).map(|o| WORDS[*o]).collect();
    let three = m.readings.len() == 3;
    let how = if m.slow { "has drifted bit by bit since" } else { "changed at once on" };
    let evidence: Vec<Evidence> = m
        .seen
        .iter()
        .map(|c| number(c.name.clone(), c.size, "fraction", "near 0", "medians by days, before and after"))
        .collect();
    let rows = case.time_ms.iter().filter(|t| **t >= m.first_ms).count();
    let with = if three { 0.72 } else { 0.60 };
    let confidence =
        with + 0.1 * ((m.t - 6.0) / 6.0).clamp(0.0, 1.0) + 0.1 * ((m.size.abs() - 0.05) / 0.15).clamp(0.0, 1.0);
    let pump_too: &[&str] = match r {
        POWER if m.size > 0.0 => {
            &["motor, drive or bearings that lose more than before, with the pump's head as it was"]
        }
        HEAD if m.size < 0.0 => &["a pump that wears while its valves hold the flow"],
        METER if m.size < 0.0 => &["water that runs back inside the pump"],
        _ => &[],
    };
    let told = Told {
        says: "has changed its scale",
        could_also_be: pump_too,
        check: &[
            "Compare the reading with a second instrument: a calibrated gauge across the same tappings, a clamp-on flow meter, a power analyser at the drive's input.",
            "Look for work on that date: a new transmitter, another range in the controller, another current transformer.",
        ],
        change: "Calibrate or re-range the instrument; correct the record with [[point]] scale where the error is proved.",
    };
    let seen = Seen {
        confidence: confidence.min(0.94),
        first_ms: m.first_ms,
        last_ms: m.last_ms,
        hours: rows as f64 * case.step_h,
        because: format!(
            "the scale of \"{subject}\" {how} {}, by {:+.0} %: against {} it moved, while {} at like speed stayed as before.",
            case.say_instant(m.first_ms),
            100.0 * m.size,
            others.join(" and "),
            others.join(" and "),
        ),
        evidence,
        beside: &[],
    };
    finding(case, subject, &told, seen)
}

// ---- both ----

struct Seen<'a> {
    confidence: f64,
    first_ms: i64,
    last_ms: i64,
    hours: f64,
    because: String,
    evidence: Vec<Evidence>,
    beside: &'a [String],
}

fn finding(case: &Case, subject: String, told: &Told, seen: Seen) -> Verdict {
    let role = case.trends.iter().find(|s| s.name == subject).map(|s| s.role);
    // What the pumps are controlled by, and what people are kept warm or cold by.
    let controls = matches!(role, Some(Role::DifferentialPressure | Role::PumpHead | Role::SupplyTemperature));
    let mut could_also_be = lines(told.could_also_be);
    could_also_be.extend(seen.beside.iter().map(|b| format!("\"{b}\" instead, or as well")));
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject,
        urgency: if controls { Urgency::Plan } else { Urgency::Watch },
        confidence: seen.confidence.min(0.97),
        first_seen_ms: seen.first_ms,
        last_seen_ms: seen.last_ms,
        hours: seen.hours,
        waste_kwh: None,
        waste_kwh_per_year: None,
        caused_by: None,
        because: seen.because,
        evidence: seen.evidence,
        could_also_be,
        check_on_site: lines(told.check),
        change: told.change.into(),
        caution: case.caution("Put the control in hand before a sensor it follows is touched."),
    }))
}

//! Water that passes the loop without passing a coil, while no minimum flow asks for it.
//!
//! Three witnesses, each enough by itself: the bypass's own position (`position.rs`); a plant difference of temperature below
//! that of the coils' mixed water, more so the less flows (`coils.rs`); a conductance Q/sqrt(H) that rose on a day and that the
//! coils' valves do not explain (`conductance.rs`, weighed in `step.rs`). A bypass stuck open since before the record shows only to the first two, and
//! where the loop's difference is low without them nobody is cleared.

#[path = "stuck-bypass/coils.rs"]
mod coils;
#[path = "stuck-bypass/conductance.rs"]
mod conductance;
#[path = "stuck-bypass/position.rs"]
mod position;
#[path = "stuck-bypass/step.rs"]
mod step;

use super::{cannot_tell, clear, lines, low_delta_t};
use crate::faults::causes::SAME_EVENT_MS;
use crate::faults::moved::{self, Looked, Who};
use crate::faults::spread::median;
use crate::faults::{Case, Evidence, Fault, Finding, Shown, Verdict, What, price, say};
use crate::plant::{Bypass, Service};
use crate::quantity::Flow;
use crate::regimes::{Regime, ask_at};
use coils::Balance;
use conductance::Conductance;

const FAULT: Fault = Fault::StuckBypass;
/// Rows count from this multiple of the minimum flow on [-]: below it a bypass is honestly open.
const WELL_ABOVE_MINIMUM: f64 = 1.5;
/// The same for all machines' minimum flows together, since nobody says which run [-].
const ABOVE_ALL_MINIMA: f64 = 1.1;
/// Where no minimum flow is declared: from this share of design flow [-]; machines' minimum flows lie at 30 to 50 %.
const WITHOUT_MINIMUM: f64 = 0.5;
/// Open in at least this share of the rows well above minimum flow [-], over so many hours [h].
const OPEN_SHARE: f64 = 0.8;
const LEAST_OPEN_H: f64 = 12.0;
/// Days on each side of a step [days], and rows a day needs [h].
const LEAST_DAYS: usize = 3;
const LEAST_DAY_H: f64 = 1.0;
/// The loop's difference over what it should be below which a bypass open from the start cannot be excluded by the conductance [-].
const LOW: f64 = 0.85;
/// Rows looked at where a middle is taken; more would add time, not knowledge [-].
const MOST_ROWS: usize = 2000;

/// One verdict for the loop.
pub fn judge(case: &Case) -> Vec<Verdict> {
    vec![judge_loop(case)]
}

fn judge_loop(case: &Case) -> Verdict {
    match seen(case) {
        Ok(found) => found.verdict(case),
        Err(verdict) => verdict.clone(),
    }
}

/// From which row on water goes past the coils, and what share of the flow (zero: not known), where it does.
pub(in crate::faults) fn past_the_coils(case: &Case) -> Option<(usize, f64)> {
    seen(case).as_ref().ok().map(|s| (s.rows[0], s.share))
}

fn seen<'c>(case: &'c Case) -> &'c Result<Stuck, Verdict> {
    case.looks.bypass.get_or_init(|| look(case))
}

/// The bypass found open, or the verdict that it is not or cannot be told.
fn look(case: &Case) -> Result<Stuck, Verdict> {
    match case.plant.system.bypass {
        Some(Bypass::None) => {
            return Err(clear(FAULT, "loop", "nothing: the plant file declares that there is no bypass"));
        }
        Some(Bypass::Decoupler) => {
            let why = "a decoupler passes water by design; its flow is judged with the sources";
            return Err(cannot_tell(FAULT, "loop", &[], why));
        }
        _ => {}
    }
    let shut = match position::look(case) {
        Some(Answer::Stuck(found)) => return Ok(found),
        Some(Answer::Shut) => true,
        None => false,
    };
    let (doubted, closed) = match coils::look(case) {
        Balance::Past(found) => return Ok(found),
        Balance::Doubted(why) => (Some(why), false),
        Balance::Closed => (None, true),
        Balance::Unknown => (None, false),
    };
    match (conductance::look(case), doubted) {
        (Conductance::Stuck(found), _) => match head_moved_with(case, &found) {
            Some(why) => Err(cannot_tell(FAULT, "loop", &["a second head reading", "bypass-position"], why)),
            None => Ok(found),
        },
        (_, Some(why)) => Err(cannot_tell(FAULT, "loop", &["bypass-position or bypass-flow"], why)),
        (Conductance::Contradicted { why }, None) => {
            Err(cannot_tell(FAULT, "loop", &["valve-position of every branch", "bypass-position"], why))
        }
        (Conductance::Steady { least }, None) => Err(steady(case, least, shut, closed)),
        (Conductance::Unknown { .. }, None) if closed => Err(clear(FAULT, "loop", coils::would_have_seen())),
        (Conductance::Unknown { .. }, None) if shut => {
            Err(clear(FAULT, "loop", "a bypass whose position stays open well above the minimum flow"))
        }
        (Conductance::Unknown { missing, why }, None) => Err(cannot_tell(FAULT, "loop", &missing, why)),
    }
}

/// A head reading that began to read otherwise on that day makes a step of the conductance by itself, and of the temperature difference with it where
/// the pumps follow the reading.
fn head_moved_with(case: &Case, found: &Stuck) -> Option<String> {
    let since = case.time_ms[found.rows[0]];
    let with = |l: &Looked| match l {
        Looked::Moved(m) => {
            let head = match &m.who {
                Who::Reading(r) => *r == moved::HEAD,
                Who::Either(r, _) => r.contains(&moved::HEAD),
                Who::Pump => false,
            };
            head && m.first_ms <= since + SAME_EVENT_MS && m.last_ms >= since - SAME_EVENT_MS
        }
        _ => false,
    };
    moved::look(case).iter().any(with).then(|| {
        format!(
            "about {} more of the flow passes since {} than the valves explain; but on that day head and power no longer fit each other, as when the              head reading changed, which alone would look so",
            say::percent(found.share),
            case.say_when(found.rows[0])
        )
    })
}

/// No step of the conductance: clear, unless the loop's difference is low, which a bypass open from the start would explain.
fn steady(case: &Case, least: f64, by_position: bool, by_coils: bool) -> Verdict {
    if by_coils {
        return clear(FAULT, "loop", coils::would_have_seen());
    }
    let rows = (0..case.rows()).filter(|i| case.steady[*i] && case.loop_flow_m3h[*i] >= from_flow_m3h(case));
    let rows: Vec<usize> = rows.collect();
    let stride = rows.len().div_ceil(MOST_ROWS).max(1);
    let level = rows.iter().step_by(stride).map(|i| case.delta_t_k(*i) / low_delta_t::expected_k(case, *i));
    let level = median(level);
    if !by_position && level < LOW {
        let why = format!(
            "the loop's temperature difference is {} of what it should be all along, as a bypass open since before the record would make \
             it; no position and no coil's leaving water tells",
            say::percent(level)
        );
        return cannot_tell(FAULT, "loop", &["bypass-position", "coil-return-temperature"], why);
    }
    clear(FAULT, "loop", would_have_seen(least, by_position))
}

fn would_have_seen(least: f64, by_position: bool) -> String {
    let before = if by_position {
        "would show only where the trended position is the stem's own and not its command"
    } else {
        "would not show without its position"
    };
    let share = say::percent(least);
    format!(
        "a bypass that opened during the record and passed {share} or more of the flow; one stuck open since before it {before}"
    )
}

/// A bypass found open, by whichever witness.
pub struct Stuck {
    rows: Vec<usize>,
    /// Share of the loop's flow past the coils [-].
    share: f64,
    confidence: f64,
    because: String,
    evidence: Vec<Evidence>,
    what: What,
}

enum Answer {
    Stuck(Stuck),
    Shut,
}

impl Stuck {
    fn verdict(&self, case: &Case) -> Verdict {
        let (first, last) = (self.rows[0], self.rows[self.rows.len() - 1]);
        let waste =
            if self.share > 0.0 { price::waste(case, &self.rows, |i| without(case, i, self.share)) } else { None };
        let yearly = price::per_year(case, waste);
        let machine = match case.plant.system.service {
            Service::HeatingWater => "the boilers see warmer return water",
            _ => "the chillers see colder return water",
        };
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: "loop".into(),
            urgency: price::urgency(case, waste, false),
            confidence: self.confidence,
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours: self.rows.len() as f64 * case.step_h,
            waste_kwh: waste,
            waste_kwh_per_year: yearly,
            caused_by: None,
            because: format!("{} The pumps move that water for nothing, and {machine}.", self.because),
            evidence: self.evidence.clone(),
            could_also_be: lines(&[
                "a branch without a trended valve that was opened (a new zone, a flushing line, a balancing valve)",
                "a coil valve that no longer shuts although its position says so",
                "a three-way valve whose bypass port was opened",
            ]),
            check_on_site: lines(&[
                "At load well above minimum flow, clamp a thermometer on the pipe on both sides of the bypass valve: with the valve shut, the pipe behind it takes the room's temperature.",
                "Compare the valve's real stem position with its command and feedback.",
                "Read the minimum-flow or differential-pressure controller's setpoint, output and hand/auto switch.",
                "With the bypass isolated by hand for a few minutes at high load, see by how much speed or flow falls.",
            ]),
            change: "Mend or recommission the bypass valve, its actuator or its controller, so that it opens for the machines' \
                     minimum flow only."
                .into(),
            shown: Shown::new(&self.rows, self.what.clone()), caution: case.caution("Do not shut the bypass for good: at low load it keeps the machines' minimum flow."),
        }))
    }
}

/// Flow and head of a row without the bypass's share: the head follows the control curve down.
fn without(case: &Case, i: usize, share: f64) -> (f64, f64) {
    let flow = case.loop_flow_m3h[i];
    let less = flow * (1.0 - share);
    let asked = |q: f64| ask_at(case.plant, &case.plant.control, q, case.dp_setpoint_kpa.map_or(f64::NAN, |s| s[i]));
    let fall = asked(flow) - asked(less);
    let at_floor = case.all_in(i, &[Regime::SpeedFloor, Regime::FullSpeed]);
    (less, case.loop_head_kpa[i] - if fall.is_finite() && !at_floor { fall } else { 0.0 })
}

/// Flow from which a bypass has no business to be open [m3/h]: machines that run together need their minimum flows together.
fn from_flow_m3h(case: &Case) -> f64 {
    let minimum = case.minimum_flow_m3h();
    let together: f64 = case.plant.sources.iter().filter_map(|s| s.minimum_flow).map(Flow::in_m3h).sum();
    if minimum > 0.0 {
        (WELL_ABOVE_MINIMUM * minimum).max(ABOVE_ALL_MINIMA * together)
    } else {
        WITHOUT_MINIMUM * case.design_flow_m3h()
    }
}

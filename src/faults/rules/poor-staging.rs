//! One pump too many, one too few, or one that comes and goes.
//!
//! Too many: at the row's own flow and head one pump fewer would take less power inside its preferred region. Too few: every running pump at full
//! speed, the head short of what the control asks, and a pump that shares the duty idle. Comes and goes: a lag pump starts and stops over and
//! over, at flows that hardly differ. The decision a reader would question: a second pump that turns for a critical load is on purpose.

use super::{cannot_tell, clear, lines, number};
use crate::faults::lag_pump::{COINCIDE, CYCLES, HUNTS, HUNTS_H, Hunts, LEAST_DAYS, comes_and_goes};
use crate::faults::spread::median;
use crate::faults::staging::{self, Wrong};
use crate::faults::{Case, Estimate, Evidence, Fault, Finding, Shown, Urgency, Verdict, What, onset, price, say};
use crate::plant::Serves;

const FAULT: Fault = Fault::PoorStaging;
/// One too many: share of the running hours [-], hours [h]; the staging of a plant in health keeps a pump too long for some of them.
const MANY_SHARE: f64 = 0.30;
const MANY_H: f64 = 12.0;
/// What it wastes of the record's pump energy at least [-].
const WORTH: f64 = 0.03;
/// One too few: share of the running hours [-], hours [h].
const FEW_SHARE: f64 = 0.05;
const FEW_H: f64 = 4.0;
/// Hours judged that the record must have [h].
const LEAST_H: f64 = 24.0;
/// Hours together that show how many pumps share the duty, where it is not declared [h].
const TOGETHER_H: f64 = 10.0;
/// Share of the rows whose flow must rest on a head or a meter [-].
const WITNESSED: f64 = 0.5;

/// One verdict for the loop.
pub fn judge(case: &Case) -> Vec<Verdict> {
    vec![judge_loop(case)]
}

fn judge_loop(case: &Case) -> Verdict {
    if case.pumps.len() < 2 {
        return clear(FAULT, "loop", "nothing: one pump has nothing to stage");
    }
    let declared = case.plant.system.pumps_on_duty;
    let together = staging::most_together(case, TOGETHER_H);
    let on_duty = declared.unwrap_or(together);
    if let Some(lag) = comes_and_goes(case) {
        return hunting(case, &lag);
    }
    if staging::witnessed(case) < WITNESSED {
        let why = "flow from power and speed alone leaves the pump table's errors in the comparison of one pump more or fewer";
        return cannot_tell(FAULT, "loop", &["pump-head"], why);
    }
    let critical = serves_critical(case);
    let spared = |n: usize| critical && n <= on_duty;
    let few = staging::too_few(case, on_duty);
    if let Some(w) = few.as_ref().filter(|w| w.hours >= FEW_H && w.share >= FEW_SHARE && w.days >= LEAST_DAYS) {
        return too_few(case, w, on_duty);
    }
    let many = staging::too_many(case, spared);
    if many.judged_h < LEAST_H {
        let why = format!("fewer than {LEAST_H:.0} steady hours in which power at the row's flow and head can be told");
        return cannot_tell(FAULT, "loop", &["pump-power", "[[pump.curve]]"], why);
    }
    if many.share >= MANY_SHARE && many.hours >= MANY_H && many.days >= LEAST_DAYS {
        let waste = wasted(case, &many);
        // Without a power for every row: by what the priced rows save.
        let share = price::share(case, waste);
        if (if share.is_nan() { many.share * many.saving } else { share }) >= WORTH {
            return too_many(case, &many, waste);
        }
    }
    if critical && together >= 2 {
        let why = "a second pump may turn for the critical load on purpose; whether one fewer would do is not judged";
        return cannot_tell(FAULT, "loop", &[], why);
    }
    if few.is_none() {
        let why = "every running pump stood at full speed with another idle, and neither control curve nor setpoint says whether the head was short";
        return cannot_tell(FAULT, "loop", &["[control]", "differential-pressure-setpoint"], why);
    }
    clear(FAULT, "loop", would_have_seen())
}

fn would_have_seen() -> String {
    format!(
        "{} of the running hours with one pump too many that saves {} of the power or more, {FEW_H:.0} h with one too few, or \
         {HUNTS_H:.0} h in which a pump comes and goes {HUNTS} times an hour",
        say::percent(MANY_SHARE),
        say::percent(staging::LEAST_SAVING)
    )
}

fn serves_critical(case: &Case) -> bool {
    case.plant.system.serves == Serves::Critical || case.plant.coils.iter().any(|c| c.serves == Serves::Critical)
}

/// Energy of the pump too many [kWh]: the sampled rows scaled to all hours.
fn wasted(case: &Case, many: &Wrong) -> Option<Estimate> {
    let saved = |i: usize, toward: f64| {
        let end = if toward < 0.0 { case.loop_flow_low_m3h[i] } else { case.loop_flow_high_m3h[i] };
        let flow = if toward == 0.0 { case.loop_flow_m3h[i] } else { end };
        let n = staging::running(case, i).unwrap_or(0).max(2);
        case.loop_power_kw[i] * staging::part_saved(case, flow, case.loop_head_kpa[i], n)
    };
    let scale = many.hours / (many.rows.len() as f64 * case.step_h);
    let w = price::waste_by(case, &many.rows, saved)?;
    Some(Estimate { estimate: w.estimate * scale, low: w.low * scale, high: w.high * scale })
}

/// What the three kinds differ in.
struct Told {
    rows: Vec<usize>,
    hours: f64,
    confidence: f64,
    urgency: Urgency,
    waste: Option<Estimate>,
    because: String,
    evidence: Vec<Evidence>,
    could_also_be: &'static [&'static str],
    check_on_site: &'static [&'static str],
    change: &'static str,
    shown: Shown,
}

fn finding(case: &Case, t: Told) -> Verdict {
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: "loop".into(),
        urgency: t.urgency,
        confidence: t.confidence.min(0.95),
        first_seen_ms: case.time_ms[began(case, &t.rows)],
        last_seen_ms: case.time_ms[t.rows[t.rows.len() - 1]],
        hours: t.hours,
        waste_kwh: t.waste,
        waste_kwh_per_year: price::per_year(case, t.waste),
        caused_by: None,
        because: t.because,
        evidence: t.evidence,
        could_also_be: lines(t.could_also_be),
        check_on_site: lines(t.check_on_site),
        change: t.change.into(),
        shown: t.shown, caution: case.caution("Keep the machines' minimum flow and any interlock that asks for a number of pumps; keep standby pumps exercised."),
    }))
}

/// The first row, or that of the day on which such rows stepped up from next to nothing.
fn began(case: &Case, rows: &[usize]) -> usize {
    const NEXT_TO_NOTHING: f64 = 0.15;
    let days = case.days();
    let daily: Vec<f64> = days
        .iter()
        .map(|d| (rows.partition_point(|r| *r < d.end) - rows.partition_point(|r| *r < d.start)) as f64)
        .collect();
    let step = onset::step(&daily, &[], 3)
        .filter(|s| s.t >= onset::BELIEVED && s.before <= NEXT_TO_NOTHING * (s.before + s.size));
    let from = step.map_or(0, |s| days[s.at].start);
    rows.get(rows.partition_point(|r| *r < from)).or(rows.first()).copied().unwrap_or(0)
}

fn over(value: f64, from: f64, to: f64) -> f64 {
    ((value - from) / (to - from)).clamp(0.0, 1.0)
}

fn too_many(case: &Case, w: &Wrong, waste: Option<Estimate>) -> Verdict {
    let n = median(w.rows.iter().filter_map(|i| staging::running(case, *i)).map(|n| n as f64));
    let flow = median(w.rows.iter().map(|i| case.loop_flow_m3h[*i]));
    let table = "pump tables as the record taught them";
    let told = Told {
        rows: w.rows.clone(),
        hours: w.hours,
        confidence: 0.70 + 0.15 * over(w.share, MANY_SHARE, 0.8) + 0.10 * over(w.saving, staging::LEAST_SAVING, 0.25),
        urgency: price::urgency(case, waste, false),
        waste,
        because: format!(
            "For {:.0} h ({} of the running hours) {n:.0} pumps shared a duty that one pump fewer would do inside its preferred region with {} less power, \
             at {} in the middle of those hours.",
            w.hours,
            say::percent(w.share),
            say::percent(w.saving),
            case.say_flow(flow),
        ),
        evidence: vec![
            number(
                "share of the running hours with one pump too many",
                w.share,
                "-",
                format!("below {MANY_SHARE}"),
                table,
            ),
            number("power that one pump fewer saves", w.saving, "-", format!("below {}", staging::LEAST_SAVING), table),
            number("loop flow in those hours", flow, "m3/h", "more than one pump fewer can give", "loop flow"),
        ],
        could_also_be: &[
            "a machine's interlock or a night minimum that asks for this number of pumps",
            "a pump kept turning as hot standby for a load that is not declared critical",
            "a pump in hand",
        ],
        check_on_site: &[
            "See whether each pump is in auto, and what asks for it: staging, a machine's interlock, a schedule.",
            "At a quiet hour stop one pump by the automation and watch speed, head and the neediest valve for half an hour.",
            "Read the staging thresholds and their timers.",
        ],
        change: "Stage a pump off where one fewer carries the flow inside its preferred region: by flow with a dead band and timers, or by speed where the pumps are alike.",
        shown: staging::shown(case, w),
    };
    finding(case, told)
}

fn too_few(case: &Case, w: &Wrong, on_duty: usize) -> Verdict {
    let n = median(w.rows.iter().filter_map(|i| staging::running(case, *i)).map(|n| n as f64));
    let short = |i: &usize| {
        let on = case.pumps.iter().find(|p| p.curve_head_kpa[*i] > 0.0 && p.head_kpa[*i].is_finite());
        on.map_or(f64::NAN, |p| p.curve_head_kpa[*i] - p.head_kpa[*i])
    };
    let short = median(w.rows.iter().map(short));
    let declared = case.plant.system.pumps_on_duty.is_some();
    let by =
        if short.is_finite() { format!(", {} below the control curve", case.say_head(short)) } else { String::new() };
    let told = Told {
        rows: w.rows.clone(),
        hours: w.hours,
        confidence: if declared { 0.82 } else { 0.72 } + 0.10 * over(w.hours, FEW_H, 40.0),
        urgency: price::urgency(case, None, true),
        waste: None,
        because: format!(
            "For {:.0} h ({} of the running hours) {n:.0} of {on_duty} duty pumps ran at full speed{by} while another pump stood still.",
            w.hours,
            say::percent(w.share)
        ),
        evidence: vec![
            number(
                "hours at full speed with the head short and a pump idle",
                w.hours,
                "h",
                format!("below {FEW_H:.0}"),
                "speed, head, curve",
            ),
            number("head below the control curve", short, "kPa", "none", "head and control curve"),
        ],
        could_also_be: &[
            "the idle pump is out of service or locked off",
            "a demand above design, which more pumps would not meet either",
            "a setpoint too high for the loop",
        ],
        check_on_site: &[
            "See whether the idle pump is available: in auto, valves open, no alarm.",
            "Start it by the automation in such an hour and watch head, speed and the neediest valve.",
            "Read the threshold and timer that should stage it on, and the point they look at.",
        ],
        change: "Stage the idle pump on before the running ones reach full speed with the head short; mend what keeps it off.",
        shown: Shown::new(&w.rows, What::TooFew),
    };
    finding(case, told)
}

fn hunting(case: &Case, h: &Hunts) -> Verdict {
    let states = "states of the pumps";
    let told = Told {
        rows: h.busy.rows.clone(),
        hours: h.busy.hours,
        confidence: 0.78 + 0.08 * over(h.busy.hours, HUNTS_H, 30.0) + 0.08 * over(h.busy.mean, HUNTS, CYCLES),
        urgency: price::urgency(case, None, false).max(Urgency::Plan),
        waste: None,
        because: format!(
            "For {:.0} h on {} days a pump comes and goes {:.1} times an hour beside another that runs on: it comes at {} and goes at {}.",
            h.busy.hours,
            h.busy.days,
            h.busy.mean,
            case.say_flow(h.on),
            case.say_flow(h.off)
        ),
        evidence: vec![
            number("starts an hour of the lag pump", h.busy.mean, "1/h", format!("below {HUNTS}"), states),
            number(
                "loop flow just before it comes",
                h.on,
                "m3/h",
                format!("more than {COINCIDE} times that at which it goes"),
                "loop flow",
            ),
            number("loop flow just before it goes", h.off, "m3/h", "well below", "loop flow"),
        ],
        could_also_be: &[
            "a load or a machine that cycles with this period and takes the staging along",
            "a pressure controller that hunts each time the number of pumps changes",
        ],
        check_on_site: &[
            "Read the thresholds that stage the pump on and off, and their timers: Guideline 36 gives both the same number and ten minutes each.",
            "Trend flow, speed and the number of pumps at 1 min or finer over some cycles.",
            "Hold the lag pump on by the automation for an hour: if flow and speed settle, the thresholds lie too near each other.",
        ],
        change: "Move the thresholds apart (off at least a tenth of design flow below on), or lengthen the timers and the minimum run time.",
        shown: Shown::new(&h.busy.rows, What::ComesAndGoes { on_m3h: h.on, off_m3h: h.off }),
    };
    finding(case, told)
}

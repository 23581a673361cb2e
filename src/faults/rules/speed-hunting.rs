//! Speed that swings by itself, above its floor.
//!
//! Judged on raw rows (`oscillation/`). The decision a reader would question: a swing that something else leads (a valve, a setpoint, a
//! machine) is not found here, since the pump's controller then does its work; the answer is cannot tell, and names what leads.

use super::{cannot_tell, clear, lines};
use crate::faults::oscillation::leads::led_by;
use crate::faults::oscillation::swing::{
    COARSEST_H, Kind, LEAST_H, LEAST_RUNNING_H, LEAST_SWING, Swing, Swings, fast_h, look, shown_min,
};
use crate::faults::{Case, Fault, Finding, Verdict, price, say};

const FAULT: Fault = Fault::SpeedHunting;

/// One verdict a pump; pumps that swing together have one, under the loop's name.
pub fn judge(case: &Case) -> Vec<Verdict> {
    let swings = look(case);
    let why_not = swings.free.as_ref().and_then(|s| honest(case, swings, s));
    let found = swings.free.as_ref().filter(|_| why_not.is_none());
    let named = |k: usize| found.is_some_and(|s| s.pumps.contains(&k));
    let others = (0..case.pumps.len()).filter(|k| !named(*k)).map(|k| quiet(case, swings, k, why_not.as_deref()));
    let mut verdicts: Vec<Verdict> = found.map(|s| finding(case, s)).into_iter().chain(others).collect();
    if verdicts.len() > 1 && verdicts.iter().all(|v| matches!(v, Verdict::Clear { .. })) {
        verdicts.push(clear(FAULT, "loop", would_have_seen(case)));
    }
    verdicts
}

/// Why a swing is not the speed controller's own; `None` where nothing speaks against it.
fn honest(case: &Case, swings: &Swings, s: &Swing) -> Option<String> {
    if swings.floor.as_ref().is_some_and(|f| f.hours >= s.hours) {
        return Some(
            "the speed swings off its floor for longer than above it: one swing, named under minimum-speed-hunting"
                .into(),
        );
    }
    let leader = led_by(case, s)?;
    Some(format!(
        "the speed swings every {:.0} min, but {leader} swings with the same period and ahead of it: what leads it hunts or cycles, \
         and the pump follows",
        s.period_min
    ))
}

/// The answer for a pump that is not found to hunt.
fn quiet(case: &Case, swings: &Swings, k: usize, why_not: Option<&str>) -> Verdict {
    let (pump, seen) = (&case.pumps[k], &swings.pumps[k]);
    if case.step_h > COARSEST_H {
        let why = format!(
            "rows {:.0} min apart show periods from {:.0} min on (a period needs five rows); loops hunt faster than that",
            case.step_h * 60.0,
            shown_min(case).0
        );
        return cannot_tell(FAULT, pump.name, &["pump-speed every 5 min or finer"], why);
    }
    if seen.running_h < LEAST_RUNNING_H {
        let why = format!("fewer than {LEAST_RUNNING_H:.0} running hours with a known speed");
        return cannot_tell(FAULT, pump.name, &["pump-speed"], why);
    }
    let swings_too = swings.free.as_ref().is_some_and(|s| s.pumps.contains(&k));
    let floor_too = swings.floor.as_ref().is_some_and(|s| s.pumps.contains(&k));
    if let Some(why) = why_not.filter(|_| swings_too || floor_too) {
        return cannot_tell(FAULT, pump.name, &[], why);
    }
    let fast = fast_h(case, seen);
    if fast >= LEAST_H {
        let why = format!(
            "for {fast:.0} h the speed swings within fewer than five rows: rows {:.0} min apart show periods from {:.0} min on",
            case.step_h * 60.0,
            shown_min(case).0
        );
        return cannot_tell(FAULT, pump.name, &["pump-speed at 1 min or finer"], why);
    }
    if swings.saw_h >= LEAST_H && !floor_too {
        let why = format!(
            "for {:.0} h the speed moves in a small slow saw-tooth, as a setpoint does that is trimmed and responds; its trend would settle it",
            swings.saw_h
        );
        return cannot_tell(FAULT, pump.name, &["differential-pressure-setpoint"], why);
    }
    clear(FAULT, pump.name, would_have_seen(case))
}

fn would_have_seen(case: &Case) -> String {
    let (from, to) = shown_min(case);
    format!(
        "{LEAST_H:.0} h of a regular swing of at least {} of rated speed from trough to crest, every {from:.0} to {to:.0} min",
        say::percent(LEAST_SWING)
    )
}

fn finding(case: &Case, s: &Swing) -> Verdict {
    let waste = price::waste(case, &s.rows, |i| s.evened_out(i));
    let (swing, its) = if s.pumps.len() > 1 { ("swing together", "their") } else { ("swings", "its") };
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: s.subject(case),
        urgency: s.urgency(case, waste),
        confidence: s.confidence(),
        first_seen_ms: case.time_ms[s.first],
        last_seen_ms: case.time_ms[s.last],
        hours: s.hours,
        waste_kwh: waste,
        waste_kwh_per_year: price::per_year(case, waste),
        caused_by: None,
        because: format!(
            "{} {swing} by {:.0} % of rated speed every {:.0} min, between {} and {}, for {:.0} h ({} of {its} running hours), \
             about {:.0} cycles.",
            s.names(case),
            s.swing * 100.0,
            s.period_min,
            say::percent(s.low),
            say::percent(s.high),
            s.hours,
            say::percent(s.share),
            s.cycles,
        ),
        evidence: s.evidence(Kind::Free),
        could_also_be: could_also_be(case),
        check_on_site: lines(&[
            "Trend speed, control pressure, its setpoint and the largest valve at 10 s or finer for two hours.",
            "Put the pump's controller in hand at the mean speed: if the swing stops, the pump's loop is the one that hunts; \
             if valves or machines go on, theirs is.",
            "Read gain, integral time and output limits of the pressure controller, and where its sensor sits; look at the sensor \
             line for air.",
        ]),
        change: "Slow the pump's controller down: halve the gain or double the integral time, wait ten periods and look again. Where something else swings first, mend that first."
            .into(),
        shown: s.shown(case, f64::NAN), caution: case.caution("A controller made too slow starves loads that come quickly: change tuning in small steps."),
    }))
}

/// What the record leaves open: the less is trended, the more.
fn could_also_be(case: &Case) -> Vec<String> {
    let mut also = lines(&["a load or a machine that itself cycles with this period (a compressor, a hot-water coil)"]);
    let trended = case.coils.iter().filter(|c| c.valve.is_some()).count();
    if trended < case.coils.len() || case.coils.is_empty() {
        also.push("the controller of a valve that is not trended: it hunts and takes the pump along".into());
    }
    if case.dp_setpoint_kpa.is_none() {
        also.push("a setpoint that is reset too fast and hunts; its trend is missing".into());
    }
    also
}

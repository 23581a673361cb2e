//! Speed that leaves its floor and falls back to it, over and over.
//!
//! Judged on raw rows, since hunting rows are never steady. A cycle counts where its trough lies on the floor; the swing counts where the
//! regularity of its periods, the decay of its autocorrelation and the likeness of its half periods agree (`oscillation/`). Floor and no
//! floor are one cause: where both kinds show, the one with more hours is named, here or under speed-hunting.

use super::{cannot_tell, clear, lines};
use crate::faults::oscillation::swing::{
    COARSEST_H, Kind, LEAST_H, LEAST_RISE, LEAST_RUNNING_H, Swing, Swings, fast_h, look, shown_min,
};
use crate::faults::{Case, Fault, Finding, Verdict, price, say};

const FAULT: Fault = Fault::MinimumSpeedHunting;

/// One verdict a pump; pumps that swing together have one, under the loop's name.
pub fn judge(case: &Case) -> Vec<Verdict> {
    let swings = look(case);
    let hours = |s: &Option<Swing>| s.as_ref().map_or(0.0, |s| s.hours);
    let elsewhere = hours(&swings.free) > hours(&swings.floor) && swings.floor.is_some();
    let found = swings.floor.as_ref().filter(|_| !elsewhere);
    let named = |k: usize| found.is_some_and(|s| s.pumps.contains(&k));
    let others = (0..case.pumps.len()).filter(|k| !named(*k)).map(|k| quiet(case, swings, k, elsewhere));
    let mut verdicts: Vec<Verdict> = found.map(|s| finding(case, swings, s)).into_iter().chain(others).collect();
    if verdicts.len() > 1 && verdicts.iter().all(|v| matches!(v, Verdict::Clear { .. })) {
        verdicts.push(clear(FAULT, "loop", would_have_seen(case, "the floor")));
    }
    verdicts
}

/// The answer for a pump that is not found to hunt.
fn quiet(case: &Case, swings: &Swings, k: usize, elsewhere: bool) -> Verdict {
    let pump = &case.pumps[k];
    let (floor, seen) = (swings.floors[k], &swings.pumps[k]);
    if case.step_h > COARSEST_H {
        let why = format!(
            "rows {:.0} min apart show periods from {:.0} min on; loops hunt faster than that",
            case.step_h * 60.0,
            shown_min(case).0
        );
        return cannot_tell(FAULT, pump.name, &["pump-speed every 5 min or finer"], why);
    }
    if seen.running_h < LEAST_RUNNING_H {
        let why = format!("fewer than {LEAST_RUNNING_H:.0} running hours with a known speed");
        return cannot_tell(FAULT, pump.name, &["pump-speed"], why);
    }
    if floor.is_nan() {
        let why = "no minimum speed is declared and the speed shows none";
        return cannot_tell(FAULT, pump.name, &["[control].minimum_speed"], why);
    }
    if elsewhere {
        let why = "the speed swings above its floor for longer than off it: one swing, named under speed-hunting";
        return cannot_tell(FAULT, pump.name, &[], why);
    }
    if fast_h(case, seen) >= LEAST_H {
        let why = format!(
            "for {:.0} h the speed swings within fewer than five rows: too fast for the interval",
            fast_h(case, seen)
        );
        return cannot_tell(FAULT, pump.name, &["pump-speed at 1 min or finer"], why);
    }
    clear(FAULT, pump.name, would_have_seen(case, &format!("a floor of {}", say::percent(floor))))
}

fn would_have_seen(case: &Case, floor: &str) -> String {
    let (from, to) = shown_min(case);
    format!(
        "{LEAST_H:.0} h of cycles off {floor}, at least {:.1} % of rated speed high and {from:.0} to {to:.0} min long",
        LEAST_RISE * 100.0
    )
}

fn finding(case: &Case, swings: &Swings, s: &Swing) -> Verdict {
    let waste = price::waste(case, &s.rows, |i| s.evened_out(i));
    let floor = s.pumps.iter().map(|k| swings.floors[*k]).fold(f64::NAN, f64::min);
    let (swing, its) = if s.pumps.len() > 1 { ("swing between their", "their") } else { ("swings between its", "its") };
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
            "{} {swing} speed floor of {} and {} every {:.0} min, for {:.0} h ({} of {its} running hours), about {:.0} cycles.",
            s.names(case),
            say::percent(floor),
            say::percent(s.high),
            s.period_min,
            s.hours,
            say::percent(s.share),
            s.cycles,
        ),
        evidence: s.evidence(Kind::Floor),
        could_also_be: lines(&[
            "a load or a machine that itself cycles with this period (a compressor, a hot-water coil)",
            "a controller elsewhere that hunts (valves of the largest coil) and takes the pump along",
            "a drive function that lifts the speed at low load to see whether the flow answers",
        ]),
        check_on_site: lines(&[
            "Trend speed, head and the largest valve at 10 s or finer for two hours at low load.",
            "Put the pump's controller in hand at a speed just above the floor: if the swing stops, the pump's loop is the \
             one that hunts; if the valves go on, theirs is.",
            "Compare the pressure that the floor makes at no flow with the setpoint: where it is higher, the control can \
             never settle there.",
        ]),
        change:
            "Slow the pump's controller down (less gain, longer integral time, a dead band, no wind-up at the limit). Where the setpoint lies below what the lowest speed makes, let the pump stay at its lowest speed, or stop it when nothing calls."
                .into(),
        shown: s.shown(case, floor),
        caution: case.caution("Keep the maker's minimum speed for seal and motor."),
    }))
}

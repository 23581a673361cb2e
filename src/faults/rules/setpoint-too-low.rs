//! The control curve is kept, below full speed, and coils still starve: their valves stand at their end and their air is off its setpoint.
//!
//! A valve at its end says little by itself: a fouled coil, an air setpoint out of reach, a supply that is too warm and a load beyond
//! design all put it there. What sets the low setting apart is the water: a coil that gets too little of it gives it back far from the
//! supply temperature, one that cannot use it gives it back near. So no finding stands without the water's own word. One coil alone
//! convicts nobody, unless it is declared as the index branch. Start at [`judge`]; `short.rs` says which coils are short in which rows,
//! `told.rs` what is said of it.

#[path = "setpoint-too-low/short.rs"]
mod short;
#[path = "setpoint-too-low/told.rs"]
mod told;

use super::off_control_curve::head_is_read;
use super::{cannot_tell, clear};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Fault, Verdict, onset, say};
use crate::plant::{ControlMode, Reset, Service};
use crate::quantity::{Pressure, Temperature};
use crate::regimes::Regime;
use short::{Branch, Witness};

const FAULT: Fault = Fault::SetpointTooLow;
/// Found from this many hours, on so many days, with the air as witness [h, days]: less is one hot afternoon.
const LEAST_H: f64 = 8.0;
const LEAST_DAYS: usize = 3;
/// The same where valves are the only witness [h, days].
const LEAST_MUTE_H: f64 = 20.0;
const LEAST_MUTE_DAYS: usize = 4;
/// Hours that a day needs to count among them [h].
const LEAST_DAY_H: f64 = 1.0;
/// Valves alone: so many at their end at once [-], with this share of the design flow [-], while the middle valve at work stands this open [-].
const TOGETHER: usize = 2;
const THIRD: f64 = 1.0 / 3.0;
const OTHERS_WIDE: f64 = 0.70;
/// Water's difference over what the coil should give from which it lacks water rather than wastes it [-]: a pair of sensors is good to
/// some 5 % of 6 K; a coil on seven tenths of its head gives about 1.1 (effectiveness-NTU of a coil with NTU 1.5).
const LACKS_WATER: f64 = 0.95;
/// The same where valves are the only witness [-].
const LACKS_WATER_MUTE: f64 = 1.03;
/// From here on the water bears witness by itself [-].
const SURELY_LACKS: f64 = 1.05;
/// Chilled supply this far above design is short of cold: no setting of the pump mends that [K].
const WARM_K: f64 = 1.0;
/// Flow over design flow from which the coils get what they were built for, so that it is the load that is too large [-].
const DESIGN_REACHED: f64 = 0.97;
/// A reset this near its upper limit has no room left [-].
const AT_LIMIT: f64 = 0.98;
/// Hours on the curve or floor without which nothing is said [h].
const LEAST_JUDGED_H: f64 = 24.0;
/// Share of the coils' design flow whose valves must be trended, and flow over design flow that must be seen, for a clear [-].
const TRENDED: f64 = 0.6;
const SEEN_FLOW: f64 = 0.5;

/// One verdict for the loop.
pub fn judge(case: &Case) -> Vec<Verdict> {
    if let Some(v) = missing(case) {
        return vec![v];
    }
    let branches = short::branches(case);
    if branches.is_empty() {
        let why = "no two-way coil valve is trended, so no coil can be seen to starve";
        return vec![cannot_tell(FAULT, "loop", &["valve-position"], why)];
    }
    vec![judge_loop(case, &branches)]
}

fn missing(case: &Case) -> Option<Verdict> {
    let tell = |missing: &[&str], why: &str| Some(cannot_tell(FAULT, "loop", missing, why));
    match case.plant.control.mode {
        None => return tell(&["[control].mode"], "no control curve is declared"),
        Some(
            ControlMode::ConstantPressure
            | ControlMode::RemotePressure
            | ControlMode::Proportional
            | ControlMode::Quadratic,
        ) => {}
        Some(_) => return tell(&[], "the declared control has no head that could be set higher"),
    }
    if !head_is_read(case) {
        return tell(
            &["pump-head or differential-pressure"],
            "no head is read: whether the pumps keep their curve is not known",
        );
    }
    if case.plant.system.service == Service::CondenserWater {
        return tell(&[], "condenser water: no coil's valve says what the machines need");
    }
    None
}

/// How the rows of one kind add up.
struct Account {
    /// Judged: steady, on the curve or the floor, out of frost.
    judged_h: f64,
    highest_flow: f64,
    /// Rows that show the fault, on days that count.
    rows: Vec<usize>,
    days: usize,
    /// The air bears witness in most of them.
    by_air: bool,
    /// Hours with coils short that something else explains: full speed, below the curve, warm supply, load beyond design [h].
    flat_out_h: f64,
    below_h: f64,
    warm_h: f64,
    beyond_h: f64,
}

fn judge_loop(case: &Case, branches: &[Branch]) -> Verdict {
    let from = case.plant.control_history.last().map_or(i64::MIN, |(until, _)| until.timestamp_millis());
    let account = Account::new(case, branches, from);
    if !account.enough(case) {
        return quiet(case, branches, &account);
    }
    let water = short::water(case, branches, &account.rows);
    if !water.is_finite() {
        let why = format!(
            "coil valves are fully open for {:.0} h while the pumps keep their curve; whether they lack water or cannot use it shows \
             only in the water's temperatures",
            account.hours(case)
        );
        let missing =
            ["supply-temperature", "return-temperature or coil-return-temperature", "[loop].supply_temperature"];
        return cannot_tell(FAULT, "loop", &missing, why);
    }
    let least = if account.by_air { LACKS_WATER } else { LACKS_WATER_MUTE };
    if water < least {
        let why = format!(
            "{} are fully open for {:.0} h, but their water comes back with {} of its design temperature difference: they have water and \
             cannot use it (fouled, too small, or asked for air they cannot make)",
            told::names(case, branches, &account.rows),
            account.hours(case),
            say::percent(water)
        );
        return cannot_tell(FAULT, "loop", &[], why);
    }
    told::found(case, branches, &account, water)
}

impl Account {
    fn new(case: &Case, branches: &[Branch], from_ms: i64) -> Self {
        let mut a = Self {
            judged_h: 0.0,
            highest_flow: f64::NAN,
            rows: Vec::new(),
            days: 0,
            by_air: false,
            flat_out_h: 0.0,
            below_h: 0.0,
            warm_h: 0.0,
            beyond_h: 0.0,
        };
        let (mut with_air, mut flows) = (0usize, Vec::new());
        for day in case.days() {
            let mut mine = Vec::new();
            for i in day.filter(|i| case.time_ms[*i] >= from_ms && case.steady[*i] && !case.frost[*i]) {
                let keeps = case.all_in(i, &[Regime::OnCurve, Regime::SpeedFloor]);
                if keeps {
                    a.judged_h += case.step_h;
                    flows.push(case.loop_flow_m3h[i]);
                }
                let witness = short::witness(case, branches, i);
                if witness != Witness::Nothing {
                    if let Some(other) = a.other_cause(case, i, keeps) {
                        *other += case.step_h;
                    } else if keeps {
                        mine.push((i, witness));
                    }
                }
            }
            if mine.len() as f64 * case.step_h >= LEAST_DAY_H {
                a.days += 1;
                with_air += mine.iter().filter(|m| m.1 == Witness::Air).count();
                a.rows.extend(mine.iter().map(|m| m.0));
            }
        }
        a.by_air = with_air * 2 > a.rows.len();
        a.highest_flow = quantile(flows, 0.98) / case.design_flow_m3h();
        a
    }

    /// The account of what explains a row with short coils without any fault of the setting.
    fn other_cause(&mut self, case: &Case, i: usize, keeps: bool) -> Option<&mut f64> {
        if case.all_in(i, &[Regime::FullSpeed]) {
            Some(&mut self.flat_out_h)
        } else if case.all_in(i, &[Regime::BelowCurve]) {
            Some(&mut self.below_h)
        } else if keeps && too_warm(case, i) {
            Some(&mut self.warm_h)
        } else if keeps && case.loop_flow_m3h[i] >= DESIGN_REACHED * case.design_flow_m3h() {
            Some(&mut self.beyond_h)
        } else {
            None
        }
    }

    fn hours(&self, case: &Case) -> f64 {
        self.rows.len() as f64 * case.step_h
    }

    fn enough(&self, case: &Case) -> bool {
        let (hours, days) = if self.by_air { (LEAST_H, LEAST_DAYS) } else { (LEAST_MUTE_H, LEAST_MUTE_DAYS) };
        self.hours(case) >= hours && self.days >= days
    }

    /// First row of it: that of the first day with it, unless a believed step says a later one.
    fn first_row(&self, case: &Case) -> usize {
        let days = case.days();
        let within = |d: &std::ops::Range<usize>| {
            self.rows.partition_point(|i| *i < d.end) - self.rows.partition_point(|i| *i < d.start)
        };
        let share = |d: &std::ops::Range<usize>| {
            let judged = d.clone().filter(|i| case.steady[*i]).count();
            if judged as f64 * case.step_h >= LEAST_DAY_H { within(d) as f64 / judged as f64 } else { f64::NAN }
        };
        let daily: Vec<f64> = days.iter().map(share).collect();
        let step = onset::step(&daily, &[], 2).filter(|s| s.t >= onset::BELIEVED && s.size > 0.0);
        let begun = step.map_or(0, |s| days[s.at].start);
        self.rows.iter().copied().find(|i| *i >= begun).unwrap_or(self.rows[0])
    }
}

/// A chilled supply that is itself short; a heating supply follows the weather and is judged by the water's difference.
fn too_warm(case: &Case, i: usize) -> bool {
    let design = case.plant.system.supply_temperature.map_or(f64::NAN, Temperature::in_celsius);
    case.plant.system.service == Service::ChilledWater && case.supply_c.is_some_and(|s| s[i] - design > WARM_K)
}

/// Whether a most-open-valve reset still has room: then a wide valve is what it aims at.
fn reset_has_room(case: &Case, i: usize) -> bool {
    let control = &case.plant.control;
    if control.reset != Some(Reset::MostOpenValve) {
        return false;
    }
    let limit = control.setpoint_high.map_or(f64::NAN, Pressure::in_kpa);
    let now = case.dp_setpoint_kpa.map_or(f64::NAN, |s| s[i]);
    !(now >= AT_LIMIT * limit)
}

/// The verdict where the fault does not show: cleared, or why not.
fn quiet(case: &Case, branches: &[Branch], a: &Account) -> Verdict {
    if a.judged_h < LEAST_JUDGED_H {
        let why =
            format!("fewer than {LEAST_JUDGED_H:.0} steady hours with a known head on the curve or the speed floor");
        return cannot_tell(FAULT, "loop", &["pump-head", "pump-power with a pump curve"], why);
    }
    for (hours, why) in [
        (a.flat_out_h, "the pumps run flat out then: a higher setting gives nothing"),
        (a.below_h, "the pumps hold less than their curve then: see off-control-curve"),
        (a.warm_h, "the supply is warmer than design then: what the coils lack is cold, not head"),
        (a.beyond_h, "the loop carries its design flow then: the load is beyond design"),
    ] {
        if hours >= LEAST_H {
            return cannot_tell(FAULT, "loop", &[], format!("coils starve for {hours:.0} h, but {why}"));
        }
    }
    let alone = short::alone(case, branches);
    if let Some((coil, hours)) = alone.filter(|a| a.1 >= LEAST_H) {
        let name = case.coils[coil].name;
        let why = format!(
            "{name} alone is short, for {hours:.0} h, while no other coil is: that coil or its branch, before the setting of all"
        );
        return cannot_tell(FAULT, "loop", &[], why);
    }
    let untrended_index = case.coils.iter().any(|c| c.declared.index && c.valve.is_none());
    if short::trended_share(case, branches) < TRENDED || untrended_index {
        let why = "the valves of the index branch and of most of the design flow are not trended";
        return cannot_tell(FAULT, "loop", &["valve-position"], why);
    }
    if a.highest_flow < SEEN_FLOW {
        let why = format!("the record reaches {} of design flow only", say::percent(a.highest_flow));
        return cannot_tell(FAULT, "loop", &["weeks of higher load"], why);
    }
    clear(FAULT, "loop", would_have_seen(branches, a))
}

fn would_have_seen(branches: &[Branch], a: &Account) -> String {
    let up_to = if a.highest_flow.is_finite() {
        format!(" at flows up to {} of design", say::percent(a.highest_flow))
    } else {
        String::new()
    };
    if branches.iter().any(|b| b.air.is_some()) {
        format!(
            "two coil valves, or the index branch's, fully open with their air {} K off its setpoint for {LEAST_H:.0} h on {LEAST_DAYS} \
             days{up_to}",
            short::SHORT_K
        )
    } else {
        format!(
            "two valves with a third of the design flow fully open at once for {LEAST_MUTE_H:.0} h on {LEAST_MUTE_DAYS} days{up_to}; \
             no air temperature is trended that would show less"
        )
    }
}

/// The middle of a branch's or the loop's figures over rows.
fn middle(rows: &[usize], of: impl Fn(usize) -> f64) -> f64 {
    median(rows.iter().map(|i| of(*i)))
}

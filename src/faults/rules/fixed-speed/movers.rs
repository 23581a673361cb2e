//! What should have moved a speed, and whether it moved.

use super::super::number;
use super::stays::Kind;
use crate::faults::spread::{mean, median, quantile_of};
use crate::faults::{Case, Evidence, PumpCase};
use crate::operating::State;
use crate::plant::{Role, Valve};

/// How strongly it speaks, the strongest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Strength {
    /// The command or the mode point says it outright.
    Proof,
    Strong,
    Weak,
}

/// Something that moved.
#[derive(Debug, Clone)]
pub(super) struct Moved {
    pub name: &'static str,
    pub strength: Strength,
    /// Range over the least that counts [-].
    pub times: f64,
    pub is_mode: bool,
    low: f64,
    high: f64,
    unit: &'static str,
    least: f64,
}

impl Moved {
    pub(super) fn say(&self) -> String {
        let (low, high) = (self.low, self.high);
        match (self.name, self.unit) {
            ("mode", _) => "its mode point says hand".to_owned(),
            ("head off its curve", _) => {
                format!("its head lay {low:.0} kPa off what its control asks in {:.0} % of those hours", high * 100.0)
            }
            (name, "fraction") => format!("{name} moved from {:.0} to {:.0} %", low * 100.0, high * 100.0),
            (name, "degC" | "K") => format!("{name} moved between {low:.1} and {high:.1} {}", self.unit),
            (name, unit) => {
                let places = if high >= 100.0 { 0 } else { 2 };
                format!("{name} moved between {low:.places$} and {high:.places$} {unit}")
            }
        }
    }
    pub(super) fn evidence(&self) -> Evidence {
        let source = "5th to 95th per cent of the hours it stood";
        match self.name {
            "mode" => {
                number("mode point says hand", self.high, "fraction", "automatic", "pump-mode, share of those hours")
            }
            "head off its curve" => {
                number("head less what is asked", self.low, "kPa", "on the curve", "head and control curve")
            }
            _ => number(
                format!("range of {}", self.name),
                self.high - self.low,
                self.unit,
                format!("a speed that moves from {:.3} on", self.least),
                source,
            ),
        }
    }
    pub(super) fn head_off_curve(off_kpa: f64, share: f64) -> Self {
        let name = "head off its curve";
        Self {
            name,
            strength: Strength::Strong,
            times: 1.0 + share,
            is_mode: false,
            low: off_kpa,
            high: share,
            unit: "kPa",
            least: 0.0,
        }
    }
    pub(super) fn throttled_at_full(low: f64, high: f64) -> Self {
        let name = "power at full speed";
        Self { name, strength: Strength::Strong, times: high / low, is_mode: false, low, high, unit: "kW", least: 0.0 }
    }
}

/// A range that counts: what share of its high or middle value, or so much outright.
struct Limit {
    /// Of the middle value [-], and for a speed in whole per cents.
    share: f64,
    coarse: f64,
    /// In the role's own unit.
    least: f64,
}

/// Shaft power at one speed moves by a tenth over about a fifth of the design flow (common practice, no source); beside it a controlled speed moves by more
/// than its band. Whole per cents may hide 1 %, which goes with about a quarter of the power at constant pressure.
const POWER: Limit = Limit { share: 0.10, coarse: 0.25, least: 0.05 };
/// At one speed the head falls by a tenth from shut-off to about two thirds of design flow.
const HEAD: Limit = Limit { share: 0.08, coarse: 0.12, least: 2.0 };
const FLOW: Limit = Limit { share: 0.30, coarse: 0.45, least: 0.5 };
const LOAD: Limit = Limit { share: 0.40, coarse: 0.60, least: 1.0 };
/// Mean opening of the valves with running fans [-].
const VALVES: Limit = Limit { share: 0.0, coarse: 0.0, least: 0.12 };
const COARSE_VALVES: f64 = 0.20;
const DELTA_T: Limit = Limit { share: 0.25, coarse: 0.40, least: 1.0 };
/// Outdoor air [K]: a day's swing in fair weather; a load that hangs on it moves by a quarter of its span.
const OUTDOOR: Limit = Limit { share: 0.0, coarse: 0.0, least: 6.0 };
/// Another pump's speed or this one's command [-]: twice the widest band.
const SPEED: Limit = Limit { share: 0.0, coarse: 0.0, least: 0.04 };
/// Rows of a stay looked at; more would only cost time [rows].
const MOST_ROWS: usize = 4000;
/// Share of the rows in which a witness must be known [-].
const KNOWN: f64 = 0.5;
/// Share of the rows in which the mode point says hand [-].
const SAYS_HAND: f64 = 0.8;
/// Correlation of speed with load from which a speed within its band still follows its control [-].
const FOLLOWS: f64 = 0.45;

/// What moved over these rows.
pub(super) fn moved(case: &Case, pump: &PumpCase, rows: &[usize], coarse: bool) -> Vec<Moved> {
    let mut out = Vec::new();
    let mut add = |name, unit, strength, limit: &Limit, of: &dyn Fn(usize) -> f64| {
        out.extend(range(name, unit, strength, limit, coarse, rows, of));
    };
    let own = |role| case.trend(role, Some(pump.name));
    for other in case.pumps.iter().filter(|p| p.name != pump.name) {
        let beside = |i: usize| if other.state[i] == State::Steady { other.speed[i] } else { f64::NAN };
        add("the other pump's speed", "fraction", Strength::Strong, &SPEED, &beside);
    }
    if varies(case) {
        let valves = Limit { least: if coarse { COARSE_VALVES } else { VALVES.least }, ..VALVES };
        add("the valves' mean opening", "fraction", Strength::Strong, &valves, &|i| mean_opening(case, i));
    }
    add("power", "kW", Strength::Strong, &POWER, &|i| pump.power_kw[i]);
    if let Some(v) = own(Role::PumpHead).or_else(|| case.trend(Role::PumpHead, None)).or(case.dp_kpa) {
        // Only a head that is read: one taken from the pump's table moves with the power's noise.
        add("head", "kPa", Strength::Strong, &HEAD, &|i| v[i]);
    }
    if let Some(v) = own(Role::PumpFlow).or_else(|| case.trend(Role::LoopFlow, None)) {
        add("flow", "m3/h", Strength::Strong, &FLOW, &|i| v[i]);
    }
    if varies(case) {
        if let Some(v) = case.trend(Role::ThermalLoad, None) {
            add("the thermal load", "kW", Strength::Weak, &LOAD, &|i| v[i]);
        }
        add("the temperature difference", "K", Strength::Weak, &DELTA_T, &|i| case.delta_t_k(i));
        if let Some(v) = case.outdoor_c {
            add("outdoor air", "degC", Strength::Weak, &OUTDOOR, &|i| v[i]);
        }
    }
    // Where power or a meter says that the duty stands, valves that change places and weather move nothing.
    let duty = |m: &Moved| matches!(m.name, "power" | "flow" | "head");
    if !out.iter().any(duty) && duty_known(case, pump, rows) {
        out.clear();
    }
    out
}

/// Whether power or a flow meter is known in these rows.
fn duty_known(case: &Case, pump: &PumpCase, rows: &[usize]) -> bool {
    let meter = case.trend(Role::PumpFlow, Some(pump.name)).or_else(|| case.trend(Role::LoopFlow, None));
    let known = |v: &[f64]| rows.iter().filter(|&&i| v[i].is_finite()).count() as f64 >= KNOWN * rows.len() as f64;
    known(pump.power_kw) || meter.is_some_and(known)
}

/// Whether the loop's load moved, as its temperatures tell: its difference (or the load made of it) and outdoor air, two witnesses.
pub(super) fn temperatures_tell(moved: &[Moved]) -> bool {
    let any = |names: &[&str]| moved.iter().any(|m| names.contains(&m.name));
    any(&["the temperature difference", "the thermal load"]) && any(&["outdoor air"])
}

/// The speed command, where it moves and leaves the speed: at an end only away from it, since a command beyond the end changes nothing.
pub(super) fn command(case: &Case, pump: &PumpCase, rows: &[usize], level: f64, end: Option<Kind>) -> Option<Moved> {
    let v = case.trend(Role::PumpSpeedCommand, Some(pump.name))?;
    let m = range("its speed command", "fraction", Strength::Proof, &SPEED, false, rows, &|i| v[i])?;
    let leaves = match end {
        Some(Kind::Floor) => m.high > level + SPEED.least,
        Some(_) => m.low < level - SPEED.least,
        None => true,
    };
    leaves.then_some(m)
}

/// Whether anything is trended that could have moved.
pub(super) fn any_trended(case: &Case, pump: &PumpCase) -> bool {
    let known = |v: &[f64]| v.iter().any(|x| x.is_finite());
    let roles = [Role::PumpSpeedCommand, Role::PumpMode, Role::PumpHead, Role::PumpFlow];
    let of_loop = [Role::PumpHead, Role::LoopFlow, Role::ThermalLoad, Role::DifferentialPressure];
    let running_power = pump.power_kw.iter().any(|p| *p > 0.0);
    running_power
        || roles.iter().any(|r| case.trend(*r, Some(pump.name)).is_some_and(known))
        || of_loop.iter().any(|r| case.trend(*r, None).is_some_and(known))
        || known(pump.head_kpa)
        || case.coils.iter().any(|c| c.valve.is_some_and(known))
        || (case.supply_c.is_some_and(known) && case.return_c.is_some_and(known))
}

/// Whether the loop's resistance moves with its load: not where every terminal is three-way or has no valve.
fn varies(case: &Case) -> bool {
    let constant = |c: &crate::faults::CoilCase| matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None));
    case.coils.is_empty() || !case.coils.iter().all(constant)
}

/// Mean opening of the trended two-way valves whose fan is not known to stand [-].
fn mean_opening(case: &Case, i: usize) -> f64 {
    let through = |c: &&crate::faults::CoilCase| {
        !matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None)) && !c.fan_off(i)
    };
    mean(case.coils.iter().filter(through).filter_map(|c| c.valve).map(|v| v[i]))
}

fn range(
    name: &'static str,
    unit: &'static str,
    strength: Strength,
    limit: &Limit,
    coarse: bool,
    rows: &[usize],
    of: &dyn Fn(usize) -> f64,
) -> Option<Moved> {
    let sampled = || rows.iter().copied().step_by(rows.len().div_ceil(MOST_ROWS).max(1));
    let mut values: Vec<f64> = sampled().map(of).filter(|v| v.is_finite()).collect();
    if values.is_empty() || (values.len() as f64) < KNOWN * sampled().count() as f64 {
        return None;
    }
    let mut at = |share| quantile_of(&mut values, share);
    let (low, middle, high) = (at(0.05), at(0.5), at(0.95));
    // Noise alone makes a range of 3.3 standard deviations; neighbouring rows tell how much of it there is.
    let last = rows[rows.len() - 1];
    let noise = median(sampled().filter(|i| *i < last).map(|i| (of(i + 1) - of(i)).abs())) / 0.954;
    let noise = if noise.is_finite() { noise } else { 0.0 };
    let share = if coarse { limit.coarse } else { limit.share };
    let least = (share * middle.abs()).max(limit.least).max(5.0 * noise);
    let times = (high - low) / least;
    (times >= 1.0).then_some(Moved { name, strength, times, is_mode: false, low, high, unit, least })
}

/// The mode point, where it says hand while the pump runs: ingest reads automatic as 1, hand as 0.
pub(super) fn mode(case: &Case, pump: &PumpCase, rows: &[usize]) -> Option<Moved> {
    let mode = case.trend(Role::PumpMode, Some(pump.name))?;
    let known = rows.iter().filter(|&&i| mode[i].is_finite()).count();
    let hand = rows.iter().filter(|&&i| mode[i] < 0.5).count();
    let share = hand as f64 / known.max(1) as f64;
    let says = known as f64 >= KNOWN * rows.len() as f64 && share >= SAYS_HAND;
    says.then_some(Moved {
        name: "mode",
        strength: Strength::Proof,
        times: 9.0,
        is_mode: true,
        low: 0.0,
        high: share,
        unit: "fraction",
        least: 0.0,
    })
}

/// Whether the speed, however little it moves, moves up with power or flow: a flat pump at constant pressure does. A drive in hand shows none, or a motor's slip,
/// which goes the other way.
pub(super) fn follows(case: &Case, pump: &PumpCase, rows: &[usize]) -> bool {
    let metered = case.trend(Role::PumpFlow, Some(pump.name)).or_else(|| case.trend(Role::LoopFlow, None));
    let by_flow = metered.is_some_and(|f| correlation(rows, pump.speed, f) >= FOLLOWS);
    by_flow || correlation(rows, pump.speed, pump.power_kw) >= FOLLOWS
}

/// Correlation of two columns over rows where both are known; NaN where one of them stands.
fn correlation(rows: &[usize], a: &[f64], b: &[f64]) -> f64 {
    let stride = rows.len().div_ceil(MOST_ROWS).max(1);
    let both = || rows.iter().step_by(stride).map(|&i| (a[i], b[i])).filter(|(x, y)| x.is_finite() && y.is_finite());
    let (ma, mb) = (mean(both().map(|p| p.0)), mean(both().map(|p| p.1)));
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in both() {
        ab += (x - ma) * (y - mb);
        aa += (x - ma).powi(2);
        bb += (y - mb).powi(2);
    }
    ab / (aa * bb).sqrt()
}

//! Water that comes back too near the temperature it left with.
//!
//! Judged against what the terminals should give in that hour: coils on a constant supply temperature keep their
//! difference at part load or raise it, so there a fall is a cause at work; where the supply is compensated by the
//! weather, the difference is held against supply minus room. A raised chilled supply lowers it honestly, steeply and
//! not in proportion: such hours are not held against the design. A step in the record at like load and supply
//! temperature is the strongest evidence. Condenser water gets no verdict: less flow there costs the chiller more.

use super::{cannot_tell, clear, lines, number};
use crate::faults::onset::{self, Step};
use crate::faults::spread::{mean, median, quantile};
use crate::faults::{Case, CoilCase, Evidence, Fault, Finding, Verdict, price, say};
use crate::plant::{Service, Terminal, Valve};
use crate::quantity::{Flow, Temperature};
use crate::regimes::{Regime, ask_at};

const FAULT: Fault = Fault::LowDeltaT;
/// Share of what it should be, from which a day is low [-]: published cases ran at half (Kirsner 1996, 8 of 16 F).
const LOW: f64 = 0.75;
/// The same for heating, where terminals, their entering air and the supply's own curve leave more open [-].
const LOW_HEATING: f64 = 0.60;
/// Share of the judged days that must be low, and least number of judged days [-, days].
const DAYS_LOW: f64 = 0.6;
const LEAST_DAYS: usize = 5;
/// Rows count from this share of design flow on [-], and from this multiple of the minimum flow [-]: below them a
/// bypass mixes honestly and small flows read badly.
const FROM_FLOW: f64 = 0.25;
const ABOVE_MINIMUM: f64 = 1.3;
/// Hours a day needs to count [h].
const LEAST_DAY_H: f64 = 1.0;
/// Smallest fall at like conditions that counts by itself, as share of what was [-]; and what must be left at most, of
/// what the terminals should give [-]: coils larger than their load give more, and may give less of that honestly.
const LEAST_FALL: f64 = 0.12;
const LEFT: f64 = 0.85;
/// On a day that a second witness names, coil valves that opened at like conditions: this fall [-] and this sure [-] do.
const WITNESSED_FALL: f64 = 0.06;
const WITNESSED_T: f64 = 4.0;
/// A valve opened by this much at like conditions bears witness [-].
const VALVE_OPENED: f64 = 0.06;
/// With no valve trended to ask, only a fall this large and this sure is one without being below design [-].
const ALONE_FALL: f64 = 0.20;
const ALONE_T: f64 = 8.0;
/// A chilled supply this much above design is a raised one [K].
const RAISED_K: f64 = 1.0;
/// Room temperature that heating terminals give to [degC]: common practice, no source.
const ROOM_C: f64 = 20.5;
/// Smallest supply-minus-room that a share is taken of [K].
const LEAST_DRIVE_K: f64 = 5.0;
/// Share of terminals with constant volume from which the level says nothing [-].
const CONSTANT_VOLUME: f64 = 0.3;
/// A coil's valve must have opened by this much at like conditions [-], its water's difference fallen by so much [-].
const COIL_OPENED: f64 = 0.08;
const COIL_FELL: f64 = 0.08;
/// A move of the air's setpoint or temperature that explains a valve that opened [K].
const AIR_MOVED_K: f64 = 0.8;
/// A coil whose valve stands this far open [-] while its water takes up no more than so much of design [-], for so long [h].
const WIDE_OPEN: f64 = 0.90;
const COIL_LOW: f64 = 0.65;
const LEAST_WIDE_H: f64 = 20.0;
/// When more than this share of the coils seem at fault, they are not what is [-].
const MOST_COILS: f64 = 0.5;

/// A verdict for each coil that is found, then one for the loop.
pub fn judge(case: &Case) -> Vec<Verdict> {
    if let Some(v) = missing(case) {
        return vec![v];
    }
    let water = Water::new(case);
    let mut coils: Vec<CoilFault> = case.coils.iter().enumerate().filter_map(|(k, _)| coil(case, k)).collect();
    if coils.len() as f64 > MOST_COILS * case.coils.len() as f64 {
        // What most coils share has one cause somewhere else.
        coils.clear();
    }
    let mut verdicts: Vec<Verdict> = coils.iter().map(|c| c.verdict(case)).collect();
    verdicts.push(water.verdict(case, &coils));
    verdicts
}

fn missing(case: &Case) -> Option<Verdict> {
    if case.plant.system.service == Service::CondenserWater {
        let why = "condenser water: less flow costs the chiller more than the pump saves, so no temperature difference is called low";
        return Some(cannot_tell(FAULT, "loop", &[], why));
    }
    let mut missing = Vec::new();
    let known = |t: Option<&[f64]>| t.is_some_and(|t| t.iter().any(|v| v.is_finite()));
    if !known(case.supply_c) {
        missing.push("supply-temperature");
    }
    if !known(case.return_c) {
        missing.push("return-temperature");
    }
    if !case.loop_flow_m3h.iter().any(|q| *q > 0.0) {
        missing.push("loop-flow or a reconstructable operating point");
    }
    (!missing.is_empty())
        .then(|| cannot_tell(FAULT, "loop", &missing, "the difference at a known flow is not in the record"))
}

/// The loop's daily figures.
struct Water {
    rows: Vec<usize>,
    /// Difference over what it should be, weighted by flow, one a day [-]; over design where that stands, else over nothing [K].
    level: Vec<f64>,
    /// What the level may honestly hang on, one column each.
    given: Vec<Vec<f64>>,
    /// Whether the level is a share of what it should be.
    held_to_design: bool,
    why_not: &'static str,
}

impl Water {
    fn new(case: &Case) -> Self {
        let rows = rows(case);
        let (held_to_design, why_not) = can_hold_to_design(case, &rows);
        let of = |i: usize| if held_to_design { expected_k(case, i) } else { 1.0 };
        let days = case.days();
        let mut level = Vec::new();
        let (mut load, mut supply, mut outdoor) = (Vec::new(), Vec::new(), Vec::new());
        for d in &days {
            let mine = &rows[rows.partition_point(|i| *i < d.start)..rows.partition_point(|i| *i < d.end)];
            let judged: Vec<usize> = mine.iter().copied().filter(|i| of(*i).is_finite()).collect();
            let enough = judged.len() as f64 * case.step_h >= LEAST_DAY_H;
            let sum = |f: &dyn Fn(usize) -> f64| judged.iter().map(|i| f(*i)).sum::<f64>();
            let taken = sum(&|i| case.loop_flow_m3h[i] * case.delta_t_k(i));
            level.push(if enough { taken / sum(&|i| case.loop_flow_m3h[i] * of(i)) } else { f64::NAN });
            load.push(if enough { taken / judged.len() as f64 } else { f64::NAN });
            supply.push(mean(judged.iter().map(|i| case.supply_c.map_or(f64::NAN, |s| s[*i]))));
            outdoor.push(mean(judged.iter().map(|i| case.outdoor_c.map_or(f64::NAN, |t| t[*i]))));
        }
        let mut given = vec![load, supply];
        if outdoor.iter().any(|t| t.is_finite()) {
            given.push(outdoor);
        }
        Self { rows, level, given, held_to_design, why_not }
    }

    fn judged_days(&self) -> usize {
        self.level.iter().filter(|l| l.is_finite()).count()
    }

    /// A fall at like load and supply temperature that coil valves bear witness to, or that is large and sure by itself.
    fn fall(&self, case: &Case) -> Option<Step> {
        let witnessed = valves_opened(case).into_iter().filter_map(|o| {
            let step = onset::step_on(&self.level, &self.given, 3, o.at)?;
            (-step.size >= WITNESSED_FALL * step.before && step.t >= WITNESSED_T).then_some(step)
        });
        witnessed.max_by(|a, b| a.t.total_cmp(&b.t).then(b.at.cmp(&a.at))).or_else(|| self.fall_alone(case))
    }

    fn fall_alone(&self, case: &Case) -> Option<Step> {
        let step = onset::step(&self.level, &self.given, 3)?;
        let fell = -step.size / step.before;
        let low_enough = !self.held_to_design || median(self.level[step.at..].iter().copied()) <= LEFT;
        let unasked = case.coils.iter().all(|c| c.valve.is_none());
        let large = fell >= LEAST_FALL && step.t >= onset::BELIEVED && low_enough;
        (large || (unasked && fell >= ALONE_FALL && step.t >= ALONE_T)).then_some(step)
    }

    fn verdict(&self, case: &Case, coils: &[CoilFault]) -> Verdict {
        if self.judged_days() < LEAST_DAYS {
            let why =
                if self.why_not.is_empty() { "fewer than five days well above minimum flow" } else { self.why_not };
            return cannot_tell(FAULT, "loop", &[], why);
        }
        if median(self.level.iter().copied()) <= 0.0 {
            let why = "supply and return stand the wrong way round for this service on most days: the two may be exchanged in the \
                       plant file or on the pipes";
            return cannot_tell(FAULT, "loop", &[], why);
        }
        let limit = low_limit(case);
        let fall = self.fall(case);
        let from = fall.map_or(0, |s| s.at);
        let since: Vec<f64> = self.level[from..].iter().copied().filter(|l| l.is_finite()).collect();
        let low = since.iter().filter(|l| **l <= limit).count() as f64 >= DAYS_LOW * since.len() as f64;
        if let Some(c) = coils.iter().find(|c| fall.is_none_or(|s| c.explains(case, s, &self.level)))
            && (fall.is_some() || !(self.held_to_design && low))
        {
            let seen = format!("a fall beyond what {} alone explains", case.coils[c.coil].name);
            return clear(FAULT, "loop", seen);
        }
        if fall.is_some() || (self.held_to_design && low) {
            return self.found(case, fall, coils);
        }
        if !self.held_to_design {
            let why =
                format!("{}; and no fall at like load and supply temperature came within the record", self.why_not);
            return cannot_tell(FAULT, "loop", &["[loop].supply_temperature", "[loop].return_temperature"], why);
        }
        clear(
            FAULT,
            "loop",
            format!(
                "a difference below {} of what the terminals should give, or a fall by {} at like load to {} of it or less",
                say::percent(limit),
                say::percent(LEAST_FALL),
                say::percent(LEFT)
            ),
        )
    }

    fn found(&self, case: &Case, fall: Option<Step>, coils: &[CoilFault]) -> Verdict {
        let start = fall.map_or(0, |s| case.days()[s.at].start);
        let rows: Vec<usize> = self.rows.iter().copied().filter(|i| *i >= start).collect();
        let (first, last) = (rows[0], rows[rows.len() - 1]);
        let limit = low_limit(case);
        let level = median(self.level[fall.map_or(0, |s| s.at)..].iter().copied());
        let left = fall.map_or(level, |s| 1.0 + s.size / s.before);
        let waste = price::waste(case, &rows, |i| with_difference(case, i, left));
        let yearly = price::per_year(case, waste);
        let seen = fall.map_or_else(Vec::new, |s| witnesses(case, s.at));
        let shown = median(rows.iter().map(|i| case.delta_t_k(*i)));
        let against = match fall {
            Some(s) => format!(
                "at like load and supply temperature it fell to {} of what it was",
                say::percent(1.0 + s.size / s.before)
            ),
            None => format!("that is {} of what these terminals should give", say::percent(level)),
        };
        let step =
            fall.map_or_else(|| "from the first day on".to_owned(), |_| format!("since {}", case.say_when(first)));
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: "loop".into(),
            urgency: price::urgency(case, waste, false),
            confidence: fall.map_or(0.6 + (limit - level).clamp(0.0, 0.25), |s| (0.7 + s.t / 100.0).min(0.92)),
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours: rows.len() as f64 * case.step_h,
            waste_kwh: waste,
            waste_kwh_per_year: yearly,
            caused_by: None,
            because: format!(
                "The water comes back {} from its supply temperature (median), {step}; {against}, so the pumps move about {} of the \
                 water that the load would need.{}{}",
                case.say_kelvin(shown),
                say::percent(1.0 / left),
                named(case, &seen),
                price::money(case, yearly)
            ),
            evidence: self.evidence(case, fall, level, &seen),
            could_also_be: self.could_also_be(case, coils),
            check_on_site: lines(&[
                "Compare supply and return sensors with one calibrated thermometer in both pockets.",
                "At high load, measure each large coil's leaving water: the coils near the supply temperature are the cause.",
                "On those coils look for a valve that does not shut, an air setpoint below what is needed, a dirty coil or filter.",
                "Look for an open bypass, a flushing line, and three-way valves that are not in the plant file.",
            ]),
            change: "Mend the coils or the bypass that let the water through; lower no pump setting to hide it.".into(),
            caution: case.caution("Coils that meet outdoor air freeze when their flow is cut."),
        }))
    }

    fn evidence(&self, case: &Case, fall: Option<Step>, level: f64, seen: &[Opened]) -> Vec<Evidence> {
        let source = "supply and return temperature, weighted by flow, days";
        let mut all = Vec::new();
        if self.held_to_design {
            let expected = format!("above {}", low_limit(case));
            all.push(number("difference over what the terminals should give", level, "fraction", expected, source));
        }
        if let Some(s) = fall {
            let name = "difference after over before, at like load and supply temperature";
            all.push(number(name, 1.0 + s.size / s.before, "fraction", format!("above {}", 1.0 - LEAST_FALL), source));
            all.push(number("step over its standard error", s.t, "-", format!("below {}", onset::BELIEVED), source));
        }
        for o in seen {
            let name = format!("valve of {} opened at like conditions by", case.coils[o.coil].name);
            all.push(number(
                name,
                o.size,
                "fraction",
                format!("below {VALVE_OPENED}"),
                "valve position against its siblings' and the weather",
            ));
        }
        let share = three_way_share(case);
        if share > 0.0 {
            all.push(number(
                "share of design flow on three-way valves",
                share,
                "fraction",
                "taken into account",
                "plant file",
            ));
        }
        all
    }

    fn could_also_be(&self, case: &Case, coils: &[CoilFault]) -> Vec<String> {
        let mut all: Vec<String> =
            coils.iter().map(|c| format!("{} alone, in part: see its own finding", case.coils[c.coil].name)).collect();
        let widest = median(self.rows.iter().map(|i| case.widest_valve(*i)));
        if widest < 0.5 {
            all.push(format!(
                "more head than the valves can throttle: the widest stands {} open in the median hour",
                say::percent(widest)
            ));
        }
        all.extend(lines(&[
            "a bypass open since before the record began",
            "one of the two temperature sensors drifted",
        ]));
        all
    }
}

/// A valve that stands wider at like conditions from a day on.
struct Opened {
    coil: usize,
    at: usize,
    size: f64,
}

/// The coils whose valves opened, each with its day.
fn valves_opened(case: &Case) -> Vec<Opened> {
    let opened = |k: usize| {
        let c = &case.coils[k];
        let valve = c.valve?;
        if matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None | Valve::PressureIndependent)) {
            return None;
        }
        let rows: Vec<usize> = (0..case.rows()).filter(|i| at_work(case, c, *i)).collect();
        let s = onset::step(&daily(case, &rows, &|i| valve[i]), &conditions(case, k, &rows), 3)?;
        let sure = s.t >= onset::BELIEVED && s.size >= VALVE_OPENED && !air_moved(case, c, &rows, s.at);
        sure.then_some(Opened { coil: k, at: s.at, size: s.size })
    };
    (0..case.coils.len()).filter_map(opened).collect()
}

/// Those that opened with a fall of the loop's difference.
fn witnesses(case: &Case, at: usize) -> Vec<Opened> {
    valves_opened(case).into_iter().filter(|o| o.at.abs_diff(at) <= 1).collect()
}

/// A sentence that names the coils whose valves opened.
fn named(case: &Case, seen: &[Opened]) -> String {
    if seen.is_empty() {
        return String::new();
    }
    let names: Vec<&str> = seen.iter().map(|o| case.coils[o.coil].name).collect();
    format!(
        " With it the valve{} of {} opened wider at like conditions: {} more water for the same load, as a fouled coil does.",
        if seen.len() > 1 { "s" } else { "" },
        names.join(" and "),
        if seen.len() > 1 { "they take" } else { "it takes" }
    )
}

fn low_limit(case: &Case) -> f64 {
    if case.plant.system.service == Service::HeatingWater { LOW_HEATING } else { LOW }
}

/// Steady rows well above minimum flow, off the speed floor, with both temperatures.
fn rows(case: &Case) -> Vec<usize> {
    let design = case.design_flow_m3h();
    let full = if design.is_finite() { design } else { quantile(case.loop_flow_m3h.iter().copied(), 0.98) };
    let from = (FROM_FLOW * full).max(ABOVE_MINIMUM * case.minimum_flow_m3h());
    (0..case.rows())
        .filter(|i| case.steady[*i] && case.loop_flow_m3h[*i] >= from && !case.frost[*i])
        .filter(|i| case.delta_t_k(*i).is_finite() && !case.all_in(*i, &[Regime::SpeedFloor]))
        .collect()
}

/// Whether design figures and terminals let the level itself be judged, and if not, why.
fn can_hold_to_design(case: &Case, rows: &[usize]) -> (bool, &'static str) {
    if !(case.design_delta_t_k() > 0.0) {
        return (false, "the design supply and return temperatures are not declared");
    }
    let constant = |c: &&CoilCase| {
        matches!(c.declared.terminal, Some(Terminal::Riser)) || matches!(c.declared.valve, Some(Valve::None))
    };
    let constants = case.coils.iter().filter(constant).count();
    if constants as f64 > CONSTANT_VOLUME * case.coils.len() as f64 {
        return (false, "constant-volume terminals lower the difference honestly at part load");
    }
    let usable = rows.iter().filter(|i| expected_k(case, **i).is_finite()).count();
    if usable * 2 < rows.len() {
        return (
            false,
            "the supply ran away from its design temperature most of the time, which changes the difference honestly",
        );
    }
    (true, "")
}

/// What the terminals should give in a row [K]; NaN where that cannot be said.
fn expected_k(case: &Case, i: usize) -> f64 {
    let design = case.design_delta_t_k() * three_way(case, case.loop_flow_m3h[i]);
    let declared = case.plant.system.supply_temperature.map_or(f64::NAN, Temperature::in_celsius);
    let supply = case.supply_c.map_or(f64::NAN, |s| s[i]);
    if case.plant.system.service == Service::HeatingWater {
        let drive = supply - ROOM_C;
        return if drive >= LEAST_DRIVE_K { design * (drive / (declared - ROOM_C)).min(1.0) } else { f64::NAN };
    }
    if supply - declared <= RAISED_K { design } else { f64::NAN }
}

/// Share of the design flow on declared three-way valves, whose flow does not fall with the load [-].
fn three_way_share(case: &Case) -> f64 {
    let of = |only: bool| -> f64 {
        let wanted = case.coils.iter().filter(|c| !only || c.declared.valve == Some(Valve::ThreeWay));
        wanted.filter_map(|c| c.declared.design_flow).map(Flow::in_m3h).sum()
    };
    let all = of(false);
    if all > 0.0 { of(true) / all } else { 0.0 }
}

/// Share of the design difference that declared three-way valves leave at a flow [-]: with their share s always flowing
/// and the others at the load p of all, q = p (1 - s) + s, and the mix has p / q of the design difference (heat balance).
fn three_way(case: &Case, flow_m3h: f64) -> f64 {
    let s = three_way_share(case);
    let q = (flow_m3h / case.design_flow_m3h()).min(1.0);
    if s <= 0.0 || !q.is_finite() || s >= 1.0 {
        return 1.0;
    }
    ((q - s) / (1.0 - s) / q).clamp(0.2, 1.0)
}

/// Flow and head of a row had the water taken up what it should: less flow, and the head follows the curve down.
fn with_difference(case: &Case, i: usize, level: f64) -> (f64, f64) {
    let flow = case.loop_flow_m3h[i];
    let less = flow * level.clamp(0.4, 1.0);
    let asked = |q: f64| ask_at(case.plant, &case.plant.control, q, case.dp_setpoint_kpa.map_or(f64::NAN, |s| s[i]));
    let fall = asked(flow) - asked(less);
    (less, case.loop_head_kpa[i] - if fall.is_finite() { fall } else { 0.0 })
}

/// A coil that passes more water than its load needs.
struct CoilFault {
    coil: usize,
    rows: Vec<usize>,
    /// Day the fault began on; `None` from the first day on.
    at: Option<usize>,
    /// Its water's difference of what it was or should be [-].
    left: f64,
    confidence: f64,
    because: String,
    evidence: Vec<Evidence>,
}

fn coil(case: &Case, k: usize) -> Option<CoilFault> {
    let c = &case.coils[k];
    if matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None | Valve::PressureIndependent)) {
        return None;
    }
    c.valve?;
    c.return_c?;
    opened(case, k).or_else(|| wide_open(case, k))
}

/// Rows in which the coil works.
fn working(case: &Case, c: &CoilCase) -> Vec<usize> {
    (0..case.rows()).filter(|i| at_work(case, c, *i) && coil_difference(case, c, *i).is_finite()).collect()
}

/// Whether a coil's valve is open while pump and, as far as known, fan run.
fn at_work(case: &Case, c: &CoilCase, i: usize) -> bool {
    case.pumps_on[i] > 0 && !c.fan_off(i) && !case.frost[i] && c.valve.is_some_and(|v| v[i] >= 0.1)
}

/// From which row on the loop's difference is fallen, where it fell within the record.
pub(super) fn fallen_from(case: &Case) -> Option<usize> {
    if missing(case).is_some() {
        return None;
    }
    Water::new(case).fall(case).map(|s| case.days()[s.at].start)
}

fn coil_difference(case: &Case, c: &CoilCase, i: usize) -> f64 {
    let (Some(supply), Some(back)) = (case.supply_c, c.return_c) else { return f64::NAN };
    case.toward_load(supply[i], back[i])
}

/// A daily mean over rows, NaN on days with too few.
fn daily(case: &Case, rows: &[usize], of: &dyn Fn(usize) -> f64) -> Vec<f64> {
    let mean_of = |d: std::ops::Range<usize>| {
        let mine = &rows[rows.partition_point(|i| *i < d.start)..rows.partition_point(|i| *i < d.end)];
        if mine.len() as f64 * case.step_h < LEAST_DAY_H { f64::NAN } else { mean(mine.iter().map(|i| of(*i))) }
    };
    case.days().into_iter().map(mean_of).collect()
}

/// What a coil's valve may honestly follow: its siblings' valves, the supply's temperature, the weather.
fn conditions(case: &Case, k: usize, rows: &[usize]) -> Vec<Vec<f64>> {
    let siblings = |i: usize| {
        mean(case.coils.iter().enumerate().filter(|(j, _)| *j != k).filter_map(|(_, c)| c.valve).map(|v| v[i]))
    };
    let mut given =
        vec![daily(case, rows, &siblings), daily(case, rows, &|i| case.supply_c.map_or(f64::NAN, |s| s[i]))];
    given.push(daily(case, rows, &|i| case.outdoor_c.map_or(f64::NAN, |t| t[i])));
    given.retain(|g| g.iter().any(|v| v.is_finite()));
    given
}

/// By a step: the valve opened and the water's difference fell at like conditions, and the air's did not move.
fn opened(case: &Case, k: usize) -> Option<CoilFault> {
    let c = &case.coils[k];
    let valve = c.valve?;
    let rows = working(case, c);
    let given = conditions(case, k, &rows);
    let open = onset::step(&daily(case, &rows, &|i| valve[i]), &given, 3)?;
    let water = onset::step(&daily(case, &rows, &|i| coil_difference(case, c, i)), &given, 3)?;
    let sure = open.t >= onset::BELIEVED && water.t >= onset::BELIEVED && open.at.abs_diff(water.at) <= 1;
    if !sure || open.size < COIL_OPENED || water.size > -COIL_FELL * water.before || air_moved(case, c, &rows, open.at)
    {
        return None;
    }
    let start = case.days()[open.at].start;
    let left = 1.0 + water.size / water.before;
    let mine: Vec<usize> = rows.into_iter().filter(|i| *i >= start).collect();
    let first = *mine.first()?;
    let source = "valve position and coil return temperature, days at like sibling valves and weather";
    Some(CoilFault {
        coil: k,
        at: Some(open.at),
        left,
        confidence: (0.7 + open.t.min(water.t) / 100.0).min(0.92),
        because: format!(
            "Since {} the valve of {} stands {} of its travel wider at like conditions, and its water's temperature difference fell \
             to {} of what it was: the coil takes up less from more water, as a fouled one does.",
            case.say_when(first),
            c.name,
            say::percent(open.size),
            say::percent(left)
        ),
        evidence: vec![
            number("valve opened by", open.size, "fraction", format!("below {COIL_OPENED}"), source),
            number(
                "water's difference after over before",
                left,
                "fraction",
                format!("above {}", 1.0 - COIL_FELL),
                source,
            ),
            number(
                "step over its standard error",
                open.t.min(water.t),
                "-",
                format!("below {}", onset::BELIEVED),
                source,
            ),
        ],
        rows: mine,
    })
}

/// Whether the coil's air setpoint or, with none trended, its air moved on that day: then the valve followed an order.
fn air_moved(case: &Case, c: &CoilCase, rows: &[usize], at: usize) -> bool {
    let Some(air) = c.air_setpoint_c.or(c.air_c) else { return false };
    let days = daily(case, rows, &|i| air[i]);
    let near = |d: std::ops::Range<usize>| median(days[d.start.min(days.len())..d.end.min(days.len())].iter().copied());
    let (before, after) = (near(at.saturating_sub(7)..at), near(at..at + 7));
    // A fouled coil that falls short moves its air toward the room; an order moves it the other way or moves the setpoint.
    (after - before).abs() >= AIR_MOVED_K && c.air_setpoint_c.is_some()
}

/// From the first day on: wide open, and the water hardly takes anything up. A coil short of capacity for any other
/// reason would take up its design difference or more at full flow.
fn wide_open(case: &Case, k: usize) -> Option<CoilFault> {
    let c = &case.coils[k];
    let valve = c.valve?;
    let design = coil_design_k(case, c);
    let rows: Vec<usize> = working(case, c)
        .into_iter()
        .filter(|i| valve[*i] >= WIDE_OPEN && expected_k(case, *i).is_finite() && case.steady[*i])
        .collect();
    let ratio = median(rows.iter().map(|i| coil_difference(case, c, *i) / design));
    let sibling = median(rows.iter().map(|i| sibling_difference(case, k, *i) / case.design_delta_t_k()));
    let low = ratio <= COIL_LOW && sibling.is_finite() && ratio <= COIL_LOW * sibling.max(1.0);
    if case.plant.system.service == Service::HeatingWater || !low || (rows.len() as f64) * case.step_h < LEAST_WIDE_H {
        return None;
    }
    Some(CoilFault {
        coil: k,
        at: None,
        left: ratio,
        confidence: 0.75,
        because: format!(
            "The valve of {} stands wide open for {:.0} h while its water takes up {} of its design difference, where its siblings' \
             takes up {}.",
            c.name,
            rows.len() as f64 * case.step_h,
            say::percent(ratio),
            say::percent(sibling)
        ),
        evidence: vec![
            number(
                "coil's difference over design, wide open",
                ratio,
                "fraction",
                format!("above {COIL_LOW}"),
                "coil return temperature",
            ),
            number("siblings' difference over design", sibling, "fraction", "1", "coil return temperatures"),
        ],
        rows,
    })
}

/// A coil's own design difference where its load and flow are declared (water: 1.163 kWh/m3 K), else the loop's [K].
fn coil_design_k(case: &Case, c: &CoilCase) -> f64 {
    const WATER_KWH_M3_K: f64 = 1.163;
    match (c.declared.design_load, c.declared.design_flow) {
        (Some(load), Some(flow)) => load.in_kw() / (WATER_KWH_M3_K * flow.in_m3h()),
        _ => case.design_delta_t_k(),
    }
}

fn sibling_difference(case: &Case, k: usize, i: usize) -> f64 {
    let others = case.coils.iter().enumerate().filter(|(j, c)| *j != k && c.valve.is_some_and(|v| v[i] >= 0.15));
    median(others.map(|(_, c)| coil_difference(case, c, i)))
}

impl CoilFault {
    /// Share of the loop's design flow that the coil has [-].
    fn share(&self, case: &Case) -> f64 {
        let own = case.coils[self.coil].declared.design_flow.map_or(f64::NAN, Flow::in_m3h);
        let share = own / case.design_flow_m3h();
        if share.is_finite() { share } else { 1.0 / case.coils.len() as f64 }
    }

    /// Whether it alone lowers the loop's difference by as much, on the same day: its share takes 1/left of its water.
    fn explains(&self, case: &Case, fall: Step, level: &[f64]) -> bool {
        let more = self.share(case) * (1.0 / self.left.max(0.2) - 1.0);
        let fell = -fall.size / median(level[..fall.at].iter().copied());
        let together = self.at.is_none_or(|at| at.abs_diff(fall.at) <= 2);
        together && fell <= 2.0 * more / (1.0 + more) + 0.02
    }

    fn verdict(&self, case: &Case) -> Verdict {
        let c = &case.coils[self.coil];
        let (first, last) = (self.rows[0], self.rows[self.rows.len() - 1]);
        let share = self.share(case) * (1.0 - self.left);
        let waste = price::waste(case, &self.rows, |i| with_difference(case, i, 1.0 - share));
        let starves = c.valve.is_some_and(|v| median(self.rows.iter().map(|i| v[*i])) >= WIDE_OPEN);
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: c.name.into(),
            urgency: price::urgency(case, waste, starves),
            confidence: self.confidence,
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours: self.rows.len() as f64 * case.step_h,
            waste_kwh: waste,
            waste_kwh_per_year: price::per_year(case, waste),
            caused_by: None,
            because: self.because.clone(),
            evidence: self.evidence.clone(),
            could_also_be: lines(&[
                "less air over the coil: a filter, a belt, a fan or a damper",
                "a valve or actuator that slipped, so that its position says more than it opens",
                "a load that asks for colder (in heating: warmer) air than before without a setpoint that is trended",
            ]),
            check_on_site: lines(&[
                "Read entering and leaving air and water with one calibrated thermometer, at high load.",
                "Look at both faces of the coil and at the filter; measure the pressure drop of air and water.",
                "Flush the strainer and vent the coil; see whether the stem follows the command over its whole travel.",
            ]),
            change: format!(
                "Clean or mend {}; then let the valve come back before any pump setting is lowered.",
                c.name
            ),
            caution: case
                .caution("Stop and lock the fan before opening the unit; a coil that meets outdoor air can freeze."),
        }))
    }
}

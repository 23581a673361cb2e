//! Rows for rules: a loop's columns with everything at rest, to be filled by a test, and judged without files, tables or a pipeline.
//!
//! Comes in: an interval and a number of days from 2026-01-05 (a Monday), UTC. Goes out: [`Rows`], whose fields are overwritten, and
//! [`Rows::judge`]. It invents nothing: what a row means is the test's own.

use offcurve::faults::{self, Case, CoilCase, Fault, Looks, PumpCase, Verdict};
use offcurve::ingest::Series;
use offcurve::r#loop::AtDesign;
use offcurve::operating::check::SelfCheck;
use offcurve::operating::{Basis, State};
use offcurve::plant::{Plant, Role};
use offcurve::regimes::Regime;
use offcurve::screening::Doubt;

/// 2026-01-05 00:00 UTC, a Monday [ms].
pub const START_MS: i64 = 1_767_571_200_000;
/// That day's number since the start of the common era.
const START_DAY: u32 = 739_621;

/// One pump's columns; off, with nothing known.
pub struct PumpRows {
    pub state: Vec<State>,
    pub regime: Vec<Regime>,
    pub speed: Vec<f64>,
    pub flow: Vec<f64>,
    /// Half width of the flow's interval, share of the flow [-].
    pub flow_half: f64,
    pub head: Vec<f64>,
    /// Half width of the head's interval [kPa].
    pub head_half: f64,
    pub curve: Vec<f64>,
    pub power: Vec<f64>,
    pub basis: Basis,
    pub best_flow: f64,
    pub shut_off: f64,
    pub check: Option<SelfCheck>,
}

/// A loop's columns. Loop figures follow from the pumps where they stay `None`.
pub struct Rows {
    pub step_h: f64,
    pub time_ms: Vec<i64>,
    pub local_day: Vec<u32>,
    pub local_hour: Vec<f32>,
    pub in_schedule: Vec<bool>,
    pub frost: Vec<bool>,
    pub pumps: Vec<PumpRows>,
    pub supply: Option<Vec<f64>>,
    pub back: Option<Vec<f64>>,
    pub outdoor: Option<Vec<f64>>,
    pub bypass_position: Option<Vec<f64>>,
    pub dp: Option<Vec<f64>>,
    pub dp_setpoint: Option<Vec<f64>>,
    /// Valve openings, one entry a coil of the plant.
    pub valves: Vec<Option<Vec<f64>>>,
    pub air: Vec<Option<Vec<f64>>>,
    pub air_setpoint: Vec<Option<Vec<f64>>>,
    pub coil_back: Vec<Option<Vec<f64>>>,
    pub fans: Vec<Option<Vec<f64>>>,
    pub need: Vec<f64>,
    /// What the learned loops ask at design flow.
    pub at_design: Option<AtDesign>,
    /// Other trended points, by [`Rows::trend`].
    pub trends: Vec<Series>,
    pub doubts: Vec<Doubt>,
    /// Electric power at a loop flow [m3/h], a head [kPa] and so many pumps; a flat 60 % wire to water unless set.
    pub price: fn(f64, f64, u8) -> f64,
}

impl Rows {
    /// Everything off and untrended, always in schedule.
    pub fn new(plant: &Plant, minutes: u32, days: usize) -> Self {
        let n = days * 1440 / minutes as usize;
        let step_ms = i64::from(minutes) * 60_000;
        let of_day = |i: usize| (i as i64 * step_ms) % 86_400_000;
        let pump = || PumpRows {
            state: vec![State::Off; n],
            regime: vec![Regime::Off; n],
            speed: vec![0.0; n],
            flow: vec![0.0; n],
            flow_half: 0.03,
            head: vec![f64::NAN; n],
            head_half: 3.0,
            curve: vec![f64::NAN; n],
            power: vec![0.0; n],
            basis: Basis::Measured(3),
            best_flow: f64::NAN,
            shut_off: f64::NAN,
            check: None,
        };
        let coils = plant.coils.len();
        Self {
            step_h: f64::from(minutes) / 60.0,
            time_ms: (0..n).map(|i| START_MS + i as i64 * step_ms).collect(),
            local_day: (0..n).map(|i| START_DAY + (i as i64 * step_ms / 86_400_000) as u32).collect(),
            local_hour: (0..n).map(|i| of_day(i) as f32 / 3_600_000.0).collect(),
            in_schedule: vec![true; n],
            frost: vec![false; n],
            pumps: plant.pumps.iter().map(|_| pump()).collect(),
            supply: None,
            back: None,
            outdoor: None,
            bypass_position: None,
            dp: None,
            dp_setpoint: None,
            valves: vec![None; coils],
            air: vec![None; coils],
            air_setpoint: vec![None; coils],
            coil_back: vec![None; coils],
            fans: vec![None; coils],
            need: vec![f64::NAN; n],
            at_design: None,
            trends: Vec::new(),
            doubts: Vec::new(),
            price: |flow, head, _| flow * head / 3600.0 / 0.6,
        }
    }

    /// How many rows.
    pub fn len(&self) -> usize {
        self.time_ms.len()
    }

    /// Adds a trended point.
    pub fn trend(&mut self, name: &str, role: Role, of: Option<&str>, unit: &'static str, values: Vec<f64>) {
        assert_eq!(values.len(), self.len(), "one value a row");
        let point = self.trends.len();
        self.trends.push(Series { name: name.into(), role, of: of.map(Into::into), point, unit, values });
    }

    /// Every verdict on a fault.
    pub fn judge(&self, plant: &Plant, fault: Fault) -> Vec<Verdict> {
        self.judge_all(plant).into_iter().filter(|v| fault_of(v) == fault).collect()
    }

    /// Every verdict.
    pub fn judge_all(&self, plant: &Plant) -> Vec<Verdict> {
        let n = self.len();
        let sum = |f: &dyn Fn(&PumpRows, usize) -> f64| -> Vec<f64> {
            (0..n).map(|i| self.pumps.iter().map(|p| f(p, i)).sum()).collect()
        };
        let on = |p: &PumpRows, i: usize| !matches!(p.state[i], State::Off | State::Unknown);
        let flow = sum(&|p, i| p.flow[i]);
        let low = sum(&|p, i| p.flow[i] * (1.0 - p.flow_half));
        let high = sum(&|p, i| p.flow[i] * (1.0 + p.flow_half));
        let power = sum(&|p, i| p.power[i]);
        let pumps_on: Vec<u8> = (0..n).map(|i| self.pumps.iter().filter(|p| on(p, i)).count() as u8).collect();
        let first_on = |i: usize| self.pumps.iter().find(|p| on(p, i));
        let head: Vec<f64> = (0..n).map(|i| first_on(i).map_or(f64::NAN, |p| p.head[i])).collect();
        let steady: Vec<bool> = (0..n)
            .map(|i| first_on(i).is_some() && self.pumps.iter().all(|p| !on(p, i) || p.state[i] == State::Steady))
            .collect();
        let ends: Vec<[Vec<f64>; 5]> = self
            .pumps
            .iter()
            .map(|p| {
                let of = |f: &dyn Fn(usize) -> f64| (0..n).map(f).collect::<Vec<f64>>();
                [
                    of(&|i| p.flow[i] * (1.0 - p.flow_half)),
                    of(&|i| p.flow[i] * (1.0 + p.flow_half)),
                    of(&|i| p.head[i] - p.head_half),
                    of(&|i| p.head[i] + p.head_half),
                    of(&|i| p.flow[i] * p.flow_half / 4.0),
                ]
            })
            .collect();
        let basis: Vec<Vec<Basis>> = self.pumps.iter().map(|p| vec![p.basis; n]).collect();
        let neediest = vec![u16::MAX; n];
        let price = |q: f64, h: f64, on: u8| (self.price)(q, h, on);
        let coil = |k: usize| CoilCase {
            name: &plant.coils[k].name,
            valve: self.valves[k].as_deref(),
            air_c: self.air[k].as_deref(),
            air_setpoint_c: self.air_setpoint[k].as_deref(),
            return_c: self.coil_back[k].as_deref(),
            fan_on: self.fans[k].as_deref(),
            declared: &plant.coils[k],
        };
        let case = Case {
            step_h: self.step_h,
            time_ms: &self.time_ms,
            local_day: &self.local_day,
            local_hour: &self.local_hour,
            in_schedule: &self.in_schedule,
            frost: &self.frost,
            plant,
            pumps: self
                .pumps
                .iter()
                .enumerate()
                .map(|(k, p)| PumpCase {
                    name: &plant.pumps[k].name,
                    state: &p.state,
                    regime: &p.regime,
                    speed: &p.speed,
                    flow_m3h: &p.flow,
                    flow_low_m3h: &ends[k][0],
                    flow_high_m3h: &ends[k][1],
                    head_kpa: &p.head,
                    head_low_kpa: &ends[k][2],
                    head_high_kpa: &ends[k][3],
                    curve_head_kpa: &p.curve,
                    power_kw: &p.power,
                    basis: &basis[k],
                    flow_sd_common_m3h: &ends[k][4],
                    best_flow_m3h: p.best_flow,
                    best_range_m3h: (p.best_flow, p.best_flow),
                    shut_off_kpa: p.shut_off,
                    check: p.check.as_ref(),
                    declared: &plant.pumps[k],
                })
                .collect(),
            loop_flow_m3h: &flow,
            loop_flow_low_m3h: &low,
            loop_flow_high_m3h: &high,
            loop_head_kpa: &head,
            loop_power_kw: &power,
            pumps_on: &pumps_on,
            steady: &steady,
            supply_c: self.supply.as_deref(),
            return_c: self.back.as_deref(),
            outdoor_c: self.outdoor.as_deref(),
            bypass_position: self.bypass_position.as_deref(),
            dp_kpa: self.dp.as_deref(),
            dp_setpoint_kpa: self.dp_setpoint.as_deref(),
            coils: (0..plant.coils.len()).map(coil).collect(),
            need_kpa: &self.need,
            need_high_kpa: &self.need,
            neediest: &neediest,
            need_at_design: self.at_design,
            price: &price,
            trends: &self.trends,
            doubts: &self.doubts,
            looks: Looks::default(),
        };
        faults::judge(&case)
    }
}

/// Which fault a verdict is about.
pub fn fault_of(v: &Verdict) -> Fault {
    match v {
        Verdict::Found(f) => f.fault,
        Verdict::Clear { fault, .. } | Verdict::CannotTell { fault, .. } => *fault,
    }
}

/// Nobody ran: every fault must answer, and none may be found.
#[test]
fn a_loop_at_rest_has_no_fault_and_every_code_answers() {
    let plant = crate::declared::plant();
    let verdicts = Rows::new(&plant, 15, 2).judge_all(&plant);
    for fault in Fault::ALL {
        let mine: Vec<&Verdict> = verdicts.iter().filter(|v| fault_of(v) == fault).collect();
        assert!(!mine.is_empty(), "{}: no answer", fault.code());
        assert!(mine.iter().all(|v| !matches!(v, Verdict::Found(_))), "{}: {mine:#?}", fault.code());
    }
}

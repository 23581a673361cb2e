//! The stages in order, as one function that reads as a sentence.
//!
//! Comes in: a plant and its trends. Goes out: a [`Review`]: everything a report may say. It computes nothing itself.

use crate::faults::{self, CoilEvidence, Evidence, PumpEvidence, Verdict};
use crate::ingest::{Clock, Ledger, Trends};
use crate::r#loop::{self as system_loop, Replay};
use crate::notice::{Notice, Noticed};
use crate::operating::{self, OperatingPoints, Reconstructed, State};
use crate::plant::{Plant, Role};
use crate::regimes::{self, Regimes};
use crate::screening::{self, Doubt, Screened};
use crate::tuning::{self, Tuning};
use chrono::{Datelike, Timelike};

/// Everything a report may say.
#[derive(Debug, Clone)]
pub struct Review {
    pub plant: Plant,
    /// The period [ms UTC]: from inclusive, to exclusive.
    pub from_ms: i64,
    pub to_ms: i64,
    /// Share of the period's rows in which every pump's running state is known [-].
    pub coverage: f64,
    /// Pump energy in the period [kWh].
    pub energy_kwh: f64,
    pub clock: Clock,
    pub ledger: Ledger,
    pub screened: Screened,
    pub doubts: Vec<Doubt>,
    pub points: OperatingPoints,
    /// The pump models that the record taught, one a pump with a table.
    pub machines: Vec<operating::Machine>,
    pub regimes: Regimes,
    /// The head that would have been enough with the neediest valve at 90 % open, one a row [kPa]; NaN where unknown.
    pub need_kpa: Vec<f64>,
    /// Index of the neediest coil, one a row; `u16::MAX` where unknown.
    pub neediest: Vec<u16>,
    pub verdicts: Vec<Verdict>,
    pub tuning: Tuning,
    pub notices: Vec<Notice>,
    pub assumed: Vec<String>,
}

/// Why a review could not be made.
#[derive(Debug, Clone, thiserror::Error, PartialEq, Eq)]
pub enum ReviewError {
    /// The period holds no row.
    #[error("{plant}: no trend row lies in the period asked for\nhint: the record runs from {from} to {to} (UTC); give --from and --to inside it")]
    EmptyPeriod { plant: String, from: String, to: String },
}

/// Reviews a plant over its trends.
///
/// # Errors
/// Where the trends hold no row of the period.
pub fn review(plant: Plant, trends: Noticed<Trends>, window: Option<(i64, i64)>) -> Result<Review, ReviewError> {
    let Noticed { value: trends, mut notices } = trends;
    let (clock, ledger) = (trends.clock, trends.ledger.clone());
    if clock.len == 0 {
        return Err(ReviewError::EmptyPeriod { plant: plant.name, from: "no row".to_owned(), to: "no row".to_owned() });
    }
    let screened = keep(screening::screen(&plant, trends), &mut notices);
    let reconstructed = keep(operating::reconstruct(&plant, &screened), &mut notices);
    let regimes = keep(regimes::sort(&plant, &screened, &reconstructed.points), &mut notices);
    let learned = system_loop::learn(&plant, &screened, &reconstructed);
    let need = system_loop::need(&plant, &screened, &reconstructed.points.system, learned.as_ref());
    let calendar = Calendar::new(&plant, &screened);
    let replay = Replay::new(&reconstructed.machines);
    let price = |flow: f64, head: f64, on: u8| replay.power_kw(flow, head, on);
    let evidence = evidence(&plant, &screened, &reconstructed, &regimes, &calendar, &need, &price);
    let verdicts = faults::judge(&evidence);
    let tuning = tuning::tune(&tuning::Basis {
        plant: &plant,
        clock,
        local_day: &calendar.day,
        frost: &calendar.frost,
        reconstructed: &reconstructed,
        regimes: &regimes,
        learned: learned.as_ref(),
        need: &need,
        verdicts: &verdicts,
    });
    let energy_kwh = reconstructed.points.system.power_kw.iter().filter(|p| p.is_finite()).sum::<f64>() * clock.hours();
    let (from_ms, to_ms) = window.unwrap_or((clock.start_ms, clock.at_ms(clock.len)));
    Ok(Review {
        assumed: plant.assumed.clone(),
        plant,
        from_ms,
        to_ms,
        coverage: coverage(&reconstructed.points, from_ms, to_ms, clock),
        energy_kwh,
        clock,
        ledger,
        doubts: screened.doubts.clone(),
        screened,
        points: reconstructed.points,
        machines: reconstructed.machines,
        regimes,
        need_kpa: need.head_kpa,
        neediest: need.neediest,
        verdicts,
        tuning,
        notices,
    })
}

fn keep<T>(noticed: Noticed<T>, notices: &mut Vec<Notice>) -> T {
    notices.extend(noticed.notices);
    noticed.value
}

/// Share of the period's intervals in which every pump's state is known.
fn coverage(points: &OperatingPoints, from_ms: i64, to_ms: i64, clock: Clock) -> f64 {
    let known = (0..clock.len).filter(|&i| points.pumps.iter().all(|p| p.state[i] != State::Unknown)).count();
    let wanted = ((to_ms - from_ms) / (clock.step_s * 1000)).max(1);
    (known as f64 / wanted as f64).min(1.0)
}

/// Local calendar of every row.
struct Calendar {
    time_ms: Vec<i64>,
    day: Vec<u32>,
    hour: Vec<f32>,
    in_schedule: Vec<bool>,
    frost: Vec<bool>,
}

impl Calendar {
    fn new(plant: &Plant, screened: &Screened) -> Self {
        let clock = screened.clock;
        let time_ms: Vec<i64> = (0..clock.len).map(|i| clock.at_ms(i)).collect();
        let local: Vec<_> = time_ms.iter().map(|&t| plant.local(t)).collect();
        let outdoor = screened.values(Role::OutdoorTemperature, None);
        let limit = plant.system.frost_protection_below.map(|t| t.in_celsius());
        let frost = (0..clock.len)
            .map(|i| match (limit, outdoor) {
                (Some(limit), Some(t)) => t[i] < limit,
                _ => false,
            })
            .collect();
        Self {
            day: local.iter().map(|t| t.num_days_from_ce().unsigned_abs()).collect(),
            hour: local.iter().map(|t| t.hour() as f32 + t.minute() as f32 / 60.0).collect(),
            in_schedule: time_ms.iter().map(|&t| plant.scheduled(t)).collect(),
            frost,
            time_ms,
        }
    }
}

fn evidence<'a>(
    plant: &'a Plant,
    screened: &'a Screened,
    reconstructed: &'a Reconstructed,
    regimes: &'a Regimes,
    calendar: &'a Calendar,
    need: &'a system_loop::Need,
    price: &'a dyn Fn(f64, f64, u8) -> f64,
) -> Evidence<'a> {
    let of_loop = |role: Role| screened.values(role, None);
    let system = &reconstructed.points.system;
    Evidence {
        step_h: screened.clock.hours(),
        time_ms: &calendar.time_ms,
        local_day: &calendar.day,
        local_hour: &calendar.hour,
        in_schedule: &calendar.in_schedule,
        frost: &calendar.frost,
        plant,
        pumps: reconstructed.points.pumps.iter().zip(&regimes.pumps).map(|(p, r)| pump_evidence(p, r)).collect(),
        loop_flow_m3h: &system.flow_m3h,
        loop_flow_low_m3h: &system.flow_low_m3h,
        loop_flow_high_m3h: &system.flow_high_m3h,
        loop_head_kpa: &system.head_kpa,
        loop_power_kw: &system.power_kw,
        pumps_on: &system.pumps_on,
        steady: &system.steady,
        supply_c: of_loop(Role::SupplyTemperature),
        return_c: of_loop(Role::ReturnTemperature),
        outdoor_c: of_loop(Role::OutdoorTemperature),
        bypass_position: of_loop(Role::BypassPosition),
        dp_kpa: of_loop(Role::DifferentialPressure),
        dp_setpoint_kpa: of_loop(Role::DifferentialPressureSetpoint),
        coils: plant.coils.iter().map(|c| coil_evidence(c, screened)).collect(),
        need_kpa: &need.head_kpa,
        neediest: &need.neediest,
        price,
    }
}

fn pump_evidence<'a>(p: &'a operating::PumpPoints, r: &'a regimes::PumpRegimes) -> PumpEvidence<'a> {
    PumpEvidence {
        name: &p.pump,
        state: &p.state,
        regime: &r.regime,
        speed: &p.speed,
        flow_m3h: &p.flow_m3h,
        flow_low_m3h: &p.flow_low_m3h,
        flow_high_m3h: &p.flow_high_m3h,
        head_kpa: &p.head_kpa,
        head_low_kpa: &p.head_low_kpa,
        head_high_kpa: &p.head_high_kpa,
        curve_head_kpa: &r.curve_head_kpa,
        power_kw: &p.power_kw,
    }
}

fn coil_evidence<'a>(coil: &'a crate::plant::Coil, screened: &'a Screened) -> CoilEvidence<'a> {
    let of = Some(coil.name.as_str());
    CoilEvidence {
        name: &coil.name,
        valve: screened.values(Role::ValvePosition, of).or_else(|| screened.values(Role::ValveCommand, of)),
        air_c: screened.values(Role::AirTemperature, of),
        air_setpoint_c: screened.values(Role::AirTemperatureSetpoint, of),
        return_c: screened.values(Role::CoilReturnTemperature, of),
        fan_on: screened.values(Role::FanStatus, of),
        declared: coil,
    }
}

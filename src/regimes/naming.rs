//! The physics that names a row: speed floor, full speed, on, above or below the curve.

use super::Regime;
use super::ask::Ask;
use crate::ingest::Clock;
use crate::operating::{PumpPoints, State};
use crate::plant::{Control, Plant};
use crate::quantity::{Fraction, Pressure};

/// How far from its curve a drive may hold the head before it counts, in design heads [-]: a controller's dead band
/// and a drive's own pressure estimate are good to a couple of per cent of span (common practice, no source).
pub const CURVE_TOLERANCE: f64 = 0.03;
/// How far above the floor a speed still rides it [-]: one step of a drive that reports whole per cents.
const FLOOR_STEP: f64 = 0.008;
/// A floor set in frequency shows as a shaft speed up to this much above it, since a lightly loaded induction motor
/// slips less than at its rated load [-]: rated slip of small motors is 2 to 5 %.
const SLIP_ROOM: f64 = 0.05;
/// A speed within this of the maximum is at it [-].
const FULL_STEP: f64 = 0.01;
/// A floor nobody declared is believed where at least this share of the running rows stand on the lowest speed [-].
const PILED_UP: f64 = 0.10;
/// A stray this many tolerances off still belongs to the on-curve group around it [-].
const STRAY: f64 = 2.0;

/// The lowest speed a pump is held at, as its speed trend shows it [-]: the declared minimum moved up to where the
/// rows really pile (slip), or, with none declared, a pile at the low end of a speed that otherwise varies.
///
/// Returns the floor and whether it was declared; `None` where nothing stands on a floor and none is declared.
#[must_use]
pub fn speed_floor(control: &Control, state: &[State], speed: &[f64]) -> Option<(f64, bool)> {
    let runs = |s: &State| matches!(s, State::Steady | State::Transient);
    let mut running: Vec<f64> =
        state.iter().zip(speed).filter(|(s, v)| runs(s) && v.is_finite()).map(|(_, v)| *v).collect();
    let declared = control.minimum_speed.map(Fraction::in_of_one);
    if running.len() < 20 {
        return declared.map(|m| (m, true));
    }
    let mut at = |share: f64| {
        let k = ((running.len() - 1) as f64 * share) as usize;
        *running.select_nth_unstable_by(k, f64::total_cmp).1
    };
    let (low, high) = (at(0.02), at(0.98));
    if let Some(minimum) = declared {
        let slipped = low > minimum && low <= minimum * (1.0 + SLIP_ROOM) + FLOOR_STEP / 2.0;
        return Some((if slipped { low } else { minimum }, true));
    }
    let on_it = running.iter().filter(|v| **v <= low + FLOOR_STEP / 2.0).count() as f64 / running.len() as f64;
    let varies = high - low > 0.05;
    (varies && on_it >= PILED_UP).then_some((low, false))
}

/// Names rows of one pump.
pub(super) struct Naming<'a> {
    pump: &'a PumpPoints,
    asked: &'a Ask,
    floor: Option<(f64, bool)>,
    ceiling: f64,
    tolerance_kpa: f64,
}

impl<'a> Naming<'a> {
    pub(super) fn new(plant: &'a Plant, clock: &Clock, asked: &'a Ask, pump: &'a PumpPoints) -> Self {
        let control = plant.control_at(clock.at_ms(clock.len.saturating_sub(1)));
        let design_head = plant.system.design_head.or(control.design_head).or(control.setpoint).map(Pressure::in_kpa);
        Self {
            pump,
            asked,
            floor: speed_floor(control, &pump.state, &pump.speed),
            ceiling: control.maximum_speed.map_or(1.0, Fraction::in_of_one),
            tolerance_kpa: CURVE_TOLERANCE * design_head.unwrap_or_else(|| middle(&pump.head_kpa)),
        }
    }

    pub(super) fn notice(&self) -> Option<String> {
        let (floor, declared) = self.floor?;
        (!declared).then(|| {
            format!(
                "{}: no minimum speed is declared; the record shows a floor at {:.1} % of rated speed, taken as such",
                self.pump.pump,
                floor * 100.0
            )
        })
    }

    /// What is held above what is asked [kPa]; NaN where unknown.
    pub(super) fn excess_kpa(&self, i: usize) -> f64 {
        self.sensor_kpa(i).unwrap_or(self.pump.head_kpa[i] - self.asked.curve_head_kpa[i])
    }

    fn sensor_kpa(&self, i: usize) -> Option<f64> {
        self.asked.sensor_excess_kpa.as_ref().map(|e| e[i]).filter(|e| e.is_finite())
    }

    /// A row's own physics.
    pub(super) fn row(&self, i: usize) -> Regime {
        match self.pump.state[i] {
            State::Off => Regime::Off,
            State::Starting | State::Transient => Regime::Transient,
            State::Unknown => Regime::Unknown,
            State::Steady => self.clamp(self.pump.speed[i]).unwrap_or_else(|| self.against_curve(i, 1.0)),
        }
    }

    fn clamp(&self, speed: f64) -> Option<Regime> {
        if speed >= self.ceiling - FULL_STEP {
            return Some(Regime::FullSpeed);
        }
        self.floor.is_some_and(|(floor, _)| speed <= floor + FLOOR_STEP).then_some(Regime::SpeedFloor)
    }

    /// Above or below only beyond the point's own interval and `tolerances` tolerances.
    pub(super) fn against_curve(&self, i: usize, tolerances: f64) -> Regime {
        let tolerance = tolerances * self.tolerance_kpa;
        let (low, high) = self.sensor_kpa(i).map_or_else(|| self.head_band(i), |e| (e, e));
        if !(low.is_finite() && high.is_finite() && tolerance.is_finite()) {
            Regime::Unknown
        } else if low > tolerance {
            Regime::AboveCurve
        } else if high < -tolerance {
            Regime::BelowCurve
        } else {
            Regime::OnCurve
        }
    }

    /// Lowest and highest excess that head and flow intervals allow [kPa].
    fn head_band(&self, i: usize) -> (f64, f64) {
        let curve_most = self.asked.curve_high_kpa[i].max(self.asked.curve_low_kpa[i]);
        let curve_least = self.asked.curve_low_kpa[i].min(self.asked.curve_high_kpa[i]);
        let allowance = self.asked.header_allowance_kpa[i];
        (self.pump.head_low_kpa[i] - curve_most - allowance, self.pump.head_high_kpa[i] - curve_least)
    }

    /// Whether a row that stands alone off the curve is near enough to belong to the on-curve group around it.
    pub(super) fn is_stray(&self, i: usize) -> bool {
        self.against_curve(i, STRAY) == Regime::OnCurve
    }
}

fn middle(values: &[f64]) -> f64 {
    let mut known: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    if known.is_empty() {
        return f64::NAN;
    }
    let half = known.len() / 2;
    *known.select_nth_unstable_by(half, f64::total_cmp).1
}

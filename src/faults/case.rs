//! What a rule may look at: slices and declared facts, never a frame.

use super::{Calendar, Looks};
use crate::ingest::Series;
use crate::r#loop::{AtDesign, Need};
use crate::operating::check::SelfCheck;
use crate::operating::{Basis, Reconstructed, State};
use crate::plant::{Coil, Plant, Pump, Role, Service};
use crate::quantity::{Flow, Pressure};
use crate::regimes::{Regime, Regimes};
use crate::screening::{Doubt, Screened};

/// One pump's columns.
pub struct PumpCase<'a> {
    pub name: &'a str,
    pub state: &'a [State],
    pub regime: &'a [Regime],
    /// Shaft speed over rated speed [-].
    pub speed: &'a [f64],
    pub flow_m3h: &'a [f64],
    pub flow_low_m3h: &'a [f64],
    pub flow_high_m3h: &'a [f64],
    pub head_kpa: &'a [f64],
    pub head_low_kpa: &'a [f64],
    pub head_high_kpa: &'a [f64],
    /// What the control curve asks at the loop's flow; NaN where unknown at the pump.
    pub curve_head_kpa: &'a [f64],
    pub power_kw: &'a [f64],
    /// What fixed each row's flow.
    pub basis: &'a [Basis],
    /// Part of the flow's standard deviation that all rows share [m3/h].
    pub flow_sd_common_m3h: &'a [f64],
    /// Flow of best efficiency at rated speed [m3/h]; NaN without a table.
    pub best_flow_m3h: f64,
    /// Between which flows it may lie where it is read off a table with a flat top [m3/h]; NaN without one.
    pub best_range_m3h: (f64, f64),
    /// Head at no flow and rated speed [kPa]; NaN without a table.
    pub shut_off_kpa: f64,
    /// How its model stands against the record; `None` without a table.
    pub check: Option<&'a SelfCheck>,
    pub declared: &'a Pump,
}

/// One coil's columns, as far as trended, and what is declared about it.
pub struct CoilCase<'a> {
    pub name: &'a str,
    /// Fraction open [-]: position, or the command where no position is trended.
    pub valve: Option<&'a [f64]>,
    /// Air leaving it, and what that should be.
    pub air_c: Option<&'a [f64]>,
    pub air_setpoint_c: Option<&'a [f64]>,
    /// Water leaving it.
    pub return_c: Option<&'a [f64]>,
    /// Above one half: running.
    pub fan_on: Option<&'a [f64]>,
    pub declared: &'a Coil,
}

/// Everything a rule may look at; NaN is unknown.
pub struct Case<'a> {
    /// Hours a row stands for [h].
    pub step_h: f64,
    pub time_ms: &'a [i64],
    /// Number of the day in local time, one a row, rising.
    pub local_day: &'a [u32],
    /// Local hour of the day [h].
    pub local_hour: &'a [f32],
    pub in_schedule: &'a [bool],
    /// Outdoor below the declared frost limit.
    pub frost: &'a [bool],
    /// Declared facts only.
    pub plant: &'a Plant,
    pub pumps: Vec<PumpCase<'a>>,
    pub loop_flow_m3h: &'a [f64],
    pub loop_flow_low_m3h: &'a [f64],
    pub loop_flow_high_m3h: &'a [f64],
    pub loop_head_kpa: &'a [f64],
    pub loop_power_kw: &'a [f64],
    pub pumps_on: &'a [u8],
    pub steady: &'a [bool],
    pub supply_c: Option<&'a [f64]>,
    pub return_c: Option<&'a [f64]>,
    pub outdoor_c: Option<&'a [f64]>,
    /// Fraction open [-].
    pub bypass_position: Option<&'a [f64]>,
    pub dp_kpa: Option<&'a [f64]>,
    pub dp_setpoint_kpa: Option<&'a [f64]>,
    pub coils: Vec<CoilCase<'a>>,
    /// Head that would have been enough with the neediest valve at 90 % open [kPa].
    pub need_kpa: &'a [f64],
    /// The same by the loop that asks most of those which explain the record [kPa].
    pub need_high_kpa: &'a [f64],
    /// Index of the neediest coil in the plant's coils; `u16::MAX` unknown.
    pub neediest: &'a [u16],
    /// Head that every coil's declared flow at once would ask, by the learned loop.
    pub need_at_design: Option<AtDesign>,
    /// Electric power [kW] of the running pumps at a loop flow [m3/h] and head [kPa] shared by so many pumps; NaN unknown.
    pub price: &'a (dyn Fn(f64, f64, u8) -> f64 + Sync),
    /// Every trended point as screening left it: for roles that have no column above, by [`Case::trend`].
    pub trends: &'a [Series],
    /// What screening did not believe.
    pub doubts: &'a [Doubt],
    pub looks: Looks,
}

impl<'a> Case<'a> {
    /// Lays the stages' columns out for the rules. `time_ms` is the instant of each row.
    #[must_use]
    pub fn gather(
        plant: &'a Plant,
        screened: &'a Screened,
        reconstructed: &'a Reconstructed,
        regimes: &'a Regimes,
        calendar: &'a Calendar,
        need: &'a Need,
        price: &'a (dyn Fn(f64, f64, u8) -> f64 + Sync),
    ) -> Self {
        let of_loop = |role| screened.values(role, None);
        let points = &reconstructed.points;
        let machine = |name: &str| reconstructed.machines.iter().find(|m| m.pump == name);
        let declared = |name: &str| plant.pumps.iter().find(|p| p.name == name);
        let pumps = points.pumps.iter().zip(&regimes.pumps).filter_map(|(p, r)| {
            Some(PumpCase {
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
                basis: &p.basis,
                flow_sd_common_m3h: &p.flow_sd_common_m3h,
                best_flow_m3h: machine(&p.pump).map_or(f64::NAN, |m| m.model.q_best),
                best_range_m3h: machine(&p.pump).map_or((f64::NAN, f64::NAN), |m| m.model.best_range_m3h()),
                shut_off_kpa: machine(&p.pump).map_or(f64::NAN, |m| m.model.shut_off()),
                check: machine(&p.pump).map(|m| &m.check),
                declared: declared(&p.pump)?,
            })
        });
        let coils = plant.coils.iter().map(|c| CoilCase::gather(screened, c));
        Self {
            step_h: screened.clock.hours(),
            time_ms: &calendar.time_ms,
            local_day: &calendar.local_day,
            local_hour: &calendar.local_hour,
            in_schedule: &calendar.in_schedule,
            frost: &calendar.frost,
            plant,
            pumps: pumps.collect(),
            loop_flow_m3h: &points.system.flow_m3h,
            loop_flow_low_m3h: &points.system.flow_low_m3h,
            loop_flow_high_m3h: &points.system.flow_high_m3h,
            loop_head_kpa: &points.system.head_kpa,
            loop_power_kw: &points.system.power_kw,
            pumps_on: &points.system.pumps_on,
            steady: &points.system.steady,
            supply_c: of_loop(Role::SupplyTemperature),
            return_c: of_loop(Role::ReturnTemperature),
            outdoor_c: of_loop(Role::OutdoorTemperature),
            bypass_position: of_loop(Role::BypassPosition),
            dp_kpa: of_loop(Role::DifferentialPressure),
            dp_setpoint_kpa: of_loop(Role::DifferentialPressureSetpoint),
            coils: coils.collect(),
            need_kpa: &need.head_kpa,
            need_high_kpa: &need.high_kpa,
            neediest: &need.neediest,
            need_at_design: need.at_design,
            price,
            trends: &screened.series,
            doubts: &screened.doubts,
            looks: Looks::default(),
        }
    }

    /// The first trended point of a role, of this pump, coil or source (or of the loop where `of` is `None`); NaN is missing.
    #[must_use]
    pub fn trend(&self, role: Role, of: Option<&str>) -> Option<&'a [f64]> {
        self.trends.iter().find(|s| s.role == role && s.of.as_deref() == of).map(|s| s.values.as_slice())
    }

    /// How many rows there are.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.time_ms.len()
    }

    /// Positive temperature difference between supply and return in the sense of the service [K]; NaN unknown.
    #[must_use]
    pub fn delta_t_k(&self, i: usize) -> f64 {
        let (Some(supply), Some(back)) = (self.supply_c, self.return_c) else { return f64::NAN };
        self.toward_load(supply[i], back[i])
    }

    /// How far water moved away from the supply temperature on its way through the load [K].
    #[must_use]
    pub fn toward_load(&self, supply_c: f64, back_c: f64) -> f64 {
        if self.plant.system.service == Service::HeatingWater { supply_c - back_c } else { back_c - supply_c }
    }

    /// Design difference of supply and return [K]; NaN undeclared.
    #[must_use]
    pub fn design_delta_t_k(&self) -> f64 {
        match (self.plant.system.supply_temperature, self.plant.system.return_temperature) {
            (Some(supply), Some(back)) => self.toward_load(supply.in_celsius(), back.in_celsius()),
            _ => f64::NAN,
        }
    }

    /// Design flow of the loop [m3/h]; NaN undeclared.
    #[must_use]
    pub fn design_flow_m3h(&self) -> f64 {
        self.plant.system.design_flow.or(self.plant.control.design_flow).map_or(f64::NAN, Flow::in_m3h)
    }

    /// Design head of the loop [kPa]; NaN undeclared.
    #[must_use]
    pub fn design_head_kpa(&self) -> f64 {
        self.plant.system.design_head.or(self.plant.control.design_head).map_or(f64::NAN, Pressure::in_kpa)
    }

    /// The least flow that the loop or any of its machines must keep [m3/h]; zero where none is declared.
    #[must_use]
    pub fn minimum_flow_m3h(&self) -> f64 {
        let own = self.plant.system.minimum_flow;
        let machines = self.plant.sources.iter().filter_map(|s| s.minimum_flow);
        own.into_iter().chain(machines).map(Flow::in_m3h).fold(0.0, f64::max)
    }

    /// Whether at least one pump runs steadily and every running pump's regime is one of these.
    #[must_use]
    pub fn all_in(&self, i: usize, wanted: &[Regime]) -> bool {
        let mut running = 0;
        for pump in &self.pumps {
            match pump.regime[i] {
                Regime::Off => {}
                r if wanted.contains(&r) => running += 1,
                _ => return false,
            }
        }
        running > 0
    }

    /// The widest open of the trended valves [-]; NaN where none is known.
    #[must_use]
    pub fn widest_valve(&self, i: usize) -> f64 {
        self.coils.iter().filter_map(|c| c.valve).map(|v| v[i]).fold(f64::NAN, f64::max)
    }
}

impl<'a> CoilCase<'a> {
    fn gather(screened: &'a Screened, coil: &'a Coil) -> Self {
        let of = |role| screened.values(role, Some(&coil.name));
        Self {
            name: &coil.name,
            valve: screened.valve(&coil.name),
            air_c: of(Role::AirTemperature),
            air_setpoint_c: of(Role::AirTemperatureSetpoint),
            return_c: of(Role::CoilReturnTemperature),
            fan_on: of(Role::FanStatus),
            declared: coil,
        }
    }

    /// Whether the fan stands still; unknown is not off.
    #[must_use]
    pub fn fan_off(&self, i: usize) -> bool {
        self.fan_on.is_some_and(|f| f[i] < 0.5)
    }
}

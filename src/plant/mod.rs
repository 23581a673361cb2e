//! What the engineer declares: the plant file, read whole and checked.
//!
//! Comes in: the text of a plant file. Goes out: a [`Plant`], or every error with file, line, what was found, the rule
//! and a hint. Start at [`Plant`]; the reader is in `read.rs`. It touches no trends.
//! The decision to question: every complaint of a file is collected and said at once, since a person mends a file in one go.

mod bare;
mod calendar;
mod control;
mod curve;
mod density;
mod document;
mod equipment;
mod error;
mod points;
mod read;
pub mod units;
pub mod words;
mod written;

pub use calendar::local_to_utc;
pub use density::density;
pub use error::{PlantError, PlantErrors};
pub use read::{parse, read, read_for_exports};
pub use words::{Belongs, Words};
pub use written::{DecimalSign, Delimiter, TrendShape, Written};

use crate::notice::{Notice, Noticed};
use crate::quantity::{Density, Flow, Fraction, Frequency, Power, Pressure, ShaftSpeed, Temperature};
use chrono::{DateTime, NaiveDate, NaiveTime, Utc};
use chrono_tz::Tz;
use std::path::PathBuf;

/// A plant file to start from, with comments that teach.
pub const TEMPLATE: &str = include_str!("template.toml");

/// How reports read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitSystem {
    Si,
    Ip,
}

/// One loop and everything declared about it.
#[derive(Debug, Clone)]
pub struct Plant {
    /// Folder name of its results: the plant file's stem, or its folder's name where the stem is `plant`.
    pub name: String,
    /// The plant file.
    pub path: PathBuf,
    /// The folder that relative paths start at.
    pub dir: PathBuf,
    pub units: UnitSystem,
    pub site: Site,
    pub system: System,
    pub sources: Vec<Source>,
    pub coils: Vec<Coil>,
    pub control: Control,
    /// Earlier settings, latest last; each already completed from the entries after it.
    pub control_history: Vec<(DateTime<Utc>, Control)>,
    pub sensors: Vec<ControlSensor>,
    /// Empty means: meant to run always.
    pub schedule: Vec<Schedule>,
    pub pumps: Vec<Pump>,
    pub trends: TrendFiles,
    pub points: Vec<Point>,
    /// Every default that stood in for a missing fact, as a sentence.
    pub assumed: Vec<String>,
}

impl Plant {
    /// Density of the loop's fluid at its design supply temperature (a usual one where none is declared).
    #[must_use]
    pub fn density(&self) -> Density {
        self.system.density()
    }

    /// Declared least flow that must be kept: of the loop, or of its machines at their worst combination, all at once.
    #[must_use]
    pub fn least_flow(&self) -> Option<Flow> {
        let machines: f64 = self.sources.iter().filter_map(|s| s.minimum_flow).map(Flow::in_m3h).sum();
        let most = self.system.minimum_flow.map_or(machines, |m| machines.max(m.in_m3h()));
        (most > 0.0).then(|| Flow::m3h(most))
    }
}

#[derive(Debug, Clone)]
pub struct Site {
    pub name: Option<String>,
    pub timezone: Tz,
    pub currency: Option<String>,
    /// Per kWh, in `currency`.
    pub energy_price: Option<f64>,
    /// kg CO2e per kWh.
    pub carbon_intensity: Option<f64>,
    pub holidays: Vec<NaiveDate>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Service {
    ChilledWater,
    HeatingWater,
    CondenserWater,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FluidKind {
    Water,
    EthyleneGlycol,
    PropyleneGlycol,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Topology {
    PrimaryOnly,
    ConstantPrimary,
    Secondary,
    Tertiary,
    DistrictDirect,
    HeatExchanger,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bypass {
    None,
    TwoWay,
    ThreeWayCoils,
    Decoupler,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Serves {
    Comfort,
    Process,
    Critical,
    DomesticHotWater,
}

/// The `[loop]` table.
#[derive(Debug, Clone)]
pub struct System {
    pub name: Option<String>,
    pub service: Service,
    pub fluid: FluidKind,
    pub glycol_mass_fraction: f64,
    pub design_flow: Option<Flow>,
    /// At the density of the fluid at the design supply temperature.
    pub design_head: Option<Pressure>,
    pub supply_temperature: Option<Temperature>,
    pub return_temperature: Option<Temperature>,
    pub topology: Option<Topology>,
    pub minimum_flow: Option<Flow>,
    pub bypass: Option<Bypass>,
    pub static_head: Option<Pressure>,
    pub pumps_on_duty: Option<usize>,
    pub serves: Serves,
    pub frost_protection_below: Option<Temperature>,
}

#[derive(Debug, Clone)]
pub struct Source {
    pub name: String,
    pub minimum_flow: Option<Flow>,
    pub maximum_flow: Option<Flow>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Terminal {
    AirCoil,
    FanCoil,
    Radiator,
    Riser,
    HeatExchanger,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Valve {
    TwoWay,
    ThreeWay,
    PressureIndependent,
    Thermostatic,
    None,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Characteristic {
    EqualPercentage,
    Linear,
}

#[derive(Debug, Clone)]
pub struct Coil {
    pub name: String,
    pub terminal: Option<Terminal>,
    pub count: u32,
    pub design_flow: Option<Flow>,
    pub design_load: Option<Power>,
    pub valve: Option<Valve>,
    pub characteristic: Option<Characteristic>,
    pub minimum_differential_pressure: Option<Pressure>,
    pub index: bool,
    pub serves: Serves,
    pub freeze_risk: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ControlMode {
    ConstantPressure,
    RemotePressure,
    Proportional,
    Quadratic,
    ConstantFlow,
    FixedSpeed,
    Temperature,
    DeltaTemperature,
    External,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeadAt {
    Pump,
    Header,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reset {
    None,
    MostOpenValve,
}

/// What the drive or controller is configured to do. All optional: what is not declared is not known.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Control {
    pub mode: Option<ControlMode>,
    pub head_at: Option<HeadAt>,
    pub zero_flow_head: Option<Pressure>,
    pub design_flow: Option<Flow>,
    pub design_head: Option<Pressure>,
    /// constant-pressure, remote-pressure
    pub setpoint: Option<Pressure>,
    /// constant-flow
    pub setpoint_flow: Option<Flow>,
    pub setpoint_low: Option<Pressure>,
    pub setpoint_high: Option<Pressure>,
    pub sensor_at: Option<String>,
    pub reset: Option<Reset>,
    pub minimum_speed: Option<Fraction>,
    pub maximum_speed: Option<Fraction>,
}

#[derive(Debug, Clone)]
pub struct ControlSensor {
    pub name: String,
    pub at: Option<String>,
    pub setpoint: Option<Pressure>,
}

/// Days (Monday first) and local times between which the loop is meant to run.
#[derive(Debug, Clone)]
pub struct Schedule {
    pub days: [bool; 7],
    pub from: NaiveTime,
    pub to: NaiveTime,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MotorKind {
    Induction,
    PermanentMagnet,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PowerIs {
    DriveInput,
    DriveOutput,
    Shaft,
}

#[derive(Debug, Clone)]
pub struct Pump {
    pub name: String,
    pub rated_speed: Option<ShaftSpeed>,
    pub rated_frequency: Option<Frequency>,
    pub maximum_frequency: Option<Frequency>,
    pub minimum_allowed_speed: Option<Fraction>,
    pub motor: MotorKind,
    pub best_efficiency_flow: Option<Flow>,
    pub motor_power: Option<Power>,
    pub motor_efficiency: Option<f64>,
    pub drive_efficiency: Option<f64>,
    /// Sorted by speed, highest first.
    pub curves: Vec<TestedCurve>,
}

/// Tested points at one speed, each with its own flow grid [m3/h], rising.
#[derive(Debug, Clone)]
pub struct TestedCurve {
    pub speed: Fraction,
    pub power_is: PowerIs,
    /// How far this very pump was found from the table, taken as two standard deviations of head and of power [-]; `None`: a table of its type.
    pub tolerance: Option<f64>,
    pub head_flow_m3h: Vec<f64>,
    pub head_kpa: Vec<f64>,
    /// Empty where no power or efficiency was declared.
    pub power_flow_m3h: Vec<f64>,
    pub power_kw: Vec<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blank {
    Missing,
    Unchanged,
}

/// The `[trends]` table.
#[derive(Debug, Clone)]
pub struct TrendFiles {
    /// Glob patterns relative to the plant file.
    pub files: Vec<String>,
    pub timezone: Tz,
    pub day_first: Option<bool>,
    /// Seconds.
    pub interval_s: Option<i64>,
    pub blank: Blank,
    pub written: Written,
}

/// What a trended point means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    PumpSpeed,
    PumpSpeedCommand,
    PumpPower,
    PumpEnergy,
    PumpStatus,
    PumpCommand,
    PumpStarts,
    PumpFlow,
    PumpHead,
    TotalPower,
    LoopFlow,
    ThermalLoad,
    SupplyTemperature,
    ReturnTemperature,
    DifferentialPressure,
    DifferentialPressureSetpoint,
    ValvePosition,
    BypassPosition,
    BypassFlow,
    AirTemperature,
    AirTemperatureSetpoint,
    SpaceTemperature,
    SpaceTemperatureSetpoint,
    FanStatus,
    CoilFlow,
    CoilReturnTemperature,
    ValveCommand,
    SuctionPressure,
    DischargePressure,
    PumpMode,
    PumpAlarm,
    MotorCurrent,
    MotorTorque,
    SourceStatus,
    SourceFlow,
    SourceSupplyTemperature,
    SourceReturnTemperature,
    OutdoorTemperature,
    PlantEnable,
    Ignore,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PercentOf {
    RatedSpeed,
    RatedFrequency,
    MaximumFrequency,
}

/// A declared accuracy, taken as two standard deviations common to all rows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Accuracy {
    /// Share of the reading.
    OfReading(f64),
    /// Share of the span.
    OfSpan(f64),
    /// In the role's SI unit (kPa, K, kW, m3/h, fraction).
    Absolute(f64),
}

/// One `[[point]]`.
#[derive(Debug, Clone)]
pub struct Point {
    pub name: String,
    pub file: Option<String>,
    pub sheet: Option<String>,
    pub role: Role,
    pub of: Option<String>,
    /// As written; `None` where the role needs none or the export says it.
    pub unit: Option<Unit>,
    pub accuracy: Option<Accuracy>,
    /// Row-to-row standard deviation in the role's SI unit, or as share of the reading.
    pub noise: Option<Accuracy>,
    pub percent_of: Option<PercentOf>,
    pub scale: f64,
    pub offset: f64,
    pub range: Option<(f64, f64)>,
    pub power_is: Option<PowerIs>,
    pub computed_from: Vec<String>,
    /// Words that mean running.
    pub on: Vec<String>,
    /// Line in the plant file, for messages.
    pub line: usize,
}

/// How a point's reading becomes a value: `value = reading * factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conversion {
    pub factor: f64,
    pub offset: f64,
    /// What the value is in: "fraction", "m3/h", "kPa", "kW", "kWh", "degC", "Hz", "rpm", "A", "Nm" or "" for a state.
    pub unit: &'static str,
}

impl Point {
    /// How a reading of this point becomes the role's SI unit: `range`, or `scale` and `offset` and then the unit.
    /// `from_export` is the unit that the export states, used where the plant file states none; `None` where a unit
    /// is needed and neither states one.
    ///
    /// # Errors
    /// Where the export's unit does not fit the role.
    pub fn conversion(
        &self,
        from_export: Option<&Unit>,
        density: Density,
    ) -> Result<Option<Conversion>, units::UnitError> {
        if let Some((low, high)) = self.range {
            let factor = 1.0 / (high - low);
            return Ok(Some(Conversion { factor, offset: -low * factor, unit: Dimension::Fraction.si() }));
        }
        let Some(unit) = self.unit.as_ref().or(from_export) else {
            let needs_none = matches!(self.role.dimensions(), [] | [Dimension::Count]);
            let plain = Conversion { factor: self.scale, offset: self.offset, unit: Dimension::Count.si() };
            return Ok(needs_none.then_some(plain));
        };
        let (factor, offset) = units::for_role(self.role, unit, density)?;
        let unit = unit.dimension.si();
        Ok(Some(Conversion { factor: self.scale * factor, offset: self.offset * factor + offset, unit }))
    }
}

/// A unit of a trended point: how a reading becomes the role's SI unit. Made by the unit reader only.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// As written, for people.
    pub written: String,
    pub dimension: Dimension,
    /// SI value = reading * factor + offset (kPa, m3/h, kW, degC, K, fraction, Hz, rpm, kWh, s, A).
    pub factor: f64,
    pub offset: f64,
}

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    Flow,
    Pressure,
    Head,
    Power,
    Energy,
    Temperature,
    TemperatureDifference,
    Fraction,
    Frequency,
    ShaftSpeed,
    Current,
    Voltage,
    Time,
    Torque,
    Count,
}

//! What is declared of the plant, as JSON in the table's metadata: names and numbers as data, so that no program is written around them.

use super::Reading;
use crate::{
    pipeline::Review,
    plant::{Coil, Control, ControlMode, HeadAt, Pump, Reset, Schedule, TestedCurve},
    quantity::{Flow, Fraction, Frequency, Power, Pressure, ShaftSpeed, Temperature},
};
use serde::Serialize;

#[derive(Serialize)]
struct Facts<'r> {
    plant: &'r str,
    r#loop: Option<&'r str>,
    timezone: &'static str,
    interval_s: i64,
    service: &'static str,
    bypass: Option<&'static str>,
    design_flow_m3_h: Option<f64>,
    design_head_kpa: Option<f64>,
    supply_temperature_degc: Option<f64>,
    return_temperature_degc: Option<f64>,
    /// The most that the loop or any one machine must keep, and that of all machines together.
    minimum_flow_m3_h: f64,
    minimum_flow_of_all_m3_h: f64,
    static_head_kpa: Option<f64>,
    pumps_on_duty: Option<usize>,
    frost_protection_below_degc: Option<f64>,
    control: Setting<'r>,
    control_history: Vec<Earlier<'r>>,
    schedule: Vec<Window>,
    holidays: Vec<String>,
    pumps: Vec<PumpFacts<'r>>,
    coils: Vec<CoilFacts<'r>>,
    columns: Vec<Column<'r>>,
}
#[derive(Serialize)]
struct Setting<'r> {
    mode: Option<&'static str>,
    head_at: Option<&'static str>,
    zero_flow_head_kpa: Option<f64>,
    design_flow_m3_h: Option<f64>,
    design_head_kpa: Option<f64>,
    setpoint_kpa: Option<f64>,
    reset: Option<&'static str>,
    sensor_at: Option<&'r str>,
    minimum_speed: Option<f64>,
    maximum_speed: Option<f64>,
}
#[derive(Serialize)]
struct Earlier<'r> {
    until_ms: i64,
    control: Setting<'r>,
}
/// Days Monday first; minutes after midnight.
#[derive(Serialize)]
struct Window {
    days: [bool; 7],
    from_min: u32,
    to_min: u32,
}
#[derive(Serialize)]
struct PumpFacts<'r> {
    name: &'r str,
    minimum_allowed_speed: Option<f64>,
    maximum_frequency_hz: Option<f64>,
    rated_speed_rpm: Option<f64>,
    best_efficiency_flow_m3_h: Option<f64>,
    motor_power_kw: Option<f64>,
    motor_efficiency: Option<f64>,
    drive_efficiency: Option<f64>,
    curves: Vec<CurveFacts<'r>>,
}
#[derive(Serialize)]
struct CurveFacts<'r> {
    speed: f64,
    power_is: &'static str,
    head_flow_m3_h: &'r [f64],
    head_kpa: &'r [f64],
    power_flow_m3_h: &'r [f64],
    power_kw: &'r [f64],
}
#[derive(Serialize)]
struct CoilFacts<'r> {
    name: &'r str,
    count: u32,
    design_flow_m3_h: Option<f64>,
    design_load_kw: Option<f64>,
    valve: Option<&'static str>,
    characteristic: Option<&'static str>,
    terminal: Option<&'static str>,
    index: bool,
}
/// A reading beside the operating points.
#[derive(Serialize)]
struct Column<'r> {
    column: &'r str,
    what: &'static str,
    of: Option<&'r str>,
    points: &'r [&'r str],
    unit: &'static str,
}

/// As one line of JSON.
pub fn write(review: &Review, readings: &[Reading]) -> String {
    let plant = &review.plant;
    let system = &plant.system;
    let machines = || plant.sources.iter().filter_map(|s| s.minimum_flow).map(Flow::in_m3h);
    let facts = Facts {
        plant: &plant.name,
        r#loop: system.name.as_deref(),
        timezone: plant.site.timezone.name(),
        interval_s: review.clock.step_s,
        service: system.service.word(),
        bypass: system.bypass.map(crate::plant::Bypass::word),
        design_flow_m3_h: system.design_flow.or(plant.control.design_flow).map(Flow::in_m3h),
        design_head_kpa: system.design_head.or(plant.control.design_head).map(Pressure::in_kpa),
        supply_temperature_degc: system.supply_temperature.map(Temperature::in_celsius),
        return_temperature_degc: system.return_temperature.map(Temperature::in_celsius),
        minimum_flow_m3_h: system.minimum_flow.map(Flow::in_m3h).into_iter().chain(machines()).fold(0.0, f64::max),
        minimum_flow_of_all_m3_h: machines().sum(),
        static_head_kpa: system.static_head.map(Pressure::in_kpa),
        pumps_on_duty: system.pumps_on_duty,
        frost_protection_below_degc: system.frost_protection_below.map(Temperature::in_celsius),
        control: setting(&plant.control),
        control_history: plant
            .control_history
            .iter()
            .map(|(until, c)| Earlier { until_ms: until.timestamp_millis(), control: setting(c) })
            .collect(),
        schedule: plant.schedule.iter().map(window).collect(),
        holidays: plant.site.holidays.iter().map(|d| d.format("%Y-%m-%d").to_string()).collect(),
        pumps: plant.pumps.iter().map(pump).collect(),
        coils: plant.coils.iter().map(coil).collect(),
        columns: readings
            .iter()
            .map(|r| Column { column: &r.column, what: r.what, of: r.of, points: &r.points, unit: r.unit })
            .collect(),
    };
    serde_json::to_string(&facts).expect("these types have no map with keys that are not text")
}

fn setting(c: &Control) -> Setting<'_> {
    let kpa = |p: Option<Pressure>| p.map(Pressure::in_kpa);
    Setting {
        mode: c.mode.map(ControlMode::word),
        head_at: c.head_at.map(HeadAt::word),
        zero_flow_head_kpa: kpa(c.zero_flow_head),
        design_flow_m3_h: c.design_flow.map(Flow::in_m3h),
        design_head_kpa: kpa(c.design_head),
        setpoint_kpa: kpa(c.setpoint),
        reset: c.reset.map(Reset::word),
        sensor_at: c.sensor_at.as_deref(),
        minimum_speed: c.minimum_speed.map(Fraction::in_of_one),
        maximum_speed: c.maximum_speed.map(Fraction::in_of_one),
    }
}

fn window(s: &Schedule) -> Window {
    use chrono::Timelike;
    let minutes = |t: chrono::NaiveTime| t.num_seconds_from_midnight() / 60;
    Window { days: s.days, from_min: minutes(s.from), to_min: minutes(s.to) }
}

fn pump(p: &Pump) -> PumpFacts<'_> {
    PumpFacts {
        name: &p.name,
        minimum_allowed_speed: p.minimum_allowed_speed.map(Fraction::in_of_one),
        maximum_frequency_hz: p.maximum_frequency.map(Frequency::in_hz),
        rated_speed_rpm: p.rated_speed.map(ShaftSpeed::in_rpm),
        best_efficiency_flow_m3_h: p.best_efficiency_flow.map(Flow::in_m3h),
        motor_power_kw: p.motor_power.map(Power::in_kw),
        motor_efficiency: p.motor_efficiency,
        drive_efficiency: p.drive_efficiency,
        curves: p.curves.iter().map(curve).collect(),
    }
}

fn curve(c: &TestedCurve) -> CurveFacts<'_> {
    CurveFacts {
        speed: c.speed.in_of_one(),
        power_is: c.power_is.word(),
        head_flow_m3_h: &c.head_flow_m3h,
        head_kpa: &c.head_kpa,
        power_flow_m3_h: &c.power_flow_m3h,
        power_kw: &c.power_kw,
    }
}

fn coil(c: &Coil) -> CoilFacts<'_> {
    CoilFacts {
        name: &c.name,
        count: c.count,
        design_flow_m3_h: c.design_flow.map(Flow::in_m3h),
        design_load_kw: c.design_load.map(Power::in_kw),
        valve: c.valve.map(crate::plant::Valve::word),
        characteristic: c.characteristic.map(crate::plant::Characteristic::word),
        terminal: c.terminal.map(crate::plant::Terminal::word),
        index: c.index,
    }
}

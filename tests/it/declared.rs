//! A plant as declared, built by hand: chilled water, 68 m3/h at 162 kPa, 6 to 12 degC, quadratic control from 64 kPa,
//! one pump, four equal coils.

use offcurve::plant::*;
use offcurve::quantity::{Flow, Fraction, Pressure, ShaftSpeed, Temperature};
use std::path::PathBuf;

pub const DESIGN_FLOW: f64 = 68.0;
pub const DESIGN_HEAD: f64 = 162.0;
pub const ZERO_FLOW_HEAD: f64 = 64.0;

pub fn coil(name: &str) -> Coil {
    Coil {
        name: name.into(),
        terminal: Some(Terminal::AirCoil),
        count: 1,
        design_flow: Some(Flow::m3h(DESIGN_FLOW / 4.0)),
        design_load: None,
        valve: Some(Valve::TwoWay),
        characteristic: Some(Characteristic::EqualPercentage),
        minimum_differential_pressure: None,
        index: name == "C-4",
        serves: Serves::Comfort,
        freeze_risk: false,
    }
}

pub fn pump(name: &str) -> Pump {
    Pump {
        name: name.into(),
        rated_speed: Some(ShaftSpeed::rpm(1450.0)),
        rated_frequency: None,
        maximum_frequency: None,
        minimum_allowed_speed: None,
        motor: MotorKind::Induction,
        best_efficiency_flow: None,
        motor_power: None,
        motor_efficiency: None,
        drive_efficiency: None,
        curves: Vec::new(),
    }
}

pub fn plant() -> Plant {
    Plant {
        name: "test".into(),
        path: PathBuf::from("plant.toml"),
        dir: PathBuf::from("."),
        units: UnitSystem::Si,
        site: Site {
            name: None,
            timezone: chrono_tz::UTC,
            currency: Some("EUR".into()),
            energy_price: Some(0.2),
            carbon_intensity: None,
            holidays: Vec::new(),
        },
        system: System {
            name: None,
            service: Service::ChilledWater,
            fluid: FluidKind::Water,
            glycol_mass_fraction: 0.0,
            design_flow: Some(Flow::m3h(DESIGN_FLOW)),
            design_head: Some(Pressure::kpa(DESIGN_HEAD)),
            supply_temperature: Some(Temperature::celsius(6.0)),
            return_temperature: Some(Temperature::celsius(12.0)),
            topology: Some(Topology::PrimaryOnly),
            minimum_flow: Some(Flow::m3h(14.0)),
            bypass: Some(Bypass::TwoWay),
            static_head: None,
            pumps_on_duty: Some(1),
            serves: Serves::Comfort,
            frost_protection_below: None,
        },
        sources: Vec::new(),
        coils: ["C-1", "C-2", "C-3", "C-4"].map(coil).to_vec(),
        control: Control {
            mode: Some(ControlMode::Quadratic),
            head_at: Some(HeadAt::Pump),
            zero_flow_head: Some(Pressure::kpa(ZERO_FLOW_HEAD)),
            minimum_speed: Some(Fraction::of_one(0.35)),
            ..Control::default()
        },
        control_history: Vec::new(),
        sensors: Vec::new(),
        schedule: Vec::new(),
        pumps: vec![pump("P-1")],
        trends: TrendFiles {
            files: Vec::new(),
            timezone: chrono_tz::UTC,
            day_first: None,
            interval_s: None,
            blank: Blank::Missing,
            written: Written::default(),
        },
        points: Vec::new(),
        assumed: Vec::new(),
    }
}

//! A review made by hand, for tests of what is said and how: an invented plant, ten days at 5 min, two findings, a
//! recommendation. Its numbers follow simple rules that a reader can redo; none of them comes from the analyser.

use offcurve::{
    faults::{Estimate, Evidence, Fault, Finding, Shown, Urgency, Verdict, What, shown::Stretches},
    ingest::{Clock, FileLedger, Ledger, PointLedger, Refusal, Series},
    notice::Notice,
    operating::{Basis, LoopPoints, OperatingPoints, PumpPoints, State},
    pipeline::Review,
    plant::*,
    quantity::{Flow, Fraction, Pressure, ShaftSpeed, Temperature},
    regimes::{Group, PumpRegimes, Regime, Regimes},
    screening::{Doubt, Screened},
    tuning::{Alternative, Recommendation, Tuning},
};
use std::path::PathBuf;

/// 2026-03-01 00:00 in Lisbon, which is UTC in winter [ms].
pub const START_MS: i64 = 1_772_323_200_000;
/// Rows a day at 5 min.
pub const DAY: usize = 288;
/// Days of the record. The third has a gap.
pub const DAYS: usize = 10;

/// A review of a made-up chilled-water loop.
pub fn review() -> Review {
    let clock = Clock { start_ms: START_MS, step_s: 300, len: DAY * DAYS };
    let points = points(clock);
    let regimes = regimes(&points, clock);
    let system = &points.system;
    let need: Vec<f64> =
        system.flow_m3h.iter().map(|q| if *q > 0.0 { 36.0 + 88.0 * (q / 68.0).powi(2) } else { f64::NAN }).collect();
    let energy = system.power_kw.iter().filter(|p| p.is_finite()).sum::<f64>() * clock.hours();
    let screened = screened(clock, system);
    Review {
        learned_tables: Vec::new(),
        machines: Vec::new(),
        plant: plant(),
        from_ms: START_MS,
        to_ms: clock.at_ms(clock.len),
        coverage: 0.97,
        energy_kwh: energy,
        clock,
        ledger: ledger(),
        screened,
        doubts: vec![Doubt {
            point: "AHU-3 valve".into(),
            rows: 12,
            why: "reads 131 %, above its range".into(),
            ..Doubt::default()
        }],
        neediest: need.iter().enumerate().map(|(i, n)| if n.is_nan() { u16::MAX } else { (i % 3) as u16 }).collect(),
        need_high_kpa: need.clone(),
        need_kpa: need,
        points,
        regimes,
        verdicts: verdicts(),
        tuning: Tuning::Proposed(Box::new(recommendation())),
        notices: vec![Notice::new("ingest", "trends/march.csv: 3 cells of \"P1 kW\" read \"Bad\" and were not used.")],
        assumed: vec!["Design temperatures of the loop stand for the coils', which are not declared.".into()],
    }
}

fn plant() -> Plant {
    let curve = TestedCurve {
        speed: Fraction::of_one(1.0),
        power_is: PowerIs::Shaft,
        tolerance: None,
        head_flow_m3h: vec![0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0],
        head_kpa: vec![212.0, 211.0, 206.0, 196.0, 179.0, 153.0, 116.0],
        power_flow_m3h: vec![0.0, 30.0, 60.0, 90.0],
        power_kw: vec![1.9, 3.1, 4.2, 4.9],
    };
    let pump = |name: &str| Pump {
        name: name.into(),
        rated_speed: Some(ShaftSpeed::rpm(1450.0)),
        rated_frequency: None,
        maximum_frequency: None,
        minimum_allowed_speed: Some(Fraction::percent(30.0)),
        motor: MotorKind::Induction,
        best_efficiency_flow: None,
        motor_power: None,
        motor_efficiency: None,
        drive_efficiency: None,
        curves: vec![curve.clone()],
    };
    let coil = |name: &str| Coil {
        name: name.into(),
        terminal: Some(Terminal::AirCoil),
        count: 1,
        design_flow: Some(Flow::m3h(22.0)),
        design_load: None,
        valve: Some(Valve::TwoWay),
        characteristic: Some(Characteristic::EqualPercentage),
        minimum_differential_pressure: None,
        index: false,
        serves: Serves::Comfort,
        freeze_risk: false,
    };
    Plant {
        name: "harbour-hall".into(),
        path: PathBuf::from("harbour-hall.toml"),
        dir: PathBuf::from("."),
        units: UnitSystem::Si,
        site: Site {
            name: Some("Harbour Hall <north> & yard".into()),
            timezone: chrono_tz::Europe::Lisbon,
            currency: Some("EUR".into()),
            energy_price: Some(0.19),
            carbon_intensity: Some(0.24),
            holidays: Vec::new(),
        },
        system: System {
            name: Some("Chilled-water loop".into()),
            service: Service::ChilledWater,
            fluid: FluidKind::Water,
            glycol_mass_fraction: 0.0,
            design_flow: Some(Flow::m3h(68.0)),
            design_head: Some(Pressure::kpa(162.0)),
            supply_temperature: Some(Temperature::celsius(6.0)),
            return_temperature: Some(Temperature::celsius(12.0)),
            topology: Some(Topology::PrimaryOnly),
            minimum_flow: None,
            bypass: Some(Bypass::None),
            static_head: None,
            pumps_on_duty: Some(1),
            serves: Serves::Comfort,
            frost_protection_below: None,
        },
        sources: Vec::new(),
        coils: vec![coil("AHU-1"), coil("AHU-2"), coil("AHU-3")],
        control: control(64.0, 162.0),
        control_history: Vec::new(),
        sensors: Vec::new(),
        schedule: Vec::new(),
        pumps: vec![pump("P-1"), pump("P-2")],
        trends: TrendFiles {
            files: vec!["trends/*.csv".into()],
            timezone: chrono_tz::Europe::Lisbon,
            day_first: None,
            interval_s: None,
            blank: Blank::Missing,
            written: Written::default(),
        },
        points: Vec::new(),
        assumed: vec!["pumps_on_duty was not declared: one pump runs at a time, as the record shows.".into()],
    }
}

fn control(zero_flow_kpa: f64, design_kpa: f64) -> Control {
    Control {
        mode: Some(ControlMode::Quadratic),
        head_at: Some(HeadAt::Pump),
        zero_flow_head: Some(Pressure::kpa(zero_flow_kpa)),
        design_flow: Some(Flow::m3h(68.0)),
        design_head: Some(Pressure::kpa(design_kpa)),
        minimum_speed: Some(Fraction::percent(35.0)),
        maximum_speed: Some(Fraction::percent(100.0)),
        ..Control::default()
    }
}

/// A number in -1..1 that looks random and is the same every time.
fn ripple(i: usize, k: usize) -> f64 {
    let mixed = (i.wrapping_mul(7919).wrapping_add(k.wrapping_mul(104_729))) % 1009;
    mixed as f64 / 504.5 - 1.0
}

/// A pump that stands still all the time.
fn off(pump: &str, rows: usize) -> PumpPoints {
    let (zero, unknown) = (|| vec![0.0; rows], || vec![f64::NAN; rows]);
    PumpPoints {
        pump: pump.into(),
        state: vec![State::Off; rows],
        speed: zero(),
        flow_m3h: zero(),
        flow_low_m3h: zero(),
        flow_high_m3h: zero(),
        head_kpa: unknown(),
        head_low_kpa: unknown(),
        head_high_kpa: unknown(),
        power_kw: zero(),
        efficiency: unknown(),
        basis: vec![Basis::Off; rows],
        flow_sd_common_m3h: unknown(),
        head_sd_common_kpa: unknown(),
    }
}

/// P-1 runs from 6 to 20 h on a flow that rises and falls like a half sine; P-2 stands by. Head is 8 kPa above the
/// control curve from the fifth day; in the first and last hour the pump sits at its floor.
fn points(clock: Clock) -> OperatingPoints {
    let mut p = off("P-1", clock.len);
    for i in 0..clock.len {
        let (day, hour) = (i / DAY, (i % DAY) as f64 / 12.0);
        if day == 2 && (9.0..12.0).contains(&hour) {
            (p.state[i], p.basis[i]) = (State::Unknown, Basis::None);
            for column in [&mut p.speed, &mut p.flow_m3h, &mut p.flow_low_m3h, &mut p.flow_high_m3h, &mut p.power_kw] {
                column[i] = f64::NAN;
            }
            continue;
        }
        if !(6.0..20.0).contains(&hour) {
            continue;
        }
        let day_peak = 34.0 + 3.0 * day as f64;
        let flow = 12.0 + day_peak * ((hour - 6.0) / 14.0 * std::f64::consts::PI).sin() + 2.0 * ripple(i, 1);
        let above = if day >= 5 { 8.0 } else { 0.0 };
        let head = 64.0 + 98.0 * (flow / 68.0).powi(2) + above + 1.5 * ripple(i, 2);
        p.state[i] = if hour < 6.2 { State::Starting } else { State::Steady };
        p.speed[i] = (0.55 + 0.4 * flow / 68.0).min(1.0);
        p.flow_m3h[i] = flow;
        p.flow_low_m3h[i] = flow - 2.5;
        p.flow_high_m3h[i] = flow + 2.5;
        p.head_kpa[i] = head;
        p.head_low_kpa[i] = head - 3.0;
        p.head_high_kpa[i] = head + 3.0;
        p.efficiency[i] = 0.52;
        p.power_kw[i] = flow * head / 3600.0 / 0.52;
        p.basis[i] = Basis::Measured(3);
        p.flow_sd_common_m3h[i] = 0.9;
        p.head_sd_common_kpa[i] = 1.0;
    }
    let standby = off("P-2", clock.len);
    let system = LoopPoints {
        flow_m3h: p.flow_m3h.clone(),
        flow_low_m3h: p.flow_low_m3h.clone(),
        flow_high_m3h: p.flow_high_m3h.clone(),
        head_kpa: p.head_kpa.clone(),
        power_kw: p.power_kw.clone(),
        pumps_on: p.state.iter().map(|s| u8::from(matches!(s, State::Steady | State::Starting))).collect(),
        steady: p.state.iter().map(|s| *s == State::Steady).collect(),
    };
    OperatingPoints { pumps: vec![standby, p], system }
}

fn regimes(points: &OperatingPoints, clock: Clock) -> Regimes {
    let p = &points.pumps[1];
    let regime = |i: usize| match p.state[i] {
        State::Off => Regime::Off,
        State::Unknown => Regime::Unknown,
        State::Starting | State::Transient => Regime::Transient,
        State::Steady if p.flow_m3h[i] < 18.0 => Regime::SpeedFloor,
        State::Steady if i / DAY >= 5 => Regime::AboveCurve,
        State::Steady => Regime::OnCurve,
    };
    let curve = p.flow_m3h.iter().map(|q| if *q > 0.0 { 64.0 + 98.0 * (q / 68.0).powi(2) } else { f64::NAN }).collect();
    let group = |regime, hours, share| Group {
        pump: "P-1".into(),
        regime,
        hours,
        share_of_hours: share,
        share_of_energy: share,
        flow_m3h: (38.2, 9.1),
        head_excess_kpa: (7.9, 1.5),
        speed: (0.77, 0.06),
        delta_t_k: (4.4, 0.6),
    };
    Regimes {
        pumps: vec![
            PumpRegimes {
                pump: "P-2".into(),
                curve_head_kpa: vec![f64::NAN; clock.len],
                regime: vec![Regime::Off; clock.len],
            },
            PumpRegimes { pump: "P-1".into(), curve_head_kpa: curve, regime: (0..clock.len).map(regime).collect() },
        ],
        groups: vec![
            group(Regime::OnCurve, 66.5, 0.48),
            group(Regime::AboveCurve, 62.0, 0.45),
            group(Regime::SpeedFloor, 9.5, 0.07),
        ],
    }
}

fn screened(clock: Clock, system: &LoopPoints) -> Screened {
    let series = |name: &str, role, of: Option<&str>, unit, values: Vec<f64>| Series {
        name: name.into(),
        role,
        of: of.map(Into::into),
        point: 0,
        unit,
        values,
    };
    let valve = |k: usize| -> Vec<f64> {
        let open =
            |(i, q): (usize, &f64)| (q / 68.0 * (0.75 + 0.12 * k as f64) + 0.06 * ripple(i, 10 + k)).clamp(0.0, 1.0);
        system.flow_m3h.iter().enumerate().map(open).collect()
    };
    let supply: Vec<f64> = (0..clock.len).map(|i| 6.0 + 0.1 * ripple(i, 5)).collect();
    let back = system.flow_m3h.iter().enumerate().map(|(i, q)| 11.6 - q / 40.0 + 0.3 * ripple(i, 6)).collect();
    Screened {
        clock,
        series: vec![
            series("CHWS", Role::SupplyTemperature, None, "degC", supply),
            series("CHWR", Role::ReturnTemperature, None, "degC", back),
            series("AHU-1 valve", Role::ValvePosition, Some("AHU-1"), "fraction", valve(0)),
            series("AHU-2 valve", Role::ValvePosition, Some("AHU-2"), "fraction", valve(1)),
            series("AHU-3 valve", Role::ValvePosition, Some("AHU-3"), "fraction", valve(2)),
        ],
        doubts: Vec::new(),
        as_read: Vec::new(),
    }
}

fn ledger() -> Ledger {
    let point = |name: &str, role: &str, of: Option<&str>, bad: u64| PointLedger {
        name: name.into(),
        role: role.into(),
        of: of.map(Into::into),
        samples: 2844 - bad,
        bad,
        missing: 36,
        flat_hours: 2.5,
        interval_s: 300,
        first_ms: START_MS,
        last_ms: START_MS + 86_400_000 * DAYS as i64 - 300_000,
        first_bad: (bad > 0).then(|| (412, "Bad".into())),
    };
    Ledger {
        files: vec![FileLedger {
            path: "trends/march.csv".into(),
            sha256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08".into(),
            shape: "wide",
            time_format: "%d/%m/%Y %H:%M".into(),
            rows: 2880,
            cells: 20160,
            used: 19905,
            missing: 252,
            refused: vec![Refusal { reason: "not a number".into(), count: 3, first_line: 412, example: "Bad".into() }],
        }],
        points: vec![
            point("P1 speed", "pump-speed", Some("P-1"), 0),
            point("P1 kW", "pump-power", Some("P-1"), 3),
            point("CHWS", "supply-temperature", None, 0),
            point("CHWR", "return-temperature", None, 0),
            point("AHU-1 valve", "valve-position", Some("AHU-1"), 0),
            point("AHU-2 valve", "valve-position", Some("AHU-2"), 0),
            point("AHU-3 valve", "valve-position", Some("AHU-3"), 0),
        ],
    }
}

fn around(estimate: f64) -> Estimate {
    Estimate { estimate, low: estimate * 0.75, high: estimate * 1.25 }
}

fn verdicts() -> Vec<Verdict> {
    let hour = 3_600_000;
    let too_high = Finding {
        fault: Fault::SetpointTooHigh,
        subject: "loop".into(),
        urgency: Urgency::Plan,
        confidence: 0.93,
        first_seen_ms: START_MS + 6 * hour,
        last_seen_ms: START_MS + (9 * 24 + 20) * hour,
        hours: 128.5,
        waste_kwh: Some(around(61.0)),
        waste_kwh_per_year: Some(around(2240.0)),
        caused_by: None,
        because: "With the neediest valve at 90 % open, 36 to 88 kPa would have been enough where the curve asked 64 to 130 kPa, in 98 % of running hours at 12 to 60 m3/h.".into(),
        evidence: vec![
            Evidence {
                name: "head above need, middle of the hours".into(),
                value: 31.4,
                unit: "kPa",
                expected: "at most 10 kPa".into(),
                source: "replay of the loop on this record".into(),
            },
            Evidence {
                name: "neediest valve, 98th percentile of opening".into(),
                value: 0.71,
                unit: "fraction",
                expected: "about 90 %".into(),
                source: "trended positions of AHU-1, AHU-2 and AHU-3".into(),
            },
        ],
        could_also_be: vec!["The differential-pressure sensor reads low.".into(), "Balancing valves throttle what the pump makes.".into()],
        check_on_site: vec!["Read the sensor against a gauge at 40 m3/h.".into(), "Look for balancing valves nearly shut at AHU-3.".into()],
        change: "Lower the control curve as advised below.".into(),
        shown: Shown { rows: Stretches::of(0..240), what: What::TooMuchHead { share: 0.8, zero_enough_kpa: None } },
        caution: "Lower in steps and watch the most remote coil; a chiller's minimum flow comes first.".into(),
    };
    let off_curve = Finding {
        fault: Fault::OffControlCurve,
        subject: "P-1".into(),
        urgency: Urgency::Act,
        confidence: 0.88,
        first_seen_ms: START_MS + (5 * 24 + 6) * hour,
        last_seen_ms: START_MS + (9 * 24 + 20) * hour,
        hours: 62.0,
        waste_kwh: Some(around(14.2)),
        waste_kwh_per_year: None,
        caused_by: None,
        because: "Since 6 March the pump has made 8 kPa more than its control curve asks, at every flow.".into(),
        evidence: vec![Evidence {
            name: "head above the control curve".into(),
            value: 7.9,
            unit: "kPa",
            expected: "within 3 kPa".into(),
            source: "operating points, steady rows".into(),
        }],
        could_also_be: vec!["The setting in the drive is not the one in the plant file.".into()],
        check_on_site: vec!["Read zero-flow head and design head off the drive.".into()],
        change: "Set the drive to what the plant file says, or the plant file to what the drive has.".into(),
        shown: Shown::default(),
        caution: "The drive's cabinet stays live after it is switched off.".into(),
    };
    let cannot = |fault, missing: &[&str], why: &str| Verdict::CannotTell {
        fault,
        subject: "loop".into(),
        missing: missing.iter().map(|m| (*m).into()).collect(),
        why: why.into(),
    };
    vec![
        Verdict::Found(Box::new(too_high)),
        Verdict::Found(Box::new(off_curve)),
        Verdict::Clear {
            fault: Fault::LowDeltaT,
            subject: "loop".into(),
            would_have_seen: "A difference below 3.6 K for four hours of any day.".into(),
        },
        cannot(
            Fault::StuckBypass,
            &["bypass-flow", "outdoor-temperature"],
            "No bypass is declared and no load is known below 5 m3/h.",
        ),
        cannot(Fault::OutOfHoursRunning, &["[[schedule]]", "outdoor-temperature"], "No schedule is declared."),
        cannot(Fault::ShortCycling, &[], "Not built yet."),
    ]
}

fn recommendation() -> Recommendation {
    Recommendation {
        current: control(64.0, 162.0),
        proposed: control(38.0, 131.0),
        choice: "quadratic, as today, saves 24 %, and no other kind of control saves more".to_owned(),
        saving_kwh_per_year: Some(around(2100.0)),
        saving_kwh: around(57.5),
        saving_fraction: around(0.26),
        conditional_on: vec![Fault::OffControlCurve],
        alternatives: vec![Alternative {
            control: Control {
                mode: Some(ControlMode::ConstantPressure),
                setpoint: Some(Pressure::kpa(104.0)),
                minimum_speed: Some(Fraction::percent(35.0)),
                ..Control::default()
            },
            saving_fraction: around(0.14),
        }],
        steps: vec!["Set 51 kPa and 146 kPa first, and wait a week.".into(), "Then set 38 kPa and 131 kPa.".into()],
        limits: vec![
            "AHU-3 is the neediest coil.".into(),
            "Above 60 m3/h today's curve stays: no such flow was seen.".into(),
        ],
    }
}

//! A row on each side of the limits on units: what a reading may be of what the plant file says. What is varied is the only thing that differs between
//! the two. A pump of 200 kPa at no flow and 100 at its last 90 m3/h, of 4 kW at most, at 60 to 100 % speed.

use super::*;

/// What is varied; two values, each with the points that are doubted for their unit (and "removed" where one of them was); and the record they make.
type Limit = (&'static str, (f64, &'static str), (f64, &'static str), fn(f64) -> Screened);

fn word(out: &Screened) -> String {
    let doubted = || out.doubts.iter().filter(|d| d.kind == Kind::Unit);
    let mut words: Vec<&str> = doubted().map(|d| d.point.as_str()).collect();
    words.extend(doubted().any(|d| d.removed).then_some("removed"));
    words.join(" ")
}

fn sides(limits: &[Limit]) {
    for (why, one, other, record) in limits {
        for (value, wanted) in [one, other] {
            let out = record(*value);
            assert_eq!(word(&out), *wanted, "{why}: {value}: {:?}", out.doubts);
        }
    }
}

fn speed(i: usize) -> f64 {
    0.6 + 0.4 * wave(i)
}
/// Of the pump with a table, at these speeds.
fn held(to: impl Fn(usize) -> f64, role: Role, unit: &'static str, value: impl Fn(usize) -> f64) -> Screened {
    screened(
        &tabled(),
        vec![of("P-1", series("speed", Role::PumpSpeed, "fraction", to)), of("P-1", series("x", role, unit, value))],
    )
}
/// This share of the largest head at the row's speed.
fn head(share: f64) -> Screened {
    held(speed, Role::PumpHead, "kPa", move |i| share * 200.0 * speed(i).powi(2))
}
/// The same in psi, at so much speed.
fn psi(to: impl Fn(usize) -> f64 + Copy) -> Screened {
    held(to, Role::PumpHead, "kPa", move |i| 0.85 * 200.0 * to(i).powi(2) / 6.895)
}

#[test]
fn thresholds_of_units_by_the_table() {
    let limits: [Limit; 14] = [
        ("head over the largest", (1.2, ""), (1.4, "x"), head),
        // Three quarters of the table's last, which is half of its largest; feet are three times kPa.
        ("head over the largest, below", (0.40, ""), (0.34, "x removed"), head),
        // Bar read as kPa: the same times a hundredth.
        ("head in bar, below the usual", (0.56, "x"), (0.64, "x removed"), |share| head(share / 100.0)),
        ("head in bar, above the usual", (1.038, "x"), (1.022, "x removed"), |share| head(share / 100.0)),
        ("share of the rows in psi", (0.87, ""), (0.93, "x removed"), |share| {
            let is = move |i: usize| ((i * 37) % 100) as f64 >= 100.0 * (1.0 - share);
            held(speed, Role::PumpHead, "kPa", move |i| 170.0 * speed(i).powi(2) / if is(i) { 6.895 } else { 1.0 })
        }),
        ("running hours", (20.0, ""), (28.0, "x removed"), |h| {
            psi(if h < 24.0 {
                |i| if i < 20 { speed(i) } else { 0.0 }
            } else {
                |i| if i < 28 { speed(i) } else { 0.0 }
            })
        }),
        ("speed that shows a head", (0.26, ""), (0.33, "x removed"), |v| {
            psi(if v < 0.3 { |i| 0.25 + 0.03 * wave(i) } else { |i| 0.31 + 0.03 * wave(i) })
        }),
        ("speed that shows a power", (0.43, ""), (0.57, "x removed"), |v| {
            let at = move |i: usize| v + 0.04 * wave(i);
            held(at, Role::PumpPower, "kW", move |i| 4000.0 * at(i).powi(3))
        }),
        ("power over the largest", (0.09, ""), (0.07, "x"), |share| {
            held(speed, Role::PumpPower, "kW", move |i| share * 4.0 * speed(i).powi(3))
        }),
        ("power over the largest, above", (5.4, ""), (6.6, "x"), |share| {
            held(speed, Role::PumpPower, "kW", move |i| share * 4.0 * speed(i).powi(3))
        }),
        // W read as kW: the same times a thousand; up to four it is that.
        ("power in W over the largest", (4.5, "x"), (3.5, "x removed"), |share| {
            held(speed, Role::PumpPower, "kW", move |i| share * 4000.0 * speed(i).powi(3))
        }),
        ("flow over the last", (1.3, ""), (1.5, "x removed"), |share| {
            held(speed, Role::PumpFlow, "m3/h", move |i| share * 90.0 * speed(i))
        }),
        // A counter beside its power meter.
        ("energy counted over metered", (0.55, ""), (0.45, "kWh"), counted),
        ("energy counted over metered, above", (1.9, ""), (2.1, "kWh"), counted),
    ];
    sides(&limits);
}

fn counted(factor: f64) -> Screened {
    let power = |i: usize| 3.0 + wave(i);
    let total = |i: usize| (0..i).map(power).sum::<f64>();
    with(vec![
        of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
        of("P-1", series("kW", Role::PumpPower, "kW", power)),
        of("P-1", series("kWh", Role::PumpEnergy, "kWh", |i| 5000.0 + factor * total(i))),
    ])
}

/// A water at this temperature, on a loop from this design to that, with or without glycol.
fn water(role: Role, at: f64, design: (f64, f64), glycol: f64) -> Screened {
    let mut p = tabled();
    p.system.supply_temperature = Some(offcurve::quantity::Temperature::celsius(design.0));
    p.system.return_temperature = Some(offcurve::quantity::Temperature::celsius(design.1));
    p.system.glycol_mass_fraction = glycol;
    screened(
        &p,
        vec![
            of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
            series("x", role, "degC", move |i| at + 0.2 * (wave(i) - 0.5)),
        ],
    )
}

/// A loop of one pump without a table: flow, head and power that give this share of hydraulic over electric power.
fn wire_to_water(share: f64, flow: f64, head: f64) -> Screened {
    with(vec![
        of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
        of("P-1", series("dp", Role::PumpHead, "kPa", move |i| head * (1.0 + 0.05 * wave(i)))),
        series("flow", Role::LoopFlow, "m3/h", move |i| flow * (1.0 + 0.05 * wave(i))),
        of(
            "P-1",
            series("kW", Role::PumpPower, "kW", move |i| flow * head * (1.0 + 0.05 * wave(i)).powi(2) / 3600.0 / share),
        ),
    ])
}

#[test]
fn thresholds_of_units_without_a_table() {
    use Role::{OutdoorTemperature, ReturnTemperature, SupplyTemperature};
    let limits: [Limit; 8] = [
        // 6 degC is 42.8 degF; 7 K are 12.6 of those.
        ("degC near the design in degF", (29.4, ""), (31.2, "x removed"), |c| {
            water(SupplyTemperature, c, (6.0, 12.0), 0.0)
        }),
        // Brine of -10 degC is 14 degF; what lies 15 K off its design is no brine.
        ("degC far from a design of -10", (3.5, ""), (6.5, "x removed"), |c| {
            water(SupplyTemperature, c, (-10.0, -5.0), 0.3)
        }),
        // 20 degF are -6.7 degC.
        ("degC of water without glycol", (-1.6, ""), (-2.4, "x removed"), |c| {
            water(ReturnTemperature, c, (14.0, 20.0), 0.0)
        }),
        ("degC of the outdoor air", (40.0, ""), (50.0, "x removed"), |c| {
            water(OutdoorTemperature, c, (6.0, 12.0), 0.0)
        }),
        ("hydraulic over electric power", (0.055, ""), (0.045, "dp"), |share| wire_to_water(share, 40.0, 150.0)),
        ("hydraulic over electric power, above", (0.9, ""), (1.1, "dp"), |share| wire_to_water(share, 40.0, 150.0)),
        ("m3/h of 68 that has an efficiency", (20.0, ""), (25.0, "dp"), |q| wire_to_water(1.5, q, 150.0)),
        ("kPa of 162 that has an efficiency", (14.0, ""), (19.0, "dp"), |h| wire_to_water(1.5, 40.0, h)),
    ];
    sides(&limits);
}

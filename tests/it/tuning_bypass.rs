//! A two-way bypass valve that holds a machine's least flow, on the loop of one coil of `tuning_one_coil`: at a lower head it opens further, and what it lacks
//! lasts longer, by the root of the head. Each row is one plant; the bounds are that arithmetic.

use crate::tuning_one_coil::{PLANT, tuned, with_bypass};
use offcurve::plant::ControlMode;
use offcurve::tuning::{Curve, Recommendation, Tuning};

/// Declared least flow, and what the valve holds: 4 % over it [m3/h].
const LEAST: f64 = 6.0;
const HELD: f64 = 6.24;
/// Head today at every flow [kPa].
const TODAY: f64 = 180.0;

fn plant() -> String {
    let with = "design_head = \"180 kPa\"\nbypass = \"two-way\"\nminimum_flow = \"6 m3/h\"";
    PLANT.replacen("design_head = \"180 kPa\"", with, 1)
}

/// Loop flow where the bypass tops up the coil's, but for the first `dips` quarters of a day, in which it lacks `depth` of it [-].
fn export(dips: i32, depth: f64) -> String {
    with_bypass(|quarter, coil| if quarter < dips { HELD * (1.0 - depth) } else { coil.max(HELD) }).0
}

/// What a proposal asks at the least flow [kPa].
fn asks(r: &Recommendation) -> f64 {
    let c = &r.proposed;
    let kpa = |v: Option<offcurve::quantity::Pressure>| v.map_or(f64::NAN, offcurve::quantity::Pressure::in_kpa);
    match c.mode {
        Some(mode @ (ControlMode::Quadratic | ControlMode::Proportional)) => {
            let design_flow = c.design_flow.expect("a rising curve has one").in_m3h();
            let (zero_flow_head, design_head) = (kpa(c.zero_flow_head), kpa(c.design_head));
            Curve { mode, zero_flow_head, design_flow, design_head }.head(LEAST)
        }
        _ => kpa(c.setpoint),
    }
}

/// Head at the least flow that is set; today's where none is proposed.
fn head(plant: &str, csv: &str) -> f64 {
    match tuned(plant, csv) {
        Tuning::Proposed(r) => asks(&r),
        Tuning::Refused { why, .. } => {
            assert!(why.contains("least flow") || why.contains("close to"), "{why}");
            TODAY
        }
    }
}

/// `n` of 96 quarters short today last `n` over the root of the head's share; half a per cent of the running rows more is allowed, so the share of
/// today's head at the least flow is at least `1 / (1 + 0.48 / n)^2`: 0.46 for one, 0.80 for four.
#[test]
fn a_bypass_that_lags_holds_the_head() {
    let plant = plant();
    let at = |dips, depth| head(&plant, &export(dips, depth));
    let free = at(0, 0.0);
    assert!(free < 0.4 * TODAY, "nothing lags: {free} kPa");
    for (dips, share) in [(1, 0.45), (4, 0.79)] {
        let held = at(dips, 0.25);
        assert!(held >= share * TODAY - 1.0, "{dips} quarters a day a quarter short: {held} kPa");
    }
    // Held to 1 %, which at the lowest head would be under 3 %: that is what such a control is good to.
    let near = at(4, 0.01);
    assert!((near - free).abs() <= 2.0, "1 % short: {near} kPa against {free}");
    // The same flows where nothing says that a machine must be kept: the floor of the record holds, no valve is thought to follow.
    let bare = head(PLANT, &export(4, 0.25));
    assert!(bare < 0.79 * TODAY, "no least flow and no bypass declared: {bare} kPa");
}

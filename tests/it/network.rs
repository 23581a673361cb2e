//! A looped network's pump, hour by hour: flow recovered from speed with power, and from speed with head, when both are exact.
//!
//! Source of the numbers: EPANET 2.2 engine (Rossman et al., EPA/600/R-20/133) on an invented closed loop of eight branches, pump on a speed
//! pattern from 40 to 100 %, Darcy-Weisbach (`tests/reference/README.md`). The pump's table is sampled from the engine's own curve: head by
//! its three-point rule, efficiency linear between points, speed by affinity with the efficiency of Sarbu and Borza.

use crate::outside::{EPANET_WEIGHT, linear, near_rel, num, nums, reference, rows};
use offcurve::hydraulics::curve::{PumpCurve, Tested};
use offcurve::hydraulics::fluid::hydraulic_power_kw;
use offcurve::hydraulics::system::PowerLaw;
use offcurve::r#loop::{Replay, Settles};
use offcurve::operating::{self, Basis, PumpPoints, State};
use offcurve::plant::ControlMode;
use offcurve::tuning::Curve;
use offcurve::{ingest, plant, screening};
use serde_json::Value;
use std::fmt::Write as _;
use std::path::Path;

/// m3/h in a litre a second.
const M3H: f64 = 3.6;
/// Distance of the table's points [L/s]; the engine's efficiency points (every 6 L/s) are among them, so that no kink is cut.
const STEP: f64 = 0.25;
/// First flow with a power [L/s]: the engine takes 1 % efficiency at no flow, which says nothing of power there.
const FIRST_POWER: usize = 4;
/// What the curve alone keeps to; the engine hands out single precision.
const CURVE_ALLOWED: f64 = 1e-5;

/// The pump's table at full speed: flow [m3/h], head [kPa] and shaft power [kW].
struct Table {
    flow: Vec<f64>,
    head: Vec<f64>,
    power: Vec<f64>,
}

fn table(network: &Value) -> Table {
    let (q, h) = (nums(&network["pump"]["flow_l_s"]), nums(&network["pump"]["head_m"]));
    let law = PowerLaw::three_point(h[0], (q[1], h[1]), (q[2], h[2])).expect("a falling curve");
    let (eta_q, eta) =
        (nums(&network["efficiency_curve"]["flow_l_s"]), nums(&network["efficiency_curve"]["efficiency"]));
    let last = (q[2] / STEP) as u32;
    let flow_l_s: Vec<f64> = (0..=last).map(|k| STEP * f64::from(k)).collect();
    let flow: Vec<f64> = flow_l_s.iter().map(|q| q * M3H).collect();
    let head: Vec<f64> = flow_l_s.iter().map(|&q| law.head(q, 1.0) * EPANET_WEIGHT).collect();
    let power = |k: usize| hydraulic_power_kw(flow[k], head[k]) / linear(&eta_q, &eta, flow_l_s[k]);
    let power = (FIRST_POWER..flow.len()).map(power).collect();
    Table { flow, head, power }
}

/// One hour of the engine's run: speed \[-\], flow [m3/h], head [kPa], power [kW].
struct Hour {
    speed: f64,
    flow: f64,
    head: f64,
    power: f64,
    efficiency: f64,
}

fn hours(network: &Value) -> Vec<Hour> {
    let hour = |row: &Value| {
        let [speed, flow, head, power, efficiency] =
            ["speed", "flow_l_s", "head_m", "power_kw", "efficiency"].map(|key| num(&row[key]));
        Hour { speed, flow: flow * M3H, head: head * EPANET_WEIGHT, power, efficiency }
    };
    rows(&network["hours"]).iter().map(hour).collect()
}

/// The record is worth its name: at least 12 hours, 40 to 100 % of speed, similar flows from a quarter to nine tenths of the table.
#[test]
fn the_day_covers_the_pump() {
    let network = &reference()["network"];
    let hours = hours(network);
    let most = table(network).flow.last().copied().expect("a table");
    let range = |f: &dyn Fn(&Hour) -> f64| {
        hours.iter().map(f).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
    };
    let (speed, share) = (range(&|h| h.speed), range(&|h| h.flow / h.speed / most));
    assert!(hours.len() >= 12 && speed.0 <= 0.401 && speed.1 >= 0.999, "{} hours, speeds {speed:?}", hours.len());
    assert!(share.0 < 0.25 && share.1 > 0.90, "{share:?}");
    // Continuity: what the pump moves is what the eight branches take.
    for row in rows(&network["hours"]) {
        let branches = nums(&row["branch_l_s"]);
        assert_eq!(branches.len(), 8);
        near_rel("branches", branches.iter().sum(), num(&row["flow_l_s"]), 1e-5);
    }
}

#[test]
fn the_curve_gives_the_flow_back() {
    let network = &reference()["network"];
    let t = table(network);
    let tested = Tested {
        speed: 1.0,
        flow_m3h: &t.flow,
        head_kpa: &t.head,
        power_flow_m3h: &t.flow[FIRST_POWER..],
        power_kw: &t.power,
    };
    let pump = PumpCurve::new(&[tested]).expect("a sound table");
    for (k, hour) in hours(network).iter().enumerate() {
        let what = |of: &str| format!("{of} in hour {k}");
        near_rel(&what("head"), pump.head(hour.flow, hour.speed).expect("in the table"), hour.head, CURVE_ALLOWED);
        near_rel(&what("power"), pump.shaft_power(hour.flow, hour.speed).expect("in"), hour.power, CURVE_ALLOWED);
        near_rel(
            &what("efficiency"),
            pump.efficiency(hour.flow, hour.speed).expect("in"),
            hour.efficiency,
            CURVE_ALLOWED,
        );
        for (of, flows) in [
            ("flow from head", pump.flows_for_head(hour.head, hour.speed)),
            ("flow from power", pump.flows_for_power(hour.power, hour.speed)),
        ] {
            assert_eq!(flows.len(), 1, "{}: both curves are met once: {flows:?}", what(of));
            near_rel(&what(of), flows[0], hour.flow, 1e-4);
        }
    }
}

/// The single-pipe runs at four speeds (a one-point pump): the efficiencies through the curve, to a millionth.
#[test]
fn the_curve_gives_four_efficiencies_back() {
    let reference = reference();
    let (pump, _) = crate::outside::epanet_pump(&reference);
    // Noted from a separate run of the engine: speed, flow [L/s], efficiency.
    for (speed, flow, noted) in
        [(1.0, 92.4146, 0.607649), (0.8, 73.8722, 0.599373), (0.6, 55.3346, 0.588608), (0.5, 46.0687, 0.581747)]
    {
        let run = rows(&reference["epanet"]["one_point"]["runs"])
            .iter()
            .find(|run| num(&run["speed"]) == speed && num(&run["lift_m"]) == 0.0)
            .expect("the four runs are committed");
        near_rel("flow", num(&run["flow_l_s"]), flow, 1e-6);
        let ours = pump.efficiency(num(&run["flow_l_s"]), speed).expect("in the table");
        for theirs in [num(&run["efficiency"]), noted] {
            assert!((ours - theirs).abs() <= 1e-6, "speed {speed}: {ours} here, {theirs} there");
        }
    }
}

fn list(values: &[f64]) -> String {
    values.iter().map(|v| format!("{v:.8}")).collect::<Vec<_>>().join(", ")
}

/// What the maker's papers say of the pump.
#[derive(Clone, Copy)]
enum Papers {
    /// Its type's table, at full speed.
    OfType,
    /// A test of this very pump at every twentieth of its speed, by the engine's law.
    Tested,
}

impl Papers {
    fn speeds(self) -> Vec<f64> {
        match self {
            Self::OfType => vec![1.0],
            Self::Tested => (8..=20).map(|k| 0.05 * f64::from(k)).collect(),
        }
    }
}

/// The table at a speed: flow with speed, head with its square, and efficiency 1 - (1 - eta)(1 / s)^0.1 at the same place of the curve (Sarbu and Borza
/// 1998, as the engine's manual has it).
fn at_speed(t: &Table, s: f64) -> Table {
    let power = |k: usize| {
        let made = hydraulic_power_kw(t.flow[k], t.head[k]);
        let efficiency = made / t.power[k - FIRST_POWER];
        s.powi(3) * made / (1.0 - (1.0 - efficiency) * s.powf(-0.1))
    };
    Table {
        flow: t.flow.iter().map(|q| q * s).collect(),
        head: t.head.iter().map(|h| h * s * s).collect(),
        power: (FIRST_PRINTED..t.flow.len()).map(power).collect(),
    }
}

/// First flow with a printed power [steps]: the engine's first efficiency point. Below it its law leaves no efficiency at half speed.
const FIRST_PRINTED: usize = 24;

/// A plant with that pump, no losses between the table's power and the trended one, and sensors without error.
fn plant_text(t: &Table, trended: &[(&str, &str, &str)], papers: Papers) -> String {
    let mut text = String::from(
        r#"
units = "SI"
[site]
timezone = "UTC"
[loop]
service = "chilled-water"
design_flow = "90 m3/h"
design_head = "150 kPa"
[trends]
files = ["loop.csv"]
[[pump]]
name = "P-1"
motor = "permanent-magnet"
motor_power = "5.5 kW"
"#,
    );
    let tolerance = match papers {
        Papers::OfType => "",
        Papers::Tested => "tolerance = \"0.02 %\"\n",
    };
    for s in papers.speeds() {
        let t = at_speed(t, s);
        write!(
            text,
            r#"[[pump.curve]]
speed = "{:.0} %"
power_is = "shaft"
{tolerance}flow = {{ unit = "m3/h", values = [{}] }}
head = {{ unit = "kPa", values = [{}] }}
power = {{ unit = "kW", values = [{}], at = {{ unit = "m3/h", values = [{}] }} }}
"#,
            100.0 * s,
            list(&t.flow),
            list(&t.head),
            list(&t.power),
            list(&t.flow[FIRST_PRINTED..]),
        )
        .expect("a string takes all");
    }
    for (name, role, unit) in trended {
        let power_is = if *role == "pump-power" { "power_is = \"shaft\"\n" } else { "" };
        write!(
            text,
            "[[point]]\nname = \"{name}\"\nrole = \"{role}\"\nof = \"P-1\"\nunit = \"{unit}\"\naccuracy = \"0.01 % of reading\"\nnoise = \"0.01 %\"\n{power_is}"
        )
        .expect("a string takes all");
    }
    text
}

/// Rows an hour: the duty is held for the hour, as the engine holds it.
const ROWS: usize = 12;

/// A column's name and what of an hour stands in it.
type Column<'a> = (&'a str, &'a dyn Fn(&Hour) -> f64);

/// The record as an export: a row every five minutes.
fn export(hours: &[Hour], columns: &[Column]) -> Vec<u8> {
    let mut text = String::from("Time");
    for (name, _) in columns {
        write!(text, ",{name}").expect("a string takes all");
    }
    text.push('\n');
    for row in 0..hours.len() * ROWS {
        write!(text, "2026-03-02 {:02}:{:02}", row / ROWS, 60 / ROWS * (row % ROWS)).expect("a string takes all");
        for (_, of) in columns {
            write!(text, ",{:.7}", of(&hours[row / ROWS])).expect("a string takes all");
        }
        text.push('\n');
    }
    text.into_bytes()
}

/// Every row of the day through the stages: the reconstructed pump, and the engine's hours.
fn reconstructed(trended: &[(&str, &str, &str)], papers: Papers) -> (PumpPoints, Vec<Hour>) {
    let (mut whole, hours) = whole(trended, papers);
    (whole.points.pumps.remove(0), hours)
}

/// The same with the pump model that the day taught.
fn whole(trended: &[(&str, &str, &str)], papers: Papers) -> (operating::Reconstructed, Vec<Hour>) {
    let network = &reference()["network"];
    let (t, hours) = (table(network), hours(network));
    let text = plant_text(&t, trended, papers);
    let plant = plant::parse(&text, Path::new("network/plant.toml")).unwrap_or_else(|e| panic!("{e}")).value;
    let of = |role: &str| -> &dyn Fn(&Hour) -> f64 {
        match role {
            "pump-speed" => &|h: &Hour| 100.0 * h.speed,
            "pump-head" => &|h: &Hour| h.head,
            _ => &|h: &Hour| h.power,
        }
    };
    let columns: Vec<Column> = trended.iter().map(|(name, role, _)| (*name, of(role))).collect();
    let bytes = export(&hours, &columns);
    let files = [("loop.csv".to_owned(), bytes.as_slice())];
    let trends = ingest::from_bytes(&plant, &files).unwrap_or_else(|e| panic!("{e}")).value;
    let screened = screening::screen(&plant, trends).value;
    let whole = operating::reconstruct(&plant, &screened).value;
    assert_eq!(whole.points.pumps[0].flow_m3h.len(), hours.len() * ROWS, "one row of the clock a row of the export");
    (whole, hours)
}

const SPEED: (&str, &str, &str) = ("P1 speed", "pump-speed", "%");
const HEAD: (&str, &str, &str) = ("P1 head", "pump-head", "kPa");
const POWER: (&str, &str, &str) = ("P1 power", "pump-power", "kW");

/// Every row has a flow that rests on what was trended, and its interval holds the engine's.
fn holds(trended: &[(&str, &str, &str)], basis: &[Basis]) {
    let (pump, hours) = reconstructed(trended, Papers::OfType);
    for (row, hour) in (0..pump.flow_m3h.len()).map(|row| (row, &hours[row / ROWS])) {
        let (low, high) = (pump.flow_low_m3h[row], pump.flow_high_m3h[row]);
        let place = format!("row {row} ({:?}, {:?})", pump.state[row], pump.basis[row]);
        assert!(low <= hour.flow && hour.flow <= high, "{place}: {} is outside {low} to {high}", hour.flow);
        assert!(
            low <= pump.flow_m3h[row] && pump.flow_m3h[row] <= high,
            "{place}: {} outside its own",
            pump.flow_m3h[row]
        );
        assert!(basis.contains(&pump.basis[row]), "{place}: basis");
    }
}

#[test]
fn intervals_hold_the_engines_flow() {
    holds(&[SPEED, HEAD], &[Basis::Measured(1)]);
    holds(&[SPEED, POWER], &[Basis::Measured(2)]);
    holds(&[SPEED, HEAD, POWER], &[Basis::Measured(3)]);
}

/// Speed, head and power through the stages, where head and power each tell flow from flow (between half and all of the table's flow).
#[test]
fn second_witness_narrows_the_interval() {
    let (head, hours) = reconstructed(&[SPEED, HEAD], Papers::OfType);
    let (power, _) = reconstructed(&[SPEED, POWER], Papers::OfType);
    let (both, _) = reconstructed(&[SPEED, HEAD, POWER], Papers::OfType);
    let width = |p: &PumpPoints, row: usize| p.flow_high_m3h[row] - p.flow_low_m3h[row];
    let mut seen = 0;
    for row in 0..both.flow_m3h.len() {
        let hour = &hours[row / ROWS];
        if both.state[row] != State::Steady || hour.flow / hour.speed < 54.0 {
            continue;
        }
        seen += 1;
        let best = width(&head, row).min(width(&power, row));
        // Readings without noise strain the model where the engine's efficiency has corners: what was learned is doubted by as much, a tenth at most.
        assert!(width(&both, row) < 1.1 * best, "row {row}: {} with both, {best} with one", width(&both, row));
    }
    assert!(seen > 100, "{seen} rows tell nothing");
}

/// What the operating points must keep to with exact readings: the share of flow that may be missed.
const ALLOWED: f64 = 0.005;

/// Every row of the day gives the engine's flow back, a row without a flow being a miss.
fn gives_back(trended: &[(&str, &str, &str)]) {
    let (pump, hours) = reconstructed(trended, Papers::Tested);
    for (row, flow) in pump.flow_m3h.iter().enumerate() {
        let place = format!("row {row} ({:?}, {:?})", pump.state[row], pump.basis[row]);
        assert!(flow.is_finite(), "{place} has no flow");
        near_rel(&place, *flow, hours[row / ROWS].flow, ALLOWED);
    }
}

#[test]
fn operating_points_from_speed_and_head() {
    gives_back(&[SPEED, HEAD]);
}

#[test]
fn operating_points_from_speed_and_power() {
    gives_back(&[SPEED, POWER]);
}

#[test]
fn operating_points_from_speed_head_and_power() {
    gives_back(&[SPEED, HEAD, POWER]);
}

/// A lower control curve on the looped network, its valves left where they stand: flow, head and speed of the replay against the engine run again
/// under the new curve, within half a per cent. The engine's pipes lose by Darcy and Weisbach, the replay's loop as flow squared.
#[test]
fn a_replay_goes_where_the_engine_goes() {
    let reference = reference();
    let change = &reference["setpoint_change"];
    let design_flow = num(&change["curve_flow_l_s"]) * M3H;
    let curve = |key: &str| {
        let heads = nums(&change[key]);
        Curve {
            mode: ControlMode::Quadratic,
            zero_flow_head: heads[0] * EPANET_WEIGHT,
            design_flow,
            design_head: heads[1] * EPANET_WEIGHT,
        }
    };
    let (before, after) = (curve("before_m"), curve("after_m"));
    let (whole, _) = whole(&[SPEED, HEAD, POWER], Papers::Tested);
    let replay = Replay::new(&whole.machines);
    for state in rows(&change["states"]) {
        let of = |when: &str, key: &str| num(&state[when][key]);
        let what = |of: &str| format!("{of} in hour {}", num(&state["hour"]));
        let (was_flow, was_head) = (of("before", "flow_l_s") * M3H, of("before", "head_m") * EPANET_WEIGHT);
        // The engine stood on today's curve.
        near_rel(&what("today's head"), before.head(was_flow), was_head, 1e-4);
        let settles = Settles { flow: was_flow, head: was_head, static_kpa: 0.0, common_resistance: 0.0, open: 1.0 };
        let (flow, head) = settles.under(|q| after.head(q));
        near_rel(&what("flow"), flow, of("after", "flow_l_s") * M3H, ALLOWED);
        near_rel(&what("head"), head, of("after", "head_m") * EPANET_WEIGHT, ALLOWED);
        near_rel(&what("speed"), replay.speed(flow, head, 1), of("after", "speed"), ALLOWED);
        // It is a change worth the name: flow falls by more than the allowance.
        assert!(flow < (1.0 - 4.0 * ALLOWED) * was_flow, "{}", what("flow"));
    }
}

//! The pipe between the pumps and a remote pressure sensor, learned from head minus reading against flow squared.

use super::{Basis, Tuning, refuse, today};
use crate::regimes::Regime;

/// Fewer steady rows than this teach no pipe.
const ROWS_MIN: usize = 60;
/// Rows below this share of the highest flow say nothing of the pipe: both pressures' zeros do [-].
const FLOW_FROM: f64 = 0.3;
/// Spread of the rows' resistances (half of the middle two thirds, over their median) beyond which the pipe is not understood [-].
const SCATTER_MAX: f64 = 0.35;
const SCATTER_READ: f64 = 1.2;

/// What lies between.
#[derive(Debug, Clone)]
pub struct Pipe {
    /// [kPa]
    pub setpoint: f64,
    pub design_flow: f64,
    /// [kPa per (m3/h)^2]
    pub resistance: f64,
    /// Half of the middle two thirds of the rows over their median [-].
    pub scatter: f64,
    pub resets: bool,
    /// The sensor's readings [kPa]; empty where only its setpoint is known.
    shown: Vec<f64>,
}

impl Pipe {
    /// What the sensor read in a row, or should have [kPa].
    pub fn reading(&self, i: usize, flow: f64, head: f64) -> f64 {
        match self.shown.get(i) {
            Some(r) if r.is_finite() => *r,
            _ => head - self.resistance * flow * flow,
        }
    }
}

/// Learns it; where the reading is not trended, the setpoint stands in for it on rows that neither floor nor top speed held.
pub fn learn(b: &Basis, setpoint: f64, design_flow: f64, resets: bool) -> Result<Pipe, Tuning> {
    let system = &b.reconstructed.points.system;
    let readings = today::readings(b);
    let held = |i: usize| {
        b.regimes
            .pumps
            .iter()
            .all(|p| !matches!(p.regime[i], Regime::SpeedFloor | Regime::FullSpeed | Regime::Transient))
    };
    let reading = |i: usize| match (readings, b.setpoint) {
        (Some(r), _) => r[i],
        (None, Some(s)) if held(i) => s[i],
        (None, None) if held(i) && !resets => setpoint,
        _ => f64::NAN,
    };
    let running = |i: &usize| system.pumps_on[*i] > 0 && system.steady[*i] && system.flow_m3h[*i] > 0.0;
    let top = (0..b.clock.len).filter(running).map(|i| system.flow_m3h[i]).fold(0.0, f64::max);
    let mut each: Vec<f64> = (0..b.clock.len)
        .filter(running)
        .filter(|i| system.flow_m3h[*i] > FLOW_FROM * top)
        .map(|i| (system.head_kpa[i] - reading(i)) / system.flow_m3h[i].powi(2))
        .filter(|r| r.is_finite())
        .collect();
    if each.len() < ROWS_MIN {
        let missing: &[&str] = if readings.is_none() { &["differential-pressure"] } else { &[] };
        return refuse(
            missing,
            "too few steady rows have both head and the remote sensor's reading, so the loss in the pipe between them is not known",
        );
    }
    each.sort_by(f64::total_cmp);
    let at = |p: f64| each[((each.len() - 1) as f64 * p) as usize];
    let resistance = at(0.5);
    let scatter = 0.5 * (at(0.833) - at(0.167)) / resistance.abs().max(1e-12);
    if resistance < 0.0 {
        let what = if readings.is_some() { "reads" } else { "is set to" };
        return refuse(&[], format!("the remote sensor {what} more than the pumps' head: one of the two is wrong"));
    }
    // With its readings at hand each row brings its own pipe: only design flow rests on this one.
    if scatter > if readings.is_some() { SCATTER_READ } else { SCATTER_MAX } {
        let text = format!(
            "head less the remote sensor's reading does not rise as flow squared ({:.0} % scatter): other branches seem to load the pipe between them",
            100.0 * scatter
        );
        return refuse(&[], text);
    }
    let shown = readings.map(<[f64]>::to_vec).unwrap_or_default();
    Ok(Pipe { setpoint, design_flow, resistance, scatter, resets, shown })
}

//! The pipes: a main with a branch a coil, a bypass in the plant room, pumps in parallel. Solved exactly each step.
//!
//! Every part's loss goes as flow squared, so the ladder of branches folds into one resistance from the far end.

use super::physics::{Coil, Port, Pump};

/// The pipework outside the branches.
#[derive(Debug, Clone)]
pub struct Pipes {
    /// Machine, strainer and header pipe: all flow passes it [kPa/(m3/h)2].
    pub plant_resistance: f64,
    /// Bypass across the distribution, wide open; infinite where there is none.
    pub bypass_resistance: f64,
    pub bypass_position: f64,
    /// Scratch: conductance at each node.
    node: Vec<f64>,
    branch: Vec<f64>,
}

/// Flows [m3/h] and heads [kPa] of a step.
#[derive(Debug, Clone, Copy, Default)]
pub struct Solved {
    pub flow: f64,
    pub header_head: f64,
    pub bypass_flow: f64,
    /// Header head that would be enough with the neediest valve at its needy opening.
    pub need_head: f64,
}

impl Pipes {
    pub fn new(plant_resistance: f64, bypass_resistance: f64) -> Self {
        Self { plant_resistance, bypass_resistance, bypass_position: 0.0, node: Vec::new(), branch: Vec::new() }
    }

    fn bypass_conductance(&self) -> f64 {
        // Linear plug in a short pipe; a closed one leaks a little.
        let open = self.bypass_position.max(0.002);
        let share = open / libm::sqrt(0.3 * open * open + 0.7);
        if self.bypass_resistance.is_finite() { share / libm::sqrt(self.bypass_resistance) } else { 0.0 }
    }

    /// Folds the ladder: resistance seen by the headers [kPa/(m3/h)2].
    pub fn fold(&mut self, coils: &[Coil]) -> f64 {
        self.node.resize(coils.len(), 0.0);
        self.branch.resize(coils.len(), 0.0);
        let mut beyond = 0.0;
        for (k, coil) in coils.iter().enumerate().rev() {
            self.branch[k] = 1.0 / libm::sqrt(coil.resistance());
            self.node[k] = self.branch[k] + beyond;
            beyond = 1.0 / libm::sqrt(coil.main_resistance + 1.0 / (self.node[k] * self.node[k]));
        }
        let all = beyond + self.bypass_conductance();
        self.plant_resistance + 1.0 / (all * all)
    }

    /// Shares the flow among the branches and states the need.
    pub fn share(&self, coils: &mut [Coil], flow: f64, resistance: f64) -> Solved {
        let distribution = (resistance - self.plant_resistance) * flow * flow;
        let bypass_flow = self.bypass_conductance() * libm::sqrt(distribution.max(0.0));
        let mut main = (flow - bypass_flow).max(0.0);
        let mut dropped = self.plant_resistance * flow * flow;
        let mut need = 0.0_f64;
        for (k, coil) in coils.iter_mut().enumerate() {
            dropped += coil.main_resistance * main * main;
            coil.flow = main * self.branch[k] / self.node[k];
            main -= coil.flow;
            let taken = match coil.port {
                Port::TwoWay => coil.flow,
                // A diverting branch could have taken less: what its coil used, with a tenth in hand.
                Port::ThreeWay => coil.flow * (coil.position / 0.9).min(1.0),
            };
            if coil.fan >= 0.02 && taken > 0.02 * coil.design_flow {
                need = need.max(dropped + coil.needy_resistance() * taken * taken);
            }
        }
        Solved { flow, header_head: resistance * flow * flow, bypass_flow, need_head: need }
    }
}

/// Flow of each running pump against a resistance (Newton's method from the last step's flows).
pub fn pump_flows(pumps: &[Pump], speeds: &[f64], flows: &mut [f64], resistance: f64, density: f64) {
    let running: Vec<usize> = (0..pumps.len()).filter(|&k| speeds[k] > 0.0).collect();
    for k in 0..pumps.len() {
        if speeds[k] <= 0.0 {
            flows[k] = 0.0;
        } else if flows[k] <= 0.0 {
            flows[k] = 0.5 * speeds[k] * pumps[k].model.best_flow;
        }
    }
    match running[..] {
        [] => {}
        [a] => {
            for _ in 0..6 {
                let (head, slope) = pumps[a].head(flows[a], speeds[a], density);
                let r = resistance + pumps[a].header_resistance;
                let error = head - r * flows[a] * flows[a];
                let step = error / (slope - 2.0 * r * flows[a]);
                flows[a] = (flows[a] - step).max(1e-3);
                if step.abs() < 1e-5 {
                    break;
                }
            }
        }
        [a, b, ..] => pair(pumps, speeds, flows, resistance, density, [a, b]),
    }
}

fn pair(pumps: &[Pump], speeds: &[f64], flows: &mut [f64], r: f64, density: f64, [a, b]: [usize; 2]) {
    for _ in 0..8 {
        let total = flows[a] + flows[b];
        let (ha, sa) = pumps[a].head(flows[a], speeds[a], density);
        let (hb, sb) = pumps[b].head(flows[b], speeds[b], density);
        let (ra, rb) = (pumps[a].header_resistance, pumps[b].header_resistance);
        let fa = ha - ra * flows[a] * flows[a] - r * total * total;
        let fb = hb - rb * flows[b] * flows[b] - r * total * total;
        let cross = -2.0 * r * total;
        let (da, db) = (sa - 2.0 * ra * flows[a] + cross, sb - 2.0 * rb * flows[b] + cross);
        let det = da * db - cross * cross;
        let (step_a, step_b) = ((fa * db - fb * cross) / det, (fb * da - fa * cross) / det);
        flows[a] = (flows[a] - step_a).max(1e-3);
        flows[b] = (flows[b] - step_b).max(1e-3);
        if step_a.abs() + step_b.abs() < 1e-5 {
            break;
        }
    }
}

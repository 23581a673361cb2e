//! The pipe network: a common part, a bypass across the mains, and a ladder of branches.
//!
//! Resistances go as flow squared within a minute; straight pipe's own part falls with the eighth root of flow, taken from the minute before. The
//! ladder is summed from its far end, so a minute costs one pass each way. Direct return: the last branch is the farthest.

use super::terminals::Terminal;

#[derive(Debug, Clone)]
pub struct Pipes {
    /// Machines and headers [kPa/(m3/h)2].
    pub common: f64,
    /// Conductance of the bypass valve fully open [m3/h / sqrt(kPa)], and its stroke.
    pub bypass: f64,
    pub bypass_at: f64,
    /// What a bypass that hangs lets through at least, as stroke.
    pub hangs_at: f64,
    pub design_flow: f64,
}

/// One minute's shares, for a unit of flow.
#[derive(Debug, Clone, Default)]
pub struct Shares {
    /// Resistance from header to header.
    pub total: f64,
    pub bypass: f64,
    pub branch: [f64; 12],
    /// Pressure before each branch over flow squared, in header resistance.
    pub node: [f64; 12],
}

fn straight(main: f64, flow: f64, design: f64) -> f64 {
    let x = (flow / design).clamp(0.02, 1.5);
    main / x.sqrt().sqrt().sqrt()
}

impl Pipes {
    pub fn bypass_conductance(&self) -> f64 {
        self.bypass * self.bypass_at.max(self.hangs_at)
    }

    /// Shares of a unit of flow; terminals hold last minute's flows.
    pub fn share(&self, terminals: &[Terminal]) -> Shares {
        let n = terminals.len();
        let mut s = Shares::default();
        let (mut through, mut field) = ([0.0; 12], 0.0);
        let (mut beyond, mut beyond_design) = (0.0, 0.0);
        let mut mains = [0.0; 12];
        for k in (0..n).rev() {
            let t = &terminals[k];
            beyond += t.flow;
            beyond_design += t.design_flow;
            through[k] = 1.0 / t.resistance().sqrt();
            let node = through[k] + field;
            mains[k] = straight(t.main, beyond, beyond_design);
            field = 1.0 / (mains[k] + 1.0 / (node * node)).sqrt();
        }
        let bypass = self.bypass_conductance();
        let plant = field + bypass;
        s.total = self.common + 1.0 / (plant * plant);
        s.bypass = bypass / plant;
        let (mut flow, mut pressure) = (1.0 - s.bypass, 1.0 / (plant * plant));
        for k in 0..n {
            pressure -= mains[k] * flow * flow;
            s.node[k] = pressure.max(0.0);
            s.branch[k] = (through[k] * s.node[k].sqrt()).min(flow);
            flow -= s.branch[k];
        }
        s
    }

    /// Header head that would do for these flows with every valve at most 90 % open.
    pub fn need(&self, terminals: &[Terminal], flows: &[f64], bypass_flow: f64) -> f64 {
        let total: f64 = flows.iter().sum::<f64>() + bypass_flow;
        let mut before = self.common * total * total;
        let mut beyond: f64 = flows.iter().sum();
        let mut beyond_design: f64 = terminals.iter().map(|t| t.design_flow).sum();
        let mut need: f64 = 0.0;
        for (t, q) in terminals.iter().zip(flows) {
            before += straight(t.main, beyond, beyond_design) * beyond * beyond;
            need = need.max(before + t.needs_kpa(*q));
            beyond -= q;
            beyond_design -= t.design_flow;
        }
        need
    }

    /// Pressure lost from the header to the branch numbered `at`, for these flows.
    pub fn lost_before(&self, terminals: &[Terminal], flows: &[f64], bypass_flow: f64, at: usize) -> f64 {
        let total: f64 = flows.iter().sum::<f64>() + bypass_flow;
        let mut lost = self.common * total * total;
        let mut beyond: f64 = flows.iter().sum();
        let mut beyond_design: f64 = terminals.iter().map(|t| t.design_flow).sum();
        for (t, q) in terminals.iter().zip(flows).take(at + 1) {
            lost += straight(t.main, beyond, beyond_design) * beyond * beyond;
            beyond -= q;
            beyond_design -= t.design_flow;
        }
        lost
    }
}

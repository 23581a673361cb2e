//! Pipes: a tree of risers, or headers in reverse return, with a friction factor that follows the flow.
//!
//! Within a minute every resistance goes with flow squared, so shares do not depend on pressure: the tree is folded from its ends,
//! reverse return is iterated on the loop equations from the last minute's shares. Friction factors follow a few minutes behind.

/// One stretch of supply and return, or of one of them.
#[derive(Debug, Clone)]
pub struct Stretch {
    pub diameter_m: f64,
    pub length_m: f64,
    /// Resistance now [kPa/(m3/h)2].
    pub k: f64,
}

const ROUGHNESS_M: f64 = 4.5e-5;
const INNER_MM: [f64; 13] = [21.0, 27.0, 35.0, 41.0, 53.0, 69.0, 81.0, 105.0, 130.0, 155.0, 206.0, 258.0, 307.0];

impl Stretch {
    /// The least bore under a pressure gradient [Pa/m] at a flow [m3/h].
    pub fn sized(flow: f64, length_m: f64, gradient: f64, water: Water) -> Self {
        let mut stretch = Self { diameter_m: 0.021, length_m, k: 0.0 };
        for mm in INNER_MM {
            stretch.diameter_m = mm / 1000.0;
            stretch.follow(flow, water);
            if 1000.0 * stretch.k * flow * flow / length_m < gradient {
                break;
            }
        }
        stretch
    }
    /// Resistance at a flow: Darcy with Haaland's factor, laminar below Re 2300 (from memory).
    pub fn follow(&mut self, flow: f64, water: Water) {
        let area = 0.25 * std::f64::consts::PI * self.diameter_m * self.diameter_m;
        let v = (flow.max(0.01) / 3600.0) / area;
        let re = (v * self.diameter_m / water.viscosity).max(50.0);
        let f = if re < 2300.0 {
            64.0 / re
        } else {
            let inner = libm::pow(ROUGHNESS_M / self.diameter_m / 3.7, 1.11) + 6.9 / re;
            let root = -1.8 * libm::log10(inner);
            1.0 / (root * root)
        };
        let v1 = 1.0 / 3600.0 / area;
        // Bends and tees add four tenths.
        self.k = 1.4 * f * self.length_m / self.diameter_m * water.density * v1 * v1 / 2.0 / 1000.0;
    }
}

#[derive(Debug, Clone, Copy)]
pub struct Water {
    /// [kg/m3] and [m2/s].
    pub density: f64,
    pub viscosity: f64,
}

impl Water {
    /// Density by Kell's short form, viscosity by a Vogel form (both from memory).
    pub fn at(t: f64) -> Self {
        let density = 1000.0 * (1.0 - (t + 288.94) / (508_929.0 * (t + 68.13)) * (t - 3.986) * (t - 3.986));
        let mu = 2.414e-5 * libm::pow(10.0, 247.8 / (t + 133.15));
        Self { density, viscosity: mu / density }
    }
}

#[derive(Debug, Clone)]
pub enum Layout {
    /// Riser of each coil, coils of a riser in order; a stretch before each coil; one stretch before each riser.
    Tree {
        risers: Vec<Vec<usize>>,
        feeds: Vec<Stretch>,
    },
    Reverse {
        back: Vec<Stretch>,
    },
}

#[derive(Debug, Clone)]
pub struct Pipes {
    pub layout: Layout,
    /// The stretch before each coil (supply and return together in a tree, supply alone in reverse return).
    pub before: Vec<Stretch>,
}

impl Pipes {
    /// Conductance of the building [m3/h/kPa^0.5] and each branch's flow at 1 kPa between its headers, from the branches' conductances.
    pub fn solve(&self, branch: &[f64], shares: &mut [f64]) -> f64 {
        match &self.layout {
            Layout::Tree { risers, feeds } => self.tree(risers, feeds, branch, shares),
            Layout::Reverse { back } => self.reverse(back, branch, shares),
        }
    }

    fn tree(&self, risers: &[Vec<usize>], feeds: &[Stretch], branch: &[f64], shares: &mut [f64]) -> f64 {
        let series = |k: f64, c: f64| if c > 0.0 { 1.0 / (k + 1.0 / (c * c)).sqrt() } else { 0.0 };
        let mut total = 0.0;
        let mut folded = [0.0f64; 16];
        for (riser, feed) in risers.iter().zip(feeds) {
            let mut c = 0.0;
            for (j, i) in riser.iter().enumerate().rev() {
                folded[j] = c + branch[*i];
                c = series(self.before[*i].k, folded[j]);
            }
            c = series(feed.k, c);
            total += c;
            let mut p = 1.0 - feed.k * c * c;
            let mut flow = c;
            for (j, i) in riser.iter().enumerate() {
                p -= self.before[*i].k * flow * flow;
                shares[*i] = branch[*i] * p.max(0.0).sqrt();
                flow = (flow - shares[*i]).max(0.0);
                debug_assert!(folded[j] >= branch[*i]);
            }
        }
        total
    }

    fn reverse(&self, back: &[Stretch], branch: &[f64], shares: &mut [f64]) -> f64 {
        let n = branch.len();
        for _ in 0..40 {
            let total: f64 = shares.iter().sum();
            let mut drop = [0.0f64; 16];
            let mut ahead = total;
            let mut lost = 0.0;
            for i in 0..n {
                lost += self.before[i].k * ahead * ahead;
                drop[i] = lost;
                ahead -= shares[i];
            }
            let mut behind = total;
            lost = 0.0;
            for i in (0..n).rev() {
                lost += back[i].k * behind * behind;
                drop[i] += lost;
                behind -= shares[i];
            }
            let mut moved: f64 = 0.0;
            for i in 0..n {
                let next = branch[i] * (1.0 - drop[i]).max(0.002).sqrt();
                let step = 0.5 * (next - shares[i]);
                shares[i] += step;
                moved = moved.max(step.abs());
            }
            if moved < 2e-4 * total.max(1e-9) {
                break;
            }
        }
        shares.iter().sum()
    }

    /// Friction factors at these branch flows [m3/h].
    pub fn follow(&mut self, flows: &[f64], water: Water) {
        let before = &mut self.before;
        match &mut self.layout {
            Layout::Tree { risers, feeds } => {
                for (riser, feed) in risers.iter().zip(feeds) {
                    let mut flow: f64 = riser.iter().map(|i| flows[*i]).sum();
                    feed.follow(flow, water);
                    for i in riser {
                        before[*i].follow(flow, water);
                        flow -= flows[*i];
                    }
                }
            }
            Layout::Reverse { back } => {
                let total: f64 = flows.iter().sum();
                let (mut ahead, mut behind) = (total, 0.0);
                for i in 0..flows.len() {
                    before[i].follow(ahead, water);
                    behind += flows[i];
                    back[i].follow(behind, water);
                    ahead -= flows[i];
                }
            }
        }
    }
}

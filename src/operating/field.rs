//! What a learned pump shows, tabulated once, since rows are many and each asks a dozen times.
//!
//! Comes in: a model with its learned common errors. Goes out: [`Field`]: readings over reduced flow and shown speed, and what the errors that all
//! rows share do to them there. Straight lines lie between the grid's points: head is held over speed squared, so that they err by less than
//! 0.01 % of head and 0.05 % of power down to a third of rated speed. A record visits few of the speeds, so that a column of the grid is worked out by
//! the first row that asks for it; what it holds does not depend on who asks. Start at [`Field::new`].

use super::learn::Learned;
use super::model::{Around, COMMON, Hour, PumpModel, error, witness};
use std::sync::OnceLock;

/// Grid of the readings.
const FINE_Q: usize = 161;
const FINE_S: usize = 126;
/// Shown speeds of that grid [-]; none is believed beyond them.
pub const SPEED_FROM: f64 = 0.05;
pub const SPEED_TO: f64 = 1.30;
/// Grid of the shared errors, which change slowly.
const COARSE_Q: usize = 25;
const COARSE_S: usize = 18;
/// Steps for slopes by relative density [-] and by the logarithm of viscosity [-].
const DENSER: f64 = 0.02;
const THICKER: f64 = 0.1;

/// Quantities with a shared error: the five readings, and the head across the pump itself.
pub const SHARED: usize = witness::COUNT + 1;
/// Upper triangle of their covariance.
const TRIANGLE: usize = SHARED * (SHARED + 1) / 2;

/// One point of the fine grid.
#[derive(Debug, Clone, Copy)]
struct Node {
    /// Head across the pump over shown speed squared, for the declared density [kPa].
    head: f64,
    /// Loss to the headers, likewise.
    between: f64,
    /// Power where it is read, sensor scale included, for the declared density [kW], and its change with relative density.
    power: f64,
    power_by_density: f64,
    /// Changes with the logarithm of viscosity.
    head_by_thick: f64,
    power_by_thick: f64,
    /// Drive input less power as read [kW]: the sensor's scale, and what lies between the two places.
    input_more: f64,
    /// Shaft speed less the shown speed [-].
    speed_more: f64,
}

/// The tables.
#[derive(Debug, Clone)]
pub struct Field {
    pub q_max: f64,
    model: PumpModel,
    learned: Learned,
    fine: Vec<OnceLock<Line>>,
    coarse: Vec<OnceLock<[f64; TRIANGLE]>>,
    head_gain: f64,
    head_zero: f64,
    meter_gain: f64,
    meter_zero: f64,
    heat_gain: f64,
    heat_pair: f64,
    /// Variance of the pair's error [K2].
    heat_pair_variance: f64,
    pipe: f64,
    pipe_variance: f64,
    remote_gain: f64,
    remote_zero: f64,
}

/// A column of the fine grid: from no flow to the table's end at one speed.
#[derive(Debug, Clone)]
struct Line {
    nodes: Vec<Node>,
    /// Head falls all the way; power rises all the way.
    head_falls: bool,
    power_rises: bool,
}

/// The fine grid along flow at one shown speed.
#[derive(Debug, Clone, Copy)]
pub struct Column<'a> {
    field: &'a Field,
    /// The columns below and above the speed, and how far it lies from the first to the second.
    lines: [&'a Line; 2],
    v: f64,
    speed: f64,
    hour: Hour,
}

/// Values and their slopes by reduced flow.
#[derive(Debug, Clone, Copy)]
pub struct Sloped {
    pub value: f64,
    pub slope: f64,
}

impl Field {
    /// For a learned model; tabulated as rows ask.
    #[must_use]
    pub fn new(model: &PumpModel, learned: &Learned) -> Self {
        let c = &learned.common;
        let pr = &model.prior;
        Self {
            q_max: model.q_max,
            model: model.clone(),
            learned: learned.clone(),
            fine: vec![OnceLock::new(); FINE_S],
            coarse: vec![OnceLock::new(); COARSE_Q * COARSE_S],
            head_gain: 1.0 + pr.head_gain * c[error::HEAD_GAIN],
            head_zero: pr.head_zero * c[error::HEAD_ZERO],
            meter_gain: 1.0 + pr.meter_gain * c[error::METER_GAIN],
            meter_zero: pr.meter_zero * c[error::METER_ZERO],
            heat_gain: 1.0 + pr.heat_gain * c[error::HEAT_GAIN],
            heat_pair: pr.heat_pair * c[error::HEAT_PAIR],
            heat_pair_variance: pr.heat_pair.powi(2) * learned.covariance[error::HEAT_PAIR][error::HEAT_PAIR],
            pipe: pr.pipe_mean * (pr.pipe * c[error::PIPE]).exp(),
            pipe_variance: pr.pipe.powi(2) * learned.covariance[error::PIPE][error::PIPE],
            remote_gain: 1.0 + pr.remote_gain * c[error::REMOTE_GAIN],
            remote_zero: pr.remote_zero * c[error::REMOTE_ZERO],
        }
    }

    /// Column `j` of the fine grid. What fills it must never be spread over threads: a thread that waits for its parts could be handed a row that waits
    /// for this column.
    fn line(&self, j: usize) -> &Line {
        self.fine[j].get_or_init(|| {
            let flow = |i: usize| i as f64 / (FINE_Q - 1) as f64 * self.q_max;
            let nodes: Vec<Node> =
                (0..FINE_Q).map(|i| node(&self.model, &self.learned.common, flow(i), speed_of(j))).collect();
            let head_falls = nodes.windows(2).all(|w| w[1].head - w[1].between <= w[0].head - w[0].between);
            let power_rises = nodes.windows(2).all(|w| w[1].power >= w[0].power);
            Line { nodes, head_falls, power_rises }
        })
    }

    /// The shared errors at flow `i` and speed `j` of the coarse grid.
    #[inline]
    fn cell(&self, i: usize, j: usize) -> &[f64; TRIANGLE] {
        self.coarse[j * COARSE_Q + i].get_or_init(|| {
            let speed = SPEED_FROM + (SPEED_TO - SPEED_FROM) * j as f64 / (COARSE_S - 1) as f64;
            spread(&self.model, &self.learned, i as f64 / (COARSE_Q - 1) as f64 * self.q_max, speed)
        })
    }

    /// The column of a shown speed; `None` for speeds beyond the grid.
    #[must_use]
    pub fn column(&self, speed: f64, hour: Hour) -> Option<Column<'_>> {
        if !(SPEED_FROM..=SPEED_TO).contains(&speed) {
            return None;
        }
        let y = (speed - SPEED_FROM) / (SPEED_TO - SPEED_FROM) * (FINE_S - 1) as f64;
        let j = (y as usize).min(FINE_S - 2);
        Some(Column { field: self, lines: [self.line(j), self.line(j + 1)], v: y - j as f64, speed, hour })
    }

    /// Covariance of the shared errors' effect at reduced flow `q` and a shown speed.
    #[must_use]
    #[inline]
    pub fn shared(&self, q: f64, speed: f64) -> Spread<'_> {
        let x = (q / self.q_max * (COARSE_Q - 1) as f64).clamp(0.0, (COARSE_Q - 1) as f64);
        let y =
            ((speed - SPEED_FROM) / (SPEED_TO - SPEED_FROM) * (COARSE_S - 1) as f64).clamp(0.0, (COARSE_S - 1) as f64);
        let (i, j) = ((x as usize).min(COARSE_Q - 2), (y as usize).min(COARSE_S - 2));
        let (u, v) = (x - i as f64, y - j as f64);
        Spread {
            cells: [self.cell(i, j), self.cell(i + 1, j), self.cell(i, j + 1), self.cell(i + 1, j + 1)],
            weight: [(1.0 - u) * (1.0 - v), u * (1.0 - v), (1.0 - u) * v, u * v],
        }
    }

    /// Variance that the pair of temperature sensors adds to a heat balance's flow [(m3/h)2].
    #[must_use]
    pub fn heat_pair_variance(&self, flow: f64, around: Around) -> f64 {
        self.heat_pair_variance * (flow / around.delta_t).powi(2)
    }
}

impl Field {
    /// Variance that the pipe's resistance adds to a remote pressure beyond that of one pump's flow, where several share the pipe [kPa2].
    #[must_use]
    pub fn pipe_variance(&self, flow: f64, around: Around) -> f64 {
        self.pipe_variance * (self.pipe * flow * flow).powi(2) * (around.sharing.powi(4) - 1.0)
    }
}

/// Covariance of the shared errors' effect on the readings and on the head itself: straight between four cells, worked out when asked.
#[derive(Debug, Clone, Copy)]
pub struct Spread<'a> {
    cells: [&'a [f64; TRIANGLE]; 4],
    weight: [f64; 4],
}

impl Spread<'_> {
    /// Between quantity `a` and `b` (a witness, or [`HEAD_MADE`]).
    #[must_use]
    #[inline]
    pub fn of(&self, a: usize, b: usize) -> f64 {
        let k = place(a.min(b), a.max(b));
        let one = |c: usize| self.weight[c] * self.cells[c][k];
        (one(0) + one(1)) + (one(2) + one(3))
    }
}

/// The head across the pump itself, among the quantities with a shared error.
pub const HEAD_MADE: usize = witness::COUNT;

const fn place(a: usize, b: usize) -> usize {
    // Row `a` of an upper triangle starts after SHARED + (SHARED - 1) + ... entries.
    a * SHARED - a * (a + 1) / 2 + b
}

impl Column<'_> {
    /// A kind of reading and its slope by reduced flow.
    #[must_use]
    #[inline]
    pub fn reading(&self, which: usize, q: f64, around: Around) -> Sloped {
        let f = self.field;
        let flow = q * self.speed;
        match which {
            witness::HEAD => {
                let h = self.head_shown(q);
                Sloped { value: h.value * f.head_gain + f.head_zero, slope: h.slope * f.head_gain }
            }
            witness::POWER => self.along(
                q,
                |n| n.power,
                |n| self.denser() * n.power_by_density + self.hour.thicker * n.power_by_thick,
            ),
            witness::METER => Sloped { value: flow * f.meter_gain + f.meter_zero, slope: self.speed * f.meter_gain },
            witness::HEAT => {
                let gain = f.heat_gain + if around.delta_t > 0.0 { f.heat_pair / around.delta_t } else { 0.0 };
                Sloped { value: flow * gain, slope: self.speed * gain }
            }
            _ => {
                let h = self.head(q);
                let pipe = f.pipe * self.hour.density * around.sharing.powi(2);
                Sloped {
                    value: (h.value - pipe * flow * flow) * f.remote_gain + f.remote_zero,
                    slope: (h.slope - 2.0 * pipe * flow * self.speed) * f.remote_gain,
                }
            }
        }
    }

    fn denser(&self) -> f64 {
        self.hour.density - 1.0
    }

    /// Head across the pump [kPa].
    #[must_use]
    pub fn head(&self, q: f64) -> Sloped {
        self.squared(self.along(q, |n| n.head, |n| self.hour.thicker * n.head_by_thick))
    }

    /// Head where the sensor stands, without the sensor's own errors.
    fn head_shown(&self, q: f64) -> Sloped {
        self.squared(self.along(q, |n| n.head - n.between, |n| self.hour.thicker * n.head_by_thick))
    }

    /// Loss between flanges and headers [kPa].
    #[must_use]
    pub fn between(&self, q: f64) -> f64 {
        self.squared(self.along(q, |n| n.between, |_| 0.0)).value
    }

    fn squared(&self, over: Sloped) -> Sloped {
        let by = self.hour.density * self.speed * self.speed;
        Sloped { value: over.value * by, slope: over.slope * by }
    }

    /// Drive input [kW].
    #[must_use]
    pub fn input_power(&self, q: f64) -> f64 {
        self.reading(witness::POWER, q, Around::ALONE).value + self.along(q, |n| n.input_more, |_| 0.0).value
    }

    /// The shaft's speed over rated [-].
    #[must_use]
    pub fn shaft_speed(&self, q: f64) -> f64 {
        self.speed + self.along(q, |n| n.speed_more, |_| 0.0).value
    }

    /// Head at its declared sensor without its common errors: what a reading says of the head across the pump [kPa].
    #[must_use]
    pub fn head_from_reading(&self, reading: f64, q: f64) -> f64 {
        (reading - self.field.head_zero) / self.field.head_gain + self.between(q)
    }

    #[inline]
    fn along(&self, q: f64, base: impl Fn(&Node) -> f64, more: impl Fn(&Node) -> f64) -> Sloped {
        let to_grid = (FINE_Q - 1) as f64 / self.field.q_max;
        let x = (q * to_grid).clamp(0.0, (FINE_Q - 1) as f64);
        let i = (x as usize).min(FINE_Q - 2);
        let u = x - i as f64;
        let at = |i: usize| {
            let [a, b] = self.lines.map(|line| &line.nodes[i]);
            let (a, b) = (base(a) + more(a), base(b) + more(b));
            a + self.v * (b - a)
        };
        let (left, right) = (at(i), at(i + 1));
        Sloped { value: left + u * (right - left), slope: (right - left) * to_grid }
    }

    /// Whether this reading has one answer at most over the table: head that falls, power that rises, any flow.
    #[must_use]
    pub fn has_one_answer(&self, which: usize) -> bool {
        match which {
            witness::HEAD | witness::REMOTE => self.lines[0].head_falls && self.lines[1].head_falls,
            witness::POWER => self.lines[0].power_rises && self.lines[1].power_rises,
            _ => true,
        }
    }

    /// A reading at a node of the grid.
    #[inline]
    fn at_node(&self, which: usize, i: usize, around: Around) -> f64 {
        let f = self.field;
        let [a, b] = self.lines.map(|line| &line.nodes[i]);
        let between = |of: &dyn Fn(&Node) -> f64| of(a) + self.v * (of(b) - of(a));
        let by = self.hour.density * self.speed * self.speed;
        match which {
            witness::HEAD => {
                let h = between(&|n| n.head - n.between + self.hour.thicker * n.head_by_thick);
                h * by * f.head_gain + f.head_zero
            }
            witness::POWER => {
                between(&|n| n.power + self.denser() * n.power_by_density + self.hour.thicker * n.power_by_thick)
            }
            _ => self.reading(which, i as f64 * f.q_max / (FINE_Q - 1) as f64, around).value,
        }
    }

    /// The reduced flow at which a reading with one answer is met, held at the table's ends.
    #[must_use]
    pub fn answer(&self, which: usize, reading: f64, around: Around) -> f64 {
        let (mut low, mut high) = (0usize, FINE_Q - 1);
        let step = self.field.q_max / (FINE_Q - 1) as f64;
        let at = |i: usize| self.at_node(which, i, around);
        let (first, last) = (at(low), at(high));
        let rises = last > first;
        let below = |v: f64| (v < reading) == rises;
        if !below(first) {
            return 0.0;
        }
        if below(last) {
            return self.field.q_max;
        }
        while high - low > 1 {
            let middle = usize::midpoint(low, high);
            if below(at(middle)) { low = middle } else { high = middle }
        }
        let (a, b) = (at(low), at(high));
        step * (low as f64 + ((reading - a) / (b - a)).clamp(0.0, 1.0))
    }
}

fn speed_of(j: usize) -> f64 {
    SPEED_FROM + (SPEED_TO - SPEED_FROM) * j as f64 / (FINE_S - 1) as f64
}

fn node(model: &PumpModel, c: &[f64; COMMON], q: f64, speed: f64) -> Node {
    let power_of = |d: &super::model::Duty| model.reading(witness::POWER, d, Around::ALONE, c);
    let working = model.working(q, speed, Hour::DESIGN, c);
    let base = working.duty;
    let denser = model.denser(&working, 1.0 + DENSER, c);
    let thicker =
        if model.thickens() { model.duty(q, speed, Hour { density: 1.0, thicker: THICKER }, c) } else { base };
    let power = power_of(&base);
    let square = speed * speed;
    Node {
        head: base.head / square,
        between: base.between / square,
        power,
        power_by_density: (power_of(&denser) - power) / DENSER,
        head_by_thick: (thicker.head - base.head) / THICKER / square,
        power_by_thick: (power_of(&thicker) - power) / THICKER,
        input_more: base.shaft + base.loss - power,
        speed_more: base.speed - speed,
    }
}

/// `J cov J'` of the readings and the head at one flow and speed, and the model's own error.
fn spread(model: &PumpModel, learned: &Learned, q: f64, speed: f64) -> [f64; TRIANGLE] {
    let values = |at: &super::model::Duty, c: &[f64; COMMON]| -> [f64; SHARED] {
        std::array::from_fn(|w| if w == HEAD_MADE { at.head } else { model.reading(w, at, Around::ALONE, c) })
    };
    let working = model.working(q, speed, Hour::DESIGN, &learned.common);
    let base = values(&working.duty, &learned.common);
    let jac: Vec<(usize, [f64; SHARED])> = learned
        .active
        .iter()
        .map(|&k| {
            let mut moved = learned.common;
            moved[k] += 1e-3;
            let s = values(&model.moved(&working, k, &moved), &moved);
            (k, std::array::from_fn(|w| (s[w] - base[w]) / 1e-3))
        })
        .collect();
    let mut out = [0.0; TRIANGLE];
    for &(a, ja) in &jac {
        for &(b, jb) in &jac {
            let cov = learned.covariance[a][b];
            for x in 0..SHARED {
                for y in x..SHARED {
                    out[place(x, y)] += ja[x] * cov * jb[y];
                }
            }
        }
    }
    let own = [model.prior.model_head * base[witness::HEAD], model.prior.model_power * base[witness::POWER]];
    out[place(witness::HEAD, witness::HEAD)] += own[0].powi(2);
    out[place(witness::POWER, witness::POWER)] += own[1].powi(2);
    out[place(witness::REMOTE, witness::REMOTE)] += own[0].powi(2);
    out[place(HEAD_MADE, HEAD_MADE)] += own[0].powi(2);
    out
}

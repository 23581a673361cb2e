//! Pumps of one station: machines from tests/points, solved together against a loop at any speed.
//!
//! Comes in: a duty. Goes out: flows and heads for a conductance of the loop. The decision to question: all running pumps turn alike, and every
//! resistance goes as flow squared within a minute, so the meeting of pumps and loop is found once at rated speed and only scaled by the speed.

use crate::invented::machine::{Common, Duty, Fluid, HEADER, Machine};
use crate::invented::nuisance::{self as table, Family, ReadAt};
use crate::simulator::noise::Rng;

/// Points of a pump's curve.
const POINTS: usize = 96;

/// One pump as it stands in the plant room.
#[derive(Clone)]
pub struct Unit {
    pub name: String,
    pub machine: Machine,
    /// Head and efficiency left of a worn pump [-].
    pub left: f64,
    /// Flow at which its own sheet is most efficient, at rated speed [m3/h]: what the drawn shape calls best may lie beside it.
    pub best_flow: f64,
}

/// Flow of most head times flow over shaft power on a sheet, at rated speed [m3/h].
fn most_efficient(machine: &Machine) -> f64 {
    let sheet = &machine.sheet;
    let at = |k: u32| sheet.end_flow * f64::from(k) / 400.0;
    let merit = |k: u32| at(k) * sheet.head(at(k), 1.0) / sheet.shaft_power(at(k), 1.0);
    at((1..=400).max_by(|a, b| merit(*a).total_cmp(&merit(*b))).unwrap_or(400))
}

impl Unit {
    /// Head between the flanges at rated speed.
    fn flanges(&self, x: f64) -> f64 {
        let end = 1.35 * self.machine.sheet.end_flow;
        let c = &self.machine.truth;
        let head = if x <= end {
            self.machine.head(c, x, 1.0)
        } else {
            let slope = (self.machine.head(c, end, 1.0) - self.machine.head(c, 0.95 * end, 1.0)) / (0.05 * end);
            self.machine.head(c, end, 1.0) + slope.min(-1e-3) * (x - end)
        };
        self.left * head
    }

    /// Loss of check valve and strainer [kPa/(m3/h)2].
    pub fn loss(&self) -> f64 {
        (self.machine.truth[HEADER] / (self.machine.design_flow * self.machine.design_flow)).max(0.0)
    }

    pub fn shaft_kw(&self, flow: f64, speed: f64) -> f64 {
        // Head and efficiency are lost alike, so what the shaft takes stays.
        self.machine.shaft_power(&self.machine.truth, flow.max(0.0), speed).max(0.01 * self.machine.motor_kw * speed)
    }

    /// Power at the drive's input [kW].
    pub fn input_kw(&self, shaft_kw: f64, speed: f64) -> f64 {
        self.machine.power_at(&self.machine.truth, shaft_kw, speed, ReadAt::DriveInput)
    }

    /// Share of rated torque.
    pub fn torque(&self, shaft_kw: f64, speed: f64) -> f64 {
        shaft_kw / (speed.max(0.05) * self.machine.motor_kw)
    }
}

/// Where a set of running pumps meets a loop, at rated speed.
#[derive(Clone, Debug, Default)]
pub struct Met {
    /// Total flow, and header head.
    pub x: f64,
    pub y: f64,
    /// Each pump's flow (of all pumps of the station), and the mean head between the flanges of those running.
    pub each: [f64; 3],
    pub flanges: f64,
}

/// Flow, head and each pump's flow along a rising conductance.
#[derive(Clone)]
struct Path {
    k: Vec<f64>,
    met: Vec<Met>,
}

/// The pumps with their common curves for every set of running ones.
#[derive(Clone)]
pub struct Station {
    pub units: Vec<Unit>,
    /// By bit mask of running pumps.
    paths: Vec<Option<Path>>,
}

impl Station {
    pub fn new(units: Vec<Unit>) -> Self {
        let mut station = Self { units, paths: Vec::new() };
        station.renew();
        station
    }

    /// After a pump has changed.
    pub fn renew(&mut self) {
        let curves: Vec<Curve> = self.units.iter().map(Curve::of).collect();
        let masks = 1usize << self.units.len();
        self.paths = (0..masks).map(|m| (m > 0).then(|| path(&self.units, &curves, m))).collect();
    }

    /// At a conductance of the loop [m3/h / sqrt(kPa)].
    pub fn meet(&self, mask: usize, k: f64) -> Met {
        let Some(path) = self.paths.get(mask).and_then(Option::as_ref) else { return Met::default() };
        let last = path.k.len() - 1;
        let j = path.k.partition_point(|v| *v < k).clamp(1, last);
        let (a, b) = (&path.met[j - 1], &path.met[j]);
        let w = ((k - path.k[j - 1]) / (path.k[j] - path.k[j - 1]).max(1e-12)).clamp(0.0, 1.0);
        let between = |u: f64, v: f64| u + w * (v - u);
        Met {
            x: between(a.x, b.x),
            y: between(a.y, b.y),
            each: [0, 1, 2].map(|p| between(a.each[p], b.each[p])),
            flanges: between(a.flanges, b.flanges),
        }
    }

    /// Mask of the first so many live pumps in an order.
    pub fn mask(order: &[usize], count: usize) -> usize {
        order.iter().take(count).fold(0, |m, p| m | 1 << p)
    }

    /// Speed at which these pumps make a flow against a header head; infinite where they cannot.
    pub fn speed_for(&self, mask: usize, flow: f64, head: f64) -> f64 {
        let met = self.meet(mask, flow / head.max(1e-6).sqrt());
        if met.y > 0.0 { (head / met.y).sqrt() } else { f64::INFINITY }
    }

    /// Power at the drives' inputs for a flow and header head by these pumps [kW].
    pub fn kw_for(&self, mask: usize, flow: f64, head: f64) -> (f64, f64) {
        let met = self.meet(mask, flow / head.max(1e-6).sqrt());
        let speed = if met.y > 0.0 { (head / met.y).sqrt() } else { return (f64::INFINITY, f64::INFINITY) };
        let of = |p: usize| {
            let shaft = self.units[p].shaft_kw(met.each[p] * speed, speed);
            self.units[p].input_kw(shaft, speed)
        };
        (speed, (0..self.units.len()).filter(|p| mask >> p & 1 == 1).map(of).sum())
    }
}

/// One pump's head to the header, at rated speed.
struct Curve {
    x: Vec<f64>,
    flanges: Vec<f64>,
    header: Vec<f64>,
    peak: usize,
}

impl Curve {
    fn of(unit: &Unit) -> Self {
        let end = 1.7 * unit.machine.sheet.end_flow;
        // Denser near no flow, where heads of parallel pumps differ.
        let x: Vec<f64> = (0..POINTS).map(|k| end * (k as f64 / (POINTS - 1) as f64).powf(1.5)).collect();
        let flanges: Vec<f64> = x.iter().map(|q| unit.flanges(*q)).collect();
        let loss = unit.loss();
        let header: Vec<f64> = x.iter().zip(&flanges).map(|(q, h)| h - loss * q * q).collect();
        let peak = (1..POINTS).take_while(|k| header[*k] > header[k - 1]).last().unwrap_or(0);
        Self { x, flanges, header, peak }
    }

    /// Flow at a header head on the falling branch; nothing where the check valve stays shut.
    fn flow_at(&self, y: f64) -> f64 {
        if y >= self.header[self.peak] {
            return 0.0;
        }
        let falling = &self.header[self.peak..];
        let j = falling.partition_point(|h| *h > y).clamp(1, falling.len() - 1) + self.peak;
        let w = ((self.header[j - 1] - y) / (self.header[j - 1] - self.header[j]).max(1e-12)).clamp(0.0, 1.0);
        self.x[j - 1] + w * (self.x[j] - self.x[j - 1])
    }
}

fn path(units: &[Unit], curves: &[Curve], mask: usize) -> Path {
    let on: Vec<usize> = (0..units.len()).filter(|p| mask >> p & 1 == 1).collect();
    let mut met = Vec::new();
    if let [p] = on[..] {
        let c = &curves[p];
        for k in 0..POINTS {
            let mut each = [0.0; 3];
            each[p] = c.x[k];
            met.push(Met { x: c.x[k], y: c.header[k], each, flanges: c.flanges[k] });
        }
    } else {
        let top = on.iter().map(|p| curves[*p].header[curves[*p].peak]).fold(0.0, f64::max);
        for k in 0..2 * POINTS {
            let y = top * (1.0 - (k as f64 / (2 * POINTS) as f64).powf(1.5));
            let mut each = [0.0; 3];
            on.iter().for_each(|p| each[*p] = curves[*p].flow_at(y));
            let head = |p: &usize| y + units[*p].loss() * each[*p] * each[*p];
            let flanges = on.iter().map(head).sum::<f64>() / on.len() as f64;
            met.push(Met { x: each.iter().sum(), y, each, flanges });
        }
    }
    met.retain(|m| m.y > 0.0);
    let k = met.iter().map(|m| m.x / m.y.sqrt()).collect();
    Path { k, met }
}

/// What a station is bought for.
pub struct Wanted<'a> {
    pub fluid: Fluid,
    /// One pump's share of the design flow [m3/h], and head between the flanges at full speed [kPa].
    pub flow: f64,
    pub head: f64,
    pub count: usize,
    /// Heads and flows that it will work at: flow of one pump, head between the flanges.
    pub work: &'a [(f64, f64)],
    /// Median flow over best-efficiency flow at the speed of the hour [-].
    pub place: f64,
    /// The same at design, at most.
    pub design_place: f64,
    pub mains_hz: f64,
    pub slip_hidden: bool,
}

/// Draws the pumps; of one make, each with its own departures.
pub fn draw(rng: &mut Rng, w: &Wanted) -> Vec<Unit> {
    let duty = Duty { flow: w.flow, head: w.head, design_head: w.head, speed: 1.0 };
    let permanent = rng.chance(0.15);
    let common = Common {
        permanent,
        slip_hidden: w.slip_hidden && !permanent,
        mains_hz: w.mains_hz,
        read_at: ReadAt::DriveInput,
    };
    let mut first = Machine::draw(rng, &duty, &w.fluid, &common);
    while w.count > 1 && first.sheet.family == Family::Drooping {
        first = Machine::draw(rng, &duty, &w.fluid, &common);
    }
    resize(&mut first, w);
    (0..w.count)
        .map(|p| {
            let machine = if p == 0 { first.clone() } else { first.sibling(rng, w.head) };
            let best_flow = most_efficient(&machine);
            Unit { name: format!("P-{}", p + 1), machine, left: 1.0, best_flow }
        })
        .collect()
}

/// Stretches the curve over flow until the work lies where it should, and over head until the duty is met at full speed.
fn resize(machine: &mut Machine, w: &Wanted) {
    let table_end = machine.sheet.end_flow / machine.sheet.best_flow;
    let at = |machine: &mut Machine, best: f64| {
        machine.sheet.best_flow = best;
        machine.sheet.end_flow = best * table_end.max(1.05 * w.flow / best);
        let reached = machine.sheet.shape.head(w.flow / best).max(0.15);
        machine.sheet.best_head = w.head / reached;
    };
    let (mut low, mut high) = (w.flow / w.design_place, 6.0 * w.flow);
    for _ in 0..24 {
        let best = (low * high).sqrt();
        at(machine, best);
        let beside = machine.sheet.best_flow / most_efficient(machine);
        if median_place(machine, w.work) * beside > w.place { low = best } else { high = best }
    }
    let most = (0..=40).map(|k| machine.sheet.shaft_power(machine.sheet.end_flow * f64::from(k) / 40.0, 1.0));
    let wanted = 1.08 * most.fold(0.0, f64::max);
    machine.motor_kw = table::MOTOR_SIZES_KW.into_iter().find(|kw| *kw >= wanted).unwrap_or(wanted);
    let class = if machine.permanent { &table::IE4 } else { &table::IE3 };
    let x = libm::log10(machine.motor_kw);
    machine.motor_efficiency = (((class[0] * x + class[1]) * x + class[2]) * x + class[3]) / 100.0;
}

/// Median of flow over best flow at the speed that the work asks.
fn median_place(machine: &Machine, work: &[(f64, f64)]) -> f64 {
    let sheet = &machine.sheet;
    let mut places: Vec<f64> = work
        .iter()
        .map(|(q, h)| {
            // h / best_head = s^2 shape(x), q / best_flow = s x: the ratio does not know s.
            let wanted = h / sheet.best_head * (sheet.best_flow / q).powi(2);
            let (mut a, mut b) = (0.02, 2.0);
            for _ in 0..30 {
                let x = 0.5 * (a + b);
                if sheet.shape.head(x).max(0.0) / (x * x) > wanted { a = x } else { b = x }
            }
            a
        })
        .collect();
    places.sort_by(f64::total_cmp);
    places.get(places.len() / 2).copied().unwrap_or(1.0)
}

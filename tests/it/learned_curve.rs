//! Curves learned from a metered stretch, against pumps and drives whose laws the analyser does not know.
//!
//! The pumps are the test simulator's: cubics of flow with a departure from them, friction that does not fall with speed, losses and
//! slip of their own. The tabulated pump of the second part is read with scipy's interpolation.

use crate::simulator::noise::{Rng, Wander};
use crate::simulator::physics::{Drive, Model, Pump};
use offcurve::operating::learned_curve::{LearnedCurve, Metered, MotorFacts, NotLearned, learn_curve};
use offcurve::plant::{self, PowerIs, UnitSystem};
use std::path::Path;

/// Rows a day at 15 min.
const DAY: usize = 96;

/// An invented plant room: the pump, its control curve and its sensors.
struct Room {
    pump: Pump,
    design_flow: f64,
    design_head: f64,
    meter_gain: f64,
    head_gain: f64,
    power_gain: f64,
    /// The control curve's heads at no flow and at design flow, over the design head.
    curve: [f64; 2],
    rng: Rng,
}

impl Room {
    fn draw(seed: u64, compensated: bool) -> Self {
        let mut rng = Rng::new(seed, 1);
        let (design_flow, design_head) = (rng.between(25.0, 140.0), rng.between(110.0, 230.0));
        let place = rng.between(0.80, 1.05);
        let model = Model::draw(&mut rng, design_flow, design_head, place);
        let motor_kw = 1.15 * model.shaft_power(1.1 * design_flow);
        let drive = Drive::draw(&mut rng, motor_kw, 0.90, 1500.0 / 1450.0, compensated);
        let pump = Pump::draw(&mut rng, &model, 0.0, design_flow, drive, 1.0);
        Self {
            pump,
            design_flow,
            design_head,
            meter_gain: 1.0 + 0.01 * rng.normal(),
            head_gain: 1.0 + 0.005 * rng.normal(),
            power_gain: 1.0 + 0.01 * rng.normal(),
            curve: [0.40, 1.0],
            rng,
        }
    }

    /// Shaft speed at which the pump makes a head at a flow.
    fn speed_for(&self, flow: f64, head: f64) -> f64 {
        let (mut low, mut high) = (0.1, 1.3);
        for _ in 0..50 {
            let s = 0.5 * (low + high);
            if self.pump.head(flow, s, 1.0).0 < head { low = s } else { high = s }
        }
        low
    }

    /// True flow and what is trended, at a share of design flow.
    fn row(&mut self, share: f64, time_index: usize) -> (f64, Metered) {
        let flow = share * self.design_flow;
        let asked = self.design_head * (self.curve[0] + (self.curve[1] - self.curve[0]) * share * share);
        let speed = self.speed_for(flow, asked).max(0.35);
        let head = self.pump.head(flow, speed, 1.0).0;
        let shaft = self.pump.shaft_power(flow, speed, 1.0);
        let drive = &self.pump.drive;
        let power = drive.input_power(shaft, speed);
        // The speed that is trended: the reference, which is the shaft's own only where the drive makes up for slip.
        let (mut low, mut high) = (0.5 * speed, 1.5 * speed);
        for _ in 0..50 {
            let reference = 0.5 * (low + high);
            if drive.shaft_speed(reference, shaft / speed / drive.motor_kw) < speed {
                low = reference;
            } else {
                high = reference;
            }
        }
        let rng = &mut self.rng;
        let mut off = || if rng.chance(0.003) { rng.between(0.5, 1.6) } else { 1.0 };
        let (a, b, c) = (off(), off(), off());
        let noisy = |value: f64, sd: f64, rng: &mut Rng| value * (1.0 + sd * rng.jitter());
        let metered = Metered {
            speed: low,
            flow_m3h: a * noisy(flow * self.meter_gain, 0.01, rng),
            head_kpa: b * noisy(head * self.head_gain, 0.005, rng),
            power_kw: c * noisy(power * self.power_gain, 0.008, rng),
            density: 1.0,
            time_index,
        };
        (flow, metered)
    }

    /// Days of load: nights low, afternoons high, each day of its own height.
    fn days(&mut self, from: usize, days: usize) -> Vec<(f64, Metered)> {
        let mut weather = Wander::new(&mut self.rng, 0.10, 2.0);
        let mut valves = Wander::new(&mut self.rng, 0.05, 8.0);
        let mut out = Vec::new();
        for day in from..from + days {
            let height = weather.next(&mut self.rng);
            for k in 0..DAY {
                let sun = libm::sin(core::f64::consts::PI * k as f64 / DAY as f64).powi(2);
                let share = (0.30 + (0.45 + height) * sun + valves.next(&mut self.rng)).clamp(0.15, 1.0);
                out.push(self.row(share, day * DAY + k));
            }
        }
        out
    }
}

fn facts(room: &Room) -> MotorFacts {
    MotorFacts {
        rated_kw: Some(room.pump.drive.motor_kw),
        motor_efficiency: Some(0.90),
        drive_efficiency: Some(0.97),
        ..Default::default()
    }
}

#[test]
fn explore() {
    for seed in 0..20 {
        let mut room = Room::draw(seed, seed % 2 == 0);
        let mut stretch: Vec<Metered> = room.days(0, 14).into_iter().map(|r| r.1).collect();
        if seed % 4 > 1 {
            stretch = room.days(0, 8).into_iter().map(|r| r.1).collect();
            room.curve = [0.30, 0.95];
            stretch.extend(room.days(8, 6).into_iter().map(|r| r.1));
        }
        let motor = facts(&room);
        let c = match learn_curve(&stretch, DAY, &motor) {
            Ok(c) => c,
            Err(e) => {
                println!("{seed}: {e}");
                continue;
            }
        };
        let (mut sum, mut n) = (0.0, 0.0);
        for (q, h) in c.flow_m3h.iter().zip(&c.head_kpa) {
            let truth = room.pump.head(q / room.meter_gain, 1.0, 1.0).0 * room.head_gain;
            sum += (h / truth - 1.0).powi(2);
            n += 1.0;
        }
        room.curve = [0.25, 0.88];
        let later = room.days(14, 28);
        let err = |f: &dyn Fn(&Metered) -> Metered, gain: f64| {
            let e: Vec<f64> = later.iter().map(|(q, m)| c.flow(&f(m)) - q * gain).filter(|e| e.is_finite()).collect();
            (
                (e.iter().map(|e| e * e).sum::<f64>() / e.len() as f64).sqrt() / room.design_flow,
                e.len() as f64 / later.len() as f64,
            )
        };
        let both = err(&|m| *m, 1.0);
        let bothg = err(&|m| *m, room.meter_gain);
        let head = err(&|m| Metered { power_kw: f64::NAN, ..*m }, 1.0);
        let power = err(&|m| Metered { head_kpa: f64::NAN, ..*m }, 1.0);
        let pe = later
            .iter()
            .map(|(q, m)| (m.power_kw / c.shown_kw(q * room.meter_gain, m.speed, 1.0) - 1.0).powi(2))
            .collect::<Vec<_>>();
        let mut pe = pe;
        pe.sort_by(f64::total_cmp);
        let pe: f64 = (pe[..pe.len() * 99 / 100].iter().sum::<f64>() / pe.len() as f64).sqrt();
        println!(
            "{seed}: rows {} out {} span {:.2} speed {:.2}-{:.2} head true {:.2}% said {:.2}% noise {:.2}% | power true {:.2}% said {:.2}% noise {:.2} {:?} c {:.3} of {:.2} | flow said {:.2}% both {:.2}% ({:.3}) sansgain {:.2} head {:.2} power {:.2} meter {:.3}",
            c.rows,
            c.outliers,
            c.flow_m3h[0] / c.flow_m3h[6],
            c.speed_from,
            c.speed_to,
            100.0 * (sum / n as f64).sqrt(),
            100.0 * c.head_error,
            100.0 * c.head_noise,
            100.0 * pe,
            100.0 * c.power_error,
            100.0 * c.power_noise,
            c.power_is,
            c.constant_kw,
            c.power_kw[6],
            100.0 * c.flow_error,
            100.0 * both.0,
            both.1,
            100.0 * bothg.0,
            100.0 * head.0,
            100.0 * power.0,
            room.meter_gain
        );
    }
}

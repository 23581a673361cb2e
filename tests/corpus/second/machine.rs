//! A pump, its motor and its drive, by dimensional coefficients.
//!
//! Head is a quartic or a rational function of flow. Power is internal hydraulic power (with the water that leaks back through the
//! wear ring) over an efficiency hill, plus disc friction; the hill sinks as the speed falls, so affinity does not hold exactly for power.

/// Head over best-efficiency head against flow over best-efficiency flow, and its slope.
#[derive(Debug, Clone, Copy)]
pub enum Shape {
    /// `top - (top - 1)(mix u^2 + (1 - mix) u^4)`
    Quartic { top: f64, mix: f64 },
    /// `top (1 - (u/end)^2) / (1 + k u)`
    Rational { top: f64, end: f64 },
}

impl Shape {
    pub fn at(self, u: f64) -> (f64, f64) {
        match self {
            Self::Quartic { top, mix } => {
                let (a, b, v) = ((top - 1.0) * mix, (top - 1.0) * (1.0 - mix), u * u);
                (top - a * v - b * v * v, -2.0 * a * u - 4.0 * b * v * u)
            }
            Self::Rational { top, end } => {
                let k = top * (1.0 - 1.0 / (end * end)) - 1.0;
                let (n, d) = (top * (1.0 - u * u / (end * end)), 1.0 + k * u);
                (n / d, (-2.0 * top * u / (end * end)) / d - n * k / (d * d))
            }
        }
    }
}

#[derive(Debug, Clone)]
pub struct Pump {
    pub name: String,
    pub shape: Shape,
    /// Best-efficiency flow [m3/h] and head [kPa] at rated speed.
    pub q_b: f64,
    pub h_b: f64,
    /// Hydraulic efficiency at the top of the hill [-], water leaking back over `q_b` [-], steepness of the hill left and right of it.
    pub eta: f64,
    pub leak: f64,
    pub left: f64,
    pub right: f64,
    /// Disc friction over internal power at the best point [-]; how much the hill sinks as the speed falls [-].
    pub disc: f64,
    pub sink: f64,
    /// This very pump against its type [-]; wear is multiplied in while it runs.
    pub head_f: f64,
    pub power_f: f64,
    /// Check valve and fittings between the pump and the common header [kPa/(m3/h)2].
    pub k_local: f64,
    pub motor: Motor,
}

#[derive(Debug, Clone)]
pub struct Motor {
    pub permanent: bool,
    pub rated_kw: f64,
    /// As on the plates, and as it is.
    pub eta: f64,
    pub drive_eta: f64,
    pub true_eta: f64,
    pub true_drive_eta: f64,
    /// Part of the full-load loss that does not depend on torque [-].
    pub iron: f64,
    /// The drive makes up for slip.
    pub makes_up: bool,
    /// Full-load slip that is left [-].
    pub slip: f64,
}

impl Motor {
    /// Drive input [kW] at a shaft power [kW], a frequency and a speed [of rated].
    pub fn input(&self, shaft: f64, phi: f64, s: f64) -> f64 {
        let load = shaft / self.rated_kw;
        let torque = load / s.max(0.05);
        let full = self.rated_kw * (1.0 / self.true_eta - 1.0);
        let motor = full * (self.iron * phi * libm::sqrt(phi) + (1.0 - self.iron) * torque * torque);
        let drive =
            self.rated_kw / self.true_eta * (1.0 / self.true_drive_eta - 1.0) * (0.35 + 0.15 * phi + 0.5 * torque);
        shaft + motor + drive
    }
    /// Shaft speed [of rated] at a frequency [of rated]: slip goes with torque.
    pub fn speed(&self, phi: f64, torque: f64) -> f64 {
        phi * (1.0 + self.slip) - self.slip * torque.clamp(0.0, 1.3)
    }
}

impl Pump {
    /// Head [kPa] and its slope at a flow [m3/h] and speed [of rated].
    pub fn head(&self, q: f64, s: f64) -> (f64, f64) {
        let (h, dh) = self.shape.at(q / (s * self.q_b));
        let f = self.head_f * self.h_b;
        (f * s * s * h, f * s * dh / self.q_b)
    }
    /// Shaft power [kW] by the type's table.
    pub fn type_shaft(&self, q: f64, s: f64) -> f64 {
        let (h, _) = self.shape.at(q / (s * self.q_b));
        let head = (self.h_b * s * s * h).max(0.0);
        let u = (q / (s * self.q_b) + self.leak) / (1.0 + self.leak);
        let hill = if u < 1.0 {
            1.0 - libm::pow(1.0 - u, self.left)
        } else {
            (1.0 - self.right * (u - 1.0) * (u - 1.0)).max(0.2)
        };
        let eta = self.eta * hill * (1.0 - self.sink * (1.0 / s - 1.0)).max(0.5);
        let best = self.q_b * self.h_b / 3600.0 / self.eta;
        (q + self.leak * self.q_b * s) * head / 3600.0 / eta + self.disc * best * libm::pow(s, 2.6)
    }
    /// Shaft power [kW] of this very pump.
    pub fn shaft(&self, q: f64, s: f64) -> f64 {
        self.power_f * self.type_shaft(q, s)
    }
    /// Flow [m3/h] at a head between the headers [kPa]: none where the check valve is shut.
    pub fn flow_at(&self, header: f64, s: f64, guess: f64) -> f64 {
        if s < 0.02 || self.head(0.0, s).0 <= header {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, 3.0 * self.q_b * s);
        let mut q = if guess > 0.0 && guess < high { guess } else { 0.5 * self.q_b * s };
        for _ in 0..30 {
            let (h, dh) = self.head(q, s);
            let f = h - self.k_local * q * q - header;
            if f > 0.0 {
                low = q;
            } else {
                high = q;
            }
            let step = f / (dh - 2.0 * self.k_local * q).min(-1e-9);
            let next = q - step;
            let next = if next > low && next < high { next } else { 0.5 * (low + high) };
            if (next - q).abs() < 1e-5 * self.q_b {
                return next;
            }
            q = next;
        }
        q
    }
    /// Speed [of rated] at which it gives a flow at a header head; 9 where it cannot.
    pub fn speed_for(&self, q: f64, header: f64) -> f64 {
        let (mut low, mut high) = (0.02, 1.6);
        for _ in 0..26 {
            let s = 0.5 * (low + high);
            if self.head(q, s).0 - self.k_local * q * q < header {
                low = s;
            } else {
                high = s;
            }
        }
        if high > 1.59 { 9.0 } else { high }
    }
}

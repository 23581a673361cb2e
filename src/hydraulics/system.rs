//! What the loop asks of a pump, and where pump and loop meet.
//!
//! Comes in: flow [m3/h], head [kPa], speed as a fraction of rated \[-\]. Goes out: head, speed or the meeting point. The
//! decision a reader would question: one- and three-point pump curves follow the rules of EPANET, since a schedule often
//! gives no more than the design point. They are shapes, not tests of the pump.

/// Head of a loop: static part and one that grows with the square of flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SystemCurve {
    /// Head at no flow [kPa]; 0 in a closed loop without a held pressure.
    pub static_kpa: f64,
    /// Resistance [kPa/(m3/h)^2].
    pub resistance: f64,
}

impl SystemCurve {
    /// Through one point of flow [m3/h] and head [kPa], from `static_kpa` [kPa]. `None` where the flow is not above zero.
    #[must_use]
    pub fn through(static_kpa: f64, flow_m3h: f64, head_kpa: f64) -> Option<Self> {
        let resistance = (head_kpa - static_kpa) / flow_m3h.powi(2);
        (flow_m3h > 0.0 && resistance.is_finite()).then_some(Self { static_kpa, resistance })
    }

    /// Head [kPa] at a flow [m3/h]: H = static + k Q |Q|. Source: turbulent loss, H2/H1 = (Q2/Q1)^2 (common practice).
    #[must_use]
    pub fn head(&self, flow_m3h: f64) -> f64 {
        self.static_kpa + self.resistance * flow_m3h * flow_m3h.abs()
    }
}

/// The head a control asks for, by flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ControlCurve {
    /// The same head [kPa] at every flow.
    Constant { head_kpa: f64 },
    /// Straight from a head at no flow [kPa] to the design point [m3/h, kPa].
    Proportional { zero_flow_kpa: f64, design_m3h: f64, design_kpa: f64 },
    /// With the square of flow from a head at no flow [kPa] to the design point [m3/h, kPa].
    Quadratic { zero_flow_kpa: f64, design_m3h: f64, design_kpa: f64 },
}

impl ControlCurve {
    /// Head asked for [kPa] at a flow [m3/h]. Above design flow the line goes on, as a controller does.
    ///
    /// ```
    /// use offcurve::hydraulics::system::ControlCurve;
    /// let curve = ControlCurve::Quadratic { zero_flow_kpa: 6.0, design_m3h: 100.0, design_kpa: 20.0 };
    /// // By arithmetic: 6 + 14 / 4 = 9.5 at half flow.
    /// assert_eq!(curve.head(50.0), 9.5);
    /// ```
    #[must_use]
    pub fn head(&self, flow_m3h: f64) -> f64 {
        match *self {
            Self::Constant { head_kpa } => head_kpa,
            Self::Proportional { zero_flow_kpa, design_m3h, design_kpa } => {
                zero_flow_kpa + (design_kpa - zero_flow_kpa) * flow_m3h / design_m3h
            }
            Self::Quadratic { zero_flow_kpa, design_m3h, design_kpa } => {
                zero_flow_kpa + (design_kpa - zero_flow_kpa) * (flow_m3h / design_m3h).powi(2)
            }
        }
    }
}

/// A pump curve of the form H = A - B Q^C at full speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerLaw {
    /// Shut-off head [kPa].
    pub a: f64,
    /// Fall [kPa/(m3/h)^c].
    pub b: f64,
    /// Exponent \[-\].
    pub c: f64,
}

impl PowerLaw {
    /// From the design point alone: shut-off at 4/3 of design head, no head at twice design flow.
    /// Source: EPANET 2.2 User Manual, section 3.1 "Pump Curves", single-point curve. `None` where a number is not above zero.
    ///
    /// ```
    /// use offcurve::hydraulics::system::PowerLaw;
    /// let pump = PowerLaw::one_point(50.0, 20.0).unwrap();
    /// assert!((pump.head(0.0, 1.0) - 80.0 / 3.0).abs() < 1e-12 && (pump.head(50.0, 1.0) - 20.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn one_point(design_m3h: f64, design_kpa: f64) -> Option<Self> {
        let fine = design_m3h > 0.0 && design_kpa > 0.0 && design_m3h.is_finite() && design_kpa.is_finite();
        fine.then(|| Self { a: design_kpa * 4.0 / 3.0, b: design_kpa / 3.0 / design_m3h.powi(2), c: 2.0 })
    }

    /// Through shut-off head [kPa] and two more points (flow [m3/h], head [kPa]).
    /// C = ln((h0-h2)/(h0-h1)) / ln(q2/q1), B = (h0-h1) / q1^C. Source: EPANET 2.2 User Manual, three-point curve.
    /// `None` where heads do not fall or flows do not rise, or C lies outside EPANET's 0 to 20.
    ///
    /// ```
    /// use offcurve::hydraulics::system::PowerLaw;
    /// let pump = PowerLaw::three_point(30.0, (0.04, 26.0), (0.08, 10.0)).unwrap();
    /// // 16 and 4 below shut-off at flows of 2 to 1... ln(20/4)/ln 2 = 2.321928.
    /// assert!((pump.c - 2.321928095).abs() < 1e-9 && (pump.b / 7046.544070 - 1.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn three_point(shut_off_kpa: f64, low: (f64, f64), high: (f64, f64)) -> Option<Self> {
        let c = ((shut_off_kpa - high.1) / (shut_off_kpa - low.1)).ln() / (high.0 / low.0).ln();
        let b = (shut_off_kpa - low.1) / low.0.powf(c);
        let falls = shut_off_kpa > low.1 && low.1 > high.1 && 0.0 < low.0 && low.0 < high.0;
        (falls && c > 0.0 && c <= 20.0).then_some(Self { a: shut_off_kpa, b, c })
    }

    /// Head [kPa] at flow [m3/h] and speed \[-\] by affinity: s^2 A - B s^(2-C) Q^C. Negative past runout, as the form says;
    /// at no speed or negative flow NaN.
    #[must_use]
    pub fn head(&self, flow_m3h: f64, speed: f64) -> f64 {
        speed * speed * (self.a - self.b * (flow_m3h / speed).powf(self.c))
    }

    /// Speed \[-\] for flow [m3/h] and head [kPa]; exact for C = 2: s = sqrt((H + B Q^2) / A), else found by halving.
    /// `None` where no speed up to 4 does it.
    #[must_use]
    pub fn speed_for(&self, flow_m3h: f64, head_kpa: f64) -> Option<f64> {
        if self.c == 2.0 {
            let square = (head_kpa + self.b * flow_m3h.powi(2)) / self.a;
            return (square >= 0.0).then(|| square.sqrt());
        }
        crossing(1e-6, 4.0, |s| head_kpa - self.head(flow_m3h, s))
    }
}

/// Flow [m3/h] at which `count` like pumps in parallel meet a loop: each gives the n-th part of the flow at the same head.
///
/// `pump` gives head [kPa] at one pump's flow [m3/h]; sought between no flow and `most_m3h` of one pump. `None` where the curves
/// do not cross there. The curve must cross the loop's once (a drooping one may cross twice: the higher flow is then not
/// sure to be found). Source: parallel pumps share head and add flows.
///
/// ```
/// use offcurve::hydraulics::system::{meet, PowerLaw, SystemCurve};
/// let pump = PowerLaw::one_point(180.0, 20.0).unwrap();                       // 50 L/s, heads here in metres
/// let system = SystemCurve { static_kpa: 5.0, resistance: 2000.0 / 3600f64.powi(2) };
/// // By hand: 26.667 - 2666.7 Q^2 = 5 + 2000 Q^2 at Q = 0.068139 m3/s.
/// let flow = meet(1, 360.0, |q| pump.head(q, 1.0), &system).unwrap();
/// assert!((flow / 3600.0 - 0.068139).abs() < 1e-6);
/// ```
#[must_use]
pub fn meet(count: u32, most_m3h: f64, pump: impl Fn(f64) -> f64, system: &SystemCurve) -> Option<f64> {
    let n = f64::from(count);
    crossing(0.0, most_m3h, |q| pump(q) - system.head(n * q)).map(|q| n * q)
}

/// Lowest speed \[-\] that lifts a held head [kPa] at no flow: s = sqrt(H / H0), H0 the shut-off head [kPa] at full speed. Below it
/// a pump turns against a closed check valve. `None` where the shut-off head is not above zero.
/// Source: affinity; check: 6 m on 26.67 m gives 0.474.
#[must_use]
pub fn least_delivering_speed(held_kpa: f64, shut_off_kpa: f64) -> Option<f64> {
    (shut_off_kpa > 0.0).then(|| (held_kpa.max(0.0) / shut_off_kpa).sqrt())
}

/// Where `f` falls through zero between `low` and `high`.
fn crossing(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
    if !(f(low) >= 0.0 && f(high) <= 0.0) {
        return None;
    }
    // 80 halvings exhaust an f64.
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if f(middle) >= 0.0 { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}

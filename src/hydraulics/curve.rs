//! A pump's tested curves at any speed, forwards and backwards.
//!
//! Comes in: tables of head and shaft power at one or several tested speeds, as slices: flow [m3/h], head [kPa], power [kW],
//! speed as a fraction of rated [-]. Goes out: head, shaft power and efficiency at a flow and speed with their slopes, and
//! all flows, or the speed, at which a head or a power is met. Outside the tested flows there is no answer.
//!
//! Tables are reduced by affinity to (Q/s, H/s^2, P/s^3), interpolated in flow by [`Pchip`] and between tested speeds
//! linearly. Beyond the tested speeds the nearest one is scaled by affinity, with efficiency after Sarbu and Borza.
//! The decision a reader would question: that correction needs an efficiency, which is nought at no flow, where
//! the formula would ask for endless power; so below half of the best efficiency its effect is held.
//! Start at [`PumpCurve::new`].

use super::pchip::{KnotError, Pchip};

/// Exponent of the efficiency correction \[-\]. Source: Sarbu and Borza, *Energetic optimization of water pumping in
/// distribution systems*, Period. Polytech. Mech. Eng. 42 (1998), as coded in EPANET 2.2.
pub const EFFICIENCY_EXPONENT: f64 = 0.1;
/// Share of the best efficiency under which the efficiency correction is held \[-\] (see the module's header).
const CORRECTION_FLOOR: f64 = 0.5;
/// Highest speed that [`PumpCurve::speed_for`] tries, over the highest tested one \[-\]: far above any drive's setting.
const SPEED_TOP: f64 = 2.0;
/// Pieces into which each stretch between knots is cut when roots are sought; turning points are found apart.
const PIECES: usize = 6;

/// One tested speed. Head and power may each bring their own flows.
#[derive(Debug, Clone, Copy)]
pub struct Tested<'a> {
    /// Speed over rated speed \[-\].
    pub speed: f64,
    /// Flows of the head points [m3/h], ascending.
    pub flow_m3h: &'a [f64],
    /// Head [kPa].
    pub head_kpa: &'a [f64],
    /// Flows of the power points [m3/h], ascending; empty where no power was tested.
    pub power_flow_m3h: &'a [f64],
    /// Shaft power [kW].
    pub power_kw: &'a [f64],
}

/// Why tables make no pump curve.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CurveError {
    /// No table at all.
    #[error("no tested speed")]
    Empty,
    /// A speed that is not a positive number, or stands twice.
    #[error("tested speed {0} is not positive, or stands twice")]
    Speed(f64),
    /// The head table.
    #[error("head at speed {speed}: {why}")]
    Head { speed: f64, why: KnotError },
    /// The power table.
    #[error("power at speed {speed}: {why}")]
    Power { speed: f64, why: KnotError },
    /// Power at some tested speeds only.
    #[error("power is given at some tested speeds and not at others")]
    SomePower,
}

/// A value and how it changes with flow and with speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slopes {
    /// Head [kPa] or shaft power [kW].
    pub value: f64,
    /// Per flow [per m3/h], at the same speed.
    pub by_flow: f64,
    /// Per speed [per 1 of rated], at the same flow.
    pub by_speed: f64,
}

/// One tested speed, reduced.
#[derive(Debug, Clone)]
struct Reduced {
    speed: f64,
    head: Pchip,
    power: Option<Pchip>,
}

/// A pump's curves.
#[derive(Debug, Clone)]
pub struct PumpCurve {
    /// By speed, ascending.
    tested: Vec<Reduced>,
    /// Best efficiency at the highest tested speed and its reduced flow.
    best: Option<(f64, f64)>,
}

/// A value at reduced flow and its slopes in the reduced plane.
#[derive(Debug, Clone, Copy)]
struct Plane {
    value: f64,
    by_q: f64,
    by_speed: f64,
}

impl PumpCurve {
    /// From tested tables in any order of speed.
    ///
    /// ```
    /// use offcurve::hydraulics::curve::{PumpCurve, Tested};
    /// let flow = [0.0, 25.0, 50.0, 75.0, 100.0];
    /// let pump = PumpCurve::new(&[Tested {
    ///     speed: 1.0,
    ///     flow_m3h: &flow, head_kpa: &[30.0, 29.5, 27.0, 21.5, 12.0],
    ///     power_flow_m3h: &flow, power_kw: &[1.9, 2.9, 3.7, 4.2, 4.3],
    /// }]).unwrap();
    /// // By affinity: flow 40 at speed 0.8 is like flow 50 at full speed, 27 kPa * 0.64.
    /// assert!((pump.head(40.0, 0.8).unwrap() - 17.28).abs() < 1e-12);
    /// assert_eq!(pump.head(80.1, 0.8), None);
    /// ```
    pub fn new(tables: &[Tested]) -> Result<Self, CurveError> {
        let mut tested = tables.iter().map(reduce).collect::<Result<Vec<_>, _>>()?;
        tested.sort_by(|a, b| a.speed.total_cmp(&b.speed));
        if tested.is_empty() {
            return Err(CurveError::Empty);
        }
        if let Some(pair) = tested.windows(2).find(|pair| pair[0].speed == pair[1].speed) {
            return Err(CurveError::Speed(pair[0].speed));
        }
        if tested.iter().any(|t| t.power.is_some() != tested[0].power.is_some()) {
            return Err(CurveError::SomePower);
        }
        let best = tested.last().and_then(best_point);
        Ok(Self { tested, best })
    }

    /// Head [kPa] at `flow_m3h` [m3/h] and `speed` \[-\]; `None` outside the tested flows or at no speed.
    #[must_use]
    pub fn head(&self, flow_m3h: f64, speed: f64) -> Option<f64> {
        self.head_and_slopes(flow_m3h, speed).map(|h| h.value)
    }

    /// [`Self::head`] with its slopes. H = s^2 h(Q/s): dH/dQ = s h', dH/ds = 2 s h - Q h' (+ s^2 dh/ds between tested speeds).
    #[must_use]
    pub fn head_and_slopes(&self, flow_m3h: f64, speed: f64) -> Option<Slopes> {
        let (s, q) = (speed, self.reduced_flow(flow_m3h, speed)?);
        let h = self.plane(q, s, |t| Some(&t.head))?;
        Some(Slopes {
            value: s * s * h.value,
            by_flow: s * h.by_q,
            by_speed: 2.0 * s * h.value - flow_m3h * h.by_q + s * s * h.by_speed,
        })
    }

    /// Shaft power [kW] at `flow_m3h` [m3/h] and `speed` \[-\]; `None` outside the tested flows, at no speed or without a power
    /// table.
    #[must_use]
    pub fn shaft_power(&self, flow_m3h: f64, speed: f64) -> Option<f64> {
        self.shaft_power_and_slopes(flow_m3h, speed).map(|p| p.value)
    }

    /// [`Self::shaft_power`] with its slopes, P = s^3 p(Q/s), and the efficiency correction beyond the tested speeds.
    #[must_use]
    pub fn shaft_power_and_slopes(&self, flow_m3h: f64, speed: f64) -> Option<Slopes> {
        let (s, q) = (speed, self.reduced_flow(flow_m3h, speed)?);
        let p = self.corrected_power(q, s)?;
        let (s2, s3) = (s * s, s * s * s);
        Some(Slopes {
            value: s3 * p.value,
            by_flow: s2 * p.by_q,
            by_speed: 3.0 * s2 * p.value - s * flow_m3h * p.by_q + s3 * p.by_speed,
        })
    }

    /// Hydraulic over shaft power \[-\]; `None` where either is.
    #[must_use]
    pub fn efficiency(&self, flow_m3h: f64, speed: f64) -> Option<f64> {
        let hydraulic = super::fluid::hydraulic_power_kw(flow_m3h, self.head(flow_m3h, speed)?);
        let efficiency = hydraulic / self.shaft_power(flow_m3h, speed)?;
        efficiency.is_finite().then_some(efficiency)
    }

    /// Greatest flow [m3/h] at which head (and power, where there is a table) is known at `speed` \[-\]; 0 at no speed.
    #[must_use]
    pub fn max_flow(&self, speed: f64) -> f64 {
        let ends = self.around(speed).into_iter().flat_map(|t| {
            let power = t.power.as_ref().map_or(f64::INFINITY, Pchip::last_x);
            [t.head.last_x(), power]
        });
        if speed > 0.0 { speed * ends.fold(f64::INFINITY, f64::min) } else { 0.0 }
    }

    /// Every flow [m3/h], ascending, at which the pump makes `head_kpa` [kPa] at `speed` \[-\]: none, one, or two on a
    /// curve that droops toward no flow.
    #[must_use]
    pub fn flows_for_head(&self, head_kpa: f64, speed: f64) -> Vec<f64> {
        self.roots(speed, head_kpa, |t| Some(&t.head), |q| self.head_and_slopes(q, speed))
    }

    /// Every flow [m3/h], ascending, at which the shaft takes `shaft_kw` [kW] at `speed` \[-\]: two where power falls again.
    #[must_use]
    pub fn flows_for_power(&self, shaft_kw: f64, speed: f64) -> Vec<f64> {
        self.roots(speed, shaft_kw, |t| t.power.as_ref(), |q| self.shaft_power_and_slopes(q, speed))
    }

    /// Speed \[-\] at which the pump makes `head_kpa` [kPa] at `flow_m3h` [m3/h]. `None` where that would lie beyond the tested
    /// flows or above twice the highest tested speed.
    ///
    /// Head rises with speed at the same flow as long as h' < 2 h / q, which holds for every table of a pump.
    #[must_use]
    pub fn speed_for(&self, flow_m3h: f64, head_kpa: f64) -> Option<f64> {
        let top = SPEED_TOP * self.tested[self.tested.len() - 1].speed;
        let (mut low, mut high) = (0.0, top);
        if head_kpa.is_nan() || self.head(flow_m3h, top)? < head_kpa {
            return None;
        }
        // Below the slowest speed that still passes this flow the head counts as too low.
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.head(flow_m3h, middle).is_some_and(|h| h >= head_kpa) { high = middle } else { low = middle }
        }
        let found = self.head(flow_m3h, high)?;
        ((found - head_kpa).abs() <= 1e-6 * head_kpa.abs().max(1e-3)).then_some(high)
    }

    /// Flow of best efficiency [m3/h] at full speed; `None` without a power table.
    #[must_use]
    pub fn best_efficiency_flow(&self) -> Option<f64> {
        self.best.map(|(q, _)| q)
    }

    /// Best efficiency \[-\] at the highest tested speed.
    #[must_use]
    pub fn best_efficiency(&self) -> Option<f64> {
        self.best.map(|(_, efficiency)| efficiency)
    }

    /// Head [kPa] at no flow and `speed` \[-\]; `None` where the table does not reach no flow.
    #[must_use]
    pub fn shut_off_head(&self, speed: f64) -> Option<f64> {
        self.head(0.0, speed)
    }

    /// Tested speeds \[-\], ascending.
    pub fn tested_speeds(&self) -> impl Iterator<Item = f64> {
        self.tested.iter().map(|t| t.speed)
    }

    fn reduced_flow(&self, flow_m3h: f64, speed: f64) -> Option<f64> {
        (speed > 0.0).then(|| flow_m3h / speed)
    }

    /// The one or two tested speeds that answer for `speed`.
    fn around(&self, speed: f64) -> Vec<&Reduced> {
        let above = self.tested.partition_point(|t| t.speed < speed);
        let last = self.tested.len() - 1;
        match above {
            0 => vec![&self.tested[0]],
            k if k > last => vec![&self.tested[last]],
            k if self.tested[k].speed == speed => vec![&self.tested[k]],
            k => vec![&self.tested[k - 1], &self.tested[k]],
        }
    }

    /// Value in the reduced plane, linear between tested speeds.
    fn plane<'a>(&'a self, q: f64, speed: f64, of: impl Fn(&'a Reduced) -> Option<&'a Pchip>) -> Option<Plane> {
        let k = self.tested.partition_point(|t| t.speed <= speed).clamp(1, self.tested.len()) - 1;
        let low = &self.tested[k];
        let (value, by_q) = of(low)?.value_and_slope(q)?;
        let Some(high) = self.tested.get(k + 1).filter(|_| speed > low.speed) else {
            return Some(Plane { value, by_q, by_speed: 0.0 });
        };
        let (value_high, by_q_high) = of(high)?.value_and_slope(q)?;
        let gap = high.speed - low.speed;
        let w = (speed - low.speed) / gap;
        Some(Plane {
            value: value + w * (value_high - value),
            by_q: by_q + w * (by_q_high - by_q),
            by_speed: (value_high - value) / gap,
        })
    }

    /// Reduced shaft power, corrected beyond the tested speeds.
    fn corrected_power(&self, q: f64, speed: f64) -> Option<Plane> {
        let p = self.plane(q, speed, |t| t.power.as_ref())?;
        let (lowest, highest) = (self.tested[0].speed, self.tested[self.tested.len() - 1].speed);
        let nearest = speed.clamp(lowest, highest);
        if nearest == speed {
            return Some(p);
        }
        let h = self.plane(q, speed, |t| Some(&t.head))?;
        let efficiency = super::fluid::hydraulic_power_kw(q, h.value) / p.value;
        let floor = CORRECTION_FLOOR * self.best.map_or(1.0, |(_, best)| best);
        let ratio = (nearest / speed).powf(EFFICIENCY_EXPONENT);
        let held = !(efficiency > floor);
        let e = if held { floor } else { efficiency };
        let corrected = 1.0 - (1.0 - e) * ratio;
        let factor = e / corrected;
        let e_by_q = if held { 0.0 } else { e * (1.0 / q + h.by_q / h.value - p.by_q / p.value) };
        let factor_by_q = (1.0 - ratio) / corrected.powi(2) * e_by_q;
        let factor_by_speed = -e * (1.0 - e) / corrected.powi(2) * EFFICIENCY_EXPONENT * ratio / speed;
        Some(Plane {
            value: p.value * factor,
            by_q: p.by_q * factor + p.value * factor_by_q,
            by_speed: p.value * factor_by_speed,
        })
    }

    fn roots<'a>(
        &'a self,
        speed: f64,
        target: f64,
        of: impl Fn(&'a Reduced) -> Option<&'a Pchip>,
        at: impl Fn(f64) -> Option<Slopes>,
    ) -> Vec<f64> {
        if !(speed > 0.0) || !target.is_finite() {
            return Vec::new();
        }
        let mut knots: Vec<f64> = Vec::new();
        for curve in self.around(speed).into_iter().filter_map(of) {
            knots.extend(curve.knots().iter().map(|q| q * speed));
        }
        knots.sort_by(f64::total_cmp);
        knots.dedup();
        all_roots(&knots, target, &at)
    }
}

/// Efficiency \[-\] at speed `s` (over the tested speed) of a pump that has `efficiency` \[-\] there at the similar flow Q/s:
/// 1 - (1 - eta) (1/s)^0.1. Meant for 0.3 to 1.2 of speed (common practice, no source); it can fall below zero for
/// efficiencies near none. Source: see [`EFFICIENCY_EXPONENT`].
///
/// ```
/// use offcurve::hydraulics::curve::reduced_speed_efficiency;
/// // By arithmetic: 1 - 0.2 * 2^0.1 = 0.78565.
/// assert!((reduced_speed_efficiency(0.80, 0.5) - 0.78565).abs() < 1e-5);
/// ```
#[must_use]
pub fn reduced_speed_efficiency(efficiency: f64, s: f64) -> f64 {
    1.0 - (1.0 - efficiency) * s.recip().powf(EFFICIENCY_EXPONENT)
}

fn reduce(table: &Tested) -> Result<Reduced, CurveError> {
    let s = table.speed;
    if !(s > 0.0 && s.is_finite()) {
        return Err(CurveError::Speed(s));
    }
    let scaled = |values: &[f64], by: f64| values.iter().map(|v| v / by).collect::<Vec<_>>();
    let head = Pchip::new(&scaled(table.flow_m3h, s), &scaled(table.head_kpa, s * s))
        .map_err(|why| CurveError::Head { speed: s, why })?;
    let power = if table.power_kw.is_empty() {
        None
    } else {
        let curve = Pchip::new(&scaled(table.power_flow_m3h, s), &scaled(table.power_kw, s.powi(3)));
        Some(curve.map_err(|why| CurveError::Power { speed: s, why })?)
    };
    Ok(Reduced { speed: s, head, power })
}

/// Reduced flow and value of the best efficiency, to a ten-thousandth of the table's width.
fn best_point(tested: &Reduced) -> Option<(f64, f64)> {
    let power = tested.power.as_ref()?;
    let (first, last) = (tested.head.first_x().max(power.first_x()), tested.head.last_x().min(power.last_x()));
    let efficiency = |q: f64| Some(super::fluid::hydraulic_power_kw(q, tested.head.value(q)?) / power.value(q)?);
    let flows = (0..=10_000).map(|k| first + (last - first) * f64::from(k) / 10_000.0);
    flows
        .filter_map(|q| Some((q, efficiency(q)?)))
        .filter(|(_, e)| e.is_finite() && *e > 0.0)
        .fold(None, |best: Option<(f64, f64)>, point| best.filter(|b| b.1 >= point.1).or(Some(point)))
}

/// Roots of a smooth function on ascending knots. Between knots it is cut into [`PIECES`], and those at their turning points.
fn all_roots(knots: &[f64], target: f64, at: &impl Fn(f64) -> Option<Slopes>) -> Vec<f64> {
    let mut cuts = Vec::new();
    for pair in knots.windows(2) {
        cuts.extend((0..PIECES).map(|k| pair[0] + (pair[1] - pair[0]) * k as f64 / PIECES as f64));
    }
    cuts.extend(knots.last());
    let mut points: Vec<(f64, Slopes)> = Vec::new();
    for x in cuts {
        let Some(here) = at(x) else { continue };
        if let Some(&(x_last, last)) = points.last()
            && last.by_flow * here.by_flow < 0.0
        {
            let turn = bisect(x_last, x, |x| at(x).map(|v| v.by_flow));
            points.extend(at(turn).map(|v| (turn, v)));
        }
        points.push((x, here));
    }
    let mut out: Vec<f64> = Vec::new();
    for (i, (x, here)) in points.iter().enumerate() {
        if let Some((x_last, last)) = i.checked_sub(1).map(|k| points[k])
            && (last.value - target) * (here.value - target) < 0.0
        {
            out.push(bisect(x_last, *x, |x| at(x).map(|v| v.value - target)));
        }
        if here.value == target {
            out.push(*x);
        }
    }
    // A turning point that just touches the target is met from both sides: one root.
    let width = knots.last().copied().unwrap_or(0.0);
    out.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * width);
    out
}

/// The sign change of `f` between `low` and `high`, to the last bit or so.
fn bisect(mut low: f64, mut high: f64, f: impl Fn(f64) -> Option<f64>) -> f64 {
    let below = f(low).is_some_and(|v| v < 0.0);
    // 60 halvings exhaust an f64.
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if f(middle).is_some_and(|v| (v < 0.0) == below) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

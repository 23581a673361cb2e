//! The posterior on flow for one pump and one row.
//!
//! Comes in: a learned pump's tables ([`Field`]) and one row's measurements. Goes out: best flow, 95 % interval, the part of its doubt that all
//! rows have in common, the head there, and a word for rows that cannot be. Where every measurement has one answer and the likelihood is near
//! normal, a few Newton steps say it (`quick`); elsewhere the likelihood is taken on a grid over the tested range, drawn closer where the mass
//! lies. It is heavy-tailed there, so that one bad sensor does not drag the point; both peaks of a flat power curve stay in the interval. It does
//! not look at neighbour rows (`neighbours.rs` does).

use super::field::{Column, Field, HEAD_MADE, Spread};
use super::model::witness;
use super::noise::Noise;
use super::witness::Row;
use witness::{COUNT, HEAD, HEAT, METER, REMOTE};

/// What one row says.
#[derive(Debug, Clone, Copy)]
pub struct Said {
    /// [m3/h]
    pub flow: f64,
    pub low: f64,
    pub high: f64,
    /// Standard deviation of the part that all rows share [m3/h].
    pub sd_common: f64,
    /// Head across the pump [kPa], the standard deviation of its own row and of the part all rows share.
    pub head: f64,
    pub head_sd: f64,
    pub head_sd_common: f64,
    /// Drive input that the model makes there [kW].
    pub power: f64,
    /// Shaft speed over rated [-].
    pub speed: f64,
    /// Which witnesses were heard, one bit each.
    pub heard: u8,
    pub peaks: Option<[Peak; 2]>,
}

/// One of two answers: flow and its 95 % interval [m3/h].
#[derive(Debug, Clone, Copy)]
pub struct Peak {
    pub flow: f64,
    pub low: f64,
    pub high: f64,
}

/// Why a row says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Silent {
    NothingMeasured,
    OutsideTable,
    MeasurementsDisagree,
}

/// Degrees of freedom of the heavy-tailed likelihood.
const TAIL: i32 = 8;
/// Squared misfit, in variances, beyond which a point at the table's end lies outside it (three standard deviations).
const OUTSIDE: f64 = 9.0;
/// Squared misfit beyond which two measurements contradict each other (four standard deviations and a half).
const DISAGREE: f64 = 20.0;
/// Squared misfit of three and more from which one of them is asked to leave.
const ODD_ONE: f64 = 14.0;
const GRID: usize = 41;
/// Half the width of a normal 95 % interval, in standard deviations.
const Z95: f64 = 1.959_964;
/// Squared misfit at the ends of the interval: within these it is near normal, and beyond them the grid is asked.
const NEAR_NORMAL: std::ops::RangeInclusive<f64> = 2.6..=5.6;
/// Standard deviations beyond which no answer is looked for.
const FAR: f64 = 5.0;
/// Squared misfit a degree of freedom up to which no heavy tail is felt.
const CALM: f64 = 4.0;

/// A learned pump and its noise: all a row needs.
#[derive(Debug, Clone, Copy)]
pub struct Estimator<'a> {
    pub field: &'a Field,
    pub noise: Noise,
    pub has_power: bool,
}

/// The witnesses of a row that can be heard.
#[derive(Debug, Clone, Copy)]
struct Heard {
    of: [usize; COUNT],
    count: usize,
}

impl Heard {
    fn list(&self) -> &[usize] {
        &self.of[..self.count]
    }
    fn without(&self, left_out: usize) -> Self {
        let mut out = Self { of: [0; COUNT], count: 0 };
        for &w in self.list().iter().filter(|&&w| w != left_out) {
            out.of[out.count] = w;
            out.count += 1;
        }
        out
    }
    fn bits(&self) -> u8 {
        self.list().iter().fold(0, |b, w| b | 1 << w)
    }
}

/// Misfit and log likelihood at one flow.
#[derive(Debug, Clone, Copy)]
struct Fit {
    misfit: f64,
    log: f64,
}

impl Estimator<'_> {
    /// The posterior of one row.
    ///
    /// # Errors
    /// Why the row says nothing: no measurement, outside the table, or measurements that contradict each other.
    pub fn say(&self, row: &Row) -> Result<Said, Silent> {
        self.say_near(row, None)
    }

    /// The same, begun at a flow [m3/h] where a model of the same pump has it.
    ///
    /// # Errors
    /// As [`Estimator::say`].
    pub fn say_near(&self, row: &Row, flow: Option<f64>) -> Result<Said, Silent> {
        let from = flow.map(|flow| (flow / row.speed).clamp(0.0, self.field.q_max));
        let heard = self.heard(row);
        let Some(column) = self.field.column(row.speed, row.hour) else { return Err(Silent::OutsideTable) };
        let quick = match heard.count {
            0 => return Err(Silent::NothingMeasured),
            1 => self.quick::<1>(row, &column, &heard, from),
            2 => self.quick::<2>(row, &column, &heard, from),
            3 => self.quick::<3>(row, &column, &heard, from),
            4 => self.quick::<4>(row, &column, &heard, from),
            _ => self.quick::<5>(row, &column, &heard, from),
        };
        let near = match quick {
            Ok(said) => return Ok(said),
            Err(near) => near,
        };
        match self.on_grid(row, &column, &heard, near) {
            Ok((_, said)) => Ok(said),
            Err((Silent::MeasurementsDisagree, _)) if heard.count > 2 => self.without_the_odd_one(row, &column, &heard),
            Err((why, _)) => Err(why),
        }
    }

    /// What each witness says of the flow by itself, and all together: likelihood on a grid over the table, the highest 1.
    #[must_use]
    pub fn evidence(&self, row: &Row, points: usize) -> Vec<(Option<usize>, Vec<f64>)> {
        let heard = self.heard(row);
        let Some(column) = self.field.column(row.speed, row.hour) else { return Vec::new() };
        let curve = |h: &Heard| -> Vec<f64> {
            let q = |i: usize| self.field.q_max * i as f64 / (points - 1) as f64;
            let logs: Vec<f64> = (0..points).map(|i| self.fit(row, &column, h, q(i)).log).collect();
            let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            logs.iter().map(|l| (l - top).exp()).collect()
        };
        let alone = heard.list().iter().map(|&w| (Some(w), curve(&Heard { of: [w, 0, 0, 0, 0], count: 1 })));
        alone.chain([(None, curve(&heard))]).collect()
    }

    /// How far the shared error of a row's flow, taken without its meter, is that of the meter's own scale [-]: more than nothing once the meter
    /// has taught the model.
    #[must_use]
    pub fn correlation_with_meter(&self, row: &Row, flow: f64) -> Option<f64> {
        let column = self.field.column(row.speed, row.hour)?;
        let heard = self.heard(row).without(METER);
        let q = (flow / row.speed).clamp(0.0, self.field.q_max);
        let worth = self.worth(row, &column, &heard, q);
        let spread = self.field.shared(q, row.speed);
        let (mut common, mut with_meter) = (0.0, 0.0);
        for (k, &a) in heard.list().iter().enumerate() {
            for (l, &b) in heard.list().iter().enumerate() {
                common += worth[k] * worth[l] * self.shared(&spread, a, b, q, row);
            }
            with_meter += worth[k] * spread.of(a, METER);
        }
        let both = (common * spread.of(METER, METER)).sqrt();
        (both > 0.0).then(|| (with_meter / both).clamp(-1.0, 1.0))
    }

    /// Head [kPa] at reduced flow `q` and a row's speed, and the standard deviation of what is not known of it.
    #[must_use]
    pub fn head_at(&self, row: &Row, q: f64) -> Option<(f64, f64)> {
        let head = self.field.column(row.speed, row.hour)?.head(q).value;
        let variance = self.field.shared(q, row.speed).of(HEAD_MADE, HEAD_MADE);
        Some((head, variance.max(0.0).sqrt()))
    }

    fn heard(&self, row: &Row) -> Heard {
        let mut out = Heard { of: [0; COUNT], count: 0 };
        for w in 0..COUNT {
            let there = row.reading[w].is_finite()
                && (w != witness::POWER || self.has_power)
                && (w != HEAT || row.around.delta_t > 0.0);
            if there {
                out.of[out.count] = w;
                out.count += 1;
            }
        }
        out
    }

    /// Newton steps on a near-normal likelihood; where it is not one, the flows [m3/h, reduced] between which all answers lie, if that is known.
    fn quick<const M: usize>(
        &self,
        row: &Row,
        column: &Column,
        heard: &Heard,
        from: Option<f64>,
    ) -> Result<Said, Option<(f64, f64)>> {
        let which: [usize; M] = std::array::from_fn(|k| heard.of[k]);
        if !which.iter().all(|&w| column.has_one_answer(w)) {
            return Err(None);
        }
        let q_max = self.field.q_max;
        let random: [f64; M] =
            std::array::from_fn(|k| self.noise.variance(which[k], row.reading[which[k]], row.around));
        let answers = || which.map(|w| column.answer(w, row.reading[w], row.around));
        // Start between the answers of each, by what each is worth there.
        let between = || {
            let (mut sum, mut weights) = (0.0, 0.0);
            for (k, q) in answers().into_iter().enumerate() {
                let w = which[k];
                let slope = column.reading(w, q, row.around).slope;
                let worth = slope * slope / (random[k] + (0.02 * row.reading[w]).powi(2)) + 1e-9 / (q_max * q_max);
                sum += worth * q;
                weights += worth;
            }
            sum / weights
        };
        let mut q = from.unwrap_or_else(between);
        let mut spread = self.field.shared(q, row.speed);
        let mut now = Normal::<M>::at(self, row, column, &which, &random, &spread, q).ok_or(None)?;
        for round in 0..4 {
            let step = now.pull / now.information;
            let last = q;
            q = (q + step).clamp(0.0, q_max);
            if (q - last).abs() < 2e-4 * q_max && round > 0 {
                break;
            }
            if round == 0 {
                spread = self.field.shared(q, row.speed);
            }
            now = Normal::at(self, row, column, &which, &random, &spread, q).ok_or(None)?;
        }
        let sd = now.information.sqrt().recip();
        let reach = Z95 * sd;
        // All answers lie between these.
        let near = || {
            let (least, most) = answers().into_iter().fold((q, q), |(least, most), a| (least.min(a), most.max(a)));
            Some(((least - FAR * sd).max(0.0), (most + FAR * sd).min(q_max)))
        };
        if now.misfit > CALM * M as f64 || q - 1.3 * reach < 0.0 || q + 1.3 * reach > q_max {
            return Err(near());
        }
        let rise = |to: f64| {
            let r: [f64; M] =
                std::array::from_fn(|k| row.reading[which[k]] - column.reading(which[k], to, row.around).value);
            now.square(&r) - now.misfit
        };
        let (left, right) = (rise(q - reach), rise(q + reach));
        if !(NEAR_NORMAL.contains(&left) && NEAR_NORMAL.contains(&right)) {
            return Err(near());
        }
        let (low, high) = (q - reach * (Z95 * Z95 / left).sqrt(), q + reach * (Z95 * Z95 / right).sqrt());
        let s = row.speed;
        let worth = now.weights();
        let said = Said {
            low: low * s,
            high: high * s,
            heard: heard.bits(),
            ..self.at(row, column, heard, q, &worth, &spread)
        };
        Ok(said)
    }

    /// The point at `q`: all but its interval. `worth`: how the flow follows each reading.
    fn at(&self, row: &Row, column: &Column, heard: &Heard, q: f64, worth: &[f64], spread: &Spread) -> Said {
        let list = heard.list();
        let head = column.head(q);
        let (mut common, mut random, mut with_head) = (0.0, 0.0, 0.0);
        for (k, &a) in list.iter().enumerate() {
            for (l, &b) in list.iter().enumerate() {
                common += worth[k] * worth[l] * self.shared(spread, a, b, q, row);
            }
            random += worth[k].powi(2) * self.noise.variance(a, row.reading[a], row.around);
            with_head += worth[k] * spread.of(a, HEAD_MADE);
        }
        let (value, own, shared) = if list.contains(&HEAD) {
            let shared = spread.of(HEAD_MADE, HEAD_MADE) - 2.0 * spread.of(HEAD, HEAD_MADE) + spread.of(HEAD, HEAD);
            let reading = row.reading[HEAD];
            (column.head_from_reading(reading, q).max(0.0), self.noise.sd(HEAD, reading), shared)
        } else {
            let shared = spread.of(HEAD_MADE, HEAD_MADE) + head.slope.powi(2) * common - 2.0 * head.slope * with_head;
            (head.value, head.slope.abs() * random.sqrt(), shared)
        };
        Said {
            flow: q * row.speed,
            low: f64::NAN,
            high: f64::NAN,
            sd_common: common.max(0.0).sqrt() * row.speed,
            head: value,
            head_sd: own,
            head_sd_common: shared.max(0.0).sqrt(),
            power: if self.has_power { column.input_power(q) } else { f64::NAN },
            speed: column.shaft_speed(q),
            heard: heard.bits(),
            peaks: None,
        }
    }

    /// Covariance of the errors that all rows share, with what depends on the loop's own sensors.
    fn shared(&self, spread: &Spread, a: usize, b: usize, q: f64, row: &Row) -> f64 {
        let of = spread.of(a, b);
        if a != b {
            return of;
        }
        match a {
            HEAT => of + self.field.heat_pair_variance(q * row.speed, row.around),
            REMOTE if row.around.sharing > 1.0 => of + self.field.pipe_variance(q * row.speed, row.around),
            _ => of,
        }
    }

    fn grid(&self, row: &Row, column: &Column, heard: &Heard, low: f64, high: f64) -> [Fit; GRID] {
        let flow = |i: usize| low + (high - low) * i as f64 / (GRID - 1) as f64;
        // Told how many readings there are, the compiler lays out a row's matrices for them.
        match heard.count {
            1 => std::array::from_fn(|i| self.fit_of::<1>(row, column, heard, flow(i))),
            2 => std::array::from_fn(|i| self.fit_of::<2>(row, column, heard, flow(i))),
            3 => std::array::from_fn(|i| self.fit_of::<3>(row, column, heard, flow(i))),
            _ => std::array::from_fn(|i| self.fit(row, column, heard, flow(i))),
        }
    }

    fn on_grid(
        &self,
        row: &Row,
        column: &Column,
        heard: &Heard,
        near: Option<(f64, f64)>,
    ) -> Result<(f64, Said), (Silent, f64)> {
        let whole = (0.0, self.field.q_max);
        let (mut low, mut high) = near.unwrap_or(whole);
        let mut grid = self.grid(row, column, heard, low, high);
        let top = grid.iter().map(|f| f.log).fold(f64::NEG_INFINITY, f64::max);
        let cut = |end: &Fit, at: f64| end.log > top - 9.0 && at > whole.0 && at < whole.1;
        if cut(&grid[0], low) || cut(&grid[GRID - 1], high) {
            (low, high) = whole;
            grid = self.grid(row, column, heard, low, high);
        }
        for _ in 0..4 {
            let top = grid.iter().map(|f| f.log).fold(f64::NEG_INFINITY, f64::max);
            let heavy = |f: &Fit| f.log > top - 9.0;
            let first = grid.iter().position(heavy).unwrap_or(0);
            let last = grid.iter().rposition(heavy).unwrap_or(GRID - 1);
            let step = (high - low) / (GRID - 1) as f64;
            if last - first > GRID / 2 {
                break;
            }
            (low, high) = (
                (low + step * (first as f64 - 1.0)).max(0.0),
                (low + step * (last as f64 + 1.0)).min(self.field.q_max),
            );
            grid = self.grid(row, column, heard, low, high);
        }
        self.conclude(row, column, heard, &grid, low, high)
    }

    /// Three or more that cannot all be right: hears them with each left out in turn, and believes the best agreement if it is good.
    fn without_the_odd_one(&self, row: &Row, column: &Column, heard: &Heard) -> Result<Said, Silent> {
        let tries = heard.list().iter().filter_map(|&w| self.on_grid(row, column, &heard.without(w), None).ok());
        let best = tries.min_by(|a, b| a.0.total_cmp(&b.0));
        match best {
            Some((misfit, said)) if misfit < OUTSIDE => Ok(said),
            _ => Err(Silent::MeasurementsDisagree),
        }
    }

    fn fit(&self, row: &Row, column: &Column, heard: &Heard, q: f64) -> Fit {
        let (r, s) = self.residuals(row, column, heard, q);
        let m = heard.count;
        let factor = Factor::new(&s, m);
        let misfit = factor.square(&r, m);
        // Student's t in m dimensions; one logarithm of the product, since this line runs a hundred times a row.
        let heavy = (1.0 + misfit / f64::from(TAIL)).powi(TAIL + m as i32);
        Fit { misfit, log: -0.5 * (heavy * factor.determinant(m)).ln() }
    }

    /// [`Estimator::fit`] of `M` readings.
    fn fit_of<const M: usize>(&self, row: &Row, column: &Column, heard: &Heard, q: f64) -> Fit {
        let spread = self.field.shared(q, row.speed);
        let (mut r, mut s) = ([0.0; M], [[0.0; M]; M]);
        for k in 0..M {
            let a = heard.of[k];
            r[k] = row.reading[a] - column.reading(a, q, row.around).value;
            for l in 0..=k {
                s[k][l] = self.shared(&spread, a, heard.of[l], q, row);
            }
            s[k][k] += self.noise.variance(a, row.reading[a], row.around);
        }
        let (mut misfit, mut determinant) = (0.0, 1.0);
        for k in 0..M {
            let own = s[k][k];
            for l in 0..=k {
                let v = s[k][l] - (0..l).map(|i| s[k][i] * s[l][i]).sum::<f64>();
                s[k][l] = if k == l { v.max(1e-12 * own.abs()).max(1e-300).sqrt() } else { v / s[l][l] };
            }
            r[k] = (r[k] - (0..k).map(|i| s[k][i] * r[i]).sum::<f64>()) / s[k][k];
            misfit += r[k] * r[k];
            determinant *= s[k][k] * s[k][k];
        }
        let heavy = (1.0 + misfit / f64::from(TAIL)).powi(TAIL + M as i32);
        Fit { misfit, log: -0.5 * (heavy * determinant).ln() }
    }

    fn residuals(&self, row: &Row, column: &Column, heard: &Heard, q: f64) -> ([f64; COUNT], [[f64; COUNT]; COUNT]) {
        let spread = self.field.shared(q, row.speed);
        let mut r = [0.0; COUNT];
        let mut s = [[0.0; COUNT]; COUNT];
        for (k, &a) in heard.list().iter().enumerate() {
            r[k] = row.reading[a] - column.reading(a, q, row.around).value;
            for (l, &b) in heard.list().iter().enumerate() {
                s[k][l] = self.shared(&spread, a, b, q, row);
            }
            s[k][k] += self.noise.variance(a, row.reading[a], row.around);
        }
        (r, s)
    }

    fn conclude(
        &self,
        row: &Row,
        column: &Column,
        heard: &Heard,
        grid: &[Fit; GRID],
        low: f64,
        high: f64,
    ) -> Result<(f64, Said), (Silent, f64)> {
        let step = (high - low) / (GRID - 1) as f64;
        let top = grid.iter().enumerate().max_by(|a, b| a.1.log.total_cmp(&b.1.log)).map_or(0, |t| t.0);
        let q_top = low + step * top as f64;
        let misfit = grid[top].misfit;
        let at_end = q_top <= 1e-3 * self.field.q_max || q_top >= 0.999 * self.field.q_max;
        if at_end && misfit > OUTSIDE {
            return Err((Silent::OutsideTable, misfit));
        }
        if misfit > if heard.count > 2 { ODD_ONE } else { DISAGREE } {
            return Err((Silent::MeasurementsDisagree, misfit));
        }
        let mass = Mass::new(grid.map(|f| (f.log - grid[top].log).exp()), low, step);
        // Peaks of the fit itself: where only the doubt changes with flow, the posterior may have a shoulder but there is one answer.
        let valley = valley(&grid.map(|f| (-0.5 * (f.misfit - misfit)).exp()));
        let s = row.speed;
        let best = self.closest(row, column, heard, grid, low, step, &mass, valley.is_some());
        let worth = self.worth(row, column, heard, best);
        let spread = self.field.shared(best, row.speed);
        let point = self.at(row, column, heard, best, &worth, &spread);
        let (from, to) = (mass.quantile(0.025, 0, GRID - 1), mass.quantile(0.975, 0, GRID - 1));
        // The shared part was taken by slopes; where those vanish the interval is what is left to share.
        let half = 0.5 * (to - from) / Z95 * s;
        let peaks = valley.map(|v| {
            [(0, v), (v, GRID - 1)].map(|(a, b)| Peak {
                flow: mass.mean(a, b) * s,
                low: mass.quantile(0.025, a, b) * s,
                high: mass.quantile(0.975, a, b) * s,
            })
        });
        let said = Said { low: from * s, high: to * s, sd_common: point.sd_common.min(half), peaks, ..point };
        Ok((misfit, said))
    }

    /// The flow that fits best, where it lies inside the table and inside the interval; else the posterior's mean.
    #[expect(clippy::too_many_arguments, reason = "one row's grid, opened")]
    fn closest(
        &self,
        row: &Row,
        column: &Column,
        heard: &Heard,
        grid: &[Fit; GRID],
        low: f64,
        step: f64,
        mass: &Mass,
        two_peaks: bool,
    ) -> f64 {
        let least = grid.iter().enumerate().min_by(|a, b| a.1.misfit.total_cmp(&b.1.misfit)).map_or(0, |t| t.0);
        let at_end = least == 0 || least == GRID - 1;
        if at_end || grid[least].misfit > CALM {
            // Between two peaks lies no answer.
            return if two_peaks { low + step * least as f64 } else { mass.mean(0, GRID - 1) };
        }
        // The lowest of a parabola through the best and its neighbours, if it is lower.
        let [m0, m1, m2] = [least - 1, least, least + 1].map(|i| grid[i].misfit);
        let bend = m0 - 2.0 * m1 + m2;
        let by = if bend > 0.0 { (0.5 * (m0 - m2) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        let (at, to) = (low + step * least as f64, low + step * (least as f64 + by));
        let best = if self.fit(row, column, heard, to).misfit <= m1 { to } else { at };
        let inside = mass.quantile(0.1, 0, GRID - 1)..=mass.quantile(0.9, 0, GRID - 1);
        if two_peaks || inside.contains(&best) { best } else { mass.mean(0, GRID - 1) }
    }

    /// How the flow follows each reading, by linear propagation at `q`.
    fn worth(&self, row: &Row, column: &Column, heard: &Heard, q: f64) -> [f64; COUNT] {
        let (_, s) = self.residuals(row, column, heard, q);
        let m = heard.count;
        let mut slope = [0.0; COUNT];
        for (k, &w) in heard.list().iter().enumerate() {
            slope[k] = column.reading(w, q, row.around).slope;
        }
        let solved = Factor::new(&s, m).solve(&slope, m);
        let information: f64 = (0..m).map(|k| slope[k] * solved[k]).sum();
        // A flow that no reading moves stays where the table's range leaves it.
        let least = 12.0 / (self.field.q_max * self.field.q_max);
        solved.map(|v| v / information.max(least))
    }
}

/// Residuals of `M` readings at one flow, with their covariance factored.
struct Normal<const M: usize> {
    factor: [[f64; M]; M],
    solved_slope: [f64; M],
    pull: f64,
    information: f64,
    misfit: f64,
}

impl<const M: usize> Normal<M> {
    fn at(
        e: &Estimator,
        row: &Row,
        column: &Column,
        which: &[usize; M],
        random: &[f64; M],
        spread: &Spread,
        q: f64,
    ) -> Option<Self> {
        let mut s = [[0.0; M]; M];
        let (mut r, mut j) = ([0.0; M], [0.0; M]);
        for k in 0..M {
            let shown = column.reading(which[k], q, row.around);
            r[k] = row.reading[which[k]] - shown.value;
            j[k] = shown.slope;
            for l in 0..=k {
                s[k][l] = e.shared(spread, which[k], which[l], q, row);
            }
            s[k][k] += random[k];
        }
        // Cholesky, in place; the covariance is that of noise and more, so its pivots are positive.
        for k in 0..M {
            for l in 0..=k {
                let mut v = s[k][l];
                for i in 0..l {
                    v -= s[k][i] * s[l][i];
                }
                s[k][l] = if k == l { v.max(1e-12 * s[k][k]).sqrt() } else { v / s[l][l] };
            }
        }
        let mut out = Self { factor: s, solved_slope: [0.0; M], pull: 0.0, information: 0.0, misfit: 0.0 };
        let (half_r, half_j) = (out.forward(&r), out.forward(&j));
        for k in 0..M {
            out.pull += half_r[k] * half_j[k];
            out.information += half_j[k] * half_j[k];
            out.misfit += half_r[k] * half_r[k];
        }
        out.solved_slope = half_j;
        (out.information > 0.0 && out.misfit.is_finite()).then_some(out)
    }

    fn forward(&self, v: &[f64; M]) -> [f64; M] {
        let mut out = [0.0; M];
        for k in 0..M {
            let before: f64 = (0..k).map(|i| self.factor[k][i] * out[i]).sum();
            out[k] = (v[k] - before) / self.factor[k][k];
        }
        out
    }

    fn square(&self, r: &[f64; M]) -> f64 {
        self.forward(r).iter().map(|v| v * v).sum()
    }

    /// How the flow follows each reading.
    fn weights(&self) -> [f64; M] {
        let mut out = [0.0; M];
        for k in (0..M).rev() {
            let after: f64 = (k + 1..M).map(|i| self.factor[i][k] * out[i]).sum();
            out[k] = (self.solved_slope[k] - after) / self.factor[k][k];
        }
        out.map(|v| v / self.information)
    }
}

/// Cholesky factor of up to five readings' covariance.
struct Factor([[f64; COUNT]; COUNT]);

impl Factor {
    fn new(s: &[[f64; COUNT]; COUNT], m: usize) -> Self {
        let mut l = *s;
        for k in 0..m {
            for i in 0..=k {
                let v = l[k][i] - (0..i).map(|a| l[k][a] * l[i][a]).sum::<f64>();
                l[k][i] = if k == i { v.max(1e-12 * s[k][k].abs()).max(1e-300).sqrt() } else { v / l[i][i] };
            }
        }
        Self(l)
    }

    fn determinant(&self, m: usize) -> f64 {
        (0..m).map(|k| self.0[k][k].powi(2)).product()
    }

    fn forward(&self, v: &[f64; COUNT], m: usize) -> [f64; COUNT] {
        let mut out = [0.0; COUNT];
        for k in 0..m {
            let before: f64 = (0..k).map(|i| self.0[k][i] * out[i]).sum();
            out[k] = (v[k] - before) / self.0[k][k];
        }
        out
    }

    fn square(&self, v: &[f64; COUNT], m: usize) -> f64 {
        self.forward(v, m).iter().map(|x| x * x).sum()
    }

    fn solve(&self, v: &[f64; COUNT], m: usize) -> [f64; COUNT] {
        let half = self.forward(v, m);
        let mut out = [0.0; COUNT];
        for k in (0..m).rev() {
            let after: f64 = (k + 1..m).map(|i| self.0[i][k] * out[i]).sum();
            out[k] = (half[k] - after) / self.0[k][k];
        }
        out
    }
}

/// A density on the grid, straight between its points.
struct Mass {
    weight: [f64; GRID],
    low: f64,
    step: f64,
}

impl Mass {
    fn new(weight: [f64; GRID], low: f64, step: f64) -> Self {
        Self { weight, low, step }
    }

    fn between(&self, i: usize) -> f64 {
        self.weight[i] + self.weight[i + 1]
    }

    fn mean(&self, from: usize, to: usize) -> f64 {
        let mass: f64 = (from..to).map(|i| self.between(i)).sum();
        let moment: f64 = (from..to).map(|i| (i as f64 + 0.5) * self.between(i)).sum();
        self.low + self.step * if mass > 0.0 { moment / mass } else { 0.5 * (from + to) as f64 }
    }

    fn quantile(&self, share: f64, from: usize, to: usize) -> f64 {
        let wanted = share * (from..to).map(|i| self.between(i)).sum::<f64>();
        let mut before = 0.0;
        for i in from..to {
            let here = self.between(i);
            if before + here >= wanted && here > 0.0 {
                return self.low + self.step * (i as f64 + (wanted - before) / here);
            }
            before += here;
        }
        self.low + self.step * to as f64
    }
}

/// The lowest place between two local maxima, the lesser at least a twentieth of the greater and the valley at most half its height.
fn valley(weight: &[f64; GRID]) -> Option<usize> {
    let mut lowest = (f64::INFINITY, 0);
    let mut last_peak = 0.0f64;
    for i in 0..GRID {
        let left = if i == 0 { 0.0 } else { weight[i - 1] };
        let right = weight.get(i + 1).copied().unwrap_or(0.0);
        if weight[i] < lowest.0 {
            lowest = (weight[i], i);
        }
        if weight[i] >= left && weight[i] > right && weight[i] > 0.05 {
            if last_peak > 0.0 && lowest.0 < 0.5 * last_peak.min(weight[i]) {
                return Some(lowest.1);
            }
            last_peak = weight[i];
            lowest = (weight[i], i);
        }
    }
    None
}

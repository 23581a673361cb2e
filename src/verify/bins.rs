//! Time of week and temperature: a temperature split among bins, and whether a building is occupied in an hour of the week.
//!
//! Source: Mathieu, Price, Kiliccote and Piette, *Quantifying changes in building electricity use, with application to demand response*, IEEE Trans. Smart
//! Grid 2 (2011) 507, in the form of CalTRACK 2.0, 3.8 to 3.11 (read). The bins' ends are given there in degF.

use super::least_squares::fit;
use super::rows::Row;

/// Ends of the bins [degF].
pub const ENDS_F: [f64; 6] = [30.0, 45.0, 55.0, 65.0, 75.0, 90.0];
/// A bin with fewer hours is joined with the next (CalTRACK 3.8).
const LEAST_HOURS: usize = 20;
/// Balance temperatures of heating and cooling of the fit whose residuals tell occupied hours (CalTRACK 3.9) [degF].
const BALANCE_F: [f64; 2] = [50.0, 65.0];
/// An hour of the week counts as occupied when more than this share of its residuals say that more was used than fitted (CalTRACK 3.9) [-].
const OCCUPIED: f64 = 0.65;
/// Hours of a week.
pub const WEEK: usize = 168;

/// From the Celsius scale to the bins' own [degF].
#[must_use]
pub fn fahrenheit(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

/// A temperature split: the first bin takes it up to its end, each next one what is above, up to its own; the parts add up to the temperature. Unit as the ends'.
///
/// ```
/// use offcurve::verify::bins::{ENDS_F, split};
/// // CalTRACK's own table, 60 degF.
/// assert_eq!(split(60.0, &ENDS_F), [30.0, 15.0, 10.0, 5.0, 0.0, 0.0, 0.0]);
/// ```
#[must_use]
pub fn split(temperature: f64, ends: &[f64]) -> Vec<f64> {
    let mut parts = Vec::with_capacity(ends.len() + 1);
    let mut below: Option<f64> = None;
    for end in ends {
        let part = below.map_or(temperature.min(*end), |b| (temperature.min(*end) - b).max(0.0));
        parts.push(part);
        below = Some(*end);
    }
    parts.push(below.map_or(temperature, |b| (temperature - b).max(0.0)));
    parts
}

/// The ends that leave at least 20 hours in every bin: from the cold end upwards a thin bin is joined with the next warmer one, the last with the one below it.
#[must_use]
pub fn ends(temperatures_f: &[f64]) -> Vec<f64> {
    let mut ends = ENDS_F.to_vec();
    let count = |low: f64, high: f64| temperatures_f.iter().filter(|t| **t > low && **t <= high).count();
    let mut k = 0;
    while k < ends.len() {
        let low = if k == 0 { f64::NEG_INFINITY } else { ends[k - 1] };
        if count(low, ends[k]) < LEAST_HOURS {
            ends.remove(k);
        } else {
            k += 1;
        }
    }
    while ends.last().is_some_and(|last| count(*last, f64::INFINITY) < LEAST_HOURS) {
        ends.pop();
    }
    ends
}

/// Place of a row in the week.
#[must_use]
pub(super) fn hour_of_week(row: &Row) -> usize {
    (row.weekday * 24 + row.hour).min(WEEK - 1)
}

/// Which hours of the week are occupied; none where the fit cannot be made.
pub(super) fn occupied(rows: &[Row]) -> [bool; WEEK] {
    let mut occupied = [false; WEEK];
    let y: Vec<f64> = rows.iter().map(|r| r.energy_kwh).collect();
    let heating = rows.iter().map(|r| (BALANCE_F[0] - fahrenheit(r.outdoor_c)).max(0.0)).collect();
    let cooling = rows.iter().map(|r| (fahrenheit(r.outdoor_c) - BALANCE_F[1]).max(0.0)).collect();
    let Some(fit) = fit(&y, &vec![0; rows.len()], &[heating, cooling]) else { return occupied };
    let (mut above, mut all) = ([0u32; WEEK], [0u32; WEEK]);
    for (row, residual) in rows.iter().zip(&fit.residual) {
        let h = hour_of_week(row);
        all[h] += 1;
        above[h] += u32::from(*residual > 0.0);
    }
    for h in 0..WEEK {
        occupied[h] = f64::from(above[h]) > OCCUPIED * f64::from(all[h]);
    }
    occupied
}

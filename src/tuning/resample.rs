//! Whole days drawn again, since hours of a day resemble each other: the spread of a ratio over days.

/// Draws.
const DRAWS: usize = 400;

/// Standard deviation of `sum of saved / sum of used` over days drawn with replacement; the seed is fixed, so that the same record gives the same
/// bytes. B. Efron and R. Tibshirani, An Introduction to the Bootstrap, 1993, chapter 6 (from memory).
pub fn ratio_sd(days: &[(u32, f64, f64)]) -> f64 {
    if days.len() < 2 {
        return f64::NAN;
    }
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut next = || {
        // xorshift64*: S. Vigna, ACM Trans. Math. Softw. 42 (2016) 30 (from memory).
        state ^= state >> 12;
        state ^= state << 25;
        state ^= state >> 27;
        state.wrapping_mul(0x2545_f491_4f6c_dd1d)
    };
    let ratios: Vec<f64> = (0..DRAWS)
        .map(|_| {
            let (mut used, mut saved) = (0.0, 0.0);
            for _ in 0..days.len() {
                let day = days[((next() >> 11) as usize) % days.len()];
                (used, saved) = (used + day.1, saved + day.2);
            }
            if used > 0.0 { saved / used } else { 0.0 }
        })
        .collect();
    let mean = ratios.iter().sum::<f64>() / DRAWS as f64;
    (ratios.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (DRAWS - 1) as f64).sqrt()
}

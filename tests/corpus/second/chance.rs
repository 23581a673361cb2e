//! Chance from a seed: a counter run through a mixing function, so that nothing outside this folder is needed.

/// A stream of numbers.
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    /// Two labels give streams that have nothing to do with each other.
    pub fn new(seed: u64, label: u64) -> Self {
        let mut c = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ label.wrapping_mul(0xD1B5_4A32_D192_ED03));
        c.word();
        c
    }
    fn word(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    /// Even from 0 to 1.
    pub fn share(&mut self) -> f64 {
        (self.word() >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }
    /// Even in the logarithm.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        libm::exp(self.between(libm::log(low), libm::log(high)))
    }
    /// Near normal, mean 0, deviation 1: six even numbers.
    pub fn bell(&mut self) -> f64 {
        let sum: f64 = (0..6).map(|_| self.share()).sum();
        (sum - 3.0) * std::f64::consts::SQRT_2
    }
    pub fn yes(&mut self, chance: f64) -> bool {
        self.share() < chance
    }
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[(self.word() % of.len() as u64) as usize]
    }
    /// A whole number, both ends included.
    pub fn whole(&mut self, low: usize, high: usize) -> usize {
        low + (self.word() % (high - low + 1) as u64) as usize
    }
}

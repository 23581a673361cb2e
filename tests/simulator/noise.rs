//! Random numbers of our own, so that a seed gives the same bytes on any machine and with any library version.

/// A 64-bit counter generator (the finaliser is the well-known "splitmix" one); streams of one seed are independent.
#[derive(Debug, Clone)]
pub struct Rng {
    state: u64,
}

impl Rng {
    /// The stream numbered `stream` of a seed: switching one option never shifts another one's draws.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng =
            Self { state: seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ stream.wrapping_mul(0xD1B5_4A32_D192_ED03) };
        rng.bits();
        rng.bits();
        rng
    }

    fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in 0 to 1 [-].
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Standard normal, for the few draws a plant (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let radius = libm::sqrt(-2.0 * libm::log(1.0 - self.unit()));
        radius * libm::cos(core::f64::consts::TAU * self.unit())
    }

    /// Nearly standard normal (four uniforms summed, never beyond 3.5), cheap enough for every cell of an export.
    pub fn jitter(&mut self) -> f64 {
        let bits = self.bits();
        let sum = (0..4).map(|k| ((bits >> (16 * k)) & 0xFFFF) as f64 / 65535.0).sum::<f64>();
        (sum - 2.0) * 1.732_050_8
    }

    /// Whether something of this probability happens.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }
}

/// A slowly wandering number: mean 0, standard deviation `sd`, forgetting over `memory` steps.
#[derive(Debug, Clone)]
pub struct Wander {
    value: f64,
    keep: f64,
    kick: f64,
}

impl Wander {
    pub fn new(rng: &mut Rng, sd: f64, memory: f64) -> Self {
        let keep = libm::exp(-1.0 / memory);
        Self { value: sd * rng.normal(), keep, kick: sd * libm::sqrt(1.0 - keep * keep) }
    }

    pub fn next(&mut self, rng: &mut Rng) -> f64 {
        self.value = self.keep * self.value + self.kick * rng.jitter();
        self.value
    }
}

//! Density of the loop's fluid, so that a head in metres or feet can become a pressure.

use super::FluidKind;
use crate::quantity::{Density, Temperature};

/// Density of a loop fluid at atmospheric pressure.
///
/// `glycol_mass_fraction` [-] 0 to 0.6 (held at the ends), `temperature` 0 to 100 degC (held at the ends). Water is
/// Kell's formula (G. S. Kell, J. Chem. Eng. Data 20, 1975), within 0.05 % of IAPWS-IF97. A glycol mixture is that
/// times a ratio interpolated between tabulated mixtures (Melinder's data for secondary working fluids), within 0.5 %.
#[must_use]
pub fn density(fluid: FluidKind, glycol_mass_fraction: f64, temperature: Temperature) -> Density {
    let t = temperature.in_celsius().clamp(0.0, 100.0);
    let water = water_kg_m3(t);
    let ratio = match fluid {
        FluidKind::Water => 1.0,
        FluidKind::EthyleneGlycol => glycol_ratio(&ETHYLENE, glycol_mass_fraction, t),
        FluidKind::PropyleneGlycol => glycol_ratio(&PROPYLENE, glycol_mass_fraction, t),
    };
    Density::kg_m3(water * ratio)
}

/// Density of water [kg/m3] at `t` [degC].
fn water_kg_m3(t: f64) -> f64 {
    let numerator = 999.839_52 + 16.945_176 * t - 7.987_040_1e-3 * t.powi(2) - 46.170_461e-6 * t.powi(3)
        + 105.563_02e-9 * t.powi(4)
        - 280.542_53e-12 * t.powi(5);
    numerator / (1.0 + 16.879_850e-3 * t)
}

/// Density over that of water at 5 degC by mass fraction, and how much the excess shrinks from 5 to 60 degC.
struct Mixture {
    at_5_c: &'static [(f64, f64)],
    excess_at_60_c: f64,
}
/// Ethylene glycol: 1043.47 and 1058.45 kg/m3 at 5 degC for 30 and 40 % by mass; 1017.46 at 60 degC for 30 %.
const ETHYLENE: Mixture = Mixture { at_5_c: &[(0.0, 1.0), (0.3, 1.043_50), (0.4, 1.058_48)], excess_at_60_c: 0.800_9 };
/// Propylene glycol: 1029.89, 1040.06 and 1048.17 kg/m3 at 5 degC for 30, 40 and 50 % by mass. How the excess shrinks
/// with temperature is not tabulated here and is taken from ethylene glycol.
const PROPYLENE: Mixture =
    Mixture { at_5_c: &[(0.0, 1.0), (0.3, 1.029_92), (0.4, 1.040_09), (0.5, 1.048_20)], excess_at_60_c: 0.800_9 };

fn glycol_ratio(mixture: &Mixture, mass_fraction: f64, t: f64) -> f64 {
    let x = mass_fraction.clamp(0.0, 0.6);
    let rows = mixture.at_5_c;
    let upper = rows.iter().position(|r| r.0 >= x).unwrap_or(rows.len() - 1).max(1);
    let ((x0, r0), (x1, r1)) = (rows[upper - 1], rows[upper]);
    let excess = r0 + (r1 - r0) * (x - x0) / (x1 - x0) - 1.0;
    let shrink = 1.0 + (mixture.excess_at_60_c - 1.0) * (t - 5.0) / 55.0;
    1.0 + excess * shrink
}

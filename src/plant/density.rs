//! Density of the loop's fluid, so that a head in metres or feet can become a pressure.

use super::FluidKind;
use crate::hydraulics::fluid::{self, Fluid};
use crate::quantity::{Density, Temperature};

impl FluidKind {
    /// The fluid as the formulas know it.
    #[must_use]
    pub fn in_books(self) -> Fluid {
        match self {
            FluidKind::Water => Fluid::Water,
            FluidKind::EthyleneGlycol => Fluid::EthyleneGlycol,
            FluidKind::PropyleneGlycol => Fluid::PropyleneGlycol,
        }
    }
}

/// Density of water at 20 degC [kg/m3] (IAPWS-IF97), where temperature or share are not numbers.
const COLD_WATER: f64 = 998.2;

/// [`fluid::density`], held at the ends of its range: a head in metres is to become a pressure whatever else is declared.
#[must_use]
pub fn density(fluid: FluidKind, glycol_mass_fraction: f64, temperature: Temperature) -> Density {
    let fluid = fluid.in_books();
    let share = glycol_mass_fraction.clamp(0.0, fluid::LARGEST_MASS_FRACTION);
    let coldest = fluid::freezing_point(fluid, share).map_or(0.0, Temperature::in_celsius);
    let t = temperature.in_celsius().clamp(coldest, fluid::HOTTEST_C);
    fluid::density(fluid, share, Temperature::celsius(t)).unwrap_or(Density::kg_m3(COLD_WATER))
}

//! What the pump moves: density, heat capacity and viscosity of water and glycol, and the heat they carry.
//!
//! Comes in: fluid, mass fraction of glycol, temperature. Goes out: a property, or `None` outside the source's range
//! (0 to 100 degC for water; from freezing point to 100 degC and up to 60 % by mass for glycol). The decision a reader
//! would question: water is taken at 0.3 MPa, a usual pressure in a closed loop; at atmospheric pressure it is 0.01 % lighter.
//! Glycol quoted by volume must be turned to mass first: 30 % by volume is about 32 % by mass.

use super::coefficients as c;
use crate::quantity::{Density, Flow, HeatCapacity, Power, Temperature, TemperatureDifference, Viscosity};

/// Heat-transfer fluid of a loop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fluid {
    /// Water, clean.
    Water,
    /// Water with ethylene glycol.
    EthyleneGlycol,
    /// Water with propylene glycol.
    PropyleneGlycol,
}

/// Largest mass fraction of glycol in the source [-].
pub const LARGEST_MASS_FRACTION: f64 = 0.6;
/// Upper end of the sources' common temperature range [degC].
pub const HOTTEST_C: f64 = 100.0;

/// Density [kg/m3] of a fluid at `mass_fraction` of glycol [-] (ignored for water).
///
/// Source: water, IAPWS-IF97 region 1 at 0.3 MPa; glycol, Melinder, *Properties of Secondary Working Fluids*, IIR 2010,
/// as coded in the library CoolProp 8.0.0. Range as in the module's header; `None` outside.
///
/// ```
/// use offcurve::hydraulics::fluid::{density, Fluid};
/// use offcurve::quantity::Temperature;
/// // IAPWS-IF97, saturated-side liquid at 82 degC: 970.55 kg/m3.
/// let rho = density(Fluid::Water, 0.0, Temperature::celsius(82.0)).unwrap();
/// assert!((rho.in_kg_m3() / 970.5457 - 1.0).abs() < 5e-4);
/// ```
#[must_use]
pub fn density(fluid: Fluid, mass_fraction: f64, at: Temperature) -> Option<Density> {
    let kg_m3 = match in_range(fluid, mass_fraction, at)? {
        State::Water { u } => powers(&c::WATER_DENSITY, u),
        State::Ethylene { u, v } => terms(&c::ETHYLENE_DENSITY, u, v),
        State::Propylene { u, v } => terms(&c::PROPYLENE_DENSITY, u, v),
    };
    Some(Density::kg_m3(kg_m3))
}

/// Specific heat capacity at constant pressure [kJ/(kg K)]. Sources, range and outside as [`density`].
///
/// ```
/// use offcurve::hydraulics::fluid::{heat_capacity, Fluid};
/// use offcurve::quantity::Temperature;
/// // Melinder 2010 through CoolProp: ethylene glycol 30 % by mass at 5 degC, 3.6734 kJ/(kg K).
/// let cp = heat_capacity(Fluid::EthyleneGlycol, 0.3, Temperature::celsius(5.0)).unwrap();
/// assert!((cp.in_kj_kg_k() - 3.6734).abs() < 1e-4);
/// ```
#[must_use]
pub fn heat_capacity(fluid: Fluid, mass_fraction: f64, at: Temperature) -> Option<HeatCapacity> {
    let kj_kg_k = match in_range(fluid, mass_fraction, at)? {
        State::Water { u } => powers(&c::WATER_HEAT_CAPACITY, u),
        State::Ethylene { u, v } => terms(&c::ETHYLENE_HEAT_CAPACITY, u, v),
        State::Propylene { u, v } => terms(&c::PROPYLENE_HEAT_CAPACITY, u, v),
    };
    Some(HeatCapacity::kj_kg_k(kj_kg_k))
}

/// Dynamic viscosity [mPa s]. Sources, range and outside as [`density`]; for water IAPWS R12-08 (2008).
///
/// ```
/// use offcurve::hydraulics::fluid::{viscosity, Fluid};
/// use offcurve::quantity::Temperature;
/// // IAPWS R12-08: water at 20 degC, 1.0016 mPa s.
/// let mu = viscosity(Fluid::Water, 0.0, Temperature::celsius(20.0)).unwrap();
/// assert!((mu.in_mpa_s() / 1.0016 - 1.0).abs() < 0.01);
/// ```
#[must_use]
pub fn viscosity(fluid: Fluid, mass_fraction: f64, at: Temperature) -> Option<Viscosity> {
    let ln = match in_range(fluid, mass_fraction, at)? {
        State::Water { u } => powers(&c::WATER_LN_VISCOSITY, u),
        State::Ethylene { u, v } => terms(&c::ETHYLENE_LN_VISCOSITY, u, v),
        State::Propylene { u, v } => terms(&c::PROPYLENE_LN_VISCOSITY, u, v),
    };
    Some(Viscosity::mpa_s(ln.exp()))
}

/// Freezing point; `None` above 60 % by mass. Source as [`density`] (water: 0 degC).
///
/// ```
/// use offcurve::hydraulics::fluid::{freezing_point, Fluid};
/// // Melinder 2010 through CoolProp: ethylene glycol 30 % by mass, -14.58 degC.
/// assert!((freezing_point(Fluid::EthyleneGlycol, 0.3).unwrap().in_celsius() + 14.58).abs() < 0.01);
/// ```
#[must_use]
pub fn freezing_point(fluid: Fluid, mass_fraction: f64) -> Option<Temperature> {
    Some(Temperature::celsius(freezing_c(fluid, mass_fraction)?))
}

/// Heat [kW] carried by a flow that warms or cools by `difference`: Q = rho V cp dT, properties at temperature `at`.
///
/// `at` is where the flow is metered; the heat capacity there differs from the mean one by under 0.1 % for 10 K of water.
/// Source: first law; in US units Q \[Btu/h\] = 500 gpm dF for cool water (Taylor, *Degrading Chilled Water Plant
/// Delta-T: Causes and Mitigation*, ASHRAE Trans. 2002, AC-02-6-1, eq. 1).
///
/// ```
/// use offcurve::hydraulics::fluid::{heat, Fluid};
/// use offcurve::quantity::{Flow, Temperature, TemperatureDifference};
/// // 500 gpm through 10 F is 208.33 tons of 3.516853 kW by the rule of 500, which water keeps within 0.1 % at 20 degC.
/// let q = heat(Flow::gpm(500.0), TemperatureDifference::delta_f(10.0), Fluid::Water, 0.0, Temperature::celsius(20.0));
/// assert!((q.unwrap().in_kw() / (208.333 * 3.516853) - 1.0).abs() < 1.5e-3);
/// ```
#[must_use]
pub fn heat(
    flow: Flow,
    difference: TemperatureDifference,
    fluid: Fluid,
    mass_fraction: f64,
    at: Temperature,
) -> Option<Power> {
    let per_m3s_k = volumetric_heat_capacity(fluid, mass_fraction, at)?;
    Some(Power::kw(flow.in_m3s() * difference.in_kelvin() * per_m3s_k))
}

/// Flow that carries a heat at a temperature difference: V = Q / (rho cp dT). `None` outside the fluid's range or where
/// the difference is zero. Source as [`heat`].
#[must_use]
pub fn flow_for_heat(
    heat: Power,
    difference: TemperatureDifference,
    fluid: Fluid,
    mass_fraction: f64,
    at: Temperature,
) -> Option<Flow> {
    let per_m3s_k = volumetric_heat_capacity(fluid, mass_fraction, at)?;
    let flow = heat.in_kw() / (difference.in_kelvin() * per_m3s_k);
    flow.is_finite().then(|| Flow::m3s(flow))
}

/// Heat capacity of a volume, rho cp [kJ/(m3 K)], which is also kW per (m3/s K). Outside as [`density`].
#[must_use]
pub fn volumetric_heat_capacity(fluid: Fluid, mass_fraction: f64, at: Temperature) -> Option<f64> {
    let rho = density(fluid, mass_fraction, at)?.in_kg_m3();
    Some(rho * heat_capacity(fluid, mass_fraction, at)?.in_kj_kg_k())
}

/// Power [kW] that a flow gains from a head: P = Q dp. Source: definition.
///
/// ```
/// use offcurve::hydraulics::fluid::hydraulic_power_kw;
/// // 36 m3/h is 0.01 m3/s; at 100 kPa that is 1 kW.
/// assert!((hydraulic_power_kw(36.0, 100.0) - 1.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn hydraulic_power_kw(flow_m3h: f64, head_kpa: f64) -> f64 {
    flow_m3h * head_kpa / 3600.0
}

/// A fluid and the scaled variables of its polynomials.
enum State {
    Water { u: f64 },
    Ethylene { u: f64, v: f64 },
    Propylene { u: f64, v: f64 },
}

fn in_range(fluid: Fluid, mass_fraction: f64, at: Temperature) -> Option<State> {
    let t = at.in_celsius();
    // A millikelvin of grace: 0 degC read back from kelvin must not fall out by rounding.
    if !(freezing_c(fluid, mass_fraction)? - 1e-3..=HOTTEST_C + 1e-3).contains(&t) {
        return None;
    }
    let (u, v) = ((mass_fraction - 0.3) / 0.3, (t - 25.0) / 75.0);
    Some(match fluid {
        Fluid::EthyleneGlycol if mass_fraction > 0.0 => State::Ethylene { u, v },
        Fluid::PropyleneGlycol if mass_fraction > 0.0 => State::Propylene { u, v },
        _ => State::Water { u: t / 50.0 - 1.0 },
    })
}

fn freezing_c(fluid: Fluid, mass_fraction: f64) -> Option<f64> {
    let u = (mass_fraction - 0.3) / 0.3;
    match fluid {
        Fluid::Water => Some(0.0),
        _ if !(0.0..=LARGEST_MASS_FRACTION).contains(&mass_fraction) => None,
        _ if mass_fraction == 0.0 => Some(0.0),
        Fluid::EthyleneGlycol => Some(powers(&c::ETHYLENE_FREEZING, u)),
        Fluid::PropyleneGlycol => Some(powers(&c::PROPYLENE_FREEZING, u)),
    }
}

/// Horner's rule.
fn powers(coefficients: &[f64], u: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, k| sum * u + k)
}

fn terms(coefficients: &[f64; 18], u: f64, v: f64) -> f64 {
    coefficients.iter().zip(c::GLYCOL_TERMS).map(|(k, (i, j))| k * u.powi(i) * v.powi(j)).sum()
}

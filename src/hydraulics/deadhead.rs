//! What a pump does to the water it does not move.
//!
//! Comes in: plain numbers with their unit in the name. Goes out: the same; outside its range a formula answers NaN.

/// How fast water that stays in the casing warms [K/min]: all shaft power goes into it.
///
/// dT/dt = P / (rho V cp). `shaft_kw` shaft power at no flow [kW], not negative; `litres` water in the casing [L], above 0; `density_kg_m3` [kg/m3];
/// `heat_kj_kgk` specific heat [kJ/kg K]. Metal of the casing and heat lost to the room are left out, so it is an upper bound. NaN outside.
/// Source: derived from the heat balance.
///
/// ```
/// use offcurve::hydraulics::deadhead::heating_k_per_min;
/// // 2 kW into 10 L of water at 20 degC (998.2061 kg/m3 and 4.18479 kJ/kg K by IAPWS-IF97): 2 * 60 / (0.01 * 998.2061 * 4.18479) = 2.87 K/min.
/// assert!((heating_k_per_min(2.0, 10.0, 998.2061, 4.18479) - 2.87).abs() < 0.005);
/// // Half the water warms twice as fast.
/// assert!((heating_k_per_min(2.0, 5.0, 998.2061, 4.18479) - 5.745).abs() < 0.005);
/// assert!(heating_k_per_min(2.0, 0.0, 998.2, 4.18).is_nan());
/// ```
#[must_use]
pub fn heating_k_per_min(shaft_kw: f64, litres: f64, density_kg_m3: f64, heat_kj_kgk: f64) -> f64 {
    if shaft_kw >= 0.0 && litres > 0.0 && density_kg_m3 > 0.0 && heat_kj_kgk > 0.0 {
        shaft_kw * 60.0 / (litres / 1000.0 * density_kg_m3 * heat_kj_kgk)
    } else {
        f64::NAN
    }
}

/// The speed below which a pump opens no check valve against a head held by others, over rated \[-\].
///
/// s = sqrt(H / H0), by the affinity law at no flow. `held_kpa` head between the headers [kPa]; `shut_off_kpa` head at no flow and rated speed [kPa], above 0.
/// NaN outside. Source: affinity laws, common practice.
///
/// ```
/// use offcurve::hydraulics::deadhead::opening_speed;
/// // 6 m held, 26.67 m at shut-off: sqrt(6 / 26.67) = 47.4 %.
/// assert!((opening_speed(6.0, 26.67) - 0.474).abs() < 5e-4);
/// assert!(opening_speed(6.0, 0.0).is_nan());
/// ```
#[must_use]
pub fn opening_speed(held_kpa: f64, shut_off_kpa: f64) -> f64 {
    if held_kpa >= 0.0 && shut_off_kpa > 0.0 { (held_kpa / shut_off_kpa).sqrt() } else { f64::NAN }
}

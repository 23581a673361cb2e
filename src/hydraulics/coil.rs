//! A coil at part load, and what temperatures say about water that went another way.
//!
//! Comes in: heat-capacity rates [kW/K], UA [kW/K], temperatures [degC]. Goes out: heat, water rate, bypass share, mixed
//! temperature. The decision a reader would question: the coil is dry counterflow; a cooling coil that wets its fins
//! carries more heat, at the same trend. Heating is the same with signs turned: all here works with either.

/// Effectiveness \[-\] of a counterflow exchanger: (1 - e^-x) / (1 - Cr e^-x), x = NTU (1 - Cr); NTU / (1 + NTU) for Cr = 1.
/// `ntu` >= 0, `ratio` = Cmin/Cmax in \[0, 1\]; NaN outside. Source: Kays and London, *Compact Heat Exchangers* (from memory).
///
/// ```
/// use offcurve::hydraulics::coil::counterflow_effectiveness;
/// // Balanced streams, NTU 1: one half.
/// assert!((counterflow_effectiveness(1.0, 1.0) - 0.5).abs() < 1e-12);
/// ```
#[must_use]
pub fn counterflow_effectiveness(ntu: f64, ratio: f64) -> f64 {
    if !(ntu >= 0.0 && (0.0..=1.0).contains(&ratio)) {
        return f64::NAN;
    }
    // Nearer to balance than this the quotient loses digits and the limit is right to 1e-8.
    if 1.0 - ratio < 1e-8 {
        return ntu / (1.0 + ntu);
    }
    let e = (-ntu * (1.0 - ratio)).exp();
    (1.0 - e) / (1.0 - ratio * e)
}

/// Heat [kW] a coil moves: effectiveness times the smaller rate times the difference of the entering temperatures.
/// `ua`, `air`, `water` in kW/K, `entering` in K (air in less water in; its sign is the heat's). No flow, no heat.
#[must_use]
pub fn coil_heat(ua: f64, air: f64, water: f64, entering: f64) -> f64 {
    let (least, most) = (air.min(water), air.max(water));
    if least <= 0.0 {
        return 0.0;
    }
    counterflow_effectiveness(ua / least, least / most) * least * entering
}

/// Conductance UA [kW/K] of a coil that moves `heat` [kW] with these rates [kW/K] and entering difference [K]: the design
/// point turned around. `None` where more heat is asked than the rates can carry.
#[must_use]
pub fn ua_for(heat: f64, air: f64, water: f64, entering: f64) -> Option<f64> {
    let (least, most) = (air.min(water), air.max(water));
    let (e, r) = (heat / (least * entering), least / most);
    if !(0.0..1.0).contains(&e) {
        return None;
    }
    let ntu = if 1.0 - r < 1e-8 { e / (1.0 - e) } else { ((1.0 - e * r) / (1.0 - e)).ln() / (1.0 - r) };
    Some(ntu * least)
}

/// Water rate [kW/K] with which a coil moves `heat` [kW], its valve holding that load; the water's own rise or fall is then
/// heat / rate. `None` where no rate does it: the air side is the limit.
///
/// ```
/// use offcurve::hydraulics::coil::{ua_for, water_for};
/// // Air 27 to 13 degC at 10 kW/K, water from 6 degC rising 8.3 K: 140 kW, UA 14.631 kW/K.
/// let ua = ua_for(140.0, 10.0, 140.0 / 8.3, 21.0).unwrap();
/// assert!((ua - 14.63103).abs() < 1e-5);
/// // Half the air, UA by its 0.8th power: the water's rise grows to 11.18 K.
/// let water = water_for(70.0, ua * 0.5f64.powf(0.8), 5.0, 21.0).unwrap();
/// assert!((70.0 / water - 11.181).abs() < 1e-3);
/// ```
#[must_use]
pub fn water_for(heat: f64, ua: f64, air: f64, entering: f64) -> Option<f64> {
    // A thousand times the air's rate is water without limit.
    let most = 1e3 * air;
    let (load, side) = (heat.abs(), entering.abs());
    let reachable = heat * entering >= 0.0 && coil_heat(ua, air, most, side) >= load && load > 0.0;
    if !reachable {
        return None;
    }
    let (mut low, mut high) = (0.0, most);
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if coil_heat(ua, air, middle, side) < load { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}

/// Share \[-\] of the plant's return that came around the loads: (building return - plant return) / (building return - supply).
/// Temperatures in one unit, any. `None` where building return and supply are the same.
///
/// ```
/// use offcurve::hydraulics::coil::bypass_share;
/// // Liu, Claridge and Turner, Continuous Commissioning Guidebook, DOE/FEMP 2002: 54, 47 and 41 F, "approximately 54 %".
/// assert!((bypass_share(54.0, 47.0, 41.0).unwrap() - 0.538).abs() < 1e-3);
/// ```
#[must_use]
pub fn bypass_share(building_return: f64, plant_return: f64, supply: f64) -> Option<f64> {
    let share = (building_return - plant_return) / (building_return - supply);
    share.is_finite().then_some(share)
}

/// Supply temperature that a secondary loop gets when it takes more than the plant gives and return water fills up through
/// the decoupler: (Qp Ts + (Qs - Qp) Tr) / Qs; the plant's own where it does not. Flows in one unit, temperatures in one unit.
/// `None` where the secondary does not flow. Source: mass and energy balance.
///
/// ```
/// use offcurve::hydraulics::coil::decoupler_supply;
/// // 1000 of 1200 gpm at 44 F, the rest at 54 F: 44 + 10 / 6.
/// assert!((decoupler_supply(1000.0, 1200.0, 44.0, 54.0).unwrap() - 45.6667).abs() < 1e-4);
/// ```
#[must_use]
pub fn decoupler_supply(primary: f64, secondary: f64, plant_supply: f64, building_return: f64) -> Option<f64> {
    let back = (secondary - primary).max(0.0);
    (secondary > 0.0).then(|| plant_supply + back / secondary * (building_return - plant_supply))
}

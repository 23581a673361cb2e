//! What the terminals should give in an hour, and which hours may be held against it.

use super::seen::coil_difference;
use crate::faults::spread::quantile;
use crate::faults::{Case, CoilCase};
use crate::plant::{FluidKind, Service, Terminal, Valve};
use crate::quantity::{Flow, Temperature};
use crate::regimes::{Regime, ask_at};

/// Share of what it should be, from which a day is low [-]: published cases ran at half (Kirsner 1996, 8 of 16 F).
const LOW: f64 = 0.75;
/// The same for heating, where terminals, their entering air and the supply's own curve leave more open [-].
const LOW_HEATING: f64 = 0.60;
/// Rows count from this share of design flow on [-], and from this multiple of the minimum flow [-]: below them a
/// bypass mixes honestly and small flows read badly.
const FROM_FLOW: f64 = 0.25;
const ABOVE_MINIMUM: f64 = 1.3;
/// A chilled supply this much above design is a raised one [K].
const RAISED_K: f64 = 1.0;
/// Room temperature that heating terminals give to [degC]: common practice, no source.
const ROOM_C: f64 = 20.5;
/// Smallest supply-minus-room that a share is taken of [K].
const LEAST_DRIVE_K: f64 = 5.0;
/// Share of terminals with constant volume from which the level says nothing [-].
const CONSTANT_VOLUME: f64 = 0.3;
/// Share of the design flow on three-way valves from which the flow says too little of the load [-]: of the rest nothing stands out.
const MOSTLY_THREE_WAY: f64 = 0.7;
/// Cold glycol runs laminar in coil tubes below about 0.65 m/s (30 % ethylene glycol at 5 degC, 12 mm tube), of some 1 m/s at design: below
/// this share of design flow the difference falls honestly [-]. Weaker mixtures than this mass fraction [-] behave like water.
const FROM_FLOW_GLYCOL: f64 = 0.65;
const GLYCOL: f64 = 0.15;

pub fn low_limit(case: &Case) -> f64 {
    if case.plant.system.service == Service::HeatingWater { LOW_HEATING } else { LOW }
}

/// Steady rows well above minimum flow, off the speed floor, with both temperatures.
pub fn rows(case: &Case) -> Vec<usize> {
    let design = case.design_flow_m3h();
    let full = if design.is_finite() { design } else { quantile(case.loop_flow_m3h.iter().copied(), 0.98) };
    let from = (from_share(case) * full).max(ABOVE_MINIMUM * case.minimum_flow_m3h());
    (0..case.rows())
        .filter(|i| case.steady[*i] && case.loop_flow_m3h[*i] >= from && !case.frost[*i])
        .filter(|i| case.delta_t_k(*i).is_finite() && !case.all_in(*i, &[Regime::SpeedFloor]))
        .collect()
}

/// Share of design flow from which rows count [-].
fn from_share(case: &Case) -> f64 {
    let system = &case.plant.system;
    let thick = system.fluid != FluidKind::Water && system.glycol_mass_fraction >= GLYCOL;
    if thick && system.service == Service::ChilledWater { FROM_FLOW_GLYCOL } else { FROM_FLOW }
}

/// Whether design figures and terminals let the level itself be judged, and if not, why.
pub fn can_hold_to_design(case: &Case, rows: &[usize]) -> (bool, &'static str) {
    if !(case.design_delta_t_k() > 0.0) {
        return (false, "the design supply and return temperatures are not declared");
    }
    let constant = |c: &&CoilCase| {
        matches!(c.declared.terminal, Some(Terminal::Riser | Terminal::HeatExchanger))
            || matches!(c.declared.valve, Some(Valve::None))
    };
    let constants = case.coils.iter().filter(constant).count();
    if constants as f64 > CONSTANT_VOLUME * case.coils.len() as f64 {
        return (
            false,
            "constant-volume terminals lower the difference honestly at part load, and heat exchangers follow their other side",
        );
    }
    if three_way_share(case) > MOSTLY_THREE_WAY {
        return (false, "on three-way valves the flow stays and the difference falls with the load, as built");
    }
    let usable = rows.iter().filter(|i| expected_k(case, **i).is_finite()).count();
    if usable * 2 < rows.len() {
        return (
            false,
            "the supply ran away from its design temperature most of the time, which changes the difference honestly",
        );
    }
    (true, "")
}

/// What the terminals should give in a row, in the loop's water [K]; NaN where that cannot be said.
pub fn expected_k(case: &Case, i: usize) -> f64 {
    case.design_delta_t_k() * three_way(case, case.loop_flow_m3h[i]) * by_supply(case, i)
}

/// Share of its design difference that a terminal's own water should give at the supply of a row [-]; NaN where that cannot be said.
fn by_supply(case: &Case, i: usize) -> f64 {
    let declared = case.plant.system.supply_temperature.map_or(f64::NAN, Temperature::in_celsius);
    let supply = case.supply_c.map_or(f64::NAN, |s| s[i]);
    if case.plant.system.service == Service::HeatingWater {
        let drive = supply - ROOM_C;
        return if drive >= LEAST_DRIVE_K { (drive / (declared - ROOM_C)).min(1.0) } else { f64::NAN };
    }
    if supply - declared <= RAISED_K { 1.0 } else { f64::NAN }
}

/// Share of the design flow on declared three-way valves, whose flow does not fall with the load [-].
pub fn three_way_share(case: &Case) -> f64 {
    *case.looks.three_way_share.get_or_init(|| look_for_three_way(case))
}

fn look_for_three_way(case: &Case) -> f64 {
    let of = |only: bool| -> f64 {
        let wanted = case.coils.iter().filter(|c| !only || c.declared.valve == Some(Valve::ThreeWay));
        wanted.filter_map(|c| c.declared.design_flow).map(Flow::in_m3h).sum()
    };
    let all = of(false);
    if all > 0.0 { of(true) / all } else { 0.0 }
}

/// Share of the design difference that declared three-way valves leave at a flow [-]: with their share s always flowing
/// and the others at the load p of all, q = p (1 - s) + s, and the mix has p / q of the design difference (heat balance).
fn three_way(case: &Case, flow_m3h: f64) -> f64 {
    let s = three_way_share(case);
    let q = (flow_m3h / case.design_flow_m3h()).min(1.0);
    if s <= 0.0 || !q.is_finite() || s >= 1.0 {
        return 1.0;
    }
    ((q - s) / (1.0 - s) / q).clamp(0.2, 1.0)
}

/// Flow and head of a row had the water taken up what it should: less flow, and the head follows the curve down.
pub fn with_difference(case: &Case, i: usize, level: f64) -> (f64, f64) {
    let flow = case.loop_flow_m3h[i];
    let less = flow * level.clamp(0.4, 1.0);
    let asked = |q: f64| ask_at(case.plant, &case.plant.control, q, case.dp_setpoint_kpa.map_or(f64::NAN, |s| s[i]));
    let fall = asked(flow) - asked(less);
    (less, case.loop_head_kpa[i] - if fall.is_finite() { fall } else { 0.0 })
}

/// A coil's own design difference where its load and flow are declared (water: 1.163 kWh/m3 K), else the loop's [K].
pub fn coil_design_k(case: &Case, c: &CoilCase) -> f64 {
    const WATER_KWH_M3_K: f64 = 1.163;
    match (c.declared.design_load, c.declared.design_flow) {
        (Some(load), Some(flow)) => load.in_kw() / (WATER_KWH_M3_K * flow.in_m3h()),
        _ => case.design_delta_t_k(),
    }
}

/// What a coil's water takes up over what it should in a row [-]; NaN where that cannot be said. What three-way valves elsewhere let past is
/// no part of it; behind its own three-way valve the difference falls with its load, which nothing tells.
pub fn coil_ratio(case: &Case, k: usize, i: usize) -> f64 {
    let c = &case.coils[k];
    if c.declared.valve == Some(Valve::ThreeWay) {
        return f64::NAN;
    }
    coil_difference(case, c, i) / (coil_design_k(case, c) * by_supply(case, i))
}

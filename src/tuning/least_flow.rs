//! The flow that machines must keep, and how far the speed floor may go down.

use super::Basis;
use super::record::Record;
use crate::plant::Bypass;
use crate::quantity::{Flow, Fraction};

/// Rows at the least flows that do not count [-]: starts and stops.
const LEAST: f64 = 0.005;
/// Opening beyond which a bypass has no more to give [-].
const BYPASS_OPEN: f64 = 0.95;
/// Share of the running rows that the floor must hold before it is worth lowering [-].
const FLOOR_HOLDS: f64 = 0.05;
/// A bypass less open than this is shut [-].
const SHUT: f64 = 0.03;

/// Declared least flow of the machines at their worst combination, all that are declared at once [m3/h].
pub fn declared(b: &Basis) -> Option<f64> {
    b.plant.least_flow().map(Flow::in_m3h)
}

/// What every setting must keep [m3/h]: the declared least, else the least that the record saw.
pub fn kept(record: &Record) -> f64 {
    declared(record.b).unwrap_or_else(|| {
        let mut flows: Vec<f64> = record.rows.iter().map(|r| r.flow).collect();
        if flows.is_empty() {
            return 0.0;
        }
        flows.sort_by(f64::total_cmp);
        flows[((flows.len() - 1) as f64 * LEAST) as usize]
    })
}

/// Whether a bypass valve at this opening [-] (NaN unknown) comes to its end where the head falls to this share [-]: flow goes as the root of
/// pressure, so what it keeps asks for that much more opening.
pub fn bypass_ends(opening: f64, head_share: f64) -> bool {
    opening > SHUT && head_share < 1.0 && opening / head_share.max(1e-6).sqrt() > BYPASS_OPEN
}

/// Whether what a lower floor may leave the machines can be known: no bypass valve keeps their flow, or its position is trended.
fn bypass_is_seen(record: &Record) -> bool {
    record.b.plant.system.bypass != Some(Bypass::TwoWay) || record.bypass.is_some()
}

/// A lower speed floor, as it is set [-] and as a shaft speed [-], or why it stays (`None` where it hardly holds).
pub fn lower_floor(record: &Record) -> Result<(f64, f64), Option<String>> {
    let b = record.b;
    let Some(set) = b.plant.control.minimum_speed.map(Fraction::in_of_one) else { return Err(None) };
    let on_floor = record.rows.iter().filter(|r| r.held == super::record::Held::Floor).count() as f64;
    if on_floor < FLOOR_HOLDS * record.rows.len() as f64 {
        return Err(None);
    }
    let share = 100.0 * on_floor / record.rows.len() as f64;
    let stays = |why: &str| {
        Err(Some(format!("the speed floor holds the pumps for {share:.0} % of running hours and stays: {why}")))
    };
    let allowed: Option<Vec<f64>> =
        b.plant.pumps.iter().map(|p| p.minimum_allowed_speed.map(Fraction::in_of_one)).collect();
    let Some(allowed) = allowed else {
        return stays("the maker's minimum_allowed_speed is not declared for every pump");
    };
    let lowest = (100.0 * allowed.iter().copied().fold(0.0, f64::max)).ceil() / 100.0;
    if lowest >= set - 0.005 {
        return stays("it is already the lowest that the maker allows");
    }
    if declared(b).is_none() {
        return stays("no machine's minimum flow is declared, so whether a lower speed would keep it is not known");
    }
    if !bypass_is_seen(record) {
        return stays(
            "the position of the bypass valve is not trended, so whether it passes the minimum flow at a lower pressure is not known",
        );
    }
    Ok((lowest, record.floor * lowest / set))
}

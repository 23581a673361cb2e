//! Rows in which some pump runs, as far as a first look can tell; the operating stage looks closer.

use crate::ingest::Series;
use crate::plant::{Plant, Role};

/// A status counts as running when it was for more than this share of the row [share].
const MOSTLY: f64 = 0.5;
/// Below this share of its usual largest reading a speed or power is that of a pump at rest [share].
const AT_REST: f64 = 0.05;

/// Whether any pump runs, row by row; `None` where no point can tell.
pub(super) fn rows(plant: &Plant, series: &[Series], len: usize) -> Option<Vec<bool>> {
    let of_role = |role: Role| series.iter().filter(move |s| s.role == role).collect::<Vec<_>>();
    let usual = |s: &Series| super::share_of(s.values.iter().copied(), 0.95);
    for (role, status) in
        [(Role::PumpStatus, true), (Role::PumpSpeed, false), (Role::PumpPower, false), (Role::TotalPower, false)]
    {
        let witnesses = of_role(role);
        let enough = role == Role::TotalPower || witnesses.len() >= plant.pumps.len();
        if witnesses.is_empty() || !enough {
            continue;
        }
        let mut running = vec![false; len];
        for s in witnesses {
            let least = if status { MOSTLY } else { AT_REST * usual(s) };
            running.iter_mut().zip(&s.values).for_each(|(r, v)| *r |= *v > least && *v > 0.0);
        }
        return Some(running);
    }
    None
}

/// Rows since every pump is known to stand; 0 while one runs or is not known to stand.
pub(super) fn since_stop(plant: &Plant, series: &[Series], len: usize) -> Vec<u32> {
    let mut stands = vec![!plant.pumps.is_empty(); len];
    for pump in &plant.pumps {
        let of = |role: Role| series.iter().find(|s| s.role == role && s.of.as_ref() == Some(&pump.name));
        let witness = [Role::PumpStatus, Role::PumpSpeed, Role::PumpPower].into_iter().find_map(of);
        let Some(s) = witness else {
            stands.fill(false);
            break;
        };
        let usual = super::share_of(s.values.iter().copied(), 0.95);
        // A status that was on for a moment of the row is not off.
        let most = if s.role == Role::PumpStatus { 0.0 } else { AT_REST * usual };
        stands.iter_mut().zip(&s.values).for_each(|(off, v)| *off &= *v <= most);
    }
    let mut count = 0u32;
    let next = |off: bool| {
        count = if off { count.saturating_add(1) } else { 0 };
        count
    };
    stands.into_iter().map(next).collect()
}

//! What a pressure and a flow meter read while nothing runs: they should read nothing.

use super::doubt::{Kind, Sign, kept};
use super::{Doubt, Seen, share_of};
use crate::ingest::{Clock, Series};
use crate::plant::{Plant, Role, Service, Topology};

/// The loop has come to rest [h]; and so long must it be seen at rest, over so many stops, to speak.
const RESTS_H: f64 = 0.5;
const LEAST_H: f64 = 6.0;
const STOPS: usize = 2;
/// A reading at rest beyond this share of the high running one (95 % stay below) is no sensor's ordinary zero [-]: transmitters are good to 1 % of a span that is often twice
/// the reading (common practice, no source); of a meter in a heating loop, where warm water rises by itself, beyond the larger.
const BEYOND: f64 = 0.05;
const BEYOND_BY_GRAVITY: f64 = 0.10;
/// Nor below this [kPa].
const LEAST_KPA: f64 = 2.0;
/// A zero stands: the middle 80 % of it span less than this share of it [-]. What another pump makes comes and goes.
const STANDS: f64 = 0.4;
/// From this share of the usual reading on the point is worse than none [-]; from the larger on it is another pump's doing as well [-].
const REMOVED: f64 = 0.15;
const ANOTHER_PUMP: f64 = 0.5;

/// Differential pressures and flow meters with every pump at rest.
pub(super) fn judge(plant: &Plant, clock: &Clock, series: &mut [Series], seen: &Seen) -> Vec<Doubt> {
    series.iter_mut().filter_map(|s| one(plant, clock, s, seen)).collect()
}

fn one(plant: &Plant, clock: &Clock, s: &mut Series, seen: &Seen) -> Option<Doubt> {
    let pressure = matches!(s.role, Role::PumpHead | Role::DifferentialPressure);
    let flow = matches!(s.role, Role::PumpFlow | Role::LoopFlow);
    // Pumps that are not declared may move this water.
    let others = match plant.system.topology {
        Some(Topology::Tertiary | Topology::DistrictDirect | Topology::HeatExchanger) => true,
        Some(Topology::Secondary | Topology::ConstantPrimary) => flow,
        _ => false,
    };
    let open = plant.system.static_head.is_some_and(|h| h.in_kpa() > 0.0);
    if !(pressure || flow) || others || (pressure && open) {
        return None;
    }
    let settled = (RESTS_H / clock.hours()).ceil() as u32;
    let at_rest: Vec<usize> =
        (0..clock.len).filter(|&i| seen.since_stop[i] > settled && s.values[i].is_finite()).collect();
    let stops = at_rest.windows(2).filter(|w| w[1] != w[0] + 1).count() + usize::from(!at_rest.is_empty());
    if at_rest.len() as f64 * clock.hours() < LEAST_H || stops < STOPS {
        return None;
    }
    let of = |share: f64| share_of(at_rest.iter().map(|&i| s.values[i]), share);
    let zero = of(0.5);
    let usual = share_of((0..clock.len).filter(|&i| seen.since_stop[i] == 0).map(|i| s.values[i].abs()), 0.95);
    let gravity = flow && plant.system.service == Service::HeatingWater;
    let beyond = if gravity { BEYOND_BY_GRAVITY } else { BEYOND } * usual;
    let large = zero.abs() > beyond && (!pressure || zero.abs() > LEAST_KPA);
    if !large || of(0.9) - of(0.1) > STANDS * zero.abs() {
        return None;
    }
    let another = zero.abs() > ANOTHER_PUMP * usual;
    let removed = zero.abs() > REMOVED * usual && !another;
    let hours = at_rest.len() as f64 * clock.hours();
    let why = format!(
        "it reads {zero:.2} {} through {hours:.0} h with every pump at rest, {:.0} % of its high running reading; it should read nothing{}",
        s.unit,
        100.0 * zero.abs() / usual,
        if another {
            ", unless another pump holds that pressure or flow. It was kept"
        } else if removed {
            ". It was removed"
        } else {
            ". It was kept"
        }
    );
    let doubt = Doubt {
        removed,
        confidence: if another { 0.4 } else { 0.75 + 0.02 * stops.min(5) as f64 + if removed { 0.05 } else { 0.0 } },
        sign: Some(Sign {
            name: "reading with every pump at rest".into(),
            value: zero,
            unit: s.unit,
            expected: "0".into(),
        }),
        why,
        was: kept(s, removed),
        ..Doubt::of(clock, s, Kind::Biased, (0, clock.len - 1), at_rest.len())
    };
    if removed {
        s.values.fill(f64::NAN);
    }
    Some(doubt)
}

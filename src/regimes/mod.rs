//! Groups of points that belong together, against the control curve.
//!
//! Comes in: the declared control, the trends and the operating points. Goes out: for each pump and row the head its
//! control asks for and a [`Regime`], and the named [`Group`]s with their share of hours and energy.
//! The decision a reader would question: a row is called above or below the curve only where its own 95 % interval
//! leaves the curve, so that a wide interval reads as on the curve; what that hides is for the rules to say.
//! Start at [`sort`]; `ask.rs` is the control curve, `cells.rs` the clustering, `naming.rs` the physics.

mod ask;
mod cells;
mod groups;
mod naming;

pub use ask::{Ask, ask, ask_at};
pub use naming::{CURVE_TOLERANCE, speed_floor};

use crate::notice::{Notice, Noticed};
use crate::operating::{OperatingPoints, PumpPoints};
use crate::plant::Plant;
use crate::screening::Screened;
use rayon::prelude::*;

/// Where a row stands, named by physics.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Regime {
    OnCurve,
    AboveCurve,
    BelowCurve,
    SpeedFloor,
    FullSpeed,
    Off,
    Transient,
    Unknown,
}

/// One named group of one pump.
#[derive(Debug, Clone)]
pub struct Group {
    pub pump: String,
    pub regime: Regime,
    pub hours: f64,
    /// Share of the pump's hours whose state is known, off included [-].
    pub share_of_hours: f64,
    /// Share of the pump's energy [-].
    pub share_of_energy: f64,
    /// Centre and spread (standard deviation).
    pub flow_m3h: (f64, f64),
    pub head_excess_kpa: (f64, f64),
    pub speed: (f64, f64),
    pub delta_t_k: (f64, f64),
}

/// One pump's regimes, one entry a row.
#[derive(Debug, Clone)]
pub struct PumpRegimes {
    pub pump: String,
    /// What the configured control curve asks at the loop's flow [kPa]; NaN where it cannot be known at the pump.
    pub curve_head_kpa: Vec<f64>,
    pub regime: Vec<Regime>,
}

/// All regimes of a review.
#[derive(Debug, Clone)]
pub struct Regimes {
    pub pumps: Vec<PumpRegimes>,
    pub groups: Vec<Group>,
}

/// Sorts every row of every pump into a regime, and the rows into groups.
#[must_use]
pub fn sort(plant: &Plant, screened: &Screened, points: &OperatingPoints) -> Noticed<Regimes> {
    let mut notices = Vec::new();
    let asked = ask(plant, screened, &points.system);
    let delta_t = groups::delta_t(screened);
    let mut regimes = Regimes { pumps: Vec::new(), groups: Vec::new() };
    let one = |pump| one(plant, screened, &asked, pump, delta_t.as_deref());
    // Pumps beside each other; what they bring is put together in their order.
    let sorted: Vec<_> = points.pumps.par_iter().with_max_len(1).map(one).collect();
    for (pump, groups, notice) in sorted {
        regimes.pumps.push(pump);
        regimes.groups.extend(groups);
        notices.extend(notice.map(|text| Notice::new("regimes", text)));
    }
    if plant.control.mode.is_none() {
        notices
            .push(Notice::new("regimes", "no control mode is declared: points are not held against a control curve"));
    }
    Noticed { value: regimes, notices }
}

/// One pump: its own physics row by row, then the clusters, which take strays near their edge in.
fn one(
    plant: &Plant,
    screened: &Screened,
    asked: &Ask,
    pump: &PumpPoints,
    delta_t: Option<&[f64]>,
) -> (PumpRegimes, Vec<Group>, Option<String>) {
    let naming = naming::Naming::new(plant, &screened.clock, asked, pump);
    let mut regime: Vec<Regime> = (0..pump.state.len()).map(|i| naming.row(i)).collect();
    let excess: Vec<f64> = (0..regime.len()).map(|i| naming.excess_kpa(i)).collect();
    let clusters = cells::cluster(plant, pump, &excess, &regime, delta_t);
    let names = clusters.names(&regime);
    clusters.take_strays_in(&naming, &names, &mut regime);
    let groups = groups::of(pump, &regime, &clusters, &names, &excess, delta_t, screened.clock.hours());
    let sorted = PumpRegimes { pump: pump.pump.clone(), curve_head_kpa: asked.curve_head_kpa.clone(), regime };
    (sorted, groups, naming.notice())
}

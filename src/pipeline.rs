//! The stages in order, as one function that reads as a sentence.
//!
//! Comes in: a plant and its trends. Goes out: a [`Review`]: everything a report may say. It computes nothing itself.

use crate::faults::{self, Calendar, Case, Verdict};
use crate::ingest::{Clock, Ledger, Trends};
use crate::r#loop::{self as system_loop, Learned, Need, Replay};
use crate::notice::{Notice, Noticed};
use crate::operating::{self, OperatingPoints, Reconstructed, State};
use crate::plant::Plant;
use crate::regimes::{self, Regimes};
use crate::screening::{self, Doubt, Screened};
use crate::tuning::{self, Tuning};

/// Everything a report may say.
#[derive(Debug, Clone)]
pub struct Review {
    pub plant: Plant,
    /// The period [ms UTC]: from inclusive, to exclusive.
    pub from_ms: i64,
    pub to_ms: i64,
    /// Share of the period's rows in which every pump's running state is known [-].
    pub coverage: f64,
    /// Pump energy in the period [kWh].
    pub energy_kwh: f64,
    pub clock: Clock,
    pub ledger: Ledger,
    pub screened: Screened,
    pub doubts: Vec<Doubt>,
    pub points: OperatingPoints,
    /// The pump models that the record taught, one a pump with a table.
    pub machines: Vec<operating::Machine>,
    /// Tables that pumps without one learned from a meter.
    pub learned_tables: Vec<operating::LearnedTable>,
    pub regimes: Regimes,
    /// The head that would have been enough with the neediest valve at 90 % open, one a row [kPa]; NaN where unknown.
    pub need_kpa: Vec<f64>,
    /// The same by the loop that asks most of those which explain the record [kPa].
    pub need_high_kpa: Vec<f64>,
    /// Index of the neediest coil, one a row; `u16::MAX` where unknown.
    pub neediest: Vec<u16>,
    pub verdicts: Vec<Verdict>,
    pub tuning: Tuning,
    pub notices: Vec<Notice>,
    pub assumed: Vec<String>,
}

/// Why a review could not be made.
#[derive(Debug, Clone, thiserror::Error, PartialEq, Eq)]
pub enum ReviewError {
    /// The period holds no row.
    #[error(
        "{plant}: no trend row lies in the period asked for\nhint: the record runs from {from} to {to} (UTC); give --from and --to inside it"
    )]
    EmptyPeriod { plant: String, from: String, to: String },
}

/// Reviews a plant over its trends.
///
/// # Errors
/// Where the trends hold no row of the period.
pub fn review(plant: Plant, trends: Noticed<Trends>, window: Option<(i64, i64)>) -> Result<Review, ReviewError> {
    let Noticed { value: trends, mut notices } = trends;
    let (clock, ledger) = (trends.clock, trends.ledger.clone());
    if clock.len == 0 {
        return Err(ReviewError::EmptyPeriod { plant: plant.name, from: "no row".to_owned(), to: "no row".to_owned() });
    }
    let screened = keep(screening::screen(&plant, trends), &mut notices);
    let reconstructed = keep(operating::reconstruct(&plant, &screened), &mut notices);
    let (regimes, asked) = sorted(&plant, &screened, &reconstructed);
    let regimes = keep(regimes, &mut notices);
    let verdicts = judged(&plant, &screened, &reconstructed, &regimes, &asked);
    let Asked { learned, need, calendar } = asked;
    let tuning = tuning::tune(&tuning::Basis {
        plant: &plant,
        clock,
        local_day: &calendar.local_day,
        frost: &calendar.frost,
        screened: &screened,
        setpoint: screened.values(crate::plant::Role::DifferentialPressureSetpoint, None),
        reconstructed: &reconstructed,
        regimes: &regimes,
        learned: learned.as_ref(),
        need: &need,
        verdicts: &verdicts,
    });
    let powers = reconstructed.points.system.power_kw.iter().filter(|p| p.is_finite());
    let energy_kwh = powers.fold(0.0, |sum, p| sum + p) * clock.hours();
    let (from_ms, to_ms) = window.unwrap_or((clock.start_ms, clock.at_ms(clock.len)));
    Ok(Review {
        assumed: plant.assumed.clone(),
        plant,
        from_ms,
        to_ms,
        coverage: coverage(&reconstructed.points, from_ms, to_ms, clock),
        energy_kwh,
        clock,
        ledger,
        doubts: screened.doubts.clone(),
        screened,
        points: reconstructed.points,
        machines: reconstructed.machines,
        learned_tables: reconstructed.learned_tables,
        regimes,
        need_kpa: need.head_kpa,
        need_high_kpa: need.high_kpa,
        neediest: need.neediest,
        verdicts,
        tuning,
        notices,
    })
}

/// The verdicts on a part of a record that is reconstructed already, and nothing else of a review: `first` is the part's first row in it.
#[must_use]
pub fn verdicts(plant: &Plant, part: Trends, whole: &Reconstructed, first: usize) -> Vec<Verdict> {
    let screened = screening::screen(plant, part).value;
    let reconstructed = whole.part(plant, &screened, first);
    let (regimes, asked) = sorted(plant, &screened, &reconstructed);
    judged(plant, &screened, &reconstructed, &regimes.value, &asked)
}

/// What the loop asked for, and when.
struct Asked {
    learned: Option<Learned>,
    need: Need,
    calendar: Calendar,
}

/// The regimes, and what the loop asked for: neither knows the other.
fn sorted(plant: &Plant, screened: &Screened, reconstructed: &Reconstructed) -> (Noticed<Regimes>, Asked) {
    let points = &reconstructed.points;
    let asked = || {
        let learned = system_loop::learn(plant, screened, reconstructed);
        let need = || system_loop::need(plant, screened, &points.system, learned.as_ref());
        let (need, calendar) = rayon::join(need, || Calendar::of(plant, screened));
        Asked { learned, need, calendar }
    };
    rayon::join(|| regimes::sort(plant, screened, points), asked)
}

fn judged(
    plant: &Plant,
    screened: &Screened,
    reconstructed: &Reconstructed,
    regimes: &Regimes,
    Asked { need, calendar, .. }: &Asked,
) -> Vec<Verdict> {
    let replay = Replay::new(&reconstructed.machines);
    let price = |flow: f64, head: f64, on: u8| replay.power_kw(flow, head, on);
    faults::judge(&Case::gather(plant, screened, reconstructed, regimes, calendar, need, &price))
}

fn keep<T>(noticed: Noticed<T>, notices: &mut Vec<Notice>) -> T {
    notices.extend(noticed.notices);
    noticed.value
}

/// Share of the period's intervals in which every pump's state is known.
fn coverage(points: &OperatingPoints, from_ms: i64, to_ms: i64, clock: Clock) -> f64 {
    let known = (0..clock.len).filter(|&i| points.pumps.iter().all(|p| p.state[i] != State::Unknown)).count();
    let wanted = ((to_ms - from_ms) / (clock.step_s * 1000)).max(1);
    (known as f64 / wanted as f64).min(1.0)
}

//! A change of setting, verified: everything that the report of one may say.
//!
//! Comes in: a plant, its trends, and what the caller knows of the change. Goes out: a [`Verification`]. It puts the plant's record before [`crate::verify`], which
//! does the statistics, and adds what those cannot know: the setting before and after, whether the points moved, coils short of water, faults that are new. The
//! decision a reader would question: the pumps' energy is the metered one where it is metered, and where it is not, one model of the pumps for the whole record fills
//! it, so that before and after share its error. Start at [`verify`]; `when.rs` finds the change, `record.rs` the columns, `moved.rs` whether it took, `comfort.rs` and
//! `effects.rs` what got worse.

mod comfort;
mod effects;
mod error;
mod moved;
mod record;
mod when;

pub use comfort::{CoilShort, Comfort, Like, Short, Tendency};
pub use effects::{Effects, SideEffect};
pub use error::VerifyError;
pub use record::load;
pub use when::{Changed, Source};

use crate::ingest::{Clock, Ledger, Trends};
use crate::notice::{Notice, Noticed};
use crate::operating::{self, OperatingPoints};
use crate::plant::{Control, Plant};
use crate::regimes::{self, Regimes};
use crate::screening::{self, Screened};
use crate::verify::took::Took;
use crate::verify::{self as statistics, Refusal, Saving, Setting, Stretch};

/// What the caller says of the change [ms UTC].
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Asked {
    pub changed_ms: Option<i64>,
    pub before: Option<(i64, i64)>,
    pub after: Option<(i64, i64)>,
}

/// Everything a report may say.
#[derive(Debug, Clone)]
pub struct Verification {
    pub plant: Plant,
    pub clock: Clock,
    pub ledger: Ledger,
    pub points: OperatingPoints,
    pub regimes: Regimes,
    pub changed: Changed,
    /// Which setting stood when, in order, cut to the record.
    pub stretches: Vec<Stretch>,
    /// Where the pumps' energy comes from, in words.
    pub energy_from: String,
    /// Where the load comes from, in words; `None` where none is metered apart from the pumps.
    pub load_from: Option<String>,
    /// Outdoor temperature is trended.
    pub outdoor: bool,
    pub saving: Result<Saving, Refusal>,
    pub took: Took,
    /// What the plant file says of the setting before and after; the same where it names one only.
    pub settings: (Control, Control),
    pub comfort: Comfort,
    pub effects: Effects,
    pub notices: Vec<Notice>,
}

impl Verification {
    /// Whether the old or the new setting stood at an instant [ms UTC].
    #[must_use]
    pub fn setting_at(&self, ms: i64) -> Option<Setting> {
        self.stretches.iter().find(|s| (s.from_ms..s.to_ms).contains(&ms)).map(|s| s.setting)
    }

    /// First instant and first after the last of all stretches of one setting [ms UTC].
    #[must_use]
    pub fn period(&self, setting: Setting) -> (i64, i64) {
        let own = || self.stretches.iter().filter(|s| s.setting == setting);
        (own().map(|s| s.from_ms).min().unwrap_or(0), own().map(|s| s.to_ms).max().unwrap_or(0))
    }
}

/// Verifies a change over the whole record.
///
/// # Errors
/// Where no change can be placed in the record, or nothing lies on one side of it, or no energy is known.
pub fn verify(plant: Plant, trends: Noticed<Trends>, asked: &Asked) -> Result<Verification, VerifyError> {
    let Noticed { value: trends, mut notices } = trends;
    let (clock, ledger) = (trends.clock, trends.ledger.clone());
    if clock.len == 0 {
        return Err(VerifyError::NoRow { plant: plant.name });
    }
    let screened = keep(screening::screen(&plant, trends.clone()), &mut notices);
    let reconstructed = keep(operating::reconstruct(&plant, &screened), &mut notices);
    let points = &reconstructed.points;
    let regimes = keep(regimes::sort(&plant, &screened, points), &mut notices);
    let columns = record::Columns::new(&plant, &screened, points, &mut notices)?;
    let view = View { plant: &plant, clock, screened: &screened, points, regimes: &regimes };
    let (changed, stretches) = when::settle(&view, asked, &mut notices)?;
    let saving = statistics::saving(&columns.record(&plant, clock), &stretches);
    if let Err(refusal) = &saving {
        error::refuse(&plant, clock, &changed, refusal)?;
    }
    let (before, after) = (longest(&stretches, Setting::Old), longest(&stretches, Setting::New));
    let settings = (stood(&plant, before), stood(&plant, after));
    let took = moved::judge(&view, &changed, &stretches, &settings);
    let comfort = comfort::judge(&view, &columns, &stretches);
    // Each part is screened by itself; the whole of it is not needed any more.
    drop(screened);
    let effects = effects::judge(&plant, &trends, &reconstructed, before, after);
    Ok(Verification {
        energy_from: columns.energy_from,
        load_from: columns.load_from,
        outdoor: columns.outdoor_c.iter().any(|v| v.is_finite()),
        plant,
        clock,
        ledger,
        points: reconstructed.points,
        regimes,
        changed,
        stretches,
        saving,
        took,
        settings,
        comfort,
        effects,
        notices,
    })
}

/// What the parts of this stage look at.
#[derive(Clone, Copy)]
struct View<'a> {
    plant: &'a Plant,
    clock: Clock,
    screened: &'a Screened,
    points: &'a OperatingPoints,
    regimes: &'a Regimes,
}

impl View<'_> {
    /// Instants of the rows [ms UTC].
    fn times(&self) -> Vec<i64> {
        (0..self.clock.len).map(|i| self.clock.at_ms(i)).collect()
    }

    fn end_ms(&self) -> i64 {
        self.clock.at_ms(self.clock.len)
    }
}

fn keep<T>(noticed: Noticed<T>, notices: &mut Vec<Notice>) -> T {
    notices.extend(noticed.notices);
    noticed.value
}

/// The longest stretch of a setting: what is judged by one stretch alone is judged by it.
fn longest(stretches: &[Stretch], setting: Setting) -> (i64, i64) {
    let own = stretches.iter().filter(|s| s.setting == setting);
    own.max_by_key(|s| s.to_ms - s.from_ms).map_or((0, 0), |s| (s.from_ms, s.to_ms))
}

/// The setting in the middle of a stretch, as the plant file has it.
fn stood(plant: &Plant, (from, to): (i64, i64)) -> Control {
    plant.control_at(from + (to - from) / 2).clone()
}

//! What a figure of a finding shows beside the review's own columns: the rows that count, and what the rule held them against.
//!
//! Comes in: what a rule has in hand when it finds. Goes out: [`Shown`], kept with the finding. The decision a reader would question: the rule hands
//! over its own limits and expected values instead of letting the report compute them again, so that a figure cannot disagree with the verdict. Columns
//! here are single precision: a figure is a thousand pixels wide.

use std::ops::Range;

/// Kept with a finding.
#[derive(Debug, Clone, Default)]
pub struct Shown {
    /// The rows that the finding counts.
    pub rows: Stretches,
    pub what: What,
}

impl Shown {
    /// Rows in rising order, and what they show.
    pub(super) fn new(rows: &[usize], what: What) -> Self {
        Self { rows: Stretches::of(rows.iter().copied()), what }
    }
}

/// What the rule looked at; each column has one entry a row of the clock, NaN where unknown.
#[derive(Debug, Clone, Default)]
pub enum What {
    /// Nothing beside the table of evidence.
    #[default]
    Nothing,
    /// Speeds of these pumps that swing between two levels; `floor` is NaN above the floor [-].
    Swing { pumps: Vec<String>, low: f64, high: f64, floor: f64, period_min: f64 },
    /// Rows in which a pump started with how often, and the starts an hour that are too many [1/h].
    Starts { starts: Vec<(u32, f32)>, too_often: f64 },
    /// Head of these pumps, or the reading at the control's own sensor, against what the control asks there; how far apart is within the errors [kPa].
    OffCurve { pumps: Vec<String>, measured_kpa: Vec<f32>, asked_kpa: Vec<f32>, by_sensor: bool, within_kpa: f64 },
    /// Head of the loop against the head that would have been enough (a column of the review); the share of the head that the need must reach [-], and
    /// where the curve's lower end is what is too high, the zero-flow head that would have been enough [kPa].
    TooMuchHead { share: f64, zero_enough_kpa: Option<f64> },
    /// Coils that starve, those with most hours first; a valve from `at_end` on is at its end [-], air off by `short_k` is short [K].
    Starving { coils: Vec<String>, at_end: f64, short_k: f64 },
    /// The difference of the loop's water, or of one coil's, against what it should be (empty: the level itself is not judged); the row from which it fell,
    /// where it is held against the days before; and the share of the one or the other from which it is low [-].
    Water { coil: Option<String>, expected_k: Vec<f32>, limit: f64, since: Option<u32> },
    /// A pump's speed on a floor and the lowest that is allowed [-], with the head that is asked [kPa].
    Floor { floor: f64, lowest: f64, asked_kpa: Vec<f32> },
    /// A speed that stands at a level [-].
    Stands { level: f64 },
    /// Running that lies outside the declared schedule.
    OutOfHours,
    /// Flow over best-efficiency flow at the speed of the row [-], and the preferred region.
    Region { ratio: Vec<f32>, low: f64, high: f64 },
    /// Readings of a pump held against each other day by day ([`crate::operating::days::Day`]): the pair that moved, from when on, and by how much an
    /// honest one may [-].
    Moved { pump: String, pair: usize, since_ms: i64, within: f64 },
    /// Head at rated speed against the pump's own test, all through the record.
    BelowTest,
    /// One pump more than the duty asks: power as it was and with one fewer, where it was priced [kW].
    TooMany { with_fewer_kw: Vec<(u32, f32)> },
    /// Full speed with a pump idle and the head short of what is asked.
    TooFew,
    /// A pump that comes and goes, and the loop flows just before [m3/h].
    ComesAndGoes { on_m3h: f64, off_m3h: f64 },
    /// A pump that turns without flow: its head at no flow and that speed, and the head held between the headers [kPa].
    NoFlow { no_flow_kpa: Vec<f32>, held_kpa: Vec<f32> },
    /// The bypass's position, the flow from which it has no business to be open [m3/h], and from where it is open [-].
    BypassOpen { from_m3h: f64, open: f64 },
    /// The plant's difference against that of the coils' mixed water [K], with the rows, and the share from which it counts [-].
    PastTheCoils { points: Vec<(u32, f32, f32)>, least_share: f64 },
    /// Conductance that no valve explains, as share of the loop's, one a local day; the first day of the step, and the least rise that counts [-].
    Unexplained { daily: Vec<f32>, at: usize, least: f64 },
    /// What screening doubts: the place in the review's doubts is found by the point's name.
    Doubted,
}

/// A column for a figure.
pub(super) fn column(rows: usize, of: impl Fn(usize) -> f64) -> Vec<f32> {
    (0..rows).map(|i| of(i) as f32).collect()
}

/// Rows as stretches of neighbours: a year at 1 min is half a million rows, but few stretches.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Stretches(Vec<Range<u32>>);

impl Stretches {
    /// Of rows in rising order.
    #[must_use]
    pub fn of(rows: impl IntoIterator<Item = usize>) -> Self {
        let mut all: Vec<Range<u32>> = Vec::new();
        for row in rows.into_iter().filter_map(|r| u32::try_from(r).ok()) {
            match all.last_mut() {
                Some(last) if row < last.end => {}
                Some(last) if row == last.end => last.end += 1,
                _ => all.push(row..row + 1),
            }
        }
        Self(all)
    }
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
    /// How many rows there are within a range.
    #[must_use]
    pub fn count_in(&self, range: &Range<usize>) -> usize {
        self.within(range).map(|r| r.len()).sum()
    }
    /// The stretches within a range, cut to it.
    pub fn within(&self, range: &Range<usize>) -> impl Iterator<Item = Range<usize>> {
        let from = self.0.partition_point(|r| (r.end as usize) <= range.start);
        let (start, end) = (range.start, range.end);
        self.0[from..]
            .iter()
            .map(move |r| (r.start as usize).max(start)..(r.end as usize).min(end))
            .take_while(|r| r.start < r.end)
    }
    /// Whether a row is one of them.
    #[must_use]
    pub fn has(&self, row: usize) -> bool {
        let k = self.0.partition_point(|r| (r.end as usize) <= row);
        self.0.get(k).is_some_and(|r| r.start as usize <= row)
    }
    /// First row and the one after the last.
    #[must_use]
    pub fn ends(&self) -> Option<Range<usize>> {
        Some(self.0.first()?.start as usize..self.0.last()?.end as usize)
    }
}

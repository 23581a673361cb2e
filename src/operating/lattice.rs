//! The posterior of many rows from that of few: a lattice over speed, head and power.
//!
//! Comes in: a mixture, its noise, and the rows of a long record. Goes out: [`Lattice`]: what the mixture says at the corners of every cell that
//! holds a row, from which a row's answer lies straight between. Head is held over speed squared and power over speed cubed, where the posterior
//! hardly knows speed. The decision a reader would question: a cell is believed only where all its corners hear the same and have one answer, where
//! opposite ones lie about its middle as on a plane, and where the straight answer at its middle, the place of its largest error, is the mixture's own
//! to [`STRAIGHT`] of half the interval; rows elsewhere, and rows with any other reading, are worked out one by one. Where the mixture itself jumps
//! (from the best fit to the mean), a row beside the jump may be told as its neighbour across it.

use super::field::{SPEED_FROM, SPEED_TO};
use super::mixture::Mixture;
use super::model::{Around, Hour, witness};
use super::noise::Noise;
use super::posterior::Said;
use super::witness::Row;
use rayon::prelude::*;
use witness::{COUNT, HEAD, POWER};

/// Fewer rows are worked out one by one.
pub const MANY: usize = 100_000;
/// Rows that make a cell worth its corners.
const CROWDED: usize = 12;
/// What an answer may lie beside the mixture's own, of half the interval [-].
pub const STRAIGHT: f64 = 0.03;
/// The same of the interval's ends [-].
pub const ENDS: f64 = 0.05;
/// Steps of the natural logarithms of speed, head over speed squared and power over speed cubed.
const STEPS: [f64; 3] = [0.01, 0.008, 0.016];
/// Cells that are not believed are halved so often, in every direction.
const LEVELS: u64 = 4;
/// Relative density [-] and logarithm of viscosity are taken to so much.
const DENSITY_STEP: f64 = 1e-4;
const THICKER_STEP: f64 = 0.01;

/// Bits of a cell's name: speed, head, power, density, viscosity, how often the cell was halved, and whether the row is a moving one.
const BITS: [u32; 7] = [12, 16, 16, 10, 7, 2, 1];
/// Where each starts.
const AT: [u32; 7] = [0, 12, 28, 44, 54, 61, 63];
const LEVEL: usize = 5;
const MOVING: usize = 6;
/// A reading that is not there.
const MISSING: u64 = (1 << 16) - 1;

/// What a corner says, each over the power of speed it goes with.
const PARTS: usize = 9;
/// Flow, its ends and its common error; head, its own error and its common one; power; shaft speed less the shown one.
const POWERS: [i32; PARTS] = [1, 1, 1, 1, 2, 2, 2, 3, 0];

#[derive(Debug, Clone, Copy)]
struct Corner {
    heard: u8,
    parts: [f64; PARTS],
}

/// Where a row lies: its cell, and how far into it.
#[derive(Debug, Clone, Copy)]
struct Place {
    cell: u64,
    into: [f64; 3],
}

/// Where a row lies at every level: the natural logarithms of what the cells are cut by, and the part of the name that all its cells have.
#[derive(Debug, Clone, Copy)]
struct Along {
    logs: [f64; 3],
    name: u64,
}

/// Corners worked out, and cells that may be believed: wide cells, and narrower ones where those were not.
#[derive(Debug)]
pub struct Lattice {
    has_power: bool,
    thickens: bool,
    levels: Vec<Level>,
}

/// Cells of one width, by name.
#[derive(Debug)]
struct Level {
    cells: Vec<u64>,
    /// The places of a cell's corners among `corners`; `None` where its rows are worked out one by one.
    corners_of: Vec<Option<[u32; 8]>>,
    corners: Vec<Option<Corner>>,
}

impl Lattice {
    /// Over rows named by their place in the record, with whether they move; `None` where they are too few for it to be worth it.
    #[must_use]
    pub fn over(
        rows: &[(usize, bool)],
        row: impl Fn(usize) -> Row + Sync,
        mixture: &Mixture,
        noise: Noise,
    ) -> Option<Self> {
        if rows.len() < MANY {
            return None;
        }
        let thickens = mixture.likeliest().is_some_and(|h| h.model.thickens());
        let mut out = Self { has_power: mixture.has_power(), thickens, levels: Vec::new() };
        // Rows not covered yet.
        let mut left: Vec<Along> = rows.par_iter().filter_map(|&(i, moving)| out.along(&row(i), moving)).collect();
        for level in 0..LEVELS {
            let mut cells: Vec<u64> = left.par_iter().filter_map(|along| along.place(level).map(|p| p.cell)).collect();
            cells.par_sort_unstable();
            let crowded = cells.chunk_by(|a, b| a == b).filter(|c| c.len() >= CROWDED);
            let cells = crowded.map(|c| c[0]).collect();
            let grown = Level::over(cells, mixture, noise);
            out.levels.push(grown);
            let grown = &out.levels[level as usize];
            let covers = |along: &Along| along.place(level).is_some_and(|p| grown.corners_of(p.cell).is_some());
            left = left.into_par_iter().filter(|along| !covers(along)).collect();
        }
        Some(out)
    }

    /// What the mixture says of a row, to [`STRAIGHT`]; `None` where the row must be worked out by itself.
    #[must_use]
    pub fn say(&self, row: &Row, moving: bool) -> Option<Said> {
        let along = self.along(row, moving)?;
        let mut levels = self.levels.iter().enumerate();
        let corner = levels.find_map(|(level, of)| {
            let place = along.place(level as u64)?;
            of.between(of.corners_of(place.cell)?, place.into)
        })?;
        let s = row.speed;
        let part = |k: usize| corner.parts[k] * s.powi(POWERS[k]);
        Some(Said {
            flow: part(0),
            low: part(1),
            high: part(2),
            sd_common: part(3),
            head: part(4),
            head_sd: part(5),
            head_sd_common: part(6),
            power: part(7),
            speed: s + part(8),
            heard: corner.heard,
            peaks: None,
        })
    }

    /// Where a row lies; `None` where it has other readings than head and power, or not both.
    fn along(&self, row: &Row, moving: bool) -> Option<Along> {
        let mut others = (0..COUNT).filter(|&w| w != HEAD && w != POWER);
        if others.any(|w| row.reading[w].is_finite()) {
            return None;
        }
        let s = row.speed;
        if !(s > SPEED_FROM && s < SPEED_TO) {
            return None;
        }
        let density = binned((row.hour.density - 1.0) / DENSITY_STEP, 3)?;
        let thicker = binned(if self.thickens { row.hour.thicker / THICKER_STEP } else { 0.0 }, 4)?;
        let mut name = u64::from(moving) << AT[MOVING] | density << AT[3] | thicker << AT[4];
        let mut logs = [0.0; 3];
        let along = [s / SPEED_FROM, row.reading[HEAD] / (s * s), row.reading[POWER] / (s * s * s)];
        for (d, value) in along.into_iter().enumerate() {
            if d == 0 || (value.is_finite() && (d != 2 || self.has_power)) {
                logs[d] = value.ln();
            } else {
                name |= MISSING << AT[d];
            }
        }
        let there = (0..3).filter(|&d| part(name, d) != MISSING).count();
        (there >= 2).then_some(Along { logs, name })
    }
}

impl Along {
    /// The row's cell of a level; `None` where the cells end.
    fn place(&self, level: u64) -> Option<Place> {
        let mut into = [0.0; 3];
        let mut cell = self.name | level << AT[LEVEL];
        for d in 0..3 {
            if part(self.name, d) == MISSING {
                continue;
            }
            let x = self.logs[d] / step(d, level) + if d == 0 { 0.0 } else { f64::from(1u16 << 15) };
            // One more than the cell's own: its far corner has a name as well.
            if !(x >= 0.0 && x + 2.0 < f64::from(1u32 << BITS[d]) - 1.0) {
                return None;
            }
            into[d] = x.fract();
            cell |= (x as u64) << AT[d];
        }
        // The far corner's speed must be one that is believed.
        let far = (part(cell, 0) + 1) as f64 * step(0, level);
        (far <= (SPEED_TO / SPEED_FROM).ln()).then_some(Place { cell, into })
    }
}

impl Level {
    /// Works out the corners of cells, sorted by name, and asks which may be believed.
    fn over(cells: Vec<u64>, mixture: &Mixture, noise: Noise) -> Self {
        let noises = [noise, noise.widened()];
        let said = |row: &Row, name: u64| -> Option<Corner> {
            let said = mixture.say(row, noises[part(name, MOVING) as usize]).ok().filter(|s| s.peaks.is_none())?;
            Some(Corner { heard: said.heard, parts: reduced(&said, row.speed) })
        };
        let mut names: Vec<u64> = cells.iter().flat_map(|&c| corners_of(c)).collect();
        names.par_sort_unstable();
        names.dedup();
        let corners = names.par_iter().map(|&n| said(&row_at(n, [0.0; 3]), n)).collect();
        let mut out = Self { cells, corners_of: Vec::new(), corners };
        let believed = |&cell: &u64| {
            let at = corners_of(cell).map(|n| names.binary_search(&n).map_or(u32::MAX, |i| i as u32));
            let middle = [0.5; 3];
            let straight = out.between(&at, middle)?;
            let exact = said(&row_at(cell, middle), cell)?;
            let alike = straight.heard == exact.heard && agree(&straight.parts, &exact.parts);
            (alike && out.is_flat(&at, &exact.parts)).then_some(at)
        };
        out.corners_of = out.cells.par_iter().map(believed).collect();
        out
    }

    /// The corners of a cell that is believed.
    fn corners_of(&self, cell: u64) -> Option<&[u32; 8]> {
        self.corners_of[self.cells.binary_search(&cell).ok()?].as_ref()
    }

    /// Whether opposite corners lie about the middle as those of a plane do: a jump between two ways of answering shows at one of them.
    fn is_flat(&self, at: &[u32; 8], middle: &[f64; PARTS]) -> bool {
        (0..4).all(|k| {
            let [a, b] = [at[k], at[7 - k]].map(|i| self.corners.get(i as usize).copied().flatten());
            let half = |a: &Corner, b: &Corner| std::array::from_fn(|p| 0.5 * (a.parts[p] + b.parts[p]));
            a.zip(b).is_some_and(|(a, b)| agree(&half(&a, &b), middle))
        })
    }

    /// Straight between eight corners; `None` where one has no answer or hears something else.
    fn between(&self, at: &[u32; 8], into: [f64; 3]) -> Option<Corner> {
        let first = (*self.corners.get(at[0] as usize)?)?;
        let mut parts = [0.0; PARTS];
        for (k, &i) in at.iter().enumerate() {
            let corner = (*self.corners.get(i as usize)?).filter(|c| c.heard == first.heard)?;
            let weight: f64 = (0..3).map(|d| if k >> d & 1 == 1 { into[d] } else { 1.0 - into[d] }).product();
            for (sum, part) in parts.iter_mut().zip(corner.parts) {
                *sum += weight * part;
            }
        }
        Some(Corner { heard: first.heard, parts })
    }
}

/// A number to the nearest whole, counted from the middle of its bits.
fn binned(x: f64, which: usize) -> Option<u64> {
    let half = f64::from(1u32 << (BITS[which] - 1));
    let at = x.round() + half;
    (at >= 0.0 && at < 2.0 * half).then_some(at as u64)
}

/// Width of a cell in the natural logarithm.
fn step(along: usize, level: u64) -> f64 {
    STEPS[along] / (1u64 << level) as f64
}

/// A part of a cell's name.
fn part(name: u64, which: usize) -> u64 {
    name >> AT[which] & ((1 << BITS[which]) - 1)
}

/// The names of a cell's corners; one along a reading that is not there.
fn corners_of(cell: u64) -> [u64; 8] {
    std::array::from_fn(|k| {
        (0..3).fold(cell, |name, d| {
            let far = k >> d & 1 == 1 && (d == 0 || part(cell, d) != MISSING);
            name + (u64::from(far) << AT[d])
        })
    })
}

/// The row at a place in a cell.
fn row_at(cell: u64, into: [f64; 3]) -> Row {
    let level = part(cell, LEVEL);
    let whole = |d: usize| part(cell, d) as f64 + into[d];
    let s = SPEED_FROM * (whole(0) * step(0, level)).exp();
    let reading = |d: usize, by: f64| {
        if part(cell, d) == MISSING {
            f64::NAN
        } else {
            by * ((whole(d) - f64::from(1u16 << 15)) * step(d, level)).exp()
        }
    };
    let centred = |which: usize| part(cell, which) as f64 - f64::from(1u32 << (BITS[which] - 1));
    let mut row = Row::new(s, reading(1, s * s), reading(2, s * s * s), f64::NAN);
    row.hour = Hour { density: 1.0 + centred(3) * DENSITY_STEP, thicker: centred(4) * THICKER_STEP };
    row.around = Around::ALONE;
    row
}

fn reduced(said: &Said, s: f64) -> [f64; PARTS] {
    let all = [
        said.flow,
        said.low,
        said.high,
        said.sd_common,
        said.head,
        said.head_sd,
        said.head_sd_common,
        said.power,
        said.speed - s,
    ];
    std::array::from_fn(|k| all[k] / s.powi(POWERS[k]))
}

/// Whether flow, its ends and its common error are the same but for a little of the interval, and head likewise.
fn agree(straight: &[f64; PARTS], exact: &[f64; PARTS]) -> bool {
    let most = STRAIGHT * 0.5 * (exact[2] - exact[1]);
    let most_head = STRAIGHT * 2.0 * exact[5].hypot(exact[6]);
    let ends = ENDS / STRAIGHT * most;
    (0..4).all(|k| (straight[k] - exact[k]).abs() <= if k == 1 || k == 2 { ends } else { most })
        && (4..7).all(|k| (straight[k] - exact[k]).abs() <= most_head)
}

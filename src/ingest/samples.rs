//! One point's readings from all files as one rising series of instants.
//!
//! Comes in: what the files hold. Goes out: [`Samples`], sorted, each instant once. What falls away here (the same time
//! twice, times far from all others, times outside the period) is booked in the account of the file it came from.

use super::ledger::{Account, reason};
use super::shape::BAD;
use super::zone::{NO_DAY, NONE_BELOW, SKIPPED};
use rayon::prelude::*;
use std::sync::Arc;

/// A gap in the record of all points longer than this parts it; only the larger part is read. A heating plant may rest over
/// a summer and a project over a year; a controller that lost its clock is off by years.
const STRAY_GAP_MS: i64 = 366 * 86_400_000;

/// Rows of one column of times, with instants.
#[derive(Debug)]
pub(super) struct Rows {
    pub instants: Arc<Vec<i64>>,
    pub lines: Vec<u32>,
    pub course: Course,
}

impl Rows {
    /// Looks once at how the instants run, which every point beside them asks; once for all columns that share theirs.
    pub fn of(columns: Vec<(Arc<Vec<i64>>, Vec<u32>)>) -> Vec<Arc<Self>> {
        let shares = |c: usize| c > 0 && Arc::ptr_eq(&columns[c].0, &columns[c - 1].0);
        let look = |c: usize| (!shares(c)).then(|| Course::of(&columns[c].0));
        let looked: Vec<Option<Course>> = (0..columns.len()).into_par_iter().map(look).collect();
        let mut last = Course::of(&[]);
        let mut rows = Vec::with_capacity(columns.len());
        for ((instants, lines), looked) in columns.into_iter().zip(looked) {
            last = looked.unwrap_or(last);
            rows.push(Arc::new(Self { instants, lines, course: last }));
        }
        rows
    }
}

/// How a column of instants runs from row to row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Course {
    /// Steps back, and forward.
    pub back: usize,
    pub forth: usize,
    /// The step, where it is the same throughout [ms].
    pub even: Option<i64>,
    pub latest: Option<i64>,
}

impl Course {
    fn of(instants: &[i64]) -> Self {
        let mut course = Self { back: 0, forth: 0, even: None, latest: instants.first().copied() };
        let Some(first) = instants.windows(2).next().map(|w| w[1].wrapping_sub(w[0])) else { return course };
        let (mut same, mut latest) = (true, i64::MIN);
        for w in instants.windows(2) {
            course.back += usize::from(w[1] < w[0]);
            course.forth += usize::from(w[1] > w[0]);
            same &= w[1].wrapping_sub(w[0]) == first;
            latest = latest.max(w[1]);
        }
        course.even = same.then_some(first);
        course.latest = course.latest.max(Some(latest));
        course
    }

    fn is_rising(&self, rows: usize) -> bool {
        self.forth + 1 == rows || rows == 0
    }
}

/// One point's cells in one file.
#[derive(Debug)]
pub(super) struct Piece {
    /// Index of the file.
    pub file: usize,
    pub rows: Arc<Rows>,
    pub values: Vec<f64>,
    /// Every cell is a reading.
    pub whole: bool,
}

/// One point's cells, times rising.
#[derive(Debug, Clone)]
pub(super) struct Samples {
    pub times: Times,
    /// Readings, or the marks for bad and blank cells.
    pub values: Vec<f64>,
    /// Where each came from: an index into all rows of all pieces one after the other. `None`: the only piece's rows as they are.
    from: Option<Vec<u32>>,
    pieces: Vec<(usize, Arc<Rows>)>,
    /// The step between all samples, where every cell is a reading and all steps are alike [ms].
    pub unbroken: Option<i64>,
}

/// Instants [ms UTC], shared among the points of a wide file where nothing had to be moved.
#[derive(Debug, Clone)]
pub(super) enum Times {
    Shared(Arc<Rows>),
    Own(Vec<i64>),
}

impl std::ops::Deref for Times {
    type Target = [i64];
    fn deref(&self) -> &[i64] {
        match self {
            Self::Shared(rows) => &rows.instants,
            Self::Own(times) => times,
        }
    }
}

impl Samples {
    /// Brings the pieces of one point together.
    pub fn merge(mut pieces: Vec<Piece>, point: &str, accounts: &mut [Account]) -> Self {
        if let [only] = pieces.as_mut_slice()
            && only.rows.course.is_rising(only.rows.instants.len())
            && only.rows.instants.first().is_some_and(|t| *t >= NONE_BELOW)
        {
            let values = std::mem::take(&mut only.values);
            let rows = Arc::clone(&only.rows);
            let unbroken = rows.course.even.filter(|_| only.whole);
            return Self {
                times: Times::Shared(Arc::clone(&rows)),
                values,
                from: None,
                pieces: vec![(only.file, rows)],
                unbroken,
            };
        }
        let all: Vec<(i64, f64)> =
            pieces.iter().flat_map(|p| p.rows.instants.iter().copied().zip(p.values.iter().copied())).collect();
        let mut samples = Self {
            times: Times::Own(Vec::new()),
            values: Vec::new(),
            from: None,
            pieces: pieces.into_iter().map(|p| (p.file, p.rows)).collect(),
            unbroken: None,
        };
        samples.refuse_impossible(&all, point, accounts);
        samples.sort(&all, point, accounts);
        samples
    }

    /// Looks for what most records are: readings without a gap.
    pub fn measure(&mut self) {
        if let Times::Own(times) = &self.times {
            let even = Course::of(times).even;
            self.unbroken = even.filter(|_| self.values.iter().fold(true, |all, v| all & v.is_finite()));
        }
    }

    /// File and line of row `n` of all pieces.
    fn origin(&self, mut n: usize) -> (usize, u64) {
        for (file, rows) in &self.pieces {
            match rows.lines.get(n) {
                Some(line) => return (*file, u64::from(*line)),
                None => n -= rows.lines.len(),
            }
        }
        (0, 0)
    }

    /// File of sample `i`.
    pub fn file(&self, i: usize) -> usize {
        self.origin(self.from.as_ref().map_or(i, |f| f[i] as usize)).0
    }

    fn take_back(&self, row: usize, reason: &str, point: &str, accounts: &mut [Account]) {
        let (file, line) = self.origin(row);
        accounts[file].take_back(reason, line, point);
    }

    fn refuse_impossible(&self, all: &[(i64, f64)], point: &str, accounts: &mut [Account]) {
        for (row, (time, value)) in all.iter().enumerate() {
            if *time < NONE_BELOW && value.is_finite() {
                debug_assert!(*time == SKIPPED || *time == NO_DAY);
                let why = if *time == SKIPPED { reason::SKIPPED } else { reason::NO_DAY };
                self.take_back(row, why, point, accounts);
            }
        }
    }

    /// Sorts by time; of several rows of one time the last that is not blank stays.
    fn sort(&mut self, all: &[(i64, f64)], point: &str, accounts: &mut [Account]) {
        let mut order: Vec<u32> = (0..all.len() as u32).filter(|i| all[*i as usize].0 >= NONE_BELOW).collect();
        if !order.is_sorted_by_key(|i| all[*i as usize].0) {
            order.sort_by_key(|i| all[*i as usize].0);
        }
        let (mut times, mut from) = (Vec::with_capacity(order.len()), Vec::with_capacity(order.len()));
        for same in order.chunk_by(|a, b| all[*a as usize].0 == all[*b as usize].0) {
            let kept = same.iter().rev().find(|i| !all[**i as usize].1.is_nan()).unwrap_or(&same[0]);
            let (time, value) = all[*kept as usize];
            for other in same.iter().filter(|i| *i != kept && all[**i as usize].1.is_finite()) {
                let why = if all[*other as usize].1 == value { reason::SAME } else { reason::OTHER };
                self.take_back(*other as usize, why, point, accounts);
            }
            times.push(time);
            from.push(*kept);
            self.values.push(value);
        }
        self.times = Times::Own(times);
        self.from = Some(from);
    }

    /// Stretches of the record without a gap that parts it: first and last instant, readings.
    pub fn stretches(&self) -> Vec<(i64, i64, u64)> {
        let mut found: Vec<(i64, i64, u64)> = Vec::new();
        for (t, v) in self.times.iter().zip(&self.values) {
            match found.last_mut() {
                Some(last) if *t - last.1 <= STRAY_GAP_MS => {
                    last.1 = *t;
                    last.2 += u64::from(v.is_finite());
                }
                _ => found.push((*t, *t, u64::from(v.is_finite()))),
            }
        }
        found
    }

    /// Takes everything outside `from..=to` away.
    pub fn keep(&mut self, from: i64, to: i64, point: &str, accounts: &mut [Account]) {
        let outside = |t: i64| t < from || t > to;
        if !self.times.first().zip(self.times.last()).is_some_and(|(first, last)| outside(*first) || outside(*last)) {
            return;
        }
        self.book(outside, reason::STRAY, point, accounts);
        let kept: Vec<usize> = (0..self.times.len()).filter(|i| !outside(self.times[*i])).collect();
        let rows = kept.iter().map(|i| self.from.as_ref().map_or(*i as u32, |f| f[*i])).collect();
        self.values = kept.iter().map(|i| self.values[*i]).collect();
        self.times = Times::Own(kept.iter().map(|i| self.times[*i]).collect());
        self.from = Some(rows);
    }

    /// Books readings at these times as refused; they stay, since a held value may start before a period.
    pub fn book(&self, outside: impl Fn(i64) -> bool, why: &str, point: &str, accounts: &mut [Account]) {
        for i in 0..self.times.len() {
            if outside(self.times[i]) && self.values[i].is_finite() {
                self.take_back(self.from.as_ref().map_or(i, |f| f[i] as usize), why, point, accounts);
            }
        }
    }

    /// Takes a number that stands for no reading for a bad cell wherever it is; how often it was.
    pub fn condemn(&mut self, number: f64, why: &str, point: &str, accounts: &mut [Account]) -> u64 {
        let hits: Vec<usize> = (0..self.values.len()).filter(|i| self.values[*i] == number).collect();
        for i in &hits {
            self.take_back(self.from.as_ref().map_or(*i, |f| f[*i] as usize), why, point, accounts);
            self.values[*i] = BAD;
        }
        self.unbroken = self.unbroken.filter(|_| hits.is_empty());
        hits.len() as u64
    }

    /// Readings that are numbers, with their times.
    pub fn readings(&self) -> impl DoubleEndedIterator<Item = (i64, f64)> + '_ {
        self.times.iter().copied().zip(self.values.iter().copied()).filter(|(_, v)| v.is_finite())
    }

    /// Raises each file's end to its last cell here.
    pub fn ends(&self, ends: &mut [i64]) {
        for (file, rows) in &self.pieces {
            ends[*file] = rows.course.latest.map_or(ends[*file], |last| last.max(ends[*file]));
        }
    }

    /// Cells that are not blank: readings and bad words, which both say that the logger wrote.
    pub fn written(&self) -> impl Iterator<Item = i64> + '_ {
        self.times.iter().copied().zip(&self.values).filter(|(_, v)| v.is_finite() || **v == BAD).map(|(t, _)| t)
    }
}

/// The bulk of the record of all points, where gaps part it.
pub(super) fn bulk(points: &[Samples]) -> Option<(i64, i64)> {
    let first = points.iter().filter_map(|s| s.times.first()).min()?;
    let last = points.iter().filter_map(|s| s.times.last()).max()?;
    if last - first <= STRAY_GAP_MS {
        return Some((*first, *last));
    }
    let mut stretches: Vec<(i64, i64, u64)> = points.iter().flat_map(Samples::stretches).collect();
    stretches.sort_unstable();
    let mut joined: Vec<(i64, i64, u64)> = Vec::new();
    for s in stretches {
        match joined.last_mut() {
            Some(last) if s.0 - last.1 <= STRAY_GAP_MS => {
                last.1 = last.1.max(s.1);
                last.2 += s.2;
            }
            _ => joined.push(s),
        }
    }
    let best = joined.iter().copied().reduce(|a, b| if b.2 > a.2 { b } else { a })?;
    Some((best.0, best.1))
}

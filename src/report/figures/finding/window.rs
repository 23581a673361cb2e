//! Which hours a figure shows.

use super::Scene;
use crate::{faults::shown::Stretches, pipeline::Review, report::show::Show};
use std::ops::Range;

/// Rows of each local day.
pub fn days(review: &Review, show: &Show) -> Vec<Range<usize>> {
    let clock = review.clock;
    // Clocks change on the hour or half hour: no piece of a quarter of an hour lies in two days.
    let piece = (900 / clock.step_s.max(1)).max(1) as usize;
    let mut days: Vec<Range<usize>> = Vec::new();
    let mut last = None;
    for start in (0..clock.len).step_by(piece) {
        let end = (start + piece).min(clock.len);
        let date = show.local(clock.at_ms(start)).map(|t| t.naive_local().date());
        match days.last_mut() {
            Some(day) if date == last => day.end = end,
            _ => days.push(start..end),
        }
        last = date;
    }
    days
}

impl Scene<'_> {
    /// Place of the day with most of these rows, the first of equals; `None` where no day has any.
    pub fn day_of_most(&self, rows: &Stretches) -> Option<usize> {
        let count = |k: &usize| rows.count_in(&self.days[*k]);
        // The last of equals would win: counted backward, the first does.
        (0..self.days.len()).rev().max_by_key(count).filter(|k| count(k) > 0)
    }

    /// So many days before and after a day.
    pub fn days_around(&self, day: usize, more: usize) -> Range<usize> {
        let last = (day + more).min(self.days.len().saturating_sub(1));
        self.days[day.saturating_sub(more)].start..self.days[last].end
    }

    /// The longest stretch of these rows on the day with most of them, the first of equals.
    pub fn longest_stretch(&self, rows: &Stretches) -> Option<Range<usize>> {
        let day = &self.days[self.day_of_most(rows)?];
        let all: Vec<Range<usize>> = rows.within(day).collect();
        all.into_iter().rev().max_by_key(ExactSizeIterator::len)
    }

    /// So many hours around a row, within the record.
    pub fn around(&self, row: usize, hours: f64) -> Range<usize> {
        let half = (0.5 * hours / self.review.clock.hours()).ceil().max(2.0) as usize;
        row.saturating_sub(half)..(row + half + 1).min(self.rows())
    }

    /// The date of a row, as people write it.
    pub fn date(&self, row: usize) -> String {
        self.show.date(self.review.clock.at_ms(row))
    }

    /// Local hours since the first midnight of a window, for each row and the end of the last.
    pub fn hours_into(&self, window: &Range<usize>) -> Vec<f64> {
        let clock = self.review.clock;
        let Some(first) = self.show.local(clock.at_ms(window.start)) else { return Vec::new() };
        let first = first.naive_local();
        let since_midnight = (first - first.date().and_time(chrono::NaiveTime::MIN)).num_seconds() as f64 / 3600.0;
        // By the clock on the wall at the window's start: an hour that is set forward or back leaves no gap nor fold.
        (0..=window.len()).map(|k| since_midnight + k as f64 * clock.hours()).collect()
    }

    /// Dates along some days, at most eight: places since the first, and words.
    pub fn dates(&self, days: Range<usize>) -> Vec<(f64, String)> {
        let each = days.len().div_ceil(8).max(1);
        let words = |day: usize| {
            let local = self.days.get(day).and_then(|d| self.show.local(self.review.clock.at_ms(d.start)));
            local.map_or_else(String::new, |t| t.format("%-d %b").to_string())
        };
        days.clone().step_by(each).map(|day| ((day - days.start) as f64, words(day))).collect()
    }
}

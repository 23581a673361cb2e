//! Times as exports write them, the order of day and month decided over the whole column.
//!
//! Comes in: the bytes of a cell. Goes out: a [`Stamp`]: a civil time, a civil time whose day and month are still in the
//! file's order, or an instant where the cell says its offset. [`Evidence`] gathers what the column proves; no row is
//! ever read by what the first rows looked like. Zones are `zone.rs`'s work. The forms are in `form.rs`, bare numbers in
//! `number.rs`. Start at [`Parser`].

mod clock;
mod evidence;
mod form;
mod look;
mod mark;
mod number;
mod repeat;
mod stamp;
mod words;

pub(super) use evidence::{Evidence, Place, Reading, Told, Year};
pub(super) use look::Look;
pub(super) use mark::Mark;
pub(super) use stamp::{Moment, Order, Stamp};

use form::Form;
use repeat::Repeat;
use words::Plain;

/// Parses the times of a column; remembers how the last cell was written, since the next is written alike as a rule.
#[derive(Default)]
pub(super) struct Parser {
    last: Repeat,
    numbers: bool,
}

impl Parser {
    /// For a column that the caller knows to hold times: numbers alone are times too.
    pub fn numbers_are_times() -> Self {
        Self { numbers: true, ..Self::default() }
    }

    /// The time that a cell says; `None` if it says none.
    #[inline]
    pub fn parse(&mut self, cell: &[u8]) -> Option<Stamp> {
        match self.last.read(cell) {
            Some(stamp) => Some(stamp),
            None => self.parse_anew(cell),
        }
    }

    fn parse_anew(&mut self, cell: &[u8]) -> Option<Stamp> {
        if self.numbers
            && let Some(stamp) = number::read(cell.trim_ascii())
        {
            return Some(stamp);
        }
        let plain = Plain::of(cell)?;
        let form = Form::of(plain.bytes())?;
        self.last.learn(cell, &plain, &form);
        Some(form.stamp)
    }
}

/// Whether a cell is a time of day alone, as where date and time stand in two columns.
pub(super) fn is_time_of_day(cell: &[u8]) -> bool {
    Plain::of(cell).is_some_and(|plain| clock::is_alone(plain.bytes()))
}

/// How a cell writes its time; numbers alone too.
pub(super) fn look(cell: &[u8]) -> Option<Look> {
    let form = Plain::of(cell).and_then(|plain| Form::of(plain.bytes()));
    form.map(|f| f.look).or_else(|| number::look(cell.trim_ascii()))
}

//! The short way for a cell that differs from the last one in the digits of its time of day only.
//!
//! Four words of eight bytes hold all of a usual cell: its start, what stands before the time of day, the time of day (the eight
//! bytes that end with its last digit), and its end with a fraction of a second. Each is compared whole; of a digit only the half
//! byte that says "digit" is.

use super::form::Form;
use super::stamp::{MS_PER_DAY, Stamp};
use super::words::{LONGEST, Plain};

const WORD: usize = 8;
const START: usize = 0;
const BEFORE: usize = 1;
const CLOCK: usize = 2;
const END: usize = 3;

/// Eight bytes of the cell: where, what is remembered, which bits of it must be the same.
#[derive(Clone, Copy, Default)]
struct Word {
    at: usize,
    fixed: u64,
    mask: u64,
}

/// How the last cell was written.
#[derive(Clone)]
pub(super) struct Repeat {
    /// Bytes of the cell; 0 where nothing is remembered.
    length: usize,
    words: [Word; 4],
    /// Low half bytes of the digits in the word of the time of day and in the last.
    digits: [u64; 2],
    /// Shifts to tens and ones of hour, minute and second, and to three digits of a fraction; to a byte that is no digit where one lacks.
    shifts: [u32; 6],
    fraction: [u32; 3],
    half_day: Option<bool>,
    /// The stamp of the date.
    date: i64,
    /// Bytes that no word holds.
    between: [(usize, usize); 2],
    cell: [u8; LONGEST],
}

impl Default for Repeat {
    fn default() -> Self {
        Self {
            length: 0,
            words: [Word::default(); 4],
            digits: [0; 2],
            shifts: [0; 6],
            fraction: [0; 3],
            half_day: None,
            date: 0,
            between: [(0, 0); 2],
            cell: [0; LONGEST],
        }
    }
}

#[inline]
fn word(cell: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(*cell.get(at..)?.first_chunk()?))
}

/// A byte in every place of a word.
const fn everywhere(byte: u8) -> u64 {
    u64::from_le_bytes([byte; WORD])
}

impl Repeat {
    /// The time of a cell written as the last one.
    #[inline]
    pub fn read(&self, cell: &[u8]) -> Option<Stamp> {
        if cell.len() != self.length || cell.is_empty() {
            return None;
        }
        let mut differs = 0;
        let mut read = [0; 4];
        for (read, w) in read.iter_mut().zip(&self.words) {
            *read = word(cell, w.at)?;
            differs |= (*read ^ w.fixed) & w.mask;
        }
        let (clock, end) = (read[CLOCK] & self.digits[0], read[END] & self.digits[1]);
        // A half byte above 9 runs over into the upper half.
        differs |= ((clock + everywhere(6)) | (end + everywhere(6))) & everywhere(0xf0);
        if differs != 0 {
            return None;
        }
        let digit = |i: usize| (clock >> self.shifts[i] & 15) as i64;
        let (mut hour, minute, second) = (digit(0) * 10 + digit(1), digit(2) * 10 + digit(3), digit(4) * 10 + digit(5));
        if let Some(afternoon) = self.half_day {
            if !(1..=12).contains(&hour) {
                return None;
            }
            hour = hour % 12 + if afternoon { 12 } else { 0 };
        }
        if hour > 23 || minute > 59 || second > 59 {
            return None;
        }
        let mut ms = ((hour * 60 + minute) * 60 + second) * 1000;
        if self.digits[1] != 0 {
            let digit = |i: usize| (end >> self.fraction[i] & 15) as i64;
            ms += digit(0) * 100 + digit(1) * 10 + digit(2);
        }
        let same = |(from, to): (usize, usize)| from == to || cell.get(from..to) == self.cell.get(from..to);
        (same(self.between[0]) && same(self.between[1])).then_some(Stamp(self.date + ms))
    }

    /// Remembers a cell, where it is of a kind that the short way can read.
    pub fn learn(&mut self, cell: &[u8], plain: &Plain, form: &Form) {
        self.length = 0;
        let _ = self.try_learn(cell, plain, form);
    }

    fn try_learn(&mut self, cell: &[u8], plain: &Plain, form: &Form) -> Option<()> {
        let clock = &form.clock;
        let length = cell.len();
        // 24:00 is no hour of the short way.
        if clock.ms() >= MS_PER_DAY {
            return None;
        }
        let clocks = [clock.hour_at, clock.minute_at, clock.second_at];
        let last =
            clocks.iter().filter(|(_, count)| *count > 0).map(|(at, count)| plain.place(at + count - 1) + 1).max();
        let clock_at = last.unwrap_or(length).checked_sub(WORD)?;
        let end_at = length.checked_sub(WORD)?;
        let at = [0, clock_at.saturating_sub(WORD), clock_at, end_at];
        let mut must = [0xff_u8; LONGEST];
        let (mut shifts, mut fraction) = ([None; 6], [None; 3]);
        let mut digits = [0; 2];
        for (slot, (start, count)) in clocks.into_iter().enumerate() {
            for i in 0..count {
                let place = plain.place(start + i);
                let shift = u32::try_from(place.checked_sub(clock_at)?).ok()? * 8;
                must[place] = 0xf0;
                digits[0] |= 15 << shift;
                shifts[2 * slot + 2 - count + i] = Some(shift);
            }
        }
        // Digits beyond milliseconds are cut, so they may as well stay.
        for i in 0..clock.fraction_at.1.min(3) {
            let place = plain.place(clock.fraction_at.0 + i);
            let shift = u32::try_from(place.checked_sub(end_at)?).ok()? * 8;
            must[place] = 0xf0;
            digits[1] |= 15 << shift;
            fraction[i] = Some(shift);
        }
        let idle = |digits: u64| (0..8).map(|byte| byte * 8).find(|shift| digits >> shift & 15 == 0);
        let (idle_clock, idle_end) = (idle(digits[0])?, idle(digits[1])?);
        self.cell[..length].copy_from_slice(cell);
        for (w, at) in self.words.iter_mut().zip(at) {
            *w = Word { at, fixed: word(cell, at)?, mask: word(&must, at)? };
        }
        self.digits = digits;
        self.shifts = shifts.map(|s| s.unwrap_or(idle_clock));
        self.fraction = fraction.map(|s| s.unwrap_or(idle_end));
        self.between = [(WORD.min(at[BEFORE]), at[BEFORE]), ((clock_at + WORD).min(end_at), end_at)];
        self.half_day = clock.afternoon;
        self.date = form.stamp.0 - clock.ms();
        self.length = length;
        debug_assert!(at[START] == 0 && self.read(cell) == Some(form.stamp));
        Some(())
    }
}

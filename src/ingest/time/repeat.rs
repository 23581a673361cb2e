//! The short way for a cell that differs from the last one in the digits of its time of day only.

use super::clock::Clock;
use super::form::Form;
use super::stamp::{MS_PER_DAY, Stamp};
use super::words::Plain;

/// A cell of the short way has this many bytes at most, and then a zero for digits that it lacks.
const ROOM: usize = 32;
const WORDS: usize = ROOM / 8;
/// Where the zero stands.
const ZERO: u8 = 31;

/// How the last cell was written.
#[derive(Clone)]
pub(super) struct Repeat {
    /// Bytes of the cell; 0 where nothing is known.
    length: usize,
    fixed: [u64; WORDS],
    mask: [u64; WORDS],
    /// The stamp of the date.
    date: i64,
    /// Tens and ones of hour, minute and second, and three digits of a fraction.
    places: [u8; 9],
    half_day: Option<bool>,
}

impl Default for Repeat {
    fn default() -> Self {
        Self { length: 0, fixed: [0; WORDS], mask: [0; WORDS], date: 0, places: [ZERO; 9], half_day: None }
    }
}

fn words(room: &[u8; ROOM]) -> [u64; WORDS] {
    let mut words = [0; WORDS];
    for (word, bytes) in words.iter_mut().zip(room.as_chunks::<8>().0) {
        *word = u64::from_le_bytes(*bytes);
    }
    words
}

/// The cell with zeros of the alphabet behind it.
#[inline]
fn spread(cell: &[u8]) -> [u8; ROOM] {
    let mut room = [b'0'; ROOM];
    room[..cell.len()].copy_from_slice(cell);
    room
}

impl Repeat {
    /// The time of a cell written as the last one.
    #[inline]
    pub fn read(&self, cell: &[u8]) -> Option<Stamp> {
        if cell.len() != self.length || cell.is_empty() || cell.len() >= ROOM {
            return None;
        }
        let room = spread(cell);
        let other = words(&room);
        let differs = (0..WORDS).fold(0, |d, i| d | (other[i] ^ self.fixed[i]) & self.mask[i]);
        let digit = |i: usize| room[usize::from(self.places[i] & ZERO)].wrapping_sub(b'0');
        let digits: [u8; 9] = std::array::from_fn(digit);
        let sound = digits.iter().fold(true, |s, d| s & (*d <= 9));
        let two = |i: usize| i64::from(digits[i]) * 10 + i64::from(digits[i + 1]);
        let (mut hour, minute, second) = (two(0), two(2), two(4));
        let fraction = i64::from(digits[6]) * 100 + i64::from(digits[7]) * 10 + i64::from(digits[8]);
        let possible = match self.half_day {
            None => hour < 24,
            Some(afternoon) => {
                let noon = (1..=12).contains(&hour);
                hour = hour % 12 + if afternoon { 12 } else { 0 };
                noon
            }
        };
        let ms = ((hour * 60 + minute) * 60 + second) * 1000 + fraction;
        (differs == 0 && sound && possible && minute < 60 && second < 60).then_some(Stamp(self.date + ms))
    }

    /// Remembers a cell.
    pub fn learn(&mut self, cell: &[u8], plain: &Plain, form: &Form) {
        let clock: &Clock = &form.clock;
        // 24:00 is no hour of the short way.
        if cell.is_empty() || cell.len() >= ROOM || clock.ms() >= MS_PER_DAY {
            self.length = 0;
            return;
        }
        self.length = cell.len();
        self.date = form.stamp.0 - clock.ms();
        self.half_day = clock.afternoon;
        self.places = [ZERO; 9];
        let mut mask = [0xff; ROOM];
        let mut vary = |slot: usize, at: usize| {
            let place = plain.place(at);
            mask[place] = 0;
            self.places[slot] = place as u8;
        };
        for (slot, (at, count)) in [(0, clock.hour_at), (2, clock.minute_at), (4, clock.second_at)] {
            (0..count).for_each(|i| vary(slot + 2 - count + i, at + i));
        }
        // Digits beyond milliseconds are cut, so they may as well stay.
        (0..clock.fraction_at.1.min(3)).for_each(|i| vary(6 + i, clock.fraction_at.0 + i));
        self.fixed = words(&spread(cell));
        self.mask = words(&mask);
    }
}

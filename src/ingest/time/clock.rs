//! The time of day behind a date, and what follows it: AM or PM, the word for hours, a zone.

use super::form::Cursor;
use super::look::Look;
use super::mark::Mark;
use super::stamp::{MS_PER_DAY, Zoned};

/// A time of day and where its digits stand in the plain bytes: place and count.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Clock {
    hour: i64,
    minute: i64,
    second: i64,
    fraction_ms: i64,
    pub afternoon: Option<bool>,
    pub hour_at: (usize, usize),
    pub minute_at: (usize, usize),
    pub second_at: (usize, usize),
    pub fraction_at: (usize, usize),
}

impl Clock {
    /// From midnight [ms].
    pub fn ms(&self) -> i64 {
        ((self.hour * 60 + self.minute) * 60 + self.second) * 1000 + self.fraction_ms
    }

    /// 24 hours at most, 12 with AM and PM.
    fn is_possible(&self) -> bool {
        let hour = match self.afternoon {
            Some(_) => self.hour < 24,
            None => self.hour <= 24,
        };
        hour && self.minute < 60 && self.second < 60 && self.ms() <= MS_PER_DAY
    }
}

/// Reads the rest of a cell behind its date but for a year at its end; `plainly`: only a form that nothing but a time of day has.
pub(super) fn behind_date(cursor: &mut Cursor<'_>, plainly: bool) -> Option<(Clock, Zoned, Look)> {
    let mut look = Look { has_time: true, ..Look::default() };
    let mut clock = Clock::default();
    let colon = digits(cursor, &mut clock, &mut look)?;
    let mut ahead = *cursor;
    ahead.eat(b' ');
    if let Some(afternoon) = half_day(&mut ahead) {
        *cursor = ahead;
        if !(1..=12).contains(&clock.hour) {
            return None;
        }
        clock.hour = clock.hour % 12 + 12 * i64::from(afternoon);
        clock.afternoon = Some(afternoon);
        look.half_days = true;
    } else if look.hour_alone || (plainly && !colon) {
        return None;
    }
    if !clock.is_possible() {
        return None;
    }
    let mut ahead = *cursor;
    ahead.eat(b' ');
    if ahead.eat_word(&["uhr", "h", "hrs", "hs", "uur"]) {
        *cursor = ahead;
    }
    let zoned = zone(cursor)?;
    look.zone = zoned;
    Some((clock, zoned, look))
}

/// Hours to fractions; whether in a form that only times have.
fn digits(cursor: &mut Cursor<'_>, clock: &mut Clock, look: &mut Look) -> Option<bool> {
    let at = cursor.at;
    let count = cursor.digits_here();
    if count == 4 || count == 6 {
        let value = cursor.number(count, count)?;
        let value = if count == 4 { value * 100 } else { value };
        (clock.hour, clock.minute, clock.second) = (value / 10_000, value / 100 % 100, value % 100);
        (clock.hour_at, clock.minute_at) = ((at, 2), (at + 2, 2));
        if count == 6 {
            clock.second_at = (at + 4, 2);
            look.seconds = true;
            fraction(cursor, clock);
        }
        look.bare_digits = true;
        return Some(false);
    }
    clock.hour = cursor.number(1, 2)?;
    clock.hour_at = (at, count);
    let mut ahead = *cursor;
    let separator = match (ahead.eat_any(b":.h"), ahead.eat_all(b" h ")) {
        (Some(separator), _) => separator,
        (None, true) => b'h',
        (None, false) => {
            look.hour_alone = true;
            return Some(true);
        }
    };
    if separator == b'h' && !ahead.peek().is_some_and(|b| b.is_ascii_digit()) {
        // "10h"
        *cursor = ahead;
        look.separator = 'h';
        return Some(true);
    }
    look.separator = char::from(separator);
    clock.minute_at = (ahead.at, 2);
    clock.minute = ahead.number(2, 2)?;
    *cursor = ahead;
    let between = if separator == b'h' { cursor.eat_any(b":m") } else { cursor.eat_any(&[separator]) };
    if between.is_some() && cursor.peek().is_some_and(|b| b.is_ascii_digit()) {
        clock.second_at = (cursor.at, 2);
        clock.second = cursor.number(2, 2)?;
        look.seconds = true;
        cursor.eat_word(&["s"]);
        fraction(cursor, clock);
    } else if between.is_some_and(|b| b != b'm') {
        return None;
    }
    Some(separator != b'.')
}

/// Fraction of a second, cut to milliseconds.
fn fraction(cursor: &mut Cursor<'_>, clock: &mut Clock) {
    let mut ahead = *cursor;
    let Some(sign) = ahead.eat_any(b".,:") else { return };
    let count = ahead.digits_here();
    // "10:05:00:250"
    if count == 0 || (sign == b':' && count != 3) {
        return;
    }
    clock.fraction_at = (ahead.at, count);
    clock.fraction_ms =
        ahead.rest()[..count].iter().zip([100, 10, 1]).map(|(b, unit)| i64::from(b - b'0') * unit).sum();
    ahead.at += count;
    *cursor = ahead;
}

/// AM or PM, also "a.m.", "a. m.".
pub(super) fn half_day(cursor: &mut Cursor<'_>) -> Option<bool> {
    let mut ahead = *cursor;
    ahead.eat(b' ');
    let afternoon = ahead.eat_any(b"ap")? == b'p';
    if ahead.eat(b'.') {
        ahead.eat(b' ');
    }
    if !ahead.eat(b'm') || ahead.peek().is_some_and(|b| b.is_ascii_lowercase()) {
        return None;
    }
    ahead.eat(b'.');
    *cursor = ahead;
    Some(afternoon)
}

/// "Z", "UTC", "+01:00", "-0500", "GMT+1", "CET", "(CET)", "+01:00[Europe/Paris]".
fn zone(cursor: &mut Cursor<'_>) -> Option<Zoned> {
    let mut ahead = *cursor;
    ahead.eat(b' ');
    let round = ahead.eat(b'(');
    let found = match ahead.peek() {
        Some(b'+' | b'-') => Zoned::Offset(offset(&mut ahead, 2)?),
        Some(b'a'..=b'z') => match ahead.word() {
            b"z" => Zoned::Offset(0),
            b"utc" | b"gmt" | b"ut" => match ahead.peek() {
                Some(b'+' | b'-') => Zoned::Offset(offset(&mut ahead, 1)?),
                _ => Zoned::Offset(0),
            },
            word => Zoned::Mark(Mark::of(word)?),
        },
        _ => return Some(Zoned::No),
    };
    if round && !ahead.eat(b')') {
        return None;
    }
    if ahead.eat(b'[') {
        let length = ahead.rest().iter().position(|b| *b == b']')?;
        ahead.at += length + 1;
    }
    *cursor = ahead;
    Some(found)
}

/// Sign, hours of at least so many digits, minutes [ms].
fn offset(cursor: &mut Cursor<'_>, least: usize) -> Option<i64> {
    let sign = if cursor.eat_any(b"+-")? == b'-' { -1 } else { 1 };
    let (hours, minutes) = if cursor.digits_here() == 4 {
        let both = cursor.number(4, 4)?;
        (both / 100, both % 100)
    } else {
        let hours = cursor.number(least, 2)?;
        (hours, if cursor.eat(b':') { cursor.number(2, 2)? } else { 0 })
    };
    (hours <= 14 && minutes < 60).then_some(sign * (hours * 60 + minutes) * 60_000)
}

/// Whether plain bytes are a time of day and nothing else, in a form that no number has.
pub(super) fn is_alone(plain: &[u8]) -> bool {
    let mut cursor = Cursor::new(plain);
    // "10h" is as well a count of hours.
    behind_date(&mut cursor, true).is_some_and(|(clock, ..)| clock.minute_at.1 > 0 || clock.afternoon.is_some())
        && cursor.is_at_end()
}

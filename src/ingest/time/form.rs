//! The forms of a time cell, read from its plain bytes: a weekday, a date, a time of day, a zone, in this order.
//!
//! Nothing is guessed: what is not said in one of the forms to its last byte is no time. Which number of an open date is what
//! stays open. Start at [`Form::of`].

use super::clock::{self, Clock};
use super::look::{Look, Parts};
use super::stamp::{Date, Stamp, YEARS, Zoned, century, days};
use super::words::{is_weekday, month};

/// A cell, understood.
pub(super) struct Form {
    pub stamp: Stamp,
    pub clock: Clock,
    pub look: Look,
}

/// A place in the plain bytes.
#[derive(Clone, Copy)]
pub(super) struct Cursor<'a> {
    pub bytes: &'a [u8],
    pub at: usize,
}

impl<'a> Cursor<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    pub fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    pub fn rest(&self) -> &'a [u8] {
        self.bytes.get(self.at..).unwrap_or_default()
    }

    pub fn is_at_end(&self) -> bool {
        self.at >= self.bytes.len()
    }

    pub fn eat(&mut self, byte: u8) -> bool {
        let here = self.peek() == Some(byte);
        self.at += usize::from(here);
        here
    }

    pub fn eat_all(&mut self, text: &[u8]) -> bool {
        let here = self.rest().starts_with(text);
        self.at += if here { text.len() } else { 0 };
        here
    }

    /// One of these bytes.
    pub fn eat_any(&mut self, set: &[u8]) -> Option<u8> {
        let byte = self.peek().filter(|b| set.contains(b))?;
        self.at += 1;
        Some(byte)
    }

    pub fn digits_here(&self) -> usize {
        self.rest().iter().take_while(|b| b.is_ascii_digit()).count()
    }

    /// All digits here, if they are `least` to `most`.
    pub fn number(&mut self, least: usize, most: usize) -> Option<i64> {
        let length = self.digits_here();
        if length < least || length > most {
            return None;
        }
        let value = self.rest()[..length].iter().fold(0, |v, b| v * 10 + i64::from(b - b'0'));
        self.at += length;
        Some(value)
    }

    /// All letters here.
    pub fn word(&mut self) -> &'a [u8] {
        let length = self.rest().iter().take_while(|b| b.is_ascii_lowercase()).count();
        let word = &self.rest()[..length];
        self.at += length;
        word
    }

    /// The word here, if it is one of these.
    pub fn eat_word(&mut self, words: &[&str]) -> bool {
        let mut ahead = *self;
        let word = ahead.word();
        let known = words.iter().any(|w| w.as_bytes() == word);
        if known {
            *self = ahead;
        }
        known
    }
}

impl Form {
    /// `None` where the plain bytes are no time.
    pub fn of(plain: &[u8]) -> Option<Self> {
        let start = Cursor::new(plain);
        let bare = Self::without_weekday(start);
        if bare.is_some() || !start.peek().is_some_and(|b| b.is_ascii_lowercase()) {
            return bare;
        }
        let mut cursor = start;
        if !is_weekday(cursor.word()) {
            return None;
        }
        cursor.eat_all(b"-feira");
        cursor.eat(b'.');
        cursor.eat(b',');
        cursor.eat(b' ').then(|| Self::without_weekday(cursor)).flatten()
    }

    fn without_weekday(start: Cursor<'_>) -> Option<Self> {
        let mut cursor = start;
        let (mut date, mut parts) = date(&mut cursor)?;
        let yearless = matches!(date, Date::Yearless { .. } | Date::OpenYearless { .. });
        if cursor.is_at_end() {
            if yearless || parts == Parts::Compact {
                return None;
            }
            let look = Look { parts, ..Look::default() };
            return Some(Self { stamp: Stamp::new(date, 0, Zoned::No)?, clock: Clock::default(), look });
        }
        let t = gap(&mut cursor)?;
        let (clock, zoned, mut look) = clock::behind_date(&mut cursor, yearless)?;
        if let Date::Yearless { month, day } = date
            && !cursor.is_at_end()
        {
            // "Mar 2 10:05:00 CET 2026"
            cursor.eat(b' ').then_some(())?;
            let year = cursor.number(4, 4)?;
            date = Date::Days(days(year, month, day)?);
            parts = parts.with_long_year();
        }
        if !cursor.is_at_end() {
            return None;
        }
        (look.parts, look.t) = (parts, t);
        Some(Self { stamp: Stamp::new(date, clock.ms(), zoned)?, clock, look })
    }
}

/// What stands between date and time of day; whether it is a "T".
fn gap(cursor: &mut Cursor<'_>) -> Option<bool> {
    if matches!(cursor.rest(), [b't' | b'_' | b':' | b'-', b'0'..=b'9', ..]) {
        cursor.at += 1;
        return Some(cursor.bytes[cursor.at - 1] == b't');
    }
    let comma = cursor.eat(b',');
    let blank = cursor.eat(b' ');
    if blank {
        let _ = cursor.eat_all(b"- ") || cursor.eat_all(b"/ ");
        if cursor.eat_word(&["at", "um", "as", "alle", "om", "a"]) {
            cursor.eat_all(b" las");
            cursor.eat(b' ').then_some(())?;
        }
    }
    (comma || blank).then_some(false)
}

/// The date at the cursor.
fn date(cursor: &mut Cursor<'_>) -> Option<(Date, Parts)> {
    if cursor.peek()?.is_ascii_lowercase() {
        return month_day(cursor);
    }
    let length = cursor.digits_here();
    if length == 8 {
        let value = cursor.number(8, 8)?;
        return Some((Date::Days(compact(value)?), Parts::Compact));
    }
    let mut ahead = *cursor;
    let first = ahead.number(1, 4)?;
    if length == 3 {
        return None;
    }
    let separator = ahead.eat_any(b"-/. ");
    if separator.is_some() {
        ahead.eat(b' ');
    }
    let textual = !ahead.peek()?.is_ascii_digit();
    if length == 4 {
        let year = first;
        let (month, word) = if textual { (month_word(&mut ahead)?, true) } else { (ahead.number(1, 2)?, false) };
        let separator = separator?;
        if word {
            ahead.eat(b'.');
            ahead.eat_any(b"-/ ");
        } else if separator == b' ' || !ahead.eat(separator) {
            return None;
        }
        let day = ahead.number(1, 2)?;
        *cursor = ahead;
        return Some((
            Date::Days(days(year, month, day)?),
            Parts::YearFirst { separator: char::from(separator), word },
        ));
    }
    let found =
        if textual { day_month(&mut ahead, first, separator)? } else { numbers(&mut ahead, first, separator?)? };
    *cursor = ahead;
    Some(found)
}

/// YYYYMMDD.
pub(super) fn compact(value: i64) -> Option<i64> {
    days(value / 10_000, value / 100 % 100, value % 100)
}

/// "02/03/2026", "2. 3. 2026", "02/03/26", "02/03", from the second number on.
fn numbers(cursor: &mut Cursor<'_>, a: i64, separator: u8) -> Option<(Date, Parts)> {
    let b = cursor.number(1, 2).filter(|_| separator != b' ')?;
    let shown = char::from(separator);
    let mut ahead = *cursor;
    let parted = ahead.eat(separator);
    if parted && separator == b'.' {
        ahead.eat(b' ');
    }
    let short = ahead.digits_here() == 2;
    let last = if parted { ahead.number(2, 4).filter(|_| !matches!(ahead.peek(), Some(b':' | b'h'))) } else { None };
    let Some(c) = last else {
        // "03.02. 10:05"
        let _ = separator == b'.' && cursor.eat(b'.');
        return is_pair(a, b).then_some((Date::OpenYearless { a, b }, Parts::Numbers { separator: shown, year: None }));
    };
    *cursor = ahead;
    let parts = Parts::Numbers { separator: shown, year: Some(!short) };
    if short {
        let possible = is_pair(a, b) || ((1..=12).contains(&b) && (1..=31).contains(&c));
        return possible.then_some((Date::Triple { a, b, c, dashed: separator == b'-' }, parts));
    }
    (YEARS.contains(&c) && is_pair(a, b)).then_some((Date::Pair { year: c, a, b }, parts))
}

/// Day and month in some order.
fn is_pair(a: i64, b: i64) -> bool {
    (1..=31).contains(&a) && (1..=31).contains(&b) && a.min(b) <= 12
}

fn month_word(cursor: &mut Cursor<'_>) -> Option<i64> {
    let found = month(cursor.word())?;
    Some(found)
}

fn ordinal(cursor: &mut Cursor<'_>) {
    cursor.eat_word(&["st", "nd", "rd", "th", "er", "o", "e"]);
}

/// "2. mars 2026", "02-mar-26", "2 de marzo de 2026", "02mar2026", "2 mar", from behind the day on.
fn day_month(cursor: &mut Cursor<'_>, day: i64, separator: Option<u8>) -> Option<(Date, Parts)> {
    if separator.is_none() {
        let mut ahead = *cursor;
        ordinal(&mut ahead);
        if ahead.at > cursor.at && ahead.eat(b' ') {
            *cursor = ahead;
        }
    }
    if cursor.eat_word(&["de", "of", "di", "d"]) {
        cursor.eat_any(b" '")?;
    }
    let month = month_word(cursor)?;
    let shown = separator.map_or(' ', char::from);
    let mut ahead = *cursor;
    ahead.eat(b'.');
    ahead.eat(b',');
    ahead.eat_any(b"-/ ");
    if ahead.eat_word(&["de", "del"]) {
        ahead.eat(b' ');
    }
    ahead.eat(b'\'');
    let Some((year, long)) = year(&mut ahead) else {
        cursor.eat(b'.');
        return Some((Date::Yearless { month, day }, Parts::DayWord { separator: shown, year: None }));
    };
    *cursor = ahead;
    Some((Date::Days(days(year, month, day)?), Parts::DayWord { separator: shown, year: Some(long) }))
}

/// A year of four digits or two that is not the start of a time of day, and whether it is the long one.
fn year(cursor: &mut Cursor<'_>) -> Option<(i64, bool)> {
    let mut ahead = *cursor;
    let long = ahead.digits_here() == 4;
    let year = ahead.number(2, 4).filter(|_| long || ahead.at == cursor.at + 2)?;
    let is_hour = !long && (matches!(ahead.peek(), Some(b':' | b'h')) || clock::half_day(&mut { ahead }).is_some());
    if is_hour {
        return None;
    }
    *cursor = ahead;
    Some((if long { year } else { century(year) }, long))
}

/// "mar 2, 2026", "march 2nd 2026", "mar-02-2026", "mar 2".
fn month_day(cursor: &mut Cursor<'_>) -> Option<(Date, Parts)> {
    let month = month_word(cursor)?;
    cursor.eat(b'.');
    let separator = cursor.eat_any(b" -/")?;
    let day = cursor.number(1, 2)?;
    ordinal(cursor);
    let shown = char::from(separator);
    let mut ahead = *cursor;
    let comma = ahead.eat(b',');
    ahead.eat_any(b" -/");
    let quoted = ahead.eat(b'\'');
    match year(&mut ahead).filter(|(_, long)| *long || comma || quoted || separator != b' ') {
        Some((year, long)) => {
            *cursor = ahead;
            Some((Date::Days(days(year, month, day)?), Parts::WordDay { separator: shown, year: Some(long) }))
        }
        None => Some((Date::Yearless { month, day }, Parts::WordDay { separator: shown, year: None })),
    }
}

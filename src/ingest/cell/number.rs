//! A number in any of the ways that exports write one, under one decimal sign.

/// The sign between a number's whole part and its decimals, the same throughout a file or a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decimal {
    Point,
    Comma,
}

impl Decimal {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Point, Self::Comma];

    /// The sign.
    #[must_use]
    pub fn sign(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }

    fn mark(self) -> Mark {
        match self {
            Self::Point => Mark::Point,
            Self::Comma => Mark::Comma,
        }
    }
}

/// Powers of ten that are exact in binary64.
pub(super) const TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];
/// Digits whose integer is exact in binary64 [digits].
const EXACT_DIGITS: usize = 15;
/// Marks inside one number: more make none [marks].
const MOST_MARKS: usize = 10;

/// A text that is a number and nothing else; `None` where it is not one under this decimal sign.
///
/// Thousands may be parted, evenly, by the other sign, an apostrophe, a blank, or a no-break, narrow or thin space. The sign may stand before
/// or behind ("5.2-"), or be a pair of round brackets as in bookkeeping ("(5.2)"). Infinity is no number.
#[must_use]
pub fn number(text: &str, decimal: Decimal) -> Option<f64> {
    let lexed = Lexed::of(text.trim())?;
    if lexed.rest.is_empty() { lexed.value(decimal) } else { None }
}

/// What may stand between the digits of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    Point,
    Comma,
    Apostrophe,
    Blank,
}

impl Mark {
    fn of(c: char) -> Option<Self> {
        Some(match c {
            '.' => Self::Point,
            ',' => Self::Comma,
            '\'' | '’' => Self::Apostrophe,
            ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}' => Self::Blank,
            _ => return None,
        })
    }
}

/// The number that a text starts with, not yet read under a decimal sign.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lexed<'a> {
    negative: bool,
    /// Digits and marks.
    body: &'a str,
    /// Where each mark stands in `body`, and its length [bytes].
    marks: [(usize, usize, Mark); MOST_MARKS],
    count: usize,
    /// Digits, with an ASCII sign where there is one.
    exponent: Option<i32>,
    /// What follows the number.
    pub rest: &'a str,
}

impl<'a> Lexed<'a> {
    /// `None` where the text starts with no number.
    pub fn of(text: &'a str) -> Option<Self> {
        let bracketed = text.strip_prefix('(');
        let unsigned = bracketed.unwrap_or(text);
        let bare = unsigned.strip_prefix(['+', '-', '\u{2212}', '\u{2013}']);
        let negative = bare.is_some() && !unsigned.starts_with('+');
        let mut lexed = Self::body(bare.unwrap_or(unsigned))?;
        lexed.negative = negative;
        lexed.take_exponent();
        if bracketed.is_some() {
            lexed.rest = lexed.rest.strip_prefix(')').filter(|_| bare.is_none())?;
            lexed.negative = true;
        } else if bare.is_none()
            && let Some(behind) = lexed.rest.strip_prefix(['-', '\u{2212}'])
            && behind.chars().next().is_none_or(char::is_whitespace)
        {
            (lexed.negative, lexed.rest) = (true, behind);
        }
        Some(lexed)
    }

    fn body(text: &'a str) -> Option<Self> {
        let mut marks = [(0, 0, Mark::Point); MOST_MARKS];
        let (mut count, mut at) = (0, 0);
        loop {
            at += digits(&text[at..]);
            let Some((mark, len)) = mark_at(&text[at..], at > 0) else { break };
            *marks.get_mut(count)? = (at, len, mark);
            count += 1;
            at += len;
        }
        let some_digit = text[..at].bytes().any(|b| b.is_ascii_digit());
        let (body, rest) = text.split_at(at);
        some_digit.then_some(Self { negative: false, body, marks, count, exponent: None, rest })
    }

    fn take_exponent(&mut self) {
        let Some(behind) = self.rest.strip_prefix(['e', 'E']) else { return };
        let unsigned = behind.strip_prefix(['+', '-', '\u{2212}']);
        let negative = unsigned.is_some() && !behind.starts_with('+');
        let unsigned = unsigned.unwrap_or(behind);
        let (written, rest) = unsigned.split_at(digits(unsigned));
        if written.is_empty() || rest.starts_with(char::is_alphanumeric) {
            return;
        }
        // More digits than an exponent can have make nought or infinity.
        let size = written.parse().unwrap_or(100_000);
        (self.exponent, self.rest) = (Some(if negative { -size } else { size }), rest);
    }

    fn marks(&self) -> &[(usize, usize, Mark)] {
        &self.marks[..self.count]
    }

    /// Whether digits are parted in some way.
    pub fn has_marks(&self) -> bool {
        self.count > 0
    }

    /// Whether a comma stands among the digits.
    pub fn has_comma(&self) -> bool {
        self.marks().iter().any(|m| m.2 == Mark::Comma)
    }

    /// The number under a decimal sign; `None` where it contradicts it.
    pub fn value(&self, decimal: Decimal) -> Option<f64> {
        let sign = decimal.mark();
        let (whole_marks, decimals_from) = match self.marks() {
            [before @ .., (at, len, mark)] if *mark == sign => (before, Some((*at, at + len))),
            all => (all, None),
        };
        let (whole, decimals) = match decimals_from {
            Some((end, start)) => (&self.body[..end], &self.body[start..]),
            None => (self.body, ""),
        };
        if !whole_marks.is_empty() && !evenly_parted(whole, whole_marks, sign) {
            return None;
        }
        let magnitude = if whole_marks.is_empty() {
            self.magnitude(whole, decimals)
        } else {
            let joined: String = whole.chars().filter(char::is_ascii_digit).collect();
            self.magnitude(&joined, decimals)
        }?;
        Some(if self.negative { -magnitude } else { magnitude })
    }

    /// Exact as in [`super::plain`] where it is short, else by the standard library.
    fn magnitude(&self, whole: &str, decimals: &str) -> Option<f64> {
        if self.exponent.is_none() && whole.len() + decimals.len() <= EXACT_DIGITS {
            let digits = whole.bytes().chain(decimals.bytes());
            let integer = digits.fold(0u64, |n, b| n * 10 + u64::from(b.wrapping_sub(b'0')));
            return Some(integer as f64 / TENS[decimals.len()]);
        }
        let plain = format!("{whole}.{decimals}e{}", self.exponent.unwrap_or(0));
        plain.parse().ok().filter(|n: &f64| n.is_finite())
    }
}

/// Thousands: one kind of mark, not the decimal sign, three digits between, and no nought in front.
fn evenly_parted(whole: &str, marks: &[(usize, usize, Mark)], sign: Mark) -> bool {
    let Some((first, _, kind)) = marks.first() else { return true };
    let ends = marks.iter().skip(1).map(|m| m.0).chain([whole.len()]);
    let even = marks.iter().zip(ends).all(|((at, len, mark), end)| mark == kind && end - (at + len) == 3);
    *kind != sign && (1..=3).contains(first) && !whole.starts_with('0') && even
}

fn digits(text: &str) -> usize {
    text.bytes().take_while(u8::is_ascii_digit).count()
}

/// "E", perhaps a sign, and digits.
fn starts_with_exponent(text: &str) -> bool {
    let unsigned = text.strip_prefix(['e', 'E']).map(|t| t.strip_prefix(['+', '-', '\u{2212}']).unwrap_or(t));
    unsigned.is_some_and(|t| digits(t) > 0)
}

/// The mark that a text starts with, and its length. A blank or an apostrophe is one only before three digits, so that "43 2" is two things; a
/// point or comma before a digit, or behind the last one where the text ends or an exponent follows ("1.E+02").
fn mark_at(text: &str, after_digits: bool) -> Option<(Mark, usize)> {
    let c = text.chars().next()?;
    let mark = Mark::of(c)?;
    let behind = &text[c.len_utf8()..];
    let fits = match mark {
        Mark::Point | Mark::Comma => {
            digits(behind) > 0 || (after_digits && (behind.is_empty() || starts_with_exponent(behind)))
        }
        Mark::Apostrophe | Mark::Blank => after_digits && digits(behind) == 3,
    };
    fits.then_some((mark, c.len_utf8()))
}

//! Which sign parts the decimals of a column or a file, weighed over its cells.

use super::number::{Decimal, Lexed};
use super::text::text;

/// Cells that contradict the rest may be damage up to this share of them; above it the column is mixed [share].
const MOST_DAMAGE: f64 = 0.02;
/// Neighbours within this factor go on from one another ...
const CLOSE: f64 = 1.5;
/// ... and beyond this factor they do not: a thousand lies between the two readings of one cell.
const APART: f64 = 100.0;
/// Neighbours that prove the same before they are believed, where no single cell does [pairs]. One pump start may look like one.
const LEAST_PROOFS: u64 = 2;

/// What the cells of a column or a file say about its decimal sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    Decided(Decimal),
    /// Every parted number could be thousands or have three decimals, and no neighbours prove which.
    Ambiguous,
    /// Some cells can only have a point and others only a comma.
    Mixed,
    /// No number is parted in a way that matters: both signs read the same.
    Either,
}

/// Counts over the cells of one column, in their order, or of several columns after [`NumberEvidence::merge`].
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct NumberEvidence {
    /// Numbers of any form.
    pub numbers: u64,
    /// Numbers that only a decimal point explains: "4.5", "1,234.5", "1,234,567", "0.998".
    pub only_point: u64,
    /// Numbers that only a decimal comma explains: "4,5", "1.234,5", "1.234.567", "0,998".
    pub only_comma: u64,
    /// "1.234": a decimal point, or thousands beside a decimal comma.
    pub ambiguous_point: u64,
    /// "1,234": a decimal comma, or thousands beside a decimal point.
    pub ambiguous_comma: u64,
    /// Numbers whose thousands are parted by a blank or an apostrophe, the same under both signs.
    pub thousands: u64,
    /// Neighbours that prove a point or a comma: 999 then "1,001" proves a point.
    pub proofs_point: u64,
    pub proofs_comma: u64,
    last: Option<Last>,
}

/// The cell before.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Last {
    /// The same number under both signs.
    Sure(f64),
    Ambiguous {
        point: f64,
        comma: f64,
    },
}

impl NumberEvidence {
    /// Weighs the next cell of a column; what is no number leaves the counts as they are.
    pub fn add(&mut self, cell: &[u8]) {
        let word = text(cell);
        let Some(lexed) = Lexed::of(word.trim()) else {
            self.last = None;
            return;
        };
        let now = match (lexed.value(Decimal::Point), lexed.value(Decimal::Comma)) {
            (None, None) => None,
            (Some(point), None) => {
                self.only_point += 1;
                Some(Last::Sure(point))
            }
            (None, Some(comma)) => {
                self.only_comma += 1;
                Some(Last::Sure(comma))
            }
            (Some(point), Some(comma)) if point == comma => {
                self.thousands += u64::from(lexed.has_marks());
                Some(Last::Sure(point))
            }
            (Some(point), Some(comma)) => {
                if point.abs() < comma.abs() {
                    self.ambiguous_point += 1;
                } else {
                    self.ambiguous_comma += 1;
                }
                Some(Last::Ambiguous { point, comma })
            }
        };
        self.numbers += u64::from(now.is_some());
        match (self.last, now) {
            (Some(Last::Sure(sure)), Some(Last::Ambiguous { point, comma }))
            | (Some(Last::Ambiguous { point, comma }), Some(Last::Sure(sure))) => self.prove(sure, point, comma),
            _ => {}
        }
        self.last = now;
    }

    /// A sure number beside one of two readings a thousand apart.
    fn prove(&mut self, sure: f64, point: f64, comma: f64) {
        if sure == 0.0 || point == 0.0 || comma == 0.0 {
            return;
        }
        let factor = |v: f64| if v * sure > 0.0 { (v / sure).max(sure / v) } else { f64::INFINITY };
        let (by_point, by_comma) = (factor(point), factor(comma));
        self.proofs_point += u64::from(by_point <= CLOSE && by_comma >= APART);
        self.proofs_comma += u64::from(by_comma <= CLOSE && by_point >= APART);
    }

    /// Adds what another column or block says; the two are no neighbours.
    pub fn merge(&mut self, other: &Self) {
        self.numbers += other.numbers;
        self.only_point += other.only_point;
        self.only_comma += other.only_comma;
        self.ambiguous_point += other.ambiguous_point;
        self.ambiguous_comma += other.ambiguous_comma;
        self.thousands += other.thousands;
        self.proofs_point += other.proofs_point;
        self.proofs_comma += other.proofs_comma;
        self.last = None;
    }

    /// What all that says. Single cells come first, then neighbours.
    #[must_use]
    pub fn decimal(&self) -> Verdict {
        if let Some(verdict) = larger(self.only_point, self.only_comma, 1) {
            return verdict;
        }
        if self.ambiguous_point + self.ambiguous_comma == 0 {
            return Verdict::Either;
        }
        match larger(self.proofs_point, self.proofs_comma, LEAST_PROOFS) {
            Some(Verdict::Decided(decimal)) => Verdict::Decided(decimal),
            // "1.234" and "1,234" side by side: one of them has the decimals, and neither says which.
            _ => Verdict::Ambiguous,
        }
    }

    /// The likelier sign where [`NumberEvidence::decimal`] leaves it open, for a reading that is then said to be a guess.
    ///
    /// Controllers and loggers seldom part thousands, people and spreadsheets do (common practice, no source): the sign that stands there has the
    /// decimals, but for a comma in a text whose cells are parted by commas, where a quoted "1,234" is thousands.
    #[must_use]
    pub fn likelier(&self, delimiter: u8) -> Decimal {
        match self.decimal() {
            Verdict::Decided(decimal) => decimal,
            Verdict::Mixed if self.only_comma > self.only_point => Decimal::Comma,
            Verdict::Mixed | Verdict::Either => Decimal::Point,
            Verdict::Ambiguous if delimiter == b',' => Decimal::Point,
            Verdict::Ambiguous if self.ambiguous_comma > self.ambiguous_point => Decimal::Comma,
            Verdict::Ambiguous => Decimal::Point,
        }
    }
}

/// `None` where neither count reaches `least`.
fn larger(point: u64, comma: u64, least: u64) -> Option<Verdict> {
    let (most, rest) = (point.max(comma), point.min(comma));
    if most < least {
        return None;
    }
    if rest as f64 > MOST_DAMAGE * (most + rest) as f64 {
        return Some(Verdict::Mixed);
    }
    Some(Verdict::Decided(if point > comma { Decimal::Point } else { Decimal::Comma }))
}

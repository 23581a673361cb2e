//! One cell: a number, a state in words, nothing, or a word that says the reading is bad.
//!
//! Comes in: the bytes of a cell and what its point may say. Goes out: [`Cell`]. Which sign parts the decimals is a
//! property of a file or a column and never decided here cell by cell: [`NumberEvidence`] weighs a column, and a reader
//! built for one [`Decimal`] says [`Cell::Unknown`] to what contradicts it. A number that cannot be true (-9999, 1e38) is a
//! number here: [`sentinels`] finds those that stand for "no reading" in a whole column, and screening judges the rest by
//! the role. Start at [`Reader::read`].

mod evidence;
mod number;
mod plain;
mod reader;
mod sentinels;
mod split;
mod status;
mod text;
mod words;

pub use evidence::{NumberEvidence, Verdict};
pub use number::{Decimal, number};
pub use plain::{comma_number_at, plain_number_at};
pub use reader::{Reader, carried_unit, is_reading, is_state};
pub use sentinels::{Sentinel, sentinels};
pub use split::{cell_at, cells};
pub use text::text;
pub use words::{is_bad_word, is_known_word};

/// What a cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cell {
    /// A reading in the point's own unit.
    Number(f64),
    /// A reading in the unit that the cell carries, one that the point can have.
    NumberIn(f64, UnitText),
    /// A state in words, already as 0 or 1; no unit applies.
    State(f64),
    Blank,
    /// A word for "no valid reading", alone or behind a number.
    Bad,
    /// A number with a unit that this point cannot have.
    WrongUnit(UnitText),
    /// Neither a number nor a known word.
    Unknown,
}

/// The unit behind a number, as written.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct UnitText {
    bytes: [u8; Self::LONGEST],
    len: u8,
}

impl UnitText {
    /// Longer text is no unit [bytes].
    pub const LONGEST: usize = 31;

    /// `None` where the text is empty or too long for a unit.
    #[must_use]
    pub fn new(written: &str) -> Option<Self> {
        let mut bytes = [0; Self::LONGEST];
        bytes.get_mut(..written.len())?.copy_from_slice(written.as_bytes());
        let len = u8::try_from(written.len()).ok().filter(|n| *n > 0)?;
        Some(Self { bytes, len })
    }

    #[must_use]
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(&self.bytes[..usize::from(self.len)]).unwrap_or_default()
    }
}

impl std::fmt::Debug for UnitText {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:?}", self.as_str())
    }
}

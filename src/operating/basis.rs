//! Which measurements fixed a point, in words.

use super::model::witness::COUNT;
use std::sync::LazyLock;

/// What a point rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Nothing can be said.
    None,
    Off,
    /// Power alone at so little load that it bounds the flow and no more.
    PowerBound,
    /// Speed alone, through the flow that went with it elsewhere in the record.
    Speed,
    OutsideTable,
    /// Measurements, one bit each in the order of [`super::model::witness`]; the next bit where neighbour rows settled which of two peaks.
    Measured(u8),
}

/// Set where neighbour rows chose between two peaks.
pub const NEIGHBOURS: u8 = 1 << COUNT;

/// In words, in the order they are named.
const NAMES: [(&str, u8); COUNT + 1] = [
    ("meter", 1 << super::model::witness::METER),
    ("head", 1 << super::model::witness::HEAD),
    ("power", 1 << super::model::witness::POWER),
    ("heat", 1 << super::model::witness::HEAT),
    ("remote-pressure", 1 << super::model::witness::REMOTE),
    ("neighbours", NEIGHBOURS),
];

static WORDS: LazyLock<Vec<String>> = LazyLock::new(|| {
    (0..2 * NEIGHBOURS)
        .map(|bits| NAMES.iter().filter(|n| bits & n.1 != 0).map(|n| n.0).collect::<Vec<_>>().join("+"))
        .collect()
});

impl Basis {
    /// The word used in tables and files: the measurements joined by "+", or what stands in for them.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Basis::None | Basis::Measured(0) => "none",
            Basis::Off => "off",
            Basis::PowerBound => "power-bound",
            Basis::Speed => "speed",
            Basis::OutsideTable => "outside-table",
            Basis::Measured(bits) => WORDS.get(usize::from(bits)).map_or("none", String::as_str),
        }
    }

    /// The parts that words are made of, and the words that stand alone.
    #[must_use]
    pub fn vocabulary() -> Vec<&'static str> {
        NAMES.iter().map(|n| n.0).chain(["off", "power-bound", "speed", "outside-table"]).collect()
    }

    /// Whether a kind of measurement (of [`super::model::witness`]) was heard.
    #[must_use]
    pub fn rests_on(self, which: usize) -> bool {
        match self {
            Basis::Measured(bits) => bits & (1 << which) != 0,
            Basis::PowerBound => which == super::model::witness::POWER,
            _ => false,
        }
    }
}

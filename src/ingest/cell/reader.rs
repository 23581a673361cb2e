//! The cells of one point, read by what its role may say.

use super::number::{Decimal, Lexed};
use super::status::{Tail, Worth, worth};
use super::text::text;
use super::words::{Meaning, meaning};
use super::{Cell, UnitText};
use crate::plant::{Dimension, Point, Role, units};

/// A state written as a larger number is none: 9999 or 65535 stand for "no reading" there too. Commands may come in percent [-].
const LARGEST_STATE: f64 = 100.0;

/// Reads the cells of one point.
#[derive(Debug, Clone)]
pub struct Reader {
    on: Vec<String>,
    states: &'static [(Meaning, f64)],
    is_state: bool,
    /// A point of no role yet may say a state in words, with a status behind it.
    takes_states: bool,
    signs: Signs,
    /// As declared, in lower case.
    unit: Option<String>,
    /// The SI unit that this point's values are kept in; `None` where the plant file says what readings mean whatever their unit.
    kept_in: Option<&'static str>,
    dimensions: &'static [Dimension],
}

/// Which decimal signs are taken.
#[derive(Debug, Clone, Copy)]
enum Signs {
    One(Decimal),
    /// Of two kinds in one number the last; of one kind the likelier.
    Any {
        comma_parts_cells: bool,
    },
}

impl Reader {
    /// Takes either decimal sign, cell by cell: for a text whose own sign is not known yet.
    ///
    /// `decimal_comma`: a comma does not part the cells of this file.
    #[must_use]
    pub fn new(point: &Point, decimal_comma: bool) -> Self {
        Self::of(point, Signs::Any { comma_parts_cells: !decimal_comma })
    }

    /// Takes one decimal sign only; a number that contradicts it is [`Cell::Unknown`].
    #[must_use]
    pub fn with(point: &Point, decimal: Decimal) -> Self {
        Self::of(point, Signs::One(decimal))
    }

    fn of(point: &Point, signs: Signs) -> Self {
        let dimensions = point.role.dimensions();
        let declared = point.unit.as_ref().map(|u| u.dimension);
        Self {
            on: point.on.iter().map(|w| w.trim().to_lowercase()).collect(),
            states: states(point.role),
            is_state: is_state(point.role),
            takes_states: point.role == Role::Ignore,
            signs,
            unit: point.unit.as_ref().map(|u| u.written.trim().to_lowercase()),
            kept_in: if point.range.is_some() {
                None
            } else {
                declared.or(dimensions.first().copied()).map(Dimension::si)
            },
            dimensions,
        }
    }

    /// A plain number may skip [`Reader::read`].
    #[must_use]
    pub fn takes_plain_numbers(&self) -> bool {
        !self.is_state
    }

    /// What the cell says.
    #[must_use]
    pub fn read(&self, cell: &[u8]) -> Cell {
        self.read_flagged(cell).0
    }

    /// What the cell says, and whether it says that a person set the value.
    #[must_use]
    pub fn read_flagged(&self, cell: &[u8]) -> (Cell, bool) {
        let cell = cell.trim_ascii();
        if cell.is_empty() {
            return (Cell::Blank, false);
        }
        let word = text(cell);
        let word = word.trim();
        if word.is_empty() {
            return (Cell::Blank, false);
        }
        if self.is_state { self.state(word) } else { self.measured(word) }
    }

    fn measured(&self, word: &str) -> (Cell, bool) {
        let Some(lexed) = Lexed::of(word) else {
            if self.takes_states {
                return self.state(word);
            }
            let meaning = meaning(word);
            let said = if meaning.may_be(Meaning::BAD) {
                Cell::Bad
            } else {
                look_up(self.states, meaning).map_or(Cell::Unknown, Cell::State)
            };
            return (said, false);
        };
        let tail = Tail::of(lexed.rest, &|t: &str| self.is_own(t));
        let overridden = tail.worth == Worth::Overridden;
        let said = match (tail.worth, self.value(&lexed), tail.unit) {
            (Worth::Bad, ..) => Cell::Bad,
            (Worth::Unknown, ..) | (_, None, _) => Cell::Unknown,
            (_, Some(n), None) => Cell::Number(n),
            (_, Some(n), Some(unit)) if self.is_own(unit.as_str()) => Cell::Number(n),
            (_, Some(n), Some(unit)) => self.in_unit(n, unit),
        };
        (said, overridden && matches!(said, Cell::Number(_) | Cell::NumberIn(..)))
    }

    fn is_own(&self, unit: &str) -> bool {
        self.unit.as_deref().is_some_and(|own| unit.to_lowercase() == own)
    }

    /// A number in a unit that is not written as the declared one.
    fn in_unit(&self, n: f64, unit: UnitText) -> Cell {
        let Some(dimension) = units::dimension(unit.as_str()) else { return Cell::WrongUnit(unit) };
        match self.kept_in {
            None => Cell::Number(n),
            Some(_) if self.dimensions.is_empty() => Cell::NumberIn(n, unit),
            Some(kept_in) if self.dimensions.contains(&dimension) && dimension.si() == kept_in => {
                Cell::NumberIn(n, unit)
            }
            Some(_) => Cell::WrongUnit(unit),
        }
    }

    fn value(&self, lexed: &Lexed<'_>) -> Option<f64> {
        match self.signs {
            Signs::One(decimal) => lexed.value(decimal),
            Signs::Any { comma_parts_cells } => {
                let comma_first = !comma_parts_cells && lexed.has_comma();
                let order = if comma_first { [Decimal::Comma, Decimal::Point] } else { Decimal::ALL };
                order.into_iter().find_map(|d| lexed.value(d))
            }
        }
    }

    /// A state: a word, a number, both ("1 - On": the word counts, since numbers of states start where they like), each with a status behind it.
    fn state(&self, word: &str) -> (Cell, bool) {
        if !self.on.is_empty() && self.on.contains(&word.to_lowercase()) {
            return (Cell::State(1.0), false);
        }
        let (word, status) = without_braces(word);
        let worth = status.map_or(Worth::Good, worth);
        let (said, overridden) = match worth {
            Worth::Bad => (Cell::Bad, false),
            Worth::Unknown => (Cell::Unknown, false),
            Worth::Good | Worth::Overridden => self.bare_state(word),
        };
        (said, matches!(said, Cell::State(_)) && (overridden || worth == Worth::Overridden))
    }

    fn bare_state(&self, word: &str) -> (Cell, bool) {
        if !self.on.is_empty() {
            return (self.declared_state(word), false);
        }
        let whole = meaning(word);
        if let Some(state) = look_up(self.states, whole) {
            return (Cell::State(state), false);
        }
        if whole.may_be(Meaning::BAD) {
            return (Cell::Bad, false);
        }
        match Lexed::of(word) {
            Some(lexed) => self.numbered_state(&lexed),
            None => self.worded_state(word),
        }
    }

    /// The plant file names the words that mean running: all others mean at rest.
    fn declared_state(&self, word: &str) -> Cell {
        let lower = word.to_lowercase();
        let number = |t: &str| Decimal::ALL.into_iter().find_map(|d| super::number(t, d));
        let same = |w: &String| *w == lower || number(w).is_some_and(|n| Some(n) == number(&lower));
        if self.on.iter().any(same) {
            return Cell::State(1.0);
        }
        let whole = meaning(word);
        let bad = whole.may_be(Meaning::BAD) && look_up(self.states, whole).is_none();
        if bad { Cell::Bad } else { Cell::State(0.0) }
    }

    /// "1", "1.0", "1 - On", "0=Off", "1 ok".
    fn numbered_state(&self, lexed: &Lexed<'_>) -> (Cell, bool) {
        let rest = lexed
            .rest
            .trim_start_matches(|c: char| c.is_whitespace() || matches!(c, '=' | ':' | '-' | '–' | '/' | '|'));
        if let Some(state) = look_up(self.states, meaning(rest)).filter(|_| !rest.is_empty()) {
            return (Cell::State(state), false);
        }
        let worth = if rest.is_empty() { Worth::Good } else { worth(rest) };
        let number = Decimal::ALL.into_iter().find_map(|d| lexed.value(d)).filter(|n| n.abs() <= LARGEST_STATE);
        match (worth, number) {
            (Worth::Bad, _) => (Cell::Bad, false),
            (Worth::Unknown, _) | (_, None) => (Cell::Unknown, false),
            (worth, Some(n)) => (Cell::State(if n == 0.0 { 0.0 } else { 1.0 }), worth == Worth::Overridden),
        }
    }

    /// "On (1)", "Off;ok": a state, then what stands behind it.
    fn worded_state(&self, word: &str) -> (Cell, bool) {
        let parts = |c: char| matches!(c, '(' | '[' | ';' | '|' | '#' | '=' | ':' | ',');
        let Some((head, behind)) = word.find(parts).map(|at| word.split_at(at)) else { return (Cell::Unknown, false) };
        let Some(state) = look_up(self.states, meaning(head)) else { return (Cell::Unknown, false) };
        let inner = behind.trim_matches(|c: char| parts(c) || c.is_whitespace() || matches!(c, ')' | ']'));
        let is_number = Lexed::of(inner).is_some_and(|l| l.rest.is_empty());
        match if is_number { Worth::Good } else { worth(behind) } {
            Worth::Good => (Cell::State(state), false),
            Worth::Overridden => (Cell::State(state), true),
            Worth::Bad => (Cell::Bad, false),
            Worth::Unknown => (Cell::Unknown, false),
        }
    }
}

/// A text, and the status in braces behind it.
fn without_braces(word: &str) -> (&str, Option<&str>) {
    match word.find('{') {
        Some(at) if at > 0 && word.ends_with('}') => (word[..at].trim_end(), Some(&word[at..])),
        _ => (word, None),
    }
}

/// Whether a role is a state (on or off) and not a measured number.
#[must_use]
pub fn is_state(role: Role) -> bool {
    use Role::*;
    matches!(role, PumpStatus | PumpCommand | FanStatus | SourceStatus | PlantEnable | PumpMode | PumpAlarm)
}

/// What words mean for a role, the first that fits.
fn states(role: Role) -> &'static [(Meaning, f64)] {
    use Role::*;
    type M = Meaning;
    match role {
        PumpAlarm => &[(M::ALARM, 1.0), (M::NORMAL, 0.0), (M::ON, 1.0), (M::OFF, 0.0)],
        // 1 is automatic: the pump follows the controller.
        PumpMode => &[(M::AUTO, 1.0), (M::HAND, 0.0), (M::OFF, 0.0)],
        PumpStatus | PumpCommand | FanStatus | SourceStatus | PlantEnable => &[(M::ON, 1.0), (M::OFF, 0.0)],
        ValvePosition | BypassPosition | ValveCommand => &[(M::OPEN, 1.0), (M::CLOSED, 0.0)],
        // A point of no role yet, as exports are looked at before there is a plant file; "Fault" is a bad reading there.
        Ignore => &[(M::ON, 1.0), (M::OFF, 0.0), (M::OPEN, 1.0), (M::CLOSED, 0.0), (M::AUTO, 1.0), (M::HAND, 0.0)],
        _ => &[],
    }
}

fn look_up(states: &[(Meaning, f64)], meaning: Meaning) -> Option<f64> {
    states.iter().find(|(wanted, _)| meaning.may_be(*wanted)).map(|(_, state)| *state)
}

/// The unit behind the number of a cell; `None` where there is no number, no unit, or one that is not known.
#[must_use]
pub fn carried_unit(cell: &[u8]) -> Option<UnitText> {
    let word = text(cell.trim_ascii());
    Tail::of(Lexed::of(word.trim())?.rest, &|_| false).unit
}

/// A cell that holds a reading or a known word, under either decimal sign: what a column of values is made of.
#[must_use]
pub fn is_reading(cell: &[u8]) -> bool {
    let word = text(cell.trim_ascii());
    let word = word.trim();
    let Some(lexed) = Lexed::of(word) else { return meaning(word) != Meaning::default() };
    let is_number = Decimal::ALL.into_iter().any(|d| lexed.value(d).is_some());
    is_number && Tail::of(lexed.rest, &|_| false).worth != Worth::Unknown
}

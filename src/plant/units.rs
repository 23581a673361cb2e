//! Units as the trade writes them, turned to the SI units that values are kept in.
//!
//! Comes in: what somebody wrote ("m³/h", "ft H2O", "US gpm", "°F"). Goes out: a [`Unit`], linear to SI. The factors
//! are those of [`crate::quantity`]; this table only knows spellings. Columns of water (ft H2O, in wg, mH2O) are the
//! conventional ones and thus pressures; plain metres and feet are heads of the pumped fluid. What could be read in
//! two ways a million apart (mW, mPa) is refused, not guessed.

mod table;

use super::words::nearest;
use super::{Dimension, Role, Unit};
use crate::quantity::{Density, Length, Pressure, STANDARD_GRAVITY};
use std::collections::HashMap;
use std::sync::LazyLock;
use table::{AMBIGUOUS, Known, TABLE};

/// Why a unit was not read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UnitError {
    /// Nothing known is written like this.
    #[error("\"{written}\" is not a known unit; the nearest is \"{nearest}\"")]
    Unknown {
        written: String,
        /// A spelling that would be read.
        nearest: &'static str,
    },
    /// It could mean two things.
    #[error("unit \"{written}\" is refused: {why}")]
    Ambiguous {
        written: String,
        why: &'static str,
        /// A spelling that would be read.
        nearest: &'static str,
    },
    /// It measures something else.
    #[error("unit \"{written}\" measures {found}, but {wanted} is needed")]
    Dimension {
        written: String,
        found: &'static str,
        wanted: String,
        /// A unit that would fit.
        nearest: &'static str,
    },
}

impl UnitError {
    /// A unit that would have been read in its place.
    #[must_use]
    pub fn instead(&self) -> &'static str {
        match self {
            Self::Unknown { nearest, .. } | Self::Ambiguous { nearest, .. } | Self::Dimension { nearest, .. } => {
                nearest
            }
        }
    }
}

/// A spelling without what people vary: spaces, dots, dashes, brackets, superscripts, the degree sign.
fn plain(written: &str) -> String {
    let mut out = String::new();
    for c in written.chars() {
        match c {
            '³' | '₃' => out.push('3'),
            '㎥' => out.push_str("m3"),
            '²' | '₂' => out.push('2'),
            '°' | 'º' | '˚' => out.push_str("deg"),
            '℃' => out.push_str("degC"),
            '℉' => out.push_str("degF"),
            'Δ' | 'δ' | '∆' => out.push_str("delta"),
            '″' | '"' | '”' => out.push_str("in"),
            '′' | '’' => out.push('\''),
            '％' => out.push('%'),
            '∕' | '⁄' => out.push('/'),
            '^' | '*' | '·' | '.' | ',' | '_' | '-' | '−' | '⁻' | '(' | ')' | '[' | ']' | '\u{feff}' => {}
            '¹' => out.push('1'),
            c if c.is_whitespace() => {}
            c => out.push(c),
        }
    }
    out
}

/// Every spelling after [`plain`], as it stands in the table; the first of two wins.
static SPELLINGS: LazyLock<HashMap<String, &'static Known>> = LazyLock::new(|| {
    let mut spellings = HashMap::new();
    for known in TABLE {
        for name in known.names {
            spellings.entry(plain(name)).or_insert(known);
        }
    }
    spellings
});

fn find(written: &str) -> Option<&'static Known> {
    let exact = plain(written);
    SPELLINGS.get(&exact).copied().or_else(|| {
        let lower = exact.to_lowercase();
        if AMBIGUOUS.iter().any(|a| a.0 == lower) { None } else { SPELLINGS.get(&lower).copied() }
    })
}

/// What a unit measures; `None` where it is unknown or could mean two things.
#[must_use]
pub fn dimension(written: &str) -> Option<Dimension> {
    find(written).map(|k| k.dimension)
}

/// Whether a text is written like a unit, one that could mean two things included. No text is none.
#[must_use]
pub fn is_known(written: &str) -> bool {
    let plain = plain(written);
    !plain.is_empty() && (find(written).is_some() || AMBIGUOUS.iter().any(|a| a.0 == plain.to_lowercase()))
}

/// The proposed spelling of the unit whose spellings come nearest.
fn nearest_spelling(written: &str, fits: impl Fn(Dimension) -> bool) -> &'static str {
    let candidates = || TABLE.iter().filter(|k| fits(k.dimension));
    let name = nearest(&plain(written), candidates().flat_map(|k| k.names.iter().copied()).filter(|n| !n.is_empty()));
    let known = candidates().find(|k| name.is_some_and(|n| k.names.contains(&n)));
    known.map_or("%", |k| k.names[0])
}

fn known(written: &str, fits: impl Fn(Dimension) -> bool) -> Result<&'static Known, UnitError> {
    if let Some(known) = find(written) {
        return Ok(known);
    }
    let lower = plain(written).to_lowercase();
    if let Some((_, why, nearest)) = AMBIGUOUS.iter().find(|a| a.0 == lower) {
        return Err(UnitError::Ambiguous { written: written.to_owned(), why, nearest });
    }
    Err(UnitError::Unknown { written: written.to_owned(), nearest: nearest_spelling(written, fits) })
}

/// Reads a unit as somebody wrote it.
///
/// # Errors
/// Names the nearest known spelling where it is unknown or could mean two things.
///
/// ```
/// let unit = offcurve::plant::units::unit("°F")?;
/// assert!((212.0 * unit.factor + unit.offset - 100.0).abs() < 1e-9);
/// # Ok::<(), offcurve::plant::units::UnitError>(())
/// ```
pub fn unit(written: &str) -> Result<Unit, UnitError> {
    Ok(linear(written, known(written, |_| true)?))
}

/// Factor and offset of a known unit, from its value at nought and at one.
fn linear(written: &str, known: &Known) -> Unit {
    let offset = without_noise((known.si)(0.0));
    let factor = without_noise((known.si)(1.0) - (known.si)(0.0));
    Unit { written: written.to_owned(), dimension: known.dimension, factor, offset }
}

/// Rounded to thirteen significant digits: a difference of two kelvin readings near 273 carries noise below that.
fn without_noise(value: f64) -> f64 {
    if value.abs() < 1e-12 { 0.0 } else { format!("{value:.12e}").parse().unwrap_or(value) }
}

/// How a reading in this unit becomes the role's SI unit: value = reading * factor + offset.
///
/// A head in metres or feet of the pumped fluid becomes a pressure at `density`.
///
/// # Errors
/// Where the unit measures something that the role does not mean.
pub fn for_role(role: Role, unit: &Unit, density: Density) -> Result<(f64, f64), UnitError> {
    let wanted = role.dimensions();
    if !wanted.is_empty() && !wanted.contains(&unit.dimension) {
        return Err(wrong_dimension(&unit.written, unit.dimension, wanted));
    }
    if unit.dimension == Dimension::Head {
        let kpa_per_metre = Pressure::of_column(Length::m(1.0), density).in_kpa();
        return Ok((unit.factor * kpa_per_metre, unit.offset * kpa_per_metre));
    }
    Ok((unit.factor, unit.offset))
}

pub(super) fn wrong_dimension(written: &str, found: Dimension, wanted: &[Dimension]) -> UnitError {
    let names: Vec<&str> = wanted.iter().map(|d| d.word()).collect();
    let usual = TABLE.iter().find(|k| wanted.contains(&k.dimension)).map_or("%", |k| k.names[0]);
    let first = TABLE.iter().find(|k| wanted.first() == Some(&k.dimension)).map_or(usual, |k| k.names[0]);
    UnitError::Dimension {
        written: written.to_owned(),
        found: found.word(),
        wanted: names.join(" or "),
        nearest: first,
    }
}

/// Why a quantity was not read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    #[error("\"{0}\" does not start with a number")]
    NoNumber(String),
    #[error("\"{0}\" has a comma in its number: decimals take a point, thousands nothing")]
    Comma(String),
    #[error("\"{0}\" has no unit")]
    NoUnit(String),
    #[error("\"{0}\" is too large a number")]
    NotFinite(String),
    #[error(transparent)]
    Unit(#[from] UnitError),
}

/// A number with its unit, in SI (a head in metres of fluid until its density is known).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    pub si: f64,
    pub dimension: Dimension,
}

/// Reads "68 m3/h", "162 kPa", "35 %" and the like; the unit must measure one of `wanted`.
///
/// # Errors
/// Where there is no number, no unit, an unknown unit, or one that measures something else.
pub fn measured(written: &str, wanted: &[Dimension]) -> Result<Measured, QuantityError> {
    let text = written.trim();
    let (number, rest) = text.split_at(number_length(text));
    let value: f64 = number.parse().map_err(|_| QuantityError::NoNumber(written.to_owned()))?;
    if rest.starts_with(',') {
        return Err(QuantityError::Comma(written.to_owned()));
    }
    if rest.trim().is_empty() {
        return Err(QuantityError::NoUnit(written.to_owned()));
    }
    let known = known(rest.trim(), |d| wanted.contains(&d))?;
    if !wanted.contains(&known.dimension) {
        return Err(wrong_dimension(rest.trim(), known.dimension, wanted).into());
    }
    let si = (known.si)(value);
    if !si.is_finite() {
        return Err(QuantityError::NotFinite(written.to_owned()));
    }
    Ok(Measured { si, dimension: known.dimension })
}

/// Length of the number that a text starts with: sign, digits, point, exponent. 0 where there is none.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |from: usize| bytes[from..].iter().take_while(|b| b.is_ascii_digit()).count();
    let mut end = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    end += digits(end);
    if bytes.get(end) == Some(&b'.') {
        end += 1 + digits(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = if end + 1 + sign <= bytes.len() { digits(end + 1 + sign) } else { 0 };
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    end
}

/// A column of numbers in a unit, in SI; heads in metres of fluid become kPa at `density`.
pub(super) fn column(unit: &Unit, values: &[f64], density: Density) -> Vec<f64> {
    let head = if unit.dimension == Dimension::Head { density.in_kg_m3() * STANDARD_GRAVITY / 1000.0 } else { 1.0 };
    values.iter().map(|v| (v * unit.factor + unit.offset) * head).collect()
}

/// A head [m of fluid] as a pressure [kPa] at `density`.
pub(super) fn head_kpa(metres: f64, density: Density) -> f64 {
    Pressure::of_column(Length::m(metres), density).in_kpa()
}

/// The spelling that is proposed to people for a unit as somebody wrote it; `None` where it is not known.
#[must_use]
pub fn proposed(written: &str) -> Option<&'static str> {
    find(written).map(|k| k.names[0])
}

//! Units as the trade writes them, turned to the SI units that values are kept in.
//!
//! Comes in: what somebody wrote ("m³/h", "ft H2O", "US gpm", "°F"). Goes out: a [`Unit`], linear to SI. The factors
//! are those of [`crate::quantity`]; this table only knows spellings. Columns of water (ft H2O, in wg, mH2O) are the
//! conventional ones and thus pressures; plain metres and feet are heads of the pumped fluid. What could be read in
//! two ways a million apart (mW, mPa) is refused, not guessed.

use super::words::nearest;
use super::{Dimension, Role, Unit};
use crate::quantity::{
    Current, Density, Energy, Flow, Fraction, Frequency, Length, Power, Pressure, STANDARD_GRAVITY, ShaftSpeed,
    Temperature, TemperatureDifference, Time, Torque, Voltage,
};

/// One unit: its spellings without spaces, the first being the one that is proposed to people.
struct Known {
    names: &'static [&'static str],
    dimension: Dimension,
    /// The number in SI (m3/h, kPa, m for heads, kW, kWh, degC, K, fraction, Hz, rpm, A, V, s, Nm).
    si: fn(f64) -> f64,
}

macro_rules! table {
    ($($dimension:ident { $($($name:literal)|+ => $si:expr;)+ })+) => {
        &[$($(Known { names: &[$($name),+], dimension: Dimension::$dimension, si: $si },)+)+]
    };
}

/// Every unit. Spellings are compared after [`plain`], first as written, then in lower case.
static TABLE: &[Known] = table! {
    Flow {
        "m3/h" | "m3/hr" | "m3/hour" | "m3h" | "m3h1" | "cmh" | "cum/h" | "cum/hr" | "cubicmetersperhour"
            | "cubicmetresperhour" => |v| Flow::m3h(v).in_m3h();
        "m3/min" => |v| Flow::m3_min(v).in_m3h();
        "m3/s" | "m3/sec" | "cms" => |v| Flow::m3s(v).in_m3h();
        "L/s" | "l/s" | "lps" | "l/sec" | "ltr/s" | "liter/s" | "litre/s" | "liters/s" | "litres/s"
            | "literspersecond" | "litrespersecond" => |v| Flow::l_s(v).in_m3h();
        "L/min" | "l/min" | "lpm" | "ltr/min" | "liter/min" | "litre/min" | "liters/min" | "litres/min"
            | "litersperminute" | "litresperminute" => |v| Flow::l_min(v).in_m3h();
        "L/h" | "l/h" | "lph" | "l/hr" | "ltr/h" | "liter/h" | "litre/h" | "liters/h" | "litres/h"
            => |v| Flow::l_h(v).in_m3h();
        "gpm" | "usgpm" | "gpmus" | "gal/min" | "usgal/min" | "gals/min" | "galpermin" | "gallons/min"
            | "gallonsperminute" | "gal/m" => |v| Flow::gpm(v).in_m3h();
        "igpm" | "impgpm" | "ukgpm" | "gpmimp" | "impgal/min" => |v| Flow::imperial_gpm(v).in_m3h();
    }
    Pressure {
        "kPa" | "kpa" | "kpad" | "kpag" | "kilopascal" | "kilopascals" => |v| Pressure::kpa(v).in_kpa();
        "Pa" | "pa" | "pascal" | "pascals" => |v| Pressure::pa(v).in_kpa();
        "hPa" | "hpa" => |v| Pressure::hpa(v).in_kpa();
        "MPa" => |v| Pressure::mpa(v).in_kpa();
        "bar" | "bars" | "bard" | "barg" => |v| Pressure::bar(v).in_kpa();
        "mbar" | "millibar" | "millibars" => |v| Pressure::mbar(v).in_kpa();
        "psi" | "psig" | "psid" | "lbf/in2" | "lb/in2" | "lbs/in2" | "poundsforcepersquareinch"
            => |v| Pressure::psi(v).in_kpa();
        "kgf/cm2" | "kg/cm2" | "kp/cm2" | "at" => |v| Pressure::kgf_cm2(v).in_kpa();
        "ftH2O" | "fth2o" | "ftwc" | "ftwg" | "ftw" | "ftwater" | "feeth2o" | "feetofwater" | "footofwater"
            => |v| Pressure::foot_water(v).in_kpa();
        "inH2O" | "inh2o" | "inwc" | "inwg" | "wg" | "wc" | "inw" | "inwater" | "inchh2o" | "incheswc" | "incheswg"
            | "inchesofwater" => |v| Pressure::inch_water(v).in_kpa();
        "mH2O" | "mh2o" | "mwc" | "mwg" | "mwater" | "mws" | "mca" | "mce" | "metersofwater" | "metresofwater"
            => |v| Pressure::cm_water(100.0 * v).in_kpa();
        "cmH2O" | "cmh2o" | "cmwc" => |v| Pressure::cm_water(v).in_kpa();
        "mmH2O" | "mmh2o" | "mmwc" | "mmwg" => |v| Pressure::mm_water(v).in_kpa();
    }
    Head {
        "m" | "meter" | "metre" | "meters" | "metres" | "mhead" | "mfluid" | "mlc" => |v| Length::m(v).in_m();
        "ft" | "feet" | "foot" | "'" | "fthead" | "fthd" | "feethead" | "ftofhead" | "feetofhead" | "tdh"
            => |v| Length::ft(v).in_m();
    }
    Power {
        "kW" | "kw" | "kilowatt" | "kilowatts" | "kwe" | "kwth" => |v| Power::kw(v).in_kw();
        "W" | "w" | "watt" | "watts" => |v| Power::w(v).in_kw();
        "MW" | "megawatt" | "megawatts" => |v| Power::mw(v).in_kw();
        "hp" | "bhp" | "horsepower" => |v| Power::hp(v).in_kw();
        "PS" | "ps" | "cv" | "metrichp" | "hpmetric" => |v| Power::metric_hp(v).in_kw();
        "Btu/h" | "btu/h" | "btu/hr" | "btuh" | "btu/hour" | "btusperhour" => |v| Power::btu_h(v).in_kw();
        "MBH" | "mbh" | "kbtu/h" | "kbtu/hr" | "kbtuh" => |v| Power::btu_h(1e3 * v).in_kw();
        "MMBtu/h" | "mmbtu/h" | "mmbtu/hr" | "mmbtuh" => |v| Power::btu_h(1e6 * v).in_kw();
        "tons" | "ton" | "tr" | "rt" | "tonref" | "tonsref" | "reftons" | "refrigerationtons" | "tonsrefrigeration"
            | "tonsofrefrigeration" => |v| Power::tons(v).in_kw();
    }
    Energy {
        "kWh" | "kwh" | "kwhr" | "kwhrs" | "kilowatthour" | "kilowatthours" => |v| Energy::kwh(v).in_kwh();
        "Wh" | "wh" | "watthours" => |v| Energy::wh(v).in_kwh();
        "MWh" | "MWH" | "MWhr" | "megawatthours" => |v| Energy::mwh(v).in_kwh();
        "GWh" | "gwh" => |v| Energy::gwh(v).in_kwh();
        "kJ" | "kj" => |v| Energy::kj(v).in_kwh();
        "MJ" => |v| Energy::mj(v).in_kwh();
        "GJ" | "gj" => |v| Energy::gj(v).in_kwh();
        "kBtu" | "kbtu" => |v| Energy::btu(1e3 * v).in_kwh();
    }
    Temperature {
        "degC" | "degc" | "C" | "c" | "celsius" | "degcelsius" | "degreesc" | "degreescelsius"
            => |v| Temperature::celsius(v).in_celsius();
        "degF" | "degf" | "F" | "f" | "fahrenheit" | "degfahrenheit" | "degreesf" | "degreesfahrenheit"
            => |v| Temperature::fahrenheit(v).in_celsius();
    }
    TemperatureDifference {
        "K" | "k" | "kelvin" | "deltak" | "deltac" | "deltadegc" | "degcdelta" | "cdeg"
            => |v| TemperatureDifference::kelvin(v).in_kelvin();
        "delta_degF" | "deltadegf" | "deltaf" | "degfdelta" | "fdeg" => |v| TemperatureDifference::delta_f(v).in_kelvin();
    }
    Fraction {
        "%" | "percent" | "pct" | "perc" | "%open" | "%opn" | "%speed" | "%spd" | "percentopen"
            => |v| Fraction::percent(v).in_of_one();
        "fraction" | "ratio" | "01" | "pu" | "perunit" => |v| Fraction::of_one(v).in_of_one();
    }
    Frequency { "Hz" | "hz" | "hertz" => |v| Frequency::hz(v).in_hz(); }
    ShaftSpeed {
        "rpm" | "r/min" | "rev/min" | "1/min" | "min1" | "u/min" | "revolutionsperminute" => |v| ShaftSpeed::rpm(v).in_rpm();
    }
    Current {
        "A" | "a" | "amp" | "amps" | "ampere" | "amperes" => |v| Current::a(v).in_a();
        "mA" | "ma" | "milliamps" => |v| Current::ma(v).in_a();
    }
    Voltage {
        "V" | "v" | "volt" | "volts" | "vdc" => |v| Voltage::v(v).in_v();
        "mV" => |v| Voltage::mv(v).in_v();
    }
    Time {
        "s" | "sec" | "secs" | "second" | "seconds" => |v| Time::s(v).in_s();
        "min" | "mins" | "minute" | "minutes" => |v| Time::min(v).in_s();
        "h" | "hr" | "hrs" | "hour" | "hours" => |v| Time::h(v).in_s();
        "d" | "day" | "days" => |v| Time::d(v).in_s();
    }
    Torque {
        "Nm" | "nm" | "newtonmeter" | "newtonmetre" => |v| Torque::nm(v).in_nm();
        "lbf.ft" | "lbfft" | "lbft" | "ftlb" | "ftlbf" => |v| Torque::lbf_ft(v).in_nm();
        "lbf.in" | "lbfin" | "lbin" | "inlb" | "inlbf" => |v| Torque::lbf_in(v).in_nm();
    }
    Count {
        "count" | "" | "counts" | "starts" | "bool" | "boolean" | "binary" | "on/off" | "onoff" | "state" | "none" | "enum"
            => |v| v;
    }
};

/// Spellings that two readers would take in two ways, and what to write instead.
const AMBIGUOUS: &[(&str, &str, &str)] = &[
    ("mw", "it could be megawatts or milliwatts", "MW"),
    ("mwh", "it could be megawatt-hours or milliwatt-hours", "MWh"),
    ("mpa", "it could be megapascals or millipascals", "MPa"),
    ("mj", "it could be megajoules or millijoules", "MJ"),
    ("mv", "it could be millivolts or megavolts", "mV"),
    ("mbtu/h", "it could be thousands or millions of Btu an hour", "MBH"),
    ("mbtuh", "it could be thousands or millions of Btu an hour", "MBH"),
    ("psia", "an absolute pressure is not a difference", "psi"),
    ("bara", "an absolute pressure is not a difference", "bar"),
    ("kpaa", "an absolute pressure is not a difference", "kPa"),
    ("kg/s", "a mass flow needs its density", "m3/h"),
    ("kg/h", "a mass flow needs its density", "m3/h"),
    ("t/h", "a mass flow needs its density", "m3/h"),
    ("kva", "apparent power is more than what the pump takes", "kW"),
];

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
    #[error("unit \"{written}\" measures {found}, and {wanted} is needed")]
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
            '³' => out.push('3'),
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

fn find(written: &str) -> Option<&'static Known> {
    let exact = plain(written);
    let lower = exact.to_lowercase();
    let by = |wanted: &str| TABLE.iter().find(|k| k.names.iter().any(|n| plain(n) == wanted));
    by(&exact).or_else(|| if AMBIGUOUS.iter().any(|a| a.0 == lower) { None } else { by(&lower) })
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

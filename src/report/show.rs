//! Numbers for people: in the plant's own units, rounded to what they can carry, and local times.
//!
//! Comes in: SI numbers and sentences with SI numbers in them. Goes out: text. The decision a reader would question:
//! sentences made by earlier stages are converted here, word by word ([`Show::sentence`]), so that rules can speak one
//! system of units; only a number directly followed by a known unit is touched.

use crate::{
    faults::Estimate,
    plant::{Plant, UnitSystem},
    quantity::{Density, Flow, Power, Pressure, Temperature, TemperatureDifference},
};
use chrono::{DateTime, Utc};
use chrono_tz::Tz;

/// A narrow space that does not break: between thousands, and between a number and its unit.
pub const THIN: char = '\u{202f}';

/// How numbers of one plant are shown.
#[derive(Debug, Clone)]
pub struct Show {
    pub units: UnitSystem,
    density: Density,
    timezone: Tz,
    price: Option<(f64, String)>,
}

impl Show {
    /// For a plant, in `units`.
    pub fn new(plant: &Plant, units: UnitSystem) -> Self {
        let price = plant.site.energy_price.map(|p| (p, plant.site.currency.clone().unwrap_or_default()));
        Self { units, density: plant.density(), timezone: plant.site.timezone, price }
    }

    /// The same plant in another system of units.
    pub fn within(&self, units: UnitSystem) -> Self {
        Self { units, ..self.clone() }
    }

    /// Volume flow [m3/h].
    pub fn flow(&self, m3h: f64) -> String {
        self.with_unit(self.flow_value(m3h), self.flow_unit())
    }
    pub fn flow_unit(&self) -> &'static str {
        match self.units {
            UnitSystem::Si => "m³/h",
            UnitSystem::Ip => "gpm",
        }
    }
    pub fn flow_value(&self, m3h: f64) -> f64 {
        match self.units {
            UnitSystem::Si => m3h,
            UnitSystem::Ip => Flow::m3h(m3h).in_gpm(),
        }
    }

    /// Head [kPa] of the loop's fluid.
    pub fn head(&self, kpa: f64) -> String {
        self.with_unit(self.head_value(kpa), self.head_unit())
    }
    pub fn head_unit(&self) -> &'static str {
        match self.units {
            UnitSystem::Si => "kPa",
            UnitSystem::Ip => "ft",
        }
    }
    pub fn head_value(&self, kpa: f64) -> f64 {
        match self.units {
            UnitSystem::Si => kpa,
            UnitSystem::Ip => Pressure::kpa(kpa).as_column(self.density).in_ft(),
        }
    }
    /// A head that someone types into a drive or controller: both ways of writing it.
    pub fn head_setting(&self, kpa: f64) -> String {
        let other = match self.units {
            UnitSystem::Si => format!("{} m", figures(Pressure::kpa(kpa).as_column(self.density).in_m(), 3)),
            UnitSystem::Ip => format!("{} psi", figures(Pressure::kpa(kpa).in_psi(), 3)),
        };
        format!("{} ({})", self.head(kpa), other.replace(' ', &THIN.to_string()))
    }

    /// Electric power [kW].
    pub fn power(&self, kw: f64) -> String {
        self.with_unit(kw, "kW")
    }
    /// Thermal power [kW].
    pub fn heat(&self, kw: f64) -> String {
        match self.units {
            UnitSystem::Si => self.with_unit(kw, "kW"),
            UnitSystem::Ip => self.with_unit(Power::kw(kw).in_w() * 3.412_142 / 1000.0, "MBH"),
        }
    }
    /// Temperature on a scale [degC].
    pub fn temperature(&self, t_c: f64) -> String {
        match self.units {
            UnitSystem::Si => format!("{t_c:.1}{THIN}°C"),
            UnitSystem::Ip => format!("{:.1}{THIN}°F", Temperature::celsius(t_c).in_fahrenheit()),
        }
    }
    /// Difference of temperatures [K].
    pub fn difference(&self, k: f64) -> String {
        format!("{:.1}{THIN}{}", self.difference_value(k), self.difference_unit())
    }
    pub fn difference_unit(&self) -> &'static str {
        match self.units {
            UnitSystem::Si => "K",
            UnitSystem::Ip => "°F",
        }
    }
    pub fn difference_value(&self, k: f64) -> f64 {
        match self.units {
            UnitSystem::Si => k,
            UnitSystem::Ip => TemperatureDifference::kelvin(k).in_delta_f(),
        }
    }
    /// A share as per cent.
    pub fn percent(&self, fraction: f64) -> String {
        let shown = if fraction.abs() < 5e-4 { 0.0 } else { fraction * 100.0 };
        let text = if shown.abs() >= 10.0 || shown == 0.0 { format!("{shown:.0}") } else { format!("{shown:.1}") };
        format!("{}{THIN}%", text.trim_end_matches(".0").replace('-', "−"))
    }
    /// Energy [kWh].
    pub fn energy(&self, kwh: f64) -> String {
        self.with_unit(kwh, "kWh")
    }
    /// Energy with its 95 % interval.
    pub fn energy_range(&self, e: Estimate) -> String {
        format!("{} ({} to {})", self.energy(e.estimate), figures(e.low, 3), figures(e.high, 3))
    }
    /// What that energy costs, where the plant file gives a price.
    pub fn money(&self, kwh: f64) -> Option<String> {
        let (price, currency) = self.price.as_ref()?;
        let amount = kwh * price;
        // Small sums to the cent, others to the whole unit or to three figures.
        let text = match amount.abs() {
            a if a < 10.0 => format!("{amount:.2}"),
            a if a < 1000.0 => format!("{amount:.0}"),
            _ => figures(amount, 3),
        };
        Some(format!("{currency}{THIN}{}", text.replace('-', "−")).trim().to_owned())
    }
    /// Money where there is a price, with the energy: "EUR 399 (2100 kWh)".
    pub fn energy_and_money(&self, kwh: f64) -> String {
        match self.money(kwh) {
            Some(money) => format!("{money} ({})", self.energy(kwh)),
            None => self.energy(kwh),
        }
    }
    /// Money with its 95 % interval, where the plant file gives a price: "EUR 399 (210 to 588)".
    pub fn money_range(&self, kwh: Estimate) -> Option<String> {
        let bare = |kwh: f64| {
            let text = self.money(kwh)?;
            Some(text.rsplit_once(THIN).map_or_else(|| text.clone(), |(_, amount)| amount.to_owned()))
        };
        Some(format!("{} ({} to {})", self.money(kwh.estimate)?, bare(kwh.low)?, bare(kwh.high)?))
    }
    /// Money with its interval where there is a price, else energy with its own.
    pub fn worth_range(&self, kwh: Estimate) -> String {
        self.money_range(kwh).unwrap_or_else(|| self.energy_range(kwh))
    }
    /// Money where there is a price, else energy.
    pub fn money_or_energy(&self, kwh: f64) -> String {
        self.money(kwh).unwrap_or_else(|| self.energy(kwh))
    }
    /// CO2 equivalent of energy [kWh] at so many kg a kWh, with its 95 % interval.
    pub fn carbon_range(&self, kwh: Estimate, kg_per_kwh: f64) -> String {
        let part = |kwh: f64| figures(kwh * kg_per_kwh, 3);
        format!("{}{THIN}kg ({} to {})", part(kwh.estimate), part(kwh.low), part(kwh.high))
    }
    /// Hours.
    pub fn hours(&self, hours: f64) -> String {
        self.with_unit(hours, "h")
    }

    /// A local time, to the minute.
    pub fn time(&self, ms: i64) -> String {
        self.local(ms).map_or_else(String::new, |t| t.format("%-d %b %Y %H:%M").to_string())
    }
    /// A local date.
    pub fn date(&self, ms: i64) -> String {
        self.local(ms).map_or_else(String::new, |t| t.format("%-d %b %Y").to_string())
    }
    /// A local date that sorts: 2026-03-01.
    pub fn folder_date(&self, ms: i64) -> String {
        self.local(ms).map_or_else(String::new, |t| t.format("%Y-%m-%d").to_string())
    }
    pub fn local(&self, ms: i64) -> Option<DateTime<Tz>> {
        DateTime::<Utc>::from_timestamp_millis(ms).map(|t| t.with_timezone(&self.timezone))
    }

    /// A number in one of the units that evidence uses, with the unit as people write it.
    pub fn value(&self, value: f64, unit: &str) -> String {
        if !value.is_finite() {
            return "not known".to_owned();
        }
        if unit == "fraction" {
            return self.percent(value);
        }
        let (shown, name) = self.convert(value, unit);
        if name.is_empty() { figures(shown, 3) } else { self.with_unit(shown, name) }
    }

    /// What a number of evidence was expected to be; shares as per cent, as their values are shown.
    pub fn expected(&self, text: &str, unit: &str) -> String {
        if unit != "fraction" {
            return self.sentence(text);
        }
        let word = |w: &str| w.parse::<f64>().map_or_else(|_| w.to_owned(), |share| self.percent(share));
        text.split(' ').map(word).collect::<Vec<_>>().join(" ")
    }

    /// A sentence whose SI numbers are shown in the plant's units.
    pub fn sentence(&self, text: &str) -> String {
        let mut words: Vec<String> = text.split(' ').map(str::to_owned).collect();
        for i in 1..words.len() {
            let (unit, tail) = split_tail(&words[i]);
            let (unit, tail) = (unit.to_owned(), tail.to_owned());
            if !UNITS.contains(&unit.as_str()) || number_of(&words[i - 1]).is_none() {
                continue;
            }
            for j in numbers_before(&words, i) {
                if let Some((lead, value, digits)) = number_of(&words[j]) {
                    let shown = self.convert(value, &unit).0;
                    if (shown - value).abs() > 1e-9 {
                        words[j] = format!("{lead}{}", figures(shown, digits));
                    }
                }
            }
            words[i] = format!("{}{tail}", self.convert(0.0, &unit).1);
        }
        words.join(" ")
    }

    fn convert<'u>(&self, value: f64, unit: &'u str) -> (f64, &'u str) {
        match (self.units, unit) {
            (UnitSystem::Si, "m3/h") => (value, "m³/h"),
            (UnitSystem::Si, "degC") => (value, "°C"),
            (UnitSystem::Ip, "m3/h") => (self.flow_value(value), "gpm"),
            (UnitSystem::Ip, "kPa") => (self.head_value(value), "ft"),
            (UnitSystem::Ip, "degC") => (Temperature::celsius(value).in_fahrenheit(), "°F"),
            (UnitSystem::Ip, "K") => (self.difference_value(value), "°F"),
            (_, "-") => (value, ""),
            _ => (value, unit),
        }
    }

    fn with_unit(&self, value: f64, unit: &str) -> String {
        if !value.is_finite() {
            return "not known".to_owned();
        }
        format!("{}{THIN}{unit}", figures(value, 3))
    }
}

/// Units that sentences are searched for.
const UNITS: [&str; 4] = ["m3/h", "kPa", "degC", "K"];

/// The word without the punctuation that follows it, and that punctuation.
fn split_tail(word: &str) -> (&str, &str) {
    let end = word.trim_end_matches(['.', ',', ';', ':', ')', '?']).len();
    word.split_at(end)
}

/// Where the numbers stand that the unit at `i` belongs to: "40 to 60 kPa" has two.
fn numbers_before(words: &[String], i: usize) -> Vec<usize> {
    let ranged = i >= 3
        && matches!(words[i - 2].as_str(), "to" | "and" | "or" | "-" | "–")
        && number_of(&words[i - 3]).is_some();
    if ranged { vec![i - 3, i - 1] } else { vec![i - 1] }
}

/// A word that is a number: what stands before it, the number, and how many figures it was written with.
fn number_of(word: &str) -> Option<(&str, f64, usize)> {
    let start = word.find(|c: char| c.is_ascii_digit() || c == '-')?;
    let (lead, digits) = word.split_at(start);
    if lead.chars().any(char::is_alphanumeric) {
        return None;
    }
    let value: f64 = digits.parse().ok()?;
    Some((lead, value, digits.chars().filter(char::is_ascii_digit).count().clamp(2, 4)))
}

/// A number rounded to so many significant figures, thousands apart; integers above that stay whole.
pub fn figures(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return "not known".to_owned();
    }
    if value == 0.0 {
        return "0".to_owned();
    }
    let magnitude = value.abs().log10().floor() as i32;
    let decimals = (digits as i32 - 1 - magnitude).clamp(-9, 9);
    let scale = 10f64.powi(decimals);
    let rounded = (value * scale).round() / scale;
    let text = format!("{rounded:.*}", decimals.max(0) as usize);
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    grouped(text)
}

fn grouped(text: &str) -> String {
    let (sign, rest) = text.strip_prefix('-').map_or(("", text), |rest| ("−", rest));
    let (whole, fraction) = rest.split_once('.').map_or((rest, ""), |(w, f)| (w, f));
    let mut out = String::from(sign);
    for (i, c) in whole.chars().enumerate() {
        // Four digits read well unparted.
        if i > 0 && whole.len() > 4 && (whole.len() - i).is_multiple_of(3) {
            out.push(THIN);
        }
        out.push(c);
    }
    if !fraction.is_empty() {
        out.push('.');
        out.push_str(fraction);
    }
    out
}

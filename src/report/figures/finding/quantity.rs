//! What an axis of a finding's figure measures: from the review's units to either system's, with words.

use crate::{
    quantity::Temperature,
    report::show::{Show, THIN, figures as round},
};

/// In the review's units: fraction, m3/h, kPa, K, degC, kW.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// A fraction, shown as per cent.
    Percent,
    Flow,
    Head,
    Difference,
    Temperature,
    Power,
    /// A plain number.
    Number,
    /// Another unit, the same in both systems.
    Other(&'static str),
}

impl Quantity {
    /// By the unit of a trended point.
    pub fn of_unit(unit: &'static str) -> Self {
        match unit {
            "fraction" => Self::Percent,
            "m3/h" => Self::Flow,
            "kPa" => Self::Head,
            "K" => Self::Difference,
            "degC" => Self::Temperature,
            "kW" => Self::Power,
            "" | "-" => Self::Number,
            other => Self::Other(other),
        }
    }

    pub fn value(self, show: &Show, v: f64) -> f64 {
        match self {
            Self::Percent => 100.0 * v,
            Self::Flow => show.flow_value(v),
            Self::Head => show.head_value(v),
            Self::Difference => show.difference_value(v),
            Self::Temperature if show.difference_unit() == "K" => v,
            Self::Temperature => Temperature::celsius(v).in_fahrenheit(),
            Self::Power | Self::Number | Self::Other(_) => v,
        }
    }

    pub fn unit(self, show: &Show) -> &'static str {
        match self {
            Self::Percent => "%",
            Self::Flow => show.flow_unit(),
            Self::Head => show.head_unit(),
            Self::Difference => show.difference_unit(),
            Self::Temperature if show.difference_unit() == "K" => "°C",
            Self::Temperature => "°F",
            Self::Power => "kW",
            Self::Number => "",
            Self::Other(unit) => unit,
        }
    }

    /// "38 %", "2.1 K".
    pub fn say(self, show: &Show, v: f64) -> String {
        let (shown, unit) = (round(self.value(show, v), 3), self.unit(show));
        if unit.is_empty() { shown } else { format!("{shown}{THIN}{unit}") }
    }

    /// "speed, %".
    pub fn axis(self, show: &Show, name: &str) -> String {
        match self.unit(show) {
            "" => name.to_owned(),
            unit => format!("{name}, {unit}"),
        }
    }
}

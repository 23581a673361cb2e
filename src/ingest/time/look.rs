//! How a time was written, for people.

use super::stamp::{Order, Zoned};

/// The date's side of a [`Look`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Parts {
    /// YYYYMMDD.
    Compact,
    YearFirst {
        separator: char,
        word: bool,
    },
    /// Three numbers, or two; whether the year has four digits.
    Numbers {
        separator: char,
        year: Option<bool>,
    },
    DayWord {
        separator: char,
        year: Option<bool>,
    },
    WordDay {
        separator: char,
        year: Option<bool>,
    },
    /// A number alone, and what it counts.
    Number(&'static str),
}

impl Parts {
    /// The same with a year of four digits.
    pub fn with_long_year(self) -> Self {
        match self {
            Self::DayWord { separator, .. } => Self::DayWord { separator, year: Some(true) },
            Self::WordDay { separator, .. } => Self::WordDay { separator, year: Some(true) },
            other => other,
        }
    }
}

/// How a time was written, for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) struct Look {
    pub(super) parts: Parts,
    pub(super) has_time: bool,
    pub(super) t: bool,
    pub(super) separator: char,
    pub(super) bare_digits: bool,
    pub(super) hour_alone: bool,
    pub(super) seconds: bool,
    pub(super) half_days: bool,
    pub(super) zone: Zoned,
}

impl Default for Look {
    fn default() -> Self {
        Self {
            parts: Parts::Compact,
            has_time: false,
            t: false,
            separator: ':',
            bare_digits: false,
            hour_alone: false,
            seconds: false,
            half_days: false,
            zone: Zoned::No,
        }
    }
}

impl Look {
    /// For example "DD/MM/YYYY HH:MM", "Unix seconds".
    pub fn describe(self, order: impl Into<Order>) -> String {
        let mut out = self.date(order.into());
        if self.has_time {
            out.push(if self.t { 'T' } else { ' ' });
            out.push_str(&self.clock());
        }
        out.push_str(match self.zone {
            Zoned::No => "",
            Zoned::Offset(_) => " with offset",
            Zoned::Mark(_) => " with zone",
        });
        if matches!(
            self.parts,
            Parts::Numbers { year: None, .. } | Parts::DayWord { year: None, .. } | Parts::WordDay { year: None, .. }
        ) {
            out.push_str(" without year");
        }
        out
    }

    fn date(self, order: Order) -> String {
        let year = |s: char, long: Option<bool>| match long {
            Some(true) => format!("{s}YYYY"),
            Some(false) => format!("{s}YY"),
            None => String::new(),
        };
        match self.parts {
            Parts::Number(what) => what.to_string(),
            Parts::Compact => "YYYYMMDD".to_string(),
            Parts::YearFirst { separator: s, word } => format!("YYYY{s}{}{s}DD", if word { "Mon" } else { "MM" }),
            Parts::Numbers { separator: s, year: Some(false) } if order.short_year_first => format!("YY{s}MM{s}DD"),
            Parts::Numbers { separator: s, year: y } if order.day_first => format!("DD{s}MM{}", year(s, y)),
            Parts::Numbers { separator: s, year: y } => format!("MM{s}DD{}", year(s, y)),
            Parts::DayWord { separator: s, year: y } => format!("DD{s}Mon{}", year(s, y)),
            Parts::WordDay { separator: s, year: y } => format!("Mon{s}DD{}", year(s, y)),
        }
    }

    fn clock(self) -> String {
        let hour = if self.half_days { "hh" } else { "HH" };
        let s = if self.bare_digits { String::new() } else { self.separator.to_string() };
        let mut out = match (self.hour_alone, self.seconds) {
            (true, _) => hour.to_string(),
            (false, false) => format!("{hour}{s}MM"),
            (false, true) => format!("{hour}{s}MM{}SS", if s == "h" { ":" } else { &s }),
        };
        out.push_str(if self.half_days { " AM/PM" } else { "" });
        out
    }
}

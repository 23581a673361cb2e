//! The forms a baseline may have: how the calendar sets the level, what drives the energy, along which line.

use std::fmt;

/// What sets the level.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Calendar {
    /// One level for every day.
    One,
    /// Monday to Friday, and the rest with the holidays.
    Weekend,
    /// The same, and slopes of their own on either.
    WeekendApart,
    /// A level a day of the week.
    Weekday,
    /// A level an hour of the week; the rows are hours then.
    HourOfWeek,
}

/// What the energy hangs on beside the calendar; the change must not touch it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Driver {
    Outdoor,
    /// Metered apart from the pump.
    Load,
    /// The load, and beside it a line in outdoor temperature: supply temperature, and with it the flow that a load takes, moves with the season. (Tried without: where
    /// the season moved on, intervals of forms in the load alone held 85 % instead of 95.)
    LoadAndOutdoor,
}

/// The line along the driver.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// The driver counts for nothing.
    Flat,
    Linear,
    /// 3PC: level up to a point, rising or falling above it.
    Above,
    /// 3PH: level from a point on, another slope below it.
    Below,
    /// 4P: two slopes that meet in a point.
    TwoSlopes,
    /// 5P: level between two points, a slope on either side.
    Between,
    /// Temperature split among bins, apart for occupied and other hours.
    Bins,
}

/// One form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form {
    pub calendar: Calendar,
    pub driver: Driver,
    pub shape: Shape,
}

impl Form {
    /// The forms tried.
    #[must_use]
    pub fn all(outdoor: bool, load: bool, hours: bool) -> Vec<Self> {
        use Shape::{Above, Below, Between, Bins, Flat, Linear, TwoSlopes};
        let mut lines = vec![(Driver::Outdoor, Flat)];
        if outdoor {
            lines.extend([Linear, Above, Below, TwoSlopes, Between].map(|s| (Driver::Outdoor, s)));
        }
        if load {
            lines.extend([Linear, Above, TwoSlopes].map(|s| (Driver::Load, s)));
        }
        if load && outdoor {
            lines.extend([Linear, Above, TwoSlopes].map(|s| (Driver::LoadAndOutdoor, s)));
        }
        let mut forms = Vec::new();
        for calendar in [Calendar::One, Calendar::Weekend, Calendar::Weekday] {
            forms.extend(lines.iter().map(|(driver, shape)| Self { calendar, driver: *driver, shape: *shape }));
        }
        let sloped = lines.iter().filter(|(_, shape)| *shape != Flat);
        forms.extend(sloped.map(|(driver, shape)| Self {
            calendar: Calendar::WeekendApart,
            driver: *driver,
            shape: *shape,
        }));
        if hours {
            let by_hour = |driver, shape| Self { calendar: Calendar::HourOfWeek, driver, shape };
            forms.push(by_hour(Driver::Outdoor, Flat));
            forms.extend(load.then(|| by_hour(Driver::Load, Linear)));
            forms.extend((load && outdoor).then(|| by_hour(Driver::LoadAndOutdoor, Linear)));
            forms.extend(outdoor.then(|| by_hour(Driver::Outdoor, Bins)));
        }
        forms
    }

    /// Whether its rows are hours.
    #[must_use]
    pub fn hourly(&self) -> bool {
        self.calendar == Calendar::HourOfWeek
    }

    /// The driver, where one counts.
    #[must_use]
    pub fn on(&self) -> Option<Driver> {
        (self.shape != Shape::Flat).then_some(self.driver)
    }

    /// Points at which the slope changes.
    #[must_use]
    pub fn points(&self) -> usize {
        match self.shape {
            Shape::Flat | Shape::Linear | Shape::Bins => 0,
            Shape::Above | Shape::Below | Shape::TwoSlopes => 1,
            Shape::Between => 2,
        }
    }
}

impl fmt::Display for Form {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let driver = match self.driver {
            Driver::Outdoor => "outdoor temperature",
            Driver::Load => "load",
            Driver::LoadAndOutdoor => "load with outdoor temperature",
        };
        match self.shape {
            Shape::Flat => write!(f, "mean")?,
            Shape::Linear => write!(f, "linear in {driver}")?,
            Shape::Above => write!(f, "three-point in {driver}, slope above")?,
            Shape::Below => write!(f, "three-point in {driver}, slope below")?,
            Shape::TwoSlopes => write!(f, "four-point in {driver}")?,
            Shape::Between => write!(f, "five-point in {driver}")?,
            Shape::Bins => write!(f, "time of week and temperature")?,
        }
        match (self.calendar, self.shape) {
            (Calendar::One, _) => Ok(()),
            (Calendar::Weekend, _) => write!(f, ", by weekday and weekend"),
            (Calendar::WeekendApart, _) => write!(f, ", apart for weekday and weekend"),
            (Calendar::Weekday, _) => write!(f, ", by day of the week"),
            (Calendar::HourOfWeek, Shape::Bins) => Ok(()),
            (Calendar::HourOfWeek, _) => write!(f, ", by hour of the week"),
        }
    }
}

//! Civil time of the two sample sites, from the rules themselves rather than from a time zone library.

/// Milliseconds in an hour and a day.
pub const HOUR_MS: i64 = 3_600_000;
pub const DAY_MS: i64 = 24 * HOUR_MS;

/// Which clock rules hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zone {
    /// Western European: UTC, and UTC+1 from the last Sunday of March to that of October, changed at 01:00 UTC.
    Lisbon,
    /// US Central: UTC-6, and UTC-5 from the second Sunday of March to the first of November, changed at 02:00 local.
    Chicago,
}

/// A local date and time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Local {
    pub year: i64,
    pub month: i64,
    pub day: i64,
    pub hour: i64,
    pub minute: i64,
    /// 0 is Monday.
    pub weekday: i64,
}

impl Local {
    /// Hours since local midnight [h].
    pub fn clock(&self) -> f64 {
        self.hour as f64 + self.minute as f64 / 60.0
    }

    pub fn is_weekend(&self) -> bool {
        self.weekday >= 5
    }

    /// `2025-10-09 11:00`
    pub fn iso(&self) -> String {
        format!("{:04}-{:02}-{:02} {:02}:{:02}", self.year, self.month, self.day, self.hour, self.minute)
    }
}

/// Days since 1970-01-01 of a date in the Gregorian calendar.
pub fn days_from_civil(year: i64, month: i64, day: i64) -> i64 {
    let y = if month <= 2 { year - 1 } else { year };
    let era = y.div_euclid(400);
    let of_era = y.rem_euclid(400);
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
}

fn civil_from_days(days: i64) -> (i64, i64, i64) {
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z.rem_euclid(146_097);
    let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let month = if mp < 10 { mp + 3 } else { mp - 9 };
    let year = yoe + era * 400 + i64::from(month <= 2);
    (year, month, doy - (153 * mp + 2) / 5 + 1)
}

fn weekday(days: i64) -> i64 {
    (days + 3).rem_euclid(7)
}

/// The day number of the `nth` Sunday of a month (0 = first); from the end when `nth` is negative.
fn sunday(year: i64, month: i64, nth: i64) -> i64 {
    let first = days_from_civil(year, month, 1);
    let first_sunday = first + (6 - weekday(first));
    if nth >= 0 {
        return first_sunday + 7 * nth;
    }
    let next = if month == 12 { days_from_civil(year + 1, 1, 1) } else { days_from_civil(year, month + 1, 1) };
    next - 1 - (weekday(next - 1) + 1) % 7
}

impl Zone {
    pub fn name(self) -> &'static str {
        match self {
            Zone::Lisbon => "Europe/Lisbon",
            Zone::Chicago => "America/Chicago",
        }
    }

    /// Local time minus UTC at an instant [ms].
    pub fn offset_ms(self, utc_ms: i64) -> i64 {
        let (year, ..) = civil_from_days(utc_ms.div_euclid(DAY_MS));
        match self {
            Zone::Lisbon => {
                let from = sunday(year, 3, -1) * DAY_MS + HOUR_MS;
                let to = sunday(year, 10, -1) * DAY_MS + HOUR_MS;
                if (from..to).contains(&utc_ms) { HOUR_MS } else { 0 }
            }
            Zone::Chicago => {
                let from = sunday(year, 3, 1) * DAY_MS + 8 * HOUR_MS;
                let to = sunday(year, 11, 0) * DAY_MS + 7 * HOUR_MS;
                if (from..to).contains(&utc_ms) { -5 * HOUR_MS } else { -6 * HOUR_MS }
            }
        }
    }

    pub fn local(self, utc_ms: i64) -> Local {
        let ms = utc_ms + self.offset_ms(utc_ms);
        let days = ms.div_euclid(DAY_MS);
        let (year, month, day) = civil_from_days(days);
        let minutes = ms.rem_euclid(DAY_MS) / 60_000;
        Local { year, month, day, hour: minutes / 60, minute: minutes % 60, weekday: weekday(days) }
    }

    /// The instant of a local time that exists once.
    pub fn utc_ms(self, year: i64, month: i64, day: i64, hour: i64) -> i64 {
        let naive = days_from_civil(year, month, day) * DAY_MS + hour * HOUR_MS;
        let first = naive - self.offset_ms(naive);
        naive - self.offset_ms(first)
    }
}

/// `2025-10-09T10:00:00Z`
pub fn utc_text(utc_ms: i64) -> String {
    let (year, month, day) = civil_from_days(utc_ms.div_euclid(DAY_MS));
    let s = utc_ms.rem_euclid(DAY_MS) / 1000;
    format!("{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}Z", s / 3600, s / 60 % 60, s % 60)
}

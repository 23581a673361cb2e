//! Local days and hours of the rows, the schedule, and frost.

use crate::plant::{Plant, Role};
use crate::screening::Screened;
use chrono::{DateTime, Datelike, TimeZone, Timelike, Utc};

/// Columns that only civil time and the plant file decide, one entry a row.
#[derive(Debug, Clone)]
pub struct Calendar {
    pub time_ms: Vec<i64>,
    /// Days since the start of the common era, local time.
    pub local_day: Vec<u32>,
    /// [h]
    pub local_hour: Vec<f32>,
    pub in_schedule: Vec<bool>,
    pub frost: Vec<bool>,
}

impl Calendar {
    /// The calendar of a review's clock.
    #[must_use]
    pub fn of(plant: &Plant, screened: &Screened) -> Self {
        let clock = &screened.clock;
        let rows = clock.len;
        let mut calendar = Self {
            time_ms: (0..rows).map(|i| clock.at_ms(i)).collect(),
            local_day: Vec::with_capacity(rows),
            local_hour: Vec::with_capacity(rows),
            in_schedule: Vec::with_capacity(rows),
            frost: frost(plant, screened),
        };
        let mut zone = Offset { plant, quarter: i64::MIN, seconds: 0 };
        for &ms in &calendar.time_ms {
            let local = DateTime::<Utc>::from_timestamp_millis(ms + zone.at(ms) * 1000).unwrap_or_default().naive_utc();
            calendar.local_day.push(u32::try_from(local.num_days_from_ce()).unwrap_or(0));
            calendar.local_hour.push(local.num_seconds_from_midnight() as f32 / 3600.0);
            calendar.in_schedule.push(plant.scheduled_at(local));
        }
        calendar
    }
}

/// The zone's offset, looked up once a quarter of an hour: offsets change on quarter hours only.
struct Offset<'a> {
    plant: &'a Plant,
    quarter: i64,
    seconds: i64,
}

impl Offset<'_> {
    fn at(&mut self, ms: i64) -> i64 {
        let quarter = ms.div_euclid(900_000);
        if quarter != self.quarter {
            self.quarter = quarter;
            let instant = DateTime::<Utc>::from_timestamp_millis(ms).unwrap_or_default();
            let local = self.plant.site.timezone.from_utc_datetime(&instant.naive_utc()).naive_local();
            self.seconds = (local - instant.naive_utc()).num_seconds();
        }
        self.seconds
    }
}

fn frost(plant: &Plant, screened: &Screened) -> Vec<bool> {
    let outdoor = screened.values(Role::OutdoorTemperature, None);
    match (plant.system.frost_protection_below, outdoor) {
        (Some(limit), Some(outdoor)) => outdoor.iter().map(|t| *t < limit.in_celsius()).collect(),
        _ => vec![false; screened.clock.len],
    }
}

//! Local days and hours of the rows, the schedule, and frost.

use crate::plant::{Plant, Role};
use crate::screening::Screened;
use chrono::{DateTime, TimeZone, Utc};

/// Seconds a day, and days from the start of the common era to 1970.
const DAY_S: i64 = 86_400;
const DAYS_TO_1970: i64 = 719_163;

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
            let local_s = ms.div_euclid(1000) + zone.at(ms);
            let day = local_s.div_euclid(DAY_S) + DAYS_TO_1970;
            calendar.local_day.push(u32::try_from(day).unwrap_or(0));
            calendar.local_hour.push(local_s.rem_euclid(DAY_S) as f32 / 3600.0);
            let local = || DateTime::<Utc>::from_timestamp_millis(ms + zone.seconds * 1000).unwrap_or_default();
            calendar.in_schedule.push(plant.schedule.is_empty() || plant.scheduled_at(local().naive_utc()));
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

//! A plant of which only the trends matter: exports are looked at before there is a plant file.

use super::{Blank, Control, Plant, Site, System, TrendFiles, UnitSystem, Written};
use chrono_tz::Tz;
use std::path::PathBuf;

impl Plant {
    /// No pumps, no points; times in exports without an offset are read in `timezone`.
    #[must_use]
    pub fn bare(timezone: Tz, day_first: Option<bool>) -> Self {
        Self {
            name: String::new(),
            path: PathBuf::new(),
            dir: PathBuf::new(),
            units: UnitSystem::Si,
            site: Site {
                name: None,
                timezone,
                currency: None,
                energy_price: None,
                carbon_intensity: None,
                holidays: Vec::new(),
            },
            system: System::unknown(),
            sources: Vec::new(),
            coils: Vec::new(),
            control: Control::default(),
            control_history: Vec::new(),
            sensors: Vec::new(),
            schedule: Vec::new(),
            pumps: Vec::new(),
            trends: TrendFiles {
                files: Vec::new(),
                timezone,
                day_first,
                interval_s: None,
                blank: Blank::Missing,
                written: Written::default(),
            },
            points: Vec::new(),
            assumed: Vec::new(),
        }
    }
}

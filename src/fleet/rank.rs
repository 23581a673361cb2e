//! The order in which somebody should look at the plants.

use super::{Brief, Extract, Fleet, Found, Group, Line, Lost, Stake, tally, work::Stopped};
use crate::faults::{Estimate, Urgency};

/// Hours of a mean year [h].
const YEAR_H: f64 = 8766.0;

impl Fleet {
    /// From what was found below a folder and what became of each plant, in that order.
    #[must_use]
    pub fn of(found: Found, results: Vec<Result<Line, Stopped>>) -> Self {
        let mut fleet = Self { passed_over: found.passed_over, ..Self::default() };
        let mut lines = Vec::new();
        for (candidate, result) in found.plants.into_iter().zip(results) {
            match result {
                Ok(line) => lines.push(line),
                Err(stopped) => fleet.lost.push(Lost { path: candidate.shown, why: stopped.to_string() }),
            }
        }
        fleet.untold = tally::untold(&lines);
        fleet.next = tally::next(&lines);
        for line in lines {
            match &line.extract {
                d if d.has_something() => fleet.place(line),
                d if d.clear > 0 => fleet.clear.push(line),
                _ => fleet.silent.push(line),
            }
        }
        for group in &mut fleet.groups {
            group.lines.sort_by(|a, b| b.extract.weight().total_cmp(&a.extract.weight()).then(a.path.cmp(&b.path)));
        }
        let without_price = |g: &Group| g.currency.is_none();
        fleet.groups.sort_by(|a, b| {
            let size = b.lines.len().cmp(&a.lines.len());
            without_price(a).cmp(&without_price(b)).then(size).then(a.currency.cmp(&b.currency))
        });
        fleet
    }

    fn place(&mut self, line: Line) {
        let currency = line.extract.price.as_ref().map(|p| p.currency.clone());
        match self.groups.iter_mut().find(|g| g.currency == currency) {
            Some(group) => group.lines.push(line),
            None => self.groups.push(Group { currency, lines: vec![line] }),
        }
    }

    /// Every plant that was reviewed: ranked ones, then clear ones, then those that could not be judged.
    pub fn lines(&self) -> impl Iterator<Item = &Line> {
        self.groups.iter().flat_map(|g| &g.lines).chain(&self.clear).chain(&self.silent)
    }

    /// Plant files that were met.
    #[must_use]
    pub fn plants(&self) -> usize {
        self.lines().count() + self.lost.len()
    }

    /// The most urgent finding of all.
    #[must_use]
    pub fn urgency(&self) -> Option<Urgency> {
        self.lines().filter_map(|l| l.extract.urgency()).max()
    }
}

impl Group {
    /// What one kWh counts in this group: its price, or itself.
    #[must_use]
    pub fn per_kwh(line: &Line) -> f64 {
        line.extract.price.as_ref().map_or(1.0, |p| p.per_kwh)
    }

    /// All yearly stakes added, in the group's currency or in kWh, and how many plants they are of. The bounds are added too:
    /// plants are judged by one program, whose errors may go together.
    #[must_use]
    pub fn per_year(&self) -> (Estimate, usize) {
        let mut sum = Estimate { estimate: 0.0, low: 0.0, high: 0.0 };
        let mut plants = 0;
        for line in &self.lines {
            if let Stake::Year(e) = line.extract.stake() {
                let each = times(e, Self::per_kwh(line));
                sum = Estimate {
                    estimate: sum.estimate + each.estimate,
                    low: sum.low + each.low,
                    high: sum.high + each.high,
                };
                plants += 1;
            }
        }
        (sum, plants)
    }
}

/// An interval in another unit.
#[must_use]
pub fn times(e: Estimate, factor: f64) -> Estimate {
    Estimate { estimate: e.estimate * factor, low: e.low * factor, high: e.high * factor }
}

impl Extract {
    /// Whether there is anything to do or to watch.
    #[must_use]
    pub fn has_something(&self) -> bool {
        !self.findings.is_empty() || self.proposal.is_some()
    }

    /// Whether something should be done, beyond watching.
    #[must_use]
    pub fn needs_doing(&self) -> bool {
        self.proposal.is_some() || self.urgency() > Some(Urgency::Watch)
    }

    /// The most urgent finding.
    #[must_use]
    pub fn urgency(&self) -> Option<Urgency> {
        self.findings.iter().map(|f| f.urgency).max()
    }

    /// Hours of the period [h].
    #[must_use]
    pub fn hours(&self) -> f64 {
        (self.to_ms - self.from_ms) as f64 / 3_600_000.0
    }

    /// What the faults cost a year, no consequence counted twice and no more than the pumps use; `None` where one that has a price
    /// has none for a year.
    #[must_use]
    pub fn waste_kwh_per_year(&self) -> Option<Estimate> {
        let caused = |f: &&Brief| f.caused_by.is_some_and(|c| self.findings.iter().any(|g| g.fault == c));
        let own: Vec<&Brief> = self.findings.iter().filter(|f| !caused(f) && f.waste_kwh.is_some()).collect();
        if own.is_empty() {
            return None;
        }
        let yearly: Vec<Estimate> = own.iter().map(|f| f.waste_kwh_per_year).collect::<Option<_>>()?;
        let most = self.energy_kwh.max(0.0) * YEAR_H / (self.hours() * self.coverage).max(1.0);
        let sum = |part: fn(&Estimate) -> f64| yearly.iter().map(part).fold(0.0, |a, b| a + b).min(most);
        Some(Estimate { estimate: sum(|e| e.estimate), low: sum(|e| e.low), high: sum(|e| e.high) })
    }

    /// The larger of what the faults cost and what the proposed setting saves.
    #[must_use]
    pub fn stake(&self) -> Stake {
        let saving = self.proposal.as_ref();
        let year = larger(self.waste_kwh_per_year(), saving.and_then(|p| p.saving_kwh_per_year));
        let waste = self.waste_kwh.filter(|_| !self.findings.is_empty());
        let period = larger(waste, saving.map(|p| p.saving_kwh));
        year.map(Stake::Year).or(period.map(Stake::Period)).unwrap_or(Stake::Unknown)
    }

    /// What the order goes by, in currency or kWh a year: where the period carries no year, as if the year went on as it did.
    fn weight(&self) -> f64 {
        let kwh = match self.stake() {
            Stake::Year(e) => e.estimate,
            Stake::Period(e) => e.estimate * YEAR_H / self.hours().max(1.0),
            Stake::Unknown => -1.0,
        };
        kwh * self.price.as_ref().map_or(1.0, |p| p.per_kwh)
    }
}

fn larger(a: Option<Estimate>, b: Option<Estimate>) -> Option<Estimate> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.estimate > a.estimate { b } else { a }),
        (a, b) => a.or(b),
    }
}

//! A swing in words and numbers: whose it is, how sure, and the measures with their limits.

use super::swing::{
    AGREED, CANDIDATE, EXCESSIVE, Kind, LEAST_H, LEAST_RISE, LEAST_SWING, REGULAR, Swing, agreed, over,
};
use crate::faults::{Case, Estimate, Evidence, Shown, Urgency, What, price};

/// Share of the running hours from which wear makes it something to plan for [-].
const WEARS: f64 = 0.10;

impl Swing {
    /// The pump's name where one swings, else "loop".
    pub fn subject(&self, case: &Case) -> String {
        match self.pumps.as_slice() {
            [one] => case.pumps[*one].name.into(),
            _ => "loop".into(),
        }
    }

    /// "P-1", or "P-1 and P-2 (at one speed)".
    pub fn names(&self, case: &Case) -> String {
        let names: Vec<&str> = self.pumps.iter().map(|k| case.pumps[*k].name).collect();
        names.join(" and ")
    }

    /// What its figure shows; `floor` is NaN above the floor [-].
    pub fn shown(&self, case: &Case, floor: f64) -> Shown {
        let pumps = self.pumps.iter().map(|k| case.pumps[*k].name.into()).collect();
        let (low, high, period_min) = (self.low, self.high, self.period_min);
        Shown::new(&self.rows, What::Swing { pumps, low, high, floor, period_min })
    }

    /// Flow and head without the swing in a row: the means of its chain.
    pub fn evened_out(&self, i: usize) -> (f64, f64) {
        let k = self.chains.partition_point(|(_, c)| c.first <= i);
        let chain = self.chains[..k].iter().rev().take(self.pumps.len() + 1).find(|(_, c)| i < c.last);
        chain.map_or((f64::NAN, f64::NAN), |(_, c)| (c.flow_m3h, c.head_kpa))
    }

    /// By money, and by wear where it swings for much of the running hours.
    pub fn urgency(&self, case: &Case, waste: Option<Estimate>) -> Urgency {
        let priced = price::urgency(case, waste, false);
        if self.share >= WEARS { priced.max(Urgency::Plan) } else { priced }
    }

    /// Probability that it hunts [-]: by how well the measures agree, and how long. A load that cycles as regularly looks the same, so never more.
    pub fn confidence(&self) -> f64 {
        let agreed = agreed(self.regularity, self.decay, self.index);
        let sure = 0.60 + 0.28 * over(agreed, AGREED, 0.95) + 0.05 * over(self.hours, LEAST_H, 24.0);
        // The slower, the likelier a load or machine (common practice, no source).
        (sure - 0.10 * over(self.period_min, 45.0, 90.0)).min(0.95)
    }

    /// The measures with their limits.
    pub fn evidence(&self, kind: Kind) -> Vec<Evidence> {
        let least = if kind == Kind::Floor { LEAST_RISE } else { LEAST_SWING };
        let row = |name: &str, value: f64, unit: &'static str, expected: String, source: &str| Evidence {
            name: name.into(),
            value,
            unit,
            expected,
            source: source.into(),
        };
        let raw = "raw speed rows";
        vec![
            row("period", self.period_min, "min", "no regular period".into(), raw),
            row("swing of the speed, trough to crest", self.swing, "fraction", format!("below {least}"), raw),
            row(
                "regularity (mean period over three standard deviations)",
                self.regularity,
                "-",
                format!("below {REGULAR}"),
                "Thornhill, Huang and Zhang 2003, from memory",
            ),
            row(
                "decay ratio of the autocorrelation",
                self.decay,
                "-",
                format!("below {EXCESSIVE}"),
                "Miao and Seborg 1999, from memory",
            ),
            row(
                "half periods that resemble the next",
                self.index,
                "-",
                format!("below {CANDIDATE}"),
                "Forsman and Stattin 1999, from memory",
            ),
        ]
    }
}

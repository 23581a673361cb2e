//! What is said of a coil at fault.

use super::FAULT;
use super::coil::{Cause, CoilFault, WIDE_OPEN};
use super::expected::{coil_design_k, expected_k, with_difference};
use crate::faults::onset::Step;
use crate::faults::rules::lines;
use crate::faults::shown::column;
use crate::faults::spread::median;
use crate::faults::{Case, CoilCase, Finding, Shown, Verdict, What, price};
use crate::quantity::Flow;

impl CoilFault {
    /// Share of the loop's design flow that the coil has [-].
    fn share(&self, case: &Case) -> f64 {
        let own = case.coils[self.coil].declared.design_flow.map_or(f64::NAN, Flow::in_m3h);
        let share = own / case.design_flow_m3h();
        if share.is_finite() { share } else { 1.0 / case.coils.len() as f64 }
    }

    /// Whether it alone lowers the loop's difference by as much, on the same day: its share takes 1/left of its water.
    pub fn explains(&self, case: &Case, fall: Step, level: &[f64]) -> bool {
        let more = self.share(case) * (1.0 / self.left.max(0.2) - 1.0);
        let fell = -fall.size / median(level[..fall.at].iter().copied());
        let together = self.at.is_none_or(|at| at.abs_diff(fall.at) <= 2);
        together && fell <= 2.0 * more / (1.0 + more) + 0.02
    }

    pub fn verdict(&self, case: &Case) -> Verdict {
        let c = &case.coils[self.coil];
        let (first, last) = (self.rows[0], self.rows[self.rows.len() - 1]);
        let share = self.share(case) * (1.0 - self.left);
        let waste = price::waste(case, &self.rows, |i| with_difference(case, i, 1.0 - share));
        let starves = c.valve.is_some_and(|v| median(self.rows.iter().map(|i| v[*i])) >= WIDE_OPEN);
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: c.name.into(),
            urgency: price::urgency(case, waste, starves),
            confidence: self.confidence,
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours: self.rows.len() as f64 * case.step_h,
            waste_kwh: waste,
            waste_kwh_per_year: price::per_year(case, waste),
            caused_by: None,
            because: self.because.clone(),
            evidence: self.evidence.clone(),
            could_also_be: self.could_also_be(c),
            check_on_site: lines(&[
                "Read entering and leaving air and water with one calibrated thermometer, at high load.",
                "Look at both faces of the coil and at the filter; measure the pressure drop of air and water.",
                "Flush the strainer and vent the coil; see whether the stem follows the command over its whole travel.",
            ]),
            change: match self.cause {
                Cause::Fouled => {
                    format!("Clean or mend {}, and let the valve come back before any pump setting is lowered.", c.name)
                }
                Cause::Order => {
                    format!(
                        "Put the air setpoint of {} back to what its coil was built for, or say why it must stay.",
                        c.name
                    )
                }
            },
            shown: Shown::new(
                &self.rows,
                What::Water {
                    coil: Some(c.name.into()),
                    expected_k: column(case.rows(), |i| {
                        expected_k(case, i) / case.design_delta_t_k() * coil_design_k(case, c)
                    }),
                    limit: self.limit,
                    since: self.at.and_then(|d| u32::try_from(case.days()[d].start).ok()),
                },
            ),
            caution: case
                .caution("Stop and lock the fan before opening the unit; a coil that meets outdoor air can freeze."),
        }))
    }

    fn could_also_be(&self, c: &CoilCase) -> Vec<String> {
        let mut all = lines(&[
            "less air over the coil: a filter, a belt, a fan or a damper",
            "a valve or actuator that slipped, so that it opens less than its position says",
        ]);
        if c.air_setpoint_c.is_none() {
            all.push(
                "a load that asks for colder (in heating: warmer) air than before without a setpoint that is trended"
                    .into(),
            );
        }
        if self.at.is_none() {
            all.push(
                "a coil that was too small for its load, or built for another temperature difference than declared, from the start".into(),
            );
        }
        all
    }
}

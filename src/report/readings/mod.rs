//! Readings that stand beside the operating points: those that somebody needs to count a finding again.
//!
//! Comes in: a review. Goes out: columns of `operating-points.parquet`, and what is declared of the plant (`facts.rs`). The decision a reader would question: a
//! reading is written only where a finding rests on it (supply and return always), so that a year at one minute stays small; as 32-bit numbers, which keep
//! seven figures. A column is named by its role and a number, never by a point's name. What is wanted by which fault is `wanted.rs`.

pub mod facts;
mod wanted;

use crate::{
    faults::{Fault, Finding, Verdict},
    ingest::Series,
    pipeline::Review,
    plant::Role,
};
use wanted::{Want, wanted};

/// One column.
pub struct Reading<'r> {
    pub column: String,
    /// What it holds, in the words of the plant file where it is a point's role.
    pub what: &'static str,
    /// The coil it belongs to.
    pub of: Option<&'r str>,
    /// Names of the trended points behind it, one a pump where each has its own.
    pub points: Vec<&'r str>,
    pub unit: &'static str,
    values: Values<'r>,
}

enum Values<'r> {
    Same(&'r [f64]),
    /// One a pump of the review's points; `None` where it has none.
    Own(Vec<Option<&'r [f64]>>),
    AsRead(&'r [f32]),
}

impl Reading<'_> {
    /// In a row of the clock, beside this pump.
    pub fn at(&self, pump: usize, row: usize) -> Option<f32> {
        match &self.values {
            Values::Same(v) => v.get(row).map(|v| *v as f32),
            Values::Own(of) => of.get(pump).copied().flatten().and_then(|v| v.get(row)).map(|v| *v as f32),
            Values::AsRead(v) => v.get(row).copied(),
        }
    }

    pub fn description(&self) -> String {
        let of = self.of.map_or_else(String::new, |o| format!(" of {o}"));
        match self.values {
            Values::AsRead(_) => format!("{}{of}, as read, before screening took anything out", self.what),
            Values::Own(_) => format!("{} of the row's pump, as screening left it", self.what),
            Values::Same(_) => format!("{}{of}, as screening left it", self.what),
        }
    }
}

/// The findings of a review.
fn findings(review: &Review) -> impl Iterator<Item = &Finding> {
    review.verdicts.iter().filter_map(|v| if let Verdict::Found(f) = v { Some(f.as_ref()) } else { None })
}

/// The columns, in an order that hangs on nothing but the plant and its findings.
pub fn beside(review: &Review) -> Vec<Reading<'_>> {
    let found: Vec<Fault> = findings(review).map(|f| f.fault).collect();
    let mut columns = Vec::new();
    let frost_protection = review.plant.system.frost_protection_below.is_some();
    for want in wanted(&found, frost_protection) {
        match want {
            Want::Loop(role) => columns.extend(of_loop(review, role, role.word().replace('-', "_"))),
            Want::Header => columns.extend(of_loop(review, Role::PumpHead, "header_head".to_owned())),
            Want::Meter => columns.extend(of_loop(review, Role::LoopFlow, "loop_flow_meter".to_owned())),
            Want::ControlPressure => columns.extend(control_pressure(review)),
            Want::Pump(role) => columns.extend(of_pumps(review, role)),
            Want::Coils(role) => columns.extend(of_coils(review, role)),
            Want::Need => columns.extend(need(review)),
        }
    }
    columns.extend(as_read(review));
    columns
}

fn same<'r>(column: String, s: &'r Series) -> Reading<'r> {
    Reading {
        column,
        what: s.role.word(),
        of: s.of.as_deref(),
        points: vec![&s.name],
        unit: s.unit,
        values: Values::Same(&s.values),
    }
}

fn known(s: &Series) -> bool {
    s.values.iter().any(|v| v.is_finite())
}

fn of_loop(review: &Review, role: Role, column: String) -> Option<Reading<'_>> {
    review.screened.find(role, None).filter(|s| known(s)).map(|s| same(column, s))
}

/// The sensor that the pumps follow.
fn control_pressure(review: &Review) -> Option<Reading<'_>> {
    let at = review.plant.control.sensor_at.as_deref();
    let own = at.and_then(|coil| review.screened.find(Role::DifferentialPressure, Some(coil)));
    let sensor = own.or_else(|| review.screened.find(Role::DifferentialPressure, None))?;
    known(sensor).then(|| same("control_pressure".to_owned(), sensor))
}

/// A reading of each pump's own, in that pump's rows.
fn of_pumps(review: &Review, role: Role) -> Option<Reading<'_>> {
    let pumps = &review.points.pumps;
    let series: Vec<Option<&Series>> = pumps.iter().map(|p| review.screened.find(role, Some(&p.pump))).collect();
    let first = series.iter().flatten().find(|s| known(s))?;
    Some(Reading {
        column: format!("own_{}", role.word().replace('-', "_")),
        what: role.word(),
        of: None,
        points: series.iter().flatten().map(|s| s.name.as_str()).collect(),
        unit: first.unit,
        values: Values::Own(series.iter().map(|s| s.map(|s| s.values.as_slice())).collect()),
    })
}

/// One column a coil that has it; a valve's command where no position is trended.
fn of_coils(review: &Review, role: Role) -> Vec<Reading<'_>> {
    let find = |coil: &str| {
        let command = || review.screened.find(Role::ValveCommand, Some(coil)).filter(|_| role == Role::ValvePosition);
        review.screened.find(role, Some(coil)).or_else(command)
    };
    let coils = review.plant.coils.iter().enumerate();
    let one = |(k, c): (usize, &'_ crate::plant::Coil)| {
        find(&c.name).filter(|s| known(s)).map(|s| same(format!("{}.{}", role.word().replace('-', "_"), k + 1), s))
    };
    coils.filter_map(one).collect()
}

/// What the loop learned from its record: no reading, and no sum over rows gives it.
fn need(review: &Review) -> Vec<Reading<'_>> {
    const NEED: &str = "head enough with the neediest valve at 90 % open, by the learned loop";
    const HIGH: &str = "the same by the loop that asks most of those that explain the record";
    let columns = [("need_head", NEED, &review.need_kpa), ("need_head_high", HIGH, &review.need_high_kpa)];
    let there = columns.into_iter().filter(|c| c.2.iter().any(|v| v.is_finite()));
    there
        .map(|(column, what, values)| Reading {
            column: column.to_owned(),
            what,
            of: None,
            points: Vec::new(),
            unit: "kPa",
            values: Values::Same(values),
        })
        .collect()
}

/// The points that are at fault, as they were read.
fn as_read(review: &Review) -> Vec<Reading<'_>> {
    let at_fault = |name: &str| findings(review).any(|f| f.fault == Fault::SensorFault && f.subject == name);
    let kept = review.screened.as_read.iter().filter(|a| at_fault(&a.point));
    let with_series = kept.filter_map(|a| Some((a, review.screened.series.iter().find(|s| s.name == a.point)?)));
    with_series
        .enumerate()
        .map(|(k, (a, s))| Reading {
            column: format!("as_read.{}", k + 1),
            what: s.role.word(),
            of: s.of.as_deref(),
            points: vec![&s.name],
            unit: s.unit,
            values: Values::AsRead(&a.values),
        })
        .collect()
}

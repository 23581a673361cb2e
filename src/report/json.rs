//! `findings.json`: the promise to other programs. Own types, in the order in which the contract lists the keys.

use super::{
    compared,
    operation::Operation,
    summary::{Status, Summary},
    words,
};
use crate::{
    faults::{Estimate, Evidence},
    ingest::Ledger,
    operating::{Basis, Machine, check},
    pipeline::Review,
    plant::{Control, ControlMode, PowerIs, Reset},
    quantity::{Flow, Fraction, Pressure},
    tuning::{Recommendation, Tuning},
};
use chrono::{DateTime, Utc};
use serde::Serialize;

/// The name and version of this form.
pub const SCHEMA: &str = "offcurve/findings/1";

#[derive(Serialize)]
struct Findings<'r> {
    schema: &'static str,
    version: &'static str,
    plant: &'r str,
    r#loop: Option<&'r str>,
    period: Period,
    energy_kwh: Number,
    findings: Vec<Finding<'r>>,
    clear: Vec<Clear<'r>>,
    resolved: Vec<Resolved<'r>>,
    not_judged: Vec<NotJudged<'r>>,
    waste_total_kwh: Option<Range>,
    recommendation: Option<Proposal<'r>>,
    assumed: Vec<&'r str>,
    inputs: Vec<Input<'r>>,
    next_point_to_trend: Vec<NextPoint<'r>>,
    points: Vec<Point<'r>>,
    pump_models: Vec<PumpModel<'r>>,
    undecided: Vec<compared::Undecided<'r>>,
    compared_with: compared::ComparedWith<'r>,
    normalised: compared::Normalised<'r>,
    operation: &'r Operation,
}
#[derive(Serialize)]
struct Period {
    from: String,
    to: String,
    coverage: Number,
}
#[derive(Serialize)]
struct Finding<'r> {
    fault: &'static str,
    subject: &'r str,
    urgency: &'static str,
    confidence: Number,
    first_seen: String,
    last_seen: String,
    hours: Number,
    waste_kwh: Option<Range>,
    waste_kwh_per_year: Option<Range>,
    caused_by: Option<&'static str>,
    status: &'static str,
    since: String,
    because: &'r str,
    evidence: Vec<EvidenceForm<'r>>,
    could_also_be: &'r [String],
    check_on_site: &'r [String],
    change: &'r str,
    caution: &'r str,
    #[serde(flatten)]
    course: compared::Course,
}
#[derive(Serialize)]
struct EvidenceForm<'r> {
    name: &'r str,
    value: Number,
    unit: &'static str,
    expected: &'r str,
    source: &'r str,
}
#[derive(Serialize)]
struct Clear<'r> {
    fault: &'static str,
    subject: &'r str,
    would_have_seen: &'r str,
}
#[derive(Serialize)]
struct Resolved<'r> {
    fault: &'static str,
    subject: &'r str,
    last_seen: String,
    since: String,
    seen_in: usize,
    cost_so_far_kwh: Option<Range>,
}
#[derive(Serialize)]
struct NotJudged<'r> {
    fault: &'static str,
    subject: &'r str,
    missing: &'r [String],
    why: &'r str,
}
#[derive(Serialize)]
struct Proposal<'r> {
    current: Settings<'r>,
    proposed: Settings<'r>,
    /// Why this one and none of the alternatives.
    choice: &'r str,
    saving_kwh: Range,
    saving_kwh_per_year: Option<Range>,
    saving_fraction: Range,
    conditional_on: Vec<&'static str>,
    alternatives: Vec<Alternative<'r>>,
    steps: &'r [String],
    limits: &'r [String],
}
#[derive(Serialize)]
pub(super) struct Settings<'r> {
    mode: Option<&'static str>,
    zero_flow_head_kpa: Option<Number>,
    design_flow_m3_h: Option<Number>,
    design_head_kpa: Option<Number>,
    setpoint_kpa: Option<Number>,
    setpoint_low_kpa: Option<Number>,
    setpoint_high_kpa: Option<Number>,
    setpoint_m3_h: Option<Number>,
    minimum_speed_pct: Option<Number>,
    maximum_speed_pct: Option<Number>,
    sensor_at: Option<&'r str>,
    reset: Option<&'static str>,
}
#[derive(Serialize)]
struct Alternative<'r> {
    #[serde(flatten)]
    settings: Settings<'r>,
    saving_fraction: Range,
}
#[derive(Serialize)]
pub(super) struct Input<'r> {
    path: &'r str,
    sha256: &'r str,
}
#[derive(Serialize)]
struct NextPoint<'r> {
    role: &'static str,
    of: Option<&'r str>,
    would_settle: &'r [&'static str],
    /// It settles these only together with a point of this role.
    with: Option<&'static str>,
    worth_kwh_per_year: Number,
}
#[derive(Serialize)]
struct Point<'r> {
    name: &'r str,
    role: &'r str,
    samples: u64,
    bad: u64,
    missing: u64,
    flat_hours: Number,
    interval_s: i64,
}
#[derive(Serialize)]
struct PumpModel<'r> {
    pump: &'r str,
    cells: usize,
    misfit: Number,
    offsets: Vec<Offset>,
    speed_shows: Option<SpeedShows>,
    power_is: Option<PowerIsForm>,
    low_load_loss: Option<LowLoadLoss>,
    months: Vec<Month>,
    drift: Option<Drift>,
}
#[derive(Serialize)]
struct Offset {
    name: &'static str,
    unit: &'static str,
    estimate: Number,
    low: Number,
    high: Number,
    told_by_record: bool,
}
/// Probabilities, and whether they settle it.
#[derive(Serialize)]
struct SpeedShows {
    shaft: Number,
    frequency: Number,
    settled: bool,
}
#[derive(Serialize)]
#[serde(rename_all = "kebab-case")]
struct PowerIsForm {
    drive_input: Number,
    drive_output: Number,
    shaft: Number,
    settled: bool,
}
#[derive(Serialize)]
struct LowLoadLoss {
    likeliest: &'static str,
    probability: Number,
    settled: bool,
}
#[derive(Serialize)]
struct Month {
    from: String,
    witness: &'static str,
    residual: Number,
    low: Number,
    high: Number,
    change: Option<Range>,
}
#[derive(Serialize)]
struct Drift {
    witness: &'static str,
    against: Vec<&'static str>,
    estimate: Number,
    low: Number,
    high: Number,
    since: String,
}
#[derive(Serialize)]
pub(super) struct Range {
    estimate: Number,
    low: Number,
    high: Number,
}

/// A number as files carry it: seven significant figures, null where it is not known.
#[derive(Serialize)]
pub(super) struct Number(Option<f64>);

impl Number {
    pub fn new(value: f64) -> Self {
        // Through the decimal form, so that 0.1 stays 0.1.
        Self(value.is_finite().then(|| format!("{value:.6e}").parse().unwrap_or(value)))
    }
}

/// The whole file, for a review and its summary. `plant_file` is the plant file's own name and fingerprint.
pub fn write(review: &Review, summary: &Summary, plant_file: Option<(&str, &str)>) -> String {
    let findings = Findings {
        schema: SCHEMA,
        version: env!("CARGO_PKG_VERSION"),
        plant: &review.plant.name,
        r#loop: review.plant.system.name.as_deref(),
        period: Period { from: utc(review.from_ms), to: utc(review.to_ms), coverage: Number::new(review.coverage) },
        energy_kwh: Number::new(review.energy_kwh),
        findings: summary.findings.iter().map(|d| finding(d, review)).collect(),
        clear: summary.clear.iter().map(clear).collect(),
        resolved: summary.resolved.iter().map(resolved).collect(),
        not_judged: summary.not_judged.iter().map(not_judged).collect(),
        waste_total_kwh: summary.waste_total_kwh.map(range),
        recommendation: match &review.tuning {
            Tuning::Proposed(r) => Some(proposal(r)),
            Tuning::Refused { .. } => None,
        },
        assumed: assumed(review),
        inputs: inputs(&review.ledger, plant_file),
        next_point_to_trend: summary.next_points.iter().map(next_point).collect(),
        points: review.ledger.points.iter().map(point).collect(),
        pump_models: review.machines.iter().map(pump_model).collect(),
        undecided: summary.undecided.iter().map(compared::undecided).collect(),
        compared_with: compared::compared_with(&summary.history),
        normalised: compared::normalised(&summary.normalised),
        operation: &summary.operation,
    };
    let mut text =
        serde_json::to_string_pretty(&findings).expect("these types have no map with keys that are not text");
    text.push('\n');
    text
}

/// An instant as files carry it.
pub fn utc(ms: i64) -> String {
    DateTime::<Utc>::from_timestamp_millis(ms).map_or_else(String::new, |t| t.format("%Y-%m-%dT%H:%M:%SZ").to_string())
}

/// Every default that stood in for a missing fact, once.
pub fn assumed(review: &Review) -> Vec<&str> {
    let mut all: Vec<&str> = Vec::new();
    for text in review.plant.assumed.iter().chain(&review.assumed) {
        if !all.contains(&text.as_str()) {
            all.push(text);
        }
    }
    all
}

fn finding<'r>(dated: &super::summary::Dated<'r>, review: &Review) -> Finding<'r> {
    let f = dated.finding;
    Finding {
        fault: f.fault.code(),
        subject: &f.subject,
        urgency: words::urgency(f.urgency),
        confidence: Number::new(f.confidence),
        first_seen: utc(f.first_seen_ms),
        last_seen: utc(f.last_seen_ms),
        hours: Number::new(f.hours),
        waste_kwh: f.waste_kwh.map(range),
        waste_kwh_per_year: f.waste_kwh_per_year.map(range),
        caused_by: f.caused_by.map(crate::faults::Fault::code),
        status: match dated.status {
            Status::New => "new",
            Status::Persisting => "persisting",
        },
        since: utc(dated.since_ms),
        because: &f.because,
        evidence: f.evidence.iter().map(evidence).collect(),
        could_also_be: &f.could_also_be,
        check_on_site: &f.check_on_site,
        change: &f.change,
        caution: &f.caution,
        course: compared::course(dated, &review.plant),
    }
}

fn evidence(e: &Evidence) -> EvidenceForm<'_> {
    EvidenceForm { name: &e.name, value: Number::new(e.value), unit: e.unit, expected: &e.expected, source: &e.source }
}

fn clear<'r>(c: &super::summary::Clear<'r>) -> Clear<'r> {
    Clear { fault: c.fault.code(), subject: c.subject, would_have_seen: c.would_have_seen }
}

fn resolved(r: &super::summary::Resolved) -> Resolved<'_> {
    Resolved {
        fault: r.fault.code(),
        subject: &r.subject,
        last_seen: utc(r.last_seen_ms),
        since: utc(r.since_ms),
        seen_in: r.seen_in,
        cost_so_far_kwh: r.cost.kwh.map(range),
    }
}

fn not_judged<'r>(n: &super::summary::NotJudged<'r>) -> NotJudged<'r> {
    NotJudged { fault: n.fault, subject: n.subject, missing: n.missing, why: n.why }
}

fn proposal(r: &Recommendation) -> Proposal<'_> {
    Proposal {
        current: settings(&r.current),
        proposed: settings(&r.proposed),
        choice: &r.choice,
        saving_kwh: range(r.saving_kwh),
        saving_kwh_per_year: r.saving_kwh_per_year.map(range),
        saving_fraction: range(r.saving_fraction),
        conditional_on: r.conditional_on.iter().map(|f| f.code()).collect(),
        alternatives: r
            .alternatives
            .iter()
            .map(|a| Alternative { settings: settings(&a.control), saving_fraction: range(a.saving_fraction) })
            .collect(),
        steps: &r.steps,
        limits: &r.limits,
    }
}

pub(super) fn settings(c: &Control) -> Settings<'_> {
    let kpa = |p: Option<Pressure>| p.map(|p| Number::new(p.in_kpa()));
    let m3h = |q: Option<Flow>| q.map(|q| Number::new(q.in_m3h()));
    let pct = |s: Option<Fraction>| s.map(|s| Number::new(s.in_percent()));
    Settings {
        mode: c.mode.map(ControlMode::word),
        zero_flow_head_kpa: kpa(c.zero_flow_head),
        design_flow_m3_h: m3h(c.design_flow),
        design_head_kpa: kpa(c.design_head),
        setpoint_kpa: kpa(c.setpoint),
        setpoint_low_kpa: kpa(c.setpoint_low),
        setpoint_high_kpa: kpa(c.setpoint_high),
        setpoint_m3_h: m3h(c.setpoint_flow),
        minimum_speed_pct: pct(c.minimum_speed),
        maximum_speed_pct: pct(c.maximum_speed),
        sensor_at: c.sensor_at.as_deref(),
        reset: c.reset.map(Reset::word),
    }
}

pub(super) fn inputs<'r>(ledger: &'r Ledger, plant_file: Option<(&'r str, &'r str)>) -> Vec<Input<'r>> {
    let own = plant_file.map(|(path, sha256)| Input { path, sha256 });
    own.into_iter().chain(ledger.files.iter().map(|f| Input { path: &f.path, sha256: &f.sha256 })).collect()
}

fn next_point(p: &crate::faults::next_point::NextPoint) -> NextPoint<'_> {
    NextPoint {
        role: p.role.word(),
        of: p.of.as_deref(),
        would_settle: &p.would_settle,
        with: p.with.map(crate::plant::Role::word),
        worth_kwh_per_year: Number::new(p.worth_kwh_per_year),
    }
}

fn point(p: &crate::ingest::PointLedger) -> Point<'_> {
    Point {
        name: &p.name,
        role: &p.role,
        samples: p.samples,
        bad: p.bad,
        missing: p.missing,
        flat_hours: Number::new(p.flat_hours),
        interval_s: p.interval_s,
    }
}

fn pump_model(machine: &Machine) -> PumpModel<'_> {
    let check = &machine.check;
    let place = |wanted: PowerIs| check.power_is.iter().find(|p| p.0 == wanted).map_or(0.0, |p| p.1.probability);
    PumpModel {
        pump: &machine.pump,
        cells: check.cells,
        misfit: Number::new(check.misfit),
        offsets: check
            .offsets
            .iter()
            .map(|o| Offset {
                name: o.of.word(),
                unit: o.of.unit(),
                estimate: Number::new(o.estimate),
                low: Number::new(o.low),
                high: Number::new(o.high),
                told_by_record: o.told_by_record,
            })
            .collect(),
        speed_shows: check.slip_hidden.map(|b| SpeedShows {
            shaft: Number::new(1.0 - b.probability),
            frequency: Number::new(b.probability),
            settled: b.settled,
        }),
        power_is: check.power_is.first().map(|likeliest| PowerIsForm {
            drive_input: Number::new(place(PowerIs::DriveInput)),
            drive_output: Number::new(place(PowerIs::DriveOutput)),
            shaft: Number::new(place(PowerIs::Shaft)),
            settled: likeliest.1.settled,
        }),
        low_load_loss: check.loss.map(|(kind, b)| LowLoadLoss {
            likeliest: kind.word(),
            probability: Number::new(b.probability),
            settled: b.settled,
        }),
        months: check.months.iter().map(month).collect(),
        drift: check.drift.as_ref().map(|d| Drift {
            witness: measurement(d.witness),
            against: d.against.iter().map(|w| measurement(*w)).collect(),
            estimate: Number::new(d.change),
            low: Number::new(d.low),
            high: Number::new(d.high),
            since: utc(d.since_ms),
        }),
    }
}

fn month(m: &check::Month) -> Month {
    let change = m.change.map(|(estimate, low, high)| range(Estimate { estimate, low, high }));
    Month {
        from: utc(m.from_ms),
        witness: measurement(m.witness),
        residual: Number::new(m.residual),
        low: Number::new(m.low),
        high: Number::new(m.high),
        change,
    }
}

/// A measurement's word, as in a point's basis.
fn measurement(witness: usize) -> &'static str {
    Basis::Measured(1 << witness).word()
}

pub(super) fn range(e: Estimate) -> Range {
    Range { estimate: Number::new(e.estimate), low: Number::new(e.low), high: Number::new(e.high) }
}

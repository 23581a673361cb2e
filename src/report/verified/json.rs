//! `verification.json`: the promise to other programs. Own types, in the order in which the contract lists the keys.

use super::told;
use crate::{
    faults::Estimate,
    report::{
        json::{Input, Number, Range, Settings, inputs, range, settings, utc},
        words,
    },
    verification::{Comfort, Short, Source, Tendency, Verification},
    verify::{DaysNeeded, Experiment, Saving, Side, Told, Why, form::Driver, guideline::Limit},
};
use serde::Serialize;

/// The name and version of this form.
pub const SCHEMA: &str = "offcurve/verification/1";

#[derive(Serialize)]
struct Form<'v> {
    schema: &'static str,
    version: &'static str,
    plant: &'v str,
    r#loop: Option<&'v str>,
    changed: String,
    change: Change,
    told: &'static str,
    why: Option<String>,
    before: Period,
    after: Period,
    saving_kwh: Option<Range>,
    saving_fraction: Option<Range>,
    saving_kwh_per_year: Option<Range>,
    no_yearly_figure: Option<String>,
    saving_money: Option<Money<'v>>,
    saving_kg_co2e: Option<Range>,
    experiment: Option<&'static str>,
    model: Option<Model>,
    coverage: Vec<Coverage>,
    took: Took<'v>,
    side_effects: Vec<SideEffect<'v>>,
    gone: Vec<Named<'v>>,
    side_effects_not_judged: Option<&'v str>,
    settings: Both<Settings<'v>>,
    comfort: ComfortForm<'v>,
    excluded: Vec<Excluded>,
    days_needed: Option<usize>,
    energy_from: &'v str,
    load_from: Option<&'v str>,
    notices: Vec<&'v str>,
    assumed: Vec<&'v str>,
    inputs: Vec<Input<'v>>,
}
#[derive(Serialize)]
struct Change {
    source: &'static str,
    times: usize,
    /// What the record shows by itself there.
    step: Option<StepForm>,
    stretches: Vec<StretchForm>,
}
#[derive(Serialize)]
struct StepForm {
    relation: &'static str,
    at: String,
    earliest: String,
    latest: String,
    confidence: Number,
}
#[derive(Serialize)]
struct StretchForm {
    setting: &'static str,
    from: String,
    to: String,
}
#[derive(Serialize)]
struct Period {
    from: String,
    to: String,
    /// Days compared, and their energy.
    days: Option<usize>,
    energy_kwh: Option<Number>,
}
#[derive(Serialize)]
struct Money<'v> {
    currency: Option<&'v str>,
    #[serde(flatten)]
    range: Range,
}
#[derive(Serialize)]
struct Model {
    form: String,
    change_points: Vec<Number>,
    weight: Number,
    cv_rmse: Number,
    cv_rmse_days: Number,
    cv_rmse_held_out: Number,
    nmbe: Number,
    r2: Number,
    n: usize,
    parameters: usize,
    autocorrelation: Number,
    fractional_uncertainty: Number,
    acceptable: bool,
    limits: Vec<LimitForm>,
    tried: Vec<Tried>,
}
#[derive(Serialize)]
struct LimitForm {
    name: &'static str,
    value: Number,
    limit: Number,
    kept: Option<bool>,
    source: &'static str,
}
#[derive(Serialize)]
struct Tried {
    form: String,
    held_out_kwh: Number,
}
#[derive(Serialize)]
struct Coverage {
    driver: &'static str,
    before: [Number; 2],
    after: [Number; 2],
    share_inside: Number,
    share_within_a_tenth: Number,
}
#[derive(Serialize)]
struct Took<'v> {
    took: Option<bool>,
    why: &'v str,
    moved: Option<Range>,
}
#[derive(Serialize)]
struct SideEffect<'v> {
    fault: &'static str,
    subject: &'v str,
    urgency: &'static str,
    confidence: Number,
    first_seen: String,
    because: &'v str,
    caution: &'v str,
    before: &'static str,
}
#[derive(Serialize)]
struct Named<'v> {
    fault: &'static str,
    subject: &'v str,
}
#[derive(Serialize)]
struct Both<T> {
    before: T,
    after: T,
}
#[derive(Serialize)]
struct ComfortForm<'v> {
    before: Option<Shortfall<'v>>,
    after: Option<Shortfall<'v>>,
    /// Days of like outdoor temperature or load, by which the tendency is told.
    like: Option<LikeForm>,
    tendency: &'static str,
    coils_by_air: usize,
    coils_by_valve: usize,
    why: Option<&'v str>,
}
#[derive(Serialize)]
struct LikeForm {
    driver: &'static str,
    days_before: usize,
    days_after: usize,
    share_before: Number,
    share_after: Number,
}
#[derive(Serialize)]
struct Shortfall<'v> {
    share: Number,
    judged_h: Number,
    short_h: Number,
    coils: Vec<CoilForm<'v>>,
}
#[derive(Serialize)]
struct CoilForm<'v> {
    name: &'v str,
    judged_h: Number,
    short_h: Number,
}
#[derive(Serialize)]
struct Excluded {
    setting: &'static str,
    days: usize,
    reason: &'static str,
    why: &'static str,
}

/// The whole file. `plant_file` is the plant file's own name and fingerprint.
pub fn write(v: &Verification, plant_file: Option<(&str, &str)>) -> String {
    let saving = v.saving.as_ref().ok();
    let yearly = saving.map(|s| s.saving_kwh_per_year.as_ref());
    let times = |by: f64| saving.map(|s| range(scaled(s.saving_kwh, by)));
    let form =
        Form {
            schema: SCHEMA,
            version: env!("CARGO_PKG_VERSION"),
            plant: &v.plant.name,
            r#loop: v.plant.system.name.as_deref(),
            changed: utc(v.changed.at_ms),
            change: change(v),
            told: saving.map_or("cannot-tell", |s| told_word(s.told)),
            why: v.saving.as_ref().err().map(ToString::to_string),
            before: period(v, crate::verify::Setting::Old, saving.map(|s| s.before)),
            after: period(v, crate::verify::Setting::New, saving.map(|s| s.after)),
            saving_kwh: saving.map(|s| range(s.saving_kwh)),
            saving_fraction: saving.map(|s| range(s.saving_fraction)),
            saving_kwh_per_year: yearly.and_then(Result::ok).map(|e| range(*e)),
            no_yearly_figure: yearly.and_then(Result::err).cloned(),
            saving_money: v.plant.site.energy_price.and_then(|price| {
                times(price).map(|range| Money { currency: v.plant.site.currency.as_deref(), range })
            }),
            saving_kg_co2e: v.plant.site.carbon_intensity.and_then(times),
            experiment: saving.map(|s| match s.experiment {
                Experiment::BeforeAfter => "before-after",
                Experiment::Alternating { .. } => "alternating",
            }),
            model: saving.map(model),
            coverage: saving.map_or_else(Vec::new, |s| s.coverage.iter().map(coverage).collect()),
            took: Took { took: v.took.took, why: &v.took.why, moved: v.took.moved.map(range) },
            side_effects: v.effects.new.iter().map(side_effect).collect(),
            gone: v.effects.gone.iter().map(|(f, subject)| Named { fault: f.code(), subject }).collect(),
            side_effects_not_judged: v.effects.not_judged.as_deref(),
            settings: Both { before: settings(&v.settings.0), after: settings(&v.settings.1) },
            comfort: comfort(&v.comfort),
            excluded: saving.map_or_else(Vec::new, |s| s.excluded.iter().map(excluded).collect()),
            days_needed: match &v.saving {
                Ok(s) => match s.days_needed {
                    DaysNeeded::None => Some(0),
                    DaysNeeded::More(n) => Some(n),
                    DaysNeeded::NotByWaiting => None,
                },
                Err(refusal) => told::missing_days(refusal),
            },
            energy_from: &v.energy_from,
            load_from: v.load_from.as_deref(),
            notices: v.notices.iter().map(|n| n.text.as_str()).collect(),
            assumed: v.plant.assumed.iter().map(String::as_str).collect(),
            inputs: inputs(&v.ledger, plant_file),
        };
    let mut text = serde_json::to_string_pretty(&form).expect("these types have no map with keys that are not text");
    text.push('\n');
    text
}

fn scaled(e: Estimate, by: f64) -> Estimate {
    Estimate { estimate: e.estimate * by, low: e.low * by, high: e.high * by }
}

fn told_word(told: Told) -> &'static str {
    match told {
        Told::Saved => "saved",
        Told::UsedMore => "used-more",
        Told::CannotTell => "cannot-tell",
    }
}

fn change(v: &Verification) -> Change {
    let step = v.changed.step.as_ref().map(|(s, relation)| StepForm {
        relation,
        at: utc(s.at_ms),
        earliest: utc(s.from_ms),
        latest: utc(s.to_ms),
        confidence: Number::new(s.confidence),
    });
    let stretch = |s: &crate::verify::Stretch| StretchForm {
        setting: told::setting(s.setting),
        from: utc(s.from_ms),
        to: utc(s.to_ms),
    };
    Change {
        source: match v.changed.source {
            Source::Given => "given",
            Source::History => "control-history",
            Source::Found => "found",
        },
        times: v.changed.times,
        step,
        stretches: v.stretches.iter().map(stretch).collect(),
    }
}

fn period(v: &Verification, setting: crate::verify::Setting, side: Option<Side>) -> Period {
    let (from, to) = v.period(setting);
    Period {
        from: utc(from),
        to: utc(to),
        days: side.map(|s| s.days),
        energy_kwh: side.map(|s| Number::new(s.energy_kwh)),
    }
}

fn model(s: &Saving) -> Model {
    let q = &s.quality;
    let limit = |l: &Limit| LimitForm {
        name: l.name,
        value: Number::new(l.value),
        limit: Number::new(l.limit),
        kept: l.kept,
        source: l.source,
    };
    Model {
        form: s.baseline.form.to_string(),
        change_points: s.baseline.points.iter().map(|p| Number::new(*p)).collect(),
        weight: Number::new(s.baseline.weight),
        cv_rmse: Number::new(q.cv_rmse),
        cv_rmse_days: Number::new(q.cv_rmse_days),
        cv_rmse_held_out: Number::new(q.cv_rmse_held_out),
        nmbe: Number::new(q.nmbe),
        r2: Number::new(q.r2),
        n: q.n,
        parameters: q.p,
        autocorrelation: Number::new(q.autocorrelation),
        fractional_uncertainty: Number::new(q.fractional_uncertainty),
        acceptable: q.acceptable,
        limits: q.limits.iter().map(limit).collect(),
        tried: s
            .baseline
            .tried
            .iter()
            .map(|(form, kwh)| Tried { form: form.to_string(), held_out_kwh: Number::new(*kwh) })
            .collect(),
    }
}

fn coverage(c: &crate::verify::Coverage) -> Coverage {
    let pair = |(low, high): (f64, f64)| [Number::new(low), Number::new(high)];
    Coverage {
        driver: driver(c.driver),
        before: pair(c.before),
        after: pair(c.after),
        share_inside: Number::new(c.share_inside),
        share_within_a_tenth: Number::new(c.share_within_a_tenth),
    }
}

fn driver(driver: Driver) -> &'static str {
    match driver {
        Driver::Outdoor => "outdoor-temperature",
        Driver::Load | Driver::LoadAndOutdoor => "load",
    }
}

fn side_effect(e: &crate::verification::SideEffect) -> SideEffect<'_> {
    let f = &e.finding;
    SideEffect {
        fault: f.fault.code(),
        subject: &f.subject,
        urgency: words::urgency(f.urgency),
        confidence: Number::new(f.confidence),
        first_seen: utc(f.first_seen_ms),
        because: &f.because,
        caution: &f.caution,
        before: if e.clear_before { "clear" } else { "cannot-tell" },
    }
}

fn comfort(c: &Comfort) -> ComfortForm<'_> {
    let judged = c.why.is_none();
    ComfortForm {
        before: judged.then(|| shortfall(&c.before)),
        after: judged.then(|| shortfall(&c.after)),
        like: c.like.filter(|_| judged).map(|l| LikeForm {
            driver: driver(l.driver),
            days_before: l.days_before,
            days_after: l.days_after,
            share_before: Number::new(l.share_before),
            share_after: Number::new(l.share_after),
        }),
        tendency: match c.tendency {
            Tendency::Rose => "rose",
            Tendency::Fell => "fell",
            Tendency::NoneTold => "none-told",
            Tendency::Unknown => "unknown",
        },
        coils_by_air: c.by_air,
        coils_by_valve: c.by_valve,
        why: c.why.as_deref(),
    }
}

fn shortfall(s: &Short) -> Shortfall<'_> {
    let coil = |c: &'_ crate::verification::CoilShort| (Number::new(c.judged_h), Number::new(c.short_h));
    Shortfall {
        share: Number::new(s.share()),
        judged_h: Number::new(s.judged_h),
        short_h: Number::new(s.short_h),
        coils: s
            .coils
            .iter()
            .map(|c| {
                let (judged_h, short_h) = coil(c);
                CoilForm { name: &c.name, judged_h, short_h }
            })
            .collect(),
    }
}

fn excluded(e: &crate::verify::Excluded) -> Excluded {
    Excluded { setting: told::setting(e.setting), days: e.days, reason: reason(e.why), why: told::why(e.why) }
}

/// A reason's word, as in the table of days.
pub fn reason(why: Why) -> &'static str {
    match why {
        Why::PartOfADay => "part-of-a-day",
        Why::NoEnergy => "no-energy",
        Why::NoDriver => "no-driver",
        Why::OutsideDriver => "outside-driver",
    }
}

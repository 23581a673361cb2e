//! What `findings.json` says of earlier reviews: own types, as in `json.rs`.

use super::{
    followed::Returned as Back,
    history::{Earlier, History},
    json::{Number, Range, range, utc},
    normalised::{self, Told, Which},
    summary,
};
use crate::{faults::Estimate, plant::Plant, verify::form::Driver};
use serde::Serialize;

/// Further keys of a finding.
#[derive(Serialize)]
pub(super) struct Course {
    seen_in: usize,
    not_told_in: usize,
    cost_so_far_kwh: Option<Range>,
    cost_so_far_money: Option<Money>,
    cost_so_far_priced_in: usize,
    returned: Option<Returned>,
}
#[derive(Serialize)]
struct Money {
    currency: Option<String>,
    #[serde(flatten)]
    range: Range,
}
#[derive(Serialize)]
struct Returned {
    first_since: String,
    gone_from: String,
    gone_to: String,
}
#[derive(Serialize)]
pub(super) struct Undecided<'r> {
    fault: &'static str,
    subject: &'r str,
    since: String,
    last_seen: String,
    seen_in: usize,
    cost_so_far_kwh: Option<Range>,
    not_told_in: usize,
    why: &'r str,
    review_from: Option<String>,
}
#[derive(Serialize)]
struct Period {
    from: String,
    to: String,
}
#[derive(Serialize)]
pub(super) struct ComparedWith<'r> {
    reviews: usize,
    last: Option<Period>,
    same_period_last_year: Option<Period>,
    skipped: &'r [String],
}
#[derive(Serialize)]
pub(super) struct Normalised<'r> {
    season: &'static str,
    base_degc: Number,
    base_from: &'static str,
    #[serde(flatten)]
    rates: Rates,
    why: Option<&'r str>,
    against: Vec<Against<'r>>,
}
#[derive(Serialize)]
struct Rates {
    degree_days: Option<Number>,
    degree_days_over_days: usize,
    kwh_per_degree_day: Option<Number>,
    load_mwh: Option<Number>,
    load_over_days: usize,
    kwh_per_mwh: Option<Number>,
}
#[derive(Serialize)]
struct Against<'r> {
    which: &'static str,
    from: String,
    to: String,
    #[serde(flatten)]
    rates: Rates,
    told: &'static str,
    change_fraction: Option<Range>,
    days_compared: usize,
    by: Vec<&'static str>,
    why: Option<&'r str>,
}

pub(super) fn course(d: &summary::Dated, plant: &Plant) -> Course {
    Course {
        seen_in: d.seen_in,
        not_told_in: d.not_told_in,
        cost_so_far_kwh: d.cost.kwh.map(range),
        cost_so_far_money: d.cost.kwh.and_then(|kwh| money(kwh, plant)),
        cost_so_far_priced_in: d.cost.priced_in,
        returned: d.returned.map(returned),
    }
}

/// At today's price.
fn money(kwh: Estimate, plant: &Plant) -> Option<Money> {
    let price = plant.site.energy_price?;
    let times = |v: f64| v * price;
    let range = range(Estimate { estimate: times(kwh.estimate), low: times(kwh.low), high: times(kwh.high) });
    Some(Money { currency: plant.site.currency.clone(), range })
}

fn returned(r: Back) -> Returned {
    Returned { first_since: utc(r.first_since_ms), gone_from: utc(r.gone_from_ms), gone_to: utc(r.gone_to_ms) }
}

pub(super) fn undecided(u: &summary::Undecided) -> Undecided<'_> {
    Undecided {
        fault: u.fault.code(),
        subject: &u.subject,
        since: utc(u.since_ms),
        last_seen: utc(u.last_seen_ms),
        seen_in: u.seen_in,
        cost_so_far_kwh: u.cost.kwh.map(range),
        not_told_in: u.silent,
        why: &u.why,
        review_from: u.review_from_ms.map(utc),
    }
}

pub(super) fn compared_with(history: &History) -> ComparedWith<'_> {
    let period = |e: &Earlier| Period { from: utc(e.from_ms), to: utc(e.to_ms) };
    ComparedWith {
        reviews: history.all.len(),
        last: history.last().map(period),
        same_period_last_year: history.year_ago().map(period),
        skipped: &history.skipped,
    }
}

pub(super) fn normalised(n: &normalised::Normalised) -> Normalised<'_> {
    Normalised {
        season: match n.season {
            normalised::Season::Heating => "heating",
            normalised::Season::Cooling => "cooling",
        },
        base_degc: Number::new(n.base.degc),
        base_from: if n.base.of_record { "record" } else { "convention" },
        rates: rates(&n.rates),
        why: n.why.as_deref(),
        against: n.against.iter().map(against).collect(),
    }
}

fn rates(r: &normalised::Rates) -> Rates {
    let amount = |r: Option<normalised::Rate>| r.map(|r| Number::new(r.amount));
    let per = |r: Option<normalised::Rate>| r.and_then(|r| r.kwh_per).map(Number::new);
    let days = |r: Option<normalised::Rate>| r.map_or(0, |r| r.days);
    Rates {
        degree_days: amount(r.degree_days),
        degree_days_over_days: days(r.degree_days),
        kwh_per_degree_day: per(r.degree_days),
        load_mwh: amount(r.load),
        load_over_days: days(r.load),
        kwh_per_mwh: per(r.load),
    }
}

fn against(a: &normalised::Against) -> Against<'_> {
    let driver = |d: &Driver| if *d == Driver::Outdoor { "outdoor-temperature" } else { "load" };
    Against {
        which: match a.which {
            Which::Last => "last",
            Which::YearAgo => "same-period-last-year",
        },
        from: utc(a.from_ms),
        to: utc(a.to_ms),
        rates: rates(&a.rates),
        told: match a.told {
            Told::Less => "less",
            Told::More => "more",
            Told::NoClearDifference => "no-clear-difference",
            Told::CannotTell => "cannot-tell",
        },
        change_fraction: a.change.map(range),
        days_compared: a.days,
        by: a.by.iter().map(driver).collect(),
        why: a.why.as_deref(),
    }
}

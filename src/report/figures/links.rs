//! What the page's script needs to link head over flow and the time strip: the bins of one, the marks of the other, and which touch.
//!
//! Goes out: JSON of plain numbers. Nothing in it is text from the data but the pumps' names. Numbers are rounded to what a reader
//! is shown; times are minutes of the plant's own clock since the first day began, so that the page needs no time zone.

use super::{
    bins::Bins,
    head_flow::{self, Seen},
    marks::Mark,
    strip,
};
use crate::{
    pipeline::Review,
    plant::UnitSystem,
    regimes::Regime,
    report::{both, show::Show, words},
};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// The figures that are linked.
pub const LINKED: [&str; 2] = [head_flow::ID, strip::ID];

/// The script's data; `None` where one of the two figures is missing.
pub fn links(review: &Review, seen: &Seen, show: &Show) -> Option<String> {
    let bins = Bins::new(review, show)?;
    let Seen { rows, frame, gathered } = seen;
    if rows.is_empty() {
        return None;
    }
    let held: Vec<(usize, u32)> = rows.iter().map(|r| r.0).zip(gathered.of.iter().copied()).collect();
    let units = |system: UnitSystem| {
        let show = show.within(system);
        let factor = |f: f64| rounded(f, 8);
        json!({ "flow": [factor(show.flow_value(1.0)), show.flow_unit()], "head": [factor(show.head_value(1.0)), show.head_unit()] })
    };
    let mut all = json!({
        "units": { both::code(UnitSystem::Si): units(UnitSystem::Si), both::code(UnitSystem::Ip): units(UnitSystem::Ip) },
        "first": bins.first.format("%Y-%m-%d").to_string(),
        "regimes": words::REGIMES.map(|r| [words::regime_code(r), words::regime(r)]),
        "pumps": review.regimes.pumps.iter().map(|p| p.pump.as_str()).collect::<Vec<_>>(),
    });
    let heads = head_intervals(review);
    all["bins"] = bins_of(review, &bins, &held, &heads);
    all["marks"] = marks_of(review, show, &bins, &gathered.marks, &held, &heads);
    let corners = |from: (i32, i32), to: (i32, i32)| [from.0, to.1, to.0, from.1];
    let strip = strip::frame(strip::place(review.regimes.pumps.len()), &bins);
    all["strip"] = json!({
        "box": corners(strip.pixel(bins.days.start, 0.0), strip.pixel(bins.days.end, 1.0)),
        "minutes": [minutes(bins.days.start), minutes(bins.days.end)],
    });
    all["plot"] = json!({
        "box": corners(frame.pixel(0.0, 0.0), frame.pixel(frame.x.end, frame.y.end)),
        "flow": frame.x.end,
        "head": frame.y.end,
    });
    Some(all.to_string())
}

/// Each bin: its edges, means with intervals, what each pump did most, and the marks that its rows are in.
fn bins_of(review: &Review, bins: &Bins, held: &[(usize, u32)], [low, high]: &[Vec<f64>; 2]) -> Value {
    let system = &review.points.system;
    let mean = |values: &[f64]| bins.means(values).iter().map(|v| number(*v)).collect::<Vec<_>>();
    let digit = |r: &Option<Regime>| {
        let known = r.and_then(|r| words::REGIMES.iter().position(|o| *o == r));
        known.map_or("-".to_owned(), |k| k.to_string())
    };
    let regime = |regimes: &[Regime]| bins.dominant(regimes).iter().map(digit).collect::<String>();
    json!({
        "edges": bins.edges.iter().map(|e| minutes(*e)).collect::<Vec<_>>(),
        "flow": mean(&system.flow_m3h),
        "flow_low": mean(&system.flow_low_m3h),
        "flow_high": mean(&system.flow_high_m3h),
        "head": mean(&system.head_kpa),
        "head_low": mean(low),
        "head_high": mean(high),
        "regime": review.regimes.pumps.iter().map(|p| regime(&p.regime)).collect::<Vec<_>>(),
        "marks": touched(bins, held),
    })
}

/// The marks that each bin's rows are in, each as its distance from the one before.
fn touched(bins: &Bins, held: &[(usize, u32)]) -> Vec<Vec<u32>> {
    let mut held = held.iter().peekable();
    let mut each = Vec::with_capacity(bins.rows.len());
    for rows in &bins.rows {
        let mut own = BTreeSet::new();
        while let Some((_, mark)) = held.next_if(|(row, _)| *row < rows.end) {
            own.extend((*mark != u32::MAX).then_some(*mark));
        }
        let mut before = 0;
        each.push(own.into_iter().map(|mark| mark - std::mem::replace(&mut before, mark)).collect());
    }
    each
}

/// Each mark: where it stands, its regime, the hours it holds, its intervals, and the first and last of its rows.
fn marks_of(
    review: &Review,
    show: &Show,
    bins: &Bins,
    marks: &[Mark],
    held: &[(usize, u32)],
    [head_low, head_high]: &[Vec<f64>; 2],
) -> Value {
    let system = &review.points.system;
    let sides = [&system.flow_low_m3h, &system.flow_high_m3h, head_low, head_high];
    let mut sums = vec![[(0.0, 0u32); 4]; marks.len()];
    let mut span = vec![(usize::MAX, 0); marks.len()];
    for (row, mark) in held.iter().filter(|h| h.1 != u32::MAX) {
        let m = *mark as usize;
        span[m] = (span[m].0.min(*row), span[m].1.max(*row));
        for (sum, side) in sums[m].iter_mut().zip(sides) {
            if let Some(v) = side.get(*row).filter(|v| v.is_finite()) {
                *sum = (sum.0 + v, sum.1 + 1);
            }
        }
    }
    let midnight = bins.first.and_time(chrono::NaiveTime::MIN);
    let at = |row: usize| show.local(review.clock.at_ms(row)).map(|t| (t.naive_local() - midnight).num_minutes());
    let side = |k: usize| sums.iter().map(|s| number(s[k].0 / f64::from(s[k].1))).collect::<Vec<_>>();
    let order = |m: &Mark| words::REGIMES.iter().position(|r| *r == m.regime);
    json!({
        "flow": marks.iter().map(|m| number(m.x)).collect::<Vec<_>>(),
        "flow_low": side(0),
        "flow_high": side(1),
        "head": marks.iter().map(|m| number(m.y)).collect::<Vec<_>>(),
        "head_low": side(2),
        "head_high": side(3),
        "regime": marks.iter().map(order).collect::<Vec<_>>(),
        "hours": marks.iter().map(|m| number(m.hours)).collect::<Vec<_>>(),
        "from": span.iter().map(|s| at(s.0)).collect::<Vec<_>>(),
        "to": span.iter().map(|s| at(s.1 + 1)).collect::<Vec<_>>(),
    })
}

/// The interval of head in each row: that of the first pump that has one.
fn head_intervals(review: &Review) -> [Vec<f64>; 2] {
    let pumps = &review.points.pumps;
    let side = |of: fn(&crate::operating::PumpPoints) -> &Vec<f64>| {
        let first = |i: usize| pumps.iter().filter_map(|p| of(p).get(i).copied()).find(|v| v.is_finite());
        (0..review.clock.len).map(|i| first(i).unwrap_or(f64::NAN)).collect()
    };
    [side(|p| &p.head_low_kpa), side(|p| &p.head_high_kpa)]
}

fn minutes(days: f64) -> i64 {
    (days * 1440.0).round() as i64
}

/// To four figures; nothing where it is not known.
fn number(value: f64) -> Value {
    if value.is_finite() { json!(rounded(value, 4)) } else { Value::Null }
}

fn rounded(value: f64, digits: i32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let scale = 10f64.powi((digits - 1 - value.abs().log10().floor() as i32).clamp(-9, 9));
    (value * scale).round() / scale
}

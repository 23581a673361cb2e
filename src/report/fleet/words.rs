//! Sentences and numbers that page and terminal share.

use super::super::{
    show::{THIN, figures},
    words,
};
use crate::{
    faults::{Estimate, Urgency},
    fleet::{Brief, Extract, Fleet, Group, Line, Stake, times},
};
use chrono::{DateTime, Utc};

/// Plants named in a sentence at most.
const NAMED: usize = 5;

/// "Chilled water, Quay House".
pub fn title(d: &Extract) -> String {
    let system = d.system.as_deref().unwrap_or(&d.name);
    d.site.as_ref().map_or_else(|| system.to_owned(), |site| format!("{system}, {site}"))
}

/// An amount in a currency, or in kWh where there is none.
pub fn amount(currency: Option<&str>, value: f64) -> String {
    match currency {
        Some(currency) => format!("{currency}{THIN}{}", rounded(value)),
        None => format!("{}{THIN}kWh", figures(value, 3)),
    }
}

/// The same with its 95 % interval: "EUR 875 (463 to 1290)".
pub fn range(currency: Option<&str>, e: Estimate) -> String {
    let end = |value: f64| currency.map_or_else(|| figures(value, 3), |_| rounded(value));
    format!("{} ({} to {})", amount(currency, e.estimate), end(e.low), end(e.high))
}

/// Small sums to the cent, others to the whole unit or to three figures.
fn rounded(value: f64) -> String {
    match value.abs() {
        0.0 => "0".to_owned(),
        a if a < 10.0 => format!("{value:.2}"),
        a if a < 1000.0 => format!("{value:.0}"),
        _ => figures(value, 3),
    }
}

/// What a plant has at stake, as its row shows it.
pub fn stake(line: &Line) -> String {
    let d = &line.extract;
    let currency = d.price.as_ref().map(|p| p.currency.as_str());
    let shown = |e| range(currency, times(e, Group::per_kwh(line)));
    match d.stake() {
        Stake::Year(e) => shown(e),
        Stake::Period(e) => format!("{} in {}; no yearly figure", shown(e), days(d)),
        Stake::Unknown => "could not be priced".to_owned(),
    }
}

/// "14 days".
fn days(d: &Extract) -> String {
    let days = (d.hours() / 24.0).round().max(1.0) as usize;
    words::count(days, "day")
}

/// The advice up to its first semicolon: what to do first, in one line.
pub fn lead(text: &str) -> &str {
    text.split_once("; ").map_or(text, |(first, _)| first).trim_end_matches('.')
}

/// "new", or since when.
pub fn status(d: &Extract, brief: &Brief) -> String {
    let since = date(d, brief.since_ms);
    if brief.new { format!("new, since {since}") } else { format!("still there, since {since}") }
}

/// A date at the plant.
pub fn date(d: &Extract, ms: i64) -> String {
    let at = DateTime::<Utc>::from_timestamp_millis(ms);
    at.map_or_else(String::new, |t| t.with_timezone(&d.timezone).format("%-d %b %Y").to_string())
}

/// "1 Oct 2025 to 31 Oct 2025", where all plants were reviewed over the same dates.
pub fn period(fleet: &Fleet) -> Option<String> {
    let of = |l: &Line| format!("{} to {}", date(&l.extract, l.extract.from_ms), date(&l.extract, l.extract.to_ms - 1));
    let mut lines = fleet.lines();
    let first = of(lines.next()?);
    lines.all(|l| of(l) == first).then_some(first)
}

/// The first sentences: how many need something, what it costs, and what is known of the rest.
pub fn state(fleet: &Fleet) -> Vec<String> {
    let needing = fleet.lines().filter(|l| l.extract.needs_doing()).count();
    let all = fleet.plants();
    let first = match needing {
        0 => format!("None of {} needs anything done, as far as could be judged", words::count(all, "plant")),
        n => format!("{n} of {} {} something done", words::count(all, "plant"), if n == 1 { "needs" } else { "need" }),
    };
    let mut out = vec![match stakes(fleet) {
        Some(money) => format!("{first}; {money}."),
        None => format!("{first}."),
    }];
    let watched = fleet.groups.iter().flat_map(|g| &g.lines).count() - needing;
    let rest = [
        (watched, "has something to watch only", "have something to watch only"),
        (fleet.clear.len(), "shows nothing in what could be judged", "show nothing in what could be judged"),
        (fleet.silent.len(), "could not be judged at all", "could not be judged at all"),
        (fleet.lost.len(), "could not be reviewed", "could not be reviewed"),
    ];
    let rest: Vec<String> = rest
        .into_iter()
        .filter(|(n, ..)| *n > 0)
        .map(|(n, one, many)| format!("{n} {}", if n == 1 { one } else { many }))
        .collect();
    if !rest.is_empty() {
        out.push(format!("{}.", words::join(&rest)));
    }
    out
}

/// "at stake are about EUR 41 000 a year (30 000 to 52 000) and USD 300 a year (...)".
fn stakes(fleet: &Fleet) -> Option<String> {
    let each = fleet.groups.iter().filter_map(|group| {
        let (sum, plants) = group.per_year();
        let of =
            if plants == group.lines.len() { String::new() } else { format!(" in {}", words::count(plants, "plant")) };
        (plants > 0).then(|| format!("{} a year{of}", range(group.currency.as_deref(), sum)))
    });
    let each: Vec<String> = each.collect();
    (!each.is_empty()).then(|| format!("at stake are about {}", words::join(&each)))
}

/// The plants with something to act on at once, by name, whatever they cost; empty where there is none.
pub fn urgent(fleet: &Fleet) -> Vec<&Line> {
    fleet.lines().filter(|l| l.extract.urgency() == Some(Urgency::Act)).collect()
}

/// Names in a sentence: all, or the first few and how many more.
pub fn named(names: &[String]) -> String {
    if names.len() <= NAMED + 1 {
        return words::join(names);
    }
    format!("{} and {} more", names[..NAMED].join(", "), names.len() - NAMED)
}

/// A role as people write it: "valve position".
pub fn role(word: &str) -> String {
    word.replace('-', " ")
}

/// What could not be judged, by its code.
pub fn fault(code: &str) -> String {
    match crate::faults::Fault::ALL.into_iter().find(|f| f.code() == code) {
        Some(f) => format!("Whether {}", words::clause(words::fault(f))),
        None => "Which control setting to advise".to_owned(),
    }
}

/// What goes for the whole page: how to read its numbers.
pub const READING: [&str; 4] = [
    "Money a year is the larger of what the faults cost and what the proposed setting saves, at the plant's own price of energy; the two are often the same energy and are not added. Ranges are 95 % intervals. Sums over plants add the bounds as well.",
    "The order goes by that money. Where a period does not carry a year, the plant stands where it would if the year went on as the period did, and the period's own figure is shown. Plants of different currencies, and plants without a price, are neither added nor ranked against each other.",
    "How sure, and since when, are those of the first finding; each plant's report holds all of them with the evidence.",
    "All of it is read from trends. Confirm on site before anything is changed, and read the cautions that stand beside each piece of advice in the plant's report: drives restart by themselves, hot water scalds, cold coils freeze, and some loads may not go short. Local codes and licensed practice come first.",
];

//! What is said of this period against earlier ones: a sentence for the first screen, and a section.
//!
//! Comes in: a [`Summary`]. Goes out: text and tables. It works nothing out: a fault's course is `followed.rs`, energy at
//! like weather `normalised.rs`, how the loop ran `operation.rs`.

use super::{
    document::{Block, Table},
    figures::{Figure, MONTHS},
    followed::Cost,
    normalised::{Against, Rate, Rates, Season, Told, Which},
    operation::{Bin, Operation},
    show::{Show, figures as round},
    summary::{Dated, Status, Summary, Undecided},
    words,
};
use crate::{
    faults::{Estimate, Fault},
    verify::form::Driver,
};
use chrono::{Datelike, NaiveTime};

/// Periods drawn and listed: a year, and the same month of the year before.
pub const MOST_PERIODS: usize = 13;
/// Faults named in the sentence of the first screen; the rest are counted.
const MOST_NAMED: usize = 2;
/// Reviews for which a fault that none of them can judge is named on the first screen; after that in the section alone, since
/// what is said every month is read by nobody (common practice, no source).
const FRESH: usize = 3;
/// A gap before this period that is worth a word [ms]: a day, more than a clock change.
const GAP_MS: i64 = 86_400_000;

/// One of the periods set side by side.
pub struct Period<'s> {
    pub from_ms: i64,
    pub to_ms: i64,
    pub operation: &'s Operation,
}

/// The last periods in order, this one at the end: of earlier ones that overlap, the later, and of those that ended
/// together the one most like this period. A result without a summary of how the loop ran has no place here.
pub fn periods<'s>(summary: &'s Summary, from_ms: i64, to_ms: i64) -> Vec<Period<'s>> {
    let mut out = vec![Period { from_ms, to_ms, operation: &summary.operation }];
    let mut earlier: Vec<_> = summary.history.all.iter().collect();
    let unlike = |from: i64, to: i64| (to - from - (to_ms - from_ms)).abs();
    earlier.sort_by_key(|e| (std::cmp::Reverse(e.to_ms), unlike(e.from_ms, e.to_ms)));
    for e in earlier {
        let free = out.last().is_none_or(|p| e.to_ms <= p.from_ms);
        if let (true, Some(operation)) = (free && out.len() < MOST_PERIODS, &e.operation) {
            out.push(Period { from_ms: e.from_ms, to_ms: e.to_ms, operation });
        }
    }
    out.reverse();
    out
}

/// "February 2026" for a whole calendar month, else its first and last day.
pub fn named(from_ms: i64, to_ms: i64, show: &Show) -> String {
    let whole = show.local(from_ms).zip(show.local(to_ms)).filter(|(from, to)| {
        let start = |t: &chrono::DateTime<chrono_tz::Tz>| t.day() == 1 && t.time() == NaiveTime::MIN;
        start(from) && start(to) && (to.year() * 12 + to.month() as i32) - (from.year() * 12 + from.month() as i32) == 1
    });
    match whole {
        Some((from, _)) => from.format("%B %Y").to_string(),
        None => format!("{} to {}", show.date(from_ms), show.date(to_ms - 1)),
    }
}

/// The fault in plain words, and whose it is unless the whole loop's.
fn fault(fault: Fault, subject: &str) -> String {
    let what = words::clause(words::fault(fault));
    if subject == "loop" { what } else { format!("{what}, {subject}") }
}

/// What changed since the last review, for the first screen.
pub fn since_last(summary: &Summary, show: &Show) -> Option<String> {
    let last = summary.earlier()?;
    let with = |status| summary.findings.iter().filter(move |d| d.status == status).collect::<Vec<&Dated>>();
    let new = with(Status::New).into_iter().map(|d| {
        let again = if d.returned.is_some() { ", there again" } else { "" };
        format!("{}{again}", fault(d.finding.fault, &d.finding.subject))
    });
    let still = with(Status::Persisting).into_iter().map(|d| {
        let cost = d.cost.kwh.map_or_else(String::new, |w| format!(", {} so far", show.energy_and_money(w.estimate)));
        format!("{}, since {}{cost}", fault(d.finding.fault, &d.finding.subject), show.date(d.since_ms))
    });
    let gone = summary.resolved.iter().map(|r| fault(r.fault, &r.subject));
    let open = summary
        .undecided
        .iter()
        .filter(|u| u.silent <= FRESH)
        .map(|u| format!("{}, last seen {}", fault(u.fault, &u.subject), show.date(u.last_seen_ms)));
    let mut parts = vec![counted("new", &new.collect::<Vec<_>>()), counted("still there", &still.collect::<Vec<_>>())];
    parts.push(counted("mended", &gone.collect::<Vec<_>>()));
    let open: Vec<String> = open.collect();
    if !open.is_empty() {
        parts.push(counted("that this record cannot judge", &open));
    }
    let text = format!(
        "Since the review of {} to {}: {}.",
        show.date(last.from_ms),
        show.date(last.to_ms - 1),
        parts.join("; ")
    );
    let energy = summary.normalised.against.iter().filter(|a| a.change.is_some() || a.which == Which::Last);
    Some(energy.fold(text, |text, a| format!("{text} {}", energy_sentence(a, show))))
}

/// "2 new (one thing; another)".
fn counted(what: &str, items: &[String]) -> String {
    if items.is_empty() {
        return format!("0 {what}");
    }
    let rest = items.len().saturating_sub(MOST_NAMED);
    let more = if rest > 0 { format!("; and {rest} more") } else { String::new() };
    format!("{} {what} ({}{more})", items.len(), items[..items.len() - rest].join("; "))
}

/// Energy at like weather or load against one earlier period.
fn energy_sentence(a: &Against, show: &Show) -> String {
    let than = named(a.from_ms, a.to_ms, show);
    let Some(change) = a.change else {
        let why = a.why.as_deref().unwrap_or("too little is known");
        return format!("Energy cannot be held against {than} at like weather: {why}.");
    };
    let at = match (a.by.contains(&Driver::Outdoor), a.by.iter().any(|d| *d != Driver::Outdoor)) {
        (true, true) => "At like weather and load",
        (false, true) => "At like load",
        _ => "At like weather",
    };
    let then = if than.contains(" to ") { format!("from {than}") } else { format!("in {than}") };
    let days = format!("{} compared", words::count(a.days, "day"));
    match a.told {
        Told::Less => {
            let (low, high) = (show.percent(-change.high), show.percent(-change.low));
            format!(
                "{at} the pumps used {} less than {then} (95 %: {low} to {high}; {days}).",
                show.percent(-change.estimate)
            )
        }
        Told::More => {
            let (low, high) = (show.percent(change.low), show.percent(change.high));
            format!(
                "{at} the pumps used {} more than {then} (95 %: {low} to {high}; {days}).",
                show.percent(change.estimate)
            )
        }
        Told::NoClearDifference | Told::CannotTell => format!(
            "{at} the pumps' energy does not clearly differ from {than} (95 %: {} to {}; {days}).",
            signed(change.low, show),
            signed(change.high, show)
        ),
    }
}

fn signed(share: f64, show: &Show) -> String {
    if share > 0.0 { format!("+{}", show.percent(share)) } else { show.percent(share) }
}

/// The section; empty where no earlier review is known.
pub fn blocks(summary: &Summary, from_ms: i64, to_ms: i64, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks = Vec::new();
    let list = |label, items| Block::List { label: Some(label), ordered: false, items };
    if let Some(last) = summary.earlier() {
        let gap = from_ms - last.to_ms;
        let apart = if gap > GAP_MS {
            format!(
                " {} lie between it and this period; what happened then is not known.",
                words::count((gap as f64 / 86_400_000.0).round() as usize, "day")
            )
        } else {
            String::new()
        };
        let text = format!(
            "{} of this plant ended before this period; the last is of {}.{apart} Each finding is followed through all of them.",
            words::capital(&words::count(summary.history.all.len(), "earlier review")),
            named(last.from_ms, last.to_ms, show)
        );
        blocks.push(Block::Paragraph(text));
        blocks.extend(course(summary, show));
        if !summary.undecided.is_empty() {
            let items = summary.undecided.iter().map(|u| undecided(u, show)).collect();
            blocks.push(list("Found before, and not judged by this record: neither there nor gone", items));
        }
        blocks.extend(energy(summary, from_ms, to_ms, show));
        if let Some(at) = figures.iter().position(|f| f.id == MONTHS) {
            let summary_of = "The figure's numbers".to_owned();
            blocks.push(Block::Figure(at));
            blocks.push(Block::Folded { summary: summary_of, blocks: vec![drawn(summary, from_ms, to_ms, show)] });
        }
    }
    if !summary.history.skipped.is_empty() {
        blocks.push(list("Earlier results that could not be used", summary.history.skipped.clone()));
    }
    blocks
}

/// The figure's numbers, a line a dot.
fn drawn(summary: &Summary, from_ms: i64, to_ms: i64, show: &Show) -> Block {
    let all = periods(summary, from_ms, to_ms);
    let line = |p: &Period, b: &Bin| {
        let head = |kpa: f64| round(show.head_value(kpa), 3);
        vec![
            named(p.from_ms, p.to_ms, show),
            round(show.flow_value(b.flow_m3_h), 3),
            head(b.head_kpa),
            head(b.head_low_kpa),
            head(b.head_high_kpa),
            round(b.hours, 3),
        ]
    };
    let rows = all.iter().flat_map(|p| p.operation.head_over_flow.iter().map(move |b| line(p, b))).collect();
    let caption = format!(
        "Heads by flow, steady hours: flow at the middle of its range [{}], middle head and the ends of its middle eight tenths [{}].",
        show.flow_unit(),
        show.head_unit()
    );
    Block::Table(Table::new(caption, &["Period", "#Flow", "#Middle head", "#From", "#To", "#Hours"], rows))
}

/// Findings and what was mended, with their course.
fn course(summary: &Summary, show: &Show) -> Option<Block> {
    let found = summary.findings.iter().map(|d| {
        let how = match (d.status, d.returned) {
            (Status::New, Some(r)) => {
                format!(
                    "again: there since {}, gone in {}",
                    show.date(r.first_since_ms),
                    named(r.gone_from_ms, r.gone_to_ms, show)
                )
            }
            (Status::New, None) => "new".to_owned(),
            (Status::Persisting, _) => "still there".to_owned(),
        };
        let seen = seen_in(d.seen_in, d.not_told_in);
        vec![
            words::fault(d.finding.fault).to_owned(),
            d.finding.subject.clone(),
            how,
            show.date(d.since_ms),
            seen,
            cost(d.cost, d.seen_in, show),
        ]
    });
    let gone = summary.resolved.iter().map(|r| {
        let how = format!("mended; last seen {}", show.date(r.last_seen_ms));
        vec![
            words::fault(r.fault).to_owned(),
            r.subject.clone(),
            how,
            show.date(r.since_ms),
            seen_in(r.seen_in, 0),
            cost(r.cost, r.seen_in, show),
        ]
    });
    let rows: Vec<Vec<String>> = found.chain(gone).collect();
    let caption = "Each fault through the reviews. What it cost so far is the sum over the periods in which it was found, with a 95 % interval, at today's price; a time that two reviews cover is counted once.";
    (!rows.is_empty()).then(|| {
        Block::Table(Table::new(caption, &["Finding", "Of", "Now", "Since", "Found in", "#Cost so far"], rows))
    })
}

fn seen_in(seen: usize, not_told: usize) -> String {
    let silent = if not_told > 0 { format!("; {not_told} could not tell") } else { String::new() };
    format!("{}{silent}", words::count(seen, "review"))
}

fn cost(cost: Cost, seen_in: usize, show: &Show) -> String {
    let Some(kwh) = cost.kwh else { return "not priced".to_owned() };
    let money = show.money(kwh.estimate).map_or_else(String::new, |m| format!("{m}, "));
    let part = if cost.priced_in < seen_in { format!(", of {} of {seen_in}", cost.priced_in) } else { String::new() };
    format!("{money}{}{part}", show.energy_range(kwh))
}

fn undecided(u: &Undecided, show: &Show) -> String {
    let again = u.review_from_ms.map_or_else(String::new, |from| {
        format!(" A review from {} on would see it begin (--from {}).", show.date(from), show.folder_date(from))
    });
    let cost = u.cost.kwh.map_or_else(String::new, |w| format!(" It had cost {} by then.", priced(w, show)));
    format!(
        "{} ({}), since {}, last seen {}, not judged {}: {}.{cost}{again}",
        words::fault(u.fault),
        u.subject,
        show.date(u.since_ms),
        show.date(u.last_seen_ms),
        if u.silent == 1 { "this time".to_owned() } else { format!("in the last {} reviews", u.silent) },
        words::clause(&show.sentence(&u.why))
    )
}

fn priced(e: Estimate, show: &Show) -> String {
    let money = show.money(e.estimate).map_or_else(String::new, |m| format!("{m}, "));
    format!("{money}{}", show.energy_range(e))
}

/// Energy at like weather or load, in sentences and in a table of the periods.
fn energy(summary: &Summary, from_ms: i64, to_ms: i64, show: &Show) -> Vec<Block> {
    let n = &summary.normalised;
    let mut text: Vec<String> = n.against.iter().map(|a| energy_sentence(a, show)).collect();
    text.extend(n.why.as_ref().map(|why| format!("No energy a degree-day or a load unit is given: {why}.")));
    let mut blocks = vec![Block::Paragraph(text.join(" "))];
    let all = periods(summary, from_ms, to_ms);
    let rates: Vec<Rates> = all.iter().map(|p| Rates::new(p.operation, n.base, n.season)).collect();
    let degrees = rates.iter().any(|r| r.degree_days.is_some());
    let load = rates.iter().any(|r| r.load.is_some());
    let degree = show.difference_value(1.0);
    let degree_day = format!("{}·d", show.difference_unit());
    let opt = |v: Option<f64>, f: &dyn Fn(f64) -> String| v.map_or_else(|| "–".to_owned(), f);
    let rows: Vec<Vec<String>> = all
        .iter()
        .zip(&rates)
        .map(|(p, r)| {
            let known = p.operation.days.iter().filter(|d| d.energy_kwh.is_some()).count();
            let mut row = vec![
                named(p.from_ms, p.to_ms, show),
                format!("{known} of {}", p.operation.days.len()),
                opt(p.operation.energy_a_day(), &|v| round(v, 3)),
                round(p.operation.running_hours, 3),
                opt(p.operation.mean_flow_m3_h, &|v| round(show.flow_value(v), 3)),
                opt(p.operation.mean_head_kpa, &|v| round(show.head_value(v), 3)),
                opt(p.operation.mean_delta_t_k, &|v| format!("{:.1}", show.difference_value(v))),
            ];
            // Of fewer days than the energy, where weather or load has gaps.
            let each = |rate: Option<Rate>, amount: f64| {
                let days = |r: Rate| if r.days < known { format!(" ({} d)", r.days) } else { String::new() };
                [
                    rate.map_or_else(|| "–".to_owned(), |r| format!("{}{}", round(r.amount * amount, 3), days(r))),
                    opt(rate.and_then(|r| r.kwh_per).map(|v| v / amount), &|v| round(v, 3)),
                ]
            };
            if degrees {
                row.extend(each(r.degree_days, degree));
            }
            if load {
                row.extend(each(r.load, 1.0));
            }
            row
        })
        .collect();
    let mut titles = vec!["Period", "#Days known", "#kWh a day", "#Running h", "#Flow", "#Head", "#ΔT"];
    let mut caption = format!(
        "The periods side by side: pump energy of the days on which it is known; means over running hours of flow [{}], head [{}] and temperature difference [{}].",
        show.flow_unit(),
        show.head_unit(),
        show.difference_unit()
    );
    if degrees {
        titles.extend(["#Degree-days", "#kWh a degree-day"]);
        let (what, side) = if n.season == Season::Heating { ("Heating", "below") } else { ("Cooling", "above") };
        let whose = if n.base.of_record {
            "the outdoor temperature at which this plant's own days begin to use more"
        } else {
            "a conventional base, since the record does not show the plant's own"
        };
        caption.push_str(&format!(
            " {what} degree-days [{degree_day}] by daily means {side} {}: {whose}. Pumps use energy at no load, too, so a degree-day costs more in mild months; the comparison at like weather above allows for that.",
            show.temperature(n.base.degc)
        ));
    }
    if load {
        titles.extend(["#Load MWh", "#kWh a MWh"]);
    }
    blocks.push(Block::Table(Table::new(caption, &titles, rows)));
    blocks
}

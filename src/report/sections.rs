//! The report's sections, in the order in which a reader needs them.

use super::{
    document::{Block, Section, Table},
    figures::{AVAILABILITY, Figure, MONTHS, NEED},
    headline, json, models, months,
    show::{Show, figures as round},
    summary::{Dated, NotJudged, Status, Summary},
    words,
};
use crate::{
    faults::{self, Estimate, Evidence, Fault, next_point::NextPoint},
    ingest::{FileLedger, PointLedger},
    pipeline::Review,
    plant::{Control, ControlMode, Reset},
    tuning::{Recommendation, Tuning},
};

/// All sections.
pub fn all(review: &Review, summary: &Summary, show: &Show, figures: &[Figure]) -> Vec<Section> {
    let sections = [
        Section { id: "where-the-pumps-ran", title: "Where the pumps ran", blocks: ran(review, show, figures) },
        Section { id: "learned-curves", title: "Curves learned from a meter", blocks: learned_curves(review, show) },
        Section { id: "findings", title: "What was found", blocks: findings(summary, show) },
        Section {
            id: "months",
            title: "Against earlier reviews",
            blocks: months::blocks(summary, review.from_ms, review.to_ms, show, figures),
        },
        Section { id: "settings", title: "What to set", blocks: settings(review, show, figures) },
        Section { id: "cautions", title: "Before anything is changed", blocks: cautions(show) },
        Section { id: "more-figures", title: "The record in pictures", blocks: pictures(figures) },
        Section { id: "not-judged", title: "What could not be judged", blocks: not_judged(summary, show) },
        Section { id: "clear", title: "What was looked for and not seen", blocks: clear(summary, show) },
        Section {
            id: "pump-models",
            title: "What the pump models were checked against",
            blocks: pump_models(review, show, figures),
        },
        Section { id: "data", title: "What the data were", blocks: data(review, show, figures) },
        Section {
            id: "assumptions",
            title: "What was assumed, and what was doubtful",
            blocks: assumptions(review, show),
        },
        Section { id: "method", title: "How it was worked out", blocks: method() },
    ];
    sections.into_iter().filter(|s| !s.blocks.is_empty()).collect()
}

/// Figures that stand with the first table; the others follow the advice.
const FIRST_FIGURES: [&str; 1] = ["head-over-flow"];

/// A group of fewer hours is not worth a line [h].
const GROUP_MIN_H: f64 = 1.0;

fn ran(review: &Review, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks: Vec<Block> = positions(figures, |id| FIRST_FIGURES.contains(&id));
    let spread = |(centre, sd): (f64, f64), value: &dyn Fn(f64) -> f64| {
        if centre.is_finite() {
            // The spread says no more places than the centre does.
            let (centre, sd) = (value(centre), value(sd));
            let places = if centre.abs() >= 10.0 || centre == 0.0 { 0 } else { 1 };
            let unit = 10f64.powi(places);
            let rounded = (sd * unit).round() / unit;
            let sd = if rounded == 0.0 { round(sd, 1) } else { round(rounded, 2) };
            format!("{}\u{a0}±\u{a0}{sd}", round(centre, 2))
        } else {
            "–".to_owned()
        }
    };
    let rows: Vec<Vec<String>> = review
        .regimes
        .groups
        .iter()
        .filter(|g| g.hours >= GROUP_MIN_H)
        .map(|g| {
            vec![
                g.pump.clone(),
                words::regime(g.regime).to_owned(),
                round(g.hours, 3),
                show.percent(g.share_of_hours),
                show.percent(g.share_of_energy),
                spread(g.flow_m3h, &|v| show.flow_value(v)),
                spread(g.head_excess_kpa, &|v| show.head_value(v)),
                spread(g.speed, &|v| v * 100.0),
                spread(g.delta_t_k, &|v| show.difference_value(v)),
            ]
        })
        .collect();
    if !rows.is_empty() {
        let caption = format!(
            "Groups of hours that belong together, from an hour on: centre and spread of flow [{}], head above the control curve [{}], speed [%] and temperature difference [{}].",
            show.flow_unit(),
            show.head_unit(),
            show.difference_unit()
        );
        let titles =
            ["Pump", "Where", "#Hours", "#Of hours", "#Of energy", "#Flow", "#Head above curve", "#Speed", "#ΔT"];
        blocks.push(Block::Table(Table::new(caption, &titles, rows)));
    }
    blocks
}

/// What pumps without a table showed while their flow was metered.
fn learned_curves(review: &Review, show: &Show) -> Vec<Block> {
    let each = review.learned_tables.iter().flat_map(|t| {
        let error = |of: &str, e: f64| e.is_finite().then(|| format!("{of} to {}", show.percent(e)));
        let errors: Vec<String> =
            [error("head", t.head_error), error("power", t.power_error)].into_iter().flatten().collect();
        let text = format!(
            "{} has no pump table in the plant file. It was learned from {} steady metered rows on {} days, and foretells {} on days that were held out; flow worked out with it there lies within {} of the largest flow (one standard deviation). The meter's own constant error comes on top, and is counted in every interval. Outside the flows that were seen nothing is said.",
            t.pump,
            t.rows,
            t.days,
            errors.join(" and "),
            show.percent(t.flow_error)
        );
        let paste = format!("Pasted into the plant file below {}'s [[pump]], it serves periods without a meter as well:", t.pump);
        [Block::Paragraph(text), Block::Paragraph(paste), Block::Verbatim(t.toml.clone())]
    });
    each.collect()
}

fn pictures(figures: &[Figure]) -> Vec<Block> {
    positions(figures, |id| !FIRST_FIGURES.contains(&id) && ![HOUR_FIGURE, NEED, AVAILABILITY, MONTHS].contains(&id))
}

/// The figure that stands with what the models were checked against.
const HOUR_FIGURE: &str = "one-hour";

fn pump_models(review: &Review, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks = positions(figures, |id| id == HOUR_FIGURE);
    blocks.extend(models::blocks(review, show));
    blocks
}

fn positions(figures: &[Figure], wanted: impl Fn(&str) -> bool) -> Vec<Block> {
    figures.iter().enumerate().filter(|(_, f)| wanted(f.id)).map(|(i, _)| Block::Figure(i)).collect()
}

fn findings(summary: &Summary, show: &Show) -> Vec<Block> {
    let mut blocks = Vec::new();
    if summary.findings.is_empty() {
        blocks.push(Block::Paragraph("No fault was found in what could be judged. What could not be judged is listed below, with what is missing.".to_owned()));
    } else {
        blocks.push(Block::Table(overview(summary, show)));
    }
    blocks.extend(summary.findings.iter().flat_map(|d| finding(d, show)));
    if !summary.resolved.is_empty() {
        let items = summary
            .resolved
            .iter()
            .map(|r| format!("{} ({}), last seen {}", words::fault(r.fault), r.subject, show.time(r.last_seen_ms)))
            .collect();
        blocks.push(Block::List { label: Some("Mended since the last review"), ordered: false, items });
    }
    blocks
}

fn overview(summary: &Summary, show: &Show) -> Table {
    let money = |e: Option<Estimate>| e.map_or_else(|| "–".to_owned(), |e| show.energy_and_money(e.estimate));
    let rows = summary
        .findings
        .iter()
        .map(|d| {
            let f = d.finding;
            vec![
                words::fault(f.fault).to_owned(),
                f.subject.clone(),
                words::urgency(f.urgency).to_owned(),
                money(f.waste_kwh),
                money(f.waste_kwh_per_year),
                format!("{:.0}\u{a0}in\u{a0}100", f.confidence * 100.0),
                status(d, show),
            ]
        })
        .collect();
    let caption = "Findings, most urgent first. A finding that another one causes is not added to the sum again.";
    Table::new(caption, &["Finding", "Of", "Urgency", "#This period", "#A year", "#Sure", "Status"], rows)
}

fn status(d: &Dated, show: &Show) -> String {
    match d.status {
        Status::New => "new".to_owned(),
        Status::Persisting => format!("persisting since {}", show.date(d.since_ms)),
    }
}

fn finding(d: &Dated, show: &Show) -> Vec<Block> {
    let f = d.finding;
    let tags = vec![f.subject.clone(), words::urgency(f.urgency).to_owned(), f.fault.code().to_owned()];
    let mut blocks = vec![
        Block::Heading { text: words::fault(f.fault).to_owned(), tags },
        Block::Paragraph(show.sentence(&f.because)),
        Block::Paragraph(seen(d, show)),
    ];
    if let Some(cause) = f.caused_by {
        let text = format!("{} ({}); its waste is counted there.", words::fault(cause), cause.code());
        blocks.push(Block::Labelled { label: "Caused by", text });
    }
    if !f.evidence.is_empty() {
        blocks.push(Block::Table(evidence(&f.evidence, show)));
    }
    let list = |label, ordered, items: &[String]| Block::List {
        label: Some(label),
        ordered,
        items: items.iter().map(|t| show.sentence(t)).collect(),
    };
    if !f.could_also_be.is_empty() {
        blocks.push(list("Could also be", false, &f.could_also_be));
    }
    if !f.check_on_site.is_empty() {
        blocks.push(list("Check on site", true, &f.check_on_site));
    }
    if !f.change.is_empty() {
        blocks.push(Block::Labelled { label: "Change", text: show.sentence(&f.change) });
    }
    blocks.push(rule(f.fault, show));
    if !f.caution.is_empty() {
        blocks.push(Block::Caution(show.sentence(&f.caution)));
    }
    blocks
}

/// When, how long, at what price.
fn seen(d: &Dated, show: &Show) -> String {
    let f = d.finding;
    let mut text = format!(
        "Seen over {} between {} and {} (local time); {}, at {} in 100.",
        show.hours(f.hours),
        show.time(f.first_seen_ms),
        show.time(f.last_seen_ms),
        words::sureness(f.confidence),
        (f.confidence * 100.0).round()
    );
    match f.waste_kwh {
        Some(w) => text.push_str(&format!(" It cost {} in this period", priced(w, show))),
        None => text.push_str(" It could not be priced from this record"),
    }
    match f.waste_kwh_per_year {
        Some(w) => text.push_str(&format!(", or {} a year.", priced(w, show))),
        None if f.waste_kwh.is_some() => text.push_str("; this period cannot speak for a year."),
        None => text.push('.'),
    }
    text
}

fn priced(e: Estimate, show: &Show) -> String {
    let money = show.money(e.estimate).map_or_else(String::new, |m| format!("{m}, "));
    format!("{money}{}", show.energy_range(e))
}

fn evidence(rows: &[Evidence], show: &Show) -> Table {
    let rows = rows
        .iter()
        .map(|e| {
            vec![
                words::capital(&show.sentence(&e.name)),
                show.value(e.value, e.unit),
                show.expected(&e.expected, e.unit),
                e.source.clone(),
            ]
        })
        .collect();
    Table::new("The numbers this rests on.", &["What", "#Found", "Expected", "Where it comes from"], rows)
}

fn settings(review: &Review, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let need = positions(figures, |id| id == NEED);
    match &review.tuning {
        Tuning::Proposed(r) => proposal(r, show, need),
        Tuning::Refused { missing, why } => {
            let mut blocks =
                vec![Block::Paragraph(format!("No setting is advised. {}", words::capital(&show.sentence(why))))];
            if !missing.is_empty() {
                blocks.push(Block::List { label: Some("Missing"), ordered: false, items: missing.clone() });
            }
            blocks.extend(need);
            blocks
        }
    }
}

fn proposal(r: &Recommendation, show: &Show, need: Vec<Block>) -> Vec<Block> {
    let mut blocks = Vec::new();
    if !r.conditional_on.is_empty() {
        let first: Vec<String> =
            r.conditional_on.iter().map(|f| format!("{} ({})", words::clause(words::fault(*f)), f.code())).collect();
        blocks.push(Block::Labelled {
            label: "Only once this is mended",
            text: format!("{}.", words::capital(&words::join(&first))),
        });
    }
    let rows = headline::settings(&r.current, &r.proposed, show)
        .into_iter()
        .map(|s| {
            let proposed =
                if s.proposed.is_empty() || s.proposed == s.present { "as it is".to_owned() } else { s.proposed };
            let present = if s.present.is_empty() { "not declared".to_owned() } else { s.present };
            vec![words::capital(s.label), s.key.to_owned(), present, proposed]
        })
        .collect();
    blocks.push(Block::Table(Table::new(
        "What to type in.",
        &["Setting", "In the plant file", "#Now", "#Proposed"],
        rows,
    )));
    blocks.push(Block::Paragraph(format!("{}.", words::capital(&show.sentence(&r.choice)))));
    blocks.push(Block::Paragraph(saving(r, show)));
    blocks.extend(need);
    blocks.push(Block::Caution(
        "Confirm on site first, change one thing at a time, write down the old value, watch the most remote load, and go back on complaint. \
         Local codes and the judgement of licensed practice come before this advice."
            .to_owned(),
    ));
    let items = |list: &[String]| list.iter().map(|t| show.sentence(t)).collect::<Vec<_>>();
    if !r.steps.is_empty() {
        blocks.push(Block::List { label: Some("Steps"), ordered: true, items: items(&r.steps) });
    }
    if !r.limits.is_empty() {
        blocks.push(Block::List { label: Some("What bounds it"), ordered: false, items: items(&r.limits) });
    }
    if !r.alternatives.is_empty() {
        blocks.push(Block::Table(alternatives(r, show)));
    }
    blocks
}

fn saving(r: &Recommendation, show: &Show) -> String {
    let share = format!(
        "{} of what the hours looked at would use on today's setting ({} to {})",
        show.percent(r.saving_fraction.estimate),
        show.percent(r.saving_fraction.low),
        show.percent(r.saving_fraction.high)
    );
    let period = format!("On this record it would have saved {}, {share}.", priced(r.saving_kwh, show));
    match r.saving_kwh_per_year {
        Some(year) => format!("{period} Over a year: {}.", priced(year, show)),
        None => format!("{period} This period cannot speak for a year."),
    }
}

fn alternatives(r: &Recommendation, show: &Show) -> Table {
    let rows = r
        .alternatives
        .iter()
        .map(|a| {
            let set: Vec<String> = headline::settings(&r.current, &a.control, show)
                .into_iter()
                .filter(|s| s.key != "mode" && !s.proposed.is_empty() && s.proposed != s.present)
                .map(|s| format!("{} {}", s.label, s.proposed))
                .collect();
            vec![
                kind_of_control(&a.control),
                set.join("; "),
                format!(
                    "{} ({} to {})",
                    show.percent(a.saving_fraction.estimate),
                    show.percent(a.saving_fraction.low),
                    show.percent(a.saving_fraction.high)
                ),
            ]
        })
        .collect();
    Table::new("Other settings that would have been enough.", &["Mode", "Set", "#Saves"], rows)
}

fn kind_of_control(c: &Control) -> String {
    let mode = c.mode.map_or("as it is", ControlMode::word);
    let resets = c.reset.is_some_and(|r| r != Reset::None);
    if resets { format!("{mode}, moved by the widest valve") } else { mode.to_owned() }
}

/// What every report says before anything is touched (common practice).
fn cautions(show: &Show) -> Vec<Block> {
    let items = [
        "This is advice from trends alone. Confirm on site before a setting is changed; change one thing, log it, keep the old value, watch the most remote load, and revert on complaint.",
        "Electricity and rotating parts: arc flash, shock, and a drive whose bus stays charged after it is switched off. Work inside is for qualified people under the local electrical safety rules. Stopping a pump through the automation or the drive's keypad does not isolate it; pumps restart by themselves and from afar. Lock out and tag out.",
        "Pressure and heat: hot water scalds above 60 degC and flashes to steam above 100 degC; trapped water expands. Never leave a pump running against a closed discharge.",
        "Chillers and boilers keep their maker's minimum flow and rate of change, whatever this report says; flow switches trip, and boilers have limits on return temperature. Freeze protection of coils and evaporators comes before any saving; mind the strength of glycol.",
        "Domestic hot water and process loops are not for slowing down without a water-safety plan and the process owner. The same holds for fire and smoke duty, hospitals, laboratories, data halls and standby pumps; keep lead and lag exercise.",
        "Pump and motor: least speed for cooling, seal flush and bearings, critical speeds and vibration, preferred operating region, suction head and check valves. The makers' limits rule.",
        "Contracts: guarantees, a valid balancing report and other trades' interlocks may depend on today's settings.",
        "Flow that was not metered is an estimate with a stated interval. Savings depend on tariff, hours and weather. That two things go together does not prove a fault.",
    ];
    vec![
        Block::Caution("Local codes, the makers' instructions and the judgement of licensed practice come before everything in this report.".to_owned()),
        Block::List { label: None, ordered: false, items: items.iter().map(|t| show.sentence(t)).collect() },
    ]
}

fn not_judged(summary: &Summary, show: &Show) -> Vec<Block> {
    if summary.not_judged.is_empty() {
        return Vec::new();
    }
    let mut blocks =
        vec![Block::Paragraph("Silence is not health: these were not cleared, they could not be decided.".to_owned())];
    if let Some(next) = summary.next_points.first() {
        let text = format!("{}. {}", point_named(next), settles(next, show));
        blocks.push(Block::Labelled { label: "The next point to trend", text });
    }
    let rows = alike(&summary.not_judged)
        .into_iter()
        .map(|(faults, n)| vec![faults.join(", "), n.subject.to_owned(), n.missing.join(", "), show.sentence(n.why)])
        .collect();
    blocks.push(Block::Table(Table::new("Not judged, and why.", &["What", "Of", "Missing", "Why"], rows)));
    if summary.next_points.len() > 1 {
        let rows = summary
            .next_points
            .iter()
            .map(|p| vec![point_named(p), p.would_settle.join(", "), show.energy(p.worth_kwh_per_year)]);
        blocks.push(Block::Table(Table::new(
            "Points worth trending, most useful first. What they are worth is what such faults usually waste in a loop of this energy, a year.",
            &["Point", "Would settle", "Worth"],
            rows.collect(),
        )));
    }
    blocks
}

/// What the rule looks at, for those who doubt it; `offcurve explain` has the rest.
fn rule(fault: Fault, show: &Show) -> Block {
    const SHOWN: [&str; 4] = ["What it finds", "Limits", "Looks alike", "Source"];
    let said =
        SHOWN.into_iter().map(|label| Block::Labelled { label, text: show.sentence(&faults::said(fault, label)) });
    Block::Folded {
        summary: format!("How {} is judged (offcurve explain {})", fault.code(), fault.code()),
        blocks: said.collect(),
    }
}

/// A point to trend, as its role, whose it is, and what must stand beside it.
fn point_named(p: &NextPoint) -> String {
    let of = p.of.as_ref().map_or_else(String::new, |of| format!(" of {of}"));
    let with = p.with.map_or_else(String::new, |w| format!(", together with {}", w.word()));
    format!("{}{of}{with}", p.role.word())
}

fn settles(p: &NextPoint, show: &Show) -> String {
    let codes: Vec<String> = p.would_settle.iter().map(|f| (*f).to_owned()).collect();
    let what = words::join(&codes);
    let worth = p.worth_kwh_per_year;
    let money = if worth > 0.0 {
        format!(" In a loop of this energy such faults usually waste about {} a year.", show.energy(worth))
    } else {
        String::new()
    };
    format!("It would help to settle {what}.{money}")
}

/// Matters of one subject that could not be judged for the same reason, told once.
fn alike<'s>(all: &'s [NotJudged<'s>]) -> Vec<(Vec<&'static str>, &'s NotJudged<'s>)> {
    let mut groups: Vec<(Vec<&'static str>, &NotJudged)> = Vec::new();
    for n in all {
        match groups.iter_mut().find(|(_, g)| (g.subject, g.missing, g.why) == (n.subject, n.missing, n.why)) {
            Some((faults, _)) => faults.push(n.fault),
            None => groups.push((vec![n.fault], n)),
        }
    }
    groups
}

fn clear(summary: &Summary, show: &Show) -> Vec<Block> {
    if summary.clear.is_empty() {
        return Vec::new();
    }
    let rows = summary
        .clear
        .iter()
        .map(|c| vec![c.fault.code().to_owned(), c.subject.to_owned(), show.sentence(c.would_have_seen)])
        .collect();
    vec![Block::Table(Table::new(
        "Looked for and not seen, with the least that this record would have shown.",
        &["What", "Of", "Would have been seen"],
        rows,
    ))]
}

fn data(review: &Review, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks = Vec::new();
    let refused: u64 = review.ledger.files.iter().flat_map(|f| &f.refused).map(|r| r.count).sum();
    let cells: u64 = review.ledger.files.iter().map(|f| f.cells).sum();
    blocks.push(Block::Paragraph(format!(
        "{} with {} cells, of which {} could not be used. A row stands for {}.",
        words::count(review.ledger.files.len(), "file"),
        round(cells as f64, 15),
        round(refused as f64, 15),
        if review.clock.step_s % 60 == 0 {
            format!("{} min", review.clock.step_s / 60)
        } else {
            format!("{} s", review.clock.step_s)
        }
    )));
    let points: Vec<Vec<String>> = review.ledger.points.iter().map(|p| point(p, show)).collect();
    if !points.is_empty() {
        let titles = ["Point", "Role", "Of", "#Samples", "#Bad", "#Missing", "#Every", "#Flat", "First bad"];
        let table = Table::new("Points, as trended.", &titles, points);
        blocks.push(Block::Folded {
            summary: words::count(review.ledger.points.len(), "point"),
            blocks: vec![Block::Table(table)],
        });
    }
    let strip = positions(figures, |id| id == AVAILABILITY);
    if !strip.is_empty() {
        blocks.push(Block::Folded { summary: "What there is of each point, day by day".to_owned(), blocks: strip });
    }
    let files: Vec<Vec<String>> = review.ledger.files.iter().map(file).collect();
    if !files.is_empty() {
        let titles = ["File", "Shape", "Times as", "#Rows", "#Cells", "#Used", "#Missing", "#Refused"];
        blocks.push(Block::Table(Table::new("Files.", &titles, files)));
    }
    let refusals: Vec<Vec<String>> = review
        .ledger
        .files
        .iter()
        .flat_map(|f| {
            f.refused.iter().map(|r| {
                vec![
                    f.path.clone(),
                    r.reason.clone(),
                    round(r.count as f64, 15),
                    r.first_line.to_string(),
                    r.example.clone(),
                ]
            })
        })
        .collect();
    if !refusals.is_empty() {
        blocks.push(Block::Table(Table::new(
            "Cells that were not used.",
            &["File", "Why", "#Count", "#First line", "Reads"],
            refusals,
        )));
    }
    if !review.doubts.is_empty() {
        let rows =
            review.doubts.iter().map(|d| vec![d.point.clone(), d.rows.to_string(), show.sentence(&d.why)]).collect();
        blocks.push(Block::Table(Table::new(
            "Points, or parts of them, that were not believed.",
            &["Point", "#Rows", "Why"],
            rows,
        )));
    }
    blocks
}

fn point(p: &PointLedger, show: &Show) -> Vec<String> {
    let bad = p.first_bad.as_ref().map_or_else(String::new, |(line, word)| format!("\"{word}\" in line {line}"));
    vec![
        p.name.clone(),
        p.role.clone(),
        p.of.clone().unwrap_or_default(),
        round(p.samples as f64, 15),
        round(p.bad as f64, 15),
        round(p.missing as f64, 15),
        every(p.interval_s),
        show.hours(p.flat_hours),
        bad,
    ]
}

/// An interval in the largest unit that keeps it whole or nearly so.
fn every(seconds: i64) -> String {
    match seconds {
        s if s >= 7200 => format!("{} h", round(s as f64 / 3600.0, 2)),
        s if s >= 120 => format!("{} min", round(s as f64 / 60.0, 3)),
        s => format!("{s} s"),
    }
}

fn file(f: &FileLedger) -> Vec<String> {
    let refused: u64 = f.refused.iter().map(|r| r.count).sum();
    let whole = |n: u64| round(n as f64, 15);
    vec![
        f.path.clone(),
        f.shape.to_owned(),
        f.time_format.clone(),
        whole(f.rows),
        whole(f.cells),
        whole(f.used),
        whole(f.missing),
        whole(refused),
    ]
}

fn assumptions(review: &Review, show: &Show) -> Vec<Block> {
    let mut blocks = Vec::new();
    let assumed: Vec<String> = json::assumed(review).into_iter().map(|t| show.sentence(t)).collect();
    if !assumed.is_empty() {
        blocks.push(Block::List { label: Some("Assumed, for want of a fact"), ordered: false, items: assumed });
    }
    let notices: Vec<String> = review.notices.iter().map(|n| show.sentence(&n.text)).collect();
    if !notices.is_empty() {
        blocks.push(Block::List { label: Some("Doubtful on the way"), ordered: false, items: notices });
    }
    blocks
}

fn method() -> Vec<Block> {
    let items = [
        "Exports are put on one clock; every cell that was not used is in the ledger above. Held values are held, gaps stay gaps.",
        "At each instant a pump's flow is found from what was measured (speed with power, head, both, or a meter) through its tested curve, with drive and motor losses at part load. The interval holds the errors of meters, table and losses, kept apart as what all rows share and what differs row by row.",
        "Steady rows are grouped by flow, head above the control curve, speed and temperature difference, and the groups named by physics.",
        "Each fault has a rule that answers found, clear or cannot tell, by day and then over the period, and a price against the same hours without the fault.",
        "The advised setting is the head that would have kept the neediest valve nearly open, replayed through the same pump, motor and drive. At the same flow a lower head saves in proportion to head, not to speed cubed.",
        "How flow is found without a meter, with sources and limits: offcurve explain operating-points. Each rule's equation, limits and source: offcurve explain FAULT.",
    ];
    vec![Block::List { label: None, ordered: false, items: items.iter().map(|t| (*t).to_owned()).collect() }]
}

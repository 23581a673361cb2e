//! The evidence, a finding at a time.

use super::positions;
use crate::{
    faults::{self, Estimate, Evidence, Fault, Finding},
    pipeline::Review,
    report::{
        anchor,
        document::{Block, Table},
        figures::{Figure, finding as own},
        show::Show,
        summary::{Dated, Status, Summary},
        trades, words,
    },
};

pub fn blocks(review: &Review, summary: &Summary, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks = Vec::new();
    if summary.findings.is_empty() {
        blocks.push(Block::Paragraph(nothing(summary).to_owned()));
    } else {
        blocks.push(Block::Table(overview(summary, show)));
    }
    let ids = anchor::of_findings(&summary.findings);
    for (dated, id) in summary.findings.iter().zip(&ids) {
        blocks.extend(finding(review, dated, id, show, figures));
    }
    if !summary.resolved.is_empty() {
        let items = summary
            .resolved
            .iter()
            .map(|r| format!("{}, last seen {}", words::of(r.fault, &r.subject), show.time(r.last_seen_ms)))
            .collect();
        blocks.push(Block::List { label: Some("Mended since the last review"), ordered: false, items });
    }
    blocks
}

fn nothing(summary: &Summary) -> &'static str {
    if summary.clear.is_empty() {
        "Nothing was found, and nothing could be judged: this record is silent, which does not mean that the plant is well. What is missing stands below."
    } else if summary.not_judged.is_empty() {
        "No fault was found. What was looked for, and how small a fault this record would have shown, stands below."
    } else {
        "No fault was found in what could be judged. What could not be judged stands below, with what is missing."
    }
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
                words::urgency_said(f.urgency).to_owned(),
                money(f.waste_kwh),
                money(f.waste_kwh_per_year),
                format!("{:.0}\u{a0}in\u{a0}100", f.confidence * 100.0),
                status(d, show),
            ]
        })
        .collect();
    let caption =
        "Findings, most urgent first. What another finding causes stands below it, and its cost is not counted again.";
    Table::new(caption, &["Finding", "Of", "Urgency", "#Costs, this period", "#A year", "#Sure", "Status"], rows)
}

fn status(d: &Dated, show: &Show) -> String {
    match d.status {
        Status::New => "new".to_owned(),
        Status::Persisting => format!("still there, since {}", show.date(d.since_ms)),
    }
}

fn finding(review: &Review, d: &Dated, id: &str, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let f = d.finding;
    let mut blocks = vec![
        Block::Heading {
            id: Some(id.to_owned()),
            text: words::finding(f),
            tags: vec![words::urgency_said(f.urgency).to_owned(), f.fault.code().to_owned()],
        },
        Block::Paragraph(words::sentence(&show.sentence(f.because.trim()))),
        Block::Paragraph(seen(d, show)),
    ];
    let its_own = own::id(f);
    blocks.extend(positions(figures, |figure| figure == its_own));
    if let Some(cause) = f.caused_by {
        let text = format!("{} ({}); its cost is counted there.", words::fault(cause), cause.code());
        blocks.push(Block::Labelled { label: "Caused by another finding", text });
    }
    if !f.evidence.is_empty() {
        blocks.push(Block::Table(evidence(&f.evidence, show)));
    }
    let list = |label, ordered, items: &[String]| Block::List {
        label: Some(label),
        ordered,
        items: items.iter().map(|t| words::capital(&words::sentence(&show.sentence(t)))).collect(),
    };
    if !f.could_also_be.is_empty() {
        blocks.push(list("It could also be", false, &f.could_also_be));
    }
    if !f.check_on_site.is_empty() {
        blocks.push(list("Check on site", true, &f.check_on_site));
    }
    if !f.change.is_empty() {
        let who = trades::of(f, &review.plant);
        let text = format!("{} Usually work for the {who}.", words::sentence(&show.sentence(f.change.trim())));
        blocks.push(Block::Labelled { label: "What to do", text });
    }
    if !f.caution.is_empty() {
        blocks.push(Block::Caution(show.sentence(&caution(f, review))));
    }
    blocks.push(rule(f.fault, show));
    blocks
}

/// The finding's own caution; what holds for all of them is said once, in a section of its own.
fn caution(f: &Finding, review: &Review) -> String {
    let general = faults::general_caution(review.plant.system.service);
    let own = f.caution.trim().trim_end_matches(general.as_str()).trim_end();
    format!("{own} See also \u{201c}Before anything is changed\u{201d} below.").trim().to_owned()
}

/// When, how long, at what price.
fn seen(d: &Dated, show: &Show) -> String {
    let f = d.finding;
    let mut text = format!(
        "Seen for {} between {} and {} (local time). It is {}: {} in 100.",
        show.hours(f.hours),
        show.time(f.first_seen_ms),
        show.time(f.last_seen_ms),
        words::sureness(f.confidence),
        (f.confidence * 100.0).round()
    );
    match f.waste_kwh {
        Some(w) => text.push_str(&format!(" It cost {} in this period", priced(w, show))),
        None => text.push_str(" What it costs cannot be told from this record"),
    }
    match f.waste_kwh_per_year {
        Some(w) => text.push_str(&format!("; scaled to a year by the hours seen, {}.", priced(w, show))),
        None if f.waste_kwh.is_some() => text.push_str("; this period cannot speak for a year."),
        None => text.push('.'),
    }
    text
}

/// Energy and money, each with its range.
pub fn priced(e: Estimate, show: &Show) -> String {
    match show.money_range(e) {
        Some(money) => format!("{money}, or {}", show.energy_range(e)),
        None => show.energy_range(e),
    }
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

/// What the rule looks at, for those who doubt it; `offcurve explain` has the rest.
fn rule(fault: Fault, show: &Show) -> Block {
    const SHOWN: [&str; 4] = ["What it finds", "Limits", "Looks alike", "Source"];
    let said =
        SHOWN.into_iter().map(|label| Block::Labelled { label, text: show.sentence(&faults::said(fault, label)) });
    Block::Folded { summary: format!("How this is judged (offcurve explain {})", fault.code()), blocks: said.collect() }
}

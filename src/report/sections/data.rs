//! The data ledger: points, files, what was not used, what was not believed, what was assumed.

use crate::{
    ingest::{FileLedger, PointLedger},
    pipeline::Review,
    report::{
        document::{Block, Table},
        json,
        show::{Show, figures as round},
        words,
    },
};

pub fn ledger(review: &Review, show: &Show) -> Vec<Block> {
    let mut blocks = Vec::new();
    let refused: u64 = review.ledger.files.iter().flat_map(|f| &f.refused).map(|r| r.count).sum();
    let cells: u64 = review.ledger.files.iter().map(|f| f.cells).sum();
    blocks.push(Block::Paragraph(format!(
        "{} with {} cells, of which {} could not be used. Everything was put on one clock with a row every {}.",
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
        let table = Table::new(
            "Points, as trended. \u{201c}Flat\u{201d} is time with the same reading row after row.",
            &titles,
            points,
        );
        blocks.push(Block::Folded {
            summary: format!("All {}", words::count(review.ledger.points.len(), "point")),
            blocks: vec![Block::Table(table)],
        });
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

pub fn assumptions(review: &Review, show: &Show) -> Vec<Block> {
    let mut blocks = Vec::new();
    let assumed: Vec<String> = json::assumed(review).into_iter().map(|t| said(t, show)).collect();
    if !assumed.is_empty() {
        blocks.push(Block::List {
            label: Some("Assumed, because the plant file does not say"),
            ordered: false,
            items: assumed,
        });
    }
    let notices: Vec<String> = review.notices.iter().map(|n| said(&n.text, show)).collect();
    if !notices.is_empty() {
        blocks.push(Block::List { label: Some("What was doubtful in the record"), ordered: false, items: notices });
    }
    blocks
}

/// A notice as a sentence; one that starts with a name keeps it as it is.
fn said(text: &str, show: &Show) -> String {
    words::sentence(&show.sentence(text.trim()))
}

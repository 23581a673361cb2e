//! The fleet as a terminal shows it: the first sentences, and a line a plant.

use super::{
    super::{show::THIN, words::count},
    words,
};
use crate::fleet::{Fleet, Line};
use std::path::Path;

/// Plants of a group that are listed; the page holds all.
const LISTED: usize = 20;
const WIDTH: usize = 96;

/// A short summary that a person reads.
pub fn summary(fleet: &Fleet, folder: &Path) -> String {
    let mut out = String::new();
    for sentence in words::state(fleet) {
        out.push_str(&wrapped(&sentence, "", ""));
    }
    let urgent: Vec<String> = words::urgent(fleet).iter().map(|l| place(l).to_owned()).collect();
    if !urgent.is_empty() {
        out.push_str(&wrapped(&format!("Urgent in {}.", words::named(&urgent)), "", ""));
    }
    for group in &fleet.groups {
        let what = group
            .currency
            .as_ref()
            .map_or_else(|| "By energy a year, no price declared".to_owned(), |c| format!("By {c} a year"));
        out.push_str(&format!("\n{what}\n"));
        for (k, line) in group.lines.iter().take(LISTED).enumerate() {
            out.push_str(&wrapped(&row(line), &format!("{:>3}. ", k + 1), "     "));
        }
        let more = group.lines.len().saturating_sub(LISTED);
        if more > 0 {
            out.push_str(&format!("     and {} more on the page\n", count(more, "plant")));
        }
    }
    out.push_str(&format!("\nPage: {}\n", folder.join("fleet.html").display()));
    out.replace(THIN, " ")
}

/// "quay-house: EUR 875 (463 to 1290). Set ...; act, new, since 21 Oct 2025"
fn row(line: &Line) -> String {
    let d = &line.extract;
    let tail = d.findings.first().map_or_else(String::new, |f| {
        format!(" ({}, {})", super::super::words::urgency(f.urgency), words::status(d, f))
    });
    format!("{}: {}. {}{tail}", place(line), words::stake(line), words::lead(&d.first))
}

/// The plant as its folder of results has it.
fn place(line: &Line) -> &str {
    line.folder.rsplit_once('/').map_or(line.folder.as_str(), |(plant, _)| plant)
}

/// Text in lines that fit a terminal, control characters in names shown as such.
pub fn wrapped(text: &str, first: &str, next: &str) -> String {
    let mut out = String::new();
    let mut line = first.to_owned();
    let mut empty = true;
    let clean: String = text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    for word in clean.split(' ') {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            out.push_str(&line);
            out.push('\n');
            line = next.to_owned();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    out.push_str(&line);
    out.push('\n');
    out
}

//! `offcurve explain faults`: all sixteen on one page, from the rules' own texts.

use super::{Fault, text};
use std::fmt::Write as _;

/// Width of the page [characters].
const WIDTH: usize = 100;
/// Sections of a rule's text that the page shows, and what stands before each.
const SHOWN: [(&str, &str); 4] =
    [("What it finds", "finds"), ("Needs", "needs"), ("Limits", "limits"), ("Source", "source")];
/// Where the texts begin [characters].
const INDENT: usize = 10;

const HEAD: &str = "\
THE SIXTEEN FAULTS

Every fault is answered in every review: found, clear, or cannot tell with what is missing. Found means more likely than not. The
confidence beside it is the rule's own: on invented plants by two authors, findings given at 0.9 and above were true in some 19 of
20, those at 0.8 in five of six. Clear says the least that this record would have shown. Windows are days; an onset is the first
day after a change, as least squares puts it.
offcurve explain FAULT prints a rule in full: why it matters, when it cannot tell, what looks alike, what to check on site.
Limits are this tool's own unless a source is named; common practice is said to be that.
";

/// The page.
#[must_use]
pub fn page() -> String {
    let mut out = String::from(HEAD);
    for fault in Fault::ALL {
        let rule = text(fault);
        let _ = write!(out, "\n{}: {}\n", fault.code(), title(rule));
        for (heading, word) in SHOWN {
            let _ = writeln!(out, "  {word:<width$}{}", wrapped(&section(rule, heading)), width = INDENT - 2);
        }
    }
    out
}

fn title(text: &str) -> &str {
    text.lines().next().unwrap_or("").trim_start_matches('#').trim()
}

/// What a fault's rule says below one of its headings, on one line; empty where there is none.
#[must_use]
pub fn said(fault: Fault, heading: &str) -> String {
    section(text(fault), heading)
}

/// The text below a heading, on one line.
fn section(text: &str, heading: &str) -> String {
    let from = text.lines().skip_while(|l| l.trim_start_matches('#').trim() != heading || !l.starts_with("##")).skip(1);
    let lines: Vec<&str> = from.take_while(|l| !l.starts_with("##")).map(str::trim).filter(|l| !l.is_empty()).collect();
    lines.join(" ")
}

/// Broken at words, later lines indented.
fn wrapped(text: &str) -> String {
    let mut out = String::new();
    let mut column = INDENT;
    for word in text.split_whitespace() {
        if column > INDENT && column + 1 + word.chars().count() > WIDTH {
            out.push('\n');
            out.push_str(&" ".repeat(INDENT));
            column = INDENT;
        }
        if column > INDENT {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += word.chars().count();
    }
    out
}

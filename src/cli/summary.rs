//! What a terminal shows of a written result: the first screen, in lines.

use crate::report::{self, Written};

/// A short summary that a person reads.
pub fn summary(written: &Written) -> String {
    let h = &written.document.headline;
    let mut out = format!("{}\n{}\n", h.title, h.about.join(" · "));
    if let Some(since) = &h.since_last {
        out.push_str(&wrapped(since, "", ""));
    }
    out.push_str(&wrapped(&h.state, "", ""));
    for (i, action) in h.actions.iter().enumerate() {
        out.push_str(&wrapped(&format!("{} ({})", action.what, action.who), &format!("{:>2}. ", i + 1), "    "));
    }
    for answer in &h.answers {
        out.push_str(&format!("\n{}\n{}", answer.label, wrapped(&answer.text, "  ", "  ")));
    }
    out.push_str(&format!("\nReport: {}\n", written.folder.join("report.html").display()));
    out.replace(report::show::THIN, " ")
}

/// Text in lines of at most 96 characters.
fn wrapped(text: &str, first: &str, next: &str) -> String {
    const WIDTH: usize = 96;
    let mut out = String::new();
    let mut line = first.to_owned();
    let mut empty = true;
    for word in text.split(' ') {
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

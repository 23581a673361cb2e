//! What a terminal shows of a written result: the memo's first screen in about twenty lines.
//!
//! Bold and one colour help the eye on a terminal; every word is there without them. Nothing is coloured where the output goes elsewhere, or
//! where `NO_COLOR` is set or `TERM` is `dumb`.

use crate::report::{Action, Written, show::THIN, unbroken::bound, words};
use std::io::{self, IsTerminal};

/// Longest line [characters].
const WIDTH: usize = 96;
/// Things to do that are shown; the page has all.
const ACTIONS: usize = 4;
/// Lines for one answer [lines]: whole sentences that fit, and always the first.
const ANSWER: usize = 3;

/// How words stand out.
#[derive(Debug, Clone, Copy)]
pub struct Ink {
    coloured: bool,
}

impl Ink {
    /// As the terminal on stdout wants it.
    pub fn of_stdout() -> Self {
        // An empty NO_COLOR asks for nothing (no-color.org).
        let refused = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
        let dumb = std::env::var_os("TERM").is_some_and(|v| v == "dumb");
        Self { coloured: io::stdout().is_terminal() && !refused && !dumb }
    }

    fn put(self, code: &str, text: &str) -> String {
        if self.coloured && !text.is_empty() { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_owned() }
    }
    fn bold(self, text: &str) -> String {
        self.put("1", text)
    }
    fn dim(self, text: &str) -> String {
        self.put("2", text)
    }
    fn accent(self, text: &str) -> String {
        self.put("36", text)
    }
}

/// A short memo that a person reads.
pub fn summary(written: &Written, ink: Ink) -> String {
    let h = &written.document.headline;
    let mut lines: Vec<String> = Vec::new();
    lines.extend(wrapped(&plain(&h.title), 0).iter().map(|l| ink.bold(l)));
    lines.extend(wrapped(&plain(&h.about.join(" · ")), 0).iter().map(|l| ink.dim(l)));
    lines.push(String::new());
    lines.extend(wrapped(&plain(&h.state), 0).iter().map(|l| ink.bold(l)));
    lines.push(String::new());
    for (i, action) in h.actions.iter().take(ACTIONS).enumerate() {
        lines.extend(numbered(i + 1, action, ink));
    }
    if h.actions.len() > ACTIONS {
        lines.push(format!("    and {} more in the report", h.actions.len() - ACTIONS));
    }
    lines.push(String::new());
    for answer in &h.answers {
        lines.extend(labelled(answer.label, &plain(&answer.text), ink));
    }
    lines.extend(h.since_last.iter().flat_map(|text| wrapped(&plain(text), 0)));
    lines.push(String::new());
    lines.push(format!("{} {}", ink.dim("Report:"), written.folder.join("report.html").display()));
    lines.iter().map(|l| format!("{}\n", l.replace(THIN, " "))).collect()
}

/// Text for a terminal: a name in the data steers nothing there, and a number stays with its unit.
fn plain(text: &str) -> String {
    bound(&text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>())
}

/// " 2. Clean the coil. [mechanical service]"
fn numbered(n: usize, action: &Action, ink: Ink) -> Vec<String> {
    let text = plain(&format!("{} [{}]", action.what, action.who));
    let mut lines = wrapped(&text, 4);
    for line in &mut lines {
        *line = format!("    {line}");
    }
    if let Some(first) = lines.first_mut() {
        *first = format!("{} {}", ink.accent(&format!("{n:>2}.")), first.trim_start());
    }
    lines
}

/// A label, and as many whole sentences as there is room for.
fn labelled(label: &str, text: &str, ink: Ink) -> Vec<String> {
    let mut shown = String::new();
    for sentence in words::sentences(text) {
        let longer = format!("{shown}{}{sentence}", if shown.is_empty() { "" } else { " " });
        if !shown.is_empty() && wrapped(&format!("{label}: {longer}"), 0).len() > ANSWER {
            break;
        }
        shown = longer;
    }
    let mut lines = wrapped(&format!("{label}: {shown}"), 0);
    if let Some(first) = lines.first_mut() {
        *first = first.replacen(&format!("{label}:"), &ink.accent(&format!("{label}:")), 1);
    }
    lines
}

/// Text in lines that leave room for an indent.
fn wrapped(text: &str, indent: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        let line = lines.last_mut().expect("a line was put there");
        if line.is_empty() {
            line.push_str(word);
        } else if indent + line.chars().count() + 1 + word.chars().count() <= WIDTH {
            line.push(' ');
            line.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

//! `report.md`: the same document for readers of plain text, and for pull requests.
//!
//! The decision a reader would question: every sentence has a line of its own. Viewers join them to paragraphs, lines stay short enough to read
//! as they are, and two months compare sentence by sentence. There is no HTML in it.

use super::{
    document::{Block, Document, Headline, Table},
    figures::Figure,
    words,
};

/// The text.
pub fn write(document: &Document) -> String {
    let mut out = String::new();
    headline(&mut out, &document.headline);
    for section in &document.sections {
        out.push_str(&format!("## {}\n\n", escape(section.title)));
        for block in &section.blocks {
            self::block(&mut out, block, &document.figures);
        }
    }
    out.truncate(out.trim_end().len());
    out.push('\n');
    out
}

fn headline(out: &mut String, h: &Headline) {
    out.push_str(&format!("# {}\n\n", escape(&h.title)));
    out.push_str(&format!("{}\n\n**{}**\n\n### What to do\n\n", lines(&h.about.join(" · "), ""), escape(&h.state)));
    for (i, action) in h.actions.iter().enumerate() {
        let mark = format!("{}. ", i + 1);
        let who = words::capital(&action.who);
        out.push_str(&format!("{mark}{}\n", lines(&action.what, &" ".repeat(mark.len()))));
        out.push_str(&format!("{}*{}.*\n", " ".repeat(mark.len()), escape(&who)));
    }
    out.push('\n');
    for answer in &h.answers {
        out.push_str(&format!("### {}\n\n{}\n\n", escape(answer.label), lines(&answer.text, "")));
        if let Some(t) = &answer.table {
            table(out, t);
        }
    }
    if let Some(text) = &h.since_last {
        out.push_str(&format!("### What changed\n\n{}\n\n", lines(text, "")));
    }
}

/// Text in which nothing is taken for markup.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let chars: Vec<char> = text.chars().collect();
    for (i, &c) in chars.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|b| chars.get(b)).copied().unwrap_or(' ');
        let after = chars.get(i + 1).copied().unwrap_or(' ');
        let marks = match c {
            '\\' | '`' | '*' | '[' | ']' | '<' | '>' | '|' | '#' | '~' | '$' | '@' => true,
            // Inside a word it marks nothing.
            '_' => !(before.is_alphanumeric() && after.is_alphanumeric()),
            // The start of an entity, or of the name of a picture.
            '&' => after == '#' || after.is_ascii_alphabetic(),
            ':' => after.is_ascii_alphabetic() || after == '+' || after == '/',
            _ => false,
        };
        if marks {
            out.push('\\');
        }
        out.push(if c.is_control() { ' ' } else { c });
    }
    out
}

/// A sentence longer than this is broken at its semicolons as well [characters].
const LONG: usize = 240;

/// A text with a line a sentence, later ones behind `indent`.
fn lines(text: &str, indent: &str) -> String {
    let parts = words::sentences(text).into_iter().flat_map(|s| {
        let mark = if s.chars().count() > LONG { "; " } else { "\0" };
        let last = s.split(mark).count();
        s.split(mark).enumerate().map(move |(i, part)| (part, i + 1 < last)).collect::<Vec<_>>()
    });
    let all: Vec<String> =
        parts.map(|(part, more)| format!("{}{}", at_start(&escape(part)), if more { ";" } else { "" })).collect();
    all.join(&format!("\n{indent}"))
}

/// A line whose first characters open no list and underline no heading.
fn at_start(line: &str) -> String {
    let line = line.trim_start();
    let digits = line.len() - line.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    match line[digits..].chars().next() {
        Some('-' | '+' | '=') if digits == 0 => format!("\\{line}"),
        Some('.' | ')') if digits > 0 => format!("{}\\{}", &line[..digits], &line[digits..]),
        _ => line.to_owned(),
    }
}

fn block(out: &mut String, block: &Block, figures: &[Figure]) {
    match block {
        Block::Heading { text, tags, .. } => {
            out.push_str(&format!("### {}\n\n", escape(text)));
            if !tags.is_empty() {
                out.push_str(&format!("*{}*\n\n", escape(&tags.join(" · "))));
            }
        }
        Block::Paragraph(text) => out.push_str(&format!("{}\n\n", lines(text, ""))),
        Block::Labelled { label, text } => {
            out.push_str(&format!("**{}.** {}\n\n", escape(label), lines(text, "")));
        }
        Block::Caution(text) => out.push_str(&format!("> **Caution.** {}\n\n", lines(text, "> "))),
        Block::List { label, ordered, items } => list(out, *label, *ordered, items),
        Block::Table(t) => table(out, t),
        // Indented, so that no word in it can end it.
        Block::Verbatim(text) => {
            text.lines().for_each(|line| out.push_str(&format!("    {line}\n")));
            out.push('\n');
        }
        Block::Figure(i) => {
            if let Some(f) = figures.get(*i) {
                out.push_str(&format!(
                    "![{}](figures/{}.svg)\n\n*{}.* {}\n\n",
                    escape(&f.description),
                    f.id,
                    escape(&f.title),
                    lines(&f.caption, "")
                ));
            }
        }
        Block::Folded { summary, blocks } => {
            out.push_str(&format!("#### {}\n\n", escape(summary)));
            for inner in blocks {
                self::block(out, inner, figures);
            }
        }
    }
}

fn list(out: &mut String, label: Option<&str>, ordered: bool, items: &[String]) {
    if let Some(label) = label {
        out.push_str(&format!("**{}**\n\n", escape(label)));
    }
    for (i, item) in items.iter().enumerate() {
        let mark = if ordered { format!("{}. ", i + 1) } else { "- ".to_owned() };
        out.push_str(&format!("{mark}{}\n", lines(item, &" ".repeat(mark.len()))));
    }
    out.push('\n');
}

fn table(out: &mut String, t: &Table) {
    out.push_str(&format!("{}\n\n", lines(&t.caption, "")));
    let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
    out.push_str(&line(t.columns.iter().map(|c| escape(c.title)).collect()));
    out.push_str(&line(t.columns.iter().map(|c| if c.number { "---:" } else { "---" }.to_owned()).collect()));
    for row in &t.rows {
        out.push_str(&line(row.iter().map(|c| escape(c)).collect()));
    }
    out.push('\n');
}

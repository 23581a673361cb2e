//! `report.md`: the same document for readers of plain text.

use super::{
    document::{Block, Document, Table},
    figures::Figure,
};

/// The text.
pub fn write(document: &Document) -> String {
    let h = &document.headline;
    let mut out = format!("# {}\n\n{}\n\n", escape(&h.title), escape(&h.about.join(" · ")));
    out.push_str(&format!("{}\n\n**What to do**\n\n", escape(&h.state)));
    for (i, action) in h.actions.iter().enumerate() {
        out.push_str(&format!("{}. {} *{}.*\n", i + 1, escape(&action.what), escape(&action.who)));
    }
    out.push('\n');
    for answer in &h.answers {
        out.push_str(&format!("**{}.** {}\n\n", escape(answer.label), escape(&answer.text)));
        if let Some(t) = &answer.table {
            table(&mut out, t);
        }
    }
    if let Some(text) = &h.since_last {
        out.push_str(&format!("{}\n\n", escape(text)));
    }
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

/// Text in which nothing is taken for markup.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '#' => {
                out.push('\\');
                out.push(c);
            }
            '&' => out.push_str("&amp;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn block(out: &mut String, block: &Block, figures: &[Figure]) {
    match block {
        Block::Heading { text, tags, .. } => {
            out.push_str(&format!("### {} ({})\n\n", escape(text), escape(&tags.join(", "))));
        }
        Block::Paragraph(text) => out.push_str(&format!("{}\n\n", escape(text))),
        Block::Labelled { label, text } => out.push_str(&format!("**{}.** {}\n\n", escape(label), escape(text))),
        Block::Caution(text) => out.push_str(&format!("> **Caution.** {}\n\n", escape(text))),
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
                    "![{}](figures/{}.svg)\n\n{}\n\n",
                    escape(&f.description),
                    f.id,
                    escape(&f.caption)
                ));
            }
        }
        Block::Folded { blocks, .. } => {
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
        let mark = if ordered { format!("{}.", i + 1) } else { "-".to_owned() };
        out.push_str(&format!("{mark} {}\n", escape(item)));
    }
    out.push('\n');
}

fn table(out: &mut String, t: &Table) {
    out.push_str(&format!("*{}*\n\n", escape(&t.caption)));
    let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
    out.push_str(&line(t.columns.iter().map(|c| escape(c.title)).collect()));
    out.push_str(&line(t.columns.iter().map(|c| if c.number { "---:" } else { "---" }.to_owned()).collect()));
    for row in &t.rows {
        out.push_str(&line(row.iter().map(|c| escape(c)).collect()));
    }
    out.push('\n');
}

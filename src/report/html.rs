//! `report.html`: the document as one page that asks nothing of any network and runs no script.

use super::{
    document::{Block, Document, Headline, Section, Table},
    figures::Figure,
};

const STYLE: &str = include_str!("report.css");

/// The page.
pub fn write(document: &Document) -> String {
    let mut out = String::with_capacity(1 << 19);
    out.push_str("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    // Nothing may be fetched, even if a name in the data looked like an address.
    out.push_str("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\">\n");
    out.push_str("<meta name=\"color-scheme\" content=\"light dark\">\n");
    out.push_str("<link rel=\"icon\" href=\"data:,\">\n");
    out.push_str(&format!(
        "<title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n",
        escape(&document.headline.title)
    ));
    headline(&mut out, &document.headline);
    contents(&mut out, document);
    for section in &document.sections {
        self::section(&mut out, section, &document.figures);
    }
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

/// Text that can stand in a page, also inside quotes.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // Control characters are no text in a page or a figure.
            c if c.is_control() && !matches!(c, '\n' | '\t') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

fn headline(out: &mut String, h: &Headline) {
    out.push_str(&format!(
        "<header>\n<h1>{}</h1>\n<p class=\"about\">{}</p>\n<p class=\"state\">{}</p>\n",
        escape(&h.title),
        escape(&h.about.join(" · ")),
        escape(&h.state)
    ));
    out.push_str("<p class=\"label\"><b>What to do</b></p>\n<ol class=\"actions\">\n");
    for action in &h.actions {
        let see = action.see.as_ref().map_or_else(String::new, |id| format!(" <a href=\"#{}\">why</a>", escape(id)));
        out.push_str(&format!("<li>{} <em>{}.</em>{see}</li>\n", escape(&action.what), escape(&action.who)));
    }
    out.push_str("</ol>\n<dl class=\"answers\">\n");
    for answer in &h.answers {
        out.push_str(&format!("<dt>{}</dt>\n<dd>{}", escape(answer.label), escape(&answer.text)));
        if let Some(t) = &answer.table {
            table(out, t);
        }
        out.push_str("</dd>\n");
    }
    out.push_str("</dl>\n");
    if let Some(text) = &h.since_last {
        out.push_str(&format!("<p class=\"since\">{}</p>\n", escape(text)));
    }
    out.push_str("</header>\n");
}

fn contents(out: &mut String, document: &Document) {
    out.push_str("<nav aria-label=\"Contents\">");
    let links: Vec<String> =
        document.sections.iter().map(|s| format!("<a href=\"#{}\">{}</a>", s.id, escape(s.title))).collect();
    out.push_str(&links.join(" "));
    out.push_str("</nav>\n");
}

fn section(out: &mut String, section: &Section, figures: &[Figure]) {
    out.push_str(&format!("<section id=\"{}\">\n<h2>{}</h2>\n", section.id, escape(section.title)));
    for block in &section.blocks {
        self::block(out, block, figures);
    }
    out.push_str("</section>\n");
}

fn block(out: &mut String, block: &Block, figures: &[Figure]) {
    match block {
        Block::Heading { id, text, tags } => {
            let id = id.as_ref().map_or_else(String::new, |id| format!(" id=\"{}\"", escape(id)));
            let tags: String = tags.iter().map(|t| format!(" <span class=\"tag\">{}</span>", escape(t))).collect();
            out.push_str(&format!("<h3{id}>{}{tags}</h3>\n", escape(text)));
        }
        Block::Paragraph(text) => out.push_str(&format!("<p>{}</p>\n", escape(text))),
        Block::Labelled { label, text } => {
            out.push_str(&format!("<p><b>{}.</b> {}</p>\n", escape(label), escape(text)));
        }
        Block::Caution(text) => {
            out.push_str(&format!("<p class=\"caution\" role=\"note\"><b>Caution.</b> {}</p>\n", escape(text)));
        }
        Block::List { label, ordered, items } => list(out, *label, *ordered, items),
        Block::Table(t) => table(out, t),
        Block::Verbatim(text) => out.push_str(&format!("<pre>{}</pre>\n", escape(text))),
        Block::Figure(i) => {
            if let Some(figure) = figures.get(*i) {
                out.push_str(&figure.inline());
            }
        }
        Block::Folded { summary, blocks } => {
            out.push_str(&format!("<details>\n<summary>{}</summary>\n", escape(summary)));
            for inner in blocks {
                self::block(out, inner, figures);
            }
            out.push_str("</details>\n");
        }
    }
}

fn list(out: &mut String, label: Option<&str>, ordered: bool, items: &[String]) {
    if let Some(label) = label {
        out.push_str(&format!("<p class=\"label\"><b>{}</b></p>\n", escape(label)));
    }
    let tag = if ordered { "ol" } else { "ul" };
    out.push_str(&format!("<{tag}>\n"));
    for item in items {
        out.push_str(&format!("<li>{}</li>\n", escape(item)));
    }
    out.push_str(&format!("</{tag}>\n"));
}

fn table(out: &mut String, t: &Table) {
    let caption = escape(&t.caption);
    // The caption stands outside the box that scrolls, so that it is read whole on a narrow screen.
    out.push_str(&format!("<p class=\"caption\">{caption}</p>\n"));
    out.push_str(&format!(
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"{caption}\">\n<table>\n<thead><tr>"
    ));
    for column in &t.columns {
        out.push_str(&format!("<th scope=\"col\"{}>{}</th>", class(column.number), escape(column.title)));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &t.rows {
        out.push_str("<tr>");
        for (cell, column) in row.iter().zip(&t.columns) {
            out.push_str(&format!("<td{}>{}</td>", class(column.number), escape(cell)));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
}

fn class(number: bool) -> &'static str {
    if number { " class=\"number\"" } else { "" }
}

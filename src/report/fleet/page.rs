//! `fleet.html`: one page that asks nothing of any network and runs no script.

use super::{
    super::{html::escape, words::count},
    page_tables::{table, tallies},
    words,
};
use crate::fleet::{Fleet, Line, Lost};

const STYLE: &str = include_str!("../report.css");
const OWN_STYLE: &str = include_str!("fleet.css");

/// The page.
pub fn write(fleet: &Fleet) -> String {
    let title = words::period(fleet).map_or_else(
        || count(fleet.plants(), "plant"),
        |period| format!("{}, {period}", count(fleet.plants(), "plant")),
    );
    let mut out = String::with_capacity(1 << 17);
    out.push_str("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    // Nothing may be fetched, even if a name in the data looked like an address.
    out.push_str("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\">\n");
    out.push_str("<meta name=\"color-scheme\" content=\"light dark\">\n<link rel=\"icon\" href=\"data:,\">\n");
    out.push_str(&format!(
        "<title>{0}</title>\n<style>\n{STYLE}{OWN_STYLE}</style>\n</head>\n<body>\n<main class=\"fleet\">\n<header>\n<h1>{0}</h1>\n",
        escape(&title)
    ));
    state(&mut out, fleet);
    out.push_str("</header>\n");
    let parts = parts(fleet);
    contents(&mut out, &parts);
    for part in &parts {
        out.push_str(&format!(
            "<section id=\"{}\">\n<h2>{}</h2>\n{}</section>\n",
            part.id,
            escape(&part.title),
            part.body
        ));
    }
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

struct Part {
    id: String,
    title: String,
    body: String,
}

fn state(out: &mut String, fleet: &Fleet) {
    for (k, sentence) in words::state(fleet).iter().enumerate() {
        let class = if k == 0 { " class=\"lead\"" } else { "" };
        out.push_str(&format!("<p{class}>{}</p>\n", escape(sentence)));
    }
    let urgent = words::urgent(fleet);
    if !urgent.is_empty() {
        let names: Vec<String> = urgent.iter().map(|l| link(l)).collect();
        out.push_str(&format!("<p><b>Urgent</b> in {}.</p>\n", words::named(&names)));
    }
}

fn contents(out: &mut String, parts: &[Part]) {
    let links: Vec<String> = parts.iter().map(|p| format!("<a href=\"#{}\">{}</a>", p.id, escape(&p.title))).collect();
    out.push_str(&format!("<nav aria-label=\"Contents\">{}</nav>\n", links.join(" ")));
}

fn parts(fleet: &Fleet) -> Vec<Part> {
    let mut all = Vec::new();
    let mut add = |id: &str, title: &str, body: String| {
        if !body.is_empty() {
            all.push(Part { id: id.to_owned(), title: title.to_owned(), body });
        }
    };
    for (k, group) in fleet.groups.iter().enumerate() {
        let alone = fleet.groups.len() == 1;
        let title = match &group.currency {
            Some(_) if alone => "What to do, by money".to_owned(),
            Some(currency) => format!("What to do, by {currency} a year"),
            None => "What to do, by energy: no price declared".to_owned(),
        };
        add(&format!("ranked-{}", k + 1), &title, table(group));
    }
    add("not-reviewed", "Could not be reviewed", lost(&fleet.lost));
    let clear = "Every check that could be made came out clear. What could not be judged stands in each report; silence there is not health.";
    add("clear", "Nothing found", listed(&fleet.clear, clear));
    let silent = "Nothing could be judged from these records; each report says what is missing.";
    add("silent", "Could not be judged", listed(&fleet.silent, silent));
    add("not-judged", "What could not be told, and what would settle it", tallies(fleet));
    let reading: String = words::READING.iter().map(|text| format!("<p>{}</p>\n", escape(text))).collect();
    add("reading", "How to read this page", reading + &passed_over(fleet));
    all
}

fn lost(lost: &[Lost]) -> String {
    let each = lost.iter().map(|l| format!("<p><b>{}</b></p>\n<pre>{}</pre>\n", escape(&l.path), escape(&l.why)));
    each.collect()
}

fn listed(lines: &[Line], note: &str) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let items: String = lines.iter().map(|l| format!("<li>{}{}</li>\n", link(l), path(l))).collect();
    format!("<p>{}</p>\n<ul>\n{items}</ul>\n", escape(note))
}

fn passed_over(fleet: &Fleet) -> String {
    if fleet.passed_over.is_empty() {
        return String::new();
    }
    let items: String =
        fleet.passed_over.iter().map(|p| format!("<li>{}: {}</li>\n", escape(&p.shown), escape(&p.why))).collect();
    let summary = count(fleet.passed_over.len(), "file");
    format!(
        "<details>\n<summary>{summary} passed over, being no plant files</summary>\n<ul>\n{items}</ul>\n</details>\n"
    )
}

/// The plant's name as a link to its report.
pub(super) fn link(line: &Line) -> String {
    format!("<a href=\"../{}/report.html\">{}</a>", encoded(&line.folder), escape(&words::title(&line.extract)))
}

/// Which plant file it is, below the name.
pub(super) fn path(line: &Line) -> String {
    format!("<span class=\"path\">{}</span>", escape(&line.path))
}

/// A relative path as an address holds it (RFC 3986: unreserved characters stand as they are).
fn encoded(path: &str) -> String {
    let byte = |b: u8| match b {
        b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => (b as char).to_string(),
        _ => format!("%{b:02X}"),
    };
    path.bytes().map(byte).collect()
}

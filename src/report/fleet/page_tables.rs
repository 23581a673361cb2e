//! The tables of the fleet's page.

use super::{
    super::{html::escape, show::figures, words as say},
    page::{link, path},
    words,
};
use crate::{
    fleet::{Fleet, Group, Line},
    plant::Role,
};

/// Points and faults listed at most.
const TALLIED: usize = 12;

/// The ranked plants of a group.
pub fn table(group: &Group) -> String {
    let money = group.currency.as_ref().map_or_else(|| "kWh a year".to_owned(), |c| format!("{c} a year"));
    let caption = format!(
        "{} with something to do or to watch, dearest first; ranges are 95 % intervals.",
        say::count(group.lines.len(), "plant")
    );
    let mut out = format!(
        "<p class=\"caption\">{caption}</p>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"{caption}\">\n"
    );
    // Roles, since the narrow screen's blocks are no table to a screen reader otherwise.
    out.push_str("<table class=\"ranked\" role=\"table\">\n<thead role=\"rowgroup\"><tr role=\"row\">");
    let heads = ["Rank", "Plant", "What to do first", &money, "How sure", "Status"];
    for (k, head) in heads.iter().enumerate() {
        let class = if k == 0 { " class=\"number\"" } else { "" };
        out.push_str(&format!("<th scope=\"col\" role=\"columnheader\"{class}>{}</th>", escape(head)));
    }
    out.push_str("</tr></thead>\n<tbody role=\"rowgroup\">\n");
    for (k, line) in group.lines.iter().enumerate() {
        out.push_str(&row(k + 1, line, &money));
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
    out
}

fn row(rank: usize, line: &Line, money: &str) -> String {
    let d = &line.extract;
    let first = d.findings.first();
    let mut todo = escape(words::lead(&d.first));
    if let Some(f) = first {
        todo.push_str(&format!(" <span class=\"tag\">{}</span>", say::urgency(f.urgency)));
    }
    if d.findings.len() > 1 {
        todo.push_str(&format!("<span class=\"more\">and {}</span>", say::count(d.findings.len() - 1, "more finding")));
    }
    let stake = escape(&words::stake(line));
    // The range stands below the amount where there is room.
    let stake = stake.split_once(" (").map_or(stake.clone(), |(a, b)| format!("{a} <span class=\"range\">({b}</span>"));
    let sure = first.map_or_else(
        || "see the report".to_owned(),
        |f| format!("{}, {:.0} in 100", say::sureness(f.confidence), f.confidence * 100.0),
    );
    let since = first.map_or_else(String::new, |f| words::status(d, f));
    let cell = |label: &str, class: &str, text: &str| {
        format!("<td role=\"cell\"{class} data-label=\"{}\">{text}</td>", escape(label))
    };
    format!(
        "<tr role=\"row\"><td role=\"cell\" class=\"number\">{rank}</td><th scope=\"row\" role=\"rowheader\">{}{}</th>{}{}{}{}</tr>\n",
        link(line),
        path(line),
        cell("What to do first", "", &todo),
        cell(money, " class=\"money\"", &stake),
        cell("How sure", "", &escape(&sure)),
        cell("Status", "", &escape(&since)),
    )
}

/// What could not be told most often, and the points that would settle most.
pub fn tallies(fleet: &Fleet) -> String {
    let mut out = String::new();
    if !fleet.next.is_empty() {
        let rows = fleet.next.iter().take(TALLIED).map(|t| {
            let with = t.with.map_or_else(String::new, |w| format!(", with {}", words::role(w.word())));
            let worth =
                if t.worth_kwh_per_year > 0.0 { figures(t.worth_kwh_per_year, 2) } else { "not known".to_owned() };
            vec![
                format!("{}{with}", words::role(Role::word(t.role))),
                t.plants.to_string(),
                worth,
                t.would_settle.join(", "),
            ]
        });
        let caption = "Points to trend next: in how many plants each would settle something, and what such faults usually waste in loops of their energy.";
        out.push_str(&plain(caption, &["Point", "#Plants", "#kWh a year", "Would settle"], rows.collect()));
    }
    if !fleet.untold.is_empty() {
        let rows = fleet.untold.iter().take(TALLIED).map(|u| {
            let missing = u.missing.as_ref().map_or_else(
                || "see the reports".to_owned(),
                |(what, n)| format!("{what} ({})", say::count(*n, "plant")),
            );
            vec![words::fault(u.fault), u.plants.to_string(), missing]
        });
        let caption = "What could not be judged most often, and what was missing most.";
        out.push_str(&plain(caption, &["Matter", "#Plants", "Missing most often"], rows.collect()));
    }
    out
}

/// A table of text; a title that starts with `#` is of numbers.
fn plain(caption: &str, titles: &[&str], rows: Vec<Vec<String>>) -> String {
    let caption = escape(caption);
    let class = |title: &str| if title.starts_with('#') { " class=\"number\"" } else { "" };
    let heads: String = titles
        .iter()
        .map(|t| format!("<th scope=\"col\"{}>{}</th>", class(t), escape(t.trim_start_matches('#'))))
        .collect();
    let cells = |row: Vec<String>| -> String {
        row.iter().zip(titles).map(|(cell, t)| format!("<td{}>{}</td>", class(t), escape(cell))).collect()
    };
    let rows: String = rows.into_iter().map(|row| format!("<tr>{}</tr>\n", cells(row))).collect();
    format!(
        "<p class=\"caption\">{caption}</p>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"{caption}\">\n<table class=\"plain\">\n<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n</div>\n"
    )
}

//! What `inspect` prints: a paragraph a file, a line a point.

use super::super::json::utc as instant;
use crate::ingest::LookedFile;
use crate::inspection::{Inspection, Understood};

/// The result for a person.
#[must_use]
pub fn text(inspection: &Inspection) -> String {
    let mut out = String::new();
    for file in &inspection.looked.files {
        file_text(&mut out, file, &inspection.timezone);
    }
    if !inspection.points.is_empty() {
        out.push_str(&points(inspection));
    }
    for notice in &inspection.looked.notices {
        out.push_str(&format!("note: {}\n", notice.text));
    }
    out
}

fn file_text(out: &mut String, file: &LookedFile, timezone: &str) {
    let path = &file.ledger.path;
    if let Some(error) = &file.error {
        let said = error.strip_prefix(&format!("{path}: ")).unwrap_or(error);
        out.push_str(&format!("{path}\n  not read: {}\n\n", said.replace('\n', "\n  ")));
        return;
    }
    let decimal = if file.decimal == ',' { "decimal comma" } else { "decimal point" };
    // Workbooks and columnar files have cells of their own.
    let is_text = file.encoding.starts_with("UTF-") || file.encoding == "8-bit text";
    let parted = if is_text { format!(" parted by \"{}\", {decimal},", file.delimiter) } else { String::new() };
    let header =
        if file.header_line > 0 { format!("header in line {}", file.header_line) } else { "no header".to_owned() };
    out.push_str(&format!(
        "{path}\n  {}, {},{parted} {header}\n  times: {} as {}, read in {timezone}\n  {} rows; {} cells: {} used, {} missing, {} refused\n",
        file.ledger.shape,
        file.encoding,
        quoted(&file.time_columns),
        file.ledger.time_format,
        file.ledger.rows,
        file.ledger.cells,
        file.ledger.used,
        file.ledger.missing,
        file.ledger.refused.iter().map(|r| r.count).sum::<u64>(),
    ));
    for notice in &file.notices {
        out.push_str(&format!("  note: {notice}\n"));
    }
    out.push('\n');
}

fn quoted(names: &[String]) -> String {
    let named: Vec<String> = names.iter().filter(|n| !n.is_empty()).map(|n| format!("\"{n}\"")).collect();
    if named.is_empty() { "the column without a name".to_owned() } else { named.join(", ") }
}

fn points(inspection: &Inspection) -> String {
    let name_width = inspection.looked.points.iter().map(|p| p.name.chars().count()).max().unwrap_or(0).clamp(5, 40);
    let role_width = inspection.points.iter().map(|u| role(u).chars().count()).max().unwrap_or(0).clamp(9, 48);
    let mut out = format!(
        "{:<name_width$}  {:<role_width$} {:>5}  {:<7} {:>9} {:>6} {:>7} {:>8}  {:>10} {:>10} {:>10}  from\n",
        "point", "role (of)", "sure", "unit", "samples", "bad", "missing", "interval", "least", "mean", "most"
    );
    for (p, u) in inspection.looked.points.iter().zip(&inspection.points) {
        let name: String = p.name.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
        let sure = u.role.map_or(String::new(), |_| format!("{:.0} %", 100.0 * u.confidence));
        let interval = if p.interval_s > 0 { said_interval(p.interval_s) } else { String::new() };
        let mut from = u.span.map_or(String::new(), |s| instant(s.0));
        if let Some(first) = p.only_in.first() {
            let more = if p.only_in.len() > 1 { format!(" and {} more", p.only_in.len() - 1) } else { String::new() };
            from.push_str(&format!("  in {}{more}", inspection.looked.files[*first].ledger.path));
        }
        out.push_str(&format!(
            "{name:<name_width$}  {:<role_width$} {sure:>5}  {:<7} {:>9} {:>6} {:>7} {interval:>8}  {:>10} {:>10} {:>10}  {from}\n",
            role(u),
            u.shown_unit.as_deref().unwrap_or(""),
            u.valid,
            p.bad,
            p.missing,
            figure(u.min),
            figure(u.mean),
            figure(u.max),
        ));
    }
    out
}

fn role(u: &Understood) -> String {
    match (u.role, &u.of) {
        (Some(role), Some(of)) => format!("{} ({of})", role.word()),
        (Some(role), None) => role.word().to_owned(),
        (None, _) => "?".to_owned(),
    }
}

fn said_interval(seconds: i64) -> String {
    if seconds % 60 == 0 { format!("{} min", seconds / 60) } else { format!("{seconds} s") }
}

fn figure(v: f64) -> String {
    if !v.is_finite() {
        return String::new();
    }
    if v.abs() >= 1e5 || (v != 0.0 && v.abs() < 1e-3) { format!("{v:.3e}") } else { format!("{v:.3}") }
}

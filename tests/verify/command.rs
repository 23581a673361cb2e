//! Changes sent through the command: plant file and exports written, `offcurve verify` run, its table of days held against the truth.

use crate::changes::change::{Wanted, handed_over};
use crate::changes::{counts, score};
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::RowAccessor;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

const MINUTES: u32 = 15;

pub fn page(count: u64, from: u64) -> Result<String, String> {
    let mut t = String::from(
        "\n## Through the command\n\nPlant file and 15-minute exports written, `offcurve verify` run. Shares are of the energy that the old setting would have taken on the days compared [%].\n\n| generator | change | truth | told | interval | holds | took | change named by |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    let (mut told, mut held) = (0, 0);
    for i in 0..count {
        let plain = score::wanted(i, from);
        // Not the records of more than a year: they would take most of the time.
        let wanted = Wanted { before: plain.before.min(100), after: plain.after.min(50), year: false, ..plain };
        let line = one(wanted)?;
        let (text, is_told, holds) = line;
        told += usize::from(is_told);
        held += usize::from(holds);
        t += &text;
    }
    let (low, high) = counts::range(held, told);
    let _ =
        writeln!(t, "\nInterval holds the truth in {held} of {told} ({:.0} to {:.0} %).", 100.0 * low, 100.0 * high);
    Ok(t)
}

fn offcurve() -> Result<PathBuf, String> {
    let own = std::env::current_exe().map_err(|e| e.to_string())?;
    let path = own.ancestors().nth(2).map(|p| p.join("offcurve")).unwrap_or_default();
    if path.is_file() { Ok(path) } else { Err(format!("{}: not there; build it first", path.display())) }
}

fn one(wanted: Wanted) -> Result<(String, bool, bool), String> {
    let tries = (0..20).map(|k| Wanted { seed: wanted.seed + k * 1_000_003, ..wanted });
    let (case, change) = tries.into_iter().find_map(|w| handed_over(w, MINUTES)).ok_or("no plant")?;
    let folder = std::env::temp_dir().join(format!("offcurve-verify-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    for (path, bytes) in
        case.files.iter().map(|(p, b)| (p.as_str(), b.as_slice())).chain([("plant.toml", case.plant_toml.as_bytes())])
    {
        let path = folder.join(path);
        std::fs::create_dir_all(path.parent().unwrap_or(&folder)).map_err(|e| e.to_string())?;
        std::fs::write(&path, bytes).map_err(|e| e.to_string())?;
    }
    let mut run = Command::new(offcurve()?);
    run.args(["verify", "plant.toml", "--format", "json", "--out", "out"]).current_dir(&folder);
    if !wanted.kind.effect() {
        let at = chrono::DateTime::from_timestamp_millis(change.changed_ms).ok_or("no time")?;
        run.args(["--changed", &at.with_timezone(&change.zone).format("%Y-%m-%d %H:%M").to_string()]);
    }
    let out = run.output().map_err(|e| e.to_string())?;
    let kind = wanted.kind.word();
    if !out.status.success() {
        let said = String::from_utf8_lossy(&out.stderr);
        let said = said.lines().next().unwrap_or_default().replace('|', "/");
        let _ = std::fs::remove_dir_all(&folder);
        return Ok((format!("| {} | {kind} | | refused: {said} | | | | |\n", wanted.generator), false, false));
    }
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).map_err(|e| e.to_string())?;
    let text = |of: &serde_json::Value| of.as_str().map_or_else(|| of.to_string(), str::to_owned);
    let of = |what: &str| json["saving_kwh"][what].as_f64();
    let (took, source) = (text(&json["took"]["took"]), text(&json["change"]["source"]));
    let line = if let (Some(low), Some(estimate), Some(high)) = (of("low"), of("estimate"), of("high")) {
        let days = days(&folder)?;
        let truth: f64 = days.iter().map(|(from, to)| change.saved(*from, *to)).sum();
        let base = json["after"]["energy_kwh"].as_f64().unwrap_or(f64::NAN) + truth;
        let holds = low <= truth && truth <= high;
        let share = |v: f64| format!("{:.1}", 100.0 * v / base);
        let cells = [share(truth), share(estimate), format!("{} to {}", share(low), share(high))].join(" | ");
        (format!("| {} | {kind} | {cells} | {holds} | {took} | {source} |\n", wanted.generator), true, holds)
    } else {
        let why = text(&json["why"]).replace('|', "/");
        (format!("| {} | {kind} | | refused: {why} | | | {took} | {source} |\n", wanted.generator), false, false)
    };
    let _ = std::fs::remove_dir_all(&folder);
    Ok(line)
}

/// The compared days with the new setting [ms].
fn days(folder: &Path) -> Result<Vec<(i64, i64)>, String> {
    let mut place = folder.join("out");
    while !place.join("daily.parquet").is_file() {
        let next = std::fs::read_dir(&place).map_err(|e| e.to_string())?.flatten().map(|e| e.path());
        place = next.into_iter().find(|p| p.is_dir()).ok_or("no result folder")?;
    }
    let file = std::fs::File::open(place.join("daily.parquet")).map_err(|e| e.to_string())?;
    let reader = SerializedFileReader::new(file).map_err(|e| e.to_string())?;
    let rows = reader.get_row_iter(None).map_err(|e| e.to_string())?.flatten();
    let after = rows.filter(|r| r.get_bool(3).is_ok_and(|b| b) && r.get_string(2).is_ok_and(|s| s == "after"));
    let time = |r: &parquet::record::Row, k: usize| r.get_timestamp_millis(k).map_err(|e| e.to_string());
    after.map(|r| Ok((time(&r, 0)?, time(&r, 1)?))).collect()
}

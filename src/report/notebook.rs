//! `review.ipynb`: a place to go on from, reading the operating points with polars.
//!
//! The notebook remembers the fingerprint of its own cells, so that a later run can tell whether a person has edited it.

use crate::pipeline::Review;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

#[derive(Serialize)]
struct Notebook {
    cells: Vec<Cell>,
    metadata: Metadata,
    nbformat: u8,
    nbformat_minor: u8,
}
#[derive(Serialize)]
#[serde(tag = "cell_type", rename_all = "lowercase")]
pub(super) enum Cell {
    Markdown { id: &'static str, metadata: Empty, source: String },
    Code { id: &'static str, metadata: Empty, source: String, execution_count: Option<u32>, outputs: [(); 0] },
}
#[derive(Serialize)]
pub(super) struct Empty {}
#[derive(Serialize)]
struct Metadata {
    kernelspec: Kernel,
    language_info: Language,
    offcurve: Written,
}
#[derive(Serialize)]
struct Kernel {
    display_name: &'static str,
    language: &'static str,
    name: &'static str,
}
#[derive(Serialize)]
struct Language {
    name: &'static str,
}
#[derive(Serialize, Deserialize)]
struct Written {
    cells_sha256: String,
}

/// What a notebook on disk must have for us to know it as our own.
#[derive(Deserialize)]
struct Found {
    cells: Vec<FoundCell>,
    metadata: FoundMetadata,
}
#[derive(Deserialize)]
struct FoundCell {
    cell_type: String,
    source: Source,
}
#[derive(Deserialize)]
#[serde(untagged)]
enum Source {
    Whole(String),
    Lines(Vec<String>),
}
#[derive(Deserialize)]
struct FoundMetadata {
    offcurve: Written,
}

/// The notebook's text.
pub fn write(review: &Review) -> String {
    of(cells(review))
}

/// A notebook of these cells.
pub(super) fn of(cells: Vec<Cell>) -> String {
    let cells_sha256 = fingerprint(cells.iter().map(|c| match c {
        Cell::Markdown { source, .. } => ("markdown", source.as_str()),
        Cell::Code { source, .. } => ("code", source.as_str()),
    }));
    let notebook = Notebook {
        cells,
        metadata: Metadata {
            kernelspec: Kernel { display_name: "Python 3", language: "python", name: "python3" },
            language_info: Language { name: "python" },
            offcurve: Written { cells_sha256 },
        },
        nbformat: 4,
        nbformat_minor: 5,
    };
    let mut text =
        serde_json::to_string_pretty(&notebook).expect("these types have no map with keys that are not text");
    text.push('\n');
    text
}

/// Whether a notebook's cells are no longer those that this program wrote. Running cells changes no source, so a notebook
/// that was only run counts as untouched; one that cannot be read as ours counts as edited, and is kept.
pub fn edited(text: &str) -> bool {
    let Ok(found) = serde_json::from_str::<Found>(text) else { return true };
    let sources: Vec<(String, String)> = found
        .cells
        .into_iter()
        .map(|c| match c.source {
            Source::Whole(s) => (c.cell_type, s),
            Source::Lines(lines) => (c.cell_type, lines.concat()),
        })
        .collect();
    fingerprint(sources.iter().map(|(kind, s)| (kind.as_str(), s.as_str()))) != found.metadata.offcurve.cells_sha256
}

fn fingerprint<'s>(cells: impl Iterator<Item = (&'s str, &'s str)>) -> String {
    let mut hash = Sha256::new();
    for (kind, source) in cells {
        hash.update(kind.as_bytes());
        hash.update([0]);
        hash.update(source.as_bytes());
        hash.update([0]);
    }
    hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
}

fn cells(review: &Review) -> Vec<Cell> {
    let name = review.plant.system.name.as_deref().unwrap_or(&review.plant.name);
    let name: String = name.chars().filter(|c| !c.is_control()).collect();
    let timezone = review.plant.site.timezone.name();
    let minutes = review.clock.step_s as f64 / 60.0;
    vec![
        markdown(
            "about",
            format!(
                "# Operating points: {name}\n\nOne row a pump and interval of {minutes} min, times in UTC. Flow in m3/h, head in kPa, \
                 power in kW. Change what you like: a later review keeps an edited notebook and writes its own beside it, as `review.new.ipynb`.\n\n\
                 Needs `polars` and `matplotlib`."
            ),
        ),
        code("read", format!("{}TIMEZONE = \"{timezone}\"\nHOURS = {} / 3600  # a row stands for so many hours\n\n{READ}", IMPORTS, review.clock.step_s)),
        markdown("where", "## Where the hours and the energy went".to_owned()),
        code("regimes", REGIMES.to_owned()),
        markdown(
            "head-flow",
            "## Head over flow\n\nGrey: what the configured control curve asks at the same moment. A point above the grey ones had more head than was asked for.".to_owned(),
        ),
        code("head-over-flow", HEAD_OVER_FLOW.to_owned()),
        markdown("days", "## Day by day".to_owned()),
        code("energy-by-day", ENERGY_BY_DAY.to_owned()),
        markdown("sure", "## How well each point is known\n\nThe width of the 95 % interval on flow, by the measurements that fixed the point.".to_owned()),
        code("intervals", INTERVALS.to_owned()),
    ]
}

pub(super) fn markdown(id: &'static str, source: String) -> Cell {
    Cell::Markdown { id, metadata: Empty {}, source }
}

pub(super) fn code(id: &'static str, source: String) -> Cell {
    Cell::Code { id, metadata: Empty {}, source, execution_count: None, outputs: [] }
}

const IMPORTS: &str = "import polars as pl\nimport matplotlib.pyplot as plt\n\n";
const READ: &str = r#"points = pl.read_parquet("operating-points.parquet").with_columns(
    pl.col("time").dt.convert_time_zone(TIMEZONE).alias("local")
)
running = points.filter(pl.col("speed") > 0)
points.describe()"#;
const REGIMES: &str = r#"(
    points.group_by("pump", "regime")
    .agg(
        (pl.len() * HOURS).alias("hours"),
        (pl.col("power").sum() * HOURS).alias("kWh"),
        pl.col("flow").mean().alias("mean flow m3/h"),
        pl.col("head").mean().alias("mean head kPa"),
    )
    .sort("pump", "hours", descending=[False, True])
)"#;
const HEAD_OVER_FLOW: &str = r#"fig, ax = plt.subplots(figsize=(8, 5))
asked = running.drop_nulls(["loop_flow", "curve_head"])
ax.scatter(asked["loop_flow"], asked["curve_head"], s=3, color="0.75", label="control curve asks")
for marker, ((regime,), rows) in zip("o^vsDPX*" * 2, running.drop_nulls(["loop_flow", "head"]).sort("regime").group_by("regime", maintain_order=True)):
    ax.scatter(rows["loop_flow"], rows["head"], s=8, alpha=0.3, marker=marker, label=regime)
ax.set_xlabel("flow of all pumps, m3/h")
ax.set_ylabel("head, kPa")
ax.set_ylim(bottom=0)
ax.legend()
plt.show()"#;
const ENERGY_BY_DAY: &str = r#"by_day = (
    points.group_by(pl.col("local").dt.date().alias("day"))
    .agg((pl.col("power").sum() * HOURS).alias("kWh"))
    .sort("day")
)
fig, ax = plt.subplots(figsize=(8, 3))
ax.bar(by_day["day"], by_day["kWh"])
ax.set_ylabel("pump energy, kWh a day")
fig.autofmt_xdate()
plt.show()
by_day"#;
const INTERVALS: &str = r#"(
    running.drop_nulls(["flow_low", "flow_high"])
    .with_columns((pl.col("flow_high") - pl.col("flow_low")).alias("width"))
    .group_by("pump", "basis")
    .agg(
        (pl.len() * HOURS).alias("hours"),
        pl.col("width").median().alias("median width m3/h"),
        pl.col("width").quantile(0.95).alias("95th percentile m3/h"),
    )
    .sort("pump", "basis")
)"#;

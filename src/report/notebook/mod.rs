//! `review.ipynb`: the main figures again, and every finding counted again from the rows, in plain Python with polars.
//!
//! The decision a reader would question: a cell holds no name and no number of the plant. What is declared lies in the table's metadata, what is found in `findings.json`,
//! and a cell picks its finding by place, so that a name can neither break a cell nor run in one. The cells of faults are files of `cells/`
//! (`worked.rs`). The notebook remembers the fingerprint of its own cells, so that a later run can tell whether a person has edited it.

mod worked;

use super::{markdown::escape, summary::Summary};
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
    Markdown { id: String, metadata: Empty, source: String },
    Code { id: String, metadata: Empty, source: String, execution_count: Option<u32>, outputs: [(); 0] },
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
pub fn write(review: &Review, summary: &Summary) -> String {
    of(cells(review, summary))
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

fn cells(review: &Review, summary: &Summary) -> Vec<Cell> {
    let name = escape(review.plant.system.name.as_deref().unwrap_or(&review.plant.name));
    let minutes = review.clock.step_s as f64 / 60.0;
    let mut cells = vec![
        markdown("about", format!("# {name}: figures and findings, counted again\n\nRows of {minutes} min. {ABOUT}")),
        code("read", include_str!("cells/read.py")),
        markdown("where", "## Where the hours and the energy went"),
        code("regimes", include_str!("cells/regimes.py")),
        markdown("head-flow", HEAD_FLOW),
        code("head-over-flow", include_str!("cells/head-over-flow.py")),
        markdown(
            "time",
            "## Day by day\n\nEnergy of the pumps, and the loop's flow and head in the middle of each day's running rows.",
        ),
        code("time-strip", include_str!("cells/time-strip.py")),
        markdown(
            "water",
            "## Temperature difference of the water\n\nDrawn where supply and return temperatures are trended.",
        ),
        code("delta-t", include_str!("cells/delta-t.py")),
        markdown(
            "valves",
            "## Valves\n\nDrawn where a finding rests on valve positions: only then are they in the table.",
        ),
        code("valve-openings", include_str!("cells/valve-openings.py")),
        markdown(
            "sure",
            "## How well each point is known\n\nThe width of the 95 % interval on flow, by the measurements that fixed the point.",
        ),
        code("intervals", include_str!("cells/intervals.py")),
        markdown("again", AGAIN),
        code("tools", include_str!("cells/tools.py")),
    ];
    for (k, dated) in summary.findings.iter().enumerate() {
        cells.extend(worked::cells(k, dated.finding));
    }
    cells.push(markdown("sum", "## All of them"));
    cells.push(code("checked", include_str!("cells/checked.py")));
    cells
}

pub(super) fn markdown(id: impl Into<String>, source: impl Into<String>) -> Cell {
    Cell::Markdown { id: id.into(), metadata: Empty {}, source: source.into() }
}

pub(super) fn code(id: impl Into<String>, source: impl Into<String>) -> Cell {
    let source = source.into().trim_end().to_owned();
    Cell::Code { id: id.into(), metadata: Empty {}, source, execution_count: None, outputs: [] }
}

const ABOUT: &str = "One row a pump and interval, times in UTC. Flow in m3/h, head in kPa, power in kW, temperatures in degC. The table is \
`operating-points.parquet` beside this notebook; its metadata hold what the plant file declares. Change what you like: a later review keeps an edited notebook and \
writes its own beside it, as `review.new.ipynb`.\n\nNeeds `polars` and `matplotlib`.";
const HEAD_FLOW: &str = "## Head over flow\n\nLines: what the control curve asks today, the one proposed where there is one, and the pumps' tables at full speed. A point above \
the control curve had more head than was asked for.";
const AGAIN: &str = "## The findings, counted again\n\nEach cell below counts the key numbers of one finding from the rows of the table, by simpler means than the review's, and holds them \
against `findings.json`. A tolerance is a share of the number: what the simpler way may differ by. Where a number cannot be counted from the rows, the cell says so. \
The probability that a finding is true (`confidence`) is one of these for all of them.";

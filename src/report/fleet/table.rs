//! `fleet.parquet`: one row a finding, and one without a finding for each plant that has none, with unit and description in
//! every field's metadata. Plants stand in the order of the page, findings in the order of their report.

use super::{
    super::{
        error::ReportError,
        parquet::{bytes, field, kinds, numbers},
        words as say,
    },
    json::state,
};
use crate::{
    faults::{Estimate, Fault},
    fleet::{Brief, Fleet, Line},
};
use arrow::{
    array::{ArrayRef, StringArray, TimestampMillisecondArray, UInt32Array},
    datatypes::{DataType, Field, Schema, TimeUnit},
    record_batch::RecordBatch,
};
use std::sync::Arc;

/// The file's bytes.
pub fn write(fleet: &Fleet) -> Result<Vec<u8>, ReportError> {
    bytes("fleet.parquet", [batch(fleet)])
}

struct Row<'f> {
    rank: Option<usize>,
    line: &'f Line,
    finding: Option<&'f Brief>,
}

fn rows(fleet: &Fleet) -> Vec<Row<'_>> {
    let ranked = fleet.groups.iter().flat_map(|g| g.lines.iter().enumerate().map(|(k, line)| (Some(k + 1), line)));
    let others = fleet.clear.iter().chain(&fleet.silent).map(|line| (None, line));
    let mut out = Vec::new();
    for (rank, line) in ranked.chain(others) {
        let count = line.extract.findings.len().max(1);
        out.extend((0..count).map(|k| Row { rank, line, finding: line.extract.findings.get(k) }));
    }
    out
}

fn batch(fleet: &Fleet) -> Result<RecordBatch, arrow::error::ArrowError> {
    let rows = rows(fleet);
    let text =
        |get: &dyn Fn(&Row) -> Option<String>| -> ArrayRef { Arc::new(StringArray::from_iter(rows.iter().map(get))) };
    let number = |get: &dyn Fn(&Row) -> Option<f64>| -> ArrayRef { numbers(rows.iter().map(get)) };
    let time = |get: &dyn Fn(&Row) -> Option<i64>| -> ArrayRef {
        Arc::new(TimestampMillisecondArray::from_iter(rows.iter().map(get)).with_timezone("UTC"))
    };
    let waste = |part: fn(&Estimate) -> f64| number(&|r| r.finding?.waste_kwh.as_ref().map(part));
    let yearly = |part: fn(&Estimate) -> f64| number(&|r| r.finding?.waste_kwh_per_year.as_ref().map(part));
    let price = |r: &Row| r.line.extract.price.as_ref().map(|p| p.per_kwh);
    let columns: Vec<ArrayRef> = vec![
        Arc::new(UInt32Array::from_iter(rows.iter().map(|r| r.rank.and_then(|k| u32::try_from(k).ok())))),
        text(&|r| Some(r.line.path.clone())),
        text(&|r| Some(r.line.extract.name.clone())),
        text(&|r| r.line.extract.system.clone()),
        text(&|r| r.line.extract.site.clone()),
        text(&|r| Some(state(&r.line.extract).to_owned())),
        time(&|r| Some(r.line.extract.from_ms)),
        time(&|r| Some(r.line.extract.to_ms)),
        number(&|r| Some(r.line.extract.coverage)),
        number(&|r| Some(r.line.extract.energy_kwh)),
        text(&|r| r.line.extract.price.as_ref().map(|p| p.currency.clone())),
        number(&price),
        text(&|r| Some(r.finding?.fault.code().to_owned())),
        text(&|r| Some(r.finding?.subject.clone())),
        text(&|r| Some(say::urgency(r.finding?.urgency).to_owned())),
        number(&|r| Some(r.finding?.confidence)),
        number(&|r| Some(r.finding?.hours)),
        waste(|e| e.estimate),
        waste(|e| e.low),
        waste(|e| e.high),
        yearly(|e| e.estimate),
        yearly(|e| e.low),
        yearly(|e| e.high),
        text(&|r| Some(r.finding?.caused_by?.code().to_owned())),
        text(&|r| Some(if r.finding?.new { "new" } else { "persisting" }.to_owned())),
        time(&|r| Some(r.finding?.since_ms)),
        text(&|r| Some(r.finding?.change.clone())),
    ];
    RecordBatch::try_new(Arc::new(schema()), columns)
}

/// Names, types, units and descriptions, in order.
fn schema() -> Schema {
    let time = DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into()));
    let number = DataType::Float64;
    let text = DataType::Utf8;
    let states = ["to-do", "to-watch", "clear", "nothing-judged"];
    let of_interval = |what: &str, end: &str| format!("{what}, {end} end of the 95 % interval");
    let (waste, yearly) = ("energy that the fault wasted in the period", "the same scaled to a year");
    let field = |name: &str, kind: &DataType, unit: &str, said: &str| -> Field {
        let always = ["path", "plant", "state", "from", "to"].contains(&name);
        field(name, kind.clone(), !always, unit, said)
    };
    Schema::new(vec![
        field(
            "rank",
            &DataType::UInt32,
            "",
            "place among the plants of one currency, dearest first; null where nothing was found",
        ),
        field("path", &text, "", "the plant file, below the folder of the fleet"),
        field("plant", &text, "", "the plant's name"),
        field("loop", &text, "", "the loop's name"),
        field("site", &text, "", "the site's name"),
        field("state", &text, "", &kinds("what the plant is counted as", &states)),
        field("from", &time, "", "start of the period, UTC"),
        field("to", &time, "", "first instant after the period, UTC"),
        field("coverage", &number, "1", "share of the period in which every pump's state is known"),
        field("energy", &number, "kWh", "what the plant's pumps used in the period; the same in each row of the plant"),
        field("currency", &text, "", "currency of the plant's price of energy; null where none is declared"),
        field("energy_price", &number, "currency/kWh", "the plant's price of energy"),
        field(
            "fault",
            &text,
            "",
            &kinds("the finding's fault; null where nothing was found", &Fault::ALL.map(Fault::code)),
        ),
        field("subject", &text, "", "loop, or a pump's, coil's or point's name"),
        field("urgency", &text, "", &kinds("how urgent", &["act", "plan", "watch"])),
        field("confidence", &number, "1", "probability that the finding is true"),
        field("hours", &number, "h", "how long the fault was there in the period"),
        field("waste", &number, "kWh", waste),
        field("waste_low", &number, "kWh", &of_interval(waste, "lower")),
        field("waste_high", &number, "kWh", &of_interval(waste, "upper")),
        field("waste_per_year", &number, "kWh/a", yearly),
        field("waste_per_year_low", &number, "kWh/a", &of_interval(yearly, "lower")),
        field("waste_per_year_high", &number, "kWh/a", &of_interval(yearly, "upper")),
        field("caused_by", &text, "", "the fault that brings this one about; its waste is not to be added again"),
        field("status", &text, "", &kinds("against the plant's last review", &["new", "persisting"])),
        field("since", &time, "", "when the fault was first seen, over all reviews, UTC"),
        field("change", &text, "", "what to change, in the reader's units"),
    ])
}

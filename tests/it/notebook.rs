//! The notebook: names are data, cells are the same text for every plant, and every fault has one.

use crate::fixture;
use arrow::datatypes::DataType;
use offcurve::{
    faults::{Fault, Finding, Verdict},
    pipeline::Review,
    plant::UnitSystem,
    report::{self, Written},
};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use serde_json::Value;
use std::{fs, path::Path};

/// What breaks a string, a cell, a format or a formula, were a name ever written as source.
const HOSTILE: &str = "A\"1\" '''\"\"\"{FACTS}\\n\n%run x\n__import__('os').system('x') $\\frac{} ^.*$ <b>";

fn written(review: &Review, out: &Path) -> Written {
    report::write(review, out, UnitSystem::Si).expect("a scratch folder can be written")
}

fn cells(written: &Written) -> Vec<Value> {
    let text = fs::read_to_string(written.folder.join("review.ipynb")).expect("a notebook");
    let book: Value = serde_json::from_str(&text).expect("JSON");
    book["cells"].as_array().expect("cells").clone()
}

fn code(cells: &[Value]) -> Vec<String> {
    let of_code = cells.iter().filter(|c| c["cell_type"] == "code");
    of_code.map(|c| c["source"].as_str().expect("text").to_owned()).collect()
}

fn facts(written: &Written) -> (Value, Vec<(String, DataType)>) {
    let file = fs::File::open(written.folder.join("operating-points.parquet")).expect("a table");
    let reader = ParquetRecordBatchReaderBuilder::try_new(file).expect("Parquet");
    let metadata = reader.metadata().file_metadata().key_value_metadata().expect("metadata").clone();
    let facts = metadata.iter().find(|m| m.key == "facts").and_then(|m| m.value.clone()).expect("facts");
    let columns = reader.schema().fields().iter().map(|f| (f.name().clone(), f.data_type().clone())).collect();
    (serde_json::from_str(&facts).expect("JSON"), columns)
}

/// The fixture with one finding of each fault, and every name hostile.
fn of_all_faults(name: &str) -> Review {
    let mut review = fixture::review();
    let Some(Verdict::Found(like)) = review.verdicts.iter().find(|v| matches!(v, Verdict::Found(_))).cloned() else {
        panic!("the fixture has a finding")
    };
    let of = |fault| Verdict::Found(Box::new(Finding { fault, subject: name.to_owned(), ..(*like).clone() }));
    review.verdicts = Fault::ALL.into_iter().map(of).collect();
    review.plant.system.name = Some(name.to_owned());
    for c in &mut review.plant.coils {
        c.name = format!("{name} {}", c.name);
    }
    for s in &mut review.screened.series {
        s.of = s.of.as_ref().map(|of| format!("{name} {of}"));
        s.name = format!("{name} {}", s.name);
    }
    review
}

#[test]
fn a_name_is_never_source_text() {
    let (plain, hostile) = (crate::scratch::folder(), crate::scratch::folder());
    let one = cells(&written(&of_all_faults("plain"), plain.path()));
    let result = written(&of_all_faults(HOSTILE), hostile.path());
    let other = cells(&result);
    // Two plants of other names have the very same code.
    assert_eq!(code(&one), code(&other));
    // As data it comes through whole.
    let (facts, _) = facts(&result);
    assert_eq!(facts["loop"], HOSTILE);
    assert_eq!(facts["coils"][0]["name"], format!("{HOSTILE} AHU-1"));
    // In a text cell no name makes a line or a tag of its own.
    for text in other.iter().filter(|c| c["cell_type"] == "markdown").map(|c| c["source"].as_str().expect("text")) {
        assert!(!text.contains("\n%run") && !text.contains("<b>"), "{text}");
    }
}

#[test]
fn every_fault_has_a_cell_that_compares() {
    let dir = crate::scratch::folder();
    let all = cells(&written(&of_all_faults("plain"), dir.path()));
    let found: Vec<&Value> =
        all.iter().filter(|c| c["id"].as_str().is_some_and(|i| i.starts_with("finding-"))).collect();
    assert_eq!(found.len(), 16);
    for fault in Fault::ALL {
        let line = format!("assert finding[\"fault\"] == \"{}\"\n", fault.code());
        let own: Vec<_> = found.iter().filter(|c| c["source"].as_str().expect("text").contains(&line)).collect();
        assert_eq!(own.len(), 1, "{}", fault.code());
        assert!(own[0]["source"].as_str().expect("text").contains("compare("), "{}", fault.code());
    }
    // Valid identifiers, none twice (nbformat 4.5).
    let mut ids: Vec<&str> = all.iter().map(|c| c["id"].as_str().expect("an id")).collect();
    assert!(ids.iter().all(|i| i.len() <= 64 && i.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')));
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all.len());
}

/// Valves stand beside the points only where a finding rests on them; supply and return always.
#[test]
fn readings_are_written_where_a_finding_needs_them() {
    let readings = |review: &Review| {
        let dir = crate::scratch::folder();
        let (facts, columns) = facts(&written(review, dir.path()));
        let beside: Vec<(String, DataType)> = columns.into_iter().skip(20).collect();
        let listed: Vec<&str> =
            facts["columns"].as_array().expect("columns").iter().map(|c| c["column"].as_str().expect("text")).collect();
        assert_eq!(beside.iter().map(|c| c.0.as_str()).collect::<Vec<_>>(), listed);
        assert!(beside.iter().all(|c| c.1 == DataType::Float32));
        beside.into_iter().map(|c| c.0).collect::<Vec<_>>()
    };
    let mut review = fixture::review();
    let all = readings(&review);
    assert!(all.contains(&"valve_position.3".to_owned()) && all.contains(&"need_head".to_owned()), "{all:?}");
    review.verdicts.clear();
    assert_eq!(readings(&review), ["supply_temperature", "return_temperature"]);
}

//! The lists of fields of verification.json and fleet.json in DEVELOPERS.md against their schemas: each leaf of the one stands in the other.

use serde_json::Value;
use std::collections::BTreeSet;

use offcurve::report::{FLEET_SCHEMA, VERIFICATION_SCHEMA};

const LIST: &str = include_str!("../../DEVELOPERS.md");

/// Leaves by path; a range and a setting are one leaf each, since the list says once what they hold.
fn leaves(root: &Value, node: &Value, path: &str, out: &mut BTreeSet<String>) {
    let named = node["$ref"].as_str().map(|r| r.rsplit('/').next().expect("a name"));
    if matches!(named, Some("range" | "settings" | "fault")) {
        out.insert(path.to_owned());
        return;
    }
    if let Some(name) = named {
        return leaves(root, &root["$defs"][name], path, out);
    }
    if let Some(any) = node["oneOf"].as_array() {
        return any.iter().filter(|n| n["type"] != "null").for_each(|n| leaves(root, n, path, out));
    }
    if let Some(properties) = node["properties"].as_object() {
        for (key, child) in properties {
            let at = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
            leaves(root, child, &at, out);
        }
    } else if node["items"].is_object() {
        leaves(root, &node["items"], &format!("{path}[]"), out);
    } else {
        out.insert(path.to_owned());
    }
}

#[test]
fn every_field_is_listed_with_its_unit() {
    for (file, schema, least) in [("verification.json", VERIFICATION_SCHEMA, 80), ("fleet.json", FLEET_SCHEMA, 50)] {
        check(file, schema, least);
    }
}

fn check(file: &str, schema: &str, least: usize) {
    let schema: Value = serde_json::from_str(schema).expect("JSON");
    let mut wanted = BTreeSet::new();
    leaves(&schema, &schema, "", &mut wanted);
    let start = LIST.find(&format!("## {file}, field by field")).expect("the list");
    let list = LIST[start..].lines().skip_while(|l| !l.starts_with("| ---")).skip(1).take_while(|l| l.starts_with('|'));
    let cells = list.map(|l| l.split('|').nth(1).expect("a first cell").to_owned());
    let listed: BTreeSet<String> =
        cells.flat_map(|c| c.split('`').skip(1).step_by(2).map(str::to_owned).collect::<Vec<_>>()).collect();
    assert!(wanted.len() > least, "{wanted:?}");
    let (missing, stale): (Vec<_>, Vec<_>) =
        (wanted.difference(&listed).collect(), listed.difference(&wanted).collect());
    assert!(missing.is_empty() && stale.is_empty(), "{file}: not listed: {missing:?}; listed but not there: {stale:?}");
}

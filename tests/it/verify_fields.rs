//! The lists of fields in DEVELOPERS.md against the schemas of verification.json, of fleet.json, and of what findings.json holds for later reviews: each
//! leaf of the one stands in the other.

use serde_json::Value;
use std::collections::BTreeSet;

use offcurve::report::{FLEET_SCHEMA, VERIFICATION_SCHEMA};

const FINDINGS: &str = include_str!("../../src/report/findings.schema.json");
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

/// Of a schema, the leaves that pass, against the list below a heading.
fn check(schema: &str, heading: &str, least: usize, passes: impl Fn(&str) -> bool) {
    let schema: Value = serde_json::from_str(schema).expect("JSON");
    let mut wanted = BTreeSet::new();
    leaves(&schema, &schema, "", &mut wanted);
    wanted.retain(|w| passes(w));
    let start = LIST.find(heading).expect("the list");
    let list = LIST[start..].lines().skip_while(|l| !l.starts_with("| ---")).skip(1).take_while(|l| l.starts_with('|'));
    let cells = list.map(|l| l.split('|').nth(1).expect("a first cell").to_owned());
    let listed: BTreeSet<String> =
        cells.flat_map(|c| c.split('`').skip(1).step_by(2).map(str::to_owned).collect::<Vec<_>>()).collect();
    assert!(wanted.len() > least, "{wanted:?}");
    let (missing, stale): (Vec<_>, Vec<_>) =
        (wanted.difference(&listed).collect(), listed.difference(&wanted).collect());
    assert!(
        missing.is_empty() && stale.is_empty(),
        "{heading}: not listed: {missing:?}; listed but not there: {stale:?}"
    );
}

#[test]
fn every_field_is_listed_with_its_unit() {
    check(VERIFICATION_SCHEMA, "## verification.json, field by field", 80, |_| true);
    check(FLEET_SCHEMA, "## fleet.json, field by field", 50, |_| true);
}

#[test]
fn what_a_later_review_needs_is_listed_with_its_unit() {
    let whole = ["undecided", "compared_with", "normalised", "operation"];
    let further =
        ["seen_in", "not_told_in", "cost_so_far_kwh", "cost_so_far_money", "cost_so_far_priced_in", "returned"];
    check(FINDINGS, "## findings.json: what a later review needs", 50, |leaf| {
        let mut parts = leaf.split(['.', '[']).filter(|p| *p != "]");
        let (first, second) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
        whole.contains(&first)
            || (matches!(first, "findings" | "resolved") && further.contains(&second))
            || (first == "resolved" && second == "since")
    });
}

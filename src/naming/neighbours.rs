//! What the other names of a file add.

use super::concepts::Concept::*;
use super::rules::{FAIR, LIKELY, OPEN};
use super::subjects::Name;
use super::{OfKind, Proposal, Seen};
use crate::plant::Role;
use std::collections::BTreeMap;

/// How much surer a rival must be before the other is doubted.
const CLEARLY: f64 = 0.1;

/// Lets the names of a file help one another.
pub fn help(names: &[Name], seen: &[Seen<'_>], found: &mut [Proposal]) {
    commands_beside_feedback(names, found);
    units_nobody_names(names, found);
    rivals(seen, found);
}

/// An "output" in % beside a point that reads the speed back is the command.
fn commands_beside_feedback(names: &[Name], found: &mut [Proposal]) {
    let mut read_back: BTreeMap<String, usize> = BTreeMap::new();
    for (name, proposal) in names.iter().zip(found.iter()) {
        if proposal.role == Some(Role::PumpSpeed)
            && name.any(&[Feedback, Speed])
            && proposal.confidence >= FAIR
            && let Some(of) = &proposal.of
        {
            *read_back.entry(of.clone()).or_insert(0) += 1;
        }
    }
    for (name, proposal) in names.iter().zip(found.iter_mut()) {
        let beside = proposal.of.as_ref().is_some_and(|of| read_back.contains_key(of));
        if beside
            && name.has(Output)
            && !name.any(&[Feedback, Frequency])
            && proposal.of_kind == Some(OfKind::Pump)
            && proposal.role == Some(Role::PumpSpeedCommand)
        {
            proposal.confidence = proposal.confidence.max(LIKELY);
            proposal.why = "The name speaks of a drive's output, and another point reads the speed back.".to_owned();
        }
    }
}

/// Kinds of coil points that must share a label before it is taken for a unit's.
const KINDS: usize = 2;

/// "CR-1" before a valve and an air temperature: whatever it is called, it is a unit with a coil.
fn units_nobody_names(names: &[Name], found: &mut [Proposal]) {
    let mut kinds: BTreeMap<String, Vec<&'static str>> = BTreeMap::new();
    let labels: Vec<Option<String>> = names.iter().zip(found.iter()).map(|(n, p)| unknown_label(n, p)).collect();
    for (label, proposal) in labels.iter().zip(found.iter()) {
        let (Some(label), Some(role)) = (label, proposal.role) else { continue };
        let kind = match role {
            Role::ValvePosition | Role::ValveCommand => "valve",
            other => other.word(),
        };
        let met = kinds.entry(label.clone()).or_default();
        if !met.contains(&kind) {
            met.push(kind);
        }
    }
    for (label, proposal) in labels.into_iter().zip(found.iter_mut()) {
        let Some(label) = label.filter(|l| kinds.get(l).is_some_and(|k| k.len() >= KINDS)) else { continue };
        proposal.confidence = proposal.confidence.max(LIKELY);
        let why = proposal.why.trim_end_matches('.').to_owned();
        proposal.why = format!("{why}; other points of {label} read a coil as well.");
        proposal.of = Some(label);
    }
}

/// The letters and number before what reads like a point of a coil that no word names.
fn unknown_label(name: &Name, proposal: &Proposal) -> Option<String> {
    let coil = matches!(
        proposal.role?,
        Role::ValvePosition | Role::ValveCommand | Role::AirTemperature | Role::AirTemperatureSetpoint | Role::CoilFlow
    );
    if !coil || proposal.of.is_some() || proposal.confidence < OPEN * 0.9 {
        return None;
    }
    let pair = name.words.windows(2).find(|w| w[0].means.is_empty() && !w[0].number && w[1].number)?;
    let letters = &pair[0].text;
    let number = pair[1].text.trim_start_matches('0');
    (letters.len() <= 4 && !number.is_empty()).then(|| format!("{}-{number}", letters.to_uppercase()))
}

/// Of two points that claim one role of one owner, the one whose name says clearly less is doubted.
fn rivals(seen: &[Seen<'_>], found: &mut [Proposal]) {
    let mut best: BTreeMap<(&'static str, String, &str), (f64, usize)> = BTreeMap::new();
    let key = |p: &Proposal, s: &Seen<'_>| -> Option<(&'static str, String)> {
        let _ = s;
        Some((p.role?.word(), p.of.clone()?))
    };
    for (i, (proposal, seen)) in found.iter().zip(seen).enumerate() {
        if let Some((role, of)) = key(proposal, seen) {
            let entry = best.entry((role, of, seen.context)).or_insert((proposal.confidence, i));
            if proposal.confidence > entry.0 {
                *entry = (proposal.confidence, i);
            }
        }
    }
    for (i, seen_one) in seen.iter().enumerate() {
        let Some((role, of)) = key(&found[i], seen_one) else { continue };
        let Some((confidence, winner)) = best.get(&(role, of, seen_one.context)) else { continue };
        if *winner != i && *confidence > found[i].confidence + CLEARLY {
            found[i].confidence = found[i].confidence.min(0.7);
            let why = found[i].why.trim_end_matches('.').to_owned();
            found[i].why =
                format!("{why}, but \"{}\" says so more plainly.", super::draft::one_line(seen[*winner].name));
        }
    }
}

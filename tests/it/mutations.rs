//! Damaged input never panics: random byte mutations of short cuts of the sample exports and of the plant files.

use crate::simulator;
use offcurve::{ingest, pipeline, plant};
use std::path::Path;

/// A small generator (Numerical Recipes' 64-bit linear congruential constants), so that a failure can be repeated.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % below.max(1)
    }
    /// Changes, cuts out, doubles or puts in one to six bytes.
    fn damage(&mut self, bytes: &[u8]) -> Vec<u8> {
        let mut out = bytes.to_vec();
        for _ in 0..=self.roll(6) {
            let at = self.roll(out.len());
            match self.roll(6) {
                0 => out[at] = self.roll(256) as u8,
                1 => out[at] = MARKS[self.roll(MARKS.len())],
                2 => drop(out.remove(at)),
                3 => out.insert(at, MARKS[self.roll(MARKS.len())]),
                4 => out.truncate(at.max(1)),
                _ => {
                    let end = (at + self.roll(40)).min(out.len());
                    let piece = out[at..end].to_vec();
                    out.splice(at..at, piece);
                }
            }
            if out.is_empty() {
                out.push(b'\n');
            }
        }
        out
    }
}

/// Bytes that mean something to a reader of exports and plant files.
const MARKS: &[u8] = b",;\t\"\n\r .-:/0159aeN[]=#";

struct Short {
    plant: String,
    files: Vec<(String, Vec<u8>)>,
}

/// The first lines of each export.
fn short(folder: &str, lines: usize) -> Short {
    let mut plant = String::new();
    let mut files = Vec::new();
    for (path, bytes) in simulator::sample_files(folder) {
        let path = path.trim_start_matches(&format!("{folder}/")).to_owned();
        if path == "plant.toml" {
            plant = String::from_utf8(bytes).expect("a plant file is text");
        } else if path.ends_with(".csv") {
            let end =
                bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').nth(lines).map_or(bytes.len(), |e| e.0 + 1);
            files.push((path, bytes[..end].to_vec()));
        }
    }
    Short { plant, files }
}

/// Damages the plant file or one export and runs as far as the damage lets it.
fn run(short: &Short, dice: &mut Dice, whole: bool) -> bool {
    let text = if dice.roll(2) == 0 {
        String::from_utf8_lossy(&dice.damage(short.plant.as_bytes())).into_owned()
    } else {
        short.plant.clone()
    };
    let Ok(plant) = plant::parse(&text, Path::new("damaged/plant.toml")) else { return false };
    let plant = plant.value;
    let hit = dice.roll(short.files.len());
    let files: Vec<(String, Vec<u8>)> = short
        .files
        .iter()
        .enumerate()
        .map(|(i, (path, bytes))| (path.clone(), if i == hit { dice.damage(bytes) } else { bytes.clone() }))
        .collect();
    let slices: Vec<(String, &[u8])> = files.iter().map(|(p, b)| (p.clone(), b.as_slice())).collect();
    let Ok(trends) = ingest::from_bytes(&plant, &slices) else { return false };
    whole && pipeline::review(plant, trends, None).is_ok()
}

#[test]
fn ten_thousand_damaged_inputs_do_not_panic() {
    let mut dice = Dice(20_260_501);
    for folder in ["quay-house", "orchard-school"] {
        let short = short(folder, 40);
        for _ in 0..5_000 {
            run(&short, &mut dice, false);
        }
    }
}

#[test]
fn two_hundred_damaged_inputs_go_through_a_whole_review() {
    let mut dice = Dice(7);
    let mut reviewed = 0;
    for (folder, lines) in [("quay-house", 300), ("orchard-school", 3000)] {
        let short = short(folder, lines);
        for _ in 0..100 {
            reviewed += usize::from(run(&short, &mut dice, true));
        }
    }
    assert!(
        reviewed >= 50,
        "only {reviewed} of 200 damaged inputs reached the end: the damage is too coarse to test anything"
    );
}

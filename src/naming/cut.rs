//! Words run together, taken apart by the vocabulary: "CHWPSPDFB", "supairtmpsp", "Heizkreispumpe".
//!
//! The cheapest way to come to each letter: few and long pieces cost least. Capitals may be cut into shorter pieces than
//! ordinary writing, where an unread word falls into short words by chance.

use super::concepts::{Concept, Set};
use super::lexicon::vocabulary;
use super::tokens::Token;

/// What may follow a medium in one run of letters, and nothing else: CHWS, HWRT, CHWP.
const AFTER_MEDIUM: [(&str, &[Concept]); 12] = [
    ("s", &[Concept::Supply]),
    ("r", &[Concept::Return]),
    ("st", &[Concept::Supply, Concept::Temperature]),
    ("rt", &[Concept::Return, Concept::Temperature]),
    ("lt", &[Concept::Supply, Concept::Temperature]),
    ("et", &[Concept::Return, Concept::Temperature]),
    ("p", &[Concept::Pump]),
    ("v", &[Concept::Valve]),
    ("f", &[Concept::Flow]),
    ("t", &[Concept::Temperature]),
    ("l", &[Concept::Supply]),
    ("e", &[Concept::Return]),
];
/// Media as abbreviations, which the pieces above may follow.
const MEDIA: [&str; 18] = [
    "pcw", "mpcw", "ghw", "rhw", "chw", "hhw", "hw", "cw", "cdw", "cndw", "lthw", "mthw", "ckw", "htw", "lphw", "mphw",
    "hthw", "ltchw",
];
pub fn is_medium(text: &str) -> bool {
    MEDIA.contains(&text)
}

/// Before a medium: primary, secondary, tertiary.
const BEFORE_MEDIUM: [&str; 5] = ["p", "s", "t", "l", "e"];
/// After these a T at the end of a run is a temperature: CHWSUPT, OUTSIDEAIRT.
const TAKES_T: [Concept; 6] =
    [Concept::Supply, Concept::Return, Concept::Outdoor, Concept::Air, Concept::SupplyAir, Concept::Room];
/// Abbreviations so usual that a run of small letters may be made of them: "supairtmpsp".
const CORE: [&str; 62] = [
    "sup",
    "sply",
    "ret",
    "rtn",
    "tmp",
    "temp",
    "vlv",
    "valve",
    "pos",
    "cmd",
    "sts",
    "spd",
    "speed",
    "pmp",
    "pump",
    "fan",
    "clg",
    "htg",
    "byp",
    "dp",
    "sp",
    "evap",
    "lvg",
    "ent",
    "air",
    "wtr",
    "oa",
    "sa",
    "da",
    "ra",
    "fb",
    "fbk",
    "out",
    "set",
    "flow",
    "press",
    "diff",
    "kw",
    "kwh",
    "amp",
    "amps",
    "sf",
    "run",
    "stat",
    "status",
    "vfd",
    "alm",
    "flt",
    "ena",
    "zone",
    "room",
    "stpt",
    "pri",
    "sec",
    "hdr",
    "disch",
    "coil",
    "cool",
    "heat",
    "water",
    "delta",
    "discharge",
];
fn is_core(text: &str) -> bool {
    CORE.contains(&text)
}

/// After these a letter may stand for a number.
const LETTERED: [Concept; 3] = [Concept::Pump, Concept::Source, Concept::Unit];
/// What three letters of an unread word in ordinary writing never stand for: "before" speaks of no hours ("ore").
const BY_CHANCE: [Concept; 8] = [
    Concept::Hours,
    Concept::Other,
    Concept::Weather,
    Concept::AirQuality,
    Concept::Wet,
    Concept::Electrical,
    Concept::Foreign,
    Concept::Noise,
];
/// What joins German words.
const JOINTS: [&str; 3] = ["s", "n", "en"];
/// Price of one more piece, by its length [letters]: short ones fit anywhere.
fn price(length: usize) -> f64 {
    match length {
        0 | 1 => 1.6,
        2 => 1.4,
        3 => 1.0,
        _ => 0.7,
    }
}

pub type Pieces = Vec<(String, Set)>;

/// "LIBCHWST": letters of a site in front of a run that starts with a medium.
pub fn cut_behind_site(token: &Token) -> Option<Pieces> {
    if !token.capitals || !token.text.is_ascii() {
        return None;
    }
    (2..=4).find_map(|site| {
        let rest = token.text.get(site..).filter(|r| MEDIA.iter().any(|m| m.len() > 2 && r.starts_with(m)))?;
        let behind = Token { text: rest.to_owned(), ..token.clone() };
        let mut pieces = vec![(token.text[..site].to_owned(), Set::default())];
        pieces.extend(cut(&behind)?);
        Some(pieces)
    })
}

/// A run of letters as words of the vocabulary without rest, the fewest and longest.
pub fn cut(token: &Token) -> Option<Pieces> {
    let text = token.text.as_str();
    if !text.is_ascii() || text.len() < 3 || text.len() > 40 {
        return None;
    }
    // The best way to have come to each letter, and whether a medium ended there.
    let mut best: Vec<Option<(f64, Pieces, bool)>> = vec![None; text.len() + 1];
    best[0] = Some((0.0, Vec::new(), false));
    for start in 0..text.len() {
        let Some((cost, pieces, medium)) = best[start].clone() else { continue };
        let rest = &text[start..];
        let mut reach = |length: usize, means: Set, more: f64, is_medium: bool| {
            let cost = cost + more;
            let end = start + length;
            if best[end].as_ref().is_none_or(|b| cost < b.0) {
                let mut pieces = pieces.clone();
                pieces.push((text[start..end].to_owned(), means));
                best[end] = Some((cost, pieces, is_medium));
            }
        };
        for length in 2..=rest.len().min(vocabulary().longest) {
            // In ordinary writing short words do not run together.
            let begins = start == 0 && MEDIA.contains(&&rest[..length]);
            if length < 3 && !token.capitals && !medium && !begins && !is_core(&rest[..length]) {
                continue;
            }
            if let Some(means) = vocabulary().words.get(&rest[..length]) {
                if length < 4 && !token.capitals && means.any(&BY_CHANCE) && !is_core(&rest[..length]) {
                    continue;
                }
                let is_medium = MEDIA.contains(&&rest[..length]);
                reach(length, *means, if is_medium { 0.8 } else { price(length) }, is_medium);
            }
        }
        // "PUMPA": the letter that tells one from the others.
        if matches!(rest, "a" | "b" | "c" | "d") && pieces.last().is_some_and(|p| p.0.len() > 2 && p.1.any(&LETTERED)) {
            reach(1, Set::default(), 0.9, false);
        }
        if rest == "t" && pieces.last().is_some_and(|p| p.1.any(&TAKES_T)) {
            let mut set = Set::default();
            set.add(Concept::Temperature);
            reach(1, set, 0.9, false);
        }
        if medium {
            for (piece, means) in AFTER_MEDIUM.iter().filter(|p| rest.starts_with(p.0)) {
                let mut set = Set::default();
                means.iter().for_each(|m| set.add(*m));
                reach(piece.len(), set, if piece.len() == 1 { 0.8 } else { 0.9 }, false);
            }
        }
        // "TSORTIE", "TZONE": T before a word for where.
        if start == 0 && token.capitals && rest.starts_with('t') && rest.len() > 4 {
            let whole = vocabulary().words.get(&rest[1..]).filter(|m| m.any(&TAKES_T));
            if whole.is_some() {
                let mut set = Set::default();
                set.add(Concept::Temperature);
                reach(1, set, 0.4, false);
            }
        }
        if start == 0 {
            for piece in BEFORE_MEDIUM {
                if rest.strip_prefix(piece).is_some_and(|r| MEDIA.iter().any(|m| r.starts_with(m))) {
                    let mut set = Set::default();
                    match piece {
                        "l" => set.add(Concept::Supply),
                        "e" => set.add(Concept::Return),
                        _ => set.add(Concept::Loop),
                    }
                    reach(1, set, 0.8, false);
                }
            }
        } else if !token.capitals || rest.len() > 4 {
            for joint in JOINTS.iter().filter(|j| rest.starts_with(**j) && rest.len() > j.len() + 2) {
                reach(joint.len(), Set::default(), 0.5, false);
            }
        }
    }
    let (cost, pieces, _) = best[text.len()].take()?;
    let core = pieces.iter().all(|p| p.0.len() > 4 || is_core(&p.0) || is_medium(&p.0) || p.0 == "t");
    let capitals = token.capitals || core;
    let limit = 0.8 + if capitals { 0.5 } else { 0.42 } * text.len() as f64;
    let short = pieces.iter().skip(1).any(|p| p.0.len() < 3 && !p.1.is_empty()) && !is_medium(&pieces[0].0);
    if short && !capitals {
        return None;
    }
    // An unread word of ordinary writing may fall into short words by chance: "consumida".
    let begins = MEDIA.iter().any(|m| text.starts_with(m));
    let chance = !capitals && !begins && text.len() > 7 && pieces.len() > text.len() / 4;
    (pieces.len() > 1 && cost <= limit && !chance).then_some(pieces)
}

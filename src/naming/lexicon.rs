//! From words to ideas: the vocabulary looked up, words run together taken apart.

use super::concepts::{Concept, Set};
use super::forms;
use super::tokens::{self, Token};
use super::words::WORDS;
use super::words_quantities::QUANTITIES;
use std::collections::HashMap;
use std::sync::OnceLock;

/// A word or phrase of a name with what it stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// As the vocabulary writes it, or as the name does where it is unknown.
    pub text: String,
    pub means: Set,
    pub known: bool,
    pub number: bool,
    pub before: Option<char>,
    pub capitals: bool,
}

impl Word {
    pub fn has(&self, concept: Concept) -> bool {
        self.means.has(concept)
    }
    pub fn glued(&self) -> bool {
        self.before.is_none()
    }
}

/// Longest phrase of the vocabulary [words].
const PHRASE: usize = 4;

/// The vocabulary as it is looked up.
pub struct Vocabulary {
    pub words: HashMap<&'static str, Set>,
    /// The same by the alphabet.
    pub sorted: Vec<(&'static str, Set)>,
    /// What all words of the same consonants mean.
    pub skeletons: HashMap<String, Set>,
    longest: usize,
}

fn vocabulary() -> &'static Vocabulary {
    static ONCE: OnceLock<Vocabulary> = OnceLock::new();
    ONCE.get_or_init(|| {
        let mut words: HashMap<&'static str, Set> = HashMap::new();
        for (means, list) in WORDS.iter().chain(QUANTITIES) {
            for word in list.split_whitespace() {
                let set = words.entry(word).or_default();
                means.iter().for_each(|m| set.add(*m));
            }
        }
        let longest = words.keys().map(|w| w.len()).max().unwrap_or(0);
        let mut sorted: Vec<(&'static str, Set)> = words.iter().map(|w| (*w.0, *w.1)).collect();
        sorted.sort_unstable_by_key(|w| w.0);
        let mut skeletons: HashMap<String, Set> = HashMap::new();
        for (word, means) in sorted.iter().filter(|w| w.0.len() > 4 && !w.0.contains('_')) {
            skeletons.entry(forms::skeleton(word)).and_modify(|s| *s = s.meet(*means)).or_insert(*means);
        }
        Vocabulary { words, sorted, skeletons, longest }
    })
}

/// What a word stands for; plurals and endings of adjectives are tried as well.
fn look_up(word: &str) -> Option<Set> {
    let words = &vocabulary().words;
    words.get(word).copied().or_else(|| {
        ["s", "n", "e", "en", "es"].iter().find_map(|ending| {
            let stem = word.strip_suffix(ending)?;
            if stem.len() < 4 { None } else { words.get(stem).copied() }
        })
    })
}

/// The words of a name in order.
#[must_use]
pub fn words(name: &str) -> Vec<Word> {
    let tokens = tokens::tokens(name);
    let mut found: Vec<Word> = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        if let Some((text, means, length)) = forms::plant_tag(&tokens[at..]) {
            found.push(word(&tokens[at], text, means));
            at += length;
            continue;
        }
        if let Some((text, means, length)) = phrase(&tokens[at..]) {
            found.push(word(&tokens[at], text, means));
            at += length;
            continue;
        }
        let token = &tokens[at];
        if token.number {
            let mut number = word(token, token.text.clone(), Set::default());
            number.number = true;
            found.push(number);
        } else if let Some(means) = look_up(&token.text) {
            found.push(word(token, token.text.clone(), means));
        } else if let Some(pieces) = cut(token).or_else(|| cut_behind_site(token)) {
            found.extend(pieces.into_iter().enumerate().map(|(i, (text, means))| {
                let mut piece = word(token, text, means);
                piece.before = if i == 0 { token.before } else { None };
                piece
            }));
        } else {
            let guess = forms::guess(vocabulary(), &token.text).unwrap_or_default();
            let mut unknown = word(token, token.text.clone(), guess);
            unknown.known = false;
            found.push(unknown);
        }
        at += 1;
    }
    join(found)
}

/// Pieces of one run that are a phrase together: "condenserwater".
fn join(words: Vec<Word>) -> Vec<Word> {
    let mut joined: Vec<Word> = Vec::with_capacity(words.len());
    let mut at = 0;
    while at < words.len() {
        let run = words[at + 1..].iter().take(PHRASE - 1).take_while(|w| w.glued() && !w.number).count();
        let longest = (1..=run).rev().find_map(|more| {
            let pieces: Vec<&str> = words[at..=at + more].iter().map(|w| w.text.as_str()).collect();
            let text = pieces.join("_");
            let means = vocabulary().words.get(text.as_str())?;
            Some((more, text, *means))
        });
        let mut word = words[at].clone();
        match longest {
            Some((more, text, means)) if !word.number && word.known => {
                (word.text, word.means) = (text, means);
                at += more + 1;
            }
            _ => at += 1,
        }
        joined.push(word);
    }
    joined
}

fn word(token: &Token, text: String, means: Set) -> Word {
    Word { text, means, known: true, number: false, before: token.before, capitals: token.capitals }
}

/// The longest phrase of several tokens that starts here. A phrase does not cross what cuts a path.
fn phrase(tokens: &[Token]) -> Option<(String, Set, usize)> {
    let most = tokens.len().min(PHRASE);
    let mut text = tokens[0].text.clone();
    let mut found = None;
    for (length, token) in tokens.iter().enumerate().take(most).skip(1) {
        if matches!(token.before, Some(':' | '\\' | '|' | '!')) {
            break;
        }
        text.push('_');
        text.push_str(&token.text);
        let whole = || vocabulary().words.get(text.as_str());
        let single = || vocabulary().words.get(text.strip_suffix('s').filter(|t| t.len() > 5)?);
        if let Some(means) = whole().or_else(single) {
            found = Some((text.clone(), *means, length + 1));
        }
    }
    found
}

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

type Pieces = Vec<(String, Set)>;

/// "LIBCHWST": letters of a site in front of a run that starts with a medium.
fn cut_behind_site(token: &Token) -> Option<Pieces> {
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
fn cut(token: &Token) -> Option<Pieces> {
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
    let core = pieces.iter().all(|p| is_core(&p.0) || is_medium(&p.0) || p.0 == "t");
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

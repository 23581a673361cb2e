//! Words that mean one thing here and another there: their company, the unit and the values decide.

use super::concepts::{Concept, Concept::*, Set};
use super::evidence::{self, Measured};
use super::lexicon::Word;
use super::{Seen, senses_letters, senses_tags, senses_words};
use crate::plant::Dimension as D;

/// Whether the file speaks German: some abbreviations are only read that way there.
pub fn is_german(words: &[Word], context: &str) -> bool {
    const SIGNS: [&str; 43] = [
        "nord",
        "sued",
        "ost",
        "pumpe",
        "vorlauf",
        "ruecklauf",
        "vl",
        "rl",
        "heizkreis",
        "kessel",
        "drehzahl",
        "leistung",
        "temperatur",
        "ist",
        "soll",
        "istwert",
        "sollwert",
        "rlt",
        "ventil",
        "volumenstrom",
        "hk",
        "kk",
        "wmz",
        "fu",
        "bm",
        "stoerung",
        "heizung",
        "kaelte",
        "waerme",
        "raum",
        "betrieb",
        "druck",
        "km",
        "kkr",
        "wt",
        "ventilstellung",
        "differenzdruck",
        "zul",
        "abl",
        "aussen",
        "netz",
        "freigabe",
        "sm",
    ];
    let said = |text: &str| SIGNS.contains(&text);
    let stem = |text: &str| STEMS.iter().any(|s| text.starts_with(s));
    words.iter().any(|w| said(&w.text) || stem(&w.text)) || {
        let folded = super::lexicon::words(context);
        folded.iter().any(|w| said(&w.text))
    }
}

/// Beginnings of words that only German has.
const STEMS: [&str; 17] = [
    "betrieb",
    "stoer",
    "rueck",
    "durchfl",
    "kuehl",
    "druck",
    "leistung",
    "drehz",
    "stell",
    "heiz",
    "waerm",
    "kaelt",
    "mindest",
    "verdampfer",
    "schalt",
    "volumenstr",
    "umwaelz",
];

/// Gives every short word the one meaning that its company leaves.
pub fn settle(words: &mut [Word], seen: &Seen<'_>, measured: &Measured) {
    let german = is_german(words, seen.context);
    let binary = measured.states || (measured.dimension.is_none() && evidence::is_binary(seen));
    let texts: Vec<String> = words.iter().map(|w| w.text.clone()).collect();
    let numbers: Vec<bool> = words.iter().map(|w| w.number).collect();
    let first: Vec<Set> = words.iter().map(|w| w.means).collect();
    let dimension = measured.dimension;
    let one_of = |list: &[D]| dimension.is_some_and(|d| list.contains(&d));
    let mut of = Company {
        all: Set::default(),
        dimension,
        binary,
        share: one_of(&[D::Fraction, D::Frequency, D::ShaftSpeed, D::Voltage]),
        pressure: one_of(&[D::Pressure, D::Head]),
        silent: dimension.is_none() && !binary && !measured.foreign,
        warm: false,
        german,
        spanish: senses_tags::is_spanish(&texts),
        controller: texts.iter().any(|t| senses_tags::is_controller(t)),
        seen,
    };
    // Twice: what a short word turned out to be is company for the others.
    for _ in 0..2 {
        let all = words.iter().fold(Set::default(), |all, w| union(all, w.means));
        of.all = all;
        of.warm = dimension == Some(D::Temperature) || dimension.is_none() && !binary && all.has(Temperature);
        for i in 0..words.len() {
            let around = Around {
                before: i.checked_sub(1).map_or("", |b| texts[b].as_str()),
                after: texts.get(i + 1).map_or("", String::as_str),
                number_before: i > 0 && numbers[i - 1] && (i == 1 || !words[i - 1].glued()),
                glued_after: words.get(i + 1).is_some_and(|w| !w.number && w.glued()),
                before_sign: words[i].before,
                last: i + 1 == words.len(),
                number_after: numbers.get(i + 1).copied().unwrap_or(false),
                first: i == 0,
                opens: i == 0 || matches!(words[i].before, Some('/' | '.' | ':' | '|' | '\\' | ' ' | '_' | '-')),
                others: words
                    .iter()
                    .enumerate()
                    .filter(|w| w.0 != i)
                    .fold(Set::default(), |all, w| union(all, w.1.means)),
                ends_part: words.get(i + 1).is_some_and(|w| matches!(w.before, Some('/' | '|' | '\\' | '>' | ':'))),
                number_glued: words.get(i + 1).is_some_and(|w| w.number && w.glued()),
                glued: words[i].glued(),
            };
            words[i].means = first[i];
            if is_place_letter(&texts[i], &around) {
                continue;
            }
            if !words[i].known && of.warm && words[i].means.is_empty() {
                words[i].means = unread_water(&texts[i]);
            }
            if let Some(means) = meaning(&texts[i], &around, &of) {
                words[i].means = Set::default();
                means.iter().for_each(|m| words[i].means.add(*m));
                words[i].known = true;
            }
        }
    }
}

/// What stands beside a word.
pub struct Around<'a> {
    pub before: &'a str,
    pub after: &'a str,
    /// A number that stands by itself: "15 min", not "P1 min".
    pub number_before: bool,
    pub glued_after: bool,
    pub number_after: bool,
    pub before_sign: Option<char>,
    pub first: bool,
    /// First of the name, or after a separator.
    pub opens: bool,
    pub number_glued: bool,
    /// Last of its part of a path.
    pub ends_part: bool,
    /// What the other words stand for.
    pub others: Set,
    pub last: bool,
    pub glued: bool,
}

/// The ideas of all words of a name, what its unit measures, how its file speaks.
pub struct Company<'a> {
    pub all: Set,
    pub dimension: Option<D>,
    pub binary: bool,
    pub share: bool,
    pub pressure: bool,
    /// No unit is told and the values are no states.
    pub silent: bool,
    pub warm: bool,
    pub german: bool,
    pub spanish: bool,
    /// A word is the tag of a controller: SIC, PDIC.
    pub controller: bool,
    pub seen: &'a Seen<'a>,
}

fn union(mut a: Set, b: Set) -> Set {
    a.join(b);
    a
}

/// The sense of a short word, where its company leaves one.
fn meaning(text: &str, around: &Around<'_>, of: &Company<'_>) -> Option<&'static [Concept]> {
    let letters = || senses_letters::sense(text, around, of);
    senses_tags::sense(text, around, of).or_else(letters).or_else(|| senses_words::sense(text, around, of))
}

/// "TCWS", "HRWR temp": water of a loop that no list holds, with the letter for its way.
fn unread_water(text: &str) -> Set {
    let mut set = Set::default();
    if (3..=6).contains(&text.len()) {
        match text.strip_suffix('t').unwrap_or(text) {
            t if t.ends_with("ws") => [Supply, Water].into_iter().for_each(|c| set.add(c)),
            t if t.ends_with("wr") => [Return, Water].into_iter().for_each(|c| set.add(c)),
            _ => {}
        }
    }
    set
}

/// "H01", "B12" in front: a house, no head and no humidity.
fn is_place_letter(text: &str, around: &Around<'_>) -> bool {
    around.first
        && around.number_glued
        && matches!(text, "h" | "f" | "s" | "e" | "w" | "q" | "n" | "a" | "i" | "o" | "y")
}

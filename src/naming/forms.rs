//! Words that the vocabulary holds in another form: cut short, without vowels, mistyped, the head of a German compound;
//! and the tags of power-plant numbering.

use super::concepts::{Concept, Set};
use super::lexicon::Vocabulary;
use super::tokens::Token;

/// What an unknown word stands for by its form, where all that it may be short for agree.
pub fn guess(vocabulary: &Vocabulary, text: &str) -> Option<Set> {
    if text.len() < 4 || text.len() > 40 || !text.bytes().all(|b| b.is_ascii_lowercase()) {
        return None;
    }
    shortened(vocabulary, text)
        .or_else(|| without_vowels(vocabulary, text))
        .or_else(|| head(vocabulary, text))
        .or_else(|| mistyped(vocabulary, text))
}

/// What all of these mean; `None` for nothing.
fn shared(sets: impl Iterator<Item = Set>) -> Option<Set> {
    sets.reduce(Set::meet).filter(|s| !s.is_empty())
}

/// Shortest word of the vocabulary that is looked for behind a shortened one [letters].
const WHOLE: usize = 6;

/// "umwaelzp", "temperat": the beginning of words of one meaning.
fn shortened(vocabulary: &Vocabulary, text: &str) -> Option<Set> {
    let from = vocabulary.sorted.partition_point(|w| w.0 < text);
    let longer = vocabulary.sorted[from..].iter().take_while(|w| w.0.starts_with(text));
    shared(longer.filter(|w| w.0.len() >= WHOLE.max(text.len() + 2) && !w.0.contains('_')).map(|w| w.1))
}

/// "prssr", "fdbck": the consonants of a word, double ones once.
fn without_vowels(vocabulary: &Vocabulary, text: &str) -> Option<Set> {
    if skeleton(text) != text {
        return None;
    }
    vocabulary.skeletons.get(text).copied().filter(|s| !s.is_empty())
}

/// The consonants of a word, double ones once; the first letter stays whatever it is.
pub fn skeleton(word: &str) -> String {
    let mut out = String::new();
    for (i, c) in word.chars().enumerate() {
        let stays = i == 0 || !matches!(c, 'a' | 'e' | 'i' | 'o' | 'u');
        if stays && !out.ends_with(c) {
            out.push(c);
        }
    }
    out
}

/// Shortest head of a compound [letters].
const HEAD: usize = 4;

/// "Brennwertkessel": the last part of a compound says what the thing is.
fn head(vocabulary: &Vocabulary, text: &str) -> Option<Set> {
    let most = text.len().checked_sub(3)?;
    (HEAD..=most).rev().find_map(|length| {
        let end = &text[text.len() - length..];
        let whole = vocabulary.words.get(end).or_else(|| vocabulary.words.get(end.strip_suffix('n')?));
        whole.copied().filter(|s| COMPOUNDED.contains(&end) && !s.is_empty())
    })
}

/// Heads of compounds. Others may end in a word by chance ("transport", "forlift").
const COMPOUNDED: [&str; 45] = [
    "pump",
    "pumps",
    "valve",
    "chiller",
    "boiler",
    "pumpe",
    "pumpen",
    "kessel",
    "kaeltemaschine",
    "waermepumpe",
    "temperatur",
    "druck",
    "differenzdruck",
    "leistung",
    "drehzahl",
    "ventil",
    "strom",
    "volumenstrom",
    "durchfluss",
    "kreis",
    "vorlauf",
    "ruecklauf",
    "waermetauscher",
    "zaehler",
    "sollwert",
    "istwert",
    "stoerung",
    "meldung",
    "stellung",
    "frequenz",
    "energie",
    "klappe",
    "speicher",
    "ventilator",
    "kuehler",
    "erhitzer",
    "feuchte",
    "raum",
    "zimmer",
    "verteiler",
    "sammler",
    "spannung",
    "betrieb",
    "rueckmeldung",
    "befehl",
];

/// Shortest word that is taken for a mistyped one [letters].
const TYPED: usize = 7;

/// One letter too many, too few, wrong, or two swapped.
fn mistyped(vocabulary: &Vocabulary, text: &str) -> Option<Set> {
    if text.len() < TYPED {
        return None;
    }
    let first = text.get(..1)?;
    let from = vocabulary.sorted.partition_point(|w| w.0 < first);
    let near = vocabulary.sorted[from..].iter().take_while(|w| w.0.starts_with(first));
    let near = near.filter(|w| w.0.len().abs_diff(text.len()) <= 1 && w.0.len() >= TYPED);
    shared(near.filter(|w| strsim::osa_distance(w.0, text) == 1).map(|w| w.1))
}

/// Function keys of power-plant numbering ("10PGB10AP001"): what the two letters before the last number stand for.
/// From memory of the KKS keys; not looked up.
const KEYS: [(&str, &[Concept]); 12] = [
    ("ap", &[Concept::Pump]),
    ("aa", &[Concept::Valve]),
    ("an", &[Concept::Fan]),
    ("ac", &[Concept::Source, Concept::Exchanger]),
    ("ct", &[Concept::Temperature]),
    ("cp", &[Concept::Pressure]),
    ("cf", &[Concept::Flow]),
    ("cs", &[Concept::Speed]),
    ("cg", &[Concept::Position]),
    ("ce", &[Concept::Noise]),
    ("cl", &[Concept::Level]),
    ("at", &[Concept::Filter]),
];

/// What the text of a word that is such a tag starts with.
pub const TAG: &str = "tag:";

/// A tag of power-plant numbering at the start of these: its text, what it stands for, how many tokens it takes.
pub fn plant_tag(tokens: &[Token]) -> Option<(String, Set, usize)> {
    let letters = |t: &Token, n: usize| !t.number && t.text.len() == n;
    let at = usize::from(tokens.first()?.number);
    let [system, number, key, last, ..] = tokens.get(at..)? else { return None };
    let glued = tokens[1..at + 4].iter().all(|t| t.before.is_none());
    let fits = letters(system, 3) && number.number && number.text.len() == 2 && letters(key, 2);
    if !glued || !fits || !last.number || last.text.len() != 3 {
        return None;
    }
    let mut set = Set::default();
    let means = KEYS.iter().find(|k| k.0 == key.text).map_or(&[][..], |k| k.1);
    means.iter().for_each(|c| set.add(*c));
    let whole: String = tokens[..at + 4].iter().map(|t| t.text.as_str()).collect();
    Some((format!("{TAG}{whole}"), set, at + 4))
}

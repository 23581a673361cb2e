//! From words to ideas: the vocabulary looked up, words run together taken apart.

use super::concepts::{Concept, Set};
use super::cut;
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
    pub longest: usize,
}

pub fn vocabulary() -> &'static Vocabulary {
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
        } else if let Some(pieces) = cut::cut(token).or_else(|| cut::cut_behind_site(token)) {
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
    join(&found)
}

/// Pieces of one run that are a phrase together: "condenserwater".
fn join(words: &[Word]) -> Vec<Word> {
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

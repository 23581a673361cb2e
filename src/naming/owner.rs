//! Whose point it is: the equipment's own label in the name.

use super::OfKind;
use super::concepts::Concept::{self, *};
use super::lexicon::Word;

/// Words that stand for a kind of equipment, and the letters its label gets.
const LETTERS: [(&str, &str); 40] = [
    ("pump", "P"),
    ("pmp", "P"),
    ("pumpe", "P"),
    ("pompe", "P"),
    ("bomba", "P"),
    ("pompa", "P"),
    ("circulateur", "P"),
    ("pu", "P"),
    ("ah", "AHU"),
    ("air_handler", "AHU"),
    ("air_handling_unit", "AHU"),
    ("airhandler", "AHU"),
    ("fc", "FCU"),
    ("fancoil", "FC"),
    ("fan_coil", "FCU"),
    ("climatizadora", "CL"),
    ("climatizador", "CL"),
    ("ventilo", "VC"),
    ("ventilo_convecteur", "VC"),
    ("chiller", "CH"),
    ("chlr", "CH"),
    ("chl", "CH"),
    ("chllr", "CH"),
    ("boiler", "B"),
    ("blr", "B"),
    ("boil", "B"),
    ("kessel", "K"),
    ("heizkessel", "K"),
    ("kaeltemaschine", "KM"),
    ("groupe_froid", "GF"),
    ("groupe", "GF"),
    ("enfriadora", "ENF"),
    ("caldera", "CAL"),
    ("chaudiere", "CHD"),
    ("heat_pump", "HP"),
    ("heat_exchanger", "HX"),
    ("phe", "HX"),
    ("umwaelzpumpe", "UP"),
    ("coil", "COIL"),
    ("caldaia", "CAL"),
];

/// A label and where in the name it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    pub text: String,
    pub numbered: bool,
}

/// The label of the first piece of equipment of a kind, "P-1", "AHU-4", "ROOM-312".
pub fn label(words: &[Word], kind: OfKind) -> Option<Label> {
    let wanted: &[Concept] = match kind {
        OfKind::Pump => &[Pump, Drive],
        OfKind::Source => &[Source],
        OfKind::Coil => &[Unit, Room, Coil],
        OfKind::Loop => return None,
    };
    let mut unnumbered = None;
    for concept in wanted {
        for (i, word) in words.iter().enumerate().filter(|(_, w)| w.has(*concept) && !w.number) {
            if let Some(tag) = word.text.strip_prefix(super::forms::TAG) {
                return Some(Label { text: tag.to_uppercase(), numbered: true });
            }
            let letters = letters(words, i, kind, *concept);
            if let Some(number) = number(&words[i + 1..], kind) {
                return Some(Label { text: format!("{letters}-{number}"), numbered: true });
            }
            unnumbered.get_or_insert(Label { text: letters, numbered: false });
        }
    }
    unnumbered
}

/// The label's letters: the abbreviation as the name has it, or the usual one for a whole word.
fn letters(words: &[Word], at: usize, kind: OfKind, concept: Concept) -> String {
    if concept == Room {
        return "ROOM".to_owned();
    }
    let text = &words[at].text;
    if let Some((_, letters)) = LETTERS.iter().find(|l| l.0 == text) {
        return (*letters).to_owned();
    }
    // The pieces of one run of letters belong together: s, chw, p.
    let mut start = at;
    while start > 0 && words[start].glued() && !words[start - 1].number {
        start -= 1;
    }
    let run: String = words[start..=at].iter().map(|w| w.text.as_str()).collect();
    if run.len() > 6 {
        return if kind == OfKind::Pump { "P".to_owned() } else { run.to_uppercase() };
    }
    run.to_uppercase()
}

/// The number or single letter that follows.
fn number(after: &[Word], kind: OfKind) -> Option<String> {
    let after = match after {
        [w, rest @ ..] if matches!(w.text.as_str(), "no" | "nr" | "num" | "nbr" | "number" | "numero" | "n") => rest,
        all => all,
    };
    let first = after.first()?;
    if !first.number {
        let single = first.text.len() == 1 && matches!(first.text.as_str(), "a" | "b" | "c" | "d");
        let letter = single && first.means.is_empty() && first.before.is_some();
        return letter.then(|| first.text.to_uppercase());
    }
    let trimmed = first.text.trim_start_matches('0');
    let mut number = if trimmed.is_empty() { "0".to_owned() } else { trimmed.to_owned() };
    if kind == OfKind::Coil {
        let more = after[1..].iter().take_while(|w| w.number && matches!(w.before, Some('-' | '_' | '.')));
        for word in more {
            number.push(if word.before == Some('.') { '.' } else { '-' });
            number.push_str(&word.text);
        }
    }
    Some(number)
}

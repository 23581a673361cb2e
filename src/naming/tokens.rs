//! A name cut into words and numbers.
//!
//! Cut at separators, between small and capital letters, between letters and digits. Accents go, umlauts become ae, oe,
//! ue. What is left whole and is no word of the vocabulary is cut further in [`super::lexicon`].

/// One piece of a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    /// Small letters without accents, or digits.
    pub text: String,
    /// Written in capitals, or without case.
    pub capitals: bool,
    pub number: bool,
    /// What stood before it; `None` where it is glued to the piece before, or is the first.
    pub before: Option<char>,
}

/// Longest name that is looked at [characters]: names of exports are shorter, hostile ones are not.
const LONGEST: usize = 300;

/// The pieces of a name.
#[must_use]
pub fn tokens(name: &str) -> Vec<Token> {
    let letters: Vec<char> = name.chars().take(LONGEST).collect();
    let mut found: Vec<Token> = Vec::new();
    let mut before = None;
    let mut at = 0;
    while at < letters.len() {
        if let ('$' | '%', [a, b]) = (letters[at], letters.get(at + 1..at + 3).unwrap_or_default())
            && (*a, *b) != ('0', '0')
            && a.is_ascii_digit()
            && b.is_ascii_hexdigit()
        {
            // A space or the like as paths write it: "$20", "%2d".
            (before, at) = (before.or(Some(' ')), at + 3);
            continue;
        }
        if let Some((text, length)) = slashed(&letters, at) {
            found.push(Token { text: text.to_owned(), capitals: true, number: false, before: before.or(Some(' ')) });
            (before, at) = (Some(' '), at + length);
            continue;
        }
        if let Some(length) = initials(&letters, at) {
            let text: Vec<char> = letters[at..at + length].iter().copied().filter(|c| *c != '.').collect();
            let token = Token { text: fold(&text), capitals: true, number: false, before: before.take() };
            found.push(token);
            at += length;
            continue;
        }
        let c = letters[at];
        if c.is_alphanumeric() || c == '∆' {
            let end = end_of_piece(&letters, at);
            let piece = &letters[at..end];
            let text = fold(piece);
            let capitals = !piece.iter().any(|c| c.is_lowercase());
            if !text.is_empty() {
                found.push(Token { text, capitals, number: c.is_numeric(), before: before.take() });
            }
            at = end;
        } else {
            if !is_mark(c) {
                before = Some(separator(c, before));
            }
            at += 1;
        }
    }
    found
}

/// "C.H.W.P.", "Ch.W.": initials with a dot after each are one word. How long, with the dots.
fn initials(letters: &[char], at: usize) -> Option<usize> {
    if at > 0 && letters[at - 1].is_alphanumeric() {
        return None;
    }
    let (mut end, mut count) = (at, 0);
    loop {
        let run = letters[end..].iter().take_while(|c| c.is_ascii_alphabetic()).count();
        let most = if count == 0 { 2 } else { 1 };
        if run == 0 || run > most || letters.get(end + run) != Some(&'.') {
            break;
        }
        (end, count) = (end + run + 1, count + 1);
    }
    let stops = letters.get(end).is_none_or(|c| !c.is_alphanumeric());
    (count >= 2 && stops).then_some(end - at)
}

/// Of several separators in a row the one that cuts deepest counts.
fn separator(c: char, before: Option<char>) -> char {
    match (c, before) {
        ('-' | '_' | ' ' | '#', Some(b)) if !matches!(b, '-' | '_' | ' ' | '#') => b,
        (c, _) if c.is_whitespace() => ' ',
        (c, _) => c,
    }
}

/// Where the piece that starts at `at` ends.
fn end_of_piece(letters: &[char], at: usize) -> usize {
    if letters[at].is_numeric() {
        return at + letters[at..].iter().take_while(|c| c.is_numeric()).count();
    }
    let mut end = at + 1;
    while end < letters.len() && ((letters[end].is_alphabetic()) || is_mark(letters[end])) {
        let (last, this) = (letters[end - 1], letters[end]);
        let next_is_small = letters.get(end + 1).is_some_and(|c| c.is_lowercase());
        let hump = this.is_uppercase() && (last.is_lowercase() || (last.is_uppercase() && next_is_small && end > at));
        // "AHUs": more than one.
        let plural = letters.get(end + 1) == Some(&'s') && letters.get(end + 2).is_none_or(|c| !c.is_alphabetic());
        let hump = hump && !(plural && last.is_uppercase());
        if hump && !is_unit_case(&letters[at..letters.len().min(end + 2)]) {
            break;
        }
        end += 1;
    }
    end
}

/// kW, kWh, mWS, kPa, degC, pH and the like are no two words.
fn is_unit_case(piece: &[char]) -> bool {
    let text: String = piece.iter().collect();
    ["kW", "kWh", "mWS", "kPa", "hPa", "MWh", "degC", "degF", "pH", "kVA", "mWs", "kBt", "GWh"]
        .iter()
        .any(|u| text.starts_with(u) || u.starts_with(&text) && text.len() > 1)
}

/// A combining accent.
fn is_mark(c: char) -> bool {
    ('\u{300}'..='\u{36f}').contains(&c)
}

/// Pairs with a slash or a dot that are one word.
fn slashed(letters: &[char], at: usize) -> Option<(&'static str, usize)> {
    const PAIRS: [(&str, &str); 17] = [
        ("s/f", "sf"),
        ("r/f", "rf"),
        ("e/f", "ef"),
        ("s/s", "ss"),
        ("o/a", "oa"),
        ("s/a", "sa"),
        ("r/a", "ra"),
        ("d/a", "da"),
        ("m/a", "ma"),
        ("e/a", "ea"),
        ("h/o/a", "hoa"),
        ("d/p", "dp"),
        ("h/a", "hoa"),
        ("s/p", "sp"),
        ("m/a/o", "hoa"),
        ("a/c", "ac"),
        ("d.p.", "dp"),
    ];
    if at > 0 && letters[at - 1].is_alphanumeric() {
        return None;
    }
    PAIRS.iter().rev().find_map(|(pair, text)| {
        let length = pair.len();
        let there = letters.get(at..at + length)?;
        let same = there.iter().zip(pair.chars()).all(|(a, b)| a.to_ascii_lowercase() == b);
        let ends = letters.get(at + length).is_none_or(|c| !c.is_alphanumeric() && *c != '/');
        (same && ends).then_some((*text, length))
    })
}

/// Small letters without accents.
fn fold(piece: &[char]) -> String {
    let mut out = String::with_capacity(piece.len() + 2);
    for c in piece.iter().flat_map(|c| c.to_lowercase()) {
        match c {
            'ä' | 'æ' => out.push_str("ae"),
            'ö' | 'ø' | 'œ' => out.push_str("oe"),
            'ü' => out.push_str("ue"),
            'ß' => out.push_str("ss"),
            'à' | 'á' | 'â' | 'ã' | 'å' => out.push('a'),
            'è' | 'é' | 'ê' | 'ë' => out.push('e'),
            'ì' | 'í' | 'î' | 'ï' => out.push('i'),
            'ò' | 'ó' | 'ô' | 'õ' => out.push('o'),
            'ù' | 'ú' | 'û' => out.push('u'),
            'ç' => out.push('c'),
            'ñ' => out.push('n'),
            'δ' | '∆' => out.push_str("delta"),
            'ª' | 'º' => {}
            '²' => out.push('2'),
            '³' => out.push('3'),
            '\u{308}' => out.push('e'),
            c if is_mark(c) => {}
            c => out.push(c),
        }
    }
    out
}

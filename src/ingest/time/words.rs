//! Words and signs of time cells: accents, blanks, months and weekdays in seven languages.
//!
//! English, German, French, Spanish, Italian, Portuguese and Dutch. A month is told by three letters or more where they begin
//! the names of one month only. The names are from memory.

/// A longer cell is no time.
pub(super) const LONGEST: usize = 64;

/// A cell in lower case without accents, blanks in one form and single, with the place of every byte in the cell.
pub(super) struct Plain {
    bytes: [u8; LONGEST],
    places: [u8; LONGEST],
    length: usize,
}

impl Plain {
    /// `None` where the cell is longer than a time, or holds a sign that no time has.
    pub fn of(cell: &[u8]) -> Option<Self> {
        let mut plain = Self { bytes: [0; LONGEST], places: [0; LONGEST], length: 0 };
        if cell.len() > LONGEST {
            return None;
        }
        match std::str::from_utf8(cell) {
            Ok(text) => text.char_indices().try_for_each(|(at, c)| plain.push(c, at))?,
            // Latin-1 and Windows-1252 have the letters in question where Unicode has them.
            Err(_) => cell.iter().enumerate().try_for_each(|(at, b)| plain.push(char::from(*b), at))?,
        }
        if plain.length > 0 && plain.bytes[plain.length - 1] == b' ' {
            plain.length -= 1;
        }
        Some(plain)
    }

    fn push(&mut self, c: char, at: usize) -> Option<()> {
        let Some(byte) = fold(c)? else { return Some(()) };
        if byte == b' ' && (self.length == 0 || self.bytes[self.length - 1] == b' ') {
            return Some(());
        }
        self.bytes[self.length] = byte;
        self.places[self.length] = u8::try_from(at).ok()?;
        self.length += 1;
        Some(())
    }

    pub fn bytes(&self) -> &[u8] {
        &self.bytes[..self.length]
    }

    /// Where in the cell byte `i` stands.
    pub fn place(&self, i: usize) -> usize {
        usize::from(self.places[i])
    }
}

/// The plain byte of a sign; `Some(None)` for signs that say nothing, `None` for those that no time has.
fn fold(c: char) -> Option<Option<u8>> {
    Some(Some(match c {
        '\t' | '\u{a0}' | '\u{202f}' | '\u{2007}' | '\u{2009}' => b' ',
        ' '..='~' => (c as u8).to_ascii_lowercase(),
        'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' | 'À' | 'Á' | 'Â' | 'Ã' | 'Ä' | 'Å' => b'a',
        'ç' | 'Ç' => b'c',
        'è' | 'é' | 'ê' | 'ë' | 'È' | 'É' | 'Ê' | 'Ë' => b'e',
        'ì' | 'í' | 'î' | 'ï' | 'Ì' | 'Í' | 'Î' | 'Ï' => b'i',
        'ñ' | 'Ñ' => b'n',
        'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'Ò' | 'Ó' | 'Ô' | 'Õ' | 'Ö' => b'o',
        'ù' | 'ú' | 'û' | 'ü' | 'Ù' | 'Ú' | 'Û' | 'Ü' => b'u',
        '\u{2212}' | '\u{2013}' => b'-',
        '\u{2019}' => b'\'',
        // Combining accents, marks of direction, byte-order mark, ordinal signs.
        '\u{300}'..='\u{36f}' | '\u{200e}' | '\u{200f}' | '\u{feff}' | 'º' | 'ª' => return Some(None),
        _ => return None,
    }))
}

/// Names of each month, January first, and the abbreviations that do not begin a name.
const MONTHS: [&[&str]; 12] = [
    &["january", "januar", "janvier", "enero", "gennaio", "janeiro", "januari", "jaenner", "janner"],
    &["february", "februar", "fevrier", "febrero", "febbraio", "fevereiro", "februari"],
    &["march", "marz", "maerz", "mars", "marzo", "marco", "maart", "mrz", "mrt"],
    &["april", "avril", "abril", "aprile"],
    &["may", "mai", "mayo", "maggio", "maio", "mei"],
    &["june", "juni", "juin", "junio", "giugno", "junho"],
    &["july", "juli", "juillet", "julio", "luglio", "julho"],
    &["august", "aout", "agosto", "augustus"],
    &["september", "septembre", "septiembre", "setiembre", "settembre", "setembro"],
    &["october", "oktober", "octobre", "octubre", "ottobre", "outubro"],
    &["november", "novembre", "noviembre", "novembro"],
    &["december", "dezember", "decembre", "diciembre", "dicembre", "dezembro"],
];

/// The month, 1 to 12, that a plain word names.
pub(super) fn month(word: &[u8]) -> Option<i64> {
    if word.len() < 3 {
        return None;
    }
    let whole = MONTHS.iter().position(|names| names.iter().any(|n| n.as_bytes() == word));
    let begun_at = |names: &[&str]| names.iter().any(|n| n.as_bytes().starts_with(word));
    let found = match whole {
        Some(month) => month,
        None if MONTHS.iter().filter(|names| begun_at(names)).count() == 1 => {
            MONTHS.iter().position(|names| begun_at(names))?
        }
        None => return None,
    };
    i64::try_from(found + 1).ok()
}

const WEEKDAYS: [&str; 48] = [
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
    "montag",
    "dienstag",
    "mittwoch",
    "donnerstag",
    "freitag",
    "samstag",
    "sonnabend",
    "sonntag",
    "lundi",
    "mardi",
    "mercredi",
    "jeudi",
    "vendredi",
    "samedi",
    "dimanche",
    "lunes",
    "martes",
    "miercoles",
    "jueves",
    "viernes",
    "sabado",
    "domingo",
    "lunedi",
    "martedi",
    "mercoledi",
    "giovedi",
    "venerdi",
    "domenica",
    "segunda",
    "terca",
    "quarta",
    "quinta",
    "sexta",
    "maandag",
    "dinsdag",
    "woensdag",
    "donderdag",
    "vrijdag",
    "zaterdag",
    "zondag",
    "sabato",
];

/// Whether a plain word names a day of the week, whole or by two letters and more.
pub(super) fn is_weekday(word: &[u8]) -> bool {
    word.len() >= 2 && WEEKDAYS.iter().any(|n| n.as_bytes().starts_with(word))
}

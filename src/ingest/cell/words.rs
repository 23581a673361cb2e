//! Words that stand in cells in English, German, French, Spanish and Italian, and what they may mean.
//!
//! Common practice of controllers, loggers and spreadsheets, no source. A word may mean several things; the role decides ("ok" is no alarm, and a good
//! status behind a number). Compared after [`fold`]: in lower case, without accents, dots, and what stands around it.

use super::text::text;
use std::collections::HashMap;
use std::sync::LazyLock;

/// What a word may mean: a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Meaning(u16);

impl Meaning {
    /// No valid reading.
    pub const BAD: Self = Self(1);
    pub const ON: Self = Self(1 << 1);
    pub const OFF: Self = Self(1 << 2);
    pub const ALARM: Self = Self(1 << 3);
    pub const NORMAL: Self = Self(1 << 4);
    pub const AUTO: Self = Self(1 << 5);
    pub const HAND: Self = Self(1 << 6);
    pub const OPEN: Self = Self(1 << 7);
    pub const CLOSED: Self = Self(1 << 8);
    /// Behind a number: it is a valid reading.
    pub const GOOD: Self = Self(1 << 9);
    /// Behind a number: a person set it.
    pub const OVERRIDDEN: Self = Self(1 << 10);

    /// Whether it may mean `other`.
    pub fn may_be(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }
}

/// Folded words, parted by "|".
const TABLE: &[(Meaning, &str)] = &[
    // In place of a reading.
    (
        Meaning::BAD,
        "nan|bad|fault|faulted|faulty|null|nil|none|n/a|na|n a|no data|nodata|offline|off line|comm fail|comm failure|commfail|comm loss|comm lost|comm error\
         |communication failure|communication error|communication lost|no communication|no comm|no response|not responding|error|err|down|stale|old\
         |invalid|invalid value|unreliable|uncertain|questionable|not available|unavailable|not valid|not ok|timeout|time out|timed out|failed|fail|failure\
         |missing|disconnected|not connected|out of service|out of range|over range|under range|overrange|underrange|open circuit|short circuit|open loop\
         |shorted loop|no sensor|sensor failure|sensor fault|sensor error|broken|disabled|estimated|substituted|interpolated|unknown|undefined|not initialized\
         |inf|infinity|+inf|nan(ind|qnan|snan|ind|infinite|∞|uninitialized|no value|no reading|blank|empty|void|unbound|unresolved|deleted|expired",
    ),
    (
        Meaning::BAD,
        "storung|stoerung|gestort|gestoert|fehler|fehlerhaft|fehlt|ungultig|ungueltig|ungultiger wert|kein wert|keine daten|keine angabe|ka|k a|nv|n v|nicht verfugbar\
         |nicht verfuegbar|nicht vorhanden|unbekannt|unplausibel|unsicher|ausfall|ausgefallen|fuhlerbruch|fuehlerbruch|fuhlerfehler|fuehlerfehler|sensorfehler\
         |drahtbruch|leitungsbruch|kabelbruch|kurzschluss|keine verbindung|keine kommunikation|verbindungsfehler|kommunikationsfehler|zeituberschreitung\
         |zeitueberschreitung|veraltet|leer|messfehler|ersatzwert|unterbrochen|getrennt|messbereichsuberschreitung|bereichsuberschreitung|nicht erreichbar|schlecht",
    ),
    (
        Meaning::BAD,
        "defaut|en defaut|erreur|invalide|non valide|non disponible|nd|n d|indisponible|hs|hors ligne|pas de donnees|aucune donnee|sans donnees|donnees manquantes\
         |manquant|manquante|inconnu|inconnue|panne|en panne|defaillance|defaut sonde|defaut capteur|rupture sonde|coupure|court circuit|perte de communication\
         |perte communication|defaut communication|pas de communication|delai depasse|perime|mauvais|mauvaise|douteux|vide|hors plage|hors gamme|non connecte|deconnecte",
    ),
    (
        Meaning::BAD,
        "fallo|falla|error de comunicacion|fallo de comunicacion|fallo comunicacion|sin comunicacion|sin datos|sin dato|sin valor|sin senal|no disponible|no valido\
         |invalido|invalida|averia|averiado|fuera de linea|fuera de rango|desconectado|sonda rota|cortocircuito|circuito abierto|tiempo agotado|desconocido|dudoso\
         |malo|mala|vacio|nulo|ninguno|caducado|sin lectura|sin respuesta",
    ),
    (
        Meaning::BAD,
        "guasto|errore|anomalia|nessun dato|dato mancante|dati mancanti|mancante|non valido|non disponibile|fuori linea|fuori scala|fuori campo|scollegato|disconnesso\
         |errore di comunicazione|errore comunicazione|mancanza comunicazione|nessuna comunicazione|sonda guasta|circuito aperto|corto circuito|tempo scaduto\
         |sconosciuto|incerto|vuoto|nullo|scaduto|non pervenuto|np|nessun valore",
    ),
    // Of spreadsheets; "#" tells them from a header.
    (
        Meaning::BAD,
        "#value|#ref|#name|#num|#null|#calc|#spill|#getting data|div/0|#wert|#bezug|#zahl|#nv|#n/v|n/d|#nom|#nombre|#valeur|#nul|#valor|#num|#nulo|#valore\
         |#nome|#riff|#rif|n/v",
    ),
    // States.
    (
        Meaning::ON,
        "on|active|running|run|true|started|start|enabled|enable|yes|proven|proof|operating|t|y|activated|energized|energised|in operation|is running\
         |ein|an|ja|j|wahr|aktiv|lauft|laeuft|betrieb|in betrieb|gestartet|eingeschaltet|freigegeben|freigabe|aktiviert\
         |marche|en marche|oui|vrai|actif|active|en service|demarre|demarree|en fonctionnement|fonctionne|autorise|allume\
         |encendido|encendida|si|verdadero|activo|activa|activado|en marcha|marcha|arrancado|arrancada|funcionando|en funcionamiento|en servicio|habilitado|conectado\
         |acceso|accesa|vero|attivo|attiva|attivato|in marcia|marcia|in funzione|avviato|avviata|abilitato|in servizio",
    ),
    (
        Meaning::OFF,
        "off|inactive|stopped|stop|false|disabled|disable|no|idle|standby|stand by|not running|unproven|f|n|deactivated|deenergized|de energized|not active|low|ready\
         |aus|nein|falsch|inaktiv|nicht aktiv|steht|stillstand|gestoppt|ausgeschaltet|gesperrt|bereitschaft|deaktiviert|nicht in betrieb\
         |arret|a l'arret|arrete|arretee|non|faux|inactif|inactive|eteint|non actif|en attente|pret\
         |apagado|apagada|falso|inactivo|inactiva|desactivado|parado|parada|paro|detenido|detenida|deshabilitado|en espera|en reposo\
         |spento|spenta|inattivo|inattiva|disattivato|fermo|ferma|arresto|arrestato|disabilitato|in attesa|a riposo",
    ),
    // A machine that is out of service does not run; where a reading should stand it is none.
    (Meaning(Meaning::OFF.0 | Meaning::BAD.0), "ausser betrieb|hors service|fuera de servicio|fuori servizio"),
    (
        Meaning::ALARM,
        "alarm|in alarm|fault|faulted|trip|tripped|fail|failed|failure|offnormal|off normal|overload\
         |storung|stoerung|gestort|gestoert|fehler|ausgelost|ausgeloest|ausfall|sammelstorung\
         |defaut|en defaut|alarme|en alarme|panne|en panne|declenche|disjoncte|defaillance\
         |fallo|falla|averia|alarma|en alarma|disparado|anomalia|guasto|allarme|in allarme|blocco|in blocco|scattato",
    ),
    (
        Meaning::NORMAL,
        "normal|ok|healthy|clear|cleared|none|no alarm|no fault|good|in ordnung|io|i o|kein|keine|kein alarm|keine storung|keine stoerung|kein fehler|storungsfrei|normale\
         |en ordre|aucun|aucune|pas de defaut|aucun defaut|aucune alarme|sans defaut|pas d'alarme|correcto|sin alarma|sin fallo|sin averia|ninguno|ninguna\
         |nessuno|nessuna|nessun allarme|nessun guasto|regolare",
    ),
    (
        Meaning::AUTO,
        "auto|automatic|automatically|remote|automatik|automatisch|automatikbetrieb|autobetrieb|fern|fernbetrieb|automatique|a distance|distance|automatico|automatica|remoto|remota",
    ),
    (
        Meaning::HAND,
        "hand|manual|local|override|overridden|man|handbetrieb|manuell|lokal|vor ort|ort|manuel|manuelle|manu|en manuel|mode manuel|locale|en local|modo manual|manuale|mano|in manuale",
    ),
    (Meaning::OPEN, "open|opened|fully open|auf|offen|geoffnet|geoeffnet|ouvert|ouverte|abierto|abierta|aperto|aperta"),
    (Meaning::CLOSED, "closed|close|shut|fully closed|zu|geschlossen|ferme|fermee|cerrado|cerrada|chiuso|chiusa"),
    // Behind a number.
    (
        Meaning::GOOD,
        "ok|good|normal|valid|healthy|online|reliable|clear|no fault|no alarm|in service|alarm|in alarm|unacked alarm|unackedalarm|acked|measured|actual\
         |gut|gultig|gueltig|in ordnung|io|i o|plausibel|bon|bonne|valide|valable|bien|bueno|buena|valido|valida|correcto|buono|buona|regolare",
    ),
    (
        Meaning::OVERRIDDEN,
        "overridden|overriden|override|overrode|manual|man|hand|operator|forced|forcing|edited|manually|by hand|manual override|manual entry|simulated\
         |manuell|handbetrieb|handwert|handeingabe|ubersteuert|uebersteuert|simuliert|manuel|manuelle|force|forcee|forcage|saisie manuelle\
         |forzado|forzada|manualmente|manuale|forzato|forzata|forzatura",
    ),
];

static WORDS: LazyLock<HashMap<&'static str, Meaning>> = LazyLock::new(|| {
    let mut words: HashMap<&'static str, Meaning> = HashMap::new();
    for (meaning, list) in TABLE {
        for word in list.split('|') {
            words.entry(word).or_default().0 |= meaning.0;
        }
    }
    words
});

/// Longer text is no word of these lists [bytes].
const LONGEST: usize = 64;

/// What a text means as a whole.
pub(super) fn meaning(written: &str) -> Meaning {
    let written = written.trim();
    if written.is_empty() || written.len() > LONGEST {
        return Meaning::default();
    }
    let inner = written.trim_matches(is_bracket);
    if !inner.is_empty() && inner.chars().all(is_filler) {
        return Meaning::BAD;
    }
    let folded = fold(written);
    let known = |w: &str| WORDS.get(w).copied();
    known(&folded).or_else(|| known(folded.trim_start_matches(['#', ' ']))).unwrap_or_default()
}

/// Signs that fill a cell where nothing is to be said: "--", "***", "####", "?".
fn is_filler(c: char) -> bool {
    matches!(c, '-' | '–' | '—' | '*' | '#' | '?' | '_' | '/' | '…') || c.is_whitespace()
}

fn is_bracket(c: char) -> bool {
    matches!(c, '{' | '}' | '[' | ']' | '(' | ')' | '<' | '>' | '"' | '\'' | '’' | '“' | '”' | '„' | '«' | '»' | '`')
}

/// A text in lower case without accents and dots, its blanks, dashes and underscores as one blank, and without what stands around it.
fn fold(written: &str) -> String {
    let around =
        |c: char| c.is_whitespace() || is_bracket(c) || matches!(c, '*' | '!' | '.' | ':' | ';' | ',' | '-' | '_');
    let inner = written.trim_matches(around);
    let mut out = String::with_capacity(inner.len());
    for c in inner.chars() {
        match c {
            '.' | '¡' | '¿' | '?' => {}
            '-' | '_' | '–' => blank(&mut out),
            c if c.is_whitespace() => blank(&mut out),
            '’' => out.push('\''),
            c if c.is_ascii() => out.push(c.to_ascii_lowercase()),
            c => c.to_lowercase().for_each(|l| out.push_str(without_accent(l).unwrap_or(l.encode_utf8(&mut [0; 4])))),
        }
    }
    out
}

fn blank(out: &mut String) {
    if !out.ends_with(' ') {
        out.push(' ');
    }
}

fn without_accent(lower: char) -> Option<&'static str> {
    Some(match lower {
        'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' => "a",
        'è' | 'é' | 'ê' | 'ë' => "e",
        'ì' | 'í' | 'î' | 'ï' => "i",
        'ò' | 'ó' | 'ô' | 'õ' | 'ö' => "o",
        'ù' | 'ú' | 'û' | 'ü' => "u",
        'ç' => "c",
        'ñ' => "n",
        'ß' => "ss",
        _ => return None,
    })
}

/// A word for a state or a bad reading: not a name, when columns are told apart.
#[must_use]
pub fn is_known_word(cell: &[u8]) -> bool {
    meaning(&text(cell.trim_ascii())) != Meaning::default()
}

/// Whether a word says that a reading is none.
#[must_use]
pub fn is_bad_word(word: &str) -> bool {
    meaning(word).may_be(Meaning::BAD)
}

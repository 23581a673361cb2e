//! What single cells say, and what a column says of its decimal sign and its numbers that stand for "no reading".
//!
//! Second paths: the standard library's `str::parse` (correctly rounded) for numbers; the code page of Windows-1252 as the WHATWG Encoding
//! Standard prints it (from memory: 0x80 is the euro sign, 0x92 the right quote, 0xB0 the degree sign). Words are common practice, no source.

use crate::ingest::point;
use offcurve::ingest::cell::*;
use offcurve::plant::{Point, Role, units};

fn in_unit(role: Role, written: &str) -> Point {
    let mut p = point("p", role);
    p.unit = Some(units::unit(written).expect("a known unit"));
    p
}

fn reader(role: Role, decimal: Decimal) -> Reader {
    Reader::with(&point("p", role), decimal)
}

fn unit(written: &str) -> UnitText {
    UnitText::new(written).expect("a short text")
}

/// A generator of its own, so that the rows never move.
struct Lcg(u64);

impl Lcg {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 33
    }
}

#[test]
fn numbers_under_each_decimal_sign() {
    // (cell, under a point, under a comma)
    let rows: &[(&str, Option<f64>, Option<f64>)] = &[
        ("43", Some(43.0), Some(43.0)),
        ("43.2", Some(43.2), None),
        ("43,2", None, Some(43.2)),
        ("1,234", Some(1234.0), Some(1.234)),
        ("1.234", Some(1.234), Some(1234.0)),
        ("1,234.5", Some(1234.5), None),
        ("1.234,5", None, Some(1234.5)),
        ("1,234,567", Some(1_234_567.0), None),
        ("1.234.567", None, Some(1_234_567.0)),
        ("1,234,567.25", Some(1_234_567.25), None),
        ("1 234", Some(1234.0), Some(1234.0)),
        ("1 234,5", None, Some(1234.5)),
        ("1 234.5", Some(1234.5), None),
        ("1\u{a0}234,5", None, Some(1234.5)),
        ("12\u{202f}345\u{202f}678,5", None, Some(12_345_678.5)),
        ("1\u{2009}234.5", Some(1234.5), None),
        ("1'234.5", Some(1234.5), None),
        ("1’234’567.5", Some(1_234_567.5), None),
        ("+4.5", Some(4.5), None),
        ("-4.5", Some(-4.5), None),
        ("\u{2212}4,5", None, Some(-4.5)),
        ("5.2-", Some(-5.2), None),
        ("5,2-", None, Some(-5.2)),
        ("(5.2)", Some(-5.2), None),
        ("(1.234,5)", None, Some(-1234.5)),
        ("1.2E+03", Some(1200.0), None),
        ("1,2e-3", None, Some(0.0012)),
        ("1E5", Some(1e5), Some(1e5)),
        ("1.E+02", Some(100.0), None),
        ("0.e13080", Some(0.0), None),
        ("1e38", Some(1e38), Some(1e38)),
        (".5", Some(0.5), None),
        (",5", None, Some(0.5)),
        ("5.", Some(5.0), None),
        ("007", Some(7.0), Some(7.0)),
        // No thousands: a nought in front, groups of two, uneven groups, two kinds of marks.
        ("0,998", None, Some(0.998)),
        ("0.998", Some(0.998), None),
        ("12,34,567", None, None),
        ("1234,567", None, Some(1234.567)),
        ("1,23", None, Some(1.23)),
        ("1 234'567", None, None),
        ("43 2", None, None),
        ("4.5.6", None, None),
        ("14.03.2026", None, None),
        ("1.2.2026", None, None),
        ("2026-03-14", None, None),
        ("12:30", None, None),
        ("0x1F", None, None),
        ("-5-", None, None),
        ("(-5)", None, None),
        ("(5", None, None),
        ("1e999", None, None),
        ("1e", None, None),
        ("e5", None, None),
        (".", None, None),
        ("-", None, None),
        ("", None, None),
        ("€ 5", None, None),
        ("$5", None, None),
        ("5 €", None, None),
        ("123456789012345678", Some(123_456_789_012_345_678.0), Some(123_456_789_012_345_678.0)),
        ("0.30000000000000004", Some(0.300_000_000_000_000_04), None),
    ];
    for (cell, point, comma) in rows {
        assert_eq!(number(cell, Decimal::Point), *point, "{cell:?} under a point");
        assert_eq!(number(cell, Decimal::Comma), *comma, "{cell:?} under a comma");
        for (decimal, wanted) in [(Decimal::Point, point), (Decimal::Comma, comma)] {
            let said = reader(Role::PumpPower, decimal).read(format!(" {cell} ").as_bytes());
            match wanted {
                Some(n) => assert_eq!(said, Cell::Number(*n), "{cell:?} {decimal:?}"),
                None => {
                    assert!(matches!(said, Cell::Unknown | Cell::Bad | Cell::Blank), "{cell:?} {decimal:?}: {said:?}");
                }
            }
        }
    }
}

#[test]
fn infinity_and_the_like_are_bad_words() {
    for cell in ["NaN", "nan", "inf", "-inf", "Infinity", "-Infinity", "1.#INF", "-1.#IND", "1.#QNAN", "nan(ind)", "∞"]
    {
        assert_eq!(reader(Role::PumpPower, Decimal::Point).read(cell.as_bytes()), Cell::Bad, "{cell}");
    }
}

#[test]
fn windows_1252_is_read_where_it_is_no_utf_8() {
    let comma = reader(Role::SupplyTemperature, Decimal::Comma);
    assert_eq!(text(b"\x80\x92\xb0\xe9\xfc"), "€’°éü");
    assert_eq!(text("°é".as_bytes()), "°é");
    assert_eq!(text(&(0x80..=0xffu8).collect::<Vec<_>>()).chars().count(), 128, "a character a byte");
    assert_eq!(comma.read(b"21,5 \xb0C"), Cell::NumberIn(21.5, unit("°C")));
    assert_eq!(comma.read("21,5 °C".as_bytes()), Cell::NumberIn(21.5, unit("°C")));
    assert_eq!(comma.read(b"1\xa0234,5"), Cell::Number(1234.5));
    assert_eq!(comma.read(b"1\x92234,5"), Cell::Number(1234.5));
    assert_eq!(comma.read(b"\x965,2"), Cell::Number(-5.2));
    for word in [&b"St\xf6rung"[..], b"d\xe9faut", b"UNG\xdcLTIG", b"Aver\xeda", b"nicht verf\xfcgbar"] {
        assert_eq!(comma.read(word), Cell::Bad, "{word:?}");
    }
    assert_eq!(reader(Role::PumpStatus, Decimal::Comma).read(b"Arr\xeat"), Cell::State(0.0));
}

#[test]
fn units_behind_numbers() {
    let point = |role| reader(role, Decimal::Point);
    let row = |role: Role, cell: &str, wanted: Cell| assert_eq!(point(role).read(cell.as_bytes()), wanted, "{cell}");
    row(Role::PumpPower, "43.2 kW", Cell::NumberIn(43.2, unit("kW")));
    row(Role::PumpPower, "43.2kW", Cell::NumberIn(43.2, unit("kW")));
    row(Role::PumpPower, "1,234.5 W", Cell::NumberIn(1234.5, unit("W")));
    row(Role::LoopFlow, "68 m³/h", Cell::NumberIn(68.0, unit("m³/h")));
    row(Role::LoopFlow, "68 US gpm", Cell::NumberIn(68.0, unit("US gpm")));
    row(Role::ValvePosition, "43.2 %", Cell::NumberIn(43.2, unit("%")));
    row(Role::ValvePosition, "43.2%", Cell::NumberIn(43.2, unit("%")));
    row(Role::PumpHead, "12 m", Cell::NumberIn(12.0, unit("m")));
    row(Role::PumpHead, "12 mWS", Cell::NumberIn(12.0, unit("mWS")));
    row(Role::SupplyTemperature, "-5.2- °C", Cell::Unknown);
    row(Role::SupplyTemperature, "5.2- °C", Cell::NumberIn(-5.2, unit("°C")));
    // What the role cannot have is refused, and so is what could mean two things.
    row(Role::SupplyTemperature, "43.2 kW", Cell::WrongUnit(unit("kW")));
    row(Role::PumpPower, "43.2 kWh", Cell::WrongUnit(unit("kWh")));
    row(Role::PumpPower, "43.2 mw", Cell::WrongUnit(unit("mw")));
    row(Role::LoopFlow, "43.2 kg/s", Cell::WrongUnit(unit("kg/s")));
    row(Role::PumpPower, "43.2 elephants", Cell::Unknown);
    row(Role::PumpPower, "43.2 .", Cell::Unknown);
    row(Role::PumpPower, "kW", Cell::Unknown);
    // A speed is kept in one unit a point: fractions here, Hz where the point says so.
    row(Role::PumpSpeed, "35 %", Cell::NumberIn(35.0, unit("%")));
    row(Role::PumpSpeed, "47.5 Hz", Cell::WrongUnit(unit("Hz")));
    let hz = Reader::with(&in_unit(Role::PumpSpeed, "Hz"), Decimal::Point);
    assert_eq!(hz.read(b"47.5 Hz"), Cell::Number(47.5));
    assert_eq!(hz.read(b"35 %"), Cell::WrongUnit(unit("%")));
    // The declared unit is the point's own; another one of its kind is said.
    let kw = Reader::with(&in_unit(Role::PumpPower, "kW"), Decimal::Comma);
    assert_eq!(kw.read(b"43,2 KW"), Cell::Number(43.2));
    assert_eq!(kw.read(b"4320 W"), Cell::NumberIn(4320.0, unit("W")));
    // Volts that mean shut to open are the point's own whatever they are called.
    let mut volts = crate::ingest::point("v", Role::ValvePosition);
    volts.range = Some((2.0, 10.0));
    assert_eq!(Reader::with(&volts, Decimal::Point).read(b"4.5 V"), Cell::Number(4.5));
    // The old reader takes either sign.
    let either = Reader::new(&in_unit(Role::PumpPower, "kW"), true);
    assert_eq!((either.read(b"43.2 kW"), either.read(b"43,2 kW")), (Cell::Number(43.2), Cell::Number(43.2)));
    assert_eq!(
        (carried_unit(b"43,2 kW {ok}"), carried_unit(b"43.2"), carried_unit(b"ok")),
        (Some(unit("kW")), None, None)
    );
    assert!(is_reading(b"43,2 kW {ok}") && is_reading(b"Aus") && is_reading(b"#NV") && !is_reading(b"P-1 speed"));
}

#[test]
fn status_behind_values() {
    let r = reader(Role::PumpPower, Decimal::Point);
    let row = |cell: &str, wanted: (Cell, bool)| assert_eq!(r.read_flagged(cell.as_bytes()), wanted, "{cell}");
    for good in [
        "{ok}",
        "ok",
        "OK;Good",
        "(normal)",
        "[good]",
        "{alarm}",
        "{unackedAlarm}",
        "; valid",
        "gültig",
        "[valide]",
        ": i.O.",
        "{ok,alarm}",
        "{}",
    ] {
        row(&format!("43.2 {good}"), (Cell::Number(43.2), false));
        row(&format!("43.2 kW {good}"), (Cell::NumberIn(43.2, unit("kW")), false));
    }
    for bad in [
        "{fault}",
        "[stale]",
        "{down}",
        "{fault,down}",
        "{ok,stale}",
        "bad",
        "(uncertain)",
        "?",
        "# Fehler",
        "Störung",
        "{disabled}",
        "hors service",
        "<sin datos>",
        "non valido",
    ] {
        row(&format!("43.2 {bad}"), (Cell::Bad, false));
        row(&format!("43.2 kW {bad}"), (Cell::Bad, false));
    }
    for set in ["(overridden)", "# manual", "{override}", "Hand", "forcé", "{ok,overridden}", "[manuell]", "(forzado)"]
    {
        row(&format!("43.2 {set}"), (Cell::Number(43.2), true));
        row(&format!("43.2kW {set}"), (Cell::NumberIn(43.2, unit("kW")), true));
    }
    // A star has no agreed meaning; neither have words that are not known.
    for unknown in [
        "*",
        "!",
        "{wobbly}",
        "(5)",
        "{ok,wobbly}",
        "ok, but see the note of the fitter about the sensor that was changed in the spring of that year",
    ] {
        row(&format!("43.2 {unknown}"), (Cell::Unknown, false));
    }
    assert_eq!(r.read(b"43,2 {fault}"), Cell::Bad);
    assert_eq!(r.read(b"{ok}"), Cell::Unknown);
}

#[test]
fn bad_words_in_five_languages() {
    let words = [
        "Bad",
        "FAULT",
        "No Data",
        "comm fail",
        "N/A",
        "Not available",
        "out of service",
        "--",
        "???",
        "***",
        "—",
        "#N/A",
        "#VALUE!",
        "#REF!",
        "#DIV/0!",
        "#NUM!",
        "#NAME?",
        "Störung",
        "STOERUNG",
        "Stoerung",
        "Fehler",
        "k.A.",
        "k. A.",
        "ungültig",
        "Ungueltig",
        "n.v.",
        "kein Wert",
        "Keine Daten",
        "Fühlerbruch",
        "nicht verfügbar",
        "außer Betrieb",
        "#NV",
        "#WERT!",
        "#BEZUG!",
        "#ZAHL!",
        "défaut",
        "Defaut",
        "ERREUR",
        "hors service",
        "Non disponible",
        "n.d.",
        "aucune donnée",
        "#N/D",
        "#VALEUR!",
        "#NOM?",
        "court-circuit",
        "fallo",
        "Avería",
        "sin datos",
        "SIN SEÑAL",
        "no válido",
        "fuera de servicio",
        "#¡VALOR!",
        "#¡DIV/0!",
        "#¿NOMBRE?",
        "guasto",
        "Errore",
        "non disponibile",
        "nessun dato",
        "fuori servizio",
        "#VALORE!",
        "#RIF!",
        "#NOME?",
    ];
    let r = reader(Role::SupplyTemperature, Decimal::Comma);
    for word in words {
        for dressed in [
            word.to_string(),
            word.to_lowercase(),
            word.to_uppercase(),
            format!("{{{word}}}"),
            format!("[{word}]"),
            format!("\"{word}\""),
            format!("<{word}>"),
            format!("({word})"),
        ] {
            assert_eq!(r.read(dressed.as_bytes()), Cell::Bad, "{dressed}");
            assert!(is_known_word(dressed.as_bytes()), "{dressed}");
        }
    }
    for name in ["P-1 speed", "Vorlauf", "CHWS", "AHU-1", "value", "ref", "wert", "pompe"] {
        assert!(!is_known_word(name.as_bytes()), "{name}");
        assert_eq!(r.read(name.as_bytes()), Cell::Unknown, "{name}");
    }
}

#[test]
fn states_in_five_languages() {
    let row = |role: Role, cell: &str, wanted: Cell| {
        let said = reader(role, Decimal::Point).read(cell.as_bytes());
        assert_eq!(said, wanted, "{cell} of {role:?}");
    };
    let on = [
        "On",
        "ON",
        "Running",
        "Active",
        "Ein",
        "An",
        "läuft",
        "LÄUFT",
        "Laeuft",
        "Betrieb",
        "in Betrieb",
        "aktiv",
        "Wahr",
        "Ja",
        "Marche",
        "en marche",
        "VRAI",
        "Oui",
        "actif",
        "Encendido",
        "Sí",
        "verdadero",
        "Activo",
        "Sì",
        "Acceso",
        "Vero",
        "in funzione",
        "1",
        "1.0",
        "1,0",
        "1 - On",
        "2 - On",
        "1=On",
        "On (1)",
        "Ein (1)",
        "1 ok",
        "1 {ok}",
        "On {ok}",
        "100",
        "t",
        "-1",
    ];
    let off = [
        "Off",
        "Stopped",
        "Aus",
        "steht",
        "inaktiv",
        "Falsch",
        "Nein",
        "außer Betrieb",
        "Arrêt",
        "ARRET",
        "FAUX",
        "Non",
        "Inactif",
        "hors service",
        "Apagado",
        "No",
        "Falso",
        "parado",
        "Spento",
        "fermo",
        "0",
        "0.0",
        "0,00",
        "0=Off",
        "0 - Aus",
        "1 - Off",
        "Off (0)",
        "0: Stop",
        "0 {ok}",
        "Off;ok",
        "disabled",
    ];
    for (cells, state) in [(&on[..], 1.0), (&off[..], 0.0)] {
        for cell in cells {
            for role in [Role::PumpStatus, Role::PumpCommand, Role::FanStatus, Role::SourceStatus, Role::PlantEnable] {
                row(role, cell, Cell::State(state));
            }
        }
    }
    for bad in ["Störung", "Fault", "défaut", "offline", "k.A.", "On {stale}", "1 {fault}", "1 bad", "--"] {
        row(Role::PumpStatus, bad, Cell::Bad);
    }
    for unknown in ["perhaps", "9999", "65535", "-9999", "1 - perhaps", "On (perhaps)", "Hand", "1 2", "On {perhaps}"] {
        row(Role::PumpStatus, unknown, Cell::Unknown);
    }
    row(Role::PumpStatus, "", Cell::Blank);
    // The same words for other roles.
    for cell in [
        "Alarm",
        "Störung",
        "Défaut",
        "alarme",
        "Avería",
        "guasto",
        "Fehler",
        "Tripped",
        "1",
        "1 - Alarm",
        "Ein",
        "true",
    ] {
        row(Role::PumpAlarm, cell, Cell::State(1.0));
    }
    for cell in [
        "Normal",
        "OK",
        "none",
        "keine",
        "kein Alarm",
        "i.O.",
        "aucun",
        "pas de défaut",
        "sin alarma",
        "nessuno",
        "0",
        "1 - Normal",
        "Aus",
        "No",
    ] {
        row(Role::PumpAlarm, cell, Cell::State(0.0));
    }
    for cell in ["Auto", "Automatik", "automatique", "automático", "Fern", "1 - Auto"] {
        row(Role::PumpMode, cell, Cell::State(1.0));
    }
    for cell in ["Hand", "manual", "Handbetrieb", "manuel", "Manuale", "vor Ort", "0 = Hand", "Aus"] {
        row(Role::PumpMode, cell, Cell::State(0.0));
    }
    for (cell, state) in [
        ("Open", 1.0),
        ("auf", 1.0),
        ("Ouvert", 1.0),
        ("abierta", 1.0),
        ("Aperto", 1.0),
        ("zu", 0.0),
        ("fermée", 0.0),
        ("Cerrado", 0.0),
        ("chiusa", 0.0),
    ] {
        row(Role::ValvePosition, cell, Cell::State(state));
    }
    // Words of the plant file come first.
    let mut own = point("st", Role::PumpStatus);
    own.on = vec!["Stufe 1".into(), "2".into()];
    let own = Reader::with(&own, Decimal::Point);
    let said: Vec<Cell> =
        ["stufe 1", "Stufe 1 {ok}", "2.0", "1", "On", "offline"].iter().map(|c| own.read(c.as_bytes())).collect();
    let (yes, no) = (Cell::State(1.0), Cell::State(0.0));
    assert_eq!(said, [yes, yes, yes, no, no, Cell::Bad]);
    let flagged = reader(Role::PumpStatus, Decimal::Point).read_flagged(b"On {overridden}");
    assert_eq!(flagged, (yes, true));
}

#[test]
fn the_decimal_sign_is_a_property_of_the_column() {
    let verdict = |cells: &[&str]| {
        let mut evidence = NumberEvidence::default();
        cells.iter().for_each(|c| evidence.add(c.as_bytes()));
        evidence.decimal()
    };
    let (point, comma) = (Verdict::Decided(Decimal::Point), Verdict::Decided(Decimal::Comma));
    assert_eq!(verdict(&[]), Verdict::Either);
    assert_eq!(verdict(&["1", "12", "Bad", "1 234", ""]), Verdict::Either);
    assert_eq!(verdict(&["1.5", "12"]), point);
    assert_eq!(verdict(&["1,5", "12"]), comma);
    assert_eq!(verdict(&["1,234", "1,5 kW", "2,345"]), comma);
    assert_eq!(verdict(&["1,234", "1,234.5"]), point);
    assert_eq!(verdict(&["1.234.567"]), comma);
    assert_eq!(verdict(&["1,234", "2,345", "3,456"]), Verdict::Ambiguous);
    assert_eq!(verdict(&["1.234", "2.345"]), Verdict::Ambiguous);
    assert_eq!(verdict(&["1.234", "2,345"]), Verdict::Ambiguous);
    // 999 and then 1,001 are neighbours as thousands only; 0,998 can only be a decimal.
    assert_eq!(verdict(&["998", "999", "1,001", "1,003", "999", "1,000"]), point);
    assert_eq!(verdict(&["998", "999", "1.001", "1.003", "999", "1.000"]), comma);
    assert_eq!(verdict(&["0,998", "1,002"]), comma);
    // Noughts cut off: 1 and then 1,002 are neighbours as decimals only.
    assert_eq!(verdict(&["1,001", "1", "1,002", "1,003"]), comma);
    // One jump is a pump that starts; from nought to anything proves nothing.
    assert_eq!(verdict(&["1,234", "1", "0", "1,002", "0"]), Verdict::Ambiguous);
    // Half and half is mixed; one damaged cell in a hundred is not.
    assert_eq!(verdict(&["1.5", "1,5"]), Verdict::Mixed);
    let mut cells = vec!["2,5"; 100];
    cells.push("2.5");
    assert_eq!(verdict(&cells), comma);
    // Merged columns: one settles the other, and the seam is no pair of neighbours.
    let (mut a, mut b) = (NumberEvidence::default(), NumberEvidence::default());
    a.add(b"1,234");
    b.add(b"4,5");
    assert_eq!((a.decimal(), a.likelier(b';'), a.likelier(b',')), (Verdict::Ambiguous, Decimal::Comma, Decimal::Point));
    a.merge(&b);
    assert_eq!((a.decimal(), a.numbers, a.ambiguous_comma, a.only_comma), (comma, 2, 1, 1));
    let mut c = NumberEvidence::default();
    c.add("1’234".as_bytes());
    c.add(b"14.03.2026");
    assert_eq!((c.numbers, c.thousands, c.decimal()), (1, 1, Verdict::Either));
}

/// A million numbers of every width against the standard library, bit by bit, under both signs and at the line's end.
#[test]
fn plain_numbers_are_those_of_the_standard_library() {
    let mut lcg = Lcg(7);
    let mut line = String::new();
    let mut last = String::new();
    for n in 0..1_000_000u32 {
        let (whole, decimals) = ((lcg.next() % 9) as usize, (lcg.next() % 8) as usize);
        let digits =
            |lcg: &mut Lcg, n: usize| (0..n).map(|_| char::from(b'0' + (lcg.next() % 10) as u8)).collect::<String>();
        let sign = if lcg.next().is_multiple_of(3) { "-" } else { "" };
        let whole = digits(&mut lcg, whole.max(1));
        let decimals = digits(&mut lcg, decimals);
        let written = if decimals.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{decimals}") };
        let wanted: f64 = written.parse().unwrap();
        line.clear();
        line.push_str(&last);
        line.push(';');
        let at = line.len();
        line.push_str(&written);
        let end = line.len();
        if n % 2 == 0 {
            line.push(';');
            line.push_str(&last);
        }
        for (text, read) in
            [(line.clone(), plain_number_at as fn(&[u8], usize, u8) -> _), (line.replace('.', ","), comma_number_at)]
        {
            let (value, stops): (f64, usize) =
                read(text.as_bytes(), at, b';').unwrap_or_else(|| panic!("{text} from {at}"));
            assert_eq!((value.to_bits(), stops), (wanted.to_bits(), end), "{text} from {at}");
        }
        assert_eq!(number(&written, Decimal::Point).map(f64::to_bits), Some(wanted.to_bits()), "{written}");
        last = written;
    }
}

#[test]
fn plain_numbers_end_where_they_must() {
    let plain = |line: &str| plain_number_at(line.as_bytes(), 0, b',');
    assert_eq!(plain("4.5,"), Some((4.5, 3)));
    assert_eq!(plain("4.5"), Some((4.5, 3)));
    assert_eq!(plain("5.,6"), Some((5.0, 2)));
    assert_eq!(plain("-0,1"), Some((-0.0, 2)));
    for none in [
        "",
        ",",
        "-",
        "-,",
        ".5",
        ".5,",
        "4.5.6",
        "4.5 ",
        "4.5 kW,12345678",
        "+4.5",
        "4 5,",
        "4e5,",
        "4;5,",
        "1234567890123456",
        "4.5\0,1",
        "12\0",
        "4\u{b0},",
        "x",
        "--5",
    ] {
        assert_eq!(plain(none), None, "{none:?}");
    }
    assert_eq!(comma_number_at(b"4,5;", 0, b';'), Some((4.5, 3)));
    assert_eq!(comma_number_at(b"4.5;", 0, b';'), None);
    assert_eq!(comma_number_at(b"4,5,", 0, b','), Some((4.0, 1)), "a comma that parts cells is no decimal sign");
    assert_eq!(plain_number_at(b"4", 9, b','), None);
}

/// Shortest texts of doubles read back to the same bits, under each sign and with thousands.
#[test]
fn numbers_come_back() {
    let mut lcg = Lcg(11);
    for _ in 0..50_000 {
        let v = f64::from_bits((lcg.next() << 33) ^ (lcg.next() << 10) ^ lcg.next());
        if !v.is_finite() {
            continue;
        }
        for written in
            [format!("{v:e}"), if v.abs() < 1e15 && v.abs() > 1e-15 { v.to_string() } else { format!("{v:E}") }]
        {
            assert_eq!(number(&written, Decimal::Point).map(f64::to_bits), Some(v.to_bits()), "{written}");
            let comma = written.replace('.', ",");
            assert_eq!(number(&comma, Decimal::Comma).map(f64::to_bits), Some(v.to_bits()), "{comma}");
        }
        let n = lcg.next() % 1_000_000_000;
        let mut parted = n.to_string();
        for at in (1..parted.len()).rev().filter(|i| (parted.len() - i).is_multiple_of(3)).collect::<Vec<_>>() {
            parted.insert(at, ',');
        }
        assert_eq!(number(&parted, Decimal::Point), Some(n as f64), "{parted}");
        let parted = format!("{},25", parted.replace(',', "."));
        assert_eq!(number(&parted, Decimal::Comma), Some(n as f64 + 0.25), "{parted}");
    }
}

#[test]
fn random_bytes_are_read_without_panic() {
    let mut lcg = Lcg(3);
    let alphabet = "0123456789.,-+eE'(){}[] \u{a0}\u{2212}’kW%°;|#*=okéß\u{0}\u{feff}∞".as_bytes();
    let readers: Vec<Reader> =
        [Role::PumpPower, Role::PumpStatus, Role::PumpAlarm, Role::PumpMode, Role::ValvePosition, Role::Ignore]
            .into_iter()
            .flat_map(|r| {
                [
                    Reader::with(&point("p", r), Decimal::Point),
                    Reader::with(&point("p", r), Decimal::Comma),
                    Reader::new(&point("p", r), true),
                ]
            })
            .collect();
    let mut evidence = NumberEvidence::default();
    for round in 0..200_000 {
        let len = (lcg.next() % 24) as usize;
        let cell: Vec<u8> = (0..len)
            .map(|_| if round % 3 == 0 { lcg.next() as u8 } else { alphabet[lcg.next() as usize % alphabet.len()] })
            .collect();
        for r in &readers {
            if let (Cell::Number(n) | Cell::NumberIn(n, _) | Cell::State(n), _) = r.read_flagged(&cell) {
                assert!(n.is_finite(), "{cell:?}");
            }
        }
        evidence.add(&cell);
        let _ = (is_known_word(&cell), is_reading(&cell), carried_unit(&cell), cells(&cell, b';'));
        for at in 0..=len {
            let _ = (plain_number_at(&cell, at, b','), comma_number_at(&cell, at, b';'), cell_at(&cell, at, b','));
        }
    }
    let _ = evidence.decimal();
}

fn found(readings: &[f64], role: Role) -> Vec<(f64, u64)> {
    sentinels(readings, Some(role)).into_iter().map(|s| (s.value, s.count)).collect()
}

/// A day of a temperature that swings from `low` to `high` in steps of a hundredth.
fn swing(low: f64, high: f64) -> Vec<f64> {
    (0..1440)
        .map(|i| ((low + (high - low) * (0.5 + 0.5 * (f64::from(i) / 230.0).sin())) * 100.0).round() / 100.0)
        .collect()
}

#[test]
fn numbers_for_no_reading_are_learned_from_the_column() {
    for code in [
        -9999.0,
        -999.0,
        888.8,
        999.9,
        32_767.0,
        -32_768.0,
        65_535.0,
        -327.68,
        3276.7,
        6553.5,
        850.0,
        1e38,
        -3.402_823_466e38,
        130.0,
        -50.0,
        777.7,
    ] {
        let mut t = swing(5.2, 14.8);
        (0..12).for_each(|k| t[100 + 97 * k] = code);
        assert_eq!(found(&t, Role::SupplyTemperature), [(code, 12)], "{code}");
        t[3] = f64::NAN;
        t[4] = f64::INFINITY;
        assert_eq!(found(&t, Role::SupplyTemperature), [(code, 12)], "{code}");
    }
    // A lost sensor: nine rows in ten.
    let mut t = swing(5.2, 14.8);
    t.iter_mut().enumerate().filter(|(i, _)| i % 10 > 0).for_each(|(_, v)| *v = -9999.0);
    assert_eq!(found(&t, Role::SupplyTemperature), [(-9999.0, 1296)]);
    // Two kinds at once, one of them a single time; and power, flow and counters, which take codes only.
    let mut p = swing(0.0, 7.0);
    (p[7], p[9], p[11]) = (-9999.0, 6553.5, 6553.5);
    for role in [Role::PumpPower, Role::LoopFlow, Role::PumpSpeed] {
        assert_eq!(found(&p, role), [(-9999.0, 1), (6553.5, 2)], "{role:?}");
    }
    let mut e: Vec<f64> = (0..2000).map(|i| 1200.0 + 0.1 * f64::from(i)).collect();
    (e[50], e[60]) = (-9999.0, 1e38);
    assert_eq!(found(&e, Role::PumpEnergy), [(-9999.0, 1), (1e38, 1)]);
    let absurd = sentinels(&e, Some(Role::PumpEnergy));
    assert!(absurd[1].reason.starts_with("1e38 stands there once, far outside"), "{}", absurd[1].reason);
    let why = &sentinels(&p, None)[1].reason;
    assert_eq!(why, "6553.5 stands there 2 times, far outside the other readings, which lie between 0 and 7");
}

#[test]
fn what_a_plant_does_is_no_sentinel() {
    let none = |what: &str, readings: &[f64], role: Option<Role>| {
        let taken = sentinels(readings, role);
        assert!(taken.is_empty(), "{what}: {taken:?}");
    };
    let every = |n: usize, k: usize, usual: &dyn Fn(usize) -> f64, rare: f64| -> Vec<f64> {
        (0..n).map(|i| if i % k < 5 { rare } else { usual(i) }).collect()
    };
    let roles = [
        None,
        Some(Role::PumpPower),
        Some(Role::LoopFlow),
        Some(Role::PumpSpeed),
        Some(Role::ValvePosition),
        Some(Role::SupplyTemperature),
        Some(Role::DifferentialPressure),
    ];
    for role in roles {
        none("a constant", &[42.0; 500], role);
        none("noughts", &[0.0; 500], role);
        none("full", &[100.0; 500], role);
        none("nothing", &[], role);
        none("a hundred now and then", &every(2000, 100, &|i| 4.0 + (i % 37) as f64 / 50.0, 100.0), role);
        none("noughts now and then", &every(2000, 100, &|i| 400.0 + (i % 37) as f64 / 50.0, 0.0), role);
        none("mostly at rest, then 45", &every(2000, 50, &|_| 0.0, 45.0), role);
        none("mostly at rest, then 999", &every(2000, 50, &|i| (i % 3) as f64, 999.0), role);
        none(
            "spikes with values between",
            &(0..2000)
                .map(|i| 5.0 + if i % 100 < 20 { f64::from((i % 100) * 10) } else { f64::from(i % 30) / 30.0 })
                .collect::<Vec<_>>(),
            role,
        );
    }
    // A counter passes 999, 9999 and stands at 65535 for a while; a power of 999 W lies in its range.
    let mut counter: Vec<f64> = (900..10_100).map(f64::from).collect();
    counter.extend([10_100.0; 50]);
    none("a counter", &counter, Some(Role::PumpEnergy));
    none("a counter of no role", &counter, None);
    none(
        "watts",
        &(0..1000).map(|i| f64::from(i % 200) * 6.0 + 3.0 * f64::from(i % 2)).chain([999.0; 5]).collect::<Vec<_>>(),
        Some(Role::PumpPower),
    );
    none(
        "a state",
        &(0..1000).map(|i| if i % 9 == 0 { 65_535.0 } else { f64::from(i % 2) }).collect::<Vec<_>>(),
        Some(Role::PumpStatus),
    );
    // A speed that rests at 10 Hz with noise and runs full out exactly.
    none("full speed", &every(2000, 40, &|i| 10.0 + (i % 31) as f64 / 300.0, 50.0), Some(Role::PumpSpeed));
    // A meter's range that is full.
    none("full range", &every(2000, 40, &|i| 1.0 + (i % 31) as f64 / 300.0, 50.0), Some(Role::LoopFlow));
    // 850 W of a machine that idles with noise.
    none("850 W", &every(2000, 40, &|i| 1.0 + (i % 31) as f64 / 300.0, 850.0), Some(Role::PumpPower));
    // Of ten readings nobody can tell.
    none("few", &[5.0, 5.1, 9999.0, 5.2, 9999.0], Some(Role::SupplyTemperature));
}

/// What a plain cell costs; printed, and held far below what a slow path costs.
#[test]
fn plain_cells_are_cheap() {
    let mut lcg = Lcg(5);
    let rows: Vec<String> = (0..20_000)
        .map(|_| (0..14).map(|_| format!("{}.{:02}", lcg.next() % 400, lcg.next() % 100)).collect::<Vec<_>>().join(","))
        .collect();
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let start = std::time::Instant::now();
        let (mut sum, mut count) = (0.0, 0u32);
        for row in &rows {
            let (line, mut at) = (row.as_bytes(), 0);
            while let Some((v, end)) = plain_number_at(line, at, b',') {
                sum += v;
                count += 1;
                at = end + 1;
            }
        }
        assert!(sum > 0.0 && count == 280_000);
        best = best.min(start.elapsed().as_secs_f64() * 1e9 / f64::from(count));
    }
    println!("plain cell: {best:.1} ns");
    assert!(best < 60.0, "{best} ns");
}

/// Local names of the QUDT vocabulary as Brick uses them (from memory), words of tag vocabularies, and the trade's in five languages, each beside a
/// spelling whose factor `quantity` checks against handbooks.
#[test]
fn units_as_vocabularies_and_the_trade_spell_them() {
    let rows: &[(&str, &[&str])] = &[
        (
            "degC",
            &[
                "DEG_C",
                "celsius",
                "Grad C",
                "Grad Celsius",
                "degrés C",
                "grados C",
                "gradi C",
                "°C",
                "\u{2103}",
                "[°C]",
            ],
        ),
        ("degF", &["DEG_F", "fahrenheit"]),
        ("delta_degF", &["fahrenheit_degrees"]),
        ("K", &["K", "kelvin_degrees"]),
        ("kW", &["KiloW", "kilowatt", "kW"]),
        ("MW", &["MegaW", "megawatt"]),
        ("kWh", &["KiloW-HR", "kilowatt_hour", "Kilowattstunden"]),
        ("MWh", &["MegaW-HR", "megawatt_hour"]),
        ("Wh", &["W-HR"]),
        ("MJ", &["MegaJ", "megajoule"]),
        ("GJ", &["GigaJ"]),
        ("Btu/h", &["BTU_IT-PER-HR", "btus_per_hour"]),
        ("tons", &["TON_FG", "tons_refrigeration"]),
        ("PS", &["PS", "CV", "ch"]),
        ("kPa", &["KiloPA", "kilopascal"]),
        ("Pa", &["PA", "pascal"]),
        ("hPa", &["HectoPA"]),
        ("MPa", &["MegaPA", "megapascal"]),
        ("bar", &["BAR", "bar(g)", "bar ü"]),
        ("mbar", &["MilliBAR"]),
        ("psi", &["LB_F-PER-IN2", "pounds_per_square_inch"]),
        ("mH2O", &["mWS", "m WS", "mCE", "m.c.a.", "mCA", "meters_of_water"]),
        ("mmH2O", &["mmWS", "mmCE", "mm c.a.", "MilliM_H2O"]),
        ("inH2O", &["IN_H2O", "inches_of_water"]),
        ("ftH2O", &["FT_H2O", "feet_of_water"]),
        (
            "m3/h",
            &[
                "M3-PER-HR",
                "cubic_meters_per_hour",
                "cubicMetersPerHour",
                "m3/std",
                "m³/Std.",
                "cbm/h",
                "m3/heure",
                "m3/hora",
                "m³/ora",
                "㎥/h",
            ],
        ),
        ("m3/s", &["M3-PER-SEC", "cubic_meters_per_second"]),
        ("L/s", &["L-PER-SEC", "liters_per_second", "Liter/s", "l/Sek", "litros/s", "l/seg"]),
        ("L/min", &["L-PER-MIN", "l/min", "l/mn", "litros/min"]),
        ("L/h", &["L-PER-HR", "l/Std", "litres/heure", "litri/h"]),
        ("gpm", &["GAL_US-PER-MIN", "gallons_per_minute"]),
        ("igpm", &["GAL_UK-PER-MIN"]),
        ("%", &["PERCENT", "percent", "Prozent", "pour cent", "por ciento"]),
        ("Hz", &["HZ", "hertz", "Hercios"]),
        (
            "rpm",
            &[
                "REV-PER-MIN",
                "revolutions_per_minute",
                "UpM",
                "U/min",
                "1/min",
                "min-1",
                "tr/min",
                "giri/min",
                "r.p.m.",
            ],
        ),
        ("A", &["A", "ampere", "Amperios"]),
        ("mA", &["MilliA", "milliampere"]),
        ("V", &["V", "Volt"]),
        ("s", &["SEC", "Sek", "segundos"]),
        ("h", &["HR", "Std", "Stunden", "heures"]),
        ("Nm", &["N-M"]),
    ];
    for (plain, spellings) in rows {
        let wanted = units::unit(plain).expect("a plain spelling");
        for spelling in *spellings {
            let got = units::unit(spelling).unwrap_or_else(|e| panic!("{spelling}: {e}"));
            let of = |u: &offcurve::plant::Unit| (u.dimension, u.factor, u.offset);
            assert_eq!(of(&got), of(&wanted), "{spelling}");
            assert!(units::is_known(spelling) && units::dimension(spelling) == Some(wanted.dimension), "{spelling}");
        }
    }
    for none in ["", ".", "ok", "elephants", "kWW"] {
        assert!(
            !units::is_known(none) && (none.is_empty() || none == "." || units::dimension(none).is_none()),
            "{none}"
        );
    }
    assert!(units::is_known("mw") && units::dimension("mw").is_none());
}

/// Through a whole file: cells are converted by their own unit, refused ones are counted with their reason.
#[test]
fn cells_with_units_through_a_file() {
    let plant = crate::ingest::plant(vec![point("P1", Role::PumpPower), point("CHWS", Role::SupplyTemperature)]);
    let text = b"Zeit;P1;CHWS\n2026-03-14 00:00;4,5 kW;21,5 \xb0C\n2026-03-14 00:05;4500 W {ok};50 \xb0F\n2026-03-14 00:10;4,5 kWh;6 kW\n2026-03-14 00:15;4,5 kW {fault};St\xf6rung\n";
    let trends = offcurve::ingest::from_bytes(&plant, &[("north.csv".into(), &text[..])]).unwrap().value;
    let values = |i: usize| trends.series[i].values.iter().map(|v| (v * 1e9).round() / 1e9).collect::<Vec<_>>();
    assert_eq!(values(0)[..2], [4.5, 4.5]);
    // (50 - 32) / 1.8 = 10.
    assert_eq!(values(1)[..2], [21.5, 10.0]);
    let refused = |why: &str| {
        let all = &trends.ledger.files[0].refused;
        all.iter().filter(|r| r.reason == why).map(|r| (r.count, r.first_line)).collect::<Vec<_>>()
    };
    assert_eq!(refused("a unit that its point cannot have"), [(2, 4)]);
    assert_eq!(refused("a word for a bad reading"), [(2, 5)]);
    let file = &trends.ledger.files[0];
    assert_eq!((file.cells, file.used), (8, 4));
}

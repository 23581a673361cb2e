//! Roles from names: the tokeniser by hand, proposals on lists of invented names, the plant file to start from.
//!
//! `tests/it/names/held-out.csv` is only scored against: no test prints a name of it (`tests/it/names/README.md`).

use offcurve::naming::{OfKind, Proposal, Seen, UnitFrom, plant_file, propose, tokens};
use offcurve::plant::{self, Role};
use std::path::Path;

// ---- the tokeniser ----

#[test]
fn names_are_cut_where_a_reader_would() {
    let check = |name: &str, wanted: &[&str]| {
        let found: Vec<String> = tokens(name).into_iter().map(|t| t.text).collect();
        assert_eq!(found, wanted, "{name}");
    };
    // Separators; digits glued to letters.
    check("CHWP-1.SPD", &["chwp", "1", "spd"]);
    check("P1 speed", &["p", "1", "speed"]);
    // Small before capital, and the last of several capitals before a small one.
    check("chwSupplyTemp", &["chw", "supply", "temp"]);
    check("VFDSpeed", &["vfd", "speed"]);
    // Units keep their case together.
    check("P1 kWh", &["p", "1", "kwh"]);
    // Umlauts as two letters, other accents gone, precomposed or combining.
    check("Rücklauf Kälte", &["ruecklauf", "kaelte"]);
    check("Ru\u{308}cklauf", &["ruecklauf"]);
    check("Débit e\u{301}tat", &["debit", "etat"]);
    // Pairs with a slash are one word.
    check("B12_P2_S/S", &["b", "12", "p", "2", "ss"]);
    check("O/A TEMP", &["oa", "temp"]);
    check("ΔP", &["deltap"]);
    // Initials with dots; more than one of what capitals name.
    check("C.H.W.P. 1", &["chwp", "1"]);
    check("to AHUs", &["to", "ahus"]);
    check("", &[]);
    check("--- ...", &[]);
}

// ---- single proposals ----

fn seen<'a>(name: &'a str, unit: Option<&'a str>, low: f64, mean: f64, high: f64, distinct: usize) -> Seen<'a> {
    Seen { name, unit, low, mean, high, distinct, context: "", states: false }
}

fn one(seen: Seen<'_>) -> Proposal {
    propose(&[seen]).remove(0)
}

/// Letters run together are taken apart by the vocabulary: heating hot water, pump 1, speed, feedback.
#[test]
fn run_together_capitals_are_read() {
    let found = one(seen("HHWP1SPDFB", Some("%"), 0.0, 54.0, 97.0, 600));
    assert_eq!(
        (found.role, found.of.as_deref(), found.of_kind),
        (Some(Role::PumpSpeed), Some("HHWP-1"), Some(OfKind::Pump))
    );
    assert!(found.confidence >= 0.9, "{found:?}");
}

/// So are usual abbreviations in small letters, and a run behind the letters of a site.
#[test]
fn runs_of_other_kinds_are_read() {
    let role = |name, unit| one(seen(name, Some(unit), 0.0, 13.0, 18.0, 300)).role;
    assert_eq!(role("ahu7_supairtmpsp", "°C"), Some(Role::AirTemperatureSetpoint));
    assert_eq!(role("LIBCHWST", "°C"), Some(Role::SupplyTemperature));
    // An unread word falls into no short ones: "before" speaks of no hours ("ore" in Italian).
    assert_eq!(role("Pressure before pump 2", "bar"), Some(Role::SuctionPressure));
}

/// Words that the vocabulary holds in another form; a tag of power-plant numbering; states told as a pair.
#[test]
fn other_forms_of_words_are_read() {
    let role = |name, unit| one(seen(name, Some(unit), 0.0, 54.0, 97.0, 600)).role;
    assert_eq!(role("Umwaelzp. 2 Drehz.", "%"), Some(Role::PumpSpeed), "cut short");
    assert_eq!(role("Pump 2 prssr dschrg", "kPa"), Some(Role::DischargePressure), "without vowels");
    assert_eq!(role("Chilled water retrun temprature", "°C"), Some(Role::ReturnTemperature), "mistyped");
    assert_eq!(role("Wandkessel 2 Vorlauf", "°C"), Some(Role::SourceSupplyTemperature), "head of a compound");
    assert_eq!(role("Umwälzpumpe 2 Drehzahl [1/min]", "1/min"), Some(Role::PumpSpeed), "a unit is no minimum");
    let tagged = one(seen("20PAC11AP002 Motorstrom", Some("A"), 0.0, 5.0, 9.0, 600));
    assert_eq!((tagged.role, tagged.of.as_deref()), (Some(Role::MotorCurrent), Some("20PAC11AP002")));
    let asked = one(seen("Pump 2 running?", Some("yes/no"), f64::NAN, f64::NAN, f64::NAN, 2));
    assert_eq!(asked.role, Some(Role::PumpStatus));
}

/// Words that say where a point is keep no role from it; the same words by themselves do.
#[test]
fn places_put_no_role_out() {
    let role = |name, unit| one(seen(name, Some(unit), 0.0, 54.0, 97.0, 600)).role;
    assert_eq!(role("Kitchen AHU heating valve", "%"), Some(Role::ValvePosition), "a kitchen is a place");
    assert_eq!(role("Lab Tower CHWP-2 speed", "%"), Some(Role::PumpSpeed), "a tower is a building");
    assert_eq!(role("Energy Centre / PMP-03 power", "kW"), Some(Role::PumpPower), "its name is no energy counter");
    assert_eq!(role("PlantRoom.CHWP-2.kW", "kW"), Some(Role::PumpPower));
    assert_eq!(role("Circuit CTA température départ", "°C"), Some(Role::SupplyTemperature), "of the circuit");
    for name in ["Cooling tower 2 fan speed", "Pool pump 1 speed", "Kitchen hood fan speed", "Fire pump 1 speed"] {
        assert_eq!(role(name, "%"), None, "{name}");
    }
}

/// A label in letters that no list holds, with what only a pump or a coil has: proposed, never sure.
#[test]
fn unread_labels_are_proposed_with_doubt() {
    let check = |name, unit, wanted| {
        let found = one(seen(name, Some(unit), 0.0, 34.0, 49.0, 600));
        assert_eq!(found.role, Some(wanted), "{name}: {found:?}");
        assert!(found.confidence < 0.8, "{name}: {found:?}");
    };
    check("KXP-3 speed", "Hz", Role::PumpSpeed);
    check("QZ-2 motor torque", "Nm", Role::MotorTorque);
    check("KXP-3 flow", "m3/h", Role::PumpFlow);
    check("QX-4 supply air temp", "°C", Role::AirTemperature);
    // A word in front of an unnumbered pump that nobody knows.
    assert!(one(seen("Qrxl pump speed", Some("%"), 0.0, 54.0, 97.0, 600)).confidence < 0.8);
}

/// Without a unit the values decide: a counter never comes back to nought, and a flow does not end at 100.
#[test]
fn values_decide_between_roles() {
    let role = |name, low, mean, high| one(seen(name, None, low, mean, high, 600)).role;
    assert_eq!(role("Pump 1 consumption", 18_000.0, 18_500.0, 19_000.0), Some(Role::PumpEnergy));
    assert_eq!(role("Pump 1 consumption", 0.0, 4.1, 9.2), Some(Role::PumpPower));
    assert_eq!(role("Min flow bypass", 0.0, 12.0, 100.0), Some(Role::BypassPosition));
    // A room does not freeze.
    let out = one(seen("T_amb", Some("°C"), -6.0, 9.0, 28.0, 600));
    assert_eq!(out.role, Some(Role::OutdoorTemperature), "{out:?}");
    let room = one(seen("T_amb", Some("°C"), 18.0, 21.0, 25.0, 600));
    assert_eq!(room.role, Some(Role::SpaceTemperature), "{room:?}");
    // A switch written as 0 and 100.
    assert_eq!(one(seen("P1 status", None, 0.0, 40.0, 100.0, 2)).role, Some(Role::PumpStatus));
}

/// The same words with a unit that measures something else give no role.
#[test]
fn a_unit_that_contradicts_puts_a_role_out() {
    for unit in ["cfm", "°C", "ppm", "h"] {
        let found = one(seen("P1 speed", Some(unit), 0.0, 54.0, 97.0, 600));
        assert_eq!(found.role, None, "{unit}: {found:?}");
        assert!(!found.why.is_empty());
    }
}

/// Values far from what the role reads leave it doubtful, never sure.
#[test]
fn values_that_contradict_make_it_doubtful() {
    // A room at 140 degC.
    let found = one(seen("Room 3 temp", Some("°C"), 120.0, 140.0, 150.0, 300));
    assert!(found.confidence < 0.8, "{found:?}");
    // A status with 600 different readings.
    let found = one(seen("P1 status", None, 0.0, 54.0, 97.0, 600));
    assert!(found.confidence < 0.8, "{found:?}");
}

/// The unit comes from the unit text, else the name's end, else the values where they leave one.
#[test]
fn units_come_from_text_name_or_values() {
    let unit = |s: Seen<'_>| {
        let found = one(s);
        (found.unit, found.unit_from)
    };
    let said = |unit: &str, from| (Some(unit.to_owned()), Some(from));
    assert_eq!(unit(seen("P1 flow", Some("m³/h"), 1.0, 40.0, 80.0, 500)), said("m3/h", UnitFrom::Header));
    assert_eq!(unit(seen("P1 power (kW)", None, 1.0, 4.0, 8.0, 500)), said("kW", UnitFrom::Name));
    assert_eq!(unit(seen("CHWP1_GPM", None, 1.0, 400.0, 800.0, 500)), said("gpm", UnitFrom::Name));
    // Heating water of 140 is degF: as degC it would be steam.
    assert_eq!(unit(seen("HHW supply temp", None, 110.0, 140.0, 165.0, 500)), said("degF", UnitFrom::Values));
    // Heating water with a mean of 90 may be either: 90 degC and 90 degF are both met.
    assert_eq!(unit(seen("HHW supply temp", None, 70.0, 90.0, 98.0, 500)).0, None);
    // A flow of 40 may be in any unit.
    assert_eq!(unit(seen("P1 flow", None, 1.0, 40.0, 80.0, 500)).0, None);
}

#[test]
fn what_nobody_could_know_gets_no_role() {
    for name in ["AI-07", "TL_113", "point_0451", "", "🌡", "Comments", "1234", "=HYPERLINK(\"x\")"] {
        let found = one(seen(name, None, 0.0, 40.0, 90.0, 600));
        assert_eq!(found.role, None, "{name}: {found:?}");
        assert_eq!(found.confidence, 0.0);
        assert!(found.why.starts_with("No role"), "{name}: {}", found.why);
    }
}

/// An "output" of a drive alone may be command or feedback; beside a point that reads the speed back it is the command.
#[test]
fn names_of_one_file_help_one_another() {
    let output = seen("P-1 output", Some("%"), 0.0, 54.0, 97.0, 600);
    let alone = one(output);
    let beside = propose(&[output, seen("P-1 speed feedback", Some("%"), 0.0, 54.0, 97.0, 600)]);
    assert_eq!(beside[0].role, Some(Role::PumpSpeedCommand));
    assert!(alone.confidence < 0.8 && beside[0].confidence >= 0.8, "{alone:?} {:?}", beside[0]);
}

/// A label that no word names is a unit's once a valve and an air temperature bear it; one of them alone is not enough.
#[test]
fn points_that_share_a_label_make_it_a_unit() {
    let valve = seen("CR-1 chw valve", Some("%"), 0.0, 54.0, 97.0, 600);
    let air = seen("CR-1 supply air temp", Some("°C"), 12.0, 16.0, 22.0, 300);
    let beside = propose(&[valve, air]);
    for found in &beside {
        assert_eq!((found.of.as_deref(), found.of_kind), (Some("CR-1"), Some(OfKind::Coil)), "{found:?}");
        assert!(found.confidence >= 0.8, "{found:?}");
    }
    assert!(one(valve).of.is_none() && one(valve).confidence < 0.8);
}

/// Arbitrary text: no panic, one proposal each, confidence a share.
#[test]
fn arbitrary_text_is_survived() {
    let alphabet: Vec<char> =
        "CHWPSPDahuVAVkWh019-_./:()[]%°µ³üéñß\u{308}\u{301}\0\n\t\"'=@漢字🌡ΔİǅﬁµKÅ ".chars().collect();
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut next = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state as usize
    };
    let mut text = || -> String { (0..next() % 60).map(|_| alphabet[next() % alphabet.len()]).collect() };
    let names: Vec<(String, String)> = (0..20_000).map(|_| (text(), text())).collect();
    let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1e308, 0.0];
    let points: Vec<Seen<'_>> = names
        .iter()
        .enumerate()
        .map(|(i, (name, unit))| Seen {
            low: odd[i % 5],
            mean: odd[(i / 5) % 5],
            high: odd[(i / 25) % 5],
            states: i % 7 == 0,
            context: unit,
            ..seen(name, (i % 3 == 0).then_some(unit.as_str()), 0.0, 0.0, 0.0, i % 1001)
        })
        .collect();
    let found = propose(&points);
    assert_eq!(found.len(), points.len());
    assert!(found.iter().all(|p| (0.0..=1.0).contains(&p.confidence) && !p.why.is_empty()));
    let long = "CHWP".repeat(200_000);
    assert_eq!(propose(&[seen(&long, None, 0.0, 1.0, 2.0, 5)]).len(), 1);
    let pairs: Vec<(Seen<'_>, Proposal)> = points.into_iter().zip(found).collect();
    let written = plant_file(&pairs, &[], None);
    // Whatever the names hold, no line ends up outside a string or a comment.
    let errors =
        plant::parse(&fill(&written), Path::new("plant.toml")).map_or_else(|e| e.to_string(), |_| String::new());
    assert!(!errors.contains("TOML") && !errors.contains("expected"), "{errors}");
}

#[test]
fn ten_thousand_names_take_less_than_a_second() {
    let list = list("development.csv");
    let points: Vec<Seen<'_>> = (0..10_000).map(|i| list[i % list.len()].seen()).collect();
    let start = std::time::Instant::now();
    let found = propose(&points);
    let took = start.elapsed();
    assert_eq!(found.len(), 10_000);
    assert!(took.as_secs_f64() < 1.0, "{took:?}");
}

// ---- the lists ----

#[derive(Clone)]
struct Row {
    name: String,
    unit: Option<String>,
    values: [f64; 3],
    distinct: usize,
    context: String,
    role: Option<Role>,
    kind: String,
    language: &'static str,
}

impl Row {
    fn seen(&self) -> Seen<'_> {
        let [low, mean, high] = self.values;
        Seen { context: &self.context, ..seen(&self.name, self.unit.as_deref(), low, mean, high, self.distinct) }
    }
}

fn list(file: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/names").join(file);
    let text = std::fs::read_to_string(&path).expect("the list is in the repository");
    text.lines().skip(1).map(row).collect()
}

fn row(line: &str) -> Row {
    let cells = cells(line);
    let number = |text: &str| text.parse().unwrap_or(f64::NAN);
    Row {
        name: cells[0].clone(),
        unit: Some(cells[1].clone()).filter(|u| !u.is_empty()),
        values: [number(&cells[2]), number(&cells[3]), number(&cells[4])],
        distinct: cells[5].parse().unwrap_or(0),
        context: cells[6].clone(),
        role: Role::from_word(&cells[7]),
        kind: cells[8].clone(),
        language: language(&cells[0]),
    }
}

/// The cells of a line of CSV.
fn cells(line: &str) -> Vec<String> {
    let (mut cells, mut quoted) = (vec![String::new()], false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            c => cells.last_mut().expect("there is a first").push(c),
        }
    }
    cells
}

/// The language of a name by the pieces of its words: for figures only.
fn language(name: &str) -> &'static str {
    let name = name.to_lowercase();
    let any = |list: &[&str]| list.iter().any(|w| name.contains(w));
    match () {
        () if any(&[
            "pumpe",
            "lauf",
            "ventil",
            "kessel",
            "temperatur ",
            "drehz",
            "raum",
            "wärme",
            "kälte",
            "heiz",
            "druck",
            "strom",
            "leistung",
            "luft",
            "soll",
            "_ist",
            "wmz",
            "hk0",
            "störung",
        ]) && !any(&["ventilo", "ventila"]) =>
        {
            "German"
        }
        () if any(&[
            "pompe",
            "départ",
            "retour",
            "eau ",
            "vanne",
            "débit",
            "t° ",
            "consigne",
            "cta",
            "puissance",
            "chaud",
            "défaut",
            "réseau",
            "vitesse",
        ]) =>
        {
            "French"
        }
        () if any(&[
            "bomba",
            "agua",
            "impuls",
            "retorno",
            "válv",
            "caudal",
            "presi",
            "potencia",
            "calder",
            "enfriad",
            "consigna",
            "temp. ",
            "climatiz",
            "velocidad",
        ]) =>
        {
            "Spanish"
        }
        () => "English",
    }
}

#[derive(Debug, Default)]
struct Score {
    with_role: usize,
    right: usize,
    right_and_sure: usize,
    wrong_and_sure: usize,
    kind_right: usize,
    distractors: usize,
    distractors_sure: usize,
    /// Proposals with a role and those that are right, by confidence: below 0.5, 0.5, 0.6, .., 0.9.
    bins: [(usize, usize); 6],
}

impl Score {
    fn right_share(&self) -> f64 {
        self.right as f64 / self.with_role.max(1) as f64
    }
    fn distractor_share(&self) -> f64 {
        self.distractors_sure as f64 / self.distractors.max(1) as f64
    }
    fn add(&mut self, row: &Row, found: &Proposal) {
        let sure = found.confidence >= 0.8;
        let right = row.role.is_some() && row.role == found.role;
        if found.role.is_some() {
            let bin = ((found.confidence * 10.0 + 1e-9) as usize).saturating_sub(4).min(5);
            self.bins[bin].0 += 1;
            self.bins[bin].1 += usize::from(right);
        }
        if row.role.is_none() {
            self.distractors += 1;
            self.distractors_sure += usize::from(sure);
            return;
        }
        self.with_role += 1;
        self.right += usize::from(right);
        self.right_and_sure += usize::from(right && sure);
        self.wrong_and_sure += usize::from(!right && sure);
        self.kind_right += usize::from(right && found.of_kind.map_or("", OfKind::word) == row.kind);
    }
}

/// Each row by itself with its context: nothing else of the file helps.
fn score(rows: &[Row]) -> Score {
    let mut score = Score::default();
    for row in rows {
        score.add(row, &one(row.seen()));
    }
    score
}

fn print_figures(what: &str, rows: &[Row]) {
    for language in ["English", "German", "French", "Spanish"] {
        let mut part = Score::default();
        for row in rows.iter().filter(|r| r.language == language) {
            part.add(row, &one(row.seen()));
        }
        println!(
            "{what}, {language}: right {} of {}, distractors sure {} of {}",
            part.right, part.with_role, part.distractors_sure, part.distractors
        );
    }
    println!("{what}: {:?}", score(rows));
}

/// The list that the rules were first written with: every role, and no distractor with one.
#[test]
fn development_names_get_their_roles() {
    let rows = list("development.csv");
    let score = score(&rows);
    print_figures("development", &rows);
    assert!(score.with_role + score.distractors >= 300, "{score:?}");
    assert!(score.right_share() >= 0.99, "{score:?}");
    assert!(score.distractor_share() < 0.01, "{score:?}");
    assert_eq!(score.wrong_and_sure, 0, "{score:?}");
    // All rows of the list as one file: neighbours of other sites must not lead astray.
    let points: Vec<Seen<'_>> = rows.iter().map(Row::seen).collect();
    let whole = propose(&points);
    let right = rows.iter().zip(&whole).filter(|(r, p)| r.role.is_some() && r.role == p.role).count();
    assert!(right as f64 >= 0.99 * score.with_role as f64, "{right} of {}", score.with_role);
    let astray = rows.iter().zip(&whole).filter(|(r, p)| r.role.is_none() && p.confidence >= 0.8).count();
    assert_eq!(astray, 0);
}

/// The list that was held out before it was spent; its misses are known, and the rules were mended for their families.
#[test]
fn names_once_held_out_get_their_roles() {
    let rows = list("development-2.csv");
    let score = score(&rows);
    print_figures("development 2", &rows);
    assert!(score.right_share() >= 0.99, "{score:?}");
    assert!(score.distractor_share() < 0.01, "{score:?}");
    assert_eq!(score.wrong_and_sure, 0, "{score:?}");
}

/// Names written beside the rules in yet other conventions, with no column for the owner.
#[test]
fn names_of_other_conventions_get_their_roles() {
    let rows = list("development-3.csv");
    let score = score(&rows);
    print_figures("development 3", &rows);
    assert!(score.right_share() >= 0.97, "{score:?}");
    assert!(score.distractor_share() < 0.03, "{score:?}");
    assert!(score.wrong_and_sure <= 10, "{score:?}");
}

/// The second list that was held out before it was spent.
#[test]
fn names_held_out_later_get_their_roles() {
    let rows = list("development-4.csv");
    let score = score(&rows);
    print_figures("development 4", &rows);
    assert!(score.right_share() >= 0.98, "{score:?}");
    assert!(score.distractor_share() < 0.03, "{score:?}");
    assert!(score.wrong_and_sure <= 2, "{score:?}");
}

/// Names invented after published vocabularies and conventions of others, with distractors of many kinds.
#[test]
fn names_after_published_conventions_get_their_roles() {
    let rows = list("development-5.csv");
    let score = score(&rows);
    print_figures("development 5", &rows);
    assert!(score.with_role >= 1500 && score.distractors >= 400, "{score:?}");
    assert!(score.right_share() >= 0.98, "{score:?}");
    assert!(score.distractor_share() < 0.03, "{score:?}");
    assert!(score.wrong_and_sure <= 5, "{score:?}");
}

/// How a name is written says nothing of what it means: small letters, other separators, a site in front.
#[test]
fn the_way_of_writing_changes_little() {
    let mut rows = list("development.csv");
    rows.extend(list("development-2.csv"));
    rows.extend(list("development-4.csv"));
    let of = |s: &[Row]| score(s).right_share();
    let plain = of(&rows);
    let rewritten = |change: fn(&str) -> String| -> f64 {
        let written: Vec<Row> = rows.iter().map(|r| Row { name: change(&r.name), ..r.clone() }).collect();
        of(&written)
    };
    let separators = rewritten(|name| name.replace([' ', '/', '.', ':', '-'], "_"));
    let sited = rewritten(|name| format!("Northgate Campus - {name}"));
    let housed = rewritten(|name| format!("B07/{name}"));
    let small = rewritten(str::to_lowercase);
    println!("{plain:.3}: separators {separators:.3}, site {sited:.3}, house {housed:.3}, small letters {small:.3}");
    assert!(
        plain - separators < 0.02 && plain - sited < 0.01 && plain - housed < 0.02,
        "{separators} {sited} {housed}"
    );
    assert!(plain - small < 0.05, "{small}");
}

/// The list that nobody looked at while the rules were written. Prints sums only.
#[test]
fn held_out_names_get_their_roles() {
    let rows = list("held-out.csv");
    let score = score(&rows);
    print_figures("held out", &rows);
    // Aimed at: 0.95. Reached: see tests/it/names/README.md.
    assert!(score.right_share() >= 0.90, "{score:?}");
    assert!(score.distractor_share() < 0.03, "{score:?}");
    // Of proposals at 0.9 or more, nine in ten are right.
    let (proposed, right) = score.bins[5];
    assert!(right * 10 >= proposed * 9, "{score:?}");
}

// ---- the plant file to start from ----

/// What a person does with the blanks: takes `#? ` away.
fn fill(text: &str) -> String {
    text.lines().map(|l| l.strip_prefix("#? ").unwrap_or(l)).fold(String::new(), |out, l| out + l + "\n")
}

fn drafted(points: &[Seen<'_>], timezone: Option<&str>) -> String {
    let found = propose(points);
    let pairs: Vec<(Seen<'_>, Proposal)> = points.iter().copied().zip(found).collect();
    plant_file(&pairs, &["trends/north.csv".to_owned()], timezone)
}

/// A usual plant: what is sure is filled in, the rest stands in comments with its reason, and the file is read.
#[test]
fn the_file_to_start_from_is_read() {
    let points = [
        seen("CHWP-1 speed", Some("%"), 0.0, 54.0, 97.0, 600),
        seen("CHWP-1 kW", Some("kW"), 0.0, 4.0, 9.0, 600),
        seen("CHWP-2 speed", Some("%"), 0.0, 54.0, 97.0, 600),
        seen("CHWP-2 run status", None, 0.0, 0.4, 1.0, 2),
        seen("CHW DP", Some("psi"), 4.0, 12.0, 20.0, 600),
        seen("CHW supply temp", Some("°F"), 42.0, 45.0, 50.0, 300),
        seen("AHU-4 CHW valve", Some("V"), 0.0, 6.0, 10.0, 600),
        seen("Room 312 temp", Some("°C"), 20.0, 22.0, 25.0, 200),
        seen("HHW supply temp", Some("°F"), 100.0, 140.0, 170.0, 300),
        seen("CH-1 status", Some("on/off"), 0.0, 0.4, 1.0, 2),
        seen("TL_113", None, 0.0, 41.0, 100.0, 640),
        seen("OAT", Some("°F"), 20.0, 50.0, 90.0, 600),
    ];
    let text = drafted(&points, Some("Europe/Lisbon"));
    let plant = plant::parse(&text, Path::new("plant.toml")).unwrap_or_else(|e| panic!("{e}\n{text}")).value;
    assert_eq!(plant.pumps.iter().map(|p| p.name.as_str()).collect::<Vec<_>>(), ["CHWP-1", "CHWP-2"]);
    assert_eq!(plant.coils.iter().map(|c| c.name.as_str()).collect::<Vec<_>>(), ["AHU-4", "ROOM-312"]);
    assert_eq!(plant.sources.iter().map(|c| c.name.as_str()).collect::<Vec<_>>(), ["CH-1"]);
    assert_eq!(plant.system.service, plant::Service::ChilledWater);
    // Twelve columns: one opaque, one of another loop.
    assert_eq!(plant.points.len(), 10, "{text}");
    assert!(text.contains("# \"TL_113\": No role: no word of the name is known."), "{text}");
    assert!(text.contains("it belongs to another loop"), "{text}");
    assert!(text.contains("name plate") && text.contains("test curve"), "{text}");
    let valve = plant.points.iter().find(|p| p.role == Role::ValvePosition).expect("the valve is sure");
    assert_eq!(valve.range, Some((0.0, 10.0)));
}

/// Nothing known: once the blanks are taken as they stand the file is read.
#[test]
fn a_file_with_blanks_is_read_once_they_are_filled() {
    let text = drafted(&[seen("Trend 4", None, 0.0, 41.0, 100.0, 640)], None);
    assert!(plant::parse(&text, Path::new("plant.toml")).is_err(), "the blanks are needed");
    let filled = fill(&text) + "\n[[point]]\nname = \"Trend 4\"\nrole = \"ignore\"\n";
    let plant = plant::parse(&filled, Path::new("plant.toml")).unwrap_or_else(|e| panic!("{e}\n{filled}")).value;
    assert_eq!(plant.pumps.len(), 1);
}

/// Names that would break out of a string or a comment stay inside, and are read back letter by letter.
#[test]
fn hostile_names_stay_inside_their_strings() {
    let names = [
        "P-1 speed \"quoted\"",
        "P-1 speed\nrole = \"ignore\"",
        "=HYPERLINK(\"http://example.invalid\",\"P-1 speed\")",
        "P-1 speed \\ back\\slash",
        "P-1 speed \u{7}\u{202e}",
    ];
    let points: Vec<Seen<'_>> = names.iter().map(|n| seen(n, Some("%"), 0.0, 54.0, 97.0, 600)).collect();
    let text = drafted(&points, Some("Europe/Lisbon"));
    let plant = plant::parse(&fill(&text), Path::new("plant.toml")).unwrap_or_else(|e| panic!("{e}\n{text}")).value;
    for point in &plant.points {
        assert!(names.contains(&point.name.as_str()), "{:?}", point.name);
        assert_eq!(point.role, Role::PumpSpeed);
    }
    assert!(!plant.points.is_empty(), "{text}");
    assert!(text.lines().all(|l| l.chars().all(|c| !c.is_control() && c != '\u{202e}')));
}

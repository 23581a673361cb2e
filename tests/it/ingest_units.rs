//! Units that the plant file leaves out, and plant files of which only the trends are known yet.

use crate::ingest::{plant, point};
use offcurve::ingest::from_bytes;
use offcurve::plant::{Plant, Role, Service, read_for_exports};

/// A file of one point, twelve readings that rise from the first to the last.
fn rising(head: &str, from: f64, to: f64) -> String {
    let row = |i: usize| format!("2026-03-14 00:{:02},{:.3}\n", i * 5, from + (to - from) * i as f64 / 11.0);
    (0..12).fold(format!("Time,{head}\n"), |text, i| text + &row(i))
}

/// First and last reading as taken, their unit, and what was said.
fn taken(plant: &Plant, text: &str) -> (f64, f64, &'static str, String) {
    let read = from_bytes(plant, &[("north.csv".to_string(), text.as_bytes())]).expect("readable");
    let series = &read.value.series[0];
    let said = read.notices.iter().map(|n| n.text.as_str()).collect::<Vec<_>>().join("\n");
    (series.values[0], series.values[11], series.unit, said)
}

/// Head, role, service, first and last reading as written and as taken, the unit, a word of the notice.
type Row = (&'static str, Role, Service, (f64, f64), (f64, f64), &'static str, &'static str);

#[test]
fn a_unit_that_nobody_declares_is_the_exports_own_or_the_only_one_left() {
    // 50 degF is 10 degC (definition).
    #[rustfmt::skip]
    let rows: &[Row] = &[
        ("the export's", Role::PumpSpeed, Service::ChilledWater, (0.0, 45.0), (0.0, 45.0), "Hz", ""),
        ("x", Role::ValvePosition, Service::ChilledWater, (0.0, 80.0), (0.0, 0.8), "fraction", "unit = \"%\""),
        ("x", Role::ValvePosition, Service::ChilledWater, (0.0, 11.2), (0.0, 0.112), "fraction", "unit = \"%\""),
        // A valve in volts, or in per cent and hardly open: not to be told.
        ("x", Role::ValvePosition, Service::ChilledWater, (0.0, 9.8), (0.0, 9.8), "fraction", "taken as fraction"),
        ("x", Role::ValvePosition, Service::ChilledWater, (0.0, 0.8), (0.0, 0.8), "fraction", "unit = \"fraction\""),
        // Up to 60: per cent or Hz.
        ("x", Role::PumpSpeed, Service::ChilledWater, (0.0, 60.0), (0.0, 60.0), "fraction", "taken as fraction"),
        ("x", Role::PumpSpeed, Service::ChilledWater, (0.0, 64.0), (0.0, 0.64), "fraction", "unit = \"%\""),
        ("x", Role::PumpSpeed, Service::ChilledWater, (0.0, 1450.0), (0.0, 1450.0), "rpm", "unit = \"rpm\""),
        ("x", Role::SupplyTemperature, Service::ChilledWater, (50.0, 50.0), (10.0, 10.0), "degC", "unit = \"degF\""),
        ("x", Role::SupplyTemperature, Service::ChilledWater, (6.0, 12.0), (6.0, 12.0), "degC", "unit = \"degC\""),
        ("x", Role::SupplyTemperature, Service::HeatingWater, (50.0, 70.0), (50.0, 70.0), "degC", "unit = \"degC\""),
        ("x", Role::SupplyTemperature, Service::HeatingWater, (140.0, 176.0), (60.0, 80.0), "degC", "unit = \"degF\""),
        ("x", Role::PumpPower, Service::ChilledWater, (0.0, 4.0), (0.0, 4.0), "kW", "taken as kW"),
    ];
    for &(head, role, service, (from, to), (first, last), unit, words) in rows {
        let mut plant = plant(vec![point("x", role)]);
        plant.system.service = service;
        let head = if head == "x" { "x" } else { "x [Hz]" };
        let (low, high, found, said) = taken(&plant, &rising(head, from, to));
        let case = format!("{} {from} to {to} under \"{head}\"", role.word());
        assert!((low - first).abs() < 1e-3 && (high - last).abs() < 1e-3, "{case}: {low} to {high}");
        assert_eq!(found, unit, "{case}");
        assert!(said.contains(words) && (words.is_empty() != said.contains("has no unit")), "{case}: {said}");
    }
}

#[test]
fn a_sentinel_does_not_speak_for_the_unit_and_a_factor_of_the_plant_file_is_left_alone() {
    let mut text = String::from("Time,x\n");
    for i in 0..1000 {
        let reading = if i == 500 { 6553.5 } else { f64::from(i) * 0.08 };
        text += &format!("2026-03-{:02} {:02}:{:02},{reading:.2}\n", 1 + i / 288, i / 12 % 24, i % 12 * 5);
    }
    let valve = point("x", Role::ValvePosition);
    let (_, _, unit, said) = taken(&plant(vec![valve.clone()]), &text);
    assert!(unit == "fraction" && said.contains("unit = \"%\""), "{said}");
    let scaled = offcurve::plant::Point { scale: 0.01, ..valve };
    let (low, high, _, said) = taken(&plant(vec![scaled]), &rising("x", 0.0, 80.0));
    assert!((low, high) == (0.0, 0.8) && said.contains("taken as fraction"), "{low} to {high}: {said}");
}

#[test]
fn exports_are_looked_at_with_a_plant_file_of_trends_and_points_alone() {
    let folder = crate::scratch::folder();
    let path = folder.path().join("plant.toml");
    let part = "[trends]\ntimezone = \"Europe/Lisbon\"\nday_first = true\n[[point]]\nname = \"kW\"\nrole = \"pump-power\"\nof = \"P-1\"\nunit = \"kW\"\n";
    // Text, what it must be refused for (nothing: it is read).
    let rows = [
        (part.to_string(), ""),
        ("[[point]]\nname = \"kW\"\nrole = \"pump-power\"\n".to_string(), ""),
        (String::new(), ""),
        (part.replace("Lisbon", "Lissbon"), "the nearest is \"Europe/Lisbon\""),
        (part.replace("pump-power", "pump-powr"), "pump-power"),
        (part.replace("\"kW\"\nrole", "kW\nrole"), "plant.toml:5"),
    ];
    for (text, refused) in rows {
        std::fs::write(&path, &text).expect("written");
        match read_for_exports(&path) {
            Ok(read) => {
                assert_eq!(refused, "", "{text}");
                if text == part {
                    assert_eq!(read.value.trends.timezone, chrono_tz::Europe::Lisbon);
                    assert_eq!((read.value.trends.day_first, read.value.points.len()), (Some(true), 1));
                    assert_eq!(read.value.points[0].of.as_deref(), Some("P-1"));
                }
            }
            Err(errors) => assert!(!refused.is_empty() && errors.to_string().contains(refused), "{text}: {errors}"),
        }
        // A review asks for all of it.
        assert!(offcurve::plant::read(&path).is_err(), "{text}");
    }
}

#[test]
fn what_a_person_says_of_the_text_stands_before_what_it_looks_like() {
    use offcurve::plant::{DecimalSign, Delimiter, TrendShape, Written};
    // A list of two points that has the looks of a table with a column of words; a table of one point whose cells hold two numbers.
    let list = "Time,Reading,Which\n2026-03-14 00:00,1,kW\n2026-03-14 00:05,2,kW\n2026-03-14 00:10,3,kW\n";
    let blanks = "Time;kW\n2026-03-14 00:00;1,5\n2026-03-14 00:05;2,5\n2026-03-14 00:10;3,5\n";
    let thousands = "Time;kW\n2026-03-14 00:00;1.500\n2026-03-14 00:05;2.500\n2026-03-14 00:10;3.500\n";
    let told = |delimiter, decimal, shape| Written { delimiter, decimal, shape };
    // Text, what is declared, first reading or words of the refusal.
    let rows: &[(&str, Written, Result<f64, &str>)] = &[
        (list, told(None, None, Some(TrendShape::Tall)), Ok(1.0)),
        (list, told(None, None, Some(TrendShape::Wide)), Err("no valid reading")),
        (blanks, told(None, None, None), Ok(1.5)),
        (blanks, told(Some(Delimiter::Semicolon), Some(DecimalSign::Comma), Some(TrendShape::Wide)), Ok(1.5)),
        (blanks, told(Some(Delimiter::Tab), None, None), Err("no column holds times")),
        (blanks, told(None, None, Some(TrendShape::Tall)), Err("no column here holds point names")),
        (thousands, told(None, Some(DecimalSign::Point), None), Ok(1.5)),
        (thousands, told(None, Some(DecimalSign::Comma), None), Ok(1500.0)),
    ];
    for (text, written, expected) in rows {
        let mut plant = plant(vec![point("kW", Role::PumpPower)]);
        plant.trends.written = *written;
        let read = from_bytes(&plant, &[("north.csv".to_string(), text.as_bytes())]);
        match (read, expected) {
            (Ok(read), Ok(first)) => assert_eq!(read.value.series[0].values[0], *first, "{written:?}"),
            (Err(error), Err(words)) => assert!(error.to_string().contains(words), "{written:?}: {error}"),
            (read, _) => panic!("{written:?}: {:?}", read.map(|r| r.value.series)),
        }
    }
}

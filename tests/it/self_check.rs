//! The self-check of pump models: offsets that are planted are found with their interval, a drift is seen, and steady plants show none.
//!
//! Truth is that of the invented plants (tests/points), whose equations are not the analyser's.

use crate::invented::machine::{HEAD_BEND, HEAD_GAIN, HEAD_LEVEL, HEAD_TILT, HEAD_ZERO};
use crate::invented::nuisance as table;
use crate::invented::plant::{Held, Key, Plant, run};
use crate::invented::{score, write};
use offcurve::hydraulics::student;
use offcurve::notice::Noticed;
use offcurve::operating::check::{Offset, OffsetOf, SelfCheck};
use offcurve::operating::model::witness;
use offcurve::plant::UnitSystem;
use offcurve::{ingest, operating, pipeline, plant, report, screening};
use std::path::Path;

const TWO: [Key; 3] = [Key::Speed(0), Key::Head(0), Key::Power(0)];
const THREE: [Key; 4] = [Key::Speed(0), Key::Head(0), Key::Power(0), Key::Meter];
/// Four days a piece: twelve days of a month.
const PIECES: u64 = 3;
const FIRST_DAY: usize = 5;

/// Twelve days of each of `months` (from January 2026 on), power read `gain` times higher than before from the second month on.
fn checked(plant: &Plant, keys: &[Key], months: u64, gain: f64) -> SelfCheck {
    machine(plant, keys, months, gain).check
}

fn machine(plant: &Plant, keys: &[Key], months: u64, gain: f64) -> operating::Machine {
    let (declared, trends) = recorded(plant, keys, months, gain);
    let screened = screening::screen(&declared, trends).value;
    let mut machines = operating::reconstruct(&declared, &screened).value.machines;
    machines.remove(0)
}

fn recorded(plant: &Plant, keys: &[Key], months: u64, gain: f64) -> (plant::Plant, ingest::Trends) {
    let mut text = String::new();
    for month in 0..months {
        for piece in 0..PIECES {
            // Loads and noise of its own.
            let varied = Plant { number: plant.number + 10_000 * (1 + piece + PIECES * month), ..plant.clone() };
            let mut record = run(&varied, Held::AtPump);
            for (key, column) in &mut record.columns {
                if month > 0 && *key == Key::Power(0) {
                    column.values.iter_mut().for_each(|v| *v *= gain);
                }
            }
            let exported = String::from_utf8(write::export(&record, keys)).expect("text");
            for (k, line) in exported.lines().enumerate().skip(usize::from(!text.is_empty())) {
                if k == 0 {
                    text.push_str(line);
                } else {
                    let day: usize = line[8..10].parse().expect("a day");
                    let moved = FIRST_DAY + table::DAYS * piece as usize + (day - 12);
                    text.push_str(&format!("2026-{:02}-{moved:02}{}", month + 1, &line[10..]));
                }
                text.push('\n');
            }
        }
    }
    let declared = plant::parse(&write::plant_file(plant, Held::AtPump, keys), Path::new("invented/plant.toml"))
        .unwrap_or_else(|e| panic!("{e}"))
        .value;
    let files = [("trend.csv".to_owned(), text.as_bytes())];
    let trends = ingest::from_bytes(&declared, &files).unwrap_or_else(|e| panic!("{e}")).value;
    (declared, trends)
}

fn offset(check: &SelfCheck, of: OffsetOf) -> Offset {
    *check.offsets.iter().find(|o| o.of == of).unwrap_or_else(|| panic!("no {of:?} in {:?}", check.offsets))
}

const PLANTS: u64 = 30;

/// A head sensor 3 % high where meter, power and a table without departures are there. The prior allows 2.2 % of scale and table together, so that what
/// a flat curve cannot tell is pulled toward none.
#[test]
fn a_head_sensor_that_reads_high_is_found_with_its_interval() {
    let numbers: Vec<u64> = (0..PLANTS).collect();
    let found = score::many(&numbers, |number| {
        let mut plant = Plant::single(number);
        let truth = &mut plant.machines[0].truth;
        (truth[HEAD_LEVEL], truth[HEAD_TILT], truth[HEAD_BEND]) = (0.0, 0.0, 0.0);
        (truth[HEAD_GAIN], truth[HEAD_ZERO]) = (0.03, 0.0);
        offset(&checked(&plant, &THREE, 1, 1.0), OffsetOf::HeadScale)
    });
    let count = |f: fn(&Offset) -> bool| found.iter().filter(|o| f(o)).count();
    let (inside, high, told) =
        (count(|o| (o.low..=o.high).contains(&0.03)), count(|o| o.low > 0.0), count(|o| o.told_by_record));
    let mean = found.iter().map(|o| o.estimate).sum::<f64>() / found.len() as f64;
    println!(
        "3 % high: mean estimate {mean:.4}; of {PLANTS} intervals {inside} hold it, {high} exclude none; {told} told"
    );
    // 95 % of 30 is 28.5; two fewer would still be chance.
    assert!(inside >= 26 && high >= 20 && told >= 15, "{inside} {high} {told}");
    assert!((mean - 0.03).abs() < 0.006, "{mean}");
    // What the record did not tell is nearly as wide as the prior: nobody is told a number that only stood in the prior.
    for o in found.iter().filter(|o| !o.told_by_record) {
        assert!(o.high - o.low > 0.055, "{o:?}");
    }
}

/// 6 % more power read from February on: 1.06 over a learned gain of about 1.03 is 5.8 %.
#[test]
fn a_power_reading_that_drifts_is_seen_and_steady_plants_show_none() {
    for keys in [&TWO[..], &THREE[..]] {
        let numbers: Vec<u64> = (0..PLANTS).collect();
        let both = score::many(&numbers, |number| {
            let plant = Plant::single(number);
            (checked(&plant, keys, 2, 1.0), checked(&plant, keys, 2, 1.06))
        });
        let mut seen = Vec::new();
        for (number, (steady, drifted)) in both.iter().enumerate() {
            assert!(steady.drift.is_none(), "plant {number} is steady: {:?}", steady.drift);
            let Some(drift) = &drifted.drift else { continue };
            assert_eq!(drift.since_ms, FEBRUARY_MS, "plant {number}: {drift:?}");
            // A drift is there whichever is named; among three the flatter pumps may name the wrong one, which counts as not seen.
            if drift.witness != witness::POWER {
                continue;
            }
            assert!(drift.against.contains(&witness::HEAD) && !drift.against.contains(&witness::POWER), "{drift:?}");
            assert!(drift.low <= drift.change && drift.change <= drift.high, "{drift:?}");
            seen.push(drift.change);
        }
        seen.sort_by(f64::total_cmp);
        println!("drift of 6 % seen on {} of {PLANTS} plants, middle {:.4}", seen.len(), seen[seen.len() / 2]);
        assert!(seen.len() as u64 * 10 >= PLANTS * 9, "{seen:?}");
        assert!((seen[seen.len() / 2] - 0.058).abs() < 0.004, "{seen:?}");
    }
}

/// Months are the plant's own, by its clock: in Lisbon January and February begin at midnight UTC. A measurement alone has nothing to be held against.
#[test]
fn months_are_those_of_the_plant_and_need_two_measurements() {
    let plant = Plant::single(3);
    let check = checked(&plant, &THREE, 2, 1.0);
    let begun: Vec<i64> = check.months.iter().filter(|m| m.witness == witness::POWER).map(|m| m.from_ms).collect();
    assert_eq!(begun, [JANUARY_MS, FEBRUARY_MS]);
    let first = check.months.iter().filter(|m| m.from_ms == JANUARY_MS);
    assert!(first.clone().count() == 3 && first.clone().all(|m| m.change.is_none()), "{:?}", check.months);
    let alone = checked(&plant, &TWO[..2], 2, 1.0);
    assert!(alone.months.is_empty() && alone.drift.is_none() && alone.cells == 0, "{alone:?}");
    assert!(alone.offsets.iter().all(|o| !o.told_by_record), "{:?}", alone.offsets);
}

/// 1 January and 1 February 2026, 00:00 UTC [ms].
const JANUARY_MS: i64 = 1_767_225_600_000;
const FEBRUARY_MS: i64 = JANUARY_MS + 31 * 86_400_000;

/// Quantiles of Student's t at 97.5 %: printed tables (e.g. NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2).
#[test]
fn quantiles_are_those_of_the_tables() {
    for (freedom, wanted) in
        [(1.0, 12.706), (2.0, 4.303), (3.0, 3.182), (5.0, 2.571), (10.0, 2.228), (30.0, 2.042), (100.0, 1.984)]
    {
        let found = student::quantile(0.975, freedom);
        assert!((found - wanted).abs() < 6e-4, "{found} at {freedom}, the table has {wanted}");
    }
    assert!(student::quantile(1.0, 5.0).is_nan() && student::quantile(0.9, 0.5).is_nan());
}

/// The page prints the numbers that a pump's model is given, each in its own row, and names every basis and nothing unfilled.
#[test]
fn the_page_prints_the_priors_of_a_model() {
    let page = operating::explanation();
    assert!(!page.contains("{{"), "a table was not filled in");
    // Water, a name plate and a table of shaft power: their lack adds to the doubt about power.
    let plain = |p: &Plant| p.service == table::Service::Chilled && p.plate_declared && !p.table.drive_input;
    let water = (0..).map(Plant::single).find(plain).expect("a quarter of all");
    let plant = Plant { head_accuracy_declared: false, ..water };
    let prior = machine(&plant, &THREE, 1, 1.0).model.prior;
    let per_cent = |v: f64| {
        let text = format!("{:.2}", 100.0 * v);
        format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
    };
    let rows = [
        ("head over its table", per_cent(prior.head_table[0])),
        ("shaft power over its table", per_cent(prior.power_table[0])),
        ("head sensor: scale", per_cent(prior.head_gain)),
        ("head sensor: zero", per_cent(prior.head_zero / plant.design_head)),
        ("power reading: scale", per_cent(prior.power_gain)),
        ("loss without load, over", format!("factor {:.2}", prior.loss[0].exp())),
        ("loss with load", format!("factor {:.2}", prior.loss[1].exp())),
        ("flow meter: scale", per_cent(prior.meter_gain)),
        ("flow meter: zero", per_cent(prior.meter_zero / plant.design_flow)),
        ("efficiency's fall", per_cent(prior.drift)),
    ];
    for (what, number) in rows {
        let row = page.lines().find(|l| l.starts_with(&format!("| {what}"))).unwrap_or_else(|| panic!("no {what}"));
        let cell = row.split('|').nth(2).unwrap_or_default();
        assert!(cell.contains(&number), "{row}: a model has {number}");
    }
    for basis in ["neighbours", "power-bound", "outside-table", "speed"] {
        assert!(operating::Basis::vocabulary().contains(&basis) && page.contains(&format!("`{basis}`")), "{basis}");
    }
}

/// What a reader is told of a reading that drifts, on the page and in the file for programs; the hour's figure in words, with the reading in it.
#[test]
fn the_report_says_what_moved() {
    let plant = Plant::single(5);
    let (declared, trends) = recorded(&plant, &THREE, 2, 1.06);
    let review = pipeline::review(declared, Noticed { value: trends, notices: Vec::new() }, None)
        .unwrap_or_else(|e| panic!("{e}"));
    let dir = Path::new(env!("CARGO_TARGET_TMPDIR")).join("page").join("moved");
    let written = report::write(&review, &dir, UnitSystem::Si).expect("a scratch folder can be written");
    let text = std::fs::read_to_string(written.folder.join("report.md")).expect("report.md");
    assert!(text.contains("What the pump models were checked against"), "{text}");
    assert!(text.contains("Power has moved against head and flow meter: +5."), "{text}");
    assert!(text.contains("seen since February 2026"), "{text}");
    let json: serde_json::Value = serde_json::from_str(&written.json).expect("JSON");
    let model = &json["pump_models"][0];
    assert_eq!((&model["pump"], &model["drift"]["witness"]), (&"P-1".into(), &"power".into()), "{model}");
    assert_eq!(model["drift"]["since"], "2026-02-01T00:00:00Z");
    assert_eq!(model["months"].as_array().map(Vec::len), Some(6), "three measurements, two months: {model}");
    assert!(model["offsets"].as_array().is_some_and(|o| o.len() == 3), "{model}");
    let svg = std::fs::read_to_string(written.folder.join("figures/one-hour.svg")).expect("the hour's figure");
    let hour = review.machines[0].hour.as_ref().expect("an hour");
    assert!(svg.contains("<desc>Curves of likelihood over flow of P-1 at ") && !svg.contains("var("), "{svg}");
    assert!(svg.contains(&format!("power {:.1}", hour.readings[witness::POWER])[..8]), "{:?}", hour.readings);
    for class in ["by-head", "by-power", "by-meter", "together"] {
        assert!(svg.contains(&format!("class=\"{class}\"")), "{class}");
    }
}

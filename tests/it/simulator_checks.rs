//! The samples' simulator against outside numbers and against its own bookkeeping.

use crate::simulator::{
    AlsoTrue, Faults, HeadPoint, Options, Run, Truth, chilled, coil_transfer_units, heating, offset_of_chicago_ms,
    offset_of_lisbon_ms,
};
use chrono::{Offset, TimeZone};

fn day_mean(
    truth: &Truth,
    days: std::ops::Range<usize>,
    hours: std::ops::Range<usize>,
    v: impl Fn(usize) -> f64,
) -> f64 {
    let rows = days.flat_map(|d| (12 * hours.start..12 * hours.end).map(move |k| 288 * d + k));
    let rows: Vec<usize> = rows.filter(|i| *i < truth.time_ms.len()).collect();
    rows.iter().map(|i| v(*i)).sum::<f64>() / rows.len() as f64
}

fn without_noise() -> Options {
    Options { noise: 0.0, bad_cells: false, ..Options::sample() }
}

/// The clocks against the IANA time zone database, as chrono-tz carries it, at every half hour of three years.
#[test]
fn clocks_follow_the_time_zone_database() {
    let from = 1_704_067_200; // 2024-01-01T00:00:00Z
    for s in (from..from + 3 * 366 * 86_400).step_by(1800) {
        let check = |zone: chrono_tz::Tz, ours: i64| {
            let theirs =
                zone.offset_from_utc_datetime(&chrono::DateTime::from_timestamp(s, 0).expect("in range").naive_utc());
            assert_eq!(i64::from(theirs.fix().local_minus_utc()) * 1000, ours, "{zone} at {s} s");
        };
        check(chrono_tz::Europe::Lisbon, offset_of_lisbon_ms(s * 1000));
        check(chrono_tz::America::Chicago, offset_of_chicago_ms(s * 1000));
    }
}

/// Counterflow effectiveness and transfer units (Kays and London, Compact Heat Exchangers; from memory): 140 kW between
/// air of 10 kW/K at 27 degC and water of 16.86747 kW/K at 6 degC is an effectiveness of 140 / (10 * 21) = 2/3, and asks
/// for ln((1 - 2/3 * r) / (1 - 2/3)) / (1 - r) = 1.46310 units at r = 10 / 16.86747.
#[test]
fn transfer_units_match_the_textbook() {
    let units = coil_transfer_units(2.0 / 3.0, 10.0 / 16.867_47);
    assert!((units - 1.463_10).abs() < 1e-5, "{units}");
}

/// What the coils gave the water is what the water carried: over a day the mains store next to nothing.
#[test]
fn heat_is_kept() {
    let options = Options::healthy();
    for (run, capacity) in [(chilled(5, 10, &options), 1.1667), (heating(5, 10, &options), 1.138)] {
        let t = &run.truth;
        let all = 0..10;
        let given = day_mean(t, all.clone(), 0..24, |i| t.coils.iter().map(|c| c.heat_kw[i]).sum());
        let carried = day_mean(t, all, 0..24, |i| capacity * t.loop_flow_m3h[i] * (t.return_c[i] - t.supply_c[i]));
        assert!((given / carried - 1.0).abs() < 0.03, "{given} kW given, {carried} kW carried");
    }
}

/// Water is kept: pumps, branches and bypass agree; and a pump stands above its header by its check valve's loss.
#[test]
fn water_is_kept() {
    let options = Options::sample();
    for run in [chilled(6, 14, &options), heating(6, 14, &options)] {
        let t = &run.truth;
        for i in 0..t.time_ms.len() {
            let pumps: f64 = t.pumps.iter().map(|p| p.flow_m3h[i]).sum();
            let branches: f64 = t.coils.iter().map(|c| c.flow_m3h[i]).sum::<f64>() + t.bypass_flow_m3h[i];
            assert!(
                (pumps - t.loop_flow_m3h[i]).abs() < 1e-6 && (pumps - branches).abs() < 1e-3 * pumps.max(1.0),
                "row {i}"
            );
            for p in t.pumps.iter().filter(|p| p.steady[i]) {
                let loss = p.head_kpa[i] - t.loop_head_kpa[i];
                assert!((-0.05..12.0).contains(&loss), "row {i}: {loss} kPa between pump and header");
                let hydraulic = p.flow_m3h[i] / 3600.0 * p.head_kpa[i];
                assert!(hydraulic < 0.80 * p.power_kw[i], "row {i}: more water power than a pump set can give");
            }
        }
    }
}

#[test]
fn a_seed_repeats_and_seeds_differ() {
    let bytes = |run: Run| run.files.into_iter().map(|f| f.1).collect::<Vec<_>>();
    for plant in [chilled, heating] {
        let options = Options::sample();
        assert!(bytes(plant(8, 3, &options)) == bytes(plant(8, 3, &options)), "the same seed gave other bytes");
        assert!(bytes(plant(8, 3, &options)) != bytes(plant(9, 3, &options)), "another seed gave the same bytes");
    }
}

/// Planted faults show, and only where they were planted: the same seed in health is the yardstick.
#[test]
fn planted_faults_show_and_health_does_not() {
    let difference = |t: &Truth, days: std::ops::Range<usize>| {
        let work = day_mean(t, days.clone(), 9..17, |i| (t.return_c[i] - t.supply_c[i]).abs() * t.loop_flow_m3h[i]);
        work / day_mean(t, days, 9..17, |i| t.loop_flow_m3h[i])
    };
    // Weekdays before and after the onsets: the 6th to 8th and the 13th to 15th of October; 3rd to 6th and 16th to 19th of March.
    // A head set too high moves more water through the three-way valve, so the yardstick has that fault too.
    let set_high = Options { faults: Faults { setpoint_too_high: true, ..Faults::none() }, ..Options::sample() };
    let (sick, sound) = (chilled(4, 31, &Options::sample()).truth, chilled(4, 31, &set_high).truth);
    assert!((difference(&sick, 5..8) / difference(&sound, 5..8) - 1.0).abs() < 0.06, "no fault yet, yet a difference");
    assert!(difference(&sick, 12..15) < 0.92 * difference(&sound, 12..15), "fouled coils do not show");
    let above = |t: &Truth, days| day_mean(t, days, 9..17, |i| t.loop_head_kpa[i] / t.curve_head_kpa[i]);
    assert!((above(&sick, 12..15) - 1.0).abs() < 0.05, "off the curve before the reload");
    assert!(above(&sick, 26..31) > 1.4, "the reload does not show");
    assert!((above(&sound, 26..31) - 1.0).abs() < 0.05, "off the curve in health");
    let pump = |o: Options| heating(4, 31, &Options { head: Some(HeadPoint::Pump), ..o }).truth;
    let (sick, sound) = (pump(Options::sample()), pump(Options::healthy()));
    let bypass = |t: &Truth, days| day_mean(t, days, 9..15, |i| t.bypass_flow_m3h[i] / t.design_flow_m3h);
    assert!(bypass(&sick, 2..6) < 0.05 && bypass(&sound, 15..19) < 0.05, "the bypass is open in health");
    assert!(bypass(&sick, 15..19) > 0.12, "the hung bypass does not show");
    assert!(difference(&sick, 15..19) < 0.85 * difference(&sound, 15..19), "the hung bypass does not warm the return");
    assert!(sound.hunting.iter().all(|h| !h), "hunting in health");
    let cause = |a: &AlsoTrue| a.fault == "low-delta-t";
    assert!(
        sick.also_true.iter().any(cause) && !sound.also_true.iter().any(cause),
        "the consequence is named where it is"
    );
}

/// Each planted fault and look-alike lies within the record, and nothing healthy is confessed.
#[test]
fn truth_speaks_of_its_own_record() {
    for plant in [chilled, heating] {
        let healthy = plant(3, 31, &Options::healthy()).truth;
        assert!(healthy.planted.is_empty(), "{:?}", healthy.planted);
        let t = plant(3, 31, &Options::sample()).truth;
        let (first, end) = (t.time_ms[0], t.time_ms[t.time_ms.len() - 1] + 300_000);
        for p in &t.planted {
            assert!(p.first_seen_ms >= first && p.last_seen_ms <= end && p.hours > 40.0, "{p:?}");
        }
        for a in &t.look_alikes {
            assert!(a.from_ms >= first && a.to_ms <= end && a.from_ms < a.to_ms, "{a:?}");
            let clash = |p: &&crate::simulator::Planted| {
                p.fault == a.would_be
                    && p.subject == a.subject
                    && p.first_seen_ms < a.to_ms
                    && p.last_seen_ms > a.from_ms
            };
            assert_eq!(t.planted.iter().find(clash), None, "{a:?} says that a planted fault is none");
        }
    }
}

/// Without noise and errors an export is the truth, rounded: a tenth of a percent, a hundredth of a kW, a tenth of a kPa.
#[test]
fn exports_carry_the_truth() {
    let run = chilled(2, 2, &Options { faults: crate::simulator::Faults::none(), ..without_noise() });
    let (_, bytes) = run.files.iter().find(|f| f.0.ends_with("plant-room.csv")).expect("the plant room's file");
    let text = std::str::from_utf8(bytes).expect("plain text");
    let head: Vec<&str> = text.lines().next().expect("a header").split(',').collect();
    let column = |name: &str| head.iter().position(|h| *h == name).expect("a trended point");
    let (power, pressure) = (column("P1 Power"), column("CHW Header DP"));
    for (i, line) in text.lines().skip(1).enumerate().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let read = |k: usize| cells[k].parse::<f64>().expect("a number");
        let lagged = |v: &[f64]| (v[i], (v[i] - v[i - 1]).abs());
        let (kw, kw_step) = lagged(&run.truth.pumps[0].power_kw);
        assert!((read(power) - kw).abs() <= 0.005 + 0.2 * kw_step + 1e-3, "row {i}: {} read, {kw} true", read(power));
        let (kpa, step) = lagged(&run.truth.loop_head_kpa);
        assert!(
            (read(pressure) - kpa).abs() <= 0.05 + 0.2 * step + 0.05,
            "row {i}: {} read, {kpa} true",
            read(pressure)
        );
    }
}

/// The doubled hour of 26 October 2025 stands twice, and the missing one of 8 March 2026 not at all.
#[test]
fn both_clock_changes_are_in_the_exports() {
    let text = |run: &Run| String::from_utf8(run.files[0].1.clone()).expect("plain text");
    let autumn = text(&chilled(1, 31, &Options { bad_cells: false, ..Options::sample() }));
    assert_eq!(autumn.lines().filter(|l| l.starts_with("2025-10-26 01:")).count(), 24);
    assert_eq!(autumn.lines().filter(|l| l.starts_with("2025-10-25 01:")).count(), 12);
    let spring = text(&heating(1, 31, &Options { bad_cells: false, ..Options::sample() }));
    let count = |start: &str| spring.lines().filter(|l| l.starts_with(start) && l.contains(" AM,HWP1 HZ,")).count();
    assert_eq!(count("3/8/2026 2:"), 0);
    assert_eq!(count("3/8/2026 1:"), 12);
    assert_eq!(count("3/9/2026 2:"), 12);
}

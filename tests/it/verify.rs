//! What `verify` says of savings that are known, and of records that cannot carry an answer.

use crate::verify_world::{DAY_MS, MONDAY, PLAIN, Trended, Truth, World};
use chrono_tz::Tz;
use offcurve::verify::form::{Driver, Shape};
use offcurve::verify::{DaysNeeded, Experiment, Record, Refusal, Saving, Setting, Told, Why, before_after, saving};

/// Hardly an error, so that the answer can be told beforehand.
const QUIET: World = World { noise: 0.005, r: 0.3, ..PLAIN };

fn of(t: &Trended) -> Result<Saving, Refusal> {
    saving(&t.record(), &t.stretches)
}

fn told(world: World) -> Saving {
    of(&world.run()).expect("a record that carries an answer")
}

fn excluded(s: &Saving, setting: Setting, why: Why) -> usize {
    s.excluded.iter().find(|e| e.setting == setting && e.why == why).map_or(0, |e| e.days)
}

/// A tenth saved on every kind of plant, errors of half a percent: the tenth is found to one in a hundred of the energy, and its interval holds it.
#[test]
fn a_known_saving_is_found() {
    for truth in [Truth::Flat, Truth::Cooling, Truth::Both, Truth::Load] {
        let s = told(World { truth, effect: 0.1, before: 300, after: 120, ..QUIET });
        let f = s.saving_fraction;
        assert_eq!(s.told, Told::Saved, "{truth:?}");
        assert!(f.low < 0.1 && 0.1 < f.high && f.high - f.low < 0.02, "{truth:?}: {f:?}");
        assert_eq!((s.experiment, s.days_needed), (Experiment::BeforeAfter, DaysNeeded::None));
        // The fraction is the saving over what the old setting would have used.
        let would = s.after.energy_kwh + s.saving_kwh.estimate;
        assert!((f.estimate - s.saving_kwh.estimate / would).abs() < 1e-12);
        assert!(s.quality.acceptable && s.quality.cv_rmse < 0.05 && s.quality.r2 > 0.9, "{:?}", s.quality);
        assert!(s.quality.fractional_uncertainty < 0.1, "a tenth is far above half a percent");
    }
}

/// The same tenth the other way round: more energy than before is a loss, told as surely.
#[test]
fn a_loss_is_told_as_one() {
    let s = told(World { effect: -0.1, ..QUIET });
    assert_eq!(s.told, Told::UsedMore);
    assert!(s.saving_fraction.high < 0.0 && s.quality.fractional_uncertainty.is_nan());
}

/// The model is the one the plant was made with, where there is hardly an error: the kind of line, its driver, its bend (14 degC).
#[test]
fn the_form_is_recognised() {
    let s = told(World { before: 365, after: 60, weekend: 1.0, ..QUIET });
    assert_eq!((s.baseline.form.shape, s.baseline.form.driver), (Shape::Above, Driver::Outdoor));
    assert!((s.baseline.points[0] - 14.0).abs() < 0.3, "{:?}", s.baseline.points);
    let s = told(World { truth: Truth::Load, before: 365, after: 60, ..QUIET });
    assert_eq!(s.baseline.form.on(), Some(Driver::Load));
    assert!(s.baseline.tried.len() > 20, "every form was held against the others");
    assert!((0.0..=1.0).contains(&s.baseline.weight));
}

/// Hours of a schedule by day and weekend: forms by hour of the week are tried, and the tenth is found.
#[test]
fn hours_of_the_week() {
    let s = told(World { hourly: true, effect: 0.1, before: 120, after: 60, ..QUIET });
    assert!(s.baseline.tried.iter().any(|(f, _)| f.shape == Shape::Bins));
    assert!(s.baseline.tried.iter().any(|(f, _)| f.hourly() && f.shape == Shape::Flat));
    assert!(s.saving_fraction.low < 0.1 && 0.1 < s.saving_fraction.high, "{:?}", s.saving_fraction);
}

/// Weeks in turn: both settings under one model. A drift that the weather does not explain would look like a saving before and after; weeks in turn see through it.
#[test]
fn weeks_in_turn_see_through_a_drift() {
    let world = World { truth: Truth::Flat, before: 84, after: 84, noise: 0.02, ..PLAIN };
    let mut in_turn = World { turns: 7, ..world }.run();
    let mut once = world.run();
    for t in [&mut in_turn, &mut once] {
        for (i, e) in t.energy_kwh.iter_mut().enumerate() {
            *e *= 1.0 - 0.2 * i as f64 / 168.0;
        }
    }
    let (in_turn, once) = (of(&in_turn).expect("24 weeks"), of(&once).expect("24 weeks"));
    assert_eq!(in_turn.experiment, Experiment::Alternating { changes: 23 });
    assert_eq!(in_turn.told, Told::CannotTell, "{:?}", in_turn.saving_fraction);
    let width = |s: &Saving| s.saving_fraction.high - s.saving_fraction.low;
    assert!(width(&in_turn) < 0.7 * width(&once), "{} and {}", width(&in_turn), width(&once));
}

/// Old, new and old again is still a before and after, with days on both sides to predict from.
#[test]
fn a_setting_put_back() {
    let mut t = World { effect: 0.1, turns: 60, before: 60, after: 120, ..QUIET }.run();
    t.stretches.truncate(3);
    let s = of(&t).expect("three stretches");
    assert_eq!((s.experiment, s.before.days), (Experiment::BeforeAfter, 120));
    assert!(s.saving_fraction.low < 0.1 && 0.1 < s.saving_fraction.high, "{:?}", s.saving_fraction);
}

/// Whole years of weather before and after: 365 days of a saving of a tenth. Two months after: that is no year, and the words say so.
#[test]
fn a_year_needs_a_years_weather() {
    let world = World { effect: 0.1, before: 365, after: 365, ..QUIET };
    let t = world.run();
    let s = of(&t).expect("two years");
    let year = s.saving_kwh_per_year.expect("both settings saw all of it");
    let last = t.saved((MONDAY + 365) * DAY_MS, (MONDAY + 730) * DAY_MS);
    assert!(year.low < last && last < year.high && year.high - year.low < 0.2 * last, "{year:?} and {last}");

    let why = told(World { after: 60, ..world }).saving_kwh_per_year.expect_err("two months");
    assert!(why.contains("new setting saw") && why.contains("90 % are needed"), "{why}");
    let why = told(World { before: 100, after: 60, ..world }).saving_kwh_per_year.expect_err("160 days");
    assert!(why.contains("160 of the last 365 days"), "{why}");
    let mut blind = world.run();
    (blind.outdoor_c, blind.load_kw) = (Vec::new(), Vec::new());
    let why = of(&blind).expect("energy is enough").saving_kwh_per_year.expect_err("no driver");
    assert!(why.starts_with("neither weather nor load"), "{why}");
}

/// A saving of 3 % among errors of 15 % after three weeks: not settled. A saving that is nothing at all is not promised by any date.
#[test]
fn days_that_would_settle_it() {
    let world =
        World { truth: Truth::Flat, before: 700, after: 21, noise: 0.15, r: 0.2, weekend: 1.0, effect: 0.03, ..PLAIN };
    let mut seen = 0;
    for seed in 0..6 {
        let mut t = World { seed, ..world }.run();
        (t.outdoor_c, t.load_kw) = (Vec::new(), Vec::new());
        let s = of(&t).expect("three weeks");
        match s.days_needed {
            DaysNeeded::None => assert!(s.told != Told::CannotTell),
            DaysNeeded::NotByWaiting => assert!(s.told == Told::CannotTell),
            DaysNeeded::More(days) => {
                assert!(s.told == Told::CannotTell && days > 0 && days <= 1095);
                // Second path: independent days of sd s, autocorrelation 0.2 (factor 1.5), so many that 1.96 standard errors are the mean saving; the
                // model's own share comes on top, so the answer is no less than this and, with two years before, not five times as much.
                let a_day = s.saving_kwh.estimate / s.after.days as f64;
                let alone = (1.96 * 15.0 / a_day).powi(2) * 1.5;
                let all = (days + s.after.days) as f64;
                assert!(all > 0.5 * alone && all < 5.0 * alone + 2.0, "{all} and {alone}");
                seen += 1;
            }
        }
    }
    assert!(seen > 0, "some of them are answered by a number");
}

/// The change on the first day: nothing before it. On the last day: that day only. A day is needed whole.
#[test]
fn a_change_at_either_end() {
    let t = QUIET.run();
    let (first, last) = (MONDAY * DAY_MS, (MONDAY + 269) * DAY_MS);
    let at = |ms| saving(&t.record(), &before_after(ms, None, None)).expect_err("one side is too short");
    assert!(matches!(at(first), Refusal::TooFewDays { setting: Setting::Old, days: 0, least: 14, .. }));
    assert!(matches!(at(last), Refusal::TooFewDays { setting: Setting::New, days: 1, least: 7, .. }));
    assert_eq!(at(first).to_string(), "there are 0 whole days with the old setting; at least 14 are needed");
    // After the record: nothing new.
    assert!(matches!(at(last + 400 * DAY_MS), Refusal::TooFewDays { setting: Setting::New, days: 0, .. }));
    // In the middle of a day: that day is nobody's.
    let s = saving(&t.record(), &before_after((MONDAY + 180) * DAY_MS + DAY_MS / 2, None, None)).expect("half a year");
    assert_eq!(excluded(&s, Setting::Old, Why::PartOfADay), 1);
    assert_eq!(s.before.days, 180);
}

#[test]
fn periods_given_by_hand() {
    let t = QUIET.run();
    let at = |d: i64| (MONDAY + d) * DAY_MS;
    let s = saving(&t.record(), &before_after(at(180), Some((at(20), at(120))), Some((at(200), at(260)))));
    let s = s.expect("100 and 60 days");
    assert_eq!(s.before.days, 100);
    assert_eq!((s.before.from_ms, s.before.to_ms), (at(20), at(120)));
    assert!(s.after.from_ms >= at(200) && s.after.to_ms <= at(260));
    // A before-period that reaches past the change is cut there.
    assert_eq!(before_after(at(5), Some((at(0), at(9))), None)[0].to_ms, at(5));
}

#[test]
fn records_that_carry_nothing() {
    let quiet = QUIET.run();
    let mut t = QUIET.run();
    t.energy_kwh.fill(f64::NAN);
    assert_eq!(of(&t).expect_err("no energy"), Refusal::NoEnergy);
    // Before missing.
    let mut t = QUIET.run();
    t.energy_kwh[..180].fill(f64::NAN);
    assert!(matches!(of(&t), Err(Refusal::TooFewDays { setting: Setting::Old, days: 0, .. })));
    // A week in all, three days and four.
    let week = World { before: 3, after: 4, ..QUIET }.run();
    assert!(matches!(of(&week), Err(Refusal::TooFewDays { setting: Setting::Old, days: 3, least: 14, .. })));
    // No rows; columns of another length; a clock that runs backwards.
    let none = Record { time_ms: &[], energy_kwh: &[], outdoor_c: &[], load_kw: &[], ..quiet.record() };
    assert_eq!(saving(&none, &quiet.stretches).expect_err("no rows"), Refusal::NoEnergy);
    let short = Record { outdoor_c: &quiet.outdoor_c[1..], ..quiet.record() };
    assert_eq!(saving(&short, &quiet.stretches).expect_err("269 rows"), Refusal::Unequal { found: 269, wanted: 270 });
    let back: Vec<i64> = quiet.time_ms.iter().rev().copied().collect();
    assert_eq!(
        saving(&Record { time_ms: &back, ..quiet.record() }, &quiet.stretches).expect_err("back"),
        Refusal::NoClock
    );
    assert_eq!(
        saving(&Record { interval_ms: 0, ..quiet.record() }, &quiet.stretches).expect_err("0"),
        Refusal::NoClock
    );
    // Nothing said of settings.
    assert!(matches!(saving(&quiet.record(), &[]), Err(Refusal::TooFewDays { days: 0, .. })));
}

/// Winter before, summer after: nothing to compare.
#[test]
fn seasons_without_a_day_in_common() {
    let t = World { truth: Truth::Cooling, before: 60, after: 60, begins: 335, ..QUIET }.run();
    let mut t = t;
    t.outdoor_c[60..].iter_mut().for_each(|v| *v += 40.0);
    t.load_kw.clear();
    let refusal = of(&t).expect_err("40 K warmer");
    assert_eq!(refusal, Refusal::NothingInCommon { outside: 60, days: 60, least: 7 });
}

/// Ten days warmer than any before are left out and counted; the rest is compared, and coverage says 80 of 90.
#[test]
fn days_never_seen_are_left_out() {
    let mut t = World { effect: 0.1, before: 365, ..QUIET }.run();
    t.load_kw.clear();
    let n = t.outdoor_c.len();
    t.outdoor_c[n - 10..].fill(60.0);
    let s = of(&t).expect("eighty days are left");
    assert!(excluded(&s, Setting::New, Why::OutsideDriver) >= 10);
    assert!(s.saving_fraction.low < 0.1 && 0.1 < s.saving_fraction.high);
    let c = s.coverage[0];
    assert!((c.share_within_a_tenth - 80.0 / 90.0).abs() < 0.03 && c.share_inside <= c.share_within_a_tenth, "{c:?}");
    assert_eq!((s.coverage.len(), c.driver, c.after.1), (1, Driver::Outdoor, 60.0));
}

/// A driver that is missing is not asked; one that does not move says nothing and harms nothing; one with holes takes its days with it.
#[test]
fn drivers_missing_constant_or_with_holes() {
    let world = World { truth: Truth::Load, effect: 0.1, before: 300, after: 120, ..QUIET };
    let mut t = world.run();
    t.outdoor_c.fill(f64::NAN);
    let s = of(&t).expect("the load is there");
    assert_eq!((s.baseline.form.driver, s.coverage.len()), (Driver::Load, 1));

    let mut t = World { truth: Truth::Cooling, ..world }.run();
    t.load_kw.fill(50.0);
    let s = of(&t).expect("the weather is there");
    assert_eq!((s.baseline.form.driver, s.told), (Driver::Outdoor, Told::Saved));

    let mut t = world.run();
    (t.outdoor_c, t.load_kw) = (Vec::new(), vec![50.0; 420]);
    let s = of(&t).expect("a mean is a model");
    assert_eq!(s.baseline.form.shape, Shape::Flat);

    let mut t = world.run();
    (0..420).step_by(10).for_each(|d| t.load_kw[d] = f64::NAN);
    let s = of(&t).expect("nine in ten");
    assert_eq!((excluded(&s, Setting::Old, Why::NoDriver), excluded(&s, Setting::New, Why::NoDriver)), (30, 12));
}

/// A meter that stands still: no interval of no width around a saving that is none. Pumps that never ran saved nothing that could be told.
#[test]
fn energy_that_does_not_move() {
    let mut t = QUIET.run();
    t.energy_kwh.fill(100.0);
    let s = of(&t).expect("a mean is a model");
    assert_eq!((s.told, s.days_needed), (Told::CannotTell, DaysNeeded::NotByWaiting), "{:?}", s.saving_kwh);
    // The noise believed at the least is a ten thousandth of a day: 0.01 kWh, over 90 days more than 0.01 sqrt(90) = 0.09 kWh.
    assert!(s.saving_kwh.low < -0.09 && s.saving_kwh.high > 0.09 && s.saving_kwh.high < 2.0, "{:?}", s.saving_kwh);
    t.energy_kwh.fill(0.0);
    assert_eq!(of(&t).expect_err("never ran"), Refusal::NeverRan);
}

/// Hours missing: a day with 22 of 24 counts and is scaled, one with 21 does not.
#[test]
fn days_with_holes() {
    let mut t = World { hourly: true, before: 60, after: 30, effect: 0.1, ..QUIET }.run();
    t.energy_kwh[10 * 24..10 * 24 + 2].fill(f64::NAN);
    t.energy_kwh[11 * 24..11 * 24 + 3].fill(f64::NAN);
    let s = of(&t).expect("three months");
    assert_eq!((s.before.days, excluded(&s, Setting::Old, Why::NoEnergy)), (59, 1));
}

/// Days are the site's: in New York, UTC midnight is in the evening. The clocks change within the record; 23 and 25 hours are whole days.
#[test]
fn days_of_the_sites_clock() {
    let t = World { hourly: true, before: 120, after: 60, ..QUIET }.run();
    let record = Record { timezone: Tz::America__New_York, ..t.record() };
    // 11 March 2023, 00:00 in New York is 05:00 UTC; the next day has 23 hours.
    let changed = 1_678_510_800_000;
    let s = saving(&record, &before_after(changed, None, None)).expect("two months and more");
    assert_eq!(
        excluded(&s, Setting::Old, Why::PartOfADay) + excluded(&s, Setting::Old, Why::NoEnergy),
        1,
        "the first evening"
    );
    assert_eq!(s.before.to_ms, changed);
    let left = excluded(&s, Setting::New, Why::OutsideDriver) + excluded(&s, Setting::New, Why::NoEnergy);
    // 181 days of New York touch the record: the first evening, 68 before the change, the rest after it.
    assert_eq!(s.after.days + left, 181 - 1 - 68);
}

/// The same record gives the same answer, bit for bit.
#[test]
fn the_same_again() {
    let t = World { effect: 0.05, ..PLAIN }.run();
    let (a, b) = (of(&t).expect("an answer"), of(&t).expect("an answer"));
    assert_eq!(format!("{a:?}"), format!("{b:?}"));
}

/// Quarter hours of a quarter of the energy each say what the hours said.
#[test]
fn quarter_hours_as_hours() {
    let t = World { hourly: true, before: 60, after: 30, effect: 0.1, ..QUIET }.run();
    let four = |c: &[f64], by: f64| c.iter().flat_map(|v| [v / by; 4]).collect::<Vec<f64>>();
    let time: Vec<i64> = t.time_ms.iter().flat_map(|ms| (0..4).map(move |k| ms + k * 900_000)).collect();
    let (energy, outdoor, load) = (four(&t.energy_kwh, 4.0), four(&t.outdoor_c, 1.0), four(&t.load_kw, 1.0));
    let finer = Record {
        time_ms: &time,
        interval_ms: 900_000,
        energy_kwh: &energy,
        outdoor_c: &outdoor,
        load_kw: &load,
        ..t.record()
    };
    let (a, b) = (of(&t).expect("hours"), saving(&finer, &t.stretches).expect("quarters"));
    let (a, b) = (a.saving_kwh, b.saving_kwh);
    assert!(
        (a.estimate - b.estimate).abs() < 1e-6 * a.estimate && (a.low - b.low).abs() < 1e-6 * a.estimate,
        "{a:?} {b:?}"
    );
}

/// Ten Wednesdays on which the plant ran as on a Sunday: declared, they are explained; not declared, they are errors.
#[test]
fn holidays_count_as_sundays() {
    let mut t = World { truth: Truth::Flat, ..QUIET }.run();
    let wednesdays: Vec<usize> = (0..10).map(|k| 2 + 14 * k).collect();
    wednesdays.iter().for_each(|d| t.energy_kwh[*d] = 60.0);
    let monday = chrono::NaiveDate::from_ymd_opt(2023, 1, 2).expect("a day");
    let dates: Vec<_> = wednesdays.iter().map(|d| monday + chrono::TimeDelta::days(*d as i64)).collect();
    let cv = |record: &Record| saving(record, &t.stretches).expect("an answer").quality.cv_rmse_held_out;
    let (told, untold) = (cv(&Record { holidays: &dates, ..t.record() }), cv(&t.record()));
    assert!(told < 0.02 && untold > 0.05, "{told} and {untold}");
}

/// A tenth saved in every second week of a plant that follows the weather: the saving of the new weeks, slopes and all.
#[test]
fn weeks_in_turn_find_a_known_saving() {
    let t = World { effect: 0.1, before: 140, after: 140, turns: 7, warmer: 0.0, ..QUIET }.run();
    let s = of(&t).expect("forty weeks");
    assert_eq!((s.experiment, s.told), (Experiment::Alternating { changes: 39 }, Told::Saved));
    let f = s.saving_fraction;
    assert!(f.low < 0.1 && 0.1 < f.high && f.high - f.low < 0.02, "{f:?}");
}

//! The regressions and guideline figures of `verify` against published numbers and other people's libraries.

use crate::outside::{near_rel, num, nums, reference};
use offcurve::verify::bins::{ENDS_F, ends, split};
use offcurve::verify::errors::{generalised, variance};
use offcurve::verify::form::{Calendar, Driver, Form, Shape};
use offcurve::verify::guideline::{self, FACTOR, Readings, Uncertainty};
use offcurve::verify::least_squares::fit;
use offcurve::verify::model::Model;
use offcurve::verify::rows::Row;

/// Source: NIST Statistical Reference Datasets, linear regression, Longley (1967): data and certified values.
#[test]
fn longley_to_the_certified_digits() {
    const DATA: [[f64; 7]; 16] = [
        [60323.0, 83.0, 234289.0, 2356.0, 1590.0, 107608.0, 1947.0],
        [61122.0, 88.5, 259426.0, 2325.0, 1456.0, 108632.0, 1948.0],
        [60171.0, 88.2, 258054.0, 3682.0, 1616.0, 109773.0, 1949.0],
        [61187.0, 89.5, 284599.0, 3351.0, 1650.0, 110929.0, 1950.0],
        [63221.0, 96.2, 328975.0, 2099.0, 3099.0, 112075.0, 1951.0],
        [63639.0, 98.1, 346999.0, 1932.0, 3594.0, 113270.0, 1952.0],
        [64989.0, 99.0, 365385.0, 1870.0, 3547.0, 115094.0, 1953.0],
        [63761.0, 100.0, 363112.0, 3578.0, 3350.0, 116219.0, 1954.0],
        [66019.0, 101.2, 397469.0, 2904.0, 3048.0, 117388.0, 1955.0],
        [67857.0, 104.6, 419180.0, 2822.0, 2857.0, 118734.0, 1956.0],
        [68169.0, 108.4, 442769.0, 2936.0, 2798.0, 120445.0, 1957.0],
        [66513.0, 110.8, 444546.0, 4681.0, 2637.0, 121950.0, 1958.0],
        [68655.0, 112.6, 482704.0, 3813.0, 2552.0, 123366.0, 1959.0],
        [69564.0, 114.2, 502601.0, 3931.0, 2514.0, 125368.0, 1960.0],
        [69331.0, 115.7, 518173.0, 4806.0, 2572.0, 127852.0, 1961.0],
        [70551.0, 116.9, 554894.0, 4007.0, 2827.0, 130081.0, 1962.0],
    ];
    const SLOPES: [(f64, f64); 6] = [
        (15.061_872_271_373_3, 84.914_925_774_766_9),
        (-0.035_819_179_292_591_0, 0.033_491_007_772_243_2),
        (-2.020_229_803_816_83, 0.488_399_681_651_699),
        (-1.033_226_867_173_59, 0.214_274_163_161_675),
        (-0.051_104_105_653_580_7, 0.226_073_200_069_370),
        (1_829.151_464_613_55, 455.478_499_142_212),
    ];
    let y: Vec<f64> = DATA.iter().map(|row| row[0]).collect();
    let columns: Vec<Vec<f64>> = (1..7).map(|j| DATA.iter().map(|row| row[j]).collect()).collect();
    let f = fit(&y, &[0; 16], &columns).expect("sixteen rows, seven parameters");
    assert!(f.left_out.is_empty(), "collinear, but data");
    for (j, (slope, error)) in SLOPES.into_iter().enumerate() {
        near_rel("slope", f.slope[j], slope, 1e-9);
        near_rel("its standard error", f.slope_error(j), error, 1e-9);
    }
    near_rel("constant", f.level[0], -3_482_258.634_595_82, 1e-9);
    near_rel("its standard error", f.level_error(0), 890_420.383_607_373, 1e-9);
    near_rel("residual standard deviation", f.sigma(), 304.854_073_561_965, 1e-10);
    near_rel("R2", f.r2(), 0.995_479_004_577_296, 1e-13);
}

/// Levels taken out first give the same as levels as columns; a column that repeats a level is left out and named.
#[test]
fn levels_and_what_they_say_already() {
    let group = [0, 1, 0, 1, 0, 1, 1];
    let x = vec![1.0, 2.0, 4.0, 3.0, 5.0, 7.0, 6.0];
    let second: Vec<f64> = group.iter().map(|g| f64::from(u8::from(*g == 1))).collect();
    let y = [1.0, 4.0, 3.0, 6.0, 4.5, 9.0, 8.0];
    let by_level = fit(&y, &group, &[x.clone(), second.clone()]).expect("seven rows");
    let by_column = fit(&y, &[0; 7], &[x.clone(), second.clone()]).expect("seven rows");
    let first: Vec<f64> = second.iter().map(|s| 1.0 - s).collect();
    let through_origin = fit(&y, &[], &[x, first, second]).expect("seven rows");
    assert_eq!(by_level.left_out, [1]);
    assert_eq!((by_level.p, by_column.p, through_origin.p), (3, 3, 3));
    for other in [&by_column, &through_origin] {
        near_rel("slope", by_level.slope[0], other.slope[0], 1e-12);
        near_rel("its error", by_level.slope_error(0), other.slope_error(0), 1e-12);
        near_rel("sum of squares", by_level.sse, other.sse, 1e-12);
    }
    near_rel("step", by_level.level[1] - by_level.level[0], by_column.slope[1], 1e-12);
    // Weights times readings are the sum of predictions: two rows of the second level, x 3 and 9.
    let w = by_level.weights(&[0.0, 2.0], &[12.0, 0.0]).expect("the level was seen");
    let sum: f64 = w.iter().zip(&y).map(|(w, y)| w * y).sum();
    near_rel("sum", sum, by_level.predict(1, &[3.0, 0.0]) + by_level.predict(1, &[9.0, 0.0]), 1e-12);
    assert!(by_level.weights(&[0.0, 0.0, 1.0], &[0.0, 0.0]).is_none(), "no row had the third level");
    assert!(fit(&[1.0, f64::NAN], &[0, 0], &[]).is_none() && fit(&[], &[], &[]).is_none());
    assert!(fit(&[1.0], &[0], &[vec![1.0, 2.0]]).is_none(), "a column of another length");
}

fn rows_at(t: &[f64], y: &[f64]) -> Vec<Row> {
    let row = |(i, (t, y)): (usize, (&f64, &f64))| Row {
        day: i as i64,
        weekday: 0,
        hour: 0,
        energy_kwh: *y,
        outdoor_c: *t,
        load_kw: f64::NAN,
    };
    t.iter().zip(y).enumerate().map(row).collect()
}

/// Source: statsmodels 0.15.0 OLS at points found by a grid (0.01 K; 0.1 K for two points) in numpy.
#[test]
fn change_points_in_temperature() {
    let reference = &reference()["baselines"];
    let t = nums(&reference["t"]);
    for (name, shape, y, grid) in [
        ("line", Shape::Linear, "cooling_y", 0.0),
        ("cooling", Shape::Above, "cooling_y", 0.01),
        ("heating", Shape::Below, "heating_y", 0.01),
        ("both", Shape::Between, "both_y", 0.1),
    ] {
        let (there, rows) = (&reference[name], rows_at(&t, &nums(&reference[y])));
        let form = Form { calendar: Calendar::One, driver: Driver::Outdoor, shape };
        let points: Vec<f64> = there["points"].as_array().expect("a list").iter().map(num).collect();
        let at = Model::at(form, &points, &rows).expect("24 rows");
        let (coefficients, errors) = (nums(&there["coefficients"]), nums(&there["errors"]));
        near_rel("constant", at.fit.level[0], coefficients[0], 1e-8);
        near_rel("its error", at.fit.level_error(0), errors[0], 1e-8);
        for j in 0..at.fit.slope.len() {
            near_rel("slope", at.fit.slope[j], coefficients[j + 1], 1e-8);
            near_rel("its error", at.fit.slope_error(j), errors[j + 1], 1e-8);
        }
        near_rel("sum of squares", at.fit.sse, num(&there["sse"]), 1e-8);
        near_rel("R2", at.fit.r2(), num(&there["r2"]), 1e-9);
        let mean = rows.iter().map(|r| r.energy_kwh).sum::<f64>() / 24.0;
        let cv = guideline::cv_rmse(at.fit.sse, at.fit.n, at.parameters(), mean);
        near_rel("CV(RMSE)", cv, num(&there["cv"]), 1e-8);
        let residual = &at.fit.residual;
        near_rel("Durbin-Watson", guideline::durbin_watson(residual), num(&there["durbin_watson"]), 1e-7);
        near_rel("autocorrelation", guideline::autocorrelation(residual), num(&there["autocorrelation"]), 1e-7);
        // Our own search is finer than the grid: no worse, and no further off than the grid is wide (0.1 K between two points' grids).
        let found = Model::new(form, &rows).expect("24 rows");
        assert!(found.fit.sse <= num(&there["sse"]) * (1.0 + 1e-5), "{name}: {} here", found.fit.sse);
        for (ours, theirs) in found.points.iter().zip(&points) {
            assert!((ours - theirs).abs() <= 1.1 * grid, "{name}: {ours} here, {theirs} there");
        }
        assert_eq!(found.points.len(), points.len());
    }
}

/// The same numbers as printed in the project's table of checks (numpy and statsmodels, five digits and more).
#[test]
fn change_points_as_printed() {
    let reference = &reference()["baselines"];
    let (t, y) = (nums(&reference["t"]), nums(&reference["cooling_y"]));
    let form = |shape| Form { calendar: Calendar::One, driver: Driver::Outdoor, shape };
    let line = Model::new(form(Shape::Linear), &rows_at(&t, &y)).expect("24 rows");
    near_rel("slope", line.fit.slope[0], 0.385_749_53, 1e-7);
    near_rel("Durbin-Watson", guideline::durbin_watson(&line.fit.residual), 0.119_969, 1e-5);
    let bent = Model::at(form(Shape::Above), &[15.90], &rows_at(&t, &y)).expect("24 rows");
    near_rel("sum of squares", bent.fit.sse, 2.431_048_4, 1e-7);
}

/// Source: statsmodels 0.15.0 GLS with the full 40 by 40 correlation matrix r^|days apart|, one day missing; numpy for w' V w.
#[test]
fn errors_that_neighbouring_days_share() {
    let gls = &reference()["baselines"]["gls"];
    let day: Vec<i64> = nums(&gls["days"]).iter().map(|d| *d as i64).collect();
    let (x, y, r) = (nums(&gls["x"]), nums(&gls["y"]), num(&gls["r"]));
    let (f, _) = generalised(&day, &y, &[vec![1.0; day.len()], x], r).expect("40 rows, 2 parameters");
    for j in 0..2 {
        near_rel("coefficient", f.slope[j], nums(&gls["coefficients"])[j], 1e-8);
        near_rel("its error", f.slope_error(j), nums(&gls["errors"])[j], 1e-8);
    }
    let weights: Vec<(i64, f64)> = day.iter().copied().zip(nums(&gls["weights"])).collect();
    near_rel("variance of a sum", variance(&weights, r), num(&gls["variance"]), 1e-8);
    // Independent errors: the squares of the weights, 30 of 1/30 and 10 of 1/10.
    near_rel("variance", variance(&[(0, 0.5), (1, 0.5), (9, -1.0)], 0.0), 1.5, 1e-15);
}

/// Source: CalTRACK 2.0, table of 3.9 (read): temperatures [degF] split at 30, 45, 55, 65, 75, 90.
#[test]
fn temperatures_split_as_in_the_table() {
    assert_eq!(split(60.0, &ENDS_F), [30.0, 15.0, 10.0, 5.0, 0.0, 0.0, 0.0]);
    assert_eq!(split(100.0, &ENDS_F), [30.0, 15.0, 10.0, 10.0, 10.0, 15.0, 10.0]);
    assert_eq!(split(20.0, &ENDS_F), [20.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
    // The parts add up; no ends, one part.
    assert!((split(-4.0, &ENDS_F).iter().sum::<f64>() + 4.0).abs() < 1e-12);
    assert_eq!(split(60.0, &[]), [60.0]);
}

/// A bin needs 20 hours (CalTRACK 2.0, 3.8): 19 hours below 30 degF go to the next, 5 above 75 and none above 90 to the one below.
#[test]
fn thin_bins_are_joined() {
    let hours = |n: usize, t: f64| vec![t; n];
    let t =
        [hours(19, 20.0), hours(40, 40.0), hours(40, 50.0), hours(40, 60.0), hours(40, 70.0), hours(5, 80.0)].concat();
    assert_eq!(ends(&t), [45.0, 55.0, 65.0]);
    assert!(ends(&hours(300, 60.0)).is_empty(), "one temperature, one bin");
    assert!(ends(&[]).is_empty());
}

/// Source: Reddy and Claridge 2000 in the form of ASHRAE Guideline 14, structure as printed by CalTRACK 2.0, 4.3.2.4; 1.26 from memory; numbers by hand from it.
#[test]
fn uncertainty_of_a_saving_by_the_guideline() {
    let of = |t, n, m, cv, fraction, r| Uncertainty { t, factor: FACTOR, cv, fraction, n, m, r }.of_saving();
    near_rel("n'", guideline::effective_number(365.0, 0.5), 121.667, 1e-5);
    for (n, m, cv, f, r, at_90, at_68) in [
        (365.0, 365.0, 0.15, 0.10, 0.5, 0.284_173, 0.172_749),
        (12.0, 12.0, 0.10, 0.10, 0.0, 0.646_278, 0.392_874),
        (90.0, 30.0, 0.12, 0.30, 0.6, 0.315_906, 0.192_040),
        (365.0, 365.0, 0.20, 0.05, 0.7, 1.0489, f64::NAN),
    ] {
        near_rel("at 90 %", of(1.645, n, m, cv, f, r), at_90, 1e-4);
        if !at_68.is_nan() {
            near_rel("at 68 %", of(1.0, n, m, cv, f, r), at_68, 1e-5);
        }
    }
    // The smallest share that can be shown with 50 % at 68 %: 3.455 %.
    near_rel("smallest", of(1.0, 365.0, 365.0, 0.15, 0.034_55, 0.5), 0.5, 1e-3);
    assert!(of(1.0, 365.0, 365.0, 0.15, 0.0, 0.5).is_nan() && of(1.0, 365.0, 365.0, 0.15, -0.1, 0.5).is_nan());
    assert_eq!(guideline::effective_number(100.0, -0.4), 100.0, "errors that alternate win nothing");
}

/// Source: Sun and Baltazar 2013 as printed by CalTRACK 2.0 (read). The trap: hourly rows over 30 are no months.
#[test]
fn factor_by_months() {
    near_rel("daily", guideline::factor(12.0, Readings::Daily).expect("a year"), 1.39250, 1e-9);
    near_rel("monthly", guideline::factor(12.0, Readings::Monthly).expect("a year"), 1.30558, 1e-9);
    assert_eq!(guideline::factor(292.0, Readings::Daily), None);
    assert_eq!(guideline::factor(0.5, Readings::Daily), None);
    assert_eq!(guideline::factor(f64::NAN, Readings::Daily), None);
}

/// CV(RMSE) and NMBE by hand: errors 1, -1, 2, n 3, p 1, mean 10: sqrt(6 / 2) / 10 and 2 / (2 * 10).
#[test]
fn error_figures() {
    near_rel("CV(RMSE)", guideline::cv_rmse(6.0, 3, 1, 10.0), 3f64.sqrt() / 10.0, 1e-12);
    near_rel("NMBE", guideline::nmbe(2.0, 3, 1, 10.0), 0.1, 1e-12);
    assert!(guideline::cv_rmse(6.0, 3, 3, 10.0).is_nan() && guideline::nmbe(2.0, 1, 1, 10.0).is_nan());
}

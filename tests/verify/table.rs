//! Outcomes to a page of plain figures.

use super::change::Kind;
use super::counts::{self, COVERAGE, FALSE_SAVING, LEVEL, REFUSED};
use super::score::{Answer, Outcome};
use offcurve::verify::Told;
use std::collections::BTreeMap;
use std::fmt::Write;

fn share(k: usize, n: usize) -> String {
    let (low, high) = counts::range(k, n);
    format!("{k} of {n} ({:.1} %, {:.1} to {:.1})", 100.0 * k as f64 / n.max(1) as f64, 100.0 * low, 100.0 * high)
}

fn quantile(values: impl Iterator<Item = f64>, q: f64) -> f64 {
    let mut v: Vec<f64> = values.filter(|x| x.is_finite()).collect();
    v.sort_by(f64::total_cmp);
    if v.is_empty() { f64::NAN } else { v[((v.len() - 1) as f64 * q).round() as usize] }
}

pub fn holds(a: &Answer) -> bool {
    a.said[0] <= a.truth && a.truth <= a.said[2]
}

/// Mean half width over 1.96 root mean square errors [-].
fn width(of: &[&Answer]) -> f64 {
    let n = of.len() as f64;
    let half = of.iter().map(|a| 0.5 * (a.said[2] - a.said[0])).sum::<f64>() / n;
    half / (1.96 * (of.iter().map(|a| (a.said[1] - a.truth).powi(2)).sum::<f64>() / n).sqrt())
}

fn line(t: &mut String, name: &str, of: &[&Outcome]) {
    let answers: Vec<&Answer> = of.iter().filter_map(|o| o.answer.as_ref().ok()).collect();
    if answers.is_empty() {
        return;
    }
    let inside = answers.iter().filter(|a| holds(a)).count();
    let below = answers.iter().filter(|a| a.truth < a.said[0]).count();
    let none: Vec<&&Outcome> = of.iter().filter(|o| o.without_effect()).collect();
    let told = |what: Told| none.iter().filter(|o| o.answer.as_ref().is_ok_and(|a| a.told == what)).count();
    let (low, high) = counts::range(inside, answers.len());
    let _ = writeln!(
        t,
        "| {name} | {} | {} | {:.1} ({:.1} to {:.1}) | {below} / {} | {} / {} of {} | {:.1} | {:.2} |",
        of.len(),
        of.len() - answers.len(),
        100.0 * inside as f64 / answers.len() as f64,
        100.0 * low,
        100.0 * high,
        answers.len() - inside - below,
        told(Told::Saved),
        told(Told::UsedMore),
        none.len(),
        100.0 * quantile(answers.iter().map(|a| 0.5 * (a.said[2] - a.said[0])), 0.5),
        width(&answers)
    );
}

pub fn page(outcomes: &[Outcome], command: &str) -> String {
    let mut t =
        format!("# Savings against the truth\n\nWritten by `{command}`. What counts stood in `counts.rs` before.\n\n");
    let answers: Vec<&Answer> = outcomes.iter().filter_map(|o| o.answer.as_ref().ok()).collect();
    let inside = answers.iter().filter(|a| holds(a)).count();
    let none: Vec<&Outcome> = outcomes.iter().filter(|o| o.without_effect()).collect();
    let called = none.iter().filter(|o| o.answer.as_ref().is_ok_and(|a| a.told == Told::Saved)).count();
    let p = counts::two_sided(inside, answers.len(), COVERAGE);
    let q = counts::at_least(called, none.len(), FALSE_SAVING);
    let violations = answers.iter().filter(|a| !a.year_allowed).count();
    let refused = outcomes.len() - answers.len();
    let met = |is: bool| if is { "met" } else { "not met" };
    let _ = writeln!(
        t,
        "- 95 % interval holds the truth: {}; against {COVERAGE} p = {p:.3}: {}",
        share(inside, answers.len()),
        met(p >= LEVEL)
    );
    let _ = writeln!(
        t,
        "- no effect called a saving: {}; against {FALSE_SAVING} p = {q:.3}: {}",
        share(called, none.len()),
        met(q >= LEVEL)
    );
    let _ = writeln!(t, "- yearly figure where drivers are uncovered: {violations}: {}", met(violations == 0));
    let _ = writeln!(
        t,
        "- refused: {}: {}\n",
        share(refused, outcomes.len()),
        met(refused as f64 <= REFUSED * outcomes.len() as f64)
    );
    t.push_str(
        "| changes | n | refused | coverage % | truth below / above | saved / lost told where nothing changed | half width, median % | over 1.96 rms errors |\n| --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    let all: Vec<&Outcome> = outcomes.iter().collect();
    line(&mut t, "all", &all);
    let keep = |of: &dyn Fn(&Outcome) -> bool| -> Vec<&Outcome> { outcomes.iter().filter(|o| of(o)).collect() };
    for kind in [Kind::Nothing, Kind::Weather { effect: false }, Kind::Weather { effect: true }, Kind::Effect] {
        line(&mut t, kind.word(), &keep(&|o| o.wanted.kind == kind));
    }
    for g in ["first", "second"] {
        line(&mut t, &format!("generator {g}"), &keep(&|o| o.wanted.generator == g));
    }
    let answer = |o: &Outcome, is: &dyn Fn(&Answer) -> bool| o.answer.as_ref().is_ok_and(is);
    line(&mut t, "named model by the hour", &keep(&|o| answer(o, &|a| a.hourly)));
    line(&mut t, "named model by the day", &keep(&|o| answer(o, &|a| !a.hourly)));
    line(&mut t, "in a load", &keep(&|o| answer(o, &|a| a.form.contains("load"))));
    line(&mut t, "in outdoor temperature", &keep(&|o| answer(o, &|a| a.form.contains("temperature"))));
    line(&mut t, "neither", &keep(&|o| answer(o, &|a| !a.form.contains("temperature") && !a.form.contains("load"))));
    line(&mut t, "records of more than a year", &keep(&|o| o.wanted.year));
    line(&mut t, "model acceptable", &keep(&|o| answer(o, &|a| a.acceptable)));
    line(&mut t, "model not acceptable", &keep(&|o| answer(o, &|a| !a.acceptable)));
    let (yes, no): (Vec<&Answer>, Vec<&Answer>) = answers.iter().partition(|a| a.acceptable);
    let _ = writeln!(
        t,
        "\nGuideline figures on daily rows: CV(RMSE) median {:.1} %, nine of ten below {:.1} %; NMBE of held-out days within {:.2} % in nine of ten; acceptable {}, not {}.",
        100.0 * quantile(answers.iter().map(|a| a.cv_days), 0.5),
        100.0 * quantile(answers.iter().map(|a| a.cv_days), 0.9),
        100.0 * quantile(answers.iter().map(|a| a.nmbe.abs()), 0.9),
        yes.len(),
        no.len()
    );
    let guideline: Vec<&&Answer> = answers.iter().filter(|a| a.guideline_half.is_finite()).collect();
    let held = guideline.iter().filter(|a| (a.said[1] - a.truth).abs() <= a.guideline_half).count();
    let own = guideline.iter().filter(|a| holds(a)).count();
    let _ = writeln!(
        t,
        "The guideline's own interval (1.26, effective number of days, 1.96 for t) where it has one: holds {}; ours on the same {}.",
        share(held, guideline.len()),
        share(own, guideline.len())
    );
    let years: Vec<&([f64; 3], f64)> = answers.iter().filter_map(|a| a.year.as_ref()).collect();
    let hold = years.iter().filter(|(s, truth)| s[0] <= *truth && *truth <= s[2]).count();
    let long = outcomes.iter().filter(|o| o.wanted.year).count();
    let _ = writeln!(
        t,
        "Yearly figure given for {} of {long} records of more than a year; its interval holds the plant run under either setting for {}.",
        years.len(),
        share(hold, years.len())
    );
    let mut reasons: BTreeMap<String, usize> = BTreeMap::new();
    for why in outcomes.iter().filter_map(|o| o.answer.as_ref().err()) {
        *reasons.entry(why.chars().filter(|c| !c.is_ascii_digit()).collect()).or_default() += 1;
    }
    for (why, n) in reasons {
        let _ = writeln!(t, "\n- refused {n}: {why}");
    }
    t
}

/// One line an outcome.
pub fn csv(outcomes: &[Outcome]) -> String {
    let mut t = String::from(
        "generator,seed,kind,before,after,truth,low,said,high,holds,hourly,weight,cv_days,nmbe,r,days_before,days_after,left_out,year_low,year,year_high,year_truth,year_allowed,form\n",
    );
    for o in outcomes {
        let w = &o.wanted;
        let _ = write!(t, "{},{},{},{},{}", w.generator, w.seed, w.kind.word().replace(',', ""), w.before, w.after);
        let _ = match &o.answer {
            Err(why) => writeln!(t, ",,,,,,,,,,,,,,,,,,,\"refused: {why}\""),
            Ok(a) => {
                let (s, truth) = a.year.unwrap_or(([f64::NAN; 3], f64::NAN));
                writeln!(
                    t,
                    ",{:.5},{:.5},{:.5},{:.5},{},{},{:.3},{:.4},{:.4},{:.3},{},{},{},{:.4},{:.4},{:.4},{:.4},{},\"{}\"",
                    a.truth,
                    a.said[0],
                    a.said[1],
                    a.said[2],
                    holds(a),
                    a.hourly,
                    a.weight,
                    a.cv_days,
                    a.nmbe,
                    a.r,
                    a.days.0,
                    a.days.1,
                    a.left_out,
                    s[0],
                    s[1],
                    s[2],
                    truth,
                    a.year_allowed,
                    a.form
                )
            }
        };
    }
    t
}

//! Outcomes to a page of plain figures.

use super::again::Mode;
use super::allowed::{Allowed, TABLE, WORTH_ASKING};
use super::score::{Answer, Outcome, Proposed};
use crate::corpus::table::wilson;
use std::collections::BTreeMap;
use std::fmt::Write;

fn share(k: usize, n: usize) -> String {
    let (low, high) = wilson(k as f64, n as f64);
    format!("{k} of {n} ({:.0} %, {:.0} to {:.0})", 100.0 * k as f64 / n.max(1) as f64, 100.0 * low, 100.0 * high)
}

fn quantile(values: &[f64], q: f64) -> f64 {
    let mut v: Vec<f64> = values.iter().copied().filter(|x| x.is_finite()).collect();
    v.sort_by(f64::total_cmp);
    if v.is_empty() { f64::NAN } else { v[((v.len() - 1) as f64 * q).round() as usize] }
}

/// Relative error that counts as met, or this much of the energy.
const WITHIN: f64 = 0.10;

fn within(p: &Proposed) -> bool {
    (p.said[0] - p.truth).abs() <= WITHIN * p.truth.abs()
}

fn near_least(p: &Proposed) -> bool {
    (p.zero - p.least_zero).abs() <= WITHIN * p.design
}

/// True saving from which a plant counts.
const TENTH: f64 = 0.10;

/// The count over plants with a true saving worth a tenth: refusals are failures where a proposal is wanted.
fn counted(all: &[&Outcome]) -> String {
    let of: Vec<&&Outcome> = all
        .iter()
        .filter(|o| o.there >= TENTH && (o.allowed == Allowed::Wanted || matches!(o.answer, Answer::Proposed(_))))
        .collect();
    let met = |is: &dyn Fn(&Proposed) -> bool| {
        share(of.iter().filter(|o| matches!(&o.answer, Answer::Proposed(p) if is(p))).count(), of.len())
    };
    let made: Vec<&Outcome> = of.iter().filter(|o| matches!(o.answer, Answer::Proposed(_))).map(|o| **o).collect();
    let of_made = |is: &dyn Fn(&Proposed) -> bool| {
        share(made.iter().filter(|o| matches!(&o.answer, Answer::Proposed(p) if is(p))).count(), made.len())
    };
    let mut t = format!(
        "## Plants with a true saving of at least a tenth\n\n{} plants: the best setting that works (`tests/tuning/least.rs`), run again by the plant's own equations, saves {:.0} % or more, and a proposal is wanted or was made; {} refused.\n\n",
        of.len(),
        100.0 * TENTH,
        of.len() - made.len()
    );
    let mut line = |what: &str, n: String| {
        let _ = writeln!(t, "- {what}: {n}");
    };
    line("predicted saving within 10 % of the true one, refusals counted as failures", met(&within));
    line("the same of those proposed", of_made(&within));
    line(
        "95 % interval holds the true one, of those proposed",
        of_made(&|p| p.said[1] <= p.truth && p.truth <= p.said[2]),
    );
    line(
        "hours with a coil short up by more than 0.5 %, of those proposed",
        of_made(&|p| p.short[1] - p.short[0] > 0.005),
    );
    line(
        "zero-flow head or setpoint within 10 % of the head at design flow of the least that works, refusals counted as failures",
        met(&near_least),
    );
    line("the same of those proposed", of_made(&near_least));
    t.push('\n');
    t
}

fn group(name: &str, of: &[&Outcome]) -> String {
    let made: Vec<&Proposed> =
        of.iter().filter_map(|o| if let Answer::Proposed(p) = &o.answer { Some(p.as_ref()) } else { None }).collect();
    let n = made.len();
    let count = |is: &dyn Fn(&Proposed) -> bool| share(made.iter().filter(|p| is(p)).count(), n);
    let errors: Vec<f64> = made.iter().map(|p| p.said[0] - p.truth).collect();
    let (said, truth): (f64, f64) =
        made.iter().fold((0.0, 0.0), |s, p| (s.0 + p.said[0] * p.kwh, s.1 + p.truth * p.kwh));
    let rise: Vec<f64> = made.iter().map(|p| p.short[1] - p.short[0]).collect();
    let over: Vec<f64> = made.iter().map(|p| (p.zero - p.least_zero) / p.design).collect();
    let mut t = format!(
        "## {name}\n\n{} plants, {n} proposals ({} conditional)\n\n",
        of.len(),
        made.iter().filter(|p| p.conditional > 0).count()
    );
    let _ = writeln!(t, "- predicted saving within 10 % of the true one: {}", count(&within));
    let _ =
        writeln!(t, "- 95 % interval holds the true one: {}", count(&|p| p.said[1] <= p.truth && p.truth <= p.said[2]));
    let _ = writeln!(
        t,
        "- predicted minus true [points of the plant's energy]: median {:+.1}, from {:+.1} to {:+.1} in eight of ten; all energy: {:.1} % predicted, {:.1} % true",
        100.0 * quantile(&errors, 0.5),
        100.0 * quantile(&errors, 0.1),
        100.0 * quantile(&errors, 0.9),
        100.0 * said / made.iter().map(|p| p.kwh).sum::<f64>(),
        100.0 * truth / made.iter().map(|p| p.kwh).sum::<f64>(),
    );
    let _ = writeln!(
        t,
        "- hours with a coil short, after minus before: median {:.2} %, nine of ten below {:.2} %, worst {:.2} %; up by more than 0.5 %: {}",
        100.0 * quantile(&rise, 0.5),
        100.0 * quantile(&rise, 0.9),
        100.0 * quantile(&rise, 1.0),
        count(&|p| p.short[1] - p.short[0] > 0.005)
    );
    let _ = writeln!(
        t,
        "- hours under the machines' declared least flow up by more than 0.5 %: {}",
        count(&|p| p.under[1] - p.under[0] > 0.005)
    );
    let _ = writeln!(
        t,
        "- zero-flow head or setpoint within 10 % of the head at design flow of the least that works: {}; above it by a median of {:.1} % of that head, {:.1} to {:.1} in eight of ten\n",
        count(&near_least),
        100.0 * quantile(&over, 0.5),
        100.0 * quantile(&over, 0.1),
        100.0 * quantile(&over, 0.9)
    );
    t
}

pub fn page(outcomes: &[Outcome]) -> String {
    let mut t = String::from("# Proposals against the truth\n\n");
    let all: Vec<&Outcome> = outcomes.iter().collect();
    t += &counted(&all);
    for g in ["first", "second", "samples"] {
        let of: Vec<&Outcome> = all.iter().copied().filter(|o| o.generator == g).collect();
        if !of.is_empty() {
            t += &counted(&of).replacen(
                "## Plants with a true saving of at least a tenth",
                &format!("### Of them, {g}"),
                1,
            );
        }
    }
    t += &group("All", &all);
    for g in ["first", "second", "samples"] {
        let of: Vec<&Outcome> = all.iter().copied().filter(|o| o.generator == g).collect();
        if !of.is_empty() {
            t += &group(g, &of);
        }
    }
    for mode in [Mode::Constant, Mode::Proportional, Mode::Quadratic, Mode::Remote] {
        let is = |o: &&Outcome| matches!(&o.answer, Answer::Proposed(p) if p.mode == mode);
        let of: Vec<&Outcome> = all.iter().copied().filter(is).collect();
        if !of.is_empty() {
            t += &group(&format!("{mode:?}"), &of);
        }
    }
    let wrong = all.iter().filter(|o| o.allowed == Allowed::Never && matches!(o.answer, Answer::Proposed(_))).count();
    let never = all.iter().filter(|o| o.allowed == Allowed::Never).count();
    let wanted: Vec<&&Outcome> = all.iter().filter(|o| o.allowed == Allowed::Wanted && o.severity.is_some()).collect();
    let refused = wanted.iter().filter(|o| matches!(o.answer, Answer::Refused(_))).count();
    let _ = writeln!(
        t,
        "## Refusals\n\nProposed where none may be made: {}. Refused where the head is planted too high and a proposal is wanted (a saving of {:.0} % or more may be there): {}.\n",
        share(wrong, never),
        100.0 * WORTH_ASKING,
        share(refused, wanted.len())
    );
    let _ = writeln!(t, "What a proposal is allowed on, first line that fits:\n");
    for row in &TABLE {
        let sets: Vec<&str> = row.trended.iter().map(|s| s.word()).collect();
        let any = |of: Option<String>| of.unwrap_or("any".to_owned());
        let (follows, terminals) =
            (any(row.follows.map(|f| format!("{f:?}"))), any(row.terminals.map(|f| format!("{f:?}"))));
        let _ = writeln!(
            t,
            "- {:?}: {}; pumps follow: {follows}; terminals: {terminals}: {}",
            row.allowed,
            sets.join(", "),
            row.why
        );
    }
    t.push('\n');
    let mut reasons: BTreeMap<String, usize> = BTreeMap::new();
    for o in &all {
        if let Answer::Refused(why) = &o.answer {
            let plain = why.split(", ").filter(|part| !part.chars().any(char::is_uppercase) && part.len() > 4);
            let plain: String = plain.collect::<Vec<_>>().join(", ").chars().filter(|c| !c.is_ascii_digit()).collect();
            *reasons
                .entry(format!("{:?}, {}: {plain}", o.allowed, o.severity.map_or("healthy", |s| s.word())))
                .or_default() += 1;
        }
    }
    for (why, n) in reasons {
        let _ = writeln!(t, "- {n}: {why}");
    }
    t
}

/// One line an outcome.
pub fn csv(outcomes: &[Outcome]) -> String {
    let mut t = String::from(
        "generator,seed,severity,trended,minutes,allowed,there,said,low,high,truth,short_before,short_after,under_before,under_after,zero,least_zero,design,conditional,text\n",
    );
    for o in outcomes {
        let head = format!(
            "{},{},{},{},{},{:?},{:.3}",
            o.generator,
            o.seed,
            o.severity.map_or("healthy", |s| s.word()),
            o.trended.word(),
            o.minutes,
            o.allowed,
            o.there
        );
        let _ = match &o.answer {
            Answer::Refused(why) => writeln!(t, "{head},,,,,,,,,,,,,\"{why}\""),
            Answer::Proposed(p) => writeln!(
                t,
                "{head},{:.3},{:.3},{:.3},{:.3},{:.4},{:.4},{:.4},{:.4},{:.0},{:.0},{:.0},{},\"{}\"",
                p.said[0],
                p.said[1],
                p.said[2],
                p.truth,
                p.short[0],
                p.short[1],
                p.under[0],
                p.under[1],
                p.zero,
                p.least_zero,
                p.design,
                p.conditional,
                p.text
            ),
        };
    }
    t
}

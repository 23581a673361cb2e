//! Outcomes to one table and to rows.
//!
//! Comes in: outcomes of faulty and healthy cases. Goes out: markdown and CSV. Definitions: a planted fault that the judgeable table names counts as
//! found where its code was found; everything else is a miss, split into clear and cannot tell. A false alarm is a code found that was
//! not planted, does not hold, and follows from nothing planted; each case counts a code once. Precision at a severity takes its
//! false alarms from the faulty cases of that severity and from all healthy ones.

use super::score::{Answer, Outcome, Said, Truth};
use super::{FAULTS, Planted, Severity, Trended};
use std::fmt::Write;

const INTERVALS: [u32; 3] = [1, 5, 15];
/// Edges of the bins of confidence.
const BINS: [f64; 7] = [0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];

/// Two-sided 95 % interval of Wilson for `k` of `n`. E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209 (from memory).
pub fn wilson(k: f64, n: f64) -> (f64, f64) {
    if n <= 0.0 {
        return (0.0, 1.0);
    }
    let z = 1.959_964;
    let (p, z2) = (k / n, z * z);
    let middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = z / (1.0 + z2 / n) * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

/// What became of the planted faults of one kind.
#[derive(Debug, Clone, Copy, Default)]
pub struct Count {
    pub inside: usize,
    pub found: usize,
    pub subject: usize,
    pub clear: usize,
    pub cannot: usize,
    pub outside: usize,
    /// Any verdict on a planted fault outside the table.
    pub errors: usize,
    pub false_alarms: usize,
}

impl Count {
    pub fn recall(&self) -> f64 {
        self.found as f64 / self.inside as f64
    }

    pub fn precision(&self) -> f64 {
        let all = self.found + self.false_alarms;
        if all == 0 { f64::NAN } else { self.found as f64 / all as f64 }
    }

    pub fn f1(&self) -> f64 {
        if self.inside == 0 {
            return f64::NAN;
        }
        2.0 * self.found as f64 / (self.inside + self.found + self.false_alarms) as f64
    }

    fn add(&mut self, o: &Outcome, p: &Planted) {
        let answer = o.answer(p.fault);
        if !o.judgeable(p) {
            self.outside += 1;
            self.errors += usize::from(answer != Answer::CannotTell);
            return;
        }
        self.inside += 1;
        let right = |s: &Said| s.fault == p.fault && s.counts() && s.subject_right;
        match answer {
            Answer::Found => {
                self.found += 1;
                self.subject += usize::from(o.said.iter().any(right));
            }
            Answer::Clear => self.clear += 1,
            Answer::CannotTell => self.cannot += 1,
        }
    }
}

/// Counts of a fault at a severity (or at all), over the cases that a filter keeps.
pub fn count(outcomes: &[Outcome], fault: &str, severity: Option<Severity>, keep: &dyn Fn(&Outcome) -> bool) -> Count {
    let mut c = Count::default();
    for o in outcomes.iter().filter(|o| keep(o)) {
        let of = |p: &&Planted| p.fault == fault && severity.is_none_or(|s| p.severity == s);
        o.planted.iter().filter(of).for_each(|p| c.add(o, p));
        let counts = o.planted.is_empty() || severity.is_none_or(|s| o.planted.iter().any(|p| p.severity == s));
        c.false_alarms += usize::from(counts && o.false_codes().contains(&fault));
    }
    c
}

/// Mean F1 over the faults that were planted, at one severity.
pub fn macro_f1(outcomes: &[Outcome], severity: Severity) -> f64 {
    let all = FAULTS.iter().map(|f| count(outcomes, f, Some(severity), &|_| true).f1()).filter(|f| f.is_finite());
    mean(&all.collect::<Vec<_>>())
}

fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len() as f64
}

fn quantile(mut v: Vec<f64>, q: f64) -> f64 {
    v.sort_by(f64::total_cmp);
    if v.is_empty() { f64::NAN } else { v[((v.len() - 1) as f64 * q).round() as usize] }
}

fn share(x: f64) -> String {
    if x.is_finite() { format!("{x:.2}") } else { "-".to_owned() }
}

/// All of it.
pub fn markdown(outcomes: &[Outcome]) -> String {
    let mut t = String::new();
    t.push_str(&by_fault(outcomes));
    t.push_str(&false_alarms(outcomes));
    t.push_str(&by_set(outcomes));
    t.push_str(&onsets(outcomes));
    t.push_str(&confidence(outcomes));
    t
}

fn by_fault(outcomes: &[Outcome]) -> String {
    let mut t = String::from(
        "| fault | severity | inside the table | found | subject right | clear | cannot tell | false alarms | precision | recall | F1 | \
         outside the table | errors there |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for fault in FAULTS {
        for severity in Severity::ALL {
            let c = count(outcomes, fault, Some(severity), &|_| true);
            if c.inside + c.outside == 0 {
                continue;
            }
            let _ = writeln!(
                t,
                "| {fault} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
                severity.word(),
                c.inside,
                c.found,
                c.subject,
                c.clear,
                c.cannot,
                c.false_alarms,
                share(c.precision()),
                share(c.recall()),
                share(c.f1()),
                c.outside,
                c.errors
            );
        }
    }
    let _ = writeln!(
        t,
        "\nMacro F1: {}.\n",
        Severity::ALL.map(|s| format!("{} {}", s.word(), share(macro_f1(outcomes, s)))).join(", ")
    );
    t
}

/// False alarms over pump-months, with Wilson's interval over a hundred.
fn per_hundred(alarms: usize, pump_months: f64) -> String {
    let (low, high) = wilson(alarms as f64, pump_months);
    format!(
        "{alarms} in {pump_months:.0} pump-months: {:.2} per 100 (95 %: {:.2} to {:.2})",
        100.0 * alarms as f64 / pump_months,
        100.0 * low,
        100.0 * high
    )
}

fn false_alarms(outcomes: &[Outcome]) -> String {
    let mut t = String::new();
    for (word, healthy) in [("Healthy plants", true), ("Faulty plants, not planted", false)] {
        let of: Vec<&Outcome> = outcomes.iter().filter(|o| o.planted.is_empty() == healthy).collect();
        if of.is_empty() {
            continue;
        }
        let months: f64 = of.iter().map(|o| o.pump_months).sum();
        let alarms: usize = of.iter().map(|o| o.false_codes().len()).sum();
        let _ = writeln!(t, "{word}: false alarms {}.\n", per_hundred(alarms, months));
        for fault in FAULTS {
            let n = of.iter().filter(|o| o.false_codes().contains(&fault)).count();
            if n > 0 {
                let _ = writeln!(t, "- {fault}: {n}");
            }
        }
        t.push('\n');
    }
    t
}

fn by_set(outcomes: &[Outcome]) -> String {
    let mut t = String::from(
        "| trended | rows [min] | inside the table | found | false alarms, healthy | healthy pump-months |\n| --- | --- | --- | --- | --- | --- |\n",
    );
    for set in Trended::ALL {
        for minutes in INTERVALS {
            let keep = |o: &Outcome| o.ask.trended == set && o.ask.minutes == minutes;
            let (mut inside, mut found) = (0, 0);
            for fault in FAULTS {
                let c = count(outcomes, fault, None, &keep);
                inside += c.inside;
                found += c.found;
            }
            let healthy: Vec<&Outcome> = outcomes.iter().filter(|o| keep(o) && o.planted.is_empty()).collect();
            let alarms: usize = healthy.iter().map(|o| o.false_codes().len()).sum();
            let months: f64 = healthy.iter().map(|o| o.pump_months).sum();
            let _ = writeln!(t, "| {} | {minutes} | {inside} | {found} | {alarms} | {months:.0} |", set.word());
        }
    }
    t.push('\n');
    t
}

fn onsets(outcomes: &[Outcome]) -> String {
    let mut t = String::from(
        "| fault | steps found | onset error, median [days] | 90th percentile [days] |\n| --- | --- | --- | --- |\n",
    );
    let mut every = Vec::new();
    let mut line = |name: &str, errors: Vec<f64>| {
        let _ = writeln!(
            t,
            "| {name} | {} | {} | {} |",
            errors.len(),
            share(quantile(errors.clone(), 0.5)),
            share(quantile(errors, 0.9))
        );
    };
    for fault in FAULTS {
        let errors: Vec<f64> = outcomes.iter().filter_map(|o| onset(o, fault)).collect();
        if !errors.is_empty() {
            every.extend(&errors);
            line(fault, errors);
        }
    }
    line("all", every);
    t.push('\n');
    t
}

/// The least onset error of a case's findings of a fault.
fn onset(o: &Outcome, fault: &str) -> Option<f64> {
    let of = o.said.iter().filter(|s| s.fault == fault && s.counts() && s.truth == Truth::True);
    of.map(|s| s.onset_days.abs()).filter(|d| d.is_finite()).min_by(f64::total_cmp)
}

fn confidence(outcomes: &[Outcome]) -> String {
    let said: Vec<&Said> =
        outcomes.iter().flat_map(|o| &o.said).filter(|s| s.answer == Answer::Found && s.truth != Truth::Also).collect();
    let right = |s: &Said| f64::from(u8::from(s.truth == Truth::True));
    let brier = mean(&said.iter().map(|s| (s.confidence - right(s)).powi(2)).collect::<Vec<_>>());
    let mut t = format!(
        "Brier score of {} findings: {}.\n\n| confidence | findings | mean confidence | true |\n| --- | --- | --- | --- |\n",
        said.len(),
        share(brier)
    );
    for edges in BINS.windows(2) {
        let of: Vec<&&Said> = said.iter().filter(|s| s.confidence >= edges[0] && s.confidence < edges[1]).collect();
        if of.is_empty() {
            continue;
        }
        let _ = writeln!(
            t,
            "| {:.1} to {:.1} | {} | {} | {} |",
            edges[0],
            edges[1],
            of.len(),
            share(mean(&of.iter().map(|s| s.confidence).collect::<Vec<_>>())),
            share(mean(&of.iter().map(|s| right(s)).collect::<Vec<_>>()))
        );
    }
    t.push('\n');
    t
}

/// Head of the rows.
pub const CSV_HEAD: &str = "generator,seed,planted,severity,set,minutes,days,period_min,judgeable,fault,subject,verdict,confidence,truth,subject_right,onset_days,also_true,look_alikes,note,because";

/// A row a verdict.
pub fn csv(outcomes: &[Outcome]) -> String {
    let mut t = format!("{CSV_HEAD}\n");
    let plain = |s: &str| s.replace([',', '\n', '"'], ";");
    for o in outcomes {
        let planted: Vec<&str> = o.planted.iter().map(|p| p.fault).collect();
        let severity: Vec<&str> = o.planted.iter().map(|p| p.severity.word()).collect();
        let judgeable: Vec<&str> = o.planted.iter().map(|p| if o.judgeable(p) { "yes" } else { "no" }).collect();
        let period = o.planted.iter().map(|p| p.period_min).find(|p| p.is_finite()).unwrap_or(f64::NAN);
        let notes: Vec<String> = o.planted.iter().map(|p| plain(&p.note)).collect();
        for s in &o.said {
            let _ = writeln!(
                t,
                "{},{},{},{},{},{},{},{period:.0},{},{},{},{},{:.4},{},{},{:.2},{},{},{},{}",
                o.generator,
                o.ask.seed,
                planted.join("+"),
                severity.join("+"),
                o.ask.trended.word(),
                o.ask.minutes,
                o.ask.days,
                judgeable.join("+"),
                s.fault,
                plain(&s.subject),
                s.answer.word(),
                s.confidence,
                s.truth.word(),
                s.subject_right,
                s.onset_days,
                o.also_true.join("+"),
                plain(&o.look_alikes.join("+")),
                notes.join("+"),
                plain(&s.because),
            );
        }
    }
    t
}

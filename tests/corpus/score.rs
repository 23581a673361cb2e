//! Reviews of invented records, and what each verdict is worth.
//!
//! Comes in: a generator and asks. Goes out: an [`Outcome`] a case. The decision to question: found means the right code with a confidence of
//! one half or more; the subject is scored beside it, not within.

use super::judgeable::judgeable;
use super::{Ask, Case, FAULTS, Generator, Planted, Severity, Trended};
use offcurve::faults::Verdict;
use offcurve::{ingest, pipeline, plant};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Confidence from which a finding counts as found.
pub const FOUND: f64 = 0.5;
const DAY_MS: f64 = 86_400_000.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Answer {
    Found,
    Clear,
    CannotTell,
}

impl Answer {
    pub fn word(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::Clear => "clear",
            Self::CannotTell => "cannot-tell",
        }
    }
}

/// Whether a verdict says what is so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Truth {
    /// Planted.
    True,
    /// Not planted, but it holds, or follows from what was planted.
    Also,
    False,
}

impl Truth {
    pub fn word(self) -> &'static str {
        match self {
            Self::True => "true",
            Self::Also => "also",
            Self::False => "false",
        }
    }
}

/// One verdict of one case.
#[derive(Debug, Clone)]
pub struct Said {
    pub fault: &'static str,
    pub subject: String,
    pub answer: Answer,
    /// NaN where nothing was found.
    pub confidence: f64,
    pub truth: Truth,
    pub subject_right: bool,
    /// First seen after it was planted [days]; NaN where it was no step.
    pub onset_days: f64,
    /// Sentence of a finding, reason of a refusal.
    pub because: String,
}

impl Said {
    pub fn counts(&self) -> bool {
        self.answer == Answer::Found && self.confidence >= FOUND
    }
}

/// One case, reviewed.
#[derive(Debug, Clone)]
pub struct Outcome {
    pub generator: &'static str,
    pub ask: Ask,
    pub planted: Vec<Planted>,
    pub also_true: Vec<&'static str>,
    pub pump_months: f64,
    pub look_alikes: Vec<&'static str>,
    pub said: Vec<Said>,
}

impl Outcome {
    /// Whether the table says that a planted fault can be judged here.
    pub fn judgeable(&self, p: &Planted) -> bool {
        judgeable(p.fault, self.ask.trended, self.ask.minutes, p.period_min)
    }

    /// The best answer to a fault: found, else clear, else cannot tell.
    pub fn answer(&self, fault: &str) -> Answer {
        let of = || self.said.iter().filter(|s| s.fault == fault);
        if of().any(Said::counts) {
            Answer::Found
        } else if of().any(|s| s.answer == Answer::Clear) {
            Answer::Clear
        } else {
            Answer::CannotTell
        }
    }

    /// Faults found that were not there, each code once.
    pub fn false_codes(&self) -> Vec<&'static str> {
        let mut codes: Vec<&'static str> =
            self.said.iter().filter(|s| s.counts() && s.truth == Truth::False).map(|s| s.fault).collect();
        codes.sort_unstable();
        codes.dedup();
        codes
    }
}

/// Reviews a case.
pub fn review(generator: &'static str, ask: &Ask, case: &Case) -> Outcome {
    let declared = plant::parse(&case.plant_toml, Path::new("corpus/plant.toml"));
    let declared = declared.unwrap_or_else(|e| panic!("{generator} {}: {e}", ask.seed)).value;
    let files: Vec<(String, &[u8])> = case.files.iter().map(|(path, bytes)| (path.clone(), bytes.as_slice())).collect();
    let trends = ingest::from_bytes(&declared, &files).unwrap_or_else(|e| panic!("{generator} {}: {e}", ask.seed));
    let review = pipeline::review(declared, trends, None).unwrap_or_else(|e| panic!("{generator} {}: {e}", ask.seed));
    Outcome {
        generator,
        ask: ask.clone(),
        planted: case.planted.clone(),
        also_true: case.also_true.clone(),
        pump_months: case.pump_months,
        look_alikes: case.look_alikes.clone(),
        said: review.verdicts.iter().map(|v| said(v, case)).collect(),
    }
}

fn said(verdict: &Verdict, case: &Case) -> Said {
    let (fault, subject, answer, confidence, because) = match verdict {
        Verdict::Found(f) => (f.fault, &f.subject, Answer::Found, f.confidence, f.because.clone()),
        Verdict::Clear { fault, subject, .. } => (*fault, subject, Answer::Clear, f64::NAN, String::new()),
        Verdict::CannotTell { fault, subject, why, missing } => {
            let why = if missing.is_empty() { why.clone() } else { format!("{why} [{}]", missing.join(", ")) };
            (*fault, subject, Answer::CannotTell, f64::NAN, why)
        }
    };
    let code = fault.code();
    let of = |code: &str| case.planted.iter().find(|p| p.fault == code);
    let caused = match verdict {
        Verdict::Found(f) => f.caused_by.is_some_and(|c| of(c.code()).is_some()),
        _ => false,
    };
    let planted = of(code);
    let truth = if planted.is_some() {
        Truth::True
    } else if caused || case.also_true.contains(&code) {
        Truth::Also
    } else {
        Truth::False
    };
    let onset_days = match (verdict, planted) {
        (Verdict::Found(f), Some(p)) if p.step => (f.first_seen_ms - p.first_ms) as f64 / DAY_MS,
        _ => f64::NAN,
    };
    Said {
        fault: code,
        subject: subject.clone(),
        answer,
        confidence,
        truth,
        subject_right: planted.is_some_and(|p| p.subjects.contains(subject)),
        onset_days,
        because,
    }
}

/// Asks of one kind that a generator can fill, from a seed on: seeds that cannot be are passed over.
pub struct Job<'a> {
    pub generator: &'a dyn Generator,
    pub ask: Ask,
}

/// How many seeds are tried for one case.
const PASSED_OVER: u64 = 40;

/// Seeds of one job lie this far from the next one's.
pub const STRIDE: u64 = 1000;

/// Draws and reviews one job; `None` where no seed serves.
pub fn one(job: &Job) -> Option<Outcome> {
    (0..PASSED_OVER).find_map(|k| {
        let ask = Ask { seed: job.ask.seed + k, ..job.ask.clone() };
        let case = job.generator.draw(&ask)?;
        Some(review(job.generator.name(), &ask, &case))
    })
}

/// All jobs, on every core, in their order.
pub fn many(jobs: &[Job]) -> Vec<Option<Outcome>> {
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<Option<Outcome>>> = Mutex::new(jobs.iter().map(|_| None).collect());
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    let Some(job) = jobs.get(i) else { break };
                    let outcome = one(job);
                    done.lock().expect("no reviewer stops while it holds the list")[i] = outcome;
                    if i % 200 == 199 {
                        eprintln!("{} of {}", i + 1, jobs.len());
                    }
                }
            });
        }
    });
    done.into_inner().expect("no reviewer stops while it holds the list")
}

/// What is scored.
#[derive(Debug, Clone)]
pub struct Wanted {
    /// Cases a fault and severity.
    pub cases: u64,
    /// Healthy pump-months, about.
    pub healthy: f64,
    pub from: u64,
    /// These faults alone; none is all.
    pub faults: Vec<String>,
    pub days: u32,
    /// Healthy plants by these sets of trended points alone; none is all.
    pub healthy_sets: Vec<Trended>,
}

/// Faults that come together, and with which severities they are drawn.
pub const PAIRS: [[&str; 2]; 7] = [
    ["stuck-bypass", "low-delta-t"],
    ["setpoint-too-high", "minimum-speed-hunting"],
    ["fixed-speed", "low-delta-t"],
    ["minimum-speed-too-high", "out-of-hours-running"],
    ["sensor-fault", "setpoint-too-high"],
    ["pump-degraded", "out-of-hours-running"],
    ["off-control-curve", "low-delta-t"],
];
/// Pump-months of a healthy case, about: twice 28 days.
const PUMP_MONTHS: f64 = 1.9;
const INTERVALS: [u32; 3] = [1, 5, 15];

/// Every set at every interval; those inside the table for a fault, and those outside.
fn combinations(fault: &str) -> [Vec<(Trended, u32)>; 2] {
    let all = Trended::ALL.iter().flat_map(|set| INTERVALS.map(|minutes| (*set, minutes)));
    let (inside, outside) = all.partition(|(set, minutes)| judgeable(fault, *set, *minutes, f64::NAN));
    [inside, outside]
}

/// The jobs, in an order that does not hang on the number of threads.
pub fn jobs<'a>(generators: &[&'a dyn Generator], wanted: &Wanted) -> Vec<Job<'a>> {
    let mut jobs = Vec::new();
    let mut seed = wanted.from;
    let chosen = |f: &str| wanted.faults.is_empty() || wanted.faults.iter().any(|w| w == f);
    for generator in generators {
        let mut add = |plant: Vec<(&'static str, Severity)>, (trended, minutes): (Trended, u32)| {
            jobs.push(Job { generator: *generator, ask: Ask { seed, plant, trended, minutes, days: wanted.days } });
            seed += STRIDE;
        };
        for (n, fault) in FAULTS.into_iter().enumerate().filter(|(_, f)| chosen(f)) {
            let [inside, outside] = combinations(fault);
            for severity in Severity::ALL {
                for i in 0..wanted.cases {
                    // One in five outside the table, where there is an outside; else every combination in turn.
                    let turn = i as usize + n + severity as usize * 5;
                    let of = if i % 5 == 4 && !outside.is_empty() { &outside } else { &inside };
                    add(vec![(fault, severity)], of[turn * 7 % of.len()]);
                }
            }
        }
        for pair in PAIRS.into_iter().filter(|p| p.iter().all(|f| chosen(f))) {
            let [first, _] = combinations(pair[0]);
            for i in 0..wanted.cases.div_ceil(4) {
                let severity = Severity::ALL[i as usize % 3];
                add(pair.iter().map(|f| (*f, severity)).collect(), first[(i as usize * 5 + 1) % first.len()]);
            }
        }
        let sets = if wanted.healthy_sets.is_empty() { &Trended::ALL[..] } else { &wanted.healthy_sets };
        for i in 0..(wanted.healthy / PUMP_MONTHS / generators.len() as f64).ceil() as usize {
            add(Vec::new(), (sets[i % sets.len()], INTERVALS[i / sets.len() % 3]));
        }
    }
    jobs
}

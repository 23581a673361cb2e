//! The first screen: the state of the plant in one sentence, what to do and who does it, what it is worth, how sure, what changed.

use super::{
    actions::{actions, own},
    document::{Answer, Headline},
    months,
    show::Show,
    summary::Summary,
    words, worth,
};
use crate::{
    faults::{Fault, Finding, Urgency},
    pipeline::Review,
    tuning::Tuning,
};

/// The first screen of a review.
pub fn headline(review: &Review, summary: &Summary, show: &Show) -> Headline {
    let system = review.plant.system.name.as_deref().unwrap_or(&review.plant.name);
    Headline {
        title: match &review.plant.site.name {
            Some(site) => format!("{system}, {site}"),
            None => system.to_owned(),
        },
        about: about(review, show),
        state: state(review, summary),
        actions: actions(review, summary, show),
        answers: answers(review, summary, show),
        since_last: months::since_last(summary, show),
    }
}

fn about(review: &Review, show: &Show) -> Vec<String> {
    vec![
        format!("{} to {}", show.date(review.from_ms), show.date(review.to_ms - 1)),
        used(review, show),
        format!("pump trends cover {} of it", show.percent(review.coverage)),
    ]
}

/// What the pumps used; a record without a single power says so instead of nought.
fn used(review: &Review, show: &Show) -> String {
    if review.points.system.power_kw.iter().any(|p| p.is_finite()) {
        format!("pumps used {}", show.energy_and_money(review.energy_kwh))
    } else {
        "what the pumps used is not known".to_owned()
    }
}

/// Other kinds of fault named in the first sentence; more are counted.
const NAMED: usize = 2;

/// The state of the plant in one sentence.
fn state(review: &Review, summary: &Summary) -> String {
    let all: Vec<&Finding> = own(&summary.findings).map(|d| d.finding).collect();
    let lead = match all.iter().map(|f| f.urgency).max() {
        Some(Urgency::Act) => "This plant needs attention now",
        Some(Urgency::Plan) => "This plant runs, with work to plan",
        Some(Urgency::Watch) => "This plant runs, with small faults to keep an eye on",
        None => return without_findings(review, summary),
    };
    let faults = by_fault(&all);
    let mut clauses = faults.iter().map(|(fault, of)| words::clause(&words::of_all(*fault, of)));
    let first = clauses.next().unwrap_or_default();
    let mut named: Vec<String> = clauses.by_ref().take(NAMED).collect();
    match clauses.count() {
        0 => {}
        n => named.push(words::count(n, "more kind") + " of fault"),
    }
    let also = if named.is_empty() { String::new() } else { format!("; also, {}", words::join(&named)) };
    format!("{lead}: {first}{also}.")
}

/// Each fault once, with all that have it, in the order of the findings.
fn by_fault<'r>(all: &[&'r Finding]) -> Vec<(Fault, Vec<&'r str>)> {
    let mut faults: Vec<(Fault, Vec<&str>)> = Vec::new();
    for f in all {
        match faults.iter_mut().find(|(fault, _)| *fault == f.fault) {
            Some((_, of)) => of.push(&f.subject),
            None => faults.push((f.fault, vec![&f.subject])),
        }
    }
    faults
}

/// The three honest ways of having found nothing.
fn without_findings(review: &Review, summary: &Summary) -> String {
    let kinds = Kinds::of(summary);
    let all = Fault::ALL.len();
    if kinds.clear == 0 {
        return format!(
            "Whether this plant runs well cannot be told from this record: none of the {all} kinds of fault could be judged."
        );
    }
    if kinds.clear < kinds.open {
        return format!(
            "Nothing wrong was seen, but this record shows little: only {} of {all} kinds of fault could be judged in full.",
            kinds.clear
        );
    }
    let lead = match (&review.tuning, kinds.open) {
        (Tuning::Proposed(_), _) => "No fault was found, but another setting would save energy",
        (_, 0) => "Nothing wrong was found",
        _ => "Nothing wrong was found in what this record can show",
    };
    match kinds.open + kinds.absent {
        0 => format!("{lead}: all {all} kinds of fault were looked for and not seen."),
        _ => format!("{lead}: {}.", kinds.said()),
    }
}

/// Whether a clear answer says that there was nothing to look for.
fn absent(would_have_seen: &str) -> bool {
    would_have_seen.trim_start().starts_with("nothing:")
}

/// Whether a record is too silent to speak for the plant: less was looked for than could not be judged.
pub fn silent(summary: &Summary) -> bool {
    let kinds = Kinds::of(summary);
    kinds.found == 0 && kinds.clear < kinds.open
}

/// Kinds of fault by what became of them.
struct Kinds {
    found: usize,
    /// Looked for everywhere, and not seen.
    clear: usize,
    /// Cannot occur here: one pump has nothing to stage.
    absent: usize,
    /// Could not be judged, wholly or for a part of the plant.
    open: usize,
}

impl Kinds {
    fn of(summary: &Summary) -> Self {
        let found = |f: &&Fault| summary.findings.iter().any(|d| d.finding.fault == **f);
        let open = |f: &&Fault| summary.not_judged.iter().any(|n| n.fault == f.code());
        let told = |f: &&Fault| summary.clear.iter().any(|c| c.fault == **f);
        let clear = |f: &&Fault| summary.clear.iter().any(|c| c.fault == **f && !absent(c.would_have_seen));
        let count = |is: &dyn Fn(&&Fault) -> bool| Fault::ALL.iter().filter(is).count();
        Self {
            found: count(&found),
            clear: count(&|f| !found(f) && !open(f) && clear(f)),
            absent: count(&|f| !found(f) && !open(f) && told(f) && !clear(f)),
            open: count(&|f| !found(f) && (open(f) || !told(f))),
        }
    }

    fn said(&self) -> String {
        let found =
            if self.found > 0 { format!("{}, ", words::were_counted(self.found, "found")) } else { String::new() };
        let absent = match self.absent {
            0 => String::new(),
            1 => ", 1 cannot occur here".to_owned(),
            n => format!(", {n} cannot occur here"),
        };
        let open = match self.open {
            0 => String::new(),
            n => format!(", and {n} could not be judged, wholly or for part of the plant"),
        };
        format!(
            "of {} kinds of fault, {found}{}{absent}{open}",
            Fault::ALL.len(),
            words::were_counted(self.clear, "looked for and not seen")
        )
    }
}

fn answers(review: &Review, summary: &Summary, show: &Show) -> Vec<Answer> {
    let mut all = Vec::new();
    if let Some(first) = own(&summary.findings).next() {
        all.push(Answer::new("What was seen", words::sentence(&show.sentence(first.finding.because.trim()))));
    }
    all.push(worth::answer(review, summary, show));
    all.push(Answer::new("How sure", sure(review, summary)));
    all
}

fn sure(review: &Review, summary: &Summary) -> String {
    let mut parts = Vec::new();
    parts.extend(findings_sure(summary));
    parts.push(format!("{}.", words::capital(&Kinds::of(summary).said())));
    let ranged = summary.waste_total_kwh.is_some_and(|w| w.estimate > 0.0);
    if matches!(review.tuning, Tuning::Proposed(_)) || ranged {
        parts.push("A range holds the true value in 19 of 20 cases (95 %).".to_owned());
    }
    parts.push(
        "All of it is read from trends: confirm on site before a setting is changed, and read the cautions below first."
            .to_owned(),
    );
    parts.join(" ")
}

/// How sure each finding is, the first by itself.
fn findings_sure(summary: &Summary) -> Option<String> {
    let hundred = |c: f64| (c * 100.0).round();
    let all: Vec<f64> = summary.findings.iter().map(|d| d.finding.confidence).collect();
    let (first, rest) = all.split_first()?;
    let told = |c: f64| format!("{} ({} in 100)", words::sureness(c), hundred(c));
    Some(match rest {
        [] => format!("The finding is {}.", told(*first)),
        [one] if hundred(*one) == hundred(*first) => format!("Both findings are {}.", told(*first)),
        [one] => format!("The first finding is {}, the other {}.", told(*first), told(*one)),
        more => {
            let (low, high) = more.iter().fold((f64::MAX, f64::MIN), |(l, h), c| (l.min(*c), h.max(*c)));
            let (low, high) = (hundred(low), hundred(high));
            let others = if low == high { format!("at {low}") } else { format!("between {low} and {high}") };
            format!("The first finding is {}, the others are {others} in 100.", told(*first))
        }
    })
}

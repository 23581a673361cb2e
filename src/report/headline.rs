//! The first screen: what is wrong, what to change, what it saves, how sure. Plain words, with money.

use super::{
    document::Headline,
    months,
    show::Show,
    summary::{Dated, Summary},
    words,
};
use crate::{
    faults::{Fault, Finding},
    pipeline::Review,
    plant::Control,
    tuning::{Recommendation, Tuning},
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
        answers: vec![
            ("What is wrong", wrong(summary, show)),
            ("What to change", change(review, summary, show)),
            ("What it saves", saves(review, summary, show)),
            ("How sure", sure(review, summary, show)),
        ],
        findings: summary.findings.iter().map(|d| line(d, show)).collect(),
        since_last: months::since_last(summary, show),
    }
}

fn about(review: &Review, show: &Show) -> Vec<String> {
    vec![
        format!("{} to {}", show.date(review.from_ms), show.date(review.to_ms - 1)),
        used(review, show),
        format!("pumps on record for {} of the period", show.percent(review.coverage)),
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

fn line(dated: &Dated, show: &Show) -> String {
    let f = dated.finding;
    let waste = f.waste_kwh.map_or_else(|| "not priced".to_owned(), |w| show.energy_and_money(w.estimate));
    format!(
        "{} ({}): {}; {}, {}",
        words::fault(f.fault),
        f.subject,
        waste,
        words::sureness(f.confidence),
        words::urgency(f.urgency)
    )
}

fn wrong(summary: &Summary, show: &Show) -> String {
    let Some(first) = summary.findings.first() else {
        if summary.clear.is_empty() {
            return format!(
                "Not known: nothing could be judged from this record, and silence there is not health. {} below, with what is missing.",
                words::count(summary.not_judged.len(), "matter")
            );
        }
        return format!(
            "Nothing, in what could be judged: {} looked and saw no fault. {} could not be judged from this record, and silence there is not health.",
            words::count(summary.clear.len(), "check"),
            words::count(summary.not_judged.len(), "matter"),
        );
    };
    let mut text = format!("{}. {}", named(first.finding), show.sentence(first.finding.because.trim()));
    // What another finding brings about stands under that one, further down.
    let own = summary.findings[1..].iter().filter(|d| d.finding.caused_by.is_none());
    let rest: Vec<String> = own.map(|d| words::clause(&named(d.finding))).collect();
    if !rest.is_empty() {
        text = format!("{text} Also: {}.", words::join(&rest));
    }
    text
}

/// The fault in plain words, and whose it is unless the whole loop's.
fn named(f: &Finding) -> String {
    if f.subject == "loop" {
        words::fault(f.fault).to_owned()
    } else {
        format!("{} ({})", words::fault(f.fault), f.subject)
    }
}

fn change(review: &Review, summary: &Summary, show: &Show) -> String {
    let advice = |d: &Dated| sentence_end(&show.sentence(d.finding.change.trim()));
    let first = summary.findings.first();
    match &review.tuning {
        Tuning::Proposed(r) => {
            let mut parts = Vec::new();
            parts.extend(mend_first(r, summary, show));
            parts.push(settings_sentence(r, show));
            // The setting answers a finding about settings; any other has an answer of its own.
            let other = first
                .filter(|d| !ABOUT_SETTINGS.contains(&d.finding.fault) && !r.conditional_on.contains(&d.finding.fault));
            parts.extend(other.filter(|d| !d.finding.change.is_empty()).map(advice));
            parts.join(" ")
        }
        Tuning::Refused { why, .. } => match first.filter(|d| !d.finding.change.is_empty()) {
            Some(d) => {
                format!("{} No new control setting is advised from this record; the reason is given below.", advice(d))
            }
            None => format!("No control setting is advised: {}.", words::clause(&show.sentence(why))),
        },
    }
}

/// Findings that the proposed setting itself answers.
const ABOUT_SETTINGS: [Fault; 3] = [Fault::SetpointTooHigh, Fault::SetpointTooLow, Fault::MinimumSpeedTooHigh];

/// What must be mended before the setting holds, each with its own advice, the dearest first.
fn mend_first(r: &Recommendation, summary: &Summary, show: &Show) -> Option<String> {
    let mut ways: Vec<String> = Vec::new();
    for dated in summary.findings.iter().filter(|d| r.conditional_on.contains(&d.finding.fault)) {
        let way = words::clause(&show.sentence(dated.finding.change.trim()));
        if !way.is_empty() && !ways.contains(&way) {
            ways.push(way);
        }
    }
    match ways.split_first() {
        _ if r.conditional_on.is_empty() => None,
        None => Some(format!("First mend this: {}.", words::join(&mended(r)))),
        Some((first, rest)) => {
            Some(rest.iter().fold(format!("First {first}."), |text, way| format!("{text} Also {way}.")))
        }
    }
}

/// The faults that must be mended first, in plain words.
fn mended(r: &Recommendation) -> Vec<String> {
    r.conditional_on.iter().map(|f| words::clause(words::fault(*f))).collect()
}

fn sentence_end(text: &str) -> String {
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

/// "Set the head at no flow to 38 kPa (now 64 kPa) and ..."
fn settings_sentence(r: &Recommendation, show: &Show) -> String {
    let changes: Vec<String> = settings(&r.current, &r.proposed, show)
        .into_iter()
        .filter(|s| s.present != s.proposed && !s.proposed.is_empty())
        .map(|s| {
            // The other way of writing a head is in the table below.
            let short = |text: &str| text.split(" (").next().unwrap_or_default().to_owned();
            if s.present.is_empty() {
                format!("the {} to {}", s.label, short(&s.proposed))
            } else {
                format!("the {} from {} to {}", s.label, short(&s.present), short(&s.proposed))
            }
        })
        .collect();
    if changes.is_empty() {
        return "Leave the control settings as they are.".to_owned();
    }
    let once = if r.conditional_on.is_empty() { String::new() } else { "Once that is done, ".to_owned() };
    format!("{once}{} {}.", if once.is_empty() { "Set" } else { "set" }, words::join(&changes))
}

/// One control setting, as it is and as it should be; empty where not set.
pub struct Setting {
    pub label: &'static str,
    /// Its name in the plant file.
    pub key: &'static str,
    pub present: String,
    pub proposed: String,
}

/// The settings that either side has.
pub fn settings(current: &Control, proposed: &Control, show: &Show) -> Vec<Setting> {
    let row = |label, key, get: &dyn Fn(&Control) -> Option<String>| Setting {
        label,
        key,
        present: get(current).unwrap_or_default(),
        proposed: get(proposed).unwrap_or_default(),
    };
    let all = vec![
        row("control mode", "mode", &|c| c.mode.map(|m| m.word().to_owned())),
        row("head at no flow", "zero_flow_head", &|c| c.zero_flow_head.map(|p| show.head_setting(p.in_kpa()))),
        row("head at design flow", "design_head", &|c| c.design_head.map(|p| show.head_setting(p.in_kpa()))),
        row("design flow", "design_flow", &|c| c.design_flow.map(|q| show.flow(q.in_m3h()))),
        row("pressure setpoint", "setpoint", &|c| c.setpoint.map(|p| show.head_setting(p.in_kpa()))),
        row("flow setpoint", "setpoint", &|c| c.setpoint_flow.map(|q| show.flow(q.in_m3h()))),
        row("setpoint reset", "reset", &|c| c.reset.map(|r| r.word().to_owned())),
        row("lowest setpoint", "setpoint_low", &|c| c.setpoint_low.map(|p| show.head_setting(p.in_kpa()))),
        row("highest setpoint", "setpoint_high", &|c| c.setpoint_high.map(|p| show.head_setting(p.in_kpa()))),
        row("sensor at", "sensor_at", &|c| c.sensor_at.clone()),
        row("lowest speed", "minimum_speed", &|c| c.minimum_speed.map(|s| show.percent(s.in_of_one()))),
        row("highest speed", "maximum_speed", &|c| c.maximum_speed.map(|s| show.percent(s.in_of_one()))),
    ];
    all.into_iter().filter(|s| !s.present.is_empty() || !s.proposed.is_empty()).collect()
}

fn saves(review: &Review, summary: &Summary, show: &Show) -> String {
    let waste = match summary.waste_total_kwh {
        Some(w) if w.estimate > 0.0 => format!(
            "The faults found cost {} in this period, out of {}.",
            show.energy_and_money(w.estimate),
            show.energy(review.energy_kwh)
        ),
        Some(_) => String::new(),
        None => "What was found could not be priced from this record.".to_owned(),
    };
    let Tuning::Proposed(r) = &review.tuning else {
        return if waste.is_empty() { "No saving is claimed.".to_owned() } else { waste };
    };
    let share = format!(
        "{} to {} of what the hours looked at would use on today's setting",
        show.percent(r.saving_fraction.low),
        show.percent(r.saving_fraction.high)
    );
    let saving = match r.saving_kwh_per_year {
        Some(year) => format!(
            "The new setting saves about {} a year, between {} and {} ({share}).{}",
            show.energy_and_money(year.estimate),
            super::show::figures(year.low, 3),
            show.energy(year.high),
            carbon(review, year.estimate)
        ),
        None => format!(
            "The new setting would have saved about {} in this period ({share}); it is too short or too even to speak for a year.",
            show.energy_and_money(r.saving_kwh.estimate)
        ),
    };
    format!("{saving} {waste}").trim().to_owned()
}

fn carbon(review: &Review, kwh: f64) -> String {
    let kg = review.plant.site.carbon_intensity.map(|c| c * kwh);
    kg.map_or_else(String::new, |kg| format!(" That is {} kg of CO2 equivalent.", super::show::figures(kg, 2)))
}

fn sure(review: &Review, summary: &Summary, show: &Show) -> String {
    let mut parts = Vec::new();
    if let Some(first) = summary.findings.first() {
        let c = first.finding.confidence;
        let others: Vec<String> =
            summary.findings[1..].iter().map(|d| format!("{:.0}", d.finding.confidence * 100.0)).collect();
        let others = if others.is_empty() { String::new() } else { format!(", the next {}", words::join(&others)) };
        let first = if summary.findings.len() == 1 { "This finding" } else { "The first finding" };
        parts.push(format!("{first} is {}, at {:.0} in 100{others}.", words::sureness(c), c * 100.0));
    }
    if let Tuning::Proposed(r) = &review.tuning {
        parts.push(match r.conditional_on.len() {
            0 => "The range of the saving is a 95 % interval.".to_owned(),
            _ => "The range of the saving is a 95 % interval, and holds only once what comes first is done.".to_owned(),
        });
    }
    parts.push(format!(
        "What the pumps did is known for {} of the period; {} came out clear and {} could not be judged.",
        show.percent(review.coverage),
        words::count(summary.clear.len(), "check"),
        words::count(summary.not_judged.len(), "matter")
    ));
    parts.push("All of it is read from trends: confirm on site before a setting is changed.".to_owned());
    parts.join(" ")
}

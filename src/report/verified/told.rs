//! The sentences that headline and sections share.

use crate::{
    faults::Estimate,
    report::{
        show::{Show, figures},
        words,
    },
    verification::{Changed, Short, Source, Tendency, Verification},
    verify::{
        DaysNeeded, Refusal, Saving, Setting, Told, Why,
        form::{Calendar, Driver},
    },
};

/// Autocorrelation below which neighbouring days are not said to err alike [-]; the interval counts it all the same.
const ALIKE: f64 = 0.1;

/// When, and who says so.
pub fn when(v: &Verification, show: &Show) -> String {
    let c = &v.changed;
    let who = match (c.source, &c.step) {
        (Source::Given, _) => "as given".to_owned(),
        (Source::History, _) => "from the plant file".to_owned(),
        (Source::Found, Some((s, _))) => format!(
            "found in the record between {} and {}, confidence {}",
            show.time(s.from_ms),
            show.time(s.to_ms),
            sure(s.confidence)
        ),
        (Source::Found, None) => "found in the record".to_owned(),
    };
    let turns = if c.times > 1 { format!(", the first of {} changes", c.times) } else { String::new() };
    format!("{} ({who}{turns})", show.time(c.at_ms))
}

/// A probability near one, not rounded up to certainty.
pub fn sure(p: f64) -> String {
    if p > 0.999 { "more than 99.9 %".to_owned() } else { format!("{:.1} %", 100.0 * p) }
}

/// What the record itself shows at the change.
pub fn step(c: &Changed, show: &Show) -> Option<String> {
    let (s, relation) = c.step.as_ref()?;
    Some(format!(
        "The record itself shows a step in {relation} at {} (95 %: between {} and {}). The step is {} times its standard error.",
        show.time(s.at_ms),
        show.time(s.from_ms),
        show.time(s.to_ms),
        figures(s.t, 2)
    ))
}

/// The days of a period, the year said once where it is the same: "1 Oct to 20 Oct 2025".
pub fn span(from_ms: i64, to_ms: i64, show: &Show) -> String {
    let (from, to) = (show.date(from_ms), show.date(to_ms - 1));
    match (from.rsplit_once(' '), to.rsplit_once(' ')) {
        (Some((day, year)), Some((_, same))) if year == same => format!("{day} to {to}"),
        _ => format!("{from} to {to}"),
    }
}

/// A share with its interval.
pub fn share(e: Estimate, show: &Show) -> String {
    format!("{} ({} to {})", show.percent(e.estimate), show.percent(e.low), show.percent(e.high))
}

/// Energy with its interval, and money.
pub fn energy(e: Estimate, show: &Show) -> String {
    match show.money_range(e) {
        Some(money) => format!("{}, {money}", show.energy_range(e)),
        None => show.energy_range(e),
    }
}

/// A loss turned round: what was used more.
fn turned(e: Estimate) -> Estimate {
    Estimate { estimate: -e.estimate, low: -e.high, high: -e.low }
}

/// What it saved, in one or two sentences.
pub fn saved(v: &Verification, show: &Show) -> String {
    let s = match &v.saving {
        Ok(s) => s,
        Err(refusal) => return format!("Not known: {refusal}.{}", needed_for(refusal)),
    };
    let days = words::count(s.after.days, "day");
    let answer = match s.told {
        Told::Saved => format!(
            "{}: {} of what the old setting would have used on the {days} compared.",
            energy(s.saving_kwh, show),
            share(s.saving_fraction, show)
        ),
        Told::UsedMore => format!(
            "Nothing: the new setting used more by {}. That is {} above what the old setting would have used on the {days} compared.",
            energy(turned(s.saving_kwh), show),
            share(turned(s.saving_fraction), show)
        ),
        Told::CannotTell => format!(
            "Cannot tell: the saving on the {days} compared is {}, or {}, and the range includes zero. {}",
            energy(s.saving_kwh, show),
            share(s.saving_fraction, show),
            needed(s)
        ),
    };
    format!("{answer}{}", mostly_left_out(s))
}

/// What the comparison takes account of; `None` where there is no comparison.
pub fn adjusted(v: &Verification) -> Option<String> {
    let form = &v.saving.as_ref().ok()?.baseline.form;
    let calendar = match form.calendar {
        Calendar::One => None,
        Calendar::Weekend | Calendar::WeekendApart => Some("weekday or weekend"),
        Calendar::Weekday => Some("day of the week"),
        Calendar::HourOfWeek => Some("hour of the week"),
    };
    let driver = form.on().map(|d| match d {
        Driver::Outdoor => "outdoor temperature",
        Driver::Load => "load",
        Driver::LoadAndOutdoor => "load and outdoor temperature",
    });
    let why = match (v.outdoor, v.load_from.is_some()) {
        (false, false) => "Neither weather nor load is trended.",
        (true, false) => "Outdoor temperature hardly helped; no load is metered.",
        (false, true) => "Load hardly helped; no outdoor temperature is trended.",
        (true, true) => "Weather and load hardly helped.",
    };
    let said = match (driver, calendar) {
        (Some(driver), Some(calendar)) => format!("{driver} and {calendar}."),
        (Some(driver), None) => format!("{driver}."),
        (None, Some(calendar)) => format!("{calendar} only. {why}"),
        (None, None) => format!("nothing. {why}"),
    };
    Some(words::capital(&said))
}

/// Said where the days compared are not most of those after the change.
fn mostly_left_out(s: &Saving) -> String {
    let left_out = s.excluded.iter().filter(|e| e.setting == Setting::New && e.why == Why::OutsideDriver);
    let left_out: usize = left_out.map(|e| e.days).sum();
    if 2 * left_out <= s.after.days {
        return String::new();
    }
    format!(
        " That is {} of {} only: the others had weather or load that the old setting hardly saw, so the figure says little of the whole period.",
        s.after.days,
        words::count(s.after.days + left_out, "day")
    )
}

/// How many more days would settle it.
pub fn needed(s: &Saving) -> String {
    match s.days_needed {
        DaysNeeded::None => "None: the range does not reach zero.".to_owned(),
        DaysNeeded::More(n) => format!(
            "About {} with the new setting would settle it, if the saving stays what it seems to be.",
            words::count(n, "more day")
        ),
        DaysNeeded::NotByWaiting => {
            "Waiting alone does not settle it: the days before are too few or too scattered, or the saving is too small. Running both settings in turn, a week each, may."
                .to_owned()
        }
    }
}

fn needed_for(refusal: &Refusal) -> String {
    missing_days(refusal).map_or_else(String::new, |n| {
        format!(" {} with the new setting are needed.", words::count(n, "more whole day"))
    })
}

/// Days still to come before anything can be said.
pub fn missing_days(refusal: &Refusal) -> Option<usize> {
    match refusal {
        Refusal::TooFewDays { setting: Setting::New, days, least, .. } => Some(least - days),
        Refusal::NothingInCommon { outside, days, least } => Some(least.saturating_sub(days - outside)),
        _ => None,
    }
}

/// Whether the points moved.
pub fn took(v: &Verification) -> String {
    let answer = match v.took.took {
        Some(true) => "Yes",
        Some(false) => "No",
        None => "Cannot tell",
    };
    format!("{answer}: {}.", v.took.why)
}

/// What got worse.
pub fn worse(v: &Verification, show: &Show) -> String {
    let mut all = vec![comfort(v, show)];
    let named = |clear_before: bool| -> Vec<String> {
        let own = v.effects.new.iter().filter(|e| e.clear_before == clear_before);
        own.map(|e| words::clause(&words::finding(&e.finding))).collect()
    };
    let (new, untold) = (named(true), named(false));
    if let Some(why) = &v.effects.not_judged {
        all.push(format!("Side effects were not judged: {why}."));
    } else if new.is_empty() {
        all.push("No finding is new since the change.".to_owned());
    } else {
        all.push(format!("New since the change, and not seen before: {}.", words::join(&new)));
    }
    if !untold.is_empty() {
        all.push(format!("Found after the change; the days before could not tell: {}.", words::join(&untold)));
    }
    all.join(" ")
}

/// Coils short of water.
pub fn comfort(v: &Verification, show: &Show) -> String {
    let c = &v.comfort;
    if let Some(why) = &c.why {
        return format!("Comfort was not judged: {why}.");
    }
    let what = if c.by_valve == 0 {
        "short of water"
    } else if c.by_air == 0 {
        "with its valve fully open"
    } else {
        "short of water or with its valve fully open"
    };
    if c.before.short_h + c.after.short_h == 0.0 {
        let hours = |s: &Short| show.hours(s.judged_h);
        return format!("No coil was seen {what} in {} before and {} after.", hours(&c.before), hours(&c.after));
    }
    let share = |s: &Short| show.percent(s.share());
    let all = format!("A coil was {what} in {} of the hours before and {} after.", share(&c.before), share(&c.after));
    let Some(like) = &c.like else {
        return format!("{all} Which way it went is not judged: {}.", not_alike(v));
    };
    let verdict = match c.tendency {
        Tendency::Rose => "more than before",
        Tendency::Fell => "less than before",
        Tendency::NoneTold | Tendency::Unknown => "no difference can be told",
    };
    format!(
        "{all} On days of like {} ({} before, {} after) it was {} and {}: {verdict}.",
        if like.driver == Driver::Outdoor { "outdoor temperature" } else { "load" },
        like.days_before,
        like.days_after,
        show.percent(like.share_before),
        show.percent(like.share_after)
    )
}

/// Why comfort was not compared.
fn not_alike(v: &Verification) -> &'static str {
    if v.outdoor || v.load_from.is_some() {
        "too few days before and after had like weather or load"
    } else {
        "neither outdoor temperature nor load is trended, and the days may differ in both"
    }
}

/// How good the model is.
pub fn model(s: &Saving, show: &Show) -> String {
    let q = &s.quality;
    let verdict = if q.acceptable { "keeps" } else { "does not keep" };
    let r = figures(q.autocorrelation, 2);
    let neighbours = if q.autocorrelation > ALIKE {
        format!("Neighbouring days are missed alike (autocorrelation {r}); the range allows for it.")
    } else {
        format!("Neighbouring days are missed independently (autocorrelation {r}).")
    };
    format!(
        "The model of the days before {verdict} the guideline's limits: CV(RMSE) {} by day, NMBE {} on days held out. {neighbours}",
        show.percent(q.cv_rmse_days),
        show.percent(q.nmbe)
    )
}

/// Why days were left out.
pub fn why(why: Why) -> &'static str {
    match why {
        Why::PartOfADay => "both settings stood on it, or a period began or ended within it",
        Why::NoEnergy => "more than a tenth of its energy is missing",
        Why::NoDriver => "weather or load is missing for more than a quarter of it",
        Why::OutsideDriver => "weather or load that the old setting saw on its outermost days only, or never",
    }
}

/// A setting's word.
pub fn setting(setting: Setting) -> &'static str {
    match setting {
        Setting::Old => "before",
        Setting::New => "after",
    }
}

//! The first screen of the memo: whether the change saved energy, what to do now, what it saved, what got worse, how sure.

use super::told;
use crate::{
    faults::Estimate,
    report::{
        document::{Action, Answer, Headline},
        settings,
        show::Show,
        trades, words,
    },
    verification::{Tendency, Verification},
    verify::{DaysNeeded, Setting, Told},
};

/// What a reader of the first screen alone must know; the page's limits and cautions say the rest.
const KEEP_IN_MIND: &str = "Whatever else changed then is in the figure too. On complaint, go back to the old setting. \
    Keep minimum flows and freeze protection. Local codes and licensed practice come first.";

pub fn headline(v: &Verification, show: &Show) -> Headline {
    let system = v.plant.system.name.as_deref().unwrap_or(&v.plant.name);
    let of = v.plant.site.name.as_ref().map_or_else(String::new, |site| format!(", {site}"));
    Headline {
        title: format!("A change verified: {system}{of}"),
        about: about(v, show),
        state: state(v),
        actions: actions(v, show),
        answers: answers(v, show),
        since_last: None,
    }
}

fn answers(v: &Verification, show: &Show) -> Vec<Answer> {
    let mut all =
        vec![Answer::new("What was changed", changed(v, show)), Answer::new("What it saved", what_it_saved(v, show))];
    all.extend(told::adjusted(v).map(|text| Answer::new("Adjusted for", text)));
    all.extend([
        Answer::new("Did it take", told::took(v)),
        Answer::new("What got worse", told::worse(v, show)),
        Answer::new("How sure", sure(v, show)),
        Answer::new("Keep in mind", KEEP_IN_MIND),
    ]);
    all
}

/// What the change did, and whether anything got worse.
fn state(v: &Verification) -> String {
    let energy = match v.saving.as_ref().map(|s| s.told) {
        Ok(Told::Saved) => "The change saved pump energy",
        Ok(Told::UsedMore) => "The pumps used more energy after the change than the old setting would have",
        Ok(Told::CannotTell) => "Whether the change saved energy cannot be told yet",
        Err(_) => "What the change saved cannot be told from this record",
    };
    let worse = match (v.comfort.tendency, got_worse(v)) {
        (Tendency::Rose, _) => "Coils were short of water more often than before.",
        (_, true) => "A fault is there now that was not seen before.",
        (Tendency::Unknown, false) if v.comfort.why.is_some() => "Whether any coil is short of water is not known.",
        _ => "Nothing was seen to get worse.",
    };
    let saved = matches!(v.saving.as_ref().map(|s| s.told), Ok(Told::Saved));
    let took = match v.took.took {
        Some(true) if saved => ", and the pumps moved to the new setting.",
        Some(true) => ", but the pumps moved to the new setting.",
        Some(false) if saved => ", but the pumps did not move to the new setting.",
        Some(false) => ", and the pumps did not move to the new setting.",
        None => ". Whether the pumps moved to the new setting cannot be told.",
    };
    format!("{energy}{took} {worse}")
}

/// Findings that were clear before and are there now.
fn got_worse(v: &Verification) -> bool {
    v.effects.new.iter().any(|e| e.clear_before)
}

fn actions(v: &Verification, show: &Show) -> Vec<Action> {
    let does = |what: &str, who: &str, see: &str| Action {
        what: what.to_owned(),
        who: who.to_owned(),
        see: Some(see.to_owned()),
    };
    let mut all = Vec::new();
    if v.comfort.tendency == Tendency::Rose {
        let what = "Go back to the old setting, or part of the way, until the coils that are short of water have been looked at.";
        all.push(does(what, trades::CONTROLS, "worse"));
    }
    if v.took.took == Some(false) {
        let what = "Read the setting at the drive or controller itself: the pumps do not follow the new one.";
        all.push(does(what, trades::CONTROLS, "took"));
    }
    for effect in v.effects.new.iter().filter(|e| e.clear_before && !e.finding.change.trim().is_empty()) {
        let change = words::sentence(&show.sentence(effect.finding.change.trim()));
        all.push(does(&change, &trades::of(&effect.finding, &v.plant), "worse"));
    }
    match &v.saving {
        Ok(s) if s.told == Told::CannotTell => {
            let what = match s.days_needed {
                DaysNeeded::None => "Compare again next month.".to_owned(),
                DaysNeeded::More(n) => {
                    format!("Leave the setting as it is and compare again after about {}.", words::count(n, "more day"))
                }
                DaysNeeded::NotByWaiting => {
                    "Run the old and the new setting in turn, a week each, and compare again: waiting alone will not settle it."
                        .to_owned()
                }
            };
            all.push(does(&what, trades::FACILITY, "saving"));
        }
        Ok(s) if s.told == Told::Saved && all.is_empty() => {
            let what = "Keep the new setting, write it into the plant file, and review the plant next month.";
            all.push(does(what, trades::FACILITY, "saving"));
        }
        Ok(s) if s.told == Told::UsedMore => {
            let what = "Find out what raised the energy before the new setting is kept.";
            all.push(does(what, trades::CONTROLS, "saving"));
        }
        Ok(_) => {}
        Err(refusal) => {
            let what = match told::missing_days(refusal) {
                Some(n) => format!(
                    "Leave the setting as it is and compare again after {} with comparable weather and load.",
                    words::count(n, "more whole day")
                ),
                None => "Mend the record (see What it saved), and compare again.".to_owned(),
            };
            all.push(does(&what, trades::FACILITY, "saving"));
        }
    }
    all
}

/// The saving on the days compared, and over a year where the record can carry one.
fn what_it_saved(v: &Verification, show: &Show) -> String {
    let saved = told::saved(v, show);
    let Ok(s) = &v.saving else { return saved };
    let year = match (&s.saving_kwh_per_year, s.told) {
        (Ok(year), Told::Saved) => format!(" {}", yearly(v, *year, show)),
        (Err(why), Told::Saved) => format!(" No yearly figure is given: {why}."),
        _ => String::new(),
    };
    format!("{saved}{year}")
}

fn yearly(v: &Verification, year: Estimate, show: &Show) -> String {
    let carbon = match v.plant.site.carbon_intensity {
        Some(c) => format!(", {} CO₂e", show.carbon_range(year, c)),
        None => String::new(),
    };
    format!("Over a year like the last: {}{carbon}.", told::energy(year, show))
}

fn about(v: &Verification, show: &Show) -> Vec<String> {
    let period = |s| {
        let (from, to) = v.period(s);
        format!("{} {}", told::setting(s), told::span(from, to, show))
    };
    vec![period(Setting::Old), period(Setting::New), format!("energy {}", v.energy_from)]
}

fn changed(v: &Verification, show: &Show) -> String {
    let when = told::when(v, show);
    let rows = settings::settings(&v.settings.0, &v.settings.1, show);
    let changed = rows.into_iter().filter(|s| !s.proposed.is_empty() && s.proposed != s.present);
    let each: Vec<String> = changed
        .map(|s| {
            let from = if s.present.is_empty() { "not declared".to_owned() } else { s.present };
            format!("{} from {from} to {}", s.label, s.proposed)
        })
        .collect();
    if each.is_empty() {
        return format!("{when}. The plant file holds no earlier setting.");
    }
    format!("{}, on {when}.", words::capital(&words::join(&each)))
}

fn sure(v: &Verification, show: &Show) -> String {
    match &v.saving {
        Ok(s) => format!("A range holds the true value in about 19 of 20 cases (95 %). {}", told::model(s, show)),
        Err(_) => "No model of the days before was made, so nothing is said of the saving.".to_owned(),
    }
}

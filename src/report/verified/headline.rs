//! The first screen of the memo.

use super::told;
use crate::{
    report::{
        document::{Action, Answer, Headline},
        headline,
        show::Show,
        words,
    },
    verification::Verification,
    verify::Setting,
};

pub fn headline(v: &Verification, show: &Show) -> Headline {
    let system = v.plant.system.name.as_deref().unwrap_or(&v.plant.name);
    let of = v.plant.site.name.as_ref().map_or_else(String::new, |site| format!(", {site}"));
    Headline {
        title: format!("A change verified: {system}{of}"),
        about: about(v, show),
        state: told::saved(v, show),
        actions: vec![Action {
            what: told::took(v),
            who: "controls contractor".to_owned(),
            see: Some("took".to_owned()),
        }],
        answers: vec![
            Answer::new("What was changed", changed(v, show)),
            Answer::new("What got worse", told::worse(v, show)),
            Answer::new("How sure", sure(v, show)),
        ],
        since_last: None,
    }
}

fn about(v: &Verification, show: &Show) -> Vec<String> {
    let period = |s| {
        let (from, to) = v.period(s);
        format!("{} {} to {}", told::setting(s), show.date(from), show.date(to - 1))
    };
    vec![period(Setting::Old), period(Setting::New), format!("energy {}", v.energy_from)]
}

fn changed(v: &Verification, show: &Show) -> String {
    let when = told::when(v, show);
    let rows = headline::settings(&v.settings.0, &v.settings.1, show);
    let changed = rows.into_iter().filter(|s| !s.proposed.is_empty() && s.proposed != s.present);
    let each: Vec<String> = changed
        .map(|s| {
            let from = if s.present.is_empty() { "not declared".to_owned() } else { s.present };
            format!("{} from {from} to {}", s.label, s.proposed)
        })
        .collect();
    if each.is_empty() {
        return format!("The plant file names one setting only; the change was on {when}.");
    }
    format!("{}, on {when}.", words::capital(&words::join(&each)))
}

fn sure(v: &Verification, show: &Show) -> String {
    match &v.saving {
        Ok(s) => format!("{} The intervals are 95 %.", told::model(s, show)),
        Err(_) => "No model of the days before was made, so nothing is said of the saving.".to_owned(),
    }
}

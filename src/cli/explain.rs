//! `offcurve explain`: the rules in words and on one page, how operating points come about, and a plant file to start from.

use super::{Outcome, print, stages};
use crate::{faults::Fault, report::words};

/// The word that prints a plant file.
const PLANT_FILE: &str = "plant-file";
/// The word that prints how flow is found without a meter.
const OPERATING_POINTS: &str = "operating-points";

/// The word that prints all faults on one page.
const FAULTS: &str = "faults";

/// Jaro-Winkler likeness below which a name is no guess worth making [-]: unlike words of this length score up to about 0.65.
const LIKE: f64 = 0.75;

/// The list, a rule's text, the page on operating points, or the plant file.
pub fn explain(topic: Option<&str>) -> Result<Outcome, String> {
    let text = match topic {
        None => list(),
        Some(PLANT_FILE) => stages::plant_template().to_owned(),
        Some(FAULTS) => stages::faults_page(),
        Some(OPERATING_POINTS) => stages::operating_points_page(),
        Some(word) => rule(word)?,
    };
    print(&text)?;
    Ok(Outcome::Done)
}

fn list() -> String {
    let mut out = String::from("offcurve explain FAULT says how it is judged:\n\n");
    for fault in Fault::ALL {
        out.push_str(&format!("  {:<26} {}\n", fault.code(), words::fault(fault)));
    }
    out.push_str(&format!(
        "\noffcurve explain {FAULTS} shows on one page what each fault needs, its limits and their sources.\n"
    ));
    out.push_str(&format!(
        "offcurve explain {OPERATING_POINTS} says how flow is found without a meter, and how sure that is.\n"
    ));
    out.push_str(&format!("offcurve explain {PLANT_FILE} prints a plant file to start from.\n"));
    out
}

fn rule(word: &str) -> Result<String, String> {
    let known = word.to_lowercase();
    let Some(fault) = Fault::ALL.into_iter().find(|f| f.code() == known) else {
        return Err(unknown(word));
    };
    Ok(format!("{}\n", stages::rule_text(fault).trim_end()))
}

fn unknown(word: &str) -> String {
    let names = Fault::ALL.iter().map(|f| f.code()).chain([FAULTS, OPERATING_POINTS, PLANT_FILE]);
    let nearest = names
        .map(|name| (strsim::jaro_winkler(name, &word.to_lowercase()), name))
        .filter(|(likeness, _)| *likeness >= LIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let hint = match nearest {
        Some((_, name)) => format!("did you mean offcurve explain {name}"),
        None => "offcurve explain   # lists the faults".to_owned(),
    };
    format!(
        "explain: \"{word}\" is not the name of a fault, and not \"{FAULTS}\", \"{OPERATING_POINTS}\" or \"{PLANT_FILE}\"\nhint: {hint}"
    )
}

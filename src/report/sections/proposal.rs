//! What to set, what it saves, what bounds it.

use super::{findings::priced, positions};
use crate::{
    pipeline::Review,
    plant::{Control, ControlMode, Reset},
    report::{
        document::{Block, Table},
        figures::{Figure, NEED},
        settings::settings,
        show::Show,
        words,
    },
    tuning::{Recommendation, Tuning},
};

pub fn blocks(review: &Review, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let need = positions(figures, |id| id == NEED);
    match &review.tuning {
        Tuning::Proposed(r) => proposal(r, show, need),
        Tuning::Refused { missing, why } => {
            let why = words::sentence(&words::capital(&show.sentence(why.trim())));
            let mut blocks = vec![Block::Paragraph(format!("No new setting is proposed. {why}"))];
            if !missing.is_empty() {
                blocks.push(Block::List {
                    label: Some("What a proposal would need"),
                    ordered: false,
                    items: missing.clone(),
                });
            }
            blocks.extend(need);
            blocks
        }
    }
}

fn proposal(r: &Recommendation, show: &Show, need: Vec<Block>) -> Vec<Block> {
    let mut blocks = Vec::new();
    if !r.conditional_on.is_empty() {
        let first: Vec<String> =
            r.conditional_on.iter().map(|f| format!("{} ({})", words::clause(words::fault(*f)), f.code())).collect();
        blocks.push(Block::Labelled {
            label: "Only once this is mended",
            text: format!("{}.", words::capital(&words::join(&first))),
        });
    }
    let rows = settings(&r.current, &r.proposed, show)
        .into_iter()
        .map(|s| {
            let proposed =
                if s.proposed.is_empty() || s.proposed == s.present { "as it is".to_owned() } else { s.proposed };
            let present = if s.present.is_empty() { "not declared".to_owned() } else { s.present };
            vec![words::capital(s.label), s.key.to_owned(), present, proposed]
        })
        .collect();
    blocks.push(Block::Table(Table::new(
        "What to set on the drive or in the controller.",
        &["Setting", "In the plant file", "#Now", "#Proposed"],
        rows,
    )));
    blocks.push(Block::Paragraph(format!("{}.", words::capital(&show.sentence(&r.choice)))));
    blocks.push(Block::Paragraph(saving(r, show)));
    blocks.extend(need);
    blocks.push(Block::Caution(
        "Confirm on site first. Change one thing at a time, write down the old value, watch the most remote load, and go back if anyone complains. \
         Local codes and the judgement of licensed practice come before this advice."
            .to_owned(),
    ));
    let said = |t: &String| words::capital(&words::sentence(&show.sentence(t)));
    let items = |list: &[String]| list.iter().map(said).collect::<Vec<_>>();
    if !r.steps.is_empty() {
        blocks.push(Block::List { label: Some("Steps"), ordered: true, items: items(&r.steps) });
    }
    if !r.limits.is_empty() {
        blocks.push(Block::List { label: Some("What sets its limits"), ordered: false, items: items(&r.limits) });
    }
    if !r.alternatives.is_empty() {
        blocks.push(Block::Table(alternatives(r, show)));
    }
    blocks
}

fn saving(r: &Recommendation, show: &Show) -> String {
    let share = format!(
        "{} ({} to {}) of what the pumps would use in the same hours on today's setting",
        show.percent(r.saving_fraction.estimate),
        show.percent(r.saving_fraction.low),
        show.percent(r.saving_fraction.high)
    );
    let period = format!("On this record it would have saved {}; that is {share}.", priced(r.saving_kwh, show));
    match r.saving_kwh_per_year {
        Some(year) => format!("{period} Over a year it would save {}.", priced(year, show)),
        None => format!("{period} This period cannot speak for a year."),
    }
}

fn alternatives(r: &Recommendation, show: &Show) -> Table {
    let rows = r
        .alternatives
        .iter()
        .map(|a| {
            let set: Vec<String> = settings(&r.current, &a.control, show)
                .into_iter()
                .filter(|s| s.key != "mode" && !s.proposed.is_empty() && s.proposed != s.present)
                .map(|s| format!("{} {}", s.label, s.proposed))
                .collect();
            vec![
                kind_of_control(&a.control),
                set.join("; "),
                format!(
                    "{} ({} to {})",
                    show.percent(a.saving_fraction.estimate),
                    show.percent(a.saving_fraction.low),
                    show.percent(a.saving_fraction.high)
                ),
            ]
        })
        .collect();
    Table::new("Other settings that would have been enough.", &["Control mode", "Set", "#Would save"], rows)
}

fn kind_of_control(c: &Control) -> String {
    let mode = c.mode.map_or("as it is", ControlMode::word);
    let resets = c.reset.is_some_and(|r| r != Reset::None);
    if resets { format!("{mode}, moved by the widest valve") } else { mode.to_owned() }
}

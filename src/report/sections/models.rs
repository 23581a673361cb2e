//! What the pump models rest on.

use super::positions;
use crate::{
    pipeline::Review,
    report::{document::Block, figures::Figure, models, show::Show},
};

/// The figure that stands with what the models were checked against.
const HOUR_FIGURE: &str = "one-hour";

pub fn blocks(review: &Review, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks = positions(figures, |id| id == HOUR_FIGURE);
    blocks.extend(models::blocks(review, show));
    blocks
}

/// What pumps without a table showed while their flow was metered.
pub fn learned(review: &Review, show: &Show) -> Vec<Block> {
    let each = review.learned_tables.iter().flat_map(|t| {
        let error = |of: &str, e: f64| e.is_finite().then(|| format!("{of} to {}", show.percent(e)));
        let errors: Vec<String> =
            [error("head", t.head_error), error("power", t.power_error)].into_iter().flatten().collect();
        let text = format!(
            "{} has no pump table in the plant file. It was learned from {} steady metered rows on {} days, and foretells {} on days that were held out; flow worked out with it there lies within {} of the largest flow (one standard deviation). The meter's own constant error comes on top, and is counted in every interval. Outside the flows that were seen nothing is said.",
            t.pump,
            t.rows,
            t.days,
            errors.join(" and "),
            show.percent(t.flow_error)
        );
        let paste = format!("Pasted into the plant file below {}'s [[pump]], it serves periods without a meter as well:", t.pump);
        [Block::Paragraph(text), Block::Paragraph(paste), Block::Verbatim(t.toml.clone())]
    });
    each.collect()
}

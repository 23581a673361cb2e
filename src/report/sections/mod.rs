//! The report's sections after the first screen: the evidence a finding at a time, what to set, the plant's picture, what could not be told
//! and what to trend next, then how it was worked out, the cautions and what the data were.
//!
//! A section without anything to say is left out. Start at [`all`].

mod data;
mod findings;
mod method;
mod models;
mod not_told;
mod picture;
mod proposal;

use super::{
    document::{Block, Section},
    figures::Figure,
    months,
    show::Show,
    summary::Summary,
};
use crate::pipeline::Review;

/// All sections, in the order in which a reader needs them.
pub fn all(review: &Review, summary: &Summary, show: &Show, figures: &[Figure]) -> Vec<Section> {
    let section = |id, title, blocks| Section { id, title, blocks };
    let sections = [
        section("findings", "What was found", findings::blocks(review, summary, show, figures)),
        section(
            "months",
            "Against earlier reviews",
            months::blocks(summary, review.from_ms, review.to_ms, show, figures),
        ),
        section("settings", "What to set", proposal::blocks(review, show, figures)),
        section("picture", "The plant in pictures", picture::blocks(review, show, figures)),
        section("not-judged", "What could not be told", not_told::open(summary, show)),
        section("next-point", "The point to trend next", not_told::next(summary, show)),
        section("clear", "What was looked for and not seen", not_told::clear(summary, show)),
        section("method", "How it was worked out", method::method(show)),
        section("limits", "How far to trust it", method::limits(show)),
        section("cautions", "Before anything is changed", method::cautions(review, show)),
        section("pump-models", "What the pump models were checked against", models::blocks(review, show, figures)),
        section("learned-curves", "Curves learned from a meter", models::learned(review, show)),
        section("assumptions", "What was assumed, and what was doubtful", data::assumptions(review, show)),
        section("data", "What the data were", data::ledger(review, show)),
    ];
    sections.into_iter().filter(|s| !s.blocks.is_empty()).collect()
}

/// The figures that are wanted, each as a block, in the document's order.
fn positions(figures: &[Figure], wanted: impl Fn(&str) -> bool) -> Vec<Block> {
    figures.iter().enumerate().filter(|(_, f)| wanted(&f.id)).map(|(i, _)| Block::Figure(i)).collect()
}

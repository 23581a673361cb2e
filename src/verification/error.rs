//! Why a change could not be verified.

use super::Changed;
use crate::ingest::Clock;
use crate::plant::Plant;
use crate::verify::found::NotFound;
use crate::verify::{Refusal, Setting};

/// A change that could not be verified. Times are the plant's own.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum VerifyError {
    #[error(
        "{plant}: the trends hold no readings\nhint: offcurve review shows what became of every cell of the exports"
    )]
    NoRow { plant: String },
    #[error(
        "--changed: {at} lies outside the record, which runs from {from} to {to}\nhint: give a time inside it, or add exports on both sides of the change under [trends].files"
    )]
    Outside { at: String, from: String, to: String },
    #[error(
        "{option}: {what}\nhint: {option} FROM..TO with both ends on the same side of the change, such as {example}"
    )]
    Period { option: &'static str, what: String, example: String },
    #[error(
        "the change was not found in the record: {why}\nhint: say when it was made: --changed \"2026-02-11 19:00\""
    )]
    NotFound { why: NotFound },
    #[error(
        "nothing is known in which a change of setting would show: neither head nor speed over flow, nor differential pressure\nhint: say when the change was made: --changed \"2026-02-11 19:00\""
    )]
    NoRelation,
    #[error(
        "no whole day of the record lies {side} the change at {at}; the record runs from {from} to {to}\nhint: add exports with at least {least} whole days {side} it under [trends].files, or correct --changed"
    )]
    NothingOn { side: &'static str, at: String, from: String, to: String, least: usize },
    #[error(
        "{plant}: the pumps' energy is not known at any time of the record\nhint: trend pump-power, pump-energy or total-power; without a power meter, declare a [[pump.curve]] with power, and trend pump-speed with pump-head or pump-flow"
    )]
    NoEnergy { plant: String },
}

/// A time as people of the plant read it.
pub(super) fn local(plant: &Plant, ms: i64) -> String {
    plant.local(ms).format("%Y-%m-%d %H:%M").to_string()
}

/// Turns a refusal into an error where there is nothing to report; else it is a result that says what is missing.
pub(super) fn refuse(plant: &Plant, clock: Clock, changed: &Changed, refusal: &Refusal) -> Result<(), VerifyError> {
    match refusal {
        Refusal::NoEnergy => Err(VerifyError::NoEnergy { plant: plant.name.clone() }),
        Refusal::TooFewDays { setting, days: 0, least, .. } => Err(VerifyError::NothingOn {
            side: if *setting == Setting::Old { "before" } else { "after" },
            at: local(plant, changed.at_ms),
            from: local(plant, clock.at_ms(0)),
            to: local(plant, clock.at_ms(clock.len)),
            least: *least,
        }),
        _ => Ok(()),
    }
}

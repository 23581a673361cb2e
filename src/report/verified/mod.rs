//! The memo of a verified change: what was changed, what it saved, how sure that is, and what got worse.
//!
//! Comes in: a [`Verification`]. Goes out: a [`Document`], `verification.json`, the days behind the saving as a table, and a notebook that adds them up again. It
//! judges nothing. Start at [`document`].

mod headline;
pub mod json;
pub mod notebook;
mod sections;
pub mod table;
mod told;

use super::{document::Document, figures, show::Show};
use crate::verification::Verification;

/// The memo.
pub fn document(v: &Verification, show: &Show) -> Document {
    let figures = figures::of_verification(v, show);
    Document { headline: headline::headline(v, show), sections: sections::all(v, show, &figures), figures }
}

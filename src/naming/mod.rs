//! What a trended point probably is, from its name: role, owner, unit, each with how sure and why.
//!
//! Comes in: all points of a file as [`Seen`]: name, unit text, a few statistics. Goes out: a [`Proposal`] for each.
//! The decision to question: rules, not a learned model. A rule can say its reason in a sentence, and a name in none of
//! the known styles gets no role instead of the nearest. A wrong role costs more than none. Starts at [`propose`]: words
//! (`tokens`, `lexicon`, `cut`, `words`), what only says where a point is (`places`), the senses of short words
//! (`senses`), what puts a role out (`refusals`), the rules (`rules`), a second reading where they find nothing (`guess`),
//! unit and values (`evidence`), the other names (`neighbours`). It reads no cells and touches no files.

mod concepts;
mod cut;
mod draft;
mod evidence;
mod forms;
mod guess;
mod lexicon;
mod neighbours;
mod owner;
mod places;
mod refusals;
mod rules;
mod rules_coil;
mod rules_loop;
mod rules_pump;
mod senses;
mod senses_letters;
mod senses_tags;
mod senses_words;
mod subjects;
mod tokens;
mod words;
mod words_quantities;

pub use draft::{plant_file, plant_file_of};
pub use evidence::from_values as unit_from_values;
pub use tokens::{Token, tokens};

use crate::plant::Role;

/// What a file shows of one point.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    pub name: &'a str,
    pub unit: Option<&'a str>,
    /// Of valid readings, in the unit shown; NaN where there are none.
    pub low: f64,
    pub mean: f64,
    pub high: f64,
    /// Different readings, counted up to 1000.
    pub distinct: usize,
    /// File or sheet name and what else the file tells.
    pub context: &'a str,
    /// The cells were words such as On and Off.
    pub states: bool,
}

/// What a point hangs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OfKind {
    Pump,
    Coil,
    Source,
    Loop,
}

impl OfKind {
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pump => "pump",
            Self::Coil => "coil",
            Self::Source => "source",
            Self::Loop => "loop",
        }
    }
}

/// Where a unit was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitFrom {
    Header,
    Name,
    Values,
}

impl UnitFrom {
    /// As the contract's `unit_from`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Header => "header",
            Self::Name => "name",
            Self::Values => "values",
        }
    }
}

/// What is proposed for a point.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    pub role: Option<Role>,
    /// The equipment's label as in the name, "P-1", "AHU-4".
    pub of: Option<String>,
    pub of_kind: Option<OfKind>,
    /// Share of such proposals whose role is right; 0 where there is none.
    pub confidence: f64,
    /// A spelling that plant files read.
    pub unit: Option<String>,
    pub unit_from: Option<UnitFrom>,
    /// The reason, as a sentence.
    pub why: String,
}

/// From here on a plant file takes the role without asking.
pub const SURE: f64 = 0.8;

/// A proposal for each point of a file, in order.
#[must_use]
pub fn propose(seen: &[Seen<'_>]) -> Vec<Proposal> {
    let read: Vec<subjects::Name> = seen.iter().map(subjects::Name::read).collect();
    let mut found: Vec<Proposal> = read.iter().zip(seen).map(|(name, seen)| rules::judge(name, seen)).collect();
    neighbours::help(&read, seen, &mut found);
    found
}

//! What we say: one tree of headings, sentences, tables and figures, the same for page and Markdown.
//!
//! All text in it is plain (no markup), in the reader's units; escaping is the renderers' business.

use super::{figures::Figure, headline, sections, show::Show, summary::Summary};
use crate::pipeline::Review;

/// The whole report.
#[derive(Debug, Clone)]
pub struct Document {
    pub headline: Headline,
    pub sections: Vec<Section>,
    pub figures: Vec<Figure>,
}

/// The first screen, a memo. It is read in the order of the fields.
#[derive(Debug, Clone)]
pub struct Headline {
    pub title: String,
    /// Site, period, energy.
    pub about: Vec<String>,
    /// The state of the plant, or of the change, in one sentence.
    pub state: String,
    /// What to do, in order; never empty, since doing nothing is an answer too.
    pub actions: Vec<Action>,
    /// What it is worth, how sure, and whatever else the first screen answers.
    pub answers: Vec<Answer>,
    /// What changed since the last review, where there was one.
    pub since_last: Option<String>,
}

/// One thing to do.
#[derive(Debug, Clone)]
pub struct Action {
    pub what: String,
    /// Whose work it usually is.
    pub who: String,
    /// Id of the heading or section with its evidence.
    pub see: Option<String>,
}

/// One question that the first screen answers.
#[derive(Debug, Clone)]
pub struct Answer {
    pub label: &'static str,
    pub text: String,
    /// A short table after the sentences.
    pub table: Option<Table>,
}

/// A part of the report with a heading.
#[derive(Debug, Clone)]
pub struct Section {
    pub id: &'static str,
    pub title: &'static str,
    pub blocks: Vec<Block>,
}

/// A piece of a section.
#[derive(Debug, Clone)]
pub enum Block {
    /// A heading below the section's own; `tags` are short words beside it.
    Heading {
        /// What a link into the report names; unique in it.
        id: Option<String>,
        text: String,
        tags: Vec<String>,
    },
    Paragraph(String),
    /// A paragraph that starts with a word or two of what it is about.
    Labelled {
        label: &'static str,
        text: String,
    },
    /// A warning that stands beside the advice it belongs to.
    Caution(String),
    List {
        label: Option<&'static str>,
        ordered: bool,
        items: Vec<String>,
    },
    Table(Table),
    /// Lines to copy as they stand.
    Verbatim(String),
    /// Which of the document's figures stands here.
    Figure(usize),
    /// Something for those who want it, folded away on the page.
    Folded {
        summary: String,
        blocks: Vec<Block>,
    },
}

/// A table with a heading row.
#[derive(Debug, Clone)]
pub struct Table {
    pub caption: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<String>>,
}

/// A table's column.
#[derive(Debug, Clone)]
pub struct Column {
    pub title: &'static str,
    /// Numbers stand right.
    pub number: bool,
}

impl Answer {
    pub fn new(label: &'static str, text: impl Into<String>) -> Self {
        Self { label, text: text.into(), table: None }
    }
}

impl Table {
    /// With columns of text, and of numbers where the title starts with `#`.
    pub fn new(caption: impl Into<String>, titles: &[&'static str], rows: Vec<Vec<String>>) -> Self {
        let column = |t: &&'static str| match t.strip_prefix('#') {
            Some(title) => Column { title, number: true },
            None => Column { title: t, number: false },
        };
        Self { caption: caption.into(), columns: titles.iter().map(column).collect(), rows }
    }
}

impl Document {
    /// Of a review and its summary.
    pub fn new(review: &Review, summary: &Summary, show: &Show, figures: Vec<Figure>) -> Self {
        Self {
            headline: headline::headline(review, summary, show),
            sections: sections::all(review, summary, show, &figures),
            figures,
        }
    }
}

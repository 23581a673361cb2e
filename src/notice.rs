//! A value together with what was doubtful on the way to it.
//!
//! Stages do not print: they return notices, and the report says them. A notice is a plain sentence for a person who
//! does not program, with the numbers and units in it.

/// One thing a reader of the result should know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Which stage says it ("ingest", "operating", ...).
    pub stage: &'static str,
    /// The sentence.
    pub text: String,
}

impl Notice {
    /// A notice of a stage.
    pub fn new(stage: &'static str, text: impl Into<String>) -> Self {
        Self { stage, text: text.into() }
    }
}

/// A value and the notices that came up while it was made.
#[derive(Debug, Clone)]
pub struct Noticed<T> {
    /// The value.
    pub value: T,
    /// What was doubtful.
    pub notices: Vec<Notice>,
}

//! What is wrong with a plant file, all of it at once.

use std::fmt;
use std::path::PathBuf;

/// One thing wrong: where, what was found, the rule it met, and something to paste.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlantError {
    /// The plant file, as it was given.
    pub file: PathBuf,
    /// Line, from 1; `None` where the file as a whole is meant.
    pub line: Option<usize>,
    /// What stands there.
    pub found: String,
    /// The rule it met.
    pub rule: String,
    /// Something to paste.
    pub hint: String,
}

impl fmt::Display for PlantError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file.display())?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        write!(f, ": {}: {}\nhint: {}", self.found, self.rule, self.hint)
    }
}

/// Errors shown at once; a file with more of them is most likely not a plant file.
const MOST_SHOWN: usize = 20;

/// Everything wrong with a plant file, in the order of its lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlantErrors {
    /// Never empty.
    pub errors: Vec<PlantError>,
}

impl fmt::Display for PlantErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, error) in self.errors.iter().take(MOST_SHOWN).enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{error}")?;
        }
        match self.errors.len().saturating_sub(MOST_SHOWN) {
            0 => Ok(()),
            more => write!(f, "\nand {more} more; check that this is the plant file"),
        }
    }
}

impl std::error::Error for PlantErrors {}

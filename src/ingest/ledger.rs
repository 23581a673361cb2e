//! One file's account while it is read: every cell is used, missing or refused for a named reason.

use super::{FileLedger, Refusal};

/// Distinct refusals kept a file; the rest share one line, so that a damaged file cannot fill the report.
const MOST_REFUSALS: usize = 200;

/// Reasons, as they stand in the ledger.
pub(super) mod reason {
    pub const UNCLAIMED: &str = "no [[point]] claims it";
    pub const IGNORED: &str = "ignored by the plant file";
    pub const REPEATED: &str = "the name stands twice in the header";
    pub const BAD_WORD: &str = "a word for a bad reading";
    pub const BAD_STATUS: &str = "its status says that it is no reading";
    pub const SENTINEL: &str = "a number that stands for no reading";
    pub const NOT_A_NUMBER: &str = "not a number or a known word";
    pub const WRONG_UNIT: &str = "a unit that its point cannot have";
    pub const NO_TIME: &str = "the time of its row cannot be read";
    pub const SKIPPED: &str = "the time does not exist: the clocks skip it in spring";
    pub const NO_DAY: &str = "the calendar has no such day";
    pub const CUT: &str = "the file ends in the middle of its line";
    pub const TOO_MANY: &str = "its line has more cells than the header";
    pub const SAME: &str = "the same time twice with the same value";
    pub const OTHER: &str = "the same time twice with another value, the last one is used";
    pub const OUTSIDE: &str = "outside the period asked for";
    pub const STRAY: &str = "its time stands more than a year apart from the bulk of the record";
    pub const NAMELESS: &str = "its column has no name";
    pub const REST: &str = "refused for many further reasons";
}

/// An account being kept.
#[derive(Debug, Default)]
pub(super) struct Account {
    pub file: FileLedger,
}

impl Account {
    /// Counts cells that are refused for a reason; the first names line and example.
    pub fn refuse(&mut self, reason: &str, count: u64, line: u64, example: &str) {
        self.add(reason, count, line, example, |r| r.reason == reason);
    }

    /// The same, one entry for each subject (a column, a point's name).
    pub fn refuse_each(&mut self, reason: &str, count: u64, line: u64, subject: &str) {
        self.add(reason, count, line, subject, |r| r.reason == reason && r.example == subject);
    }

    fn add(&mut self, reason: &str, count: u64, line: u64, example: &str, same: impl Fn(&Refusal) -> bool) {
        if count == 0 {
            return;
        }
        let full = self.file.refused.len() >= MOST_REFUSALS;
        let known = self.file.refused.iter_mut().find(|r| same(r) || (full && r.reason == reason::REST));
        match known {
            Some(r) => {
                r.count += count;
                if line < r.first_line {
                    r.first_line = line;
                }
            }
            None => {
                let reason = if full { reason::REST } else { reason };
                self.file.refused.push(Refusal {
                    reason: reason.to_string(),
                    count,
                    first_line: line,
                    example: example.chars().take(80).collect(),
                });
            }
        }
    }

    /// What follows in the same file; its refusals are one a reason.
    pub fn absorb(&mut self, next: Self) {
        self.file.rows += next.file.rows;
        self.file.cells += next.file.cells;
        self.file.used += next.file.used;
        self.file.missing += next.file.missing;
        for r in next.file.refused {
            self.refuse(&r.reason, r.count, r.first_line, &r.example);
        }
    }

    /// A cell counted as used turns out not to be.
    pub fn take_back(&mut self, reason: &str, line: u64, example: &str) {
        self.file.used -= 1;
        self.refuse(reason, 1, line, example);
    }
}

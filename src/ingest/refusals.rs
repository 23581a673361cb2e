//! What is said of cells that were left out.

use super::gathering::Gathering;
use super::ledger::reason;

impl Gathering<'_> {
    pub(super) fn say_refusals(&mut self) {
        let said = [reason::BAD_WORD, reason::NOT_A_NUMBER, reason::IGNORED, reason::OUTSIDE, reason::UNCLAIMED];
        let mut sentences = Vec::new();
        for file in self.accounts.iter().map(|a| &a.file) {
            for r in file.refused.iter().filter(|r| !said.contains(&r.reason.as_str())) {
                sentences.push(format!(
                    "{}: {} left out: {} (first in line {}: {})",
                    file.path,
                    if r.count == 1 { "1 cell was".to_owned() } else { format!("{} cells were", r.count) },
                    r.reason,
                    r.first_line,
                    r.example
                ));
                if r.reason == reason::SKIPPED {
                    sentences.push(format!(
                        "{}: a logger that keeps standard time all year has such times; then set timezone under [trends] to a zone without clock change",
                        file.path
                    ));
                }
            }
            let unclaimed: Vec<String> = file
                .refused
                .iter()
                .filter(|r| r.reason == reason::UNCLAIMED)
                .map(|r| format!("\"{}\"", r.example))
                .collect();
            if !unclaimed.is_empty() {
                let more = if unclaimed.len() > 8 { ", …" } else { "" };
                let shown = unclaimed.iter().take(8).cloned().collect::<Vec<_>>().join(", ");
                sentences.push(format!(
                    "{}: {} claimed by no [[point]]: {shown}{more}",
                    file.path,
                    if unclaimed.len() == 1 {
                        "1 name is".to_owned()
                    } else {
                        format!("{} names are", unclaimed.len())
                    }
                ));
            }
        }
        sentences.into_iter().for_each(|s| self.say(s));
    }
}

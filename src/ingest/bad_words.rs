//! What is said of cells that hold no reading.

/// Words of one text that are no readings, the same word of several points said once.
#[derive(Default)]
pub(super) struct BadWords(Vec<BadWord>);

struct BadWord {
    word: String,
    /// Every bad cell says this word.
    only: bool,
    cells: u64,
    points: usize,
    /// The first point that holds it, and the line.
    first: (String, u64),
}

impl BadWords {
    /// Cells of a point, the first of them in a line.
    pub fn meet(&mut self, word: &str, only: bool, (cells, name, line): (u64, &str, u64)) {
        match self.0.iter_mut().find(|w| w.word == word && w.only == only) {
            Some(known) => {
                known.cells += cells;
                known.points += 1;
                if line < known.first.1 {
                    known.first = (name.to_owned(), line);
                }
            }
            None => {
                let first = (name.to_owned(), line);
                self.0.push(BadWord { word: word.to_owned(), only, cells, points: 1, first });
            }
        }
    }

    /// One for each word, the path in front.
    pub fn sentences(self, path: &str) -> Vec<String> {
        let said = |w: BadWord| {
            let (name, line) = w.first;
            let verb = match (w.cells, w.only) {
                (1, _) => "says",
                (_, true) => "say",
                _ => "hold no reading, the first of them",
            };
            let cells = if w.cells == 1 { "cell" } else { "cells" };
            let (whose, where_) = match w.points {
                1 => (format!("\"{name}\""), format!("first in line {line}")),
                points => (format!("{points} points"), format!("first \"{name}\" in line {line}")),
            };
            format!("{path}: {} {cells} of {whose} {verb} \"{}\" ({where_}); treated as missing", w.cells, w.word)
        };
        self.0.into_iter().map(said).collect()
    }
}

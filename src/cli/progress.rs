//! A line on the terminal while long files are read; nothing where stderr is no terminal, or asked to be quiet.

use crate::ingest::progress::so_far;
use std::io::{self, IsTerminal, Write};
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

/// What is over sooner needs no line.
const PATIENCE: Duration = Duration::from_secs(1);
const EACH: Duration = Duration::from_millis(250);
/// Longest line [characters]: narrow terminals would wrap more, and a wrapped line cannot be written over.
const WIDTH: usize = 70;

/// Does something, with the line beside it.
pub fn beside<T>(quiet: bool, work: impl FnOnce() -> T) -> T {
    let _line = (!quiet && io::stderr().is_terminal()).then(Line::start);
    work()
}

/// Gone, with its thread, when it falls out of scope.
struct Line(Option<(Sender<()>, JoinHandle<()>)>);

impl Line {
    fn start() -> Self {
        let (stop, stopped) = mpsc::channel::<()>();
        let draw = move || {
            let mut wait = PATIENCE;
            let mut drawn = false;
            while stopped.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                if let Some((file, bytes)) = so_far() {
                    let _ = write!(io::stderr().lock(), "\r\u{1b}[2K{}", said(&file, bytes));
                    drawn = true;
                }
                wait = EACH;
            }
            if drawn {
                let _ = write!(io::stderr().lock(), "\r\u{1b}[2K");
            }
        };
        Self(std::thread::Builder::new().name("progress".to_owned()).spawn(draw).ok().map(|t| (stop, t)))
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        if let Some((stop, thread)) = self.0.take() {
            drop(stop);
            let _ = thread.join();
        }
    }
}

/// "reading trends/north.csv, 312 MB": the path's end where it is long.
fn said(file: &str, bytes: u64) -> String {
    let size = format!(", {} MB", bytes / 1_000_000);
    let room = WIDTH - "reading ...".len() - size.len();
    let clean: Vec<char> = file.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    let cut = clean.len().saturating_sub(room);
    let shown: String = clean[cut..].iter().collect();
    format!("reading {}{shown}{size}", if cut > 0 { "..." } else { "" })
}

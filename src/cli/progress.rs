//! A line on the terminal while long files are read; nothing where stderr is no terminal, or asked to be quiet.

use crate::ingest::progress::so_far;
use crate::report::words;
use std::io::{self, IsTerminal, Write};
use std::sync::{
    Arc,
    atomic::{AtomicUsize, Ordering},
    mpsc::{self, RecvTimeoutError, Sender},
};
use std::thread::JoinHandle;
use std::time::Duration;

/// What is over sooner needs no line.
const PATIENCE: Duration = Duration::from_secs(1);
const EACH: Duration = Duration::from_millis(250);
/// Longest line [characters]: narrow terminals would wrap more, and a wrapped line cannot be written over.
const WIDTH: usize = 70;

/// Does something, with the line beside it.
pub fn beside<T>(quiet: bool, work: impl FnOnce() -> T) -> T {
    let _line = shown(quiet).then(|| Line::start(|| so_far().map(|(file, bytes)| said(&file, bytes))));
    work()
}

/// Does something to many plants, with a line that says how many are over; `done` is counted by the work.
pub fn counted<T>(quiet: bool, all: usize, done: &Arc<AtomicUsize>, work: impl FnOnce() -> T) -> T {
    let counted = Arc::clone(done);
    let said = move || Some(format!("{} of {} reviewed", counted.load(Ordering::Relaxed), words::count(all, "plant")));
    let _line = shown(quiet).then(|| Line::start(said));
    work()
}

fn shown(quiet: bool) -> bool {
    !quiet && io::stderr().is_terminal()
}

/// Gone, with its thread, when it falls out of scope.
struct Line(Option<(Sender<()>, JoinHandle<()>)>);

impl Line {
    fn start(text: impl Fn() -> Option<String> + Send + 'static) -> Self {
        let (stop, stopped) = mpsc::channel::<()>();
        let draw = move || {
            let mut wait = PATIENCE;
            let mut drawn = false;
            while stopped.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                if let Some(text) = text() {
                    let _ = write!(io::stderr().lock(), "\r\u{1b}[2K{text}");
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

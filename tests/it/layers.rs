//! The source tree read as text: who may use whom, who may touch files, print and serialise, and what a rule must have.
//!
//! A source file is stripped of comments and texts first (a link in a doc comment uses nothing). Failures name file and line.

use offcurve::faults::Fault;
use std::{
    collections::BTreeSet,
    fmt::Write as _,
    fs,
    path::{Path, PathBuf},
};

/// The stages in the order data flows: each may use those before it, never those after.
const ORDER: [&str; 18] = [
    "quantity",
    "notice",
    "plant",
    "naming",
    "ingest",
    "inspection",
    "screening",
    "operating",
    "regimes",
    "loop",
    "faults",
    "tuning",
    "verify",
    "pipeline",
    "verification",
    "fleet",
    "report",
    "cli",
];
/// Formulas from books come in from the side: this module uses `quantity` only ...
const BOOKS: &str = "hydraulics";
/// ... and only these use it.
const USE_BOOKS: [&str; 9] =
    ["plant", "operating", "regimes", "loop", "faults", "tuning", "verify", "verification", "report"];
/// The only files that touch files.
const OPENERS: [&str; 11] = [
    "plant/read.rs",
    "ingest/open.rs",
    "ingest/read.rs",
    "ingest/container.rs",
    "ingest/container/columnar.rs",
    "ingest/container/no_columnar.rs",
    "ingest/container/folder.rs",
    "ingest/container/source.rs",
    "fleet/find.rs",
    "report/write.rs",
    "report/inspected/save.rs",
];

/// What touches files, beside the paths below `fs`.
const FILE_CALLS: [&str; 12] = [
    "File::",
    "OpenOptions",
    ".exists()",
    ".try_exists()",
    ".is_file()",
    ".is_dir()",
    ".is_symlink()",
    ".metadata()",
    ".symlink_metadata()",
    ".read_dir()",
    ".read_link()",
    ".canonicalize()",
];
const PRINTS: [&str; 6] = ["println!", "print!", "eprintln!", "eprint!", "stdout()", "stderr()"];
const SERIALISES: [&str; 4] = ["serde", "serde_json", "Serialize", "Deserialize"];
/// A clock or a seed that is not ours: the same input would no longer give the same bytes.
const MOVES: [&str; 7] =
    ["SystemTime", "Instant::now", "Utc::now", "Local::now", "thread_rng", "from_entropy", "from_os_rng"];
const UNFINISHED: [&str; 3] = ["todo!", "unimplemented!", "dbg!"];

/// Headings of a rule's text, in this order.
const HEADINGS: [&str; 8] = [
    "What it finds",
    "Why it matters",
    "Needs",
    "Cannot tell when",
    "Limits",
    "Looks alike",
    "Check on site",
    "Source",
];

// ---- the tests ----

#[test]
fn data_flows_one_way() {
    let mut wrong = String::new();
    for file in sources() {
        let Some(from) = file.stage() else { continue };
        for (at, to) in file.uses() {
            if to != from && !may_use(from, &to) {
                let _ = writeln!(wrong, "{}: `{from}` uses `{to}`, which it may not", file.place(at));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn every_module_has_its_place() {
    let known: BTreeSet<&str> = ORDER.into_iter().chain([BOOKS]).collect();
    let missing: BTreeSet<String> =
        sources().iter().filter_map(|f| f.stage().map(str::to_owned)).filter(|s| !known.contains(s.as_str())).collect();
    assert!(missing.is_empty(), "not in the table of who may use whom (tests/it/layers.rs): {missing:?}");
}

/// `crate::` is the only way from one stage to another, so that the test above sees every one.
#[test]
fn no_module_climbs_out_of_its_stage() {
    let mut wrong = String::new();
    for file in sources() {
        let depth = file.depth();
        for at in file.finds("super") {
            if file.is_part_of_a_climb(at) {
                continue;
            }
            if depth == 0 || file.climb(at) >= depth {
                let _ = writeln!(wrong, "{}: `super` leaves the stage: write `crate::` instead", file.place(at));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn main_only_calls_the_command_line() {
    let main = sources().into_iter().find(|f| f.name == "main.rs").expect("the package has a main.rs");
    for (at, to) in main.paths_after("offcurve::") {
        assert!(to == "cli", "{}: main uses `{to}`", main.place(at));
    }
}

#[test]
fn only_openers_touch_files() {
    let outside = |f: &Source| !OPENERS.contains(&f.name.as_str());
    forbid(outside, "touches files", |f| {
        let below_fs = f.finds("fs").into_iter().filter(|&at| f.is_path_segment(at));
        below_fs.chain(f.find_all(&FILE_CALLS)).collect()
    });
}

#[test]
fn only_the_command_line_prints() {
    let outside = |f: &Source| f.name != "main.rs" && f.stage() != Some("cli");
    forbid(outside, "prints", |f| f.find_all(&PRINTS));
}

#[test]
fn only_the_report_serialises() {
    forbid(|f| f.stage() != Some("report"), "serialises", |f| f.find_all(&SERIALISES));
}

#[test]
fn no_clock_and_no_chance_below_the_command_line() {
    let below = |f: &Source| f.name != "main.rs" && f.stage() != Some("cli");
    forbid(below, "reads a clock or draws without a seed", |f| f.find_all(&MOVES));
}

#[test]
fn nothing_is_left_unfinished() {
    forbid(|_| true, "is unfinished", |f| f.find_all(&UNFINISHED));
}

#[test]
fn no_test_is_ignored() {
    let mut wrong = String::new();
    for file in read_below("tests") {
        for at in file.finds("ignore").into_iter().filter(|&at| file.is_attribute(at)) {
            let _ = writeln!(wrong, "{}: a test is ignored", file.place(at));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn every_rule_has_its_text() {
    let folder = root().join("src/faults/rules");
    let mut wrong = String::new();
    let rules = rules(&folder);
    assert!(!rules.is_empty(), "{}: no rule", folder.display());
    for rule in &rules {
        if !Fault::ALL.iter().any(|f| f.code() == rule.replace('_', "-")) {
            let _ = writeln!(wrong, "src/faults/rules/{rule}.rs: its name is no fault's code");
        }
        let text = folder.join(format!("{rule}.md"));
        match fs::read_to_string(&text) {
            Err(_) => _ = writeln!(wrong, "src/faults/rules/{rule}.rs: has no {rule}.md beside it"),
            Ok(text) => wrong.extend(wrong_headings(&text).map(|w| format!("src/faults/rules/{rule}.md{w}\n"))),
        }
    }
    for text in stems(&folder, "md") {
        if !rules.contains(&text) {
            let _ = writeln!(wrong, "src/faults/rules/{text}.md: has no {text}.rs beside it");
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// The reader of sources must see what it is meant to see, or every test above passes for nothing.
#[test]
fn the_reader_sees() {
    let text = "//! [`a`](crate::cli::Args)\nuse crate::{\n    plant::{Plant, Role},\n    r#loop as l, // crate::cli\n};\n\
                fn f<'a>(x: &'a str) { crate::report::g(\"crate::cli \\\" //\", '\"', r#\"println!\"#); println!() }\n";
    let file = Source::new("src", "operating/model.rs", text);
    let uses: Vec<(usize, String)> = file.uses().into_iter().map(|(at, to)| (file.line(at), to)).collect();
    assert_eq!(uses, [(3, "plant".to_owned()), (4, "loop".to_owned()), (6, "report".to_owned())]);
    assert_eq!(file.find_all(&PRINTS).len(), 1, "one print outside texts; `eprintln!` and `println!` are told apart");
    assert!(may_use("operating", "plant") && may_use("tuning", "hydraulics") && may_use("hydraulics", "quantity"));
    assert!(!may_use("operating", "loop") && !may_use("ingest", "hydraulics") && !may_use("hydraulics", "notice"));
    assert!(!may_use("cli", "unheard_of"));

    let files = Source::new(
        "src",
        "report/html.rs",
        "use std::{\n    fs::{self},\n    io,\n};\nfn f(p: P) { p.exists(); offs::x(); }",
    );
    let below_fs: Vec<usize> = files.finds("fs").into_iter().filter(|&at| files.is_path_segment(at)).collect();
    assert_eq!(below_fs.iter().map(|&at| files.line(at)).collect::<Vec<_>>(), [2]);
    assert_eq!(files.find_all(&FILE_CALLS).len(), 1);

    let deep = Source::new("src", "faults/rules/a.rs", "use super::super::Case;\nuse super::super::super::plant;");
    let climbs: Vec<usize> =
        deep.finds("super").into_iter().filter(|&at| !deep.is_part_of_a_climb(at)).map(|at| deep.climb(at)).collect();
    assert_eq!((deep.depth(), climbs), (3, vec![2, 3]));

    let whole: String = HEADINGS.iter().map(|h| format!("## {h}\ntext\n\n")).collect();
    assert_eq!(wrong_headings(&whole), None);
    assert!(wrong_headings(&whole.replace("## Needs\ntext\n", "")).is_some());
    assert!(wrong_headings(&whole.replace("## Needs\ntext\n", "## Needs\n\n")).is_some());
}

// ---- what is allowed ----

fn may_use(from: &str, to: &str) -> bool {
    let rank = |stage: &str| ORDER.iter().position(|s| *s == stage);
    match (rank(from), rank(to)) {
        (Some(from), Some(to)) => to < from,
        (Some(_), None) => to == BOOKS && USE_BOOKS.contains(&from),
        _ => from == BOOKS && to == "quantity",
    }
}

fn forbid(where_: impl Fn(&Source) -> bool, what: &str, find: impl Fn(&Source) -> Vec<usize>) {
    let mut wrong = String::new();
    for file in sources().iter().filter(|f| where_(f)) {
        for at in find(file) {
            let _ = writeln!(wrong, "{}: {what}: {}", file.place(at), file.line_text(at));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// The first thing wrong with a rule's headings, as the end of a message.
fn wrong_headings(text: &str) -> Option<String> {
    let headings: Vec<(usize, &str)> =
        text.lines().enumerate().filter_map(|(i, l)| Some((i + 1, l.strip_prefix("## ")?.trim()))).collect();
    for (i, wanted) in HEADINGS.iter().enumerate() {
        match headings.get(i) {
            Some((_, found)) if found == wanted => {}
            Some((line, found)) => return Some(format!(":{line}: heading \"{found}\" where \"{wanted}\" belongs")),
            None => return Some(format!(": the heading \"{wanted}\" is missing")),
        }
    }
    if let Some((line, found)) = headings.get(HEADINGS.len()) {
        return Some(format!(":{line}: heading \"{found}\" is one too many"));
    }
    let lines: Vec<&str> = text.lines().collect();
    headings
        .iter()
        .find(|(line, _)| !says_something(&lines[*line..]))
        .map(|(line, h)| format!(":{line}: nothing under \"{h}\""))
}

/// Whether any text stands before the next heading.
fn says_something(below: &[&str]) -> bool {
    below.iter().take_while(|l| !l.starts_with('#')).any(|l| !l.trim().is_empty())
}

// ---- the sources ----

/// A source file: as written, and with comments and texts blanked, line breaks kept.
struct Source {
    /// The folder it was read from, for messages.
    below: &'static str,
    /// Path below the folder it was read from, with forward slashes.
    name: String,
    text: String,
    code: String,
}

impl Source {
    fn new(below: &'static str, name: &str, text: &str) -> Self {
        Self { below, name: name.to_owned(), text: text.to_owned(), code: code_only(text) }
    }
    /// The stage it belongs to; none for `lib.rs` and `main.rs`.
    fn stage(&self) -> Option<&str> {
        let first = self.name.split('/').next().unwrap_or_default().trim_end_matches(".rs");
        (!["lib", "main"].contains(&first)).then_some(first)
    }
    /// Steps from the crate's root to the module.
    fn depth(&self) -> usize {
        let steps = self.name.split('/').count();
        if self.name.ends_with("mod.rs") || self.stage().is_none() { steps - 1 } else { steps }
    }
    fn line(&self, at: usize) -> usize {
        1 + self.code[..at].matches('\n').count()
    }
    fn line_text(&self, at: usize) -> &str {
        self.text.lines().nth(self.line(at) - 1).unwrap_or_default().trim()
    }
    fn place(&self, at: usize) -> String {
        format!("{}/{}:{}", self.below, self.name, self.line(at))
    }

    /// Where a name or call stands in the code, not as part of a longer name.
    fn finds(&self, what: &str) -> Vec<usize> {
        let is_name = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
        let (open, close) = (what.starts_with(char::is_alphanumeric), what.ends_with(char::is_alphanumeric));
        let goes_on = |at: usize| {
            (open && is_name(self.code[..at].chars().next_back()))
                || (close && is_name(self.code[at + what.len()..].chars().next()))
        };
        self.code.match_indices(what).map(|(at, _)| at).filter(|&at| !goes_on(at)).collect()
    }
    fn find_all(&self, what: &[&str]) -> Vec<usize> {
        what.iter().flat_map(|w| self.finds(w)).collect()
    }

    /// Other stages named in the code: `crate::x`, `crate::{x::.., y}`.
    fn uses(&self) -> Vec<(usize, String)> {
        self.paths_after("crate::")
    }
    fn paths_after(&self, root: &str) -> Vec<(usize, String)> {
        self.finds(root).into_iter().flat_map(|at| first_segments(&self.code, at + root.len())).collect()
    }
    /// Whether the name at `at` is a step of a path: `x::name`, `name::x`, or inside the braces of `use x::{..}`.
    fn is_path_segment(&self, at: usize) -> bool {
        let before = self.code[..at].trim_end();
        let after = self.code[at..].trim_start_matches(|c: char| c.is_alphanumeric() || c == '_').trim_start();
        let statement = before.rfind(';').map_or(before, |end| &before[end..]);
        before.ends_with("::") || after.starts_with("::") || (statement.contains("use ") && statement.contains("::{"))
    }
    fn is_part_of_a_climb(&self, at: usize) -> bool {
        self.code[..at].ends_with("super::")
    }
    /// How many `super`s follow one another from `at`.
    fn climb(&self, at: usize) -> usize {
        let mut rest = &self.code[at..];
        let mut steps = 0;
        while let Some(after) = rest.strip_prefix("super") {
            steps += 1;
            rest = after.strip_prefix("::").unwrap_or_default();
        }
        steps
    }
    fn is_attribute(&self, at: usize) -> bool {
        let before = self.code[..at].trim_end();
        before.ends_with("#[") || before.rfind("#[").is_some_and(|open| !before[open..].contains(']'))
    }
}

/// First steps of the path, or of the paths in braces, that start at `at`.
fn first_segments(code: &str, at: usize) -> Vec<(usize, String)> {
    let step = |at: usize| {
        let skipped = code[at..].len() - code[at..].trim_start().len();
        let at = at + skipped;
        let rest = code[at..].strip_prefix("r#").unwrap_or(&code[at..]);
        let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
        (at, rest[..end].to_owned())
    };
    if !code[at..].trim_start().starts_with('{') {
        return vec![step(at)];
    }
    let open = at + code[at..].find('{').expect("it starts with one");
    let (mut depth, mut found) = (0, Vec::new());
    for (i, c) in code[open..].char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            break;
        }
        if depth == 1 && (c == '{' || c == ',') {
            found.push(step(open + i + 1));
        }
    }
    found.retain(|(_, name)| !name.is_empty());
    found
}

/// The text with comments, texts and characters blanked; every byte keeps its place.
fn code_only(text: &str) -> String {
    let bytes = text.as_bytes();
    let mut code = bytes.to_vec();
    let mut i = 0;
    while i < bytes.len() {
        let end = match &bytes[i..] {
            [b'/', b'/', ..] => i + text[i..].find('\n').unwrap_or(text.len() - i),
            [b'/', b'*', ..] => end_of_block(bytes, i),
            [b'r', b'"' | b'#', ..] if !is_inside_name(bytes, i) => end_of_raw(text, i),
            [b'"', ..] => end_of_quoted(bytes, i, b'"'),
            [b'\'', b'\\', ..] => end_of_quoted(bytes, i, b'\''),
            [b'\'', ..] => end_of_character(text, i),
            _ => i,
        };
        for byte in &mut code[i..end] {
            if *byte != b'\n' {
                *byte = b' ';
            }
        }
        i = end.max(i + 1);
    }
    String::from_utf8(code).expect("whole characters are blanked")
}

fn is_inside_name(bytes: &[u8], at: usize) -> bool {
    // `br"..."` is a text too.
    let before = if at > 0 && bytes[at - 1] == b'b' { at - 1 } else { at };
    before > 0 && (bytes[before - 1].is_ascii_alphanumeric() || bytes[before - 1] == b'_')
}
fn end_of_block(bytes: &[u8], at: usize) -> usize {
    let (mut depth, mut i) = (0, at);
    while i < bytes.len() {
        match &bytes[i..] {
            [b'/', b'*', ..] => (depth, i) = (depth + 1, i + 2),
            [b'*', b'/', ..] => (depth, i) = (depth - 1, i + 2),
            _ => i += 1,
        }
        if depth == 0 {
            break;
        }
    }
    i.min(bytes.len())
}
/// End of `r"..."` or `r#"..."#`; `at` itself for a name like `r#loop`.
fn end_of_raw(text: &str, at: usize) -> usize {
    let hashes = text[at + 1..].bytes().take_while(|b| *b == b'#').count();
    let open = at + 1 + hashes;
    if text.as_bytes().get(open) != Some(&b'"') {
        return at;
    }
    let close = format!("\"{}", "#".repeat(hashes));
    text[open + 1..].find(&close).map_or(text.len(), |i| open + 1 + i + close.len())
}
fn end_of_quoted(bytes: &[u8], at: usize, quote: u8) -> usize {
    let mut i = at + 1;
    while i < bytes.len() && bytes[i] != quote {
        i += if bytes[i] == b'\\' { 2 } else { 1 };
    }
    (i + 1).min(bytes.len())
}
/// End of `'x'`; `at` itself for a lifetime.
fn end_of_character(text: &str, at: usize) -> usize {
    let mut rest = text[at + 1..].char_indices();
    match (rest.next(), rest.next()) {
        (Some(_), Some((i, '\''))) => at + 1 + i + 1,
        _ => at,
    }
}

// ---- the tree ----

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn sources() -> Vec<Source> {
    read_below("src")
}

/// Every Rust file below a folder, sorted by name.
fn read_below(below: &'static str) -> Vec<Source> {
    let folder = root().join(below);
    let mut found = Vec::new();
    gather(&folder, below, "", &mut found);
    found.sort_by(|a, b| a.name.cmp(&b.name));
    assert!(!found.is_empty(), "{}: no source", folder.display());
    found
}

fn gather(folder: &Path, below: &'static str, prefix: &str, found: &mut Vec<Source>) {
    for entry in fs::read_dir(folder).expect("the folder of a source tree can be listed") {
        let path = entry.expect("its entries can be read").path();
        let name = format!("{prefix}{}", path.file_name().expect("an entry has a name").to_string_lossy());
        if path.is_dir() {
            gather(&path, below, &format!("{name}/"), found);
        } else if name.ends_with(".rs") {
            let text = fs::read_to_string(&path).expect("a source is readable text");
            found.push(Source::new(below, &name, &text));
        }
    }
}

/// Names of the rules: every Rust file of the folder but `mod.rs`.
fn rules(folder: &Path) -> BTreeSet<String> {
    let mut rules = stems(folder, "rs");
    rules.remove("mod");
    rules
}

fn stems(folder: &Path, ending: &str) -> BTreeSet<String> {
    let listed = fs::read_dir(folder).expect("the rules' folder can be listed");
    let paths = listed.map(|e| e.expect("its entries can be read").path());
    let ours = paths.filter(|p| p.extension().is_some_and(|e| e == ending));
    ours.map(|p| p.file_stem().expect("a file with an ending has a stem").to_string_lossy().into_owned()).collect()
}

//! Exports that are made to harm, or are being made while they are read (`tests/exports/README.md`, "Made at test time").
//!
//! The program runs on its own, so that its memory can be held to [`MOST_MEMORY`]; one sound file lies beside each.

use flate2::{Compress, Compression, Crc, FlushCompress};
use serde_json::Value;
use std::fs::{self, File};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output};

/// What the program may set aside [KiB], stacks and libraries included.
const MOST_MEMORY: u32 = 3 << 20;

/// Plain rows of two points, five minutes apart.
fn plain(rows: usize) -> String {
    let row =
        |i: usize| format!("2026-03-{:02} {:02}:{:02},{}.5,{}\n", 1 + i / 288, i / 12 % 24, i % 12 * 5, i % 80, i % 7);
    format!("Time,P1 Speed,P1 Power\n{}", (0..rows).map(row).collect::<String>())
}

fn inspect(dir: &Path, names: &[&str]) -> Output {
    let program = env!("CARGO_BIN_EXE_offcurve");
    let limited = format!("ulimit -v {MOST_MEMORY}; exec \"$0\" \"$@\"");
    let mut command = if cfg!(target_os = "linux") {
        let mut command = Command::new("sh");
        command.args(["-c", &limited, program]);
        command
    } else {
        Command::new(program)
    };
    command.args(["inspect", "--format", "json", "--timezone", "UTC", "--jobs", "2"]).args(names);
    command.current_dir(dir).output().expect("the program starts")
}

/// A file alone ends with 2 and says why; beside a sound one it is named, and the sound one is read.
fn check(dir: &Path, name: &str, words: &[&str]) {
    let alone = inspect(dir, &[name]);
    let said = String::from_utf8_lossy(&alone.stderr).into_owned();
    assert_eq!(alone.status.code(), Some(2), "{name}: {said}");
    for word in words.iter().chain(&[name, "hint: "]) {
        assert!(said.contains(word), "no \"{word}\" in: {said}");
    }
    fs::write(dir.join("sound.csv"), plain(300)).expect("a sound file");
    let both = inspect(dir, &[name, "sound.csv"]);
    let said = String::from_utf8_lossy(&both.stderr).into_owned();
    assert_eq!(both.status.code(), Some(0), "{name}: {said}");
    assert!(said.contains(name) && said.contains(words[0]), "{said}");
    assert_eq!(samples(&both, "P1 Speed"), 300, "{name}");
}

fn samples(output: &Output, point: &str) -> u64 {
    let found: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let all = found["points"].as_array().expect("points");
    all.iter().find(|p| p["name"] == point).and_then(|p| p["samples"].as_u64()).expect("the point")
}

/// 10 GB of one text over and over, deflated, and its checksum: one block that refers to nothing before it, many times.
fn ten_gigabytes(of: &[u8]) -> (Vec<u8>, Crc, u64) {
    let block = of.repeat((16 << 20) / of.len());
    let mut pack = Compress::new(Compression::best(), false);
    let mut once = Vec::with_capacity(1 << 20);
    pack.compress_vec(&block, &mut once, FlushCompress::Full).expect("deflate");
    assert_eq!((pack.total_in(), once.len() < once.capacity()), (block.len() as u64, true));
    let (mut all, mut sum, mut of_one) = (Vec::new(), Crc::new(), Crc::new());
    of_one.update(&block);
    let times = 10_000_000_000 / block.len();
    for _ in 0..times {
        all.extend_from_slice(&once);
        sum.combine(&of_one);
    }
    all.extend_from_slice(&[3, 0]);
    (all, sum, (times * block.len()) as u64)
}

/// A zip of one member; sizes beyond 4 GiB stand in the extra field.
fn zip(name: &str, packed: &[u8], sum: &Crc, size: u64) -> Vec<u8> {
    let extra = [&[1, 0, 16, 0][..], &size.to_le_bytes(), &(packed.len() as u64).to_le_bytes()].concat();
    let mut about = vec![45, 0, 0, 0, 8, 0, 0, 0, 0, 0];
    about.extend(sum.sum().to_le_bytes());
    about.extend([0xFF; 8]);
    about.extend((name.len() as u16).to_le_bytes());
    about.extend((extra.len() as u16).to_le_bytes());
    let mut out = [b"PK\x03\x04", &about[..], name.as_bytes(), &extra, packed].concat();
    let at = out.len() as u32;
    out.extend([b"PK\x01\x02\x2D\0", &about[..], &[0; 14], name.as_bytes(), &extra].concat());
    let len = out.len() as u32 - at;
    out.extend(b"PK\x05\x06\0\0\0\0\x01\0\x01\0");
    out.extend([len.to_le_bytes(), at.to_le_bytes()].concat());
    out.extend([0, 0]);
    out
}

#[test]
fn a_line_of_5_mb_is_told_by_its_line() {
    let scratch = crate::scratch::folder();
    let text = plain(10) + &"x".repeat(5_000_000);
    fs::write(scratch.path().join("line.csv"), text).expect("a file");
    check(scratch.path(), "line.csv", &["line 12: longer than the limit of 1048576 bytes"]);
}

#[test]
fn a_hundred_thousand_columns_are_refused() {
    let scratch = crate::scratch::folder();
    let row = |first: &str, cell: &dyn Fn(usize) -> String| {
        format!("{first},{}\n", (0..100_000).map(cell).collect::<Vec<_>>().join(","))
    };
    let rows = (0..3).map(|i| row(&format!("2026-03-01 00:0{i}"), &|k| (k % 10).to_string()));
    let text = row("Time", &|k| format!("P{k}")) + &rows.collect::<String>();
    fs::write(scratch.path().join("columns.csv"), text).expect("a file");
    check(scratch.path(), "columns.csv", &["line 1: 100001 columns, more than the limit of 50000"]);
}

/// Names of forty thousand columns above thirty thousand rows of one reading: 1 MB that stands for more than a thousand million cells.
#[test]
fn a_wide_header_above_short_rows_is_no_table() {
    let scratch = crate::scratch::folder();
    let names: String = (0..40_000).fold(String::from("Time"), |text, k| text + &format!(",P{k}"));
    let row = |i: usize| format!("2026-03-{:02} {:02}:{:02},1\n", 1 + i / 1440, i / 60 % 24, i % 60);
    fs::write(scratch.path().join("short.csv"), (0..30_000).fold(names + "\n", |text, i| text + &row(i)))
        .expect("a file");
    check(scratch.path(), "short.csv", &["short.csv: line ", "far fewer cells than the header names columns"]);
}

#[test]
fn ten_gigabytes_in_ten_megabytes_are_not_unpacked() {
    let scratch = crate::scratch::folder();
    let dir = scratch.path();
    let (packed, sum, size) = ten_gigabytes(b"x");
    assert!(packed.len() < 12_000_000, "{}", packed.len());
    fs::write(dir.join("bomb.zip"), zip("bomb.csv", &packed, &sum, size)).expect("a zip");
    check(dir, "bomb.zip", &["bomb.zip/bomb.csv: line 1: longer than the limit of 1048576 bytes"]);
    // The declared size is not what protects: here it is small.
    fs::write(dir.join("liar.zip"), zip("bomb.csv", &packed, &sum, 100)).expect("a zip");
    check(dir, "liar.zip", &["liar.zip/bomb.csv: "]);
    let (packed, sum, size) = ten_gigabytes(b"0");
    let gzip = [b"\x1F\x8B\x08\0\0\0\0\0\0\xFF", &packed[..], &sum.sum().to_le_bytes(), &(size as u32).to_le_bytes()];
    fs::write(dir.join("bomb.csv.gz"), gzip.concat()).expect("a gzip");
    check(dir, "bomb.csv.gz", &["bomb.csv.gz: line 1: longer than the limit of 1048576 bytes"]);
    // Packed once more, a million to one: refused before there is a line to tell.
    let mut twice = flate2::write::GzEncoder::new(Vec::new(), Compression::best());
    twice.write_all(&gzip.concat()).expect("to memory");
    fs::write(dir.join("twice.csv.gz"), twice.finish().expect("to memory")).expect("a gzip");
    check(dir, "twice.csv.gz", &["twice.csv.gz: "]);
}

#[test]
fn forty_gigabytes_of_nothing_are_not_read() {
    let scratch = crate::scratch::folder();
    File::create(scratch.path().join("sparse.csv")).and_then(|f| f.set_len(40 << 30)).expect("a sparse file");
    check(scratch.path(), "sparse.csv", &["line 1: a byte of value 0"]);
    // The same behind sound rows, and behind the start of an archive.
    let mut rows = File::create(scratch.path().join("rows.csv")).expect("a file");
    rows.write_all(plain(300).as_bytes()).and_then(|()| rows.set_len(40 << 30)).expect("a sparse file");
    check(scratch.path(), "rows.csv", &["line 302: a byte of value 0"]);
    for (name, start) in
        [("archive.zip", &b"PK\x03\x04"[..]), ("table.parquet", b"PAR1"), ("packed.gz", b"\x1F\x8B\x08\0")]
    {
        let mut file = File::create(scratch.path().join(name)).expect("a file");
        file.write_all(start).and_then(|()| file.set_len(40 << 30)).expect("a sparse file");
        check(scratch.path(), name, &[name]);
    }
}

#[test]
fn a_folder_without_files_and_a_file_that_is_not_there() {
    let scratch = crate::scratch::folder();
    fs::create_dir(scratch.path().join("trend.csv")).expect("a folder");
    check(scratch.path(), "trend.csv", &["trend.csv: the folder holds no files"]);
    check(scratch.path(), "none.csv", &["none.csv: could not be read: there is no such file"]);
}

#[test]
fn a_file_that_grows_is_read_as_far_as_it_was_there() {
    let scratch = crate::scratch::folder();
    let dir = scratch.path();
    let whole = plain(288 * 28);
    let (there, later) = whole.split_at(plain(300).len());
    fs::write(dir.join("growing.csv"), there).expect("a file");
    let done = std::sync::atomic::AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut file = File::options().append(true).open(dir.join("growing.csv")).expect("the file");
            for row in later.split_inclusive('\n') {
                if done.load(std::sync::atomic::Ordering::Relaxed) {
                    break;
                }
                file.write_all(row.as_bytes()).expect("a row");
            }
        });
        for _ in 0..3 {
            let output = inspect(dir, &["growing.csv"]);
            assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
            assert!(samples(&output, "P1 Speed") >= 300 && samples(&output, "P1 Power") >= 300);
        }
        done.store(true, std::sync::atomic::Ordering::Relaxed);
    });
}

/// A hundred million readings in 200 MB of text: what the export is shows in its first part, and a table of a part is none.
#[test]
fn of_more_than_a_look_takes_the_start_is_looked_at() {
    let scratch = crate::scratch::folder();
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), Compression::fast());
    let names: String = (0..3000).fold(String::from("Time"), |text, k| text + &format!(",P{k}"));
    writeln!(packed, "{names}").expect("to memory");
    let cells = ",1".repeat(3000);
    for i in 0..34_000 {
        writeln!(packed, "2026-03-{:02} {:02}:{:02}{cells}", 1 + i / 1440, i / 60 % 24, i % 60).expect("to memory");
    }
    fs::write(scratch.path().join("long.csv.gz"), packed.finish().expect("to memory")).expect("a gzip");
    let looked = inspect(scratch.path(), &["long.csv.gz"]);
    assert!(looked.status.success(), "{}", String::from_utf8_lossy(&looked.stderr));
    let found: Value = serde_json::from_slice(&looked.stdout).expect("JSON");
    let notices = found["files"][0]["notices"].to_string();
    assert!(notices.contains("only the lines up to 2"), "{notices}");
    let samples = found["points"][2999]["samples"].as_u64().expect("a count");
    assert!((26_000..34_000).contains(&samples), "{samples}");
    let table = inspect(scratch.path(), &["long.csv.gz", "--table", "all.parquet"]);
    let said = String::from_utf8_lossy(&table.stderr).into_owned();
    assert!(table.status.code() == Some(2) && said.contains("the table would not be whole"), "{said}");
    assert!(!scratch.path().join("all.parquet").exists());
}

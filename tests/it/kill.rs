//! Killing a run at any moment leaves the old result or the new one, whole.
//!
//! The run that is killed is this test program itself, told to run one test in a scratch folder: the folder's content
//! tells that test what to do, so that no environment variable and no hidden option is needed.

use crate::{fixture, runs};
use offcurve::{plant::UnitSystem, report};
use std::{
    fs,
    path::Path,
    process::{Command, Stdio},
    thread::sleep,
    time::{Duration, Instant},
};

/// A folder with this file in it asks for reviews to be written there until the process is killed.
const MARKER: &str = "write-here-until-killed";

#[test]
fn writes_where_it_runs() {
    let here = std::env::current_dir().expect("a working folder");
    if !here.join(MARKER).exists() {
        let dir = crate::scratch::folder();
        write_generation(dir.path(), 1);
        assert_eq!(generation(dir.path()), Some(1));
        return;
    }
    for n in generation(&here).unwrap_or(0) + 1.. {
        write_generation(&here, n);
    }
}

/// Generation `n` has `n` in its energy, in its page and in its table, so that a mixture shows.
fn write_generation(out: &Path, n: u32) {
    let mut review = fixture::review();
    review.energy_kwh = f64::from(n);
    review.plant.system.name = Some(format!("Loop {n}."));
    for p in &mut review.points.pumps {
        p.power_kw.fill(f64::from(n));
    }
    report::write(&review, out, UnitSystem::Si).expect("a scratch folder can be written");
}

/// Which generation lies there; `None` before the first. Panics if it is not whole.
fn generation(out: &Path) -> Option<u32> {
    let folder = out.join("harbour-hall/2026-03-01_2026-03-10");
    if !folder.exists() {
        return None;
    }
    let read = |name: &str| fs::read_to_string(folder.join(name)).unwrap_or_else(|e| panic!("{name} is missing: {e}"));
    let json: serde_json::Value = serde_json::from_str(&read("findings.json")).expect("findings.json is whole");
    let n = json["energy_kwh"].as_f64().expect("a number") as u32;
    for (name, end) in [("report.html", "</html>\n"), ("report.md", "\n"), ("review.ipynb", "}\n")] {
        let text = read(name);
        assert!(text.ends_with(end), "{name} is cut short");
        assert!(text.contains(&format!("Loop {n}.")), "{name} is of another generation than {n}");
    }
    assert!(read("figures/head-over-flow.svg").ends_with("</svg>\n"));
    let file = fs::File::open(folder.join("operating-points.parquet")).expect("parquet");
    let reader =
        parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder::try_new(file).expect("parquet is whole");
    let batch = reader.build().expect("parquet").next().expect("rows").expect("parquet is whole");
    let power = arrow::array::AsArray::as_primitive::<arrow::datatypes::Float64Type>(batch.column(9)).value(0);
    assert_eq!(power, f64::from(n), "the table is of another generation");
    Some(n)
}

#[test]
fn a_kill_at_any_moment_leaves_a_whole_result() {
    let dir = crate::scratch::folder();
    fs::write(dir.path().join(MARKER), "").expect("write");
    let program = std::env::current_exe().expect("this program");
    let mut last = 0;
    let mut seen = 0;
    for round in 0..40u64 {
        let mut child = Command::new(&program)
            .args(["--exact", "kill::writes_where_it_runs", "--test-threads", "1"])
            .current_dir(dir.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("this program starts");
        // Spread over several times what one writing takes, in steps that do not divide it.
        sleep(Duration::from_millis(40 + (round * 37) % 260));
        child.kill().expect("kill");
        child.wait().expect("wait");
        let found = generation(dir.path());
        assert!(found.is_some() || last == 0, "round {round}: the result is gone");
        if let Some(n) = found {
            assert!(n >= last, "generation {n} after {last}");
            seen += usize::from(n > last);
            last = n;
        }
    }
    // The test means nothing unless writing went on between kills.
    assert!(seen >= 10, "only {seen} new generations");
    mended(dir.path(), last);
}

/// The next run takes away what the killed ones left.
fn mended(out: &Path, last: u32) {
    let start = Instant::now();
    write_generation(out, last + 1);
    assert!(start.elapsed() < Duration::from_secs(20), "a dead run's lock holds no other up");
    assert_eq!(generation(out), Some(last + 1));
    let left: Vec<_> = fs::read_dir(out.join("harbour-hall"))
        .expect("folder")
        .map(|e| e.expect("entry").file_name())
        .filter(|n| n != ".lock" && n != ".plant-file" && n != "2026-03-01_2026-03-10")
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

/// The built program, killed while it reviews the sample that is built in, over a result that stands. The two unit systems
/// take turns, so that old and new are known apart by every byte.
#[test]
fn a_killed_program_leaves_the_old_report_or_the_new_one() {
    // A slow machine ends earlier, once kills have fallen everywhere.
    const ROUNDS: u32 = 30;
    const ENOUGH: (u32, Duration) = (12, Duration::from_secs(15));
    let begun = Instant::now();
    let dir = crate::scratch::folder();
    let plant = dir.path().join("out/quay-house");
    let start = |units: &str| {
        let mut command = runs::program(dir.path());
        command.args(["--quiet", "--out", "out", "--units", units]).stdout(Stdio::null()).stderr(Stdio::null());
        command.spawn().expect("the program starts")
    };
    let whole = |units: &str| {
        let begun = Instant::now();
        assert!(start(units).wait().expect("wait").success());
        (begun.elapsed(), runs::tree(&only_result(&plant)))
    };
    let (_, ip) = whole("IP");
    let (takes, si) = whole("SI");
    assert!(ip != si, "the two must be told apart");
    let (mut old, mut new) = (0, 0);
    let mut stands = &si;
    for round in 0..ROUNDS {
        let (units, next) = if stands == &si { ("IP", &ip) } else { ("SI", &si) };
        let mut child = start(units);
        // 7 has no factor in common with 30: the kills fall all over the run, every second one late, where files are written.
        let share = f64::from(round * 7 % ROUNDS) / f64::from(ROUNDS);
        let until = Instant::now() + takes.mul_f64(if round % 2 == 0 { share } else { 0.8 + 0.6 * share });
        while Instant::now() < until && child.try_wait().expect("wait").is_none() {
            sleep(Duration::from_millis(1));
        }
        child.kill().expect("kill");
        child.wait().expect("wait");
        let found = runs::tree(&only_result(&plant));
        assert!(&found == stands || &found == next, "round {round}: neither the old result nor the new one");
        if &found == next {
            (stands, new) = (next, new + 1);
        } else {
            old += 1;
        }
        if round >= ENOUGH.0 && begun.elapsed() > ENOUGH.1 {
            break;
        }
    }
    assert!(old >= 1 && new >= 1, "{old} old, {new} new: kills must fall before and after the end");
    assert_eq!(whole("SI").1, si);
    let hidden: Vec<_> = names(&plant).into_iter().filter(|n| n.starts_with('.') && n != ".lock").collect();
    assert!(hidden.is_empty(), "left behind: {hidden:?}");
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    entries.map(|e| e.expect("entry").file_name().into_string().expect("a name")).collect()
}

/// The one result of a plant.
fn only_result(plant: &Path) -> std::path::PathBuf {
    let results: Vec<String> = names(plant).into_iter().filter(|n| !n.starts_with('.')).collect();
    assert_eq!(results.len(), 1, "{results:?}");
    plant.join(&results[0])
}

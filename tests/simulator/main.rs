//! Writes the sample plants: `cargo run --release --example make-samples`, or compares them with `-- --check`.

#[path = "mod.rs"]
mod simulator;

use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let check = std::env::args().any(|a| a == "--check");
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-trends");
    let mut differing = 0;
    for (folder, ..) in simulator::SAMPLES {
        for (path, bytes) in simulator::sample_files(folder) {
            let place = root.join(&path);
            if check {
                if std::fs::read(&place).ok().as_deref() != Some(bytes.as_slice()) {
                    eprintln!("{path}: differs from what the simulator makes");
                    differing += 1;
                }
            } else if let Err(e) = write(&place, &bytes) {
                eprintln!("{path}: not written: {e}");
                return ExitCode::from(2);
            } else {
                println!("{path}: {} bytes", bytes.len());
            }
        }
    }
    if differing > 0 { ExitCode::from(1) } else { ExitCode::SUCCESS }
}

fn write(place: &Path, bytes: &[u8]) -> std::io::Result<()> {
    if let Some(folder) = place.parent() {
        std::fs::create_dir_all(folder)?;
    }
    std::fs::write(place, bytes)
}

//! What can be typed.

use crate::{faults::Urgency, plant::UnitSystem};
use clap::{Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use std::path::PathBuf;

/// Finds hydronic pumps that run off their control curve, says why, and says what to set instead.
///
/// Without a command it reviews the sample plant that is built in, and says where the report is.
#[derive(Debug, Parser)]
#[command(name = "offcurve", version, args_conflicts_with_subcommands = true, after_help = EXAMPLE)]
pub struct Args {
    #[command(subcommand)]
    pub command: Option<Command>,
    #[command(flatten)]
    pub options: ReviewOptions,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Reads exports of any shape and says what was understood: files, points, likely roles and units
    #[command(after_help = INSPECT_EXAMPLE)]
    Inspect {
        /// Files, folders or archives
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        #[command(flatten)]
        options: InspectOptions,
    },
    /// Reads a plant's trends, judges its pumps and writes the report
    #[command(after_help = REVIEW_EXAMPLE)]
    Review {
        /// The plant file (`offcurve explain plant-file` prints one to start from)
        plant: PathBuf,
        #[command(flatten)]
        options: ReviewOptions,
    },
    /// Says what a change of setting saved, at the same weather and load, whether it took, and what got worse
    #[command(after_help = VERIFY_EXAMPLE)]
    Verify {
        /// The plant file; its trends reach over both sides of the change
        plant: PathBuf,
        #[command(flatten)]
        options: VerifyOptions,
    },
    /// Reviews every plant file below a folder, and ranks the plants by money on one page
    #[command(after_help = FLEET_EXAMPLE)]
    Fleet {
        /// The folder; folders below it are looked into, hidden ones and the results are not
        #[arg(value_name = "DIR")]
        folder: PathBuf,
        #[command(flatten)]
        options: ReviewOptions,
    },
    /// Says how a fault is judged (what it looks at, equation, limits, source), or how flow is found without a meter
    #[command(after_help = EXPLAIN_EXAMPLE)]
    Explain {
        /// A fault's code, `faults`, `operating-points` or `plant-file`; without it, the list
        topic: Option<String>,
    },
    /// Prints what a shell needs to complete commands and options
    #[command(after_help = COMPLETIONS_EXAMPLE)]
    Completions {
        /// The shell
        shell: Shell,
    },
    /// Prints the manual page
    #[command(after_help = MAN_EXAMPLE)]
    Man,
}

/// Shown below `--help`; all examples run as they stand in the folder of this repository, and a test runs them.
const EXAMPLE: &str = "\
Example: a month of the sample plant that is built in.

  offcurve --month 2025-10";

/// Shown below `inspect --help`.
const INSPECT_EXAMPLE: &str = "\
Example: look at a folder of exports, and start a plant file from them.

  offcurve inspect sample-trends/quay-house/trends --timezone Europe/Lisbon --write plant.toml";

/// Shown below `review --help`.
const REVIEW_EXAMPLE: &str = "\
Example: a month of a sample plant; with --gate a schedule learns by the exit status that something is urgent.

  offcurve review sample-trends/quay-house/plant.toml --month 2025-10";

/// Shown below `verify --help`.
const VERIFY_EXAMPLE: &str = "\
Example: the drive's settings were written anew on 20 October at two in the afternoon.

  offcurve verify sample-trends/quay-house/plant.toml --changed \"2025-10-20 14:00\"

Without --changed the time comes from [[control_history]] in the plant file (several entries: both settings in \
turn), or else the step is looked for in the record. The earlier setting under [[control_history]] also lets it \
say whether the points moved to the new curve.";

/// Shown below `fleet --help`.
const FLEET_EXAMPLE: &str = "\
Example: every plant below a folder; the page is notebooks-out/fleet/fleet.html.

  offcurve fleet sample-trends

A plant that cannot be reviewed is named with the reason, and stops none of the others.";

/// Shown below `explain --help`.
const EXPLAIN_EXAMPLE: &str = "\
Example: how a setpoint is judged too high.

  offcurve explain setpoint-too-high";

/// Shown below `completions --help`.
const COMPLETIONS_EXAMPLE: &str = "\
Example: for bash; the README says where each shell looks for them.

  offcurve completions bash > offcurve.bash";

/// Shown below `man --help`.
const MAN_EXAMPLE: &str = "\
Example: write the page, to be put where `man` looks for it or read with `man ./offcurve.1`.

  offcurve man > offcurve.1";

/// What every command that reads trends can be told.
#[derive(Debug, Clone, clap::Args)]
pub struct Running {
    /// What is printed: a summary, or the result as JSON
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Print no messages, and no summary
    #[arg(long)]
    pub quiet: bool,
    /// How many threads to use, in place of one for each processor
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub jobs: Option<u16>,
}

/// Where a result goes, and how it reads.
#[derive(Debug, Clone, clap::Args)]
pub struct Writing {
    /// Folder that the results are written into
    #[arg(long, value_name = "DIR", default_value = "notebooks-out")]
    pub out: PathBuf,
    /// Units of report and summary, in place of the plant file's
    #[arg(long, value_enum, ignore_case = true)]
    pub units: Option<Units>,
}

/// What an inspection can be told.
#[derive(Debug, Clone, clap::Args)]
pub struct InspectOptions {
    /// Takes time zone, order of dates, units and roles from a plant file
    #[arg(long, value_name = "PLANT.toml")]
    pub plant: Option<PathBuf>,
    /// Writes the samples as recorded, cleaned, as a table
    #[arg(long, value_name = "FILE.parquet")]
    pub table: Option<PathBuf>,
    /// Starts a plant file
    #[arg(long, value_name = "plant.toml")]
    pub write: Option<PathBuf>,
    /// The clock that local times in the exports are written in: Europe/Lisbon
    #[arg(long, value_name = "ZONE")]
    pub timezone: Option<String>,
    /// Whether the day stands before the month, where the dates do not say
    #[arg(long, value_name = "true|false")]
    pub day_first: Option<bool>,
    #[command(flatten)]
    pub running: Running,
}

/// What a verification can be told.
#[derive(Debug, Clone, clap::Args)]
pub struct VerifyOptions {
    /// When the setting was changed, local to the plant: 2026-02-11 or "2026-02-11 19:00"
    #[arg(long, value_name = "TIME")]
    pub changed: Option<String>,
    /// The period with the old setting, a date at its end included: 2025-11-01..2026-02-10
    #[arg(long, value_name = "FROM..TO")]
    pub before: Option<String>,
    /// The period with the new setting, a date at its end included
    #[arg(long, value_name = "FROM..TO")]
    pub after: Option<String>,
    #[command(flatten)]
    pub writing: Writing,
    #[command(flatten)]
    pub running: Running,
}

/// What a review can be told, of one plant or of many.
#[derive(Debug, Clone, clap::Args)]
pub struct ReviewOptions {
    /// Start of the period, local to the plant: 2026-03-01 or "2026-03-01 06:00"
    #[arg(long, value_name = "TIME", conflicts_with = "month")]
    pub from: Option<String>,
    /// End of the period, local to the plant; a date given here is included
    #[arg(long, value_name = "TIME", conflicts_with = "month")]
    pub to: Option<String>,
    /// A whole month instead: 2026-03
    #[arg(long, value_name = "YEAR-MONTH")]
    pub month: Option<String>,
    #[command(flatten)]
    pub writing: Writing,
    #[command(flatten)]
    pub running: Running,
    /// End with status 1 if any finding is this urgent or more
    #[arg(long, value_enum, value_name = "URGENCY")]
    pub gate: Option<Gate>,
}

/// What people read.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Units {
    #[value(name = "SI")]
    Si,
    #[value(name = "IP")]
    Ip,
}

impl From<Units> for UnitSystem {
    fn from(units: Units) -> Self {
        match units {
            Units::Si => UnitSystem::Si,
            Units::Ip => UnitSystem::Ip,
        }
    }
}

/// What is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    Text,
    Json,
}

/// The least urgency that trips the gate.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Gate {
    Act,
    Plan,
    Watch,
}

impl From<Gate> for Urgency {
    fn from(gate: Gate) -> Self {
        match gate {
            Gate::Act => Urgency::Act,
            Gate::Plan => Urgency::Plan,
            Gate::Watch => Urgency::Watch,
        }
    }
}

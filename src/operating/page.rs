//! The page that explains this stage to an engineer, with its numbers taken from the stage itself.
//!
//! Comes in: nothing. Goes out: [`explanation`]: the text beside this file, with the tables of common errors and of noise filled in from
//! [`priors`], so that page and program cannot drift apart. They are shown for a plant that declares no accuracy.

use super::model::{Prior, error, witness as kind};
use super::noise::Noise;
use super::priors::{self, LossKind, Sizes};
use super::witness;
use crate::ingest::{Clock, Series};
use crate::plant::{self, Role};
use crate::screening::Screened;
use std::path::Path;

const TEXT: &str = include_str!("operating-points.md");

/// A plant that trends all there is and declares no accuracy: at the headers with a meter, or with a remote sensor and a heat balance.
const PLANT: &str = r#"
[site]
timezone = "UTC"
[loop]
service = "chilled-water"
design_flow = "100 m3/h"
design_head = "100 kPa"
[control]
mode = "remote-pressure"
setpoint = "50 kPa"
[[pump]]
name = "P-1"
motor_power = "100 kW"
motor_efficiency = 0.95
[[pump.curve]]
speed = "100 %"
flow = { unit = "m3/h", values = [0, 50, 100] }
head = { unit = "kPa", values = [120, 110, 80] }
[trends]
files = ["x.csv"]
[[point]]
name = "S"
role = "pump-speed"
of = "P-1"
unit = "%"
[[point]]
name = "P"
role = "pump-power"
of = "P-1"
unit = "kW"
[[point]]
name = "H"
role = "pump-head"
unit = "kPa"
[[point]]
name = "F"
role = "loop-flow"
unit = "m3/h"
[[point]]
name = "D"
role = "differential-pressure"
unit = "kPa"
"#;
/// Sizes of that plant, at which a share of them reads as per cent: design head [kPa], design flow [m3/h], rated power [kW], the table's last flow [m3/h].
const SIZE: f64 = 100.0;

/// The page, as Markdown.
#[must_use]
pub fn explanation() -> String {
    let Some((prior, hidden, handbook, noise)) = usual() else { return TEXT.to_owned() };
    TEXT.replace("{{common errors}}", common(&prior, &hidden, &handbook).trim_end())
        .replace("{{noise}}", noises(&noise).trim_end())
}

/// The prior with slip shown and losses of today, the same with slip hidden, with a handbook's losses; and the noise.
fn usual() -> Option<(Prior, Prior, Prior, Noise)> {
    let plant = plant::parse(PLANT, Path::new("plant.toml")).ok()?.value;
    let series = plant.points.iter().enumerate().map(|(point, p)| Series {
        name: p.name.clone(),
        role: p.role,
        of: p.of.clone(),
        point,
        unit: if p.role == Role::PumpSpeed { "fraction" } else { "kPa" },
        values: vec![0.5],
    });
    let clock = Clock { start_ms: 0, step_s: 900, len: 1 };
    let screened = Screened { clock, series: series.collect(), doubts: Vec::new(), as_read: Vec::new() };
    let pump = plant.pumps.first()?;
    let (w, sizes) = (witness::gather(&plant, &screened, pump), Sizes::of(&plant, pump));
    let prior = |hidden: bool, handbook: bool| {
        let kind = if handbook { LossKind::Handbook } else { LossKind::Drive };
        priors::prior(&w, &sizes, hidden, kind)
    };
    Some((prior(false, false), prior(true, false), prior(false, true), priors::noise(&w, &sizes)))
}

/// One row a common error: what it is, its standard deviation, and why so much.
fn common(prior: &Prior, hidden: &Prior, handbook: &Prior) -> String {
    let percent = |k: usize| per_cent(prior.sd(k));
    let four = |first: usize| (first..first + 4).map(percent).collect::<Vec<_>>().join(", ");
    let of_design_head = |kpa: f64| format!("{} of design head", per_cent(kpa / SIZE));
    let factor = |k: usize| format!("factor {:.2}", prior.sd(k).exp());
    let low = |p: &Prior| format!("{} ± {}", plain(p.low_load_mean), plain(p.low_load));
    let slip = |p: &Prior| format!("{} ± {}", per_cent(p.slip_mean), per_cent(p.slip));
    let rows: [(&str, String, &str); 21] = [
        (
            "head over its table: level, tilt, bend, ripple",
            four(error::HEAD_TABLE),
            "acceptance tests of such pumps allow some twice as much; wear lowers it",
        ),
        (
            "shaft power over its table: the same",
            four(error::POWER_TABLE),
            "acceptance tests allow more on power than on head",
        ),
        (
            "efficiency's fall with speed, of the published one",
            format!("100 % ± {}", percent(error::DRIFT)),
            "bearings add to it, rough casings show less",
        ),
        (
            "the same, of what it adds below the best efficiency",
            format!("{} ± {}", per_cent(prior.drift_low_mean), per_cent(prior.drift_low)),
            "near shut-off power is lost to recirculation, which knows no speed",
        ),
        ("head sensor: scale", percent(error::HEAD_GAIN), "transmitter with wiring and scaling"),
        (
            "head sensor: zero",
            of_design_head(prior.head_zero),
            "half a per cent of a span of one and a half design heads",
        ),
        ("power reading: scale", percent(error::POWER_GAIN), "drives report power no better"),
        (
            "loss without load, over the model's",
            factor(error::LOSS_CONSTANT),
            "drives shape flux and switching in their own way; handbooks differ by half",
        ),
        ("loss with load, over the model's", factor(error::LOSS_LOAD), "motors of one size differ"),
        (
            "loss without load, its fall with speed at standstill",
            factor(error::LOSS_SPEED),
            "iron loss on a drive depends on flux and switching",
        ),
        (
            "toward the handbooks at low load, motor of today",
            low(prior),
            "0: separated losses behind a drive; 1: the handbooks' tables",
        ),
        (
            "toward the handbooks at low load, handbook's motor",
            low(handbook),
            "US DOE 2014 is 1, WSEO 1993 about a half",
        ),
        ("slip not shown, speed is the shaft's", slip(prior), "share of the name plate's slip"),
        (
            "slip not shown, speed is the frequency's",
            slip(hidden),
            "name plates are rounded; slip follows the motor's temperature",
        ),
        (
            "loss between flanges and headers",
            format!("{} ± {}", per_cent(prior.header_mean), percent(error::HEADER)),
            "of shut-off head, at the table's last flow",
        ),
        ("flow meter: scale", percent(error::METER_GAIN), "in the field, straight runs wanting"),
        ("flow meter: zero", format!("{} of design flow", per_cent(prior.meter_zero / SIZE)), "it shows at low flow"),
        ("heat meter: scale", percent(error::HEAT_GAIN), "with its own flow meter"),
        ("heat balance: temperature pair", format!("{} K", plain(prior.heat_pair)), "two sensors that were not paired"),
        (
            "pipes to a remote sensor",
            format!("{} of design head, {}", per_cent(pipe_share(prior)), factor(error::PIPE)),
            "nobody declares them",
        ),
        (
            "remote sensor: scale, zero",
            format!("{}, {}", percent(error::REMOTE_GAIN), of_design_head(prior.remote_zero)),
            "as the head sensor",
        ),
    ];
    let mut out =
        String::from("| what is the same hour after hour | standard deviation | why so much |\n| --- | --- | --- |\n");
    for (what, sd, why) in rows {
        out.push_str(&format!("| {what} | {sd} | {why} |\n"));
    }
    out
}

/// Share of the design head that the pipes take at design flow, before the record.
fn pipe_share(prior: &Prior) -> f64 {
    prior.pipe_mean * SIZE.powi(2) / SIZE
}

fn noises(noise: &Noise) -> String {
    let names = [
        (kind::HEAD, "head", "design head"),
        (kind::POWER, "power", "rated power"),
        (kind::METER, "flow meter", "the table's last flow"),
        (kind::HEAT, "thermal load", "the table's last flow"),
        (kind::REMOTE, "remote pressure", "design head"),
    ];
    let mut out = String::from("| reading | share of itself | and of its size |\n| --- | --- | --- |\n");
    for (which, name, size) in names {
        let (share, absolute) = noise.of[which];
        out.push_str(&format!("| {name} | {} | {} of {size} |\n", per_cent(share), per_cent(absolute / SIZE)));
    }
    out.push_str(&format!("| temperature difference | | {} K |\n", plain(noise.delta_t)));
    out
}

fn per_cent(share: f64) -> String {
    format!("{} %", plain(100.0 * share))
}

/// A number without noughts at its end.
fn plain(v: f64) -> String {
    let text = format!("{v:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

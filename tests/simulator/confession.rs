//! The truth file: what was planted, what only looks like a fault, and what the plant file could not know.

use super::Truth;
use super::calendar::{Zone, utc_text};
use super::engine::World;
use super::export::list;

/// `truth.toml` of a run.
pub fn truth_toml(seed: u64, zone: Zone, world: &World, truth: &Truth) -> String {
    let mut out =
        format!("# What was planted in this sample. Read by the tests, never by the analyser.\nseed = {seed}\n\n");
    for p in &truth.planted {
        out += &format!(
            "[[planted]]\nfault = \"{}\"\nsubject = \"{}\"\nfirst_seen = \"{}\"\nfirst_seen_local = \"{}\"\n\
             last_seen = \"{}\"\nhours = {:.1}\nnote = \"{}\"\n\n",
            p.fault,
            p.subject,
            utc_text(p.first_seen_ms),
            zone.local(p.first_seen_ms).iso(),
            utc_text(p.last_seen_ms),
            p.hours,
            p.note
        );
    }
    for a in &truth.look_alikes {
        out += &format!(
            "[[look_alike]]\nwould_be = \"{}\"\nsubject = \"{}\"\nfrom = \"{}\"\nto = \"{}\"\nnote = \"{}\"\n\n",
            a.would_be,
            a.subject,
            utc_text(a.from_ms),
            utc_text(a.to_ms),
            a.note
        );
    }
    if !truth.also_true.is_empty() {
        out += "# Neither planted nor a false alarm when found.\n";
    }
    for a in &truth.also_true {
        out +=
            &format!("[[also_true]]\nfault = \"{}\"\nsubject = \"{}\"\nnote = \"{}\"\n\n", a.fault, a.subject, a.note);
    }
    out + &nuisance_toml(world)
}

/// What the plant file does not say of its pumps and drives.
fn nuisance_toml(w: &World) -> String {
    let mut out = String::new();
    for (name, p) in w.pump_names.iter().zip(&w.pumps) {
        let d = &p.drive;
        out += &format!(
            "[[nuisance]]\npump = \"{name}\"\nhead_departure = [{}]         # level, tilt over flow\n\
             efficiency_departure = [{}]\nfriction = {:.5}\nheader_loss_kpa_per_m3h2 = {:.7}\nloss_scale = {:.4}\n\
             iron_share = {:.4}\nmagnetising_share = {:.4}\nslip_compensated = {}\nflux_saving = {:.4}\nswitching_step = {:.4}\n\n",
            list(p.head_departure.iter().copied(), 5),
            list(p.efficiency_departure.iter().copied(), 5),
            p.friction,
            p.header_resistance,
            d.loss_scale,
            d.iron,
            d.magnetising,
            d.compensated,
            d.flux_saving,
            d.switching_step
        );
    }
    let [gain, offset] = w.control.head_belief;
    out += &format!(
        "[controller]\nhead_gain = {gain:.5}\nhead_offset_kpa = {offset:.3}\nflow_gain = {:.4}\n",
        w.control.flow_belief
    );
    out
}

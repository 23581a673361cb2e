//! How to get there: in steps, with when to stop, how to go back, and the lines for the plant file.

use super::curve::{Curve, flow_words, head_words};
use super::mend::Rogue;
use super::proposal::{Proposal, Set};
use super::{Basis, Today, least_flow};
use crate::plant::{Bypass, Control, ControlMode, Service};
use crate::quantity::{Pressure, Temperature};

/// The steps, in order.
pub fn steps(b: &Basis, today: &Today, p: &Proposal, rogues: &[Rogue]) -> Vec<String> {
    let neediest = neediest(b).unwrap_or_else(|| "the neediest coil".to_owned());
    let season = match b.plant.system.service {
        Service::HeatingWater => "cold",
        _ => "warm",
    };
    let mut out = Vec::new();
    for r in rogues {
        let name = &b.plant.coils[r.coil].name;
        out.push(format!(
            "Mend {name} first: its valve is fully open for {:.0} % of its hours and its air misses the setpoint. Nothing below holds before that.",
            100.0 * r.share
        ));
    }
    out.push(format!(
        "Write down today's setting ({}) and agree with the operator who may change it, and who is told.",
        today.in_words()
    ));
    if let Some(least) = least_flow::declared(b).filter(|_| b.plant.system.bypass == Some(Bypass::TwoWay)) {
        out.push(format!(
            "First see that the bypass valve, fully open, still passes {} at the lower pressure, {}, and how fast it opens: its flow falls as the root of pressure, and what it lacks while it opens lasts longer by as much.",
            flow_words(least),
            head_words(p.asks(today, least))
        ));
    }
    out.push(format!("Go half way first: {}. Leave it for a {season} day that loads the loop.", half(today, p)));
    out.push(format!(
        "Watch {neediest}: its valve should settle at or below 90 % and its air or space temperature at setpoint."
    ));
    out.push(format!("Then set {}. Watch {neediest} for a week.", p.in_words()));
    if let Some(floor) = p.floor_set {
        out.push(format!(
            "Lower the speed floor to {:.0} % last and by itself; stand by the machines for their flow switches while the loop is least loaded.",
            100.0 * floor
        ));
    }
    out.push(
        "Stop where you are if a valve stays fully open for more than half an hour, a setpoint stays unmet, a flow switch trips, the speed swings, or anyone complains."
            .to_owned(),
    );
    out.push(format!(
        "To go back, set {} again; that undoes all of it at once. Note the time either way.",
        today.in_words()
    ));
    if let Some(below) = b.plant.system.frost_protection_below.map(Temperature::in_celsius) {
        out.push(format!(
            "Below {below:.0} degC outdoors keep today's setting: let the controller change over, or leave those hours out of the change."
        ));
    }
    out.push(format!("Once it stands, put into the plant file under [control]: {}.", toml(b, p)));
    out.push(format!(
        "And keep the old setting: [[control_history]] until = \"<local time of the change>\" with {}.",
        lines(&b.plant.control)
    ));
    out
}

/// Half way between.
fn half(today: &Today, p: &Proposal) -> String {
    let mid = |a: f64, c: f64| 0.5 * (a + c);
    match (today, p.set) {
        (Today::Remote(pipe), Set::Remote(set)) => {
            format!("{} at the remote sensor", head_words(mid(pipe.setpoint, set)))
        }
        (_, Set::Curve(c)) => {
            let was = today.at_pumps();
            // By the heads both ask at no flow, of whatever kind.
            let zero = mid(was.head(0.0), c.head(0.0));
            let design = mid(was.head(c.design_flow), c.head(c.design_flow));
            Curve { zero_flow_head: zero, design_head: design, ..c }.in_words()
        }
        _ => p.in_words(),
    }
}

/// Keys and values for the plant file.
fn toml(b: &Basis, p: &Proposal) -> String {
    lines(&p.as_control(&b.plant.control))
}

fn lines(c: &Control) -> String {
    let mut out = vec![format!("mode = \"{}\"", c.mode.map_or("external", ControlMode::word))];
    let mut head = |key: &str, v: Option<Pressure>| {
        if let Some(v) = v {
            out.push(format!("{key} = \"{}\"", head_words(v.in_kpa())));
        }
    };
    let rising = matches!(c.mode, Some(ControlMode::Quadratic | ControlMode::Proportional));
    if rising {
        head("zero_flow_head", c.zero_flow_head);
        head("design_head", c.design_head);
    } else {
        head("setpoint", c.setpoint);
        head("setpoint_low", c.setpoint_low);
        head("setpoint_high", c.setpoint_high);
    }
    if rising && let Some(q) = c.design_flow {
        out.push(format!("design_flow = \"{}\"", flow_words(q.in_m3h())));
    }
    if let Some(s) = c.minimum_speed {
        out.push(format!("minimum_speed = \"{:.0} %\"", s.in_percent()));
    }
    out.join(", ")
}

/// Name of the coil that was neediest most often.
pub fn neediest(b: &Basis) -> Option<String> {
    let mut count = vec![0usize; b.plant.coils.len()];
    for &k in &b.need.neediest {
        if let Some(c) = count.get_mut(usize::from(k)) {
            *c += 1;
        }
    }
    let (i, n) = count.iter().enumerate().max_by_key(|(i, n)| (**n, usize::MAX - *i))?;
    (*n > 0).then(|| b.plant.coils[i].name.clone())
}

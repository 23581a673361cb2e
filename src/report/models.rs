//! What the pump models were checked against: offsets, stories and months, in plain words.

use super::{
    document::{Block, Table},
    show::Show,
    words,
};
use crate::{
    operating::{
        MEASUREMENTS, Machine,
        check::{Belief, Drift, LossLike, Offset, OffsetOf, SelfCheck},
    },
    pipeline::Review,
    plant::PowerIs,
};

/// From here the record fits worse than chance would have it [-].
const MISFIT: f64 = 1.4;

/// The section's blocks; none where no pump has a model.
pub fn blocks(review: &Review, show: &Show) -> Vec<Block> {
    if review.machines.is_empty() {
        return Vec::new();
    }
    let mut out = vec![Block::Paragraph(
        "Where more is measured than a flow needs, the measurements check each other, the pump's table and the sensors. A table's own error and a sensor's \
         cannot be told apart, so they stand together here."
            .to_owned(),
    )];
    for machine in &review.machines {
        out.extend(of_pump(machine, show));
    }
    out
}

fn of_pump(machine: &Machine, show: &Show) -> Vec<Block> {
    let check = &machine.check;
    let mut out = vec![Block::Heading { id: None, text: machine.pump.clone(), tags: vec![rests_on(check)] }];
    if check.cells > 0 {
        out.push(Block::Paragraph(fits(check)));
    }
    if !check.offsets.is_empty() {
        let rows = check.offsets.iter().map(|o| offset(o, show)).collect();
        let caption = "What was the same in every hour, with 95 % intervals. \"Cannot tell\": the record narrowed too little what was assumed; what is left of it is shown.";
        out.push(Block::Table(Table::new(caption, &["What", "#Found", "#Interval", "By"], rows)));
    }
    let stories = stories(check);
    if !stories.is_empty() {
        out.push(Block::List { label: None, ordered: false, items: stories });
    }
    out.extend(months(check, show));
    out
}

fn rests_on(check: &SelfCheck) -> String {
    match check.cells {
        0 => "nothing to check it against: no hour has two measurements of its flow".to_owned(),
        n => format!("checked on {n} stretches of the record"),
    }
}

fn fits(check: &SelfCheck) -> String {
    if check.misfit < MISFIT {
        return "The record fits the model as well as its noise allows.".to_owned();
    }
    format!(
        "The record fits the model worse than its noise allows: misfits are {:.1} times as large as they should be. Table, motor or a sensor differ in a way \
         that no constant offset describes; the intervals were widened for it.",
        check.misfit.sqrt()
    )
}

fn offset(o: &Offset, show: &Show) -> Vec<String> {
    let what = match o.of {
        OffsetOf::HeadScale => "Head reading over the tested table (sensor and table together)",
        OffsetOf::PowerScale => "Power reading over table and usual losses (reading and table together)",
        OffsetOf::MeterScale => "Flow meter's scale",
        OffsetOf::HeatScale => "Heat balance's scale",
        OffsetOf::HeaderLoss => "Lost between pump and headers at design flow",
        OffsetOf::PipeLoss => "Lost between pump and the remote sensor at design flow",
    };
    let number = |v: f64| if o.of.unit() == "kPa" { show.head(v) } else { signed(v) };
    let interval = format!("{}\u{a0}to\u{a0}{}", number(o.low), number(o.high));
    let (found, by) = if o.told_by_record {
        (number(o.estimate), "the record")
    } else {
        ("cannot\u{a0}tell".to_owned(), "assumption")
    };
    vec![what.to_owned(), found, interval, by.to_owned()]
}

/// A share with its sign, in per cent.
fn signed(share: f64) -> String {
    let shown = (share * 1000.0).round() / 10.0;
    let sign = if shown > 0.0 {
        "+"
    } else if shown < 0.0 {
        "−"
    } else {
        ""
    };
    format!("{sign}{:.1}\u{202f}%", shown.abs())
}

fn stories(check: &SelfCheck) -> Vec<String> {
    let in_100 = |b: Belief| format!("{:.0} in 100", 100.0 * b.probability);
    let two = |b: Belief, about: &str, yes: &str, no: &str| {
        let (likelier, other, p) =
            if b.probability > 0.5 { (yes, no, b.probability) } else { (no, yes, 1.0 - b.probability) };
        if b.settled {
            return format!("{about} {likelier}.");
        }
        let sure = in_100(Belief { probability: p, ..b });
        format!("{about} {likelier} ({sure}) or {other}: cannot tell, and both are held.")
    };
    let mut out = Vec::new();
    if let Some(b) = check.slip_hidden {
        out.push(two(
            b,
            "The speed signal",
            "shows the frequency, which hides the motor's slip",
            "shows the shaft's own speed",
        ));
    }
    if let Some((place, b)) = check.power_is.first() {
        let place = place_of(*place);
        out.push(if b.settled {
            format!("Power is read {place}.")
        } else {
            format!(
                "Power: cannot tell where it is read; most likely {place} ({}). Declare power_is to settle it.",
                in_100(*b)
            )
        });
    }
    if let Some((kind, b)) = check.loss {
        let like = match kind {
            LossLike::Drive => "those of a motor of today behind its drive",
            LossLike::Handbook => "what handbooks say of older motors",
            LossLike::Proportional => "in proportion to shaft power",
        };
        out.push(if b.settled {
            format!("Losses at low load are {like}.")
        } else {
            format!(
                "Losses at low load are most likely {like} ({}): cannot tell, and other kinds are held as well.",
                in_100(b)
            )
        });
    }
    out
}

fn place_of(place: PowerIs) -> &'static str {
    match place {
        PowerIs::DriveInput => "at the drive's input",
        PowerIs::DriveOutput => "at the drive's output",
        PowerIs::Shaft => "at the shaft",
    }
}

fn months(check: &SelfCheck, show: &Show) -> Vec<Block> {
    let mut begun: Vec<i64> = check.months.iter().map(|m| m.from_ms).collect();
    begun.dedup();
    if begun.len() < 2 {
        return Vec::new();
    }
    let rows = check.months.iter().map(|m| {
        let change = m.change.map_or_else(
            || "–".to_owned(),
            |(by, low, high)| format!("{} ({} to {})", signed(by), signed(low), signed(high)),
        );
        vec![
            month(m.from_ms, show),
            words::capital(MEASUREMENTS[m.witness]),
            format!("{} ({} to {})", signed(m.residual), signed(m.low), signed(m.high)),
            change,
        ]
    });
    let caption = "Each measurement over what the others say with it left out, month by month, and its change against the first month at like speed and flow. Intervals are by days.";
    let table = Table::new(caption, &["Month", "Measurement", "#Against the others", "#Change"], rows.collect());
    let text = match &check.drift {
        Some(drift) => moved(drift, show),
        None if check.months.iter().any(|m| m.change.is_some()) => {
            "No measurement has moved clearly against the others.".to_owned()
        }
        None => {
            "Whether anything moved cannot be told: no two months have enough hours at like speed and flow.".to_owned()
        }
    };
    vec![Block::Table(table), Block::Paragraph(text)]
}

fn moved(drift: &Drift, show: &Show) -> String {
    let others: Vec<String> = drift.against.iter().map(|w| MEASUREMENTS[*w].to_owned()).collect();
    let either = if drift.against.len() == 1 { " Either of the two may be the one that moved." } else { "" };
    format!(
        "{} has moved against {}: {} ({} to {}) by the last month, seen since {}.{either}",
        words::capital(MEASUREMENTS[drift.witness]),
        words::join(&others),
        signed(drift.change),
        signed(drift.low),
        signed(drift.high),
        month(drift.since_ms, show)
    )
}

fn month(ms: i64, show: &Show) -> String {
    show.local(ms).map_or_else(String::new, |t| t.format("%B %Y").to_string())
}

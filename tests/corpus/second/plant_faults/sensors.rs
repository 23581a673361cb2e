//! Sensor faults, of the kinds that the trended set can show.

use super::super::super::severity::{self, at};
use super::super::super::{Ask, Severity, Trended};
use super::super::building::*;
use super::super::chance::Chance;
use super::super::export::{Point, SensorFault, Trouble};
use super::{Done, span};

/// A sensor fault that the set can show. The point's name is filled in by the export.
pub(super) fn sensor(b: &Building, c: &mut Chance, s: Severity, ask: &Ask) -> Option<(Done, SensorFault)> {
    use Point::{Flow, Header, Power, Return, Supply};
    let temperatures = [Supply, Return];
    let scaled: &[Point] = match ask.trended {
        Trended::All => &[Header, Flow, Power],
        Trended::Usual => &[Header, Power],
        Trended::NoPressure | Trended::Drive => &[Power],
        Trended::Metered => &[Header, Flow],
        Trended::Temperatures => &[],
    };
    let warm = ask.trended != Trended::Drive;
    let kind = match c.whole(0, 9) {
        0..=2 if warm => 0,
        3..=5 if !scaled.is_empty() => 1,
        6..=7 => 2,
        8 if warm => 3,
        9 if warm => 4,
        _ if !scaled.is_empty() => 1,
        _ => 0,
    };
    let (mut span, mut step) = span(b, c, 0.5);
    let sign = if c.yes(0.5) { 1.0 } else { -1.0 };
    let (point, trouble, note) = match kind {
        0 => {
            let bias = sign * at(severity::TEMPERATURE_BIAS_K, s);
            (c.pick(&temperatures), Trouble::Bias(bias), format!("reads {bias} K off"))
        }
        1 => {
            // A scale moves within the record.
            while !step {
                (span, step) = self::span(b, c, 1.0);
            }
            let moved = 1.0 + sign * at(severity::SCALE_MOVED, s);
            (c.pick(scaled), Trouble::Scale(moved), format!("reads {moved} of itself"))
        }
        2 => {
            let length = (at(severity::STUCK_SHARE, s) * b.site.minutes() as f64) as usize;
            let from = ((c.between(0.05, 0.7) * b.site.minutes() as f64) as usize).min(b.site.minutes() - length);
            span = Span { from, to: from + length };
            step = from > 1440;
            let of: Vec<Point> =
                scaled.iter().copied().chain(if warm { &temperatures[..] } else { &[] }.iter().copied()).collect();
            (c.pick(&of), Trouble::Stuck, "stands still".to_owned())
        }
        3 => {
            (span, step) = (Span { from: 0, to: b.site.minutes() }, false);
            (Supply, Trouble::Swapped, "supply and return are swapped".to_owned())
        }
        _ => {
            (span, step) = (Span { from: 0, to: b.site.minutes() }, false);
            let of = if scaled.contains(&Header) && c.yes(0.5) { Header } else { c.pick(&temperatures) };
            (of, Trouble::Unit, "its unit is not the declared one".to_owned())
        }
    };
    let note = format!("{point:?} {note}");
    Some(((span, step, Vec::new(), f64::NAN, note), SensorFault { point, trouble, span }))
}

//! Who moved, by what stayed where it was.

use super::{HEAD, METER, POWER, Who};

/// A reading stayed where it was when it moved by less than this share of the change, or by this much at all [-].
const STILL: (f64, f64) = (0.25, 0.012);
/// It is known to have stayed only where its own error is below this share of the change [-].
const KNOWN: f64 = 0.20;
/// A pump that wears takes flow and power at like speed along by at least this share of the head lost [-] (a few equations of a quadratic control
/// curve give 0.5 to 0.9; on a flat power curve nothing).
const TAKES_ALONG: f64 = 0.15;
/// Power that rises less with flow shows no flow [-].
const TELLING: f64 = 0.15;

/// Value and standard error.
#[derive(Debug, Clone, Copy)]
pub(super) struct Is {
    pub v: f64,
    pub e: f64,
}

impl Is {
    pub const UNKNOWN: Self = Self { v: f64::NAN, e: f64::NAN };
    fn moved(self) -> bool {
        self.v.abs() >= STILL.1 && self.v.abs() >= 3.0 * self.e
    }
    fn still(self, beside: f64) -> bool {
        self.v.abs() <= (STILL.0 * beside.abs()).max(STILL.1) && self.e <= (KNOWN * beside.abs()).max(0.5 * STILL.1)
    }
    fn like(self, other: f64) -> bool {
        (self.v - other).abs() <= (STILL.0 * other.abs()).max(2.0 * self.e)
    }
    /// Surely below a share of `of`, downwards.
    fn fell(self, of: f64) -> bool {
        self.v <= -TAKES_ALONG * of.abs() && self.v <= -2.0 * self.e
    }
}

/// What the hours are like.
pub(super) struct Duty {
    pub flat: bool,
    pub one_speed: bool,
    pub rises: f64,
}

/// Who moved, and by how much.
pub(super) fn who(pairs: &[Is; 3], alone: &[Is; 3], clearest: usize, duty: &Duty) -> (Who, Is) {
    let [hp, hq, pq] = *pairs;
    match (hp.v.is_finite(), hq.v.is_finite(), pq.v.is_finite()) {
        (true, true, true) => of_three(hp, hq, pq, alone, duty),
        (true, ..) => of_two(hp, alone, (HEAD, POWER), duty),
        (_, true, _) => of_two(hq, alone, (HEAD, METER), duty),
        // Without head, power and flow may part company for many reasons.
        _ => (Who::Either(vec![POWER, METER], false), pairs[clearest]),
    }
}

fn of_three(hp: Is, hq: Is, pq: Is, alone: &[Is; 3], duty: &Duty) -> (Who, Is) {
    let [a, b, c] = *alone;
    if hq.moved() && pq.still(hq.v) {
        // Flow and power agree as before: the head fell, or what reads it.
        return if a.like(hq.v) && c.still(hq.v) && !(hq.v < 0.0 && duty.one_speed) {
            (Who::Reading(HEAD), hq)
        } else if hq.v < 0.0 && c.fell(hq.v) {
            (Who::Pump, hq)
        } else {
            (Who::Either(vec![HEAD], hq.v < 0.0), hq)
        };
    }
    if pq.moved() && hq.still(pq.v) {
        // Head and flow agree as before: the hydraulics are what they were. On a flat head so does a meter that moved.
        return if b.like(pq.v) && c.still(pq.v) {
            (Who::Reading(POWER), pq)
        } else if b.still(c.v) && c.moved() {
            (Who::Reading(METER), c)
        } else if hp.moved() {
            (Who::Reading(POWER), pq)
        } else {
            (Who::Either(vec![POWER, METER], false), pq)
        };
    }
    if hp.still(hq.v.abs().max(pq.v.abs())) && (hq.moved() || pq.moved()) {
        // Head and power agree as before: the meter moved, or water runs back inside the pump.
        return if a.still(c.v) && b.still(c.v) && c.moved() {
            (Who::Reading(METER), c)
        } else if hq.v < 0.0 && a.fell(hq.v) && c.fell(hq.v) {
            (Who::Pump, hq)
        } else {
            (Who::Either(vec![METER], hq.v < 0.0), hq)
        };
    }
    if hq.v < 0.0 && hq.moved() && a.fell(hq.v) && c.fell(hq.v) {
        return (Who::Pump, hq);
    }
    (Who::Either(vec![HEAD, POWER, METER], hq.v < 0.0), hq)
}

fn of_two(misfit: Is, alone: &[Is; 3], (head, other): (usize, usize), duty: &Duty) -> (Who, Is) {
    let (a, o) = (alone[head], alone[other]);
    // A power that hardly rises with flow stays where it is whatever the flow does: it bears no witness.
    let tells = other == METER || duty.rises >= TELLING;
    if tells && a.like(misfit.v) && o.still(misfit.v) && !(misfit.v < 0.0 && duty.one_speed) {
        (Who::Reading(head), misfit)
    } else if a.still(o.v) && o.moved() && !(duty.flat && o.v < 0.0) {
        (Who::Reading(other), o)
    } else if misfit.v < 0.0 && a.fell(misfit.v) && o.fell(misfit.v) {
        (Who::Pump, misfit)
    } else {
        (Who::Either(vec![head, other], misfit.v < 0.0), misfit)
    }
}

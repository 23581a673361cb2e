//! The head that would have been enough, row by row.
//!
//! The coils met their load with the flows they took. Had every throttling valve been opened by the same factor until the
//! neediest stood at [`NEEDIEST_OPEN`], the same flows would have come from less head. What is always open (three-way coils,
//! a bypass) takes less flow at less head, as the root of pressure.

use super::learn::{Learned, inherent, installed, installed_of};
use crate::operating::LoopPoints;
use crate::plant::{Characteristic, Plant, Role, Valve};
use crate::quantity::Flow;
use crate::screening::Screened;
use rayon::prelude::*;

/// Rows a thread takes at least.
const CHUNK: usize = 4096;

/// The neediest valve is left this far open: room to control (common practice: 85 to 95 %).
pub const NEEDIEST_OPEN: f64 = 0.90;

/// Need and who needs it, one a row.
#[derive(Debug, Clone)]
pub struct Need {
    /// Head that would have been enough [kPa]; NaN unknown.
    pub head_kpa: Vec<f64>,
    /// The same by the loop that asks most of those which explain the record [kPa]; NaN unknown.
    pub high_kpa: Vec<f64>,
    /// Index into the plant's coils; `u16::MAX` unknown.
    pub neediest: Vec<u16>,
    /// Head for every coil's declared flow at once; `None` where the coils' design flows or the loop are not known.
    pub at_design: Option<AtDesign>,
}

/// Head that gives every throttling coil its declared design flow with the neediest valve at [`NEEDIEST_OPEN`], by the learned loops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtDesign {
    /// Mean over the loops that explain the record as well as the best, and the highest of them [kPa].
    pub mean_kpa: f64,
    pub high_kpa: f64,
    /// Index into the plant's coils of the coil that asks for it.
    pub coil: usize,
}

/// Computes the need of every row whose flow, head and valves are known: the mean over the loops that explain the record as well as the
/// best, since common resistance and valve authority are hard to tell apart and each alone would be a guess.
#[must_use]
pub fn need(plant: &Plant, screened: &Screened, system: &LoopPoints, learned: Option<&Learned>) -> Need {
    let n = system.flow_m3h.len();
    let mut out =
        Need { head_kpa: vec![f64::NAN; n], high_kpa: vec![f64::NAN; n], neediest: vec![u16::MAX; n], at_design: None };
    let Some(learned) = learned else { return out };
    out.at_design = at_design(plant, learned);
    let coils = CoilNeeds::of(plant, screened, system, learned);
    let columns = out.head_kpa.par_iter_mut().zip(out.high_kpa.par_iter_mut()).zip(out.neediest.par_iter_mut());
    columns.enumerate().with_min_len(CHUNK).for_each_init(Vec::new, |shares, (i, ((head, high), coil))| {
        if coils.flow_and_head(i).is_none() {
            return;
        }
        coils.look(i, shares);
        let Some(neediest) = coils.least_room(i, shares, &[]) else { return };
        let (heads, loops, most) =
            coils.said(i, &neediest, shares).fold((0.0, 0.0, 0.0_f64), |sum, h| (sum.0 + h, sum.1 + 1.0, sum.2.max(h)));
        if loops > 0.0 {
            *head = heads / loops;
            *high = most;
            *coil = u16::try_from(neediest.coil).unwrap_or(u16::MAX);
        }
    });
    out
}

/// What each coil with a trended valve would have needed, row by row.
pub struct CoilNeeds<'a> {
    terminals: Vec<Terminal<'a>>,
    system: &'a LoopPoints,
    learned: &'a Learned,
    /// The loops that explain the record alike, the best first, each with the place of its authority among `authorities`.
    loops: Vec<(&'a Learned, usize)>,
    authorities: Vec<f64>,
    /// Shares of the terminals at [`NEEDIEST_OPEN`], laid out as those of a row ([`CoilNeeds::look`]).
    wide: Vec<f64>,
    /// The terminal of each of the loops' throttles.
    throttling: Vec<Option<usize>>,
    /// Declared flow of each of the plant's coils [m3/h], NaN where it is not known; empty where nobody is held to it.
    owed: Vec<f64>,
}

impl<'a> CoilNeeds<'a> {
    #[must_use]
    pub fn of(plant: &Plant, screened: &'a Screened, system: &'a LoopPoints, learned: &'a Learned) -> Self {
        let terminals = terminals(plant, screened);
        let mut authorities: Vec<f64> = Vec::new();
        let mut loops = Vec::new();
        for l in std::iter::once(learned).chain(&learned.as_good) {
            let known = authorities.iter().position(|a| *a == l.authority);
            loops.push((l, known.unwrap_or(authorities.len())));
            if known.is_none() {
                authorities.push(l.authority);
            }
        }
        let throttle = |coil: usize| terminals.iter().position(|t| t.coil == coil && t.throttles);
        let throttling = learned.throttles.iter().map(|t| throttle(t.coil)).collect();
        let mut wide = Vec::new();
        shares(&authorities, terminals.iter().map(|t| inherent(NEEDIEST_OPEN, t.characteristic)), &mut wide);
        Self { terminals, system, learned, loops, authorities, wide, throttling, owed: Vec::new() }
    }

    /// Never above the head that was there, whichever loop is asked (a valve that is not at its end was content with it), nor above what gives the
    /// coil its declared flow: no coil is owed more.
    #[must_use]
    pub fn as_owed(mut self, plant: &Plant) -> Self {
        self.owed = plant.coils.iter().map(|c| c.design_flow.map_or(f64::NAN, Flow::in_m3h)).collect();
        self
    }

    /// The coil that could give up least in a row, those of `left_out` (indices into the plant's coils) not asked, and the head that would have
    /// been enough for it [kPa], with whether what it is owed bounds that; `None` where flow, head or a valve is not known or no valve is open.
    #[must_use]
    pub fn neediest(&self, i: usize, left_out: &[usize]) -> Option<(usize, f64, bool)> {
        self.flow_and_head(i)?;
        let mut shares = Vec::new();
        self.look(i, &mut shares);
        let mut passed = left_out.to_vec();
        let mut most: Option<(usize, f64, bool)> = None;
        while let Some(n) = self.least_room(i, &shares, &passed) {
            let Some((head, bounded)) = self.head(i, &n, &shares) else { break };
            if most.is_none_or(|m| head > m.1) {
                most = Some((n.coil, head, bounded));
            }
            // One that is owed less than it took may leave another the neediest.
            if !bounded || passed.len() >= left_out.len() + self.terminals.len() {
                break;
            }
            passed.push(n.coil);
        }
        most
    }

    /// Coils whose need of a row lies above a head [kPa], those of `left_out` not asked.
    pub fn short_below(&self, i: usize, head: f64, left_out: &[usize]) -> impl Iterator<Item = usize> {
        let mut shares = Vec::new();
        self.look(i, &mut shares);
        let asked = self.terminals.iter().enumerate().filter(|(_, t)| !left_out.contains(&t.coil));
        let short = asked.filter(move |&(at, t)| {
            let n = Neediest { coil: t.coil, at };
            self.asks(i, at, &shares) && self.head(i, &n, &shares).is_some_and(|need| need.0 > head)
        });
        short.map(|(_, t)| t.coil)
    }

    /// Share of full conductance that each terminal's valve leaves in a row [-]: the terminals one after another, once for each authority.
    fn look(&self, i: usize, into: &mut Vec<f64>) {
        shares(&self.authorities, self.terminals.iter().map(|t| inherent(t.valve[i], t.characteristic)), into);
    }

    /// Whether a terminal takes water in a row. A valve open on a stopped fan cools nothing: it needs no head.
    fn asks(&self, i: usize, at: usize, shares: &[f64]) -> bool {
        shares[at] > 0.0 && self.terminals[at].fan.is_none_or(|f| !(f[i] < 0.5))
    }

    /// The terminal that could give up least, by the best loop: the one whose conductance would rise by the smallest factor.
    fn least_room(&self, i: usize, shares: &[f64], left_out: &[usize]) -> Option<Neediest> {
        let mut least: Option<(f64, Neediest)> = None;
        for (at, t) in self.terminals.iter().enumerate().filter(|(_, t)| !left_out.contains(&t.coil)) {
            if !t.valve[i].is_finite() {
                return None;
            }
            if !self.asks(i, at, shares) {
                continue;
            }
            let room = self.wide[at] / shares[at];
            if least.as_ref().is_none_or(|(r, _)| room < *r) {
                least = Some((room, Neediest { coil: t.coil, at }));
            }
        }
        least.map(|l| l.1)
    }

    fn flow_and_head(&self, i: usize) -> Option<(f64, f64)> {
        let (q, h) = (self.system.flow_m3h[i], self.system.head_kpa[i]);
        (self.system.pumps_on[i] > 0 && q > 0.0 && h > self.learned.static_kpa).then_some((q, h))
    }

    /// Head that would have been enough for a coil by each of the loops that can say [kPa]; none where flow or head is not known.
    fn said(&self, i: usize, neediest: &Neediest, shares: &[f64]) -> impl Iterator<Item = f64> {
        let known = self.flow_and_head(i);
        self.loops.iter().filter_map(move |l| known.and_then(|(q, h)| self.one(l, neediest, shares, q, h)))
    }

    /// Head that would have been enough for a coil [kPa], and whether what it is owed bounds it.
    fn head(&self, i: usize, neediest: &Neediest, shares: &[f64]) -> Option<(f64, bool)> {
        let (q, h) = self.flow_and_head(i)?;
        // What it is owed, by the loop that asks most: conductance is what the loops agree on least.
        let most = self.owed.get(neediest.coil).map(|&owed| {
            self.loops.iter().map(|l| self.owing(l, neediest, owed, q).unwrap_or(h)).fold(0.0, f64::max).min(h)
        });
        let (mut sum, mut said, mut bounded) = (0.0, 0.0, false);
        for mut need in self.said(i, neediest, shares) {
            if let Some(most) = most {
                bounded |= need > most;
                need = need.min(most);
            }
            (sum, said) = (sum + need, said + 1.0);
        }
        (said > 0.0).then(|| (sum / said, bounded))
    }

    /// Head [kPa] that would have been enough, by one learned loop.
    fn one(&self, (l, a): &(&Learned, usize), neediest: &Neediest, shares: &[f64], q: f64, h: f64) -> Option<f64> {
        let first = a * self.terminals.len();
        let share = |at: &Option<usize>| at.map_or(0.0, |at| shares[first + at]);
        let throttled: f64 = l.throttles.iter().zip(&self.throttling).map(|(t, at)| t.conductance * share(at)).sum();
        let opened = self.wide[first + neediest.at] / shares[first + neediest.at];
        let across = (h - l.static_kpa - l.common_resistance * q * q).max(0.05 * (h - l.static_kpa));
        let through_valves = q * throttled / (throttled + l.open_conductance).max(1e-9);
        let flow = through_valves + (q - through_valves) / opened.max(1.0);
        let head = l.static_kpa + l.common_resistance * flow * flow + across / (opened * opened);
        head.is_finite().then_some(head)
    }

    /// Head [kPa] that gives a coil its declared flow [m3/h] with its valve at [`NEEDIEST_OPEN`] while the loop takes `q` [m3/h]; `None` where its
    /// conductance or flow is not known.
    fn owing(&self, (l, a): &(&Learned, usize), n: &Neediest, owed: f64, q: f64) -> Option<f64> {
        let throttle = l.throttles.iter().find(|t| t.coil == n.coil)?;
        let open = throttle.conductance * self.wide[a * self.terminals.len() + n.at];
        let head = l.static_kpa + l.common_resistance * q * q + (owed / open).powi(2);
        head.is_finite().then_some(head)
    }

    /// Share of the flow of a row that goes through what does not throttle, by one learned loop [-].
    #[must_use]
    pub fn open_share(&self, l: &Learned, i: usize) -> f64 {
        let throttled: f64 = l
            .throttles
            .iter()
            .map(|t| t.conductance * installed(self.opening(t.coil, i), t.characteristic, l.authority))
            .sum();
        l.open_conductance / (throttled + l.open_conductance).max(1e-9)
    }

    fn opening(&self, coil: usize, i: usize) -> f64 {
        self.terminals.iter().find(|t| t.coil == coil && t.throttles).map_or(0.0, |t| t.valve[i])
    }
}

/// The head at design flow, by every loop that explains the record. Tried and left: every coil's conductance one standard deviation lower, since the
/// neediest branch is the one that passes least. Branches are drawn alike too loosely for that: it hid more settings too high than it spared right ones.
fn at_design(plant: &Plant, learned: &Learned) -> Option<AtDesign> {
    let loop_flow = plant.system.design_flow?.in_m3h();
    let one = |l: &Learned| {
        let mut most: Option<(f64, usize)> = None;
        for t in &l.throttles {
            let open = t.conductance * installed(NEEDIEST_OPEN, t.characteristic, l.authority);
            let needed = (plant.coils[t.coil].design_flow?.in_m3h() / open).powi(2);
            if most.is_none_or(|m| needed > m.0) {
                most = Some((needed, t.coil));
            }
        }
        most.map(|(branch, coil)| (l.static_kpa + l.common_resistance * loop_flow * loop_flow + branch, coil))
    };
    let said: Option<Vec<(f64, usize)>> = std::iter::once(learned).chain(&learned.as_good).map(one).collect();
    let said = said.filter(|s| s.iter().all(|h| h.0.is_finite()))?;
    Some(AtDesign {
        mean_kpa: said.iter().map(|h| h.0).sum::<f64>() / said.len() as f64,
        high_kpa: said.iter().map(|h| h.0).fold(0.0, f64::max),
        coil: said.first()?.1,
    })
}

/// A terminal with a trended valve that can open further.
struct Terminal<'a> {
    coil: usize,
    characteristic: Characteristic,
    /// Its valve throttles the loop; a three-way valve only shares its own water between coil and bypass.
    throttles: bool,
    valve: &'a [f64],
    fan: Option<&'a [f64]>,
}

fn terminals<'a>(plant: &Plant, screened: &'a Screened) -> Vec<Terminal<'a>> {
    let mut out = Vec::new();
    for (coil, c) in plant.coils.iter().enumerate() {
        let of = Some(c.name.as_str());
        let Some(valve) = screened.valve(&c.name) else { continue };
        let throttles = match c.valve {
            Some(Valve::TwoWay) | None => true,
            Some(Valve::ThreeWay) => false,
            Some(Valve::PressureIndependent | Valve::Thermostatic | Valve::None) => continue,
        };
        let characteristic = c.characteristic.unwrap_or(Characteristic::EqualPercentage);
        out.push(Terminal { coil, characteristic, throttles, valve, fan: screened.values(Role::FanStatus, of) });
    }
    out
}

/// The terminal that could give up least: its coil, and its place among the terminals.
struct Neediest {
    coil: usize,
    at: usize,
}

/// Shares of full conductance for valves that alone would pass `inherent` [-], once for each authority.
fn shares(authorities: &[f64], inherent: impl Iterator<Item = f64>, into: &mut Vec<f64>) {
    into.clear();
    into.extend(inherent);
    let terminals = into.len();
    for _ in 1..authorities.len() {
        into.extend_from_within(..terminals);
    }
    for (of_one, n) in into.chunks_mut(terminals.max(1)).zip(authorities) {
        of_one.iter_mut().for_each(|share| *share = installed_of(*share, *n));
    }
}

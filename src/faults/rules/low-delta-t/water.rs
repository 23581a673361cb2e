//! The loop's water, day by day.

use super::FAULT;
use super::coil::CoilFault;
use super::expected::{can_hold_to_design, expected_k, low_limit, rows, three_way_share, with_difference};
use super::seen::{LEAST_DAY_H, Opened, VALVE_OPENED, named, valves_opened, witnesses};
use super::terminals::{self, Terminals};
use crate::faults::onset::{self, Step};
use crate::faults::rules::{cannot_tell, clear, lines, number};
use crate::faults::shown::column;
use crate::faults::spread::{mean, median};
use crate::faults::{Case, Evidence, Finding, Shown, Verdict, What, price, say};

/// Share of the judged days that must be low, and least number of judged days [-, days].
const DAYS_LOW: f64 = 0.6;
const LEAST_DAYS: usize = 5;
/// Smallest fall at like conditions that counts by itself, as share of what was [-]; and what must be left at most, of
/// what the terminals should give [-]: coils larger than their load give more, and may give less of that honestly.
const LEAST_FALL: f64 = 0.12;
const LEFT: f64 = 0.85;
/// On a day that a second witness names, coil valves that opened at like conditions: this fall [-] and this sure [-] do.
const WITNESSED_FALL: f64 = 0.06;
const WITNESSED_T: f64 = 4.0;
/// With no valve trended to ask, only a fall this large and this sure is one without being below design [-].
const ALONE_FALL: f64 = 0.20;
const ALONE_T: f64 = 8.0;

/// The loop's daily figures.
pub struct Water {
    rows: Vec<usize>,
    /// Difference over what it should be, weighted by flow, one a day [-]; over design where that stands, else over nothing [K].
    level: Vec<f64>,
    /// What the level may honestly hang on, one column each.
    given: Vec<Vec<f64>>,
    /// Whether the level is a share of what it should be.
    held_to_design: bool,
    why_not: &'static str,
}

impl Water {
    pub fn seen<'c>(case: &'c Case) -> &'c Self {
        case.looks.water.get_or_init(|| Self::new(case))
    }

    fn new(case: &Case) -> Self {
        let rows = rows(case);
        let (held_to_design, why_not) = can_hold_to_design(case, &rows);
        let of = |i: usize| if held_to_design { expected_k(case, i) } else { 1.0 };
        let days = case.days();
        let mut level = Vec::new();
        let (mut load, mut supply, mut outdoor) = (Vec::new(), Vec::new(), Vec::new());
        for d in &days {
            let mine = &rows[rows.partition_point(|i| *i < d.start)..rows.partition_point(|i| *i < d.end)];
            let judged: Vec<usize> = mine.iter().copied().filter(|i| of(*i).is_finite()).collect();
            let enough = judged.len() as f64 * case.step_h >= LEAST_DAY_H;
            let sum = |f: &dyn Fn(usize) -> f64| judged.iter().map(|i| f(*i)).sum::<f64>();
            let taken = sum(&|i| case.loop_flow_m3h[i] * case.delta_t_k(i));
            level.push(if enough { taken / sum(&|i| case.loop_flow_m3h[i] * of(i)) } else { f64::NAN });
            load.push(if enough { taken / judged.len() as f64 } else { f64::NAN });
            supply.push(mean(judged.iter().map(|i| case.supply_c.map_or(f64::NAN, |s| s[*i]))));
            outdoor.push(mean(judged.iter().map(|i| case.outdoor_c.map_or(f64::NAN, |t| t[*i]))));
        }
        let mut given = vec![load, supply];
        if outdoor.iter().any(|t| t.is_finite()) {
            given.push(outdoor);
        }
        Self { rows, level, given, held_to_design, why_not }
    }

    fn judged_days(&self) -> usize {
        self.level.iter().filter(|l| l.is_finite()).count()
    }

    /// A fall at like load and supply temperature that coil valves bear witness to, or that is large and sure by itself.
    pub fn fall(&self, case: &Case) -> Option<Step> {
        *case.looks.fall.get_or_init(|| self.look_for_a_fall(case))
    }

    fn look_for_a_fall(&self, case: &Case) -> Option<Step> {
        let witnessed = valves_opened(case).filter_map(|o| {
            let step = onset::step_on(&self.level, &self.given, 3, o.at)?;
            (-step.size >= WITNESSED_FALL * step.before && step.t >= WITNESSED_T).then_some(step)
        });
        witnessed.max_by(|a, b| a.t.total_cmp(&b.t).then(b.at.cmp(&a.at))).or_else(|| self.fall_alone(case))
    }

    fn fall_alone(&self, case: &Case) -> Option<Step> {
        let step = onset::step(&self.level, &self.given, 3)?;
        let fell = -step.size / step.before;
        let low_enough = !self.held_to_design || median(self.level[step.at..].iter().copied()) <= LEFT;
        let unasked = case.coils.iter().all(|c| c.valve.is_none());
        let large = fell >= LEAST_FALL && step.t >= onset::BELIEVED && low_enough;
        (large || (unasked && fell >= ALONE_FALL && step.t >= ALONE_T)).then_some(step)
    }

    pub fn verdict(&self, case: &Case, coils: &[CoilFault]) -> Verdict {
        if self.judged_days() < LEAST_DAYS {
            let why =
                if self.why_not.is_empty() { "fewer than five days well above minimum flow" } else { self.why_not };
            return cannot_tell(FAULT, "loop", &[], why);
        }
        if median(self.level.iter().copied()) <= 0.0 {
            let why = "supply and return stand the wrong way round for this service on most days: the two may be exchanged in the \
                       plant file or on the pipes";
            return cannot_tell(FAULT, "loop", &[], why);
        }
        let limit = low_limit(case);
        let fall = self.fall(case);
        let from = fall.map_or(0, |s| s.at);
        let since: Vec<f64> = self.level[from..].iter().copied().filter(|l| l.is_finite()).collect();
        let low = since.iter().filter(|l| **l <= limit).count() as f64 >= DAYS_LOW * since.len() as f64;
        if let Some(c) = coils.iter().find(|c| fall.is_none_or(|s| c.explains(case, s, &self.level)))
            && (fall.is_some() || !(self.held_to_design && low))
        {
            let seen = format!("a fall beyond what {} alone explains", case.coils[c.coil].name);
            return clear(FAULT, "loop", seen);
        }
        if fall.is_some() || (self.held_to_design && low) {
            let start = fall.map(|s| case.days()[s.at].start);
            let fell = fall.map_or(f64::NAN, |s| -s.size / s.before);
            let level = median(self.level[from..].iter().copied());
            if let Terminals::InHealth(why) = Terminals::look(case, &self.rows, start, fell, level) {
                return cannot_tell(FAULT, "loop", &["bypass-position or bypass-flow"], why);
            }
            return self.found(case, fall, coils);
        }
        if !self.held_to_design {
            let why =
                format!("{}; and no fall at like load and supply temperature came within the record", self.why_not);
            return cannot_tell(FAULT, "loop", &["[loop].supply_temperature", "[loop].return_temperature"], why);
        }
        clear(
            FAULT,
            "loop",
            format!(
                "a difference below {} of what the terminals should give, or a fall by {} at like load to {} of it or less",
                say::percent(limit),
                say::percent(LEAST_FALL),
                say::percent(LEFT)
            ),
        )
    }

    fn found(&self, case: &Case, fall: Option<Step>, coils: &[CoilFault]) -> Verdict {
        let start = fall.map_or(0, |s| case.days()[s.at].start);
        let rows: Vec<usize> = self.rows.iter().copied().filter(|i| *i >= start).collect();
        let (first, last) = (rows[0], rows[rows.len() - 1]);
        let limit = low_limit(case);
        let level = median(self.level[fall.map_or(0, |s| s.at)..].iter().copied());
        let left = fall.map_or(level, |s| 1.0 + s.size / s.before);
        let waste = price::waste(case, &rows, |i| with_difference(case, i, left));
        let yearly = price::per_year(case, waste);
        let seen = fall.map_or_else(Vec::new, |s| witnesses(case, s.at));
        let shown = median(rows.iter().map(|i| case.delta_t_k(*i)));
        let against = match fall {
            Some(s) => format!(
                "at the same load and supply temperature it fell to {} of what it was",
                say::percent(1.0 + s.size / s.before)
            ),
            None => format!("that is {} of what these terminals should give", say::percent(level)),
        };
        let step =
            fall.map_or_else(|| "from the first day on".to_owned(), |_| format!("since {}", case.say_when(first)));
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: "loop".into(),
            urgency: price::urgency(case, waste, false),
            confidence: fall.map_or(0.6 + (limit - level).clamp(0.0, 0.25), |s| (0.7 + s.t / 100.0).min(0.92)),
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours: rows.len() as f64 * case.step_h,
            waste_kwh: waste,
            waste_kwh_per_year: yearly,
            caused_by: None,
            because: format!(
                "The water comes back {} from its supply temperature in the middle of all rows, {step}; {against}, so the pumps move about {} of the water that the load would need.{}{}",
                case.say_kelvin(shown),
                say::percent(1.0 / left),
                named(case, &seen),
                terminals::ordered(case, &rows, fall.map(|s| s.at)),
            ),
            evidence: self.evidence(case, fall, level, &seen),
            could_also_be: self.could_also_be(case, coils),
            check_on_site: lines(&[
                "Compare supply and return sensors with one calibrated thermometer, in both pockets.",
                "At high load, measure each large coil's leaving water: the coils near the supply temperature are the cause.",
                "On those coils look for a valve that does not shut, an air setpoint below what is needed, a dirty coil or filter.",
                "Look for an open bypass, a flushing line, and three-way valves that are not in the plant file.",
            ]),
            change: "Mend the coils, or shut the ways past them, that let the water through unused. Do not lower a pump setting to hide it.".into(),
            shown: Shown::new(
                &rows,
                What::Water {
                    coil: None,
                    expected_k: if self.held_to_design {
                        column(case.rows(), |i| expected_k(case, i))
                    } else {
                        Vec::new()
                    },
                    limit: if fall.is_some() { 1.0 - LEAST_FALL } else { limit },
                    since: fall.and_then(|_| u32::try_from(start).ok()),
                },
            ),
            caution: case.caution("Coils that meet outdoor air freeze when their flow is cut."),
        }))
    }

    fn evidence(&self, case: &Case, fall: Option<Step>, level: f64, seen: &[&Opened]) -> Vec<Evidence> {
        let source = "supply and return temperature, weighted by flow, days";
        let mut all = Vec::new();
        if self.held_to_design {
            let expected = format!("above {}", low_limit(case));
            all.push(number(
                "temperature difference over what the terminals should give",
                level,
                "fraction",
                expected,
                source,
            ));
        }
        if let Some(s) = fall {
            let name = "temperature difference, after over before, at the same load and supply temperature";
            all.push(number(name, 1.0 + s.size / s.before, "fraction", format!("above {}", 1.0 - LEAST_FALL), source));
            all.push(number("step over its standard error", s.t, "-", format!("below {}", onset::BELIEVED), source));
        }
        for o in seen {
            let name = format!("valve of {} opened at like conditions by", case.coils[o.coil].name);
            all.push(number(
                name,
                o.size,
                "fraction",
                format!("below {VALVE_OPENED}"),
                "valve position against its siblings' and the weather",
            ));
        }
        let share = three_way_share(case);
        if share > 0.0 {
            all.push(number(
                "share of design flow on three-way valves",
                share,
                "fraction",
                "taken into account",
                "plant file",
            ));
        }
        all
    }

    fn could_also_be(&self, case: &Case, coils: &[CoilFault]) -> Vec<String> {
        let mut all: Vec<String> =
            coils.iter().map(|c| format!("{} alone, in part: see its own finding", case.coils[c.coil].name)).collect();
        let widest = median(self.rows.iter().map(|i| case.widest_valve(*i)));
        if widest < 0.5 {
            all.push(format!(
                "more head than the valves can throttle: the widest is {} open in the middle of all hours",
                say::percent(widest)
            ));
        }
        all.extend(lines(&[
            "a bypass open since before the record began",
            "one of the two temperature sensors drifted",
        ]));
        all
    }
}

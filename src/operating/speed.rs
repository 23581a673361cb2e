//! What a trended speed means: which factor makes it a fraction of rated, and whether slip hides in it.
//!
//! Comes in: one pump's speed readings with what is declared of them ([`Signal`]). Goes out: [`SpeedMeaning`] and what was
//! doubtful. What is declared wins; what is not is read off the values, mostly off the reading they stop at. The decision a reader
//! would question: a column in % that stops at exactly 50.0 or 60.0 is taken as hertz only where head or power at that reading leave
//! one answer, since a capped pump looks the same. It does not scale volts or milliamperes (`range` does). Start at [`meaning`].

use crate::hydraulics::motor::{self, MotorOnDrive};
use crate::hydraulics::pchip::Pchip;
use crate::notice::{Notice, Noticed};
use crate::plant::{MotorKind, PercentOf, Point, PowerIs, Pump};
use crate::quantity::{Frequency, Power, ShaftSpeed};

/// Whose speed a signal shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shows {
    /// The shaft's own: slip is in it.
    Shaft,
    /// The frequency at the motor: slip hides.
    Frequency,
    /// Cannot be known.
    Either,
}

/// How a reading becomes a speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpeedMeaning {
    /// Reading times this is the fraction of rated speed or frequency [1/unit of the reading].
    pub factor: f64,
    pub shows: Shows,
}

/// One pump's speed as trended.
#[derive(Clone, Copy)]
pub struct Signal<'a> {
    pub pump: &'a Pump,
    /// Its declaration in the plant file.
    pub point: Option<&'a Point>,
    /// Cap that the controller is set to [-], which explains a plateau.
    pub maximum_speed: Option<f64>,
    /// Unit of the values as ingest keeps them: "fraction" (a % is divided by 100), "Hz" or "rpm".
    pub unit: &'a str,
    pub values: &'a [f64],
    /// Rows in which the pump runs by another witness (status, power); rows beyond its end count as running.
    pub running: &'a [bool],
    /// How badly pump table and record disagree under a factor, in standard deviations, where head or power is trended;
    /// [`disagreement`] is one.
    pub consistent: Option<&'a dyn Fn(f64) -> Option<f64>>,
}

/// Fewer running readings than this say nothing about what they mean.
const ENOUGH: usize = 5;
/// Readings this near to the highest are at it: the step of a drive's display, 0.05 Hz in 50 [-].
const AT_TOP: f64 = 0.001;
/// Readings within this of the highest show how dense they are below it [-].
const NEAR_TOP: f64 = 0.01;
/// A plateau holds at least this many times what a like width below it holds on average: chance gives 1.
const PLATEAU: f64 = 4.0;
/// Readings below this share of the highest are a pump at rest or stopping [-].
const AT_REST: f64 = 0.03;
/// Share of readings that may lie below what is called their floor: starts and stops [-].
const STRAY: f64 = 0.02;
/// A floor below this is no drive's minimum frequency [Hz] (a fifth of mains; common practice, no source).
const LEAST_FLOOR_HZ: f64 = 10.0;
/// A pump whose floor is above this share of its highest reading runs at one speed [-].
const ONE_SPEED: f64 = 0.97;
/// The highest reading equals a mains frequency or a synchronous speed within this [-].
const EXACT: f64 = 0.002;
/// Slip at rated load beyond this is no standard induction motor's [-] (small four-pole motors reach 6 %; common practice, no source).
const MOST_SLIP: f64 = 0.08;
/// No drive runs a pump faster than this over rated [-].
const FASTEST: f64 = 1.3;
/// No drive holds a pump slower than a tenth for long, so a column whose highest is below is not in the unit it is said to be in [-].
const SLOWEST_TOP: f64 = 0.1;
/// The same for a unit that is not declared: below a quarter it may be volts or milliamperes [-].
const SLOWEST_UNDECLARED: f64 = 0.25;
/// Readings up to this are a fraction where they are kept as % / 100: 1.2 % of speed turns no pump [-].
const FRACTION_TOP: f64 = 0.012;
/// A fraction above this is a percentage: 200 % of speed turns no pump [-].
const PERCENT_FROM: f64 = 2.0;
/// A meaning fits where table and record disagree by less than this; the sensors and tables behind it are seldom worse [standard deviations].
const FITS: f64 = 1.5;
/// It cannot be where they disagree by more: one pump in a hundred does by its own errors [standard deviations].
const CANNOT_BE: f64 = 2.5;
/// Mains frequencies [Hz].
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
/// The speed stays below the maximum frequency's whole by no more than this where it is a % of rated [-].
const ABOVE_WHOLE: f64 = 1.02;

/// What a speed signal means; `None` where it cannot be known, with the reason in a notice.
#[must_use]
pub fn meaning(signal: &Signal) -> Noticed<Option<SpeedMeaning>> {
    let mut reader = Reader { signal, top: Top::of(signal), notices: Vec::new() };
    let value = match signal.unit {
        "Hz" => reader.hertz(),
        "rpm" => reader.rpm(),
        _ => reader.percent(),
    };
    let value = value.map(|m| match signal.pump.motor {
        // A motor without slip turns as its frequency says.
        MotorKind::PermanentMagnet => SpeedMeaning { shows: Shows::Shaft, ..m },
        MotorKind::Induction => m,
    });
    Noticed { value, notices: reader.notices }
}

/// Where the running readings lie.
#[derive(Debug, Clone, Copy)]
struct Top {
    /// Highest running reading, in the values' unit.
    value: f64,
    /// The reading that all but a stray few stay above.
    floor: f64,
    /// The readings stop at the highest: several are there, few just below.
    plateau: bool,
}

impl Top {
    /// `None` where too few readings are above rest.
    fn of(signal: &Signal) -> Option<Self> {
        let runs = |i: usize| signal.running.get(i).copied().unwrap_or(true);
        let mut values: Vec<f64> = signal
            .values
            .iter()
            .enumerate()
            .filter(|(i, v)| v.is_finite() && **v > 0.0 && runs(*i))
            .map(|(_, v)| *v)
            .collect();
        let value = values.iter().copied().fold(0.0, f64::max);
        values.retain(|v| *v > AT_REST * value);
        if values.len() < ENOUGH {
            return None;
        }
        let above = |share: f64| values.iter().filter(|v| **v >= value * (1.0 - share)).count();
        let (at, near) = (above(AT_TOP), above(NEAR_TOP));
        let below = (near - at) as f64 * AT_TOP / (NEAR_TOP - AT_TOP);
        let stray = ((STRAY * values.len() as f64) as usize).min(values.len() - 1);
        let floor = *values.select_nth_unstable_by(stray, f64::total_cmp).1;
        Some(Self { value, floor, plateau: at >= ENOUGH && at as f64 > PLATEAU * below })
    }

    fn is(&self, value: f64) -> bool {
        (self.value - value).abs() <= EXACT * value
    }

    fn stops_at(&self, value: f64) -> bool {
        self.plateau && self.is(value)
    }

    fn one_speed(&self) -> bool {
        self.floor > ONE_SPEED * self.value
    }
}

struct Reader<'a> {
    signal: &'a Signal<'a>,
    top: Option<Top>,
    notices: Vec<Notice>,
}

/// One way to read a column.
struct Reading {
    meaning: SpeedMeaning,
    /// "as ...".
    name: String,
}

impl Reader<'_> {
    fn say(&mut self, text: impl std::fmt::Display) {
        self.notices.push(Notice::new("operating", format!("{}: {text}", self.signal.pump.name)));
    }

    fn misfit(&self, factor: f64) -> Option<f64> {
        self.signal.consistent.and_then(|f| f(factor)).filter(|m| m.is_finite())
    }

    /// The only reading that fits where every other cannot be; `None` where the record does not settle it.
    fn settled(&self, readings: &[Reading]) -> Option<usize> {
        let misfits: Option<Vec<f64>> = readings.iter().map(|r| self.misfit(r.meaning.factor)).collect();
        let misfits = misfits?;
        let fits = misfits.iter().position(|m| *m < FITS)?;
        misfits.iter().enumerate().all(|(i, m)| i == fits || *m > CANNOT_BE).then_some(fits)
    }

    fn hertz(&mut self) -> Option<SpeedMeaning> {
        let rated = self.rated_hz()?;
        Some(SpeedMeaning { factor: 1.0 / rated, shows: Shows::Frequency })
    }

    /// Rated frequency [Hz]: declared, else from the rated speed, else from the values. Says so.
    fn rated_hz(&mut self) -> Option<f64> {
        let pump = self.signal.pump;
        if let Some(declared) = pump.rated_frequency {
            return Some(declared.in_hz());
        }
        if let Some((rpm, rated)) = pump.rated_speed.and_then(|n| Some((n.in_rpm(), mains_of(n)?))) {
            self.say(format_args!(
                "no rated_frequency is declared; a motor rated {rpm:.0} rpm is a {rated:.0} Hz one, which is taken as full speed"
            ));
            return Some(rated);
        }
        let seen = self.top.filter(|_| self.signal.unit == "Hz").and_then(|top| self.mains_seen(top));
        if seen.is_none() {
            self.say(
                "its full speed is not known and its readings do not show it: declare rated_frequency under [[pump]]",
            );
        }
        seen
    }

    /// The mains frequency that readings in hertz point to.
    fn mains_seen(&mut self, top: Top) -> Option<f64> {
        if let Some(rated) = MAINS_HZ.into_iter().find(|f| top.stops_at(*f)) {
            self.say(format_args!(
                "no rated_frequency is declared; its readings stop at {:.1} Hz, which is taken as full speed",
                top.value
            ));
            return Some(rated);
        }
        if top.value > MAINS_HZ[0] * (1.0 + NEAR_TOP) && top.value < MAINS_HZ[1] * FASTEST {
            self.say(format_args!("no rated_frequency is declared; it runs at up to {:.1} Hz, above 50 Hz, so 60 Hz is taken as full speed", top.value));
            return Some(MAINS_HZ[1]);
        }
        let as_mains = |f: f64| Reading {
            meaning: SpeedMeaning { factor: 1.0 / f, shows: Shows::Frequency },
            name: String::new(),
        };
        let rated = MAINS_HZ[self.settled(&MAINS_HZ.map(as_mains))?];
        self.say(format_args!(
            "no rated_frequency is declared; head and power fit the pump's table with {rated:.0} Hz as full speed only, which is taken"
        ));
        Some(rated)
    }

    fn rpm(&mut self) -> Option<SpeedMeaning> {
        let Some(rated) = self.signal.pump.rated_speed.map(ShaftSpeed::in_rpm) else { return self.rpm_of_top() };
        let slips = self.signal.pump.motor == MotorKind::Induction;
        let synchronous = slips.then(|| synchronous(self.signal.pump, rated)).flatten();
        if let (Some(synchronous), Some(top)) = (synchronous, self.top)
            && synchronous * (1.0 - EXACT) > rated
            && top.stops_at(synchronous)
        {
            self.say(format_args!(
                "its speed stops at {:.0} rpm, where a motor rated {rated:.0} rpm turns without load only; it is taken as computed from the frequency, with {synchronous:.0} rpm as the whole",
                top.value
            ));
            return Some(SpeedMeaning { factor: 1.0 / synchronous, shows: Shows::Frequency });
        }
        Some(SpeedMeaning { factor: 1.0 / rated, shows: Shows::Shaft })
    }

    /// Full speed [rpm] read off the plateau, where no rated speed is declared.
    fn rpm_of_top(&mut self) -> Option<SpeedMeaning> {
        let full = self.top.filter(|t| t.plateau).map(|t| t.value / self.signal.maximum_speed.unwrap_or(1.0));
        let read = full.and_then(|n| full_speed(self.signal.pump, n));
        let read = read.filter(|m| self.misfit(m.factor).is_none_or(|misfit| misfit < CANNOT_BE));
        match read {
            Some(m) => self.say(format_args!(
                "no rated_speed is declared; its readings stop so that {:.0} rpm is full speed, which is taken",
                1.0 / m.factor
            )),
            None => self
                .say("its speed is trended in rpm and its full speed is not known: declare rated_speed under [[pump]]"),
        }
        read
    }

    fn percent(&mut self) -> Option<SpeedMeaning> {
        let scale = self.scale()?;
        match self.signal.point.and_then(|p| p.percent_of) {
            Some(of) => {
                let meaning = self.declared(of, scale)?;
                self.question(meaning, scale);
                Some(meaning)
            }
            None => Some(self.undeclared(scale)),
        }
    }

    /// What makes a fraction of a column that may be a percentage, or the other way round.
    fn scale(&mut self) -> Option<f64> {
        let Some(top) = self.top else { return Some(1.0) };
        let unit = self.signal.point.and_then(|p| p.unit.as_ref());
        let said_fraction = unit.is_some_and(|u| u.factor == 1.0);
        if (SLOWEST_TOP * 0.01..=FRACTION_TOP).contains(&top.value) && !said_fraction {
            let written = unit.map_or("%", |u| u.written.as_str());
            self.say(format_args!(
                "its speed is given in {written} and never exceeds {:.2} while it runs, so it is taken as a fraction",
                100.0 * top.value
            ));
            return Some(100.0);
        }
        if top.value <= PERCENT_FROM {
            return Some(1.0);
        }
        let percent = 0.01 * top.value;
        let least = if unit.is_some() { SLOWEST_TOP } else { SLOWEST_UNDECLARED };
        if !(least..=FASTEST).contains(&percent) {
            self.say(format_args!(
                "its speed reads up to {:.1} in no known unit: declare unit, or range where it is volts or milliamperes",
                top.value
            ));
            return None;
        }
        self.say(format_args!("its speed reads up to {:.1}, which no fraction does, so it is taken as %", top.value));
        Some(0.01)
    }

    fn declared(&mut self, of: PercentOf, scale: f64) -> Option<SpeedMeaning> {
        match of {
            PercentOf::RatedSpeed => Some(SpeedMeaning { factor: scale, shows: Shows::Shaft }),
            PercentOf::RatedFrequency => Some(SpeedMeaning { factor: scale, shows: Shows::Frequency }),
            PercentOf::MaximumFrequency => {
                let Some(most) = self.signal.pump.maximum_frequency.map(Frequency::in_hz) else {
                    self.say("its speed is a % of the maximum frequency: declare maximum_frequency under [[pump]]");
                    return None;
                };
                let rated = self.rated_hz()?;
                Some(SpeedMeaning { factor: scale * most / rated, shows: Shows::Frequency })
            }
        }
    }

    /// Says where the values contradict what is declared; the declaration stays.
    fn question(&mut self, declared: SpeedMeaning, scale: f64) {
        let Some(top) = self.top else { return };
        if top.value * declared.factor > FASTEST {
            self.say(format_args!(
                "with its declared percent_of it would run at {:.0} % of rated speed, which no drive does; check percent_of and the frequencies of the [[pump]]",
                100.0 * top.value * declared.factor
            ));
            return;
        }
        if self.misfit(declared.factor).is_none_or(|m| m < CANNOT_BE) {
            return;
        }
        let mut others = vec![as_is(scale)];
        others.extend(self.of_maximum(top, scale));
        others.extend(self.as_hertz(top, scale));
        let better = others.iter().find(|r| self.misfit(r.meaning.factor).is_some_and(|m| m < FITS));
        let text = better.map(|r| {
            format!(
                "head and power contradict its declared percent_of and fit the pump's table {}; the declaration was kept, check it",
                r.name
            )
        });
        if let Some(text) = text {
            self.say(text);
        }
    }

    fn undeclared(&mut self, scale: f64) -> SpeedMeaning {
        let plain = as_is(scale);
        let meaning = plain.meaning;
        let Some(top) = self.top else { return meaning };
        let capped = self.signal.maximum_speed.is_some_and(|m| (top.value * scale - m).abs() < NEAR_TOP * m);
        let hertz = if capped { None } else { self.as_hertz(top, scale) };
        let maximum = self.of_maximum(top, scale);
        let (hertz_possible, maximum_possible) = (hertz.is_some(), maximum.is_some());
        let readings: Vec<Reading> = [Some(plain), hertz, maximum].into_iter().flatten().collect();
        if readings.len() == 1 {
            return meaning;
        }
        match self.settled(&readings) {
            Some(0) => meaning,
            Some(i) => {
                let Reading { meaning, name } = &readings[i];
                let stops = if top.plateau { "stops at" } else { "never exceeds" };
                let text = format!(
                    "its speed is given in % and {stops} {:.1}; head and power fit the pump's table {name} only, so it is taken so",
                    100.0 * scale * top.value
                );
                self.say(text);
                *meaning
            }
            None => {
                // A pump that holds one speed shows no range to doubt.
                if hertz_possible && !top.one_speed() {
                    self.say(format_args!(
                        "its speed is given in % and stops at exactly {:.1}, so it could be in Hz; it is taken as %, since nothing trended settles it: set unit = \"Hz\" where it is",
                        100.0 * scale * top.value
                    ));
                } else if maximum_possible {
                    self.say("its speed is taken as % of rated speed; where it is % of the maximum frequency, set percent_of = \"maximum-frequency\"");
                }
                meaning
            }
        }
    }

    /// The reading as hertz, where the values stop at a mains frequency above a drive's floor.
    fn as_hertz(&self, top: Top, scale: f64) -> Option<Reading> {
        let (to_hz, pump) = (100.0 * scale, self.signal.pump);
        let hz = Top { value: top.value * to_hz, ..top };
        let mains = MAINS_HZ.into_iter().find(|f| hz.stops_at(*f))?;
        if top.floor * to_hz < LEAST_FLOOR_HZ {
            return None;
        }
        let rated = pump.rated_frequency.map(Frequency::in_hz).or_else(|| pump.rated_speed.and_then(mains_of));
        let factor = to_hz / rated.unwrap_or(mains);
        Some(Reading { meaning: SpeedMeaning { factor, shows: Shows::Frequency }, name: "as Hz".to_owned() })
    }

    /// The reading as a share of the maximum frequency, where that lies above the rated one.
    fn of_maximum(&self, top: Top, scale: f64) -> Option<Reading> {
        let pump = self.signal.pump;
        let most = pump.maximum_frequency?.in_hz();
        let rated = pump.rated_frequency.map(Frequency::in_hz).or_else(|| pump.rated_speed.and_then(mains_of))?;
        let meaning = SpeedMeaning { factor: scale * most / rated, shows: Shows::Frequency };
        let possible = most > rated * (1.0 + NEAR_TOP) && top.value * scale <= ABOVE_WHOLE;
        possible.then(|| Reading { meaning, name: format!("as % of the maximum frequency of {most:.0} Hz") })
    }
}

/// A percentage of rated speed or rated frequency: which of them, nobody said.
fn as_is(scale: f64) -> Reading {
    let meaning = SpeedMeaning { factor: scale, shows: Shows::Either };
    Reading { meaning, name: "as % of rated speed".to_owned() }
}

/// Synchronous speed [rpm] and slip at rated load [-] of a motor of this speed on these mains; `None` where no pole number gives a usual slip.
/// The speed is looked up a hair lower, so that a synchronous one is its own, however it was rounded.
fn poles(rated_rpm: f64, hz: f64) -> Option<(f64, f64)> {
    let synchronous = motor::synchronous_rpm(rated_rpm * (1.0 - EXACT), hz)?;
    let slip = (synchronous - rated_rpm) / synchronous;
    (slip <= MOST_SLIP).then_some((synchronous, slip))
}

/// The mains frequency [Hz] that a rated speed belongs to: the only one that leaves a usual slip.
fn mains_of(rated: ShaftSpeed) -> Option<f64> {
    let fits: Vec<f64> = MAINS_HZ.into_iter().filter(|f| poles(rated.in_rpm(), *f).is_some()).collect();
    match fits[..] {
        [only] => Some(only),
        _ => None,
    }
}

/// Synchronous speed [rpm] of a motor of this rated speed, on its declared mains or those that its speed tells.
fn synchronous(pump: &Pump, rated_rpm: f64) -> Option<f64> {
    let hz = pump.rated_frequency.map(Frequency::in_hz).or_else(|| mains_of(ShaftSpeed::rpm(rated_rpm)))?;
    poles(rated_rpm, hz).map(|(synchronous, _)| synchronous)
}

/// A speed [rpm] at which readings stop, as a pump's full speed: a synchronous speed (then computed from the frequency) or one that an
/// induction motor has at rated load; `None` for others, or where two mains frequencies would explain it.
fn full_speed(pump: &Pump, rpm: f64) -> Option<SpeedMeaning> {
    let mains: Vec<f64> = pump.rated_frequency.map_or_else(|| MAINS_HZ.to_vec(), |f| vec![f.in_hz()]);
    let fits: Vec<(f64, f64)> = mains.iter().filter_map(|hz| poles(rpm, *hz)).collect();
    let [(synchronous, slip)] = fits[..] else { return None };
    if slip <= EXACT {
        return Some(SpeedMeaning { factor: 1.0 / synchronous, shows: Shows::Frequency });
    }
    Some(SpeedMeaning { factor: 1.0 / rpm, shows: Shows::Shaft })
}

/// What was trended beside a speed, row by row.
#[derive(Clone, Copy)]
pub struct Record<'a> {
    /// The speed's readings, in their unit.
    pub readings: &'a [f64],
    pub running: &'a [bool],
    /// [kPa]
    pub head: Option<&'a [f64]>,
    /// [kW]
    pub power: Option<&'a [f64]>,
    pub power_is: PowerIs,
}

/// Rows below this share of the highest reading are left out: the lower the speed, the more losses blur it [-].
const FAST: f64 = 0.7;
/// Rows looked at, evenly over the record.
const LOOKED_AT: usize = 200;
/// What table, sensors and the way between flanges and headers leave open, in reduced shut-off head [-].
const HEAD_SD: f64 = 0.06;
/// The same for power: share of the table's power, and of the motor's and drive's loss, which handbooks know by half [-].
const POWER_SD: (f64, f64) = (0.12, 0.4);
/// Points on the table.
const STEPS: usize = 41;

/// How badly the pump's table disagrees with head and power if reading times `factor` is the speed: the middle row's distance from
/// the table's curve, in standard deviations. `None` where there is no table, no head and power, or too few rows.
#[must_use]
pub fn disagreement(pump: &Pump, record: &Record, factor: f64) -> Option<f64> {
    let table = Table::of(pump)?;
    let at = |column: Option<&[f64]>, i: usize| column.and_then(|c| c.get(i)).copied().unwrap_or(f64::NAN);
    let runs = |i: usize| record.running.get(i).copied().unwrap_or(true);
    let top = record.readings.iter().copied().filter(|v| v.is_finite()).fold(0.0, f64::max);
    let rows: Vec<usize> = (0..record.readings.len())
        .filter(|&i| record.readings[i] > FAST * top && runs(i))
        .filter(|&i| at(record.head, i) > 0.0 || (table.has_power() && at(record.power, i) > 0.0))
        .collect();
    if rows.len() < ENOUGH {
        return None;
    }
    let stride = rows.len().div_ceil(LOOKED_AT);
    let mut distances: Vec<f64> = rows
        .iter()
        .step_by(stride)
        .map(|&i| table.distance(record.readings[i] * factor, at(record.head, i), at(record.power, i), record.power_is))
        .collect();
    let middle = distances.len() / 2;
    Some(*distances.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// A pump's fastest tested curve, reduced by affinity.
struct Table {
    /// Head over speed squared [kPa] and power over its cube [kW], from no flow to the last.
    points: Vec<(f64, f64)>,
    power_is: PowerIs,
    motor: MotorOnDrive,
}

impl Table {
    fn of(pump: &Pump) -> Option<Self> {
        let curve = pump.curves.first()?;
        let s = curve.speed.in_of_one();
        let head = Pchip::new(&curve.head_flow_m3h, &curve.head_kpa).ok()?;
        let power = Pchip::new(&curve.power_flow_m3h, &curve.power_kw).ok();
        let last = *curve.head_flow_m3h.last()?;
        let points: Vec<(f64, f64)> = (0..STEPS)
            .map(|i| {
                let q = last * i as f64 / (STEPS - 1) as f64;
                let kw = power.as_ref().map_or(f64::NAN, |p| p.value_clamped(q));
                (head.value_clamped(q) / s.powi(2), kw / s.powi(3))
            })
            .collect();
        let top_kw = points.iter().map(|p| p.1).filter(|p| p.is_finite()).fold(0.0, f64::max);
        let rated_kw = pump.motor_power.map_or(top_kw, Power::in_kw);
        let of_motor = pump.motor_efficiency.or_else(|| motor::ie3_efficiency(rated_kw)).unwrap_or(0.88);
        let motor = MotorOnDrive::new(rated_kw, of_motor, pump.drive_efficiency.unwrap_or(0.965));
        Some(Self { points, power_is: curve.power_is, motor })
    }

    fn has_power(&self) -> bool {
        self.points[0].1.is_finite()
    }

    /// Distance [standard deviations] of a reading from the nearest point of the table at speed `s` [-].
    fn distance(&self, s: f64, head: f64, power: f64, power_is: PowerIs) -> f64 {
        let shut_off = self.points[0].0;
        let squared = self.points.iter().map(|(h, p)| {
            let by_head = (head / s.powi(2) - h) / (HEAD_SD * shut_off);
            let kw = p * s.powi(3);
            let loss = self.loss_kw(kw, s, power_is);
            let by_power = (power - kw - loss) / (POWER_SD.0 * kw + POWER_SD.1 * loss);
            let square = |x: f64| if x.is_finite() { x * x } else { 0.0 };
            square(by_head) + square(by_power)
        });
        squared.fold(f64::INFINITY, f64::min).sqrt()
    }

    /// Loss [kW] between a power of the table and where power is read.
    fn loss_kw(&self, kw: f64, s: f64, read_at: PowerIs) -> f64 {
        if self.power_is != PowerIs::Shaft || read_at == PowerIs::Shaft {
            return 0.0;
        }
        let loss = self.motor.loss(kw, s);
        loss.constant + loss.load
    }
}

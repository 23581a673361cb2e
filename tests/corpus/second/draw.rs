//! A building from a seed: terminals first, then pipes, pumps, and what commands them.

use super::building::*;
use super::chance::Chance;
use super::machine::{Motor, Pump, Shape};
use super::pipes::{Layout, Pipes, Stretch, Water};
use super::terminals::*;
use chrono::{NaiveDate, Offset, TimeZone};

/// What a building must have for what is asked of it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wish {
    /// Every terminal has a valve whose position can be trended.
    pub valves: bool,
    pub varied_speed: bool,
    pub no_reset: bool,
    pub curve_at_plant: bool,
    pub several_duty: bool,
    pub two_pumps: bool,
    pub always_on: bool,
    pub scheduled: bool,
    pub bypass: bool,
    pub high_load: bool,
    pub low_load: bool,
    pub low_zero: bool,
    pub maker_said: bool,
    pub run_out: bool,
    /// Heads asked over heads needed [-].
    pub head_factor: f64,
}

const ZONES: [(&str, bool); 8] = [
    ("Europe/Madrid", false),
    ("Europe/Vienna", false),
    ("Europe/Helsinki", false),
    ("America/New_York", true),
    ("America/Denver", true),
    ("Asia/Tokyo", false),
    ("Europe/London", false),
    ("America/Toronto", true),
];

pub fn building(seed: u64, days: u32, wish: &Wish) -> Building {
    let mut c = Chance::new(seed, 1);
    let heating = c.yes(0.45);
    let (zone, _) = c.pick(&ZONES);
    let site = site(&mut c, zone, heating, days);
    let weather = weather(&mut c, heating, wish);
    let constant = !wish.varied_speed && !wish.bypass && c.yes(0.07);
    let supply_c = if heating { c.between(58.0, 80.0) } else { c.between(5.5, 8.0) };
    let delta = if heating { c.between(10.0, 20.0) } else { c.between(5.0, 7.5) };
    let return_c = if heating { supply_c - delta } else { supply_c + delta };
    let water = Water::at(supply_c);
    let radiators = heating && !wish.valves && !constant && c.yes(0.4);
    let mut coils = coils(&mut c, &Terms { heating, supply_c, delta, constant, radiators, wish: *wish });
    let design_flow: f64 = coils.iter().map(|k| k.flow).sum();
    let (pipes, loss) = pipes(&mut c, &coils, design_flow, water);
    let (header, index) = balance(&mut c, &mut coils, &loss);
    let primary = c.yes(if heating { 0.35 } else { 0.5 });
    let with_bypass = wish.bypass || (!constant && (primary || !coils.iter().any(|k| k.valve.three_way)));
    let least = design_flow * c.between(0.14, 0.28);
    let bypass = with_bypass.then(|| Bypass {
        valve: Valve {
            three_way: false,
            equal_percentage: c.yes(0.5),
            rangeability: c.between(20.0, 60.0),
            stroke_min: c.between(1.0, 2.5),
            dead_band: 0.01,
            play: 0.005,
            k_open: 0.45 * header / (1.35 * least * 1.35 * least),
            k_port: 0.0,
        },
        least_flow: least,
    });
    let k_plant =
        header * if primary { c.between(0.15, 0.35) } else { c.between(0.04, 0.10) } / (design_flow * design_flow);
    let most = if c.yes(0.25) { 3 } else { 2 };
    let duty = if wish.several_duty || c.yes(0.3) { c.whole(2, most) } else { 1 };
    let spare = duty < 3 && (wish.two_pumps && duty == 1 || c.yes(0.4));
    let at_pump = c.yes(0.35);
    let each = design_flow / duty as f64;
    let k_local = header * c.between(0.03, 0.08) / (each * each);
    let main_loss = k_plant * design_flow * design_flow + if at_pump { k_local * each * each } else { 0.0 };
    let need_kpa = header + main_loss;
    let need_zero_kpa = coils[index].branch_need(coils[index].flow, 0.95)
        * if wish.low_zero { c.between(0.35, 0.5) } else { c.between(0.75, 1.0) };
    let control = control(&mut c, wish, constant, at_pump, index, (need_kpa, need_zero_kpa), &coils);
    let pumps = pumps(&mut c, duty + usize::from(spare), each, &control, k_local, heating);
    let maker_least = c.pick(&[0.2, 0.25, 0.3, 0.3, 0.35, 0.4]);
    let schedule = schedule(&mut c, wish);
    let steady_week = (days >= 21 && c.yes(0.25)).then(|| c.whole(0, 2));
    let mut building = Building {
        name: c.pick(&["Lindenhof", "Harrow Court", "Casa Tejo", "North Annex", "Mill Lane 4", "Pavilion C"]).into(),
        site,
        seed,
        heating,
        weather,
        water,
        coils,
        pipes,
        k_plant,
        topology: if primary { "primary-only" } else { "secondary" },
        source_least: (primary && with_bypass).then_some(least),
        bypass,
        pumps,
        duty,
        design_flow,
        need_kpa,
        need_zero_kpa,
        supply_c,
        return_c,
        supply: supply(&mut c, heating, supply_c),
        control,
        schedule,
        run_on_min: if c.yes(0.5) { c.whole(4, 15) } else { 0 },
        optimum_h: if c.yes(0.5) { c.between(0.5, 2.2) } else { 0.0 },
        frost_c: heating.then(|| c.between(1.0, 4.0).round()),
        exercise: c.yes(0.5),
        rotate: c.yes(0.6),
        steady_week,
        staging: staging(&mut c, each),
        maker_least,
        maker_said: wish.maker_said || c.yes(0.8),
        mischief: Mischief::default(),
    };
    building.control.floor = ((maker_least + c.between(0.0, 0.025)) * 100.0).round() / 100.0;
    building
}

fn site(c: &mut Chance, zone: &'static str, heating: bool, days: u32) -> Site {
    let (month, year) = if heating { (c.pick(&[11, 12, 1, 2]), 2024) } else { (c.pick(&[5, 6, 7, 8, 9]), 2025) };
    let year = if month < 3 { year + 1 } else { year };
    let first = NaiveDate::from_ymd_opt(year, month, c.whole(1, 28) as u32).expect("a day that every month has");
    let tz: chrono_tz::Tz = zone.parse().expect("a zone of the list");
    let start = tz.from_local_datetime(&first.and_hms_opt(0, 0, 0).expect("midnight")).earliest().expect("no gap");
    let start_ms = start.timestamp_millis();
    let civil = (0..=i64::from(days) * 24)
        .map(|h| {
            let utc = start_ms / 1000 + h * 3600;
            let at = chrono::DateTime::from_timestamp(utc, 0).expect("a near year").naive_utc();
            (utc + i64::from(tz.offset_from_utc_datetime(&at).fix().local_minus_utc())) / 60
        })
        .collect();
    let first_day = start.naive_local().date().signed_duration_since(NaiveDate::default()).num_days();
    let holidays = (0..c.whole(0, 2)).map(|_| first_day + c.whole(1, days.max(3) as usize - 2) as i64).collect();
    Site { zone, start_ms, days, civil, holidays }
}

fn weather(c: &mut Chance, heating: bool, wish: &Wish) -> Weather {
    let mean_c = match (heating, wish.high_load, wish.low_load) {
        (true, true, _) => c.between(-5.0, 0.0),
        (true, _, true) => c.between(5.0, 9.0),
        (true, _, _) => c.between(-3.0, 7.0),
        (false, true, _) => c.between(25.0, 29.0),
        (false, _, true) => c.between(17.0, 21.0),
        (false, _, _) => c.between(20.0, 27.0),
    };
    let swing_c = if heating { c.between(1.5, 4.0) } else { c.between(3.5, 6.5) };
    Weather { mean_c, swing_c, spread_c: c.between(1.8, 3.5), drift_c: c.between(-3.0, 3.0), shift: None }
}

struct Terms {
    heating: bool,
    supply_c: f64,
    delta: f64,
    constant: bool,
    radiators: bool,
    wish: Wish,
}

fn coils(c: &mut Chance, t: &Terms) -> Vec<Coil> {
    let n = c.whole(3, 12);
    let scale = c.log_between(18.0, 110.0);
    let style = c.whole(0, 3);
    // Some loops have one terminal with a three-way valve that keeps water moving.
    let mover = (!t.wish.valves && c.yes(0.25)).then(|| c.whole(0, n - 1));
    let mut airs = 0;
    (0..n)
        .map(|i| {
            let kind = if t.radiators && c.yes(0.6) {
                Kind::Radiator
            } else if c.yes(0.55) || (i < 2 && t.wish.valves) {
                Kind::Air
            } else {
                Kind::FanCoil
            };
            airs += usize::from(kind == Kind::Air);
            let name = match (kind, style) {
                (Kind::Air, 0) => format!("AHU{}", i + 1),
                (Kind::Air, 1) => format!("LZ-{:02}", i + 1),
                (Kind::Air, 2) => format!("AH-{}", (b'A' + i as u8) as char),
                (Kind::Air, _) => format!("Air handler {}", i + 1),
                (Kind::FanCoil, 0) => format!("FC{}", i + 1),
                (Kind::FanCoil, _) => format!("FCG-{}", i + 1),
                (Kind::Radiator, _) => format!("RAD {}", i + 1),
            };
            coil(c, name, kind, scale, t, t.constant || mover == Some(i))
        })
        .collect()
}

fn coil(c: &mut Chance, name: String, kind: Kind, scale: f64, t: &Terms, three_way: bool) -> Coil {
    let load_kw = scale * c.log_between(0.5, 2.0);
    let flow = load_kw / (WATER_KWH * t.delta);
    let (entering, set) = match (t.heating, kind) {
        (false, Kind::Air) => (26.4, c.between(13.0, 15.0)),
        (false, _) => (24.0, 13.5),
        (true, Kind::Air) => (8.0, c.between(24.0, 32.0)),
        (true, _) => (21.0, 38.0),
    };
    let air = load_kw / f64::abs(entering - set);
    let wanted = (entering - set).abs() / (entering - t.supply_c).abs() * c.between(1.02, 1.10);
    let bundle =
        Bundle { air, water: WATER_KWH * flow, ua: 1.0, inside: c.between(0.2, 0.4), laminar: c.between(0.05, 0.22) }
            .sized(wanted.min(0.86));
    let panel = (kind == Kind::Radiator).then(|| {
        let (a, b) = (t.supply_c - 21.0, t.supply_c - t.delta - 21.0);
        let size = bundle.water * (libm::pow(b, -0.3) - libm::pow(a, -0.3)) / 0.3;
        Panel::new(bundle.water, size)
    });
    let valve_kpa = c.between(12.0, 32.0);
    let valve = Valve {
        three_way,
        equal_percentage: !three_way && c.yes(0.8),
        rangeability: c.between(20.0, 80.0),
        stroke_min: c.between(1.0, 3.0),
        dead_band: c.between(0.004, 0.015),
        play: c.between(0.0, 0.012),
        k_open: valve_kpa / (flow * flow),
        k_port: 0.0,
    };
    let coil_kpa = if kind == Kind::Radiator { c.between(3.0, 9.0) } else { c.between(10.0, 32.0) };
    let fouled = Bundle { ua: bundle.ua, ..bundle };
    let room = room(c, load_kw, t.heating);
    let clean = bundle.table();
    Coil {
        name,
        kind,
        count: if kind == Kind::Air { 1 } else { c.whole(4, 24) as u32 },
        flow,
        load_kw,
        valve,
        k_fixed: coil_kpa / (flow * flow),
        fouled: if kind == Kind::Radiator { clean.clone() } else { fouled.table() },
        clean,
        bundle,
        panel,
        air_set: set,
        outdoor_share: c.between(0.2, 0.5),
        variable_air: kind == Kind::Air && c.yes(0.5),
        room,
        gain: if kind == Kind::Air { c.between(0.015, 0.035) } else { c.between(0.15, 0.35) },
        reset_min: if kind == Kind::Air { c.between(5.0, 9.0) } else { c.between(25.0, 50.0) },
        own: if t.wish.high_load { c.between(1.0, 1.2) } else { c.between(0.85, 1.1) },
        critical_hours: kind != Kind::Radiator && c.yes(0.12),
    }
}

fn room(c: &mut Chance, load: f64, heating: bool) -> Room {
    Room {
        air_kwh_k: load * c.between(0.04, 0.08),
        mass_kwh_k: load * c.between(0.4, 0.9),
        between_kw_k: load * c.between(0.035, 0.06),
        outside_kw_k: load * if heating { c.between(0.024, 0.029) } else { c.between(0.010, 0.018) },
        people_kw: load * if heating { 0.12 } else { c.between(0.3, 0.45) },
        sun_kw: load * if heating { 0.15 } else { c.between(0.3, 0.5) },
        set_c: if heating { c.between(20.0, 22.0) } else { c.between(22.5, 24.5) },
        setback_c: if heating { c.between(15.0, 17.0) } else { c.between(27.0, 29.0) },
    }
}

/// The pipes, and each coil's loss on the way to it and back at design flow [kPa].
fn pipes(c: &mut Chance, coils: &[Coil], design_flow: f64, water: Water) -> (Pipes, Vec<f64>) {
    let n = coils.len();
    let gradient = c.between(120.0, 320.0);
    let mut loss = vec![0.0; n];
    if c.yes(0.4) {
        let (mut ahead, mut behind) = (design_flow, 0.0);
        let (mut before, mut back) = (Vec::new(), Vec::new());
        for coil in coils {
            behind += coil.flow;
            before.push(Stretch::sized(ahead, c.between(8.0, 30.0), gradient, water));
            back.push(Stretch::sized(behind, c.between(8.0, 30.0), gradient, water));
            ahead -= coil.flow;
        }
        let total = |s: &[Stretch], flows: &dyn Fn(usize) -> f64| -> Vec<f64> {
            s.iter().enumerate().map(|(j, s)| s.k * flows(j) * flows(j)).collect()
        };
        let after = |j: usize| coils[j..].iter().map(|k| k.flow).sum::<f64>();
        let until = |j: usize| coils[..=j].iter().map(|k| k.flow).sum::<f64>();
        let (out, home) = (total(&before, &after), total(&back, &until));
        for i in 0..n {
            loss[i] = out[..=i].iter().sum::<f64>() + home[i..].iter().sum::<f64>();
        }
        return (Pipes { layout: Layout::Reverse { back }, before }, loss);
    }
    let count = if n >= 6 { c.whole(2, 3) } else { 1 };
    let mut risers: Vec<Vec<usize>> = vec![Vec::new(); count];
    for i in 0..n {
        risers[i * count / n].push(i);
    }
    let mut before = vec![Stretch { diameter_m: 0.1, length_m: 1.0, k: 0.0 }; n];
    let mut feeds = Vec::new();
    for riser in &risers {
        let mut flow: f64 = riser.iter().map(|i| coils[*i].flow).sum();
        let feed = Stretch::sized(flow, c.between(20.0, 120.0), gradient, water);
        let mut lost = feed.k * flow * flow;
        feeds.push(feed);
        for i in riser {
            before[*i] = Stretch::sized(flow, c.between(14.0, 60.0), gradient, water);
            lost += before[*i].k * flow * flow;
            loss[*i] = lost;
            flow -= coils[*i].flow;
        }
    }
    (Pipes { layout: Layout::Tree { risers, feeds }, before }, loss)
}

/// Balancing valves take up part of what is too much; gives the head between the building's headers and the neediest coil.
fn balance(c: &mut Chance, coils: &mut [Coil], loss: &[f64]) -> (f64, usize) {
    let need = |coil: &Coil, lost: f64| lost + coil.branch_need(coil.flow, 0.95);
    let needs: Vec<f64> = coils.iter().zip(loss).map(|(k, l)| need(k, *l)).collect();
    let index = (0..coils.len()).max_by(|a, b| needs[*a].total_cmp(&needs[*b])).unwrap_or(0);
    let header = needs[index];
    let done = c.between(0.4, 1.0);
    for (coil, n) in coils.iter_mut().zip(&needs) {
        let spare = (header - n) * done * c.between(0.7, 1.0);
        coil.k_fixed += spare.max(0.0) / (coil.flow * coil.flow);
        let q2 = coil.flow * coil.flow;
        coil.valve.k_port = (coil.k_fixed * q2 - coil.valve.k_open * q2 * 0.2).max(0.3 * coil.k_fixed * q2) / q2;
    }
    (header, index)
}

fn control(
    c: &mut Chance,
    wish: &Wish,
    constant: bool,
    at_pump: bool,
    index: usize,
    (need, zero): (f64, f64),
    coils: &[Coil],
) -> Control {
    let mode = if constant {
        Mode::Fixed
    } else if wish.low_zero {
        Mode::Quadratic
    } else if wish.curve_at_plant {
        c.pick(&[Mode::Constant, Mode::Proportional, Mode::Quadratic, Mode::Quadratic])
    } else {
        c.pick(&[Mode::Constant, Mode::Remote, Mode::Remote, Mode::Proportional, Mode::Quadratic, Mode::Quadratic])
    };
    let factor = wish.head_factor * c.between(1.0, 1.06);
    let branch = coils[index].branch_need(coils[index].flow, 0.95);
    let set_kpa = factor * if mode == Mode::Remote { branch } else { need };
    let reset = (!wish.no_reset && mode == Mode::Remote && c.yes(0.4)).then_some((0.4 * set_kpa, set_kpa));
    Control {
        mode,
        at_pump: at_pump && mode != Mode::Remote,
        zero_kpa: (factor * zero).min(0.95 * factor * need),
        design_kpa: factor * need,
        set_kpa,
        sensor: index,
        reset,
        floor: 0.3,
        top: if c.yes(0.8) { 1.0 } else { c.between(0.95, 1.0) },
        fixed: 1.0,
        regulator: c.pick(&[Regulator::Pi, Regulator::Steps]),
        ramp: c.between(0.04, 0.15),
        earlier: None,
    }
}

fn pumps(c: &mut Chance, count: usize, each: f64, control: &Control, k_local: f64, heating: bool) -> Vec<Pump> {
    let shape = if c.yes(0.5) {
        Shape::Quartic { top: c.between(1.16, 1.42), mix: c.between(0.55, 0.95) }
    } else {
        let end = c.between(1.8, 2.3);
        Shape::Rational { top: c.between(1.01, 1.14) / (1.0 - 1.0 / (end * end)), end }
    };
    let top = match shape {
        Shape::Quartic { top, .. } | Shape::Rational { top, .. } => top,
    };
    let mut one = Pump {
        name: String::new(),
        shape,
        q_b: each / c.between(0.95, 1.15),
        h_b: control.design_kpa,
        eta: c.between(0.70, 0.86),
        leak: c.between(0.02, 0.05),
        // Power at no flow is then four to six tenths of that at the best point.
        left: top * c.between(1.6, 2.3),
        right: c.between(0.6, 1.1),
        disc: c.between(0.03, 0.07),
        sink: c.between(0.01, 0.04),
        head_f: 1.0,
        power_f: 1.0,
        k_local,
        motor: Motor {
            permanent: c.yes(0.2),
            rated_kw: 1.0,
            eta: 0.9,
            drive_eta: 0.97,
            true_eta: 0.9,
            true_drive_eta: 0.97,
            iron: c.between(0.3, 0.5),
            makes_up: false,
            slip: 0.0,
        },
    };
    let head_f = 1.0 + 0.022 * c.bell().clamp(-2.2, 2.2);
    let power_f = 1.0 + 0.035 * c.bell().clamp(-2.2, 2.2);
    one.motor.makes_up = c.yes(0.35);
    let q_b = one.q_b;
    select(&mut one, each, control, q_b);
    let plates = (0.004 * c.bell(), 0.004 * c.bell());
    one.motor.true_eta = one.motor.eta + plates.0;
    one.motor.true_drive_eta = (one.motor.drive_eta + plates.1).min(0.985);
    let style = c.whole(0, 3);
    (0..count)
        .map(|i| {
            let letter = (b'A' + i as u8) as char;
            let name = match style {
                0 => format!("{}P-{}", if heating { "HW" } else { "CHW" }, i + 1),
                1 => format!("PU{:02}", i + 1),
                2 => format!("Pump {letter}"),
                _ => format!("{}.P{}", if heating { "H2" } else { "K2" }, i + 1),
            };
            let own = (0.004 * c.bell(), 0.006 * c.bell());
            Pump { name, head_f: head_f + own.0, power_f: power_f + own.1, ..one.clone() }
        })
        .collect()
}

/// Chooses the size for a best-efficiency flow: the design head at 94 % speed; then motor and plates.
pub fn select(pump: &mut Pump, each: f64, control: &Control, q_b: f64) {
    const SIZES: [f64; 18] =
        [0.37, 0.55, 0.75, 1.1, 1.5, 2.2, 3.0, 4.0, 5.5, 7.5, 11.0, 15.0, 18.5, 22.0, 30.0, 37.0, 45.0, 75.0];
    let head = control.design_kpa + if control.at_pump { 0.0 } else { pump.k_local * each * each };
    pump.q_b = q_b;
    let s: f64 = if control.mode == Mode::Fixed { 1.0 } else { 0.94 };
    let (h, _) = pump.shape.at(each / (s * q_b));
    pump.h_b = head / (s * s * h.max(0.12));
    let most = (0..=15).map(|j| pump.type_shaft(0.1 * f64::from(j) * q_b, 1.0)).fold(0.0, f64::max);
    let kw = SIZES.into_iter().find(|k| *k > 1.06 * most).unwrap_or(1.1 * most);
    // Efficiency of a good motor of this size (a smooth stand-in for the plates).
    let eta = (0.962 - 0.085 / libm::pow(kw, 0.42)).clamp(0.74, 0.96);
    let m = &mut pump.motor;
    m.rated_kw = kw;
    m.true_eta += eta - m.eta;
    m.eta = (eta * 1000.0).round() / 1000.0;
    m.slip = if m.permanent || m.makes_up { 0.0 } else { 0.045 / libm::pow(kw + 0.5, 0.3) };
}

fn schedule(c: &mut Chance, wish: &Wish) -> Vec<Period> {
    if wish.always_on || (!wish.scheduled && c.yes(0.3)) {
        return Vec::new();
    }
    let work = [true, true, true, true, true, false, false];
    let half = |h: f64| (2.0 * h).round() / 2.0;
    let mut all = vec![Period { days: work, from_h: half(c.between(5.0, 7.5)), to_h: half(c.between(17.0, 22.0)) }];
    if c.yes(0.3) {
        let days = [false, false, false, false, false, true, false];
        all.push(Period { days, from_h: 7.0, to_h: half(c.between(12.0, 16.0)) });
    }
    all
}

fn supply(c: &mut Chance, heating: bool, design: f64) -> Supply {
    let (ripple_k, ripple_min) = (c.between(0.05, if heating { 0.8 } else { 0.3 }), c.between(9.0, 30.0));
    if heating {
        let mild = (design - c.between(18.0, 30.0)).max(36.0);
        Supply { at: (-10.0, 14.0), gives: (design, mild), ripple_k, ripple_min }
    } else {
        let up = if c.yes(0.4) { c.between(1.0, 3.0) } else { 0.0 };
        Supply { at: (16.0, 26.0), gives: (design + up, design), ripple_k, ripple_min }
    }
}

fn staging(c: &mut Chance, each: f64) -> Staging {
    let by_speed = c.yes(0.5);
    let (up, down) = if by_speed {
        (c.between(0.93, 0.97), c.between(0.60, 0.68))
    } else {
        (each * 0.97, each * c.between(0.82, 0.9))
    };
    Staging { by_speed, up, up_min: c.whole(6, 12) as u32, down, down_min: c.whole(8, 20) as u32 }
}

//! Operating points against invented plants: a fast subset of what `cargo run --release --example score-points` scores, and the yardstick's own checks.

use crate::invented::chances::{self, Chances, Known, Place};
use crate::invented::machine::{self, COUNT, HEAD_LEVEL, HEAD_TILT, LOSS_LN, POWER_GAIN, POWER_LEVEL};
use crate::invented::nuisance::{self as table, ReadAt, Service, Spread};
use crate::invented::oracle::{Tangent, Told, bound};
use crate::invented::plant::{self, Held, Key, Plant, run};
use crate::invented::score::{self, Outcome, Set};
use crate::invented::table::{Group, figures};

/// Plants of the fast subset: enough to see an interval that lies, few enough for seconds.
const SUBSET: u64 = 120;
/// Bound on coverage over plants that any trended set must keep.
const LEAST_COVERAGE: f64 = 0.90;

#[test]
fn intervals_are_true_over_invented_plants() {
    let numbers: Vec<u64> = (0..SUBSET).collect();
    let sets = [Set::HeadPower, Set::Head, Set::Power];
    let outcomes = score::many(&numbers, |n| score::single(n, &sets));
    let all: Vec<&Outcome> = outcomes.iter().flatten().collect();
    let found = sets.map(|set| (set.word(), figures(&all, set, 0, Group::All).expect("plants in every set")));
    for (name, f) in found {
        println!("{name}: {} plants, coverage {:.3} (lower bound {:.3})", f.plants, f.coverage, f.coverage_low);
    }
    for (name, f) in found {
        assert!(f.plants as u64 * 20 >= SUBSET * 19, "{name}: only {} of {SUBSET} plants have rows", f.plants);
        assert!(
            f.coverage_low >= LEAST_COVERAGE,
            "{name}: coverage over plants has a lower bound of {}",
            f.coverage_low
        );
    }
}

/// Loop flow of two and three pumps: a few plants, so the mean is held and not its lower bound.
#[test]
fn loop_flow_of_pumps_in_parallel_is_true_over_invented_plants() {
    let numbers: Vec<u64> = (0..SUBSET / 3).collect();
    let outcomes = score::many(&numbers, score::parallel);
    let all: Vec<&Outcome> = outcomes.iter().flatten().collect();
    for set in Set::PARALLEL {
        let f = figures(&all, set, 0, Group::All).expect("plants in every set");
        println!("{}: {} plants, coverage {:.3} (lower bound {:.3})", set.word(), f.plants, f.coverage, f.coverage_low);
        assert!(f.coverage >= LEAST_COVERAGE, "{}: mean coverage over plants {}", set.word(), f.coverage);
    }
}

/// Half-speed plants are what their name says: most of their rows lie at 40 to 60 % speed, and few of the others' do.
#[test]
fn half_speed_plants_run_at_half_speed() {
    let share = |half: bool| {
        let plants: Vec<Plant> = (0..300).map(Plant::single).filter(|p| p.half_speed == half).collect();
        let of_plant = |p: &Plant| {
            let record = run(p, Held::AtPump);
            let running: Vec<f64> = record.shown.iter().copied().filter(|s| *s > 0.0).collect();
            running.iter().filter(|s| (0.38..=0.62).contains(*s)).count() as f64 / running.len() as f64
        };
        plants.iter().map(of_plant).sum::<f64>() / plants.len() as f64
    };
    let (half, others) = (share(true), share(false));
    println!("rows near half speed: {half:.2} of half-speed plants, {others:.2} of the others");
    assert!(half > 0.7 && others < 0.4, "{half} and {others}");
}

fn moments(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt())
}

/// What is drawn is what the table says: means within four standard errors, standard deviations within a tenth.
#[test]
fn plants_are_drawn_from_the_table() {
    let plants: Vec<Plant> = (0..1500).map(Plant::single).collect();
    let check = |name: &str, spread: Spread, values: &[f64]| {
        let ((mean, sd), (wanted, wanted_sd)) = (moments(values), spread.moments());
        let error = wanted_sd / (values.len() as f64).sqrt();
        assert!((mean - wanted).abs() < 4.0 * error, "{name}: mean {mean}, the table has {wanted}");
        assert!((sd / wanted_sd - 1.0).abs() < 0.10, "{name}: standard deviation {sd}, the table has {wanted_sd}");
    };
    let of = |k: usize| plants.iter().map(|p| p.machines[0].truth[k]).collect::<Vec<f64>>();
    let usual = || plants.iter().filter(|p| !p.half_speed);
    check("head level", table::HEAD_LEVEL, &of(HEAD_LEVEL));
    check("head tilt", table::HEAD_TILT, &of(HEAD_TILT));
    check("power level", table::POWER_LEVEL, &of(POWER_LEVEL));
    check("loss", table::LOSS_LN, &of(LOSS_LN));
    check("power gain", table::POWER_GAIN, &of(POWER_GAIN));
    check("friction", table::FRICTION, &of(machine::FRICTION));
    check("head gain", table::HEAD_GAIN, &of(machine::HEAD_GAIN));
    check("design head", table::DESIGN_HEAD_KPA, &plants.iter().map(|p| p.design_head).collect::<Vec<_>>());
    check("design flow", table::DESIGN_FLOW_M3H, &plants.iter().map(|p| p.design_flow).collect::<Vec<_>>());
    check("place", table::PLACE, &usual().map(|p| p.design_flow / p.machines[0].sheet.best_flow).collect::<Vec<_>>());
    check("meter gain", table::METER_GAIN, &plants.iter().map(|p| p.truth[plant::METER_GAIN]).collect::<Vec<_>>());
    check("setpoint", table::SETPOINT_SCALE, &plants.iter().map(|p| p.truth[plant::SETPOINT]).collect::<Vec<_>>());
    let share = |name: &str, wanted: f64, of: &dyn Fn(&Plant) -> bool| {
        let found = plants.iter().filter(|p| of(p)).count() as f64 / plants.len() as f64;
        let error = (wanted * (1.0 - wanted) / plants.len() as f64).sqrt();
        assert!((found - wanted).abs() < 4.0 * error, "{name}: {found}, the table has {wanted}");
    };
    share("heating", 0.35, &|p| p.service == Service::Heating);
    share("drive input", 0.85, &|p| p.machines[0].read_at == ReadAt::DriveInput);
    share("no slip", table::PERMANENT_MAGNET, &|p| p.machines[0].permanent);
    share("separation of losses", 0.45, &|p| p.machines[0].loss == table::Loss::Separation);
    share("half speed", table::HALF_SPEED, &|p| p.half_speed);
    share("nameplate", table::NAMEPLATE, &|p| p.plate_declared);
}

/// Moments of spreads with a closed form: even, (b - a) / sqrt(12); log-even, (b - a) / ln(b / a).
#[test]
fn moments_of_spreads_are_those_of_the_books() {
    let (mean, sd) = Spread::Even(2.0, 5.0).moments();
    assert!((mean - 3.5).abs() < 1e-9 && (sd - 3.0 / 12.0_f64.sqrt()).abs() < 1e-5);
    assert!((Spread::LogEven(8.0, 250.0).moments().0 - 242.0 / (250.0_f64 / 8.0).ln()).abs() < 0.01);
    // Cut at one standard deviation either side: variance 1 - 2 phi(1) / (2 Phi(1) - 1) = 0.2911.
    assert!((Spread::Within(0.0, 1.0, -1.0, 1.0).moments().1.powi(2) - 0.2911).abs() < 1e-3);
}

/// Densities [kg/m3]: IAPWS-IF97 at 0.1 MPa, and Melinder (IIR 2010) through CoolProp 8.0.0. The truth's own fits stay within 0.05 % of them.
#[test]
fn fluids_of_invented_plants_are_those_of_the_books() {
    for (service, share, t, wanted) in [
        (Service::Chilled, 0.0, 7.0, 999.904),
        (Service::Heating, 0.0, 60.0, 983.2106),
        (Service::Heating, 0.0, 82.0, 970.5457),
        (Service::ColdEthylene, 0.30, 5.0, 1043.47),
        (Service::ColdPropylene, 0.40, 5.0, 1040.06),
    ] {
        let found = plant::fluid(service, share, t).density;
        assert!((found / wanted - 1.0).abs() < 5e-4, "{service:?} at {t} degC: {found}, the book has {wanted}");
    }
}

/// With a meter alone the sharpest doubt is known on paper: its gain, its zero and its noise, against a flat prior over the table's range.
#[test]
fn the_oracle_of_a_lone_meter_is_arithmetic() {
    let plant = Plant::single(3);
    let record = run(&plant, Held::AtPump);
    let rows: Vec<usize> = (0..record.rows).step_by(16).filter(|i| record.total(*i) > 0.0).collect();
    let tangent = Tangent::new(&plant, &record, rows.clone(), Told::Draw);
    for (row, sharpest) in rows.iter().zip(bound(&plant, &record, &tangent, &[Key::Meter])) {
        let q = record.total(*row);
        let gain = 1.0 + plant.truth[plant::METER_GAIN];
        let parts = [table::METER_GAIN.sd() * q, table::METER_ZERO.sd() * plant.design_flow, table::METER_NOISE * q];
        let meter = parts.iter().map(|p| p * p).sum::<f64>() / gain.powi(2);
        let range = plant.machines[0].sheet.end_flow * record.shown[*row];
        let wanted = (1.0 / (1.0 / meter + 12.0 / range.powi(2))).sqrt();
        assert!((sharpest.total / wanted - 1.0).abs() < 0.01, "{} at {q} m3/h, on paper {wanted}", sharpest.total);
    }
}

/// More witnesses never blunt the oracle, and what is common to all rows does not average out: twice the departures, a wider bound.
#[test]
fn the_oracle_sharpens_with_witnesses_and_blunts_with_departures() {
    for number in 0..20 {
        let plant = Plant::single(number);
        let record = run(&plant, Held::AtPump);
        let rows: Vec<usize> = (0..record.rows).step_by(16).filter(|i| record.total(*i) > 0.0).collect();
        let tangent = Tangent::new(&plant, &record, rows, Told::Chances(chances::FROZEN));
        let mean = |plant: &Plant, keys: &[Key]| {
            let all = bound(plant, &record, &tangent, keys);
            all.iter().map(|s| s.total).sum::<f64>() / all.len() as f64
        };
        let both = mean(&plant, &[Key::Head(0), Key::Power(0)]);
        let (head, power) = (mean(&plant, &[Key::Head(0)]), mean(&plant, &[Key::Power(0)]));
        assert!(both < 1.02 * head.min(power), "plant {number}: {both} with both, {head} and {power} alone");
        let mut worse = plant.clone();
        for k in 0..COUNT {
            worse.machines[0].prior_sd[k] *= 2.0;
        }
        assert!(mean(&worse, &[Key::Head(0), Key::Power(0)]) > 1.2 * both, "plant {number}");
    }
}

/// The oracle's mean standard deviation under points, told the draw and told these chances.
fn both_oracles(plant: &Plant, chances: Chances, keys: &[Key]) -> [f64; 2] {
    let held = if plant.machines.len() > 1 { Held::AtHeader } else { Held::AtPump };
    let record = run(plant, held);
    let rows: Vec<usize> = (0..record.rows).step_by(8).filter(|i| record.total(*i) > 0.0).collect();
    [Told::Draw, Told::Chances(chances)].map(|told| {
        let tangent = Tangent::new(plant, &record, rows.clone(), told);
        let all = bound(plant, &record, &tangent, keys);
        all.iter().map(|s| s.total).sum::<f64>() / all.len() as f64
    })
}

const TRENDED: [&[Key]; 3] = [&[Key::Head(0), Key::Power(0)], &[Key::Power(0)], &[Key::Power(0), Key::Meter]];

/// Where nothing is left to chance, both oracles know the same. With the scatter of loss alone it is one shared error of known size: within what
/// a standard deviation from some hundred draws is good for.
#[test]
fn the_oracle_without_chances_is_the_one_that_knows_the_draw() {
    const CERTAIN: Chances = Chances {
        loss: &[(table::Loss::Constant, 1.0)],
        loss_ln: Spread::Normal(0.0, 0.0),
        read_at: &[(ReadAt::DriveInput, 1.0)],
        slip_hidden: 0.0,
    };
    for number in 0..20 {
        let mut plant = Plant::single(number);
        let hidden = f64::from(u8::from(plant.machines[0].slip_hidden));
        let m = &mut plant.machines[0];
        (m.loss, m.read_at) = (table::Loss::Constant, ReadAt::DriveInput);
        for k in (machine::SHAPE..machine::SHAPE + 8).chain([LOSS_LN]) {
            (m.truth[k], m.prior_sd[k]) = (0.0, 0.0);
        }
        let chances = Chances { slip_hidden: hidden, ..CERTAIN };
        for keys in TRENDED {
            let [draw, told] = both_oracles(&plant, chances, keys);
            assert!((told / draw - 1.0).abs() < 0.005, "plant {number}, {keys:?}: {told} and {draw}");
        }
        // A sheet of the drive's input ties shaft power to the bench's loss: not one error alone.
        if plant.table.drive_input {
            continue;
        }
        plant.machines[0].prior_sd[LOSS_LN] = 0.3;
        let chances = Chances { loss_ln: Spread::Normal(0.0, 0.3), ..chances };
        for keys in TRENDED {
            let [draw, told] = both_oracles(&plant, chances, keys);
            assert!((told / draw - 1.0).abs() < 0.10, "plant {number}, {keys:?}, loss: {told} and {draw}");
        }
    }
}

/// What the oracle takes for known of power is true of plants as they are drawn: the plant's own reading, at its true shaft power and speed, lies about the mean with the
/// standard deviation said, whether the place of reading is declared or not. Sheets that print the drive's input are a group of their own: they know more.
#[test]
fn the_oracle_knows_power_as_plants_are_drawn() {
    let mut groups: [Vec<f64>; 3] = [const { Vec::new() }; 3];
    let mut sharper = Vec::new();
    for number in 0..800 {
        let plant = Plant::single(number);
        let record = run(&plant, Held::AtPump);
        let Some(row) = (48..record.rows).find(|i| record.total(*i) > 0.0) else { continue };
        let (machine, flow, shown) = (&plant.machines[0], record.flow[0][row], record.shown[row]);
        let speed = machine.speed(&machine.truth, flow, shown);
        let shaft_kw = machine.shaft_power(&machine.truth, flow, speed);
        let place = Place { pump: 0, flow, speed, shaft_kw, others_kw: Vec::new() };
        let known = |plant: &Plant| chances::FROZEN.known(plant, std::slice::from_ref(&place)).remove(0);
        let doubt = |k: &Known| (k.shared.iter().map(|s| s * s).sum::<f64>() + k.rest).sqrt();
        let here = known(&plant);
        let sd = doubt(&here);
        if plant.table.drive_input && plant.read_at_declared && machine.read_at == ReadAt::DriveInput {
            let mut of_shaft = plant.clone();
            of_shaft.table.drive_input = false;
            sharper.push(sd / doubt(&known(&of_shaft)));
        }
        let real = machine.power_at(&machine.truth, shaft_kw, speed, machine.read_at);
        // A declared reading of the shaft's own power leaves nothing to know.
        if sd > 1e-9 {
            let group = if plant.read_at_declared { usize::from(plant.table.drive_input) } else { 2 };
            groups[group].push((real - here.mean_kw) / sd);
        }
    }
    // The sheet holds the loss at rated speed, and the record's speeds lie below.
    let (ratio, _) = moments(&sharper);
    println!("doubt with a sheet of drive input over that with one of the shaft: {ratio:.2}");
    assert!(ratio < 0.9, "{ratio}");
    for (name, z) in
        ["declared, sheet of the shaft", "declared, sheet of drive input", "undeclared"].iter().zip(&groups)
    {
        let (mean, sd) = moments(z);
        println!("{name}: {} plants, mean {mean:.3}, standard deviation {sd:.3}", z.len());
        // Four standard errors: of a mean, and of a standard deviation under the tails that are seen (a rare place of reading makes them
        // heavy): the variance of a variance is (fourth moment - variance squared) / n.
        let n = z.len() as f64;
        let fourth = z.iter().map(|v| (v - mean).powi(4)).sum::<f64>() / n;
        assert!(mean.abs() < 4.0 / n.sqrt(), "{name}: mean {mean} of {n}");
        assert!(
            (sd - 1.0).abs() < 4.0 * ((fourth / sd.powi(4) - 1.0) / (4.0 * n)).sqrt(),
            "{name}: standard deviation {sd} of {n}"
        );
    }
}

/// Who is told less is not sharper: on the average over plants, for each trended set.
#[test]
fn the_oracle_told_chances_is_no_sharper_than_the_one_that_knows_the_draw() {
    for keys in TRENDED {
        let numbers: Vec<u64> = (0..60).collect();
        let ratios = score::many(&numbers, |n| {
            let [draw, told] = both_oracles(&Plant::single(n), chances::FROZEN, keys);
            told / draw
        });
        let mean = ratios.iter().sum::<f64>() / ratios.len() as f64;
        let least = ratios.iter().copied().fold(f64::MAX, f64::min);
        println!("{keys:?}: told chances over told the draw, {mean:.3}, least {least:.3}");
        assert!(mean > 0.97, "{keys:?}: {mean}");
    }
}

/// The truth keeps the first law: efficiency from shaft to water below one, electric power above the shaft's, and every reading finite.
#[test]
fn invented_plants_are_possible() {
    for number in 0..200 {
        let plant = Plant::single(number);
        let record = run(&plant, Held::AtPump);
        let machine = &plant.machines[0];
        for row in (0..record.rows).filter(|i| record.on[0][*i]) {
            let (flow, shown) = (record.flow[0][row], record.shown[row]);
            let speed = machine.speed(&machine.truth, flow, shown);
            let shaft = machine.shaft_power(&machine.truth, flow, speed);
            let water = flow / 3600.0 * machine.head(&machine.truth, flow, speed);
            let electric = machine.power_at(&machine.truth, shaft, speed, ReadAt::DriveInput);
            assert!(water > 0.0 && water < 0.90 * shaft, "plant {number}: {water} kW in water of {shaft} kW");
            // The handbooks' worst: small motors at a tenth of load lose a quarter of their rated power (US DOE 2014).
            let lost = electric - shaft;
            assert!(lost > 0.0 && lost < 0.45 * machine.motor_kw, "plant {number}: {lost} kW lost of {electric}");
            assert!((plant.floor - 1e-9..=1.0 + 1e-9).contains(&shown), "plant {number}: speed {shown}");
        }
        assert!(record.columns.iter().all(|(_, c)| c.values.iter().all(|v| v.is_finite())), "plant {number}");
    }
}

//! A row on each side of the limits on who moved: a long record's seasons, two pumps on one sensor, what is asked at all and what counts as having stayed.
//! What is varied is the only thing that differs between the two.

use super::thresholds::{two, wear};
use super::*;

fn named(r: &Rows, plant: &offcurve::plant::Plant) -> String {
    let found = |v: &Verdict| match v {
        Verdict::Found(f) if matches!(f.fault, Fault::SensorFault | Fault::PumpDegraded) => Some(f.subject.clone()),
        _ => None,
    };
    r.judge_all(plant).iter().filter_map(found).collect::<Vec<_>>().join(" ")
}

/// A misfit that comes with the load: so many days, of which the later half have more of it.
fn with_the_load(days: usize) -> Rows {
    let late = move |d: usize| f64::from(u8::from(d >= days / 2));
    let mut check = check_over(days, wear(0.12), late);
    for (d, day) in check.days.iter_mut().enumerate() {
        day.duty = 0.5 + 0.3 * late(d) + 0.15 * jitter(d + 11);
        // 0.12 over 0.3.
        day.pairs[..2].iter_mut().for_each(|p| *p -= 0.4 * 0.15 * jitter(d + 11));
    }
    rows_over(days, Some(check), false)
}

/// Two pumps on one head sensor, each with its story from its day on, the second's misfits noisier by so much.
fn two_pumps(first: (Story, usize), second: (Story, usize), noise: f64) -> (offcurve::plant::Plant, Rows) {
    let mut plant = declared::plant();
    plant.pumps.push(plant.pumps[0].clone());
    plant.pumps[1].name = "P-2".into();
    let mut r = Rows::new(&plant, 60, DAYS);
    let one = rows(None, false);
    for (k, (story, on)) in [first, second].into_iter().enumerate() {
        let p = &mut r.pumps[k];
        let q = &one.pumps[0];
        (p.state, p.speed, p.head) = (q.state.clone(), q.speed.clone(), q.head.clone());
        (p.power, p.flow) = (q.power.clone(), q.flow.clone());
        let mut check = check_of(story, |d| f64::from(u8::from(d >= on)));
        if k == 1 {
            let days = check.days.iter_mut().enumerate();
            days.for_each(|(d, day)| day.pairs.iter_mut().for_each(|v| *v += noise * jitter(d * 5 + 2)));
        }
        p.check = Some(check);
    }
    r.trends = one.trends;
    r.trends.retain(|s| s.role == Role::PumpHead);
    (plant, r)
}

const STILL: Story = Story { pairs: [0.0; 3], alone: [0.0; 3] };
/// A head sensor, as one pump shows it.
const SENSOR: Story = Story { pairs: [-0.12, -0.12, 0.0], alone: [-0.12, 0.0, 0.0] };

#[test]
fn thresholds_of_seasons_and_of_a_shared_sensor() {
    let plant = declared::plant();
    assert_eq!(named(&with_the_load(40), &plant), "P-1", "40 days: no season is asked");
    assert_eq!(named(&with_the_load(50), &plant), "", "50 days: what comes with the load is the season's");
    for (later, wanted) in [(2, ""), (3, "P-1 P-2")] {
        let (plant, r) = two_pumps((wear(0.12), ON), (wear(0.12), ON + later), 0.0);
        assert_eq!(named(&r, &plant), wanted, "both lose head, one {later} days later");
    }
    for (noise, wanted) in [(0.07, "dp"), (0.04, "P-1")] {
        let (plant, r) = two_pumps((SENSOR, ON), (STILL, ON), noise);
        assert_eq!(named(&r, &plant), wanted, "the other pump shows no change, its days differ by {noise}");
    }
}

#[test]
fn thresholds_of_what_is_asked_and_what_stayed() {
    type Limit = (&'static str, (f64, &'static str), (f64, &'static str), fn(f64) -> Rows);
    let limits: [Limit; 3] = [
        // On a flat head curve an eighth of power is a fiftieth of head.
        ("misfit of head and power", (0.012, ""), (0.018, "kW"), |m| two(m, 0.0, 0.12)),
        ("change of power against flow beside 0.04 of head", (0.0145, ""), (0.0107, "dp"), |p| {
            rows(Some(check_of(Story { pairs: [-0.04, -0.04, p], alone: [-0.04, 0.0, 0.0] }, step)), false)
        }),
        ("noise of power against flow, day by day", (0.12, ""), (0.085, "dp"), noisy),
    ];
    let plant = declared::plant();
    for (why, one, other, rows) in limits {
        for (value, wanted) in [one, other] {
            assert_eq!(named(&rows(value), &plant), wanted, "{why}: {value}");
        }
    }
}

/// A head sensor, power against flow noisy.
fn noisy(by: f64) -> Rows {
    let mut check = check_of(SENSOR, step);
    check.days.iter_mut().enumerate().for_each(|(d, day)| day.pairs[2] += by * jitter(d * 3 + 1));
    rows(Some(check), false)
}

/// Head lost evenly from day 8 on, over so many days: one that takes nine and a half looks sudden and is dated in its middle, one of ten is slow and
/// began before.
#[test]
fn thresholds_of_a_slow_change() {
    for (days, began) in [(9.7, 13), (10.0, 5)] {
        let slow = check_of(wear(0.12), |d| ((d as f64 - 8.0) / days).clamp(0.0, 1.0));
        let all = rows(Some(slow), false).judge(&declared::plant(), Fault::PumpDegraded);
        let [Verdict::Found(f)] = all.as_slice() else { panic!("{all:#?}") };
        assert_eq!((f.first_seen_ms - START_MS) / 86_400_000, began, "over {days} days");
    }
}

/// A head sensor whose lowest speeds tell another story; this share of the rows lies so far above the floor, a twentieth on it.
fn on_the_floor(share: f64, above: f64) -> Rows {
    let floor = 20.0 * offcurve::operating::days::SPEED_STEP + 0.001;
    let mut check = check_of(SENSOR, step);
    for (d, day) in check.days.iter_mut().enumerate() {
        day.at_speed[0].level = [4.0 + 0.2 * step(d), 5.0, 6.0];
    }
    let mut r = rows(Some(check), false);
    for i in 0..r.len() {
        let at = (i * 37) % 100;
        r.pumps[0].speed[i] = match at {
            _ if at < 5 => floor,
            _ if at < 5 + (100.0 * share) as usize => floor + above,
            _ => floor + 0.1 + 0.3 * (jitter(i) + 1.0) / 2.0,
        };
        r.pumps[0].head[i] = 200.0 * r.pumps[0].speed[i].powi(2);
    }
    r
}

/// On its floor a pump tells nothing at like speed: where it rests there in a fifth of the rows, those are left out.
#[test]
fn thresholds_of_a_floor_that_tells_nothing() {
    let plant = declared::plant();
    for (share, wanted) in [(0.11, ""), (0.19, "dp")] {
        assert_eq!(named(&on_the_floor(share, 0.0), &plant), wanted, "0.05 and {share} of the rows on the floor");
    }
    for (above, wanted) in [(0.018, ""), (0.012, "dp")] {
        assert_eq!(named(&on_the_floor(0.25, above), &plant), wanted, "a quarter of the rows {above} above it");
    }
}

//! A figure for each of the sixteen faults, on invented plants that have the fault (`tests/corpus`: neither generator knows the analyser).
//!
//! What is asked of a figure is what its reader needs: the finding's own subject, a number for those who cannot see it, marks for those who can, no
//! more bytes than a page can carry, and XML that any viewer takes. Figures are left in target/tmp/finding-figures for whoever looks at them.

use crate::corpus::{Ask, Generator, Severity, Trended, first, second};
use crate::fixture;
use offcurve::faults::{Fault, Finding, Shown, Verdict, What, shown::Stretches};
use offcurve::pipeline::{self, Review};
use offcurve::plant::{self, UnitSystem};
use offcurve::report::figures::finding::id as figure_id;
use offcurve::{ingest, report};
use quick_xml::events::Event;
use std::{fs, path::Path};

/// Bytes of a figure as a file, and of a page.
const MOST_FIGURE: usize = 60_000;
const MOST_PAGE: usize = 3_000_000;
/// Plants looked at until one has the fault found: not every plant that has a fault can be told it.
const TRIES: u64 = 12;

fn generators() -> [&'static dyn Generator; 2] {
    [&first::First, &second::Second]
}

/// The first of some plants on which a fault is found, from a seed on.
fn found(code: &'static str, trended: Trended, minutes: u32, seed: u64) -> Option<Review> {
    for k in 0..TRIES {
        let generator = generators()[(k % 2) as usize];
        let days = if minutes == 1 { 14 } else { 28 };
        let ask = Ask { seed: seed + 1000 * (k / 2), plant: vec![(code, Severity::Severe)], trended, minutes, days };
        let Some(case) = generator.draw(&ask) else { continue };
        let declared = plant::parse(&case.plant_toml, Path::new("corpus/plant.toml")).expect("a plant file").value;
        let files: Vec<(String, &[u8])> = case.files.iter().map(|(p, b)| (p.clone(), b.as_slice())).collect();
        let trends = ingest::from_bytes(&declared, &files).expect("exports");
        let review = pipeline::review(declared, trends, None).expect("a review");
        if findings(&review).any(|f| f.fault.code() == code) {
            println!("{code}: {} {} at {minutes} min", generator.name(), ask.seed);
            return Some(review);
        }
    }
    None
}

fn findings(review: &Review) -> impl Iterator<Item = &Finding> {
    review.verdicts.iter().filter_map(|v| if let Verdict::Found(f) = v { Some(f.as_ref()) } else { None })
}

/// Elements of a file of XML that are drawn, its title and its description; panics where it is no XML.
fn read(svg: &str) -> (usize, String, String) {
    let mut reader = quick_xml::Reader::from_str(svg);
    let (mut drawn, mut within, mut title, mut description) = (0, String::new(), String::new(), String::new());
    loop {
        match reader.read_event().expect("well-formed XML") {
            Event::Start(e) | Event::Empty(e) => {
                let name = String::from_utf8_lossy(e.name().as_ref()).into_owned();
                let counts = matches!(name.as_str(), "polyline" | "polygon" | "circle");
                drawn += usize::from(counts);
                within = name;
            }
            Event::Text(t) if within == "title" => title.push_str(&String::from_utf8_lossy(&t)),
            Event::Text(t) if within == "desc" => description.push_str(&String::from_utf8_lossy(&t)),
            // Names in quotes are written as references.
            Event::GeneralRef(_) if within == "title" => title.push('"'),
            Event::GeneralRef(_) if within == "desc" => description.push('"'),
            Event::End(_) => within.clear(),
            Event::Eof => return (drawn, title, description),
            _ => {}
        }
    }
}

fn check(code: &'static str, trended: Trended, minutes: u32, seed: u64) {
    let review =
        found(code, trended, minutes, seed).unwrap_or_else(|| panic!("{code}: found on none of {TRIES} plants"));
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("finding-figures").join(code);
    let written = report::write(&review, &out, UnitSystem::Si).expect("written");
    let page = fs::read_to_string(written.folder.join("report.html")).expect("page");
    assert!(page.len() < MOST_PAGE, "{code}: a page of {} bytes", page.len());
    let mut own = 0;
    for f in findings(&review) {
        let id = figure_id(f);
        let Ok(svg) = fs::read_to_string(written.folder.join(format!("figures/{id}.svg"))) else { continue };
        own += usize::from(f.fault.code() == code);
        assert!(svg.len() < MOST_FIGURE, "{id}: {} bytes", svg.len());
        let (drawn, title, description) = read(&svg);
        assert!(drawn >= 3, "{id}: {drawn} things drawn");
        let named = f.subject == "loop" || title.contains(&f.subject) || description.contains(&f.subject);
        assert!(named, "{id}: neither \"{title}\" nor \"{description}\" names {}", f.subject);
        assert!(description.chars().any(|c| c.is_ascii_digit()), "{id}: no number in \"{description}\"");
        assert!(!description.contains("not known") && !description.contains("NaN"), "{id}: {description}");
        let stands = page.matches(&format!("<figure id=\"figure-{id}\"")).count();
        assert_eq!(stands, 1, "{id} stands {stands} times on the page");
        // Within what was found, not among the pictures of the whole record.
        let section = page.split("<section id=\"findings\"").nth(1).and_then(|s| s.split("</section>").next());
        assert!(section.is_some_and(|s| s.contains(&format!("<figure id=\"figure-{id}\""))), "{id}");
    }
    assert!(own > 0, "{code} is found, and no figure shows it");
    let ids: Vec<&str> = page.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let mut once = ids.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(ids.len(), once.len(), "{code}: an id stands twice");
}

macro_rules! each_fault {
    ($($name:ident: $code:literal, $trended:ident, $minutes:literal, $seed:literal;)*) => {
        $(#[test]
        fn $name() {
            check($code, Trended::$trended, $minutes, $seed);
        })*

        #[test]
        fn every_fault_is_among_them() {
            let tested = [$($code),*];
            assert!(Fault::ALL.iter().all(|f| tested.contains(&f.code())));
        }
    };
}

each_fault! {
    low_delta_t: "low-delta-t", All, 5, 7_100_000;
    stuck_bypass: "stuck-bypass", All, 5, 7_200_000;
    minimum_speed_hunting: "minimum-speed-hunting", All, 1, 7_300_000;
    speed_hunting: "speed-hunting", All, 1, 7_400_000;
    setpoint_too_high: "setpoint-too-high", All, 5, 7_500_000;
    setpoint_too_low: "setpoint-too-low", All, 5, 7_600_000;
    off_control_curve: "off-control-curve", All, 5, 7_700_000;
    fixed_speed: "fixed-speed", All, 5, 7_800_000;
    out_of_hours_running: "out-of-hours-running", All, 5, 7_900_000;
    pump_degraded: "pump-degraded", All, 5, 8_000_000;
    short_cycling: "short-cycling", All, 5, 8_100_000;
    sensor_fault: "sensor-fault", Usual, 5, 8_200_000;
    minimum_speed_too_high: "minimum-speed-too-high", All, 5, 8_300_000;
    outside_preferred_region: "outside-preferred-region", All, 5, 8_400_000;
    poor_staging: "poor-staging", All, 5, 8_500_000;
    deadheading: "deadheading", All, 5, 8_600_000;
}

/// The fixture's review with another first finding.
fn with(what: What, fault: Fault, subject: &str) -> Review {
    let mut review = fixture::review();
    let first = review.verdicts.iter_mut().find_map(|v| if let Verdict::Found(f) = v { Some(f) } else { None });
    let f = first.expect("the fixture has findings");
    (f.fault, f.subject, f.shown) = (fault, subject.into(), Shown { rows: Stretches::of(0..200), what });
    review
}

fn figure_of(review: &Review) -> Option<String> {
    let scratch = crate::scratch::folder();
    let written = report::write(review, scratch.path(), UnitSystem::Ip).expect("written");
    let first = findings(review).next().expect("the fixture has findings");
    fs::read_to_string(written.folder.join(format!("figures/{}.svg", figure_id(first)))).ok()
}

/// Nothing to show is no figure, not an empty one.
#[test]
fn without_its_data_a_finding_has_no_figure() {
    let nowhere = || "a pump that is not there".to_owned();
    let column = || vec![f32::NAN; 240];
    for (what, fault) in [
        (What::Nothing, Fault::LowDeltaT),
        (What::Doubted, Fault::SensorFault),
        (What::Stands { level: 0.7 }, Fault::FixedSpeed),
        (What::BelowTest, Fault::PumpDegraded),
        (What::Region { ratio: column(), low: 0.7, high: 1.2 }, Fault::OutsidePreferredRegion),
        (What::Moved { pump: nowhere(), pair: 0, since_ms: 0, within: 0.03 }, Fault::PumpDegraded),
        (What::BypassOpen { from_m3h: 20.0, open: 0.2 }, Fault::StuckBypass),
        (What::PastTheCoils { points: Vec::new(), least_share: 0.12 }, Fault::StuckBypass),
        (What::Floor { floor: 0.4, lowest: 0.3, asked_kpa: column() }, Fault::MinimumSpeedTooHigh),
    ] {
        let review = with(what.clone(), fault, &nowhere());
        assert!(figure_of(&review).is_none(), "{what:?}");
    }
}

/// A subject that is no word of an id or of XML is a name like any other.
#[test]
fn a_name_of_any_letters_is_text() {
    let name = "<script>alert(1)</script> & \"P 1\"";
    let mut review =
        with(What::Water { coil: None, expected_k: Vec::new(), limit: 0.75, since: None }, Fault::LowDeltaT, name);
    let same = figure_of(&review).expect("the fixture trends supply and return");
    let (drawn, ..) = read(&same);
    assert!(drawn > 3 && !same.contains("<script"));
    let other = |subject: &str, review: &mut Review| {
        let f = review.verdicts.iter_mut().find_map(|v| if let Verdict::Found(f) = v { Some(f) } else { None });
        let f = f.expect("the fixture has findings");
        f.subject = subject.to_owned();
        figure_id(f)
    };
    // Two names that differ only in what an id cannot hold stay apart.
    let (a, b) = (other("P 1", &mut review), other("P.1", &mut review));
    assert!(a != b && [&a, &b].iter().all(|id| id.bytes().all(|c| c.is_ascii_alphanumeric() || c == b'-')), "{a} {b}");
    assert_eq!(other("P-1", &mut review), "finding-low-delta-t-p-1");
}

/// Rows 2, 3, 4, 8 and 9 are two stretches; of 3 to 9 (without 9) three rows and one are within.
#[test]
fn stretches_hold_rows() {
    let s = Stretches::of([2, 3, 4, 8, 9]);
    assert_eq!(s.ends(), Some(2..10));
    assert_eq!(s.within(&(3..9)).collect::<Vec<_>>(), [3..5, 8..9]);
    assert_eq!((s.count_in(&(3..9)), s.count_in(&(5..8)), s.count_in(&(0..100))), (3, 0, 5));
    let has: Vec<usize> = (0..12).filter(|i| s.has(*i)).collect();
    assert_eq!(has, [2, 3, 4, 8, 9]);
    assert!(Stretches::of([]).is_empty() && Stretches::default().ends().is_none());
}

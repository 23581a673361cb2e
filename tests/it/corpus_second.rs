//! The second generator's plants: they repeat, faults show in their truth, healthy ones are healthy, and reviews of them run.

use crate::corpus::second::Second;
use crate::corpus::{Ask, FAULTS, Generator, Severity, Trended};

fn ask(seed: u64, plant: &[(&'static str, Severity)]) -> Ask {
    Ask { seed, plant: plant.to_vec(), trended: Trended::All, minutes: 5, days: 28 }
}

#[test]
fn second_explores() {
    let start = std::time::Instant::now();
    let mut n = 0;
    for seed in 0..10 {
        let (d, refused) = Second::attempts(&ask(seed, &[]));
        n += refused.len() + usize::from(d.is_some());
        println!("{seed} healthy: {:?} {:?}", d.as_ref().map(|d| (&d.case.look_alikes, &d.truth)), refused);
    }
    println!("healthy {:.3} s a try", start.elapsed().as_secs_f64() / n as f64);
    for fault in FAULTS {
        for s in Severity::ALL {
            let start = std::time::Instant::now();
            let (mut ok, mut tries) = (0, 0);
            let mut last = String::new();
            for seed in 0..3 {
                let (d, refused) = Second::attempts(&ask(seed, &[(fault, s)]));
                ok += usize::from(d.is_some());
                tries += refused.len() + usize::from(d.is_some());
                if let Some(d) = d {
                    last = format!("{} {:?} also {:?}", d.case.planted[0].note, d.case.planted[0].subjects, d.case.also_true);
                }
                if let Some(r) = refused.last() {
                    println!("    {r}");
                }
            }
            println!("{fault} {} {ok}/3 in {tries} tries {:.2} s: {last}", s.word(), start.elapsed().as_secs_f64() / tries as f64);
        }
    }
}

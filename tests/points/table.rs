//! Outcomes to a table that people read, and one line a plant for diagnosis.
//!
//! Comes in: outcomes plant by plant. Goes out: markdown and CSV text. The plant is the sample: coverage is the mean over plants with the 95 % interval of that
//! mean, errors are percentiles within a plant, shown for the median plant and for the one that nine in ten do not exceed.

use super::score::{BAND_WORDS, Band, Fusion, NO_WORSE, Outcome, Set, TRAITS, fusion, quantile};
use std::fmt::Write;

/// A group of plants.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Group {
    All,
    FlatPower,
    HalfSpeed,
}

impl Group {
    const ALL: [Self; 3] = [Self::All, Self::FlatPower, Self::HalfSpeed];

    fn word(self) -> &'static str {
        match self {
            Self::All => "All plants",
            Self::FlatPower => "Flat-power pumps",
            Self::HalfSpeed => "Half-speed operation",
        }
    }

    fn has(self, o: &Outcome) -> bool {
        match self {
            Self::All => true,
            Self::FlatPower => o.flat,
            Self::HalfSpeed => o.half_speed,
        }
    }
}

/// A set's figures over plants.
#[derive(Debug, Clone, Copy)]
pub struct Figures {
    pub plants: usize,
    /// Mean coverage and its 95 % interval over plants.
    pub coverage: f64,
    pub coverage_low: f64,
    pub coverage_high: f64,
    /// Median over plants.
    pub width: f64,
    /// Within a plant the median and the 95th percentile; of the median plant and of nine in ten.
    pub error_50: [f64; 2],
    pub error_95: [f64; 2],
    pub answered: f64,
}

/// Figures of a set in a band and a group; `None` under five plants.
pub fn figures(outcomes: &[&Outcome], set: Set, band: usize, group: Group) -> Option<Figures> {
    const FEWEST: usize = 5;
    let chosen: Vec<(&Outcome, Band)> = outcomes
        .iter()
        .filter(|o| o.set == set && group.has(o))
        .filter_map(|o| o.bands[band].map(|b| (*o, b)))
        .collect();
    if chosen.len() < FEWEST {
        return None;
    }
    let n = chosen.len() as f64;
    let coverage = chosen.iter().map(|c| c.1.covered).sum::<f64>() / n;
    let sd = (chosen.iter().map(|c| (c.1.covered - coverage).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let half = 1.96 * sd / n.sqrt();
    let over = |f: fn(&Band) -> f64, share: f64| {
        let mut values: Vec<f64> = chosen.iter().map(|c| f(&c.1)).filter(|v| v.is_finite()).collect();
        quantile(&mut values, share)
    };
    Some(Figures {
        plants: chosen.len(),
        coverage,
        coverage_low: coverage - half,
        coverage_high: (coverage + half).min(1.0),
        width: over(|b| b.width, 0.5),
        error_50: [over(|b| b.error_50, 0.5), over(|b| b.error_50, 0.9)],
        error_95: [over(|b| b.error_95, 0.5), over(|b| b.error_95, 0.9)],
        answered: chosen.iter().map(|c| c.0.answered).sum::<f64>() / n,
    })
}

/// The whole table. One list of outcomes a plant.
pub fn markdown(single: &[Vec<Outcome>], parallel: &[Vec<Outcome>]) -> String {
    let mut t = format!(
        "# Operating points against invented plants\n\n{} plants with one pump, {} with two or three in parallel, \
         drawn from the frozen table in `tests/points/nuisance.rs`.\n\
         Coverage: of the 95 % interval, mean over plants with the 95 % interval of that mean. Width: over that of an estimator told the \
         true nuisance distribution, by shares where it is a choice (loss family, undeclared place of power, hidden slip), median plant; the CSV's \
         `oracle_sd` is its standard deviation in parts of design flow, `oracle_sd_clairvoyant` that of one told how each choice fell, which nobody can be.\n\
         Errors: 50th and 95th percentile within a plant in % of design flow, of the median plant / of nine plants in ten; rows \
         that only bound the flow are left out there.\n\
         Answered: share of running rows with a flow.\n",
        single.len(),
        parallel.len()
    );
    let flat: Vec<&Outcome> = single.iter().flatten().collect();
    for group in Group::ALL {
        section(&mut t, group.word(), &flat, &Set::SINGLE, group);
    }
    let together: Vec<&Outcome> = parallel.iter().flatten().collect();
    section(&mut t, "Loop flow of pumps in parallel", &together, &Set::PARALLEL, Group::All);
    fusions(&mut t, single);
    t
}

fn section(t: &mut String, title: &str, outcomes: &[&Outcome], sets: &[Set], group: Group) {
    let _ = write!(
        t,
        "\n## {title}\n\n| trended | load | plants | coverage % | width | error 50 % | error 95 % | answered % |\n\
         | --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |\n"
    );
    for set in sets {
        if !outcomes.iter().any(|o| o.set == *set && group.has(o)) {
            continue;
        }
        for (band, word) in BAND_WORDS.iter().enumerate() {
            let Some(f) = figures(outcomes, *set, band, group) else {
                let _ = writeln!(t, "| {} | {word} | under 5 | | | | | |", set.word());
                continue;
            };
            let p = |v: f64| 100.0 * v;
            let _ = writeln!(
                t,
                "| {} | {word} | {} | {:.1} ({:.1} to {:.1}) | {:.2} | {:.1} / {:.1} | {:.1} / {:.1} | {:.0} |",
                set.word(),
                f.plants,
                p(f.coverage),
                p(f.coverage_low),
                p(f.coverage_high),
                f.width,
                p(f.error_50[0]),
                p(f.error_50[1]),
                p(f.error_95[0]),
                p(f.error_95[1]),
                p(f.answered)
            );
        }
    }
}

fn fusions(t: &mut String, single: &[Vec<Outcome>]) {
    let found: Vec<Fusion> = single.iter().filter_map(|o| fusion(o)).collect();
    let share =
        |f: fn(&Fusion) -> bool| 100.0 * found.iter().filter(|x| f(x)).count() as f64 / found.len().max(1) as f64;
    let _ = write!(
        t,
        "\n## Head and power together against either\n\nOn the rows that all three call points, of {} plants: the 95th percentile of error is no more than {NO_WORSE} times that of\n\n\
         - the better of head alone and power alone, by hindsight: {:.1} % of plants\n\
         - the one whose own intervals are narrower: {:.1} % of plants\n",
        found.len(),
        share(Fusion::beats_the_better),
        share(Fusion::beats_the_chosen)
    );
}

/// One line a plant, set and band.
pub fn csv<'a>(outcomes: impl Iterator<Item = &'a Outcome>) -> String {
    let mut t = format!(
        "plant,set,band,{},flat,half_speed,rows,answered,coverage,width_ratio,oracle_sd,oracle_sd_clairvoyant,error_50,error_95,signed_over_sd\n",
        TRAITS.join(",")
    );
    for o in outcomes {
        for (band, word) in o.bands.iter().zip(BAND_WORDS) {
            let Some(b) = band else { continue };
            let set = o.set.word().replace(',', "");
            let _ = write!(t, "{},{set},{word},{},{},{},", o.plant, o.traits.join(","), o.flat, o.half_speed);
            let shares = [o.answered, b.covered, b.width, b.sharpest, b.clairvoyant, b.error_50, b.error_95, b.signed];
            let _ = writeln!(t, "{},{}", b.rows, shares.map(|v| format!("{v:.5}")).join(","));
        }
    }
    t
}

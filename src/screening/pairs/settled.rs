//! Pipes that have stood for a night: a sensor among others, or a lone pair.

use super::{ALIKE_K, Look, Off};
use crate::screening::quantile;
use crate::screening::share_of;
use crate::screening::sorted;

/// A stop this long settles, if its last hours move by no more than this [h], [K].
const STOP_H: f64 = 10.0;
const LAST_H: f64 = 4.0;
const MOVES_K: f64 = 0.15;
/// Nights that must agree, and by how much one stands off the others' middle [K]; and off by so many times what the others differ.
const NIGHTS: usize = 3;
const ODD_K: f64 = 1.0;
const OVER_SPREAD: f64 = 2.0;
/// A lone pair: what two rooms do not make [K]; less where the declared supply temperature points at the same sensor.
const PAIR_K: f64 = 2.2;
const PAIR_TOLD_K: f64 = 1.5;
/// From here on a pair is named as unsure [K].
const PAIR_NAMED_K: f64 = 1.0;

impl Look<'_> {
    /// Rows at which a long stop has settled: the last before the pumps start again.
    fn nights(&self) -> Vec<usize> {
        let since = &self.seen.since_stop;
        let (long, last) = ((STOP_H / self.clock.hours()) as usize, (LAST_H / self.clock.hours()) as usize);
        let ends =
            (0..self.clock.len).filter(|&i| since.get(i + 1).copied().unwrap_or(0) == 0 && since[i] as usize >= long);
        let still = |i: usize| {
            let moved = self.difference(i) - self.difference(i - last);
            moved.abs() <= MOVES_K
        };
        ends.filter(|&i| i >= last && still(i)).collect()
    }

    pub(super) fn settled(&self) -> Option<Off> {
        let nights = self.nights();
        if nights.len() < NIGHTS {
            return None;
        }
        let mut all = vec![self.supply, self.back];
        all.extend(self.coils.iter().filter_map(|c| c.back));
        if all.len() >= 4 {
            return self.odd_one(&all, &nights);
        }
        self.lone_pair(&nights)
    }

    /// The one that stands off the others, every night alike.
    fn odd_one(&self, all: &[usize], nights: &[usize]) -> Option<Off> {
        let mut found: Vec<Off> = Vec::new();
        for &k in all {
            let (mut off, mut spread) = (Vec::new(), Vec::new());
            for &i in nights {
                let others = sorted(all.iter().filter(|o| **o != k).map(|&o| self.at(o, i)));
                let (Some(middle), Some(low), Some(high)) =
                    (quantile(&others, 0.5), quantile(&others, 0.0), quantile(&others, 1.0))
                else {
                    continue;
                };
                off.push(self.at(k, i) - middle);
                spread.push((high - middle).max(middle - low));
            }
            let off = sorted(off.into_iter());
            let (Some(by), Some(low), Some(high)) = (quantile(&off, 0.5), quantile(&off, 0.1), quantile(&off, 0.9))
            else {
                continue;
            };
            let others = share_of(spread.into_iter(), 0.5);
            if off.len() < NIGHTS || by.abs() < ODD_K.max(OVER_SPREAD * others) || high - low > ALIKE_K {
                continue;
            }
            let why = format!(
                "at the end of {} stops of {STOP_H:.0} h or more it stands {:.1} K off {} other water temperatures, which lie within {others:.1} K of their middle",
                off.len(),
                by.abs(),
                all.len() - 1
            );
            found.push(Off {
                at: k,
                beside: None,
                by_k: by,
                hours: off.len() as f64 * STOP_H,
                confidence: (0.65 + 0.03 * off.len().min(6) as f64).min(0.85),
                removed: true,
                name: "settled reading less the middle of the others",
                expected: "0",
                why,
            });
        }
        // Two that stand off are two rooms.
        if found.len() == 1 { found.pop() } else { None }
    }

    fn lone_pair(&self, nights: &[usize]) -> Option<Off> {
        let levels = sorted(nights.iter().map(|&i| self.difference(i)));
        let (middle, low, high) = (quantile(&levels, 0.5)?, quantile(&levels, 0.1)?, quantile(&levels, 0.9)?);
        if middle.abs() < PAIR_NAMED_K || high - low > ALIKE_K || levels.len() < NIGHTS {
            return None;
        }
        let (at, beside, told) = self.which(middle);
        let points = told && at == self.supply && middle.abs() >= PAIR_TOLD_K;
        let confidence = if points {
            0.65
        } else if middle.abs() >= PAIR_K {
            0.6
        } else {
            0.35
        };
        let why = format!(
            "at the end of {} stops of {STOP_H:.0} h or more \"{}\" and \"{}\" differ by {:.1} K, every time alike; pipes in different rooms can do that, and \"{}\" is the likelier of the two if they do not",
            levels.len(),
            self.name(self.supply),
            self.name(self.back),
            middle.abs(),
            self.name(at),
        );
        Some(Off {
            at,
            beside: Some(beside),
            by_k: middle,
            hours: levels.len() as f64 * STOP_H,
            confidence,
            removed: false,
            name: "return less supply with settled pipes, toward the load",
            expected: "0",
            why,
        })
    }
}

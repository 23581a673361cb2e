//! One name in several files: one point in parts, or several points that are called alike.
//!
//! Comes in: the cells of one name, a piece a file. Goes out: groups of pieces, one a point. Files that overlap and say the same are parts of one
//! record, as monthly exports are; two that say different things over the same hours are of two machines, as where each pump's drive has a file of
//! its own. Files that never overlap are nobody's proof: they join the group whose files are named most alike. Start at [`Apart::of`].

use super::samples::Piece;
use super::zone::NONE_BELOW;
use std::collections::BTreeSet;

/// Fewer readings of either file in the hours of both say nothing [readings].
const LEAST_SHARED: usize = 12;
/// Nor does an overlap of less than this share of the shorter file [share]: the seam of two exports.
const SEAM: f64 = 0.1;
/// Two files say the same where this share of the readings in the hours of both is alike, time and value [share]: a correction changes few.
const ALIKE: f64 = 0.5;
/// A signal of fewer different readings (on and off) may well be alike in two machines [values].
const TELLING: usize = 4;

/// What the readings of two files say of each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Said {
    Nothing,
    Same,
    /// The same, in a signal that two machines may share.
    SameButPlain,
    Other,
}

/// Pairs of files that hold different machines.
pub(super) struct Apart(BTreeSet<(usize, usize)>);

impl Apart {
    /// What all names prove together. `all`: pieces by name.
    pub fn of<'a>(all: impl Iterator<Item = &'a [Piece]>) -> Self {
        let mut pairs = BTreeSet::new();
        for pieces in all {
            for (i, a) in pieces.iter().enumerate() {
                let others = pieces[i + 1..].iter().filter(|b| b.file != a.file);
                pairs.extend(others.filter(|b| compare(a, b) == Said::Other).map(|b| (a.file, b.file)));
            }
        }
        Self(pairs)
    }

    /// Pieces of one name by point, in the order of their first files. `path`: of a file.
    pub fn groups<'p>(&self, pieces: Vec<Piece>, path: impl Fn(usize) -> &'p str) -> Vec<Vec<Piece>> {
        let mut groups: Vec<Vec<Piece>> = Vec::new();
        for piece in pieces {
            let fits = |group: &&mut Vec<Piece>| group.iter().all(|other| !self.parts(other, &piece));
            let likeness = |group: &[Piece]| {
                group.iter().map(|p| strsim::jaro_winkler(path(p.file), path(piece.file))).fold(0.0, f64::max)
            };
            let best = groups.iter_mut().filter(fits).max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
            match best {
                Some(group) => group.push(piece),
                None => groups.push(vec![piece]),
            }
        }
        groups
    }

    fn parts(&self, a: &Piece, b: &Piece) -> bool {
        let known = |x: usize, y: usize| self.0.contains(&(x, y)) || self.0.contains(&(y, x));
        a.file != b.file && known(a.file, b.file) && matches!(compare(a, b), Said::Other | Said::SameButPlain)
    }
}

fn compare(a: &Piece, b: &Piece) -> Said {
    let (Some((a_from, a_to)), Some((b_from, b_to))) = (ends(a), ends(b)) else { return Said::Nothing };
    let (from, to) = (a_from.max(b_from), a_to.min(b_to));
    if to < from || ((to - from) as f64) < SEAM * (a_to - a_from).min(b_to - b_from) as f64 {
        return Said::Nothing;
    }
    let (a, b) = (readings(a), readings(b));
    let inside = |r: &[(i64, u64)]| r.partition_point(|x| x.0 < from)..r.partition_point(|x| x.0 <= to);
    let (shared_a, shared_b) = (&a[inside(&a)], &b[inside(&b)]);
    let shared = shared_a.len().min(shared_b.len());
    if shared < LEAST_SHARED || (shared as f64) < SEAM * a.len().min(b.len()) as f64 {
        return Said::Nothing;
    }
    let mut rest = shared_b.iter().peekable();
    let is_there = |r: &&(i64, u64)| {
        while rest.next_if(|other| *other < *r).is_some() {}
        rest.peek() == Some(r)
    };
    let alike = shared_a.iter().filter(is_there).count();
    if (alike as f64) < ALIKE * shared as f64 {
        return Said::Other;
    }
    let mut kinds: BTreeSet<u64> = BTreeSet::new();
    let telling = shared_a.iter().any(|r| kinds.insert(r.1) && kinds.len() >= TELLING);
    if telling { Said::Same } else { Said::SameButPlain }
}

/// First and last instant of all cells.
fn ends(piece: &Piece) -> Option<(i64, i64)> {
    let known = || piece.rows.instants.iter().copied().filter(|t| *t >= NONE_BELOW);
    Some((known().min()?, known().max()?))
}

/// Instants and readings (by their bits), sorted.
fn readings(piece: &Piece) -> Vec<(i64, u64)> {
    let both = piece.rows.instants.iter().zip(&piece.values).filter(|(t, v)| **t >= NONE_BELOW && v.is_finite());
    let mut all: Vec<(i64, u64)> = both.map(|(t, v)| (*t, v.to_bits())).collect();
    all.sort_unstable();
    all
}

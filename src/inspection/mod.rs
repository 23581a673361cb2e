//! What exports hold and what their points probably are, before there is a plant file.
//!
//! Comes in: files, and the points declared so far. Goes out: [`Inspection`]: what was understood of every file, and of every point role, owner
//! and unit with how sure and why. Nothing is judged. Start at [`inspect`].

use crate::ingest::{self, IngestError, Looked, LookedPoint};
use crate::naming::{Proposal, Seen, UnitFrom, propose};
use crate::plant::{Plant, Role, units};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Different readings are counted up to this many.
const MOST_DISTINCT: usize = 1000;

/// Everything that was understood.
#[derive(Debug, Clone)]
pub struct Inspection {
    pub looked: Looked,
    /// By point of [`Inspection::looked`].
    pub points: Vec<Understood>,
    pub timezone: String,
}

/// What a point is, and its readings in few numbers.
#[derive(Debug, Clone)]
pub struct Understood {
    pub role: Option<Role>,
    pub of: Option<String>,
    /// That the role is right; 1 where the plant file declares it, 0 without a role [-].
    pub confidence: f64,
    /// As a plant file writes it.
    pub unit: Option<String>,
    /// "header", "cell", "name", "values" or "plant".
    pub unit_from: Option<&'static str>,
    pub why: String,
    /// What a reading is multiplied with and what is added to give `shown_unit`.
    pub factor: f64,
    pub offset: f64,
    /// The role's SI unit, the speed's own, or the point's own where no role is known.
    pub shown_unit: Option<String>,
    /// Over valid samples, in `shown_unit`; NaN without any.
    pub min: f64,
    pub mean: f64,
    pub max: f64,
    pub valid: u64,
    /// First and last valid sample [ms UTC].
    pub span: Option<(i64, i64)>,
    proposal: Proposal,
    distinct: usize,
}

/// Looks at exports. `plant`: time zone, order of day and month, blanks, and the points declared so far.
///
/// # Errors
/// Where nothing at all could be read.
pub fn inspect(plant: &Plant, paths: &[PathBuf]) -> Result<Inspection, IngestError> {
    let looked = ingest::inspect(plant, paths)?;
    let facts: Vec<Facts> = looked.points.iter().map(Facts::of).collect();
    let contexts: Vec<String> = looked.points.iter().map(|p| looked.files[p.file].ledger.path.clone()).collect();
    let seen: Vec<Seen<'_>> =
        looked.points.iter().zip(&facts).zip(&contexts).map(|((p, f), context)| f.seen(p, context)).collect();
    let points =
        looked.points.iter().zip(propose(&seen)).zip(facts).map(|((p, proposal), f)| understood(plant, p, proposal, f));
    let points = points.collect();
    Ok(Inspection { looked, points, timezone: plant.trends.timezone.name().to_owned() })
}

impl Inspection {
    /// Text of a plant file to start from. `files`: as `[trends].files` is to name them; `folder`: where the plant file will lie.
    #[must_use]
    pub fn plant_file(&self, files: &[String], timezone: Option<&str>, folder: &Path) -> String {
        let contexts: Vec<String> =
            self.looked.points.iter().map(|p| self.looked.files[p.file].ledger.path.clone()).collect();
        let seen = |i: usize| {
            let (p, u) = (&self.looked.points[i], &self.points[i]);
            Seen {
                name: &p.name,
                unit: p.unit.as_deref(),
                low: u.min,
                mean: u.mean,
                high: u.max,
                distinct: u.distinct,
                context: &contexts[i],
                states: p.states,
            }
        };
        let points: Vec<(Seen<'_>, Proposal)> =
            (0..self.points.len()).map(|i| (seen(i), self.points[i].proposal.clone())).collect();
        let narrowed: Vec<Option<String>> = (0..self.points.len()).map(|i| self.narrowed(i, folder)).collect();
        crate::naming::plant_file_of(&points, &narrowed, files, timezone)
    }

    /// A pattern that the files of a point fit and those of others of its name do not; `None` where it needs none, or none does.
    fn narrowed(&self, i: usize, folder: &Path) -> Option<String> {
        let points = &self.looked.points;
        let named = |files: &[usize]| -> Vec<String> {
            files.iter().map(|f| ingest::as_pattern(Path::new(&self.looked.files[*f].ledger.path), folder)).collect()
        };
        let own = named(&points[i].only_in);
        let (first, rest) = own.split_first()?;
        if rest.is_empty() {
            return Some(first.clone());
        }
        let others: Vec<String> = (0..points.len())
            .filter(|k| *k != i && points[*k].name == points[i].name)
            .flat_map(|k| named(&points[k].only_in))
            .collect();
        let shared = |a: &str, b: &str| a.bytes().zip(b.bytes()).take_while(|(x, y)| x == y).count();
        let back = |text: &str| text.chars().rev().collect::<String>();
        let front = rest.iter().map(|r| shared(first, r)).min().unwrap_or(0);
        let end = rest.iter().map(|r| shared(&back(first), &back(r))).min().unwrap_or(0);
        let pattern = format!("{}*{}", first.get(..front)?, first.get(first.len().checked_sub(end)?.max(front)..)?);
        let separates =
            own.iter().all(|f| ingest::names(&pattern, f)) && !others.iter().any(|f| ingest::names(&pattern, f));
        separates.then_some(pattern)
    }
}

/// A point's readings in few numbers, as they stand.
#[derive(Clone, Copy)]
struct Facts {
    low: f64,
    mean: f64,
    high: f64,
    valid: u64,
    span: Option<(i64, i64)>,
    distinct: usize,
}

impl Facts {
    fn of(point: &LookedPoint) -> Self {
        let mut f = Self { low: f64::INFINITY, mean: 0.0, high: f64::NEG_INFINITY, valid: 0, span: None, distinct: 0 };
        let mut different = BTreeSet::new();
        for (time_ms, value) in point.readings() {
            f.low = f.low.min(value);
            f.high = f.high.max(value);
            f.mean += value;
            f.valid += 1;
            f.span = Some((f.span.map_or(time_ms, |span| span.0), time_ms));
            if different.len() < MOST_DISTINCT {
                different.insert(value.to_bits());
            }
        }
        f.distinct = different.len();
        f.mean /= f.valid as f64;
        if f.valid == 0 {
            (f.low, f.mean, f.high) = (f64::NAN, f64::NAN, f64::NAN);
        }
        f
    }

    fn seen<'a>(&self, p: &'a LookedPoint, context: &'a str) -> Seen<'a> {
        Seen {
            name: &p.name,
            unit: p.unit.as_deref(),
            low: self.low,
            mean: self.mean,
            high: self.high,
            distinct: self.distinct,
            context,
            states: p.states,
        }
    }
}

fn understood(plant: &Plant, p: &LookedPoint, proposal: Proposal, f: Facts) -> Understood {
    let declared = p.declared.map(|i| &plant.points[i]);
    let role = declared.map(|d| d.role).or(proposal.role);
    let (unit, unit_from) = match declared.and_then(|d| d.unit.as_ref()) {
        Some(unit) => (Some(unit.written.clone()), Some("plant")),
        None => {
            let from = match (p.unit_from, proposal.unit_from) {
                (Some(from), _) => Some(from),
                (None, from) => from.map(UnitFrom::word),
            };
            (proposal.unit.clone(), from)
        }
    };
    // Declared points are read into their role's unit already.
    let own = unit.as_deref().and_then(|u| units::unit(u).ok());
    let speed = matches!(role, Some(Role::PumpSpeed | Role::PumpSpeedCommand));
    let (factor, offset, shown_unit) = match (declared, role, &own) {
        (Some(d), ..) => (1.0, 0.0, d.conversion(None, plant.density()).ok().flatten().map(|c| c.unit.to_owned())),
        (None, Some(role), Some(own)) if !speed => match units::for_role(role, own, plant.density()) {
            Ok((factor, offset)) => (factor, offset, Some(own.dimension.si().to_owned())),
            Err(_) => (1.0, 0.0, unit.clone()),
        },
        _ => (1.0, 0.0, unit.clone()),
    };
    let si = |v: f64| v * factor + offset;
    Understood {
        role,
        of: declared.map_or_else(|| proposal.of.clone(), |d| d.of.clone()),
        confidence: if declared.is_some() { 1.0 } else { proposal.confidence },
        unit: unit.clone(),
        unit_from: unit.and(unit_from),
        why: if declared.is_some() { "declared in the plant file".to_owned() } else { proposal.why.clone() },
        factor,
        offset,
        shown_unit: shown_unit.filter(|u| !u.is_empty()),
        min: si(f.low),
        mean: si(f.mean),
        max: si(f.high),
        valid: f.valid,
        span: f.span,
        proposal,
        distinct: f.distinct,
    }
}

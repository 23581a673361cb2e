//! Which names in an export are read, and as what: the points that a plant file declares, and, where a file is only looked at, every other.

use super::sniff::{plain, same_name};
use crate::plant::{Plant, Point, Role, Unit};
use std::collections::HashMap;

/// What is wanted of the files.
pub(super) struct Wanted<'a> {
    pub plant: &'a Plant,
    /// Names that no declared point claims are read too, as points of no role.
    everything: bool,
    /// Declared points, then the others as they were met.
    points: Vec<Point>,
    /// Indices into `points`, in order, by what tells their names apart.
    by_name: HashMap<String, Vec<usize>>,
}

/// Where a name stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place<'a> {
    pub path: &'a str,
    pub sheet: Option<&'a str>,
}

/// What becomes of a name in an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Claim {
    Point(usize),
    Ignored,
    Nobody,
}

impl<'a> Wanted<'a> {
    /// What the plant file declares and nothing else.
    pub fn declared(plant: &'a Plant) -> Self {
        let mut wanted = Self { plant, everything: false, points: Vec::new(), by_name: HashMap::new() };
        plant.points.iter().for_each(|p| wanted.add(p.clone()));
        wanted
    }

    /// Whatever the files hold.
    pub fn everything(plant: &'a Plant) -> Self {
        Self { everything: true, ..Self::declared(plant) }
    }

    fn add(&mut self, point: Point) {
        self.by_name.entry(plain(&point.name)).or_default().push(self.points.len());
        self.points.push(point);
    }

    /// All points, the declared ones first.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// How many are declared.
    pub fn declared_count(&self) -> usize {
        self.plant.points.len()
    }

    /// The point that one of these names belongs to; the first name that belongs to any decides.
    pub fn claim(&self, at: Place<'_>, names: &[String]) -> Claim {
        let found = names.iter().map(|n| self.one(at, n)).find(|c| *c != Claim::Nobody);
        found.unwrap_or(Claim::Nobody)
    }

    /// The same; where everything is wanted, a name that nobody claims becomes a point.
    pub fn meet(&mut self, at: Place<'_>, names: &[String], unit: Option<&str>) -> Claim {
        match self.claim(at, names) {
            Claim::Nobody if self.everything => {
                let Some(name) = names.iter().find(|n| !n.is_empty()) else { return Claim::Nobody };
                self.add(stranger(name, unit));
                Claim::Point(self.points.len() - 1)
            }
            claim => claim,
        }
    }

    fn one(&self, at: Place<'_>, name: &str) -> Claim {
        let here = |p: &Point| {
            let file = p.file.as_ref().is_none_or(|glob| {
                super::open::path_fits(glob, at.path) || super::open::path_fits(glob, name_of(at.path))
            });
            file && p.sheet.as_ref().is_none_or(|s| at.sheet.is_none_or(|is| same_name(s, is)))
        };
        let alike = self.by_name.get(&plain(name)).map_or(&[][..], Vec::as_slice);
        let mut candidates = alike.iter().map(|i| (*i, &self.points[*i])).filter(|(_, p)| here(p));
        let exact = candidates.clone().find(|(_, p)| p.name == name);
        match exact.or_else(|| candidates.next()) {
            Some((i, p)) if p.role == Role::Ignore && i < self.declared_count() => Claim::Ignored,
            Some((i, _)) => Claim::Point(i),
            None => Claim::Nobody,
        }
    }
}

/// A point that nobody declared: read as it stands.
fn stranger(name: &str, unit: Option<&str>) -> Point {
    let unit: Option<Unit> = unit.and_then(|u| crate::plant::units::unit(u).ok());
    Point {
        name: name.to_owned(),
        file: None,
        sheet: None,
        role: Role::Ignore,
        of: None,
        unit,
        accuracy: None,
        noise: None,
        percent_of: None,
        scale: 1.0,
        offset: 0.0,
        range: None,
        power_is: None,
        computed_from: Vec::new(),
        on: Vec::new(),
        line: 0,
    }
}

fn name_of(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

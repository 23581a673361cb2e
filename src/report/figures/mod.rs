//! The figures, each a stack of layers that a style sheet can reach.
//!
//! plotters writes no group, id or class and only fixed colours. So every layer is drawn into its own text and put into
//! a `<g>` here; in the page the palette's colours become the page's variables, so that a dark screen and paper both
//! work; as a file of its own a figure keeps plain colours on white. Shape goes with colour: no regime is told by colour alone.
//! A figure is made once for each system of units; what comes out different stands in the page twice, for its script to switch.

mod availability;
mod bins;
mod control;
mod dates;
mod delta_t;
mod evidence;
pub mod finding;
mod frame;
mod head_flow;
mod links;
mod marks;
mod months;
mod need;
mod numbers;
mod palette;
mod strip;
mod valves;
mod verified;

pub use availability::ID as AVAILABILITY;
pub use head_flow::Seen;
pub use links::{LINKED, links};
pub use months::{ID as MONTHS, figure as of_months};
pub use need::ID as NEED;

use super::{
    both::{self, Both},
    document::Table,
    html::escape,
    show::Show,
};
use crate::{pipeline::Review, verification::Verification};
use rayon::prelude::*;
use std::borrow::Cow;

/// Drawn width [px]: twice what a page shows, since plotters places marks on whole pixels.
pub const WIDTH: u32 = 1360;

/// One finished figure.
#[derive(Debug, Clone)]
pub struct Figure {
    pub id: Cow<'static, str>,
    pub title: String,
    /// What is to be seen, for those who cannot see it.
    pub description: String,
    pub caption: String,
    pub keys: Vec<Key>,
    pub height: u32,
    layers: Vec<Layer>,
}

/// An entry of the legend.
#[derive(Debug, Clone)]
pub struct Key {
    /// Class of what it stands for; it can be switched off and on in the page.
    pub class: &'static str,
    pub label: String,
    /// A small drawing, 48 by 32.
    sample: String,
}

#[derive(Debug, Clone)]
struct Layer {
    id: String,
    class: String,
    body: String,
    /// What it draws, as numbers: all tables of a figure stand behind one fold.
    tables: Vec<Table>,
}

/// The systems of units that every figure is made in: the reader's, and the other one. What hangs on no unit is gathered and drawn once.
pub type Shows<'s> = [&'s Show; 2];
type Pair = Option<[Figure; 2]>;

/// All figures that the review has data for, in the order of the report, in both systems of units.
pub fn all(review: &Review, seen: &Seen, shows: Shows) -> [Vec<Figure>; 2] {
    let each: [&(dyn Fn() -> Vec<Pair> + Sync); 8] = [
        &|| vec![head_flow::figure(review, seen, shows)],
        &|| vec![strip::figure(review, shows)],
        &|| vec![delta_t::figure(review, shows)],
        &|| vec![valves::figure(review, shows)],
        &|| vec![need::figure(review, shows)],
        &|| vec![in_both(shows, |show| evidence::figure(review, show))],
        &|| vec![availability::figure(review, shows)],
        &|| finding::all(review, shows),
    ];
    let drawn: Vec<Vec<Pair>> = each.par_iter().with_max_len(1).map(|one| one()).collect();
    drawn.into_iter().flatten().flatten().map(|[shown, other]| (shown, other)).unzip().into()
}

/// A figure of which nothing is shared.
fn in_both(shows: Shows, figure: impl Fn(&Show) -> Option<Figure>) -> Pair {
    Some([figure(shows[0])?, figure(shows[1])?])
}

/// The figures of a verified change, as far as there is data for them.
pub fn of_verification(v: &Verification, show: &Show) -> Vec<Figure> {
    [verified::daily(v, show), verified::moved(v, show)].into_iter().flatten().collect()
}

impl Figure {
    /// A file of its own: plain colours on white.
    pub fn standalone(&self) -> String {
        let keys = self.key_rows();
        let height = self.height + 44 * keys.len() as u32;
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" width=\"{}\" height=\"{}\" role=\"img\">\n<title>{}</title>\n<desc>{}</desc>\n<rect width=\"{WIDTH}\" height=\"{height}\" fill=\"#FFFFFF\"/>\n",
            WIDTH / 2,
            height / 2,
            escape(&self.title),
            escape(&self.description)
        );
        for layer in &self.layers {
            out.push_str(&layer.group("", ""));
        }
        for (row, keys) in keys.iter().enumerate() {
            for (x, key) in keys {
                let y = self.height + 44 * row as u32;
                out.push_str(&format!(
                    "<g class=\"key\" transform=\"translate({x},{y})\">{}<text x=\"60\" y=\"25\" font-family=\"sans-serif\" font-size=\"26\" fill=\"#20242A\">{}</text></g>\n",
                    key.sample,
                    escape(&key.label)
                ));
            }
        }
        out.push_str("</svg>\n");
        out
    }

    /// Keys set in lines, by a guess at their width.
    fn key_rows(&self) -> Vec<Vec<(u32, &Key)>> {
        let mut rows: Vec<Vec<(u32, &Key)>> = Vec::new();
        let mut x = WIDTH;
        for key in &self.keys {
            let width = 100 + 15 * key.label.chars().count() as u32;
            if x + width > WIDTH || rows.is_empty() {
                rows.push(Vec::new());
                x = 110;
            }
            if let Some(row) = rows.last_mut() {
                row.push((x, key));
            }
            x += width;
        }
        rows
    }

    /// The drawing for the page: colours are the page's variables, and what differs between the systems of units is there for each.
    pub fn inline(&self, other: &Self, both: Both) -> String {
        let id = &self.id;
        let rules: String = self
            .keys
            .iter()
            .map(|k| format!("#figure-{id}:has(#show-{id}-{0}:not(:checked)) .plot .{0}{{display:none}}", k.class))
            .collect();
        let mut out = format!("<style>{rules}</style>\n<div class=\"plot\">\n");
        out.push_str(&format!(
            "<svg viewBox=\"0 0 {WIDTH} {0}\" width=\"{WIDTH}\" height=\"{0}\" role=\"img\" aria-labelledby=\"title-{id}\" aria-describedby=\"desc-{id}\">\n",
            self.height
        ));
        for (name, a, b) in [("title", &self.title, &other.title), ("desc", &self.description, &other.description)] {
            out.push_str(&format!("<{name} id=\"{name}-{id}\"{}>{}</{name}>\n", both.attribute(a, b), escape(a)));
        }
        let paired = self.layers.len() == other.layers.len();
        for (k, layer) in self.layers.iter().enumerate() {
            let twin = other.layers.get(k).filter(|l| paired && l.id == layer.id && l.body != layer.body);
            let groups = match twin {
                None => layer.group("", ""),
                Some(twin) => {
                    let (shown, hidden) = (both::code(both.shown), both::code(both.other()));
                    layer.group("", shown) + &twin.group(&format!("-{hidden}"), hidden)
                }
            };
            out.push_str(&palette::to_variables(&groups));
        }
        out.push_str("</svg>\n</div>\n");
        out
    }

    /// The legend for the page: each key switches its layer.
    pub fn legend(&self, other: &Self, both: Both) -> String {
        if self.keys.is_empty() {
            return String::new();
        }
        let mut out = "<div class=\"keys\">\n".to_owned();
        for (k, key) in self.keys.iter().enumerate() {
            let twin = other.keys.get(k).filter(|t| t.class == key.class).unwrap_or(key);
            out.push_str(&format!(
                "<label><input type=\"checkbox\" id=\"show-{}-{}\" data-key=\"{1}\" autocomplete=\"off\" checked><svg viewBox=\"0 0 48 32\" aria-hidden=\"true\">{}</svg><span>{}</span></label>\n",
                self.id,
                key.class,
                palette::to_variables(&key.sample),
                both.text(&key.label, &twin.label)
            ));
        }
        out.push_str("</div>\n");
        out
    }

    /// Its data as people read numbers.
    pub fn tables(&self) -> impl Iterator<Item = &Table> {
        self.layers.iter().flat_map(|l| &l.tables)
    }
}

impl Layer {
    fn new(id: impl Into<String>, class: impl Into<String>, body: String) -> Self {
        Self { id: id.into(), class: class.into(), body, tables: Vec::new() }
    }
    /// With the numbers that it draws.
    fn with_table(mut self, table: Table) -> Self {
        self.tables.push(table);
        self
    }
    fn group(&self, suffix: &str, units: &str) -> String {
        let units = if units.is_empty() { String::new() } else { format!(" data-units=\"{units}\"") };
        format!("<g id=\"{}{suffix}\" class=\"{}\"{units}>\n{}</g>\n", self.id, self.class, self.body)
    }
}

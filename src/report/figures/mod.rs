//! The figures, each a stack of layers that a style sheet can reach.
//!
//! plotters writes no group, id or class and only fixed colours. So every layer is drawn into its own text and put into
//! a `<g>` here; in the page the palette's colours become the page's variables, so that a dark screen and paper both
//! work; as a file of its own a figure keeps plain colours on white. Shape goes with colour: no regime is told by colour alone.

mod availability;
mod delta_t;
mod evidence;
mod frame;
mod head_flow;
mod marks;
mod months;
mod need;
mod palette;
mod strip;
mod valves;
mod verified;

pub use availability::ID as AVAILABILITY;
pub use months::{ID as MONTHS, figure as of_months};
pub use need::ID as NEED;

use super::{html::escape, show::Show};
use crate::{pipeline::Review, verification::Verification};

/// Drawn width [px]: twice what a page shows, since plotters places marks on whole pixels.
pub const WIDTH: u32 = 1360;

/// One finished figure.
#[derive(Debug, Clone)]
pub struct Figure {
    pub id: &'static str,
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
    /// Further attributes, ready to stand in a tag.
    attributes: &'static str,
    body: String,
}

/// All figures that the review has data for, in the order of the report.
pub fn all(review: &Review, show: &Show) -> Vec<Figure> {
    [
        head_flow::figure(review, show),
        strip::figure(review, show),
        delta_t::figure(review, show),
        valves::figure(review, show),
        need::figure(review, show),
        evidence::figure(review, show),
        availability::figure(review, show),
    ]
    .into_iter()
    .flatten()
    .collect()
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
        for layer in self.layers.iter().filter(|l| !l.hidden()) {
            out.push_str(&layer.group());
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

    /// For the page: colours are the page's variables, and each key switches its layer.
    pub fn inline(&self) -> String {
        let id = self.id;
        let mut out = format!("<figure id=\"figure-{id}\">\n");
        let rules: String = self
            .keys
            .iter()
            .map(|k| format!("#figure-{id}:has(#show-{id}-{0}:not(:checked)) .plot .{0}{{display:none}}", k.class))
            .collect();
        out.push_str(&format!("<style>{rules}</style>\n<div class=\"plot\">\n"));
        out.push_str(&format!(
            "<svg viewBox=\"0 0 {WIDTH} {}\" role=\"img\" aria-labelledby=\"title-{id} desc-{id}\">\n<title id=\"title-{id}\">{}</title>\n<desc id=\"desc-{id}\">{}</desc>\n",
            self.height,
            escape(&self.title),
            escape(&self.description)
        ));
        for layer in &self.layers {
            out.push_str(&palette::to_variables(&layer.group()));
        }
        out.push_str("</svg>\n</div>\n");
        if !self.keys.is_empty() {
            out.push_str("<div class=\"keys\">\n");
            for key in &self.keys {
                out.push_str(&format!(
                    "<label><input type=\"checkbox\" id=\"show-{id}-{}\" checked><svg viewBox=\"0 0 48 32\" aria-hidden=\"true\">{}</svg>{}</label>\n",
                    key.class,
                    palette::to_variables(&key.sample),
                    escape(&key.label)
                ));
            }
            out.push_str("</div>\n");
        }
        out.push_str(&format!(
            "<figcaption><b>{}.</b> {}</figcaption>\n</figure>\n",
            escape(&self.title),
            escape(&self.caption)
        ));
        out
    }
}

impl Layer {
    fn new(id: impl Into<String>, class: impl Into<String>, body: String) -> Self {
        Self { id: id.into(), class: class.into(), attributes: "", body }
    }
    /// An axis in the other system of units: there for a style sheet to show, not shown.
    fn hidden(&self) -> bool {
        self.attributes.contains("data-units") && !self.attributes.contains("data-plant")
    }
    fn group(&self) -> String {
        format!("<g id=\"{}\" class=\"{}\"{}>\n{}</g>\n", self.id, self.class, self.attributes, self.body)
    }
}

//! The periods side by side: a small panel each of head over flow, on the same axes.
//!
//! The decision a reader would question: every earlier panel also holds this period's line, so that the eye compares two
//! lines in one place and not across the page.

use super::{Figure, Key, Layer, WIDTH, frame::axis_layers, marks, palette};
use crate::report::{
    months::{Period, named},
    operation::Bin,
    show::{Show, figures as round},
};
use plotters::{
    coord::Shift,
    element::PathElement,
    prelude::*,
    style::text_anchor::{HPos, Pos, VPos},
};

pub const ID: &str = "months";

/// Panels in a line, so that a year and a month make three lines.
const COLUMNS: usize = 5;
/// Fewer panels than this make fewer columns, which are wider.
const FEW_COLUMNS: usize = 3;
/// Room in the drawing [px].
const LEFT: i32 = 112;
const RIGHT: i32 = 20;
const BELOW: i32 = 84;
const GAP: i32 = 26;
/// Room for a panel's title, and its plot [px].
const TITLE: i32 = 84;
/// Thickness of the bar of energy, and its distance from the plot [px].
const BAR: i32 = 10;
const BAR_ABOVE: i32 = 6;
const PLOT: i32 = 200;

const DRAWING: &str = "drawing into a text cannot fail";
type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
/// Draws a panel's bins.
type Drawn<'d> = dyn Fn(&Grid, &Area, usize, &[Bin]) + 'd;

/// Where the panels stand and what they span.
struct Grid {
    columns: usize,
    rows: usize,
    width: i32,
    /// Flow [m3/h] and head [kPa] at the far ends.
    flow: f64,
    head: f64,
}

/// The figure; `None` with fewer than two periods of which a head over flow is known.
pub fn figure(periods: &[Period], show: &Show) -> Option<Figure> {
    let known: Vec<&Period> = periods.iter().filter(|p| !p.operation.head_over_flow.is_empty()).collect();
    if known.len() < 2 {
        return None;
    }
    let grid = Grid::new(&known);
    let now = &known.last()?.operation.head_over_flow;
    let mut layers = axis_layers(ID, show.units, |units| grid.axes(&known, &show.within(units)));
    let each = |what: &Drawn| {
        grid.draw(|area| known.iter().enumerate().for_each(|(k, p)| what(&grid, area, k, &p.operation.head_over_flow)))
    };
    layers.push(Layer::new("months-band", "band", each(&Grid::band)));
    layers.push(Layer::new("months-middle", "middle", each(&Grid::middle)));
    let ghost = |g: &Grid, area: &Area, k: usize, _: &[Bin]| {
        if k + 1 < known.len() {
            g.ghost(area, k, now);
        }
    };
    layers.push(Layer::new("months-now", "now", each(&ghost)));
    layers.push(Layer::new("months-energy", "energy", grid.energy(&known)));
    let band = "<rect x=\"4\" y=\"6\" width=\"40\" height=\"20\" fill=\"#8D9096\" opacity=\"0.35\"/>".to_owned();
    let bar = "<rect x=\"4\" y=\"12\" width=\"40\" height=\"8\" fill=\"#62676F\"/>".to_owned();
    Some(Figure {
        id: ID.into(),
        title: "The periods side by side".to_owned(),
        description: description(&known, show),
        caption: "Head over flow of the loop in each period, steady hours, on the same axes; the last panel, in the thick frame, is this period. The dots are the middle head at each flow, larger the more hours they hold; eight tenths of the hours lie in the band. The bar above a panel is its energy a day. The dashed line repeats this period's middle head in every earlier panel."
            .to_owned(),
        keys: vec![
            Key { class: "band", label: "eight tenths of the hours".to_owned(), sample: band },
            Key { class: "middle", label: "middle head".to_owned(), sample: marks::drawn(palette::PRESENT, None) },
            Key { class: "now", label: "this period's middle head".to_owned(), sample: marks::line_sample(palette::PROPOSED, true) },
            Key { class: "energy", label: "energy a day".to_owned(), sample: bar },
        ],
        height: grid.height(),
        layers,
    })
}

impl Grid {
    fn new(periods: &[&Period]) -> Self {
        let columns = if periods.len() <= 2 * FEW_COLUMNS { periods.len().min(FEW_COLUMNS) } else { COLUMNS };
        let bins = || periods.iter().flat_map(|p| &p.operation.head_over_flow);
        let most = |of: fn(&Bin) -> f64| bins().map(of).fold(1e-6, f64::max) * 1.1;
        Self {
            columns,
            rows: periods.len().div_ceil(columns),
            width: (WIDTH as i32 - LEFT - RIGHT - GAP * (columns as i32 - 1)) / columns as i32,
            flow: most(|b| b.flow_m3_h),
            head: most(|b| b.head_high_kpa),
        }
    }

    fn height(&self) -> u32 {
        (self.rows as i32 * (TITLE + PLOT) + BELOW) as u32
    }

    /// A panel's upper left corner [px].
    fn corner(&self, k: usize) -> (i32, i32) {
        let (row, column) = ((k / self.columns) as i32, (k % self.columns) as i32);
        (LEFT + column * (self.width + GAP), row * (TITLE + PLOT) + TITLE)
    }

    /// A place in a panel [px].
    fn at(&self, k: usize, flow: f64, head: f64) -> (i32, i32) {
        let (x, y) = self.corner(k);
        let across = (flow / self.flow * f64::from(self.width)).round() as i32;
        (x + across, y + PLOT - (head / self.head * f64::from(PLOT)).round() as i32)
    }

    fn draw(&self, what: impl FnOnce(&Area)) -> String {
        let mut text = String::new();
        {
            let area = SVGBackend::with_string(&mut text, (WIDTH, self.height())).into_drawing_area();
            what(&area);
            area.present().expect(DRAWING);
        }
        super::frame::inner(&text)
    }

    fn band(&self, area: &Area, k: usize, bins: &[Bin]) {
        let half = half_width(bins);
        for b in bins {
            let corners = [
                self.at(k, (b.flow_m3_h - half).max(0.0), b.head_high_kpa),
                self.at(k, b.flow_m3_h + half, b.head_low_kpa),
            ];
            area.draw(&Rectangle::new(corners, palette::PUMP.mix(0.35).filled())).expect(DRAWING);
        }
    }

    fn middle(&self, area: &Area, k: usize, bins: &[Bin]) {
        let most = bins.iter().map(|b| b.hours).fold(1e-6, f64::max);
        for b in bins {
            let radius = 4.0 + 5.0 * (b.hours / most).sqrt();
            let dot =
                Circle::new(self.at(k, b.flow_m3_h, b.head_kpa), radius.round() as i32, palette::PRESENT.filled());
            area.draw(&dot).expect(DRAWING);
        }
    }

    /// Each panel's energy a day as a bar; the longest is as wide as a panel.
    fn energy(&self, periods: &[&Period]) -> String {
        let of = |p: &&Period| p.operation.energy_a_day().unwrap_or(0.0);
        let most = periods.iter().map(of).fold(1e-6, f64::max);
        self.draw(|area| {
            for (k, period) in periods.iter().enumerate() {
                let (x, y) = self.corner(k);
                let long = (of(period) / most * f64::from(self.width)).round() as i32;
                let corners = [(x, y - BAR_ABOVE - BAR), (x + long, y - BAR_ABOVE)];
                area.draw(&Rectangle::new(corners, palette::MUTED.filled())).expect(DRAWING);
            }
        })
    }

    /// This period's middle heads, in dashes.
    fn ghost(&self, area: &Area, k: usize, bins: &[Bin]) {
        for pair in bins.windows(2) {
            let (a, b) =
                (self.at(k, pair[0].flow_m3_h, pair[0].head_kpa), self.at(k, pair[1].flow_m3_h, pair[1].head_kpa));
            let part = |share: f64| {
                let of = |a: i32, b: i32| (f64::from(a) + share * f64::from(b - a)).round() as i32;
                (of(a.0, b.0), of(a.1, b.1))
            };
            let stroke = PathElement::new(vec![part(0.2), part(0.8)], palette::PROPOSED.stroke_width(5));
            area.draw(&stroke).expect(DRAWING);
        }
    }

    /// Frames, titles, grid and numbers of all panels.
    fn axes(&self, periods: &[&Period], show: &Show) -> String {
        self.draw(|area| {
            let (flows, heads) = (ticks(show.flow_value(self.flow)), ticks(show.head_value(self.head)));
            for (k, period) in periods.iter().enumerate() {
                self.panel(area, k, period, k + 1 == periods.len(), show);
                for v in &heads {
                    let head = v / show.head_value(1.0);
                    self.rule(area, [self.at(k, 0.0, head), self.at(k, self.flow, head)]);
                    if k % self.columns == 0 {
                        let (x, y) = self.at(k, 0.0, head);
                        text(area, &round(*v, 4), (x - 10, y), Pos::new(HPos::Right, VPos::Center), false);
                    }
                }
                for v in &flows {
                    let flow = v / show.flow_value(1.0);
                    self.rule(area, [self.at(k, flow, 0.0), self.at(k, flow, self.head)]);
                    // Below the lowest panel of each column.
                    if k + self.columns >= periods.len() {
                        let (x, y) = self.at(k, flow, 0.0);
                        text(area, &round(*v, 4), (x, y + 8), Pos::new(HPos::Center, VPos::Top), false);
                    }
                }
            }
            let bottom = self.height() as i32;
            let middle = LEFT + (WIDTH as i32 - LEFT - RIGHT) / 2;
            text(
                area,
                &format!("flow, {}", show.flow_unit()),
                (middle, bottom - 4),
                Pos::new(HPos::Center, VPos::Bottom),
                true,
            );
        })
    }

    fn panel(&self, area: &Area, k: usize, period: &Period, now: bool, show: &Show) {
        let (x, y) = self.corner(k);
        // A closed path, since a rectangle's line is always thin here.
        let (right, bottom) = (x + self.width, y + PLOT);
        let corners = vec![(x, y), (right, y), (right, bottom), (x, bottom), (x, y)];
        let frame = PathElement::new(corners, palette::MUTED.stroke_width(if now { 6 } else { 2 }));
        area.draw(&frame).expect(DRAWING);
        let name = short(period, show);
        text(area, &name, (x, y - 52), Pos::new(HPos::Left, VPos::Bottom), false);
        let energy = period.operation.energy_a_day().map_or_else(String::new, |e| format!("{} kWh a day", round(e, 3)));
        text(area, &energy, (x, y - 24), Pos::new(HPos::Left, VPos::Bottom), true);
        if k.is_multiple_of(self.columns) {
            let unit = format!("head, {}", show.head_unit());
            text(area, &unit, (x - 10, y - 24), Pos::new(HPos::Right, VPos::Bottom), true);
        }
    }

    fn rule(&self, area: &Area, ends: [(i32, i32); 2]) {
        area.draw(&PathElement::new(ends.to_vec(), palette::GRID.stroke_width(2))).expect(DRAWING);
    }
}

fn text(area: &Area, words: &str, at: (i32, i32), pos: Pos, muted: bool) {
    let color = if muted { palette::MUTED } else { palette::INK };
    let style = TextStyle::from(("sans-serif", 24).into_font()).color(&color).pos(pos);
    area.draw(&Text::new(words.to_owned(), at, style)).expect(DRAWING);
}

/// "Feb 2026", or first and last day.
fn short(period: &Period, show: &Show) -> String {
    let whole = named(period.from_ms, period.to_ms, show);
    match whole.split_once(' ') {
        Some((month, year)) if !whole.contains(" to ") => format!("{} {year}", month.get(..3).unwrap_or(month)),
        _ => {
            let day = |ms: i64| show.local(ms).map_or_else(String::new, |t| t.format("%-d.%-m.%y").to_string());
            format!("{}–{}", day(period.from_ms), day(period.to_ms - 1))
        }
    }
}

/// Half of the distance between neighbouring bins [m3/h].
fn half_width(bins: &[Bin]) -> f64 {
    let apart = bins.windows(2).map(|w| w[1].flow_m3_h - w[0].flow_m3_h).fold(f64::INFINITY, f64::min);
    if apart.is_finite() { 0.5 * apart } else { bins.first().map_or(0.0, |b| 0.05 * b.flow_m3_h) }
}

/// Two to four round numbers from nought on.
fn ticks(most: f64) -> Vec<f64> {
    let unit = 10f64.powf((most / 3.0).log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * unit).into_iter().find(|s| most / s < 4.0).unwrap_or(most);
    (0..=4).map(|k| f64::from(k) * step).filter(|v| *v <= most).collect()
}

fn description(periods: &[&Period], show: &Show) -> String {
    let each = |p: &&Period| {
        let bins = &p.operation.head_over_flow;
        let busiest = bins.iter().max_by(|a, b| a.hours.total_cmp(&b.hours));
        let head = busiest
            .map_or_else(String::new, |b| format!(", mostly {} at {}", show.head(b.head_kpa), show.flow(b.flow_m3_h)));
        let energy = p.operation.energy_a_day().map_or_else(String::new, |e| format!(", {} kWh a day", round(e, 3)));
        format!("{}{head}{energy}", named(p.from_ms, p.to_ms, show))
    };
    format!(
        "Small panels of head over flow, one a period. {}.",
        periods.iter().map(each).collect::<Vec<_>>().join("; ")
    )
}

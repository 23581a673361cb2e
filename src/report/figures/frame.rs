//! A plot's rectangle: from data to pixels, with axes drawn by plotters in either system of units.

use super::{Layer, WIDTH, palette};
use crate::{plant::UnitSystem, report::show::figures};
use plotters::{
    chart::ChartContext,
    coord::{Shift, types::RangedCoordf64},
    prelude::*,
    style::text_anchor::{HPos, Pos, VPos},
};
use std::ops::Range;

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

const DRAWING: &str = "drawing into a text cannot fail";

/// Where a plot stands in its figure [px], and what it spans [data units].
#[derive(Debug, Clone)]
pub struct Frame {
    /// Whole figure [px].
    pub height: u32,
    /// Top and bottom of this plot within it [px].
    pub top: u32,
    pub bottom: u32,
    pub x: Range<f64>,
    pub y: Range<f64>,
    /// Room for labels below [px]; 0 draws no horizontal axis.
    pub below: u32,
}

/// One axis as people read it: its description, and the factor from data units.
pub struct Scale<'s> {
    pub description: &'s str,
    pub factor: f64,
}

impl Frame {
    /// A figure of one plot.
    pub fn whole(height: u32, x: Range<f64>, y: Range<f64>) -> Self {
        Self { height, top: 0, bottom: height, x, y, below: 84 }
    }

    /// Draws one layer: `plot` places things in data units.
    pub fn layer(&self, plot: impl FnOnce(&Pen)) -> String {
        self.draw(self.x.clone(), self.y.clone(), |chart, area| plot(&Pen { chart: &*chart, area }))
    }

    /// Where a place in data units lies in the figure [px].
    pub fn pixel(&self, x: f64, y: f64) -> (i32, i32) {
        let at = std::cell::Cell::new((0, 0));
        self.layer(|pen| at.set(pen.at(x, y)));
        at.get()
    }

    /// The upright axis alone, for a plot that shares its horizontal one with others.
    pub fn upright(&self, y: &Scale) -> String {
        let scaled = self.y.start * y.factor..self.y.end * y.factor;
        self.draw(self.x.clone(), scaled, |chart, _| {
            let plain = |v: &f64| figures(*v, 4);
            chart
                .configure_mesh()
                .disable_x_mesh()
                .disable_x_axis()
                .bold_line_style(palette::GRID.stroke_width(2))
                .max_light_lines(0)
                .axis_style(palette::MUTED.stroke_width(2))
                .label_style(("sans-serif", 26).into_font().color(&palette::INK))
                .axis_desc_style(("sans-serif", 26).into_font().color(&palette::MUTED))
                .y_labels(3)
                .y_label_formatter(&plain)
                .y_desc(y.description)
                .draw()
                .expect(DRAWING);
        })
    }

    /// Axes with their labels, scaled from data units.
    pub fn axes(&self, x: &Scale, y: &Scale, format_x: Option<&dyn Fn(f64) -> String>) -> String {
        let scaled = |r: &Range<f64>, f: f64| r.start * f..r.end * f;
        let short = self.bottom - self.top < 260;
        self.draw(scaled(&self.x, x.factor), scaled(&self.y, y.factor), |chart, _| {
            let plain = |v: &f64| figures(*v, 4);
            let by_caller = |v: &f64| format_x.map_or_else(|| plain(v), |f| f(*v));
            let mut mesh = chart.configure_mesh();
            mesh.bold_line_style(palette::GRID.stroke_width(2))
                .max_light_lines(0)
                .axis_style(palette::MUTED.stroke_width(2))
                .label_style(("sans-serif", 26).into_font().color(&palette::INK))
                .axis_desc_style(("sans-serif", 26).into_font().color(&palette::MUTED))
                .x_labels(if format_x.is_some() { 12 } else { 8 })
                .y_labels(if short { 3 } else { 7 })
                .x_label_formatter(&by_caller)
                .y_label_formatter(&plain)
                .y_desc(y.description);
            if self.below > 0 {
                mesh.x_desc(x.description);
            }
            mesh.draw().expect(DRAWING);
        })
    }

    fn draw(
        &self,
        x: Range<f64>,
        y: Range<f64>,
        plot: impl for<'a, 'b> FnOnce(&mut Chart<'a, 'b>, &Area<'b>),
    ) -> String {
        let mut text = String::new();
        {
            let root = SVGBackend::with_string(&mut text, (WIDTH, self.height)).into_drawing_area();
            let part = root.clone().shrink((0, self.top), (WIDTH, self.bottom - self.top));
            let mut chart = ChartBuilder::on(&part)
                .margin_top(14)
                .margin_right(40)
                .margin_left(6)
                .x_label_area_size(self.below)
                .y_label_area_size(112)
                .build_cartesian_2d(x, y)
                .expect(DRAWING);
            plot(&mut chart, &root);
            root.present().expect(DRAWING);
        }
        inner(&text)
    }
}

/// The axis layer of a plot whose numbers depend on the system of units.
pub fn axis_layers(id: &str, units: UnitSystem, draw: impl Fn(UnitSystem) -> String) -> Vec<Layer> {
    vec![Layer::new(format!("{id}-axis"), "axis", draw(units))]
}

/// The inside of the drawing that plotters wrote.
pub fn inner(svg: &str) -> String {
    let body = svg.split_once(">\n").map_or("", |(_, body)| body);
    body.trim_end().trim_end_matches("</svg>").to_owned()
}

/// Places things by data units.
pub struct Pen<'p, 'a, 'b> {
    chart: &'p Chart<'a, 'b>,
    area: &'p Area<'b>,
}

impl Pen<'_, '_, '_> {
    /// Pixel of a place in data units.
    pub fn at(&self, x: f64, y: f64) -> (i32, i32) {
        self.chart.backend_coord(&(x, y))
    }
    /// Draws an element given in pixels.
    pub fn draw<'e, E>(&self, element: &'e E)
    where
        &'e E: plotters::element::PointCollection<'e, (i32, i32)>,
        E: for<'c> plotters::element::Drawable<SVGBackend<'c>>,
    {
        self.area.draw(element).expect(DRAWING);
    }
    /// A line through places in data units; a place that is not finite ends one stretch and starts the next.
    pub fn line(&self, points: impl IntoIterator<Item = (f64, f64)>, style: ShapeStyle) {
        let mut stretch: Vec<(i32, i32)> = Vec::new();
        for (x, y) in points {
            if x.is_finite() && y.is_finite() {
                stretch.push(self.at(x, y));
            } else {
                self.stretch(&mut stretch, style);
            }
        }
        self.stretch(&mut stretch, style);
    }
    fn stretch(&self, points: &mut Vec<(i32, i32)>, style: ShapeStyle) {
        match points.as_slice() {
            [] => {}
            [(x, y)] => self.draw(&PathElement::new(vec![(*x, *y), (*x + 2, *y)], style)),
            _ => self.draw(&PathElement::new(points.clone(), style)),
        }
        points.clear();
    }
    /// A filled rectangle in data units.
    pub fn block(&self, x: Range<f64>, y: Range<f64>, style: ShapeStyle) {
        self.draw(&Rectangle::new([self.at(x.start, y.end), self.at(x.end, y.start)], style));
    }
    /// A filled band between two lines, given from left to right as place, lower and upper edge.
    pub fn band(&self, edges: &[(f64, f64, f64)], style: ShapeStyle) {
        let upper = edges.iter().map(|e| self.at(e.0, e.2));
        let lower = edges.iter().rev().map(|e| self.at(e.0, e.1));
        self.draw(&Polygon::new(upper.chain(lower).collect::<Vec<_>>(), style));
    }
    /// Words centred below a place in data units, moved down by so many pixels.
    pub fn words_below(&self, text: &str, x: f64, y: f64, down: i32, color: RGBColor) {
        let (px, py) = self.at(x, y);
        let middle = Pos::new(HPos::Center, VPos::Top);
        let style = TextStyle::from(("sans-serif", 24).into_font()).color(&color).pos(middle);
        self.draw(&Text::new(text.to_owned(), (px, py + down), style));
    }
    /// Words at a place in data units, moved by so many pixels.
    pub fn words(&self, text: &str, x: f64, y: f64, moved: (i32, i32), color: RGBColor) {
        let (px, py) = self.at(x, y);
        let style = ("sans-serif", 24).into_font().color(&color);
        self.draw(&Text::new(text.to_owned(), (px + moved.0, py + moved.1), style));
    }
}

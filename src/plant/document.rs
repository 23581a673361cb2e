//! A TOML text read key by key, with the line of every key, every complaint kept, and every key nobody asked for named.
//!
//! A [`Section`] is one table. Asking it for a key registers the key as known; [`Section::finish`] then complains about
//! the others. So the list of known keys is the code that reads them, and cannot fall behind it.

use super::error::PlantError;
use super::units::{self, QuantityError, UnitError};
use super::words::{Words, nearest};
use super::{Dimension, Notice};
use crate::quantity::{Density, Length, Pressure};
use std::ops::Range;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The file being read: turns byte places into lines, and keeps what is to be said.
pub(super) struct Page {
    path: PathBuf,
    line_starts: Vec<usize>,
    pub(super) errors: Vec<PlantError>,
    pub(super) notices: Vec<Notice>,
    pub(super) assumed: Vec<String>,
    /// A head in metres or feet was turned into a pressure, so the fluid's density mattered.
    pub(super) heads_used: bool,
    /// Only the exports are looked at: what a review needs may be absent.
    pub(super) partial: bool,
}

impl Page {
    pub(super) fn new(text: &str, path: &Path) -> Self {
        let line_starts =
            std::iter::once(0).chain(memchr::memchr_iter(b'\n', text.as_bytes()).map(|i| i + 1)).collect();
        Self {
            path: path.to_owned(),
            line_starts,
            errors: Vec::new(),
            notices: Vec::new(),
            assumed: Vec::new(),
            heads_used: false,
            partial: false,
        }
    }
    /// Line of a byte, from 1.
    pub(super) fn line(&self, span: &Range<usize>) -> usize {
        self.line_starts.partition_point(|start| *start <= span.start).max(1)
    }
    /// What stands in a line, from 1.
    pub(super) fn written<'t>(&self, text: &'t str, line: usize) -> &'t str {
        let start = |line: usize| self.line_starts.get(line).copied().unwrap_or(text.len());
        text.get(start(line - 1)..start(line)).unwrap_or_default().trim()
    }
    /// Keeps an error.
    pub(super) fn refuse(
        &mut self,
        line: impl Into<Option<usize>>,
        found: impl Into<String>,
        rule: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.errors.push(PlantError {
            file: self.path.clone(),
            line: line.into(),
            found: found.into(),
            rule: rule.into(),
            hint: hint.into(),
        });
    }
    /// Keeps a notice.
    pub(super) fn notice(&mut self, text: impl Into<String>) {
        self.notices.push(Notice::new("plant", text));
    }
    /// Keeps a sentence about a default that stood in for a missing fact.
    pub(super) fn assume(&mut self, text: impl Into<String>) {
        let text = text.into();
        if !self.assumed.contains(&text) {
            self.assumed.push(text);
        }
    }
}

/// One table of the file, being read.
pub(super) struct Section<'d> {
    /// As written: `[loop]`, `[[pump]]`.
    pub(super) title: String,
    /// Its own line.
    pub(super) line: usize,
    table: &'d DeTable<'d>,
    asked: Vec<&'static str>,
    /// Those of `asked` that are lists of tables.
    lists: Vec<&'static str>,
}

/// The least and the most that a number may be, in SI, and how to say so.
#[derive(Clone, Copy)]
pub(super) struct Bounds {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) rule: &'static str,
}

/// A longer list of words is not read, so only the nearest is said.
const FEW_WORDS: usize = 12;

/// What a value is, in words for a person.
fn kind(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(s) => format!("the text \"{}\"", short(s)),
        DeValue::Integer(i) => format!("the number {i}"),
        DeValue::Float(f) => format!("the number {f}"),
        DeValue::Boolean(b) => format!("{b}"),
        DeValue::Datetime(d) => format!("the date {d}"),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}

/// At most sixty characters of a text, on one line.
pub(super) fn short(text: &str) -> String {
    let line: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if line.chars().count() <= 60 { line } else { line.chars().take(57).chain("...".chars()).collect() }
}

/// A TOML number; `None` where the value is no number.
fn number_in(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|n| n as f64),
        DeValue::Float(f) => f.as_str().parse().ok(),
        _ => None,
    }
}

impl<'d> Section<'d> {
    pub(super) fn new(title: impl Into<String>, line: usize, table: &'d DeTable<'d>) -> Self {
        Self { title: title.into(), line, table, asked: Vec::new(), lists: Vec::new() }
    }
    /// The raw value of a key, which is known from now on.
    pub(super) fn get(&mut self, key: &'static str) -> Option<&'d Spanned<DeValue<'d>>> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        self.table.get(key)
    }
    /// " in [loop]"; nothing for the file itself.
    fn place(&self) -> String {
        if self.title.is_empty() { String::new() } else { format!(" in {}", self.title) }
    }
    /// Whether a key is written here.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }
    /// Whether a key is written here with an empty list.
    pub(super) fn is_empty_list(&self, key: &str) -> bool {
        self.table.get(key).and_then(|v| v.get_ref().as_array()).is_some_and(|list| list.is_empty())
    }
    /// Line of a key, or of the table where the key is not there.
    pub(super) fn line_of(&self, page: &Page, key: &str) -> usize {
        self.table.get_key_value(key).map_or(self.line, |(k, _)| page.line(&k.span()))
    }
    /// Complains about a key's value: it is not what `rule` asks for.
    fn wrong_kind(&self, page: &mut Page, key: &str, value: &DeValue<'_>, rule: &str, example: &str) {
        let line = self.line_of(page, key);
        page.refuse(line, format!("{key}{} is {}", self.place(), kind(value)), rule, format!("{key} = {example}"));
    }
    /// Complains about every key that nobody asked for.
    pub(super) fn finish(self, page: &mut Page) {
        for (key, value) in self.table.iter() {
            let name: &str = key.get_ref();
            if self.asked.contains(&name) {
                continue;
            }
            let line = page.line(&key.span());
            let near = nearest(name, self.asked.iter().copied()).unwrap_or("name");
            let what = if self.title.is_empty() { "table" } else { "key" };
            let place = self.place();
            let hint = self.spelling(near, value.get_ref());
            page.refuse(
                line,
                format!("unknown {what} \"{}\"{place}", short(name)),
                format!("the nearest known {what} is \"{near}\""),
                hint,
            );
        }
    }
    /// How the nearest known key would stand where the unknown one does.
    fn spelling(&self, near: &str, value: &DeValue<'_>) -> String {
        match value {
            DeValue::Table(_) | DeValue::Array(_) if self.lists.contains(&near) => format!("[[{near}]]"),
            DeValue::Table(_) if self.title.is_empty() => format!("[{near}]"),
            DeValue::String(s) => format!("{near} = \"{}\"", short(s)),
            DeValue::Integer(i) => format!("{near} = {i}"),
            DeValue::Float(f) => format!("{near} = {f}"),
            DeValue::Boolean(b) => format!("{near} = {b}"),
            _ => format!("{near} = ..."),
        }
    }

    /// A text that says something.
    pub(super) fn text(&mut self, page: &mut Page, key: &'static str, example: &str) -> Option<String> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::String(s)
                if !s.trim().is_empty() && s.chars().count() <= 200 && !s.chars().any(char::is_control) =>
            {
                Some(s.trim().to_owned())
            }
            DeValue::String(s) if s.trim().is_empty() => {
                let line = self.line_of(page, key);
                page.refuse(
                    line,
                    format!("{key}{} is empty", self.place()),
                    "it must hold a text",
                    format!("{key} = \"{example}\""),
                );
                None
            }
            other => {
                self.wrong_kind(
                    page,
                    key,
                    other,
                    "it must be one line of text in quotes, of at most 200 characters",
                    &format!("\"{example}\""),
                );
                None
            }
        }
    }
    /// A word out of a fixed list.
    pub(super) fn word<T: Words>(&mut self, page: &mut Page, key: &'static str) -> Option<T> {
        let value = self.get(key)?;
        let all: Vec<&str> = T::VARIANTS.iter().map(|v| v.written()).collect();
        let DeValue::String(written) = value.get_ref() else {
            self.wrong_kind(page, key, value.get_ref(), "it must be a word in quotes", &format!("\"{}\"", all[0]));
            return None;
        };
        let read = T::read(written);
        if read.is_none() {
            let near = nearest(written, all.iter().copied()).unwrap_or(all[0]);
            let line = self.line_of(page, key);
            let rule = if all.len() <= FEW_WORDS {
                format!("it must be one of {}", all.join(", "))
            } else {
                format!("the nearest of the {} words it can be is \"{near}\"", all.len())
            };
            page.refuse(
                line,
                format!("{key}{} is \"{}\"", self.place(), short(written)),
                rule,
                format!("{key} = \"{near}\""),
            );
        }
        read
    }
    /// true or false.
    pub(super) fn flag(&mut self, page: &mut Page, key: &'static str) -> Option<bool> {
        let value = self.get(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            self.wrong_kind(page, key, value.get_ref(), "it must be true or false, without quotes", "true");
        }
        flag
    }
    /// A plain number within bounds.
    pub(super) fn number(&mut self, page: &mut Page, key: &'static str, bounds: Bounds, example: &str) -> Option<f64> {
        let value = self.get(key)?;
        let Some(number) = number_in(value.get_ref()) else {
            self.wrong_kind(page, key, value.get_ref(), "it must be a number, without quotes", example);
            return None;
        };
        self.within(page, key, number, bounds, &value_text(value.get_ref()), example)
    }
    /// A whole number from 1 to `most`.
    pub(super) fn count(&mut self, page: &mut Page, key: &'static str, most: u32) -> Option<u32> {
        let value = self.get(key)?;
        let read = match value.get_ref() {
            DeValue::Integer(i) => u32::from_str_radix(i.as_str(), i.radix()).ok().filter(|n| (1..=most).contains(n)),
            _ => None,
        };
        if read.is_none() {
            self.wrong_kind(page, key, value.get_ref(), &format!("it must be a whole number from 1 to {most}"), "1");
        }
        read
    }
    fn within(
        &self,
        page: &mut Page,
        key: &str,
        number: f64,
        bounds: Bounds,
        written: &str,
        example: &str,
    ) -> Option<f64> {
        if number.is_finite() && number >= bounds.low && number <= bounds.high {
            return Some(number);
        }
        let line = self.line_of(page, key);
        page.refuse(
            line,
            format!("{key}{} is {}", self.place(), short(written)),
            bounds.rule,
            format!("{key} = {example}"),
        );
        None
    }
    /// A share: a number from 0 to 1, or a text in %.
    pub(super) fn share(&mut self, page: &mut Page, key: &'static str, example: &str) -> Option<f64> {
        const SHARE: Bounds = Bounds { low: 1e-3, high: 1.0, rule: "it must be above 0 and at most 1 (or 100 %)" };
        match self.get(key)?.get_ref() {
            DeValue::String(_) => {
                self.quantity(page, key, &[Dimension::Fraction], SHARE, &format!("\"{example}\"")).map(|m| m.0)
            }
            _ => self.number(page, key, SHARE, example),
        }
    }
    /// A quantity with its unit, in SI, and what it measures.
    pub(super) fn quantity(
        &mut self,
        page: &mut Page,
        key: &'static str,
        wanted: &[Dimension],
        bounds: Bounds,
        example: &str,
    ) -> Option<(f64, Dimension)> {
        let value = self.get(key)?;
        let DeValue::String(written) = value.get_ref() else {
            self.wrong_kind(page, key, value.get_ref(), "a quantity stands in quotes, with its unit", example);
            return None;
        };
        match units::measured(written, wanted) {
            Ok(m) => self.within(page, key, m.si, bounds, &format!("\"{written}\""), example).map(|v| (v, m.dimension)),
            Err(error) => {
                self.bad_quantity(page, key, written, &error, example);
                None
            }
        }
    }
    fn bad_quantity(&self, page: &mut Page, key: &str, written: &str, error: &QuantityError, example: &str) {
        let line = self.line_of(page, key);
        let hint = match error {
            QuantityError::Unit(unit) if !matches!(unit, UnitError::Dimension { .. }) => {
                let number: String =
                    written.trim().chars().take_while(|c| c.is_ascii_digit() || matches!(c, '.' | '+' | '-')).collect();
                format!("{key} = \"{number} {}\"", unit.instead())
            }
            QuantityError::Comma(_) => without_commas(written).map_or_else(
                || format!("{key} = {example}"),
                |(point, whole)| match whole {
                    // "1,450 rpm" may be either.
                    Some(whole) => format!("{key} = \"{whole}\"   # or \"{point}\""),
                    None => format!("{key} = \"{point}\""),
                },
            ),
            _ => format!("{key} = {example}"),
        };
        page.refuse(line, format!("{key}{} is \"{}\"", self.place(), short(written)), error_rule(error), hint);
    }
    /// A pressure, or a head of the loop's fluid at `density`, in kPa.
    pub(super) fn pressure(
        &mut self,
        page: &mut Page,
        key: &'static str,
        density: Density,
        bounds: Bounds,
        example: &str,
    ) -> Option<Pressure> {
        // Bounds are in kPa; a metre of fluid is about 10 kPa, so heads are bounded after they became pressures.
        let free = Bounds { low: f64::NEG_INFINITY, high: f64::INFINITY, ..bounds };
        let (si, dimension) = self.quantity(page, key, &[Dimension::Pressure, Dimension::Head], free, example)?;
        page.heads_used |= dimension == Dimension::Head;
        let kpa = if dimension == Dimension::Head { Pressure::of_column(Length::m(si), density).in_kpa() } else { si };
        let written = self.get(key).map_or_else(String::new, |v| value_text(v.get_ref()));
        self.within(page, key, kpa, bounds, &written, example).map(Pressure::kpa)
    }
    /// A list of texts; each is kept with nothing but its outer spaces taken away.
    pub(super) fn texts(&mut self, page: &mut Page, key: &'static str, example: &str) -> Option<Vec<String>> {
        let value = self.get(key)?;
        let DeValue::Array(list) = value.get_ref() else {
            self.wrong_kind(page, key, value.get_ref(), "it must be a list of texts in square brackets", example);
            return None;
        };
        let mut texts = Vec::new();
        for item in list.iter() {
            match item.get_ref() {
                DeValue::String(s) if !s.trim().is_empty() => texts.push(s.trim().to_owned()),
                other => {
                    let line = page.line(&item.span());
                    let found = format!("{key}{} holds {}", self.place(), kind(other));
                    page.refuse(
                        line,
                        found,
                        "every entry must be a text in quotes, and not empty",
                        format!("{key} = {example}"),
                    );
                    return None;
                }
            }
        }
        Some(texts)
    }
    /// A list of finite numbers.
    pub(super) fn numbers(&mut self, page: &mut Page, key: &'static str, example: &str) -> Option<Vec<f64>> {
        let value = self.get(key)?;
        let DeValue::Array(list) = value.get_ref() else {
            self.wrong_kind(page, key, value.get_ref(), "it must be a list of numbers in square brackets", example);
            return None;
        };
        let mut numbers = Vec::new();
        for item in list.iter() {
            match number_in(item.get_ref()).filter(|n| n.is_finite()) {
                Some(number) => numbers.push(number),
                None => {
                    let line = page.line(&item.span());
                    let found = format!("{key}{} holds {}", self.place(), kind(item.get_ref()));
                    page.refuse(
                        line,
                        found,
                        "every entry must be a number, without quotes",
                        format!("{key} = {example}"),
                    );
                    return None;
                }
            }
        }
        Some(numbers)
    }
    /// A table inside this one.
    pub(super) fn table(
        &mut self,
        page: &mut Page,
        key: &'static str,
        title: &str,
        example: &str,
    ) -> Option<Section<'d>> {
        let value = self.get(key)?;
        let line = self.line_of(page, key);
        match value.get_ref() {
            DeValue::Table(table) => Some(Section::new(title, line, table)),
            DeValue::Array(list) if list.iter().any(|v| v.get_ref().is_table()) => {
                let line = list.get(1).map_or(line, |second| page.line(&second.span()));
                page.refuse(
                    line,
                    format!("{title} is written as a list of tables"),
                    "there is one, in single brackets",
                    example.to_owned(),
                );
                None
            }
            other => {
                page.refuse(line, format!("{title} is {}", kind(other)), "it must be a table", example.to_owned());
                None
            }
        }
    }
    /// The tables of a list, in order.
    pub(super) fn tables(&mut self, page: &mut Page, key: &'static str, title: &str) -> Vec<Section<'d>> {
        self.lists.push(key);
        let Some(value) = self.get(key) else { return Vec::new() };
        let line = self.line_of(page, key);
        let DeValue::Array(list) = value.get_ref() else {
            let rule = "there may be several, so each stands in double brackets";
            page.refuse(line, format!("{key} is {}", kind(value.get_ref())), rule, title.to_owned());
            return Vec::new();
        };
        let mut sections = Vec::new();
        for item in list.iter() {
            let line = page.line(&item.span());
            match item.get_ref() {
                DeValue::Table(table) => sections.push(Section::new(title, line, table)),
                other => page.refuse(
                    line,
                    format!("{key} holds {}", kind(other)),
                    "every entry must be a table",
                    title.to_owned(),
                ),
            }
        }
        sections
    }
    /// Anything, as the text it would be written as (dates and texts alike).
    pub(super) fn stamp(&mut self, page: &mut Page, key: &'static str, example: &str) -> Option<String> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::String(s) => Some(s.trim().to_owned()),
            DeValue::Datetime(d) => Some(d.to_string()),
            other => {
                self.wrong_kind(
                    page,
                    key,
                    other,
                    "it must be a local date and time in quotes",
                    &format!("\"{example}\""),
                );
                None
            }
        }
    }
}

/// A value as it may be quoted back.
fn value_text(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(s) => format!("\"{s}\""),
        DeValue::Integer(i) => i.to_string(),
        DeValue::Float(f) => f.to_string(),
        other => kind(other),
    }
}

/// A quantity written with one comma, with a point in its place; and without it where three digits follow, as they do a comma between thousands.
fn without_commas(written: &str) -> Option<(String, Option<String>)> {
    let (before, after) = written.trim().split_once(',').filter(|(_, after)| !after.contains([',', '.']))?;
    let digits = after.chars().take_while(char::is_ascii_digit).count();
    let whole = (digits == 3 && !before.is_empty()).then(|| format!("{before}{after}"));
    (digits > 0).then(|| (format!("{before}.{after}"), whole))
}

/// The rule that a quantity met; the text itself was already quoted.
fn error_rule(error: &QuantityError) -> String {
    match error {
        QuantityError::NoNumber(_) => "a quantity starts with a number".to_owned(),
        QuantityError::Comma(_) => "decimals take a point, thousands take nothing".to_owned(),
        QuantityError::NoUnit(_) => "a quantity ends with its unit".to_owned(),
        QuantityError::NotFinite(_) => "the number is too large".to_owned(),
        QuantityError::Unit(unit) => unit.to_string(),
    }
}

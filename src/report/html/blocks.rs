//! Sections, and what stands in them, in both systems of units side by side.

use super::{Entry, Page, escape};
use crate::report::{
    document::{Block, Document, Section, Table},
    figures::{Figure, LINKED},
};

/// Both sides in step; the shown one with itself where the other is not as long.
pub fn pairs<'t, T>(a: &'t [T], b: &'t [T]) -> impl Iterator<Item = (&'t T, &'t T)> {
    a.iter().zip(if a.len() == b.len() { b } else { a })
}

/// The figures of either side.
type Figures<'f> = (&'f [Figure], &'f [Figure]);

impl Page {
    pub fn sections(&mut self, a: &Document, b: &Document) {
        let figures = (a.figures.as_slice(), b.figures.as_slice());
        for (one, two) in pairs(&a.sections, &b.sections) {
            self.section(one, two, figures);
        }
    }

    fn section(&mut self, a: &Section, b: &Section, figures: Figures) {
        let title = escape(a.title);
        self.contents.push(Entry { id: a.id.to_owned(), title: title.clone(), inner: false });
        self.put(&format!("<section id=\"{}\">\n<h2>{title}{}</h2>\n", a.id, mark(a.id)));
        for (one, two) in pairs(&a.blocks, &b.blocks) {
            self.block(a.id, one, two, figures);
        }
        self.put("</section>\n");
    }

    fn block(&mut self, section: &str, a: &Block, b: &Block, figures: Figures) {
        let both = self.both;
        match (a, b) {
            (Block::Heading { id, text, tags }, Block::Heading { text: other, .. }) => {
                let id = id.clone().unwrap_or_else(|| format!("{section}-{}", plain(text)));
                self.heading(&id, (text, other), tags);
            }
            (Block::Paragraph(a), Block::Paragraph(b)) => self.put(&format!("<p>{}</p>\n", both.text(a, b))),
            (Block::Labelled { label, text }, Block::Labelled { text: other, .. }) => {
                self.put(&format!("<p><b>{}.</b> {}</p>\n", escape(label), both.text(text, other)));
            }
            (Block::Caution(a), Block::Caution(b)) => {
                let text = both.text(a, b);
                self.put(&format!("<p class=\"caution\" role=\"note\"><b>Caution.</b> {text}</p>\n"));
            }
            (Block::List { label, ordered, items }, Block::List { items: other, .. }) => {
                self.list(*label, *ordered, items, other);
            }
            (Block::Table(a), Block::Table(b)) => self.table(a, b),
            (Block::Verbatim(text), _) => {
                self.put(&format!("<pre tabindex=\"0\">{}</pre>\n", escape(text)));
            }
            (Block::Figure(i), _) => {
                if let Some(figure) = figures.0.get(*i) {
                    let other = figures.1.iter().find(|f| f.id == figure.id).unwrap_or(figure);
                    self.figure(figure, other);
                }
            }
            (Block::Folded { summary, blocks }, Block::Folded { blocks: other, .. }) => {
                self.put(&format!("<details>\n<summary>{}</summary>\n", escape(summary)));
                for (one, two) in pairs(blocks, other) {
                    self.block(section, one, two, figures);
                }
                self.put("</details>\n");
            }
            // The other side has something else in this place.
            (
                Block::Heading { .. }
                | Block::Paragraph(_)
                | Block::Labelled { .. }
                | Block::Caution(_)
                | Block::List { .. }
                | Block::Table(_)
                | Block::Folded { .. },
                _,
            ) => self.block(section, a, a, figures),
        }
    }

    /// A heading that links can lead to.
    fn heading(&mut self, id: &str, (text, other): (&str, &str), tags: &[String]) {
        let id = self.unique(id);
        let shown = self.both.text(text, other);
        let tags: String = tags.iter().map(|t| format!(" <span class=\"tag\">{}</span>", escape(t))).collect();
        self.put(&format!("<h3 id=\"{}\">{shown}{tags}{}</h3>\n", escape(&id), mark(&id)));
        self.contents.push(Entry { id, title: shown, inner: true });
    }

    /// The first of `id`, `id-2`, `id-3` and so on that is not taken.
    fn unique(&mut self, id: &str) -> String {
        let mut free = id.to_owned();
        let mut n = 1;
        while !self.ids.insert(free.clone()) {
            n += 1;
            free = format!("{id}-{n}");
        }
        free
    }

    fn list(&mut self, label: Option<&str>, ordered: bool, a: &[String], b: &[String]) {
        if let Some(label) = label {
            self.put(&format!("<p class=\"label\"><b>{}</b></p>\n", escape(label)));
        }
        let tag = if ordered { "ol" } else { "ul" };
        self.put(&format!("<{tag}>\n"));
        for (item, other) in pairs(a, b) {
            let text = self.both.text(item, other);
            self.put(&format!("<li>{text}</li>\n"));
        }
        self.put(&format!("</{tag}>\n"));
    }

    pub fn table(&mut self, a: &Table, b: &Table) {
        let both = self.both;
        let caption = self.unique(&format!("table-{}", self.ids.len()));
        // The caption stands outside the box that scrolls, so that it is read whole on a narrow screen.
        self.put(&format!("<p class=\"caption\" id=\"{caption}\">{}</p>\n", both.text(&a.caption, &b.caption)));
        self.put(&format!("<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-labelledby=\"{caption}\">\n"));
        self.put("<table>\n<thead><tr>");
        for (column, other) in pairs(&a.columns, &b.columns) {
            let title = both.text(column.title, other.title);
            self.put(&format!("<th scope=\"col\"{}>{title}</th>", class(column.number)));
        }
        self.put("</tr></thead>\n<tbody>\n");
        for (row, others) in pairs(&a.rows, &b.rows) {
            self.put("<tr>");
            for ((cell, other), column) in pairs(row, others).zip(&a.columns) {
                let attribute = both.attribute(cell, other);
                self.put(&format!("<td{}{attribute}>{}</td>", class(column.number), escape(cell)));
            }
            self.put("</tr>\n");
        }
        self.put("</tbody>\n</table>\n</div>\n");
    }

    /// The drawing with its words, its keys, and its numbers behind a fold.
    fn figure(&mut self, a: &Figure, b: &Figure) {
        let both = self.both;
        self.put(&format!("<figure id=\"figure-{}\">\n", a.id));
        self.put(&a.inline(b, both));
        if self.linked && LINKED.contains(&&*a.id) {
            self.put(READER);
        }
        self.put(&a.legend(b, both));
        self.put(&format!(
            "<figcaption><b>{}.</b> {}</figcaption>\n",
            both.text(&a.title, &b.title),
            both.text(&a.caption, &b.caption)
        ));
        self.put("</figure>\n");
        let (tables, others): (Vec<&Table>, Vec<&Table>) = (a.tables().collect(), b.tables().collect());
        if !tables.is_empty() {
            let title = both.text(&a.title, &b.title);
            self.put(&format!("<details class=\"numbers\">\n<summary>The numbers of this figure<span class=\"aside\">: {title}</span></summary>\n"));
            for (one, two) in pairs(&tables, &others) {
                self.table(one, two);
            }
            self.put("</details>\n");
        }
    }
}

/// Where a linked figure says what is under the pointer; the script shows it.
const READER: &str = "<div class=\"reader\" hidden>\n<p class=\"reading\" role=\"status\" aria-live=\"polite\"></p>\n\
    <p class=\"picked\" role=\"status\" aria-live=\"polite\"></p>\n\
    <p class=\"do\"><button type=\"button\" data-do=\"select\" aria-pressed=\"false\">Select by dragging</button>\n\
    <button type=\"button\" data-do=\"clear\" disabled>Clear the selection</button></p>\n</div>\n";

/// A mark beside a heading that holds its address.
fn mark(id: &str) -> String {
    format!(" <a class=\"mark\" href=\"#{id}\" aria-label=\"link to this part\">#</a>")
}

/// A name as part of an address: small letters and digits of any script, the rest hyphens; two names may give the same.
pub fn plain(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.ends_with('-') && !out.is_empty() {
            out.push('-');
        }
    }
    let out = out.trim_end_matches('-').chars().take(60).collect::<String>();
    if out.is_empty() { "part".to_owned() } else { out }
}

fn class(number: bool) -> &'static str {
    if number { " class=\"number\"" } else { "" }
}

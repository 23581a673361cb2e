//! `report.html`: the document as one page that asks nothing of any network.
//!
//! Comes in: the document in the reader's units, and the same document in the other units. Goes out: the page. It is whole
//! without a script; its one script (`report.js`) links the figures and switches units and regimes, and is the only one that
//! the page's own policy lets run. Sections and what they hold are in `html/blocks.rs`. Start at [`write`].

mod blocks;

use super::{
    both::{self, Both},
    document::{Document, Headline},
    words,
};
use crate::plant::UnitSystem;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;

const STYLE: &str = include_str!("report.css");
/// What makes the page's figures live. It writes text into the page, never markup.
const SCRIPT: &str = include_str!("report.js");

/// A document as it is shown first, the same in the other system of units, and what links its figures.
#[derive(Debug, Clone, Copy)]
pub struct Pages<'d> {
    pub shown: &'d Document,
    pub other: &'d Document,
    pub units: UnitSystem,
    /// JSON of `figures::links`, where the figures that it links are there.
    pub links: Option<&'d str>,
}

/// The page.
pub fn write(pages: &Pages) -> String {
    let (a, b) = (pages.shown, pages.other);
    let mut body = Page::new(pages);
    body.sections(a, b);
    let mut page = Page { ids: std::mem::take(&mut body.ids), ..Page::new(pages) };
    page.head(&a.headline.title);
    page.controls(a, b);
    page.put("<main id=\"report\" tabindex=\"-1\">\n");
    page.headline(&a.headline, &b.headline);
    page.contents(&body.contents);
    page.put(&body.out);
    page.put("</main>\n");
    if let Some(links) = pages.links {
        page.put(&format!("<script type=\"application/json\" id=\"links\">{}</script>\n", inert(links)));
    }
    page.put(&format!("<script>{SCRIPT}</script>\n</body>\n</html>\n"));
    page.out
}

/// Text that can stand in a page, also inside quotes.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // Control characters are no text in a page or a figure.
            c if c.is_control() && !matches!(c, '\n' | '\t') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// JSON in which nothing can end the element that holds it, or a line of a script.
fn inert(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        match c {
            '<' | '>' | '&' | '\u{2028}' | '\u{2029}' => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push(c),
        }
    }
    out
}

/// The page, or a part of it, as it grows.
struct Page {
    out: String,
    both: Both,
    /// Marks that links can lead to; no two are the same.
    ids: BTreeSet<String>,
    contents: Vec<Entry>,
    linked: bool,
}

/// A line of the contents.
struct Entry {
    id: String,
    /// Markup.
    title: String,
    /// Below the line before it that is not.
    inner: bool,
}

impl Page {
    fn new(pages: &Pages) -> Self {
        Self {
            out: String::with_capacity(1 << 19),
            both: Both { shown: pages.units },
            ids: pages.shown.sections.iter().map(|s| s.id.to_owned()).collect(),
            contents: Vec::new(),
            linked: pages.links.is_some(),
        }
    }

    fn put(&mut self, text: &str) {
        self.out.push_str(text);
    }

    fn head(&mut self, title: &str) {
        let units = both::code(self.both.shown);
        self.put(&format!(
            "<!doctype html>\n<html lang=\"en\" data-units=\"{units}\">\n<head>\n<meta charset=\"utf-8\">\n"
        ));
        self.put("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
        // Nothing may be fetched and no other script run, even if a name in the data looked like an address or like markup.
        let policy = format!(
            "default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-{}'; base-uri 'none'; form-action 'none'",
            base64(&Sha256::digest(SCRIPT.as_bytes()))
        );
        self.put(&format!("<meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\">\n"));
        self.put("<meta name=\"color-scheme\" content=\"light dark\">\n<link rel=\"icon\" href=\"data:,\">\n");
        self.put(&format!("<title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n", escape(title)));
        self.put("<a class=\"skip\" href=\"#report\">Skip to the report</a>\n");
    }

    /// The choice of units; it serves only with the script, which shows it.
    fn controls(&mut self, a: &Document, b: &Document) {
        if std::ptr::eq(a, b) {
            return;
        }
        self.put("<fieldset class=\"units\" hidden>\n<legend>Units</legend>\n");
        for (units, label) in [(UnitSystem::Si, "SI"), (UnitSystem::Ip, "IP")] {
            let code = both::code(units);
            let checked = if units == self.both.shown { " checked" } else { "" };
            self.put(&format!(
                "<label><input type=\"radio\" name=\"units\" value=\"{code}\" autocomplete=\"off\"{checked}> {label}</label>\n"
            ));
        }
        self.put("</fieldset>\n");
    }

    /// The memo: state, what to do and whose work it is, what else the first screen answers.
    fn headline(&mut self, a: &Headline, b: &Headline) {
        let both = self.both;
        self.put(&format!(
            "<header>\n<h1>{}</h1>\n<p class=\"about\">{}</p>\n<p class=\"state\">{}</p>\n",
            both.text(&a.title, &b.title),
            both.text(&a.about.join(" · "), &b.about.join(" · ")),
            both.large(&a.state, &b.state)
        ));
        self.put("<p class=\"label\"><b>What to do</b></p>\n<ol class=\"actions\">\n");
        for (one, two) in blocks::pairs(&a.actions, &b.actions) {
            let see = one.see.as_ref().map_or_else(String::new, |id| format!(" <a href=\"#{}\">Why</a>", escape(id)));
            let who = both.text(&words::capital(&one.who), &words::capital(&two.who));
            self.put(&format!("<li>{} <em>{who}.</em>{see}</li>\n", both.text(&one.what, &two.what)));
        }
        self.put("</ol>\n<dl class=\"answers\">\n");
        for (one, two) in blocks::pairs(&a.answers, &b.answers) {
            self.put(&format!("<dt>{}</dt>\n<dd>{}", escape(one.label), both.text(&one.text, &two.text)));
            if let Some(table) = &one.table {
                self.table(table, two.table.as_ref().unwrap_or(table));
            }
            self.put("</dd>\n");
        }
        self.put("</dl>\n");
        if let Some(text) = &a.since_last {
            let other = b.since_last.as_ref().unwrap_or(text);
            self.put(&format!("<p class=\"since\">{}</p>\n", both.text(text, other)));
        }
        self.put("</header>\n");
    }

    /// Sections, and below them the headings they hold.
    fn contents(&mut self, entries: &[Entry]) {
        self.put("<nav aria-label=\"Contents\">\n<ol>\n");
        let mut entries = entries.iter().peekable();
        while let Some(outer) = entries.next() {
            self.put(&format!("<li><a href=\"#{}\">{}</a>", outer.id, outer.title));
            if entries.peek().is_some_and(|e| e.inner) {
                self.put("\n<ol>\n");
                while let Some(inner) = entries.next_if(|e| e.inner) {
                    self.put(&format!("<li><a href=\"#{}\">{}</a></li>\n", inner.id, inner.title));
                }
                self.put("</ol>\n");
            }
            self.put("</li>\n");
        }
        self.put("</ol>\n</nav>\n");
    }
}

/// Base64 with padding (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::new();
    for three in bytes.chunks(3) {
        let all = three.iter().fold(0u32, |n, b| n << 8 | u32::from(*b)) << (8 * (3 - three.len()));
        for k in 0..4 {
            let letter = LETTERS[(all >> (18 - 6 * k) & 63) as usize];
            out.push(if k <= three.len() { char::from(letter) } else { '=' });
        }
    }
    out
}

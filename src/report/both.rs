//! A text in both systems of units: where they differ, the page holds both, and its script shows one of them.
//!
//! Comes in: the same text made twice, by a [`Show`](super::show::Show) of either system. Goes out: markup. The decision a reader would
//! question: the two are compared word by word instead of marking quantities where sentences are made, so that whoever
//! writes a sentence need not think of it. Texts whose words do not pair are kept twice as a whole.

use super::{
    html::escape,
    unbroken::{bound, is_name},
};
use crate::plant::UnitSystem;

/// The system whose numbers stand in the page as it is opened.
#[derive(Debug, Clone, Copy)]
pub struct Both {
    pub shown: UnitSystem,
}

/// A system's name in the page's markup.
pub fn code(units: UnitSystem) -> &'static str {
    match units {
        UnitSystem::Si => "si",
        UnitSystem::Ip => "ip",
    }
}

impl Both {
    /// The other system.
    pub fn other(self) -> UnitSystem {
        match self.shown {
            UnitSystem::Si => UnitSystem::Ip,
            UnitSystem::Ip => UnitSystem::Si,
        }
    }

    /// An attribute with the other text, for an element that holds the shown one; empty where they are the same.
    pub fn attribute(self, shown: &str, other: &str) -> String {
        if shown == other {
            return String::new();
        }
        format!(" data-{}=\"{}\"", code(self.other()), escape(other))
    }

    /// The shown text, its differing words in elements that hold the other ones; no line ends between a number and its unit.
    pub fn text(self, shown: &str, other: &str) -> String {
        self.words(shown, other, escape)
    }

    /// The same for a text in large letters: no line ends at the hyphen of a name either.
    pub fn large(self, shown: &str, other: &str) -> String {
        self.words(shown, other, |word| {
            if is_name(word) { format!("<span class=\"name\">{}</span>", escape(word)) } else { escape(word) }
        })
    }

    fn words(self, shown: &str, other: &str, markup: impl Fn(&str) -> String) -> String {
        let (shown, other) = (bound(shown), bound(other));
        let (a, b): (Vec<&str>, Vec<&str>) = (shown.split(' ').collect(), other.split(' ').collect());
        if a.len() != b.len() {
            return self.span(&shown, &other);
        }
        let mut parts = Vec::new();
        let mut i = 0;
        while i < a.len() {
            let differ = (i..a.len()).take_while(|k| a[*k] != b[*k]).count();
            if differ == 0 {
                parts.push(markup(a[i]));
            } else {
                parts.push(self.span(&a[i..i + differ].join(" "), &b[i..i + differ].join(" ")));
            }
            i += differ.max(1);
        }
        parts.join(" ")
    }

    fn span(self, shown: &str, other: &str) -> String {
        format!("<span{}>{}</span>", self.attribute(shown, other), escape(shown))
    }
}

//! How exports are written, where a person has to say it: found from their content otherwise.

/// What parts the cells of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Delimiter {
    Comma,
    Semicolon,
    Tab,
    Bar,
    /// One blank or several.
    Blanks,
}

/// The sign before the decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DecimalSign {
    Point,
    Comma,
}

/// How points are laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrendShape {
    /// One column a point.
    Wide,
    /// One row a sample, with the point's name in a column.
    Tall,
    /// One block of rows a point, below its name.
    Blocks,
    /// A column of times and one of values for each point.
    Pairs,
    OnePoint,
}

/// What the plant file's `[trends]` says of delimited text; `None`: found from the content.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Written {
    pub delimiter: Option<Delimiter>,
    pub decimal: Option<DecimalSign>,
    pub shape: Option<TrendShape>,
}

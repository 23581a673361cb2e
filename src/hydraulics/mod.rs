//! Formulas from books: quantities in, quantities out; knows no files, no frames, no plant.

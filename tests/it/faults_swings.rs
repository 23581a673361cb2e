//! Rules of what swings.

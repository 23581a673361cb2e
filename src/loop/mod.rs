//! The loop learned from its record: resistance, need, replay under another setting.

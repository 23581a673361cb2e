//! Finds hydronic pumps that run off their control curve. Modules stand in the order data flows.
pub mod cli;
pub mod faults;
pub mod hydraulics;
pub mod ingest;
pub mod r#loop;
pub mod naming;
pub mod notice;
pub mod operating;
pub mod pipeline;
pub mod plant;
pub mod quantity;
pub mod regimes;
pub mod report;
pub mod screening;
pub mod tuning;
pub mod verification;
pub mod verify;

mod cli;
mod fixture;
mod kill;
mod report;

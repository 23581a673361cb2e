//! Arguments and one file a subcommand.

//! `offcurve completions` and `offcurve man`, from the arguments themselves.

use super::{Outcome, args::Args, print};
use clap::{Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::Man;
use std::io;

/// Prints what a shell needs.
pub fn completions(shell: Shell) -> Result<Outcome, String> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Args::command(), "offcurve", &mut text);
    print(&String::from_utf8_lossy(&text))?;
    Ok(Outcome::Done)
}

/// Prints the manual page: the program, then a section a command.
pub fn page() -> Result<Outcome, String> {
    let page = roff().map_err(|_| "man: the page could not be made; this is a defect of offcurve".to_owned())?;
    print(&page)?;
    Ok(Outcome::Done)
}

fn roff() -> io::Result<String> {
    let mut all = Args::command();
    all.build();
    let mut out = Vec::new();
    let man = Man::new(all.clone());
    man.render_title(&mut out)?;
    man.render_name_section(&mut out)?;
    man.render_synopsis_section(&mut out)?;
    man.render_description_section(&mut out)?;
    man.render_options_section(&mut out)?;
    let mut page = text(&out);
    example(&mut page, &man, &all)?;
    for command in all.get_subcommands().filter(|c| c.get_name() != "help") {
        page.push_str(&section(command)?);
    }
    page.push_str(EXIT_STATUS);
    Ok(page)
}

/// One command: what it does, how it is called, its options, its example.
fn section(command: &Command) -> io::Result<String> {
    let man = Man::new(command.clone());
    let mut out = Vec::new();
    man.render_synopsis_section(&mut out)?;
    man.render_description_section(&mut out)?;
    if command.get_arguments().any(|a| !a.is_hide_set()) {
        man.render_options_section(&mut out)?;
    }
    let mut page = text(&out);
    example(&mut page, &man, command)?;
    // Headings of a page of its own stand below this command's here.
    let below = page.replace("\n.SH ", "\n.SS ");
    let below = below.strip_prefix(".SH ").map_or(below.clone(), |rest| format!(".SS {rest}"));
    Ok(format!(".SH \"OFFCURVE {}\"\n{below}", command.get_name().to_uppercase()))
}

/// The example below the help.
fn example(page: &mut String, man: &Man, command: &Command) -> io::Result<()> {
    if command.get_after_help().is_some() {
        let mut out = Vec::new();
        man.render_extra_section(&mut out)?;
        page.push_str(&text(&out).replacen(".SH EXTRA", ".SH EXAMPLE", 1));
    }
    Ok(())
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

const EXIT_STATUS: &str = ".SH \"EXIT STATUS\"\n0: done. 1: done, and a finding is as urgent as \\fB\\-\\-gate\\fR asked, or more. \
2: it could not be done; the reason stands on standard error, with a hint.\n";

//! The memo: its first screen in each honest case, the order of what follows, the same words in Markdown and on a terminal.

use crate::fixture;
use offcurve::{
    faults::{Estimate, Fault, Finding, Verdict},
    pipeline::Review,
    plant::{Role, UnitSystem},
    report::{self, Block, Written, show::Show},
    tuning::Tuning,
};
use std::process::{Command, Stdio};

/// The written result and its Markdown with plain spaces.
fn memo(review: &Review) -> (Written, String, String) {
    let dir = crate::scratch::folder();
    let written = report::write(review, dir.path(), UnitSystem::Si).expect("a scratch folder can be written");
    let read = |name: &str| std::fs::read_to_string(written.folder.join(name)).expect(name);
    let (text, page) = (read("report.md").replace('\u{202f}', " "), read("report.html"));
    (written, text, page)
}

fn refused(review: &mut Review) {
    review.tuning = Tuning::Refused { missing: Vec::new(), why: "there is nothing to lower".into() };
}

/// One of the fixture's findings made another.
fn finding(fault: Fault, subject: &str, change: &str) -> Finding {
    let Some(Verdict::Found(f)) = fixture::review().verdicts.into_iter().next() else {
        panic!("the fixture has findings")
    };
    Finding { fault, subject: subject.into(), change: change.into(), ..*f }
}

fn found(review: &mut Review, findings: impl IntoIterator<Item = Finding>) {
    review.verdicts = findings.into_iter().map(|f| Verdict::Found(Box::new(f))).collect();
}

fn clear(fault: Fault) -> Verdict {
    Verdict::Clear { fault, subject: "loop".into(), would_have_seen: "half of it".into() }
}

fn cannot_tell(fault: Fault) -> Verdict {
    Verdict::CannotTell {
        fault,
        subject: "loop".into(),
        missing: vec!["pump-power".into()],
        why: "no power is trended".into(),
    }
}

#[test]
fn the_first_screen_says_state_work_worth_and_sureness() {
    let (written, text, _) = memo(&fixture::review());
    let h = &written.document.headline;
    assert_eq!(
        h.state,
        "This plant needs attention now: the pumps do not follow their configured control curve (P-1); also, the pumps make more head than the loop needs."
    );
    let labels: Vec<&str> = h.answers.iter().map(|a| a.label).collect();
    assert_eq!(labels, ["What was seen", "What it is worth", "How sure"]);
    // The curve is mended first; the setting answers the finding about settings, so that has no line of its own.
    let work: Vec<(&str, &str)> = h.actions.iter().map(|a| (a.what.as_str(), a.who.as_str())).collect();
    assert_eq!(work[0].0, "P-1: set the drive to what the plant file says, or the plant file to what the drive has.");
    assert!(
        work[1].0.replace('\u{202f}', " ").starts_with("After that, set the head at no flow from 64 kPa to 38 kPa")
    );
    assert_eq!((work[0].1, work[1].1), ("controls contractor", "controls contractor"));
    // In metres of water at 6 C and 0.3 MPa, 1000.04 kg/m3 (IAPWS-IF97): 64000 / (1000.04 * 9.80665) = 6.526, 38000 / ... = 3.8747.
    assert!(text.contains("| 64 kPa (6.53 m) | 38 kPa (3.87 m) |"), "{text}");
    // 2100 kWh at 0.19 EUR are 399 EUR, at 0.24 kg 504 kg; the fixture's ranges are as it says.
    let row = text.lines().find(|l| l.starts_with("| The new setting would save, a year")).expect("a row");
    assert!(row.contains("2100 kWh (") && row.contains("EUR 399 (") && row.contains("504 kg ("), "{row}");
    assert!(text.contains("are not to be added"), "{text}");
    assert!(
        text.contains("The first finding is very likely (88 in 100), the other very likely (93 in 100)."),
        "{text}"
    );
    // Two found, low-delta-t clear, three could not be told, and of ten nothing is said at all.
    assert!(
        text.contains("Of 16 kinds of fault, 2 were found, 1 was looked for and not seen, and 13 could not be judged")
    );
}

#[test]
fn a_clean_plant_is_called_clean_and_nothing_more() {
    let mut review = fixture::review();
    refused(&mut review);
    review.verdicts = Fault::ALL.map(clear).into();
    let (written, text, page) = memo(&review);
    let h = &written.document.headline;
    assert_eq!(h.state, "Nothing wrong was found: all 16 kinds of fault were looked for and not seen.");
    assert_eq!(h.actions.len(), 1);
    assert!(h.actions[0].what.starts_with("Nothing needs to be done now"), "{:?}", h.actions);
    assert!(text.contains("No waste was found, and no saving is claimed."));
    assert!(page.contains("all 16 kinds of fault"));
    // One that could not be judged is said in the same breath.
    review.verdicts[3] = cannot_tell(Fault::ALL[3]);
    let (written, ..) = memo(&review);
    assert_eq!(
        written.document.headline.state,
        "Nothing wrong was found in what this record can show: of 16 kinds of fault, 15 were looked for and not seen, and 1 could not be judged, wholly or for part of the plant."
    );
}

#[test]
fn a_silent_record_is_not_called_healthy() {
    let mut review = fixture::review();
    refused(&mut review);
    review.verdicts = Fault::ALL.map(cannot_tell).into();
    let (written, text, _) = memo(&review);
    let h = &written.document.headline;
    assert_eq!(
        h.state,
        "Whether this plant runs well cannot be told from this record: none of the 16 kinds of fault could be judged."
    );
    assert!(h.actions[0].what.starts_with("Trend "), "what would help comes first: {:?}", h.actions);
    assert!(text.contains("cannot be told from this record.") && text.contains("## The point to trend next"));
    assert!(!text.contains("No waste was found"));
    // What cannot occur here was not looked for: that is no health either.
    review.verdicts[0] = Verdict::Clear {
        fault: Fault::ALL[0],
        subject: "loop".into(),
        would_have_seen: "nothing: there is none".into(),
    };
    let (written, text, _) = memo(&review);
    assert!(written.document.headline.state.starts_with("Whether this plant runs well cannot be told"));
    assert!(
        text.contains("1 cannot occur here") && !text.contains("No waste was found") && !text.contains("not known kWh")
    );
    // Facts of the plant file that several wait for are worth a line.
    for v in review.verdicts.iter_mut().skip(1).take(3) {
        if let Verdict::CannotTell { missing, .. } = v {
            missing.push("[[pump.curve]]".into());
        }
    }
    let (written, ..) = memo(&review);
    assert!(
        written
            .document
            .headline
            .actions
            .iter()
            .any(|a| a.what.contains("the pump's tested curve into the plant file"))
    );
    // Five clear of sixteen is little.
    for (v, fault) in review.verdicts.iter_mut().zip(Fault::ALL).take(5) {
        *v = clear(fault);
    }
    let (written, ..) = memo(&review);
    assert!(written.document.headline.state.contains("only 5 of 16 kinds of fault could be judged in full"));
}

/// The trade's usual division of work (common practice, no source), a row a fault.
#[test]
fn each_thing_to_do_says_whose_work_it_is() {
    let rows = [
        (Fault::LowDeltaT, "AHU-2", "Clean or mend AHU-2.", "mechanical service"),
        (Fault::LowDeltaT, "loop", "Put the air setpoint back.", "balancing contractor, with the controls contractor"),
        (Fault::StuckBypass, "loop", "Mend the bypass.", "mechanical service, with the controls contractor"),
        (Fault::MinimumSpeedHunting, "P-1", "Slow the controller down.", "controls contractor"),
        (Fault::SpeedHunting, "P-1", "Slow the controller down.", "controls contractor"),
        (Fault::SetpointTooHigh, "loop", "Lower the curve.", "controls contractor"),
        (Fault::SetpointTooLow, "loop", "Raise the curve.", "controls contractor, with the balancing contractor"),
        (Fault::OffControlCurve, "loop", "Set it back.", "controls contractor"),
        (Fault::FixedSpeed, "P-1", "Return it to automatic.", "facility staff, with the controls contractor"),
        (Fault::OutOfHoursRunning, "loop", "Stop the pumps.", "facility staff, with the controls contractor"),
        (Fault::PumpDegraded, "P-1", "Clean or repair the pump.", "mechanical service"),
        (Fault::ShortCycling, "P-1", "Give it a rest time.", "controls contractor"),
        (Fault::SensorFault, "AHU-3 valve", "Mend the sensor.", "controls contractor"),
        (Fault::SensorFault, "P1 kW", "Calibrate the instrument.", "electrician"),
        (Fault::MinimumSpeedTooHigh, "P-1", "Lower the minimum speed.", "controls contractor"),
        (Fault::OutsidePreferredRegion, "P-1", "Run fewer.", "mechanical service"),
        (Fault::PoorStaging, "loop", "Move the thresholds apart.", "controls contractor"),
        (Fault::Deadheading, "P-1", "Open a way for the water.", "mechanical service"),
        (Fault::Deadheading, "P-2", "Give parallel pumps one speed signal.", "controls contractor"),
    ];
    for (fault, subject, change, who) in rows {
        let mut review = fixture::review();
        refused(&mut review);
        review.plant.points.push(crate::ingest::point("P1 kW", Role::PumpPower));
        found(&mut review, [finding(fault, subject, change)]);
        let (written, text, _) = memo(&review);
        let first = &written.document.headline.actions[0];
        assert_eq!(first.who, who, "{fault:?}");
        assert!(text.contains(&format!("Usually work for the {who}.")), "{fault:?}");
    }
}

/// What another finding causes is not work of its own, and its cost is in no sum twice: 100 and 40 kWh a year stand for themselves, 30 are
/// caused. The sum is 140 (70 to 210), by hand; at 0.19 EUR 26.6, at 0.24 kg 33.6.
#[test]
fn a_caused_finding_is_neither_told_twice_nor_counted_twice() {
    let yearly = |e: f64| Some(Estimate { estimate: e, low: e / 2.0, high: 1.5 * e });
    let mut review = fixture::review();
    refused(&mut review);
    let with = |fault, change: &str, kwh, caused_by| Finding {
        waste_kwh_per_year: yearly(kwh),
        caused_by,
        ..finding(fault, "loop", change)
    };
    found(
        &mut review,
        [
            with(Fault::StuckBypass, "Mend the bypass.", 100.0, None),
            with(Fault::LowDeltaT, "Clean the coils.", 30.0, Some(Fault::StuckBypass)),
            with(Fault::PoorStaging, "Move the thresholds apart.", 40.0, None),
        ],
    );
    let (written, text, _) = memo(&review);
    let work: Vec<&str> = written.document.headline.actions.iter().map(|a| a.what.as_str()).collect();
    assert_eq!(work[..2], ["Mend the bypass.", "Move the thresholds apart."]);
    assert!(!work.contains(&"Clean the coils."));
    let row = text.lines().find(|l| l.starts_with("| What was found costs, a year")).expect("a row");
    assert_eq!(
        row,
        "| What was found costs, a year | 140 kWh (70 to 210) | EUR 27 (13 to 40) | 33.6 kg (16.8 to 50.4) |"
    );
}

/// Four coils with one fault are one clause and one thing to do; a fifth is counted.
#[test]
fn the_same_work_for_several_is_told_once() {
    let coils = ["C-1", "C-2", "C-3", "C-4", "C-5"];
    let mut review = fixture::review();
    refused(&mut review);
    found(&mut review, coils.map(|c| finding(Fault::LowDeltaT, c, &format!("Clean or mend {c}, then wait."))));
    let (written, ..) = memo(&review);
    let h = &written.document.headline;
    assert!(
        h.state.ends_with(": water returns with too little temperature change (C-1, C-2, C-3, C-4 and 1 more)."),
        "{}",
        h.state
    );
    assert_eq!(h.actions[0].what, "Clean or mend C-1, C-2, C-3, C-4 and C-5, then wait.");
    assert!(h.actions[1..].iter().all(|a| !a.what.contains("Clean")));
    found(&mut review, ["P-1", "P-2"].map(|p| finding(Fault::FixedSpeed, p, "Return it to automatic.")));
    let (written, ..) = memo(&review);
    assert_eq!(written.document.headline.actions[0].what, "P-1 and P-2: return it to automatic.");
}

#[test]
fn a_period_that_cannot_speak_for_a_year_says_so() {
    let mut review = fixture::review();
    for v in &mut review.verdicts {
        if let Verdict::Found(f) = v {
            f.waste_kwh_per_year = None;
        }
    }
    let Tuning::Proposed(r) = &mut review.tuning else { panic!("the fixture proposes a setting") };
    r.saving_kwh_per_year = None;
    let (written, text, _) = memo(&review);
    assert!(text.contains("This period is shorter than four weeks and cannot speak for a year."), "{text}");
    // 61.0 and 14.2 kWh of the fixture, 75.2 in all.
    assert!(text.contains("| What was found costs, in this period | 75.2 kWh ("), "{text}");
    assert!(text.contains("| The new setting would save, in this period | 57.5 kWh ("));
    assert!(written.document.headline.actions[1].what.contains("would have saved about EUR"));
    assert!(!text.contains("costs, a year") && !text.contains("save, a year"));
}

#[test]
fn what_the_plant_file_does_not_say_is_not_made_up() {
    let mut review = fixture::review();
    review.plant.site.carbon_intensity = None;
    let (_, text, page) = memo(&review);
    assert!(!text.contains(" kg (") && !page.contains("CO₂e</th>"));
    assert_eq!(text.matches("CO₂e is not given: the plant file has no carbon_intensity.").count(), 1);
    review.plant.site.energy_price = None;
    let (_, text, _) = memo(&review);
    assert!(text.contains("neither energy_price nor carbon_intensity") && !text.contains("EUR"), "{text}");
}

#[test]
fn evidence_comes_first_then_the_picture_then_what_is_not_known_then_the_method() {
    let (written, ..) = memo(&fixture::review());
    let ids: Vec<&str> = written.document.sections.iter().map(|s| s.id).collect();
    let order = [
        "findings",
        "settings",
        "picture",
        "not-judged",
        "clear",
        "method",
        "limits",
        "cautions",
        "assumptions",
        "data",
    ];
    let places: Vec<usize> =
        order.iter().map(|id| ids.iter().position(|i| i == id).unwrap_or_else(|| panic!("{id}"))).collect();
    assert!(places.is_sorted(), "{ids:?}");
}

/// Every "why" on the first screen leads somewhere, and no two places share a name.
#[test]
fn links_lead_to_their_evidence() {
    let mut review = fixture::review();
    // Two names that look alike once spaces and signs are gone.
    let twice =
        [("AHU 1", "Mend it."), ("AHU-1", "Replace it.")].map(|(of, change)| finding(Fault::SensorFault, of, change));
    review.verdicts.extend(twice.map(|f| Verdict::Found(Box::new(f))));
    let (written, _, page) = memo(&review);
    let mut seen = Vec::new();
    for part in page.split(" id=\"").skip(1) {
        let id = part.split('"').next().expect("an end");
        assert!(!seen.contains(&id), "{id} twice");
        seen.push(id);
    }
    let wanted: Vec<&str> = written.document.headline.actions.iter().filter_map(|a| a.see.as_deref()).collect();
    assert!(wanted.contains(&"sensor-fault-ahu-1") && wanted.contains(&"sensor-fault-ahu-1-2"), "{wanted:?}");
    for id in wanted {
        assert!(seen.contains(&id), "{id}");
    }
}

/// Names that would be markup somewhere, as text in every form. What counts as markup: CommonMark 0.31, backslash escapes of ASCII punctuation.
#[test]
fn names_are_text_in_markdown_and_on_the_page() {
    let names = [
        ("<script>alert(1)</script>", r"\<script\>alert(1)\</script\>"),
        ("=HYPERLINK(\"http://x\",\"y\")", "=HYPERLINK(\"http\\://x\",\"y\")"),
        ("a|b", r"a\|b"),
        ("`rm` [link](x) *loud* ~~gone~~", r"\`rm\` \[link\](x) \*loud\* \~\~gone\~\~"),
        ("$x$ @you #1 &amp; _so_ AHU_1", r"\$x\$ \@you \#1 \&amp; \_so\_ AHU_1"),
    ];
    for (name, escaped) in names {
        let mut review = fixture::review();
        found(&mut review, [finding(Fault::SensorFault, name, "Mend the sensor.")]);
        review.plant.site.name = Some(name.into());
        let (_, text, page) = memo(&review);
        assert!(
            text.contains(&format!("Chilled-water loop, {escaped}")),
            "{name}: {}",
            text.lines().next().unwrap_or("")
        );
        assert!(text.contains(&format!("| {escaped} |")), "{name} in a table");
        assert!(!page.contains("<script>alert"), "{name}");
    }
}

/// Every table has as many cells a row as columns (GitHub Flavored Markdown 0.29, section 4.10), figures stand by relative path with text beside them,
/// and no line of prose is long.
#[test]
fn markdown_reads_well_as_it_is() {
    let (written, text, _) = memo(&fixture::review());
    let cells = |line: &str| line.replace("\\|", "").matches('|').count();
    let lines: Vec<&str> = text.lines().collect();
    for (i, line) in lines.iter().enumerate().filter(|(_, l)| l.starts_with("| --")) {
        let header = cells(line);
        assert_eq!(cells(lines[i - 1]), header, "{}", lines[i - 1]);
        assert!(lines[i - 2].is_empty(), "a table needs an empty line before it");
        for row in lines[i + 1..].iter().take_while(|l| l.starts_with('|')) {
            assert_eq!(cells(row), header, "{row}");
        }
    }
    for line in lines.iter().filter(|l| !l.starts_with('|') && !l.starts_with("![") && !l.starts_with("    ")) {
        assert!(line.chars().count() <= 420, "{line}");
    }
    assert!(!text.contains("</") && !text.contains("<br"), "no HTML where Markdown will do");
    let figures: Vec<&str> = text.lines().filter(|l| l.starts_with("![")).collect();
    assert_eq!(figures.len(), written.document.figures.len());
    for line in figures {
        let (alt, path) = line[2..].split_once("](").expect("a link");
        assert!(alt.len() > 20 && path.starts_with("figures/") && path.ends_with(".svg)"), "{line}");
    }
}

/// A finding's caution is its own; what holds for all is said once.
#[test]
fn what_holds_for_all_findings_is_said_once() {
    let general = offcurve::faults::general_caution(offcurve::plant::Service::ChilledWater);
    let mut review = fixture::review();
    let two = ["P-1", "P-2"].map(|of| Finding {
        caution: format!("Listen to {of} first. {general}"),
        ..finding(Fault::PumpDegraded, of, "Clean the pump.")
    });
    found(&mut review, two);
    let (written, text, _) = memo(&review);
    assert!(
        text.contains("> **Caution.** Listen to P-1 first.") && text.contains("> **Caution.** Listen to P-2 first.")
    );
    assert_eq!(text.matches("a starved evaporator freezes").count(), 1);
    assert!(written.json.contains("a starved evaporator freezes"), "other programs get it whole");
}

fn sample(program: &mut Command) -> String {
    let dir = crate::scratch::folder();
    let out = program.current_dir(dir.path()).stdin(Stdio::null()).output().expect("the program starts");
    assert!(out.status.success(), "{out:?}");
    String::from_utf8(out.stdout).expect("UTF-8")
}

/// About twenty lines of at most 96 characters, without codes where nobody looks, ending with where the report is.
#[test]
fn the_terminals_memo_is_short_and_plain_when_piped() {
    let text = sample(Command::new(env!("CARGO_BIN_EXE_offcurve")).env("TERM", "xterm-256color"));
    assert!(!text.contains('\u{1b}'), "no codes into a pipe");
    let lines: Vec<&str> = text.lines().collect();
    assert!((12..=26).contains(&lines.len()), "{} lines\n{text}", lines.len());
    for line in &lines {
        assert!(line.chars().count() <= 96 || line.starts_with("Report: "), "{line}");
    }
    assert!(lines.last().is_some_and(|l| l.starts_with("Report: ") && l.ends_with("report.html")), "{text}");
    for part in ["This plant ", " 1. ", "[controls contractor]", "What it is worth: ", "How sure: "] {
        assert!(text.contains(part), "{part}\n{text}");
    }
}

/// On a terminal (util-linux's `script` makes one) the same words stand in bold and one colour; `NO_COLOR` and a dumb terminal turn that off.
#[cfg(target_os = "linux")]
#[test]
fn colour_is_for_terminals_only_and_says_nothing_by_itself() {
    let program = env!("CARGO_BIN_EXE_offcurve");
    let typed = |no_color: &str, term: &str| {
        let command = format!("'{program}' --quiet --out . >/dev/null; '{program}' --out . 2>/dev/null");
        let mut run = Command::new("script");
        run.args(["-qec", &command, "/dev/null"]).env("NO_COLOR", no_color).env("TERM", term);
        sample(&mut run).replace('\r', "")
    };
    if Command::new("script").arg("--version").output().is_err() {
        return;
    }
    let coloured = typed("", "xterm-256color");
    assert!(coloured.contains("\u{1b}[1m") && coloured.contains("\u{1b}[0m"), "{coloured:?}");
    for plain in [typed("1", "xterm-256color"), typed("", "dumb")] {
        assert!(!plain.contains('\u{1b}'), "{plain:?}");
        let bare = ["\u{1b}[1m", "\u{1b}[2m", "\u{1b}[36m", "\u{1b}[0m"]
            .iter()
            .fold(coloured.clone(), |t, c| t.replace(c, ""));
        assert_eq!(bare, plain, "the words are the same");
    }
}

/// A report's sentences are made in SI and shown in the reader's units: no rule's words may be lost on the way.
#[test]
fn headings_name_the_finding_and_whose_it_is() {
    let (written, ..) = memo(&fixture::review());
    let headings: Vec<&str> = written
        .document
        .sections
        .iter()
        .filter(|s| s.id == "findings")
        .flat_map(|s| &s.blocks)
        .filter_map(|b| match b {
            Block::Heading { text, id, .. } => id.as_ref().map(|_| text.as_str()),
            _ => None,
        })
        .collect();
    assert_eq!(
        headings,
        [
            "The pumps do not follow their configured control curve (P-1)",
            "The pumps make more head than the loop needs"
        ]
    );
}

/// Money with its range, by hand at 0.19 EUR: 100, 50 and 150 kWh are 19, 9.50 and 28.50.
#[test]
fn money_has_its_range() {
    let show = Show::new(&fixture::review().plant, UnitSystem::Si);
    let e = Estimate { estimate: 100.0, low: 50.0, high: 150.0 };
    assert_eq!(show.money_range(e).expect("a price").replace('\u{202f}', " "), "EUR 19 (9.50 to 28)");
}

//! The memo's sections, in the order they are read.

use super::told;
use crate::{
    faults::Estimate,
    report::{
        document::{Block, Section, Table},
        figures::Figure,
        settings,
        show::{Show, figures as round},
        words,
    },
    verification::{Short, Verification},
    verify::{Coverage, Experiment, Saving, form::Driver},
};

pub fn all(v: &Verification, show: &Show, figures: &[Figure]) -> Vec<Section> {
    let section = |id, title, blocks| Section { id, title, blocks };
    let parts = vec![
        section("change", "What was changed, and when", change(v, show)),
        section("saving", "What it saved", saving(v, show, figures)),
        section("took", "Did the change take", took(v, show, figures)),
        section("worse", "What got worse", worse(v, show)),
        section("model", "The model, and whether it is acceptable", model(v, show)),
        section("limits", "Limits of this memo", limits(v, show)),
        section("cautions", "Cautions", cautions()),
        section("record", "The record", record(v, show)),
        section("names", "Names and signatures", names()),
    ];
    parts.into_iter().filter(|s| !s.blocks.is_empty()).collect()
}

fn paragraph(text: impl Into<String>) -> Block {
    Block::Paragraph(text.into())
}

fn positions(figures: &[Figure], id: &str) -> Option<Block> {
    figures.iter().position(|f| f.id == id).map(Block::Figure)
}

fn change(v: &Verification, show: &Show) -> Vec<Block> {
    let mut blocks = vec![paragraph(format!("Changed on {}.", told::when(v, show)))];
    blocks.extend(told::step(&v.changed, show).map(Block::Paragraph));
    let or = |text: String| if text.is_empty() { "not declared".to_owned() } else { text };
    let rows: Vec<Vec<String>> = settings::settings(&v.settings.0, &v.settings.1, show)
        .into_iter()
        .map(|s| vec![words::capital(s.label), s.key.to_owned(), or(s.present), or(s.proposed)])
        .collect();
    let same = v.settings.0 == v.settings.1;
    let caption = if same {
        "The setting, as the plant file has it. It holds no earlier one; that would be a [[control_history]] entry."
    } else {
        "The setting before and after, as the plant file has it."
    };
    blocks.push(Block::Table(Table::new(caption, &["Setting", "In the plant file", "#Before", "#After"], rows)));
    if v.changed.times > 1 {
        let rows = v
            .stretches
            .iter()
            .map(|s| vec![words::capital(told::setting(s.setting)), show.time(s.from_ms), show.time(s.to_ms)]);
        blocks.push(Block::Table(Table::new(
            "Both settings stood in turn.",
            &["Setting", "From", "To"],
            rows.collect(),
        )));
    }
    blocks
}

fn saving(v: &Verification, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks = vec![paragraph(told::saved(v, show))];
    if let Ok(s) = &v.saving {
        blocks.push(Block::Table(numbers(v, s, show)));
        let how = match s.experiment {
            Experiment::BeforeAfter => "A model of the days with the old setting says what it would have used on the days after. The saving is that, less what was used.".to_owned(),
            Experiment::Alternating { changes } => format!("Both settings stood in turn ({changes} changes), so one model was fitted to all days with the setting as one more variable. This is the stronger test: what drifts with the season meets both settings alike."),
        };
        blocks.push(paragraph(how));
        blocks.extend(told::adjusted(v).map(|text| Block::Labelled { label: "Adjusted for", text }));
        blocks.extend(positions(figures, "daily-energy"));
        if let Err(why) = &s.saving_kwh_per_year {
            blocks.push(Block::Labelled { label: "No yearly figure", text: format!("{}.", words::capital(why)) });
        }
        blocks.push(Block::Labelled { label: "Days still needed", text: told::needed(s) });
        blocks.extend(covered(s, show));
        blocks.extend(left_out(s));
    }
    blocks
}

fn numbers(v: &Verification, s: &Saving, show: &Show) -> Table {
    let span = |side: &crate::verify::Side| {
        format!("{}, {} to {}", words::count(side.days, "day"), show.date(side.from_ms), show.date(side.to_ms - 1))
    };
    let plain = |name: &str, value: String, of: String| vec![name.to_owned(), value, of];
    let range = |name: &str, e: Estimate, of: &dyn Fn(f64) -> String| {
        plain(name, of(e.estimate), format!("{} to {}", of(e.low), of(e.high)))
    };
    let energy = |kwh: f64| show.energy(kwh);
    let mut rows = vec![
        plain("Used before, days compared", energy(s.before.energy_kwh), span(&s.before)),
        plain("Used after, days compared", energy(s.after.energy_kwh), span(&s.after)),
        plain(
            "The old setting would have used",
            energy(s.after.energy_kwh + s.saving_kwh.estimate),
            "on the days after".to_owned(),
        ),
        range("Saving", s.saving_kwh, &energy),
        range("Saving, share of that", s.saving_fraction, &|f| show.percent(f)),
    ];
    let priced = |kwh: Estimate, rows: &mut Vec<Vec<String>>, of: &str| {
        if show.money(0.0).is_some() {
            rows.push(range(&format!("Money{of}"), kwh, &|k| show.money(k).unwrap_or_default()));
        }
        if let Some(carbon) = v.plant.site.carbon_intensity {
            rows.push(range(&format!("CO₂e{of}"), kwh, &|k| format!("{} kg", round(k * carbon, 3))));
        }
    };
    priced(s.saving_kwh, &mut rows, "");
    if let Ok(year) = s.saving_kwh_per_year {
        rows.push(range("Saving over a year like the last", year, &energy));
        priced(year, &mut rows, " over a year");
    }
    Table::new(
        "The saving, at the weather and load of the days after.",
        &["What", "#Best value", "Range (95 %), or of what"],
        rows,
    )
}

fn covered(s: &Saving, show: &Show) -> Option<Block> {
    let value = |d: Driver, v: f64| if d == Driver::Outdoor { show.temperature(v) } else { show.heat(v) };
    let row = |c: &Coverage| {
        let span = |(low, high): (f64, f64)| format!("{} to {}", value(c.driver, low), value(c.driver, high));
        let name = if c.driver == Driver::Outdoor { "Outdoor temperature" } else { "Load" };
        vec![
            name.to_owned(),
            span(c.before),
            span(c.after),
            show.percent(c.share_inside),
            show.percent(c.share_within_a_tenth),
        ]
    };
    let rows: Vec<Vec<String>> = s.coverage.iter().map(row).collect();
    let titles = ["Daily mean of", "#Before", "#After", "#Days inside", "#Inside a range a tenth wider"];
    (!rows.is_empty()).then(|| Block::Table(Table::new("How far the days before cover the days after.", &titles, rows)))
}

fn left_out(s: &Saving) -> Option<Block> {
    let row = |e: &crate::verify::Excluded| {
        vec![words::capital(told::setting(e.setting)), e.days.to_string(), words::capital(told::why(e.why))]
    };
    let rows: Vec<Vec<String>> = s.excluded.iter().map(row).collect();
    (!rows.is_empty()).then(|| Block::Table(Table::new("Days left out.", &["Setting", "#Days", "Why"], rows)))
}

fn took(v: &Verification, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks = vec![paragraph(told::took(v))];
    if let Some(moved) = v.took.moved {
        let text = format!(
            "{} of the way from the old setting to the new one; at 0 % they stayed, at 100 % they arrived.",
            told::share(moved, show)
        );
        blocks.push(Block::Labelled { label: "How far the points moved", text });
    }
    blocks.extend(positions(figures, "head-before-after"));
    blocks
}

fn worse(v: &Verification, show: &Show) -> Vec<Block> {
    let c = &v.comfort;
    let mut blocks = vec![paragraph(told::comfort(v, show))];
    if c.why.is_none() {
        let side = |name: &str, s: &Short| {
            vec![name.to_owned(), show.hours(s.judged_h), show.hours(s.short_h), show.percent(s.share())]
        };
        let mut rows = vec![side("Any coil, before", &c.before), side("Any coil, after", &c.after)];
        for (b, a) in c.before.coils.iter().zip(&c.after.coils).filter(|(b, a)| b.short_h + a.short_h > 0.0) {
            for (when, s) in [("before", b), ("after", a)] {
                let share =
                    if s.judged_h > 0.0 { show.percent(s.short_h / s.judged_h) } else { "not judged".to_owned() };
                rows.push(vec![format!("{}, {when}", s.name), show.hours(s.judged_h), show.hours(s.short_h), share]);
            }
        }
        blocks.push(Block::Table(Table::new(
            format!(
                "Coils short of water: valve above 95 % open with its air more than {} off its setpoint ({}), or where no air is trended the valve alone ({}). All hours, whatever the weather was.",
                show.difference(1.0),
                words::count(c.by_air, "coil"),
                words::count(c.by_valve, "coil")
            ),
            &["Coil", "#Hours judged", "#Hours short", "#Share"],
            rows,
        )));
    }
    blocks.extend(side_effects(v, show));
    blocks
}

fn side_effects(v: &Verification, show: &Show) -> Vec<Block> {
    let e = &v.effects;
    if let Some(why) = &e.not_judged {
        return vec![paragraph(format!("Side effects were not judged: {why}."))];
    }
    let span = |(from, to): (i64, i64)| format!("{} to {}", show.date(from), show.date(to - 1));
    let mut blocks = vec![paragraph(format!(
        "Each period was judged by all rules by itself, with the same pump models: {} and {}. A finding near its limit may come or go by chance; its evidence says how near.",
        span(e.before),
        span(e.after)
    ))];
    for effect in &e.new {
        let f = &effect.finding;
        let before = if effect.clear_before { "not seen before" } else { "could not be told before" };
        blocks.push(Block::Heading {
            id: None,
            text: words::finding(f),
            tags: vec![
                words::urgency_said(f.urgency).to_owned(),
                words::sureness(f.confidence).to_owned(),
                before.to_owned(),
            ],
        });
        blocks.push(paragraph(show.sentence(f.because.trim())));
        if !f.caution.trim().is_empty() {
            blocks.push(Block::Caution(show.sentence(f.caution.trim())));
        }
    }
    if e.new.is_empty() {
        blocks.push(paragraph("No finding is new since the change."));
    }
    let named = |all: &[(crate::faults::Fault, String)]| -> Vec<String> {
        all.iter().map(|(f, subject)| words::of(*f, subject)).collect()
    };
    for (label, all) in [("Found before, clear after", &e.gone), ("Found before and after", &e.kept)] {
        if !all.is_empty() {
            blocks.push(Block::List { label: Some(label), ordered: false, items: named(all) });
        }
    }
    blocks
}

fn model(v: &Verification, show: &Show) -> Vec<Block> {
    let Ok(s) = &v.saving else { return vec![paragraph("No model of the days before was made.")] };
    let q = &s.quality;
    let mut blocks = vec![paragraph(told::model(s, show))];
    let row = |name: &str, value: String, note: &str| vec![name.to_owned(), value, note.to_owned()];
    let mut rows = vec![
        row("Form", s.baseline.form.to_string(), "the simplest of those that predict held-out days best"),
        row("Its weight", show.percent(s.baseline.weight), "other forms that predict about as well count too"),
        row("Forms tried", s.baseline.tried.len().to_string(), "each on stretches of days it was not fitted to"),
    ];
    if !s.baseline.points.is_empty() {
        let temperature = s.baseline.form.driver == Driver::Outdoor;
        let point = |p: &f64| if temperature { show.temperature(*p) } else { show.heat(*p) };
        let points: Vec<String> = s.baseline.points.iter().map(point).collect();
        rows.push(row("Slope changes at", words::join(&points), ""));
    }
    rows.extend([
        row("Rows fitted, parameters", format!("{}, {}", q.n, q.p), ""),
        row("CV(RMSE)", show.percent(q.cv_rmse), "of the fit"),
        row("CV(RMSE) of whole days", show.percent(q.cv_rmse_days), "of the fit"),
        row("CV(RMSE) of held-out days", show.percent(q.cv_rmse_held_out), "what a day not fitted is missed by"),
        row("NMBE of held-out days", show.percent(q.nmbe), "measured less predicted"),
        row("R²", round(q.r2, 3), ""),
        row("Autocorrelation", round(q.autocorrelation, 2), "of neighbouring days' errors; the range allows for it"),
    ]);
    blocks.push(Block::Table(Table::new("The model of the days before.", &["What", "#Value", "Note"], rows)));
    let kept = |k: Option<bool>| match k {
        Some(true) => "kept",
        Some(false) => "not kept",
        None => "no value",
    };
    let limits = q.limits.iter().map(|l| {
        let value = if l.value.is_nan() { "none".to_owned() } else { show.percent(l.value) };
        vec![words::capital(l.name), value, show.percent(l.limit), kept(l.kept).to_owned(), l.source.to_owned()]
    });
    let titles = ["What", "#Value", "#Limit", "", "Source"];
    blocks.push(Block::Table(Table::new("Limits of the trade's guidelines.", &titles, limits.collect())));
    blocks
}

fn limits(v: &Verification, show: &Show) -> Vec<Block> {
    let mut items = vec![
        "The saving is one of the days compared. Days with weather or load that the old setting hardly saw are left out and counted, not predicted.".to_owned(),
        "A saving is reported where its whole range (95 %) lies above zero. Where nothing changed, that still happens in about 2.5 % of cases, and a loss in as many.".to_owned(),
        "Whatever else changed at the same time (hours of use, tenants, another repair, a filter) is in the figure as well.".to_owned(),
        "The load delivered should have stayed the same: a setting that starves coils saves pump energy too. See What got worse.".to_owned(),
    ];
    if !v.outdoor {
        items.push(
            "No outdoor temperature is trended: the saving is not adjusted for weather. Trend outdoor-temperature."
                .to_owned(),
        );
    }
    match &v.load_from {
        Some(from) => items.push(format!("Load: {from}.")),
        None => items.push("No load is metered apart from the pumps. A flow worked out from the pumps' power would follow the setting and is not used.".to_owned()),
    }
    items.push(format!("Energy: {}.", v.energy_from));
    let items = items.iter().map(|t| show.sentence(t)).collect();
    vec![Block::List { label: None, ordered: false, items }]
}

fn cautions() -> Vec<Block> {
    let items = [
        "Local codes, the makers' instructions and the judgement of licensed practice come before everything in this memo.",
        "Go back to the old setting on complaint, or when the most remote load is not served.",
        "Chillers and boilers keep their minimum flow, coils their freeze protection, pumps their makers' least speed, whatever was saved.",
        "Work inside drives and motors is for qualified people; stopping a pump from the automation or a keypad does not isolate it.",
    ];
    vec![Block::List { label: None, ordered: false, items: items.iter().map(|t| (*t).to_owned()).collect() }]
}

fn record(v: &Verification, show: &Show) -> Vec<Block> {
    let clock = v.clock;
    let mut blocks = vec![paragraph(format!(
        "{} to {}, a row every {} min, {}.",
        show.time(clock.at_ms(0)),
        show.time(clock.at_ms(clock.len)),
        round(clock.step_s as f64 / 60.0, 3),
        words::count(v.ledger.files.len(), "file")
    ))];
    let notices: Vec<String> = v.notices.iter().map(|n| show.sentence(&n.text)).collect();
    let (own, others): (Vec<_>, Vec<_>) = v.notices.iter().zip(notices).partition(|(n, _)| n.stage == "verification");
    let texts =
        |all: Vec<(&crate::notice::Notice, String)>| -> Vec<String> { all.into_iter().map(|(_, t)| t).collect() };
    if !own.is_empty() {
        blocks.push(Block::List { label: Some("To know about this comparison"), ordered: false, items: texts(own) });
    }
    if !v.plant.assumed.is_empty() {
        let items = v.plant.assumed.iter().map(|t| show.sentence(t)).collect();
        blocks.push(Block::List { label: Some("Assumed, because the plant file does not say"), ordered: false, items });
    }
    if !others.is_empty() {
        let list = Block::List { label: None, ordered: false, items: texts(others) };
        blocks.push(Block::Folded { summary: "What was doubtful in the record".to_owned(), blocks: vec![list] });
    }
    blocks.push(paragraph("The days behind the saving are in daily.parquet, and verify.ipynb adds them up again."));
    blocks
}

fn names() -> Vec<Block> {
    let row = |who: &str| vec![who.to_owned(), " ".to_owned(), " ".to_owned(), " ".to_owned()];
    let rows = vec![row("Change made by"), row("Verified by"), row("Accepted by")];
    vec![Block::Table(Table::new(
        "To be signed on the printed memo.",
        &["", "Name, company", "Date", "Signature"],
        rows,
    ))]
}

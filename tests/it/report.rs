//! What a report says and holds. The contract's words (keys, columns, codes) are the outside authority here; they are
//! written out again below rather than taken from the program.

use crate::fixture;
use offcurve::{
    faults::{Fault, Verdict},
    pipeline::Review,
    plant::UnitSystem,
    report::{self, Written},
    tuning::Tuning,
};
use serde_json::Value;
use std::{fs, path::Path};

fn write(review: &Review, out: &Path, units: UnitSystem) -> Written {
    report::write(review, out, units).expect("a scratch folder can be written")
}

fn findings(written: &Written) -> Value {
    serde_json::from_str(&written.json).expect("findings.json is JSON")
}

fn read(written: &Written, name: &str) -> String {
    fs::read_to_string(written.folder.join(name)).expect(name)
}

fn scratch() -> crate::scratch::Scratch {
    crate::scratch::folder()
}

/// Left where the browser's check finds it: target/tmp/page/si and ip.
#[test]
fn writes_pages_for_the_browser_check() {
    for (units, name) in [(UnitSystem::Si, "si"), (UnitSystem::Ip, "ip")] {
        let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("page").join(name);
        let written = write(&fixture::review(), &out, units);
        assert!(written.folder.ends_with("harbour-hall/2026-03-01_2026-03-10"), "{:?}", written.folder);
    }
}

#[test]
fn a_result_holds_the_files_of_the_contract_and_nothing_else() {
    let dir = scratch();
    let written = write(&fixture::review(), dir.path(), UnitSystem::Si);
    let mut names: Vec<String> = fs::read_dir(&written.folder)
        .expect("folder")
        .map(|e| e.expect("entry").file_name().into_string().expect("name"))
        .collect();
    names.sort();
    assert_eq!(
        names,
        ["figures", "findings.json", "operating-points.parquet", "report.html", "report.md", "review.ipynb"]
    );
    for id in ["head-over-flow", "time-strip", "delta-t-over-flow", "valve-positions", "need-over-flow", "availability"]
    {
        let svg = read(&written, &format!("figures/{id}.svg"));
        assert!(svg.starts_with("<svg ") && svg.contains("<title>") && svg.contains("<desc>"), "{id}");
        assert!(!svg.contains("var("), "{id}: a file of its own needs plain colours");
    }
    // Nothing is left beside it but the lock.
    let beside: Vec<String> = fs::read_dir(written.folder.parent().expect("plant folder"))
        .expect("folder")
        .map(|e| e.expect("entry").file_name().into_string().expect("name"))
        .filter(|n| n != ".lock" && n != ".plant-file" && n != "2026-03-01_2026-03-10")
        .collect();
    assert!(beside.is_empty(), "{beside:?}");
}

#[test]
fn the_same_review_gives_the_same_bytes() {
    let (a, b) = (scratch(), scratch());
    let first = write(&fixture::review(), a.path(), UnitSystem::Si);
    let second = write(&fixture::review(), b.path(), UnitSystem::Si);
    for name in [
        "report.html",
        "report.md",
        "findings.json",
        "operating-points.parquet",
        "review.ipynb",
        "figures/head-over-flow.svg",
    ] {
        let of = |w: &Written| fs::read(w.folder.join(name)).expect(name);
        assert!(of(&first) == of(&second), "{name}");
    }
}

/// Keys and their order as the contract lists them.
#[test]
fn findings_have_the_keys_of_the_contract_in_its_order() {
    let dir = scratch();
    let json = findings(&write(&fixture::review(), dir.path(), UnitSystem::Si));
    let keys = |v: &Value| v.as_object().expect("an object").keys().cloned().collect::<Vec<_>>().join(" ");
    let rows = [
        (
            "",
            "schema version plant loop period energy_kwh findings clear resolved not_judged waste_total_kwh recommendation assumed inputs next_point_to_trend points pump_models undecided compared_with normalised operation",
        ),
        ("/period", "from to coverage"),
        (
            "/findings/0",
            "fault subject urgency confidence first_seen last_seen hours waste_kwh waste_kwh_per_year caused_by status since because evidence could_also_be check_on_site change caution seen_in not_told_in cost_so_far_kwh cost_so_far_money cost_so_far_priced_in returned",
        ),
        ("/findings/0/evidence/0", "name value unit expected source"),
        ("/clear/0", "fault subject would_have_seen"),
        ("/not_judged/0", "fault subject missing why"),
        ("/waste_total_kwh", "estimate low high"),
        (
            "/recommendation/current",
            "mode zero_flow_head_kpa design_flow_m3_h design_head_kpa setpoint_kpa setpoint_low_kpa setpoint_high_kpa setpoint_m3_h minimum_speed_pct maximum_speed_pct sensor_at reset",
        ),
        ("/inputs/0", "path sha256"),
        ("/next_point_to_trend/0", "role of would_settle with worth_kwh_per_year"),
        ("/points/0", "name role samples bad missing flat_hours interval_s"),
    ];
    for (place, expected) in rows {
        assert_eq!(keys(json.pointer(place).expect(place)), expected, "{place}");
    }
    // Midnight of 1 March in Lisbon is midnight UTC; ten days on is 11 March.
    assert_eq!(json["period"]["from"], "2026-03-01T00:00:00Z");
    assert_eq!(json["period"]["to"], "2026-03-11T00:00:00Z");
}

#[test]
fn what_the_contract_adds_to_a_review_is_worked_out() {
    let dir = scratch();
    let json = findings(&write(&fixture::review(), dir.path(), UnitSystem::Si));
    // Most urgent first: off-control-curve is "act", setpoint-too-high is "plan".
    assert_eq!(json["findings"][0]["fault"], "off-control-curve");
    // 61.0 + 14.2 kWh, neither caused by the other; bounds are a quarter either way.
    assert_eq!(json["waste_total_kwh"]["estimate"], 75.2);
    assert_eq!(json["waste_total_kwh"]["low"], 56.4);
    assert_eq!(json["findings"][0]["waste_kwh_per_year"], Value::Null);
}

#[test]
fn waste_that_another_finding_causes_is_not_added_again() {
    let mut review = fixture::review();
    for v in &mut review.verdicts {
        if let Verdict::Found(f) = v
            && f.fault == Fault::OffControlCurve
        {
            f.caused_by = Some(Fault::SetpointTooHigh);
        }
    }
    let dir = scratch();
    assert_eq!(findings(&write(&review, dir.path(), UnitSystem::Si))["waste_total_kwh"]["estimate"], 61.0);
}

/// Two months, one after the other: what stayed, what came, what went. A fault that could not be judged is not resolved.
#[test]
fn a_later_review_knows_what_is_new_persisting_and_resolved() {
    let dir = scratch();
    let earlier = fixture::review();
    write(&earlier, dir.path(), UnitSystem::Si);
    let month = 86_400_000 * 31;
    let mut later = fixture::review();
    later.from_ms += month;
    later.to_ms += month;
    later.clock.start_ms += month;
    later.verdicts.retain(|v| !matches!(v, Verdict::Found(f) if f.fault == Fault::OffControlCurve));
    let unjudged = findings(&write(&later, dir.path(), UnitSystem::Si));
    assert_eq!(unjudged["findings"][0]["status"], "persisting");
    assert_eq!(unjudged["findings"][0]["since"], "2026-03-01T06:00:00Z");
    assert_eq!(unjudged["resolved"], serde_json::json!([]));

    later.verdicts.push(Verdict::Clear {
        fault: Fault::OffControlCurve,
        subject: "P-1".into(),
        would_have_seen: "2 kPa".into(),
    });
    // The rerun overwrites its own period and is no earlier result to itself.
    let written = write(&later, dir.path(), UnitSystem::Si);
    let cleared = findings(&written);
    assert_eq!(cleared["resolved"][0]["fault"], "off-control-curve");
    assert_eq!(cleared["resolved"][0]["last_seen"], "2026-03-10T20:00:00Z");
    assert!(
        read(&written, "report.md").contains("Since the review of 1 Mar 2026 to 10 Mar 2026: 0 new; 1 still there")
    );

    let first_again = findings(&write(&earlier, dir.path(), UnitSystem::Si));
    assert_eq!(first_again["findings"][0]["status"], "new", "a later result is no earlier one");
}

#[test]
fn a_refused_recommendation_is_null_and_says_why() {
    let mut review = fixture::review();
    review.tuning = Tuning::Refused { missing: vec!["valve-position".into()], why: "No valve is trended.".into() };
    let dir = scratch();
    let written = write(&review, dir.path(), UnitSystem::Si);
    let json = findings(&written);
    assert_eq!(json["recommendation"], Value::Null);
    let refused =
        json["not_judged"].as_array().expect("a list").iter().find(|n| n["fault"] == "recommendation").expect("listed");
    assert_eq!(refused["why"], "No valve is trended.");
    assert!(read(&written, "report.html").contains("No new setting is proposed. No valve is trended."));
}

/// Columns, order and types as the contract has them; sorted by time, then pump; null where not known.
#[test]
fn operating_points_have_the_columns_of_the_contract() {
    use arrow::{
        array::{Array, AsArray},
        datatypes::{Float64Type, TimestampMillisecondType},
    };
    use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
    let dir = scratch();
    let written = write(&fixture::review(), dir.path(), UnitSystem::Si);
    let file = fs::File::open(written.folder.join("operating-points.parquet")).expect("parquet");
    let reader = ParquetRecordBatchReaderBuilder::try_new(file).expect("parquet");
    let schema = reader.schema().clone();
    let columns: Vec<String> = schema.fields().iter().map(|f| format!("{}:{}", f.name(), f.data_type())).collect();
    let n = "Float64";
    let expected = [
        "time:Timestamp(ms, \"UTC\")".to_owned(),
        "pump:Utf8".to_owned(),
        format!("speed:{n}"),
        format!("flow:{n}"),
        format!("flow_low:{n}"),
        format!("flow_high:{n}"),
        format!("head:{n}"),
        format!("head_low:{n}"),
        format!("head_high:{n}"),
        format!("power:{n}"),
        format!("efficiency:{n}"),
        format!("curve_head:{n}"),
        "regime:Utf8".to_owned(),
        "steady:Boolean".to_owned(),
        "basis:Utf8".to_owned(),
        format!("loop_flow:{n}"),
        format!("loop_flow_low:{n}"),
        format!("loop_flow_high:{n}"),
        format!("flow_sd_common:{n}"),
        format!("head_sd_common:{n}"),
    ];
    // Behind them readings that findings rest on (`notebook.rs`).
    assert_eq!(columns[..expected.len()], expected);
    assert_eq!(schema.field(3).metadata()["unit"], "m3/h");
    assert!(schema.fields().iter().all(|f| !f.metadata()["description"].is_empty()));

    let rows: Vec<_> = reader.with_batch_size(1 << 20).build().expect("reader").map(|b| b.expect("batch")).collect();
    let batch = &rows[0];
    // Ten days of 288 rows for each of two pumps.
    assert_eq!(batch.num_rows(), 2 * 2880);
    let time = batch.column(0).as_primitive::<TimestampMillisecondType>();
    let pump = batch.column(1).as_string::<i32>();
    for i in 1..batch.num_rows() {
        assert!((time.value(i - 1), pump.value(i - 1)) < (time.value(i), pump.value(i)), "row {i}");
    }
    // Noon of 1 March: row 144 of the clock, P-1 first. Flow 12 + 34 sin(6/14 pi) + 2 ripple = 45.1 at most 2 off.
    let noon = 2 * 144;
    assert_eq!((pump.value(noon), time.value(noon)), ("P-1", fixture::START_MS + 12 * 3_600_000));
    let flow = batch.column(3).as_primitive::<Float64Type>();
    assert!((flow.value(noon) - 45.1).abs() < 2.1, "{}", flow.value(noon));
    assert_eq!(batch.column(12).as_string::<i32>().value(noon), "on-curve");
    assert_eq!(batch.column(14).as_string::<i32>().value(noon), "head+power");
    // Midnight: off, head not known.
    assert!(batch.column(6).is_null(0));
    // The gap of the third day at ten o'clock: nothing is known, and nothing fixed it.
    let gap = 2 * (2 * 288 + 120);
    assert!(flow.is_null(gap) && batch.column(14).is_null(gap));
}

#[test]
fn the_page_escapes_and_asks_nothing_of_any_network() {
    let dir = scratch();
    let written = write(&fixture::review(), dir.path(), UnitSystem::Si);
    let page = read(&written, "report.html");
    assert!(page.contains("Harbour Hall &lt;north&gt; &amp; yard") && !page.contains("<north>"));
    for sign in ["src=", "http://", "https://", "@import", "url("] {
        assert!(!page.replace("http://www.w3.org/2000/svg", "").contains(sign), "{sign}");
    }
    // One script that runs, with its fingerprint in the page's policy; what else stands in such an element is data.
    let script = page.split("<script>").nth(1).and_then(|s| s.split("</script>").next()).expect("the script");
    assert_eq!(page.matches("<script").count() - page.matches("<script type=\"application/json\"").count(), 1);
    assert!(page.contains(&format!("script-src 'sha256-{}';", fingerprint(script))), "policy");
    for way in ["innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "fetch(", "XMLHttpRequest"] {
        assert!(!script.contains(way), "{way}");
    }
    assert!(read(&written, "report.md").contains("Harbour Hall \\<north\\> & yard"));
}

/// SHA-256 in base64, by way of bits: a second path to what the page's policy holds.
fn fingerprint(text: &str) -> String {
    use sha2::Digest;
    let bits: String = sha2::Sha256::digest(text.as_bytes()).iter().map(|b| format!("{b:08b}")).collect();
    let letters: Vec<char> = ('A'..='Z').chain('a'..='z').chain('0'..='9').chain(['+', '/']).collect();
    let sixes = bits.as_bytes().chunks(6).map(|six| format!("{:0<6}", String::from_utf8_lossy(six)));
    let text: String = sixes.filter_map(|six| usize::from_str_radix(&six, 2).ok()).map(|k| letters[k]).collect();
    // 32 bytes leave one that is padded.
    format!("{text}=")
}

/// RFC 4648 has no vector for a digest; this is SHA-256 of nothing (FIPS 180-4), whose base64 is widely published.
#[test]
fn the_second_path_to_a_fingerprint_is_right() {
    assert_eq!(fingerprint(""), "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=");
}

/// What differs between the systems of units stands in the page for both; Markdown has the reader's own alone.
#[test]
fn the_page_holds_both_systems_of_units() {
    let dir = scratch();
    for (units, own, other) in [(UnitSystem::Si, "si", "ip"), (UnitSystem::Ip, "ip", "si")] {
        let written = write(&fixture::review(), dir.path(), units);
        let page = read(&written, "report.html").replace('\u{202f}', " ");
        assert!(page.contains(&format!("<html lang=\"en\" data-units=\"{own}\">")), "{own}");
        // The proposed head at no flow: 38 kPa are 12.7 ft, as worked out at `ip_units_reach_sentences_tables_and_axes`.
        let (shown, hidden) = if own == "si" { ("38 kPa", "12.7 ft") } else { ("12.7 ft", "38 kPa") };
        let start = format!(" data-{other}=\"");
        let both = page.split(&start).skip(1).filter_map(|p| p.split_once("\">"));
        let mut both = both.map(|(there, here)| (there, here.split("</span>").next().unwrap_or_default()));
        let whole = |text: &str, number: &str| text.contains(number) && text.len() < 4 * number.len();
        assert!(both.any(|(there, here)| whole(there, hidden) && whole(here, shown)), "{own}: a setting in a sentence");
        assert!(page.contains("flow of the loop, gpm") && page.contains("flow of the loop, m³/h"), "{own}: axes");
        assert!(!page.contains(&format!(" data-{own}=")), "{own}: the shown text is kept once");
    }
}

/// The script's data against the review itself: all hours of rows with a head are in some mark, each mark is in some bin of the strip, and no bin
/// has a mark that holds none of its rows. Ten days of 288 rows make 240 bins of an hour.
#[test]
fn what_links_the_figures_adds_up() {
    let dir = scratch();
    let review = fixture::review();
    let page = read(&write(&review, dir.path(), UnitSystem::Si), "report.html");
    let data = page.split("id=\"links\">").nth(1).and_then(|p| p.split("</script>").next()).expect("the data");
    let data: Value = serde_json::from_str(data).expect("JSON");
    let numbers = |part: &str, name: &str| -> Vec<Option<f64>> {
        data[part][name].as_array().expect(name).iter().map(Value::as_f64).collect()
    };
    let system = &review.points.system;
    let drawn = |i: usize| system.flow_m3h[i].is_finite() && system.head_kpa[i] > 0.0;
    let rows: Vec<usize> = (0..review.clock.len).filter(|i| drawn(*i)).collect();
    let hours: f64 = numbers("marks", "hours").iter().flatten().sum();
    // Rounded to four figures each.
    assert!((hours - rows.len() as f64 / 12.0).abs() < 5e-4 * hours, "{hours} h of {} rows", rows.len());

    let edges = numbers("bins", "edges");
    assert_eq!(edges.len(), 241);
    assert!(edges.windows(2).all(|e| e[1].zip(e[0]).is_some_and(|(b, a)| b - a == 60.0)), "an hour each");
    let touched: Vec<Vec<u64>> = data["bins"]["marks"]
        .as_array()
        .expect("marks")
        .iter()
        .map(|own| {
            let distances = own.as_array().expect("distances").iter().filter_map(Value::as_u64);
            distances
                .scan(0, |at, d| {
                    *at += d;
                    Some(*at)
                })
                .collect()
        })
        .collect();
    let all = numbers("marks", "flow").len() as u64;
    let seen: std::collections::BTreeSet<u64> = touched.iter().flatten().copied().collect();
    assert!(seen.iter().copied().eq(0..all), "every mark lies in some bin, and none else");
    for (k, own) in touched.iter().enumerate() {
        let has_rows = rows.iter().any(|i| i / 12 == k);
        assert_eq!(!own.is_empty(), has_rows, "bin {k}");
    }
}

/// Names become marks that links can lead to; no two are the same, and none holds anything but letters, digits and hyphens.
#[test]
fn findings_have_marks_of_their_own() {
    let dir = scratch();
    let written = write(&fixture::review(), dir.path(), UnitSystem::Si);
    let page = read(&written, "report.html");
    let ids: Vec<&str> = page.split("<h3 id=\"").skip(1).filter_map(|p| p.split('"').next()).collect();
    for finding in findings(&written)["findings"].as_array().expect("findings") {
        let code = finding["fault"].as_str().expect("a code");
        assert!(ids.iter().any(|id| id.contains(code)), "{code} of {ids:?}");
    }
    for id in &ids {
        assert!(id.chars().all(|c| c.is_alphanumeric() || c == '-'), "{id}");
        assert!(page.contains(&format!("<a href=\"#{id}\">")), "{id} in the contents");
        assert_eq!(ids.iter().filter(|other| *other == id).count(), 1, "{id}");
    }
}

#[test]
fn page_and_markdown_have_the_same_sections_in_the_same_order() {
    let dir = scratch();
    let written = write(&fixture::review(), dir.path(), UnitSystem::Si);
    let titles: Vec<&str> = written.document.sections.iter().map(|s| s.title).collect();
    let (page, text) = (read(&written, "report.html"), read(&written, "report.md"));
    let page = page.replace("&#39;", "'");
    let in_page: Vec<&str> = page.split("<h2>").skip(1).filter_map(|p| p.split(" <a class=\"mark\"").next()).collect();
    let in_text: Vec<&str> = text.lines().filter_map(|l| l.strip_prefix("## ")).collect();
    assert_eq!(in_page, titles);
    assert_eq!(in_text, titles);
}

/// A caution stands in the section of each piece of advice.
#[test]
fn cautions_stand_beside_advice() {
    let dir = scratch();
    let text = read(&write(&fixture::review(), dir.path(), UnitSystem::Si), "report.md");
    let settings = text.split("## What to set").nth(1).and_then(|t| t.split("\n## ").next()).expect("section");
    assert!(settings.contains("> **Caution.** Confirm on site first") && settings.contains("licensed practice"));
    assert!(text.contains("> **Caution.** The drive's cabinet stays live"));
    for word in ["Lock out and tag out", "scalds", "minimum flow", "water-safety plan", "makers' limits"] {
        assert!(text.contains(word), "{word}");
    }
}

/// Widths and heights of the bars of a layer, as the file holds them [px].
fn bars(svg: &str, layer: &str) -> Vec<(f64, f64)> {
    let start = svg.find(&format!("id=\"{layer}\"")).expect("the layer");
    let body = svg[start..].split("</g>").next().expect("the layer's end");
    let of = |tag: &str, name: &str| -> f64 {
        let at = tag.find(&format!(" {name}=\"")).expect(name) + name.len() + 3;
        tag[at..].split('"').next().and_then(|n| n.parse().ok()).expect("a number")
    };
    body.split("<rect").skip(1).map(|tag| (of(tag, "width"), of(tag, "height"))).collect()
}

/// Ten days of 288 rows. By hand: one day without a reading leaves two bars with a gap between them; half a day leaves three, the
/// middle one half as high; nothing at all leaves none.
#[test]
fn availability_is_drawn_day_by_day() {
    let mut review = fixture::review();
    let day = 288;
    review.screened.series.iter_mut().for_each(|s| s.values.fill(1.0));
    let blank = |values: &mut [f64], rows: std::ops::Range<usize>| values[rows].fill(f64::NAN);
    blank(&mut review.screened.series[1].values, 4 * day..5 * day);
    blank(&mut review.screened.series[2].values, 4 * day..4 * day + day / 2);
    let all = review.screened.series[3].values.len();
    blank(&mut review.screened.series[3].values, 0..all);
    let dir = scratch();
    let svg = read(&write(&review, dir.path(), UnitSystem::Si), "figures/availability.svg");
    let whole = bars(&svg, "availability-0");
    assert_eq!(whole.len(), 1, "{whole:?}");
    let (width, height) = whole[0];
    let near = |found: (f64, f64), days: f64, tall: f64| {
        let expected = (width * days / 10.0, height * tall);
        assert!((found.0 - expected.0).abs() <= 2.0 && (found.1 - expected.1).abs() <= 1.5, "{found:?} {expected:?}");
    };
    let gap = bars(&svg, "availability-1");
    assert_eq!(gap.len(), 2);
    near(gap[0], 4.0, 1.0);
    near(gap[1], 5.0, 1.0);
    let half = bars(&svg, "availability-2");
    assert_eq!(half.len(), 3);
    near(half[1], 1.0, 0.5);
    assert!(bars(&svg, "availability-3").is_empty());
}

/// Numbers for American readers. 38 kPa is 38000 / (999.9 * 9.80665) m = 3.875 m = 12.7 ft; 12 and 60 m3/h are 52.8 and 264 gpm, said with two figures as they were written
/// (1 gpm = 0.2271247 m3/h); 3.6 K is 6.48 F; 8 kPa is 2.7 ft.
#[test]
fn ip_units_reach_sentences_tables_and_axes() {
    let dir = scratch();
    let written = write(&fixture::review(), dir.path(), UnitSystem::Ip);
    let text = read(&written, "report.md").replace('\u{202f}', " ");
    assert!(text.contains("12.7 ft (5.51 psi)"), "setting");
    assert!(text.contains("at 53 to 260 gpm"), "range in a sentence");
    assert!(text.contains("made 2.7 ft more"), "number in a sentence");
    assert!(text.contains("below 6.5 °F for"), "difference");
    assert!(!text.contains("kPa") && !text.contains("m3/h"), "{text}");
    assert!(read(&written, "figures/head-over-flow.svg").contains("flow of the loop, gpm"));
}

#[test]
fn a_notebook_that_a_person_edited_is_kept() {
    let dir = scratch();
    let review = fixture::review();
    let first = write(&review, dir.path(), UnitSystem::Si);
    let ours = read(&first, "review.ipynb");
    // Run but not edited: outputs and counts change, sources do not.
    let mut run: Value = serde_json::from_str(&ours).expect("JSON");
    run["cells"][1]["execution_count"] = 1.into();
    run["cells"][1]["source"] =
        serde_json::json!(run["cells"][1]["source"].as_str().expect("text").split_inclusive('\n').collect::<Vec<_>>());
    fs::write(first.folder.join("review.ipynb"), run.to_string()).expect("write");
    let again = write(&review, dir.path(), UnitSystem::Si);
    assert!(!again.notebook_kept);
    assert_eq!(read(&again, "review.ipynb"), ours);

    let edited = ours.replace("## Day by day", "## My own heading");
    fs::write(first.folder.join("review.ipynb"), &edited).expect("write");
    fs::write(first.folder.join("my notes.txt"), "mine").expect("write");
    for _ in 0..2 {
        let kept = write(&review, dir.path(), UnitSystem::Si);
        assert!(kept.notebook_kept);
        assert_eq!(read(&kept, "review.ipynb"), edited);
        assert_eq!(read(&kept, "review.new.ipynb"), ours);
        assert_eq!(read(&kept, "my notes.txt"), "mine", "what is not ours stays");
    }
}

/// A learned table stands in the page, in the Markdown and in a file of its own, which goes once the table is no longer learned.
#[test]
fn a_learned_table_is_there_to_be_pasted() {
    let dir = scratch();
    let toml = "# Learned from metered flow: P-1, <March>.\n[[pump.curve]]\nspeed = \"100 %\"\n";
    let mut review = fixture::review();
    review.learned_tables = ["Pump 1/a", "Pump 1:a"]
        .map(|pump| offcurve::operating::LearnedTable {
            pump: pump.into(),
            toml: toml.into(),
            rows: 1234,
            days: 14,
            head_error: 0.004,
            power_error: f64::NAN,
            flow_error: 0.021,
        })
        .into();
    let written = write(&review, dir.path(), UnitSystem::Si);
    for name in ["learned-curve-Pump-1-a.toml", "learned-curve-Pump-1-a-2.toml"] {
        assert_eq!(read(&written, name), toml);
    }
    let page = read(&written, "report.html");
    assert!(
        page.contains(
            "<pre tabindex=\"0\"># Learned from metered flow: P-1, &lt;March&gt;.\n[[pump.curve]]\nspeed = &quot;100 %&quot;"
        )
    );
    let text = read(&written, "report.md");
    assert!(
        text.contains("    [[pump.curve]]\n    speed = \"100 %\"\n")
            && text.contains("1234 steady metered rows on 14 days")
    );
    assert!(!text.contains("power to"), "no power curve, no error of one");
    let again = write(&fixture::review(), dir.path(), UnitSystem::Si);
    assert!(!again.folder.join("learned-curve-Pump-1-a.toml").exists());
}

/// Where a run died between moving the old result aside and the new one in, the next run finds the old one again.
#[test]
fn an_interrupted_move_is_mended() {
    let dir = scratch();
    let review = fixture::review();
    let written = write(&review, dir.path(), UnitSystem::Si);
    let plant = written.folder.parent().expect("plant folder").to_owned();
    fs::write(written.folder.join("my notes.txt"), "mine").expect("write");
    fs::rename(&written.folder, plant.join(".2026-03-01_2026-03-10.aside")).expect("rename");
    fs::create_dir_all(plant.join(".2026-03-01_2026-03-10.partial/figures")).expect("mkdir");
    let again = write(&review, dir.path(), UnitSystem::Si);
    assert_eq!(read(&again, "my notes.txt"), "mine");
    let hidden = fs::read_dir(&plant).expect("folder").filter(|e| {
        let name = e.as_ref().expect("entry").file_name();
        name.to_string_lossy().starts_with('.') && name != ".lock"
    });
    assert_eq!(hidden.count(), 0);
}

#[test]
fn an_output_that_cannot_be_written_is_said_in_plain_words() {
    let dir = scratch();
    let file = dir.path().join("a-file");
    fs::write(&file, "").expect("write");
    let error = report::write(&fixture::review(), &file, UnitSystem::Si).expect_err("a file is no folder").to_string();
    assert!(error.contains("could not make the folder: a file stands where a folder should"), "{error}");
    assert!(error.contains("hint: write somewhere else with --out FOLDER"), "{error}");
    assert!(!error.contains("os error"), "{error}");
}

/// Nothing known at all still gives a whole report.
#[test]
fn a_review_without_findings_or_numbers_says_so() {
    let mut review = fixture::review();
    review.verdicts.clear();
    review.tuning = Tuning::Refused { missing: Vec::new(), why: "Nothing is known.".into() };
    for p in &mut review.points.pumps {
        p.flow_m3h.fill(f64::NAN);
        p.head_kpa.fill(f64::NAN);
        p.head_low_kpa.fill(f64::NAN);
    }
    for column in
        [&mut review.points.system.flow_m3h, &mut review.points.system.head_kpa, &mut review.points.system.power_kw]
    {
        column.fill(f64::NAN);
    }
    review.need_kpa.fill(f64::NAN);
    review.energy_kwh = f64::NAN;
    let dir = scratch();
    let written = write(&review, dir.path(), UnitSystem::Si);
    let json = findings(&written);
    assert_eq!(json["energy_kwh"], Value::Null);
    assert_eq!(json["waste_total_kwh"]["estimate"], 0.0);
    assert!(read(&written, "report.md").contains("none of the 16 kinds of fault could be judged"));
}

/// Significant figures, thousands apart from five digits on; rounding by hand.
#[test]
fn numbers_are_rounded_for_people() {
    let rows = [
        (0.0, 3, "0"),
        (0.04567, 3, "0.0457"),
        (7.0, 3, "7"),
        (12.345, 3, "12.3"),
        (99.96, 3, "100"),
        (1234.0, 3, "1230"),
        (12_345.0, 3, "12\u{202f}300"),
        (1_234_567.0, 3, "1\u{202f}230\u{202f}000"),
        (-8.25, 2, "−8.3"),
        (20_160.0, 15, "20\u{202f}160"),
        (f64::NAN, 3, "not known"),
    ];
    for (value, digits, text) in rows {
        assert_eq!(report::show::figures(value, digits), text, "{value}");
    }
}

/// Sentences made in SI, as an American reads them. 100 kPa of water at 6 C is 33.5 ft (100000 / (999.9 * 9.80665 * 0.3048));
/// 10 m3/h is 44.0 gpm (0.2271247 m3/h each); 7 degC is 44.6 F, 6 K is 10.8 F.
#[test]
fn sentences_are_put_into_the_readers_units() {
    let show = report::show::Show::new(&fixture::review().plant, UnitSystem::Ip);
    let rows = [
        ("It made 100 kPa.", "It made 33.5 ft."),
        ("Between 10.0 and 20.0 m3/h, or more", "Between 44 and 88.1 gpm, or more"),
        ("water of 7.00 degC, 6.00 K warmer", "water of 44.6 °F, 10.8 °F warmer"),
        ("(100 kPa)", "(33.5 ft)"),
        // Not a number with a unit: a point's name, a ratio of units, a unit alone, a number of something else.
        ("point AHU-3 kPa", "point AHU-3 kPa"),
        ("the unit K is a kelvin", "the unit K is a kelvin"),
        ("5 valves at 90 % of 12 kW", "5 valves at 90 % of 12 kW"),
        ("", ""),
    ];
    for (text, shown) in rows {
        assert_eq!(show.sentence(text), shown);
    }
    // Shares read as per cent.
    assert_eq!(show.expected("at most 0.05", "fraction").replace('\u{202f}', " "), "at most 5 %");
    assert_eq!(show.expected("0.85 to 0.95", "fraction").replace('\u{202f}', " "), "85 % to 95 %");
    let si = report::show::Show::new(&fixture::review().plant, UnitSystem::Si);
    assert_eq!(si.sentence("40.0 m3/h at 7.0 degC and 12.34 kPa"), "40.0 m³/h at 7.0 °C and 12.34 kPa");
}

/// What stays on one line is shown with `_`; by the words themselves.
#[test]
fn numbers_keep_their_units_and_names_their_hyphens() {
    use report::unbroken::{bound, is_name};
    for (text, want) in [
        ("ran 82 kPa above it for 255 h, since 21 Oct 2025.", "ran 82_kPa above it for 255_h, since 21 Oct 2025."),
        // A range ends in its unit; its first number has none of its own.
        ("(40 to 60 kPa)", "(40 to 60_kPa)"),
        ("missed by −0.2 % on average", "missed by −0.2_% on average"),
        // A name that ends in a digit is no number, and a word that begins like a unit is none.
        ("P-1 h of pump 2 minutes", "P-1 h of pump 2 minutes"),
        ("16 kinds of fault, 3 were found", "16 kinds of fault, 3 were found"),
    ] {
        assert_eq!(bound(text).replace('\u{202f}', "_"), want);
    }
    for (word, is) in
        [("(AHU-2).", true), ("P-1", true), ("CH-12,", true), ("two-way", false), ("-5", false), ("AHU", false)]
    {
        assert_eq!(is_name(word), is, "{word}");
    }
    // In the page's sentences no plain space stands between a number and the unit of a head.
    let dir = scratch();
    let page = read(&write(&fixture::review(), dir.path(), UnitSystem::Si), "report.html");
    let body = &page[page.find("<header>").expect("a header")..page.find("</header>").expect("its end")];
    let plain = body.match_indices(" kPa").filter(|(i, _)| body[..*i].ends_with(|c: char| c.is_ascii_digit())).count();
    assert_eq!((plain, body.contains("\u{202f}kPa")), (0, true));
}

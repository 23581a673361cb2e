//! Containers to texts. The files of `containers/` are by other people's writers (`containers/make.py`): Python's zipfile and gzip,
//! zstandard, openpyxl, pyarrow, xlwt, odfpy; what each must read as was made from the same values, not by reading.

use flate2::Compression;
use flate2::write::{DeflateEncoder, GzEncoder};
use offcurve::ingest::IngestError;
use offcurve::ingest::container::{Hashing, Opened, Outcome, each_text, each_text_of, files_below, told};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// A text as it was read: its head without the stream, what came out, and how it ended.
struct Seen {
    shown: String,
    encoding: &'static str,
    is_hidden: bool,
    left_out: Vec<(String, String)>,
    text: Vec<u8>,
    fault: Option<IngestError>,
}

fn take(mut opened: Opened<'_>) -> Seen {
    let mut text = Vec::new();
    let fault = opened.text.read_to_end(&mut text).err();
    let line = 1 + text.iter().filter(|b| **b == b'\n').count() as u64;
    let fault = fault.map(|e| told(&e, &opened.shown, line));
    Seen {
        fault,
        text,
        shown: opened.shown,
        encoding: opened.encoding,
        is_hidden: opened.is_hidden,
        left_out: opened.left_out,
    }
}

/// Every text of some bytes, in order; a fault in one is what `see` says of it.
fn seen(bytes: &[u8], shown: &str) -> (Vec<Seen>, Result<Outcome, IngestError>) {
    let mut all = Vec::new();
    let outcome = each_text_of(bytes, shown, Hashing::Here, &mut |opened| {
        let seen = take(opened);
        let said = seen.fault.clone().map_or(Ok(()), Err);
        all.push(seen);
        said
    });
    (all, outcome)
}

fn fixture(name: &str) -> Vec<u8> {
    std::fs::read(folder().join(name)).unwrap()
}
fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/containers")
}
fn plain() -> Vec<u8> {
    fixture("plain.csv")
}
fn gzipped(bytes: &[u8]) -> Vec<u8> {
    let mut pack = GzEncoder::new(Vec::new(), Compression::default());
    pack.write_all(bytes).unwrap();
    pack.finish().unwrap()
}

/// An archive with the members deflated; the checksum is theirs.
fn zipped(members: &[(&str, &[u8])]) -> Vec<u8> {
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    for (name, content) in members {
        let mut pack = DeflateEncoder::new(Vec::new(), Compression::default());
        pack.write_all(content).unwrap();
        let packed = pack.finish().unwrap();
        let mut crc = flate2::Crc::new();
        crc.update(content);
        let at = out.len() as u32;
        let mut about = vec![20, 0, 0, 8, 8, 0, 0, 0, 0, 0];
        about.extend(crc.sum().to_le_bytes());
        about.extend((packed.len() as u32).to_le_bytes());
        about.extend((content.len() as u32).to_le_bytes());
        about.extend((name.len() as u16).to_le_bytes());
        about.extend([0, 0]);
        out.extend(b"PK\x03\x04");
        out.extend(&about);
        out.extend(name.as_bytes());
        out.extend(packed);
        directory.extend(b"PK\x01\x02\x14\0");
        directory.extend(&about);
        directory.extend([0; 10]);
        directory.extend(at.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let (at, count) = (out.len() as u32, members.len() as u16);
    out.extend(&directory);
    out.extend(b"PK\x05\x06\0\0\0\0");
    out.extend(count.to_le_bytes());
    out.extend(count.to_le_bytes());
    out.extend((directory.len() as u32).to_le_bytes());
    out.extend(at.to_le_bytes());
    out.extend([0, 0]);
    out
}

/// A workbook of one sheet, as little of it as will do.
fn book(sheet_data: &str, more: &[(&str, &[u8])]) -> Vec<u8> {
    let sheet = format!("<?xml version=\"1.0\"?><worksheet><sheetData>{sheet_data}</sheetData></worksheet>");
    let mut members: Vec<(&str, &[u8])> = vec![
        ("[Content_Types].xml", b"<Types/>"),
        ("xl/workbook.xml", b"<workbook><sheets><sheet name=\"S\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>"),
        ("xl/_rels/workbook.xml.rels", b"<Relationships><Relationship Id=\"rId1\" Type=\"x/worksheet\" Target=\"worksheets/sheet1.xml\"/><Relationship Id=\"rId2\" Type=\"x/styles\" Target=\"/xl/styles.xml\"/><Relationship Id=\"rId3\" Type=\"x/sharedStrings\" Target=\"sharedStrings.xml\"/></Relationships>"),
        ("xl/worksheets/sheet1.xml", sheet.as_bytes()),
    ];
    members.extend(more);
    zipped(&members)
}

fn only(bytes: &[u8]) -> Seen {
    let (mut all, outcome) = seen(bytes, "f");
    assert!(outcome.is_ok(), "{}", outcome.unwrap_err());
    assert_eq!(all.len(), 1);
    all.remove(0)
}
fn text_of(bytes: &[u8]) -> String {
    String::from_utf8(only(bytes).text).unwrap()
}
/// What is said of a file that is refused or lost.
fn said(bytes: &[u8]) -> String {
    match seen(bytes, "trends/f").1 {
        Err(e) => e.to_string(),
        Ok(outcome) => outcome.lost.first().map(|l| l.why.to_string()).unwrap_or_default(),
    }
}

// ---- by outside writers ----

#[test]
fn what_was_packed_comes_out() {
    let text = plain();
    for name in ["plain.csv", "two-members.gz", "two-frames.zst"] {
        let seen = only(&fixture(name));
        assert_eq!((seen.encoding, seen.text == text), ("UTF-8", true), "{name}");
    }
    // Padding with zeros is what tapes and some loggers leave; anything else behind the end is told.
    let padded = [gzipped(&text), vec![0; 700]].concat();
    assert_eq!(only(&padded).text, text);
    let spoiled = [gzipped(&text), b"rest".to_vec()].concat();
    assert!(said(&spoiled).contains("the gzip stream is damaged"), "{}", said(&spoiled));
}

#[test]
fn every_member_of_an_archive_is_read_and_the_others_named() {
    let (all, outcome) = seen(&fixture("folders.zip"), "t/folders.zip");
    let names: Vec<&str> = all.iter().map(|s| s.shown.as_str()).collect();
    assert_eq!(
        names,
        [
            "t/folders.zip/Vor- und Rücklauf.csv",
            "t/folders.zip/north/p1.csv",
            "t/folders.zip/south/inner.zip/p3.csv",
            "t/folders.zip/south/p2.csv.gz",
        ]
    );
    let text = plain();
    assert!(all.iter().all(|s| s.text == text && s.fault.is_none()));
    let outcome = outcome.unwrap();
    assert_eq!(outcome.lost.len(), 2, "hidden files and folders are not worth a word");
    assert_eq!(
        outcome.lost[0].why.to_string(),
        "t/folders.zip/../../climbs.csv: its name climbs out of the archive (\"..\", a root or a drive), which no export's does\nhint: check where the archive comes from; unpack it yourself if it is sound"
    );
    assert_eq!(
        outcome.lost[1].why.to_string(),
        "t/folders.zip/manual.pdf: this is a PDF document, which cannot be read as an export of readings\nhint: export the readings as CSV"
    );
    assert_eq!(outcome.texts, 4);
}

#[test]
fn names_that_climb_or_come_twice_are_told() {
    for name in ["../a.csv", "b/../../a.csv", "/etc/a.csv", "C:\\a.csv", "c:a.csv", "..\\a.csv"] {
        let (all, outcome) = seen(&zipped(&[(name, &plain()), ("b.csv", &plain())]), "z");
        let lost = outcome.unwrap().lost;
        assert!(all.len() == 1 && all[0].shown == "z/b.csv" && lost.len() == 1, "{name}");
        assert!(
            lost[0].why.to_string().starts_with(&format!("z/{}: its name climbs", name.replace('\\', "/"))),
            "{name}"
        );
    }
    let (all, outcome) = seen(&zipped(&[("a.csv", b"x"), ("b.csv", &plain()), ("a.csv", &plain())]), "z");
    assert!(all.len() == 2 && all.iter().all(|s| s.text == plain()));
    assert_eq!(
        outcome.unwrap().lost[0].why.to_string(),
        "z: the zip archive is damaged: 1 of its members have the name of another, and only the last is read\nhint: copy or export it again"
    );
}

#[test]
fn a_directory_is_not_believed() {
    // 2^40 members, as an archive beyond 4 GiB declares them.
    let ending = |members: u64| {
        let mut out = zipped(&[("a.csv", b"a\n")]);
        let record = out.len() as u64;
        out.extend([&b"PK\x06\x06"[..], &44_u64.to_le_bytes(), &[45, 0, 45, 0], &[0; 8]].concat());
        out.extend([members, members, 46 * members, 0].map(u64::to_le_bytes).concat());
        out.extend([&b"PK\x06\x07"[..], &[0; 4], &record.to_le_bytes(), &[1, 0, 0, 0]].concat());
        out.extend([&b"PK\x05\x06"[..], &[0; 4], &[0xFF; 12], &[0; 2]].concat());
        out
    };
    assert!(said(&ending(1 << 40)).contains("it lists 1099511627776 files, more than 100000"));
}

#[test]
fn an_archive_whose_sizes_stand_behind_the_data() {
    let streamed = fixture("streamed.zip");
    let (all, outcome) = seen(&streamed, "s.zip");
    assert!(all.len() == 2 && all.iter().all(|s| s.text == plain()));
    assert!(outcome.unwrap().lost.is_empty());
    // Without its directory the members are found by their own headers; the loss is told.
    let cut = streamed.len() - 60;
    let (all, outcome) = seen(&streamed[..cut], "s.zip");
    assert!(all.len() == 2 && all.iter().all(|s| s.text == plain() && s.fault.is_none()));
    assert_eq!(
        outcome.unwrap().lost[0].why.to_string(),
        format!(
            "s.zip: the zip archive is cut off: it stops at byte {cut}, before its end\nhint: copy or export it again; it may have been copied while it was still being written"
        )
    );
}

#[test]
fn a_workbook_by_openpyxl() {
    let (all, outcome) = seen(&fixture("book.xlsx"), "book.xlsx");
    assert!(outcome.unwrap().lost.is_empty());
    let expected = String::from_utf8(fixture("book.Pumps.expected")).unwrap();
    assert_eq!(String::from_utf8_lossy(&all[0].text), expected);
    assert_eq!((all[0].shown.as_str(), all[0].encoding, all[0].is_hidden), ("book.xlsx/Pumps", "workbook", false));
    assert_eq!((all[1].shown.as_str(), all[1].is_hidden), ("book.xlsx/Limits & more", true));
    assert_eq!(String::from_utf8_lossy(&all[1].text), "name,limit\nP-1,-0.25\n");
    assert_eq!(text_of(&fixture("from-1904.xlsx")), "Time,v\n2026-03-01T12:30:00,1\n");
    let inside = zipped(&[("a/book.xlsx", &fixture("book.xlsx"))]);
    assert_eq!(seen(&inside, "z").0[0].shown, "z/a/book.xlsx/Pumps");
}

#[test]
fn tables_by_pyarrow() {
    let expected = String::from_utf8(fixture("table.expected")).unwrap();
    for name in ["snappy", "zstd", "gzip", "lz4", "none"] {
        let name = format!("{name}.parquet");
        let seen = only(&fixture(&name));
        assert_eq!(
            (String::from_utf8_lossy(&seen.text).as_ref(), seen.encoding),
            (expected.as_str(), "parquet"),
            "{name}"
        );
        assert_eq!(seen.left_out, [("nested".to_string(), "holds several values a row".to_string())]);
    }
    for name in ["lz4.feather", "zstd.feather", "uncompressed.feather", "table.stream"] {
        let seen = only(&fixture(name));
        assert_eq!(
            (String::from_utf8_lossy(&seen.text).as_ref(), seen.encoding),
            (expected.as_str(), "arrow"),
            "{name}"
        );
        assert_eq!(seen.left_out.iter().map(|l| l.0.as_str()).collect::<Vec<_>>(), ["nested", "took"]);
    }
    for inner in ["zstd.parquet", "lz4.feather"] {
        assert_eq!(text_of(&zipped(&[("x", &fixture(inner))])), expected, "{inner} in a zip");
        assert_eq!(text_of(&gzipped(&fixture(inner))), expected, "{inner} in a gzip");
    }
}

// ---- workbooks, cell by cell ----

#[test]
fn cells_of_every_kind() {
    let styles: &[u8] = b"<styleSheet><numFmts><numFmt numFmtId=\"164\" formatCode=\"yyyy\\-mm\\-dd hh:mm\"/>\
        <numFmt numFmtId=\"165\" formatCode=\"[$-407]d/ mmmm yyyy;@\"/><numFmt numFmtId=\"166\" formatCode=\"0.00&quot; dB&quot;\"/></numFmts>\
        <cellStyleXfs><xf numFmtId=\"14\"/></cellStyleXfs>\
        <cellXfs><xf numFmtId=\"0\"/><xf numFmtId=\"164\"/><xf numFmtId=\"165\"/><xf numFmtId=\"166\"/><xf numFmtId=\"14\"/><xf numFmtId=\"20\"/><xf numFmtId=\"46\"/></cellXfs></styleSheet>";
    let strings: &[u8] = b"<sst><si><t>plain</t></si><si><r><t>rich </t></r><r><t xml:space=\"preserve\">text</t></r><rPh><t>no</t></rPh></si><si/></sst>";
    let more = [("xl/styles.xml", styles), ("xl/sharedStrings.xml", strings)];
    let check = |cells: &str, expected: &str| assert_eq!(text_of(&book(cells, &more)), expected, "{cells}");
    let one = |cell: &str, expected: &str| check(&format!("<row>{cell}</row>"), &format!("{expected}\n"));

    one("<c><v>0.10000000000000001</v></c>", "0.1"); // 17 digits of the same bits
    one("<c><v>12.50</v></c>", "12.5");
    one(
        "<c><v>-0.0070</v></c><c><v>1000.0</v></c><c><v>-12.340</v></c><c><v>0.00010</v></c>",
        "-0.007,1000,-12.34,0.0001",
    );
    one(
        "<c><v>123456789012.3450</v></c><c><v>9007199254740993.0</v></c><c><v>-0</v></c>",
        "123456789012.345,9007199254740992,0",
    );
    one("<c><v>1E-3</v></c>", "0.001");
    one("<c><v>1E+38</v></c>", "1e38");
    one("<c t=\"s\"><v>0</v></c><c t=\"s\"><v>1</v></c><c t=\"s\"><v>9</v></c>", "plain,rich text,#REF!");
    one("<c t=\"b\"><v>1</v></c><c t=\"b\"><v>0</v></c><c t=\"e\"><v>#DIV/0!</v></c>", "true,false,#DIV/0!");
    one(
        "<c t=\"str\"><f>A1&amp;\"x\"</f><v>a &amp; b_x000D_c</v></c><c><f>1+1</f><v>2</v></c><c><f>1+1</f></c>",
        "a & b c,2",
    );
    one("<c t=\"inlineStr\"><is><t>5 &lt; 6, \"so\"</t></is></c>", "\"5 < 6, \"\"so\"\"\"");
    one("<c t=\"inlineStr\"><is><t><![CDATA[a & b <c>]]></t></is></c>", "a & b <c>");
    one("<c t=\"d\"><v>2026-03-01T00:05:00</v></c>", "2026-03-01T00:05:00");
    // 2026-03-01 is day 46082: 25569 is 1970-01-01 (ECMA-376 part 1, 18.17.4.1), and 20513 days lie between.
    one("<c s=\"1\"><v>46082</v></c>", "2026-03-01T00:00:00");
    one("<c s=\"1\"><v>46082.003472222219</v></c>", "2026-03-01T00:05:00");
    one("<c s=\"2\"><v>46082</v></c><c s=\"4\"><v>46082.5</v></c>", "2026-03-01,2026-03-01T12:00:00");
    one("<c s=\"3\"><v>46082.5</v></c>", "46082.5"); // the d stands in quotes
    one("<c s=\"5\"><v>0.25</v></c><c s=\"6\"><v>1.5</v></c>", "06:00:00,36:00:00");
    // The 1900 system counts a 29 February that never was: day 59 is the 28th, 60 the 29th, 61 the 1st of March.
    one(
        "<c s=\"4\"><v>1</v></c><c s=\"4\"><v>59</v></c><c s=\"4\"><v>60</v></c><c s=\"4\"><v>61</v></c>",
        "1900-01-01,1900-02-28,1900-02-29,1900-03-01",
    );
    one(
        "<c s=\"4\"><v>-3</v></c><c s=\"4\"><v>0</v></c><c s=\"4\"><v>2958465</v></c><c s=\"4\"><v>2958466</v></c>",
        "-3,1900-01-00,9999-12-31,2958466",
    );
    // Lines are rows, and cells stand in their columns.
    check(
        "<row r=\"3\"><c r=\"C3\"><v>1</v></c><c r=\"E3\"><v>2</v></c><c r=\"F3\" s=\"1\"/></row><row r=\"5\"/><row r=\"6\"><c r=\"A6\"><v>3</v></c></row>",
        "\n\n,,1,,2\n\n\n3\n",
    );
    one("<x:c xmlns:x=\"y\" r='AA1'><x:v>7</x:v></x:c>", &format!("{}7", ",".repeat(26)));
}

#[test]
fn a_sheet_out_of_bounds_is_damaged() {
    for (cells, why) in [
        ("<row r=\"1\"><c r=\"XFE1\"><v>1</v></c></row>", "column 16385, where a sheet has 16384"),
        ("<row r=\"1048577\"><c><v>1</v></c></row>", "row 1048577, where a sheet has 1048576"),
        ("<row r=\"1\"><c><v>1</v>", "the sheet stops inside a cell"),
        (&format!("<row><c><v>{}</v></c></row>", "1".repeat(5 << 20)), "a tag or text is longer than 4194304 bytes"),
        (&"<a>".repeat(100), "its tags lie too deep"),
    ] {
        let said = said(&book(cells, &[]));
        assert!(said.contains(why) && said.starts_with("trends/f/S: the workbook is damaged"), "{said}");
    }
    // A single far cell is only blank lines.
    let far = text_of(&book("<row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row>", &[]));
    assert_eq!(far.len(), 1_048_575 + 16_383 + 2);
}

// ---- text ----

#[test]
fn encodings_and_line_ends() {
    let text = "Zeit;Rücklauf °C\n2026-03-01 00:00;12,5\n😀;1\n".repeat(3);
    let wide = |big: bool| -> Vec<u8> {
        text.encode_utf16().flat_map(|u| if big { u.to_be_bytes() } else { u.to_le_bytes() }).collect()
    };
    let with = |mark: &[u8], rest: Vec<u8>| [mark.to_vec(), rest].concat();
    for (bytes, encoding) in [
        (text.clone().into_bytes(), "UTF-8"),
        (with(b"\xEF\xBB\xBF", text.clone().into_bytes()), "UTF-8 with BOM"),
        (with(b"\xFF\xFE", wide(false)), "UTF-16LE"),
        (with(b"\xFE\xFF", wide(true)), "UTF-16BE"),
    ] {
        let seen = only(&bytes);
        assert_eq!((String::from_utf8_lossy(&seen.text).as_ref(), seen.encoding), (text.as_str(), encoding));
        assert_eq!(only(&gzipped(&bytes)).text, text.as_bytes());
    }
    let plain = plain();
    let unmarked: Vec<u8> = plain.iter().flat_map(|b| [*b, 0]).collect();
    assert_eq!((only(&unmarked).encoding, only(&unmarked).text == plain), ("UTF-16LE", true));
    let unmarked: Vec<u8> = plain.iter().flat_map(|b| [0, *b]).collect();
    assert_eq!((only(&unmarked).encoding, only(&unmarked).text == plain), ("UTF-16BE", true));
    assert_eq!(only(b"Zeit;R\xFCcklauf\n1;2\n").encoding, "8-bit text");
    assert_eq!(only(b"a,b\r1,2\r").text, b"a,b\n1,2\n");
    assert_eq!(only(b"a,b\r\n1,2\r\n").text, b"a,b\r\n1,2\r\n");
    // A half of a pair that stands alone, and a last byte alone.
    assert_eq!(text_of(b"\xFF\xFEa\0\x00\xD8b\0c"), "a\u{FFFD}b\u{FFFD}");
}

#[test]
fn a_character_across_the_head_does_not_change_the_encoding() {
    let mut bytes = vec![b'a'; (64 << 10) - 1];
    bytes.extend("é\n".repeat(10).as_bytes());
    assert_eq!(only(&bytes).encoding, "UTF-8");
}

#[test]
fn a_byte_of_value_0_is_told_with_its_line_after_all_that_stands_before() {
    let bytes = b"Time,a\n2026-03-01 00:00,1\n2026-03-01 00:05,\x002\n".to_vec();
    let (all, outcome) = seen(&bytes, "t/a.csv");
    assert_eq!(all[0].text, b"Time,a\n2026-03-01 00:00,1\n2026-03-01 00:05,");
    assert!(outcome.unwrap_err().to_string().starts_with("t/a.csv: line 3: a byte of value 0"));
}

#[test]
fn a_fingerprint_is_of_the_file_as_stored() {
    // printf 'a,b\n1,2\n' | sha256sum
    let known = "492d5ea496056f1a6a6592241032fab764c321596317930b4fa0e1e8bc3b7470";
    assert_eq!(seen(b"a,b\n1,2\n", "f").1.unwrap().sha256.as_deref(), Some(known));
    for bytes in
        [plain(), fixture("two-members.gz"), fixture("folders.zip"), fixture("zstd.parquet"), fixture("table.stream")]
    {
        let outcome = seen(&bytes, "f").1.unwrap();
        let expected: String = sha(&bytes);
        assert_eq!((outcome.sha256, outcome.bytes), (Some(expected), bytes.len() as u64));
    }
    // A caller that stops early still gets the whole file's.
    let outcome = each_text_of(&plain(), "f", Hashing::Here, &mut |_| Ok(())).unwrap();
    assert_eq!(outcome.sha256, Some(sha(&plain())));
    // Left to the caller only where the text is the file.
    let stored = |bytes: &[u8]| {
        let mut prefix = None;
        let outcome = each_text_of(bytes, "f", Hashing::Caller, &mut |o| {
            prefix = o.as_stored;
            Ok(())
        });
        (prefix, outcome.unwrap().sha256.is_none())
    };
    assert_eq!(stored(b"a,b\n1,2\n"), (Some([].as_slice()), true));
    assert_eq!(stored(b"\xEF\xBB\xBFa,b\n"), (Some([0xEF, 0xBB, 0xBF].as_slice()), true));
    assert_eq!(stored(b"a,b\r1,2\r"), (None, false));
    assert_eq!(stored(&gzipped(b"a,b\n")), (None, false));
}

fn sha(bytes: &[u8]) -> String {
    use sha2::Digest;
    sha2::Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

// ---- hostile and hopeless ----

#[test]
fn what_is_no_export_is_named() {
    let tar = [vec![b'a'; 257], b"ustar\x0000".to_vec(), vec![0; 300]].concat();
    for (bytes, what) in [
        (b"".as_slice(), "the file is empty"),
        (b"%PDF-1.7\n%\xE2\xE3", "a PDF document"),
        (b"\x89PNG\r\n\x1A\n", "a picture (PNG)"),
        (b"MZ\x90\0\x03\0", "a program"),
        (b"SQLite format 3\0\x10", "a database file (SQLite)"),
        (b"<html><table><tr><td>Time</td></tr></table></html>", "a web page (HTML), whatever its name says"),
        (b"\xEF\xBB\xBF\r\n <!DOCTYPE html><html>", "a web page"),
        (
            b"<?xml version=\"1.0\"?><Workbook xmlns=\"urn:schemas-microsoft-com:office:spreadsheet\">",
            "a workbook written as XML",
        ),
        (b"[\n {\"time\": 1}]", "a JSON document"),
        (b"BZh91AY&SY", "packed with bzip2"),
        (b"7z\xBC\xAF\x27\x1C\0", "a 7z archive"),
        (b"FEA1\0\0\0\0", "a Feather file of version 1"),
        (&tar, "a tar archive"),
        (&fixture("old.xls"), "an old binary workbook (.xls)"),
        (&fixture("open.ods"), "an OpenDocument file"),
        (&zipped(&[]), "an archive without a file in it"),
        (&zipped(&[("[Content_Types].xml", b"<Types/>"), ("word/document.xml", b"<w/>")]), "a text document or slides"),
    ] {
        let said = said(bytes);
        assert!(said.contains(what) && said.starts_with("trends/f: ") && said.contains("\nhint: "), "{what}: {said}");
        if !bytes.is_empty() {
            let inside = seen(&gzipped(bytes), "f").1.unwrap_err().to_string();
            assert!(inside.contains(what), "in a gzip: {inside}");
        }
    }
}

#[test]
fn what_is_cut_off_is_read_as_far_as_it_goes() {
    let text = plain();
    let zst = fixture("two-frames.zst");
    for (packed, what) in [(gzipped(&text), "gzip stream"), (zst, "Zstandard stream")] {
        let cut = packed.len() - 40;
        let (all, outcome) = seen(&packed[..cut], "f");
        assert!(all[0].text.len() > text.len() / 3 && text.starts_with(&all[0].text), "{what}: {}", all[0].text.len());
        let said = outcome.unwrap_err().to_string();
        assert!(said.contains(&format!("the {what} is cut off: it stops at byte {cut}, before its end")), "{said}");
    }
    let zip = zipped(&[("a.csv", &text), ("b.csv", &text)]);
    let cut = zip.len() * 2 / 3;
    let (all, outcome) = seen(&zip[..cut], "f.zip");
    assert_eq!((all.len(), all[0].text == text, text.starts_with(&all[1].text)), (2, true, true));
    let lost = outcome.unwrap().lost;
    assert!(
        lost.len() == 1 && lost[0].shown == "f.zip/b.csv" && lost[0].why.to_string().contains("cut off"),
        "{lost:?}"
    );
    for name in ["snappy.parquet", "lz4.feather", "table.stream", "book.xlsx"] {
        let bytes = fixture(name);
        let said = said(&bytes[..bytes.len() * 2 / 3]);
        assert!(said.contains("is cut off") || said.contains("is damaged"), "{name}: {said}");
    }
}

#[test]
fn a_wrong_checksum_is_told() {
    let text = plain();
    let mut zip = zipped(&[("a.csv", &text)]);
    let at = zip.len() - 22 - 46 - 5 + 16;
    zip[at] ^= 1;
    assert!(said(&zip).contains("the content of a file in it was changed or cut"), "{}", said(&zip));
    let mut gz = gzipped(&text);
    let at = gz.len() - 8;
    gz[at] ^= 1;
    assert!(said(&gz).contains("the gzip stream is damaged"), "{}", said(&gz));
}

#[test]
fn what_is_locked_is_named_and_the_rest_read() {
    let mut zip = zipped(&[("a.csv", &plain()), ("b.csv", &plain())]);
    let at = zip.windows(4).position(|w| w == b"PK\x01\x02").unwrap();
    zip[at + 8] |= 1;
    let (all, outcome) = seen(&zip, "f.zip");
    assert_eq!(all.len(), 1);
    assert_eq!(
        outcome.unwrap().lost[0].why.to_string(),
        "f.zip/a.csv: it is locked with a password\nhint: save or pack it without a password"
    );
}

#[test]
fn one_lost_member_does_not_lose_the_others() {
    let zip =
        zipped(&[("a.csv", &plain()), ("b.csv", b"x\n\0"), ("c.csv.gz", b"\x1F\x8B\x08rubbish"), ("d.csv", &plain())]);
    let (all, outcome) = seen(&zip, "f.zip");
    assert_eq!(all.iter().filter(|s| s.text == plain()).count(), 2);
    let names: Vec<String> = outcome.unwrap().lost.into_iter().map(|l| l.shown).collect();
    assert_eq!(names, ["f.zip/b.csv", "f.zip/c.csv.gz"]);
}

#[test]
fn bombs_are_stopped() {
    // Zeros a thousand to one, packed once more: a million to one.
    let line = [b'0'; 1 << 16];
    let mut once = GzEncoder::new(Vec::new(), Compression::best());
    for _ in 0..4096 {
        once.write_all(&line).unwrap();
    }
    let twice = gzipped(&once.finish().unwrap());
    assert!(twice.len() < 4096, "{}", twice.len());
    let mut total = 0_u64;
    let outcome = each_text_of(&twice, "bomb.gz", Hashing::Here, &mut |mut o| {
        let mut block = vec![0; 1 << 20];
        loop {
            match o.text.read(&mut block) {
                Ok(0) => return Ok(()),
                Ok(n) => total += n as u64,
                Err(e) => return Err(told(&e, &o.shown, 1)),
            }
        }
    });
    assert!(total <= 66 << 20, "{total}");
    let stopped = outcome.unwrap_err().to_string();
    assert!(
        stopped.starts_with("bomb.gz: it unpacks to more than ") && stopped.contains("which no export does"),
        "{stopped}"
    );
    // Archives within archives.
    let mut zip = zipped(&[("a.csv", b"a\n")]);
    for _ in 0..3 {
        zip = zipped(&[("in.zip", &zip)]);
    }
    assert!(said(&zip).contains("it lies too deep"));
    // A million rows that each reach to the last column.
    let rows: String = (1..=4096).map(|r| format!("<row r=\"{r}\"><c r=\"XFD{r}\"><v>1</v></c></row>")).collect();
    assert!(said(&book(&rows.repeat(2), &[])).contains("unpacks to more than"));
}

#[test]
fn nothing_panics_on_bytes_that_were_changed() {
    let originals: Vec<(&str, Vec<u8>)> = [
        "two-members.gz",
        "two-frames.zst",
        "folders.zip",
        "streamed.zip",
        "book.xlsx",
        "snappy.parquet",
        "zstd.parquet",
        "lz4.feather",
        "zstd.feather",
        "uncompressed.feather",
        "table.stream",
    ]
    .into_iter()
    .map(|n| (n, fixture(n)))
    .collect();
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut draw = |below: usize| {
        // Marsaglia, "Xorshift RNGs", 2003.
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state % below as u64) as usize
    };
    let mut read = 0;
    for (name, original) in &originals {
        for _ in 0..2000 {
            let mut bytes = original.clone();
            for _ in 0..=draw(4) {
                let at = draw(bytes.len());
                match draw(5) {
                    0 => bytes.truncate(at.max(16)),
                    1 => bytes[at] = [0, 1, 0x7F, 0x80, 0xFF][draw(5)],
                    2 => bytes[at..].iter_mut().take(8).for_each(|b| *b = 0xFF),
                    3 => drop(bytes.splice(at..at, [draw(256) as u8; 3])),
                    _ => bytes[at] ^= 1 << draw(8),
                }
            }
            let mut budget = 64_u64 << 20;
            let _ = each_text_of(&bytes, name, Hashing::Caller, &mut |o| {
                let n = std::io::copy(&mut o.text.take(budget), &mut std::io::sink()).unwrap_or(0);
                budget -= n;
                read += n;
                Ok(())
            });
        }
        // Nothing but the first bytes, then noise.
        for _ in 0..500 {
            let mut bytes = original[..16].to_vec();
            bytes.extend((0..draw(300)).map(|_| draw(256) as u8));
            let _ = each_text_of(&bytes, name, Hashing::Here, &mut |o| {
                let _ = std::io::copy(&mut o.text.take(1 << 20), &mut std::io::sink());
                Ok(())
            });
        }
    }
    assert!(read > 1 << 20, "most files still give something: {read}");
}

// ---- from the disk ----

#[test]
fn files_and_folders() {
    let scratch = crate::scratch::folder();
    let dir = scratch.path();
    for name in ["b/c.csv", "a.csv", ".hidden.csv", "1/2/3/4/deep.csv", "1/2/3/4/5/deeper.csv"] {
        let path = dir.join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, plain()).unwrap();
    }
    #[cfg(unix)]
    std::os::unix::fs::symlink(dir, dir.join("b/loop")).unwrap();
    let names: Vec<String> = files_below(dir, "t/").into_iter().map(|f| f.1).collect();
    assert_eq!(names, ["t/1/2/3/4/deep.csv", "t/a.csv", "t/b/c.csv"]);
    let mut text = Vec::new();
    let outcome = each_text(&dir.join("a.csv"), "t/a.csv", Hashing::Here, &mut |mut o| {
        o.text.read_to_end(&mut text).map(drop).map_err(|e| told(&e, &o.shown, 1))
    });
    assert_eq!((text == plain(), outcome.unwrap().sha256), (true, Some(sha(&plain()))));
    for name in ["folders.zip", "book.xlsx", "gzip.parquet", "lz4.feather"] {
        let path = dir.join(name);
        std::fs::write(&path, fixture(name)).unwrap();
        let mut from_disk = Vec::new();
        each_text(&path, name, Hashing::Caller, &mut |o| {
            from_disk.push(take(o).text);
            Ok(())
        })
        .unwrap();
        let from_memory: Vec<Vec<u8>> = seen(&fixture(name), name).0.into_iter().map(|s| s.text).collect();
        assert!(from_disk == from_memory && !from_disk.is_empty(), "{name}");
    }
    let missing = each_text(&dir.join("none.csv"), "t/none.csv", Hashing::Here, &mut |_| Ok(())).unwrap_err();
    assert!(missing.to_string().starts_with("t/none.csv: could not be read: "));
    let is_folder = each_text(dir, "t", Hashing::Here, &mut |_| Ok(())).unwrap_err();
    assert!(is_folder.to_string().contains("this is a folder"));
}

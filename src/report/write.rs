//! Puts a finished result in its place, whole or not at all.
//!
//! Comes in: a review and the folder to write below. Goes out: the result's folder. Everything is written into a hidden
//! sibling first and synced; then the two names are exchanged in one step (Linux, macOS). Elsewhere, and on file systems
//! that cannot exchange, the old result is moved aside and the new one moved in; a crash between the two is mended by the
//! next run. One run at a time works on a plant: the others wait at a lock that the system drops when a process dies.

use super::{
    document::Document,
    error::ReportError,
    figures::{self, Figure},
    fleet,
    history::{self, History},
    html::{self, Pages},
    json, markdown, months, notebook, parquet,
    show::Show,
    summary::Summary,
    verified,
};
use crate::{
    fleet::{Extract, Fleet},
    pipeline::Review,
    plant::{Plant, UnitSystem},
    verification::Verification,
};
use rayon::prelude::*;
use sha2::{Digest, Sha256};
use std::{
    ffi::OsStr,
    fs::{self, File},
    io::{self, Write},
    path::{Path, PathBuf},
};

/// What a result's folder holds; anything else in it belongs to a person and is kept.
const OURS: [&str; 14] = [
    "report.html",
    "report.md",
    "findings.json",
    "operating-points.parquet",
    "review.ipynb",
    "review.new.ipynb",
    "verification.json",
    "daily.parquet",
    "verify.ipynb",
    "verify.new.ipynb",
    "figures",
    "fleet.html",
    "fleet.json",
    "fleet.parquet",
];

/// A written result.
#[derive(Debug)]
pub struct Written {
    /// The result's folder.
    pub folder: PathBuf,
    /// `findings.json` or `verification.json`, as written.
    pub json: String,
    /// The words of the first screen.
    pub document: Document,
    /// A notebook that a person has edited was kept.
    pub notebook_kept: bool,
}

/// A written result of one plant of a fleet: what its page says of it, and its folder.
#[derive(Debug)]
pub struct WrittenLine {
    pub folder: PathBuf,
    pub extract: Extract,
    pub notebook_kept: bool,
}

/// Writes `out/<plant>/<from>_<to>/` with the report in every form.
pub fn write(review: &Review, out: &Path, units: UnitSystem) -> Result<Written, ReportError> {
    write_into(review, &out.join(&review.plant.name), units).map(|(written, _)| written)
}

/// The same into a plant's folder of another name, as `fleet` keeps relative paths.
pub fn write_line(review: &Review, plant_folder: &Path, units: UnitSystem) -> Result<WrittenLine, ReportError> {
    let (Written { folder, notebook_kept, .. }, extract) = write_into(review, plant_folder, units)?;
    Ok(WrittenLine { folder, extract, notebook_kept })
}

fn write_into(review: &Review, folder: &Path, units: UnitSystem) -> Result<(Written, Extract), ReportError> {
    let show = Show::new(&review.plant, units);
    let name = format!("{}_{}", show.folder_date(review.from_ms), show.folder_date(review.to_ms - 1));
    let (plant_folder, _lock) = enter(folder, &review.plant)?;

    let staged = staged(&plant_folder, &name)?;
    // The table is most of the bytes: it is written while the words and figures are made.
    let (table, made) = rayon::join(
        || table(review, &staged.join(parquet::NAME)),
        || {
            let seen = figures::Seen::of(review);
            let shows = both(&show);
            let draw = || figures::all(review, &seen, [&shows[0], &shows[1]]);
            let link = || figures::links(review, &seen, &show);
            let sum_up = || {
                let texts = earlier_results(&plant_folder, &name);
                let timezone = review.plant.site.timezone;
                let history = History::new(&texts, &review.plant.name, review.from_ms, review.to_ms, timezone);
                Summary::new(review, history)
            };
            let (figures, (links, summary)) = rayon::join(draw, || rayon::join(link, sum_up));
            let periods = months::periods(&summary, review.from_ms, review.to_ms);
            let document = |show: &Show, mut figures: Vec<Figure>| {
                figures.extend(figures::of_months(&periods, show));
                Document::new(review, &summary, show, figures)
            };
            let [shown, other] = figures;
            let documents = rayon::join(|| document(&shows[0], shown), || document(&shows[1], other)).into();
            let plant_file = plant_file(&review.plant);
            Made {
                links,
                json: json::write(review, &summary, plant_file.as_ref().map(|(p, s)| (p.as_str(), s.as_str()))),
                extract: fleet::extract(review, &summary, &show),
                notebook: notebook::write(review, &summary),
                documents,
            }
        },
    );
    table?;
    let Made { documents: [document, other], links, json, extract, notebook } = made;
    let mut files = vec![("findings.json".to_owned(), json.clone().into_bytes())];
    files.extend(learned_curves(review).into_iter().map(|(name, toml)| (name, toml.as_bytes().to_vec())));
    let pages = Pages { shown: &document, other: &other, units, links: links.as_deref() };
    let contents = Contents { pages, files, notebook: ("review", notebook) };
    let (folder, notebook_kept) = place(&plant_folder, &name, &contents)?;
    Ok((Written { folder, json, document, notebook_kept }, extract))
}

/// Writes `out/<plant>/verify-<local date and time of the change>/` with the memo in every form.
pub fn write_verification(v: &Verification, out: &Path, units: UnitSystem) -> Result<Written, ReportError> {
    let show = Show::new(&v.plant, units);
    let time = show.local(v.changed.at_ms).map_or_else(String::new, |t| t.format("%Y-%m-%d-%H%M").to_string());
    let (plant_folder, _lock) = enter(&out.join(&v.plant.name), &v.plant)?;
    let [document, other] = in_both(&show, |show| verified::document(v, show));
    let plant_file = plant_file(&v.plant);
    let json = verified::json::write(v, plant_file.as_ref().map(|(p, s)| (p.as_str(), s.as_str())));
    let files = vec![
        ("verification.json".to_owned(), json.clone().into_bytes()),
        ("daily.parquet".to_owned(), verified::table::write(v)?),
    ];
    let pages = Pages { shown: &document, other: &other, units, links: None };
    let contents = Contents { pages, files, notebook: ("verify", verified::notebook::write(v)) };
    let (folder, notebook_kept) = place(&plant_folder, &format!("verify-{time}"), &contents)?;
    Ok(Written { folder, json, document, notebook_kept })
}

/// Makes the plant's folder, and keeps other runs out of it until the lock is dropped.
fn enter(folder: &Path, plant: &Plant) -> Result<(PathBuf, File), ReportError> {
    fs::create_dir_all(folder).map_err(|e| ReportError::file(folder, "make the folder", &e))?;
    let lock = lock(folder)?;
    claim(folder, &plant.path)?;
    mend(folder)?;
    Ok((folder.to_owned(), lock))
}

/// Writes `out/fleet/` with a fleet's page, JSON and table. Plants whose own results lie below that folder keep them.
pub fn write_fleet(all: &Fleet, out: &Path) -> Result<(PathBuf, String), ReportError> {
    fs::create_dir_all(out).map_err(|e| ReportError::file(out, "make the folder", &e))?;
    let _lock = lock(out)?;
    mend(out)?;
    let (place, staged) = (out.join("fleet"), out.join(".fleet.partial"));
    fs::create_dir_all(&staged).map_err(|e| ReportError::file(&staged, "make the folder", &e))?;
    let json = fleet::json(all);
    put(&staged.join("fleet.html"), fleet::page(all).as_bytes())?;
    put(&staged.join("fleet.json"), json.as_bytes())?;
    put(&staged.join("fleet.parquet"), &fleet::table(all)?)?;
    sync_folder(&staged)?;
    swap_in(&staged, &place)?;
    mend(out)?;
    Ok((place, json))
}

/// What is made of a review while its table is written.
struct Made {
    documents: [Document; 2],
    links: Option<String>,
    json: String,
    extract: Extract,
    notebook: String,
}

/// The reader's units, and the other ones for the page to switch to.
fn both(show: &Show) -> [Show; 2] {
    let other = match show.units {
        UnitSystem::Si => UnitSystem::Ip,
        UnitSystem::Ip => UnitSystem::Si,
    };
    [show.clone(), show.within(other)]
}

/// A document in both.
fn in_both(show: &Show, document: impl Fn(&Show) -> Document + Sync) -> [Document; 2] {
    let [shown, other] = both(show);
    rayon::join(|| document(&shown), || document(&other)).into()
}

/// What goes into a result's folder.
struct Contents<'c> {
    pages: Pages<'c>,
    /// Name and bytes of each file beside page, Markdown and figures.
    files: Vec<(String, Vec<u8>)>,
    /// Name without its ending, and text.
    notebook: (&'static str, String),
}

/// The hidden folder in which a result is put together, made where it is missing.
fn staged(plant_folder: &Path, name: &str) -> Result<PathBuf, ReportError> {
    let staged = plant_folder.join(format!(".{name}.partial"));
    fs::create_dir_all(&staged).map_err(|e| ReportError::file(&staged, "make the folder", &e))?;
    Ok(staged)
}

/// Writes the operating points, and waits until the disk has them.
fn table(review: &Review, path: &Path) -> Result<(), ReportError> {
    let refused = |e: io::Error| ReportError::file(path, "write", &e);
    let file = parquet::write(review, File::create(path).map_err(refused)?)?;
    file.sync_all().map_err(refused)
}

/// Writes a result and puts it in its place. True where an edited notebook was found there and taken over.
fn place(plant_folder: &Path, name: &str, contents: &Contents) -> Result<(PathBuf, bool), ReportError> {
    let place = plant_folder.join(name);
    let staged = staged(plant_folder, name)?;
    let notebook_kept = fill(&staged, &place, contents)?;
    swap_in(&staged, &place)?;
    mend(plant_folder)?;
    Ok((place, notebook_kept))
}

/// Writes every file of the result into `staged`. True where an edited notebook was found at `place` and taken over.
fn fill(staged: &Path, place: &Path, contents: &Contents) -> Result<bool, ReportError> {
    let figures = staged.join("figures");
    fs::create_dir_all(&figures).map_err(|e| ReportError::file(&figures, "make the folder", &e))?;
    // Every file waits for the disk: together they wait once.
    let drawn = contents.pages.shown.figures.par_iter();
    drawn.try_for_each(|f| put(&figures.join(format!("{}.svg", f.id)), f.standalone().as_bytes()))?;
    let page = || put(&staged.join("report.html"), html::write(&contents.pages).as_bytes());
    let text = || put(&staged.join("report.md"), markdown::write(contents.pages.shown).as_bytes());
    let others = || contents.files.par_iter().try_for_each(|(name, bytes)| put(&staged.join(name), bytes));
    let (page, (text, others)) = rayon::join(page, || rayon::join(text, others));
    page.and(text).and(others)?;
    let (name, ours) = &contents.notebook;
    let theirs = fs::read(place.join(format!("{name}.ipynb")))
        .ok()
        .filter(|bytes| std::str::from_utf8(bytes).is_ok_and(notebook::edited) || std::str::from_utf8(bytes).is_err());
    match &theirs {
        Some(edited) => {
            put(&staged.join(format!("{name}.ipynb")), edited)?;
            put(&staged.join(format!("{name}.new.ipynb")), ours.as_bytes())?;
        }
        None => put(&staged.join(format!("{name}.ipynb")), ours.as_bytes())?,
    }
    sync_folder(&figures)?;
    sync_folder(staged)?;
    Ok(theirs.is_some())
}

/// How the name of a learned curve's file starts.
const LEARNED_CURVE: &str = "learned-curve-";

/// Name and text of a file for each table learned from a meter. Two pumps whose names differ only in what no file name holds get a number.
fn learned_curves(review: &Review) -> Vec<(String, &str)> {
    let mut out: Vec<(String, &str)> = Vec::new();
    for table in &review.learned_tables {
        let plain: String = table.pump.chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { '-' }).collect();
        let number = |k: usize| if k == 0 { String::new() } else { format!("-{}", k + 1) };
        let names = (0..).map(|k| format!("{LEARNED_CURVE}{plain}{}.toml", number(k)));
        let taken = |name: &String| out.iter().any(|o| o.0.to_lowercase() == name.to_lowercase());
        if let Some(name) = names.into_iter().find(|n| !taken(n)) {
            out.push((name, &table.toml));
        }
    }
    out
}

/// Writes one file and waits until the disk has it.
fn put(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    let write = || -> io::Result<()> {
        let mut file = File::create(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    };
    write().map_err(|e| ReportError::file(path, "write", &e))
}

/// Gives the finished sibling the result's name.
fn swap_in(staged: &Path, place: &Path) -> Result<(), ReportError> {
    let moved = |e: io::Error| ReportError::file(place, "move the finished report into place", &e);
    if !place.exists() {
        fs::rename(staged, place).map_err(moved)?;
    } else if !exchange(staged, place) {
        let aside = aside(place);
        fs::rename(place, &aside).map_err(moved)?;
        fs::rename(staged, place).map_err(moved)?;
    }
    place.parent().map_or(Ok(()), sync_folder)
}

/// Exchanges two folders' names in one step; false where the system cannot.
#[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
fn exchange(a: &Path, b: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE).is_ok()
}
#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
fn exchange(_: &Path, _: &Path) -> bool {
    false
}

/// The name an old result has while a new one is moved in: `.<name>.aside`.
fn aside(place: &Path) -> PathBuf {
    let name = place.file_name().unwrap_or_default().to_string_lossy();
    place.with_file_name(format!(".{name}.aside"))
}

/// Mends what an interrupted run left: an old result that was moved aside and has no successor goes back to its place;
/// all other leftovers are removed, once what a person had put among them is back in the result.
fn mend(plant_folder: &Path) -> Result<(), ReportError> {
    for path in entries(plant_folder) {
        let Some(name) = path.file_name().and_then(|n| n.to_str()) else { continue };
        let Some(hidden) = name.strip_prefix('.') else { continue };
        let Some((result, kind)) = hidden.rsplit_once('.') else { continue };
        let place = plant_folder.join(result);
        match kind {
            "aside" if !place.exists() => {
                fs::rename(&path, &place).map_err(|e| ReportError::file(&path, "move back", &e))?;
            }
            "aside" | "partial" => {
                keep_foreign(&path, &place)?;
                fs::remove_dir_all(&path).map_err(|e| ReportError::file(&path, "remove", &e))?;
            }
            _ => {}
        }
    }
    Ok(())
}

/// Moves what is not ours from a folder that is about to go into the result's folder.
fn keep_foreign(from: &Path, place: &Path) -> Result<(), ReportError> {
    for path in entries(from) {
        let Some(name) = path.file_name() else { continue };
        let to = place.join(name);
        if place.exists() && !is_ours(name) && !to.exists() {
            fs::rename(&path, &to).map_err(|e| ReportError::file(&to, "keep", &e))?;
        }
    }
    Ok(())
}

/// Whether a result holds a file of this name by our own hand; a learned curve of an earlier run is not carried along.
fn is_ours(name: &OsStr) -> bool {
    let curve = |n: &str| n.starts_with(LEARNED_CURVE) && n.ends_with(".toml");
    OURS.iter().any(|ours| name == *ours) || name.to_str().is_some_and(curve)
}

/// Waits until no other run works on this plant.
fn lock(plant_folder: &Path) -> Result<File, ReportError> {
    let path = plant_folder.join(".lock");
    let file = File::create(&path).map_err(|e| ReportError::file(&path, "write", &e))?;
    // File systems without locks let runs of one plant meet; a result is whole even so.
    let _ = file.lock();
    Ok(file)
}

/// Refuses a folder that holds another plant's results. Whose they are stands in a hidden file beside them, as a path with
/// no links and no dots in it; outside the results, which are to be the same bytes wherever the plant lies. Where that
/// plant file is gone it was moved, or the results were: then they go on. A plant that is built in claims nothing.
fn claim(plant_folder: &Path, plant_file: &Path) -> Result<(), ReportError> {
    let Ok(ours) = plant_file.canonicalize() else { return Ok(()) };
    let marker = plant_folder.join(".plant-file");
    let theirs = fs::read_to_string(&marker).ok().map(PathBuf::from);
    match theirs {
        Some(theirs) if theirs == ours => Ok(()),
        Some(theirs) if theirs.is_file() => Err(ReportError::Shared { folder: plant_folder.into(), theirs }),
        _ => put(&marker, ours.to_string_lossy().as_bytes()),
    }
}

/// A folder's entries, sorted; none where it cannot be listed.
fn entries(folder: &Path) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> =
        fs::read_dir(folder).map(|dir| dir.filter_map(Result::ok).map(|e| e.path()).collect()).unwrap_or_default();
    all.sort();
    all
}

/// Earlier results read, besides those that start in the same month a year ago: three years of months.
const MOST_EARLIER: usize = 36;

/// The texts of the plant's results that are there already, as far as a review in the folder `name` can want them. Folders
/// are named by first and last day, so that later ones need not be opened.
fn earlier_results(plant_folder: &Path, name: &str) -> Vec<history::Text> {
    let mut names: Vec<String> = entries(plant_folder)
        .iter()
        .filter_map(|p| p.file_name().and_then(|n| n.to_str()))
        .filter(|n| n.split_once('_').is_some_and(|(from, to)| from.len() == to.len() && *n < name))
        .map(str::to_owned)
        .collect();
    // In the order in which they ended, which is the order of dates.
    names.sort_by_key(|n| n.split_once('_').map(|(from, to)| (to.to_owned(), from.to_owned())));
    let year_ago = year_before(name);
    let newest = names.len().saturating_sub(MOST_EARLIER);
    let wanted = |(k, n): (usize, String)| (k >= newest || n.starts_with(&year_ago)).then_some(n);
    let read = |n: String| {
        let text = fs::read_to_string(plant_folder.join(&n).join("findings.json"));
        match text {
            Err(e) if e.kind() == io::ErrorKind::NotFound => None,
            text => Some((n, text.map_err(|_| "it cannot be read".to_owned()))),
        }
    };
    names.into_iter().enumerate().filter_map(wanted).filter_map(read).collect()
}

/// "2025-03" of "2026-03-01_2026-03-31".
fn year_before(name: &str) -> String {
    let year = name.get(..4).and_then(|y| y.parse::<i32>().ok());
    year.zip(name.get(4..7)).map_or_else(|| "none".to_owned(), |(y, month)| format!("{:04}{month}", y - 1))
}

/// The plant file's name and fingerprint; `None` where it is built in or gone.
fn plant_file(plant: &Plant) -> Option<(String, String)> {
    let bytes = fs::read(&plant.path).ok()?;
    let name = plant.path.file_name()?.to_string_lossy().into_owned();
    Some((name, Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect()))
}

/// Makes a folder's names last through a power cut. Windows has no such call, and needs none.
#[cfg(unix)]
fn sync_folder(folder: &Path) -> Result<(), ReportError> {
    File::open(folder).and_then(|f| f.sync_all()).map_err(|e| ReportError::file(folder, "sync", &e))
}
#[cfg(not(unix))]
fn sync_folder(_: &Path) -> Result<(), ReportError> {
    Ok(())
}

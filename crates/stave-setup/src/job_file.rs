//! Reading `job.toml`.

use std::collections::HashSet;

use stave_wall::LayKind;

use crate::blank::unique_name;
use crate::bounds::Bounds;
use crate::job::{JobFile, OperationRule, Pick, PieceRule};
use crate::job_option::{COORDINATE, JobTable, read_settings};
use crate::machine_file::speed_and_power;
use crate::reader::read_file;
use crate::section::{Entry, Section};
use crate::shading::{GRADING_KEYS, SHADING_KEYS, read_shading};
use crate::spacing::line_spacing;
use crate::{Colour, Faults, Given, Scan, SettingsFile, Work};

/// How far out of focus an operation may be asked to burn, mm.
pub(crate) const DEFOCUS: Bounds = Bounds::closed(-100.0, 100.0);
/// Over how much of the wall a seam may fade, mm.
pub(crate) const FADE: Bounds = Bounds::closed(0.0, 100.0);

/// Reads a job file, in which everything is optional. `file` is what messages call it.
///
/// # Units
/// Lengths in the text are in its `units`, here in mm; angles there in degrees, here in radians.
///
/// # Errors
/// All faults of the file at once, each with its place. What can only be judged with blank and
/// machine at hand is told by [`Setup::new`](crate::Setup::new).
///
/// # Examples
/// ```
/// let faults = stave_setup::read_job("lay = \"true-with\"\ntlit = 3", "job.toml").unwrap_err();
/// assert_eq!(faults.as_slice().len(), 2);
/// assert_eq!(faults.as_slice()[1].message, "`tlit` is not a known key; did you mean `tilt`?");
/// ```
pub fn read_job(text: &str, file: &str) -> Result<JobFile, Faults> {
    let mut says_units = false;
    let (mut job, warnings, values) = read_file(text, file, SettingsFile::Job, |section| {
        says_units = section.has("units");
        Some(job(section))
    })?;
    job.warnings = warnings;
    let bare = !says_units && values.have_lengths(SettingsFile::Job);
    job.in_inches = values.are_inches;
    job.bare_lengths_of = bare.then(|| file.to_owned());
    Ok(job)
}

fn job(section: &mut Section<'_, '_, '_>) -> JobFile {
    let mut job = JobFile {
        blank: section.name("blank"),
        machine: section.name("machine"),
        input: section.name("input"),
        ..JobFile::default()
    };
    read_settings(section, JobTable::Top, &mut job);
    let contact_given = section.has("contact_at");
    section.table("place", |place| {
        read_settings(place, JobTable::Place, &mut job);
        if let Some(contact_at) = place.length("contact_at", COORDINATE) {
            if contact_given && let Some(entry) = place.entry("contact_at") {
                let message = "`contact_at` is given twice, here and above the sections";
                place.reader.fault(&entry.span(), message.to_owned());
            }
            job.contact_at_mm = Some(contact_at);
        }
        Some(())
    });
    section.table("zero", |zero| {
        read_settings(zero, JobTable::Zero, &mut job);
        Some(())
    });
    if let Some(entry) = section.entry("allow") {
        let entries = section.list_in(&entry).unwrap_or_else(|| vec![entry]);
        let mut codes = HashSet::new();
        let codes = entries.iter().filter_map(|entry| free_id(section, entry, &mut codes));
        job.allow = codes.collect();
    }
    if let Some(entry) = section.entry("fonts") {
        let entries = section.list_in(&entry).unwrap_or_else(|| vec![entry]);
        job.fonts = entries.iter().filter_map(|entry| section.name_in(entry)).collect();
    }
    let mut ids = HashSet::new();
    job.pieces = section.tables("piece", |piece| read_piece(piece, &mut ids));
    let mut names = HashSet::new();
    job.operations = section.tables("operation", |operation| read_operation(operation, &mut names));
    job
}

fn read_piece(piece: &mut Section<'_, '_, '_>, taken: &mut HashSet<String>) -> Option<PieceRule> {
    let lay = piece.word::<LayKind>("lay").map(|lay| lay.value);
    let anchor = piece.anchor("anchor").map(|anchor| anchor.value);
    let Some(entry) = piece.entry("id") else {
        piece.missing("`id`");
        return None;
    };
    // One id may stand without brackets.
    let entries = piece.list_in(&entry).unwrap_or_else(|| vec![entry]);
    if entries.is_empty() {
        piece.must_be(&entry, "a list of at least one element id");
    }
    let ids: Vec<Given<String>> =
        entries.iter().filter_map(|entry| free_id(piece, entry, taken)).collect();
    (!ids.is_empty()).then_some(PieceRule { ids, lay, anchor })
}

/// An element's id, which no other piece may hold too.
fn free_id(
    piece: &mut Section<'_, '_, '_>,
    entry: &Entry<'_>,
    taken: &mut HashSet<String>,
) -> Option<Given<String>> {
    let id = piece.name_in(entry)?;
    if !taken.insert(id.value.clone()) {
        piece.must_be(entry, "in one piece only");
        return None;
    }
    Some(id)
}

fn read_operation(
    operation: &mut Section<'_, '_, '_>,
    names: &mut HashSet<String>,
) -> Option<OperationRule> {
    let name = unique_name(operation, names);
    let work = operation.word::<Work>("work");
    let work = operation.required("work", work).map(|work| work.value);
    let pick = match work {
        Some(Work::Picture) if !operation.has("pick") => {
            let _ = operation.entry("pick");
            Some(Given { value: Pick::Input, from: None })
        }
        _ => read_pick(operation),
    };
    let coating = operation.name("coating");
    let (speed, power) = speed_and_power(operation);
    let scans = matches!(work, Some(Work::Area | Work::Picture));
    // What a coating leaves out shows where the files meet.
    let coated = operation.has("coating");
    let spacing = line_spacing(operation, scans && !coated);
    let shading = read_shading(operation, power);
    let scan = operation.word("scan").map_or(Scan::Along, |scan| scan.value);
    let cross = operation.boolean("cross").is_some_and(|cross| cross.value);
    let one_way = operation.boolean("one_way").is_some_and(|one_way| one_way.value);
    let fade = operation.length("fade", FADE).map_or(0.0, |fade| fade.value);
    let defocus = operation.length("defocus", DEFOCUS).map_or(0.0, |defocus| defocus.value);
    if let Some((work_word, keys)) = without_effect(work) {
        for key in keys {
            if let Some(entry) = operation.entry(key) {
                let message = format!("`{key}` has no effect where `work` is \"{work_word}\"");
                operation.reader.warn(&entry.span(), message);
            }
        }
    }
    let passes = operation.whole("passes", 1, 1000).map_or(1, |passes| passes.value);
    let air = operation.word("air");
    let lay = operation.word("lay").map(|lay| lay.value);
    let anchor = operation.anchor("anchor").map(|anchor| anchor.value);
    let dose = operation.word("dose").map(|dose| dose.value);
    let optional = operation.boolean("optional").is_some_and(|optional| optional.value);
    if !coated && (speed.is_none() || power.is_none() || (scans && spacing.is_none())) {
        return None;
    }
    Some(OperationRule {
        name: name?,
        pick: pick?,
        work: work?,
        coating,
        speed_mm_per_s: speed,
        power_percent: power,
        line_spacing_mm: spacing,
        passes,
        air,
        lay,
        anchor,
        dose,
        optional,
        shading,
        scan,
        cross,
        one_way,
        fade_mm: fade,
        defocus_mm: defocus,
    })
}

/// The keys that mean nothing to some work.
fn without_effect(work: Option<Work>) -> Option<(&'static str, Vec<&'static str>)> {
    match work? {
        Work::Line => {
            let scanning = ["lines_per_inch", "line_spacing", "scan", "cross", "one_way", "fade"];
            Some(("line", scanning.into_iter().chain(SHADING_KEYS).collect()))
        }
        Work::Area => Some(("area", GRADING_KEYS.to_vec())),
        Work::Picture => None,
    }
}

fn read_pick(operation: &mut Section<'_, '_, '_>) -> Option<Given<Pick>> {
    const ONE: &str = "pick takes one of `fill`, `stroke` and `id`";
    if !operation.has("pick") {
        operation.missing("`pick`");
    }
    operation.table("pick", |pick| {
        let fill = colour(pick, "fill").map(|fill| fill.map(Pick::Fill));
        let stroke = colour(pick, "stroke").map(|stroke| stroke.map(Pick::Stroke));
        let id = pick.name("id").map(|id| id.map(Pick::Id));
        let count = ["fill", "stroke", "id"].iter().filter(|key| pick.has(key)).count();
        if count != 1 {
            let span = pick.span();
            pick.reader.fault(&span, format!("{ONE}, found {count}"));
            return None;
        }
        fill.or(stroke).or(id)
    })
}

/// A colour as CSS writes it.
pub(crate) fn colour(pick: &mut Section<'_, '_, '_>, key: &'static str) -> Option<Given<Colour>> {
    let entry = pick.entry(key)?;
    if let Some(colour) = pick.text_in(&entry).and_then(Colour::from_css) {
        return Some(Given { value: colour, from: Some(pick.source(&entry.span())) });
    }
    pick.must_be(
        &entry,
        "a CSS colour such as \"#1f3a5f\", \"#f00\", \"navy\" or \"rgb(31, 58, 95)\"",
    );
    None
}

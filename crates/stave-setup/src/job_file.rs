//! Reading `job.toml`.

use std::collections::HashSet;

use stave_wall::LayKind;

use crate::blank::unique_name;
use crate::bounds::{Bounds, LONGEST_MM};
use crate::job::{JobAnchor, JobFile, OperationRule, Pick, PieceRule};
use crate::machine_file::speed_and_power;
use crate::reader::read_file;
use crate::section::{Entry, Section};
use crate::spacing::line_spacing;
use crate::{Colour, Faults, Given, Work};

/// A place along the axis or in the flat plane.
pub(crate) const COORDINATE: Bounds = Bounds::closed(-LONGEST_MM, LONGEST_MM);
pub(crate) const DIAMETER: Bounds = Bounds::positive(LONGEST_MM);
/// Below a picometre no f64 wrap is exact; above 10 mm nothing is left of the art.
pub(crate) const TOLERANCE: Bounds = Bounds::closed(1e-6, 10.0);
pub(crate) const TILT_DEG: Bounds = Bounds::open(-90.0, 90.0);
/// A hundred turns: no art winds on farther, and the words stay exact.
pub(crate) const MOST_TURN_DEG: f64 = 36_000.0;
pub(crate) const TURN_DEG: Bounds = Bounds::closed(-MOST_TURN_DEG, MOST_TURN_DEG);

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
    let (mut job, warnings) = read_file(text, file, |section| Some(job(section)))?;
    job.warnings = warnings;
    Ok(job)
}

fn job(section: &mut Section<'_, '_, '_>) -> JobFile {
    let mut job = JobFile {
        lay: section.word("lay"),
        anchor: anchor(section),
        reference_diameter_mm: section.length("reference_diameter", DIAMETER),
        tolerance_mm: section.length("tolerance", TOLERANCE),
        tilt_rad: section.angle("tilt", TILT_DEG),
        dose: section.word("dose"),
        zones: section.word("zones"),
        focus: section.word("focus"),
        focus_at_mm: section.length("focus_at", COORDINATE),
        stands: section.word("stands"),
        toward: section.word("toward"),
        lens: section.name("lens"),
        nozzle: section.name("nozzle"),
        set_diameter_mm: section.length("set_diameter", DIAMETER),
        contact_at_mm: section.length("contact_at", COORDINATE),
        ..JobFile::default()
    };
    let contact_given = section.has("contact_at");
    section.table("place", |place| {
        job.place_at_mm = place.length("at", COORDINATE);
        job.place_turn_rad = place.angle("turn", TURN_DEG);
        job.place_of = place.word("of");
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
        job.zero_at_mm = zero.length("at", COORDINATE);
        job.zero_turn_rad = zero.angle("turn", TURN_DEG);
        Some(())
    });
    let mut ids = HashSet::new();
    job.pieces = section.tables("piece", |piece| read_piece(piece, &mut ids));
    let mut names = HashSet::new();
    job.operations = section.tables("operation", |operation| read_operation(operation, &mut names));
    job
}

fn anchor(section: &mut Section<'_, '_, '_>) -> Option<Given<JobAnchor>> {
    const ALLOWED: &str = "\"drawing\", \"piece\" or a point [u, v]";
    let entry = section.entry("anchor")?;
    let word = section.text_in(&entry);
    let value = match word {
        Some("drawing") => JobAnchor::Drawing,
        Some("piece") => JobAnchor::Piece,
        Some(_) => {
            section.must_be(&entry, ALLOWED);
            return None;
        }
        None => {
            let unit = section.reader.unit;
            let (u_mm, v_mm) = section.pair_in(&entry, COORDINATE, Some(unit), ALLOWED)?;
            JobAnchor::Point { u_mm, v_mm }
        }
    };
    Some(Given { value, from: Some(section.source(&entry.span())) })
}

fn read_piece(piece: &mut Section<'_, '_, '_>, taken: &mut HashSet<String>) -> Option<PieceRule> {
    let lay = piece.word::<LayKind>("lay").map(|lay| lay.value);
    let anchor = anchor(piece).map(|anchor| anchor.value);
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
    let pick = read_pick(operation);
    let work = operation.word::<Work>("work");
    let work = operation.required("work", work).map(|work| work.value);
    let (speed, power) = speed_and_power(operation);
    let spacing = line_spacing(operation, work == Some(Work::Area));
    if work == Some(Work::Line) {
        for key in ["lines_per_inch", "line_spacing"] {
            if let Some(entry) = operation.entry(key) {
                let message = format!("`{key}` has no effect where `work` is \"line\"");
                operation.reader.warn(&entry.span(), message);
            }
        }
    }
    let passes = operation.whole("passes", 1, 1000).map_or(1, |passes| passes.value);
    let air = operation.word("air");
    let lay = operation.word("lay").map(|lay| lay.value);
    let anchor = anchor(operation).map(|anchor| anchor.value);
    let dose = operation.word("dose").map(|dose| dose.value);
    if work == Some(Work::Area) && spacing.is_none() {
        return None;
    }
    Some(OperationRule {
        name: name?,
        pick: pick?,
        work: work?,
        speed_mm_per_s: speed?,
        power_percent: power?,
        line_spacing_mm: spacing,
        passes,
        air,
        lay,
        anchor,
        dose,
    })
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

fn colour(pick: &mut Section<'_, '_, '_>, key: &'static str) -> Option<Given<Colour>> {
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

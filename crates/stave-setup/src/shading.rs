//! How greys become burns: the keys that a job's operations for pictures share with the machine
//! file's `[picture]`.

use crate::Tone;
use crate::bounds::Bounds;
use crate::machine_file::PERCENT;
use crate::section::Section;

/// A curve with more points than this was not measured.
const MOST_POINTS: usize = 1000;

/// How greys become burns.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Shading {
    /// Graded power or a halftone.
    pub tone: Tone,
    /// Whether what is light is burned.
    pub invert: bool,
    /// The power to which darkness is raised, more than 0.
    pub gamma: f64,
    /// Power where marking begins, percent, less than full darkness has.
    pub power_floor_percent: f64,
    /// Power (percent) and the darkness (0..1) it was seen to give, both growing; empty where
    /// nobody measured.
    pub tone_curve: Vec<(f64, f64)>,
    /// From which darkness on a place burns where tone is all or nothing, percent.
    pub threshold_percent: f64,
    /// Whether the threshold was given: an operation for areas then cuts shades at it, and takes
    /// none where not.
    pub has_threshold: bool,
}

impl Default for Shading {
    fn default() -> Self {
        Self {
            tone: Tone::Power,
            invert: false,
            gamma: 1.0,
            power_floor_percent: 0.0,
            tone_curve: Vec::new(),
            threshold_percent: 50.0,
            has_threshold: false,
        }
    }
}

/// What `gamma` may be.
pub(crate) const GAMMA: Bounds = Bounds::closed(0.05, 20.0);
/// Percent of power, nothing too.
pub(crate) const PERCENT_OR_NONE: Bounds = Bounds::closed(0.0, 100.0);

/// Which of the keys stand in a table.
pub(crate) const SHADING_KEYS: [&str; 6] =
    ["tone", "invert", "gamma", "power_floor", "tone_curve", "threshold"];
/// Those of them that say nothing where areas are cut out of shades.
pub(crate) const GRADING_KEYS: [&str; 4] = ["tone", "gamma", "power_floor", "tone_curve"];

/// Reads the keys of a table; `power` is the power at full darkness, percent.
pub(crate) fn read_shading(table: &mut Section<'_, '_, '_>, power: Option<f64>) -> Shading {
    let mut shading = Shading::default();
    if let Some(tone) = table.word::<Tone>("tone") {
        shading.tone = tone.value;
    }
    shading.invert = table.boolean("invert").is_some_and(|invert| invert.value);
    if let Some(gamma) = table.number("gamma", GAMMA) {
        shading.gamma = gamma.value;
    }
    if let Some(floor) = table.number("power_floor", PERCENT_OR_NONE) {
        shading.power_floor_percent = floor.value;
        if power.is_some_and(|power| floor.value >= power)
            && let Some(entry) = table.entry("power_floor")
        {
            table.must_be(&entry, "less than `power`, which full darkness burns with");
        }
    }
    if let Some(threshold) = table.number("threshold", PERCENT) {
        shading.threshold_percent = threshold.value;
        shading.has_threshold = true;
    }
    shading.tone_curve = tone_curve(table);
    if !shading.tone_curve.is_empty() {
        for key in ["gamma", "power_floor"] {
            if let Some(entry) = table.entry(key) {
                let message = format!("`{key}` has no effect beside `tone_curve`, which says both");
                table.reader.warn(&entry.span(), message);
            }
        }
    }
    shading
}

fn tone_curve(table: &mut Section<'_, '_, '_>) -> Vec<(f64, f64)> {
    const ALLOWED: &str = "a list of two or more pairs [percent of power, darkness from 0 to 1], \
                           both growing";
    let Some(entry) = table.entry("tone_curve") else { return Vec::new() };
    let Some(entries) =
        table.list_in(&entry).filter(|list| (2..=MOST_POINTS).contains(&list.len()))
    else {
        table.must_be(&entry, ALLOWED);
        return Vec::new();
    };
    let mut curve: Vec<(f64, f64)> = Vec::with_capacity(entries.len());
    for pair in &entries {
        let Some((power, darkness)) =
            table.pair_in(pair, Bounds::closed(0.0, 100.0), None, ALLOWED)
        else {
            return Vec::new();
        };
        let grows = curve.last().is_none_or(|last| power > last.0 && darkness > last.1);
        if darkness > 1.0 || !grows {
            table.must_be(pair, "a pair [percent, darkness from 0 to 1], both more than before");
            return Vec::new();
        }
        curve.push((power, darkness));
    }
    curve
}

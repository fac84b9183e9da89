//! Reading `machine.toml`.

use std::collections::HashSet;

use stave_toolpath::BeamWord;

use crate::blank::{rising, stem, unique_name};
use crate::bounds::{Bounds, LONGEST_MM};
use crate::job_option::COORDINATE;
use crate::machine::{
    Air, AreaDefaults, AxisLimits, Beam, Carriage, Coating, Controller, FocusAxis, Lag, Lens,
    LineDefaults, Machine, Nozzle, Obstacle, ObstacleShape, PictureDefaults, Rotary,
};
use crate::reader::read_file;
use crate::section::Section;
use crate::shading::read_shading;
use crate::source_list::Sources;
use crate::spacing::line_spacing;
use crate::{
    Along, Curves, Drive, Faults, FeedCounts, FocusUp, LengthUnit, PowerRule, RotaryWord,
    SettingsFile, Values,
};

/// Speeds and accelerations: per second, mm or rotary units.
pub(crate) const RATE: Bounds = Bounds::positive(1e9);
/// The words of a roller to 1 mm.
pub(crate) const SCALE: Bounds = Bounds::closed(0.01, 100.0);
/// The play of a rotary, units of its word.
pub(crate) const BACKLASH: Bounds = Bounds::closed(0.0, 1e9);
/// Lines and bytes a second.
pub(crate) const LINE_RATE: Bounds = Bounds::closed(1.0, 1e9);
const POSITIVE_LENGTH: Bounds = Bounds::positive(LONGEST_MM);
pub(crate) const PERCENT: Bounds = Bounds::positive(100.0);
/// Heights and radii of the steps of a nozzle, mm.
pub(crate) const STEP: Bounds = Bounds::positive(1000.0);
/// How far a carriage reaches from the beam, mm.
pub(crate) const BESIDE: Bounds = Bounds::closed(-1000.0, 1000.0);
/// Turns of what turns with the work, degrees.
pub(crate) const TURN_DEG: Bounds = Bounds::closed(-3600.0, 3600.0);
/// More steps no nozzle has.
const MOST_STEPS: usize = 100;

/// Reads a machine file. `file` is what messages call it.
///
/// # Units
/// Lengths, speeds and accelerations of linear axes in the text are in its `units`, here in mm;
/// angles there in degrees, here in radians. What belongs to the rotary's word is never converted:
/// see [`Rotary`].
///
/// # Errors
/// All faults of the file at once, each with its place.
///
/// # Examples
/// ```
/// let text = r#"
/// units = "in"
/// [x]
/// speed = 20
/// acceleration = 200
/// [y]
/// speed = 20
/// acceleration = 200
/// [rotary]
/// word = "A"
/// units_per_turn = 360
/// speed = 360
/// acceleration = 2000
/// "#;
/// let machine = stave_setup::read_machine(text, "bench.toml")?;
/// assert_eq!(machine.x.speed, 508.0);
/// assert_eq!(machine.rotary.limits.speed, 360.0);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
pub fn read_machine(text: &str, file: &str) -> Result<Machine, Faults> {
    let (mut machine, warnings, values) =
        read_file(text, file, SettingsFile::Machine, |section| machine(section, file))?;
    (machine.warnings, machine.values) = (warnings, values);
    Ok(machine)
}

fn machine(section: &mut Section<'_, '_, '_>, file: &str) -> Option<Machine> {
    let mut sources = Sources::default();
    let name = section.name("name").map_or_else(|| stem(file), |name| name.value);
    let controller = if section.has("controller") {
        section.table("controller", |table| controller(table, &mut sources))
    } else {
        section.empty("controller", |table| controller(table, &mut sources))
    };
    let mut obstacles = Vec::new();
    let rotary = section.table("rotary", |table| {
        let mut names = HashSet::new();
        obstacles = table.tables("obstacle", |table| obstacle(table, &mut names));
        rotary(table, &mut sources)
    });
    let rotary = section.required_table("rotary", rotary);
    let x = section.table("x", |table| axis(table, true));
    let x = section.required_table("x", x);
    let y = section.table("y", |table| axis(table, true));
    let y = match (&rotary, section.has("y")) {
        (Some(rotary), false) if rotary.word == RotaryWord::Y => Some(rotary.limits),
        _ => section.required_table("y", y),
    };
    let z = section.table("z", |table| {
        let up = table.word::<FocusUp>("up").map_or(FocusUp::Away, |up| up.value);
        Some(FocusAxis { limits: axis(table, true)?, up })
    });
    let mut lag = Lag::default();
    let beam = section.table("beam", |table| beam(table, &mut lag));
    let mut names = HashSet::new();
    let lenses = section.tables("lens", |table| lens(table, &mut names));
    let mut names = HashSet::new();
    let nozzles = section.tables("nozzle", |table| nozzle(table, &mut names));
    let carriage = section.table("carriage", carriage);
    let area = section.table("area", |table| {
        let (speed, power) = speed_and_power(table);
        let spacing = line_spacing(table, true);
        Some(AreaDefaults {
            speed_mm_per_s: speed?,
            power_percent: power?,
            line_spacing_mm: spacing?,
        })
    });
    let line = section.table("line", |table| {
        let (speed, power) = speed_and_power(table);
        Some(LineDefaults { speed_mm_per_s: speed?, power_percent: power? })
    });
    let picture = section.table("picture", |table| {
        let (speed, power) = speed_and_power(table);
        let spacing = line_spacing(table, true);
        let shading = read_shading(table, power);
        let one_way = table.boolean("one_way").is_some_and(|one_way| one_way.value);
        Some(PictureDefaults {
            speed_mm_per_s: speed?,
            power_percent: power?,
            line_spacing_mm: spacing?,
            shading,
            one_way,
        })
    });
    let mut names = HashSet::new();
    let coatings = section.tables("coating", |table| {
        let name = unique_name(table, &mut names);
        let (speed, power) = speed_and_power(table);
        let line_spacing_mm = line_spacing(table, false);
        Some(Coating {
            name: name?,
            speed_mm_per_s: speed?,
            power_percent: power?,
            line_spacing_mm,
        })
    });
    Some(Machine {
        name,
        controller: controller?,
        x: x?,
        y: y?,
        z,
        rotary: rotary?,
        beam,
        lenses,
        nozzles,
        carriage,
        obstacles,
        area,
        line,
        picture,
        lag,
        coatings,
        in_inches: section.reader.unit == LengthUnit::Inch,
        sources,
        warnings: Vec::new(),
        values: Values::default(),
    })
}

fn controller(table: &mut Section<'_, '_, '_>, sources: &mut Sources) -> Option<Controller> {
    let beam_on = table.word("beam_on").map_or(BeamWord::M4, |word| word.value);
    let full_power = table.number("full_power", Bounds::positive(1e6));
    let least_power = table.number("least_power", Bounds::closed(0.0, 100.0));
    let feed = table.word("feed").map(|feed| feed.value).unwrap_or_default();
    let feed_counts = table.word("feed_counts");
    let corner_tolerance = table.length("corner_tolerance", Bounds::closed(0.0, 1000.0));
    let curves = table.word("curves").map_or(Curves::Arcs, |curves| curves.value);
    let power = table.word("power").map_or(PowerRule::Constant, |power| power.value);
    let lines_per_second = table.number("lines_per_second", LINE_RATE);
    let bytes_per_second = table.number("bytes_per_second", LINE_RATE);
    let decimals = table.whole("decimals", 0, stave_toolpath::number::MOST_DECIMALS);
    sources.note("controller.decimals", decimals.as_ref());
    let steepest = table.angle("steepest", Bounds::open(0.0, 90.0));
    let most_tilt = table.angle("most_tilt", Bounds::closed(0.0, 89.0));
    let air = table.table("air", air);
    if !table.has("full_power") {
        table.guessed("full_power", "1000");
    }
    if !table.has("feed_counts") && feed == stave_toolpath::FeedMode::PerMinute {
        table.guessed("feed_counts", "\"all-axes\"");
    }
    Some(Controller {
        beam_on,
        full_power_s: full_power.map_or(1000.0, |s| s.value),
        least_power_percent: least_power.map_or(0.0, |percent| percent.value),
        feed,
        feed_counts: feed_counts.map_or(FeedCounts::AllAxes, |counts| counts.value),
        corner_tolerance: corner_tolerance.map_or(0.02, |length| length.value),
        curves,
        power,
        lines_per_second: lines_per_second.map(|rate| rate.value),
        bytes_per_second: bytes_per_second.map(|rate| rate.value),
        decimals: decimals.map_or(4, |decimals| decimals.value),
        steepest_rad: steepest.map_or(75_f64.to_radians(), |angle| angle.value),
        most_tilt_rad: most_tilt.map_or(15_f64.to_radians(), |angle| angle.value),
        air,
    })
}

fn air(table: &mut Section<'_, '_, '_>) -> Option<Air> {
    let low = machine_word(table, "low");
    let high = machine_word(table, "high");
    let off = machine_word(table, "off");
    let off = table.required("off", off);
    if !table.has("low") && !table.has("high") {
        table.missing("`low` or `high`");
    }
    Some(Air { low, high, off: off? })
}

/// An M word of the air assist, with its parameters.
fn machine_word(table: &mut Section<'_, '_, '_>, key: &'static str) -> Option<String> {
    let entry = table.entry(key)?;
    let name = table.name_in(&entry)?.value;
    if is_air_word(&name) {
        return Some(name);
    }
    table.must_be(
        &entry,
        "an M word that neither ends the program nor switches the beam, such as \"M7\" or \"M106 \
         P0\"",
    );
    None
}

fn is_air_word(text: &str) -> bool {
    let mut words = text.split_ascii_whitespace();
    let first = words.next().and_then(|word| word.strip_prefix(['M', 'm']));
    let number = first
        .filter(|digits| digits.len() <= 4 && digits.bytes().all(|byte| byte.is_ascii_digit()));
    // M0 to M6 stop, end, burn or change the tool; M30 ends, M60 waits.
    let free = number
        .and_then(|digits| digits.parse::<u32>().ok())
        .is_some_and(|m| m > 6 && m != 30 && m != 60);
    free && words.all(|word| {
        let value = word.strip_prefix(['P', 'Q', 'R', 'S', 'p', 'q', 'r', 's']);
        value.is_some_and(|value| value.len() <= 12 && crate::quantity::number(value).is_some())
    })
}

/// `speed`, `acceleration`, `jerk`, `min` and `max` of an axis; in lengths unless it is the rotary.
fn axis(table: &mut Section<'_, '_, '_>, linear: bool) -> Option<AxisLimits> {
    let mut read = |key, bounds| {
        if linear { table.length(key, bounds) } else { table.number(key, bounds) }
    };
    let travel = Bounds::closed(-1e9, 1e9);
    let (speed, acceleration) = (read("speed", RATE), read("acceleration", RATE));
    let (jerk, min, max) =
        (read("jerk", Bounds::positive(1e12)), read("min", travel), read("max", travel));
    let speed = table.required("speed", speed);
    let acceleration = table.required("acceleration", acceleration);
    if let (Some(min), Some(max)) = (&min, &max)
        && min.value >= max.value
        && let Some(entry) = table.entry("max")
    {
        table.must_be(&entry, "more than `min`");
    }
    Some(AxisLimits {
        speed: speed?.value,
        acceleration: acceleration?.value,
        jerk: jerk.map(|jerk| jerk.value),
        min: min.map(|min| min.value),
        max: max.map(|max| max.value),
    })
}

fn rotary(table: &mut Section<'_, '_, '_>, sources: &mut Sources) -> Option<Rotary> {
    let word = table.word::<RotaryWord>("word");
    let word = table.required("word", word);
    let drive = table.word::<Drive>("drive").map_or(Drive::Chuck, |drive| drive.value);
    let along = table.word::<Along>("along").map_or(Along::X, |along| along.value);
    let units_per_turn = table.number("units_per_turn", Bounds::closed(1e-3, 1e9));
    let steps_per_turn = table.number("steps_per_turn", Bounds::positive(1e12));
    let steps_per_mm = table.number("steps_per_mm", Bounds::positive(1e9));
    let reverse = table.boolean("reverse").is_some_and(|reverse| reverse.value);
    let axis_height = table.length("axis_height", POSITIVE_LENGTH);
    let support_span = table.length("support_span", POSITIVE_LENGTH);
    let scale = table.number("scale", SCALE);
    let backlash = table.number("backlash", BACKLASH);
    sources.note("rotary.units_per_turn", units_per_turn.as_ref());
    let limits = axis(table, false);
    if along == Along::Y
        && word.as_ref().is_some_and(|word| word.value == RotaryWord::Y)
        && let Some(entry) = table.entry("along")
    {
        table.must_be(
            &entry,
            "\"x\" where `word` is \"Y\": the Y axis cannot both turn the work and carry it along",
        );
    }
    let units_per_turn = match drive {
        Drive::Chuck => {
            if let Some(entry) = table.entry("steps_per_mm") {
                let message = "`steps_per_mm` is for a roller; with `drive = \"chuck\"` give \
                               `steps_per_turn`";
                table.reader.fault(&entry.span(), message.to_owned());
            }
            if scale.as_ref().is_some_and(|scale| scale.value != 1.0)
                && let Some(entry) = table.entry("scale")
            {
                let message = "`scale` is for a roller; with `drive = \"chuck\"` correct \
                               `units_per_turn`";
                table.reader.fault(&entry.span(), message.to_owned());
            }
            // More than this is no play but a broken drive; a roller's turn is not known here.
            if let (Some(units), Some(play)) = (&units_per_turn, &backlash)
                && play.value > units.value / 20.0
                && let Some(entry) = table.entry("backlash")
            {
                table.must_be(&entry, "at most a twentieth of `units_per_turn`");
            }
            table.required("units_per_turn", units_per_turn).map(|units| units.value)
        }
        Drive::Roller => {
            if let Some(entry) = table.entry("steps_per_turn") {
                let message = "`steps_per_turn` is for a chuck; with `drive = \"roller\"` give \
                               `steps_per_mm`";
                table.reader.fault(&entry.span(), message.to_owned());
            }
            if let Some(entry) = table.entry("units_per_turn") {
                let message =
                    "`units_per_turn` has no effect with a roller, whose units are mm of surface";
                table.reader.warn(&entry.span(), message.to_owned());
            }
            Some(units_per_turn.map_or(360.0, |units| units.value))
        }
    };
    Some(Rotary {
        word: word?.value,
        units_per_turn: units_per_turn?,
        steps_per_turn: steps_per_turn.map(|steps| steps.value),
        steps_per_mm: steps_per_mm.map(|steps| steps.value),
        scale: scale.map_or(1.0, |scale| scale.value),
        backlash: backlash.map_or(0.0, |backlash| backlash.value),
        limits: limits?,
        reverse,
        along,
        drive,
        axis_height_mm: axis_height.map(|height| height.value),
        support_span_mm: support_span.map(|span| span.value),
    })
}

/// The optics, which need all their keys, and the lag, which may stand alone.
fn beam(table: &mut Section<'_, '_, '_>, lag: &mut Lag) -> Option<Beam> {
    read_lag(table, lag);
    let optics = ["wavelength_um", "diameter_at_lens", "m2"];
    if table.has("lag") && !optics.iter().any(|key| table.has(key)) {
        for key in optics {
            let _ = table.entry(key);
        }
        return None;
    }
    let wavelength = table.number("wavelength_um", Bounds::closed(0.1, 100.0));
    let wavelength = table.required("wavelength_um", wavelength);
    let diameter = table.length("diameter_at_lens", Bounds::positive(1000.0));
    let diameter = table.required("diameter_at_lens", diameter);
    let m2 = table.number("m2", Bounds::closed(1.0, 1000.0));
    let m2 = table.required("m2", m2);
    Some(Beam {
        wavelength_um: wavelength?.value,
        diameter_at_lens_mm: diameter?.value,
        m2: m2?.value,
    })
}

/// What `lag` may be, s: past it, it is no delay of a beam.
pub(crate) const LAG_S: Bounds = Bounds::closed(-0.1, 0.1);

/// `lag`: seconds, or a list of pairs [speed on the wall, seconds].
fn read_lag(table: &mut Section<'_, '_, '_>, lag: &mut Lag) {
    const ALLOWED: &str = "seconds, or a list of pairs [speed, seconds], the speeds growing";
    let seconds = LAG_S;
    let Some(entry) = table.entry("lag") else { return };
    let Some(entries) = table.list_in(&entry) else {
        lag.pairs.extend(table.number_in(&entry, seconds, None).map(|lag| (0.0, lag)));
        return;
    };
    for pair in &entries {
        let parts = table.list_in(pair);
        let [speed, delay] = parts.as_deref().unwrap_or(&[]) else {
            return table.must_be(pair, ALLOWED);
        };
        let speed = table.number_in(speed, RATE, Some(table.reader.unit));
        let (Some(speed), Some(delay)) = (speed, table.number_in(delay, seconds, None)) else {
            return;
        };
        if lag.pairs.last().is_some_and(|last| speed <= last.0) {
            return table.must_be(pair, ALLOWED);
        }
        lag.pairs.push((speed, delay));
    }
    if lag.pairs.is_empty() {
        table.must_be(&entry, ALLOWED);
    }
}

fn lens(table: &mut Section<'_, '_, '_>, names: &mut HashSet<String>) -> Option<Lens> {
    let name = unique_name(table, names);
    let focal_length = table.length("focal_length", POSITIVE_LENGTH);
    let focal_length = table.required("focal_length", focal_length);
    let spot = table.length("spot", Bounds::positive(1000.0));
    let depth = table.length("depth_of_focus", POSITIVE_LENGTH);
    Some(Lens {
        name: name?,
        focal_length_mm: focal_length?.value,
        spot_mm: spot.map(|spot| spot.value),
        depth_of_focus_mm: depth.map(|depth| depth.value),
    })
}

fn nozzle(table: &mut Section<'_, '_, '_>, names: &mut HashSet<String>) -> Option<Nozzle> {
    let name = unique_name(table, names);
    let radius = table.length("radius", Bounds::positive(1000.0));
    let radius = table.required("radius", radius);
    let gap = table.length("gap", Bounds::closed(0.0, 1000.0));
    let gap = table.required("gap", gap);
    let steps_mm = steps(table);
    Some(Nozzle { name: name?, radius_mm: radius?.value, gap_mm: gap?.value, steps_mm })
}

/// `step`: a list of pairs [height above the tip, radius from there on].
fn steps(table: &mut Section<'_, '_, '_>) -> Vec<(f64, f64)> {
    const ALLOWED: &str = "a list of pairs [above the tip, radius], the first of each growing";
    let Some(entry) = table.entry("step") else { return Vec::new() };
    let Some(entries) = table.list_in(&entry).filter(|list| (1..=MOST_STEPS).contains(&list.len()))
    else {
        table.must_be(&entry, ALLOWED);
        return Vec::new();
    };
    let unit = Some(table.reader.unit);
    let mut steps: Vec<(f64, f64)> = Vec::with_capacity(entries.len());
    for pair in &entries {
        let Some((above_mm, radius_mm)) = table.pair_in(pair, STEP, unit, ALLOWED) else {
            return Vec::new();
        };
        if steps.last().is_some_and(|last| above_mm <= last.0) {
            table.must_be(pair, ALLOWED);
            return Vec::new();
        }
        steps.push((above_mm, radius_mm));
    }
    steps
}

fn carriage(table: &mut Section<'_, '_, '_>) -> Option<Carriage> {
    let x = stretch(table, "x", BESIDE);
    let y = stretch(table, "y", BESIDE);
    let above = table.length("above", Bounds::closed(0.0, 1000.0));
    let above = table.required("above", above);
    Some(Carriage { x_mm: x?, y_mm: y?, above_mm: above?.value })
}

/// Two lengths, the first less than the second, that must be there.
fn stretch(
    table: &mut Section<'_, '_, '_>,
    key: &'static str,
    bounds: Bounds,
) -> Option<(f64, f64)> {
    let pair = table.pair(key, bounds, Some(table.reader.unit));
    let pair = table.required(key, pair)?.value;
    rising(table, key, pair).then_some(pair)
}

fn obstacle(table: &mut Section<'_, '_, '_>, names: &mut HashSet<String>) -> Option<Obstacle> {
    let name = unique_name(table, names);
    let along_mm = stretch(table, "along", COORDINATE);
    let radius = table.length("radius", POSITIVE_LENGTH);
    let turn = table.pair("turn", TURN_DEG, None);
    let height = table.length("height", COORDINATE);
    let shape = match (table.has("radius"), table.has("across")) {
        (true, true) => {
            if let Some(entry) = table.entry("across") {
                let message = "an obstacle has either `radius`, and turns with the work, or \
                               `across` and `height`, and stands still";
                table.reader.fault(&entry.span(), message.to_owned());
            }
            None
        }
        (false, false) => {
            let _ = table.entry("across");
            table.missing("`radius` (or `across` and `height`)");
            None
        }
        (true, false) => {
            let _ = table.entry("across");
            no_effect(table, "height", "turns with the work");
            let turn_rad = turn.and_then(|turn| sector(table, turn.value));
            if table.has("turn") && turn_rad.is_none() {
                return None;
            }
            radius.map(|radius| ObstacleShape::Turning { radius_mm: radius.value, turn_rad })
        }
        (false, true) => {
            no_effect(table, "turn", "stands still");
            let across = stretch(table, "across", COORDINATE);
            let height = table.required("height", height);
            match (across, height) {
                (Some(across_mm), Some(height)) => {
                    Some(ObstacleShape::Still { across_mm, height_mm: height.value })
                }
                _ => None,
            }
        }
    };
    Some(Obstacle { name: name?, along_mm: along_mm?, shape: shape? })
}

/// From, to about the axis, rad: at most one turn apart.
fn sector(table: &mut Section<'_, '_, '_>, turn_deg: (f64, f64)) -> Option<(f64, f64)> {
    if !rising(table, "turn", turn_deg) {
        return None;
    }
    if turn_deg.1 - turn_deg.0 > 360.0 {
        if let Some(entry) = table.entry("turn") {
            table.must_be(&entry, "at most 360 degrees from end to end");
        }
        return None;
    }
    Some((turn_deg.0.to_radians(), turn_deg.1.to_radians()))
}

fn no_effect(table: &mut Section<'_, '_, '_>, key: &'static str, it: &str) {
    if let Some(entry) = table.entry(key) {
        let message = format!("`{key}` has no effect on an obstacle that {it}");
        table.reader.warn(&entry.span(), message);
    }
}

/// The `speed` (mm/s on the wall) and `power` (percent) of a way of burning; both are needed unless
/// a coating gives them.
pub(crate) fn speed_and_power(table: &mut Section<'_, '_, '_>) -> (Option<f64>, Option<f64>) {
    let (mut speed, mut power) = (table.length("speed", RATE), table.number("power", PERCENT));
    if !table.has("coating") {
        speed = table.required("speed", speed);
        power = table.required("power", power);
    }
    (speed.map(|speed| speed.value), power.map(|power| power.value))
}

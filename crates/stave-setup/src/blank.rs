//! `blank.toml`: the wall as measured, and the zones on it.

use std::collections::HashSet;

use stave_wall::{OutOfRound, Station, TrueRunning, Wall, WallShape};

use crate::bounds::{Bounds, LONGEST_MM, THINNEST_MM};
use crate::facet::read_facet;
use crate::job_file::colour;
use crate::reader::read_file;
use crate::section::Section;
use crate::{Colour, Facet, Fault, Faults, Finish, LengthUnit, SettingsFile, Values};

/// The most stations of a smooth wall: each span is tabulated, which takes up to a millisecond.
const MOST_SMOOTH_STATIONS: usize = 10_000;

/// Ware that goes farther in and out over a turn than this share of its radius is hardly turned
/// ware: common practice, no source.
pub const FAR_FROM_ROUND: f64 = 0.1;
const NOT_NEGATIVE: Bounds = Bounds::closed(0.0, LONGEST_MM);

/// The unengraved piece of ware.
///
/// As data (feature `serde`) its wall is the word for its shape, and is built from the stations
/// when it is read back.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(into = "BlankData", try_from = "BlankData"))]
pub struct Blank {
    /// Its name; the file's name without folder and ending where the file gives none.
    pub name: String,
    /// The wall through the stations.
    pub wall: Wall,
    /// The stations as measured, in order, mm.
    pub stations: Vec<Station>,
    /// How far the ware is from round and from running true, as measured at the stations.
    pub running: TrueRunning,
    /// The zones that must not be burned.
    pub zones: Vec<Zone>,
    /// Its flat places.
    pub facets: Vec<Facet>,
    /// How the ware looks, where its file tells.
    pub look: Option<Look>,
    pub(crate) warnings: Vec<Fault>,
    pub(crate) values: Values,
}

impl Blank {
    /// What its file says, key by key.
    #[must_use]
    pub fn values(&self) -> &Values {
        &self.values
    }

    /// The unit of the lengths in its file: who measured it so reads of it so.
    #[must_use]
    pub fn unit(&self) -> LengthUnit {
        if self.values.are_inches { LengthUnit::Inch } else { LengthUnit::Mm }
    }

    /// What is worth a second look but can be meant.
    #[must_use]
    pub fn warnings(&self) -> &[Fault] {
        &self.warnings
    }
}

/// A blank as it is written as data.
#[cfg(feature = "serde")]
#[derive(serde::Serialize, serde::Deserialize)]
struct BlankData {
    name: String,
    wall: WallShape,
    stations: Vec<Station>,
    #[serde(default)]
    running: TrueRunning,
    zones: Vec<Zone>,
    #[serde(default)]
    facets: Vec<Facet>,
    #[serde(default)]
    look: Option<Look>,
    warnings: Vec<Fault>,
    values: Values,
}

#[cfg(feature = "serde")]
impl From<Blank> for BlankData {
    fn from(blank: Blank) -> Self {
        let Blank { name, wall, stations, running, zones, facets, look, warnings, values } = blank;
        Self { name, wall: wall.shape(), stations, running, zones, facets, look, warnings, values }
    }
}

#[cfg(feature = "serde")]
impl TryFrom<BlankData> for Blank {
    type Error = String;

    fn try_from(data: BlankData) -> Result<Self, String> {
        let BlankData { name, wall, stations, running, zones, facets, look, warnings, values } =
            data;
        if let Some(message) = too_many_stations(wall, stations.len()) {
            return Err(message);
        }
        let wall = Wall::from_stations(&stations, wall).map_err(|error| error.to_string())?;
        Ok(Self { name, wall, stations, running, zones, facets, look, warnings, values })
    }
}

/// What is wrong with so many stations of a wall, if anything is.
fn too_many_stations(shape: WallShape, count: usize) -> Option<String> {
    (shape == WallShape::Smooth && count > MOST_SMOOTH_STATIONS).then(|| {
        format!(
            "a smooth wall takes at most {MOST_SMOOTH_STATIONS} stations, found {count}: with \
             stations this close take `wall = \"straight\"`"
        )
    })
}

/// A patch of the wall that must not be burned.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Zone {
    /// Its name.
    pub name: String,
    /// From, to along the axis, mm; from < to.
    pub at_mm: (f64, f64),
    /// From, to about the axis, rad; from < to, at most one turn apart; either may pass a full
    /// turn.
    pub turn_rad: (f64, f64),
    /// How far it stands above the wall along the radius, mm; 0 for a mark.
    pub rise_mm: f64,
    /// How much of the wall around it is kept clear, mm; `None` where the file leaves it to the
    /// spot.
    pub margin_mm: Option<f64>,
}

/// How the ware looks, for pictures that a customer sees. What is burned does not hang on it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Look {
    /// The colour of the ware as it comes.
    pub ware: Colour,
    /// The colour of what is burned.
    pub burn: Colour,
    /// How its surface takes the light.
    pub finish: Finish,
}

/// The look of ware that does not tell, or tells a part only: light grey, burned dark.
impl Default for Look {
    fn default() -> Self {
        Self {
            ware: Colour { red: 0xef, green: 0xee, blue: 0xe9 },
            burn: Colour { red: 0x3a, green: 0x37, blue: 0x33 },
            finish: Finish::Matt,
        }
    }
}

/// A jaw lies no farther from the end of the wall than this, mm: common practice, no source.
const JAW_MM: f64 = 50.0;

/// Reads a blank file. `file` is what messages call it.
///
/// # Units
/// Lengths in the text are in its `units`, here in mm; angles there in degrees, here in radians.
///
/// # Errors
/// All faults of the file at once, each with its place.
///
/// # Examples
/// ```
/// let text = r#"
/// name = "mug"
/// [[station]]
/// at = 0
/// diameter = 80
/// [[station]]
/// at = 100
/// diameter = 82
/// "#;
/// let blank = stave_setup::read_blank(text, "mug.toml")?;
/// assert_eq!(blank.stations[1].radius_mm, 41.0);
/// # Ok::<(), stave_setup::Faults>(())
/// ```
pub fn read_blank(text: &str, file: &str) -> Result<Blank, Faults> {
    let (mut blank, warnings, values) =
        read_file(text, file, SettingsFile::Blank, |section| blank(section, file))?;
    (blank.warnings, blank.values) = (warnings, values);
    Ok(blank)
}

fn blank(section: &mut Section<'_, '_, '_>, file: &str) -> Option<Blank> {
    let name = section.name("name").map_or_else(|| stem(file), |name| name.value);
    let shape = section.word::<WallShape>("wall").map_or(WallShape::Straight, |shape| shape.value);
    let mut last: Option<f64> = None;
    let mut whole = true;
    let stations = section.tables("station", |station| {
        let station = read_station(station, &mut last);
        whole &= station.is_some();
        station
    });
    let (stations, running): (Vec<Station>, Vec<OutOfRound>) = stations.into_iter().unzip();
    let running = TrueRunning::new(running);
    if whole && stations.len() < 2 && !section.has_other("station") {
        section.incomplete(
            "the wall needs at least two [[station]] entries, each with `at` and `diameter`",
        );
    }
    let look = section.table("look", |look| Some(read_look(look)));
    let mut names = HashSet::new();
    let zones = section.tables("zone", |zone| Some((read_zone(zone, &mut names)?, zone.span())));
    let mut names = HashSet::new();
    let facets = section.tables("facet", |facet| read_facet(facet, &mut names));
    if !whole || stations.len() < 2 {
        return None;
    }
    let (first, last) = (stations.first()?.at_mm, stations.last()?.at_mm);
    let zones = zones.into_iter().map(|(zone, span)| {
        let away_mm = (first - zone.at_mm.1).max(zone.at_mm.0 - last);
        // What rises beside the wall's end may be a jaw that holds the work.
        let may_be_jaw = zone.rise_mm > 0.0 && away_mm <= JAW_MM;
        if away_mm > 0.0 && !may_be_jaw {
            let message = format!(
                "the zone \"{}\" lies past the ends of the wall: its `at` is likely taken from \
                 another datum, or in another unit, than the stations'",
                zone.name
            );
            section.reader.warn(&span, message);
        }
        zone
    });
    let zones: Vec<Zone> = zones.collect();
    if let Some(message) = too_many_stations(shape, stations.len()) {
        section.incomplete(&message);
        return None;
    }
    match Wall::from_stations(&stations, shape) {
        Ok(wall) => {
            let (warnings, values) = (Vec::new(), Values::default());
            Some(Blank { name, wall, stations, running, zones, facets, look, warnings, values })
        }
        Err(error) => {
            section.fault_here(error.to_string());
            None
        }
    }
}

fn read_look(look: &mut Section<'_, '_, '_>) -> Look {
    let plain = Look::default();
    Look {
        ware: colour(look, "ware").map_or(plain.ware, |ware| ware.value),
        burn: colour(look, "burn").map_or(plain.burn, |burn| burn.value),
        finish: look.word::<Finish>("finish").map_or(plain.finish, |finish| finish.value),
    }
}

fn read_station(
    station: &mut Section<'_, '_, '_>,
    last: &mut Option<f64>,
) -> Option<(Station, OutOfRound)> {
    let at = station.length("at", Bounds::closed(-LONGEST_MM, LONGEST_MM));
    let mut at = station.required("at", at);
    if let (Some(found), Some(before)) = (&at, *last)
        && found.value <= before
    {
        if let Some(entry) = station.entry("at") {
            let unit = station.reader.unit;
            let before = crate::bounds::plain(unit.of_mm(before));
            station.must_be(
                &entry,
                &format!(
                    "more than the {before} of the station before: stations go up along the axis"
                ),
            );
        }
        at = None;
    }
    if let Some(found) = &at {
        *last = Some(found.value);
    }
    let diameter = station.length("diameter", Bounds::closed(THINNEST_MM, LONGEST_MM));
    let circumference = station.length("circumference", Bounds::closed(THINNEST_MM, LONGEST_MM));
    let radius = match (station.has("diameter"), station.has("circumference")) {
        (true, true) => {
            if let Some(entry) = station.entry("circumference") {
                let message = "a station has either `diameter` or `circumference`, not both";
                station.reader.fault(&entry.span(), message.to_owned());
            }
            None
        }
        (false, false) => {
            station.missing("`diameter` (or `circumference`)");
            None
        }
        (true, false) => diameter.map(|diameter| diameter.value / 2.0),
        (false, true) => circumference.map(|around| around.value / std::f64::consts::TAU),
    };
    let oval = station.length("oval", NOT_NEGATIVE).map_or(0.0, |oval| oval.value);
    let oval_turn = station.angle("oval_turn", Bounds::closed(0.0, 180.0));
    let runout = station.length("runout", NOT_NEGATIVE).map_or(0.0, |runout| runout.value);
    let runout_turn = station.angle("runout_turn", Bounds::closed(-360.0, 360.0));
    let (at_mm, radius_mm) = (at?.value, radius?);
    let round = OutOfRound {
        at_mm,
        oval_mm: oval,
        oval_turn_rad: oval_turn.map_or(0.0, |turn| turn.value),
        runout_mm: runout,
        runout_turn_rad: runout_turn.map_or(0.0, |turn| turn.value),
    };
    if round.most_mm() >= radius_mm {
        station.fault_here(
            "`runout` and a quarter of `oval` must be less than the radius: there would be no wall \
             left at some turn"
                .to_owned(),
        );
        return None;
    }
    if round.most_mm() > FAR_FROM_ROUND * radius_mm {
        let span = station.span();
        let message = "the ware lies more than a tenth of its radius from round and true: likely \
                       a diameter or a total reading stands for `oval` or `runout`, or another \
                       unit";
        station.reader.warn(&span, message.to_owned());
    }
    Some((Station { at_mm, radius_mm }, round))
}

fn read_zone(zone: &mut Section<'_, '_, '_>, names: &mut HashSet<String>) -> Option<Zone> {
    let name = unique_name(zone, names);
    let at = zone.pair("at", Bounds::closed(-LONGEST_MM, LONGEST_MM), Some(zone.reader.unit));
    let at = zone.required("at", at);
    let turn = zone.pair("turn", Bounds::closed(-3600.0, 3600.0), None);
    let turn = zone.required("turn", turn);
    let rise = zone.length("rise", NOT_NEGATIVE);
    let margin = zone.length("margin", NOT_NEGATIVE);
    let at = at.filter(|at| rising(zone, "at", at.value));
    let turn = turn.filter(|turn| rising(zone, "turn", turn.value));
    if let (Some(turn), Some(entry)) = (&turn, zone.entry("turn"))
        && turn.value.1 - turn.value.0 > 360.0
    {
        zone.must_be(&entry, "at most 360 degrees from end to end");
    }
    let turn = turn?.value;
    Some(Zone {
        name: name?,
        at_mm: at?.value,
        turn_rad: (turn.0.to_radians(), turn.1.to_radians()),
        rise_mm: rise.map_or(0.0, |rise| rise.value),
        margin_mm: margin.map(|margin| margin.value),
    })
}

/// Whether a pair goes up, or a fault that it does not.
pub(crate) fn rising(
    section: &mut Section<'_, '_, '_>,
    key: &'static str,
    (from, to): (f64, f64),
) -> bool {
    if from < to {
        return true;
    }
    if let Some(entry) = section.entry(key) {
        section.must_be(&entry, "[from, to] with from less than to");
    }
    false
}

/// The `name` of a table in a list, which no other there may bear.
pub(crate) fn unique_name(
    section: &mut Section<'_, '_, '_>,
    names: &mut HashSet<String>,
) -> Option<String> {
    let name = section.name("name");
    let name = section.required("name", name)?.value;
    if !names.insert(name.clone()) {
        if let Some(entry) = section.entry("name") {
            section.must_be(&entry, "unlike the names before it");
        }
        return None;
    }
    Some(name)
}

/// A file's name without folder and ending, as a stand-in for the name it does not give.
pub(crate) fn stem(file: &str) -> String {
    let name = file.rsplit(['/', '\\']).next().unwrap_or(file);
    let name = name.strip_suffix(".toml").unwrap_or(name);
    if crate::values::is_name(name) { name.to_owned() } else { "unnamed".to_owned() }
}

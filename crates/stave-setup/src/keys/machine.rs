//! The keys of a machine.

use stave_toolpath::{BeamWord, FeedMode, number::MOST_DECIMALS};

use super::{Key, Kind, SettingsFile, Usual, key, word};
use crate::bounds::{Bounds, LONGEST_MM};
use crate::job_option::COORDINATE;
use crate::machine_file::{
    BACKLASH, BESIDE, LAG_S, LINE_RATE, PERCENT, RATE, SCALE, STEP, TURN_DEG,
};
use crate::shading::{GAMMA, PERCENT_OR_NONE};
use crate::spacing::{LINE_SPACING, LINES_PER_INCH};
use crate::{Along, Curves, Drive, FeedCounts, FocusUp, LengthUnit, PowerRule, RotaryWord, Tone};

const TRAVEL: Bounds = Bounds::closed(-1e9, 1e9);
const LENGTH: Bounds = Bounds::positive(LONGEST_MM);
const SHORT: Bounds = Bounds::positive(1000.0);
const SHORT_OR_NONE: Bounds = Bounds::closed(0.0, 1000.0);

const fn of(name: &'static str, kind: Kind, text: &'static str) -> Key {
    key(SettingsFile::Machine, name, kind, text)
}

/// What every axis has; a rotary's units are those of its word.
macro_rules! axis {
    ($name:literal, $speed:literal, $acceleration:literal, $unit:ident $(($what:literal))?) => {
        [
            of(concat!($name, ".speed"), Kind::Number(RATE), "The greatest speed")
                .$unit(axis!(@per "/s" $($what)?))
                .needed()
                .like($speed),
            of(concat!($name, ".acceleration"), Kind::Number(RATE), "The greatest acceleration")
                .$unit(axis!(@per "/s²" $($what)?))
                .needed()
                .like($acceleration),
            of(
                concat!($name, ".jerk"),
                Kind::Number(Bounds::positive(1e12)),
                "The greatest jerk, for controllers with S-shaped ramps",
            )
            .$unit(axis!(@per "/s³" $($what)?))
            .told("ramps of constant acceleration")
            .like("100000.0"),
            of(concat!($name, ".min"), Kind::Number(TRAVEL), "The least word the axis can go to")
                .$unit(axis!(@per "" $($what)?))
                .told("no limit")
                .like("-400.0"),
            of(concat!($name, ".max"), Kind::Number(TRAVEL), "The greatest word it can go to")
                .$unit(axis!(@per "" $($what)?))
                .told("no limit")
                .like("400.0"),
        ]
    };
    (@per $per:literal) => { $per };
    (@per $per:literal $what:literal) => { concat!($what, $per) };
}

static X: [Key; 5] = axis!("x", "500.0", "5000.0", length);
static Y: [Key; 5] = axis!("y", "500.0", "3000.0", length);
static Z: [Key; 5] = axis!("z", "20.0", "100.0", length);
static ROTARY_AXIS: [Key; 5] = axis!("rotary", "360.0", "2000.0", unit("rotary units"));

pub(super) static GROUPS: &[&[Key]] = &[
    &[
        of("name", Kind::Text, "What messages and programs call the machine")
            .told("the file's name")
            .usual()
            .like("\"bench\""),
        of(
            "units",
            word::<LengthUnit>(),
            "The unit of every length in this file; the rotary's word keeps its own",
        )
        .default("\"mm\""),
    ],
    CONTROLLER,
    &[of("x", Kind::Table(Usual::Yes), "The X axis").needed()],
    &X,
    &[of("y", Kind::Table(Usual::Yes), "The Y axis; may be left out where the rotary is Y")],
    &Y,
    &[of("z", Kind::Table(Usual::No), "The Z axis, only where a program may drive focus")],
    &Z,
    &[of("z.up", word::<FocusUp>(), "Where a growing Z word takes the head").default("\"away\"")],
    ROTARY,
    &ROTARY_AXIS,
    OBSTACLES,
    OPTICS,
    DEFAULTS,
];

static CONTROLLER: &[Key] = &[
    of("controller", Kind::Table(Usual::Yes), "What the controller understands"),
    of("controller.beam_on", word::<BeamWord>(), "Switches the beam on for art").default("\"M4\""),
    of("controller.full_power", Kind::Number(Bounds::positive(1e6)), "The S word for 100 %")
        .default("1000.0"),
    of(
        "controller.least_power",
        Kind::Number(Bounds::closed(0.0, 100.0)),
        "Below it nothing marks",
    )
    .unit("percent")
    .default("0.0"),
    of("controller.feed", word::<FeedMode>(), "G94 or G93").default("\"per-minute\""),
    of("controller.feed_counts", word::<FeedCounts>(), "The words whose speed F is, under G94")
        .default("\"all-axes\""),
    of(
        "controller.corner_tolerance",
        Kind::Number(SHORT_OR_NONE),
        "How far corners are rounded: the sagitta of the arc inscribed in them",
    )
    .length("")
    .default("0.02"),
    of(
        "controller.curves",
        word::<Curves>(),
        "Round curves written as chords: no faster than on the curve, or as the corners allow",
    )
    .default("\"arcs\""),
    of(
        "controller.power",
        word::<PowerRule>(),
        "Under M3: S stays as asked, or is stepped along ramps by the planned speed",
    )
    .default("\"constant\""),
    of("controller.lines_per_second", Kind::Number(LINE_RATE), "Lines it takes in a second")
        .unit("1/s")
        .told("no limit")
        .like("1000.0"),
    of("controller.bytes_per_second", Kind::Number(LINE_RATE), "Bytes it takes in a second")
        .unit("1/s")
        .told("no limit")
        .like("11520.0"),
    of("controller.decimals", Kind::Whole(0, MOST_DECIMALS), "Of lengths and rotary words")
        .default("4"),
    of(
        "controller.steepest",
        Kind::Number(Bounds::open(0.0, 90.0)),
        "The steepest wall the beam reaches",
    )
    .unit("degrees")
    .default("75.0"),
    of(
        "controller.most_tilt",
        Kind::Number(Bounds::closed(0.0, 89.0)),
        "How far the rotary can be tilted, either way",
    )
    .unit("degrees")
    .default("15.0"),
    of("controller.air", Kind::Table(Usual::No), "The words of the air assist, where there is one"),
    of("controller.air.low", Kind::Text, "A little air").like("\"M7\""),
    of("controller.air.high", Kind::Text, "Much air").like("\"M8\""),
    of("controller.air.off", Kind::Text, "No air").needed().like("\"M9\""),
];

static ROTARY: &[Key] = &[
    of("rotary", Kind::Table(Usual::Yes), "The rotary; what its word counts is never converted")
        .needed(),
    of("rotary.word", word::<RotaryWord>(), "Its letter; Y where it is plugged in for the Y axis")
        .needed()
        .like("\"A\""),
    of("rotary.drive", word::<Drive>(), "How it takes hold of the work").default("\"chuck\""),
    of(
        "rotary.units_per_turn",
        Kind::Number(Bounds::closed(1e-3, 1e9)),
        "Units of the word for one turn of the work; a chuck needs it",
    )
    .unit("rotary units")
    .usual()
    .like("360.0"),
    of(
        "rotary.steps_per_turn",
        Kind::Number(Bounds::positive(1e12)),
        "Motor steps for one turn of the work, for the spacing of scan lines (chuck)",
    )
    .unit("steps")
    .like("12800.0"),
    of(
        "rotary.steps_per_mm",
        Kind::Number(Bounds::positive(1e9)),
        "Motor steps for 1 mm of surface (roller)",
    )
    .unit("steps/mm")
    .like("80.0"),
    of("rotary.scale", Kind::Number(SCALE), "Words of a roller to 1 mm of surface").default("1.0"),
    of(
        "rotary.backlash",
        Kind::Number(BACKLASH),
        "Its play where it turns back, a twentieth of a chuck's turn at most",
    )
    .unit("rotary units")
    .default("0.0"),
    of("rotary.reverse", Kind::Flag, "True where a growing word takes the top of the work to Y+")
        .default("false"),
    of("rotary.along", word::<Along>(), "The axis of the machine along which the work lies")
        .default("\"x\""),
    of("rotary.axis_height", Kind::Number(LENGTH), "Height of its axis above the bed")
        .length("")
        .like("60.0"),
    of(
        "rotary.support_span",
        Kind::Number(LENGTH),
        "Between its feet, to say by how much to raise one for a tilt",
    )
    .length("")
    .like("180.0"),
];

static OBSTACLES: &[Key] = &[
    of(
        "rotary.obstacle",
        Kind::Tables(Usual::No),
        "What of the rotary stands up beside the work: jaws, wheels, a tailstock",
    ),
    of("rotary.obstacle.name", Kind::Text, "What messages call it").needed().like("\"jaw\""),
    of(
        "rotary.obstacle.along",
        Kind::Pair(COORDINATE),
        "From, to along the axis, from the chuck's face, growing towards the ware",
    )
    .length("")
    .needed()
    .like("[-40.0, 12.0]"),
    of("rotary.obstacle.radius", Kind::Number(LENGTH), "Its outside, where it turns with the work")
        .length("")
        .or("across")
        .like("55.0"),
    of("rotary.obstacle.turn", Kind::Pair(TURN_DEG), "From, to around, where it turns")
        .unit("degrees")
        .told("all around")
        .like("[-15.0, 15.0]"),
    of(
        "rotary.obstacle.across",
        Kind::Pair(COORDINATE),
        "From, to across the axis, where it stands still; to Y+ where the ware points to X+",
    )
    .length("")
    .or("radius")
    .like("[-30.0, 30.0]"),
    of("rotary.obstacle.height", Kind::Number(COORDINATE), "Its top above the axis, likewise")
        .length("")
        .like("25.0"),
];

static OPTICS: &[Key] = &[
    of("beam", Kind::Table(Usual::Yes), "The beam before the lens"),
    of("beam.wavelength_um", Kind::Number(Bounds::closed(0.1, 100.0)), "Its wavelength")
        .unit("µm")
        .needed()
        .like("10.6"),
    of("beam.diameter_at_lens", Kind::Number(SHORT), "Its diameter where it meets the lens")
        .length("")
        .needed()
        .like("7.0"),
    of("beam.m2", Kind::Number(Bounds::closed(1.0, 1000.0)), "Its quality M²; 1 is perfect")
        .needed()
        .like("1.2"),
    of("beam.lag", Kind::NumberOrPairs(LAG_S), "From a word to its light; pairs of speed and s")
        .unit("s")
        .default("0.0"),
    of("lens", Kind::Tables(Usual::Yes), "A lens; the first is fitted unless the job says"),
    of("lens.name", Kind::Text, "What a job calls it").needed().like("\"medium\""),
    of("lens.focal_length", Kind::Number(LENGTH), "Its focal length")
        .length("")
        .needed()
        .like("63.5"),
    of("lens.spot", Kind::Number(SHORT), "The spot's diameter in focus, as measured")
        .length("")
        .told("by the formula, from the beam")
        .like("0.15"),
    of("lens.depth_of_focus", Kind::Number(LENGTH), "Half of it, ±, as measured")
        .length("")
        .told("by the formula, from the beam")
        .like("0.6"),
    of("nozzle", Kind::Tables(Usual::Yes), "A nozzle; the first is fitted unless the job says"),
    of("nozzle.name", Kind::Text, "What a job calls it").needed().like("\"long barrel\""),
    of("nozzle.radius", Kind::Number(SHORT), "Its outer radius at the tip")
        .length("")
        .needed()
        .like("9.0"),
    of("nozzle.gap", Kind::Number(SHORT_OR_NONE), "From its tip to the work when in focus")
        .length("")
        .needed()
        .like("6.0"),
    of(
        "nozzle.step",
        Kind::SomePairs(STEP),
        "Where it widens: pairs of a height above the tip and the radius from there on",
    )
    .length("")
    .told("one radius all the way up")
    .like("[[25.0, 14.0]]"),
    of("carriage", Kind::Table(Usual::No), "What the nozzle hangs on, a box over the work"),
    of("carriage.x", Kind::Pair(BESIDE), "From, to along X, from the beam")
        .length("")
        .needed()
        .like("[-30.0, 40.0]"),
    of("carriage.y", Kind::Pair(BESIDE), "From, to along Y, from the beam")
        .length("")
        .needed()
        .like("[-25.0, 25.0]"),
    of("carriage.above", Kind::Number(SHORT_OR_NONE), "Its underside above the nozzle's tip")
        .length("")
        .needed()
        .like("45.0"),
];

static DEFAULTS: &[Key] = &[
    of("area", Kind::Table(Usual::Yes), "How areas are burned where the job has no operation"),
    of("area.speed", Kind::Number(RATE), "On the wall").length("/s").needed().like("250.0"),
    of("area.power", Kind::Number(PERCENT), "Of full power").unit("percent").needed().like("40.0"),
    of("area.lines_per_inch", Kind::Number(LINES_PER_INCH), "Scan lines to the inch of wall")
        .or("line_spacing")
        .like("400.0"),
    of("area.line_spacing", Kind::Number(LINE_SPACING), "Between scan lines on the wall")
        .length("")
        .or("lines_per_inch")
        .like("0.06"),
    of("picture", Kind::Table(Usual::Yes), "How pictures are burned where no operation takes them"),
    of("picture.speed", Kind::Number(RATE), "On the wall").length("/s").needed().like("250.0"),
    of("picture.power", Kind::Number(PERCENT), "Of full power, at full darkness")
        .unit("percent")
        .needed()
        .like("60.0"),
    of("picture.lines_per_inch", Kind::Number(LINES_PER_INCH), "Scan lines to the inch of wall")
        .or("line_spacing")
        .like("300.0"),
    of("picture.line_spacing", Kind::Number(LINE_SPACING), "Between scan lines on the wall")
        .length("")
        .or("lines_per_inch")
        .like("0.08"),
    of("picture.one_way", Kind::Flag, "True: every scan line goes the same way").default("false"),
    of("picture.tone", word::<Tone>(), "How greys become burns").default("\"power\""),
    of("picture.invert", Kind::Flag, "True: what is light is burned").default("false"),
    of("picture.gamma", Kind::Number(GAMMA), "Darkness is raised to this power").default("1.0"),
    of("picture.power_floor", Kind::Number(PERCENT_OR_NONE), "Where marking begins")
        .unit("percent")
        .default("0.0"),
    of(
        "picture.tone_curve",
        Kind::Pairs,
        "Percent of power at the spacing asked, and the darkness seen",
    )
    .like("[[12, 0.0], [30, 0.5], [60, 1.0]]"),
    of("picture.threshold", Kind::Number(PERCENT), "From which darkness on a place burns")
        .unit("percent")
        .default("50"),
    of("coating", Kind::Tables(Usual::No), "What a swatch has shown of a coating"),
    of("coating.name", Kind::Text, "What an operation calls it")
        .needed()
        .like("\"black powder coat\""),
    of("coating.speed", Kind::Number(RATE), "On the wall").length("/s").needed().like("200.0"),
    of("coating.power", Kind::Number(PERCENT), "Of full power")
        .unit("percent")
        .needed()
        .like("45.0"),
    of("coating.lines_per_inch", Kind::Number(LINES_PER_INCH), "Scan lines to the inch of wall")
        .not("line_spacing")
        .like("400.0"),
    of("coating.line_spacing", Kind::Number(LINE_SPACING), "Between scan lines on the wall")
        .length("")
        .not("lines_per_inch")
        .like("0.06"),
    of("line", Kind::Table(Usual::Yes), "How lines are burned where the job has no operation"),
    of("line.speed", Kind::Number(RATE), "On the wall").length("/s").needed().like("60.0"),
    of("line.power", Kind::Number(PERCENT), "Of full power").unit("percent").needed().like("20.0"),
];

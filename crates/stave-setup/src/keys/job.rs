//! The keys of a job.

use stave_wall::LayKind;

use super::{Key, Kind, SettingsFile, Usual, key, word};
use crate::job_file::{DEFOCUS, FADE};
use crate::job_option::{COORDINATE, DIAMETER, TILT_DEG, TOLERANCE, TURN_DEG, anchor_words};
use crate::machine_file::{PERCENT, RATE};
use crate::shading::{GAMMA, PERCENT_OR_NONE};
use crate::spacing::{LINE_SPACING, LINES_PER_INCH};
use crate::{
    AirLevel, Dose, FocusMode, LengthUnit, PlaceOf, Scan, Stands, Tone, Toward, Work, ZoneRule,
};

const ANCHOR: Kind = Kind::WordOrPair(anchor_words, COORDINATE);

const fn of(name: &'static str, kind: Kind, text: &'static str) -> Key {
    key(SettingsFile::Job, name, kind, text)
}

pub(super) static GROUPS: &[&[Key]] = &[TOP, PLACE, PIECES, OPERATIONS];

static TOP: &[Key] = &[
    of("units", word::<LengthUnit>(), "The unit of every length in this file").default("\"mm\""),
    of("blank", Kind::Text, "The blank's file, seen from this file; -b beats it")
        .like("\"cup.toml\""),
    of("machine", Kind::Text, "The machine's file, seen from this file; -m beats it")
        .like("\"bench.toml\""),
    of("input", Kind::Text, "The drawing or program, seen from this file; INPUT beats it")
        .like("\"crest.svg\""),
    of("allow", Kind::Texts, "Findings that are errors and are accepted, by code")
        .like("[\"defocus-far\"]"),
    of("fonts", Kind::Texts, "Font files, seen from this file, used before those installed")
        .like("\"lettering.ttf\""),
    of("lay", word::<LayKind>(), "The rule that carries the flat plane to the wall")
        .default("\"true-width\""),
    of("anchor", ANCHOR, "The point a lay is reckoned from; a point is [u, v]")
        .length("")
        .told("\"piece\" for drawings, \"drawing\" for programs")
        .like("\"piece\""),
    of("reference_diameter", Kind::Number(DIAMETER), "The diameter the art was drawn for")
        .length("")
        .told("the wall's largest")
        .like("88.0"),
    of("tolerance", Kind::Number(TOLERANCE), "How far a burn may stray from its exact image")
        .length("")
        .default("0.01"),
    of("tilt", Kind::Number(TILT_DEG), "The rotary raised at the end with the larger `at`")
        .unit("degrees")
        .default("0.0"),
    of("dose", word::<Dose>(), "What power does where the lay changes lengths and speeds")
        .told("\"even\" for drawings, \"as-given\" for programs")
        .like("\"even\""),
    of("zones", word::<ZoneRule>(), "What to do with burns in a zone").default("\"refuse\""),
    of("focus", word::<FocusMode>(), "Who keeps the focus: the user once, or Z")
        .default("\"fixed\""),
    of(
        "focus_at",
        Kind::Number(COORDINATE),
        "Where along the axis the user focuses, at the zero's turn",
    )
    .length("")
    .told("where the middle of the strip of what burns is")
    .like("90.0"),
    of("stands", word::<Stands>(), "How the ware stands in the drawing").default("\"upright\""),
    of("toward", word::<Toward>(), "Where the end with the larger `at` points").default("\"x+\""),
    of("lens", Kind::Text, "The lens fitted, by its name in the machine file")
        .told("the first there")
        .like("\"medium\""),
    of("nozzle", Kind::Text, "The nozzle fitted, by its name in the machine file")
        .told("the first there")
        .like("\"long barrel\""),
    of("set_diameter", Kind::Number(DIAMETER), "What the controller is told, for --to svg")
        .length("")
        .told("the reference diameter")
        .like("88.0"),
    of("contact_at", Kind::Number(COORDINATE), "As `place.contact_at`").length("").like("20.0"),
];

static PLACE: &[Key] = &[
    of("place", Kind::Table(Usual::Yes), "Where the flat origin, or the art, lands"),
    of("place.at", Kind::Number(COORDINATE), "Along the axis")
        .length("")
        .told("the first station")
        .like("10.0"),
    of("place.turn", Kind::Number(TURN_DEG), "Around").unit("degrees").default("0.0"),
    of("place.of", word::<PlaceOf>(), "What lands there").default("\"page\""),
    of("place.facet", Kind::Text, "The flat place of the blank that is burned, by its name")
        .like("\"front\""),
    of("place.contact_at", Kind::Number(COORDINATE), "Where along the axis a roller touches")
        .length("")
        .told("where the wall is widest")
        .like("20.0"),
    of("place.held_at", Kind::Number(COORDINATE), "Where along the axis the chuck's face is")
        .length("")
        .told("the first station")
        .like("0.0"),
    of("zero", Kind::Table(Usual::No), "Where the machine's zero is"),
    of("zero.at", Kind::Number(COORDINATE), "Along the axis")
        .length("")
        .told("that of [place]")
        .like("10.0"),
    of("zero.turn", Kind::Number(TURN_DEG), "Around")
        .unit("degrees")
        .told("that of [place]")
        .like("0.0"),
];

static PIECES: &[Key] = &[
    of("piece", Kind::Tables(Usual::No), "Elements of the drawing that are one piece"),
    of("piece.id", Kind::Texts, "Their ids").needed().like("[\"crest\", \"motto\"]"),
    of("piece.lay", word::<LayKind>(), "Its own lay").told("the job's").like("\"label\""),
    of("piece.anchor", ANCHOR, "Its own anchor").length("").told("the job's").like("\"piece\""),
];

static OPERATIONS: &[Key] = &[
    of("operation", Kind::Tables(Usual::No), "What is burned in one way, in order"),
    of("operation.name", Kind::Text, "What messages and programs call it")
        .needed()
        .like("\"crest\""),
    of("operation.pick", Kind::Table(Usual::Yes), "Which elements: by one of these").usual(),
    of("operation.pick.fill", Kind::Colour, "Those filled with this colour")
        .alone()
        .like("\"#1f3a5f\""),
    of("operation.pick.stroke", Kind::Colour, "Those outlined with it").alone().like("\"#a02020\""),
    of("operation.pick.id", Kind::Text, "Those with this id, or within a group that has it")
        .alone()
        .like("\"crest\""),
    of("operation.work", word::<Work>(), "Areas or lines").needed().like("\"area\""),
    of("operation.coating", Kind::Text, "One of the machine file's, for what is not said here")
        .like("\"black powder coat\""),
    of("operation.speed", Kind::Number(RATE), "On the wall")
        .length("/s")
        .unless("coating")
        .like("300.0"),
    of("operation.power", Kind::Number(PERCENT), "Of full power")
        .unit("percent")
        .unless("coating")
        .like("60.0"),
    of("operation.lines_per_inch", Kind::Number(LINES_PER_INCH), "Scan lines to the inch of wall")
        .not("line_spacing")
        .like("500.0"),
    of("operation.line_spacing", Kind::Number(LINE_SPACING), "Between scan lines on the wall")
        .length("")
        .not("lines_per_inch")
        .like("0.05"),
    of("operation.scan", word::<Scan>(), "Which way scan lines run").default("\"along\""),
    of("operation.cross", Kind::Flag, "True: every pass once more, by scan lines that run across")
        .default("false"),
    of("operation.one_way", Kind::Flag, "True: every scan line goes the same way").default("false"),
    of(
        "operation.fade",
        Kind::Number(FADE),
        "Lines of a full wrap overlap so far, and fade in and out",
    )
    .length("")
    .default("0.0"),
    of("operation.defocus", Kind::Number(DEFOCUS), "Out of focus on purpose: + head farther away")
        .length("")
        .default("0.0"),
    of("operation.tone", word::<Tone>(), "How greys become burns; for pictures, as what follows")
        .told("\"power\"")
        .like("\"diffused\""),
    of("operation.invert", Kind::Flag, "True: what is light is burned").told("false").like("true"),
    of("operation.gamma", Kind::Number(GAMMA), "Darkness is raised to this power")
        .told("1.0")
        .like("1.8"),
    of("operation.power_floor", Kind::Number(PERCENT_OR_NONE), "Where marking begins")
        .unit("percent")
        .told("0")
        .like("12.0"),
    of(
        "operation.tone_curve",
        Kind::Pairs,
        "Percent of power at the spacing asked, and the darkness seen",
    )
    .like("[[12, 0.0], [30, 0.5], [60, 1.0]]"),
    of("operation.threshold", Kind::Number(PERCENT), "From which darkness on a place burns")
        .unit("percent")
        .told("50")
        .like("40.0"),
    of("operation.passes", Kind::Whole(1, 1000), "How often it is burned").default("1"),
    of("operation.air", word::<AirLevel>(), "Its air assist").like("\"low\""),
    of("operation.lay", word::<LayKind>(), "Its own lay")
        .told("the piece's or job's")
        .like("\"label\""),
    of("operation.anchor", ANCHOR, "Its own anchor")
        .length("")
        .told("the piece's or job's")
        .like("\"piece\""),
    of("operation.dose", word::<Dose>(), "Its own dose").told("the job's").like("\"even\""),
    of("operation.optional", Kind::Flag, "True: it may pick nothing").default("false"),
];

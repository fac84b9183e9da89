//! The keys of a blank.

use stave_wall::WallShape;

use super::{Key, Kind, SettingsFile, Usual, key, word};
use crate::bounds::{Bounds, LONGEST_MM, THINNEST_MM};
use crate::job_option::COORDINATE;
use crate::{Finish, LengthUnit};

const DIAMETER: Bounds = Bounds::closed(THINNEST_MM, LONGEST_MM);
const NOT_NEGATIVE: Bounds = Bounds::closed(0.0, LONGEST_MM);

const fn of(name: &'static str, kind: Kind, text: &'static str) -> Key {
    key(SettingsFile::Blank, name, kind, text)
}

pub(super) static GROUPS: &[&[Key]] = &[
    &[
        of("name", Kind::Text, "What messages, pictures and programs call the ware")
            .told("the file's name")
            .usual()
            .like("\"flask\""),
        of("units", word::<LengthUnit>(), "The unit of every length in this file")
            .default("\"mm\""),
        of("wall", word::<WallShape>(), "How the wall runs between stations")
            .default("\"straight\""),
    ],
    &[
        of("station", Kind::Tables(Usual::Yes), "A measured place on the wall; two or more")
            .needed(),
        of("station.at", Kind::Number(COORDINATE), "Along the axis, from any datum; going up")
            .length("")
            .needed()
            .like("0.0")
            .then("120.0"),
        of("station.diameter", Kind::Number(DIAMETER), "The ware across, by caliper")
            .length("")
            .or("circumference")
            .like("70.0")
            .then("72.5"),
        of("station.circumference", Kind::Number(DIAMETER), "The ware around, by tape")
            .length("")
            .or("diameter")
            .like("219.91"),
        of("station.oval", Kind::Number(NOT_NEGATIVE), "The greatest less the least diameter")
            .length("")
            .default("0.0")
            .like("0.4"),
        of(
            "station.oval_turn",
            Kind::Number(Bounds::closed(0.0, 180.0)),
            "The turn of the greatest diameter",
        )
        .unit("degrees")
        .default("0.0")
        .like("35.0"),
        of("station.runout", Kind::Number(NOT_NEGATIVE), "How far its centre lies from the axis")
            .length("")
            .default("0.0")
            .like("0.2"),
        of(
            "station.runout_turn",
            Kind::Number(Bounds::closed(-360.0, 360.0)),
            "The turn towards which the centre lies",
        )
        .unit("degrees")
        .default("0.0")
        .like("120.0"),
    ],
    &[
        of("zone", Kind::Tables(Usual::No), "A patch of the wall that must not be burned"),
        of("zone.name", Kind::Text, "What messages call it").needed().like("\"handle\""),
        of("zone.at", Kind::Pair(COORDINATE), "From, to along the axis")
            .length("")
            .needed()
            .like("[20.0, 32.0]"),
        of(
            "zone.turn",
            Kind::Pair(Bounds::closed(-3600.0, 3600.0)),
            "From, to around; from less than to, either may pass a full turn",
        )
        .unit("degrees")
        .needed()
        .like("[170.0, 190.0]"),
        of(
            "zone.rise",
            Kind::Number(NOT_NEGATIVE),
            "How far it stands above the wall; 0 is a mark",
        )
        .length("")
        .default("0.0")
        .like("9.0"),
        of("zone.margin", Kind::Number(NOT_NEGATIVE), "Wall around it that is kept clear too")
            .length("")
            .told("half the spot")
            .like("0.5"),
    ],
    &[
        of("facet", Kind::Tables(Usual::No), "A flat place, burned with the rotary standing still"),
        of("facet.name", Kind::Text, "What jobs and messages call it").needed().like("\"front\""),
        of(
            "facet.turn",
            Kind::Number(Bounds::closed(-360.0, 360.0)),
            "The turn of its middle: at this turn it lies level under the beam",
        )
        .unit("degrees")
        .needed()
        .like("90.0"),
        of("facet.at", Kind::Pair(COORDINATE), "From, to along the axis")
            .length("")
            .needed()
            .like("[20.0, 60.0]"),
        of("facet.width", Kind::Number(DIAMETER), "Its width across the axis")
            .length("")
            .needed()
            .like("18.0"),
        of("facet.height", Kind::Number(DIAMETER), "From the axis to its plane")
            .length("")
            .needed()
            .like("44.0"),
    ],
    &[
        of("look", Kind::Table(Usual::No), "How the ware looks, for the customer's picture"),
        of("look.ware", Kind::Colour, "Its colour as it comes")
            .default("\"#efeee9\"")
            .like("\"#20324f\""),
        of("look.burn", Kind::Colour, "The colour of what is burned")
            .default("\"#3a3733\"")
            .like("\"#d9d9d6\""),
        of("look.finish", word::<Finish>(), "How its surface takes the light").default("\"matt\""),
    ],
];

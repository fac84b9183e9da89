//! What the page's script draws from, as JSON.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Serialize;
use stave_setup::{Finish, LengthUnit, Stands};

use super::super::head_data::NozzleData;
use super::super::mesh::{Mesh, Packed, packed};
use super::super::outline::thinned_with_s;
use super::super::png::encode_raw;
use super::super::sheet::shown;
use super::super::unrolled::true_across_mm;
use super::super::{BurnMap, ProofParts, ramp};
use super::way::TrackData;

/// The latest time of the map: 0 is never.
const LAST_TIME: f64 = 65535.0;

#[derive(Serialize)]
pub(super) struct Data<'a> {
    name: &'a str,
    customer: bool,
    plane: bool,
    /// Whether lengths are told in inches: all the numbers here are mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    inches: Option<bool>,
    stands: &'static str,
    wall: WallData,
    stations: Vec<StationData>,
    zones: Vec<ZoneData<'a>>,
    facets: Vec<FacetData<'a>>,
    map: MapData,
    mesh: Option<Packed>,
    ramp: String,
    look: Option<LookData>,
    nozzles: Vec<NozzleData>,
    track: Option<TrackData>,
    duration: f64,
    sections: &'a [String],
    findings_title: String,
    findings: Vec<FindingData<'a>>,
    figures: Vec<(&'a str, &'a str)>,
}

#[derive(Serialize)]
struct WallData {
    s: Vec<f64>,
    at: Vec<f64>,
    r: Vec<f64>,
    /// The radius at which the unrolled wall is as wide as it is long.
    around: f64,
    /// Whether it is as wide everywhere, so that nobody need be told where that holds.
    even: bool,
}

#[derive(Serialize)]
struct StationData {
    s: f64,
    at: f64,
    diameter: f64,
    at_text: String,
    diameter_text: String,
}

#[derive(Serialize)]
struct ZoneData<'a> {
    name: &'a str,
    s: (f64, f64),
    turn: (f64, f64),
    rise: f64,
    margin: f64,
}

/// The edge of a flat place, which is not on the wall and is burned by itself.
#[derive(Serialize)]
struct FacetData<'a> {
    name: &'a str,
    s: (f64, f64),
    turn: (f64, f64),
}

/// The ware's own colours, where it tells them and a customer looks.
#[derive(Serialize)]
struct LookData {
    ware: String,
    burn: String,
    metal: bool,
}

#[derive(Serialize)]
struct MapData {
    /// Nothing where all that burns is in the mesh.
    png: Option<String>,
    /// Whether a fifth picture says where what burns is not what was meant.
    compared: bool,
    top: f64,
    top_text: String,
    /// What stands after an energy, where the legend alone does not say it.
    #[serde(skip_serializing_if = "Option::is_none")]
    unit: Option<&'static str>,
}

#[derive(Serialize)]
struct FindingData<'a> {
    severity: &'static str,
    message: &'a str,
    s: Option<f64>,
    turn: Option<f64>,
}

impl ProofParts<'_> {
    pub(super) fn data(&self, customer: bool) -> Data<'_> {
        let wall = &self.blank.wall;
        let outline = thinned_with_s(&wall.sections_between(0.0, wall.length_mm()), 0.02);
        // Where two programs are compared each place has its own colour: all is drawn from the map.
        let meant = self.meant.filter(|_| !customer);
        let mesh = match meant {
            None => Mesh::of(self.burns, self.map),
            Some(_) => Mesh::default(),
        };
        let duration =
            if customer { 0.0 } else { self.track.last().map_or(0.0, |point| point.at_s) };
        let zones = self
            .blank
            .zones
            .iter()
            .zip(self.margins_mm.iter().copied().chain(std::iter::repeat(0.0)));
        let (findings, figures, sections) = if customer {
            (&[][..], &[][..], &[][..])
        } else {
            (self.findings.as_slice(), self.figures.as_slice(), self.sections.as_slice())
        };
        let unit = self.blank.unit();
        Data {
            name: &self.name,
            customer,
            plane: self.plane.is_some(),
            inches: (unit == LengthUnit::Inch).then_some(true),
            stands: match self.stands {
                Stands::Upright => "upright",
                Stands::Inverted => "inverted",
                Stands::Lying => "lying",
            },
            wall: WallData {
                s: outline.iter().map(|(s, _)| *s).collect(),
                at: outline.iter().map(|(_, section)| section.at_mm).collect(),
                r: outline.iter().map(|(_, section)| section.radius_mm).collect(),
                around: self.true_radius_mm(),
                even: true_across_mm(self.blank).is_none(),
            },
            stations: self
                .blank
                .stations
                .iter()
                .map(|station| StationData {
                    s: wall.s_of_at(station.at_mm),
                    at: station.at_mm,
                    diameter: 2.0 * station.radius_mm,
                    at_text: unit.figure(station.at_mm, 2),
                    diameter_text: match self.plane {
                        Some(_) => String::new(),
                        None => unit.figure(2.0 * station.radius_mm, 2),
                    },
                })
                .collect(),
            zones: zones
                .filter(|(zone, _)| !customer || zone.rise_mm > 0.0)
                .map(|(zone, margin)| ZoneData {
                    name: if customer { "" } else { &zone.name },
                    s: (
                        wall.s_of_at(zone.at_mm.0).clamp(0.0, wall.length_mm()),
                        wall.s_of_at(zone.at_mm.1).clamp(0.0, wall.length_mm()),
                    ),
                    turn: zone.turn_rad,
                    rise: zone.rise_mm,
                    margin,
                })
                .collect(),
            facets: self.facets_data(customer),
            map: self.map_data(duration, &mesh, meant),
            mesh: (!mesh.triangles.is_empty()).then(|| {
                let radius_mm = wall.largest_radius_mm();
                packed(&mesh, radius_mm, duration, self.map.top_density())
            }),
            ramp: STANDARD.encode(
                (0..=255_u8).flat_map(|k| ramp::colour(f64::from(k) / 255.0)).collect::<Vec<u8>>(),
            ),
            look: customer.then(|| {
                let look = self.blank.look.unwrap_or_default();
                LookData {
                    ware: look.ware.to_string(),
                    burn: look.burn.to_string(),
                    metal: look.finish == Finish::Metal,
                }
            }),
            nozzles: match customer {
                true => Vec::new(),
                false => NozzleData::all(&self.lies, self.more_set_ups),
            },
            track: (!customer && !self.track.is_empty())
                .then(|| TrackData::of(self.track, wall.largest_radius_mm())),
            duration,
            sections,
            findings_title: if customer { String::new() } else { self.findings_title() },
            findings: findings
                .iter()
                .map(|finding| FindingData {
                    severity: finding.severity.word(),
                    message: &finding.message,
                    s: finding.place.map(|place| place.s_mm.clamp(0.0, wall.length_mm())),
                    turn: finding.place.map(|place| place.turn_rad),
                })
                .collect(),
            figures: figures
                .iter()
                .map(|figure| (figure.name.as_str(), figure.value.as_str()))
                .collect(),
        }
    }

    /// The flat places that lie beside some of the wall; those of a plane are not on it.
    fn facets_data(&self, customer: bool) -> Vec<FacetData<'_>> {
        let wall = &self.blank.wall;
        let facets = self.blank.facets.iter().filter(|_| self.plane.is_none());
        facets
            .map(|facet| {
                let on = |at_mm| wall.s_of_at(at_mm).clamp(0.0, wall.length_mm());
                let name = if customer { "" } else { facet.name.as_str() };
                let s = (on(facet.at_mm.0), on(facet.at_mm.1));
                FacetData { name, s, turn: facet.turns_rad() }
            })
            .filter(|facet| facet.s.0 < facet.s.1)
            .collect()
    }

    /// The radius where the unrolled wall is to be true: amid what is burned, where anything is,
    /// else where it is widest.
    pub(super) fn true_radius_mm(&self) -> f64 {
        let wall = &self.blank.wall;
        self.lies.burned_s_mm.map_or(wall.largest_radius_mm(), |(from, to)| {
            wall.section(0.5 * (from + to), &mut 0).radius_mm
        })
    }

    /// The map as grey pictures on top of each other: energy, the two bytes of the first time,
    /// section. What is in the mesh is left out. Held against what was meant, a fifth says where it
    /// differs; what is not burned there is there from the start.
    fn map_data(&self, duration: f64, mesh: &Mesh, meant: Option<&BurnMap>) -> MapData {
        let (rows, columns) = self.map.size();
        let cells = rows * columns;
        let top = self.map.top_density();
        let in_mesh =
            |section: u16| mesh.sections.get(usize::from(section)).copied().unwrap_or(false);
        let mut any = false;
        let count = if meant.is_some() { 5 } else { 4 };
        let mut planes = vec![0_u8; count * cells];
        for cell in 0..cells {
            let Some((first_s, section)) = self.map.first(cell) else { continue };
            if in_mesh(section) {
                continue;
            }
            any = true;
            let share = if top > 0.0 { self.map.strength(cell) / top } else { 0.0 };
            let time =
                if duration > 0.0 { (f64::from(first_s) / duration).clamp(0.0, 1.0) } else { 0.0 };
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let (energy, time) = (
                (255.0 * share.min(1.0)).round() as u8,
                (1.0 + (LAST_TIME - 1.0) * time).floor() as u16,
            );
            let [high, low] = time.to_be_bytes();
            planes[cell] = energy;
            planes[cells + cell] = high;
            planes[2 * cells + cell] = low;
            planes[3 * cells + cell] = u8::try_from(section).unwrap_or(u8::MAX);
        }
        if let Some(meant) = meant {
            any = true;
            for cell in 0..cells {
                let place = self.map.place(cell);
                match (self.map.burned_at(place), meant.burned_at(place)) {
                    (true, false) if !meant.burned_near(place) => planes[4 * cells + cell] = 1,
                    (false, true) if !self.map.burned_near(place) => {
                        planes[4 * cells + cell] = 2;
                        planes[2 * cells + cell] = 1;
                    }
                    _ => {}
                }
            }
        }
        let png = any.then(|| {
            STANDARD.encode(encode_raw(columns, count * rows, png::ColorType::Grayscale, &planes))
        });
        let top = self.top_told();
        let unit = self.energy.after_figure();
        MapData { png, compared: meant.is_some(), top, top_text: shown(top), unit }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::sample::parts;
    use super::super::super::{BurnMap, Burns, FlatPlace, Lies, SetUpShown};

    /// What is engraved has its true proportions where a customer looks at all of it at once.
    #[test]
    fn the_unrolled_wall_is_true_amid_what_is_burned() {
        let cup = "name = \"cup\"\n[[station]]\nat = 0\ndiameter = 60\n\
                   [[station]]\nat = 100\ndiameter = 90\n";
        let blank = stave_setup::read_blank(cup, "cup.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        assert!((parts.data(true).wall.around - 45.0).abs() < 1e-9);
        let third = blank.wall.length_mm() / 3.0;
        parts.lies.burned_s_mm = Some((third - 5.0, third + 5.0));
        assert!((parts.data(true).wall.around - 35.0).abs() < 1e-9);
    }

    /// Of a program in several set-ups the page has the head as it stands in each.
    #[test]
    fn the_head_is_told_for_each_set_up() {
        let can = super::super::super::sample::CAN;
        let blank = stave_setup::read_blank(can, "can.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let lies = |number, burned: (f64, f64)| Lies {
            tilt_rad: 0.01 * f64::from(number),
            nozzle_mm: Some((9.0, 6.0)),
            set_up: Some(SetUpShown { number, of: 2, burned_s_mm: Some(burned) }),
            ..Lies::default()
        };
        let second = [lies(2, (50.0, 80.0))];
        let mut parts = parts(&blank, (&map, &burns));
        (parts.lies, parts.more_set_ups) = (lies(1, (10.0, 50.0)), &second);
        let told = serde_json::to_value(parts.data(false)).unwrap();
        assert_eq!(told["nozzles"].as_array().unwrap().len(), 2);
        assert_eq!(told["nozzles"][1]["stretch"][1].as_f64(), Some(80.0));
        assert_eq!(told["nozzles"][1]["tilt"].as_f64(), Some(0.02));
        let told = serde_json::to_value(parts.data(true)).unwrap();
        assert!(told["nozzles"].as_array().unwrap().is_empty());
    }

    /// Flat places are told with their turns, to the customer without their names; on one of them
    /// the others are not.
    #[test]
    fn flat_places_are_on_the_page() {
        let mug = format!(
            "{}[[facet]]\nname = \"front\"\nturn = 90\nat = [20, 70]\nwidth = 20\nheight = 33\n",
            super::super::super::sample::CAN
        );
        let blank = stave_setup::read_blank(&mug, "mug.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        let data = parts.data(false);
        let [facet] = data.facets.as_slice() else { panic!("{} places", data.facets.len()) };
        assert_eq!((facet.name, facet.s), ("front", (20.0, 70.0)));
        let half = (10.0_f64 / 33.0).atan();
        assert!((facet.turn.1 - std::f64::consts::FRAC_PI_2 - half).abs() < 1e-9);
        assert!(parts.data(true).facets[0].name.is_empty());
        parts.plane = Some(FlatPlace { facet: &blank.facets[0], ware: &blank });
        assert!(parts.data(false).facets.is_empty());
    }
}

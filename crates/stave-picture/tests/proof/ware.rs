//! A stepped bottle with a boss and a mark, and burns on it.

use stave_picture::SheetSize;
use stave_picture::proof::{
    BurnMap, Burns, EnergyUnit, Figure, FileShown, LegKind, Lies, ProofParts, Remark, Track,
    TrackPoint, WallPlace, Weight,
};
use stave_setup::{Blank, Stands, read_blank};

const BOTTLE: &str = r#"
name = "stepped bottle"
[[station]]
at = 0
diameter = 66
[[station]]
at = 95
diameter = 70
[[station]]
at = 101
diameter = 86
[[station]]
at = 175
diameter = 88
[[zone]]
name = "upper boss"
at = [150, 164]
turn = [170, 190]
rise = 9
margin = 0.5
[[zone]]
name = "maker's mark"
at = [8, 20]
turn = [100, 125]
"#;

pub fn bottle() -> Blank {
    read_blank(BOTTLE, "bottle.toml").unwrap()
}

/// A wall with burns on it.
pub struct Burned {
    pub blank: Blank,
    pub map: BurnMap,
    pub burns: Burns,
    pub track: Vec<TrackPoint>,
}

/// Draws strokes of (s, turn in degrees), each with a power in percent, at 50 mm/s.
pub fn burn(strokes: &[(f64, Vec<(f64, f64)>)]) -> Burned {
    let blank = bottle();
    let mut map = BurnMap::new(&blank.wall, 0.2);
    let mut burns = Burns::new(&blank.wall, 0.2);
    let mut track = Track::new(blank.wall.largest_radius_mm());
    let place = |(s_mm, turn): (f64, f64)| WallPlace { s_mm, turn_rad: turn.to_radians() };
    let mut at_s = 0.0;
    for (section, (power, points)) in strokes.iter().enumerate() {
        let section = u16::try_from(section).unwrap();
        for (i, pair) in points.windows(2).enumerate() {
            let (from, to) = (place(pair[0]), place(pair[1]));
            if i == 0 {
                track.go(TrackPoint { place: from, at_s, kind: LegKind::Travel, section });
            }
            let radius = blank.wall.section(from.s_mm, &mut 0).radius_mm;
            let length = (to.s_mm - from.s_mm).hypot((to.turn_rad - from.turn_rad) * radius);
            let energy = power * length / 50.0;
            map.burn(from, to, energy, at_s, section);
            burns.burn((from, to), energy, (at_s, at_s + length / 50.0), section);
            at_s += length / 50.0;
            track.go(TrackPoint { place: to, at_s, kind: LegKind::Burn, section });
        }
    }
    Burned { blank, map, burns, track: track.finish() }
}

/// A low tin, bare.
pub fn low_tin() -> Burned {
    let text = "name = \"tin\"\n[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 40\n\
                diameter = 80\n";
    let blank = read_blank(text, "tin.toml").unwrap();
    let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
    Burned { blank, map, burns, track: Vec::new() }
}

/// The letter F across the step, mirrored if asked (so that a mirror image cannot pass), a dark
/// square and a band all round.
pub fn letter(mirror: f64) -> Burned {
    let f =
        |points: &[(f64, f64)]| points.iter().map(|(s, t)| (*s, mirror * t)).collect::<Vec<_>>();
    let mut strokes = vec![
        (20.0, f(&[(60.0, 25.0), (140.0, 25.0), (140.0, -30.0)])),
        (40.0, f(&[(105.0, 25.0), (105.0, -15.0)])),
        (
            30.0,
            (-180..=180)
                .map(|t| (50.0 + 3.0 * (f64::from(t) / 10.0).sin(), f64::from(t)))
                .collect(),
        ),
    ];
    let hatch = (0..120).map(|k| {
        let s = 70.0 + 0.1 * f64::from(k);
        (30.0, f(&[(s, -40.0), (s, -60.0)]))
    });
    strokes.extend(hatch);
    burn(&strokes)
}

/// A file that the proof names.
fn file(what: &'static str, name: &str, digest: &str) -> FileShown {
    FileShown { what, name: name.to_owned(), digest: digest.to_owned() }
}

pub fn proof<'a>(burned: &'a Burned, meant: Option<&'a Burned>, stands: Stands) -> ProofParts<'a> {
    let figure = |name: &str, value: &str| Figure { name: name.into(), value: value.into() };
    ProofParts {
        blank: &burned.blank,
        plane: None,
        stands,
        date: "2026-11-30".into(),
        sheet: SheetSize::A4,
        name: "club letter".into(),
        files: vec![
            file("blank", "bottle.toml", "0a9f4ca3"),
            file("machine", "bench.toml", "1b2c3d4e"),
            file("input", "crest.svg", "ba7816bf"),
        ],
        wrapped_for: "wrapped for \"stepped bottle\" on \"bench\", true-width, tilt -5.5°".into(),
        map: &burned.map,
        energy: EnergyUnit::default(),
        burns: &burned.burns,
        meant: meant.map(|meant| &meant.map),
        track: &burned.track,
        sections: vec!["letter".into()],
        margins_mm: vec![0.5, 0.1],
        more_set_ups: &[],
        lies: Lies {
            tilt_rad: -5.5_f64.to_radians(),
            focus_height_mm: Some(32.0),
            half_depth_mm: Some(1.2),
            nozzle_mm: Some((9.0, 6.0)),
            nozzle_s_mm: 100.0,
            burned_s_mm: Some((47.0, 140.0)),
            burned_turn_rad: Some((-1.0, 1.0)),
            burned_around_mm: Some(66.0),
            mirrored: false,
            ..Lies::default()
        },
        figures: vec![figure("time", "3 min 12 s"), figure("burned", "1234.5 mm")],
        findings: vec![
            Remark {
                severity: Weight::Error,
                message: "a burn lies in the zone \"upper boss\"".into(),
                place: Some(WallPlace { s_mm: 160.0, turn_rad: 175_f64.to_radians() }),
            },
            Remark {
                severity: Weight::Warning,
                message: "the crest strays 2.1 mm from the focus, more than the lens holds sharp"
                    .into(),
                place: Some(WallPlace { s_mm: 140.0, turn_rad: 0.2 }),
            },
        ],
        texts: vec!["Reedwater <Rowing> Club".into()],
        texts_are_listed: true,
        cautions: "Laser light blinds and sets fire: never leave a running job.",
    }
}

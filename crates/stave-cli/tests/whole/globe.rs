//! A map of the world in Mercator's projection, laid by true-shape on a ball, is a globe.

use kurbo::{BezPath, ParamCurve, Point, Shape as _};

use crate::command::{LAID, fixture, run};
use crate::program::{self, Kind};

/// The ball's radius, mm, and the diameter the controller is told.
const RADIUS: f64 = 40.0;

/// Latitude, longitude, whether there is land. General knowledge, from memory, to half a degree;
/// none lies nearer to a coast than the source's outline is coarse.
const PLACES: [(&str, f64, f64, bool); 13] = [
    ("Madrid", 40.4, -3.7, true),
    ("Moscow", 55.8, 37.6, true),
    ("Nairobi", -1.3, 36.8, true),
    ("Delhi", 28.6, 77.2, true),
    ("Alice Springs", -23.7, 133.9, true),
    ("Denver", 39.7, -105.0, true),
    ("Brasilia", -15.8, -47.9, true),
    ("the middle of the North Sea", 56.0, 3.0, false),
    ("the Arabian Sea", 15.0, 65.0, false),
    ("the Atlantic on the equator", 0.0, -25.0, false),
    ("the Pacific south of Hawaii", 10.0, -155.0, false),
    ("the Tasman Sea", -38.0, 160.0, false),
    ("the Bay of Bengal", 15.0, 88.0, false),
];

/// Where the page of the drawing that was written has a place of the globe: the X word along, from
/// the first station at 70° south; turn times radius around. The map is seen from outside, and so
/// east lies towards falling turn: to the page's right.
fn on_page(page: (f64, f64), lon_deg: f64, lat_deg: f64) -> Point {
    let along = RADIUS * (lat_deg.to_radians().sin() + 70_f64.to_radians().sin());
    Point::new(page.0 / 2.0 + RADIUS * lon_deg.to_radians(), page.1 - along)
}

#[test]
fn coasts_and_cities_lie_at_their_latitude_and_longitude() {
    let out = run(
        &[
            "wrap",
            "fixtures/globe/world.svg",
            "-b",
            "fixtures/globe/ball.toml",
            "-m",
            "fixtures/machines/degrees.toml",
            "-j",
            "fixtures/globe/job.toml",
            "--to",
            "svg",
            "-q",
        ],
        b"",
    )
    .done();
    let document = roxmltree::Document::parse(out.out_text()).unwrap();
    let mm = |name: &str| -> f64 {
        document.root_element().attribute(name).unwrap().trim_end_matches("mm").parse().unwrap()
    };
    let page = (mm("width"), mm("height"));
    let path = |id: &str| {
        let drawn = document.descendants().find(|n| n.attribute("id") == Some(id)).unwrap();
        BezPath::from_svg(drawn.attribute("d").unwrap()).unwrap()
    };
    let land = path("land");

    // The coast of the source: every point of it lies on the outline, on the ball within the
    // tolerance and the map's own rounding.
    let outline: Vec<Point> =
        land.segments().flat_map(|s| (0..=4).map(move |k| s.eval(f64::from(k) / 4.0))).collect();
    let points = std::fs::read_to_string(fixture("globe/coast-points.csv")).unwrap();
    let points: Vec<(f64, f64)> = points
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| line.split_once(',').unwrap())
        .map(|(lon, lat)| (lon.parse().unwrap(), lat.parse().unwrap()))
        .collect();
    assert!(points.len() > 50);
    for (lon, lat) in points {
        let at = on_page(page, lon, lat);
        let cos = f64::to_radians(lat).cos();
        let near = outline
            .iter()
            .map(|p| ((p.x - at.x) * cos).hypot((p.y - at.y) / cos))
            .fold(f64::INFINITY, f64::min);
        assert!(near < 0.015, "{lon}°, {lat}°: {near} mm");
    }

    for (place, lat, lon, is_land) in PLACES {
        assert_eq!(land.winding(on_page(page, lon, lat)) != 0, is_land, "{place}");
    }

    // The lines every 30° stand where they should: one of each through 60° north, 30° east.
    let lines = path("graticule");
    let crossing = on_page(page, 30.0, 60.0);
    let through = lines.segments().filter(|s| {
        let (a, b) = (s.eval(0.0), s.eval(1.0));
        let level = (a.y - crossing.y).abs() < 0.01 && (b.y - crossing.y).abs() < 0.01;
        let upright = (a.x - crossing.x).abs() < 0.01 && (b.x - crossing.x).abs() < 0.01;
        level != upright && (level || a.y.min(b.y) <= crossing.y && a.y.max(b.y) >= crossing.y)
    });
    assert!(through.count() >= 2);
}

/// The same by a program: the beam passes over every city, and over no sea.
#[test]
fn the_program_burns_land_and_leaves_the_sea() {
    let folder = tempfile::tempdir().unwrap();
    let job = std::fs::read_to_string(fixture("globe/job.toml")).unwrap();
    let coarse = folder.path().join("job.toml");
    // Lines 1 mm apart will do.
    std::fs::write(&coarse, job.replace("lines_per_inch = 254", "line_spacing = 1.0")).unwrap();
    let out = run(
        &[
            "wrap",
            "fixtures/globe/world.svg",
            "-b",
            "fixtures/globe/ball.toml",
            "-m",
            "fixtures/machines/degrees.toml",
            "-j",
            coarse.to_str().unwrap(),
            "-q",
            LAID[0],
            LAID[1],
        ],
        b"",
    )
    .done();
    let moves = program::read(out.out_text()).moves;
    // Scan lines run along the axis at one turn.
    let lines: Vec<_> =
        moves.iter().filter(|m| m.kind == Kind::Burn && m.from[3] == m.to[3]).collect();
    assert!(lines.len() > 200, "{}", lines.len());
    for (place, lat, lon, is_land) in PLACES {
        let along = RADIUS * (lat.to_radians().sin() + 70_f64.to_radians().sin());
        let passes = lines.iter().any(|m| {
            let around = RADIUS * lat.to_radians().cos() * (m.from[3] + lon).to_radians();
            around.abs() < 0.75 && m.from[0].min(m.to[0]) < along && m.from[0].max(m.to[0]) > along
        });
        assert_eq!(passes, is_land, "{place}");
    }
}

/// The page of the proof can be sent: of all the fixtures this has the longest way of the beam.
#[test]
fn its_page_is_less_than_a_megabyte() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("globe.html");
    let [ball, job] = ["globe/ball.toml", "globe/job.toml"].map(fixture);
    let (art, machine) = (fixture("globe/world.svg"), fixture("machines/degrees.toml"));
    let files = [&art, &ball, &machine, &job, &page].map(|path| path.to_str().unwrap());
    let [art, ball, machine, job, out] = files;
    run(&["proof", art, "-b", ball, "-m", machine, "-j", job, "-q", "-o", out], b"").done();
    let bytes = std::fs::metadata(&page).unwrap().len();
    assert!((100_000..1_000_000).contains(&bytes), "{bytes}");
}

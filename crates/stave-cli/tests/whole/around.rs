//! `scan = "around"`: pictures on lines around the work, their words alone put back on the wall,
//! and from there into the flat plane.

use crate::case::{Bench, Case};
use crate::command::{fixture, run_in};
use crate::pictures::{
    COLUMNS, HEIGHT_MM, POWER, ROWS, SPACING_MM, SPEED, WIDTH_MM, cases, chart, darkness, photo,
    png, similarity, wrapped,
};
use crate::program::{self, Kind, Program, Rate};

/// A line around as its words burn it: where along the meridian, and the energy of each stretch of
/// turn over that of full power at the speed and spacing asked.
struct Ring {
    s: f64,
    burns: Vec<(f64, f64, f64)>,
}

fn rings(bench: &Bench, program: &Program) -> Vec<Ring> {
    let mut rings: Vec<Ring> = Vec::new();
    for burn in program.moves.iter().filter(|m| m.kind == Kind::Burn) {
        let words = [bench.rotary.of_axes(&burn.from), bench.rotary.of_axes(&burn.to)];
        assert_eq!(words[0][0], words[1][0], "the head stands still while burning");
        let [a, b] = words.map(|words| bench.rotary.place(&bench.wall, words));
        let Some(Rate::PerMinute(feed)) = burn.rate else { panic!("a burn has a feed") };
        let seconds = (words[1][1] - words[0][1]).abs() / (feed / 60.0);
        let long = (b[1] - a[1]).abs() * bench.wall.at_s(a[0]).r;
        let energy = burn.power.unwrap() / 1000.0 * seconds / long;
        let ring = match rings.iter_mut().rev().find(|ring| (ring.s - a[0]).abs() < 1e-6) {
            Some(ring) => ring,
            None => {
                rings.push(Ring { s: a[0], burns: Vec::new() });
                rings.last_mut().unwrap()
            }
        };
        ring.burns.push((a[1].min(b[1]), a[1].max(b[1]), energy));
    }
    rings.sort_by(|a, b| a.s.total_cmp(&b.s));
    let apart: Vec<f64> = rings.windows(2).map(|w| w[1].s - w[0].s).collect();
    // Evenly apart on the wall, wherever it leads, to the rounding of the words; a line on which
    // nothing burns may be left out.
    for one in &apart {
        let lines = (one / SPACING_MM).round();
        assert!((one - lines * SPACING_MM).abs() < 1e-3 && lines >= 1.0, "{one}");
    }
    let full = POWER / 100.0 / (SPEED * SPACING_MM);
    for ring in &mut rings {
        ring.burns.sort_by(|a, b| a.0.total_cmp(&b.0));
        ring.burns.iter_mut().for_each(|burn| burn.2 /= SPACING_MM * full);
    }
    rings
}

/// The energy at a point of the picture, mm from its top left corner.
fn seen(bench: &Bench, rings: &[Ring], x: f64, y: f64) -> f64 {
    let [s, turn] = bench.image([HEIGHT_MM - y, WIDTH_MM / 2.0 - x]);
    let above = rings.partition_point(|ring| ring.s < s);
    let near = [above.checked_sub(1), Some(above)].into_iter().flatten();
    let ring = near
        .filter_map(|k| rings.get(k))
        .min_by(|a, b| (a.s - s).abs().total_cmp(&(b.s - s).abs()))
        .unwrap();
    let next = ring.burns.partition_point(|burn| burn.1 <= turn);
    ring.burns.get(next).filter(|burn| burn.0 <= turn).map_or(0.0, |burn| burn.2)
}

/// Each ware once, each with another lay; the ball with a focus that follows.
fn each() -> Vec<Case> {
    let all = cases();
    let follow = |case: &Case| Case { follow: true, ..case.clone() };
    vec![all[1].clone(), all[5].clone(), follow(&all[6])]
}

#[test]
fn a_photograph_burned_around_is_the_photograph() {
    let source: Vec<f64> =
        (0..COLUMNS * ROWS).map(|k| darkness(photo(k % COLUMNS, k / COLUMNS))).collect();
    let picture = png(COLUMNS, ROWS, photo);
    for case in each() {
        let bench = case.bench();
        let outcome = wrapped(&case, &picture, "scan = \"around\"").done();
        let rings = rings(&bench, &program::read(outcome.out_text()));
        assert!(rings.len() > 200, "{case:?} {}", rings.len());
        let pixel = WIDTH_MM / f64::from(COLUMNS);
        let found: Vec<f64> = (0..COLUMNS * ROWS)
            .map(|k| {
                let place = |k: u32| (f64::from(k) + 0.5) * pixel;
                seen(&bench, &rings, place(k % COLUMNS), place(k / COLUMNS))
            })
            .collect();
        let alike = similarity(&found, &source, COLUMNS as usize, ROWS as usize);
        assert!(alike > 0.98, "{case:?}: {alike}");
    }
}

#[test]
fn every_patch_of_a_chart_gets_its_energy_around() {
    let picture = png(COLUMNS, ROWS, chart);
    for case in each() {
        let bench = case.bench();
        let outcome = wrapped(&case, &picture, "scan = \"around\"\npower_floor = 12").done();
        let rings = rings(&bench, &program::read(outcome.out_text()));
        for patch in 0..6 {
            let d = darkness(chart(patch * COLUMNS / 6 + 1, 0));
            let wanted = (12.0 + (POWER - 12.0) * d) / POWER;
            for row in 1..30 {
                let x = (f64::from(patch) + 0.5) * WIDTH_MM / 6.0;
                let found = seen(&bench, &rings, x, f64::from(row));
                assert!((found / wanted - 1.0).abs() < 0.02, "{case:?} {patch}: {found} {wanted}");
            }
        }
    }
}

/// Dots are a line spacing square on the wall, of full power, and their mean is the tone.
#[test]
fn a_halftone_around_has_the_mean_of_the_tone() {
    let picture = png(COLUMNS, ROWS, chart);
    let case = &each()[0];
    let bench = case.bench();
    for tone in ["ordered", "diffused"] {
        let more = format!("scan = \"around\"\ntone = \"{tone}\"");
        let outcome = wrapped(case, &picture, &more).done();
        let rings = rings(&bench, &program::read(outcome.out_text()));
        for patch in 0..6 {
            let d = darkness(chart(patch * COLUMNS / 6 + 1, 0));
            let (mut burned, mut all) = (0.0, 0.0);
            // Every line there is between top and bottom: those without a dot too.
            let [low, high] = [29.0, 1.0].map(|y| bench.image([HEIGHT_MM - y, 0.0])[0]);
            let lines = ((high - low) / SPACING_MM).round();
            for ring in rings.iter().filter(|ring| ring.s > low && ring.s < high) {
                let u = bench.u_of_s(ring.s);
                let edge = |share: f64| {
                    let x = (f64::from(patch) + share) * WIDTH_MM / 6.0;
                    bench.image([u, WIDTH_MM / 2.0 - x])[1]
                };
                let (from, to) = (edge(0.9), edge(0.1));
                let radius = bench.wall.at_s(ring.s).r;
                for burn in &ring.burns {
                    burned += (burn.1.min(to) - burn.0.max(from)).max(0.0) * radius;
                    let dots = (burn.1 - burn.0) * radius / SPACING_MM;
                    let whole = (dots - dots.round()).abs() < 0.02;
                    let at_end = burn.0 < edge_of(&bench, u, WIDTH_MM) + 1e-3
                        || burn.1 > edge_of(&bench, u, 0.0) - 1e-3;
                    assert!(whole || at_end, "{dots} dots");
                    assert!((burn.2 - 1.0).abs() < 0.02, "{}", burn.2);
                }
                all += (to - from) * radius / rings_between(&rings, low, high) * lines;
            }
            let mean: f64 = burned / all;
            assert!((mean - d).abs() < 0.015, "{tone} {patch}: {mean} {d}");
        }
    }
}

fn rings_between(rings: &[Ring], low: f64, high: f64) -> f64 {
    rings.iter().filter(|ring| ring.s > low && ring.s < high).count() as f64
}

fn edge_of(bench: &Bench, u: f64, x: f64) -> f64 {
    bench.image([u, WIDTH_MM / 2.0 - x])[1]
}

/// A band all the way around is burned once by lines there and back, whose words begin and end
/// apart by the lag; it is no overlap.
#[test]
fn a_band_that_closes_is_fit_where_the_light_comes_late() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let (lag, speed) = (0.0008, 200.0);
    let machine = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    let machine = machine.replace("[beam]", &format!("[beam]\nlag = {lag}"));
    std::fs::write(folder.join("bench.toml"), machine).unwrap();
    let around = std::f64::consts::PI * 74.0;
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='{around}mm' height='110mm' viewBox='0 0 \
         {around} 110'><rect y='40' width='{around}' height='3'/></svg>"
    );
    std::fs::write(folder.join("band.svg"), svg).unwrap();
    let job = |more: &str| {
        let operation = format!(
            "[[operation]]\nname = \"band\"\npick = {{ fill = \"black\" }}\nwork = \"area\"\n\
             scan = \"around\"\nspeed = {speed}\npower = 30\nline_spacing = 0.1\n{more}"
        );
        std::fs::write(folder.join("job.toml"), operation).unwrap();
        let can = fixture("blanks/can.toml");
        let can = can.to_str().unwrap();
        let wrap = ["wrap", "band.svg", "-b", can, "-m", "bench.toml", "-j", "job.toml"];
        let outcome = run_in(folder, &wrap, b"").done();
        program::read(outcome.out_text())
    };
    let burns: Vec<[f64; 2]> = job("")
        .moves
        .iter()
        .filter(|m| m.kind == Kind::Burn)
        .map(|m| [m.from[3], m.to[3]])
        .collect();
    assert_eq!(burns.len(), 30);
    // Speed times lag earlier, either way: where the light is, the lines begin at one turn.
    let late = (speed * lag / 37.0_f64).to_degrees();
    for [from, to] in burns {
        let way = (to - from).signum();
        assert!(((to - from).abs() - 360.0).abs() < 3e-4, "{from} {to}");
        assert!((from + way * late + way * 180.0).abs() < 3e-4, "{from} {to}");
    }
    // Faded, it is longer by as much, and still fit.
    let faded = job("fade = 4\n");
    let burned: f64 = faded
        .moves
        .iter()
        .filter(|m| m.kind == Kind::Burn)
        .map(|m| (m.to[3] - m.from[3]).abs())
        .sum();
    let wanted = 30.0 * (360.0 + (4.0_f64 / 37.0).to_degrees());
    assert!((burned - wanted).abs() < 0.1, "{burned} {wanted}");
}

/// A folder with a job of one area, and what `wrap` makes of it: the words, what it says, and its
/// report.
struct Trial {
    folder: tempfile::TempDir,
    drawing: String,
    blank: String,
}

impl Trial {
    fn made(&self, scan: &str, more: &[&str]) -> (Program, String, serde_json::Value) {
        let folder = self.folder.path();
        let job = format!(
            "lay = \"true-shape\"\nnozzle = \"short barrel\"\n[[operation]]\nname = \"land\"\n\
             pick = {{ id = \"art\" }}\nwork = \"area\"\nscan = \"{scan}\"\nspeed = 200\n\
             power = 45\nline_spacing = 0.2\n"
        );
        std::fs::write(folder.join("job.toml"), job).unwrap();
        let wrap = ["wrap", "-b", &self.blank, "-m", "bench.toml", "-j", "job.toml"];
        let all = [&wrap[..], &["--report", "report.json", &self.drawing], more].concat();
        let outcome = run_in(folder, &all, b"").done();
        let report = std::fs::read_to_string(folder.join("report.json")).unwrap();
        let written = std::fs::read_to_string(folder.join("around.nc"));
        let program = program::read(written.as_deref().unwrap_or(outcome.out_text()));
        (program, outcome.err.clone(), serde_json::from_str(&report).unwrap())
    }
}

fn seconds(report: &serde_json::Value) -> f64 {
    report["estimate"]["duration_s"].as_f64().unwrap()
}

fn trial(svg: &str, blank: &str, machine: impl Fn(String) -> String) -> Trial {
    let folder = tempfile::tempdir().unwrap();
    let bench = std::fs::read_to_string(fixture("machines/degrees.toml")).unwrap();
    std::fs::write(folder.path().join("bench.toml"), machine(bench)).unwrap();
    std::fs::write(folder.path().join("art.svg"), svg).unwrap();
    Trial { folder, drawing: "art.svg".into(), blank: fixture(blank).display().to_string() }
}

/// On a ball under a focus that follows, Z would go up and down within every line along the axis:
/// around is sooner, and is what is taken.
#[test]
fn auto_takes_the_sooner_way_on_a_ball() {
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='160mm' height='60mm' \
               viewBox='0 0 160 60'><path id='art' d='M20 4H140V56H20Z'/></svg>";
    let trial = trial(svg, "globe/ball.toml", |bench| bench);
    let place = ["--place-at", "-30", "--focus", "follow"];
    let (along, _, along_report) = trial.made("along", &place);
    let (_, _, around_report) = trial.made("around", &place);
    let (auto, told, report) = trial.made("auto", &place);
    let moves_z = |program: &Program| {
        program.moves.iter().filter(|m| m.kind == Kind::Burn && m.from[2] != m.to[2]).count()
    };
    assert!(moves_z(&along) > 1000);
    assert_eq!(moves_z(&auto), 0);
    assert!(seconds(&around_report) < 0.8 * seconds(&along_report));
    assert_eq!(seconds(&report), seconds(&around_report));
    assert_eq!(report["operations"][0]["scan"], "around");
    assert_eq!(along_report["operations"][0]["scan"], "along");
    assert!(told.contains("operation \"land\" is scanned around the work: it takes "), "{told}");
}

/// On a can what is narrow around is sooner along the axis; and where the rotary comes to its ends
/// around, along is taken although it is slower.
#[test]
fn auto_keeps_to_the_axes_ends() {
    let bar = |width: u32, height: u32| {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='100mm' viewBox='0 0 200 \
             100'><path id='art' d='M{} 10h{width}v{height}h-{width}z'/></svg>",
            100 - width / 2
        )
    };
    let narrow = trial(&bar(8, 60), "blanks/can.toml", |bench| bench);
    let (_, told, report) = narrow.made("auto", &[]);
    assert_eq!(report["operations"][0]["scan"], "along");
    assert!(told.contains("operation \"land\" is scanned along the axis: it takes "), "{told}");
    let wide = trial(&bar(160, 4), "blanks/can.toml", |bench| bench);
    let (_, _, report) = wide.made("auto", &[]);
    assert_eq!(report["operations"][0]["scan"], "around");
    // 160 mm of 232 around are ±124 degrees; the run-up takes 24 more.
    let ends =
        |bench: String| bench.replace("speed = 360.0", "speed = 360.0\nmin = -130\nmax = 130");
    let held = trial(&bar(160, 4), "blanks/can.toml", ends);
    let (_, told, report) = held.made("auto", &[]);
    assert_eq!(report["operations"][0]["scan"], "along");
    assert!(told.contains("and around the work the axes come to their ends"), "{told}");
}

/// A file tells of itself how far apart its lines around lie, on a ball too, where they are even
/// along the meridian and not along the axis.
#[test]
fn a_checked_file_of_lines_around_is_told_of_their_spacing() {
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='160mm' height='60mm' \
               viewBox='0 0 160 60'><path id='art' d='M60 10H100V50H60Z'/></svg>";
    for (blank, place) in [("blanks/ornament.toml", "-28"), ("blanks/cup.toml", "30")] {
        let trial = trial(svg, blank, |bench| bench);
        let folder = trial.folder.path();
        let allow = ["--place-at", place, "--allow", "clearance,defocus-far"];
        trial.made("around", &[&allow[..], &["-o", "around.nc"]].concat());
        let check = ["check", "around.nc", "-b", &trial.blank, "-m", "bench.toml", "--json"];
        let report = run_in(folder, &check, b"").out_text().to_owned();
        let report: serde_json::Value = serde_json::from_str(&report).unwrap();
        let findings = report["findings"].as_array().unwrap();
        let found = findings.iter().find(|finding| finding["code"] == "spacing-spot");
        let value = found.unwrap_or_else(|| panic!("{blank}: {report:#}"))["value"].as_f64();
        assert!((value.unwrap() - 0.2).abs() < 0.002, "{blank}: {value:?}");
    }
}

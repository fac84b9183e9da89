//! Pictures, burned and looked at again: the words alone put back on the wall, and from there into
//! the flat plane.

use crate::case::{Bench, Case};
use crate::command::{Outcome, fixture, run, run_in};
use crate::lay::LAYS;
use crate::program::{self, Kind, Program, Rate};
use crate::rays::Rays;
use resvg::tiny_skia::{ColorU8, Pixmap};

pub const WIDTH_MM: f64 = 40.0;
pub const HEIGHT_MM: f64 = 30.0;
pub const COLUMNS: u32 = 320;
pub const ROWS: u32 = 240;
pub const SPEED: f64 = 250.0;
pub const POWER: f64 = 60.0;
pub const SPACING_MM: f64 = 0.1;

/// A picture of sRGB greys.
pub fn png(columns: u32, rows: u32, grey: impl Fn(u32, u32) -> u8) -> Vec<u8> {
    let mut pixmap = Pixmap::new(columns, rows).unwrap();
    for (k, pixel) in (0..).zip(pixmap.pixels_mut()) {
        let value = grey(k % columns, k / columns);
        *pixel = ColorU8::from_rgba(value, value, value, 255).premultiply();
    }
    pixmap.encode_png().unwrap()
}

/// IEC 61966-2-1:1999, 5.2: the darkness of an sRGB grey.
pub fn darkness(grey: u8) -> f64 {
    let value = f64::from(grey) / 255.0;
    1.0 - if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// Something like a photograph: a soft ground, a face of discs, a cloth of fine waves, an edge.
pub fn photo(column: u32, row: u32) -> u8 {
    let (x, y) = (f64::from(column), f64::from(row));
    let ground = 150.0 + 50.0 * (x / 61.0).sin() * (y / 47.0).cos();
    let disc = |cx: f64, cy: f64, r: f64| 1.0 / (1.0 + (((x - cx).hypot(y - cy) - r) / 1.5).exp());
    let face = 85.0 * disc(150.0, 110.0, 60.0) - 90.0 * disc(130.0, 95.0, 9.0);
    let eyes = -90.0 * disc(172.0, 95.0, 9.0) - 60.0 * disc(150.0, 140.0, 14.0);
    let cloth =
        if y > 185.0 { 25.0 * ((x + y) / 2.6).sin() + 20.0 * (x / 4.1).cos() - 60.0 } else { 0.0 };
    (ground + face + eyes + cloth).round().clamp(0.0, 255.0) as u8
}

/// Six patches of one grey each.
pub fn chart(column: u32, _: u32) -> u8 {
    [250, 215, 180, 128, 64, 0][(column * 6 / COLUMNS) as usize]
}

fn operation(more: &str) -> String {
    format!(
        "[[operation]]\nname = \"photo\"\nwork = \"picture\"\nspeed = {SPEED}\npower = {POWER}\n\
         {more}\n"
    )
}

pub fn wrapped(case: &Case, picture: &[u8], more: &str) -> Outcome {
    wrapped_as_wide(case, picture, &format!("line_spacing = {SPACING_MM}\n{more}"), WIDTH_MM)
}

/// The same, so wide and at the spacing that `more` says.
pub fn wrapped_as_wide(case: &Case, picture: &[u8], more: &str, width_mm: f64) -> Outcome {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job.toml");
    std::fs::write(&job, case.job_file() + &operation(more)).unwrap();
    let (blank, machine) = (case.blank.display().to_string(), case.machine.display().to_string());
    let job = job.display().to_string();
    let width = width_mm.to_string();
    run(&["wrap", "-b", &blank, "-m", &machine, "-j", &job, "--width", &width], picture)
}

/// A scan line as its words burn it: where, and the energy of each stretch over that of full power
/// at the speed and spacing asked.
pub struct Line {
    pub turn: f64,
    pub burns: Vec<(f64, f64, f64)>,
}

pub fn replay(bench: &Bench, program: &Program) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    for burn in program.moves.iter().filter(|m| m.kind == Kind::Burn) {
        let words = [bench.rotary.of_axes(&burn.from), bench.rotary.of_axes(&burn.to)];
        assert_eq!(words[0][1], words[1][1], "the rotary stands still while burning");
        let [a, b] = words.map(|words| bench.rotary.place(&bench.wall, words));
        let Some(Rate::PerMinute(feed)) = burn.rate else { panic!("a burn has a feed") };
        let seconds = (words[1][0] - words[0][0]).abs() / (feed / 60.0);
        let energy = burn.power.unwrap() / 1000.0 * seconds / (b[0] - a[0]).abs();
        let line = match lines.iter_mut().find(|line| (line.turn - a[1]).abs() < 1e-9) {
            Some(line) => line,
            None => {
                lines.push(Line { turn: a[1], burns: Vec::new() });
                lines.last_mut().unwrap()
            }
        };
        line.burns.push((a[0].min(b[0]), a[0].max(b[0]), energy));
    }
    lines.sort_by(|a, b| a.turn.total_cmp(&b.turn));
    let step = lines.windows(2).map(|w| w[1].turn - w[0].turn).fold(f64::INFINITY, f64::min);
    let full = POWER / 100.0 / (SPEED * SPACING_MM);
    for line in &mut lines {
        line.burns.sort_by(|a, b| a.0.total_cmp(&b.0));
        for burn in &mut line.burns {
            let spacing = step * bench.wall.at_s(f64::midpoint(burn.0, burn.1)).r;
            burn.2 /= spacing * full;
        }
    }
    lines
}

/// The energy at a point of the picture, mm from its top left corner.
pub fn seen(bench: &Bench, lines: &[Line], x: f64, y: f64) -> f64 {
    // Page up is +u, page right -v; the bottom's middle is the origin.
    seen_at(lines, bench.image([HEIGHT_MM - y, WIDTH_MM / 2.0 - x]))
}

/// The energy at a place of the wall.
pub fn seen_at(lines: &[Line], [s, turn]: [f64; 2]) -> f64 {
    let above = lines.partition_point(|line| line.turn < turn);
    let near = [above.checked_sub(1), Some(above)].into_iter().flatten();
    let line = near
        .filter_map(|k| lines.get(k))
        .min_by(|a, b| (a.turn - turn).abs().total_cmp(&(b.turn - turn).abs()))
        .unwrap();
    let next = line.burns.partition_point(|burn| burn.1 <= s);
    line.burns.get(next).filter(|burn| burn.0 <= s).map_or(0.0, |burn| burn.2)
}

/// Z. Wang, A. C. Bovik, H. R. Sheikh, E. P. Simoncelli, Image quality assessment: from error
/// visibility to structural similarity, IEEE Trans. Image Process. 13 (2004), eq. 13, means over
/// square windows; K1 = 0.01, K2 = 0.03, L = 1.
pub fn similarity(a: &[f64], b: &[f64], columns: usize, rows: usize) -> f64 {
    similarity_by(a, b, (columns, rows), 8, 4)
}

/// The same over windows so wide, one every so many pixels.
pub fn similarity_by(
    a: &[f64],
    b: &[f64],
    (columns, rows): (usize, usize),
    window: usize,
    every: usize,
) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for top in (0..=rows - window).step_by(every) {
        for left in (0..=columns - window).step_by(every) {
            let places =
                (0..window * window).map(|k| (top + k / window) * columns + left + k % window);
            let n = (window * window) as f64;
            let mean = |of: &[f64]| places.clone().map(|k| of[k]).sum::<f64>() / n;
            let (ma, mb) = (mean(a), mean(b));
            let spread = |p: &[f64], mp: f64, q: &[f64], mq: f64| {
                places.clone().map(|k| (p[k] - mp) * (q[k] - mq)).sum::<f64>() / (n - 1.0)
            };
            let (va, vb, vab) = (spread(a, ma, a, ma), spread(b, mb, b, mb), spread(a, ma, b, mb));
            let (c1, c2) = (0.01_f64.powi(2), 0.03_f64.powi(2));
            sum += (2.0 * ma * mb + c1) * (2.0 * vab + c2)
                / ((ma * ma + mb * mb + c1) * (va + vb + c2));
            count += 1.0;
        }
    }
    sum / count
}

pub fn cases() -> Vec<Case> {
    let wares = [("cup", 40.0, 0.0), ("bottle", 75.0, 3.0), ("ornament", -15.0, 0.0)];
    let case = |(blank, place, tilt): (&str, f64, f64), lay| Case {
        anchor: Some((HEIGHT_MM / 2.0, 0.0)),
        even_dose: true,
        ..Case::new(blank, "degrees", lay, tilt, place)
    };
    wares.iter().flat_map(|ware| LAYS.iter().map(|lay| case(*ware, *lay))).collect()
}

#[test]
fn a_photograph_burned_is_the_photograph() {
    let source: Vec<f64> =
        (0..COLUMNS * ROWS).map(|k| darkness(photo(k % COLUMNS, k / COLUMNS))).collect();
    let picture = png(COLUMNS, ROWS, photo);
    for case in cases() {
        let bench = case.bench();
        let outcome = wrapped(&case, &picture, "").done();
        let lines = replay(&bench, &program::read(outcome.out_text()));
        assert!(lines.len() > 250, "{case:?} {}", lines.len());
        let pixel = WIDTH_MM / f64::from(COLUMNS);
        let found: Vec<f64> = (0..COLUMNS * ROWS)
            .map(|k| {
                let place = |k: u32| (f64::from(k) + 0.5) * pixel;
                seen(&bench, &lines, place(k % COLUMNS), place(k / COLUMNS))
            })
            .collect();
        let alike = similarity(&found, &source, COLUMNS as usize, ROWS as usize);
        assert!(alike > 0.98, "{case:?}: {alike}");
    }
}

/// The same by the lay that lies as a paper label does: every pixel at the end of a geodesic from
/// the middle, which is traced here step by step.
#[test]
fn a_photograph_on_a_label_is_the_photograph() {
    let source: Vec<f64> =
        (0..COLUMNS * ROWS).map(|k| darkness(photo(k % COLUMNS, k / COLUMNS))).collect();
    let picture = png(COLUMNS, ROWS, photo);
    for (blank, place, tilt) in
        [("cup", 40.0, 0.0), ("bottle", 30.0, 3.0), ("ornament", -15.0, 0.0)]
    {
        let case = Case {
            anchor: Some((HEIGHT_MM / 2.0, 0.0)),
            even_dose: true,
            ..Case::new(blank, "degrees", LAYS[0], tilt, place)
        };
        let bench = case.bench();
        let outcome = wrapped(&case, &picture, "lay = \"label\"").done();
        let lines = replay(&bench, &program::read(outcome.out_text()));
        let reach_mm = WIDTH_MM.hypot(HEIGHT_MM) / 2.0 + 0.1;
        let middle = bench.wall.s_of_z(place) + HEIGHT_MM / 2.0;
        let rays = Rays::from_the(&bench.wall, middle, reach_mm);
        let pixel = WIDTH_MM / f64::from(COLUMNS);
        let found: Vec<f64> = (0..COLUMNS * ROWS)
            .map(|k| {
                let place = |k: u32| (f64::from(k) + 0.5) * pixel;
                let (x, y) = (place(k % COLUMNS), place(k / COLUMNS));
                seen_at(&lines, rays.end(HEIGHT_MM / 2.0 - y, WIDTH_MM / 2.0 - x))
            })
            .collect();
        let alike = similarity(&found, &source, COLUMNS as usize, ROWS as usize);
        assert!(alike > 0.98, "{blank}: {alike}");
    }
}

/// Every patch of the grey chart has the energy of its tone within 2 % on the mean; `seen` is the
/// energy at a place of the picture, mm from its left and its top.
#[track_caller]
pub fn chart_is_even(case: &Case, seen: impl Fn(f64, f64) -> f64) {
    for patch in 0..6 {
        let d = darkness(chart(patch * COLUMNS / 6 + 1, 0));
        let wanted = (12.0 + (POWER - 12.0) * d) / POWER;
        let (mut sum, mut count) = (0.0, 0.0);
        for k in 0..40 {
            for row in 1..30 {
                let x = (f64::from(patch) + 0.1 + 0.8 * f64::from(k) / 39.0) * WIDTH_MM / 6.0;
                sum += seen(x, f64::from(row));
                count += 1.0;
            }
        }
        let mean: f64 = sum / count;
        assert!((mean / wanted - 1.0).abs() < 0.02, "{case:?} {patch}: {mean} {wanted}");
    }
}

#[test]
fn every_patch_of_a_chart_gets_its_energy() {
    let picture = png(COLUMNS, ROWS, chart);
    for case in cases() {
        let bench = case.bench();
        let outcome = wrapped(&case, &picture, "power_floor = 12").done();
        let lines = replay(&bench, &program::read(outcome.out_text()));
        chart_is_even(&case, |x, y| seen(&bench, &lines, x, y));
    }
}

#[test]
fn a_halftone_is_dots_of_full_power_with_the_mean_of_the_tone() {
    let picture = png(COLUMNS, ROWS, chart);
    let case = &cases()[0];
    for tone in ["ordered", "diffused"] {
        let bench = case.bench();
        let outcome = wrapped(case, &picture, &format!("tone = \"{tone}\"")).done();
        let lines = replay(&bench, &program::read(outcome.out_text()));
        let steps = lines.windows(2).map(|pair| pair[1].turn - pair[0].turn);
        let step = steps.fold(f64::INFINITY, f64::min);
        for patch in 0..6 {
            let d = darkness(chart(patch * COLUMNS / 6 + 1, 0));
            // Lines of constant turn under this lay are columns of the picture: the length that
            // burns of each within the patch, over all of it.
            let corner = |share: f64, y: f64| {
                let x = (f64::from(patch) + share) * WIDTH_MM / 6.0;
                bench.image([HEIGHT_MM - y, WIDTH_MM / 2.0 - x])
            };
            let ([high, first], [low, last]) = (corner(0.1, 1.0), corner(0.9, 29.0));
            let mut burned = 0.0;
            for line in lines.iter().filter(|line| line.turn < first && line.turn > last) {
                for (from, to, energy) in &line.burns {
                    burned += (to.min(high) - from.max(low)).max(0.0);
                    assert!((energy - 1.0).abs() < 0.02, "{energy}");
                }
            }
            // Lines without a dot are there too, as dark ones.
            let mean: f64 = burned / ((first - last) / step * (high - low));
            assert!((mean - d).abs() < 0.015, "{tone} {patch}: {mean} {d}");
        }
    }
}

#[test]
fn light_that_comes_late_is_asked_for_early_both_ways() {
    let case = &cases()[0];
    let folder = tempfile::tempdir().unwrap();
    let lag = 0.0004;
    let machine = std::fs::read_to_string(&case.machine)
        .unwrap()
        .replace("[beam]", &format!("[beam]\nlag = {lag}"));
    let path = folder.path().join("machine.toml");
    std::fs::write(&path, machine).unwrap();
    let late = Case { machine: path, ..case.clone() };
    let picture = png(32, 24, |column, _| if column % 8 < 4 { 0 } else { 255 });
    let bench = case.bench();
    let read =
        |case: &Case, more: &str| program::read(wrapped(case, &picture, more).done().out_text());
    let (plain, shifted) = (read(case, ""), read(&late, ""));
    let burns = |program: &Program| -> Vec<[f64; 2]> {
        let ends = |m: &program::Move| {
            let place = |at| bench.rotary.place(&bench.wall, bench.rotary.of_axes(at))[0];
            [place(&m.from), place(&m.to)]
        };
        program.moves.iter().filter(|m| m.kind == Kind::Burn).map(ends).collect()
    };
    let (plain, shifted) = (burns(&plain), burns(&shifted));
    assert!(plain.len() > 50);
    assert_eq!(plain.len(), shifted.len());
    let mut ways = [0, 0];
    for (a, b) in plain.iter().zip(&shifted) {
        let way = (a[1] - a[0]).signum();
        ways[usize::from(way > 0.0)] += 1;
        // Speed times lag, against the way it goes: 0.1 mm.
        for k in 0..2 {
            assert!((a[k] - b[k] - way * SPEED * lag).abs() < 3e-4, "{a:?} {b:?}");
        }
    }
    assert!(ways[0] > 20 && ways[1] > 20, "{ways:?}");
    let one_way = burns(&read(case, "one_way = true"));
    assert_eq!(one_way.len(), plain.len());
    let up = one_way.iter().filter(|ends| ends[1] > ends[0]).count();
    assert!(up == 0 || up == one_way.len(), "{up} of {}", one_way.len());
}

#[test]
fn a_bad_picture_is_refused_in_a_sentence() {
    let case = &cases()[0];
    let whole = png(9, 7, |_, _| 0);
    let refused = |picture: &[u8], words: &str| {
        let outcome = wrapped(case, picture, "");
        assert_eq!(outcome.status, Some(2), "{}", outcome.err);
        assert!(outcome.err.contains(words) && outcome.out.is_empty(), "{}", outcome.err);
    };
    refused(&whole[..whole.len() - 20], "the picture breaks off: the file is cut short");
    refused(b"GIF89a\x01\0\x01\0", "this is a GIF picture");
    refused(&[0xff, 0xd8, 0xff, 0xe0, 0, 4], "breaks off");
    let (blank, machine) = (case.blank.display().to_string(), case.machine.display().to_string());
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("a.png"), &whole).unwrap();
    std::fs::write(
        folder.path().join("job.toml"),
        operation(&format!("line_spacing = {SPACING_MM}")),
    )
    .unwrap();
    let setup = ["-b", &blank, "-m", &machine, "-j", "job.toml"];
    let stave = |arguments: &[&str]| {
        let all: Vec<&str> = arguments.iter().copied().chain(setup).collect();
        run_in(folder.path(), &all, b"")
    };
    let outcome = stave(&["wrap", "a.png"]);
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("9 x 7 pixels and does not say how large"), "{}", outcome.err);
    let outcome = stave(&["wrap", "a.png", "--width", "9", "--height", "9"]);
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("its height is 7 mm"), "{}", outcome.err);
    // Every command that takes art takes a picture.
    let size = ["--height", "0.5in"];
    for command in ["check", "estimate", "lays", "walk"] {
        let outcome = stave(&[&[command, "a.png"], &size[..]].concat());
        assert_eq!(outcome.status, Some(0), "{command}: {}", outcome.err);
    }
    let outcome = stave(&[&["proof", "a.png", "-o", "a.svg"], &size[..]].concat());
    assert_eq!(outcome.status, Some(0), "{}", outcome.err);
    let no_job = ["wrap", "a.png", "--width", "9", "-b", &blank, "-m", &machine];
    let outcome = run_in(folder.path(), &no_job, b"");
    assert_eq!(outcome.status, Some(2));
    assert!(outcome.err.contains("nothing says how a picture is burned"), "{}", outcome.err);
}

const ROWS_OF_SCAN: usize = 60;
const CELLS: usize = 40;
const PITCH_MM: f64 = 0.1;
const CELL_MM: f64 = 0.5;

/// The S word of a cell of a row; 0 is a gap.
fn strength(row: usize, cell: usize) -> u32 {
    if (row / 7 + cell / 5).is_multiple_of(4) {
        0
    } else {
        (100 + 23 * row + 37 * cell) as u32 % 800 + 50
    }
}

/// A graded engraving as exporters write it: there and back, S on every change, run-ups and gaps at
/// S0; before it an outline, after it another.
fn engraving() -> String {
    let mut text =
        String::from("G21 G90 G94\nM4 S0\nF9000\nG0 X-5 Y-2\nG1 X25 S300\nG1 Y-1.5\nS0\n");
    for row in 0..ROWS_OF_SCAN {
        let y = row as f64 * PITCH_MM;
        let forward = row % 2 == 0;
        text += &format!("G0 X{} Y{y:.3}\n", if forward { -3.0 } else { 23.0 });
        let end = CELLS as f64 * CELL_MM;
        text += &format!("G1 X{} S0\n", if forward { 0.0 } else { end });
        for k in 0..CELLS {
            let cell = if forward { k } else { CELLS - 1 - k };
            let x = CELL_MM * (if forward { cell + 1 } else { cell }) as f64;
            text += &format!("G1 X{x:.3} S{}\n", strength(row, cell));
        }
    }
    text + "S0\nG0 X0 Y8\nG1 X20 Y9 S250\nM5\nM2\n"
}

/// Lines of constant turn with what burns on them, S words as they are.
fn graded(bench: &Bench, program: &Program) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let still = |m: &&program::Move| m.kind == Kind::Burn && m.from[3] == m.to[3];
    for burn in program.moves.iter().filter(still) {
        let place = |at| bench.rotary.place(&bench.wall, bench.rotary.of_axes(at));
        let (a, b) = (place(&burn.from), place(&burn.to));
        let run = (a[0].min(b[0]), a[0].max(b[0]), burn.power.unwrap());
        match lines.iter_mut().find(|line| (line.turn - a[1]).abs() < 1e-9) {
            Some(line) => line.burns.push(run),
            None => lines.push(Line { turn: a[1], burns: vec![run] }),
        }
    }
    lines.sort_by(|a, b| a.turn.total_cmp(&b.turn));
    lines.iter_mut().for_each(|line| line.burns.sort_by(|a, b| a.0.total_cmp(&b.0)));
    lines
}

fn scanned(case: &Case, how: &str) -> (Bench, Program, String) {
    let mut arguments = case.arguments();
    arguments.extend(["--scan".to_owned(), how.to_owned()]);
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = run(&arguments, engraving().as_bytes()).done();
    (case.bench(), program::read(outcome.out_text()), outcome.err)
}

/// How far the rotary turns while something burns.
fn rotary_way(program: &Program) -> f64 {
    let burns = program.moves.iter().filter(|m| m.kind == Kind::Burn);
    burns.map(|m| (m.to[3] - m.from[3]).abs()).sum()
}

#[test]
fn a_cylinder_scanned_again_gives_every_row_on_its_motor_step() {
    let case = Case::new("can", "degrees", LAYS[0], 0.0, 20.0);
    let (bench, program, told) = scanned(&case, "again");
    assert!(told.contains("are 60 scan lines along X, 0.1 mm apart: scanned again"), "{told}");
    let lines = graded(&bench, &program);
    let step = std::f64::consts::TAU / 12_800.0;
    for row in 0..ROWS_OF_SCAN {
        let [_, turn] = bench.image([0.0, row as f64 * PITCH_MM]);
        let line = lines.iter().find(|line| (line.turn - turn).abs() <= 0.5 * step + 1e-6);
        let line = line.unwrap_or_else(|| panic!("row {row} is lost"));
        let whole = line.turn / step;
        // The word of a turn has four decimals of a degree.
        assert!((whole - whole.round()).abs() < 0.003, "{whole}");
        for cell in 0..CELLS {
            let ends = [cell, cell + 1].map(|k| bench.image([k as f64 * CELL_MM, 0.0])[0]);
            for inside in [ends[0] + 1e-3, f64::midpoint(ends[0], ends[1]), ends[1] - 1e-3] {
                let burn = line.burns.iter().find(|burn| burn.0 <= inside && inside <= burn.1);
                let power = burn.map_or(0.0, |burn| burn.2);
                assert_eq!(power, f64::from(strength(row, cell)), "row {row} cell {cell}");
            }
        }
    }
    // The outlines before and after are as they were: one line at constant turn, one up, one slant.
    let turning = program.moves.iter().filter(|m| m.kind == Kind::Burn && m.from[3] != m.to[3]);
    assert!(turning.count() >= 2);
    assert!(program.ended);
}

#[test]
fn scanned_again_on_a_taper_the_work_stands_still_and_the_picture_stays() {
    for blank in ["cup", "bottle"] {
        for lay in LAYS {
            let case =
                Case::new(blank, "degrees", lay, 0.0, if blank == "cup" { 40.0 } else { 75.0 });
            let (bench, program, _) = scanned(&case, "again");
            let lines = graded(&bench, &program);
            let (mut seen, mut agreed) = (0, 0);
            for row in 0..ROWS_OF_SCAN {
                for cell in 0..CELLS {
                    let x = (cell as f64 + 0.5) * CELL_MM;
                    let [s, turn] = bench.image([x, row as f64 * PITCH_MM]);
                    let near = lines.iter().filter(|line| {
                        line.burns[0].0 <= s + 3.0 && line.burns.last().unwrap().1 >= s - 3.0
                    });
                    let near =
                        near.min_by(|a, b| (a.turn - turn).abs().total_cmp(&(b.turn - turn).abs()));
                    let burn = near
                        .and_then(|line| line.burns.iter().find(|burn| burn.0 <= s && s <= burn.1));
                    seen += 1;
                    let power = burn.map_or(0.0, |burn| burn.2);
                    agreed += u32::from(power == f64::from(strength(row, cell)));
                }
            }
            // Within a row the line next to its middle shows that row; where lines are no wider
            // apart than rows, each row has one.
            assert!(agreed as f64 >= 0.9 * f64::from(seen), "{case:?}: {agreed} of {seen}");
        }
    }
    let case = Case::new("cup", "degrees", LAYS[1], 0.0, 40.0);
    let (_, again, _) = scanned(&case, "again");
    let (_, follow, _) = scanned(&case, "follow");
    let (_, auto, told) = scanned(&case, "auto");
    assert!(rotary_way(&again) < 0.5 * rotary_way(&follow));
    assert_eq!(auto.moves.len(), again.moves.len());
    assert!(told.contains("scanned again"), "{told}");
    let even = Case::new("cup", "degrees", LAYS[0], 0.0, 40.0);
    let (_, kept, told) = scanned(&even, "auto");
    assert_eq!(kept.moves.len(), scanned(&even, "follow").1.moves.len());
    assert!(told.contains("keeps straight: they are followed"), "{told}");
}

/// What is drawn has no lines: that some of it is too faint to mark is said once, and of no line.
#[test]
fn what_is_too_faint_to_mark_is_told_once() {
    let [can, machine] = ["blanks/can.toml", "machines/degrees.toml"].map(fixture);
    let files = ["-b", can.to_str().unwrap(), "-m", machine.to_str().unwrap()];
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("faint.png"), png(40, 4, |x, _| 255 - x as u8)).unwrap();
    let job = "[[operation]]\nname = \"p\"\nwork = \"picture\"\nspeed = 100\npower = 40\n\
               lines_per_inch = 100\n";
    std::fs::write(folder.path().join("job.toml"), job).unwrap();
    let input = ["wrap", "faint.png", "--width", "20", "-j", "job.toml"];
    let allow = ["--place-at", "40", "--allow", "clearance,defocus-far"];
    let told = run_in(folder.path(), &[&input[..], &files, &allow].concat(), b"").done().err;
    assert_eq!(told.matches("nothing marks").count(), 1, "{told}");
    assert!(!told.contains("line 0") && !told.contains("may not mark"), "{told}");
}

//! The burned lines against a picture of the drawing by another program: resvg.

use crate::command::{fixture, run};
use crate::program::{self, Kind};
use resvg::{tiny_skia, usvg};

/// Holes by paint and by rule, clips, overlaps, turned and nested groups, curves.
const DRAWING: &str = "<svg xmlns='http://www.w3.org/2000/svg' width='80mm' height='60mm' \
                       viewBox='0 0 80 60'>
    <defs><clipPath id='lens'><circle cx='60' cy='15' r='11'/></clipPath></defs>
    <circle cx='18' cy='18' r='14'/><rect x='10' y='14' width='16' height='6' fill='#fff'/>
    <circle cx='18' cy='17' r='2'/>
    <path fill-rule='evenodd' d='M30 4L38 30L17 14H43L22 30Z'/>
    <path d='M44 40L52 58L33 47H58L38 58Z'/>
    <g clip-path='url(#lens)'><rect x='50' y='5' width='20' height='9'/>
      <path d='M48 26C55 10 65 30 74 12V30H48Z'/></g>
    <g transform='translate(14 45) rotate(25) skewX(10)'>
      <rect x='-9' y='-6' width='18' height='12' rx='3'/>
      <g transform='scale(.5)'><ellipse rx='10' ry='6' fill='white'/></g></g>
    <path d='M62 36h14v18h-14z'/><path d='M66 32h4v26h-4z'/>
    <path fill='white' d='M64 44q5 -6 10 0q-5 6 -10 0z'/></svg>";
const WIDTH_MM: f64 = 80.0;
const HEIGHT_MM: f64 = 60.0;
const PIXELS_PER_MM: f64 = 10.0;
const RADIUS_MM: f64 = 37.0;

#[test]
fn burned_lines_agree_with_resvg_s_picture() {
    agree(&[]);
}

#[test]
fn lines_around_agree_with_it_too() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job.toml");
    // Whatever is not white, in one piece, as without a job.
    let operation = "[[operation]]\nname = \"all\"\npick = { fill = \"black\" }\nwork = \"area\"\n\
                     scan = \"around\"\nspeed = 250\npower = 40\nlines_per_inch = 400\n";
    std::fs::write(&job, operation).unwrap();
    agree(&["-j", job.to_str().unwrap()]);
}

fn agree(more: &[&str]) {
    let around = !more.is_empty();
    let (columns, rows) = ((WIDTH_MM * PIXELS_PER_MM) as u32, (HEIGHT_MM * PIXELS_PER_MM) as u32);
    let tree = usvg::Tree::from_str(DRAWING, &usvg::Options::default()).unwrap();
    let mut picture = tiny_skia::Pixmap::new(columns, rows).unwrap();
    picture.fill(tiny_skia::Color::WHITE);
    let scale = f64::from(columns) as f32 / tree.size().width();
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut picture.as_mut());

    let path = |name: &str| fixture(name).display().to_string();
    let (blank, machine) = (path("blanks/can.toml"), path("machines/degrees.toml"));
    let all = [&["wrap", "-b", &blank, "-m", &machine], more].concat();
    let outcome = run(&all, DRAWING.as_bytes()).done();
    // Page up is +u, the X word; page right is -v, the turn; the page's middle is turn 0. For each
    // burn where its line lies, and from where to where it goes on it.
    let mut lines: Vec<(f64, f64, f64)> = program::read(outcome.out_text())
        .moves
        .iter()
        .filter(|m| m.kind == Kind::Burn)
        .map(|m| {
            let x = [m.from, m.to].map(|at| WIDTH_MM / 2.0 - at[3].to_radians() * RADIUS_MM);
            let y = [m.from, m.to].map(|at| HEIGHT_MM - at[0]);
            let (line, on) = if around { (y, x) } else { (x, y) };
            assert_eq!(line[0], line[1], "nothing else moves");
            (line[1], on[0].min(on[1]), on[0].max(on[1]))
        })
        .collect();
    lines.sort_by(|a, b| a.0.total_cmp(&b.0));
    let dark = |column: u32, row: u32| picture.pixel(column, row).is_some_and(|p| p.red() < 128);
    let (mut seen, mut agreed, mut burned) = (0, 0, 0);
    // Three motor steps, or 400 lines to the inch.
    let half = if around { 0.032 } else { 0.03 };
    let (across, along) = if around { (rows, columns) } else { (columns, rows) };
    for one in 2..across - 2 {
        let line = (f64::from(one) + 0.5) / PIXELS_PER_MM;
        // The line nearest to the pixel: all burns of lines half a spacing to either side.
        let near = lines.partition_point(|l| l.0 < line - half)
            ..lines.partition_point(|l| l.0 <= line + half);
        for other in 2..along - 2 {
            let (column, row) = if around { (other, one) } else { (one, other) };
            let here = dark(column, row);
            let even =
                (column - 2..=column + 2).all(|c| (row - 2..=row + 2).all(|r| dark(c, r) == here));
            if !even {
                continue;
            }
            let place = (f64::from(other) + 0.5) / PIXELS_PER_MM;
            let lit = lines[near.clone()].iter().any(|l| l.1 <= place && place <= l.2);
            seen += 1;
            agreed += u32::from(lit == here);
            burned += u32::from(lit);
        }
    }
    assert!(seen > 300_000 && burned > 60_000, "{seen} {burned}");
    assert!(f64::from(agreed) > 0.999 * f64::from(seen), "{agreed} of {seen}");
}

//! What a drawing burns, from the program that it is wrapped to, against what an outside renderer
//! (resvg) shows of it.

use std::f64::consts::PI;

use resvg::{tiny_skia, usvg};
use stave::setup::{read_blank, read_job, read_machine};
use stave::{Code, Finding, Fonts, Options, Setup, Source, wrap};

/// The blank is a can of this diameter and length, mm; a page lies on it as it was drawn.
const DIAMETER_MM: f64 = 400.0;
const LENGTH_MM: f64 = 600.0;
/// The S word of full power, which the machine has where its file does not say otherwise.
const FULL_POWER: f64 = 1000.0;

/// What came of a drawing.
pub struct Compared {
    /// Points away from edges.
    pub points: usize,
    /// Those of them that the program burns where the renderer shows something, or neither.
    pub agree: usize,
    /// What was found of it.
    pub findings: Vec<Finding>,
}

impl Compared {
    /// The share of points that agree.
    #[allow(clippy::cast_precision_loss)]
    pub fn share(&self) -> f64 {
        if self.points == 0 { 1.0 } else { self.agree as f64 / self.points as f64 }
    }
}

/// How a drawing is burned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum How {
    /// Fills and strokes as areas; shades are left out.
    Areas,
    /// The same, with shades cut at so many percent of darkness.
    Cut(f64),
    /// All of it as a picture.
    Picture,
}

/// A darkness from which on something is burned that is not bare: a relative luminance of 0.97.
pub const BARE: f64 = 0.03;

/// A raster over a page: how dark each point is, of 1; rows from the top.
#[derive(Clone, Debug, PartialEq)]
pub struct Raster {
    pub width: usize,
    pub height: usize,
    pub dark: Vec<f64>,
}

impl Raster {
    fn at(&self, x: usize, y: usize) -> f64 {
        self.dark[y * self.width + x]
    }

    /// Whether all points next to one are alike to it.
    fn is_even(&self, x: usize, y: usize, alike: impl Fn(f64, f64) -> bool) -> bool {
        let near = |at: usize, size: usize| at.saturating_sub(1)..(at + 2).min(size);
        let own = self.at(x, y);
        near(y, self.height).all(|v| near(x, self.width).all(|u| alike(self.at(u, v), own)))
    }
}

/// What a drawing burns against what `meant` shows, in points of `point_mm`.
pub fn compare(svg: &[u8], meant: &[u8], point_mm: f64, how: How) -> Result<Compared, String> {
    let shown = shown(meant, point_mm)?;
    let (burned, findings) = burned(svg, point_mm, &shown, how)?;
    let from = match how {
        How::Areas => BARE,
        How::Cut(percent) => percent / 100.0,
        How::Picture => 0.0,
    };
    // A picture is graded, and a point as large as a spacing is a mean of what is shown there.
    let alike = |a: f64, b: f64| match how {
        How::Areas | How::Cut(_) => (a >= from) == (b >= from),
        How::Picture => (a - b).abs() < 0.06,
    };
    let agrees = |shown: f64, burned: f64| match how {
        How::Areas | How::Cut(_) => (shown >= from) == (burned > 0.0),
        How::Picture => (shown - burned).abs() < 0.06,
    };
    let (mut points, mut agree) = (0, 0);
    for y in 0..shown.height {
        for x in (0..shown.width).filter(|&x| shown.is_even(x, y, alike)) {
            points += 1;
            agree += usize::from(agrees(shown.at(x, y), burned.at(x, y)));
        }
    }
    Ok(Compared { points, agree, findings })
}

/// What the renderer shows, laid over white as a browser lays a drawing over its page, so that
/// nothing blends with the page itself: how dark it is, 1 less the relative luminance (Rec. ITU-R
/// BT.709 over the linear light of IEC 61966-2-1).
pub fn shown(svg: &[u8], point_mm: f64) -> Result<Raster, String> {
    let tree = usvg::Tree::from_data(svg, &usvg::Options::default()).map_err(|e| e.to_string())?;
    let (size, mm_per_px) = (tree.size(), 25.4 / 96.0);
    let scale = mm_per_px / point_mm;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let points = |px: f32| (f64::from(px) * scale).round().clamp(1.0, 4096.0) as u32;
    let (width, height) = (points(size.width()), points(size.height()));
    let mut pixels = tiny_skia::Pixmap::new(width, height).ok_or("no picture of that size")?;
    #[allow(clippy::cast_possible_truncation)]
    let scale = scale as f32;
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixels.as_mut());
    let linear = |part: u8| {
        let light = f64::from(part) / 255.0;
        if light <= 0.040_45 { light / 12.92 } else { ((light + 0.055) / 1.055).powf(2.4) }
    };
    let dark = |p: &tiny_skia::PremultipliedColorU8| {
        let over_white = |part: u8| linear(part.saturating_add(255 - p.alpha()));
        let (red, green, blue) = (p.red(), p.green(), p.blue());
        1.0 - 0.2126 * over_white(red) - 0.7152 * over_white(green) - 0.0722 * over_white(blue)
    };
    let dark = pixels.pixels().iter().map(dark).collect();
    Ok(Raster { width: width as usize, height: height as usize, dark })
}

fn setup(point_mm: f64, how: How) -> Result<Setup, String> {
    let blank = format!(
        "[[station]]\nat = 0\ndiameter = {DIAMETER_MM}\n[[station]]\nat = {LENGTH_MM}\ndiameter = \
         {DIAMETER_MM}\n"
    );
    let machine = "[controller]\nbeam_on = \"M4\"\ndecimals = 5\n[x]\nspeed = 500\nacceleration = \
                   5000\n[y]\nspeed = 500\nacceleration = 5000\n[rotary]\nword = \"A\"\n\
                   units_per_turn = 360\nspeed = 3600\nacceleration = 90000\n";
    let work = match how {
        How::Areas => "area\"".to_owned(),
        How::Cut(percent) => format!("area\"\nthreshold = {percent}"),
        How::Picture => "picture\"".to_owned(),
    };
    // Every fill and every stroke; what is loose goes by the name of the drawing.
    let job = format!(
        "lay = \"even-angle\"\nanchor = \"drawing\"\ndose = \"as-given\"\n[[operation]]\nname = \
         \"all\"\npick = {{ id = \"all\" }}\nwork = \"{work}\nspeed = 250\npower = 100\n\
         line_spacing = {point_mm}\noptional = true\n"
    );
    let told = |faults: stave::setup::Faults| faults.to_string();
    Setup::new(
        read_blank(&blank, "can.toml").map_err(told)?,
        read_machine(machine, "bench.toml").map_err(told)?,
        read_job(&job, "job.toml").map_err(told)?,
    )
    .map_err(told)
}

/// What the program burns, sampled where `like` has its points.
fn burned(
    svg: &[u8],
    point_mm: f64,
    like: &Raster,
    how: How,
) -> Result<(Raster, Vec<Finding>), String> {
    let setup = setup(point_mm, how)?;
    let options = Options { fonts: Fonts::None, ..Options::allowing(Code::ALL) };
    let mut program = Vec::new();
    let report = wrap(Source::drawing(svg), &mut program, &setup, &options)
        .map_err(|error| error.to_string())?;
    let text = String::from_utf8(program).map_err(|error| error.to_string())?;
    let mut raster = Raster { dark: vec![0.0; like.dark.len()], ..*like };
    #[allow(clippy::cast_precision_loss)]
    let size_mm = (like.width as f64 * point_mm, like.height as f64 * point_mm);
    for run in runs(&text) {
        // The middle of the page is turn 0, its right is a falling turn, its bottom edge X 0.
        let x_mm = 0.5 * size_mm.0 - run.turn_deg / 360.0 * PI * DIAMETER_MM;
        #[allow(clippy::cast_possible_truncation)]
        let column = (x_mm / point_mm).floor() as i64;
        let Some(column) = usize::try_from(column).ok().filter(|c| *c < raster.width) else {
            continue;
        };
        for row in 0..raster.height {
            #[allow(clippy::cast_precision_loss)]
            let up_mm = size_mm.1 - (row as f64 + 0.5) * point_mm;
            if run.from_mm <= up_mm && up_mm <= run.to_mm {
                raster.dark[row * raster.width + column] = run.share;
            }
        }
    }
    Ok((raster, report.findings))
}

/// A burned stretch of a scan line.
struct Run {
    turn_deg: f64,
    from_mm: f64,
    to_mm: f64,
    /// Its power over full power.
    share: f64,
}

/// The burned stretches of a program of ours: G1 along X with the beam on and S above 0.
fn runs(program: &str) -> Vec<Run> {
    let (mut x, mut a, mut s, mut g, mut on) = (0.0_f64, 0.0_f64, 0.0_f64, 0_u32, false);
    let mut runs = Vec::new();
    for line in program.lines().filter(|line| !line.starts_with('(')) {
        let before = x;
        for word in line.split_whitespace() {
            let (letter, value) = word.split_at(1);
            let Ok(value) = value.parse::<f64>() else { continue };
            match letter {
                "X" => x = value,
                "A" => a = value,
                "S" => s = value,
                "G" if value == 0.0 => g = 0,
                "G" if value == 1.0 => g = 1,
                "M" if value == 3.0 || value == 4.0 => on = true,
                "M" if value == 5.0 => on = false,
                _ => {}
            }
        }
        if g == 1 && on && s > 0.0 && x != before {
            let share = s / FULL_POWER;
            runs.push(Run { turn_deg: a, from_mm: before.min(x), to_mm: before.max(x), share });
        }
    }
    runs
}

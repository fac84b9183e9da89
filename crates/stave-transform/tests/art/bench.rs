//! Walls, a machine, drawings made by hand, and what burning them gives.

use kurbo::{Affine, BezPath, Cap, Join};
use stave_rig::{Meant, ROTARY, X, Z};
use stave_setup::{AirLevel, JobFile, Setup, read_blank, read_machine};
use stave_toolpath::art::{
    Art, Chosen, Clip, ClipArea, Element, Fill, Part, Rgb, Rule, Shape, Stroke, Work,
};
use stave_toolpath::{Stand, StepKind, StepSink};
use stave_transform::{ArtSink, BurnOperation, Burned, Burns, Hit, OperationFigures, plan_art};
use stave_wall::{Anchor, Crest, Lay, LayKind, LaySetting};

/// So wide that the drawings of table D go on it without meeting themselves.
pub(crate) const DRUM: &str =
    "station = [{ at = -200.0, diameter = 300.0 }, { at = 500.0, diameter = 300.0 }]";
pub(crate) const STEPPED: &str = "station = [{ at = 0.0, diameter = 66.0 }, \
    { at = 40.0, diameter = 67.5 }, { at = 95.0, diameter = 70.0 }, \
    { at = 101.0, diameter = 86.0 }, { at = 140.0, diameter = 88.0 }, \
    { at = 175.0, diameter = 88.5 }]";
pub(crate) const ROUND: &str = "wall = \"smooth\"\nstation = [{ at = 0.0, diameter = 40.0 }, \
    { at = 20.0, diameter = 62.0 }, { at = 60.0, diameter = 80.0 }, \
    { at = 100.0, diameter = 70.0 }, { at = 150.0, diameter = 52.0 }, \
    { at = 175.0, diameter = 50.0 }]";
pub(crate) const MACHINE: &str = "[controller]\nfull_power = 1000\ndecimals = 5\n[x]\nspeed = \
                       500.0\nacceleration = 5000.0\n[y]\nspeed = 500.0\n\
    acceleration = 3000.0\n[z]\nspeed = 20.0\nacceleration = 100.0\nup = \"away\"\n[rotary]\nword \
        = \"A\"\nunits_per_turn = 360.0\n\
    speed = 360.0\nacceleration = 2000.0\n";

pub(crate) fn setup(blank: &str, options: &[(&str, &str)]) -> Setup {
    let mut job = JobFile::default();
    for (name, value) in options {
        job.set_option(name, value).unwrap();
    }
    Setup::new(read_blank(blank, "blank").unwrap(), read_machine(MACHINE, "machine").unwrap(), job)
        .unwrap()
}

/// A drawing whose page is the flat plane: x is u, y is v.
pub(crate) fn art(shapes: Vec<Shape>) -> Art {
    Art { elements: vec![Element::default()], shapes, ..Art::default() }
}

pub(crate) const NAVY: Rgb = Rgb::new(0, 0, 128);

pub(crate) fn shape(d: &str) -> Shape {
    Shape {
        element: 0,
        path: BezPath::from_svg(d).unwrap(),
        fill: None,
        stroke: None,
        stroke_first: false,
        clips: vec![],
    }
}

pub(crate) fn filled(d: &str, colour: Rgb, rule: Rule) -> Shape {
    Shape { fill: Some(Fill { colour, rule, opacity: 1.0 }), ..shape(d) }
}

pub(crate) fn stroked(d: &str, colour: Rgb, width_mm: f64) -> Shape {
    let stroke = Stroke {
        colour,
        opacity: 1.0,
        width_mm,
        join: Join::Miter,
        cap: Cap::Butt,
        miter_limit: 4.0,
        pen: Affine::IDENTITY,
        dashes: None,
    };
    Shape { stroke: Some(stroke), ..shape(d) }
}

pub(crate) fn window(d: &str) -> Clip {
    let area = ClipArea { path: BezPath::from_svg(d).unwrap(), rule: Rule::NonZero, clips: vec![] };
    Clip { areas: vec![area], within: vec![] }
}

/// Parts of shapes, each shape a piece of its own.
pub(crate) fn parts(chosen: &[Chosen]) -> Vec<stave_transform::BurnPart> {
    chosen
        .iter()
        .map(|one| stave_transform::BurnPart {
            shape: one.shape,
            part: one.part,
            piece: one.shape,
            lay: 0,
        })
        .collect()
}

pub(crate) fn one(shape: usize, part: Part) -> Chosen {
    Chosen { shape, part }
}

pub(crate) fn area(spacing_mm: f64, chosen: &[Chosen]) -> BurnOperation {
    BurnOperation {
        work: Work::Area,
        speed_mm_per_s: 200.0,
        power_percent: 50.0,
        line_spacing_mm: Some(spacing_mm),
        lines: stave_transform::LineRule::Nearest,
        scan: stave_transform::ScanWay::Along,
        passes: 1,
        cross: false,
        even_dose: true,
        air: AirLevel::Off,
        one_way: false,
        fade_mm: 0.0,
        defocus_mm: 0.0,
        spot_mm: None,
        shade: None,
        parts: parts(chosen),
    }
}

pub(crate) fn line(chosen: &[Chosen]) -> BurnOperation {
    BurnOperation {
        work: Work::Line,
        speed_mm_per_s: 40.0,
        line_spacing_mm: None,
        ..area(1.0, chosen)
    }
}

/// A move as it was given, and where it comes from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
    pub(crate) from: (f64, f64, f64),
    pub(crate) to: (f64, f64, f64),
    pub(crate) made: stave_toolpath::Step,
}

/// All moves, words in mm and degrees.
#[derive(Default)]
pub(crate) struct Record {
    pub(crate) steps: Vec<Step>,
    pub(crate) told: Vec<String>,
}

impl StepSink for Record {
    type Error = std::convert::Infallible;

    fn step(&mut self, step: &stave_toolpath::Step) -> Result<(), Self::Error> {
        if step.kind.moves() {
            let words = |stand: &Stand| (stand.words[X], stand.words[ROTARY], stand.words[Z]);
            let (from, to) = (words(&step.from), words(&step.to));
            // Each step goes on where the one before ended.
            assert!(self.steps.last().is_none_or(|last| last.made.to == step.from));
            self.steps.push(Step { from, to, made: *step });
        }
        Ok(())
    }
}

impl ArtSink for Record {
    fn operation(&mut self, operation: usize, pass: u32, _: &Meant) -> Result<(), Self::Error> {
        self.told.push(format!("operation {operation} pass {pass}"));
        Ok(())
    }

    fn pieces(&mut self, pieces: &[usize]) -> Result<u32, Self::Error> {
        self.told.push(format!("pieces {pieces:?}"));
        Ok(u32::try_from(self.told.len()).unwrap())
    }

    fn word(&mut self, word: &str) -> Result<(), Self::Error> {
        self.told.push(format!("word {word}"));
        Ok(())
    }
}

impl Record {
    pub(crate) fn burns(&self) -> impl Iterator<Item = &Step> {
        self.steps.iter().filter(|step| step.made.kind == StepKind::Burn)
    }
}

pub(crate) fn lay(setup: &Setup, kind: LayKind, anchor: Anchor) -> Lay {
    let wall = &setup.blank.wall;
    let setting = LaySetting {
        kind,
        origin_s_mm: wall.s_of_at(setup.job.place.at_mm),
        origin_turn_rad: setup.job.place.turn_rad,
        reference_radius_mm: setup.job.reference_radius_mm,
        anchor,
    };
    Lay::new(wall, setting).unwrap()
}

/// Plans and burns operations by one lay.
pub(crate) fn burned(
    setup: &Setup,
    art: &Art,
    lay: Lay,
    operations: Vec<BurnOperation>,
) -> Result<(Record, Burned), Vec<Hit>> {
    let lays = [lay];
    let burns = Burns { art, to_flat: Affine::IDENTITY, lays: &lays, operations };
    let plan = plan_art(&burns, setup)?;
    let mut record = Record::default();
    let burned = plan.burn(&mut record).unwrap();
    Ok((record, burned))
}

/// The figures of one operation on the drum, whose lays are all isometries.
pub(crate) fn on_drum(art: &Art, operation: BurnOperation) -> (Record, OperationFigures) {
    let setup = setup(DRUM, &[("place-at", "0")]);
    let lay = lay(&setup, LayKind::TrueWidth, Anchor::Drawing);
    let (record, burned) = burned(&setup, art, lay, vec![operation]).unwrap();
    (record, burned.operations[0].clone())
}

/// The crest's place for every `at`, to find `s` and radius under an X word.
pub(crate) struct Back {
    s_of_x: Vec<(f64, f64)>,
    zero_mm: f64,
}

impl Back {
    pub(crate) fn new(setup: &Setup) -> Back {
        let wall = &setup.blank.wall;
        let crest = Crest::new(setup.job.tilt_rad);
        let x = |s: f64| crest.along_mm(&wall.section(s, &mut 0));
        let mut places: Vec<f64> =
            (0..=40_000).map(|k| wall.length_mm() * f64::from(k) / 40_000.0).collect();
        places.extend(wall.span_ends_mm());
        places.sort_by(f64::total_cmp);
        let s_of_x = places.into_iter().map(|s| (x(s), s)).collect();
        Back { s_of_x, zero_mm: x(wall.s_of_at(setup.job.zero.at_mm)) }
    }

    /// `s` under an X word.
    pub(crate) fn s_mm(&self, word: f64) -> f64 {
        let x = word + self.zero_mm;
        let k = self.s_of_x.partition_point(|place| place.0 < x).clamp(1, self.s_of_x.len() - 1);
        let (a, b) = (self.s_of_x[k - 1], self.s_of_x[k]);
        a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0)
    }
}

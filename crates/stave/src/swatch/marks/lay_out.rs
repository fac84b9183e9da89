//! Where the marks lie, and the program that burns them.

use stave_check::{NoRoom, Room};
use stave_rig::Swatch;
use stave_setup::{Dose, Setup, Stands};
use stave_toolpath::PauseWord;
use stave_toolpath::number::fixed;
use stave_transform::{Patch, patch_lines, run_up_mm, text_strokes, text_width_mm};

use super::plan::{Burns, Group, MOST_PLAY, Mark, Side, Tick};
use super::{MarkGroup, MarkReport, MarksReport};
use crate::asked_spacing::GotSpacing;
use crate::check::judged;
use crate::error::Error;
use crate::set_up::focus_known;
use crate::swatch::burn::{Burner, Job, place, unfit};
use crate::swatch::table::Table;
use crate::swatch::{self, SwatchOptions, along_axis, label};

/// How high figures stand, and what is kept between them and the marks, mm.
const FIGURE_MM: f64 = 2.0;
const GAP_MM: f64 = 1.0;
/// From line to line of what a row measures, mm.
const LINE_MM: f64 = 3.2;
/// Between two marks, mm.
const BETWEEN_MM: f64 = 2.0;
/// The shares of the way around that rows may take, the widest first.
const AROUND: [f64; 4] = [0.9, 0.6, 0.4, 0.25];
/// How many times the most play ticks are come to from one side.
const RUN_UPS: f64 = 2.0;

/// The middle of every mark, group by group, mm as a reader sees them.
type Middles = Vec<Vec<(f64, f64)>>;

/// A group and the rows that it takes.
struct Band<'a> {
    group: &'a Group,
    /// From the middle of a mark to that of the next, and from the top of a row to that of the
    /// next, mm.
    pitch_mm: f64,
    row_mm: f64,
    per_row: usize,
}

impl<'a> Band<'a> {
    fn of(group: &'a Group, most_mm: f64) -> Self {
        let label = |mark: &Mark| text_width_mm(&mark.label, FIGURE_MM);
        let pitch_mm = BETWEEN_MM + group.marks.iter().map(label).fold(group.around_mm, f64::max);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "few marks")]
        let fit = (most_mm / pitch_mm).floor().clamp(1.0, 1e3) as usize;
        // Rows of the same length.
        let rows = group.marks.len().div_ceil(fit).max(1);
        let row_mm = (FIGURE_MM + GAP_MM + group.along_mm).max(LINE_MM * count(group.title.len()));
        Self {
            group,
            pitch_mm,
            row_mm: row_mm + BETWEEN_MM,
            per_row: group.marks.len().div_ceil(rows).max(1),
        }
    }

    fn rows(&self) -> std::slice::Chunks<'a, Mark> {
        self.group.marks.chunks(self.per_row)
    }

    fn title_mm(&self) -> f64 {
        self.group.title.iter().map(|line| text_width_mm(line, FIGURE_MM)).fold(0.0, f64::max)
    }
}

/// The marks of the groups in rows, what they measure at the left of them, and the middle of each,
/// mm as a reader sees them.
fn rows(groups: &[Group], most_mm: f64) -> (Table, Middles) {
    let titles = groups.iter().map(|group| Band::of(group, most_mm).title_mm());
    let beside_mm = titles.fold(0.0, f64::max) + BETWEEN_MM;
    let bands: Vec<Band<'_>> =
        groups.iter().map(|group| Band::of(group, most_mm - beside_mm)).collect();
    let longest = bands.iter().map(|band| band.pitch_mm * count(band.per_row));
    let width_mm = beside_mm + longest.fold(0.0, f64::max);
    let height_mm: f64 = bands.iter().map(|band| band.row_mm * count(band.rows().len())).sum();
    let (mut strokes, mut middles) = (Vec::new(), Vec::new());
    let mut put = |text: &str, (x, y): (f64, f64)| {
        let moved = |stroke: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
            stroke.into_iter().map(|p| (p.0 + x, p.1 + y)).collect()
        };
        strokes.extend(text_strokes(text, FIGURE_MM).into_iter().map(moved));
    };
    let (left, mut top) = (-0.5 * width_mm, 0.5 * height_mm);
    for band in &bands {
        for (k, line) in band.group.title.iter().enumerate() {
            put(line, (left, top - FIGURE_MM - LINE_MM * count(k)));
        }
        let mut of_group = Vec::new();
        for row in band.rows() {
            for (column, mark) in row.iter().enumerate() {
                let x = left + beside_mm + band.pitch_mm * (count(column) + 0.5);
                let from = x - 0.5 * text_width_mm(&mark.label, FIGURE_MM);
                put(&mark.label, (from, top - FIGURE_MM));
                of_group.push((x, top - FIGURE_MM - GAP_MM - 0.5 * band.group.along_mm));
            }
            top -= band.row_mm;
        }
        middles.push(of_group);
    }
    (Table { patches: Vec::new(), strokes, width_mm, height_mm }, middles)
}

#[expect(clippy::cast_precision_loss, reason = "marks are few")]
fn count(of: usize) -> f64 {
    of as f64
}

/// Where ticks are come to from one side: how many units of the rotary's word away.
fn aside(setup: &Setup) -> f64 {
    RUN_UPS * MOST_PLAY * setup.rotary_units_per_turn()
}

/// How far below and above what lies there the rotary's word goes, units.
fn turned(setup: &Setup, what: Swatch, groups: &[Group]) -> (f64, f64) {
    if what != Swatch::Turn {
        return (0.0, 0.0);
    }
    let marks = groups.iter().flat_map(|group| &group.marks);
    let ticks = marks.flat_map(|mark| match &mark.burns {
        Burns::Ticks(ticks) => ticks.as_slice(),
        Burns::Patch(..) => &[],
    });
    let aside = aside(setup);
    let words = ticks.map(|tick| match tick.side {
        Side::Below => (tick.turned - aside, tick.turned),
        Side::Above => (tick.turned, tick.turned + aside),
    });
    words.fold((0.0, 0.0), |(below, above), (least, most)| {
        (f64::max(below, -least), f64::max(above, most))
    })
}

/// Where the marks find room.
fn room(
    setup: &Setup,
    what: Swatch,
    groups: &[Group],
    options: &SwatchOptions,
) -> Result<(Job, Table, Middles), Error> {
    let fastest = groups.iter().map(|group| group.speed_mm_per_s).fold(0.0, f64::max);
    let run_up = run_up_mm(fastest, along_axis(setup));
    let around_mm = std::f64::consts::TAU * setup.blank.wall.largest_radius_mm();
    let mut none = None;
    for share in AROUND {
        let (table, middles) = rows(groups, share * around_mm);
        let turned = turned(setup, what, groups);
        let room = Room { turned, ..swatch::room(&table, setup.job.stands, run_up) };
        match place(setup, room, options) {
            Ok(job) => return Ok((job, table, middles)),
            // Narrower rows are more of them: what the rotary lacks is told first.
            Err(error) => match none {
                Some(Error::NoRoom(NoRoom::Rotary { .. })) => {}
                _ => none = Some(error),
            },
        }
    }
    Err(none.unwrap_or_else(|| Error::Setting("a swatch needs marks".into())))
}

/// How a mark was burned.
struct Burned {
    /// Percent and mm/s.
    how: (f64, f64),
    /// Of a patch, the spacing of its lines.
    spacing: Option<GotSpacing>,
}

/// The power, percent, and the speed at which a patch whose lines lie farther apart or closer than
/// asked gets the energy of its label on each mm²: pictures under an even dose are burned so. Where
/// that were more than full power it is slower instead.
fn evened((power, speed): (f64, f64), got: &GotSpacing) -> (f64, f64) {
    let power = power * got.spacing_mm / got.asked_mm;
    let over = (0.01 * power).max(1.0);
    (power / over, speed / over)
}

/// The program, and what it burns.
pub(super) fn write(
    setup: &Setup,
    what: Swatch,
    groups: &[Group],
    options: &SwatchOptions,
) -> Result<(Vec<u8>, MarksReport), Error> {
    let mut setup = setup.clone();
    if setup.job.stands == Stands::Lying {
        // Ticks lie along the axis, and their figures beside each other around it.
        setup.job.stands = Stands::Upright;
    }
    let (job, table, middles) = room(&setup, what, groups, options)?;
    let area = setup.machine.area.map(|area| (area.power_percent, area.speed_mm_per_s));
    let how = label(&setup, options, area)?;
    let mut program = Vec::new();
    let mut burner = Burner::begin(&mut program, &job, what)?;
    burner.comment(&format!("labels: {} % at {} mm/s", fixed(how.0, 3), fixed(how.1, 3)))?;
    for stroke in &table.strokes {
        burner.stroke(stroke, how)?;
    }
    // `place` has the dose as given, for what marks have is theirs: the job says what pictures get.
    let is_even = setup.job.dose != Some(Dose::AsGiven);
    let (mut found, mut worst) = (Vec::new(), None);
    for (group, middles) in groups.iter().zip(&middles) {
        let mut marks = Vec::new();
        for (mark, middle) in group.marks.iter().zip(middles) {
            let (s_mm, turn_rad) = job.on_wall(*middle);
            if group.key == "focus" {
                burner.raise(mark.height_mm)?;
            }
            burner.comment(&format!("mark {} {}", group.key, mark.label))?;
            let burned = burner.mark(mark, (s_mm, turn_rad), (what == Swatch::Turn, is_even))?;
            let got = burned.spacing;
            let is_worse =
                |got: &GotSpacing| worst.as_ref().is_none_or(|(worst, _)| got.is_worse_than(worst));
            if let Some(got) = got.filter(is_worse) {
                worst = Some((got, format!("the patch labelled {}", mark.label)));
            }
            marks.push(MarkReport {
                value: mark.value,
                lines: [0, 0],
                at: job.setup.blank.wall.at_of_s(s_mm),
                turn_deg: turn_rad.to_degrees(),
                power_percent: burned.how.0,
                speed_mm_per_s: burned.how.1,
                line_spacing_mm: got.map(|got| got.spacing_mm),
                line_spacing_asked_mm: got.map(|got| got.asked_mm),
            });
        }
        found.push(MarkGroup {
            key: group.key.into(),
            unit: group.unit.into(),
            speed_mm_per_s: group.speed_mm_per_s,
            marks,
        });
    }
    let nominal_s = burner.end()?;
    number_lines(&program, &mut found);
    let (mut findings, focus_at) = judged(&program, &job.setup, &options.allow)?;
    let changed = (!is_even).then_some(": dose = \"even\" holds it");
    findings.extend(worst.and_then(|(worst, patch)| worst.finding(&patch, changed)));
    let set_up = focus_known(&mut program, &job.setup, focus_at);
    let report = MarksReport {
        test: what.as_str().into(),
        groups: found,
        blank: setup.blank.name.clone(),
        at: job.spot.at_mm,
        turn_deg: job.spot.turn_rad.to_degrees(),
        nominal_s,
        set_up,
        findings,
        notes: Vec::new(),
    };
    Ok((program, report))
}

/// The first and last line of every mark: from its comment to the next, or to the end of the beam.
fn number_lines(program: &[u8], groups: &mut [MarkGroup]) {
    let mut marks = groups.iter_mut().flat_map(|group| &mut group.marks);
    let mut open: Option<&mut MarkReport> = None;
    for (line, text) in (1_u64..).zip(program.split(|byte| *byte == b'\n')) {
        let ends = text.starts_with(b"(") || text == b"M5";
        if ends && let Some(mark) = open.take() {
            mark.lines[1] = line - 1;
        }
        if text.starts_with(b"(mark ") {
            open = marks.next();
            if let Some(mark) = open.as_deref_mut() {
                mark.lines = [line + 1, line + 1];
            }
        }
    }
}

impl Burner<'_, &mut Vec<u8>> {
    /// Sets the height of the head above focus: by Z words, else by the person at the machine.
    fn raise(&mut self, height_mm: f64) -> Result<(), Error> {
        if self.job.setup.machine.z.is_some() {
            self.wrapper.drive_z();
            self.z_mm = self.wrapper.rig().z_sign * height_mm;
            return Ok(());
        }
        let where_ = match height_mm {
            up if up > 0.0 => format!("{} mm above where you focused", fixed(up, 2)),
            down if down < 0.0 => format!("{} mm below where you focused", fixed(-down, 2)),
            _ => "where you focused".to_owned(),
        };
        self.comment(&format!("set the head {where_}, then go on"))?;
        self.wrapper.pause(PauseWord::M0, &mut self.writer).map_err(unfit)
    }

    /// Burns a mark: ticks from either side, patches with the dose of their label held even.
    fn mark(
        &mut self,
        mark: &Mark,
        at: (f64, f64),
        (from_sides, is_even): (bool, bool),
    ) -> Result<Burned, Error> {
        let setup = &self.job.setup;
        let run_up = run_up_mm(mark.how.1, along_axis(setup));
        let radius_mm = setup.blank.wall.section(at.0, &mut 0).radius_mm;
        match &mark.burns {
            Burns::Patch(size_mm, spacing_mm) => {
                let patch = Patch {
                    s_mm: at.0,
                    turn_rad: at.1,
                    radius_mm,
                    size_mm: *size_mm,
                    spacing_mm: *spacing_mm,
                };
                let zero_rad = setup.job.zero.turn_rad;
                let found = patch_lines(&patch, setup.rotary_steps_per_turn(), zero_rad);
                let got = GotSpacing::of_patch(&patch, &found);
                let how = if is_even { evened(mark.how, &got) } else { mark.how };
                for (turn_rad, from, to) in found.lines {
                    self.scan_line(turn_rad, from, to, run_up, how)?;
                }
                Ok(Burned { how, spacing: Some(got) })
            }
            Burns::Ticks(ticks) => {
                for tick in ticks {
                    self.tick(tick, (at.0, at.1, radius_mm), run_up, (mark.how, from_sides))?;
                }
                Ok(Burned { how: mark.how, spacing: None })
            }
        }
    }

    fn tick(
        &mut self,
        tick: &Tick,
        (s_mm, turn_rad, radius_mm): (f64, f64, f64),
        run_up_mm: f64,
        (how, from_sides): ((f64, f64), bool),
    ) -> Result<(), Error> {
        let rad_per_unit = self.wrapper.rig().rad_per_count / self.wrapper.rig().count;
        let turn_rad = turn_rad + tick.around_mm / radius_mm + tick.turned * rad_per_unit;
        let (from, to) = (s_mm + tick.ends_mm.0, s_mm + tick.ends_mm.1);
        if from_sides {
            let by = aside(&self.job.setup) * rad_per_unit;
            let beside = match tick.side {
                Side::Below => turn_rad - by,
                Side::Above => turn_rad + by,
            };
            let beyond = if to > from { run_up_mm } else { -run_up_mm };
            let start = self.flat(from - beyond, beside);
            self.travel(start)?;
        }
        self.scan_line(turn_rad, from, to, run_up_mm, how)
    }
}

//! Flat programs of any length, the same on every run.

use std::io::Write;
use std::ops::ControlFlow;

/// What a program looks like.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Style {
    /// Scan lines along X, a changing S on every step: lines such as `X12.35 S123`.
    Raster,
    /// The same spelled out: lines such as `G1 X12.350 S123`.
    Spelled,
    /// Curves of short chords: lines such as `G1 X12.345 Y-6.789`, F and S now and then.
    Vector,
    /// The same with an arc in every twentieth line: `G3 X12.345 Y-6.789 I0.1234 J-0.5678`.
    Arcs,
    /// As `Arcs`, under G91.
    Relative,
    /// As `Arcs`, under G20.
    Inch,
}

impl Style {
    /// A word for tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Raster => "raster, terse",
            Self::Spelled => "raster",
            Self::Vector => "lines",
            Self::Arcs => "lines, arcs",
            Self::Relative => "relative",
            Self::Inch => "inch",
        }
    }

    /// The lines before the first row.
    fn head(self) -> &'static [u8] {
        match self {
            Self::Relative => b"G21\nG91\nM4 S0\nF12000\n",
            Self::Inch => b"G20\nG90\nM4 S0\nF480\n",
            _ => b"G21\nG90\nM4 S0\nF12000\n",
        }
    }
}

/// About `bytes` of a program within 0 to 60 mm in X and 40 mm either way in Y, with its end.
#[must_use]
pub fn program(style: Style, bytes: usize) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes + 256);
    out.extend_from_slice(style.head());
    let mut rows = Rows::new(style);
    while out.len() < bytes {
        let full = rows.next_row(&mut out, bytes);
        if full.is_break() {
            break;
        }
    }
    out.extend_from_slice(b"M5\nM2\n");
    out
}

/// A reader of a program without end, for measuring memory: rows are made as they are read.
pub struct Endless {
    rows: Rows,
    row: Vec<u8>,
    at: usize,
    left: usize,
}

impl Endless {
    /// A program of about `bytes` that is never whole in memory.
    #[must_use]
    pub fn new(style: Style, bytes: usize) -> Self {
        Self { rows: Rows::new(style), row: style.head().to_vec(), at: 0, left: bytes }
    }
}

impl std::io::Read for Endless {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        if self.at == self.row.len() {
            if self.left == 0 {
                return Ok(0);
            }
            self.row.clear();
            self.at = 0;
            if self.rows.next_row(&mut self.row, usize::MAX).is_break()
                || self.row.len() >= self.left
            {
                self.left = 0;
                self.row.extend_from_slice(b"M5\nM2\n");
            } else {
                self.left -= self.row.len();
            }
        }
        let taken = buffer.len().min(self.row.len() - self.at);
        buffer[..taken].copy_from_slice(&self.row[self.at..self.at + taken]);
        self.at += taken;
        Ok(taken)
    }
}

struct Rows {
    style: Style,
    row: u32,
    /// Where the last move ended, mm.
    pen: (f64, f64),
}

impl Rows {
    fn new(style: Style) -> Self {
        Self { style, row: 0, pen: (0.0, 0.0) }
    }

    fn next_row(&mut self, out: &mut Vec<u8>, limit: usize) -> ControlFlow<()> {
        let row = self.row;
        self.row = row.wrapping_add(1);
        let written = match self.style {
            Style::Raster | Style::Spelled => self.raster(out, row, limit),
            _ => self.curve(out, row, limit),
        };
        match written {
            Ok(()) if out.len() < limit => ControlFlow::Continue(()),
            _ => ControlFlow::Break(()),
        }
    }

    fn raster(&self, out: &mut Vec<u8>, row: u32, limit: usize) -> std::io::Result<()> {
        let y = f64::from(row % 800) * 0.1 - 40.0;
        let forward = row.is_multiple_of(2);
        let (start, step) = if forward { (2.0, 0.1) } else { (58.0, -0.1) };
        writeln!(out, "G0 X{start} Y{y:.1}\nG1 X{start} S0")?;
        for k in 1..=560_u32 {
            if out.len() >= limit {
                break;
            }
            let x = start + step * f64::from(k);
            // A few darks, the rest shades of three figures.
            let shade = (k.wrapping_mul(37) ^ row.wrapping_mul(101)) % 900 + 100;
            let shade = if shade < 140 { 0 } else { shade };
            match self.style {
                Style::Raster => writeln!(out, "X{x:.2} S{shade}")?,
                _ => writeln!(out, "G1 X{x:.3} S{shade}")?,
            }
        }
        Ok(())
    }

    fn curve(&mut self, out: &mut Vec<u8>, row: u32, limit: usize) -> std::io::Result<()> {
        let (cx, cy) = (12.0 + f64::from(row % 7) * 6.0, f64::from(row % 11) * 6.0 - 30.0);
        let radius = 3.0 + f64::from(row % 13) * 0.5;
        self.words(out, "G0", (cx + radius, cy), None)?;
        let feed = 3000 + row % 5 * 300;
        let feed = f64::from(feed) / if self.style == Style::Inch { 25.4 } else { 1.0 };
        writeln!(out, " S0\nF{feed:.0}\nS{}", 200 + row % 300)?;
        for k in 1..=400_u32 {
            if out.len() >= limit {
                break;
            }
            let a = f64::from(k) * (std::f64::consts::TAU / 400.0);
            let r = radius * (1.0 + 0.1 * (5.0 * a).sin());
            let to = (cx + r * a.cos(), cy + r * a.sin());
            if self.style != Style::Vector && k.is_multiple_of(20) {
                let centre = centre_of_arc(self.pen, to);
                self.words(out, "G3", to, Some(centre))?;
            } else {
                self.words(out, "G1", to, None)?;
            }
            out.push(b'\n');
        }
        Ok(())
    }

    /// A move without its line's end; the pen stands where it was written to go, rounded as it was.
    fn words(
        &mut self,
        out: &mut Vec<u8>,
        motion: &str,
        to: (f64, f64),
        centre: Option<(f64, f64)>,
    ) -> std::io::Result<()> {
        let (unit, decimals) = if self.style == Style::Inch { (25.4, 4) } else { (1.0, 3) };
        let grid = unit / 10_f64.powi(decimals);
        let rounded = |value: f64| (value / grid).round() * grid;
        let from = self.pen;
        let to = (rounded(to.0), rounded(to.1));
        let base = if self.style == Style::Relative { from } else { (0.0, 0.0) };
        let places = usize::try_from(decimals).unwrap_or(3);
        let (x, y) = ((to.0 - base.0) / unit, (to.1 - base.1) / unit);
        write!(out, "{motion} X{x:.places$} Y{y:.places$}")?;
        if let Some(centre) = centre {
            let (i, j) = ((centre.0 - from.0) / unit, (centre.1 - from.1) / unit);
            write!(out, " I{i:.5} J{j:.5}")?;
        }
        self.pen = to;
        Ok(())
    }
}

/// The centre of the counter-clockwise arc between two places whose radius is one and a half
/// chords.
fn centre_of_arc(from: (f64, f64), to: (f64, f64)) -> (f64, f64) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let from_middle = 2.0_f64.sqrt();
    (f64::midpoint(from.0, to.0) - dy * from_middle, f64::midpoint(from.1, to.1) + dx * from_middle)
}

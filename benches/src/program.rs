//! Flat programs of any length, the same on every run.

use std::io::Write;
use std::ops::ControlFlow;

/// What a program looks like.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Style {
    /// Scan lines along X, a changing S on every step: lines such as `X12.35 S123`.
    Raster,
    /// Curves of short chords: lines such as `G1 X12.345 Y-6.789`, F and S now and then.
    Vector,
}

impl Style {
    /// A word for tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Raster => "raster-like",
            Self::Vector => "vector-like",
        }
    }
}

/// About `bytes` of a program within 0 to 60 mm in X and 40 mm either way in Y, with its end.
#[must_use]
pub fn program(style: Style, bytes: usize) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes + 256);
    out.extend_from_slice(b"G21\nG90\nM4 S0\nF12000\n");
    let mut rows = Rows { style, row: 0 };
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
        Self {
            rows: Rows { style, row: 0 },
            row: b"G21\nG90\nM4 S0\nF12000\n".to_vec(),
            at: 0,
            left: bytes,
        }
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
}

impl Rows {
    fn next_row(&mut self, out: &mut Vec<u8>, limit: usize) -> ControlFlow<()> {
        let row = self.row;
        self.row = row.wrapping_add(1);
        let written = match self.style {
            Style::Raster => raster_row(out, row, limit),
            Style::Vector => vector_row(out, row, limit),
        };
        match written {
            Ok(()) if out.len() < limit => ControlFlow::Continue(()),
            _ => ControlFlow::Break(()),
        }
    }
}

fn raster_row(out: &mut Vec<u8>, row: u32, limit: usize) -> std::io::Result<()> {
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
        writeln!(out, "X{x:.2} S{}", if shade < 140 { 0 } else { shade })?;
    }
    Ok(())
}

fn vector_row(out: &mut Vec<u8>, row: u32, limit: usize) -> std::io::Result<()> {
    let (cx, cy) = (12.0 + f64::from(row % 7) * 6.0, f64::from(row % 11) * 6.0 - 30.0);
    let radius = 3.0 + f64::from(row % 13) * 0.5;
    writeln!(
        out,
        "G0 X{:.3} Y{cy:.3} S0\nF{}\nS{}",
        cx + radius,
        3000 + row % 5 * 300,
        200 + row % 300
    )?;
    for k in 1..=400_u32 {
        if out.len() >= limit {
            break;
        }
        let a = f64::from(k) * (std::f64::consts::TAU / 400.0);
        let r = radius * (1.0 + 0.1 * (5.0 * a).sin());
        writeln!(out, "G1 X{:.3} Y{:.3}", cx + r * a.cos(), cy + r * a.sin())?;
    }
    Ok(())
}

//! Pictures with grain, the same as files and as flat engravings, and a loop over their pixels.

use std::io::Write;

use crate::hand;

/// Greys of so many columns and rows, no two neighbours alike but by chance.
#[derive(Clone, Debug)]
pub struct Grain {
    /// Pixels along a row.
    pub columns: u32,
    /// Rows, the first at the top.
    pub rows: u32,
    greys: Vec<u8>,
}

impl Grain {
    /// Soft waves under grain.
    #[must_use]
    pub fn new(columns: u32, rows: u32) -> Self {
        let mut seed = 1_u32;
        let mut greys = Vec::with_capacity(columns as usize * rows as usize);
        let wave = |at: u32, long: f64| (f64::from(at) / long).sin();
        for row in 0..rows {
            let down = wave(row, 47.0);
            for column in 0..columns {
                seed = seed.wrapping_mul(1_103_515_245).wrapping_add(12_345);
                let grain = f64::from(seed >> 16 & 31);
                greys.push((110.0 + 70.0 * wave(column, 61.0) * down + grain) as u8);
            }
        }
        Self { columns, rows, greys }
    }

    /// The grey of a pixel.
    #[must_use]
    pub fn grey(&self, column: u32, row: u32) -> u8 {
        let pixel = row as usize * self.columns as usize + column as usize;
        self.greys.get(pixel).copied().unwrap_or(u8::MAX)
    }

    /// A PNG of them, stored as they are (W3C PNG, third edition; RFC 1950 and 1951).
    #[must_use]
    pub fn png(&self) -> Vec<u8> {
        let mut raw = Vec::with_capacity(self.greys.len() + self.rows as usize);
        for row in self.greys.chunks(self.columns as usize) {
            raw.push(0);
            raw.extend_from_slice(row);
        }
        let mut packed = vec![0x78, 1];
        let blocks = raw.chunks(65_535);
        let last = blocks.len().saturating_sub(1);
        for (number, block) in blocks.enumerate() {
            let length = block.len() as u16;
            packed.push(u8::from(number == last));
            packed.extend_from_slice(&length.to_le_bytes());
            packed.extend_from_slice(&(!length).to_le_bytes());
            packed.extend_from_slice(block);
        }
        let sums = raw.iter().fold((1_u32, 0_u32), |(a, b), byte| {
            let a = (a + u32::from(*byte)) % 65_521;
            (a, (b + a) % 65_521)
        });
        packed.extend_from_slice(&(sums.1 << 16 | sums.0).to_be_bytes());
        let mut head = Vec::from(self.columns.to_be_bytes());
        head.extend_from_slice(&self.rows.to_be_bytes());
        head.extend_from_slice(&[8, 0, 0, 0, 0]);
        let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
        for (kind, data) in [(b"IHDR", &head), (b"IDAT", &packed), (b"IEND", &Vec::new())] {
            out.extend_from_slice(&(data.len() as u32).to_be_bytes());
            let from = out.len();
            out.extend_from_slice(kind);
            out.extend_from_slice(data);
            let sum = crc32(&out[from..]);
            out.extend_from_slice(&sum.to_be_bytes());
        }
        out
    }

    /// A flat engraving of them as exporters write it: rows along X, there and back, an S on every
    /// pixel, run-ups at S0. Pixels are so long and rows so far apart, mm.
    #[must_use]
    pub fn engraving(&self, pixel_mm: f64, pitch_mm: f64) -> Vec<u8> {
        let mut out = b"G21 G90 G94\nM4 S0\nF15000\n".to_vec();
        let end = f64::from(self.columns) * pixel_mm;
        for row in 0..self.rows {
            let y = (f64::from(row) - f64::from(self.rows) / 2.0) * pitch_mm;
            let forward = row.is_multiple_of(2);
            let (from, to) = if forward { (0.0, end) } else { (end, 0.0) };
            let beyond = if forward { 4.0 } else { -4.0 };
            let mut line = |text: std::fmt::Arguments<'_>| {
                // Nothing keeps a list from growing.
                let _ = out.write_fmt(text);
            };
            line(format_args!("G0 X{:.3} Y{y:.4}\nG1 X{from:.3} S0\n", from - beyond));
            for k in 0..self.columns {
                let column = if forward { k } else { self.columns - 1 - k };
                let x = f64::from(if forward { column + 1 } else { column }) * pixel_mm;
                let s = 100 + 3 * u32::from(255 - self.grey(column, row));
                line(format_args!("X{x:.3} S{s}\n"));
            }
            line(format_args!("G1 X{:.3} S0\n", to + beyond));
        }
        out.extend_from_slice(b"M5\nM2\n");
        out
    }

    /// A scan of the picture on the cup, true-width, as a person would write it who wanted nothing
    /// else: for every line and every pixel of it one look, and a move where the grey changes.
    #[must_use]
    pub fn by_hand(&self, pixel_mm: f64, pitch_mm: f64) -> Vec<u8> {
        let cone = hand::Cone::cup();
        let widest = cone.map(f64::from(self.columns) * pixel_mm, 0.0).2;
        // Whole motor steps, no wider than the rows.
        let motor = std::f64::consts::TAU / 12_800.0;
        let step = (pitch_mm / (motor * widest)).floor().max(1.0) * motor;
        let reach = f64::from(self.rows) * pitch_mm / 2.0 / cone.map(0.0, 0.0).2;
        let lines = (reach / step) as i64;
        let mut out = b"G21 G90 G94\nM4 S0\n".to_vec();
        for line in -lines..=lines {
            let turn = line as f64 * step;
            let degrees = turn.to_degrees();
            let _ = writeln!(out, "G0 X-4 A{degrees:.4}\nG1 X0 S0 F15000");
            let mut last = 0_u8;
            for k in 0..self.columns {
                let column = if line % 2 == 0 { k } else { self.columns - 1 - k };
                let (x, _, r) = cone.map((f64::from(column) + 0.5) * pixel_mm, 0.0);
                let row = turn * r / pitch_mm + f64::from(self.rows) / 2.0;
                let row = row.max(0.0) as u32;
                let grey = if row < self.rows { self.grey(column, row) } else { 255 };
                if grey != last {
                    let _ = writeln!(out, "X{x:.4} S{}", 100 + 3 * u32::from(255 - last));
                    last = grey;
                }
            }
        }
        out.extend_from_slice(b"M5\nM2\n");
        out
    }
}

/// ISO/IEC 15948, annex D.
fn crc32(bytes: &[u8]) -> u32 {
    let table: Vec<u32> = (0..256_u32)
        .map(|byte| {
            (0..8).fold(byte, |c, _| if c & 1 == 1 { 0xedb8_8320 ^ c >> 1 } else { c >> 1 })
        })
        .collect();
    let next = |crc: u32, byte: &u8| table[(crc as u8 ^ byte) as usize] ^ crc >> 8;
    !bytes.iter().fold(u32::MAX, next)
}

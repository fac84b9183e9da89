//! Whether what a JPEG file codes is whole (ITU-T T.81). Decoders make some picture of any bytes;
//! whether it is the one that was meant shows only in how the codes come out: each stands in its
//! table, none runs past its block, and each scan ends with its last block.

use super::super::ImageError;
use super::blocks::{Band, Blocks};
use super::codes::{Codes, Stream, Table};

/// What is wrong in the coded data, at a byte of the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Damage {
    pub(super) byte: usize,
    pub(super) row: u32,
    pub(super) what: &'static str,
}

/// A component of a frame (T.81, B.2.2).
struct Component {
    id: u8,
    across: u32,
    down: u32,
    quantizer: usize,
    /// How many bits of each coefficient no scan has brought yet; all of them at the start.
    open: [u8; 64],
    /// Which coefficients of each block are known not to be 0; kept for progressive frames alone.
    filled: Vec<u64>,
}

/// No scan has brought anything of it.
const UNSEEN: u8 = u8::MAX;
/// The most components of a frame and of a scan: a scan may have no more (T.81, B.2.3).
const MOST_COMPONENTS: u8 = 4;
/// The most scans: a file that brings its bits one by one may have thousands, each of which is gone
/// through block by block. Encoders write about ten (common practice, no source).
const MOST_SCANS: u32 = 200;

#[derive(Default)]
struct Frame {
    is_progressive: bool,
    wide: u32,
    high: u32,
    components: Vec<Component>,
}

impl Frame {
    fn most(&self) -> (u32, u32) {
        let across = self.components.iter().map(|c| c.across).max().unwrap_or(1);
        let down = self.components.iter().map(|c| c.down).max().unwrap_or(1);
        (across, down)
    }

    /// Columns and rows of a component's blocks, those that only fill up included (T.81, A.2.4).
    fn padded(&self, component: &Component) -> (u32, u32) {
        let (across, down) = self.most();
        let (x, y) = (self.wide.div_ceil(8 * across), self.high.div_ceil(8 * down));
        (x * component.across, y * component.down)
    }

    /// Columns and rows of its blocks where it has a scan of its own (T.81, A.1.1, A.2.2).
    fn own(&self, component: &Component) -> (u32, u32) {
        let (across, down) = self.most();
        let x = (self.wide * component.across).div_ceil(across).div_ceil(8);
        (x, (self.high * component.down).div_ceil(down).div_ceil(8))
    }
}

/// All that holds until another segment says otherwise.
struct Tables {
    dc: [Option<Table>; 4],
    ac: [Option<Table>; 4],
    /// What coefficients are multiples of, in their zigzag order.
    steps: [[i32; 64]; 4],
    restart: u32,
}

/// Goes through every scan of a file.
///
/// # Errors
/// [`ImageError::Damaged`] at the first place that cannot be; [`ImageError::CutShort`].
pub(super) fn check(bytes: &[u8]) -> Result<(), ImageError> {
    let none = || std::array::from_fn(|_| None);
    let mut tables = Tables { dc: none(), ac: none(), steps: [[1; 64]; 4], restart: 0 };
    let mut frame = Frame::default();
    let (mut at, mut scans) = (2, 0);
    loop {
        // More of 0xff may stand before a marker (T.81, B.1.1.2).
        while bytes.get(at..at + 2) == Some(&[0xff, 0xff]) {
            at += 1;
        }
        let [0xff, marker] = *bytes.get(at..at + 2).ok_or(ImageError::CutShort)? else {
            let what = "bytes that belong to nothing stand between its parts";
            return Err(damaged(Damage { byte: at, row: 0, what }, &frame));
        };
        if marker == 0xd9 {
            break;
        }
        let segment = segment(bytes, at + 2).ok_or(ImageError::CutShort)?;
        let broken = |what| Damage { byte: at, row: 0, what };
        let next = at + 4 + segment.len();
        at = match marker {
            0xc0..=0xc2 if !frame.components.is_empty() => {
                return Err(damaged(broken("its frame header comes twice"), &frame));
            }
            0xc0..=0xc2 => {
                frame = read_frame(segment, marker == 0xc2)
                    .ok_or_else(|| damaged(broken("its frame header is broken"), &frame))?;
                next
            }
            0xc4 => {
                read_codes(segment, &mut tables)
                    .ok_or_else(|| damaged(broken("a table of codes is broken"), &frame))?;
                next
            }
            0xdb => {
                read_steps(segment, &mut tables)
                    .ok_or_else(|| damaged(broken("a table of steps is broken"), &frame))?;
                next
            }
            0xdd => {
                tables.restart = match *segment {
                    [high, low] => u16::from_be_bytes([high, low]).into(),
                    _ => 0,
                };
                next
            }
            0xda if scans == MOST_SCANS => {
                return Err(damaged(
                    broken("it has hundreds of scans, where about ten serve"),
                    &frame,
                ));
            }
            0xda => scan(bytes, next, segment, &mut frame, &tables).map_err(|damage| {
                damaged(Damage { byte: damage.byte.max(at), ..damage }, &frame)
            })?,
            _ => next,
        };
        scans += u32::from(marker == 0xda);
    }
    let end = Damage { byte: at, row: 0, what: "scans are missing: it would come out coarse" };
    let whole = frame.components.iter().all(|c| c.open.iter().all(|bits| *bits == 0));
    if whole { Ok(()) } else { Err(damaged(end, &frame)) }
}

fn damaged(damage: Damage, frame: &Frame) -> ImageError {
    let Damage { byte, row, what } = damage;
    ImageError::Damaged { byte, row: row.min(frame.high), rows: frame.high, what }
}

/// The bytes of a segment after its length, which counts itself.
fn segment(bytes: &[u8], at: usize) -> Option<&[u8]> {
    let length = u16::from_be_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]);
    bytes.get(at + 2..at + usize::from(length))
}

fn read_frame(segment: &[u8], is_progressive: bool) -> Option<Frame> {
    let [8, h1, h0, w1, w0, count, rest @ ..] = segment else { return None };
    let (wide, high) = (u16::from_be_bytes([*w1, *w0]), u16::from_be_bytes([*h1, *h0]));
    let mut frame =
        Frame { is_progressive, wide: wide.into(), high: high.into(), components: Vec::new() };
    let parts = rest.chunks_exact(3).take(usize::from(*count));
    for part in parts {
        let (across, down) = (u32::from(part[1] >> 4), u32::from(part[1] & 15));
        let fits = (1..=4).contains(&across) && (1..=4).contains(&down) && part[2] < 4;
        if !fits {
            return None;
        }
        frame.components.push(Component {
            id: part[0],
            across,
            down,
            quantizer: part[2].into(),
            open: [UNSEEN; 64],
            filled: Vec::new(),
        });
    }
    let whole = frame.components.len() == usize::from(*count) && wide > 0 && high > 0;
    (whole && (1..=MOST_COMPONENTS).contains(count)).then_some(frame)
}

/// T.81, B.2.4.2: tables of codes.
fn read_codes(mut rest: &[u8], tables: &mut Tables) -> Option<()> {
    while let [head, tail @ ..] = rest {
        let counts = tail.get(..16)?;
        let total: usize = counts.iter().map(|count| usize::from(*count)).sum();
        let values = tail.get(16..16 + total)?;
        let all = if head >> 4 == 0 { &mut tables.dc } else { &mut tables.ac };
        *all.get_mut(usize::from(head & 15))? = Some(Table::new(counts, values)?);
        rest = &tail[16 + total..];
    }
    Some(())
}

/// T.81, B.2.4.1: what the coefficients are multiples of, 1 or more.
fn read_steps(mut rest: &[u8], tables: &mut Tables) -> Option<()> {
    while let [head, tail @ ..] = rest {
        let size = if head >> 4 == 0 { 1 } else { 2 };
        let values = tail.get(..64 * size)?;
        let steps = tables.steps.get_mut(usize::from(head & 15))?;
        for (step, value) in steps.iter_mut().zip(values.chunks_exact(size)) {
            *step = value.iter().fold(0, |step, byte| step << 8 | i32::from(*byte));
            if *step == 0 {
                return None;
            }
        }
        rest = tail.get(64 * size..)?;
    }
    Some(())
}

/// Which component a part of a scan codes, and by which tables.
struct Part<'a> {
    component: usize,
    codes: Codes<'a>,
}

/// Goes through a scan; where its coded data ends.
fn scan(
    bytes: &[u8],
    start: usize,
    head: &[u8],
    frame: &mut Frame,
    tables: &Tables,
) -> Result<usize, Damage> {
    let broken = Damage { byte: 0, row: 0, what: "the header of a scan is broken" };
    let count = head.first().filter(|count| (1..=MOST_COMPONENTS).contains(count));
    let count = usize::from(*count.ok_or(broken)?);
    let spans = head.get(1 + 2 * count..4 + 2 * count).ok_or(broken)?;
    let band = if frame.is_progressive {
        Band { from: spans[0], to: spans[1], before: spans[2] >> 4, after: spans[2] & 15 }
    } else {
        Band { from: 0, to: 63, before: 0, after: 0 }
    };
    if band.from > band.to || band.to > 63 {
        return Err(broken);
    }
    let mut parts = Vec::with_capacity(count);
    for pair in head[1..=2 * count].chunks_exact(2) {
        let component = frame.components.iter().position(|c| c.id == pair[0]).ok_or(broken)?;
        let dc = tables.dc.get(usize::from(pair[1] >> 4)).and_then(Option::as_ref);
        let ac = tables.ac.get(usize::from(pair[1] & 15)).and_then(Option::as_ref);
        let steps = &tables.steps[frame.components[component].quantizer];
        parts.push(Part { component, codes: Codes { dc, ac, steps } });
    }
    for part in &parts {
        let component = &mut frame.components[part.component];
        for bits in &mut component.open[usize::from(band.from)..=usize::from(band.to)] {
            // The first scan of a coefficient leaves some bits to others, each of which takes one.
            let fits = match band.before {
                0 => *bits == UNSEEN,
                before => *bits == before && band.after + 1 == before,
            };
            if !fits {
                return Err(Damage { what: "a scan is missing or comes twice", ..broken });
            }
            *bits = band.after;
        }
    }
    walk(bytes, start, frame, &parts, band, tables.restart)
}

fn walk(
    bytes: &[u8],
    start: usize,
    frame: &mut Frame,
    parts: &[Part<'_>],
    band: Band,
    restart: u32,
) -> Result<usize, Damage> {
    let (_, most_down) = frame.most();
    let alone = parts.len() == 1;
    let first = parts.first().map_or(0, |part| part.component);
    let (columns, rows, height) = if alone {
        let component = &frame.components[first];
        let (columns, rows) = frame.own(component);
        (columns, rows, (8 * most_down).div_ceil(component.down))
    } else {
        let component = &frame.components[first];
        let (x, y) = frame.padded(component);
        (x / component.across, y / component.down, 8 * most_down)
    };
    let strides: Vec<u32> = frame.components.iter().map(|c| frame.padded(c).0).collect();
    if frame.is_progressive {
        for part in parts {
            let (x, y) = frame.padded(&frame.components[part.component]);
            frame.components[part.component].filled.resize(x as usize * y as usize, 0);
        }
    }
    let mut stream = Stream::new(bytes, start);
    let mut blocks = Blocks::new(band, frame.is_progressive);
    let (mut until, mut marker) = (restart, 0_u8);
    for row in 0..rows {
        for column in 0..columns {
            let here = |stream: &Stream<'_>, what| {
                Err(Damage { byte: stream.byte(), row: row * height, what })
            };
            if restart > 0 && until == 0 {
                if !blocks.is_between_runs() || !stream.restart(marker) {
                    return here(&stream, "a restart marker is missing or out of order");
                }
                blocks.restart();
                (marker, until) = ((marker + 1) % 8, restart);
            }
            until = until.wrapping_sub(1);
            for (slot, part) in parts.iter().enumerate() {
                let stride = strides[part.component];
                let component = &mut frame.components[part.component];
                let (across, down) =
                    if alone { (1, 1) } else { (component.across, component.down) };
                for k in 0..across * down {
                    let (x, y) = (column * across + k % across, row * down + k / across);
                    let at = y as usize * stride as usize + x as usize;
                    let mut none = 0;
                    let filled = component.filled.get_mut(at).unwrap_or(&mut none);
                    let read = blocks.read(&mut stream, &part.codes, slot, filled);
                    if let Err(what) = read {
                        return here(&stream, what);
                    }
                }
            }
        }
    }
    let end = |byte, what| Damage { byte, row: rows * height, what };
    if !blocks.is_between_runs() {
        return Err(end(stream.byte(), "it codes more blocks than the picture has"));
    }
    stream.end().map_err(|byte| end(byte, "coded data is left over after the last block"))
}

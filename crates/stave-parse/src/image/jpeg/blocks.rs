//! The blocks of a scan, code by code (T.81, F.2.2 and G.1.2): what they say is not kept, only
//! whether it can be said.

use super::codes::{Codes, NO_TABLE, Stream};

const TOO_FAR: &str = "a block has more than its 64 values";
const TOO_LARGE: &str = "a value is larger than any can be";

/// Of samples of 8 bits no value of a block is larger than 1024, the mean times 8, or a third more
/// (T.81, A.3.3); half as much again is left to encoders that sharpen.
const MOST: i32 = 1024 * 2;

/// Which coefficients a scan brings, in their zigzag order, and up to which bit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Band {
    pub(super) from: u8,
    pub(super) to: u8,
    /// The bit that the scan before brought; 0 for the first.
    pub(super) before: u8,
    pub(super) after: u8,
}

/// What goes on from block to block of a scan.
pub(super) struct Blocks {
    band: Band,
    is_progressive: bool,
    /// The last first value of each component.
    dc: [i32; 4],
    /// How many more blocks have nothing new.
    run: u32,
}

impl Blocks {
    pub(super) fn new(band: Band, is_progressive: bool) -> Self {
        Self { band, is_progressive, dc: [0; 4], run: 0 }
    }

    /// Whether no run of empty blocks goes on.
    pub(super) fn is_between_runs(&self) -> bool {
        self.run == 0
    }

    pub(super) fn restart(&mut self) {
        self.dc = [0; 4];
    }

    /// Reads a block of a component, which is the `slot`th of the scan.
    pub(super) fn read(
        &mut self,
        stream: &mut Stream<'_>,
        codes: &Codes<'_>,
        slot: usize,
        filled: &mut u64,
    ) -> Result<(), &'static str> {
        let Band { from, before, .. } = self.band;
        match (self.is_progressive, from, before) {
            (false, ..) => {
                self.first_value(stream, codes, slot)?;
                sequential(stream, codes)
            }
            (true, 0, 0) => self.first_value(stream, codes, slot),
            (true, 0, _) => stream.bits(1).map(|_| ()),
            (true, _, 0) => self.bring(stream, codes, filled),
            (true, ..) => self.refine(stream, codes, filled),
        }
    }

    fn first_value(
        &mut self,
        stream: &mut Stream<'_>,
        codes: &Codes<'_>,
        slot: usize,
    ) -> Result<(), &'static str> {
        let size = stream.code(codes.dc.ok_or(NO_TABLE)?)?;
        if size > 11 {
            return Err(TOO_LARGE);
        }
        let difference = signed(stream, size)?;
        let value = self.dc.get_mut(slot).ok_or(TOO_FAR)?;
        *value += difference;
        bounded(*value, codes.steps[0] << self.band.after)
    }

    /// The first scan of a band (T.81, G.1.2.2).
    fn bring(
        &mut self,
        stream: &mut Stream<'_>,
        codes: &Codes<'_>,
        filled: &mut u64,
    ) -> Result<(), &'static str> {
        if self.run > 0 {
            self.run -= 1;
            return Ok(());
        }
        let table = codes.ac.ok_or(NO_TABLE)?;
        let mut at = self.band.from;
        while at <= self.band.to {
            let code = stream.code(table)?;
            let (zeros, size) = (code >> 4, code & 15);
            match (size, zeros) {
                (0, 15) => at += 16,
                (0, _) => {
                    self.run = run_of(stream, zeros)? - 1;
                    return Ok(());
                }
                _ => {
                    at += zeros;
                    self.take(stream, codes, (size, at), filled)?;
                    at += 1;
                }
            }
        }
        if at > self.band.to + 1 { Err(TOO_FAR) } else { Ok(()) }
    }

    fn take(
        &self,
        stream: &mut Stream<'_>,
        codes: &Codes<'_>,
        (size, at): (u8, u8),
        filled: &mut u64,
    ) -> Result<(), &'static str> {
        if size > 10 {
            return Err(TOO_LARGE);
        }
        if at > self.band.to {
            return Err(TOO_FAR);
        }
        let value = signed(stream, size)?;
        *filled |= 1 << at;
        bounded(value, codes.steps[usize::from(at)] << self.band.after)
    }

    /// One more bit of a band (T.81, G.1.2.3): a bit for each value that is known not to be 0, and
    /// new ones among those that were.
    fn refine(
        &mut self,
        stream: &mut Stream<'_>,
        codes: &Codes<'_>,
        filled: &mut u64,
    ) -> Result<(), &'static str> {
        let known = *filled;
        let is_known = |at: u8| known >> at & 1 == 1;
        let mut at = self.band.from;
        if self.run == 0 {
            let table = codes.ac.ok_or(NO_TABLE)?;
            while at <= self.band.to {
                let code = stream.code(table)?;
                let (mut zeros, size) = (code >> 4, code & 15);
                if size > 1 {
                    return Err(TOO_LARGE);
                }
                if size == 0 && zeros < 15 {
                    self.run = run_of(stream, zeros)?;
                    break;
                }
                if size == 1 {
                    stream.bits(1)?;
                }
                // Past as many that are still 0, a bit for each other on the way.
                while at <= self.band.to {
                    if is_known(at) {
                        stream.bits(1)?;
                    } else if zeros == 0 {
                        break;
                    } else {
                        zeros -= 1;
                    }
                    at += 1;
                }
                if at > self.band.to && (size == 1 || zeros > 0) {
                    return Err(TOO_FAR);
                }
                if size == 1 {
                    *filled |= 1 << at;
                }
                at += 1;
            }
            if self.run == 0 {
                return Ok(());
            }
        }
        for at in at..=self.band.to {
            if is_known(at) {
                stream.bits(1)?;
            }
        }
        self.run -= 1;
        Ok(())
    }
}

/// How many blocks from here on have nothing new.
fn run_of(stream: &mut Stream<'_>, size: u8) -> Result<u32, &'static str> {
    let more = u32::try_from(stream.bits(size)?).map_err(|_| TOO_LARGE)?;
    Ok((1 << size) + more)
}

/// A value of so many bits: those whose first bit is 0 are negative (T.81, F.2.2.1, figure F.12).
fn signed(stream: &mut Stream<'_>, size: u8) -> Result<i32, &'static str> {
    let bits = stream.bits(size)?;
    Ok(match size {
        0 => 0,
        _ if bits >> (size - 1) == 0 => bits - (1 << size) + 1,
        _ => bits,
    })
}

/// Refuses a value that no samples give.
fn bounded(value: i32, step: i32) -> Result<(), &'static str> {
    let size = value.saturating_mul(step).saturating_abs();
    if size > MOST + step { Err(TOO_LARGE) } else { Ok(()) }
}

/// All values of a block but the first (T.81, F.2.2.2).
fn sequential(stream: &mut Stream<'_>, codes: &Codes<'_>) -> Result<(), &'static str> {
    let table = codes.ac.ok_or(NO_TABLE)?;
    let mut at = 1;
    while at < 64 {
        let code = stream.code(table)?;
        let (zeros, size) = (code >> 4, code & 15);
        match (size, zeros) {
            (0, 15) => at += 16,
            (0, 0) => return Ok(()),
            (0, _) => return Err("there is a code that no block can have"),
            (11.., _) => return Err(TOO_LARGE),
            _ => {
                at += zeros;
                let step = *codes.steps.get(usize::from(at)).ok_or(TOO_FAR)?;
                bounded(signed(stream, size)?, step)?;
                at += 1;
            }
        }
    }
    if at > 64 { Err(TOO_FAR) } else { Ok(()) }
}

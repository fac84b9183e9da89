//! The bits of a scan and the codes in them (T.81, F.2.2, annexes B.1.1.5 and C).

/// A table of codes: for each 16 bits that may come, how long the code is that they begin with and
/// what it stands for; length 0 where there is none.
pub(super) struct Table(Box<[(u8, u8)]>);

impl Table {
    /// By how many codes there are of each length, and their values in order; `None` where there
    /// are more codes than lengths have room for.
    pub(super) fn new(counts: &[u8], values: &[u8]) -> Option<Table> {
        let mut all = vec![(0, 0); 1 << 16];
        let (mut at, mut values) = (0_usize, values.iter());
        for (length, count) in (1_u8..).zip(counts) {
            for _ in 0..*count {
                let end = at + (1 << (16 - length));
                all.get_mut(at..end)?.fill((length, *values.next()?));
                at = end;
            }
        }
        Some(Table(all.into()))
    }
}

/// The tables of a component's blocks.
pub(super) struct Codes<'a> {
    pub(super) dc: Option<&'a Table>,
    pub(super) ac: Option<&'a Table>,
    /// What each value is a multiple of.
    pub(super) steps: &'a [i32; 64],
}

pub(super) const NO_TABLE: &str = "a table of codes is missing";
const NO_CODE: &str = "there is a code that its table does not have";
const SHORT: &str = "the coded data of a scan ends before its last block";

/// The bits of a scan, stuffed bytes taken out.
pub(super) struct Stream<'a> {
    bytes: &'a [u8],
    at: usize,
    held: u64,
    count: u32,
}

impl<'a> Stream<'a> {
    pub(super) fn new(bytes: &'a [u8], at: usize) -> Self {
        Self { bytes, at, held: 0, count: 0 }
    }

    /// The byte of the file that is read now, near enough.
    pub(super) fn byte(&self) -> usize {
        self.at.saturating_sub(self.count as usize / 8)
    }

    fn fill(&mut self) {
        while self.count <= 48 {
            let byte = match (self.bytes.get(self.at), self.bytes.get(self.at + 1)) {
                (Some(0xff), Some(0)) => {
                    self.at += 2;
                    0xff
                }
                // A marker: the scan ends, or starts anew.
                (Some(0xff), _) | (None, _) => return,
                (Some(byte), _) => {
                    self.at += 1;
                    *byte
                }
            };
            self.held = self.held << 8 | u64::from(byte);
            self.count += 8;
        }
    }

    /// The value of the next code.
    pub(super) fn code(&mut self, table: &Table) -> Result<u8, &'static str> {
        if self.count < 16 {
            self.fill();
        }
        // Past the end come ones, as encoders fill up with.
        let next = match self.count {
            0..16 => self.held << (16 - self.count) | ((1 << (16 - self.count)) - 1),
            more => self.held >> (more - 16),
        } & 0xffff;
        let (length, value) = usize::try_from(next).map_or((0, 0), |next| table.0[next]);
        if u32::from(length) > self.count || (length == 0 && self.count < 16) {
            return Err(SHORT);
        }
        if length == 0 {
            return Err(NO_CODE);
        }
        self.count -= u32::from(length);
        Ok(value)
    }

    /// The next so many bits, 16 at most.
    pub(super) fn bits(&mut self, count: u8) -> Result<i32, &'static str> {
        let count = u32::from(count);
        if self.count < count {
            self.fill();
        }
        self.count = self.count.checked_sub(count).ok_or(SHORT)?;
        let bits = self.held >> self.count & ((1 << count) - 1);
        i32::try_from(bits).map_err(|_| SHORT)
    }

    /// Goes past a restart marker that must come now; false if it does not.
    pub(super) fn restart(&mut self, number: u8) -> bool {
        let Ok(at) = self.end() else { return false };
        if self.bytes.get(at + 1) != Some(&(0xd0 + number)) {
            return false;
        }
        (self.at, self.held, self.count) = (at + 2, 0, 0);
        true
    }

    /// Where the marker is that must come now, or the byte that is too much. Less than a byte fills
    /// up, with ones (T.81, F.1.2.3) or, by some encoders, with zeros; whole bytes of 0 are what
    /// some fill up with besides.
    pub(super) fn end(&mut self) -> Result<usize, usize> {
        self.fill();
        let filling = (1_u64 << (self.count % 8)) - 1;
        let last = self.held >> (self.count - self.count % 8) & filling;
        if last != 0 && last != filling {
            return Err(self.byte());
        }
        loop {
            let left = self.count / 8;
            let whole = self.held & ((1_u64 << (8 * left)) - 1);
            if whole != 0 {
                return Err(self.byte());
            }
            self.count = 0;
            self.fill();
            if self.count == 0 {
                break;
            }
        }
        while self.bytes.get(self.at..self.at + 2) == Some(&[0xff, 0xff]) {
            self.at += 1;
        }
        Ok(self.at)
    }
}

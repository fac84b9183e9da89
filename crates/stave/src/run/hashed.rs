//! What an input's bytes come to, told at the end of the program that is made from it.

use std::io::{self, Read};

use stave_setup::InputDigest;

/// How the comment begins that tells the digest of a program's input.
pub(crate) const INPUT_WORDS: &str = "stave end input=";

/// What some editors put before a text.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// A reader that takes the digest of what goes through it. A byte order mark and the carriage
/// returns of line ends do not count: the program is the same.
#[derive(Debug)]
pub(crate) struct Hashed<R> {
    reader: R,
    /// What was read last, where it went on before its digest was taken.
    gone: Vec<u8>,
    digest: InputDigest,
    /// How many bytes of a mark have come; `None` past the beginning.
    of_mark: Option<usize>,
}

impl<R: Read> Hashed<R> {
    pub(crate) fn new(reader: R) -> Self {
        Self { reader, gone: Vec::new(), digest: InputDigest::default(), of_mark: Some(0) }
    }

    /// The digest of all of the input: what comes after the end of the program counts too.
    pub(crate) fn finish(mut self) -> io::Result<String> {
        io::copy(&mut self, &mut io::sink())?;
        Ok(self.digest.text())
    }

    /// Reads once, up to so many bytes, into `bytes`, and hands them on before their digest is
    /// taken.
    pub(crate) fn read_for(
        &mut self,
        mut bytes: Vec<u8>,
        most: usize,
        hand_on: impl FnOnce(io::Result<Vec<u8>>),
    ) {
        bytes.resize(most, 0);
        match self.reader.read(&mut bytes) {
            Ok(got) => {
                bytes.truncate(got);
                let mut gone = std::mem::take(&mut self.gone);
                gone.clone_from(&bytes);
                hand_on(Ok(bytes));
                self.take(&gone);
                self.gone = gone;
            }
            Err(error) => hand_on(Err(error)),
        }
    }

    fn take(&mut self, mut bytes: &[u8]) {
        while let (Some(come), Some((first, rest))) = (self.of_mark, bytes.split_first()) {
            if BYTE_ORDER_MARK.get(come) == Some(first) {
                bytes = rest;
                self.of_mark = Some(come + 1).filter(|come| *come < BYTE_ORDER_MARK.len());
            } else {
                self.digest.take(BYTE_ORDER_MARK.get(..come).unwrap_or_default());
                self.of_mark = None;
            }
        }
        while let Some(end) = memchr::memchr(b'\r', bytes) {
            let (line, rest) = bytes.split_at(end);
            self.digest.take(line);
            bytes = rest.get(1..).unwrap_or_default();
        }
        self.digest.take(bytes);
    }
}

impl<R: Read> Read for Hashed<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let got = self.reader.read(buffer)?;
        self.take(buffer.get(..got).unwrap_or_default());
        Ok(got)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn digest(pieces: &[&[u8]]) -> String {
        let empty: Box<dyn Read> = Box::new(io::empty());
        let all = pieces.iter().fold(empty, |all, piece| Box::new(all.chain(*piece)));
        Hashed::new(all).finish().unwrap()
    }

    #[test]
    fn marks_and_line_ends_do_not_count() {
        let plain = digest(&[b"G1 X1\nM2\n"]);
        assert_eq!(digest(&[b"\xef", b"\xbb\xbf", b"G1 X1\r", b"\nM2\r\n"]), plain);
        assert_ne!(digest(&[b"\xef\xbbG1 X1\nM2\n"]), plain);
        assert_ne!(digest(&[b"G1 X2\nM2\n"]), plain);
    }
}

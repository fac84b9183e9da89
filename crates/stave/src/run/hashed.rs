//! What an input's bytes come to, told at the end of the program that is made from it.

use std::io::{self, Read};

use stave_setup::InputDigest;

/// How the comment begins that tells the digest of a program's input.
pub(crate) const INPUT_WORDS: &str = "stave end input=";

/// A reader that takes the digest of what goes through it.
pub(crate) struct Hashed<R> {
    reader: R,
    digest: InputDigest,
}

impl<R: Read> Hashed<R> {
    pub(crate) fn new(reader: R) -> Self {
        Self { reader, digest: InputDigest::default() }
    }

    /// The digest of all of the input: what comes after the end of the program counts too.
    pub(crate) fn finish(mut self) -> io::Result<String> {
        io::copy(&mut self, &mut io::sink())?;
        Ok(self.digest.text())
    }
}

impl<R: Read> Read for Hashed<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let got = self.reader.read(buffer)?;
        self.digest.take(&buffer[..got]);
        Ok(got)
    }
}

//! A program that is held to be read again.

use std::io::{Error, ErrorKind, Result, Write};

/// Bytes in memory; where there is no more of it, writing is an error as any other.
#[derive(Default)]
pub(crate) struct Held(pub(crate) Vec<u8>);

impl Write for Held {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.0.try_reserve(bytes.len()).map_err(|_| {
            let held = self.0.len();
            let message = format!("there is not enough memory for more than {held} bytes of it");
            Error::new(ErrorKind::OutOfMemory, message)
        })?;
        self.0.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<()> {
        Ok(())
    }
}

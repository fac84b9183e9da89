//! What must hold of any bytes: one function per target, for the fuzzer and for ordinary tests.
//!
//! Each panics where a promise is broken and returns where it is kept; errors are answers, too.

pub(crate) mod bench;
pub(crate) mod drawing;
pub(crate) mod files;
pub(crate) mod order;
pub(crate) mod program;

/// A target: bytes in, and a panic where a promise is broken.
pub(crate) type Target = fn(&[u8]);

/// Every target by its name, which is that of its folder in `corpus`, too.
pub(crate) const TARGETS: &[(&str, Target)] = &[
    ("gcode", program::reader),
    ("wrap", program::wrapped),
    ("agree", program::agree),
    ("svg", drawing::svg),
    ("redraw", drawing::redrawn),
    ("path", drawing::path),
    ("settings", files::settings),
    ("readings", files::readings),
    ("points", files::points),
    ("rows", order::rows),
    ("order", order::order),
];

//! The files that people write: any text is read or every fault told with its place; what is
//! written from it reads back.

use stave::setup::{LengthUnit, read_blank, read_job, read_machine, read_points, read_readings};
use stave::{MeasureFrom, MeasureOptions, Setup, measure, setup};

const BLANK: &str = include_str!("../../../fixtures/blanks/cup.toml");
const MACHINE: &str = include_str!("../../../fixtures/machines/degrees.toml");

/// Blank, machine or job by the first byte; together with good others they make a setup or faults.
pub(crate) fn settings(data: &[u8]) {
    let Some((first, rest)) = data.split_first() else { return };
    let Ok(text) = std::str::from_utf8(rest) else { return };
    let file = "file.toml";
    let good = (
        || read_blank(BLANK, "cup.toml").expect("a fixture"),
        || read_machine(MACHINE, "degrees.toml").expect("a fixture"),
    );
    let made = match first % 3 {
        0 => read_blank(text, file)
            .and_then(|blank| Setup::new(blank, good.1(), setup::JobFile::default())),
        1 => read_machine(text, file)
            .and_then(|machine| Setup::new(good.0(), machine, setup::JobFile::default())),
        _ => read_job(text, file).and_then(|job| Setup::new(good.0(), good.1(), job)),
    };
    match made {
        Ok(setup) => drop(setup.digests()),
        Err(faults) => {
            assert!(!faults.as_slice().is_empty(), "refused without a fault");
            assert!(!faults.to_string().contains('\u{1b}'), "an escape reaches the terminal");
        }
    }
}

/// Readings make a blank that reads back, or are refused.
pub(crate) fn readings(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let Ok(readings) = read_readings(text, "readings.txt", LengthUnit::Mm) else { return };
    let made = measure(MeasureFrom::Readings(&readings), &MeasureOptions::default());
    if let Ok(made) = made {
        let again = read_blank(&made.blank, "measured.toml");
        again
            .unwrap_or_else(|e| panic!("a measured blank does not read back: {e}\n{}", made.blank));
    }
}

/// Points that were met place the work, or are refused.
pub(crate) fn points(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let Ok(points) = read_points(text, "points.txt", ('X', 'A')) else { return };
    let blank = read_blank(BLANK, "cup.toml").expect("a fixture");
    let machine = read_machine(MACHINE, "degrees.toml").expect("a fixture");
    let setup = Setup::new(blank, machine, setup::JobFile::default()).expect("a setup");
    if let Ok(placed) = stave::place(&points, &setup) {
        assert!(placed.at.is_finite() && placed.turn_deg.is_finite(), "{placed:?}");
    }
}

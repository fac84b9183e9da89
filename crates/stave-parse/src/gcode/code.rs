//! G and M words, their modal groups (table 4 of the report), and what is known of them.

use std::fmt;

/// A G or M word: the letter and ten times its number.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Code {
    pub(super) letter: u8,
    pub(super) tenths: u16,
}

impl Code {
    pub(super) const fn g(tenths: u16) -> Self {
        Self { letter: b'G', tenths }
    }

    pub(super) const fn m(number: u16) -> Self {
        Self { letter: b'M', tenths: number * 10 }
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", char::from(self.letter), self.tenths / 10)?;
        match self.tenths % 10 {
            0 => Ok(()),
            tenth => write!(f, ".{tenth}"),
        }
    }
}

/// The number of G groups in [`GGroup`].
pub(super) const G_GROUPS: usize = 12;

/// Modal groups of G words. The report's numbers are in its table 4.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum GGroup {
    NonModal,
    Motion,
    Plane,
    Distance,
    FeedMode,
    Units,
    Compensation,
    ToolLength,
    Return,
    System,
    Path,
    /// G90.1 and G91.1, which the report does not have.
    ArcDistance,
}

/// The group of a G word by ten times its number.
pub(super) fn g_group(tenths: u16) -> Option<GGroup> {
    Some(match tenths {
        40 | 100 | 280 | 300 | 530 | 920..=923 => GGroup::NonModal,
        0 | 10 | 20 | 30 | 382 | 800 | 810 | 820 | 830 | 840 | 850 | 860 | 870 | 880 | 890 => {
            GGroup::Motion
        }
        170 | 180 | 190 => GGroup::Plane,
        900 | 910 => GGroup::Distance,
        930 | 940 => GGroup::FeedMode,
        200 | 210 => GGroup::Units,
        400 | 410 | 420 => GGroup::Compensation,
        430 | 490 => GGroup::ToolLength,
        980 | 990 => GGroup::Return,
        540 | 550 | 560 | 570 | 580 | 590..=593 => GGroup::System,
        610 | 611 | 640 => GGroup::Path,
        901 | 911 => GGroup::ArcDistance,
        _ => return None,
    })
}

/// The number of M groups in [`MGroup`].
pub(super) const M_GROUPS: usize = 5;

/// Modal groups of M words.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum MGroup {
    Stop,
    Tool,
    Spindle,
    Coolant,
    Overrides,
}

/// The group of an M word.
pub(super) fn m_group(number: u32) -> Option<MGroup> {
    Some(match number {
        0 | 1 | 2 | 30 | 60 => MGroup::Stop,
        6 => MGroup::Tool,
        3..=5 => MGroup::Spindle,
        7..=9 => MGroup::Coolant,
        48 | 49 => MGroup::Overrides,
        _ => return None,
    })
}

/// How far a value that must be whole may be from a whole number (3.3.2.1), and a little for the
/// rounding of the difference.
const WHOLE_TOLERANCE: f64 = 0.0001 + 1e-9;

/// `value` as a whole number, where it is one within the report's 0.0001 and fits `0..=u32::MAX`.
pub(super) fn whole(value: f64) -> Option<u32> {
    let nearest = value.round();
    let fits =
        (value - nearest).abs() <= WHOLE_TOLERANCE && (0.0..=4_294_967_295.0).contains(&nearest);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number that fits"
    )]
    fits.then_some(nearest as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shows_tenths() {
        assert_eq!(Code::g(591).to_string(), "G59.1");
        assert_eq!(Code::g(10).to_string(), "G1");
        assert_eq!(Code::m(30).to_string(), "M30");
    }

    /// Table 4 of the report, from `fixtures/reference/C_modal_groups.json`.
    #[test]
    fn groups_are_those_of_the_report() {
        let table = include_str!("../../../../fixtures/reference/C_modal_groups.json");
        let table: serde_json::Value = serde_json::from_str(table).unwrap();
        let mut seen = Vec::new();
        let mut known = 0;
        for group in table.as_array().unwrap() {
            let codes = group["codes"].as_array().unwrap().iter().map(|c| c.as_str().unwrap());
            let ours: Vec<String> = codes
                .map(|code| {
                    known += 1;
                    let number: f64 = code[1..].parse().unwrap();
                    match &code[..1] {
                        "G" => format!(
                            "{:?}",
                            g_group(u16::try_from(whole(number * 10.0).unwrap()).unwrap()).unwrap()
                        ),
                        _ => format!("M {:?}", m_group(whole(number).unwrap()).unwrap()),
                    }
                })
                .collect();
            assert!(
                ours.iter().all(|g| *g == ours[0]) && !seen.contains(&ours[0]),
                "{group}: {ours:?}"
            );
            seen.push(ours[0].clone());
        }
        assert_eq!(seen.len(), 16);
        // Nothing is known beyond the report's words but G90.1 and G91.1.
        let g = (0..=u16::MAX)
            .filter(|&t| g_group(t).is_some_and(|g| g != GGroup::ArcDistance))
            .count();
        assert_eq!(g + (0..1000).filter(|&m| m_group(m).is_some()).count(), known);
    }

    #[test]
    fn whole_numbers() {
        assert_eq!(whole(3.00009), Some(3));
        assert_eq!(whole(2.9999), Some(3));
        assert_eq!(whole(2.999), None);
        assert_eq!(whole(-0.00005), Some(0));
        assert_eq!(whole(-1.0), None);
        assert_eq!(whole(f64::NAN), None);
        assert_eq!(whole(1e300), None);
    }
}

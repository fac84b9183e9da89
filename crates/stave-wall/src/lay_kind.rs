//! The names of the lays.

use std::fmt;
use std::str::FromStr;

use crate::LayError;

/// The rule that carries the flat plane to the wall.
///
/// ```
/// use stave_wall::LayKind;
/// assert_eq!("true-width".parse::<LayKind>(), Ok(LayKind::TrueWidth));
/// assert_eq!(LayKind::EvenAngle.to_string(), "even-angle");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum LayKind {
    /// Equal widths are equal angles, one fixed diameter (equidistant cylindrical); a full wrap
    /// closes.
    EvenAngle,
    /// Every width and every area is kept (sinusoidal); shears away from the anchor.
    TrueWidth,
    /// Every angle is kept (Mercator); size follows the diameter; a full wrap closes.
    TrueShape,
    /// Distances from the anchor are kept (azimuthal equidistant): lies like a paper label.
    Label,
}

impl LayKind {
    /// All lays, in the order in which they are told.
    pub const ALL: [LayKind; 4] =
        [LayKind::EvenAngle, LayKind::TrueWidth, LayKind::TrueShape, LayKind::Label];

    /// The name used in files and options.
    pub fn name(self) -> &'static str {
        match self {
            LayKind::EvenAngle => "even-angle",
            LayKind::TrueWidth => "true-width",
            LayKind::TrueShape => "true-shape",
            LayKind::Label => "label",
        }
    }
}

impl fmt::Display for LayKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for LayKind {
    type Err = LayError;

    fn from_str(text: &str) -> Result<LayKind, LayError> {
        LayKind::ALL
            .into_iter()
            .find(|kind| kind.name() == text)
            .ok_or_else(|| LayError::UnknownName { found: text.chars().take(40).collect() })
    }
}

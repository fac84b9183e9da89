//! A setting together with where it was given.

use crate::Origin;

/// A value, and where it was given, so that a fault found later can still name the line or the
/// option.
///
/// ```
/// use stave_setup::Given;
/// let tolerance: Given<f64> = 0.02.into();
/// assert_eq!(tolerance.value, 0.02);
/// assert!(tolerance.from.is_none());
/// ```
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Given<T> {
    /// The value.
    pub value: T,
    /// Where it was given; `None` for one that a program made.
    pub from: Option<Origin>,
}

impl<T> Given<T> {
    /// The same place with another value.
    pub fn map<U>(self, change: impl FnOnce(T) -> U) -> Given<U> {
        Given { value: change(self.value), from: self.from }
    }
}

impl<T> From<T> for Given<T> {
    fn from(value: T) -> Self {
        Self { value, from: None }
    }
}

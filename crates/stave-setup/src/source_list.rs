//! Where the settings of a file were given, for faults that only show when files meet.

use std::borrow::Cow;
use std::collections::BTreeMap;

use crate::{Given, Origin};

/// Places by dotted key, as `controller.decimals`.
#[derive(Clone, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Sources(BTreeMap<Cow<'static, str>, Origin>);

impl Sources {
    pub(crate) fn note<T>(&mut self, key: &'static str, given: Option<&Given<T>>) {
        if let Some(from) = given.and_then(|given| given.from.clone()) {
            self.0.insert(Cow::Borrowed(key), from);
        }
    }

    pub(crate) fn of(&self, key: &str) -> Option<Origin> {
        self.0.get(key).cloned()
    }
}

//! Where the settings of a file were given, for faults that only show when files meet.

use std::collections::BTreeMap;

use crate::{Given, Source};

/// Places by dotted key, as `controller.decimals`.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sources(BTreeMap<&'static str, Source>);

impl Sources {
    pub(crate) fn note<T>(&mut self, key: &'static str, given: Option<&Given<T>>) {
        if let Some(from) = given.and_then(|given| given.from.clone()) {
            self.0.insert(key, from);
        }
    }

    pub(crate) fn of(&self, key: &str) -> Option<Source> {
        self.0.get(key).cloned()
    }
}

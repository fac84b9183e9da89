//! Whether a program of several set-ups has all that its line 1 promises.

use stave_rig::SetUp;

use crate::error::SourceFault;

/// What the comment of a program that is gone on with begins with.
pub(crate) const RESUMED_WORDS: &str = "resumed at line ";

/// The set-ups of a program of ours, by the comments that begin them.
#[derive(Debug)]
pub(super) struct SetUps {
    promised: u32,
    begun: u32,
    /// The last of them, by its number.
    last: Option<u32>,
    in_order: bool,
    /// What is gone on with begins anywhere.
    resumed: bool,
}

impl SetUps {
    pub(super) fn of(promised: u32) -> Self {
        Self { promised, begun: 0, last: None, in_order: true, resumed: false }
    }

    /// The set-up that a comment begins, if it does.
    pub(super) fn comment(&mut self, text: &[u8]) -> Option<SetUp> {
        self.resumed |= text.trim_ascii_start().starts_with(RESUMED_WORDS.as_bytes());
        let set_up = SetUp::of_comment(text)?;
        let begins_right = match self.last {
            Some(last) => last.checked_add(1) == Some(set_up.number),
            None => set_up.number == 1 || self.resumed,
        };
        self.in_order &= begins_right && set_up.of == self.promised;
        self.last = Some(set_up.number);
        self.begun += 1;
        Some(set_up)
    }

    /// What is not as it was written: where a set-up's comment is missing or was changed, what it
    /// burns would be taken for that of the one before, at another tilt and focus.
    pub(super) fn missing(&self) -> Option<SourceFault> {
        let is_whole = self.in_order && self.last == Some(self.promised);
        let fault = SourceFault::SetUpMissing { promised: self.promised, begun: self.begun };
        (!is_whole).then_some(fault)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn missing(promised: u32, comments: &[&str]) -> bool {
        let mut set_ups = SetUps::of(promised);
        comments.iter().for_each(|text| _ = set_ups.comment(text.as_bytes()));
        set_ups.missing().is_some()
    }

    #[test]
    fn each_set_up_is_there_once_and_in_order() {
        let one = "set-up 1 of 3: tilt 1 deg, focus at 20 mm";
        let two = "set-up 2 of 3: tilt 2.5 deg, focus at 60 mm turn 20 deg";
        let three = "set-up 3 of 3: tilt 4 deg, focus at 90 mm, raise it";
        let resumed = "resumed at line 40, after 12 s";
        for whole in [&[one, two, three][..], &[resumed, two, three], &[resumed, three]] {
            assert!(!missing(3, whole), "{whole:?}");
        }
        let changed = "set-up 2 of 3: tilt x deg, focus at 60 mm";
        let other = "set-up 2 of 4: tilt 2 deg, focus at 60 mm";
        for lacking in [
            &[one, changed, three][..],
            &[changed, two, three],
            &[two, three],
            &[one, two],
            &[one, three, two],
            &[one, two, two, three],
            &[one, other, three],
            &[resumed, two],
            &[],
        ] {
            assert!(missing(3, lacking), "{lacking:?}");
        }
    }
}

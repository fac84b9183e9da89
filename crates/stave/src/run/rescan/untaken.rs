//! Why nothing of a program was scanned again.

use super::stretch::LEAST_ROWS;

/// What kept burns along an axis from being scan lines: how often, and the first line.
#[derive(Clone, Copy, Debug, Default)]
struct Why {
    times: usize,
    line: u64,
}

impl Why {
    fn note(&mut self, line: u64) {
        if self.times == 0 {
            self.line = line;
        }
        self.times += 1;
    }
}

/// All that kept burns from being scan lines.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Untaken {
    no_power: Why,
    speed: Why,
    uneven: Why,
}

impl Untaken {
    /// A burn along an axis without an S word.
    pub(super) fn no_power(&mut self, line: u64) {
        self.no_power.note(line);
    }

    /// A burn at another speed than those before it.
    pub(super) fn speed(&mut self, line: u64) {
        self.speed.note(line);
    }

    /// Rows that do not lie evenly.
    pub(super) fn uneven(&mut self, line: u64) {
        self.uneven.note(line);
    }

    /// What is to be said where nothing was taken, a sentence for each reason.
    pub(super) fn sentences(&self) -> Vec<String> {
        let no_power = (
            self.no_power,
            LEAST_ROWS,
            "the beam is switched on without an S word, and scan lines are known by theirs",
        );
        let speed = (
            self.speed,
            LEAST_ROWS,
            "the speed (F) changes from burn to burn, and scan lines have one",
        );
        let uneven = (self.uneven, 1, "rows do not lie evenly apart");
        let mut all: Vec<String> = [no_power, speed, uneven]
            .into_iter()
            .filter(|(why, least, _)| why.times >= *least)
            .map(|(why, _, words)| {
                format!("nothing is scanned again: from line {} on {words}", why.line)
            })
            .collect();
        if all.is_empty() {
            all.push(format!(
                "nothing is scanned again: there are no {LEAST_ROWS} burns side by side along an \
                 axis, as scan lines are"
            ));
        }
        all
    }
}

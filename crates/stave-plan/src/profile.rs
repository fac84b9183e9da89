//! The speed of a run with a jerk limit: up, along, down; and when the machine passes a point of
//! it.

use super::ramp::Push;

/// A stretch of constant jerk.
#[derive(Clone, Copy, Debug, Default)]
struct Segment {
    time: f64,
    speed: f64,
    acceleration: f64,
    jerk: f64,
    length: f64,
}

impl Segment {
    fn at(&self, t: f64) -> f64 {
        t * (self.speed + t * (0.5 * self.acceleration + t * self.jerk / 6.0))
    }

    fn speed_at(&self, t: f64) -> f64 {
        self.speed + t * (self.acceleration + 0.5 * t * self.jerk)
    }

    /// When `length` into the segment is passed: Newton's rule, kept inside a bracket.
    fn when(&self, length: f64) -> f64 {
        if self.jerk == 0.0 {
            let square = (self.speed * self.speed + 2.0 * self.acceleration * length).max(0.0);
            let t = 2.0 * length / (self.speed + square.sqrt());
            return if t > 0.0 { t.min(self.time) } else { 0.0 };
        }
        let (mut low, mut high) = (0.0, self.time);
        let mut t = if self.length > 0.0 {
            self.time * (length / self.length).clamp(0.0, 1.0)
        } else {
            0.0
        };
        for _ in 0..100 {
            let error = self.at(t) - length;
            if error > 0.0 {
                high = t;
            } else {
                low = t;
            }
            let next = t - error / self.speed_at(t);
            let next = if next > low && next < high { next } else { 0.5 * (low + high) };
            if (next - t).abs() <= 1e-15 * self.time {
                return next;
            }
            t = next;
        }
        t
    }
}

/// Up to the peak in three segments, along, down in three.
#[derive(Clone, Debug)]
pub(super) struct Profile {
    segments: [Segment; 7],
    pub(super) peak: f64,
    // The walk.
    current: usize,
    time_before: f64,
    length_before: f64,
}

/// When a point is passed, how fast, and how much of the time until then was spent along.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Passing {
    pub(super) time: f64,
    pub(super) speed: f64,
    pub(super) along: f64,
}

impl Profile {
    /// Over `length` from `entry` to `exit`, at most `most`.
    pub(super) fn new(push: Push, length: f64, entry: f64, exit: f64, most: f64) -> Self {
        let peak = push.peak(entry, exit, length, most);
        let mut segments = [Segment::default(); 7];
        ramp(push, entry, peak, &mut segments[..3]);
        ramp(push, peak, exit, &mut segments[4..]);
        let used: f64 = segments.iter().map(|s| s.length).sum();
        let rest = (length - used).max(0.0);
        segments[3] =
            Segment { time: rest / peak, speed: peak, length: rest, ..Segment::default() };
        Self { segments, peak, current: 0, time_before: 0.0, length_before: 0.0 }
    }

    pub(super) fn duration(&self) -> f64 {
        self.segments.iter().map(|s| s.time).sum()
    }

    pub(super) fn end(&self) -> Passing {
        let last = &self.segments[6];
        Passing {
            time: self.duration(),
            speed: last.speed_at(last.time),
            along: self.segments[3].time,
        }
    }

    /// Time at which the peak is first reached, and at which it is left.
    pub(super) fn peak_times(&self) -> (f64, f64) {
        let up: f64 = self.segments[..3].iter().map(|s| s.time).sum();
        (up, up + self.segments[3].time)
    }

    /// The passing of `length` from the start; the calls must go forward.
    pub(super) fn pass(&mut self, length: f64) -> Passing {
        while self.current < 6 && self.length_before + self.segments[self.current].length < length {
            self.time_before += self.segments[self.current].time;
            self.length_before += self.segments[self.current].length;
            self.current += 1;
        }
        let segment = &self.segments[self.current];
        let t = segment.when(length - self.length_before);
        let along = match self.current {
            0..3 => 0.0,
            3 => t,
            _ => self.segments[3].time,
        };
        Passing { time: self.time_before + t, speed: segment.speed_at(t), along }
    }
}

fn ramp(push: Push, from: f64, to: f64, segments: &mut [Segment]) {
    let change = (to - from).abs();
    let Push { a, j } = push;
    let (ends, middle, most) = if change * j < a * a {
        let half = (change / j).sqrt();
        (half, 0.0, half * j)
    } else {
        (a / j, (change / a - a / j).max(0.0), a)
    };
    let most = most.copysign(to - from);
    let jerk = if ends > 0.0 { most / ends } else { 0.0 };
    let mut speed = from;
    let parts = [(ends, 0.0, jerk), (middle, most, 0.0), (ends, most, -jerk)];
    for (segment, (time, acceleration, jerk)) in segments.iter_mut().zip(parts) {
        *segment = Segment { time, speed, acceleration, jerk, length: 0.0 };
        segment.length = segment.at(time);
        speed = segment.speed_at(time);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the profile says of itself at points of its way, against the sum of many small steps of
    /// its own speed.
    #[test]
    fn passes_and_peak_are_those_of_its_speed() {
        for (entry, exit, most, j) in [
            (0.0, 0.0, 60.0, 20_000.0),
            (20.0, 5.0, 60.0, 20_000.0),
            (5.0, 30.0, 40.0, 500.0),
            (10.0, 10.0, 60.0, f64::INFINITY),
        ] {
            let length = 30.0;
            let profile = Profile::new(Push { a: 500.0, j }, length, entry, exit, most);
            let (from, to) = profile.peak_times();
            let mut walk = profile.clone();
            let (mut way, mut before) = (0.0, Passing { speed: entry, ..Passing::default() });
            for k in 1..=3000 {
                let passing = walk.pass(length * f64::from(k) / 3000.0);
                way += 0.5 * (before.speed + passing.speed) * (passing.time - before.time);
                // Near a stand a step is not even.
                assert!((way - length * f64::from(k) / 3000.0).abs() < 0.02, "{k}: {way}");
                let at_peak = (passing.speed - profile.peak).abs() < 1e-9 * profile.peak;
                if passing.time > from + 1e-9 && passing.time < to - 1e-9 {
                    assert!(at_peak && (passing.along - (passing.time - from)).abs() < 1e-9);
                } else if passing.time < from - 1e-3 || passing.time > to + 1e-3 {
                    assert!(!at_peak, "{k}");
                }
                before = passing;
            }
            // Where it comes to a stand, the least way takes some time.
            assert!((before.time - profile.duration()).abs() < 1e-4);
            assert!((before.speed - exit).abs() < 1e-3 && to > from);
            let end = profile.end();
            assert!((end.speed - exit).abs() < 1e-9 && (end.along - (to - from)).abs() < 1e-12);
        }
    }
}

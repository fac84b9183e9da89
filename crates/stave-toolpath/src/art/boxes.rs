//! Boxes by where they lie, so that those that meet another are found without asking all of them.

use std::collections::{BTreeMap, HashMap};

use kurbo::Rect;

type Cells = HashMap<(i64, i64), Vec<(usize, Rect)>>;

/// Boxes in squares of a size of their own: a box lies in the square of its lower corner, of the
/// least power of two of a millimetre that is no smaller than itself, so that it reaches into the
/// next squares at most.
///
/// ```
/// use kurbo::Rect;
/// use stave_toolpath::art::Boxes;
/// let mut boxes = Boxes::default();
/// boxes.put(7, Rect::new(0.0, 0.0, 10.0, 10.0));
/// boxes.put(3, Rect::new(40.0, 0.0, 50.0, 10.0));
/// assert_eq!(boxes.meeting(Rect::new(10.0, 5.0, 60.0, 6.0)), [3, 7]);
/// ```
#[derive(Clone, Debug, Default)]
pub struct Boxes {
    by_size: BTreeMap<i32, Cells>,
}

#[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
fn cell(at: f64, size: f64) -> i64 {
    (at / size).floor() as i64
}

impl Boxes {
    /// Puts a box in under a number; one that is empty or no box at all meets nothing.
    pub fn put(&mut self, number: usize, bounds: Rect) {
        if !(bounds.is_finite() && bounds.x0 <= bounds.x1 && bounds.y0 <= bounds.y1) {
            return;
        }
        let side = bounds.width().max(bounds.height()).clamp(1e-3, 1e12);
        #[allow(clippy::cast_possible_truncation, reason = "a power between -10 and 40")]
        let power = side.log2().ceil() as i32;
        let size = 2_f64.powi(power);
        let at = (cell(bounds.x0, size), cell(bounds.y0, size));
        self.by_size.entry(power).or_default().entry(at).or_default().push((number, bounds));
    }

    /// The numbers, in order, of the boxes that meet another, edges included.
    #[must_use]
    pub fn meeting(&self, bounds: Rect) -> Vec<usize> {
        let mut found = Vec::new();
        if !bounds.is_finite() {
            return found;
        }
        let meets = |b: &Rect| {
            b.x0 <= bounds.x1 && bounds.x0 <= b.x1 && b.y0 <= bounds.y1 && bounds.y0 <= b.y1
        };
        let mut take = |boxes: &[(usize, Rect)]| {
            found.extend(boxes.iter().filter(|(_, b)| meets(b)).map(|(number, _)| *number));
        };
        for (&power, cells) in &self.by_size {
            let size = 2_f64.powi(power);
            // A box may begin a square before. Rounding may put it two before.
            let xs = (cell(bounds.x0, size).saturating_sub(2), cell(bounds.x1, size));
            let ys = (cell(bounds.y0, size).saturating_sub(2), cell(bounds.y1, size));
            #[allow(clippy::cast_precision_loss, reason = "only whether it is more")]
            let squares = (xs.1 as f64 - xs.0 as f64 + 1.0) * (ys.1 as f64 - ys.0 as f64 + 1.0);
            #[allow(clippy::cast_precision_loss, reason = "only whether it is more")]
            if squares > cells.len() as f64 {
                for boxes in cells.values() {
                    take(boxes);
                }
                continue;
            }
            for x in xs.0..=xs.1 {
                for y in ys.0..=ys.1 {
                    if let Some(boxes) = cells.get(&(x, y)) {
                        take(boxes);
                    }
                }
            }
        }
        found.sort_unstable();
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rect() -> impl Strategy<Value = Rect> {
        let side = prop_oneof![Just(0.0), 0.0..1.0_f64, 0.0..30.0_f64, 0.0..300.0_f64];
        (-80.0..80.0_f64, -80.0..80.0_f64, side.clone(), side)
            .prop_map(|(x, y, w, h)| Rect::new(x, y, x + w, y + h))
    }

    proptest! {
        #[test]
        fn those_that_meet_are_found_as_by_asking_all(
            boxes in prop::collection::vec(rect(), 0..60), asked in rect(),
        ) {
            let mut index = Boxes::default();
            for (number, one) in boxes.iter().enumerate() {
                index.put(number, *one);
            }
            let meets = |b: &Rect| {
                b.x0 <= asked.x1 && asked.x0 <= b.x1 && b.y0 <= asked.y1 && asked.y0 <= b.y1
            };
            let all = boxes.iter().enumerate().filter(|(_, b)| meets(b));
            let all: Vec<usize> = all.map(|(number, _)| number).collect();
            prop_assert_eq!(index.meeting(asked), all);
        }
    }
}

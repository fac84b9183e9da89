//! Where labels can go: apart from each other, off what is drawn, inside the page.

use kurbo::{Line, Rect, Size};

/// Room on a page, of which some is taken.
#[derive(Clone)]
pub(crate) struct Room {
    bounds: Rect,
    taken: Vec<Rect>,
}

impl Room {
    /// All of a page is free.
    pub(crate) fn new(bounds: Rect) -> Self {
        Self { bounds, taken: Vec::new() }
    }

    /// Something is drawn here.
    pub(crate) fn take(&mut self, rect: Rect) {
        self.taken.push(rect.abs());
    }

    /// Whether nothing is drawn here and it is inside the page.
    pub(crate) fn is_free(&self, rect: Rect) -> bool {
        self.bounds.contains_rect(rect)
            && self.taken.iter().all(|taken| taken.intersect(rect).area() <= 0.0)
    }

    /// The first of the corners (upper left) at which so much is free; it is taken then.
    pub(crate) fn place(
        &mut self,
        size: Size,
        corners: impl IntoIterator<Item = (f64, f64)>,
    ) -> Option<Rect> {
        let mut rects = corners.into_iter().map(|corner| Rect::from_origin_size(corner, size));
        let found = rects.find(|rect| self.is_free(*rect))?;
        self.taken.push(found);
        Some(found)
    }
}

/// Heights for the labels of a column, each as near as can be to where it is wanted, in the order
/// of the wishes, no closer than `apart`, between `low` and `high`: the least sum of squares (pool
/// adjacent violators; R. E. Barlow et al., *Statistical Inference under Order Restrictions*, 1972;
/// from memory). `wanted` increases. Where the column is too short for all they stand evenly in it.
pub(crate) fn spread(wanted: &[f64], apart: f64, (low, high): (f64, f64)) -> Vec<f64> {
    let count = |n: usize| u32::try_from(n).map_or(f64::from(u32::MAX), f64::from);
    let needed = apart * count(wanted.len().saturating_sub(1));
    if needed >= high - low {
        let step = (high - low) / count(wanted.len().saturating_sub(1)).max(1.0);
        return (0..wanted.len()).map(|k| low + step * count(k)).collect();
    }
    // Less k steps, the labels may coincide but not change places: a fit that does not decrease.
    let mut blocks: Vec<(f64, usize)> = Vec::new();
    for (k, want) in wanted.iter().enumerate() {
        let mut block = (want - apart * count(k), 1);
        while let Some(&(before, n)) = blocks.last()
            && before > block.0
        {
            let all = count(n + block.1);
            block = ((before * count(n) + block.0 * count(block.1)) / all, n + block.1);
            blocks.pop();
        }
        blocks.push(block);
    }
    let level = blocks.iter().flat_map(|&(value, n)| std::iter::repeat_n(value, n));
    let most = high - needed;
    level.enumerate().map(|(k, value)| value.clamp(low, most) + apart * count(k)).collect()
}

/// Whether a straight way passes through a box.
pub(crate) fn meets(way: Line, rect: Rect) -> bool {
    let (mut from, mut to) = (0.0f64, 1.0f64);
    let along = way.p1 - way.p0;
    for (start, step, low, high) in
        [(way.p0.x, along.x, rect.x0, rect.x1), (way.p0.y, along.y, rect.y0, rect.y1)]
    {
        if step == 0.0 {
            if start <= low || start >= high {
                return false;
            }
            continue;
        }
        let (a, b) = ((low - start) / step, (high - start) / step);
        from = from.max(a.min(b));
        to = to.min(a.max(b));
    }
    from < to
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_keep_apart_and_near_where_they_are_wanted() {
        assert_eq!(spread(&[0.0, 10.0, 20.0], 4.0, (0.0, 30.0)), [0.0, 10.0, 20.0]);
        assert_eq!(spread(&[10.0, 11.0], 4.0, (0.0, 30.0)), [8.5, 12.5]);
        assert_eq!(spread(&[0.0, 0.0, 1.0], 4.0, (0.0, 30.0)), [0.0, 4.0, 8.0]);
        assert_eq!(spread(&[29.0, 30.0], 4.0, (0.0, 30.0)), [26.0, 30.0]);
        assert_eq!(spread(&[5.0, 5.0, 5.0], 4.0, (0.0, 4.0)), [0.0, 2.0, 4.0]);
        assert_eq!(spread(&[], 4.0, (0.0, 4.0)), Vec::<f64>::new());
    }

    #[test]
    fn the_first_free_corner_is_taken() {
        let mut room = Room::new(Rect::new(0.0, 0.0, 10.0, 10.0));
        room.take(Rect::new(0.0, 0.0, 5.0, 5.0));
        let size = Size::new(4.0, 4.0);
        let corners = [(1.0, 1.0), (8.0, 8.0), (5.0, 5.0), (0.0, 5.0)];
        assert_eq!(room.place(size, corners), Some(Rect::new(5.0, 5.0, 9.0, 9.0)));
        assert_eq!(room.place(size, corners), Some(Rect::new(0.0, 5.0, 4.0, 9.0)));
        assert_eq!(room.place(size, corners), None);
    }

    #[test]
    fn a_way_meets_the_boxes_that_it_passes_through() {
        let rect = Rect::new(1.0, 1.0, 3.0, 2.0);
        assert!(meets(Line::new((0.0, 0.0), (4.0, 3.0)), rect));
        assert!(meets(Line::new((2.0, 0.0), (2.0, 5.0)), rect));
        assert!(!meets(Line::new((0.0, 0.0), (0.5, 0.5)), rect));
        assert!(!meets(Line::new((0.0, 2.5), (4.0, 2.5)), rect));
        assert!(!meets(Line::new((3.5, 0.0), (3.5, 5.0)), rect));
    }
}

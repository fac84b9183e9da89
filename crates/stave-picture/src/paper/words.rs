//! The words on a pattern: which way is up, what may not be burned.

use kurbo::{Rect, Size};

use super::{Pattern, Points, SMALL_MM};
use crate::draw::{Drawing, Room, SOFT, ZONE_INK, cut, text_width_mm};

impl Pattern {
    /// The front with an arrow to the larger `at`, and the zones' names in their patches or beside
    /// them: where they keep clear of lines, of zones and of each other, on the pattern.
    pub(super) fn words(&self, out: &mut Drawing, front: &[(f64, f64)], dx: f64, dy: f64) {
        let moved = |(x, y): (f64, f64)| (x + dx, y + dy);
        let outline: Points = self.outline.iter().copied().map(moved).collect();
        let Some(bounds) = box_of(&outline) else { return };
        let mut room = Room::new(bounds);
        for line in self.quarters.iter().map(|line| line.map(moved)) {
            // A slanted line covers less than the box around it.
            for k in 0..8 {
                let at = |k: i32| {
                    let share = f64::from(k) / 8.0;
                    let [a, b] = line;
                    (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))
                };
                room.take(Rect::from_points(at(k), at(k + 1)).inflate(0.3, 0.3));
            }
        }
        if let Some(line) = box_of(front) {
            room.take(line.inflate(0.4, 0.0));
        }
        let mut zones: Vec<(&str, Rect)> = Vec::new();
        for (name, zone) in &self.zones {
            let patch: Points = zone.iter().copied().map(moved).collect();
            zones.extend(box_of(&patch).map(|found| (name.as_str(), found)));
        }
        let mut beside = room.clone();
        zones.iter().for_each(|(_, zone)| beside.take(*zone));
        let clear: Vec<Rect> = self
            .clear
            .iter()
            .filter_map(|clear| box_of(&clear.iter().copied().map(moved).collect::<Points>()))
            .collect();
        clear.iter().for_each(|clear| beside.take(*clear));
        self.front_words(out, front, &mut beside, &outline);
        for (name, zone) in zones {
            let name = cut(name, SMALL_MM, 0.5 * bounds.width());
            let size = Size::new(text_width_mm(&name, SMALL_MM) + 1.2, 1.35 * SMALL_MM);
            let middle = (zone.center().x - 0.5 * size.width, zone.center().y - 0.5 * size.height);
            let fits = |rect: Rect| zone.contains_rect(rect) && room.is_free(rect);
            let across = [middle.0, zone.x0 + 0.2, zone.x1 - size.width - 0.2];
            let along = [middle.1, zone.y0 + 0.2, zone.y1 - size.height - 0.2];
            let inside = along.iter().flat_map(|y| across.map(|x| (x, *y)));
            let inside = inside.map(|corner| Rect::from_origin_size(corner, size));
            let found = inside.into_iter().find(|rect| fits(*rect)).or_else(|| {
                // Beside what is kept clear around it, where that is drawn.
                let around = clear.iter().find(|clear| clear.contains_rect(zone));
                let zone = around.copied().unwrap_or(zone);
                let corners = [
                    (zone.x1 + 0.6, middle.1),
                    (zone.x0 - 0.6 - size.width, middle.1),
                    (middle.0, zone.y0 - 0.4 - size.height),
                    (middle.0, zone.y1 + 0.4),
                    (zone.x0, zone.y0 - 0.4 - size.height),
                    (zone.x0, zone.y1 + 0.4),
                    (zone.x1 - size.width, zone.y0 - 0.4 - size.height),
                    (zone.x1 - size.width, zone.y1 + 0.4),
                ];
                let on_it = corners
                    .into_iter()
                    .filter(|corner| inside_all(&outline, Rect::from_origin_size(*corner, size)));
                beside.place(size, on_it)
            });
            if let Some(rect) = found {
                room.take(rect);
                let style = &format!("fill=\"{ZONE_INK}\"");
                let at = (rect.x0 + 0.6, rect.y1 - 0.35 * SMALL_MM);
                out.text(at, SMALL_MM, style, &name);
            }
        }
    }

    /// An arrow, and which way it points, as near the middle of the front's line as there is room.
    fn front_words(
        &self,
        out: &mut Drawing,
        front: &[(f64, f64)],
        room: &mut Room,
        outline: &[(f64, f64)],
    ) {
        let [from, to] = front else { return };
        let long = from.1 - to.1;
        let lines = if long < 13.0 {
            vec!["front".to_owned()]
        } else {
            vec!["front; up is".to_owned(), format!("at {}", self.unit.told(self.larger_at_mm, 2))]
        };
        let arrow = if lines.len() == 1 { (0.6 * long).min(6.0) } else { 9.5 };
        let widths = lines.iter().map(|line| text_width_mm(line, SMALL_MM));
        let size = Size::new(3.4 + widths.fold(0.0, f64::max), arrow.max(SMALL_MM + 0.6));
        let middle = 0.5 * (from.1 + to.1) - 0.5 * size.height;
        let heights = (0..40).flat_map(|k| {
            let by = 0.5 * long * f64::from(k) / 40.0;
            [middle - by, middle + by]
        });
        let x = from.0;
        let corners: Points = [1.2, -1.2 - size.width, 12.0, -12.0 - size.width]
            .iter()
            .flat_map(|off| heights.clone().map(move |y| (x + off, y)))
            .collect();
        let on_it = corners
            .into_iter()
            .filter(|corner| inside_all(outline, Rect::from_origin_size(*corner, size)));
        let Some(rect) = room.place(size, on_it) else { return };
        let (x, y) = (rect.x0 + 1.2, rect.center().y);
        let half = 0.5 * arrow;
        let shaft = [(x, y + half), (x, y - half + 1.5)];
        out.line(&shaft, &format!("stroke=\"{SOFT}\" stroke-width=\"0.25\""));
        let head = [(x, y - half), (x - 0.8, y - half + 2.0), (x + 0.8, y - half + 2.0)];
        out.shape(&head, &format!("class=\"up\" fill=\"{SOFT}\" stroke=\"none\""));
        let style = format!("fill=\"{SOFT}\"");
        let first = if lines.len() == 1 { y + 0.9 } else { y - 0.6 };
        for (line, y) in lines.iter().zip([first, first + 3.5]) {
            out.text((x + 2.0, y), SMALL_MM, &style, line);
        }
    }
}

/// The box around points.
pub(super) fn box_of(points: &[(f64, f64)]) -> Option<Rect> {
    let first = *points.first()?;
    let start = Rect::from_points(first, first);
    Some(points.iter().fold(start, |all, point| all.union_pt(*point)))
}

/// Whether all corners of a rectangle lie inside an outline.
fn inside_all(outline: &[(f64, f64)], rect: Rect) -> bool {
    let corners = [(rect.x0, rect.y0), (rect.x1, rect.y0), (rect.x1, rect.y1), (rect.x0, rect.y1)];
    corners.iter().all(|&(x, y)| {
        let next = outline.iter().cycle().skip(1);
        let crossings = outline.iter().zip(next).filter(|(a, b)| {
            (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0)
        });
        crossings.count() % 2 == 1
    })
}

//! Labels that fold.

use stave_check::{Code, Finding};
use stave_wall::{LabelRoom, LayKind, Wall};

use super::{LOOK_MM, Layout};
use crate::seen::seen_lines;

impl Layout {
    /// The pieces laid as a label that fold, meet themselves or leave the wall with what is seen of
    /// them, each once, with the size at which it would not.
    pub(crate) fn folds(&self, wall: &Wall) -> Vec<Finding> {
        let mut folds: Vec<Finding> = Vec::new();
        let mut rooms: Vec<Option<LabelRoom>> = self.lays.iter().map(|_| None).collect();
        let clips = self.art.bounds_of_clips();
        for part in self.parts() {
            let lay = self.lays.get(part.lay);
            let Some(lay) = lay.filter(|lay| lay.setting().kind == LayKind::Label) else {
                continue;
            };
            let Some(room) = rooms.get_mut(part.lay) else { continue };
            if room.is_none() {
                *room = lay.label_room(wall);
            }
            let Some(room) = room else { continue };
            let flat = self.outline_flat(&part, LOOK_MM);
            let Some(seen) = self.seen_flat(&part, &flat, &clips) else { continue };
            let lines = seen_lines(&flat, self.rule_of(&part).is_some(), seen, LOOK_MM);
            let straight = lines.iter().flat_map(|line| {
                let point = |p: &kurbo::Point| (p.x, p.y);
                let ends = line.iter().zip(line.iter().skip(1));
                let dot = line.first().map(|p| [point(p); 2]).filter(|_| line.len() == 1);
                dot.into_iter().chain(ends.map(move |(from, to)| [point(from), point(to)]))
            });
            if let Err(error) = lay.check_label_lines_in(room, straight) {
                let id = self.pieces.get(part.piece).map_or("art", |piece| piece.id.as_str());
                let fold = Finding::new(Code::Fold, error.to_string()).of_piece(id);
                if folds.iter().all(|known| known.piece != fold.piece) {
                    folds.push(fold);
                }
            }
        }
        folds
    }
}

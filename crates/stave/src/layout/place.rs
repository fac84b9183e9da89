//! Where the page lies in the flat plane, what its pieces are, and which lay each has.

use std::collections::HashMap;
use std::mem::{Discriminant, discriminant};

use kurbo::{Affine, Rect};
use stave_setup::{Job, JobAnchor, OperationRule, PlaceOf, Setup, Stands};
use stave_toolpath::art::{Art, Division, Shape};
use stave_wall::{Anchor, Lay, LayKind};

use super::PlacedPiece;
use crate::error::Error;
use crate::lays::lay_setting;

pub(super) fn divide(art: &Art, job: &Job) -> Division {
    let ids = |rule: &stave_setup::PieceRule| rule.ids.iter().map(|id| id.value.clone()).collect();
    let rules: Vec<Vec<String>> = job.pieces.iter().map(ids).collect();
    art.pieces(&rules)
}

/// The box around each piece on the page, mm. White is bare ware: a white ground behind a piece
/// does not shift its centre. What operations burn does not count, so that two jobs with one
/// drawing lay it alike.
pub(super) fn piece_boxes(art: &Art, division: &Division) -> Vec<Option<Rect>> {
    let boxes = art.bounds_of_shapes();
    let of = |shapes: &[usize], counts: &dyn Fn(&Shape) -> bool| {
        let seen = shapes.iter().filter(|&&index| art.shapes.get(index).is_some_and(counts));
        seen.filter_map(|&index| boxes.get(index).copied().flatten())
            .reduce(|one, other| one.union(other))
    };
    let piece = |piece: &stave_toolpath::art::Piece| {
        of(&piece.shapes, &Shape::is_dark).or_else(|| of(&piece.shapes, &|_| true))
    };
    division.pieces.iter().map(piece).collect()
}

/// From the page to the flat plane, whose origin lands at the job's `place`.
pub(super) fn to_flat(art: &Art, boxes: &[Option<Rect>], job: &Job) -> Affine {
    let stands = match job.stands {
        Stands::Upright => art.page.upright_to_flat(),
        Stands::Inverted => art.page.inverted_to_flat(),
        Stands::Lying => art.page.lying_to_flat(),
    };
    let all = boxes.iter().copied().flatten().reduce(|one, other| one.union(other));
    match (job.place.of, all) {
        (PlaceOf::Art, Some(all)) => Affine::translate(-(stands * all.center()).to_vec2()) * stands,
        _ => stands,
    }
}

/// The lays as they come to be needed.
pub(super) struct Lays<'a> {
    setup: &'a Setup,
    pub(super) list: Vec<Lay>,
    /// By what fixes them within one job: a drawing may have tens of thousands of pieces.
    known: HashMap<(Discriminant<LayKind>, Option<[u64; 2]>), usize>,
}

impl<'a> Lays<'a> {
    pub(super) fn new(setup: &'a Setup) -> Self {
        Self { setup, list: Vec::new(), known: HashMap::new() }
    }

    /// The lay of a piece under an operation: the piece's own setting, else the operation's, else
    /// the job's.
    pub(super) fn of(
        &mut self,
        piece: &PlacedPiece,
        operation: Option<&OperationRule>,
    ) -> Result<usize, Error> {
        let job = &self.setup.job;
        let rule = piece.rule.and_then(|rule| job.pieces.get(rule));
        let kind =
            rule.and_then(|rule| rule.lay).or(operation.and_then(|o| o.lay)).unwrap_or(job.lay);
        let anchor = anchor_of(job, piece, operation);
        let setting = lay_setting(self.setup, kind, anchor, piece.centre_flat);
        let from = match setting.anchor {
            Anchor::Drawing => None,
            Anchor::Point { u_mm, v_mm } => Some([u_mm.to_bits(), v_mm.to_bits()]),
        };
        let key = (discriminant(&kind), from);
        if let Some(&known) = self.known.get(&key) {
            return Ok(known);
        }
        self.list.push(Lay::new(&self.setup.blank.wall, setting)?);
        self.known.insert(key, self.list.len() - 1);
        Ok(self.list.len() - 1)
    }
}

/// What a piece is laid from under an operation: its own setting, else the operation's, else the
/// job's, else its own centre.
pub(crate) fn anchor_of(
    job: &Job,
    piece: &PlacedPiece,
    operation: Option<&OperationRule>,
) -> JobAnchor {
    let own = piece.rule.and_then(|rule| job.pieces.get(rule)).and_then(|rule| rule.anchor);
    own.or(operation.and_then(|o| o.anchor)).or(job.anchor).unwrap_or(JobAnchor::Piece)
}

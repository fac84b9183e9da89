//! A can for tests of the pictures, bare or with burns.

use super::{BurnMap, Burns, EnergyUnit, Lies, ProofParts};
use crate::draw::SheetSize;
use stave_setup::{Blank, Stands};

/// As its file tells it.
pub(super) const CAN: &str = "name = \"can\"\n[[station]]\nat = 0\ndiameter = 70\n\
                              [[station]]\nat = 100\ndiameter = 70\n";

/// A mug with a handle, and a flat place opposite to it.
pub(super) const MUG: &str = "name = \"mug\"\n[[station]]\nat = 0\ndiameter = 70\n\
                              [[station]]\nat = 100\ndiameter = 70\n\
                              [[zone]]\nname = \"handle\"\nat = [20, 80]\nturn = [-8, 8]\n\
                              rise = 20\n\
                              [[facet]]\nname = \"front\"\nturn = 180\nat = [20, 70]\n\
                              width = 22\nheight = 33\n";

/// What is drawn of it.
pub(super) fn parts<'a>(
    blank: &'a Blank,
    (map, burns): (&'a BurnMap, &'a Burns),
) -> ProofParts<'a> {
    ProofParts {
        blank,
        plane: None,
        stands: Stands::Upright,
        name: "club can".to_owned(),
        date: String::new(),
        sheet: SheetSize::A4,
        wrapped_for: String::new(),
        files: Vec::new(),
        map,
        burns,
        meant: None,
        track: &[],
        sections: Vec::new(),
        margins_mm: Vec::new(),
        lies: Lies::default(),
        more_set_ups: &[],
        energy: EnergyUnit::default(),
        figures: Vec::new(),
        findings: Vec::new(),
        texts: Vec::new(),
        texts_are_listed: true,
        cautions: "",
    }
}

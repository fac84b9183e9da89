//! The sheet: one page, A4 lying, for the bench or for the customer.

use std::f64::consts::PI;

use kurbo::Rect;
use stave_setup::{LengthUnit, Stands};
use stave_toolpath::number::{push_counts, significant};

use super::elevation::{self, Art, Elevation};
use super::on_ware::{self, Seen};
use super::png::PngError;
use super::unrolled::{self, Unrolled};
use super::{Lies, ProofParts, Remark, Weight, ramp, side};
use crate::draw::{
    Drawing, HAIR, INK, MISSING, SOFT, STRAY, bar_told, bars_mm, broken, broken_to, cut, dated,
    scale_bar,
};
use crate::steep::steep_s_mm;
use crate::svg::isolated;

/// Pixels a mm in the pictures on the sheet: 300 to the inch.
pub(super) const DOTS_PER_MM: f64 = 11.8;
pub(super) const LEFT: f64 = 10.0;
pub(super) const RIGHT: f64 = 287.0;
/// Where the column of words begins.
const WORDS: f64 = 204.0;
/// Where the figures stand, what each takes, and how many there is room for.
const FIGURES_MM: f64 = 31.0;
const FIGURE_MM: f64 = 4.1;
const MOST_FIGURES: usize = 22;
/// How long a scale bar may come out.
const MOST_BAR_MM: f64 = 22.0;

impl ProofParts<'_> {
    /// The sheet as SVG, lying, in mm. For the customer it has no figures of the machine but a
    /// line to sign.
    #[must_use]
    pub fn sheet_svg(&self, for_customer: bool) -> String {
        let mut paper = Drawing::default();
        let art = Art::new(
            (self.map, self.meant.filter(|_| !for_customer)),
            self.map.top_density(),
            for_customer.then(|| self.blank.look.unwrap_or_default()),
        );
        if for_customer {
            self.customer(&mut paper, &art);
        } else {
            self.bench(&mut paper, &art);
        }
        let carried = paper.carried(self.sheet.lying_transform().as_deref());
        carried.document(self.sheet.lying_mm(), &format!("Proof: {}", self.name))
    }

    /// The sheet as PNG, at so many pixels to the inch (20 to 1200, clamped); the second value is
    /// false where this machine has no font to set its words with.
    ///
    /// # Errors
    /// Where memory does not suffice.
    pub fn sheet_png(
        &self,
        for_customer: bool,
        dots_per_inch: f64,
    ) -> Result<(Vec<u8>, bool), PngError> {
        super::png::render(&self.sheet_svg(for_customer), dots_per_inch.clamp(20.0, 1200.0) / 25.4)
    }

    /// The piece from three sides; their scale.
    pub(super) fn views(
        &self,
        paper: &mut Drawing,
        art: &Art<'_>,
        boxes: ((f64, f64), (f64, f64)),
        plain: bool,
    ) -> f64 {
        let (corner, size) = boxes;
        let (width, height) = elevation::extent(self.blank, self.stands);
        let room = (size.0 / 3.0 - 4.0, size.1 - 7.0);
        let scale = (room.0 / width).min(room.1 / height);
        let names = if plain {
            ["front", "side", "back"]
        } else {
            ["front, from turn 0°", "quarter, from turn 90°", "back, from turn 180°"]
        };
        for (k, name) in names.into_iter().enumerate() {
            let view = Elevation {
                blank: self.blank,
                stands: self.stands,
                facing_rad: 0.5 * PI * k as f64,
                scale,
                middle: (corner.0 + size.0 / 3.0 * (k as f64 + 0.5), corner.1 + 0.5 * room.1),
                dots_per_mm: DOTS_PER_MM,
                plain,
            };
            let findings = if plain { &[] } else { self.pinned() };
            // Beside the ware there is room for pins, above its name.
            let left = corner.0 + size.0 / 3.0 * k as f64 + 1.0;
            let (top, tall) = (view.middle.1 - 0.5 * scale * height, scale * height);
            let bounds = Rect::new(left, top, left + size.0 / 3.0 - 2.0, top + tall);
            let drawn = view.draw_pinned(art, findings, bounds);
            let class = ["view front", "view quarter", "view back"][k];
            paper.group(&format!("class=\"{class}\""), drawn);
            view.caption(paper, corner.1 + 0.5 * room.1 + 0.5 * scale * height + 4.6, name);
        }
        scale
    }

    pub(super) fn bench(&self, paper: &mut Drawing, art: &Art<'_>) {
        let soft = format!("fill=\"{SOFT}\"");
        let wide = RIGHT - LEFT;
        paper.text(
            (LEFT, 14.0),
            6.0,
            "font-weight=\"bold\"",
            &isolated(&cut(&self.name, 6.0, 150.0)),
        );
        paper.text((LEFT, 18.6), 2.9, &soft, &cut(&self.wrapped_for, 2.9, wide));
        paper.text((LEFT, 22.4), 2.5, &soft, &self.files_within(false, (2.5, wide)));
        let kind = dated("Proof", &self.date, 4.2, 60.0);
        paper.text((RIGHT, 14.0), 4.2, &format!("text-anchor=\"end\" fill=\"{SOFT}\""), &kind);
        paper.line(
            &[(LEFT, 24.0), (RIGHT, 24.0)],
            &format!("stroke=\"{HAIR}\" stroke-width=\"0.25\""),
        );
        if let Some(place) = self.plane {
            self.plane_from_above(paper, art, &place.facet.name);
            return self.words(paper);
        }
        let seen = self.views(paper, art, ((LEFT, 27.0), (WORDS - LEFT - 6.0, 88.0)), false);
        bar_of(paper, ((148.0, 120.5), self.blank.unit()), seen, "scale", "on the ware");
        if self.lies.burned_s_mm.is_some() {
            self.scale(paper, (LEFT, 119.0), art);
        } else {
            let words = "Nothing burns: dashed, below, is the way that the beam goes in the dark.";
            paper.text((LEFT, 121.4), 2.9, "", words);
            if art.meant.is_some() {
                differences(paper, (LEFT, 123.4));
            }
        }
        let (width, height) = unrolled::extent(self.blank, self.stands);
        let lying = self.stands == Stands::Lying;
        let room = if lying { (76.0, 58.0) } else { (92.0, 58.0) };
        let left = if lying { LEFT + 20.0 } else { LEFT + 6.0 };
        let scale = (room.0 / width).min(room.1 / height);
        let flat = Unrolled {
            blank: self.blank,
            stands: self.stands,
            margins_mm: &self.margins_mm,
            scale,
            corner: (left, 137.0),
            dots_per_mm: DOTS_PER_MM,
            plain: false,
            plane: false,
        };
        let steep = if steep_s_mm(&self.blank.wall).is_empty() { "" } else { "; darker: steep" };
        let unit = self.blank.unit();
        let lengths = unit.many();
        let heading = format!("The wall unrolled, seen from outside; lengths in {lengths}{steep}");
        paper.text((LEFT, 130.3), 2.9, "font-weight=\"bold\"", &heading);
        let way = match self.lies.burned_s_mm {
            Some(_) => Drawing::default(),
            None => flat.way(self.track),
        };
        paper.group("class=\"unrolled\"", flat.draw_with(art, self.pinned(), way));
        paper.group("class=\"dimensions\"", flat.dimensions(&self.lies));
        let below = flat.corner.1 + scale * height + 8.8;
        let holds = unrolled::true_across_mm(self.blank).map_or_else(
            || "on the ware".to_owned(),
            |across| format!("along the wall, around where ⌀ is {}", unit.figure(across, 1)),
        );
        let ends =
            if flat.ends_along_axis(&self.lies) { "; to the ends: along the axis" } else { "" };
        bar_of(paper, ((left, below), unit), scale, "scale-unrolled", &(holds + ends));
        self.beneath(paper);
        self.words(paper);
    }

    /// How it lies under the beam: in each set-up that there is room for.
    fn beneath(&self, paper: &mut Drawing) {
        let (corner, size) = ((132.0, 134.0), (64.0, 56.0));
        let heading = |words: &str, paper: &mut Drawing| {
            paper.text((corner.0, 130.3), 2.9, "font-weight=\"bold\"", words);
        };
        let mut caption = side::caption(self.blank, &self.lies);
        if self.more_set_ups.is_empty() {
            let set_up = self.lies.set_up.map_or_else(String::new, |set_up| format!(", {set_up}"));
            heading(&format!("As it lies under the beam{set_up}"), paper);
            let set_up = self.lies.set_up.map_or_else(String::new, |one| format!("{one}: "));
            caption = format!("{set_up}{}; {caption}", side::tilt(&self.lies));
            let lying = side::draw(self.blank, &self.lies, corner, size);
            paper.group("class=\"side\"", lying);
        } else {
            heading("As it lies under the beam", paper);
            let all: Vec<&Lies> = [&self.lies].into_iter().chain(self.more_set_ups).collect();
            // Two stand one above the other, more in two columns.
            let columns = if all.len() > 2 { 2 } else { 1 };
            let part = (size.0 / columns as f64, 0.5 * size.1);
            for (k, lies) in all.iter().enumerate().take(2 * columns) {
                let (column, row) = ((k % columns) as f64, (k / columns) as f64);
                let at = (corner.0 + part.0 * column, corner.1 + part.1 * row);
                let set_up = lies.set_up.map_or(0, |set_up| set_up.number);
                let words = format!("set-up {set_up}: {}", side::tilt(lies));
                let words = cut(&words, 2.3, part.0 - 1.0);
                paper.text((at.0, at.1 + 2.0), 2.3, &format!("fill=\"{SOFT}\""), &words);
                let room = (part.0 - 3.0, part.1 - 5.0);
                let view = side::View::new(self.blank, lies, (at.0, at.1 + 3.0), room);
                paper.group("class=\"side\"", view.draw());
            }
            if all.len() > 2 * columns {
                caption.push_str("; the other set-ups are not drawn: see the table");
            }
        }
        for (k, line) in broken_to(&caption, 2.4, 66.0, 4).iter().enumerate() {
            let at = (corner.0, 194.5 + 3.4 * k as f64);
            paper.text(at, 2.4, &format!("fill=\"{SOFT}\""), line);
        }
    }

    /// A flat place, as large as the sheet holds it, and beside it the ware that it is on.
    fn plane_from_above(&self, paper: &mut Drawing, art: &Art<'_>, name: &str) {
        let name = cut(name, 2.9, 90.0);
        let words = format!("The flat place \"{}\", seen from above", isolated(&name));
        paper.text((LEFT, 31.0), 2.9, "font-weight=\"bold\"", &words);
        let (plane, _) = Unrolled::of_plane(self, (90.0, 130.0));
        let flat = Unrolled { corner: (LEFT + 16.0, 42.0), plain: false, ..plane };
        paper.group("class=\"unrolled\"", flat.draw(art, self.pinned()));
        paper.group("class=\"dimensions\"", flat.dimensions(&self.lies));
        self.scale(paper, (LEFT, 187.0), art);
        bar_of(paper, ((LEFT, 198.0), self.blank.unit()), flat.scale, "scale", "on the flat place");
        let (left, top) = (138.0, 31.0);
        paper.text((left, top), 2.9, "font-weight=\"bold\"", "Where it is on the ware");
        let size = (WORDS - 6.0 - left, 72.0);
        let boxes = [((left, top + 5.0), Seen::Facing), ((left, top + 5.0 + size.1), Seen::Aside)];
        let (scale, _) = self.draw_on_ware(paper, (art, false), &boxes, size);
        on_ware::bar(paper, ((left, 198.0), self.blank.unit()), scale, "scale-on-ware");
    }

    /// What the colours mean.
    fn scale(&self, paper: &mut Drawing, (x, y): (f64, f64), art: &Art<'_>) {
        let width = 60.0;
        let steps = 60;
        for k in 0..steps {
            let share = (f64::from(k) + 0.5) / f64::from(steps);
            let (from, step) =
                (x + width * f64::from(k) / f64::from(steps), width / f64::from(steps));
            // A hair of overlap, so that no seam shows between the steps.
            let to = from + step + if k + 1 < steps { 0.2 } else { 0.0 };
            paper.shape(
                &[(from, y), (to, y), (to, y + 3.0), (from, y + 3.0)],
                &format!("fill=\"{}\" stroke=\"none\"", ramp::hex(ramp::colour(share))),
            );
        }
        let soft = format!("fill=\"{SOFT}\"");
        paper.text((x, y + 6.0), 2.3, &soft, "0");
        paper.text(
            (x + width, y + 6.0),
            2.3,
            &format!("text-anchor=\"end\" {soft}"),
            &shown(self.top_told()),
        );
        let words = format!("energy on the wall: {}", self.energy.words());
        paper.text((x + width + 3.0, y + 2.4), 2.4, &soft, &words);
        if art.meant.is_some() {
            differences(paper, (x + width + 3.0, y + 3.6));
        }
    }

    fn words(&self, paper: &mut Drawing) {
        let mut y = FIGURES_MM;
        paper.text((WORDS, y), 2.9, "font-weight=\"bold\"", "Figures");
        y += 1.6;
        for figure in self.figures.iter().take(MOST_FIGURES) {
            y += FIGURE_MM;
            paper.text((WORDS, y), 2.5, &format!("fill=\"{SOFT}\""), &figure.name);
            paper.text((RIGHT, y), 2.5, "text-anchor=\"end\"", &cut(&figure.value, 2.5, 46.0));
            paper.line(
                &[(WORDS, y + 1.2), (RIGHT, y + 1.2)],
                &format!("stroke=\"{HAIR}\" stroke-width=\"0.12\""),
            );
        }
        y += 9.0;
        paper.text((WORDS, y), 2.9, "font-weight=\"bold\"", &self.findings_title());
        let (cautions, bottom) = self.cautions_broken();
        let listed = self.listed();
        y += 1.0;
        for (i, (finding, lines)) in self.findings.iter().zip(&listed).enumerate() {
            paper.flag((WORDS + 1.9, y + 3.4), i + 1, finding.severity == Weight::Error);
            for line in lines {
                y += 3.6;
                paper.text((WORDS + 5.6, y + 0.6), 2.5, "", line);
            }
            y += 1.4;
        }
        let left = self.findings.len() - listed.len();
        if left > 0 {
            let rest = format!("and {left} more: see the page (-o proof.html) or `stave check`");
            paper.text((WORDS, y + 4.4), 2.4, &format!("fill=\"{SOFT}\""), &rest);
        }
        paper.line(
            &[(WORDS, bottom - 5.4), (RIGHT, bottom - 5.4)],
            &format!("stroke=\"{INK}\" stroke-width=\"0.3\""),
        );
        paper.text((WORDS, bottom - 1.4), 2.6, "font-weight=\"bold\"", "Before you burn");
        for (k, line) in cautions.iter().enumerate() {
            paper.text((WORDS, bottom + 2.2 + 3.2 * k as f64), 2.3, "", line);
        }
    }

    /// What must be said, in lines, and where it begins.
    fn cautions_broken(&self) -> (Vec<String>, f64) {
        let cautions = broken(self.cautions, 2.3, RIGHT - WORDS);
        let bottom = 201.0 - 3.2 * cautions.len() as f64;
        (cautions, bottom)
    }

    /// The findings that the sheet has room for, each in its lines: a pin that no words go with
    /// would say nothing.
    fn listed(&self) -> Vec<Vec<String>> {
        let last = self.cautions_broken().1 - 7.0;
        let figures = self.figures.len().min(MOST_FIGURES) as f64;
        let mut y = FIGURES_MM + 1.6 + FIGURE_MM * figures + 10.0;
        let mut all = Vec::new();
        for finding in &self.findings {
            let words = format!("{}: {}", finding.severity.word(), finding.message);
            let lines = broken_to(&words, 2.5, RIGHT - WORDS - 5.6, 8);
            if y + 3.6 * lines.len() as f64 + 3.6 > last {
                break;
            }
            y += 3.6 * lines.len() as f64 + 1.4;
            all.push(lines);
        }
        all
    }

    /// Those of them that are pinned to the pictures.
    pub(super) fn pinned(&self) -> &[Remark] {
        self.findings.get(..self.listed().len()).unwrap_or_default()
    }

    pub(crate) fn findings_title(&self) -> String {
        let count =
            |severity: Weight| self.findings.iter().filter(|f| f.severity == severity).count();
        if self.findings.is_empty() {
            return "Findings: none".to_owned();
        }
        let all = [Weight::Error, Weight::Accepted, Weight::Warning, Weight::Note];
        let told: Vec<String> = all
            .into_iter()
            .map(|severity| (count(severity), severity.word()))
            .filter(|(count, _)| *count > 0)
            .map(|(count, word)| format!("{count} {word}{}", if count == 1 { "" } else { "s" }))
            .collect();
        format!("Findings: {}", told.join(", "))
    }
}

/// What the colours mean by which two programs differ.
fn differences(paper: &mut Drawing, (mut x, y): (f64, f64)) {
    for (colour, words) in [(STRAY, "burned, not meant"), (MISSING, "meant, not burned")] {
        let style = format!("fill=\"{}\" stroke=\"none\"", ramp::hex(colour));
        paper.rect(Rect::new(x, y, x + 6.0, y + 2.6), &style);
        // As on the pictures: striped dark, or with gaps.
        let (ink, lean) = match colour == STRAY {
            true => (ramp::hex(elevation::STRAY_MARK), -1.3),
            false => ("#ffffff".to_owned(), 1.3),
        };
        for middle in [1.0, 3.0, 5.0].map(|across| x + across) {
            let (top, foot) = (middle - 0.5 * lean, middle + 0.5 * lean);
            let stripe =
                [(top - 0.3, y), (top + 0.3, y), (foot + 0.3, y + 2.6), (foot - 0.3, y + 2.6)];
            paper.shape(&stripe, &format!("fill=\"{ink}\" stroke=\"none\""));
        }
        paper.text((x + 7.0, y + 2.3), 2.4, &format!("fill=\"{SOFT}\""), words);
        x += 34.0;
    }
}

/// A bar as long as a round number of mm on the ware comes out at a scale, with what it is and
/// where it holds.
fn bar_of(
    paper: &mut Drawing,
    (at, unit): ((f64, f64), LengthUnit),
    scale: f64,
    id: &str,
    holds: &str,
) {
    let long_mm = bars_mm(unit).into_iter().find(|long_mm| long_mm * scale <= MOST_BAR_MM);
    let long_mm = long_mm.unwrap_or(bars_mm(unit)[6]);
    let words = format!("{} {holds}", bar_told(unit, long_mm));
    scale_bar(paper, at, long_mm * scale, id, &words);
}

/// A figure to three digits.
pub(crate) fn shown(value: f64) -> String {
    let mut out = Vec::new();
    match significant(value, 3) {
        Some((counts, decimals)) => push_counts(&mut out, counts, decimals),
        None => out.push(b'?'),
    }
    String::from_utf8_lossy(&out).into_owned()
}

#[cfg(test)]
mod tests;

//! The piece as the page shows it where no script draws it: a picture that stands still.

use std::f64::consts::PI;

use stave_setup::LengthUnit;

use super::super::ProofParts;
use super::super::elevation::{self, Art, Elevation};
use super::super::unrolled::{self, Unrolled};
use crate::draw::{Drawing, bar_told, bars_mm, scale_bar};
use crate::svg::{escaped, mm};

/// How wide the picture is, and how high its views and the unrolled wall may be, mm.
const WIDE: f64 = 180.0;
const TALL: f64 = 80.0;
/// Between views.
const GAP: f64 = 4.0;
/// What a name under a view takes, and the bar.
const CAPTION: f64 = 9.0;
const BAR: f64 = 7.0;
/// Pixels a mm: half of the sheet's, as a screen shows it.
const DOTS_PER_MM: f64 = 5.9;
/// Lengths of a bar, mm of ware, the longest that is not too long.
const MOST_BAR_MM: f64 = 60.0;

impl ProofParts<'_> {
    /// What a customer sees of the piece before a script turns it, or where none can.
    pub(super) fn still(&self) -> String {
        let (picture, told) = self.still_picture();
        format!(
            "<figure id=\"still\">\n<div role=\"img\" aria-label=\"{}, {told}\">\n{picture}</div>\n\
             <figcaption>The piece {told}.</figcaption>\n</figure>",
            escaped(&self.name),
        )
    }

    fn still_picture(&self) -> (String, String) {
        let look = Some(self.blank.look.unwrap_or_default());
        let art = Art::new((self.map, None), self.map.top_density(), look);
        let mut paper = Drawing::default();
        let (blank, stands) = (self.blank, self.stands);
        if self.plane.is_some() {
            let (plane, size) = Unrolled::of_plane(self, (WIDE, TALL));
            let x = 0.5 * (WIDE - size.0);
            let plane = Unrolled { corner: (x, 1.0), dots_per_mm: DOTS_PER_MM, ..plane };
            paper.group("class=\"unrolled\"", plane.draw(&art, &[]));
            bar(&mut paper, (size.1 + BAR, blank.unit()), plane.scale, "");
            let size = (WIDE, size.1 + BAR + 3.0);
            return (paper.document(size, &self.name), "from above".to_owned());
        }
        let (width, height) = elevation::extent(blank, stands);
        let scale = ((WIDE / 3.0 - GAP) / width).min(TALL / height);
        for (k, name) in ["front", "side", "back"].into_iter().enumerate() {
            let view = Elevation {
                blank,
                stands,
                facing_rad: 0.5 * PI * k as f64,
                scale,
                middle: (WIDE / 3.0 * (k as f64 + 0.5), 1.0 + 0.5 * scale * height),
                dots_per_mm: DOTS_PER_MM,
                plain: true,
            };
            paper.group("class=\"view\"", view.draw(&art));
            view.caption(&mut paper, scale * height + 6.0, name);
        }
        // Drawn as wide as the largest diameter, it is narrowed to be true amid what is burned.
        let narrowed = self.true_radius_mm() / blank.wall.largest_radius_mm();
        let by = match stands {
            stave_setup::Stands::Lying => (1.0, narrowed),
            _ => (narrowed, 1.0),
        };
        let flat = unrolled::extent(blank, stands);
        let scale_flat = (WIDE / (by.0 * flat.0)).min(TALL / (by.1 * flat.1));
        let unrolled = Unrolled {
            blank,
            stands,
            margins_mm: &self.margins_mm,
            scale: scale_flat,
            corner: (0.0, 0.0),
            dots_per_mm: DOTS_PER_MM,
            plain: true,
            plane: false,
        };
        let (x, y) = (0.5 * (WIDE - scale_flat * by.0 * flat.0), scale * height + CAPTION);
        let [x, y_mm, across, along] = [x, y, by.0, by.1].map(mm);
        let carried = format!("transform=\"translate({x} {y_mm}) scale({across} {along})\"");
        paper.group(&carried, unrolled.draw(&art, &[]));
        let below = y + scale_flat * by.1 * flat.1 + BAR;
        let unit = blank.unit();
        let across = unit.figure(2.0 * self.true_radius_mm(), 1);
        let even = unrolled::true_across_mm(blank).is_none();
        let words =
            if even { String::new() } else { format!(", around where it is {across} across") };
        bar(&mut paper, (below, unit), scale_flat, &words);
        let told = "from three sides, and all around, unrolled";
        let true_at = match (even, self.lies.burned_s_mm) {
            (true, _) => String::new(),
            (false, Some(_)) => {
                format!(
                    ", true to size where it is {across} {} across, amid the engraving",
                    unit.word()
                )
            }
            (false, None) => format!(", true to size where it is {across} {} across", unit.word()),
        };
        (paper.document((WIDE, below + 3.0), &self.name), told.to_owned() + &true_at)
    }
}

fn bar(paper: &mut Drawing, (y, unit): (f64, LengthUnit), scale: f64, more: &str) {
    let long_mm = bars_mm(unit).into_iter().find(|long_mm| long_mm * scale <= MOST_BAR_MM);
    let long_mm = long_mm.unwrap_or(bars_mm(unit)[6]);
    let words = format!("{}{more}", bar_told(unit, long_mm));
    scale_bar(paper, (1.0, y), long_mm * scale, "still-bar", &words);
}

#[cfg(test)]
mod tests {
    use super::super::super::sample::{CAN, parts};
    use super::super::super::{BurnMap, Burns, WallPlace};

    /// Who signs sees what is engraved, and reads the texts, whatever the browser can do.
    #[test]
    fn the_customer_s_page_holds_a_picture_and_the_texts_without_a_script() {
        let blank = stave_setup::read_blank(CAN, "can.toml").unwrap();
        let (mut map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let place = |s_mm| WallPlace { s_mm, turn_rad: 0.1 };
        map.burn(place(20.0), place(60.0), 1.0, 0.0, 0);
        let mut parts = parts(&blank, (&map, &burns));
        parts.texts = vec!["Reed & \"Water\"".to_owned()];
        let page = parts.page_html(true);
        let body = page.split("<script").next().unwrap();
        assert!(body.contains("<svg") && body.contains("data:image/png"), "no picture");
        assert!(body.contains("<li><p dir=\"auto\">Reed &amp; &quot;Water&quot;</p></li>"));
        for bench in ["Findings", "Figures", "Parts of the program", "Before you burn", "{{"] {
            assert!(!body.contains(bench), "{bench}");
        }
        let bench = parts.page_html(false);
        let body = bench.split("<script").next().unwrap();
        assert!(!body.contains("signature") && !body.contains("<svg xmlns"));
        assert!(!body.contains("as it will be engraved") && !body.contains("{{"));
    }
}

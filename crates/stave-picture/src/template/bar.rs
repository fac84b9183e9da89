//! The bar to check a print by, and what is said with it: what the page is and what its colours
//! mean.

use kurbo::{Rect, Size};
use stave_setup::Stands;
use stave_toolpath::art::GUIDES_ID;
use stave_toolpath::number::fixed;

use super::names::CLEAR_MM;
use super::page::Page;
use crate::draw::{Drawing, INK, scale_bar, text_width_mm};
use crate::steep::steep_s_mm;
use crate::svg::isolated;

/// How large what is said is set, mm.
pub(super) const BAR_WORDS_MM: f64 = 2.5;
/// From line to line of what is said with the bar, and the bar's own height, mm.
const SAID_LINE_MM: f64 = 3.3;
const BAR_TALL_MM: f64 = 3.0;

/// What the page is, and what its colours mean: what somebody asks who has it in hand.
pub(super) fn said(page: &Page<'_>) -> Vec<String> {
    let end = match page.setting.stands {
        _ if page.setting.is_plane => "",
        Stands::Upright | Stands::Inverted => ", foot down",
        Stands::Lying => ", foot to the left",
    };
    let unit = page.blank.unit();
    let mut colours: Vec<String> = Vec::new();
    if page.blank.zones.iter().any(|zone| !page.shown(zone).is_empty()) {
        colours.push("orange: not to be burned".to_owned());
    }
    if !page.facets().is_empty() {
        colours.push("dashed violet: a flat place, burned by itself".to_owned());
    }
    if !page.setting.frames.is_empty() {
        colours.push("green: art, where it will be burned".to_owned());
    }
    if !steep_s_mm(&page.blank.wall).is_empty() {
        colours.push("grey: steep".to_owned());
    }
    if let Some(sharp) = &page.setting.sharp {
        let tilt_deg = fixed(sharp.tilt_rad.to_degrees() + 0.0, 1);
        let nowhere = format!("at tilt {tilt_deg}° no part of it stays in focus");
        colours.push(if sharp.s_mm.is_empty() {
            nowhere
        } else {
            format!(
                "light blue: in focus at tilt {}°, focused at {}{}",
                tilt_deg,
                unit.told(sharp.focus_at_mm + 0.0, 1),
                sharp.focus_turn_rad.map_or(String::new(), |turn_rad| format!(
                    " turn {}°",
                    fixed(turn_rad.to_degrees() + 0.0, 1)
                ))
            )
        });
    }
    let drawn = match page.setting.date.as_str() {
        "" => String::new(),
        date => format!("drawn {date}; "),
    };
    let mut said = vec![
        format!("{}{end}", isolated(&page.setting.title)),
        format!("{drawn}lengths in {}", unit.many()),
    ];
    if !colours.is_empty() {
        said.push(colours.join("; "));
    }
    let handles = if page.setting.is_plane { Vec::new() } else { page.blank.handles() };
    for handle in handles {
        let (free_rad, radius_mm) = (handle.free_rad(), page.setting.reference_radius_mm);
        said.push(format!(
            "free from one side of {} to the other: {} on this page where ⌀ is {}, {}°",
            handle.name(),
            unit.told(free_rad * radius_mm, 1),
            unit.figure(2.0 * radius_mm, 1),
            fixed(free_rad.to_degrees(), 1)
        ));
    }
    said
}

/// The bar with words above and below it.
pub(super) struct Block {
    pub(super) long_mm: f64,
    pub(super) above: Vec<String>,
    pub(super) below: Vec<String>,
}

impl Block {
    fn lines(&self) -> impl Iterator<Item = &String> {
        self.above.iter().chain(&self.below)
    }

    pub(super) fn size(&self) -> Size {
        let widths = self.lines().map(|line| text_width_mm(line, BAR_WORDS_MM));
        let wide = widths.fold(self.long_mm + 0.4, f64::max);
        let lines = self.lines().fold(0.0, |sum, _| sum + SAID_LINE_MM);
        Size::new(wide + 2.0 * CLEAR_MM, lines + BAR_TALL_MM + 2.0 * CLEAR_MM)
    }

    pub(super) fn draw(&self, out: &mut Drawing, rect: Rect) {
        let (x, mut y) = (rect.x0 + CLEAR_MM, rect.y0 + CLEAR_MM);
        let style = format!("fill=\"{INK}\" stroke=\"none\"");
        let line = |out: &mut Drawing, y: f64, text: &str| {
            out.text((x, y + 0.76 * SAID_LINE_MM), BAR_WORDS_MM, &style, text);
        };
        for text in &self.above {
            line(out, y, text);
            y += SAID_LINE_MM;
        }
        let at = (x + 0.2, y + 0.5 * BAR_TALL_MM);
        scale_bar(out, at, self.long_mm, &format!("{GUIDES_ID}-scale-bar"), "");
        y += BAR_TALL_MM;
        for text in &self.below {
            line(out, y, text);
            y += SAID_LINE_MM;
        }
    }
}

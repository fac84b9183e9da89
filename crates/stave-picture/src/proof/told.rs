//! What the sheets say of a piece in words: how large it is, and what it was made from.

use std::f64::consts::{PI, TAU};

use stave_setup::Stands;

use super::ProofParts;
use crate::draw::{cut, text_width_mm};
use crate::svg::isolated;
use crate::ware::end_names;

/// A width that holds all words.
const ANY_MM: f64 = f64::INFINITY;

impl ProofParts<'_> {
    /// The files that it was made from, with their short digests, as they fit a width in letters of
    /// a size, mm: names that are too long are cut, digests never. For the customer without those
    /// of the machine.
    pub(super) fn files_within(&self, for_customer: bool, (size, width): (f64, f64)) -> String {
        let of_bench = |what: &str| for_customer && matches!(what, "machine" | "job");
        let files: Vec<_> = self.files.iter().filter(|file| !of_bench(file.what)).collect();
        if files.is_empty() {
            return String::new();
        }
        let named = |files: Vec<String>| format!("Files: {}", files.join(", "));
        let whole = named(files.iter().map(ToString::to_string).collect());
        if text_width_mm(&whole, size) <= width {
            return whole;
        }
        let bare =
            files.iter().map(|file| super::FileShown { name: "…".into(), ..(*file).clone() });
        let bare = named(bare.map(|file| file.to_string()).collect());
        let each = (width - text_width_mm(&bare, size)) / files.len() as f64;
        let each = each + text_width_mm("…", size);
        let short =
            |name: &str| if name.is_empty() { String::new() } else { cut(name, size, each) };
        let shown = files.iter().map(|file| {
            super::FileShown { name: short(&file.name), ..(*file).clone() }.to_string()
        });
        named(shown.collect())
    }

    /// When it was drawn and from which files, a line: what is signed, or found at the machine, is
    /// told from what was drawn later.
    pub(crate) fn drawn_from(&self, for_customer: bool) -> String {
        self.drawn_within(for_customer, (1.0, ANY_MM))
    }

    /// The same as it fits a width.
    pub(super) fn drawn_within(&self, for_customer: bool, (size, width): (f64, f64)) -> String {
        let drawn = match self.date.as_str() {
            "" => String::new(),
            date => format!("Drawn {date}"),
        };
        let left = width - text_width_mm(&drawn, size) - text_width_mm(". ", size);
        let parts = [drawn, self.files_within(for_customer, (size, left))];
        let parts: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        parts.join(". ")
    }

    /// The blank, and which flat place of it, as they fit a width.
    fn blank_within(&self, (size, width): (f64, f64)) -> String {
        let named = |width| isolated(&cut(&self.blank.name, size, width)).into_owned();
        let Some(plane) = self.plane else { return named(width) };
        let of = ", flat place ";
        let plane = cut(&plane.facet.name, size, 0.6 * width - text_width_mm(of, size));
        let plane = format!("{of}{}", isolated(&plane));
        named(width - text_width_mm(&plane, size)) + &plane
    }

    /// How long and wide the ware is.
    fn measured(&self) -> String {
        let unit = self.blank.unit();
        let (first, last) = self.blank.wall.at_range_mm();
        let radii = self.blank.stations.iter().map(|station| station.radius_mm);
        let least = 2.0 * radii.fold(f64::INFINITY, f64::min);
        let most = 2.0 * self.blank.wall.largest_radius_mm();
        let across = if self.plane.is_some() {
            format!("{} wide", unit.told(PI * most, 1))
        } else if most - least < 0.05 {
            format!("{} across", unit.told(most, 1))
        } else {
            format!("{} to {} across", unit.figure(least, 1), unit.told(most, 1))
        };
        format!("{} measured along, {across}", unit.told(last - first, 1))
    }

    /// How large what is engraved comes out: around and along, both on the wall.
    pub(super) fn engraved(&self) -> String {
        let Some(along_mm) = self.lies.burned_along_mm() else {
            return "nothing engraved".to_owned();
        };
        let on = if self.plane.is_some() { "" } else { " the wall" };
        let unit = self.blank.unit();
        let along = format!("{} along{on}", unit.told(along_mm, 1));
        match self.lies.burned_turn_rad {
            Some((low, high)) if self.plane.is_none() && high - low >= TAU - 1e-6 => {
                format!("engraved all around, {along}")
            }
            Some(_) => {
                let way = if self.plane.is_some() { "across" } else { "around" };
                let wide = unit.told(self.lies.burned_around_mm.unwrap_or_default(), 1);
                format!("engraved {wide} {way} by {along}")
            }
            None => format!("engraved {along}"),
        }
    }

    /// Where what is engraved lies: how far from either end along the axis, and its middle from the
    /// front around; of a flat place from its edges and its middle. `None` where nothing is.
    pub(crate) fn engraved_place(&self) -> Option<String> {
        let (from, to) = self.lies.burned_at_mm(self.blank)?;
        let (first, last) = self.blank.wall.at_range_mm();
        let (unit, is_plane) = (self.blank.unit(), self.plane.is_some());
        let edges = match self.stands {
            Stands::Upright => ["lower edge", "upper edge"],
            Stands::Inverted => ["upper edge", "lower edge"],
            Stands::Lying => ["left edge", "right edge"],
        };
        let ends = if is_plane { edges } else { end_names(self.stands) };
        let mut told = format!(
            "{} from the {} and {} from the {}",
            unit.told(last - to, 1),
            ends[1],
            unit.told(from - first, 1),
            ends[0]
        );
        if !is_plane {
            told.push_str(", measured along");
        }
        if let Some(middle_mm) = self.lies.burned_middle_mm(self.blank) {
            let sides = match self.stands {
                Stands::Upright => ["to the left of", "to the right of"],
                Stands::Inverted => ["to the right of", "to the left of"],
                Stands::Lying => ["above", "below"],
            };
            let side = sides[usize::from(middle_mm < 0.0)];
            let (way, front) = match is_plane {
                true => ("", "that of the flat place"),
                false => ("around, ", "the front"),
            };
            told.push_str(&match unit.figure(middle_mm.abs(), 1).as_str() {
                "0" if is_plane => "; in the middle across".to_owned(),
                "0" => "; in the middle of the front".to_owned(),
                off => format!("; its middle {off} {} {way}{side} {front}", unit.word()),
            });
        }
        Some(told)
    }

    /// The ware's name and its size, as they fit a width: a name that is too long is cut, the size
    /// is not.
    pub(super) fn ware_within(&self, (size, width): (f64, f64)) -> String {
        let measured = format!(": {}", self.measured());
        self.blank_within((size, width - text_width_mm(&measured, size))) + &measured
    }

    /// The piece's size in words: length and diameters, and how much of it is engraved.
    pub(crate) fn customer_size(&self) -> String {
        self.customer_size_within((1.0, ANY_MM))
    }

    /// The same as it fits a width.
    pub(super) fn customer_size_within(&self, (size, width): (f64, f64)) -> String {
        let engraved = format!("; {}", self.engraved());
        self.ware_within((size, width - text_width_mm(&engraved, size))) + &engraved
    }
}

#[cfg(test)]
mod tests {
    use super::super::order::{Card, order_pages};
    use super::super::sample::{CAN, MUG, parts};
    use super::super::{BurnMap, Burns, FileShown, FlatPlace};
    use crate::draw::{SheetSize, text_width_mm};
    use stave_setup::Facet;

    /// The words of a picture, with their height on the paper.
    fn words(svg: &str) -> Vec<(f64, String)> {
        let parts = svg.split("<text ").skip(1);
        parts
            .map(|part| {
                let y = part.split(" y=\"").nth(1).unwrap().split('"').next().unwrap();
                let words = part.split_once('>').unwrap().1.split("</text>").next().unwrap();
                (y.parse().unwrap(), words.to_owned())
            })
            .collect()
    }

    /// However long the names are, sizes and digests stand on the paper, whole and within it.
    #[test]
    fn long_names_push_nothing_off_the_paper() {
        let long = "Grandmother's enamelled picnic mug with the blue rim ".repeat(3);
        let names = [long.clone(), long.replace(' ', "_")];
        let blank = CAN.replace("\"can\"", &format!("{long:?}"));
        let blank = stave_setup::read_blank(&blank, "can.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let ware = stave_setup::read_blank(MUG, "mug.toml").unwrap();
        let place = |name: &String| Facet { name: name.clone(), ..ware.facets[0].clone() };
        let places = [place(&names[0]), place(&names[1])];
        let mut parts = parts(&blank, (&map, &burns));
        let size = "100 mm measured along, 70 mm across";
        for (name, facet) in names.iter().zip(&places) {
            for plane in [None, Some(FlatPlace { facet, ware: &ware })] {
                parts.date = "2026-11-30".to_owned();
                parts.plane = plane;
                let file = |what, digest: &str| FileShown {
                    what,
                    name: format!("{name}.toml"),
                    digest: digest.to_owned(),
                };
                parts.files = vec![
                    file("blank", "0a9f4ca3"),
                    file("machine", "1b2c3d4e"),
                    file("job", "5f607182"),
                    file("input", "ba7816bf"),
                ];
                let sheet = words(&parts.sheet_svg(true));
                if plane.is_none() {
                    let line = sheet.iter().find(|(y, _)| *y == 27.0).unwrap();
                    assert!(line.1.ends_with(&format!(": {size}; nothing engraved")), "{line:?}");
                    assert!(text_width_mm(&line.1, 3.6) <= 277.0);
                }
                let drawn: Vec<_> = sheet.iter().filter(|(y, _)| *y > 201.0).collect();
                assert!(drawn.iter().all(|(y, _)| *y < 205.0) && drawn.len() == 2, "{drawn:?}");
                let both = format!("{} {}", drawn[0].1, drawn[1].1);
                assert!(both.contains("Drawn 2026-11-30. Files: blank Grandmother"), "{both}");
                assert!(both.contains("0a9f4ca3") && both.ends_with("ba7816bf"), "{both}");
                let bench = words(&parts.sheet_svg(false));
                let line = bench.iter().find(|(_, words)| words.starts_with("Files")).unwrap();
                assert!(line.1.contains("1b2c3d4e") && line.1.ends_with("ba7816bf"), "{line:?}");
                let told = parts.card_words();
                let card = Card { row: 1, name: "one".into(), told, ..Card::default() };
                let page = order_pages(&long, "", SheetSize::A4, &[card], true).swap_remove(0);
                let page: Vec<String> = words(&page).into_iter().map(|(_, words)| words).collect();
                let page = page.join(" ");
                if plane.is_none() {
                    assert!(page.contains(size), "{page}");
                } else {
                    assert!(page.contains(", flat place Grandm"), "{page}");
                }
                assert!(page.contains("nothing engraved"), "{page}");
            }
        }
    }

    /// What is read from the right keeps to itself: the figures after it stand after it.
    #[test]
    fn a_name_read_from_the_right_is_kept_apart() {
        let blank = CAN.replace("\"can\"", "\"כוס\"");
        let blank = stave_setup::read_blank(&blank, "can.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        let told = "\u{2068}כוס\u{2069}: 100 mm measured along, 70 mm across; nothing engraved";
        assert_eq!(parts.customer_size(), told);
        assert!(parts.sheet_svg(true).contains(told) && parts.page_html(true).contains(told));
        let name = "ידית.toml".to_owned();
        parts.files = vec![FileShown { what: "blank", name, digest: "0a9f4ca3".to_owned() }];
        assert_eq!(parts.drawn_from(true), "Files: blank \u{2068}ידית.toml\u{2069} 0a9f4ca3");
    }

    /// An order's title has two lines.
    #[test]
    fn a_long_title_is_broken() {
        let title = "Reedwater Rowing Club, cups and tea tins for the summer regatta on the island";
        let page = order_pages(title, "2026-11-30", SheetSize::A4, &[Card::default()], true);
        let words: Vec<_> = words(&page[0]).into_iter().filter(|(y, _)| *y < 22.0).collect();
        let lines: Vec<&str> = words.iter().map(|(_, words)| words.as_str()).collect();
        assert_eq!(lines[..lines.len() - 1].join(" "), title);
        assert_eq!(lines.len(), 3, "{lines:?}");
    }
}

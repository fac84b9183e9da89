//! What the sheet shows of ware with much on it.

use super::super::sample::{CAN, MUG, parts};
use super::super::{BurnMap, Burns, FlatPlace, SetUpShown, WallPlace};
use super::*;

const PAGE: Rect = Rect::new(0.0, 0.0, 297.0, 210.0);

fn bench(parts: &ProofParts<'_>) -> Drawing {
    let mut paper = Drawing::default();
    let art = Art::new((parts.map, None), 0.0, None);
    parts.bench(&mut paper, &art);
    paper
}

/// A ball measured at forty places: the names that are drawn can be read, both ends and the widest
/// among them.
#[test]
fn names_of_many_stations_do_not_meet() {
    let stations: String = (0..=40)
        .map(|k| {
            let at = f64::from(2 * k - 40);
            format!("[[station]]\nat = {at}\ndiameter = {:.2}\n", 2.0 * (2500.0 - at * at).sqrt())
        })
        .collect();
    let blank = format!("wall = \"smooth\"\n{stations}");
    let blank = stave_setup::read_blank(&blank, "ball.toml").unwrap();
    let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
    for stands in [Stands::Upright, Stands::Inverted, Stands::Lying] {
        let mut parts = parts(&blank, (&map, &burns));
        parts.stands = stands;
        let drawn = bench(&parts);
        crate::draw::assert_words_apart(&drawn, PAGE);
        let names: Vec<&str> = drawn.words.iter().map(|(_, words)| words.as_str()).collect();
        for name in ["at -40 ⌀60", "at 40 ⌀60"] {
            assert!(names.contains(&name), "{stands:?}, {name}: {names:?}");
        }
        assert!(stands == Stands::Lying || names.contains(&"at 0 ⌀100"), "{names:?}");
    }
}

/// A pin without its words says nothing.
#[test]
fn a_pin_has_its_words_on_the_sheet() {
    let blank = stave_setup::read_blank(CAN, "can.toml").unwrap();
    let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
    let mut parts = parts(&blank, (&map, &burns));
    let found = |k: i32| Remark {
        severity: Weight::Warning,
        message: "what was found ".repeat(12),
        place: Some(WallPlace { s_mm: 4.0 * f64::from(k), turn_rad: 0.1 * f64::from(k) }),
    };
    parts.findings = (1..=20).map(found).collect();
    let listed = parts.pinned().len();
    assert!(listed > 3 && listed < 20, "{listed}");
    let drawn = bench(&parts);
    let flags = drawn.out.matches("<circle class=\"flag\"").count();
    // In the list, on the unrolled wall, and on one view or, at its edge, two.
    assert!(flags <= 4 * listed, "{flags} of {listed}");
    assert!(
        drawn
            .words
            .iter()
            .any(|(_, words)| words.starts_with(&format!("and {} more", 20 - listed)))
    );
}

/// A flat place is seen on the views and on the unrolled wall, and has its name; for a customer it
/// is a line, as what stands out is.
#[test]
fn flat_places_are_drawn_and_named() {
    let text = format!(
        "{CAN}[[facet]]\nname = \"front plate\"\nturn = 20\nat = [30, 70]\n\
                        width = 30\nheight = 33\n"
    );
    let blank = stave_setup::read_blank(&text, "mug.toml").unwrap();
    let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
    let parts = parts(&blank, (&map, &burns));
    let drawn = bench(&parts);
    // From the front, from the quarter, and unrolled.
    assert!(drawn.out.matches("class=\"facet\"").count() >= 2, "{}", drawn.out.len());
    assert!(drawn.words.iter().any(|(_, words)| words == "front plate"));
    crate::draw::assert_words_apart(&drawn, PAGE);
    let customer = parts.sheet_svg(true);
    assert!(customer.contains("class=\"facet\"") && !customer.contains("front plate"));
}

/// Over art that covers nearly all of the ware no pin and no name hides any of it: they stand
/// beside it, whole, and are led to what they tell of.
#[test]
fn pins_and_names_hide_no_art() {
    let text = format!(
        "{CAN}[[zone]]\nname = \"mark pressed into the foot\"\nat = [10, 30]\nturn = [-10, 10]\n\
         [[zone]]\nname = \"handle boss, upper\"\nat = [60, 70]\nturn = [80, 95]\n\
         [[zone]]\nname = \"seam of the mould\"\nat = [0, 100]\nturn = [170, 175]\n"
    );
    for (text, top_mm) in
        [(text.clone(), 90.0), (text.replace("100\ndiameter", "75\ndiameter"), 70.0)]
    {
        let blank = stave_setup::read_blank(&text, "can.toml").unwrap();
        let (mut map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let place = |s_mm, turn_rad| WallPlace { s_mm, turn_rad };
        for k in 0..900 {
            let turn_rad = -2.8 + 5.6 * f64::from(k) / 900.0;
            map.burn(place(0.0, turn_rad), place(top_mm, turn_rad), 1.0, 0.0, 0);
        }
        let mut parts = parts(&blank, (&map, &burns));
        parts.lies.burned_s_mm = Some((0.0, top_mm));
        parts.lies.burned_turn_rad = Some((-2.8, 2.8));
        let found = |s_mm: f64, turn_rad: f64| Remark {
            severity: Weight::Error,
            message: "what was found".to_owned(),
            place: Some(place(s_mm, turn_rad)),
        };
        parts.findings = vec![found(20.0, 0.17), found(65.0, 1.4), found(66.0, 1.41)];
        for stands in [Stands::Upright, Stands::Inverted, Stands::Lying] {
            parts.stands = stands;
            let art = Art::new((&map, None), map.top_density(), None);
            let mut drawn = Drawing::default();
            parts.bench(&mut drawn, &art);
            crate::draw::assert_words_apart(&drawn, PAGE);
            for name in ["mark pressed into the foot", "handle boss, upper", "seam of the mould"] {
                // To the right of the wall there is less room where it stands.
                let cut =
                    |words: &str| words.strip_suffix('…').is_some_and(|w| name.starts_with(w));
                let is_named = |words: &str| {
                    words == name || (stands != Stands::Lying && words.len() > 9 && cut(words))
                };
                let is_named = drawn.words.iter().any(|(_, words)| is_named(words));
                assert!(is_named, "{stands:?}: {name}");
            }
            assert!(!drawn.out.contains("paint-order"), "{stands:?}: a name stands on what burns");
            // Three on the wall, at least two on views, each with its leader.
            let unrolled = drawn.out.split("class=\"unrolled\"").nth(1).unwrap();
            let unrolled = unrolled.split("</g>").next().unwrap();
            let (flags, led) = ("class=\"flag\"", "stroke=\"#ffffff\" stroke-width=\"0.7\"");
            assert_eq!(unrolled.matches(flags).count(), 3);
            assert!(unrolled.matches(led).count() >= 5, "{stands:?}");
            let views = drawn.out.split("class=\"unrolled\"").next().unwrap();
            assert_eq!(views.matches(flags).count(), views.matches(led).count(), "{stands:?}");
        }
    }
}

/// On thin ware and on a narrow flat place the names along the edge do not meet.
#[test]
fn names_along_a_narrow_edge_do_not_meet() {
    let wand = "name = \"wand\"\n[[station]]\nat = 0\ndiameter = 12\n[[station]]\nat = 300\n\
                diameter = 12\n";
    let wand = stave_setup::read_blank(wand, "wand.toml").unwrap();
    let (map, burns) = (BurnMap::new(&wand.wall, 0.2), Burns::new(&wand.wall, 0.2));
    let mug = MUG.replace("width = 22", "width = 5");
    let mug = stave_setup::read_blank(&mug, "mug.toml").unwrap();
    let plane = mug.facets[0].page(&mug).unwrap();
    let place = FlatPlace { facet: &mug.facets[0], ware: &mug };
    for stands in [Stands::Upright, Stands::Inverted, Stands::Lying] {
        for (blank, plane, name) in [(&wand, None, "turn 0°"), (&plane, Some(place), "2.5 mm")] {
            let mut parts = parts(blank, (&map, &burns));
            (parts.stands, parts.plane) = (stands, plane);
            let drawn = bench(&parts);
            crate::draw::assert_words_apart(&drawn, PAGE);
            assert!(drawn.words.iter().any(|(_, words)| words == name), "{stands:?}: {name}");
        }
    }
}

/// Each set-up of a program is drawn as it lies, and of more than there is room for the sheet says
/// so.
#[test]
fn every_set_up_is_drawn() {
    let blank = stave_setup::read_blank(CAN, "can.toml").unwrap();
    let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
    let lies = |number: u32, of: u32| Lies {
        tilt_rad: -0.02 * f64::from(number),
        burned_s_mm: Some((10.0, 90.0)),
        set_up: Some(SetUpShown { number, of, burned_s_mm: Some((10.0, 20.0)) }),
        ..Lies::default()
    };
    for count in 1..=6 {
        let more: Vec<Lies> = (2..=count).map(|number| lies(number, count)).collect();
        let mut parts = parts(&blank, (&map, &burns));
        parts.lies = lies(1, count);
        parts.more_set_ups = &more;
        let drawn = bench(&parts);
        crate::draw::assert_words_apart(&drawn, PAGE);
        let views = drawn.out.matches("class=\"side\"").count();
        assert_eq!(views, count.min(4) as usize);
        assert_eq!(drawn.out.contains("are not drawn"), count > 4);
        let second = drawn.words.iter().any(|(_, words)| words.contains("set-up 2: tilt -2.29°"));
        assert_eq!(second, count > 1);
    }
}

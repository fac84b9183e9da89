use super::*;

fn shape(element: usize) -> Shape {
    let path = BezPath::from_svg(&format!("M{element} 0h1v1z")).unwrap();
    let fill = Fill { colour: Rgb::default(), rule: Rule::NonZero, opacity: 1.0 };
    Shape { element, path, fill: Some(fill), stroke: None, stroke_first: false, clips: vec![] }
}

/// `groups`: (id, parent); `elements`: (id, group, data-piece), one shape each.
fn art(groups: &[(&str, Option<usize>)], elements: &[(&str, Option<usize>, Option<&str>)]) -> Art {
    let ids = |id: &str| if id.is_empty() { vec![] } else { vec![id.to_owned()] };
    Art {
        groups: groups
            .iter()
            .map(|&(id, parent)| Group {
                ids: ids(id),
                name: id.to_owned(),
                parent,
                data_piece: None,
            })
            .collect(),
        elements: elements
            .iter()
            .map(|&(id, group, data)| Element {
                ids: ids(id),
                name: id.to_owned(),
                group,
                data_piece: data.map(str::to_owned),
                ..Element::default()
            })
            .collect(),
        shapes: (0..elements.len()).map(shape).collect(),
        ..Art::default()
    }
}

fn check_pieces(art: &Art, rules: &[&[&str]], expected: &[(&str, &[usize])]) {
    let rules: Vec<Vec<String>> =
        rules.iter().map(|ids| ids.iter().map(ToString::to_string).collect()).collect();
    let division = art.pieces(&rules);
    let found: Vec<_> =
        division.pieces.iter().map(|p| (p.id.as_str(), p.shapes.as_slice())).collect();
    assert_eq!(found, expected);
    for (index, piece) in division.of_shape.iter().enumerate() {
        assert!(division.pieces[*piece].shapes.contains(&index));
    }
}

#[test]
fn each_top_level_group_is_a_piece_and_what_is_loose_is_one_together() {
    let art = art(
        &[("crest", None), ("oars", Some(0)), ("motto", None)],
        &[
            ("a", Some(0), None),
            ("b", Some(1), None),
            ("c", None, None),
            ("d", Some(2), None),
            ("e", None, None),
        ],
    );
    check_pieces(&art, &[], &[("crest", &[0, 1]), ("c", &[2, 4]), ("motto", &[3])]);
}

#[test]
fn a_lone_group_that_holds_all_is_entered() {
    let groups = [("layer", None), ("inner", Some(0)), ("crest", Some(1)), ("motto", Some(1))];
    let both = art(&groups, &[("a", Some(2), None), ("b", Some(3), None)]);
    check_pieces(&both, &[], &[("crest", &[0]), ("motto", &[1])]);
    // Letters in one group are one piece, of the group's name.
    let word =
        art(&[("layer", None), ("word", Some(0))], &[("R", Some(1), None), ("C", Some(1), None)]);
    check_pieces(&word, &[], &[("word", &[0, 1])]);
    // Beside groups, what is loose in the entered group is one piece.
    let mixed = art(&groups, &[("a", Some(2), None), ("b", Some(1), None), ("c", Some(1), None)]);
    check_pieces(&mixed, &[], &[("crest", &[0]), ("b", &[1, 2])]);
    let alone = art(&[], &[("only", None, None)]);
    check_pieces(&alone, &[], &[("only", &[0])]);
    check_pieces(&art_of_nothing(), &[], &[]);
}

fn art_of_nothing() -> Art {
    art(&[("empty", None)], &[])
}

#[test]
fn rules_come_before_data_and_the_nearest_counts() {
    let art = art(
        &[("crest", None), ("oars", Some(0))],
        &[
            ("a", Some(0), None),
            ("b", Some(1), Some("blades")),
            ("c", Some(1), None),
            ("d", None, Some("blades")),
        ],
    );
    check_pieces(&art, &[], &[("crest", &[0, 2]), ("blades", &[1, 3])]);
    check_pieces(&art, &[&["oars"]], &[("crest", &[0]), ("oars", &[1, 2]), ("blades", &[3])]);
    check_pieces(&art, &[&["crest"], &["b", "d"]], &[("crest", &[0, 2]), ("b", &[1, 3])]);
    check_pieces(&art, &[&["blades"]], &[("crest", &[0, 2]), ("blades", &[1, 3])]);
    let rules = [vec!["crest".to_owned(), "moon".to_owned()], vec!["sun".to_owned()]];
    assert_eq!(art.pieces(&rules).unknown, [(0, 1), (1, 0)]);
    assert_eq!(art.pieces(&rules).pieces[0].rule, Some(0));
}

#[test]
fn ids_used_twice_and_missing_ids() {
    let art = art(
        &[("g", None), ("g", None), ("", None)],
        &[("a", Some(0), None), ("b", Some(1), None), ("", Some(2), None)],
    );
    check_pieces(&art, &[], &[("g", &[0]), ("g (2)", &[1]), ("art", &[2])]);
}

#[test]
fn bounds_of_pieces() {
    let art = art(&[], &[("a", None, None), ("b", None, None)]);
    assert_eq!(art.pieces(&[]).pieces[0].bounds, Some(Rect::new(0.0, 0.0, 2.0, 1.0)));
    assert_eq!(art.bounds(), Some(Rect::new(0.0, 0.0, 2.0, 1.0)));
}

#[test]
fn indices_out_of_range_do_no_harm() {
    let mut art =
        art(&[("g", Some(7)), ("h", Some(1))], &[("a", Some(9), None), ("b", Some(1), None)]);
    art.shapes[0].element = 40;
    art.shapes[1].clips = vec![3];
    let division = art.pieces(&[vec!["b".to_owned()]]);
    assert_eq!(division.pieces.len(), 2);
    let _ = art.choose(&[Asked::new(Pick::Id("g".to_owned()), Work::Area)]);
    let _ = art.choose_by_default();
}

#[test]
fn picks_by_colour_and_by_id() {
    let mut art =
        art(&[("crest", None)], &[("a", Some(0), None), ("eye", Some(0), None), ("c", None, None)]);
    let navy = Rgb::new(0, 0, 128);
    let stroke = Stroke {
        colour: navy,
        opacity: 1.0,
        width_mm: 1.0,
        join: Join::Miter,
        cap: Cap::Butt,
        miter_limit: 4.0,
        pen: Affine::IDENTITY,
        dashes: None,
    };
    art.shapes[0].stroke = Some(stroke);
    art.shapes[1].fill = Some(Fill { colour: Rgb::WHITE, rule: Rule::NonZero, opacity: 1.0 });
    let chosen = |picks: &[(Pick, Work)]| {
        let asked: Vec<Asked> =
            picks.iter().map(|(pick, work)| Asked::new(pick.clone(), *work)).collect();
        let choice = art.choose(&asked);
        let parts: Vec<_> = choice.operations[0].iter().map(|c| (c.shape, c.part)).collect();
        (parts, choice.left_out)
    };
    let id = |id: &str| Pick::Id(id.to_owned());
    let left = |element, why| LeftOut { element, why };
    let (parts, out) = chosen(&[(Pick::Fill(Rgb::default()), Work::Area)]);
    assert_eq!(parts, [(0, Part::Fill), (2, Part::Fill)]);
    assert_eq!(out, [left(1, Why::White)]);
    let (parts, out) = chosen(&[(Pick::Stroke(navy), Work::Line)]);
    assert_eq!(parts, [(0, Part::StrokeMiddle)]);
    assert_eq!(out, [left(1, Why::White), left(2, Why::Unpicked)]);
    // White within a picked group is a hole; picked by its own id it is burned.
    assert_eq!(chosen(&[(id("crest"), Work::Area)]).0, [(0, Part::Fill), (0, Part::StrokeArea)]);
    assert_eq!(chosen(&[(id("crest"), Work::Line)]).0, [(0, Part::StrokeMiddle)]);
    assert_eq!(chosen(&[(id("eye"), Work::Area)]).0, [(1, Part::Fill)]);
    // To a picture that burns what is light white is no hole.
    let light = Asked { burns_light: true, ..Asked::new(id("crest"), Work::Picture) };
    assert_eq!(art.choose(&[light]).operations[0].len(), 3);
    let dark = Asked::new(id("crest"), Work::Picture);
    assert_eq!(art.choose(&[dark]).operations[0].len(), 2);
    let default = art.choose_by_default();
    assert_eq!(default.operations[0].len(), 2);
    assert_eq!(default.operations[1], [Chosen { shape: 0, part: Part::StrokeMiddle }]);
}

#[test]
fn a_stretched_pen_covers_the_stretched_area() {
    // A horizontal line of 10 under a pen twice as high as wide: 10 by 4, for a width of 2 before
    // stretching by (1/sqrt 2, sqrt 2).
    let root = std::f64::consts::SQRT_2;
    let mut line = shape(0);
    line.path = BezPath::from_svg("M0 0H10").unwrap();
    line.stroke = Some(Stroke {
        colour: Rgb::default(),
        opacity: 1.0,
        width_mm: 2.0,
        join: Join::Miter,
        cap: Cap::Butt,
        miter_limit: 4.0,
        pen: Affine::scale_non_uniform(1.0 / root, root),
        dashes: None,
    });
    let area = line.stroke_area(1e-3).unwrap();
    assert!((area.area().abs() - 20.0 * root).abs() < 1e-9);
}

/// A rectangle of its own element.
fn loose(element: usize, [x, y, w, h]: [f64; 4]) -> Shape {
    Shape {
        element,
        path: Rect::new(x, y, x + w, y + h).to_path(0.1),
        fill: Some(Fill { colour: Rgb::default(), rule: Rule::NonZero, opacity: 1.0 }),
        stroke: None,
        stroke_first: false,
        clips: vec![],
    }
}

#[test]
fn loose_elements_within_five_mm_are_one_piece() {
    let names = ["S", "far", "T", "E", "corner"];
    let element = |name: &&str| Element {
        ids: vec![(*name).to_owned()],
        name: (*name).to_owned(),
        ..Element::default()
    };
    // S, T and E stand 4 mm apart in turn; the corner is 4 mm off in both directions, 5.7 away.
    let boxes = [
        [0.0, 0.0, 6.0, 10.0],
        [60.0, 0.0, 5.0, 5.0],
        [10.0, 0.0, 6.0, 10.0],
        [20.0, 0.0, 6.0, 10.0],
        [30.0, 14.0, 6.0, 10.0],
    ];
    let art = Art {
        elements: names.iter().map(element).collect(),
        shapes: boxes.into_iter().enumerate().map(|(e, b)| loose(e, b)).collect(),
        ..Art::default()
    };
    let parted = art.pieces(&[]);
    let ids: Vec<&str> = parted.pieces.iter().map(|piece| piece.id.as_str()).collect();
    assert_eq!(ids, ["S", "far", "corner"]);
    assert_eq!(parted.of_shape, [0, 1, 0, 0, 2]);
}

#[test]
fn near_white_is_bare_by_its_luminance() {
    // By hand: #fcfcfc is ((0.98824 + 0.055) / 1.055)^2.4 = 0.9734 of white, #fbfbfb 0.9647.
    assert!(Rgb::new(252, 252, 252).is_bare(1.0));
    assert!(!Rgb::new(251, 251, 251).is_bare(1.0));
    let near = |colour| Shape {
        fill: Some(Fill { colour, rule: Rule::NonZero, opacity: 1.0 }),
        ..loose(0, [0.0, 0.0, 1.0, 1.0])
    };
    let art = Art {
        elements: vec![Element::default()],
        shapes: vec![near(Rgb::new(254, 255, 255))],
        ..Art::default()
    };
    let choice = art.choose_by_default();
    assert!(choice.operations.iter().all(Vec::is_empty), "{choice:?}");
    assert_eq!(choice.left_out, [LeftOut { element: 0, why: Why::White }]);
    // Who asks for it by its colour has it.
    let asked = art.choose(&[Asked::new(Pick::Fill(Rgb::new(254, 255, 255)), Work::Area)]);
    assert_eq!(asked.operations[0].len(), 1);
}

/// SVG 2, 13.5.4: a subpath of no length is drawn with round and square caps.
#[test]
fn a_dot_is_what_its_caps_make_of_it() {
    let dot = |cap: Cap, data: &str| {
        let stroke = Stroke {
            colour: Rgb::default(),
            opacity: 1.0,
            width_mm: 2.0,
            join: Join::Miter,
            cap,
            miter_limit: 4.0,
            pen: Affine::IDENTITY,
            dashes: None,
        };
        let shape = Shape {
            path: BezPath::from_svg(data).unwrap(),
            fill: None,
            stroke: Some(stroke),
            ..loose(0, [0.0; 4])
        };
        (shape.has_dots(), shape.stroke_area(1e-4).unwrap().area().abs())
    };
    for data in ["M5 5h0", "M5 5z", "M0 0M5 5L5 5z", "M5 5c0 0 0 0 0 0"] {
        let (has, area) = dot(Cap::Round, data);
        assert!(has && (area - std::f64::consts::PI).abs() < 1e-3, "{data}: {area}");
        let (has, area) = dot(Cap::Square, data);
        assert!(has && (area - 4.0).abs() < 1e-9, "{data}: {area}");
        assert_eq!(dot(Cap::Butt, data), (false, 0.0), "{data}");
    }
    // A line is no dot, nor is a point that nothing is drawn from.
    assert!(!dot(Cap::Round, "M5 5h3").0 && !dot(Cap::Round, "M5 5M6 6").0);
}

//! Random documents: read or refused, never a panic, nothing that is not finite.

use proptest::prelude::*;
use stave_parse::svg::{Fonts, path_data, read_path, read_svg};
use stave_tests::cases;

/// Path data, well-formed or nearly.
fn data() -> impl Strategy<Value = String> {
    let number = prop_oneof![
        (-50.0_f64..150.0).prop_map(|n| format!("{n:.2}")),
        Just("1e40".to_owned()),
        Just("-0".to_owned()),
        Just(".5.5".to_owned()),
    ];
    let command = prop_oneof![
        Just("M"),
        Just("l"),
        Just("H"),
        Just("v"),
        Just("C"),
        Just("s"),
        Just("Q"),
        Just("t"),
        Just("A"),
        Just("a"),
        Just("z")
    ];
    let segment = (command, prop::collection::vec(number, 0..8))
        .prop_map(|(c, n)| format!("{c}{}", n.join(" ")));
    prop::collection::vec(segment, 0..8).prop_map(|segments| format!("M5 5{}", segments.concat()))
}

/// Documents whose elements refer to one another at random.
fn document() -> impl Strategy<Value = String> {
    let id = (0_u8..6).prop_map(|i| format!("i{i}"));
    let paint = prop_oneof![
        Just("none".to_owned()),
        Just("#123".to_owned()),
        id.clone().prop_map(|i| format!("url(#{i})"))
    ];
    let value = prop_oneof![
        Just("10".to_owned()),
        Just("-3".to_owned()),
        Just("50%".to_owned()),
        Just("2Q".to_owned()),
        Just("1e30".to_owned()),
        Just("2em".to_owned())
    ];
    let attributes = (id.clone(), paint.clone(), paint, value.clone(), value, id.clone(), 0_u8..16)
        .prop_map(|(id, fill, stroke, x, y, other, extra)| {
            let more = match extra {
                0 => format!("clip-path='url(#{other})'"),
                1 => format!("mask='url(#{other})'"),
                2 => format!("filter='url(#{other})'"),
                3 => format!("marker-start='url(#{other})' marker-mid='url(#{other})'"),
                4 => "transform='rotate(30) skewX(20) scale(2 0)'".to_owned(),
                5 => "stroke-dasharray='3 1 0' stroke-dashoffset='-7'".to_owned(),
                6 => "display='none'".to_owned(),
                7 => "opacity='.4' visibility='hidden'".to_owned(),
                8 => format!("data-piece='{other}' style='stroke-width:3Q;fill:inherit'"),
                9 => "viewBox='0 0 5 5' overflow='visible'".to_owned(),
                _ => String::new(),
            };
            format!(
                "id='{id}' fill='{fill}' stroke='{stroke}' x='{x}' y='{y}' width='{x}' \
                     height='{y}' r='{x}' href='#{other}' {more}"
            )
        });
    let leaf_tag = prop_oneof![
        Just("rect"),
        Just("circle"),
        Just("use"),
        Just("image"),
        Just("text"),
        Just("ellipse")
    ];
    let leaf = prop_oneof![
        (leaf_tag, attributes.clone()).prop_map(|(tag, a)| format!("<{tag} {a}>x</{tag}>")),
        (attributes.clone(), data()).prop_map(|(a, d)| format!("<path {a} d='{d}'/>")),
    ];
    let group_tag = prop_oneof![
        Just("g"),
        Just("svg"),
        Just("symbol"),
        Just("clipPath"),
        Just("defs"),
        Just("marker"),
        Just("mask"),
        Just("pattern"),
        Just("switch"),
        Just("a"),
        Just("linearGradient"),
        Just("filter")
    ];
    let tree = leaf.prop_recursive(4, 40, 6, move |inner| {
        (group_tag.clone(), attributes.clone(), prop::collection::vec(inner, 0..6))
            .prop_map(|(tag, a, children)| format!("<{tag} {a}>{}</{tag}>", children.concat()))
    });
    prop::collection::vec(tree, 0..5).prop_map(|inside| {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='80mm' height='50mm'>{}</svg>",
            inside.concat()
        )
    })
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn any_text_is_read_or_refused(text in ".{0,200}") {
        let _ = read_svg(text.as_bytes(), &Fonts::None);
        let _ = read_path(&text);
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = read_svg(&bytes, &Fonts::None);
    }

    #[test]
    fn path_data_stays_finite(data in data()) {
        let (path, error) = path_data(&data);
        prop_assert!(path.is_finite());
        if let Some(error) = error {
            prop_assert!(error.column >= 1 && error.column <= data.chars().count() as u64 + 1);
        }
        // What was read, written out and read again is the same.
        let written = path.to_svg();
        if !path.elements().is_empty() && path.elements().len() > 1 {
            prop_assert_eq!(path_data(&written).0, path);
        }
    }

    #[test]
    fn any_document_is_read(document in document()) {
        match read_svg(document.as_bytes(), &Fonts::None) {
            Ok(drawing) => {
                let art = &drawing.art;
                for shape in &art.shapes {
                    prop_assert!(shape.path.is_finite());
                    prop_assert!(shape.fill.is_some() || shape.stroke.is_some());
                    prop_assert!(shape.element < art.elements.len());
                    prop_assert!(shape.clips.iter().all(|&c| c < art.clips.len()));
                    if let Some(stroke) = &shape.stroke {
                        prop_assert!(stroke.width_mm > 0.0 && stroke.width_mm.is_finite());
                    }
                }
                for (index, group) in art.groups.iter().enumerate() {
                    prop_assert!(group.parent.is_none_or(|p| p < index));
                }
                let division =
                    art.pieces(&[vec!["i0".to_owned()], vec!["i1".to_owned(), "i2".to_owned()]]);
                prop_assert_eq!(
                    division.pieces.iter().map(|p| p.shapes.len()).sum::<usize>(),
                    art.shapes.len()
                );
            }
            Err(error) => prop_assert_ne!(error, stave_parse::svg::SvgError::Stumbled),
        }
    }
}

use std::fmt::Write as _;

use kurbo::Shape as _;

use super::*;

/// Reads what stands within an `svg` of 100 by 60 mm, one unit a mm.
fn read(inside: &str) -> Drawing {
    read_whole(&document(inside))
}

fn document(inside: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' \
         width='100mm' \
         height='60mm' viewBox='0 0 100 60'>\n{inside}\n</svg>"
    )
}

fn read_whole(document: &str) -> Drawing {
    read_svg(document.as_bytes(), &Fonts::None).unwrap()
}

/// The drawing in words: a line for each shape, then the notices.
fn told(drawing: &Drawing) -> String {
    let mut out = String::new();
    let art = &drawing.art;
    for shape in &art.shapes {
        let element = &art.elements[shape.element];
        let ids: Vec<_> = art.ids_of_element(shape.element).collect();
        write!(out, "{} [{}]", element.name, ids.join(" ")).unwrap();
        if let Some(fill) = &shape.fill {
            write!(out, " fill {}", fill.colour).unwrap();
            if !fill.hides() {
                out.push_str(" translucent");
            }
        }
        if let Some(stroke) = &shape.stroke {
            write!(out, " stroke {} {:.2}", stroke.colour, stroke.width_mm).unwrap();
        }
        let b = shape.path.bounding_box();
        writeln!(
            out,
            " at {:.2} {:.2} to {:.2} {:.2}",
            b.x0 + 0.0,
            b.y0 + 0.0,
            b.x1 + 0.0,
            b.y1 + 0.0
        )
        .unwrap();
    }
    for shades in &drawing.shades {
        writeln!(out, "shades {}", shades.notice).unwrap();
    }
    for notice in &drawing.notices {
        writeln!(out, "{} {notice}", if notice.is_warning() { "warning" } else { "note" }).unwrap();
    }
    out
}

#[test]
fn shapes_in_order_with_ids_groups_and_paint() {
    let drawing = read(
        "<g id='crest'><rect id='field' x='10' y='5' width='30' height='20' fill='navy'/>
         <g fill='#c00' stroke='rgb(0,128,0)' stroke-width='.5'><circle id='eye' cx='20' cy='10' r='4'/></g></g>
         <path d='M50 10h20v10z' style='fill:white'/>",
    );
    insta::assert_snapshot!(told(&drawing), @r"
    field [field crest] fill #000080 at 10.00 5.00 to 40.00 25.00
    eye [eye crest] fill #cc0000 stroke #008000 0.50 at 16.00 6.00 to 24.00 14.00
    path on line 4 [] fill #ffffff at 50.00 10.00 to 70.00 20.00
    ");
}

#[test]
fn transforms_uses_and_symbols() {
    let drawing = read(
        "<defs><g id='oar'><path id='loom' d='M0 0h10v1h-10z'/><rect id='blade' x='10' y='-1' \
         width='4' height='3'/></g>
         <symbol id='buoy' viewBox='0 0 10 10'><circle id='ring' cx='5' cy='5' r='5'/></symbol>
         <path id='wave' d='M0 0h5v1z'/></defs>
         <use id='port' href='#oar' transform='translate(10 10) rotate(90)'/>
         <use xlink:href='#buoy' x='30' y='20' width='20' height='20' overflow='visible'/>
         <use id='left' href='#wave' x='60' y='30' data-piece='sea'/>
         <use id='again' href='#left' x='10'/>",
    );
    insta::assert_snapshot!(told(&drawing), @r"
    loom [loom port oar] fill #000000 at 9.00 10.00 to 10.00 20.00
    blade [blade port oar] fill #000000 at 8.00 20.00 to 11.00 24.00
    ring [ring buoy] fill #000000 at 30.00 20.00 to 50.00 40.00
    left [left wave] fill #000000 at 60.00 30.00 to 65.00 31.00
    again [again left wave] fill #000000 at 70.00 30.00 to 75.00 31.00
    ");
    assert_eq!(drawing.art.elements.last().unwrap().data_piece.as_deref(), Some("sea"));
}

#[test]
fn nothing_is_dropped_in_silence() {
    let drawing = read(
        "<image id='photo' x='1' y='1' width='9' height='9' \
         href='data:image/png;base64,iVBORw0KGgo='/>
         <image width='9' height='9' href='boat.png'/>
         <use id='gone' href='#nowhere'/>
         <use id='far' href='other.svg#boat'/>
         <rect id='flat' width='9' height='0'/>
         <rect id='nosize'/>
         <circle id='dot' r='0'/>
         <path id='void' d=''/>
         <path id='half' d='M1 1h9v9 x'/>
         <g id='layer' display='none'><rect width='9' height='9'/><image href='x.png'/></g>
         <rect id='ghost' visibility='hidden' width='9' height='9'/>
         <rect id='frame' fill='none' width='9' height='9'/>
         <text id='words' x='9' y='9'>row</text>
         <foreignObject width='9' height='9'><p xmlns='http://www.w3.org/1999/xhtml'>hello</p></foreignObject>
         <rect id='wide' width='101.6Q' height='4Q'/>
         <rect id='off' x='200' width='9' height='9'/>
         <rect id='cross' x='95' width='9' height='9'/>
         <polyline id='point' points='3,3'/>",
    );
    insta::assert_snapshot!(told(&drawing), @r#"
    half [half] fill #000000 at 1.00 1.00 to 10.00 10.00
    wide [wide] fill #000000 at 0.00 0.00 to 96.00 3.78
    cross [cross] fill #000000 at 95.00 0.00 to 104.00 9.00
    warning line 2, photo: the picture breaks off: the file is cut short; copy or export it again: left out
    warning line 3, image: it lies in a file beside the drawing, whose folder is not known: left out; embed the picture
    warning line 4, gone: it refers to "nowhere", which is not in the drawing: left out
    warning line 5, far: it refers to another file (other.svg#boat), which is not opened: left out
    warning line 6, flat: its height is not a length above 0: nothing to draw
    warning line 7, nosize: its width is missing: nothing to draw
    warning line 8, dot: its r is not a length above 0: nothing to draw
    warning line 9, void: a path without data: nothing to draw
    warning line 10, half: its path data breaks off at an error: drawn up to there
    note line 11, layer: not displayed (display: none): left out
    note line 12, ghost: hidden (visibility): left out
    note line 13, frame: neither filled nor stroked: left out
    warning line 14, words: no font is installed for this text: left out; install one or turn it into outlines
    warning line 15, foreignObject: <foreignObject> is left out: it is not a shape
    note line 16, wide: the unit Q is read as a quarter of a millimetre
    warning line 17, off: it lies off the page, where nothing is to be seen: left out
    warning line 18, cross: it reaches off the page: cut at the edge
    warning line 19, point: fewer than two points: nothing to draw
    "#);
}

#[test]
fn shades_and_effects_are_named() {
    let drawing = read(
        "<defs><linearGradient id='dawn'><stop stop-color='#f80'/><stop offset='1' \
         stop-color='#08f'/></linearGradient>
         <pattern id='net' width='2' height='2' patternUnits='userSpaceOnUse'><path d='M0 0h1v1z'/></pattern>
         <mask id='fade'><rect width='9' height='9' fill='silver'/></mask>
         <filter id='glow'><feGaussianBlur stdDeviation='2'/></filter></defs>
         <rect id='sky' width='9' height='9' fill='url(#dawn)'/>
         <rect id='fish' width='9' height='9' fill='url(#net)'/>
         <rect id='back' width='9' height='9' fill='url(#net) red'/>
         <rect id='mist' width='9' height='9' mask='url(#fade)'/>
         <g id='lamp' filter='url(#glow)'><rect id='bulb' width='9' height='9'/></g>
         <rect id='lost' width='9' height='9' filter='url(#nothing)'/>
         <rect id='glass' width='9' height='9' fill-opacity='.5'/>
         <rect id='clear' width='9' height='9' opacity='0'/>
         <rect id='mixed' width='9' height='9' style='mix-blend-mode:multiply'/>
         <rect id='wrong' width='9' height='9' fill='url(#absent)'/>",
    );
    insta::assert_snapshot!(told(&drawing), @r#"
    sky [sky] fill #000000 at 0.00 0.00 to 9.00 9.00
    fish [fish] fill #000000 translucent at 0.00 0.00 to 9.00 9.00
    back [back] fill #000000 translucent at 0.00 0.00 to 9.00 9.00
    mist [mist] fill #000000 translucent at 0.00 0.00 to 9.00 9.00
    lamp [lamp bulb] fill #000000 translucent at -0.90 -0.90 to 9.90 9.90
    glass [glass] fill #000000 translucent at 0.00 0.00 to 9.00 9.00
    mixed [mixed] fill #000000 translucent at 0.00 0.00 to 9.00 9.00
    shades line 6, sky: a gradient
    shades line 7, fish: a pattern
    shades line 8, back: a pattern
    shades line 9, mist: a mask of shades lies over it
    shades line 10, lamp: a filter lies over it
    shades line 12, glass: it is translucent
    shades line 14, mixed: its blend mode makes shades of it
    warning line 11, lost: its filter is not in the drawing, and so it is not drawn: left out
    note line 13, clear: its opacity is 0: left out
    warning line 15, wrong: its fill refers to "absent", which is no colour of the drawing
    "#);
}

#[test]
fn clip_paths_confine() {
    let drawing = read(
        "<clipPath id='disc'><circle cx='20' cy='20' r='10'/></clipPath>
         <clipPath id='half' clip-path='url(#disc)' clipPathUnits='objectBoundingBox'><rect width='.5' height='1'/></clipPath>
         <g clip-path='url(#disc)' transform='translate(10 0)'><rect id='a' width='90' height='60'/></g>
         <rect id='b' x='10' y='10' width='20' height='20' clip-path='url(#half)'/>
         <svg x='50' y='10' width='10' height='10' viewBox='0 0 5 5'><rect id='c' x='-9' y='-9' width='90' height='90'/></svg>
         <rect id='d' width='5' height='5' clip-path='url(#none)'/>
         <clipPath id='empty'/><rect id='e' width='5' height='5' clip-path='url(#empty)'/>",
    );
    let boxes: Vec<_> = drawing.art.bounds_of_shapes().into_iter().flatten().collect();
    let near = |i: usize, x0: f64, y0: f64, x1: f64, y1: f64| {
        let off = boxes[i] - kurbo::Insets::ZERO;
        let most = [off.x0 - x0, off.y0 - y0, off.x1 - x1, off.y1 - y1]
            .into_iter()
            .fold(0.0, |m: f64, d| m.max(d.abs()));
        assert!(most < 1e-3, "shape {i}: {:?}", boxes[i]);
    };
    near(0, 20.0, 10.0, 40.0, 30.0);
    near(1, 10.0, 10.0, 20.0, 30.0);
    near(2, 50.0, 10.0, 60.0, 20.0);
    near(3, 0.0, 0.0, 5.0, 5.0);
    insta::assert_snapshot!(told(&drawing), @r#"
    a [a] fill #000000 at 10.00 0.00 to 100.00 60.00
    b [b] fill #000000 at 10.00 10.00 to 30.00 30.00
    c [c] fill #000000 at 32.00 -8.00 to 212.00 172.00
    d [d] fill #000000 at 0.00 0.00 to 5.00 5.00
    warning line 8, e: its clip path ("empty") leaves nothing: left out
    "#);
}

/// A viewport within the drawing cuts in the space that it stands in, however that is turned.
#[test]
fn a_viewport_that_is_turned_cuts_turned() {
    let lifted = "<circle cx='20' cy='10' r='8'/>";
    let symbol = format!("<symbol id='s' viewBox='0 0 20 20'>{lifted}</symbol>");
    let used = "<use href='#s' x='40' y='20' width='20' height='20' transform='rotate(90 40 20)'/>";
    let nested = format!(
        "<g transform='rotate(90 40 20)'><svg x='40' y='20' width='20' height='20'>{lifted}\
         </svg></g>"
    );
    let masked = format!(
        "{symbol}<mask id='m'><g fill='#fff'>{used}</g></mask>
         <rect width='100' height='60' mask='url(#m)'/>"
    );
    for inside in [format!("{symbol}{used}"), nested, masked] {
        let art = read(&inside).art;
        // The box comes to lie between (20, 20) and (40, 40), the middle of the disc at (30, 40).
        for (at, seen) in [((30.0, 39.0), true), ((30.0, 41.0), false), ((30.0, 31.0), false)] {
            let holds = |index: usize| art.shapes[index].path.winding(at.into()) != 0;
            let shown = |index: usize| holds(index) && is_seen(&art, index, at);
            assert_eq!((0..art.shapes.len()).any(shown), seen, "{inside} at {at:?}");
        }
    }
}

#[test]
fn strokes_keep_their_width_dashes_and_pens() {
    let drawing = read(
        "<g fill='none' stroke='black'>
         <path id='plain' d='M0 10h40' stroke-width='2' transform='scale(2)'/>
         <path id='dashed' d='M10 5h10' stroke-dasharray='2 1'/>
         <path id='stretched' d='M10 10h10' stroke-width='2' transform='scale(1 4)'/>
         <path id='dense' d='M0 20h99' stroke-dasharray='1e-6'/></g>",
    );
    let by_id = |id: &str| {
        let art = &drawing.art;
        art.shapes.iter().find(|s| art.elements[s.element].name == id).unwrap()
    };
    assert!((by_id("plain").stroke.as_ref().unwrap().width_mm - 4.0).abs() < 1e-5);
    let area = |id: &str| by_id(id).stroke_area(1e-4).unwrap().area().abs();
    // 40 units long and 2 wide, all twice as large; 7 of 10 mm dashed, 1 wide; 10 long, 2 wide and
    // 4 times that high.
    for (id, expected) in [("plain", 320.0), ("dashed", 7.0), ("stretched", 80.0)] {
        assert!((area(id) - expected).abs() < 1e-3 * expected, "{id}: {}", area(id));
    }
    assert_eq!(by_id("dense").stroke.as_ref().unwrap().dashes, None);
    assert_eq!(drawing.notices.len(), 1, "{:?}", drawing.notices);
    assert_eq!(drawing.notices[0].kind, NoticeKind::Stroke);
}

#[test]
fn style_sheets_markers_and_switches() {
    let drawing = read(
        "<style>.rope{fill:none;stroke:#123} #knot rect{fill:red} .away{display:none}</style>
         <marker id='tip' markerWidth='4' markerHeight='4' orient='auto'><path d='M0 0L4 2L0 4z'/></marker>
         <path id='line' class='rope' d='M10 10h20' marker-end='url(#tip)'/>
         <g id='knot'><rect id='k' width='3' height='3'/></g>
         <rect id='out' class='away' width='3' height='3'/>
         <switch><g systemLanguage='xx'><rect id='foreign' width='1' height='1'/></g><rect id='own' width='2' height='2'/></switch>",
    );
    insta::assert_snapshot!(told(&drawing), @r"
    line [line] stroke #112233 1.00 at 10.00 10.00 to 30.00 10.00
    line [line] fill #000000 at 30.00 10.00 to 34.00 14.00
    k [k knot] fill #ff0000 at 0.00 0.00 to 3.00 3.00
    own [own] fill #000000 at 0.00 0.00 to 2.00 2.00
    note line 6, out: not displayed (display: none): left out
    ");
}

/// What a browser would show otherwise is told, whatever passes over it on the way.
#[test]
fn what_is_drawn_otherwise_is_named() {
    let drawing = read(
        "<style>.a:not(.b){fill:red}</style><style media='print'>.c{fill:blue}</style>
         <rect id='var' width='9' height='9' fill='var(--ink)' style='r:3px;;opacity:1'/>
         <rect id='led' style=' ; fill:#00f' width='9' height='9'/>
         <path id='dots' d='M1 1A5 5 0 0 1 9 9' stroke='red' pathLength='10' marker-mid='url(#m)'
         stroke-dasharray='1 2'/><marker id='m'/>
         <g vector-effect='non-scaling-stroke'><rect id='thin' width='9' height='9'
         vector-effect='non-scaling-stroke' stroke='red'/></g>",
    );
    insta::assert_snapshot!(told(&drawing), @r"
    var [var] fill #000000 at 0.00 0.00 to 9.00 9.00
    led [led] fill #0000ff at 0.00 0.00 to 9.00 9.00
    dots [dots] fill #000000 stroke #ff0000 1.00 at 1.00 -0.66 to 10.66 9.00
    thin [thin] fill #000000 stroke #ff0000 1.00 at 0.00 0.00 to 9.00 9.00
    warning line 2, style: not followed: `.a:not(.b)`; write plain values, and classes or ids, as an editor's plain SVG has them
    warning line 2, style: it is for print, and is applied as any other
    warning line 3, var: its style is not followed in `fill: var(--ink)`, `r: 3px`; write plain values, and classes or ids, as an editor's plain SVG has them
    warning line 5, dots: it reaches off the page: cut at the edge
    warning line 5, dots: its dashes are in lengths of the drawing: pathLength is not followed
    warning line 5, dots: an arc of it may be drawn in parts, with a mark at each: put the marks there as shapes
    warning line 7, thin: its stroke is as wide as its transform makes it: vector-effect is not followed
    ");
}

/// What a reader of SVG passes over, and a browser does not.
#[test]
fn sizes_of_symbols_and_marks_are_as_a_browser_has_them() {
    let whole = "<rect width='10' height='10'/>";
    let symbol = format!(
        "<symbol id='s' viewBox='0 0 10 10' width='20' height='30'>{whole}</symbol>
         <use href='#s' x='5' y='5'/><use href='#s' x='50' y='5' width='10'/>"
    );
    let drawing = read(&symbol);
    let right = |index: usize| drawing.art.shapes[index].path.bounding_box().x1.round();
    assert_eq!((right(0), right(1)), (25.0, 60.0));
    // A box and a disc have no marks.
    let marked = "<marker id='m' overflow='visible'><rect width='9' height='9'/></marker>
         <g marker-start='url(#m)' style='marker-end:url(#m)'><rect id='box' width='20' height='9'/>
         <path id='way' d='M30 9H50' stroke='red'/></g>";
    let drawing = read(marked);
    let of = |name: &str| {
        let own =
            |shape: &&stave_toolpath::art::Shape| drawing.art.elements[shape.element].name == name;
        drawing.art.shapes.iter().filter(own).count()
    };
    assert_eq!((of("box"), of("way")), (1, 3), "{}", told(&drawing));
    // A picture alone, cut by a shape, is not a drawing of definitions.
    let alone = "<clipPath id='c' clipPathUnits='objectBoundingBox'><rect width='.5' height='1'/>\
                 </clipPath><image width='9' height='9' clip-path='url(#c)' href='none.png'/>";
    let kinds: Vec<_> = read(alone).notices.iter().map(|notice| notice.kind).collect();
    assert_eq!(kinds, [NoticeKind::Image]);
    // What an editor keeps for itself in a switch is not what is drawn.
    let kept = "<switch><foreignObject requiredExtensions='x' width='1' height='1'/><g>\
                <rect width='9' height='9'/></g></switch>";
    assert_eq!(read(kept).notices, []);
    assert_eq!(read("<foreignObject width='1' height='1'/>").notices.len(), 1);
}

#[test]
fn ids_used_twice_stay_apart() {
    let drawing = read(
        "<g id='x'><rect width='3' height='3'/></g><g id='x'><rect width='4' height='4'/></g>",
    );
    assert_eq!(drawing.art.groups.len(), 2);
    assert_eq!(drawing.art.pieces(&[]).pieces.len(), 2);
    assert_eq!(drawing.notices[0].kind, NoticeKind::DuplicateId);
}

fn refusal(document: &str) -> SvgError {
    read_svg(document.as_bytes(), &Fonts::None).unwrap_err()
}

/// Whether a point of the page is let through by all clips of a shape.
fn is_seen(art: &Art, shape: usize, at: (f64, f64)) -> bool {
    fn within(art: &Art, clip: usize, at: kurbo::Point) -> bool {
        let inside = |area: &stave_toolpath::art::ClipArea| {
            let winding = area.path.winding(at);
            let is_in = match area.rule {
                stave_toolpath::art::Rule::NonZero => winding != 0,
                stave_toolpath::art::Rule::EvenOdd => winding % 2 != 0,
            };
            is_in && area.clips.iter().all(|&clip| within(art, clip, at))
        };
        art.clips[clip].areas.iter().any(inside)
            && art.clips[clip].within.iter().all(|&clip| within(art, clip, at))
    }
    art.shapes[shape].clips.iter().all(|&clip| within(art, clip, at.into()))
}

/// SVG 1.1, 14.4: what a mask of opaque white lets through whole and black not at all.
#[test]
fn masks_of_white_and_black_are_clips() {
    let drawing = read(
        "<mask id='m' maskUnits='userSpaceOnUse' x='0' y='0' width='40' height='40'>
           <rect x='5' y='5' width='50' height='20' fill='white'/>
           <circle cx='15' cy='15' r='4' fill='#000'/></mask>
         <mask id='a' style='mask-type:alpha' maskUnits='userSpaceOnUse' x='60' y='0' width='40'
           height='40'><path d='M60 0h10v10h-10z' fill='#d9d9d9'/></mask>
         <g mask='url(#m)' transform='translate(2 0)'><rect id='sky' width='60' height='60'/></g>
         <rect id='sea' x='60' width='40' height='40' style='mask:url(#a)'/>",
    );
    assert!(drawing.notices.is_empty(), "{:?}", drawing.notices);
    let art = &drawing.art;
    // The mask is carried along: 2 mm to the right. It ends at 42 mm, where its region does.
    let seen = [((8.0, 6.0), true), ((6.0, 6.0), false), ((17.0, 15.0), false)];
    for (at, is) in seen.into_iter().chain([((41.0, 20.0), true), ((43.0, 20.0), false)]) {
        assert_eq!(is_seen(art, 0, at), is, "{at:?}");
    }
    assert!(is_seen(art, 1, (65.0, 5.0)) && !is_seen(art, 1, (75.0, 5.0)));
}

/// What a mask, a pattern or a filter draws by a `use` is seen in it, and by itself is not.
#[test]
fn what_is_applied_is_seen_with_all_that_it_refers_to() {
    use stave_toolpath::art::Part;
    let seen = |inside: &str, at: (f64, f64)| {
        let drawing = read(inside);
        let shaded = drawing.art.shaded.iter().map(|shaded| (shaded.shape, Part::Fill));
        let parts: Vec<_> = shaded.collect();
        let region = kurbo::Rect::new(0.0, 0.0, 100.0, 60.0);
        let sight =
            Sight { parts: &parts, region, pixel_mm: (1.0, 1.0), invert: false, is_opaque: false };
        let seen = drawing.view.render(&sight).unwrap();
        let (light, there) = seen.raster.between(at.0, at.1);
        there * (1.0 - light) > 0.5
    };
    let disc = "<defs><circle id='q' r='8' fill='#fff'/><circle id='p' r='4'/></defs>";
    let bar = "<path d='M5 50H50' stroke='#fff' stroke-width='4'/>";
    let mask = format!(
        "{disc}<mask id='m'><use href='#q' x='20' y='20'/>{bar}</mask>
         <rect width='100' height='60' mask='url(#m)'/><use href='#p' x='80' y='20'/>"
    );
    assert!(seen(&mask, (20.0, 20.0)) && seen(&mask, (30.0, 50.0)) && !seen(&mask, (40.0, 20.0)));
    // The same disc where nothing picks it.
    assert!(!seen(&mask, (80.0, 20.0)));
    let twice = mask.replace("'#p'", "'#q'").replace("fill='#fff'", "fill='#eee'");
    assert!(seen(&twice, (20.0, 20.0)) && !seen(&twice, (80.0, 20.0)));
    let stands = "<circle id='q' cx='20' cy='20' r='8' fill='#fff'/><mask id='m'><use href='#q'/>
         <path d='M5 50H50' stroke='#fff' stroke-width='4'/></mask>
         <rect width='100' height='60' mask='url(#m)'/>";
    assert!(seen(stands, (20.0, 20.0)));
    let pattern = format!(
        "{disc}<pattern id='t' width='20' height='20' patternUnits='userSpaceOnUse'>
         <use href='#p' x='10' y='10'/></pattern><rect width='100' height='60' fill='url(#t)'/>"
    );
    assert!(seen(&pattern, (50.0, 10.0)) && !seen(&pattern, (60.0, 20.0)));
    let filter = format!(
        "{disc}<filter id='f'><feGaussianBlur stdDeviation='.1'/></filter><g filter='url(#f)'>
         <use href='#p' x='20' y='20'/><path d='M40 20H60' stroke='#000' stroke-width='4'/></g>"
    );
    assert!(seen(&filter, (20.0, 20.0)) && seen(&filter, (50.0, 20.0)));
}

#[test]
fn masks_of_shades_and_css_shapes_are_named() {
    let drawing = read(
        "<mask id='grey'><rect width='9' height='9' fill='#888'/></mask>
         <mask id='thin'><rect width='9' height='9' fill='white' fill-opacity='.5'/></mask>
         <rect id='a' width='9' height='9' mask='url(#grey)'/>
         <rect id='b' width='9' height='9' mask='url(#thin)'/>
         <rect id='c' width='9' height='9' clip-path='circle(2em)'/>
         <rect id='d' width='9' height='9' style='clip-path: star(5)'/>",
    );
    let shades = drawing.shades.iter().map(|shades| &shades.notice);
    let all = shades.chain(&drawing.notices);
    let kinds: Vec<(NoticeKind, &str)> = all.map(|n| (n.kind, n.name.as_str())).collect();
    assert_eq!(
        kinds,
        [
            (NoticeKind::Mask, "a"),
            (NoticeKind::Mask, "b"),
            (NoticeKind::Clip, "c"),
            (NoticeKind::Clip, "d"),
        ]
    );
}

#[test]
fn a_gradient_of_one_colour_is_that_colour_and_others_are_shades() {
    let drawing = read(
        "<linearGradient id='one'><stop stop-color='red'/><stop offset='1' stop-color='red'/></linearGradient>
         <radialGradient id='two'><stop stop-color='white'/><stop offset='1'/></radialGradient>
         <rect id='a' width='9' height='9' fill='url(#one)'/>
         <rect id='b' width='9' height='9' fill='url(#two)'/>
         <path id='c' d='M0 20h9v9' fill='none' stroke='url(#two)'/>",
    );
    insta::assert_snapshot!(told(&drawing), @r"
    a [a] fill #ff0000 at 0.00 0.00 to 9.00 9.00
    b [b] fill #000000 at 0.00 0.00 to 9.00 9.00
    c [c] stroke #000000 1.00 at 0.00 20.00 to 9.00 29.00
    shades line 5, b: a gradient
    shades line 6, c: a gradient
    ");
}

/// Small files that would take hours.
#[test]
fn what_would_never_end_is_refused() {
    let nested = format!(
        "<style>a {}rect {{fill:red}}</style>{}<rect width='9' height='9'/>{}",
        "g ".repeat(12),
        "<g>".repeat(40),
        "</g>".repeat(40)
    );
    let attributes: String = (0..200_000).map(|i| format!(" a{i}='1'")).collect();
    let rules: String = (0..20_000).map(|i| format!(".c{i}{{fill:red}}")).collect();
    let shapes = "<rect width='1' height='1'/>".repeat(15_000);
    let few: String = (0..2000).map(|i| format!(".c{i}{{fill:red}}")).collect();
    for (inside, what) in [
        (nested, "steps of matching style rules"),
        (format!("<rect{attributes}/>"), "pairs of attributes"),
        (format!("<style>{rules}</style>{shapes}"), "bytes of a style sheet"),
        (format!("<style>{few}</style>{shapes}"), "style rules times elements"),
    ] {
        let error = refusal(&document(&inside)).to_string();
        assert!(error.contains("too large") && error.contains(what), "{error}");
    }
    // A quote in a text hides no tag from the count.
    let quoted = format!("<title>a=\" b</title><rect{}/>", &attributes);
    assert!(refusal(&document(&quoted)).to_string().contains("pairs of attributes"));
}

/// SVG 2, 13.5.4: caps make a disc or a square of a subpath without length, dashes too.
#[test]
fn dots_are_kept() {
    let drawing = read(
        "<g fill='none' stroke='#000' stroke-width='2' stroke-linecap='round'>
         <path id='a' d='M5 5h0'/><path id='b' d='M5 5z'/><line id='c' x1='5' y1='5' x2='5' y2='5'/>
         <path id='d' d='M10 10H20' stroke-dasharray='0 4'/></g>",
    );
    let seen = drawing.art.shapes.iter().map(|shape| {
        let area = shape.stroke_area(1e-4).unwrap().area().abs();
        let name = drawing.art.elements[shape.element].name.as_str();
        (name, (area / std::f64::consts::PI).round())
    });
    // The dashes begin at 10, 14 and 18 mm.
    assert_eq!(seen.collect::<Vec<_>>(), [("a", 1.0), ("b", 1.0), ("c", 1.0), ("d", 3.0)]);
    assert!(drawing.art.shapes.iter().all(stave_toolpath::art::Shape::has_dots));
}

/// What headless Chromium 148 shows of these: nothing of the first eight, the rest whole.
#[test]
fn what_has_no_room_is_not_shown() {
    let symbol = "<symbol id='s' viewBox='0 0 9 9'><rect width='9' height='9'/></symbol>";
    let inside = "<rect width='9' height='9'/></svg>";
    let hidden = [
        format!("<svg width='0' height='20'>{inside}"),
        format!("<svg width='20' height='0%'>{inside}"),
        format!("<svg width='-5' height='20'>{inside}"),
        format!("<svg width='9' height='9' viewBox='0 0 0 5'>{inside}"),
        format!("{symbol}<use href='#s' width='0' height='9'/>"),
        "<symbol id='s' width='0' height='9'><rect width='9' height='9'/></symbol><use href='#s'/>"
            .to_owned(),
        format!("<defs><svg id='s' width='0' height='9'>{inside}</defs><use href='#s'/>"),
        format!(
            "<defs><svg id='s' width='9' height='9'>{inside}</defs><use href='#s' height='0'/>"
        ),
    ];
    for inside in &hidden {
        let drawing = read(inside);
        assert!(drawing.art.shapes.is_empty(), "{inside}");
        let told = told(&drawing);
        assert!(told.starts_with("warning line 2, "), "{inside}: {told}");
        assert!(told.ends_with("of it is shown\n") && told.lines().count() == 1, "{told}");
        // What renders drawings sees it neither.
        let both = read(&format!("{inside}<rect id='plain' x='30' width='9' height='9'/>"));
        let sight = Sight {
            parts: &[(0, stave_toolpath::art::Part::Fill)],
            region: kurbo::Rect::new(0.0, 0.0, 20.0, 20.0),
            pixel_mm: (1.0, 1.0),
            invert: false,
            is_opaque: false,
        };
        let seen = both.view.render(&sight).unwrap();
        assert!(seen.raster.between(5.0, 5.0).0 > 0.999, "{inside}");
    }
    for shown in [
        format!("<svg width='0' height='20' overflow='visible'>{inside}"),
        format!("<svg width='9' height='9' viewBox='0 0 -1 5'>{inside}"),
        format!("<defs><svg id='s' width='0' height='9'>{inside}</defs><use href='#s' width='9'/>"),
        "<svg width='0' height='0'><symbol id='s'><rect width='9' height='9'/></symbol></svg>\
         <use href='#s'/>"
            .to_owned(),
        "<rect id='s' width='9' height='9' fill='none'/><use href='#s' width='0' fill='red'/>\
         <circle r='4'/>"
            .to_owned(),
    ] {
        assert_eq!(read(&shown).art.shapes.len(), 1, "{shown}");
    }
}

/// SVG 2, 5.5: a symbol's transform lies within the place of its use.
#[test]
fn a_symbol_is_transformed() {
    let symbol = "<symbol id='s' transform='translate(20 5) rotate(90)' viewBox='0 0 10 10'>\
                  <rect width='8' height='9'/></symbol>";
    let shown = |used: &str| told(&read(&format!("{symbol}<use href='#s' {used}/>")));
    insta::assert_snapshot!(
        shown("x='5' y='20' width='20' height='20' transform='scale(.5)'"),
        @"rect on line 2 [s] fill #000000 at 3.50 12.50 to 12.50 20.50"
    );
    let told = shown("x='10%' y='2' width='20' height='20'");
    assert!(told.contains("the transform of the symbol that it shows is not followed"), "{told}");
}

/// Chromium 148 matches rules within what a use shows; SVG 2, 5.6.2 where the element stands.
#[test]
fn rules_that_look_past_a_use_are_told() {
    let told_of = |sheet: &str| {
        let inside = format!(
            "<style>{sheet}</style><defs><g id='oar'><path/><rect class='b' id='q' width='9' \
             height='9'/></g></defs><use href='#oar'/>"
        );
        let notices = read(&inside).notices;
        let told = notices.into_iter().filter(|notice| notice.kind == NoticeKind::StyleSheet);
        told.map(|notice| notice.name).collect::<Vec<_>>()
    };
    assert_eq!(told_of("defs rect { fill: red }"), ["q"]);
    assert_eq!(told_of("g:first-child { fill: red }"), [""; 0]);
    assert_eq!(told_of("svg > defs > g { stroke: red }"), ["oar"]);
    assert_eq!(told_of("g > rect, #oar .b, .b { fill: red } defs rect { cursor: help }"), [""; 0]);
}

/// What is seen through as one says so, white that knocks out of it among it.
#[test]
fn groups_that_are_seen_through_as_one_are_told() {
    let of = |inside: &str| {
        let shades = read(inside).shades;
        shades.into_iter().map(|one| (one.shape, one.as_one)).collect::<Vec<_>>()
    };
    let (box_, disc) = ("<rect width='9' height='9'/>", "<circle cx='9' cy='9' r='4'/>");
    let hole = "<circle cx='4' cy='4' r='2' fill='#fff'/>";
    let far = "<circle cx='40' cy='4' r='2' fill='#fff'/>";
    assert_eq!(
        of(&format!("<g opacity='.5'>{far}{box_}<g opacity='.5'>{disc}</g>{hole}{far}</g>{box_}")),
        [(1, Some(0)), (2, Some(0)), (3, Some(0))]
    );
    assert_eq!(of(&format!("<g fill-opacity='.5'>{box_}{disc}</g>")), [(0, None), (1, None)]);
    let mask = "<mask id='m'><rect width='60' height='60' fill='#888'/></mask>";
    let masked = of(&format!("{mask}<g mask='url(#m)'>{box_}{disc}</g>{hole}"));
    assert_eq!(masked, [(0, Some(0)), (1, Some(0))]);
}

#[test]
fn a_ground_of_the_page_is_told_wherever_it_is_said() {
    let told_of = |root: &str, sheet: &str| {
        let text = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm' {root}>\
             <style>{sheet}</style><rect width='9' height='9'/></svg>"
        );
        told(&read_whole(&text)).contains("the ground of its page, #333, is not part of the art")
    };
    assert!(told_of("style='background:#333'", ""));
    assert!(told_of("", "svg { background: #333 }"));
    assert!(told_of("class='sheet'", ".sheet { background-color: #333 }"));
    assert!(told_of("", "/* page */ :root { background-color: #333 }"));
    assert!(!told_of("background='#333'", "rect, g > svg { background: #333 }"));
    assert!(!told_of("", "svg { background: white }"));
}

#[test]
fn colours_that_run_in_linear_light_are_told() {
    let linear = "color-interpolation='linearRGB'";
    let used = |how: &str, defs: &str| {
        let drawn = format!("{defs}<rect width='9' height='9' {how}/>");
        told(&read(&drawn)).matches("\"linearRGB\" is not followed").count()
    };
    let gradient = |more: &str| {
        format!(
            "<linearGradient id='g' {more}><stop/><stop offset='1' stop-color='red'/>\
             </linearGradient>"
        )
    };
    let mask =
        |more: &str| format!("<mask id='g' {more}><rect width='9' height='9' fill='#888'/></mask>");
    assert_eq!(used("fill='url(#g)'", &gradient(linear)), 1);
    assert_eq!(used("", &gradient(linear)), 0);
    assert_eq!(used("stroke='url(#g)'", &format!("<g {linear}>{}</g>", gradient(""))), 1);
    assert_eq!(used("mask='url(#g)'", &mask(linear)), 1);
    assert_eq!(used("mask='url(#g)'", &mask("")), 0);
}

/// Compositing and Blending Level 1, 5: over nothing a shape is as it is without its blend mode.
#[test]
fn a_blend_mode_over_the_bare_page_changes_nothing() {
    let dark = |inside: &str| {
        let drawing = read(inside);
        let shape = drawing.art.shapes.len() - 1;
        let sight = Sight {
            parts: &[(shape, stave_toolpath::art::Part::Fill)],
            region: kurbo::Rect::new(0.0, 0.0, 9.0, 9.0),
            pixel_mm: (1.0, 1.0),
            invert: false,
            is_opaque: false,
        };
        drawing.view.render(&sight).unwrap().raster.between(4.5, 4.5).0
    };
    let grey = "<rect width='9' height='9' fill='#888'";
    let plain = dark(&format!("{grey}/>"));
    for mode in ["screen", "multiply", "difference", "color-dodge"] {
        let alone = dark(&format!("{grey} style='mix-blend-mode:{mode}'/>"));
        assert!((alone - plain).abs() < 1e-6, "{mode}: {alone} for {plain}");
    }
    let over = dark(&format!("{grey}/>{grey} style='mix-blend-mode:multiply'/>"));
    assert!(over < 0.6 * plain, "{over} under {plain}");
}

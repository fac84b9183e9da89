use std::fmt::Write as _;

use kurbo::Shape as _;

use super::*;

/// Reads what stands within an `svg` of 100 by 60 mm, one unit a mm.
fn read(inside: &str) -> Drawing {
    read_whole(&document(inside))
}

fn document(inside: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' width='100mm' \
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
        writeln!(out, " at {:.2} {:.2} to {:.2} {:.2}", b.x0 + 0.0, b.y0 + 0.0, b.x1 + 0.0, b.y1 + 0.0)
            .unwrap();
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
    insta::assert_snapshot!(told(&drawing), @"");
}

#[test]
fn transforms_uses_and_symbols() {
    let drawing = read(
        "<defs><g id='oar'><path id='loom' d='M0 0h10v1h-10z'/><rect id='blade' x='10' y='-1' width='4' height='3'/></g>
         <symbol id='buoy' viewBox='0 0 10 10'><circle id='ring' cx='5' cy='5' r='5'/></symbol>
         <path id='wave' d='M0 0h5v1z'/></defs>
         <use id='port' href='#oar' transform='translate(10 10) rotate(90)'/>
         <use xlink:href='#buoy' x='30' y='20' width='20' height='20' overflow='visible'/>
         <use id='left' href='#wave' x='60' y='30' data-piece='sea'/>
         <use id='again' href='#left' x='10'/>",
    );
    insta::assert_snapshot!(told(&drawing), @"");
    assert_eq!(drawing.art.elements.last().unwrap().data_piece.as_deref(), Some("sea"));
}

#[test]
fn nothing_is_dropped_in_silence() {
    let drawing = read(
        "<image id='photo' x='1' y='1' width='9' height='9' href='data:image/png;base64,iVBORw0KGgo='/>
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
    insta::assert_snapshot!(told(&drawing), @"");
}

#[test]
fn shades_and_effects_are_named() {
    let drawing = read(
        "<defs><linearGradient id='dawn'><stop stop-color='#f80'/><stop offset='1' stop-color='#08f'/></linearGradient>
         <pattern id='net' width='2' height='2' patternUnits='userSpaceOnUse'><path d='M0 0h1v1z'/></pattern>
         <mask id='fade'><rect width='9' height='9' fill='white'/></mask>
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
    insta::assert_snapshot!(told(&drawing), @"");
}

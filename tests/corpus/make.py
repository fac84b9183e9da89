#!/usr/bin/env python3
"""Makes the corpus: drawings of one feature of SVG 1.1 or SVG 2 each.

    python3 tests/corpus/make.py

Writes `drawings/*.svg`, and `table.tsv` with a row for each: its name; what is demanded of it (the
share of points away from edges that must agree with an outside renderer; or the element that is
named as left out; or that which is shades, left out by an operation for plain areas and agreeing
where one cuts them or burns them as a picture); and, where the renderer does not know the feature, the drawing in
`meant/*.svg` that shows what is meant. All of it is made up here.
"""

import base64
import math
import shutil
import struct
import zlib
from pathlib import Path

HERE = Path(__file__).parent
HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'id="all" width="24mm" height="24mm" viewBox="0 0 24 24"{more}>\n'
)
AGREE = "0.995"
rows = []


def whole(body, more="", head=HEAD):
    return head.format(more=more) + body.strip() + "\n</svg>\n"


def draw(name, body, more="", head=HEAD, meant=None, demand=AGREE):
    assert name not in {row[0] for row in rows}, name
    (HERE / "drawings" / f"{name}.svg").write_text(whole(body, more, head))
    if meant is not None:
        (HERE / "meant" / f"{name}.svg").write_text(whole(meant))
    rows.append((name, demand, "meant" if meant is not None else ""))


def left_out(name, kind, body, more=""):
    draw(name, body, more, demand=f"left-out:{kind}")


def shades(name, body, element="it", more=""):
    draw(name, body, more, demand=f"shades:{element}")


def png(columns, rows, pixel):
    """A data URL of a PNG of red, green, blue and cover (ISO/IEC 15948)."""
    data = b"".join(
        b"\0" + bytes(part for x in range(columns) for part in pixel(x, y)) for y in range(rows)
    )

    def chunk(kind, inside):
        body = kind + inside
        return struct.pack(">I", len(inside)) + body + struct.pack(">I", zlib.crc32(body))

    header = struct.pack(">IIBBBBB", columns, rows, 8, 6, 0, 0, 0)
    file = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(data, 9)) + chunk(b"IEND", b"")
    return "data:image/png;base64," + base64.b64encode(file).decode()


def shapes():
    for name, attributes in {
        "plain": "x='3' y='4' width='15' height='9'",
        "rx": "x='3' y='4' width='15' height='9' rx='3'",
        "ry": "x='3' y='4' width='15' height='9' ry='2'",
        "rx-ry": "x='3' y='4' width='15' height='12' rx='5' ry='2'",
        "rx-too-large": "x='3' y='4' width='15' height='9' rx='40'",
        "rx-ry-too-large": "x='3' y='4' width='15' height='9' rx='40' ry='3'",
        "rx-auto": "x='3' y='4' width='15' height='9' rx='auto' ry='3'",
        "percent": "x='10%' y='20%' width='50%' height='25%'",
        "at-origin": "width='9' height='9'",
        "style-geometry": "style='x:2px;y:3px;width:9px;height:8px' x='2' y='3' width='9' height='8'",
    }.items():
        draw(f"rect-{name}", f"<rect {attributes}/>")
    for name, attributes in {
        "plain": "cx='12' cy='11' r='8'",
        "at-corner": "cx='0' cy='0' r='12'",
        "percent": "cx='50%' cy='50%' r='25%'",
        "small": "cx='12' cy='12' r='1'",
    }.items():
        draw(f"circle-{name}", f"<circle {attributes}/>")
    for name, attributes in {
        "plain": "cx='12' cy='11' rx='10' ry='5'",
        "rx-auto": "cx='12' cy='11' rx='auto' ry='5'",
        "ry-auto": "cx='12' cy='11' rx='6'",
        "thin": "cx='12' cy='12' rx='11' ry='1'",
    }.items():
        draw(f"ellipse-{name}", f"<ellipse {attributes}/>")
    draw("line", "<line x1='2' y1='3' x2='20' y2='19' stroke='#000' stroke-width='3'/>")
    draw("line-percent", "<line x1='10%' y1='0' x2='90%' y2='100%' stroke='#000' stroke-width='2'/>")
    draw("line-fill-only", "<line x1='2' y1='3' x2='20' y2='19'/><rect width='5' height='5'/>")
    draw("polyline-filled", "<polyline points='2,2 20,4 12,20'/>")
    draw("polyline-stroked", "<polyline points='2 2 20 4 12 20 4 12' fill='none' stroke='#00f' stroke-width='2'/>")
    draw("polygon", "<polygon points='2,2 20,4 12,20'/>")
    draw("polygon-stroked", "<polygon points='3,3 20,4 12,20' fill='none' stroke='#00f' stroke-width='2'/>")
    draw("polygon-odd-number", "<polygon points='2,2 20,4 12,20 7'/>")
    draw("polygon-no-commas", "<polygon points='2-2 20 4 12 20'/>")


def paths():
    for name, d in {
        "m-l": "M3 3L20 5L12 20Z",
        "m-l-relative": "m3 3l17 2l-8 15z",
        "implicit-l": "M3 3 20 5 12 20Z",
        "implicit-l-relative": "m3 3 17 2 -8 15z",
        "h-v": "M3 3H20V18H3Z",
        "h-v-relative": "m3 3h17v15h-17z",
        "h-many": "M3 3H10 20V8 18H3Z",
        "c": "M2 12C2 0 22 0 22 12C22 24 2 24 2 12Z",
        "c-relative": "m2 12c0-12 20-12 20 0c0 12-20 12-20 0z",
        "c-many": "M2 12C2 0 22 0 22 12 22 24 2 24 2 12Z",
        "s": "M2 12C2 4 8 2 12 8S22 20 22 12V22H2Z",
        "s-relative": "m2 12c0-8 6-10 10-4s10 12 10 4v10h-20z",
        "s-after-l": "M2 12L6 12S20 2 22 12V22H2Z",
        "q": "M2 20Q12 -8 22 20Z",
        "q-relative": "m2 20q10-28 20 0z",
        "t": "M2 12Q7 2 12 12T22 12V22H2Z",
        "t-relative": "m2 12q5-10 10 0t10 0v10h-20z",
        "t-after-l": "M2 12L6 8T20 12V22H2Z",
        "a": "M4 12A8 8 0 0 1 20 12Z",
        "a-relative": "m4 12a8 8 0 0 1 16 0z",
        "a-large": "M8 6A8 8 0 1 0 16 6Z",
        "a-small": "M8 6A8 8 0 0 0 16 6Z",
        "a-sweep": "M8 6A8 8 0 1 1 16 6Z",
        "a-turned": "M4 14A9 4 30 0 1 20 12Z",
        "a-turned-large": "M9 10A8 4 45 1 1 14 12Z",
        "a-too-small": "M4 12A2 2 0 0 1 20 12Z",
        "a-flags-together": "M4 12A8 8 0 0120 12Z",
        "a-flags-and-number": "m4 12a8 8 0 01.5-3l15 4z",
        "a-no-radius": "M4 12A0 5 0 0 1 20 12L12 20Z",
        "a-negative-radius": "M4 12A-8 -8 0 0 1 20 12Z",
        "a-many": "M4 12A4 4 0 0 1 12 12 4 4 0 0 1 20 12V20H4Z",
        "two-subpaths": "M2 2H9V9H2ZM12 12H22V20H12Z",
        "two-subpaths-relative": "m2 2h7v7h-7zm10 10h10v8h-10z",
        "after-close": "M2 2H9V9H2Zl0 12 8 0z",
        "open": "M3 3H20V18",
        "numbers-without-blanks": "M3 3l.5.5 17-1-8 15z",
        "numbers-exponent": "M3e0 30e-1L2e1 5L1.2e1 20Z",
        "numbers-signs": "M+3+3L+20+5-1+20Z",
        "commas": "M3,3,L20,5,12,20Z".replace(",L", "L"),
        "line-breaks": "M 3\n3\tL 20 5\nL 12 20\nZ",
        "error-behind": "M3 3H20V18H3Z L",
        "move-only": "M3 3M3 3H20V18H3Z",
        "self-crossing": "M2 8H22L5 21L12 2L19 21Z",
        "degenerate-curve": "M2 2C2 2 22 2 22 2L12 20Z",
    }.items():
        draw(f"path-{name}", f"<path d='{d}'/>")


STAR = "M12 1L18 21L2 8H22L6 21Z"
RINGS = "M2 2H22V22H2ZM6 6H18V18H6Z"
RINGS_BACK = "M2 2H22V22H2ZM6 6V18H18V6Z"


def fills():
    for rule in ("nonzero", "evenodd"):
        draw(f"fill-rule-star-{rule}", f"<path d='{STAR}' fill-rule='{rule}'/>")
        draw(f"fill-rule-rings-{rule}", f"<path d='{RINGS}' fill-rule='{rule}'/>")
        draw(f"fill-rule-rings-back-{rule}", f"<path d='{RINGS_BACK}' fill-rule='{rule}'/>")
        draw(f"fill-rule-inherited-{rule}", f"<g fill-rule='{rule}'><path d='{STAR}'/></g>")
    box = "<rect x='3' y='3' width='14' height='14' {}/>"
    for name, paint in {
        "name": "navy",
        "hex-3": "#036",
        "hex-6": "#003366",
        "hex-4": "#036f",
        "hex-8": "#003366ff",
        "rgb": "rgb(0, 51, 102)",
        "rgb-percent": "rgb(0%, 20%, 40%)",
        "rgba": "rgba(0, 51, 102, 1)",
        "hsl": "hsl(210, 100%, 20%)",
        "upper-case": "NAVY",
        "none": "none",
        "transparent": "transparent",
        "white": "white",
        "near-white": "#feffff",
        "near-white-2": "#fffffe",
        "light-grey": "#ccc",
        "yellow": "yellow",
    }.items():
        draw(f"fill-{name}", box.format(f"fill='{paint}'") + "<path d='M19 19h4v4h-4z'/>")
    draw("fill-current-colour", "<g color='#123'>" + box.format("fill='currentColor'") + "</g>")
    draw("fill-inherited", "<g fill='#123'>" + box.format("") + "</g>")
    draw("fill-inherit-word", "<g fill='none'>" + box.format("fill='inherit'") + "<rect width='3' height='3' fill='red'/></g>")
    draw("fill-missing-with-fallback", box.format("fill='url(#no) #123'"))
    shades("fill-opacity", box.format("id='it' fill-opacity='.4'"))
    draw("fill-opacity-0", box.format("fill-opacity='0'") + "<rect width='3' height='3'/>")
    shades("fill-opacity-percent", box.format("id='it' fill-opacity='40%'"))
    shades("opacity", box.format("id='it' opacity='.4'"))
    shades("opacity-group", "<g opacity='.5'>" + box.format("id='it'") + "</g>")
    draw("opacity-0", box.format("opacity='0'") + "<rect width='3' height='3'/>")
    shades("rgba-half", box.format("id='it' fill='rgba(0,0,0,.5)'"))
    stops = "<stop stop-color='#123'/><stop offset='1' stop-color='#123'/>"
    draw("gradient-of-one-colour", f"<linearGradient id='g'>{stops}</linearGradient>" + box.format("fill='url(#g)'"))
    draw("gradient-of-one-stop", "<linearGradient id='g'><stop stop-color='#123'/></linearGradient>" + box.format("fill='url(#g)'"))
    draw("gradient-white", "<radialGradient id='g'><stop stop-color='#fff'/><stop offset='1' stop-color='#fff'/></radialGradient><rect width='24' height='12'/>" + box.format("fill='url(#g)'"))


def covers():
    black = "<rect x='2' y='2' width='20' height='20'/>"
    for name, over in {
        "white-hole": "<circle cx='12' cy='12' r='6' fill='#fff'/>",
        "near-white-hole": "<circle cx='12' cy='12' r='6' fill='#feffff'/>",
        "grey-over": "<circle cx='12' cy='12' r='6' fill='#888'/>",
        "white-translucent": "<circle cx='12' cy='12' r='6' fill='#fff' opacity='.5'/>",
        "white-stroke": "<path d='M0 12H24' stroke='#fff' stroke-width='5'/>",
        "white-then-black": "<circle cx='12' cy='12' r='8' fill='#fff'/><circle cx='12' cy='12' r='4'/>",
        "white-ring": "<circle cx='12' cy='12' r='6' fill='none' stroke='#fff' stroke-width='3'/>",
        "white-dashes": "<path d='M2 12H22' stroke='#fff' stroke-width='5' stroke-dasharray='4 3'/>",
        "white-evenodd": f"<path d='{STAR}' fill='#fff' fill-rule='evenodd'/>",
        "white-nonzero": f"<path d='{STAR}' fill='#fff'/>",
        "white-hidden": "<circle cx='12' cy='12' r='6' fill='#fff' visibility='hidden'/>",
        "white-transparent": "<circle cx='12' cy='12' r='6' fill='#fff' fill-opacity='0'/>",
        "white-clipped": "<clipPath id='c'><rect width='12' height='24'/></clipPath><circle cx='12' cy='12' r='6' fill='#fff' clip-path='url(#c)'/>",
        "white-line-only-fill": "<path d='M4 4L20 20' fill='#fff'/>",
        "white-bevel": "<path d='M4 20L12 4L20 20' fill='none' stroke='#fff' stroke-width='4' stroke-linejoin='bevel'/>",
    }.items():
        draw(f"over-{name}", black + over)
    draw("under-white", "<rect width='24' height='24' fill='#fff'/>" + "<circle cx='12' cy='12' r='6'/>")
    draw("many-layers", "".join(
        f"<circle cx='12' cy='12' r='{11 - k}' fill='{'#000' if k % 2 == 0 else '#fff'}'/>" for k in range(0, 10, 2)
    ) + "<circle cx='12' cy='12' r='3' fill='#fff'/>")


def strokes():
    corner = "<path d='M4 19L12 5L20 19' fill='none' stroke='#000' stroke-width='{}' {}/>"
    for width in (1, 2, 4):
        draw(f"stroke-width-{width}", corner.format(width, ""))
    draw("stroke-width-percent", corner.format("10%", ""))
    draw("stroke-width-mm", corner.format("3mm", "").replace("M4 19L12 5L20 19", "M9 19L12 9L16 19"))
    for cap in ("butt", "round", "square"):
        draw(f"stroke-linecap-{cap}", corner.format(4, f"stroke-linecap='{cap}'"))
        draw(f"stroke-linecap-dot-{cap}", f"<path d='M12 12h0' stroke='#000' stroke-width='9' stroke-linecap='{cap}'/><rect width='3' height='3'/>")
        draw(f"stroke-linecap-dot-closed-{cap}", f"<path d='M12 12z' stroke='#000' stroke-width='9' stroke-linecap='{cap}'/><rect width='3' height='3'/>")
        draw(f"stroke-dasharray-dots-{cap}", f"<path d='M3 12H22' stroke='#000' stroke-width='4' stroke-linecap='{cap}' stroke-dasharray='0 6'/><rect width='3' height='3'/>")
        draw(f"stroke-dasharray-{cap}", f"<path d='M2 12H22' stroke='#000' stroke-width='3' stroke-linecap='{cap}' stroke-dasharray='5 6'/>")
    for join in ("miter", "round", "bevel"):
        draw(f"stroke-linejoin-{join}", corner.format(5, f"stroke-linejoin='{join}'"))
        # Pieces shorter than the pen is wide: the inner edges of the corners cross.
        draw(f"stroke-linejoin-small-square-{join}", f"<path d='M12 11.9h.3v.3H12Z' fill='none' stroke='#000' stroke-width='14' stroke-linejoin='{join}'/>")
        draw(f"stroke-linejoin-hairpin-{join}", f"<path d='M3 11L17 11.5L3 12' fill='none' stroke='#000' stroke-width='6' stroke-linejoin='{join}'/>")
        draw(f"stroke-linejoin-zigzag-{join}", f"<path d='M5 8l2 2 -1 2 3 0 -1 3 4 -1 1 3 1 -3' fill='none' stroke='#000' stroke-width='6' stroke-linejoin='{join}'/>")
        draw(f"stroke-linejoin-closed-{join}", f"<path d='M5 18L12 6L19 18Z' fill='none' stroke='#000' stroke-width='4' stroke-linejoin='{join}'/>")
    for limit in (1, 2, 10):
        draw(f"stroke-miterlimit-{limit}", corner.format(4, f"stroke-miterlimit='{limit}'"))
    ring = "<rect x='4' y='4' width='16' height='16' fill='none' stroke='#000' stroke-width='2' {}/>"
    for name, dashes in {
        "one": "4",
        "two": "6 3",
        "three": "6 3 2",
        "commas": "6,3",
        "percent": "20% 10%",
        "zeros": "0 0",
        "negative": "4 -2",
        "none": "none",
        "longer-than-path": "400 1",
        "mm": "1.5mm 1mm",
    }.items():
        draw(f"stroke-dasharray-of-{name}", ring.format(f"stroke-dasharray='{dashes}'"))
    for offset in ("3", "-3", "20", "50%"):
        draw(f"stroke-dashoffset-{offset.strip('%').replace('-', 'minus-')}", ring.format(f"stroke-dasharray='6 4' stroke-dashoffset='{offset}'"))
    draw("stroke-dashes-on-circle", "<circle cx='12' cy='12' r='8' fill='none' stroke='#000' stroke-width='3' stroke-dasharray='5 4'/>")
    draw("stroke-and-fill", "<circle cx='12' cy='12' r='7' fill='#888' stroke='#000' stroke-width='4'/>")
    draw("stroke-white-over-fill", "<circle cx='12' cy='12' r='7' stroke='#fff' stroke-width='4'/>")
    for order in ("normal", "stroke", "markers stroke", "fill stroke"):
        draw(f"paint-order-{order.replace(' ', '-')}", f"<circle cx='12' cy='12' r='7' stroke='#fff' stroke-width='5' paint-order='{order}'/>")
    shades("stroke-opacity", ring.format("id='it' stroke-opacity='.5'"))
    draw("stroke-opacity-0", ring.format("stroke-opacity='0'") + "<rect width='3' height='3'/>")
    draw("stroke-none", ring.format("").replace("stroke='#000'", "stroke='none'") + "<rect width='3' height='3'/>")
    draw("stroke-width-0", ring.format("").replace("stroke-width='2'", "stroke-width='0'") + "<rect width='3' height='3'/>")
    draw("stroke-inherited", "<g stroke='#000' stroke-width='3' fill='none'><path d='M3 12H21'/></g>")
    draw("stroke-curve", "<path d='M3 20C3 -4 21 28 21 4' fill='none' stroke='#000' stroke-width='4'/>")
    draw("stroke-tight-curve", "<path d='M6 20C6 0 18 0 18 20' fill='none' stroke='#000' stroke-width='8'/>")
    draw("stroke-arc", "<path d='M4 12A8 8 0 0 1 20 12' fill='none' stroke='#000' stroke-width='4'/>")
    draw("stroke-there-and-back", "<path d='M4 12H20H8' fill='none' stroke='#000' stroke-width='4'/>")
    for name, transform in {
        "scale": "scale(2)",
        "scale-across": "scale(3 1)",
        "scale-down": "scale(1 3)",
        "skew": "skewX(40)",
        "turned-and-scaled": "rotate(30 6 6) scale(2 .7)",
        "mirrored": "translate(12 0) scale(-1 1)",
    }.items():
        draw(f"stroke-under-{name}", f"<g transform='{transform}'><path d='M2 2H6V6' fill='none' stroke='#000' stroke-width='1.4'/></g>")
        draw(f"stroke-round-under-{name}", f"<g transform='{transform}'><path d='M2 2L6 4L3 6' fill='none' stroke='#000' stroke-width='1.4' stroke-linecap='round' stroke-linejoin='round'/></g>")


def transforms():
    mark = "<path d='M2 2h6v2h-4v6h-2z'/>"
    for name, value in {
        "translate": "translate(6 8)",
        "translate-x": "translate(6)",
        "translate-commas": "translate(6,8)",
        "scale": "scale(2)",
        "scale-two": "scale(2 1.5)",
        "scale-mirror": "translate(20 0) scale(-1 1)",
        "rotate": "translate(12 4) rotate(45)",
        "rotate-about": "rotate(90 8 8)",
        "skew-x": "skewX(30)",
        "skew-y": "skewY(30)",
        "matrix": "matrix(1 .5 -.5 1 8 3)",
        "list": "translate(12 12) rotate(-30) scale(1.3)",
        "list-commas": "translate(12 12), rotate(-30), scale(1.3)",
        "not-invertible": "scale(0)",
    }.items():
        draw(f"transform-{name}", f"<g transform='{value}'>{mark}</g><rect x='20' y='20' width='4' height='4'/>")
    draw("transform-nested", f"<g transform='translate(12 12)'><g transform='rotate(180)'><g transform='scale(.8)'>{mark}</g></g></g>")
    draw("transform-on-shape", "<rect x='2' y='2' width='8' height='4' transform='rotate(30)'/>")
    draw("transform-style", "<rect x='2' y='2' width='8' height='4' style='transform:rotate(30deg)'/>")
    draw("transform-origin", "<rect x='6' y='6' width='12' height='6' transform='rotate(45)' transform-origin='12 12'/>")
    draw("transform-of-root", mark, more=" transform='rotate(10)'")


def structure():
    leaf = "<path d='M0 0h6v3h-3v3h-3z'/>"
    draw("group", f"<g>{leaf}</g>")
    draw("group-of-groups", f"<g><g><g>{leaf}</g></g></g>")
    draw("anchor", f"<a href='#x'>{leaf}</a>")
    draw("use", f"<defs><g id='l'>{leaf}</g></defs><use href='#l' x='9' y='9'/>")
    draw("use-xlink", f"<defs><g id='l'>{leaf}</g></defs><use xlink:href='#l' x='9' y='9'/>")
    draw("use-twice", f"<g id='l'>{leaf}</g><use href='#l' x='9'/><use href='#l' y='9'/>")
    draw("use-of-use", f"<defs><g id='l'>{leaf}</g><use id='m' href='#l' x='9'/></defs><use href='#m' y='9'/>")
    draw("use-transform", f"<defs><g id='l'>{leaf}</g></defs><use href='#l' transform='rotate(45)' x='9'/>")
    draw("use-paint", "<defs><path id='l' d='M0 0h9v9z'/></defs><use href='#l' fill='#fff' x='3'/><use href='#l' fill='#00f' x='9' y='9'/>")
    draw("use-of-later", f"<use href='#l' x='9' y='9'/><defs><g id='l'>{leaf}</g></defs>")
    draw("use-missing", f"<use href='#no'/>{leaf}")
    draw("use-stroke-inherited", "<defs><path id='l' d='M2 2h9v9' fill='none' stroke-width='2'/></defs><use href='#l' stroke='#000' x='3'/>")
    draw("symbol", f"<symbol id='s'>{leaf}</symbol><use href='#s' x='4' y='6'/>")
    draw("symbol-view-box", f"<symbol id='s' viewBox='0 0 6 6'>{leaf}</symbol><use href='#s' x='4' y='6' width='12' height='12'/>")
    draw("symbol-view-box-shape", f"<symbol id='s' viewBox='0 0 6 6'>{leaf}</symbol><use href='#s' width='20' height='10'/>")
    draw("symbol-cut", "<symbol id='s' viewBox='0 0 6 6'><circle r='5'/></symbol><use href='#s' x='4' y='4' width='12' height='12'/>")
    draw("symbol-overflow", "<symbol id='s' viewBox='0 0 6 6' overflow='visible'><circle r='3'/></symbol><use href='#s' x='9' y='9' width='12' height='12'/>")
    draw("nested-svg", f"<svg x='6' y='6'>{leaf}</svg>")
    draw("nested-svg-view-box", f"<svg x='6' y='6' width='12' height='12' viewBox='0 0 6 6'>{leaf}</svg>")
    draw("nested-svg-cut", "<svg x='6' y='6' width='9' height='9'><circle r='8'/></svg>")
    draw("nested-svg-overflow", "<svg x='9' y='9' width='9' height='9' overflow='visible'><circle r='8'/></svg>")
    aspect = "<svg x='2' y='2' width='{}' height='{}' viewBox='0 0 6 6' preserveAspectRatio='{}'>" + leaf + "</svg>"
    for x in ("xMin", "xMid", "xMax"):
        for y in ("YMin", "YMid", "YMax"):
            draw(f"aspect-{x}{y}", aspect.format(20, 10, f"{x}{y}"))
            draw(f"aspect-{x}{y}-slice", aspect.format(20, 10, f"{x}{y} slice"))
            draw(f"aspect-{x}{y}-tall", aspect.format(8, 20, f"{x}{y}"))
    draw("aspect-none", aspect.format(20, 10, "none"))
    draw("root-no-view-box", leaf, head=HEAD.replace(' viewBox="0 0 24 24"', ""))
    draw("root-view-box-off", "<path d='M-9 -9h12v6h-6v6h-6z'/>", head=HEAD.replace("0 0 24 24", "-12 -12 24 24"))
    draw("root-view-box-scaled", "<path d='M10 10h120v60h-60v60h-60z'/>", head=HEAD.replace("0 0 24 24", "0 0 240 240"))
    draw("root-aspect", "<path d='M1 1h10v4h-4v4h-6z'/>", head=HEAD.replace("0 0 24 24", "0 0 12 24"))
    draw("root-aspect-none", "<path d='M1 1h10v4h-4v4h-6z'/>", more=" preserveAspectRatio='none'", head=HEAD.replace("0 0 24 24", "0 0 12 24"))
    draw("root-px", "<path d='M10 10h60v30h-30v30h-30z'/>", head=HEAD.replace("24mm", "90.7087").replace(' viewBox="0 0 24 24"', ""))
    draw("root-inches", leaf, head=HEAD.replace("24mm", "0.944882in"))
    draw("root-no-size", "<path d='M10 10h60v30h-30v30h-30z'/>", head=HEAD.replace(' width="24mm" height="24mm"', "").replace("0 0 24 24", "0 0 90.7087 90.7087"))
    for name, child in {
        "first": "<g>{a}</g><g>{b}</g>",
        "language": "<g systemLanguage='xx'>{b}</g><g systemLanguage='en'>{a}</g>",
        "extension": "<g requiredExtensions='urn:none'>{b}</g><g>{a}</g>",
    }.items():
        b = "<rect width='20' height='20'/>"
        draw(f"switch-{name}", "<switch>" + child.format(a=leaf, b=b) + "</switch>")
    draw("display-none", f"<g display='none'><rect width='20' height='20'/></g>{leaf}")
    draw("display-none-style", f"<g style='display:none'><rect width='20' height='20'/></g>{leaf}")
    draw("visibility-hidden", f"<rect width='20' height='20' visibility='hidden'/>{leaf}")
    draw("visibility-shown-within", f"<g visibility='hidden'><rect width='20' height='20'/><g visibility='visible'>{leaf}</g></g>")
    draw("visibility-collapse", f"<rect width='20' height='20' visibility='collapse'/>{leaf}")
    draw("off-the-page", f"<rect x='18' y='-4' width='20' height='12'/>{leaf}")
    draw("title-and-desc", f"<title>leaf</title><desc>a leaf</desc>{leaf}")
    draw("comments-and-cdata", f"<!-- <rect width='20' height='20'/> -->{leaf}")
    draw("other-namespace", f"<o:rect xmlns:o='urn:o' width='20' height='20'/>{leaf}")
    draw("entity", "&leaf;", head='<!DOCTYPE svg [<!ENTITY leaf "<path d=\'M1 1h9v9z\'/>">]>\n' + HEAD)


def styles():
    box = "<rect {} x='3' y='3' width='12' height='12'/><rect x='18' y='18' width='4' height='4'/>"
    for name, (sheet, attributes) in {
        "class": (".w{fill:#fff}", "class='w'"),
        "two-classes": (".a.b{fill:#fff}", "class='a b'"),
        "id": ("#w{fill:#fff}", "id='w'"),
        "element": ("rect{fill:#00f}", ""),
        "all": ("*{fill:#00f}", ""),
        "selector-attribute": ("[width='12']{fill:#fff}", ""),
        "first-child": ("rect:first-child{fill:#00f}", ""),
        "list": (".x, .w{fill:#fff}", "class='w'"),
        "beats-attribute": (".w{fill:#fff}", "class='w' fill='#000'"),
        "beaten-by-style": (".w{fill:#fff}", "class='w' style='fill:#000'"),
        "important": (".w{fill:#fff !important}", "class='w' style='fill:#000'"),
        "id-beats-class": ("#w{fill:#fff}.v{fill:#000}", "id='w' class='v'"),
        "later-wins": (".w{fill:#000}.w{fill:#fff}", "class='w'"),
        "stroke": (".w{fill:none;stroke:#000;stroke-width:3px}", "class='w'"),
        "comment": ("/* .w{fill:#f00} */ .w{fill:#fff}", "class='w'"),
        "dashes": (".w{fill:none;stroke:#000;stroke-width:2;stroke-dasharray:4,3}", "class='w'"),
        "display": (".w{display:none}", "class='w'"),
    }.items():
        draw(f"style-{name}", f"<style>{sheet}</style>" + box.format(attributes))
    shades("style-opacity", "<style>.w{opacity:.5}</style>" + box.format("id='it' class='w'"))
    draw("style-descendant", "<style>g rect{fill:#fff}</style><g>" + box.format("") + "</g><path d='M0 20h9v4z'/>")
    draw("style-child", "<style>g>rect{fill:#fff}</style><g>" + box.format("") + "</g><path d='M0 20h9v4z'/>")
    draw("style-cdata", "<style><![CDATA[.w{fill:#fff}]]></style>" + box.format("class='w'"))
    draw("style-type", "<style type='text/css'>.w{fill:#fff}</style>" + box.format("class='w'"))
    draw("style-attribute", box.format("style='fill:none;stroke:#000;stroke-width:2'"))
    draw("style-after", box.format("class='w'") + "<style>.w{fill:#fff}</style>")


def clips():
    sky = "<rect width='24' height='24' clip-path='url(#c)'/>"
    for name, inside in {
        "circle": "<circle cx='12' cy='12' r='9'/>",
        "path": f"<path d='{STAR}'/>",
        "two-shapes": "<circle cx='8' cy='12' r='6'/><circle cx='16' cy='12' r='6'/>",
        "evenodd": f"<path d='{STAR}' clip-rule='evenodd'/>",
        "transform": "<rect width='8' height='8' transform='rotate(30) translate(8 2)'/>",
        "use": "<use href='#o' x='4'/>",
        "stroke-does-not-count": "<circle cx='12' cy='12' r='6' stroke='#000' stroke-width='8'/>",
        "white-counts": "<circle cx='12' cy='12' r='6' fill='#fff'/>",
        "hidden-child": "<circle cx='12' cy='12' r='6'/><rect width='24' height='24' visibility='hidden'/>",
        "no-display-child": "<circle cx='12' cy='12' r='6'/><rect width='24' height='24' display='none'/>",
    }.items():
        o = "<defs><circle id='o' cx='8' cy='8' r='6'/></defs>"
        draw(f"clip-{name}", f"{o}<clipPath id='c'>{inside}</clipPath>{sky}")
    draw("clip-units-box", "<clipPath id='c' clipPathUnits='objectBoundingBox'><rect width='.5' height='.5'/></clipPath><rect x='4' y='4' width='16' height='16' clip-path='url(#c)'/>")
    draw("clip-of-clip", "<clipPath id='d'><rect width='12' height='24'/></clipPath><clipPath id='c' clip-path='url(#d)'><circle cx='12' cy='12' r='9'/></clipPath>" + sky)
    draw("clip-child-clipped", "<clipPath id='d'><rect width='12' height='24'/></clipPath><clipPath id='c'><circle cx='12' cy='12' r='9' clip-path='url(#d)'/></clipPath>" + sky)
    draw("clip-transform-of-clip", "<clipPath id='c' transform='translate(6 0)'><circle cx='8' cy='12' r='7'/></clipPath>" + sky)
    draw("clip-on-group", "<clipPath id='c'><circle cx='12' cy='12' r='9'/></clipPath><g clip-path='url(#c)'><rect width='24' height='12'/><rect x='18' width='6' height='24'/></g>")
    draw("clip-on-moved-group", "<clipPath id='c'><circle cx='6' cy='6' r='5'/></clipPath><g clip-path='url(#c)' transform='translate(6 6)'><rect width='24' height='24'/></g>")
    draw("clip-twice", "<clipPath id='c'><circle cx='8' cy='12' r='7'/></clipPath><clipPath id='d'><circle cx='15' cy='12' r='7'/></clipPath><g clip-path='url(#d)'>" + sky + "</g>")
    draw("clip-style", "<clipPath id='c'><circle cx='12' cy='12' r='9'/></clipPath><rect width='24' height='24' style='clip-path:url(#c)'/>")
    draw("clip-stroke", "<clipPath id='c'><rect width='12' height='24'/></clipPath><circle cx='12' cy='12' r='8' fill='none' stroke='#000' stroke-width='4' clip-path='url(#c)'/>")
    draw("clip-missing", "<rect x='4' y='4' width='9' height='9' clip-path='url(#no)'/>")
    draw("clip-empty", "<clipPath id='c'/>" + sky + "<rect width='4' height='4'/>")
    box = "<rect x='4' y='4' width='16' height='12' style=\"clip-path:{}\"/>"
    for name, (value, meant) in {
        "circle": ("circle(5px at 8px 6px)", "<circle cx='12' cy='10' r='5'/>"),
        "circle-sides": ("circle()", "<circle cx='12' cy='10' r='6'/>"),
        "circle-percent": ("circle(25% at 0 0)", "<path d='M4 4H{r}A{q} {q} 0 0 1 4 {r}Z'/>"),
        "ellipse": ("ellipse(8px 3px)", "<ellipse cx='12' cy='10' rx='8' ry='3'/>"),
        "ellipse-percent": ("ellipse(25% 50% at right)", "<path d='M20 4A4 6 0 0 0 20 16Z'/>"),
        "inset": ("inset(2px 4px)", "<rect x='8' y='6' width='8' height='8'/>"),
        "inset-round": ("inset(1px round 4px)", "<rect x='5' y='5' width='14' height='10' rx='4'/>"),
        "inset-too-much": ("inset(60%)", "<rect width='3' height='3'/>"),
        "polygon": ("polygon(0 0, 100% 0, 50% 100%)", "<path d='M4 4H20L12 16Z'/>"),
        "path": ("path('M0 0H8V8Z')", "<path d='M4 4H12V12Z'/>"),
        "box": ("fill-box", "<rect x='4' y='4' width='16' height='12'/>"),
    }.items():
        q = 0.25 * math.hypot(16, 12) / math.sqrt(2)
        meant = meant.replace("{q}", f"{q:.6f}").replace("{r}", f"{4 + q:.6f}")
        rest = "<rect width='3' height='3'/>"
        draw(f"clip-css-{name}", box.format(value) + rest, meant=meant + rest)


def masks():
    sky = "<rect width='24' height='24' mask='url(#m)'/>"
    whole_page = "maskUnits='userSpaceOnUse' x='0' y='0' width='24' height='24'"
    for name, inside in {
        "white": "<circle cx='12' cy='12' r='9' fill='#fff'/>",
        "white-with-hole": "<circle cx='12' cy='12' r='9' fill='#fff'/><rect x='9' y='9' width='6' height='6'/>",
        "white-ground-with-hole": "<rect width='24' height='24' fill='white'/><circle cx='12' cy='12' r='6' fill='black'/>",
        "group": "<g fill='#fff'><circle cx='8' cy='12' r='6'/><circle cx='16' cy='12' r='6'/></g>",
        "evenodd": f"<path d='{STAR}' fill='#fff' fill-rule='evenodd'/>",
    }.items():
        draw(f"mask-{name}", f"<mask id='m' {whole_page}>{inside}</mask>{sky}")
    draw("mask-alpha", f"<mask id='m' {whole_page} style='mask-type:alpha'><circle cx='12' cy='12' r='9' fill='#d9d9d9'/></mask>{sky}")
    draw("mask-region", "<mask id='m' maskUnits='userSpaceOnUse' x='6' y='6' width='9' height='9'><rect width='24' height='24' fill='#fff'/></mask>" + sky)
    draw("mask-on-group", f"<mask id='m' {whole_page}><circle cx='12' cy='12' r='9' fill='#fff'/></mask><g mask='url(#m)'><rect width='24' height='12'/></g>")
    draw("mask-of-mask", f"<mask id='n' {whole_page}><rect width='12' height='24' fill='#fff'/></mask><mask id='m' {whole_page} mask='url(#n)'><circle cx='12' cy='12' r='9' fill='#fff'/></mask>{sky}")
    draw("mask-box-units", "<mask id='m'><rect width='24' height='24' fill='#fff'/></mask><rect x='4' y='4' width='9' height='9' mask='url(#m)'/>")


def markers():
    head = "<marker id='k' {} markerWidth='4' markerHeight='4' refX='2' refY='2'><path d='M0 0L4 2L0 4Z'/></marker>"
    line = "<path d='M4 6H18V18' fill='none' stroke='#000' stroke-width='1.5' {}/>"
    for at in ("start", "mid", "end"):
        draw(f"marker-{at}", head.format("") + line.format(f"marker-{at}='url(#k)'"))
    draw("marker-all", "<style>path.l{marker:url(#k)}</style>" + head.format("") + line.format("class='l'"))
    for name, value in {"auto": "auto", "reverse": "auto-start-reverse", "angle": "30"}.items():
        draw(f"marker-orient-{name}", head.format(f"orient='{value}'") + line.format("marker-start='url(#k)' marker-end='url(#k)'"))
    draw("marker-units", head.format("markerUnits='userSpaceOnUse'") + line.format("marker-end='url(#k)'"))
    draw("marker-view-box", head.format("viewBox='0 0 8 8'") + line.format("marker-end='url(#k)'"))
    draw("marker-overflow", head.format("overflow='visible'").replace("M0 0L4 2L0 4Z", "M0 0L8 2L0 4Z") + line.format("marker-end='url(#k)'"))
    draw("marker-on-polyline", head.format("") + "<polyline points='4,6 18,6 18,18' fill='none' stroke='#000' marker-mid='url(#k)'/>")


def units():
    for unit, value in {"mm": 3, "cm": 0.4, "in": 0.15, "pt": 9, "pc": 0.8, "px": 9}.items():
        draw(f"unit-{unit}", f"<rect x='2' y='2' width='{value}{unit}' height='{value}{unit}'/>", head=HEAD.replace(' viewBox="0 0 24 24"', ""))
    draw("unit-em", "<rect x='2' y='2' width='2em' height='1em' font-size='8'/>")
    draw("unit-ex", "<rect x='2' y='2' width='4ex' height='2ex' font-size='8'/>")
    draw("unit-q", "<rect width='24Q' height='32Q'/>", head=HEAD.replace(' viewBox="0 0 24 24"', ""),
         meant="<rect width='6' height='8'/>")


def what_is_shades():
    box = "<rect id='it' x='3' y='3' width='14' height='14' {}/>"
    stops = "<stop stop-color='#fff'/><stop offset='1' stop-color='#000'/>"
    for name, kind in (("linear", "linearGradient"), ("radial", "radialGradient")):
        gradient = f"<{kind} id='g'>{stops}</{kind}>"
        shades(f"gradient-{name}", gradient + box.format("fill='url(#g)'"))
        shades(f"gradient-{name}-stroke", gradient + box.format("fill='none' stroke='url(#g)' stroke-width='3'"))
        for spread in ("reflect", "repeat"):
            narrow = "x1='.4' x2='.6'" if kind == "linearGradient" else "r='.2'"
            shades(f"gradient-{name}-{spread}", f"<{kind} id='g' {narrow} spreadMethod='{spread}'>{stops}</{kind}>" + box.format("fill='url(#g)'"))
        places = "x1='3' x2='17'" if kind == "linearGradient" else "cx='10' cy='8' r='9'"
        shades(f"gradient-{name}-units", f"<{kind} id='g' gradientUnits='userSpaceOnUse' gradientTransform='rotate(20)' {places}>{stops}</{kind}>" + box.format("fill='url(#g)'"))
    shades("gradient-turned", f"<linearGradient id='g' x1='1' x2='0'>{stops}</linearGradient>" + box.format("fill='url(#g)'"))
    shades("gradient-clear", "<linearGradient id='g'><stop stop-opacity='0'/><stop offset='1'/></linearGradient>" + box.format("fill='url(#g)'"))
    shades("gradient-over-plain", f"<rect width='12' height='24'/><linearGradient id='g'>{stops}</linearGradient>" + box.format("fill='url(#g)'"))
    shades("gradient-under-plain", f"<linearGradient id='g'>{stops}</linearGradient>" + box.format("fill='url(#g)'") + "<rect x='6' y='6' width='8' height='8' fill='#fff'/>")
    shades("gradient-beside-plain-stroke", f"<linearGradient id='g'>{stops}</linearGradient>" + box.format("fill='url(#g)' stroke='#000' stroke-width='2'"))
    shades("gradient-clipped", f"<linearGradient id='g'>{stops}</linearGradient><clipPath id='c'><circle cx='10' cy='10' r='6'/></clipPath>" + box.format("fill='url(#g)' clip-path='url(#c)'"))
    shades("gradient-used", f"<linearGradient id='g'>{stops}</linearGradient><defs><rect id='r' width='9' height='9' fill='url(#g)'/></defs><use id='it' href='#r' x='4' y='6'/>")
    dots = "<circle cx='1.5' cy='1.5' r='1'/>"
    shades("pattern", f"<pattern id='g' width='3' height='3' patternUnits='userSpaceOnUse'>{dots}</pattern>" + box.format("fill='url(#g)'"))
    shades("pattern-box", f"<pattern id='g' width='.25' height='.25'>{dots}</pattern>" + box.format("fill='url(#g)'"))
    shades("pattern-turned", f"<pattern id='g' width='3' height='3' patternUnits='userSpaceOnUse' patternTransform='rotate(30)'>{dots}</pattern>" + box.format("fill='url(#g)'"))
    shades("pattern-stroke", f"<pattern id='g' width='3' height='3' patternUnits='userSpaceOnUse'>{dots}</pattern>" + box.format("fill='none' stroke='url(#g)' stroke-width='6'"))
    for name, effect in {
        "blur": "<feGaussianBlur stdDeviation='1'/>",
        "offset": "<feOffset dx='3'/>",
        "flood": "<feFlood/>",
        "shadow": "<feDropShadow dx='1' dy='1' stdDeviation='1'/>",
        "matrix": "<feColorMatrix type='saturate' values='0'/>",
        "merge": "<feOffset dx='4' result='a'/><feMerge><feMergeNode in='a'/><feMergeNode in='SourceGraphic'/></feMerge>",
        "transfer": "<feComponentTransfer><feFuncA type='linear' slope='.6'/></feComponentTransfer>",
    }.items():
        shades(f"filter-{name}", f"<filter id='f'>{effect}</filter>" + box.format("filter='url(#f)'"))
    shades("filter-group", "<filter id='f'><feGaussianBlur stdDeviation='1'/></filter><g id='it' filter='url(#f)'><circle cx='8' cy='9' r='4'/><circle cx='15' cy='14' r='3'/></g>")
    shades("filter-function", box.format("style='filter:blur(2px)'"))
    shades("mask-grey", "<mask id='m'><rect width='24' height='24' fill='#888'/></mask>" + box.format("mask='url(#m)'"))
    shades("mask-gradient", f"<linearGradient id='g'>{stops}</linearGradient><mask id='m'><rect width='24' height='24' fill='url(#g)'/></mask>" + box.format("mask='url(#m)'"))
    shades("mask-translucent", "<mask id='m'><rect width='24' height='24' fill='#fff' opacity='.5'/></mask>" + box.format("mask='url(#m)'"))
    shades("mask-of-group", "<mask id='m'><rect width='24' height='24' fill='#888'/></mask><g id='it' mask='url(#m)'><rect x='3' y='3' width='9' height='9'/><circle cx='15' cy='15' r='5'/></g>")
    for mode in ("multiply", "screen", "difference", "exclusion", "darken"):
        shades(f"blend-{mode}", "<rect width='9' height='9' fill='#00f'/>" + box.format(f"fill='#f80' style='mix-blend-mode:{mode}'"))
    ramp = png(18, 12, lambda x, y: (14 * x, 14 * x, 255 - 20 * y, 255))
    holed = png(12, 12, lambda x, y: (20, 20, 20, 255 if (x - 6) ** 2 + (y - 6) ** 2 < 25 else 0))
    shades("image", f"<image id='it' x='3' y='4' width='18' height='12' href='{ramp}'/>")
    shades("image-xlink", f"<image id='it' x='3' y='4' width='18' height='12' xlink:href='{ramp}'/>")
    shades("image-stretched", f"<image id='it' x='3' y='4' width='12' height='16' preserveAspectRatio='none' href='{ramp}'/>")
    shades("image-slice", f"<image id='it' x='3' y='4' width='9' height='16' preserveAspectRatio='xMidYMid slice' href='{ramp}'/>")
    shades("image-turned", f"<image id='it' x='6' y='4' width='15' height='10' transform='rotate(25 12 12)' href='{ramp}'/>")
    shades("image-clear", f"<rect width='12' height='6'/><image id='it' x='4' y='4' width='16' height='16' href='{holed}'/>")
    shades("image-opacity", f"<image id='it' x='3' y='4' width='18' height='12' opacity='.4' href='{ramp}'/>")
    shades("image-clipped", f"<clipPath id='c'><circle cx='11' cy='10' r='5'/></clipPath><image id='it' x='3' y='4' width='18' height='12' clip-path='url(#c)' href='{ramp}'/>")
    shades("image-over-plain", f"<rect x='2' y='3' width='20' height='14'/><image id='it' x='3' y='4' width='18' height='12' href='{ramp}'/>")
    shades("image-used", f"<defs><image id='i' width='12' height='8' href='{ramp}'/></defs><use id='it' href='#i' x='6' y='7'/>")


def what_is_left_out():
    box = "<rect id='it' x='3' y='3' width='14' height='14' {}/>"
    left_out("out-image-broken", "it", "<image id='it' width='9' height='9' href='data:image/png;base64,iVBORw0KGgo='/>")
    left_out("out-image-file", "it", "<image id='it' width='9' height='9' href='photo.png'/>")
    left_out("out-image-elsewhere", "it", "<image id='it' width='9' height='9' href='https://example.org/photo.png'/>")
    left_out("out-foreign-object", "it", "<foreignObject id='it' width='9' height='9'><p xmlns='http://www.w3.org/1999/xhtml'>page</p></foreignObject>")
    left_out("out-clip-css-calc", "it", box.format("style='clip-path:circle(calc(50% - 1px))'"))
    left_out("out-clip-css-view-box", "it", box.format("style='clip-path:circle(40%) view-box'"))


def main():
    for folder in ("drawings", "meant"):
        shutil.rmtree(HERE / folder, ignore_errors=True)
        (HERE / folder).mkdir()
    for make in (shapes, paths, fills, covers, strokes, transforms, structure, styles, clips, masks, markers, units, what_is_shades, what_is_left_out):
        make()
    lines = ["name\tdemand\tmeant"] + ["\t".join(row) for row in sorted(rows)]
    (HERE / "table.tsv").write_text("\n".join(lines) + "\n")
    print(len(rows), "drawings")


if __name__ == "__main__":
    main()

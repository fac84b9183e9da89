//! Writing a TrueType font (OpenType specification 1.9) of contours of straight lines: just what a
//! reader of fonts needs to lay out a text with it.

/// A glyph.
#[derive(Clone, Debug)]
pub(super) struct Glyph {
    pub(super) character: char,
    /// Units of the em to the next glyph.
    pub(super) advance: i16,
    /// Closed contours, units of the em, y upward.
    pub(super) contours: Vec<Vec<(i16, i16)>>,
}

/// A font of glyphs in rising order of their characters; `height` is what is above the base line
/// and, negative, below it.
pub(super) fn font(family: &str, em: i16, height: (i16, i16), glyphs: &[Glyph]) -> Vec<u8> {
    // Glyph 0 stands for what is not there, and shows nothing.
    let mut glyf = Vec::new();
    let mut loca = [0_u32; 2].iter().flat_map(|at| at.to_be_bytes()).collect::<Vec<u8>>();
    for glyph in glyphs {
        if !glyph.contours.is_empty() {
            glyf.extend(outline(glyph));
            pad(&mut glyf);
        }
        loca.extend(u32::try_from(glyf.len()).unwrap_or(u32::MAX).to_be_bytes());
    }
    let count = i16::try_from(glyphs.len() + 1).unwrap_or(i16::MAX);
    let widest = glyphs.iter().map(|glyph| glyph.advance).max().unwrap_or(em);
    let mut head = words(&[1, 0, 1, 0, 0, 0, 0x5F0F, 0x3CF5, 0, em]);
    head.extend([0; 16]);
    head.extend(words(&[0, height.1, widest, height.0, 0, 8, 2, 1, 0]));
    let hhea = [1, 0, height.0, height.1, 0, widest, 0, 0, widest, 1, 0, 0, 0, 0, 0, 0, 0, count];
    let maxp = [1, 0, count, 256, 64, 0, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0];
    let advances = std::iter::once(em / 2).chain(glyphs.iter().map(|glyph| glyph.advance));
    let bearings = std::iter::once(0).chain(glyphs.iter().map(left_bearing));
    let hmtx: Vec<u8> =
        advances.zip(bearings).flat_map(|(wide, left)| words(&[wide, left])).collect();
    let mut os2 = words(&[4, em / 2, 400, 5, 0]);
    os2.extend([0; 58]);
    os2.extend(words(&[0x40, 0x20, 0x7E, height.0, height.1, 0, height.0, -height.1]));
    os2.extend([0; 18]);
    let post = [words(&[3, 0]), vec![0; 28]].concat();
    let tables: [(&[u8; 4], Vec<u8>); 10] = [
        (b"OS/2", os2),
        (b"cmap", characters(glyphs)),
        (b"glyf", glyf),
        (b"head", head),
        (b"hhea", words(&hhea)),
        (b"hmtx", hmtx),
        (b"loca", loca),
        (b"maxp", words(&maxp)),
        (b"name", names(family)),
        (b"post", post),
    ];
    let mut font = words(&[1, 0, 10, 128, 3, 32]);
    let mut body: Vec<u8> = Vec::new();
    for (tag, table) in &tables {
        let at = 12 + 16 * tables.len() + body.len();
        font.extend(*tag);
        for word in [0, at, table.len()] {
            font.extend(u32::try_from(word).unwrap_or_default().to_be_bytes());
        }
        body.extend(table);
        pad(&mut body);
    }
    font.extend(body);
    font
}

fn words(words: &[i16]) -> Vec<u8> {
    words.iter().flat_map(|word| word.to_be_bytes()).collect()
}

fn pad(bytes: &mut Vec<u8>) {
    bytes.resize(bytes.len().next_multiple_of(4), 0);
}

fn left_bearing(glyph: &Glyph) -> i16 {
    glyph.contours.iter().flatten().map(|(x, _)| *x).min().unwrap_or_default()
}

/// A simple glyph: all points on the curve, their steps in 16 bits.
fn outline(glyph: &Glyph) -> Vec<u8> {
    let points = || glyph.contours.iter().flatten().copied();
    let reach = |of: fn((i16, i16)) -> i16| {
        points().map(of).fold((i16::MAX, i16::MIN), |(low, high), v| (low.min(v), high.max(v)))
    };
    let ((left, right), (bottom, top)) = (reach(|p| p.0), reach(|p| p.1));
    let contours = i16::try_from(glyph.contours.len()).unwrap_or(i16::MAX);
    let mut out = words(&[contours, left, bottom, right, top]);
    let mut last = -1;
    for contour in &glyph.contours {
        last += i16::try_from(contour.len()).unwrap_or_default();
        out.extend(last.to_be_bytes());
    }
    out.extend(words(&[0]));
    out.extend(points().map(|_| 1));
    for axis in [|p: (i16, i16)| p.0, |p: (i16, i16)| p.1] {
        let mut at = 0;
        for value in points().map(axis) {
            out.extend((value - at).to_be_bytes());
            at = value;
        }
    }
    out
}

/// Which glyph shows which character: a table of format 12, a group for each.
fn characters(glyphs: &[Glyph]) -> Vec<u8> {
    let count = u32::try_from(glyphs.len()).unwrap_or_default();
    let mut cmap = words(&[0, 1, 3, 10, 0, 12, 12, 0]);
    for word in [16 + 12 * count, 0, count] {
        cmap.extend(word.to_be_bytes());
    }
    for (glyph, number) in glyphs.iter().zip(1_u32..) {
        for word in [u32::from(glyph.character), u32::from(glyph.character), number] {
            cmap.extend(word.to_be_bytes());
        }
    }
    cmap
}

/// Family, style and PostScript name, in English for Windows.
fn names(family: &str) -> Vec<u8> {
    let plain: String = family.chars().filter(|c| !c.is_whitespace()).collect();
    let names = [(1, family), (2, "Regular"), (4, family), (6, plain.as_str())];
    let mut table = words(&[0, 4, 6 + 12 * 4]);
    let mut strings: Vec<u8> = Vec::new();
    for (id, text) in names {
        let utf16: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let length = i16::try_from(utf16.len()).unwrap_or_default();
        let at = i16::try_from(strings.len()).unwrap_or_default();
        table.extend(words(&[3, 1, 0x409, id, length, at]));
        strings.extend(utf16);
    }
    table.extend(strings);
    table
}

//! Drawings to bytes: SVG in mm, element by element.

use std::io::{self, Write};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use kurbo::{BezPath, Cap, Join, PathEl, Point, Rect};
use stave_toolpath::art::{Fill, Page, Rule, Stroke};
use stave_toolpath::number::fixed;
use stave_toolpath::xml::escaped;

/// Decimals of coordinates, mm.
const DECIMALS: u32 = 4;
/// Decimals of opacities and limits.
const FINE_DECIMALS: u32 = 6;

/// What stands before the elements of a drawing.
#[derive(Clone, Debug, Default)]
pub struct Front<'a> {
    /// The page.
    pub page: Page,
    /// The title.
    pub title: &'a str,
    /// Lines about what was done, put into the metadata.
    pub note: &'a [String],
}

/// A region that elements are confined to.
#[derive(Clone, Debug)]
pub struct ClipRegion<'a> {
    /// Its id.
    pub id: &'a str,
    /// Its areas: a point need be in one of them.
    pub areas: &'a [ClipOutline],
    /// The region that confines it as a whole.
    pub within: Option<&'a str>,
}

/// One area of a region.
#[derive(Clone, Debug)]
pub struct ClipOutline {
    /// Its outline on the page, mm.
    pub path: BezPath,
    /// Where its inside is.
    pub rule: Rule,
    /// The region that confines this area alone.
    pub within: Option<String>,
}

/// One path.
#[derive(Clone, Debug)]
pub struct Drawn<'a> {
    /// Its id, if it has one.
    pub id: Option<&'a str>,
    /// The piece it says it belongs to.
    pub data_piece: Option<&'a str>,
    /// Its outline on the page, mm.
    pub path: &'a BezPath,
    /// How it is filled.
    pub fill: Option<Fill>,
    /// How it is outlined; pen and dashes are the path's business.
    pub stroke: Option<&'a Stroke>,
    /// Whether the stroke lies under the fill.
    pub stroke_first: bool,
    /// The region it is confined to.
    pub clip: Option<&'a str>,
}

/// One picture.
#[derive(Clone, Debug)]
pub struct Pixels<'a> {
    /// Its id, if it has one.
    pub id: Option<&'a str>,
    /// The piece it says it belongs to.
    pub data_piece: Option<&'a str>,
    /// Where it lies on the page, mm.
    pub frame: Rect,
    /// The bytes of a PNG file.
    pub png: &'a [u8],
    /// The region it is confined to.
    pub clip: Option<&'a str>,
}

/// Writes a drawing piece by piece, each element as it comes.
///
/// One unit is 1 mm. Text is escaped, characters that XML cannot hold become blanks.
///
/// ```
/// use kurbo::BezPath;
/// use stave_toolpath::art::{Fill, Page, Rgb, Rule};
/// use stave_write::svg::{Drawn, Front, SvgWriter};
/// let page = Page { width_mm: 30.0, height_mm: 20.0 };
/// let mut writer = SvgWriter::new(Vec::new(), &Front { page, title: "flag", note: &[] })?;
/// let path = BezPath::from_svg("M0 0H30V20Z").unwrap();
/// let fill = Some(Fill { colour: Rgb::new(31, 58, 95), rule: Rule::NonZero, opacity: 1.0 });
/// writer.path(&Drawn { id: Some("a"), data_piece: None, path: &path, fill, stroke: None, stroke_first: false,
///     clip: None })?;
/// let text = String::from_utf8(writer.end()?).unwrap();
/// assert!(text.contains(r##"<path id="a" d="M0,0L30,0 30,20Z" fill="#1f3a5f"/>"##), "{text}");
/// # Ok::<(), std::io::Error>(())
/// ```
#[derive(Debug)]
pub struct SvgWriter<W: Write> {
    out: W,
    depth: usize,
}

impl<W: Write> SvgWriter<W> {
    /// Writes the root element, the title and the note.
    ///
    /// # Errors
    /// Those of writing.
    pub fn new(mut out: W, front: &Front<'_>) -> io::Result<Self> {
        let (width, height) = (mm(front.page.width_mm), mm(front.page.height_mm));
        write!(
            out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
             viewBox=\"0 0 {width} {height}\">\n\
             <title>{}</title>\n",
            escaped(front.title)
        )?;
        if !front.note.is_empty() {
            writeln!(out, "<metadata>")?;
            for line in front.note {
                writeln!(out, "{}", escaped(line))?;
            }
            writeln!(out, "</metadata>")?;
        }
        Ok(Self { out, depth: 0 })
    }

    /// Writes a region, which elements and regions after it may name.
    ///
    /// # Errors
    /// Those of writing.
    pub fn clip(&mut self, clip: &ClipRegion<'_>) -> io::Result<()> {
        write!(self.out, "<clipPath id=\"{}\"", escaped(clip.id))?;
        self.confine(clip.within)?;
        writeln!(self.out, ">")?;
        for area in clip.areas {
            write!(self.out, "<path d=\"{}\"", data(&area.path))?;
            if area.rule == Rule::EvenOdd {
                write!(self.out, " clip-rule=\"evenodd\"")?;
            }
            self.confine(area.within.as_deref())?;
            writeln!(self.out, "/>")?;
        }
        writeln!(self.out, "</clipPath>")
    }

    /// Opens a group.
    ///
    /// # Errors
    /// Those of writing.
    pub fn open_group(&mut self, id: Option<&str>, data_piece: Option<&str>) -> io::Result<()> {
        self.depth += 1;
        write!(self.out, "<g")?;
        self.names(id, data_piece)?;
        writeln!(self.out, ">")
    }

    /// Closes the group opened last, if one is open.
    ///
    /// # Errors
    /// Those of writing.
    pub fn close_group(&mut self) -> io::Result<()> {
        if self.depth == 0 {
            return Ok(());
        }
        self.depth -= 1;
        writeln!(self.out, "</g>")
    }

    /// Writes a path.
    ///
    /// # Errors
    /// Those of writing.
    pub fn path(&mut self, drawn: &Drawn<'_>) -> io::Result<()> {
        write!(self.out, "<path")?;
        self.names(drawn.id, drawn.data_piece)?;
        write!(self.out, " d=\"{}\"", data(drawn.path))?;
        match drawn.fill {
            None => write!(self.out, " fill=\"none\"")?,
            Some(fill) => {
                write!(self.out, " fill=\"{}\"", fill.colour)?;
                if fill.rule == Rule::EvenOdd {
                    write!(self.out, " fill-rule=\"evenodd\"")?;
                }
                self.opacity("fill-opacity", fill.opacity)?;
            }
        }
        if let Some(stroke) = drawn.stroke {
            self.stroke(stroke)?;
            if drawn.stroke_first && drawn.fill.is_some() {
                write!(self.out, " paint-order=\"stroke\"")?;
            }
        }
        self.confine(drawn.clip)?;
        writeln!(self.out, "/>")
    }

    /// Writes a picture, its bytes within it.
    ///
    /// # Errors
    /// Those of writing.
    pub fn pixels(&mut self, pixels: &Pixels<'_>) -> io::Result<()> {
        write!(self.out, "<image")?;
        self.names(pixels.id, pixels.data_piece)?;
        let frame = pixels.frame;
        let [x, y, width, height] = [frame.x0, frame.y0, frame.width(), frame.height()].map(mm);
        write!(
            self.out,
            " x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" \
             preserveAspectRatio=\"none\""
        )?;
        self.confine(pixels.clip)?;
        write!(self.out, " href=\"data:image/png;base64,")?;
        self.out.write_all(STANDARD.encode(pixels.png).as_bytes())?;
        writeln!(self.out, "\"/>")
    }

    /// Closes what is open and gives the writer back.
    ///
    /// # Errors
    /// Those of writing.
    pub fn end(mut self) -> io::Result<W> {
        while self.depth > 0 {
            self.close_group()?;
        }
        writeln!(self.out, "</svg>")?;
        self.out.flush()?;
        Ok(self.out)
    }

    fn stroke(&mut self, stroke: &Stroke) -> io::Result<()> {
        write!(self.out, " stroke=\"{}\" stroke-width=\"{}\"", stroke.colour, mm(stroke.width_mm))?;
        match stroke.cap {
            Cap::Butt => {}
            Cap::Round => write!(self.out, " stroke-linecap=\"round\"")?,
            Cap::Square => write!(self.out, " stroke-linecap=\"square\"")?,
        }
        match stroke.join {
            Join::Miter => {
                write!(
                    self.out,
                    " stroke-miterlimit=\"{}\"",
                    fixed(stroke.miter_limit, FINE_DECIMALS)
                )?;
            }
            Join::Round => write!(self.out, " stroke-linejoin=\"round\"")?,
            Join::Bevel => write!(self.out, " stroke-linejoin=\"bevel\"")?,
        }
        self.opacity("stroke-opacity", stroke.opacity)
    }

    fn names(&mut self, id: Option<&str>, data_piece: Option<&str>) -> io::Result<()> {
        if let Some(id) = id {
            write!(self.out, " id=\"{}\"", escaped(id))?;
        }
        if let Some(piece) = data_piece {
            write!(self.out, " data-piece=\"{}\"", escaped(piece))?;
        }
        Ok(())
    }

    fn opacity(&mut self, name: &str, opacity: f64) -> io::Result<()> {
        // A 32-bit product of ones.
        if opacity > 0.999_999 {
            return Ok(());
        }
        write!(self.out, " {name}=\"{}\"", fixed(opacity, FINE_DECIMALS))
    }

    fn confine(&mut self, within: Option<&str>) -> io::Result<()> {
        match within {
            Some(id) => write!(self.out, " clip-path=\"url(#{})\"", escaped(id)),
            None => Ok(()),
        }
    }
}

fn mm(value: f64) -> String {
    fixed(value, DECIMALS)
}

/// Path data: absolute commands, no letter twice where it need not be, coordinates to a tenth of a
/// micrometre.
fn data(path: &BezPath) -> String {
    let mut out = String::new();
    let mut letter = ' ';
    for el in path.elements() {
        let (next, points): (char, &[Point]) = match el {
            PathEl::MoveTo(p) => ('M', &[*p]),
            PathEl::LineTo(p) => ('L', &[*p]),
            PathEl::QuadTo(a, p) => ('Q', &[*a, *p]),
            PathEl::CurveTo(a, b, p) => ('C', &[*a, *b, *p]),
            PathEl::ClosePath => ('Z', &[]),
        };
        // A second M would be a line.
        if next != letter || next == 'M' {
            out.push(next);
            letter = next;
        } else {
            out.push(' ');
        }
        for (index, p) in points.iter().enumerate() {
            if index > 0 {
                out.push(' ');
            }
            out.push_str(&mm(p.x));
            out.push(',');
            out.push_str(&mm(p.y));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use stave_toolpath::art::Rgb;

    #[test]
    fn a_drawing_is_written_element_by_element() {
        let page = Page { width_mm: 251.327_412_3, height_mm: 120.0 };
        let note = ["laid by true-width".to_owned(), "a < b & \u{7}c".to_owned()];
        let mut writer =
            SvgWriter::new(Vec::new(), &Front { page, title: "mug \"A\"", note: &note }).unwrap();
        let ring =
            BezPath::from_svg("M0 0L10 0L10 10ZM2 2Q3 3 4 2C5 1 6 1 7 2 8 3 9 3 10 2").unwrap();
        let areas =
            [ClipOutline { path: ring.clone(), rule: Rule::EvenOdd, within: Some("c1".into()) }];
        writer.clip(&ClipRegion { id: "c2", areas: &areas, within: Some("c0") }).unwrap();
        writer.open_group(Some("crest"), None).unwrap();
        let stroke = Stroke {
            colour: Rgb::new(192, 24, 24),
            opacity: 0.5,
            width_mm: 0.25,
            join: Join::Round,
            cap: Cap::Square,
            miter_limit: 4.0,
            pen: kurbo::Affine::IDENTITY,
            dashes: None,
        };
        writer
            .path(&Drawn {
                id: None,
                data_piece: Some("belt"),
                path: &ring,
                fill: Some(Fill { colour: Rgb::WHITE, rule: Rule::EvenOdd, opacity: 1.0 }),
                stroke: Some(&stroke),
                stroke_first: true,
                clip: Some("c2"),
            })
            .unwrap();
        let text = String::from_utf8(writer.end().unwrap()).unwrap();
        insta::assert_snapshot!(text, @r##"
        <svg xmlns="http://www.w3.org/2000/svg" width="251.3274mm" height="120mm" viewBox="0 0 251.3274 120">
        <title>mug &quot;A&quot;</title>
        <metadata>
        laid by true-width
        a &lt; b &amp;  c
        </metadata>
        <clipPath id="c2" clip-path="url(#c0)">
        <path d="M0,0L10,0 10,10ZM2,2Q3,3 4,2C5,1 6,1 7,2 8,3 9,3 10,2" clip-rule="evenodd" clip-path="url(#c1)"/>
        </clipPath>
        <g id="crest">
        <path data-piece="belt" d="M0,0L10,0 10,10ZM2,2Q3,3 4,2C5,1 6,1 7,2 8,3 9,3 10,2" fill="#ffffff" fill-rule="evenodd" stroke="#c01818" stroke-width="0.25" stroke-linecap="square" stroke-linejoin="round" stroke-opacity="0.5" paint-order="stroke" clip-path="url(#c2)"/>
        </g>
        </svg>
        "##);
    }
}

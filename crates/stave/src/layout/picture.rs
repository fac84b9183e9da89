//! A picture as a page of its own: upright, one piece.

use std::f64::consts::TAU;

use kurbo::Affine;
use stave_setup::Setup;
use stave_toolpath::Picture;
#[cfg(feature = "image")]
use stave_toolpath::number::fixed;

use super::{Layout, Purpose};
use crate::error::{Error, SourceFault};

/// Width and height that disagree by more than this share do.
#[cfg(feature = "image")]
const SAME_SHAPE: f64 = 0.005;

/// How large a picture is to be, mm in the flat plane; what is not given follows from the other, or
/// from the resolution that the file has.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PictureSize {
    /// Around the work.
    pub width_mm: Option<f64>,
    /// Along it.
    pub height_mm: Option<f64>,
}

/// The width and height of a picture of so many pixels, mm.
#[cfg(feature = "image")]
fn size_mm(
    pixels: (u32, u32),
    own_mm: Option<(f64, f64)>,
    asked: PictureSize,
) -> Result<(f64, f64), String> {
    let (columns, rows) = (f64::from(pixels.0), f64::from(pixels.1));
    // Pixels need not be square; where the file does not say, they are.
    let shape = own_mm.map_or(rows / columns, |(x, y)| rows * y / (columns * x));
    match (asked.width_mm, asked.height_mm, own_mm) {
        (Some(width), Some(height), _) if (height / width / shape - 1.0).abs() > SAME_SHAPE => {
            Err(format!(
                "--width {} and --height {} would squeeze the picture: for that width its height \
                 is {} mm; give one of the two",
                fixed(width, 3),
                fixed(height, 3),
                fixed(width * shape, 3)
            ))
        }
        (Some(width), Some(height), _) => Ok((width, height)),
        (Some(width), None, _) => Ok((width, width * shape)),
        (None, Some(height), _) => Ok((height / shape, height)),
        (None, None, Some((x, y))) => Ok((columns * x, rows * y)),
        (None, None, None) => Err(format!(
            "the picture has {columns} x {rows} pixels and does not say how large it is: give \
             --width (around the work) or --height"
        )),
    }
}

/// A picture longer than so many times the wall, or more often round it, cannot be meant; what
/// merely hangs over its ends may be bare there.
const MOST_OVER: f64 = 3.0;

/// What is wrong with a picture, or a drawing's part that is burned as one, that takes so much of
/// the flat plane, where the wall is far too small for it.
pub(super) fn vast(flat: kurbo::Rect, setup: &Setup) -> Option<String> {
    let wall = &setup.blank.wall;
    let (long, round) = (wall.length_mm(), TAU * wall.largest_radius_mm());
    let fits = flat.width() <= MOST_OVER * long && flat.height() <= MOST_OVER * round;
    (!fits).then(|| {
        let words = |mm: f64| stave_toolpath::number::fixed(mm, 1);
        format!(
            "the picture would be {} mm along the axis and {} mm around it, and the wall is {} mm \
             long and {} mm round: give its size, by --width or --height or in the drawing",
            words(flat.width()),
            words(flat.height()),
            words(long),
            words(round)
        )
    })
}

impl Layout {
    /// Reads a PNG or JPEG picture and lays it out. Errors as [`Layout::read`].
    #[cfg(feature = "image")]
    pub(crate) fn read_picture(
        data: &[u8],
        size: PictureSize,
        name: &str,
        setup: &Setup,
        purpose: Purpose,
    ) -> Result<Layout, Error> {
        use stave_toolpath::art::{Art, Element, Fill, Page, Rgb, Rule, Shaded, Shape};

        let image = stave_parse::image::read_image(data)
            .map_err(|error| Error::of_source(name, SourceFault::Image(error)))?;
        let (width_mm, height_mm) = size_mm(image.shades.size(), image.pixel_mm, size)
            .map_err(|message| Error::of_source(name, SourceFault::PictureSize(message)))?;
        let frame = kurbo::Rect::new(0.0, 0.0, width_mm, height_mm);
        // What shines through hides nothing.
        let opacity = if image.shades.is_opaque() { 1.0 } else { 0.5 };
        let fill = Fill { colour: Rgb::new(0, 0, 0), rule: Rule::NonZero, opacity };
        let shape = Shape {
            element: 0,
            path: kurbo::Shape::to_path(&frame, 0.1),
            fill: Some(fill),
            stroke: None,
            stroke_first: false,
            clips: Vec::new(),
        };
        let element = Element { name: "picture".to_owned(), ..Element::default() };
        let art = Art {
            page: Page { width_mm, height_mm },
            elements: vec![element],
            shapes: vec![shape],
            shaded: vec![Shaded::of(0)],
            ..Art::default()
        };
        let told = image.told.iter().map(|told| format!("{name}: {told}"));
        let plain = super::rendered::Shaded::default();
        let mut layout = Layout::of(art, setup, purpose, (name, super::Kind::Picture), plain)?;
        layout.warnings.splice(0..0, told);
        layout.shades = Some(image.shades);
        Ok(layout)
    }

    /// Says that no picture can be read.
    #[cfg(not(feature = "image"))]
    pub(crate) fn read_picture(
        _: &[u8],
        _: PictureSize,
        name: &str,
        _: &Setup,
        _: Purpose,
    ) -> Result<Layout, Error> {
        Err(Error::of_source(name, SourceFault::NoPictures))
    }

    /// The picture that the input is, in the flat plane. Pixels finer than `finest_mm` are put
    /// together.
    pub(crate) fn picture(&self, invert: bool, finest_mm: f64) -> Option<Picture> {
        let shades = self.shades.as_ref()?;
        let (x, y) = self.pixel_mm()?;
        let to_flat = self.to_flat * Affine::scale_non_uniform(x, y);
        Some(Picture::of_shades(shades, to_flat, invert, finest_mm))
    }

    /// The size of a pixel of the picture that the input is, mm in the flat plane.
    pub(crate) fn pixel_mm(&self) -> Option<(f64, f64)> {
        let (columns, rows) = self.shades.as_ref()?.size();
        let page = &self.art.page;
        Some((page.width_mm / f64::from(columns), page.height_mm / f64::from(rows)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_comes_from_the_option_else_from_the_file() {
        let size = |own, width_mm, height_mm| {
            size_mm((400, 300), own, PictureSize { width_mm, height_mm })
        };
        assert_eq!(size(None, Some(80.0), None), Ok((80.0, 60.0)));
        assert_eq!(size(Some((0.1, 0.2)), Some(80.0), None), Ok((80.0, 120.0)));
        assert_eq!(size(None, None, Some(30.0)), Ok((40.0, 30.0)));
        assert_eq!(size(Some((0.1, 0.1)), None, None), Ok((40.0, 30.0)));
        assert_eq!(size(None, Some(80.0), Some(60.1)), Ok((80.0, 60.1)));
        let squeezed = size(None, Some(80.0), Some(61.0)).unwrap_err();
        assert!(squeezed.contains("its height is 60 mm"), "{squeezed}");
        assert!(size(None, None, None).unwrap_err().contains("400 x 300 pixels"));
    }
}

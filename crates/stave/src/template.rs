//! `template`: the page to draw on.

use stave_picture::TemplateSetting;
use stave_setup::{Blank, JobAnchor, JobFile, Stands};
use stave_wall::LayKind;

use crate::error::Error;

/// The page for a blank as an SVG document in mm, by what the job says of `reference_diameter`, `stands`, `lay` and `anchor`.
///
/// ```
/// let blank = stave::setup::read_blank("[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n", "mug.toml")?;
/// let page = stave::template_svg(&blank, &stave::setup::JobFile::default());
/// assert!(page.contains("width=\"251.3274mm\" height=\"100mm\""));
/// # Ok::<(), stave::setup::Faults>(())
/// ```
#[must_use]
pub fn template_svg(blank: &Blank, job: &JobFile) -> String {
    let diameter = job.reference_diameter_mm.as_ref().map(|given| given.value);
    let true_width = job.lay.as_ref().is_some_and(|lay| lay.value == LayKind::TrueWidth);
    let by_drawing = job.anchor.as_ref().is_some_and(|anchor| anchor.value == JobAnchor::Drawing);
    stave_picture::template(
        blank,
        &TemplateSetting {
            reference_radius_mm: diameter.map_or(blank.wall.largest_radius_mm(), |diameter| diameter / 2.0),
            stands: job.stands.as_ref().map_or(Stands::Upright, |stands| stands.value),
            narrows: true_width && by_drawing,
            margin_mm: 0.0,
        },
    )
}

/// The flat patterns of a blank's frusta as an SVG document in mm, to cut out and hold against it.
///
/// # Errors
/// A smooth wall has none.
pub fn paper_svg(blank: &Blank) -> Result<String, Error> {
    stave_picture::paper(blank).ok_or_else(|| {
        Error::Setting(
            "a smooth wall is curved both ways and has no flat pattern; measure it with wall = \"straight\" to have one for every span".into(),
        )
    })
}

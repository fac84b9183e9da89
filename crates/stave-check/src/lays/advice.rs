//! Which lay suits a piece, and why, in a sentence.

use stave_toolpath::number::fixed;
use stave_wall::LayKind;

use super::{ANGLE_WARNING_RAD, LayFigures, SIZE_WARNING};

/// A piece whose sides differ by less than this ratio is taken for a mark rather than a line of
/// text.
const MARK_RATIO: f64 = 1.6;
/// Below this share of a warning nothing is lost.
const NOTHING_LOST: f64 = 0.1;
/// What costs no less than this share of another costs the same.
const TIE: f64 = 0.98;
/// What strays by less than this share of a warning is not worth its words.
const WORTH_WORDS: f64 = 0.2;

/// What a piece wants most of its lay.
#[derive(Clone, Copy, Debug, Eq, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wants {
    /// Its end to meet its beginning.
    Closure,
    /// Its angles: round marks and logos.
    Angles,
    /// Its lines level and its widths true: text.
    Level,
}

impl Wants {
    /// By its box, mm, and whether it goes all the way around.
    #[must_use]
    pub fn of(height_mm: f64, width_mm: f64, all_round: bool) -> Wants {
        if all_round {
            Wants::Closure
        } else if width_mm.max(height_mm) <= MARK_RATIO * width_mm.min(height_mm) {
            Wants::Angles
        } else {
            Wants::Level
        }
    }

    fn sentence(self) -> &'static str {
        match self {
            Wants::Closure => "it goes all the way around and must close at its seam",
            Wants::Angles => "it is about as wide as high, and a round mark wants its angles",
            Wants::Level => {
                "it is longer than it is broad, as text is, and wants level lines and true widths"
            }
        }
    }
}

/// A lay, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// The lay.
    pub best: LayKind,
    /// What it costs.
    pub cost: LayCost,
    /// Why, as a sentence with what is lost.
    pub why: String,
}

/// What a lay costs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LayCost {
    /// By how much a seam gapes or overlaps that should close, mm: worse than anything, and the
    /// more so the wider it is.
    pub seam_mm: f64,
    /// What else strays, 1 where a warning begins.
    pub strays: f64,
}

impl LayCost {
    /// What is worse of two, each for itself.
    #[must_use]
    pub fn worse(self, other: LayCost) -> LayCost {
        LayCost { seam_mm: self.seam_mm.max(other.seam_mm), strays: self.strays.max(other.strays) }
    }
}

/// The lay that costs least: of those whose seam is no worse than the best but by next to nothing,
/// the one that strays least. Where several cost the same, the first in the order true-width,
/// even-angle, true-shape, label: nothing is laid in a more curious way than it needs.
#[must_use]
pub fn least_cost(cost_of: impl Fn(LayKind) -> Option<LayCost>) -> Option<(LayKind, LayCost)> {
    const ORDER: [LayKind; 4] =
        [LayKind::TrueWidth, LayKind::EvenAngle, LayKind::TrueShape, LayKind::Label];
    let all: Vec<(LayKind, LayCost)> =
        ORDER.into_iter().filter_map(|kind| Some((kind, cost_of(kind)?))).collect();
    let seam_mm = all.iter().map(|(_, cost)| cost.seam_mm).fold(f64::INFINITY, f64::min);
    all.into_iter()
        .filter(|(_, cost)| TIE * cost.seam_mm <= seam_mm)
        .reduce(|best, one| if strays_less(one.1.strays, best.1.strays) { one } else { best })
}

/// Whether one strays by less than another, by more than next to nothing.
fn strays_less(one: f64, other: f64) -> bool {
    one < TIE * other - NOTHING_LOST
}

/// The lay that costs a piece least, of those that have a place for it; `None` where none has.
///
/// Costs are in shares of what is worth a warning (5 degrees, 5 per cent), weighed by what the
/// piece wants.
#[must_use]
pub fn advise(wants: Wants, lays: &[(LayKind, LayFigures)]) -> Option<Advice> {
    let of = |kind| lays.iter().find(|(one, _)| *one == kind).map(|(_, figures)| figures);
    let (kind, cost) = least_cost(|kind| Some(lay_cost(wants, kind, of(kind)?)))?;
    let figures = of(kind)?;
    let is_cheap = |cost: LayCost| cost.seam_mm == 0.0 && cost.strays < NOTHING_LOST;
    let all_cheap = lays.iter().all(|(kind, figures)| is_cheap(lay_cost(wants, *kind, figures)));
    let losses = losses(figures);
    let why = match (all_cheap, losses.is_empty()) {
        (true, _) => "the wall hardly changes under it: every lay does".to_owned(),
        (false, true) => format!("{}; {kind} loses next to nothing", wants.sentence()),
        (false, false) => {
            let nothing_is_free =
                if figures.is_worth_a_warning() { ". Nothing is free here" } else { "" };
            format!("{}{nothing_is_free}: {kind} costs least, but {losses}", wants.sentence())
        }
    };
    // Who sees in the table that a label strays less is told what speaks against it.
    let label = of(LayKind::Label);
    let is_told = wants == Wants::Level && !all_cheap && !losses.is_empty();
    let is_better = |label: &LayFigures| strays_less(strayed(label), strayed(figures));
    let why = match is_told && kind != LayKind::Label && label.is_some_and(is_better) {
        true => format!("{why}; a label strays less, but its lines would not be level"),
        false => why,
    };
    Some(Advice { best: kind, cost, why })
}

/// What a lay costs a piece.
#[must_use]
pub fn lay_cost(wants: Wants, kind: LayKind, figures: &LayFigures) -> LayCost {
    let angles = figures.omega_max_rad / ANGLE_WARNING_RAD;
    let size = figures.size_change() / SIZE_WARNING;
    let lopsided = (figures.lopsided - 1.0) / SIZE_WARNING;
    let strays = match wants {
        Wants::Closure => angles + 0.5 * size,
        Wants::Angles => angles + 0.35 * lopsided.max(size),
        Wants::Level => {
            let bent = if kind == LayKind::Label { angles.max(size) + 2.0 } else { 0.0 };
            bent + strayed(figures)
        }
    };
    let gapes = wants == Wants::Closure && figures.closes() != Some(true);
    let seam_mm = figures.seam_mm.filter(|_| gapes).map_or(0.0, f64::abs);
    LayCost { seam_mm, strays }
}

/// What angles and sizes that stray cost a text, whether its lines are level or not.
fn strayed(figures: &LayFigures) -> f64 {
    0.5 * figures.omega_max_rad / ANGLE_WARNING_RAD + figures.size_change() / SIZE_WARNING
}

/// What is lost, in words; empty where nothing worth them is.
fn losses(figures: &LayFigures) -> String {
    let mut losses = Vec::new();
    if figures.omega_max_rad > WORTH_WORDS * ANGLE_WARNING_RAD {
        losses.push(format!(
            "angles are off by up to {}°",
            fixed(figures.omega_max_rad.to_degrees(), 1)
        ));
    }
    let changes = [("widths", figures.width_max), ("heights", figures.height_max)];
    let same = (figures.width_max - figures.height_max).abs() < 1e-9;
    let percent = |ratio: f64| {
        let way = if ratio > 1.0 { "larger" } else { "smaller" };
        format!("{} % {way}", fixed(100.0 * (ratio - 1.0).abs(), 1))
    };
    if same && (figures.width_max - 1.0).abs() > WORTH_WORDS * SIZE_WARNING {
        losses.push(format!("it comes out up to {} in places", percent(figures.width_max)));
    } else {
        for (what, ratio) in changes {
            if (ratio - 1.0).abs() > WORTH_WORDS * SIZE_WARNING {
                losses.push(format!("{what} come out up to {}", percent(ratio)));
            }
        }
    }
    if figures.closes() == Some(false) {
        let gap = figures.seam_mm.unwrap_or_default();
        let what = if gap > 0.0 { "gapes" } else { "overlaps" };
        losses.push(format!("its seam {what} by up to {} mm", fixed(gap.abs(), 2)));
    }
    match losses.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

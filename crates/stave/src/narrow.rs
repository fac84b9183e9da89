//! What of a drawing is worth a word though it burns as drawn: what is narrower than the spot, a
//! speed that is sooner done, greys that burn full.

use stave_check::{Code, Finding};
use stave_setup::{Operation, Pick, Setup};
use stave_toolpath::art::{Art, Part, Rgb, Work};
use stave_toolpath::clock;
use stave_toolpath::number::fixed;
use stave_transform::OperationFigures;

use crate::layout::{Layout, PlacedOperation, listed};

/// Greys no lighter than this, as a share of full light, count as black.
const BLACK: f64 = 0.02;
/// A grey's channels differ by no more than this.
const GREY_SPREAD: u8 = 8;

/// Shapes and gaps of an operation that are narrower than the spot: the narrowest of each.
pub(crate) fn thin(
    operation: &PlacedOperation,
    figures: &OperationFigures,
    layout: &Layout,
    setup: &Setup,
    findings: &mut Vec<Finding>,
) {
    let Some(spot_mm) = operation.spot_mm else { return };
    for is_gap in [false, true] {
        let these = figures.narrow.iter().filter(|narrow| narrow.is_gap == is_gap);
        let Some(worst) = these.clone().min_by(|a, b| a.width_mm.total_cmp(&b.width_mm)) else {
            continue;
        };
        let id = layout.pieces.get(worst.piece).map(|piece| piece.id.as_str());
        let others = match these.count() {
            0 | 1 => String::new(),
            count => format!(", and so has {} more pieces", count - 1)
                .replace("so has 1 more pieces", "so has one more piece"),
        };
        let (what, comes) = match (is_gap, operation.work) {
            (false, Work::Line) => ("a stroke", "it comes out wider"),
            (false, _) => ("a shape", "it comes out wider"),
            (true, Work::Line) => ("lines", "they burn into one"),
            (true, _) => ("a gap", "it burns shut"),
        };
        let width = if is_gap && operation.work == Work::Line { "apart" } else { "wide" };
        let message = format!(
            "operation \"{}\": piece \"{}\" has {what} {} mm {width} where the spot is {} mm \
             wide{others}: {comes}",
            operation.name,
            id.unwrap_or("art"),
            fixed(worst.width_mm, 3),
            fixed(spot_mm, 3),
        );
        let at_mm = setup.blank.wall.at_of_s(worst.s_mm);
        let finding = Finding::new(Code::Thin, message)
            .at(at_mm, worst.turn_rad)
            .figures(worst.width_mm, spot_mm);
        findings.push(Finding { piece: id.map(str::to_owned), ..finding });
    }
}

/// The speed at which an operation is sooner done at the same dose.
pub(crate) fn quicker(
    operation: &PlacedOperation,
    figures: &OperationFigures,
    findings: &mut Vec<Finding>,
) {
    let Some(quicker) = &figures.quicker else { return };
    let message = format!(
        "operation \"{}\" takes about {} at {} mm/s; {} mm/s at {} % is the same dose in about {}",
        operation.name,
        clock(quicker.asked_s),
        fixed(figures.speed_mm_per_s, 1),
        fixed(quicker.speed_mm_per_s, 1),
        fixed(quicker.power_percent, 2),
        clock(quicker.takes_s),
    );
    let finding = Finding::new(Code::Quicker, message);
    findings.push(Finding { value: Some(quicker.speed_mm_per_s), ..finding });
}

/// Grey fills that burn as black ones do. Where an operation picks that very grey, it stands for
/// something.
pub(crate) fn grey(
    art: &Art,
    operations: &[PlacedOperation],
    rules: &[Operation],
) -> Option<Finding> {
    let mut names: Vec<&str> = Vec::new();
    for (number, operation) in operations.iter().enumerate().filter(|(_, o)| o.work == Work::Area) {
        let picked = rules.get(number).and_then(|rule| match &rule.rule.pick.value {
            Pick::Fill(colour) => Some(Rgb::new(colour.red, colour.green, colour.blue)),
            _ => None,
        });
        let fills = operation.parts.iter().filter(|part| part.part == Part::Fill);
        for part in fills.filter(|part| !art.is_shaded(part.shape)) {
            let Some(shape) = art.shapes.get(part.shape) else { continue };
            let is_grey = shape.fill.is_some_and(|fill| {
                let Rgb { red, green, blue } = fill.colour;
                let spread = red.max(green).max(blue) - red.min(green).min(blue);
                spread <= GREY_SPREAD
                    && fill.colour.luminance(fill.opacity) > BLACK
                    && !fill.is_bare()
                    && picked != Some(fill.colour)
            });
            let Some(element) = art.elements.get(shape.element).filter(|_| is_grey) else {
                continue;
            };
            if !names.contains(&element.name.as_str()) {
                names.push(&element.name);
            }
        }
    }
    let first = names.first()?;
    let message = format!(
        "grey fills burn as black ones do: {}; give them an operation with `work = \"picture\"` to \
         burn them as greys",
        listed(&names)
    );
    Some(Finding::new(Code::Grey, message).of_element(first))
}

#[cfg(test)]
mod tests {
    use crate::{Code, Options, Source, check, wrap};
    use stave_setup::{Setup, read_blank, read_job, read_machine};

    const CAN: &str = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n";
    /// The spot is 0.2 mm wide.
    const BENCH: &str = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = \
                         5000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\n\
                         acceleration = 2000\n[[lens]]\nname = \"one\"\nfocal_length = 50\nspot = \
                         0.2\ndepth_of_focus = 2\n[area]\nspeed = 200\npower = \
                         40\nlines_per_inch = 300\n[line]\nspeed = 60\npower = 20\n";

    fn setup(job: &str) -> Setup {
        let (blank, machine) = (read_blank(CAN, "b.toml"), read_machine(BENCH, "m.toml"));
        Setup::new(blank.unwrap(), machine.unwrap(), read_job(job, "j.toml").unwrap()).unwrap()
    }

    fn drawing(body: &str) -> String {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='188.496mm' height='100mm' viewBox='0 0 \
             188.496 100'>{body}</svg>"
        )
    }

    fn found(body: &str, job: &str, code: Code) -> Vec<crate::Finding> {
        let svg = drawing(body);
        let setup = setup(job);
        let report = check(Source::drawing(svg.as_bytes()), &setup, &Options::default()).unwrap();
        let of = |findings: Vec<crate::Finding>| {
            findings.into_iter().filter(|found| found.code == code).collect::<Vec<_>>()
        };
        // `wrap` says the very same.
        let wrapped =
            wrap(Source::drawing(svg.as_bytes()), Vec::new(), &setup, &Options::default());
        let checked = of(report.findings);
        assert_eq!(of(wrapped.unwrap().findings), checked);
        checked
    }

    #[test]
    fn a_hairline_of_a_shape_and_a_slit_are_told_with_their_places() {
        // The page's bottom middle is at 0, turn 0: 94.248 from the left, 50 from the bottom.
        let bar = "<rect id='bar' x='94.248' y='50' width='20' height='0.12'/>";
        let thin = found(bar, "", Code::Thin);
        assert_eq!(thin.len(), 1, "{thin:?}");
        assert_eq!(thin[0].piece.as_deref(), Some("bar"));
        assert!((thin[0].value.unwrap() - 0.12).abs() < 1e-4 && thin[0].limit == Some(0.2));
        assert!((thin[0].at.unwrap() - 49.94).abs() < 1e-3, "{thin:?}");
        let turn = thin[0].turn.unwrap();
        assert!(turn < 0.0 && turn > -20.0 / 30.0_f64 * 57.2958, "{thin:?}");
        let slit = "<path id='slit' d='M80 40h20v9h-20zM80 49.15h20v9h-20z'/>";
        let thin = found(slit, "", Code::Thin);
        assert_eq!(thin.len(), 1, "{thin:?}");
        assert!((thin[0].value.unwrap() - 0.15).abs() < 1e-4, "{thin:?}");
        assert!(thin[0].message.contains("gap"), "{thin:?}");
        // What hides half of it makes a wide one narrow; black on black is no gap and no shape.
        let covered = "<rect id='a' x='80' y='40' width='20' height='9'/>\
                       <rect x='79' y='40.1' width='22' height='10' fill='#fff'/>";
        assert_eq!(found(covered, "", Code::Thin).len(), 1);
        let within = "<rect id='a' x='80' y='40' width='20' height='9'/>\
                      <rect x='85' y='45' width='5' height='0.1'/>";
        assert_eq!(found(within, "", Code::Thin), []);
        let wide = "<rect x='80' y='40' width='20' height='9'/>\
                    <circle cx='60' cy='50' r='0.6'/><path d='M20 20 40 20 30 40z'/>";
        assert_eq!(found(wide, "", Code::Thin), []);
    }

    #[test]
    fn lines_too_near_to_each_other_are_told() {
        let pair = |gap: f64| {
            format!(
                "<g id='two' fill='none' stroke='#000' stroke-width='0.3'><path d='M80 40h20'/>\
                 <path d='M80 {}h20'/></g>",
                40.0 + gap
            )
        };
        let thin = found(&pair(0.15), "", Code::Thin);
        assert!(thin.len() == 1 && (thin[0].value.unwrap() - 0.15).abs() < 1e-4, "{thin:?}");
        assert_eq!(found(&pair(0.25), "", Code::Thin), []);
        let hair = pair(3.0).replace("0.3", "0.05");
        let thin = found(&hair, "", Code::Thin);
        assert!(thin.len() == 1 && (thin[0].value.unwrap() - 0.05).abs() < 1e-4, "{thin:?}");
    }

    #[test]
    fn grey_fills_are_told_and_a_grey_that_is_asked_for_is_not() {
        let body = "<rect id='g' x='80' y='40' width='20' height='9' fill='#808080'/>\
                    <rect x='80' y='60' width='20' height='9' fill='#111'/>\
                    <rect x='80' y='80' width='20' height='9' fill='#1f3a5f'/>";
        let grey = found(body, "", Code::Grey);
        assert_eq!(grey.len(), 1, "{grey:?}");
        assert_eq!(grey[0].element.as_deref(), Some("g"));
        let job = |pick: &str| {
            format!(
                "[[operation]]\nname = \"a\"\npick = {{ {pick} }}\nwork = \"area\"\nspeed = \
                 200\npower = 40\nlines_per_inch = 300\n"
            )
        };
        assert_eq!(found(body, &job("fill = \"#808080\""), Code::Grey), []);
        assert_eq!(found(body, &job("id = \"g\""), Code::Grey).len(), 1);
    }

    /// The same art at the speed told: as much sooner as said, by the plan of the whole program.
    #[test]
    fn the_quicker_speed_is_quicker_at_the_same_dose() {
        let body = "<rect x='60' y='40' width='30' height='3'/>";
        let job = |speed: f64, power: f64| {
            format!(
                "[[operation]]\nname = \"a\"\npick = {{ fill = \"black\" }}\nwork = \
                 \"area\"\nspeed = {speed}\npower = {power}\nlines_per_inch = 300\n"
            )
        };
        let svg = drawing(body);
        let time = |job: &str| {
            let setup = setup(job);
            let source = Source::drawing(svg.as_bytes());
            let report = wrap(source, Vec::new(), &setup, &Options::default()).unwrap();
            let energy = report.operations[0].power_percent / report.operations[0].speed_mm_per_s;
            (report.estimate.unwrap().duration_s, energy)
        };
        let quicker = found(body, &job(400.0, 80.0), Code::Quicker);
        assert_eq!(quicker.len(), 1, "{quicker:?}");
        let speed = quicker[0].value.unwrap();
        assert!(speed < 300.0, "{quicker:?}");
        let (asked, told) = (time(&job(400.0, 80.0)), time(&job(speed, 80.0 * speed / 400.0)));
        assert!(told.0 < 0.95 * asked.0, "{told:?} {asked:?}");
        assert!((told.1 - asked.1).abs() < 1e-9 * asked.1);
        // No other speed is much sooner: a look at those around it.
        for other in [0.7, 0.85, 1.2, 1.4].map(|share| share * speed) {
            let other_s = time(&job(other, 80.0 * other / 400.0)).0;
            assert!(other_s > 0.98 * told.0, "{other} mm/s: {other_s} s, {} s", told.0);
        }
        assert_eq!(found(body, &job(speed, 80.0 * speed / 400.0), Code::Quicker), []);
        // Full power bounds how fast, and what no longer marks how slow.
        assert_eq!(
            found("<rect x='10' y='20' width='9' height='60'/>", &job(20.0, 100.0), Code::Quicker),
            []
        );
    }
}

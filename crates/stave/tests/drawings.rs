//! Drawings as people have them, from their bytes to the program.
#![allow(clippy::unwrap_used, missing_docs)]

use std::f64::consts::PI;

use stave::setup::{read_blank, read_job, read_machine};
use stave::{Code, Options, Setup, Source, WrapReport, check, redraw};

const MACHINE: &str = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = \
    5000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n[area]\n\
    speed = 250\npower = 40\nline_spacing = 0.5\n[line]\nspeed = 60\npower = 20\n";

fn can(length_mm: f64) -> String {
    format!("[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = {length_mm}\ndiameter = 80\n")
}

fn setup(length_mm: f64) -> Setup {
    let blank = read_blank(&can(length_mm), "can.toml").unwrap();
    let machine = read_machine(MACHINE, "bench.toml").unwrap();
    Setup::new(blank, machine, read_job("", "job.toml").unwrap()).unwrap()
}

fn template(length_mm: f64, art: &str) -> String {
    let blank = read_blank(&can(length_mm), "can.toml").unwrap();
    let page = stave::template(&blank, None, &read_job("", "job.toml").unwrap(), None, "").unwrap();
    page.replace("</svg>", &format!("{art}</svg>"))
}

fn wrap(svg: &str, length_mm: f64) -> WrapReport {
    stave::wrap(drawing(svg), Vec::new(), &setup(length_mm), &Options::default()).unwrap()
}

fn drawing(svg: &str) -> Source<'_> {
    Source::drawing(svg.as_bytes())
}

fn codes(report: &WrapReport) -> Vec<Code> {
    report.findings.iter().map(|finding| finding.code).collect()
}

/// The page is as long as the wall; 32 bits put what touches its edge a little beyond.
#[test]
fn art_on_the_edge_of_the_template_burns_at_the_end_of_every_wall() {
    for tenths in 400..500 {
        let length_mm = f64::from(tenths) / 10.0 + 60.0;
        let (low, high) = (length_mm - 30.0, length_mm);
        let art = format!(
            "<path d=\"M100 {low}h20V{high}h-20z\"/><path d=\"M130 0v{high}\" fill=\"none\" \
             stroke=\"#000\"/>"
        );
        let report = wrap(&template(length_mm, &art), length_mm);
        assert!(report.at_min.unwrap().abs() < 1e-3, "{length_mm}: {:?}", report.at_min);
        assert!(report.at_max.unwrap() <= length_mm + 1e-3, "{length_mm}: {:?}", report.at_max);
        assert!(!codes(&report).contains(&Code::Cut), "{length_mm}: {:?}", report.findings);
    }
}

#[test]
fn what_lies_off_the_page_is_cut_on_all_four_sides_and_told() {
    let page_mm = 80.0 * PI;
    // The strokes are burned along their middle, and reach off too.
    let art = "<path id=\"cross\" d=\"M-20 40h400v20h-400zM100 -20h20v200h-20z\"/>";
    let report = wrap(&template(100.0, art), 100.0);
    assert!(report.at_min.unwrap().abs() < 1e-3 && (report.at_max.unwrap() - 100.0).abs() < 1e-3);
    let turns = (report.turn_min_deg.unwrap(), report.turn_max_deg.unwrap());
    // One turn at most: which one, and where in it a burn all round begins, is the plan's affair.
    assert!(turns.1 - turns.0 <= 360.5, "{turns:?}");
    let cut = report.findings.iter().find(|finding| finding.code == Code::Cut).unwrap();
    assert_eq!(cut.element.as_deref(), Some("cross"));
    let line = format!("<path d=\"M-9 50H{}\" fill=\"none\" stroke=\"#000\"/>", page_mm + 9.0);
    let report = wrap(&template(100.0, &line), 100.0);
    assert!((report.burn_mm - page_mm).abs() < 0.1, "{}", report.burn_mm);
}

/// Art that reaches far off the page to one side spans what is left of it, and has no seam.
#[test]
fn how_far_art_goes_round_is_reckoned_after_the_cut() {
    let art = "<rect x=\"152\" y=\"40\" width=\"400\" height=\"20\"/>";
    let report = wrap(&template(100.0, art), 100.0);
    let span = report.turn_max_deg.unwrap() - report.turn_min_deg.unwrap();
    let due = (80.0 * PI - 152.0) / 40.0_f64 * 180.0 / PI;
    assert!((span - due).abs() < 2.0, "{span} for {due}");
    assert!(report.operations[0].seam_mm.is_none(), "{:?}", report.operations[0]);
}

#[test]
fn what_is_left_out_refuses_in_every_command_unless_allowed() {
    let art = "<linearGradient id=\"dawn\"><stop stop-color=\"red\"/><stop offset=\"1\"/>\
         </linearGradient><rect id=\"sky\" x=\"20\" y=\"20\" width=\"9\" height=\"9\" \
         fill=\"url(#dawn)\"/><rect x=\"60\" y=\"20\" width=\"9\" height=\"9\"/>";
    let svg = template(100.0, art);
    let setup = setup(100.0);
    let strict = Options::default();
    let mut out = Vec::new();
    let error = stave::wrap(drawing(&svg), &mut out, &setup, &strict).unwrap_err();
    assert!(error.exit_status() == 1 && error.to_string().contains("sky"), "{error}");
    assert!(out.is_empty());
    let report = check(drawing(&svg), &setup, &strict).unwrap();
    assert!(!report.fit && report.findings.iter().any(|f| f.code == Code::LeftOut));
    let allowed = Options::allowing([Code::LeftOut]);
    let report = stave::wrap(drawing(&svg), &mut out, &setup, &allowed).unwrap();
    assert!(codes(&report).contains(&Code::LeftOut));
    // Drawn anew it is carried along as a picture, and stands in no single ink.
    let mut redrawn = Vec::new();
    redraw(drawing(&svg), &mut redrawn, &setup, &strict).unwrap();
    let redrawn = String::from_utf8(redrawn).unwrap();
    assert!(!redrawn.contains("#ff0000") && redrawn.contains("<image id=\"sky\""), "{redrawn}");
}

/// A stroke of 2 mm under a scale of 2 by 0.5: 4 mm wide one way, 1 mm the other.
#[test]
fn redrawn_strokes_under_an_uneven_scale_are_outlined() {
    let art = "<g transform=\"translate(100 20) scale(2 .5)\"><path id=\"l\" d=\"M5 10v60h20\" \
         fill=\"none\" stroke=\"#000\" stroke-width=\"2\"/></g>";
    let svg = template(100.0, art);
    let mut redrawn = Vec::new();
    redraw(drawing(&svg), &mut redrawn, &setup(100.0), &Options::default()).unwrap();
    let redrawn = String::from_utf8(redrawn).unwrap();
    let path = redrawn.split("<path id=\"l\"").nth(1).unwrap().split("/>").next().unwrap();
    assert!(path.contains("fill=\"#000000\"") && !path.contains("stroke-width"), "{path}");
    let width = redrawn.split("width=\"").nth(1).unwrap().split("mm").next().unwrap();
    assert!((width.parse::<f64>().unwrap() - 80.0 * PI).abs() < 1e-3, "{width}");
}

#[test]
fn more_pieces_than_can_be_laid_are_refused() {
    let groups: String = (0..10_001)
        .map(|i| {
            format!("<g><rect x=\"{}\" y=\"{}\" width=\".1\" height=\".1\"/></g>", i % 200, i / 200)
        })
        .collect();
    let source = template(100.0, &groups);
    let error = stave::wrap(drawing(&source), Vec::new(), &setup(100.0), &Options::default());
    let error = error.unwrap_err();
    assert!(error.exit_status() == 2 && error.to_string().contains("10001 pieces"), "{error}");
}

#[test]
fn an_operation_that_burns_nothing_says_why() {
    let open = "<path d=\"M20 20h30\"/><rect x=\"90\" y=\"9\" width=\"9\" height=\"9\" \
         fill=\"none\" stroke=\"#000\"/>";
    let report = wrap(&template(100.0, open), 100.0);
    let told = report.warnings.join("\n");
    assert!(told.contains("fills of lines without an inside"), "{told}");
    let hidden = "<rect x=\"20\" y=\"20\" width=\"9\" height=\"9\"/><rect x=\"10\" y=\"10\" \
         width=\"30\" height=\"30\" fill=\"#fff\"/><path d=\"M90 20h30\" fill=\"none\" \
         stroke=\"#000\"/>";
    let report = wrap(&template(100.0, hidden), 100.0);
    let told = report.warnings.join("\n");
    assert!(told.contains("is hidden by what lies over it"), "{told}");
}

#![allow(clippy::unwrap_used)]

use kurbo::Point;
use stave_check::Code;
use stave_parse::svg::Fonts;
use stave_setup::{AirLevel, Dose, Setup, read_blank, read_job, read_machine};
use stave_toolpath::art::{Part, Work};
use stave_wall::{Anchor, LayKind};

use super::{Layout, Purpose};
use crate::error::Error;
use crate::source::{Options, Source};

const BLANK: &str = "[[station]]\nat = 10\ndiameter = 80\n[[station]]\nat = 110\ndiameter = 60\n";
const MACHINE: &str = "name = \"bench\"\n[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = \
                       500\nacceleration = 5000\n\
    [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n";
const DEFAULTS: &str =
    "[area]\nspeed = 250\npower = 40\nline_spacing = 0.1\n[line]\nspeed = 60\npower = 20\n";

/// A page of 100 x 50 mm with a navy flag, a red ring in a group, and a white ground.
const FLAG: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="50mm"
    viewBox="0 0 100 50">
  <rect id="ground" width="100" height="50" fill="white"/>
  <rect id="flag" x="10" y="20" width="20" height="10" fill="#000080"/>
  <g id="belt"><path id="ring" d="M70 20h20v20h-20z" fill="none" stroke="#c01818" stroke-width="2"/></g>
</svg>"##;

fn setup(job: &str, defaults: &str) -> Setup {
    let machine = format!("{MACHINE}{defaults}");
    Setup::new(
        read_blank(BLANK, "b").unwrap(),
        read_machine(&machine, "m").unwrap(),
        read_job(job, "j").unwrap(),
    )
    .unwrap()
}

fn read(svg: &str, job: &str, defaults: &str) -> Result<Layout, Error> {
    // Letters of single lines alone.
    let options = Options { fonts: Fonts::from_files([]), ..Options::default() };
    let source = Source::drawing(svg.as_bytes()).named("flag.svg");
    Layout::read(&source, &setup(job, defaults), &options, Purpose::Burn)
}

fn found(layout: &Layout) -> Vec<(Code, &str)> {
    layout.findings.iter().map(|finding| (finding.code, finding.message.as_str())).collect()
}

fn close(one: Point, other: Point) -> bool {
    one.distance(other) < 1e-4
}

#[test]
fn each_piece_is_laid_from_its_own_centre_and_white_ground_does_not_shift_it() {
    let layout = read(FLAG, "", DEFAULTS).unwrap();
    let ids: Vec<&str> = layout.pieces.iter().map(|piece| piece.id.as_str()).collect();
    assert_eq!(ids, ["ground", "belt"]);
    // The flag's middle on the page is (20, 25): 25 mm above the bottom edge, 30 mm left of the
    // page's middle.
    assert!(close(layout.pieces[0].centre_flat, Point::new(25.0, 30.0)), "{:?}", layout.pieces[0]);
    assert!(close(layout.pieces[1].centre_flat, Point::new(20.0, -30.0)));
    let names: Vec<(&str, Work)> =
        layout.operations.iter().map(|o| (o.name.as_str(), o.work)).collect();
    assert_eq!(names, [("areas", Work::Area), ("lines", Work::Line)]);
    let flag = &layout.operations[0].parts[0];
    assert_eq!((flag.part, flag.piece), (Part::Fill, 0));
    let setting = layout.lays[flag.lay].setting();
    assert_eq!(setting.kind, LayKind::TrueWidth);
    assert!(
        matches!(setting.anchor, Anchor::Point { u_mm, v_mm } if close(Point::new(u_mm, v_mm), Point::new(25.0, 30.0)))
    );
    assert_eq!(layout.operations[1].dose, Dose::Even);
    assert_eq!(
        found(&layout),
        [(Code::Bare, "white and near-white are bare ware, and these are not burned: ground")]
    );
}

#[test]
fn a_piece_beats_an_operation_and_an_operation_beats_the_job() {
    let job = "lay = \"even-angle\"\nanchor = \"drawing\"\ndose = \"as-given\"\n\
        [[piece]]\nid = \"belt\"\nlay = \"label\"\nanchor = \"piece\"\n\
        [[operation]]\nname = \"all\"\npick = { id = \"belt\" }\nwork = \"line\"\nspeed = \
                                10\npower = 10\nlay = \"true-shape\"\n\
        [[operation]]\nname = \"navy\"\npick = { fill = \"navy\" }\nwork = \"area\"\nspeed = \
                                20\npower = 30\n\
        line_spacing = 0.2\nlay = \"true-shape\"\nair = \"off\"\npasses = 2\ndose = \"even\"\n";
    let layout = read(FLAG, job, "").unwrap();
    let lay = |operation: usize| layout.lays[layout.operations[operation].parts[0].lay].setting();
    assert_eq!(lay(0).kind, LayKind::Label);
    assert!(matches!(lay(0).anchor, Anchor::Point { .. }));
    assert_eq!(lay(1).kind, LayKind::TrueShape);
    assert_eq!(lay(1).anchor, Anchor::Drawing);
    let navy = &layout.operations[1];
    assert_eq!((navy.passes, navy.air, navy.dose), (2, AirLevel::Off, Dose::Even));
    assert_eq!(navy.line_spacing_mm, Some(0.2));
    assert_eq!(layout.operations[0].dose, Dose::AsGiven);
    assert_eq!(layout.lays[layout.pieces[0].lay].setting().kind, LayKind::EvenAngle);
}

#[test]
fn the_art_can_be_placed_by_its_centre() {
    let layout = read(FLAG, "[place]\nat = 60\nturn = 90\nof = \"art\"\n", DEFAULTS).unwrap();
    // The art's box is 10..90 by 20..40 on the page.
    assert!(close(layout.to_flat * Point::new(50.0, 30.0), Point::ORIGIN));
    assert!(close(layout.to_flat * Point::new(50.0, 20.0), Point::new(10.0, 0.0)));
}

#[test]
fn what_picks_nothing_and_what_nothing_picks_is_told() {
    let job = "[[piece]]\nid = \"crown\"\n[[operation]]\nname = \"gold\"\npick = { fill = \
               \"gold\" }\nwork = \"line\"\nspeed = 10\n\
        power = 10\n";
    let layout = read(FLAG, job, "").unwrap();
    assert_eq!(layout.warnings, ["[[piece]] names what is not drawn: crown"]);
    insta::assert_snapshot!(found(&layout)[1].1, @r#"no operation picks flag, filled with #000080: left out; the nearest fill that is picked is #ffd700, by operation "gold""#);
    assert_eq!(found(&layout)[2].1, "no operation picks ring, outlined with #c01818: left out");
    insta::assert_snapshot!(found(&layout)[0].1, @r#"operation "gold" burns nothing: nothing drawn is filled with #ffd700; its fills are #ffffff, #000080; correct its `pick`, or say `optional = true`"#);
    let codes: Vec<Code> = found(&layout).iter().map(|found| found.0).collect();
    assert_eq!(codes, [Code::NoMatch, Code::Unpicked, Code::Unpicked, Code::Bare]);
    let optional = job.replace("work =", "optional = true\nwork =");
    let layout = read(FLAG, &optional, "").unwrap();
    assert_eq!(found(&layout).len(), 3, "{:?}", layout.findings);
}

#[test]
fn an_id_that_is_not_there_names_the_nearest() {
    let job = "[[operation]]\nname = \"r\"\npick = { id = \"rinq\" }\nwork = \"line\"\nspeed = \
               10\npower = 10\n";
    let layout = read(FLAG, job, "").unwrap();
    let (code, message) = found(&layout)[0];
    assert_eq!(code, Code::NoMatch);
    assert!(message.contains("its ids are ring, ground, flag, belt"), "{message}");
}

#[test]
fn what_is_seen_and_not_burned_is_an_error_of_its_kind() {
    let svg = FLAG.replace(
        "<g id=\"belt\">",
        "<linearGradient id=\"dawn\"><stop stop-color=\"red\"/><stop offset=\"1\"/></linearGradient>
         <rect id=\"sky\" width=\"9\" height=\"9\" fill=\"url(#dawn)\"/>
         <rect id=\"sea\" width=\"9\" height=\"9\" fill=\"url(#dawn)\"/>
         <image id=\"photo\" width=\"9\" height=\"9\" href=\"a.png\"/>
         <text id=\"word\">oar</text><g id=\"belt\">",
    );
    let layout = read(&svg, "", DEFAULTS).unwrap();
    insta::assert_snapshot!(
        layout.findings.iter().map(|f| format!("{} {} {}\n", f.severity, f.code, f.message)).collect::<String>(),
        @r#"
    error left-out flag.svg: line 6, sky: a gradient, which no operation burns: left out; take it as a picture (work = "picture"), or cut it at a darkness (work = "area" with a `threshold`); and 1 more alike: sea
    error left-out flag.svg: line 8, photo: it lies in a file beside the drawing, whose folder is not known: left out; embed the picture
    error font flag.svg: line 9, word: no font is installed for this text: left out; install one or turn it into outlines
    note bare white and near-white are bare ware, and these are not burned: ground
    "#);
    assert_eq!(layout.findings[0].element.as_deref(), Some("sky"));
}

#[test]
fn a_page_that_is_not_the_blanks_is_told() {
    // The turn at the largest diameter is 251.3 mm, the wall 100.5 mm along.
    let sized = |width: &str, height: &str| {
        let size = format!("width=\"{width}\" height=\"{height}\"");
        let svg = FLAG.replace("width=\"100mm\" height=\"50mm\"", &size);
        let layout = read(&svg, "", DEFAULTS).unwrap();
        let page = layout.findings.iter().filter(|f| f.code == Code::Page);
        page.map(|f| f.message.clone()).collect::<Vec<_>>()
    };
    assert_eq!(sized("251.327mm", "100mm"), [""; 0]);
    assert_eq!(sized("100mm", "50mm"), [""; 0]);
    let wide = sized("300mm", "100mm");
    assert!(wide.len() == 1 && wide[0].contains("300 mm around"), "{wide:?}");
    // The page at 96 px to the inch, read by who takes 72 of them for one.
    let scaled = sized("188.5mm", "75.37mm");
    assert!(scaled.len() == 1 && scaled[0].contains("75.37 mm along"), "{scaled:?}");
    let px = sized("1200", "400");
    assert!(px.iter().any(|told| told.contains("317.5 mm around")), "{px:?}");
}

#[test]
fn art_without_speed_and_power_is_refused_unless_it_is_only_shown() {
    let error = read(FLAG, "", "[line]\nspeed = 60\npower = 20\n").unwrap_err();
    assert_eq!(error.exit_status(), 2);
    insta::assert_snapshot!(error, @r#"flag.svg: the drawing has fills (flag), but the job names no [[operation]] and the machine "bench" has no [area]: give either, so that there are a speed and a power"#);
    let options = Options::default();
    let shown =
        Layout::read(&Source::drawing(FLAG.as_bytes()), &setup("", ""), &options, Purpose::Show)
            .unwrap();
    assert!(shown.operations.is_empty());
    assert_eq!(shown.pieces.len(), 2);
}

#[test]
fn bare_path_data_is_a_line() {
    let setup = setup("", DEFAULTS);
    let layout =
        Layout::read(&Source::path("M0 0h30v10z"), &setup, &Options::default(), Purpose::Burn)
            .unwrap();
    assert_eq!(layout.operations.len(), 1);
    assert_eq!(layout.operations[0].parts[0].part, Part::Outline);
    // The page is the path's box.
    assert_eq!(layout.to_flat * Point::new(15.0, 10.0), Point::ORIGIN);
    let error = Layout::read(&Source::path("M0 0w"), &setup, &Options::default(), Purpose::Burn);
    assert_eq!(error.unwrap_err().exit_status(), 2);
}

#[test]
fn a_label_too_large_for_the_wall_names_its_piece_and_the_size_that_fits() {
    let fits = read(FLAG, "lay = \"label\"", DEFAULTS).unwrap();
    assert_eq!(fits.folds(&setup("", "").blank.wall), []);
    let tall =
        FLAG.replace("y=\"20\" width=\"20\" height=\"10\"", "y=\"0\" width=\"20\" height=\"50\"");
    let layout = read(&tall, "lay = \"label\"\n[place]\nat = 90\n", DEFAULTS).unwrap();
    let folds = layout.folds(&setup("", "").blank.wall);
    assert_eq!(folds.len(), 2, "each piece is told once");
    assert_eq!((folds[0].code, folds[0].piece.as_deref()), (Code::Fold, Some("ground")));
    assert!(folds[0].message.starts_with("the label reaches"), "{}", folds[0].message);
}

#[test]
fn the_page_to_draw_on_is_no_art() {
    let blank = read_blank(BLANK, "b").unwrap();
    let page = crate::template(&blank, None, &stave_setup::JobFile::default(), None, "").unwrap();
    let drawn = page.replace("</svg>", "<circle id=\"dot\" cx=\"100\" cy=\"40\" r=\"5\"/></svg>");
    assert!(drawn.contains("stave-guides"));
    let layout = read(&drawn, "", DEFAULTS).unwrap();
    let names: Vec<&str> =
        layout.art.elements.iter().map(|element| element.name.as_str()).collect();
    assert_eq!(names, ["dot"]);
    assert!(layout.warnings.is_empty(), "{:?}", layout.warnings);
}

/// White that is seen through makes lighter what a browser shows beneath it, and the ware does not.
#[test]
fn white_that_is_seen_through_is_told_by_what_lies_beneath_it() {
    let disc = |id: &str, x: u32| {
        format!("<circle id='{id}' cx='{x}' cy='10' r='5' fill='#fff' opacity='.5'/>")
    };
    let hole = "<circle id='hole' cx='30' cy='10' r='3' fill='#fff'/>";
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='50mm' viewBox='0 0 100 50'>\
         {}<rect width='40' height='20'/>{}{hole}{}</svg>",
        disc("under", 10),
        disc("veil", 10),
        disc("far", 60)
    );
    let layout = read(&svg, "", DEFAULTS).unwrap();
    let told: Vec<&str> = found(&layout)
        .into_iter()
        .filter_map(|(code, message)| (code == Code::Bare).then_some(message))
        .collect();
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told[0].ends_with("these are not burned: under, hole, far"), "{told:?}");
    assert!(told[1].starts_with("these are white that is seen through"), "{told:?}");
    assert!(told[1].ends_with("the grey that is seen: veil"), "{told:?}");
}

/// A customer signs for what is read on the ware: no more, no less, and as it is read.
#[test]
fn the_words_to_read_over_are_those_that_come_to_be_read() {
    let read_over = |drawn: &str, job: &str| {
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"50mm\" \
             viewBox=\"0 0 100 50\" font-family=\"stave-line\" font-size=\"6\">{drawn}</svg>"
        );
        let layout = read(&svg, job, DEFAULTS).unwrap();
        layout.read_over(&layout.words, &setup(job, DEFAULTS))
    };
    let plain = |drawn: &str| read_over(drawn, "");
    assert_eq!(plain("<text x='5' y='10'>Ada <tspan>Quill</tspan></text>"), ["Ada Quill"]);
    // Two lines, two tspans in one line, letters placed one by one.
    let lines = "<text><tspan x='5' y='10'>Ada</tspan><tspan x='5' y='20'>Quill</tspan></text>";
    assert_eq!(plain(lines), ["Ada / Quill"]);
    let stepped = "<text x='5' y='9'>Ada<tspan x='5' dy='8'>Quill</tspan></text>";
    assert_eq!(plain(stepped), ["Ada / Quill"]);
    assert_eq!(plain("<text x='5 9 13 17' y='10'>O AR</text>"), ["O AR"]);
    // Titles and what is hidden are not read; what is used is, as often as it stands there.
    let hidden =
        "<text x='5' y='10'><title>no</title>Oar<tspan visibility='hidden'>s</tspan></text>
         <text x='5' y='20' display='none'>no</text><defs><text id='t' y='20'>Tide</text></defs>
         <use href='#t' x='30'/><use href='#t' x='60'/><text x='400' y='10'>off the page</text>";
    assert_eq!(plain(hidden), ["Oar", "Tide", "Tide"]);
    // What is covered is not read, what is covered in part is.
    let covered = "<text x='5' y='10'>Oar</text><text x='5' y='30'>Tide</text>
         <rect y='2' width='40' height='12'/><rect y='22' width='12' height='12' fill='#ccc'/>";
    assert_eq!(plain(covered), ["Tide (in part)"]);
    assert_eq!(plain("<text x='-3' y='10'>Oar</text>"), ["Oar (in part)"]);
    // Of a text what is painted, in a colour that is read.
    let parts = "<text x='5' y='10'>Oar<tspan fill='none'>no</tspan>End<tspan fill='#fff'>no</tspan>\
                 </text>";
    assert_eq!(plain(parts), ["Oar End"]);
    // White is read in what burns, and nowhere else.
    let white = "<rect width='40' height='20'/><text x='5' y='10' fill='white'>Oar</text>
         <text x='60' y='40' fill='white'>Tide</text>";
    assert_eq!(plain(white), ["Oar"]);
    // What is cut by letters has their shape.
    let cut = "<clipPath id='c'><text x='5' y='15' font-size='12'>Oar</text></clipPath>
         <rect width='60' height='30' clip-path='url(#c)'/><rect x='70' width='9' height='9'/>";
    assert_eq!(plain(cut), ["Oar"]);
    // What a pattern repeats is read once, where what it paints burns.
    let pattern = "<pattern id='p' width='20' height='9' patternUnits='userSpaceOnUse'>\
                   <g><text y='7'>Oar<tspan fill='none'>no</tspan></text></g></pattern>";
    let picture = "[[operation]]\nname = \"a\"\nwork = \"picture\"\nspeed = \
                   60\npower = 20\nline_spacing = 0.1\n";
    let in_pattern = format!("{pattern}<rect width='90' height='40' fill='url(#p)'/>");
    assert_eq!(read_over(&in_pattern, picture), ["Oar"]);
    let covered = format!("{in_pattern}<rect width='99' height='49' fill='#fff'/>");
    assert_eq!(read_over(&covered, picture), [""; 0]);
    // What no operation picks stays off the ware.
    let picked = "[[operation]]\nname = \"a\"\npick = { stroke = \"#c01818\" }\nwork = \
                  \"line\"\nspeed = 60\npower = 20\n";
    let two = "<text x='5' y='10' fill='none' stroke='#c01818'>Oar</text>
         <text x='5' y='30' fill='none' stroke='navy'>Tide</text>";
    assert_eq!(read_over(two, picked), ["Oar"]);
}

/// An area that two operations pick burns twice, which may be meant and is told.
#[test]
fn what_two_operations_pick_is_told() {
    let operation = |name: &str, pick: &str, work: &str| {
        format!(
            "[[operation]]\nname = \"{name}\"\npick = {{ {pick} }}\nwork = \"{work}\"\nspeed = \
             60\npower = 20\n{}",
            if work == "area" { "line_spacing = 0.1\n" } else { "" }
        )
    };
    let by_fill = operation("dark", "fill = \"#000080\"", "area");
    let told = |job: &str| read(FLAG, &format!("{by_fill}{job}"), "").unwrap().warnings;
    let twice = "operations \"dark\" and \"flag\" both pick these, which burn in each: flag";
    assert_eq!(told(&operation("flag", "id = \"flag\"", "area")), [twice]);
    // A line along the edge of an area is another thing.
    assert_eq!(told(&operation("flag", "id = \"flag\"", "line")), [""; 0]);
}

//! Flat places of the ware: burned as planes, while the rotary stands at their turn.

use std::path::Path;

use serde_json::Value;

use crate::command::run;

const CUP: &str = "name = \"cup\"\n[[station]]\nat = 0\ndiameter = 80\n\
    [[station]]\nat = 70\ndiameter = 80\n[[station]]\nat = 71\ndiameter = 84\n\
    [[station]]\nat = 80\ndiameter = 84\n\
    [[zone]]\nname = \"mark\"\nat = [20, 26]\nturn = [85, 95]\nmargin = 0\n\
    [[zone]]\nname = \"boss\"\nat = [10, 60]\nturn = [125, 160]\nrise = 30\n\
    [[facet]]\nname = \"front\"\nturn = 90\nat = [10, 65]\nwidth = 42\nheight = 34\n";

const AXES: &str = "name = \"bench\"\n[controller]\nfull_power = 1000\nfeed_counts = \"all-axes\"\n\
    [x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 400\nacceleration = 3000\n\
    [line]\nspeed = 60\npower = 20\n[area]\nspeed = 250\npower = 40\nlines_per_inch = 300\n\
    [[lens]]\nname = \"medium\"\nfocal_length = 60\nspot = 0.2\ndepth_of_focus = 0.6\n";
const ROTARY: &str =
    "[rotary]\nword = \"A\"\nunits_per_turn = 720\nspeed = 360\nacceleration = 2000\n";

const FLAT: &str = "G21 G90\nG0 X30 Y-10\nM4 S300\nG1 X50 F1200\nY10\nX35 Y-15\nM5\nM2\n";

struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new(blank: &str, machine: &str, job: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in [("cup.toml", blank), ("bench.toml", machine), ("job.toml", job)] {
            std::fs::write(folder.path().join(name), text).unwrap();
        }
        Self { folder }
    }

    fn path(&self, name: &str) -> String {
        let path: &Path = self.folder.path();
        path.join(name).to_str().unwrap().to_owned()
    }

    fn run(&self, command: &[&str], input: &str) -> crate::command::Outcome {
        let (blank, machine) = (self.path("cup.toml"), self.path("bench.toml"));
        let mut arguments = command.to_vec();
        arguments.extend(["-b", &blank, "-m", &machine]);
        run(&arguments, input.as_bytes())
    }

    /// Under the job.
    fn job(&self, command: &[&str], input: &str) -> crate::command::Outcome {
        let job = self.path("job.toml");
        self.run(&[command, &["-j", &job]].concat(), input)
    }
}

fn bench(rotary: &str, job: &str) -> Bench {
    Bench::new(CUP, &format!("{AXES}{rotary}"), &format!("place.facet = \"front\"\n{job}"))
}

/// Where every move goes, word by word: letter and value.
fn words(program: &str) -> Vec<(char, f64)> {
    let moves = program.lines().filter(|line| line.starts_with(['G', 'X', 'Y', 'A', 'B']));
    let words = moves.flat_map(|line| line.split(' ').map(str::to_owned).collect::<Vec<_>>());
    let axes = words.filter(|word| word.starts_with(['X', 'Y', 'Z', 'A', 'B', 'C']));
    axes.map(|word| (word.chars().next().unwrap(), word[1..].parse().unwrap())).collect()
}

fn of_axis(program: &str, axis: char) -> Vec<f64> {
    words(program).into_iter().filter(|(letter, _)| *letter == axis).map(|(_, v)| v).collect()
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error}: {text}"))
}

#[test]
fn a_plane_is_burned_as_it_is_drawn_and_the_rotary_stands_at_its_turn() {
    let bench = bench(ROTARY, "");
    let done = bench.job(&["wrap"], FLAT).done();
    let program = done.out_text();
    assert_eq!(of_axis(program, 'X'), [30.0, 50.0, 35.0]);
    assert_eq!(of_axis(program, 'Y'), [-10.0, 10.0, -15.0]);
    // 90 degrees of 720 units a turn, once and before anything burns.
    assert_eq!(of_axis(program, 'A'), [180.0]);
    assert!(program.find("G0 A180\n").unwrap() < program.find("M4").unwrap());
    assert!(done.err.contains("flat place front, which A180 turns up"), "{}", done.err);
    // Read back, with the job and without it.
    for checked in
        [bench.run(&["check", "--json"], program), bench.job(&["check", "--json"], program)]
    {
        let report = json(checked.done().out_text());
        assert_eq!(report["fit"], true, "{report:#}");
    }
    assert_eq!(json(bench.job(&["check", "--json"], FLAT).done().out_text())["fit"], true);
    let machine = bench.path("bench.toml");
    let alone =
        json(run(&["estimate", "--json", "-m", &machine], program.as_bytes()).done().out_text());
    let known = json(bench.run(&["estimate", "--json"], program).done().out_text());
    let length = 20.0 + 20.0 + 15_f64.hypot(25.0);
    for report in [&alone, &known] {
        assert!((report["burn_mm"].as_f64().unwrap() - length).abs() < 1e-3, "{report:#}");
    }
    assert_eq!(alone["duration_s"], known["duration_s"]);
    // What is said as it is written is what is read back.
    let out = bench.path("out.nc");
    bench.job(&["wrap", "-o", &out], FLAT).done();
    let written = std::fs::read_to_string(out).unwrap();
    let head = written.lines().next().unwrap();
    let took = head.split("time=0000:00:").nth(1).unwrap()[..2].parse::<f64>().unwrap();
    assert!((took - known["duration_s"].as_f64().unwrap()).abs() <= 1.0, "{head}");
}

#[test]
fn what_goes_past_its_edge_is_not_fit() {
    let bench = bench(ROTARY, "");
    for wide in ["G1 X50 Y21.1 F1200", "G1 X50 Y-21.1 F1200", "G1 X55.1 F1200", "G1 X-0.1 F1200"] {
        let program = FLAT.replace("G1 X50 F1200", wide);
        let refused = bench.job(&["wrap"], &program);
        assert_eq!(refused.status, Some(1), "{wide}: {}", refused.err);
        let checked = bench.job(&["check", "--json"], &program);
        assert_eq!(checked.status, Some(1), "{wide}");
        let report = json(checked.out_text());
        assert!(
            report["findings"].as_array().unwrap().iter().any(|one| one["code"] == "off-wall"),
            "{wide}: {report:#}"
        );
    }
    // Just on the edge it is.
    let edge = FLAT.replace("G1 X50 F1200", "G1 X50 Y-21 F1200");
    assert_eq!(bench.job(&["wrap"], &edge).status, Some(0));
    let drawing = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60mm\" height=\"54mm\" \
        viewBox=\"0 0 60 54\"><path d=\"M5 2H55\" stroke=\"black\" fill=\"none\"/></svg>";
    let refused = bench.job(&["wrap", "--from-type", "svg"], drawing);
    assert_eq!(refused.status, Some(1), "{}", refused.err);
    assert!(refused.err.contains("past the edge of the flat place \"front\""), "{}", refused.err);
    // And a finished program that was moved.
    let program = bench.job(&["wrap"], FLAT).done().out_text().replace("Y10", "Y25");
    let checked = bench.run(&["check"], &program);
    assert_eq!(checked.status, Some(1));
}

#[test]
fn zones_and_what_stands_beside_count() {
    // The mark lies over the plane as it is seen from the axis.
    let bench = bench(ROTARY, "");
    let over = FLAT.replace("G1 X50 F1200", "G1 X12 Y0 F1200");
    let refused = bench.job(&["wrap"], &over);
    assert_eq!(refused.status, Some(1), "{}", refused.err);
    assert!(refused.err.contains("mark"), "{}", refused.err);
    // A boss 35 degrees aside is 70 mm out and stands 57 mm above the axis there, 40 mm across.
    let nozzle = "[[nozzle]]\nname = \"barrel\"\nradius = 5\ngap = 6\n";
    let machine = format!("{AXES}{ROTARY}{nozzle}");
    let job = "place.facet = \"front\"\n";
    // Cut from the foot on, so that the nozzle is nowhere over the wall beside.
    let cup = CUP.replace("at = [10, 65]", "at = [0, 65]");
    let with_nozzle = Bench::new(&cup, &machine, job);
    let gap_mm = |bench: &Bench, to: &str| {
        let program = FLAT.replace("Y10", to);
        let report = json(bench.job(&["check", "--json"], &program).out_text());
        report["nozzles"][0]["gap_mm"].as_f64().unwrap_or_else(|| panic!("{report:#}"))
    };
    // At the very edge the nozzle's rim is 26 mm across, and the boss's face begins at the axis:
    // 26 mm across it is 26 / tan 35 high.
    let face_mm = 26.0 / 35_f64.to_radians().tan();
    let found = gap_mm(&with_nozzle, "Y21");
    assert!((found - (34.0 + 6.0 - face_mm)).abs() < 0.8, "{found}, the face {face_mm}");
    // One that leans farther in is struck.
    let wide = cup.replace("turn = [125, 160]", "turn = [115, 160]");
    let struck = Bench::new(&wide, &machine, job);
    let refused = struck.job(&["wrap", "--zones", "ignore"], &FLAT.replace("Y10", "Y21"));
    assert_eq!(refused.status, Some(1), "{}", refused.err);
    assert!(refused.err.contains("clearance") && refused.err.contains("boss"), "{}", refused.err);
}

#[test]
fn every_way_a_machine_may_lie() {
    let jobs = [("", 1.0), ("toward = \"x-\"\n", -1.0)];
    for (more, along_sign) in jobs {
        // `toward` is a key of the top, before the table of the place.
        let job = format!("{more}place.facet = \"front\"\n");
        let reversed = format!("{ROTARY}reverse = true\n");
        for (rotary, turn_sign) in [(ROTARY, 1.0), (&*reversed, -1.0)] {
            let bench = Bench::new(CUP, &format!("{AXES}{rotary}"), &job);
            let done = bench.job(&["wrap"], FLAT).done();
            let program = done.out_text();
            let all = |axis| of_axis(program, axis);
            assert_eq!(all('X'), [30.0, 50.0, 35.0].map(|x| along_sign * x), "{program}");
            assert_eq!(all('Y'), [-10.0, 10.0, -15.0].map(|y| along_sign * y), "{program}");
            assert_eq!(all('A'), [180.0 * along_sign * turn_sign], "{program}");
            assert_eq!(bench.run(&["check"], program).status, Some(0));
        }
    }
    // Along Y the program's Y is along and its -X across, as on the wall.
    let along_y = format!("{ROTARY}along = \"y\"\n");
    let bench = bench(&along_y, "");
    let turned = "G21 G90\nG0 Y30 X10\nM4 S300\nG1 Y50 F1200\nX-10\nM5\nM2\n";
    let done = bench.job(&["wrap"], turned).done();
    let program = done.out_text();
    assert_eq!(of_axis(program, 'Y'), [30.0, 50.0], "{program}");
    assert_eq!(of_axis(program, 'X'), [10.0, -10.0], "{program}");
    assert_eq!(bench.run(&["check"], program).status, Some(0));
    assert_eq!(bench.run(&["estimate"], program).status, Some(0));
    let walked = bench.run(&["walk"], program).done();
    assert_eq!(of_axis(walked.out_text(), 'A'), [180.0]);
    assert_eq!(bench.run(&["check"], walked.out_text()).status, Some(0));
}

#[test]
fn it_is_walked_resumed_and_proved_as_any_program() {
    let bench = bench(ROTARY, "zero.turn = 30\n");
    let done = bench.job(&["wrap"], FLAT).done();
    let program = done.out_text();
    assert_eq!(of_axis(program, 'A'), [120.0]);
    for (walked, how) in
        [(bench.run(&["walk"], program), "wrapped"), (bench.job(&["walk"], FLAT), "flat")]
    {
        let walked = walked.done();
        // The rotary stands still: no turn is told, but where it goes across the place.
        let round = "round the program: 40 to 60 mm along, across -15 to 10 mm, 4 corners";
        assert!(walked.err.contains(round), "{how}: {}", walked.err);
        let text = walked.out_text();
        assert_eq!(of_axis(text, 'A'), [120.0], "{how}");
        let y = of_axis(text, 'Y');
        assert!(y.iter().all(|y| (-15.001..=10.001).contains(y)), "{how}: {y:?}");
        assert_eq!(bench.run(&["check"], text).status, Some(0), "{how}");
    }
    std::fs::write(bench.path("p.nc"), program).unwrap();
    let (path, machine) = (bench.path("p.nc"), bench.path("bench.toml"));
    for at in ["0.2", "1.9"] {
        let rest = run(&["resume", &path, "-m", &machine, "--at", at], b"").done();
        let text = rest.out_text();
        let first_burn = text.find("M4").unwrap();
        assert!(text.find("G0 A120").unwrap() < first_burn, "{text}");
        assert_eq!(bench.run(&["check"], text).status, Some(0));
    }
    let proof = bench.path("proof.svg");
    bench.run(&["proof", &path, "-o", &proof], "").done();
    let drawing = std::fs::read_to_string(&proof).unwrap();
    assert!(drawing.contains("flat place front"), "the sheet names the place");
    assert!(drawing.contains("The flat place &quot;front&quot;, seen from above"), "{drawing}");
    assert!(!drawing.contains("front, from turn 0°"), "no side of a turned piece");
    let page = bench.path("proof.html");
    bench.run(&["proof", &path, "-o", &page], "").done();
    let page = std::fs::read_to_string(&page).unwrap();
    assert!(page.contains("\"plane\":true") && page.contains("burned across"));
    let customer = bench.path("customer.svg");
    bench.run(&["proof", &path, "--for-customer", "-o", &customer], "").done();
    let customer = std::fs::read_to_string(&customer).unwrap();
    assert!(customer.contains("flat place front: 55 mm measured along, 42 mm wide"), "{customer}");
    // Another blank has no such place.
    let bare: String = CUP.split("[[facet]]").next().unwrap().to_owned();
    let other = Bench::new(&bare, &format!("{AXES}{ROTARY}"), "");
    for command in ["check", "estimate", "walk"] {
        let refused = other.run(&[command], program);
        assert_eq!(refused.status, Some(2), "{command}: {}", refused.err);
        assert!(refused.err.contains("flat place \"front\""), "{command}: {}", refused.err);
    }
}

#[test]
fn the_page_to_draw_on_is_the_place() {
    let bench = bench(ROTARY, "");
    let (blank, job) = (bench.path("cup.toml"), bench.path("job.toml"));
    let page = run(&["template", "-b", &blank, "-j", &job], b"").done();
    assert!(page.out_text().contains("width=\"42mm\" height=\"55mm\""), "{}", page.out_text());
    assert!(page.out_text().contains("middle") && !page.out_text().contains("⌀"));
    // Art as large as the page fits to the edge.
    let art = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"42mm\" height=\"55mm\" \
        viewBox=\"0 0 42 55\"><path d=\"M0 0H42V30H0Z\" stroke=\"black\" fill=\"none\" \
        stroke-width=\"0.1\"/></svg>";
    let done = bench.job(&["wrap", "--from-type", "svg"], art).done();
    let y = of_axis(done.out_text(), 'Y');
    let most = y.iter().copied().fold(0.0_f64, |most, y| most.max(y.abs()));
    assert!((most - 21.0).abs() < 1e-9, "{y:?}");
    let x = of_axis(done.out_text(), 'X');
    assert!(x.iter().any(|x| (x - 55.0).abs() < 1e-9) && !done.err.contains("page"), "{x:?}");
    let missing = run(&["template", "-b", &blank, "--place-facet", "back"], b"");
    assert_eq!(missing.status, Some(2));
    assert!(missing.err.contains("it has \"front\""), "{}", missing.err);
}

#[test]
fn a_swatch_lies_in_its_middle_and_no_turn_is_sought_for_it() {
    let job = "place.facet = \"front\"\n";
    let bench = Bench::new(CUP, &format!("{AXES}{ROTARY}"), job);
    let more = ["--powers", "20", "--speeds", "100", "--size", "6", "--place-at", "45"];
    let swatch = bench.job(&[&["swatch"], &more[..]].concat(), "");
    let y = of_axis(swatch.out_text(), 'Y');
    assert!(!y.is_empty(), "{}", swatch.err);
    let ends = y.iter().fold((0.0_f64, 0.0_f64), |(low, high), y| (low.min(*y), high.max(*y)));
    assert!(ends.0 >= -21.0 && ends.1 <= 21.0, "{ends:?}");
    assert_eq!(of_axis(swatch.out_text(), 'A'), [180.0]);
    assert_eq!(bench.run(&["check"], swatch.out_text()).status, Some(0));
    std::fs::write(bench.path("points"), "drawn 0 0 met X2 Y0\ndrawn 30 10 met X32 Y10\n").unwrap();
    let points = bench.path("points");
    let refused = bench.job(&["place", &points], "");
    assert_eq!(refused.status, Some(2), "{}", refused.err);
    assert!(refused.err.contains("the pointer to its first end"), "{}", refused.err);
}

/// The rotary turns the whole of the ware to its flat place: what hangs below it then may strike
/// the bed. The boss ends 20 degrees short of straight down as the rotary sets out, (40 + 30) ·
/// cos 20° below the axis.
#[test]
fn what_hangs_down_while_a_flat_place_burns_may_strike_the_bed() {
    let over = |height: u32, blank: &str| {
        let rotary = format!("{ROTARY}axis_height = {height}\n");
        let job = "place.facet = \"front\"\n";
        Bench::new(blank, &format!("{AXES}{rotary}"), job).job(&["check", "-"], FLAT)
    };
    let flat = |outcome: &crate::command::Outcome| {
        outcome.out_text().split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let due = 70.0 * 20_f64.to_radians().cos();
    let struck = flat(&over(50, CUP));
    let told = format!("the zone \"boss\" strikes the bed, {:.2} mm deep", due - 50.0);
    assert!(struck.contains(&told), "{told}: {struck}");
    // The plate itself is 34 mm from the axis and 42 wide; the wall behind it reaches 42 mm down.
    let bare = CUP.replace("rise = 30", "rise = 0");
    assert!(flat(&over(41, &bare)).contains("the wall strikes the bed, 1 mm deep"));
    assert!(!flat(&over(44, &bare)).contains("bed"));
}

/// A controller that reads drawings turns the work under its beam: a flat place would be turned
/// away.
#[test]
fn a_flat_place_is_not_drawn_anew() {
    let art = "<svg xmlns='http://www.w3.org/2000/svg' width='40mm' height='30mm' viewBox='0 0 40 \
               30'><path d='M5 5h20v10h-20z'/></svg>";
    let bench = bench(ROTARY, "");
    let outcome = bench.job(&["wrap", "-", "--to", "svg"], art);
    assert_eq!(outcome.status, Some(2), "{}", outcome.err);
    assert!(outcome.out.is_empty() && outcome.err.contains("\"front\" stands still"));
}

/// The axis across the work draws the arrow's R there: the rotary's sense has no part in it.
#[test]
fn an_arrow_on_a_flat_place_says_nothing_of_the_rotary() {
    let bench = bench(ROTARY, "");
    let told = |outcome: crate::command::Outcome| {
        let outcome = outcome.done();
        format!("{}{}", String::from_utf8_lossy(&outcome.out), outcome.err)
    };
    let flat = told(bench.job(&["swatch", "--arrow"], ""));
    assert!(flat.contains("which stands still here") && !flat.contains("change `reverse`"));
    let round = told(bench.run(&["swatch", "--arrow", "--place-at", "30"], ""));
    assert!(round.contains("change `reverse`"), "{round}");
}

/// Round art over a flat place would burn far out of focus: told in every command that judges, and
/// beside it nothing is.
#[test]
fn a_flat_place_that_a_job_burns_as_round_wall_is_told() {
    let bench = Bench::new(CUP, &format!("{AXES}{ROTARY}"), "");
    let flat = "G21 G90\nG0 X30 Y-5\nM4 S300\nG1 X50 F1200\nY5\nM5\nM2\n";
    let told = "this burns the flat place \"front\" as if the wall went round there";
    for words in [&["check", "-"][..], &["wrap", "-"]] {
        let over = bench.run(&[words, &["--place-turn", "90"]].concat(), flat);
        let text = format!("{}{}", over.out_text(), over.err);
        let line = text.replace("\n         ", " ");
        assert_eq!(over.status, Some(1), "{text}");
        assert!(line.contains(told) && line.contains("up to 6 mm below"), "{text}");
        let beside = bench.run(&[words, &["--place-turn", "270"]].concat(), flat);
        let text = format!("{}{}", beside.out_text(), beside.err);
        assert!(!text.contains("flat place"), "{text}");
    }
    // One long burn all the way round, both ends of which lie beside it.
    let around = "G21 G90\nG0 X30 Y-120\nM4 S300\nG1 Y120 F1200\nM5\nM2\n";
    let over = bench.run(&["check", "-", "--place-turn", "270"], around);
    assert!(over.out_text().contains("flat place"), "{}", over.out_text());
}

/// The rotary comes to its turn with a growing word, from twice its play below; and what reads the
/// program knows those travels for what they are.
#[test]
fn the_play_is_taken_up_on_the_way_to_its_turn() {
    for reverse in ["", "reverse = true\n"] {
        let play = format!("{ROTARY}{reverse}backlash = 1.5\n");
        let bench = bench(&play, "");
        let wrapped = bench.job(&["wrap", "-"], FLAT).done();
        let text = wrapped.out_text();
        let turned = of_axis(text, 'A');
        let plain = of_axis(
            self::bench(&format!("{ROTARY}{reverse}"), "")
                .job(&["wrap", "-"], FLAT)
                .done()
                .out_text(),
            'A',
        );
        assert_eq!(plain.len(), 1);
        assert_eq!(turned, [plain[0] - 3.0, plain[0]]);
        // Read again it is as long as it was said to be, and fit.
        let said = |text: &str| json(text)["duration_s"].as_f64().unwrap();
        let report = bench.path("report.json");
        bench.job(&["wrap", "-", "--report", &report], FLAT).done();
        let made = std::fs::read_to_string(&report).unwrap();
        let made_s = json(&made)["estimate"]["duration_s"].as_f64().unwrap();
        let read = bench.run(&["estimate", "-", "--json"], text).done();
        assert!((said(read.out_text()) - made_s).abs() < 2e-3, "{made_s} {}", read.out_text());
        bench.job(&["check", "-"], text).done();
        // A walk and what is resumed come to it so too.
        let walked = bench.job(&["walk", "-"], FLAT).done();
        assert_eq!(of_axis(walked.out_text(), 'A'), turned);
        std::fs::write(bench.path("made.nc"), text).unwrap();
        let lines = text.lines().position(|line| line.starts_with("G1")).unwrap() + 2;
        let (made, machine, line) =
            (bench.path("made.nc"), bench.path("bench.toml"), lines.to_string());
        let resumed = run(&["resume", &made, "-m", &machine, "--line", &line], b"").done();
        assert_eq!(of_axis(resumed.out_text(), 'A'), turned);
    }
}

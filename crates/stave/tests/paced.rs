//! Power that follows the speed: the energy per length is looked at from the words alone, with a
//! plan of the test's own.
#![allow(clippy::unwrap_used, missing_docs)]

use stave::setup::{read_blank, read_job, read_machine};
use stave::{Options, Setup, Source, WrapReport, check, estimate, wrap};

const RADIUS_MM: f64 = 30.0;
const CAN: &str = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 100\ndiameter = 60\n";
/// Speeds that no axis minds, accelerations that make ramps of millimetres.
const ACCELERATION: [f64; 2] = [800.0, 1200.0];
const TOLERANCE: f64 = 0.02;
const SPEED_MM_PER_S: f64 = 60.0;

fn setup(controller: &str) -> Setup {
    let machine = format!(
        "[controller]\n{controller}\n[x]\nspeed = 500\nacceleration = 800\n[y]\nspeed = \
         500\nacceleration = 800\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = \
         720\nacceleration = 1200\n"
    );
    let machine = read_machine(&machine, "bench.toml").unwrap();
    let blank = read_blank(CAN, "can.toml").unwrap();
    Setup::new(blank, machine, read_job("", "job.toml").unwrap()).unwrap()
}

/// A square with a blunt corner and a short side.
const FLAT: &str = "G21 G90\nG0 X20 Y0\nM3 S500\nG1 X40 Y0 F3600\nX40 Y15\nX28 Y15\nX20 Y9\nX20 \
                    Y8.5\nM5\nM2\n";

fn wrapped(setup: &Setup, flat: &str) -> (String, WrapReport) {
    let mut text = Vec::new();
    let report =
        wrap(Source::program(flat.as_bytes()), &mut text, setup, &Options::default()).unwrap();
    (String::from_utf8(text).unwrap(), report)
}

/// A move that burns: where it goes in X and A, and its S and F.
#[derive(Clone, Copy, Debug)]
struct Burn {
    from: [f64; 2],
    to: [f64; 2],
    s: f64,
    f: f64,
}

impl Burn {
    fn way(&self) -> [f64; 2] {
        [self.to[0] - self.from[0], self.to[1] - self.from[1]]
    }

    fn length(&self) -> f64 {
        let [x, a] = self.way();
        x.hypot(a)
    }

    fn wall_mm(&self) -> f64 {
        let [x, a] = self.way();
        x.hypot(a.to_radians() * RADIUS_MM)
    }
}

/// What burns, read word by word.
fn burns(text: &str) -> Vec<Burn> {
    let (mut at, mut s, mut f, mut burning) = ([0.0; 2], 0.0, 0.0, false);
    let mut found = Vec::new();
    for line in text.lines().filter(|line| !line.starts_with('(')) {
        let from = at;
        for word in line.split(' ') {
            let value = || word[1..].parse::<f64>().unwrap();
            match word.as_bytes()[0] {
                b'G' => burning = if value() == 1.0 { true } else { burning && value() > 1.0 },
                b'X' => at[0] = value(),
                b'A' => at[1] = value(),
                b'S' => s = value(),
                b'F' => f = value(),
                _ => {}
            }
        }
        if burning && s > 0.0 && at != from {
            found.push(Burn { from, to: at, s, f });
        }
    }
    found
}

/// Squares of the speeds at the ends of straight sides: full stops at both ends of the whole,
/// corners by the inscribed arc, and ramps between.
fn ends(sides: &[Burn]) -> Vec<f64> {
    let unit = |side: &Burn| side.way().map(|part| part / side.length());
    let least = |way: [f64; 2]| {
        let each = way.iter().zip(ACCELERATION).map(|(part, most)| most / part.abs());
        each.fold(f64::INFINITY, f64::min)
    };
    let mut squares = vec![0.0; sides.len() + 1];
    for (k, pair) in sides.windows(2).enumerate() {
        let (a, b) = (unit(&pair[0]), unit(&pair[1]));
        let turn = [b[0] - a[0], b[1] - a[1]];
        let size = turn[0].hypot(turn[1]);
        let pull = least(turn.map(|part| part / size));
        // The inside angle β: |t_out − t_in| = 2 cos(β/2).
        let sine = (1.0 - 0.25 * size * size).sqrt();
        let corner = pull * TOLERANCE * sine / (1.0 - sine);
        let limit = |side: &Burn| (side.f / 60.0).powi(2);
        squares[k + 1] = corner.min(limit(&pair[0])).min(limit(&pair[1]));
    }
    for k in 0..sides.len() {
        let most = squares[k] + 2.0 * least(unit(&sides[k])) * sides[k].length();
        squares[k + 1] = squares[k + 1].min(most);
    }
    for k in (0..sides.len()).rev() {
        let most = squares[k + 1] + 2.0 * least(unit(&sides[k])) * sides[k].length();
        squares[k] = squares[k].min(most);
    }
    squares
}

/// Parts that go straight on, as one.
fn sides(parts: &[Burn]) -> Vec<(Burn, Vec<Burn>)> {
    let mut sides: Vec<(Burn, Vec<Burn>)> = Vec::new();
    for part in parts {
        if let Some((side, of)) = sides.last_mut() {
            let (a, b) = (side.way(), part.way());
            let cross = (a[0] * b[1] - a[1] * b[0]) / (side.length() * part.length());
            if cross.abs() < 5e-3 && a[0] * b[0] + a[1] * b[1] > 0.0 {
                side.to = part.to;
                of.push(*part);
                continue;
            }
        }
        sides.push((*part, vec![*part]));
    }
    sides
}

/// Energy of each stretch of the wall a fifth of a millimetre long, over its length: S seconds to
/// the mm.
fn energies(text: &str) -> Vec<f64> {
    let sides = sides(&burns(text));
    let wholes: Vec<Burn> = sides.iter().map(|(side, _)| *side).collect();
    let squares = ends(&wholes);
    let mut energies = Vec::new();
    for (k, (side, parts)) in sides.iter().enumerate() {
        let unit = side.way().map(|part| part / side.length());
        let each = unit.iter().zip(ACCELERATION).map(|(part, most)| most / part.abs());
        let gain = each.fold(f64::INFINITY, f64::min);
        let (length, limit) = (side.length(), side.f / 60.0);
        let speed = |x: f64| {
            let up = squares[k] + 2.0 * gain * x;
            let down = squares[k + 1] + 2.0 * gain * (length - x);
            up.min(down).sqrt().min(limit)
        };
        let power = |x: f64| {
            let mut before = 0.0;
            let part = parts.iter().find(|part| {
                before += part.length();
                x <= before
            });
            part.or(parts.last()).unwrap().s
        };
        let windows = (side.wall_mm() / 0.2).floor();
        let (looks, mut window) = (400, 0.0);
        while window < windows {
            let mut energy = 0.0;
            for look in 0..looks {
                let share = (window + (f64::from(look) + 0.5) / f64::from(looks)) / windows;
                let dx = length / windows / f64::from(looks);
                energy += power(share * length) * dx / speed(share * length);
            }
            energies.push(energy / (side.wall_mm() / windows));
            window += 1.0;
        }
    }
    energies
}

#[test]
fn the_energy_per_length_is_that_asked_through_corners_and_ramps() {
    let asked = 500.0 / SPEED_MM_PER_S;
    let rule = "power = \"follows-speed\"\nbeam_on = \"M3\"";
    let (text, report) = wrapped(&setup(rule), FLAT);
    let found = energies(&text);
    assert!(found.len() > 250);
    for (k, energy) in found.iter().enumerate() {
        assert!((energy / asked - 1.0).abs() < 0.03, "{k}: {energy} of {asked}");
    }
    // Left alone, corners burn far deeper.
    let (plain, before) = wrapped(&setup(""), FLAT);
    let deepest = energies(&plain).into_iter().fold(0.0, f64::max);
    assert!(deepest > 2.0 * asked, "{deepest} of {asked}");
    // The motion is the same, the F words too, and every move is counted.
    let time = |report: &WrapReport| report.estimate.as_ref().unwrap().duration_s;
    assert!((time(&report) / time(&before) - 1.0).abs() < 2e-3);
    let feeds = |text: &str| text.matches(" F").count();
    assert_eq!(feeds(&text), feeds(&plain));
    let moves = |text: &str| burns(text).len() as u64;
    assert_eq!(report.moves_out - before.moves_out, moves(&text) - moves(&plain));
    // Reading it back finds the same.
    let setup = setup(rule);
    let read = check(Source::program(text.as_bytes()), &setup, &Options::default()).unwrap();
    let drawn = check(Source::program(FLAT.as_bytes()), &setup, &Options::default()).unwrap();
    let codes = |findings: &[stave::Finding]| findings.iter().map(|f| f.code).collect::<Vec<_>>();
    assert_eq!(codes(&read.findings), codes(&drawn.findings));
}

/// X does a third of what is asked along, the rotary less than half of what is asked around.
#[test]
fn where_an_axis_limits_the_speed_the_energy_is_that_asked_too() {
    let slow = |controller: &str, dose: &str| {
        let machine = format!(
            "[controller]\n{controller}\n[x]\nspeed = 20\nacceleration = 800\n[y]\nspeed = \
             500\nacceleration = 800\n[rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = \
             50\nacceleration = 1200\n"
        );
        let machine = read_machine(&machine, "bench.toml").unwrap();
        let blank = read_blank(CAN, "can.toml").unwrap();
        let job = read_job(dose, "job.toml").unwrap();
        Setup::new(blank, machine, job).unwrap()
    };
    let asked = 500.0 / SPEED_MM_PER_S;
    for dose in ["", "dose = \"even\"\n"] {
        let setup = slow("power = \"follows-speed\"", dose);
        let (text, report) = wrapped(&setup, FLAT);
        let found = energies(&text);
        assert!(found.len() > 250);
        for (k, energy) in found.iter().enumerate() {
            assert!((energy / asked - 1.0).abs() < 0.03, "{dose} {k}: {energy} of {asked}");
        }
        // Nobody is told that it burns darker, nor is its reader.
        let read = check(Source::program(text.as_bytes()), &setup, &Options::default()).unwrap();
        for told in report.findings.iter().chain(&read.findings) {
            assert!(!told.message.contains("darker"), "{}", told.message);
        }
        assert!(!report.findings.is_empty());
    }
}

#[test]
fn no_burn_goes_under_what_marks_and_m4_is_left_alone() {
    let (text, _) = wrapped(&setup("power = \"follows-speed\"\nleast_power = 20"), FLAT);
    let powers: Vec<f64> = burns(&text).iter().map(|burn| burn.s).collect();
    assert!(powers.iter().all(|s| *s >= 200.0 && *s <= 500.0), "{powers:?}");
    assert!(powers.contains(&200.0) && powers.contains(&500.0));
    let scaled = FLAT.replace("M3", "M4");
    let (followed, _) = wrapped(&setup("power = \"follows-speed\""), &scaled);
    let (constant, _) = wrapped(&setup(""), &scaled);
    let moves = |text: &str| text.lines().skip(1).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(moves(&followed), moves(&constant));
}

/// A circle, lines aslant, one that hardly goes along: on machines that round corners more or less,
/// or not at all, count F one way or another, or take their lines slowly.
#[test]
fn the_parts_of_a_burn_take_as_long_as_the_burn() {
    let flat = "G21 G90\nM3 S300 F3000\nG0 X20 Y0\nG2 X20 Y0 I5 J0\nG1 X50 Y25\nX50.003 \
                Y5\nG3 X44.003 Y11 I-6 J0\nG1 X20 Y7.3\nM5\nM2\n";
    for tolerance in ["0", "0.001", "0.02", "0.3"] {
        for rest in [
            "",
            "feed_counts = \"all-axes\"",
            "feed = \"inverse-time\"",
            "curves = \"corners\"",
            "lines_per_second = 120",
            "bytes_per_second = 9600",
            "decimals = 3",
            "decimals = 6",
        ] {
            let with =
                |power: &str| setup(&format!("{power}{rest}\ncorner_tolerance = {tolerance}\n"));
            let (text, report) = wrapped(&with("power = \"follows-speed\"\n"), flat);
            let (plain, before) = wrapped(&with(""), flat);
            let read = |text: &str| {
                let source = Source::program(text.as_bytes());
                let time = estimate(source, &with(""), &Options::default()).unwrap();
                time.duration_s
            };
            let (own_s, plain_s) = (read(&text), read(&plain));
            let said = format!("{tolerance} {rest}: {own_s} of {plain_s} s");
            assert!((own_s / plain_s - 1.0).abs() < 0.006, "{said}");
            // What stops at every corner is parted where no axis is rounded, the others everywhere.
            let more = report.moves_out - before.moves_out;
            assert!(more > if tolerance == "0" { 5 } else { 15 }, "{said}: {more}");
        }
    }
}

#[test]
fn comments_and_dwells_stay_where_they_are() {
    let flat = "G21 G90\nG0 X20 Y0\nM3 S500\nG1 X40 F3600\n(here)\nX60\nG4 P0.5\nX70\n(there)\nG0 \
                X0\nM5\nM2\n";
    let (followed, _) = wrapped(&setup("power = \"follows-speed\""), flat);
    let (constant, _) = wrapped(&setup(""), flat);
    // Parts of a move have their ends between the same words.
    let marks = |text: &str| {
        let of = |line: &str| {
            let end = ["X20", "X40", "X60", "X70", "X0"]
                .iter()
                .find(|end| line.split(' ').any(|word| word == **end));
            match end {
                Some(end) => Some((*end).to_owned()),
                None if line.starts_with("(here") || line.starts_with("(there") => {
                    Some(line.to_owned())
                }
                None => line.starts_with("G4").then(|| line.to_owned()),
            }
        };
        text.lines().filter_map(of).collect::<Vec<_>>()
    };
    assert_eq!(marks(&followed), marks(&constant));
    assert!(marks(&followed).len() >= 6, "{:?}", marks(&followed));
}

//! `[beam] lag`: light that comes late is asked for early by the speed at which the machine goes,
//! whatever holds it below the speed asked.

use crate::case::Case;
use crate::lay::LayKind;
use crate::pictures::{SPEED, png, wrapped};
use crate::program::{self, Kind, Move, Rate};

const LAG_S: f64 = 0.0006;

/// The ends of a scan line along the meridian, in the order of burning, each with the speed on the
/// wall of the move there.
type Ends = [(f64, f64); 2];

fn lines(case: &Case, more: &str) -> Vec<Ends> {
    let bench = case.bench();
    let picture = png(32, 24, |column, _| if column % 8 < 4 { 0 } else { 255 });
    let program = program::read(wrapped(case, &picture, more).done().out_text());
    let place = |at: &program::Axes| bench.rotary.place(&bench.wall, bench.rotary.of_axes(at));
    let speed = |m: &Move| {
        let way: f64 = (0..3).map(|k| (m.to[k] - m.from[k]).powi(2)).sum();
        let seconds = match m.rate {
            Some(Rate::PerMinute(feed)) => way.sqrt() / (feed / 60.0),
            Some(Rate::Inverse(feed)) => 60.0 / feed,
            None => panic!("a burn has a feed"),
        };
        (place(&m.to)[0] - place(&m.from)[0]).abs() / seconds
    };
    let mut lines: Vec<(f64, Ends)> = Vec::new();
    for m in program.moves.iter().filter(|m| m.kind == Kind::Burn) {
        let (a, b) = (place(&m.from), place(&m.to));
        match lines.last_mut() {
            Some((turn, ends)) if (*turn - a[1]).abs() < 1e-9 => ends[1] = (b[0], speed(m)),
            _ => lines.push((a[1], [(a[0], speed(m)), (b[0], speed(m))])),
        }
    }
    lines.into_iter().map(|(_, ends)| ends).collect()
}

#[test]
fn the_light_is_asked_for_by_the_speed_that_the_axes_leave() {
    let follow = |case: Case| Case { follow: true, ..case };
    let of = |blank, machine, at| Case::new(blank, machine, LayKind::EvenAngle, 0.0, at);
    for (case, slow) in [
        (of("can", "degrees", 20.0), true),
        (of("can", "along-y", 20.0), true),
        (of("can", "roller", 20.0), true),
        (of("can", "swapped", 20.0), true),
        (of("tumbler", "degrees", 60.0), true),
        (follow(of("ornament", "degrees", -15.0)), false),
        (follow(of("ornament", "along-y", -15.0)), false),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, from: &str, to: &str| {
            let mut machine = std::fs::read_to_string(&case.machine).unwrap();
            if slow {
                for axis in ["x", "y"] {
                    for speed in ["500.0", "400.0"] {
                        let held = format!("[{axis}]\nspeed = {speed}");
                        machine = machine.replace(&held, &format!("[{axis}]\nspeed = 83.776"));
                    }
                }
            }
            let path = folder.path().join(name);
            std::fs::write(&path, machine.replace(from, to)).unwrap();
            Case { machine: path, ..case.clone() }
        };
        let late = if std::fs::read_to_string(&case.machine).unwrap().contains("[beam]") {
            ("[beam]", format!("[beam]\nlag = {LAG_S}"))
        } else {
            ("[x]", format!("[beam]\nlag = {LAG_S}\n[x]"))
        };
        let plain = lines(&write("plain.toml", "", ""), "scan = \"along\"");
        let shifted = lines(&write("late.toml", late.0, &late.1), "scan = \"along\"");
        assert!(plain.len() > 50, "{case:?}");
        assert_eq!(plain.len(), shifted.len(), "{case:?}");
        let (mut slowest, mut fastest) = (f64::INFINITY, 0.0_f64);
        for (a, b) in plain.iter().zip(&shifted) {
            let way = (a[1].0 - a[0].0).signum();
            for k in 0..2 {
                let speed = f64::midpoint(a[k].1, b[k].1);
                (slowest, fastest) = (slowest.min(speed), fastest.max(speed));
                let early = way * (a[k].0 - b[k].0);
                assert!((early - speed * LAG_S).abs() < 1.5e-3, "{case:?} {a:?} {b:?}");
            }
        }
        assert!(slowest < 0.5 * SPEED, "{case:?} {slowest} {fastest}");
    }
}

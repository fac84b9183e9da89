//! Every fixture, wrapped every way, replayed on the wall.

use crate::case::{Bench, Case};
use crate::command::fixture;
use crate::ideal;
use crate::lay::{LAYS, LayKind};
use crate::program::{self, Kind, Program};
use crate::replay::{Also, fewest, replay};
use stave_tests::long;

const PROGRAMS: [&str; 8] =
    ["crest", "rope", "waves", "medallion", "pennant", "bands", "menu", "gauge"];
const PLAIN: Also = Also { power: true, focus: false };

fn text(program: &str) -> String {
    std::fs::read_to_string(fixture(&format!("programs/{program}.nc"))).unwrap()
}

/// Wraps and replays `program`; what is wrong with it, if anything.
fn check(case: &Case, program: &str, also: Also, greedy: bool) -> Option<String> {
    let name = format!("{program}, {case:?}");
    let text = text(program);
    let outcome = case.wrap(&text);
    if outcome.status != Some(0) {
        return Some(format!("{name}\n  status {:?}: {}", outcome.status, outcome.err));
    }
    let (bench, flat) = (case.bench(), program::read(&text));
    let wrapped = program::read(outcome.out_text());
    let report = replay(&bench, &flat, &wrapped, also);
    if report.fault_count > 0 {
        return Some(format!("{name}\n  {} faults: {:#?}", report.fault_count, report.faults));
    }
    if report.flat_burns < 50 || report.burns < report.flat_burns / 2 {
        return Some(format!("{name}\n  hardly anything was checked: {report:?}"));
    }
    if greedy {
        let fewest = fewest(&bench, &flat);
        if report.burns as f64 > 1.1 * fewest as f64 {
            return Some(format!(
                "{name}\n  {} burns where greedy cutting gives {fewest}",
                report.burns
            ));
        }
    }
    None
}

#[track_caller]
fn all_well(faults: impl Iterator<Item = Option<String>>) {
    let faults: Vec<_> = faults.flatten().collect();
    assert!(faults.is_empty(), "{} cases fail\n{}", faults.len(), faults.join("\n"));
}

/// All programs on one blank: three lays, two tilts, both feed modes. The core takes one of the
/// four ways of tilt and feed mode for each program and lay, in turn.
#[track_caller]
fn matrix(blank: &str, place_at: f64) {
    let mut faults = Vec::new();
    for (p, program) in PROGRAMS.into_iter().enumerate() {
        for (l, lay) in LAYS.into_iter().enumerate() {
            for (t, tilt) in [0.0, 4.0].into_iter().enumerate() {
                for (m, machine) in ["degrees", "swapped"].into_iter().enumerate() {
                    if !long() && (p + l) % 4 != 2 * t + m {
                        continue;
                    }
                    // Cutting does not depend on the feed mode, so one of the two is held against
                    // the fewest moves.
                    let greedy = machine == "degrees";
                    faults.push(check(
                        &Case::new(blank, machine, lay, tilt, place_at),
                        program,
                        PLAIN,
                        greedy,
                    ));
                }
            }
        }
    }
    all_well(faults.into_iter());
}

#[test]
fn on_the_can() {
    matrix("can", 20.0);
}

#[test]
fn on_the_cup() {
    matrix("cup", 30.0);
}

#[test]
fn across_the_bottle_s_step() {
    matrix("bottle", 70.0);
}

#[test]
fn on_the_ball() {
    matrix("ornament", -30.0);
}

#[test]
fn on_rollers_and_across_the_bed() {
    let mut faults = Vec::new();
    for (l, lay) in LAYS.into_iter().enumerate() {
        for (b, (blank, place)) in
            [("can", 55.0), ("cup", 57.0), ("bottle", 90.0)].into_iter().enumerate()
        {
            for (p, program) in ["crest", "medallion", "pennant"].into_iter().enumerate() {
                // The core takes each blank with each program and each lay once.
                if !long() && (l + b + p) % 3 != 0 {
                    continue;
                }
                faults.push(check(
                    &Case::new(blank, "along-y", lay, 4.0, place),
                    program,
                    PLAIN,
                    false,
                ));
                faults.push(check(
                    &Case::new(blank, "roller", lay, 0.0, place - 30.0),
                    program,
                    PLAIN,
                    false,
                ));
            }
        }
    }
    all_well(faults.into_iter());
}

#[test]
fn zero_anchor_direction_and_negative_tilt() {
    let mut faults = Vec::new();
    for lay in LAYS {
        let plain = Case::new("bottle", "swapped", lay, -3.0, 72.0);
        let turned = Case { place: (72.0, 30.0), zero: Some((50.0, -20.0)), ..plain.clone() };
        let anchored = Case { anchor: Some((25.0, 10.0)), toward_minus: true, ..turned.clone() };
        let coarse = Case { tolerance: 0.05, ..anchored.clone() };
        for case in [plain, turned, anchored, coarse] {
            faults.push(check(&case, "crest", PLAIN, true));
            faults.push(check(&case, "medallion", PLAIN, true));
        }
    }
    all_well(faults.into_iter());
}

#[test]
fn a_driven_focus_follows_the_crest() {
    let also = Also { power: true, focus: true };
    let mut faults = Vec::new();
    for (machine, place) in [("degrees", 70.0), ("along-y", 90.0)] {
        for tilt in [0.0, 4.0] {
            let case = Case {
                follow: true,
                ..Case::new("bottle", machine, LayKind::TrueWidth, tilt, place)
            };
            faults.push(check(&case, "crest", also, false));
            faults.push(check(&case, "pennant", also, false));
        }
    }
    all_well(faults.into_iter());
}

#[test]
fn a_job_file_and_options_say_the_same() {
    let case = Case {
        anchor: Some((5.0, -3.5)),
        zero: Some((60.0, 12.5)),
        ..Case::new("bottle", "degrees", LayKind::TrueShape, 2.5, 70.0)
    };
    let text = text("medallion");
    let (by_option, by_file) = (case.wrap(&text).done(), case.wrap_by_file(&text).done());
    let moves = |out: &str| {
        out.lines().filter(|l| !l.starts_with('(')).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(moves(by_option.out_text()), moves(by_file.out_text()));
}

/// Determinant and directional length of the lay's Jacobian at a flat point, by central differences
/// of the image.
fn stretch(bench: &Bench, m: &program::Move, t: f64) -> (f64, f64) {
    let h = 1e-4;
    let [x, y] = m.point(t);
    let r = bench.wall.at_s(bench.image([x, y])[0]).r;
    let rate = |dx: f64, dy: f64| {
        let (a, b) = (bench.image([x + dx * h, y + dy * h]), bench.image([x - dx * h, y - dy * h]));
        [(a[0] - b[0]) / (2.0 * h), r * (a[1] - b[1]) / (2.0 * h)]
    };
    let (jx, jy) = (rate(1.0, 0.0), rate(0.0, 1.0));
    let length = m.length();
    let along = [(m.to[0] - m.from[0]) / length, (m.to[1] - m.from[1]) / length];
    let jt = [jx[0] * along[0] + jy[0] * along[1], jx[1] * along[0] + jy[1] * along[1]];
    ((jx[0] * jy[1] - jx[1] * jy[0]).abs(), jt[0].hypot(jt[1]))
}

#[test]
fn an_even_dose_is_even() {
    let text = text("bands");
    for lay in LAYS {
        let case = Case { even_dose: true, ..Case::new("bottle", "degrees", lay, 0.0, 70.0) };
        let (bench, flat) = (case.bench(), program::read(&text));
        let outcome = case.wrap(&text).done();
        let wrapped = program::read(outcome.out_text());
        let report = replay(&bench, &flat, &wrapped, Also::default());
        assert_eq!(report.fault_count, 0, "{lay:?}: {:#?}", report.faults);
        // Scan lines are straight and each ends in a machine move, so the machine burns of a flat
        // burn are found by counting ends.
        let mut burns = wrapped.moves.iter().filter(|m| m.kind == Kind::Burn);
        let mut checked = 0;
        for m in flat.moves.iter().filter(|m| m.kind == Kind::Burn) {
            let end = bench.rotary.words(&bench.wall, bench.image(m.point(1.0)));
            loop {
                let w = burns.next().unwrap();
                let [from, to] = [w.from, w.to].map(|at| bench.rotary.of_axes(&at));
                let middle = [f64::midpoint(from[0], to[0]), f64::midpoint(from[1], to[1])];
                let place = bench.rotary.place(&bench.wall, middle);
                // The fraction of the scan line, which runs around: its image has the turn of the
                // middle.
                let (t0, t1) = (bench.image(m.point(0.0))[1], bench.image(m.point(1.0))[1]);
                let (det, along) = stretch(&bench, m, (place[1] - t0) / (t1 - t0));
                let expected = m.power.unwrap() * det / along;
                let found = w.power.unwrap();
                assert!(
                    (found / expected - 1.0).abs() < 0.011,
                    "{lay:?}, line {}: S {found} for {expected}",
                    w.line
                );
                checked += 1;
                if (to[0] - end[0]).abs() < 2e-4 && (to[1] - end[1]).abs() < 2e-4 {
                    break;
                }
            }
        }
        assert!(checked > 2000);
    }
}

fn in_order(program: &Program) -> Vec<Kind> {
    let mut kinds: Vec<_> = program.moves.iter().map(|m| m.kind).collect();
    kinds.dedup();
    kinds
}

#[test]
fn the_replay_accepts_an_ideal_program() {
    for (blank, place) in [("bottle", 70.0), ("ornament", -30.0)] {
        for lay in LAYS {
            for name in ["medallion", "gauge"] {
                let bench = Case::new(blank, "degrees", lay, 4.0, place).bench();
                let flat = program::read(&text(name));
                let report = replay(&bench, &flat, &ideal::wrapped(&bench, &flat), PLAIN);
                assert_eq!(report.fault_count, 0, "{blank}, {lay:?}, {name}: {:#?}", report.faults);
                assert_eq!(report.burns, fewest(&bench, &flat));
            }
        }
    }
}

#[test]
fn the_replay_sees_what_is_wrong() {
    // A checker that finds nothing must be shown to find what is planted.
    let case = Case::new("bottle", "degrees", LayKind::TrueWidth, 4.0, 70.0);
    let text = text("crest");
    let (bench, flat) = (case.bench(), program::read(&text));
    let good = ideal::wrapped(&bench, &flat);
    assert_eq!(replay(&bench, &flat, &good, PLAIN).fault_count, 0);
    assert_eq!(in_order(&good), in_order(&flat));
    let spoil = |change: &dyn Fn(&mut Vec<program::Move>)| {
        let mut bad = Program { moves: good.moves.clone(), ..Program::default() };
        change(&mut bad.moves);
        replay(&bench, &flat, &bad, PLAIN).fault_count
    };
    let middle = good.moves.iter().rposition(|m| m.kind == Kind::Burn).unwrap() / 2;
    let burn = (middle..)
        .find(|k| good.moves[*k].kind == Kind::Burn && good.moves[k + 1].kind == Kind::Burn)
        .unwrap();
    assert!(spoil(&|moves| moves[burn].to[3] += 0.05) > 0, "a point 0.03 mm off");
    assert!(spoil(&|moves| moves[burn].power = Some(1.0)) > 0, "another power");
    assert!(
        spoil(&|moves| moves[burn].rate = Some(program::Rate::PerMinute(1.0))) > 0,
        "another speed"
    );
    assert!(
        spoil(&|moves| {
            moves.remove(burn);
        }) > 0,
        "a burn left out"
    );
    assert!(spoil(&|moves| moves[burn].kind = Kind::Dark) > 0, "a burn gone dark");
    assert!(spoil(&|moves| moves[burn - 1].to = moves[burn].to) > 0, "a cut spared");
}

//! Flat engravings as exporters may write them, with `--scan`: rows in parts between each other,
//! comments among them, and what is no stretch of scan lines.

use crate::case::Case;
use crate::command::{Outcome, run};
use crate::lay::LAYS;
use crate::program::{self, Kind, Move};
use std::f64::consts::TAU;

const ROWS: usize = 48;
const CELLS: usize = 12;
const PITCH_MM: f64 = 0.2;
const CELL_MM: f64 = 1.5;
/// Of the engravings, mm/min.
const FEED: f64 = 9000.0;

/// The S word of a cell of a row; 0 is a gap.
fn strength(row: usize, cell: usize) -> usize {
    if (row / 5 + cell / 3).is_multiple_of(5) { 0 } else { 100 + (23 * row + 37 * cell) % 800 }
}

/// Rows in an order, there and back; `before` and `after` are put before each row and at the end of
/// each line. `number` is the number of the row among all.
fn rows(order: &[usize], before: impl Fn(usize) -> String, after: &str) -> String {
    let mut text = String::new();
    for (number, row) in order.iter().enumerate() {
        let (y, forward) = (*row as f64 * PITCH_MM, number % 2 == 0);
        let end_mm = CELLS as f64 * CELL_MM;
        let (run_up, first) = if forward { (-3.0, 0.0) } else { (end_mm + 3.0, end_mm) };
        text += &before(number);
        text += &format!("G0 X{run_up:.3} Y{y:.3}{after}\nG1 X{first:.3} S0{after}\n");
        for k in 0..CELLS {
            let cell = if forward { k } else { CELLS - 1 - k };
            let x = CELL_MM * (if forward { cell + 1 } else { cell }) as f64;
            text += &format!("G1 X{x:.3} S{}{after}\n", strength(*row, cell));
        }
        text += &format!("S0{after}\n");
    }
    text
}

fn plain(order: &[usize]) -> String {
    rows(order, |_| String::new(), "")
}

/// The same rows in their order, so far apart and from a Y on.
fn pitched(pitch_mm: f64, first_mm: f64) -> String {
    let mut text = String::new();
    for (row, line) in (0..).zip(plain(&in_order()).split_inclusive("S0\nG0")) {
        let drawn = format!("Y{:.3}", f64::from(row) * PITCH_MM);
        assert!(line.contains(&drawn));
        text += &line.replace(&drawn, &format!("Y{:.6}", first_mm + f64::from(row) * pitch_mm));
    }
    text
}

fn program(body: &str) -> String {
    format!("G21 G90 G94\nM4 S0\nF{FEED}\n{body}M5\nM2\n")
}

fn in_order() -> Vec<usize> {
    (0..ROWS).collect()
}

/// Every so manieth row, from one on.
fn every(step: usize, first: usize) -> Vec<usize> {
    (first..ROWS).step_by(step).collect()
}

/// A cup under a lay that turns lines of its axis away from constant turn.
fn cup() -> Case {
    Case::new("cup", "degrees", LAYS[1], 0.0, 40.0)
}

fn stave(case: &Case, command: &[&str], text: &str, how: &str) -> Outcome {
    let mut arguments = case.arguments();
    arguments.splice(0..1, command.iter().map(|word| (*word).to_owned()));
    arguments.extend(["--scan".to_owned(), how.to_owned()]);
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    run(&arguments, text.as_bytes())
}

fn wrapped(case: &Case, text: &str, how: &str) -> (Vec<Move>, String) {
    let outcome = stave(case, &["wrap"], text, how).done();
    let all = program::read(outcome.out_text()).moves;
    (all.into_iter().filter(|one| one.kind == Kind::Burn).collect(), outcome.err)
}

/// Burns, whichever way they go, in the order of where they lie: turn, ends along X, S.
fn burns(moves: &[Move]) -> Vec<[f64; 4]> {
    let mut all: Vec<[f64; 4]> = moves
        .iter()
        .map(|one| {
            let ends = (one.from[0].min(one.to[0]), one.from[0].max(one.to[0]));
            [one.to[3], ends.0, ends.1, one.power.unwrap()]
        })
        .collect();
    all.sort_by(|a, b| a.partial_cmp(b).unwrap());
    all
}

fn assert_same(one: &[Move], other: &[Move], times: usize) {
    let (one, other) = (burns(one), burns(other));
    assert_eq!(one.len(), times * other.len());
    for (k, burn) in one.iter().enumerate() {
        let of = other[k / times];
        assert!(burn.iter().zip(&of).all(|(a, b)| (a - b).abs() < 2e-3), "{burn:?} {of:?}");
    }
}

/// Whether each row of `order` has a burn of its own, which begins where its image does.
fn assert_followed(case: &Case, moves: &[Move], order: &[usize]) {
    let bench = case.bench();
    for row in order {
        let cell = (0..CELLS).find(|cell| strength(*row, *cell) > 0).unwrap();
        let ends =
            [cell, cell + 1].map(|k| bench.image([k as f64 * CELL_MM, *row as f64 * PITCH_MM]));
        let is_one_of = |at| {
            let [s, turn] = bench.rotary.place(&bench.wall, bench.rotary.of_axes(at));
            ends.iter().any(|end| (end[0] - s).abs() < 0.02 && (end[1] - turn).abs() < 4e-4)
        };
        let has = moves.iter().any(|one| is_one_of(&one.from) || is_one_of(&one.to));
        assert!(has, "row {row} is lost");
    }
}

/// An engraving that comes in parts with rows between each other is one picture.
#[test]
fn rows_between_rows_are_one_picture() {
    let back = |mut order: Vec<usize>| {
        order.reverse();
        order
    };
    let orders = [
        [every(2, 0), every(2, 1)].concat(),
        [every(2, 1), every(2, 0)].concat(),
        [every(2, 0), back(every(2, 1))].concat(),
        [every(3, 0), every(3, 1), every(3, 2)].concat(),
        [every(3, 0), every(3, 2), every(3, 1)].concat(),
        [every(4, 0), every(4, 2), every(4, 1), every(4, 3)].concat(),
    ];
    for how in ["again", "auto"] {
        for case in [cup(), Case::new("can", "degrees", LAYS[0], 0.0, 20.0)] {
            let (one, told) = wrapped(&case, &program(&plain(&in_order())), "again");
            assert!(told.contains("are 48 scan lines along X, 0.2 mm apart"), "{told}");
            for order in &orders {
                let text = program(&plain(order));
                if how == "auto" && case.lay == LAYS[0] {
                    continue;
                }
                let (parts, told) = wrapped(&case, &text, how);
                assert!(told.contains("are 48 scan lines along X, 0.2 mm apart"), "{told}");
                assert_eq!(told.matches("scanned again").count(), 1, "{told}");
                assert_same(&parts, &one, 1);
            }
        }
    }
    // Likewise in every command.
    let text = program(&plain(&orders[0]));
    let told = stave(&cup(), &["check"], &text, "again").done().err;
    assert!(told.contains("48 scan lines along X, 0.2 mm apart"), "{told}");
}

/// What is burned twice is two passes, on the same lines.
#[test]
fn the_same_rows_twice_are_two_passes() {
    let half = [every(2, 0), every(2, 1)].concat();
    let (one, _) = wrapped(&cup(), &program(&plain(&in_order())), "again");
    for order in [[in_order(), in_order()].concat(), [half.clone(), half].concat()] {
        let (twice, told) = wrapped(&cup(), &program(&plain(&order)), "again");
        assert_eq!(told.matches("are 48 scan lines along X, 0.2 mm apart").count(), 2, "{told}");
        assert_same(&twice, &one, 2);
    }
}

/// Rows between those of a stretch that they cannot be joined with are followed, and that is said.
#[test]
fn rows_between_rows_that_are_no_one_picture_are_followed() {
    let (even, odd) = (plain(&every(2, 0)), plain(&every(2, 1)));
    let outline = "G0 X-1 Y-2\nG1 X20 Y-1 S300\nS0\n";
    let apart = [
        ("an outline between", format!("{even}{outline}{odd}")),
        ("another speed", format!("{even}F6000\n{odd}")),
        ("another beam word", format!("{even}M3\n{odd}")),
    ];
    for (what, body) in apart {
        for how in ["again", "auto"] {
            let (moves, told) = wrapped(&cup(), &program(&body), how);
            assert!(told.contains("are 24 scan lines along X, 0.4 mm apart"), "{what}: {told}");
            assert!(told.contains("they are followed"), "{what}: {told}");
            assert_followed(&cup(), &moves, &every(2, 1));
        }
    }
    // Where the lay keeps lines straight every row has its own line, whatever lies between.
    let can = Case::new("can", "degrees", LAYS[0], 0.0, 20.0);
    let (one, _) = wrapped(&can, &program(&plain(&in_order())), "again");
    let (halves, told) = wrapped(&can, &program(&format!("{even}F6000\n{odd}")), "again");
    assert_eq!(told.matches("are 24 scan lines along X, 0.4 mm apart").count(), 2, "{told}");
    assert_same(&halves, &one, 1);
    // Another step: rows 0.6 mm apart over rows 0.4 mm apart, the first ones on the same place.
    let coarse = plain(&every(3, 0));
    let (moves, told) = wrapped(&cup(), &program(&format!("{even}{coarse}")), "again");
    assert!(told.contains("they are followed"), "{told}");
    assert_followed(&cup(), &moves, &every(3, 0));
    // What lies beside a stretch, and not over it, is one of its own.
    let beside = format!("{even}G92 X-30 Y0\n{odd}");
    let (_, told) = wrapped(&cup(), &program(&beside), "again");
    assert!(!told.contains("followed"), "{told}");
    assert_eq!(told.matches("scanned again").count(), 2, "{told}");
}

/// Rows on a taper lie as far apart as the work is wide: at the power they were drawn for the
/// energy on each mm² is told at both ends. The cup: 2.5 inches across at its foot, 10.9956 inches
/// around at 4.5 inches; 12,800 motor steps a turn.
#[test]
fn the_energy_is_told_at_both_ends_of_a_taper() {
    let (foot_mm, rim_mm, high_mm) = (31.75, 10.9956 * 25.4 / TAU, 114.3);
    let along = high_mm / f64::hypot(high_mm, rim_mm - foot_mm);
    let radius = |at_mm: f64| foot_mm + (rim_mm - foot_mm) * at_mm / high_mm;
    // The first cell of some rows begins at X0, and the last of some ends the row.
    let [narrowest, widest] = [0.0, CELLS as f64 * CELL_MM].map(|x_mm| radius(40.0 + x_mm * along));
    let motor_rad = TAU / 12_800.0;
    // Nine whole steps and a half: nine are no wider than the rows.
    let wider_mm = 9.5 * motor_rad * widest;
    // Nine whole steps at the widest, and so closer than the rows elsewhere.
    let whole_mm = 9.0001 * motor_rad * widest;
    for (lay, pitch_mm, step_rad) in [
        (LAYS[1], wider_mm, 9.0 * motor_rad),
        (LAYS[1], whole_mm, 9.0 * motor_rad),
        // Rows are drawn for the largest diameter.
        (LAYS[0], PITCH_MM, PITCH_MM / rim_mm),
    ] {
        let body = pitched(pitch_mm, 0.0);
        let mut case = Case { lay, ..cup() };
        let told = stave(&case, &["wrap"], &program(&body), "again").done().err;
        let [wide_mm, narrow_mm] = [widest, narrowest].map(|radius| step_rad * radius);
        let found = |from: &str, to: &str| -> f64 {
            let rest = told.split_once(from).unwrap_or_else(|| panic!("{from}: {told}")).1;
            rest.split_once(to).unwrap().0.trim_start_matches('+').parse().unwrap()
        };
        let wide = found("the scan lines lie ", " mm apart where the work is widest and ");
        let narrow = found("where the work is widest and ", " mm where it is narrowest,");
        assert!((wide - wide_mm).abs() < 2e-4, "{wide_mm}: {told}");
        assert!((narrow - narrow_mm).abs() < 2e-4, "{narrow_mm}: {told}");
        let least = found("the energy on each mm² by ", " % where the work is widest to ");
        let most = found("% where the work is widest to ", " % where it is narrowest: dose");
        assert!((least - 100.0 * (pitch_mm / wide_mm - 1.0)).abs() < 0.15, "{told}");
        assert!((most - 100.0 * (pitch_mm / narrow_mm - 1.0)).abs() < 0.15, "{told}");
        case.even_dose = true;
        let even = stave(&case, &["wrap"], &program(&body), "again").done().err;
        assert!(!even.contains("which changes the energy"), "{even}");
    }
}

/// Of several stretches the energy is told of the one whose lines are farthest off.
#[test]
fn of_several_stretches_the_one_farthest_off_is_told() {
    let note = |body: &str| {
        let told = stave(&cup(), &["wrap"], &program(body), "again").done().err;
        let mut lines = told.lines().filter(|line| line.contains("the scan lines lie"));
        let line = lines.next().unwrap_or_else(|| panic!("{told}")).to_owned();
        assert_eq!(lines.next(), None, "{told}");
        line
    };
    let (near, far) = (pitched(0.2, 0.0), pitched(0.13, 40.0));
    let (of_near, of_far) = (note(&near), note(&far));
    assert!(of_near.contains("where 0.2 mm were drawn"), "{of_near}");
    assert!(of_far.contains("where 0.13 mm were drawn"), "{of_far}");
    for both in [format!("{near}{far}"), format!("{far}{near}")] {
        assert_eq!(note(&both), of_far);
    }
}

/// What comes after a stretch that was kept back burns with its own power.
#[test]
fn what_follows_a_stretch_keeps_its_power() {
    let few = "G0 X0 Y20\nG1 X10 S210\nG1 Y21 S220\nG1 X0 S230\nM3 S240\nG1 X-5\nS0\n";
    let text = program(&format!("{}{few}", plain(&every(2, 0))));
    let (moves, _) = wrapped(&cup(), &text, "again");
    let powers: Vec<f64> = moves.iter().map(|one| one.power.unwrap()).collect();
    let mut last = powers.clone();
    last.dedup();
    assert_eq!(last[last.len() - 4..], [210.0, 220.0, 230.0, 240.0], "{last:?}");
    assert_eq!(moves.last().unwrap().beam, Some(3));
}

/// Comments part nothing: they stand before the picture, all of them.
#[test]
fn comments_do_not_part_scan_lines() {
    let order = in_order();
    let (one, _) = wrapped(&cup(), &program(&plain(&order)), "again");
    let said = [
        rows(&order, |number| format!("(row {number})\n"), ""),
        rows(&order, |number| format!("; row {number}\n"), ""),
        rows(&order, |number| format!("(MSG,row {number})\n"), ""),
        rows(&order, |_| String::new(), " ; as it was"),
        rows(&order, |k| if k % 10 == 9 { format!("(row {k})\n") } else { String::new() }, ""),
    ];
    for (k, body) in said.iter().enumerate() {
        let outcome = stave(&cup(), &["wrap"], &program(body), "again").done();
        assert!(outcome.err.contains("are 48 scan lines along X, 0.2 mm apart"), "{}", outcome.err);
        let text = outcome.out_text();
        let moves = program::read(text).moves;
        let moves: Vec<Move> = moves.into_iter().filter(|one| one.kind == Kind::Burn).collect();
        assert_same(&moves, &one, 1);
        let words = ["row 9)", "row 9)", "row 9)", "as it was)", "row 9)"][k];
        assert!(text.contains(words), "{k}");
        if k < 3 {
            let all: Vec<usize> = (0..ROWS)
                .map(|row| {
                    let word = format!("row {row})");
                    text.lines().position(|line| line.ends_with(&word)).unwrap()
                })
                .collect();
            assert!(all.is_sorted());
            assert!(all.iter().all(|line| *line < moves[0].line), "{k}");
        }
    }
}

/// How long burns are, mm along X, whatever their power.
fn burned_mm(moves: &[Move]) -> f64 {
    moves.iter().map(|one| (one.to[0] - one.from[0]).abs()).sum()
}

/// More powers than a picture has levels are more pictures, and no burn is lost.
#[test]
fn more_powers_than_there_are_levels_lose_nothing() {
    const MANY: usize = 3000;
    let text: String = (0..MANY)
        .map(|row| {
            let y = row as f64 * 0.02 - 30.0;
            let burn = |k: usize| {
                let power = 100.0 + (24 * row + k) as f64 * 0.01;
                format!("G1 X{:.2} S{power:.2}\n", 0.5 * (k + 1) as f64)
            };
            format!("G0 X0 Y{y:.3}\n{}S0\n", (0..24).map(burn).collect::<String>())
        })
        .collect();
    let can = Case::new("can", "degrees", LAYS[1], 0.0, 40.0);
    let (again, told) = wrapped(&can, &program(&text), "again");
    assert!(told.matches("scanned again, on lines").count() > 1, "{told}");
    // Rows of so fine a step come on fewer motor steps: all of the place, each line as long.
    let (follow, _) = wrapped(&can, &program(&text), "follow");
    let turns = |moves: &[Move]| {
        let turn = |one: &Move| (one.to[3] * 1e4).round() as i64;
        moves.iter().map(turn).collect::<std::collections::BTreeSet<_>>()
    };
    let ends = |moves: &[Move]| {
        let turns = turns(moves);
        [turns.first(), turns.last()].map(|turn| *turn.unwrap() as f64 * 1e-4)
    };
    for (one, other) in ends(&again).into_iter().zip(ends(&follow)) {
        assert!((one - other).abs() < 0.1, "{one} {other}");
    }
    let [again, follow] =
        [again, follow].map(|moves| burned_mm(&moves) / turns(&moves).len() as f64);
    assert!((again / follow - 1.0).abs() < 0.02, "{again} {follow}");
}

/// Where nothing is scanned again that is said, and why.
#[test]
fn what_is_no_stretch_of_scan_lines_is_told() {
    let by_row = rows(&in_order(), |k| format!("F{}\n", [9000, 6000, 7500][k % 3]), "");
    let mut faster = 0;
    let by_move: String = plain(&in_order())
        .lines()
        .map(|line| {
            faster = (faster + 1) % 4;
            format!(
                "{line}{}\n",
                if line.starts_with("G1") {
                    format!(" F{}", 6000 + 900 * faster)
                } else {
                    String::new()
                }
            )
        })
        .collect();
    let on_off: String = in_order()
        .iter()
        .map(|row| format!("G0 X0 Y{:.3}\nM3\nG1 X9\nM5\n", *row as f64 * PITCH_MM))
        .collect();
    let uneven: String = in_order()
        .iter()
        .map(|row| {
            let y = (*row as f64 + 0.4 * (row % 2) as f64) * PITCH_MM;
            format!("G0 X0 Y{y:.3}\nG1 X9 S300\nS0\n")
        })
        .collect();
    let few = "G0 X0 Y0\nG1 X9 S300\nG1 Y9\nS0\n".to_owned();
    let on_off = format!("G21 G90 G94\nF9000\n{on_off}M2\n");
    let cases = [
        (program(&by_row), "the speed (F) changes from burn to burn"),
        (program(&by_move), "the speed (F) changes from burn to burn"),
        (on_off, "the beam is switched on without an S word"),
        (program(&uneven), "rows do not lie evenly apart"),
        (program(&few), "there are no 8 burns side by side"),
    ];
    for (text, why) in cases {
        let burned = |how| stave(&cup(), &["wrap"], &text, how).done();
        let (again, follow) = (burned("again"), burned("follow"));
        let told = again.err.lines().filter(|line| line.contains("nothing is scanned again"));
        let told: Vec<&str> = told.collect();
        assert!(told.len() == 1 && told[0].contains(why), "{why}: {}", again.err);
        assert_eq!(again.out_text(), follow.out_text(), "{why}");
        assert!(!follow.err.contains("scanned again"), "{}", follow.err);
        let checked = stave(&cup(), &["check"], &text, "again").done();
        assert!(checked.err.contains(why), "{}", checked.err);
    }
    let (_, told) = wrapped(&cup(), &program(&plain(&in_order())), "again");
    assert!(!told.contains("nothing is scanned"), "{told}");
}

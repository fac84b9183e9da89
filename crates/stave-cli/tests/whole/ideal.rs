//! What a wrapped program should be, made in memory by greedy cutting: it shows that the replay
//! accepts what is right, and is what faults are planted in.

use crate::case::Bench;
use crate::cutting::compare;
use crate::greedy;
use crate::program::{Axes, Kind, Move, Program, Rate};

/// The moves of `flat` on the wall, words rounded as they would be written, for a controller that
/// counts all axes.
pub fn wrapped(bench: &Bench, flat: &Program) -> Program {
    let mut program = Program::default();
    let mut at = words(bench, [0.0, 0.0]);
    for m in &flat.moves {
        let cuts = if m.kind == Kind::Burn { greedy::cuts(bench, m) } else { vec![1.0] };
        let mut t = 0.0;
        for cut in cuts {
            let to = words(bench, m.point(cut));
            if to == at {
                continue;
            }
            let pair = |w: &Axes| bench.rotary.of_axes(w);
            let wall = compare(bench, m, (t, cut), pair(&at), pair(&to)).length;
            let counted = (to[0] - at[0]).hypot(to[3] - at[3]);
            let mut rate = m.speed().map(|speed| Rate::PerMinute(counted / wall * speed * 60.0));
            if let Some(Rate::PerMinute(f)) = &mut rate {
                // No axis faster than it can go.
                let seconds = counted / *f * 60.0;
                let slow = (0..6)
                    .map(|k| (to[k] - at[k]).abs() / seconds / bench.machine.speed[k])
                    .fold(1.0, f64::max);
                *f /= slow;
            }
            program.moves.push(Move { from: at, to, circle: None, rate, ..*m });
            (at, t) = (to, cut);
        }
    }
    program
}

fn words(bench: &Bench, flat: [f64; 2]) -> Axes {
    let count = 10f64.powi(bench.machine.decimals);
    let [along, turn] =
        bench.rotary.words(&bench.wall, bench.image(flat)).map(|w| (w * count).round() / count);
    [along, 0.0, 0.0, turn, 0.0, 0.0]
}

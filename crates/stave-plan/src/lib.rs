//! How long moves take: a streaming planner with full look-ahead.
//!
//! # The model
//!
//! A program is a chain of straight moves in axis space, mm for linear axes and rotary units for a
//! rotary, all alike. Every axis has a greatest speed `v_i` and acceleration `a_i`. Along a move
//! with the unit direction `t` the path may go at `v = min_i v_i/|t_i|`, or slower if so asked, and
//! its speed may change by `a = min_i a_i/|t_i|`. At a corner the speed is held to that of an arc
//! of sagitta `δ` inscribed in it:
//!
//! ```text
//! v² = a δ sin(β/2) / (1 − sin(β/2)),   β the inside angle,
//! a = min_i a_i/|n_i|,                  n the unit vector of t_out − t_in
//! ```
//!
//! Derivation: the arc of radius `ρ` that touches both moves has its centre on the bisector,
//! `ρ/sin(β/2)` from the corner, so it passes the corner at the distance `δ = ρ/sin(β/2) − ρ`;
//! solved for `ρ`, and with `v²/ρ = a` for the acceleration towards the centre, which lies along
//! `n`, that is the rule. Moves that go straight on keep their speed; a reversal stops, and so does
//! [`Planner::stop`], for M words and dwells. Within these limits every move is as fast as it can
//! be: a forward pass finds what can be reached from behind, a backward pass what can still be
//! braked, and each move is a trapezoid or a triangle between the speeds at its ends. Splitting a
//! straight move leaves all of this as it was, for the passes add up along it.
//!
//! # Circles and curves
//!
//! On a curve written as chords the rule depends on how finely it was cut. A circle of radius `r`
//! in `N` chords turns by `α = 2π/N` at each vertex, `β = π − α`, and a chord's sagitta is `k = r(1
//! − cos(α/2))`. So
//!
//! ```text
//! v² = a δ cos(α/2) / (1 − cos(α/2)) = a r (δ/k) cos(α/2)
//! ```
//!
//! which is centripetal, `v² = a r`, only where `δ = k`. Chords four times as fine in sagitta are
//! taken twice as fast: the rule bounds the acceleration within each corner, and does not see that
//! the next one is near. Programs cut with a tolerance of about `corner_tolerance` are timed as a
//! machine that keeps its accelerations would run them; finer ones are timed as a controller that
//! looks at one corner at a time would.
//!
//! With [`Planner::set_curves`], as `curves = "arcs"` of a machine asks, the speed is held also to
//! `v² ≤ a R`, `R` the radius of the circle through three successive points where the path turns
//! by less than 60° at the middle one. Collinear moves are joined first. Then a curve is taken at
//! its own centripetal speed however fine its chords are.
//!
//! # What the rule reaches, and what it does not
//!
//! Exact, to 1e-9, against tables of closed forms and against ruckig: moves from rest to rest,
//! between speeds, of several axes, and with a jerk limit. Laps of a circle of 2000 chords with `δ
//! = k`: 1e-5 from `2π √(r/a)` at the centripetal speed.
//!
//! Curves differ from the time-optimal motion along them, even with `δ = k`. There, each axis
//! shares its acceleration between what changes the speed along the path, `t_i dv/dt`, and what
//! bends it, `n_i v²/ρ`. The planner holds both parts to the axis's limit one by one. Hence:
//!
//! - an axis may be asked for at most twice its limit; run `√2` slower, the plan keeps every limit,
//!   so the best time is at most `√2` times the planner's;
//! - in the best motion of two axes `v²/ρ = |n·q̈| ≤ |n_1| a_1 + |n_2| a_2`, which is at most `R`
//!   times the planner's `min_i a_i/|n_i|`, with `R = (1 + √(1 + κ²))/2` and `κ ≥ 1` the ratio of
//!   the accelerations (the greatest of `|n_1|² + κ |n_1 n_2|`); the same holds along `t`. Run `√R`
//!   slower it keeps the planner's limits, so the planner's time is at most `√R` times the best.
//!
//! Measured with chords of sagitta `k = δ` = 1e-5 mm, the planner's time over the best:
//!
//! | path | measured | bounds |
//! | --- | --- | --- |
//! | straight line | 1.0000 | exact |
//! | circle, r 10 mm, 50 mm/s, 500 mm/s² | 0.9994 | 0.707 to 1.099 |
//! | S of two quarter arcs, r 15 mm, 800 and 600 mm/s² | 0.9913 | 0.707 to 1.155 |
//! | ellipse 30 by 10 mm, 2000 and 1000 mm/s² | 1.0139 | 0.707 to 1.273 |
//! | sine wave, 5 mm by 20 mm, 1000 and 800 mm/s² | 0.8599 | 0.707 to 1.141 |
//! | rounded rectangle, r 5 mm, 900 mm/s² | 0.9892 | 0.707 to 1.099 |
//!
//! The sine wave is the worst because its speed rises and falls with every bend, so that both parts
//! are wanted at once. Fillets between straight lines with scalar limits, tangential `a_t` and
//! normal `a_n`, are reached by `δ = k a_n/a_t` but for one thing: half way round, both axes share
//! the work and the planner takes the arc with up to `√2` times the acceleration. The time is
//! therefore between `2^(−1/4)` = 0.841 and 1 of the scalar model's; measured 0.9926, 0.9809,
//! 0.9984 and 0.9893 on the four of the table.
//!
//! With curves as curves, `δ` = 0.02 mm and chords of sagitta 1e-3 mm, twenty times finer than the
//! tolerance, as programs are often written, the time over the best is:
//!
//! | path | curves | corners alone |
//! | --- | --- | --- |
//! | straight line | 1.0000 | 1.0000 |
//! | circle | 1.0005 | 1.0005 |
//! | S of two quarter arcs | 0.9917 | 0.9869 |
//! | ellipse | 1.0134 | 0.9804 |
//! | sine wave | 0.8569 | 0.6065 |
//! | rounded rectangle | 0.9823 | 0.6731 |
//!
//! # Jerk
//!
//! With a jerk limit on any axis, the path's jerk is `min_i j_i/|t_i|` and every change of speed is
//! the seven-segment ramp, with no acceleration at either end. Corner speeds are as without jerk.
//! Ramps run over several moves: collinear moves are one move, and moves whose corner holds neither
//! back, with speeds within [`SPEED_STEP`] of their neighbour's and accelerations and jerks within
//! a factor [`PUSH_RANGE`], are ramped over together with the least of their accelerations and
//! jerks. Where the corner does bind, or a long straight begins or ends, the acceleration is zero.
//! So the passes of a speed are these: forwards, the greatest speed that a ramp from the speed
//! before reaches; backwards, the greatest from which a ramp comes down to the speed after.
//!
//! # Memory
//!
//! A move waits until nothing later can change it: until the machine could stop, from the speed
//! there, within what has come since. That is the stopping distance, as many moves as it holds,
//! twice over. If more than [`WINDOW`] would wait, a stop is planned at the end of what is there,
//! the first half of it is settled, and [`Planner::times_full`] says so.
//!
//! # Use
//!
//! ```
//! use stave_plan::{Asked, AxisLimit, Move, MoveKind, Planner, Settled};
//!
//! let axis = AxisLimit { speed_per_s: 100.0, acceleration_per_s2: 1000.0, jerk_per_s3: None };
//! let mut planner = Planner::new([axis; 2], 0.02)?;
//! let mut seconds = 0.0;
//! let mut sink = |settled: &Settled| seconds += settled.duration_s;
//! let there = Move {
//!     delta: [60.0, 0.0],
//!     asked: Asked::Speed(50.0),
//!     kind: MoveKind::Burn,
//!     wall_mm: None,
//!     tag: 0,
//! };
//! planner.push(&there, &mut sink)?;
//! planner.stop(&mut sink);
//! // 60 mm at 50 mm/s, and half of each ramp of 0.05 s on top.
//! assert!((seconds - 1.25).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(clippy::panic)]

mod again;
mod corner;
mod limits;
mod line;
mod measured;
mod planner;
mod profile;
mod ramp;
mod run;
mod runs;
mod settled;
mod starved;
mod timer;
mod totals;
mod trapezoid;
mod turns;
mod window;

pub use corner::COLLINEAR_RAD;
pub use limits::{AxisLimit, LIMIT_RANGE, PlanError};
pub use planner::{Asked, Corners, Move, Planner, Pushed, WINDOW};
pub use run::{PUSH_RANGE, SPEED_STEP};
pub use settled::{ASKED, MoveKind, Settle, Settled};
pub use starved::Starved;
pub use timer::{
    ARC_TOLERANCE, ByCurves, Follow, Nobody, SectionTime, TimedStep, Timer, limits_of,
};
pub use totals::{Sum, Totals};
pub use turns::Turns;

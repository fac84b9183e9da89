//! A wrap written by hand: parse, map, split and print in one loop over bytes, for the benches' one
//! wall and lay.
//!
//! It reads G0, G1, X, Y, S and F and believes what it reads. It lays the program true-width on a
//! single frustum and writes X, A, S and F for a controller that counts all axes: the least that a
//! person would write who wanted nothing else, and so the measure of what the project's care costs.

use crate::wrap::PLACE_AT_MM;

/// Foot and rim of the frustum: distance and radius, mm (the cup of the fixtures).
const FOOT_R: f64 = 31.75;
const RIM_R: f64 = 10.9956 * 25.4 / std::f64::consts::TAU;
const HEIGHT: f64 = 114.3;
const TOLERANCE: f64 = 0.01;

/// The cup.
#[derive(Clone, Copy, Debug)]
pub struct Cone {
    cos: f64,
    sin: f64,
    s0: f64,
}

impl Cone {
    /// The cup of the fixtures, its flat origin where the benches have it.
    #[must_use]
    pub fn cup() -> Self {
        let slant = HEIGHT.hypot(RIM_R - FOOT_R);
        Self {
            cos: HEIGHT / slant,
            sin: (RIM_R - FOOT_R) / slant,
            s0: PLACE_AT_MM * slant / HEIGHT,
        }
    }

    /// X and A words, and the radius.
    #[inline]
    #[must_use]
    pub fn map(&self, u: f64, v: f64) -> (f64, f64, f64) {
        let r = FOOT_R + (self.s0 + u) * self.sin;
        (u * self.cos, v / r * (360.0 / std::f64::consts::TAU), r)
    }
}

#[derive(Default)]
struct Last {
    x: i64,
    a: i64,
    f: i64,
    s: i64,
    g: u8,
}

/// Wraps `input` onto the cup.
#[must_use]
pub fn wrap(input: &[u8]) -> Vec<u8> {
    let cone = Cone::cup();
    let mut out = Vec::with_capacity(input.len() * 4);
    let (mut u, mut v, mut feed, mut power, mut motion) = (0.0, 0.0, 0.0, 0_i64, 1_u8);
    let mut here = cone.map(u, v);
    let mut last = Last { g: 9, s: -1, f: -1, ..Last::default() };
    let mut at = 0;
    while at < input.len() {
        let (mut nu, mut nv, mut moves) = (u, v, false);
        // One line.
        while at < input.len() && input[at] != b'\n' {
            let letter = input[at];
            at += 1;
            if letter == b' ' {
                continue;
            }
            let value = number(input, &mut at);
            match letter {
                b'X' => (nu, moves) = (value, true),
                b'Y' => (nv, moves) = (value, true),
                b'S' => power = value as i64,
                b'F' => feed = value,
                b'G' if value < 2.0 => motion = value as u8,
                _ => {}
            }
        }
        at += 1;
        if !moves {
            continue;
        }
        if motion == 0 {
            here = cone.map(nu, nv);
            print(&mut out, &mut last, 0, (here.0, here.1), 0.0, 0);
        } else {
            let ((x0, a0, r0), (x1, a1, r1)) = (here, cone.map(nu, nv));
            let (_, am, rm) = cone.map((u + nu) * 0.5, (v + nv) * 0.5);
            let sagitta = ((a0 + a1) * 0.5 - am).abs() * rm * (std::f64::consts::TAU / 360.0);
            let uneven = (r1 - r0).abs() / rm;
            if sagitta <= TOLERANCE && uneven <= 0.02 {
                feed_move(&mut out, &mut last, &cone, (x0, a0), (x1, a1), rm, feed, power);
            } else {
                let pieces = (sagitta / TOLERANCE).sqrt().max(uneven / 0.02).ceil() as u32;
                let mut from = (x0, a0);
                for k in 1..=pieces {
                    let t = f64::from(k) / f64::from(pieces);
                    let (x, a, r) = cone.map(u + (nu - u) * t, v + (nv - v) * t);
                    feed_move(&mut out, &mut last, &cone, from, (x, a), r, feed, power);
                    from = (x, a);
                }
            }
            here = (x1, a1, r1);
        }
        (u, v) = (nu, nv);
    }
    out.extend_from_slice(b"M5\nM2\n");
    out
}

#[expect(clippy::too_many_arguments, reason = "a hand-written loop has its state at hand")]
#[inline]
fn feed_move(
    out: &mut Vec<u8>,
    last: &mut Last,
    cone: &Cone,
    from: (f64, f64),
    to: (f64, f64),
    r: f64,
    feed: f64,
    s: i64,
) {
    let (dx, da) = (to.0 - from.0, to.1 - from.1);
    let (ds, around) = (dx / cone.cos, da * r * (std::f64::consts::TAU / 360.0));
    let wall = (ds * ds + around * around).sqrt();
    let words = (dx * dx + da * da).sqrt();
    print(out, last, 1, to, feed * words / wall.max(1e-9), s);
}

#[inline]
fn print(out: &mut Vec<u8>, last: &mut Last, g: u8, (x, a): (f64, f64), f: f64, s: i64) {
    let (x, a) = (counts(x), counts(a));
    let mut line = [0_u8; 96];
    let mut at = 0;
    if g != last.g {
        line[..2].copy_from_slice(if g == 0 { b"G0" } else { b"G1" });
        at = 2;
        last.g = g;
    }
    if x != last.x {
        word(&mut line, &mut at, b'X', x, 4);
        last.x = x;
    }
    if a != last.a {
        word(&mut line, &mut at, b'A', a, 4);
        last.a = a;
    }
    if s != last.s {
        word(&mut line, &mut at, b'S', s, 0);
        last.s = s;
    }
    if g == 1 {
        // Six figures of a feed between 1000 and 99999.
        let f = (f * 10.0 + 0.5) as i64;
        if f != last.f {
            word(&mut line, &mut at, b'F', f, 1);
            last.f = f;
        }
    }
    line[at] = b'\n';
    out.extend_from_slice(&line[..=at]);
}

#[inline]
fn counts(value: f64) -> i64 {
    (value * 1e4 + 0.5_f64.copysign(value)) as i64
}

#[inline]
fn word(line: &mut [u8; 96], at: &mut usize, letter: u8, counts: i64, decimals: u32) {
    let mut text = [0_u8; 32];
    let length = stave_toolpath::number::write_counts(&mut text, counts, decimals);
    line[*at] = letter;
    line[*at + 1..*at + 1 + length].copy_from_slice(&text[..length]);
    *at += 1 + length;
}

#[inline]
fn number(input: &[u8], at: &mut usize) -> f64 {
    const TENTHS: [f64; 10] = [1e0, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9];
    let mut k = *at;
    let negative = input.get(k) == Some(&b'-');
    k += usize::from(negative);
    let (mut whole, mut point, mut places) = (0_i64, false, 0_usize);
    while let Some(byte) = input.get(k) {
        match byte {
            b'0'..=b'9' => {
                whole = whole * 10 + i64::from(byte - b'0');
                places += usize::from(point);
            }
            b'.' => point = true,
            _ => break,
        }
        k += 1;
    }
    *at = k;
    let value = whole as f64 * TENTHS[places.min(9)];
    if negative { -value } else { value }
}

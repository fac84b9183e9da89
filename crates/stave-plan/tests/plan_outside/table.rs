//! Reads the tables of `fixtures/reference`, and plans moves in one call.

use stave_plan::{Asked, AxisLimit, Move, MoveKind, Planner, Settled};

/// Rows of a table by column name.
pub(crate) struct Table {
    names: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row.
pub(crate) struct Row<'a> {
    names: &'a [String],
    cells: &'a [String],
}

impl Table {
    pub(crate) fn read(name: &str) -> Self {
        let path = format!("{}/../../fixtures/reference/{name}.csv", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(&path).unwrap();
        let mut lines = text.lines().map(cells);
        let names = lines.next().unwrap();
        let rows: Vec<_> = lines.collect();
        assert!(!rows.is_empty() && rows.iter().all(|row| row.len() == names.len()));
        Self { names, rows }
    }

    pub(crate) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|cells| Row { names: &self.names, cells })
    }
}

impl Row<'_> {
    pub(crate) fn text(&self, name: &str) -> &str {
        &self.cells[self.names.iter().position(|n| n == name).unwrap()]
    }

    pub(crate) fn number(&self, name: &str) -> f64 {
        self.text(name).parse().unwrap()
    }

    /// A cell like `[30, 40]`.
    pub(crate) fn numbers(&self, name: &str) -> Vec<f64> {
        self.text(name)
            .trim_matches(['[', ']'])
            .split(',')
            .map(|n| n.trim().parse().unwrap())
            .collect()
    }
}

/// Cells between commas, commas inside quotes left alone.
fn cells(line: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            _ => cells.last_mut().unwrap().push(letter),
        }
    }
    cells
}

pub(crate) fn axis(speed: f64, acceleration: f64) -> AxisLimit {
    AxisLimit { speed_per_s: speed, acceleration_per_s2: acceleration, jerk_per_s3: None }
}

pub(crate) fn burn<const N: usize>(delta: [f64; N], asked: Asked) -> Move<N> {
    Move { delta, asked, kind: MoveKind::Burn, wall_mm: None, tag: 0 }
}

/// Plans moves from rest to rest, corners alone.
pub(crate) fn plan<const N: usize>(
    axes: [AxisLimit; N],
    tolerance: f64,
    moves: &[Move<N>],
) -> Vec<Settled> {
    plan_by(axes, (tolerance, false), moves)
}

/// Plans moves from rest to rest, curves held to the speed of the curve if asked.
pub(crate) fn plan_by<const N: usize>(
    axes: [AxisLimit; N],
    (tolerance, curves): (f64, bool),
    moves: &[Move<N>],
) -> Vec<Settled> {
    let mut out = Vec::new();
    let mut planner = Planner::new(axes, tolerance).unwrap();
    planner.set_curves(curves);
    for one in moves {
        planner.push(one, &mut |s: &Settled| out.push(*s)).unwrap();
    }
    planner.stop(&mut |s: &Settled| out.push(*s));
    assert_eq!((planner.times_full(), planner.waiting()), (0, 0));
    out
}

pub(crate) fn seconds(settled: &[Settled]) -> f64 {
    settled.iter().map(|s| s.duration_s).sum()
}

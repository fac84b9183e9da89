//! Blocks: scan lines that are burned together, and in what order.
//!
//! Art far apart along the lines is cheaper to burn apart than to cross the way between on every
//! line, and so are the two sides of one outline. Where the way is crossed anyway, what lies in it
//! is burned on the way.

use std::collections::HashMap;

use super::scan::{Line, Run};

/// Lines that are burned one after the other, there and back.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Block {
    /// In their order; no line is empty.
    pub(crate) lines: Vec<Line>,
}

/// A stretch of one line whose gaps are all short.
struct Cluster {
    from_mm: f64,
    to_mm: f64,
    runs: Vec<Run>,
}

/// What ways cost.
pub(crate) struct Costs<'a> {
    /// Gaps up to so much along a line are sooner crossed than burned apart, mm.
    pub(crate) gap_mm: f64,
    /// How much longer it takes to cross a gap, mm along a line, than to turn round, s.
    pub(crate) crossing_s: &'a dyn Fn(f64) -> f64,
    /// How long it takes from one block to another so far along the lines, mm, s.
    pub(crate) travel_s: &'a dyn Fn(f64) -> f64,
}

/// Parts lines into blocks.
///
/// What burns of a line without a gap that is too wide is a cluster. Clusters of neighbouring lines
/// that lie over each other are one block, each with one of the next line at most, the one that
/// lies most over it: so the two sides of a ring are two. Two blocks are one again where crossing
/// between them on the lines that they share costs less in all than a travel.
pub(crate) fn blocks(lines: &[Line], costs: &Costs<'_>) -> Vec<Block> {
    let gap_mm = costs.gap_mm;
    let mut clusters: Vec<Cluster> = Vec::new();
    // For each line its number and its clusters, a range of the list.
    let mut rows: Vec<(i64, std::ops::Range<usize>)> = Vec::with_capacity(lines.len());
    for line in lines {
        let first = clusters.len();
        for run in &line.runs {
            match clusters[first..].last_mut() {
                Some(last) if run.from_mm - last.to_mm <= gap_mm => {
                    last.to_mm = run.to_mm;
                    last.runs.push(*run);
                }
                _ => clusters.push(Cluster {
                    from_mm: run.from_mm,
                    to_mm: run.to_mm,
                    runs: vec![*run],
                }),
            }
        }
        rows.push((line.line, first..clusters.len()));
    }
    let mut sets = Sets { parent: (0..clusters.len()).collect() };
    for pair in rows.windows(2) {
        if pair[1].0 - pair[0].0 == 1 {
            join_neighbours(&clusters, pair[0].1.clone(), pair[1].1.clone(), &mut sets);
        }
    }
    join_where_sooner(&clusters, &rows, costs, &mut sets);
    // What a block joins on one line may let it cross more on another: a few rounds find what
    // matters.
    for _ in 0..4 {
        let mut joined = false;
        for (_, row) in &rows {
            joined |= join_crossed(row.clone(), &mut sets);
        }
        if !joined {
            break;
        }
    }
    gather(&rows, &mut clusters, &mut sets)
}

/// Joins clusters of two neighbouring lines, each with the one that lies most over it.
fn join_neighbours(
    clusters: &[Cluster],
    below: std::ops::Range<usize>,
    above: std::ops::Range<usize>,
    sets: &mut Sets,
) {
    // What lies over each other, in order along the lines.
    let mut over: Vec<(usize, usize, f64)> = Vec::new();
    let (mut a, mut b) = (below.start, above.start);
    while a < below.end && b < above.end {
        let (one, other) = (&clusters[a], &clusters[b]);
        let shared_mm = one.to_mm.min(other.to_mm) - one.from_mm.max(other.from_mm);
        if shared_mm >= 0.0 {
            over.push((a, b, shared_mm));
        }
        if one.to_mm < other.to_mm { a += 1 } else { b += 1 }
    }
    // A pair is one where neither shares more with another; those of one cluster lie side by side.
    let shares_most = |k: usize, same: fn(&Pair, &Pair) -> bool| {
        let near = |other: &&Pair| same(other, &over[k]);
        let before = over[..k].iter().rev().take_while(near).all(|other| other.2 < over[k].2);
        before && over[k + 1..].iter().take_while(near).all(|other| other.2 <= over[k].2)
    };
    for (k, pair) in over.iter().enumerate() {
        if shares_most(k, |one, other| one.0 == other.0)
            && shares_most(k, |one, other| one.1 == other.1)
        {
            sets.join(pair.0, pair.1);
        }
    }
}

/// A cluster, one of the next line that lies over it, and how much they share, mm.
type Pair = (usize, usize, f64);

/// Joins blocks that lie beside each other on so few lines, or so near, that crossing from one to
/// the other there costs less than a travel.
fn join_where_sooner(
    clusters: &[Cluster],
    rows: &[(i64, std::ops::Range<usize>)],
    costs: &Costs<'_>,
    sets: &mut Sets,
) {
    let mut beside: Vec<(usize, usize, f64, f64)> = Vec::new();
    let mut known: HashMap<(usize, usize), usize> = HashMap::new();
    for (_, row) in rows {
        for k in row.start + 1..row.end {
            let (one, other) = (sets.find(k - 1), sets.find(k));
            if one == other {
                continue;
            }
            let gap_mm = clusters[k].from_mm - clusters[k - 1].to_mm;
            let pair = *known.entry((one, other)).or_insert_with(|| {
                beside.push((one, other, 0.0, f64::INFINITY));
                beside.len() - 1
            });
            beside[pair].2 += (costs.crossing_s)(gap_mm);
            beside[pair].3 = beside[pair].3.min(gap_mm);
        }
    }
    for (one, other, crossing_s, gap_mm) in beside {
        if crossing_s < (costs.travel_s)(gap_mm) {
            sets.join(one, other);
        }
    }
}

/// Joins to each block what lies between its own clusters on a line.
fn join_crossed(row: std::ops::Range<usize>, sets: &mut Sets) -> bool {
    if row.len() < 3 {
        return false;
    }
    let mut last_of: HashMap<usize, usize> = HashMap::new();
    for k in row.clone() {
        last_of.insert(sets.find(k), k);
    }
    let (mut k, mut joined) = (row.start, false);
    while k < row.end {
        let root = sets.find(k);
        let mut end = last_of.get(&root).copied().unwrap_or(k);
        let mut inside = k + 1;
        while inside < end {
            let other = sets.find(inside);
            if other != root && sets.find(k) != other {
                // It may itself reach further along the line.
                end = end.max(last_of.get(&other).copied().unwrap_or(inside));
                sets.join(k, inside);
                joined = true;
            }
            inside += 1;
        }
        k = end + 1;
    }
    joined
}

fn gather(
    rows: &[(i64, std::ops::Range<usize>)],
    clusters: &mut [Cluster],
    sets: &mut Sets,
) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut block_of: HashMap<usize, usize> = HashMap::new();
    for (line, row) in rows {
        for k in row.clone() {
            let block = *block_of.entry(sets.find(k)).or_insert_with(|| {
                blocks.push(Block::default());
                blocks.len() - 1
            });
            let runs = std::mem::take(&mut clusters[k].runs);
            let lines = &mut blocks[block].lines;
            match lines.last_mut() {
                Some(last) if last.line == *line => last.runs.extend(runs),
                _ => lines.push(Line { line: *line, runs, ..Line::default() }),
            }
        }
    }
    blocks
}

/// Sets that only grow.
struct Sets {
    parent: Vec<usize>,
}

impl Sets {
    fn find(&mut self, mut k: usize) -> usize {
        while self.parent[k] != k {
            self.parent[k] = self.parent[self.parent[k]];
            k = self.parent[k];
        }
        k
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.find(a), self.find(b));
        // The earlier root stays, so that blocks come in the order of their first runs.
        let (low, high) = (a.min(b), a.max(b));
        self.parent[high] = low;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn line(line: i64, runs: &[(f64, f64)]) -> Line {
        let runs = runs.iter().map(|&(from_mm, to_mm)| Run { from_mm, to_mm, piece: 0 });
        Line { line, runs: runs.collect(), ..Line::default() }
    }

    /// Crossing costs a second a mm above the gap, a travel five.
    fn parted(lines: &[Line], gap_mm: f64) -> Vec<Block> {
        let costs = Costs { gap_mm, crossing_s: &|gap| gap - gap_mm, travel_s: &|_| 5.0 };
        blocks(lines, &costs)
    }

    #[test]
    fn far_apart_is_burned_apart() {
        let lines =
            [line(0, &[(0.0, 10.0), (100.0, 110.0)]), line(1, &[(0.0, 10.0), (100.0, 110.0)])];
        let apart = parted(&lines, 25.0);
        assert_eq!(apart.len(), 2);
        assert_eq!(apart[1].lines, [line(0, &[(100.0, 110.0)]), line(1, &[(100.0, 110.0)])]);
        assert_eq!(parted(&lines, 90.0).len(), 1);
        // Once across is sooner than there and back again.
        assert_eq!(parted(&lines, 88.0).len(), 1);
    }

    #[test]
    fn the_sides_of_a_ring_are_burned_apart() {
        let both = [(0.0, 2.0), (98.0, 100.0)];
        let lines = [
            line(0, &[(0.0, 100.0)]),
            line(1, &both),
            line(2, &both),
            line(3, &both),
            line(4, &[(0.0, 100.0)]),
        ];
        let found = parted(&lines, 50.0);
        assert_eq!(found.len(), 2);
        assert_eq!(found.iter().map(|block| block.lines.len()).collect::<Vec<_>>(), [5, 3]);
        // Where the gap costs little more than a turn it is one as it was drawn.
        assert_eq!(parted(&lines, 95.0), [Block { lines: lines.to_vec() }]);
    }

    #[test]
    fn what_is_crossed_anyway_is_burned_on_the_way() {
        // A frame with a dot in its middle, seen by one line.
        let lines = [
            line(0, &[(0.0, 100.0)]),
            line(1, &[(0.0, 2.0), (49.0, 51.0), (98.0, 100.0)]),
            line(2, &[(0.0, 100.0)]),
        ];
        let found = parted(&lines, 46.0);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].lines, lines);
    }

    #[test]
    fn lines_with_nothing_between_do_not_belong_together() {
        let lines = [line(0, &[(0.0, 10.0)]), line(7, &[(0.0, 10.0)])];
        assert_eq!(parted(&lines, 25.0).len(), 2);
    }

    proptest! {
        /// However lines are parted, every run is in one block, and a block's lines are in order.
        #[test]
        fn no_run_is_lost_or_burned_twice(
            rows in prop::collection::vec(
                prop::collection::vec((0.1..30.0_f64, 0.1..20.0_f64), 1..6), 1..25),
            gap_mm in 0.0..40.0_f64, travel_s in 0.0..60.0_f64,
        ) {
            let lines: Vec<Line> = (0..).zip(&rows).map(|(number, row)| {
                let mut at = 0.0;
                let runs: Vec<(f64, f64)> = row.iter().map(|(gap, length)| {
                    let from = at + gap;
                    at = from + length;
                    (from, at)
                }).collect();
                line(number, &runs)
            }).collect();
            let costs = Costs { gap_mm, crossing_s: &|gap| gap - gap_mm, travel_s: &|_| travel_s };
            let found = blocks(&lines, &costs);
            let runs = |lines: &[Line]| -> Vec<(i64, f64, f64)> {
                let each = |line: &Line| {
                    let ends = line.runs.iter().map(|run| (line.line, run.from_mm, run.to_mm));
                    ends.collect::<Vec<_>>()
                };
                lines.iter().flat_map(each).collect()
            };
            let mut all: Vec<_> = found.iter().flat_map(|block| runs(&block.lines)).collect();
            all.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            prop_assert_eq!(all, runs(&lines));
            for block in &found {
                prop_assert!(block.lines.windows(2).all(|pair| pair[0].line < pair[1].line));
                let in_order =
                    |line: &Line| line.runs.windows(2).all(|w| w[0].to_mm <= w[1].from_mm);
                prop_assert!(block.lines.iter().all(in_order));
            }
        }
    }
}

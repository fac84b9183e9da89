//! Blocks: scan lines that are burned together, and in what order.
//!
//! Art far apart along the lines is cheaper to burn apart than to cross the way between on every
//! line. Where the way is crossed anyway, what lies in it is burned on the way.

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

/// Parts lines into blocks. Gaps up to `gap_mm` along a line are worth crossing.
pub(crate) fn blocks(lines: &[Line], gap_mm: f64) -> Vec<Block> {
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

fn join_neighbours(
    clusters: &[Cluster],
    below: std::ops::Range<usize>,
    above: std::ops::Range<usize>,
    sets: &mut Sets,
) {
    let (mut a, mut b) = (below.start, above.start);
    while a < below.end && b < above.end {
        let (one, other) = (&clusters[a], &clusters[b]);
        if one.to_mm < other.from_mm {
            a += 1;
        } else if other.to_mm < one.from_mm {
            b += 1;
        } else {
            sets.join(a, b);
            if one.to_mm < other.to_mm { a += 1 } else { b += 1 }
        }
    }
}

/// Joins to each block what lies between its own clusters on a line.
fn join_crossed(row: std::ops::Range<usize>, sets: &mut Sets) -> bool {
    if row.len() < 3 {
        return false;
    }
    let mut last_of: std::collections::HashMap<usize, usize> = std::collections::HashMap::new();
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
    let mut block_of: std::collections::HashMap<usize, usize> = std::collections::HashMap::new();
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

    fn line(line: i64, runs: &[(f64, f64)]) -> Line {
        let runs = runs.iter().map(|&(from_mm, to_mm)| Run { from_mm, to_mm, piece: 0 });
        Line { line, runs: runs.collect(), ..Line::default() }
    }

    #[test]
    fn far_apart_is_burned_apart() {
        let lines =
            [line(0, &[(0.0, 10.0), (100.0, 110.0)]), line(1, &[(0.0, 10.0), (100.0, 110.0)])];
        let apart = blocks(&lines, 25.0);
        assert_eq!(apart.len(), 2);
        assert_eq!(apart[1].lines, [line(0, &[(100.0, 110.0)]), line(1, &[(100.0, 110.0)])]);
        assert_eq!(blocks(&lines, 90.0).len(), 1);
    }

    #[test]
    fn what_is_crossed_anyway_is_burned_on_the_way() {
        // A frame with a dot in its middle.
        let lines = [
            line(0, &[(0.0, 100.0)]),
            line(1, &[(0.0, 2.0), (49.0, 51.0), (98.0, 100.0)]),
            line(2, &[(0.0, 100.0)]),
        ];
        let found = blocks(&lines, 5.0);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].lines, lines);
    }

    #[test]
    fn lines_with_nothing_between_do_not_belong_together() {
        let lines = [line(0, &[(0.0, 10.0)]), line(7, &[(0.0, 10.0)])];
        assert_eq!(blocks(&lines, 25.0).len(), 2);
    }
}

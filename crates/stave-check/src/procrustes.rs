//! How points lie that were to lie elsewhere: turned, larger or smaller.

/// Points nearer to each other than this, mm, tell no direction.
const APART_MM: f64 = 1e-6;

/// The turn and the size by which what was met is best had from what was meant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Similarity {
    /// The turn in the plane, rad, from the first axis to the second.
    pub lean_rad: f64,
    /// The size, 1 for the same.
    pub scale: f64,
}

/// The similarity without mirroring that carries `meant` to `met` with the least sum of squares,
/// each pair a point of the plane, mm: ordinary Procrustes analysis (Gower and Dijksterhuis,
/// *Procrustes Problems*, 2004, ch. 4). In the plane, with both about their middles and as complex
/// numbers, the least squares of `met − c·meant` are at `c = Σ conj(meant)·met / Σ |meant|²`.
/// `None` where all that was meant lies in one point.
///
/// ```
/// let meant = [(0.0, 0.0), (10.0, 0.0)];
/// let met = [(5.0, 5.0), (5.0, 25.0)];
/// let found = stave_check::similarity(meant.into_iter().zip(met)).unwrap();
/// assert!((found.lean_rad.to_degrees() - 90.0).abs() < 1e-9 && (found.scale - 2.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn similarity(
    pairs: impl Iterator<Item = ((f64, f64), (f64, f64))> + Clone,
) -> Option<Similarity> {
    let count = pairs.clone().fold(0.0, |count, _| count + 1.0);
    let sum = pairs.clone().fold([0.0; 4], |sum, (meant, met)| {
        [sum[0] + meant.0, sum[1] + meant.1, sum[2] + met.0, sum[3] + met.1]
    });
    let middle = sum.map(|one| one / count);
    let (mut along, mut across, mut size) = (0.0, 0.0, 0.0);
    for (meant, met) in pairs {
        let (x, y) = (meant.0 - middle[0], meant.1 - middle[1]);
        let (u, v) = (met.0 - middle[2], met.1 - middle[3]);
        along += x * u + y * v;
        across += x * v - y * u;
        size += x * x + y * y;
    }
    (size > APART_MM * APART_MM)
        .then(|| Similarity { lean_rad: across.atan2(along), scale: along.hypot(across) / size })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: `scipy.linalg.orthogonal_procrustes` of SciPy 1.17.1 on the same points, each about
    /// their middle; the lean is that of its matrix, the size its second value by the sum of the
    /// squares of what was meant.
    #[test]
    fn agrees_with_scipy() {
        let meant = [(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (0.0, 20.0), (13.0, 7.0)];
        let met = [(30.2, -4.1), (70.3, -2.6), (69.4, 17.5), (29.5, 15.8), (43.0, 3.2)];
        let found = similarity(meant.into_iter().zip(met)).unwrap();
        assert!((found.lean_rad.to_degrees() - 2.318_962_288_577_421).abs() < 1e-9);
        assert!((found.scale - 1.000_936_987_861_144_5).abs() < 1e-12);
        let one_point = [((3.0, 4.0), (0.0, 1.0)); 3];
        assert_eq!(similarity(one_point.into_iter()), None);
    }
}

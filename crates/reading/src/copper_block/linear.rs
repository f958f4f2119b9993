//! Small systems of equations with a symmetric, positive matrix.

/// A square matrix by its rows.
pub(super) type Matrix<const N: usize> = [[f64; N]; N];

/// The lower triangle whose product with its mirror image is a matrix of ones on the diagonal:
/// the matrix itself, scaled.
#[derive(Clone, Copy, Debug)]
pub(super) struct Factor<const N: usize> {
    scale: [f64; N],
    lower: Matrix<N>,
}

impl<const N: usize> Factor<N> {
    /// Nothing where the matrix is not positive, or so nearly not that rounding decides.
    pub(super) fn of(matrix: &Matrix<N>) -> Option<Self> {
        let scale: [f64; N] = std::array::from_fn(|n| matrix[n][n].sqrt());
        if scale.iter().any(|scale| !(scale.is_finite() && *scale > 0.0)) {
            return None;
        }
        let mut lower = [[0.0; N]; N];
        for row in 0..N {
            for column in 0..=row {
                let known: f64 = (0..column).map(|n| lower[row][n] * lower[column][n]).sum();
                let left = matrix[row][column] / (scale[row] * scale[column]) - known;
                lower[row][column] = if row > column {
                    left / lower[column][column]
                } else if left > 1e-14 {
                    left.sqrt()
                } else {
                    return None;
                };
            }
        }
        Some(Self { scale, lower })
    }

    /// The x whose product with the matrix is `wanted`.
    pub(super) fn solve(&self, wanted: &[f64; N]) -> [f64; N] {
        let mut x = self.whitened(wanted);
        for row in (0..N).rev() {
            let known: f64 = (row + 1..N).map(|n| self.lower[n][row] * x[n]).sum();
            x[row] = (x[row] - known) / self.lower[row][row];
        }
        std::array::from_fn(|n| x[n] / self.scale[n])
    }

    /// The vector in which the matrix's form is a sum of squares: for a covariance, one of
    /// independent deviates of variance 1.
    pub(super) fn whitened(&self, vector: &[f64; N]) -> [f64; N] {
        let mut x = [0.0; N];
        for row in 0..N {
            let known: f64 = (0..row).map(|n| self.lower[row][n] * x[n]).sum();
            x[row] = (vector[row] / self.scale[row] - known) / self.lower[row][row];
        }
        x
    }

    /// The matrix's inverse.
    pub(super) fn inverse(&self) -> Matrix<N> {
        std::array::from_fn(|n| {
            let mut unit = [0.0; N];
            unit[n] = 1.0;
            self.solve(&unit)
        })
    }

    /// The logarithm of the determinant.
    pub(super) fn log_determinant(&self) -> f64 {
        (0..N).map(|n| 2.0 * libm::log(self.scale[n] * self.lower[n][n])).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_is_solved_and_a_matrix_that_is_not_positive_refused() {
        let matrix = [[4.0, 2.0, 0.1], [2.0, 9e6, -3.0], [0.1, -3.0, 1e-2]];
        let factor = Factor::of(&matrix).unwrap();
        let x = factor.solve(&[1.0, -2.0, 3.0]);
        for (row, wanted) in matrix.iter().zip([1.0, -2.0, 3.0]) {
            let found: f64 = row.iter().zip(x).map(|(a, b)| a * b).sum();
            assert!((found - wanted).abs() < 1e-9, "{found}");
        }
        let squares: f64 = factor.whitened(&[1.0, -2.0, 3.0]).iter().map(|x| x * x).sum();
        let form: f64 = x.iter().zip([1.0, -2.0, 3.0]).map(|(a, b)| a * b).sum();
        assert!((squares - form).abs() < 1e-9);
        let determinant = 4.0 * (9e4 - 9.0) - 2.0 * (2e-2 + 0.3) + 0.1 * (-6.0 - 0.1 * 9e6);
        assert!((factor.log_determinant() - libm::log(determinant)).abs() < 1e-9);
        assert!(Factor::of(&[[1.0, 2.0], [2.0, 1.0]]).is_none());
        assert!(Factor::of(&[[1.0, 1.0], [1.0, 1.0]]).is_none());
        assert!(Factor::of(&[[f64::NAN]]).is_none());
    }
}

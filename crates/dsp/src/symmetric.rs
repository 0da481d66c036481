//! Eigenvalues of a real symmetric matrix: Householder reflections to a tridiagonal one, then QL
//! steps with implicit shifts (Wilkinson and Reinsch 1971, contributions II/2 and II/3).

/// All eigenvalues of `a`, a full symmetric matrix as rows, ascending.
pub(crate) fn eigenvalues(mut a: Vec<Vec<f64>>) -> Vec<f64> {
    let (mut diagonal, beside) = tridiagonal(&mut a);
    ql(&mut diagonal, beside);
    diagonal.sort_by(f64::total_cmp);
    diagonal
}

/// Diagonal and subdiagonal of the similar tridiagonal matrix; the subdiagonal ends with a zero.
fn tridiagonal(a: &mut [Vec<f64>]) -> (Vec<f64>, Vec<f64>) {
    let n = a.len();
    let mut beside = vec![0.0; n];
    for k in 0..n {
        // The row left of the diagonal becomes zero but for its last entry, from the last row up.
        let last = n - 1 - k;
        if last == 0 {
            break;
        }
        let mut v = a[last][..last].to_vec();
        let tail: f64 = v[..last - 1].iter().map(|x| x * x).sum();
        if tail == 0.0 {
            beside[last - 1] = v[last - 1];
            continue;
        }
        let norm = (tail + v[last - 1] * v[last - 1]).sqrt().copysign(v[last - 1]);
        beside[last - 1] = -norm;
        v[last - 1] += norm;
        // A − v wᵀ − w vᵀ with w = p − (pᵀv/2h) v, p = A v/h, h = |v|²/2.
        let h = norm * v[last - 1];
        let dot = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
        let mut w: Vec<f64> = a[..last].iter().map(|row| dot(&row[..last], &v) / h).collect();
        let half = 0.5 * dot(&w, &v) / h;
        w.iter_mut().zip(&v).for_each(|(w, v)| *w -= half * v);
        for (i, row) in a[..last].iter_mut().enumerate() {
            for (x, (v_j, w_j)) in row[..last].iter_mut().zip(v.iter().zip(&w)) {
                *x -= v[i] * w_j + w[i] * v_j;
            }
        }
    }
    ((0..n).map(|i| a[i][i]).collect(), beside)
}

/// Turns `d`, the diagonal, into the eigenvalues; `e` is the subdiagonal.
fn ql(d: &mut [f64], mut e: Vec<f64>) {
    let n = d.len();
    for l in 0..n {
        // Each eigenvalue takes two or three steps; sixty never happen.
        for _ in 0..60 {
            let small = |m: &usize| e[*m].abs() <= f64::EPSILON * (d[*m].abs() + d[*m + 1].abs());
            let m = (l..n - 1).find(small).unwrap_or(n - 1);
            if m == l {
                break;
            }
            let g = (d[l + 1] - d[l]) / (2.0 * e[l]);
            let mut g = d[m] - d[l] + e[l] / (g + g.hypot(1.0).copysign(g));
            let (mut s, mut c, mut p) = (1.0, 1.0, 0.0);
            let mut whole = true;
            for i in (l..m).rev() {
                let (f, b) = (s * e[i], c * e[i]);
                let r = f.hypot(g);
                e[i + 1] = r;
                if r == 0.0 {
                    d[i + 1] -= p;
                    e[m] = 0.0;
                    whole = false;
                    break;
                }
                (s, c) = (f / r, g / r);
                let g_before = d[i + 1] - p;
                let r = (d[i] - g_before) * s + 2.0 * c * b;
                p = s * r;
                d[i + 1] = g_before + p;
                g = c * r - b;
            }
            if whole {
                d[l] -= p;
                e[l] = g;
                e[m] = 0.0;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn of_the_second_difference_and_of_a_diagonal() {
        // Textbook: 2 − 2 cos(kπ/(n+1)).
        for n in [1, 2, 3, 50] {
            let at = |i: usize, j: usize| match i.abs_diff(j) {
                0 => 2.0,
                1 => -1.0,
                _ => 0.0,
            };
            let rows = (0..n).map(|i| (0..n).map(|j| at(i, j)).collect()).collect();
            for (k, got) in eigenvalues(rows).into_iter().enumerate() {
                let want = 2.0 - 2.0 * (PI * (k + 1) as f64 / (n + 1) as f64).cos();
                assert!((got - want).abs() < 1e-13, "{n}: {got} for {want}");
            }
        }
        assert_eq!(eigenvalues(vec![vec![3.0, 0.0], vec![0.0, -1.0]]), [-1.0, 3.0]);
        assert!(eigenvalues(Vec::new()).is_empty());
    }

    #[test]
    fn trace_squares_and_a_known_spectrum_of_a_full_matrix() {
        // P D P with the reflection P = I − 2uuᵀ has the spectrum D.
        let n = 40;
        let norm = (0..n).map(|i| ((i * i) as f64).sin().powi(2)).sum::<f64>().sqrt();
        let u = |i: usize| ((i * i) as f64).sin() / norm;
        let p = |i: usize, j: usize| f64::from(u8::from(i == j)) - 2.0 * u(i) * u(j);
        let d = |k: usize| (k as f64 - 7.0) * 0.3;
        let at = |i: usize, j: usize| (0..n).map(|k| p(i, k) * d(k) * p(k, j)).sum::<f64>();
        let rows = (0..n).map(|i| (0..n).map(|j| at(i, j)).collect()).collect();
        for (k, got) in eigenvalues(rows).into_iter().enumerate() {
            assert!((got - d(k)).abs() < 1e-12, "{got} for {}", d(k));
        }
    }
}

//! One-to-one assignment of the largest sum of weights (the Hungarian method in its form with
//! potentials: Kuhn 1955, Munkres 1957).

/// For each row of a matrix of weights (rows × columns, none negative) its column, so that the sum
/// over the pairs is largest; `None` for a row that gets no column of positive weight.
///
/// Weights below 2^48 keep all sums exact.
pub(crate) fn assign(weights: &[Vec<i64>]) -> Vec<Option<usize>> {
    let rows = weights.len();
    let columns = weights.first().map_or(0, Vec::len);
    // Square up with pairs of no weight; the method minimises, so costs are negative weights.
    let n = rows.max(columns);
    let cost = |i: usize, j: usize| {
        weights.get(i - 1).and_then(|row| row.get(j - 1)).map_or(0, |&weight| -weight)
    };
    let mut row_potential = vec![0i64; n + 1];
    let mut column_potential = vec![0i64; n + 1];
    let mut row_of = vec![0usize; n + 1];
    for i in 1..=n {
        let mut came_from = vec![0usize; n + 1];
        let mut least = vec![i64::MAX; n + 1];
        let mut used = vec![false; n + 1];
        row_of[0] = i;
        let mut column = 0;
        loop {
            used[column] = true;
            let row = row_of[column];
            let (mut delta, mut next) = (i64::MAX, 0);
            for j in 1..=n {
                if used[j] {
                    continue;
                }
                let reduced = cost(row, j) - row_potential[row] - column_potential[j];
                if reduced < least[j] {
                    (least[j], came_from[j]) = (reduced, column);
                }
                if least[j] < delta {
                    (delta, next) = (least[j], j);
                }
            }
            for j in 0..=n {
                if used[j] {
                    row_potential[row_of[j]] += delta;
                    column_potential[j] -= delta;
                } else {
                    least[j] = least[j].saturating_sub(delta);
                }
            }
            column = next;
            if row_of[column] == 0 {
                break;
            }
        }
        while column != 0 {
            let before = came_from[column];
            row_of[column] = row_of[before];
            column = before;
        }
    }
    let mut chosen = vec![None; rows];
    for (column, &row) in row_of.iter().enumerate().skip(1) {
        if (1..=rows).contains(&row) && cost(row, column) < 0 {
            chosen[row - 1] = Some(column - 1);
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    #[test]
    fn the_sum_is_the_largest_of_all_assignments() {
        // Against trying every assignment.
        fn best(weights: &[Vec<i64>], row: usize, taken: &mut Vec<bool>) -> i64 {
            let Some(own) = weights.get(row) else { return 0 };
            let mut most = best(weights, row + 1, taken);
            for (column, weight) in own.iter().enumerate() {
                if !taken[column] {
                    taken[column] = true;
                    most = most.max(weight + best(weights, row + 1, taken));
                    taken[column] = false;
                }
            }
            most
        }
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        for _ in 0..300 {
            let (rows, columns) = (random.random_range(1..6), random.random_range(1..6));
            let weights: Vec<Vec<i64>> = (0..rows)
                .map(|_| (0..columns).map(|_| random.random_range(0..9)).collect())
                .collect();
            let chosen = assign(&weights);
            let mut columns_used: Vec<usize> = chosen.iter().flatten().copied().collect();
            columns_used.sort_unstable();
            assert!(columns_used.windows(2).all(|w| w[0] != w[1]), "{chosen:?}");
            let sum: i64 = chosen.iter().zip(&weights).filter_map(|(c, w)| c.map(|c| w[c])).sum();
            assert_eq!(sum, best(&weights, 0, &mut vec![false; columns]), "{weights:?}");
        }
    }
}

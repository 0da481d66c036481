//! Coarser levels and pictures against the direct computation over all cells.

use rand::{RngExt, SeedableRng};
use spectrum::{Coarser, OverviewRow, Picture, code_from_power, dbfs_from_code, power_from_code};

const CELLS: usize = 64;
const ROWS: usize = 103;

/// Rows of random codes, the largest never under the mean.
fn rows() -> Vec<(Vec<u8>, Vec<u8>)> {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(5);
    let mut row = || {
        let mean: Vec<u8> = (0..CELLS).map(|_| random.random_range(60..90)).collect();
        let max = mean.iter().map(|code| code + random.random_range(0..30)).collect();
        (max, mean)
    };
    (0..ROWS).map(|_| row()).collect()
}

#[test]
fn every_code_is_its_own_power() {
    for code in 0..=255u8 {
        assert_eq!(code_from_power(power_from_code(code)), code);
    }
    assert!((dbfs_from_code(code_from_power(1.0))).abs() < 1e-9);
}

#[test]
fn a_coarser_level_holds_the_largest_and_the_mean_power_of_four_rows() {
    let rows = rows();
    let mut coarser = Coarser::new(CELLS);
    let mut made = Vec::new();
    let mut take = |row: OverviewRow<'_>| made.push((row.row, row.max.to_vec(), row.mean.to_vec()));
    for (row, (max, mean)) in rows.iter().enumerate() {
        coarser.push(&OverviewRow { row: row as u64, max, mean }, &mut take);
    }
    coarser.finish(&mut take);
    assert_eq!(made.len(), ROWS.div_ceil(4));
    for (number, (row, max, mean)) in made.iter().enumerate() {
        assert_eq!(*row, number as u64);
        let part = &rows[4 * number..(4 * number + 4).min(ROWS)];
        for cell in 0..CELLS {
            assert_eq!(max[cell], part.iter().map(|r| r.0[cell]).max().expect("rows"));
            let power = part.iter().map(|r| 10f64.powf(dbfs_from_code(r.1[cell]) / 10.0));
            let db = 10.0 * (power.sum::<f64>() / part.len() as f64).log10();
            assert!((dbfs_from_code(mean[cell]) - db).abs() <= 0.3126);
        }
    }
}

#[test]
fn a_picture_is_the_largest_of_what_falls_into_each_pixel_wherever_it_lies() {
    let rows = rows();
    for (first, shift, left, width) in
        [(0i64, 0u32, 0i64, 64usize), (0, 2, 3, 9), (-7, 1, -4, 40), (37, 3, 0, 16), (900, 2, 0, 8)]
    {
        let mut picture = Picture::new(width, 1);
        for (row, (max, mean)) in rows.iter().enumerate() {
            picture.put(0, &OverviewRow { row: row as u64, max, mean }, first, shift, left);
        }
        let pixels = picture.finish();
        for x in 0..width {
            let inside = |cell: &usize| {
                let plane = first + *cell as i64;
                plane.div_euclid(1 << shift) == left + x as i64
            };
            let cells: Vec<usize> = (0..CELLS).filter(inside).collect();
            let largest = rows.iter().flat_map(|r| cells.iter().map(|c| r.0[*c])).max();
            assert_eq!(pixels.max[x], largest.unwrap_or(0), "{first} {shift} {left}: {x}");
            let powers: Vec<f64> = rows
                .iter()
                .flat_map(|r| cells.iter().map(|c| 10f64.powf(dbfs_from_code(r.1[*c]) / 10.0)))
                .collect();
            if powers.is_empty() {
                assert_eq!(pixels.mean[x], 0);
            } else {
                let db = 10.0 * (powers.iter().sum::<f64>() / powers.len() as f64).log10();
                assert!((dbfs_from_code(pixels.mean[x]) - db).abs() <= 0.32);
            }
        }
        let part = pixels.part(width - 2, 4);
        assert_eq!(part.max, [pixels.max[width - 2], pixels.max[width - 1], 0, 0]);
    }
}

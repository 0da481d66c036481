//! Which rows hold a frequency: the frequency axis cut at every edge, each piece with its rows.

use units::Band;

/// Rows by piece of the frequency axis.
#[derive(Debug, Clone, Default)]
pub(crate) struct Index {
    /// Edges, rising. Piece i reaches from edge i to edge i + 1, both included.
    edges: Vec<f64>,
    rows: Vec<Vec<u32>>,
}

impl Index {
    /// From the bands of all rows, in row order.
    pub fn of(bands: &[Band]) -> Index {
        let mut edges: Vec<f64> = bands.iter().flat_map(|b| [b.low_hz, b.high_hz]).collect();
        edges.sort_by(f64::total_cmp);
        edges.dedup();
        let mut rows = vec![Vec::new(); edges.len().saturating_sub(1)];
        for (row, band) in (0u32..).zip(bands) {
            let first = edges.partition_point(|&e| e < band.low_hz);
            for (piece, list) in rows.iter_mut().enumerate().skip(first) {
                if edges[piece] >= band.high_hz {
                    break;
                }
                list.push(row);
            }
        }
        Index { edges, rows }
    }

    /// Rows that share at least a point with `band`, rising, each once. Touching edges count.
    pub fn touching(&self, band: Band) -> Vec<usize> {
        // The first piece is the one that ends at or above the lower edge.
        let first = self.edges.partition_point(|&e| e < band.low_hz).saturating_sub(1);
        let pieces = self.rows.iter().zip(&self.edges).skip(first);
        let mut found: Vec<usize> = pieces
            .take_while(|(_, low)| **low <= band.high_hz)
            .flat_map(|(rows, _)| rows.iter().map(|&r| r as usize))
            .collect();
        found.sort_unstable();
        found.dedup();
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_index_agrees_with_looking_at_every_row() {
        let bands: Vec<Band> = (0..60)
            .map(|k| {
                let low = f64::from((k * 37) % 100);
                Band::new(low, low + f64::from(1 + (k * 11) % 30))
            })
            .collect();
        let index = Index::of(&bands);
        for a in 0..140 {
            for width in [0.0, 0.5, 3.0, 50.0] {
                let band = Band::new(f64::from(a) - 5.0, f64::from(a) - 5.0 + width);
                let slow: Vec<usize> =
                    (0..bands.len()).filter(|&i| bands[i].overlap(&band).is_some()).collect();
                let fast = index.touching(band);
                assert!(slow.iter().all(|i| fast.contains(i)), "{band:?}: {slow:?} {fast:?}");
                // An answer more than asked for may only touch the first piece's far side.
                let held: Vec<usize> =
                    fast.into_iter().filter(|&i| bands[i].overlap(&band).is_some()).collect();
                assert_eq!(held, slow);
            }
        }
        assert!(Index::of(&[]).touching(Band::new(0.0, 1.0)).is_empty());
    }
}

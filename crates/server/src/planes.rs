//! Recordings that are being looked at, and the pictures of them that were made: both bounded, so
//! that memory does not grow with what was looked at.

use crate::problem::Problem;
use crate::surveys::Open;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use survey::plane::{Level, Pixels, Plane};
use survey::{Sight, SurveyError};

/// Recordings kept open: a few that are compared.
const MOST_OPEN: usize = 4;
/// Bytes of pictures that are kept.
const MOST_BYTES: usize = 64 << 20;

/// Whether somebody still waits for an answer: false once its handler is dropped.
#[derive(Debug, Clone, Default)]
pub(crate) struct Waiting(Arc<AtomicBool>);

/// Says so when it is dropped.
#[derive(Debug)]
pub(crate) struct Leaves(Arc<AtomicBool>);

impl Waiting {
    /// To be held by the handler.
    pub(crate) fn leaves(&self) -> Leaves {
        Leaves(self.0.clone())
    }
    pub(crate) fn still(&self) -> bool {
        !self.0.load(Ordering::Relaxed)
    }
}

impl Drop for Leaves {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// A recording, open, with what it is known by.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    pub(crate) plane: Arc<Plane>,
    pub(crate) sight: Arc<Sight>,
    key: Arc<str>,
}

/// What is open, and the pictures.
#[derive(Debug, Default)]
pub(crate) struct Planes {
    open: Mutex<Vec<Seen>>,
    opening: Mutex<()>,
    tiles: Mutex<Tiles>,
    /// One picture is made at a time of the overviews, and one of samples, by all cores.
    making: [Mutex<()>; 2],
}

impl Planes {
    /// A capture of a survey, opened if it is not yet.
    pub(crate) fn get(&self, of: &str, open: &Open, id: &str) -> Result<Seen, Problem> {
        let sight = open.survey.sight(id)?;
        let key = format!("{of}/{id}/{}", sight.key());
        if let Some(seen) = self.known(&key) {
            return Ok(seen);
        }
        let _one = hold(&self.opening);
        if let Some(seen) = self.known(&key) {
            return Ok(seen);
        }
        let plane = Arc::new(open.survey.plane(&sight)?);
        let seen = Seen { plane, sight: Arc::new(sight), key: key.into() };
        let mut all = hold(&self.open);
        all.insert(0, seen.clone());
        all.truncate(MOST_OPEN);
        Ok(seen)
    }

    /// One that is open comes to the front.
    fn known(&self, key: &str) -> Option<Seen> {
        let mut all = hold(&self.open);
        let at = all.iter().position(|seen| *seen.key == *key)?;
        all[..=at].rotate_right(1);
        all.first().cloned()
    }

    /// A tile, made if it is not kept; none where there is no such tile.
    pub(crate) fn tile(
        &self,
        seen: &Seen,
        level: Level,
        (column, row): (u64, u64),
        waiting: &Waiting,
    ) -> Result<Option<Arc<Pixels>>, Problem> {
        let key = |column| (seen.key.clone(), level, column, row);
        if let Some(pixels) = hold(&self.tiles).get(&key(column)) {
            return Ok(Some(pixels));
        }
        let of_samples = level.frequency < 0 || level.time < 0;
        let _one = hold(&self.making[usize::from(of_samples)]);
        // Another may have made it meanwhile.
        if let Some(pixels) = hold(&self.tiles).get(&key(column)) {
            return Ok(Some(pixels));
        }
        let made = seen.plane.tiles(level, column, row, &|| waiting.still());
        let Some(made) = made.map_err(SurveyError::from)? else { return Ok(None) };
        let mut kept = hold(&self.tiles);
        let mut found = None;
        for tile in made {
            let pixels = Arc::new(tile.pixels);
            if tile.column == column {
                found = Some(pixels.clone());
            }
            kept.put(key(tile.column), pixels);
        }
        Ok(found)
    }
}

fn hold<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

type Key = (Arc<str>, Level, u64, u64);

/// Pictures by how long ago they were wanted.
#[derive(Debug, Default)]
struct Tiles {
    kept: BTreeMap<Key, (u64, Arc<Pixels>)>,
    by_age: BTreeMap<u64, Key>,
    bytes: usize,
    now: u64,
}

impl Tiles {
    fn get(&mut self, key: &Key) -> Option<Arc<Pixels>> {
        let (age, pixels) = self.kept.get_mut(key)?;
        self.by_age.remove(age);
        self.now += 1;
        *age = self.now;
        self.by_age.insert(self.now, key.clone());
        Some(pixels.clone())
    }

    fn put(&mut self, key: Key, pixels: Arc<Pixels>) {
        self.now += 1;
        self.bytes += bytes_of(&pixels);
        self.by_age.insert(self.now, key.clone());
        if let Some((age, old)) = self.kept.insert(key, (self.now, pixels)) {
            self.by_age.remove(&age);
            self.bytes -= bytes_of(&old);
        }
        while self.bytes > MOST_BYTES {
            let Some((_, key)) = self.by_age.pop_first() else { break };
            if let Some((_, old)) = self.kept.remove(&key) {
                self.bytes -= bytes_of(&old);
            }
        }
    }
}

fn bytes_of(pixels: &Pixels) -> usize {
    pixels.max.len() + pixels.mean.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_are_kept_up_to_a_number_of_bytes_the_latest_wanted_longest() {
        let pixels = || Arc::new(Pixels { width: 256, max: vec![1; 65536], mean: vec![1; 65536] });
        let key = |n: u64| (Arc::from("C1"), Level { frequency: 0, time: 0 }, n, 0);
        let mut tiles = Tiles::default();
        let fit = (MOST_BYTES / bytes_of(&pixels())) as u64;
        for n in 0..fit {
            tiles.put(key(n), pixels());
        }
        assert!(tiles.get(&key(0)).is_some());
        tiles.put(key(fit), pixels());
        assert!(tiles.bytes <= MOST_BYTES);
        // The first was wanted again: the second had to go.
        assert!(tiles.get(&key(0)).is_some() && tiles.get(&key(1)).is_none());
        tiles.put(key(0), pixels());
        assert_eq!(tiles.kept.len(), tiles.by_age.len());
        assert_eq!(tiles.bytes, tiles.kept.len() * bytes_of(&pixels()));
    }
}

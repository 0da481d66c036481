//! Windowed power spectra of samples, the noise floor under them, and overview tiles.
//!
//! [`stream`] reads one segment once and hands up, block by block, the [`Rows`] of power spectra at
//! every [`Resolution`] of a ladder; [`FloorEstimator`] and [`Overview`] take such rows.
//!
//! Conventions everywhere: power per bin is |X|²/(Σw)², so that a full-scale complex tone at a bin
//! reads 1 (0 dBFS) there, and white noise of power p reads p·ENBW/N; rows are in order of
//! frequency, −fs/2 first (bin N/2 is the centre frequency).

mod code;
mod floor;
mod overview;
mod picture;
mod resolution;
mod stft;
mod stream;

pub use code::{code_from_power, dbfs_from_code, power_from_code};
pub use floor::{Floor, FloorEstimator};
pub use overview::{Overview, OverviewRow};
pub use picture::{Coarser, Picture, Pixels};
pub use resolution::Resolution;
pub use stft::{Rows, Stft, Workspace};
pub use stream::{Block, stream};

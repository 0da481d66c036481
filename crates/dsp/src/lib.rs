//! Windows, Fourier transforms, filters, resampling and the statistics of summed powers.
//! Knows nothing of radio: slices in, slices or numbers out, the caller owns the scratch.

mod box_tail;
mod fft;
mod fir;
mod gamma;
mod hann_box;
mod noncentral;
mod normal;
mod power;
mod quadratic;
mod resample;
mod symmetric;
mod window;

pub use box_tail::BoxTail;
pub use fft::Fft;
pub use fir::{Fir, gaussian, lowpass, root_raised_cosine};
pub use gamma::{gamma_cdf, gamma_isf, gamma_isf_ln, gamma_ln_sf, gamma_quantile, truncated_mean};
pub use hann_box::effective_cells;
pub use noncentral::{detection_probability, required_snr, required_snr_noise_like};
pub use normal::{normal_isf, normal_isf_ln, normal_ln_sf, normal_sf};
pub use power::{add_power, extremes, mean_power, power, windowed};
pub use quadratic::{ExponentialSum, frame_eigenvalues, gram_eigenvalues};
pub use resample::{DownConverter, Resampler};
pub use window::Window;

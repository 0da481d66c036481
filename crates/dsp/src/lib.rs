//! dsp

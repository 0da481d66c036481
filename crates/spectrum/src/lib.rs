//! spectrum

//! propagate

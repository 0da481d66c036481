//! survey

//! capture

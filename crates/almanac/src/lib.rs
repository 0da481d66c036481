//! almanac

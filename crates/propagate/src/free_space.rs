//! Free space (ITU-R P.525), field strength, antenna factor. Frequencies in hertz, distances in
//! metres; far field only (see [`radian_distance_m`] and [`fraunhofer_distance_m`]).

use std::f64::consts::PI;

/// Speed of light, m/s (exact, SI).
pub const LIGHT_M_S: f64 = 299_792_458.0;

/// EIRP less ERP: gain of a half-wave dipole, dB (1.64; ITU-R BS.561).
pub const DIPOLE_DB: f64 = 2.15;

/// Wavelength, metres.
pub fn wavelength_m(hz: f64) -> f64 {
    LIGHT_M_S / hz
}

/// Basic transmission loss in free space, 20 log(4πd/λ) dB (ITU-R P.525 eq. 3). Nothing keeps it
/// above zero: inside the near field the formula means nothing.
pub fn free_space_db(hz: f64, distance_m: f64) -> f64 {
    20.0 * (4.0 * PI * distance_m / wavelength_m(hz)).log10()
}

/// Field strength of an EIRP in free space, dBµV/m: √(30 p)/d (ITU-R P.525 eq. 1).
pub fn field_dbuv_m(eirp_dbm: f64, distance_m: f64) -> f64 {
    let eirp_w = 10f64.powf((eirp_dbm - 30.0) / 10.0);
    20.0 * ((30.0 * eirp_w).sqrt() / distance_m * 1e6).log10()
}

/// EIRP that gives a field strength (dBµV/m) at a distance, dBm: (E d)²/30.
pub fn eirp_dbm_from_field(dbuv_m: f64, distance_m: f64) -> f64 {
    let volt_per_m = 10f64.powf(dbuv_m / 20.0) * 1e-6;
    10.0 * ((volt_per_m * distance_m).powi(2) / 30.0 * 1e3).log10()
}

/// Power density of a field strength (dBµV/m), dBW/m²: E²/120π.
pub fn density_dbw_m2(dbuv_m: f64) -> f64 {
    let volt_per_m = 10f64.powf(dbuv_m / 20.0) * 1e-6;
    10.0 * (volt_per_m * volt_per_m / (120.0 * PI)).log10()
}

/// Power at an antenna of a gain (dBi) in a field (dBµV/m), dBm: density × λ²G/4π.
pub fn received_dbm(dbuv_m: f64, hz: f64, gain_dbi: f64) -> f64 {
    let aperture = wavelength_m(hz).powi(2) / (4.0 * PI);
    density_dbw_m2(dbuv_m) + 30.0 + 10.0 * aperture.log10() + gain_dbi
}

/// Antenna factor of a gain (dBi) into 50 Ω, dB/m.
pub fn antenna_factor_db_m(hz: f64, gain_dbi: f64) -> f64 {
    // The field that puts 0 dBm (106.99 dBµV in 50 Ω) on the connector, less that voltage.
    let field = -received_dbm(0.0, hz, gain_dbi);
    field - dbuv_from_dbm(0.0, 50.0)
}

/// Voltage of a power across `ohm`, dBµV.
pub fn dbuv_from_dbm(dbm: f64, ohm: f64) -> f64 {
    dbm + 10.0 * (1e-3 * ohm).log10() + 120.0
}

/// Radius of the reactive near field of a small source, λ/2π, metres. Power laws fail inside.
pub fn radian_distance_m(hz: f64) -> f64 {
    wavelength_m(hz) / (2.0 * PI)
}

/// Distance from which a source of size `size_m` is in the far field, 2D²/λ, metres.
pub fn fraunhofer_distance_m(hz: f64, size_m: f64) -> f64 {
    2.0 * size_m * size_m / wavelength_m(hz)
}

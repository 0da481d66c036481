//! How much of a transmission arrives: free space, walls and floors, indoor models, building
//! entry, shadowing and fading. Formulas of ITU-R P.525, P.1238, P.2040, P.2109; figures from the
//! almanac. Frequencies in hertz, distances in metres, losses in dB and positive.
//!
//! ```
//! use propagate::{Wall, free_space_db, wall_loss_db};
//!
//! // ITU-R P.525: 34.7 dB over 3 m at 433.92 MHz.
//! assert!((free_space_db(433.92e6, 3.0) - 34.74).abs() < 0.01);
//! // A planning class by its name, or a slab of a material of ITU-R P.2040 by its thickness.
//! let partition = wall_loss_db("light_partition", 2.4e9)?;
//! let concrete: Wall = "concrete:0.2".parse()?;
//! assert!(partition < concrete.loss(2.4e9).db);
//! # Ok::<(), propagate::WallError>(())
//! ```

mod entry;
mod fading;
mod free_space;
mod indoor;
mod slab;
mod wall;

pub use entry::{Building, LossPrior, entry_loss_db, entry_prior};
pub use fading::{
    Shadowing, rayleigh_fade_chance, rayleigh_mean_sigma_db, rician_fade_chance,
    walk_mean_deviation,
};
pub use free_space::{
    DIPOLE_DB, LIGHT_M_S, antenna_factor_db_m, dbuv_from_dbm, density_dbw_m2, eirp_dbm_from_field,
    field_dbuv_m, fraunhofer_distance_m, free_space_db, radian_distance_m, received_dbm,
    wavelength_m,
};
pub use indoor::{SiteGeneral, distance_coefficient, floors_db, p1238_to_8_db};
pub use slab::{Dielectric, Polarisation};
pub use wall::{
    Wall, WallError, WallLoss, dielectric, material_names, slab_loss_db, wall_loss_db, wall_names,
};

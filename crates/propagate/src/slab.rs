//! Transmission through one homogeneous slab (ITU-R P.2040, single layer): complex permittivity
//! η = a·f^b − j·17.98·c·f^d/f, f in GHz, and the Fresnel coefficients of its two faces.

use crate::free_space::wavelength_m;
use num_complex::Complex64;

/// Electric field across or in the plane of incidence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarisation {
    /// Transverse electric.
    Te,
    /// Transverse magnetic.
    Tm,
}

/// Electrical properties of a material: permittivity a·f^b, conductivity c·f^d S/m, f in GHz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dielectric {
    /// Factor of the permittivity.
    pub a: f64,
    /// Exponent of the permittivity.
    pub b: f64,
    /// Factor of the conductivity, S/m.
    pub c: f64,
    /// Exponent of the conductivity.
    pub d: f64,
}

impl Dielectric {
    /// Relative permittivity, real part.
    pub fn permittivity(&self, hz: f64) -> f64 {
        self.a * (hz / 1e9).powf(self.b)
    }

    /// Conductivity, S/m.
    pub fn conductivity(&self, hz: f64) -> f64 {
        self.c * (hz / 1e9).powf(self.d)
    }

    /// Complex relative permittivity; 17.98 = 1/(2π ε0 · 1 GHz).
    fn complex(&self, hz: f64) -> Complex64 {
        Complex64::new(self.permittivity(hz), -17.98 * self.conductivity(hz) / (hz / 1e9))
    }

    /// Attenuation inside the bulk in the dielectric limit, 1636 σ/√ε dB/m (ITU-R P.2040).
    pub fn bulk_db_m(&self, hz: f64) -> f64 {
        1636.0 * self.conductivity(hz) / self.permittivity(hz).sqrt()
    }

    /// Loss through a slab, dB, `angle_rad` from the normal. Infinite where nothing comes
    /// through in double precision (metal).
    pub fn slab_db(
        &self,
        hz: f64,
        thickness_m: f64,
        angle_rad: f64,
        polarisation: Polarisation,
    ) -> f64 {
        let eta = self.complex(hz);
        let (sin, cos) = angle_rad.sin_cos();
        let root = (eta - sin * sin).sqrt();
        let face = match polarisation {
            Polarisation::Te => (cos - root) / (cos + root),
            Polarisation::Tm => (eta * cos - root) / (eta * cos + root),
        };
        let phase = root * (2.0 * std::f64::consts::PI * thickness_m / wavelength_m(hz));
        let through = (-Complex64::i() * phase).exp();
        let passed = (1.0 - face * face) * through / (1.0 - face * face * through * through);
        -20.0 * passed.norm().log10()
    }

    /// Loss at normal incidence, the transmitted power averaged over thicknesses within ±10 %:
    /// the internal reflections of one exact thickness ripple by 2 dB, a real wall's do not.
    pub fn wall_db(&self, hz: f64, thickness_m: f64) -> f64 {
        const STEPS: i32 = 20;
        let passed = |k: i32| {
            let thickness = thickness_m * (0.9 + 0.2 * f64::from(k) / f64::from(STEPS));
            units::ratio_from_db(-self.slab_db(hz, thickness, 0.0, Polarisation::Te))
        };
        -units::db_from_ratio((0..=STEPS).map(passed).sum::<f64>() / f64::from(STEPS + 1))
    }
}

//! Every row of published.csv: ITU-R P.525, P.1238, P.2040, Gudmundson 1991, and values computed
//! with scipy. Each row names its source; `how` says whether the value was published, follows
//! from a closed form, or was computed.

use propagate::*;
use std::collections::BTreeMap;

struct Check {
    id: String,
    quantity: String,
    inputs: BTreeMap<String, String>,
    values: Vec<f64>,
    tolerance: String,
}

impl Check {
    fn text(&self, key: &str) -> &str {
        self.inputs.get(key).unwrap_or_else(|| panic!("{}: input {key}", self.id))
    }
    fn number(&self, key: &str) -> f64 {
        self.text(key).parse().unwrap_or_else(|_| panic!("{}: input {key}", self.id))
    }
    fn mhz(&self) -> f64 {
        self.number("f_mhz") * 1e6
    }
    fn ghz(&self) -> f64 {
        self.number("f_ghz") * 1e9
    }
    fn material(&self) -> String {
        self.text("material").replace(' ', "_")
    }
    fn compare(&self, got: &[f64]) {
        assert_eq!(got.len(), self.values.len(), "{}", self.id);
        for (got, want) in got.iter().zip(&self.values) {
            let close = match self.tolerance.split_once(' ') {
                None => got == want,
                Some(("abs", x)) => (got - want).abs() <= x.parse().expect("tolerance"),
                Some((_, x)) => {
                    (got - want).abs() <= x.parse::<f64>().expect("tolerance") * want.abs()
                }
            };
            assert!(
                close,
                "{} {}: {got}, published {want} ({})",
                self.id, self.quantity, self.tolerance
            );
        }
    }
}

fn checks() -> Vec<Check> {
    let text = include_str!("published.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows = reader.records().map(|r| r.expect("a row"));
    rows.map(|r| Check {
        id: r[0].to_owned(),
        quantity: r[2].to_owned(),
        inputs: (r[3].split(';').filter(|p| !p.is_empty()))
            .filter_map(|p| p.split_once('=').map(|(k, v)| (k.to_owned(), v.to_owned())))
            .collect(),
        values: r[4].split(';').map(|v| v.parse().expect("a number")).collect(),
        tolerance: r[6].to_owned(),
    })
    .collect()
}

/// What this crate gives for a row.
fn computed(c: &Check) -> Vec<f64> {
    let number: u32 = c.id[4..].parse().expect("PRP-nnn");
    match number {
        1..=5 => vec![free_space_db(c.mhz(), c.number("d_m"))],
        6 => vec![free_space_db(1e6, 1e3)],
        7..=9 => {
            let dbm = 10.0 * (c.number("eirp_w") * 1e3).log10();
            vec![field_dbuv_m(dbm, c.number("d_m"))]
        }
        10 => vec![field_dbuv_m(30.0, 1e3)],
        11 => vec![-density_dbw_m2(0.0)],
        12 => vec![30.0 - received_dbm(0.0, 1e9, 0.0)],
        13 => vec![dbuv_from_dbm(0.0, 50.0)],
        14 => vec![dbuv_from_dbm(0.0, 75.0)],
        15 => vec![-received_dbm(0.0, 1e6, 0.0)],
        16 => vec![received_dbm(c.number("E_dbuvm"), c.mhz(), c.number("G_dbi"))],
        17 => vec![-antenna_factor_db_m(1e6, 0.0)],
        18 => vec![antenna_factor_db_m(c.mhz(), c.number("G_dbi"))],
        19 => vec![DIPOLE_DB],
        20 => vec![eirp_dbm_from_field(c.number("E_dbuvm"), c.number("d_m"))],
        21 => vec![radian_distance_m(c.mhz())],
        22 => vec![fraunhofer_distance_m(c.mhz(), c.number("D_m"))],
        24..=29 => {
            let (environment, floors) = (c.text("env"), c.number("floors") as u32);
            let n = distance_coefficient(environment, c.mhz()).expect("N");
            let lf = floors_db(environment, c.mhz(), floors).expect("Lf");
            assert_eq!(n, c.number("N"), "{}", c.id);
            assert_eq!(lf, c.number("Lf_db"), "{}", c.id);
            vec![p1238_to_8_db(c.mhz(), c.number("d_m"), n, lf)]
        }
        30..=39 => {
            let (environment, sight) = c.text("env").rsplit_once(' ').expect("environment");
            let s = SiteGeneral::of(environment, sight == "LoS").expect("coefficients");
            if number <= 35 {
                return vec![s.alpha, s.beta_db, s.gamma, s.sigma_db];
            }
            vec![s.median_db(c.ghz(), c.number("d_m"))]
        }
        40..=49 => {
            let d = dielectric(&c.material(), 2.4e9).expect("material");
            vec![d.a, d.b, d.c, d.d]
        }
        50..=53 => {
            let d = dielectric(&c.material(), c.ghz()).expect("material");
            vec![d.permittivity(c.ghz()), d.conductivity(c.ghz())]
        }
        54..=65 => {
            let (angle, way) = match number {
                64 => (45f64.to_radians(), Polarisation::Te),
                65 => (45f64.to_radians(), Polarisation::Tm),
                _ => (0.0, Polarisation::Te),
            };
            let thickness = c.number("thickness_m");
            vec![slab_loss_db(&c.material(), thickness, c.ghz(), angle, way).expect("material")]
        }
        66 => vec![dielectric(&c.material(), c.ghz()).expect("material").bulk_db_m(c.ghz())],
        67 => {
            let s = Shadowing { sigma_db: 1.0, decorrelation_m: c.number("decorrelation_m") };
            vec![s.correlation(c.number("distance_m"))]
        }
        68 => vec![rayleigh_fade_chance(10.0)],
        69 => vec![rayleigh_fade_chance(20.0)],
        70..=72 => vec![rayleigh_mean_sigma_db(c.number("n") as u32)],
        73..=75 => vec![walk_mean_deviation(c.number("length_wavelengths"))],
        76..=78 => vec![rician_fade_chance(c.number("K_db"), 10.0)],
        _ => panic!("{}: no computation for this row", c.id),
    }
}

#[test]
fn every_published_value_is_met() {
    let checks = checks();
    assert_eq!(checks.len(), 77);
    for check in checks {
        check.compare(&computed(&check));
    }
}

/// data/materials.csv holds losses of slabs computed independently of this crate (rounded to
/// 0.1 dB), and the medians and 10 % and 90 % points of ITU-R P.2109.
#[test]
fn the_tables_computed_elsewhere_agree() {
    let mut slabs = 0;
    for m in almanac::Almanac::load().materials() {
        let (hz, Some(value)) = (m.frequency.low_hz, m.value) else { continue };
        match m.kind {
            almanac::MaterialKind::SlabComputed => {
                let d = m.thickness_m.expect("thickness");
                let got = slab_loss_db(&m.material, d, hz, 0.0, Polarisation::Te).expect("slab");
                assert!((got - value).abs() <= 0.051, "line {}: {got}", m.provenance.line);
                slabs += 1;
            }
            almanac::MaterialKind::P2109Median => {
                let building = match m.material.as_str() {
                    "traditional" => Building::Traditional,
                    _ => Building::ThermallyEfficient,
                };
                let (low, high) = m.bounds.expect("10 % and 90 %");
                for (z, want) in [(-1.281_55, low), (0.0, value), (1.281_55, high)] {
                    let got = entry_loss_db(building, hz, z);
                    assert!((got - want).abs() <= 0.06, "line {}: {got}", m.provenance.line);
                }
            }
            _ => {}
        }
    }
    assert!(slabs > 80);
}

#[test]
fn walls_are_called_by_name() {
    let wall: Wall = "light_partition".parse().expect("a planning class");
    // The table's own points, and halfway in log frequency between two of them.
    assert_eq!(wall.loss(2.4e9).db, 4.0);
    assert_eq!(wall.loss(50e6).db, 1.0);
    assert!((wall.loss((100e6f64 * 400e6).sqrt()).db - 1.25).abs() < 1e-9);
    // Thicker concrete takes more; ripple is averaged away.
    let loss = |name: &str, hz: f64| wall_loss_db(name, hz).expect("a wall");
    assert!(loss("concrete:0.1", 2.4e9) < loss("concrete:0.2", 2.4e9));
    // Within the ripple of the exact slab (PRP-054: 14.57 dB).
    assert!((loss("concrete:0.2", 2.4e9) - 14.57).abs() < 2.0);
    // Below the frequencies of the fit the doubt doubles.
    let wall: Wall = "concrete:0.2".parse().expect("a slab");
    assert_eq!(wall.loss(433e6).sigma_db, 3.0);
    assert_eq!(wall.loss(2.4e9).sigma_db, 1.5);
    assert!(loss("metal:0.001", 1e9).is_finite());
    for name in wall_names() {
        for hz in [1e6, 100e6, 433.92e6, 2.4e9, 40e9] {
            let l = name.parse::<Wall>().expect("a wall").loss(hz);
            assert!(0.0 < l.low_db && l.low_db <= l.db && l.db <= l.high_db, "{name} {hz} {l:?}");
        }
    }
}

#[test]
fn a_wall_that_does_not_exist_says_which_do() {
    let text = "cardboard".parse::<Wall>().expect_err("unknown").to_string();
    assert!(text.contains("cardboard") && text.contains("brick_single"), "{text}");
    let text = "concrete".parse::<Wall>().expect_err("no thickness").to_string();
    assert!(text.contains("concrete:0.2"), "{text}");
    for bad in ["concrete:-1", "concrete:NaN", "concrete:", "light_partition:0.1", "", ":"] {
        assert!(bad.parse::<Wall>().is_err(), "{bad}");
    }
}

#[test]
fn floors_grow_by_the_last_known_step() {
    // ITU-R P.1238-8 Table 3 at 1.8 to 2 GHz: office 15 + 4 (n − 1), residential 4 n.
    assert_eq!(floors_db("office", 1.9e9, 5), Some(31.0));
    assert_eq!(floors_db("residential", 1.9e9, 4), Some(16.0));
    assert_eq!(floors_db("office", 1.9e9, 0), Some(0.0));
    assert_eq!(floors_db("lighthouse", 1.9e9, 1), None);
}

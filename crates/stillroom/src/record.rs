//! The record of a simulated survey: what its technician would have written down of the place, as
//! the TOML that `describe --apply` takes.

use anyhow::Context;
use serde_json::{Map, Value, json};
use simulate::Simulation;
use simulate::scene::{NamedPlace, Scene};

/// Antenna height where a scene states none, metres.
const HEIGHT_M: f64 = 1.2;

/// Floors, rooms, positions and chains of the scene, followed by `more` (brief, authority, known
/// devices, in the same form).
///
/// # Errors
/// If the scene cannot be simulated.
pub fn of(simulation: &Simulation, more: &str) -> anyhow::Result<String> {
    let scene = simulation.scene();
    let mut record = Map::new();
    let floors = scene.floors.iter().map(|f| json!({"name": f.name, "height_m": f.level_m}));
    record.insert("floors".into(), floors.collect());
    record.insert("rooms".into(), rooms(scene));
    let positions = scene.positions.iter().map(|p| position(simulation, p));
    record.insert("positions".into(), positions.collect());
    record.insert("chains".into(), chains(scene));
    let text = toml::to_string(&record).context("the scene's record")?;
    Ok(format!("{more}\n{text}"))
}

fn rooms(scene: &Scene) -> Value {
    let rooms = scene.floors.iter().flat_map(|floor| {
        floor.rooms.iter().map(|room| {
            let ([west, east], [south, north]) = (room.x_m, room.y_m);
            let corners = [[west, south], [east, south], [east, north], [west, north]];
            json!({"name": room.name, "floor": floor.name, "corners_m": corners})
        })
    });
    rooms.collect()
}

fn position(simulation: &Simulation, named: &NamedPlace) -> Value {
    let place = &named.place;
    let mut position = Map::new();
    position.insert("name".into(), json!(named.name));
    if let Some((zone, room)) = simulation.zone_of(&named.name) {
        position.insert("zone".into(), json!(zone));
        if let Some(room) = room {
            position.insert("room".into(), json!(room));
        }
    }
    if let Some(floor) = &place.floor {
        position.insert("floor".into(), json!(floor));
    }
    if let Some([x, y]) = place.at_m {
        position.insert("x_m".into(), json!(x));
        position.insert("y_m".into(), json!(y));
    }
    position.insert("height_m".into(), json!(place.height_m.unwrap_or(HEIGHT_M)));
    Value::Object(position)
}

/// The technician's name for a chain of a scene: what stands before a comma. A scene lists one
/// receiver twice where it is stepped at two paces ('stepper' and 'stepper, overnight').
pub fn chain_name(of_scene: &str) -> &str {
    of_scene.split(',').next().unwrap_or(of_scene).trim()
}

/// Receivers, and hand-held detectors with their scales.
fn chains(scene: &Scene) -> Value {
    let listed = scene.chains.iter().enumerate();
    let first = listed.filter(|(i, c)| {
        !scene.chains[..*i].iter().any(|before| chain_name(&before.name) == chain_name(&c.name))
    });
    let receivers = first.map(|(_, c)| {
        // A full-scale tone is `full_scale_dbm` at the converter: dBm at the connector is dBFS plus
        // that, less the gain that `add --gain` states.
        json!({"name": chain_name(&c.name), "coupling": "air", "bands": [],
               "calibration_db": c.full_scale_dbm, "noise_figure_db": c.noise_figure_db})
    });
    let detectors = scene.detectors.iter().map(|d| {
        let bands = d.bands.iter().map(|b| json!({"low_hz": b.low_hz, "high_hz": b.high_hz}));
        let bands: Vec<Value> = bands.collect();
        json!({"name": d.name, "coupling": "air", "scale_steps": f64::from(d.steps), "bands": bands})
    });
    receivers.chain(detectors).collect()
}

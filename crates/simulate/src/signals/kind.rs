//! The kinds of signal, each with its parameters, and what the renderer needs to know of each:
//! how wide it can reach, at which rate it is made, when it sends inside its schedule.

use serde::{Deserialize, Serialize};

/// What an emitter sends. Rates and numerologies of named standards are built in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Signal {
    /// A bare carrier.
    Cw,
    /// Band-limited Gaussian noise.
    Noise {
        /// Width, hertz.
        width_hz: f64,
    },
    /// Double-sideband AM with carrier.
    Am {
        /// Peak modulation depth, 0 to 1.
        depth: f64,
        /// Highest audio frequency.
        #[serde(default = "top_am")]
        top_hz: f64,
        /// What is heard.
        sound: Sound,
    },
    /// FM of one channel of sound, narrow or wide.
    Fm {
        /// Peak deviation.
        deviation_hz: f64,
        /// Highest audio frequency.
        #[serde(default = "top_fm")]
        top_hz: f64,
        /// What is heard.
        sound: Sound,
    },
    /// FM broadcasting: pilot, stereo difference and RDS (ITU-R BS.450, IEC 62106).
    FmBroadcast {
        /// Program identification of its RDS; none: no RDS.
        rds_pi: Option<u16>,
        /// Eight characters of station name.
        #[serde(default)]
        rds_name: String,
        /// Pilot and difference signal.
        #[serde(default = "yes")]
        stereo: bool,
    },
    /// On-off keying by pulse width: each bit is one pulse, a third or two thirds of the bit
    /// long (common practice of remote controls), in words that repeat.
    Ook {
        /// Bits per second.
        bit_rate: f64,
        /// Bits in a word.
        word_bits: u32,
        /// Pause between words, seconds.
        pause_s: f64,
    },
    /// Frequency-shift keying with 2 or 4 levels; random symbols.
    Fsk {
        /// 2 or 4.
        levels: u32,
        /// Symbols per second.
        symbol_rate: f64,
        /// Outermost deviation.
        deviation_hz: f64,
        /// Bandwidth-time product of the Gaussian filter; none: unfiltered.
        bt: Option<f64>,
    },
    /// Phase-shift keying with 2 or 4 points; random symbols.
    Psk {
        /// 2 or 4.
        points: u32,
        /// Symbols per second.
        symbol_rate: f64,
        /// Roll-off of the root-raised-cosine filter; none: rectangular pulses.
        rolloff: Option<f64>,
    },
    /// OFDM frames of a 20 MHz wireless LAN (IEEE 802.11-2020 clause 17): a beacon every
    /// 102.4 ms and data frames at random.
    Wlan {
        /// Part of the time filled with data frames, 0 to 0.9.
        #[serde(default)]
        load: f64,
    },
    /// LTE carrier (3GPP TS 36.211), normal prefix.
    Lte {
        /// Resource blocks, 6 to 100.
        blocks: u32,
        /// A mast's continuous carrier, or a terminal's 1 ms subframes.
        direction: Direction,
    },
    /// Bluetooth LE advertising on channels 37, 38, 39 (Core Specification Vol 6 Part B).
    BleAdvertising {
        /// Advertising interval, seconds; 0 to 10 ms of random delay is added to each.
        interval_s: f64,
        /// Device address.
        address: [u8; 6],
        /// Bytes of advertising data, 0 to 31.
        #[serde(default = "adv_bytes")]
        data_bytes: usize,
    },
    /// One GSM carrier (3GPP TS 45.002, 45.004).
    Gsm {
        /// A mast's broadcast carrier, or a terminal's one slot a frame.
        direction: Direction,
    },
    /// DECT (ETSI EN 300 175-2): a beacon or a call.
    Dect {
        /// Slot of the frame, 0 to 23.
        slot: u32,
        /// A call's full slots (each way counts as its own emitter) or an idle base's short ones.
        call: bool,
    },
    /// Chirp spread spectrum: preamble of 8 up-chirps, 2 sync symbols, 2.25 down-chirps, data.
    Chirp {
        /// Spreading factor, 5 to 12: 2^factor chips a symbol.
        spreading: u32,
        /// Swept width.
        width_hz: f64,
    },
    /// FM of a composite picture signal (ITU-R BT.470 timing), grey test picture.
    VideoFm {
        /// Lines.
        system: Lines,
        /// Peak deviation for the full range from sync tip to white, each way.
        deviation_hz: f64,
        /// Frequency of the FM sound subcarrier; none: no sound.
        sound_hz: Option<f64>,
        /// What is heard.
        #[serde(default)]
        sound: Sound,
    },
}

/// Towards the terminal or from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// From the mast.
    Down,
    /// From the terminal.
    Up,
}

/// Picture system.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Lines {
    /// 625 lines, 50 fields.
    #[serde(rename = "625")]
    L625,
    /// 525 lines, 60/1.001 fields.
    #[serde(rename = "525")]
    L525,
}

/// What modulates a transmitter of sound.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sound {
    /// Nothing.
    #[default]
    Silence,
    /// Somebody speaking all the time (a broadcaster, a caller).
    Programme,
    /// What is said in a room, when somebody speaks there.
    Room(String),
    /// A sine, hertz, at full modulation.
    ToneHz(f64),
    /// Samples given to the simulation under this name.
    Given(String),
}

fn top_am() -> f64 {
    4500.0
}
fn top_fm() -> f64 {
    3000.0
}
fn yes() -> bool {
    true
}
fn adv_bytes() -> usize {
    22
}

impl Signal {
    /// Its kind, as a scene writes it.
    pub fn name(&self) -> &'static str {
        match self {
            Signal::Cw => "cw",
            Signal::Noise { .. } => "noise",
            Signal::Am { .. } => "am",
            Signal::Fm { .. } => "fm",
            Signal::FmBroadcast { .. } => "fm-broadcast",
            Signal::Ook { .. } => "ook",
            Signal::Fsk { .. } => "fsk",
            Signal::Psk { .. } => "psk",
            Signal::Wlan { .. } => "wlan",
            Signal::Lte { .. } => "lte",
            Signal::BleAdvertising { .. } => "ble-advertising",
            Signal::Gsm { .. } => "gsm",
            Signal::Dect { .. } => "dect",
            Signal::Chirp { .. } => "chirp",
            Signal::VideoFm { .. } => "video-fm",
        }
    }
    /// RF channels of a signal that brings its own; empty for one that goes where it is put.
    pub fn channels_hz(&self) -> Vec<f64> {
        match self {
            // Core Specification Vol 6 Part B 1.4.1 (NUM-014).
            Signal::BleAdvertising { .. } => vec![2402e6, 2426e6, 2480e6],
            _ => Vec::new(),
        }
    }
    /// A frequency that stands for the whole signal in propagation.
    pub fn middle_hz(&self, centre_hz: f64) -> f64 {
        let channels = self.channels_hz();
        if channels.is_empty() {
            centre_hz
        } else {
            channels.iter().sum::<f64>() / channels.len() as f64
        }
    }
    /// Checks the parameters.
    ///
    /// # Errors
    /// Field and problem.
    pub fn check(&self) -> Result<(), (&'static str, String)> {
        let within = |field: &'static str, value: f64, low: f64, high: f64| match value.is_finite()
            && (low..=high).contains(&value)
        {
            true => Ok(()),
            false => Err((field, format!("{value} is not within {low} to {high}"))),
        };
        let one_of = |field: &'static str, value: u32, list: &[u32]| match list.contains(&value) {
            true => Ok(()),
            false => Err((field, format!("{value} is not one of {list:?}"))),
        };
        let tone = |sound: &Sound| match sound {
            Sound::ToneHz(hz) => within("sound.tone-hz", *hz, 1.0, 7000.0),
            _ => Ok(()),
        };
        match self {
            Signal::Cw => Ok(()),
            Signal::Noise { width_hz } => within("width_hz", *width_hz, 10.0, 1e9),
            Signal::Am { depth, top_hz, sound } => {
                within("depth", *depth, 0.0, 1.0)?;
                within("top_hz", *top_hz, 500.0, 7000.0)?;
                tone(sound)
            }
            Signal::Fm { deviation_hz, top_hz, sound } => {
                within("deviation_hz", *deviation_hz, 100.0, 1e6)?;
                within("top_hz", *top_hz, 500.0, 7000.0)?;
                tone(sound)
            }
            Signal::FmBroadcast { rds_name, .. } => {
                within("rds_name", rds_name.len() as f64, 0.0, 8.0)
                    .map_err(|_| ("rds_name", format!("'{rds_name}' has more than 8 characters")))
            }
            Signal::Ook { bit_rate, word_bits, pause_s } => {
                within("bit_rate", *bit_rate, 10.0, 1e6)?;
                within("word_bits", f64::from(*word_bits), 1.0, 1e4)?;
                within("pause_s", *pause_s, 0.0, 1e3)
            }
            Signal::Fsk { levels, symbol_rate, deviation_hz, bt } => {
                one_of("levels", *levels, &[2, 4])?;
                within("symbol_rate", *symbol_rate, 10.0, 1e8)?;
                within("deviation_hz", *deviation_hz, 0.05 * symbol_rate, 50.0 * symbol_rate)?;
                within("bt", bt.unwrap_or(0.5), 0.2, 2.0)
            }
            Signal::Psk { points, symbol_rate, rolloff } => {
                one_of("points", *points, &[2, 4])?;
                within("symbol_rate", *symbol_rate, 10.0, 1e8)?;
                within("rolloff", rolloff.unwrap_or(0.5), 0.1, 1.0)
            }
            Signal::Wlan { load } => within("load", *load, 0.0, 0.9),
            Signal::Lte { blocks, .. } => one_of("blocks", *blocks, &[6, 15, 25, 50, 75, 100]),
            Signal::BleAdvertising { interval_s, data_bytes, .. } => {
                within("interval_s", *interval_s, 0.02, 10.24)?;
                within("data_bytes", *data_bytes as f64, 0.0, 31.0)
            }
            Signal::Gsm { .. } => Ok(()),
            Signal::Dect { slot, .. } => within("slot", f64::from(*slot), 0.0, 23.0),
            Signal::Chirp { spreading, width_hz } => {
                within("spreading", f64::from(*spreading), 5.0, 12.0)?;
                within("width_hz", *width_hz, 1e3, 1e7)
            }
            Signal::VideoFm { deviation_hz, sound_hz, sound, .. } => {
                within("deviation_hz", *deviation_hz, 1e5, 8e6)?;
                within("sound_hz", sound_hz.unwrap_or(6e6), 4e6, 8e6)?;
                tone(sound)
            }
        }
    }
}

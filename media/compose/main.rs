//! Composes the music of the demonstration shows: `cargo run --release --example compose -- media` writes every track
//! into `media/`, the same bytes each time. Melodies, harmonies and sounds are made here and come from nowhere else.
//!
//! | file | beats a minute | bar | length | hits | entries | vamp |
//! |---|---|---|---|---|---|---|
//! | `overture.flac` | 120 | 2 s | 0:40.000 | `flourish` 0:24.000 | 0:00, 0:08.000 | none |
//! | `lake-bed.flac` | 90 | 8/3 s | 0:48.000 | none | 0:00, 0:08.000 | 0:08.000–0:40.000, twelve bars: three rounds of one four-bar cycle |
//! | `hymn.flac` | 80 | 3 s | 1:36.000 | `last_verse` 0:48.000 | 0:00, 0:12.000 | 0:12.000–0:24.000, four bars alike |
//! | `fast.flac` | 150 | 1.6 s | 0:44.800 | `break` 0:16.000 | 0:00, 0:03.200 | none |
//! | `sting.flac` | 120 | 2 s | 0:04.000 | `hit` 0:01.000, the third beat | 0:00 | none |
//! | `closing.flac` | 120 | 2 s | 0:40.000 | none | 0:00, 0:04.000 | none |
//! | `first-show.flac` | 120 | 2 s | 0:16.000 | `bell` 0:10.000 | 0:00 | none |
//!
//! All are in four-four, mono, 24 kHz, 12 bit; the first beat is the first sample and a beat is a whole number of samples.

mod ceremony;
mod display;
mod drums;
mod flac;
mod quiet;
mod score;
mod stage;
mod voices;
mod wave;

use std::path::Path;
use std::process::ExitCode;

use stage::Stage;
pub use wave::RATE;

/// A track, what is true of it, and how it is made. Times in seconds.
pub struct Track {
    pub file: &'static str,
    pub bpm: f64,
    pub seconds: f64,
    pub hits: &'static [(&'static str, f64)],
    pub entries: &'static [f64],
    pub vamp: Option<(f64, f64)>,
    /// Decibels that bring it near −18 LUFS (the lake bed, which lies under speech, near −19).
    gain: f64,
    compose: fn(&mut Stage),
}

pub const TRACKS: [Track; 7] = [
    Track {
        file: "overture.flac",
        bpm: 120.0,
        seconds: 40.0,
        hits: &[("flourish", 24.0)],
        entries: &[0.0, 8.0],
        vamp: None,
        gain: -4.8,
        compose: ceremony::overture,
    },
    Track {
        file: "lake-bed.flac",
        bpm: 90.0,
        seconds: 48.0,
        hits: &[],
        entries: &[0.0, 8.0],
        vamp: Some((8.0, 40.0)),
        gain: 1.4,
        compose: quiet::lake_bed,
    },
    Track {
        file: "hymn.flac",
        bpm: 80.0,
        seconds: 96.0,
        hits: &[("last_verse", 48.0)],
        entries: &[0.0, 12.0],
        vamp: Some((12.0, 24.0)),
        gain: -2.5,
        compose: quiet::hymn,
    },
    Track {
        file: "fast.flac",
        bpm: 150.0,
        seconds: 44.8,
        hits: &[("break", 16.0)],
        entries: &[0.0, 3.2],
        vamp: None,
        gain: -6.3,
        compose: display::fast,
    },
    Track {
        file: "sting.flac",
        bpm: 120.0,
        seconds: 4.0,
        hits: &[("hit", 1.0)],
        entries: &[0.0],
        vamp: None,
        gain: -6.9,
        compose: display::sting,
    },
    Track {
        file: "closing.flac",
        bpm: 120.0,
        seconds: 40.0,
        hits: &[],
        entries: &[0.0, 4.0],
        vamp: None,
        gain: -3.5,
        compose: ceremony::closing,
    },
    Track {
        file: "first-show.flac",
        bpm: 120.0,
        seconds: 16.0,
        hits: &[("bell", 10.0)],
        entries: &[0.0],
        vamp: None,
        gain: -0.2,
        compose: quiet::first_show,
    },
];

impl Track {
    /// The track as a FLAC file's bytes.
    pub fn file_bytes(&self) -> Result<Vec<u8>, String> {
        let mut stage = Stage::new(self.bpm, self.seconds);
        (self.compose)(&mut stage);
        flac::encode(&stage.finish(self.gain, 0.8))
    }
}

fn main() -> ExitCode {
    let Some(folder) = std::env::args().nth(1) else {
        eprintln!(
            "name the folder for the tracks, as in: cargo run --release --example compose -- media"
        );
        return ExitCode::FAILURE;
    };
    for track in &TRACKS {
        let path = Path::new(&folder).join(track.file);
        let written = track.file_bytes().and_then(|bytes| {
            std::fs::write(&path, &bytes)
                .map_err(|fault| fault.to_string())
                .map(|()| bytes.len())
        });
        match written {
            Ok(size) => println!("{}: {size} bytes", path.display()),
            Err(fault) => {
                eprintln!("{}: {fault}", path.display());
                return ExitCode::FAILURE;
            }
        }
    }
    ExitCode::SUCCESS
}

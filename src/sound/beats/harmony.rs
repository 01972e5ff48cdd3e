//! Which pitches sound, and when that changes.

use super::spectra::{STEPS, Spectra, TONES_EVERY};

/// How much there is of each pitch class, from C.
type Chroma = [f32; 12];

/// Tones that are the bass.
const BASS: usize = 24;
/// Spectra on each side of a change: a quarter of a second.
const SIDE: usize = 8;

/// The pitch classes, for every [`TONES_EVERY`] looks.
pub(super) struct Harmony {
    all: Vec<Chroma>,
    bass: Vec<Chroma>,
}

/// The parts of the harmony.
#[derive(Clone, Copy)]
pub(super) enum Part {
    All,
    Bass,
}

impl Harmony {
    pub fn new(spectra: &Spectra) -> Harmony {
        // Powers under one, so that the loudest partial is not all: the fourth root of a tone's energy, in the
        // bass, where few sound at once, the square root.
        let chroma = |tones: &[u16], power: f32| {
            let mut chroma = [0.0; 12];
            for (tone, kept) in tones.iter().enumerate() {
                chroma[tone % 12] += (power * (f32::from(*kept) / STEPS - 96.0)).exp2();
            }
            chroma
        };
        let tones = spectra.tones.iter();
        Harmony {
            all: tones.clone().map(|tones| chroma(tones, 0.25)).collect(),
            bass: tones.map(|tones| chroma(&tones[..BASS], 0.5)).collect(),
        }
    }

    /// How much it changes at each spectrum: 0 not at all, 1 wholly.
    pub fn changes(&self) -> Vec<f32> {
        (0..self.all.len())
            .map(|i| change(&self.all, i.saturating_sub(SIDE), i, i + SIDE))
            .collect()
    }

    /// How much it changes at a look, from the `side` looks before to those after.
    pub fn change_at(&self, part: Part, look: f64, side: f64) -> f32 {
        let chroma = match part {
            Part::All => &self.all,
            Part::Bass => &self.bass,
        };
        let place = |look: f64| (look.max(0.0) / TONES_EVERY as f64).round() as usize;
        change(chroma, place(look - side), place(look), place(look + side))
    }
}

fn change(chroma: &[Chroma], from: usize, at: usize, until: usize) -> f32 {
    let (before, after) = (sum(chroma, from, at), sum(chroma, at, until));
    let product = |a: &Chroma, b: &Chroma| a.iter().zip(b).map(|(x, y)| x * y).sum::<f32>();
    let size = (product(&before, &before) * product(&after, &after)).sqrt();
    if size > 0.0 {
        1.0 - product(&before, &after) / size
    } else {
        0.0
    }
}

fn sum(chroma: &[Chroma], from: usize, until: usize) -> Chroma {
    let until = until.min(chroma.len());
    let mut sum = [0.0; 12];
    for one in &chroma[from.min(until)..until] {
        for (sum, x) in sum.iter_mut().zip(one) {
            *sum += x;
        }
    }
    sum
}

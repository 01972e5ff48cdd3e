//! How fast words were said.

use super::fold::{Folded, Spoken};
use crate::script::{Reading, fit_rate};
use crate::show::{Name, Narrator, Wording};
use crate::timeline::Version;
use crate::units::Span;

/// A block as it was said: how long it was to take, and took.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace {
    /// Which.
    pub block: Name,
    /// Whether the short text was said.
    pub short: bool,
    /// What was read.
    pub reading: Reading,
    /// How long it took, key to key.
    pub took: Span,
}

impl Pace {
    /// Words a minute between the rests, long words counted for more; `None` where the rests alone took as long.
    pub fn words_per_minute(&self) -> Option<f64> {
        let said = (self.took - self.reading.rests).s();
        (said > 0.0).then(|| self.reading.words / said * 60.0)
    }
}

/// Blocks said from key to key, those left out that wait for something.
pub fn paces(folded: &Folded) -> Vec<Pace> {
    folded
        .spoken
        .iter()
        .filter_map(|spoken| pace(folded, spoken))
        .collect()
}

fn pace(folded: &Folded, spoken: &Spoken) -> Option<Pace> {
    let show = folded.session.show();
    let block = show.blocks.get(spoken.block)?;
    let (full, short) = folded.session.plan().facts.readings.get(spoken.block)?;
    let (words, reading): (&Wording, &Reading) = match (spoken.version, &block.short, short) {
        (Version::Short, Some(words), Some(reading)) => (words, reading),
        _ => (&block.text, full),
    };
    let took = spoken.until? - spoken.from;
    words.waits().next().is_none().then(|| Pace {
        block: block.id.clone(),
        short: spoken.version == Version::Short,
        reading: reading.clone(),
        took,
    })
}

/// The narrator that all these blocks show; `None` where none was said.
pub fn narrator(paces: &[Pace], stated: &Narrator) -> Option<Narrator> {
    let observed = paces.iter().map(|pace| (&pace.reading, pace.took));
    (!paces.is_empty()).then(|| fit_rate(observed, stated))
}

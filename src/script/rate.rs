//! A narrator's own rate, from how long blocks have taken.

use super::speaking::Reading;
use crate::show::Narrator;
use crate::units::{Share, Span};

/// How far from the stated rate a narrator's own is likely to be (common practice, no published source).
const RATE_SPREAD: f64 = 0.15;
/// How many blocks the stated spread is worth against what was observed.
const SPREAD_WORTH: f64 = 4.0;
/// The rate hangs on the spread and the spread on the rate: rounds after which neither moves any more.
const ROUNDS: usize = 12;

/// The narrator who said each of these in so long (waits not counted): least squares over the time between
/// rests, drawn towards the stated rate as far as the observations leave room, and the spread about it.
/// Rests stay as stated: they cannot be told from slow words by the time of a whole block.
pub fn fit_rate<'r>(
    observed: impl IntoIterator<Item = (&'r Reading, Span)>,
    stated: &Narrator,
) -> Narrator {
    let said: Vec<Said> = observed
        .into_iter()
        .filter(|(reading, took)| reading.words > 0.0 && *took > reading.rests)
        .map(|(reading, took)| Said {
            words: reading.words,
            rests: reading.rests.s(),
            took: took.s(),
        })
        .collect();
    let prior = stated.pace();
    let (mut pace, mut spread) = (prior, stated.spread.whole().max(1e-3));
    for _ in 0..ROUNDS {
        pace = best_pace(&said, pace, spread, prior);
        spread = best_spread(&said, pace, stated.spread.whole());
    }
    Narrator {
        words_per_minute: stated.words_per_minute.max(1.0) * prior / pace,
        spread: Share::from_whole(spread),
        pauses: stated.pauses,
    }
}

/// One block as it was said.
struct Said {
    words: f64,
    rests: f64,
    took: f64,
}

impl Said {
    fn expected(&self, pace: f64) -> f64 {
        self.rests + self.words * pace
    }
}

/// Seconds an ordinary word: the mean of what each block says and what was stated, each by its own spread.
fn best_pace(said: &[Said], pace: f64, spread: f64, prior: f64) -> f64 {
    let precision = (RATE_SPREAD * prior).powi(-2);
    let (mut weight, mut sum) = (precision, precision * prior);
    for block in said {
        let certain = (spread * block.expected(pace)).powi(-2);
        weight += certain * block.words.powi(2);
        sum += certain * block.words * (block.took - block.rests);
    }
    sum / weight
}

/// How far blocks are from their expected time, as a share of it.
fn best_spread(said: &[Said], pace: f64, stated: f64) -> f64 {
    let off = said
        .iter()
        .map(|block| (block.took / block.expected(pace) - 1.0).powi(2));
    let squares = SPREAD_WORTH * stated.powi(2) + off.sum::<f64>();
    (squares / (SPREAD_WORTH + said.len() as f64))
        .sqrt()
        .max(1e-3)
}

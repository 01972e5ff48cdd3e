//! Where a track could go round: found by how alike its bars are.
//!
//! Going back from one bar line to another is heard as the bar before the one, then the bar after the other. It
//! sounds as written where somewhere in the track a bar like the first is followed by a bar like the second.

use crate::units::Span;

/// A beat, and what it sounds like.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Beat {
    pub at: Span,
    /// Whether it begins a bar.
    pub first: bool,
    /// As many numbers for each beat; mean 0 over all of them once they are centred.
    pub sound: Vec<f32>,
}

/// A stretch that could go round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vamping {
    /// Where it comes in again, on a bar line.
    pub from: Span,
    /// Where it goes back, on a bar line.
    pub to: Span,
    /// The bar line of the track around which its join is written, as nearly as anywhere.
    pub written: Span,
    /// How many bars it has.
    pub bars: u32,
    /// How much the join sounds like something in the track: 1 is the same, 0 is nothing alike.
    pub alike: f64,
    /// Whether its bars are all alike, so that it can go back by any number of them.
    pub even: bool,
}

/// The longest stretch proposed, bars: a longer one is no use to a meet.
const LONGEST: usize = 16;
/// What is less alike than this is not proposed.
const LEAST: f64 = 0.6;
/// Bars more alike than this are the same bar again.
const SAME: f64 = 0.85;
/// How many are proposed, and how many of them may end at one place.
const MOST: usize = 24;
const MOST_ENDING: usize = 2;
/// Joins as alike as this are told apart by what else can be said for them.
const GRAIN: f64 = 0.05;

/// Takes off each column its mean over all beats.
pub(super) fn centre(beats: &mut [Beat]) {
    let count = beats.len().max(1) as f32;
    let width = beats.first().map_or(0, |beat| beat.sound.len());
    for column in 0..width {
        let mean = beats.iter().map(|beat| beat.sound[column]).sum::<f32>() / count;
        beats.iter_mut().for_each(|beat| beat.sound[column] -= mean);
    }
}

/// Every stretch that could go round, best first: the most alike, of those the ones of like bars, then the longest.
pub(super) fn vampings(beats: &[Beat]) -> Vec<Vamping> {
    let bars = bars(beats);
    let alike = Alike::new(beats, &bars);
    let mut all = Vec::new();
    for from in 0..bars.len() {
        for to in from + 1..bars.len().min(from + LONGEST + 1) {
            let (written, join) = alike.join(to, from);
            if join >= LEAST {
                all.push(Vamping {
                    from: beats[bars[from].0].at,
                    to: beats[bars[to].0].at,
                    written: beats[bars[written].0].at,
                    bars: (to - from) as u32,
                    alike: join,
                    even: (from + 1..to).all(|bar| alike.of(bar, from) >= SAME),
                });
            }
        }
    }
    let rank = |vamp: &Vamping| ((vamp.alike / GRAIN).round() as i64, vamp.even, vamp.bars);
    all.sort_by(|a, b| rank(b).cmp(&rank(a)).then(a.from.cmp(&b.from)));
    let mut best: Vec<Vamping> = Vec::new();
    for vamp in all {
        let ending = best.iter().filter(|other| other.to == vamp.to).count();
        if ending < MOST_ENDING {
            best.push(vamp);
        }
        if best.len() == MOST {
            break;
        }
    }
    best
}

/// The beats of each whole bar, from one to before another.
fn bars(beats: &[Beat]) -> Vec<(usize, usize)> {
    let firsts: Vec<usize> = (0..beats.len()).filter(|&i| beats[i].first).collect();
    firsts.windows(2).map(|two| (two[0], two[1])).collect()
}

/// How alike each bar is to each.
struct Alike {
    count: usize,
    of: Vec<f64>,
}

impl Alike {
    fn new(beats: &[Beat], bars: &[(usize, usize)]) -> Alike {
        let count = bars.len();
        let mut of = vec![1.0; count * count];
        for a in 0..count {
            for b in a + 1..count {
                let value = bars_alike(beats, bars[a], bars[b]);
                of[a * count + b] = value;
                of[b * count + a] = value;
            }
        }
        Alike { count, of }
    }

    fn of(&self, a: usize, b: usize) -> f64 {
        self.of[a * self.count + b]
    }

    /// The bar that, with the one before it, is most like the bar at `from` behind the one before `to`, and how much.
    fn join(&self, to: usize, from: usize) -> (usize, f64) {
        (1..self.count)
            .map(|bar| (bar, self.of(to - 1, bar - 1).min(self.of(from, bar))))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap_or((from, 0.0))
    }
}

/// The mean likeness of their beats: the cosine of the angle between what they sound like, 0 where that is
/// opposite; bars of another number of beats are not alike.
fn bars_alike(beats: &[Beat], a: (usize, usize), b: (usize, usize)) -> f64 {
    if a.1 - a.0 != b.1 - b.0 {
        return 0.0;
    }
    let (mut product, mut squares) = (0.0_f64, (0.0_f64, 0.0_f64));
    for (a, b) in beats[a.0..a.1].iter().zip(&beats[b.0..b.1]) {
        for (x, y) in a.sound.iter().zip(&b.sound) {
            product += f64::from(x * y);
            squares.0 += f64::from(x * x);
            squares.1 += f64::from(y * y);
        }
    }
    let size = (squares.0 * squares.1).sqrt();
    if size > 0.0 {
        (product / size).max(0.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Bars of three beats, a second each; each letter is a sound of its own.
    fn piece(letters: &str) -> Vec<Beat> {
        let beat = |i: usize, letter: u8| {
            let place = usize::from(letter - b'A') * 3 + i % 3;
            let mut sound = vec![0.0; 26 * 3];
            sound[place] = 1.0;
            Beat {
                at: Span::from_s(i as f64),
                first: i.is_multiple_of(3),
                sound,
            }
        };
        let mut beats: Vec<Beat> = letters
            .bytes()
            .flat_map(|letter| [letter; 3])
            .enumerate()
            .map(|(i, letter)| beat(i, letter))
            .collect();
        // The beat after the last bar.
        beats.push(Beat {
            at: Span::from_s(beats.len() as f64),
            first: true,
            sound: vec![0.0; 26 * 3],
        });
        centre(&mut beats);
        beats
    }

    fn found(letters: &str) -> Vec<(usize, usize, bool)> {
        let bar = |at: Span| (at.s() / 3.0).round() as usize;
        vampings(&piece(letters))
            .iter()
            .map(|vamp| (bar(vamp.from), bar(vamp.to), vamp.even))
            .collect()
    }

    #[test]
    fn like_bars_go_round_as_a_whole_and_bar_by_bar() {
        let found = found("ABCDDDDEF");
        assert_eq!(found[0], (3, 7, true), "{found:?}");
        assert!(
            !found.iter().any(|&(from, to, _)| from < 3 && to > 3),
            "{found:?}"
        );
    }

    #[test]
    fn a_cycle_goes_round_where_it_ends_like_it_began() {
        let found = found("XABCDABCDABCDY");
        assert_eq!(found[0], (1, 13, false), "three rounds: {found:?}");
        assert!(
            found.contains(&(1, 9, false)) && found.contains(&(5, 9, false)),
            "{found:?}"
        );
        assert!(
            !found.iter().any(|&(from, to, _)| (to - from) % 4 != 0),
            "{found:?}"
        );
    }

    #[test]
    fn music_that_never_comes_again_has_none_and_nothing_has_none() {
        assert_eq!(found("ABCDEFGH"), []);
        assert_eq!(vampings(&[]), []);
    }

    proptest! {
        /// Against letters compared by hand: a join is proposed only if its two letters follow each other somewhere.
        #[test]
        fn every_join_is_one_that_is_written_somewhere(letters in "[A-C]{4,12}") {
            let bars = letters.as_bytes();
            for (from, to, even) in found(&letters) {
                let join = [bars[to - 1], bars[from]];
                prop_assert!(bars.windows(2).any(|two| two == join), "{from} {to} in {letters}");
                prop_assert_eq!(even, bars[from..to].iter().all(|bar| *bar == bars[from]));
            }
        }
    }
}

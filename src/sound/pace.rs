//! The rate of music as it changes, and how much of it is played by when.

use super::course::Bend;

/// How a rate runs: evenly from each knot to the next, and on as it is after the last.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace {
    knots: Vec<Knot>,
}

/// Seconds after the start, seconds of music played by then, rate there.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Knot {
    after: f64,
    music: f64,
    rate: f64,
}

impl Pace {
    /// A rate that begins at 1 and is bent so; a bend cuts short one that is still going on.
    pub(super) fn of(bends: &[Bend]) -> Pace {
        let start = Knot {
            after: 0.0,
            music: 0.0,
            rate: 1.0,
        };
        let mut pace = Pace { knots: vec![start] };
        for bend in bends {
            let from = pace.at(bend.after.s());
            let over = bend.over.s().max(0.0);
            pace.knots.retain(|knot| knot.after < from.after);
            pace.knots.push(from);
            pace.knots.push(Knot {
                after: from.after + over,
                music: from.music + over * (from.rate + bend.rate) / 2.0,
                rate: bend.rate,
            });
        }
        pace
    }

    /// Seconds of music played `after` seconds after the start.
    pub fn music_at(&self, after: f64) -> f64 {
        self.at(after).music
    }

    /// The rate `after` seconds after the start.
    pub fn rate_at(&self, after: f64) -> f64 {
        self.at(after).rate
    }

    /// How many seconds after the start so many seconds of music have been played.
    pub fn when(&self, music: f64) -> f64 {
        let (knot, slope) = self.before(|knot| knot.music <= music);
        let more = music - knot.music;
        // The root of slope/2 x² + rate x = more, in the form that holds without a slope too.
        let root = (knot.rate * knot.rate + 2.0 * slope * more).max(0.0).sqrt();
        knot.after + 2.0 * more / (knot.rate + root)
    }

    fn at(&self, after: f64) -> Knot {
        let (knot, slope) = self.before(|knot| knot.after <= after);
        let since = after - knot.after;
        Knot {
            after,
            music: knot.music + since * (knot.rate + slope * since / 2.0),
            rate: knot.rate + slope * since,
        }
    }

    /// The last knot that is so, or the first, and how the rate changes from it on, a second.
    fn before(&self, is: impl Fn(&Knot) -> bool) -> (Knot, f64) {
        let next = self.knots.partition_point(is).max(1);
        let knot = self.knots[next - 1];
        let slope = self.knots.get(next).map_or(0.0, |next| {
            let length = next.after - knot.after;
            if length > 0.0 {
                (next.rate - knot.rate) / length
            } else {
                0.0
            }
        });
        (knot, slope)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Span;
    use proptest::prelude::*;

    fn bends() -> impl Strategy<Value = Vec<Bend>> {
        let bend = (0.0_f64..20.0, 0.9_f64..1.1, 0.0_f64..5.0);
        proptest::collection::vec(bend, 0..5).prop_map(|mut bends| {
            bends.sort_by(|a, b| a.0.total_cmp(&b.0));
            let bend = |(after, rate, over)| Bend {
                after: Span::from_s(after),
                rate,
                over: Span::from_s(over),
            };
            bends.into_iter().map(bend).collect()
        })
    }

    proptest! {
        /// What is played is the rate added up in steps of a millisecond; the inverse finds the moment again.
        #[test]
        fn music_is_the_rate_added_up(bends in bends()) {
            let pace = Pace::of(&bends);
            let mut sum = 0.0;
            for ms in 0..30_000_u32 {
                let after = f64::from(ms) / 1e3;
                if ms % 500 == 0 {
                    prop_assert!((pace.music_at(after) - sum).abs() < 1e-3);
                    prop_assert!((pace.when(pace.music_at(after)) - after).abs() < 1e-9);
                }
                sum += pace.rate_at(after + 0.5e-3) * 1e-3;
            }
        }
    }
}

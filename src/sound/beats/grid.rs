//! Bar lines that were heard, as a grid of bars each as long as the next.

use super::Pulse;
use crate::show::Bars;
use crate::units::Span;

/// Bars that are further off the grid than this are not each as long as the next: joins would stumble.
const STEADY: f64 = 0.040;
/// A place written this near to a line that was heard is on it: lines are heard about so sharply.
const NEAR: f64 = 0.070;
/// The fewest bars that tell how long one is.
const FEWEST: usize = 2;

impl Pulse {
    /// The bars of a stretch that is to go round, as they were heard. Where it begins and ends on them, whoever
    /// wrote that knows the places better: then it is cut into as many bars as were heard in it. `None` where too
    /// few were heard, or they are not steady.
    pub fn bars(&self, from: Span, to: Span) -> Option<Bars> {
        let (from, to) = (from.s(), to.s());
        let lines: Vec<f64> = self.downbeats.iter().map(|line| line.s()).collect();
        let mut lengths: Vec<f64> = lines.windows(2).map(|two| two[1] - two[0]).collect();
        lengths.sort_by(f64::total_cmp);
        let usual = *lengths.get(lengths.len() / 2)?;
        let within = |line: &f64| (from - usual / 2.0..=to + usual / 2.0).contains(line);
        let lines: Vec<f64> = lines.into_iter().filter(within).collect();
        let Grid { first, length } = Grid::through(&lines, usual)?;
        let heard = |place: f64| first + ((place - first) / length).round() * length;
        let whole = ((to - from) / length).round();
        let on_lines = (heard(from) - from).abs() < NEAR && (heard(to) - to).abs() < NEAR;
        Some(if on_lines && whole >= 1.0 {
            Bars {
                length: Span::from_s((to - from) / whole),
                first: Span::from_s(from),
                beat: None,
            }
        } else {
            Bars {
                length: Span::from_s(length),
                first: Span::from_s(first),
                beat: None,
            }
        })
    }
}

/// Lines as far from each other as the next.
struct Grid {
    first: f64,
    length: f64,
}

impl Grid {
    /// By least squares through lines about `usual` apart, some of which may be missing.
    fn through(lines: &[f64], usual: f64) -> Option<Grid> {
        let begin = *lines.first()?;
        let mut number = 0.0;
        let mut last = begin;
        let numbered: Vec<(f64, f64)> = lines
            .iter()
            .map(|line| {
                number += ((line - last) / usual).round();
                last = *line;
                (number, *line)
            })
            .collect();
        if number < FEWEST as f64 || lines.len() <= FEWEST {
            return None;
        }
        let count = numbered.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| numbered.iter().map(of).sum::<f64>() / count;
        let (middle, centre) = (mean(|at| at.0), mean(|at| at.1));
        let both = numbered.iter().map(|(n, s)| (n - middle) * (s - centre));
        let square = numbered.iter().map(|(n, _)| (n - middle).powi(2));
        let length = both.sum::<f64>() / square.sum::<f64>();
        let first = centre - middle * length;
        let steady = numbered
            .iter()
            .all(|(n, s)| (first + n * length - s).abs() < STEADY);
        steady.then_some(Grid { first, length })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(lines: impl IntoIterator<Item = f64>) -> Pulse {
        Pulse {
            downbeats: lines.into_iter().map(Span::from_s).collect(),
            ..Pulse::default()
        }
    }

    fn bars(pulse: &Pulse, from: f64, to: f64) -> Option<(f64, f64)> {
        let bars = pulse.bars(Span::from_s(from), Span::from_s(to))?;
        Some((bars.first.s(), bars.length.s()))
    }

    #[test]
    fn a_vamp_on_lines_is_cut_into_as_many_bars_as_were_heard() {
        let off = [0.01, -0.02, 0.015, 0.0, -0.01, 0.02];
        let lines = (0..20).map(|n| 0.3 + 2.4 * f64::from(n) + off[n as usize % 6]);
        let pulse = heard(lines);
        assert_eq!(bars(&pulse, 12.3, 21.9), Some((12.3, 2.4)));
        // A line nobody heard is counted all the same.
        let missing = heard(
            (0..20)
                .filter(|n| *n != 7)
                .map(|n| 0.3 + 2.4 * f64::from(n)),
        );
        assert_eq!(bars(&missing, 12.3, 24.3), Some((12.3, 2.4)));
    }

    #[test]
    fn a_vamp_between_lines_takes_them_as_they_were_heard() {
        let pulse = heard((0..20).map(|n| 0.3 + 2.4 * f64::from(n)));
        let (first, length) = bars(&pulse, 13.0, 23.0).expect("bars");
        assert!((length - 2.4).abs() < 1e-6, "{length}");
        let off = (first - 0.3) / 2.4;
        assert!((off - off.round()).abs() < 1e-6, "{first}");
    }

    #[test]
    fn bars_that_are_unsteady_or_few_are_none() {
        let slower = heard((0..20).map(|n| f64::from(n) * 2.4 + f64::from(n * n) * 0.02));
        assert_eq!(bars(&slower, 10.0, 40.0), None);
        assert_eq!(bars(&heard([1.0, 3.4]), 0.0, 10.0), None);
        assert_eq!(bars(&heard([]), 0.0, 10.0), None);
    }
}

//! A run-in as positions show it: place and speed in one state, and how the speed changes.
//!
//! The state is where the aircraft is on its planned run-in, told by the time it would still take as
//! planned; how fast that time runs off (1 is as planned); and how fast that changes, which dies away
//! (Singer's model of manoeuvring: IEEE Transactions AES-6, 1970). A change of speed that is planned is in
//! the plan and none in the state.

use std::array::from_fn;

use crate::units::{Instant, Span};

/// How long a change of speed goes on, s. This and [`CHANGE`] were found on the even run-ins of
/// `tests/positions/run_ins.rs`: those that foretell best where the speed changes and are no worse than a
/// constant speed where it does not.
const GOES_ON: f64 = 20.0;
/// One standard deviation of the change of the rate, a second: 0.5 kt/s at 180 kt.
const CHANGE: f64 = 0.003;
/// One standard deviation of the rate before anything is seen: crews, and winds, are not as planned.
const RATE: f64 = 0.1;
/// A change going on takes the rate no further than by this share.
const MOST_CHANGE: f64 = 0.25;
/// Steps of the prediction, s.
const STEP: f64 = 2.0;
/// No arrival is known better than this, s.
const SURE: f64 = 0.15;

/// One look at a run-in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// When.
    pub at: Instant,
    /// How long the rest of the run-in takes as planned from where it was seen; negative beyond centre.
    pub to_go: Span,
    /// One standard deviation of that.
    pub to_go_spread: Span,
    /// Its speed over that planned there, if it was seen.
    pub rate: Option<f64>,
    /// One standard deviation of that.
    pub rate_spread: f64,
}

/// What is known of a run-in.
#[derive(Debug, Clone)]
pub struct RunIn {
    at: Instant,
    state: [f64; 3],
    cov: [[f64; 3]; 3],
}

impl RunIn {
    /// A run-in seen for the first time.
    pub fn new(look: &Look) -> RunIn {
        let place = look.to_go_spread.s().powi(2);
        let mut run_in = RunIn {
            at: look.at,
            state: [-look.to_go.s(), 1.0, 0.0],
            cov: [
                [place, 0.0, 0.0],
                [0.0, RATE.powi(2), 0.0],
                [0.0, 0.0, CHANGE.powi(2)],
            ],
        };
        run_in.correct_rate(look);
        run_in
    }

    /// Takes another look, later than the last.
    pub fn look(&mut self, look: &Look) {
        let mut left = (look.at - self.at).s();
        while left > 0.0 {
            self.predict(left.min(STEP));
            left -= STEP;
        }
        self.at = look.at;
        self.correct(0, -look.to_go.s(), look.to_go_spread.s().powi(2));
        self.correct_rate(look);
    }

    /// Whether it has passed centre.
    pub fn has_passed(&self) -> bool {
        self.state[0] >= 0.0
    }

    /// When it is or was abeam, with one standard deviation.
    pub fn abeam(&self) -> (Instant, Span) {
        let [place, rate, change] = self.state;
        let rate = rate.max(0.1);
        if place >= 0.0 {
            let spread = self.cov[0][0].max(0.0).sqrt() / rate;
            return (
                self.at - Span::from_s(place / rate),
                Span::from_s(spread.max(SURE)),
            );
        }
        let most = MOST_CHANGE * rate / GOES_ON;
        let change = change.clamp(-most, most);
        let flown = |after: f64| {
            let dying = GOES_ON * GOES_ON * (after / GOES_ON - 1.0 + (-after / GOES_ON).exp());
            rate * after + change * dying
        };
        // It rises throughout, between these.
        let (mut from, mut to) = (0.0, -place / rate / (1.0 - MOST_CHANGE));
        for _ in 0..40 {
            let middle = (from + to) / 2.0;
            if flown(middle) < -place {
                from = middle;
            } else {
                to = middle;
            }
        }
        let mut then = self.clone();
        let mut left = to;
        while left > 0.0 {
            then.predict(left.min(STEP));
            left -= STEP;
        }
        let rate_then = (rate + change * GOES_ON * (1.0 - (-to / GOES_ON).exp())).max(0.1);
        let spread = then.cov[0][0].max(0.0).sqrt() / rate_then;
        (self.at + Span::from_s(to), Span::from_s(spread.max(SURE)))
    }

    /// Lets a step of time pass.
    fn predict(&mut self, dt: f64) {
        let kept = (-dt / GOES_ON).exp();
        let lasting = GOES_ON * (1.0 - kept);
        let way = [
            [1.0, dt, GOES_ON * (dt - lasting)],
            [0.0, 1.0, lasting],
            [0.0, 0.0, kept],
        ];
        let noise = CHANGE.powi(2) * (1.0 - kept * kept);
        let reach = [dt * dt / 2.0, dt, 1.0];
        // The covariance is symmetric: its rows are its columns.
        let carried = self.cov.map(|row| way.map(|onto| dot(onto, row)));
        self.cov = from_fn(|i| {
            from_fn(|j| {
                let column = carried.map(|row| row[j]);
                dot(way[i], column) + noise * reach[i] * reach[j]
            })
        });
        self.state = way.map(|onto| dot(onto, self.state));
    }

    fn correct_rate(&mut self, look: &Look) {
        if let Some(rate) = look.rate {
            self.correct(1, rate, look.rate_spread.powi(2));
        }
    }

    /// One component of the state was seen.
    fn correct(&mut self, component: usize, seen: f64, variance: f64) {
        let innovation = self.cov[component][component] + variance;
        if innovation <= 0.0 {
            return;
        }
        let row = self.cov[component];
        let off = (seen - self.state[component]) / innovation;
        for i in 0..3 {
            self.state[i] += row[i] * off;
            for j in 0..3 {
                self.cov[i][j] -= row[i] * row[j] / innovation;
            }
        }
    }
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(at_s: f64, to_go_s: f64, rate: f64) -> Look {
        Look {
            at: Instant::from_s(at_s),
            to_go: Span::from_s(to_go_s),
            to_go_spread: Span::from_ms(150),
            rate: Some(rate),
            rate_spread: 0.005,
        }
    }

    #[test]
    fn one_that_flies_as_planned_arrives_as_planned_and_sharper_and_sharper() {
        let mut run_in = RunIn::new(&look(100.0, 60.0, 1.0));
        let first = run_in.abeam();
        for i in 1..=50 {
            run_in.look(&look(100.0 + f64::from(i), 60.0 - f64::from(i), 1.0));
        }
        let (at, spread) = run_in.abeam();
        assert!((at.s() - 160.0).abs() < 0.01, "{at}");
        assert!(spread < first.1 && spread < Span::from_ms(400), "{spread}");
    }

    #[test]
    fn a_speed_that_changes_is_followed_further_than_a_constant_one_would_be() {
        // Slowing by half a percent of the planned speed a second.
        let flown = |t: f64| t - 0.0025 * t * t;
        let abeam = (1.0 - (1.0 - 4.0 * 0.0025 * 60.0_f64).sqrt()) / 0.005;
        let mut run_in = RunIn::new(&look(0.0, 60.0, 1.0));
        for i in 1..=40 {
            let t = f64::from(i);
            run_in.look(&look(t, 60.0 - flown(t), 1.0 - 0.005 * t));
        }
        let steady = 40.0 + (60.0 - flown(40.0)) / 0.8;
        let off = (run_in.abeam().0.s() - abeam).abs();
        assert!(
            off < 0.6 * (steady - abeam).abs(),
            "{off} s of {}",
            steady - abeam
        );
    }

    #[test]
    fn one_that_has_passed_centre_was_abeam_before() {
        let mut run_in = RunIn::new(&look(0.0, 2.0, 1.1));
        for i in 1..=4 {
            let t = f64::from(i);
            run_in.look(&look(t, 2.0 - 1.1 * t, 1.1));
        }
        assert!(run_in.has_passed());
        assert!((run_in.abeam().0.s() - 2.0 / 1.1).abs() < 0.02);
    }
}

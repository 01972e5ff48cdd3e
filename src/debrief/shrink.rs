//! Empirical-Bayes shrinkage: what was measured of many things of one kind, drawn towards the plan.
//!
//! Each thing i has a true value t_i ~ N(0, A) about the plan and was measured as y_i ~ N(t_i, V_i). A is estimated
//! from all of them and each is drawn towards the plan by B_i, as in C. N. Morris, "Parametric Empirical Bayes
//! Inference: Theory and Applications", Journal of the American Statistical Association 78 (1983), 47–55,
//! (1.15) to (1.17) with a known centre; where all V_i are equal that is the estimator of James and Stein (1961)
//! as B. Efron and C. Morris use it in "Data Analysis Using Stein's Estimator and its Generalizations", the same
//! journal 70 (1975), 311–319.

/// What was measured of one thing, as its distance from the plan, and the variance of that.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// How far from the plan.
    pub off: f64,
    /// The variance of that, above zero.
    pub variance: f64,
}

/// What is made of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shrunk {
    /// How far from the plan it is taken to be.
    pub off: f64,
    /// One standard deviation of that.
    pub spread: f64,
    /// How far it was drawn towards the plan, 0 to 1.
    pub drawn: f64,
}

/// Fewer things than this say nothing of how far things of their kind are off.
const FEW: usize = 3;
/// Rounds after which A no longer moves.
const ROUNDS: usize = 200;

/// Each measured thing drawn towards the plan. With fewer than three of a kind, `stated` takes the place of A: the
/// variance with which the plan itself says that such a thing is off.
pub fn shrink(measured: &[Measured], stated: f64) -> Vec<Shrunk> {
    let k = measured.len() as f64;
    let (a, held_back) = if measured.len() < FEW {
        (stated.max(0.0), 1.0)
    } else {
        (variance_between(measured), (k - 2.0) / k)
    };
    let draw = |one: &Measured| {
        let drawn = held_back * one.variance / (one.variance + a);
        Shrunk {
            off: (1.0 - drawn) * one.off,
            spread: (one.variance * (1.0 - drawn)).max(0.0).sqrt(),
            drawn,
        }
    };
    measured.iter().map(draw).collect()
}

/// A: how far things of this kind really are from the plan, beyond what chance explains.
fn variance_between(measured: &[Measured]) -> f64 {
    let mut a = 0.0;
    for _ in 0..ROUNDS {
        let (mut weights, mut sum) = (0.0, 0.0);
        for one in measured {
            let weight = 1.0 / (one.variance + a);
            weights += weight;
            sum += weight * (one.off.powi(2) - one.variance);
        }
        a = (sum / weights).max(0.0);
    }
    a
}

/// The variance of one measurement of a thing, from several of them and what the plan states, which is worth so
/// many measurements: the conjugate (scaled inverse chi-squared) estimate.
pub fn variance_within(off: &[f64], stated: f64) -> f64 {
    /// How many measurements what is stated is worth, as for a narrator's own spread.
    const WORTH: f64 = 4.0;
    let n = off.len() as f64;
    if off.len() < 2 {
        return stated;
    }
    let mean = off.iter().sum::<f64>() / n;
    let squares: f64 = off.iter().map(|off| (off - mean).powi(2)).sum();
    (WORTH * stated + squares) / (WORTH + n - 1.0)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Eighteen players' averages after 45 times at bat and what James and Stein's estimator makes of them: B. Efron
    /// and C. Morris, "Stein's Paradox in Statistics", Scientific American 236 (May 1977), 119–127, the table there
    /// (from memory); the data are those of their paper of 1975.
    const PLAYERS: [(f64, f64); 18] = [
        (0.400, 0.294),
        (0.378, 0.289),
        (0.356, 0.285),
        (0.333, 0.280),
        (0.311, 0.275),
        (0.311, 0.275),
        (0.289, 0.270),
        (0.267, 0.266),
        (0.244, 0.261),
        (0.244, 0.261),
        (0.222, 0.256),
        (0.222, 0.256),
        (0.222, 0.256),
        (0.222, 0.256),
        (0.222, 0.256),
        (0.200, 0.251),
        (0.178, 0.247),
        (0.156, 0.242),
    ];

    /// There the centre is their mean, here it is known. Seventeen contrasts between the players (Helmert's) have
    /// zero for their centre, the same variance, and the same sum of squares as the deviations from the mean.
    #[test]
    fn eighteen_players_are_drawn_together_as_published() {
        let mean = PLAYERS.iter().map(|(y, _)| y).sum::<f64>() / 18.0;
        let variance = mean * (1.0 - mean) / 45.0;
        let mut contrasts = Vec::new();
        for i in 1..18 {
            let before: f64 = PLAYERS[..i].iter().map(|(y, _)| y).sum();
            let i_f = i as f64;
            let off = (before - i_f * PLAYERS[i].0) / (i_f * (i_f + 1.0)).sqrt();
            contrasts.push(Measured { off, variance });
        }
        let shrunk = shrink(&contrasts, 1.0);
        let kept = 1.0 - shrunk[0].drawn;
        assert!((kept - 0.212).abs() < 5e-4, "{kept}");
        for (one, contrast) in shrunk.iter().zip(&contrasts) {
            assert!((one.off - kept * contrast.off).abs() < 1e-12);
        }
        for (y, published) in PLAYERS {
            let estimate = mean + kept * (y - mean);
            assert!((estimate - published).abs() < 6e-4, "{y}: {estimate}");
        }
    }

    proptest! {
        /// With equal variances it is 1 − (k − 2) V / S (W. James and C. Stein, 1961), cut off at all of it.
        #[test]
        fn equal_variances_give_james_and_steins_estimator(
            off in prop::collection::vec(-20.0..20.0, 3..30), variance in 0.01..50.0
        ) {
            let measured: Vec<Measured> = off.iter().map(|&off| Measured { off, variance }).collect();
            let k = off.len() as f64;
            let squares: f64 = off.iter().map(|off| off * off).sum();
            let a = (squares / k - variance).max(0.0);
            let drawn = (k - 2.0) / k * variance / (variance + a);
            for (one, off) in shrink(&measured, 1.0).iter().zip(off) {
                prop_assert!((one.off - (1.0 - drawn) * off).abs() < 1e-9 * (1.0 + off.abs()));
            }
        }
    }

    #[test]
    fn one_thing_alone_is_weighed_against_what_the_plan_states() {
        let one = Measured {
            off: 3.0,
            variance: 4.0,
        };
        // A normal mean with a normal prior: 9 / (9 + 4) of the way.
        let [shrunk] = shrink(&[one], 9.0)[..] else {
            panic!("one");
        };
        assert!((shrunk.off - 3.0 * 9.0 / 13.0).abs() < 1e-12);
        assert!((shrunk.spread.powi(2) - 36.0 / 13.0).abs() < 1e-12);
    }

    #[test]
    fn the_variance_of_few_measurements_leans_on_what_is_stated() {
        assert_eq!(variance_within(&[7.0], 2.0), 2.0);
        // Four worth 1 and two that differ by 2: (4 · 1 + 2) / (4 + 1).
        assert!((variance_within(&[1.0, 3.0], 1.0) - 1.2).abs() < 1e-12);
    }
}

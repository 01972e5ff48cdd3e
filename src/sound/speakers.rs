//! Which speaker each channel of a file is for, and how many are heard from two.

use super::Pcm;

/// The speaker a channel is meant for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Speaker {
    Left,
    Right,
    Centre,
    LeftSurround,
    RightSurround,
    /// In the middle behind: half to each surround.
    BackCentre,
    /// Low-frequency effects, or none that is known: not heard in a stereo mix, not counted in loudness.
    Unheard,
}

/// The speakers of `channels` channels, in the order files have them (the order of the WAVE channel mask).
pub(super) fn speakers(channels: u16) -> Vec<Speaker> {
    use Speaker::*;
    let known: &[Speaker] = match channels {
        1 => &[Centre],
        4 => &[Left, Right, LeftSurround, RightSurround],
        5 => &[Left, Right, Centre, LeftSurround, RightSurround],
        7 => &[
            Left,
            Right,
            Centre,
            Unheard,
            BackCentre,
            LeftSurround,
            RightSurround,
        ],
        8 => &[
            Left,
            Right,
            Centre,
            Unheard,
            LeftSurround,
            RightSurround,
            LeftSurround,
            RightSurround,
        ],
        _ => &[Left, Right, Centre, Unheard, LeftSurround, RightSurround],
    };
    let rest = std::iter::repeat(Unheard);
    known
        .iter()
        .copied()
        .chain(rest)
        .take(channels.into())
        .collect()
}

/// The same sound on two channels: one channel is heard from both, more are mixed down by the
/// coefficients of ITU-R BS.775 (centre and surrounds at −3 dB, low-frequency effects left out).
pub fn to_stereo(pcm: Pcm) -> Pcm {
    let samples = match pcm.channels {
        2 => return pcm,
        0 => Vec::new(),
        1 => pcm.samples.iter().flat_map(|&x| [x, x]).collect(),
        channels => {
            let shares: Vec<(f32, f32)> = speakers(channels).into_iter().map(share).collect();
            pcm.samples
                .chunks_exact(channels.into())
                .flat_map(|frame| {
                    let (left, right) =
                        frame.iter().zip(&shares).fold((0.0, 0.0), |sum, (x, to)| {
                            (sum.0 + x * to.0, sum.1 + x * to.1)
                        });
                    [left, right]
                })
                .collect()
        }
    };
    Pcm {
        rate: pcm.rate,
        channels: 2,
        samples,
    }
}

/// What share of a channel goes to left and right.
fn share(speaker: Speaker) -> (f32, f32) {
    const DOWN_3_DB: f32 = std::f32::consts::FRAC_1_SQRT_2;
    match speaker {
        Speaker::Left => (1.0, 0.0),
        Speaker::Right => (0.0, 1.0),
        Speaker::Centre => (DOWN_3_DB, DOWN_3_DB),
        Speaker::LeftSurround => (DOWN_3_DB, 0.0),
        Speaker::RightSurround => (0.0, DOWN_3_DB),
        Speaker::BackCentre => (0.5, 0.5),
        Speaker::Unheard => (0.0, 0.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mixed(frame: &[f32]) -> Vec<f32> {
        to_stereo(Pcm {
            rate: 48_000,
            channels: frame.len() as u16,
            samples: frame.to_vec(),
        })
        .samples
    }

    #[test]
    fn one_channel_is_heard_from_both_speakers() {
        assert_eq!(mixed(&[0.5]), [0.5, 0.5]);
        assert_eq!(mixed(&[0.5, -0.25]), [0.5, -0.25]);
    }

    /// ITU-R BS.775-3, Annex 4, table 2: L' = L + 0.7071 C + 0.7071 Ls, R' likewise. From memory.
    #[test]
    fn surround_is_mixed_down_by_bs_775() {
        assert_eq!(mixed(&[0.1, 0.2, 0.0, 1.0, 0.0, 0.0]), [0.1, 0.2]);
        for (frame, (left, right)) in [
            (&[0.1, 0.2, 0.3, 0.4, 0.5][..], (0.594_97, 0.765_68)),
            (&[0.1, 0.2, 0.3, 9.0, 0.4, 0.5], (0.594_97, 0.765_68)),
            (&[0.1, 0.2, 0.3], (0.312_13, 0.412_13)),
            (&[0.1, 0.2, 0.4, 0.5], (0.382_84, 0.553_55)),
        ] {
            let mix = mixed(frame);
            assert!(
                (mix[0] - left).abs() < 1e-4 && (mix[1] - right).abs() < 1e-4,
                "{frame:?}"
            );
        }
    }
}

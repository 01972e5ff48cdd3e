//! The gain that brings a track to the level asked for.

use super::Gauge;
use crate::units::{Gain, Loudness};

/// What leaves the desk peaks no higher than this below full scale (EBU R 128: −1 dBTP).
pub const CEILING: Gain = Gain::from_db(-1.0);

/// The gain for a track: to `wanted` where it is given, `trim` added, and never so much that the track's true
/// peak passes [`CEILING`]. Silence has no loudness to bring anywhere: it gets the trim.
pub fn gain_to(gauge: &Gauge, wanted: Option<Loudness>, trim: Gain) -> Gain {
    asked(gauge, wanted, trim) - held_by_peak(gauge, wanted, trim)
}

/// How far below what is asked a track's true peak keeps it.
pub fn held_by_peak(gauge: &Gauge, wanted: Option<Loudness>, trim: Gain) -> Gain {
    let over = gauge
        .true_peak
        .map(|peak| peak + asked(gauge, wanted, trim) - CEILING);
    over.filter(|over| *over > Gain::ZERO).unwrap_or(Gain::ZERO)
}

fn asked(gauge: &Gauge, wanted: Option<Loudness>, trim: Gain) -> Gain {
    match (wanted, gauge.integrated) {
        (Some(wanted), Some(is)) => Gain::from_db(wanted.lufs() - is.lufs()) + trim,
        _ => trim,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Span;

    fn gauged(lufs: Option<f64>, dbtp: Option<f64>) -> Gauge {
        Gauge {
            duration: Span::from_s(60.0),
            sample_rate: 48_000,
            channels: 2,
            integrated: lufs.map(Loudness::from_lufs),
            momentary_max: None,
            short_term_max: None,
            range: None,
            true_peak: dbtp.map(Gain::from_db),
            lost: Span::ZERO,
        }
    }

    #[test]
    fn a_track_is_brought_to_its_loudness_and_no_peak_passes_the_ceiling() {
        let wanted = |lufs| Some(Loudness::from_lufs(lufs));
        for (lufs, dbtp, wanted, trim, gain) in [
            (Some(-12.0), Some(-0.5), wanted(-18.0), 0.0, -6.0),
            (Some(-24.0), Some(-10.0), wanted(-18.0), 0.0, 6.0),
            (Some(-24.0), Some(-10.0), wanted(-18.0), -2.0, 4.0),
            (Some(-24.0), Some(-4.0), wanted(-18.0), 0.0, 3.0), // held by its peak
            (Some(-9.0), Some(1.5), None, 0.0, -2.5),
            (Some(-9.0), Some(-3.0), None, 1.0, 1.0),
            (None, None, wanted(-18.0), -3.0, -3.0), // silence
        ] {
            let is = gain_to(&gauged(lufs, dbtp), wanted, Gain::from_db(trim));
            assert!((is.db() - gain).abs() < 1e-9, "{lufs:?} {dbtp:?}: {is}");
        }
        let held = |dbtp| held_by_peak(&gauged(Some(-24.0), dbtp), wanted(-18.0), Gain::ZERO);
        for (dbtp, by) in [(None, 0.0), (Some(-10.0), 0.0), (Some(-4.0), 3.0)] {
            assert!((held(dbtp).db() - by).abs() < 1e-9, "{dbtp:?}");
        }
    }
}

//! The committed music is what its code composes, and has its beats, hits, bars and levels where the table says.

#[path = "../media/compose/main.rs"]
#[allow(dead_code, reason = "the example's own entry point is not called here")]
mod compose;

use std::fs::File;
use std::path::PathBuf;

use compose::{RATE, TRACKS, Track};
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

/// What all tracks together may weigh, bytes, and the one that every new show carries.
const ALL_BYTES: u64 = 4_000_000;
const FIRST_SHOW_BYTES: u64 = 250_000;

fn path(track: &Track) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("media")
        .join(track.file)
}

/// The committed file's samples, −1 to 1.
fn decoded(track: &Track) -> Vec<f32> {
    let file = MediaSourceStream::new(
        Box::new(File::open(path(track)).unwrap()),
        Default::default(),
    );
    let mut format = symphonia::default::get_probe()
        .probe(
            &Hint::new(),
            file,
            FormatOptions::default(),
            MetadataOptions::default(),
        )
        .unwrap_or_else(|fault| panic!("{}: {fault}", track.file));
    let stream = format.default_track(TrackType::Audio).unwrap();
    let coded = stream.codec_params.as_ref().unwrap().audio().unwrap();
    assert_eq!(coded.sample_rate, Some(RATE), "{}", track.file);
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(coded, &AudioDecoderOptions::default().verify(true))
        .unwrap();
    let mut samples = Vec::new();
    let mut block: Vec<f32> = Vec::new();
    while let Some(packet) = format.next_packet().unwrap() {
        decoder
            .decode(&packet)
            .unwrap()
            .copy_to_vec_interleaved(&mut block);
        samples.extend_from_slice(&block);
    }
    assert_ne!(
        decoder.finalize().verify_ok,
        Some(false),
        "{}: its checksum",
        track.file
    );
    samples
}

/// How sharply energy rises at each sample, decibels: the 4 ms from it against the 8 ms before. The difference of
/// neighbours stands for the treble, where strokes stand out.
fn rises(samples: &[f32]) -> Vec<f64> {
    const AFTER: usize = 96;
    const BEFORE: usize = 192;
    let mut sums = vec![0.0; samples.len() + 1];
    for n in 0..samples.len() {
        let previous = if n == 0 { 0.0 } else { samples[n - 1] };
        sums[n + 1] = sums[n] + f64::from(samples[n] - previous).powi(2);
    }
    let power = |from: usize, to: usize| (sums[to] - sums[from]) / (to - from).max(1) as f64 + 1e-8;
    (0..samples.len().saturating_sub(AFTER))
        .map(|n| {
            let before = if n == 0 {
                1e-8
            } else {
                power(n.saturating_sub(BEFORE), n)
            };
            10.0 * (power(n, n + AFTER) / before).log10()
        })
        .collect()
}

/// The sample of the sharpest rise in a range.
fn sharpest(rises: &[f64], range: std::ops::Range<usize>) -> usize {
    range
        .max_by(|a, b| rises[*a].total_cmp(&rises[*b]))
        .unwrap()
}

fn at(seconds: f64) -> usize {
    (seconds * f64::from(RATE)).round() as usize
}

const FIVE_MS: usize = 120;

#[test]
fn the_shortest_track_is_composed_again_byte_for_byte() {
    let shortest = TRACKS
        .iter()
        .min_by(|a, b| a.seconds.total_cmp(&b.seconds))
        .unwrap();
    let folder = tempfile::tempdir().unwrap();
    let again = folder.path().join(shortest.file);
    std::fs::write(&again, shortest.file_bytes().unwrap()).unwrap();
    assert!(
        std::fs::read(&again).unwrap() == std::fs::read(path(shortest)).unwrap(),
        "{} is not what the code composes: run `cargo run --release --example compose -- media`",
        shortest.file
    );
}

#[test]
fn the_tracks_are_small_enough_to_carry() {
    let sizes: Vec<u64> = TRACKS
        .iter()
        .map(|track| std::fs::metadata(path(track)).unwrap().len())
        .collect();
    assert!(sizes.iter().sum::<u64>() <= ALL_BYTES, "{sizes:?}");
    let first = TRACKS
        .iter()
        .position(|track| track.file == "first-show.flac")
        .unwrap();
    assert!(sizes[first] <= FIRST_SHOW_BYTES, "{sizes:?}");
}

#[test]
fn a_track_lasts_as_stated_and_its_vamp_and_entries_lie_on_bars() {
    for track in &TRACKS {
        assert_eq!(decoded(track).len(), at(track.seconds), "{}", track.file);
        let bar = 240.0 / track.bpm;
        let vamp = track.vamp.iter().flat_map(|(from, to)| [*from, *to]);
        for place in track.entries.iter().copied().chain(vamp) {
            let bars = place / bar;
            assert!(
                (bars - bars.round()).abs() < 1e-9,
                "{}: {place} s is no bar",
                track.file
            );
        }
    }
}

#[test]
fn every_hit_is_the_sharpest_onset_for_a_beat_around_within_5_ms() {
    for track in &TRACKS {
        let rises = rises(&decoded(track));
        for (name, seconds) in track.hits {
            let (hit, beat) = (at(*seconds), at(60.0 / track.bpm));
            let found = sharpest(&rises, hit - beat * 3 / 4..hit + beat * 3 / 4);
            assert!(
                found.abs_diff(hit) <= FIVE_MS,
                "{} {name}: onset at {found}, not {hit}",
                track.file
            );
            assert!(
                rises[found] > 12.0,
                "{} {name}: a rise of {} dB only",
                track.file,
                rises[found]
            );
        }
    }
}

#[test]
fn the_beats_lie_on_the_stated_grid_within_5_ms() {
    for track in &TRACKS {
        let rises = rises(&decoded(track));
        let beat = at(60.0 / track.bpm);
        // Rises summed a beat apart: only the true tempo piles them up, and only the true phase at nought.
        let comb = |phase: usize| -> f64 {
            let strokes: Vec<f64> = rises
                .iter()
                .skip(phase)
                .step_by(beat)
                .map(|rise| rise.clamp(0.0, 12.0))
                .collect();
            strokes.iter().sum::<f64>() / strokes.len() as f64
        };
        let piled: Vec<f64> = (0..beat).map(comb).collect();
        let found = sharpest(&piled, 0..beat);
        let off = found.min(beat - found);
        assert!(
            off <= FIVE_MS,
            "{}: beats lie {off} samples off the grid",
            track.file
        );
        let mean = piled.iter().sum::<f64>() / beat as f64;
        assert!(
            piled[found] > 3.0 * mean,
            "{}: {} dB on the beat, {mean} dB anywhere",
            track.file,
            piled[found]
        );
    }
}

#[test]
fn the_hymns_vamp_bars_are_alike() {
    let hymn = TRACKS
        .iter()
        .find(|track| track.file == "hymn.flac")
        .unwrap();
    let samples = decoded(hymn);
    let (from, to) = hymn.vamp.unwrap();
    let bars: Vec<&[f32]> = samples[at(from)..at(to)]
        .chunks_exact(at(240.0 / hymn.bpm))
        .collect();
    assert_eq!(bars.len(), 4);
    let power =
        |bar: &mut dyn Iterator<Item = f32>| bar.map(|value| f64::from(value).powi(2)).sum::<f64>();
    // The first still holds the opening's echo; from the second on the bars differ by little but rounding.
    for pair in bars[1..].windows(2) {
        let difference = power(&mut pair[0].iter().zip(pair[1]).map(|(a, b)| a - b));
        let whole = power(&mut pair[0].iter().copied());
        assert!(difference < 0.01 * whole, "{difference} of {whole}");
    }
}

#[test]
fn the_tracks_are_near_minus_18_lufs_and_peak_below_minus_1_5_dbtp() {
    // Loudness and true peak as ITU-R BS.1770 has them, by the ebur128 crate.
    for track in &TRACKS {
        let samples = decoded(track);
        let mut meter =
            ebur128::EbuR128::new(1, RATE, ebur128::Mode::I | ebur128::Mode::TRUE_PEAK).unwrap();
        meter.add_frames_f32(&samples).unwrap();
        let loudness = meter.loudness_global().unwrap();
        assert!(
            (loudness + 18.0).abs() < 1.5,
            "{}: {loudness} LUFS",
            track.file
        );
        let peak = 20.0 * meter.true_peak(0).unwrap().log10();
        assert!(peak < -1.5, "{}: {peak} dBTP", track.file);
    }
}

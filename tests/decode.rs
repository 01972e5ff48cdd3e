//! Every format decodes to the music that went in, from its first frame to its last, as ffmpeg decodes it.

mod ffmpeg;

use std::fs;

use abeam::sound::{Problem, decode, probe, read_through};
use abeam::units::Span;
use ffmpeg::tracks::{CASES, FRAMES, Length, SAME, case, encode, read, source};
use ffmpeg::{decoded, run, synthesise, text};
use tempfile::TempDir;

#[test]
fn every_format_gives_the_frames_that_went_in_as_ffmpeg_decodes_them() {
    let dir = TempDir::new().expect("a directory");
    let source = source(&dir);
    let mut wrong = Vec::new();
    for case in CASES {
        let path = encode(&dir, &source, case);
        let ours = read(&path);
        let theirs = decoded(&path);
        let (frames, reference) = (ours.frames(), theirs.len() / 2);
        assert_eq!((ours.rate, ours.channels), (44_100, 2), "{}", case.file);
        let length_holds = match case.length {
            Length::Source => frames == FRAMES && reference == FRAMES,
            Length::SourceBeforeFfmpeg => {
                frames == FRAMES && (FRAMES..FRAMES + 1024).contains(&reference)
            }
            Length::Ffmpeg => frames == reference,
        };
        let worst = ours
            .samples
            .iter()
            .zip(&theirs)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f32::max);
        println!(
            "{:12} {frames} frames, ffmpeg {reference}, differs by {worst:e}",
            case.file
        );
        if !length_holds || worst > case.differs {
            wrong.push(format!(
                "{}: {frames} frames, ffmpeg {reference}, differs by {worst:e}",
                case.file
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "source {FRAMES} frames:\n{}",
        wrong.join("\n")
    );
}

#[test]
fn a_probe_tells_the_length_that_decoding_gives() {
    let dir = TempDir::new().expect("a directory");
    let source = source(&dir);
    for case in CASES {
        let path = encode(&dir, &source, case);
        let facts = probe(&path).unwrap_or_else(|error| panic!("{error}"));
        let pcm = read(&path);
        assert_eq!(facts.duration, pcm.duration(), "{}", case.file);
        assert_eq!(
            (facts.rate, facts.channels),
            (pcm.rate, pcm.channels),
            "{}",
            case.file
        );
    }
}

/// Noise as loud as it can be, noise that is soft, and tones, at 16 and 24 bits: nothing is lost of any of it, whatever
/// in it looks like the head of a block.
#[test]
fn flac_of_noise_and_of_music_is_decoded_to_the_last_bit() {
    let dir = TempDir::new().expect("a directory");
    let noise = |level: f32| {
        format!(
            "anoisesrc=d=5:a={level}:r=48000:seed=1[a];anoisesrc=d=5:a={level}:r=48000:seed=2[b];[a][b]amerge"
        )
    };
    let chord = "aevalsrc=0.3*sin(660*t)+0.2*sin(990*t*(1+0.01*t))|0.4*sin(440*t):s=48000:d=5";
    for (name, graph) in [
        ("loud", noise(1.0)),
        ("soft", noise(0.01)),
        ("tones", chord.to_owned()),
    ] {
        for (bits, format) in [("16", "s16"), ("24", "s32")] {
            for level in ["0", "5", "12"] {
                let path = dir.path().join(format!("{name}-{bits}-{level}.flac"));
                synthesise(
                    &graph,
                    &[
                        "-sample_fmt",
                        format,
                        "-bits_per_raw_sample",
                        bits,
                        "-compression_level",
                        level,
                    ],
                    &path,
                );
                let (ours, theirs) = (read(&path), decoded(&path));
                assert!(ours.samples == theirs, "{name}, {bits} bits, level {level}");
                assert_eq!(read_through(&path).expect("a sound file"), Span::ZERO);
            }
        }
    }
}

/// Surround sound in a codec that is not decoded rightly is refused, never played wrong.
#[test]
fn surround_that_cannot_be_decoded_is_refused() {
    let dir = TempDir::new().expect("a directory");
    for (file, encoder) in [("six.ogg", "libvorbis"), ("six.m4a", "aac")] {
        let path = dir.path().join(file);
        let graph = "anoisesrc=d=0.5:a=0.3,aformat=channel_layouts=5.1";
        synthesise(graph, &["-c:a", encoder], &path);
        let error = decode(&path, &mut |_| {}).expect_err(file);
        assert!(matches!(error.problem, Problem::Unsupported(_)), "{error}");
        assert!(
            error.to_string().contains("convert it to WAV or FLAC"),
            "{error}"
        );
    }
}

/// Channels come in the order of the WAVE channel mask, whatever the order in the file.
#[test]
fn six_channels_keep_their_order() {
    let dir = TempDir::new().expect("a directory");
    for (file, encoder, differs) in [
        ("six.wav", "pcm_s16le", SAME),
        ("six.flac", "flac", SAME),
        ("six.caf", "pcm_s16be", SAME),
        ("six.m4a", "alac", SAME),
    ] {
        let path = dir.path().join(file);
        let tones: Vec<String> = (1..=6)
            .map(|i| format!("0.1*{i}*sin(2*PI*{}*t)", 150 * i))
            .collect();
        let graph = format!("aevalsrc={}:c=5.1:s=48000:d=1", tones.join("|"));
        synthesise(&graph, &["-c:a", encoder], &path);
        let (ours, theirs) = (read(&path), decoded(&path));
        assert_eq!(ours.channels, 6, "{file}");
        let pairs = || ours.samples.iter().zip(&theirs);
        let worst = pairs().map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
        assert!(worst <= differs, "{file}: differs by {worst}");
        assert!(pairs().count() >= 6 * 48_000, "{file}");
    }
}

/// Encoders that write no edit list leave a tag: delay and length in frames, in hexadecimal.
#[test]
fn the_gapless_tag_of_an_m4a_file_is_kept_to() {
    let dir = TempDir::new().expect("a directory");
    let path = encode(
        &dir,
        &source(&dir),
        &case("aac.m4a", &["-c:a", "aac"], Length::Source, 0.0),
    );
    let whole = read(&path);
    let mut bytes = fs::read(&path).expect("the file");
    let edits = find(&bytes, b"edts");
    bytes[edits..edits + 4].copy_from_slice(b"free");
    fs::write(&path, &bytes).expect("the file");
    let untrimmed = read(&path);
    assert_eq!(untrimmed.frames(), (FRAMES + 1024).div_ceil(1024) * 1024);

    let tag = format!(" 00000000 {:08X} {:08X} {:016X} 00000000", 1024, 0, FRAMES);
    let name = [&[0; 4][..], b"iTunSMPB"].concat();
    let item = [
        boxed(b"mean", b"\0\0\0\0com.apple.iTunes"),
        boxed(b"name", &name),
        boxed(
            b"data",
            &[&[0, 0, 0, 1, 0, 0, 0, 0], tag.as_bytes()].concat(),
        ),
    ]
    .concat();
    let list = boxed(b"ilst", &boxed(b"----", &item));
    let addition = boxed(b"udta", &boxed(b"meta", &[&[0; 4][..], &list].concat()));
    let movie = find(&bytes, b"moov") - 4;
    let size = bytes.len() - movie + addition.len();
    bytes[movie..movie + 4].copy_from_slice(&(size as u32).to_be_bytes());
    bytes.extend(addition);
    fs::write(&path, &bytes).expect("the file");
    assert_eq!(read(&path), whole);
    assert_eq!(whole.frames(), FRAMES);
}

/// The same for Matroska: the delay is an element of the track, in nanoseconds.
#[test]
fn the_codec_delay_of_an_mkv_file_is_kept_to() {
    let dir = TempDir::new().expect("a directory");
    let path = encode(
        &dir,
        &source(&dir),
        &case("aac.mkv", &["-c:a", "aac"], Length::Ffmpeg, 0.0),
    );
    let whole = read(&path);
    let mut bytes = fs::read(&path).expect("the file");
    // The element of the language is as long as one of the delay.
    let language = find(&bytes, b"\x22\xb5\x9c\x83und");
    let nanoseconds = (1024.0_f64 / 44_100.0 * 1e9).round() as u32;
    bytes[language..language + 3].copy_from_slice(b"\x56\xaa\x84");
    bytes[language + 3..language + 7].copy_from_slice(&nanoseconds.to_be_bytes());
    fs::write(&path, &bytes).expect("the file");
    assert_eq!(read(&path).samples, whole.samples[2 * 1024..]);
}

fn boxed(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    [&(body.len() as u32 + 8).to_be_bytes()[..], kind, body].concat()
}

fn find(bytes: &[u8], what: &[u8]) -> usize {
    bytes
        .windows(what.len())
        .position(|window| window == what)
        .expect("it is there")
}

/// A WAV file written to a pipe does not know its length.
#[test]
fn a_wav_file_of_unknown_length_is_read_to_its_end() {
    let dir = TempDir::new().expect("a directory");
    let piped = run(&["-v", "error", "-i", text(&source(&dir)), "-f", "wav", "-"]).stdout;
    let path = dir.path().join("piped.wav");
    fs::write(&path, piped).expect("the file");
    assert_eq!(read(&path).frames(), FRAMES);
    assert_eq!(
        probe(&path).expect("a sound file").duration,
        read(&path).duration()
    );
}

/// A minute and a half of music and noise, in codecs whose packets hang together more or less.
#[test]
fn runs_decoded_side_by_side_are_what_one_decoder_gives_bit_for_bit() {
    let dir = TempDir::new().expect("a directory");
    let hymn = concat!(env!("CARGO_MANIFEST_DIR"), "/media/hymn.flac");
    let noisy = "anoisesrc=d=90:a=0.05:r=44100[n];[0:a]aresample=44100[m];[m][n]amix=2";
    for (name, options) in [
        ("whole.flac", ["-ac", "2"].as_slice()),
        ("high.mp3", &["-ac", "2", "-b:a", "320k"]),
        ("middle.mp3", &["-ac", "2", "-b:a", "128k"]),
        ("variable.mp3", &["-ac", "2", "-q:a", "9"]),
        ("low.mp3", &["-ac", "1", "-ar", "22050", "-b:a", "8k"]),
        ("bare.mp3", &["-ac", "2", "-b:a", "96k", "-write_xing", "0"]),
    ] {
        let path = dir.path().join(name);
        let made = ["-v", "error", "-i", hymn, "-filter_complex", noisy];
        run(&[&made, options, &[text(&path)]].concat());
        let with = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
            let pool = pool.build().expect("threads");
            pool.install(|| decode(&path, &mut |_| {}).expect("a sound file"))
        };
        let alone = with(1);
        assert!(
            alone.frames() as f64 > 89.0 * f64::from(alone.rate),
            "{name}"
        );
        for threads in [2, 5] {
            let together = with(threads);
            let pairs = alone.samples.iter().zip(&together.samples);
            let first = pairs.clone().position(|(a, b)| a.to_bits() != b.to_bits());
            assert_eq!(first, None, "{name}, {threads} threads");
            assert_eq!(alone.samples.len(), together.samples.len(), "{name}");
        }
    }
}

//! Every format decodes to the music that went in, from its first frame to its last, as ffmpeg decodes it;
//! and no file, however broken, does worse than an error that says what to do.

mod ffmpeg;

use std::fs;
use std::path::{Path, PathBuf};

use abeam::sound::{Pcm, Problem, decode, probe};
use ffmpeg::{decoded, run, text};
use tempfile::TempDir;

/// Frames of the source: no round number in any unit.
const FRAMES: usize = 145_531;

/// How long the decoded file is.
#[derive(Clone, Copy, PartialEq, Debug)]
enum Length {
    /// As long as what went in, and as ffmpeg's.
    Source,
    /// As long as what went in. ffmpeg before 7 leaves the padding of the last AAC frame.
    SourceBeforeFfmpeg,
    /// As ffmpeg's: the file does not say what the encoder added.
    Ffmpeg,
}

struct Case {
    file: &'static str,
    encoder: &'static [&'static str],
    length: Length,
    /// The largest difference from ffmpeg's samples, full scale 1.
    differs: f32,
}

const fn case(
    file: &'static str,
    encoder: &'static [&'static str],
    length: Length,
    differs: f32,
) -> Case {
    Case {
        file,
        encoder,
        length,
        differs,
    }
}

/// Integer samples are the same; codecs with arithmetic of their own differ by rounding.
const SAME: f32 = 1e-9;
const ROUNDED: f32 = 2e-4;

const CASES: &[Case] = &[
    case("s16.wav", &["-c:a", "pcm_s16le"], Length::Source, SAME),
    case("s24.wav", &["-c:a", "pcm_s24le"], Length::Source, SAME),
    case("f32.wav", &["-c:a", "pcm_f32le"], Length::Source, SAME),
    case("ms.wav", &["-c:a", "adpcm_ms"], Length::Ffmpeg, SAME),
    case("s16.aiff", &["-c:a", "pcm_s16be"], Length::Source, SAME),
    case("s16.flac", &["-c:a", "flac"], Length::Source, SAME),
    case(
        "lame.mp3",
        &["-c:a", "libmp3lame", "-b:a", "192k"],
        Length::Source,
        ROUNDED,
    ),
    case(
        "vbr.mp3",
        &["-c:a", "libmp3lame", "-q:a", "4"],
        Length::Source,
        ROUNDED,
    ),
    case(
        "bare.mp3",
        &["-c:a", "libmp3lame", "-write_xing", "0"],
        Length::Ffmpeg,
        ROUNDED,
    ),
    case("layer2.mp2", &["-c:a", "mp2"], Length::Ffmpeg, ROUNDED),
    case(
        "vorbis.ogg",
        &["-c:a", "libvorbis", "-q:a", "5"],
        Length::Source,
        ROUNDED,
    ),
    case(
        "aac.m4a",
        &["-c:a", "aac", "-b:a", "160k"],
        Length::SourceBeforeFfmpeg,
        ROUNDED,
    ),
    case(
        "front.m4a",
        &["-c:a", "aac", "-movflags", "+faststart"],
        Length::SourceBeforeFfmpeg,
        ROUNDED,
    ),
    case("alac.m4a", &["-c:a", "alac"], Length::Source, SAME),
    case("alac.caf", &["-c:a", "alac"], Length::Source, SAME),
    case("s16.caf", &["-c:a", "pcm_s16be"], Length::Source, SAME),
    case("bare.aac", &["-c:a", "aac"], Length::Ffmpeg, ROUNDED),
    case("flac.mkv", &["-c:a", "flac"], Length::Source, SAME),
    case("s16.mkv", &["-c:a", "pcm_s16le"], Length::Source, SAME),
    case("alac.mkv", &["-c:a", "alac"], Length::Source, SAME),
    case(
        "vorbis.mkv",
        &["-c:a", "libvorbis"],
        Length::Ffmpeg,
        ROUNDED,
    ),
    case("aac.mkv", &["-c:a", "aac"], Length::Ffmpeg, ROUNDED),
];

/// The source: two different channels of noise, in a WAV file of 16 bits.
fn source(dir: &TempDir) -> PathBuf {
    let path = dir.path().join("source.wav");
    let mut random = Random(7);
    let mut low = [0.0_f64; 2];
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 44_100,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("a WAV file");
    for i in 0..FRAMES {
        for (channel, low) in low.iter_mut().enumerate() {
            *low += 0.1 * (random.next() - *low);
            let tone = 0.3 * (i as f64 * 0.02 * (channel + 1) as f64).sin();
            writer
                .write_sample(((tone + *low) * 20_000.0) as i16)
                .expect("a sample");
        }
    }
    writer.finalize().expect("a WAV file");
    path
}

fn encode(dir: &TempDir, source: &Path, case: &Case) -> PathBuf {
    let path = dir.path().join(case.file);
    let mut args = vec!["-v", "error", "-i", text(source)];
    args.extend(case.encoder);
    args.push(text(&path));
    run(&args);
    path
}

/// Numbers that are the same every time: xorshift.
struct Random(u64);

impl Random {
    fn bits(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// From −1 to 1.
    fn next(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }

    fn below(&mut self, end: usize) -> usize {
        (self.bits() % end.max(1) as u64) as usize
    }
}

fn read(path: &Path) -> Pcm {
    decode(path, &mut |_| {}).unwrap_or_else(|error| panic!("{error}"))
}

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

/// Surround sound in a codec that is not decoded rightly is refused, never played wrong.
#[test]
fn surround_that_cannot_be_decoded_is_refused() {
    let dir = TempDir::new().expect("a directory");
    for (file, encoder) in [("six.ogg", "libvorbis"), ("six.m4a", "aac")] {
        let path = dir.path().join(file);
        let graph = "anoisesrc=d=0.5:a=0.3,aformat=channel_layouts=5.1";
        run(&[
            "-v",
            "error",
            "-f",
            "lavfi",
            "-i",
            graph,
            "-c:a",
            encoder,
            text(&path),
        ]);
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
        run(&[
            "-v",
            "error",
            "-f",
            "lavfi",
            "-i",
            &graph,
            "-c:a",
            encoder,
            text(&path),
        ]);
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

#[test]
fn a_file_cut_short_says_so() {
    let dir = TempDir::new().expect("a directory");
    let source = source(&dir);
    for case in CASES.iter().filter(|case| {
        matches!(
            case.file,
            "s16.wav" | "s16.flac" | "lame.mp3" | "s16.aiff" | "front.m4a"
        )
    }) {
        let path = encode(&dir, &source, case);
        let bytes = fs::read(&path).expect("the file");
        fs::write(&path, &bytes[..bytes.len() / 2]).expect("the file");
        let error = decode(&path, &mut |_| {}).expect_err(case.file);
        // A reader may already miss the end while it looks for the header.
        let told = matches!(
            error.problem,
            Problem::CutShort { .. } | Problem::Damaged(_)
        );
        assert!(told, "{error}");
        assert!(error.to_string().contains("copy it again"), "{error}");
    }
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

/// A damaged stretch is silent or noise, and what follows it is still in time.
#[test]
fn what_follows_damage_stays_in_time() {
    let dir = TempDir::new().expect("a directory");
    // Long enough for Ogg, which is in time again a page later, and a page is a second.
    let source = {
        let (once, thrice) = (source(&dir), dir.path().join("thrice.wav"));
        run(&[
            "-v",
            "error",
            "-stream_loop",
            "2",
            "-i",
            text(&once),
            "-c",
            "copy",
            text(&thrice),
        ]);
        thrice
    };
    for file in ["s16.flac", "aac.m4a", "alac.m4a", "vorbis.ogg"] {
        let case = CASES.iter().find(|case| case.file == file).expect("a case");
        let path = encode(&dir, &source, case);
        let whole = read(&path);
        let mut bytes = fs::read(&path).expect("the file");
        let at = bytes.len() / 2;
        let mut random = Random(3);
        bytes[at..at + 3_000]
            .iter_mut()
            .for_each(|byte| *byte = random.bits() as u8);
        fs::write(&path, bytes).expect("the file");
        match decode(&path, &mut |_| {}) {
            Ok(damaged) => {
                assert_eq!(damaged.frames(), whole.frames(), "{file}");
                let tails = || {
                    damaged
                        .samples
                        .iter()
                        .zip(&whole.samples)
                        .rev()
                        .take(40_000)
                };
                let power: f32 = tails().map(|(_, b)| b * b).sum();
                let error: f32 = tails().map(|(a, b)| (a - b) * (a - b)).sum();
                // AAC has noise that is never twice the same: a twentieth of the power is no shift in time.
                assert!(error < 0.05 * power, "{file}: {error} of {power}");
            }
            Err(error) => panic!("{error}"),
        }
    }
}

#[test]
fn no_broken_file_does_worse_than_an_error_that_says_what_to_do() {
    let dir = TempDir::new().expect("a directory");
    let source = source(&dir);
    let short = dir.path().join("short.wav");
    run(&[
        "-v",
        "error",
        "-i",
        text(&source),
        "-t",
        "0.2",
        text(&short),
    ]);
    let mut random = Random(2_026);
    let mut refused = 0;
    for case in CASES {
        println!("{}", case.file);
        let path = encode(&dir, &short, case);
        let bytes = fs::read(&path).expect("the file");
        let mut attempt = |bytes: &[u8]| {
            fs::write(&path, bytes).expect("the file");
            let _ = probe(&path);
            if let Err(error) = decode(&path, &mut |_| {}) {
                refused += 1;
                let said = error.to_string();
                assert!(said.contains(case.file), "{said}");
                assert!(
                    ["check", "give", "convert", "copy"]
                        .iter()
                        .any(|word| said.contains(word)),
                    "{said}"
                );
            }
        };
        for i in 0..24 {
            // Headers are at the start and the end: more cuts there than in between.
            let cut = match i % 3 {
                0 => random.below(bytes.len()),
                1 => random.below(bytes.len().min(200)),
                _ => bytes.len() - random.below(bytes.len().min(200)),
            };
            attempt(&bytes[..cut]);
        }
        for i in 0..48 {
            let mut bytes = bytes.clone();
            for _ in 0..=i / 4 {
                let end = if i % 2 == 0 {
                    bytes.len()
                } else {
                    bytes.len().min(400)
                };
                let at = random.below(end);
                bytes[at] ^= 1 << random.below(8);
            }
            attempt(&bytes);
        }
        let garbage: Vec<u8> = (0..4_000).map(|_| random.bits() as u8).collect();
        attempt(&garbage);
        attempt(&[]);
    }
    println!("{refused} of {} broken files refused", CASES.len() * 74);
    assert!(refused > CASES.len());
}

#[test]
fn what_is_no_sound_file_is_named_and_helped() {
    let dir = TempDir::new().expect("a directory");
    let path = dir.path().join("words.txt");
    fs::write(&path, "These are words, and words alone. ".repeat(500)).expect("the file");
    let said = decode(&path, &mut |_| {}).expect_err("words").to_string();
    assert!(
        said.contains("words.txt is not a sound file") && said.contains("give a WAV"),
        "{said}"
    );

    let said = probe(&dir.path().join("none.flac"))
        .expect_err("no file")
        .to_string();
    assert!(
        said.contains("none.flac cannot be read") && said.contains("check its name"),
        "{said}"
    );
    let said = probe(dir.path()).expect_err("a directory").to_string();
    assert!(said.contains("not a file"), "{said}");
}

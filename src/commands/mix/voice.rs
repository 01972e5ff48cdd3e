//! The script spoken into its gaps by espeak-ng, phrase by phrase at the narrator's rate, so that somebody hears
//! whether it fits.

use std::io::{ErrorKind, Write};
use std::process::{Command, Stdio};
use std::sync::Arc;

use rayon::prelude::*;
use serde::Serialize;

use super::super::Failure;
use super::super::opened::Opened;
use super::{RATE, outside};
use crate::live::offline::Words;
use crate::script::{Phrase, Reader, Version, spoken};
use crate::show::{Block, Show, Side, Wording};
use crate::sound::{Pcm, gain_to, gauge, to_rate, to_stereo};
use crate::units::{Gain, Instant, Loudness, Span};

/// The program that speaks.
const SPEAKER: &str = "espeak-ng";
/// The words a minute it can speak.
const SPEEDS: std::ops::RangeInclusive<f64> = 80.0..=450.0;
/// What is softer than this, full scale 1, before and after a phrase is not the phrase.
const SOFT: f32 = 1e-3;
/// A voice over music (common practice, no published source).
const LEVEL: Loudness = Loudness::from_lufs(-16.0);
/// The stem's name: no track has one with a dot.
pub const STEM: &str = "narrator.voice";

/// All that is spoken.
pub struct Voice {
    /// What is heard.
    pub words: Vec<Words>,
    /// Each block that is spoken.
    pub blocks: Vec<SpokenBlock>,
}

/// How a block came out.
#[derive(Serialize)]
pub struct SpokenBlock {
    /// The block.
    pub block: String,
    /// When it begins.
    pub start_s: f64,
    /// When it was planned to be over.
    pub planned_end_s: f64,
    /// When it is.
    pub end_s: f64,
    /// How much later that is than it must be; `null` where it fits.
    pub over_s: Option<f64>,
}

/// A block that has a time, and its words.
struct Script<'a> {
    i: usize,
    words: Wording,
    phrases: Vec<Phrase>,
    block: &'a Block,
}

/// Speaks every block that has a planned time, in the version that is planned.
pub fn speak(opened: &Opened) -> Result<Voice, Failure> {
    let show = &opened.show;
    let scripts: Vec<Script> = (0..show.blocks.len())
        .filter_map(|i| script(opened, i))
        .collect();
    let spoken: Vec<Vec<Pcm>> = scripts
        .par_iter()
        .map(|script| {
            let phrases = script.phrases.par_iter();
            phrases
                .map(|phrase| say(show, &script.said(show, phrase)))
                .collect()
        })
        .collect::<Result<_, Failure>>()?;
    let mut voice = Voice {
        words: Vec::new(),
        blocks: Vec::new(),
    };
    for (script, phrases) in scripts.iter().zip(&spoken) {
        add_block(opened, script, phrases, &mut voice);
    }
    level(&mut voice.words);
    Ok(voice)
}

fn script(opened: &Opened, i: usize) -> Option<Script<'_>> {
    let (show, layout) = (&opened.show, &opened.plan.layout);
    let block = &show.blocks[i];
    let laid = &layout.blocks[i];
    laid.starts.instant()?;
    let words = match (laid.version, &block.short) {
        (Version::LeftOut, _) => return None,
        (Version::Short, Some(short)) => short,
        _ => &block.text,
    };
    let side = show.figure_of_block(block).map_or(Side::Left, |figure| {
        let mut entries = opened.plan.entries.iter();
        let mirrored = entries.any(|entry| entry.mirrored && entry.figure == figure.id);
        if mirrored {
            figure.from.mirrored()
        } else {
            figure.from
        }
    });
    let words = words.with_sides(side).into_owned();
    let phrases = Reader::of(show, block).phrases(&words);
    Some(Script {
        i,
        words,
        phrases,
        block,
    })
}

impl Script<'_> {
    /// A phrase as it is read out: hard names as they are said.
    fn said(&self, show: &Show, phrase: &Phrase) -> String {
        let text = self
            .words
            .text
            .get(phrase.range.clone())
            .unwrap_or_default();
        let hard = self.block.say.iter().chain(&show.say);
        let text = hard.fold(text.to_owned(), |text, name| {
            text.replace(&name.written, &name.said.to_lowercase())
        });
        spoken(&text)
    }
}

/// Has a text spoken: one channel, from its first sound to its last.
fn say(show: &Show, text: &str) -> Result<Pcm, Failure> {
    let wrong = |why: &str| Failure::Outside(format!("{SPEAKER}: {why}"));
    let rate = show.narrator.words_per_minute;
    let speed = rate.clamp(*SPEEDS.start(), *SPEEDS.end()).round();
    let child = Command::new(SPEAKER)
        .args(["-v", "en", "-s", &speed.to_string(), "--stdin", "--stdout"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn();
    let mut child = child.map_err(|error| match error.kind() {
        ErrorKind::NotFound => Failure::Outside(format!(
            "--voice needs {SPEAKER}, which is not installed: install it (on Debian: apt-get install {SPEAKER}), \
             or leave --voice out"
        )),
        _ => outside(SPEAKER.as_ref(), error),
    })?;
    if let Some(mut to) = child.stdin.take() {
        to.write_all(text.as_bytes())
            .map_err(|error| outside(SPEAKER.as_ref(), error))?;
    }
    let output = child
        .wait_with_output()
        .map_err(|error| outside(SPEAKER.as_ref(), error))?;
    if !output.status.success() {
        return Err(wrong("it could not speak the words"));
    }
    let pcm = read_wav(&output.stdout).ok_or_else(|| wrong("it gave no sound"))?;
    Ok(trimmed(pcm))
}

/// A WAVE file of one channel and 16 bits, as it comes through a pipe: its lengths are not known.
fn read_wav(bytes: &[u8]) -> Option<Pcm> {
    let number = |at: usize| Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?));
    let data = bytes.windows(4).position(|word| word == b"data")? + 8;
    let samples = bytes.get(data..)?.chunks_exact(2);
    let sample = |two: &[u8]| f32::from(i16::from_le_bytes([two[0], two[1]])) / 32_768.0;
    Some(Pcm {
        rate: number(24).filter(|rate| (4_000..=192_000).contains(rate))?,
        channels: 1,
        samples: samples.map(sample).collect(),
    })
}

fn trimmed(mut pcm: Pcm) -> Pcm {
    let loud = |x: &f32| x.abs() > SOFT;
    let end = pcm
        .samples
        .iter()
        .rposition(loud)
        .map_or(0, |last| last + 1);
    pcm.samples.truncate(end);
    let begin = pcm.samples.iter().position(loud).unwrap_or(0);
    pcm.samples.drain(..begin);
    pcm
}

/// Puts a block's phrases on the clock: with the narrator's own rests between them, each piece at its time or when the
/// one before is over.
fn add_block(opened: &Opened, script: &Script, spoken: &[Pcm], voice: &mut Voice) {
    let layout = &opened.plan.layout;
    let laid = &layout.blocks[script.i];
    let mut free = None;
    let mut starts = None;
    for (piece, (from, _)) in layout.pieces[script.i].iter().enumerate() {
        let phrases = script.phrases.iter().zip(spoken);
        let phrases: Vec<_> = phrases
            .filter(|(phrase, _)| phrase.piece == piece)
            .collect();
        let Some(pcm) = joined(&phrases) else {
            continue;
        };
        let at = free.map_or(*from, |free: Instant| free.max(*from));
        starts = starts.or(Some(at));
        free = Some(at + pcm.duration());
        voice.words.push(Words {
            at,
            pcm: Arc::new(to_rate(&to_stereo(pcm), RATE)),
        });
    }
    if let (Some(starts), Some(ends), Some(planned)) = (starts, free, laid.ends) {
        let over = laid.slack.map(|slack| ends - (planned + slack));
        voice.blocks.push(SpokenBlock {
            block: script.block.id.to_string(),
            start_s: starts.s(),
            planned_end_s: planned.s(),
            end_s: ends.s(),
            over_s: over.filter(|over| *over > Span::ZERO).map(Span::s),
        });
    }
}

/// Phrases one after another, with the rests that are between them.
fn joined(phrases: &[(&Phrase, &Pcm)]) -> Option<Pcm> {
    let (_, first) = phrases.first()?;
    let mut pcm = Pcm {
        samples: Vec::new(),
        ..(*first).clone()
    };
    let mut until = None;
    for (phrase, spoken) in phrases {
        let rest = until.map_or(Span::ZERO, |until| phrase.from - until);
        let frames = (rest.s().max(0.0) * f64::from(pcm.rate)) as usize;
        pcm.samples.resize(pcm.samples.len() + frames, 0.0);
        pcm.samples.extend(&spoken.samples);
        until = Some(phrase.until);
    }
    Some(pcm)
}

/// Brings all of it to the level of a voice, by one gain.
fn level(words: &mut [Words]) {
    let all = Pcm {
        rate: RATE,
        channels: 2,
        samples: words
            .iter()
            .flat_map(|words| words.pcm.samples.iter().copied())
            .collect(),
    };
    let gain = gain_to(&gauge(&all), Some(LEVEL), Gain::ZERO).amplitude() as f32;
    for words in words {
        let samples = words.pcm.samples.iter().map(|x| x * gain).collect();
        words.pcm = Arc::new(Pcm {
            samples,
            ..*words.pcm
        });
    }
}

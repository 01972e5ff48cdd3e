//! `abeam check --read-aloud`: the narrator reads blocks out at the keyboard, which gives a rate.

use std::io::{self, BufRead, Write};
use std::path::Path;
use std::sync::Arc;

use super::Failure;
use super::check::words;
use super::opened::Opened;
use crate::script::{self, fit_rate};
use crate::show::edit::{EditError, Manuscript, Place};
use crate::show::{Narrator, Show};
use crate::timeline::{Facts, Plan};
use crate::units::{Instant, Share, Span};

/// A block that was read out: which, and how long it took.
pub(super) type Timed = (usize, Span);

/// What a show would be for a narrator.
fn said_by(show: &Show, narrator: Narrator) -> Show {
    Show {
        narrator,
        ..show.clone()
    }
}

/// Has every block read out, Enter before its first word and Enter after its last; `now` tells the instant
/// of each line. Ends with the blocks, with `q` or with the input.
pub(super) fn time_blocks(
    show: &Show,
    input: &mut impl BufRead,
    mut now: impl FnMut() -> Instant,
    to: &mut impl Write,
) -> io::Result<Vec<Timed>> {
    let mut timed = Vec::new();
    writeln!(
        to,
        "Read each block out as to a crowd, and go on over what is in [ ].\n\
         Enter begins it, Enter ends it; s and Enter leaves it out, q and Enter is enough."
    )?;
    for (i, block) in show.blocks.iter().enumerate() {
        let text = block
            .text
            .text
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        writeln!(to, "\n{}\n  {text}", block.id)?;
        let begun = match line(input)?.as_deref() {
            Some("") => now(),
            Some("s") => continue,
            _ => break,
        };
        writeln!(to, "  reading …")?;
        match line(input)?.as_deref() {
            Some("") => timed.push((i, now() - begun)),
            Some("s") => {}
            _ => break,
        }
    }
    Ok(timed)
}

fn line(input: &mut impl BufRead) -> io::Result<Option<String>> {
    let mut line = String::new();
    let read = input.read_line(&mut line)?;
    Ok((read > 0).then(|| line.trim().to_lowercase()))
}

/// The narrator who took so long; `None` where nothing was read out.
pub(super) fn narrator_who_took(opened: &Opened, timed: &[Timed]) -> Option<Narrator> {
    let readings = &opened.plan.facts.readings;
    let read = |&(i, took): &Timed| Some((&readings.get(i)?.0, took));
    (!timed.is_empty()).then(|| fit_rate(timed.iter().filter_map(read), &opened.show.narrator))
}

/// How long each block took, and what that narrator makes of the fit.
pub(super) fn told(
    opened: &Opened,
    mirrored: bool,
    timed: &[Timed],
    narrator: Option<&Narrator>,
) -> String {
    let Some(narrator) = narrator else {
        return "Nothing was read out.\n".into();
    };
    let show = &opened.show;
    let readings = &opened.plan.facts.readings;
    let mut text = String::new();
    for (i, took) in timed {
        let expected = readings
            .get(*i)
            .map_or(Span::ZERO, |(full, _)| full.lasts());
        let id = show.blocks.get(*i).map_or("", |block| block.id.as_str());
        text += &format!("{id}: {:.1} s, {:.1} s as stated\n", took.s(), expected.s());
    }
    text += &format!(
        "{} read out: {:.0} words a minute between the rests, ±{:.0} %; {:.0} ±{:.0} % as stated\n",
        timed.len(),
        narrator.words_per_minute,
        percent(narrator.spread),
        show.narrator.words_per_minute,
        percent(show.narrator.spread)
    );
    let said = said_by(show, narrator.clone());
    let facts = Facts {
        readings: script::readings(&said),
        ..opened.plan.facts.clone()
    };
    let plan = match mirrored {
        true => Plan::mirrored(&said, &opened.profile, &opened.plan.day, facts),
        false => Plan::new(&said, &opened.profile, &opened.plan.day, facts),
    };
    let fit = words(&Opened {
        show: Arc::new(said),
        plan: Arc::new(plan),
        profile: opened.profile.clone(),
        media: Vec::new(),
        gauged: opened.gauged.clone(),
        faults: Vec::new(),
    });
    text += match fit.as_str() {
        "" => "At that rate every block is said in full.\n",
        _ => "At that rate\n",
    };
    text += &fit;
    text
}

/// What to write into the document to plan with a narrator.
pub(super) fn to_write(narrator: &Narrator) -> String {
    let (rate, spread) = written(narrator);
    format!(
        "To plan with it, say --write, or write into the document:\n\n[narrator]\nwords_per_minute = {rate}\nspread = \"{spread}\"\n"
    )
}

/// Writes a narrator's rate and spread into `document`, whose comments and layout stay; what was done, in words.
pub(super) fn write(document: &Path, narrator: &Narrator) -> Result<String, Failure> {
    let failure = |error: EditError| Failure::Outside(error.to_string());
    let (rate, spread) = written(narrator);
    let place = |key| Place::top("narrator").key(key);
    let mut manuscript = Manuscript::open(document).map_err(failure)?;
    manuscript
        .change("how the narrator reads", |draft| {
            draft.set(&place("words_per_minute"), rate)?;
            draft.set(&place("spread"), spread.as_str())
        })
        .map_err(failure)?;
    manuscript.save().map_err(failure)?;
    Ok(format!(
        "Wrote words_per_minute = {rate} and spread = \"{spread}\" into {}\n",
        document.display()
    ))
}

/// A narrator as the document says it.
fn written(narrator: &Narrator) -> (i64, String) {
    let spread = format!("{:.0} %", percent(narrator.spread));
    (narrator.words_per_minute.round() as i64, spread)
}

fn percent(share: Share) -> f64 {
    (share.whole() * 100.0).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::load::read;

    /// Lines read at given seconds.
    fn timed(lines: &[(&str, f64)]) -> Vec<Timed> {
        let text = include_str!("../../cues/first-show.toml");
        let (show, _) = read("show.toml", text);
        let show = show.expect("a show");
        let input: String = lines.iter().map(|(line, _)| format!("{line}\n")).collect();
        let mut instants = lines
            .iter()
            .filter(|(line, _)| line.is_empty())
            .map(|(_, s)| Instant::from_s(*s));
        let mut told = Vec::new();
        let now = || instants.next().expect("an instant for each Enter");
        time_blocks(&show, &mut input.as_bytes(), now, &mut told).expect("no errors")
    }

    #[test]
    fn a_block_takes_from_one_enter_to_the_next() {
        let both = timed(&[("", 3.0), ("", 8.5), ("", 20.0), ("", 33.0)]);
        assert_eq!(both, [(0, Span::from_s(5.5)), (1, Span::from_s(13.0))]);
        assert_eq!(
            timed(&[("S", 0.0), ("", 1.0), ("", 3.0)]),
            [(1, Span::from_s(2.0))]
        );
        assert_eq!(
            timed(&[("", 1.0), ("", 2.0), ("q", 3.0)]),
            [(0, Span::from_s(1.0))]
        );
        assert_eq!(timed(&[("", 1.0)]), [], "an end that never came");
    }

    /// The rate comes from `fit_rate`, which `tests/speaking.rs` checks against a synthesiser.
    #[test]
    fn a_slower_narrator_is_told_the_rate_and_which_blocks_get_short() {
        let arguments = crate::commands::opened::ShowArgs {
            show: "cues/lantern-lake.toml".into(),
            profile: None,
            wind: None,
            temperature: None,
            mirrored: false,
        };
        let Ok(opened) = arguments.open(false) else {
            panic!("the demo opens");
        };
        let stated = &opened.show.narrator;
        let slow = said_by(
            &opened.show,
            Narrator {
                words_per_minute: 60.0,
                ..stated.clone()
            },
        );
        let timed: Vec<Timed> = script::readings(&slow)
            .iter()
            .map(|(full, _)| full.lasts())
            .enumerate()
            .collect();
        let narrator = narrator_who_took(&opened, &timed).expect("blocks were read");
        let told = told(&opened, false, &timed, Some(&narrator)) + &to_write(&narrator);
        for words in [
            "12 read out: 6",
            "130 ±6 % as stated",
            "At that rate\n",
            "short text",
            "words_per_minute = 6",
        ] {
            assert!(told.contains(words), "{words}: {told}");
        }
    }
}

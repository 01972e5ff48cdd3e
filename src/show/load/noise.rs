//! Reads how loud an aircraft is, and what can be talked over.

use std::collections::HashSet;

use super::reader::{Faults, Section};
use crate::show::{Fault, LevelAt, Name, Noise, Show};
use crate::units::{Gain, Level};

/// What a narrator can talk over unless the show says otherwise: a public-address system is planned to be
/// some 10 dB above what it is heard in, and plays at 90 dB (common practice, no published source).
const TALK_OVER: Level = Level::from_db(80.0);
/// The most that is taken for a difference between astern and ahead.
const MOST_ASTERN: Gain = Gain::from_db(40.0);

/// `loudness` and `astern` of an aircraft.
pub(super) fn noise(section: &mut Section<'_>) -> Noise {
    let loudness = section
        .get("loudness")
        .and_then(|item| item.parsed::<LevelAt>("105 dB at 300 m"));
    let astern = section
        .get("astern")
        .and_then(|item| item.within("6 dB", -MOST_ASTERN..=MOST_ASTERN));
    Noise {
        loudness,
        astern: astern.unwrap_or_default(),
    }
}

/// `talk_over` of the show.
pub(super) fn talk_over(show: &mut Section<'_>) -> Level {
    show.get("talk_over")
        .and_then(|item| item.within("80 dB", Level::from_db(20.0)..=Level::from_db(140.0)))
        .unwrap_or(TALK_OVER)
}

/// Advice about figures whose aircraft are told how loud only in part: a sum that lacks one says nothing.
pub(super) fn told_in_part(show: &Show, faults: &Faults) {
    let all = show.aircraft.iter();
    let loud: HashSet<&Name> = all
        .filter(|aircraft| aircraft.noise.loudness.is_some())
        .map(|aircraft| &aircraft.id)
        .collect();
    let told = |id: &Name| loud.contains(id);
    for figure in &show.figures {
        let Some(quiet) = figure.aircraft.iter().find(|id| !told(id)) else {
            continue;
        };
        if figure.aircraft.iter().any(&told) {
            Fault::advice(
                figure.at.clone(),
                format!(
                    "nothing says how loud `{quiet}` is: the hush of \"{}\" goes by `hush_above`",
                    figure.id
                ),
            )
            .help(format!(
                "write loudness = \"105 dB at 300 m\" in [aircraft.{quiet}]"
            ))
            .add(faults);
        }
    }
}

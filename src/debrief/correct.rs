//! Corrections of the plan: what would be written into the document. They change when things are planned, never how
//! anything is flown.

use super::learn::{Habit, Voice};
use super::stretch::PartOf;
use crate::show::{Manner, Motion, Name, Show};
use crate::units::Span;

/// One value of the document, another than it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// Where it stands.
    pub place: Place,
    /// As it is, in words; `None` where nothing is written.
    pub was: Option<String>,
    /// As it would be, as the document writes it: `"1.2 s"`, `"6 %"`, or a number.
    pub becomes: Value,
    /// Why, in words.
    pub because: String,
}

/// Where a value stands in the document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A key of a `[[figure]]`.
    Figure {
        /// Its id.
        figure: Name,
        /// The profile whose version of it is meant; `None`: the figure itself.
        version: Option<Name>,
        /// `late`, `takes`, `spread`.
        key: &'static str,
    },
    /// A key of the hold of a figure.
    Hold {
        /// The figure's id.
        figure: Name,
        /// The profile whose version of it holds; `None`: the figure's own legs.
        version: Option<Name>,
        /// Who holds, where its aircraft fly apart.
        aircraft: Option<Name>,
        /// `expect`, `spread`.
        key: &'static str,
    },
    /// A key of `[narrator]`.
    Narrator {
        /// `words_per_minute`, `spread`.
        key: &'static str,
    },
}

/// A value as the document writes it.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// In quotes.
    Text(String),
    /// Bare.
    Number(i64),
}

impl std::fmt::Display for Value {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Value::Text(text) => write!(f, "\"{text}\""),
            Value::Number(number) => write!(f, "{number}"),
        }
    }
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Place::Figure { figure, key, .. } => write!(f, "{figure}: {key}")?,
            Place::Hold { figure, key, .. } => write!(f, "{figure}: {key} of its hold")?,
            Place::Narrator { key } => write!(f, "narrator: {key}")?,
        }
        match self {
            Place::Figure {
                version: Some(profile),
                ..
            }
            | Place::Hold {
                version: Some(profile),
                ..
            } => {
                write!(f, " in profile {profile}")
            }
            _ => Ok(()),
        }
    }
}

/// What is less than this is not worth writing.
const WORTH_S: f64 = 0.1;
/// A spread is written anew where it is off by this share of itself.
const WORTH_SHARE: f64 = 0.1;

/// Every correction worth writing, in the order of the show. Of two of one place, what several versions of a figure
/// share, the first is taken: that of the figure's own.
pub fn corrections(show: &Show, habits: &[Habit], voice: Option<&Voice>) -> Vec<Correction> {
    let mut corrections: Vec<Correction> = Vec::new();
    for correction in habits.iter().flat_map(|habit| of_habit(show, habit)) {
        if !corrections.iter().any(|one| one.place == correction.place) {
            corrections.push(correction);
        }
    }
    corrections.extend(voice.into_iter().flat_map(of_voice));
    corrections
}

fn of_habit(show: &Show, habit: &Habit) -> Vec<Correction> {
    let Some(figure) = show.figure(&habit.figure) else {
        return Vec::new();
    };
    let version = habit.version.clone();
    let manner = version
        .as_ref()
        .map_or(&figure.manner, |profile| figure.manner_in(profile));
    let apart = matches!(manner, Manner::Apart(_));
    let of_version = |key, version| Place::Figure {
        figure: figure.id.clone(),
        version,
        key,
    };
    // What a figure is late by, and its spread, are the same in every profile.
    let of_figure = |key| of_version(key, None);
    let of_hold = |key| Place::Hold {
        figure: figure.id.clone(),
        version: version.clone(),
        aircraft: figure.aircraft.first().filter(|_| apart).cloned(),
        key,
    };
    let mut corrections = Vec::new();
    match (habit.part, manner) {
        (PartOf::Hold, manner) => {
            let Some((expect, spread)) = hold(manner) else {
                return corrections;
            };
            corrections.extend(time(of_hold("expect"), Some(expect), expect, habit));
            corrections.extend(self::spread(of_hold("spread"), spread, habit));
        }
        (PartOf::Flight, Manner::Timed { takes, .. }) => {
            let place = of_version("takes", version);
            corrections.extend(time(place, Some(*takes), *takes, habit));
            corrections.extend(self::spread(of_figure("spread"), figure.spread, habit));
        }
        (PartOf::Flight, Manner::Flown(_) | Manner::Apart(_)) => {
            let written = Some(figure.late).filter(|late| *late != Span::ZERO);
            corrections.extend(time(of_figure("late"), written, figure.late, habit));
            corrections.extend(self::spread(of_figure("spread"), figure.spread, habit));
        }
    }
    corrections
}

/// What the hold that a figure begins with is stated to take, and its spread.
fn hold(manner: &Manner) -> Option<(Span, Span)> {
    match manner.parts().first()?.first()?.motion {
        Motion::Hold { expect, spread, .. } => Some((expect, spread)),
        _ => None,
    }
}

/// A time that is off; a bias that may as well be none changes nothing.
fn time(place: Place, written: Option<Span>, now: Span, habit: &Habit) -> Option<Correction> {
    let becomes = to_tenths(now + habit.bias);
    let beyond_doubt = habit.bias.abs() >= habit.bias_spread;
    (beyond_doubt && (becomes - now).abs().s() >= WORTH_S).then(|| Correction {
        place,
        was: written.map(|span| span.to_string()),
        becomes: Value::Text(seconds(becomes)),
        because: format!(
            "{} on the mean of {}, drawn {:.0} % towards the plan",
            longer(habit.longer),
            times(habit.times),
            100.0 * habit.drawn
        ),
    })
}

fn spread(place: Place, now: Span, habit: &Habit) -> Option<Correction> {
    let becomes = to_tenths(habit.spread);
    let off = (becomes - now).abs().s();
    (habit.times > 1 && off >= WORTH_S && off >= WORTH_SHARE * now.s()).then(|| Correction {
        place,
        was: Some(now.to_string()),
        becomes: Value::Text(seconds(becomes)),
        because: format!(
            "{}, what is stated counted as four more",
            times(habit.times)
        ),
    })
}

fn of_voice(voice: &Voice) -> Vec<Correction> {
    let (stated, learned) = (&voice.stated, &voice.learned);
    let blocks = match voice.blocks {
        1 => "1 block".to_owned(),
        more => format!("{more} blocks"),
    };
    let rate = learned.words_per_minute.round();
    let spread = 100.0 * learned.spread.whole();
    let mut corrections = Vec::new();
    if (rate - stated.words_per_minute).abs() >= 1.0 {
        corrections.push(Correction {
            place: Place::Narrator {
                key: "words_per_minute",
            },
            was: Some(format!("{:.0}", stated.words_per_minute)),
            becomes: Value::Number(rate as i64),
            because: blocks.clone(),
        });
    }
    if voice.blocks > 1 && (spread - 100.0 * stated.spread.whole()).abs() >= 0.5 {
        corrections.push(Correction {
            place: Place::Narrator { key: "spread" },
            was: Some(stated.spread.to_string()),
            becomes: Value::Text(format!("{spread:.1} %")),
            because: blocks,
        });
    }
    corrections
}

fn to_tenths(span: Span) -> Span {
    Span::from_s((span.s() * 10.0).round() / 10.0)
}

fn seconds(span: Span) -> String {
    format!("{} s", (span.s() * 10.0).round() / 10.0)
}

/// How much longer than planned, in words.
fn longer(span: Span) -> String {
    let word = if span < Span::ZERO {
        "shorter"
    } else {
        "longer"
    };
    format!("{:.1} s {word}", span.abs().s())
}

/// How often, in words.
fn times(count: usize) -> String {
    match count {
        1 => "1 flying".into(),
        more => format!("{more} flyings"),
    }
}

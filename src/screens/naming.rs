//! The words for what a session tells: things to come, states, lateness, meets.

use super::facts::Scene;
use crate::live::session::{Aloft, Next, NextKind};
use crate::live::{CueState, Halt, Mode, PointOf, Session};
use crate::show::{Anchor, Go, Name, PointName, TimeExpression};
use crate::timeline::{CueTime, Expected, Meeting};
use crate::units::{Instant, Span};

/// What kind of thing is to come, in one word or two.
pub(super) fn kind(next: &Next) -> String {
    match &next.kind {
        NextKind::Block(_) => "words".into(),
        NextKind::Track(_) => "music".into(),
        NextKind::Call(_) => "call".into(),
        NextKind::Silence(_) => "silence".into(),
        NextKind::Point { point, .. } => point_words(point),
    }
}

/// Which one it is.
pub(super) fn which(session: &Session, next: &Next) -> String {
    let show = session.show();
    match &next.kind {
        NextKind::Block(i) => show.blocks.get(*i).map(|block| block.id.to_string()),
        NextKind::Track(i) => show.tracks.get(*i).map(|track| match track.go {
            Go::Auto => track.id.to_string(),
            Go::Hand => format!("{}, started by hand", track.id),
        }),
        NextKind::Call(i) => show
            .calls
            .get(*i)
            .map(|call| format!("{}: {}", call.who, session.call_text(*i))),
        NextKind::Silence(_) => Some("nobody speaks".into()),
        NextKind::Point { key, .. } => Some(figure_name(session, key)),
    }
    .unwrap_or_default()
}

/// `abeam`, `abeam, pass 2`, `gate 1`.
pub(super) fn point_words(point: &PointName) -> String {
    match point {
        PointName::Abeam(n) if *n > 1 => format!("abeam, pass {n}"),
        PointName::Gate(n) => format!("gate {n}"),
        PointName::Own(aircraft, own) => format!("{aircraft} {}", point_words(&(*own).into())),
        other => other.to_string(),
    }
}

/// What people call the figure flown under `key`; a second flying says so.
pub(super) fn figure_name(session: &Session, key: &Name) -> String {
    let flying = session
        .programme()
        .iter()
        .find(|flying| flying.entry.key == *key);
    let id = flying.map_or(key, |flying| &flying.entry.figure);
    let name = session
        .show()
        .figure(id)
        .map_or_else(|| id.to_string(), |figure| figure.name.clone());
    match key.as_str().split_once('#') {
        Some((_, time)) => format!("{name} (time {time})"),
        None => name,
    }
}

/// A figure's point as people say it: `Memorial pass, abeam`.
pub(super) fn point_of(session: &Session, point: &PointOf) -> String {
    format!(
        "{}, {}",
        figure_name(session, &point.key),
        point_words(&point.point)
    )
}

/// A time of the document as people say it: `Memorial pass abeam + 12 s`.
pub(super) fn time(session: &Session, time: &TimeExpression) -> String {
    let anchor = match &time.anchor {
        Anchor::Point { of, point } => {
            format!("{} {}", figure_name(session, of), point_words(point))
        }
        Anchor::Show => "show zero".into(),
        clock @ Anchor::Clock(_) => clock.to_string(),
    };
    let long = time.offset.abs();
    let long = match long.us() {
        us if us >= 60_000_000 && us % 1_000_000 == 0 => long.clock(0),
        _ => long.to_string(),
    };
    match time.offset {
        Span::ZERO => anchor,
        offset if offset > Span::ZERO => format!("{anchor} + {long}"),
        _ => format!("{anchor} − {long}"),
    }
}

/// `4 s late`, `2 s early`, `on time`: estimated against planned.
pub(super) fn lateness(at: Instant, planned: Option<Instant>) -> String {
    let Some(planned) = planned else {
        return "not planned".into();
    };
    let late = at - planned;
    let seconds = (late.abs().us().saturating_add(500_000)) / 1_000_000;
    let amount = if seconds < 60 {
        format!("{seconds} s")
    } else {
        Span::from_us(seconds.saturating_mul(1_000_000)).clock(0)
    };
    match late {
        _ if seconds == 0 => "on time".into(),
        late if late > Span::ZERO => format!("{amount} late"),
        _ => format!("{amount} early"),
    }
}

/// A cue's state as a shape and a word.
pub(super) fn state(state: CueState) -> &'static str {
    match state {
        CueState::Ahead => "○ ahead",
        CueState::Due => "◇ due",
        CueState::Running => "▶ running",
        CueState::Done => "■ done",
        CueState::Dropped => "× dropped",
    }
}

/// How the show is going, in words.
pub(super) fn mode(session: &Session) -> String {
    match session.mode() {
        Mode::Running => "RUNNING".into(),
        Mode::Delayed(since) => format!("HELD UP {}", (session.now() - since).clock(0)),
        Mode::KnockedOff(_) => "KNOCKED OFF".into(),
        Mode::Halted(_, why) => halt(why).to_uppercase(),
        Mode::Accident { .. } => "ACCIDENT".into(),
    }
}

/// Why the show is halted.
pub(super) fn halt(why: Halt) -> &'static str {
    match why {
        Halt::WeatherHold => "weather hold",
        Halt::TechnicalDelay => "technical delay",
        Halt::EndedEarly => "display ended early",
    }
}

/// The profile of what is still to be flown, or of what was flown last.
pub(super) fn profile(session: &Session) -> &Name {
    let unflown = session
        .programme()
        .iter()
        .find(|flying| session.figure_state(flying) == CueState::Ahead);
    unflown
        .or(session.programme().last())
        .map_or(&session.show().profile, |flying| &flying.entry.profile)
}

/// The next pass of an aircraft in the air: whose figure, which point, when.
pub(super) fn next_pass<'a>(
    session: &'a Session,
    aloft: &Aloft,
) -> Option<(&'a Name, &'a PointName, Expected)> {
    let moments = session.moments().figures.iter().zip(session.figures());
    moments
        .filter(|(times, flown)| !times.held && flown.aircraft.contains(&aloft.aircraft))
        .flat_map(|(times, _)| times.points.iter().map(move |(point, _)| (times, point)))
        .filter(|(_, point)| matches!(point, PointName::Abeam(_)))
        .filter_map(|(times, point)| Some((&times.key, point, times.expected(point)?)))
        .filter(|(_, _, expected)| expected.at > session.now())
        .min_by_key(|(_, _, expected)| expected.at)
}

/// The state of a track's meet in words; `None` for a track that meets nothing.
pub(super) fn meet(scene: &Scene, track: usize) -> Option<String> {
    let session = scene.session;
    let meets = session.show().tracks.get(track)?.meets.as_ref()?;
    let laid = session.layout().tracks.get(track)?;
    let cue = session.tracks().get(track)?;
    let on = time(session, &meets.on);
    let Some(meeting) = laid.meeting else {
        return Some(match laid.starts {
            CueTime::Held => {
                let held = format!("hit {} waits for {on}: the show is held up", meets.hit);
                way(session, track).map_or(held.clone(), |way| format!("{held}; {way}"))
            }
            _ => format!("hit {} has nothing to meet: {on} is not flown", meets.hit),
        });
    };
    let hit = format!("hit {}", meets.hit);
    let wanted = scene.clock.text(meeting.wanted, 1);
    let said = match cue.state {
        CueState::Done => format!("{hit} fell {} {on} at {wanted}", fell(&meeting)),
        CueState::Dropped => format!("left out: {hit} {} {on} at {wanted}", misses(&meeting)),
        CueState::Ahead | CueState::Due | CueState::Running => {
            let start = scene.clock.text(meeting.start, 1);
            let begins = if cue.begun.is_some() {
                "started"
            } else {
                "starts"
            };
            let outcome = outcome(&meeting);
            format!(
                "{begins} {start}, {hit} {outcome} {on} {wanted}{}",
                exactly(&meeting)
            )
        }
    };
    let mut parts = vec![said];
    parts.extend(way(session, track));
    if matches!(
        cue.state,
        CueState::Ahead | CueState::Due | CueState::Running
    ) && let Anchor::Point { of, point } = &meets.on.anchor
    {
        parts.extend(sureness(scene, of, cue.round, point, &meeting));
    }
    Some(parts.join("; "))
}

/// How sure a meet still to come is: its spread, what it waits for, when it is fixed.
fn sureness(
    scene: &Scene,
    of: &Name,
    round: usize,
    point: &PointName,
    meeting: &Meeting,
) -> Vec<String> {
    let session = scene.session;
    let mut parts = Vec::new();
    let Some(figure) = session.moments().figure(of, round) else {
        return parts;
    };
    if let Some(expected) = figure.expected(point).filter(|e| e.at > session.now()) {
        parts.push(format!("estimate {}", spread(expected.spread)));
    }
    let inbound = figure.expected(&PointName::Inbound);
    if inbound.is_some_and(|inbound| inbound.at > session.now()) {
        parts.push("provisional until inbound".into());
    }
    let fixed = |what: &str, at: Instant| {
        let word = if at > session.now() { "from" } else { "since" };
        format!("{what} {word} {}", scene.clock.text(at, 1))
    };
    let bars = meeting.rounds_fixed_from;
    let bars = bars.filter(|at| *at != meeting.fixed_from && *at > session.now());
    parts.extend(bars.map(|at| fixed("bars fixed", at)));
    parts.push(fixed("fixed", meeting.fixed_from));
    parts
}

/// How a track that does not play as written goes on: `six more bars, then 0.8 % slower`.
pub(super) fn way(session: &Session, track: usize) -> Option<String> {
    let cue = session.tracks().get(track)?;
    let laid = session.layout().tracks.get(track)?;
    if matches!(cue.state, CueState::Done | CueState::Dropped) {
        return None;
    }
    if cue.vamping {
        return Some("goes round until the show goes on".into());
    }
    let bars = match session.bars_to_come(track) {
        0 => None,
        1 => Some("one more bar".to_owned()),
        count => Some(format!("{} more bars", counted(count))),
    };
    let bent = bent(laid.course.last_rate());
    match (bars, bent) {
        (Some(bars), Some(bent)) => Some(format!("{bars}, {bent}")),
        (bars, bent) => bars.or(bent),
    }
}

/// `0.8 % slower`; nothing for a rate nobody would hear.
fn bent(rate: f64) -> Option<String> {
    let percent = (rate - 1.0) * 100.0;
    let word = if percent < 0.0 { "slower" } else { "faster" };
    (percent.abs() >= 0.05).then(|| format!("{:.1} % {word}", percent.abs()))
}

/// A number in words up to twelve.
fn counted(count: u32) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    let word = WORDS.get(count as usize);
    word.map_or_else(|| count.to_string(), |word| (*word).to_owned())
}

/// ` ±1.2 s` for a point of flight; nothing for what is not flown.
pub(super) fn spread_of(session: &Session, next: &Next) -> String {
    let NextKind::Point { key, point } = &next.kind else {
        return String::new();
    };
    let times = session.times_of(key);
    let expected = times.and_then(|times| times.expected(point));
    expected.map_or(String::new(), |at| format!(" {}", spread(at.spread)))
}

/// `±1.2 s`.
pub(super) fn spread(spread: Span) -> String {
    format!("±{:.1} s", spread.s())
}

fn outcome(meeting: &Meeting) -> String {
    if meeting.met {
        "meets".into()
    } else {
        misses(meeting)
    }
}

/// `misses by 1.4 s late`.
fn misses(meeting: &Meeting) -> String {
    if meeting.met {
        return "is not played for".into();
    }
    let word = if meeting.miss > Span::ZERO {
        "late"
    } else {
        "early"
    };
    format!("misses by {:.1} s {word}:", meeting.miss.abs().s())
}

fn exactly(meeting: &Meeting) -> &'static str {
    if meeting.met && meeting.miss.abs() < Span::from_ms(50) {
        " exactly"
    } else {
        ""
    }
}

fn fell(meeting: &Meeting) -> String {
    if meeting.miss.abs() < Span::from_ms(50) {
        return "on".into();
    }
    let word = if meeting.miss > Span::ZERO {
        "after"
    } else {
        "before"
    };
    format!("{:.1} s {word}", meeting.miss.abs().s())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lateness_is_said_in_words() {
        let planned = Some(Instant::from_s(100.0));
        assert_eq!(lateness(Instant::from_s(104.2), planned), "4 s late");
        assert_eq!(lateness(Instant::from_s(97.6), planned), "2 s early");
        assert_eq!(lateness(Instant::from_s(100.4), planned), "on time");
        assert_eq!(lateness(Instant::from_s(175.0), planned), "1:15 late");
        assert_eq!(lateness(Instant::from_s(100.0), None), "not planned");
    }

    #[test]
    fn a_bend_is_said_in_words() {
        assert_eq!(bent(0.992).as_deref(), Some("0.8 % slower"));
        assert_eq!(bent(1.0103).as_deref(), Some("1.0 % faster"));
        assert_eq!(bent(1.0002), None);
        assert_eq!((counted(6), counted(13)), ("six".into(), "13".into()));
    }
}

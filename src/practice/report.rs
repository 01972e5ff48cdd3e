//! What came of a practice, in words: each meet and how it was made, each block and what was left, the marks, and
//! what one of them would have changed.

use super::account::{Account, Met};
use super::hindsight::Advice;
use super::outcome::{BlockOutcome, MeetOutcome, Played};
use super::sky::Sky;
use crate::live::PointOf;
use crate::script::Version;
use crate::show::{Anchor, Name, PointName, Show};
use crate::units::Span;

/// Less than this is not spoken of.
const UNNOTICED: Span = Span::from_ms(50);

/// The report, line by line: headings at the margin, what they are of indented.
pub fn report(sky: &Sky, account: &Account) -> Vec<String> {
    let report = Report { sky };
    let mut lines = vec!["Music".to_owned()];
    lines.extend(account.meets.iter().flat_map(|met| report.meet(met)));
    if account.meets.is_empty() {
        lines.push("  nothing was to be met".into());
    }
    lines.push("Words".into());
    lines.extend(account.blocks.iter().map(|block| report.block(block)));
    if account.blocks.is_empty() {
        lines.push("  none were due".into());
    }
    lines.push("Marks".into());
    lines.extend(report.marks(account));
    lines
}

/// The names that things have in what was flown.
struct Report<'a> {
    sky: &'a Sky,
}

impl Report<'_> {
    /// How a meet came out, how it was made, what would have made it better.
    fn meet(&self, met: &Met) -> Vec<String> {
        let (show, meet) = (self.sky.show(), &met.outcome);
        let track = &show.tracks[meet.track];
        let Some(meets) = &track.meets else {
            return Vec::new();
        };
        let on = match &meets.on.anchor {
            Anchor::Point { of, point } => format!("{} {}", name(show, of), words(point)),
            other => other.to_string(),
        };
        let came = meet.miss().map_or_else(
            || format!("{} was not heard for {on}", meets.hit),
            |miss| {
                let within = if meet.met {
                    format!("within the {} allowed", meets.within)
                } else {
                    format!("more than the {} allowed", meets.within)
                };
                format!("{} fell {} {on}, {within}", meets.hit, after(miss))
            },
        );
        let mut lines = vec![format!("  {}: {came}", track.id)];
        if let Some(late) = met.late {
            lines.push(format!("    the pass came {}", lateness(late)));
        }
        if let Some(played) = &met.played {
            lines.push(format!("    {}", self.how(played)));
        }
        match &met.advice {
            Some(advice) => lines.push(format!("    {}", self.advised(advice, meet))),
            None if meet.met => {}
            None => lines.push("    no other mark would have brought it nearer".into()),
        }
        lines
    }

    /// Its start, its bars and its rate, against the plan's.
    fn how(&self, played: &Played) -> String {
        let planned = &self.sky.plan().layout.tracks[played.track.0];
        let mut parts = Vec::new();
        if let Some(start) = planned.starts.instant() {
            let late = played.start - start;
            parts.push(match late {
                _ if late.abs() < UNNOTICED => "it began as planned".into(),
                _ if late > Span::ZERO => format!("it began {:.1} s later than planned", late.s()),
                _ => format!("it began {:.1} s sooner than planned", -late.s()),
            });
        }
        let course = &played.course;
        if course.entry != planned.course.entry {
            parts.push(format!("from {} of the track", course.entry.clock(1)));
        }
        let bars = |count: u32| match count {
            0 => "no bar".to_owned(),
            1 => "1 bar".to_owned(),
            count => format!("{count} bars"),
        };
        let (came, meant) = (course.bars(), planned.course.bars());
        if came != meant {
            parts.push(format!("{} came again, {meant} planned", bars(came)));
        } else if came > 0 {
            parts.push(format!("{} came again, as planned", bars(came)));
        }
        let percent = (course.last_rate() - 1.0) * 100.0;
        let word = if percent < 0.0 { "slower" } else { "faster" };
        parts.push(if percent.abs() >= 0.05 {
            format!("{:.1} % {word} in the end", percent.abs())
        } else {
            "at its own rate".into()
        });
        parts.join(", ")
    }

    /// What a mark would have changed.
    fn advised(&self, advice: &Advice, meet: &MeetOutcome) -> String {
        let (on, point) = self.place_of(&advice.point);
        let mark = match advice.keyed {
            None => format!("one {point} mark{on}"),
            Some(late) => {
                let word = if late > Span::ZERO { "late" } else { "early" };
                format!(
                    "the {point} mark{on}, keyed {:.1} s {word}, at its instant",
                    late.abs().s()
                )
            }
        };
        let to = format!("{:.2} s", advice.miss.abs().s());
        match meet.hit {
            Some(_) => format!("{mark} would have brought it within {to}"),
            None => format!("with {mark} it would have been heard, {to} off"),
        }
    }

    /// Where a point is, and what kind it is: ` at 2 nmi`, `gate`.
    fn place_of(&self, of: &PointOf) -> (String, &'static str) {
        let show = self.sky.show();
        let entries = &self.sky.plan().entries;
        let entry = entries.iter().find(|entry| entry.key == of.key);
        let figure = entry.and_then(|entry| show.figure(&entry.figure));
        match &of.point {
            PointName::Gate(n) => {
                let gate = usize::from(*n).checked_sub(1);
                let out = figure.zip(gate).and_then(|(figure, n)| figure.gates.get(n));
                let at = out.map_or_else(
                    || format!(" {n}"),
                    |out| format!(" at {}", out.as_written()),
                );
                (at, "gate")
            }
            PointName::Inbound => (String::new(), "inbound"),
            _ => (String::new(), "abeam"),
        }
    }

    fn block(&self, outcome: &BlockOutcome) -> String {
        let id = &self.sky.show().blocks[outcome.block].id;
        let said = match outcome.version {
            None => return format!("  {id}: not begun"),
            Some(Version::LeftOut) => return format!("  {id}: left out"),
            Some(Version::Full) => "in full",
            Some(Version::Short) => "short",
        };
        let left = match outcome.slack {
            None => "nothing waited for it".to_owned(),
            Some(slack) if slack < Span::ZERO => format!("{:.1} s too long", -slack.s()),
            Some(slack) => format!("{:.1} s to spare", slack.s()),
        };
        format!("  {id}: {said}, {left}")
    }

    /// How the marks were keyed, and which were not.
    fn marks(&self, account: &Account) -> Vec<String> {
        let seen = &account.seen;
        let late: Vec<f64> = seen
            .iter()
            .filter_map(|seen| Some(seen.keyed?.s()))
            .collect();
        if seen.is_empty() {
            return vec!["  nothing was to be marked".into()];
        }
        let mut lines = vec![format!("  {} of {} keyed", late.len(), seen.len())];
        if !late.is_empty() {
            let mean = late.iter().sum::<f64>() / late.len() as f64;
            let most = late.iter().fold(0.0_f64, |most, late| most.max(late.abs()));
            let word = if mean < 0.0 { "before" } else { "after" };
            lines[0] += &format!(
                ", on average {:.1} s {word} they were to be seen, at most {most:.1} s off",
                mean.abs()
            );
        }
        let missed: Vec<String> = seen
            .iter()
            .filter(|seen| seen.keyed.is_none())
            .map(|seen| {
                format!(
                    "{} {}",
                    self.figure_of(&seen.point.key),
                    words(&seen.point.point)
                )
            })
            .collect();
        if !missed.is_empty() {
            lines.push(format!("  not keyed: {}", missed.join("; ")));
        }
        lines
    }

    fn figure_of(&self, key: &Name) -> String {
        let id = key.as_str().split('#').next().unwrap_or_default();
        name(self.sky.show(), &id.into())
    }
}

/// What people call a figure.
fn name(show: &Show, id: &Name) -> String {
    show.figure(id)
        .map_or_else(|| id.to_string(), |figure| figure.name.clone())
}

fn words(point: &PointName) -> String {
    match point {
        PointName::Gate(n) => format!("gate {n}"),
        PointName::Abeam(n) if *n > 1 => format!("abeam, pass {n}"),
        PointName::Own(aircraft, own) => format!("{aircraft} {}", words(&(*own).into())),
        other => other.to_string(),
    }
}

/// How late something was on the plan.
fn lateness(late: Span) -> String {
    match late {
        _ if late.abs() < UNNOTICED => "as planned".into(),
        _ if late > Span::ZERO => format!("{:.1} s later than planned", late.s()),
        _ => format!("{:.1} s sooner than planned", -late.s()),
    }
}

/// `0.32 s after`.
fn after(miss: Span) -> String {
    match miss {
        _ if miss.abs() < UNNOTICED => "on".into(),
        _ if miss < Span::ZERO => format!("{:.2} s before", -miss.s()),
        _ => format!("{:.2} s after", miss.s()),
    }
}

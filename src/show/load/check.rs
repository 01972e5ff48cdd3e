//! Checks what the parts of a show say of each other.

use std::collections::{HashMap, HashSet};

use super::circles;
use super::noise;
use super::points::{Declared, Kind, Thing, things};
use super::reader::Faults;
use super::sides;
use super::wording::quoted;
use crate::show::{Anchor, Fault, Name, PointName, Show, TimeExpression};

/// All that can be said without flying it or opening a file.
///
/// `has_start`: whether the document states a clock time of show zero, be it wrong.
pub(super) fn check(show: &Show, declared: &[Declared], has_start: bool, faults: &Faults) {
    let ids = distinct(show, declared, faults);
    let things = things(show);
    let mut sound = true;
    for time in show.times() {
        sound &= time_exists(show, time, &ids, &things, has_start, faults);
    }
    sound &= zero(show, faults);
    orders_of_time(show, faults);
    never_flown(show, faults);
    noise::told_in_part(show, faults);
    sides::check(show, faults);
    // With ids doubled or unknown, what depends on what cannot be said.
    if sound && ids.len() == declared.len() {
        circles::check(show, faults);
    }
}

/// Every id once; a fault for each id that is taken.
fn distinct<'a>(
    show: &Show,
    declared: &'a [Declared],
    faults: &Faults,
) -> HashMap<&'a str, &'a Declared> {
    let mut ids: HashMap<&str, &Declared> = HashMap::new();
    for this in declared {
        let Some(other) = ids.get(this.id.as_str()) else {
            ids.insert(this.id.as_str(), this);
            continue;
        };
        if faults.count() > 1000 {
            break;
        }
        let (line, _) = show.source.line_column(other.at.start);
        Fault::error(
            this.at.clone(),
            format!("two things are called `{}`", quoted(this.id.as_str())),
        )
        .help(format!(
            "the {} on line {line} has that id already; time expressions need one name for each figure, \
             block, call and track",
            other.kind.noun()
        ))
        .add(faults);
    }
    ids
}

/// Whether what a time is measured from exists; a fault if not.
fn time_exists(
    show: &Show,
    time: &TimeExpression,
    ids: &HashMap<&str, &Declared>,
    things: &HashMap<&str, Thing<'_>>,
    has_start: bool,
    faults: &Faults,
) -> bool {
    let (of, point) = match &time.anchor {
        Anchor::Show => return true,
        Anchor::Clock(_) if has_start => return true,
        Anchor::Clock(_) => {
            Fault::error(time.at.clone(), "a clock time in a show without a start")
                .help("write start = \"19:40:00\" in [show]: without it the show starts on a time hack")
                .add(faults);
            return false;
        }
        Anchor::Point { of, point } => (of, point),
    };
    let Some(declared) = ids.get(of.as_str()) else {
        let mut names: Vec<&str> = ids.keys().copied().collect();
        names.sort_unstable();
        Fault::error(
            show.narrowed(time, of.as_str()),
            format!("nothing is called `{}`", quoted(of.as_str())),
        )
        .help(faults.did_you_mean(of.as_str(), names, "the ids are"))
        .add(faults);
        return false;
    };
    let Some(thing) = things.get(of.as_str()).filter(|_| declared.sound) else {
        return false;
    };
    match unusable(declared, *thing, point, faults) {
        Some((message, help)) => {
            Fault::error(show.narrowed(time, &format!("{of}.{point}")), message)
                .help(help)
                .add(faults);
            false
        }
        None => true,
    }
}

/// Why nothing can be timed by this point, and what to use instead.
fn unusable(
    declared: &Declared,
    thing: Thing<'_>,
    point: &PointName,
    faults: &Faults,
) -> Option<(String, String)> {
    let (kind, id) = (declared.kind, &declared.id);
    if kind == Kind::Call {
        return Some((
            format!("`{id}` is a call, and nothing is timed by a call"),
            "use what the call itself is timed by".into(),
        ));
    }
    let points = thing.points();
    if !points.contains(point) {
        let message = match point {
            PointName::Abeam(1) | PointName::Heard(1) if kind == Kind::Figure => {
                format!("the figure `{id}` has no pass")
            }
            PointName::Abeam(n) | PointName::Heard(n) if kind == Kind::Figure => {
                format!("the figure `{id}` has no pass {n}")
            }
            PointName::Inbound if kind == Kind::Figure => {
                format!("the figure `{id}` has no hold, so it is never inbound")
            }
            PointName::Cross if kind == Kind::Figure => {
                format!("nothing crosses in the figure `{id}`")
            }
            PointName::Own(aircraft, _) if kind == Kind::Figure => {
                let point = quoted(&point.to_string());
                let aircraft = quoted(aircraft.as_str());
                format!(
                    "the figure `{id}` has no point `{point}`: nothing that `{aircraft}` flies apart in it comes to that"
                )
            }
            _ => format!(
                "the {} `{id}` has no point `{}`",
                kind.noun(),
                quoted(&point.to_string())
            ),
        };
        let known: Vec<String> = points.iter().map(PointName::to_string).collect();
        let help = match point {
            PointName::Hit(name) => faults.did_you_mean(
                name.as_str(),
                known.iter().map(String::as_str),
                "its points are",
            ),
            PointName::Abeam(_) | PointName::Heard(_) if kind == Kind::Figure => format!(
                "a pass is a leg with pass = true, or a time in `passes`; its points are: `{}`",
                known.join("`, `")
            ),
            PointName::Cross if kind == Kind::Figure => format!(
                "a cross is where legs with cross = true of two aircraft pass crowd centre; its points are: `{}`",
                known.join("`, `")
            ),
            _ => format!("its points are: `{}`", known.join("`, `")),
        };
        return Some((message, help));
    }
    (!thing.is_planned()).then(|| {
        (
            format!("the {} `{id}` has no planned time", kind.noun()),
            format!("give it `starts`, or time this by something else than `{id}`"),
        )
    })
}

/// Whether show zero is a point of something; a fault if not, or if a profile does not fly it.
fn zero(show: &Show, faults: &Faults) -> bool {
    let Some(zero) = &show.zero else { return true };
    let Anchor::Point { of, .. } = &zero.anchor else {
        Fault::error(zero.at.clone(), "show zero must be a point of a figure")
            .help("write zero = \"arrival.abeam\"; the clock time it falls on is `start`")
            .add(faults);
        return false;
    };
    if show.figure(of).is_none() {
        return true;
    }
    for profile in &show.profiles {
        if !profile.order.is_empty() && !profile.order.contains(of) {
            Fault::error(
                profile.at.clone(),
                format!(
                    "the profile `{}` does not fly `{of}`, which gives show zero",
                    profile.name
                ),
            )
            .help(format!(
                "put \"{of}\" into its order, or choose another `zero` in [show]"
            ))
            .add(faults);
        }
    }
    not_permitted(show, zero, of, faults)
}

/// A fault if show zero is a point of a figure that the site keeps from being flown.
fn not_permitted(show: &Show, zero: &TimeExpression, of: &Name, faults: &Faults) -> bool {
    let permitted = show
        .figure(of)
        .is_none_or(|figure| show.site.permits(figure));
    if !permitted {
        Fault::error(
            zero.at.clone(),
            format!("the site does not permit `{of}`, which gives show zero"),
        )
        .help("write its permit in [site], or choose another `zero`")
        .add(faults);
    }
    permitted
}

/// What ends before it begins, as far as both are measured from one thing.
fn orders_of_time(show: &Show, faults: &Faults) {
    for silence in &show.silences {
        if silence.from.anchor == silence.until.anchor
            && silence.until.offset <= silence.from.offset
        {
            Fault::error(
                silence.until.at.clone(),
                "the silence is over before it begins",
            )
            .help("`until` must be later than `from`; + is later and - earlier")
            .add(faults);
        }
    }
    for track in &show.tracks {
        if let (Some(starts), Some(ends)) = (&track.starts, &track.ends)
            && starts.anchor == ends.anchor
            && ends.offset <= starts.offset
        {
            Fault::error(
                ends.at.clone(),
                format!("the track `{}` must end before it starts", track.id),
            )
            .help("`ends` must be later than `starts`; + is later and - earlier")
            .add(faults);
        }
    }
    for block in &show.blocks {
        if let (Some(starts), Some(ends_by)) = (&block.starts, &block.ends_by)
            && starts.anchor == ends_by.anchor
            && ends_by.offset <= starts.offset
        {
            Fault::error(
                ends_by.at.clone(),
                format!("the block `{}` must end before it starts", block.id),
            )
            .help("`ends_by` must be later than `starts`; + is later and - earlier")
            .add(faults);
        }
    }
}

/// Advice about figures that no profile flies.
fn never_flown(show: &Show, faults: &Faults) {
    if show.profiles.iter().any(|profile| profile.order.is_empty()) {
        return;
    }
    let flown: HashSet<&Name> = show
        .profiles
        .iter()
        .flat_map(|profile| &profile.order)
        .collect();
    for figure in &show.figures {
        if !flown.contains(&figure.id) {
            Fault::advice(
                figure.at.clone(),
                format!("no profile flies `{}`", figure.id),
            )
            .help("put it into the order of one, or leave the figure out")
            .add(faults);
        }
    }
}

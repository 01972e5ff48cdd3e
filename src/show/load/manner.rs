//! Reads how a figure is flown: `legs` and `parts`, or `takes` and `passes`.

use super::legs::{LONGEST, element};
use super::reader::{Faults, Item, Section};
use crate::show::named::Legs;
use crate::show::{Fault, Leg, Manner, Name, Part};
use crate::units::Span;

const LEGS: &str = "[{ run = \"to centre\", speed = \"350 kt\", pass = true }]";

/// `legs` and perhaps `parts`, or `takes` and perhaps `passes`; `aircraft` are the figure's.
pub(super) fn manner(section: &mut Section<'_>, aircraft: &[Name]) -> Option<Manner> {
    let (legs, parts) = (section.get("legs"), section.get("parts"));
    let (takes, passes) = (section.get("takes"), section.get("passes"));
    match (legs.is_some() || parts.is_some(), takes) {
        (true, None) => {
            if let Some(passes) = passes {
                passes
                    .fault("`passes` goes with `takes`, not with `legs`")
                    .help("write pass = true in the leg that passes crowd centre")
                    .add(passes.faults);
            }
            let before = section.faults.count();
            let parts = parted(legs.as_ref(), parts.as_ref(), aircraft);
            if section.faults.count() == before {
                crossing(&parts, section.faults);
            }
            Some(as_flown(parts))
        }
        (false, Some(item)) => {
            let takes: Option<Span> = item.within("38 s", Span::from_ms(100)..=LONGEST);
            let passes = passes.map(|passes| timed_passes(&passes, takes));
            Some(Manner::Timed {
                takes: takes?,
                passes: passes.unwrap_or_default(),
            })
        }
        (true, Some(takes)) => {
            takes
                .fault("both `legs` and `takes`: each says how long the figure is")
                .help("keep `legs` to have it flown by the model, or `takes` if you have timed it")
                .add(takes.faults);
            None
        }
        (false, None) => {
            if !section.faults.broken {
                Fault::error(
                    section.at.clone(),
                    format!("{} needs `legs` or `takes`", section.what),
                )
                .help(format!(
                    "write legs = {LEGS}, or takes = \"38 s\" if you have timed it"
                ))
                .add(section.faults);
            }
            None
        }
    }
}

/// The parts the aircraft fly in: those without legs of their own fly `legs`.
fn parted(legs: Option<&Item<'_>>, parts: Option<&Item<'_>>, aircraft: &[Name]) -> Vec<Part> {
    let mut own: Vec<Part> = Vec::new();
    let named = parts
        .and_then(|item| item.table("`parts`"))
        .map(Section::named);
    for (name, item) in named.unwrap_or_default() {
        if !aircraft.contains(&name) && !item.faults.broken {
            let help = item.faults.did_you_mean(
                name.as_str(),
                aircraft.iter().map(Name::as_str),
                "its aircraft are",
            );
            item.key_fault(format!("no aircraft of this figure is called `{name}`"))
                .help(help)
                .add(item.faults);
            continue;
        }
        let aircraft = vec![name];
        own.extend(listed(&item, &aircraft));
    }
    let others: Vec<Name> = aircraft
        .iter()
        .filter(|name| !own.iter().any(|part| part.aircraft.contains(name)))
        .cloned()
        .collect();
    let mut all = match (legs, &others[..]) {
        (Some(legs), []) if !aircraft.is_empty() => {
            legs.key_fault("every aircraft of this figure has legs of its own in `parts`")
                .help("leave these out, or one of those")
                .add(legs.faults);
            Vec::new()
        }
        (Some(legs), others) => listed(legs, others),
        (None, []) => Vec::new(),
        (None, [name, ..]) => {
            if let Some(parts) = parts {
                parts
                    .key_fault(format!("nothing says what `{name}` flies"))
                    .help("give it legs here too, or write `legs` for all that have none of their own")
                    .add(parts.faults);
            }
            Vec::new()
        }
    };
    all.extend(own);
    // The figure's points are those of its first aircraft.
    if let Some(first) = aircraft.first()
        && let Some(i) = all.iter().position(|part| part.aircraft.contains(first))
    {
        all[..=i].rotate_right(1);
    }
    all
}

/// What `aircraft` fly by one list of legs: as one, unless a figure in it parts them.
fn listed(item: &Item<'_>, aircraft: &[Name]) -> Vec<Part> {
    let list = item.list(LEGS);
    if list.is_empty() && item.value.get_ref().is_array() {
        item.fault("no legs")
            .help(format!("write legs = {LEGS}"))
            .add(item.faults);
    }
    let [mut one, mut other]: [Vec<Leg>; 2] = Default::default();
    let mut apart = false;
    for item in &list {
        match element(item) {
            None => {}
            Some(Legs::Together(legs)) => {
                one.extend(legs.iter().cloned());
                other.extend(legs);
            }
            Some(Legs::Apart(_)) if aircraft.len() < 2 => {
                item.fault("one aircraft alone cannot fly a figure that parts")
                    .help("write aircraft = [\"one\", \"two\"] in this figure, and both follow `legs`")
                    .add(item.faults);
            }
            Some(Legs::Apart([first, second])) => {
                apart = true;
                one.extend(first);
                other.extend(second);
            }
        }
    }
    let part = |aircraft: &[Name], legs| Part {
        aircraft: aircraft.to_vec(),
        legs,
    };
    if !apart {
        return vec![part(aircraft, one)];
    }
    let (first, second) = aircraft.split_at(aircraft.len().div_ceil(2));
    vec![part(first, one), part(second, other)]
}

/// The manner of these parts.
fn as_flown(mut parts: Vec<Part>) -> Manner {
    match parts.len() {
        0 => Manner::Flown(Vec::new()),
        1 => Manner::Flown(parts.remove(0).legs),
        _ => Manner::Apart(parts),
    }
}

/// Faults where what crosses has nobody to cross with, or a run is lengthened for no crossing.
fn crossing(parts: &[Part], faults: &Faults) {
    let mut crossing = Vec::new();
    for part in parts {
        let crosses: Vec<&Leg> = part.legs.iter().filter(|leg| leg.cross).collect();
        if let [_, second, ..] = crosses[..] {
            Fault::error(second.at.clone(), "an aircraft crosses twice in one figure")
                .help("keep one cross = true, or make two figures of it")
                .add(faults);
        }
        let lengthened: Vec<&Leg> = part.legs.iter().filter(|leg| leg.lengthen).collect();
        if let [_, second, ..] = lengthened[..] {
            Fault::error(second.at.clone(), "two runs are to be lengthened")
                .help("keep one lengthen = true for each aircraft")
                .add(faults);
        }
        if let ([], [leg, ..]) = (&crosses[..], &lengthened[..]) {
            Fault::error(leg.at.clone(), "a run is lengthened for no crossing")
                .help("write cross = true in the run of this aircraft that crosses, or leave `lengthen` out")
                .add(faults);
        }
        crossing.extend(crosses.first().copied());
    }
    if let [alone] = crossing[..] {
        Fault::error(alone.at.clone(), "one aircraft crosses with nobody")
            .help(
                "write cross = true in a run of another aircraft too, in `parts`: { two = [ … ] }",
            )
            .add(faults);
    }
}

/// Passes of a timed figure: in order, and before it ends.
fn timed_passes(item: &Item<'_>, takes: Option<Span>) -> Vec<Span> {
    let mut passes: Vec<Span> = Vec::new();
    for item in &item.list("[\"12 s\"]") {
        let Some(pass) = item.within("12 s", Span::ZERO..=takes.unwrap_or(LONGEST)) else {
            continue;
        };
        if passes.last().is_some_and(|last| *last >= pass) {
            item.fault("the passes are not in order")
                .help("write them from the first to the last, counted from the figure's start")
                .add(item.faults);
        }
        passes.push(pass);
    }
    passes
}

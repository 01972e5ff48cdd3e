//! Reads holds, runs and turns.

use super::{FARTHEST, Keys, LONGEST, TIGHTEST, WAYS, finish, is_come_to, is_reached};
use crate::show::load::reader::{Item, Section};
use crate::show::load::wording::quoted;
use crate::show::{Fault, HARDEST, Leg, Motion, Place, RunUntil, TurnBy, TurnTowards, TurnUntil};
use crate::units::{Angle, Length, Span};

/// One standard deviation of a hold's length when none is stated (common practice, no published source).
const HOLD_SPREAD: Span = Span::from_ms(10_000);

/// The steepest bank of a level turn: more than the hardest load factor carries.
const STEEPEST_BANK: Angle = Angle::from_deg(86.0);

pub(super) fn hold(mut section: Section<'_>) -> Option<Leg> {
    let at = section.at.clone();
    let place = section.get("hold").and_then(|item| {
        let place: Place = item.parsed("3.2 nmi")?;
        far_enough(&item, place)
    });
    let expect = section
        .must("expect", "\"90 s\"")
        .and_then(|item| item.within("90 s", Span::ZERO..=LONGEST));
    let spread = section
        .get("spread")
        .and_then(|item| item.within("15 s", Span::from_ms(1)..=LONGEST));
    section.finish();
    let motion = Motion::Hold {
        place: place?,
        expect: expect?,
        spread: spread.unwrap_or(HOLD_SPREAD),
    };
    Some(Leg::new(motion, at))
}

/// A place that is not crowd centre and not in another country.
fn far_enough(item: &Item<'_>, place: Place) -> Option<Place> {
    if place.out > Length::ZERO && place.out <= FARTHEST {
        return Some(place);
    }
    let written = quoted(item.text()?);
    item.fault(format!("\"{written}\" is no distance from crowd centre"))
        .help("write how far out it is: \"2 nmi\"; crowd centre itself is \"to centre\" in a run")
        .add(item.faults);
    None
}

pub(super) fn run(mut section: Section<'_>) -> Option<Leg> {
    let until = section.get("run").and_then(|item| run_until(&item));
    let pitch = section.get("pitch").and_then(|item| {
        let upright = Angle::from_deg(90.0);
        item.within("45 deg", -upright..=upright)
    });
    if section.has("pitch")
        && let Some(height) = section.get("height")
    {
        height
            .fault("`height` on a run with a `pitch`: the path's angle says how it climbs")
            .help("keep one of them; a climb that ends at a height is run = \"to height 3000 ft\"")
            .add(height.faults);
    }
    let cross = section.get("cross").and_then(|item| item.flag()) == Some(true);
    let lengthen = section
        .get("lengthen")
        .filter(|item| item.flag() == Some(true) && is_for(item, until));
    let motion = until.map(|until| Motion::Run { until, pitch });
    let leg = finish(section, motion, Keys::Level)?;
    Some(Leg {
        pass: leg.pass || cross,
        cross,
        lengthen: lengthen.is_some(),
        ..leg
    })
}

/// Whether a run goes on for a distance or a time; else a fault at what would lengthen it.
fn is_for(item: &Item<'_>, until: Option<RunUntil>) -> bool {
    let sane = matches!(
        until,
        None | Some(RunUntil::Distance(_) | RunUntil::Time(_))
    );
    if !sane {
        item.key_fault("`lengthen` on a run that ends at a place, a height or a speed")
            .help("put it on a run for a distance or a time: run = \"for 1 nmi\"")
            .add(item.faults);
    }
    sane
}

fn run_until(item: &Item<'_>) -> Option<RunUntil> {
    let until: RunUntil = item.parsed("to centre")?;
    let sane = match until {
        RunUntil::Centre => true,
        RunUntil::Place(place) => far_enough(item, place).is_some(),
        RunUntil::Distance(distance) => is_short(item, distance <= FARTHEST),
        RunUntil::Time(time) => is_short(item, time <= LONGEST),
        RunUntil::Height(height) => is_reached(item, height),
        RunUntil::Speed(speed) => is_come_to(item, speed),
    };
    sane.then_some(until)
}

fn is_short(item: &Item<'_>, short: bool) -> bool {
    if !short {
        item.fault("a run longer than any display").add(item.faults);
    }
    short
}

pub(super) fn turn(mut section: Section<'_>) -> Option<Leg> {
    let until = section.get("turn").and_then(|item| {
        let until: TurnUntil = item.parsed("180 deg")?;
        match until {
            TurnUntil::Angle(_) => item
                .within("180 deg", Angle::from_deg(1.0)..=Angle::from_deg(3600.0))
                .map(TurnUntil::Angle),
            headed => Some(headed),
        }
    });
    let by = turn_by(&mut section);
    let towards = section.get("towards").and_then(|item| item.choice(&WAYS));
    let motion = until.zip(by).map(|(until, by)| Motion::Turn {
        until,
        towards: towards.unwrap_or(TurnTowards::Away),
        by,
    });
    finish(section, motion, Keys::Level)
}

fn turn_by(section: &mut Section<'_>) -> Option<TurnBy> {
    let (bank, load) = (section.get("bank"), section.get("g"));
    match (bank, load) {
        (Some(bank), None) => bank
            .within("60 deg", Angle::from_deg(1.0)..=STEEPEST_BANK)
            .map(TurnBy::Bank),
        (None, Some(load)) if load.says(TIGHTEST) => Some(TurnBy::Tightest),
        (None, Some(load)) => load.number("4", 1.001..=HARDEST).map(TurnBy::Load),
        (Some(_), Some(load)) => {
            load.fault("both `bank` and `g`: in a level turn each gives the other")
                .help("keep one of them")
                .add(load.faults);
            None
        }
        (None, None) => {
            if !section.faults.broken {
                Fault::error(section.at.clone(), "a turn leg needs `bank` or `g`")
                    .help("write bank = \"60 deg\", g = 4 or g = \"tightest\"")
                    .add(section.faults);
            }
            None
        }
    }
}

//! Reads pulls, pushes, rolls, coasts and pivots.

use std::ops::RangeInclusive;

use super::{HIGHEST, Keys, LONGEST, WAYS, finish, is_come_to, is_reached};
use crate::show::load::reader::{Item, Section};
use crate::show::{
    CoastUntil, Fault, HARDEST, Leg, Motion, PilotsSide, PivotAbout, PullBy, PullUntil, TurnTowards,
};
use crate::units::{Airspeed, Angle, Length, Speed};

const SIDES: [(&str, PilotsSide); 2] = [("left", PilotsSide::Left), ("right", PilotsSide::Right)];
/// The tightest radius.
const TIGHTEST: Length = Length::from_m(5.0);
/// The fastest an aircraft rolls or its nose turns, degrees a second.
const QUICKEST: f64 = 1000.0;

fn round() -> RangeInclusive<Angle> {
    Angle::from_deg(1.0)..=Angle::from_deg(3600.0)
}

pub(super) fn pull(mut section: Section<'_>) -> Option<Leg> {
    let until = section.get("pull").and_then(|item| pull_until(&item));
    let by = pull_by(&mut section, "4");
    let motion = until.zip(by).map(|(until, by)| Motion::Pull { until, by });
    finish(section, motion, Keys::Steep)
}

pub(super) fn push(mut section: Section<'_>) -> Option<Leg> {
    let until = section.get("push").and_then(|item| {
        let until = pull_until(&item)?;
        if until == PullUntil::Out {
            item.fault("a push \"out\"")
                .help("write pull = \"out\": it lets go where the path climbs")
                .add(item.faults);
            return None;
        }
        Some(until)
    });
    let by = pull_by(&mut section, "-1.5");
    let motion = until.zip(by).map(|(until, by)| Motion::Push { until, by });
    finish(section, motion, Keys::Steep)
}

fn pull_until(item: &Item<'_>) -> Option<PullUntil> {
    let until: PullUntil = item.parsed("90 deg")?;
    match until {
        PullUntil::Round(_) => item.within("90 deg", round()).map(PullUntil::Round),
        PullUntil::Climb(angle) if angle.deg().abs() > 89.0 => {
            item.fault("a climb within a degree of the vertical")
                .help("write \"to vertical\", or an angle from \"to -89 deg\" to \"to 89 deg\"")
                .add(item.faults);
            None
        }
        PullUntil::Climb(_) | PullUntil::Vertical | PullUntil::Out | PullUntil::Back => Some(until),
    }
}

fn pull_by(section: &mut Section<'_>, example: &'static str) -> Option<PullBy> {
    let (load, radius) = (section.get("g"), section.get("radius"));
    match (load, radius) {
        (Some(load), None) => load.number(example, -HARDEST..=HARDEST).map(PullBy::Load),
        (None, Some(radius)) => radius
            .within("150 m", TIGHTEST..=HIGHEST)
            .map(PullBy::Radius),
        (Some(_), Some(radius)) => {
            radius
                .fault("both `g` and `radius`: with the speed each gives the other")
                .help("keep one of them")
                .add(radius.faults);
            None
        }
        (None, None) => {
            if !section.faults.broken {
                let message = format!("{} needs `g` or `radius`", section.what);
                Fault::error(section.at.clone(), message)
                    .help(format!("write g = {example}, or radius = \"150 m\""))
                    .add(section.faults);
            }
            None
        }
    }
}

pub(super) fn roll(mut section: Section<'_>) -> Option<Leg> {
    let angle = section
        .get("roll")
        .and_then(|item| item.within("360 deg", round()));
    let rate = section
        .get("rate")
        .and_then(|item| item.number("180", 1.0..=QUICKEST));
    let towards = section.get("towards").and_then(|item| item.choice(&WAYS));
    let load = section
        .get("g")
        .and_then(|item| item.number("2", -HARDEST..=HARDEST));
    let motion = angle.map(|angle| Motion::Roll {
        angle,
        rate: rate.map(Angle::from_deg),
        towards: towards.unwrap_or(TurnTowards::PilotsRight),
        load,
    });
    finish(section, motion, Keys::Steep)
}

pub(super) fn coast(mut section: Section<'_>) -> Option<Leg> {
    let until = section.get("coast").and_then(|item| {
        let until: CoastUntil = item.parsed("to top")?;
        let sane = match until {
            CoastUntil::Top => true,
            CoastUntil::Height(height) => is_reached(&item, height),
            CoastUntil::Speed(speed) => is_come_to(&item, speed),
            CoastUntil::Time(time) if time > LONGEST => {
                item.fault("a coast longer than any display")
                    .add(item.faults);
                false
            }
            CoastUntil::Time(_) => true,
        };
        sane.then_some(until)
    });
    let motion = until.map(|until| Motion::Coast { until });
    finish(section, motion, Keys::Falling)
}

pub(super) fn pivot(mut section: Section<'_>) -> Option<Leg> {
    let angle = section
        .get("pivot")
        .and_then(|item| item.within("180 deg", round()));
    let rate = section
        .must("rate", "90")
        .and_then(|item| item.number("90", 1.0..=QUICKEST));
    let yaw = section
        .get("about")
        .and_then(|item| item.choice(&[("pitch", false), ("yaw", true)]));
    let towards = section.get("towards");
    let about = match (yaw, towards) {
        (Some(true), towards) => {
            let side = towards.and_then(|item| item.choice(&SIDES));
            PivotAbout::Yaw(side.unwrap_or(PilotsSide::Right))
        }
        (_, None) => PivotAbout::Pitch,
        (_, Some(towards)) => {
            towards
                .fault("`towards` on a pivot about pitch, which turns the nose up")
                .help("write about = \"yaw\" beside it, or leave it out")
                .add(towards.faults);
            PivotAbout::Pitch
        }
    };
    let sink: Option<Speed> = section
        .must("sink", "\"40 m/s\"")
        .and_then(|item| item.within("40 m/s", Speed::from_mps(1.0)..=Speed::from_mps(300.0)));
    let thrust = section
        .get("thrust")
        .and_then(|item| item.number("0.9", 0.0..=3.0));
    let out = section.get("out").and_then(|item| flown_out(&item));
    let motion = angle
        .zip(rate)
        .zip(sink)
        .map(|((angle, rate), sink)| Motion::Pivot {
            angle,
            rate: Angle::from_deg(rate),
            about,
            sink,
            thrust: thrust.unwrap_or(0.0),
            out,
        });
    finish(section, motion, Keys::Falling)
}

fn flown_out(item: &Item<'_>) -> Option<Airspeed> {
    let speed: Airspeed = item.parsed("120 kt cas")?;
    is_come_to(item, speed).then_some(speed)
}

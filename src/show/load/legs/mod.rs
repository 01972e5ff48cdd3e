//! Reads the legs of a figure.

mod level;
mod named;
mod needs;
mod speed;
mod steep;

use super::reader::{Item, Section};
use super::wording::quoted;
use crate::show::named::Legs;
use crate::show::{Leg, Motion, TurnTowards};
use crate::units::{Airspeed, Length, Span, Speed};

pub(super) use needs::needs;

/// Beyond these nothing of a display lies; what is written there is a slip.
pub(super) const LONGEST: Span = Span::from_ms(2 * 3_600_000);
pub(super) const FARTHEST: Length = Length::from_m(500_000.0);
pub(super) const HIGHEST: Length = Length::from_m(20_000.0);
const FASTEST: Speed = Speed::from_mps(1_500.0);
const FASTEST_MACH: f64 = 4.0;

/// A `g` that is whatever the aircraft can.
const TIGHTEST: &str = "tightest";

/// Which way a turn or a roll goes.
const WAYS: [(&str, TurnTowards); 5] = [
    ("away", TurnTowards::Away),
    ("crowd", TurnTowards::Crowd),
    ("left", TurnTowards::PilotsLeft),
    ("right", TurnTowards::PilotsRight),
    ("back", TurnTowards::Back),
];
/// The keys that say what a leg is.
const KINDS: [&str; 9] = [
    "hold", "run", "turn", "pull", "push", "roll", "coast", "pivot", "fly",
];

/// The legs that one element of `legs` stands for: the one place where an element becomes legs. What it is
/// called in messages depends on the key that says what it is.
pub(super) fn element(item: &Item<'_>) -> Option<Legs> {
    let section = item.table("a leg")?;
    let kinds: Vec<&str> = KINDS.into_iter().filter(|kind| section.has(kind)).collect();
    let leg = match kinds[..] {
        ["fly"] => return named::fly(item),
        ["hold"] => item.table("a hold leg").and_then(level::hold),
        ["run"] => item.table("a run leg").and_then(level::run),
        ["turn"] => item.table("a turn leg").and_then(level::turn),
        ["pull"] => item.table("a pull leg").and_then(steep::pull),
        ["push"] => item.table("a push leg").and_then(steep::push),
        ["roll"] => item.table("a roll leg").and_then(steep::roll),
        ["coast"] => item.table("a coast leg").and_then(steep::coast),
        ["pivot"] => item.table("a pivot leg").and_then(steep::pivot),
        [] if item.faults.broken => None,
        [] => {
            item.fault(format!("a leg that is no `{}`", KINDS.join("`, `")))
                .help(
                    "write { run = \"to centre\", … }, { turn = \"180 deg\", … }, { fly = \"loop\" } or \
                     { hold = \"3 nmi\", … }; what is none of them can be timed with `takes`",
                )
                .add(item.faults);
            None
        }
        _ => {
            item.fault(format!(
                "a leg cannot be `{}` at once",
                kinds.join("` and `")
            ))
            .help("make them two legs")
            .add(item.faults);
            None
        }
    };
    Some(Legs::Together(vec![leg?]))
}

/// What a leg has besides what it is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Keys {
    /// Speed, and a height to go to: runs and turns.
    Level,
    /// Speed: what goes up and down as it will.
    Steep,
    /// Neither: the speed is not the pilot's.
    Falling,
}

/// Reads what every leg may have and finishes it.
fn finish(mut section: Section<'_>, motion: Option<Motion>, keys: Keys) -> Option<Leg> {
    let mut leg = Leg {
        pass: section
            .get("pass")
            .and_then(|item| item.flag())
            .unwrap_or(false),
        needs: section.get("needs").and_then(|item| needs(&item)),
        ..Leg::new(motion?, section.at.clone())
    };
    if keys == Keys::Level {
        leg.height = section
            .get("height")
            .and_then(|item| item.within("500 ft", Length::ZERO..=HIGHEST));
    }
    if keys != Keys::Falling {
        leg.speed = speed::speed(&mut section);
        leg.power = speed::power(&mut section, keys, leg.speed);
    }
    section.finish();
    Some(leg)
}

/// Whether an aircraft flies a display at `speed`; else a fault.
fn is_flown(item: &Item<'_>, speed: Airspeed) -> bool {
    let sane = match speed {
        Airspeed::Mach(mach) => mach > 0.0 && mach <= FASTEST_MACH,
        Airspeed::Calibrated(speed) | Airspeed::True(speed) | Airspeed::Ground(speed) => {
            speed > Speed::ZERO && speed <= FASTEST
        }
    };
    if !sane && let Some(text) = item.text() {
        item.fault(format!(
            "\"{}\" is no speed an aircraft flies a display at",
            quoted(text)
        ))
        .help("write one above zero, such as \"350 kt\" or \"0.94 mach\"")
        .add(item.faults);
    }
    sane
}

/// Whether a leg can end at `speed`: one through the air; else a fault.
fn is_come_to(item: &Item<'_>, speed: Airspeed) -> bool {
    let sane = !matches!(speed, Airspeed::Ground(_));
    if !sane {
        item.fault("a leg that ends at a ground speed")
            .help("write a speed through the air, \"120 kt cas\" or \"120 kt tas\"")
            .add(item.faults);
    }
    sane && is_flown(item, speed)
}

/// Whether a leg can end at `height`; else a fault.
fn is_reached(item: &Item<'_>, height: Length) -> bool {
    let sane = height >= Length::ZERO && height <= HIGHEST;
    if !sane && let Some(text) = item.text() {
        item.fault(format!("\"{}\" is no height above the site", quoted(text)))
            .help(format!(
                "write one from 0 m to {HIGHEST}, such as \"to height 3000 ft\""
            ))
            .add(item.faults);
    }
    sane
}

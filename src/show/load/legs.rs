//! Reads the legs of a figure.

use super::reader::{Item, Section};
use super::wording::quoted;
use crate::show::{Fault, Leg, Place, RunUntil, SpeedPlan, TurnBy, TurnTowards};
use crate::units::quantity::KNOT;
use crate::units::{Acceleration, Airspeed, Angle, Length, Span, Speed};

/// One standard deviation of a hold's length when none is stated (common practice, no published source).
const HOLD_SPREAD: Span = Span::from_ms(10_000);
/// Beyond these nothing of a display lies; what is written there is a slip.
pub(super) const LONGEST: Span = Span::from_ms(2 * 3_600_000);
pub(super) const FARTHEST: Length = Length::from_m(500_000.0);
const HIGHEST: Length = Length::from_m(20_000.0);
const FASTEST: Speed = Speed::from_mps(1_500.0);
const FASTEST_MACH: f64 = 4.0;
const SOFTEST_GAIN: Acceleration = Acceleration::from_mps2(0.01 * KNOT);
const HARDEST_GAIN: Acceleration = Acceleration::from_mps2(100.0 * KNOT);

/// One leg: what it is called in messages depends on which key says what it is.
pub(super) fn leg(item: &Item<'_>) -> Option<Leg> {
    let section = item.table("a leg")?;
    let kinds: Vec<&str> = ["hold", "run", "turn"]
        .into_iter()
        .filter(|kind| section.has(kind))
        .collect();
    match kinds[..] {
        ["hold"] => hold(item.table("a hold leg")?),
        ["run"] => run(item.table("a run leg")?),
        ["turn"] => turn(item.table("a turn leg")?),
        [] if item.faults.broken => None,
        [] => {
            item.fault("a leg that is no `hold`, `run` or `turn`")
                .help(
                    "write { run = \"to centre\", … }, { turn = \"180 deg\", … } or { hold = \"3 nmi\", … }; \
                     what is none of them can be timed with `takes`",
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
    }
}

fn hold(mut section: Section<'_>) -> Option<Leg> {
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
    Some(Leg::Hold {
        place: place?,
        expect: expect?,
        spread: spread.unwrap_or(HOLD_SPREAD),
        at,
    })
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

fn run(mut section: Section<'_>) -> Option<Leg> {
    let at = section.at.clone();
    let until = section.get("run").and_then(|item| {
        let until: RunUntil = item.parsed("to centre")?;
        let sane = match until {
            RunUntil::Centre => true,
            RunUntil::Place(place) => far_enough(&item, place).is_some(),
            RunUntil::Distance(distance) => distance <= FARTHEST,
            RunUntil::Time(time) => time <= LONGEST,
        };
        if !sane && !matches!(until, RunUntil::Place(_)) {
            item.fault("a run longer than any display").add(item.faults);
        }
        sane.then_some(until)
    });
    let speed = speed(&mut section);
    let height = height(&mut section);
    let pass = section.get("pass").and_then(|item| item.flag());
    section.finish();
    Some(Leg::Run {
        until: until?,
        speed,
        height,
        pass: pass.unwrap_or(false),
        at,
    })
}

fn turn(mut section: Section<'_>) -> Option<Leg> {
    let at = section.at.clone();
    let angle = section
        .get("turn")
        .and_then(|item| item.within("180 deg", Angle::from_deg(1.0)..=Angle::from_deg(3600.0)));
    let bank = section.get("bank");
    let load = section.get("g");
    let by = match (bank, load) {
        (Some(bank), None) => bank
            .within("60 deg", Angle::from_deg(1.0)..=Angle::from_deg(89.0))
            .map(TurnBy::Bank),
        (None, Some(load)) => load.number("4", 1.001..=15.0).map(TurnBy::Load),
        (Some(_), Some(load)) => {
            load.fault("both `bank` and `g`: in a level turn each gives the other")
                .help("keep one of them")
                .add(load.faults);
            None
        }
        (None, None) => {
            if !section.faults.broken {
                Fault::error(at.clone(), "a turn leg needs `bank` or `g`")
                    .help("write bank = \"60 deg\", or g = 4")
                    .add(section.faults);
            }
            None
        }
    };
    let towards = section.get("towards").and_then(|item| {
        item.choice(&[
            ("away", TurnTowards::Away),
            ("crowd", TurnTowards::Crowd),
            ("left", TurnTowards::PilotsLeft),
            ("right", TurnTowards::PilotsRight),
        ])
    });
    let speed = speed(&mut section);
    let height = height(&mut section);
    section.finish();
    Some(Leg::Turn {
        angle: angle?,
        towards: towards.unwrap_or(TurnTowards::Away),
        by: by?,
        speed,
        height,
        at,
    })
}

fn height(section: &mut Section<'_>) -> Option<Length> {
    section
        .get("height")
        .and_then(|item| item.within("500 ft", Length::ZERO..=HIGHEST))
}

/// `speed = "220 kt cas"`, held; or `speed = "to 260 kt cas", gain = "3 kt/s"`, changed to.
fn speed(section: &mut Section<'_>) -> Option<SpeedPlan> {
    let (speed, gain) = (section.get("speed"), section.get("gain"));
    let Some(item) = speed else {
        if let Some(gain) = gain {
            gain.fault("`gain` without a speed to change to")
                .help("write speed = \"to 260 kt cas\" beside it")
                .add(gain.faults);
        }
        return None;
    };
    let SpeedText { speed, changed } = item.parsed("350 kt")?;
    let sane = match speed {
        Airspeed::Mach(mach) => mach > 0.0 && mach <= FASTEST_MACH,
        Airspeed::Calibrated(speed) | Airspeed::True(speed) | Airspeed::Ground(speed) => {
            speed > Speed::ZERO && speed <= FASTEST
        }
    };
    if !sane {
        item.fault(format!(
            "\"{}\" is no speed an aircraft flies a display at",
            quoted(item.text()?)
        ))
        .help("write one above zero, such as \"350 kt\" or \"0.94 mach\"")
        .add(item.faults);
        return None;
    }
    let limits = SOFTEST_GAIN..=HARDEST_GAIN;
    match (changed, gain) {
        (false, None) => Some(SpeedPlan { speed, gain: None }),
        (true, Some(gain)) => Some(SpeedPlan {
            speed,
            gain: Some(gain.within("3 kt/s", limits)?),
        }),
        (true, None) => {
            item.fault("a speed that is changed to, without how fast it changes")
                .help("write gain = \"3 kt/s\" beside it, or leave out the \"to\" if the speed is held")
                .add(item.faults);
            None
        }
        (false, Some(gain)) => {
            let written = quoted(item.text()?);
            gain.fault("`gain` beside a speed that is held")
                .help(format!(
                    "write speed = \"to {written}\" if the speed is changed to"
                ))
                .add(gain.faults);
            None
        }
    }
}

/// A speed, and whether `to` stands before it.
struct SpeedText {
    speed: Airspeed,
    changed: bool,
}

impl std::str::FromStr for SpeedText {
    type Err = crate::units::UnitError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let rest = text.trim_start().strip_prefix("to ");
        Ok(SpeedText {
            speed: rest.unwrap_or(text).parse()?,
            changed: rest.is_some(),
        })
    }
}

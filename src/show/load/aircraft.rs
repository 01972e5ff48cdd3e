//! Reads `[aircraft.…]`.

use std::str::FromStr;

use super::noise::noise;
use super::reader::{Item, Section};
use crate::show::{Aircraft, ClimbPower, HARDEST, Induced, Name};
use crate::units::{Airspeed, Angle, Speed, UnitError};

/// Excess thrust at most, as a share of weight, unless the aircraft says otherwise.
const MOST_THRUST: f64 = 0.6;
/// The true airspeed at which induced losses are stated when none is said.
const INDUCED_AT: Speed = Speed::from_kt(200.0);
const LEAST: Speed = Speed::from_mps(0.001);
const MOST: Speed = Speed::from_mps(1000.0);

/// Every `[aircraft.…]`.
pub(super) fn aircraft(named: Vec<(Name, Item<'_>)>) -> Vec<Aircraft> {
    named
        .into_iter()
        .filter_map(|(id, item)| {
            let section = item.table("an aircraft")?;
            Some(one(id, &item, section))
        })
        .collect()
}

fn one(id: Name, item: &Item<'_>, mut section: Section<'_>) -> Aircraft {
    let name = section.get("name").and_then(|item| item.text());
    let roll_rate = section
        .get("roll_rate")
        .and_then(|item| item.number("180", 1.0..=1000.0));
    let climb_power = section
        .get("climb_power")
        .and_then(|item| climb_power(&item));
    let induced = section.get("induced").and_then(|item| induced(&item));
    let most_thrust = section
        .get("most_thrust")
        .and_then(|item| item.number("0.6", 0.01..=3.0));
    let most_g = section
        .get("most_g")
        .and_then(|item| item.number("9", 1.0..=HARDEST));
    let least_g = section
        .get("least_g")
        .and_then(|item| item.number("-3", -HARDEST..=1.0));
    let stall = section.get("stall").and_then(|item| stall(&item));
    let noise = noise(&mut section);
    section.finish();
    Aircraft {
        name: name.unwrap_or(id.as_str()).to_owned(),
        id,
        roll_rate: roll_rate.map(Angle::from_deg),
        climb_power,
        induced,
        most_thrust: most_thrust.unwrap_or(MOST_THRUST),
        most_g,
        least_g,
        stall,
        noise,
        at: item.key_at.clone(),
    }
}

/// `"60 m/s"`, or `[{ speed = "100 kt", power = "35 m/s" }, …]`; nothing or less for what can only sink.
fn climb_power(item: &Item<'_>) -> Option<ClimbPower> {
    if !item.value.get_ref().is_array() {
        return a_power(item, "60 m/s").map(ClimbPower::Everywhere);
    }
    let list = item.list("[{ speed = \"100 kt\", power = \"35 m/s\" }]");
    if list.is_empty() {
        item.fault("no climb power at any speed")
            .help("write climb_power = \"60 m/s\", or [{ speed = \"100 kt\", power = \"35 m/s\" }]")
            .add(item.faults);
        return None;
    }
    let mut powers: Vec<(Airspeed, Speed)> = Vec::new();
    for item in &list {
        let Some((speed, power)) = item.table("a climb power").and_then(at_a_speed) else {
            continue;
        };
        if let Some((last, _)) = powers.last() {
            let same_kind = std::mem::discriminant(last) == std::mem::discriminant(&speed);
            if !same_kind || last.value() >= speed.value() {
                item.fault("the speeds of a climb power are of one kind and in order")
                    .help("write the slowest first, all of them `cas`, all `tas` or all `mach`")
                    .add(item.faults);
                continue;
            }
        }
        powers.push((speed, power));
    }
    (!powers.is_empty()).then_some(ClimbPower::BySpeed(powers))
}

fn at_a_speed(mut section: Section<'_>) -> Option<(Airspeed, Speed)> {
    let speed = section
        .must("speed", "\"100 kt\"")
        .and_then(|item| through_the_air(&item, "100 kt"));
    let power = section
        .must("power", "\"35 m/s\"")
        .and_then(|item| a_power(&item, "35 m/s"));
    section.finish();
    Some((speed?, power?))
}

/// A climb power, told of in metres a second, as it is written.
fn a_power(item: &Item<'_>, example: &'static str) -> Option<Speed> {
    let power: Speed = item.parsed(example)?;
    if power.mps().abs() > MOST.mps() {
        item.fault("no aircraft climbs or sinks so fast")
            .help(format!("write {} = \"{example}\"", item.key))
            .add(item.faults);
        return None;
    }
    Some(power)
}

/// An airspeed that is not one over the ground.
fn through_the_air(item: &Item<'_>, example: &str) -> Option<Airspeed> {
    let speed: Airspeed = item.parsed(example)?;
    if matches!(speed, Airspeed::Ground(_)) || speed.value() <= 0.0 || speed.value() > MOST.mps() {
        item.fault(format!(
            "`{}` of {} is no speed through the air",
            item.key, item.what
        ))
        .help(format!("write {} = \"{example}\"", item.key))
        .add(item.faults);
        return None;
    }
    Some(speed)
}

fn stall(item: &Item<'_>) -> Option<Airspeed> {
    through_the_air(item, "55 kt cas")
}

fn induced(item: &Item<'_>) -> Option<Induced> {
    let InducedText(induced) = item.parsed("3 m/s")?;
    if induced.cost < LEAST || induced.cost > MOST || induced.at < LEAST || induced.at > MOST {
        item.fault("no aircraft loses so much, or so little, in a turn")
            .help("write induced = \"3 m/s\", or \"3 m/s at 250 kt\"")
            .add(item.faults);
        return None;
    }
    Some(induced)
}

/// `"3 m/s"`, `"3 m/s at 250 kt"`.
struct InducedText(Induced);

impl FromStr for InducedText {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let (cost, at) = match text.split_once(" at ") {
            Some((cost, at)) => (cost, at.trim().trim_end_matches(" tas").parse()),
            None => (text, Ok(INDUCED_AT)),
        };
        match (cost.parse(), at) {
            (Ok(cost), Ok(at)) => Ok(InducedText(Induced { cost, at })),
            _ => Err(UnitError {
                text: text.into(),
                what: "a loss of climb power",
                expected: "it as \"3 m/s\" (at 200 kt) or \"3 m/s at 250 kt\", a true airspeed",
            }),
        }
    }
}

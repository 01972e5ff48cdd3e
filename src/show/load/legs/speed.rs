//! Reads how fast a leg is flown, and with how much power.

use super::{Keys, is_flown};
use crate::show::LegSpeed;
use crate::show::load::reader::Section;
use crate::show::load::wording::quoted;
use crate::units::quantity::KNOT;
use crate::units::{Acceleration, Airspeed};

pub(super) const SOFTEST_GAIN: Acceleration = Acceleration::from_mps2(0.01 * KNOT);
pub(super) const HARDEST_GAIN: Acceleration = Acceleration::from_mps2(100.0 * KNOT);

/// `speed = "220 kt cas"`, held; `speed = "to 260 kt cas", gain = "3 kt/s"`, changed to; `speed = "energy"`, or
/// `"same energy"`.
pub(super) fn speed(section: &mut Section<'_>) -> Option<LegSpeed> {
    let (speed, gain) = (section.get("speed"), section.get("gain"));
    let Some(item) = speed else {
        if let Some(gain) = gain {
            gain.fault("`gain` without a speed to change to")
                .help("write speed = \"to 260 kt cas\" beside it")
                .add(gain.faults);
        }
        return None;
    };
    let written: SpeedText = item.parsed("350 kt")?;
    if let SpeedText::Held(speed) | SpeedText::Changed(speed) = written
        && !is_flown(&item, speed)
    {
        return None;
    }
    match (written, gain) {
        (SpeedText::Energy, None) => Some(LegSpeed::Energy),
        (SpeedText::SameEnergy, None) => Some(LegSpeed::SameEnergy),
        (SpeedText::Held(speed), None) => Some(LegSpeed::Held(speed)),
        (SpeedText::Changed(to), Some(gain)) => Some(LegSpeed::Changed {
            to,
            gain: gain.within("3 kt/s", SOFTEST_GAIN..=HARDEST_GAIN)?,
        }),
        (SpeedText::Changed(_), None) => {
            item.fault("a speed that is changed to, without how fast it changes")
                .help("write gain = \"3 kt/s\" beside it, or leave out the \"to\" if the speed is held")
                .add(item.faults);
            None
        }
        (SpeedText::Held(_), Some(gain)) => {
            let written = quoted(item.text()?);
            gain.fault("`gain` beside a speed that is held")
                .help(format!(
                    "write speed = \"to {written}\" if the speed is changed to"
                ))
                .add(gain.faults);
            None
        }
        (SpeedText::Energy | SpeedText::SameEnergy, Some(gain)) => {
            gain.fault("`gain` beside a speed that follows energy")
                .help("write power = 0.5 for half the excess power, or a speed to change to")
                .add(gain.faults);
            None
        }
    }
}

/// `power = 0.5`: for a leg that follows energy.
pub(super) fn power(section: &mut Section<'_>, keys: Keys, speed: Option<LegSpeed>) -> Option<f64> {
    let item = section.get("power")?;
    // A pitched run follows energy unless it says otherwise; a level one must say so.
    let unsaid = keys == Keys::Steep || section.has("pitch");
    let follows_energy = match speed {
        Some(speed) => speed == LegSpeed::Energy,
        None => unsaid,
    };
    if !follows_energy {
        item.fault("`power` on a leg whose speed does not follow energy")
            .help("write speed = \"energy\" beside it, or leave the power out")
            .add(item.faults);
        return None;
    }
    item.number("0.5", -1.0..=1.0)
}

/// A speed as it is written for a leg.
enum SpeedText {
    Held(Airspeed),
    Changed(Airspeed),
    Energy,
    SameEnergy,
}

impl std::str::FromStr for SpeedText {
    type Err = crate::units::UnitError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        Ok(match text.strip_prefix("to ") {
            Some(to) => SpeedText::Changed(to.parse()?),
            None if text == "energy" => SpeedText::Energy,
            None if text == "same energy" => SpeedText::SameEnergy,
            None => SpeedText::Held(text.parse()?),
        })
    }
}

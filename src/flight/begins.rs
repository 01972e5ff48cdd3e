//! What is said of how a leg begins: what it needs and does not get, a speed or a heading that is not come by.

use super::air::Air;
use super::legs::KINK;
use super::speed::Conditions;
use super::track::State;
use super::vector::length;
use super::wind::WindVector;
use crate::show::{Fault, Figure, Leg, LegSpeed, Limits, Motion, Needs};
use crate::units::quantity::KNOT;
use crate::units::{Airspeed, Length, Speed};

/// A held speed that begins further than this off the one before is worth a word, m/s.
const JUMP: f64 = 10.0 * KNOT;

/// A leg that begins.
pub(super) struct Begun<'a> {
    pub figure: &'a Figure,
    pub leg: &'a Leg,
    pub air: &'a Air,
    /// As what came before delivers it.
    pub state: &'a State,
}

/// `a leg of "display" (second quarter of the loop)`.
pub(super) fn subject(figure: &Figure, leg: &Leg) -> String {
    match &leg.part {
        Some(part) => format!("a leg of \"{}\" ({part})", figure.id),
        None => format!("a leg of \"{}\"", figure.id),
    }
}

/// Advice where a pivot asks for more thrust than there is.
pub(super) fn thrust(figure: &Figure, leg: &Leg, most: f64) -> Option<Fault> {
    let Motion::Pivot { thrust, .. } = leg.motion else {
        return None;
    };
    (thrust > most).then_some(())?;
    let which = subject(figure, leg);
    let message = format!(
        "{which} asks for a thrust of {thrust}, but its aircraft has no more than {most}: it is flown with that"
    );
    let help = format!("write thrust = {most}, or most_thrust = {thrust} if its aircraft has it");
    Some(Fault::advice(leg.at.clone(), message).help(help))
}

impl Begun<'_> {
    /// What the leg needs and does not get; of the `first` leg, also what its figure needs.
    pub fn needs(&self, first: bool) -> Vec<Fault> {
        if self.leg.needs.is_none() && (self.figure.needs.is_none() || !first) {
            return Vec::new();
        }
        let id = &self.figure.id;
        let part = self.leg.part.as_deref();
        let of_leg = format!(
            "\"{id}\" begins its {}",
            part.unwrap_or(self.leg.motion.noun())
        );
        let of_figure = format!("\"{id}\" begins");
        let asked = [
            (self.leg.needs.as_ref(), of_leg),
            (self.figure.needs.as_ref().filter(|_| first), of_figure),
        ];
        asked
            .iter()
            .filter_map(|(needs, begins)| Some((needs.as_ref()?, begins)))
            .flat_map(|(needs, begins)| self.missed(needs, begins))
            .collect()
    }

    fn missed(&self, needs: &Needs, begins: &str) -> Vec<Fault> {
        let fault = |delivered: String, asked: String, help: &str| {
            let message = format!("{begins} at {delivered}; it needs {asked}");
            Fault::error(needs.at.clone(), message).help(help)
        };
        let height = Length::from_m(self.state.place[2]);
        let low = needs
            .height
            .filter(|limits| !within(limits, height.m(), |limit| limit.m()))
            .map(|limits| {
                let asked = in_words(&limits, |limit| in_feet(*limit));
                fault(in_feet(height), asked, "begin it higher or lower: give the legs before it a height, or pull harder or softer")
            });
        let slow = needs.speed.and_then(|limits| {
            let like = limits.least.or(limits.most)?;
            let flown = self.named(like);
            let met = within(&limits, flown.value(), |limit| limit.value());
            let asked = in_words(&limits, ToString::to_string);
            (!met).then(|| fault(rounded(flown).to_string(), asked, "begin it faster or slower: change the speed or the power of the legs before it"))
        });
        low.into_iter().chain(slow).collect()
    }

    /// Advice where a held speed is not the one it begins with.
    pub fn jump_of_speed(&self, start: &State) -> Option<Fault> {
        let Some(LegSpeed::Held(held)) = self.leg.speed else {
            return None;
        };
        let (before, after) = (length(self.state.air), length(start.air));
        if (before - after).abs() <= JUMP || matches!(self.leg.motion, Motion::Hold { .. }) {
            return None;
        }
        let was = rounded(self.named(held));
        let message = format!(
            "{} holds {held}, but what is flown before it ends at {was}",
            subject(self.figure, self.leg)
        );
        // A figure by name takes the speed it changes to as it takes one it holds.
        let to = if self.leg.part.is_some() { "" } else { "to " };
        let help = format!(
            "write speed = \"{to}{held}\" and gain = \"3 kt/s\" if the speed changes on the way"
        );
        Some(Fault::advice(self.leg.at.clone(), message).help(help))
    }

    /// Advice where a run leads further off than a kink, and was not turned to.
    pub fn jump_of_heading(&self, start: &State) -> Option<Fault> {
        matches!(self.leg.motion, Motion::Run { pitch: None, .. }).then_some(())?;
        let ([x, y, _], [to_x, to_y, _]) = (self.state.air, start.air);
        let corner = (x * to_y - y * to_x).atan2(x * to_x + y * to_y).abs();
        (corner > KINK).then_some(())?;
        let message = format!(
            "{} leads {:.0} degrees off the heading it begins with, and is too short to turn there first",
            subject(self.figure, self.leg),
            corner.to_degrees()
        );
        let help = "turn further before it, or begin it further out";
        Some(Fault::advice(self.leg.at.clone(), message).help(help))
    }

    /// The speed it begins with, as one of the kind that `like` is.
    fn named(&self, like: Airspeed) -> Airspeed {
        let height = Length::from_m(self.state.place[2]);
        let here = Conditions::new(self.air, WindVector::default(), height);
        here.named(like, length(self.state.air))
    }
}

fn within<T>(limits: &Limits<T>, value: f64, of: impl Fn(&T) -> f64) -> bool {
    let least = limits
        .least
        .as_ref()
        .is_none_or(|least| value >= of(least) - 1e-6);
    let most = limits
        .most
        .as_ref()
        .is_none_or(|most| value <= of(most) + 1e-6);
    least && most
}

fn in_words<T>(limits: &Limits<T>, of: impl Fn(&T) -> String) -> String {
    let words = Limits {
        least: limits.least.as_ref().map(&of),
        most: limits.most.as_ref().map(&of),
    };
    words.to_string()
}

/// A height in whole feet, thousands set off: `3,420 ft`.
pub(super) fn in_feet(height: Length) -> String {
    let feet = height.whole_feet();
    let thousands = (feet / 1000.0).trunc();
    if thousands == 0.0 {
        return format!("{feet:.0} ft");
    }
    format!("{thousands:.0},{:03.0} ft", (feet % 1000.0).abs())
}

/// A speed in whole knots.
fn rounded(speed: Airspeed) -> Airspeed {
    let whole = |speed: Speed| Speed::from_kt(speed.kt().round());
    match speed {
        Airspeed::Calibrated(speed) => Airspeed::Calibrated(whole(speed)),
        Airspeed::True(speed) => Airspeed::True(whole(speed)),
        Airspeed::Ground(speed) => Airspeed::Ground(whole(speed)),
        mach @ Airspeed::Mach(_) => mach,
    }
}

//! What a named figure asks of the document, and what it takes where nothing is written.

use std::ops::RangeInclusive;
use std::str::FromStr;

use crate::show::{HARDEST, LegSpeed, PilotsSide, PullBy, TurnBy, TurnTowards};
use crate::units::{Acceleration, Airspeed, Angle, Length, Span, Speed, UnitError};

const SIDES: &[&str] = &["left", "right"];
const WAYS: &[&str] = &["away", "crowd", "left", "right"];

/// One parameter: its key, and how a document writes it.
#[derive(Debug, Clone, Copy)]
pub struct Ask {
    /// Its key.
    pub key: &'static str,
    /// What it may be.
    pub example: &'static str,
    /// Whether the example is what is taken where nothing is written.
    pub is_usual: bool,
}

/// Where parameters come from. What is not written, or wrong and told, is `None`.
pub trait Written {
    /// A number without unit.
    fn number(&mut self, ask: Ask, limits: RangeInclusive<f64>) -> Option<f64>;
    /// Whether a load factor is the tightest that can be flown.
    fn tightest(&mut self, ask: Ask) -> bool;
    /// An angle.
    fn angle(&mut self, ask: Ask, limits: RangeInclusive<Angle>) -> Option<Angle>;
    /// A height or a distance.
    fn length(&mut self, ask: Ask, limits: RangeInclusive<Length>) -> Option<Length>;
    /// A time.
    fn span(&mut self, ask: Ask, limits: RangeInclusive<Span>) -> Option<Span>;
    /// A speed that is none through the air.
    fn speed(&mut self, ask: Ask, limits: RangeInclusive<Speed>) -> Option<Speed>;
    /// A speed an aircraft flies at.
    fn airspeed(&mut self, ask: Ask) -> Option<Airspeed>;
    /// A gain of speed.
    fn gain(&mut self, ask: Ask) -> Option<Acceleration>;
    /// One of a few words.
    fn word(&mut self, ask: Ask, words: &'static [&'static str]) -> Option<&'static str>;
    /// Yes or no.
    fn flag(&mut self, ask: Ask) -> Option<bool>;
    /// Tells that two of the parameters written say the same.
    fn one_of(&mut self, keys: [&'static str; 2]);
    /// Tells that a parameter was written that goes with another only.
    fn goes_with(&mut self, key: &'static str, other: &'static str);
}

/// The parameters of one figure.
pub struct Parameters<'w> {
    written: &'w mut dyn Written,
}

const fn usual(key: &'static str, example: &'static str) -> Ask {
    Ask {
        key,
        example,
        is_usual: true,
    }
}

const fn open(key: &'static str, example: &'static str) -> Ask {
    Ask {
        key,
        example,
        is_usual: false,
    }
}

/// What is usual, read as the document would be.
fn read<T: FromStr<Err = UnitError> + Default>(ask: Ask) -> T {
    ask.example.parse().unwrap_or_default()
}

fn number(ask: Ask) -> f64 {
    ask.example.parse().unwrap_or_default()
}

impl<'w> Parameters<'w> {
    pub(super) fn new(written: &'w mut dyn Written) -> Self {
        Parameters { written }
    }

    /// A number between two others.
    pub(super) fn number(
        &mut self,
        key: &'static str,
        be: &'static str,
        least: f64,
        most: f64,
    ) -> f64 {
        let ask = usual(key, be);
        let written = self.written.number(ask, least..=most);
        written.unwrap_or_else(|| number(ask))
    }

    /// A load factor of a pull.
    pub(super) fn load(&mut self, key: &'static str, be: &'static str) -> f64 {
        self.number(key, be, 0.5, HARDEST)
    }

    /// A load factor towards the belly.
    pub(super) fn negative_load(&mut self, key: &'static str, be: &'static str) -> f64 {
        self.number(key, be, -HARDEST, 0.5)
    }

    /// An angle between two others, degrees.
    pub(super) fn angle(
        &mut self,
        key: &'static str,
        be: &'static str,
        least: f64,
        most: f64,
    ) -> Angle {
        let ask = usual(key, be);
        let limits = Angle::from_deg(least)..=Angle::from_deg(most);
        self.written.angle(ask, limits).unwrap_or_else(|| read(ask))
    }

    /// A share of power, if one is written.
    pub(super) fn power(&mut self, key: &'static str) -> Option<f64> {
        self.written.number(open(key, "0.5"), -1.0..=1.0)
    }

    /// A distance, if one is written.
    pub(super) fn any_distance(
        &mut self,
        key: &'static str,
        example: &'static str,
    ) -> Option<Length> {
        self.written.length(open(key, example), distances())
    }

    /// A distance.
    pub(super) fn distance(&mut self, key: &'static str, be: &'static str) -> Length {
        let ask = usual(key, be);
        self.written
            .length(ask, distances())
            .unwrap_or_else(|| read(ask))
    }

    /// A height above the site.
    pub(super) fn height(&mut self, key: &'static str, be: &'static str) -> Length {
        let ask = usual(key, be);
        self.written
            .length(ask, heights())
            .unwrap_or_else(|| read(ask))
    }

    /// A height above the site that is climbed or descended to, if one is written.
    pub(super) fn new_height(&mut self) -> Option<Length> {
        self.written.length(open("height", "500 ft"), heights())
    }

    /// A time.
    pub(super) fn span(&mut self, key: &'static str, be: &'static str) -> Span {
        let ask = usual(key, be);
        let limits = Span::from_ms(10)..=Span::from_ms(600_000);
        self.written.span(ask, limits).unwrap_or_else(|| read(ask))
    }

    /// A speed that is none through the air.
    pub(super) fn fall(&mut self, key: &'static str, be: &'static str) -> Speed {
        let ask = usual(key, be);
        let limits = Speed::from_mps(1.0)..=Speed::from_mps(300.0);
        self.written.speed(ask, limits).unwrap_or_else(|| read(ask))
    }

    /// A speed through the air.
    pub(super) fn airspeed(&mut self, key: &'static str, be: &'static str) -> Airspeed {
        let ask = usual(key, be);
        let taken = || {
            ask.example
                .parse()
                .unwrap_or(Airspeed::True(Speed::default()))
        };
        self.written.airspeed(ask).unwrap_or_else(taken)
    }

    /// The speed of a level figure: held, or with a `gain` changed to; unless it is written the speed stays
    /// what it is.
    pub(super) fn speed(&mut self) -> Option<LegSpeed> {
        let speed = self.written.airspeed(open("speed", "220 kt cas"));
        let gain = self.gain();
        if speed.is_none() && gain.is_some() {
            self.written.goes_with("gain", "speed");
        }
        Some(with_gain(speed?, gain))
    }

    /// The same where there is a speed that is usual.
    pub(super) fn usual_speed(&mut self, be: &'static str) -> Option<LegSpeed> {
        let speed = self.airspeed("speed", be);
        let gain = self.gain();
        Some(with_gain(speed, gain))
    }

    fn gain(&mut self) -> Option<Acceleration> {
        self.written.gain(open("gain", "3 kt/s"))
    }

    /// How hard a pull is: `g`, or `radius`.
    pub(super) fn pull_by(&mut self, be: &'static str) -> PullBy {
        let ask = usual("g", be);
        let load = self.written.number(ask, 0.5..=HARDEST);
        let limits = Length::from_m(5.0)..=Length::from_m(20_000.0);
        let radius = self.written.length(open("radius", "150 m"), limits);
        if load.is_some() && radius.is_some() {
            self.written.one_of(["g", "radius"]);
        }
        match radius {
            Some(radius) => PullBy::Radius(radius),
            None => PullBy::Load(load.unwrap_or_else(|| number(ask))),
        }
    }

    /// How hard a turn is: `g`, which may be `"tightest"`, or `bank`.
    pub(super) fn turn_by(&mut self, be: &'static str) -> TurnBy {
        let ask = usual("g", be);
        let load = if self.written.tightest(ask) {
            Some(TurnBy::Tightest)
        } else {
            let load = self.written.number(ask, 1.001..=HARDEST);
            load.map(TurnBy::Load)
        };
        let limits = Angle::from_deg(1.0)..=Angle::from_deg(86.0);
        let bank = self.written.angle(open("bank", "60 deg"), limits);
        if load.is_some() && bank.is_some() {
            self.written.one_of(["g", "bank"]);
        }
        match bank {
            Some(bank) => TurnBy::Bank(bank),
            None => load.unwrap_or_else(|| TurnBy::Load(number(ask))),
        }
    }

    /// How far it rolls in a second; left out, as the aircraft does.
    pub(super) fn roll_rate(&mut self) -> Option<Angle> {
        let rate = self.written.number(open("rate", "180"), 1.0..=1000.0);
        rate.map(Angle::from_deg)
    }

    /// Which way its nose turns.
    pub(super) fn yaw_towards(&mut self) -> PilotsSide {
        match self.written.word(usual("towards", "right"), SIDES) {
            Some("left") => PilotsSide::Left,
            _ => PilotsSide::Right,
        }
    }

    /// Which way it rolls.
    pub(super) fn roll_towards(&mut self) -> TurnTowards {
        self.rolls_towards("right")
    }

    /// Which way it rolls, where another way is usual.
    pub(super) fn rolls_towards(&mut self, be: &'static str) -> TurnTowards {
        match self.written.word(usual("towards", be), WAYS).unwrap_or(be) {
            "crowd" => TurnTowards::Crowd,
            "left" => TurnTowards::PilotsLeft,
            "right" => TurnTowards::PilotsRight,
            _ => TurnTowards::Away,
        }
    }

    /// Which way it turns.
    pub(super) fn turn_towards(&mut self) -> TurnTowards {
        self.rolls_towards("away")
    }

    /// One of a few words, if one is written.
    pub(super) fn word(
        &mut self,
        key: &'static str,
        words: &'static [&'static str],
    ) -> Option<&'static str> {
        let example = words.first().copied().unwrap_or_default();
        self.written.word(open(key, example), words)
    }

    /// Yes or no; left out, no.
    pub(super) fn flag(&mut self, key: &'static str) -> bool {
        self.written.flag(open(key, "true")).unwrap_or(false)
    }
}

fn distances() -> RangeInclusive<Length> {
    Length::from_m(1.0)..=Length::from_m(50_000.0)
}

fn heights() -> RangeInclusive<Length> {
    Length::ZERO..=Length::from_m(20_000.0)
}

fn with_gain(speed: Airspeed, gain: Option<Acceleration>) -> LegSpeed {
    match gain {
        Some(gain) => LegSpeed::Changed { to: speed, gain },
        None => LegSpeed::Held(speed),
    }
}

/// A document in which nothing is written, and the list of what was asked of it.
#[derive(Debug, Default)]
pub struct Listing {
    asked: Vec<String>,
    unread: Vec<&'static str>,
}

impl Listing {
    /// What was asked, as a document would write it.
    pub fn into_list(self) -> Vec<String> {
        self.asked
    }

    /// Examples that are not what they are asked to be.
    pub fn unread(&self) -> &[&'static str] {
        &self.unread
    }

    fn note<T>(&mut self, ask: Ask, quoted: bool, read: Option<T>) -> Option<T> {
        if read.is_none() {
            self.unread.push(ask.example);
        }
        self.asked.push(match (ask.is_usual, quoted) {
            (true, true) => format!("{} = \"{}\"", ask.key, ask.example),
            (true, false) => format!("{} = {}", ask.key, ask.example),
            (false, _) => ask.key.to_owned(),
        });
        None
    }

    fn note_within<T: FromStr + PartialOrd>(
        &mut self,
        ask: Ask,
        limits: &RangeInclusive<T>,
    ) -> Option<T> {
        let read = ask
            .example
            .parse()
            .ok()
            .filter(|value| limits.contains(value));
        self.note(ask, true, read)
    }
}

impl Written for Listing {
    fn number(&mut self, ask: Ask, limits: RangeInclusive<f64>) -> Option<f64> {
        let read = ask
            .example
            .parse()
            .ok()
            .filter(|value| limits.contains(value));
        self.note(ask, false, read)
    }

    fn tightest(&mut self, _: Ask) -> bool {
        false
    }

    fn angle(&mut self, ask: Ask, limits: RangeInclusive<Angle>) -> Option<Angle> {
        self.note_within(ask, &limits)
    }

    fn length(&mut self, ask: Ask, limits: RangeInclusive<Length>) -> Option<Length> {
        self.note_within(ask, &limits)
    }

    fn span(&mut self, ask: Ask, limits: RangeInclusive<Span>) -> Option<Span> {
        self.note_within(ask, &limits)
    }

    fn speed(&mut self, ask: Ask, limits: RangeInclusive<Speed>) -> Option<Speed> {
        self.note_within(ask, &limits)
    }

    fn airspeed(&mut self, ask: Ask) -> Option<Airspeed> {
        self.note(ask, true, ask.example.parse().ok())
    }

    fn gain(&mut self, ask: Ask) -> Option<Acceleration> {
        self.note(ask, true, ask.example.parse().ok())
    }

    fn word(&mut self, ask: Ask, words: &'static [&'static str]) -> Option<&'static str> {
        let read = words.iter().copied().find(|word| *word == ask.example);
        self.note(ask, true, read)
    }

    fn flag(&mut self, ask: Ask) -> Option<bool> {
        self.note(ask, false, Some(true))
    }

    fn one_of(&mut self, _: [&'static str; 2]) {}

    fn goes_with(&mut self, _: &'static str, _: &'static str) {}
}

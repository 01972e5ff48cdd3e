//! Reads figures flown by name: `{ fly = "loop", g = 5 }`.

use std::ops::RangeInclusive;

use super::{TIGHTEST, is_flown, needs};
use crate::show::load::reader::{Item, Section};
use crate::show::load::wording::{nearest, quoted};
use crate::show::named::{self, Ask, Legs, Named, Written};
use crate::units::{Acceleration, Airspeed, Angle, Length, Span, Speed};

const SOFTEST_GAIN: Acceleration = super::speed::SOFTEST_GAIN;
const HARDEST_GAIN: Acceleration = super::speed::HARDEST_GAIN;

/// The legs of the figure that `item` flies by name; all of them lie where it does.
pub(super) fn fly(item: &Item<'_>) -> Option<Legs> {
    let figure = known(&mut item.table("a named figure")?)?;
    let mut section = item.table(figure.what)?;
    section.get("fly");
    let needs = section.get("needs").and_then(|item| needs(&item));
    let legs = figure.legs(&mut Document(&mut section));
    section.finish();
    let place = |mut legs: Vec<crate::show::Leg>| {
        for leg in &mut legs {
            leg.at = item.at();
            if let Some(needs) = &mut leg.needs {
                needs.at = item.at();
            }
        }
        if let (Some(first), Some(needs)) = (legs.first_mut(), &needs) {
            first.needs = Some(needs.clone());
        }
        legs
    };
    Some(match legs {
        Legs::Together(legs) => Legs::Together(place(legs)),
        Legs::Apart(both) => Legs::Apart(both.map(place)),
    })
}

/// The figure that is flown; a fault if none is called so.
fn known(section: &mut Section<'_>) -> Option<&'static Named> {
    let item = section.get("fly")?;
    let name = item.text()?;
    let found = named::all().find(|figure| figure.name == name);
    if found.is_none() {
        let names: Vec<&str> = named::all().map(|figure| figure.name).collect();
        let help = match nearest(name, &names) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("the figures are: {}", names.join(", ")),
        };
        item.fault(format!("no figure is called \"{}\"", quoted(name)))
            .help(help)
            .add(item.faults);
    }
    found
}

/// What is written in the table of a named figure.
struct Document<'s, 'd>(&'s mut Section<'d>);

impl Document<'_, '_> {
    fn within<T>(&mut self, ask: Ask, limits: RangeInclusive<T>) -> Option<T>
    where
        T: std::str::FromStr<Err = crate::units::UnitError> + PartialOrd + std::fmt::Display,
    {
        self.0.get(ask.key)?.within(ask.example, limits)
    }

    /// Adds a fault at `key`.
    fn tell(&mut self, key: &'static str, message: String, help: &str) {
        if let Some(item) = self.0.get(key) {
            item.key_fault(message).help(help).add(item.faults);
        }
    }
}

impl Written for Document<'_, '_> {
    fn number(&mut self, ask: Ask, limits: RangeInclusive<f64>) -> Option<f64> {
        self.0.get(ask.key)?.number(ask.example, limits)
    }

    fn tightest(&mut self, ask: Ask) -> bool {
        self.0.get(ask.key).is_some_and(|item| item.says(TIGHTEST))
    }

    fn angle(&mut self, ask: Ask, limits: RangeInclusive<Angle>) -> Option<Angle> {
        self.within(ask, limits)
    }

    fn length(&mut self, ask: Ask, limits: RangeInclusive<Length>) -> Option<Length> {
        self.within(ask, limits)
    }

    fn span(&mut self, ask: Ask, limits: RangeInclusive<Span>) -> Option<Span> {
        self.within(ask, limits)
    }

    fn speed(&mut self, ask: Ask, limits: RangeInclusive<Speed>) -> Option<Speed> {
        self.within(ask, limits)
    }

    fn airspeed(&mut self, ask: Ask) -> Option<Airspeed> {
        let item = self.0.get(ask.key)?;
        let speed = item.parsed(ask.example)?;
        is_flown(&item, speed).then_some(speed)
    }

    fn gain(&mut self, ask: Ask) -> Option<Acceleration> {
        self.within(ask, SOFTEST_GAIN..=HARDEST_GAIN)
    }

    fn word(&mut self, ask: Ask, words: &'static [&'static str]) -> Option<&'static str> {
        let choices: Vec<_> = words.iter().map(|&word| (word, word)).collect();
        self.0.get(ask.key)?.choice(&choices)
    }

    fn flag(&mut self, ask: Ask) -> Option<bool> {
        self.0.get(ask.key)?.flag()
    }

    fn one_of(&mut self, [one, other]: [&'static str; 2]) {
        let message = format!("both `{one}` and `{other}`: each gives the other");
        self.tell(other, message, "keep one of them");
    }

    fn goes_with(&mut self, key: &'static str, other: &'static str) {
        let message = format!("`{key}` without `{other}`");
        self.tell(key, message, "write both, or leave it out");
    }
}

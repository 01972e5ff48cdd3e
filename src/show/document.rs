//! The whole show as data, as the document states it. Nothing here is computed.

use std::ops::Range;
use std::str::FromStr;

use jiff::civil;

use super::{
    Figure, FlownWhere, Name, Narrator, Noise, Place, Pronunciation, Source, TimeExpression, Track,
    Wording,
};
use crate::units::{Airspeed, Angle, Gain, Length, Level, Pressure, Speed, Temperature, UnitError};

/// A show document, loaded and checked by itself: every id it names exists.
#[derive(Debug, Clone)]
pub struct Show {
    /// Where it came from, for messages.
    pub source: Source,
    /// What the display is called.
    pub title: String,
    /// Clock time of show zero; `None`: the show starts on a time hack.
    pub start: Option<civil::Time>,
    /// The point that show zero is; `None`: the start of the first figure.
    pub zero: Option<TimeExpression>,
    /// Clock time by which the last figure must have ended.
    pub slot_ends: Option<civil::Time>,
    /// The profile that is flown unless another is asked for.
    pub profile: Name,
    /// What music does when the show is held up.
    pub delay_music: DelayMusic,
    /// The hush of an aircraft that says how loud it is: where that is more than this at crowd centre.
    pub talk_over: Level,
    /// The hush of any other: where it is louder than this, relative to itself abeam on the display line.
    pub hush_above: Gain,
    /// Who speaks.
    pub narrator: Narrator,
    /// How hard names are said in every block.
    pub say: Vec<Pronunciation>,
    /// What is said on a knock-it-off; empty if nothing is prepared.
    pub knock_it_off_words: String,
    /// The approved statement after an accident; empty if nothing is prepared.
    pub accident_words: String,
    /// What is said when the display is held up or has ended early; each empty if nothing is prepared.
    pub halt_words: HaltWords,
    /// The profiles, in the order of the document.
    pub profiles: Vec<Profile>,
    /// Where it is flown.
    pub site: Site,
    /// The weather it is planned for.
    pub day: Day,
    /// The aircraft and sections; a figure names one or more of them.
    pub aircraft: Vec<Aircraft>,
    /// Every figure of every profile.
    pub figures: Vec<Figure>,
    /// Pieces of script.
    pub blocks: Vec<Block>,
    /// Stretches in which nobody speaks.
    pub silences: Vec<Silence>,
    /// Things a person does or says.
    pub calls: Vec<Call>,
    /// The music.
    pub tracks: Vec<Track>,
}

/// What music does when the show is held up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DelayMusic {
    /// It fades.
    Fade,
    /// It goes to its vamp and stays there; a track without one fades.
    Vamp,
}

/// What is said when the display is held up or has ended early; each empty if nothing is prepared.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct HaltWords {
    /// While the weather is waited for.
    pub weather: String,
    /// While something is put right.
    pub technical: String,
    /// When nothing more will be flown.
    pub ended: String,
}

/// A sequence for one kind of weather.
#[derive(Debug, Clone)]
pub struct Profile {
    /// What the team calls it.
    pub name: Name,
    /// The figures flown, in order.
    pub order: Vec<Name>,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// The site. Bearings are true; left and right are the crowd's.
#[derive(Debug, Clone)]
pub struct Site {
    /// Of the display line, above mean sea level.
    pub elevation: Length,
    /// Latitude and longitude of crowd centre; only needed for position logs.
    pub centre: Option<(Angle, Angle)>,
    /// True bearing along the display line towards the crowd's right.
    pub line_bearing: Angle,
    /// From crowd line to display line.
    pub line_distance: Length,
    /// Where marks are keyed from.
    pub stand: StandPlace,
    /// Whether flight over the crowd is permitted.
    pub overhead: bool,
    /// Whether flight behind the crowd is permitted.
    pub behind_crowd: bool,
}

/// Where the stand is, along the crowd line: positive to the crowd's right of crowd centre.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StandPlace(pub Length);

/// Reads `"centre"`, `"40 m left"`, `"120 ft right"`.
impl FromStr for StandPlace {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        if text.trim() == "centre" {
            return Ok(StandPlace::default());
        }
        match text.parse::<Place>() {
            Ok(Place {
                out,
                side: Some(side),
            }) => Ok(StandPlace(out * side.sign())),
            _ => Err(UnitError {
                text: text.into(),
                what: "a place along the crowd line",
                expected: "\"centre\", or how far and to which side of it: \"40 m left\"",
            }),
        }
    }
}

/// The day's weather.
#[derive(Debug, Clone)]
pub struct Day {
    /// Pressure at mean sea level.
    pub qnh: Pressure,
    /// Air temperature at the site.
    pub temperature: Temperature,
    /// Wind by height above the site, lowest first; never empty.
    pub wind: Vec<WindAt>,
    /// A weather report that gives what the document leaves out.
    pub metar: Option<Metar>,
}

/// A routine weather report, as text. What the document states itself wins over it.
#[derive(Debug, Clone)]
pub struct Metar {
    /// The report.
    pub text: String,
    /// Whether the pressure is to be taken from it.
    pub gives_qnh: bool,
    /// Whether the temperature is to be taken from it.
    pub gives_temperature: bool,
    /// Whether the surface wind is to be taken from it.
    pub gives_wind: bool,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// The wind at one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindAt {
    /// Above the site.
    pub height: Length,
    /// True bearing it blows from.
    pub from: Angle,
    /// How fast.
    pub speed: Speed,
    /// How much faster in gusts; zero when steady.
    pub gust: Speed,
}

/// An aircraft, or a section that flies as one.
#[derive(Debug, Clone)]
pub struct Aircraft {
    /// What figures call it.
    pub id: Name,
    /// What people call it.
    pub name: String,
    /// Rate of roll.
    pub roll_rate: Option<Angle>,
    /// Specific excess power at 1 g, as a rate of climb; `None`: nothing of it follows energy.
    pub climb_power: Option<ClimbPower>,
    /// What load factors other than 1 cost of it; `None`: nothing.
    pub induced: Option<Induced>,
    /// Excess thrust at most, as a share of weight.
    pub most_thrust: f64,
    /// The highest load factor it may be flown with.
    pub most_g: Option<f64>,
    /// The lowest load factor it may be flown with.
    pub least_g: Option<f64>,
    /// The speed at 1 g below which there is no lift to be had.
    pub stall: Option<Airspeed>,
    /// How loud it is.
    pub noise: Noise,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// Specific excess power at 1 g, as a rate of climb.
#[derive(Debug, Clone, PartialEq)]
pub enum ClimbPower {
    /// The same at every speed.
    Everywhere(Speed),
    /// By speed, the slowest first, all of one kind and none over the ground; never empty. Linear between,
    /// and beyond as at the end.
    BySpeed(Vec<(Airspeed, Speed)>),
}

/// What load factors cost of excess power.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Induced {
    /// What each unit of (n² − 1) costs, as a rate of climb, ...
    pub cost: Speed,
    /// ... at this true airspeed. It falls as the speed rises.
    pub at: Speed,
}

/// How much a block matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Keep {
    /// It may go.
    May,
    /// It should stay.
    #[default]
    Should,
    /// It must stay.
    Must,
}

/// A piece of script.
#[derive(Debug, Clone)]
pub struct Block {
    /// What the show calls it.
    pub id: Name,
    /// The words.
    pub text: Wording,
    /// Fewer words, for when the full text does not fit.
    pub short: Option<Wording>,
    /// How hard names are said in this block, before what the show says.
    pub say: Vec<Pronunciation>,
    /// How much it matters.
    pub keep: Keep,
    /// When it is begun; `None`: a filler.
    pub starts: Option<TimeExpression>,
    /// When its last word must be out.
    pub ends_by: Option<TimeExpression>,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// A stretch in which nobody speaks.
#[derive(Debug, Clone)]
pub struct Silence {
    /// When it begins.
    pub from: TimeExpression,
    /// When it is over.
    pub until: TimeExpression,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// Something a person does or says.
#[derive(Debug, Clone)]
pub struct Call {
    /// What the show calls it.
    pub id: Name,
    /// Who does it.
    pub who: String,
    /// When.
    pub when: TimeExpression,
    /// What is said.
    pub text: String,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

impl Site {
    /// Whether a figure may be flown here.
    pub fn permits(&self, figure: &Figure) -> bool {
        match figure.flown {
            FlownWhere::Before => true,
            FlownWhere::Overhead => self.overhead,
            FlownWhere::BehindCrowd => self.behind_crowd,
        }
    }
}

impl Show {
    /// What is said of the noise of the aircraft called `id`.
    pub fn noise_of(&self, id: &Name) -> Noise {
        let aircraft = self.aircraft.iter().find(|aircraft| aircraft.id == *id);
        aircraft.map_or(Noise::default(), |aircraft| aircraft.noise)
    }

    /// The figure called `id`.
    pub fn figure(&self, id: &Name) -> Option<&Figure> {
        self.figures.iter().find(|figure| figure.id == *id)
    }

    /// The profile called `name`.
    pub fn profile(&self, name: &Name) -> Option<&Profile> {
        self.profiles.iter().find(|profile| profile.name == *name)
    }

    /// The track called `id`.
    pub fn track(&self, id: &Name) -> Option<&Track> {
        self.tracks.iter().find(|track| track.id == *id)
    }

    /// The block called `id`.
    pub fn block(&self, id: &Name) -> Option<&Block> {
        self.blocks.iter().find(|block| block.id == *id)
    }
}

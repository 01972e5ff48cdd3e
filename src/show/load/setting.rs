//! Reads what surrounds the flying: `[show]`, `[narrator]`, `[words]`, `[profile.…]`, `[site]`, `[day]`.

use jiff::civil;

use super::narration;
use super::noise;
use super::reader::{Faults, Item, Section};
use super::wording::quoted;
use crate::show::expression::ClockTime;
use crate::show::{
    Day, DelayMusic, Fault, HaltWords, Metar, Name, Profile, Pronunciation, Severity, Site,
    StandPlace, TimeExpression, WindAt,
};
use crate::units::{Angle, Gain, Length, Level, Pressure, Speed, Temperature};

/// Profiles a show may have: each is checked on its own.
const MOST_PROFILES: usize = 64;
/// Standard pressure and temperature at mean sea level (ISO 2533).
const STANDARD_QNH: Pressure = Pressure::from_pa(101_325.0);
const STANDARD_TEMPERATURE: Temperature = Temperature::from_c(15.0);
/// The fastest wind that is taken for one.
const FASTEST_WIND: Speed = Speed::from_kt(200.0);

/// `[show]`.
pub(super) struct Heading {
    pub(super) title: String,
    pub(super) start: Option<civil::Time>,
    /// Whether a start is written, be it wrong.
    pub(super) has_start: bool,
    pub(super) zero: Option<TimeExpression>,
    pub(super) slot_ends: Option<civil::Time>,
    pub(super) profile: Option<Name>,
    pub(super) delay_music: DelayMusic,
    pub(super) talk_over: Level,
    pub(super) hush_above: Gain,
}

/// `[show]`; `profiles` are the names to choose from.
pub(super) fn heading(mut show: Section<'_>, profiles: &[Name]) -> Heading {
    let heading = Heading {
        title: show
            .must_text("title", "\"An evening display\"")
            .unwrap_or_default(),
        has_start: show.has("start"),
        start: show.get("start").and_then(|item| time_of_day(&item)),
        zero: show.get("zero").and_then(|item| item.time()),
        slot_ends: show.get("slot_ends").and_then(|item| time_of_day(&item)),
        profile: show
            .get("profile")
            .and_then(|item| known(&item, profiles, "profile")),
        delay_music: show
            .get("delay")
            .and_then(|item| item.table("`delay`"))
            .and_then(delay)
            .unwrap_or(DelayMusic::Fade),
        talk_over: noise::talk_over(&mut show),
        hush_above: show
            .get("hush_above")
            .and_then(|item| item.within("-12 dB", Gain::from_db(-80.0)..=Gain::from_db(20.0)))
            .unwrap_or(Gain::from_db(-12.0)),
    };
    show.finish();
    heading
}

fn delay(mut section: Section<'_>) -> Option<DelayMusic> {
    let music = section.must("music", "\"fade\"")?;
    let choice = music.choice(&[("fade", DelayMusic::Fade), ("vamp", DelayMusic::Vamp)]);
    section.finish();
    choice
}

/// A clock time in quotes: `"19:40:00"`.
fn time_of_day(item: &Item<'_>) -> Option<civil::Time> {
    item.parsed::<ClockTime>("19:40:00").map(|time| time.0)
}

/// A name among `names`; a fault with the nearest if it is not.
pub(super) fn known(item: &Item<'_>, names: &[Name], what: &str) -> Option<Name> {
    let text = item.text()?;
    let found = names.iter().find(|name| **name == *text).cloned();
    if found.is_none() && !item.faults.broken {
        let help = item.faults.did_you_mean(
            text,
            names.iter().map(Name::as_str),
            &format!("the {what} names are"),
        );
        item.fault(format!("there is no {what} `{}`", quoted(text)))
            .help(help)
            .add(item.faults);
    }
    found
}

/// What `[words]` says.
#[derive(Default)]
pub(super) struct Prepared {
    pub(super) knock_it_off: String,
    pub(super) accident: String,
    pub(super) halts: HaltWords,
    pub(super) say: Vec<Pronunciation>,
}

/// `[words]`: what is said when the display is stopped, by kind; how hard names are said.
pub(super) fn prepared(section: Option<Section<'_>>) -> Prepared {
    let Some(mut section) = section else {
        return Default::default();
    };
    let mut words = |key| {
        let Some(item) = section.get(key) else {
            return String::new();
        };
        let text = item.text().unwrap_or_default();
        if text.contains('{') {
            item.fault(format!(
                "`{key}` has a brace in it, and says it as it stands"
            ))
            .help("it hangs on no figure: write left or right")
            .add(item.faults);
        }
        text.to_owned()
    };
    let mut prepared = Prepared {
        knock_it_off: words("knock_it_off"),
        accident: words("accident"),
        halts: HaltWords {
            weather: words("weather_hold"),
            technical: words("technical_delay"),
            ended: words("ended_early"),
        },
        say: Vec::new(),
    };
    prepared.say = narration::say(section.get("say"));
    section.finish();
    prepared
}

/// `[profile.…]`: the order of each, of figures that are all in `figures`; an order with faults is empty.
pub(super) fn profiles(named: Vec<(Name, Item<'_>)>, figures: &[Name]) -> Vec<Profile> {
    let mut profiles = Vec::new();
    for (name, item) in named {
        if profiles.len() == MOST_PROFILES {
            item.fault(format!("a show has at most {MOST_PROFILES} profiles"))
                .add(item.faults);
            break;
        }
        let Some(mut section) = item.table("a profile") else {
            continue;
        };
        let order = section.must("order", "[\"arrival\", \"departure\"]");
        let order = order.map(|order| {
            let list = order.list("[\"arrival\", \"departure\"]");
            if list.is_empty() && order.value.get_ref().is_array() {
                order
                    .fault(format!("the profile `{name}` has no figures"))
                    .help("write the ids of its figures in the order they are flown")
                    .add(order.faults);
            }
            let known = list.iter().map(|item| known(item, figures, "figure"));
            let known: Vec<_> = known.collect();
            // What stands in an order that is half known cannot be checked further.
            known.into_iter().collect::<Option<Vec<Name>>>()
        });
        section.finish();
        profiles.push(Profile {
            name,
            order: order.flatten().unwrap_or_default(),
            at: item.key_at.clone(),
        });
    }
    profiles
}

/// `[site]`.
pub(super) fn site(mut site: Section<'_>) -> Site {
    let length = |item: Item<'_>, example, most| {
        item.within(example, Length::from_m(-500.0)..=Length::from_m(most))
    };
    let permits = site.get("permits").and_then(|item| item.table("`permits`"));
    let (overhead, behind_crowd) = permits.map_or((false, false), permitted);
    let read = Site {
        elevation: site
            .must("elevation", "\"412 ft\"")
            .and_then(|item| length(item, "412 ft", 6_000.0))
            .unwrap_or_default(),
        centre: site
            .get("centre")
            .and_then(|item| item.table("`centre`"))
            .and_then(centre),
        line_bearing: site
            .must("line_bearing", "64")
            .and_then(|item| item.number("64", 0.0..=360.0))
            .map_or(Angle::ZERO, Angle::from_deg),
        line_distance: site
            .must("line_distance", "\"230 m\"")
            .and_then(|item| item.within("230 m", Length::from_m(1.0)..=Length::from_m(20_000.0)))
            .unwrap_or_default(),
        stand: site
            .get("stand")
            .and_then(|item| item.parsed::<StandPlace>("40 m left"))
            .unwrap_or_default(),
        overhead,
        behind_crowd,
    };
    site.finish();
    read
}

fn permitted(mut section: Section<'_>) -> (bool, bool) {
    let mut flag = |key| section.get(key).and_then(|item| item.flag()) == Some(true);
    let permitted = (flag("overhead"), flag("behind_crowd"));
    section.finish();
    permitted
}

fn centre(mut section: Section<'_>) -> Option<(Angle, Angle)> {
    let mut degrees = |key, example: &str, most: f64| {
        section
            .must(key, example)
            .and_then(|item| item.number(example, -most..=most))
            .map(Angle::from_deg)
    };
    let (lat, lon) = (degrees("lat", "61.0", 90.0), degrees("lon", "9.5", 180.0));
    section.finish();
    Some((lat?, lon?))
}

/// `[day]`: standard and calm where it says nothing.
pub(super) fn day(section: Option<Section<'_>>) -> Day {
    let mut day = Day {
        qnh: STANDARD_QNH,
        temperature: STANDARD_TEMPERATURE,
        wind: vec![WindAt {
            height: Length::ZERO,
            from: Angle::ZERO,
            speed: Speed::ZERO,
            gust: Speed::ZERO,
        }],
        metar: None,
    };
    let Some(mut section) = section else {
        return day;
    };
    let hpa = |hpa: f64| Pressure::from_pa(hpa * 100.0);
    day.metar = section.get("metar").and_then(|item| {
        Some(Metar {
            text: item.text()?.to_owned(),
            gives_qnh: !section.has("qnh"),
            gives_temperature: !section.has("temperature"),
            gives_wind: true,
            at: item.at(),
        })
    });
    if let Some(qnh) = section
        .get("qnh")
        .and_then(|item| item.within("1013.25 hPa", hpa(850.0)..=hpa(1100.0)))
    {
        day.qnh = qnh;
    }
    if let Some(temperature) = section.get("temperature").and_then(|item| {
        item.within(
            "24 C",
            Temperature::from_c(-70.0)..=Temperature::from_c(60.0),
        )
    }) {
        day.temperature = temperature;
    }
    if let Some(item) = section.get("wind") {
        let wind = winds(&item);
        if let Some(report) = &mut day.metar {
            report.gives_wind = wind.iter().all(|wind| wind.height > Length::ZERO);
        }
        if !wind.is_empty() {
            day.wind = wind;
        }
    }
    section.finish();
    day
}

/// The winds, lowest first.
fn winds(item: &Item<'_>) -> Vec<WindAt> {
    let list = item.list("[{ height = \"0 ft\", from = 230, speed = \"9 kt\" }]");
    let mut winds: Vec<WindAt> = Vec::new();
    for item in &list {
        let Some(wind) = item.table("a wind").and_then(wind) else {
            continue;
        };
        if winds.iter().any(|other| other.height == wind.height) {
            item.fault("two winds at one height")
                .help("give each its own height, or leave one out")
                .add(item.faults);
        }
        winds.push(wind);
    }
    winds.sort_by(|a, b| a.height.m().total_cmp(&b.height.m()));
    winds
}

fn wind(mut wind: Section<'_>) -> Option<WindAt> {
    let height = wind
        .get("height")
        .and_then(|item| item.within("3000 ft", Length::ZERO..=Length::from_m(20_000.0)));
    let from = wind
        .must("from", "230")
        .and_then(|item| item.number("230", 0.0..=360.0));
    let speed: Option<Speed> = wind
        .must("speed", "\"9 kt\"")
        .and_then(|item| item.within("9 kt", Speed::ZERO..=FASTEST_WIND));
    let gust = wind.get("gust").and_then(|item| {
        let gust: Speed = item.within("20 kt", Speed::ZERO..=FASTEST_WIND)?;
        let more = gust - speed?;
        if more < Speed::ZERO {
            item.fault("the gust is slower than the wind")
                .help("`gust` is the highest speed reached, as in a weather report")
                .add(item.faults);
        }
        Some(more)
    });
    wind.finish();
    Some(WindAt {
        height: height.unwrap_or_default(),
        from: Angle::from_deg(from?),
        speed: speed?,
        gust: gust.unwrap_or_default(),
    })
}

/// A fault for a section the show cannot do without.
pub(super) fn missing(section: &str, faults: &Faults) {
    if faults.broken {
        return;
    }
    let header = match section {
        "profile" => "profile.high",
        other => other,
    };
    faults.add(Fault {
        severity: Severity::Error,
        message: format!("the document has no [{header}]"),
        help: format!("write [{header}] on a line of its own, and what belongs to it below"),
        at: None,
    });
}

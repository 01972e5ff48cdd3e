//! Shows made by hand, for tests of flying them.

#![allow(dead_code)] // each test file uses its part

use abeam::flight::{Entry, Flight, FlownFigure, entries, fly};
use abeam::show::{
    Aircraft, ClimbPower, CoastUntil, Day, DelayMusic, Figure, FlownWhere, Leg, LegSpeed, Manner,
    Motion, Narrator, Noise, Place, PointName, Profile, PullBy, PullUntil, RunUntil, Show, Side,
    Site, Source, StandPlace, TurnBy, TurnTowards, TurnUntil, WindAt,
};
use abeam::units::{Airspeed, Angle, Gain, Length, Level, Pressure, Span, Speed, Temperature};

pub const NMI: f64 = 1852.0;

pub fn m(m: f64) -> Length {
    Length::from_m(m)
}

pub fn s(s: f64) -> Span {
    Span::from_s(s)
}

pub fn tas(mps: f64) -> Option<LegSpeed> {
    held(Airspeed::True(Speed::from_mps(mps)))
}

pub fn cas(kt: f64) -> Option<LegSpeed> {
    held(Airspeed::Calibrated(Speed::from_kt(kt)))
}

pub fn held(speed: Airspeed) -> Option<LegSpeed> {
    Some(LegSpeed::Held(speed))
}

/// A hold 90 s long.
pub fn hold(out: f64) -> Leg {
    let place = Place {
        out: m(out),
        side: None,
    };
    let motion = Motion::Hold {
        place,
        expect: s(90.0),
        spread: s(15.0),
    };
    Leg::new(motion, 10..20)
}

/// A run at 150 m.
pub fn run(until: RunUntil, speed: Option<LegSpeed>, pass: bool) -> Leg {
    Leg {
        speed,
        height: Some(m(150.0)),
        pass,
        ..Leg::new(Motion::Run { until, pitch: None }, 20..30)
    }
}

pub fn to_centre(speed: Option<LegSpeed>) -> Leg {
    run(RunUntil::Centre, speed, true)
}

pub fn run_for(metres: f64) -> Leg {
    run(RunUntil::Distance(m(metres)), None, false)
}

pub fn turn(deg: f64, towards: TurnTowards, bank_deg: f64, speed: Option<LegSpeed>) -> Leg {
    let motion = Motion::Turn {
        until: TurnUntil::Angle(Angle::from_deg(deg)),
        towards,
        by: TurnBy::Bank(Angle::from_deg(bank_deg)),
    };
    Leg {
        speed,
        height: Some(m(150.0)),
        ..Leg::new(motion, 30..40)
    }
}

/// A leg of which nothing but what it is is said.
pub fn leg(motion: Motion) -> Leg {
    Leg::new(motion, 40..50)
}

pub fn pull(until: PullUntil, by: PullBy) -> Leg {
    leg(Motion::Pull { until, by })
}

pub fn push(until: PullUntil, by: PullBy) -> Leg {
    leg(Motion::Push { until, by })
}

pub fn roll(deg: f64, rate_deg: f64, load: Option<f64>) -> Leg {
    leg(Motion::Roll {
        angle: Angle::from_deg(deg),
        rate: Some(Angle::from_deg(rate_deg)),
        towards: TurnTowards::PilotsRight,
        load,
    })
}

pub fn coast(until: CoastUntil) -> Leg {
    leg(Motion::Coast { until })
}

/// So far round the path.
pub fn round(deg: f64) -> PullUntil {
    PullUntil::Round(Angle::from_deg(deg))
}

/// An aircraft with this climb power and nothing lost in turns.
pub fn powered(climb_mps: f64) -> Aircraft {
    Aircraft {
        climb_power: Some(ClimbPower::Everywhere(Speed::from_mps(climb_mps))),
        ..unpowered()
    }
}

/// An aircraft of which nothing is known.
pub fn unpowered() -> Aircraft {
    Aircraft {
        id: "solo".into(),
        name: "Solo".into(),
        roll_rate: None,
        climb_power: None,
        induced: None,
        noise: Noise::default(),
        most_thrust: 0.6,
        most_g: None,
        least_g: None,
        stall: None,
        at: 0..0,
    }
}

pub fn figure(id: &str, legs: Vec<Leg>) -> Figure {
    Figure {
        id: id.into(),
        name: id.into(),
        aircraft: vec!["solo".into()],
        from: Side::Left,
        says_from: true,
        starts: None,
        gates: Vec::new(),
        spread: s(2.0),
        late: s(0.0),
        manner: Manner::Flown(legs),
        versions: Vec::new(),
        hush: None,
        flown: FlownWhere::Before,
        needs: None,
        at: 0..10,
    }
}

pub fn timed(id: &str, takes: f64, passes: &[f64]) -> Figure {
    let passes = passes.iter().map(|t| s(*t)).collect();
    Figure {
        manner: Manner::Timed {
            takes: s(takes),
            passes,
        },
        ..figure(id, Vec::new())
    }
}

/// A show that flies the figures in order, in calm standard air unless its day is changed.
pub fn show(figures: Vec<Figure>) -> Show {
    Show {
        source: Source {
            name: "test".into(),
            text: "".into(),
        },
        title: "Test".into(),
        start: None,
        zero: None,
        slot_ends: None,
        profile: "high".into(),
        delay_music: DelayMusic::Fade,
        talk_over: Level::from_db(80.0),
        hush_above: Gain::from_db(-12.0),
        narrator: Narrator::default(),
        say: vec![],
        knock_it_off_words: String::new(),
        accident_words: String::new(),
        halt_words: Default::default(),
        profiles: vec![Profile {
            name: "high".into(),
            order: figures.iter().map(|figure| figure.id.clone()).collect(),
            at: 0..0,
        }],
        site: Site {
            elevation: m(0.0),
            centre: None,
            line_bearing: Angle::from_deg(64.0),
            line_distance: m(230.0),
            stand: StandPlace::default(),
            overhead: false,
            behind_crowd: false,
        },
        day: Day {
            qnh: Pressure::from_pa(101_325.0),
            temperature: Temperature::from_c(15.0),
            wind: Vec::new(),
            metar: None,
        },
        aircraft: vec![unpowered()],
        figures,
        blocks: Vec::new(),
        silences: Vec::new(),
        calls: Vec::new(),
        tracks: Vec::new(),
    }
}

/// A wind at every height: metres a second along the line towards the crowd's right, and away from the
/// crowd.
pub fn wind(x: f64, y: f64) -> Vec<WindAt> {
    vec![WindAt {
        height: m(0.0),
        from: Angle::from_deg(64.0 + y.atan2(-x).to_degrees()),
        speed: Speed::from_mps(x.hypot(y)),
        gust: Speed::ZERO,
    }]
}

pub fn fly_all(show: &Show) -> Flight {
    fly(show, &show.day, &entries(show, &show.profile))
}

pub fn fly_mirrored(show: &Show) -> Flight {
    let entries: Vec<Entry> = entries(show, &show.profile)
        .into_iter()
        .map(|entry| Entry {
            mirrored: true,
            ..entry
        })
        .collect();
    fly(show, &show.day, &entries)
}

/// The one figure of a show, which must fly without a fault.
pub fn fly_one(figure: Figure, wind: Vec<WindAt>) -> FlownFigure {
    let mut show = show(vec![figure]);
    show.day.wind = wind;
    let mut flight = fly_all(&show);
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    flight.figures.remove(0)
}

pub fn after(figure: &FlownFigure, point: PointName) -> f64 {
    let found = figure.points.iter().find(|met| met.point == point);
    found
        .unwrap_or_else(|| panic!("{point} of {:?}", figure.points))
        .after
        .s()
}

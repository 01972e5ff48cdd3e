//! `abeam arrival`: when an aircraft will be at crowd centre, or when it must leave to be there in time.

use clap::Args;
use jiff::civil;
use serde::Serialize;

use super::{Failure, print, print_json};
use crate::flight::air::Air;
use crate::flight::arrival::{self, OnTrack, RunIn};
use crate::flight::wind::{WindVector, read_bearing, read_wind};
use crate::show::WindAt;
use crate::units::{Acceleration, Airspeed, Angle, Length, Pressure, Span, Temperature};

/// How long an aircraft takes from a place on the run-in to crowd centre.
///
/// It tracks straight along the display line at one height, crabbing against the wind. With --abeam-at
/// it also says when to leave that place.
///
/// CAUTION: timing for words and music only. It is no flight instrument, clears nobody to do anything and
/// must never be used to steer an aircraft towards the music: the music waits for the aircraft. The
/// display director, air traffic control and the crew's own rules decide.
#[derive(Debug, Args)]
pub(super) struct Arrival {
    /// How far the aircraft is from crowd centre: "5 nmi"
    #[arg(long, allow_hyphen_values = true)]
    distance: Length,
    /// Its speed there: "350 kt cas", "180 m/s tas", "210 kt ground", "0.6 mach"
    #[arg(long, allow_hyphen_values = true)]
    speed: Airspeed,
    /// The speed it changes to on the way
    #[arg(long, allow_hyphen_values = true, requires = "gain")]
    to_speed: Option<Airspeed>,
    /// How fast it changes, of the speed as named by --to-speed: "4 kt/s"
    #[arg(long, allow_hyphen_values = true, requires = "to_speed")]
    gain: Option<Acceleration>,
    /// Its height above the site
    #[arg(long, allow_hyphen_values = true, default_value = "500 ft")]
    height: Length,
    /// Of the site above mean sea level
    #[arg(long, allow_hyphen_values = true, default_value = "0 ft")]
    elevation: Length,
    /// Of the air at the site: "24 C"; the standard one for its elevation if left out
    #[arg(long, allow_hyphen_values = true)]
    temperature: Option<Temperature>,
    /// Pressure at mean sea level: "1009 hPa"; the standard one if left out
    #[arg(long, allow_hyphen_values = true, value_parser = qnh)]
    qnh: Option<Pressure>,
    /// The wind at its height, true bearing it blows from and speed: 240/15kt; calm if left out
    #[arg(long, value_parser = read_wind, requires = "track")]
    wind: Option<WindAt>,
    /// The true bearing it flies along towards crowd centre: 082; needed with --wind
    #[arg(long, value_parser = bearing)]
    track: Option<Angle>,
    /// From the crowd line to the display line
    #[arg(long, allow_hyphen_values = true, default_value = "230 m")]
    line_distance: Length,
    /// The clock time it shall be abeam at: 14:30:00
    #[arg(long, value_parser = clock)]
    abeam_at: Option<civil::Time>,
    /// Write one JSON object
    #[arg(long)]
    json: bool,
}

/// What `--json` writes.
#[derive(Serialize)]
struct Report {
    tas_mps: f64,
    ground_speed_mps: f64,
    drift_deg: f64,
    time_to_centre_s: f64,
    heard_after_s: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    leave_at: Option<String>,
}

const CAUTION: &str = "Timing for words and music only; it clears nobody to do anything.";

impl Arrival {
    pub(super) fn run(self) -> Result<(), Failure> {
        let arrival = self
            .run_in()
            .arrive(&self.air(), self.line_distance)
            .map_err(|why| Failure::Usage(format!("the aircraft {why}")))?;
        let leave_at = self.abeam_at.map(|abeam| arrival.leave_at(abeam));
        if self.json {
            print_json(&report(&arrival, leave_at))
        } else {
            print(&(self.text(&arrival, leave_at) + "\n"))
        }
    }

    fn air(&self) -> Air {
        let standard = || Air::standard_temperature(self.elevation);
        Air::new(
            self.elevation,
            self.temperature.unwrap_or_else(standard),
            self.qnh.unwrap_or(Air::STANDARD_QNH),
        )
    }

    fn run_in(&self) -> RunIn {
        let wind = match (self.wind, self.track) {
            (Some(wind), Some(track)) => WindVector::new(wind.from, wind.speed, track),
            _ => WindVector::default(),
        };
        RunIn {
            distance: self.distance,
            speed: self.speed,
            change: self.to_speed.zip(self.gain),
            height: self.height,
            wind,
        }
    }

    /// The answer in the crew's words.
    fn text(&self, arrival: &arrival::Arrival, leave_at: Option<civil::Time>) -> String {
        let mut lines = vec![
            format!("Abeam in        {}", in_words(arrival.takes)),
            format!("Sound from it   {} later", in_words(arrival.heard_after)),
        ];
        if self.to_speed.is_some() {
            lines.push(format!(
                "At {:<12} {}",
                self.distance_out(),
                speeds(&arrival.there)
            ));
            lines.push(format!("Abeam           {}", speeds(&arrival.abeam)));
        } else {
            lines.push(format!("Speed           {}", speeds(&arrival.there)));
        }
        if let (Some(leave), Some(abeam)) = (leave_at, self.abeam_at) {
            let day = if leave > abeam {
                ", the day before"
            } else {
                ""
            };
            lines.push(format!(
                "Leave the hold  {}{day} to be abeam at {abeam}",
                tenths(leave)
            ));
        }
        lines.push(CAUTION.into());
        lines.join("\n")
    }

    fn distance_out(&self) -> String {
        format!(
            "{:.1} nmi",
            self.distance.m() / crate::units::quantity::NAUTICAL_MILE
        )
    }
}

fn report(arrival: &arrival::Arrival, leave_at: Option<civil::Time>) -> Report {
    Report {
        tas_mps: arrival.there.true_airspeed.mps(),
        ground_speed_mps: arrival.there.ground_speed.mps(),
        drift_deg: arrival.there.drift.deg(),
        time_to_centre_s: arrival.takes.s(),
        heard_after_s: arrival.heard_after.s(),
        leave_at: leave_at.map(|time| time.strftime("%H:%M:%S.%3f").to_string()),
    }
}

fn speeds(on_track: &OnTrack) -> String {
    let drift = on_track.drift.deg();
    let side = match drift {
        d if d.abs() < 0.05 => "no drift".into(),
        d if d > 0.0 => format!("drift {d:.1} degrees right"),
        d => format!("drift {:.1} degrees left", -d),
    };
    format!(
        "{:.0} kt true airspeed, {:.0} kt ground speed, {side}",
        on_track.true_airspeed.kt(),
        on_track.ground_speed.kt(),
    )
}

/// Seconds to a tenth; minutes and seconds from a minute on.
fn in_words(span: Span) -> String {
    if span < Span::from_s(60.0) {
        format!("{:.1} s", span.s())
    } else {
        span.clock(1)
    }
}

/// A clock time to a tenth of a second.
fn tenths(time: civil::Time) -> String {
    let tenth = civil::TimeRound::new()
        .smallest(jiff::Unit::Millisecond)
        .increment(100);
    let rounded = time.round(tenth).unwrap_or(time);
    rounded.strftime("%H:%M:%S.%1f").to_string()
}

fn bearing(text: &str) -> Result<Angle, String> {
    read_bearing(text).ok_or_else(|| "write a true bearing from 0 to 360, \"082\"".into())
}

/// A pressure that has been measured at mean sea level (870 and 1,085 hPa are the extremes, from memory),
/// with something to spare.
fn qnh(text: &str) -> Result<Pressure, String> {
    let read: Pressure = text.parse().map_err(|error| format!("{error}"))?;
    if (85_000.0..=110_000.0).contains(&read.pa()) {
        Ok(read)
    } else {
        Err("write it between 850 and 1100 hPa, \"1009 hPa\" or \"29.80 inHg\"".into())
    }
}

fn clock(text: &str) -> Result<civil::Time, String> {
    text.parse()
        .map_err(|_| "write a clock time, \"14:30:00\"".into())
}

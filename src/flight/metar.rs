//! A METAR's wind, temperature, dew point and QNH; everything else in it is passed over.

use std::ops::RangeInclusive;

use crate::show::WindAt;
use crate::units::{Angle, Length, Pressure, Speed, Temperature, UnitError};

/// What a report says of the air at the site.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Report {
    /// The surface wind. A variable direction (`VRB`) has no mean: its speed is all gust.
    pub wind: Option<WindAt>,
    /// Whether it blew harder than its group can say (`P49MPS`); the speed is then the most it can.
    pub beyond: bool,
    /// How the wind's direction varied.
    pub varies: Option<Varies>,
    /// The air temperature.
    pub temperature: Option<Temperature>,
    /// The dew point.
    pub dew_point: Option<Temperature>,
    /// The altimeter setting.
    pub qnh: Option<Pressure>,
}

/// How the direction of a wind varies; true bearings it blows from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Varies {
    /// From one clockwise to the other (`180V240`).
    Between(Angle, Angle),
    /// All round (`VRB`), at this mean speed.
    Round(Speed),
}

/// Groups after which a report speaks of other times or in plain language.
const AFTERWARDS: [&str; 4] = ["TEMPO", "BECMG", "NOSIG", "RMK"];

/// No altimeter setting on Earth lies outside; a group that says one is a slip.
const PRESSURES: RangeInclusive<Pressure> =
    Pressure::from_pa(85_000.0)..=Pressure::from_pa(110_000.0);

/// Reads a report: the first wind, temperature and pressure groups in it (WMO-No. 306, FM 15).
///
/// # Errors
/// The group that cannot be read as what it begins as; or all of a report with none of them, or of a forecast.
pub fn read(text: &str) -> Result<Report, UnitError> {
    let error = |text: &str, what| UnitError {
        text: text.trim().into(),
        what,
        expected: "it as issued, with its wind, temperature and pressure: \"24015G25KT … 24/16 Q1009\"",
    };
    let mut read = Report::default();
    for as_issued in text.split_whitespace() {
        let group = as_issued.trim_end_matches('=').to_ascii_uppercase();
        let group = group.as_str();
        let slip = |what| move |Unreadable| error(as_issued, what);
        if group == "TAF" {
            return Err(error(text, "a METAR but a forecast"));
        }
        if AFTERWARDS.contains(&group) {
            break;
        }
        if read.wind.is_none() && is_wind(group) {
            (read.wind, read.varies) = wind(group).map_err(slip("a wind of a METAR"))?;
            let beyond = |(body, _): (&str, Speed)| body.contains('P');
            read.beyond = read.wind.is_some() && wind_unit(group).is_some_and(beyond);
        } else if let (Some(_), None, Some(between)) = (read.wind, read.varies, between(group)) {
            read.varies = Some(between.map_err(slip("a direction's extremes of a METAR"))?);
        } else if read.qnh.is_none()
            && let Some(qnh) = pressure(group)
        {
            read.qnh = Some(qnh.map_err(slip("a pressure of a METAR"))?);
        } else if read.temperature.is_none()
            && let Some((temperature, dew_point)) = temperatures(group)
        {
            (read.temperature, read.dew_point) = (temperature, dew_point);
        }
    }
    if read == Report::default() {
        return Err(error(text, "a METAR"));
    }
    Ok(read)
}

/// A wind group that says what cannot be.
struct Unreadable;

/// Whether a group ends as a wind does.
fn is_wind(group: &str) -> bool {
    wind_unit(group).is_some_and(|(body, _)| {
        body.len() >= 5 && (body.starts_with("VRB") || body.starts_with(digit_or_missing))
    })
}

fn digit_or_missing(c: char) -> bool {
    c.is_ascii_digit() || c == '/'
}

/// A group without its unit of speed, and that unit in m/s.
fn wind_unit(group: &str) -> Option<(&str, Speed)> {
    [
        ("KT", Speed::from_kt(1.0)),
        ("MPS", Speed::from_mps(1.0)),
        ("KMH", Speed::from_mps(1.0 / 3.6)),
    ]
    .into_iter()
    .find_map(|(name, unit)| Some((group.strip_suffix(name)?, unit)))
}

/// `dddVddd`, the extremes of the wind's direction; `None` for any other group.
fn between(group: &str) -> Option<Result<Varies, Unreadable>> {
    let (from, to) = group.split_once('V')?;
    if from.len() != 3 || to.len() != 3 {
        return None;
    }
    let (from, to) = (number(from)?, number(to)?);
    Some(if from <= 360.0 && to <= 360.0 {
        Ok(Varies::Between(Angle::from_deg(from), Angle::from_deg(to)))
    } else {
        Err(Unreadable)
    })
}

/// `dddffGff` and its unit, with no mean where it varies all round; none where the station could not measure it
/// (`/////KT`).
fn wind(group: &str) -> Result<(Option<WindAt>, Option<Varies>), Unreadable> {
    let (body, unit) = wind_unit(group).ok_or(Unreadable)?;
    if body.contains('/') {
        return Ok((None, None));
    }
    let (direction, speeds) = body.split_at_checked(3).ok_or(Unreadable)?;
    let (mean, gust) = speeds.split_once('G').unwrap_or((speeds, ""));
    let mean = speed(mean, unit).ok_or(Unreadable)?;
    let peak = match gust {
        "" => mean,
        gust => speed(gust, unit).ok_or(Unreadable)?,
    };
    let (from, steady, varies) = match direction {
        "VRB" => (0.0, Speed::ZERO, Some(Varies::Round(mean))),
        degrees => match number(degrees) {
            Some(from) if from <= 360.0 => (from, mean, None),
            _ => return Err(Unreadable),
        },
    };
    let wind = WindAt {
        height: Length::ZERO,
        from: Angle::from_deg(from),
        speed: steady,
        gust: Speed::from_mps((peak - steady).mps().max(0.0)),
    };
    Ok((Some(wind), varies))
}

/// Two or three digits, after `P` when it was more than the group can say.
fn speed(text: &str, unit: Speed) -> Option<Speed> {
    let digits = text.strip_prefix('P').unwrap_or(text);
    (2..=3).contains(&digits.len()).then_some(())?;
    number(digits).map(|value| unit * value)
}

fn number(digits: &str) -> Option<f64> {
    let all_digits = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    all_digits.then(|| digits.parse().ok()).flatten()
}

/// `Q1009` in hectopascals, `A2992` in hundredths of an inch of mercury.
fn pressure(group: &str) -> Option<Result<Pressure, Unreadable>> {
    let (unit, digits) = match group.split_at_checked(1)? {
        ("Q", digits) => ("hPa", digits),
        ("A", digits) => ("inHg", digits),
        _ => return None,
    };
    (digits.len() == 4).then_some(())?;
    let value = number(digits)?;
    let pressure = if unit == "hPa" {
        Pressure::from_pa(value * 100.0)
    } else {
        format!("{} inHg", value / 100.0).parse().ok()?
    };
    Some(if PRESSURES.contains(&pressure) {
        Ok(pressure)
    } else {
        Err(Unreadable)
    })
}

/// `24/16`, `M02/M05`, `24/`, `24///`: whole degrees Celsius, M for minus.
fn temperatures(group: &str) -> Option<(Option<Temperature>, Option<Temperature>)> {
    let (air, dew) = group.split_once('/')?;
    let air = degrees(air)?;
    match dew {
        "" | "//" => Some((Some(air), None)),
        dew => Some((Some(air), Some(degrees(dew)?))),
    }
}

fn degrees(text: &str) -> Option<Temperature> {
    let (sign, digits) = match text.strip_prefix('M') {
        Some(digits) => (-1.0, digits),
        None => (1.0, text),
    };
    (digits.len() == 2).then_some(())?;
    number(digits).map(|c| Temperature::from_c(sign * c))
}

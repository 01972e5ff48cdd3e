//! Position logs given to a debrief, and what of them is told.

use std::path::PathBuf;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use rayon::prelude::*;
use serde::Serialize;

use super::text::{late, told};
use crate::commands::Failure;
use crate::commands::table::table;
use crate::debrief::passed::Log;
use crate::debrief::traced::Traced;
use crate::position::{Ground, LONGEST_GAP, Line, Place, open, passes_on};
use crate::show::{Name, Show};
use crate::units::quantity::KNOT;

/// A pass as JSON has it.
#[derive(Serialize)]
pub(super) struct PassRow {
    aircraft: String,
    figure: String,
    point: String,
    abeam_s: f64,
    late_s: Option<f64>,
    ground_speed_mps: f64,
    line_distance_m: f64,
    nearest_to_centre_m: f64,
    nearest_to_line_m: f64,
    height_m: Option<f64>,
    in_gap_s: Option<f64>,
}

/// A gap of a log as JSON has it.
#[derive(Serialize)]
pub(super) struct GapRow {
    aircraft: String,
    from_s: f64,
    until_s: f64,
}

/// Logs, and what should be known of them.
type Logs = (Vec<Log>, Vec<String>);

/// Reads `AIRCRAFT=FILE` each, or a file alone where the show has one aircraft. The second part says what should be
/// known of them. `day`: when the show was, for logs whose times have no date.
pub(super) fn read(show: &Show, given: &[String], day: Option<Date>) -> Result<Logs, Failure> {
    if given.is_empty() {
        return Ok((Vec::new(), Vec::new()));
    }
    let centre = show
        .site
        .centre
        .and_then(|(lat, lon)| Place::from_deg(lat.deg(), lon.deg()));
    let Some(centre) = centre else {
        return Err(Failure::Usage(
            "a position log is read against crowd centre: write centre = { lat = 61.0, lon = 9.5 } in [site]".into(),
        ));
    };
    let ground = Ground::new(centre, show.site.line_bearing);
    let named: Vec<(Name, PathBuf)> = given
        .iter()
        .map(|one| aircraft_of(show, one))
        .collect::<Result<_, Failure>>()?;
    let read: Vec<Result<Logs, Failure>> = named
        .par_iter()
        .map(|(aircraft, file)| {
            let log = open(file, day).map_err(|error| Failure::Outside(error.to_string()))?;
            let name = file.display();
            let mut notes: Vec<String> = Vec::new();
            notes.extend(log.doubts.iter().map(|doubt| format!("{name}: {doubt}")));
            let logs = log.tracks.iter().map(|track| {
                let line = Line::new(&ground, &track.fixes, LONGEST_GAP);
                Log {
                    aircraft: aircraft.clone(),
                    passes: passes_on(&line),
                    looks: line.looks().collect(),
                }
            });
            let logs: Vec<Log> = logs.collect();
            Ok((logs, notes))
        })
        .collect();
    let mut all = (Vec::new(), Vec::new());
    for one in read {
        let (logs, notes) = one?;
        all.0.extend(logs);
        all.1.extend(notes);
    }
    Ok(all)
}

fn aircraft_of(show: &Show, given: &str) -> Result<(Name, PathBuf), Failure> {
    let names: Vec<&str> = show.aircraft.iter().map(|one| one.id.as_str()).collect();
    let (aircraft, file) = match (given.split_once('='), &show.aircraft[..]) {
        (Some((aircraft, file)), _) => (aircraft, file),
        (None, [only]) => (only.id.as_str(), given),
        (None, _) => {
            return Err(Failure::Usage(format!(
                "--track {given}: say whose it is, as --track {}={given}",
                names.first().unwrap_or(&"AIRCRAFT")
            )));
        }
    };
    if !names.contains(&aircraft) {
        return Err(Failure::Usage(format!(
            "--track {given}: no aircraft is called \"{aircraft}\"; the show has {}",
            names.join(", ")
        )));
    }
    Ok((aircraft.into(), file.into()))
}

/// The day of a show that was opened then, UTC.
pub(super) fn day_of(wall_us: Option<i64>) -> Option<Date> {
    let at = jiff::Timestamp::from_microsecond(wall_us?).ok()?;
    Some(TimeZone::UTC.to_datetime(at).date())
}

/// What the logs do not have, for who reads the passes.
pub(super) fn missing(show: &Show, traced: &Traced) -> Vec<String> {
    let gaps = traced.gaps.iter().map(|gap| {
        format!(
            "the log of {} has nothing for {:.0} s, from {} to {}",
            gap.aircraft,
            gap.lasts().s(),
            told(show, gap.from),
            told(show, gap.until)
        )
    });
    let unlogged = traced.unlogged.iter().map(|one| {
        format!(
            "{} {} is not in the log of {}",
            one.key, one.point, one.aircraft
        )
    });
    gaps.chain(unlogged).collect()
}

/// The passes as people read them.
pub(super) fn table_of(show: &Show, traced: &Traced) -> String {
    let rows = traced.passed.iter().map(|one| {
        let pass = &one.pass;
        let metres = |length: crate::units::Length| format!("{:.0} m", length.m());
        [
            format!("{} {}", one.key, one.point),
            one.aircraft.to_string(),
            told(show, one.at),
            late(one.planned.map(|planned| one.at - planned)),
            format!("{:.0} kt", pass.ground_speed.mps() / KNOT),
            metres(pass.nearest_to_centre.distance),
            metres(pass.nearest_to_line.distance),
            pass.in_gap.map_or_else(String::new, |gap| {
                format!("guessed: a gap of {:.0} s", gap.s())
            }),
        ]
    });
    let head = [
        "by position log",
        "aircraft",
        "abeam",
        "late",
        "ground",
        "centre",
        "crowd line",
        "",
    ];
    table(head, rows)
}

/// The passes in JSON.
pub(super) fn rows(traced: &Traced) -> Vec<PassRow> {
    let rows = traced.passed.iter().map(|one| PassRow {
        aircraft: one.aircraft.to_string(),
        figure: one.key.to_string(),
        point: one.point.to_string(),
        abeam_s: one.at.s(),
        late_s: one.planned.map(|planned| (one.at - planned).s()),
        ground_speed_mps: one.pass.ground_speed.mps(),
        line_distance_m: one.pass.distance.m(),
        nearest_to_centre_m: one.pass.nearest_to_centre.distance.m(),
        nearest_to_line_m: one.pass.nearest_to_line.distance.m(),
        height_m: one.pass.height.map(|height| height.m()),
        in_gap_s: one.pass.in_gap.map(|gap| gap.s()),
    });
    rows.collect()
}

/// The gaps in JSON.
pub(super) fn gap_rows(traced: &Traced) -> Vec<GapRow> {
    let rows = traced.gaps.iter().map(|gap| GapRow {
        aircraft: gap.aircraft.to_string(),
        from_s: gap.from.s(),
        until_s: gap.until.s(),
    });
    rows.collect()
}

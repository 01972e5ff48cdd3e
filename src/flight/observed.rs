//! The day as its weather report has it, where the document leaves it to the report.

use std::ops::Range;

use super::metar::{self, Report, Varies};
use crate::show::{Day, Fault, Metar, WindAt};
use crate::units::{Length, UnitError};

/// A day, observed.
#[derive(Debug, Clone)]
pub struct Observed {
    /// With what its report says, and no report any more; as the document has it where that cannot be read.
    pub day: Day,
    /// How the surface wind varies.
    pub varies: Option<Varies>,
    /// What is to be said of the report: what cannot be read of it, what it leaves out.
    pub remarks: Vec<Fault>,
}

/// Reads the day's report.
pub fn observe(day: &Day) -> Observed {
    let mut observed = Observed {
        day: day.clone(),
        varies: None,
        remarks: Vec::new(),
    };
    let Some(given) = observed.day.metar.take() else {
        return observed;
    };
    match metar::read(&given.text) {
        Ok(report) => {
            observed.take(&given, &report);
            observed.remarks = remarks(&given, &report, day);
        }
        Err(error) => observed.remarks.push(unread(&given, &error)),
    }
    observed
}

impl Observed {
    fn take(&mut self, given: &Metar, report: &Report) {
        if let Some(qnh) = report.qnh.filter(|_| given.gives_qnh) {
            self.day.qnh = qnh;
        }
        if let Some(temperature) = report.temperature.filter(|_| given.gives_temperature) {
            self.day.temperature = temperature;
        }
        if let Some(wind) = report.wind.filter(|_| given.gives_wind) {
            self.day.wind.retain(|other| !is_at_surface(other));
            self.day.wind.insert(0, wind);
            self.varies = report.varies;
        }
    }
}

fn is_at_surface(wind: &WindAt) -> bool {
    wind.height <= Length::ZERO
}

fn remarks(given: &Metar, report: &Report, day: &Day) -> Vec<Fault> {
    let beyond = report
        .wind
        .filter(|_| report.beyond && given.gives_wind)
        .map(|wind| {
            let fastest = wind.speed + wind.gust;
            let message = format!(
                "the METAR's wind is more than its group can say: {:.0} kt is taken for it",
                fastest.kt()
            );
            Fault::advice(given.at.clone(), message)
                .help("write the wind itself in [day], if anybody knows it")
        });
    [unsaid(given, report), beyond, unused(given, report, day)]
        .into_iter()
        .flatten()
        .collect()
}

/// Advice on what the day leaves to its report, if the report does not say it or not so that it can be read.
fn unsaid(given: &Metar, report: &Report) -> Option<Fault> {
    let wanted = [
        (given.gives_wind, report.wind.is_some(), "wind"),
        (
            given.gives_temperature,
            report.temperature.is_some(),
            "temperature",
        ),
        (given.gives_qnh, report.qnh.is_some(), "pressure"),
    ];
    let unsaid = wanted
        .into_iter()
        .filter(|(wanted, said, _)| *wanted && !said);
    let unsaid: Vec<&str> = unsaid.map(|(.., what)| what).collect();
    if unsaid.is_empty() {
        return None;
    }
    let message = format!(
        "the METAR gives no {} that can be read",
        unsaid.join(", no ")
    );
    Some(Fault::advice(given.at.clone(), message).help(
        "a calm standard day is taken for it: mend its groups, 24015G25KT … 24/16 Q1009, or write wind, temperature or qnh beside it",
    ))
}

/// Advice where the day has another surface wind of its own.
fn unused(given: &Metar, report: &Report, day: &Day) -> Option<Fault> {
    let reported = report.wind.filter(|_| !given.gives_wind)?;
    let own = day.wind.iter().find(|wind| is_at_surface(wind))?;
    let words = |wind: &WindAt| format!("{:03.0}/{:.0} kt", wind.from.deg(), wind.speed.kt());
    let (own, reported) = (words(own), words(&reported));
    (own != reported).then(|| {
        let message = format!("the surface wind is taken as {own}; the METAR says {reported}");
        Fault::advice(given.at.clone(), message)
            .help("leave the other wind at the surface out, and the METAR's is taken")
    })
}

/// The error that a report cannot be read, at the group that cannot.
fn unread(given: &Metar, error: &UnitError) -> Fault {
    let message = format!("\"{}\" is not {}", error.text, error.what);
    let at = place_of(&error.text, given).unwrap_or(given.at.clone());
    Fault::error(at, message).help(format!("write {}", error.expected))
}

/// Where in the document a part of the report is, if that is written there as it is read.
fn place_of(part: &str, given: &Metar) -> Option<Range<usize>> {
    let quotes = given.at.len().checked_sub(given.text.len())?;
    (quotes == 2).then_some(())?;
    let from = given.at.start + 1 + given.text.find(part)?;
    (!part.is_empty()).then(|| from..from + part.len())
}

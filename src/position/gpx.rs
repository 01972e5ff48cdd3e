//! GPX 1.1 (topografix.com/GPX/1/1): the points of its tracks, read as they come, nothing else kept.
//!
//! Each `trk` is an aircraft; those of the same name are one. Speed and course are taken from GPX 1.0 or
//! from extensions, in metres a second and degrees, as there.

use std::io::{self, BufRead, Read};

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use quick_xml::events::{BytesRef, BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

use super::order::Gathered;
use super::{DoubtKind, Fix, Place};
use crate::units::{Angle, Length, Speed};

/// Reads every point of every track; what is broken off or no XML ends it.
pub(super) fn read(source: impl BufRead, aircraft: &str, into: &mut Gathered) -> io::Result<()> {
    let mut reader = Reader::from_reader(Lines::new(source));
    let mut buffer = Vec::with_capacity(256);
    let mut points = Points::new(aircraft, into);
    let mut depth = 0_usize;
    loop {
        let event = reader.read_event_into(&mut buffer);
        let line = points.line;
        match event {
            Ok(Event::Start(tag)) => {
                depth += 1;
                points.begin(&tag, depth);
            }
            Ok(Event::Empty(tag)) => {
                points.begin(&tag, depth + 1);
                points.end(depth + 1);
            }
            Ok(Event::End(_)) => {
                points.end(depth);
                depth = depth.saturating_sub(1);
            }
            Ok(Event::Text(text)) => points.text(&text),
            Ok(Event::CData(text)) => points.text(&text),
            Ok(Event::GeneralRef(reference)) => points.reference(&reference),
            Ok(Event::Eof) => {
                if depth > 0 {
                    points.into.doubts.add(DoubtKind::BrokenOff, line);
                }
                return Ok(());
            }
            Ok(_) => {}
            Err(quick_xml::Error::Io(error)) => return Err(io::Error::new(error.kind(), error)),
            Err(_) => {
                points.into.doubts.add(DoubtKind::BrokenOff, line);
                return Ok(());
            }
        }
        points.line = reader.get_ref().line;
        buffer.clear();
    }
}

/// What is being read of the tracks.
struct Points<'a> {
    into: &'a mut Gathered,
    unnamed: &'a str,
    aircraft: Option<usize>,
    /// How deep the track and the point being read are, and the element whose text is taken.
    track: Option<usize>,
    point: Option<(usize, Point)>,
    field: Option<(usize, Field)>,
    text: String,
    line: u64,
}

/// One point, as far as it was read.
#[derive(Default)]
struct Point {
    line: u64,
    place: Option<Place>,
    at: Option<Timestamp>,
    height: Option<f64>,
    speed: Option<f64>,
    course: Option<f64>,
}

#[derive(Clone, Copy)]
enum Field {
    Name,
    Time,
    Height,
    Speed,
    Course,
}

impl<'a> Points<'a> {
    fn new(unnamed: &'a str, into: &'a mut Gathered) -> Points<'a> {
        Points {
            into,
            unnamed,
            aircraft: None,
            track: None,
            point: None,
            field: None,
            text: String::new(),
            line: 1,
        }
    }

    fn begin(&mut self, tag: &BytesStart<'_>, depth: usize) {
        let name = tag.local_name();
        let field = match (name.as_ref(), &self.point, self.track) {
            ("trk", _, None) => {
                self.track = Some(depth);
                self.aircraft = None;
                return;
            }
            ("trkpt", None, Some(_)) => {
                let point = Point {
                    line: self.line,
                    place: place(tag),
                    ..Point::default()
                };
                self.point = Some((depth, point));
                return;
            }
            ("name", None, Some(track)) if depth == track + 1 => Field::Name,
            ("time", Some((point, _)), _) if depth == point + 1 => Field::Time,
            ("ele", Some((point, _)), _) if depth == point + 1 => Field::Height,
            ("speed", Some(_), _) => Field::Speed,
            ("course", Some(_), _) => Field::Course,
            _ => return,
        };
        self.field = Some((depth, field));
        self.text.clear();
    }

    fn text(&mut self, text: &str) {
        if self.field.is_some() {
            self.text.push_str(text);
        }
    }

    fn reference(&mut self, reference: &BytesRef<'_>) {
        let named = match &**reference {
            "amp" => Some('&'),
            "lt" => Some('<'),
            "gt" => Some('>'),
            "apos" => Some('\''),
            "quot" => Some('"'),
            _ => reference.resolve_char_ref().ok().flatten(),
        };
        if self.field.is_some() {
            self.text.extend(named);
        }
    }

    fn end(&mut self, depth: usize) {
        if let Some((_, field)) = self.field.take_if(|(at, _)| *at == depth) {
            self.take(field);
        }
        if let Some((_, point)) = self.point.take_if(|(at, _)| *at == depth) {
            self.keep(&point);
        }
        self.track.take_if(|at| *at == depth);
    }

    fn take(&mut self, field: Field) {
        let text = self.text.trim();
        if let Field::Name = field {
            self.aircraft = (!text.is_empty()).then(|| self.into.aircraft(text));
            return;
        }
        let Some((_, point)) = &mut self.point else {
            return;
        };
        let number = || text.parse().ok().filter(|number: &f64| number.is_finite());
        match field {
            Field::Name => {}
            Field::Time => point.at = time(text),
            Field::Height => point.height = number(),
            Field::Speed => point.speed = number().filter(|speed| *speed >= 0.0),
            Field::Course => point.course = number(),
        }
    }

    fn keep(&mut self, point: &Point) {
        let (Some(at), Some(place)) = (point.at, point.place) else {
            self.into.doubts.add(DoubtKind::Incomplete, point.line);
            return;
        };
        let unnamed = self.unnamed;
        let aircraft = self.aircraft.unwrap_or_else(|| self.into.aircraft(unnamed));
        self.aircraft = Some(aircraft);
        let fix = Fix {
            at,
            place,
            height: point.height.map(Length::from_m),
            ground_speed: point.speed.map(Speed::from_mps),
            track: point.course.map(Angle::from_deg),
        };
        self.into.add(aircraft, fix, point.line);
    }
}

/// The place in a point's attributes.
fn place(tag: &BytesStart<'_>) -> Option<Place> {
    let degrees = |name: &str| -> Option<f64> {
        let attribute = tag.try_get_attribute(name).ok()??;
        let text = attribute.normalized_value(XmlVersion::Implicit1_0).ok()?;
        text.trim().parse().ok()
    };
    Place::from_deg(degrees("lat")?, degrees("lon")?)
}

/// A time as XML Schema writes it; one without a zone is UTC, as GPX says.
pub(super) fn time(text: &str) -> Option<Timestamp> {
    text.parse().ok().or_else(|| {
        let civil: DateTime = text.parse().ok()?;
        Offset::UTC.to_timestamp(civil).ok()
    })
}

/// Counts the lines that have been read.
struct Lines<R> {
    source: R,
    line: u64,
}

impl<R> Lines<R> {
    fn new(source: R) -> Self {
        Lines { source, line: 1 }
    }
}

impl<R: BufRead> Read for Lines<R> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        let from = self.fill_buf()?;
        let count = from.len().min(to.len());
        to[..count].copy_from_slice(&from[..count]);
        self.consume(count);
        Ok(count)
    }
}

impl<R: BufRead> BufRead for Lines<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.source.fill_buf()
    }

    fn consume(&mut self, count: usize) {
        if count == 0 {
            return;
        }
        // What is being consumed lies in the buffer, so this reads nothing.
        if let Ok(buffer) = self.source.fill_buf() {
            let consumed = &buffer[..count.min(buffer.len())];
            self.line += consumed.iter().filter(|&&b| b == b'\n').count() as u64;
        }
        self.source.consume(count);
    }
}

//! What every sheet has: heading, the day, cautions, what is wrong; and a foot on each page.

use maud::{Markup, PreEscaped, html};

use super::planned::Planned;
use super::{MARK, Reader};
use crate::show::{Fault, Severity};
use crate::units::Length;
use crate::units::quantity::FOOT;

const STYLE: &str = include_str!("sheet.css");

/// At the foot of each page.
const CAUTION: &str = "Timing for words and music only; it clears nobody to do anything.";

/// On the first page.
const CAUTIONS: &str = "Timing for words and music only. This is no flight instrument: it clears nobody to \
    do anything, and it must never be used to steer an aircraft towards the music. The music waits for the \
    aircraft. The display director, air traffic control and the crew's own rules decide. Separation distances \
    and heights are those of the authority's permission, not of this program. It must not fire pyrotechnics. \
    On a knock-it-off or an emergency everything fades, and only the prepared words are said. Before inbound \
    it may say when to leave the hold for a planned time; after that it gives the crew no timing advice.";

/// The most letters of a title in the margin.
const IN_MARGIN: usize = 60;

/// The sheet as a file.
pub(super) fn page(reader: Reader, planned: &Planned, faults: &[Fault], body: &Markup) -> String {
    let title = planned.programme.heading(name(reader));
    let page = html! {
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width";
                title { (title) }
                style { (PreEscaped(margins(reader, planned))) (PreEscaped(STYLE)) }
            }
            body class=(class(reader)) {
                header {
                    h1 { (planned.show.title) }
                    p.reader { (capital(name(reader))) ", " (profile(planned)) }
                    p.day { (day(planned)) }
                }
                (wrong(faults))
                section.cautions aria-label="Cautions" { p { strong { "Caution. " } (CAUTIONS) } }
                main { (body) }
            }
        }
    };
    let text = format!("{MARK}\n{}\n", page.into_string());
    // What is no character of a text would be none of a page either.
    text.chars()
        .map(|c| if c.is_control() && c != '\n' { ' ' } else { c })
        .collect()
}

fn name(reader: Reader) -> &'static str {
    match reader {
        Reader::Stand => "the narrator's script",
        Reader::Desk => "cue list of the desk",
        Reader::Team => "times for the display team",
        Reader::Stopwatch => "music by the stop-watch",
    }
}

fn class(reader: Reader) -> &'static str {
    match reader {
        Reader::Stand => "stand",
        Reader::Desk => "desk",
        Reader::Team => "team",
        Reader::Stopwatch => "stopwatch",
    }
}

/// The page and what stands in its margins.
fn margins(reader: Reader, planned: &Planned) -> String {
    let size = match reader {
        Reader::Team => "A4 landscape",
        _ => "A4",
    };
    let mut title: String = planned.show.title.chars().take(IN_MARGIN).collect();
    if title.len() < planned.show.title.len() {
        title.push('…');
    }
    format!(
        "@page{{size:{size};@top-left{{content:{}}}@top-right{{content:{}}}@bottom-left{{content:{}}}}}\n",
        quoted(&title),
        quoted(&format!("{}, {}", capital(name(reader)), profile(planned))),
        quoted(CAUTION),
    )
}

/// A string of a style sheet; whatever is not plain is written as its number, so that it can end neither
/// the string nor the style.
fn quoted(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, ' ' | ',' | '.' | ':' | '-');
    let letters = text.chars().map(|c| match c {
        c if plain(c) => c.to_string(),
        c => format!("\\{:x} ", u32::from(c)),
    });
    format!("\"{}\"", letters.collect::<String>())
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

fn profile(planned: &Planned) -> String {
    let profile = planned.programme.profile;
    let mirrored = planned.plan.entries.iter().any(|entry| entry.mirrored);
    let named = profile.map_or_else(|| "nothing flown".into(), |name| format!("profile {name}"));
    format!("{named}{}", if mirrored { ", mirrored" } else { "" })
}

/// Show zero, the weather, and which version of which document it is.
fn day(planned: &Planned) -> String {
    let (show, day) = (planned.show, &planned.programme.day);
    let zero = show.zero.as_ref().map(|zero| planned.said(zero));
    let zero = zero.unwrap_or_else(|| "the start".into());
    let zero = match show.start {
        Some(start) => format!("Show zero is {zero}, {start}"),
        None => format!("Show zero is {zero}, on a time hack"),
    };
    let slot = show.slot_ends.map(|ends| format!("; slot ends {ends}"));
    let winds = day.wind.iter().map(|wind| {
        let bearing = wind.from.deg().rem_euclid(360.0);
        format!("{bearing:03.0}/{} at {}", wind.speed, feet(wind.height))
    });
    let winds: Vec<String> = winds.collect();
    let document = show.source.name.rsplit(['/', '\\']).next().unwrap_or("");
    let version = blake3::hash(show.source.text.as_bytes()).to_hex();
    format!(
        "{zero}{}. Planned for wind {}; {}, QNH {}. Document {document}, version {:.8}.",
        slot.unwrap_or_default(),
        winds.join(", "),
        day.temperature,
        day.qnh,
        version.as_str(),
    )
}

fn feet(height: Length) -> String {
    format!("{:.0} ft", height.m() / FOOT)
}

/// What is wrong with the show, so that nobody takes a sheet for a plan that works.
fn wrong(faults: &[Fault]) -> Markup {
    let errors: Vec<&Fault> = faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error)
        .collect();
    html! {
        @if !errors.is_empty() {
            section.wrong {
                h2 { "This plan has faults" }
                ul { @for fault in errors { li { (fault.message) } } }
            }
        }
    }
}

//! The display team's sheet: when each figure is, who calls what, and the run-ins in other winds.

use maud::{Markup, PreEscaped, html};

use super::arrivals;
use super::planned::{Planned, spread};
use crate::pictures::{
    self,
    programme::{OwnPlace, Part},
};
use crate::show::{Manner, OwnPoint, PointName};
use crate::timeline::CueTime;

/// The sheet.
pub(super) fn figures_and_calls(planned: &Planned) -> Markup {
    html! {
        (figures(planned))
        (calls(planned))
        (arrivals::table(planned))
        (picture(planned))
    }
}

fn figures(planned: &Planned) -> Markup {
    let programme = &planned.programme;
    let several = programme.aircraft().len() > 1;
    html! {
        table.figures {
            caption {
                "Figures as planned, by the clock and from show zero. The spread is one standard deviation: it "
                "grows until somebody marks something."
            }
            thead { tr {
                th scope="col" { "No." }
                th scope="col" { "Figure" }
                @if several { th scope="col" { "Aircraft" } }
                th scope="col" { "From" }
                th scope="col" { "Start" }
                th scope="col" { "Inbound" }
                th scope="col" { "Gates" }
                th scope="col" { "Abeam" }
                th scope="col" { "Spread" }
                th scope="col" { "End" }
            } }
            tbody {
                @for part in &programme.parts {
                    tr {
                        td.number { (part.number) }
                        th scope="row" {
                            (part.name)
                            @if is_timed(planned, part) { span.shown { " only timed" } }
                        }
                        @if several {
                            td.name { @for &one in &part.aircraft { div { (programme.name_of(one)) } } }
                        }
                        td { (planned.side_of(part)) }
                        td { (planned.when(part.times.start())) }
                        td { (points(planned, part, |point| *point == PointName::Inbound)) }
                        td { (points(planned, part, |point| matches!(point, PointName::Gate(_)))) }
                        td.abeam { (passes(planned, part)) }
                        td { (spreads(part)) }
                        td { (planned.when(part.times.end())) }
                    }
                }
            }
        }
    }
}

fn is_timed(planned: &Planned, part: &Part) -> bool {
    let figure = planned.show.figure(&part.times.id);
    let manner = figure
        .zip(planned.programme.profile)
        .map(|(figure, profile)| figure.manner_in(profile));
    matches!(manner, Some(Manner::Timed { .. }))
}

/// The wanted points of a figure, one below the other; a gate with its place.
fn points(planned: &Planned, part: &Part, wanted: impl Fn(&PointName) -> bool) -> Markup {
    let points: Vec<_> = part
        .times
        .points
        .iter()
        .filter(|(point, _)| wanted(point))
        .collect();
    html! {
        @for (point, expected) in &points {
            div {
                (planned.when(expected.at))
                @if let Some(place) = arrivals::gate_place(planned, part, point) { " " (place) }
            }
        }
        @if points.is_empty() { "–" }
    }
}

/// The passes of a figure, one below the other; those of aircraft that fly apart from the first with whose they are.
fn passes(planned: &Planned, part: &Part) -> Markup {
    html! {
        (points(planned, part, |point| matches!(point, PointName::Abeam(_))))
        @for own in own_passes(part) {
            div { (planned.when(own.expected.at)) " " (planned.programme.name_of_id(&own.aircraft)) }
        }
    }
}

fn own_passes(part: &Part) -> impl Iterator<Item = OwnPlace> {
    let own = part.own_points().into_iter();
    own.filter(|own| matches!(own.point, PointName::Own(_, OwnPoint::Abeam(_))))
}

fn spreads(part: &Part) -> Markup {
    let passes = part.times.points.iter();
    let passes = passes.filter(|(point, _)| matches!(point, PointName::Abeam(_)));
    let of_figure = passes.map(|(_, expected)| *expected);
    let own = own_passes(part).map(|own| own.expected);
    html! {
        @for expected in of_figure.chain(own) { div { (spread(expected.spread)) } }
    }
}

fn calls(planned: &Planned) -> Markup {
    let laid = planned.show.calls.iter().zip(&planned.plan.layout.calls);
    let mut calls: Vec<_> = laid.collect();
    calls.sort_by_key(|(_, at)| (at.instant().is_none(), at.instant()));
    html! {
        @if !calls.is_empty() {
            table.calls {
                caption { "Calls" }
                thead { tr {
                    th scope="col" { "At" }
                    th scope="col" { "Who" }
                    th scope="col" { "What" }
                    th scope="col" { "Hangs on" }
                } }
                tbody {
                    @for (call, at) in calls {
                        tr {
                            th scope="row" {
                                @match at {
                                    CueTime::At(at) => { (planned.when(*at)) }
                                    _ => { "not in this profile" }
                                }
                            }
                            td { (call.who) }
                            td { strong { (call.text) } }
                            td { (planned.said(&call.when)) }
                        }
                    }
                }
            }
        }
    }
}

/// The display from above, where anything is flown leg by leg.
fn picture(planned: &Planned) -> Markup {
    let drawn = planned.programme.flown().next().is_some();
    let mut pictures = pictures::pictures(planned.show, planned.plan).into_iter();
    let plan = pictures.find(|picture| drawn && picture.name == "plan.svg");
    html! {
        @if let Some(picture) = plan {
            section.picture {
                h2 { "From above" }
                (PreEscaped(picture.svg))
            }
        }
    }
}

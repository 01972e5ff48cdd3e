//! What stands on the page, in order.

use maud::{Markup, PreEscaped, html};

use super::{MARK, Told, above, curves, late, lessons, pass, score, tables, wave};
use crate::debrief::Lessons;

const STYLE: &str = include_str!("report.css");

/// On every page of it.
const CAUTION: &str = "This tells what was, for words and music only. Corrections change the times of the plan, never \
    how anything is flown: the music waits for the aircraft, and nothing here asks a crew to fly otherwise.";

pub(super) fn page(told: &[Told], taught: &Lessons) -> String {
    let title = told.last().map_or("", |told| &told.show.title);
    let page = html! {
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width";
                title { (title) ": debrief" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (title) ": debrief" }
                    p.caution { strong { "Caution. " } (CAUTION) }
                }
                main {
                    @for (n, told) in told.iter().enumerate() { (show(told, n)) }
                    (lessons::lessons(taught))
                }
            }
        }
    };
    let text = format!("{MARK}\n{}\n", page.into_string());
    // What is no character of a text would be none of a page either.
    text.chars()
        .map(|c| if c.is_control() && c != '\n' { ' ' } else { c })
        .collect()
}

/// One show: `n` makes the names of its pictures its own.
fn show(told: &Told, n: usize) -> Markup {
    let names = |picture: &str| format!("s{n}-{picture}-");
    let flown = pass::to_show(told);
    html! {
        section.show {
            h2 { "Flown " (told.date) ", profile " (told.profile) }
            p.journal { "From the journal " (told.journal) "." }
            @if !told.notes.is_empty() {
                ul.notes { @for note in told.notes { li { (note) } } }
            }
            h3 { "Planned and flown" }
            @for svg in score::pictures(told, |i| names(&format!("score{i}"))) { (picture(svg)) }
            (tables::points(told))
            (tables::cues(told))
            (tables::changes(told))
            h3 { "Drift, figure by figure" }
            (picture(late::picture(told, &names("late"))))
            (tables::drift(told))
            (tables::passes(told))
            @for (i, key) in flown.iter().enumerate() {
                h3 { (pass::heading(told, key)) }
                (picture(above::picture(told, key, &names(&format!("pass{i}")))))
                (picture(curves::picture(told, key, &names(&format!("height{i}")))))
                (pass::tables(told, key))
            }
            @for (i, hit) in told.went.hits.iter().enumerate() {
                h3 { (wave::heading(told, hit)) }
                (picture(wave::picture(told, hit, &names(&format!("wave{i}")))))
            }
            (tables::hits(told))
            h3 { "Words" }
            (tables::words(told))
            h3 { "Music" }
            (tables::music(told))
            (tables::output(told))
        }
    }
}

fn picture(svg: String) -> Markup {
    // The mark of a picture is for files.
    let svg = svg
        .split_once("<svg")
        .map_or(String::new(), |(_, rest)| format!("<svg{rest}"));
    html! { @if !svg.is_empty() { figure { (PreEscaped(svg)) } } }
}

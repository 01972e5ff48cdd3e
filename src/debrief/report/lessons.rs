//! The table of what the plan could learn.

use maud::{Markup, html};

use super::lateness;
use super::tables::table;
use crate::debrief::Lessons;
use crate::debrief::correct::Value;
use crate::debrief::stretch::ENOUGH;

/// What all shows teach.
pub(super) fn lessons(lessons: &Lessons) -> Markup {
    let habits: Vec<Vec<String>> = lessons
        .habits
        .iter()
        .map(|habit| {
            vec![
                habit.name(),
                habit.times.to_string(),
                lateness(habit.longer),
                format!("{} ±{:.1}", lateness(habit.bias), habit.bias_spread.s()),
                format!("{:.0} %", 100.0 * habit.drawn),
                format!("{:.1} s", habit.stated.s()),
                format!("{:.1} s", habit.spread.s()),
            ]
        })
        .collect();
    let corrections: Vec<Vec<String>> = lessons
        .corrections
        .iter()
        .map(|correction| {
            vec![
                correction.place.to_string(),
                correction.was.clone().unwrap_or_else(|| "–".into()),
                match &correction.becomes {
                    Value::Text(text) => text.clone(),
                    Value::Number(number) => number.to_string(),
                },
                correction.because.clone(),
            ]
        })
        .collect();
    let unseen = lessons.unseen.iter();
    let unseen: Vec<String> = unseen.map(|(figure, part)| part.name(figure)).collect();
    let columns = [
        "Part",
        "#Flyings",
        "#Longer than planned",
        "#Taken as",
        "#Drawn to the plan",
        "#Spread stated",
        "#Spread",
    ];
    html! {
        section.lessons {
            h2 { "What the plan could learn" }
            p {
                "How much longer than planned each part took on the mean, and what that is taken as once chance is \
                 allowed for: each is drawn towards the plan, the more so the fewer times it was seen."
            }
            (table("Figures", &columns, &habits))
            @if !unseen.is_empty() {
                p {
                    "Nothing is learned of what was seen too little, less than " (ENOUGH) " of it between things seen: "
                    (unseen.join("; ")) "."
                }
            }
            @if let Some(voice) = &lessons.voice {
                p {
                    "The narrator said " (format!("{:.0}", voice.learned.words_per_minute)) " words a minute (stated "
                    (format!("{:.0}", voice.stated.words_per_minute)) "), a block's time spreading by "
                    (format!("{:.1}", 100.0 * voice.learned.spread.whole())) " % (stated " (voice.stated.spread) ")."
                }
            }
            @if corrections.is_empty() { p { "No correction is worth writing." } }
            (table("Corrections of the plan's times", &["Where", "#Now", "#Write", "Because"], &corrections))
        }
    }
}

//! What a profile flies, in order.

use std::collections::HashMap;

use super::Entry;
use crate::show::{Fault, Figure, FlownWhere, Name, Show};

/// The order of a profile as entries, without what the site does not permit; empty if the show has no
/// such profile. The second flying of a figure has the key `id#2`.
pub fn entries(show: &Show, profile: &Name) -> Vec<Entry> {
    let mut flown: HashMap<&Name, usize> = HashMap::new();
    ordered(show, profile)
        .filter(|figure| show.site.permits(figure))
        .map(|figure| {
            let times = flown.entry(&figure.id).or_insert(0);
            let key = Entry::key_of(&figure.id, *times);
            *times += 1;
            Entry {
                key,
                figure: figure.id.clone(),
                profile: profile.clone(),
                mirrored: false,
            }
        })
        .collect()
}

/// The figures of the profile's order that are left out because the site does not permit them, each once, with why.
pub fn left_out<'a>(show: &'a Show, profile: &Name) -> Vec<(&'a Figure, &'static str)> {
    let mut left: Vec<(&Figure, &str)> = Vec::new();
    for figure in ordered(show, profile).filter(|figure| !show.site.permits(figure)) {
        let why = match figure.flown {
            FlownWhere::BehindCrowd => "flown behind the crowd, which the site does not permit",
            FlownWhere::Before | FlownWhere::Overhead => {
                "flown over the crowd, which the site does not permit"
            }
        };
        if left.iter().all(|(other, _)| other.id != figure.id) {
            left.push((figure, why));
        }
    }
    left
}

/// Advice on each of those.
pub fn advice_on_left_out(show: &Show, profile: &Name) -> Vec<Fault> {
    let advice = |(figure, why): (&Figure, &str)| {
        let permit = match figure.flown {
            FlownWhere::BehindCrowd => "behind_crowd",
            FlownWhere::Before | FlownWhere::Overhead => "overhead",
        };
        let message = format!("\"{}\" is {why}: it is left out", figure.id);
        let help = format!(
            "where the authority permits it, write permits = {{ {permit} = true }} in [site]; else take \"{}\" out of the order",
            figure.id
        );
        Fault::advice(figure.at.clone(), message).help(help)
    };
    left_out(show, profile).into_iter().map(advice).collect()
}

/// The figures of a profile's order.
fn ordered<'a>(show: &'a Show, profile: &Name) -> impl Iterator<Item = &'a Figure> {
    let order = show.profile(profile).map_or(&[][..], |found| &found.order);
    let figures: HashMap<&Name, &Figure> = show.figures.iter().map(|f| (&f.id, f)).collect();
    order.iter().filter_map(move |id| figures.get(id).copied())
}

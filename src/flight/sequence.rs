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

/// Advice on each figure of the profile's order that is left out because the site does not permit it.
pub fn left_out(show: &Show, profile: &Name) -> Vec<Fault> {
    let mut told: Vec<&Name> = Vec::new();
    ordered(show, profile)
        .filter_map(|figure| {
            let (place, permit) = match figure.flown {
                _ if show.site.permits(figure) || told.contains(&&figure.id) => return None,
                FlownWhere::BehindCrowd => ("behind the crowd", "behind_crowd"),
                FlownWhere::Before | FlownWhere::Overhead => ("over the crowd", "overhead"),
            };
            told.push(&figure.id);
            let message = format!(
                "\"{}\" is flown {place}, which the site does not permit: it is left out",
                figure.id
            );
            let help = format!(
                "where the authority permits it, write permits = {{ {permit} = true }} in [site]; else take \"{}\" out of the order",
                figure.id
            );
            Some(Fault::advice(figure.at.clone(), message).help(help))
        })
        .collect()
}

/// The figures of a profile's order.
fn ordered<'a>(show: &'a Show, profile: &Name) -> impl Iterator<Item = &'a Figure> {
    let order = show.profile(profile).map_or(&[][..], |found| &found.order);
    let figures: HashMap<&Name, &Figure> = show.figures.iter().map(|f| (&f.id, f)).collect();
    order.iter().filter_map(move |id| figures.get(id).copied())
}

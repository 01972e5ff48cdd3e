//! Reads `[[figure]]`.

use super::legs::{FARTHEST, LONGEST, needs};
use super::manner::manner;
use super::reader::{Faults, Item, Section};
use super::setting::known;
use crate::show::{
    Fault, Figure, FlownWhere, Leg, Manner, Motion, Name, Side, TurnTowards, TurnUntil,
};
use crate::units::{Length, Span};

/// One standard deviation of a figure's time when the crew states none
/// (common practice, no published source).
const SPREAD: Span = Span::from_ms(2_000);

const PLACES: [(&str, FlownWhere); 2] = [
    ("overhead", FlownWhere::Overhead),
    ("behind crowd", FlownWhere::BehindCrowd),
];
const SIDES: [(&str, Side); 2] = [("left", Side::Left), ("right", Side::Right)];

/// One `[[figure]]`; `aircraft` and `profiles` are the names it can speak of.
pub(super) fn figure(
    mut section: Section<'_>,
    aircraft: &[Name],
    profiles: &[Name],
) -> Option<Figure> {
    let at = section.at.clone();
    let id = section
        .must("id", "\"memorial\"")
        .and_then(|item| item.name());
    let name = section.get("name").and_then(|item| item.text());
    let aircraft = flown_by(&mut section, aircraft);
    let starts = section.get("starts").and_then(|item| item.time());
    let gates = section.get("gates").map(|item| gates(&item));
    let spread = section
        .get("spread")
        .and_then(|item| item.within("1.5 s", Span::from_ms(1)..=LONGEST));
    let late = section
        .get("late")
        .and_then(|item| item.within("1.5 s", -LONGEST..=LONGEST));
    let hush = section
        .get("hush")
        .and_then(|item| item.table("`hush`"))
        .and_then(hush);
    let flown = section.get("flown").and_then(|item| item.choice(&PLACES));
    let needs = section.get("needs").and_then(|item| needs(&item));
    let manner = manner(&mut section, &aircraft);
    let versions = section
        .get("versions")
        .and_then(|item| item.table("`versions`"))
        .map(|table| versions(table, &aircraft, profiles));
    let from = if matches!(manner, Some(Manner::Timed { .. })) {
        section.get("from")
    } else {
        section.must("from", "\"left\"")
    };
    let from = from.and_then(|item| item.choice(&SIDES));
    let mirrored = section.get("mirrored").and_then(|item| item.flag());
    let faults = section.faults;
    section.finish();
    let id = id?;
    let figure = Figure {
        name: name.unwrap_or(id.as_str()).to_owned(),
        id,
        aircraft,
        from: from.unwrap_or(Side::Left),
        says_from: from.is_some(),
        starts,
        gates: gates.unwrap_or_default(),
        spread: spread.unwrap_or(SPREAD),
        late: late.unwrap_or(Span::ZERO),
        manner: manner.unwrap_or(Manner::Flown(Vec::new())),
        versions: versions.unwrap_or_default(),
        hush,
        flown: flown.unwrap_or_default(),
        needs,
        at,
    };
    if figure.flown == FlownWhere::Before {
        from_behind(&figure, faults);
    }
    Some(match mirrored {
        Some(true) => figure.mirrored(),
        _ => figure,
    })
}

/// A fault at each named figure that turns in behind the crowd line, in a figure that does not say so.
fn from_behind(figure: &Figure, faults: &Faults) {
    let versions = figure.versions.iter().map(|(_, manner)| manner);
    let legs = versions.chain([&figure.manner]).flat_map(Manner::legs);
    let turns_in = |leg: &&Leg| {
        let by_the_crowd = matches!(
            leg.motion,
            Motion::Turn {
                until: TurnUntil::Away,
                towards: TurnTowards::Crowd,
                ..
            }
        );
        leg.part.is_some() && by_the_crowd
    };
    for leg in legs.filter(turns_in) {
        let message = format!("\"{}\" is entered from behind the crowd line", figure.id);
        Fault::error(leg.at.clone(), message)
            .help("write flown = \"behind crowd\" in its [[figure]], which the site must permit; or enter it from the \"front\"")
            .add(faults);
    }
}

/// Who flies it: one id, or a list. A show with a single aircraft need not say.
fn flown_by(section: &mut Section<'_>, aircraft: &[Name]) -> Vec<Name> {
    if let ([only], false) = (aircraft, section.has("aircraft")) {
        section.get("aircraft");
        return vec![only.clone()];
    }
    let Some(item) = section.must("aircraft", "\"solo\", one of the [aircraft.…] of the show")
    else {
        return Vec::new();
    };
    if !item.value.get_ref().is_array() {
        return known(&item, aircraft, "aircraft").into_iter().collect();
    }
    let mut names: Vec<Name> = Vec::new();
    let list = item.list("\"solo\"");
    if list.is_empty() {
        item.fault("nobody flies this figure")
            .help("write the id of an aircraft of the show")
            .add(item.faults);
    }
    for item in &list {
        let Some(name) = known(item, aircraft, "aircraft") else {
            continue;
        };
        if names.contains(&name) {
            item.fault(format!("`{name}` is named twice"))
                .add(item.faults);
        }
        names.push(name);
    }
    names
}

fn gates(item: &Item<'_>) -> Vec<Length> {
    let limits = Length::from_m(1.0)..=FARTHEST;
    item.list("[\"2 nmi\", \"1 nmi\"]")
        .iter()
        .filter_map(|gate| gate.within("2 nmi", limits.clone()))
        .collect()
}

fn hush(mut section: Section<'_>) -> Option<(Span, Span)> {
    let limits = -LONGEST..=LONGEST;
    let from: Option<Span> = section
        .must("from", "\"-8 s\"")
        .and_then(|item| item.within("-8 s", limits.clone()));
    let until = section.must("until", "\"12 s\"").and_then(|item| {
        let until: Span = item.within("12 s", limits)?;
        if from.is_some_and(|from| until <= from) {
            item.fault("the hush is over before it begins")
                .help(
                    "`from` and `until` count from the figure's first abeam; before it is negative",
                )
                .add(item.faults);
        }
        Some(until)
    });
    section.finish();
    Some((from?, until?))
}

fn versions(section: Section<'_>, aircraft: &[Name], profiles: &[Name]) -> Vec<(Name, Manner)> {
    let mut versions = Vec::new();
    for (name, item) in section.named() {
        if !profiles.contains(&name) && !item.faults.broken {
            let help = item.faults.did_you_mean(
                name.as_str(),
                profiles.iter().map(Name::as_str),
                "the profiles are",
            );
            Fault::error(item.key_at.clone(), format!("there is no profile `{name}`"))
                .help(help)
                .add(item.faults);
        }
        let Some(mut section) = item.table("a version of a figure") else {
            continue;
        };
        let manner = manner(&mut section, aircraft);
        section.finish();
        versions.extend(manner.map(|manner| (name, manner)));
    }
    versions
}

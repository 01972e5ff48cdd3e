//! Reads what must be so where a leg or a figure begins.

use crate::show::load::reader::Item;
use crate::show::{Limits, Needs};

/// `{ height = "above 4000 ft", speed = "below 200 kt cas" }`.
pub(in crate::show::load) fn needs(item: &Item<'_>) -> Option<Needs> {
    let mut section = item.table("`needs`")?;
    let height = section
        .get("height")
        .and_then(|item| item.parsed::<Limits<_>>("above 4000 ft"));
    let speed = section
        .get("speed")
        .and_then(|item| item.parsed::<Limits<_>>("below 200 kt cas"));
    let empty = !section.has("height") && !section.has("speed");
    section.finish();
    if empty && !item.faults.broken {
        item.fault("`needs` that asks for nothing")
            .help("write needs = { height = \"above 4000 ft\" }, or leave it out")
            .add(item.faults);
        return None;
    }
    Some(Needs {
        height,
        speed,
        at: item.at(),
    })
}

//! Corrections written into the document, when somebody asks for it.

use std::path::Path;

use crate::commands::Failure;
use crate::debrief::correct::{Correction, Place, Value};
use crate::show::Name;
use crate::show::edit::{self, Draft, EditError, Manuscript};

/// Writes the corrections into `document`, whose comments and layout stay; what was done, in words.
pub(super) fn write(document: &Path, corrections: &[Correction]) -> Result<String, Failure> {
    if corrections.is_empty() {
        return Ok(format!("{} stays as it is\n", document.display()));
    }
    let mut manuscript = Manuscript::open(document).map_err(failure)?;
    manuscript
        .change("what the debrief learned", |draft| {
            corrections
                .iter()
                .try_for_each(|correction| set(draft, &correction.place, &correction.becomes))
        })
        .map_err(failure)?;
    manuscript.save().map_err(failure)?;
    let count = match corrections.len() {
        1 => "1 correction".to_owned(),
        more => format!("{more} corrections"),
    };
    Ok(format!("Wrote {count} into {}\n", document.display()))
}

fn failure(error: EditError) -> Failure {
    Failure::Outside(error.to_string())
}

fn set(draft: &mut Draft, place: &Place, value: &Value) -> Result<(), EditError> {
    let mut put = |place: &edit::Place| match value {
        Value::Text(text) => draft.set(place, text.as_str()),
        Value::Number(number) => draft.set(place, *number),
    };
    match place {
        Place::Figure {
            figure,
            version,
            key,
        } => put(&manner_of(figure, version).key(*key)),
        Place::Hold {
            figure,
            version,
            aircraft,
            key,
        } => {
            let manner = || manner_of(figure, version);
            // A hold is the first of a figure's legs; an aircraft that flies apart may have its own.
            let own = aircraft
                .as_ref()
                .map(|aircraft| manner().key("parts").key(aircraft.as_str()));
            let hold = |legs: edit::Place| legs.at(0).key(*key);
            match own.map(|own| put(&hold(own))) {
                Some(Ok(())) => Ok(()),
                _ => put(&hold(manner().key("legs"))),
            }
        }
        Place::Narrator { key } => put(&edit::Place::top("narrator").key(*key)),
    }
}

/// Where the document says how a figure is flown.
fn manner_of(figure: &Name, version: &Option<Name>) -> edit::Place {
    let figure = edit::Place::item("figure", figure.as_str());
    match version {
        Some(profile) => figure.key("versions").key(profile.as_str()),
        None => figure,
    }
}

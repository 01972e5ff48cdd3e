//! Corrections written into the document, when somebody asks for it.

use std::path::Path;

use crate::commands::Failure;
use crate::debrief::correct::{Correction, Place, Value};
use crate::show::edit::{self, EditError, Manuscript};

/// Writes the corrections into `document`, whose comments and layout stay; what was done, in words.
pub(super) fn write(document: &Path, corrections: &[Correction]) -> Result<String, Failure> {
    if corrections.is_empty() {
        return Ok(format!("{} stays as it is\n", document.display()));
    }
    let mut manuscript = Manuscript::open(document).map_err(failure)?;
    manuscript
        .change("what the debrief learned", |draft| {
            corrections.iter().try_for_each(|correction| {
                let place = place_of(&correction.place);
                match &correction.becomes {
                    Value::Text(text) => draft.set(&place, text.as_str()),
                    Value::Number(number) => draft.set(&place, *number),
                }
            })
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

fn place_of(place: &Place) -> edit::Place {
    let of = |figure: &crate::show::Name| edit::Place::item("figure", figure.as_str());
    match place {
        Place::Figure { figure, key } => of(figure).key(*key),
        // A hold is the first of a figure's legs.
        Place::Hold {
            figure,
            version,
            key,
        } => {
            let figure = match version {
                Some(version) => of(figure).key("versions").key(version.as_str()),
                None => of(figure),
            };
            figure.key("legs").at(0).key(*key)
        }
        Place::Narrator { key } => edit::Place::top("narrator").key(*key),
    }
}

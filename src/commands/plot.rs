//! Pictures written into a folder.

use std::io::Write;
use std::path::Path;

use super::{Failure, aside};
use crate::pictures::{MARK, Picture};

/// Writes pictures into `folder`, which is made if there is none. Pictures drawn before are drawn over; a file
/// of somebody else's is never.
pub(super) fn plot(pictures: &[Picture], folder: &Path) -> Result<(), Failure> {
    for picture in pictures {
        let file = folder.join(&picture.name);
        if aside::is_of_others(&file, MARK) {
            return Err(Failure::Usage(format!(
                "{} is there already and was not drawn by abeam: name another folder for --plot",
                file.display()
            )));
        }
    }
    for picture in pictures {
        let file = folder.join(&picture.name);
        aside::write(&file, picture.svg.as_bytes())
            .map_err(|error| Failure::Outside(format!("{}: {error}", file.display())))?;
    }
    let names: Vec<&str> = pictures
        .iter()
        .map(|picture| picture.name.as_str())
        .collect();
    let told = format!("Drew {} in {}\n", names.join(", "), folder.display());
    std::io::stderr()
        .write_all(told.as_bytes())
        .map_err(|error| Failure::Outside(format!("standard error: {error}")))
}

//! The pictures of a planned display, written into a folder.

use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;

use super::opened::Opened;
use super::{Failure, aside};
use crate::pictures::{MARK, pictures};

/// Draws the pictures of a show into `folder`, which is made if there is none. Pictures drawn before are
/// drawn over; a file of somebody else's is never.
pub(super) fn plot(opened: &Opened, folder: &Path) -> Result<(), Failure> {
    let pictures = pictures(&opened.show, &opened.plan);
    for picture in &pictures {
        let file = folder.join(&picture.name);
        if file.symlink_metadata().is_ok() && !is_ours(&file) {
            return Err(Failure::Usage(format!(
                "{} is there already and was not drawn by abeam: name another folder for --plot",
                file.display()
            )));
        }
    }
    for picture in &pictures {
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

/// Whether a file begins as our pictures do.
fn is_ours(file: &Path) -> bool {
    let mut start = [0; MARK.len()];
    let read = File::open(file).and_then(|mut file| file.read_exact(&mut start));
    read.is_ok() && start == *MARK.as_bytes()
}

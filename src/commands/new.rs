//! `abeam new`: a first show to start from.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;

use super::aside::{with_suffix, write};
use super::{Failure, print};

/// Writes a small commented show, with its music, that runs as it is
#[derive(Debug, Args)]
pub(super) struct New {
    /// The folder to write it into; it is made if there is none
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

const DOCUMENT: &str = "cues/first-show.toml";

/// What is written, and where below the folder.
const FILES: [(&str, &[u8]); 2] = [
    (
        "media/first-show.flac",
        include_bytes!("../../media/first-show.flac"),
    ),
    (DOCUMENT, include_bytes!("../../cues/first-show.toml")),
];

impl New {
    /// Writes the show and says what to run next. What is there already is never written over.
    pub(super) fn run(self) -> Result<(), Failure> {
        for (name, _) in FILES {
            let file = self.folder.join(name);
            // A dangling link is something, too.
            if file.symlink_metadata().is_ok() {
                return Err(Failure::Usage(format!(
                    "{} is there already, and nothing is written over: name another folder, as in \
                     abeam new {}",
                    file.display(),
                    typed(&with_suffix(&self.folder, "-2")),
                )));
            }
        }
        let files = FILES.map(|(name, bytes)| (self.folder.join(name), bytes));
        for (i, (file, bytes)) in files.iter().enumerate() {
            if let Err(error) = write(file, bytes) {
                // So that the same command can be given again once the cause is gone.
                for (written, _) in &files[..i] {
                    let _ = fs::remove_file(written);
                }
                let why = format!("{}: {error}", file.display());
                return Err(Failure::Outside(why));
            }
        }
        print(&next(&self.folder.join(DOCUMENT)))
    }
}

fn next(document: &Path) -> String {
    let document = typed(document);
    format!(
        "Wrote a first show. What to run next:\n\n  \
         abeam check {document}\n  \
         abeam times {document}\n  \
         abeam show {document} --from \"-20 s\"\n"
    )
}

/// A path as it is typed in a shell.
fn typed(path: &Path) -> String {
    let text = path.display().to_string();
    let plain = |c: char| c.is_alphanumeric() || "/._-+,:@%=".contains(c);
    if text.chars().all(plain) {
        text
    } else {
        format!("'{}'", text.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_to_be_typed_next_survives_a_shell() {
        assert_eq!(typed(Path::new("shows/lake")), "shows/lake");
        assert_eq!(typed(Path::new("my show")), "'my show'");
        assert_eq!(typed(Path::new("it's")), r"'it'\''s'");
        assert_eq!(with_suffix(Path::new("show/"), "-2"), Path::new("show-2"));
    }
}

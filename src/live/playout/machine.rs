//! The machine's own settings: which device and sockets the sound leaves by, and how long the desk
//! and loudspeakers behind them take. They belong to the machine, not to the show.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::Output;
use crate::units::Span;

/// `machine.toml` as people write it; whatever is left out keeps its default.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Machine {
    device: Option<String>,
    programme: Option<(u16, u16)>,
    headphones: Option<(u16, u16)>,
    output_delay: Option<String>,
}

/// Where the settings are kept: `abeam/machine.toml` in the user's configuration directory.
pub fn machine_settings_path() -> Option<PathBuf> {
    Some(dirs::config_dir()?.join("abeam").join("machine.toml"))
}

/// Reads the machine's settings; without a file they are the defaults. An error says what to write.
///
/// ```toml
/// device       = "hw:CARD=Desk,DEV=0"  # left out: the system's default
/// programme    = [1, 2]                # sockets, counted from 1
/// headphones   = [3, 4]                # left out: none
/// output_delay = "12 ms"               # desk and loudspeakers
/// ```
pub fn read_machine_settings() -> Result<Output, String> {
    match machine_settings_path() {
        Some(path) => read_from(&path),
        None => Ok(Output::default()),
    }
}

fn read_from(path: &Path) -> Result<Output, String> {
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Ok(Output::default());
        }
        Err(error) => return Err(format!("{}: {error}", path.display())),
    };
    read(&text).map_err(|error| format!("{}: {error}", path.display()))
}

fn read(text: &str) -> Result<Output, String> {
    let machine: Machine = toml::from_str(text).map_err(|error| error.to_string())?;
    let default = Output::default();
    let output = Output {
        device: machine.device,
        programme: machine.programme.unwrap_or(default.programme),
        headphones: machine.headphones,
        output_delay: match machine.output_delay {
            Some(text) => text
                .parse()
                .map_err(|error| format!("output_delay: {error}"))?,
            None => default.output_delay,
        },
    };
    if output.output_delay < Span::ZERO {
        return Err("output_delay is not below zero: write it as \"12 ms\"".into());
    }
    let sockets = [Some(output.programme), output.headphones];
    if sockets.into_iter().flatten().any(|(l, r)| l == 0 || r == 0) {
        return Err("sockets are counted from 1: write programme = [1, 2]".into());
    }
    Ok(output)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_setting_is_read_and_what_is_left_out_keeps_its_default() {
        assert_eq!(read(""), Ok(Output::default()));
        let text = "device = \"Desk\"\nprogramme = [3, 4]\nheadphones = [1, 2]\n\
                    output_delay = \"12 ms\"";
        assert_eq!(
            read(text),
            Ok(Output {
                device: Some("Desk".into()),
                programme: (3, 4),
                headphones: Some((1, 2)),
                output_delay: Span::from_ms(12),
            })
        );
    }

    #[test]
    fn what_is_wrong_says_where_or_what_to_write() {
        for (text, says) in [
            ("programme = [0, 1]", "counted from 1"),
            ("\nprograme = [1, 2]", "line 2"),
            ("output_delay = \"12\"", "\"250 ms\""),
            ("output_delay = \"-12 ms\"", "not below zero"),
            ("programme = 3", "line 1"),
        ] {
            let error = read(text).expect_err(text);
            assert!(error.contains(says), "{error}");
        }
    }

    #[test]
    fn a_missing_file_is_no_error() {
        let missing = Path::new("no such directory/machine.toml");
        assert_eq!(read_from(missing), Ok(Output::default()));
    }
}

//! Where positions come from.

use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

/// A source of positions: `udp://HOST:PORT` (listened to), `tcp://HOST:PORT` (connected to), or a file: a
/// log is played back from its first fix, a device or a pipe is read as it comes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// Sentences that arrive at this address.
    Udp(String),
    /// Sentences that a server at this address sends.
    Tcp(String),
    /// A log, a device or a pipe.
    File(PathBuf),
}

impl FromStr for Source {
    type Err = String;

    fn from_str(text: &str) -> Result<Source, String> {
        let address = |rest: &str| {
            let port = rest.rsplit_once(':').filter(|(host, _)| !host.is_empty());
            match port.map(|(_, port)| port.parse::<u16>()) {
                Some(Ok(_)) => Ok(rest.to_owned()),
                _ => Err(
                    "write host and port, as in udp://0.0.0.0:10110 or tcp://localhost:10110"
                        .to_owned(),
                ),
            }
        };
        if let Some(rest) = text.strip_prefix("udp://") {
            return address(rest).map(Source::Udp);
        }
        if let Some(rest) = text.strip_prefix("tcp://") {
            return address(rest).map(Source::Tcp);
        }
        if text.contains("://") || text.is_empty() {
            return Err("write udp://HOST:PORT, tcp://HOST:PORT or the name of a file".to_owned());
        }
        Ok(Source::File(PathBuf::from(text)))
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Source::Udp(address) => write!(f, "udp://{address}"),
            Source::Tcp(address) => write!(f, "tcp://{address}"),
            Source::File(path) => write!(f, "{}", path.display()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sources_are_read_as_people_write_them() {
        for text in ["udp://0.0.0.0:10110", "tcp://[::1]:2000", "logs/one.nmea"] {
            assert_eq!(
                text.parse::<Source>().map(|s| s.to_string()),
                Ok(text.into())
            );
        }
        for text in [
            "udp://",
            "udp://:10110",
            "tcp://host",
            "tcp://host:99999",
            "http://host:80",
            "",
        ] {
            assert!(text.parse::<Source>().is_err(), "{text}");
        }
    }
}

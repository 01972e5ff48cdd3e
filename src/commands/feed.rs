//! Live positions of an aircraft, for every verb that follows them.

use clap::Args;

use super::Failure;
use super::opened::Opened;
use crate::live::positions::{Positions, Source};
use crate::show::Name;

/// Where positions come from, and whose they are.
#[derive(Debug, Args)]
pub struct FeedArgs {
    /// Follow an aircraft by NMEA RMC sentences: "udp://0.0.0.0:10110" listens, "tcp://HOST:PORT" connects, a
    /// file is played back, a device or pipe read as it comes. What somebody keys always wins
    #[arg(long, value_name = "WHERE")]
    positions: Option<Source>,
    /// Which aircraft the positions are of; by default the first that flies
    #[arg(long, value_name = "AIRCRAFT", requires = "positions")]
    positions_of: Option<String>,
}

impl FeedArgs {
    /// The feed, if one is asked for; the show clock runs `rate` times as fast as the machine's.
    pub fn open(&self, opened: &Opened, rate: f64) -> Result<Option<Positions>, Failure> {
        let Some(source) = &self.positions else {
            return Ok(None);
        };
        let figures = opened.plan.flight.figures.iter();
        let known: Vec<&Name> = figures.flat_map(|figure| &figure.aircraft).collect();
        let aircraft = match &self.positions_of {
            Some(of) => known.iter().find(|name| ***name == **of),
            None => known.first(),
        };
        let Some(&aircraft) = aircraft else {
            let mut names: Vec<&str> = known.iter().map(|name| name.as_str()).collect();
            names.sort_unstable();
            names.dedup();
            return Err(Failure::Usage(format!(
                "--positions-of takes an aircraft that flies: {}",
                names.join(", ")
            )));
        };
        Positions::open(source.clone(), &opened.show, aircraft.clone(), rate)
            .map(Some)
            .map_err(Failure::Outside)
    }
}

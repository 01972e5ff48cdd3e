//! `abeam check`: what is wrong with a show.

use clap::Args;

use super::opened::{Opened, ShowArgs, print_faults};
use super::{Failure, print};
use crate::show::Severity;

/// Says what is wrong with a show: words that do not fit, music that misses its meet, a slot overrun
#[derive(Debug, Args)]
pub struct Check {
    #[command(flatten)]
    show: ShowArgs,
}

impl Check {
    /// Prints the faults on standard error and a summary on standard output.
    pub fn run(self) -> Result<(), Failure> {
        let opened = self.show.open()?;
        print_faults(&opened.show.source, &opened.faults);
        print(&(summary(&opened) + "\n"))?;
        if opened.is_faulty() {
            Err(Failure::Faults)
        } else {
            Ok(())
        }
    }
}

fn summary(opened: &Opened) -> String {
    let show = &opened.show;
    let errors = opened
        .faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error)
        .count();
    let advice = opened.faults.len() - errors;
    format!(
        "{}, profile {}: {}, {}, {}; {}, {}",
        show.title,
        opened.profile,
        counted(opened.plan.entries.len(), "figure", "figures"),
        counted(show.blocks.len(), "block", "blocks"),
        counted(show.tracks.len(), "track", "tracks"),
        counted(errors, "error", "errors"),
        counted(advice, "piece of advice", "pieces of advice"),
    )
}

fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        0 => format!("no {many}"),
        1 => format!("1 {one}"),
        _ => format!("{count} {many}"),
    }
}

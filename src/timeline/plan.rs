//! The plan: everything on one clock before the show. It never changes while a show runs.

use super::lay;
use super::layout::{Begun, Facts, Layout};
use super::moments::Moments;
use super::{chain, clash, slot, starts};
use crate::flight::{self, Entry, Flight};
use crate::show::{Day, Fault, Name, Severity, Show};

/// A show in one profile, on one day, on one clock.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The weather it is planned for.
    pub day: Day,
    /// What is flown, in order.
    pub entries: Vec<Entry>,
    /// How.
    pub flight: Flight,
    /// When.
    pub moments: Moments,
    /// What is said and played.
    pub layout: Layout,
    /// What is known of words and files.
    pub facts: Facts,
    /// What does not fit.
    pub faults: Vec<Fault>,
}

impl Plan {
    /// Plans `show` in `profile` on `day`, every figure from the side the document says.
    pub fn new(show: &Show, profile: &Name, day: &Day, facts: Facts) -> Plan {
        let entries = flight::entries(show, profile);
        Plan::of(show, profile, entries, day, facts)
    }

    /// The same, every figure from the other side.
    pub fn mirrored(show: &Show, profile: &Name, day: &Day, facts: Facts) -> Plan {
        let mut entries = flight::entries(show, profile);
        for entry in &mut entries {
            entry.mirrored = true;
        }
        Plan::of(show, profile, entries, day, facts)
    }

    fn of(show: &Show, profile: &Name, entries: Vec<Entry>, day: &Day, facts: Facts) -> Plan {
        let flight = flight::fly(show, day, &entries);
        let moments = chain::planned(show, &flight);
        let layout = lay::lay(show, &facts, &moments, &Begun::default(), &[]);
        let mut faults = flight::advice_on_left_out(show, profile);
        faults.extend(flight.faults.iter().cloned());
        faults.extend(starts::advice(show, &flight, &moments));
        faults.extend(clash::clashes(show, &facts, &moments, &layout));
        faults.extend(slot::overrun(&slot::Planned {
            show,
            day,
            entries: &entries,
            flight: &flight,
            moments: &moments,
        }));
        Plan {
            day: day.clone(),
            entries,
            flight,
            moments,
            layout,
            facts,
            faults,
        }
    }

    /// Whether anything is wrong, advice apart.
    pub fn is_faulty(&self) -> bool {
        self.faults
            .iter()
            .any(|fault| fault.severity == Severity::Error)
    }
}

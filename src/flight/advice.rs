//! What is said of where a figure's legs lead: from another side, off the line, behind the crowd.

use super::Crew;
use super::apart::Course;
use super::path::{FlownLeg, FlownLegs};
use super::points::Met;
use super::samples;
use crate::show::{Fault, Figure, FlownWhere};

/// A pass further off the display line than this is worth a word, m.
const OFF_LINE: f64 = 30.0;

impl Crew<'_> {
    /// Advises where a figure comes from the other side than it says, passes off the display line, or
    /// goes behind the crowd line without saying so.
    pub(super) fn advise(
        &mut self,
        figure: &Figure,
        mirrored: bool,
        courses: &[Course],
        passes: &[Vec<Met>],
        flown: &[FlownLegs],
    ) {
        let from = if mirrored {
            figure.from.mirrored()
        } else {
            figure.from
        };
        // Where aircraft have parted, those that cross come from both sides.
        let crosses = |course: &Course| course.legs.iter().any(|leg| leg.pass && leg.cross);
        let first_pass = flown
            .first()
            .filter(|_| !courses.first().is_some_and(crosses))
            .and_then(|flown| flown.legs.iter().find(|leg| leg.pass))
            .zip(passes.first().and_then(|passes| passes.first()));
        if let Some((leg, pass)) = first_pass
            && pass.state.ground[0] * from.sign() > 0.0
        {
            let message = format!(
                "the first pass of \"{}\" comes from the other side than the figure says",
                figure.id
            );
            let help = "change its from, or what is flown before it";
            self.faults
                .push(Fault::advice(leg.at.clone(), message).help(help));
        }
        for pass in passes.iter().flatten() {
            let off = (pass.state.y() - self.world.line).abs();
            if off > OFF_LINE {
                let point = &pass.point;
                let message = format!("{}.{point} is {off:.0} m off the display line", figure.id);
                let help = "begin the run-in further out, or turn tighter before it";
                self.faults
                    .push(Fault::advice(figure.at.clone(), message).help(help));
            }
        }
        let over = |leg: &&FlownLeg| leg.track.every(samples::STEP).any(|state| state.y() < 0.0);
        if figure.flown == FlownWhere::Before
            && let Some(leg) = flown.iter().flat_map(|flown| &flown.legs).find(over)
        {
            let message = format!("a leg of \"{}\" goes behind the crowd line", figure.id);
            let help = "turn away from the crowd; or, if it is meant, write flown = \"behind crowd\" or \"overhead\", which the site must permit";
            self.faults
                .push(Fault::advice(leg.at.clone(), message).help(help));
        }
    }
}

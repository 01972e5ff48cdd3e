//! What is said of where a figure's legs lead: from another side, off the line, behind the crowd.

use super::apart::Course;
use super::crew::Crew;
use super::path::{FlownLeg, FlownLegs};
use super::points::Met;
use super::samples;
use super::vector::{length, plus};
use crate::show::{Fault, Figure, FlownWhere, Motion};

/// A pass further off the display line than this is worth a word, m.
const OFF_LINE: f64 = 30.0;
/// Aircraft further apart than this are not together, m (common practice, no published source).
const TOGETHER: f64 = 300.0;

impl Crew<'_> {
    /// Advises where aircraft that fly as one are not together when they begin; to a hold each comes by itself.
    pub(super) fn advise_apart(&mut self, figure: &Figure, courses: &[Course<'_>]) {
        let holds = |course: &&Course<'_>| {
            let first = course.legs.first();
            first.is_some_and(|leg| matches!(leg.motion, Motion::Hold { .. }))
        };
        let mut told = Vec::new();
        for course in courses.iter().filter(|course| !holds(course)) {
            let Some((first, others)) = course.aircraft.split_first() else {
                continue;
            };
            for other in others {
                let Some((here, there)) = self.pilots.place(first).zip(self.pilots.place(other))
                else {
                    continue;
                };
                let apart = length(plus(here, -1.0, there));
                if apart > TOGETHER {
                    let apart = in_metres(apart);
                    let message = format!(
                        "{other} is {apart} from {first} when \"{}\" begins",
                        figure.id
                    );
                    let help = "end what they fly before it at one place, or begin it with a hold; it is flown from where the first is";
                    told.push(Fault::advice(figure.at.clone(), message).help(help));
                }
            }
        }
        self.faults.append(&mut told);
    }

    /// Advises where a figure comes from the other side than it says, passes off the display line, or
    /// goes behind the crowd line without saying so.
    pub(super) fn advise(
        &mut self,
        figure: &Figure,
        mirrored: bool,
        courses: &[Course<'_>],
        passes: &[Vec<Met>],
        flown: &[FlownLegs],
    ) {
        let from = if mirrored {
            figure.from.mirrored()
        } else {
            figure.from
        };
        // Where aircraft have parted, those that cross come from both sides.
        let crosses = |course: &Course<'_>| course.legs.iter().any(|leg| leg.pass && leg.cross);
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
            let off = (pass.state.y() - self.skies.world.line).abs();
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

/// A distance in tens of metres, thousands set off: `2,300 m`.
fn in_metres(distance: f64) -> String {
    let tens = 10.0 * (distance / 10.0).round();
    let thousands = (tens / 1000.0).trunc();
    if thousands == 0.0 {
        return format!("{tens:.0} m");
    }
    format!("{thousands:.0},{:03.0} m", tens % 1000.0)
}

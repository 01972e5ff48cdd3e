//! What several aircraft fly, each half of them its own part.

use super::legs::{climb, run, run_for, turn};
use super::{Build, Named, Parameters};
use crate::show::{Leg, RunUntil, TurnTowards};
use crate::units::Angle;

pub(super) static FIGURES: &[Named] = &[Named {
    name: "opposition cross",
    what: "an opposition cross",
    says: "the formation parts, one half on and one half back, and both cross at crowd centre at one instant",
    build: Build::Apart(opposition_cross),
}];

fn opposition_cross(p: &mut Parameters) -> [Vec<Leg>; 2] {
    let speed = p.speed();
    let out = p.distance("out", "1.5 nmi");
    let by = p.turn_by("3");
    let beyond = p.distance("beyond", "1 nmi");
    let cross = || run(RunUntil::Centre).crossing().part("cross");
    let on = vec![
        run(run_for(out)).at_speed(speed).lengthened().part("on"),
        turn(90.0, TurnTowards::Away, by).part("quarter turn"),
        turn(270.0, TurnTowards::Back, by).part("turn back"),
        cross(),
        run(run_for(beyond)).part("straight on"),
    ];
    let back = vec![
        turn(180.0, TurnTowards::Away, by)
            .at_speed(speed)
            .part("break"),
        climb(run_for(out), Angle::ZERO)
            .steady()
            .lengthened()
            .part("back beside the line"),
        turn(180.0, TurnTowards::Crowd, by).part("turn in"),
        cross(),
        run(run_for(beyond)).part("straight on"),
    ];
    [on, back]
}

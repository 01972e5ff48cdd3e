//! Rolls round a level path, or nearly so.

use super::legs::{deg, loaded_roll, pull, roll, run, run_a_while};
use super::{Build, Named, Parameters};
use crate::show::{Leg, PullBy, PullUntil};

pub(super) static FIGURES: &[Named] = &[
    Named {
        name: "slow roll",
        what: "a slow roll",
        says: "once round, straight and level, slowly",
        build: Build::Together(slow_roll),
    },
    Named {
        name: "four-point roll",
        what: "a four-point roll",
        says: "once round, straight and level, with a pause at each quarter",
        build: Build::Together(four_point_roll),
    },
    Named {
        name: "loaded roll",
        what: "a loaded roll",
        says: "a barrel roll: up a little, once round with the lift kept on, back to level",
        build: Build::Together(loaded),
    },
];

fn slow_roll(p: &mut Parameters) -> Vec<Leg> {
    let rate = p.number("rate", "60", 5.0, 1000.0);
    let towards = p.roll_towards();
    let round = roll(deg(360.0), Some(deg(rate)), towards);
    vec![round.steady().part("roll")]
}

fn four_point_roll(p: &mut Parameters) -> Vec<Leg> {
    let pause = p.span("pause", "1 s");
    let (rate, towards) = (p.roll_rate(), p.roll_towards());
    let points = ["first point", "second point", "third point", "fourth point"];
    let mut legs = Vec::new();
    for point in points {
        let quarter = roll(deg(90.0), rate, towards);
        legs.push(quarter.steady().part(point));
        legs.push(run(run_a_while(pause)).steady().part(point));
    }
    // After the last point it is level and the figure over.
    legs.pop();
    legs
}

fn loaded(p: &mut Parameters) -> Vec<Leg> {
    let load = p.load("g", "2");
    let up = p.angle("up", "20 deg", 1.0, 80.0);
    let up_load = p.load("pull_g", "3");
    let rate = p.number("rate", "90", 5.0, 1000.0);
    let towards = p.roll_towards();
    vec![
        pull(PullUntil::Climb(up), PullBy::Load(up_load)).part("pull up"),
        loaded_roll(deg(360.0), deg(rate), towards, load).part("roll"),
        pull(PullUntil::Out, PullBy::Load(up_load)).part("level out"),
    ]
}

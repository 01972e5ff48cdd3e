//! Back to the display line, headed for crowd centre from the other side.

use super::legs::{TO_LEVEL, climb, pull, roll, run, run_for, turn};
use super::{Build, Named, Parameters};
use crate::show::{HARDEST, Leg, PullBy, PullUntil, TurnTowards};
use crate::units::Angle;

pub(super) static FIGURES: &[Named] = &[
    Named {
        name: "90-270",
        what: "a 90-270",
        says: "out, a quarter turn, three quarters back the other way, and in along the line",
        build: Build::Together(ninety_two_seventy),
    },
    Named {
        name: "teardrop",
        what: "a teardrop",
        says: "out, a little aside, round the other way, and in along the line",
        build: Build::Together(teardrop),
    },
    Named {
        name: "wing-over",
        what: "a wing-over",
        says: "up, over on edge away from the crowd to the other direction, down, and in along the line",
        build: Build::Together(wing_over),
    },
];

fn ninety_two_seventy(p: &mut Parameters) -> Vec<Leg> {
    let speed = p.speed();
    let out = p.distance("out", "1 nmi");
    let by = p.turn_by("3");
    let towards = p.turn_towards();
    let inwards = p.distance("in", "1 nmi");
    vec![
        run(run_for(out)).at_speed(speed).part("out"),
        turn(90.0, towards, by).part("quarter turn"),
        turn(270.0, TurnTowards::Back, by).part("turn back"),
        run(run_for(inwards)).part("in"),
    ]
}

fn teardrop(p: &mut Parameters) -> Vec<Leg> {
    let speed = p.speed();
    let out = p.distance("out", "1 nmi");
    let aside = p.angle("aside", "45 deg", 10.0, 80.0);
    let beside = p.distance("beside", "0.6 nmi");
    let by = p.turn_by("3");
    let towards = p.turn_towards();
    let inwards = p.distance("in", "1 nmi");
    vec![
        run(run_for(out)).at_speed(speed).part("out"),
        turn(aside.deg(), towards, by).part("aside"),
        climb(run_for(beside), Angle::ZERO)
            .steady()
            .part("beside the line"),
        turn(180.0 + aside.deg(), TurnTowards::Back, by).part("turn back"),
        run(run_for(inwards)).part("in"),
    ]
}

fn wing_over(p: &mut Parameters) -> Vec<Leg> {
    let up = p.angle("up", "40 deg", 10.0, 60.0);
    let load = p.number("g", "2", 1.2, HARDEST);
    let (rate, towards) = (p.roll_rate(), p.rolls_towards("away"));
    let inwards = p.distance("in", "1 nmi");
    let bank = p.angle("bank", "60 deg", 30.0, 120.0);
    let down = p.number("power_down", "0", -1.0, 1.0);
    let by = PullBy::Load(load);
    vec![
        pull(PullUntil::Climb(up), by).part("pull up"),
        roll(bank, rate, towards).part("bank"),
        pull(PullUntil::Climb(-up), by).part("over"),
        // By now its heading is the other one.
        roll(bank, rate, TurnTowards::Back)
            .with_power(down)
            .part("wings level"),
        pull(TO_LEVEL, by).with_power(down).part("pull out"),
        run(run_for(inwards)).part("in"),
    ]
}

//! Passes and turns: what is flown level along the display line.

use super::legs::{TO_LEVEL, deg, other_way, pull, push, roll, run, run_for, turn};
use super::vertical::over_the_top;
use super::{Build, Named, Parameters};
use crate::show::{Leg, LegSpeed, PullBy, PullUntil, RunUntil};
use crate::units::Length;

pub(super) static FIGURES: &[Named] = &[
    Named {
        name: "level 360",
        what: "a level 360",
        says: "a full circle at one height; `centre` runs to crowd centre before it",
        build: Build::Together(level_360),
    },
    Named {
        name: "slow pass",
        what: "a slow pass",
        says: "past crowd centre slowly, then at full power out to the vertical, over the top and upright again",
        build: Build::Together(slow_pass),
    },
    Named {
        name: "maximum-speed pass",
        what: "a maximum-speed pass",
        says: "past crowd centre as fast as it may, and straight on",
        build: Build::Together(maximum_speed_pass),
    },
    Named {
        name: "knife-edge pass",
        what: "a knife-edge pass",
        says: "past crowd centre on edge; wings level, up and pushed back to level; on edge again",
        build: Build::Together(knife_edge_pass),
    },
    Named {
        name: "belly pass",
        what: "a belly pass",
        says: "past crowd centre banked away from the crowd, so that it sees it from below",
        build: Build::Together(belly_pass),
    },
    Named {
        name: "bay-door pass",
        what: "a bay-door pass",
        says: "bay doors open on the run-in, past crowd centre, doors closed again",
        build: Build::Together(bay_door_pass),
    },
    Named {
        name: "memorial pass",
        what: "a memorial pass",
        says: "past crowd centre level and straight, and straight on",
        build: Build::Together(memorial_pass),
    },
];

fn level_360(p: &mut Parameters) -> Vec<Leg> {
    let by = p.turn_by("4");
    let towards = p.turn_towards();
    let speed = p.speed();
    let mut legs = Vec::new();
    if p.flag("centre") {
        let to_centre = run(RunUntil::Centre).at_speed(speed).passing();
        legs.push(to_centre.part("run to crowd centre"));
    }
    legs.push(turn(360.0, towards, by).at_speed(speed).part("circle"));
    legs
}

fn slow_pass(p: &mut Parameters) -> Vec<Leg> {
    let speed = p.usual_speed("75 kt cas");
    let height = p.new_height();
    let pull_up = p.airspeed("pull_up", "200 kt cas");
    let by = p.pull_by("3");
    let [climb, over, roll_out] = over_the_top(p, "120 kt cas");
    vec![
        run(RunUntil::Centre)
            .at_speed(speed)
            .at_height(height)
            .passing()
            .part("pass"),
        run(RunUntil::Speed(pull_up))
            .with_power(1.0)
            .part("acceleration"),
        pull(PullUntil::Vertical, by).part("pull to the vertical"),
        climb,
        over,
        roll_out,
    ]
}

fn maximum_speed_pass(p: &mut Parameters) -> Vec<Leg> {
    let speed = p.usual_speed("0.94 mach");
    let height = p.new_height();
    let beyond = p.distance("beyond", "1 nmi");
    straight_past(speed, height, beyond)
}

fn memorial_pass(p: &mut Parameters) -> Vec<Leg> {
    let speed = p.speed();
    let height = p.new_height();
    let beyond = p.distance("beyond", "1 nmi");
    straight_past(speed, height, beyond)
}

fn straight_past(speed: Option<LegSpeed>, height: Option<Length>, beyond: Length) -> Vec<Leg> {
    vec![
        run(RunUntil::Centre)
            .at_speed(speed)
            .at_height(height)
            .passing()
            .part("pass"),
        run(run_for(beyond)).part("straight on"),
    ]
}

fn knife_edge_pass(p: &mut Parameters) -> Vec<Leg> {
    let height = p.new_height();
    let beyond = p.distance("beyond", "0.3 nmi");
    let (rate, towards) = (p.roll_rate(), p.rolls_towards("crowd"));
    let up = p.angle("up", "15 deg", 1.0, 60.0);
    let by = PullBy::Load(p.load("g", "3"));
    let push_load = p.negative_load("push_g", "-1.5");
    let over = |side, part| roll(deg(90.0), rate, side).steady().part(part);
    let back = other_way(towards);
    vec![
        over(towards, "roll to the edge"),
        run(RunUntil::Centre)
            .steady()
            .at_height(height)
            .passing()
            .part("pass on edge"),
        over(back, "roll to level"),
        pull(PullUntil::Climb(up), by).steady().part("pull up"),
        push(TO_LEVEL, push_load).steady().part("push to level"),
        over(back, "roll to the other edge"),
        run(run_for(beyond)).steady().part("on the other edge"),
        over(towards, "roll to level again"),
    ]
}

fn belly_pass(p: &mut Parameters) -> Vec<Leg> {
    let height = p.new_height();
    let bank = p.angle("bank", "60 deg", 5.0, 90.0);
    let (rate, towards) = (p.roll_rate(), p.rolls_towards("away"));
    let beyond = p.distance("beyond", "0.5 nmi");
    let over = |side, part| roll(bank, rate, side).steady().part(part);
    vec![
        over(towards, "bank"),
        run(RunUntil::Centre)
            .steady()
            .at_height(height)
            .passing()
            .part("pass"),
        run(run_for(beyond)).steady().part("straight on"),
        over(other_way(towards), "wings level"),
    ]
}

fn bay_door_pass(p: &mut Parameters) -> Vec<Leg> {
    let speed = p.usual_speed("240 kt cas");
    let height = p.new_height();
    let doors = RunUntil::Time(p.span("doors", "6 s"));
    let beyond = p.distance("beyond", "0.5 nmi");
    vec![
        run(doors)
            .at_speed(speed)
            .at_height(height)
            .part("doors open"),
        run(RunUntil::Centre).passing().part("pass"),
        run(run_for(beyond)).part("straight on"),
        run(doors).part("doors closed"),
    ]
}

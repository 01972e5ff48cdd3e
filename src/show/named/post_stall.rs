//! Where the nose leaves the path: for an aircraft whose engine can turn it.

use super::legs::{Falling, TO_LEVEL, climb, deg, pivot, pull, roll, run};
use super::{Build, Named, Parameters};
use crate::show::{Leg, PivotAbout, PullBy, PullUntil, RunUntil, TurnTowards};

pub(super) static FIGURES: &[Named] = &[
    Named {
        name: "pull past vertical",
        what: "a pull past the vertical",
        says: "up, slow, the nose on past the vertical, out under power, over the top and upright, headed back",
        build: Build::Together(past_vertical),
    },
    Named {
        name: "post-stall reversal",
        what: "a post-stall reversal",
        says: "up until it is slow, the nose round to where it came from, out, and level, headed back",
        build: Build::Together(reversal),
    },
    Named {
        name: "pedal turn",
        what: "a pedal turn",
        says: "slow, then flat round while it falls; out, and level",
        build: Build::Together(pedal_turn),
    },
    Named {
        name: "tight powered loop",
        what: "a tight powered loop",
        says: "up, the nose over the top while it hangs on its engine, out nose down, and level",
        build: Build::Together(tight_loop),
    },
];

/// How the nose turns and the aircraft falls meanwhile.
fn falling(
    p: &mut Parameters,
    rate: &'static str,
    sink: &'static str,
    thrust: &'static str,
    out: &'static str,
) -> Falling {
    Falling {
        rate: deg(p.number("turn_rate", rate, 5.0, 1000.0)),
        sink: p.fall("sink", sink),
        thrust: p.number("thrust", thrust, 0.0, 3.0),
        out: p.airspeed("out", out),
    }
}

fn past_vertical(p: &mut Parameters) -> Vec<Leg> {
    let by = p.pull_by("4");
    let up = p.angle("up", "60 deg", 5.0, 85.0);
    let slow = p.airspeed("slow", "150 kt cas");
    let round = p.angle("nose", "70 deg", 10.0, 180.0);
    let falling = falling(p, "60", "60 m/s", "1", "80 kt cas");
    let over = PullBy::Load(p.load("top_g", "1"));
    vec![
        pull(PullUntil::Climb(up), by).part("pull up"),
        climb(RunUntil::Speed(slow), up)
            .with_power(-0.5)
            .part("climb"),
        pivot(round, PivotAbout::Pitch, falling).part("nose past the vertical"),
        pull(TO_LEVEL, over).part("over the top"),
        roll(deg(180.0), None, TurnTowards::PilotsRight)
            .steady()
            .part("roll out"),
    ]
}

fn reversal(p: &mut Parameters) -> Vec<Leg> {
    let by = p.pull_by("4");
    let up = p.angle("up", "60 deg", 5.0, 85.0);
    let slow = p.airspeed("slow", "100 kt cas");
    let falling = falling(p, "60", "60 m/s", "0.5", "120 kt cas");
    let side = p.yaw_towards();
    vec![
        pull(PullUntil::Climb(up), by).part("pull up"),
        climb(RunUntil::Speed(slow), up)
            .with_power(-0.5)
            .part("climb"),
        pivot(deg(180.0), PivotAbout::Yaw(side), falling).part("nose round"),
        pull(TO_LEVEL, by).part("pull out"),
    ]
}

fn pedal_turn(p: &mut Parameters) -> Vec<Leg> {
    let slow = p.airspeed("slow", "100 kt cas");
    let round = p.angle("nose", "360 deg", 10.0, 3600.0);
    let falling = falling(p, "90", "30 m/s", "0.3", "140 kt cas");
    let side = p.yaw_towards();
    let by = p.pull_by("2");
    vec![
        run(RunUntil::Speed(slow)).with_power(-1.0).part("slowing"),
        pivot(round, PivotAbout::Yaw(side), falling).part("flat turn"),
        pull(TO_LEVEL, by).part("pull out"),
    ]
}

fn tight_loop(p: &mut Parameters) -> Vec<Leg> {
    let by = p.pull_by("5");
    let falling = falling(p, "90", "60 m/s", "1", "120 kt cas");
    let out = PullBy::Load(p.load("out_g", "3"));
    vec![
        pull(PullUntil::Vertical, by).part("pull to the vertical"),
        pivot(deg(180.0), PivotAbout::Pitch, falling).part("nose over the top"),
        pull(TO_LEVEL, out)
            .with_power_or_same(None)
            .part("pull out"),
    ]
}

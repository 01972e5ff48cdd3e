//! Back to the display line, headed for crowd centre from the other side.

use super::legs::{climb, pull, roll, run, run_for, turn};
use super::{Build, Named, Parameters};
use crate::show::{HARDEST, Leg, PullBy, PullUntil, TurnBy, TurnTowards};
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
        says: "out, a little aside, round the other way, and in along the line; without a way `beside` the turn \
               aside is as gentle as leads back onto the line",
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
    let aside = p.angle("aside", "60 deg", 30.0, 80.0);
    let beside = p.any_distance("beside", "0.6 nmi");
    let by = p.turn_by("3");
    let towards = p.turn_towards();
    let inwards = p.distance("in", "1 nmi");
    let aside_by = match beside {
        Some(_) => by,
        None => gentler(by, aside),
    };
    let mut legs = vec![
        run(run_for(out)).at_speed(speed).part("out"),
        turn(aside.deg(), towards, aside_by).part("aside"),
    ];
    legs.extend(beside.map(|beside| {
        let on = climb(run_for(beside), Angle::ZERO);
        on.steady().part("beside the line")
    }));
    legs.extend([
        turn(180.0 + aside.deg(), TurnTowards::Back, by).part("turn back"),
        run(run_for(inwards)).part("in"),
    ]);
    legs
}

/// How hard to turn `aside` for a turn back at `back` to end on the line again, at one speed: of radii r for the first
/// and R for the second, r (1 − cos a) = R (1 + cos a), and a radius goes as the inverse of the tangent of the bank.
fn gentler(back: TurnBy, aside: Angle) -> TurnBy {
    let share = (1.0 - aside.rad().cos()) / (1.0 + aside.rad().cos());
    let tan: f64 = match back {
        TurnBy::Bank(bank) => bank.rad().tan(),
        TurnBy::Load(load) => (load * load - 1.0_f64).sqrt(),
        // How tight that is is known where it is flown: as for the usual one.
        TurnBy::Tightest => 8_f64.sqrt(),
    };
    TurnBy::Load((share * tan).hypot(1.0))
}

fn wing_over(p: &mut Parameters) -> Vec<Leg> {
    let up = p.angle("up", "40 deg", 10.0, 60.0);
    let load = p.number("g", "2", 1.2, HARDEST);
    let (rate, towards) = (p.roll_rate(), p.rolls_towards("away"));
    let inwards = p.distance("in", "1 nmi");
    let bank = p.angle("bank", "60 deg", 30.0, 120.0);
    let (power, down) = (p.power("power"), p.power("power_down"));
    let by = PullBy::Load(load);
    vec![
        pull(PullUntil::Climb(up), by)
            .with_power_or_same(power)
            .part("pull up"),
        roll(bank, rate, towards)
            .with_power_or_same(power)
            .part("bank"),
        pull(PullUntil::Back, by)
            .with_power_or_same(power)
            .part("over"),
        roll(bank, rate, TurnTowards::Back)
            .with_power_or_same(down)
            .part("wings level"),
        pull(PullUntil::Out, by)
            .with_power_or_same(down)
            .part("pull out"),
        run(run_for(inwards)).part("in"),
    ]
}

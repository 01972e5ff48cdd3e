//! What goes up, over and down again.

use super::legs::{Falling, TO_LEVEL, climb, coast, deg, pivot, pull, roll, run, turn_until};
use super::{Build, Named, Parameters};
use crate::show::{
    CoastUntil, HARDEST, Leg, Limits, Needs, PivotAbout, PullBy, PullUntil, RunUntil, TurnBy,
    TurnTowards, TurnUntil,
};

pub(super) static FIGURES: &[Named] = &[
    Named {
        name: "loop",
        what: "a loop",
        says: "up, over the top inverted, down and level again; `top_g` is what is pulled over the top; without a \
               power it keeps its energy, and ends as high as it began",
        build: Build::Together(a_loop),
    },
    Named {
        name: "half loop and roll out",
        what: "a half loop and roll out",
        says: "half a loop upwards, then upright: higher, and headed back",
        build: Build::Together(half_loop),
    },
    Named {
        name: "split-S",
        what: "a split-S",
        says: "on its back, then half a loop downwards: lower, and headed back",
        build: Build::Together(split_s),
    },
    Named {
        name: "climb to split-S",
        what: "a climb to a split-S",
        says: "up a slope to a gate, level on its back there, then half a loop downwards if the gate is made",
        build: Build::Together(climb_to_split_s),
    },
    Named {
        name: "vertical climb",
        what: "a vertical climb",
        says: "after take-off: faster, straight up until it is slow, over the top and upright, headed back",
        build: Build::Together(vertical_climb),
    },
    Named {
        name: "vertical roll",
        what: "a vertical roll",
        says: "straight up, a roll on the way, over the top and upright, headed back",
        build: Build::Together(vertical_roll),
    },
    Named {
        name: "tail slide",
        what: "a tail slide",
        says: "straight up until it stands, back tail first, nose down, out; `entered` says from where, and it \
               leaves away from the crowd then",
        build: Build::Together(tail_slide),
    },
];

fn a_loop(p: &mut Parameters) -> Vec<Leg> {
    let by = p.pull_by("4");
    let over = over_by(p, by);
    let (up, down) = (p.power("power"), p.power("power_down"));
    let quarter = PullUntil::Round(deg(90.0));
    vec![
        pull(PullUntil::Vertical, by)
            .with_power_or_same(up)
            .part("first quarter"),
        pull(TO_LEVEL, over)
            .with_power_or_same(up)
            .part("second quarter"),
        pull(quarter, over)
            .with_power_or_same(down)
            .part("third quarter"),
        pull(TO_LEVEL, by)
            .with_power_or_same(down)
            .part("last quarter"),
    ]
}

/// What is pulled over the top: a round loop keeps its radius.
fn over_by(p: &mut Parameters, by: PullBy) -> PullBy {
    let load = PullBy::Load(p.load("top_g", "2"));
    match by {
        PullBy::Radius(_) => by,
        PullBy::Load(_) => load,
    }
}

fn half_loop(p: &mut Parameters) -> Vec<Leg> {
    let by = p.pull_by("4");
    let over = over_by(p, by);
    let (rate, towards) = (p.roll_rate(), p.roll_towards());
    vec![
        pull(PullUntil::Vertical, by).part("first quarter"),
        pull(TO_LEVEL, over).part("second quarter"),
        roll(deg(180.0), rate, towards).steady().part("roll out"),
    ]
}

fn split_s(p: &mut Parameters) -> Vec<Leg> {
    let by = p.pull_by("4");
    let power = p.number("power", "0", -1.0, 1.0);
    let (rate, towards) = (p.roll_rate(), p.roll_towards());
    vec![
        roll(deg(180.0), rate, towards).steady().part("half roll"),
        // By way of straight down: level is also where it begins.
        pull(PullUntil::Vertical, by)
            .with_power(power)
            .part("pull down"),
        pull(TO_LEVEL, by).with_power(power).part("pull through"),
    ]
}

fn climb_to_split_s(p: &mut Parameters) -> Vec<Leg> {
    let by = p.pull_by("4");
    let slope = p.angle("climb", "45 deg", 5.0, 80.0);
    let gate = p.height("gate", "4000 ft");
    let climb_power = p.number("climb_power", "1", -1.0, 1.0);
    let gate_speed = p.airspeed("gate_speed", "200 kt cas");
    let over = PullBy::Load(p.load("top_g", "1"));
    let power = p.number("power", "0", -1.0, 1.0);
    let (rate, towards) = (p.roll_rate(), p.roll_towards());
    let needs = Needs {
        height: Some(Limits {
            least: Some(gate),
            most: None,
        }),
        speed: Some(Limits {
            least: None,
            most: Some(gate_speed),
        }),
        at: 0..0,
    };
    vec![
        pull(PullUntil::Climb(slope), by).part("pull up"),
        climb(RunUntil::Height(gate), slope)
            .with_power(climb_power)
            .part("climb"),
        roll(deg(180.0), rate, towards)
            .with_power(climb_power)
            .part("half roll"),
        pull(TO_LEVEL, over)
            .with_power(climb_power)
            .part("over the top"),
        pull(TO_LEVEL, by)
            .with_power(power)
            .needing(needs)
            .part("split-S"),
    ]
}

fn vertical_climb(p: &mut Parameters) -> Vec<Leg> {
    let begun = p.airspeed("pull_up", "200 kt cas");
    let by = p.pull_by("5");
    let [climb, over, roll_out] = over_the_top(p, "80 kt cas");
    vec![
        run(RunUntil::Speed(begun))
            .with_power(1.0)
            .part("acceleration"),
        pull(PullUntil::Vertical, by).part("pull to the vertical"),
        climb,
        over,
        roll_out,
    ]
}

fn vertical_roll(p: &mut Parameters) -> Vec<Leg> {
    let by = p.pull_by("5");
    let round = p.angle("round", "360 deg", 10.0, 3600.0);
    let rate = p.roll_rate();
    let towards = p.roll_towards();
    let [climb, over, roll_out] = over_the_top(p, "80 kt cas");
    vec![
        pull(PullUntil::Vertical, by).part("pull to the vertical"),
        roll(round, rate, towards).part("roll"),
        climb,
        over,
        roll_out,
    ]
}

/// From the vertical: up until it is slow, over the top on its back, upright.
pub(super) fn over_the_top(p: &mut Parameters, slow: &'static str) -> [Leg; 3] {
    let top = p.airspeed("top", slow);
    let load = p.load("top_g", "1");
    let power = p.number("power", "1", -1.0, 1.0);
    [
        climb(RunUntil::Speed(top), deg(90.0))
            .with_power(power)
            .part("vertical climb"),
        pull(TO_LEVEL, PullBy::Load(load))
            .with_power(power)
            .part("over the top"),
        roll(deg(180.0), None, TurnTowards::PilotsRight)
            .steady()
            .part("roll out"),
    ]
}

fn tail_slide(p: &mut Parameters) -> Vec<Leg> {
    let entered = p.word("entered", &["front", "behind"]);
    let by = p.pull_by("4");
    let turn_in = TurnBy::Load(p.number("turn_g", "4", 1.001, HARDEST));
    let cut = p.airspeed("power_off", "100 kt cas");
    let power = p.number("power", "0", -1.0, 1.0);
    let slide = p.span("slide", "1.5 s");
    let falling = Falling {
        rate: deg(p.number("fall_rate", "120", 10.0, 1000.0)),
        sink: p.fall("sink", "60 m/s"),
        thrust: 0.0,
        out: p.airspeed("out", "120 kt cas"),
    };
    let until = match entered {
        Some("front") => Some(TurnUntil::Crowd),
        Some("behind") => Some(TurnUntil::Away),
        _ => None,
    };
    let mut legs = Vec::new();
    if let Some(until) = until {
        let turned = turn_until(until, TurnTowards::Crowd, turn_in);
        legs.push(turned.part("turn in"));
    }
    legs.extend([
        pull(PullUntil::Vertical, by).part("pull to the vertical"),
        climb(RunUntil::Speed(cut), deg(90.0))
            .with_power(power)
            .part("vertical climb"),
    ]);
    if entered == Some("front") {
        // It came at the crowd and would leave over it.
        legs.push(roll(deg(180.0), None, TurnTowards::PilotsRight).part("half roll"));
    }
    legs.extend([
        coast(CoastUntil::Top).part("to a stand"),
        coast(CoastUntil::Time(slide)).part("slide"),
        pivot(deg(180.0), PivotAbout::Pitch, falling).part("nose down"),
        pull(TO_LEVEL, by).part("pull out"),
    ]);
    legs
}

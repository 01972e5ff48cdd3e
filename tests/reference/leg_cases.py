"""Reference values for tests/integrator.rs: randomised figures through legs.py, seeded.

    pip install numpy==2.4.6 scipy==1.17.1 ambiance==1.3.1 && python leg_cases.py

Writes legs.json beside itself: site, day, aircraft and legs as text of the show document; and for the end
of every leg a row of time from the figure's start (s), place (m), velocity through the air and over the
ground (m/s). seconds_per_mps: how much longer the figure lasts for each metre a second more wind towards
the crowd's right, by flying it in one more and in one less.
"""

import json
import math
import pathlib

import numpy as np
from ambiance import Atmosphere

from legs import KNOT, Aircraft, CannotFly, Day, Flying, airspeed, quantity

SEED = 20_260_611
HERE = pathlib.Path(__file__).parent


def check_air():
    """legs.py's own air against ambiance, on a standard day over a site 300 m up."""
    day = Day(300.0, 15 - 0.0065 * 300, 101325.0, [(0, 0, 0)], 0, 230)
    for z in [0.0, 500.0, 2000.0, 6000.0]:
        theirs = Atmosphere(Atmosphere.geop2geom_height(300 + z))
        ours = day.air(z)
        assert abs(ours[0] / theirs.pressure[0] - 1) < 1e-5 and abs(ours[1] / theirs.speed_of_sound[0] - 1) < 1e-5


class Draw:
    """Numbers as a document writes them."""

    def __init__(self, rng):
        self.rng = rng

    def num(self, low, high, places=1):
        return round(float(self.rng.uniform(low, high)), places)

    def text(self, low, high, unit, places=0):
        number = self.num(low, high, places)
        return f"{number:g} {unit}"

    def one(self, *choices):
        return choices[int(self.rng.integers(len(choices)))]


def entry(d, low, high, feet=(400, 1500), named=None):
    """The hold, and the run every figure begins with."""
    kind = named or d.one("cas", "tas")
    return [
        {"hold": d.text(3, 6, "km", 2), "expect": "10 s", "spread": "5 s"},
        {"run": "for " + d.text(0.5, 1.5, "km", 2), "speed": d.text(low, high, f"kt {kind}"), "height": d.text(*feet, "ft")},
    ]


def out(d):
    return {"run": "for " + d.text(0.5, 2, "km", 2)}


# A figure is a list of legs, each a table or a function that makes one from where the aircraft is.


def turns(d):
    return entry(d, 180, 380) + [
        {"turn": d.text(40, 400, "deg"), "bank": d.text(25, 78, "deg"), "towards": d.one("left", "right", "away")},
        {"run": "for " + d.text(5, 20, "s", 1)},
        {"turn": d.one("to right", "to left", "to away", "to crowd"), "g": d.num(1.5, 6), "towards": d.one("left", "right")},
        {"run": "for " + d.text(5, 20, "s", 1)},
    ]


def gains(d):
    kind, unit = d.one(("cas", "kt"), ("tas", "kt"), ("mach", ""))
    fast = f"to {d.num(0.5, 0.7, 2):g} mach" if kind == "mach" else f"to {d.num(250, 400, 0):g} {unit} {kind}"
    return entry(d, 180, 300) + [
        {"run": "for " + d.text(2, 5, "km", 2), "speed": fast, "gain": d.text(1, 6, "kt/s", 1)},
        {"turn": d.text(90, 300, "deg"), "g": d.num(2, 5), "towards": "away", "speed": "to " + d.text(200, 260, "kt cas"), "gain": d.text(2, 6, "kt/s", 1)},
        out(d),
    ]


def pass_and_turn_back(d):
    return entry(d, 200, 300) + [
        {"run": "to centre", "pass": True},
        {"run": "for " + d.text(2, 4, "km", 2)},
        {"turn": "180 deg", "bank": d.text(55, 70, "deg"), "towards": "away"},
        {"run": "to centre", "pass": True},
        out(d),
    ]


def level_energy(d):
    return entry(d, 150, 250) + [
        {"run": "for " + d.text(5, 15, "s", 1), "speed": "energy"},
        {"turn": d.text(90, 270, "deg"), "g": d.num(3, 7), "towards": d.one("left", "right"), "speed": "energy"},
        {"run": "to speed " + d.text(140, 160, "kt cas"), "speed": "energy", "power": d.num(-1, -0.3, 2)},
        {"turn": d.text(60, 180, "deg"), "bank": d.text(30, 60, "deg"), "towards": d.one("left", "right"), "speed": "energy", "power": d.num(0.2, 1, 2)},
        out(d),
    ]


def climb_out(d):
    pitch = d.num(20, 60, 0)
    return entry(d, 250, 380) + [
        {"pull": f"to {pitch:g} deg", "g": d.num(2, 5)},
        {"run": "to height " + d.text(2500, 5000, "ft"), "pitch": f"{pitch:g} deg"},
        {"push": "to level", **d.one({"g": d.num(-1.5, 0.3)}, {"radius": d.text(400, 1200, "m")})},
        out(d),
    ]


def held_in_the_vertical(d):
    """Speed held as it is named while the path is pulled, pushed, rolled and climbs."""
    pitch, held = d.num(15, 40, 0), d.one(d.text(200, 300, "kt cas"), f"{d.num(0.35, 0.5, 2):g} mach", d.text(200, 300, "kt tas"))
    return entry(d, 200, 260) + [
        {"pull": f"to {pitch:g} deg", "g": d.num(2, 4), "speed": held},
        {"run": "for " + d.text(5, 12, "s", 1), "pitch": f"{pitch:g} deg", "speed": held},
        {"roll": "360 deg", "speed": held},
        {"push": f"to {-pitch:g} deg", "g": d.num(-1, 0), "speed": held},
        {"run": "for " + d.text(2, 4, "s", 1), "pitch": f"{-pitch:g} deg", "speed": held},
        {"pull": "to level", "g": d.num(2, 4), "speed": held},
        out(d),
    ]


def loop(d):
    return entry(d, 280, 400) + [
        {"pull": "360 deg", **d.one({"g": d.num(3.5, 6)}, {"radius": d.text(200, 450, "m")})},
        out(d),
    ]


def loop_in_quarters(d):
    return entry(d, 300, 400) + [
        {"pull": "to vertical", "g": d.num(4, 6)},
        {"pull": "to level", "radius": d.text(180, 350, "m")},
        {"pull": "to vertical", "g": d.num(2.5, 4), "power": d.num(-0.5, 0.5, 2)},
        {"pull": "to level", "g": d.num(3.5, 6)},
        out(d),
    ]


def outside(d):
    """Half a loop pushed from inverted flight, rolled upright at the top."""
    return entry(d, 300, 400) + [
        {"roll": "180 deg", "towards": d.one("left", "right")},
        {"push": "180 deg", "g": d.num(-4, -2.8)},
        out(d),
    ]


def half_loop_and_roll(d):
    return entry(d, 300, 400) + [
        {"pull": "180 deg", "g": d.num(4, 6)},
        {"run": "for " + d.text(1, 3, "s", 1), "speed": "energy", "power": d.num(0.2, 1, 2)},
        {"roll": "180 deg", "rate": d.num(60, 300, 0), "towards": d.one("left", "right")},
        {"pull": "to 20 deg", "g": d.num(1.5, 2.5)},
        {"run": "for 2 s", "pitch": "20 deg"},
    ]


def split_s(d):
    return entry(d, 160, 220, feet=(4500, 6000)) + [
        {"roll": "180 deg", "rate": d.num(60, 200, 0), "towards": d.one("left", "right")},
        {"pull": d.one("to level", "180 deg"), "g": d.num(3, 5), "power": d.num(-0.5, 0.5, 2)},
        out(d),
    ]


def half_cuban(d):
    return entry(d, 300, 400) + [
        {"pull": "to -45 deg", "g": d.num(4, 6)},
        {"run": "for " + d.text(1, 3, "s", 1), "pitch": "-45 deg"},
        {"roll": "180 deg", "rate": d.num(120, 300, 0)},
        {"pull": "to level", "g": d.num(3, 6)},
        out(d),
    ]


def barrel_roll(d):
    return entry(d, 250, 350, feet=(1500, 3000)) + [
        {"pull": d.text(15, 30, "deg"), "g": d.num(2.5, 4)},
        {"roll": "360 deg", "rate": d.num(40, 90, 0), "g": d.num(1.5, 2.5), "towards": d.one("left", "right")},
        lambda flying: {"pull" if flying.u[2] < 0 else "push": "to level", "g": 2.5 if flying.u[2] < 0 else 0.0},
    ]


def nearly_level(d):
    """A pull to level begun less than a degree below it is a short one, not a loop."""
    return entry(d, 220, 320, feet=(1500, 3000)) + [
        {"pull": d.text(10, 20, "deg"), "g": d.num(2, 3)},
        {"push": "to " + d.text(-0.9, -0.2, "deg", 1), "g": 0.2},
        {"pull": "to level", "g": d.num(1.5, 2)},
        out(d),
    ]


def wing_over(d):
    return entry(d, 220, 320, feet=(1500, 3000)) + [
        {"pull": d.text(25, 50, "deg"), "g": d.num(2.5, 4)},
        {"roll": d.text(50, 85, "deg"), "g": d.num(0.5, 1.5), "towards": d.one("left", "right")},
        {"pull": "to level", "g": d.num(1.5, 3)},
        {"pull": "to " + d.text(-25, -5, "deg"), "g": d.num(1.2, 2)},
    ]


def rolls_on_lines(d):
    up = d.num(30, 60, 0)
    return entry(d, 300, 380) + [
        {"pull": f"to {up:g} deg", "radius": d.text(250, 500, "m")},
        {"roll": d.text(180, 720, "deg"), "rate": d.num(150, 360, 0), "towards": d.one("left", "right")},
        {"run": "to speed " + d.text(170, 200, "kt cas"), "pitch": f"{up:g} deg", "power": d.num(-0.5, 0.5, 2)},
    ]


def over_the_top(d):
    """A coast over the top, caught again on the way down."""
    up = d.num(40, 70, 0)
    return entry(d, 250, 330) + [
        {"pull": f"to {up:g} deg", "g": d.num(3, 5)},
        {"run": "to speed " + d.text(130, 150, "kt cas"), "pitch": f"{up:g} deg", "power": 0.0},
        {"coast": "to top"},
        {"coast": d.one("for 3 s", "to speed " + d.text(95, 110, "kt tas"))},
        {"pull": "to level", "g": d.num(1.5, 2.5)},
        out(d),
    ]


def coasts(d):
    return entry(d, 250, 330, feet=(1500, 2500)) + [
        {"pull": "to 70 deg", "g": d.num(3, 5)},
        {"coast": "to speed " + d.text(130, 150, "kt cas")},
        {"coast": "to top"},
        lambda flying: {"coast": f"to height {round(flying.p[2] / 0.3048 - 200):g} ft"},
    ]


def tail_slide(d):
    return entry(d, 300, 380, feet=(1000, 2000)) + [
        {"pull": "to vertical", "radius": d.text(200, 350, "m")},
        {"run": "to speed " + d.text(70, 110, "kt tas"), "pitch": "90 deg", "power": d.num(-0.5, 0.3, 2)},
        {"coast": "to top"},
        {"coast": "for " + d.text(0.5, 2, "s", 1)},
        {"pivot": "180 deg", "rate": d.num(60, 120, 0), "sink": d.text(35, 60, "m/s")},
        {"run": "to speed " + d.text(130, 170, "kt tas"), "pitch": "-90 deg"},
        {"pull": "to level", "g": d.num(3, 5)},
        out(d),
    ]


def stall_turn(d):
    return entry(d, 300, 380, feet=(1000, 2000)) + [
        {"pull": "to vertical", "g": d.num(3.5, 5)},
        {"run": "to speed " + d.text(50, 80, "kt tas"), "pitch": "90 deg", "power": 0.0},
        {"coast": "to speed " + d.text(15, 30, "kt tas")},
        {"pivot": "180 deg", "rate": d.num(60, 120, 0), "about": "yaw", "towards": d.one("left", "right"), "sink": d.text(35, 60, "m/s")},
        {"coast": "for 1.5 s"},
        {"run": "to speed " + d.text(130, 170, "kt tas"), "pitch": "-90 deg"},
        {"pull": "to level", "g": d.num(3, 5)},
        out(d),
    ]


def post_stall(d):
    up = d.num(20, 70, 0)
    return entry(d, 220, 300, feet=(2000, 3000)) + [
        {"pull": f"to {up:g} deg", "g": d.num(2, 4)},
        {"pivot": d.text(100, 400, "deg"), "rate": d.num(50, 110, 0), "sink": d.text(30, 60, "m/s"), "thrust": d.num(0.5, 1.1, 2)},
    ]


def out_of_the_stall(d):
    """Round once, flown out where the nose points, and recovered from there."""
    up = d.num(40, 70, 0)
    return entry(d, 220, 280, feet=(4000, 6000)) + [
        {"pull": f"to {up:g} deg", "g": d.num(2, 4)},
        {"run": "to speed " + d.text(110, 140, "kt tas"), "pitch": f"{up:g} deg", "power": -0.5},
        {"pivot": d.text(360 - up - 60, 360 - up - 20, "deg"), "rate": d.num(60, 110, 0), "sink": d.text(35, 60, "m/s"),
         "thrust": d.num(0.3, 0.9, 2), "out": d.text(110, 150, "kt tas")},
        {"pull": "to level", "g": d.num(2, 4)},
        out(d),
    ]  # fmt: skip


def heights(d):
    """Level legs on the way to another height, at a held speed and by energy."""
    return entry(d, 200, 300, feet=(1500, 2500)) + [
        {"run": "for " + d.text(8, 20, "s", 1), "height": d.text(500, 3500, "ft")},
        {"turn": d.text(90, 360, "deg"), "g": d.num(1.5, 4), "towards": d.one("left", "right"), "height": d.text(500, 3500, "ft")},
        {"run": "for " + d.text(8, 20, "s", 1), "height": d.text(500, 3500, "ft"), "speed": "energy"},
        {"turn": d.text(90, 360, "deg"), "g": d.num(1.5, 4), "towards": "away", "height": d.text(500, 3500, "ft"), "speed": "energy"},
        out(d),
    ]


def strong_and_slow(d):
    """More power than the most thrust lets it use."""
    return entry(d, 100, 130) + [
        {"pull": "to 30 deg", "g": d.num(1.5, 2)},
        {"run": "for " + d.text(4, 8, "s", 1), "pitch": "30 deg"},
        {"push": "to level", "g": d.num(0, 0.5)},
        {"run": "for " + d.text(4, 8, "s", 1), "speed": "energy"},
    ]


FIGURES = {turns: 4, gains: 2, pass_and_turn_back: 2, level_energy: 4, climb_out: 4, held_in_the_vertical: 3, loop: 3,
           loop_in_quarters: 2, outside: 2, half_loop_and_roll: 2, split_s: 3, half_cuban: 2, barrel_roll: 8, wing_over: 4,
           rolls_on_lines: 3, over_the_top: 8, coasts: 3, tail_slide: 7, stall_turn: 8, post_stall: 2,
           out_of_the_stall: 10, heights: 4, strong_and_slow: 2, nearly_level: 2}  # fmt: skip


def toml(value):
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(v)}" for key, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return json.dumps(value)


def tables(keys):
    return "\n".join(f"{key} = {toml(value)}" for key, value in keys.items())


def setting(d):
    """Site, day and aircraft, as tables of the document."""
    heights = [0, *sorted(d.num(200, 6000, 0) for _ in range(d.one(0, 1, 2)))]
    wind = [
        {"height": f"{h:g} ft", "from": d.num(0, 359, 0), "speed": d.text(0, 25 + h / 400, "kt")} for h in heights
    ]
    site = {"elevation": d.text(0, 2000, "ft"), "line_bearing": d.num(0, 359, 0), "line_distance": d.text(150, 450, "m"),
            "permits": {"overhead": True, "behind_crowd": True}}  # fmt: skip
    day = {"qnh": d.text(980, 1040, "hPa"), "temperature": d.text(-10, 38, "C"), "wind": wind}
    kind = d.one("cas", "tas")
    slow, fast = d.num(80, 140, 0), d.num(350, 450, 0)
    table = [{"speed": f"{v:g} kt {kind}", "power": d.text(*power, "m/s")}
             for v, power in ((slow, (15, 40)), (d.num(180, 300, 0), (50, 90)), (fast, (20, 60)))]  # fmt: skip
    aircraft = {"roll_rate": d.num(90, 300, 0), "climb_power": d.one(d.text(30, 90, "m/s"), table),
                "induced": d.text(1, 4, "m/s", 1) + d.one("", f" at {d.num(180, 300, 0):g} kt tas")}  # fmt: skip
    if d.one(False, True):
        aircraft["most_thrust"] = d.num(0.4, 0.9, 2)
    return site, day, aircraft


def day_of(site, day):
    wind = [(quantity(w["height"]), w["from"], quantity(w["speed"])) for w in day["wind"]]
    qnh, celsius = (float(day[key].split()[0]) for key in ("qnh", "temperature"))
    return Day(quantity(site["elevation"]), celsius, qnh * 100, wind, site["line_bearing"], quantity(site["line_distance"]))


def aircraft_of(table):
    power, induced = table["climb_power"], table["induced"]
    if isinstance(power, list):
        powers = [(airspeed(row["speed"]), quantity(row["power"])) for row in power]
    else:
        powers = [(("tas", 0.0), quantity(power))]
    lost, _, at = induced.partition(" at ")
    most = {"most_thrust": table["most_thrust"]} if "most_thrust" in table else {}
    at = airspeed(at) if at else ("tas", 200 * KNOT)
    return Aircraft(powers, (quantity(lost), at), table["roll_rate"], **most)


def fly(d, figure):
    site, day, aircraft = setting(d)
    if figure is strong_and_slow:
        aircraft["climb_power"] = d.text(70, 95, "m/s")
    side = d.one("left", "right")
    here = day_of(site, day)
    flying = Flying(here, aircraft_of(aircraft), -1 if side == "left" else 1)
    legs, ends = [], []
    for leg in figure(d):
        leg = leg(flying) if callable(leg) else leg
        flying.leg(leg)
        legs.append(leg)
        air = flying.u * flying.v
        ends.append([flying.t, *flying.p, *air, *(air + here.wind(flying.p[2]))])

    def lasts(more_wind):
        other = day_of(site, day)
        other.wind_x = [x + more_wind for x in other.wind_x]
        flying = Flying(other, aircraft_of(aircraft), -1 if side == "left" else 1)
        for leg in legs:
            flying.leg(leg)
        return flying.t

    wind = (lasts(1.0) - lasts(-1.0)) / 2
    ends = [[round(float(v), 6) for v in end] for end in ends]
    return {"figure": figure.__name__, "from": side, "site": tables(site), "day": tables(day),
            "aircraft": tables(aircraft), "legs": [toml(leg) for leg in legs], "ends": ends,
            "seconds_per_mps": round(float(wind), 9)}  # fmt: skip


def main():
    check_air()
    d = Draw(np.random.default_rng(SEED))
    cases = []
    for figure in [figure for figure, times in FIGURES.items() for _ in range(times)]:
        for _ in range(50):
            try:
                cases.append(fly(d, figure))
                break
            except CannotFly as why:
                print(figure.__name__, why)
        else:
            raise SystemExit(f"{figure.__name__} cannot be flown")
    text = ",\n".join(json.dumps(case) for case in cases)
    (HERE / "legs.json").write_text(f"[\n{text}\n]\n")
    print(len(cases), "figures,", sum(len(case["legs"]) for case in cases), "legs")


main()

"""Reference values for tests/heard.rs: what crowd centre hears of a straight pass, a dive and a departure.

    pip install numpy==2.4.6 scipy==1.17.1 ambiance==1.3.1 && python heard.py

Writes heard.json beside itself. The aircraft flies straight pieces at one true airspeed in still air; its
place at every instant is elementary. What is heard at an instant t was emitted at the e that solves the
retarded-time equation e + delay(e) = t (scipy.optimize.brentq), delay being the time sound takes down the
straight line through the layers of a standard atmosphere (scipy.integrate.quad over ambiance's speed of
sound), not at one speed. The level is relative to the aircraft abeam on the display line and falls by
20 log10 of the distance at e; the hush lasts while it is above a limit, found by brentq over t.
"""

import json
import math
import pathlib

import numpy as np
from ambiance import Atmosphere
from scipy.integrate import quad
from scipy.optimize import brentq

HERE = pathlib.Path(__file__).parent


def sound(z):
    return float(Atmosphere(Atmosphere.geop2geom_height(z)).speed_of_sound[0])


def slowness(z):
    """Mean of 1/a between the crowd, at sea level, and a height."""
    return quad(lambda h: 1 / sound(h), 0, z, epsabs=1e-14)[0] / z if z > 0.01 else 1 / sound(0)


# Between the nodes of a fine table 1/a is a straight line to 1e-9.
HEIGHTS = np.linspace(0, 6000, 601)
SLOWNESS = np.array([slowness(z) for z in HEIGHTS])


class Flown:
    """Pieces of (seconds, climb angle) from a place on the display line, headed for centre."""

    def __init__(self, x, y, z, v, pieces):
        self.y, self.nodes = y, [(0.0, x, z)]
        for seconds, pitch in pieces:
            t, x, z = self.nodes[-1]
            climb = math.radians(pitch)
            self.nodes.append((t + seconds, x + v * math.cos(climb) * seconds, z + v * math.sin(climb) * seconds))
        self.t, self.x, self.z = np.array(self.nodes).T

    def range(self, e):
        return math.hypot(np.interp(e, self.t, self.x), self.y, np.interp(e, self.t, self.z))

    def delay(self, e):
        return self.range(e) * np.interp(np.interp(e, self.t, self.z), HEIGHTS, SLOWNESS)

    def heard(self, e):
        return e + self.delay(e)

    def emitted(self, t):
        return brentq(lambda e: self.heard(e) - t, self.t[0], self.t[-1], xtol=1e-12)

    def hush(self, line, above_db):
        """When what is heard becomes louder than the limit, and softer again."""
        level = lambda t: 20 * math.log10(line / self.range(self.emitted(t))) - above_db
        ts = np.linspace(self.heard(self.t[0]) + 1e-6, self.heard(self.t[-1]) - 1e-6, 4000)
        loud = [level(t) > 0 for t in ts]
        edges = [brentq(level, a, b, xtol=1e-10) for a, b, was, now in zip(ts, ts[1:], loud, loud[1:]) if was != now]
        return edges


def case(name, mach, line, height, pieces, above_db, out=6000.0):
    """`pieces`: legs after the hold as (metres along the line, climb angle); crowd centre is where one ends."""
    v = round(mach * sound(height), 6)
    times = [(metres / (v * math.cos(math.radians(pitch))), pitch) for metres, pitch in pieces]
    flown = Flown(-out, line, height, v, times)
    abeam = float(np.interp(0.0, flown.x, flown.t))
    return dict(
        name=name, tas_mps=v, line_m=line, height_m=height, out_m=out, hush_above_db=above_db,
        legs_m_deg=pieces, heard_after_s=float(flown.delay(abeam)),
        hush_after_abeam_s=[t - abeam for t in flown.hush(line, above_db)],
    )  # fmt: skip


def main():
    cases = []
    for mach, line, height in [(0.1, 230, 90), (0.2, 230, 150), (0.35, 150, 30), (0.5, 450, 300), (0.65, 230, 30),
                               (0.8, 150, 60), (0.9, 230, 150), (0.94, 230, 30), (0.95, 450, 90), (0.95, 150, 30)]:  # fmt: skip
        cases.append(case("pass", mach, line, height, [(6000, 0), (6000, 0)], -12))
    for mach, line, height, down in [(0.4, 230, 1500, -14), (0.7, 150, 1600, -14), (0.9, 230, 1300, -12), (0.6, 300, 800, -6)]:
        cases.append(case("dive", mach, line, height, [(1000, 0), (5000, down), (6000, 0)], -18))
    for mach, line, height, up in [(0.4, 230, 60, 14), (0.8, 150, 90, 12), (0.95, 230, 30, 10), (0.6, 300, 150, 6)]:
        cases.append(case("departure", mach, line, height, [(6000, 0), (5000, up)], -18))
    text = ",\n".join(json.dumps(case) for case in cases)
    (HERE / "heard.json").write_text(f"[\n{text}\n]\n")


main()

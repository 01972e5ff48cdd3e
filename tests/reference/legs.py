"""An integrator of the flight model's equations of motion, apart from the program's own.

numpy 2.4.6, scipy 1.17.1 (solve_ivp, DOP853, rtol 1e-11, its event search), from PyPI. leg_cases.py
makes the cases flown with it. A leg is a table as the show document writes it; everything is SI, in the
site's frame: x along the display line to the crowd's right, y away from the crowd, z up.

Path: du/dt = g/V (n l - k + (k.u) u), dV/dt = g min(Ps/V, cap) - g k.u with u the direction through the
air, V the true airspeed, l the unit vector of lift, n the load factor, k upwards and
Ps = power Ps1(V) - K (n^2 - 1)/V. l goes with the path without rolling, and rolls about it. On a straight
path n is the cosine of the climb angle. The wind moves the place only; its shear does not act on the air.
"""

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

G = 9.80665
KNOT, FOOT, NMI = 1852 / 3600, 0.3048, 1852.0
UNITS = {"kt": KNOT, "m/s": 1.0, "ft": FOOT, "m": 1.0, "km": 1000.0, "nmi": NMI, "s": 1.0, "deg": math.pi / 180, "kt/s": KNOT}
UP = np.array([0.0, 0.0, 1.0])


class CannotFly(Exception):
    """What these equations, or the program's own limits, do not allow."""


def quantity(text):
    number, unit = text.split()[:2]
    return float(number) * UNITS[unit]


# ---- air and wind

R, GAMMA, LAPSE = 287.05287, 1.4, 0.0065
T0, P0 = 288.15, 101325.0
A0 = math.sqrt(GAMMA * R * T0)


class Day:
    """The standard atmosphere of ISO 2533, shifted to the site's temperature and QNH; the wind."""

    def __init__(self, elevation, celsius, qnh, wind, line_bearing, line):
        self.temperature = celsius + 273.15
        # An altimeter set to the QNH reads the elevation on the site: its scale is standard altitude.
        altitude = lambda p: T0 / LAPSE * (1 - (p / P0) ** (R * LAPSE / G))
        reads = lambda p: altitude(p) - altitude(qnh) - elevation
        self.pressure = brentq(reads, 2e4, 1.2e5, xtol=1e-9, rtol=1e-15)
        self.line = line
        self.heights = [h for h, _, _ in wind]
        angle = [math.radians(bearing - line_bearing) for _, bearing, _ in wind]
        self.wind_x = [-v * math.cos(a) for (_, _, v), a in zip(wind, angle)]
        self.wind_y = [v * math.sin(a) for (_, _, v), a in zip(wind, angle)]

    def air(self, z):
        """Pressure and speed of sound at a height above the site; below the tropopause."""
        t = self.temperature - LAPSE * z
        return self.pressure * (t / self.temperature) ** (G / R / LAPSE), math.sqrt(GAMMA * R * t)

    def wind(self, z):
        return np.array([np.interp(z, self.heights, self.wind_x), np.interp(z, self.heights, self.wind_y), 0.0])

    def true(self, kind, speed, z):
        """True airspeed of a speed as named."""
        p, a = self.air(z)
        if kind == "cas":
            impact = P0 * ((1 + (speed / A0) ** 2 / 5) ** 3.5 - 1)
            return a * math.sqrt(5 * ((impact / p + 1) ** (2 / 7) - 1))
        return {"tas": speed, "mach": speed * a}[kind]

    def named(self, kind, tas, z):
        """A true airspeed, named otherwise."""
        p, a = self.air(z)
        if kind == "cas":
            impact = p * ((1 + (tas / a) ** 2 / 5) ** 3.5 - 1)
            return A0 * math.sqrt(5 * ((impact / P0 + 1) ** (2 / 7) - 1))
        return {"tas": tas, "mach": tas / a}[kind]


def airspeed(text):
    """"220 kt cas" as ("cas", m/s)."""
    words = text.split()
    if words[-1] == "mach":
        return "mach", float(words[0])
    return words[-1], quantity(text)


class Aircraft:
    """climb_power: [(speed named, m/s)], one or more; induced m/s at a speed named."""

    def __init__(self, climb_power, induced, roll_rate, most_thrust=0.6):
        self.powers, self.induced, self.roll_rate, self.cap = climb_power, induced, roll_rate, most_thrust

    def excess(self, day, v, z, n, power):
        """dV/dt over g on a level path, from the power there is and the lift that is asked of it."""
        kinds = {kind for (kind, _), _ in self.powers}
        speed = day.named(kinds.pop(), v, z) if len(self.powers) > 1 else 0.0
        have = np.interp(speed, [s for (_, s), _ in self.powers], [ps for _, ps in self.powers])
        lost, (kind, at) = self.induced
        at = day.true(kind, at, z)
        ps = power * have - lost * at * (n * n - 1) / v
        return min(ps / v, self.cap)


# ---- flying

def solve(rate, start, until, longest=600.0, after=0.0, look=0.25):
    """From `start` to the first of the events in `until`, none of which counts in the first `after` s; they are looked for
    every `look` s."""
    begun, state = 0.0, np.asarray(start, float)
    options = dict(method="DOP853", rtol=1e-11, atol=1e-10, max_step=look)
    if after:
        state = solve_ivp(rate, (0, after), state, **options).y[:, -1]
        begun = after
    for event in until:
        event.terminal = True
    got = solve_ivp(rate, (begun, longest), state, events=until, **options)
    if got.status != 1:
        raise CannotFly("never ends")
    return got.t[-1], got.y[:, -1]


def at_time(seconds):
    return lambda t, y: t - seconds


def unit(v):
    return v / np.linalg.norm(v)


def across(v, direction):
    """The part of v across a direction, as a unit vector."""
    return unit(v - v.dot(direction) * direction)


class Flying:
    """An aircraft on its way: place p, direction u, true airspeed V, lift l, nose, and how speed is named."""

    def __init__(self, day, aircraft, side):
        self.day, self.aircraft, self.t = day, aircraft, 0.0
        self.p, self.u = np.array([0.0, day.line, 0.0]), np.array([-float(side), 0.0, 0.0])
        self.side, self.v, self.l, self.nose, self.kind = side, 0.0, UP.copy(), self.u.copy(), "cas"
        self.attitude = None  # nose and lift of the body where they are apart from the path

    def leg(self, leg):
        leg, kind = dict(leg), next(iter(leg))
        if kind == "hold":
            self.p[0] = self.side * quantity(leg["hold"])
            self.t += quantity(leg["expect"])
            return
        level = kind == "turn" or kind == "run" and "pitch" not in leg
        if level:
            self.u, self.l = unit(self.u * [1, 1, 0]), UP.copy() if kind == "turn" else self.l
            if self.v == 0.0 and "height" in leg:  # the first after its hold begins at its height
                self.p[2] = quantity(leg["height"])
        lifted = kind in ("turn", "pull", "push") or kind == "roll" and "g" in leg
        energy = leg.get("speed", "held" if level else "energy") == "energy"
        before, law = self.v, None if energy else self.speed_law(leg)
        if level and kind == "run" and before:
            law = self.turned_first(leg, law, before)
        if law:
            self.v = law(0.0, self.p[2])
        if lifted:
            self.flies(self.v)
        if kind in ("coast", "pivot"):
            getattr(self, kind)(leg)
        else:
            self.attitude = None
            getattr(self, "level_" + kind if level else kind)(leg, law)
            if lifted:
                self.flies(self.v)

    def flies(self, v):
        if v < 25:
            raise CannotFly("too slow for lift")

    def speed_law(self, leg):
        """True airspeed by the time in the leg and the height."""
        text, kind = leg.get("speed"), self.kind
        if text is None:
            held = self.day.named(kind, self.v, self.p[2])
            return lambda t, z: self.day.true(kind, held, z)
        kind, to = airspeed(text.removeprefix("to "))
        before, self.kind = self.v, kind
        if not text.startswith("to "):
            return lambda t, z: self.day.true(kind, to, z)
        begun = self.day.named(kind, before, self.p[2])
        gain = quantity(leg["gain"]) / (self.day.air(self.p[2])[1] if kind == "mach" else 1)
        ramp = abs(to - begun) / gain
        return lambda t, z: self.day.true(kind, to if t >= ramp else begun + (to - begun) * t / ramp, z)

    def end(self, seconds, p, v, u, l):
        self.t += seconds
        self.p, self.v, self.u = np.array(p), float(v), unit(np.array(u))
        self.l = across(np.array(l), self.u)
        self.nose = self.u.copy()
        if self.p[2] < 1:
            raise CannotFly("below the site")
        if self.v > 0.97 * self.day.air(self.p[2])[1]:
            raise CannotFly("supersonic")

    def excess(self, leg, v, z, n):
        return self.aircraft.excess(self.day, v, z, n, leg.get("power", 1.0))

    # Level.

    def way_of(self, leg):
        """Of a level run: its course over the ground, whether it closes on the line, and whether it runs to a place."""
        until = leg["run"]
        to_place = until == "to centre" or until.split()[-1] in ("left", "right")
        ground = self.u * self.v + self.day.wind(self.p[2])
        on_line = abs(self.u[0]) >= (0.5 if to_place else 0.8660254)
        course = np.array([np.sign(self.u[0]), 0.0]) if on_line else unit(ground[:2])
        return leg.get("way") or (course, on_line, to_place)

    def triangle(self, leg, left, v, off, z):
        """Along the course, across it through the air, across it over the ground, upwards."""
        climb = self.climb(leg, v, z)
        closing = -0.5 * v * math.tanh(off / (5 * 0.5 * v)) if abs(off) > 0.5 else 0.0
        crab = closing - self.day.wind(z)[:2].dot(left)
        if math.hypot(crab, climb) > 0.9 * v:
            raise CannotFly("too slow for its track")
        return math.sqrt(v * v - crab * crab - climb * climb), crab, closing, climb

    def off_line(self, left, on_line):
        return (self.p[:2] - [0, self.day.line]).dot(left) if on_line else 0.0

    def turned_first(self, leg, law, before):
        """A level run that leads more than 15 degrees off is first turned to with 2 g; a speed that changes does so
        after that. Changes what is left of the leg; gives the law of its speed from there."""
        way = course, on_line, to_place = self.way_of(leg)
        left = np.array([-course[1], course[0]])
        v = law(0.0, self.p[2]) if law else before
        forward, crab, _, _ = self.triangle(leg, left, v, self.off_line(left, on_line), self.p[2])
        to = course * forward + left * crab
        corner = math.atan2(self.u[0] * to[1] - self.u[1] * to[0], self.u[:2].dot(to))
        if abs(corner) <= math.radians(15):
            return law
        p, t, kind = self.p, self.t, self.kind
        turn = {"turn": f"{math.degrees(abs(corner))!r} deg", "g": 2, "towards": "left" if corner > 0 else "right"}
        turn |= {key: leg[key] for key in ("height", "power") if key in leg}
        changes = leg.get("speed", "").startswith("to ")
        self.v = before if changes or not law else v
        self.level_turn(turn, (lambda t, z: before) if changes else law)
        until = leg["run"].split()
        if until[0] == "for":
            gone = self.t - t if until[2] == "s" else (self.p - p)[:2].dot(course)
            left_of_it = quantity(leg["run"][4:]) - gone
            if left_of_it <= 0:
                raise CannotFly("too short to turn first")
            leg["left"] = left_of_it
        leg["way"] = way
        return law and self.speed_law(leg)

    def level_run(self, leg, law):
        day, until = self.day, leg["run"]
        course, on_line, to_place = self.way_of(leg)
        left = np.array([-course[1], course[0]])
        off = self.off_line(left, on_line)
        triangle = lambda v, off, z: self.triangle(leg, left, v, off, z)

        def rate(t, y):
            z = y[2]
            v = law(t, z) if law else y[3]
            forward, _, closing, climb = triangle(v, off + y[1], z)
            n = math.sqrt(1 - (climb / v) ** 2)
            dv = 0.0 if law else G * (self.excess(leg, v, z, n) - climb / v)
            return [forward + day.wind(z)[:2].dot(course), closing, climb, dv]

        if to_place:
            words = until.split()
            x = 0.0 if words[1] == "centre" else quantity(until[3:]) * (1 if words[-1] == "right" else -1)
            event = lambda t, y: y[0] - (x - self.p[0]) * course[0]
        elif until.startswith("to speed"):
            kind, to = airspeed(until[9:])
            event = lambda t, y: day.named(kind, law(t, y[2]) if law else y[3], y[2]) - to
        elif until.split()[2] == "s":
            event = at_time(leg.get("left", quantity(until[4:])))
        else:
            event = lambda t, y: y[0] - leg.get("left", quantity(until[4:]))
        seconds, y = solve(rate, [0, 0, self.p[2], self.v], [event])
        v = law(seconds, y[2]) if law else y[3]
        forward, crab, _, climb = triangle(v, off + y[1], y[2])
        place = self.p[:2] + course * y[0] + left * y[1]
        self.end(seconds, [*place, y[2]], v, [*(course * forward + left * crab), climb], self.l)

    def climb(self, leg, v, z):
        """Of a level leg: towards its height, in 3 s and at no more than 15 degrees."""
        if "height" not in leg:
            return 0.0
        most = v * math.sin(math.radians(15))
        return most * math.tanh((quantity(leg["height"]) - z) / (3 * most))

    def level_turn(self, leg, law):
        day = self.day
        load = leg["g"] if "g" in leg else 1 / math.cos(quantity(leg["bank"]))
        heading = math.atan2(self.u[1], self.u[0])
        towards = leg["towards"]
        if towards in ("away", "crowd") and abs(math.cos(heading)) < 0.17:
            raise CannotFly("turns away or to the crowd, but heads at one of them")
        to_left = {"left": 1, "right": -1, "away": np.sign(self.u[0]), "crowd": -np.sign(self.u[0])}[towards]

        def rate(t, y):
            z = y[2]
            v = law(t, z) if law else y[3]
            at, climb, w = heading + to_left * y[4], self.climb(leg, v, z), day.wind(z)
            flat = math.sqrt(v * v - climb * climb)
            dv = 0.0 if law else G * (self.excess(leg, v, z, load) - climb / v)
            turning = G * math.sqrt(load * load - 1) / v
            return [flat * math.cos(at) + w[0], flat * math.sin(at) + w[1], climb, dv, turning]

        if leg["turn"].startswith("to"):
            wanted = {"right": 0.0, "left": math.pi, "away": math.pi / 2, "crowd": -math.pi / 2}[leg["turn"][3:]]
            angle = (to_left * (wanted - heading)) % (2 * math.pi)
        else:
            angle = quantity(leg["turn"])
        seconds, y = solve(rate, [*self.p, self.v, 0], [lambda t, y: y[4] - angle])
        at = heading + to_left * angle
        v = law(seconds, y[2]) if law else y[3]
        climb = self.climb(leg, v, y[2]) / v
        flat = math.sqrt(1 - climb * climb)
        self.end(seconds, y[:3], v, [flat * math.cos(at), flat * math.sin(at), climb], UP)

    # Anywhere.

    def go(self, leg, law, n, rolling, event, after=0.0):
        """n(V, u, l): the load factor along l; None: straight on. Rolls at `rolling` rad/s to the right."""
        day = self.day

        def rate(t, y):
            z, u, l = y[2], y[4:7], y[7:10]
            v = law(t, z) if law else y[3]
            load = n(v, u, l) if n else math.sqrt(max(0.0, 1 - u[2] * u[2]))
            du = G / v * (load * l - UP + u[2] * u) if n else np.zeros(3)
            dl = -l.dot(du) * u + rolling * np.cross(u, l)
            dv = 0.0 if law else G * self.excess(leg, v, z, load) - G * u[2]
            return [*(v * u + day.wind(z)), dv, *du, *dl, l.dot(du)]

        start = [*self.p, self.v, *self.u, *self.l, 0.0]
        seconds, y = solve(rate, start, [event], after=after)
        v = law(seconds, y[2]) if law else y[3]
        if n and max(abs(n(self.v, self.u, self.l)), abs(n(v, unit(y[4:7]), y[7:10]))) > 14.9:
            raise CannotFly("harder than any aircraft")
        self.end(seconds, y[:3], law(seconds, y[2]) if law else y[3], y[4:7], y[7:10])

    def run(self, leg, law):
        pitch, until = quantity(leg["pitch"]), leg["run"]
        along = self.u * [1, 1, 0]
        if abs(pitch) > math.radians(89.99):
            self.u = np.sign(pitch) * UP
        else:
            self.u = unit(along) * math.cos(pitch) + UP * math.sin(pitch)
        self.l = across(self.l, self.u)
        if until.startswith("to height"):
            height = quantity(until[10:])
            event = lambda t, y: y[2] - height
        elif until.startswith("to speed"):
            kind, to = airspeed(until[9:])
            event = lambda t, y: self.day.named(kind, y[3], y[2]) - to
        else:
            event = at_time(quantity(until[4:]))
        self.go(leg, law, None, 0.0, event)

    def pull(self, leg, law, sign=1):
        until = leg["pull" if sign > 0 else "push"]
        if "g" in leg:
            n = lambda v, u, l: leg["g"]
        else:
            n = lambda v, u, l: sign * v * v / (G * quantity(leg["radius"])) + l[2]
        if until == "to vertical":
            ahead = unit(self.u * [1, 1, 0])
            event = lambda t, y: y[4:7].dot(ahead)
        elif until.startswith("to"):
            climb = 0.0 if until == "to level" else math.sin(quantity(until[3:]))
            event = lambda t, y: y[6] - climb
        else:
            event = lambda t, y: sign * y[10] - quantity(until)
        self.go(leg, law, n, 0.0, event, after=0.05)

    def push(self, leg, law):
        self.pull(leg, law, sign=-1)

    def roll(self, leg, law):
        rate = math.radians(leg.get("rate", self.aircraft.roll_rate))
        right = -1 if leg.get("towards") == "left" else 1
        n = (lambda v, u, l: leg["g"]) if "g" in leg else None
        self.go(leg, law, n, right * rate, at_time(quantity(leg["roll"]) / rate))

    # Without lift: velocity as a vector, attitude of its own.

    def ballistic(self, acceleration, start, until):
        rate = lambda t, y: [*(y[3:6] + self.day.wind(y[2])), *acceleration(t, y[3:6], y[2])]
        return solve(rate, start, [until], look=0.02)  # flown out, it may be on its nose and fast for a moment only

    def settle(self, seconds, y):
        """Ends; the nose comes to the path the shortest way and takes the lift with it, for what follows."""
        nose, lift = self.attitude
        v = np.linalg.norm(y[3:6])
        to = y[3:6] / v if v > 1e-6 else nose
        backwards = nose.dot(to) < -1 + 1e-9
        self.end(seconds, y[:3], v, to, lift if backwards else lift - lift.dot(to) / (1 + nose.dot(to)) * (nose + to))
        self.nose = nose

    def coast(self, leg):
        until = leg["coast"]
        self.attitude = self.attitude or (self.u, self.l)
        if until == "to top":
            event = lambda t, y: y[5]
        elif until.startswith("to height"):
            event = lambda t, y: y[2] - quantity(until[10:])
        elif until.startswith("to speed"):
            kind, to = airspeed(until[9:])
            event = lambda t, y: self.day.named(kind, np.linalg.norm(y[3:6]), y[2]) - to
        else:
            event = at_time(quantity(until[4:]))
        seconds, y = self.ballistic(lambda t, v, z: -G * UP, [*self.p, *(self.u * self.v)], event)
        self.settle(seconds, y)

    def pivot(self, leg):
        nose, lift = self.attitude or (self.u, self.l)
        angle, rate = quantity(leg["pivot"]), math.radians(leg["rate"])
        sink, thrust = quantity(leg["sink"]), min(leg.get("thrust", 0.0), self.aircraft.cap)
        yaw = leg.get("about") == "yaw"
        to = np.cross(nose, lift) * (-1 if leg.get("towards") == "left" else 1) if yaw else lift
        turned = lambda t: nose * math.cos(rate * t) + to * math.sin(rate * t)
        start = [*self.p, *(self.u * self.v)]
        falling = lambda t, v, z: G * (thrust * turned(t) - UP - np.linalg.norm(v) * v / sink**2)
        seconds, y = self.ballistic(falling, start, at_time(angle / rate))
        nose_now = turned(angle / rate)
        self.attitude = nose_now, lift if yaw else across(lift * math.cos(angle) - nose * math.sin(angle), nose_now)
        if "out" in leg:
            kind, fast = airspeed(leg["out"])

            def flown_out(t, v, z):
                # Only what flows across the nose brakes.
                c = v - v.dot(nose_now) * nose_now
                thrust = self.aircraft.excess(self.day, np.linalg.norm(v), z, 1.0, 1.0)
                return G * (thrust * nose_now - UP - np.linalg.norm(c) * c / sink**2)

            def not_yet(t, y):
                v = np.linalg.norm(y[3:6])
                off_nose = math.cos(math.radians(20)) - y[3:6].dot(nose_now) / v
                return max(off_nose, 1 - self.day.named(kind, v, y[2]) / fast)

            more, y = self.ballistic(flown_out, y, not_yet)
            seconds += more
        self.settle(seconds, y)

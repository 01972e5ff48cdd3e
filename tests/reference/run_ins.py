"""Run-ins of real flights for tests/positions/run_ins.rs: straight stretches of sample flights, as seconds, metres, knots.

    python run_ins.py FOLDER

FOLDER holds the wheel of PyPI's `traffic` 2.13 (MIT), which ships sample flights as gzipped JSON:
`.ci/python` downloads it. Only that file is read; the package itself is not installed. Nothing that tells
who flew, where or when is printed. Each line is one look: run-in, seconds, metres to centre (negative
before it), ground speed in knots, and the seconds when the run-in passes centre.

A run-in is 100 s of a flight that keeps its track within 2.5 degrees, with a fix at least every 12 s.
Fixes in these samples bear times that are a second or more off, so the way flown is taken from the ground
speed (trapezoids) beside a straight line through what the fixes differ from it by; run-ins where that line
slopes by more than 1.5 m/s, or the fixes scatter around it by more than 45 m, are left out. Centre is put
where that way is 90 s in. What is printed as a look is the fix itself, scatter and all.
"""

import datetime
import gzip
import json
import math
import pathlib
import sys
import zipfile

import numpy as np

EARTH = 6_371_008.8
LASTS, PASSES, EVERY = 100.0, 90.0, 110.0
KNOT = 1852.0 / 3600.0


def seconds(stamp):
    if isinstance(stamp, (int, float)):
        return stamp / 1000.0 if stamp > 1e11 else float(stamp)
    text = str(stamp).replace("Z", "+00:00")
    return datetime.datetime.fromisoformat(text).timestamp()


def flights(rows):
    found = {}
    for row in rows:
        values = [row.get(key) for key in ("latitude", "longitude", "groundspeed", "track")]
        if row.get("onground") or any(value is None or math.isnan(value) for value in values):
            continue
        who = (row.get("icao24"), row.get("flight_id") or row.get("callsign"))
        found.setdefault(who, set()).add((seconds(row["timestamp"]), *values))
    for fixes in found.values():
        kept = []
        for fix in sorted(fixes):
            # A place that is repeated is an old one.
            if not kept or (fix[0] > kept[-1][0] and fix[1:3] != kept[-1][1:3]):
                kept.append(fix)
        yield np.array(kept)


def straights(fixes):
    first = 0
    while first < len(fixes) - 20:
        last = first
        while last + 1 < len(fixes):
            turned = (fixes[last + 1, 4] - fixes[first, 4] + 180.0) % 360.0 - 180.0
            if abs(turned) >= 2.5 or fixes[last + 1, 0] - fixes[last, 0] > 12.0:
                break
            last += 1
        if fixes[last, 0] - fixes[first, 0] >= LASTS:
            yield fixes[first : last + 1]
        first = last + 1


def along(fixes):
    """Seconds, metres along the chord and metres a second."""
    lat, lon = np.radians(fixes[:, 1]), np.radians(fixes[:, 2])
    east, north = (lon - lon[-1]) * math.cos(lat[-1]) * EARTH, (lat - lat[-1]) * EARTH
    chord = np.array([east[-1] - east[0], north[-1] - north[0]])
    length = np.hypot(*chord)
    if length < 1.0:
        return None
    ahead, aside = (east * chord[0] + north * chord[1]) / length, (north * chord[0] - east * chord[1]) / length
    if np.abs(aside - aside.mean()).max() > 400.0:
        return None
    return fixes[:, 0] - fixes[0, 0], ahead, fixes[:, 3] * KNOT


def run_ins(time, place, speed):
    begins = 0.0
    while begins + LASTS <= time[-1]:
        chosen = (time >= begins) & (time <= begins + LASTS)
        t, x, v = time[chosen] - begins, place[chosen], speed[chosen]
        begins += EVERY
        # Speeds that never change were filled in, not measured.
        if len(t) < 16 or len(set(v)) < 4:
            continue
        way = np.concatenate([[0.0], np.cumsum((v[1:] + v[:-1]) / 2.0 * np.diff(t))])
        slope, offset = np.polyfit(t, x - way, 1)
        scatter = (x - way - slope * t - offset).std()
        if abs(slope) <= 1.5 and scatter <= 45.0:
            yield t, x - np.interp(PASSES, t, way + slope * t + offset), v


def main(folder):
    wheel = next(pathlib.Path(folder).glob("traffic-2.13-*.whl"))
    number = 0
    with zipfile.ZipFile(wheel) as files:
        for name in sorted(files.namelist()):
            # Gliders circle, and those called noisy are.
            if "/samples/" not in name or not name.endswith(".json.gz") or "noisy" in name or "gliders" in name:
                continue
            rows = json.loads(gzip.decompress(files.read(name)))
            if not isinstance(rows, list):
                continue
            for fixes in flights(rows):
                for straight in straights(fixes):
                    line = along(straight)
                    for t, x, v in run_ins(*line) if line else ():
                        for look in zip(t, x, v / KNOT):
                            print(number, *(f"{value:.3f}" for value in look), PASSES, sep=",")
                        number += 1


main(sys.argv[1])

"""Reference values for tests/positions/passes.rs: geodesics on the WGS 84 ellipsoid.

    pip install geographiclib==2.1 && python geodesics.py

Writes geodesics.csv beside itself: 1,000 random pairs of places with the length of the geodesic between them
and its azimuth at the first, by GeographicLib's Geodesic.Inverse. A third are anywhere on earth; a third within
30 km of each other, as on a display site; a third within 30 km of each other across the date line or within a
degree of a pole.
"""

import csv
import pathlib
import random

from geographiclib.geodesic import Geodesic

HERE = pathlib.Path(__file__).parent
RANDOM = random.Random(20260705)


def wrapped(lon):
    return (lon + 180.0) % 360.0 - 180.0


def near(lat, lon):
    there = Geodesic.WGS84.Direct(lat, lon, RANDOM.uniform(-180.0, 180.0), RANDOM.uniform(1.0, 30_000.0))
    return there["lat2"], wrapped(there["lon2"])


def pair(number):
    if number % 3 == 0:
        here, there = ((RANDOM.uniform(-90.0, 90.0), RANDOM.uniform(-180.0, 180.0)) for _ in range(2))
        return here, there
    if number % 3 == 1:
        here = RANDOM.uniform(-80.0, 80.0), RANDOM.uniform(-180.0, 180.0)
    elif number % 2 == 0:
        here = RANDOM.uniform(-80.0, 80.0), wrapped(180.0 + RANDOM.uniform(-0.1, 0.1))
    else:
        here = RANDOM.choice([-1.0, 1.0]) * RANDOM.uniform(89.0, 90.0), RANDOM.uniform(-180.0, 180.0)
    return here, near(*here)


with open(HERE / "geodesics.csv", "w", newline="") as file:
    write = csv.writer(file, lineterminator="\n")
    write.writerow(["lat1_deg", "lon1_deg", "lat2_deg", "lon2_deg", "distance_m", "azimuth1_deg"])
    for number in range(1_000):
        # Rounded first, so that the values below are those of the places as they are written.
        (lat1, lon1), (lat2, lon2) = ((round(lat, 9), round(lon, 9)) for lat, lon in pair(number))
        line = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
        write.writerow([lat1, lon1, lat2, lon2, f"{line['s12']:.6f}", f"{line['azi1']:.12f}"])

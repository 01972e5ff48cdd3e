"""Values for tests/airspeed.rs, by the Python package openap 2.6.2 (openap.aero).

python3 tests/reference/airspeed.py > tests/reference/airspeed.csv

openap's own knot is 0.514444 m/s; speeds are turned into SI here by the exact knot, so that it does not count.
"""

from openap import aero

KNOT = 1852 / 3600

print("height_ft,cas_kt,tas_kt,mach")
for height_ft in [0, 500, 1500, 3000, 5000, 10000, 15000, 20000]:
    for cas_kt in [50, 90, 150, 220, 300, 350, 420, 480, 550, 600, 650]:
        height = height_ft * 0.3048
        tas = float(aero.cas2tas(cas_kt * KNOT, height))
        mach = float(aero.tas2mach(tas, height))
        print(f"{height_ft},{cas_kt},{tas / KNOT:.6f},{mach:.8f}")

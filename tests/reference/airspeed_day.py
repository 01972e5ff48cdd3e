"""Values for tests/airspeed.rs on cold and warm days, by the Python package openap 2.6.2 (openap.aero).

python3 tests/reference/airspeed_day.py > tests/reference/airspeed_day.csv

openap shifts its temperatures by so many kelvins and keeps the density at sea level; what the pressure and
the temperature then are at a height is written beside the speeds.
"""

from openap import aero

KNOT = 1852 / 3600

print("temperature_k,pressure_pa,cas_kt,tas_kt,mach")
for shift in [-25, -10, 15]:
    for height_ft in [0, 1500, 5000, 12000]:
        height = height_ft * 0.3048
        pressure, _, temperature = aero.atmos(height, dT=shift)
        for cas_kt in [75, 150, 220, 300, 420, 550]:
            tas = float(aero.cas2tas(cas_kt * KNOT, height, dT=shift))
            mach = float(aero.tas2mach(tas, height, dT=shift))
            print(f"{float(temperature):.6f},{float(pressure):.4f},{cas_kt},{tas / KNOT:.6f},{mach:.8f}")

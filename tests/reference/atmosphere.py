"""Values for tests/atmosphere.rs, by the Python package ambiance 1.3.1 (ICAO standard atmosphere, 1993).

python3 tests/reference/atmosphere.py > tests/reference/atmosphere.csv
"""

from ambiance import Atmosphere

print("geopotential_m,temperature_k,pressure_pa,density_kg_m3,sound_mps")
for geopotential in [0, 500, 1000, 2000, 3000, 5000, 8000, 11000, 15000]:
    # ambiance takes geometric heights.
    geometric = Atmosphere.geop2geom_height(geopotential)
    air = Atmosphere(geometric)
    print(
        f"{geopotential},{air.temperature[0]:.9g},{air.pressure[0]:.9g},"
        f"{air.density[0]:.9g},{air.speed_of_sound[0]:.9g}"
    )

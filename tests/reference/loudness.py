"""Integrated loudness of sound files by pyloudnorm 0.2.0, from PyPI: one number a file, in LUFS, as a JSON list.

    loudness.py FILE...
"""

import json
import sys

import pyloudnorm
import soundfile

levels = []
for path in sys.argv[1:]:
    samples, rate = soundfile.read(path)
    levels.append(float(pyloudnorm.Meter(rate).integrated_loudness(samples)))
print(json.dumps(levels))

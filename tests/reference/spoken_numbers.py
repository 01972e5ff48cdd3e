"""Numbers as words, for tests/spoken.rs. Made with PyPI num2words 0.5.14 (lang "en"):

    pip install num2words==0.5.14 && python spoken_numbers.py > spoken_numbers.csv
"""

import random

from num2words import num2words

random.seed(20)
numbers = list(range(0, 30)) + [30, 42, 55, 68, 79, 80, 93, 99, 100, 101, 110, 115, 199, 200, 250, 999]
numbers += [1000, 1001, 1010, 1100, 1500, 1999, 2000, 2500, 9999, 10000, 10001, 12345, 99999]
numbers += [100000, 100001, 123456, 999999, 1000000, 1000001, 1234567, 20000000, 1000000000, 10**12 + 7]
numbers += [random.randrange(10 ** random.randrange(2, 13)) for _ in range(800)]
years = [1100, 1101, 1215, 1500, 1666, 1776, 1800, 1805, 1899, 1900, 1903, 1909, 1910, 1914, 1918, 1927, 1936]
years += sorted(random.sample(range(1100, 2100), 300))
years += [1940, 1945, 1969, 1987, 1999, 2000, 2001, 2005, 2009, 2010, 2012, 2019, 2020, 2026, 2050, 2099]
decimals = [f"{random.randrange(1000)}.{random.randrange(1, 100):02}".rstrip("0") for _ in range(400)]
decimals += ["0.5", "0.94", "1.5", "3.2", "3.25", "10.05", "12.75", "99.9", "118.25", "1013.25", "-3.5"]

print("kind,written,said")
for n in numbers:
    print(f'cardinal,{n},"{num2words(n)}"')
for n in [-1, -3, -12, -100]:
    print(f'cardinal,{n},"{num2words(n)}"')
for n in sorted(set(numbers)):
    if 0 < n < 10**6:
        print(f'ordinal,{n},"{num2words(n, to="ordinal")}"')
for n in years:
    print(f'year,{n},"{num2words(n, to="year")}"')
for text in decimals:
    print(f'decimal,{text},"{num2words(text)}"')

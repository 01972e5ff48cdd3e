"""Reference values for tests/estimate.rs: chains solved as one dense least-squares problem.

numpy 2.4.6, scipy 1.17.1, mpmath 1.4.1, from PyPI. Writes chains.json and overdue.json beside itself:

    pip install numpy==2.4.6 scipy==1.17.1 mpmath==1.4.1 && python chains.py

The unknowns are independent standard Gaussians: one for the start, pace, wind, each step's own
error and each restart. Every point's time is linear in them, so all sightings together are one
least-squares problem, solved by orthogonal factorisation; no recursion over points is involved.
A point that has not come by `now` is a Gaussian cut off there; what that does to the mean and the
variance of another point jointly Gaussian with it is the textbook formula on the dense covariance.
"""

import json
import pathlib

import mpmath
import numpy as np
from scipy.stats import truncnorm

PACE_SPREAD = 0.02
WIND_SPREAD = 3 * 1852 / 3600
HERE = pathlib.Path(__file__).parent


def us(seconds):
    return int(round(float(seconds) * 1e6))


def random_chain(rng, number):
    points = int(rng.integers(5, 61))
    steps = [dict(takes_us=0, seconds_per_mps=0.0, paced=False, spread_us=0)]
    for _ in range(points - 1):
        kind = rng.choice(["flown", "hold", "timed", "sure"], p=[0.7, 0.1, 0.1, 0.1])
        steps.append(
            dict(
                takes_us=us(rng.uniform(2, 60) if kind != "hold" else rng.uniform(30, 180)),
                seconds_per_mps=float(rng.normal(0, 0.15)) if kind == "flown" else 0.0,
                paced=bool(kind in ("flown", "sure")),
                spread_us=us({"hold": rng.uniform(5, 30), "sure": 0.0}.get(kind, rng.uniform(0.1, 3))),
            )
        )
    chain = dict(
        starts_us=us(rng.uniform(-600, 7200)),
        start_spread_us=0 if number % 7 == 0 else us(rng.uniform(0.05, 10)),
        steps=steps,
        awaited=[bool(b) for b in rng.random(points) < 0.4],
    )
    truth = simulate(rng, chain)
    seen_to = int(rng.integers(0, points))
    sightings = []
    for point in range(seen_to + 1):
        if rng.random() < 0.4 or point == seen_to and rng.random() < 0.9:
            for _ in range(int(rng.choice([1, 2, 3], p=[0.6, 0.25, 0.15]))):
                spread = rng.choice([0.25, 2.0, rng.uniform(0.05, 3)])
                sightings.append(
                    dict(
                        point=point,
                        at_us=us(truth[point] + spread * rng.normal()),
                        spread_us=us(spread),
                        restart=False,
                    )
                )
    if number % 3 == 0:  # the show held up: from one point on, everything is later
        point = int(rng.integers(0, points))
        held = rng.uniform(10, 300)
        for sighting in sightings:
            if sighting["point"] >= point:
                sighting["at_us"] += us(held)
        sightings.append(
            dict(point=point, at_us=us(truth[point] + held), spread_us=us(rng.uniform(0.1, 2)), restart=True)
        )
    rng.shuffle(sightings)
    return chain, sightings


def simulate(rng, chain):
    pace, wind = PACE_SPREAD * rng.normal(), WIND_SPREAD * rng.normal()
    times = [chain["starts_us"] / 1e6 + chain["start_spread_us"] / 1e6 * rng.normal()]
    for step in chain["steps"][1:]:
        takes = step["takes_us"] / 1e6
        times.append(
            times[-1]
            + takes * (1 + pace * step["paced"])
            + step["seconds_per_mps"] * wind
            + step["spread_us"] / 1e6 * rng.normal()
        )
    return times


def solve(chain, sightings, now_us):
    points = len(chain["steps"])
    restarts, seen = {}, []
    for sighting in sightings:
        if sighting["restart"]:
            restarts.setdefault(sighting["point"], []).append(sighting)
        else:
            seen.append(sighting)
    unknowns = 2 + points + len(restarts)  # pace, wind, start and steps, restarts
    planned = np.zeros(points)  # seconds after the chain's planned start
    rows = np.zeros((points, unknowns))
    mean = np.zeros(points)
    plan = 0
    for k, step in enumerate(chain["steps"]):
        plan += step["takes_us"]
        planned[k] = plan / 1e6
        if k == 0:
            rows[k, 2] = chain["start_spread_us"] / 1e6
        else:
            rows[k] = rows[k - 1]
            mean[k] = mean[k - 1] + step["takes_us"] / 1e6
            rows[k, 0] += PACE_SPREAD * step["takes_us"] / 1e6 * step["paced"]
            rows[k, 1] += WIND_SPREAD * step["seconds_per_mps"]
            rows[k, 2 + k] = step["spread_us"] / 1e6
        if k in restarts:
            first, *others = restarts[k]
            rows[k] = 0
            rows[k, 2 + points + list(restarts).index(k)] = first["spread_us"] / 1e6
            mean[k] = (first["at_us"] - chain["starts_us"]) / 1e6
            seen += others
    matrix, right = [np.eye(unknowns)], [np.zeros(unknowns)]
    for sighting in seen:
        spread, k = sighting["spread_us"] / 1e6, sighting["point"]
        matrix.append(rows[k : k + 1] / spread)
        right.append(np.array([((sighting["at_us"] - chain["starts_us"]) / 1e6 - mean[k]) / spread]))
    q, r = np.linalg.qr(np.vstack(matrix))
    inverse = np.linalg.inv(r)
    best = inverse @ (q.T @ np.concatenate(right))
    # Wanted: points, pace, wind.
    wanted = np.vstack([rows, np.eye(unknowns)[0] * PACE_SPREAD, np.eye(unknowns)[1] * WIND_SPREAD])
    means = wanted @ best + np.concatenate([mean - planned, [0, 0]])
    root = wanted @ inverse
    covariance = root @ root.T
    overdue = overdue_point(chain, sightings)
    if overdue is not None and now_us is not None:
        late_now = (now_us - chain["starts_us"]) / 1e6 - planned[overdue]
        variance = covariance[overdue, overdue]
        beta = (late_now - means[overdue]) / np.sqrt(variance)
        cut_mean, cut_variance = truncnorm.stats(beta, np.inf, moments="mv")
        column = covariance[:, overdue] / variance
        means = means + column * (np.sqrt(variance) * float(cut_mean))
        covariance = covariance - np.outer(column, column) * variance * (1 - float(cut_variance))
    return means, np.sqrt(np.diag(covariance)), covariance


def overdue_point(chain, sightings):
    last = max((s["point"] for s in sightings), default=-1)
    return next((k for k in range(last + 1, len(chain["steps"])) if chain["awaited"][k]), None)


def main():
    rng = np.random.default_rng(20_260_517)
    cases = []
    while len(cases) < 60:
        number = len(cases)
        chain, sightings = random_chain(rng, number)
        now_us = chain["starts_us"] - us(1e6)
        overdue = overdue_point(chain, sightings)
        waited = number % 2 == 1 and overdue is not None
        if waited:
            means, spreads, _ = solve(chain, sightings, None)
            planned = chain["starts_us"] + sum(s["takes_us"] for s in chain["steps"][: overdue + 1])
            now_us = planned + us(means[overdue] + rng.uniform(-4, 6) * spreads[overdue])
        means, spreads, _ = solve(chain, sightings, now_us if waited else None)
        cases.append(
            dict(
                chain=chain,
                sightings=sightings,
                now_us=now_us,
                overdue=overdue if waited else None,
                late_s=[float(m) for m in means[:-2]],
                spread_s=[float(s) for s in spreads[:-2]],
                pace=float(means[-2]),
                pace_spread=float(spreads[-2]),
                wind_mps=float(means[-1]),
                wind_spread_mps=float(spreads[-1]),
            )
        )
    write("chains.json", cases)

    # A standard Gaussian cut off below beta: scipy where it keeps its digits, mpmath (50 digits) further out.
    mpmath.mp.dps = 50
    rows = []
    for beta in [-8, -6, -4, -3, -2, -1.5, -1, -0.5, 0, 0.25, 0.5, 1, 1.5, 1.75, 2, 2.25, 2.5, 3, 4, 5, 6, 8, 10]:
        mean, variance = truncnorm.stats(beta, np.inf, moments="mv")
        rows.append(dict(by="scipy", beta=beta, mean=float(mean), variance=float(variance)))
    for beta in [-8, -2, 0, 1.75, 2, 3, 5, 10, 20, 30, 40, 100, 1000, 10_000]:
        b = mpmath.mpf(beta)
        mean = mpmath.npdf(b) / (mpmath.erfc(b / mpmath.sqrt(2)) / 2)
        variance = 1 - mean * (mean - b)
        rows.append(dict(by="mpmath", beta=beta, mean=float(mean), variance=float(variance)))
    write("overdue.json", rows)


def write(name, rows):
    text = ",\n".join(json.dumps(row, separators=(",", ":")) for row in rows)
    (HERE / name).write_text(f"[\n{text}\n]\n")


main()

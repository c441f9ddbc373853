"""Beliefs of pass advice by scipy: quadrature where Lamella has a grid, and
distributions where it has a closed form. The spreads are those that
daemon/calc/src/advice/belief documents."""

import math

import numpy as np
from scipy.integrate import quad, trapezoid
from scipy.special import expit
from scipy.stats import beta, betabinom, lognorm, norm

HARDNESS, SETUP, PASS, DEPTH = 0.35, 0.20, 0.15, 0.40
VISIBLE_SHARE, VISIBLE_SCALE = 0.10, 0.25

# Gauge uncertainty in um, then passes: setup, prior in um, reading in um.
# The same stand in tests/tests/calc/escalation.rs.
HISTORIES = {
    "none": (0.8, []),
    "one": (0.8, [(4, 2.0, 3.1)]),
    "fine": (0.2, [(4, 0.5, 0.3), (4, 0.5, 0.4)]),
    "two": (0.5, [(4, 1.0, 1.6), (5, 1.5, 1.2), (5, 1.5, 1.1)]),
    "zero": (0.8, [(2, 0.6, 0.0), (3, 0.9, 0.0), (3, 0.9, 0.4)]),
    "soft": (0.8, [(6, 2.5, 5.5), (6, 2.5, 4.0), (7, 3.5, 6.0)]),
}
UNUSED = 9


def likelihood(log, prior, reading, gauge):
    removal = prior * np.exp(log)
    sd = np.sqrt(gauge**2 + (PASS * removal) ** 2)
    return norm.pdf(reading, removal, sd) if reading > 0 else norm.cdf(0.0, removal, sd)


def predict(history, setup):
    """Mean and standard deviation of h + d of a setup."""
    gauge, passes = history
    h = np.linspace(-2.4, 2.4, 481)[:, None]
    u = np.linspace(-3.0, 3.0, 1201)[None, :]
    link = norm.pdf(u - h, 0.0, SETUP)
    weight = norm.pdf(h[:, 0], 0.0, HARDNESS)
    own = np.ones(u.shape[1])
    for used in {number for number, _, _ in passes}:
        told = np.prod(
            [likelihood(u[0], p, y, gauge) for number, p, y in passes if number == used], axis=0
        )
        if used == setup:
            own = told
        else:
            weight = weight * trapezoid(link * told, u[0], axis=1)
    density = trapezoid(weight[:, None] * link, h[:, 0], axis=0) * own
    total = trapezoid(density, u[0])
    mean = trapezoid(density * u[0], u[0]) / total
    variance = trapezoid(density * (u[0] - mean) ** 2, u[0]) / total
    return mean, math.sqrt(variance)


def chance(depth, prior, made, more):
    """To clear a depth by `more` passes after `made` that improved it, unread."""
    spread = math.hypot(HARDNESS, DEPTH)

    def noise(n):
        return math.sqrt(SETUP**2 + PASS**2 / n)

    def seen(z):
        value = norm.pdf(z, math.log(depth), spread)
        if made:
            value *= norm.cdf((z - math.log(made * prior)) / noise(made))
            value *= expit((math.log(prior / VISIBLE_SHARE) - z) / VISIBLE_SCALE) ** made
        return value

    def cleared(z):
        n = made + more
        # What came off and what will come err independently in the model.
        variance = sum(k * k * SETUP**2 + k * PASS**2 for k in (made, more)) / n**2
        return seen(z) * norm.cdf((math.log(n * prior) - z) / math.sqrt(variance))

    low, high = math.log(depth) - 5.0, math.log(depth) + 5.0
    points = [math.log(depth), math.log(max(made, 1) * prior)]
    part, whole = (quad(f, low, high, points=points, limit=400)[0] for f in (cleared, seen))
    return part / whole


def warmth(rises):
    """Normal mean with known variances, as a least-squares problem."""
    rows, seen = [1 / 0.4], [1 / 0.4]
    for prior, rise in rises:
        sd = math.sqrt(1.0 + (0.1 * prior) ** 2)
        rows.append(prior / sd)
        seen.append(rise / sd)
    matrix = np.array(rows)[:, None]
    solution = np.linalg.lstsq(matrix, np.array(seen), rcond=None)[0][0]
    return float(solution), float(math.sqrt(np.linalg.inv(matrix.T @ matrix)[0, 0]))


def values():
    found = {}
    for x in (-3.0, -1.0, 0.5, 2.0):
        found[f"cdf {x}"] = float(norm.cdf(x))
    for percent in (90.0, 95.0, 99.0, 99.5, 99.99):
        found[f"quantile {percent}"] = float(norm.ppf(percent / 100))
    for name, history in HISTORIES.items():
        setups = sorted({number for number, _, _ in history[1]}) + [UNUSED]
        for setup in setups:
            mean, sd = predict(history, setup)
            found[f"{name} {setup} median"] = math.exp(mean)
            found[f"{name} {setup} log sd"] = math.hypot(sd, PASS)
    for sd in (0.2, 0.45):
        shape = lognorm(s=sd, scale=1.5)
        found[f"lognormal {sd}"] = [
            float(value) for value in (shape.mean(), shape.std(), shape.ppf(0.05), shape.ppf(0.95))
        ]
    found["warmth none"] = list(warmth([]))
    found["warmth three"] = list(warmth([(2.0, 3.1), (3.0, 3.9), (4.5, 7.0)]))
    found["warmth cool"] = list(warmth([(6.0, 3.0), (6.0, 2.5)]))
    for short, passes in ((0, 1), (0, 3), (2, 3), (5, 12)):
        found[f"level {short} {passes}"] = float(1 - betabinom.pmf(0, passes, 1, 2 + short))
    found["level prior"] = float(beta(1, 2).mean())
    for depth, prior, made, more in (
        (0.3, 0.1, 0, 3),
        (0.3, 0.15, 0, 3),
        (0.4, 0.1, 0, 3),
        (0.3, 0.1, 1, 2),
        (0.4, 0.1, 1, 2),
        (0.4, 0.1, 2, 1),
        (0.6, 0.1, 2, 1),
    ):
        found[f"chance {depth} {prior} {made} {more}"] = chance(depth, prior, made, more)
    return found

"""Paint thickness: statistics by numpy and scipy, uncertainty by `uncertainties`, the layer model
by linear algebra on the whole joint distribution and by simulation.

The Rust half adds squares and updates one reading at a time; nothing here does either.
"""

import numpy as np
from scipy.stats import median_abs_deviation, t as student
from uncertainties import ufloat

# Limit um, limit percent, resolution um, readings um.
SPOTS = [
    (1.0, 2.0, 1.0, [108, 111, 107, 112, 110]),
    (1.0, 2.0, 1.0, [95.0, 97.0, 96.0]),
    (2.0, 3.0, 1.0, [131.5, 128.0, 133.0, 130.5, 129.0, 132.0]),
    (1.0, 1.0, 0.1, [61.2, 60.8, 61.9, 60.1]),
    (2.5, 0.0, 2.0, [146, 142, 144, 150, 148]),
]

# Mean and standard deviation, um: e-coat, primer, base, clear. The ranges are those of the check
# values, section 5; half a range over sqrt 3 joins 10 % of the mean.
RANGES = [(15.0, 25.0), (35.0, 40.0), (10.0, 15.0), (35.0, 40.0)]
MEANS = np.array([(low + high) / 2 for low, high in RANGES])
VARIANCES = np.array(
    [((high - low) / 2) ** 2 / 3 + (0.1 * (low + high) / 2) ** 2 for low, high in RANGES]
)

# Total um, its standard uncertainty, removed before, its standard uncertainty.
CONDITIONED = [
    (107.5, 2.0, 0.0, 0.0),
    (101.0, 2.08, 0.0, 0.0),
    (118.0, 3.0, 0.0, 0.0),
    (112.0, 2.0, 5.0, 1.5),
]


def two_sided(nu: float) -> float:
    return float(student.ppf(0.975, nu))


def spot(limit: float, percent: float, resolution: float, readings: list[float]) -> list[float]:
    values = np.array(readings, dtype=float)
    mean, sd = values.mean(), values.std(ddof=1)
    type_a = sd / np.sqrt(len(values))
    measured = (
        ufloat(mean, type_a)
        + ufloat(0, (limit + percent / 100 * mean) / np.sqrt(3))
        + ufloat(0, resolution / np.sqrt(12))
    )
    u = measured.std_dev
    nu = (u / type_a) ** 4 * (len(values) - 1)
    mad = median_abs_deviation(values, scale="normal")
    answers = [mean, sd, mad, u, nu, two_sided(nu)]
    return [limit, percent, resolution, *map(float, answers), *map(float, readings)]


def end_gauge() -> dict:
    """JCGM 100:2008, H.1: length of an end gauge, nm."""
    standard = ufloat(50_000_623, 25)
    # From 5.8, 3.9 and 6.7 nm.
    difference = 215 + ufloat(0, 5.8) + ufloat(0, 3.9) + ufloat(0, 6.7)
    alpha = ufloat(11.5e-6, 2e-6 / np.sqrt(3))
    theta = ufloat(-0.1, 0.2) + ufloat(0, 0.5 / np.sqrt(2))
    alphas = ufloat(0, 1e-6 / np.sqrt(3))
    thetas = ufloat(0, 0.05 / np.sqrt(3))
    length = standard + difference - standard * (alphas * theta + alpha * thetas)
    parts = [abs(part) for part in length.error_components().values()]
    return {"h1_parts": parts, "h1_standard": length.std_dev, "h1_length": length.nominal_value}


def removal(percent: float, resolution: float, pairs: list[tuple[list, list]]) -> list[float]:
    """Mean removal over spots; one gauge, so one gain error for both sides."""
    squares = sum(np.var(side, ddof=1) * (len(side) - 1) for pair in pairs for side in pair)
    freedom = sum(len(side) - 1 for pair in pairs for side in pair)
    within = np.sqrt(squares / freedom)
    gain = ufloat(1, percent / 100 / np.sqrt(3))
    # A gauge's fixed error: large, shared, and gone from the difference.
    fixed = ufloat(0, 100)
    steps = [ufloat(0, resolution / np.sqrt(12)) for _ in range(2)]
    noise = []

    def side(readings):
        noise.append(ufloat(0, within / np.sqrt(len(readings))))
        return np.mean(readings) * gain + fixed + noise[-1]

    sides = [(side(before), side(after)) for before, after in pairs]
    difference = sum(before - after for before, after in sides) / len(sides) + steps[0] - steps[1]
    type_a = (sum(noise) / len(sides)).std_dev
    u = difference.std_dev
    nu = (u / type_a) ** 4 * freedom
    return [float(difference.nominal_value), float(u), float(nu), two_sided(nu) * float(u)]


def conditioned(total: float, u: float, removed: float, removed_u: float) -> list[float]:
    """Joint normal of four layers, removal and error; clear less removal given their total."""
    covariance = np.diag([*VARIANCES, removed_u**2, u**2])
    mean = np.array([*MEANS, removed, 0.0])
    sees = np.array([1, 1, 1, 1, -1, 1.0])
    wants = np.array([0, 0, 0, 1, -1, 0.0])
    variance = sees @ covariance @ sees
    gain = wants @ covariance @ sees / variance
    clear = wants @ mean + gain * (total - sees @ mean)
    spread = np.sqrt(wants @ covariance @ wants - gain * (sees @ covariance @ wants))
    return [float(clear), float(spread)]


def simulated(total: float, u: float, removed: float, removed_u: float) -> list[float]:
    """Half a million cars, weighted by how well they fit the reading."""
    random = np.random.default_rng(20260101)
    count = 500_000
    layers = random.normal(MEANS, np.sqrt(VARIANCES), (count, 4))
    gone = random.normal(removed, removed_u, count) if removed_u > 0 else np.full(count, removed)
    weight = np.exp(-0.5 * ((total - layers.sum(axis=1) + gone) / u) ** 2)
    weight /= weight.sum()
    clear = layers[:, 3] - gone
    mean = weight @ clear
    order = np.argsort(clear)
    at_least = clear[order][np.searchsorted(np.cumsum(weight[order]), 0.05)]
    return [float(mean), float(np.sqrt(weight @ (clear - mean) ** 2)), float(at_least)]


# One spot over two visits: what happens, in order. A read is its mean and random error; a pass its
# removal and standard uncertainty.
HISTORY = [
    ("read", 112.0),
    ("pass", 2.0, 1.5),
    ("pass", 1.0, 0.5),
    ("read", 109.0),
    ("pass", 0.0, 3.0),
    ("read", 108.5),
    ("pass", 2.0, 1.0),
]


def history(gauge_u: float, noise: float) -> list[float]:
    """All of it at once: clear, rest, gauge error, every removal, every random error."""
    steps = [step for step in HISTORY if step[0] == "pass"]
    reads = [step for step in HISTORY if step[0] == "read"]
    size = 3 + len(steps) + len(reads)
    mean = np.zeros(size)
    mean[:2] = MEANS[3], MEANS[:3].sum()
    variance = np.zeros(size)
    variance[:3] = VARIANCES[3], VARIANCES[:3].sum(), gauge_u**2
    for index, (_, removed, u) in enumerate(steps):
        mean[3 + index], variance[3 + index] = removed, u**2
    variance[3 + len(steps) :] = noise**2
    covariance = np.diag(variance)
    sees, values, passes = [], [], 0
    for step in HISTORY:
        if step[0] == "pass":
            passes += 1
            continue
        row = np.zeros(size)
        row[:3] = 1
        row[3 : 3 + passes] = -1
        row[3 + len(steps) + len(values)] = 1
        sees.append(row)
        values.append(step[1])
    sees = np.array(sees)
    gain = covariance @ sees.T @ np.linalg.inv(sees @ covariance @ sees.T)
    mean = mean + gain @ (np.array(values) - sees @ mean)
    covariance = covariance - gain @ sees @ covariance
    clear = np.zeros(size)
    clear[0] = 1
    clear[3 : 3 + len(steps)] = -1
    gone = np.zeros(size)
    gone[3 : 3 + len(steps)] = 1
    spread = [float(np.sqrt(v @ covariance @ v)) for v in (clear, gone)]
    return [float(clear @ mean), spread[0], float(gone @ mean), spread[1]]


def values() -> dict:
    pairs = [([112, 113, 111], [106, 107, 106]), ([118, 117, 119, 118], [113, 112, 113])]
    return {
        # limit, percent, resolution; mean, sd, mad, u, nu, k; readings.
        "spots": [spot(*each) for each in SPOTS],
        "factors": [[nu, two_sided(nu)] for nu in (1.0, 2.0, 3.5, 4.0, 10.0, 49.9, 50.0, 101.8, 4000.0)],
        **end_gauge(),
        "removal": removal(2.0, 1.0, pairs),
        # total, u, removed, its u; mean, sd.
        "conditioned": [[*each, *conditioned(*each)] for each in CONDITIONED],
        # total, u, removed, its u; mean, sd, 5 % quantile.
        "simulated": [[*each, *simulated(*each)] for each in CONDITIONED],
        "history": history((1.0 + 0.02 * MEANS.sum()) / np.sqrt(3), np.hypot(1.0, 1 / np.sqrt(12))),
    }

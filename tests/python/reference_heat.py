"""Heat in polishing by scipy: closed forms, a panel by the method of lines, the mean speed of a
pad, and a fit.

Nothing here shares code or method with the Rust half: cells have their temperature in the middle,
are all of one size within a layer, and time is integrated by an implicit solver.
"""

import numpy as np
from scipy.integrate import dblquad, solve_ivp
from scipy.optimize import curve_fit
from scipy.sparse import csc_matrix, diags
from scipy.special import erfc, erfcinv
from scipy.stats import t as student

# k W/mK, rho kg/m3, c J/kgK (check values, section 4).
MATERIALS = {
    "steel": (63.9, 7832.0, 434.0),
    "aluminium": (167.0, 2700.0, 896.0),
    "composite": (0.6, 1600.0, 900.0),
    "plastic": (0.22, 905.0, 1680.0),
    "paint": (0.19, 1190.0, 1466.0),
}


def semi_infinite(material: str, flux: float, seconds: float) -> float:
    k, rho, c = MATERIALS[material]
    return 2 * flux * np.sqrt(seconds / np.pi) / np.sqrt(k * rho * c)


def at_depth(flux, seconds, depth, k, alpha) -> float:
    """The integral of the complementary error function, by scipy."""
    spread = np.sqrt(alpha * seconds)
    return float(
        2 * flux / k * spread / np.sqrt(np.pi) * np.exp(-(depth**2) / (4 * spread**2))
        - flux * depth / k * erfc(depth / (2 * spread))
    )


def lumped(material: str, thickness: float, flux: float, seconds: float, h: float) -> float:
    _, rho, c = MATERIALS[material]
    capacity = rho * c * thickness
    return float(-flux / h * np.expm1(-h * seconds / capacity))


def panel(layers, front_h, back_h, above_air, schedule, times) -> list[float]:
    """Surface above the air at `times`; a layer is (material, thickness, cells), a step of the
    schedule (seconds, flux)."""
    sizes, k, heat = [], [], []
    for material, thickness, cells in layers:
        conductivity, rho, c = MATERIALS[material]
        sizes += [thickness / cells] * cells
        k += [conductivity] * cells
        heat += [rho * c] * cells
    sizes, k, heat = map(np.array, (sizes, k, heat))
    half = sizes / (2 * k)
    between = 1 / (half[:-1] + half[1:])
    front = front_h / (1 + front_h * half[0])
    back = back_h / (1 + back_h * half[-1])
    capacity = heat * sizes
    loses = np.append(between, back) + np.insert(between, 0, front)
    matrix = diags([between, -loses, between], [-1, 0, 1])
    matrix = csc_matrix(diags(1 / capacity) @ matrix)
    state = np.full(len(sizes), float(above_air))
    surface, begun = [], 0.0
    for seconds, flux in schedule:
        source = np.zeros(len(sizes))
        # Part of the flux leaves to the air before it enters the first cell.
        source[0] = flux / (1 + front_h * half[0]) / capacity[0]
        wanted = [t for t in times if begun < t <= begun + seconds]
        solved = solve_ivp(
            lambda _, y: matrix @ y + source,
            (begun, begun + seconds),
            state,
            method="BDF",
            jac=matrix,
            t_eval=sorted({*wanted, begun + seconds}),
            rtol=1e-7,
            atol=1e-8,
        )
        for t in wanted:
            first = solved.y[0, list(solved.t).index(t)]
            surface.append(float((first + flux * half[0]) / (1 + front_h * half[0])))
        state = solved.y[:, -1]
        begun += seconds
    return surface


# name: layers, front h, back h, start above the air, schedule, times.
PANELS = {
    "steel_bare": ([("steel", 0.7e-3, 60)], 15.0, 0.0, 0.0, [(60.0, 2000.0)], [1.0, 20.0, 60.0]),
    "steel_painted": (
        [("paint", 120e-6, 40), ("steel", 0.7e-3, 40)],
        15.0, 0.0, 0.0, [(45.0, 1500.0), (60.0, 0.0), (45.0, 1500.0)], [5.0, 45.0, 105.0, 150.0],
    ),
    "aluminium_warm": (
        [("paint", 150e-6, 40), ("aluminium", 1.0e-3, 40)],
        20.0, 5.0, 12.0, [(30.0, 0.0), (60.0, 2500.0)], [30.0, 60.0, 90.0],
    ),
    "composite_painted": (
        [("paint", 120e-6, 40), ("composite", 1.5e-3, 120)],
        15.0, 5.0, 0.0, [(30.0, 600.0), (90.0, 0.0), (30.0, 900.0)], [5.0, 30.0, 120.0, 150.0],
    ),
    "plastic_painted": (
        [("paint", 100e-6, 40), ("plastic", 3.0e-3, 200)],
        15.0, 0.0, -5.0, [(30.0, 500.0), (60.0, 0.0), (30.0, 500.0)], [2.0, 30.0, 90.0, 120.0],
    ),
    "plastic_thick": ([("plastic", 20e-3, 800)], 0.0, 0.0, 0.0, [(60.0, 500.0)], [5.0, 10.0, 60.0]),
}

# orbits a minute, orbit mm, turns a minute, pad mm.
MOTIONS = [(4000.0, 15.0, 0.0, 125.0), (4800.0, 8.0, 400.0, 125.0), (5000.0, 21.0, 200.0, 150.0), (4000.0, 5.0, 900.0, 125.0), (0.0, 0.0, 1200.0, 150.0)]


def mean_speed(orbits: float, orbit_mm: float, turns: float, pad_mm: float) -> float:
    """Length of orbit velocity plus turning velocity, over pad and angle."""
    orbit = np.pi * orbit_mm / 1000 * orbits / 60
    rim = np.pi * pad_mm / 1000 * turns / 60
    total, _ = dblquad(
        lambda angle, share: 2 * share * np.hypot(orbit + rim * share * np.cos(angle), rim * share * np.sin(angle)),
        0, 1, 0, np.pi, epsabs=1e-9,
    )
    return total / np.pi


# Readings of a painted steel panel: s, K above the air.
READINGS = [(10.0, 1.3), (20.0, 2.2), (30.0, 3.6), (45.0, 4.9), (75.0, 4.2)]
UNIT_FLUX = 800.0


def fit() -> dict:
    """scipy's curve_fit of the heat factor to READINGS, and the next pass."""
    layers = [("paint", 120e-6, 40), ("steel", 0.7e-3, 40)]
    times = [t for t, _ in READINGS]
    schedule = [(45.0, UNIT_FLUX), (60.0, 0.0), (60.0, UNIT_FLUX)]
    answers = panel(layers, 15.0, 0.0, 0.0, schedule, [*times, 165.0])
    unit, peak = np.array(answers[:-1]), answers[-1]
    seen = np.array([k for _, k in READINGS])
    (factor,), covariance = curve_fit(lambda g, f: f * g, unit, seen, p0=[0.3])
    error = float(np.sqrt(covariance[0, 0]))
    freedom = len(READINGS) - 1
    scatter = float(np.sqrt(np.sum((seen - factor * unit) ** 2) / freedom))
    quantile = float(student.ppf(0.975, freedom))
    half = quantile * np.hypot(peak * error, scatter)
    return {
        "readings": [list(reading) for reading in READINGS],
        "fit": [float(factor), error, scatter, quantile, float(factor * peak), float(half)],
    }


def values() -> dict:
    blocks = [semi_infinite(m, 5000.0, s) for m in ("steel", "aluminium", "plastic", "paint", "composite") for s in (10.0, 60.0)]
    depths = [
        at_depth(1250.0, 1200.0, 0.02, 1.26, 1.1e-5),
        at_depth(5000.0, 30.0, 1e-3, 0.22, 0.22 / (905.0 * 1680.0)),
    ]
    alpha_soil = 0.52 / (2050.0 * 1840.0)
    return {
        "semi_infinite": blocks,
        "at_depth": depths,
        "freezing_depth": float(2 * np.sqrt(alpha_soil * 60 * 86400) * erfcinv(20 / 35)),
        "lumped": [
            lumped("steel", 0.7e-3, 2000.0, 20.0, 15.0),
            lumped("aluminium", 1.0e-3, 2000.0, 60.0, 15.0),
            lumped("composite", 1.5e-3, 500.0, 60.0, 10.0),
        ],
        "speeds": [[*motion, mean_speed(*motion)] for motion in MOTIONS],
        **{f"panel_{name}": panel(*case) for name, case in PANELS.items()},
        **fit(),
    }

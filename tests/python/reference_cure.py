"""Cure doses along 20 profiles by scipy's adaptive quadrature and root finder.

A profile is knots of hours, panel C and RH %, straight lines between, the last
held. The generator's seed is fixed, so that every run asks the same."""

import math

import numpy as np
import psychrolib as psy
from scipy.integrate import quad
from scipy.optimize import brentq

R = 8.314462618
KELVIN = 273.15
REFERENCE_C = 20.0
REFERENCE_RH = 50.0
# Stated doses, hours at reference: from a wipe window to a full cure.
DOSES = (1.0, 12.0, 60.0)

psy.SetUnitSystem(psy.SI)


def vapour(celsius: float, humidity: float) -> float:
    """Proportional to grams per cubic metre."""
    return humidity * psy.GetSatVapPres(celsius) / (celsius + KELVIN)


def random_profile(random: np.random.Generator) -> list[list[float]]:
    count = int(random.integers(3, 30))
    hours = np.cumsum(random.uniform(0.25, 12.0, count)) - 1.0
    celsius = random.uniform(5.0, 45.0, count)
    humidity = random.uniform(25.0, 90.0, count)
    return [[float(h), float(c), float(rh)] for h, c, rh in zip(hours, celsius, humidity)]


def lines(profile, hours):
    times, celsius, humidity = (np.array(column) for column in zip(*profile))
    return float(np.interp(hours, times, celsius)), float(np.interp(hours, times, humidity))


def rate_of(profile, model):
    """Rate at an hour. model: kind, its parameter, humidity exponent (0: none)."""
    kind, parameter, exponent = model

    def rate(hours: float) -> float:
        celsius, humidity = lines(profile, hours)
        if kind == 0:
            kelvins = parameter * 1000 / R
            found = math.exp(kelvins * (1 / (REFERENCE_C + KELVIN) - 1 / (celsius + KELVIN)))
        else:
            found = parameter ** ((celsius - REFERENCE_C) / 10)
        if exponent:
            found *= (vapour(celsius, humidity) / vapour(REFERENCE_C, REFERENCE_RH)) ** exponent
        return found

    return rate


def integral(rate, profile, to: float) -> float:
    """From the first knot, knot by knot: quadrature does not like corners."""
    ends = [profile[0][0]] + [knot[0] for knot in profile if profile[0][0] < knot[0] < to] + [to]
    return sum(quad(rate, low, high, epsabs=1e-12, epsrel=1e-11)[0] for low, high in zip(ends, ends[1:]))


def when(rate, profile, dose: float) -> float:
    """Hours after the first knot at which the dose is reached."""
    begin = profile[0][0]
    end = profile[-1][0]
    whole = integral(rate, profile, end)
    if dose > whole:
        return end + (dose - whole) / rate(end) - begin
    return brentq(lambda to: integral(rate, profile, to) - dose, begin, end, xtol=1e-10) - begin


def mean_kinetic(temperatures, energy: float) -> float:
    kelvins = energy * 1000 / R
    mean = np.mean(np.exp(-kelvins / (np.array(temperatures) + KELVIN)))
    return float(kelvins / -np.log(mean) - KELVIN)


def profile_a() -> list[list[float]]:
    return [[0.0, 15.0, 50.0], [4.0, 35.0, 50.0], [12.0, 35.0, 50.0], [24.0, 10.0, 50.0]]


def values() -> dict:
    random = np.random.default_rng(20260302)
    profiles, models, times = [], [], []
    for number in range(20):
        profile = profile_a() if number == 0 else random_profile(random)
        if number == 0:
            model = (0, 60.0, 0.0)
        elif number % 4 == 3:
            model = (1, float(random.uniform(1.5, 3.0)), 0.0)
        else:
            exponent = float(random.uniform(0.5, 1.5)) if number % 4 == 2 else 0.0
            model = (0, float(random.uniform(30.0, 110.0)), exponent)
        rate = rate_of(profile, model)
        profiles.append([value for knot in profile for value in knot])
        models.append(list(model))
        times.append([when(rate, profile, dose) for dose in DOSES])
    # A sine has no knots: the series has to follow it with samples.
    sine = lambda hours: 18 + 6 * math.sin(2 * math.pi * hours / 24)
    of_sine = lambda hours: math.exp(60e3 / R * (1 / 293.15 - 1 / (sine(hours) + KELVIN)))
    return {
        "profiles": profiles,
        "models": models,
        "times": times,
        "doses": list(DOSES),
        "sine_dose": quad(of_sine, 0, 24, epsabs=1e-12)[0],
        "mean_kinetic_steps": mean_kinetic([20, 25, 30], 83.144),
        "mean_kinetic_excursion": mean_kinetic([15, 15, 15, 40], 83.144),
        "mean_kinetic_cold": mean_kinetic([4, 4, 4, 4, 16], 83.144),
        "mean_kinetic_year": mean_kinetic([20, 22, 24, 26, 28, 30, 32, 30, 28, 26, 24, 22], 83.144),
    }

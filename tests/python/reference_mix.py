"""Mixes: interpolation by scipy, flash points by thermo, money by decimal."""

from decimal import ROUND_HALF_EVEN, Decimal

from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from thermo import VaporPressure
from thermo.unifac import (
    DDBST_MODIFIED_UNIFAC_assignments,
    DOUFIP2006,
    DOUFSG,
    UNIFAC,
    load_group_assignments_DDBST,
)

# R. B. Lebo 1921: percent by weight, g/ml at 20 C; water as in the source.
LEBO = [
    (0.0, 0.998),
    (9.58, 0.98293),
    (21.39, 0.96847),
    (33.17, 0.94590),
    (43.02, 0.92418),
    (53.07, 0.89868),
    (65.22, 0.87003),
    (74.35, 0.84828),
    (85.09, 0.82282),
    (90.35, 0.80866),
    (100.0, 0.78556),
]
density = PchipInterpolator(*zip(*LEBO))
PURE = float(density(100.0))

MOLAR = {"propanol": 60.09502, "water": 18.01528}
PROPANOL_CAS = "67-63-0"
PROPANOL_KEY = "KFZMGEQAYNKOFK-UHFFFAOYSA-N"
WATER_GROUPS = {16: 1}
NEAT_FLASH_C = 12.0
KELVIN = 273.15


def volume_percent(weight_percent: float) -> float:
    return weight_percent * float(density(weight_percent)) / PURE


def weight_percent(volume: float) -> float:
    return brentq(lambda weight: volume_percent(weight) - volume, 0.0, 100.0, xtol=1e-12)


def poured(alcohol_ml: float, water_ml: float) -> list[float]:
    """Neat alcohol ml, water ml, true volume ml, true percent by volume."""
    alcohol_g = alcohol_ml * PURE
    mass_g = alcohol_g + water_ml * float(density(0.0))
    weight = 100.0 * alcohol_g / mass_g
    total_ml = mass_g / float(density(weight))
    return [alcohol_ml, water_ml, total_ml, volume_percent(weight)]


def exact_water(stock: float, target: float) -> list[float]:
    """Stock and target percent by volume; water ml for exactly a litre."""
    stock_ml = 1000.0 * target / stock
    mass_g = 1000.0 * float(density(weight_percent(target)))
    stock_g = stock_ml * float(density(weight_percent(stock)))
    return [stock, target, (mass_g - stock_g) / float(density(0.0))]


def flash_c(groups: dict, weight: float) -> float:
    """Where the alcohol's partial pressure over the mix is that of the neat liquid at its flash point."""
    alcohol = weight / MOLAR["propanol"]
    x = alcohol / (alcohol + (100.0 - weight) / MOLAR["water"])
    pressure = VaporPressure(CASRN=PROPANOL_CAS)
    wanted = pressure(NEAT_FLASH_C + KELVIN)

    def gap(kelvin: float) -> float:
        model = UNIFAC.from_subgroups(
            T=kelvin,
            xs=[x, 1.0 - x],
            chemgroups=[groups, WATER_GROUPS],
            subgroups=DOUFSG,
            interaction_data=DOUFIP2006,
            version=1,
        )
        return x * model.gammas()[0] * pressure(kelvin) - wanted

    return brentq(gap, 280.0, 360.0) - KELVIN


def litre(price: int, bought_ml: str, percent: str) -> list[float]:
    """Minor units, ml bought, percent of stock; minor units a litre, half to even."""
    cost = Decimal(price) * 1000 * Decimal(percent) / 100 / Decimal(bought_ml)
    whole = cost.quantize(Decimal(1), rounding=ROUND_HALF_EVEN)
    return [float(price), float(bought_ml), float(percent), float(whole)]


def values() -> dict:
    load_group_assignments_DDBST()
    groups = DDBST_MODIFIED_UNIFAC_assignments[PROPANOL_KEY]
    return {
        "densities": [[w, float(density(w))] for w in (3.0, 15.0, 27.5, 38.0, 48.0, 59.0, 70.0, 80.0, 95.0)],
        "poured": [poured(a, 1000.0 - a) for a in (100.0, 150.0, 300.0, 400.0, 500.0, 700.0, 900.0)],
        "exact": [exact_water(s, t) for s, t in ((91.0, 35.0), (99.0, 70.0), (70.0, 15.0))],
        "flash": [[w, flash_c(groups, w)] for w in (5.0, 6.0, 8.5, 12.0, 17.0, 22.0, 28.5, 35.0, 45.0, 55.0, 65.0, 75.0, 87.9, 95.0)],
        "litre": [
            litre(2499, "5000", "10"),
            litre(1, "1000", "50"),
            litre(3, "1000", "50"),
            litre(999_999_999_999, "946.353", "3.125"),
            litre(1875, "3785.412", "33.5"),
            litre(120_000, "20000", "0.5"),
        ],
    }

"""Moist air by PsychroLib, over the range in which agreement is promised."""

import psychrolib as psy

psy.SetUnitSystem(psy.SI)

# Sea level and 1000 m (ASHRAE Fundamentals 2017, chapter 1, table 1).
PRESSURES_PA = (101325.0, 89875.0)


def answer(air_c: float, humidity: float, pressure_pa: float) -> list[float]:
    share = humidity / 100
    return [
        air_c,
        humidity,
        pressure_pa,
        psy.GetTDewPointFromRelHum(air_c, share),
        psy.GetTWetBulbFromRelHum(air_c, share, pressure_pa),
        psy.GetHumRatioFromRelHum(air_c, share, pressure_pa),
    ]


def values() -> dict:
    """points: few, for a row each; grid: many, for the worst of them.

    A row is air C, RH %, pressure Pa, dew point C, wet bulb C, W kg/kg."""
    points = [
        answer(air_c, humidity, PRESSURES_PA[0])
        for air_c in (-20.0, -10.0, 5.0, 20.0, 35.0, 50.0)
        for humidity in (5.0, 35.0, 65.0, 100.0)
    ]
    grid = [
        answer(2.5 * step - 20.0, 5.0 * part, pressure_pa)
        for step in range(29)
        for part in range(1, 21)
        for pressure_pa in PRESSURES_PA
    ]
    heights = [[height_m, psy.GetStandardAtmPressure(height_m)] for height_m in (-300.0, 0.0, 500.0, 1000.0, 2500.0, 4000.0)]
    return {"points": points, "grid": grid, "heights": heights}

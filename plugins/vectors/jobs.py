"""Draws invented jobs from a seed: most of them plain, some at the edges, some wrong."""

import random

# Currencies of 2, 0 and 3 minor digits: ISO 4217.
CURRENCIES = (("EUR", 2), ("USD", 2), ("JPY", 0), ("KWD", 3))
PANELS = ("hood", "roof", "tailgate", "door-left", "door-right", "wing-left", "mirror-left")
SERVICES = ("correct", "coat", "film", "wash", "strip", "trim")
CONDITIONS = ("Good", "Light", "Moderate", "Severe")
KEYS = (
    ["film-per-m", "film-per-m.matt-film", "chemical-per-l", "chemical-per-l.pre-wash"]
    + ["labour-per-h", "labour-per-h.strip", "each.trim", "each.wash"]
    + [f"{size}-per-m2.correct" for size in ("small", "medium", "large")]
)
FACTORS = ("good-per-mille", "moderate-per-mille.correct", "severe-per-mille", "unknown-per-mille")


def draw(count, seed):
    """So many requests, the same for the same seed."""
    source = random.Random(seed)
    for number in range(count):
        request = plain(source, number)
        # One in six is bent, so that refusals are compared too.
        if source.random() < 1 / 6:
            source.choice(BENDS)(source, request)
        yield request


def plain(source, number):
    currency, minor_digits = source.choice(CURRENCIES)
    panels = [
        {
            "id": name,
            "name": source.choice((name.replace("-", " ").capitalize(), "")),
            "substrate": source.choice(("Unknown", "Steel", "Aluminium", "Composite", "Plastic")),
            "finish": source.choice(("Unknown", "ClearCoat", "SingleStage", "Matt", "Unpainted")),
            "condition": source.choice(CONDITIONS),
            "area_cm2": area(source),
        }
        for name in source.sample(PANELS, source.randint(1, len(PANELS)))
    ]
    services = [
        {
            "code": code,
            "description": source.choice((f"The {code} service", "")),
            "panels": [p["id"] for p in panels if source.random() < 0.5],
        }
        for code in source.sample(SERVICES, source.randint(1, 4))
    ]
    measures = [
        measure(source, "labour", service["code"], "h", 20_000)
        for service in services
        if service["code"] in ("strip", "trim") or source.random() < 0.3
    ]
    for kind, items, unit, most in (
        ("film", ("clear-film", "matt-film"), "m", 20_000),
        ("chemical", ("pre-wash", "compound"), "ml", 2_000_000),
    ):
        measures += [
            measure(source, kind, item, unit, most) for item in items if source.random() < 0.5
        ]
    source.shuffle(measures)
    return {
        "job": {
            "id": f"job-{number}",
            "name": "Blue estate",
            "booked_at": "2026-03-02T09:00:00+01:00",
            "promised_at": source.choice((None, "2026-03-04T17:00:00+01:00")),
            "arrival_condition": "light swirls",
            "wishes": source.choice(("", "gloss, naïvely “wet”")),
            "services": services,
            "panels": panels,
        },
        "measures": measures,
        "money": {
            "currency": currency,
            "minor_digits": minor_digits,
            "rounding": source.choice(("HalfUp", "HalfEven")),
            "tax_basis": source.choice(("Line", "Class")),
            "tax_classes": [
                {"name": "standard", "rate_ppm": source.choice((190_000, 200_000, 77_000, 88_750))},
                {"name": "reduced", "rate_ppm": source.choice((70_000, 55_000, 25_000, 0))},
            ],
        },
        "settings": settings(source),
    }


def area(source):
    """Often near a limit of a size, or on a half of the rounding."""
    edge = source.choice((4_999, 5_000, 5_001, 11_995, 12_000, 12_001, 5, 15, 4_294_967_295))
    return edge if source.random() < 0.2 else source.randint(1, 30_000)


def measure(source, kind, item, unit, most):
    quantity = source.choice(
        (source.randint(1, most), source.randint(1, most // 500) * 500, source.randint(0, 1_500))
    )
    return {"kind": kind, "item": item, "quantity": quantity, "unit": unit}


def settings(source):
    """Prices that end in 1 to 9 and odd factors make halves common."""
    given = {}
    for key in source.sample(KEYS, source.randint(0, 5)):
        given[key] = str(source.choice((source.randint(0, 20_000), source.randint(1, 99))))
    for key in source.sample(FACTORS, source.randint(0, 2)):
        given[key] = str(source.choice((500, 1_250, 1_125, 333, 0, 10_000)))
    if source.random() < 0.4:
        given["discount-per-mille"] = str(source.choice((25, 50, 105, 333, 1_000)))
    if source.random() < 0.4:
        given[source.choice(("work-tax-class", "material-tax-class"))] = "reduced"
    if source.random() < 0.2:
        given["small-up-to-cm2"], given["medium-up-to-cm2"] = "3000", "9000"
    return [{"key": key, "value": value} for key, value in given.items()]


def bend_setting(source, request):
    key, value = source.choice(
        (
            ("film-per-m", "-1"),
            ("film-per-m", "+1"),
            ("film-per-m", " 1"),
            ("film-per-m", "1_000"),
            ("film-per-m", "٣"),
            ("film-per-m", "1000000001"),
            ("film-per-m", "00000000001"),
            ("film-per-m.", "1"),
            ("film-per-m", ""),
            ("film-per-m", "1000000000"),
            ("each.trim", ""),
            ("each", "1"),
            ("each.correct", "1"),
            ("small-per-m2.trim", "1"),
            ("large-per-m2.correct", ""),
            ("good-per-mille.correct", "10001"),
            ("good-per-mille", ""),
            ("discount-per-mille", ""),
            ("discount-per-mille", "1001"),
            ("discount-per-mille.film", "1"),
            ("small-up-to-cm2", "0"),
            ("small-up-to-cm2", "12000"),
            ("work-tax-class", "none"),
            ("work-tax-class", ""),
            ("hourly", "1"),
            ("", "1"),
        )
    )
    kept = [setting for setting in request["settings"] if setting["key"] != key]
    request["settings"] = kept + [{"key": key, "value": value}]


def bend_twice(source, request):
    request["settings"] += [{"key": "labour-per-h", "value": "1"}] * 2


def bend_panel(source, request):
    panel = source.choice(request["job"]["panels"])
    field, value = source.choice((("area_cm2", None), ("area_cm2", 0), ("condition", "Unknown")))
    panel[field] = value


def bend_service(source, request):
    service = source.choice(request["job"]["services"])
    field, value = source.choice((("panels", ["spoiler"]), ("code", "dent"), ("code", "")))
    service[field] = value


def bend_measure(source, request):
    request["measures"].append(
        source.choice(
            (
                {"kind": "film", "item": "clear-film", "quantity": -1, "unit": "m"},
                {"kind": "film", "item": "clear-film", "quantity": 1, "unit": "m2"},
                {"kind": "tape", "item": "any", "quantity": 1, "unit": "m"},
                {"kind": "film", "item": "", "quantity": 2_000, "unit": "m"},
                {"kind": "film", "item": "clear-film", "quantity": 2**63 - 1, "unit": "m"},
                {"kind": "chemical", "item": "compound", "quantity": 499, "unit": "ml"},
                {"kind": "chemical", "item": "compound", "quantity": 500, "unit": "ml"},
            )
        )
    )


def bend_empty(source, request):
    place, field = source.choice(
        ((request["job"], "services"), (request["job"], "panels"), (request["money"], "tax_classes"))
    )
    place[field] = []


BENDS = (bend_setting, bend_setting, bend_twice, bend_panel, bend_service, bend_measure, bend_empty)

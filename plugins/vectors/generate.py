#!/usr/bin/env python3
"""Draws jobs and works out what the tiered price rule makes of them.

The rule is in ../tiered-pricing/README.md. This is a second reading of those words: in
decimal arithmetic (`decimal`, which follows the General Decimal Arithmetic Specification
and IEEE 754), amounts in whole units of currency and not in minor ones, and with no code
in common with the plugins. Output: one JSON object a line.
"""

import argparse
import json
import sys
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal, localcontext

from jobs import draw

SIZES = ("small", "medium", "large")
CONDITIONS = {
    "Unknown": "unknown",
    "Good": "good",
    "Light": "light",
    "Moderate": "moderate",
    "Severe": "severe",
}

# The table of defaults in the README, read into keys.
DEFAULTS = {
    "small-up-to-cm2": 5000,
    "medium-up-to-cm2": 12000,
    "discount-per-mille": 0,
    "each.wash": 4500,
    "film-per-m": 5500,
    "chemical-per-l": 4000,
    "labour-per-h": 6500,
}
for code, per_m2 in {
    "correct": (9000, 7500, 6000),
    "coat": (6000, 5000, 4000),
    "film": (22000, 18000, 15000),
}.items():
    for size, price in zip(SIZES, per_m2):
        DEFAULTS[f"{size}-per-m2.{code}"] = price
for condition, factor in {"good": 800, "light": 1000, "moderate": 1300, "severe": 1700}.items():
    DEFAULTS[f"{condition}-per-mille"] = factor
for condition in CONDITIONS.values():
    for code in ("coat", "film"):
        DEFAULTS[f"{condition}-per-mille.{code}"] = 1000


class Refused(Exception):
    """There is no price; says of which kind the refusal is."""


class Shop:
    """The figures that hold, and how money is rounded."""

    def __init__(self, request):
        money = request["money"]
        classes = [entry["name"] for entry in money["tax_classes"]]
        if not classes:
            raise Refused("Missing")
        self.cent = Decimal(1).scaleb(-money["minor_digits"])
        self.rounding = ROUND_HALF_UP if money["rounding"] == "HalfUp" else ROUND_HALF_EVEN
        self.by_line = money["tax_basis"] == "Line"
        self.rates = {
            entry["name"]: Decimal(entry["rate_ppm"]) / 1_000_000 for entry in money["tax_classes"]
        }
        self.figures = dict(DEFAULTS)
        self.classes = {"work-tax-class": classes[0], "material-tax-class": classes[0]}
        keys = [setting["key"] for setting in request["settings"]]
        if len(set(keys)) != len(keys):
            raise Refused("BadSetting")
        for setting in request["settings"]:
            self.set(setting["key"], setting["value"])
        if self.figures["small-up-to-cm2"] >= self.figures["medium-up-to-cm2"]:
            raise Refused("BadSetting")

    def set(self, key, value):
        if key in self.classes:
            if value not in self.rates:
                raise Refused("BadSetting")
            self.classes[key] = value
            return
        name, dot, what = key.partition(".")
        plain = name in ("small-up-to-cm2", "medium-up-to-cm2", "discount-per-mille")
        needs = name in ("small-per-m2", "medium-per-m2", "large-per-m2", "each")
        general = name in ("film-per-m", "chemical-per-l", "labour-per-h")
        factor = name in [f"{condition}-per-mille" for condition in CONDITIONS.values()]
        if not (plain or needs or general or factor):
            raise Refused("BadSetting")
        if (plain and dot) or (needs and not what) or (dot and not what):
            raise Refused("BadSetting")
        if value == "" and not plain:
            self.figures.pop(key, None)
            return
        most = 1000 if name == "discount-per-mille" else 10_000 if factor else 10**9
        least = 1 if name.endswith("-up-to-cm2") else 0
        if not (value.isascii() and value.isdigit() and len(value) <= 10):
            raise Refused("BadSetting")
        if not least <= int(value) <= most:
            raise Refused("BadSetting")
        self.figures[key] = int(value)

    def figure(self, name, what):
        return self.figures.get(f"{name}.{what}", self.figures.get(name))

    def money(self, minor):
        """A price as the settings give it, in whole units of currency."""
        return Decimal(minor) * self.cent

    def rounded(self, amount):
        return amount.quantize(self.cent, rounding=self.rounding)

    def minor(self, amount):
        whole = int(amount / self.cent)
        if not -(2**63) <= whole < 2**63:
            raise Refused("NotCovered")
        return whole

    def prices_of(self, code):
        """Prices by size, price each; either may be None."""
        by_size = [self.figures.get(f"{size}-per-m2.{code}") for size in SIZES]
        each = self.figures.get(f"each.{code}")
        some = [price for price in by_size if price is not None]
        if (some and len(some) < 3) or (some and each is not None):
            raise Refused("BadSetting")
        return (by_size if some else None), each


def expected(request):
    """The quote that the rule gives, without reasons and notes, or the refusal's kind."""
    try:
        with localcontext(Context(prec=80)):
            return {"quote": quote(Shop(request), request)}
    except Refused as refused:
        return {"refusal": str(refused)}


def quote(shop, request):
    refusals = []
    lines = []

    def attempt(work, *arguments):
        try:
            lines.extend(work(shop, *arguments, request))
        except Refused as refused:
            refusals.append(str(refused))

    for service in request["job"]["services"]:
        attempt(service_lines, service)
    for measure in request["measures"]:
        attempt(measure_lines, measure)
    for kind in ("BadSetting", "NotCovered", "Missing"):
        if kind in refusals:
            raise Refused(kind)
    lines += discount_lines(shop, lines)
    return add_up(shop, lines)


def service_lines(shop, service, request):
    code = service["code"]
    title = service["description"].strip() and service["description"] or code
    work = shop.classes["work-tax-class"]
    by_size, each = shop.prices_of(code)
    if each is not None:
        return [entry(shop, code, title, Decimal(1), "pc", shop.money(each), work)]
    if by_size is None:
        hours = [
            measure["quantity"]
            for measure in request["measures"]
            if (measure["kind"], measure["item"]) == ("labour", code)
        ]
        if not any(quantity > 0 for quantity in hours):
            raise Refused("Missing")
        return []
    on_car = {panel["id"]: panel for panel in request["job"]["panels"]}
    chosen = [on_car.get(panel) for panel in service["panels"] or on_car]
    kinds = {"Missing"} if not chosen else set()
    lines = []
    for panel in chosen:
        if panel is None:
            kinds.add("Missing")
            continue
        factor = shop.figure(f"{CONDITIONS[panel['condition']]}-per-mille", code)
        if factor is None:
            kinds.add("Missing" if panel["condition"] == "Unknown" else "NotCovered")
        if not panel["area_cm2"]:
            kinds.add("Missing")
        if factor is None or not panel["area_cm2"]:
            continue
        area_m2 = Decimal(panel["area_cm2"]) / 10_000
        limits = [Decimal(shop.figures[f"{size}-up-to-cm2"]) / 10_000 for size in SIZES[:2]]
        size = sum(area_m2 > limit for limit in limits)
        price = shop.rounded(shop.money(by_size[size]) * factor / 1000)
        quantity = area_m2.quantize(Decimal("0.001"), rounding=ROUND_HALF_UP)
        name = panel["name"].strip() and panel["name"] or panel["id"]
        lines.append(entry(shop, code, f"{title}, {name}", quantity, "m2", price, work))
    for kind in ("NotCovered", "Missing"):
        if kind in kinds:
            raise Refused(kind)
    return lines


def measure_lines(shop, measure, request):
    kind, item, unit = measure["kind"], measure["item"], measure["unit"]
    quantity = Decimal(measure["quantity"]) / 1000
    rules = {
        ("film", "m"): ("film-per-m", "Film", "m", "material-tax-class"),
        ("chemical", "ml"): ("chemical-per-l", "Liquid", "l", "material-tax-class"),
        ("labour", "h"): ("labour-per-h", "Labour", "h", "work-tax-class"),
    }
    if quantity < 0 or (kind, unit) not in rules:
        raise Refused("NotCovered")
    name, title, unit, tax_class = rules[kind, unit]
    if kind == "labour":
        try:
            if shop.prices_of(item) != (None, None):
                return []
        except Refused:
            # Its own contradiction is told where the service is priced.
            return []
    if kind == "chemical":
        quantity = (quantity / 1000).quantize(Decimal("0.001"), rounding=ROUND_HALF_UP)
    price = shop.figure(name, item)
    if price is None:
        raise Refused("NotCovered")
    if quantity == 0:
        return []
    description = f"{title}, {item if item.strip() else 'any'}"
    tax_class = shop.classes[tax_class]
    return [entry(shop, kind, description, quantity, unit, shop.money(price), tax_class)]


def discount_lines(shop, lines):
    share = Decimal(shop.figures["discount-per-mille"]) / 1000
    nets = {}
    for line in lines:
        nets[line["tax_class"]] = nets.get(line["tax_class"], 0) + line["amount"]
    return [
        entry(shop, "discount", "Discount", Decimal(1), "pc", -shop.rounded(net * share), tax_class)
        for tax_class, net in nets.items()
        if shop.rounded(net * share) > 0
    ]


def entry(shop, code, description, quantity, unit, price, tax_class):
    return {
        "code": code,
        "description": description,
        "quantity": quantity,
        "unit": unit,
        "unit_price": price,
        "amount": shop.rounded(quantity * price),
        "tax_class": tax_class,
    }


def add_up(shop, lines):
    if not lines:
        raise Refused("Missing")
    taxes = {}
    for line in lines:
        net, by_line = taxes.get(line["tax_class"], (0, 0))
        tax = shop.rounded(line["amount"] * shop.rates[line["tax_class"]])
        taxes[line["tax_class"]] = (net + line["amount"], by_line + tax)
    taxes = {
        name: (net, by_line if shop.by_line else shop.rounded(net * shop.rates[name]))
        for name, (net, by_line) in taxes.items()
    }
    net_total = sum(net for net, _ in taxes.values())
    tax_total = sum(tax for _, tax in taxes.values())
    if net_total + tax_total < 0:
        raise Refused("NotCovered")
    return {
        "lines": [
            line
            | {
                "quantity": int(line["quantity"] * 1000),
                "unit_price": shop.minor(line["unit_price"]),
                "amount": shop.minor(line["amount"]),
            }
            for line in lines
        ],
        "taxes": [
            {"tax_class": name, "net": shop.minor(net), "tax": shop.minor(tax)}
            for name, (net, tax) in taxes.items()
        ],
        "net_total": shop.minor(net_total),
        "tax_total": shop.minor(tax_total),
        "gross_total": shop.minor(net_total + tax_total),
    }


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=1000, help="how many jobs")
    parser.add_argument("--seed", type=int, default=20260302, help="what they are drawn from")
    arguments = parser.parse_args()
    for request in draw(arguments.count, arguments.seed):
        json.dump(
            {"request": request, "expected": expected(request)},
            sys.stdout,
            separators=(",", ":"),
        )
        sys.stdout.write("\n")


if __name__ == "__main__":
    main()

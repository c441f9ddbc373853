"""The shop's settings over the rule's own figures; see ../tiered-pricing/README.md."""

import re

from draft import bad_setting, missing

PRICE = 1_000_000_000
NEVER, PERHAPS, ALWAYS = range(3)

# Name of a number: what may follow it, and its range.
NAMES = {
    "small-up-to-cm2": (NEVER, 1, PRICE),
    "medium-up-to-cm2": (NEVER, 1, PRICE),
    "discount-per-mille": (NEVER, 0, 1_000),
    "small-per-m2": (ALWAYS, 0, PRICE),
    "medium-per-m2": (ALWAYS, 0, PRICE),
    "large-per-m2": (ALWAYS, 0, PRICE),
    "each": (ALWAYS, 0, PRICE),
    "good-per-mille": (PERHAPS, 0, 10_000),
    "light-per-mille": (PERHAPS, 0, 10_000),
    "moderate-per-mille": (PERHAPS, 0, 10_000),
    "severe-per-mille": (PERHAPS, 0, 10_000),
    "unknown-per-mille": (PERHAPS, 0, 10_000),
    "film-per-m": (PERHAPS, 0, PRICE),
    "chemical-per-l": (PERHAPS, 0, PRICE),
    "labour-per-h": (PERHAPS, 0, PRICE),
}

# Invented figures, in minor units.
DEFAULTS = {
    "small-up-to-cm2": 5_000,
    "medium-up-to-cm2": 12_000,
    "discount-per-mille": 0,
    "small-per-m2.correct": 9_000,
    "medium-per-m2.correct": 7_500,
    "large-per-m2.correct": 6_000,
    "small-per-m2.coat": 6_000,
    "medium-per-m2.coat": 5_000,
    "large-per-m2.coat": 4_000,
    "small-per-m2.film": 22_000,
    "medium-per-m2.film": 18_000,
    "large-per-m2.film": 15_000,
    "each.wash": 4_500,
    "good-per-mille": 800,
    "light-per-mille": 1_000,
    "moderate-per-mille": 1_300,
    "severe-per-mille": 1_700,
    "film-per-m": 5_500,
    "chemical-per-l": 4_000,
    "labour-per-h": 6_500,
}
# How worn the paint is makes no difference to these two.
for worn in ("good", "light", "moderate", "severe", "unknown"):
    DEFAULTS[f"{worn}-per-mille.coat"] = 1_000
    DEFAULTS[f"{worn}-per-mille.film"] = 1_000

SIZES = ("small-per-m2", "medium-per-m2", "large-per-m2")


class Prices:
    """The figures that a job is priced with."""

    def __init__(self, settings, money):
        names = [entry.name for entry in money.tax_classes]
        if not names:
            raise missing("a tax class in the shop's rules of money")
        self.numbers = dict(DEFAULTS)
        self.classes = {"work-tax-class": names[0], "material-tax-class": names[0]}
        faults = []
        seen = set()
        for setting in settings:
            key, value = setting.key, setting.value
            if key in seen:
                faults.append(f"`{key}` is given twice")
            elif key not in self.classes:
                faults += self.set_number(key, value)
            elif value in names:
                self.classes[key] = value
            else:
                faults.append(f"`{key}` is `{value}`, which is not among the shop's tax classes")
            seen.add(key)
        small, medium = self.limits_cm2()
        if small >= medium:
            faults.append(f"`small-up-to-cm2` {small} is not below `medium-up-to-cm2` {medium}")
        if faults:
            raise bad_setting("; ".join(faults))

    def set_number(self, key, value):
        """What is wrong with it, if anything."""
        name, dot, what = key.partition(".")
        suffix, least, most = NAMES.get(name, (None, 0, 0))
        # A name never ends in a full stop, so `what` is empty only where there is none.
        known = {
            None: False,
            NEVER: not dot,
            PERHAPS: not dot or what != "",
            ALWAYS: what != "",
        }[suffix]
        if not known:
            return [f"`{key}` is not known"]
        if value == "" and suffix != NEVER:
            self.numbers.pop(key, None)
            return []
        if not re.fullmatch("[0-9]{1,10}", value) or not least <= int(value) <= most:
            return [f"`{key}` is `{value}`, not a whole number from {least} to {most}"]
        self.numbers[key] = int(value)
        return []

    def find(self, name, what):
        """The figure for this one thing, else the general one, else None."""
        own = self.own(name, what)
        return self.numbers.get(name) if own is None else own

    def own(self, name, what):
        """The figure for this one thing, or None."""
        return self.numbers.get(f"{name}.{what}")

    def limits_cm2(self):
        """Largest area of a small and of a medium panel."""
        return self.numbers["small-up-to-cm2"], self.numbers["medium-up-to-cm2"]

    def of_service(self, code):
        """Its three prices by size, its price each, and what contradicts itself; or None."""
        by_size = [self.own(name, code) for name in SIZES]
        each = self.own("each", code)
        some = any(price is not None for price in by_size)
        if some and each is not None:
            return None, None, "has a price each and a price by size"
        if some and None in by_size:
            return None, None, "has prices for some sizes only"
        return (by_size if some else None), each, None

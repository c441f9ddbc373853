"""A quote in the making: lines with quantity and unit price go in; amounts, taxes and
totals follow from them, by the rules that the shop checks. Other plugins may take this
file as it is. All figures are whole numbers; Python's have no limit, the contract's do.
"""

from componentize_py_types import Err
from wit_world.exports import price
from wit_world.imports.types import Rounding, TaxBasis

THOUSANDTHS = 1_000
PPM = 1_000_000


def divide_rounded(value, divisor, rounding):
    """`value / divisor`, halves away from zero or to the even number."""
    whole, rest = divmod(abs(value), divisor)
    if 2 * rest > divisor or (2 * rest == divisor and (rounding == Rounding.HALF_UP or whole % 2)):
        whole += 1
    return whole if value >= 0 else -whole


def not_covered(text):
    return Err(price.Refusal_NotCovered(text))


def missing(text):
    return Err(price.Refusal_Missing(text))


def bad_setting(text):
    return Err(price.Refusal_BadSetting(text))


class Draft:
    """The lines of a quote, and notes for the shop."""

    def __init__(self, money):
        self.money = money
        self.lines = []
        self.notes = []

    def line(self, code, description, quantity, unit, unit_price, tax_class, reason):
        """Adds a line: quantity in thousandths, price of a unit in minor units before tax."""
        amount = divide_rounded(quantity * unit_price, THOUSANDTHS, self.money.rounding)
        self.lines.append(
            price.Line(code, description, quantity, unit, unit_price, amount, tax_class, reason)
        )

    def finish(self):
        """The quote, or a refusal where there is nothing in it or it does not fit."""
        if not self.lines:
            raise missing("anything to price")
        for index, line in enumerate(self.lines):
            fit(line.amount, f"lines[{index}].amount")
        rates = {entry.name: entry.rate_ppm for entry in self.money.tax_classes}
        nets, taxes = {}, {}
        for line in self.lines:
            name = line.tax_class
            nets[name] = nets.get(name, 0) + line.amount
            taxes[name] = taxes.get(name, 0) + self.tax(line.amount, rates[name])
        if self.money.tax_basis == TaxBasis.CLASS:
            taxes = {name: self.tax(net, rates[name]) for name, net in nets.items()}
        tax_lines = [
            price.TaxLine(
                name,
                fit(nets[name], f"net of tax class `{name}`"),
                fit(taxes[name], f"tax of tax class `{name}`"),
            )
            for name in nets
        ]
        net, tax = sum(nets.values()), sum(taxes.values())
        return price.Quote(
            self.lines,
            tax_lines,
            payable(net, "net_total"),
            fit(tax, "tax_total"),
            payable(net + tax, "gross_total"),
            self.notes,
        )

    def tax(self, net, rate_ppm):
        return divide_rounded(net * rate_ppm, PPM, self.money.rounding)


def payable(amount, place):
    # Also by a cent of tax that each line rounds away and the discount does not.
    if amount < 0:
        raise not_covered(f"{place} {amount} is below zero")
    return fit(amount, place)


def fit(amount, place):
    if not -(2**63) <= amount < 2**63:
        raise not_covered(f"{place} does not fit 64 bits")
    return amount

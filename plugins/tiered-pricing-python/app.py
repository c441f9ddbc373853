"""The tiered price rule in Python; what it does is in ../tiered-pricing/README.md."""

import wit_world
from prices import Prices
from rule import apply
from wit_world import exports
from wit_world.imports import types


class WitWorld(wit_world.WitWorld):
    def describe(self):
        return types.About(
            name="tiered-pricing-python",
            version="1.0.0",
            summary="Prices panels by size and condition, film by the metre, chemicals by the "
            "litre, labour by the hour",
        )


class Price(exports.Price):
    def quote_job(self, request):
        return apply(request, Prices(request.settings, request.money))

"""The rule itself; see ../tiered-pricing/README.md. What is not covered and what is
missing is gathered over the whole job before it is refused.
"""

from draft import THOUSANDTHS, Draft, bad_setting, divide_rounded, missing, not_covered
from wit_world.imports.types import Condition, Rounding

INT64_MAX = 2**63 - 1


def apply(request, prices):
    """The quote for a job."""
    return Work(request, prices).quote()


class Work:
    def __init__(self, request, prices):
        self.request = request
        self.prices = prices
        self.draft = Draft(request.money)
        self.work_class = prices.classes["work-tax-class"]
        self.material_class = prices.classes["material-tax-class"]
        # Used as ordered sets: the same fault may be met on the next panel.
        self.bad, self.not_covered, self.missing = {}, {}, {}

    def quote(self):
        for service in self.request.job.services:
            self.service(service)
        for measure in self.request.measures:
            self.measure(measure)
        self.discount()
        for faults, refusal in (
            (self.bad, bad_setting),
            (self.not_covered, not_covered),
            (self.missing, missing),
        ):
            if faults:
                raise refusal("; ".join(faults))
        return self.draft.finish()

    def service(self, service):
        code = service.code
        by_size, each, contradiction = self.prices.of_service(code)
        if contradiction:
            self.bad[f"service `{code}` {contradiction}"] = True
        elif by_size:
            for panel in self.panels_of(service):
                self.panel(service, panel, by_size)
        elif each is not None:
            title = text_or(service.description, code)
            self.draft.line(code, title, 1_000, "pc", each, self.work_class, "a price of its own")
        elif any(
            measure.kind == "labour" and measure.item == code and measure.quantity > 0
            for measure in self.request.measures
        ):
            self.draft.notes.append(f"service `{code}` is priced by its hours")
        else:
            self.missing[f"labour hours of service `{code}`"] = True

    def panels_of(self, service):
        on_car = self.request.job.panels
        if not service.panels and not on_car:
            self.missing[f"panels for service `{service.code}`"] = True
        if not service.panels:
            yield from on_car
        for id in service.panels:
            panel = next((panel for panel in on_car if panel.id == id), None)
            if panel is None:
                self.missing[f"panel `{id}` of service `{service.code}` on the vehicle"] = True
            else:
                yield panel

    def panel(self, service, panel, by_size):
        condition = panel.condition.name.lower()
        per_mille = self.prices.find(f"{condition}-per-mille", service.code)
        if per_mille is None and panel.condition == Condition.UNKNOWN:
            self.missing[f"condition of panel `{panel.id}`"] = True
        elif per_mille is None:
            fault = f"panel `{panel.id}` in {condition} condition: there is no multiplier"
            self.not_covered[fault] = True
        area_cm2 = panel.area_cm2
        if not area_cm2:
            self.missing[f"area of panel `{panel.id}`"] = True
        if per_mille is None or not area_cm2:
            return
        small, medium = self.prices.limits_cm2()
        size = 0 if area_cm2 <= small else 1 if area_cm2 <= medium else 2
        per_m2 = by_size[size]
        unit_price = divide_rounded(per_m2 * per_mille, THOUSANDTHS, self.request.money.rounding)
        # Ten square centimetres are a thousandth of a square metre.
        quantity = divide_rounded(area_cm2, 10, Rounding.HALF_UP)
        title = text_or(service.description, service.code)
        self.draft.line(
            service.code,
            f"{title}, {text_or(panel.name, panel.id)}",
            quantity,
            "m2",
            unit_price,
            self.work_class,
            f"{('small', 'medium', 'large')[size]} panel, {area_cm2} cm2, {condition}: "
            f"{per_m2} for 1 m2 at {per_mille} per mille",
        )

    def measure(self, measure):
        kind, item, quantity, unit = measure.kind, measure.item, measure.quantity, measure.unit
        if quantity < 0:
            self.not_covered[f"{kind} `{item}`: its quantity is below zero"] = True
        elif (kind, unit) == ("film", "m"):
            self.by_quantity(measure, "Film", quantity, "m", "film-per-m", self.material_class)
        elif (kind, unit) == ("chemical", "ml"):
            litres = divide_rounded(quantity, THOUSANDTHS, Rounding.HALF_UP)
            self.by_quantity(measure, "Liquid", litres, "l", "chemical-per-l", self.material_class)
        elif (kind, unit) == ("labour", "h"):
            if self.prices.of_service(item) == (None, None, None):
                self.by_quantity(measure, "Labour", quantity, "h", "labour-per-h", self.work_class)
            else:
                self.draft.notes.append(
                    f"labour `{item}` is in the price of the service: "
                    f"{quantity} thousandths of an hour"
                )
        else:
            self.not_covered[f"{kind} `{item}`: there is no price by the `{unit}`"] = True

    def by_quantity(self, measure, what, quantity, unit, name, tax_class):
        unit_price = self.prices.find(name, measure.item)
        if unit_price is None:
            self.not_covered[f"{measure.kind} `{measure.item}`: `{name}` is not set"] = True
        elif quantity:
            title = f"{what}, {text_or(measure.item, 'any')}"
            reason = f"{unit_price} for 1 {unit}"
            self.draft.line(measure.kind, title, quantity, unit, unit_price, tax_class, reason)

    def discount(self):
        per_mille = self.prices.numbers["discount-per-mille"]
        nets = {}
        for line in self.draft.lines:
            nets[line.tax_class] = nets.get(line.tax_class, 0) + min(line.amount, INT64_MAX)
        for tax_class, net in nets.items():
            off = divide_rounded(net * per_mille, THOUSANDTHS, self.request.money.rounding)
            # A net that does not fit is refused when the draft is added up.
            if off > 0 and net <= INT64_MAX:
                reason = f"{per_mille} per mille of {net}"
                self.draft.line("discount", "Discount", 1_000, "pc", -off, tax_class, reason)


def text_or(text, instead):
    return text if text.strip() else instead

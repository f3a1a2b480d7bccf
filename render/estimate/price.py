"""The price of an option, low / likely / high, in lines that add up on paper: each is rounded to the cent first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from render.estimate import words
from render.estimate.batches import Units
from render.estimate.labour import LabourLine
from render.estimate.purchase import cheapest
from render.estimate.quantities import MaterialLine
from render.job import Consumable, Rates
from render.materials import Material

CENT = Decimal("0.01")


def cents(value: float | Decimal) -> Decimal:
    """Return money to the cent, halves up."""
    exact = value if isinstance(value, Decimal) else Decimal(str(round(value, 6)))
    return exact.quantize(CENT, ROUND_HALF_UP)


@dataclass(frozen=True)
class Money:
    """A sum low / likely / high."""

    low: Decimal
    likely: Decimal
    high: Decimal

    @classmethod
    def of(cls, low: float | Decimal, likely: float | Decimal, high: float | Decimal) -> Money:
        """Return three sums to the cent."""
        return cls(cents(low), cents(likely), cents(high))

    @classmethod
    def exactly(cls, value: float | Decimal) -> Money:
        """Return one sum."""
        return cls.of(value, value, value)

    def __add__(self, other: Money) -> Money:
        """Return the sum, end by end."""
        return Money(self.low + other.low, self.likely + other.likely, self.high + other.high)

    def share(self, share: float) -> Money:
        """Return a share of each end, to the cent."""
        part = Decimal(str(round(share, 9)))
        return Money.of(self.low * part, self.likely * part, self.high * part)

    def over(self, number: float) -> Money:
        """Return each end divided by a number, to the cent; zero where there is nothing to divide by."""
        by = Decimal(str(number))
        return Money.of(*(one / by if by else Decimal(0) for one in (self.low, self.likely, self.high)))

    def as_dict(self) -> dict[str, float]:
        """Return the sums as plain numbers."""
        return {"low": float(self.low), "likely": float(self.likely), "high": float(self.high)}


NOTHING = Money.exactly(0)


@dataclass(frozen=True)
class Line:
    """One line of the price."""

    group: str
    what: str
    detail: str
    money: Money

    def as_dict(self) -> dict[str, Any]:
        """Return the line as plain data."""
        return {"group": self.group, "what": self.what, "detail": self.detail, "money": self.money.as_dict()}


@dataclass(frozen=True)
class Price:
    """All lines, and the area that they pay for."""

    lines: tuple[Line, ...]
    area_ft2: float
    unpriced: tuple[str, ...]

    def group(self, name: str) -> Money:
        """Return the sum of a group of lines."""
        return total(one.money for one in self.lines if one.group == name)

    @property
    def total(self) -> Money:
        """What the option costs."""
        return total(one.money for one in self.lines)

    @property
    def per_ft2(self) -> Money:
        """What a square foot of it costs."""
        return self.per_area()

    def per_area(self, units: Units = "imperial") -> Money:
        """Return what a square foot or a square metre of it costs."""
        return self.total.over(self.area_ft2 / words.per_area(units))

    def as_dict(self) -> dict[str, Any]:
        """Return the price as plain data."""
        return {
            "lines": [one.as_dict() for one in self.lines],
            "total": self.total.as_dict(),
            "per_ft2": self.per_ft2.as_dict(),
            "net_ft2": self.area_ft2,
            "unpriced": list(self.unpriced),
        }


def total(sums: Iterable[Money]) -> Money:
    """Return the sum."""
    result = NOTHING
    for one in sums:
        result = result + one
    return result


def material_money(line: MaterialLine, sizes: Material | None) -> Money:
    """Return what a material costs: containers for the end that is bought, and for the low and high ends."""
    if line.purchase is None or line.purchase.cost is None or sizes is None:
        return NOTHING
    ends = [cheapest(one, sizes.containers) for one in (line.with_waste.low, line.with_waste.high)]
    low, high = (one.cost or 0.0 if one else 0.0 for one in ends)
    return Money.of(low, line.purchase.cost, high)


def labour_money(line: LabourLine, hour: float) -> Money:
    """Return what a line of hours costs."""
    return Money.of(
        *(Decimal(str(h)) * Decimal(str(hour)) for h in (line.hours.low, line.hours.likely, line.hours.high))
    )


def consumable_line(one: Consumable, area_ft2: float, currency: str = "$") -> Line:
    """Return the line of something used up: a number for the job, or whole ones for every so much wall."""
    count = one.count
    if one.one_per is not None:
        count = float(-int(-(area_ft2 / one.one_per) // 1)) * one.count
    detail = f"{count:g} at {words.money(cents(one.price), currency)}"
    return Line("consumables", one.name, detail, Money.exactly(Decimal(str(count)) * Decimal(str(one.price))))


def _labour_lines(hours: Sequence[LabourLine], hour: float, currency: str) -> list[Line]:
    rate = words.money(cents(hour), currency)
    return [
        Line("direct labour", one.what, f"{words.hours(one.hours)} h at {rate}", labour_money(one, hour))
        for one in hours
    ]


def price(
    materials: Sequence[tuple[MaterialLine, Material | None]],
    others: Sequence[Line],
    hours: Sequence[LabourLine],
    rates: Rates,
    area_ft2: float,
    currency: str = words.CURRENCY,
    units: Units = "imperial",
) -> Price:
    """Return the price of an option.

    Parameters
    ----------
    materials
        Each material with its entry on the shelf (sizes and prices).
    others
        Lines of protection and consumables.
    hours
        Lines of direct labour.
    rates
        Hourly rate, overhead on direct labour, profit on everything before it, tax on materials or on all.
    area_ft2
        Net area.
    currency, units
        How sums and containers in the details are written.
    """
    bought = [one for one in materials if not one[0].is_water and one[0].with_waste.high > 0]
    lines = [
        Line(
            "materials",
            one.name,
            words.bought(one.purchase, units),
            material_money(one, sizes),
        )
        for one, sizes in bought
    ]
    lines += [*others, *_labour_lines(hours, rates.hour, currency)]
    labour = total(one.money for one in lines if one.group == "direct labour")
    lines.append(
        Line("overhead", "overhead", f"{100 * rates.overhead:.4g} % of direct labour", labour.share(rates.overhead))
    )
    before = total(one.money for one in lines)
    if rates.profit:
        lines.append(Line("profit", "profit", f"{100 * rates.profit:.4g} %", before.share(rates.profit)))
    if rates.tax:
        goods = ("materials", "protection", "consumables")
        base = total(one.money for one in lines if rates.tax_on == "all" or one.group in goods)
        lines.append(Line("tax", "tax", f"{100 * rates.tax:.4g} % on {rates.tax_on}", base.share(rates.tax)))
    return Price(tuple(lines), area_ft2, tuple(one.name for one, _ in bought if one.has_no_price))

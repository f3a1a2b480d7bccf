"""Numbers as they are written on tables and sheets."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from render.units import ML_PER_GAL, Span

if TYPE_CHECKING:  # the price is written with these words, so it is read later than they are
    from render.estimate.batches import Units
    from render.estimate.price import Money
    from render.estimate.purchase import Bought, Purchase
    from render.job import WallPlan

LITRES_PER_GAL = ML_PER_GAL / 1000.0
M2_PER_FT2 = 0.3048**2
MM_PER_MIL = 0.0254
CURRENCY = "$"  # of the prices on the shipped shelf
LEAST_MIL = 0.5  # a thinner film is not told: a wet-film comb begins at about 1 mil (from memory)
US_GALLONS = "Gallons are US gallons of 231 in³ (NIST Handbook 44); an imperial gallon is a fifth larger."


def _number(gallons: float, size: float, units: Units) -> tuple[str, str]:
    """Return a volume's number and unit; the unit is the one that suits ``size``, a volume in gallons too."""
    if units == "metric":
        litres = gallons * LITRES_PER_GAL
        if size * LITRES_PER_GAL >= 0.9995:
            return f"{litres:.2f}", "L"
        return f"{litres * 1000:.3g}" if litres < 0.1 else f"{litres * 1000:.0f}", "ml"
    if size >= 0.25:
        return f"{gallons:.2f}", "gal"
    return (f"{gallons * 128:.1f}", "fl oz") if size >= 0.5 / 128 else (f"{gallons * 768:.1f}", "tsp")


def volume(gallons: float, units: Units = "imperial") -> str:
    """Return a volume: gallons, below a quart fluid ounces, below half an ounce teaspoons; or litres, millilitres."""
    return " ".join(_number(gallons, gallons, units))


def volumes(span: Span, units: Units = "imperial") -> str:
    """Return a volume with its range, "3.4 (3.1–3.7) gal", or a dash for nothing; no range that reads as one number."""
    if span.high <= 0:
        return "—"
    ends = (span.low, span.likely, span.high)
    (low, unit), (likely, _), (high, _) = (_number(one, span.likely, units) for one in ends)
    return f"{likely} {unit}" if low == high else f"{likely} ({low}–{high}) {unit}"


def left_over(gallons: float, units: Units = "imperial") -> str:
    """Return what stays in the cans, or a dash for less than a few drops."""
    return volume(gallons, units) if gallons * 768 >= 0.05 else "—"


def bought(purchase: Purchase | None, units: Units = "imperial") -> str:
    """Return the containers to buy; metric sheets add what a container in another unit holds."""
    if purchase is None:
        return "no sizes known"
    if units == "imperial":
        return purchase.words()
    return " + ".join(f"{one.count} × {_with_litres(one)}" for one in purchase.items) or "—"


def _with_litres(one: Bought) -> str:
    if _METRIC.search(one.label):
        return one.label
    litres = one.container.size * LITRES_PER_GAL
    return f"{one.label} ({litres:.3g} L)" if litres >= 0.9995 else f"{one.label} ({litres * 1000:.3g} ml)"


_METRIC = re.compile(r"\d\s*(?:m|cm|mm|ml|L|l|kg|met\w+|lit\w+)(?![a-z])")


def units_of(wall: str) -> Units:
    """Return the units that a wall's size is written in: metric if one of its lengths is."""
    return "metric" if _METRIC.search(wall) else "imperial"


_SIZE = r"(?:(?:\d+ )?\d+/\d+|\d+(?:\.\d+)?)"
_INCHES = re.compile(rf"({_SIZE}(?: x {_SIZE})?) in\b(?! \d| the\b)")


def in_units(text: str, units: Units) -> str:
    """Return a layer's own words, which give sizes in inches, with millimetres where the sheet is metric."""
    if units == "imperial":
        return text
    return _INCHES.sub(lambda got: " x ".join(map(_mm, got[1].split(" x "))) + " mm", text)


def _mm(inches: str) -> str:
    """Return inches as millimetres: to the 5 mm from 50 on, to the millimetre from 5 on, else two digits."""
    mm = float(sum(Fraction(part) for part in inches.split())) * 25.4
    return f"{5 * round(mm / 5)}" if mm >= 50 else f"{mm:.0f}" if mm >= 5 else f"{mm:.2g}"


def film(mil: float, units: Units = "imperial") -> str:
    """Return the thickness of a film, or nothing where it is too thin to be measured."""
    if mil < LEAST_MIL:
        return ""
    if units == "metric":
        return f"{mil * MM_PER_MIL:.2g} mm"
    return f"{mil:.2g} mil" if mil < 9.95 else f"{mil:.0f} mil"


def _ends(low: float, high: float) -> str:
    ends = [f"{one:,.0f}" if one >= 100 else f"{one:.3g}" for one in (low, high)]
    return ends[0] if ends[0] == ends[1] else "–".join(ends)


def spread(span: Span, units: Units = "imperial") -> str:
    """Return a spread, low to high: wall per volume."""
    times = M2_PER_FT2 / LITRES_PER_GAL if units == "metric" else 1.0
    return f"{_ends(span.low * times, span.high * times)} {'m²/L' if units == 'metric' else 'ft²/gal'}"


def rate(span: Span, units: Units = "imperial") -> str:
    """Return a rate of work, low to high: wall per hour."""
    times = M2_PER_FT2 if units == "metric" else 1.0
    return f"{_ends(span.low * times, span.high * times)} {area_unit(units)}/h"


def per_area(units: Units = "imperial") -> float:
    """Return by how much a sum for each ft² is multiplied to be one for each unit of area."""
    return 1 / M2_PER_FT2 if units == "metric" else 1.0


def area_unit(units: Units = "imperial") -> str:
    """Return the unit of areas."""
    return "m²" if units == "metric" else "ft²"


def some_area(ft2: float, units: Units = "imperial") -> str:
    """Return an area, or a dash for none."""
    return area(ft2, units) if ft2 > 0 else "—"


def walls(labels: Iterable[tuple[str, str]]) -> str:
    """Return (room, wall) pairs in their order by room: "Hall: north, east; Study: south"."""
    rooms: dict[str, list[str]] = {}
    for room, wall in labels:
        rooms.setdefault(room, []).append(wall)
    return "; ".join(f"{room}: {', '.join(names)}" for room, names in rooms.items())


def area(ft2: float, units: Units = "imperial") -> str:
    """Return an area."""
    return f"{ft2 * M2_PER_FT2:,.1f} m²" if units == "metric" else f"{ft2:,.1f} ft²"


def length(inches: float, units: Units = "imperial") -> str:
    """Return a length: feet and inches to the quarter, or metres."""
    if units == "metric":
        return f"{inches * 0.0254:.2f} m"
    feet, rest = divmod(round(inches * 4) / 4, 12)
    if not rest:
        return f"{feet:.0f} ft"
    return f"{feet:.0f} ft {rest:g} in" if feet else f"{rest:g} in"


def height(wall: WallPlan, units: Units = "imperial") -> str:
    """Return a wall's height; of a slope or gable the lowest and highest, and which it is."""
    if wall.shape == "rectangle":
        return length(wall.top, units)
    low, high = length(wall.low, units), length(wall.top, units)
    if low.count(" ") == high.count(" ") == 1 and low.split()[1] == high.split()[1]:
        low = low.split()[0]
    return f"{low}–{high}, {'gable' if wall.shape == 'gable' else 'sloped'}"


def money(value: Decimal, currency: str) -> str:
    """Return a sum with its currency: before a sign, after letters."""
    number = f"{value:,.2f}"
    return f"{number} {currency}" if currency.isalpha() else f"{currency}{number}"


def money_range(value: Money, currency: str) -> str:
    """Return a sum and, where it has one, its range."""
    likely = money(value.likely, currency)
    if value.low == value.high:
        return likely
    return f"{likely} ({money(value.low, currency)}–{money(value.high, currency)})"


def round_money(value: Decimal, currency: str) -> str:
    """Return a sum to the whole unit, for a range in passing."""
    number = f"{value:,.0f}"
    return f"{number} {currency}" if currency.isalpha() else f"{currency}{number}"


def hours(span: Span) -> str:
    """Return hours to the tenth with their range."""
    low, high = f"{span.low:.1f}", f"{span.high:.1f}"
    return f"{span.likely:.1f}" if low == high else f"{span.likely:.1f} ({low}–{high})"


def time(low: float, high: float) -> str:
    """Return a time in hours as people say it: 10–20 min, 3–5 h, 2–4 days."""
    unit, size = ("min", 1 / 60) if high < 1 else ("h", 1.0) if high < 72 else ("days", 24.0)
    ends = [f"{one / size:.3g}" for one in (low, high)]
    return f"{ends[0]} {unit}" if ends[0] == ends[1] else f"{ends[0]}–{ends[1]} {unit}"


def count(number: int, noun: str) -> str:
    """Return a number with its noun: "1 room", "2 rooms"."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def per_cent(share: float) -> str:
    """Return a share in per cent, with no more digits than it has."""
    return f"{100 * share:.3g} %"

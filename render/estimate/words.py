"""Numbers as they are written on tables and sheets."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from render.units import ML_PER_GAL, Span

if TYPE_CHECKING:  # the price is written with these words, so it is read later than they are
    from render.estimate.batches import Units
    from render.estimate.price import Money
    from render.job import WallPlan

LITRES_PER_GAL = ML_PER_GAL / 1000.0
M2_PER_FT2 = 0.3048**2
US_GALLONS = "Gallons are US gallons of 231 in³ (NIST Handbook 44); an imperial gallon is a fifth larger."


def _number(gallons: float, size: float, units: Units) -> tuple[str, str]:
    """Return a volume's number and unit; the unit is the one that suits ``size``, a volume in gallons too."""
    if units == "metric":
        litres = gallons * LITRES_PER_GAL
        return (f"{litres:.2f}", "L") if size * LITRES_PER_GAL >= 0.9995 else (f"{litres * 1000:.3g}", "ml")
    if size >= 0.25:
        return f"{gallons:.2f}", "gal"
    return (f"{gallons * 128:.1f}", "fl oz") if size >= 0.5 / 128 else (f"{gallons * 768:.1f}", "tsp")


def volume(gallons: float, units: Units = "imperial") -> str:
    """Return a volume: gallons, below a quart fluid ounces, below half an ounce teaspoons; or litres, millilitres."""
    return " ".join(_number(gallons, gallons, units))


def volumes(span: Span, units: Units = "imperial") -> str:
    """Return a volume with its range in the same unit, or a dash for nothing; no range that reads as one number."""
    if span.high <= 0:
        return "—"
    likely = volume(span.likely, units)
    (low, unit), (high, _) = (_number(one, span.likely, units) for one in (span.low, span.high))
    return likely if low == high else f"{likely} ({low}–{high} {unit})"


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

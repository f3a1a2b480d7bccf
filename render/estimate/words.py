"""Numbers as they are written on tables and sheets."""

from __future__ import annotations

from decimal import Decimal

from render.estimate.batches import Units
from render.estimate.price import Money
from render.units import ML_PER_GAL, Span

LITRES_PER_GAL = ML_PER_GAL / 1000.0
M2_PER_FT2 = 0.3048**2
US_GALLONS = "Gallons are US gallons of 231 in³ (NIST Handbook 44); an imperial gallon is a fifth larger."


def volume(gallons: float, units: Units = "imperial") -> str:
    """Return a volume: gallons, below a quart fluid ounces, below half an ounce teaspoons; or litres, millilitres."""
    if units == "metric":
        litres = gallons * LITRES_PER_GAL
        return f"{litres:.2f} L" if litres >= 0.9995 else f"{litres * 1000:.3g} ml"
    if gallons >= 0.25:
        return f"{gallons:.2f} gal"
    return f"{gallons * 128:.1f} fl oz" if gallons >= 0.5 / 128 else f"{gallons * 768:.1f} tsp"


def volumes(span: Span, units: Units = "imperial") -> str:
    """Return a volume with its range, or a dash for nothing."""
    if span.high <= 0:
        return "—"
    likely = volume(span.likely, units)
    if span.high - span.low <= 1e-9 * span.high:
        return likely
    return f"{likely} ({ends(span, units)})"


def ends(span: Span, units: Units = "imperial") -> str:
    """Return the two ends of a range in one unit where they share it: "1.20-1.50 gal"."""
    low, high = volume(span.low, units), volume(span.high, units)
    number, _, unit = low.partition(" ")
    return f"{number}–{high}" if high.endswith(f" {unit}") else f"{low}–{high}"


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
    return f"{span.likely:.1f}" if span.low == span.high else f"{span.likely:.1f} ({span.low:.1f}–{span.high:.1f})"


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

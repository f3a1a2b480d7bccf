"""Quantities as people write them, and the only place that converts.

A quantity is a string with its unit ("165 ft2/gal", "3/8 in", "12 ft 6 in", "62-70 ft2/gal", "78 %"). Inside the
program every kind of quantity has one unit:

==========  ==========  ==========  ===========
kind        unit        kind        unit
==========  ==========  ==========  ===========
length      inch        spread      ft²/US gal
film        mil         dose        US gal/ft²
volume      US gal      time        hour
area        ft²         angle       degree
share       0 to 1      temperature degree C
==========  ==========  ==========  ===========

US volumes follow NIST Handbook 44, Appendix C: 1 gal = 231 in³ = 128 fl oz = 256 tbsp = 768 tsp.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import pint

MIL_FT2_PER_GAL = 231.0 / 0.144  # 1604.1667: area in ft² that one gallon covers one mil thick
ML_PER_GAL = 3785.411784
IN2_PER_FT2 = 144.0


class Kind(NamedTuple):
    """One kind of quantity: the unit inside the program, and an example for messages."""

    base: str
    example: str


KINDS = {
    "length": Kind("inch", "3/8 in, 12 ft 6 in or 2.4 m"),
    "film": Kind("mil", "8 mil or 0.2 mm"),
    "volume": Kind("gal", "2 gal, 12 fl oz, 3 tsp or 1.5 L"),
    "area": Kind("ft2", "96 ft2 or 9 m2"),
    "spread": Kind("ft2/gal", "165 ft2/gal, 62-70 ft2/gal or 4 m2/L"),
    "dose": Kind("gal/ft2", "0.5 fl oz/ft2 or 150 ml/m2"),
    "time": Kind("hour", "12 h, 45 min or 2 days"),
    "angle": Kind("degree", "15 deg"),
    "temperature": Kind("degC", "68 degF or 20 degC"),
    "share": Kind("", "78 %"),
    "mass": Kind("lb", "50 lb or 25 kg"),
    "rate": Kind("ft2/hour", "150 ft2/h or 14 m2/h"),
}

_DEFINITIONS = """
inch = [length] = in
foot = 12 inch = ft = feet
yard = 3 foot = yd
mil = 0.001 inch = mils
metre = 39.37007874015748 inch = m = meter
centimetre = 0.01 metre = cm
millimetre = 0.001 metre = mm
micrometre = 1e-6 metre = um = micron = microns
in2 = inch ** 2
ft2 = foot ** 2 = sqft
m2 = metre ** 2
gallon = 231 inch ** 3 = gal = gallons
quart = gallon / 4 = qt = quarts
pint_us = gallon / 8 = pt
cup = gallon / 16 = cups
floz = gallon / 128
tbsp = gallon / 256
tsp = gallon / 768
litre = 0.001 metre ** 3 = L = l = liter = litres
millilitre = 0.001 litre = ml = mL
impgal = 4.54609 litre
hour = [time] = h = hours = hr
minute = hour / 60 = min = minutes
day = 24 hour = d = days
week = 7 day = weeks
degree = [angle] = deg = degrees
pound = [mass] = lb = lbs
kilogram = pound / 0.45359237 = kg
"""


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[Any]:
    """Return pint's registry with the trade's units alone, so that an unknown unit is an error."""
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    registry.load_definitions(_DEFINITIONS.strip().splitlines())
    return registry


_NUMBER = r"\d+(?:\.\d+)?|\.\d+"
_AMOUNT = rf"(?:\d+\s+\d+\s*/\s*\d+|\d+\s*/\s*\d+|{_NUMBER})"
_TERM = re.compile(
    rf"\s*(?P<low>-?{_AMOUNT})(?:\s*(?:-|–|to)\s*(?P<high>{_AMOUNT}))?\s*(?P<unit>[^\d\s.,/-][^,]*?)\s*"
    rf"(?=$|(?<=[a-z\"'])\s+{_AMOUNT}\s*[a-z\"'])"
)
_SPOKEN = {
    "fl oz": "floz", "fl. oz": "floz", "imp gal": "impgal", "US gal": "gal", "ft²": "ft2", "m²": "m2", "in²": "in2",
    "sq ft": "ft2", "sq m": "m2", "°": "deg", "µm": "um", "′": "ft", "″": "in", "'": "ft", '"': "in",
}  # fmt: skip


@dataclass(frozen=True)
class Span:
    """A quantity with its range: ``low <= likely <= high``, all in the kind's own unit."""

    low: float
    likely: float
    high: float

    @classmethod
    def exactly(cls, value: float) -> Span:
        """Return a range of one value."""
        return cls(value, value, value)

    @classmethod
    def between(cls, low: float, high: float) -> Span:
        """Return the range between two ends, likely in the middle."""
        return cls(low, 0.5 * (low + high), high)


def _amount(text: str) -> float:
    """Return a number from "12", "3/8" or "1 1/2"."""
    try:
        return float(sum(Fraction(part) for part in re.sub(r"\s*/\s*", "/", text).split()))
    except (OverflowError, ZeroDivisionError):
        raise ValueError("the number is not one that a tape can measure") from None


def _fault(text: object, kind: str, why: str = "") -> ValueError:
    """Return the error for a quantity that cannot be read."""
    expected = f"expected a {kind} with its unit, such as {KINDS[kind].example}"
    return ValueError(f"{why}; {expected}" if why else expected)


def _factor(unit: str, kind: str, text: str) -> float:
    """Return how many base units of ``kind`` one ``unit`` is."""
    for spoken, plain in _SPOKEN.items():
        unit = unit.replace(spoken, plain)
    unit = unit.strip().replace(" per ", "/").replace("²", "2")
    if kind == "share":
        if unit in {"%", "percent"}:
            return 0.01
        raise _fault(text, kind, f"{unit!r} is not a share")
    import pint

    registry = _registry()
    if not re.fullmatch(r"[A-Za-z0-9_/* ]{1,24}", unit) or "**" in unit:
        raise _fault(text, kind, f"unknown unit {unit[:24]!r}")
    try:
        return float(registry.Quantity(1.0, unit).to(KINDS[kind].base).magnitude)
    except pint.DimensionalityError:
        raise _fault(text, kind, f"{unit!r} is a unit of another kind") from None
    except Exception:  # pint raises whatever its tokenizer meets; each means that the unit is unknown
        raise _fault(text, kind, f"unknown unit {unit!r}{_suggest(unit)}") from None


def _suggest(unit: str) -> str:
    """Return a hint at the nearest known unit, or nothing."""
    if re.fullmatch(r"(oz|ounces?)(/.*)?", unit):
        return f" (did you mean {re.sub('^(oz|ounces?)', 'fl oz', unit)!r}?)"
    near = difflib.get_close_matches(unit, [n for n in dir(_registry()) if not n.startswith("_")], 1, 0.75)
    return f" (did you mean {near[0]!r}?)" if near else ""


def _temperature(text: str) -> Span:
    """Return a temperature in degrees C."""
    match = re.fullmatch(rf"\s*(-?{_NUMBER})(?:\s*-\s*({_NUMBER}))?\s*°?\s*(?:deg)?\s*([CF])\s*", text)
    if not match:
        raise _fault(text, "temperature")
    low, high = float(match[1]), float(match[2] or match[1])
    if match[3] == "F":
        low, high = (low - 32.0) / 1.8, (high - 32.0) / 1.8
    return Span.between(low, high)


def span(text: object, kind: str) -> Span:
    """Read a quantity or a range such as "62-70 ft2/gal".

    Parameters
    ----------
    text
        What the user wrote. Only strings are quantities: a bare number has no unit.
    kind
        A key of ``KINDS``.

    Raises
    ------
    ValueError
        If there is no unit, the unit is unknown or of the wrong kind, or the number is not finite.
    """
    if isinstance(text, Span):
        return text
    if not isinstance(text, str):
        raise _fault(text, kind, "a bare number has no unit" if isinstance(text, int | float) else "")
    if kind == "temperature":
        return _temperature(text)
    low = high = 0.0
    at = 0
    while at < len(text.rstrip()):
        match = _TERM.match(text, at)
        if not match:
            bare = re.fullmatch(rf"\s*{_AMOUNT}\s*", text)
            raise _fault(text, kind, "a bare number has no unit" if bare else "")
        factor = _factor(match["unit"], kind, text)
        first = _amount(match["low"].lstrip("-")) * (-1 if match["low"].startswith("-") else 1)
        low += factor * first
        high += factor * (_amount(match["high"]) if match["high"] else first)
        at = match.end()
    if not text.strip() or not math.isfinite(low + high):
        raise _fault(text, kind)
    if high < low:
        raise ValueError(f"the range runs backwards; write the lower number first, such as {KINDS[kind].example}")
    return Span.between(low, high)


def value(text: object, kind: str) -> float:
    """Read a single quantity into the kind's own unit.

    Raises
    ------
    ValueError
        As ``span``, and if a range was given.
    """
    read = span(text, kind)
    if read.high != read.low:
        raise ValueError(f"expected one {kind}, not a range, such as {KINDS[kind].example.split(',')[0]}")
    return read.likely


def rectangle(text: str) -> tuple[float, float]:
    """Read a wall "12 ft x 8 ft" (width x height) into (height, width) in inches.

    Raises
    ------
    ValueError
        If there are not two positive lengths.
    """
    sides = re.split(r"\s*[x×]\s*", str(text).strip())
    if len(sides) != 2:
        raise ValueError('expected width x height, such as "12 ft x 8 ft" or "3.6 m x 2.4 m"')
    width, height = (value(side, "length") for side in sides)
    if not (width > 0 and height > 0):
        raise ValueError("a wall needs a width and a height above zero")
    return height, width


def film_mil(gallons: float, area_ft2: float) -> float:
    """Return the mean film in mil that a volume leaves on an area: 1604.1667 x gal / ft²."""
    return MIL_FT2_PER_GAL * gallons / area_ft2


# --- pydantic types --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Quantity:
    """Marks a model field as a quantity of a kind; a marker in ``Annotated`` that reads strings.

    ``low`` and ``high`` are the limits in the kind's own unit; ``ranged`` fields hold a ``Span``, others a float.
    """

    kind: str
    low: float = 0.0
    high: float = math.inf
    ranged: bool = False

    def read(self, text: Any) -> float | Span:
        """Read and check one value."""
        got: float | Span = span(text, self.kind) if self.ranged else value(text, self.kind)
        ends = (got.low, got.high) if isinstance(got, Span) else (got, got)
        if ends[0] < self.low or ends[1] > self.high:
            raise ValueError(f"out of range; expected {self.limits}")
        return got

    @property
    def limits(self) -> str:
        """The permitted range in words."""
        unit = "%" if self.kind == "share" else KINDS[self.kind].base
        scale = 100.0 if self.kind == "share" else 1.0
        top = f" to {self.high * scale:g} {unit}" if math.isfinite(self.high) else f" {unit} or more"
        return f"{self.low * scale:g}{top}"

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> Any:
        """Let pydantic read the field with ``read``."""
        from pydantic_core import core_schema

        return core_schema.no_info_plain_validator_function(self.read)

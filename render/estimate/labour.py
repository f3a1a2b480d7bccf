"""Hours: each layer's area by a rate, room set-up, masking, and the daily start and clean-up.

A rate is taken from, in this order: the job's rate for the layer's name, the job's rate for its kind, the layer's own
``labour``, and the examples below. Direct labour is counted here; overhead is a line of its own in the price (as in
NAVFAC P-405, 1996, whose man-hours are direct labour alone).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from render.estimate import words
from render.estimate.batches import Units
from render.estimate.quantities import spread_out
from render.job import Offer, Placed, Rates
from render.layers.base import Coat, Layer, Liquid, Wash
from render.units import Span

NOTE = "example rate, no published rate found"
NOTE_WORDS = "Example rates are the authors' own: no published rate was found. Put yours under [rates] in the job."

# ft² per hour for one person: examples of the authors, to be replaced by the user's own. No published rate for these
# finishes was found; the old rates for plain paint (Griffith 1916: 90-150 ft²/h for a coat) set the scale.
EXAMPLES: Mapping[str, tuple[float, float]] = {
    "texture_coat": (120, 180),
    "brushed_coat": (120, 180),
    "plaster_coat": (35, 55),
    "crackle_coat": (50, 80),
    "size": (150, 250),
    "knock_down": (200, 300),
    "sand": (100, 160),
    "chip": (120, 200),
    "burnish": (40, 70),
    "mist": (400, 600),
    "glaze": (100, 160),
    "rinse": (250, 400),
    "alcohol": (250, 400),
    "spread": (120, 200),
    "wipe_back": (80, 130),
    "dab": (120, 200),
    "spatter": (300, 500),
    "streak": (250, 400),
    "drag": (60, 100),
    "sealer": (150, 220),
    "joint": (60, 110),
    "ruling": (80, 140),
    "sponge": (90, 150),
    "stencil": (20, 40),
    "board_marked": (30, 50),
    "patina": (70, 120),
}
_BY_CLASS: tuple[tuple[type[Layer], tuple[float, float]], ...] = (
    (Coat, (60, 100)),
    (Wash, (100, 160)),
    (Liquid, (300, 500)),
    (Layer, (120, 200)),
)


@dataclass(frozen=True)
class Paced:
    """The rate of a layer, ft²/h for one person, and where it comes from."""

    rate: Span
    source: str


def pace(layer: Layer, rates: Rates) -> Paced:
    """Return the rate of a layer."""
    for key in (layer.name, layer.kind):
        if key in rates.layer:
            return Paced(rates.layer[key], rates.source or "own rate")
    if layer.labour is not None:
        return Paced(layer.labour, "rate in the finish file")
    ends = EXAMPLES.get(layer.kind) or next(two for kind, two in _BY_CLASS if isinstance(layer, kind))
    return Paced(Span.between(*ends), NOTE)


def hours(area_ft2: float, rate: Span) -> Span:
    """Return person-hours low / likely / high for an area: the quickest rate gives the low end."""
    return Span(area_ft2 / rate.high, area_ft2 / rate.likely, area_ft2 / rate.low)


def tenth(span: Span) -> Span:
    """Return hours as they are written down and charged: to the tenth."""
    return Span(*(round(one + 1e-9, 1) for one in (span.low, span.likely, span.high)))


@dataclass(frozen=True)
class LabourLine:
    """One line of hours, as charged."""

    what: str
    detail: str
    hours: Span
    source: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return the line as plain data."""
        return {"what": self.what, "detail": self.detail, "hours": spread_out(self.hours), "source": self.source}


def wall_hours(placed: Placed, layer: Layer, rates: Rates) -> Span:
    """Return the person-hours of one layer on one wall, not rounded."""
    return hours(placed.area.net, pace(layer, rates).rate)


def layer_lines(offer: Offer, rates: Rates, units: Units = "imperial") -> list[LabourLine]:
    """Return the hours of each layer of each finish, over all its walls."""
    lines = []
    for finish in offer.finishes:
        area = offer.area(finish)
        for layer in finish.layers:
            paced = pace(layer, rates)
            detail = f"{words.area(area, units)} at {words.rate(paced.rate, units)}"
            lines.append(LabourLine(layer.name, detail, tenth(hours(area, paced.rate)), paced.source))
    return lines


def other_lines(offer: Offer, rates: Rates, crew: int, days: tuple[int, int, int]) -> list[LabourLine]:
    """Return set-up and masking for each room, and the daily start and clean-up for each person."""
    count = len({one.room.name for one in offer.walls})
    rooms, source = words.count(count, "room"), rates.source or "the job's figure"
    lines = [
        LabourLine(what, f"{rooms} at {each:g} h", tenth(Span.exactly(count * each)), source)
        for what, each in (("set up", rates.setup), ("masking", rates.masking))
    ]
    daily = tenth(Span(*(one * crew * rates.daily for one in days)))
    spread = f"{days[0]}–{days[2]} days" if days[0] != days[2] else words.count(days[1], "day")
    people = "1 person" if crew == 1 else f"{crew} people"
    lines.append(LabourLine("start and clean up", f"{spread}, {people}, {rates.daily:g} h a day", daily, source))
    return [one for one in lines if one.hours.high > 0]

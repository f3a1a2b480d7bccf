"""Floor protection sized from the run-off that the picture's own layers compute, and what else is laid out.

The glaze that leaves a wall at the floor line is booked by the layers that move it; rinsing water is counted whole, as
if none of it stayed on the wall. A strip of absorbent cover along the wall must hold both: width = run-off per foot of
wall / what a square foot of cover holds. The highest wall of a finish stands for its others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from render.estimate import words
from render.estimate.price import Line, Money, cents
from render.finish import Finish
from render.job import Job, Offer, Placed
from render.layers.base import Liquid, Wash

RunOff = Callable[[Finish, float], float]
"""(finish, wall height in inches) -> gallons that reach the floor for each foot of wall."""

_SAMPLE_WIDTH_IN, _SAMPLE_PPI = 18.0, 6.0  # a draft is enough: the seeds of runs come from the plan grid
_TALLEST_IN = 240.0
_FLOZ_PER_GAL = 128.0


def can_run(finish: Finish) -> bool:
    """Return whether anything in a finish is wet enough to reach the floor."""
    return any(isinstance(one, Wash | Liquid) for one in finish.layers)


@dataclass(frozen=True)
class _Sample:
    """A finish on a wall of some height; equal where the walls would be."""

    key: str
    height_in: float
    finish: Finish = field(compare=False)


@lru_cache(maxsize=256)
def _rendered(sample: _Sample) -> float:
    """Return the run-off of a draft, gallons per foot of wall."""
    from render.pipeline import Site, build

    site = Site(sample.height_in, _SAMPLE_WIDTH_IN, _SAMPLE_PPI, 1)
    ledger = build(sample.finish, site).wall.ledger
    return sum(one.run_off for one in ledger.values()) / (_SAMPLE_WIDTH_IN / 12.0)


def rendered_run_off(finish: Finish, height_in: float) -> float:
    """Return gallons that reach the floor per foot of wall: the ledger of a draft as high as the wall."""
    if not can_run(finish):
        return 0.0
    key = repr([(one.kind, one.fingerprint()) for one in finish.layers])
    return _rendered(_Sample(key, min(float(round(height_in)), _TALLEST_IN), finish)) + rinsing(finish, height_in)


def rinsing(finish: Finish, height_in: float) -> float:
    """Return gallons of rinsing water per foot of wall, the high end; a mist stays on the wall."""
    waters = [one for one in finish.layers if isinstance(one, Liquid) and one.material.group == "water"]
    return sum(one.amounts(height_in / 12.0).product.high for one in waters if one.kind != "mist")


@dataclass(frozen=True)
class Strip:
    """The floor cover along one wall."""

    wall: str
    length_ft: float
    run_off_floz: float
    width_ft: float

    @property
    def area_ft2(self) -> float:
        """Its area."""
        return self.length_ft * self.width_ft

    def as_dict(self) -> dict[str, Any]:
        """Return the strip as plain data."""
        return {
            "wall": self.wall,
            "length_ft": self.length_ft,
            "run_off_floz": self.run_off_floz,
            "width_ft": self.width_ft,
            "ft2": self.area_ft2,
        }


def strip(job: Job, placed: Placed, per_foot: float) -> Strip:
    """Return the floor cover of a wall: wide enough for its run-off (gal per foot), and not below the least width."""
    cover = job.file.protection
    width = max(cover.least_width / 12.0, per_foot / cover.holds)
    length = placed.wall.width / 12.0
    return Strip(placed.label, length, per_foot * length * _FLOZ_PER_GAL, width)


def strips(job: Job, offer: Offer, run_off: RunOff) -> tuple[Strip, ...]:
    """Return the floor cover of every wall of an option."""
    tops = {id(one): max(p.wall.top for p in offer.walls if p.finish is one) for one in offer.finishes}
    per_foot = {id(one): run_off(one, tops[id(one)]) for one in offer.finishes}
    return tuple(strip(job, one, per_foot[id(one.finish)]) for one in offer.walls)


def line(job: Job, covers: tuple[Strip, ...]) -> Line:
    """Return the price line of the floor cover."""
    area = sum(one.area_ft2 for one in covers)
    price = job.file.protection.price_per_ft2
    units = job.file.units
    each = f"{words.money(cents(price * words.per_area(units)), job.file.currency)} per {words.area_unit(units)}"
    told = f"{words.area(area, units)} at {each}"
    return Line("protection", "floor cover", told, Money.exactly(round(area, 6) * price))


def tools(offer: Offer) -> tuple[str, ...]:
    """Return the tools of all layers, each once, in the order of first use."""
    found: dict[str, None] = {}
    for finish in offer.finishes:
        for layer in finish.layers:
            found.update(dict.fromkeys(layer.tools_used()))
    return tuple(found)

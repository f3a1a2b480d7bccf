"""Mixing: how many batches of each coat, what goes into each, and which walls it does.

A batch never ends in the middle of a wall: walls are filled into batches in their order, each batch within the bucket
(for a fixed order this "next fit" needs the fewest batches). A wall that needs more than a bucket is a batch of several
buckets, to be mixed into each other before the wall is begun.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from render.estimate.quantities import LayerLine, layer_line
from render.finish import Finish
from render.job import Offer, Placed
from render.layers.base import Layer
from render.units import ML_PER_GAL

Units = Literal["imperial", "metric"]
FLOZ, TBSP, TSP = 1 / 128, 1 / 256, 1 / 768  # gallons
_QUARTERS = {0: "", 1: "¼", 2: "½", 3: "¾"}
_EPS = 1e-9


def _quarters(count: int) -> str:
    """Return a number of quarters as it is read off a spoon: 7 is 1¾."""
    whole, rest = divmod(count, 4)
    return f"{whole or ''}{_QUARTERS[rest]}" or "0"


def _parts(steps: int, sizes: Sequence[tuple[int, str]]) -> list[str]:
    """Return whole counts of each size, largest first, that make up a number of steps."""
    words = []
    for size, unit in sizes:
        count, steps = divmod(steps, size)
        if count:
            words.append(f"{count} {unit}")
    return words


def kitchen(gallons: float) -> str:
    """Return a volume in gallons, fluid ounces, tablespoons and teaspoons, as it can be measured out.

    Below 4 fl oz to the quarter teaspoon, below a quart to the teaspoon, above to half a fluid ounce.
    """
    if gallons <= 0:
        return "none"
    if gallons < 4 * FLOZ - _EPS:
        quarters = max(1, round(gallons / TSP * 4))
        spoons, rest = divmod(quarters, 12)
        words = [f"{spoons} tbsp"] if spoons else []
        return " ".join(words + ([f"{_quarters(rest)} tsp"] if rest else []))
    if gallons < 0.25 - _EPS:
        return " ".join(_parts(round(gallons / TSP), ((6, "fl oz"), (3, "tbsp"), (1, "tsp"))))
    halves = round(gallons / FLOZ * 2)
    whole, rest = divmod(halves, 256)
    words = [f"{whole} gal"] if whole else []
    return " ".join(words + ([f"{_quarters(2 * rest)} fl oz"] if rest else []))


def metric(gallons: float) -> str:
    """Return a volume in litres or millilitres, as it can be measured out."""
    ml = gallons * ML_PER_GAL
    if ml <= 0:
        return "none"
    if ml < 20:
        return f"{ml:.1f} ml"
    if ml < 1000:
        return f"{ml:.0f} ml"
    return f"{ml / 1000:.2f} L"


def measure(gallons: float, units: Units) -> str:
    """Return a volume in the job's units."""
    return kitchen(gallons) if units == "imperial" else metric(gallons)


@dataclass(frozen=True)
class Batch:
    """One mix: its recipe in gallons by material, the walls it does, and the buckets it needs."""

    recipe: Mapping[str, float]
    walls: tuple[str, ...]
    area_ft2: float
    buckets: int

    @property
    def volume(self) -> float:
        """Gallons mixed."""
        return sum(self.recipe.values())


@dataclass(frozen=True)
class Mix:
    """The batches of one layer, and how much wall one full bucket does."""

    layer: str
    ft2_per_bucket: float
    batches: tuple[Batch, ...]

    def as_dict(self, units: Units) -> dict[str, Any]:
        """Return the mix as plain data, recipes both in gallons and in words."""
        return {
            "layer": self.layer,
            "ft2_per_bucket": self.ft2_per_bucket,
            "batches": [
                {
                    "walls": list(one.walls),
                    "ft2": one.area_ft2,
                    "buckets": one.buckets,
                    "gal": one.volume,
                    "recipe_gal": dict(one.recipe),
                    "recipe": {name: measure(gallons, units) for name, gallons in one.recipe.items()},
                }
                for one in self.batches
            ],
        }


def _groups(volumes: Sequence[float], bucket: float) -> list[list[int]]:
    """Return the walls of each batch, by number, in order."""
    groups: list[list[int]] = []
    filled = math.inf
    for index, volume in enumerate(volumes):
        if filled + volume > bucket + _EPS:
            groups.append([])
            filled = 0.0
        groups[-1].append(index)
        filled += volume
    return groups


def is_mixed(line: LayerLine) -> bool:
    """Return whether a layer is mixed from more than one thing."""
    return len([one for one in line.materials.values() if one.likely > 0]) > 1


def mix(layer: Layer, walls: Sequence[Placed], bucket: float, waste: float) -> Mix | None:
    """Return the batches of a layer over its walls, in likely volumes with waste; None if nothing is mixed."""
    lines = [layer_line(layer, one.area.net) for one in walls]
    if not lines or not is_mixed(lines[0]):
        return None
    volumes = [one.mixed.likely * (1.0 + waste) for one in lines]
    batches = []
    for group in _groups(volumes, bucket):
        recipe: dict[str, float] = {}
        for index in group:
            for name, span in lines[index].materials.items():
                recipe[name] = recipe.get(name, 0.0) + span.likely * (1.0 + waste)
        area = sum(walls[i].area.net for i in group)
        buckets = max(1, math.ceil(sum(volumes[i] for i in group) / bucket - _EPS))
        batches.append(Batch(recipe, tuple(walls[i].label for i in group), area, buckets))
    total_area, total_volume = sum(one.area.net for one in walls), sum(volumes)
    return Mix(layer.name, bucket * total_area / total_volume, tuple(batches))


def mixes(offer: Offer, finish: Finish, bucket: float, waste: float) -> tuple[Mix, ...]:
    """Return the batches of every mixed layer of a finish over its walls in an option."""
    walls = [one for one in offer.walls if one.finish is finish and one.area.net > 0]
    found = (mix(layer, walls, bucket, waste) for layer in finish.layers)
    return tuple(one for one in found if one is not None)

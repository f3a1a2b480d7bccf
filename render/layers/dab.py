"""Dab: a crumpled towel pressed on and lifted off. It takes soft colour and leaves the dark rims that have
set.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field
from scipy import ndimage

from render import fields, flow
from render.fields import Array
from render.layers.base import Layer, Share
from render.seeds import Streams
from render.wall import Stratum, Wall


class Dab(Layer):
    """A towel dabbed over a share of the wall; ``pressure`` is what comes off where a fold of it presses."""

    kind: Literal["dab"] = "dab"
    coverage: Annotated[Share, Field(description="Share of the wall that is dabbed.")] = "30 %"  # type: ignore[assignment]
    pressure: Annotated[Share, Field(description="Share of the wet colour that comes off where a fold presses.")] = (
        "55 %"  # type: ignore[assignment]
    )
    of: Annotated[
        tuple[str, ...],
        Field(max_length=8, description="Names of the layers whose colour is dabbed; all wet colour if not given."),
    ] = ()

    title: ClassVar[str] = "dabbed with a crumpled towel"
    tools: ClassVar[tuple[str, ...]] = ("cotton towels",)
    while_wet: ClassVar[bool] = True

    def achieved(self, before: Wall, after: Wall) -> float:
        """Return the share of the wall where colour was touched."""
        return flow.touched(before, after)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with colour lifted; what the towel took is booked as removed."""
        bed = flow.Bed(wall, streams.key("shelter"))
        print_ = _print(bed, self, streams)
        for one in wall.open_colours(self.of):
            wall = wall.take(one.name, flow.mobile_of(one) * print_ * _soft(bed, one))
        return wall


def _print(bed: flow.Bed, layer: Dab, streams: Streams) -> Array:
    """How hard the cloth presses, 0 to ``pressure``: hand-sized dabs, and in them the folds of the
    crumpled cloth.
    """
    grid, plan, key = bed.grid, bed.grid.plan, streams.key("cloth")
    place = fields.resample(fields.fbm(plan, 3.2, key, 4, 0.5), plan, grid)
    place += 0.10 * fields.fbm(grid, 0.4, key + 50, 2, 0.6)
    mask = fields.cover(place, layer.coverage)
    edge = np.clip((place - fields.threshold(place, layer.coverage)) * 3.0, 0.05, 1.0)
    crease = 1.0 - np.abs(fields.fbm(plan, 0.9, key + 100, 3, 0.6)) * 0.8
    cloth = fields.resample(np.clip(crease, 0.05, 1.0).astype(np.float32), plan, grid)
    cloth = cloth * (1.0 - 0.12 * np.clip(fields.lattice(grid, 0.08, key + 200), -2, 2))
    pressed = layer.pressure * mask * edge * cloth * (0.2 + 0.8 * np.minimum(1.7 * flow.high_spots(bed), 1.0))
    return np.clip(pressed, 0.0, 0.97).astype(np.float32)


def _soft(bed: flow.Bed, one: Stratum) -> Array:
    """Share of a colour that is still soft, 0.15 to 1: narrow dark rims have set, the rest has not."""
    grid = bed.grid
    coarse = grid.at(min(grid.ppi, 12.5))
    film = fields.resample(one.film, grid, coarse)
    around = ndimage.gaussian_filter(film, 0.25 * coarse.ppi, truncate=2.0)
    excess = one.film / np.maximum(fields.resample(around, coarse, grid), 1e-3) - 1.0
    return np.clip(1.0 - 1.4 * np.maximum(excess, 0.0), 0.15, 1.0).astype(np.float32)

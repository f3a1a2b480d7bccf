"""Dab: a crumpled towel pressed on and lifted off. It takes soft colour and leaves the dark rims that have
set.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import fields, flow, strips
from render.blur import blur
from render.fields import Array, Grid, Resampled
from render.hand import Hand, drawn_once
from render.layers.base import Layer, Share
from render.seeds import Streams
from render.wall import Stratum, Wall


class _Hand(Hand):
    """How a crumpled cloth is pressed on."""

    layer: Dab

    @drawn_once
    def presses(self) -> Array:
        """How hard it presses on even ground, 0 to ``pressure``: hand-sized dabs, and in them the folds of the crumpled
        cloth and its weave.
        """
        layer, grid, plan, key = self.layer, self.grid, self.grid.plan, self.streams.key("cloth")
        wet = flow.wet_lattice(grid)
        place = fields.resample(fields.fbm(wet, 3.2, key, 4, 0.5), wet, grid, smooth=True)
        ragged = fields.fbm(grid, 0.4, key + 50, 2, 0.6)
        ragged *= np.float32(0.10)
        place += ragged
        level = fields.threshold(place, layer.coverage)
        mask = fields.cover(place, layer.coverage, level)
        folds = np.clip(1.0 - np.abs(fields.fbm(plan, 0.9, key + 100, 3, 0.6)) * 0.8, 0.05, 1.0)
        crease = Resampled(np.asarray(layer.pressure * folds, np.float32), plan, grid)
        weave = flow.weave(grid, 0.08, 0.12, key + 200)

        def pressed(place: Array, crease: Array, weave: Array, mask: Array) -> Array:
            return np.clip((place - np.float32(level)) * np.float32(3.0), 0.05, 1.0) * crease * weave * mask

        return strips.each(pressed, place, crease, weave, mask, out=place)


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
        reach = flow.cloth_reach(flow.high_spots(flow.Bed(wall, streams.key("shelter"))), 0.2)
        presses = _Hand(self, wall.grid, streams).presses
        print_ = strips.each(lambda hard, reach: np.clip(hard * reach, 0.0, 0.97), presses, reach, out=reach)
        for one in wall.open_colours(self.of):
            wall = wall.take(one.name, _lifted(wall.grid, one, print_))
        return wall


def _lifted(grid: Grid, one: Stratum, print_: Array) -> Array:
    """What comes off of a colour, mil: of what is still soft, 0.15 to 1 of it; narrow dark rims have set, the rest has
    not.
    """
    wet = flow.wet_lattice(grid)
    around = blur(fields.resample(one.film, grid, wet), 0.24 * wet.ppi, 2.0)
    near, lifted = Resampled(np.maximum(around, 1e-3, out=around), wet, grid), np.empty(grid.shape, np.float32)

    def soft(part: slice) -> None:
        here = np.divide(one.film[part], near[part], out=lifted[part])
        here *= np.float32(-1.4)
        here += np.float32(2.4)
        np.clip(here, 0.15, 1.0, out=here)
        here *= flow.mobile_of(one, part)
        here *= print_[part]

    strips.by_rows(soft, grid.shape)
    return lifted

"""Wipe back: a towel takes wet colour off again, more from high places than from hollows, and smears a
little of it.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import fields, flow
from render.fields import Array
from render.layers.base import Layer, Share
from render.seeds import Streams
from render.wall import Wall


class WipeBack(Layer):
    """A towel over a share of the wall.

    ``coverage`` the share wiped; ``pressure`` how much of the wet colour on a high place comes off; ``of``
    the layers whose colour is wiped (all wet colour if not given).
    """

    kind: Literal["wipe_back"] = "wipe_back"
    coverage: Annotated[Share, Field(description="Share of the wall that is wiped.")] = "50 %"  # type: ignore[assignment]
    pressure: Annotated[Share, Field(description="Share of the wet colour that comes off a high place.")] = "75 %"  # type: ignore[assignment]
    of: Annotated[
        tuple[str, ...],
        Field(max_length=8, description="Names of the layers whose colour is wiped; all wet colour if not given."),
    ] = ()

    title: ClassVar[str] = "wiped back with a towel"
    tools: ClassVar[tuple[str, ...]] = ("cotton towels",)
    while_wet: ClassVar[bool] = True

    def achieved(self, before: Wall, after: Wall) -> float:
        """Return the share of the wall where colour was touched."""
        return flow.touched(before, after)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the colour lifted; what the towel took is booked as removed."""
        bed = flow.Bed(wall, streams.key("shelter"))
        grip, slide = _towel(bed, self, streams)
        plan, wiped = bed.grid.plan, grip > 0
        for one in wall.open_colours(self.of):
            mobile = flow.mobile_of(one)
            lifted = mobile * grip
            smeared = flow.push_aside(fields.resample(lifted, bed.grid, plan), slide, plan)
            smeared = fields.resample(smeared, plan, bed.grid) * wiped
            smeared = flow.share_out(smeared, 0.25 * flow.mean(lifted))
            smeared += one.film
            smeared -= lifted * np.float32(0.25)
            wall = wall.move(one.name, smeared, fixed=one.fixed)
            lifted *= np.float32(0.75)
            wall = wall.take(one.name, lifted)
        return wall


def _towel(bed: flow.Bed, layer: WipeBack, streams: Streams) -> tuple[Array, Array]:
    """Share of the mobile colour that comes loose at each place, and the direction it is pushed in
    (-1..1, plan grid).
    """
    grid, plan, key = bed.grid, bed.grid.plan, streams.key("towel")
    folds = flow.strokes(plan, key, 5.0, 0.55, (0.5, 1.3, 2.2))
    zone = fields.resample(fields.fbm(bed.wet, (4.5, 6.0), key + 200, 4, 0.55), bed.wet, plan)
    place = fields.resample(0.8 * zone + 0.42 * folds, plan, grid) + 0.10 * fields.grain(grid, 0.3, key + 300, 3, 0.6)
    high = flow.high_spots(bed)
    place += 0.5 * (high - 0.5)
    coloured = np.zeros(grid.shape, bool)
    for one in bed.wall.open_colours(layer.of):
        coloured |= one.film > (0.0 if one.fixed is None else one.fixed)
    place[~coloured] = -9.0
    level = fields.threshold(place, layer.coverage)
    mask = fields.cover(place, layer.coverage, level) & coloured
    grip = flow.weave(grid, 0.09, 0.10, key + 400)
    place -= np.float32(level)
    place *= np.float32(4.0)
    grip *= np.clip(place, 0.05, 1.0, out=place)
    fold = np.float32(layer.pressure) * (np.float32(0.72) + np.float32(0.28) * np.tanh(folds))
    grip *= fields.resample(fold, plan, grid)
    grip *= flow.cloth_reach(high, 0.12)
    grip *= mask
    return np.clip(grip, 0.0, 0.97, out=grip), fields.lattice(plan, 4.0, key + 500)

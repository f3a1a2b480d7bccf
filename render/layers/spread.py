"""Spread: wet colours worked into one another by hand, so that zones of each drift over the wall and
hollows stay dark.
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
from render.wall import Wall


class Spread(Layer):
    """Wet colours spread and blended with a brush, towel or glove.

    ``of`` the layers whose colour is worked (all wet colour if not given); ``blend`` how far they are
    worked together; ``drift`` how much each colour still prevails in zones of its own; ``takes`` the share
    of it that brush and towel take up.
    """

    kind: Literal["spread"] = "spread"
    of: Annotated[
        tuple[str, ...],
        Field(max_length=8, description="Names of the layers whose colour is worked; all wet colour if not given."),
    ] = ()
    blend: Annotated[Share, Field(description="How far the colours are worked together.")] = "75 %"  # type: ignore[assignment]
    drift: Annotated[Share, Field(description="How much each colour still prevails in zones of its own.")] = "55 %"  # type: ignore[assignment]
    takes: Annotated[Share, Field(description="Share of the wet colour that brush and towel take up.")] = "45 %"  # type: ignore[assignment]

    title: ClassVar[str] = "wet colours spread and blended by hand"
    tools: ClassVar[tuple[str, ...]] = ("chip brush", "cotton towels")
    while_wet: ClassVar[bool] = True

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with the colours spread; what brush and towel take up is booked as removed."""
        wall = flow.change(wall, lambda bed, mobile: self._work(bed, mobile, streams), self.of, streams.key("shelter"))
        take = np.float32(self.takes) * np.minimum(1.6 * flow.high_spots(flow.Bed(wall, streams.key("shelter"))), 1.0)
        for one in wall.open_colours(self.of):
            wall = wall.take(one.name, flow.mobile_of(one) * take)
        return wall

    def _work(self, bed: flow.Bed, mobile: list[Array], streams: Streams) -> tuple[list[Array], list[float]]:
        key = streams.key("hand")
        plan = bed.grid.plan
        hand = fields.resample(
            np.exp(0.36 * flow.strokes(plan, key, 5.0, 0.4) + 0.2 * fields.fbm(plan, 1.3, key + 200, 4, 0.6)),
            plan,
            bed.grid,
        )
        out = [self._one(bed, film, hand, key + 1000 * i) for i, film in enumerate(mobile, 1)]
        return out, [0.0] * len(out)

    def _one(self, bed: flow.Bed, film: Array, hand: Array, key: int) -> Array:
        """One colour: pulled out over a couple of inches, kept in its zones, streaked by the hand, left in
        hollows.
        """
        grid, plan, coarse = bed.grid, bed.grid.plan, bed.grid.at(4.0)
        pulled = ndimage.gaussian_filter(fields.resample(film, grid, coarse), 1.6 * 4.0, truncate=2.5, mode="nearest")
        zone = 0.8 * fields.fbm(plan, (7.0, 6.0), key, 4, 0.55) + 0.2 * flow.strokes(plan, key + 300, 4.0, 0.7)
        zone = np.exp(np.float32(0.75 * self.drift) * zone)
        worked = fields.resample(pulled, coarse, grid) * fields.resample(zone, plan, grid) * hand
        mixed = film * np.float32(1 - self.blend) + flow.share_out(worked, flow.mean(film)) * np.float32(self.blend)
        return flow.into_hollows(mixed, bed, 0.6)

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
        key = streams.key("shelter")
        bed = flow.Bed(wall, key)
        wall = flow.change(wall, lambda _, mobile: self._work(bed, mobile, streams), self.of, key)
        take = flow.high_spots(bed)
        take *= np.float32(1.6)
        np.minimum(take, 1.0, out=take)
        take *= np.float32(self.takes)
        for one in wall.open_colours(self.of):
            wall = wall.take(one.name, flow.mobile_of(one) * take)
        return wall

    def _work(self, bed: flow.Bed, mobile: list[Array], streams: Streams) -> tuple[list[Array], list[float]]:
        key, plan = streams.key("hand"), bed.grid.plan
        strokes = flow.strokes(plan, key, 5.0, 0.4)
        hand = np.float32(0.36) * strokes + np.float32(0.2) * fields.fbm(plan, 1.3, key + 200, 4, 0.6)
        hollows = np.exp(np.float32(0.6) * bed.pull)
        out = []
        for number, film in enumerate(mobile, 1):
            side = 0.15 if number % 2 else -0.15  # where one colour prevails in the strokes, another does not
            zone = self._zone(bed, key + 1000 * number) + np.float32(self.drift * side) * strokes
            out.append(self._one(bed, film, hand + zone, hollows))
        return out, [0.0] * len(out)

    def _zone(self, bed: flow.Bed, key: int) -> Array:
        """Log of how much a colour prevails in zones of its own, on the plan grid."""
        zone = fields.fbm(bed.wet, (7.0, 6.0), key, 4, 0.55) * np.float32(0.6 * self.drift)
        return fields.resample(zone, bed.wet, bed.grid.plan)

    def _one(self, bed: flow.Bed, film: Array, hand: Array, hollows: Array) -> Array:
        """One colour: pulled out over a couple of inches, kept in its zones and streaked by the ``hand`` (log, plan
        grid), left in hollows.
        """
        grid, plan, coarse = bed.grid, bed.grid.plan, flow.sag_lattice(bed.grid)
        around = fields.resample(fields.resample(film, grid, bed.wet), bed.wet, coarse)
        pulled = ndimage.gaussian_filter(around, 1.6 * coarse.ppi, truncate=2.5, mode="nearest")
        worked = fields.resample(pulled, coarse, plan, smooth=True) * np.exp(hand)
        share = self.blend * flow.mean(film) / max(flow.mean(worked), 1e-12)
        mixed = fields.resample(worked, plan, grid) * np.float32(share)
        mixed += film * np.float32(1 - self.blend)
        mixed *= hollows
        return flow.share_out(mixed, flow.mean(film))

"""Spread: wet colours worked into one another by hand, so that zones of each drift over the wall and
hollows stay dark.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field
from scipy import ndimage

from render import fields, flow
from render.fields import Array, Grid
from render.hand import Hand, drawn
from render.layers.base import Layer, Share
from render.seeds import Streams
from render.wall import Wall


class _Hand(Hand):
    """How brush and towel go over the wall; on the lattice of strokes."""

    layer: Spread

    @drawn
    def strokes(self) -> Array:
        """Their strokes, unit variance."""
        return flow.strokes(flow.stroke_lattice(self.grid), self.streams.key("hand"), 5.0, 0.4)

    @drawn
    def works(self) -> Array:
        """How much colour they leave in a place, log."""
        swept = flow.stroke_lattice(self.grid)
        patchy = fields.fbm(swept, 1.3, self.streams.key("hand") + 200, 4, 0.6)
        return np.float32(0.36) * self.strokes + np.float32(0.2) * patchy


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
        bed, hand = flow.Bed(wall, streams.key("shelter")), _Hand(self, wall.grid, streams)
        open_ = [one for one in wall.open_colours(self.of) if one.film.any()]
        stays = self._leaves(bed), self._hollows(bed)
        del bed  # and with it, what it read off the relief
        for number, one in enumerate(open_, 1):
            wall = wall.take(one.name, self._taken(hand, number, flow.mobile_of(one), *stays))
        return wall

    def _leaves(self, bed: flow.Bed) -> Array:
        """Share of the colour that brush and towel leave in each place: all of it in hollows."""
        high = flow.high_spots(bed)

        def work(part: slice) -> None:
            here = high[part]
            here *= np.float32(1.6)
            np.clip(here, 0.0, 1.0, out=here)
            here *= np.float32(-self.takes)
            here += np.float32(1.0)

        flow.by_strips(work, bed.grid)
        return high

    def _hollows(self, bed: flow.Bed) -> Array:
        """How much more colour is left in hollows than on even ground."""
        hollows = bed.pull * np.float32(0.6)
        return np.exp(hollows, out=hollows)

    def _taken(self, hand: _Hand, number: int, film: Array, leaves: Array, hollows: Array) -> Array:
        """What goes of a colour's film in each place, below zero where more comes: it is worked into the others, and
        of that brush and towel leave a share."""
        wet, swept, key = flow.wet_lattice(hand.grid), flow.stroke_lattice(hand.grid), hand.streams.key("hand")
        side = 0.15 if number % 2 else -0.15  # where one colour prevails in the strokes, another does not
        zone = fields.fbm(wet, (7.0, 6.0), key + 1000 * number, 4, 0.55) * np.float32(0.6 * self.drift)
        own = fields.resample(zone, wet, swept) + np.float32(self.drift * side) * hand.strokes
        worked = self._worked(hand.grid, film, hand.works + own, hollows)

        def work(part: slice) -> None:
            here = worked[part]
            here *= leaves[part]
            np.subtract(film[part], here, out=here)

        flow.by_strips(work, hand.grid)
        return worked

    def _worked(self, grid: Grid, film: Array, hand: Array, hollows: Array) -> Array:
        """One colour: pulled out over a couple of inches, kept in its zones and streaked by the ``hand`` (log, lattice
        of the strokes), left in hollows; its mean is kept.
        """
        swept, coarse = flow.stroke_lattice(grid), flow.sag_lattice(grid)
        around = fields.resample(film, grid, coarse)
        pulled = ndimage.gaussian_filter(around, 1.6 * coarse.ppi, truncate=2.5, mode="nearest")
        worked = fields.resample(pulled, coarse, swept, smooth=True) * np.exp(hand)
        whole = flow.mean(film)
        worked *= np.float32(self.blend * whole / max(flow.mean(worked), 1e-12))
        mixed = np.require(fields.resample(worked, swept, grid), requirements="W")

        def work(part: slice) -> None:
            here = mixed[part]
            here += np.float32(1 - self.blend) * film[part]
            here *= hollows[part]

        flow.by_strips(work, grid)
        return flow.share_out(mixed, whole, out=mixed)

"""Sealer: a clear coat that sets the colour beneath it, closes the surface and gives it its sheen."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from render import fields, flow, strips
from render.fields import Array
from render.layers.base import Laid, Optics
from render.seeds import Streams
from render.wall import Stratum, Wall, over


class Sealer(Laid):
    """A clear coat over the finish, even but for where the wall drank it."""

    kind: Literal["sealer"] = "sealer"

    title: ClassVar[str] = "clear sealer"
    tools: ClassVar[tuple[str, ...]] = ("foam roller", "brush")

    def optics(self) -> Optics:
        """A clear film: it neither absorbs nor scatters to speak of."""
        from render import colour

        bands = colour.coat_ks(colour.parse_colour(self.material.colour), self.material.hides)[0].shape
        return np.zeros(bands), np.full(bands, 1e-6)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall sealed: what lies under it moves no more; thirst and sheen of the sealer where it lies."""
        key = streams.key("coat")
        place = fields.fbm(wall.grid.plan, 3.0, key, 4, 0.5)
        place = fields.resample(place, wall.grid.plan, wall.grid)
        on = fields.cover(place, self.coverage)
        film = strips.each(lambda place, on: np.exp(0.12 * place) * on, place, on, out=place)
        film *= self.mean_mil / max(float(film.mean(dtype=np.float64)), 1e-12)
        closed, dry = over(on, self.material.absorbency, wall.thirst), over(on, 0.0, wall.wet)

        def shines(on: NDArray[np.bool_], thirst: Array, sheen: Array) -> Array:
            return np.where(on, np.maximum(self.material.sheen * (1.0 - 0.5 * thirst), sheen), sheen)

        sheen = strips.each(shines, on, flow.even(wall.thirst), flow.even(wall.sheen))
        return wall.add(Stratum(self.name, "clear", film), thirst=closed, sheen=sheen, wet=dry)

"""Mist: water sprayed on before a wet colour, so that it slides and reaches into crevices."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from render import fields, flow, strips
from render.fields import Array, Resampled
from render.layers.base import Liquid
from render.seeds import Streams
from render.units import MIL_FT2_PER_GAL
from render.wall import Wall


class Mist(Liquid):
    """Water misted over the wall by the dose; thirsty places keep less of it on the surface."""

    kind: Literal["mist"] = "mist"

    title: ClassVar[str] = "water mist"
    tools: ClassVar[tuple[str, ...]] = ("pump sprayer",)
    hazards: ClassVar[tuple[str, ...]] = ("wet floor",)

    def achieved(self, before: Wall, after: Wall) -> float:
        """Return the share of the wall that became wetter."""
        return float(np.mean(after.wet > before.wet))

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Return the wall with more free water on it: wet = 1 - exp(-water / 1.2 mil), less what is drunk."""
        plan = wall.grid.plan
        pass_ = np.exp(0.35 * fields.fbm(plan, (3.0, 9.0), streams.key("passes"), 3) - 0.06)
        pass_ = pass_ * fields.cover(pass_, self.coverage)
        water = Resampled(pass_.astype(np.float32), plan, wall.grid)
        mils = np.float32(self.dose.likely * MIL_FT2_PER_GAL / max(self.coverage, 1e-6))

        def wetter(water: Array, thirst: Array, wet: Array) -> Array:
            free = 1.0 - np.exp(-(water * mils) * (1.0 - 0.5 * thirst) / np.float32(1.2))
            return np.maximum(wet, free)

        return wall.evolve(wet=strips.each(wetter, water, flow.even(wall.thirst), flow.even(wall.wet)))

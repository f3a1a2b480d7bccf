"""Chipping: what hangs loose is knocked or scraped off, and only that.

What a finisher sees: islands of bare ground where plates fell, mostly along cracks, with a pale torn ledge round them.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from render import fields
from render.fields import Array
from render.layers.base import Layer, Share
from render.physics.crack_flakes import Break, break_away
from render.seeds import Streams
from render.wall import Wall


class Chip(Layer):
    """Knock off loose film."""

    kind: Literal["chip"] = "chip"
    loss: Annotated[Share, Field(description="The most of the wall that falls; only what is loose does.")] = "6 %"  # type: ignore[assignment]

    title: ClassVar[str] = "chip off what is loose"
    tools: ClassVar[tuple[str, ...]] = ("scraper", "stiff brush")
    hazards: ClassVar[tuple[str, ...]] = ("dust",)

    def apply(self, wall: Wall, streams: Streams) -> Wall:
        """Break away the loosest part of the uppermost coat, at most ``loss`` of the wall."""
        came = break_away(wall.loose, self.loss, wall.grid, streams.key("outline"))
        if not came.gone.any():
            return wall
        return self._bared(wall, self._broken(wall, came.gone), came, streams)

    def _broken(self, wall: Wall, gone: Array) -> Wall:
        """Take the broken share of the coat on top at each pixel, and the colours on it wherever its skin is gone."""
        after, skin = wall, np.minimum(gone * np.float32(8.0), 1.0)
        for index, one in enumerate(wall.strata):
            lies = wall.top == index if one.role == "coat" else wall.top < index
            lost = np.where(lies, one.film * (gone if one.role == "coat" else skin), np.float32(0.0))
            if lost.any():
                after = after.take(one.name, lost)
        return after

    def _bared(self, before: Wall, after: Wall, came: Break, streams: Streams) -> Wall:
        """Give the hole the surface of what lies there, and the ledge the tooth of a fresh break."""
        gone = came.gone
        torn = gone * (1.0 - came.hole)
        floor = sum((one.film for one in after.coats), np.zeros(before.grid.shape, np.float32))
        lifted = before.height - sum((one.film for one in before.coats), np.zeros(before.grid.shape, np.float32))
        tooth = np.float32(1.3) * fields.grain(before.grid, 0.06, streams.key("tooth"), 3, 0.85)
        height = floor + lifted * (1.0 - gone) + torn * tooth
        thirst, sheen = self._below(after)
        fresh = {
            "height": height,
            "thirst": before.thirst + (thirst - before.thirst) * came.hole + 0.2 * torn * (1.0 - before.thirst),
            "sheen": before.sheen * (1.0 - gone) + sheen * came.hole,
            "tone": before.tone + (1.0 - before.tone) * gone,
            "cracks": before.cracks * (1.0 - gone),
            "loose": before.loose * (gone <= 0),
            "fallen": np.maximum(before.fallen, came.hole),
        }
        touched = gone > 0
        return after.evolve(
            **{
                name: np.where(touched, value, getattr(before, name)).astype(np.float32)
                for name, value in fresh.items()
            }
        )

    def _below(self, wall: Wall) -> tuple[Array, Array]:
        """Return absorbency and sheen of the coat that lies open at each pixel, or of the bare wall."""
        thirst = np.array([*(one.thirst for one in wall.strata), 0.35], np.float32)
        sheen = np.array([*(one.sheen for one in wall.strata), 0.0], np.float32)
        return thirst[wall.top], sheen[wall.top]

    def words(self) -> str:
        """Return the layer's line."""
        return f"chip off what is loose, at most {self.loss:.0%} of the wall"

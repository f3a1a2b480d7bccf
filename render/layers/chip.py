"""Chipping: what hangs loose is knocked or scraped off, and only that.

What a finisher sees: islands of bare ground where plates fell, mostly along cracks, with a pale torn ledge round them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from render import fields
from render.fields import Array, Grid
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
        fresh: dict[str, Callable[[], NDArray[Any]]] = {  # made one after the other: all at once fill the memory
            "height": lambda: self._height(before, after, gone) + torn * self._tooth(before.grid, streams),
            "thirst": lambda: (
                before.thirst
                + (self._below(after, "thirst", 0.35) - before.thirst) * came.hole
                + 0.2 * torn * (1.0 - before.thirst)
            ),
            "sheen": lambda: before.sheen * (1.0 - gone) + self._below(after, "sheen", 0.0) * came.hole,
            "tone": lambda: before.tone + (1.0 - before.tone) * gone,
            "cracks": lambda: before.cracks * (1.0 - gone),
            "loose": lambda: before.loose * (gone <= 0),
            "fallen": lambda: np.maximum(before.fallen, came.hole),
        }
        touched = gone > 0
        for name, value in fresh.items():
            new = np.where(touched, value(), getattr(before, name)).astype(np.float32, copy=False)
            after = after.evolve(**{name: new})
        return after

    def _height(self, before: Wall, after: Wall, gone: Array) -> Array:
        """Return the height that is left: the coats', and of what stood above them the share that is not gone."""
        lifted = before.height - _thickness(before)
        lifted *= 1.0 - gone
        lifted += _thickness(after)
        return np.asarray(lifted, np.float32)

    def _tooth(self, grid: Grid, streams: Streams) -> Array:
        """Return the grain of a fresh break, mil."""
        return np.asarray(np.float32(1.3) * fields.grain(grid, 0.06, streams.key("tooth"), 3, 0.85), np.float32)

    def _below(self, wall: Wall, name: Literal["thirst", "sheen"], bare: float) -> Array:
        """Return absorbency or sheen of the coat that lies open at each pixel, or of the bare wall."""
        return np.array([*(getattr(one, name) for one in wall.strata), bare], np.float32)[wall.top]

    def words(self) -> str:
        """Return the layer's line."""
        return f"chip off what is loose, at most {100 * self.loss:.2g} % of the wall"


def _thickness(wall: Wall) -> Array:
    """Return the films of all coats together, mil."""
    total = np.zeros(wall.grid.shape, np.float32)
    for one in wall.coats:
        total += one.film
    return total
